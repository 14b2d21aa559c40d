//! Bait sightings as the fit sees them: metres on the plane, feet of depth, a day on the circle.

use crate::schools::Sighting;
use crate::terms::mark::Kind;
use crate::terms::place::PlanePoint;
use crate::terms::units::{Depth, WaterTemp};
use jiff::civil::Date;

/// One sighting in the fit.
#[derive(Clone, Copy, Debug)]
pub(super) struct Observation {
    pub(super) east_m: f64,
    pub(super) north_m: f64,
    pub(super) depth_ft: Option<f64>,
    pub(super) water_temp_c: Option<f64>,
    /// Season day on the clock of the fit.
    pub(super) day: f64,
    /// Season day on the calendar.
    pub(super) calendar_day: f64,
    /// Season label.
    pub(super) season: i16,
    /// Number of its outing among the outings, from 0 in order of date.
    pub(super) outing: usize,
}

impl Observation {
    pub(super) const fn place(&self) -> PlanePoint {
        PlanePoint { east_m: self.east_m, north_m: self.north_m }
    }
}

/// The bait sightings in one order that does not depend on the order they came in.
pub(super) fn bait(sightings: &[Sighting]) -> Vec<Observation> {
    let mut bait: Vec<&Sighting> = sightings
        .iter()
        .filter(|s| s.kind == Kind::Bait && s.plane.east_m.is_finite() && s.plane.north_m.is_finite())
        .collect();
    bait.sort_by(|a, b| {
        let numbers = |s: &Sighting| [s.place.lon, s.place.lat, s.fish_depth.map_or(-1.0, Depth::metres)];
        let by_numbers =
            || numbers(a).iter().zip(numbers(b)).map(|(a, b)| a.total_cmp(&b)).find(|order| order.is_ne());
        (a.day.date, a.time)
            .cmp(&(b.day.date, b.time))
            .then_with(|| by_numbers().unwrap_or(std::cmp::Ordering::Equal))
            .then_with(|| a.id.cmp(&b.id))
    });
    let mut outing = 0;
    let mut last: Option<Date> = None;
    bait.into_iter()
        .map(|s| {
            if last.is_some_and(|date| date != s.day.date) {
                outing += 1;
            }
            last = Some(s.day.date);
            Observation {
                east_m: s.plane.east_m,
                north_m: s.plane.north_m,
                depth_ft: s.fish_depth.map(Depth::feet),
                water_temp_c: s.water_temp.map(WaterTemp::celsius),
                day: s.day.season_day.days(),
                calendar_day: s.day.season_day.days(),
                season: s.day.season,
                outing,
            }
        })
        .collect()
}

/// Fewest bait sightings with which a season counts as one (judgement): fewer are strays, such as a wrong year on a
/// few marks. They are fitted with the rest, but are held out by themselves no more than they tell a shift.
pub(super) const LEAST_IN_SEASON: usize = 5;

/// Seasons with enough sightings to count, ascending.
pub(super) fn seasons_that_count(observations: &[Observation]) -> Vec<i16> {
    let enough =
        |season: &i16| observations.iter().filter(|o| o.season == *season).count() >= LEAST_IN_SEASON;
    seasons(observations).into_iter().filter(enough).collect()
}

/// At most `most` observations, spread evenly over their order.
pub(super) fn spread(observations: &[Observation], most: usize) -> Vec<Observation> {
    let n = observations.len();
    (0..n.min(most)).map(|i| observations[i * n / n.min(most)]).collect()
}

/// Outings numbered without a gap again.
pub(super) fn renumbered(mut observations: Vec<Observation>) -> Vec<Observation> {
    let (mut number, mut last) = (0, None);
    for o in &mut observations {
        if last.is_some_and(|last| last != o.outing) {
            number += 1;
        }
        last = Some(o.outing);
        o.outing = number;
    }
    observations
}

/// Seasons with a sighting, ascending.
pub(super) fn seasons(observations: &[Observation]) -> Vec<i16> {
    let mut seasons: Vec<i16> = observations.iter().map(|o| o.season).collect();
    seasons.sort_unstable();
    seasons.dedup();
    seasons
}
