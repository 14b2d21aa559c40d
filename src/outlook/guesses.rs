//! The simple guesses that an outlook must beat: where marks were at this time of the year, where they were in the same
//! week of last season, where a search gave most at any time of the year, and wherever one looks.

use super::evidence::{Look, NEAR_M as OUTLOOK_NEAR_M, day_weight};
use super::rates::PRIOR_KM2;
use super::water_cells::WaterCells;
use std::borrow::Cow;

/// What an outlook is held against.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Guess {
    /// Seasonal density of the sightings, whatever the effort: the usual places.
    UsualPlaces,
    /// Where bait was in the same week of the season before.
    LastSeason,
    /// What a search gives there whatever the time of the year: places without a season, the effort taken out. It also
    /// knows what the looks alone bring about, such as that lanes run every day hold little.
    AllYear,
    /// In proportion to effort: bait is as likely everywhere.
    Effort,
}

impl Guess {
    /// All of them, in the order of outputs.
    pub const ALL: [Self; 4] = [Self::UsualPlaces, Self::LastSeason, Self::AllYear, Self::Effort];

    /// The word for it in tables.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::UsualPlaces => "usual places",
            Self::LastSeason => "same week last season",
            Self::AllYear => "same places all year",
            Self::Effort => "effort",
        }
    }
}

/// Kernel of the usual places: what a density of marks does best with on simulated lakes, and stated beforehand.
const NEAR_M: f64 = 250.0;
const NEAR_DAYS: f64 = 20.0;
/// A week either side counts as the same week.
const WEEK_DAYS: f64 = 7.0;
/// Share of a guess that is spread evenly over the water: a guess that rules a place out loses without bound by one
/// sighting there, which would make it too easy to beat.
const EVEN_SHARE: f64 = 0.05;

/// What the guesses are made from.
pub(super) struct Guesses<'a> {
    cells: &'a WaterCells,
    looks: &'a [&'a Look],
    all_year: Vec<f64>,
}

impl<'a> Guesses<'a> {
    pub(super) fn new(cells: &'a WaterCells, looks: &'a [&'a Look]) -> Self {
        let (mut seen, mut km2) = (vec![0.0; cells.len()], vec![0.0; cells.len()]);
        for look in looks {
            for cell in &look.seen {
                seen[*cell as usize] += look.count_in(*cell);
            }
            for ((cell, area), count) in look.cells.iter().zip(&look.counts) {
                km2[*cell as usize] += count * area;
            }
        }
        // Kernel, weights and what an outing counts for are the outlook's own, so that the season is all that they differ in.
        let mean = seen.iter().sum::<f64>() / km2.iter().sum::<f64>().max(1e-9);
        cells.spread(&mut seen, OUTLOOK_NEAR_M);
        cells.spread(&mut km2, OUTLOOK_NEAR_M);
        let rate = |(seen, km2): (&f64, &f64)| (PRIOR_KM2 * mean + seen) / (PRIOR_KM2 + km2);
        let all_year = seen.iter().zip(&km2).map(rate).collect();
        Self { cells, looks, all_year }
    }

    /// Weight of each cell by a guess, for a day of the year; `None` for those that know no place.
    pub(super) fn weights(&self, day: f64, season: i16, guess: Guess) -> Option<Cow<'_, [f64]>> {
        let before = || {
            // Seasons held out in turn: the first has none before it, so the nearest other one stands in.
            self.looks
                .iter()
                .map(|l| l.day.season)
                .filter(|s| *s != season)
                .min_by_key(|s| (*s > season, (i32::from(*s) - i32::from(season)).abs()))
        };
        let (sd_days, only) = match guess {
            Guess::UsualPlaces => (NEAR_DAYS, None),
            Guess::LastSeason => (WEEK_DAYS, Some(before()?)),
            Guess::AllYear => return Some(Cow::Borrowed(&self.all_year)),
            Guess::Effort => return None,
        };
        let mut values = vec![0.0; self.cells.len()];
        for look in self.looks.iter().filter(|l| only.is_none_or(|season| l.day.season == season)) {
            let weight = day_weight(look.day.season_day.days(), day, sd_days);
            for cell in &look.at {
                values[*cell as usize] += weight;
            }
        }
        self.cells.spread(&mut values, NEAR_M);
        let list = &self.cells.list;
        let sum: f64 = list.iter().map(|i| values[*i as usize]).sum();
        let even = 1.0 / list.len().max(1) as f64;
        for i in list {
            let value = &mut values[*i as usize];
            *value = if sum > 0.0 { (1.0 - EVEN_SHARE) * *value / sum + EVEN_SHARE * even } else { even };
        }
        Some(Cow::Owned(values))
    }
}
