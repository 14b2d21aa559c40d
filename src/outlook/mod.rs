//! outlook: sightings, effort and movement in, how likely bait is to be met on a date out.
//!
//! Sets aside: nothing; sightings far from all that the track logs of their day looked over count for places and ranks,
//! not for rates, and are told.
//! Does not: plan a route (that is `prefish`), or say anything of water that nobody came near.
//! Without track logs it ranks places by where marks of all kinds were dropped, and tells no rates.

mod backtest;
mod chance;
mod date;
mod evidence;
mod guesses;
mod places;
mod rates;
mod review;
mod telling;
mod water_cells;

pub use backtest::{Backtest, Gain, Reliability, SeasonSkill, Skill, TOP_SHARES, verdict};
pub use chance::{SEARCH_S, Search};
pub use date::{Basis, Chance, Otherwise, Outlook, OutlookCell, outlook, outlook_by};
pub use guesses::Guess;
pub use places::OutlookPlace;
pub use review::{OutingReview, ReviewedSighting, RunningScore};

use crate::effort::{self, Cell, Effort, OutingEffort};
use crate::movement::{self, Clock};
use crate::schools::Sighting;
use crate::terms::lake::Lake;
use crate::terms::mark::{Kind, LocalDay, Mark};
use crate::terms::units::{Distance, WaterTemp};
use evidence::{Look, looks};
use jiff::civil::Date;
use serde::{Deserialize, Deserializer, de};
use std::collections::BTreeMap;
use water_cells::WaterCells;

/// `[outlook]`.
#[derive(Clone, Copy, Debug, PartialEq, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Settings {
    /// The date to look out to; `None`: `run` makes no outlook.
    #[serde(deserialize_with = "date")]
    pub date: Option<Date>,
    /// Water temperature expected on that date.
    #[serde(deserialize_with = "water_temp")]
    pub water_temp: Option<WaterTemp>,
    /// Side of a cell. Default 100 m: finer than a school's scatter, coarser than the error of a fix.
    #[serde(deserialize_with = "cell")]
    pub cell: Distance,
}

impl Default for Settings {
    fn default() -> Self {
        Self { date: None, water_temp: None, cell: Distance::from_metres(100.0) }
    }
}

/// A TOML date, or text like `2027-01-09`.
fn date<'de, D: Deserializer<'de>>(deserializer: D) -> Result<Option<Date>, D::Error> {
    let value = toml::Value::deserialize(deserializer)?;
    let text = match &value {
        toml::Value::String(text) => text.clone(),
        other => other.to_string(),
    };
    text.trim()
        .parse()
        .map(Some)
        .map_err(|_| de::Error::custom(format!("`{text}` is no date: write it like 2027-01-09")))
}

fn water_temp<'de, D: Deserializer<'de>>(deserializer: D) -> Result<Option<WaterTemp>, D::Error> {
    let text = String::deserialize(deserializer)?;
    let number = |unit: char| text.trim().strip_suffix(unit).and_then(|n| n.trim().parse::<f64>().ok());
    number('F')
        .and_then(WaterTemp::from_fahrenheit)
        .or_else(|| number('C').and_then(WaterTemp::from_celsius))
        .map(Some)
        .ok_or_else(|| {
            de::Error::custom(format!(
                "`{text}` is no water temperature: write a number and a unit, like `58 F` or `14 C`"
            ))
        })
}

fn cell<'de, D: Deserializer<'de>>(deserializer: D) -> Result<Distance, D::Error> {
    let cell = Distance::deserialize(deserializer)?;
    (20.0..=1000.0).contains(&cell.metres()).then_some(cell).ok_or_else(|| {
        de::Error::custom(format!(
            "`{} m` is no side of a cell: write a length from 20 m to 1000 m",
            cell.metres()
        ))
    })
}

/// What an outlook is made from.
#[derive(Clone, Copy, Debug)]
pub struct Given<'a> {
    /// The merged log: where no track log tells effort, its marks of all kinds stand in for ranks.
    pub log: &'a [Mark],
    /// Sightings; those of bait count.
    pub sightings: &'a [Sighting],
    /// Where was looked; without outings there are no track logs.
    pub effort: &'a Effort,
    /// The lake.
    pub lake: &'a Lake,
    /// How movement is fitted.
    pub movement: &'a movement::Settings,
    /// The clock that movement chose.
    pub clock: Clock,
    /// What counts as looked over.
    pub looking: &'a effort::Settings,
}

/// Water that something is known of, and what was seen where.
struct Ground<'a> {
    given: Given<'a>,
    bait: Vec<&'a Sighting>,
    /// `None`: nothing at all is known.
    cells: Option<WaterCells>,
    looks: Vec<Look>,
    search: Search,
    with_logs: bool,
}

/// Square kilometres that a mark stands for where no track log tells effort: only ranks are told then.
const MARK_KM2: f64 = 0.01;

impl<'a> Ground<'a> {
    fn new(given: Given<'a>, cell_m: f64) -> Self {
        let bait: Vec<&Sighting> = given.sightings.iter().filter(|s| s.kind == Kind::Bait).collect();
        let with_logs = !given.effort.outings.is_empty();
        let marked = if with_logs { Vec::new() } else { marked(given.log, given.lake, cell_m) };
        let outings = if with_logs { &given.effort.outings } else { &marked };
        let mut known: Vec<Cell> = outings.iter().flat_map(|o| o.cells.iter().map(|(c, _)| *c)).collect();
        known.extend(bait.iter().map(|s| Cell::at(s.plane, cell_m)));
        known.sort_unstable();
        known.dedup();
        let cells = WaterCells::about(&known, cell_m, given.lake);
        let looks = cells.as_ref().map_or_else(Vec::new, |cells| looks(cells, outings, &bait));
        let search = Search::with_swath(given.looking.swath.metres());
        Self { given, bait, cells, looks, search, with_logs }
    }
}

/// Marks of all kinds as looks: people mark where they are.
fn marked(log: &[Mark], lake: &Lake, cell_m: f64) -> Vec<OutingEffort> {
    let mut by_date: BTreeMap<Date, (LocalDay, BTreeMap<Cell, f64>)> = BTreeMap::new();
    for mark in log {
        let Some(day) = mark.day else { continue };
        let cells = &mut by_date.entry(day.date).or_insert_with(|| (day, BTreeMap::new())).1;
        *cells.entry(Cell::at(lake.to_plane(mark.place), cell_m)).or_default() += MARK_KM2 * 1e6;
    }
    by_date
        .into_values()
        .map(|(day, cells)| OutingEffort { day, cells: cells.into_iter().collect() })
        .collect()
}

/// Holds out each season in turn; `None`: fewer than two seasons with track logs and bait sightings on them.
#[must_use]
pub fn backtest(given: Given<'_>) -> Option<Backtest> {
    if given.effort.outings.is_empty() {
        return None;
    }
    let ground = Ground::new(given, given.effort.cell_m);
    let cells = ground.cells.as_ref()?;
    backtest::backtest(
        cells,
        &ground.bait,
        &ground.looks,
        given.lake,
        given.movement,
        given.clock,
        ground.search,
    )
}

/// Scores one outing, and those of its season before it, by what had come before; `None`: no track log tells of it or
/// of any outing before it.
#[must_use]
pub fn review(given: Given<'_>, date: Date) -> Option<OutingReview> {
    if given.effort.outings.is_empty() {
        return None;
    }
    let ground = Ground::new(given, given.effort.cell_m);
    let cells = ground.cells.as_ref()?;
    let Given { lake, movement, clock, .. } = given;
    let (looks, bait, search) = (&ground.looks, &ground.bait, ground.search);
    review::Season { cells, looks, bait, lake, movement, clock, search }.review(date)
}
