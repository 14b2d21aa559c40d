//! Pace of movement: `cargo bench --bench movement_pace [-- SIGHTINGS...]`.
//!
//! Seconds and peak memory of the process for each number of bait sightings. They are those of one simulated lake
//! (three routes, four seasons), repeated with a scatter of 60 m, 2 ft and 2 days. `VmHWM` of `/proc/self/status` is
//! the memory, so Linux only; it holds the sightings themselves. "fitted" is `movement` alone.

#![expect(clippy::unwrap_used, reason = "a bench that cannot go on says so by panicking")]
#![expect(clippy::print_stdout, reason = "the figures are its output")]

#[expect(dead_code, reason = "the bench asks for one of its figures")]
#[path = "measure.rs"]
mod measure;
#[expect(dead_code, reason = "the bench uses the truth of a lake only as the simulator hands it on")]
#[path = "../../tests/it/movement_score.rs"]
mod movement_score;
#[path = "../../tests/it/sightings_of_marks.rs"]
mod sightings_of_marks;
#[expect(dead_code, reason = "the bench needs neither track logs nor the truth")]
#[path = "../../tests/it/simulator/mod.rs"]
mod simulator;

use shoalwright::movement::{Settings, movement};
use shoalwright::schools::Sighting;
use shoalwright::terms::id::Id;
use shoalwright::terms::lake::Lake;
use shoalwright::terms::units::Depth;
use simulator::{Timing, Wish, simulate};
use std::process::Command;
use std::time::Instant;

const SIZES: [usize; 6] = [1_000, 5_000, 20_000, 60_000, 200_000, 1_000_000];

fn main() {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    if let [one, size] = arguments.as_slice()
        && one == "one"
    {
        return measure(size.parse().unwrap());
    }
    let asked: Vec<usize> = arguments.iter().filter_map(|a| a.parse().ok()).collect();
    println!("{:>10} {:>10} {:>10} {:>10} {:>7}", "sightings", "fitted s", "before MB", "peak MB", "tracks");
    for size in if asked.is_empty() { SIZES.to_vec() } else { asked } {
        // A process each, as the peak of memory is that of a process.
        let done =
            Command::new(std::env::current_exe().unwrap()).args(["one", &size.to_string()]).output().unwrap();
        print!("{}", String::from_utf8(done.stdout).unwrap());
        assert!(done.status.success(), "{}", String::from_utf8_lossy(&done.stderr));
    }
}

fn measure(size: usize) {
    let simulated = simulate(Wish { seed: 7, routes: 3, seasons: 4, timing: Timing::Date });
    let sightings = repeated(&simulated.known().sightings, &simulated.lake, size);
    let before_mb = measure::peak_mb("self").unwrap();
    let begun = Instant::now();
    let found = movement(&sightings, &simulated.lake, &Settings::default());
    let seconds = begun.elapsed().as_secs_f64();
    println!(
        "{size:>10} {seconds:>10.2} {before_mb:>10.0} {:>10.0} {:>7}",
        measure::peak_mb("self").unwrap(),
        found.tracks.len()
    );
}

/// `size` sightings: the given ones over and over, scattered.
fn repeated(sightings: &[Sighting], lake: &Lake, size: usize) -> Vec<Sighting> {
    (0..size)
        .map(|k| {
            let mut s = sightings[k % sightings.len()].clone();
            let of = |salt: u64| 2.0 * scatter(k, salt) - 1.0;
            s.id = Id::of('s', &[&k.to_string()]);
            s.plane.east_m += 60.0 * of(1);
            s.plane.north_m += 60.0 * of(2);
            s.place = lake.plane.to_place(s.plane);
            s.fish_depth =
                s.fish_depth.map(|d| Depth::from_feet((d.feet() + 2.0 * of(3)).max(0.0)).unwrap_or(d));
            let days = jiff::Span::new().days((2.5 * of(4)) as i64);
            s.day = lake.day(s.day.date.checked_add(days).unwrap());
            s
        })
        .collect()
}

/// A number in 0..1 that looks random and is the same for the same `k`.
fn scatter(k: usize, salt: u64) -> f64 {
    let mut z = (k as u64 + 1).wrapping_mul(0x9e37_79b9_7f4a_7c15) ^ salt.wrapping_mul(0xbf58_476d_1ce4_e5b9);
    z = (z ^ (z >> 31)).wrapping_mul(0x94d0_49bb_1331_11eb);
    ((z ^ (z >> 29)) >> 11) as f64 / (1_u64 << 53) as f64
}
