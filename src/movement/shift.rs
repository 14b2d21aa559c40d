//! How many days early or late each season ran, told by the sightings themselves.

use super::mixture::{Frame, Mixture};
use super::observation::{Observation, seasons_that_count};
use super::select::fit_tracks;

/// Most days a season may run early or late, and how far one commonly does (judgement, tried on simulated lakes).
const MOST_DAYS: i32 = 16;
const PRIOR_SD_DAYS: f64 = 6.0;
/// Rounds of shifting the seasons and fitting again.
const ROUNDS: usize = 3;
const FIT_ROUNDS: usize = 15;

/// Tracks with the seasons brought onto one time.
#[derive(Clone, Debug)]
pub(super) struct Fitted {
    pub(super) mixture: Mixture,
    /// The observations, their days less the shift of their season.
    pub(super) observations: Vec<Observation>,
    /// Each season that counts and the days by which it ran late, ascending by season; mean zero over the sightings
    /// of these seasons.
    pub(super) shifts: Vec<(i16, f64)>,
}

impl Fitted {
    /// An observation brought onto the time of the tracks.
    pub(super) fn on_time(&self, o: &Observation) -> Observation {
        let late = self.shifts.iter().find(|(season, _)| *season == o.season).map_or(0.0, |s| s.1);
        Observation { day: o.day - late, ..*o }
    }
}

/// Fits tracks, then shifts seasons and fits again in turn.
pub(super) fn fit(frame: &Frame, observations: &[Observation], max_tracks: usize) -> Fitted {
    let mut fitted = Fitted {
        mixture: fit_tracks(frame, observations, max_tracks),
        observations: observations.to_vec(),
        shifts: seasons_that_count(observations).into_iter().map(|season| (season, 0.0)).collect(),
    };
    if fitted.shifts.len() < 2 || fitted.mixture.components.is_empty() {
        return fitted;
    }
    for _ in 0..ROUNDS {
        let shifts = best_shifts(frame, observations, &fitted);
        if shifts == fitted.shifts {
            break;
        }
        fitted.shifts = shifts;
        fitted.observations = observations.iter().map(|o| fitted.on_time(o)).collect();
        let shares = fitted.mixture.shares.clone();
        fitted.mixture = Mixture::fit(frame, &fitted.observations, shares, FIT_ROUNDS);
    }
    fitted
}

fn best_shifts(frame: &Frame, observations: &[Observation], fitted: &Fitted) -> Vec<(i16, f64)> {
    let mut shifts: Vec<(i16, f64)> = fitted
        .shifts
        .iter()
        .map(|(season, _)| {
            let own = || observations.iter().filter(|o| o.season == *season);
            let log = |late: f64| {
                own()
                    .map(|o| fitted.mixture.log_density(frame, &Observation { day: o.day - late, ..*o }))
                    .sum::<f64>()
                    - 0.5 * (late / PRIOR_SD_DAYS).powi(2)
            };
            let best = (-MOST_DAYS..=MOST_DAYS)
                .map(|late| (f64::from(late), log(f64::from(late))))
                .fold((0.0, f64::NEG_INFINITY), |best, next| if next.1 > best.1 { next } else { best });
            (*season, best.0)
        })
        .collect();
    // Only differences between seasons are told by the sightings: the mean stays with the calendar.
    let count = |season: i16| observations.iter().filter(|o| o.season == season).count() as f64;
    let counted: f64 = shifts.iter().map(|(season, _)| count(*season)).sum();
    let mean = shifts.iter().map(|(season, late)| late * count(*season)).sum::<f64>() / counted;
    for (_, late) in &mut shifts {
        *late -= mean;
    }
    shifts
}
