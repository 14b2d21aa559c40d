//! Facts of a whole file: told once, with the count and the first example.

use crate::terms::export::FileId;
use crate::terms::finding::{Code, Finding};
use crate::terms::mark::{Kind, Origin, Words};
use std::borrow::Cow;
use std::collections::BTreeMap;

/// Counts of facts by file and code; kinds in conflict also by which.
#[derive(Debug, Default)]
pub(super) struct Tally(BTreeMap<(FileId, Code, Vec<Kind>), Entry>);

#[derive(Debug)]
struct Entry {
    count: usize,
    first_record: u32,
    first: String,
}

impl Tally {
    /// Counts a fact whose example is the mark's name. Call in the order of records.
    pub(super) fn count(&mut self, code: Code, origin: Origin, words: &Words) {
        self.count_with(code, origin, || words.name().to_owned());
    }

    /// Counts a fact with an example of its own.
    pub(super) fn count_with(&mut self, code: Code, origin: Origin, example: impl FnOnce() -> String) {
        self.add((origin.file, code, Vec::new()), origin, example);
    }

    /// Counts a mark whose texts name several kinds, the chosen first.
    pub(super) fn count_rivals(&mut self, kinds: Vec<Kind>, origin: Origin, words: &Words) {
        let example =
            || words.in_order().into_iter().find(|text| !text.is_empty()).unwrap_or_default().to_owned();
        self.add((origin.file, Code::KindConflict, kinds), origin, example);
    }

    fn add(&mut self, key: (FileId, Code, Vec<Kind>), origin: Origin, example: impl FnOnce() -> String) {
        self.0.entry(key).and_modify(|entry| entry.count += 1).or_insert_with(|| Entry {
            count: 1,
            first_record: origin.record,
            first: example(),
        });
    }

    /// One finding a file and code.
    pub(super) fn findings(self) -> impl Iterator<Item = Finding> {
        self.0.into_iter().map(|((file, code, kinds), entry)| {
            let (what, done, fix) = if let [chosen, ..] = kinds[..] {
                let named: Vec<&str> = kinds.iter().map(|kind| kind.word()).collect();
                (
                    format!("whose texts name `{}`", named.join("`, `")).into(),
                    format!("read as `{}`", chosen.word()).into(),
                    "set the kind in edits.csv where that is wrong",
                )
            } else {
                let (what, done, fix) = text(code);
                (Cow::Borrowed(what), Cow::Borrowed(done), fix)
            };
            let marks = if entry.count == 1 { "mark" } else { "marks" };
            let seen = format!(
                "{} {marks} {what}; the first is record {}: `{}`",
                entry.count, entry.first_record, entry.first
            );
            Finding::new(code, seen).at(Origin::whole_file(file), "").done(done).fix(fix)
        })
    }
}

/// What was seen, what was done, how to mend.
fn text(code: Code) -> (&'static str, &'static str, &'static str) {
    match code {
        Code::ClockMissing => ("without a time", "kept, in place-only results", ""),
        Code::ClockNoZone => ("with a time that has no offset", "read in the lake's time zone", ""),
        Code::ClockDateOnly => ("with a date and no time of day", "kept with the day alone", ""),
        Code::ClockWeekRollover => (
            "dated a GPS week count (1024 weeks, or a multiple) before the other marks",
            "moved forward by whole week counts, with the track logs of the unit",
            "nothing when the new dates are right; else take the file out of the inputs",
        ),
        Code::ClockLocalAsUtc => (
            "with local time written as UTC, told by track logs, copies in other files or the sun",
            "read again in the lake's time zone",
            "nothing when the new times are right; else take the file out of the inputs",
        ),
        Code::ClockMinutes => (
            "with a clock that was minutes off, told by the track logs of other files",
            "shifted by the same minutes on all days of the file",
            "nothing when the new times are right; else take the file out of the inputs",
        ),
        Code::KindUnknown => {
            ("without a word that tells a kind", "kept as `other`", "add your words to [labels]")
        }
        Code::DepthBare => (
            "with a bare number beside a bait or fish word",
            "read as fish depth in the file's depth unit",
            "write the unit, like `24FT`",
        ),
        Code::DepthUnitRepaired => (
            "with a recorded depth in the wrong unit, told by depths typed into the same records or by other files",
            "turned into the right unit, with the depths of the file's track logs",
            "nothing when the new depths are right; else take the file out of the inputs",
        ),
        Code::DepthIsBottom => (
            "whose name carries the recorded depth of the bottom",
            "no fish depth is read from it; the water depth stays",
            "write whose depth it is, like `shad at 24`, where the fish lay on the bottom",
        ),
        Code::DepthRange => {
            ("with a range of depths", "read as its middle", "write one depth where the middle is wrong")
        }
        other => (other.meaning(), "", ""),
    }
}
