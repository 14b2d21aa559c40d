//! How well sightings and holding areas tell true schools and holding places. Used on simulated lakes only.

use crate::rand_index::adjusted_rand_index;
use shoalwright::schools::Sighting;
use shoalwright::terms::mark::Kind;
use std::collections::BTreeMap;

/// Mean over the outings with at least 4 bait marks of the index between sightings and schools. `school` tells the true
/// school of a mark, by a number of its own on each outing.
pub(crate) fn sightings_index<S: Ord + Copy>(sightings: &[Sighting], school: impl Fn(usize) -> S) -> f64 {
    let mut outings: BTreeMap<_, Vec<(usize, S)>> = BTreeMap::new();
    for (number, sighting) in sightings.iter().enumerate().filter(|(_, s)| s.kind == Kind::Bait) {
        for mark in &sighting.marks {
            outings.entry(sighting.day.date).or_default().push((number, school(*mark)));
        }
    }
    let scores: Vec<f64> =
        outings.values().filter(|marks| marks.len() >= 4).map(|marks| adjusted_rand_index(marks)).collect();
    scores.iter().sum::<f64>() / scores.len() as f64
}

/// Index between holding areas and true places of the bait sightings; clutter (no place) is one class, and so are the
/// sightings that belong to no area. `place` tells the true place of a mark; the first mark of a sighting speaks for it.
pub(crate) fn areas_index<P: Ord + Copy>(sightings: &[Sighting], place: impl Fn(usize) -> Option<P>) -> f64 {
    let bait = sightings.iter().filter(|s| s.kind == Kind::Bait);
    let pairs: Vec<_> = bait.map(|s| (s.area, place(s.marks[0]))).collect();
    adjusted_rand_index(&pairs)
}
