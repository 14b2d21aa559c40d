//! Movement against a track with known places and depths (`fixtures/reference/movement/seasonal_open*.csv`: simulated
//! with truth, seven seasons that run early or late by a standard deviation of six days).

use jiff::civil::date;
use shoalwright::movement::{ClockChoice, Settings, movement};
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

#[test]
fn the_track_of_seven_shifted_seasons_lies_near_the_truth() {
    let lake = Lake::unknown_at(Place { lon: -56.0, lat: 36.0 });
    let sightings: Vec<Sighting> = rows("seasonal_open.csv")
        .into_iter()
        .enumerate()
        .map(|(k, row)| {
            let first = date(row[0] as i16, 1, 1);
            let plane = PlanePoint { east_m: row[2], north_m: row[3] };
            Sighting {
                id: Id::of('s', &[&k.to_string()]),
                kind: Kind::Bait,
                marks: vec![k],
                day: LocalDay {
                    date: first.checked_add(jiff::Span::new().days(row[1] as i64)).unwrap(),
                    season: row[0] as i16,
                    season_day: SeasonDay::from_days(row[1]),
                },
                time: None,
                place: lake.plane.to_place(plane),
                plane,
                fish_depth: Depth::from_metres(row[4]),
                water_depth: None,
                water_temp: None,
                area: None,
            }
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
