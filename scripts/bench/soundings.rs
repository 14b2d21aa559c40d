//! The bottom of a simulated lake (`tests/it/soundings_simulator.rs`):
//!
//! - `cargo bench --bench soundings -- skill FOLDER SEED`: draws it, prints the error and the CPU time, and writes sound
//!   points, lattice and answers for `scripts/bench/soundings.py`, which has scipy do the same.
//! - `cargo bench --bench soundings -- write FOLDER MILLIONS`: writes so many million soundings as GPX with shoreline, levels
//!   and settings, for `/usr/bin/time -v target/release/shoalwright soundings FOLDER/lake.toml -o FOLDER/out`.

#![expect(clippy::unwrap_used, reason = "a bench that cannot go on says so by panicking")]
#![expect(clippy::print_stdout, reason = "the figures are its output")]

#[path = "../../tests/it/soundings_simulator.rs"]
mod soundings_simulator;

use shoalwright::soundings::{Settings, soundings};
use shoalwright::terms::units::METRES_PER_FOOT;
use soundings_simulator::{FULL_M, Sounded, Wish, simulate};
use std::fmt::Write as _;
use std::fs::{self, File};
use std::io::{BufWriter, Write};
use std::path::Path;
use std::time::Instant;

fn main() {
    let words: Vec<String> = std::env::args().skip(1).filter(|a| a != "--bench").collect();
    match words.iter().map(String::as_str).collect::<Vec<_>>()[..] {
        ["skill", folder, seed] => skill(Path::new(folder), seed.parse().unwrap()),
        ["write", folder, millions] => write(Path::new(folder), millions.parse().unwrap()),
        _ => println!("say: skill FOLDER SEED, or write FOLDER MILLIONS"),
    }
}

fn skill(folder: &Path, seed: u64) {
    let sounded = simulate(Wish { seed, ..Wish::default() });
    let start = Instant::now();
    let bottom = soundings(&sounded.logs, &sounded.exports, &sounded.lake, &Settings::default());
    let drawn_s = start.elapsed().as_secs_f64();
    for finding in &bottom.findings {
        println!("{}: {}; {}", finding.code.word(), finding.seen, finding.done);
    }
    let lattice = sounded.lattice(10.0);
    let start = Instant::now();
    let answers: Vec<f64> = lattice
        .iter()
        .map(|(at, _)| {
            bottom.bed.as_ref().and_then(|bed| bed.depth_m(*at, &sounded.lake)).unwrap_or(f64::NAN)
        })
        .collect();
    println!(
        "stage {drawn_s:.2} s wall, {} places asked in {:.2} s",
        lattice.len(),
        start.elapsed().as_secs_f64()
    );
    fs::create_dir_all(folder).unwrap();
    numbers(folder, "sound", sounded.sound.iter().flatten().copied());
    numbers(folder, "lattice", lattice.iter().flat_map(|(at, depth_m)| [at.east_m, at.north_m, *depth_m]));
    numbers(folder, "answers", answers.into_iter());
}

fn numbers(folder: &Path, name: &str, numbers: impl Iterator<Item = f64>) {
    let bytes: Vec<u8> = numbers.flat_map(f64::to_le_bytes).collect();
    fs::write(folder.join(name), bytes).unwrap();
}

fn write(folder: &Path, millions: f64) {
    // Six hours a track.
    let points = 21_600;
    let tracks = (millions * 1e6 / f64::from(points)).ceil() as u32;
    let sounded = simulate(Wish { radius_m: 4000.0, tracks, points, ..Wish::default() });
    fs::create_dir_all(folder).unwrap();
    for (number, export) in sounded.exports.iter().enumerate() {
        let mut out = BufWriter::new(File::create(folder.join(&export.path)).unwrap());
        gpx(&mut out, &sounded, number as u32);
        out.flush().unwrap();
    }
    let water = sounded.lake.water.as_ref().unwrap().polygons();
    let shoreline = geojson::Geometry::new(geojson::GeometryValue::from(water));
    fs::write(folder.join("shoreline.geojson"), shoreline.to_string()).unwrap();
    let mut levels = String::from("date,level\n");
    for (day, level_m) in &sounded.lake.levels_m {
        writeln!(levels, "{day},{:.2}", level_m / METRES_PER_FOOT).unwrap();
    }
    fs::write(folder.join("levels.csv"), levels).unwrap();
    let settings = format!(
        "[lake]\ntimezone = \"UTC\"\nshoreline = \"shoreline.geojson\"\nlevels = \"levels.csv\"\nfull_pool = \"{} ft\"\n\
         level_datum = \"invented\"\n[[input]]\nfiles = [\"*.gpx\"]\n",
        FULL_M / METRES_PER_FOOT
    );
    fs::write(folder.join("lake.toml"), settings).unwrap();
    println!("{tracks} tracks of {points} soundings");
}

fn gpx(out: &mut impl Write, sounded: &Sounded, file: u32) {
    writeln!(
        out,
        r#"<gpx version="1.1" creator="bench" xmlns="http://www.topografix.com/GPX/1/1" xmlns:u="urn:u">"#
    )
    .unwrap();
    for log in sounded.logs.iter().filter(|log| log.origin.file.0 == file) {
        writeln!(out, "<trk><trkseg>").unwrap();
        for point in log.segments.iter().flatten() {
            let (time, depth_m) = (point.time.unwrap().rfc3339(), point.depth_m.unwrap());
            writeln!(
                out,
                r#"<trkpt lat="{:.7}" lon="{:.7}"><time>{time}</time><extensions><u:depth>{depth_m:.3}</u:depth></extensions></trkpt>"#,
                point.place.lat, point.place.lon
            )
            .unwrap();
        }
        writeln!(out, "</trkseg></trk>").unwrap();
    }
    writeln!(out, "</gpx>").unwrap();
}
