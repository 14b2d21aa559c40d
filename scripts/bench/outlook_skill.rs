//! Skill of the outlook on simulated lakes: `cargo bench --bench outlook_skill [-- WHAT [LAKES [FIRST_SEED]]]`.
//!
//! WHAT is `skill` (gains over simple guesses on seasons held out, on three lakes of another simulator and on own ones),
//! `areas` (chances of holding areas by the seasons in which they held bait, and by the outlook, against the truth),
//! `cover` (does the 90 % interval hold the true chance), `favourites` (an angler with 85 % of the stops at favourite
//! places: share of all schools, seen or not, on the best tenth of the water), `favourites-wide` (the same on larger lakes),
//! `given` (the same share for three lakes of another simulator, whose angler has common habits), `unlooked` (what is
//! foretold of water that nobody ever came near, and what is there), `null` (lakes on which there is nothing
//! to learn: how often skill is claimed) or `pace` (five seasons of track logs at 1 Hz and 30,000 marks: seconds and memory).
//! Read the header of the simulator before quoting a figure.

#![expect(clippy::unwrap_used, reason = "a bench that cannot go on says so by panicking")]
#![expect(clippy::print_stdout, reason = "the figures are its output")]

#[expect(dead_code, reason = "the bench needs no truth of the marks")]
#[path = "../../tests/it/hollow.rs"]
mod hollow;
#[expect(dead_code, reason = "the bench uses the truth of a lake only as the simulator hands it on")]
#[path = "../../tests/it/movement_score.rs"]
mod movement_score;
#[path = "measure.rs"]
mod measure;
#[path = "../../tests/it/outlook_score.rs"]
mod outlook_score;
#[path = "../../tests/it/sightings_of_marks.rs"]
mod sightings_of_marks;
#[expect(dead_code, reason = "the bench needs neither the true routes nor the marks' routes")]
#[path = "../../tests/it/simulator/mod.rs"]
mod simulator;

use jiff::civil::date;
use outlook_score::{
    AreaChance, Captured, Cover, WorkedUp, area_chances, captured_of_all, captured_of_season, cover,
    in_water_never_looked_at,
};
use rayon::prelude::*;
use shoalwright::outlook::{Backtest, TOP_SHARES, verdict};
use shoalwright::schools::{AreaSettings, SightingSettings, schools};
use shoalwright::terms::id::Id;
use shoalwright::terms::instant::Instant;
use shoalwright::terms::place::Place;
use shoalwright::terms::track_log::{TrackLog, TrackPoint};
use simulator::{Bait, Habit, Random, Shape, SimulatedLake, Timing, Wish, simulate_shaped, simulate_with};
use std::time::Instant as Clock;

fn main() {
    let arguments: Vec<String> = std::env::args().skip(1).filter(|a| a != "--bench").collect();
    let what = arguments.first().map_or("skill", String::as_str);
    let number = |at: usize, default: u64| arguments.get(at).and_then(|a| a.parse().ok()).unwrap_or(default);
    match what {
        "areas" => areas(number(1, 12), number(2, 301)),
        "cover" => covers(number(1, 12), number(2, 301)),
        "favourites" => favourites(number(1, 8), number(2, 301), Shape::Broad),
        "favourites-wide" => favourites(number(1, 8), number(2, 301), Shape::Wide),
        "given" => given(),
        "unlooked" => unlooked(number(1, 12), number(2, 1201)),
        "null" => null(number(1, 200), number(2, 1001)),
        "pace" => pace(number(1, 5_000_000) as usize),
        _ => skill(number(1, 20), number(2, 301)),
    }
}

/// One to four routes, three to six seasons; each third lake keeps time by the water.
fn wish(seed: u64) -> Wish {
    let timing = if seed.is_multiple_of(3) { Timing::Temperature } else { Timing::Date };
    Wish { seed, routes: 1 + seed as usize % 4, seasons: 3 + seed as usize / 4 % 4, timing }
}

fn worked_up(lake: &SimulatedLake) -> WorkedUp<'_> {
    WorkedUp::new(&lake.marks, &lake.track_logs, &lake.lake)
}

fn mean(numbers: impl ExactSizeIterator<Item = f64>) -> f64 {
    let count = numbers.len() as f64;
    numbers.sum::<f64>() / count
}

fn skill(lakes: u64, first: u64) {
    for letter in ['a', 'b', 'c'] {
        let lake = hollow::hollow(letter);
        let backtest = WorkedUp::new(&lake.log, &lake.track_logs, &lake.lake).backtest().unwrap();
        println!("hollow-{letter}: {}", told(&backtest));
    }
    let all: Vec<(u64, Backtest)> = (first..first + lakes)
        .into_par_iter()
        .map(|seed| (seed, worked_up(&simulate_with(wish(seed), Habit::default())).backtest().unwrap()))
        .collect();
    for (seed, backtest) in &all {
        println!("seed {seed}: {}", told(backtest));
    }
    let of = |read: fn(&Backtest) -> f64| mean(all.iter().map(|(_, b)| read(b)));
    let worst = |read: fn(&Backtest) -> f64| all.iter().map(|(_, b)| read(b)).fold(f64::INFINITY, f64::min);
    println!(
        "{lakes} lakes: gain a sighting over effort {:.3} (worst {:.3}), over usual places {:.3} (worst {:.3}), over last \
         season {:.3}, over the same places all year {:.3} (worst {:.3}); observed / expected {:.3}, in the top fifth {:.3}; top tenth holds {:.3} of the marked, usual places {:.3}",
        of(|b| b.all.gains[3].mean),
        worst(|b| b.all.gains[3].mean),
        of(|b| b.all.gains[0].mean),
        worst(|b| b.all.gains[0].mean),
        of(|b| b.all.gains[1].mean),
        of(|b| b.all.gains[2].mean),
        worst(|b| b.all.gains[2].mean),
        of(|b| b.all.observed_over_expected),
        of(top_fifth),
        of(|b| b.all.captured[0][2]),
        of(|b| b.all.captured[1][2]),
    );
}

fn top_fifth(backtest: &Backtest) -> f64 {
    backtest.reliability[4].observed as f64 / backtest.reliability[4].expected
}

fn told(b: &Backtest) -> String {
    let gain = |k: usize| {
        let g = b.all.gains[k];
        format!("{:.3} [{:.3}, {:.3}]", g.mean, g.interval[0], g.interval[1])
    };
    format!(
        "{} sightings, over effort {}, usual places {}, last season {}, all year {}; observed / expected {:.2}, top fifth {:.2}; {}",
        b.all.sightings,
        gain(3),
        gain(0),
        gain(1),
        gain(2),
        b.all.observed_over_expected,
        top_fifth(b),
        verdict(&b.all)
    )
}

fn covers(lakes: u64, first: u64) {
    let all: Vec<[Cover; 5]> = (first..first + lakes)
        .into_par_iter()
        .map(|seed| {
            let lake = simulate_with(wish(seed), Habit::default());
            let known = worked_up(&lake);
            let mut random = Random::seeded(seed + 77);
            let mut sum = [Cover::default(); 5];
            for month in [1, 3, 5, 7, 9, 11] {
                for (sum, part) in
                    sum.iter_mut().zip(cover(&lake, &known.outlook(date(2031, month, 15)), &mut random))
                {
                    sum.add(part);
                }
            }
            sum
        })
        .collect();
    let mut whole = Cover::default();
    for part in 0..5 {
        let mut sum = Cover::default();
        for c in &all {
            sum.add(c[part]);
        }
        whole.add(sum);
        print_cover(&format!("fifth {} of the water", part + 1), &sum);
    }
    print_cover("all water", &whole);
}

fn print_cover(what: &str, c: &Cover) {
    let n = c.cells as f64;
    println!(
        "{what}: the interval holds {:.3} of {} cells ({:.3} lie above); foretold {:.3}, true {:.3}",
        c.share(),
        c.cells,
        c.above as f64 / n,
        c.foretold / n,
        c.true_chance / n
    );
}

fn areas(lakes: u64, first: u64) {
    type Said = fn(&AreaChance) -> f64;
    let all: Vec<Vec<AreaChance>> = (first..first + lakes)
        .into_par_iter()
        .flat_map_iter(|seed| {
            let lake = simulate_with(wish(seed), Habit::default());
            let known = worked_up(&lake);
            let schools = schools(
                &lake.marks,
                &lake.track_logs,
                &lake.lake,
                &SightingSettings::default(),
                &AreaSettings::default(),
                1,
            );
            let mut random = Random::seeded(seed + 99);
            [1, 3, 5, 7, 9, 11].map(|month| {
                area_chances(&lake, &schools, &known.outlook(date(2031, month, 15)), &mut random)
            })
        })
        .collect();
    let by: [(&str, Said); 2] = [("seasons", |c| c.by_seasons), ("outlook", |c| c.by_outlook)];
    let count = all.iter().map(Vec::len).sum::<usize>() as f64;
    let truth: f64 = all.iter().flatten().map(|c| c.truth).sum();
    for (what, said) in by {
        let square: f64 = all.iter().flatten().map(|c| (said(c) - c.truth).powi(2)).sum();
        let sum: f64 = all.iter().flatten().map(said).sum();
        let best_five = |chances: &Vec<AreaChance>, read: Said| {
            let mut order: Vec<&AreaChance> = chances.iter().collect();
            order.sort_by(|a, b| read(b).total_cmp(&read(a)));
            order.iter().take(5).map(|c| c.truth).sum::<f64>()
        };
        let held: f64 = all.iter().map(|c| best_five(c, said)).sum();
        let most: f64 = all.iter().map(|c| best_five(c, |c| c.truth)).sum();
        println!(
            "by {what}: {count} areas, mean said {:.3}, true {:.3}; root mean square off {:.3}; the best five hold {:.3} of what five can",
            sum / count,
            truth / count,
            (square / count).sqrt(),
            held / most
        );
    }
}

fn favourites(lakes: u64, first: u64, shape: Shape) {
    let all: Vec<(u64, [[f64; 2]; 2])> = (first..first + lakes)
        .into_par_iter()
        .map(|seed| {
            let wish = wish(seed);
            let habit = Habit { favourites: 0.85, hunches: 0.0, ..Habit::default() };
            let lake = simulate_shaped(wish, habit, shape);
            let captured = captured_of_all(&lake, wish.seasons, 26, &mut Random::seeded(seed + 7));
            (seed, captured.map(Captured::shares))
        })
        .collect();
    let told = |[of_routes, of_all]: [[f64; 2]; 2]| {
        let points = |[outlook, density]: [f64; 2]| 100.0 * (outlook - density);
        format!(
            "of schools that keep to a route outlook {:.3}, seasonal density {:.3}, {:+.1} points; of all, strays with them, {:.3}, {:.3}, {:+.1}",
            of_routes[0],
            of_routes[1],
            points(of_routes),
            of_all[0],
            of_all[1],
            points(of_all)
        )
    };
    for (seed, shares) in &all {
        println!("seed {seed}: on the top tenth {}", told(*shares));
    }
    let means = [0, 1].map(|of| [0, 1].map(|by| mean(all.iter().map(|(_, shares)| shares[of][by]))));
    println!("{lakes} lakes, 85 % favourites: {}", told(means));
}

/// What is foretold of water that nobody ever came near, and what is there.
fn unlooked(lakes: u64, first: u64) {
    for shape in [Shape::Broad, Shape::Wide] {
        let all: Vec<[f64; 2]> = (first..first + lakes)
            .into_par_iter()
            .flat_map_iter(|seed| {
                let habit = Habit { favourites: 0.85, hunches: 0.0, ..Habit::default() };
                let lake = simulate_shaped(wish(seed), habit, shape);
                let known = worked_up(&lake);
                let mut random = Random::seeded(2);
                [2, 6, 10].map(|month| {
                    let outlook = known.outlook(date(2021, month, 15));
                    in_water_never_looked_at(&lake, &known, &outlook, 2, &mut random)
                })
            })
            .collect();
        let [foretold, there] = [0, 1].map(|k| all.iter().map(|a| a[k]).sum::<f64>());
        println!("{shape:?}: {foretold:.2} sightings foretold where {there:.2} schools are");
    }
}

/// Schools of the last season on the first 2, 5 and 10 % of the water of three lakes of another simulator.
fn given() {
    for letter in ['a', 'b', 'c'] {
        let lake = hollow::hollow(letter);
        let known = WorkedUp::new(&lake.log, &lake.track_logs, &lake.lake);
        let captured = captured_of_season(known, &lake.last_season_schools, TOP_SHARES);
        for (share, captured) in TOP_SHARES.into_iter().zip(captured) {
            let [outlook, density] = captured.shares();
            println!(
                "hollow-{letter}, first {share} of the water: outlook {outlook:.3}, seasonal density {density:.3}"
            );
        }
    }
}

/// Claims of skill where there is nothing to learn.
fn null(lakes: u64, first: u64) {
    for (what, habit) in [
        ("bait anywhere, each day elsewhere", Habit { bait: Bait::Anywhere, ..Habit::default() }),
        (
            "the same, looks follow the fish",
            Habit { bait: Bait::Anywhere, follows: true, ..Habit::default() },
        ),
        (
            "bait anywhere in the last season only, held out",
            Habit { bait: Bait::AnywhereAtLast, ..Habit::default() },
        ),
    ] {
        let count = lakes.div_ceil(3);
        let claims: usize = (first..first + count)
            .into_par_iter()
            .map(|seed| {
                let lake = simulate_with(wish(seed), habit);
                let Some(backtest) = worked_up(&lake).backtest() else { return 0 };
                let last = &backtest.seasons[backtest.seasons.len() - 1].skill;
                let skill = if habit.bait == Bait::AnywhereAtLast { last } else { &backtest.all };
                usize::from(verdict(skill).starts_with("better"))
            })
            .sum();
        println!("{what}: skill claimed on {claims} of {count} lakes");
    }
}

/// Effort, sightings, outlook and seasons held out from a log of so many track points.
fn pace(points: usize) {
    let wish = Wish { seed: 305, routes: 3, seasons: 5, timing: Timing::Date };
    let simulated = simulate_with(wish, Habit::default());
    let by_second: Vec<TrackLog> = simulated.track_logs.iter().map(by_second).collect();
    let known: usize = by_second.iter().map(|log| log.segments.iter().map(Vec::len).sum::<usize>()).sum();
    // The same outings again on the days after, until there are points enough; six marks for one, so that marks keep up.
    let copies = i64::try_from(points.div_ceil(known)).unwrap();
    let day_s = 86_400;
    let track_logs: Vec<TrackLog> =
        (0..copies).flat_map(|copy| by_second.iter().map(move |log| later(log, copy * day_s))).collect();
    let mut random = Random::seeded(7);
    let presses = 30_000 / (i64::try_from(simulated.marks.len()).unwrap() * copies) + 1;
    let mut marks = Vec::new();
    for copy in 0..copies {
        for mark in &simulated.marks {
            for press in 0..presses {
                let mut mark = mark.clone();
                mark.time = mark.time.map(|time| time.plus_s(copy * day_s + 3 * press));
                mark.day = mark.time.and_then(|time| simulated.lake.day_of(time));
                mark.place.lat += random.normal(3e-5);
                mark.id = Id::of('m', &[&format!("{copy} {press} {}", mark.id)]);
                marks.push(mark);
            }
        }
    }
    let points: usize = track_logs.iter().map(|log| log.segments.iter().map(Vec::len).sum::<usize>()).sum();
    let begun = Clock::now();
    let known = WorkedUp::new(&marks, &track_logs, &simulated.lake);
    let effort_s = begun.elapsed().as_secs_f64();
    let outlook = known.outlook(date(2026, 6, 15));
    let outlook_s = begun.elapsed().as_secs_f64();
    let backtest = known.backtest().unwrap();
    println!(
        "{points} points of {} track logs, {} marks, {} bait sightings, {} cells: effort and sightings {effort_s:.1} s, outlook \
         {:.1} s, backtest of {} seasons {:.1} s; whole {:.1} s wall, {:.1} s CPU since the start, peak {:.0} MB",
        track_logs.len(),
        marks.len(),
        known.sightings.len(),
        outlook.cells.len(),
        outlook_s - effort_s,
        backtest.seasons.len(),
        begun.elapsed().as_secs_f64() - outlook_s,
        begun.elapsed().as_secs_f64(),
        measure::cpu_s(),
        measure::peak_mb("self").unwrap()
    );
}

/// A log with a point every second between its own.
fn by_second(log: &TrackLog) -> TrackLog {
    let mut every = log.clone();
    every.segments = log
        .segments
        .iter()
        .map(|segment| {
            let mut points = Vec::new();
            for pair in segment.windows(2) {
                let (from, to) = (second_of(&pair[0]), second_of(&pair[1]));
                points.extend((from..to).map(|second| {
                    let share = (second - from) as f64 / (to - from) as f64;
                    let between = |a: f64, b: f64| a + share * (b - a);
                    TrackPoint {
                        place: Place {
                            lon: between(pair[0].place.lon, pair[1].place.lon),
                            lat: between(pair[0].place.lat, pair[1].place.lat),
                        },
                        time: Some(Instant::from_unix_s(second)),
                        ..pair[0]
                    }
                }));
            }
            points
        })
        .collect();
    every
}

fn second_of(point: &TrackPoint) -> i64 {
    point.time.unwrap().unix_ms() / 1000
}

fn later(log: &TrackLog, seconds: i64) -> TrackLog {
    let mut later = log.clone();
    for point in later.segments.iter_mut().flatten() {
        point.time = point.time.map(|time| time.plus_s(seconds));
    }
    later
}
