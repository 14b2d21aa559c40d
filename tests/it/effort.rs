//! Effort from track logs: what counts as looked over, and what is left out.

use crate::hollow::hollow;
use geo::{MultiPolygon, polygon};
use jiff::civil::date;
use shoalwright::effort::{Cell, Effort, Settings, effort};
use shoalwright::terms::export::FileId;
use shoalwright::terms::instant::Instant;
use shoalwright::terms::lake::Lake;
use shoalwright::terms::mark::Origin;
use shoalwright::terms::place::{Place, PlanePoint};
use shoalwright::terms::track_log::{TrackLog, TrackPoint};
use shoalwright::terms::water::Water;

const START_S: i64 = 1_714_564_800; // 2024-05-01T12:00:00Z

/// A square lake of about 9 by 11 km about the centre of its plane.
fn lake() -> Lake {
    let mut lake = Lake::unknown_at(Place { lon: -56.0, lat: 36.0 });
    let square =
        polygon![(x: -56.05, y: 35.95), (x: -55.95, y: 35.95), (x: -55.95, y: 36.05), (x: -56.05, y: 36.05)];
    lake.water = Some(Water::new(MultiPolygon::new(vec![square]), lake.plane));
    lake
}

/// `[east_m, north_m, seconds]` a point.
fn log(lake: &Lake, points: &[[f64; 3]]) -> TrackLog {
    let point = |[east_m, north_m, seconds]: &[f64; 3]| TrackPoint {
        place: lake.plane.to_place(PlanePoint { east_m: *east_m, north_m: *north_m }),
        time: Some(Instant::from_unix_ms(START_S * 1000 + (*seconds * 1000.0) as i64)),
        depth_m: None,
        water_temp_c: None,
    };
    let segments = vec![points.iter().map(point).collect()];
    TrackLog { origin: Origin::whole_file(FileId(0)), name: "".into(), local_times: false, segments }
}

/// A point each second along a straight line.
fn straight(from: [f64; 2], to: [f64; 2], speed_m_s: f64, start_s: f64) -> Vec<[f64; 3]> {
    let metres = (to[0] - from[0]).hypot(to[1] - from[1]);
    let seconds = (metres / speed_m_s) as u32;
    (0..=seconds)
        .map(|s| {
            let share = f64::from(s) * speed_m_s / metres;
            [from[0] + (to[0] - from[0]) * share, from[1] + (to[1] - from[1]) * share, start_s + f64::from(s)]
        })
        .collect()
}

fn hectares(effort: &Effort) -> f64 {
    effort.by_cell().iter().map(|c| c.area_m2).sum::<f64>() / 10_000.0
}

/// Track points → hectares looked over (a swath of 36.6 m), and what is told.
#[track_caller]
fn check(points: &[[f64; 3]], expected_ha: f64, told: &str) {
    let lake = lake();
    let found = effort(&[log(&lake, points)], &[], &lake, &Settings::default(), 100.0);
    let ha = hectares(&found);
    assert!((ha - expected_ha).abs() <= 0.03 + 0.03 * expected_ha, "{ha} ha, not {expected_ha}");
    let findings =
        found.findings.iter().map(|f| format!("{}; {}", f.seen, f.done)).collect::<Vec<_>>().join("\n");
    assert!(findings.contains(told), "{findings}");
}

/// Hectares of a swath of 120 ft with round ends.
fn swath(metres: f64) -> f64 {
    (36.576 * metres + std::f64::consts::PI * 18.288 * 18.288) / 10_000.0
}

#[test]
fn searching_counts_in_full_and_running_a_quarter() {
    let search = straight([0.0, 0.0], [1000.0, 300.0], 2.0, 0.0);
    check(&search, swath(1044.0), "`0.6 mi` searched, `0.0 mi` run");
    let run = straight([0.0, 0.0], [3000.0, 300.0], 13.0, 0.0);
    check(&run, 0.25 * swath(3012.0), "`0.0 mi` searched, `1.9 mi` run");
}

#[test]
fn a_boat_at_rest_looks_over_nothing_however_gps_moves_it_about() {
    // An hour about one spot: a slow wander of 14 m, and the noise of a fix.
    let points: Vec<[f64; 3]> = (0..3600)
        .map(|s| {
            let t = f64::from(s);
            [
                7.0 * (t / 500.0).sin() + 1.5 * (t * 1.7).sin(),
                7.0 * (t / 630.0).cos() + 1.5 * (t * 2.3).cos(),
                t,
            ]
        })
        .collect();
    check(&points, 0.0, "`0.0 mi` searched");
}

#[test]
fn the_way_across_a_gap_is_unknown_and_a_sparse_log_has_no_gap() {
    let mut points = straight([0.0, 0.0], [400.0, 300.0], 2.0, 0.0);
    points.extend(straight([2500.0, 0.0], [2900.0, 300.0], 2.0, 1500.0));
    check(&points, 2.0 * swath(500.0), "`1` gaps");
    // A point each five minutes is how this unit logs: 600 m at 2 m/s between two points.
    let sparse: Vec<[f64; 3]> =
        (0..8).map(|k| [f64::from(k) * 480.0 - 2400.0, f64::from(k) * 360.0, f64::from(k) * 300.0]).collect();
    check(&sparse, swath(4200.0), "`0` gaps");
}

#[test]
fn a_jump_and_back_is_no_way_of_a_boat() {
    let mut points = straight([0.0, 0.0], [800.0, 600.0], 2.0, 0.0);
    points[250] = [400.0, -3000.0, 250.0];
    check(&points, swath(1000.0), "`2` jumps");
}

#[test]
fn the_road_and_the_garage_are_left_out() {
    // From a garage 6 km east of the shore to the ramp, then a search.
    let mut points = straight([11_000.0, 0.0], [4600.0, 0.0], 20.0, 0.0);
    points.extend(straight([4400.0, 0.0], [3600.0, 600.0], 2.0, 330.0));
    check(&points, swath(1000.0), "left out: `4.0 mi` on land");
    // Without a shoreline, what lies far from every mark is left out.
    let mut bare = lake();
    bare.water = None;
    let mark = hollow('a').log.into_iter().next().unwrap();
    let mark = shoalwright::terms::mark::Mark { place: bare.plane.centre(), ..mark };
    let far = straight([40_000.0, 0.0], [12_000.0, 0.0], 20.0, 0.0);
    let found = effort(&[log(&bare, &far)], &[mark], &bare, &Settings::default(), 100.0);
    assert!(found.outings.is_empty() && found.findings[0].done.contains("far from every mark"));
}

#[test]
fn the_same_log_twice_and_logs_in_another_order_give_the_same_effort() {
    let lake = lake();
    let logs = [
        log(&lake, &straight([0.0, 0.0], [900.0, 700.0], 2.0, 0.0)),
        log(&lake, &straight([0.0, 0.0], [900.0, -700.0], 11.0, 9000.0)),
        log(&lake, &straight([50.0, 0.0], [50.0, 2000.0], 3.0, 90_000.0)),
    ];
    let run = |order: &[usize]| {
        let logs: Vec<TrackLog> = order.iter().map(|i| logs[*i].clone()).collect();
        effort(&logs, &[], &lake, &Settings::default(), 100.0)
    };
    assert_eq!(run(&[0, 1, 2]), run(&[2, 0, 1]));
    assert_eq!(run(&[0, 1, 2]).outings, run(&[0, 0, 1, 2]).outings);
    let dates: Vec<_> = run(&[2, 1, 0]).outings.iter().map(|o| o.day.date).collect();
    assert_eq!(dates, [date(2024, 5, 1), date(2024, 5, 2)]);
}

#[test]
fn a_place_looked_at_and_found_empty_has_effort_and_a_place_not_looked_at_has_none() {
    let lake = lake();
    let found = effort(
        &[log(&lake, &straight([50.0, 50.0], [950.0, 50.0], 2.0, 0.0))],
        &[],
        &lake,
        &Settings::default(),
        100.0,
    );
    let cells = found.by_cell();
    let at = |row, column| cells.iter().find(|c| c.cell == Cell { row, column }).copied();
    let seen = at(0, 4).unwrap();
    assert!((seen.area_m2 - 3657.6).abs() < 400.0 && seen.outings == 1, "{seen:?}");
    assert_eq!(at(1, 4), None);
}

#[test]
fn effort_grows_with_the_swath_and_needs_no_more_than_the_track_logs() {
    let hollow = hollow('b');
    let with_swath = |feet: &str| {
        let settings = Settings { swath: feet.parse().unwrap(), ..Settings::default() };
        hectares(&effort(&hollow.track_logs, &hollow.log, &hollow.lake, &settings, 100.0))
    };
    let [narrow, wide] = ["60 ft", "120 ft"].map(with_swath);
    // Twice the width, less what lanes then share.
    assert!(wide > 1.6 * narrow && wide < 2.01 * narrow, "{narrow} {wide}");
}
