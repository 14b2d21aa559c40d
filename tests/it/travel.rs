//! Ways through invented waters: margins, ramps, land, closed areas, hazards, and what must not change a way.

use geo::{BoundingRect, Coord, Distance, Euclidean, Line, LineString, MultiPolygon, Point, Polygon, Relate};
use proptest::prelude::*;
use shoalwright::ingest::shoreline::read_shoreline;
use shoalwright::terms::place::{LocalPlane, Place, PlanePoint};
use shoalwright::terms::water::Water;
use shoalwright::terms::zone::{Zone, ZoneKind};
use shoalwright::travel::{Matrix, Standing, TravelSettings, WaterDistance, Waters, ZONE_STEP_M};
use std::f64::consts::PI;
use std::fs;

const SETTINGS: TravelSettings = TravelSettings { keep_off_m: 20.0, run_m_s: 10.0, idle_m_s: 2.0 };
/// Metres from the shore at which a boat runs: the margin and what a simplified shore may be off, a little more for
/// the chords of a rounded corner.
const RUNS_OFF_M: f64 = 23.812_624;

fn ring(corners: &[[f64; 2]]) -> LineString<f64> {
    corners.iter().map(|[x, y]| Coord { x: *x, y: *y }).collect()
}

fn rectangle(west: f64, south: f64, east: f64, north: f64) -> Polygon<f64> {
    Polygon::new(
        ring(&[[west, south], [east, south], [east, north], [west, north], [west, south]]),
        Vec::new(),
    )
}

/// Two basins of 1 km with a channel of 200 m between them, and a pond to the east that nothing leads to.
fn basins(channel_m: f64) -> MultiPolygon<f64> {
    let (low, high) = (500.0 - channel_m / 2.0, 500.0 + channel_m / 2.0);
    let shore = ring(&[
        [0.0, 0.0],
        [1000.0, 0.0],
        [1000.0, low],
        [1200.0, low],
        [1200.0, 0.0],
        [2200.0, 0.0],
        [2200.0, 1000.0],
        [1200.0, 1000.0],
        [1200.0, high],
        [1000.0, high],
        [1000.0, 1000.0],
        [0.0, 1000.0],
        [0.0, 0.0],
    ]);
    MultiPolygon::new(vec![Polygon::new(shore, Vec::new()), rectangle(3000.0, 0.0, 3300.0, 300.0)])
}

fn waters(water: &MultiPolygon<f64>) -> Waters {
    Waters::on_plane(Some(water), Vec::new(), Vec::new(), Vec::new(), &SETTINGS)
}

fn places(places: &[[f64; 2]]) -> Vec<Coord<f64>> {
    places.iter().map(|[x, y]| Coord { x: *x, y: *y }).collect()
}

#[track_caller]
fn near(got: f64, expected: f64) {
    assert!((got - expected).abs() < 0.01, "{got} is not {expected}");
}

#[test]
fn a_ramp_inside_the_margin_is_left_at_idle_speed_by_the_shortest_way() {
    let waters = waters(&basins(200.0));
    let matrix = waters.matrix_on_plane(&places(&[[3.0, 300.0], [800.0, 300.0]]), 0);
    let trip = matrix.trip(0, 1).unwrap();
    near(trip.metres, 797.0);
    near(trip.slow_seconds, (RUNS_OFF_M - 3.0) / 2.0);
    near(trip.seconds, trip.slow_seconds + (800.0 - RUNS_OFF_M) / 10.0);
    near(trip.kept_off_m, 20.0);
}

#[test]
fn two_places_on_one_bank_are_joined_along_it() {
    let waters = waters(&basins(200.0));
    let matrix = waters.matrix_on_plane(&places(&[[3.0, 300.0], [3.0, 310.0]]), 0);
    near(matrix.trip(0, 1).unwrap().seconds, 5.0);
    assert_eq!(matrix.path_on_plane(1, 0), places(&[[3.0, 310.0], [3.0, 300.0]]));
}

#[test]
fn a_channel_narrower_than_the_margins_is_passed_with_less_and_told() {
    for (channel_m, kept_off_m) in [(60.0, 20.0), (30.0, 10.0), (18.0, 5.0), (12.0, 0.0)] {
        let waters = waters(&basins(channel_m));
        let matrix = waters.matrix_on_plane(&places(&[[500.0, 500.0], [1700.0, 500.0], [600.0, 500.0]]), 0);
        let trip = matrix.trip(0, 1).unwrap();
        near(trip.kept_off_m, kept_off_m);
        near(trip.metres, 1200.0);
        // Where the shore is nearer than the margin the boat idles: the channel and the margin at both its mouths.
        let idle_m = if kept_off_m < 20.0 { 200.0 + 2.0 * mouth_m(channel_m) } else { 0.0 };
        near(trip.slow_seconds, idle_m / 2.0);
        near(trip.seconds, idle_m / 2.0 + (1200.0 - idle_m) / 10.0);
        let told = matrix.leg_finding(0, 1, "a to b").map(|f| f.seen.into_owned());
        assert_eq!(told.is_some(), kept_off_m < 20.0, "{told:?}");
        assert!(matrix.leg_finding(0, 2, "a to c").is_none(), "the other leg keeps off");
    }
}

/// How far before the mouth of a channel a boat in its middle comes nearer to a corner than the chords about it,
/// which are an eighth of a half turn wide.
fn mouth_m(channel_m: f64) -> f64 {
    let corners: Vec<[f64; 2]> = (0..=4)
        .map(|k| f64::from(k) * PI / 8.0)
        .map(|a| [RUNS_OFF_M * a.sin(), RUNS_OFF_M * a.cos()])
        .collect();
    let off_m = channel_m / 2.0;
    let chord = corners.windows(2).find(|c| c[1][1] <= off_m && off_m <= c[0][1]).unwrap();
    chord[1][0] + (chord[0][0] - chord[1][0]) * (off_m - chord[1][1]) / (chord[0][1] - chord[1][1])
}

#[test]
fn places_on_land_in_other_water_and_in_closed_water_are_told() {
    let closed = vec![(String::from("refuge"), rectangle(0.0, 800.0, 200.0, 1000.0).into())];
    let hazards = places(&[[500.0, 500.0]]);
    let waters = Waters::on_plane(Some(&basins(60.0)), closed, Vec::new(), hazards, &SETTINGS);
    let at = places(&[
        [800.0, 500.0],
        [300.0, -60.0],
        [300.0, -160.0],
        [3100.0, 100.0],
        [100.0, 900.0],
        [510.0, 500.0],
        [-50.0, 900.0],
    ]);
    let matrix = waters.matrix_on_plane(&at, 0);
    let told: Vec<String> = matrix.standings().iter().map(standing).collect();
    assert_eq!(
        told,
        [
            "afloat",
            "moved 61",
            "on land 160",
            "other water",
            "closed refuge",
            "moved 11 hazard",
            "on land 112"
        ]
    );
    for (number, standing) in matrix.standings().iter().enumerate() {
        assert_eq!(matrix.trip(0, number).is_some(), standing.is_afloat());
        assert_eq!(standing.finding("S").is_none(), *standing == Standing::Afloat);
    }
    near(matrix.path_on_plane(0, 1).last().unwrap().y, 1.0);
}

fn standing(standing: &Standing) -> String {
    match standing {
        Standing::Afloat => String::from("afloat"),
        Standing::Moved { by_m, off_hazard, .. } => {
            format!("moved {by_m:.0}{}", if *off_hazard { " hazard" } else { "" })
        }
        Standing::OtherWater => String::from("other water"),
        Standing::OnLand { metres } => format!("on land {metres:.0}"),
        Standing::Closed { zone } => format!("closed {zone}"),
    }
}

#[test]
fn ways_go_around_closed_water_and_hazards_with_and_without_a_shoreline() {
    let closed = rectangle(400.0, -300.0, 600.0, 700.0);
    let lake = MultiPolygon::from(rectangle(-2000.0, -2000.0, 3000.0, 2000.0));
    for water in [Some(&lake), None] {
        let zones = vec![(String::from("dam"), closed.clone().into())];
        let waters = Waters::on_plane(water, zones, Vec::new(), places(&[[-300.0, 0.0]]), &SETTINGS);
        let matrix = waters.matrix_on_plane(&places(&[[0.0, 0.0], [1000.0, 0.0], [-600.0, 0.0]]), 0);
        let trip = matrix.trip(0, 1).unwrap();
        near(trip.metres, 200.0 + 2.0 * 400.0_f64.hypot(300.0));
        assert_eq!(trip.straight, water.is_none());
        near(trip.straight_m, 1000.0);
        let way = LineString::new(matrix.path_on_plane(2, 0));
        let off_m = Euclidean.distance(&way, &Point::new(-300.0, 0.0));
        assert!((20.0..21.0).contains(&off_m), "{off_m} m off the hazard");
    }
}

/// A lake with an island, drawn in several ways that mean the same water.
fn drawings() -> Vec<MultiPolygon<f64>> {
    let shore = [[0.0, 0.0], [900.0, 40.0], [1000.0, 800.0], [480.0, 500.0], [30.0, 900.0]];
    let island = [[400.0, 200.0], [600.0, 210.0], [590.0, 330.0], [410.0, 300.0]];
    let closed = |corners: Vec<[f64; 2]>| ring(&[corners.clone(), vec![corners[0]]].concat());
    let turned = |corners: &[[f64; 2]], by: usize| {
        let mut corners = corners.to_vec();
        corners.rotate_left(by);
        corners
    };
    let reversed = |corners: &[[f64; 2]]| corners.iter().rev().copied().collect::<Vec<_>>();
    let doubled = |corners: &[[f64; 2]]| corners.iter().flat_map(|c| [*c, *c]).collect::<Vec<_>>();
    // Out along a line and back: a sliver without an inside.
    let spiked = [&shore[..2], &[[1500.0, 300.0], [900.0, 40.0]], &shore[2..]].concat();
    // The island tied to the shore by a cut that is drawn twice.
    let cut = [&shore[..1], &turned(&reversed(&island), 3), &[[400.0, 200.0]], &shore[..]].concat();
    [
        (shore.to_vec(), island.to_vec()),
        (reversed(&shore), island.to_vec()),
        (shore.to_vec(), reversed(&island)),
        (turned(&shore, 3), turned(&island, 2)),
        (doubled(&shore), doubled(&island)),
        (spiked, island.to_vec()),
    ]
    .into_iter()
    .map(|(shore, island)| Polygon::new(closed(shore), vec![closed(island)]).into())
    .chain([Polygon::new(closed(cut), Vec::new()).into()])
    .collect()
}

#[test]
fn winding_first_corner_double_corners_spikes_and_cuts_change_nothing() {
    let stops = places(&[[100.0, 100.0], [900.0, 700.0], [120.0, 750.0], [500.0, 400.0], [700.0, 250.0]]);
    let mut first: Option<Vec<f64>> = None;
    for (number, drawing) in drawings().iter().enumerate() {
        let waters = waters(drawing);
        let matrix = waters.matrix_on_plane(&stops, 0);
        let lengths: Vec<f64> = (0..25).map(|pair| matrix.trip(pair / 5, pair % 5).unwrap().metres).collect();
        let first = first.get_or_insert_with(|| lengths.clone());
        for (got, expected) in lengths.iter().zip(first) {
            assert!((got - *expected).abs() < 1e-6, "drawing {number}: {got} {expected}");
        }
    }
}

#[test]
fn the_order_of_places_leaves_no_trace() {
    let stops = places(&[[100.0, 100.0], [900.0, 700.0], [120.0, 750.0], [500.0, 400.0], [3.0, 3.0]]);
    let backwards: Vec<_> = stops.iter().rev().copied().collect();
    let waters = waters(&drawings()[0]);
    let (one, other) = (waters.matrix_on_plane(&stops, 0), waters.matrix_on_plane(&backwards, 4));
    for (i, j) in (0..5).flat_map(|i| (0..5).map(move |j| (i, j))) {
        assert_eq!(one.trip(i, j), other.trip(4 - i, 4 - j));
        assert_eq!(one.path_on_plane(i, j), other.path_on_plane(4 - i, 4 - j));
    }
}

#[test]
fn water_that_touches_itself_in_one_point_is_not_joined_there() {
    // Two squares that share a corner.
    let water =
        MultiPolygon::new(vec![rectangle(0.0, 0.0, 100.0, 100.0), rectangle(100.0, 100.0, 200.0, 200.0)]);
    let waters = Waters::on_plane(
        Some(&water),
        Vec::new(),
        Vec::new(),
        Vec::new(),
        &TravelSettings { keep_off_m: 0.0, ..SETTINGS },
    );
    let matrix = waters.matrix_on_plane(&places(&[[50.0, 50.0], [150.0, 150.0]]), 0);
    assert_eq!(matrix.standings()[1], Standing::OtherWater);
    let bow_tie =
        Polygon::new(ring(&[[0.0, 0.0], [100.0, 0.0], [0.0, 100.0], [100.0, 100.0], [0.0, 0.0]]), Vec::new());
    let distance = WaterDistance::on_plane(&bow_tie.into());
    let at = |east_m, north_m| PlanePoint { east_m, north_m };
    let found = distance.within(at(50.0, 10.0), &[at(50.0, 90.0), at(30.0, 10.0)], 1000.0);
    assert_eq!(found, [None, Some(20.0)]);
}

/// A crooked lake about the origin with an island in it, from numbers in `[0, 1)`.
fn crooked(numbers: &[f64]) -> Polygon<f64> {
    let (shore, island) = numbers.split_at(numbers.len() - 6);
    let around = |numbers: &[f64], low: f64, high: f64, east: f64| -> LineString<f64> {
        let step = 2.0 * PI / numbers.len() as f64;
        let mut corners: Vec<Coord<f64>> = numbers
            .iter()
            .enumerate()
            .map(|(k, number)| {
                let (sin, cos) = (k as f64 * step).sin_cos();
                let radius = low + number * (high - low);
                Coord { x: east + radius * cos, y: radius * sin }
            })
            .collect();
        corners.push(corners[0]);
        LineString::new(corners)
    };
    Polygon::new(around(shore, 350.0, 1500.0, 0.0), vec![around(island, 20.0, 150.0, 100.0)])
}

/// Holds ways to what must be true of them, by operations of `geo` that travel does not use.
fn judge(matrix: &Matrix<'_>, water: &MultiPolygon<f64>, stops: &[Coord<f64>]) -> usize {
    let shore: Vec<Line<f64>> = water
        .iter()
        .flat_map(|p| std::iter::once(p.exterior()).chain(p.interiors()))
        .flat_map(LineString::lines)
        .collect();
    let shore_m = |at: Coord<f64>| {
        shore.iter().map(|l| Euclidean.distance(l, &Point(at))).fold(f64::INFINITY, f64::min)
    };
    // A place nearer to the shore than this is joined to the water that keeps off.
    let keeps_off: Vec<bool> = stops.iter().map(|s| shore_m(*s) > 26.0).collect();
    let mut judged = 0;
    for (i, j) in (0..stops.len()).flat_map(|i| (0..i).map(move |j| (i, j))) {
        let Some(trip) = matrix.trip(i, j) else { continue };
        let way = LineString::new(matrix.path_on_plane(i, j));
        assert!(trip.metres >= trip.straight_m - 1e-6);
        assert!(water.iter().any(|p| p.relate(&way).is_covers()), "{i} to {j} leaves the water: {way:?}");
        if keeps_off[i] && keeps_off[j] && trip.kept_off_m >= 20.0 {
            let off_m = way
                .lines()
                .flat_map(|w| shore.iter().map(move |s| Euclidean.distance(&w, s)))
                .fold(f64::MAX, f64::min);
            assert!(off_m >= 19.5, "{i} to {j} comes to {off_m} m of the shore");
            judged += 1;
        }
    }
    judged
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]
    #[test]
    fn ways_keep_off_the_shore_and_never_cross_land(
        numbers in prop::collection::vec(0.0..1.0_f64, 16..40),
        stops in prop::collection::vec((-1000.0..1000.0_f64, -1000.0..1000.0_f64), 3..7),
    ) {
        let water = MultiPolygon::from(crooked(&numbers));
        let stops: Vec<_> = stops.into_iter().map(|(x, y)| Coord { x, y }).filter(|at| {
            water.relate(&Point(*at)).is_contains()
        }).collect();
        if stops.len() > 1 {
            let waters = waters(&water);
            judge(&waters.matrix_on_plane(&stops, 0), &water, &stops);
        }
    }
}

/// A real lake on its plane, and places of it that lie in its first water.
fn real(name: &str, count: usize) -> (MultiPolygon<f64>, Vec<Coord<f64>>) {
    let read =
        |ending: &str| fs::read_to_string(format!("fixtures/reference/lakes/{name}.{ending}")).unwrap();
    let shoreline = read_shoreline(&read("geojson")).unwrap();
    let plane = LocalPlane::new(shoreline.middle);
    let on_plane = |lon, lat| {
        let p = plane.to_plane(Place { lon, lat });
        Coord { x: p.east_m, y: p.north_m }
    };
    let ring = |r: &LineString<f64>| r.coords().map(|c| on_plane(c.x, c.y)).collect();
    let water = shoreline
        .polygons
        .iter()
        .map(|p| Polygon::new(ring(p.exterior()), p.interiors().iter().map(ring).collect()))
        .collect();
    let inside = Water::new(shoreline.polygons, plane);
    let (low, high) = inside.polygons().bounding_rect().map(|b| (b.min(), b.max())).unwrap();
    // A Weyl sequence: spread evenly, the same on each machine.
    let stops = (0..)
        .map(|n| {
            let part = |step: f64| (f64::from(n) * step.sqrt()).fract();
            (low.x + (high.x - low.x) * part(2.0), low.y + (high.y - low.y) * part(3.0))
        })
        .filter(|(lon, lat)| inside.contains(Place { lon: *lon, lat: *lat }))
        .map(|(lon, lat)| on_plane(lon, lat))
        .take(count)
        .collect();
    (water, stops)
}

#[test]
fn ways_through_real_lakes_keep_off_the_shore_and_never_cross_land() {
    for (name, stops) in [("malaren", 8), ("manicouagan", 6), ("bolsena", 8)] {
        let (water, stops) = real(name, stops);
        let waters = waters(&water);
        let judged = judge(&waters.matrix_on_plane(&stops, 0), &water, &stops);
        eprintln!("{name}: {judged} ways keep 20 m off");
        assert!(judged > 5, "{name}: {judged}");
    }
}

#[test]
fn distances_within_a_limit_are_those_of_the_whole_graph() {
    let (water, stops) = real("malaren", 10);
    let plain = TravelSettings { keep_off_m: 0.0, run_m_s: 1.0, idle_m_s: 1.0 };
    let waters = Waters::on_plane(Some(&water), Vec::new(), Vec::new(), Vec::new(), &plain);
    let matrix = waters.matrix_on_plane(&stops, 0);
    let distance = WaterDistance::on_plane(&water);
    let points: Vec<_> = stops.iter().map(|s| PlanePoint { east_m: s.x, north_m: s.y }).collect();
    let mut around = 0;
    for limit_m in [5_000.0, 20_000.0, 40_000.0] {
        for (i, from) in points.iter().enumerate() {
            for (j, found) in distance.within(*from, &points, limit_m).into_iter().enumerate() {
                let expected = matrix.trip(i, j).map(|t| t.metres).filter(|m| *m <= limit_m);
                assert_eq!(found.is_some(), expected.is_some(), "{i} to {j} within {limit_m}");
                if let (Some(found), Some(expected)) = (found, expected) {
                    assert!((found - expected).abs() < 1e-6, "{found} {expected}");
                    around += usize::from(expected > from.metres_to(points[j]) + 1.0);
                }
            }
        }
    }
    assert!(around > 10, "{around} ways around a shore");
}

/// A slow area of half the globe is, on a lake, the slow area that covers the lake.
#[test]
fn an_area_as_wide_as_the_globe_is_as_good_as_one_around_the_lake() {
    let square = |low: [f64; 2], high: [f64; 2]| rectangle(low[0], low[1], high[0], high[1]);
    let lake = MultiPolygon::new(vec![square([-94.05, 35.0], [-94.0, 35.03])]);
    let middle = Place { lon: -94.025, lat: 35.015 };
    let ends = [Place { lon: -94.04, lat: 35.01 }, Place { lon: -94.01, lat: 35.02 }];
    let trip = |area: Polygon<f64>| {
        let zone = Zone {
            name: "slow".to_owned(),
            kind: ZoneKind::Slow { m_s: 2.0 },
            area: MultiPolygon::new(vec![area]),
            from: None,
            until: None,
        };
        let waters = Waters::new(Some(&lake), LocalPlane::new(middle), &[zone], &[], &SETTINGS);
        (*waters.matrix(&ends, 0).trip(0, 1).unwrap(), waters.zone_step_m())
    };
    let (around, _) = trip(square([-94.06, 34.99], [-93.99, 35.04]));
    for globe in [
        square([-180.0, -90.0], [180.0, 90.0]),
        square([-179.0, -89.0], [-94.025 + 90.0, 60.0]),
        Polygon::new(ring(&[[-180.0, 0.0], [0.0, 90.0], [180.0, 0.0], [-180.0, 0.0]]), Vec::new()),
    ] {
        let (trip, step_m) = trip(globe);
        near(trip.seconds, around.seconds);
        near(trip.metres / 2.0, trip.seconds);
        near(step_m, ZONE_STEP_M);
    }
    // An edge of it that crosses the lake still parts slow water from fast.
    let (half, _) = trip(square([-180.0, -90.0], [-94.025, 90.0]));
    let (near_half, _) = trip(square([-94.06, 34.99], [-94.025, 35.04]));
    assert!(half.slow_seconds < 0.6 * around.seconds && half.slow_seconds > 0.4 * around.seconds);
    // A way crosses at places 25 m apart, so up to 12.5 m beside the best one: d²/2 · (1/(2 · 1400) + 1/(10 · 1400)) s.
    assert!((half.seconds - near_half.seconds).abs() < 0.034, "{} {}", half.seconds, near_half.seconds);
}
