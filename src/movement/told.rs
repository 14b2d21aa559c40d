//! On which days a track is told: where more of its sightings lie together than clutter alone brings together, and one
//! of them was by the place.

use super::mixture::{Activity, Frame, Mixture, SUPPORT_SD_DAYS, at};
use super::observation::Observation;
use crate::terms::place::PlanePoint;
use crate::terms::season::SeasonDay;
use std::f64::consts::PI;

/// Fewest sightings near a day (expected number within a 10-day kernel) on which a track is told.
const LEAST_SIGHTINGS: f64 = 2.0;
/// A circle of so many scatters about the place is what "together" means; it holds 86 % of a normal scatter.
const SCATTERS: f64 = 2.0;
/// How often clutter may bring as many together in one of the circles that fit into the lake. Less tells fewer days and
/// more of them rightly: on 24 simulated lakes (seeds 101 to 124) precision .813 without asking, .827 at 1, .842 at .1,
/// .856 at .02, for .930, .928, .916, .901 of the oracle's places (the last with 16 `BREAK_PARAMETERS`, the others with 12).
const BY_CHANCE: f64 = 0.1;
/// A track is told on a day only where as many of its sightings (expected number within a 10-day kernel) lie this near to
/// its place. Between two places where it dwells bait is quick and seldom met; a spline then passes water in which nobody saw
/// any. On 48 simulated lakes (seeds 101 to 124, 201 to 224) precision .847 and .803 without asking, .869 and .839 at half
/// a sighting, .875 and .849 at one, .884 and .863 at two, for .916 and .902, .910 and .882, .903 and .876, .888 and .860 of
/// the oracle's places; two would cost too much where bait is always on the move (`hollow.rs` in the tests).
const LEAST_MET: f64 = 1.0;
const MET_M: f64 = 500.0;
/// A share of a sighting that a whole log of such would not make one.
const LEAST_SHARE: f64 = 1e-4;

/// The support of the tracks of a mixture through the season.
pub(super) struct Told<'a> {
    frame: &'a Frame,
    mixture: &'a Mixture,
    near: Vec<Activity>,
    clutter: Activity,
    /// By track: day, place and share of the sightings that it has a share in.
    own: Vec<Vec<(SeasonDay, PlanePoint, f64)>>,
}

impl<'a> Told<'a> {
    /// From the observations that the mixture was fitted to.
    pub(super) fn new(frame: &'a Frame, mixture: &'a Mixture, observations: &[Observation]) -> Self {
        let own = (0..mixture.components.len())
            .map(|track| {
                let shared = observations.iter().zip(mixture.shares.track(track));
                shared
                    .filter(|(_, share)| *share > LEAST_SHARE)
                    .map(|(o, share)| (SeasonDay::from_days(o.day), o.place(), share))
                    .collect()
            })
            .collect();
        let (near, clutter) = (mixture.support(observations), mixture.clutter_near(observations));
        Self { frame, mixture, near, clutter, own }
    }

    /// Whether a track is told on a day.
    pub(super) fn on(&self, track: usize, day: f64) -> bool {
        let near = at(&self.near[track], day);
        near >= LEAST_SIGHTINGS && {
            let p = self.mixture.components[track].position(self.frame, day);
            let circle_m2 = PI * SCATTERS * SCATTERS * p.place_variance;
            near >= more_than_clutter(at(&self.clutter, day), circle_m2 / self.frame.area_m2())
                && self.met(track, day, PlanePoint { east_m: p.east_m, north_m: p.north_m }) >= LEAST_MET
        }
    }

    /// Expected number of a track's sightings by a place about a day.
    fn met(&self, track: usize, day: f64, place: PlanePoint) -> f64 {
        let day = SeasonDay::from_days(day);
        self.own[track]
            .iter()
            .filter(|(_, at, _)| at.metres_to(place) <= MET_M)
            .map(|(own, _, share)| share * (-0.5 * (own.days_apart(day) / SUPPORT_SD_DAYS).powi(2)).exp())
            .sum()
    }
}

/// The number of sightings that clutter brings together in none of the circles, but for `BY_CHANCE`.
///
/// `clutter` sightings fall anywhere on the lake, so the number in a circle of a `share` of it is Poisson, and `1 / share`
/// circles fit into it (a scan statistic with its circles side by side; Naus 1965, J. Am. Stat. Assoc. 60: 532-538, from
/// memory).
fn more_than_clutter(clutter: f64, share: f64) -> f64 {
    let share = share.clamp(1e-9, 1.0);
    let mean = clutter.max(0.0) * share;
    let (mut term, mut number, mut as_many) = ((-mean).exp(), 0.0, 1.0);
    // Past the mean the chance falls faster than any power, so this ends soon; the bound is for means beyond any log's.
    while as_many / share > BY_CHANCE && number < 10.0 * mean + 100.0 {
        as_many -= term;
        number += 1.0;
        term *= mean / number;
    }
    number
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_thicker_the_clutter_the_more_it_takes() {
        // Worked by hand. Mean 0.5: P(X >= 4) = .00175, P(X >= 5) = .000172; 40 circles: .0701 is below a tenth at 4.
        // Mean 1: P(X >= 5) = .00366, x 40 = .146; P(X >= 6) = .000594, x 40 = .0238.
        for (clutter, number) in [(0.0, 1.0), (20.0, 4.0), (40.0, 6.0)] {
            assert!((more_than_clutter(clutter, 1.0 / 40.0) - number).abs() < 1e-9, "{clutter}");
        }
    }
}
