//! Triangles of water: where a boat may be, how fast, and the corners that a shortest way can bend at.
//!
//! A constrained Delaunay triangulation (crate `spade`) of shores and zone edges is copied into plain arrays. Triangles
//! that no shore and no zone edge parts belong together and are judged once, by a place inside the largest of them:
//! counting crossings from triangle to triangle fails where a zone edge lies on the shore.

use super::polygons::{Outline, rings};
use geo::{Coord, GeoNum, Kernel, LineString, MultiPolygon, Orientation};
use rstar::primitives::{GeomWithData, Rectangle};
use rstar::{AABB, RTree};
use spade::handles::DirectedEdgeHandle;
use spade::{ConstrainedDelaunayTriangulation, Point2, Triangulation};
use std::collections::BTreeSet;
use std::ops::Range;
use std::sync::OnceLock;

/// No triangle, no node.
pub(super) const NONE: u32 = u32::MAX;
/// Class of triangles where no boat may be.
pub(super) const CLOSED: u16 = 0;

/// On which side of the line from `a` to `b` the place `c` lies: 1 left, -1 right, 0 on it; exact.
pub(super) fn side(a: Coord<f64>, b: Coord<f64>, c: Coord<f64>) -> i8 {
    match <f64 as GeoNum>::Ker::orient2d(a, b, c) {
        Orientation::CounterClockwise => 1,
        Orientation::Clockwise => -1,
        Orientation::Collinear => 0,
    }
}

/// Water with a speed of its own: its rings, and its speed in metres a second.
#[derive(Clone, Debug)]
pub(super) struct SpeedArea {
    pub(super) area: MultiPolygon<f64>,
    pub(super) speed: f64,
}

/// A corner that a shortest way can bend at, seen from one stretch of water about it.
#[derive(Clone, Debug)]
pub(super) struct Node {
    pub(super) at: Coord<f64>,
    /// The next corners of the shore on either side, counter-clockwise through the water: a way bends here only
    /// around the shore, so it touches and does not cut it. `None` where speed changes: a way may bend any way there.
    pub(super) shore: Option<[Coord<f64>; 2]>,
    star: Range<u32>,
}

/// A straight piece of way to a node, in water of one class.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Edge {
    pub(super) to: u32,
    pub(super) class: u16,
}

/// The triangulated water.
#[derive(Debug)]
pub(super) struct Mesh {
    points: Vec<Coord<f64>>,
    /// Corners counter-clockwise; edge `k` goes from corner `k` to the next.
    triangles: Vec<[u32; 3]>,
    class: Vec<u16>,
    /// Metres a second by class; that of [`CLOSED`] is 0.
    speeds: Vec<f64>,
    /// The triangle across each edge, where water of the same class goes on.
    across: Vec<[u32; 3]>,
    /// The node at each corner of each triangle.
    corner: Vec<[u32; 3]>,
    nodes: Vec<Node>,
    /// Triangles about the nodes.
    star: Vec<u32>,
    /// Number of the connected water that a triangle belongs to.
    body: Vec<u32>,
    index: RTree<GeomWithData<Rectangle<[f64; 2]>, u32>>,
    /// Nodes that each node sees and a shortest way may go on to; looked up when first needed.
    seen: Vec<OnceLock<Box<[Edge]>>>,
}

impl Mesh {
    /// Triangulates water, with `speed` where no area says otherwise. Edges of areas are cut every `step_m`, so that
    /// ways can cross them there. Of several areas over one place the slowest counts.
    pub(super) fn new(water: &MultiPolygon<f64>, speed: f64, areas: &[SpeedArea], step_m: f64) -> Self {
        let lines = Lines::of(water, areas, step_m);
        let (points, triangles, beside, parted) = triangulated(&lines);
        let class_speeds = speeds_of(speed, areas);
        let outline = Outline::of(water);
        let slow: Vec<(Outline, f64)> = areas.iter().map(|a| (Outline::of(&a.area), a.speed)).collect();
        let class = classes(&points, &triangles, &beside, &parted, |at| {
            if !outline.holds(at) {
                return CLOSED;
            }
            let slowest =
                slow.iter().filter(|(area, _)| area.holds(at)).map(|(_, speed)| *speed).fold(speed, f64::min);
            class_speeds.iter().position(|s| s.total_cmp(&slowest).is_eq()).unwrap_or(1) as u16
        });
        let index = RTree::bulk_load(
            (0..triangles.len() as u32)
                .filter(|t| class[*t as usize] != CLOSED)
                .map(|t| GeomWithData::new(box_of(triangles[t as usize].map(|p| points[p as usize])), t))
                .collect(),
        );
        let open = |t: u32| t != NONE && class[t as usize] != CLOSED;
        let beside: Vec<[u32; 3]> =
            beside.iter().map(|three| three.map(|t| if open(t) { t } else { NONE })).collect();
        let across = (0..triangles.len())
            .map(|t| beside[t].map(|n| if open(n) && class[n as usize] == class[t] { n } else { NONE }))
            .collect();
        let body = bodies(&class, &beside);
        let mut mesh = Self {
            corner: vec![[NONE; 3]; triangles.len()],
            points,
            triangles,
            class,
            speeds: class_speeds,
            across,
            nodes: Vec::new(),
            star: Vec::new(),
            body,
            index,
            seen: Vec::new(),
        };
        mesh.find_nodes(&beside);
        mesh.seen = (0..mesh.nodes.len()).map(|_| OnceLock::new()).collect();
        mesh
    }

    /// Open triangles that hold a place, edges and corners included, in the order of their numbers.
    pub(super) fn triangles_at(&self, at: Coord<f64>) -> Vec<u32> {
        let point = AABB::from_point([at.x, at.y]);
        let mut found: Vec<u32> = self
            .index
            .locate_in_envelope_intersecting(&point)
            .map(|entry| entry.data)
            .filter(|t| {
                let [a, b, c] = self.corners(*t);
                side(a, b, at) >= 0 && side(b, c, at) >= 0 && side(c, a, at) >= 0
            })
            .collect();
        found.sort_unstable();
        found
    }

    pub(super) fn corners(&self, triangle: u32) -> [Coord<f64>; 3] {
        self.triangles[triangle as usize].map(|p| self.points[p as usize])
    }

    pub(super) fn class(&self, triangle: u32) -> u16 {
        self.class[triangle as usize]
    }

    /// Metres a second in a class.
    pub(super) fn speed(&self, class: u16) -> f64 {
        self.speeds[class as usize]
    }

    pub(super) fn across(&self, triangle: u32) -> [u32; 3] {
        self.across[triangle as usize]
    }

    pub(super) fn corner_nodes(&self, triangle: u32) -> [u32; 3] {
        self.corner[triangle as usize]
    }

    pub(super) fn body(&self, triangle: u32) -> u32 {
        self.body[triangle as usize]
    }

    pub(super) fn nodes(&self) -> &[Node] {
        &self.nodes
    }

    pub(super) fn star(&self, node: u32) -> &[u32] {
        let range = &self.nodes[node as usize].star;
        &self.star[range.start as usize..range.end as usize]
    }

    /// The nodes that a node sees; `find` looks for them the first time.
    pub(super) fn seen(&self, node: u32, find: impl FnOnce() -> Box<[Edge]>) -> &[Edge] {
        self.seen[node as usize].get_or_init(find)
    }

    /// The corners of the triangulation, each once for each stretch of water that meets there: water that touches
    /// itself in one point is not joined by it.
    fn find_nodes(&mut self, beside: &[[u32; 3]]) {
        let mut about: Vec<(u32, u32)> = Vec::new();
        for t in 0..self.triangles.len() as u32 {
            if self.class(t) != CLOSED {
                about.extend(self.triangles[t as usize].map(|p| (p, t)));
            }
        }
        about.sort_unstable();
        let place_of = |mesh: &Self, point: u32, t: u32| {
            mesh.triangles[t as usize].iter().position(|p| *p == point).unwrap_or(0)
        };
        for group in about.chunk_by(|a, b| a.0 == b.0) {
            let point = group[0].0;
            // The neighbour clockwise about the point lies across the edge that leaves it.
            let mut starts: Vec<u32> = group
                .iter()
                .map(|(_, t)| *t)
                .filter(|t| beside[*t as usize][place_of(self, point, *t)] == NONE)
                .collect();
            let whole_turn = starts.is_empty();
            if whole_turn {
                starts.push(group[0].1);
            }
            for start in starts {
                let mut sector = vec![start];
                loop {
                    let last = sector[sector.len() - 1];
                    let next = beside[last as usize][(place_of(self, point, last) + 2) % 3];
                    if next == NONE || next == start {
                        break;
                    }
                    sector.push(next);
                }
                self.add_node(point, &sector, whole_turn);
            }
        }
    }

    fn add_node(&mut self, point: u32, sector: &[u32], whole_turn: bool) {
        let at = self.points[point as usize];
        let neighbour = |t: u32, steps: usize| {
            let corners = self.triangles[t as usize];
            let place = corners.iter().position(|p| *p == point).unwrap_or(0);
            self.points[corners[(place + steps) % 3] as usize]
        };
        let one_class = sector.iter().all(|t| self.class(*t) == self.class(sector[0]));
        let first = neighbour(sector[0], 1);
        let last = neighbour(sector[sector.len() - 1], 2);
        if one_class && (whole_turn || side(at, first, last) > 0) {
            return; // in the open, or a bay: no way bends there
        }
        let node = self.nodes.len() as u32;
        let begin = self.star.len() as u32;
        self.star.extend(sector);
        for t in sector {
            let corners = self.triangles[*t as usize];
            for (k, corner) in corners.iter().enumerate().filter(|(_, p)| **p == point) {
                debug_assert_eq!(*corner, point);
                self.corner[*t as usize][k] = node;
            }
        }
        self.nodes.push(Node {
            at,
            shore: one_class.then_some([first, last]),
            star: begin..self.star.len() as u32,
        });
    }
}

/// Speeds by class: closed, the open water's, then the areas' in rising order.
fn speeds_of(open: f64, areas: &[SpeedArea]) -> Vec<f64> {
    let mut slower: Vec<f64> = areas.iter().map(|a| a.speed).filter(|s| *s < open).collect();
    slower.sort_by(f64::total_cmp);
    slower.dedup();
    [0.0, open].into_iter().chain(slower).collect()
}

fn box_of(corners: [Coord<f64>; 3]) -> Rectangle<[f64; 2]> {
    let low = corners.iter().fold([f64::MAX; 2], |l, c| [l[0].min(c.x), l[1].min(c.y)]);
    let high = corners.iter().fold([f64::MIN; 2], |h, c| [h[0].max(c.x), h[1].max(c.y)]);
    Rectangle::from_corners(low, high)
}

/// Corners and edges to triangulate, each once.
struct Lines {
    points: Vec<Coord<f64>>,
    edges: Vec<[usize; 2]>,
}

impl Lines {
    fn of(water: &MultiPolygon<f64>, areas: &[SpeedArea], step_m: f64) -> Self {
        let cut = areas.iter().flat_map(|a| rings(&a.area)).map(|ring| cut(ring, step_m));
        let all: Vec<LineString<f64>> = rings(water).cloned().chain(cut).collect();
        let key = |c: &Coord<f64>| (ordered(c.x), ordered(c.y));
        let mut points: Vec<Coord<f64>> = all.iter().flat_map(|r| r.0.iter().copied()).map(plain).collect();
        points.sort_by_key(key);
        points.dedup_by_key(|c| key(c));
        let number = |c: Coord<f64>| points.binary_search_by_key(&key(&plain(c)), key).unwrap_or(0);
        let edges: BTreeSet<[usize; 2]> = all
            .iter()
            .flat_map(LineString::lines)
            .map(|l| [number(l.start), number(l.end)])
            .filter(|[a, b]| a != b)
            .map(|[a, b]| [a.min(b), a.max(b)])
            .collect();
        Self { edges: edges.into_iter().collect(), points }
    }
}

/// Numbers nearer to zero than this are taken as zero: the triangulation refuses them.
fn plain(c: Coord<f64>) -> Coord<f64> {
    let plain = |x: f64| if x.abs() < 1e-9 { 0.0 } else { x };
    Coord { x: plain(c.x), y: plain(c.y) }
}

/// An integer with the order of the number.
fn ordered(x: f64) -> i64 {
    let bits = x.to_bits().cast_signed();
    bits ^ (((bits >> 63).cast_unsigned() >> 1).cast_signed())
}

/// A ring with corners no further apart than `step_m`.
fn cut(ring: &LineString<f64>, step_m: f64) -> LineString<f64> {
    let mut corners: Vec<Coord<f64>> = Vec::new();
    for line in ring.lines() {
        let pieces = (line.dx().hypot(line.dy()) / step_m).ceil().max(1.0) as u32;
        corners.extend(
            (0..pieces).map(|k| line.start + (line.end - line.start) * (f64::from(k) / f64::from(pieces))),
        );
    }
    corners.extend(ring.0.last());
    LineString::new(corners)
}

type Parts = (Vec<Coord<f64>>, Vec<[u32; 3]>, Vec<[u32; 3]>, Vec<[bool; 3]>);

/// Corners, triangles, the triangle across each edge, and whether a line lies on that edge.
fn triangulated(lines: &Lines) -> Parts {
    let points: Vec<Point2<f64>> = lines.points.iter().map(|c| Point2::new(c.x, c.y)).collect();
    let mut crossing = Vec::new();
    // An error means a coordinate that is no finite number; the places were checked when they were read.
    let mut cdt: ConstrainedDelaunayTriangulation<Point2<f64>> =
        ConstrainedDelaunayTriangulation::try_bulk_load_cdt(points, lines.edges.clone(), |e| {
            crossing.push(e);
        })
        .unwrap_or_default();
    for [a, b] in crossing {
        let [a, b] = [a, b].map(spade::handles::FixedVertexHandle::from_index);
        cdt.add_constraint_and_split(a, b, |at| at);
    }
    let points = cdt.vertices().map(|v| Coord { x: v.position().x, y: v.position().y }).collect();
    let mut number = vec![NONE; cdt.num_all_faces()];
    for (n, face) in cdt.inner_faces().enumerate() {
        number[face.fix().index()] = n as u32;
    }
    let edges = || cdt.inner_faces().map(|face| face.adjacent_edges());
    let triangles = edges().map(|e| e.map(|e| e.from().fix().index() as u32)).collect();
    let beside = edges().map(|e| e.map(|e| number[e.rev().face().fix().index()])).collect();
    let parted = edges().map(|e| e.map(DirectedEdgeHandle::is_constraint_edge)).collect();
    (points, triangles, beside, parted)
}

/// The class of each triangle: `judge` is asked once a region, for the middle of its largest triangle.
fn classes(
    points: &[Coord<f64>],
    triangles: &[[u32; 3]],
    beside: &[[u32; 3]],
    parted: &[[bool; 3]],
    judge: impl Fn(Coord<f64>) -> u16,
) -> Vec<u16> {
    let region = flooded(triangles.len(), |t, k| if parted[t][k] { NONE } else { beside[t][k] });
    let regions = region.iter().max().map_or(0, |r| *r as usize + 1);
    let mut largest = vec![(-1.0, Coord { x: 0.0, y: 0.0 }); regions];
    for (t, corners) in triangles.iter().enumerate() {
        let [a, b, c] = corners.map(|p| points[p as usize]);
        let area = (b.x - a.x) * (c.y - a.y) - (b.y - a.y) * (c.x - a.x);
        let best = &mut largest[region[t] as usize];
        if area > best.0 {
            *best = (area, (a + b + c) / 3.0);
        }
    }
    let judged: Vec<u16> = largest.iter().map(|(_, middle)| judge(*middle)).collect();
    region.iter().map(|r| judged[*r as usize]).collect()
}

/// Numbers the connected waters; closed triangles get numbers too, which nobody asks for.
fn bodies(class: &[u16], beside: &[[u32; 3]]) -> Vec<u32> {
    flooded(class.len(), |t, k| if class[t] == CLOSED { NONE } else { beside[t][k] })
}

/// Numbers what hangs together, where `next(triangle, edge)` is the triangle that one may go on to.
fn flooded(count: usize, next: impl Fn(usize, usize) -> u32) -> Vec<u32> {
    let mut number = vec![NONE; count];
    let mut found = 0;
    let mut open = Vec::new();
    for start in 0..count {
        if number[start] != NONE {
            continue;
        }
        number[start] = found;
        open.push(start);
        while let Some(t) = open.pop() {
            for k in 0..3 {
                let to = next(t, k);
                if to != NONE && number[to as usize] == NONE {
                    number[to as usize] = found;
                    open.push(to as usize);
                }
            }
        }
        found += 1;
    }
    number
}
