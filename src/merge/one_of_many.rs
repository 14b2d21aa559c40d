//! Of many copies one mark: which wins, and what it takes from the others.
//!
//! The winner is, in this order: the copy with a time; whose time no other copy shows to be a clock fault (local time
//! written as UTC, or a GPS week rollover back); with most decimals, six being enough; with most told; with fewest
//! repairs; with the earliest time; with the smallest words. Files have no say.

use super::Merged;
use super::rounding::decimals;
use super::same_mark::{MINUTE_MS, ROLLOVER_MS};
use crate::terms::export::Export;
use crate::terms::finding::{Code, Finding};
use crate::terms::instant::Instant;
use crate::terms::lake::Lake;
use crate::terms::mark::{Kind, Mark, Origin, Words};
use crate::terms::units::{Depth, METRES_PER_FOOT};
use jiff::tz::TimeZone;
use std::cmp::Reverse;

/// Depths of copies that differ by more are a conflict: a foot, as typed depths are rounded.
const DEPTHS_AGREE_M: f64 = METRES_PER_FOOT;
/// Copies farther apart than this were moved by hand: rounding to four decimals moves a place by up to 7 m.
const PLACES_AGREE_M: f64 = 15.0;
/// Surface temperatures of copies that differ by more are a conflict: whole degrees Fahrenheit are typed.
const TEMPS_AGREE_C: f64 = 1.0;
/// So many different times among copies are compared with each other; more come only of broken files.
const MOST_TIMES: usize = 16;

/// Unites the marks of each group, given as (first of the group, mark) in ascending order, into one.
pub(super) fn unite(
    marks: Vec<Mark>,
    groups: &[(u32, u32)],
    exports: &[Export],
    lake: &Lake,
    merged: &mut Merged,
) -> Vec<Mark> {
    if groups.iter().all(|(first, mark)| first == mark) {
        return marks;
    }
    let mut slots: Vec<Option<Mark>> = marks.into_iter().map(Some).collect();
    groups
        .chunk_by(|a, b| a.0 == b.0)
        .filter_map(|group| {
            if let [(_, only)] = group {
                return slots[*only as usize].take();
            }
            let mut copies: Vec<Mark> = group.iter().filter_map(|(_, i)| slots[*i as usize].take()).collect();
            rank(&mut copies, lake);
            merged.merged_away.extend(copies[1..].iter().map(Mark::origin));
            merged.log.findings.extend(conflict(&copies, exports));
            let mut copies = copies.into_iter();
            Some(fill(copies.next()?, copies))
        })
        .collect()
}

/// Brings the winner to the front, the others in order behind it. The copies come in content order.
fn rank(copies: &mut [Mark], lake: &Lake) {
    let mut times: Vec<Instant> = copies.iter().filter_map(|m| m.time).collect();
    times.dedup();
    times.truncate(MOST_TIMES);
    let is_faulty = |time: Instant| times.iter().any(|right| is_fault_of(time, *right, &lake.time_zone));
    copies.sort_by_cached_key(|mark| {
        (
            mark.time.is_none(),
            mark.time.is_some_and(is_faulty),
            Reverse(decimals(mark.place).min(6)),
            Reverse(told(mark)),
            mark.repairs.len(),
            mark.time,
            mark.words.clone(),
        )
    });
}

/// Whether `time` is what a faulty clock writes at `right`: local time as UTC, or 1024 weeks (or a multiple) back.
fn is_fault_of(time: Instant, right: Instant, zone: &TimeZone) -> bool {
    let apart_ms = right.unix_ms() - time.unix_ms();
    let weeks = (apart_ms as f64 / ROLLOVER_MS as f64).round() as i64;
    let rest_ms = apart_ms - weeks * ROLLOVER_MS;
    let offset_ms = right.timestamp().map_or(0, |t| i64::from(zone.to_offset(t).seconds()) * 1000);
    let is = |ms: i64| (rest_ms - ms).abs() < 60_000;
    (weeks > 0 && (is(0) || is(-offset_ms))) || (weeks == 0 && offset_ms != 0 && is(-offset_ms))
}

/// How many things a mark tells.
fn told(mark: &Mark) -> usize {
    let fields = [
        mark.kind != Kind::Other,
        mark.fish_depth.is_some(),
        mark.water_depth.is_some(),
        mark.water_temp.is_some(),
        !mark.note.is_empty(),
    ];
    fields.into_iter().chain(mark.words.in_order().map(|text| !text.is_empty())).filter(|told| *told).count()
}

/// The first copy, with what it lacks taken from the others in order.
pub(super) fn fill(mut winner: Mark, copies: impl Iterator<Item = Mark>) -> Mark {
    let mut sources = vec![winner.origin()];
    let mut more = winner.sources[1..].to_vec();
    for copy in copies {
        if winner.time.is_none() && winner.day.is_none() {
            winner.day = copy.day;
        }
        if winner.kind == Kind::Other {
            winner.kind = copy.kind;
        }
        let mut donated: Vec<&str> = Vec::new();
        let fits = |fish: Option<Depth>, water: Option<Depth>| match (fish, water) {
            (Some(fish), Some(water)) => fish.metres() <= water.metres() + DEPTHS_AGREE_M,
            _ => true,
        };
        if winner.fish_depth.is_none()
            && copy.fish_depth.is_some()
            && fits(copy.fish_depth, winner.water_depth)
        {
            winner.fish_depth = copy.fish_depth;
            donated.push("depth");
        }
        if winner.water_depth.is_none()
            && copy.water_depth.is_some()
            && fits(winner.fish_depth, copy.water_depth)
        {
            winner.water_depth = copy.water_depth;
            donated.push("depth");
        }
        if winner.water_temp.is_none() && copy.water_temp.is_some() {
            winner.water_temp = copy.water_temp;
            donated.push("temp");
        }
        // A repair goes with the value that it repaired.
        let moved =
            copy.repairs.iter().filter(|code| donated.iter().any(|what| code.word().starts_with(what)));
        winner.repairs.extend(moved);
        winner.words = fill_words(&winner.words, &copy.words);
        if winner.note.is_empty() {
            winner.note = copy.note;
        }
        more.extend_from_slice(&copy.sources);
    }
    more.sort_unstable();
    more.dedup();
    more.retain(|source| *source != sources[0]);
    sources.append(&mut more);
    winner.sources = sources.into();
    winner
}

fn fill_words(own: &Words, other: &Words) -> Words {
    let (a, b) = (own.in_order(), other.in_order());
    if (0..5).all(|i| !a[i].is_empty() || b[i].is_empty()) {
        return own.clone();
    }
    let [name, sym, type_, cmt, desc] = std::array::from_fn(|i| if a[i].is_empty() { b[i] } else { a[i] });
    Words::new(name, sym, type_, cmt, desc)
}

/// A finding when the copies say different things.
fn conflict(copies: &[Mark], exports: &[Export]) -> Option<Finding> {
    let winner = &copies[0];
    let at = |mark: &Mark| source_text(mark.origin(), exports);
    let mut differences = Vec::new();
    let mut differs = |what: &str, own: String, other: String, from: &Mark| {
        differences.push(format!("{what} `{own}`, in {} `{other}`", at(from)));
    };
    let others = || copies[1..].iter();
    if let Some(other) =
        others().find(|m| !m.words.name().is_empty() && m.words.name() != winner.words.name())
        && !winner.words.name().is_empty()
    {
        differs("name", winner.words.name().to_owned(), other.words.name().to_owned(), other);
    }
    if let Some(other) = others().find(|m| m.kind != Kind::Other && m.kind != winner.kind)
        && winner.kind != Kind::Other
    {
        differs("kind", winner.kind.word().to_owned(), other.kind.word().to_owned(), other);
    }
    for (what, number) in ["symbol", "type", "comment", "description"].into_iter().zip(1..) {
        let own = winner.words.in_order()[number];
        if let Some(other) = others().find(|m| !["", own].contains(&m.words.in_order()[number]))
            && !own.is_empty()
        {
            differs(what, own.to_owned(), other.words.in_order()[number].to_owned(), other);
        }
    }
    if let Some(other) = others().find(|m| !m.note.is_empty() && m.note != winner.note)
        && !winner.note.is_empty()
    {
        differs("note", winner.note.to_string(), other.note.to_string(), other);
    }
    let metres = |m: &Mark| m.place.metres_to(winner.place);
    if let Some(other) = others().find(|m| metres(m) > PLACES_AGREE_M) {
        let own = format!("{:.6}, {:.6}", winner.place.lat, winner.place.lon);
        differs("place", own, format!("{:.0} m away", metres(other)), other);
    }
    // A file that tells times to the minute differs by less.
    let away = |m: &Mark| Some((m.time?.unix_ms() - winner.time?.unix_ms()).abs());
    if let Some(other) = others().find(|m| away(m).is_some_and(|ms| ms >= MINUTE_MS))
        && let (Some(own), Some(copy)) = (winner.time, other.time)
    {
        differs("time", own.rfc3339(), copy.rfc3339(), other);
    }
    let warmer = |m: &Mark| Some((m.water_temp?.celsius() - winner.water_temp?.celsius()).abs());
    if let Some(other) = others().find(|m| warmer(m).is_some_and(|celsius| celsius > TEMPS_AGREE_C))
        && let (Some(own), Some(copy)) = (winner.water_temp, other.water_temp)
    {
        differs("water temperature", own.to_string(), copy.to_string(), other);
    }
    for (what, depth) in [
        ("fish depth", (|m: &Mark| m.fish_depth) as fn(&Mark) -> Option<Depth>),
        ("water depth", |m: &Mark| m.water_depth),
    ] {
        let apart = |m: &Mark| Some((depth(m)?.metres() - depth(winner)?.metres()).abs());
        if let Some(other) = others().find(|m| apart(m).is_some_and(|metres| metres > DEPTHS_AGREE_M))
            && let (Some(own), Some(copy)) = (depth(winner), depth(other))
        {
            differs(what, own.to_string(), copy.to_string(), other);
        }
    }
    (!differences.is_empty()).then(|| {
        Finding::new(Code::MergeConflict, format!("copies of one mark differ: {}", differences.join("; ")))
            .at(winner.origin(), winner.words.name())
            .done("the first is kept")
            .fix("set it in edits.csv where that is wrong")
    })
}

/// How a message names a record: `bow.gpx` record 12.
fn source_text(origin: Origin, exports: &[Export]) -> String {
    exports.get(origin.file.0 as usize).map_or_else(
        || format!("record {}", origin.record),
        |export| format!("{} record {}", export.label, origin.record),
    )
}
