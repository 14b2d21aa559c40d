//! Times shortest ways through water: a lake of 20,000 corners with 60 stops, and a smaller one against a plain
//! visibility graph that asks crate `geo` whether the lake contains the line between each two corners.
//!
//! `cargo bench --bench travel`; peak memory is read from `/proc`, so it is told on Linux alone.

#![expect(clippy::print_stdout, reason = "a bench tells its figures")]
#![expect(clippy::unwrap_used, reason = "a bench that cannot go on says so by panicking")]

#[expect(dead_code, reason = "the bench asks for one of its figures")]
#[path = "measure.rs"]
mod measure;

use geo::{BoundingRect, Coord, Line, LineString, MultiPolygon, Point, Polygon, Relate};
use shoalwright::travel::{TravelSettings, Waters};
use std::fs;
use std::time::Instant;

/// Polygons of a GeoJSON whose positions are metres of a plane.
fn metric(path: &str) -> MultiPolygon<f64> {
    let text = fs::read_to_string(path).unwrap();
    let parsed: serde_json::Value = serde_json::from_str(&text).unwrap();
    let ring = |r: &serde_json::Value| -> LineString<f64> {
        let position = |p: &serde_json::Value| Coord { x: p[0].as_f64().unwrap(), y: p[1].as_f64().unwrap() };
        r.as_array().unwrap().iter().map(position).collect()
    };
    parsed["features"]
        .as_array()
        .unwrap()
        .iter()
        .map(|feature| {
            let mut rings = feature["geometry"]["coordinates"].as_array().unwrap().iter().map(ring);
            Polygon::new(rings.next().unwrap(), rings.collect())
        })
        .collect()
}

/// Places in the water, spread by a Weyl sequence.
fn stops(water: &MultiPolygon<f64>, count: usize) -> Vec<Coord<f64>> {
    let bounds = water.bounding_rect().unwrap();
    let place = |n: u32| {
        let part = |step: f64| (f64::from(n) * step.sqrt()).fract();
        bounds.min() + Coord { x: bounds.width() * part(2.0), y: bounds.height() * part(3.0) }
    };
    (0..).map(place).filter(|at| water.relate(&Point(*at)).is_contains()).take(count).collect()
}

/// Metres between all pairs of places over a plain visibility graph (Floyd-Warshall over its lines).
fn plain_graph(water: &MultiPolygon<f64>, places: &[Coord<f64>]) -> Vec<Vec<f64>> {
    let polygon = &water.0[0];
    let corners =
        std::iter::once(polygon.exterior()).chain(polygon.interiors()).flat_map(|r| r.0[1..].to_vec());
    let nodes: Vec<Coord<f64>> = places.iter().copied().chain(corners).collect();
    let mut metres = vec![vec![f64::INFINITY; nodes.len()]; nodes.len()];
    for i in 0..nodes.len() {
        metres[i][i] = 0.0;
        for j in 0..i {
            let line = Line::new(nodes[i], nodes[j]);
            if polygon.relate(&line).is_covers() {
                let length = (line.dx()).hypot(line.dy());
                (metres[i][j], metres[j][i]) = (length, length);
            }
        }
    }
    for via in 0..nodes.len() {
        let row = metres[via].clone();
        for from in &mut metres {
            let first = from[via];
            for (best, second) in from.iter_mut().zip(&row) {
                *best = best.min(first + second);
            }
        }
    }
    metres.into_iter().take(places.len()).map(|row| row[..places.len()].to_vec()).collect()
}

fn main() {
    large_lake();
    against_a_plain_graph();
}

fn large_lake() {
    let lake = metric("fixtures/reference/travel/synth20000.geojson");
    let corners: usize = lake
        .iter()
        .map(|p| p.exterior().0.len() + p.interiors().iter().map(|r| r.0.len()).sum::<usize>())
        .sum();
    let places = stops(&lake, 60);
    let settings = TravelSettings { keep_off_m: 20.0, run_m_s: 13.0, idle_m_s: 2.2 };
    let begin = Instant::now();
    let waters = Waters::on_plane(Some(&lake), Vec::new(), Vec::new(), Vec::new(), &settings);
    let matrix = waters.matrix_on_plane(&places, 0);
    let found = (0..60 * 60).filter(|pair| matrix.trip(pair / 60, pair % 60).is_some()).count();
    let kept_off = (0..60 * 60)
        .filter(|pair| matrix.trip(pair / 60, pair % 60).is_some_and(|t| t.kept_off_m >= settings.keep_off_m))
        .count();
    println!(
        "{corners} corners, 60 stops: {:.2} s, {found} of 3600 trips, {kept_off} at the whole margin, peak {:.0} MB",
        begin.elapsed().as_secs_f64(),
        measure::peak_mb("self").unwrap_or(f64::NAN)
    );
}

/// A lake and places in it, in metres of a plane.
#[derive(serde::Deserialize)]
struct Case {
    water: Vec<Vec<Vec<[f64; 2]>>>,
    stops: Vec<[f64; 2]>,
}

fn against_a_plain_graph() {
    let text = fs::read_to_string("fixtures/reference/travel/travel-bolsena.json").unwrap();
    let case: Case = serde_json::from_str(&text).unwrap();
    let ring = |r: &Vec<[f64; 2]>| r.iter().map(|[x, y]| Coord { x: *x, y: *y }).collect::<LineString>();
    let lake: MultiPolygon =
        case.water.iter().map(|p| Polygon::new(ring(&p[0]), p[1..].iter().map(ring).collect())).collect();
    let places: Vec<_> = case.stops.iter().map(|[x, y]| Coord { x: *x, y: *y }).collect();
    let plain = TravelSettings { keep_off_m: 0.0, run_m_s: 1.0, idle_m_s: 1.0 };
    let begin = Instant::now();
    let waters = Waters::on_plane(Some(&lake), Vec::new(), Vec::new(), Vec::new(), &plain);
    let matrix = waters.matrix_on_plane(&places, 0);
    let ours_s = begin.elapsed().as_secs_f64();
    let begin = Instant::now();
    let peer = plain_graph(&lake, &places);
    let peer_s = begin.elapsed().as_secs_f64();
    let worst = (0..places.len() * places.len())
        .map(|pair| (pair / places.len(), pair % places.len()))
        .map(|(i, j)| (matrix.trip(i, j).unwrap().metres - peer[i][j]).abs())
        .fold(0.0, f64::max);
    println!(
        "bolsena, 12 stops: ours {ours_s:.4} s, plain graph by geo {peer_s:.3} s ({:.0} x), apart by at most {worst:.1e} m",
        peer_s / ours_s
    );
}
