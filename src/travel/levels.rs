//! Water at one margin, and the way into it from a place nearer to the shore.

use super::mesh::Mesh;
use super::polygons::rings;
use super::search::{Spot, Ways};
use super::sight::{Eye, metres, nearest_on};
use geo::{Coord, Intersects, LineString, MultiPolygon, Rect};
use rstar::primitives::Line;
use rstar::{AABB, RTree};

/// Steps past the edge of the water that are tried, in metres, until the place lies in it: the first that does is
/// within the precision of the polygons.
const PAST_EDGE_M: [f64; 6] = [1e-6, 1e-5, 1e-4, 1e-3, 1e-2, 1e-1];

/// Longest way from a place to the water of a level, in metres; a place further off has no part in that level.
const JOIN_AT_MOST_M: f64 = 2_000.0;

/// The edges of some water.
#[derive(Debug)]
pub(super) struct Edges(RTree<Line<[f64; 2]>>);

impl Edges {
    pub(super) fn of(water: &MultiPolygon<f64>) -> Self {
        let pieces = rings(water)
            .flat_map(LineString::lines)
            .map(|l| Line::new([l.start.x, l.start.y], [l.end.x, l.end.y]))
            .collect();
        Self(RTree::bulk_load(pieces))
    }

    /// Whether one of them runs through a box, its edge included.
    pub(super) fn any_in(&self, low: [f64; 2], high: [f64; 2]) -> bool {
        let c = |p: [f64; 2]| Coord { x: p[0], y: p[1] };
        let rectangle = Rect::new(c(low), c(high));
        self.0
            .locate_in_envelope_intersecting(&AABB::from_corners(low, high))
            .any(|piece| rectangle.intersects(&geo::Line::new(c(piece.from), c(piece.to))))
    }

    /// Feet of the perpendiculars from a place on the edges, the nearest first, with their distance in metres.
    pub(super) fn feet(&self, at: Coord<f64>) -> impl Iterator<Item = (Coord<f64>, f64)> + '_ {
        let c = |p: [f64; 2]| Coord { x: p[0], y: p[1] };
        self.0.nearest_neighbor_iter(&[at.x, at.y]).map(move |piece| {
            let foot = nearest_on(at, c(piece.from), c(piece.to));
            (foot, metres(at, foot))
        })
    }
}

/// Open water at one distance from the shore.
#[derive(Debug)]
pub(super) struct Level {
    pub(super) water: MultiPolygon<f64>,
    pub(super) mesh: Mesh,
    pub(super) edges: Edges,
}

/// How a place gets into the water of a level.
#[derive(Clone, Debug)]
pub(super) struct Access {
    /// Where the way through the level's water begins.
    pub(super) spot: Spot,
    /// The way from the place to there, both included; empty when the place lies in that water.
    pub(super) join: Vec<Coord<f64>>,
}

impl Level {
    pub(super) fn new(water: MultiPolygon<f64>, mesh: Mesh) -> Self {
        Self { mesh, edges: Edges::of(&water), water }
    }

    /// How a place in the open water of `banks` gets into this water; `None` when no way leads there.
    pub(super) fn access(&self, banks: &Mesh, at: Coord<f64>) -> Option<Access> {
        if let Some(spot) = Spot::new(&self.mesh, at, f64::INFINITY) {
            return Some(Access { spot, join: Vec::new() });
        }
        self.join(banks, at)
    }

    /// The shortest way from a place through the water of `banks` to this water.
    ///
    /// It ends at the foot of a perpendicular that its last bend sees: any other end could be shortened. So for each
    /// bend, the nearest first, the feet are tried until they lie further than the best way.
    fn join(&self, banks: &Mesh, at: Coord<f64>) -> Option<Access> {
        let start = Spot::new(banks, at, f64::INFINITY)?;
        let mut ways = Ways::new(banks, &start, 0.0);
        let mut best: Option<(f64, Option<u32>, Coord<f64>)> = None;
        let mut try_from = |from: Option<u32>, so_far_m: f64, eye: &Eye<'_>| {
            for (foot, foot_m) in self.edges.feet(eye.at) {
                let most_m = best.map_or(JOIN_AT_MOST_M, |(best_m, ..)| best_m);
                if so_far_m + foot_m >= most_m {
                    return so_far_m < most_m;
                }
                if banks.sees(eye, foot).is_some() {
                    best = Some((so_far_m + foot_m, from, foot));
                }
            }
            so_far_m < JOIN_AT_MOST_M
        };
        try_from(None, 0.0, &start.eye());
        while let Some((node, label)) = ways.settle() {
            if !try_from(Some(node), label.metres, &banks.eye(node)) {
                break;
            }
        }
        let (_, node, foot) = best?;
        let mut join = vec![at];
        join.extend(node.map(|node| ways.bends_to(node)).unwrap_or_default());
        let last = join[join.len() - 1];
        let spot = self.just_past(last, foot)?;
        join.push(spot.at);
        Some(Access { spot, join })
    }

    /// A place in the water just past its edge, as seen from a place outside.
    fn just_past(&self, from: Coord<f64>, edge: Coord<f64>) -> Option<Spot> {
        let length = metres(from, edge);
        let ahead = if length > 0.0 { (edge - from) / length } else { Coord { x: 0.0, y: 0.0 } };
        std::iter::once(edge)
            .chain(PAST_EDGE_M.iter().map(|past| edge + ahead * *past))
            .find_map(|at| Spot::new(&self.mesh, at, f64::INFINITY))
    }
}
