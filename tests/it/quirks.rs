//! Faults of whole files, read from `fixtures/quirks` as a run reads them: invented marks on an invented lake.

use jiff::civil::date;
use shoalwright::pipeline::{Extent, Progress, Run, load, run};
use shoalwright::terms::finding::{Code, Finding};
use std::path::{Path, PathBuf};

/// The merged log of some of the files.
fn log_of(names: &[&str]) -> Run {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/quirks");
    let paths: Vec<PathBuf> = names.iter().map(|name| folder.join(name).with_extension("gpx")).collect();
    let sources = load(&paths, &["lake.timezone=\"America/Chicago\"".to_owned()]).unwrap();
    run(sources, Extent::Log, date(2026, 3, 1), &Progress::hidden()).unwrap()
}

/// Water depth in feet of each mark in the order of the log, to a foot.
fn feet(run: &Run) -> Vec<i64> {
    run.log.iter().map(|mark| mark.water_depth.map_or(-1, |d| (d.metres() / 0.3048).round() as i64)).collect()
}

fn told(run: &Run, code: Code) -> usize {
    run.findings.iter().filter(|finding| finding.code == code).count()
}

#[test]
fn feet_taken_for_metres_are_told_by_what_the_angler_typed() {
    let run = log_of(&["feet-as-metres"]);
    assert_eq!(told(&run, Code::DepthUnitRepaired), 1);
    assert_eq!(run.account.records.repaired, 14);
    // Typed and recorded agree to a foot now, so that none contradicts the other.
    assert_eq!((told(&run, Code::DepthContradiction), run.log.len()), (0, 14));
    for (i, feet) in (0..).zip(feet(&run)) {
        assert_eq!(feet, 12 + 3 * i);
    }
}

#[test]
fn feet_taken_for_metres_are_told_by_two_other_units_and_not_by_one() {
    let two = log_of(&["right-1", "right-2", "feet-untyped"]);
    assert_eq!((told(&two, Code::DepthUnitRepaired), told(&two, Code::DepthUnitDoubtful)), (1, 0));
    assert_eq!(two.account.records.repaired, 14);
    assert!(feet(&two).into_iter().all(|feet| (10..=53).contains(&feet)), "{:?}", feet(&two));
    let one = log_of(&["right-1", "feet-untyped"]);
    assert_eq!((told(&one, Code::DepthUnitRepaired), told(&one, Code::DepthUnitDoubtful)), (0, 1));
    assert!(feet(&one).into_iter().any(|feet| feet > 100));
    let right = log_of(&["right-1", "right-2"]);
    assert_eq!((told(&right, Code::DepthUnitRepaired), told(&right, Code::DepthUnitDoubtful)), (0, 0));
}

#[test]
fn names_cut_short_are_the_same_marks_and_the_whole_name_stays() {
    let run = log_of(&["names-whole", "names-cut"]);
    assert_eq!((run.log.len(), run.account.records.merged_away), (3, 3));
    let names: Vec<&str> = run.log.iter().map(|mark| mark.words.name()).collect();
    assert_eq!(names, ["BRUSH BY THE OLD MILL DAM", "STUMP ROW NORTH OF THE ISLAND", "SHAD OFF BLUFF 24FT"]);
}

#[test]
fn track_times_without_an_offset_are_read_in_the_lakes_zone() {
    let folder = tempfile::tempdir().unwrap();
    let track = |name: &str, times: [&str; 3]| {
        let points =
            times.map(|time| format!("<trkpt lat=\"35.05\" lon=\"-94.05\"><time>{time}</time></trkpt>"));
        let path = folder.path().join(name);
        let text = format!("<gpx version=\"1.1\"><trk><trkseg>{}</trkseg></trk></gpx>", points.concat());
        std::fs::write(&path, text).unwrap();
        path
    };
    let bare = track("bare.gpx", ["2024-07-01T06:00:00", "2024-07-01T06:00:10", "2024-07-01T11:00:20Z"]);
    let told =
        track("told.gpx", ["2024-07-01T11:00:00Z", "2024-07-01T06:00:10-05:00", "2024-07-01T06:00:20"]);
    let sources = load(&[bare, told], &["lake.timezone=\"America/Chicago\"".to_owned()]).unwrap();
    let run = run(sources, Extent::Log, date(2026, 3, 1), &Progress::hidden()).unwrap();
    // One log holds local times and one moments; the odd point of each is kept without a time.
    assert_eq!(
        (told_of(&run, "bare.gpx", Code::ClockNoZone), told_of(&run, "told.gpx", Code::ClockNoZone)),
        (1, 0)
    );
    for file in ["bare.gpx", "told.gpx"] {
        assert_eq!(told_of(&run, file, Code::TimeUnreadable), 1, "{file}");
    }
}

/// Findings of a code about a file.
fn told_of(run: &Run, label: &str, code: Code) -> usize {
    let of_file = |finding: &&Finding| {
        finding.origin.is_some_and(|o| run.exports[o.file.0 as usize].label.ends_with(label))
    };
    run.findings.iter().filter(of_file).filter(|finding| finding.code == code).count()
}
