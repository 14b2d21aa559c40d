//! What must not change sightings, holding areas and pairing: the order of the log, units, where on earth the lake
//! lies, where the calendar starts; and what must always hold of them.

use crate::hollow::hollow;
use crate::log_of::{lake, mark};
use geo::{Area, Contains, Point};
use proptest::prelude::*;
use shoalwright::schools::{AreaSettings, Schools, SightingSettings, schools};
use shoalwright::terms::id::Id;
use shoalwright::terms::mark::{Kind, LocalDay, Mark};
use shoalwright::terms::place::{LocalPlane, Place};
use shoalwright::terms::units::Depth;
use std::collections::BTreeSet;

/// A dated mark on one of a few outings, crowded so that gates matter.
fn any_mark() -> impl Strategy<Value = Mark> {
    let kind = prop::sample::select(vec![Kind::Bait, Kind::Gamefish, Kind::Cover]);
    (kind, 0..60_i32, 0..20_i32, 0..4_i64, 0..200_i64, prop::option::weighted(0.7, 0..30_u8), 0..10_u8)
        .prop_map(|(kind, east, north, outing, half_minutes, depth, clock)| {
            let unix_s = 1_700_000_000 + outing * 9 * 86_400 + half_minutes * 30;
            let depth = depth.and_then(|d| Depth::from_feet(f64::from(d) * 2.0));
            let mut mark = mark(kind, f64::from(east) * 10.0, f64::from(north) * 10.0, unix_s, depth);
            match clock {
                0 => (mark.time, mark.day) = (None, None),
                1 => mark.time = None, // the date is known, the time of day is not
                _ => {}
            }
            mark
        })
}

/// Logs without two marks of one id: merging leaves none.
fn any_log() -> impl Strategy<Value = Vec<Mark>> {
    prop::collection::vec(any_mark(), 0..80).prop_map(|log| {
        let mut seen = BTreeSet::new();
        log.into_iter().filter(|m| seen.insert(m.id)).collect()
    })
}

fn run(log: &[Mark]) -> Schools {
    schools(log, &[], &lake(), &SightingSettings::default(), &AreaSettings::default(), 1)
}

/// The marks of each sighting, by id.
fn marks_of(log: &[Mark], found: &Schools) -> BTreeSet<BTreeSet<Id>> {
    found.sightings.iter().map(|s| s.marks.iter().map(|m| log[*m].id).collect()).collect()
}

/// The sightings of each area, by id.
fn sightings_of(found: &Schools) -> BTreeSet<BTreeSet<Id>> {
    found.areas.iter().map(|a| a.sightings.iter().map(|s| found.sightings[*s].id).collect()).collect()
}

/// All that a run says, with places in the log turned into ids.
fn told(log: &[Mark], found: &Schools) -> String {
    let mut found = found.clone();
    let marks: Vec<Vec<Id>> = found
        .sightings
        .iter_mut()
        .map(|s| {
            let mut ids: Vec<Id> = s.marks.drain(..).map(|m| log[m].id).collect();
            ids.sort_unstable();
            ids
        })
        .collect();
    let alone: BTreeSet<Id> = found
        .pairing
        .iter_mut()
        .flat_map(|p| p.gamefish_without_bait.drain(..))
        .map(|m| log[m.number].id)
        .collect();
    format!("{marks:?} {alone:?} {found:?}")
}

/// Time-ordered leader without a grid: each mark is compared with all sightings opened so far.
fn plain_leader(log: &[Mark], settings: &SightingSettings) -> BTreeSet<BTreeSet<Id>> {
    let lake = lake();
    let mut order: Vec<&Mark> =
        log.iter().filter(|m| matches!(m.kind, Kind::Bait | Kind::Gamefish) && m.day.is_some()).collect();
    order.sort_by_key(|m| (m.time.is_none(), m.time, m.id));
    let mut groups: Vec<Vec<&Mark>> = Vec::new();
    for m in order {
        let here = lake.to_plane(m.place);
        let away = |group: &Vec<&Mark>| {
            let n = group.len() as f64;
            let planes = || group.iter().map(|g| lake.to_plane(g.place));
            let east = planes().map(|p| p.east_m).sum::<f64>() / n;
            let north = planes().map(|p| p.north_m).sum::<f64>() / n;
            (here.east_m - east).hypot(here.north_m - north)
        };
        let fits = |group: &Vec<&Mark>| {
            let first = group[0];
            let depth = group.iter().find_map(|g| g.fish_depth).zip(m.fish_depth);
            let last = group.iter().filter_map(|g| g.time).max().zip(m.time);
            first.kind == m.kind
                && first.day.unwrap().date == m.day.unwrap().date
                && [
                    away(group) / settings.distance.metres(),
                    depth.map_or(0.0, |(a, b)| (a.metres() - b.metres()) / settings.depth.metres()),
                    last.map_or(0.0, |(a, b)| b.seconds_since(a) / settings.time.seconds()),
                ]
                .iter()
                .map(|share| share * share)
                .sum::<f64>()
                    <= 1.0001
                // The hair is for rounded depths; the grid looks no farther than the distance.
                && away(group) <= settings.distance.metres()
        };
        let nearest = (0..groups.len())
            .filter(|g| fits(&groups[*g]))
            .min_by(|a, b| away(&groups[*a]).total_cmp(&away(&groups[*b])));
        match nearest {
            Some(g) => groups[g].push(m),
            None => groups.push(vec![m]),
        }
    }
    groups.iter().map(|g| g.iter().map(|m| m.id).collect()).collect()
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 64, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn the_grid_gives_the_sightings_of_a_plain_leader(log in any_log()) {
        prop_assert_eq!(marks_of(&log, &run(&log)), plain_leader(&log, &SightingSettings::default()));
    }

    #[test]
    fn the_order_of_the_log_changes_nothing(log in any_log(), seed in any::<u64>()) {
        let mut other = log.clone();
        other.sort_by_key(|m| Id::of('x', &[&m.id.to_string(), &seed.to_string()]));
        prop_assert_eq!(told(&log, &run(&log)), told(&other, &run(&other)));
    }

    #[test]
    fn each_dated_mark_is_in_one_sighting_and_areas_hold_what_they_say(log in any_log()) {
        let found = run(&log);
        let mut in_sightings: Vec<usize> = found.sightings.iter().flat_map(|s| s.marks.clone()).collect();
        in_sightings.sort_unstable();
        let dated: Vec<usize> = (0..log.len())
            .filter(|i| matches!(log[*i].kind, Kind::Bait | Kind::Gamefish) && log[*i].day.is_some())
            .collect();
        prop_assert_eq!(in_sightings, dated);
        for (number, area) in found.areas.iter().enumerate() {
            prop_assert!(area.hull.signed_area() > 0.0, "clockwise or flat");
            let members: Vec<usize> =
                (0..found.sightings.len()).filter(|s| found.sightings[*s].area == Some(number)).collect();
            prop_assert_eq!(&members, &area.sightings);
            for s in members.iter().map(|s| &found.sightings[*s]) {
                prop_assert!(area.hull.contains(&Point::new(s.place.lon, s.place.lat)));
                let span = area.first_day.days_to(area.last_day).rem_euclid(365.25);
                prop_assert!(area.first_day.days_to(s.day.season_day).rem_euclid(365.25) <= span + 1e-9);
            }
            let inside = members.iter().filter(|s| found.sightings[**s].place.metres_to(area.centre) <= area.radius_m + 0.1);
            prop_assert!(inside.count() * 10 >= members.len() * 9);
        }
    }
}

#[test]
fn feet_and_metres_give_the_same_schools() {
    let lake = hollow('a');
    let (feet, metres): (SightingSettings, SightingSettings) = (
        toml::from_str("distance = \"300 ft\"\ndepth = \"8 ft\"").unwrap(),
        toml::from_str("distance = \"91.44 m\"\ndepth = \"2.4384 m\"").unwrap(),
    );
    let areas_feet: AreaSettings = toml::from_str("distance = \"1000 ft\"\ndepth = \"12 ft\"").unwrap();
    let areas_metres: AreaSettings = toml::from_str("distance = \"304.8 m\"\ndepth = \"3.6576 m\"").unwrap();
    let mut log = lake.log.clone();
    let one = schools(&log, &lake.track_logs, &lake.lake, &feet, &areas_feet, 1);
    for mark in &mut log {
        // As an export in metres to two decimals of a foot would give it back.
        mark.fish_depth =
            mark.fish_depth.and_then(|d| Depth::from_metres((d.feet() * 10.0).round() * 0.03048));
    }
    let other = schools(&log, &lake.track_logs, &lake.lake, &metres, &areas_metres, 1);
    assert!(one.areas.len() > 5);
    assert_eq!(marks_of(&log, &one), marks_of(&log, &other));
    assert_eq!(sightings_of(&one), sightings_of(&other));
}

#[test]
fn the_start_of_the_calendar_changes_no_area() {
    let lake = hollow('b');
    let turned: Vec<Mark> = lake
        .log
        .iter()
        .cloned()
        .map(|mut mark| {
            mark.day = mark.day.map(|d| LocalDay { season_day: d.season_day.plus(100.0), ..d });
            mark
        })
        .collect();
    let run = |log: &[Mark]| {
        schools(log, &lake.track_logs, &lake.lake, &SightingSettings::default(), &AreaSettings::default(), 1)
    };
    let (one, other) = (run(&lake.log), run(&turned));
    assert!(one.areas.len() > 5);
    assert_eq!(sightings_of(&one), sightings_of(&other));
    for area in &one.areas {
        let same = other.areas.iter().find(|a| a.id == area.id).unwrap();
        for (before, after) in
            [(area.peak_day, same.peak_day), (area.first_day, same.first_day), (area.last_day, same.last_day)]
        {
            assert!(before.plus(100.0).days_apart(after) < 1e-6, "{before:?} {after:?}");
        }
    }
}

#[test]
fn a_lake_moved_one_degree_east_has_the_same_schools() {
    let lake = hollow('c');
    let east = |p: Place| Place { lon: p.lon + 1.0, ..p };
    let (mut log, mut track_logs, mut moved) = (lake.log.clone(), lake.track_logs.clone(), lake.lake.clone());
    for mark in &mut log {
        mark.place = east(mark.place);
    }
    for point in track_logs.iter_mut().flat_map(|t| &mut t.segments).flatten() {
        point.place = east(point.place);
    }
    moved.plane = LocalPlane::new(east(lake.lake.plane.centre()));
    let (sightings, areas) = (SightingSettings::default(), AreaSettings::default());
    let one = schools(&lake.log, &lake.track_logs, &lake.lake, &sightings, &areas, 1);
    let other = schools(&log, &track_logs, &moved, &sightings, &areas, 1);
    assert!(one.areas.len() > 5);
    assert_eq!(sightings_of(&one), sightings_of(&other));
    assert_eq!(one.pairing, other.pairing);
}

#[test]
fn the_number_of_threads_changes_nothing() {
    let lake = hollow('a');
    let run = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        let (sightings, areas) = (SightingSettings::default(), AreaSettings::default());
        pool.install(|| schools(&lake.log, &lake.track_logs, &lake.lake, &sightings, &areas, 9))
    };
    assert_eq!(run(1), run(3));
}
