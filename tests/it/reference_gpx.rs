//! Other people's GPX files, counted by an independent reader.
//!
//! Files and counts: `fixtures/reference/gpx/expected.csv` (origin, licence and sha-256 of each; counted by lxml 6.1.3).

use shoalwright::ingest::{FileRead, read};
use shoalwright::terms::export::{Columns, CsvClock, Ele, Export, FileId, Format, RecordedDepth};
use shoalwright::terms::finding::Code;
use shoalwright::terms::units::{DepthUnit, TemperatureUnit};
use std::collections::BTreeMap;
use std::fs::File;
use std::path::{Path, PathBuf};

pub(crate) fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/reference/gpx")
}

pub(crate) fn export(format: Format) -> Export {
    Export {
        path: PathBuf::new(),
        label: "test".to_owned(),
        format,
        unit: "test".to_owned(),
        recorded_depth: RecordedDepth::Water,
        ele: Ele::default(),
        columns: Columns::default(),
        depth_unit: DepthUnit::Feet,
        temperature_unit: TemperatureUnit::Fahrenheit,
        time_zone: CsvClock::Local,
    }
}

fn read_file(name: &str) -> FileRead {
    read(&export(Format::Gpx), FileId(0), File::open(folder().join(name)).unwrap())
}

fn expected() -> Vec<BTreeMap<String, String>> {
    let mut table = csv::Reader::from_path(folder().join("expected.csv")).unwrap();
    table.deserialize().collect::<Result<_, _>>().unwrap()
}

#[test]
fn elements_of_all_34_files_are_counted_exactly() {
    let rows = expected();
    assert_eq!(rows.len(), 34);
    for row in rows {
        let read = read_file(&row["file"]);
        let seen = [
            ("wpt", read.counts.marks),
            ("rte", read.counts.routes),
            ("rtept", read.counts.route_points),
            ("trk", read.counts.tracks),
            ("trkseg", read.counts.track_segments),
            ("trkpt", read.counts.track_points),
        ];
        for (column, count) in seen {
            assert_eq!(count.to_string(), row[column], "{column} of {}", row["file"]);
        }
        assert_eq!((read.marks.kept.len() + read.marks.set_aside.len()) as u64, read.counts.marks);
    }
}

#[test]
fn positions_fill_the_box_that_the_independent_reader_gives() {
    let mut boxes = 0;
    for row in expected() {
        // Points of routes are counted but not kept: files with routes say more than we hold.
        if row["min_lat"].is_empty() || row["rtept"] != "0" {
            continue;
        }
        let read = read_file(&row["file"]);
        let track_points = read.track_logs.iter().flat_map(|log| log.segments.iter().flatten());
        let places: Vec<(f64, f64)> = read
            .marks
            .kept
            .iter()
            .map(|mark| (mark.lon_deg, mark.lat_deg))
            .chain(track_points.map(|point| (point.place.lon, point.place.lat)))
            .collect();
        let bound = |axis: fn(&(f64, f64)) -> f64, pick: fn(f64, f64) -> f64| {
            places.iter().map(axis).reduce(pick).unwrap()
        };
        for (column, seen) in [
            ("min_lat", bound(|p| p.1, f64::min)),
            ("max_lat", bound(|p| p.1, f64::max)),
            ("min_lon", bound(|p| p.0, f64::min)),
            ("max_lon", bound(|p| p.0, f64::max)),
        ] {
            let given: f64 = row[column].parse().unwrap();
            assert!((seen - given).abs() < 1e-12, "{column} of {}: {seen} is not {given}", row["file"]);
        }
        boxes += 1;
    }
    assert!(boxes >= 20, "only {boxes} files have a box");
}

#[test]
fn odd_files_say_what_is_odd() {
    for (file, code) in [
        ("odd-empty-file.gpx", Code::FileEmpty),
        ("odd-html.gpx", Code::FileNotGpx),
        ("odd-decimal-comma.gpx", Code::PositionForm),
        ("odd-utf16.gpx", Code::EncodingRepaired),
        ("odd-times.gpx", Code::TimeUnreadable),
    ] {
        let codes: Vec<Code> = read_file(file).marks.findings.iter().map(|finding| finding.code).collect();
        assert!(codes.contains(&code), "{file}: {codes:?}");
    }
    let missing = read_file("odd-missing-lon.gpx");
    assert_eq!(missing.marks.set_aside[0].finding.code, Code::PositionMissing);
    assert_eq!(missing.marks.kept.len(), 1);
    assert_eq!(read_file("odd-utf16.gpx").marks.kept[0].words.name(), "Bärsch °");
}

#[test]
fn a_sound_file_gives_no_finding() {
    for row in expected().iter().filter(|row| row["xsd11"] == "1" && !row["file"].starts_with("odd-")) {
        let codes: Vec<Code> =
            read_file(&row["file"]).marks.findings.iter().map(|finding| finding.code).collect();
        assert_eq!(codes, [], "{}", row["file"]);
    }
}
