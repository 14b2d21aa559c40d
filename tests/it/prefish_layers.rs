//! What the angler takes along of a pre-fish plan: layers, table, boat file and the printed sheet.

use crate::layers_sample::sample;
use geo::{LineString, MultiPolygon, Point, Polygon, Relate};
use jiff::civil::date;
use jiff::tz::TimeZone;
use shoalwright::layers::{Planned, Results, Settings, all, boat_route, geojson, sheet, tables};
use shoalwright::prefish::{
    Day, Effort, NearHazard, Prefish, Problem, Ramp, Search, Stop, StopFacts, TravelTable, Want, Way, Window,
    plan,
};
use shoalwright::terms::id::Id;
use shoalwright::terms::instant::Instant;
use shoalwright::terms::place::{LocalPlane, Place};
use shoalwright::terms::sun::sun_day;
use shoalwright::terms::units::{Depth, Units, WaterTemp};
use shoalwright::travel::{TravelSettings, Waters};
use std::collections::BTreeSet;

const HOSTILE: &str = "<img src=x onerror=alert(1)> \"&'; =1+1 über 🐟";

/// Water of 9 by 4.4 km with a spit from the north, in the open ocean.
fn water() -> MultiPolygon<f64> {
    let shore = [
        (-56.05, 35.98),
        (-55.95, 35.98),
        (-55.95, 36.02),
        (-55.998, 36.02),
        (-56.0, 35.99),
        (-56.002, 36.02),
        (-56.05, 36.02),
        (-56.05, 35.98),
    ];
    Polygon::new(LineString::from(shore.to_vec()), Vec::new()).into()
}

fn stop(number: usize, name: &str, lon: f64, lat: f64) -> Stop {
    Stop {
        id: Id::of('p', &[name, &number.to_string()]),
        name: name.to_owned(),
        place: Place { lon, lat },
        search: Search::Chosen { q: 0.6, rate_per_min: 0.05, least_min: 10, most_min: 25 },
        want: if number == 2 { Want::Must } else { Want::May },
        group: None,
        windows: Vec::new(),
        facts: StopFacts {
            fish_depth: [20.0, 31.0].map(|ft| Depth::from_feet(ft).unwrap()).into(),
            water_depth: Depth::from_feet(44.0),
            water_temp: [50.0, 56.0].map(|f| WaterTemp::from_fahrenheit(f).unwrap()).into(),
            radius_m: Some(90.0),
            area: Some(Id::of('a', &[name])),
            sightings: 11,
            seasons: 3,
        },
    }
}

/// A plan of one or more days on a small invented lake, with as many stops as asked for.
fn planned(days: usize, stops: usize) -> Prefish {
    let plane = LocalPlane::new(Place { lon: -56.0, lat: 36.0 });
    let settings = TravelSettings { keep_off_m: 20.0, run_m_s: 13.0, idle_m_s: 2.2 };
    let waters = Waters::new(Some(&water()), plane, &[], &[], &settings);
    let stops: Vec<Stop> = (0..stops)
        .map(|n| {
            let part = |step: f64| (n as f64 * step.sqrt()).fract();
            let name = if n == 0 { String::from(HOSTILE) } else { format!("Old bridge bend {n}") };
            stop(n, &name, -56.045 + 0.09 * part(2.0), 35.982 + 0.006 * part(3.0))
        })
        .collect();
    let ramps = vec![Ramp { name: String::from("Osk <Landing>"), place: Place { lon: -56.0499, lat: 36.0 } }];
    let places: Vec<Place> = stops.iter().map(|s| s.place).chain(ramps.iter().map(|r| r.place)).collect();
    let matrix = waters.matrix(&places, stops.len());
    let pairs = || (0..places.len()).flat_map(|i| (0..places.len()).map(move |j| (i, j)));
    let read = |of: fn(&shoalwright::travel::Trip) -> f64| {
        pairs().map(|(i, j)| matrix.trip(i, j).map_or(f64::INFINITY, of)).collect()
    };
    let travel = TravelTable::new(places.len(), read(|t| t.seconds), read(|t| t.metres)).unwrap();
    let zone = TimeZone::get("America/Miquelon").unwrap();
    let at = |day: usize, hour: i8| {
        let date = date(2027, 1, 9 + day as i8);
        Instant::from(zone.to_ambiguous_timestamp(date.at(hour, 30, 0, 0)).compatible().unwrap())
    };
    let problem = Problem {
        days: (0..days)
            .map(|day| Day {
                date: date(2027, 1, 9 + day as i8),
                launch: at(day, 7),
                off_water: at(day, if days > 1 { 9 } else { 14 }),
                start: 0,
                finish: 0,
                aboard_m: 90_000.0,
                range_m: 60_000.0,
                travel: 0,
            })
            .collect(),
        stops,
        ramps,
        travel: vec![travel],
        max_stops: 12,
        seed: 1,
        effort: Effort { rounds: 100, labels: 0 },
    };
    let plan = plan(&problem);
    let ways = plan.days.iter().map(|d| {
        let way = |leg: &shoalwright::prefish::Leg| {
            let trip = matrix.trip(leg.from, leg.to).unwrap();
            Way {
                path: matrix.path(leg.from, leg.to),
                slow_s: trip.slow_seconds,
                slack_s: trip.slack_seconds,
                straight_m: trip.straight_m,
                kept_off_m: trip.kept_off_m,
                straight: trip.straight,
            }
        };
        d.legs.iter().map(way).collect()
    });
    let ways = ways.collect();
    let start = problem.ramps[0].place;
    let windows = problem
        .days
        .iter()
        .map(|d| Window {
            date: d.date,
            launch: d.launch,
            off_water: d.off_water,
            sun: sun_day(start, d.date, &zone),
        })
        .collect();
    let rules = vec![vec![String::from("closed: dam <always>")]; days];
    let hazard = NearHazard {
        name: String::from("ROCK <b>"),
        place: Place { lon: -56.0, lat: 35.985 },
        leg: 1,
        off_m: 60.0,
        over_m: Some(0.8 * 0.3048),
        over_full_m: Some(8.8 * 0.3048),
        over_lowest_m: None,
    };
    let hazards = vec![vec![hazard]; days];
    Prefish { problem, plan, windows, ways, rules, hazards, findings: Vec::new() }
}

/// Runs a writer over a plan.
fn written(
    prefish: &Prefish,
    units: Units,
    surface_f: Option<f64>,
    write: impl Fn(&mut Vec<u8>, &Results<'_>),
) -> String {
    let mut sample = sample(units);
    sample.lake.time_zone = TimeZone::get("America/Miquelon").unwrap();
    sample.lake.name = String::from("Lake <Varnholt>");
    let mut out = Vec::new();
    let surface = surface_f.and_then(WaterTemp::from_fahrenheit);
    let planned = Planned { prefish, keep_off_m: 20.0, surface };
    write(&mut out, &sample.results().with_plan(Some(planned)));
    String::from_utf8(out).unwrap()
}

fn json(text: &str) -> serde_json::Value {
    serde_json::from_str(text).unwrap()
}

#[test]
fn stops_and_legs_carry_the_properties_of_the_contract() {
    let prefish = planned(1, 4);
    for (units, u, long) in [(Units::Us, "ft", "mi"), (Units::Metric, "m", "km")] {
        let keys = |text: &str| -> Vec<String> {
            let layer = json(text);
            let features = layer["features"].as_array().unwrap();
            assert!(!features.is_empty());
            let hint = |k: &String| k.starts_with("marker") || k.starts_with("stroke");
            features[0]["properties"].as_object().unwrap().keys().filter(|k| !hint(k)).cloned().collect()
        };
        let sorted = |names: &str| -> BTreeSet<String> {
            names.split(' ').map(|n| n.replace("LONG", long).replace('U', u)).collect()
        };
        let stops =
            keys(&written(&prefish, units, None, |w, r| geojson::write(w, &all::prefish_stops(r)).unwrap()));
        assert_eq!(
            stops.into_iter().collect::<BTreeSet<_>>(),
            sorted(
                "id day order name area value arrive depart search_min chance fish_depth_low_U fish_depth_high_U \
                 water_depth_U look_for leave_rule must"
            )
        );
        let legs =
            keys(&written(&prefish, units, None, |w, r| geojson::write(w, &all::prefish_legs(r)).unwrap()));
        assert_eq!(
            legs.into_iter().collect::<BTreeSet<_>>(),
            sorted(
                "id day order from to distance_LONG course_true course_magnetic minutes slow_minutes straight_LONG"
            )
        );
    }
}

#[test]
fn legs_lie_in_the_water_and_join_ramp_to_stops_to_ramp() {
    let prefish = planned(2, 9);
    let layer = json(&written(&prefish, Units::Us, Some(52.0), |w, r| {
        geojson::write(w, &all::prefish_legs(r)).unwrap();
    }));
    let features = layer["features"].as_array().unwrap();
    let visits: usize = prefish.plan.days.iter().map(|d| d.visits.len()).sum();
    assert!(prefish.plan.days.iter().all(|d| !d.visits.is_empty()), "{visits}");
    assert_eq!(features.len(), visits + 2);
    let water = water();
    let mut last: Option<(i64, geo::Coord<f64>)> = None;
    for feature in features {
        let line: LineString<f64> = feature["geometry"]["coordinates"]
            .as_array()
            .unwrap()
            .iter()
            .map(|p| (p[0].as_f64().unwrap(), p[1].as_f64().unwrap()))
            .collect();
        assert!(water.0[0].relate(&line).is_covers(), "{line:?}");
        let day = feature["properties"]["day"].as_i64().unwrap();
        if let Some((before, end)) = last
            && before == day
        {
            assert_eq!(end, line.0[0]);
        }
        last = Some((day, line.0[line.0.len() - 1]));
        let [by_true, magnetic] =
            ["course_true", "course_magnetic"].map(|k| feature["properties"][k].as_f64().unwrap());
        // Declination at 36 N 56 W in January 2027: 15.0 degrees west (the model; checked in `reference_declination`), so magnetic courses are the larger.
        let apart = (magnetic - by_true).rem_euclid(360.0);
        assert!((13.0..=16.0).contains(&apart), "{by_true} {magnetic}");
    }
    let table = written(&prefish, Units::Us, Some(52.0), |w, r| tables::prefish(w, r).unwrap());
    assert_eq!(table.matches("\r\n").count(), visits + 1);
}

#[test]
fn the_boat_file_has_short_unique_ascii_names_and_a_route_through_water() {
    for (days, length) in [(1, 12), (2, 12), (2, 4)] {
        let prefish = planned(days, 9);
        let settings = Settings { name_length: length, ..Settings::default() };
        let text = written(&prefish, Units::Us, Some(52.0), |w, r| {
            boat_route::boat_prefish(w, r, &settings).unwrap();
        });
        let file = gpx::read(text.as_bytes()).unwrap();
        let visits: usize = prefish.plan.days.iter().map(|d| d.visits.len()).sum();
        assert_eq!((file.waypoints.len(), file.routes.len()), (visits, days));
        let names: Vec<&String> = file.waypoints.iter().map(|w| w.name.as_ref().unwrap()).collect();
        assert!(names.iter().all(|n| n.is_ascii() && n.len() <= length), "{names:?}");
        assert_eq!(names.iter().collect::<BTreeSet<_>>().len(), visits, "{names:?}");
        let water = water();
        for route in &file.routes {
            let told = route.description.as_ref().unwrap();
            assert!(told.contains("Hazard near leg 2: ROCK <b>: 0.8 ft over it"), "{told}");
            let line: LineString<f64> = route.points.iter().map(|p| p.point().0).collect();
            assert!(water.0[0].relate(&line).is_covers(), "{line:?}");
            let named: BTreeSet<&String> = route.points.iter().filter_map(|p| p.name.as_ref()).collect();
            assert!(named.iter().all(|n| n.len() <= length));
            let stops = route.points.iter().filter(|p| p.name.as_ref().is_some_and(|n| names.contains(&n)));
            assert!(named.len() == stops.count() + 2, "start, stops and finish: {named:?}");
            assert!(water.0[0].relate(&Point(route.points[0].point().0)).is_covers());
        }
    }
}

#[test]
fn the_sheet_is_a_page_a_day_that_loads_nothing_and_runs_nothing() {
    let prefish = planned(2, 9);
    let text = written(&prefish, Units::Us, Some(52.0), |w, r| sheet::sheet(w, r).unwrap());
    assert_eq!(text.matches("<section>").count(), 2);
    for tag in text.split('<').skip(1).filter_map(|part| part.split('>').next()) {
        for forbidden in ["script", "img", "link", "a ", "Landing", "src", "href", "style=", "on"] {
            let named = tag.trim_start_matches('/').starts_with(forbidden);
            assert!(!named && !tag.contains(&format!(" {forbidden}")), "<{tag}>");
        }
    }
    assert!(!text.contains("url(") && !text.contains("@import"));
    assert!(text.contains("default-src 'none'; style-src 'sha256-"));
    for told in [
        "Lake &lt;Varnholt&gt;: practice day 1, Saturday 2027-01-09",
        "&lt;img src=x onerror",
        "Launch 07:30 at Osk &lt;Landing&gt;",
        "declination 15.0\u{b0} W",
        "WMM2025, 2027-01-09",
        "bait 20-31 ft over 44, 50-56 F, within 295 ft; ",
        "nothing in",
        "Turn by",
        "30 min late:",
        "60 min late:",
        "Fuel: ",
        "NOT FOR NAVIGATION",
        "closed: dam &lt;always&gt;",
        "do not go alone",
        "Hazards marked near the legs:</strong>\n leg 2, ROCK &lt;b&gt;: 0.8 ft over it (8.8 at full pool). Others may be there.",
        "Fish from deep water",
    ] {
        assert!(text.contains(told), "{told} is not in\n{text}");
    }
}

#[test]
fn warm_water_and_shallow_fish_need_no_caution_about_cold_and_deep() {
    let mut prefish = planned(1, 3);
    for stop in &mut prefish.problem.stops {
        stop.facts.fish_depth = None;
    }
    let text = written(&prefish, Units::Metric, Some(75.0), |w, r| sheet::sheet(w, r).unwrap());
    assert!(!text.contains("Cold water") && !text.contains("Fish from deep water"));
    let text = written(&prefish, Units::Metric, None, |w, r| sheet::sheet(w, r).unwrap());
    assert!(text.contains("Cold water") && !text.contains("do not go alone"), "not known counts as cold");
}

#[test]
fn a_run_without_a_plan_writes_empty_layers() {
    let sample = sample(Units::Us);
    let mut out = Vec::new();
    geojson::write(&mut out, &all::prefish_legs(&sample.results())).unwrap();
    assert!(json(&String::from_utf8(out).unwrap())["features"].as_array().unwrap().is_empty());
}
