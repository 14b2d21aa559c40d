//! Skill of sightings and holding areas on simulated lakes, and what distance through water gains on dendritic ones:
//! `cargo bench --bench schools_skill [-- broad|dendritic|null [LAKES [FIRST_SEED]]]`.
//!
//! `null`: gamefish strewn along the tracks, singly and in bunches of four; how often the pairing is called no chance.
//! Prints a line a lake and the means. "straight" is the same log on a lake whose shoreline was not given. Read the header
//! of the simulator before quoting a figure.

#![expect(clippy::unwrap_used, reason = "a bench that cannot go on says so by panicking")]
#![expect(clippy::print_stdout, reason = "the figures are its output")]

#[expect(dead_code, reason = "the monthly mean is for the bench of movement")]
#[path = "../../tests/it/movement_score.rs"]
mod movement_score;
#[path = "../../tests/it/rand_index.rs"]
mod rand_index;
#[path = "../../tests/it/schools_score.rs"]
mod schools_score;
#[path = "../../tests/it/sightings_of_marks.rs"]
mod sightings_of_marks;
#[expect(dead_code, reason = "what a lake is like on other days is for the bench of the outlook")]
#[path = "../../tests/it/simulator/mod.rs"]
mod simulator;
#[path = "../../tests/it/strewn.rs"]
mod strewn;
#[path = "../../tests/it/water_gain.rs"]
mod water_gain;

use movement_score::{Known, score};
use rayon::prelude::*;
use schools_score::{areas_index, sightings_index};
use shoalwright::movement::{Settings, movement};
use shoalwright::schools::{AreaSettings, SightingSettings, schools};
use shoalwright::terms::lake::Lake;
use simulator::{SimulatedLake, Timing, Wish, simulate};
use std::fmt;
use strewn::{Dice, strewn};
use water_gain::{grouped, lake};

fn main() {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let numbers: Vec<u64> = arguments.iter().filter_map(|a| a.parse().ok()).collect();
    let lakes = numbers.first().copied().unwrap_or(24);
    let seeds = || {
        let first = numbers.get(1).copied().unwrap_or(401);
        (first..first + lakes).into_par_iter()
    };
    let wanted = |part: &str| {
        arguments.iter().all(|a| !["broad", "dendritic", "null"].contains(&a.as_str()) || a == part)
    };
    if wanted("broad") {
        broad(&seeds().map(|seed| (seed, on_broad(seed))).collect::<Vec<_>>());
    }
    if wanted("dendritic") {
        dendritic(&seeds().map(|seed| (seed, gain(seed))).collect::<Vec<_>>());
    }
    if wanted("null") {
        for bunch in [1, 4] {
            null(bunch, &seeds().filter_map(|seed| pairing_p(seed, bunch)).collect::<Vec<_>>());
        }
    }
}

/// The wish of a seed, as in `movement_skill`.
fn wish(seed: u64) -> Wish {
    let timing = if seed.is_multiple_of(3) { Timing::Temperature } else { Timing::Date };
    Wish { seed, routes: 1 + seed as usize % 4, seasons: 3 + seed as usize / 4 % 4, timing }
}

/// Index of the sightings and of the areas.
fn on_broad(seed: u64) -> [f64; 2] {
    let lake = simulate(wish(seed));
    let found =
        schools(&lake.marks, &[], &lake.lake, &SightingSettings::default(), &AreaSettings::default(), 1);
    let of = |mark: usize| lake.origin_of_mark[mark];
    let place = |mark: usize| of(mark).route.map(|route| (route, of(mark).site));
    [sightings_index(&found.sightings, |mark| of(mark).school), areas_index(&found.sightings, place)]
}

fn broad(lakes: &[(u64, [f64; 2])]) {
    for (seed, [sightings, areas]) in lakes {
        println!("seed {seed}: sightings {sightings:.3}, areas {areas:.3}");
    }
    let column = |k: usize| lakes.iter().map(move |(_, f)| f[k]);
    let mean = |k: usize| column(k).sum::<f64>() / lakes.len() as f64;
    let least = |k: usize| column(k).fold(f64::INFINITY, f64::min);
    println!(
        "{} lakes: sightings mean {:.3}, least {:.3}; areas mean {:.3}, least {:.3}",
        lakes.len(),
        mean(0),
        least(0),
        mean(1),
        least(1)
    );
}

/// The chance that is told for gamefish that have nothing to do with bait; `None`: too few were marked.
fn pairing_p(seed: u64, bunch: usize) -> Option<f64> {
    let lake = simulate(wish(seed));
    let log = strewn(&lake.marks, &lake.track_logs, &lake.lake, bunch, &mut Dice(seed + 5));
    let (sightings, areas) = (SightingSettings::default(), AreaSettings::default());
    let found = schools(&log, &lake.track_logs, &lake.lake, &sightings, &areas, 1);
    Some(found.pairing?.test?.p)
}

fn null(bunch: usize, p: &[f64]) {
    let below = |level: f64| p.iter().filter(|p| **p <= level).count();
    println!(
        "gamefish strewn, {bunch} to a place: of {} lakes {} at .05 or below, {} at .01, {} at .20, {} at .50",
        p.len(),
        below(0.05),
        below(0.01),
        below(0.2),
        below(0.5)
    );
}

fn dendritic(lakes: &[(u64, [Gain; 2])]) {
    for (seed, [straight, through_water]) in lakes {
        println!("seed {seed} straight: {straight}");
        println!("seed {seed} by boat:  {through_water}");
    }
    for (k, name) in ["straight", "by boat"].into_iter().enumerate() {
        println!(
            "{} lakes, {name}: {}",
            lakes.len(),
            mean(&lakes.iter().map(|(_, both)| both[k]).collect::<Vec<_>>())
        );
    }
    let better = |of: fn(&Gain) -> f64| lakes.iter().filter(|(_, [a, b])| of(b) > of(a)).count();
    let worse = |of: fn(&Gain) -> f64| lakes.iter().filter(|(_, [a, b])| of(b) < of(a)).count();
    println!(
        "by boat better / worse: areas {} / {}, chains {} / {}, found {} / {}, precision {} / {}",
        better(|g| g.areas),
        worse(|g| g.areas),
        better(|g| g.chains),
        worse(|g| g.chains),
        better(|g| g.found),
        worse(|g| g.found),
        better(|g| g.precision),
        worse(|g| g.precision),
    );
}

fn mean(of: &[Gain]) -> Gain {
    let mean = |value: fn(&Gain) -> f64| of.iter().map(value).sum::<f64>() / of.len() as f64;
    Gain {
        areas: mean(|g| g.areas),
        chains: mean(|g| g.chains),
        found: mean(|g| g.found),
        precision: mean(|g| g.precision),
        tracks_off: mean(|g| g.tracks_off),
        tracks_right: mean(|g| g.tracks_right),
    }
}

/// The figures of one lake by one distance.
#[derive(Clone, Copy, Debug, Default)]
struct Gain {
    /// Index of the holding areas against (route, site).
    areas: f64,
    /// Index of the neighbourhoods that tracks start from, against routes.
    chains: f64,
    /// Of the movement tracks, as `movement_score` has them.
    found: f64,
    precision: f64,
    tracks_off: f64,
    tracks_right: f64,
}

impl fmt::Display for Gain {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "areas {:.3}, chains {:.3}, found / oracle {:.3}, precision {:.3}, tracks right {:.2}, off by {:.2}",
            self.areas, self.chains, self.found, self.precision, self.tracks_right, self.tracks_off
        )
    }
}

/// The figures of a lake: straight, and through water.
fn gain(seed: u64) -> [Gain; 2] {
    let (simulated, without) = lake(seed);
    [&without, &simulated.lake].map(|lake| figures(&simulated, lake))
}

fn figures(simulated: &SimulatedLake, lake: &Lake) -> Gain {
    let (sightings, [areas, chains]) = grouped(simulated, lake);
    let route_of = sightings.iter().map(|s| simulated.origin_of_mark[s.marks[0]].route).collect();
    let known = Known { sightings, route_of, routes: simulated.routes.clone() };
    let s = score(&known, &movement(&known.sightings, lake, &Settings::default()).tracks, lake);
    Gain {
        areas,
        chains,
        found: s.found / s.oracle,
        precision: s.precision,
        tracks_off: s.tracks.abs_diff(s.routes) as f64,
        tracks_right: f64::from(s.tracks == s.routes),
    }
}
