//! interpret: what the records of invented exports are read as. The tables stand in `fixtures/interpret`.

use jiff::Timestamp;
use jiff::civil::{Date, date};
use jiff::tz::TimeZone;
use proptest::prelude::*;
use shoalwright::interpret::{Interpreted, Labels, interpret, middle_of};
use shoalwright::terms::export::{Columns, CsvClock, Ele, Export, FileId, Format, RecordedDepth};
use shoalwright::terms::finding::Code;
use shoalwright::terms::instant::Instant;
use shoalwright::terms::lake::Lake;
use shoalwright::terms::mark::{Fields, Kind, Origin, RawMark, RawTime, SUGGESTION_TAG, Words};
use shoalwright::terms::place::{LocalPlane, Place};
use shoalwright::terms::track_log::{TrackLog, TrackPoint};
use shoalwright::terms::units::{Depth, DepthUnit, TemperatureUnit, WaterTemp};
use shoalwright::terms::water::Water;

const RUN_DATE: Date = date(2026, 3, 1);
const CENTRE: Place = Place { lon: -94.05, lat: 35.05 };

/// An invented square lake, 0.1 degrees wide, in a zone six hours behind UTC in winter and five in summer.
fn lake(shoreline: bool) -> Lake {
    let mut lake = Lake::unknown_at(CENTRE);
    lake.time_zone = TimeZone::get("America/Chicago").unwrap();
    if shoreline {
        let ring = geo::LineString::from(vec![
            (-94.1, 35.0),
            (-94.0, 35.0),
            (-94.0, 35.1),
            (-94.1, 35.1),
            (-94.1, 35.0),
        ]);
        let polygon = geo::Polygon::new(ring, vec![]);
        lake.water = Some(Water::new(geo::MultiPolygon(vec![polygon]), LocalPlane::new(CENTRE)));
    }
    lake
}

fn export(label: &str) -> Export {
    Export {
        path: label.into(),
        label: label.into(),
        format: Format::Gpx,
        unit: label.trim_end_matches(".gpx").into(),
        recorded_depth: RecordedDepth::Water,
        ele: Ele::default(),
        columns: Columns::default(),
        depth_unit: DepthUnit::Feet,
        temperature_unit: TemperatureUnit::Fahrenheit,
        time_zone: CsvClock::Local,
    }
}

fn exports() -> Vec<Export> {
    ["a.gpx", "b.gpx", "c.gpx"].map(export).to_vec()
}

fn origin(file: u32, record: u32) -> Origin {
    Origin { file: FileId(file), record, line: record + 1, bytes: 80, start: u64::from(record) * 80 }
}

fn mark(file: u32, record: u32, place: Place, time: RawTime, name: &str) -> RawMark {
    let words = Words::new(name, "", "", "", "");
    RawMark {
        origin: origin(file, record),
        lon_deg: place.lon,
        lat_deg: place.lat,
        time,
        words,
        fields: Fields::default(),
        note: "".into(),
    }
}

fn at(text: &str) -> Instant {
    text.parse::<Timestamp>().unwrap().into()
}

fn told(text: &str) -> RawTime {
    RawTime::Instant(at(text))
}

/// A place near the middle of the lake, different for each number.
fn spot(number: u32) -> Place {
    let step = f64::from(number % 1000);
    Place { lon: CENTRE.lon + (step % 37.0 - 18.0) * 0.002, lat: CENTRE.lat + (step % 41.0 - 20.0) * 0.002 }
}

fn run(raw: Vec<RawMark>, track_logs: Vec<TrackLog>, lake: &Lake) -> Interpreted {
    let count = raw.len();
    let out = interpret(raw, track_logs, &exports(), lake, RUN_DATE, &Labels::default());
    assert_eq!(out.marks.kept.len() + out.marks.set_aside.len(), count, "conservation");
    out
}

fn has(out: &Interpreted, code: Code) -> usize {
    out.marks.findings.iter().filter(|f| f.code == code).count()
}

#[test]
fn words_and_fields_are_read_as_the_table_says() {
    let table = include_str!("../../fixtures/interpret/words.csv");
    for row in table.lines().skip(1) {
        let cells: Vec<&str> = row.split(',').collect();
        let mut texts = cells[0].split('|').chain(std::iter::repeat(""));
        let mut next = || texts.next().unwrap();
        let number = |i: usize| cells[i].parse::<f32>().ok();
        let mut raw = mark(0, 1, CENTRE, RawTime::Missing, "");
        raw.words = Words::new(next(), next(), next(), next(), next());
        raw.fields = Fields {
            depth_m: number(1),
            fish_depth_m: number(2),
            water_depth_m: number(3),
            water_temp_c: number(4),
            kind: None,
        };
        let out = run(vec![raw], vec![], &lake(true));
        let mark = &out.marks.kept[0];
        let text = |value: Option<f64>| value.map_or_else(String::new, |v| format!("{v:.1}"));
        let got = [
            mark.kind.word().to_owned(),
            text(mark.fish_depth.map(Depth::feet)),
            text(mark.water_depth.map(Depth::feet)),
            text(mark.water_temp.map(WaterTemp::fahrenheit)),
            out.marks
                .findings
                .iter()
                .filter(|f| f.code != Code::ClockMissing)
                .map(|f| f.code.word())
                .collect::<Vec<_>>()
                .join(" "),
        ];
        assert_eq!(got.join(","), cells[5..].join(","), "{row}");
    }
}

#[test]
fn positions_are_read_mended_or_set_aside_as_the_table_says() {
    let table = include_str!("../../fixtures/interpret/positions.csv");
    for row in table.lines().skip(1) {
        let cells: Vec<&str> = row.split(',').collect();
        let number = |i: usize| cells[i].parse::<f64>().unwrap();
        // Forty marks of another file make the bulk.
        let mut raw: Vec<RawMark> = (1..=40).map(|i| mark(1, i, spot(i), RawTime::Missing, "hump")).collect();
        let place = Place { lon: number(0), lat: number(1) };
        raw.push(mark(0, 1, place, RawTime::Missing, "hump"));
        let out = run(raw, vec![], &lake(cells[2] == "yes"));
        let kept = out.marks.kept.iter().find(|m| m.origin().file == FileId(0));
        let code = out
            .marks
            .findings
            .iter()
            .filter(|f| f.origin.is_some_and(|o| o == origin(0, 1)))
            .map(|f| f.code.word())
            .chain(out.marks.set_aside.iter().map(|s| s.finding.code.word()))
            .collect::<Vec<_>>()
            .join(" ");
        assert_eq!(code, cells[5], "{row}");
        match kept {
            None => assert_eq!((cells[3], cells[4]), ("", ""), "{row}"),
            Some(mark) => {
                let metres = mark.place.metres_to(Place { lon: number(3), lat: number(4) });
                assert!(metres < 0.5, "{row}: {:?}", mark.place);
                let repaired = mark.repairs.iter().map(Code::word).collect::<Vec<_>>().join(" ");
                let told = ["position-on-land", "position-far"];
                assert_eq!(repaired, if told.contains(&cells[5]) { "" } else { cells[5] }, "{row}");
            }
        }
    }
}

#[test]
fn a_file_of_glued_minutes_is_read_again_whole_even_where_marks_lie_in_the_lake_as_read() {
    // 35.85 is 35 degrees 51 minutes; glued it reads 35.51. The last of these lie in the lake as read, too.
    let glue = |deg: f64| (deg.abs().trunc() + deg.abs().fract() * 0.6).copysign(deg);
    let places: Vec<Place> = (0..30)
        .map(|i| 0.52 + f64::from(i) * 0.0124)
        .map(|part| Place { lon: -94.0 - part, lat: 35.0 + part })
        .collect();
    let mut lake = lake(false);
    let corners = vec![(-94.9, 35.5), (-94.5, 35.5), (-94.5, 35.9), (-94.9, 35.9), (-94.9, 35.5)];
    let plane = LocalPlane::new(Place { lon: -94.7, lat: 35.7 });
    let polygon = geo::Polygon::new(corners.into(), vec![]);
    lake.water = Some(Water::new(geo::MultiPolygon(vec![polygon]), plane));
    let inside_as_read = places.iter().filter(|p| glue(p.lat) > 35.5).count();
    assert_eq!(inside_as_read, 4);
    let raw = places
        .iter()
        .zip(1..)
        .map(|(p, i)| mark(0, i, Place { lon: glue(p.lon), lat: glue(p.lat) }, RawTime::Missing, "hump"))
        .collect();
    let out = run(raw, vec![], &lake);
    assert_eq!(out.marks.kept.len(), 30);
    for (mark, place) in out.marks.kept.iter().zip(&places) {
        assert!(mark.place.metres_to(*place) < 0.5, "{:?}", mark.place);
        assert_eq!(mark.repairs, [Code::PositionMinutes]);
    }
}

#[test]
fn our_own_suggestions_are_set_aside_when_they_come_back() {
    let tagged = format!("{SUGGESTION_TAG}, stop 3");
    // Units keep one of comment, description and type, or all of them.
    for [type_, cmt, desc] in [["", &*tagged, ""], ["", "", &*tagged], [&*tagged, "", ""]] {
        let mut raw = mark(0, 1, CENTRE, RawTime::Missing, "BAIT 24FT");
        raw.words = Words::new("BAIT 24FT", "", type_, cmt, desc);
        let out = run(vec![raw, mark(0, 2, CENTRE, RawTime::Missing, "BAIT 24FT")], vec![], &lake(true));
        assert_eq!((out.marks.set_aside.len(), out.marks.kept.len()), (1, 1));
        assert_eq!(out.marks.set_aside[0].finding.code, Code::OwnSuggestion);
    }
}

#[test]
fn coarse_positions_of_a_whole_file_are_told_once() {
    let coarse = |i: u32| {
        let p = spot(i * 7);
        Place { lon: (p.lon * 1e4).round() / 1e4, lat: (p.lat * 1e4).round() / 1e4 }
    };
    let fine = |i: u32| Place { lon: spot(i).lon + 0.000_013_7 * f64::from(i), lat: spot(i).lat };
    let raw = (1..=20).map(|i| mark(0, i, coarse(i), RawTime::Missing, "hump"));
    let raw = raw.chain((1..=20).map(|i| mark(1, i, fine(i), RawTime::Missing, "hump"))).collect();
    let out = run(raw, vec![], &lake(true));
    let files: Vec<_> = out
        .marks
        .findings
        .iter()
        .filter(|f| f.code == Code::PositionCoarse)
        .map(|f| f.origin.unwrap().file)
        .collect();
    assert_eq!(files, [FileId(0)]);
}

#[test]
fn a_time_without_offset_is_lake_time_and_a_date_alone_keeps_its_day() {
    let raw = vec![
        mark(0, 1, spot(1), RawTime::Civil(date(2024, 7, 1).at(6, 30, 0, 0)), "shad"),
        mark(0, 2, spot(2), RawTime::Civil(date(2024, 12, 1).at(6, 30, 0, 0)), "shad"),
        mark(0, 3, spot(3), RawTime::Date(date(2024, 7, 1)), "shad"),
        mark(0, 4, spot(4), RawTime::Missing, "shad"),
    ];
    let out = run(raw, vec![], &lake(true));
    let kept = &out.marks.kept;
    assert_eq!(kept[0].time, Some(at("2024-07-01T11:30:00Z")));
    assert_eq!(kept[1].time, Some(at("2024-12-01T12:30:00Z")));
    assert_eq!(kept[0].repairs, [Code::ClockNoZone]);
    assert_eq!((kept[2].time, kept[2].day.unwrap().date), (None, date(2024, 7, 1)));
    assert_eq!((kept[3].time, kept[3].day), (None, None));
    // One finding a file, with the count.
    let finding = out.marks.findings.iter().find(|f| f.code == Code::ClockNoZone).unwrap();
    assert!(
        finding.seen.starts_with("2 marks") && finding.seen.contains("`2024-07-01T06:30:00`"),
        "{}",
        finding.seen
    );
    assert_eq!(
        (has(&out, Code::ClockNoZone), has(&out, Code::ClockDateOnly), has(&out, Code::ClockMissing)),
        (1, 1, 1)
    );
}

#[test]
fn default_future_and_ancient_times_leave_the_mark_undated() {
    for (time, code) in [
        ("1970-01-01T00:00:00Z", Code::ClockDefault),
        ("1980-01-06T00:00:07Z", Code::ClockDefault),
        ("1989-12-31T00:00:00Z", Code::ClockDefault),
        ("2000-01-01T00:00:00Z", Code::ClockDefault),
        ("2026-03-04T00:00:00Z", Code::ClockFuture),
        ("1975-05-01T12:00:00Z", Code::ClockTooOld),
    ] {
        let out = run(vec![mark(0, 1, spot(1), told(time), "shad")], vec![], &lake(true));
        let mark = &out.marks.kept[0];
        assert_eq!(
            (mark.time, mark.day, has(&out, code)),
            (None, None, 1),
            "{time}: {:?}",
            out.marks.findings
        );
    }
    for time in ["2000-01-01T15:00:00Z", "2026-03-01T23:00:00Z", "2019-04-07T12:00:00Z"] {
        let out = run(vec![mark(0, 1, spot(1), told(time), "shad")], vec![], &lake(true));
        assert_eq!(out.marks.kept[0].time, Some(at(time)));
    }
}

/// Daylight marks of one unit: one a day from `first`, at noon at the lake.
fn outings(file: u32, first: &str, days: u32, shift_s: i64) -> Vec<RawMark> {
    (0..days)
        .map(|day| {
            let time = at(first).plus_s(i64::from(day) * 86_400 * 3 + i64::from(day % 7) * 1800 + shift_s);
            mark(file, day + 1, spot(day + 50 * file), RawTime::Instant(time), "shad")
        })
        .collect()
}

const ERA_S: i64 = 7168 * 86_400;

#[test]
fn a_unit_one_week_count_back_is_moved_whole_with_its_track_log() {
    // Check value: 2024-07-20 minus 7168 days is 2004-12-04 (python datetime).
    assert_eq!(at("2024-07-20T17:00:00Z").plus_s(-ERA_S), at("2004-12-04T17:00:00Z"));
    for back in [1, 2] {
        let mut raw = outings(0, "2024-03-01T17:00:00Z", 60, 0);
        raw.extend(outings(1, "2024-04-01T17:00:00Z", 30, -back * ERA_S));
        let point = TrackPoint {
            place: CENTRE,
            time: Some(at("2024-04-01T17:00:00Z").plus_s(-back * ERA_S)),
            depth_m: None,
            water_temp_c: None,
        };
        let log = |file| TrackLog {
            origin: origin(file, 900),
            name: "".into(),
            local_times: false,
            segments: vec![vec![point]],
        };
        let out = run(raw, vec![log(1)], &lake(true));
        let right = outings(1, "2024-04-01T17:00:00Z", 30, 0);
        for (mark, right) in out.marks.kept.iter().filter(|m| m.origin().file == FileId(1)).zip(&right) {
            assert_eq!(RawTime::Instant(mark.time.unwrap()), right.time);
            assert_eq!(mark.repairs, [Code::ClockWeekRollover]);
        }
        assert_eq!(out.track_logs[0].segments[0][0].time, Some(at("2024-04-01T17:00:00Z")));
        assert_eq!(has(&out, Code::ClockWeekRollover), 1);
        assert!(out.marks.kept.iter().filter(|m| m.origin().file == FileId(0)).all(|m| m.repairs.is_empty()));
    }
}

#[test]
fn a_unit_that_rolled_over_between_two_seasons_has_only_the_later_one_moved() {
    let mut raw = outings(0, "2022-03-01T17:00:00Z", 60, 0);
    let mut second = outings(0, "2023-05-01T17:00:00Z", 60, -ERA_S);
    for (i, mark) in second.iter_mut().enumerate() {
        mark.origin = origin(0, 500 + i as u32);
    }
    raw.extend(second);
    raw.extend(outings(1, "2022-03-02T17:00:00Z", 200, 0));
    let out = run(raw, vec![], &lake(true));
    let years: Vec<i16> = out
        .marks
        .kept
        .iter()
        .filter(|m| m.origin().file == FileId(0))
        .map(|m| m.day.unwrap().date.year())
        .collect();
    assert_eq!(
        (years.iter().filter(|y| **y == 2022).count(), years.iter().filter(|y| **y == 2023).count()),
        (60, 60)
    );
}

#[test]
fn a_single_stamp_whole_week_counts_before_its_unit_is_undated_and_told_as_doubtful() {
    // 2024-07-20 minus 7168 days (python datetime); 2030-03-05 less two counts of 7168 days is 1990-12-04.
    for (stamp, run_date, first) in [
        ("2004-12-04T17:00:00Z", RUN_DATE, "2024-03-01T17:00:00Z"),
        ("1990-12-04T17:00:00Z", date(2030, 9, 1), "2030-02-01T17:00:00Z"),
    ] {
        let mut raw = outings(0, first, 60, 0);
        raw.push(mark(0, 100, spot(5), told(stamp), "shad"));
        let out = interpret(raw, vec![], &exports(), &lake(true), run_date, &Labels::default());
        let stray = out.marks.kept.last().unwrap();
        assert_eq!((stray.time, stray.day), (None, None), "{stamp}");
        let findings: Vec<_> = out.marks.findings.iter().filter(|f| f.code == Code::ClockStray).collect();
        assert_eq!(findings.len(), 1);
        assert_eq!(findings[0].origin, Some(origin(0, 100)));
        assert!(out.marks.kept[..60].iter().all(|m| m.time.is_some() && m.repairs.is_empty()));
    }
}

#[test]
fn an_old_stamp_that_no_week_count_brings_to_its_unit_keeps_its_time() {
    // 2010-06-05 plus 1024 weeks is 2030-01-19: after the run.
    let mut raw = outings(0, "2024-03-01T17:00:00Z", 60, 0);
    raw.push(mark(0, 100, spot(5), told("2010-06-05T17:00:00Z"), "shad"));
    let out = run(raw, vec![], &lake(true));
    assert_eq!(out.marks.kept.last().unwrap().time, Some(at("2010-06-05T17:00:00Z")));
    assert_eq!(has(&out, Code::ClockStray), 0);
}

#[test]
fn old_seasons_among_others_stay() {
    // A log that runs from 2004 to 2024 without a long pause makes 2004 plausible.
    let mut raw: Vec<RawMark> = (0..240)
        .map(|i| {
            mark(
                0,
                i + 1,
                spot(i),
                RawTime::Instant(at("2004-03-01T17:00:00Z").plus_s(i64::from(i) * 30 * 86_400)),
                "shad",
            )
        })
        .collect();
    raw.extend(outings(1, "2004-05-01T17:00:00Z", 20, 0));
    let out = run(raw, vec![], &lake(true));
    assert_eq!(has(&out, Code::ClockWeekRollover), 0);
}

#[test]
fn times_that_two_week_counts_could_explain_are_undated() {
    // 1985 alone: one count gives 2004, two give 2024; nothing tells which.
    let out = run(outings(0, "1985-04-20T17:00:00Z", 20, 0), vec![], &lake(true));
    assert!(out.marks.kept.iter().all(|m| m.time.is_none() && m.day.is_none()));
    assert_eq!(has(&out, Code::ClockTooOld), 1);
}

/// A day on the water from 06:30 to 12:30 at the lake: a mark every 20 minutes, on each of `days` days in spring.
fn mornings(file: u32, days: u32, zone_s: i64) -> Vec<RawMark> {
    (0..days * 18)
        .map(|i| {
            let (day, step) = (i / 18, i % 18);
            // 2024-04-02T06:30 in Chicago is 11:30Z.
            let time =
                at("2024-04-02T11:30:00Z").plus_s(i64::from(day) * 86_400 + i64::from(step) * 1200 + zone_s);
            mark(file, i + 1, spot(i), RawTime::Instant(time), "shad")
        })
        .collect()
}

#[test]
fn local_time_written_as_utc_is_told_by_the_sun_and_mended_whole() {
    let out = run(mornings(0, 6, -5 * 3600), vec![], &lake(true));
    let right = mornings(0, 6, 0);
    for (mark, right) in out.marks.kept.iter().zip(&right) {
        assert_eq!(RawTime::Instant(mark.time.unwrap()), right.time);
        assert_eq!(mark.repairs, [Code::ClockLocalAsUtc]);
    }
    assert_eq!(has(&out, Code::ClockLocalAsUtc), 1);
    // The same mornings told right, and true nights from 20:00 to 02:00, are left alone.
    let out = run(mornings(0, 6, 13 * 3600 + 1800), vec![], &lake(true));
    assert_eq!(has(&out, Code::ClockLocalAsUtc), 0);
    let out = run(mornings(0, 6, 0), vec![], &lake(true));
    assert_eq!(has(&out, Code::ClockLocalAsUtc), 0);
}

#[test]
fn an_angler_who_starts_before_dawn_is_not_taken_for_a_wrong_clock() {
    // From 04:45 on: two hours before sunrise in early April.
    let out = run(mornings(0, 6, -105 * 60), vec![], &lake(true));
    assert_eq!(has(&out, Code::ClockLocalAsUtc), 0);
}

fn log_of(file: u32, marks: &[RawMark], shift_s: i64) -> TrackLog {
    let segment = marks
        .iter()
        .filter_map(|m| {
            let RawTime::Instant(time) = m.time else { return None };
            let place = Place { lon: m.lon_deg, lat: m.lat_deg };
            Some(TrackPoint { place, time: Some(time.plus_s(shift_s)), depth_m: None, water_temp_c: None })
        })
        .collect();
    TrackLog { origin: origin(file, 9000), name: "".into(), local_times: false, segments: vec![segment] }
}

#[test]
fn another_units_track_log_tells_local_time_and_the_own_log_follows() {
    let right = mornings(0, 1, 0);
    let faulty = mornings(0, 1, -5 * 3600);
    let logs = vec![log_of(1, &right, 0), log_of(0, &faulty, 0)];
    let out = run(faulty, logs, &lake(true));
    assert_eq!(has(&out, Code::ClockLocalAsUtc), 1);
    for (mark, right) in out.marks.kept.iter().zip(&right) {
        assert_eq!(RawTime::Instant(mark.time.unwrap()), right.time);
    }
    // File 0's own log ran on the same clock; file 1's was right.
    let first = |file: u32| {
        out.track_logs.iter().find(|l| l.origin.file == FileId(file)).unwrap().segments[0][0].time
    };
    assert_eq!(first(0), Some(at("2024-04-02T11:30:00Z")));
    assert_eq!(first(1), Some(at("2024-04-02T11:30:00Z")));
}

#[test]
fn the_own_track_log_tells_local_time_in_the_marks_alone() {
    let faulty = mornings(0, 1, -5 * 3600);
    let out = run(faulty.clone(), vec![log_of(0, &faulty, 5 * 3600)], &lake(true));
    assert_eq!(has(&out, Code::ClockLocalAsUtc), 1);
    assert_eq!(out.track_logs[0].segments[0][0].time, Some(at("2024-04-02T11:30:00Z")));
    assert_eq!(out.marks.kept[0].time, Some(at("2024-04-02T11:30:00Z")));
}

#[test]
fn copies_in_another_units_file_tell_local_time() {
    let mut raw = mornings(0, 1, -5 * 3600);
    raw.extend(mornings(1, 1, 0));
    let out = run(raw, vec![], &lake(true));
    let of = |file: u32| -> Vec<_> {
        out.marks.kept.iter().filter(|m| m.origin().file == FileId(file)).map(|m| m.time).collect()
    };
    assert_eq!(of(0), of(1));
    assert_eq!(of(1)[0], Some(at("2024-04-02T11:30:00Z")));
}

/// Sixty marks of a year at 10:14Z, a third of them in winter, of a lake in a zone; `shift_s` is added to those of
/// summer, where a clock on summer time would differ.
fn a_year(file: u32, place: Place, summer_shift_s: i64) -> Vec<RawMark> {
    (0..60)
        .map(|i| {
            let (first, shift_s) =
                if i < 20 { ("2024-01-08T10:14:00Z", 0) } else { ("2024-06-03T10:14:00Z", summer_shift_s) };
            let time = at(first).plus_s(i64::from(i) * 86_400 + shift_s);
            let place = Place { lon: place.lon + f64::from(i) * 1e-3, lat: place.lat };
            mark(file, i + 1, place, RawTime::Instant(time), "shad")
        })
        .collect()
}

#[test]
fn correct_times_with_copies_stay_in_zones_that_stand_at_utc_in_winter_or_always() {
    for (zone, lon, lat) in [
        ("Europe/London", -2.95, 54.37),
        ("Atlantic/Reykjavik", -21.1, 64.17),
        ("Etc/UTC", -2.95, 54.37),
        ("UTC", -2.95, 54.37),
    ] {
        let place = Place { lon, lat };
        let mut lake = Lake::unknown_at(place);
        lake.time_zone = TimeZone::get(zone).unwrap();
        let mut raw = a_year(0, place, 0);
        raw.extend(a_year(1, place, 0));
        let out = run(raw.clone(), vec![], &lake);
        assert_eq!(has(&out, Code::ClockLocalAsUtc), 0, "{zone}");
        for (mark, raw) in out.marks.kept.iter().zip(&raw) {
            assert_eq!(mark.time.map(RawTime::Instant).as_ref(), Some(&raw.time), "{zone}");
            assert!(mark.repairs.is_empty(), "{zone}");
        }
    }
}

#[test]
fn british_summer_time_written_as_utc_is_mended_and_the_winter_marks_carry_no_repair() {
    let place = Place { lon: -2.95, lat: 54.37 };
    let mut lake = Lake::unknown_at(place);
    lake.time_zone = TimeZone::get("Europe/London").unwrap();
    let right = a_year(1, place, 0);
    let mut raw = a_year(0, place, 3600);
    raw.extend(right.clone());
    let out = run(raw, vec![], &lake);
    let of = |file: u32| out.marks.kept.iter().filter(move |m| m.origin().file == FileId(file));
    for (mark, right) in of(0).chain(of(1)).zip(right.iter().chain(&right)) {
        assert_eq!(mark.time.map(RawTime::Instant).as_ref(), Some(&right.time));
    }
    let repaired = of(0).filter(|m| m.repairs == [Code::ClockLocalAsUtc]).count();
    assert_eq!((repaired, of(1).filter(|m| !m.repairs.is_empty()).count()), (40, 0));
}

#[test]
fn marks_miles_apart_in_minutes_are_a_burst_of_edits() {
    let time = |i: u32| RawTime::Instant(at("2024-04-02T20:00:00Z").plus_s(i64::from(i) * 5));
    let mut raw: Vec<RawMark> = (1..=20).map(|i| mark(0, i, spot(i), time(i), "shad")).collect();
    raw.push(mark(0, 21, spot(3), told("2024-04-05T15:00:00Z"), "shad"));
    let out = run(raw, vec![], &lake(true));
    assert_eq!(out.marks.kept.iter().filter(|m| m.day.is_none()).count(), 20);
    assert!(out.marks.kept[20].time.is_some());
    assert_eq!(has(&out, Code::ClockBurst), 1);

    // Twenty presses on one school in the same minutes are no burst.
    let near = |i: u32| Place { lon: CENTRE.lon + f64::from(i) * 1e-4, lat: CENTRE.lat };
    let out = run((1..=20).map(|i| mark(0, i, near(i), time(i), "shad")).collect(), vec![], &lake(true));
    assert_eq!(has(&out, Code::ClockBurst), 0);
}

#[test]
fn names_that_count_are_no_depths() {
    let raw = (3..=20).map(|i| mark(0, i, spot(i), RawTime::Missing, &format!("Bait {i}"))).collect();
    let out = run(raw, vec![], &lake(true));
    assert!(out.marks.kept.iter().all(|m| m.fish_depth.is_none() && m.kind == Kind::Bait));
    let raw = [24, 27, 24, 31, 18, 24, 40, 27, 22].iter().zip(1..);
    let raw = raw.map(|(depth, i)| mark(0, i, spot(i), RawTime::Missing, &format!("Bait {depth}"))).collect();
    let out = run(raw, vec![], &lake(true));
    assert!(out.marks.kept.iter().all(|m| m.fish_depth.is_some()));
}

#[test]
fn a_recorded_depth_is_whose_the_user_says() {
    let mut raw = mark(0, 1, CENTRE, RawTime::Missing, "shad");
    raw.fields.depth_m = Some(12.192);
    let mut exports = exports();
    exports[0].recorded_depth = RecordedDepth::Fish;
    let out = interpret(vec![raw], vec![], &exports, &lake(true), RUN_DATE, &Labels::default());
    let mark = &out.marks.kept[0];
    assert_eq!((mark.fish_depth.map(|d| d.feet().round()), mark.water_depth), (Some(40.0), None));
}

#[test]
fn the_middle_is_the_median_and_strays_do_not_move_it() {
    let mut raw: Vec<RawMark> = (0..41).map(|i| mark(0, i + 1, spot(i), RawTime::Missing, "")).collect();
    let middle = middle_of(&raw).unwrap();
    raw.push(mark(0, 50, Place { lon: 0.0, lat: 0.0 }, RawTime::Missing, ""));
    raw.push(mark(0, 51, Place { lon: 1e9, lat: f64::NAN }, RawTime::Missing, ""));
    assert_eq!(middle_of(&raw), Some(middle));
    assert!(middle.metres_to(CENTRE) < 5000.0);
    assert_eq!(middle_of(&[]), None);
    // A lake on the 180th meridian.
    let raw: Vec<RawMark> = [179.98, 179.99, -179.99, -179.98, 179.97]
        .into_iter()
        .zip(1..)
        .map(|(lon, i)| mark(0, i, Place { lon, lat: -16.8 }, RawTime::Missing, ""))
        .collect();
    assert!((middle_of(&raw).unwrap().lon - 179.99).abs() < 1e-9);
}

/// Any record, most of them near the lake, some of them nonsense.
fn any_mark() -> impl Strategy<Value = RawMark> {
    let degrees = prop_oneof![
        8 => (-94.12..-93.98, 34.98..35.12),
        1 => (-400.0..400.0, -400.0..400.0),
        1 => (-3e9..3e9, -3e9..3e9),
        1 => Just((0.0, 0.0)),
        1 => (35.0..35.1, -94.1..-94.0),
    ];
    let time = prop_oneof![
        4 => (1_600_000_000_i64..1_800_000_000).prop_map(|s| RawTime::Instant(Instant::from_unix_s(s))),
        1 => (-5_000_000_000_i64..5_000_000_000).prop_map(|s| RawTime::Instant(Instant::from_unix_s(s))),
        1 => Just(RawTime::Missing),
        1 => Just(RawTime::Date(date(2024, 5, 1))),
        1 => Just(RawTime::Civil(date(2024, 3, 10).at(2, 30, 0, 0))),
        1 => Just(RawTime::Unreadable("soon".into())),
    ];
    let name = prop_oneof![
        "[A-Za-z ]{0,6}[0-9]{0,3}(ft|F|m|#|')?",
        "(SHAD|bass|brush) [0-9]{1,3}[-/@]?[0-9]{0,2}(ft|F)?",
        "\\PC{0,12}",
    ];
    (degrees, time, name, proptest::option::of(-2000.0_f32..2000.0), proptest::option::of(-300.0_f32..300.0))
        .prop_map(|((lon, lat), time, name, depth_m, water_temp_c)| {
            let mut raw = mark(0, 1, Place { lon, lat }, time, &name);
            raw.fields = Fields { depth_m, water_temp_c, ..Fields::default() };
            raw
        })
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 64, failure_persistence: None, ..ProptestConfig::default() })]

    /// Each mark is kept or set aside, whatever it holds; and no order of the records changes anything.
    #[test]
    fn nothing_is_lost_and_order_does_not_matter(
        mut raw in proptest::collection::vec(any_mark(), 0..40),
        shoreline in any::<bool>(),
        rotation in 0_usize..40,
    ) {
        for (record, mark) in (1..).zip(&mut raw) {
            mark.origin = origin(record % 3, record);
        }
        let lake = lake(shoreline);
        let out = run(raw.clone(), vec![], &lake);
        let middle = middle_of(&raw);
        if !raw.is_empty() {
            let by = rotation % raw.len();
            raw.rotate_left(by);
        }
        prop_assert_eq!(middle_of(&raw), middle);
        prop_assert_eq!(run(raw, vec![], &lake), out);
    }

    /// Feet in the name and metres in the name give the same mark.
    #[test]
    fn feet_and_metres_tell_the_same_depth(decimetres in 20_u32..500) {
        let metres = f64::from(decimetres) / 10.0;
        let both = [format!("shad {metres:.1} m"), format!("shad {:.3}ft", metres / 0.3048)];
        let depths = both.map(|name| {
            let out = run(vec![mark(0, 1, CENTRE, RawTime::Missing, &name)], vec![], &lake(true));
            out.marks.kept[0].fish_depth.unwrap().metres()
        });
        prop_assert!((depths[0] - depths[1]).abs() < 1e-3);
        prop_assert!((depths[0] - metres).abs() < 1e-3);
    }
}
