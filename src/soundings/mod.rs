//! soundings: track logs with depth in; the lake's bottom, its contours and how far to believe them out.
//!
//! Left out, counted and told: zeros, repeats of a lost bottom, spikes, jumps, points of days without a level, points
//! on land, track logs that stand in two exports.
//! Does not: guess far from every track, or draw where the tracks say too little about one another.
//!
//! Soundings are compared as elevation (level of the day minus depth), so that days of two pool levels meet; depths of
//! the bottom and of contours are those at full pool.

mod blocks;
mod cells;
mod clean;
mod contours;
mod crossings;
mod grid;
mod held_out;
mod offsets;
mod smooth;
mod surface;
mod telling;
mod wide;

pub use contours::Contour;
pub use crossings::Crossings;
pub use held_out::HeldOut;
pub use offsets::UnitOffset;
pub use surface::Bed;
pub use telling::fill_water_depths;

use crate::terms::export::Export;
use crate::terms::finding::Finding;
use crate::terms::lake::Lake;
use crate::terms::track_log::TrackLog;
use crate::terms::units::{Distance, METRES_PER_FOOT, Units};
use serde::{Deserialize, Deserializer, de};
use std::collections::BTreeMap;

/// `[soundings]`.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Settings {
    /// Side of the squares that soundings are thinned to and that contours are drawn on. Default 10 m: about the error of
    /// consumer GPS with its antenna away from the transducer; finer squares would draw that error.
    #[serde(deserialize_with = "some_cell")]
    pub cell: Distance,
    /// Farther than this from every sounding nothing is drawn. Default 75 m (judgement): at that distance a bank of
    /// one in ten may have come up by 25 ft unseen.
    #[serde(deserialize_with = "some_reach")]
    pub reach: Distance,
    /// Depth from one contour to the next; `None`: 5 ft in US units, 2 m in metric ones (judgement: several times the
    /// error of the soundings).
    #[serde(deserialize_with = "some_interval")]
    pub interval: Option<Distance>,
    /// Depths of the contours, in place of the interval; empty: by the interval.
    #[serde(deserialize_with = "some_contours")]
    pub contours: Vec<Distance>,
    /// A sounding that stands out less than this from those around it is no spike. Default 3 ft: lower than brush or
    /// fish that a sounder takes for the bottom, above the noise of a sounder (judgement).
    pub spike: Distance,
    /// Whether a constant difference between two units is taken out of their depths.
    pub unit_offsets: UnitOffsets,
    /// Depth of a unit's transducer below the surface, by the unit's label, added to its depths. Default none: many units
    /// hold that number themselves.
    pub transducer: BTreeMap<String, Distance>,
}

/// What is done about a constant difference between two units.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum UnitOffsets {
    /// It is taken out where the crossings leave no doubt of it, and told.
    #[default]
    Clear,
    /// It is told and left.
    Never,
}

impl Default for Settings {
    fn default() -> Self {
        Self {
            cell: Distance::from_metres(10.0),
            reach: Distance::from_metres(75.0),
            interval: None,
            contours: Vec::new(),
            spike: Distance::from_metres(3.0 * METRES_PER_FOOT),
            unit_offsets: UnitOffsets::Clear,
            transducer: BTreeMap::new(),
        }
    }
}

/// Contours nearer to one another than this in depth would touch on a steep bank when written.
const LEAST_INTERVAL_M: f64 = 0.1;

fn within<'de, D: Deserializer<'de>>(
    deserializer: D,
    [least, most]: [f64; 2],
    what: &str,
) -> Result<Distance, D::Error> {
    let distance = Distance::deserialize(deserializer)?;
    (least..=most).contains(&distance.metres()).then_some(distance).ok_or_else(|| {
        de::Error::custom(format!("`{} m` is no {what}: write {least} m to {most} m", distance.metres()))
    })
}

fn some_cell<'de, D: Deserializer<'de>>(deserializer: D) -> Result<Distance, D::Error> {
    within(deserializer, [2.0, 200.0], "side of a square")
}

fn some_reach<'de, D: Deserializer<'de>>(deserializer: D) -> Result<Distance, D::Error> {
    within(deserializer, [5.0, 2000.0], "reach")
}

fn some_interval<'de, D: Deserializer<'de>>(deserializer: D) -> Result<Option<Distance>, D::Error> {
    within(deserializer, [LEAST_INTERVAL_M, 500.0], "interval of contours").map(Some)
}

fn some_contours<'de, D: Deserializer<'de>>(deserializer: D) -> Result<Vec<Distance>, D::Error> {
    let mut depths = Vec::<Distance>::deserialize(deserializer)?;
    depths.sort_by(|a, b| a.metres().total_cmp(&b.metres()));
    let depth_m = |d: &Distance| d.metres();
    let near = depths.windows(2).any(|pair| depth_m(&pair[1]) - depth_m(&pair[0]) < LEAST_INTERVAL_M);
    if near || depths.iter().any(|d| depth_m(d) < LEAST_INTERVAL_M) {
        return Err(de::Error::custom("depths of contours lie 0.1 m or more apart, and below the surface"));
    }
    Ok(depths)
}

impl Settings {
    /// The depths of contours down to the deepest, in metres.
    fn depths_m(&self, units: Units, deepest_m: f64) -> Vec<f64> {
        if !self.contours.is_empty() {
            return self.contours.iter().map(|d| d.metres()).collect();
        }
        let usual_m = match units {
            Units::Us => 5.0 * METRES_PER_FOOT,
            Units::Metric => 2.0,
        };
        let step_m = self.interval.map_or(usual_m, Distance::metres);
        let steps = (deepest_m / step_m).ceil().max(1.0) as u32;
        (1..steps).map(|n| f64::from(n) * step_m).collect()
    }
}

/// What depths of the bottom are counted from.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub enum Surface {
    /// The surface of whatever day was sounded: no levels are given.
    #[default]
    OfTheDay,
    /// Full pool, at this level in metres.
    FullPool(f64),
    /// The highest of the levels given, in metres: full pool is not given.
    Highest(f64),
}

impl Surface {
    /// What depths are counted from on a lake.
    #[must_use]
    pub fn of(lake: &Lake) -> Self {
        let highest = lake.levels_m.values().copied().reduce(f64::max);
        match (highest, lake.full_pool_m) {
            (Some(_), Some(full_m)) => Self::FullPool(full_m),
            (Some(highest_m), None) => Self::Highest(highest_m),
            (None, _) => Self::OfTheDay,
        }
    }

    /// Its level in metres; `None`: no levels are given.
    #[must_use]
    pub const fn level_m(self) -> Option<f64> {
        match self {
            Self::OfTheDay => None,
            Self::FullPool(level_m) | Self::Highest(level_m) => Some(level_m),
        }
    }
}

/// How many soundings there were, and what became of them.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Tally {
    /// Points of track logs with a depth.
    pub points: u64,
    /// Zero, below zero or deeper than any lake: the bottom was not found.
    pub zeros: u64,
    /// The last depth over and over while the boat moved on.
    pub repeats: u64,
    /// Single soundings that stand out.
    pub spikes: u64,
    /// Stretches that jump away and back.
    pub jumps: u64,
    /// Of a day without a level, or undated, where levels are given.
    pub no_level: u64,
    /// On land.
    pub ashore: u64,
    /// In track logs that stand in another export as well.
    pub copies: u64,
    /// What the bottom is made from.
    pub kept: u64,
}

impl Tally {
    fn add(&mut self, other: &Self) {
        self.points += other.points;
        self.zeros += other.zeros;
        self.repeats += other.repeats;
        self.spikes += other.spikes;
        self.jumps += other.jumps;
        self.no_level += other.no_level;
        self.ashore += other.ashore;
        self.copies += other.copies;
        self.kept += other.kept;
    }
}

/// The bottom of the lake.
#[derive(Debug, Default)]
pub struct Bottom {
    /// What became of the soundings.
    pub tally: Tally,
    /// What depths are counted from.
    pub surface: Surface,
    /// Squares with soundings that the bottom is made from.
    pub thinned: usize,
    /// Differences between units.
    pub offsets: Vec<UnitOffset>,
    /// Differences where tracks cross; `None`: none cross.
    pub crossings: Option<Crossings>,
    /// The error at tracks left out in turn; `None`: there is one track only.
    pub held_out: Option<HeldOut>,
    /// The bottom; `None`: refused, and a finding says why.
    pub bed: Option<Bed>,
    /// Water within reach of a sounding, in square metres.
    pub drawn_m2: f64,
    /// The deepest of it in metres.
    pub deepest_m: f64,
    /// Contours by depth, then from south-west to north-east of where they begin.
    pub contours: Vec<Contour>,
    /// What is told.
    pub findings: Vec<Finding>,
}

/// Fewer squares with soundings draw no bottom worth a look (judgement: a kilometre of track in squares of 10 m).
const FEWEST_CELLS: usize = 100;
/// Fewer held-out places say nothing of the error.
const FEWEST_HELD_OUT: usize = 30;

/// Draws the bottom from the depths of the track logs.
///
/// # Example
/// ```
/// use shoalwright::soundings::{Settings, soundings};
/// use shoalwright::terms::{lake::Lake, place::Place};
/// let lake = Lake::unknown_at(Place { lon: -56.0, lat: 36.0 });
/// let bottom = soundings(&[], &[], &lake, &Settings::default());
/// assert!(bottom.bed.is_none() && bottom.contours.is_empty());
/// ```
#[must_use]
pub fn soundings(track_logs: &[TrackLog], exports: &[Export], lake: &Lake, settings: &Settings) -> Bottom {
    let surface = Surface::of(lake);
    let mut bottom = Bottom { surface, ..Bottom::default() };
    let mut sounded = blocks::blocks(track_logs, exports, lake, settings, surface);
    bottom.tally = sounded.tally;
    if bottom.tally.points == 0 {
        telling::tell_nothing(track_logs, &mut bottom);
        return bottom;
    }
    let met = crossings::meetings(&sounded, settings.cell.metres());
    bottom.offsets = offsets::offsets(&sounded, &met, settings);
    offsets::apply(&mut sounded, &bottom.offsets);
    bottom.crossings = crossings::crossings(&sounded, &met, &bottom.offsets);

    let cell_m = grid::cell_m(&sounded, settings);
    let cells = cells::Cells::new(&sounded, lake, cell_m);
    bottom.tally.ashore = cells.ashore;
    bottom.tally.kept -= cells.ashore;
    bottom.thinned = cells.len();
    if cells.len() < FEWEST_CELLS {
        telling::tell_thin(&mut bottom, cell_m);
        telling::tell(&mut bottom, lake, settings, cell_m);
        return bottom;
    }
    let shore = surface::shore(lake, &cells, settings.reach.metres());
    let reach_m = settings.reach.metres();
    let (held_out, bed) = rayon::join(
        || held_out::held_out(&cells, &shore, reach_m, lake),
        || Bed::new(&wide::widened(&cells, &cells.vertices()), &shore, reach_m),
    );
    bottom.held_out = held_out;
    let spread_m = cells.spread_m();
    let unfounded =
        bottom.held_out.as_ref().is_some_and(|h| h.places >= FEWEST_HELD_OUT && h.rmse_m >= spread_m);
    if unfounded {
        telling::tell_unfounded(&mut bottom, lake, spread_m);
    } else if let Some(bed) = bed {
        let grid = grid::Grid::new(&bed, lake, cell_m);
        bottom.drawn_m2 = grid.drawn_m2();
        bottom.deepest_m = grid.deepest_m();
        let depths_m = settings.depths_m(lake.units, bottom.deepest_m);
        bottom.contours = contours::contours(&grid, lake, &depths_m);
        bottom.bed = Some(bed);
    } else {
        telling::tell_thin(&mut bottom, cell_m);
    }
    telling::tell(&mut bottom, lake, settings, cell_m);
    bottom
}
