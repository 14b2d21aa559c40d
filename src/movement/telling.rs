//! From a fitted component to the track that outputs tell.

use super::held_out::Bands;
use super::mixture::{Frame, at, support};
use super::observation::{Observation, seasons};
use super::shift::Fitted;
use super::told::Told;
use super::water_edge::WaterEdge;
use super::way::{Ways, length_m};
use super::{Clock, MovementDay, MovementTrack};
use crate::terms::id::Id;
use crate::terms::lake::Lake;
use crate::terms::mark::Kind;
use crate::terms::place::PlanePoint;
use crate::terms::season::SeasonDay;
use crate::terms::units::Depth;

/// Days between the days of a track.
const STEP_DAYS: usize = 5;
/// 0, 5, ..., 365.
const DAYS: usize = 74;
/// Expected sightings of a season that count as "seen in it".
const SEEN: f64 = 0.5;

/// The tracks that are supported on some day, in order of their first day, numbered from 1. Which days are supported is
/// for the sightings of the fit to say; how many sightings there are, for `all` of them.
pub(super) fn tracks(
    frame: &Frame,
    lake: &Lake,
    fitted: &Fitted,
    all: &[Observation],
    bands: Bands,
    clock: Clock,
) -> Vec<MovementTrack> {
    let edge = lake.water.as_ref().map(|water| WaterEdge::new(water, &lake.plane));
    let ways = Ways::new(lake);
    let told = Told::new(frame, &fitted.mixture, &fitted.observations);
    let on_time: Vec<Observation> = all.iter().map(|o| fitted.on_time(o)).collect();
    let shares = fitted.mixture.shares_in(frame, &on_time);
    let near = support(&on_time, &shares);
    let mut tracks: Vec<MovementTrack> = (0..fitted.mixture.components.len())
        .filter_map(|k| {
            let component = &fitted.mixture.components[k];
            let days: Vec<MovementDay> = days_of_travel(|day| told.on(k, day))
                .into_iter()
                .filter_map(|day| {
                    let p = component.position(frame, day);
                    let point = PlanePoint { east_m: p.east_m, north_m: p.north_m };
                    let place = lake.plane.to_place(point);
                    Some(MovementDay {
                        season_day: SeasonDay::from_days(day),
                        place: edge.as_ref().map_or(Some(place), |edge| edge.in_water(place))?,
                        fish_depth: p.depth.map(|[mean, _]| depth(mean)),
                        fish_depth_band: p.depth.map(|[mean, variance]| {
                            let half = (bands.depth.variances * variance).sqrt();
                            [depth(mean - half), depth(mean + half)]
                        }),
                        band_m: (bands.place.variances * p.place_variance).sqrt(),
                        sightings_near: at(&near[k], day),
                    })
                })
                .collect();
            let place = days.first()?.place;
            let way = ways.through(&days.iter().map(|d| d.place).collect::<Vec<_>>());
            debug_assert!(place.lon.is_finite() && place.lat.is_finite());
            Some(MovementTrack {
                id: id(&days),
                kind: Kind::Bait,
                number: 0,
                sightings: shares.track(k).sum::<f64>().round() as usize,
                seasons: seasons_seen(&on_time, shares.track(k)),
                clock,
                length_m: length_m(&way),
                way,
                days,
            })
        })
        .collect();
    tracks.sort_by(|a, b| {
        a.days[0].season_day.days().total_cmp(&b.days[0].season_day.days()).then_with(|| a.id.cmp(&b.id))
    });
    for (number, track) in (1..).zip(&mut tracks) {
        track.number = number;
    }
    tracks
}

/// The supported days in the order of travel: from the end of the longest stretch without support, or from new year.
fn days_of_travel(supported: impl Fn(f64) -> bool) -> Vec<f64> {
    let day = |i: usize| (i % DAYS * STEP_DAYS) as f64;
    let on: Vec<bool> = (0..DAYS).map(|i| supported(day(i))).collect();
    let gap_before = |i: usize| (1..DAYS).take_while(|back| !on[(i + DAYS - back) % DAYS]).count();
    let first = (0..DAYS).filter(|i| on[*i]).max_by_key(|i| (gap_before(*i), DAYS - i)).unwrap_or(0);
    (first..first + DAYS).filter(|i| on[i % DAYS]).map(day).collect()
}

/// Feet below the surface as a depth; the surface for a band that would reach above it.
fn depth(feet: f64) -> Depth {
    let deepest = Depth::from_metres(Depth::MAX_M);
    Depth::from_feet(feet.max(0.0))
        .or(deepest)
        .unwrap_or_else(|| unreachable!("the deepest depth is a depth"))
}

/// Named by its places to four decimals (11 m): what another processor may round otherwise stays within.
fn id(days: &[MovementDay]) -> Id {
    let parts: Vec<String> = days
        .iter()
        .map(|d| format!("{} {:.4} {:.4}", d.season_day.days(), d.place.lon, d.place.lat))
        .collect();
    Id::of('t', &parts.iter().map(String::as_str).collect::<Vec<_>>())
}

fn seasons_seen(observations: &[Observation], shares: impl Iterator<Item = f64>) -> Vec<i16> {
    let seasons = seasons(observations);
    let mut expected = vec![0.0; seasons.len()];
    for (o, share) in observations.iter().zip(shares) {
        if let Ok(season) = seasons.binary_search(&o.season) {
            expected[season] += share;
        }
    }
    seasons
        .into_iter()
        .zip(expected)
        .filter(|(_, expected)| *expected >= SEEN)
        .map(|(season, _)| season)
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn days_start_after_the_longest_stretch_without_support() {
        let days = days_of_travel(|day| !(30.0..300.0).contains(&day));
        assert_eq!((days[0], days[days.len() - 1], days.len()), (300.0, 25.0, 20));
        let all = days_of_travel(|_| true);
        assert_eq!((all[0], all[73]), (0.0, 365.0));
        assert!(days_of_travel(|_| false).is_empty());
    }
}
