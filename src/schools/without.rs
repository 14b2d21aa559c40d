//! without: the bait sightings without gamefish near, and the gamefish marks without bait near, with what was nearest.
//!
//! Only of seasons in which both kinds were marked: elsewhere the missing kind was not logged.

use super::pairing::{BaitTree, Gamefish, near_bait};
use crate::schools::Sighting;
use crate::terms::mark::Kind;
use crate::terms::place::PlanePoint;
use crate::terms::units::Depth;
use jiff::civil::Date;
use rstar::RTree;
use rstar::primitives::GeomWithData;
use std::collections::{BTreeMap, BTreeSet};

/// One that stands without the other kind near.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Without {
    /// A bait sighting as a place in `Schools::sightings`, or a gamefish mark as a place in the log.
    pub number: usize,
    /// Metres to the nearest of the other kind on the same outing, whatever its depth; `None`: the outing has none.
    pub nearest_m: Option<f64>,
    /// Metres between the depths of the two; `None`: the outing has none, or one of the two tells no depth.
    pub depth_gap_m: Option<f64>,
}

/// Both lists, and how many gamefish marks have bait near.
pub(super) struct Lists {
    pub(super) near: usize,
    pub(super) bait: Vec<Without>,
    pub(super) gamefish: Vec<Without>,
}

pub(super) fn lists(gamefish: &[Gamefish], bait: &BTreeMap<Date, BaitTree>, sightings: &[Sighting]) -> Lists {
    let bait_seasons: BTreeSet<i16> =
        sightings.iter().filter(|s| s.kind == Kind::Bait).map(|s| s.day.season).collect();
    let both: BTreeSet<i16> =
        gamefish.iter().map(|g| g.day.season).filter(|s| bait_seasons.contains(s)).collect();
    let mut with_gamefish = vec![false; sightings.len()];
    let mut lists = Lists { near: 0, bait: Vec::new(), gamefish: Vec::new() };
    for g in gamefish {
        let tree = bait.get(&g.day.date);
        let mut alone = true;
        for s in tree.into_iter().flat_map(|tree| near_bait(g, g.plane, tree, sightings)) {
            with_gamefish[s] = true;
            alone = false;
        }
        if !alone {
            lists.near += 1;
        } else if both.contains(&g.day.season) {
            let nearest = tree.and_then(|tree| nearest(tree, g.plane, |s| depth_m(&sightings[s])));
            lists.gamefish.push(without(g.number, g.depth_m, nearest));
        }
    }
    lists.gamefish.sort_unstable_by_key(|w| w.number);
    let mut marks: BTreeMap<Date, Vec<_>> = BTreeMap::new();
    for (i, g) in gamefish.iter().enumerate() {
        marks.entry(g.day.date).or_default().push(GeomWithData::new([g.plane.east_m, g.plane.north_m], i));
    }
    let marks: BTreeMap<Date, RTree<_>> =
        marks.into_iter().map(|(date, points)| (date, RTree::bulk_load(points))).collect();
    lists.bait = (0..sightings.len())
        .filter(|i| sightings[*i].kind == Kind::Bait && !with_gamefish[*i])
        .filter(|i| both.contains(&sightings[*i].day.season))
        .map(|i| {
            let s = &sightings[i];
            let tree = marks.get(&s.day.date);
            let nearest = tree.and_then(|tree| nearest(tree, s.plane, |g| gamefish[g].depth_m));
            without(i, depth_m(s), nearest)
        })
        .collect();
    lists
}

fn depth_m(sighting: &Sighting) -> Option<f64> {
    sighting.fish_depth.map(Depth::metres)
}

/// Distance to the nearest in a tree, and its depth.
fn nearest(
    tree: &BaitTree,
    from: PlanePoint,
    depth_m: impl Fn(usize) -> Option<f64>,
) -> Option<(f64, Option<f64>)> {
    let mut by_distance = tree.nearest_neighbor_iter_with_distance_2(&[from.east_m, from.north_m]).peekable();
    let (_, least_2) = *by_distance.peek()?;
    // Of equally near ones the first in number, so that the answer does not hang on how the tree was built.
    let first = by_distance.take_while(|(_, d)| *d <= least_2).map(|(found, _)| found.data).min()?;
    Some((least_2.sqrt(), depth_m(first)))
}

fn without(number: usize, depth_m: Option<f64>, nearest: Option<(f64, Option<f64>)>) -> Without {
    Without {
        number,
        nearest_m: nearest.map(|n| n.0),
        depth_gap_m: nearest.and_then(|n| n.1).zip(depth_m).map(|(a, b)| (a - b).abs()),
    }
}
