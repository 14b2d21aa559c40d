//! Pairing on a published pattern of two types of point, against `spatstat` 3.0 (`fixtures/reference/stats`).

use crate::log_of::{lake, mark};
use shoalwright::schools::{AreaSettings, Pairing, SightingSettings, schools};
use shoalwright::terms::export::FileId;
use shoalwright::terms::instant::Instant;
use shoalwright::terms::mark::{Kind, Mark, Origin};
use shoalwright::terms::place::PlanePoint;
use shoalwright::terms::track_log::{TrackLog, TrackPoint};
use std::collections::BTreeMap;
use std::path::PathBuf;

const NOON_S: i64 = 1_700_049_600; // 2023-11-15T12:00:00Z

fn rows(file: &str) -> Vec<BTreeMap<String, String>> {
    let path = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("fixtures/reference/stats").join(file);
    csv::Reader::from_path(path).unwrap().deserialize().map(Result::unwrap).collect()
}

fn number(row: &BTreeMap<String, String>, column: &str) -> f64 {
    row[column].parse().unwrap()
}

/// The pattern as one outing, so wide that `reach` of its own unit is the 120 m of the pairing: `from` is gamefish,
/// `to` bait, and a boat went over the whole window in lanes 40 m apart.
fn pairing(name: &str, reach: f64) -> Pairing {
    let told = &rows(&format!("{name}_nn.csv"))[0];
    let window: Vec<f64> = told["window"].split(' ').map(|v| v.parse().unwrap()).collect();
    // A hair narrower, so that distances of just `reach` count as spatstat counts them.
    let scale = 120.0 / reach * (1.0 - 1e-9);
    let (wide, high) = (window[1] * scale, window[3] * scale);
    let at = |x: f64, y: f64| (x * scale - wide / 2.0, y * scale - high / 2.0);
    let log: Vec<Mark> = (0..)
        .zip(rows(&format!("{name}_points.csv")))
        .filter_map(|(i, row)| {
            let kind = match &row["type"] {
                t if *t == told["from"] => Kind::Gamefish,
                t if *t == told["to"] => Kind::Bait,
                _ => return None,
            };
            let (east, north) = at(number(&row, "x"), number(&row, "y"));
            Some(mark(kind, east, north, NOON_S + i, None))
        })
        .collect();
    let lanes = (high / 40.0) as i64 + 1;
    let points = (0..lanes).flat_map(|lane| {
        let north_m = lane as f64 * 40.0 - high / 2.0;
        let ends = if lane % 2 == 0 { [-wide / 2.0, wide / 2.0] } else { [wide / 2.0, -wide / 2.0] };
        ends.map(|east_m| PlanePoint { east_m, north_m })
    });
    let segment = (0..)
        .zip(points)
        .map(|(step, point)| TrackPoint {
            place: lake().plane.to_place(point),
            time: Some(Instant::from_unix_s(NOON_S + step)),
            depth_m: None,
            water_temp_c: None,
        })
        .collect();
    let origin = Origin { file: FileId(0), record: 1, line: 1, bytes: 0, start: 0 };
    let track = TrackLog { origin, name: "".into(), local_times: false, segments: vec![segment] };
    // Each mark its own sighting: the patterns have no two marks of one school.
    let alone: SightingSettings = toml::from_str("distance = \"0 m\"").unwrap();
    schools(&log, &[track], &lake(), &alone, &AreaSettings::default(), 1).pairing.unwrap()
}

#[test]
fn near_counts_agree_with_the_cross_k_function() {
    // Kcross without edge correction is area / (n_from n_to) times the ordered pairs within r. Bait points of the
    // amacrine pattern are at least .032 apart, so up to r = .016 no gamefish point has two, and each pair is a mark.
    let told = &rows("amacrine_nn.csv")[0];
    let pairs = |r: f64| {
        let k =
            rows("amacrine_kcross.csv").into_iter().find(|row| (number(row, "r") - r).abs() < 1e-9).unwrap();
        number(&k, "un") * number(told, "n_from") * number(told, "n_to") / number(told, "window_area")
    };
    for r in [0.01, 0.015] {
        assert!((pairing("amacrine", r).near as f64 - pairs(r)).abs() < 1e-6, "r {r}");
    }
    for r in [0.02, 0.03, 0.05] {
        let near = pairing("amacrine", r).near as f64;
        assert!(near > 0.6 * pairs(r) && near <= pairs(r) + 1e-6, "r {r}: {near}");
    }
}

#[test]
fn the_spacing_within_a_kind_is_not_taken_for_association() {
    // Cells of one type keep apart from each other, so shuffling the labels calls the two types attracted: spatstat,
    // 9,999 random labellings, p .0001. The types are held to be independent layers (Diggle 1986, J. Neurosci. Methods
    // 18: 115-125; from memory). Sliding keeps the spacing within each kind, and so must not call them associated.
    assert!(number(&rows("amacrine_nn.csv")[0], "p_low") < 0.001);
    for reach in [0.02, 0.03, 0.05] {
        let test = pairing("amacrine", reach).test.unwrap();
        assert!(test.p > 0.05, "{reach}: {test:?}");
    }
}
