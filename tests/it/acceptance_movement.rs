//! Movement on three simulated lakes whose truth is known (fixtures/reference/lake-seasons).

use crate::movement_score::{Known, Route, RouteDay, score};
use crate::sightings_of_marks::bait_sightings;
use jiff::tz::{Offset, TimeZone};
use serde_json::Value;
use shoalwright::movement::{Settings, movement};
use shoalwright::terms::id::Id;
use shoalwright::terms::instant::Instant;
use shoalwright::terms::lake::Lake;
use shoalwright::terms::mark::{Kind, Mark, Words};
use shoalwright::terms::place::Place;
use shoalwright::terms::units::{Depth, WaterTemp};
use std::fs::{self, File};
use std::io::BufReader;
use std::path::PathBuf;

fn fixture(name: &str) -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("fixtures/reference/lake-seasons").join(name)
}

fn lake() -> Lake {
    let mut lake = Lake::unknown_at(Place { lon: -94.2, lat: 37.4 });
    lake.time_zone = TimeZone::fixed(Offset::constant(-6));
    lake
}

/// `depth 76.7 ft; water 40.1 F` → the number after a word.
fn number_after(text: &str, word: &str) -> Option<f64> {
    text.split("; ").find_map(|part| part.strip_prefix(word)?.split_whitespace().next()?.parse().ok())
}

fn marks(name: &str, lake: &Lake) -> Vec<Mark> {
    let gpx = gpx::read(BufReader::new(File::open(fixture(&format!("{name}.gpx"))).unwrap())).unwrap();
    gpx.waypoints
        .iter()
        .map(|w| {
            let name = w.name.clone().unwrap();
            let time = Instant::from(w.time.unwrap().format().unwrap().parse::<jiff::Timestamp>().unwrap());
            let place = Place { lon: w.point().x(), lat: w.point().y() };
            let [lon, lat] = place.six_decimals();
            let says = |word| w.comment.as_deref().and_then(|text| number_after(text, word));
            Mark {
                id: Id::of('m', &[&lon, &lat, &name]),
                place,
                time: Some(time),
                day: lake.day_of(time),
                kind: match name.split_whitespace().next() {
                    Some("BAIT") => Kind::Bait,
                    Some("GAME") => Kind::Gamefish,
                    _ => Kind::Cover,
                },
                fish_depth: says("depth").and_then(Depth::from_feet),
                water_depth: None,
                water_temp: says("water").and_then(WaterTemp::from_fahrenheit),
                words: Words::new(&name, "", "", "", ""),
                note: "".into(),
                sources: Vec::new(),
                repairs: Vec::new(),
            }
        })
        .collect()
}

fn known(name: &str, lake: &Lake) -> Known {
    let truth: Value =
        serde_json::from_str(&fs::read_to_string(fixture(&format!("{name}-truth.json"))).unwrap()).unwrap();
    let routes: Vec<Route> = truth["routes"]
        .as_array()
        .unwrap()
        .iter()
        .map(|route| {
            let path = route["path"].as_array().unwrap();
            path.iter()
                .map(|row| RouteDay {
                    day: row[0].as_f64().unwrap(),
                    place: lake
                        .to_plane(Place { lon: row[1].as_f64().unwrap(), lat: row[2].as_f64().unwrap() }),
                    active: row[5].as_bool().unwrap(),
                })
                .collect()
        })
        .collect();
    let marks = marks(name, lake);
    let rows = truth["marks"].as_array().unwrap();
    assert_eq!(rows.len(), marks.len(), "the truth has a row for each waypoint");
    let sightings = bait_sightings(&marks, lake);
    let route_of = sightings
        .iter()
        .map(|s| {
            // The route that most of its marks belong to; -1 is clutter.
            let mut votes = vec![0; routes.len()];
            for mark in &s.marks {
                if let Some(votes) = rows[*mark][3].as_u64().and_then(|route| votes.get_mut(route as usize)) {
                    *votes += 1;
                }
            }
            (0..routes.len()).filter(|r| 2 * votes[*r] > s.marks.len()).max_by_key(|r| votes[*r])
        })
        .collect();
    Known { sightings, route_of, routes }
}

#[test]
fn tracks_tell_the_true_routes_of_three_lakes() {
    let lake = lake();
    let mut shares = Vec::new();
    for name in ["hollow-a", "hollow-b", "hollow-c"] {
        let known = known(name, &lake);
        let movement = movement(&known.sightings, &lake, &Settings::default());
        let s = score(&known, &movement.tracks, &lake);
        eprintln!(
            "{name}: {} sightings, {} tracks for {} routes, found {:.3}, oracle {:.3}, precision {:.3}, monthly {:.3}; {}",
            known.sightings.len(),
            s.tracks,
            s.routes,
            s.found,
            s.oracle,
            s.precision,
            s.monthly,
            movement.findings[0].seen,
        );
        // Gates set beforehand on another implementation of the method, on these and on kept lakes.
        assert!(s.found / s.oracle >= 0.55, "{name}: found {}", s.found);
        assert!(s.precision >= 0.70, "{name}: precision {}", s.precision);
        assert!(s.found >= 1.3 * s.monthly, "{name}: monthly {}", s.monthly);
        shares.push(s.found / s.oracle);
    }
    assert!(shares.iter().sum::<f64>() / 3.0 >= 0.80, "{shares:?}");
}
