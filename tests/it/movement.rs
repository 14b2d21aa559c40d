//! Movement on few, odd and rearranged sightings.

use jiff::civil::{Date, date};
use proptest::prelude::*;
use shoalwright::movement::{Clock, ClockChoice, Movement, MovementTrack, Settings, movement};
use shoalwright::schools::Sighting;
use shoalwright::terms::finding::Code;
use shoalwright::terms::id::Id;
use shoalwright::terms::lake::Lake;
use shoalwright::terms::mark::{Kind, LocalDay};
use shoalwright::terms::place::{Place, PlanePoint};
use shoalwright::terms::season::{SeasonDay, YEAR_DAYS};
use shoalwright::terms::units::{Depth, WaterTemp};
use std::f64::consts::TAU;

const BY_DATE: Settings = Settings { clock: ClockChoice::Date, max_tracks: 6 };

fn lake_at(lon: f64) -> Lake {
    Lake::unknown_at(Place { lon, lat: 36.0 })
}

/// A number in 0..1 that looks random and is the same for the same `k`.
fn scatter(k: usize, salt: u64) -> f64 {
    let mut z = (k as u64 + 1).wrapping_mul(0x9e37_79b9_7f4a_7c15) ^ salt.wrapping_mul(0xbf58_476d_1ce4_e5b9);
    z = (z ^ (z >> 31)).wrapping_mul(0x94d0_49bb_1331_11eb);
    ((z ^ (z >> 29)) >> 11) as f64 / (1_u64 << 53) as f64
}

fn sighting(k: usize, lake: &Lake, day: LocalDay, plane: PlanePoint, depth_ft: Option<f64>) -> Sighting {
    Sighting {
        id: Id::of('s', &[&k.to_string()]),
        kind: Kind::Bait,
        marks: vec![k],
        day,
        time: None,
        place: lake.plane.to_place(plane),
        plane,
        fish_depth: depth_ft.and_then(Depth::from_feet),
        water_depth: None,
        water_temp: None,
        area: None,
    }
}

/// Where the one route of these tests is: an ellipse of 3 km by 1.2 km, once round in the year, deepest at new year.
fn route(day: f64) -> (PlanePoint, f64) {
    let angle = day / YEAR_DAYS * TAU;
    (PlanePoint { east_m: 3000.0 * angle.cos(), north_m: 1200.0 * angle.sin() }, 30.0 + 12.0 * angle.cos())
}

/// `n` sightings on the route in `seasons` seasons, scattered by about 100 m and 2 ft; the calendar turned by
/// `turned` days.
fn on_route(n: usize, seasons: usize, turned: f64, lake: &Lake) -> Vec<Sighting> {
    (0..n)
        .map(|k| {
            let day = (scatter(k, 1) * 365.0).floor();
            let (at, depth_ft) = route(day);
            let season_day = SeasonDay::from_days(day + turned);
            let year = [2019, 2020, 2021, 2022][k % seasons];
            let local = LocalDay {
                date: date(year, 1, 1).checked_add(jiff::Span::new().days(season_day.days() as i64)).unwrap(),
                season: year,
                season_day,
            };
            let plane = PlanePoint {
                east_m: at.east_m + 350.0 * (scatter(k, 2) - 0.5),
                north_m: at.north_m + 350.0 * (scatter(k, 3) - 0.5),
            };
            sighting(k, lake, local, plane, Some(depth_ft + 8.0 * (scatter(k, 4) - 0.5)))
        })
        .collect()
}

fn numbers_are_sane(movement: &Movement) {
    for day in movement.tracks.iter().flat_map(|t| &t.days) {
        assert!(day.place.lon.is_finite() && day.place.lat.is_finite());
        assert!(day.band_m.is_finite() && day.band_m > 0.0);
        assert!(day.sightings_near >= 2.0);
        assert_eq!(day.fish_depth.is_some(), day.fish_depth_band.is_some());
        if let Some((depth, [low, high])) = day.fish_depth.zip(day.fish_depth_band) {
            assert!(low <= depth && depth <= high);
        }
    }
    assert!(movement.tracks.iter().all(|t| t.length_m.is_finite() && !t.days.is_empty()));
    assert!(movement.tracks.iter().map(|t| t.number).eq(1..=movement.tracks.len()));
    assert!(!movement.findings.is_empty());
}

fn codes(movement: &Movement) -> Vec<Code> {
    movement.findings.iter().map(|f| f.code).collect()
}

#[test]
fn too_few_sightings_or_seasons_are_refused_with_the_counts() {
    let lake = lake_at(-56.0);
    for (n, seasons, seen) in [
        (0, 2, "`0` bait sightings in `0` seasons"),
        (1, 2, "`1` bait sightings in `1` season"),
        (2, 2, "`2` bait sightings in `2` seasons"),
        (19, 2, "`19` bait sightings in `2` seasons"),
        (79, 3, "`79` bait sightings in `3` seasons"),
        (200, 1, "`200` bait sightings in `1` season"),
    ] {
        let refused = movement(&on_route(n, seasons, 0.0, &lake), &lake, &Settings::default());
        assert!(refused.tracks.is_empty());
        assert_eq!(codes(&refused), [Code::MovementRefused], "{n}");
        assert_eq!(refused.findings[0].seen, seen);
        assert!(refused.findings[0].fix.contains("80 bait sightings"));
    }
    let enough = movement(&on_route(80, 2, 0.0, &lake), &lake, &Settings::default());
    assert_eq!(codes(&enough), [Code::MovementClock, Code::MovementTracks]);
    numbers_are_sane(&enough);
}

#[test]
fn only_bait_counts() {
    let lake = lake_at(-56.0);
    let mut sightings = on_route(100, 3, 0.0, &lake);
    for s in &mut sightings[..30] {
        s.kind = Kind::Gamefish;
    }
    let refused = movement(&sightings, &lake, &Settings::default());
    assert_eq!(refused.findings[0].seen, "`70` bait sightings in `3` seasons");
}

#[test]
fn odd_sightings_give_sane_numbers() {
    let lake = lake_at(-56.0);
    let change = |change: fn(usize, &mut Sighting)| {
        let mut sightings = on_route(150, 3, 0.0, &lake);
        sightings.iter_mut().enumerate().for_each(|(k, s)| change(k, s));
        let movement = movement(&sightings, &lake, &Settings::default());
        numbers_are_sane(&movement);
        movement
    };
    let no_depth = change(|_, s| s.fish_depth = None);
    assert!(!no_depth.tracks.is_empty());
    assert!(no_depth.tracks.iter().flat_map(|t| &t.days).all(|d| d.fish_depth.is_none()));
    // One day a season, and all at one place: a track there or none, never a wrong number.
    change(|_, s| s.day.season_day = SeasonDay::from_days(100.0));
    change(|k, s| {
        let year = [2019, 2020, 2021][k % 3];
        s.day = LocalDay { date: date(year, 4, 11), season: year, season_day: SeasonDay::from_days(100.0) };
    });
    let one_place = change(|_, s| {
        s.plane = PlanePoint { east_m: 10.0, north_m: 20.0 };
        s.place = Place { lon: -55.999_889, lat: 36.000_180 };
    });
    assert!(one_place.tracks.iter().all(|t| t.length_m < 1.0));
    // All the same in every way, and the surface as depth.
    change(|_, s| {
        s.plane = PlanePoint { east_m: 0.0, north_m: 0.0 };
        s.fish_depth = Depth::from_feet(0.0);
        s.day.season_day = SeasonDay::from_days(0.0);
    });
}

#[test]
fn the_known_route_is_found_with_its_depth() {
    let lake = lake_at(-56.0);
    let found = movement(&on_route(240, 4, 0.0, &lake), &lake, &BY_DATE);
    numbers_are_sane(&found);
    assert_eq!(found.tracks.len(), 1);
    let track = &found.tracks[0];
    assert_eq!((track.seasons.as_slice(), track.clock), ([2019, 2020, 2021, 2022].as_slice(), Clock::Date));
    assert!(track.days.len() > 65);
    for day in &track.days {
        let (at, depth_ft) = route(day.season_day.days());
        let metres = lake.to_plane(day.place).metres_to(at);
        // The route moves 52 m a day at most, sightings scatter 100 m in each direction.
        assert!(metres < 150.0, "day {}: {metres} m", day.season_day.days());
        assert!((day.fish_depth.unwrap().feet() - depth_ft).abs() < 3.0);
    }
    // Once round the ellipse is 13,850 m (Ramanujan's approximation, less the open end).
    assert!((track.length_m / 13_850.0 - 1.0).abs() < 0.08, "{}", track.length_m);
    assert!(found.findings[1].seen.starts_with("`1` movement track, give or take one"));
    assert!(found.season_shifts.iter().all(|(_, late)| late.abs() <= 3.0), "{:?}", found.season_shifts);
}

#[test]
fn a_late_season_is_told_late() {
    let lake = lake_at(-56.0);
    let mut sightings = on_route(300, 3, 0.0, &lake);
    for s in sightings.iter_mut().filter(|s| s.day.season == 2020) {
        s.day.season_day = s.day.season_day.plus(9.0);
    }
    let found = movement(&sightings, &lake, &BY_DATE);
    let late: Vec<f64> = found.season_shifts.iter().map(|(_, late)| *late).collect();
    assert!((late[1] - f64::midpoint(late[0], late[2]) - 9.0).abs() <= 2.5, "{late:?}");
}

#[test]
fn season_shifts_are_ascending_by_season_and_mean_zero_over_its_sightings() {
    let lake = lake_at(-56.0);
    let mut sightings = on_route(300, 3, 0.0, &lake);
    // Seasons of unlike size, so that the mean over seasons is another than the mean over sightings.
    sightings.retain(|s| s.day.season != 2021 || s.marks[0] % 2 == 0);
    for s in sightings.iter_mut().filter(|s| s.day.season == 2021) {
        s.day.season_day = s.day.season_day.plus(-8.0);
    }
    let shifts = movement(&sightings, &lake, &BY_DATE).season_shifts;
    assert!(shifts.iter().map(|(season, _)| *season).eq([2019, 2020, 2021]));
    let count = |season: i16| sightings.iter().filter(|s| s.day.season == season).count() as f64;
    let sum: f64 = shifts.iter().map(|(season, late)| late * count(*season)).sum();
    assert!(sum.abs() < 1e-9 * sightings.len() as f64, "{shifts:?}");
    // Eight days early is negative.
    assert!(shifts[2].1 < -3.0 && shifts[0].1 > 0.0 && shifts[1].1 > 0.0, "{shifts:?}");
}

#[test]
fn a_season_of_fewer_than_five_sightings_counts_as_none() {
    let lake = lake_at(-56.0);
    let with_strays = |n: usize, seasons: usize, strays: usize| {
        let mut sightings = on_route(n, seasons, 0.0, &lake);
        for s in &mut sightings[..strays] {
            s.day.season = 2009;
            s.day.date = date(2009, 6, 1);
        }
        movement(&sightings, &lake, &BY_DATE)
    };
    let refused = with_strays(150, 1, 4);
    assert_eq!(codes(&refused), [Code::MovementRefused]);
    assert_eq!(
        refused.findings[0].seen,
        "`150` bait sightings in `2` seasons, `1` of them with fewer than 5"
    );
    assert_eq!(codes(&with_strays(150, 1, 5)), [Code::MovementClock, Code::MovementTracks]);
    // Two seasons and strays cannot check a band, and the strays tell no shift.
    let two = with_strays(150, 2, 4);
    assert!(two.findings[1].done.contains("not checked"), "{}", two.findings[1].done);
    assert!(two.season_shifts.iter().map(|(season, _)| *season).eq([2019, 2020]));
}

#[test]
fn the_widths_of_bands_are_said_to_come_from_held_out_sightings_near_a_track() {
    let lake = lake_at(-56.0);
    let mut sightings = on_route(180, 3, 0.0, &lake);
    let done = movement(&sightings, &lake, &BY_DATE).findings[1].done.clone();
    let numbers: Vec<usize> = done.split('`').skip(1).step_by(2).map(|n| n.parse().unwrap()).collect();
    assert!(done.starts_with("widths taken from seasons held out: nine of ten of the"), "{done}");
    assert!(numbers[1] == 180 && numbers[0] <= 180 && numbers[0] > 90, "{done}");
    assert!(!done.contains("not checked"));
    // Twelve depths are too few for a quantile.
    sightings.iter_mut().skip(12).for_each(|s| s.fish_depth = None);
    let done = movement(&sightings, &lake, &BY_DATE).findings[1].done.clone();
    assert!(
        done.ends_with("the bands of depth are not checked: fewer than 20 of those tell a depth"),
        "{done}"
    );
}

#[test]
fn of_many_sightings_some_are_fitted_and_all_are_counted() {
    let lake = lake_at(-56.0);
    let mut sightings = on_route(4000, 3, 0.0, &lake);
    let found = movement(&sightings, &lake, &BY_DATE);
    numbers_are_sane(&found);
    assert_eq!(found.tracks.len(), 1);
    assert!(found.tracks[0].sightings > 3600, "{}", found.tracks[0].sightings);
    assert!(found.findings[1].seen.contains("; fitted to `1500` of them"), "{}", found.findings[1].seen);
    for day in &found.tracks[0].days {
        let metres = lake.to_plane(day.place).metres_to(route(day.season_day.days()).0);
        assert!(metres < 100.0, "day {}: {metres} m", day.season_day.days());
    }
    sightings.reverse();
    let single = rayon::ThreadPoolBuilder::new().num_threads(1).build().unwrap();
    let reversed = single.install(|| movement(&sightings, &lake, &BY_DATE));
    assert_eq!(format!("{found:?}"), format!("{reversed:?}"));
}

#[test]
fn with_two_seasons_the_bands_say_that_nothing_checked_them() {
    let lake = lake_at(-56.0);
    let two = movement(&on_route(120, 2, 0.0, &lake), &lake, &BY_DATE);
    assert!(two.findings[1].done.contains("not checked"), "{}", two.findings[1].done);
    let three = movement(&on_route(180, 3, 0.0, &lake), &lake, &BY_DATE);
    assert!(!three.findings[1].done.contains("not checked"));
}

#[test]
fn a_temperature_clock_without_temperatures_falls_back_to_the_date() {
    let lake = lake_at(-56.0);
    let settings = Settings { clock: ClockChoice::Temperature, max_tracks: 6 };
    let found = movement(&on_route(120, 2, 0.0, &lake), &lake, &settings);
    assert!(found.tracks.iter().all(|t| t.clock == Clock::Date));
    assert!(found.findings[0].seen.contains("too few outings tell a water temperature"));
    let mut warm = on_route(120, 2, 0.0, &lake);
    for s in &mut warm {
        let celsius = 15.0 - 10.0 * (s.day.season_day.days() / YEAR_DAYS * TAU).cos();
        s.water_temp = WaterTemp::from_celsius(celsius);
    }
    let found = movement(&warm, &lake, &settings);
    assert!(!found.tracks.is_empty() && found.tracks.iter().all(|t| t.clock == Clock::Temperature));
}

#[test]
fn no_more_tracks_than_asked_for() {
    let lake = lake_at(-56.0);
    // Four bodies of bait that stay where they are, 4 km apart, all year.
    let mut sightings = on_route(280, 3, 0.0, &lake);
    for (k, s) in sightings.iter_mut().enumerate() {
        let plane = PlanePoint {
            east_m: (k % 4) as f64 * 4000.0 + 200.0 * scatter(k, 7),
            north_m: 200.0 * scatter(k, 8),
        };
        s.plane = plane;
        s.place = lake.plane.to_place(plane);
    }
    let count = |max_tracks| movement(&sightings, &lake, &Settings { max_tracks, ..BY_DATE }).tracks.len();
    assert_eq!([count(6), count(2)], [4, 2]);
}

#[test]
fn the_calendar_turned_by_100_days_turns_the_answer() {
    let lake = lake_at(-56.0);
    let plain = movement(&on_route(240, 4, 0.0, &lake), &lake, &BY_DATE);
    let turned = movement(&on_route(240, 4, 100.0, &lake), &lake, &BY_DATE);
    assert_eq!((plain.tracks.len(), turned.tracks.len()), (1, 1));
    let on = |track: &MovementTrack, day: f64| {
        track.days.iter().find(|d| d.season_day.days_apart(SeasonDay::from_days(day)) < 0.01).copied()
    };
    let mut compared = 0;
    for day in (0..260).step_by(5).map(f64::from) {
        let Some((a, b)) = on(&plain.tracks[0], day).zip(on(&turned.tracks[0], day + 100.0)) else {
            continue;
        };
        // The knots stand elsewhere on the route: a few tens of metres of difference are theirs.
        assert!(a.place.metres_to(b.place) < 60.0, "day {day}: {} m", a.place.metres_to(b.place));
        compared += 1;
    }
    assert!(compared > 40);
}

#[test]
fn a_lake_elsewhere_changes_places_alone() {
    let (here, there) = (lake_at(-56.0), lake_at(23.0));
    let a = movement(&on_route(160, 3, 0.0, &here), &here, &BY_DATE);
    let b = movement(&on_route(160, 3, 0.0, &there), &there, &BY_DATE);
    assert_eq!(a.tracks.len(), b.tracks.len());
    for (a, b) in a.tracks.iter().zip(&b.tracks) {
        assert_eq!((a.sightings, &a.seasons, a.days.len()), (b.sightings, &b.seasons, b.days.len()));
        for (a, b) in a.days.iter().zip(&b.days) {
            assert!(
                (b.place.lon - a.place.lon - 79.0).abs() < 1e-6 && (b.place.lat - a.place.lat).abs() < 1e-6
            );
            assert!((a.band_m - b.band_m).abs() < 1e-3);
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(4) })]

    #[test]
    fn any_order_of_sightings_gives_the_same_bits(order in Just((0..130_usize).collect::<Vec<_>>()).prop_shuffle()) {
        let lake = lake_at(-56.0);
        let sightings = on_route(130, 3, 0.0, &lake);
        let shuffled: Vec<Sighting> = order.iter().map(|k| sightings[*k].clone()).collect();
        let [a, b] = [&sightings, &shuffled].map(|s| movement(s, &lake, &BY_DATE));
        prop_assert_eq!(format!("{a:?}"), format!("{b:?}"));
    }

    #[test]
    fn any_dates_and_places_give_sane_numbers(
        raw in prop::collection::vec((0_i32..1460, -9e3..9e3_f64, -9e3..9e3_f64, prop::option::of(0.0..90.0_f64)), 80..140),
    ) {
        let lake = lake_at(-56.0);
        let first: Date = date(2019, 1, 1);
        let sightings: Vec<Sighting> = raw
            .iter()
            .enumerate()
            .map(|(k, (offset, east_m, north_m, depth))| {
                let day = lake.day(first.checked_add(jiff::Span::new().days(*offset)).unwrap());
                sighting(k, &lake, day, PlanePoint { east_m: *east_m, north_m: *north_m }, *depth)
            })
            .collect();
        numbers_are_sane(&movement(&sightings, &lake, &Settings::default()));
    }
}
