//! Sightings, holding areas and pairing against simulated lakes whose truth is known.
//!
//! The gates are those that an independent implementation of the same methods set for itself on these lakes.

use crate::hollow::{Hollow, hollow};
use crate::rand_index::adjusted_rand_index;
use shoalwright::schools::{AreaSettings, Schools, SightingSettings, schools};
use shoalwright::terms::mark::Kind;
use shoalwright::terms::units::Distance;
use std::collections::BTreeMap;

fn run(lake: &Hollow, areas: &AreaSettings) -> Schools {
    schools(&lake.log, &lake.track_logs, &lake.lake, &SightingSettings::default(), areas, 1)
}

/// Mean over the outings with at least 4 bait marks of the index between sightings and schools.
fn sightings_index(lake: &Hollow, found: &Schools) -> f64 {
    let mut outings: BTreeMap<_, Vec<(usize, i64)>> = BTreeMap::new();
    for (number, sighting) in found.sightings.iter().enumerate().filter(|(_, s)| s.kind == Kind::Bait) {
        for mark in &sighting.marks {
            outings.entry(sighting.day.date).or_default().push((number, lake.truth[*mark].school));
        }
    }
    let scores: Vec<f64> =
        outings.values().filter(|marks| marks.len() >= 4).map(|marks| adjusted_rand_index(marks)).collect();
    scores.iter().sum::<f64>() / scores.len() as f64
}

/// Index between holding areas and (route, holding place) of the bait sightings; clutter is one class, and so are
/// the sightings that belong to no area.
fn areas_index(lake: &Hollow, found: &Schools) -> f64 {
    let pairs: Vec<_> = found
        .sightings
        .iter()
        .filter(|s| s.kind == Kind::Bait)
        .map(|s| {
            let truth = &lake.truth[s.marks[0]];
            (s.area, if truth.route < 0 { (-1, -1) } else { (truth.route, truth.holding) })
        })
        .collect();
    adjusted_rand_index(&pairs)
}

#[test]
#[expect(clippy::print_stdout, reason = "the figures are read with --nocapture and quoted in the documents")]
fn simulated_lakes_give_back_their_schools_areas_and_association() {
    let wide = AreaSettings { distance: Distance::from_metres(400.0), ..AreaSettings::default() };
    let (mut a1, mut a2) = (Vec::new(), Vec::new());
    for letter in ['a', 'b', 'c'] {
        let lake = hollow(letter);
        let found = run(&lake, &AreaSettings::default());
        a1.push(sightings_index(&lake, &found));
        a2.push(areas_index(&lake, &found));
        let test = found.pairing.as_ref().unwrap().test.unwrap();
        println!(
            "hollow-{letter}: sightings {:.3}, areas {:.3} at 300 m and {:.3} at 400 m, pairing lift {:.1} p {}",
            a1[a1.len() - 1],
            a2[a2.len() - 1],
            areas_index(&lake, &run(&lake, &wide)),
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
