//! Sightings, holding areas and pairing against simulated lakes whose truth is known.
//!
//! The gates are those that an independent implementation of the same methods set for itself on these lakes.

use crate::hollow::{Hollow, hollow};
use crate::schools_score::{areas_index, sightings_index};
use shoalwright::schools::{AreaSettings, Schools, SightingSettings, schools};
use shoalwright::terms::units::Distance;

fn run(lake: &Hollow, areas: &AreaSettings) -> Schools {
    schools(&lake.log, &lake.track_logs, &lake.lake, &SightingSettings::default(), areas, 1)
}

/// Route and holding place that a mark stems from; `None`: clutter.
fn place_of(lake: &Hollow) -> impl Fn(usize) -> Option<(i64, i64)> + '_ {
    |mark| {
        let truth = &lake.truth[mark];
        (truth.route >= 0).then_some((truth.route, truth.holding))
    }
}

#[test]
#[expect(clippy::print_stdout, reason = "the figures are read with --nocapture and quoted in the documents")]
fn simulated_lakes_give_back_their_schools_areas_and_association() {
    let wide = AreaSettings { distance: Distance::from_metres(400.0), ..AreaSettings::default() };
    let (mut a1, mut a2) = (Vec::new(), Vec::new());
    for letter in ['a', 'b', 'c'] {
        let lake = hollow(letter);
        let found = run(&lake, &AreaSettings::default());
        a1.push(sightings_index(&found.sightings, |mark| lake.truth[mark].school));
        a2.push(areas_index(&found.sightings, place_of(&lake)));
        let test = found.pairing.as_ref().unwrap().test.unwrap();
        println!(
            "hollow-{letter}: sightings {:.3}, areas {:.3} at 300 m and {:.3} at 400 m, pairing lift {:.1} p {}",
            a1[a1.len() - 1],
            a2[a2.len() - 1],
            areas_index(&run(&lake, &wide).sightings, place_of(&lake)),
            test.lift,
            test.p
        );
        assert!(test.p <= 0.01, "hollow-{letter}: p {}", test.p);
        assert!(a1[a1.len() - 1] >= 0.75, "hollow-{letter}: sightings {a1:?}");
    }
    let mean = |scores: &[f64]| scores.iter().sum::<f64>() / scores.len() as f64;
    assert!(mean(&a1) >= 0.81, "sightings {a1:?}");
    assert!(mean(&a2) >= 0.53, "areas {a2:?}");
}
