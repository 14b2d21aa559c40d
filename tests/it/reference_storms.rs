//! The outlook on a real season: where tropical storms of the North Atlantic are first seen, foretold by half-month from
//! years that are not those foretold (NOAA best tracks since 1990, `fixtures/reference/movement/storm_genesis_*.csv`).
//!
//! A degree of the sea is 50 m of an invented lake, so that the basin has a lake's size; the scale was set before anything
//! was scored. Satellites look over the whole sea every day: each half-month of each year is an outing that looks over
//! every cell alike. Nothing else is told to the program, not even where land is.

#![expect(clippy::print_stdout, reason = "figures for who asks with --nocapture")]

use crate::log_of;
use crate::sightings_of_marks::bait_sightings;
use jiff::civil::{Date, date};
use shoalwright::effort::{self, Cell, Effort, OutingEffort};
use shoalwright::movement::{self, Clock};
use shoalwright::outlook::{Given, Guess, Settings, backtest, outlook};
use shoalwright::schools::Sighting;
use shoalwright::terms::lake::Lake;
use shoalwright::terms::mark::{Kind, LocalDay, Mark};
use shoalwright::terms::place::PlanePoint;
use std::path::Path;

const METRES_A_DEGREE: f64 = 50.0;
const CELL_M: f64 = 100.0;
/// The basin: west, south, east and north in degrees.
const BASIN: [f64; 4] = [-105.0, 5.0, -5.0, 50.0];

/// The middle day of a half-month.
fn half_month(year: i16, half: i8) -> Date {
    date(year, half / 2 + 1, if half % 2 == 0 { 8 } else { 23 })
}

/// First places of the storms of some years.
fn storms(name: &str) -> Vec<Mark> {
    let lake = log_of::lake();
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/reference/movement").join(name);
    csv::Reader::from_path(path)
        .unwrap()
        .records()
        .map(|row| {
            let row: Vec<f64> = row.unwrap().iter().map(|cell| cell.parse().unwrap()).collect();
            let (year, number, doy, lat, lon) = (row[0], row[1], row[2], row[3], row[4]);
            let day = date(year as i16, 1, 1).checked_add(jiff::Span::new().days(doy as i64 - 1)).unwrap();
            let date = half_month(year as i16, 2 * (day.month() - 1) + i8::from(day.day() > 15));
            // Storms of a half-month are so many hours apart, so that none is taken for another.
            let unix_s = lake.time_zone.to_timestamp(date.at(2, 0, 0, 0)).unwrap().as_second();
            log_of::mark(
                Kind::Bait,
                (lon - f64::midpoint(BASIN[0], BASIN[2])) * METRES_A_DEGREE,
                (lat - f64::midpoint(BASIN[1], BASIN[3])) * METRES_A_DEGREE,
                unix_s + 1800 * number as i64,
                None,
            )
        })
        .collect()
}

/// The whole basin looked over alike in each half-month of the years.
fn effort_of(years: &[i16], lake: &Lake) -> Effort {
    let half = |low: f64, high: f64| ((high - low) / 2.0 * METRES_A_DEGREE / CELL_M).ceil() as i32;
    let (columns, rows) = (half(BASIN[0], BASIN[2]), half(BASIN[1], BASIN[3]));
    let cells: Vec<(Cell, f64)> = (-rows..rows)
        .flat_map(|row| (-columns..columns).map(move |column| (Cell { row, column }, CELL_M * CELL_M)))
        .collect();
    let outings = years
        .iter()
        .flat_map(|year| (0..24).map(|half| lake.day(half_month(*year, half))))
        .map(|day: LocalDay| OutingEffort { day, cells: cells.clone() })
        .collect();
    Effort { cell_m: CELL_M, outings, findings: Vec::new() }
}

struct Seas {
    lake: Lake,
    log: Vec<Mark>,
    sightings: Vec<Sighting>,
    effort: Effort,
}

impl Seas {
    fn of(log: Vec<Mark>) -> Self {
        let lake = log_of::lake();
        let mut years: Vec<i16> = log.iter().filter_map(|m| Some(m.day?.date.year())).collect();
        years.dedup();
        let (sightings, effort) = (bait_sightings(&log, &lake), effort_of(&years, &lake));
        Self { lake, log, sightings, effort }
    }

    fn given<'a>(&'a self, movement: &'a movement::Settings, looking: &'a effort::Settings) -> Given<'a> {
        let Self { lake, log, sightings, effort } = self;
        Given { log, sightings, effort, lake, movement, clock: Clock::Date, looking }
    }
}

#[test]
fn storms_of_a_year_left_out_are_foretold_better_than_anywhere_and_than_the_same_places_all_year() {
    let seas = Seas::of(storms("storm_genesis_open.csv"));
    let (movement, looking) = (movement::Settings::default(), effort::Settings::default());
    let found = backtest(seas.given(&movement, &looking)).unwrap();
    assert_eq!(found.seasons.len(), 17, "even years 1990 to 2022");
    assert!(found.all.sightings > 240, "{}", found.all.sightings);
    for (guess, gain) in Guess::ALL.iter().zip(found.all.gains) {
        println!(
            "over {}: {:.3} [{:.3}, {:.3}]",
            guess.word(),
            gain.mean,
            gain.interval[0],
            gain.interval[1]
        );
    }
    let gain = |of: Guess| found.all.gains[Guess::ALL.iter().position(|g| *g == of).unwrap()];
    for guess in [Guess::Effort, Guess::AllYear] {
        assert!(gain(guess).interval[0] > 0.0, "{guess:?}: {:?}", gain(guess));
    }
}

#[test]
fn even_years_foretell_the_half_months_of_odd_years() {
    let seas = Seas::of(storms("storm_genesis_open.csv"));
    let (movement, looking) = (movement::Settings::default(), effort::Settings::default());
    let odd = storms("storm_genesis_odd.csv");
    let cell_of = |mark: &Mark| Cell::at(seas.lake.to_plane(mark.place), CELL_M);
    // All even years together, whatever the time of the year: Gaussians of 200 m, a twentieth spread evenly.
    let middles: Vec<(Cell, PlanePoint)> =
        seas.effort.outings[0].cells.iter().map(|(cell, _)| (*cell, cell.middle(CELL_M))).collect();
    let density = |at: PlanePoint| -> f64 {
        let near = |s: &Sighting| (-0.5 * (s.plane.metres_to(at) / 200.0).powi(2)).exp();
        seas.sightings.iter().map(near).sum()
    };
    let densities: Vec<(Cell, f64)> = middles.iter().map(|(cell, at)| (*cell, density(*at))).collect();
    let dense: f64 = densities.iter().map(|d| d.1).sum();
    let even = 1.0 / densities.len() as f64;
    let (mut scored, mut over_uniform, mut over_all_year) = (0, 0.0, 0.0);
    for half in 0..24 {
        let of_half: Vec<&Mark> =
            odd.iter().filter(|m| m.day.is_some_and(|d| d.date == half_month(d.date.year(), half))).collect();
        let told =
            outlook(seas.given(&movement, &looking), &Settings::default(), half_month(2023, half), &[]);
        // The outlook speaks of some water beyond the basin too.
        let inside = |cell: &Cell| densities.binary_search_by_key(cell, |d| d.0).is_ok();
        let sum: f64 = told.cells.iter().filter(|c| inside(&c.cell)).filter_map(|c| c.rate_km2).sum();
        for storm in of_half {
            let at = cell_of(storm);
            let share = told.cells.iter().find(|c| c.cell == at).and_then(|c| c.rate_km2).unwrap() / sum;
            let usual = densities.iter().find(|(cell, _)| *cell == at).unwrap().1 / dense;
            scored += 1;
            over_uniform += (share / even).ln();
            over_all_year += (share / (0.95 * usual + 0.05 * even)).ln();
        }
    }
    let per_storm = [over_uniform, over_all_year].map(|sum| sum / f64::from(scored));
    println!(
        "{scored} storms of odd years: over uniform {:.3}, over all-year density {:.3}",
        per_storm[0], per_storm[1]
    );
    assert_eq!(scored, 261, "all of the table");
    assert!(per_storm[0] > 0.0 && per_storm[1] > 0.0, "{per_storm:?}");
}
