//! effort: track logs in, the water that was looked over by cell and outing out.
//!
//! Left out, counted and told: gaps, jumps, boats at rest, points without a time, ways on land (garage, road) and,
//! where no shoreline was given, ways far from every mark.
//! Does not: judge what was seen; a cell with effort and no sighting is a place looked at and found empty.

mod grid;
mod legs;
mod sweep;

pub use grid::Cell;

use crate::terms::finding::{Code, Finding};
use crate::terms::lake::Lake;
use crate::terms::mark::{LocalDay, Mark};
use crate::terms::place::PlanePoint;
use crate::terms::track_log::TrackLog;
use crate::terms::units::{Distance, METRES_PER_FOOT, METRES_PER_MILE, Speed};
use jiff::civil::Date;
use legs::{Leg, Legs, Pace, legs};
use rayon::prelude::*;
use serde::{Deserialize, Deserializer, de};
use std::collections::{BTreeMap, BTreeSet, HashMap};
use sweep::Sweep;

/// `[effort]`.
#[derive(Clone, Copy, Debug, PartialEq, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Settings {
    /// Full width looked over, both sides. Default 120 ft: a narrow picture; a school counts when touched, so even a
    /// beam looking down is some 70 ft wide, and a picture to both sides some 200 ft (arithmetic on common settings).
    #[serde(deserialize_with = "some_width")]
    pub swath: Distance,
    /// Faster than this the boat was running, not looking. Default 9 mph (common practice, no source).
    pub max_speed: Speed,
    /// What water seen at running speed counts against water searched, 0 to 1. Default 0.25: between 0 and 0.3 in
    /// practice; the pairing test takes the same.
    #[serde(deserialize_with = "share")]
    pub running_weight: f64,
}

impl Default for Settings {
    fn default() -> Self {
        Self {
            swath: Distance::from_metres(120.0 * METRES_PER_FOOT),
            max_speed: Speed::from_metres_per_second(9.0 * METRES_PER_MILE / 3600.0),
            running_weight: 0.25,
        }
    }
}

fn share<'de, D: Deserializer<'de>>(deserializer: D) -> Result<f64, D::Error> {
    let share = f64::deserialize(deserializer)?;
    (0.0..=1.0)
        .contains(&share)
        .then_some(share)
        .ok_or_else(|| de::Error::custom(format!("`{share}` is no weight: write a number from 0 to 1")))
}

/// A swath of nothing would make every chance nothing, and one wider than a lake arm everything.
fn some_width<'de, D: Deserializer<'de>>(deserializer: D) -> Result<Distance, D::Error> {
    let width = Distance::deserialize(deserializer)?;
    (1.0..=500.0).contains(&width.metres()).then_some(width).ok_or_else(|| {
        de::Error::custom(format!("`{} m` is no swath: write a width from 1 m to 500 m", width.metres()))
    })
}

/// Water looked over, by outing and cell.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Effort {
    /// Side of a cell in metres; 0 when there is no effort.
    pub cell_m: f64,
    /// Outings with effort, in order of date.
    pub outings: Vec<OutingEffort>,
    /// What is told about the track logs as a whole.
    pub findings: Vec<Finding>,
}

/// Water looked over on one outing.
#[derive(Clone, Debug, PartialEq)]
pub struct OutingEffort {
    /// The outing day.
    pub day: LocalDay,
    /// Cells looked at, in their order, each once, with the area looked over in square metres: searched, and seen at
    /// running speed by its weight.
    pub cells: Vec<(Cell, f64)>,
}

/// All effort in one cell.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CellEffort {
    /// The cell.
    pub cell: Cell,
    /// Area looked over in square metres; an outing counts each part of the cell once.
    pub area_m2: f64,
    /// Outings that looked at it.
    pub outings: usize,
}

impl Effort {
    /// Effort by cell, in their order.
    #[must_use]
    pub fn by_cell(&self) -> Vec<CellEffort> {
        let mut sums: BTreeMap<Cell, (f64, usize)> = BTreeMap::new();
        for (cell, area_m2) in self.outings.iter().flat_map(|o| &o.cells) {
            let sum = sums.entry(*cell).or_default();
            *sum = (sum.0 + area_m2, sum.1 + 1);
        }
        sums.into_iter().map(|(cell, (area_m2, outings))| CellEffort { cell, area_m2, outings }).collect()
    }

    /// Effort on an outing; `None`: no track log tells of that date.
    #[must_use]
    pub fn on(&self, date: Date) -> Option<&OutingEffort> {
        self.outings.binary_search_by_key(&date, |o| o.day.date).ok().map(|i| &self.outings[i])
    }
}

/// A way is by the water when the middle of its cell lies in water or this near to the shore: GPS, a coarse shoreline
/// and a low pool (judgement).
const SHORE_M: f64 = 60.0;
/// Without a shoreline, ways farther than this from every mark are taken for the road (judgement).
const FAR_KM: i32 = 5;

/// Works out where was looked. `marks` only tell, where there is no shoreline, which ways are far from everything.
#[must_use]
pub fn effort(
    track_logs: &[TrackLog],
    marks: &[Mark],
    lake: &Lake,
    settings: &Settings,
    cell_m: f64,
) -> Effort {
    let cut: Vec<Legs> = track_logs.par_iter().map(|log| legs(log, lake, settings)).collect();
    let mut by_date: BTreeMap<Date, Vec<Leg>> = BTreeMap::new();
    let mut told = Told::default();
    for legs in cut {
        told.gaps += legs.gaps;
        told.jumps += legs.jumps;
        told.untimed += legs.untimed;
        for leg in legs.list {
            by_date.entry(leg.date).or_default().push(leg);
        }
    }
    let afloat = Afloat::new(lake, marks);
    let swept: Vec<(OutingEffort, Told)> = by_date
        .into_par_iter()
        .map(|(date, legs)| outing(lake.day(date), &legs, &afloat, settings, cell_m))
        .collect();
    let mut outings = Vec::with_capacity(swept.len());
    for (outing, of_outing) in swept {
        told.add(&of_outing);
        if !outing.cells.is_empty() {
            outings.push(outing);
        }
    }
    let finding = (!track_logs.is_empty()).then(|| told.finding(outings.len(), lake));
    Effort { cell_m, outings, findings: finding.into_iter().collect() }
}

fn outing(
    day: LocalDay,
    legs: &[Leg],
    afloat: &Afloat,
    settings: &Settings,
    cell_m: f64,
) -> (OutingEffort, Told) {
    let mut told = Told::default();
    let mut sweep = Sweep::default();
    let mut known: HashMap<Cell, bool> = HashMap::new();
    for leg in legs {
        // In whole decimetres, so that the order of the legs does not matter to the sum.
        let length_dm = (leg.from.metres_to(leg.to) * 10.0).round() as u64;
        let middle = PlanePoint {
            east_m: f64::midpoint(leg.from.east_m, leg.to.east_m),
            north_m: f64::midpoint(leg.from.north_m, leg.to.north_m),
        };
        let cell = Cell::at(middle, cell_m);
        if !*known.entry(cell).or_insert_with(|| afloat.holds(cell.middle(cell_m), cell_m)) {
            told.ashore_dm += length_dm;
            continue;
        }
        match leg.pace {
            Pace::Searching => told.searched_dm += length_dm,
            Pace::Running => told.run_dm += length_dm,
        }
        sweep.add(leg, settings.swath.metres(), cell_m);
    }
    let cells = sweep
        .swept(cell_m)
        .into_iter()
        .map(|s| (s.cell, s.searched_m2 + settings.running_weight * s.run_m2))
        .filter(|(_, area_m2)| *area_m2 > 0.0)
        .collect();
    (OutingEffort { day, cells }, told)
}

/// What tells water from land.
struct Afloat<'a> {
    lake: &'a Lake,
    /// Squares of a kilometre with a mark in them.
    marked: BTreeSet<Cell>,
}

impl<'a> Afloat<'a> {
    fn new(lake: &'a Lake, marks: &[Mark]) -> Self {
        let marked = if lake.water.is_some() {
            BTreeSet::new()
        } else {
            marks.iter().map(|m| Cell::at(lake.to_plane(m.place), 1000.0)).collect()
        };
        Self { lake, marked }
    }

    fn holds(&self, point: PlanePoint, cell_m: f64) -> bool {
        let Some(water) = &self.lake.water else {
            let at = Cell::at(point, 1000.0);
            // Without a mark there is nothing to be far from.
            return self.marked.is_empty()
                || (-FAR_KM..=FAR_KM).any(|rows| {
                    let first = Cell { row: at.row + rows, column: at.column - FAR_KM };
                    let last = Cell { row: at.row + rows, column: at.column + FAR_KM };
                    self.marked.range(first..=last).next().is_some()
                });
        };
        let place = self.lake.plane.to_place(point);
        water.contains(place)
            || water.metres_to_shore(place) <= SHORE_M + cell_m * std::f64::consts::FRAC_1_SQRT_2
    }
}

/// What is told of the ways, in decimetres, and of what was left out.
#[derive(Clone, Copy, Debug, Default)]
struct Told {
    searched_dm: u64,
    run_dm: u64,
    ashore_dm: u64,
    gaps: u64,
    jumps: u64,
    untimed: u64,
}

impl Told {
    fn add(&mut self, other: &Self) {
        self.searched_dm += other.searched_dm;
        self.run_dm += other.run_dm;
        self.ashore_dm += other.ashore_dm;
    }

    fn finding(&self, outings: usize, lake: &Lake) -> Finding {
        let unit = lake.units.long_length();
        let way = |dm: u64| format!("`{:.1} {unit}`", lake.units.long_from_metres(dm as f64 / 10.0));
        let ashore = if lake.water.is_some() { "on land" } else { "far from every mark" };
        Finding::new(
            Code::EffortLooked,
            format!(
                "track logs of `{outings}` outings: {} searched, {} run",
                way(self.searched_dm),
                way(self.run_dm)
            ),
        )
        .done(format!(
            "left out: {} {ashore}, `{}` gaps, `{}` jumps, `{}` points without a time",
            way(self.ashore_dm),
            self.gaps,
            self.jumps,
            self.untimed
        ))
    }
}
