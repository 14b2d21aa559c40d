//! Sightings and holding areas by the boat's way: a point of land, creeks beside each other, marks on the shore.

use crate::log_of::{lake, mark};
use crate::plain_clusters::neighbours;
use crate::simulator::{Habit, Shape, Timing, Wish, simulate_shaped};
use geo::{MultiPolygon, polygon};
use shoalwright::schools::cluster::{Label, Metric, Neighbourhood, Point, cluster_on_stands};
use shoalwright::schools::{AreaSettings, Schools, SightingSettings, schools};
use shoalwright::terms::lake::Lake;
use shoalwright::terms::mark::{Kind, Mark};
use shoalwright::terms::place::{Place, PlanePoint};
use shoalwright::terms::water::Water;
use shoalwright::travel::WaterDistance;
use std::collections::{BTreeMap, BTreeSet};

const DAWN_S: i64 = 1_700_049_600; // 2023-11-15T12:00:00Z
const DAY_S: i64 = 86_400;

fn at(east_m: f64, north_m: f64) -> PlanePoint {
    PlanePoint { east_m, north_m }
}

/// A lake 4 km wide, with a dam of 40 m across the middle that leaves a gap 1 km north of the origin.
fn parted() -> Lake {
    let mut lake = lake();
    let c = |east_m: f64, north_m: f64| {
        let Place { lon, lat } = lake.plane.to_place(at(east_m, north_m));
        geo::Coord { x: lon, y: lat }
    };
    let ring = [
        (-2000.0, -2000.0),
        (-20.0, -2000.0),
        (-20.0, 1000.0),
        (20.0, 1000.0),
        (20.0, -2000.0),
        (2000.0, -2000.0),
        (2000.0, 2000.0),
        (-2000.0, 2000.0),
    ]
    .map(|(east_m, north_m)| c(east_m, north_m));
    let outline = geo::Polygon::new(ring.into_iter().collect(), Vec::new());
    lake.water = Some(Water::new(MultiPolygon::new(vec![outline]), lake.plane));
    lake
}

fn run(log: &[Mark], lake: &Lake) -> Schools {
    schools(log, &[], lake, &SightingSettings::default(), &AreaSettings::default(), 1)
}

/// Number of sightings and of areas of marks at places, `together` a minute apart on one day, else a day apart.
#[track_caller]
fn check(places: &[(f64, f64)], together: bool, by_boat: [usize; 2], straight: [usize; 2]) {
    let step_s = if together { 60 } else { DAY_S };
    let log: Vec<Mark> = (0..)
        .zip(places)
        .map(|(k, (east_m, north_m))| mark(Kind::Bait, *east_m, *north_m, DAWN_S + k * step_s, None))
        .collect();
    for (lake, expected) in [(parted(), by_boat), (lake(), straight)] {
        let found = run(&log, &lake);
        assert_eq!([found.sightings.len(), found.areas.len()], expected, "{:?}", lake.water.is_some());
    }
}

#[test]
fn marks_either_side_of_a_dam_are_two_sightings() {
    check(&[(-30.0, 0.0), (30.0, 0.0)], true, [2, 0], [1, 0]);
    // Round its end the way is 2 √(10² + 5²) + 40 = 62 m, within the 80; from 30 m before it 2 √(10² + 30²) + 40 = 103.
    check(&[(-30.0, 995.0), (30.0, 995.0)], true, [1, 0], [1, 0]);
    check(&[(-30.0, 970.0), (30.0, 970.0)], true, [2, 0], [1, 0]);
}

#[test]
fn sightings_either_side_of_a_dam_are_two_areas() {
    let both: Vec<(f64, f64)> =
        (0..5).flat_map(|k| [(-100.0, f64::from(k)), (100.0, f64::from(k))]).collect();
    check(&both, false, [10, 2], [10, 1]);
    let by_the_gap: Vec<(f64, f64)> = both.iter().map(|(x, y)| (*x, y + 950.0)).collect();
    check(&by_the_gap, false, [10, 1], [10, 1]);
}

#[test]
fn marks_on_land_count_from_the_nearest_shore_and_far_ones_straight() {
    // On the dam, 5 m from its west shore: with the west. On dry land 500 m south of the lake: straight.
    let west: Vec<(f64, f64)> = (0..5).map(|k| (-15.0, f64::from(k))).collect();
    let east: Vec<(f64, f64)> = (0..5).map(|k| (60.0, f64::from(k))).collect();
    check(&[west.clone(), east.clone()].concat(), false, [10, 2], [10, 1]);
    let ashore =
        |list: &[(f64, f64)]| -> Vec<(f64, f64)> { list.iter().map(|(x, y)| (*x, y - 2500.0)).collect() };
    check(&[ashore(&west), ashore(&east)].concat(), false, [10, 1], [10, 1]);
}

#[test]
fn a_pile_on_each_side_of_a_dam_stays_two_whatever_the_order() {
    let mut log: Vec<Mark> = (0..400)
        .map(|k| {
            mark(
                Kind::Bait,
                if k % 2 == 0 { -60.0 } else { 60.0 },
                f64::from(k % 7),
                DAWN_S + i64::from(k % 40) * DAY_S + i64::from(k),
                None,
            )
        })
        .collect();
    let told = |log: &[Mark]| {
        let found = run(log, &parted());
        let areas: BTreeSet<BTreeSet<_>> = found
            .areas
            .iter()
            .map(|a| a.sightings.iter().map(|s| found.sightings[*s].id).collect())
            .collect();
        (found.areas.len(), areas)
    };
    let first = told(&log);
    assert_eq!(first.0, 2);
    log.reverse();
    assert_eq!(told(&log), first);
    log.sort_by_key(|m| m.id);
    assert_eq!(told(&log), first);
}

#[test]
fn near_by_boat_is_what_the_search_through_water_says() {
    let simulated = simulate_shaped(
        Wish { seed: 3, routes: 3, seasons: 3, timing: Timing::Date },
        Habit::default(),
        Shape::Dendritic,
    );
    let lake = &simulated.lake;
    let water = WaterDistance::new(lake.water.as_ref().unwrap(), &lake.plane);
    // One place a square of 10 m, so that each is measured from itself, and afloat.
    let mut squares = BTreeMap::new();
    for mark in &simulated.marks {
        let p = lake.to_plane(mark.place);
        if lake.water.as_ref().unwrap().contains(mark.place) {
            squares.entry(((p.east_m / 10.0).floor() as i64, (p.north_m / 10.0).floor() as i64)).or_insert(p);
        }
    }
    let places: Vec<PlanePoint> = squares.into_values().take(700).collect();
    let limit_m = 300.0;
    let nearby = water.nearby(&places, limit_m);
    let (mut parted, mut near) = (0, 0);
    for (i, from) in places.iter().enumerate() {
        let others: Vec<PlanePoint> = places[i + 1..].to_vec();
        for (k, found) in water.within(*from, &others, limit_m).into_iter().enumerate() {
            if from.metres_to(others[k]) > limit_m {
                continue;
            }
            let meet = nearby.meet(nearby.stands()[i], nearby.stands()[i + 1 + k]);
            assert_eq!(meet, found.is_some(), "{from:?} {:?}", others[k]);
            assert_eq!(meet, nearby.meet(nearby.stands()[i + 1 + k], nearby.stands()[i]));
            parted += usize::from(!meet);
            near += usize::from(meet);
        }
    }
    eprintln!("{near} pairs meet, {parted} are parted");
    assert!(parted > 500 && near > 500);

    // And the clusters are those of a scan of all pairs.
    let points: Vec<Point> = (0..)
        .zip(&places)
        .map(|(k, p)| Point {
            place: [p.east_m / limit_m, p.north_m / limit_m],
            day: f64::from(k % 50) / 21.0,
            depth: None,
        })
        .collect();
    let n = Neighbourhood { metric: Metric::Gates, year: 365.25 / 21.0, min_points: 4 };
    let labels = cluster_on_stands(&points, nearby.stands(), &|a, b| nearby.meet(a, b), &n);
    let pair = |i: usize, j: usize| {
        neighbours(&points[i], &points[j], &n) && nearby.meet(nearby.stands()[i], nearby.stands()[j])
    };
    let core: Vec<bool> = (0..points.len())
        .map(|i| (0..points.len()).filter(|j| pair(i, *j)).count() >= n.min_points)
        .collect();
    for i in 0..points.len() {
        assert_eq!(matches!(labels[i], Label::Core(_)), core[i], "point {i}");
        let reached: BTreeSet<usize> = (0..points.len())
            .filter(|j| core[*j] && pair(i, *j))
            .map(|j| labels[j].cluster().unwrap())
            .collect();
        match labels[i] {
            Label::Core(cluster) => assert_eq!(reached, BTreeSet::from([cluster])),
            Label::Border(cluster) => assert!(reached.contains(&cluster)),
            Label::Noise => assert!(reached.is_empty()),
        }
    }
    // Clusters that no pair joins are two: as many as there are parts of the graph of cores.
    let parts = parts(&core, &pair);
    assert_eq!(labels.iter().filter_map(|l| l.cluster()).max().map_or(0, |c| c + 1), parts);
}

/// Connected parts of the cores.
fn parts(core: &[bool], pair: &dyn Fn(usize, usize) -> bool) -> usize {
    let mut seen = vec![false; core.len()];
    let mut parts = 0;
    for start in (0..core.len()).filter(|i| core[*i]) {
        if seen[start] {
            continue;
        }
        parts += 1;
        let mut open = vec![start];
        while let Some(i) = open.pop() {
            if !std::mem::replace(&mut seen[i], true) {
                open.extend((0..core.len()).filter(|j| core[*j] && !seen[*j] && pair(i, *j)));
            }
        }
    }
    parts
}

#[test]
fn an_island_parts_nothing_that_goes_round_it_quickly() {
    let mut lake = lake();
    let p = lake.plane.to_place(at(0.0, 0.0));
    let (dx, dy) = (0.0022, 0.0018); // about 200 m
    let island = polygon!(
        exterior: [(x: p.lon - 0.05, y: p.lat - 0.05), (x: p.lon + 0.05, y: p.lat - 0.05), (x: p.lon + 0.05, y: p.lat + 0.05), (x: p.lon - 0.05, y: p.lat + 0.05)],
        interiors: [[(x: p.lon - dx / 8.0, y: p.lat - dy), (x: p.lon + dx / 8.0, y: p.lat - dy), (x: p.lon + dx / 8.0, y: p.lat + dy), (x: p.lon - dx / 8.0, y: p.lat + dy)]],
    );
    lake.water = Some(Water::new(MultiPolygon::new(vec![island]), lake.plane));
    let water = WaterDistance::new(lake.water.as_ref().unwrap(), &lake.plane);
    // An island 50 m wide and 400 m long: the way round is 50 + 2 √(35² + 200²) = 456 m from its middle, and
    // 50 + 2 √(35² + 30²) = 142 m from 30 m before its end, give or take the rounding of its corners.
    let far = water.metres(at(-60.0, 0.0), at(60.0, 0.0), 1000.0);
    let near = water.metres(at(-60.0, 170.0), at(60.0, 170.0), 1000.0);
    assert!((far - 456.0).abs() < 3.0, "{far}");
    assert!((near - 142.0).abs() < 3.0, "{near}");
    assert!(water.metres(at(-60.0, 0.0), at(60.0, 0.0), 300.0).is_infinite());
    assert_eq!(water.metres(at(-600.0, 0.0), at(-600.0, 100.0), 300.0).to_bits(), 100.0_f64.to_bits());
}
