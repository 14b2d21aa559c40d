//! Logs that carry little, through the program itself: a sensible result or a clear refusal, and exit status 0.

use serde_json::Value;
use std::fmt::Write;
use std::fs;
use std::process::{Command, Output};
use tempfile::TempDir;

/// One mark: name, days after 2022-01-01, metres east and north of 36 N 56 W.
type Spec = (String, i64, f64, f64);

fn gpx(marks: &[Spec]) -> String {
    let mut text = String::from(
        "<gpx version=\"1.1\" creator=\"invented\" xmlns=\"http://www.topografix.com/GPX/1/1\">",
    );
    for (n, (name, day, east_m, north_m)) in (0_i64..).zip(marks) {
        let (lat, lon) = (36.0 + north_m / 110_959.0, -56.0 + east_m / 90_163.7);
        // Noon at 56 W and some minutes: all on one day stay on one day.
        let time =
            jiff::Timestamp::from_second(1_640_966_400 + 3600 * 16 + day * 86_400 + n % 60 * 60).unwrap();
        write!(text, "<wpt lat=\"{lat:.6}\" lon=\"{lon:.6}\"><time>{time}</time><name>{name}</name></wpt>")
            .unwrap();
    }
    // A track log of a few minutes, so that a file without marks is not an input that gave nothing.
    text + "<trk><trkseg><trkpt lat=\"36.0\" lon=\"-56.0\"><time>2022-01-01T16:00:00Z</time></trkpt>\
            <trkpt lat=\"36.001\" lon=\"-56.0\"><time>2022-01-01T16:01:00Z</time></trkpt></trkseg></trk></gpx>"
}

/// Runs everything over the marks; the account, and the findings as a text.
fn run(marks: &[Spec]) -> (Value, String) {
    let dir = TempDir::new().unwrap();
    fs::write(dir.path().join("marks.gpx"), gpx(marks)).unwrap();
    fs::write(
        dir.path().join("lake.toml"),
        "[lake]\ntimezone = \"America/Miquelon\"\n[[input]]\nfiles = [\"marks.gpx\"]\n",
    )
    .unwrap();
    let done: Output = Command::new(env!("CARGO_BIN_EXE_shoalwright"))
        .current_dir(dir.path())
        .args(["run", "--json", "--quiet"])
        .output()
        .unwrap();
    assert_eq!(done.status.code(), Some(0), "{}", String::from_utf8_lossy(&done.stderr));
    let findings = fs::read_to_string(dir.path().join("out/tables/findings.csv")).unwrap();
    for table in ["sightings", "areas", "pairing", "movement", "season-shifts"] {
        assert!(dir.path().join(format!("out/tables/{table}.csv")).exists(), "{table}");
    }
    (serde_json::from_slice(&done.stdout).unwrap(), findings)
}

fn counts(account: &Value) -> [u64; 4] {
    let count = |name: &str| account["counts"][name].as_u64().unwrap();
    [
        account["records"]["kept"].as_u64().unwrap(),
        count("sightings"),
        count("areas"),
        count("movement_tracks"),
    ]
}

/// `n` bait marks over the days of `seasons` years at three places, each with a depth in its name.
fn spread(n: usize, seasons: usize) -> Vec<Spec> {
    (0..n)
        .map(|k| {
            let day = i64::try_from(k * 365 * seasons / n).unwrap();
            (format!("bait {}ft", 20 + k % 5), day, (k % 3) as f64 * 1500.0, (k % 7) as f64 * 25.0)
        })
        .collect()
}

#[test]
fn none_to_nineteen_marks_are_kept_and_movement_is_refused_with_the_count() {
    for n in [0, 1, 2, 19] {
        let (account, findings) = run(&spread(n, 2));
        let [kept, sightings, _, tracks] = counts(&account);
        assert_eq!((kept, sightings, tracks), (n as u64, n as u64, 0));
        assert!(
            findings.contains("movement-refused") && findings.contains(&format!("`{n}` bait sightings")),
            "{findings}"
        );
    }
}

#[test]
fn eighty_marks_over_two_seasons_are_fitted_and_over_one_season_refused() {
    let (account, findings) = run(&spread(80, 2));
    assert_eq!(counts(&account)[..2], [80, 80]);
    assert!(findings.contains("movement-tracks") && !findings.contains("movement-refused"), "{findings}");
    let (account, findings) = run(&spread(80, 1));
    assert_eq!(counts(&account)[3], 0);
    assert!(findings.contains("`80` bait sightings in `1` season"), "{findings}");
}

#[test]
fn all_marks_on_one_day_or_at_one_place_give_areas_but_no_movement_of_many_seasons() {
    let one_day: Vec<Spec> = spread(120, 2).into_iter().map(|(name, _, e, n)| (name, 100, e, n)).collect();
    let (account, findings) = run(&one_day);
    let [kept, sightings, areas, tracks] = counts(&account);
    assert_eq!((kept, tracks), (120, 0));
    assert!((1..=120).contains(&sightings) && areas <= 3, "{account}");
    assert!(findings.contains("movement-refused"), "{findings}");
    // Every day of the year at one place: one area round the year, and a track that stays.
    let one_place: Vec<Spec> =
        spread(120, 2).into_iter().map(|(name, day, _, _)| (name, day, 0.0, 0.0)).collect();
    let (account, _) = run(&one_place);
    assert_eq!(counts(&account)[..3], [120, 120, 1]);
}

#[test]
fn marks_without_depth_or_of_one_kind_only_give_what_they_can() {
    let no_depth: Vec<Spec> =
        spread(120, 3).into_iter().map(|(_, day, e, n)| ("bait".to_owned(), day, e, n)).collect();
    let (account, findings) = run(&no_depth);
    assert_eq!(counts(&account)[..2], [120, 120]);
    assert!(findings.contains("movement-tracks"), "{findings}");
    assert!(account["pairing"].is_null(), "no gamefish, no pairing");
    for (name, sightings) in [("bass", 120), ("rock", 0)] {
        let one_kind: Vec<Spec> =
            spread(120, 3).into_iter().map(|(_, day, e, n)| (name.to_owned(), day, e, n)).collect();
        let (account, findings) = run(&one_kind);
        assert_eq!((counts(&account)[0], counts(&account)[1], counts(&account)[3]), (120, sightings, 0));
        assert!(findings.contains("movement-refused") && account["pairing"].is_null(), "{findings}");
    }
}
