//! Density clusters against scikit-learn 1.9.1 (`sklearn.cluster.DBSCAN`) on open data: `fixtures/reference/cluster`.
//!
//! The core partition must be equal: the same cores, grouped the same way, and the same noise. A border point may go
//! to any cluster whose core reaches it, because DBSCAN leaves that to the order of the points.

use crate::plain_clusters::neighbours;
use shoalwright::schools::cluster::{Label, Metric, Neighbourhood, Point, cluster};
use std::collections::BTreeMap;
use std::path::PathBuf;

/// Mean radius of the earth of the check values.
const RADIUS_KM: f64 = 6371.0088;

type Row = BTreeMap<String, String>;

fn rows(file: &str) -> Vec<Row> {
    let path = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("fixtures/reference/cluster").join(file);
    csv::Reader::from_path(path).unwrap().deserialize().map(Result::unwrap).collect()
}

fn number(row: &Row, column: &str) -> f64 {
    row[column].parse().unwrap()
}

#[track_caller]
fn check(rows: &[Row], column: &str, neighbourhood: &Neighbourhood, point: impl Fn(&Row) -> Point) {
    let points: Vec<Point> = rows.iter().map(point).collect();
    let labels = cluster(&points, neighbourhood);
    let mut theirs_of_ours = BTreeMap::new();
    let mut ours_of_theirs = BTreeMap::new();
    let mut cores = 0;
    for (i, (row, label)) in rows.iter().zip(&labels).enumerate() {
        let theirs = row[&format!("label_{column}")].parse::<i64>().unwrap();
        let their_core = row[&format!("core_{column}")] == "1";
        match label {
            Label::Core(ours) => {
                cores += 1;
                assert!(their_core, "{column}: point {i} is a core here only");
                assert_eq!(*theirs_of_ours.entry(*ours).or_insert(theirs), theirs, "{column}: point {i}");
                assert_eq!(*ours_of_theirs.entry(theirs).or_insert(*ours), *ours, "{column}: point {i}");
            }
            Label::Border(ours) => {
                assert!(!their_core && theirs >= 0, "{column}: point {i} is on a border here only");
                let reached = (0..points.len()).any(|j| {
                    labels[j] == Label::Core(*ours) && neighbours(&points[i], &points[j], neighbourhood)
                });
                assert!(reached, "{column}: no core of its cluster reaches point {i}");
            }
            Label::Noise => assert!(!their_core && theirs == -1, "{column}: point {i} is noise here only"),
        }
    }
    // The counts of the summary that came with the labels.
    let their_cores = rows.iter().filter(|row| row[&format!("core_{column}")] == "1").count();
    assert!(cores > 50 && cores == their_cores, "{column}: {cores} cores");
}

fn sum(year: f64, min_points: usize) -> Neighbourhood {
    Neighbourhood { metric: Metric::Euclid, year, min_points }
}

#[test]
fn earthquakes_cluster_in_place_and_depth_as_in_scikit_learn() {
    let quakes = rows("quakes_dbscan.csv");
    assert_eq!(quakes.len(), 1000);
    let (lat0, lon0) = (-20.642_75_f64, 179.462_02_f64);
    for (column, place_km, depth_km, min_points) in
        [("60_40_6", 60.0, 40.0, 6), ("100_60_10", 100.0, 60.0, 10), ("40_25_4", 40.0, 25.0, 4)]
    {
        check(&quakes, column, &sum(f64::INFINITY, min_points), |row| {
            let east = RADIUS_KM * lat0.to_radians().cos() * (number(row, "lon") - lon0).to_radians();
            let north = RADIUS_KM * (number(row, "lat") - lat0).to_radians();
            Point {
                place: [east / place_km, north / place_km],
                day: 0.0,
                depth: Some(number(row, "depth") / depth_km),
            }
        });
    }
}

#[test]
fn earthquakes_cluster_on_the_sphere_as_in_scikit_learn() {
    let quakes = rows("quakes_dbscan.csv");
    for (column, arc_km, min_points) in [("hav50_6", 50.0, 6), ("hav80_10", 80.0, 10)] {
        // Straight through the earth: the chord of an arc grows with it, so the neighbours are the same.
        let chord_km = 2.0 * RADIUS_KM * f64::sin(arc_km / RADIUS_KM / 2.0);
        check(&quakes, column, &sum(f64::INFINITY, min_points), |row| {
            let (lat, lon) = (number(row, "lat").to_radians(), number(row, "lon").to_radians());
            let scale = RADIUS_KM / chord_km;
            let (x, y) = (lat.cos() * lon.cos(), lat.cos() * lon.sin());
            Point { place: [scale * x, scale * y], day: 0.0, depth: Some(scale * lat.sin()) }
        });
    }
}

#[test]
fn fires_cluster_round_the_year_as_in_scikit_learn() {
    let fires = rows("fires_open_dbscan.csv");
    assert_eq!(fires.len(), 1838);
    for (column, place_km, days, min_points) in
        [("10.37_10.3_6", 10.37, 10.3, 6), ("15.21_20.3_12", 15.21, 20.3, 12)]
    {
        check(&fires, column, &sum(365.25 / days, min_points), |row| Point {
            place: [number(row, "x_km") / place_km, number(row, "y_km") / place_km],
            day: number(row, "doy") / days,
            depth: None,
        });
    }
}
