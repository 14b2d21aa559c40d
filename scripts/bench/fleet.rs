//! Writes a fleet of simulated lakes, each a folder with exports, shoreline and `lake.toml`:
//! `cargo bench --bench fleet -- FOLDER LAKES [SEASONS [OUTINGS [FIRST_SEED]]]`. OUTINGS: of a season, at
//! most; an angler of the simulator goes out on 26 to 40 days of a year.
//!
//! Then `shoalwright run FOLDER/*/lake.toml`, or `scripts/fleet FOLDER`, which also measures each lake. The same words give
//! the same bytes everywhere. Read the header of the simulator before quoting a figure.

#![expect(clippy::unwrap_used, reason = "a bench that cannot go on says so by panicking")]
#![expect(clippy::print_stdout, reason = "what was written is its output")]

#[path = "../../tests/it/lake_files.rs"]
mod lake_files;
#[expect(dead_code, reason = "the bench needs no truth of the marks")]
#[path = "../../tests/it/movement_score.rs"]
mod movement_score;
#[path = "../../tests/it/sightings_of_marks.rs"]
mod sightings_of_marks;
#[expect(dead_code, reason = "the bench needs neither the truth nor other habits")]
#[path = "../../tests/it/simulator/mod.rs"]
mod simulator;

use rayon::prelude::*;
use simulator::{Timing, Wish, simulate};
use std::path::Path;

fn main() {
    let words: Vec<String> = std::env::args().skip(1).filter(|a| a != "--bench").collect();
    let number = |at: usize, default: u64| words.get(at).map_or(default, |word| word.parse().unwrap());
    let Some(folder) = words.first() else {
        println!("say: FOLDER LAKES [SEASONS [OUTINGS [FIRST_SEED]]]");
        return;
    };
    let (lakes, seasons) = (number(1, 1_000), number(2, 2) as usize);
    let (outings, first) = (number(3, 12) as usize, number(4, 5_001));
    (0..lakes).into_par_iter().for_each(|number| {
        let seed = first + number;
        let timing = if seed.is_multiple_of(3) { Timing::Temperature } else { Timing::Date };
        let lake = simulate(Wish { seed, routes: 1 + seed as usize % 4, seasons, timing });
        let name = format!("lake-{:05}", number + 1);
        let lake = lake_files::with_outings(lake, outings);
        lake_files::write_lake(&Path::new(folder).join(&name), &name, &lake);
    });
    println!("{lakes} lakes of {seasons} seasons of at most {outings} outings in {folder}");
}
