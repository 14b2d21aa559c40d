//! ingest: files in, raw marks and track logs out.
//!
//! Sets aside: records that are broken off or tell no position.
//! Does not: judge a position, a clock or a word (that is `interpret`).

pub mod levels;
pub mod shoreline;
pub mod zones;

mod asides;
mod coordinate;
mod csv_columns;
mod csv_marks;
mod csv_rows;
mod csv_table;
mod csv_time;
mod decode;
mod gpx;
mod gpx_dialect;
mod gpx_join;
mod gpx_record;
mod gpx_window;
mod heights;
mod quantity_text;
mod record_findings;
mod record_text;
mod time_text;
mod windows;
mod xml_text;
mod xml_tokens;

use crate::terms::export::{Export, FileId, Format};
use crate::terms::finding::Outcome;
use crate::terms::mark::{Origin, RawMark};
use crate::terms::track_log::TrackLog;
use csv_table::Around;
use record_text::TextsAt;
use std::io::{Chain, Cursor, Read};

/// How many of each thing a file held.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Counts {
    /// Marks: GPX `wpt` elements, or CSV rows below the header; those set aside count too.
    pub marks: u64,
    /// GPX `rte` elements.
    pub routes: u64,
    /// GPX `rtept` elements.
    pub route_points: u64,
    /// GPX `trk` elements.
    pub tracks: u64,
    /// GPX `trkseg` elements.
    pub track_segments: u64,
    /// GPX `trkpt` elements, readable or not.
    pub track_points: u64,
}

/// What one file gave.
#[derive(Clone, Debug, PartialEq)]
pub struct FileRead {
    /// The file.
    pub file: FileId,
    /// What it held.
    pub counts: Counts,
    /// Its marks: kept + set aside = `counts.marks`.
    pub marks: Outcome<RawMark>,
    /// Its track logs.
    pub track_logs: Vec<TrackLog>,
}

/// Reads one file. `source` gives its bytes; an error of it ends the reading and becomes a finding, and what was
/// read before stays. Memory beside the result is bounded, whatever the file's size.
#[must_use]
pub fn read(export: &Export, file: FileId, source: impl Read + Send) -> FileRead {
    match export.format {
        Format::Gpx => gpx::read_gpx(file, export.ele, source, gpx::USUAL),
        Format::Csv => csv_table::read_csv(export, file, source),
    }
}

/// As [`read`], for a GPX file, in windows of so many bytes, three side by side. The result is the same: for fuzzing, whose
/// inputs are smaller than a usual window.
#[must_use]
pub fn read_in_windows(export: &Export, file: FileId, source: impl Read + Send, window: usize) -> FileRead {
    gpx::read_gpx(file, export.ele, source, windows::WindowSize { window: window.max(1), at_once: 3 })
}

/// Records read back out of their file one after another. Holds no more of the file than one record and a few blocks.
pub struct Records<R> {
    around: Around,
    texts: TextsAt<Chain<Cursor<Vec<u8>>, R>>,
}

impl<R: Read> Records<R> {
    /// `source` gives the bytes of the file.
    pub fn new(export: &Export, source: R) -> Self {
        let (around, source) = match export.format {
            Format::Gpx => (Around::Nothing, Cursor::new(Vec::new()).chain(source)),
            Format::Csv => Around::of(export, source),
        };
        Self { around, texts: TextsAt::new(source) }
    }

    /// The record at `origin`, which starts no earlier than the one asked for before, whole; a CSV row comes with the
    /// header above it. Control characters, which no XML may hold, become U+FFFD. A record that the source does not reach
    /// is empty.
    pub fn at(&mut self, origin: Origin) -> String {
        self.around.put(self.texts.at(origin))
    }
}

/// The records at `origins`, in that order, as [`Records`] gives them.
#[must_use]
pub fn record_texts(export: &Export, source: impl Read, origins: &[Origin]) -> Vec<String> {
    let mut records = Records::new(export, source);
    let mut texts = vec![String::new(); origins.len()];
    let mut order: Vec<usize> = (0..origins.len()).collect();
    order.sort_by_key(|&i| origins[i].start);
    for i in order {
        texts[i] = records.at(origins[i]);
    }
    texts
}
