//! Pairing on a published pattern of two types of point, against `spatstat` 3.0 (`fixtures/reference/stats`).

use crate::log_of::{lake, mark};
use shoalwright::schools::{AreaSettings, Pairing, SightingSettings, schools};
use shoalwright::terms::export::FileId;
use shoalwright::terms::instant::Instant;
use shoalwright::terms::mark::{Kind, Mark, Origin};
use shoalwright::terms::place::PlanePoint;
use shoalwright::terms::random::Random;
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

/// Metres for a unit of the pattern when `reach` of it is the 120 m of the pairing; a hair less, so that distances of
/// just `reach` count as spatstat counts them.
fn scale(reach: f64) -> f64 {
    120.0 / reach * (1.0 - 1e-9)
}

/// Width and height of the window, in units of the pattern.
fn window(name: &str) -> [f64; 2] {
    let told = &rows(&format!("{name}_nn.csv"))[0];
    let window: Vec<f64> = told["window"].split(' ').map(|v| v.parse().unwrap()).collect();
    [window[1], window[3]]
}

/// The pattern as one outing: `from` is gamefish, `to` bait.
fn log_of(name: &str, reach: f64) -> Vec<Mark> {
    let told = &rows(&format!("{name}_nn.csv"))[0];
    let [wide, high] = window(name);
    let at = |x: f64, y: f64| ((x - wide / 2.0) * scale(reach), (y - high / 2.0) * scale(reach));
    (0..)
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
        .collect()
}

/// Pairing of a log in which each mark is its own sighting: the patterns have no two marks of one school.
fn paired(log: &[Mark], track_logs: &[TrackLog]) -> Pairing {
    let alone: SightingSettings = toml::from_str("distance = \"0 m\"").unwrap();
    schools(log, track_logs, &lake(), &alone, &AreaSettings::default(), 1).pairing.unwrap()
}

/// The pattern so wide that `reach` of its own unit is the 120 m of the pairing; a boat went over the whole window in
/// lanes 40 m apart.
fn pairing(name: &str, reach: f64) -> Pairing {
    let [wide, high] = window(name).map(|side| side * scale(reach));
    let log = log_of(name, reach);
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
    paired(&log, &[track])
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

#[test]
fn distances_to_the_other_kind_agree_with_spatstat_and_so_does_shuffling_the_labels() {
    for name in ["amacrine", "lansing"] {
        let told = &rows(&format!("{name}_nn.csv"))[0];
        // A thousandth of the window is a metre, so that places rounded nowhere lie near the plane's middle.
        let reach = 0.12;
        let log = log_of(name, reach);
        let mean = |log: &[Mark]| paired(log, &[]).mean_distance_m.unwrap() / scale(reach);
        let observed = mean(&log);
        assert!((observed - number(told, "mean_nn_from_to")).abs() < 1e-6, "{name}: {observed}");
        // Random labelling, as spatstat's 9,999 draws; ours are fewer.
        let draws = 199;
        let mut random = Random::new(7, 0);
        let shuffled: Vec<f64> = (0..draws)
            .map(|_| {
                let mut kinds: Vec<Kind> = log.iter().map(|m| m.kind).collect();
                for i in (1..kinds.len()).rev() {
                    kinds.swap(i, random.below(i + 1));
                }
                let log: Vec<Mark> =
                    log.iter().zip(&kinds).map(|(m, kind)| Mark { kind: *kind, ..m.clone() }).collect();
                mean(&log)
            })
            .collect();
        let count = f64::from(draws);
        let centre = shuffled.iter().sum::<f64>() / count;
        let sd = (shuffled.iter().map(|m| (m - centre).powi(2)).sum::<f64>() / (count - 1.0)).sqrt();
        eprintln!("{name}: mean {observed:.6}, shuffled {centre:.6}, sd {sd:.6}");
        // Monte Carlo error of a mean of that many draws, and of a share of them: three standard errors.
        assert!((centre - number(told, "perm_mean")).abs() < 3.0 * sd / count.sqrt(), "{name}: {centre}");
        assert!((sd / number(told, "perm_sd") - 1.0).abs() < 3.0 / (2.0 * count).sqrt(), "{name}: {sd}");
        for (column, as_extreme) in [
            ("p_low", shuffled.iter().filter(|m| **m <= observed).count()),
            ("p_high", shuffled.iter().filter(|m| **m >= observed).count()),
        ] {
            let (p, wanted) = ((as_extreme as f64 + 1.0) / (count + 1.0), number(told, column));
            let error = (wanted * (1.0 - wanted) / count).sqrt() + 1.0 / (count + 1.0);
            assert!((p - wanted).abs() < 3.0 * error, "{name} {column}: {p} {wanted}");
        }
        // Attraction in the one and segregation in the other, as spatstat has it.
        assert_eq!(observed < centre, name == "amacrine");
    }
}
