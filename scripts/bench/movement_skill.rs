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
#[path = "../../tests/it/simulated_movement.rs"]
mod simulated_movement;
#[path = "../../tests/it/simulator/mod.rs"]
mod simulator;

use rayon::prelude::*;
use simulated_movement::{Figures, figures};
use simulator::{Timing, Wish};

fn main() {
    let numbers: Vec<u64> = std::env::args().filter_map(|a| a.parse().ok()).collect();
    let lakes = numbers.first().copied().unwrap_or(24);
    let first = numbers.get(1).copied().unwrap_or(101);
    // Each third lake keeps time by the water.
    let all: Vec<Figures> = (first..first + lakes)
        .into_par_iter()
        .map(|seed| {
            figures(Wish::of_seed(seed, if seed % 3 == 0 { Timing::Temperature } else { Timing::Date }))
        })
        .collect();
    for f in &all {
        println!("{f}");
    }
    let mean = |of: fn(&Figures) -> f64| all.iter().map(of).sum::<f64>() / all.len() as f64;
    let (held, of) = all.iter().fold((0, 0), |(a, b), f| (a + f.held, b + f.of));
    println!(
        "{} lakes: found {:.3} of oracle {:.3} (mean share {:.3}), monthly {:.3}, precision {:.3}, tracks right {:.2}, \
         within one {:.2}, band holds {:.3} of {of} held-out sightings",
        all.len(),
        mean(|f| f.score.found),
        mean(|f| f.score.oracle),
        mean(|f| f.score.found / f.score.oracle),
        mean(|f| f.score.monthly),
        mean(|f| f.score.precision),
        mean(|f| f64::from(f.score.tracks == f.score.routes)),
        mean(|f| f64::from(f.score.tracks.abs_diff(f.score.routes) <= 1)),
        f64::from(held as u32) / f64::from(of as u32),
    );
}
