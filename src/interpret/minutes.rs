//! Clocks wrong by minutes: marks that lie where the boat was some minutes earlier or later.
//!
//! Satellites tell a track log its time; a mark from a phone, a camera or a unit whose clock was set by hand may be
//! minutes off. Each day of a file votes for the shift that puts its marks on the track logs of other files, and the file
//! is mended where its days agree.

use super::Draft;
use super::tally::Tally;
use crate::terms::export::FileId;
use crate::terms::finding::Code;
use crate::terms::instant::Instant;
use crate::terms::lake::Lake;
use crate::terms::place::PlanePoint;
use crate::terms::track_log::TrackLog;
use rayon::slice::ParallelSliceMut;
use std::collections::{BTreeMap, BTreeSet};

/// A clock that nobody has set for long is off by minutes; whole hours are another fault (`local_time`).
const MOST_MIN: i64 = 90;
/// A mark lies on the track where the boat was in its cell of this width or in one beside it: two consumer positions are
/// good to some 7 m each.
const CELL_M: f64 = 15.0;
/// So many marks of a day must vote, and so many days agree to `SAME_MIN`.
const FEWEST_MARKS: usize = 4;
const FEWEST_DAYS: usize = 2;
const SAME_MIN: i64 = 3;
/// Of the marks of a day this share lies on the track at the shift found; at no shift, and at any other that is more than
/// `APART_MIN` away, not more than that.
const ON_TRACK: f64 = 0.8;
const ELSEWHERE: f64 = 0.5;
const APART_MIN: i64 = 5;
/// Days of a file, and marks of a day, that are asked, taken evenly.
const SAMPLE: usize = 60;
const MINUTE_MS: i64 = 60_000;
const DAY_MS: i64 = 86_400_000;

/// Where boats were: column and row of the cell, milliseconds, file.
type Seen = (i32, i32, i64, FileId);

/// Where the track logs passed, by cell and in order of time within it.
struct Tracks(Vec<Seen>);

impl Tracks {
    fn new(track_logs: &[TrackLog], lake: &Lake) -> Self {
        let mut seen: Vec<Seen> = Vec::new();
        for log in track_logs {
            for segment in &log.segments {
                let mut last = None;
                for point in segment {
                    let Some(time) = point.time else { continue };
                    let ((column, row), ms) = (cell(lake.to_plane(point.place)), time.unix_ms());
                    // One point a cell and half minute tells all that a vote in minutes asks.
                    let now = Some((column, row, ms.div_euclid(MINUTE_MS / 2)));
                    if now != last {
                        seen.push((column, row, ms, log.origin.file));
                        last = now;
                    }
                }
            }
        }
        seen.par_sort_unstable();
        Self(seen)
    }

    /// The shifts in minutes that put a mark on a track of a file that `wanted` accepts.
    fn shifts(&self, at: PlanePoint, ms: i64, wanted: impl Fn(FileId) -> bool) -> BTreeSet<i64> {
        let (column, row) = cell(at);
        let reach_ms = (MOST_MIN + APART_MIN) * MINUTE_MS;
        let mut shifts = BTreeSet::new();
        for (x, y) in (column - 1..=column + 1).flat_map(|x| (row - 1..=row + 1).map(move |y| (x, y))) {
            let start = self.0.partition_point(|seen| (seen.0, seen.1, seen.2) < (x, y, ms - reach_ms));
            let near = self.0[start..]
                .iter()
                .take_while(|seen| (seen.0, seen.1) == (x, y) && seen.2 <= ms + reach_ms);
            for (_, _, time, _) in near.filter(|seen| wanted(seen.3)) {
                shifts.insert((time - ms + MINUTE_MS / 2).div_euclid(MINUTE_MS));
            }
        }
        shifts
    }
}

fn cell(at: PlanePoint) -> (i32, i32) {
    ((at.east_m / CELL_M).floor() as i32, (at.north_m / CELL_M).floor() as i32)
}

/// Shifts the times of files whose clock was off by the same minutes on several days.
pub(super) fn repair(drafts: &mut [Draft], track_logs: &[TrackLog], lake: &Lake, tally: &mut Tally) {
    let of_tracks: BTreeSet<FileId> = track_logs.iter().map(|log| log.origin.file).collect();
    // A file by itself has nothing to be measured against.
    let alone = |file: FileId| of_tracks.iter().all(|other| *other == file);
    if drafts.iter().all(|draft| alone(draft.file())) {
        return;
    }
    let tracks = Tracks::new(track_logs, lake);
    let mut days: BTreeMap<FileId, BTreeMap<i64, Vec<usize>>> = BTreeMap::new();
    for (i, draft) in drafts.iter().enumerate() {
        if let Some(time) = draft.time() {
            let day = time.unix_ms().div_euclid(DAY_MS);
            days.entry(draft.file()).or_default().entry(day).or_default().push(i);
        }
    }
    for (file, days) in days {
        let every = days.len().div_ceil(SAMPLE).max(1);
        let mut shifts: Vec<i64> = days
            .values()
            .step_by(every)
            .filter_map(|marks| shift_of_day(marks, drafts, file, &tracks, lake))
            .collect();
        shifts.sort_unstable();
        let Some(middle) = shifts.get(shifts.len() / 2).copied() else { continue };
        let agreeing = shifts.iter().filter(|shift| (*shift - middle).abs() <= SAME_MIN).count();
        // A day that votes for no shift gainsays: the clock was right then, and which days it was not nobody knows.
        if middle == 0 || agreeing < FEWEST_DAYS || agreeing < shifts.len() {
            continue;
        }
        for i in days.into_values().flatten() {
            let Some(told) = drafts[i].time() else { continue };
            let right = Instant::from_unix_ms(told.unix_ms() + middle * MINUTE_MS);
            drafts[i].set_time(right);
            drafts[i].repairs.insert(Code::ClockMinutes);
            tally.count_with(Code::ClockMinutes, drafts[i].raw.origin, || {
                format!("{} -> {} ({middle:+} min, {agreeing} days)", told.rfc3339(), right.rfc3339())
            });
        }
    }
}

/// The shift in minutes that a day's marks vote for; 0 where they lie on a track as they are. `None`: nothing tells.
fn shift_of_day(
    marks: &[usize],
    drafts: &[Draft],
    file: FileId,
    tracks: &Tracks,
    lake: &Lake,
) -> Option<i64> {
    let marks: Vec<usize> = marks.iter().copied().step_by(marks.len().div_ceil(SAMPLE).max(1)).collect();
    let mut own = 0;
    let mut votes: BTreeMap<i64, usize> = BTreeMap::new();
    for i in &marks {
        let (at, ms) = (lake.to_plane(drafts[*i].place()), drafts[*i].time()?.unix_ms());
        // The file's own track log runs on the same clock.
        own += usize::from(tracks.shifts(at, ms, |f| f == file).iter().any(|shift| shift.abs() <= 1));
        // The boat is near a place for a minute or two: a vote counts for the minutes beside it.
        let shifts = tracks.shifts(at, ms, |f| f != file);
        let wide: BTreeSet<i64> = shifts.iter().flat_map(|shift| shift - 1..=shift + 1).collect();
        for shift in wide {
            *votes.entry(shift).or_default() += 1;
        }
    }
    let count = marks.len();
    let share = |votes: usize| votes as f64 / count as f64;
    let (best, most) = votes.iter().max_by_key(|(shift, votes)| (**votes, -shift.abs(), **shift))?;
    if count < FEWEST_MARKS || share(*most) < ON_TRACK {
        return None;
    }
    let as_told =
        votes.iter().filter(|(shift, _)| shift.abs() <= 1).map(|(_, votes)| *votes).max().unwrap_or(0);
    if share(as_told.max(own)) > ELSEWHERE {
        return (share(as_told.max(own)) >= ON_TRACK).then_some(0);
    }
    // The best minute stands in the middle of the minutes that are as good.
    let as_good: Vec<i64> =
        votes.iter().filter(|(_, votes)| *votes == most).map(|(shift, _)| *shift).collect();
    let (first, last) = (*as_good.first()?, *as_good.last()?);
    let rival =
        votes.iter().any(|(shift, votes)| (shift - best).abs() > APART_MIN && share(*votes) > ELSEWHERE);
    (last - first <= 2 * APART_MIN && !rival && best.abs() <= MOST_MIN).then_some(i64::midpoint(first, last))
}
