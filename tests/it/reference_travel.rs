//! Travel through water against shortest ways that others computed, and against Snell's law.

use geo::{Coord, LineString, MultiPolygon, Polygon};
use shoalwright::ingest::shoreline::read_shoreline;
use shoalwright::travel::{TravelSettings, Waters};
use std::fs;

const RUN: f64 = 13.0;
const SLOW: f64 = 2.2;

/// One metre a second everywhere, up to the shore.
const PLAIN: TravelSettings = TravelSettings { keep_off_m: 0.0, run_m_s: 1.0, idle_m_s: 1.0 };

fn polygon(rings: &[Vec<[f64; 2]>]) -> Polygon<f64> {
    let ring = |r: &Vec<[f64; 2]>| r.iter().map(|[x, y]| Coord { x: *x, y: *y }).collect::<LineString>();
    Polygon::new(ring(&rings[0]), rings[1..].iter().map(ring).collect())
}

#[test]
fn distances_in_two_lakes_are_those_of_an_independent_visibility_graph() {
    // Each matrix: tangent visibility graph of a prototype, equal to an all-pairs visibility graph by shapely and
    // scipy to 1e-10 m before the corners were rounded to 0.1 mm.
    #[derive(serde::Deserialize)]
    struct Case {
        water: Vec<Vec<Vec<[f64; 2]>>>,
        stops: Vec<[f64; 2]>,
        matrix: Vec<Vec<f64>>,
    }
    for name in ["travel-bolsena", "travel-synth2000"] {
        let text = fs::read_to_string(format!("fixtures/reference/travel/{name}.json")).unwrap();
        let case: Case = serde_json::from_str(&text).unwrap();
        let water: MultiPolygon = case.water.iter().map(|p| polygon(p)).collect();
        let waters = Waters::on_plane(Some(&water), Vec::new(), Vec::new(), Vec::new(), &PLAIN);
        let stops: Vec<_> = case.stops.iter().map(|[x, y]| Coord { x: *x, y: *y }).collect();
        let matrix = waters.matrix_on_plane(&stops, 0);
        let mut worst: f64 = 0.0;
        for (i, row) in case.matrix.iter().enumerate() {
            for (j, expected) in row.iter().enumerate() {
                let trip = matrix.trip(i, j).unwrap_or_else(|| panic!("{name}: {i} to {j} has no way"));
                worst = worst.max((trip.metres - expected).abs());
                let way = matrix.path_on_plane(i, j);
                let length: f64 = way.windows(2).map(|w| (w[1].x - w[0].x).hypot(w[1].y - w[0].y)).sum();
                assert!((length - trip.metres).abs() < 1e-6, "{name}: {i} to {j}: {length} {}", trip.metres);
            }
        }
        eprintln!("{name}: off by at most {worst:.6} m");
        assert!(worst <= 0.01, "{name}: {worst}");
    }
}

#[test]
fn ways_through_malaren_are_the_exact_shortest_ones() {
    // 30 pairs, up to 24 bends, by an exact visibility graph; lengths on the plane x = R cos(lat0) dlon, y = R dlat.
    const R: f64 = 6_371_008.8;
    let shoreline =
        read_shoreline(&fs::read_to_string("fixtures/reference/lakes/malaren.geojson").unwrap()).unwrap();
    let mut table = csv::Reader::from_path("fixtures/reference/travel/malaren-paths.csv").unwrap();
    let rows: Vec<csv::StringRecord> = table.records().map(Result::unwrap).collect();
    let number = |row: &csv::StringRecord, column: usize| row[column].parse::<f64>().unwrap();
    let (lat0, lon0) = (number(&rows[0], 6), number(&rows[0], 7));
    let on_plane = |lon: f64, lat: f64| Coord {
        x: R * lat0.to_radians().cos() * (lon - lon0).to_radians(),
        y: R * (lat - lat0).to_radians(),
    };
    let ring = |r: &LineString<f64>| r.coords().map(|c| on_plane(c.x, c.y)).collect();
    let water = shoreline
        .polygons
        .iter()
        .map(|p| Polygon::new(ring(p.exterior()), p.interiors().iter().map(ring).collect()))
        .collect();
    let waters = Waters::on_plane(Some(&water), Vec::new(), Vec::new(), Vec::new(), &PLAIN);
    let (mut least, mut most) = (f64::MAX, f64::MIN);
    for row in &rows {
        let ends = [on_plane(number(row, 2), number(row, 3)), on_plane(number(row, 4), number(row, 5))];
        let metres = waters.matrix_on_plane(&ends, 0).trip(0, 1).unwrap().metres;
        let over = metres / number(row, 8) - 1.0;
        (least, most) = (least.min(over), most.max(over));
    }
    eprintln!("malaren: {} pairs, {least:.2e} to {most:.2e} over the exact length", rows.len());
    assert_eq!(rows.len(), 30);
    // The exact lengths are rounded to a millimetre: 2e-7 of the shortest.
    assert!(least > -3e-7 && most < 1e-3, "{least} {most}");
}

/// Seconds and their bound from place to place through open water with one slow area.
fn across(slow: [[f64; 2]; 2], to: [f64; 2]) -> (f64, f64) {
    let rectangle = |[[x1, y1], [x2, y2]]: [[f64; 2]; 2]| -> MultiPolygon {
        polygon(&[vec![[x1, y1], [x2, y1], [x2, y2], [x1, y2]]]).into()
    };
    let settings = TravelSettings { keep_off_m: 0.0, run_m_s: RUN, idle_m_s: SLOW };
    let water = rectangle([[-10_000.0, -12_000.0], [20_000.0, 12_000.0]]);
    let waters =
        Waters::on_plane(Some(&water), Vec::new(), vec![(rectangle(slow), SLOW)], Vec::new(), &settings);
    let places = [Coord { x: 0.0, y: 0.0 }, Coord { x: to[0], y: to[1] }];
    let matrix = waters.matrix_on_plane(&places, 0);
    let trip = *matrix.trip(0, 1).unwrap();
    (trip.seconds, trip.slack_seconds)
}

#[test]
fn ways_refract_at_the_edge_of_slow_water_within_the_bound_that_is_told() {
    // Least times by Fermat's principle (Snell's law solved for the place of crossing), 13 and 2.2 m/s.
    let crossing = across([[1000.0, -11_000.0], [5000.0, 11_000.0]], [2000.0, 7000.0]);
    let band = across([[3500.0, -11_000.0], [4500.0, 11_000.0]], [8000.0, 3000.0]);
    let around = across([[3500.0, -2500.0], [4500.0, 2500.0]], [8000.0, 0.0]);
    eprintln!("crossing, band, detour: seconds and bound {crossing:?} {band:?} {around:?}");
    for ((seconds, slack), exact) in [(crossing, 992.053), (band, 1_039.382), (around, 738.640)] {
        assert!(seconds > exact - 5e-4 && seconds <= exact + slack + 5e-4, "{seconds} {slack} {exact}");
        assert!(slack < 15.0, "{slack}");
    }
    // Around a corner of the area no edge is crossed: exact. Through it would take 993.0 s.
    assert!((around.0 - 738.640).abs() < 5e-4 && around.1 == 0.0);
}
