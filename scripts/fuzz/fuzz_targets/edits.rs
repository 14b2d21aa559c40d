//! Any text as an edits file, on a log of three marks, and as a table of own stops.
#![no_main]

use judged::{export, lake, read};
use libfuzzer_sys::fuzz_target;
use shoalwright::interpret::{self, Labels};
use shoalwright::merge::{self, Merged, apply_edits, read_edits};
use shoalwright::prefish::read_stops;
use shoalwright::terms::export::Format;
use shoalwright::terms::finding::{Code, Severity};
use shoalwright::terms::place::Place;
use std::sync::OnceLock;

/// Their ids stand in the seeds.
const LOG: &str = "<gpx><wpt lat=\"35.01\" lon=\"-94.01\"><name>BAIT 20 FT</name></wpt>\
    <wpt lat=\"35.02\" lon=\"-94.02\"><name>ROCK</name></wpt>\
    <wpt lat=\"35.03\" lon=\"-94.03\"><name>BAIT</name></wpt></gpx>";

fn log() -> &'static Merged {
    static OF_MARKS: OnceLock<Merged> = OnceLock::new();
    OF_MARKS.get_or_init(|| {
        let exports = [export(Format::Gpx)];
        let raw = read(&exports[0], LOG.as_bytes()).marks.kept;
        let day = jiff::civil::date(2026, 1, 1);
        let marks = interpret::interpret(raw, Vec::new(), &exports, &lake(), day, &Labels::default()).marks.kept;
        merge::merge(marks, &lake(), &exports, &merge::Settings::default())
    })
}

fuzz_target!(|text: &str| {
    let (edits, told) = read_edits(text);
    let rows = text.lines().count() + text.matches('\r').count();
    assert!(edits.len() + told.len() <= rows.max(1), "more edits and findings than lines");
    assert!(told.iter().all(|finding| finding.code == Code::EditUnreadable));
    let edited = apply_edits(log().clone(), &edits, &lake());
    assert_eq!(edited.log.kept.len() + edited.log.set_aside.len(), log().log.kept.len(), "a mark was lost");
    for mark in &edited.log.kept {
        assert!(Place::new(mark.place.lon, mark.place.lat).is_some(), "{:?}", mark.place);
    }
    assert!(edited.log.set_aside.iter().all(|aside| aside.finding.code.severity() == Severity::SetAside));
    // Each edit is applied, told as without a mark, or names a mark that an earlier one dropped.
    let findings = &edited.log.findings[..];
    let unmatched = findings.iter().filter(|finding| finding.code == Code::EditUnmatched).count();
    let known = |id: &str| log().log.kept.iter().any(|mark| mark.id.to_string().eq_ignore_ascii_case(id));
    assert_eq!(unmatched, edits.iter().filter(|edit| !known(&edit.id)).count());
    let (stops, _) = read_stops(text);
    for stop in &stops {
        assert!(stop.value.is_finite() && !stop.name.is_empty(), "{stop:?}");
        assert!(Place::new(stop.place.lon, stop.place.lat).is_some(), "{stop:?}");
    }
});
