//! merge: marks of many exports in, one log out.
//!
//! Sets aside: what the user's edits drop.
//! Does not: group marks into schools; two marks on one school stay two.

mod cells;
mod clusters;
mod edits;
mod joined;
mod names;
mod one_of_many;
mod remarked;
mod retired;
mod rounding;
mod same_mark;
mod unit_offset;

use crate::terms::export::Export;
use crate::terms::finding::Outcome;
use crate::terms::id::Id;
use crate::terms::lake::Lake;
use crate::terms::mark::{Mark, Origin};
use crate::terms::units::{Distance, Span};
use rayon::prelude::*;
use serde::Deserialize;
use std::cmp::Ordering;
use std::collections::BTreeSet;

pub use edits::{Change, Edit, apply_edits, read_edits};
pub use joined::{Joined, joined};
pub use same_mark::Rule;

/// When two marks of different exports are the same mark: `[merge]`.
#[derive(Clone, Copy, Debug, PartialEq, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Settings {
    /// Copies of a mark lie within this of each other. Default 10 m: rounding to 0.0001 degrees moves a position by
    /// up to 7 m, and a consumer receiver is no better than that (GPS SPS performance standard).
    pub same_place: Distance,
    /// Copies of a mark tell times within this. Default 2 s: some formats keep whole or even seconds only.
    pub same_time: Span,
    /// Marks of cover or structure on different days within this are on one object; zero keeps each. Default 30 m: both
    /// the boat and the receiver are off by some 10 m (common practice, no source).
    pub same_cover: Distance,
    /// Whether a constant offset between units is taken out before matching. Default false: which of two units is
    /// right nobody can tell from marks alone.
    pub apply_unit_offset: bool,
}

impl Default for Settings {
    fn default() -> Self {
        Self {
            same_place: Distance::from_metres(10.0),
            same_time: Span::from_seconds(2.0),
            same_cover: Distance::from_metres(30.0),
            apply_unit_offset: false,
        }
    }
}

/// One log of many exports. Each mark that came in is kept, merged away or set aside.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Merged {
    /// The log in canonical order: time (undated last), longitude, latitude, name, id.
    pub log: Outcome<Mark>,
    /// For each mark that became part of another: where it stood. Ascending.
    pub merged_away: Vec<Origin>,
}

/// Makes one log of the marks of all exports.
///
/// Two marks of different files are the same when they lie within `same_place` (but for 6) and
///
/// 1. their times are within `same_time`; or
/// 2. their times are whole hours (up to 14) or a GPS week rollover apart, to `same_time`, and they have the same name
///    at a place that is the same but for rounding; a new name is let pass when at least five marks of the two files
///    prove that very shift; or
/// 3. one time is a full minute and the other within that minute, and name and place are the same as in 2; or
/// 4. one has no time, and name and place are the same as in 2; or
/// 5. name and place are the same to six decimals: only the time was edited; or
/// 6. name and time are the same, to `same_time`, and the places up to 150 m apart: only the place was edited, in files whose other
///    marks mostly lie where their copies do.
///
/// Names are the same without regard to case, spaces and signs, and when one is the other cut to eight or more.
///
/// And marks of cover or structure on different days within `same_cover`, of one kind, whose names, comments and depths do
/// not gainsay each other, are on one object; the earliest stays. Hazards are never united so.
///
/// A mark is at most one mark of any file. Two marks of one file are the same only when place, time and name are
/// identical. Of the copies one wins (see `one_of_many`), takes what it lacks from the others, and lists all records.
/// The result does not depend on the order or the names of the files; the log as one file, or given twice, is that log
/// again.
#[must_use]
pub fn merge(marks: Vec<Mark>, lake: &Lake, exports: &[Export], settings: &Settings) -> Merged {
    let mut merged = Merged::default();
    let mut marks = marks;
    marks.par_sort_unstable_by(content_order);
    merged.log.findings = unit_offset::settle(&mut marks, lake, exports, settings);
    marks.par_sort_unstable_by(content_order);
    // Once, on the records as they were read: what a file proves about its clock is proved by its own records, not by
    // the marks that merging made of them, whose first record is of one file or another by chance.
    let groups = same_mark::groups(&marks, lake, settings);
    marks = one_of_many::unite(marks, &groups, exports, lake, &mut merged);
    // A mark that took a name from its copy may now say the very same as another.
    loop {
        let before = marks.len();
        marks.par_sort_unstable_by(content_order);
        let groups = same_mark::doubles(&marks);
        marks = one_of_many::unite(marks, &groups, exports, lake, &mut merged);
        if marks.len() == before {
            break;
        }
    }
    marks.par_sort_unstable_by(log_order);
    let (united, away, told) = remarked::unite(marks, lake, settings);
    marks = united;
    merged.merged_away.extend(away);
    merged.log.findings.extend(told);
    make_ids_unique(&mut marks);
    merged.log.findings.extend(retired::tag(&mut marks, exports));
    marks.par_sort_unstable_by(log_order);
    merged.log.kept = marks;
    merged.log.findings.sort_by(|a, b| (a.origin, a.code, &a.seen).cmp(&(b.origin, b.code, &b.seen)));
    merged.merged_away.sort_unstable();
    merged
}

/// Order of the log: time (undated last), longitude, latitude, name, id.
fn log_order(a: &Mark, b: &Mark) -> Ordering {
    place_order(a, b)
        .then_with(|| a.words.name().cmp(b.words.name()))
        .then_with(|| a.id.cmp(&b.id))
        .then_with(|| content_order(a, b))
}

fn place_order(a: &Mark, b: &Mark) -> Ordering {
    (a.time.is_none(), a.time)
        .cmp(&(b.time.is_none(), b.time))
        .then_with(|| a.place.lon.total_cmp(&b.place.lon))
        .then_with(|| a.place.lat.total_cmp(&b.place.lat))
}

/// Order by everything that a mark says, and by where it stands only when two say the very same.
fn content_order(a: &Mark, b: &Mark) -> Ordering {
    let numbers = |m: &Mark| {
        (
            m.day.map(|day| day.date),
            m.kind,
            m.fish_depth.map(|d| d.metres().to_bits()),
            m.water_depth.map(|d| d.metres().to_bits()),
            m.water_temp.map(|t| t.celsius().to_bits()),
        )
    };
    place_order(a, b)
        .then_with(|| a.words.cmp(&b.words))
        .then_with(|| numbers(a).cmp(&numbers(b)))
        .then_with(|| (a.id, &a.note, &a.repairs).cmp(&(b.id, &b.note, &b.repairs)))
        .then_with(|| a.sources.cmp(&b.sources))
}

/// Gives the second of two marks with one id a new one, and so on. `marks` are in log order.
fn make_ids_unique(marks: &mut [Mark]) {
    let mut ids: Vec<Id> = marks.iter().map(|mark| mark.id).collect();
    ids.par_sort_unstable();
    if ids.windows(2).all(|pair| pair[0] != pair[1]) {
        return;
    }
    let mut taken = BTreeSet::new();
    for mark in marks {
        let mut round = 2_u32;
        let first = mark.id.to_string();
        while !taken.insert(mark.id) {
            mark.id = Id::of('m', &[&first, &round.to_string()]);
            round += 1;
        }
    }
}
