//! Movement on simulated lakes.

use crate::movement_score::{Score, score};
use crate::simulator::{Habit, Random, SimulatedLake, Timing, Wish, simulate, simulate_with};
use rayon::prelude::*;
use shoalwright::movement::{Settings, movement};

#[test]
fn tracks_on_simulated_lakes_beat_monthly_means() {
    // A few lakes, so that the tests stay quick; the bench `movement_skill` runs two dozen.
    let wishes = [(1, 1, 3), (2, 2, 3), (3, 2, 4), (4, 3, 3)];
    let shares: Vec<f64> = wishes
        .into_par_iter()
        .map(|(seed, routes, seasons)| {
            let simulated = simulate(Wish { seed, routes, seasons, timing: Timing::Date });
            let known = simulated.known();
            let found = movement(&known.sightings, &simulated.lake, &Settings::default());
            let s = score(&known, &found.tracks, &simulated.lake);
            assert!(s.found >= 1.3 * s.monthly, "seed {seed}: {s:?}");
            assert!(s.found / s.oracle >= 0.55, "seed {seed}: {s:?}");
            s.found / s.oracle
        })
        .collect();
    assert!(shares.iter().sum::<f64>() / 4.0 >= 0.80, "{shares:?}");
}

/// The score of the movement found on a lake.
fn scored(simulated: &SimulatedLake) -> Score {
    let known = simulated.known();
    let found = movement(&known.sightings, &simulated.lake, &Settings::default());
    score(&known, &found.tracks, &simulated.lake)
}

#[test]
fn a_clock_six_hours_ahead_for_a_season_moves_the_tracks_little() {
    // From half past six in the morning six hours lead to another day only from evening on: hardly any mark.
    let changes: Vec<f64> = [2, 3, 4]
        .into_par_iter()
        .map(|seed| {
            let wish = Wish { seed, routes: 2, seasons: 4, timing: Timing::Date };
            let right = simulate(wish);
            let ahead = simulate_with(wish, Habit { clock_off_s: 6 * 3600, ..Habit::default() });
            let differ = right.marks.iter().zip(&ahead.marks).filter(|(a, b)| a.time != b.time).count();
            assert!(differ > 20 && right.marks.len() == ahead.marks.len(), "seed {seed}: {differ}");
            scored(&ahead).found - scored(&right).found
        })
        .collect();
    assert!(changes.iter().all(|change| change.abs() < 0.05), "{changes:?}");
}

#[test]
fn schools_can_be_kept_afloat_on_a_broad_lake_and_are_found_there() {
    let shares: Vec<f64> = [5, 6, 7]
        .into_par_iter()
        .map(|seed| {
            let wish = Wish { seed, routes: 2, seasons: 3, timing: Timing::Date };
            let lake = simulate_with(wish, Habit { afloat: true, ..Habit::default() });
            let water = lake.lake.water.as_ref().unwrap();
            let mut random = Random::seeded(seed);
            for day in [20.0, 120.0, 220.0, 320.0] {
                for school in lake.truth.schools_of_a_new_season(&mut random, day) {
                    let place = lake.lake.plane.to_place(school);
                    assert!(water.contains(place) || water.metres_to_shore(place) < 1.0, "{place:?}");
                }
            }
            let score = scored(&lake);
            assert!(score.found >= 1.3 * score.monthly, "seed {seed}: {score:?}");
            score.found / score.oracle
        })
        .collect();
    assert!(shares.iter().all(|share| *share >= 0.55), "{shares:?}");
}

#[test]
fn a_simulated_lake_is_the_same_twice_and_marks_lie_where_the_boat_was() {
    let wish = Wish { seed: 5, routes: 2, seasons: 3, timing: Timing::Temperature };
    let [a, b] = [simulate(wish), simulate(wish)];
    assert_eq!(format!("{:?}", a.marks), format!("{:?}", b.marks));
    assert_eq!((a.marks.len(), a.routes.len()), (a.origin_of_mark.len(), 2));
    assert!(a.marks.len() > 100);
    for mark in &a.marks {
        let day = mark.day.unwrap().date;
        let log = a.track_logs.iter().find(|log| *log.name == *format!("outing {day}")).unwrap();
        let mut fixes = log.segments.iter().flatten();
        // Half the swath, and four sigma of GPS in each direction.
        let mark_at = a.lake.to_plane(mark.place);
        assert!(
            fixes.any(|fix| a.lake.to_plane(fix.place).metres_to(mark_at) < 30.0 + 46.0),
            "{:?}",
            mark.id
        );
    }
}
