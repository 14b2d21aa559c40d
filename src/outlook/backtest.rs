//! How much an outlook is worth: each season is held out in turn and foretold from the others.
//!
//! The score is the log of the chance that the outlook gave to the cell of each sighting among the cells looked over
//! that day, rate × effort over their sum, less the same by a simple guess: a proper score that does not reward looking
//! where one always looks. Seasons are held out, never marks; doubt is told by a bootstrap over outings, which are what
//! repeats (Roberts et al. 2017, block cross-validation).

use super::chance::Search;
use super::evidence::Look;
use super::guesses::{Guess, Guesses};
use super::rates::Rates;
use super::water_cells::WaterCells;
use crate::movement::{self, Clock, fit_tracks};
use crate::schools::Sighting;
use crate::terms::lake::Lake;
use crate::terms::random::Random;
use rayon::prelude::*;

/// What seasons held out told.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Backtest {
    /// By season held out, ascending.
    pub seasons: Vec<SeasonSkill>,
    /// Over all of them.
    pub all: Skill,
    /// Cells looked over in held-out seasons in five groups of equal effort, from the least rate to the greatest.
    pub reliability: Vec<Reliability>,
}

/// One season held out.
#[derive(Clone, Debug, PartialEq)]
pub struct SeasonSkill {
    /// The season.
    pub season: i16,
    /// What was reached on it.
    pub skill: Skill,
}

/// What an outlook gained on some outings.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Skill {
    /// Outings with effort.
    pub outings: usize,
    /// Sightings scored.
    pub sightings: usize,
    /// Gain in log score a sighting over each guess, in the order of `Guess::ALL`.
    pub gains: [Gain; 4],
    /// Share of the sightings in the 2, 5 and 10 % of the water that the outlook puts first, and each guess but effort, in
    /// the same order.
    pub captured: [[f64; 3]; 4],
    /// Sightings over the number that the outlook expected from the effort.
    pub observed_over_expected: f64,
}

/// A gain with its interval.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Gain {
    /// Mean a sighting, in natural log units.
    pub mean: f64,
    /// Ends of the 95 % interval by the bootstrap over outings.
    pub interval: [f64; 2],
}

/// A group of cells by rate.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Reliability {
    /// Square kilometres looked over.
    pub effort_km2: f64,
    /// Sightings that the outlook expected.
    pub expected: f64,
    /// Sightings made.
    pub observed: usize,
    /// Chance of bait in a standard search, mean over the effort.
    pub chance: f64,
}

/// Shares of the water for which captured sightings are told.
pub const TOP_SHARES: [f64; 3] = [0.02, 0.05, 0.10];
/// Draws of the bootstrap.
const DRAWS: usize = 1000;
const SEED: u64 = 1;
/// Groups of the reliability table.
const GROUPS: usize = 5;

/// One outing of a held-out season.
#[derive(Clone, Debug)]
pub(super) struct OutingScore {
    pub(super) sightings: usize,
    /// Sums over its sightings of the log score, outlook first, then the guesses.
    pub(super) logs: [f64; 5],
    /// Sightings in the first 2, 5, 10 % of the water, by outlook and the guesses that know places.
    captured: [[usize; 3]; 4],
    expected: f64,
    /// Rate, square kilometres, sightings of each cell looked over.
    pub(super) cells: Vec<(f64, f64, usize)>,
}

/// Seasons with effort and sightings, ascending: those that can be held out.
fn seasons(looks: &[Look]) -> Vec<i16> {
    let mut seasons: Vec<i16> = looks.iter().filter(|l| !l.seen.is_empty()).map(|l| l.day.season).collect();
    seasons.sort_unstable();
    seasons.dedup();
    seasons
}

/// Holds out each season in turn. `None`: fewer than two seasons with effort and sightings.
pub(super) fn backtest(
    cells: &WaterCells,
    bait: &[&Sighting],
    all: &[Look],
    lake: &Lake,
    settings: &movement::Settings,
    clock: Clock,
    search: Search,
) -> Option<Backtest> {
    let seasons = seasons(all);
    if seasons.len() < 2 {
        return None;
    }
    let folds: Vec<(i16, Vec<OutingScore>)> = seasons
        .into_par_iter()
        .map(|season| {
            let others: Vec<Sighting> =
                bait.iter().filter(|s| s.day.season != season).map(|s| (*s).clone()).collect();
            let tracks = fit_tracks(&others, lake, settings, clock);
            let known: Vec<&Look> = all.iter().filter(|l| l.day.season != season).collect();
            let rates = Rates::new(cells, known.clone(), tracks.as_ref());
            let guesses = Guesses::new(cells, &known);
            let scores = all
                .par_iter()
                .filter(|l| l.day.season == season && !l.cells.is_empty())
                .map(|look| score(cells, &rates, &guesses, look))
                .collect();
            (season, scores)
        })
        .collect();
    let together: Vec<&OutingScore> = folds.iter().flat_map(|(_, scores)| scores).collect();
    Some(Backtest {
        all: skill(&together),
        reliability: reliability(&together, search),
        seasons: folds
            .iter()
            .map(|(season, scores)| SeasonSkill {
                season: *season,
                skill: skill(&scores.iter().collect::<Vec<_>>()),
            })
            .collect(),
    })
}

/// Scores one outing by rates that do not know it.
pub(super) fn score(cells: &WaterCells, rates: &Rates, guesses: &Guesses, look: &Look) -> OutingScore {
    let day = rates.day(look.day);
    let outlook = rates.on(day, false).rate;
    let calendar = look.day.season_day.days();
    let guesses = Guess::ALL.map(|guess| guesses.weights(calendar, look.day.season, guess));
    let [usual, last, all_year, effort] = guesses.each_ref().map(Option::as_deref);
    let maps = [Some(outlook.as_slice()), usual, last, all_year, effort];
    let logs = maps.map(|map| {
        let value = |cell: u32| map.map_or(1.0, |map| map[cell as usize]);
        let sum: f64 = look.cells.iter().map(|(cell, km2)| value(*cell) * km2).sum();
        look.seen.iter().map(|cell| (value(*cell) * look.effort_in(*cell) / sum).ln()).sum()
    });
    let captured = [maps[0], usual, last, all_year].map(|map| {
        let Some(map) = map else { return [0; 3] };
        let bounds = first_shares(cells, map);
        bounds.map(|bound| look.seen.iter().filter(|cell| map[**cell as usize] >= bound).count())
    });
    OutingScore {
        sightings: look.seen.len(),
        logs,
        captured,
        expected: look.cells.iter().map(|(cell, km2)| outlook[*cell as usize] * km2).sum(),
        cells: look
            .cells
            .iter()
            .map(|(cell, km2)| {
                (outlook[*cell as usize], *km2, look.seen.iter().filter(|seen| *seen == cell).count())
            })
            .collect(),
    }
}

/// The values above which the first 2, 5 and 10 % of the water lie.
pub(super) fn first_shares(cells: &WaterCells, map: &[f64]) -> [f64; 3] {
    let mut values: Vec<f64> = cells.list.iter().map(|i| map[*i as usize]).collect();
    let count = values.len() as f64;
    TOP_SHARES.map(|share| {
        let place = ((share * count).ceil() as usize).saturating_sub(1);
        if place >= values.len() {
            return f64::INFINITY;
        }
        *values.select_nth_unstable_by(place, |a, b| b.total_cmp(a)).1
    })
}

/// Gains, captured shares and calibration over some outings.
pub(super) fn skill(scores: &[&OutingScore]) -> Skill {
    let sightings: usize = scores.iter().map(|s| s.sightings).sum();
    let expected: f64 = scores.iter().map(|s| s.expected).sum();
    let mut captured = [[0.0; 3]; 4];
    for (map, shares) in captured.iter_mut().enumerate() {
        for (which, share) in shares.iter_mut().enumerate() {
            let inside: usize = scores.iter().map(|s| s.captured[map][which]).sum();
            *share = inside as f64 / sightings.max(1) as f64;
        }
    }
    Skill {
        outings: scores.len(),
        sightings,
        gains: [1, 2, 3, 4].map(|guess| gain(scores, guess)),
        captured,
        observed_over_expected: sightings as f64 / expected.max(1e-9),
    }
}

fn gain(scores: &[&OutingScore], guess: usize) -> Gain {
    let own: Vec<(f64, f64)> = scores
        .iter()
        .filter(|s| s.sightings > 0)
        .map(|s| (s.logs[0] - s.logs[guess], s.sightings as f64))
        .collect();
    let mean = |drawn: &mut dyn Iterator<Item = (f64, f64)>| {
        let (sum, count) = drawn.fold((0.0, 0.0), |(s, n), (gain, count)| (s + gain, n + count));
        if count > 0.0 { sum / count } else { 0.0 }
    };
    let mut random = Random::new(SEED, guess as u64);
    let mut draws: Vec<f64> = (0..if own.is_empty() { 0 } else { DRAWS })
        .map(|_| mean(&mut (0..own.len()).map(|_| own[(random.unit() * own.len() as f64) as usize])))
        .collect();
    draws.sort_by(f64::total_cmp);
    let at = |share: f64| draws.get((share * draws.len() as f64) as usize).copied().unwrap_or(0.0);
    Gain { mean: mean(&mut own.iter().copied()), interval: [at(0.025), at(0.975)] }
}

fn reliability(scores: &[&OutingScore], search: Search) -> Vec<Reliability> {
    let mut cells: Vec<(f64, f64, usize)> = scores.iter().flat_map(|s| s.cells.iter().copied()).collect();
    // All three, so that equal rates stand in one order whatever the order of the outings.
    cells.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)).then(a.2.cmp(&b.2)));
    let whole: f64 = cells.iter().map(|c| c.1).sum();
    let mut groups = vec![Reliability::default(); GROUPS];
    let mut before = 0.0;
    for (rate, km2, observed) in cells {
        let group = &mut groups[((before / whole * GROUPS as f64) as usize).min(GROUPS - 1)];
        before += km2;
        group.effort_km2 += km2;
        group.expected += rate * km2;
        group.observed += observed;
        group.chance += km2 * search.chance(rate);
    }
    for group in &mut groups {
        group.chance /= group.effort_km2.max(1e-12);
    }
    groups
}

/// Least gain a sighting, in natural log units, that the interval must lie above before an outlook is called better: 5 %
/// better odds. Less helps nobody, and the grid of cells alone can make it: on simulated lakes where bait was anywhere and
/// the looks followed it, the gain over looking just anywhere was about .04.
const LEAST_GAIN: f64 = 0.05;

/// The verdict in words: better than all guesses, or not, by the intervals.
#[must_use]
pub fn verdict(skill: &Skill) -> String {
    if skill.sightings == 0 {
        return "nothing to score: no bait was seen where the track logs went".to_owned();
    }
    let name = |guess: Guess| match guess {
        Guess::UsualPlaces => "your usual places",
        Guess::LastSeason => "the same week of last season",
        Guess::AllYear => "the same places all year",
        Guess::Effort => "looking just anywhere",
    };
    let names = |better: bool| -> Vec<&str> {
        let is = |gain: &Gain| (gain.interval[0] > LEAST_GAIN) == better;
        Guess::ALL.into_iter().zip(&skill.gains).filter(|(_, gain)| is(gain)).map(|(g, _)| name(g)).collect()
    };
    let not = names(false);
    if not.is_empty() {
        let [first @ .., last] = &names(true)[..] else { return String::new() };
        return format!("better than {} and {last}", first.join(", "));
    }
    format!("no better than {}", not.join(" and "))
}
