//! The pre-fish planner on instances with known answers: `cargo bench --bench prefish [-- FOLDER]`.
//!
//! Prints for each lake instance and seed 1 to 5 the worth, the optimum and the time; for `random_exact.json` score
//! and best; for FOLDER (orienteering files `*.oplib` with `best.json`, not part of this repository) score, best, gap
//! and time; and for 100 candidate stops on one day the worth against the best of 20 long searches.

#![expect(clippy::unwrap_used, reason = "a bench that cannot go on says so by panicking")]
#![expect(clippy::print_stdout, reason = "the figures are its output")]

#[path = "../../tests/it/prefish_instances.rs"]
mod prefish_instances;

use prefish_instances::{Orienteering, day, judge, lake_problem, problem, random_exact, rounded_legs, stop};
use serde_json::Value;
use shoalwright::prefish::{Problem, Proof, Search, TravelTable, plan};
use std::fs;
use std::path::{Path, PathBuf};
use std::time::Instant;

fn main() {
    let folder = std::env::args().skip(1).find(|a| !a.starts_with("--"));
    let reference = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/reference");
    lakes(&reference.join("prefish"));
    println!();
    for instance in read(&reference.join("orienteering/random_exact.json")).as_array().unwrap() {
        let best = instance["best"].as_f64().unwrap();
        orienteering(instance["name"].as_str().unwrap(), &random_exact(instance), best);
    }
    println!();
    if let Some(folder) = folder {
        for instance in read(&Path::new(&folder).join("best.json")).as_array().unwrap() {
            let name = instance["instance"].as_str().unwrap();
            let text = fs::read_to_string(Path::new(&folder).join(format!("{name}.oplib"))).unwrap();
            orienteering(name, &oplib(&text), instance["best_known_here"].as_f64().unwrap());
        }
        println!();
    }
    for seed in 1..=3 {
        hundred(seed, true);
        hundred(seed, false);
    }
}

fn read(path: &Path) -> Value {
    serde_json::from_str(&fs::read_to_string(path).unwrap()).unwrap()
}

fn told(proof: Proof) -> String {
    match proof {
        Proof::Best => "best".to_owned(),
        Proof::Gap(gap) => format!("gap {:.2} %", 100.0 * gap),
        Proof::Nothing => "-".to_owned(),
    }
}

fn lakes(folder: &Path) {
    let mut paths: Vec<PathBuf> = fs::read_dir(folder).unwrap().map(|e| e.unwrap().path()).collect();
    paths.sort();
    for path in paths {
        let instance = read(&path);
        let optimum = instance["optimum"].as_f64().unwrap();
        for seed in 1..=5 {
            let problem = lake_problem(&instance, seed);
            let begun = Instant::now();
            let plan = plan(&problem);
            let seconds = begun.elapsed().as_secs_f64();
            let value = judge(&instance, &plan);
            let mark = if value.as_ref().is_ok_and(|v| (v - optimum).abs() < 1e-6) { "" } else { "  <<<" };
            println!(
                "{:16} seed {seed} {value:?} of {optimum:.4} {:12} {seconds:.2} s{mark}",
                path.file_stem().unwrap().to_string_lossy(),
                told(plan.proof)
            );
        }
    }
}

fn orienteering(name: &str, instance: &Orienteering, best: f64) {
    let (problem, nodes) = instance.problem(1);
    let begun = Instant::now();
    let plan = plan(&problem);
    let seconds = begun.elapsed().as_secs_f64();
    let score = instance.judge(&plan, &nodes);
    let gap = score.as_ref().map_or(f64::NAN, |s| 100.0 * (best - s) / best);
    println!("{name:16} {score:?} of {best}, gap {gap:.2} %, {:12} {seconds:.2} s", told(plan.proof));
}

/// An `OPLib` file: coordinates, scores, cost limit, closed tour from the first node.
fn oplib(text: &str) -> Orienteering {
    let value = |key: &str| {
        let line = text.lines().find(|l| l.starts_with(key)).unwrap();
        line.split(':').nth(1).unwrap().trim().to_owned()
    };
    let section = |name: &str| -> Vec<Vec<f64>> {
        let rows = text.lines().skip_while(|l| !l.starts_with(name)).skip(1);
        rows.map_while(|l| {
            l.split_whitespace().map(|x| x.parse().ok()).collect::<Option<Vec<f64>>>().filter(|r| r.len() > 1)
        })
        .collect()
    };
    let xy: Vec<[f64; 2]> = section("NODE_COORD_SECTION").iter().map(|r| [r[1], r[2]]).collect();
    let legs = if value("EDGE_WEIGHT_TYPE") == "ATT" {
        // TSPLIB's pseudo-Euclidean distance (Reinelt 1995): the rounded root, one more where rounding went down.
        let leg = |a: &[f64; 2], b: &[f64; 2]| {
            (((a[0] - b[0]).powi(2) + (a[1] - b[1]).powi(2)) / 10.0).sqrt().ceil()
        };
        xy.iter().map(|a| xy.iter().map(|b| leg(a, b)).collect()).collect()
    } else {
        rounded_legs(&xy)
    };
    Orienteering {
        score: section("NODE_SCORE_SECTION").iter().map(|r| r[1]).collect(),
        service: vec![0.0; xy.len()],
        legs,
        limit: value("COST_LIMIT").parse().unwrap(),
        ends: [0, 0],
    }
}

/// 100 stops over a lake of 24 by 12 km, one day of 9 hours at 13 m/s.
fn hundred_problem(seed: u64, chosen: bool) -> Problem {
    // A Weyl sequence: the same on each machine.
    let unit = |n: usize, step: f64| ((n + 1) as f64 * step + seed as f64 * 0.317).fract();
    let places: Vec<[f64; 2]> = (0..102)
        .map(|n| match n {
            100 | 101 => [2_000.0, 1_000.0],
            _ => [24_000.0 * unit(n, 2_f64.sqrt()), 12_000.0 * unit(n, 3_f64.sqrt())],
        })
        .collect();
    let metres: Vec<f64> = places
        .iter()
        .flat_map(|a| places.iter().map(|b| (a[0] - b[0]).hypot(a[1] - b[1])).collect::<Vec<_>>())
        .collect();
    let seconds = metres.iter().map(|m| m / 13.0).collect();
    let stops = (0..100)
        .map(|n| {
            let chance = 0.05 + 0.85 * unit(n, 5_f64.sqrt());
            let mut stop = stop(&format!("S{n}"), chance, 10.0 + (20.0 * unit(n, 7_f64.sqrt())).round());
            stop.group = (n % 7 == 0).then_some((n / 21) as u32);
            if chosen {
                let rate_per_min = 0.02 + 0.08 * unit(n, 11_f64.sqrt());
                stop.search = Search::Chosen { q: chance, rate_per_min, least_min: 10, most_min: 25 };
            }
            stop
        })
        .collect();
    problem(stops, vec![day(540.0, 100_000.0)], TravelTable::new(102, seconds, metres).unwrap(), seed)
}

fn hundred(seed: u64, chosen: bool) {
    let mut problem = hundred_problem(seed, chosen);
    let begun = Instant::now();
    let short = plan(&problem);
    let seconds = begun.elapsed().as_secs_f64();
    problem.effort.rounds *= 5;
    problem.effort.labels = 0;
    let best = (101..=120)
        .map(|long| {
            problem.seed = long;
            plan(&problem).value
        })
        .fold(short.value, f64::max);
    println!(
        "100 stops, {} minutes, seed {seed}: {:.4}, best of 20 long {best:.4}, gap {:.2} %, {:12} {seconds:.2} s",
        if chosen { "chosen" } else { "fixed" },
        short.value,
        100.0 * (best - short.value) / best,
        told(short.proof)
    );
}
