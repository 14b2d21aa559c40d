//! movement: sightings in, seasonal movement tracks out.
//!
//! Sets aside: nothing; a sighting that fits no track counts as clutter.
//! Does not: say where bait will be on a date (that is `outlook`).
//! Method: sightings that follow one another are chained (`chain`) and the chains joined (`stitch`); a mixture of tracks
//! and clutter is fitted to all of them (`mixture`), and tracks are merged, dropped or added while Schwarz's criterion
//! falls (`select`); seasons are shifted against one another (`shift`); each season is then held out in turn, which
//! chooses the clock and widens the bands (`held_out`). References stand in those files.
//!
//! Where there are more than `MOST_FITTED` sightings, as many of them, spread evenly, are fitted; all are counted.
//!
//! Where a shoreline was given, chains are near by boat and not across land, the places of the days are put into water and
//! the way between them goes through it (`way`). The splines know no shore.

pub mod spline;

mod chain;
mod cholesky;
mod clock;
mod held_out;
mod mixture;
mod observation;
mod prior;
mod select;
mod shift;
mod stitch;
mod telling;
mod told;
mod water_edge;
mod way;

pub use prior::{FittedTracks, TrackPosition, fit_tracks};

use crate::schools::Sighting;
use crate::terms::finding::{Code, Finding};
use crate::terms::id::Id;
use crate::terms::lake::Lake;
use crate::terms::mark::Kind;
use crate::terms::place::Place;
use crate::terms::season::SeasonDay;
use crate::terms::units::Depth;
use crate::travel::WaterDistance;
use clock::ThermalClock;
use geo::{Area, ConvexHull, Coord, MapCoords, MultiPoint, Point};
use held_out::{Bands, Fold, bands, better_folds, folds};
use mixture::Frame;
use observation::{LEAST_IN_SEASON, Observation, renumbered, seasons_that_count, spread};
use serde::{Deserialize, Serialize};
use shift::Fitted;
use std::sync::Arc;

/// What the season is measured by.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Clock {
    /// Calendar date.
    Date,
    /// Water temperature.
    Temperature,
}

/// Fitted place and depth of a body of bait through the season.
#[derive(Clone, Debug, PartialEq)]
pub struct MovementTrack {
    /// Stable name: a hash of the places of its days.
    pub id: Id,
    /// Kind of its sightings.
    pub kind: Kind,
    /// Number among the tracks, from 1, in the order of `first_day`.
    pub number: usize,
    /// Sightings it stands on (expected number, rounded).
    pub sightings: usize,
    /// Seasons in which it was seen, ascending.
    pub seasons: Vec<i16>,
    /// What the season is measured by.
    pub clock: Clock,
    /// Every fifth season day that it is supported on, in the order of travel from its first day.
    pub days: Vec<MovementDay>,
    /// The way through the places of its days: through water where a shoreline was given, else straight. Where no
    /// water leads from one day to the next it is the longest piece.
    pub way: Vec<Place>,
    /// Length of that way in metres.
    pub length_m: f64,
}

/// A track on one season day.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MovementDay {
    /// The day.
    pub season_day: SeasonDay,
    /// Where the bait is held to be.
    pub place: Place,
    /// How deep; `None`: no sighting of the track tells a depth.
    pub fish_depth: Option<Depth>,
    /// The depths between which nine of ten sightings are expected.
    pub fish_depth_band: Option<[Depth; 2]>,
    /// Radius in metres within which nine of ten sightings are expected.
    pub band_m: f64,
    /// Sightings near this day (expected number within a 10-day kernel).
    pub sightings_near: f64,
}

/// What was fitted, or why not.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Movement {
    /// The tracks; empty when refused.
    pub tracks: Vec<MovementTrack>,
    /// `(season, days)`: each season with at least five of the fitted sightings, ascending, and the days by which it
    /// ran against the tracks, positive: later than usual, negative: earlier. Told by the sightings, on the clock of
    /// the tracks; only differences between seasons can be told, so their mean over the fitted sightings of these
    /// seasons is zero. Empty when refused; all zero when no track was found.
    pub season_shifts: Vec<(i16, f64)>,
    /// What is told about the fit.
    pub findings: Vec<Finding>,
}

/// Which clock to use: `[movement] clock`.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum ClockChoice {
    /// Calendar date.
    Date,
    /// Water temperature, where the sightings tell enough of it.
    Temperature,
    /// Calendar date, unless the held-out seasons all speak for water temperature.
    #[default]
    Auto,
}

/// `[movement]`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Settings {
    /// What the season is measured by.
    pub clock: ClockChoice,
    /// Most tracks that are told (judgement: more cannot be told apart on a page).
    pub max_tracks: usize,
}

impl Default for Settings {
    fn default() -> Self {
        Self { clock: ClockChoice::default(), max_tracks: 6 }
    }
}

/// Fewest bait sightings for a fit: on simulated lakes 20 or 40 gave no track, 80 some.
pub const LEAST_SIGHTINGS: usize = 80;
/// Fewest seasons, of five bait sightings or more, for a fit (judgement: with one, a track is one year's story).
pub const LEAST_SEASONS: usize = 2;
/// Seasons, swing of temperature and gain a held-out sighting from which the thermal clock is believed.
const CLOCK_SEASONS: usize = 4;
const CLOCK_AMPLITUDE_F: f64 = 10.0;
const CLOCK_GAIN: f64 = 0.05;

/// Most sightings that are fitted; of more, as many spread evenly over their order by date, time and place. The time of
/// a fit grows with them, and a track on a few hundred sightings is known to within tens of metres.
const MOST_FITTED: usize = 1500;

/// Fits how bait moves through the season.
#[must_use]
pub fn movement(sightings: &[Sighting], lake: &Lake, settings: &Settings) -> Movement {
    movement_with_fit(sightings, lake, settings).0
}

/// The same, with the fit that [`fit_tracks`] gives by the clock that was chosen.
#[must_use]
pub fn movement_with_fit(
    sightings: &[Sighting],
    lake: &Lake,
    settings: &Settings,
) -> (Movement, Option<FittedTracks>) {
    let all = observation::bait(sightings);
    let seasons = seasons_that_count(&all);
    if all.len() < LEAST_SIGHTINGS || seasons.len() < LEAST_SEASONS {
        let strays = observation::seasons(&all).len() - seasons.len();
        let mut seen = format!("`{}` bait sightings in {}", all.len(), told_seasons(seasons.len() + strays));
        if strays > 0 && all.len() >= LEAST_SIGHTINGS {
            seen = format!("{seen}, `{strays}` of them with fewer than {LEAST_IN_SEASON}");
        }
        let refused = Finding::new(Code::MovementRefused, seen)
            .done("no movement was fitted")
            .fix("give exports with at least 80 bait sightings (about 30 a route) in 2 seasons, at least 5 in each");
        return (Movement { findings: vec![refused], ..Movement::default() }, None);
    }
    let frame = frame(&all, lake);
    let warmth = || ThermalClock::fit(&all, &observation::seasons(&all));
    let warmth = (settings.clock != ClockChoice::Date).then(warmth).flatten();
    // The clock is nearly always the date: the fit by it is made while the seasons held out are.
    let by_date = chosen(&all);
    let dated = settings.clock != ClockChoice::Temperature;
    let ((clock, all, folds, clock_finding), fit_by_date) = rayon::join(
        || choose_clock(&frame, all, settings),
        || dated.then(|| shift::fit(&frame, &by_date, settings.max_tracks)),
    );
    let bands = bands(&folds);
    let fitted = fit_by_date
        .filter(|_| clock == Clock::Date)
        .unwrap_or_else(|| shift::fit(&frame, &chosen(&all), settings.max_tracks));
    let tracks = telling::tracks(&frame, lake, &fitted, &all, bands, clock);
    let tracks_finding = told_tracks(&tracks, &fitted, all.len(), bands);
    let shifts = fitted.shifts.clone();
    let fit = FittedTracks::of(frame, fitted, &all, warmth.filter(|_| clock == Clock::Temperature));
    (Movement { tracks, season_shifts: shifts, findings: vec![clock_finding, tracks_finding] }, fit)
}

/// The observations that are fitted.
fn chosen(all: &[Observation]) -> Vec<Observation> {
    renumbered(spread(all, MOST_FITTED))
}

fn told_seasons(count: usize) -> String {
    format!("`{count}` {}", if count == 1 { "season" } else { "seasons" })
}

/// Where clutter may lie: the hull of the sightings, or the lake when that is smaller; down to the deepest sighting.
fn frame(observations: &[Observation], lake: &Lake) -> Frame {
    let points: MultiPoint<f64> = observations.iter().map(|o| Point::new(o.east_m, o.north_m)).collect();
    let hull_m2 = points.convex_hull().unsigned_area();
    let lake_m2 = lake.water.as_ref().map_or(f64::INFINITY, |water| {
        water
            .polygons()
            .map_coords(|c| {
                let p = lake.to_plane(Place { lon: c.x, lat: c.y });
                Coord { x: p.east_m, y: p.north_m }
            })
            .unsigned_area()
    });
    let deepest_ft = observations.iter().filter_map(|o| o.depth_ft).fold(0.0, f64::max);
    let water = lake.water.as_ref().map(|water| Arc::new(WaterDistance::new(water, &lake.plane)));
    Frame::new(hull_m2.min(lake_m2), deepest_ft, water)
}

/// The clock, all observations on it, and the held-out seasons on it.
fn choose_clock(
    frame: &Frame,
    observations: Vec<Observation>,
    settings: &Settings,
) -> (Clock, Vec<Observation>, Vec<Fold>, Finding) {
    let told = |seen: String| Finding::new(Code::MovementClock, seen);
    let by_date = |observations: Vec<Observation>, seen: String| {
        let held = folds(frame, &chosen(&observations), settings.max_tracks);
        (Clock::Date, observations, held, told(seen))
    };
    if settings.clock == ClockChoice::Date {
        return by_date(observations, "the season is measured by date, as the settings say".into());
    }
    let Some(thermal) = ThermalClock::fit(&observations, &observation::seasons(&observations)) else {
        let seen = "the season is measured by date: too few outings tell a water temperature".into();
        return by_date(observations, seen);
    };
    let warmed: Vec<Observation> = observations
        .iter()
        .map(|o| Observation { day: thermal.day(o.season, o.calendar_day), ..*o })
        .collect();
    if settings.clock == ClockChoice::Temperature {
        let held = folds(frame, &chosen(&warmed), settings.max_tracks);
        let seen = "the season is measured by water temperature, as the settings say".into();
        return (Clock::Temperature, warmed, held, told(seen));
    }
    let amplitude_f = thermal.amplitude_c * 1.8;
    let (by_day, by_warmth) = (chosen(&observations), chosen(&warmed));
    let seasons = seasons_that_count(&by_day).len();
    if seasons < CLOCK_SEASONS || amplitude_f < CLOCK_AMPLITUDE_F {
        let seen = format!(
            "the season is measured by date: {} and a yearly swing of `{amplitude_f:.0} F` about its mean; \
             water temperature is tried from {CLOCK_SEASONS} seasons and {CLOCK_AMPLITUDE_F:.0} F",
            told_seasons(seasons)
        );
        return by_date(observations, seen);
    }
    let dated = folds(frame, &by_day, settings.max_tracks);
    let Some(thermal) = better_folds(frame, &by_warmth, settings.max_tracks, &dated) else {
        let seen = "the season is measured by date: not every season held out is foretold better by water temperature";
        return (Clock::Date, observations, dated, told(seen.into()));
    };
    let gain = thermal.iter().zip(&dated).map(|(t, d)| t.log - d.log).sum::<f64>() / by_day.len() as f64;
    let figures = format!(
        "each of `{seasons}` seasons held out is foretold better by water temperature, by `{gain:.2}` in log density a sighting"
    );
    if gain > CLOCK_GAIN {
        let seen = format!("the season is measured by water temperature: {figures}");
        (Clock::Temperature, warmed, thermal, told(seen))
    } else {
        let seen = format!("the season is measured by date: {figures}, which is not enough");
        (Clock::Date, observations, dated, told(seen))
    }
}

/// How many tracks, how sure, what they were fitted to, and what the bands stand on.
fn told_tracks(tracks: &[MovementTrack], fitted: &Fitted, of: usize, bands: Bands) -> Finding {
    let in_tracks: usize = tracks.iter().map(|t| t.sightings).sum();
    let mut seen = if tracks.is_empty() {
        format!("no track stands out among `{of}` bait sightings")
    } else {
        format!(
            "`{}` movement {}, give or take one; `{in_tracks}` of `{of}` bait sightings belong to {}",
            tracks.len(),
            if tracks.len() == 1 { "track" } else { "tracks" },
            if tracks.len() == 1 { "it" } else { "them" },
        )
    };
    let fitted = fitted.observations.len();
    if fitted < of {
        seen = format!(
            "{seen}; fitted to `{fitted}` of them, spread evenly in order of time: a rare track may be missed"
        );
    }
    Finding::new(Code::MovementTracks, seen).done(told_bands(bands))
}

/// What the widths of the bands stand on.
fn told_bands(bands: Bands) -> String {
    let Some([near, of]) = bands.place.near else {
        return "the bands are not checked: that needs 3 seasons, held out one by one, with 20 sightings near a track"
            .to_owned();
    };
    let widths = format!(
        "widths taken from seasons held out: nine of ten of the `{near}` of `{of}` held-out sightings that lay near a track"
    );
    if bands.checked() {
        widths
    } else {
        format!("{widths}; the bands of depth are not checked: fewer than 20 of those tell a depth")
    }
}
