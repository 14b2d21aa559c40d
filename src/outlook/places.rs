//! The best places of an outlook, each with the sightings it stands on.

use super::evidence::{Look, day_weight};
use super::water_cells::WaterCells;
use super::{Chance, OutlookCell};
use crate::effort::Cell;
use crate::movement::FittedTracks;
use crate::schools::Sighting;
use crate::terms::id::Id;
use crate::terms::place::{Place, PlanePoint};
use crate::terms::season::SeasonDay;
use crate::terms::units::Depth;

/// A place worth a look, and why.
#[derive(Clone, Debug, PartialEq)]
pub struct OutlookPlace {
    /// Rank, from 1.
    pub rank: usize,
    /// Where.
    pub place: Place,
    /// Chance of bait in a standard search there; `None`: without track logs only ranks are told.
    pub chance: Option<Chance>,
    /// Depths between which nine of ten sightings are expected; `None`: nothing near tells a depth.
    pub fish_depth: Option<[Depth; 2]>,
    /// Sightings within reach of the place and the part of the season, in any season.
    pub sightings: Vec<Id>,
    /// Outings that made them.
    pub met: usize,
    /// Outings that looked there in that part of the season; `None`: no track logs tell.
    pub looks: Option<usize>,
    /// Seasons of these looks (without track logs: of the sightings), ascending.
    pub seasons: Vec<i16>,
}

impl OutlookPlace {
    /// What it stands on: `11 sightings on 7 of 19 looks, 2022-2025`.
    #[must_use]
    pub fn behind(&self) -> String {
        let seen =
            format!("{} sighting{}", self.sightings.len(), if self.sightings.len() == 1 { "" } else { "s" });
        let looks = match self.looks {
            Some(looks) => format!("{} of {looks} look{}", self.met, if looks == 1 { "" } else { "s" }),
            None => format!("{} outing{}", self.met, if self.met == 1 { "" } else { "s" }),
        };
        let seasons = match (self.seasons.first(), self.seasons.last()) {
            (Some(first), Some(last)) if first != last => format!(", {first}-{last}"),
            (Some(only), _) => format!(", {only}"),
            _ => String::from(", never looked at in that part of the season"),
        };
        format!("{seen} on {looks}{seasons}")
    }
}

/// How near sightings and looks stand behind a place: metres, days of the season.
pub(super) const REACH_M: f64 = 300.0;
pub(super) const REACH_DAYS: f64 = 21.0;
/// Places nearer than this are one (two standard searches side by side).
const APART_M: f64 = 600.0;
/// Most places told.
const MOST: usize = 20;
/// An outing looked at a place when it covered as much of its surroundings, in square kilometres: a pass through.
const A_LOOK_KM2: f64 = 0.01;

/// What places are picked from.
pub(super) struct Ranked<'a> {
    pub(super) cells: &'a WaterCells,
    pub(super) best_first: &'a [OutlookCell],
    pub(super) looks: &'a [Look],
    pub(super) bait: &'a [&'a Sighting],
    pub(super) tracks: Option<&'a FittedTracks>,
    pub(super) day: SeasonDay,
    /// Day of the mean year.
    pub(super) on_time: f64,
    pub(super) with_logs: bool,
}

impl Ranked<'_> {
    /// The best cell, then the best that is not near it, and so on.
    pub(super) fn places(&self, to_place: impl Fn(PlanePoint) -> Place) -> Vec<OutlookPlace> {
        let mut middles: Vec<PlanePoint> = Vec::new();
        let mut places = Vec::new();
        for cell in self.best_first {
            let middle = cell.cell.middle(self.cells.side_m);
            if middles.iter().any(|m| m.metres_to(middle) < APART_M) {
                continue;
            }
            middles.push(middle);
            places.push(self.place(places.len() + 1, cell, middle, to_place(middle)));
            if places.len() == MOST {
                break;
            }
        }
        places
    }

    fn place(&self, rank: usize, cell: &OutlookCell, middle: PlanePoint, place: Place) -> OutlookPlace {
        let in_part = |day: SeasonDay| day.days_apart(self.day) <= REACH_DAYS;
        let mut own: Vec<&Sighting> = self
            .bait
            .iter()
            .filter(|s| in_part(s.day.season_day) && s.plane.metres_to(middle) <= REACH_M)
            .copied()
            .collect();
        own.sort_by_key(|s| (s.day.date, s.id));
        let mut met: Vec<_> = own.iter().map(|s| s.day.date).collect();
        met.dedup();
        let about = self.near(cell.cell);
        let looked: Vec<&Look> = self
            .looks
            .iter()
            .filter(|l| self.with_logs && in_part(l.day.season_day))
            .filter(|l| {
                met.contains(&l.day.date) || about.iter().map(|c| l.effort_in(*c)).sum::<f64>() >= A_LOOK_KM2
            })
            .collect();
        let mut seasons: Vec<i16> = if self.with_logs {
            looked.iter().map(|l| l.day.season).collect()
        } else {
            own.iter().map(|s| s.day.season).collect()
        };
        seasons.sort_unstable();
        seasons.dedup();
        OutlookPlace {
            rank,
            place,
            chance: cell.chance,
            fish_depth: depth_band(self.bait, self.tracks, middle, self.day, self.on_time),
            sightings: own.iter().map(|s| s.id).collect(),
            met: met.len(),
            looks: self.with_logs.then_some(looked.len()),
            seasons,
        }
    }

    /// Cells within reach of a cell.
    fn near(&self, cell: Cell) -> Vec<u32> {
        let side = self.cells.side_m;
        let reach = (REACH_M / side).ceil() as i32;
        let middle = cell.middle(side);
        (-reach..=reach)
            .flat_map(|row| {
                (-reach..=reach).map(move |column| Cell { row: cell.row + row, column: cell.column + column })
            })
            .filter(|c| c.middle(side).metres_to(middle) <= REACH_M)
            .filter_map(|c| self.cells.number(c).map(|n| n as u32))
            .collect()
    }
}

/// Kernel of place and fewest sightings (by weight) for a band of depth from the sightings themselves.
const DEPTH_M: f64 = 400.0;
const DEPTH_DAYS: f64 = 15.0;
const DEPTH_SIGHTINGS: f64 = 3.0;
/// Half the width of a normal band that holds nine of ten (table value, from memory).
const NINE_OF_TEN: f64 = 1.645;

/// Depths between which nine of ten sightings are expected about a place and day: of the sightings near, else of the
/// track that passes nearest.
pub(super) fn depth_band(
    bait: &[&Sighting],
    tracks: Option<&FittedTracks>,
    at: PlanePoint,
    day: SeasonDay,
    on_time: f64,
) -> Option<[Depth; 2]> {
    let (mut weights, mut sum, mut squares) = (0.0, 0.0, 0.0);
    for s in bait {
        let Some(feet) = s.fish_depth.map(Depth::feet) else { continue };
        let metres = s.plane.metres_to(at);
        if metres > 3.0 * DEPTH_M {
            continue;
        }
        let weight = day_weight(s.day.season_day.days(), day.days(), DEPTH_DAYS)
            * (-0.5 * (metres / DEPTH_M).powi(2)).exp();
        weights += weight;
        sum += weight * feet;
        squares += weight * feet * feet;
    }
    let [mean, variance] = if weights >= DEPTH_SIGHTINGS {
        let mean = sum / weights;
        // The spread of a few sightings is taken a little wide, and never below what a sounder tells.
        [mean, ((squares / weights - mean * mean).max(0.0) * (1.0 + 2.0 / weights)).max(4.0)]
    } else {
        let tracks = tracks?;
        (0..tracks.len())
            .map(|k| tracks.position(k, on_time))
            .filter(|p| p.place.metres_to(at) <= 3.0 * p.variance_m2.sqrt())
            .min_by(|a, b| a.place.metres_to(at).total_cmp(&b.place.metres_to(at)))?
            .depth_ft?
    };
    let half = NINE_OF_TEN * variance.sqrt();
    Some([Depth::from_feet((mean - half).max(0.0))?, Depth::from_feet((mean + half).max(0.0))?])
}
