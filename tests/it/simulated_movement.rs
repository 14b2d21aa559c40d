//! Movement on simulated lakes.

use crate::movement_score::score;
use crate::simulator::{Timing, Wish, simulate};
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
