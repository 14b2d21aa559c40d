//! The simple guesses that an outlook must beat: where marks were at this time of the year, where they were in the same
//! week of last season, and wherever one looks.

use super::evidence::{Look, day_weight};
use super::water_cells::WaterCells;
use crate::terms::season::SeasonDay;

/// What an outlook is held against.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Guess {
    /// Seasonal density of the sightings, whatever the effort: the usual places.
    UsualPlaces,
    /// Where bait was in the same week of the season before.
    LastSeason,
    /// In proportion to effort: bait is as likely everywhere.
    Effort,
}

impl Guess {
    /// All of them, in the order of outputs.
    pub const ALL: [Self; 3] = [Self::UsualPlaces, Self::LastSeason, Self::Effort];

    /// The word for it in tables.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::UsualPlaces => "usual places",
            Self::LastSeason => "same week last season",
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

/// Weight of each cell by a guess, for a day of the year; `None` for those that know no place.
pub(super) fn weights(
    cells: &WaterCells,
    looks: &[&Look],
    day: f64,
    season: i16,
    guess: Guess,
) -> Option<Vec<f64>> {
    let mut values = vec![0.0; cells.len()];
    let before = || {
        // Seasons held out in turn: the first has none before it, so the nearest other one stands in.
        looks
            .iter()
            .map(|l| l.day.season)
            .filter(|s| *s != season)
            .min_by_key(|s| (*s > season, (i32::from(*s) - i32::from(season)).abs()))
    };
    let (sd_days, only) = match guess {
        Guess::UsualPlaces => (NEAR_DAYS, None),
        Guess::LastSeason => (WEEK_DAYS, Some(before()?)),
        Guess::Effort => return None,
    };
    for look in looks.iter().filter(|l| only.is_none_or(|season| l.day.season == season)) {
        let own = look.day.season_day.days();
        let weight = day_weight(SeasonDay::from_days(own).days(), day, sd_days);
        for cell in &look.at {
            values[*cell as usize] += weight;
        }
    }
    cells.spread(&mut values, NEAR_M);
    let sum: f64 = cells.list.iter().map(|i| values[*i as usize]).sum();
    let even = 1.0 / cells.list.len().max(1) as f64;
    for i in &cells.list {
        let value = &mut values[*i as usize];
        *value = if sum > 0.0 { (1.0 - EVEN_SHARE) * *value / sum + EVEN_SHARE * even } else { even };
    }
    Some(values)
}
