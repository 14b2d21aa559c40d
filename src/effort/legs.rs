//! The way of the boat as straight legs, each with what the boat was doing on it.

use super::Settings;
use crate::terms::instant::Instant;
use crate::terms::lake::{Lake, LocalDates};
use crate::terms::place::{Place, PlanePoint};
use crate::terms::track_log::{TrackLog, TrackPoint};
use jiff::civil::Date;

/// What the boat was doing.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Pace {
    /// Slow enough to look.
    Searching,
    /// Under way to somewhere else.
    Running,
}

/// One straight piece of an outing.
#[derive(Clone, Copy, Debug)]
pub(super) struct Leg {
    pub(super) date: Date,
    pub(super) from: PlanePoint,
    pub(super) to: PlanePoint,
    pub(super) pace: Pace,
}

/// Legs, and what was left out on the way.
#[derive(Clone, Debug, Default)]
pub(super) struct Legs {
    pub(super) list: Vec<Leg>,
    /// Breaks in reception or recording, between which the way is unknown.
    pub(super) gaps: u64,
    /// Steps that no boat makes.
    pub(super) jumps: u64,
    /// Points without a time, which tell no speed.
    pub(super) untimed: u64,
}

/// Points nearer than this to the last one kept are passed over: they hold the jitter of a boat at rest.
const STEP_M: f64 = 10.0;
/// Slower than this over a step is a boat at rest that GPS moves about: it looks over no new water (judgement).
const STILL_M_S: f64 = 0.15;
/// Faster than this (80 mph) is a fix gone wrong or a truck on the road (judgement; fast fishing boats make 70).
const JUMP_M_S: f64 = 36.0;
/// A silence this long is a gap, or ten times the usual step where a unit logs sparsely (judgement).
const GAP_S: f64 = 180.0;
const GAP_STEPS: f64 = 10.0;
/// A gap over which the boat hardly moved hides no way.
const GAP_M: f64 = 50.0;

/// Cuts one track log into legs.
pub(super) fn legs(log: &TrackLog, lake: &Lake, settings: &Settings) -> Legs {
    let mut legs = Legs::default();
    let mut days = LocalDates::default();
    for segment in &log.segments {
        let longest_s = gap_s(segment);
        // The last point kept, and the last point seen, with its time in milliseconds.
        let mut kept: Option<(Place, PlanePoint, i64, Date)> = None;
        let mut last: Option<(Place, i64)> = None;
        for TrackPoint { place, time, .. } in segment {
            let Some(ms) = time.map(Instant::unix_ms) else {
                legs.untimed += 1;
                continue;
            };
            let seconds = last.map_or(0.0, |(_, before)| (ms - before) as f64 / 1000.0);
            let broken = seconds < 0.0 || seconds > longest_s;
            if broken && last.is_some_and(|(at, _)| at.roughly_metres_to(*place) > GAP_M) {
                legs.gaps += 1;
            }
            last = Some((*place, ms));
            let start = kept.filter(|_| !broken);
            if let Some((at, ..)) = start
                && at.roughly_metres_to(*place) < STEP_M
            {
                continue;
            }
            let Some(date) = days.date_of(ms, lake) else { continue };
            let point = lake.to_plane(*place);
            if let Some((_, from, begun, day)) = start.filter(|(.., day)| *day == date) {
                let (metres, took_s) = (from.metres_to(point), (ms - begun) as f64 / 1000.0);
                // Two fixes of one second lie as far apart as they like: no speed, so no leg.
                if metres > JUMP_M_S * took_s {
                    legs.jumps += 1;
                    // The next step starts from here; if this fix was the wrong one, that step is a jump too.
                } else if metres > STILL_M_S * took_s {
                    let looking = metres <= settings.max_speed.metres_per_second() * took_s;
                    let pace = if looking { Pace::Searching } else { Pace::Running };
                    legs.list.push(Leg { date: day, from, to: point, pace });
                }
            }
            kept = Some((*place, point, ms, date));
        }
    }
    legs
}

/// Seconds between two points from which the way between them is unknown.
fn gap_s(segment: &[TrackPoint]) -> f64 {
    let mut times = segment.iter().filter_map(|p| p.time).map(Instant::unix_ms);
    let mut last = times.next();
    let mut steps: Vec<i64> = times
        .map(|ms| {
            let step = ms - last.unwrap_or(ms);
            last = Some(ms);
            step
        })
        .collect();
    if steps.is_empty() {
        return GAP_S;
    }
    let middle = steps.len() / 2;
    let (_, median, _) = steps.select_nth_unstable(middle);
    GAP_S.max(GAP_STEPS * *median as f64 / 1000.0)
}
