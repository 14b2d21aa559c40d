//! Movement run on a simulated lake, with its figures.

use crate::movement_score::{Known, Score, score};
use crate::sightings_of_marks::bait_sightings;
use crate::simulator::{SimulatedLake, Timing, Wish, simulate};
use shoalwright::movement::{Clock, MovementTrack, Settings, movement};
use shoalwright::schools::Sighting;
use shoalwright::terms::lake::Lake;
use std::fmt;
use std::time::Instant;

/// The figures of one simulated lake.
pub(crate) struct Figures {
    pub(crate) wish: Wish,
    pub(crate) sightings: usize,
    pub(crate) clutter: f64,
    pub(crate) score: Score,
    pub(crate) clock: Option<Clock>,
    /// Sightings of held-out seasons that truly belong to a route, and of these those within the band.
    pub(crate) of: usize,
    pub(crate) held: usize,
    pub(crate) seconds: f64,
}

/// Sightings of a simulated lake with their true routes: the route of most of their marks.
pub(crate) fn known(simulated: &SimulatedLake) -> Known {
    let sightings = bait_sightings(&simulated.marks, &simulated.lake);
    let route_of = sightings
        .iter()
        .map(|s| {
            let votes =
                |route: usize| s.marks.iter().filter(|m| simulated.route_of_mark[**m] == Some(route)).count();
            (0..simulated.routes.len()).filter(|r| 2 * votes(*r) > s.marks.len()).max_by_key(|r| votes(*r))
        })
        .collect();
    Known { sightings, route_of, routes: simulated.routes.clone() }
}

/// Simulates a lake and measures.
pub(crate) fn figures(wish: Wish) -> Figures {
    let simulated = simulate(wish);
    let known = known(&simulated);
    let lake = &simulated.lake;
    let begun = Instant::now();
    let whole = movement(&known.sightings, lake, &Settings::default());
    let seconds = begun.elapsed().as_secs_f64();
    let (mut of, mut held) = (0, 0);
    // The last season held out from a fit of its own; fewer than four seasons leave too few to widen a band by.
    if wish.seasons >= 4 {
        let last = known.sightings.iter().map(|s| s.day.season).max().unwrap();
        let before: Vec<Sighting> = known.sightings.iter().filter(|s| s.day.season < last).cloned().collect();
        let tracks = movement(&before, lake, &Settings::default()).tracks;
        let own = known.sightings.iter().zip(&known.route_of);
        for (s, _) in own.filter(|(s, route)| s.day.season == last && route.is_some()) {
            if let Some(inside) = inside_band(&tracks, lake, s) {
                of += 1;
                held += usize::from(inside);
            }
        }
    }
    Figures {
        wish,
        sightings: known.sightings.len(),
        clutter: known.route_of.iter().filter(|r| r.is_none()).count() as f64 / known.sightings.len() as f64,
        score: score(&known, &whole.tracks, lake),
        clock: whole.tracks.first().map(|t| t.clock),
        of,
        held,
        seconds,
    }
}

/// Whether a sighting lies in the band of the nearest track, in widths of its band; `None` when no track is told on
/// the day or all are more than five sigma off: routes that were missed are outside what a band says.
fn inside_band(tracks: &[MovementTrack], lake: &Lake, sighting: &Sighting) -> Option<bool> {
    let day = (sighting.day.season_day.days() / 5.0).round() * 5.0;
    let bands = tracks.iter().flat_map(|t| &t.days).filter(|d| (d.season_day.days() - day).abs() < 0.1);
    let widths =
        bands.map(|d| lake.to_plane(d.place).metres_to(sighting.plane) / d.band_m).min_by(f64::total_cmp)?;
    // A band is about three sigma wide (a conformal 9.6 against 4.6 sigma squared).
    (widths < 5.0 / 3.1).then_some(widths <= 1.0)
}

impl fmt::Display for Figures {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let s = &self.score;
        write!(
            f,
            "seed {} {:?} {} seasons {} sightings ({:.2} clutter): {} tracks for {} routes, found {:.3} oracle {:.3} monthly {:.3} \
             precision {:.3}, clock {:?}, band {}/{}, {:.1} s",
            self.wish.seed,
            self.wish.timing,
            self.wish.seasons,
            self.sightings,
            self.clutter,
            s.tracks,
            s.routes,
            s.found,
            s.oracle,
            s.monthly,
            s.precision,
            self.clock,
            self.held,
            self.of,
            self.seconds
        )
    }
}

#[test]
fn tracks_on_simulated_lakes_beat_monthly_means() {
    for seed in [1, 2] {
        let f = figures(Wish::of_seed(seed, Timing::Date));
        eprintln!("{f}");
        assert!(f.score.found / f.score.oracle >= 0.55, "seed {seed}");
    }
}
