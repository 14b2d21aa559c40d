//! The bottom between the soundings: natural neighbours (Sibson 1981, "A brief description of natural neighbour
//! interpolation"), through crate `spade`: his smooth one, which follows the slopes at the soundings, so that a hole
//! between two tracks is not cut off flat.

use super::blocks::cell_of;
use super::cells::Cells;
use crate::terms::lake::Lake;
use crate::terms::place::PlanePoint;
use crate::terms::water::Water;
use rstar::{PointDistance, RTree};
use spade::{
    DelaunayTriangulation, FloatTriangulation, HasPosition, HierarchyHintGenerator, Point2, Triangulation,
    mitigate_underflow,
};
use std::collections::HashSet;

/// A place of known depth.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Vertex {
    pub(super) at: PlanePoint,
    pub(super) depth_m: f64,
    /// By how much it grows deeper a metre eastward, and northward.
    pub(super) slope: [f64; 2],
    /// On the shore, where the depth is nothing at full pool.
    pub(super) shore: bool,
}

impl HasPosition for Vertex {
    type Scalar = f64;

    fn position(&self) -> Point2<f64> {
        mitigate_underflow(Point2::new(self.at.east_m, self.at.north_m))
    }
}

type Mesh = DelaunayTriangulation<Vertex, (), (), (), HierarchyHintGenerator<f64>>;

/// The bottom, as far as it is known.
#[derive(Debug)]
pub struct Bed {
    mesh: Mesh,
    sounded: RTree<[f64; 2]>,
    reach_m: f64,
}

/// Soundings looked at for one that is in sight over water.
const MOST_NEAREST: usize = 12;

impl Bed {
    /// `None`: no three of the places span a triangle.
    pub(super) fn new(sounded: &[Vertex], shore: &[Vertex], reach_m: f64) -> Option<Self> {
        let all: Vec<Vertex> = sounded.iter().chain(shore).copied().collect();
        let mut mesh = Mesh::bulk_load_stable(all).ok()?;
        let banks: Vec<_> = mesh
            .vertices()
            .filter(|vertex| vertex.data().shore)
            .map(|vertex| {
                (vertex.fix(), bank(vertex.data(), vertex.out_edges().map(|edge| *edge.to().data())))
            })
            .collect();
        for (vertex, slope) in banks {
            mesh.vertex_data_mut(vertex).slope = slope;
        }
        let sounded = RTree::bulk_load(sounded.iter().map(|v| [v.at.east_m, v.at.north_m]).collect());
        (mesh.num_inner_faces() > 0).then_some(Self { mesh, sounded, reach_m })
    }

    /// Depth of the bottom below the surface of reference, in metres; `None` on land, farther from every sounding than
    /// the reach, where land lies between, and outside of all soundings where there is no shore around them.
    #[must_use]
    pub fn depth_m(&self, at: PlanePoint, lake: &Lake) -> Option<f64> {
        let afloat = |water: &Water| water.contains(lake.plane.to_place(at));
        if !lake.water.as_ref().is_none_or(afloat) || !self.reaches(at, lake.water.as_ref()) {
            return None;
        }
        self.interpolated_m(at)
    }

    /// West, south, east and north of all soundings.
    pub(super) fn bounds(&self) -> [f64; 4] {
        let bounds = self.sounded.root().envelope();
        let ([west, south], [east, north]) = (bounds.lower(), bounds.upper());
        [west, south, east, north]
    }

    pub(super) const fn reach_m(&self) -> f64 {
        self.reach_m
    }

    /// Whether a sounding lies within reach, with no land between.
    pub(super) fn reaches(&self, at: PlanePoint, water: Option<&Water>) -> bool {
        let here = [at.east_m, at.north_m];
        self.sounded
            .nearest_neighbor_iter(&here)
            .take(MOST_NEAREST)
            .take_while(|there| there.distance_2(&here) <= self.reach_m.powi(2))
            .any(|there| {
                let there = PlanePoint { east_m: there[0], north_m: there[1] };
                water.is_none_or(|water| !water.shore_between(at, there))
            })
    }

    /// Natural neighbours, wherever it is; `None` outside of all soundings and shore.
    pub(super) fn interpolated_m(&self, at: PlanePoint) -> Option<f64> {
        let here = mitigate_underflow(Point2::new(at.east_m, at.north_m));
        // At half a power of the squared distance this is Sibson's own.
        let smooth = self.mesh.natural_neighbor().interpolate_gradient(
            |v| v.data().depth_m,
            |v| v.data().slope,
            0.5,
            here,
        )?;
        // On the edge between two neighbours a circle through both and the place has no middle: there the triangle's
        // own plane serves.
        if smooth.is_finite() {
            return Some(smooth.max(0.0));
        }
        self.mesh.barycentric().interpolate(|v| v.data().depth_m, here).map(|depth_m| depth_m.max(0.0))
    }
}

/// Held back by this share, so that soundings in one direction alone tell no slope across it.
const BANK_HELD_BACK: f64 = 0.05;

/// The slope of the bank at a place of the shore, by least squares through the soundings next to it.
fn bank(shore: &Vertex, next: impl Iterator<Item = Vertex>) -> [f64; 2] {
    let (mut count, mut ee, mut en, mut nn, mut ed, mut nd) = (0.0, 0.0, 0.0, 0.0, 0.0, 0.0);
    for sounded in next.filter(|v| !v.shore) {
        let (east, north) = (sounded.at.east_m - shore.at.east_m, sounded.at.north_m - shore.at.north_m);
        let far = (east * east + north * north).max(1e-6);
        count += 1.0;
        ee += east * east / far;
        en += east * north / far;
        nn += north * north / far;
        ed += east * sounded.depth_m / far;
        nd += north * sounded.depth_m / far;
    }
    if count < 1.0 {
        return [0.0; 2];
    }
    let (ee, nn) = (ee + BANK_HELD_BACK * count, nn + BANK_HELD_BACK * count);
    let whole = ee * nn - en * en;
    [(ed * nn - nd * en) / whole, (nd * ee - ed * en) / whole]
}

/// The shore near the soundings as places of no depth, a square apart at most.
pub(super) fn shore(lake: &Lake, cells: &Cells, reach_m: f64) -> Vec<Vertex> {
    let Some(water) = &lake.water else { return Vec::new() };
    // Shore farther off than thrice the reach bears on nothing that is drawn.
    let wide_m = 3.0 * reach_m;
    let near: HashSet<(i32, i32)> = cells
        .vertices_at()
        .flat_map(|at| {
            let (east, north) = cell_of(at, wide_m);
            (-1..=1).flat_map(move |e| (-1..=1).map(move |n| (east + e, north + n)))
        })
        .collect();
    let mut shore = Vec::new();
    for ring in water.rings_m() {
        for pair in ring.windows(2) {
            let pieces = (pair[0].metres_to(pair[1]) / cells.cell_m).ceil().max(1.0);
            for step in 0..pieces as u32 {
                let share = f64::from(step) / pieces;
                let at = PlanePoint {
                    east_m: pair[0].east_m + share * (pair[1].east_m - pair[0].east_m),
                    north_m: pair[0].north_m + share * (pair[1].north_m - pair[0].north_m),
                };
                if near.contains(&cell_of(at, wide_m)) {
                    shore.push(Vertex { at, depth_m: 0.0, slope: [0.0; 2], shore: true });
                }
            }
        }
    }
    shore
}
