//! No line of a track crosses land where a shoreline is given, by crate `geo` on the layers' own degrees.

use crate::acceptance_movement::known;
use crate::cli::fixture;
use crate::simulator::{Timing, Wish, simulate};
use geo::{BooleanOps, Contains, Coord, Euclidean, Length, LineString, MultiLineString, Point};
use rayon::prelude::*;
use shoalwright::ingest::shoreline::read_shoreline;
use shoalwright::movement::{Movement, Settings, movement};
use shoalwright::terms::lake::Lake;
use shoalwright::terms::water::Water;
use std::fs;

/// Checks the places and the lines; how many pieces of line there were.
fn check(name: &str, lake: &Lake, found: &Movement) -> usize {
    let water = lake.water.as_ref().unwrap();
    let mut pieces = 0;
    for track in &found.tracks {
        for day in &track.days {
            let at = Point::new(day.place.lon, day.place.lat);
            assert!(water.polygons().contains(&at), "{name}, track {}: {day:?} on land", track.number);
        }
        // As the layers write them: seven decimals.
        let seven = |deg: f64| (deg * 1e7).round() / 1e7;
        let line: LineString<f64> =
            track.way.iter().map(|p| Coord { x: seven(p.lon), y: seven(p.lat) }).collect();
        pieces += line.lines().count();
        let on_land = water.polygons().clip(&MultiLineString::new(vec![line]), true);
        let degrees = Euclidean.length(&on_land);
        assert!(degrees < 1e-9, "{name}, track {}: {degrees} degrees of line on land", track.number);
    }
    pieces
}

#[test]
fn days_and_lines_of_simulated_lakes_lie_in_water() {
    let mut bent = 0;
    let lakes: Vec<(usize, usize)> = [(1, 1), (2, 2), (4, 3), (8, 4)]
        .into_par_iter()
        .map(|(seed, routes)| {
            let simulated = simulate(Wish { seed, routes, seasons: 3, timing: Timing::Date });
            let found = movement(&simulated.known().sightings, &simulated.lake, &Settings::default());
            let days = found.tracks.iter().map(|t| t.days.len()).sum();
            (check(&format!("seed {seed}"), &simulated.lake, &found), days)
        })
        .collect();
    for (pieces, days) in lakes {
        bent += usize::from(pieces > days);
    }
    assert!(bent > 0, "no line goes round any land, which checks nothing");
}

#[test]
fn days_and_lines_of_three_lakes_with_truth_lie_in_water() {
    for name in ['a', 'b', 'c'] {
        let (mut lake, known) = known(name);
        let path = fixture(&format!("reference/lake-seasons/hollow-{name}-lake.geojson"));
        let shore = read_shoreline(&fs::read_to_string(path).unwrap()).unwrap();
        lake.water = Some(Water::new(shore.polygons, lake.plane));
        let found = movement(&known.sightings, &lake, &Settings::default());
        assert!(check(&format!("hollow-{name}"), &lake, &found) > 0);
    }
}
