//! What must hold of every reading, whatever the input: shared by the targets.

pub mod outlines;

use shoalwright::ingest::{self, FileRead, record_texts};
use shoalwright::terms::export::{Columns, CsvClock, Ele, Export, FileId, Format, RecordedDepth};
use shoalwright::terms::finding::Severity;
use shoalwright::terms::lake::Lake;
use shoalwright::terms::mark::Origin;
use shoalwright::terms::place::Place;
use shoalwright::terms::units::{DepthUnit, TemperatureUnit};
use std::path::PathBuf;

/// The file that every target reads.
pub const FILE: FileId = FileId(0);

/// An export under default settings.
pub fn export(format: Format) -> Export {
    Export {
        path: PathBuf::new(),
        label: "fuzz".to_owned(),
        format,
        unit: "fuzz".to_owned(),
        recorded_depth: RecordedDepth::Water,
        ele: Ele::default(),
        columns: Columns::default(),
        depth_unit: DepthUnit::Feet,
        temperature_unit: TemperatureUnit::Fahrenheit,
        time_zone: CsvClock::Local,
    }
}

/// A lake without a shoreline.
pub fn lake() -> Lake {
    Lake::unknown_at(Place { lon: -94.0, lat: 35.0 })
}

/// Reads bytes and checks that no record is lost, that every finding says where, and that what was set aside can be
/// read back.
pub fn read(export: &Export, bytes: &[u8]) -> FileRead {
    let read = ingest::read(export, FILE, bytes);
    let marks = &read.marks;
    let aside: u64 = marks.set_aside.iter().map(|row| u64::from(row.records)).sum();
    assert_eq!(marks.kept.len() as u64 + aside, read.counts.marks, "counts do not add up");
    let origins = marks.findings.iter().map(|finding| finding.origin.expect("a finding without a place"));
    for origin in origins.chain(marks.kept.iter().map(|m| m.origin)).chain(marks.set_aside.iter().map(|a| a.origin)) {
        assert!(origin.file == FILE && u64::from(origin.record) <= read.counts.marks, "{origin:?}");
        assert_eq!(origin.record == 0, origin.line == 0, "{origin:?}");
    }
    for aside in &marks.set_aside {
        assert_eq!(aside.finding.code.severity(), Severity::SetAside);
        assert_eq!(aside.finding.origin, Some(aside.origin));
    }
    assert!(marks.findings.iter().all(|finding| finding.code.severity() != Severity::SetAside));
    assert!(marks.kept.iter().all(|mark| mark.lon_deg.is_finite() && mark.lat_deg.is_finite()));
    let points: u64 =
        read.track_logs.iter().flat_map(|log| &log.segments).map(|segment| segment.len() as u64).sum();
    assert!(points <= read.counts.track_points);
    let origins: Vec<Origin> = marks.set_aside.iter().map(|aside| aside.origin).collect();
    for text in record_texts(export, bytes, &origins) {
        assert_eq!(ingest::read(export, FILE, text.as_bytes()).counts.marks, 1, "set aside: {text:?}");
    }
    read
}
