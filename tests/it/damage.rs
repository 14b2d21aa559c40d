//! Damaged files: no panic, no record lost, every finding says where.
//!
//! Each reference file is cut off, has bytes changed and tags dropped. Stands in for fuzzing.

use crate::reference_gpx::{export, folder};
use shoalwright::ingest::{self, FileRead, record_texts};
use shoalwright::terms::export::{FileId, Format};
use shoalwright::terms::finding::Severity;
use shoalwright::terms::mark::Origin;
use std::fs;

const FILE: FileId = FileId(3);

#[track_caller]
fn check(format: Format, bytes: &[u8]) -> FileRead {
    let read = ingest::read(&export(format), FILE, bytes);
    assert_eq!((read.marks.kept.len() + read.marks.set_aside.len()) as u64, read.counts.marks);
    let origins = read
        .marks
        .findings
        .iter()
        .map(|finding| finding.origin.unwrap())
        .chain(read.marks.set_aside.iter().map(|aside| aside.origin))
        .chain(read.marks.kept.iter().map(|mark| mark.origin));
    for origin in origins {
        assert_eq!(origin.file, FILE);
        assert!(u64::from(origin.record) <= read.counts.marks);
        assert_eq!(origin.record == 0, origin.line == 0);
    }
    for aside in &read.marks.set_aside {
        assert_eq!(aside.finding.code.severity(), Severity::SetAside);
        assert_eq!(aside.finding.origin, Some(aside.origin));
    }
    assert!(read.marks.findings.iter().all(|finding| finding.code.severity() != Severity::SetAside));
    // What was set aside can be read back out of the file, and is one record, or header and row, by itself.
    let origins: Vec<Origin> = read.marks.set_aside.iter().map(|aside| aside.origin).collect();
    if !origins.is_empty() && bytes.len() < 20_000 {
        for text in record_texts(&export(format), bytes, &origins) {
            assert_eq!(ingest::read(&export(format), FILE, text.as_bytes()).counts.marks, 1, "{text}");
        }
    }
    assert!(read.marks.kept.iter().all(|mark| mark.lon_deg.is_finite() && mark.lat_deg.is_finite()));
    read
}

/// The fixtures, each with the step at which it is damaged: small ones everywhere, larger ones at every 97th byte, and
/// the four of more than 60 kB at about fifty places.
fn fixtures() -> Vec<(Vec<u8>, usize)> {
    let mut names: Vec<_> = fs::read_dir(folder()).unwrap().map(|entry| entry.unwrap().path()).collect();
    names.sort();
    let files = names.iter().filter(|path| path.extension().is_some_and(|e| e == "gpx"));
    let all: Vec<_> = files
        .map(|path| {
            let bytes = fs::read(path).unwrap();
            let step = match bytes.len() {
                0..=1_500 => 1,
                1_501..=60_000 => 97,
                length => length / 50,
            };
            (bytes, step)
        })
        .collect();
    assert_eq!(all.len(), 34);
    all
}

#[test]
fn a_file_cut_off_anywhere_keeps_what_came_before() {
    for (bytes, step) in fixtures() {
        let whole = check(Format::Gpx, &bytes);
        for cut in (0..bytes.len()).step_by(step) {
            let part = check(Format::Gpx, &bytes[..cut]);
            assert!(part.counts.marks <= whole.counts.marks);
            // Everything read from the part is what the whole says, but for the record at the cut.
            for (a, b) in part.marks.kept.iter().zip(&whole.marks.kept) {
                assert_eq!(a, b);
            }
        }
    }
}

#[test]
fn changed_bytes_lose_no_count() {
    for (bytes, step) in fixtures() {
        for at in (0..bytes.len()).step_by(step) {
            for change in [bytes[at] ^ 0x20, 0xFF, 0, b'<', b'&', b'"', b'>'] {
                let mut damaged = bytes.clone();
                damaged[at] = change;
                check(Format::Gpx, &damaged);
                if step > 97 {
                    break;
                }
            }
        }
    }
}

#[test]
fn dropped_tags_lose_no_count() {
    for (bytes, step) in fixtures() {
        let starts: Vec<usize> = (0..bytes.len()).filter(|&i| bytes[i] == b'<').collect();
        for &start in starts.iter().step_by(step.div_ceil(60)) {
            let end = bytes[start..].iter().position(|&b| b == b'>').map_or(bytes.len(), |i| start + i + 1);
            check(Format::Gpx, &[&bytes[..start], &bytes[end..]].concat());
        }
    }
}

#[test]
fn damaged_tables_lose_no_count() {
    let table = "Name;Lat;Lon;Date;Depth (ft);Note\n\"A;1\";36,1;-86,2;3/4/2024;27;x\nB;N 36 07.5;W 86 15;17/4/2024;;\"two\nlines\"\n";
    for cut in 0..table.len() {
        check(Format::Csv, &table.as_bytes()[..cut]);
        for change in [0xFF, 0, b'"', b';', b'\n'] {
            let mut damaged = table.as_bytes().to_vec();
            damaged[cut] = change;
            check(Format::Csv, &damaged);
        }
    }
}
