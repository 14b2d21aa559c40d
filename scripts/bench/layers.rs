//! Time and peak memory of writing a million marks as GeoJSON, GeoPackage and CSV, beside making the marks and writing
//! nothing, and beside GDAL's `ogr2ogr` from that GeoJSON to GeoPackage and CSV (if installed).
//!
//! `cargo bench --bench layers [-- MARKS]`. Writes into `target/bench`, each writer in a process of its own, in turn. Linux:
//! CPU time is that of `/proc/self/stat` in ticks of 10 ms (our own and that of children), memory is `VmHWM`.

#![expect(
    clippy::unwrap_used,
    clippy::print_stdout,
    reason = "a measuring program: it prints, and stops at an error"
)]

#[path = "measure.rs"]
mod measure;

use jiff::civil::date;
use rusqlite::Connection;
use shoalwright::layers::{Results, all, geojson, geopackage, tables};
use shoalwright::terms::codes::Codes;
use shoalwright::terms::export::FileId;
use shoalwright::terms::id::Id;
use shoalwright::terms::instant::Instant;
use shoalwright::terms::lake::Lake;
use shoalwright::terms::mark::{Kind, Mark, Origin, Words};
use shoalwright::terms::place::Place;
use shoalwright::terms::units::{Depth, WaterTemp};
use std::fs::{self, File};
use std::io::{BufWriter, Write};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::thread::sleep;
use std::time::{Duration, Instant as Clock};

const WRITERS: [&str; 6] = ["nothing", "geojson", "gpkg", "csv", "ogr2ogr gpkg", "ogr2ogr csv"];

fn main() {
    let args: Vec<String> = std::env::args().skip(1).filter(|arg| arg != "--bench").collect();
    if let [writer, marks] = &args[..] {
        return measure(writer, marks.parse().unwrap());
    }
    let marks = args.first().map_or("1000000", String::as_str);
    fs::create_dir_all(folder()).unwrap();
    println!(
        "{marks} marks\n{:<14} {:>8} {:>8} {:>9} {:>9}",
        "writer", "cpu s", "wall s", "peak MB", "file MB"
    );
    for writer in WRITERS {
        if writer.starts_with("ogr2ogr") && Command::new("ogr2ogr").arg("--version").output().is_err() {
            continue;
        }
        let output = Command::new(std::env::current_exe().unwrap()).args([writer, marks]).output().unwrap();
        assert!(output.status.success(), "{writer}: {}", String::from_utf8_lossy(&output.stderr));
        print!("{}", String::from_utf8_lossy(&output.stdout));
    }
}

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("target/bench")
}

/// A log over a lake of some 20 km, in no order of place.
fn log(marks: u32) -> Vec<Mark> {
    // Steps of a linear congruence (Knuth's MMIX constants): places without order, the same on every machine.
    let mut state = 1_u64;
    let mut share = move || {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (state >> 11) as f64 / (1_u64 << 53) as f64
    };
    let lake = Lake::unknown_at(Place { lon: -56.0, lat: 36.0 });
    (0..marks)
        .map(|n| {
            let time = Instant::from_unix_s(1_600_000_000 + i64::from(n) * 97);
            let origin =
                Origin { file: FileId(0), record: n + 1, line: n * 8, bytes: 300, start: u64::from(n) * 300 };
            Mark {
                id: Id::of('m', &[&n.to_string()]),
                place: Place { lon: -56.1 + 0.2 * share(), lat: 35.9 + 0.2 * share() },
                time: Some(time),
                day: lake.day_of(time).or_else(|| Some(lake.day(date(2024, 1, 1)))),
                kind: Kind::ALL[n as usize % 7],
                fish_depth: Depth::from_feet(60.0 * share()),
                water_depth: Depth::from_feet(60.0 + 30.0 * share()),
                water_temp: WaterTemp::from_fahrenheit(40.0 + 40.0 * share()),
                words: Words::new(&format!("SHAD {n}"), "Fish", "bait", "thick, with gamefish under it", ""),
                note: "".into(),
                sources: vec![origin].into(),
                repairs: Codes::default(),
            }
        })
        .collect()
}

/// Writes in one way; prints the writer, CPU seconds, wall seconds, peak megabytes and the size of the file.
fn measure(writer: &str, marks: u32) {
    let path = |ending: &str| folder().join(format!("layers-{marks}.{ending}"));
    let start = Clock::now();
    let (file, peak_mb) = if let Some(format) = writer.strip_prefix("ogr2ogr ") {
        let out = path(&format!("ogr2ogr.{format}"));
        drop(fs::remove_file(&out));
        let from = path("geojson");
        let peak_mb =
            run("ogr2ogr", &["-f", &format.to_uppercase(), out.to_str().unwrap(), from.to_str().unwrap()]);
        (Some(out), peak_mb)
    } else {
        let log = log(marks);
        let lake = Lake::unknown_at(Place { lon: -56.0, lat: 36.0 });
        let results = Results::of_log(&lake, &[], &log);
        let file = (writer != "nothing").then(|| path(writer));
        if let Some(file) = &file {
            drop(fs::remove_file(file));
            write(writer, file, &results);
        }
        (file, measure::peak_mb("self").unwrap())
    };
    let wall_s = start.elapsed().as_secs_f64();
    let size = file.map_or(0, |file| fs::metadata(file).unwrap().len());
    println!(
        "{writer:<14} {:>8.2} {wall_s:>8.2} {peak_mb:>9.1} {:>9.1}",
        measure::cpu_s(),
        size as f64 / 1e6
    );
}

fn write(writer: &str, file: &Path, results: &Results<'_>) {
    if writer == "gpkg" {
        let database = Connection::open(file).unwrap();
        geopackage::write(&database, &[all::marks(results)]).unwrap();
        database.close().unwrap();
        return;
    }
    let mut out = BufWriter::with_capacity(1 << 18, File::create(file).unwrap());
    match writer {
        "geojson" => geojson::write(&mut out, &all::marks(results)).unwrap(),
        _ => tables::marks(&mut out, results).unwrap(),
    }
    out.flush().unwrap();
}

/// Runs another program; gives its peak megabytes.
fn run(program: &str, args: &[&str]) -> f64 {
    let mut child =
        Command::new(program).args(args).stdout(Stdio::null()).stderr(Stdio::null()).spawn().unwrap();
    let mut peak_mb = 0.0;
    loop {
        peak_mb = measure::peak_mb(&child.id().to_string()).unwrap_or(peak_mb);
        if let Some(status) = child.try_wait().unwrap() {
            assert!(status.success(), "{program}");
            return peak_mb;
        }
        sleep(Duration::from_millis(5));
    }
}
