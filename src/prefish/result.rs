//! What a plan says: for each day the stops in order with their times, what to do when late, and how good it is.

use crate::terms::instant::Instant;

/// A plan for the practice days.
#[derive(Clone, Debug, PartialEq)]
pub struct Plan {
    /// One for each day of the problem, in order; a day may have no stop.
    pub days: Vec<DayPlan>,
    /// Expected number of different schools met.
    pub value: f64,
    /// What is known of better plans.
    pub proof: Proof,
    /// Must-stops that the plan leaves out.
    pub unfit: Vec<Unfit>,
}

/// One day.
#[derive(Clone, Debug, PartialEq)]
pub struct DayPlan {
    /// The stops in order.
    pub visits: Vec<Visit>,
    /// The runs: to the first stop, between stops, and home. Without stops: from start to finish.
    pub legs: Vec<Leg>,
    /// Back at the finish ramp.
    pub back: Instant,
    /// Seconds between that and the latest time.
    pub slack_s: f64,
    /// Metres run in all.
    pub run_m: f64,
    /// Fuel.
    pub fuel: Fuel,
    /// What is left when the start is late: one card for each of `LATE_MINUTES`.
    pub late: Vec<LateCard>,
}

/// How late the late cards are, in minutes.
pub const LATE_MINUTES: [u32; 2] = [30, 60];

/// One stop of a day.
#[derive(Clone, Debug, PartialEq)]
pub struct Visit {
    /// The stop, as a place in `Problem::stops`.
    pub stop: usize,
    /// The boat is there.
    pub arrive: Instant,
    /// The search begins: later than `arrive` only where the stop opens later.
    pub begin: Instant,
    /// The boat leaves.
    pub depart: Instant,
    /// Minutes of search.
    pub search_min: f64,
    /// Chance of meeting the school in that time.
    pub chance: f64,
    /// Leave by then, or the rest of the plan is late.
    pub leave_by: Instant,
    /// From here the finish ramp is reached in time only when the boat turns for it by then.
    pub turn_back: Instant,
    /// Seconds between leaving as planned and `turn_back`: what is at hand when everything after is dropped.
    pub slack_to_ramp_s: f64,
    /// Minutes without a sign of fish after which the plan says to leave.
    pub leave_after_min: u32,
    /// Other stops, not in the plan of this day, within ten minutes of running: nearest first.
    pub alternates: Vec<Alternate>,
}

/// A stop near at hand.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Alternate {
    /// The stop, as a place in `Problem::stops`.
    pub stop: usize,
    /// Seconds of running.
    pub seconds: f64,
}

/// A run between two nodes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Leg {
    /// Node it starts at, as in `Problem`.
    pub from: usize,
    /// Node it ends at.
    pub to: usize,
    /// The boat leaves.
    pub leave: Instant,
    /// The boat is there.
    pub arrive: Instant,
    /// Metres run.
    pub metres: f64,
    /// Leave by then, or the finish ramp is reached late.
    pub leave_by: Instant,
}

/// Fuel of one day, as metres of running.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Fuel {
    /// What the fuel allows on this day.
    pub range_m: f64,
    /// What is left of it at the end.
    pub left_m: f64,
    /// The stop or leg end farthest from the finish ramp, in metres of running back to it.
    pub farthest_m: f64,
    /// Whether that lies farther than a third of what is aboard.
    pub far: bool,
}

/// What is left of a day when the start is late.
#[derive(Clone, Debug, PartialEq)]
pub struct LateCard {
    /// Minutes late.
    pub minutes: u32,
    /// Stops dropped, first dropped first, as places in `Problem::stops`.
    pub dropped: Vec<usize>,
    /// Stops kept, in order, with when the search begins and how many minutes it lasts.
    pub kept: Vec<(usize, Instant, f64)>,
    /// Back at the finish ramp; `None`: even straight home is too late.
    pub back: Option<Instant>,
}

/// What is known of better plans.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Proof {
    /// No plan is worth more: all were searched.
    Best,
    /// No plan is worth more than this share above ours.
    Gap(f64),
    /// Nothing of use is known.
    Nothing,
}

/// A must-stop left out, and why.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Unfit {
    /// The stop, as a place in `Problem::stops`.
    pub stop: usize,
    /// Why.
    pub why: Why,
}

impl Why {
    /// In words, for sheet and finding.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::NoWay => "no way through open water leads there and back",
            Self::Time => "even alone it brings the boat back late, or its hours cannot be met",
            Self::Fuel => "even alone it takes more fuel than the day has",
            Self::Others => "it fits alone, but not beside the other must-stops",
        }
    }
}

/// Why a must-stop is left out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Why {
    /// No way through water leads there and back.
    NoWay,
    /// Alone it would bring the boat back late, or its hours cannot be met, on every day.
    Time,
    /// Alone it takes more fuel than a day has.
    Fuel,
    /// It fits alone, but not beside the other must-stops that are kept.
    Others,
}
