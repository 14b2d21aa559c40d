//! How well movement tracks tell true routes. Used on simulated lakes only: nobody knows the truth of a real one.
//!
//! `found`: of the days (each fifth) on which a true route is active and at least three of its sightings lie within 15
//! days, the share on which some track lies within 500 m of it. `precision`: the share of the tracks' days within 500 m
//! of a true route active then.

use shoalwright::movement::MovementTrack;
use shoalwright::movement::spline::{Roughness, SeasonBasis, Sums};
use shoalwright::schools::Sighting;
use shoalwright::terms::lake::Lake;
use shoalwright::terms::place::PlanePoint;
use shoalwright::terms::season::SeasonDay;

const NEAR_M: f64 = 500.0;

/// Where a route truly was on a season day of the mean year.
#[derive(Clone, Copy, Debug)]
pub(crate) struct RouteDay {
    /// The day.
    pub(crate) day: f64,
    /// The place.
    pub(crate) place: PlanePoint,
    /// Whether the route exists on that day.
    pub(crate) active: bool,
}

/// A true route, each fifth day.
pub(crate) type Route = Vec<RouteDay>;

/// Sightings with the route that each truly belongs to; `None`: clutter.
#[derive(Clone, Debug)]
pub(crate) struct Known {
    /// Bait sightings.
    pub(crate) sightings: Vec<Sighting>,
    /// Their routes.
    pub(crate) route_of: Vec<Option<usize>>,
    /// The routes.
    pub(crate) routes: Vec<Route>,
}

/// The figures of one lake.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Score {
    /// By the tracks.
    pub(crate) found: f64,
    /// By the same spline when it is told which sighting belongs to which route.
    pub(crate) oracle: f64,
    /// By the mean place of each month.
    pub(crate) monthly: f64,
    /// Of the tracks.
    pub(crate) precision: f64,
    /// The same of the oracle's days.
    pub(crate) oracle_precision: f64,
    /// Routes that could be found.
    pub(crate) routes: usize,
    /// Tracks.
    pub(crate) tracks: usize,
}

/// Scores tracks.
pub(crate) fn score(known: &Known, tracks: &[MovementTrack], lake: &Lake) -> Score {
    let places = |day: f64| places_on(tracks, lake, day);
    let (mut near, mut all) = (0, 0);
    for day in tracks.iter().flat_map(|t| &t.days) {
        let place = lake.to_plane(day.place);
        all += 1;
        near += usize::from(on_a_route(known, day.season_day.days(), place));
    }
    let oracle_days: Vec<(f64, PlanePoint)> = (0..74)
        .map(|k| 5.0 * f64::from(k))
        .flat_map(|day| oracle(known)(day).into_iter().map(move |place| (day, place)))
        .collect();
    let of_oracle = oracle_days.iter().filter(|(day, place)| on_a_route(known, *day, *place)).count();
    Score {
        oracle_precision: of_oracle as f64 / oracle_days.len().max(1) as f64,
        found: found(known, places),
        oracle: found(known, oracle(known)),
        monthly: found(known, |day| monthly(known, day).into_iter().collect()),
        precision: f64::from(near as u32) / f64::from(all.max(1) as u32),
        routes: (0..known.routes.len())
            .filter(|r| known.routes[*r].iter().any(|day| could_be_found(known, *r, day)))
            .count(),
        tracks: tracks.len(),
    }
}

/// Whether a true route is near a place on a fifth day.
fn on_a_route(known: &Known, day: f64, place: PlanePoint) -> bool {
    known
        .routes
        .iter()
        .flatten()
        .any(|r| r.active && (r.day - day).abs() < 0.1 && r.place.metres_to(place) <= NEAR_M)
}

/// Places of the tracks on a fifth day.
fn places_on(tracks: &[MovementTrack], lake: &Lake, day: f64) -> Vec<PlanePoint> {
    tracks
        .iter()
        .flat_map(|t| &t.days)
        .filter(|d| (d.season_day.days() - day).abs() < 0.1)
        .map(|d| lake.to_plane(d.place))
        .collect()
}

fn days_apart(a: f64, b: f64) -> f64 {
    SeasonDay::from_days(a).days_apart(SeasonDay::from_days(b))
}

fn could_be_found(known: &Known, route: usize, day: &RouteDay) -> bool {
    let own = known
        .sightings
        .iter()
        .zip(&known.route_of)
        .filter(|(s, r)| **r == Some(route) && days_apart(s.day.season_day.days(), day.day) <= 15.0);
    day.active && own.count() >= 3
}

fn found(known: &Known, places: impl Fn(f64) -> Vec<PlanePoint>) -> f64 {
    let (mut hits, mut all) = (0, 0);
    for (number, route) in known.routes.iter().enumerate() {
        for day in route.iter().filter(|day| could_be_found(known, number, day)) {
            all += 1;
            hits += usize::from(places(day.day).iter().any(|p| p.metres_to(day.place) <= NEAR_M));
        }
    }
    f64::from(hits as u32) / f64::from(all.max(1) as u32)
}

/// The spline of the tracks, fitted to each route's own sightings, told under the same rule of support.
fn oracle(known: &Known) -> impl Fn(f64) -> Vec<PlanePoint> {
    let basis = SeasonBasis::new(26, Roughness::SecondDifferences);
    let fits: Vec<_> = (0..known.routes.len())
        .map(|route| {
            let own: Vec<&Sighting> = known
                .sightings
                .iter()
                .zip(&known.route_of)
                .filter(|(_, r)| **r == Some(route))
                .map(|(s, _)| s)
                .collect();
            let mut sums = Sums::new(&basis);
            for s in &own {
                sums.add(basis.at(s.day.season_day.days()), [s.plane.east_m, s.plane.north_m], 1.0);
            }
            let days: Vec<f64> = own.iter().map(|s| s.day.season_day.days()).collect();
            (days, sums.fit_smoothest(&basis, 1.0, [0.02, 3000.0]))
        })
        .collect();
    move |day| {
        let near = |days: &[f64]| -> f64 {
            days.iter().map(|d| (-0.5 * (days_apart(*d, day) / 10.0).powi(2)).exp()).sum()
        };
        fits.iter()
            .filter(|(days, _)| near(days) >= 2.0)
            .filter_map(|(_, fit)| fit.as_ref())
            .map(|fit| {
                let [east_m, north_m] = fit.value(basis.at(day));
                PlanePoint { east_m, north_m }
            })
            .collect()
    }
}

/// Mean place of the month's sightings, clutter and all.
fn monthly(known: &Known, day: f64) -> Option<PlanePoint> {
    let month = |day: f64| SeasonDay::from_days(day).month_day()[..2].to_owned();
    let own: Vec<PlanePoint> = known
        .sightings
        .iter()
        .filter(|s| month(s.day.season_day.days()) == month(day))
        .map(|s| s.plane)
        .collect();
    let mean = |of: fn(&PlanePoint) -> f64| own.iter().map(of).sum::<f64>() / own.len() as f64;
    (!own.is_empty()).then(|| PlanePoint { east_m: mean(|p| p.east_m), north_m: mean(|p| p.north_m) })
}
