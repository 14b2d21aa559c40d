//! The outlook for a date: all cells ranked, the best places, and what is told with them.

use super::chance::{Search, chance_of_any};
use super::places::{OutlookPlace, REACH_DAYS, Ranked};
use super::rates::{NEAR_DAYS, PRIOR_KM2, Rates};
use super::telling::{BEST_CELLS, Standing, basis, sensitivity};
use super::water_cells::WaterCells;
use super::{Given, Ground, Settings};
use crate::effort::{self, Cell, Effort};
use crate::movement::{FittedTracks, fit_tracks};
use crate::terms::finding::{Code, Finding};
use crate::terms::lake::Lake;
use crate::terms::mark::LocalDay;
use crate::terms::place::Place;
use crate::terms::units::{Depth, WaterTemp};
use jiff::civil::Date;
use std::f64::consts::PI;

/// How likely bait is to be met on a date.
#[derive(Clone, Debug, PartialEq)]
pub struct Outlook {
    /// The date.
    pub date: Date,
    /// Side of a cell in metres.
    pub cell_m: f64,
    /// What a standard search is.
    pub search: Search,
    /// The cells, the best first.
    pub cells: Vec<OutlookCell>,
    /// The best places with what stands behind them, the best first.
    pub places: Vec<OutlookPlace>,
    /// What is told about it.
    pub findings: Vec<Finding>,
}

/// Water that an outlook speaks of.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OutlookCell {
    /// The cell.
    pub cell: Cell,
    /// Chance of bait in a standard search about it; `None`: without track logs only ranks are told.
    pub chance: Option<Chance>,
    /// Sightings a square kilometre of search; `None` as above.
    pub rate_km2: Option<f64>,
    /// Square metres looked over in it in that part of the season, in all seasons.
    pub effort_m2: f64,
    /// Bait sightings in it in that part of the season.
    pub sightings: usize,
    /// What it stands on.
    pub basis: Basis,
}

/// A chance and the interval that holds it nine times in ten.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Chance {
    /// Best guess.
    pub mean: f64,
    /// Lower end.
    pub low: f64,
    /// Upper end.
    pub high: f64,
}

/// What a cell's chance stands on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Basis {
    /// Looks on the spot in that part of the season outweigh the prior.
    Log,
    /// Some looks near in place and season.
    Near,
    /// Movement tracks, or the rate of the whole water.
    Prior,
}

impl Basis {
    /// The word for it in outputs.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Log => "log",
            Self::Near => "near",
            Self::Prior => "prior",
        }
    }
}

/// A place of an outlook speaks for this much water about it.
const PLACE_M: f64 = 600.0;

impl Outlook {
    /// The chance that bait is within some metres of a place; `None`: it speaks of no water there, or only ranks are told.
    #[must_use]
    pub fn chance_within(&self, place: Place, radius_m: f64, lake: &Lake) -> Option<f64> {
        let at = lake.to_plane(place);
        let own = Cell::at(at, self.cell_m);
        let (mut rates, mut cells) = (0.0, 0_u32);
        for cell in &self.cells {
            let near = cell.cell == own || cell.cell.middle(self.cell_m).metres_to(at) <= radius_m;
            if let Some(rate) = cell.rate_km2.filter(|_| near) {
                rates += rate;
                cells += 1;
            }
        }
        (cells > 0).then(|| chance_of_any(rates / f64::from(cells) * PI * radius_m * radius_m / 1e6))
    }

    /// Depths between which nine of ten sightings are expected at the nearest of its places within 600 m.
    #[must_use]
    pub fn fish_depth_at(&self, place: Place, lake: &Lake) -> Option<[Depth; 2]> {
        let at = lake.to_plane(place);
        let metres = |p: &OutlookPlace| lake.to_plane(p.place).metres_to(at);
        self.places
            .iter()
            .filter(|p| metres(p) <= PLACE_M)
            .min_by(|a, b| metres(a).total_cmp(&metres(b)))?
            .fish_depth
    }
}

/// The effort by other settings, with the words for what is other.
pub type Otherwise = (&'static str, effort::Settings, Effort);

/// Looks out to a date. `otherwise`: effort by other settings, to tell how far they move it.
#[must_use]
pub fn outlook(given: Given<'_>, settings: &Settings, date: Date, otherwise: &[Otherwise]) -> Outlook {
    let tracks = fit_tracks(given.sightings, given.lake, given.movement, given.clock);
    outlook_by(given, tracks.as_ref(), settings, date, otherwise)
}

/// The same by tracks that were fitted before, by the clock and to the sightings that are given.
#[must_use]
pub fn outlook_by(
    given: Given<'_>,
    tracks: Option<&FittedTracks>,
    settings: &Settings,
    date: Date,
    otherwise: &[Otherwise],
) -> Outlook {
    let cell_m = settings.cell.metres();
    let mut outlook = Ground::new(given, cell_m).outlook(tracks, date, settings.water_temp, usize::MAX);
    let others: Vec<(&str, Outlook)> = otherwise
        .iter()
        .map(|(what, looking, effort)| {
            let given = Given { effort, looking, ..given };
            let ground = Ground::new(given, cell_m);
            (*what, ground.outlook(tracks, date, settings.water_temp, BEST_CELLS))
        })
        .collect();
    outlook.findings.extend(sensitivity(&outlook, &others));
    outlook
}

impl Ground<'_> {
    /// The outlook in its best cells, so many at most.
    fn outlook(
        &self,
        tracks: Option<&FittedTracks>,
        date: Date,
        water_temp: Option<WaterTemp>,
        most: usize,
    ) -> Outlook {
        let day = self.given.lake.day(date);
        let mut outlook = Outlook {
            date,
            cell_m: self.given.effort.cell_m,
            search: self.search,
            cells: Vec::new(),
            places: Vec::new(),
            findings: self.standing(tracks, day).findings(date),
        };
        let Some(cells) = &self.cells else { return outlook };
        outlook.cell_m = cells.side_m;
        let warm_day = water_temp.and_then(|t| tracks?.day_of_warmth(day, t.celsius()));
        if let Some(temp) = water_temp.filter(|_| warm_day.is_none()) {
            outlook.findings.push(
                Finding::new(Code::OutlookTempUnused, format!("a water temperature of `{temp}` was given"))
                    .done("not used: the season is measured by date, or the water is never so warm about that day"),
            );
        }
        let rates = Rates::new(cells, self.looks.iter().collect(), tracks);
        // A season under way has told how early or late it runs; another may run either way.
        let told = |l: &&super::evidence::Look| l.day.season == day.season && !l.seen.is_empty();
        let known = warm_day.is_some() || self.looks.iter().any(|l| told(&l));
        let on_time = warm_day.unwrap_or_else(|| rates.day(day));
        let on = rates.on(on_time, known);
        let [effort_m2, sightings] = self.then(cells, day);
        let mut order: Vec<usize> = cells.list.iter().map(|i| *i as usize).collect();
        order.sort_by(|a, b| on.rate[*b].total_cmp(&on.rate[*a]).then(a.cmp(b)));
        order.truncate(most);
        outlook.cells = order
            .iter()
            .map(|i| {
                let rate = on.rate[*i];
                let mean = self.search.chance(rate);
                let [low, high] = self.search.interval(on.shape[*i], on.km2[*i]);
                OutlookCell {
                    cell: cells.cell(*i),
                    chance: self.with_logs.then_some(Chance {
                        mean,
                        low: low.min(mean),
                        high: high.max(mean),
                    }),
                    rate_km2: self.with_logs.then_some(rate),
                    effort_m2: if self.with_logs { effort_m2[*i] } else { 0.0 },
                    sightings: sightings[*i] as usize,
                    basis: basis(on.near_km2[*i], PRIOR_KM2, cells.cell_km2()),
                }
            })
            .collect();
        let ranked = Ranked {
            cells,
            best_first: &outlook.cells,
            looks: &self.looks,
            bait: &self.bait,
            tracks,
            day: day.season_day,
            on_time,
            with_logs: self.with_logs,
        };
        outlook.places = ranked.places(|point| self.given.lake.plane.to_place(point));
        outlook
    }

    /// Effort in square metres and bait sightings by cell within the season kernel of a day.
    fn then(&self, cells: &WaterCells, day: LocalDay) -> [Vec<f64>; 2] {
        let mut sums = [vec![0.0; cells.len()], vec![0.0; cells.len()]];
        for look in self.looks.iter().filter(|l| l.day.season_day.days_apart(day.season_day) <= NEAR_DAYS) {
            for (cell, km2) in &look.cells {
                sums[0][*cell as usize] += km2 * 1e6;
            }
            for cell in &look.at {
                sums[1][*cell as usize] += 1.0;
            }
        }
        sums
    }

    fn standing(&self, tracks: Option<&FittedTracks>, day: LocalDay) -> Standing {
        let mut seasons: Vec<i16> = self.bait.iter().map(|s| s.day.season).collect();
        seasons.sort_unstable();
        seasons.dedup();
        let then = |other: LocalDay| other.season_day.days_apart(day.season_day) <= REACH_DAYS;
        let looks = || self.looks.iter().filter(|l| self.with_logs && !l.cells.is_empty());
        let on_looks: usize = self.looks.iter().map(|l| l.seen.len()).sum();
        Standing {
            sightings: self.bait.len(),
            seasons: seasons.len(),
            looks: looks().count(),
            sightings_then: self.bait.iter().filter(|s| then(s.day)).count(),
            looks_then: looks().filter(|l| then(l.day)).count(),
            off_looks: self.bait.len() - on_looks,
            with_logs: self.with_logs,
            tracks: tracks.map_or(0, FittedTracks::len),
        }
    }
}
