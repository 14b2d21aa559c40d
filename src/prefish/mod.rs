//! prefish: places to check and the practice days in, a plan for each day out.
//!
//! Worth of a plan: the expected number of different schools met, `Σ 1 − Π(1 − p)` over groups of stops on one
//! school. Never planned: a day past its end, beyond its fuel, a stop outside its hours.
//! Sets aside: must-stops that do not fit, told with the reason. Does not: know wind, weather, rules or the bottom.

mod bound;
mod calendar;
mod candidates;
mod fuel;
mod instance;
mod model;
mod near_hazards;
mod own_stops;
mod pool;
mod proof;
mod ramps;
mod result;
mod route;
mod search;
mod settings;
mod solution;
mod stage;
mod timetable;
mod words;

pub use calendar::{Window, clock_text};
pub use candidates::{chances, radius_m, seasons_near};
pub use model::{Day, Effort, Problem, Ramp, Search, Stop, StopFacts, TravelTable, Want};
pub use result::{Alternate, DayPlan, Fuel, LATE_MINUTES, LateCard, Leg, Plan, Proof, Unfit, Visit, Why};

pub use fuel::FuelLeft;
pub use near_hazards::NearHazard;
pub use own_stops::{OwnStop, read_stops};
pub use settings::{Settings, Spot, read_clock, read_date};
pub use stage::{OnWater, Prefish, PrefishError, Way, Wish, node_name, prefish};
pub use words::{leave_rule, look_for, plan_text};

use bound::Bound;
use instance::{HAIR, Instance};
use proof::Verdict;
use solution::Solution;
use std::cmp::Ordering;

/// A gap wider than this says nothing of use.
const WIDEST_GAP: f64 = 0.25;

/// Plans the practice days: as many must-stops as fit, then the most worth, then the least time under way.
///
/// The same problem gives the same plan on every machine and with any number of threads.
#[must_use]
pub fn plan(problem: &Problem) -> Plan {
    let instance = Instance::of(problem);
    let mut best = search::search(&instance, problem.seed, problem.effort.rounds);
    let left_out: Vec<usize> = (0..instance.stops)
        .filter(|stop| instance.want[*stop] == Want::Must && best.day_of[*stop].is_none())
        .collect();
    let unfit = left_out.iter().map(|stop| Unfit { stop: *stop, why: why_unfit(&instance, *stop) }).collect();
    // What is known of better plans is about plans without them.
    let mut without = Instance::of(problem);
    for stop in &left_out {
        without.want[*stop] = Want::Never;
    }
    let proof = prove(problem, &without, &mut best);
    Plan {
        days: (0..problem.days.len())
            .map(|day| timetable::day_plan(problem, &instance, &best, day))
            .collect(),
        value: best.value(),
        proof,
        unfit,
    }
}

/// What is known of plans better than `best`; a better one found on the way takes its place.
fn prove(problem: &Problem, instance: &Instance, best: &mut Solution) -> Proof {
    let Some(bound) = Bound::of(instance, best.value()) else { return Proof::Nothing };
    let known = best.value();
    if bound.value <= known + 1e-7 {
        return Proof::Best;
    }
    match proof::prove(instance, &bound, known, problem.effort.labels) {
        Verdict::Searched(better) => {
            if let Some(mut better) = better
                && better.standing(instance).compare(best.standing(instance)) == Ordering::Greater
            {
                better.fill_minutes(instance);
                *best = better;
            }
            Proof::Best
        }
        Verdict::GaveUp => {
            let gap = (bound.value - known) / known;
            if gap <= WIDEST_GAP { Proof::Gap(gap) } else { Proof::Nothing }
        }
    }
}

/// Why a must-stop is left out: what goes wrong on the day it goes least wrong on, the stop planned alone.
fn why_unfit(instance: &Instance, stop: usize) -> Why {
    let search_s = instance.search_s(stop, 0);
    let mut why = Why::NoWay;
    for day in &instance.days {
        let there_s = day.travel.seconds(day.start, stop);
        let back_s = day.travel.seconds(stop, day.finish);
        if !(there_s + back_s).is_finite() {
            continue;
        }
        let begin_s = there_s.max(day.open_s[stop]);
        let metres = day.travel.metres(day.start, stop) + day.travel.metres(stop, day.finish);
        let in_time =
            begin_s <= day.close_s[stop] + HAIR && begin_s + search_s + back_s <= day.length_s + HAIR;
        if in_time && metres <= day.range_m + HAIR {
            return Why::Others;
        }
        if in_time {
            why = Why::Fuel;
        } else if why == Why::NoWay {
            why = Why::Time;
        }
    }
    why
}
