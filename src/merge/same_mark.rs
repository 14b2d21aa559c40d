//! Which marks are the same: pairs of copies found by place and time, best first, one to one between files.

use super::Settings;
use super::cells::{Cell, MOST_NEIGHBOURS, Timed, neighbours};
use super::clusters::Clusters;
use super::names::{BareNames, first_letters, same_name};
use super::rounding::{decimals, micro_degrees, rounds_to_the_same, same_but_for_rounding};
use crate::terms::export::FileId;
use crate::terms::instant::Instant;
use crate::terms::lake::Lake;
use crate::terms::mark::{Kind, Mark, Words};
use crate::terms::place::Place;
use crate::terms::units::Depth;
use jiff::civil;
use rayon::prelude::*;
use std::collections::HashMap;

/// Clocks are set wrong by whole hours up to the width of the world's time zones (UTC-12 to UTC+14).
const MOST_HOURS: i64 = 14;
pub(super) const HOUR_MS: i64 = 3_600_000;
pub(super) const MINUTE_MS: i64 = 60_000;
/// 1024 weeks: the GPS week number has 10 bits (IS-GPS-200).
pub(super) const ROLLOVER_MS: i64 = 7168 * 24 * HOUR_MS;
/// So many marks of two files must prove a shift between their clocks before names may differ.
const PROOFS: usize = 5;
/// A mark that the user moved by hand, onto the pile that the sonar saw beside the boat, moved no farther than that (our
/// own choice).
const MOST_MOVED_M: f64 = 150.0;
/// Metres in a degree of latitude, where it has most (at the poles, WGS 84).
const METRES_PER_DEGREE: f64 = 111_694.0;

/// By which rule two records are the same mark; the earlier the surer. The numbers are those of `merge`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Rule {
    /// They say the very same.
    SameRecord,
    /// Rule 1, and their names agree or one is missing.
    TimeAndName,
    /// Rule 1, under two names.
    Time,
    /// Rule 2.
    ShiftedClock,
    /// Rule 3.
    WholeMinute,
    /// Rule 5.
    EditedTime,
    /// Rule 6.
    Moved,
    /// Rule 4.
    NoTime,
    /// Rule 2, under two names.
    ShiftedClockNewName,
}

impl Rule {
    /// In words, behind "the same mark, because".
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::SameRecord => "place, time and name are identical",
            Self::TimeAndName => "time and place agree, and no name gainsays it",
            Self::Time => "time and place agree; the name was changed",
            Self::ShiftedClock => {
                "name and place agree, and the clock is off by whole hours or a GPS week rollover"
            }
            Self::WholeMinute => "name and place agree, and one time is told to the minute only",
            Self::EditedTime => "name and place agree to six decimals; the time was edited",
            Self::Moved => "name and time agree; the place was edited",
            Self::NoTime => "name and place agree, and one record has no time",
            Self::ShiftedClockNewName => {
                "place agrees, and the clock is off by a shift that at least five marks of the two files prove"
            }
        }
    }
}

/// A pair of copies, sorted so that the surest comes first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
struct Pair {
    why: Rule,
    apart_ms: i64,
    apart_mm: i64,
    a: u32,
    b: u32,
}

/// Each mark with the first of the marks that are one with it, groups together and ascending. `marks` are records as
/// they were read, one source each, in content order, so that nothing depends on files.
pub(super) fn groups(marks: &[Mark], lake: &Lake, settings: &Settings) -> Vec<(u32, u32)> {
    groups_told(marks, lake, settings, |_, _, _| {})
}

/// The same, told which pairs united them and by which rule.
pub(super) fn groups_told(
    marks: &[Mark],
    lake: &Lake,
    settings: &Settings,
    mut told: impl FnMut(u32, u32, Rule),
) -> Vec<(u32, u32)> {
    let to_the_minute = to_the_minute(marks);
    let mut clusters = Clusters::new(marks, &to_the_minute);
    unite_doubles(marks, &mut clusters, |a, b| told(a, b, Rule::SameRecord));
    if marks.iter().all(|mark| mark.origin().file == marks[0].origin().file) {
        return clusters.into_members();
    }
    let grid = Grid::new(marks, &to_the_minute, lake, settings);
    let mut pairs = grid.dated_pairs();
    pairs.extend(grid.edited_pairs());
    let moved = grid.moved_pairs();
    pairs.extend(by_hand(moved, &pairs, marks));
    pairs.extend(grid.undated_pairs());
    pairs.par_sort_unstable();
    pairs.dedup();
    for pair in pairs {
        let slack_ms = matches!(pair.why, Rule::NoTime | Rule::WholeMinute).then(|| grid.slack_ms());
        if clusters.unite(pair.a, pair.b, slack_ms) {
            told(pair.a, pair.b, pair.why);
        }
    }
    clusters.into_members()
}

/// The pairs that a hand may have moved apart. Where most of what two files share lies apart, no hand did it, but an
/// offset between the units, which is told and taken out only where the user says so.
fn by_hand(moved: Vec<Pair>, at_place: &[Pair], marks: &[Mark]) -> Vec<Pair> {
    if moved.is_empty() {
        return moved;
    }
    let files = |pair: &Pair| {
        let [a, b] = [pair.a, pair.b].map(|mark| marks[mark as usize].origin().file);
        (a.min(b), a.max(b))
    };
    // More marks stay in their place than are moved.
    let mut stayed: HashMap<(FileId, FileId), i64> = HashMap::new();
    for pair in at_place.iter().filter(|pair| pair.why == Rule::TimeAndName) {
        *stayed.entry(files(pair)).or_default() += 1;
    }
    for pair in &moved {
        *stayed.entry(files(pair)).or_default() -= 1;
    }
    moved.into_iter().filter(|pair| stayed[&files(pair)] > 0).collect()
}

/// Each mark with the first of the marks that say the very same, groups together and ascending.
pub(super) fn doubles(marks: &[Mark]) -> Vec<(u32, u32)> {
    let to_the_minute = vec![ToTheMinute::No; marks.len()];
    let mut clusters = Clusters::new(marks, &to_the_minute);
    unite_doubles(marks, &mut clusters, |_, _| {});
    clusters.into_members()
}

/// Whether the times of a file stand on full minutes, so that each may be any second near it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum ToTheMinute {
    No,
    /// All do, but they are too few to prove it.
    Maybe,
    Yes,
}

/// How fine the file of each mark tells times.
fn to_the_minute(marks: &[Mark]) -> Vec<ToTheMinute> {
    const FEWEST: usize = 3; // by chance three seconds are all zero once in 216,000
    let mut files: HashMap<FileId, (bool, usize)> = HashMap::new();
    for mark in marks {
        if let Some(time) = mark.time {
            let (all, count) = files.entry(mark.origin().file).or_insert((true, 0));
            *all &= time.unix_ms() % MINUTE_MS == 0;
            *count += 1;
        }
    }
    let of_file = |mark: &Mark| match files.get(&mark.origin().file) {
        Some((true, count)) if *count >= FEWEST => ToTheMinute::Yes,
        Some((true, _)) => ToTheMinute::Maybe,
        _ => ToTheMinute::No,
    };
    marks.iter().map(of_file).collect()
}

/// Time, place to six decimals and name; where time or name is missing, all else that a mark says.
type Saying<'a> = (Option<Instant>, (i32, i32), &'a str, Option<Rest<'a>>);
type Rest<'a> = (&'a Words, &'a str, Option<civil::Date>, Kind, [Option<u64>; 3]);

fn saying(mark: &Mark) -> Saying<'_> {
    let depth = |depth: Option<Depth>| depth.map(|d| d.metres().to_bits());
    let rest = || {
        let temp = mark.water_temp.map(|t| t.celsius().to_bits());
        let numbers = [depth(mark.fish_depth), depth(mark.water_depth), temp];
        (&mark.words, &*mark.note, mark.day.map(|d| d.date), mark.kind, numbers)
    };
    let name = mark.words.name();
    let complete = mark.time.is_some() && !name.is_empty();
    (mark.time, micro_degrees(mark.place), name, (!complete).then(rest))
}

/// Unites marks that say the very same, whatever their files.
fn unite_doubles(marks: &[Mark], clusters: &mut Clusters<'_>, mut told: impl FnMut(u32, u32)) {
    let said = |number: &u32| saying(&marks[*number as usize]);
    // Marks of one time stand together in content order, and there are few of them but for the undated.
    let mut runs = Vec::new();
    let mut start = 0;
    for one_time in marks.chunk_by(|a, b| a.time == b.time) {
        let end = start + one_time.len() as u32;
        if one_time.len() > 1 {
            runs.push(start..end);
        }
        start = end;
    }
    let doubled: Vec<(u32, u32)> = runs
        .into_par_iter()
        .flat_map_iter(|run| {
            let mut order: Vec<u32> = run.collect();
            order.par_sort_unstable_by(|a, b| said(a).cmp(&said(b)).then_with(|| a.cmp(b)));
            let pairs = order.windows(2).filter(|pair| said(&pair[0]) == said(&pair[1]));
            pairs.map(|pair| (pair[0], pair[1])).collect::<Vec<_>>()
        })
        .collect();
    for (a, b) in doubled {
        clusters.unite_doubled(a, b);
        told(a, b);
    }
}

/// The marks in square cells at least as wide as `same_place`.
struct Grid<'a> {
    marks: &'a [Mark],
    /// Their names without case, spaces and signs.
    names: BareNames,
    /// How fine their file tells times.
    to_the_minute: &'a [ToTheMinute],
    settings: &'a Settings,
    cells: Vec<Cell>,
}

impl<'a> Grid<'a> {
    fn new(marks: &'a [Mark], to_the_minute: &'a [ToTheMinute], lake: &Lake, settings: &'a Settings) -> Self {
        let centre_lon = lake.plane.centre().lon;
        // The parallel farthest from the equator has the shortest degrees: cells are wide enough everywhere.
        let farthest = marks.iter().map(|m| m.place.lat.abs()).fold(0.0, f64::max);
        let cos_lat = farthest.to_radians().cos().max(1e-3);
        // A spherical metre may be 0.6 % short of the ellipsoid's; 1 % is let.
        let width_deg = settings.same_place.metres().max(0.1) * 1.01 / 110_574.0;
        // Degrees are counted from the middle of the lake, so that no lake is cut by the 180th meridian.
        let cell = |place: Place| {
            let east = ((place.lon - centre_lon + 540.0).rem_euclid(360.0) - 180.0) * cos_lat;
            ((east / width_deg).floor() as i32, (place.lat / width_deg).floor() as i32)
        };
        let cells = marks.iter().map(|m| cell(m.place)).collect();
        Self { marks, names: BareNames::of(marks), to_the_minute, settings, cells }
    }

    /// Metres between two marks at most a few cells apart (sphere; 0.6 % off at worst).
    fn metres(&self, a: usize, b: usize) -> f64 {
        let (p, q) = (self.marks[a].place, self.marks[b].place);
        let east = (p.lon - q.lon + 540.0).rem_euclid(360.0) - 180.0;
        let lat = f64::midpoint(p.lat, q.lat).to_radians();
        (east * lat.cos()).hypot(p.lat - q.lat) * METRES_PER_DEGREE
    }

    /// Pairs of dated marks whose times agree, or differ by whole hours.
    fn dated_pairs(&self) -> Vec<Pair> {
        // All shifts that a clock fault makes are whole hours: marks that meet stand together by the part of the hour.
        let mut timed: Vec<Timed> = self
            .marks
            .iter()
            .zip(&self.cells)
            .zip(0..)
            .filter_map(|((mark, cell), i)| Some((*cell, mark.time?.unix_ms().rem_euclid(HOUR_MS) as i32, i)))
            .collect();
        timed.par_sort_unstable();
        let slack_of = |i: u32| {
            let exact = self.to_the_minute[i as usize] == ToTheMinute::No;
            (if exact { self.slack_ms() } else { self.slack_ms().max(MINUTE_MS) }) as i32
        };
        let judge = |i: u32, j: u32| self.judge_dated(i as usize, j as usize);
        self.keep_proved_shifts(neighbours(&timed, slack_of, judge))
    }

    fn slack_ms(&self) -> i64 {
        (self.settings.same_time.seconds() * 1000.0).min(HOUR_MS as f64 / 4.0) as i64
    }

    fn judge_dated(&self, i: usize, j: usize) -> Option<Pair> {
        let (a, b) = (&self.marks[i], &self.marks[j]);
        if share_file(a, b) {
            return None;
        }
        let (shift, residue) = whole_hours(b.time?.unix_ms() - a.time?.unix_ms());
        let metres = self.metres(i, j);
        if metres > self.settings.same_place.metres() {
            return None;
        }
        let same_name = same_name(&self.names[i], &self.names[j]);
        let same_place = same_but_for_rounding(a.place, b.place);
        let coarsest = self.to_the_minute[i].max(self.to_the_minute[j]);
        let equal = residue.abs() <= self.slack_ms();
        if coarsest == ToTheMinute::Yes || (coarsest == ToTheMinute::Maybe && !equal) {
            let both = self.to_the_minute[i].min(self.to_the_minute[j]) == ToTheMinute::Yes;
            let one_minute = if both { equal } else { residue.abs() < MINUTE_MS };
            // Another name is let pass only at the very same place.
            let known = same_name || decimals(a.place).min(decimals(b.place)) >= 5;
            // Which second of the minute tells nothing: the nearest place comes first.
            let rank = i64::from(!same_name) + 2 * i64::from(!rounds_to_the_same(a.place, b.place));
            let fits = one_minute && known && same_place && is_clock_shift(shift);
            return fits.then(|| Self::pair(Rule::WholeMinute, rank, metres, i, j));
        }
        // A name that is missing gainsays nothing: at one second the nearest place comes first.
        let no_name = self.names[i].is_empty() || self.names[j].is_empty();
        let why = match (shift, same_name) {
            _ if !equal => return None,
            (0, _) if same_name || no_name => Rule::TimeAndName,
            (0, _) => Rule::Time,
            _ if !is_clock_shift(shift) || !same_place => return None,
            (_, true) => Rule::ShiftedClock,
            (_, false) => Rule::ShiftedClockNewName,
        };
        Some(Self::pair(why, residue.abs(), metres, i, j))
    }

    fn pair(why: Rule, apart_ms: i64, metres: f64, i: usize, j: usize) -> Pair {
        Pair {
            why,
            apart_ms,
            apart_mm: (metres * 1000.0).round() as i64,
            a: i.min(j) as u32,
            b: i.max(j) as u32,
        }
    }

    /// Drops pairs with new names whose files do not prove that shift by pairs with the same name.
    fn keep_proved_shifts(&self, pairs: Vec<Pair>) -> Vec<Pair> {
        let shift_of = |pair: &Pair| {
            let (a, b) = (&self.marks[pair.a as usize], &self.marks[pair.b as usize]);
            let ms = |m: &Mark| m.time.map_or(0, Instant::unix_ms);
            let (file_a, file_b) = (a.origin().file, b.origin().file);
            let hours = ((ms(b) - ms(a)) as f64 / HOUR_MS as f64).round() as i64;
            if file_a <= file_b { (file_a, file_b, hours) } else { (file_b, file_a, -hours) }
        };
        let mut proofs: HashMap<(FileId, FileId, i64), usize> = HashMap::new();
        for pair in pairs.iter().filter(|pair| pair.why == Rule::ShiftedClock) {
            *proofs.entry(shift_of(pair)).or_default() += 1;
        }
        pairs
            .into_iter()
            .filter(|pair| {
                pair.why != Rule::ShiftedClockNewName
                    || proofs.get(&shift_of(pair)).is_some_and(|count| *count >= PROOFS)
            })
            .collect()
    }

    /// Pairs with the same name and place whose time was edited.
    fn edited_pairs(&self) -> Vec<Pair> {
        let mut fine: Vec<((i32, i32), u32)> = (0..self.marks.len())
            .into_par_iter()
            .filter(|i| self.marks[*i].time.is_some() && !self.names[*i].is_empty())
            .filter(|i| decimals(self.marks[*i].place) >= 6)
            .map(|i| (micro_degrees(self.marks[i].place), i as u32))
            .collect();
        let letters = |i: u32| first_letters(&self.names[i as usize]);
        fine.par_sort_unstable_by(|a, b| {
            a.0.cmp(&b.0).then_with(|| letters(a.1).cmp(letters(b.1))).then_with(|| a.1.cmp(&b.1))
        });
        fine.chunk_by(|a, b| a.0 == b.0 && letters(a.1) == letters(b.1))
            .flat_map(|alike| {
                alike.iter().enumerate().flat_map(move |(at, (_, i))| {
                    let others = alike[at + 1..].iter().take(MOST_NEIGHBOURS);
                    others.filter_map(move |(_, j)| self.judge_named(*i as usize, *j as usize))
                })
            })
            .collect()
    }

    /// Pairs with the same name and second whose place was edited.
    fn moved_pairs(&self) -> Vec<Pair> {
        // Content order is the order of time, so who is within the slack stands next to each other.
        let exact = |i: usize| self.to_the_minute[i] == ToTheMinute::No && !self.names[i].is_empty();
        let ms = |i: usize| self.marks[i].time.map(Instant::unix_ms);
        (0..self.marks.len())
            .into_par_iter()
            .filter(|i| ms(*i).is_some() && exact(*i))
            .flat_map_iter(|i| {
                let near = move |j: &usize| ms(*j).zip(ms(i)).is_some_and(|(b, a)| b - a <= self.slack_ms());
                let later = (i + 1..self.marks.len()).take(MOST_NEIGHBOURS).take_while(near);
                later.filter(move |j| exact(*j)).filter_map(move |j| {
                    let metres = self.metres(i, j);
                    let moved = metres > self.settings.same_place.metres() && metres <= MOST_MOVED_M;
                    let same = moved
                        && self.names[i] == self.names[j]
                        && !share_file(&self.marks[i], &self.marks[j]);
                    let apart_ms = ms(j).zip(ms(i)).map_or(0, |(b, a)| b - a);
                    same.then(|| Self::pair(Rule::Moved, apart_ms, metres, i, j))
                })
            })
            .collect()
    }

    /// Pairs with the same name at the same place where a time is missing.
    fn undated_pairs(&self) -> Vec<Pair> {
        let undated: Vec<usize> = (0..self.marks.len())
            .filter(|i| self.marks[*i].time.is_none() && !self.names[*i].is_empty())
            .collect();
        if undated.is_empty() {
            return Vec::new();
        }
        // By place within a cell and name, so that the neighbours looked at are the nearest.
        let key = |i: usize, cell| -> Named<'_> {
            (cell, first_letters(&self.names[i]), micro_degrees(self.marks[i].place))
        };
        let mut named: Vec<(Named<'_>, usize)> = (0..self.marks.len())
            .filter(|i| !self.names[*i].is_empty())
            .map(|i| (key(i, self.cells[i]), i))
            .collect();
        named.par_sort_unstable();
        undated
            .into_par_iter()
            .flat_map_iter(|i| {
                around(self.cells[i])
                    .flat_map(|cell| {
                        let wanted = key(i, cell);
                        let at = named.partition_point(|(other, _)| *other < wanted);
                        let alike = move |(other, _): &&(Named<'_>, usize)| {
                            (other.0, other.1) == (wanted.0, wanted.1)
                        };
                        let before = named[..at].iter().rev().take(MOST_NEIGHBOURS).take_while(alike);
                        before.chain(named[at..].iter().take(MOST_NEIGHBOURS).take_while(alike))
                    })
                    .filter(|(_, j)| i != *j)
                    .filter_map(|(_, j)| self.judge_named(i, *j))
                    .collect::<Vec<_>>()
            })
            .collect()
    }

    fn judge_named(&self, i: usize, j: usize) -> Option<Pair> {
        let (a, b) = (&self.marks[i], &self.marks[j]);
        let metres = self.metres(i, j);
        if share_file(a, b)
            || !same_name(&self.names[i], &self.names[j])
            || metres > self.settings.same_place.metres()
            || !same_but_for_rounding(a.place, b.place)
        {
            return None;
        }
        if a.time.is_some() && b.time.is_some() {
            // Six decimals and more are never met twice by a boat; fewer are.
            let fine = decimals(a.place).min(decimals(b.place)) >= 6;
            let edited = fine && micro_degrees(a.place) == micro_degrees(b.place);
            return edited.then(|| Self::pair(Rule::EditedTime, 0, metres, i, j));
        }
        // Where both tell a day it must be the same, or a neighbour: zones may part them.
        let day = |m: &Mark| m.day.map(|day| day.date);
        if let (Some(day_a), Some(day_b)) = (day(a), day(b))
            && (day_b - day_a).get_days().abs() > 1
        {
            return None;
        }
        // A position that rounds to the other exactly comes before one that is a step off.
        let rank = i64::from(!rounds_to_the_same(a.place, b.place));
        Some(Self::pair(Rule::NoTime, rank, metres, i, j))
    }
}

/// A cell, the first letters of the name, and the place to six decimals.
type Named<'a> = (Cell, &'a str, (i32, i32));

/// A cell and the eight around it.
fn around((x, y): (i32, i32)) -> impl Iterator<Item = (i32, i32)> {
    (x - 1..=x + 1).flat_map(move |x| (y - 1..=y + 1).map(move |y| (x, y)))
}

/// The whole hours nearest to a length of time, and the rest.
pub(super) fn whole_hours(apart_ms: i64) -> (i64, i64) {
    let residue = (apart_ms + HOUR_MS / 2).rem_euclid(HOUR_MS) - HOUR_MS / 2;
    (apart_ms - residue, residue)
}

/// Whole hours up to the width of the time zones, with or without one to three week rollovers.
pub(super) fn is_clock_shift(shift_ms: i64) -> bool {
    let rollovers = (shift_ms as f64 / ROLLOVER_MS as f64).round() as i64;
    rollovers.abs() <= 3 && (shift_ms - rollovers * ROLLOVER_MS).abs() <= MOST_HOURS * HOUR_MS
}

fn share_file(a: &Mark, b: &Mark) -> bool {
    a.sources.iter().any(|s| b.sources.iter().any(|t| s.file == t.file))
}
