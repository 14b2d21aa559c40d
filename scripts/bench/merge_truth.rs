//! Interpreting and merging against the truth: `cargo bench --bench merge_truth [-- SEED…]` (seeds 1, 2, 3 by default).
//!
//! About 200,000 records of 50,000 presses of the key: three units, five seasons, twelve exports with re-exports,
//! renames, roundings, missing times, times to the minute, a file in local time written as UTC, a file 1024 weeks back,
//! and, in the files whose clock is right, positions swapped, without their sign or in integer angle units, and fixes
//! at 0, 0. In two further files the user moved marks by hand and typed other times. Not planted: minutes glued to degrees,
//! which on so small a lake lie on it either way.
//! Without a shoreline and without track logs, which would help; each file is a unit of its own, as by default.

#![expect(clippy::unwrap_used, reason = "a bench that cannot go on says so by panicking")]
#![expect(clippy::print_stdout, reason = "the figures are its output")]

#[expect(dead_code, reason = "the bench asks for one of its figures")]
#[path = "measure.rs"]
mod measure;
#[path = "../../tests/it/merge_simulator.rs"]
mod merge_simulator;

use jiff::civil::date;
use merge_simulator::{Press, Random, export, exported, lake, pairs_of, presses};
use shoalwright::interpret::{Labels, interpret};
use shoalwright::merge::{Settings, merge};
use shoalwright::terms::export::Export;
use shoalwright::terms::mark::{Fields, Mark, Origin, RawMark, RawTime};
use shoalwright::terms::place::PlanePoint;
use shoalwright::terms::units::Distance;
use std::collections::{BTreeMap, BTreeSet};
use std::time::Instant as Clock;

/// The files whose clock is wrong from end to end: local time as UTC, and a week rollover.
const LOCAL_FILE: u32 = 4;
const ROLLOVER_FILE: u32 = 7;
const ROLLOVER_MS: i64 = 7168 * 86_400_000;
/// Share of the records of the other files whose position is spoilt.
const SPOILT: f64 = 0.01;
/// Files with marks moved by hand and with times typed anew, and the share of them.
const MOVED_FILE: u32 = 5;
const RETIMED_FILE: u32 = 6;
const EDITED: f64 = 0.02;

fn main() {
    let mut seeds: Vec<u64> = std::env::args().filter_map(|a| a.parse().ok()).collect();
    if seeds.is_empty() {
        seeds = vec![1, 2, 3];
    }
    for seed in seeds {
        figures(seed);
    }
}

/// The records as the files hold them, and what is known of them.
#[derive(Default)]
struct Planted {
    raw: Vec<RawMark>,
    /// Number of the press behind each record.
    truth: BTreeMap<Origin, usize>,
    place: BTreeSet<Origin>,
    clock: BTreeSet<Origin>,
    /// Fixes at 0, 0: not in `truth`, as they lie nowhere.
    no_fix: usize,
    /// Records whose place or time the user edited: sound, but told otherwise than by their copies.
    edited: usize,
    /// What each record would say without a planted fault.
    sound: BTreeMap<Origin, Mark>,
}

fn plant(random: &mut Random, presses: &[Press]) -> Planted {
    let mut planted = Planted::default();
    for (press, mut mark) in exported(random, presses).into_iter().flatten() {
        let origin = mark.origin();
        planted.truth.insert(origin, press);
        let (mut lon, mut lat) = (mark.place.lon, mark.place.lat);
        let mut told = mark.time;
        match origin.file.0 {
            LOCAL_FILE => {
                // The simulator's constant five hours give way to the clock on the wall, winter and summer.
                let time = presses[press].time;
                let offset = lake().time_zone.to_offset(time.timestamp().unwrap()).seconds();
                told = Some(time.plus_s(offset.into()));
                mark.time = Some(time);
                planted.clock.insert(origin);
            }
            ROLLOVER_FILE => {
                mark.time = told.map(|t| t.plus_s(ROLLOVER_MS / 1000));
                planted.clock.insert(origin);
            }
            MOVED_FILE if random.chance(EDITED) => {
                let (away, angle) =
                    (15.0 + f64::from(random.below(60)), f64::from(random.below(360)).to_radians());
                let plane = lake().plane;
                let from = plane.to_plane(mark.place);
                let to = PlanePoint {
                    east_m: from.east_m + away * angle.cos(),
                    north_m: from.north_m + away * angle.sin(),
                };
                mark.place = plane.to_place(to);
                (lon, lat) = (mark.place.lon, mark.place.lat);
                planted.edited += 1;
            }
            RETIMED_FILE if mark.time.is_some() && random.chance(EDITED) => {
                told = mark.time.map(|t| t.plus_s(61 + i64::from(random.below(36_000))));
                mark.time = told;
                planted.edited += 1;
            }
            _ if random.chance(SPOILT) => {
                let angle = |deg: f64| (deg * 2_147_483_648.0 / 180.0).round();
                (lon, lat) = match random.below(4) {
                    3 => (0.0, 0.0),
                    0 => (lat, lon),
                    1 => (-lon, lat),
                    _ => (angle(lon), angle(lat)),
                };
                if (lon, lat) == (0.0, 0.0) {
                    planted.truth.remove(&origin);
                    planted.no_fix += 1;
                } else {
                    planted.place.insert(origin);
                }
            }
            _ => {}
        }
        planted.raw.push(RawMark {
            origin,
            lon_deg: lon,
            lat_deg: lat,
            time: told.map_or(RawTime::Missing, RawTime::Instant),
            words: mark.words.clone(),
            fields: Fields::default(),
            note: "".into(),
        });
        planted.sound.insert(origin, mark);
    }
    planted
}

fn figures(seed: u64) {
    let mut random = Random::seeded(seed);
    let presses = presses(&mut random, 330, 9);
    let Planted { raw, truth, place: planted_place, clock: planted_clock, no_fix, edited, sound } =
        plant(&mut random, &presses);
    let records = raw.len();
    let files: Vec<Export> = (0..12).map(|i| export(&format!("export-{i}"))).collect();
    let (cpu, wall) = (measure::cpu_s(), Clock::now());
    let read = interpret(raw, vec![], &files, &lake(), date(2026, 1, 1), &Labels::default());
    let (cpu_read, wall_read) = (measure::cpu_s() - cpu, wall.elapsed());

    // Repaired: place and time as if no fault had been planted (a metre, a second: integer angles are rounded).
    let plane = lake().plane;
    let right = |mark: &Mark| {
        let told = &sound[&mark.origin()];
        let metres = plane.to_plane(mark.place).metres_to(plane.to_plane(told.place));
        metres < 1.0 && mark.time.map(|t| t.unix_ms() / 1000) == told.time.map(|t| t.unix_ms() / 1000)
    };
    let (mut place_mended, mut clock_mended, mut altered) = (0, 0, 0);
    for mark in &read.marks.kept {
        let origin = mark.origin();
        let is_right = right(mark);
        if planted_place.contains(&origin) {
            place_mended += usize::from(is_right);
        } else if planted_clock.contains(&origin) {
            clock_mended += usize::from(is_right);
        } else {
            let told = &sound[&origin];
            altered += usize::from(mark.place != told.place || mark.time != told.time);
        }
    }
    // A sound record set aside is altered, too.
    let spoilt =
        |o: &Origin| planted_place.contains(o) || planted_clock.contains(o) || !truth.contains_key(o);
    altered += read.marks.set_aside.iter().filter(|aside| !spoilt(&aside.origin)).count();

    let set_aside = read.marks.set_aside.len();
    let (cpu, wall) = (measure::cpu_s(), Clock::now());
    // Presses of brush and humps lie at random here, a hundred to a square kilometre: that two of them within 30 m are two
    // is the simulator's word, so the rule that takes them for one is left out.
    let settings = Settings { same_cover: Distance::from_metres(0.0), ..Settings::default() };
    let merged = merge(read.marks.kept, &lake(), &files, &settings);
    let (cpu_merge, wall_merge) = (measure::cpu_s() - cpu, wall.elapsed());
    let told: Vec<Origin> = merged.log.kept.iter().flat_map(|m| m.sources.to_vec()).collect();
    let distinct: BTreeSet<Origin> = told.iter().copied().collect();
    let conserved = merged.log.kept.len() + merged.merged_away.len() + set_aside == records
        && told.len() + set_aside == records
        && distinct.len() == told.len();
    let (said, rightly, truly) = pairs_of(&merged, &truth);
    println!(
        "seed {seed}: {records} records of {} presses -> {} marks, {} merged away, {set_aside} set aside; conservation {}",
        presses.len(),
        merged.log.kept.len(),
        merged.merged_away.len(),
        if conserved { "exact" } else { "BROKEN" },
    );
    println!(
        "  precision {:.5}, recall {:.5} of {truly} pairs; repaired: places {place_mended}/{}, clocks {clock_mended}/{}; \
         sound records altered: {altered}; fixes at 0, 0: {no_fix}, edited by hand: {edited}",
        rightly as f64 / said as f64,
        rightly as f64 / truly as f64,
        planted_place.len(),
        planted_clock.len(),
    );
    println!(
        "  interpret {cpu_read:.1} s CPU ({:.1} s), merge {cpu_merge:.1} s CPU ({:.1} s)",
        wall_read.as_secs_f64(),
        wall_merge.as_secs_f64()
    );
}
