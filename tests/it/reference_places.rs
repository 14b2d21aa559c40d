//! Places against outside references.
//!
//! - `fixtures/reference/geodesy`: published test cases of `GeographicLib` and cases by its Python package 2.1.
//! - `fixtures/reference/lakes`: four GSHHG lakes; point in water and metres to shore by pyproj 3.7.2 and shapely 2.2.0.

use shoalwright::ingest::shoreline::read_shoreline;
use shoalwright::terms::place::{LocalPlane, Place};
use shoalwright::terms::water::Water;
use std::fs;
use std::path::{Path, PathBuf};

fn fixture(path: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/reference").join(path)
}

struct GeodesicCase {
    kind: String,
    from: Place,
    to: Place,
    metres: f64,
}

fn geodesic_cases() -> Vec<GeodesicCase> {
    let mut rows = csv::Reader::from_path(fixture("geodesy/geodesic_cases.csv")).unwrap();
    let cases: Vec<_> = rows
        .records()
        .map(|row| {
            let row = row.unwrap();
            let number = |n: usize| row[n].parse::<f64>().unwrap();
            GeodesicCase {
                kind: row[0].to_owned(),
                from: Place { lat: number(1), lon: number(2) },
                to: Place { lat: number(4), lon: number(5) },
                metres: number(7),
            }
        })
        .collect();
    assert_eq!(cases.len(), 100);
    cases
}

#[test]
fn geodesics_agree_with_geographiclib() {
    for case in geodesic_cases() {
        let metres = case.from.metres_to(case.to);
        assert!(
            (metres - case.metres).abs() <= 1e-6 * case.metres.max(1.0),
            "{}: {metres} for {}",
            case.kind,
            case.metres
        );
    }
}

#[test]
fn the_plane_of_a_lake_is_good_to_5_cm_within_25_km_of_its_centre() {
    let mut checked = 0;
    for case in geodesic_cases().iter().filter(|c| c.kind == "lake-scale") {
        // The worst place for a pair on an azimuthal equidistant plane is across the line of sight from the centre.
        let half_way = LocalPlane::new(case.from);
        let end = half_way.to_plane(case.to);
        let beside = |metres: f64| {
            let mut p = end;
            let length = end.east_m.hypot(end.north_m);
            (p.east_m, p.north_m) = (
                end.east_m / 2.0 - end.north_m / length * metres,
                end.north_m / 2.0 + end.east_m / length * metres,
            );
            half_way.to_place(p)
        };
        for metres_beside in [0.0, 5_000.0, 12_000.0, 20_000.0] {
            let plane = LocalPlane::new(beside(metres_beside));
            let (a, b) = (plane.to_plane(case.from), plane.to_plane(case.to));
            if a.east_m.hypot(a.north_m).max(b.east_m.hypot(b.north_m)) > 25_000.0 {
                continue;
            }
            let error_m = (a.metres_to(b) - case.metres).abs();
            assert!(error_m <= 0.05, "{error_m} m off over {} m, {metres_beside} m beside", case.metres);
            let back = plane.to_place(a);
            assert!(back.metres_to(case.from) < 1e-6);
            checked += 1;
        }
    }
    assert!(checked >= 100, "only {checked} pairs lay within 25 km");
}

fn lake(name: &str) -> Water {
    let text = fs::read_to_string(fixture(&format!("lakes/{name}.geojson"))).unwrap();
    let shore = read_shoreline(&text).unwrap();
    let plane = LocalPlane::new(shore.middle);
    Water::new(shore.polygons, plane)
}

#[test]
fn points_in_four_real_lakes_are_in_water_as_shapely_says() {
    for name in ["bolsena", "malaren", "manicouagan", "volta"] {
        let water = lake(name);
        let mut rows = csv::Reader::from_path(fixture(&format!("lakes/{name}.points.csv"))).unwrap();
        let mut seen = 0;
        for row in rows.records() {
            let row = row.unwrap();
            let place = Place { lon: row[0].parse().unwrap(), lat: row[1].parse().unwrap() };
            assert_eq!(water.contains(place), &row[2] == "1", "{name} {place:?}");
            // On the plane a shore hundreds of kilometres from its centre is stretched; the reference allows
            // max(3 m, 0.5 %).
            let (metres, expected) = (water.metres_to_shore(place), row[3].parse::<f64>().unwrap());
            assert!(
                (metres - expected).abs() <= (0.005 * expected).max(3.0),
                "{name}: {metres} for {expected}"
            );
            seen += 1;
        }
        assert_eq!(seen, 200);
    }
}

#[test]
fn squares_of_a_tenth_a_hundredth_and_a_thousandth_of_a_degree_at_36_north_are_as_large_as_they_are_told_to_be()
 {
    // North by east in metres from 36.0 N, by the C library geographiclib: 11,096 x 9,016, 1,110 x 902, 111 x 90.
    for (side_deg, north_m, east_m) in
        [(0.1, 11_096.0, 9_016.0), (0.01, 1_110.0, 902.0), (0.001, 111.0, 90.0)]
    {
        let corner = Place { lon: -56.0, lat: 36.0 };
        let north = corner.metres_to(Place { lat: 36.0 + side_deg, ..corner });
        let east = corner.metres_to(Place { lon: -56.0 + side_deg, ..corner });
        assert!((north - north_m).abs() < 1.0 && (east - east_m).abs() < 1.0, "{side_deg}: {north} x {east}");
    }
}
