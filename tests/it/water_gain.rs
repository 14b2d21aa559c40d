//! What distance through water gains over straight distance, on simulated dendritic lakes.

use crate::rand_index::adjusted_rand_index;
use crate::schools_score::areas_index;
use crate::simulator::{Habit, Shape, SimulatedLake, Timing, Wish, simulate_shaped};
use shoalwright::schools::{AreaSettings, Sighting, SightingSettings, group_sightings, schools};
use shoalwright::terms::lake::Lake;
use shoalwright::terms::mark::Kind;
use shoalwright::terms::units::Distance;
use shoalwright::travel::WaterDistance;

/// A dendritic lake, and what is known of it without its shoreline. Two to four routes, of which two and two keep time
/// together.
pub(crate) fn lake(seed: u64) -> (SimulatedLake, Lake) {
    let timing = if seed.is_multiple_of(3) { Timing::Temperature } else { Timing::Date };
    let wish = Wish { seed, routes: 2 + seed as usize % 3, seasons: 4, timing };
    let simulated = simulate_shaped(wish, Habit::default(), Shape::Dendritic);
    let mut without = simulated.lake.clone();
    without.water = None;
    (simulated, without)
}

/// Sightings of bait with the index of their areas, and that of the neighbourhoods that tracks start from.
pub(crate) fn grouped(simulated: &SimulatedLake, lake: &Lake) -> (Vec<Sighting>, [f64; 2]) {
    let found =
        schools(&simulated.marks, &[], lake, &SightingSettings::default(), &AreaSettings::default(), 1);
    let origin = |mark: usize| simulated.origin_of_mark[mark];
    let areas =
        areas_index(&found.sightings, |mark| origin(mark).route.map(|route| (route, origin(mark).site)));
    let bait: Vec<Sighting> = found.sightings.into_iter().filter(|s| s.kind == Kind::Bait).collect();
    // The gates of movement's chains.
    let gates = AreaSettings { distance: Distance::from_metres(400.0), ..AreaSettings::default() };
    let water = lake.water.as_ref().map(|water| WaterDistance::new(water, &lake.plane));
    let labels = group_sightings(&bait.iter().collect::<Vec<_>>(), &gates, water.as_ref());
    let chained: Vec<_> = labels
        .iter()
        .zip(&bait)
        .filter_map(|(label, s)| Some((label.cluster()?, origin(s.marks[0]).route)))
        .collect();
    (bait, [areas, adjusted_rand_index(&chained)])
}

#[test]
fn distance_through_water_tells_creeks_apart_that_lie_side_by_side() {
    use rayon::prelude::*;
    // Without movement, so that it stays quick, and on other seeds than the bench `schools_skill`, which has it all.
    let lakes: Vec<[[f64; 2]; 2]> = (1..7)
        .into_par_iter()
        .map(|seed| {
            let (simulated, without) = lake(seed);
            [&without, &simulated.lake].map(|lake| grouped(&simulated, lake).1)
        })
        .collect();
    let mean =
        |way: usize, of: usize| lakes.iter().map(|both| both[way][of]).sum::<f64>() / lakes.len() as f64;
    eprintln!(
        "straight, by boat: areas {:.3} {:.3}, chains {:.3} {:.3}",
        mean(0, 0),
        mean(1, 0),
        mean(0, 1),
        mean(1, 1)
    );
    assert!(mean(1, 0) > mean(0, 0), "areas {lakes:?}");
    assert!(mean(1, 1) > mean(0, 1), "chains {lakes:?}");
}
