//! ingest: files in, raw marks and track logs out.
//!
//! Sets aside: records that are broken off or tell no position.
//! Does not: judge a position, a clock or a word (that is `interpret`).

pub mod levels;
pub mod shoreline;

use crate::terms::export::FileId;
use crate::terms::finding::Outcome;
use crate::terms::mark::RawMark;
use crate::terms::track_log::TrackLog;

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
