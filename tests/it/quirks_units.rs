//! Faults and habits of one unit or file, told by the file as a whole: names, symbols, heights, clocks, old cards.
//! Invented marks in `fixtures/quirks`, read as a run reads them.

use jiff::civil::date;
use shoalwright::pipeline::{Extent, Progress, Run, load, run};
use shoalwright::terms::finding::Code;
use shoalwright::terms::mark::Kind;
use std::path::{Path, PathBuf};

fn fixture(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/quirks").join(name)
}

fn log_with(names: &[&str], sets: &[String]) -> Run {
    let paths: Vec<PathBuf> = names.iter().map(|name| fixture(name).with_extension("gpx")).collect();
    let mut all = vec!["lake.timezone=\"America/Chicago\"".to_owned()];
    all.extend_from_slice(sets);
    let sources = load(&paths, &all).unwrap();
    let run = run(sources, Extent::Log, date(2026, 3, 1), &Progress::hidden()).unwrap();
    let records = run.account.records;
    assert_eq!(records.read, records.kept + records.merged_away + records.set_aside);
    run
}

fn log_of(names: &[&str]) -> Run {
    log_with(names, &[])
}

/// What is told under a code, first lines first.
fn seen(run: &Run, code: Code) -> Vec<String> {
    run.findings.iter().filter(|f| f.code == code).map(|f| f.seen.to_string()).collect()
}

#[test]
fn names_that_carry_the_bottom_tell_no_fish_depth() {
    let run = log_of(&["bottom-in-names"]);
    assert!(run.log.iter().all(|mark| mark.fish_depth.is_none() && mark.water_depth.is_some()));
    assert_eq!((seen(&run, Code::DepthIsBottom).len(), run.account.records.repaired), (1, 12));
    // Five of twelve fish on the bottom are fish on the bottom.
    let typed = log_of(&["bottom-beside-names"]);
    assert!(typed.log.iter().all(|mark| mark.fish_depth.is_some()));
    assert!(seen(&typed, Code::DepthIsBottom).is_empty());
}

#[test]
fn a_symbol_means_what_its_unit_puts_it_on() {
    let run = log_of(&["symbol-for-brush"]);
    let kind = |name: &str| run.log.iter().find(|mark| mark.words.name() == name).map(|mark| mark.kind);
    // Nine of ten names say cover; the numbered marks have nothing but the symbol, one says `bass` in its comment.
    assert_eq!((kind("0412"), kind("0413")), (Some(Kind::Cover), Some(Kind::Cover)));
    assert_eq!((kind("STUMP"), kind("0415")), (Some(Kind::Hazard), Some(Kind::Gamefish)));
    assert_eq!(run.account.records.repaired, 2);
    assert!(seen(&run, Code::SymbolMeaning)[0].contains("9 of 10"), "{:?}", seen(&run, Code::SymbolMeaning));
}

#[test]
fn heights_that_look_like_depths_are_asked_about_and_taken_when_the_user_says_so() {
    let run = log_of(&["depth-in-ele"]);
    assert!(run.log.iter().all(|mark| mark.water_depth.is_none()));
    let told = seen(&run, Code::DepthInEle);
    assert!(told.len() == 1 && told[0].contains("22 marks") && told[0].contains("`-18.3`"), "{told:?}");
    // A receiver's heights on a lake at 187 m are none of our business.
    assert!(seen(&log_of(&["height-in-ele"]), Code::DepthInEle).is_empty());

    let folder = tempfile::tempdir().unwrap();
    let settings = folder.path().join("lake.toml");
    let file = fixture("depth-in-ele.gpx");
    let text = format!("[[input]]\nfiles = [{:?}]\nele = \"depth\"\n", file.display().to_string());
    std::fs::write(&settings, text).unwrap();
    let sources = load(&[settings], &[]).unwrap();
    let run = run_log(sources);
    let depths: Vec<f64> = run.log.iter().filter_map(|mark| Some(mark.water_depth?.metres())).collect();
    assert_eq!(depths.len(), 22);
    assert!((depths[0] - 3.2).abs() < 1e-6, "{}", depths[0]);
    assert!(seen(&run, Code::DepthInEle).is_empty());
}

fn run_log(sources: shoalwright::pipeline::Sources) -> Run {
    run(sources, Extent::Log, date(2026, 3, 1), &Progress::hidden()).unwrap()
}

#[test]
fn a_clock_minutes_off_is_told_by_the_track_logs_of_another_unit() {
    let run = log_of(&["bow-track", "phone-fast"]);
    let right = log_of(&["bow-track", "phone-right"]);
    let told = seen(&run, Code::ClockMinutes);
    assert!(told.len() == 1 && told[0].contains("-17 min, 3 days"), "{told:?}");
    assert_eq!((run.log.len(), run.account.records.repaired), (right.log.len(), right.log.len() as u64));
    for (mended, right) in run.log.iter().zip(&right.log) {
        let apart = mended.time.unwrap().unix_ms() - right.time.unwrap().unix_ms();
        assert!(apart.abs() <= 60_000, "{apart} ms");
    }
    // A clock that is right is left alone, and so is one with nothing to be held against.
    assert!(seen(&right, Code::ClockMinutes).is_empty());
    assert!(seen(&log_of(&["phone-fast"]), Code::ClockMinutes).is_empty());
}

#[test]
fn brush_marked_again_on_other_days_is_one_mark_and_stumps_are_not() {
    let run = log_of(&["marked-again"]);
    let names: Vec<(&str, usize)> =
        run.log.iter().map(|mark| (mark.words.name(), mark.sources.len())).collect();
    // The other pile of the first day, 22 m away, and the depth that gainsays stay by themselves.
    let expected = [
        ("BRUSH 22FT", 3),
        ("BRUSH 23FT", 1),
        ("STUMP", 1),
        ("SHAD 24FT", 1),
        ("STUMP", 1),
        ("SHAD 24FT", 1),
        ("BRUSH 40FT", 1),
    ];
    assert_eq!(names, expected);
    assert_eq!(run.account.records.merged_away, 2);
    let each = log_with(&["marked-again"], &["merge.same_cover=\"0 m\"".to_owned()]);
    assert_eq!((each.log.len(), each.account.records.merged_away), (9, 0));
}

#[test]
fn pool_levels_explain_the_depths_of_brush_marked_again() {
    let levels = fixture("marked-again-levels.csv");
    let run = log_with(&["marked-again"], &[format!("lake.levels={:?}", levels.display().to_string())]);
    let told = seen(&run, Code::CoverRemarked).concat();
    // 22 ft at 640, 19 ft at 637 and 16 ft at 634 are one elevation.
    assert!(
        told.contains("of 2 depths") && told.contains("2 agree within 2 ft") && told.contains("off, 0 as"),
        "{told}"
    );
}

#[test]
fn marks_deleted_on_the_unit_are_kept_and_told() {
    let run = log_of(&["card-2024/bow", "card-2025/bow"]);
    let told = seen(&run, Code::MarkRetired);
    assert!(told.len() == 1 && told[0].starts_with("3 of 24 marks"), "{told:?}");
    assert_eq!(run.log.iter().filter(|mark| mark.repairs.contains(Code::MarkRetired)).count(), 3);
    assert_eq!(run.log.len(), 25);
    // The export of a trip is no full one, and another unit's says nothing.
    assert!(seen(&log_of(&["card-2024/bow", "card-trip/bow"]), Code::MarkRetired).is_empty());
    assert!(seen(&log_of(&["card-2024/bow", "phone-right"]), Code::MarkRetired).is_empty());
}
