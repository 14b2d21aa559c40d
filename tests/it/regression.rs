//! Inputs that once went wrong, found by fuzzing (`scripts/fuzz`) or beside it: a folder each in `fixtures/regression`.
//!
//! All four are of one kind: a record set aside, read back out of its file and read by itself, must be one record.

use crate::reference_gpx::export;
use shoalwright::ingest::{self, record_texts};
use shoalwright::terms::export::{FileId, Format};
use shoalwright::terms::finding::Code;
use shoalwright::terms::mark::Origin;
use std::fs;
use std::path::Path;

/// The file gives `kept` marks and one record set aside for `why`; by itself that record is again set aside for `why`.
#[track_caller]
fn check(name: &str, format: Format, kept: usize, why: Code) {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/regression").join(name);
    let bytes = fs::read(path).unwrap();
    let export = export(format);
    let read = ingest::read(&export, FileId(0), bytes.as_slice()).marks;
    assert_eq!((read.kept.len(), read.set_aside.len()), (kept, 1), "{:?}", read.findings);
    assert_eq!(read.set_aside[0].finding.code, why);
    let origins: Vec<Origin> = read.set_aside.iter().map(|aside| aside.origin).collect();
    let texts = record_texts(&export, bytes.as_slice(), &origins);
    let again = ingest::read(&export, FileId(0), texts[0].as_bytes());
    assert_eq!(again.counts.marks, 1, "{texts:?}");
    assert_eq!(again.marks.set_aside[0].finding.code, why, "{texts:?}");
    assert_eq!(again.marks.set_aside[0].finding.name, read.set_aside[0].finding.name, "{texts:?}");
}

#[test]
fn a_foreign_prefix_inside_a_record_does_not_speak_for_the_file() {
    check("1-foreign-prefix-in-a-record/input.gpx", Format::Gpx, 1, Code::RecordDamaged);
}

#[test]
fn a_header_with_a_control_sign_is_known_again() {
    check("2-control-sign-in-a-header/input.csv", Format::Csv, 0, Code::PositionMissing);
}

#[test]
fn a_delimiter_that_a_title_told_goes_with_the_row() {
    check("3-delimiter-told-by-a-title/input.csv", Format::Csv, 0, Code::PositionMissing);
}

#[test]
fn a_tab_before_the_first_cell_is_a_cell() {
    check("4-tab-before-the-first-cell/input.csv", Format::Csv, 0, Code::PositionMissing);
}

#[test]
fn a_blank_that_xml_does_not_know_stays_at_the_end_of_its_record() {
    check("6-foreign-blank-at-the-end/input.gpx", Format::Gpx, 0, Code::RecordDamaged);
    check("7-form-feed-at-the-end/input.gpx", Format::Gpx, 0, Code::RecordDamaged);
}

#[test]
fn a_header_in_two_encodings_is_known_again() {
    check("5-two-encodings-in-a-header/input.csv", Format::Csv, 0, Code::RowShort);
}
