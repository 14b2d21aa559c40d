//! The simulated lakes `fixtures/reference/lake-seasons/hollow-*`: their marks, track logs and truth.

use jiff::civil::{Date, date};
use jiff::tz::{Offset, TimeZone};
use serde_json::Value;
use shoalwright::terms::codes::Codes;
use shoalwright::terms::export::FileId;
use shoalwright::terms::id::Id;
use shoalwright::terms::instant::Instant;
use shoalwright::terms::lake::Lake;
use shoalwright::terms::mark::{Kind, Mark, Origin, Words};
use shoalwright::terms::place::Place;
use shoalwright::terms::track_log::{TrackLog, TrackPoint};
use shoalwright::terms::units::{Depth, WaterTemp};
use std::path::PathBuf;
use std::{fs, io};

/// What the simulator knows of one mark.
pub(crate) struct MarkTruth {
    /// Route it came from; -1: none.
    pub(crate) route: i64,
    /// School seen.
    pub(crate) school: i64,
    /// Holding place of the route, on the way the nearer one; -1: it has no route.
    pub(crate) holding: i64,
}

/// One simulated lake.
pub(crate) struct Hollow {
    /// In the order of the file, and so of `truth`.
    pub(crate) log: Vec<Mark>,
    pub(crate) track_logs: Vec<TrackLog>,
    pub(crate) truth: Vec<MarkTruth>,
    /// Schools of the last season, seen or not: date and place.
    pub(crate) last_season_schools: Vec<(Date, Place)>,
    pub(crate) lake: Lake,
}

fn instant(time: Option<gpx::Time>) -> Option<Instant> {
    let text = time?.format().unwrap();
    Some(text.parse::<jiff::Timestamp>().unwrap().into())
}

/// `depth 76.7 ft; water 40.1 F` → the number before a unit.
fn number(text: &str, word: &str) -> Option<f64> {
    text.split("; ").find_map(|part| part.strip_prefix(word))?.split_whitespace().next()?.parse().ok()
}

/// Reads one of `a`, `b`, `c`.
pub(crate) fn hollow(letter: char) -> Hollow {
    let path = |end: &str| {
        PathBuf::from(env!("CARGO_MANIFEST_DIR"))
            .join(format!("fixtures/reference/lake-seasons/hollow-{letter}{end}"))
    };
    let truth: Value = serde_json::from_str(&fs::read_to_string(path("-truth.json")).unwrap()).unwrap();
    let degrees = |key: &str| truth["projection"][key].as_f64().unwrap();
    let mut lake = Lake::unknown_at(Place { lon: degrees("lon0"), lat: degrees("lat0") });
    let hours = truth["utc_offset_h"].as_i64().unwrap() as i8;
    lake.time_zone = TimeZone::fixed(Offset::constant(hours));

    let file = gpx::read(io::BufReader::new(fs::File::open(path(".gpx")).unwrap())).unwrap();
    let origin = |record| Origin { file: FileId(0), record, line: 0, bytes: 0, start: 0 };
    let log = (1..)
        .zip(&file.waypoints)
        .map(|(record, point)| {
            let place = Place { lon: point.point().x(), lat: point.point().y() };
            let name = point.name.clone().unwrap();
            let words = point.comment.clone().unwrap_or_default();
            let time = instant(point.time);
            let [lon, lat] = place.six_decimals();
            Mark {
                id: Id::of('m', &[&lon, &lat, &time.unwrap().rfc3339(), &name]),
                place,
                time,
                day: time.and_then(|t| lake.day_of(t)),
                kind: match name.split(' ').next() {
                    Some("BAIT") => Kind::Bait,
                    Some("GAME") => Kind::Gamefish,
                    Some("COVER") => Kind::Cover,
                    _ => Kind::Other,
                },
                fish_depth: number(&words, "depth ").and_then(Depth::from_feet),
                water_depth: None,
                water_temp: number(&words, "water ").and_then(WaterTemp::from_fahrenheit),
                words: Words::new(&name, "", "", &words, ""),
                note: "".into(),
                sources: vec![origin(record)].into(),
                repairs: Codes::default(),
            }
        })
        .collect();
    let track_logs = (1..)
        .zip(&file.tracks)
        .map(|(record, track)| TrackLog {
            origin: origin(record),
            name: track.name.clone().unwrap_or_default().into(),
            local_times: false,
            segments: track
                .segments
                .iter()
                .map(|segment| {
                    let point = |p: &gpx::Waypoint| TrackPoint {
                        place: Place { lon: p.point().x(), lat: p.point().y() },
                        time: instant(p.time),
                        depth_m: None,
                        water_temp_c: None,
                    };
                    segment.points.iter().map(point).collect()
                })
                .collect(),
        })
        .collect();
    let years = i16::try_from(truth["years"].as_array().unwrap().len()).unwrap();
    let last = i16::try_from(truth["first_year"].as_i64().unwrap()).unwrap() + years - 1;
    let last_season_schools = truth["last_season_schools"]
        .as_array()
        .unwrap()
        .iter()
        .map(|row| {
            let number = |column: usize| row[column].as_f64().unwrap();
            let days = jiff::Span::new().days(number(0) as i64);
            (date(last, 1, 1).checked_add(days).unwrap(), Place { lon: number(2), lat: number(3) })
        })
        .collect();
    let whole = |row: &Value, column: usize| row[column].as_i64().unwrap();
    let truth = truth["marks"]
        .as_array()
        .unwrap()
        .iter()
        .map(|row| MarkTruth { route: whole(row, 3), school: whole(row, 4), holding: whole(row, 5) })
        .collect();
    Hollow { log, track_logs, truth, last_season_schools, lake }
}
