//! Times the stage `schools` on logs of marks: spread over a lake and its seasons, and piled on one spot.
//!
//! `cargo bench --bench schools [-- COUNT [shore]]`; COUNT marks (100,000), one in five of them gamefish, no track logs.
//! `shore`: only the last layout, in the water of a dendritic lake of 6,000 corners, with its shoreline and without.

#![expect(clippy::print_stdout, reason = "a bench tells its figures")]
#![expect(clippy::unwrap_used, reason = "a bench that cannot go on says so by panicking")]

use shoalwright::ingest::shoreline::read_shoreline;
use shoalwright::schools::{AreaSettings, SightingSettings, schools};
use shoalwright::terms::codes::Codes;
use shoalwright::terms::id::Id;
use shoalwright::terms::instant::Instant;
use shoalwright::terms::lake::Lake;
use shoalwright::terms::mark::{Kind, Mark, Words};
use shoalwright::terms::place::{Place, PlanePoint};
use shoalwright::terms::units::Depth;
use shoalwright::terms::water::Water;
use std::env;

/// Where and when a mark lies, from four numbers in `[0, 1)`: metres east and north, seconds, feet (or none).
type Layout = fn([f64; 4]) -> (f64, f64, f64, Option<f64>);

const YEAR_S: f64 = 31_557_600.0;

fn log_of(count: u32, lake: &Lake, layout: Layout) -> Vec<Mark> {
    // A Weyl sequence a coordinate: even, different for each mark, the same on each machine.
    let steps = [2_f64.sqrt(), 3_f64.sqrt(), 5_f64.sqrt(), 7_f64.sqrt()];
    (0..count)
        .map(|n| {
            let (east_m, north_m, seconds, feet) = layout(steps.map(|step| (f64::from(n) * step).fract()));
            let time = Instant::from_unix_s(1_600_000_000 + seconds as i64);
            Mark {
                id: Id::of('m', &[&n.to_string()]),
                place: lake.plane.to_place(PlanePoint { east_m, north_m }),
                time: Some(time),
                day: lake.day_of(time),
                kind: if n % 5 == 0 { Kind::Gamefish } else { Kind::Bait },
                fish_depth: feet.and_then(Depth::from_feet),
                water_depth: None,
                water_temp: None,
                words: Words::default(),
                note: "".into(),
                sources: Vec::new().into(),
                repairs: Codes::default(),
            }
        })
        .collect()
}

/// Marks in the creeks of volta (`fixtures/reference/lakes`) within 12 km of a place among them, over 5 seasons.
fn in_creeks(count: u32) -> (Vec<Mark>, Lake) {
    let text = std::fs::read_to_string("fixtures/reference/lakes/volta.geojson").unwrap();
    let water = read_shoreline(&text).unwrap().polygons;
    let mut lake = Lake::unknown_at(Place { lon: -0.05, lat: 7.46 });
    lake.water = Some(Water::new(water, lake.plane));
    let layout: Layout =
        |[x, y, t, d]| ((x - 0.5) * 24_000.0, (y - 0.5) * 24_000.0, t * 5.0 * YEAR_S, Some(d * 60.0));
    let mut of = 2 * count;
    loop {
        let mut log = log_of(of, &lake, layout);
        log.retain(|m| lake.water.as_ref().is_some_and(|w| w.contains(m.place)));
        if log.len() >= count as usize || of > 100 * count {
            log.truncate(count as usize);
            return (log, lake);
        }
        of *= 2;
    }
}

fn measure(name: &str, log: &[Mark], lake: &Lake) {
    let start = std::time::Instant::now();
    let found = schools(log, &[], lake, &SightingSettings::default(), &AreaSettings::default(), 1);
    let seconds = start.elapsed().as_secs_f64();
    let (sightings, areas) = (found.sightings.len(), found.areas.len());
    println!("{} marks {name}: {seconds:.2} s, {sightings} sightings, {areas} areas", log.len());
}

fn main() {
    let count = env::args().find_map(|a| a.parse().ok()).unwrap_or(100_000);
    let lake = Lake::unknown_at(Place { lon: -94.2, lat: 35.4 });
    let layouts: [(&str, Layout); 4] = [
        ("spread over 20 km and 5 seasons", |[x, y, t, d]| {
            (x * 20_000.0, y * 20_000.0, t * 5.0 * YEAR_S, Some(d * 60.0))
        }),
        ("on one spot, spread over 5 seasons", |[_, _, t, d]| (0.0, 0.0, t * 5.0 * YEAR_S, Some(d * 60.0))),
        ("on one spot and one outing, 9 h", |[_, _, t, d]| (0.0, 0.0, t * 32_000.0, Some(d * 60.0))),
        ("within 200 m on one outing, a third without depth", |[x, y, t, d]| {
            (x * 200.0, y * 200.0, t * 32_000.0, Some(d * 90.0).filter(|d| *d < 60.0))
        }),
    ];
    for (name, layout) in layouts {
        if env::args().any(|a| a == "shore") {
            break;
        }
        measure(name, &log_of(count, &lake, layout), &lake);
    }
    let (log, mut lake) = in_creeks(count);
    measure("in creeks, by boat", &log, &lake);
    lake.water = None;
    measure("in creeks, straight", &log, &lake);
}
