//! Clusters a file of points and writes the labels: the half of `clusters.py` that runs our code.
//!
//! `clusters POINTS LABELS METRIC MIN_POINTS` — POINTS is rows of four little-endian doubles (place, place, day,
//! depth; a depth that is not a number is missing), LABELS one little-endian i64 each: the cluster of a core, -1 for
//! noise, -2 - cluster for a border. `clusters.py` times the whole program.

#![expect(clippy::print_stdout, reason = "says how it is called")]

use shoalwright::schools::cluster::{Label, Metric, Neighbourhood, Point, cluster};
use std::error::Error;
use std::{env, fs};

fn main() -> Result<(), Box<dyn Error>> {
    let arguments: Vec<String> = env::args().skip(1).filter(|a| a != "--bench").collect();
    let [points, labels, metric, min_points] = arguments.as_slice() else {
        // `cargo bench` without arguments runs all benches: this one needs the data of clusters.py.
        println!("clusters POINTS LABELS gates|euclid MIN_POINTS");
        return Ok(());
    };
    let neighbourhood = Neighbourhood {
        metric: if metric == "gates" { Metric::Gates } else { Metric::Euclid },
        year: f64::INFINITY,
        min_points: min_points.parse()?,
    };
    let bytes = fs::read(points)?;
    let numbers: Vec<f64> =
        bytes.chunks_exact(8).map(|b| b.try_into().map(f64::from_le_bytes)).collect::<Result<_, _>>()?;
    let points: Vec<Point> = numbers
        .chunks_exact(4)
        .map(|n| Point { place: [n[0], n[1]], day: n[2], depth: Some(n[3]).filter(|d| !d.is_nan()) })
        .collect();
    let found = cluster(&points, &neighbourhood);
    let mut bytes = Vec::new();
    for label in &found {
        let number = match *label {
            Label::Core(cluster) => i64::try_from(cluster)?,
            Label::Border(cluster) => -2 - i64::try_from(cluster)?,
            Label::Noise => -1,
        };
        bytes.extend(number.to_le_bytes());
    }
    fs::write(labels, bytes)?;
    Ok(())
}
