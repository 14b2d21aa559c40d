//! What an id names: by the whole id or its beginning, by the name of a stop, or by the place of a record.

use super::Known;
use crate::terms::finding::Code;
use crate::terms::mark::{Kind, Origin};
use std::fmt;

/// Characters of a whole id.
const WHOLE: usize = 13;
/// How many nearest ids are told.
const NEAREST: usize = 3;

/// What the user typed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Wanted(String);

impl Wanted {
    /// From what was typed.
    #[must_use]
    pub fn new(text: &str) -> Self {
        Self(text.trim().to_owned())
    }

    /// The letter of the class that the text can only belong to: `m`, `s`, `a`, `t`, `p`; `None`: anything.
    #[must_use]
    pub fn class(&self) -> Option<char> {
        let mut letters = self.0.chars();
        let (letter, dash) = (letters.next()?.to_ascii_lowercase(), letters.next()?);
        (dash == '-').then_some(letter)
    }
}

/// Something that can be explained, as a place in what the run made.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Thing {
    Mark(usize),
    /// A record set aside.
    Aside(usize),
    /// A copy, as a place among the marks before merging, and the mark it became part of.
    Merged {
        copy: usize,
        into: usize,
    },
    Sighting(usize),
    Area(usize),
    Track(usize),
    TrackDay(usize, usize),
    /// A stop that is no area.
    Stop(usize),
}

/// Nothing, or more than one thing, is called so.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NotFound {
    wanted: String,
    /// Ids that begin so; none: nothing does.
    several: Vec<String>,
    nearest: Vec<String>,
    /// Why there is none of that class.
    because: Option<String>,
}

impl std::error::Error for NotFound {}

impl fmt::Display for NotFound {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let list = |ids: &[String]| ids.iter().map(|id| format!("`{id}`")).collect::<Vec<_>>().join(", ");
        if self.several.len() > 1 {
            let first = &self.several[..self.several.len().min(NEAREST)];
            return write!(
                f,
                "`{}` is the beginning of `{}` ids, the first of them {}; type more of it",
                self.wanted,
                self.several.len(),
                list(first)
            );
        }
        write!(f, "nothing is called `{}`", self.wanted)?;
        if let Some(because) = &self.because {
            write!(f, ": {because}")?;
        }
        if !self.nearest.is_empty() {
            write!(f, ". The nearest: {}", list(&self.nearest))?;
        }
        write!(
            f,
            "\n  Ids stand in the column `id` of tables and layers (tables/marks.csv): m-… a mark, s-… a sighting, a-… a holding area, t-… a movement track, \
             p-… a stop of yours; a stop may also be called by its name, and a record by file#record or file:line"
        )
    }
}

/// Finds what is called so.
pub(super) fn find(known: &Known<'_>, wanted: &Wanted) -> Result<Thing, NotFound> {
    let text = wanted.0.to_lowercase();
    let ids = ids(known);
    // The days of a track count only where its whole id is typed.
    let counts =
        |id: &str, thing: &Thing| !matches!(thing, Thing::TrackDay(..)) || text.len() >= WHOLE.min(id.len());
    let begin: Vec<&(String, Thing)> =
        ids.iter().filter(|(id, thing)| id.starts_with(&text) && counts(id, thing)).collect();
    // A whole id wins over those that begin with it (`t-…` over `t-…-10-15`).
    let whole = begin.iter().find(|(id, _)| *id == text);
    if let Some((_, thing)) = whole.or(if let [one] = &begin[..] { Some(one) } else { None }) {
        return Ok(*thing);
    }
    if let Some(track) = only_track(&begin) {
        return Ok(track);
    }
    if begin.is_empty()
        && let Some(thing) = by_stop_name(known, &text).or_else(|| by_record(known, &wanted.0))
    {
        return Ok(thing);
    }
    let mut several: Vec<String> = begin.iter().map(|(id, _)| id.clone()).collect();
    several.sort();
    let refused = known.findings.iter().find(|f| f.code == Code::MovementRefused);
    let because = refused
        .filter(|_| wanted.class() == Some('t') && known.movement.tracks.is_empty())
        .map(|f| format!("{}; {}", f.seen, f.done))
        .or_else(|| no_such_record(known, &wanted.0))
        .or_else(|| no_such_stop(known, &text));
    let nearest = if several.is_empty() { nearest(&text, &ids) } else { Vec::new() };
    Err(NotFound { wanted: wanted.0.clone(), several, nearest, because })
}

/// The track, where all that begins so is one track and its days.
fn only_track(begin: &[&(String, Thing)]) -> Option<Thing> {
    let track = |thing: &Thing| match thing {
        Thing::Track(track) | Thing::TrackDay(track, _) => Some(*track),
        _ => None,
    };
    let first = track(&begin.first()?.1)?;
    begin.iter().all(|(_, thing)| track(thing) == Some(first)).then_some(Thing::Track(first))
}

/// Everything with an id. Copies that became part of a mark, and marks that the user's edits dropped, have one as well.
fn ids(known: &Known<'_>) -> Vec<(String, Thing)> {
    let mut ids: Vec<(String, Thing)> = Vec::new();
    ids.extend(known.log.iter().enumerate().map(|(i, m)| (m.id.to_string(), Thing::Mark(i))));
    let kept: std::collections::BTreeSet<String> = ids.iter().map(|(id, _)| id.clone()).collect();
    for (copy, mark) in known.before_merge.iter().enumerate() {
        let id = mark.id.to_string();
        if !kept.contains(&id)
            && let Some(thing) = of_record(known, mark.origin(), Some(copy))
            && !ids.iter().rev().take(1).any(|(last, _)| *last == id)
        {
            ids.push((id, thing));
        }
    }
    ids.extend(
        known.schools.sightings.iter().enumerate().map(|(i, s)| (s.id.to_string(), Thing::Sighting(i))),
    );
    ids.extend(known.schools.areas.iter().enumerate().map(|(i, a)| (a.id.to_string(), Thing::Area(i))));
    for (number, track) in known.movement.tracks.iter().enumerate() {
        ids.push((track.id.to_string(), Thing::Track(number)));
        let day = |(i, day): (usize, &crate::movement::MovementDay)| {
            (format!("{}-{}", track.id, day.season_day.month_day()), Thing::TrackDay(number, i))
        };
        ids.extend(track.days.iter().enumerate().map(day));
    }
    if let Some(prefish) = known.prefish {
        let own = prefish.problem.stops.iter().enumerate().filter(|(_, stop)| stop.facts.area.is_none());
        ids.extend(own.map(|(i, stop)| (stop.id.to_string(), Thing::Stop(i))));
    }
    // One id twice: a copy that says the same in two files, one of them merged away.
    ids.sort_by(|a, b| a.0.cmp(&b.0));
    ids.dedup_by(|a, b| a.0 == b.0);
    ids
}

/// What became of a record.
fn of_record(known: &Known<'_>, origin: Origin, copy: Option<usize>) -> Option<Thing> {
    if let Some(aside) = known.set_aside.iter().position(|aside| aside.origin == origin) {
        return Some(Thing::Aside(aside));
    }
    let into = known.log.iter().position(|mark| mark.sources.contains(&origin))?;
    if known.log[into].origin() == origin {
        return Some(Thing::Mark(into));
    }
    let copy = copy.or_else(|| known.before_merge.iter().position(|mark| mark.origin() == origin))?;
    Some(Thing::Merged { copy, into })
}

/// A stop by its name, or an area by the name that it has as a stop, in season or not: `A3` is the third bait area.
fn by_stop_name(known: &Known<'_>, text: &str) -> Option<Thing> {
    let areas = &known.schools.areas;
    let stops = known.prefish.map_or(&[][..], |p| &p.problem.stops);
    if let Some(number) = stops.iter().position(|stop| stop.name.to_lowercase() == text) {
        return match stops[number].facts.area {
            Some(id) => areas.iter().position(|area| area.id == id).map(Thing::Area),
            None => Some(Thing::Stop(number)),
        };
    }
    let number: usize = text.strip_prefix('a')?.parse().ok()?;
    let bait = areas.iter().enumerate().filter(|(_, area)| area.kind == Kind::Bait);
    bait.map(|(i, _)| Thing::Area(i)).nth(number.checked_sub(1)?)
}

/// A record by `file#record` or `file:line`, as `sources` and findings name it.
fn by_record(known: &Known<'_>, text: &str) -> Option<Thing> {
    let (file, number, is_line) = match text.rsplit_once('#') {
        Some((file, number)) => (file, number, false),
        None => text.rsplit_once(':').map(|(file, number)| (file, number, true))?,
    };
    let number: u32 = number.parse().ok()?;
    let of_file = |origin: &Origin| {
        let export = known.exports.get(origin.file.0 as usize);
        let found = if is_line { origin.line } else { origin.record };
        found == number && export.is_some_and(|e| e.label == file || e.path.to_string_lossy() == file)
    };
    let kept = known.log.iter().flat_map(|mark| &mark.sources);
    let all = kept.chain(known.set_aside.iter().map(|aside| &aside.origin));
    let origin = all.copied().find(|origin| of_file(origin))?;
    of_record(known, origin, None)
}

/// Why a file of the run has no such record.
fn no_such_record(known: &Known<'_>, text: &str) -> Option<String> {
    let (file, _) = text.rsplit_once('#').or_else(|| text.rsplit_once(':'))?;
    let number = known.exports.iter().position(|e| e.label == file || e.path.to_string_lossy() == file)?;
    let kept = known.log.iter().flat_map(|mark| &mark.sources);
    let all = kept.chain(known.set_aside.iter().map(|aside| &aside.origin));
    let records = all.filter(|origin| origin.file.0 as usize == number).map(|origin| origin.record);
    Some(match records.max() {
        Some(last) => format!("the last record of `{file}` is `{file}#{last}`"),
        None => format!("`{file}` holds no record"),
    })
}

/// Why there is no stop `A3`.
fn no_such_stop(known: &Known<'_>, text: &str) -> Option<String> {
    let _: usize = text.strip_prefix('a')?.parse().ok()?;
    let areas = known.schools.areas.iter().filter(|area| area.kind == Kind::Bait).count();
    Some(format!("stops are called so by the holding areas of bait, and this log has `{areas}`"))
}

/// The ids that are fewest changes away from a text, of its class where there are such.
fn nearest(text: &str, ids: &[(String, Thing)]) -> Vec<String> {
    let of_class = |id: &str| id.chars().next() == text.chars().next();
    let mut found: Vec<(usize, &str)> = ids
        .iter()
        .map(|(id, _)| id.as_str())
        .filter(|id| id.len() <= WHOLE && of_class(id))
        .map(|id| (changes(text, id), id))
        .collect();
    found.sort_unstable();
    found.into_iter().take(NEAREST).map(|(_, id)| id.to_owned()).collect()
}

/// Insertions, deletions and changes of one character between two texts (Levenshtein distance); a text that is much
/// shorter is compared with the beginning of the other.
fn changes(text: &str, id: &str) -> usize {
    let id: Vec<char> = id.chars().take(text.chars().count().max(3) + 1).collect();
    let mut row: Vec<usize> = (0..=id.len()).collect();
    for (i, from) in text.chars().enumerate() {
        let mut diagonal = row[0];
        row[0] = i + 1;
        for (j, to) in id.iter().enumerate() {
            let changed = diagonal + usize::from(from != *to);
            diagonal = row[j + 1];
            row[j + 1] = changed.min(diagonal + 1).min(row[j] + 1);
        }
    }
    row[id.len()]
}
