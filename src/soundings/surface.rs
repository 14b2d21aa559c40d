//! The bottom between the soundings: natural neighbours (Sibson 1981, "A brief description of natural neighbour
//! interpolation"), through crate `spade`: his smooth one, which follows the slopes at the soundings, so that a hole
//! between two tracks is not cut off flat.

use super::blocks::cell_of;
use super::cells::Cells;
use crate::terms::lake::Lake;
use crate::terms::place::PlanePoint;
use crate::terms::water::Water;
use rstar::RTree;
use spade::handles::FixedVertexHandle;
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
        position(self.at)
    }
}

fn position(at: PlanePoint) -> Point2<f64> {
    mitigate_underflow(Point2::new(at.east_m, at.north_m))
}

type Mesh = DelaunayTriangulation<Vertex, (), (), (), HierarchyHintGenerator<f64>>;

/// Places of known depth, each with its neighbours.
#[derive(Clone, Debug)]
pub(super) struct Net(Mesh);

/// The bottom, as far as it is known.
#[derive(Debug)]
pub struct Bed {
    net: Net,
    sounded: RTree<[f64; 2]>,
    reach_m: f64,
}

/// Soundings looked at for one that is in sight over water.
pub(super) const MOST_NEAREST: usize = 12;

impl Net {
    /// `None`: no three of the places span a triangle.
    pub(super) fn new(sounded: &[Vertex], shore: &[Vertex]) -> Option<Self> {
        let all: Vec<Vertex> = sounded.iter().chain(shore).copied().collect();
        let mut mesh = Mesh::bulk_load_stable(all).ok()?;
        let shore: Vec<_> = mesh.vertices().filter(|v| v.data().shore).map(|v| v.fix()).collect();
        lay_banks(&mut mesh, &shore);
        (mesh.num_inner_faces() > 0).then_some(Self(mesh))
    }

    /// The same with other soundings at some places: each where it stood, and where it stands now, if anywhere.
    pub(super) fn with(&self, changes: &[(PlanePoint, Option<Vertex>)]) -> Self {
        let mut mesh = self.0.clone();
        let mut banks: Vec<Point2<f64>> = Vec::new();
        for (before, after) in changes {
            let Some(vertex) = mesh.locate_vertex(position(*before)).filter(|v| !v.data().shore) else {
                continue;
            };
            let old = vertex.fix();
            banks.extend(shore_beside(&mesh, old));
            let new = match after {
                Some(after) if after.at == *before => {
                    *mesh.vertex_data_mut(old) = *after;
                    None
                }
                _ => {
                    mesh.remove(old);
                    after.and_then(|after| mesh.insert(after).ok())
                }
            };
            banks.extend(new.into_iter().flat_map(|new| shore_beside(&mesh, new)));
        }
        banks.sort_by(|a, b| a.x.total_cmp(&b.x).then(a.y.total_cmp(&b.y)));
        banks.dedup();
        let shore: Vec<_> = banks.iter().filter_map(|at| Some(mesh.locate_vertex(*at)?.fix())).collect();
        lay_banks(&mut mesh, &shore);
        Self(mesh)
    }

    /// Natural neighbours, wherever it is; `None` outside of all soundings and shore.
    pub(super) fn interpolated_m(&self, at: PlanePoint) -> Option<f64> {
        let here = position(at);
        // At half a power of the squared distance this is Sibson's own.
        let smooth = self.0.natural_neighbor().interpolate_gradient(
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
        self.0.barycentric().interpolate(|v| v.data().depth_m, here).map(|depth_m| depth_m.max(0.0))
    }
}

/// Where places of the shore beside a sounding lie.
fn shore_beside(mesh: &Mesh, vertex: FixedVertexHandle) -> Vec<Point2<f64>> {
    let beside = mesh.vertex(vertex).out_edges().map(|edge| edge.to());
    beside.filter(|v| v.data().shore).map(|v| v.position()).collect()
}

/// Sets the slopes at places of the shore by the soundings beside them.
fn lay_banks(mesh: &mut Mesh, shore: &[FixedVertexHandle]) {
    for number in shore {
        let vertex = mesh.vertex(*number);
        let slope = bank(vertex.data(), vertex.out_edges().map(|edge| *edge.to().data()));
        mesh.vertex_data_mut(*number).slope = slope;
    }
}

impl Bed {
    /// `None`: no three of the places span a triangle.
    pub(super) fn new(sounded: &[Vertex], shore: &[Vertex], reach_m: f64) -> Option<Self> {
        let net = Net::new(sounded, shore)?;
        let sounded = RTree::bulk_load(sounded.iter().map(|v| [v.at.east_m, v.at.north_m]).collect());
        Some(Self { net, sounded, reach_m })
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
        let nearest = self.sounded.nearest_neighbor_iter(&[at.east_m, at.north_m]);
        in_reach(
            at,
            nearest.map(|[east_m, north_m]| PlanePoint { east_m: *east_m, north_m: *north_m }),
            self.reach_m,
            water,
        )
    }

    /// Natural neighbours, wherever it is; `None` outside of all soundings and shore.
    pub(super) fn interpolated_m(&self, at: PlanePoint) -> Option<f64> {
        self.net.interpolated_m(at)
    }
}

/// Whether one of the soundings, the nearest first, lies within reach of a place with no land between.
pub(super) fn in_reach(
    at: PlanePoint,
    nearest: impl Iterator<Item = PlanePoint>,
    reach_m: f64,
    water: Option<&Water>,
) -> bool {
    nearest
        .take(MOST_NEAREST)
        .take_while(|there| there.metres_to(at) <= reach_m)
        .any(|there| water.is_none_or(|water| !water.shore_between(at, there)))
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::terms::random::Random;

    /// Soundings anywhere in a square of 400 m, and its shore.
    fn lake(random: &mut Random) -> [Vec<Vertex>; 2] {
        let vertex = |east_m, north_m, depth_m, shore| Vertex {
            at: PlanePoint { east_m, north_m },
            depth_m,
            slope: [0.01, -0.02],
            shore,
        };
        let mut any = |most: f64| most * random.unit();
        let sounded = (0..300).map(|_| vertex(any(400.0), any(400.0), 1.0 + any(9.0), false)).collect();
        let shore = (0..40)
            .map(|k| f64::from(k) * 10.0)
            .flat_map(|m| [[m, -5.0], [405.0, m], [m, 405.0], [-5.0, m]])
            .map(|[east_m, north_m]| vertex(east_m, north_m, 0.0, true))
            .collect();
        [sounded, shore]
    }

    #[test]
    fn a_net_with_changes_is_the_net_of_what_there_is_now() {
        let mut random = Random::new(3, 0);
        let [sounded, shore] = lake(&mut random);
        let after = |(number, vertex): (usize, &Vertex)| match number % 5 {
            0 => None,
            1 => Some(Vertex { depth_m: vertex.depth_m + 2.0, slope: [0.0, 0.05], ..*vertex }),
            2 => {
                let at = PlanePoint { east_m: vertex.at.east_m + 3.0, ..vertex.at };
                Some(Vertex { at, depth_m: 4.0, ..*vertex })
            }
            _ => Some(*vertex),
        };
        let now: Vec<Option<Vertex>> = sounded.iter().enumerate().map(after).collect();
        let changes: Vec<_> = sounded.iter().map(|v| v.at).zip(now.iter().copied()).take(200).collect();
        let rest = sounded[200..].iter().copied();
        let anew: Vec<Vertex> = now[..200].iter().copied().flatten().chain(rest).collect();
        let changed = Net::new(&sounded, &shore).unwrap().with(&changes);
        let anew = Net::new(&anew, &shore).unwrap();
        for _ in 0..500 {
            let at = PlanePoint { east_m: 400.0 * random.unit(), north_m: 400.0 * random.unit() };
            let [a, b] = [&changed, &anew].map(|net| net.interpolated_m(at).unwrap());
            assert!((a - b).abs() < 1e-6, "{at:?}: {a} and {b}");
        }
    }

    #[test]
    fn what_is_left_on_one_line_or_of_nothing_foretells_nothing() {
        let vertex = |east_m, north_m| Vertex {
            at: PlanePoint { east_m, north_m },
            depth_m: 3.0,
            slope: [0.0; 2],
            shore: false,
        };
        let line: Vec<Vertex> = (0..8).map(|k| vertex(10.0 * f64::from(k), 0.0)).collect();
        let beside = [vertex(20.0, 30.0), vertex(40.0, 25.0)];
        let all: Vec<Vertex> = line.iter().chain(&beside).copied().collect();
        let net = Net::new(&all, &[]).unwrap();
        let gone = |of: &[Vertex]| of.iter().map(|v| (v.at, None)).collect::<Vec<_>>();
        let at = PlanePoint { east_m: 25.0, north_m: 10.0 };
        assert!(net.interpolated_m(at).is_some());
        assert_eq!(net.with(&gone(&beside)).interpolated_m(at), None);
        assert_eq!(net.with(&gone(&all)).interpolated_m(at), None);
    }
}
