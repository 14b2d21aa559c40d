//! One outing against what the outlook had said of it: everything before that day known, nothing of it or after.

use super::backtest::{OutingScore, first_shares, score};
use super::chance::Search;
use super::evidence::Look;
use super::guesses::Guesses;
use super::rates::Rates;
use super::water_cells::WaterCells;
use crate::movement::{self, Clock, FittedTracks, fit_tracks};
use crate::schools::Sighting;
use crate::terms::lake::Lake;
use jiff::civil::Date;

/// An outing scored.
#[derive(Clone, Debug, PartialEq)]
pub struct OutingReview {
    /// The outing.
    pub date: Date,
    /// Its sightings on water looked over, in the order of chance.
    pub sightings: Vec<ReviewedSighting>,
    /// Gain in log score over looking just anywhere, summed over the sightings.
    pub gain: f64,
    /// Square kilometres looked over in the tenth of the water that was foretold best, sightings expected and made there.
    pub best_km2: f64,
    /// Sightings expected there.
    pub best_expected: f64,
    /// Sightings made there.
    pub best_seen: usize,
    /// Sightings expected on the whole outing.
    pub expected: f64,
    /// The outings of the season up to this one.
    pub running: Vec<RunningScore>,
}

/// What the outlook had said of one sighting.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ReviewedSighting {
    /// Chance of bait in a standard search of its cell.
    pub chance: f64,
    /// Share of the water that was foretold better than its cell.
    pub above: f64,
}

/// One outing of the season and the score so far.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RunningScore {
    /// The outing.
    pub date: Date,
    /// Its sightings.
    pub sightings: usize,
    /// Its gain over looking just anywhere, summed over its sightings.
    pub gain: f64,
    /// Sightings of the season so far.
    pub so_far: usize,
    /// Gain a sighting over the season so far; 0 without sightings.
    pub mean_so_far: f64,
}

/// What a review needs of a log.
pub(super) struct Season<'a> {
    pub(super) cells: &'a WaterCells,
    pub(super) looks: &'a [Look],
    pub(super) bait: &'a [&'a Sighting],
    pub(super) lake: &'a Lake,
    pub(super) movement: &'a movement::Settings,
    pub(super) clock: Clock,
    pub(super) search: Search,
}

impl Season<'_> {
    /// Reviews the outing of a date; `None`: no track log tells of it, or of any outing before it.
    pub(super) fn review(&self, date: Date) -> Option<OutingReview> {
        let own = self.looks.iter().find(|l| l.day.date == date && !l.cells.is_empty())?;
        // Tracks of the seasons before, as a plan before the season would have had them.
        let before: Vec<Sighting> =
            self.bait.iter().filter(|s| s.day.season < own.day.season).map(|s| (*s).clone()).collect();
        let tracks = fit_tracks(&before, self.lake, self.movement, self.clock);
        let (mut so_far, mut total) = (0, 0.0);
        let mut running = Vec::new();
        for look in self.looks.iter().filter(|l| l.day.season == own.day.season && !l.cells.is_empty()) {
            if look.day.date > date {
                break;
            }
            let Some((scored, _)) = self.scored(look, tracks.as_ref()) else { continue };
            let gain = scored.logs[0] - scored.logs[4];
            so_far += scored.sightings;
            total += gain;
            running.push(RunningScore {
                date: look.day.date,
                sightings: scored.sightings,
                gain,
                so_far,
                mean_so_far: if so_far > 0 { total / so_far as f64 } else { 0.0 },
            });
        }
        let (scored, outlook) = self.scored(own, tracks.as_ref())?;
        let bound = first_shares(self.cells, &outlook)[2];
        let best = || scored.cells.iter().filter(|(rate, ..)| *rate >= bound);
        let mut sightings: Vec<ReviewedSighting> = own
            .seen
            .iter()
            .map(|cell| {
                let rate = outlook[*cell as usize];
                let better = self.cells.list.iter().filter(|i| outlook[**i as usize] > rate).count();
                ReviewedSighting {
                    chance: self.search.chance(rate),
                    above: better as f64 / self.cells.list.len().max(1) as f64,
                }
            })
            .collect();
        sightings.sort_by(|a, b| b.chance.total_cmp(&a.chance));
        Some(OutingReview {
            date,
            sightings,
            gain: scored.logs[0] - scored.logs[4],
            best_km2: best().map(|(_, km2, _)| km2).sum(),
            best_expected: best().map(|(rate, km2, _)| rate * km2).sum(),
            best_seen: best().map(|(.., seen)| seen).sum(),
            expected: scored.cells.iter().map(|(rate, km2, _)| rate * km2).sum(),
            running,
        })
    }

    /// An outing scored by what came before it, and the rates it was scored by.
    fn scored(&self, look: &Look, tracks: Option<&FittedTracks>) -> Option<(OutingScore, Vec<f64>)> {
        let known: Vec<&Look> = self.looks.iter().filter(|l| l.day.date < look.day.date).collect();
        if known.iter().all(|l| l.cells.is_empty()) {
            return None;
        }
        let rates = Rates::new(self.cells, known.clone(), tracks);
        let outlook = rates.on(rates.day(look.day), false).rate;
        Some((score(self.cells, &rates, &Guesses::new(self.cells, &known), look), outlook))
    }
}
