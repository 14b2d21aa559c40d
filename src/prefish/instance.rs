//! The problem as plain numbers, the same for search, bound and proof: seconds from each day's launch.

use crate::prefish::model::{Problem, Search, TravelTable, Want};

/// Slack in seconds and metres within which two sums of legs count as equal: sums differ in their last bits with
/// the order of adding.
pub(super) const HAIR: f64 = 1e-6;

/// The numbers of a problem.
pub(super) struct Instance<'a> {
    /// How many stops.
    pub(super) stops: usize,
    pub(super) days: Vec<DayNumbers<'a>>,
    /// By stop.
    pub(super) searches: Vec<SearchNumbers>,
    pub(super) want: Vec<Want>,
    /// Group of each stop; a stop without one is a group of its own.
    pub(super) group_of: Vec<usize>,
    /// Members of each group, ascending.
    pub(super) groups: Vec<Vec<usize>>,
    /// Most stops on one day.
    pub(super) max_stops: usize,
    /// Whether any stop lets the plan choose its minutes.
    pub(super) chosen: bool,
    /// Worth of all stops at their most minutes.
    pub(super) worth_of_all: f64,
}

/// One day.
pub(super) struct DayNumbers<'a> {
    pub(super) start: usize,
    pub(super) finish: usize,
    /// Seconds from launch to off the water.
    pub(super) length_s: f64,
    pub(super) range_m: f64,
    pub(super) travel: &'a TravelTable,
    /// Earliest begin by stop, in seconds from launch.
    pub(super) open_s: Vec<f64>,
    /// Latest begin by stop.
    pub(super) close_s: Vec<f64>,
}

/// How long a stop may be searched and what that is worth.
pub(super) struct SearchNumbers {
    /// Seconds at the least step.
    least_s: f64,
    /// Chance at each step of a minute above the least; one entry: the length is fixed.
    pub(super) chance: Vec<f64>,
}

impl SearchNumbers {
    fn of(search: &Search) -> Self {
        match *search {
            Search::Fixed { seconds, chance } => Self { least_s: seconds, chance: vec![chance] },
            Search::Chosen { q, rate_per_min, least_min, most_min } => Self {
                least_s: 60.0 * f64::from(least_min),
                chance: (least_min..=most_min.max(least_min))
                    .map(|minutes| q * -(-rate_per_min * f64::from(minutes)).exp_m1())
                    .collect(),
            },
        }
    }

    /// Seconds at a step.
    pub(super) fn seconds(&self, step: usize) -> f64 {
        self.least_s + 60.0 * step as f64
    }

    /// The last step.
    pub(super) const fn last(&self) -> usize {
        self.chance.len() - 1
    }
}

impl<'a> Instance<'a> {
    pub(super) fn of(problem: &'a Problem) -> Self {
        let searches: Vec<_> = problem.stops.iter().map(|stop| SearchNumbers::of(&stop.search)).collect();
        let mut groups: Vec<Vec<usize>> = Vec::new();
        let mut names: Vec<Option<u32>> = Vec::new();
        let group_of = problem
            .stops
            .iter()
            .enumerate()
            .map(|(stop, s)| {
                let known = s.group.and_then(|g| names.iter().position(|name| *name == Some(g)));
                let group = known.unwrap_or(groups.len());
                if group == groups.len() {
                    groups.push(Vec::new());
                    names.push(s.group);
                }
                groups[group].push(stop);
                group
            })
            .collect();
        Self {
            stops: problem.stops.len(),
            days: (0..problem.days.len()).map(|day| DayNumbers::of(problem, day)).collect(),
            want: problem.stops.iter().map(|stop| stop.want).collect(),
            chosen: searches.iter().any(|s| s.last() > 0),
            worth_of_all: searches.iter().map(|s| s.chance[s.last()]).sum(),
            max_stops: problem.max_stops,
            searches,
            group_of,
            groups,
        }
    }

    /// Seconds of search of a stop at a step.
    pub(super) fn search_s(&self, stop: usize, step: usize) -> f64 {
        self.searches[stop].seconds(step)
    }

    /// Chance of a stop at a step.
    pub(super) fn chance(&self, stop: usize, step: usize) -> f64 {
        self.searches[stop].chance[step]
    }
}

impl<'a> DayNumbers<'a> {
    fn of(problem: &'a Problem, number: usize) -> Self {
        let day = &problem.days[number];
        let window = |end: usize, otherwise: f64| {
            problem
                .stops
                .iter()
                .map(|stop| stop.windows.get(number).map_or(otherwise, |w| w[end].seconds_since(day.launch)))
                .collect()
        };
        Self {
            start: problem.ramp_node(day.start),
            finish: problem.ramp_node(day.finish),
            length_s: day.off_water.seconds_since(day.launch),
            range_m: day.range_m,
            travel: &problem.travel[day.travel],
            open_s: window(0, 0.0),
            close_s: window(1, f64::INFINITY),
        }
    }
}
