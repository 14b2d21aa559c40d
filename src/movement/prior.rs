//! Fitted tracks as later stages use them: where each is on a day, and which sightings are its own.

use super::clock::ThermalClock;
use super::mixture::{Frame, Shares};
use super::observation::{self, Observation};
use super::shift::{self, Fitted};
use super::{Clock, LEAST_SEASONS, LEAST_SIGHTINGS, Settings, chosen, frame};
use crate::schools::Sighting;
use crate::terms::lake::Lake;
use crate::terms::mark::LocalDay;
use crate::terms::place::PlanePoint;

/// Tracks fitted to sightings, with the clock that they keep.
#[derive(Clone, Debug)]
pub struct FittedTracks {
    frame: Frame,
    fitted: Fitted,
    thermal: Option<ThermalClock>,
    on_time: Vec<Observation>,
    shares: Shares,
}

/// Where a track is on a day.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TrackPosition {
    /// The place.
    pub place: PlanePoint,
    /// Variance of one coordinate of its sightings in square metres, with that of the fitted place.
    pub variance_m2: f64,
    /// Mean depth in feet and its variance; `None`: too few of its sightings tell one.
    pub depth_ft: Option<[f64; 2]>,
}

/// Fits tracks by a clock that was chosen before; `None` where there are too few sightings or seasons for it, or no
/// track stands out.
#[must_use]
pub fn fit_tracks(
    sightings: &[Sighting],
    lake: &Lake,
    settings: &Settings,
    clock: Clock,
) -> Option<FittedTracks> {
    let mut all = observation::bait(sightings);
    if all.len() < LEAST_SIGHTINGS || observation::seasons_that_count(&all).len() < LEAST_SEASONS {
        return None;
    }
    let frame = frame(&all, lake);
    let thermal =
        (clock == Clock::Temperature).then(|| ThermalClock::fit(&all, &observation::seasons(&all))).flatten();
    if let Some(thermal) = &thermal {
        for o in &mut all {
            o.day = thermal.day(o.season, o.calendar_day);
        }
    }
    let fitted = shift::fit(&frame, &chosen(&all), settings.max_tracks);
    FittedTracks::of(frame, fitted, &all, thermal)
}

impl FittedTracks {
    /// `None` when no track stands out. `all` are the sightings on the clock of the fit.
    pub(super) fn of(
        frame: Frame,
        fitted: Fitted,
        all: &[Observation],
        thermal: Option<ThermalClock>,
    ) -> Option<Self> {
        if fitted.mixture.components.is_empty() {
            return None;
        }
        let on_time: Vec<Observation> = all.iter().map(|o| fitted.on_time(o)).collect();
        let shares = fitted.mixture.shares_in(&frame, &on_time);
        Some(Self { frame, fitted, thermal, on_time, shares })
    }

    /// How many tracks; they are numbered from 0 here.
    #[must_use]
    pub fn len(&self) -> usize {
        self.shares.tracks
    }

    /// Never: without tracks there is no fit.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// The day of the mean year that an outing corresponds to: its date, moved by what the water and the sightings of
    /// its season tell. A season of which nothing is known runs like the mean year.
    #[must_use]
    pub fn on_time(&self, day: LocalDay) -> f64 {
        let calendar = day.season_day.days();
        let warmed = self.thermal.as_ref().map_or(calendar, |thermal| thermal.day(day.season, calendar));
        let late = self.fitted.shifts.iter().find(|(season, _)| *season == day.season).map_or(0.0, |s| s.1);
        warmed - late
    }

    /// The day of the mean year on which the water is as warm, nearest to a date and at most 30 days from it; `None`
    /// where the tracks keep time by the date, or the water is never so warm about that time.
    #[must_use]
    pub fn day_of_warmth(&self, day: LocalDay, celsius: f64) -> Option<f64> {
        self.thermal.as_ref()?.day_of_warmth(day.season_day.days(), celsius)
    }

    /// Spread of the days by which seasons ran early or late (root mean square).
    #[must_use]
    pub fn shift_sd_days(&self) -> f64 {
        let shifts = &self.fitted.shifts;
        (shifts.iter().map(|(_, days)| days * days).sum::<f64>() / shifts.len().max(1) as f64).sqrt()
    }

    /// Where a track is on a day of the mean year.
    #[must_use]
    pub fn position(&self, track: usize, day: f64) -> TrackPosition {
        let p = self.fitted.mixture.components[track].position(&self.frame, day);
        TrackPosition {
            place: PlanePoint { east_m: p.east_m, north_m: p.north_m },
            variance_m2: p.place_variance,
            depth_ft: p.depth,
        }
    }

    /// Each bait sighting's day of the mean year and its share in a track.
    pub fn sightings_of(&self, track: usize) -> impl Iterator<Item = (f64, f64)> + '_ {
        self.on_time.iter().map(|o| o.day).zip(self.shares.track(track))
    }

    /// Each bait sighting's day of the mean year and the share of no track.
    pub fn clutter(&self) -> impl Iterator<Item = (f64, f64)> + '_ {
        (0..self.on_time.len()).map(|i| (self.on_time[i].day, 1.0 - self.shares.of(i).iter().sum::<f64>()))
    }
}
