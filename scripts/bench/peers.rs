//! One stage on data that a peer can read: `cargo bench --bench peers -- STAGE FOLDER`, called by `scripts/bench/peers.py`.
//!
//! STAGE is `merge` (200,000 records of 50,000 presses), `movement` (20,000 bait sightings), `effort`, `outlook` (five seasons
//! of a simulated lake) or `report` (50,000 marks). Writes what the stage is given into FOLDER as CSV, and prints CPU
//! seconds of the stage alone, those of a bare limit where one can be named, the peak of memory in MB and what was found, as
//! one line of JSON. All data are invented.

#![expect(clippy::unwrap_used, reason = "a bench that cannot go on says so by panicking")]
#![expect(clippy::print_stdout, reason = "the figures are its output")]

#[path = "measure.rs"]
mod measure;
#[path = "../../tests/it/merge_simulator.rs"]
mod merge_simulator;
#[expect(dead_code, reason = "the bench uses the truth of a lake only as the simulator hands it on")]
#[path = "../../tests/it/movement_score.rs"]
mod movement_score;
#[expect(dead_code, reason = "the bench scores by seasons held out, not by the truth")]
#[path = "../../tests/it/outlook_score.rs"]
mod outlook_score;
#[path = "../../tests/it/sightings_of_marks.rs"]
mod sightings_of_marks;
#[expect(dead_code, reason = "the bench needs little of the truth")]
#[path = "../../tests/it/simulator/mod.rs"]
mod simulator;

use jiff::civil::date;
use merge_simulator::{export, pairs_of};
use outlook_score::{WorkedUp, looking};
use serde_json::{Value, json};
use shoalwright::account::{Account, Records, ResultCounts};
use shoalwright::effort::{self, Cell, Effort, effort};
use shoalwright::layers::Results;
use shoalwright::merge::{self, merge};
use shoalwright::movement::{self, movement};
use shoalwright::report::{self, Report};
use shoalwright::schools::Sighting;
use shoalwright::terms::export::Export;
use shoalwright::terms::instant::Instant;
use shoalwright::terms::lake::Lake;
use shoalwright::terms::mark::{LocalDay, Mark, Origin};
use shoalwright::terms::units::{Depth, Distance};
use simulator::{Habit, Random, SimulatedLake, Timing, Wish, simulate, simulate_with};
use std::collections::BTreeMap;
use std::fmt::Display;
use std::fs;
use std::path::Path;
use std::time::Instant as Clock;

fn main() {
    let arguments: Vec<String> = std::env::args().skip(1).filter(|a| a != "--bench").collect();
    let [stage, folder] = arguments.as_slice() else {
        return println!("two arguments: STAGE FOLDER");
    };
    let folder = Path::new(folder);
    let mut told = match stage.as_str() {
        "merge" => of_merge(folder),
        "movement" => of_movement(folder),
        "effort" => of_effort(folder),
        "outlook" => of_outlook(folder),
        "report" => of_report(folder),
        _ => return println!("`{stage}` is no stage of this bench"),
    };
    told["peak_mb"] = json!(measure::peak_mb("self").unwrap());
    println!("{told}");
}

/// What `work` gives, and the CPU seconds that it took, in ticks of 10 ms.
fn timed<T>(work: impl FnOnce() -> T) -> (T, f64) {
    let before = measure::cpu_s();
    let done = work();
    (done, measure::cpu_s() - before)
}

fn write(folder: &Path, name: &str, head: &str, rows: impl Iterator<Item = String>) {
    let mut text = format!("{head}\n");
    for row in rows {
        text += &row;
        text.push('\n');
    }
    fs::write(folder.join(name), text).unwrap();
}

fn or_empty(value: Option<impl Display>) -> String {
    value.map_or_else(String::new, |value| value.to_string())
}

/// Re-exports, renames, roundings, missing times and clocks that are off, but no fault that `interpret` would mend.
fn of_merge(folder: &Path) -> Value {
    let mut random = merge_simulator::Random::seeded(1);
    let presses = merge_simulator::presses(&mut random, 330, 9);
    let exported = merge_simulator::exported(&mut random, &presses);
    let files: Vec<Export> = (0..exported.len()).map(|i| export(&format!("export-{i}"))).collect();
    let told: Vec<(usize, Mark)> = exported.into_iter().flatten().collect();
    write(
        folder,
        "marks.csv",
        "unique_id,file,unit,lon,lat,time,name,press",
        told.iter().enumerate().map(|(n, (press, m))| {
            let (file, unit) = (m.origin().file.0, presses[*press].unit);
            let time = or_empty(m.time.map(Instant::rfc3339));
            format!("{n},{file},{unit},{},{},{time},{},{press}", m.place.lon, m.place.lat, m.words.name())
        }),
    );
    let truth: BTreeMap<Origin, usize> = told.iter().map(|(press, m)| (m.origin(), *press)).collect();
    let marks: Vec<Mark> = told.into_iter().map(|(_, m)| m).collect();
    // No merge does with less than to bring its records into order.
    let mut order: Vec<(i64, i64, i64)> = marks
        .iter()
        .map(|m| (degree(m.place.lon), degree(m.place.lat), m.time.map_or(0, Instant::unix_ms)))
        .collect();
    let begun = Clock::now();
    order.sort_unstable();
    let bare_s = begun.elapsed().as_secs_f64();
    assert!(order.is_sorted());
    let settings = merge::Settings { same_cover: Distance::from_metres(0.0), ..merge::Settings::default() };
    let records = marks.len();
    let (merged, cpu_s) = timed(|| merge(marks, &merge_simulator::lake(), &files, &settings));
    let (said, rightly, truly) = pairs_of(&merged, &truth);
    json!({
        "data": format!("{records} records of {} presses", presses.len()),
        "cpu_s": cpu_s,
        "bare_s": bare_s,
        "found": {"precision": rightly as f64 / said as f64, "recall": rightly as f64 / truly as f64},
    })
}

fn degree(value: f64) -> i64 {
    (value * 1e7).round() as i64
}

/// The sightings of a lake of three routes over and over, with a scatter of 60 m and 2 ft.
fn of_movement(folder: &Path) -> Value {
    let simulated = simulate(Wish { seed: 7, routes: 3, seasons: 4, timing: Timing::Date });
    let known = simulated.known().sightings;
    let mut random = Random::seeded(7);
    let sightings: Vec<Sighting> =
        known.iter().cycle().take(20_000).map(|s| scattered(s, &simulated.lake, &mut random)).collect();
    write(folder, "sightings.csv", "season,day,east_m,north_m,depth_ft", sightings.iter().map(row));
    let (found, cpu_s) = timed(|| movement(&sightings, &simulated.lake, &movement::Settings::default()));
    json!({
        "data": format!("{} sightings of 3 routes", sightings.len()),
        "cpu_s": cpu_s,
        "found": {"tracks": found.tracks.len()},
    })
}

fn scattered(sighting: &Sighting, lake: &Lake, random: &mut Random) -> Sighting {
    let mut s = sighting.clone();
    s.plane.east_m += random.normal(60.0);
    s.plane.north_m += random.normal(60.0);
    s.place = lake.plane.to_place(s.plane);
    let off = random.normal(2.0);
    s.fish_depth = s.fish_depth.map(|d| Depth::from_feet((d.feet() + off).max(0.0)).unwrap_or(d));
    s
}

fn row(s: &Sighting) -> String {
    let depth = or_empty(s.fish_depth.map(Depth::feet));
    format!("{},{},{},{},{depth}", s.day.season, s.day.season_day.days(), s.plane.east_m, s.plane.north_m)
}

fn simulated() -> SimulatedLake {
    simulate_with(Wish { seed: 305, routes: 3, seasons: 5, timing: Timing::Date }, Habit::default())
}

fn of_effort(folder: &Path) -> Value {
    let mut simulated = simulated();
    // The peer knows no land: ways over it count on both sides.
    simulated.lake.water = None;
    let points = simulated.track_logs.iter().enumerate().flat_map(|(log, track)| {
        let lake = &simulated.lake;
        track.segments.iter().enumerate().flat_map(move |(segment, points)| {
            points.iter().map(move |point| {
                let (at, time) = (lake.plane.to_plane(point.place), point.time.unwrap());
                let date = lake.day_of(time).unwrap().date;
                format!("{date},{log}-{segment},{},{},{}", time.unix_ms(), at.east_m, at.north_m)
            })
        })
    });
    write(folder, "points.csv", "date,segment,time_ms,east_m,north_m", points);
    // The peer weighs nothing: what was seen at running speed is left out on both sides.
    let searching = effort::Settings { running_weight: 0.0, ..looking() };
    let (found, cpu_s) =
        timed(|| effort(&simulated.track_logs, &simulated.marks, &simulated.lake, &searching, 100.0));
    write(folder, "looked.csv", "date,column,row,area_m2", looked_over(&found, |day| day.date.to_string()));
    let points: usize = simulated.track_logs.iter().flat_map(|log| &log.segments).map(Vec::len).sum();
    json!({"data": format!("{points} track points"), "cpu_s": cpu_s, "found": {"outings": found.outings.len()}})
}

fn looked_over<'a>(
    effort: &'a Effort,
    outing: impl Fn(LocalDay) -> String + Copy + 'a,
) -> impl Iterator<Item = String> + 'a {
    effort.outings.iter().flat_map(move |o| {
        o.cells
            .iter()
            .map(move |(cell, area_m2)| format!("{},{},{},{area_m2}", outing(o.day), cell.column, cell.row))
    })
}

/// An outlook, and all seasons held out in turn; the peer is asked for the seasons alone.
fn of_outlook(folder: &Path) -> Value {
    let simulated = simulated();
    let known = WorkedUp::new(&simulated.marks, &simulated.track_logs, &simulated.lake);
    let outing = |day: LocalDay| format!("{},{}", day.season, day.season_day.days());
    write(folder, "looked.csv", "season,day,column,row,area_m2", looked_over(&known.effort, outing));
    write(
        folder,
        "seen.csv",
        "season,day,east_m,north_m,depth_ft,column,row",
        known.sightings.iter().map(|s| {
            let cell = Cell::at(s.plane, known.effort.cell_m);
            format!("{},{},{}", row(s), cell.column, cell.row)
        }),
    );
    let (outlook, outlook_s) = timed(|| known.outlook(date(2026, 6, 15)));
    let (backtest, cpu_s) = timed(|| known.backtest().unwrap());
    json!({
        "data": format!("{} sightings of 5 seasons", known.sightings.len()),
        "cpu_s": cpu_s,
        "found": {
            "gain over effort": backtest.all.gains[3].mean,
            "sightings scored": backtest.all.sightings,
            "outlook for one date, CPU s": outlook_s,
            "cells of it": outlook.cells.len(),
        },
    })
}

fn of_report(folder: &Path) -> Value {
    let mut random = Random::seeded(11);
    let lake = merge_simulator::lake();
    let log: Vec<Mark> = (0..50_000)
        .map(|n| {
            let at = merge_simulator::place(random.normal(2000.0), random.normal(2000.0), 6);
            let time = merge_simulator::at("2021-01-05T13:00:00Z").plus_s(3150 * i64::from(n));
            merge_simulator::mark(0, n + 1, at, Some(time), &format!("SHAD {n}"))
        })
        .collect();
    write(
        folder,
        "log.csv",
        "lon,lat,time,name",
        log.iter().map(|m| {
            format!(
                "{},{},{},{}",
                m.place.lon,
                m.place.lat,
                or_empty(m.time.map(Instant::rfc3339)),
                m.words.name()
            )
        }),
    );
    let exports = [export("export-0")];
    let results = Results::of_log(&lake, &exports, &log);
    let effort = Effort::default();
    let account = Account {
        generator: "shoalwright",
        version: env!("CARGO_PKG_VERSION"),
        lake: "Bench (invented)".into(),
        records: Records::default(),
        files: Vec::new(),
        stages: Vec::new(),
        counts: ResultCounts::default(),
        pairing: None,
        season_shifts: Vec::new(),
        skill: None,
        review: None,
        findings: BTreeMap::new(),
        settings: json!({}),
        caution: "",
    };
    let report = Report { results: &results, effort: &effort, account: &account, findings: Vec::new() };
    let mut page = Vec::new();
    let ((), cpu_s) = timed(|| report::write(&mut page, &report).unwrap());
    fs::write(folder.join("report.html"), &page).unwrap();
    json!({"data": format!("{} marks", log.len()), "cpu_s": cpu_s, "found": {"MB": page.len() as f64 / 1e6}})
}
