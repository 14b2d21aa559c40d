//! What a pre-fish plan is made for: practice days, places to check, and what it costs to run between them.

use crate::terms::id::Id;
use crate::terms::instant::Instant;
use crate::terms::place::Place;
use crate::terms::units::{Depth, WaterTemp};
use jiff::civil::Date;

/// One question: which places to check on which day, in what order and for how long.
///
/// Nodes of the travel tables: the stops in their order, then the ramps in theirs.
#[derive(Clone, Debug, PartialEq)]
pub struct Problem {
    /// The practice days, in order; at least one.
    pub days: Vec<Day>,
    /// Places that may be checked.
    pub stops: Vec<Stop>,
    /// Ramps, and the boat's own place when a day is planned anew on the water.
    pub ramps: Vec<Ramp>,
    /// Time and distance between nodes. A day names its own, because zones may be closed on one day only.
    pub travel: Vec<TravelTable>,
    /// Most stops on one day.
    pub max_stops: usize,
    /// Starts the search; the same seed gives the same plan.
    pub seed: u64,
    /// How long the search goes on.
    pub effort: Effort,
}

/// How long the search goes on, in rounds and never in seconds, so that a plan does not hang on the machine.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Effort {
    /// Rounds of removing and inserting of each of the four searches.
    pub rounds: usize,
    /// Most partial routes that the proof looks at; 0: no proof is tried.
    pub labels: usize,
}

impl Default for Effort {
    /// Set so that 100 stops take less than 3 seconds on two slow cores.
    fn default() -> Self {
        Self { rounds: 1_500, labels: 150_000 }
    }
}

/// One practice day.
#[derive(Clone, Debug, PartialEq)]
pub struct Day {
    /// The local date.
    pub date: Date,
    /// The boat leaves the start ramp.
    pub launch: Instant,
    /// The boat is back at the finish ramp, at the latest.
    pub off_water: Instant,
    /// Where it starts, as a place in `Problem::ramps`.
    pub start: usize,
    /// Where it ends, as a place in `Problem::ramps`.
    pub finish: usize,
    /// Metres of running that the fuel aboard gives; infinite: not known.
    pub aboard_m: f64,
    /// Metres of running that the plan may use of it; infinite: not limited.
    pub range_m: f64,
    /// The travel table of this day, as a place in `Problem::travel`.
    pub travel: usize,
}

/// A ramp, a dock, or the boat's own place.
#[derive(Clone, Debug, PartialEq)]
pub struct Ramp {
    /// What the sheet calls it.
    pub name: String,
    /// Where it is.
    pub place: Place,
}

/// Whether a stop is wanted.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Want {
    /// As far as it pays.
    #[default]
    May,
    /// In any case.
    Must,
    /// In no case: it lies on closed water, or was checked already.
    Never,
}

/// How long a stop is searched, and the chance of meeting its school.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Search {
    /// The user says how long, and what it is worth.
    Fixed {
        /// Length of the search in seconds.
        seconds: f64,
        /// Chance of meeting the school. Any worth from 0 up serves for a stop without a group.
        chance: f64,
    },
    /// The plan chooses whole minutes: chance `q (1 − e^(−r t))` after `t` minutes (random search, Koopman 1946).
    Chosen {
        /// Chance that the school is there on that day.
        q: f64,
        /// Share of the place looked over in a minute: swath times speed over area.
        rate_per_min: f64,
        /// Least whole minutes.
        least_min: u16,
        /// Most whole minutes.
        most_min: u16,
    },
}

/// A place that may be checked.
#[derive(Clone, Debug, PartialEq)]
pub struct Stop {
    /// Stable name.
    pub id: Id,
    /// What the sheet calls it; unique among the stops.
    pub name: String,
    /// Where it is.
    pub place: Place,
    /// Length and worth of the search.
    pub search: Search,
    /// Whether it is wanted.
    pub want: Want,
    /// Stops of one group look for the same school: it counts once, `1 − Π(1 − p)`.
    pub group: Option<u32>,
    /// Earliest and latest begin of the search on each day; empty: at any time. A day on which the stop is closed
    /// has a window that ends before it begins.
    pub windows: Vec<[Instant; 2]>,
    /// What is known of the place.
    pub facts: StopFacts,
}

/// What is known of a place, for the sheet.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct StopFacts {
    /// The holding area it stands for; `None`: the user's own stop.
    pub area: Option<Id>,
    /// Sightings behind it.
    pub sightings: usize,
    /// Seasons behind it.
    pub seasons: usize,
    /// Least and greatest fish depth to expect.
    pub fish_depth: Option<[Depth; 2]>,
    /// Median depth of the bottom.
    pub water_depth: Option<Depth>,
    /// Least and greatest surface temperature of its sightings.
    pub water_temp: Option<[WaterTemp; 2]>,
    /// Radius of the place to look over in metres; `None`: not known.
    pub radius_m: Option<f64>,
}

/// Shortest time and its distance between each two nodes.
#[derive(Clone, Debug, PartialEq)]
pub struct TravelTable {
    nodes: usize,
    seconds: Vec<f64>,
    metres: Vec<f64>,
}

impl TravelTable {
    /// Row after row; infinite seconds: there is no way. `None` when the lengths are not `nodes` squared, or a
    /// number is negative or none.
    #[must_use]
    pub fn new(nodes: usize, seconds: Vec<f64>, metres: Vec<f64>) -> Option<Self> {
        let sound = |row: &[f64]| row.len() == nodes * nodes && row.iter().all(|x| *x >= 0.0);
        (sound(&seconds) && sound(&metres)).then_some(Self { nodes, seconds, metres })
    }

    /// How many nodes.
    #[must_use]
    pub const fn nodes(&self) -> usize {
        self.nodes
    }

    /// Seconds from one node to another; infinite: there is no way.
    #[must_use]
    pub fn seconds(&self, from: usize, to: usize) -> f64 {
        self.seconds[from * self.nodes + to]
    }

    /// Metres run from one node to another.
    #[must_use]
    pub fn metres(&self, from: usize, to: usize) -> f64 {
        self.metres[from * self.nodes + to]
    }
}

impl Problem {
    /// The node of a ramp in the travel tables.
    #[must_use]
    pub fn ramp_node(&self, ramp: usize) -> usize {
        self.stops.len() + ramp
    }
}
