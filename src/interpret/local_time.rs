//! Local time written as UTC: GPX times are UTC (GPX 1.1 schema), but some units write the clock on their screen.
//!
//! Mended for whole years of a file, and only on evidence: the boat's own track logs or those of other units, copies
//! of the marks in other units' files, or marks in the dead of night that would all lie in daylight. Where the zone
//! stands at UTC (London in winter, Reykjavik always) both readings are one: such marks prove nothing and need nothing.

use super::Draft;
use super::device::Devices;
use super::tally::Tally;
use crate::terms::export::FileId;
use crate::terms::finding::Code;
use crate::terms::instant::Instant;
use crate::terms::lake::Lake;
use crate::terms::place::Place;
use crate::terms::sun::{CIVIL_DEG, sun_position};
use crate::terms::track_log::TrackLog;
use jiff::tz::TimeZone;
use std::collections::{BTreeMap, BTreeSet};

/// As many marks of a file and year are asked; more would not change the answer.
const SAMPLE: usize = 400;
/// Fewer marks that agree prove nothing.
const FEWEST: usize = 5;
/// The sun alone is asked only with this many marks on this many days.
const SUN_FEWEST: usize = 20;
const SUN_DAYS: usize = 3;
/// Astronomical night: nobody waits for dawn that long before it.
const DEAD_OF_NIGHT_DEG: f64 = -18.0;

/// The moment that a clock means which wrote the lake's local time as if it were UTC.
pub(super) fn read_as_local(told: Instant, zone: &TimeZone) -> Option<Instant> {
    let civil = TimeZone::UTC.to_datetime(told.timestamp()?);
    Some(zone.to_ambiguous_timestamp(civil).compatible().ok()?.into())
}

/// Where something was when, to be asked by place and time: cells of about `cell_m`, sorted.
struct Whereabouts {
    cells: Vec<(i32, i32, i64, u32)>,
    lon_step: f64,
    lat_step: f64,
    slack_ms: i64,
}

impl Whereabouts {
    /// Collects `(place, time, unit)`.
    fn new(
        cell_m: f64,
        slack_ms: i64,
        lake: &Lake,
        seen: impl Iterator<Item = (Place, Instant, u32)>,
    ) -> Self {
        let lat_step = cell_m / 111_000.0; // metres in a degree of latitude, rounded down
        let lon_step = lat_step / lake.plane.centre().lat.to_radians().cos().max(0.01);
        let mut whereabouts = Self { cells: Vec::new(), lon_step, lat_step, slack_ms };
        let cells: Vec<_> = seen
            .map(|(place, time, unit)| {
                let (x, y) = whereabouts.cell(place);
                (x, y, time.unix_ms(), unit)
            })
            .collect();
        whereabouts.cells = cells;
        whereabouts.cells.sort_unstable();
        whereabouts
    }

    fn cell(&self, place: Place) -> (i32, i32) {
        ((place.lon / self.lon_step).floor() as i32, (place.lat / self.lat_step).floor() as i32)
    }

    /// Whether a unit that `wanted` accepts was in this cell or the eight around it at that time.
    fn met(&self, place: Place, time: Instant, wanted: impl Fn(u32) -> bool) -> bool {
        let (x, y) = self.cell(place);
        let (from, to) = (time.unix_ms() - self.slack_ms, time.unix_ms() + self.slack_ms);
        (x - 1..=x + 1).any(|x| {
            (y - 1..=y + 1).any(|y| {
                let start = self.cells.partition_point(|cell| *cell < (x, y, from, 0));
                self.cells[start..]
                    .iter()
                    .take_while(|cell| (cell.0, cell.1) == (x, y) && cell.2 <= to)
                    .any(|cell| wanted(cell.3))
            })
        })
    }
}

/// What speaks for and against local time in the marks of one file and year, of those whose two readings differ.
#[derive(Clone, Copy, Debug, Default)]
struct Evidence {
    marks: usize,
    days: usize,
    /// Marks that lie on a track log of the same unit when told as UTC, and when read as local.
    own_track: [usize; 2],
    /// The same for track logs of other units.
    other_track: [usize; 2],
    /// Marks that have a copy in another unit's file at that moment.
    copies: [usize; 2],
    night: [usize; 2],
    dead_of_night: [usize; 2],
}

impl Evidence {
    /// `Some(true)`: local time; `Some(false)`: UTC as it should be; `None`: nothing tells.
    fn verdict(self) -> Option<bool> {
        let n = self.marks;
        let many = |count: usize| count >= FEWEST && count * 5 >= n;
        let prefers = |[told, local]: [usize; 2]| many(local) && local >= 3 * told;
        // Copies of a faulty export at the told time say nothing: they may carry the same fault.
        let witnessed = many(self.copies[1]) || prefers(self.other_track) || prefers(self.own_track);
        let darker = self.night[1] * 10 > self.night[0] * 10 + 2 * n;
        let told_right = many(self.other_track[0]) && self.other_track[0] >= 3 * self.other_track[1];
        let by_sun = n >= SUN_FEWEST
            && self.days >= SUN_DAYS
            && self.dead_of_night[0] * 5 >= n
            && self.dead_of_night[1] * 100 <= n;
        if told_right && !many(self.copies[1]) {
            return Some(false);
        }
        if darker {
            return if many(self.copies[0]) { Some(false) } else { None };
        }
        (witnessed || by_sun).then_some(true)
    }
}

/// Reads the times of a file again in the lake's zone where it wrote local time as UTC, with its track logs when
/// they run on the same clock.
pub(super) fn repair(
    drafts: &mut [Draft],
    track_logs: &mut [TrackLog],
    units: &Devices,
    lake: &Lake,
    tally: &mut Tally,
) {
    // A zone that stands at UTC all year, whatever its name: nothing to tell and nothing to mend.
    let same = |told: Instant| read_as_local(told, &lake.time_zone).is_none_or(|local| local == told);
    if drafts.iter().filter_map(Draft::time).all(same) {
        return;
    }
    let tracks = Whereabouts::new(
        110.0,
        300_000,
        lake,
        track_logs.iter().flat_map(|log| {
            let unit = units.of(log.origin.file);
            log.segments.iter().flatten().filter_map(move |p| Some((p.place, p.time?, unit)))
        }),
    );
    let marks = Whereabouts::new(
        11.0,
        2000,
        lake,
        drafts.iter().filter_map(|d| Some((d.place(), d.time()?, units.of(d.file())))),
    );

    let mut years: BTreeMap<(FileId, i64), Vec<usize>> = BTreeMap::new();
    for (i, draft) in drafts.iter().enumerate() {
        // A time without an offset was read in the lake's zone already.
        if let Some(time) = draft.time().filter(|_| !draft.repairs.contains(Code::ClockNoZone)) {
            years.entry((draft.file(), year_of(time))).or_default().push(i);
        }
    }
    let mut verdicts: BTreeMap<FileId, Vec<(i64, Option<bool>, bool)>> = BTreeMap::new();
    for ((file, year), members) in &years {
        let evidence = gather(members, drafts, units.of(*file), &tracks, &marks, lake);
        let same_clock = evidence.own_track[0] >= evidence.own_track[1];
        verdicts.entry(*file).or_default().push((*year, evidence.verdict(), same_clock));
    }
    let faulty: BTreeMap<FileId, BTreeMap<i64, bool>> =
        verdicts.into_iter().map(|(file, years)| (file, faulty_years(&years))).collect();

    for draft in drafts.iter_mut() {
        let Some(told) = draft.time().filter(|_| !draft.repairs.contains(Code::ClockNoZone)) else {
            continue;
        };
        if !faulty.get(&draft.file()).is_some_and(|years| years.contains_key(&year_of(told))) {
            continue;
        }
        if let Some(right) = read_as_local(told, &lake.time_zone).filter(|right| *right != told) {
            draft.set_time(right);
            draft.repairs.insert(Code::ClockLocalAsUtc);
            tally.count_with(Code::ClockLocalAsUtc, draft.raw.origin, || {
                format!("{} -> {}", told.rfc3339(), right.rfc3339())
            });
        }
    }
    // A file that holds track logs only goes with the marks of its unit.
    let mut by_unit: BTreeMap<u32, BTreeSet<i64>> = BTreeMap::new();
    for (file, years) in &faulty {
        let shared = years.iter().filter(|(_, same_clock)| **same_clock).map(|(year, _)| *year);
        by_unit.entry(units.of(*file)).or_default().extend(shared);
    }
    for log in track_logs.iter_mut().filter(|log| !log.local_times) {
        let file = log.origin.file;
        let years: BTreeSet<i64> = match faulty.get(&file) {
            Some(years) => years.iter().filter(|(_, same)| **same).map(|(year, _)| *year).collect(),
            None => by_unit.get(&units.of(file)).cloned().unwrap_or_default(),
        };
        for point in log.segments.iter_mut().flatten() {
            if let Some(time) = point.time.filter(|time| years.contains(&year_of(*time))) {
                point.time = read_as_local(time, &lake.time_zone);
            }
        }
    }
}

/// Calendar year of a moment in UTC.
fn year_of(time: Instant) -> i64 {
    time.timestamp().map_or(0, |t| i64::from(TimeZone::UTC.to_datetime(t).year()))
}

/// Years of a file to be mended, each with whether its track logs run on the same clock. Years without evidence go
/// with the file when all years with evidence say the same.
fn faulty_years(years: &[(i64, Option<bool>, bool)]) -> BTreeMap<i64, bool> {
    let any_right = years.iter().any(|(_, verdict, _)| *verdict == Some(false));
    let any_faulty = years.iter().any(|(_, verdict, _)| *verdict == Some(true));
    years
        .iter()
        .filter(|(_, verdict, _)| verdict.unwrap_or(any_faulty && !any_right))
        .map(|(year, _, same_clock)| (*year, *same_clock))
        .collect()
}

fn gather(
    members: &[usize],
    drafts: &[Draft],
    unit: u32,
    tracks: &Whereabouts,
    marks: &Whereabouts,
    lake: &Lake,
) -> Evidence {
    let mut evidence = Evidence::default();
    let mut days = BTreeSet::new();
    let two_readings: Vec<(&Draft, Instant, Instant)> = members
        .iter()
        .filter_map(|i| {
            let told = drafts[*i].time()?;
            Some((&drafts[*i], told, read_as_local(told, &lake.time_zone)?))
        })
        .filter(|(_, told, local)| told != local)
        .collect();
    for (draft, told, local) in
        two_readings.iter().step_by(two_readings.len().div_ceil(SAMPLE).max(1)).copied()
    {
        evidence.marks += 1;
        days.insert(told.unix_ms().div_euclid(86_400_000));
        for (reading, time) in [told, local].into_iter().enumerate() {
            let hit = |met: bool| usize::from(met);
            evidence.own_track[reading] += hit(tracks.met(draft.place(), time, |u| u == unit));
            evidence.other_track[reading] += hit(tracks.met(draft.place(), time, |u| u != unit));
            evidence.copies[reading] += hit(marks.met(draft.place(), time, |u| u != unit));
            let Some(sun) = sun_position(draft.place(), time) else { continue };
            evidence.night[reading] += hit(sun.elevation_deg < CIVIL_DEG);
            evidence.dead_of_night[reading] += hit(sun.elevation_deg < DEAD_OF_NIGHT_DEG);
        }
    }
    evidence.days = days.len();
    evidence
}
