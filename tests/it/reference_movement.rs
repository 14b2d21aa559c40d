//! Movement against a track with known places and depths (`fixtures/reference/movement/seasonal_open*.csv`: simulated
//! with truth, seven seasons that run early or late by a standard deviation of six days), and against moves from one
//! range to another with known days (`shift_*`: simulated with truth).

use jiff::civil::date;
use shoalwright::movement::{ClockChoice, MovementTrack, Settings, movement};
use shoalwright::schools::Sighting;
use shoalwright::terms::id::Id;
use shoalwright::terms::lake::Lake;
use shoalwright::terms::mark::{Kind, LocalDay};
use shoalwright::terms::place::{Place, PlanePoint};
use shoalwright::terms::season::SeasonDay;
use shoalwright::terms::units::Depth;
use std::path::Path;

fn rows(name: &str) -> Vec<Vec<f64>> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/reference/movement").join(name);
    let mut reader = csv::Reader::from_path(path).unwrap();
    reader.records().map(|row| row.unwrap().iter().map(|cell| cell.parse().unwrap()).collect()).collect()
}

/// A bait sighting of a season day.
fn sighting(
    lake: &Lake,
    number: usize,
    season: i16,
    day: f64,
    plane: PlanePoint,
    depth: Option<Depth>,
) -> Sighting {
    Sighting {
        id: Id::of('s', &[&number.to_string()]),
        kind: Kind::Bait,
        marks: vec![number],
        day: LocalDay {
            date: date(season, 1, 1).checked_add(jiff::Span::new().days(day as i64)).unwrap(),
            season,
            season_day: SeasonDay::from_days(day),
        },
        time: None,
        place: lake.plane.to_place(plane),
        plane,
        fish_depth: depth,
        water_depth: None,
        water_temp: None,
        area: None,
    }
}

#[test]
fn the_track_of_seven_shifted_seasons_lies_near_the_truth() {
    let lake = Lake::unknown_at(Place { lon: -56.0, lat: 36.0 });
    let sightings: Vec<Sighting> = rows("seasonal_open.csv")
        .into_iter()
        .enumerate()
        .map(|(k, row)| {
            let plane = PlanePoint { east_m: row[2], north_m: row[3] };
            sighting(&lake, k, row[0] as i16, row[1], plane, Depth::from_metres(row[4]))
        })
        .collect();
    let found = movement(&sightings, &lake, &Settings { clock: ClockChoice::Date, max_tracks: 6 });
    assert_eq!(found.tracks.len(), 1, "{:?}", found.findings);
    let mut off = Vec::new();
    for truth in rows("seasonal_open_truth.csv") {
        let Some(day) = found.tracks[0].days.iter().find(|d| (d.season_day.days() - truth[0]).abs() < 0.1)
        else {
            continue;
        };
        let metres = lake.to_plane(day.place).metres_to(PlanePoint { east_m: truth[1], north_m: truth[2] });
        off.push((metres, (day.fish_depth.unwrap().metres() - truth[3]).abs()));
    }
    let mean = |of: fn(&(f64, f64)) -> f64| off.iter().map(of).sum::<f64>() / off.len() as f64;
    eprintln!(
        "{} days: place off by {:.0} m, depth by {:.2} m in the mean",
        off.len(),
        mean(|o| o.0),
        mean(|o| o.1)
    );
    assert!(off.len() >= 48);
    // Single sightings lie 221 m (median) and 0.52 m (mean) off the truth; the track must be twice as good.
    assert!(mean(|o| o.0) < 110.0 && mean(|o| o.1) < 0.26, "{off:?}");
}

/// Centres of the ranges, and for each move the day it begins and how many days it takes.
#[derive(serde::Deserialize)]
struct Shifts {
    centres: Vec<[f64; 2]>,
    t_start: Vec<f64>,
    duration: Vec<f64>,
}

/// The day on which a track is halfway from one place to another: where its way along the line between them passes
/// the middle for the last time.
fn halfway(track: &MovementTrack, lake: &Lake, from: [f64; 2], to: [f64; 2]) -> f64 {
    let (dx, dy) = (to[0] - from[0], to[1] - from[1]);
    let along = |k: usize| {
        let p = lake.to_plane(track.days[k].place);
        ((p.east_m - from[0]) * dx + (p.north_m - from[1]) * dy) / (dx * dx + dy * dy) - 0.5
    };
    let day = |k: usize| track.days[k].season_day.days();
    let k = (1..track.days.len()).find(|k| along(k - 1) <= 0.0 && along(*k) > 0.0).unwrap();
    day(k - 1) + (day(k) - day(k - 1)) * -along(k - 1) / (along(k) - along(k - 1))
}

#[test]
fn moves_from_range_to_range_are_found_within_days() {
    // A unit of the files is made 300 m, so that ranges (sd 1.03) are some 300 m wide and 1.5 to 4 km apart; the days are
    // dealt out to two seasons in turn.
    const UNIT_M: f64 = 300.0;
    let lake = Lake::unknown_at(Place { lon: -56.0, lat: 36.0 });
    for name in ["shift_mwn2", "shift_mou3"] {
        let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/reference/movement");
        let truth = std::fs::read_to_string(path.join(format!("{name}.truth.json"))).unwrap();
        let truth: Shifts = serde_json::from_str(&truth).unwrap();
        let sightings: Vec<Sighting> = rows(&format!("{name}.csv"))
            .into_iter()
            .enumerate()
            .map(|(k, row)| {
                let plane = PlanePoint { east_m: row[1] * UNIT_M, north_m: row[2] * UNIT_M };
                sighting(&lake, k, if k % 2 == 0 { 2021 } else { 2022 }, row[0], plane, None)
            })
            .collect();
        let found = movement(&sightings, &lake, &Settings { clock: ClockChoice::Date, max_tracks: 6 });
        assert_eq!(found.tracks.len(), 1, "{name}: {:?}", found.findings);
        let centres: Vec<[f64; 2]> = truth.centres.iter().map(|c| c.map(|x| x * UNIT_M)).collect();
        for (k, (start, lasts)) in truth.t_start.iter().zip(&truth.duration).enumerate() {
            let day = halfway(&found.tracks[0], &lake, centres[k], centres[k + 1]);
            eprintln!("{name}: move {k} halfway on day {day:.1}, truly {:.1}", start + lasts / 2.0);
            assert!((day - (start + lasts / 2.0)).abs() <= 3.0, "{name}: move {k} on {day}");
        }
    }
}
