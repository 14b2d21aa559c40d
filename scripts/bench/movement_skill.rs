//! Skill of movement on simulated lakes: `cargo bench --bench movement_skill [-- LAKES [FIRST_SEED]]`.
//!
//! Prints a line a lake and the means, with the cover of the 90 % band on seasons held out. Read the header of the
//! simulator before quoting a figure.

#![expect(clippy::unwrap_used, reason = "a bench that cannot go on says so by panicking")]
#![expect(clippy::print_stdout, reason = "the figures are its output")]

#[path = "../../tests/it/movement_score.rs"]
mod movement_score;
#[path = "../../tests/it/sightings_of_marks.rs"]
mod sightings_of_marks;
#[expect(dead_code, reason = "habits and schools of a lake are for the bench of the outlook")]
#[path = "../../tests/it/simulator/mod.rs"]
mod simulator;

use movement_score::{Score, score};
use rayon::prelude::*;
use shoalwright::movement::{Clock, MovementTrack, Settings, movement};
use shoalwright::schools::Sighting;
use shoalwright::terms::lake::Lake;
use simulator::{Timing, Wish, simulate};
use std::fmt;
use std::time::Instant;

fn main() {
    let numbers: Vec<u64> = std::env::args().filter_map(|a| a.parse().ok()).collect();
    let lakes = numbers.first().copied().unwrap_or(24);
    let first = numbers.get(1).copied().unwrap_or(101);
    // One to four routes, three to six seasons; each third lake keeps time by the water.
    let all: Vec<Figures> = (first..first + lakes)
        .into_par_iter()
        .map(|seed| {
            let timing = if seed % 3 == 0 { Timing::Temperature } else { Timing::Date };
            let (routes, seasons) = (1 + seed as usize % 4, 3 + seed as usize / 4 % 4);
            figures(Wish { seed, routes, seasons, timing })
        })
        .collect();
    for f in &all {
        println!("{f}");
    }
    let mean = |of: fn(&Figures) -> f64| all.iter().map(of).sum::<f64>() / all.len() as f64;
    let (held, of) = all.iter().fold((0, 0), |(a, b), f| (a + f.held, b + f.of));
    println!(
        "{} lakes: found {:.3} of oracle {:.3} (mean share {:.3}), monthly {:.3}, precision {:.3} (oracle {:.3}), tracks right {:.2}, \
         within one {:.2}, band holds {:.3} of {of} held-out sightings",
        all.len(),
        mean(|f| f.score.found),
        mean(|f| f.score.oracle),
        mean(|f| f.score.found / f.score.oracle),
        mean(|f| f.score.monthly),
        mean(|f| f.score.precision),
        mean(|f| f.score.oracle_precision),
        mean(|f| f64::from(f.score.tracks == f.score.routes)),
        mean(|f| f64::from(f.score.tracks.abs_diff(f.score.routes) <= 1)),
        f64::from(held as u32) / f64::from(of as u32),
    );
}

/// The figures of one simulated lake.
struct Figures {
    wish: Wish,
    outings: usize,
    sightings: usize,
    clutter: f64,
    score: Score,
    clock: Option<Clock>,
    /// Sightings of held-out seasons that truly belong to a route, and of these those within the band.
    of: usize,
    held: usize,
    seconds: f64,
}

/// Simulates a lake and measures.
fn figures(wish: Wish) -> Figures {
    let simulated = simulate(wish);
    let known = simulated.known();
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
        outings: simulated.track_logs.len(),
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
            "seed {} {:?} {} seasons {} outings {} sightings ({:.2} clutter): {} tracks for {} routes, found {:.3} oracle {:.3} monthly {:.3} \
             precision {:.3} oracle {:.3}, clock {:?}, band {}/{}, {:.1} s",
            self.wish.seed,
            self.wish.timing,
            self.wish.seasons,
            self.outings,
            self.sightings,
            self.clutter,
            s.tracks,
            s.routes,
            s.found,
            s.oracle,
            s.monthly,
            s.precision,
            s.oracle_precision,
            self.clock,
            self.held,
            self.of,
            self.seconds
        )
    }
}
