//! Nearby: which of many places that lie near each other straight are near by boat too.
//!
//! Places far from any shore are near by boat to whatever is near them, which costs one look at the shore a patch of
//! lake. The others are gathered on stands: places within a square of [`STAND_M`] with no shore between them, which are
//! measured from their middle, so that a pile of marks asks once. From a stand that does not see another the corners of
//! the shore within reach are walked once (Dijkstra 1959 over lines of sight), and kept.

use super::distance::WaterDistance;
use super::mesh::Edge;
use super::sight::{Eye, metres};
use crate::terms::place::PlanePoint;
use geo::Coord;
use std::cell::OnceCell;
use std::cmp::Reverse;
use std::collections::{BTreeMap, BTreeSet, BinaryHeap};

/// Side of the square that a stand may fill, in metres: a mark is good to 20 to 30 m (consumer GPS, the cone of the
/// beam; common practice, no source), so the 7 m between its middle and its corner change nothing that is known.
const STAND_M: f64 = 10.0;

/// The stand of places that no shore parts from anything within reach, or that lie too far on land for the shoreline to
/// tell anything about them.
pub const OPEN: u32 = 0;

/// Places among which one asks, many times, whether two are as near by boat as they are straight.
///
/// ```
/// use shoalwright::terms::place::{LocalPlane, Place, PlanePoint};
/// use shoalwright::terms::water::Water;
/// use shoalwright::travel::WaterDistance;
/// use geo::{MultiPolygon, polygon};
///
/// // Water of some 900 by 1100 m with a spit of land that reaches from the south to the middle of the plane.
/// let lake = polygon![
///     (x: -94.010, y: 35.000), (x: -94.006, y: 35.000), (x: -94.005, y: 35.005), (x: -94.004, y: 35.000),
///     (x: -94.000, y: 35.000), (x: -94.000, y: 35.010), (x: -94.010, y: 35.010),
/// ];
/// let plane = LocalPlane::new(Place { lon: -94.005, lat: 35.005 });
/// let water = WaterDistance::new(&Water::new(MultiPolygon::new(vec![lake]), plane), &plane);
///
/// // West and east of the spit, 240 m apart; by boat 2 √(120² + 200²) m = 466 m.
/// let places = [-120.0, 120.0].map(|east_m| PlanePoint { east_m, north_m: -200.0 });
/// for (limit_m, near) in [(300.0, false), (460.0, false), (470.0, true)] {
///     let nearby = water.nearby(&places, limit_m);
///     let [west, east] = nearby.stands() else { unreachable!() };
///     assert_eq!(nearby.meet(*west, *east), near);
/// }
/// ```
#[derive(Debug)]
pub struct Nearby<'a> {
    water: &'a WaterDistance,
    limit_m: f64,
    /// The stand of each place.
    of_place: Vec<u32>,
    /// The stands from 1 on.
    stands: Vec<Stand>,
    /// What each corner of the shore sees within the limit; looked up when first needed.
    seen: Vec<OnceCell<Box<[Edge]>>>,
}

/// Where the places of a stand are measured from.
#[derive(Debug)]
pub(super) struct Stand {
    at: Coord<f64>,
    triangles: Vec<u32>,
    /// Corners of the shore within the limit by boat, with the metres to them, the nearest first.
    corners: OnceCell<Vec<(f64, u32)>>,
}

impl Stand {
    fn eye(&self) -> Eye<'_> {
        Eye { at: self.at, triangles: &self.triangles, shore: None }
    }
}

impl WaterDistance {
    /// Gets places ready to be asked for which of them meet within `limit_m` by boat.
    ///
    /// The answers do not depend on the order of the places. A place on land counts from the nearest shore when that is
    /// within 100 m.
    #[must_use]
    pub fn nearby(&self, places: &[PlanePoint], limit_m: f64) -> Nearby<'_> {
        let mut nearby = Nearby {
            water: self,
            limit_m,
            of_place: vec![OPEN; places.len()],
            stands: Vec::new(),
            seen: (0..self.mesh().nodes().len()).map(|_| OnceCell::new()).collect(),
        };
        let square = |p: &PlanePoint, side_m: f64| {
            ((p.east_m / side_m).floor() as i64, (p.north_m / side_m).floor() as i64)
        };
        let patch_m = limit_m.max(STAND_M);
        let mut by_shore: BTreeMap<(i64, i64), bool> = BTreeMap::new();
        let mut keyed: Vec<((i64, i64), u32)> = Vec::new();
        for (number, place) in (0..).zip(places) {
            let patch = square(place, patch_m);
            let shore = *by_shore.entry(patch).or_insert_with(|| {
                let [x, y] = [patch.0 as f64 * patch_m, patch.1 as f64 * patch_m];
                let reach_m = patch_m + limit_m;
                self.shore_in([x - limit_m, y - limit_m], [x + reach_m, y + reach_m])
            });
            if shore {
                keyed.push((square(place, STAND_M), number));
            }
        }
        keyed.sort_unstable();
        for group in keyed.chunk_by(|a, b| a.0 == b.0) {
            nearby.settle(places, group.iter().map(|(_, number)| *number).collect());
        }
        nearby
    }
}

impl Nearby<'_> {
    /// The stand of each place; [`OPEN`] or one that it may share with others beside it.
    #[must_use]
    pub fn stands(&self) -> &[u32] {
        &self.of_place
    }

    /// Whether places on two stands that lie within the limit straight do so by boat. Always where no shore stands
    /// between them.
    #[must_use]
    pub fn meet(&self, a: u32, b: u32) -> bool {
        if a == b || a == OPEN || b == OPEN {
            return true;
        }
        // From the lower number, so that the answer is the same either way to the last bit.
        let [from, to] = [a.min(b), a.max(b)].map(|stand| &self.stands[stand as usize - 1]);
        let mesh = self.water.mesh();
        mesh.sees(&from.eye(), to.at).is_some()
            || from.corners.get_or_init(|| self.corners_from(from)).iter().any(|(so_far_m, node)| {
                let eye = mesh.eye(*node);
                so_far_m + metres(eye.at, to.at) <= self.limit_m && mesh.sees(&eye, to.at).is_some()
            })
    }

    /// Gives stands to places of one square: one when no shore runs between them, else one to each half, and so on.
    fn settle(&mut self, places: &[PlanePoint], numbers: Vec<u32>) {
        let [mut low, mut high] = [[f64::INFINITY; 2], [f64::NEG_INFINITY; 2]];
        for number in &numbers {
            let place = places[*number as usize];
            for (axis, value) in [place.east_m, place.north_m].into_iter().enumerate() {
                low[axis] = low[axis].min(value);
                high[axis] = high[axis].max(value);
            }
        }
        let middle = [f64::midpoint(low[0], high[0]), f64::midpoint(low[1], high[1])];
        let sides = [high[0] - low[0], high[1] - low[1]];
        // Where rounding leaves no middle between two values, they are one place.
        let axis = usize::from(sides[1] > sides[0]);
        if middle[axis] > low[axis] && self.water.shore_in(low, high) {
            let (lower, upper): (Vec<u32>, Vec<u32>) = numbers.into_iter().partition(|number| {
                let place = places[*number as usize];
                [place.east_m, place.north_m][axis] < middle[axis]
            });
            self.settle(places, lower);
            self.settle(places, upper);
            return;
        }
        let Some((at, triangles)) = self.water.afloat(Coord { x: middle[0], y: middle[1] }) else { return };
        self.stands.push(Stand { at, triangles, corners: OnceCell::new() });
        for number in numbers {
            self.of_place[number as usize] = self.stands.len() as u32;
        }
    }

    /// Corners of the shore that a way from a stand can bend at within the limit, with the metres to them.
    fn corners_from(&self, stand: &Stand) -> Vec<(f64, u32)> {
        let mesh = self.water.mesh();
        let mut best: BTreeMap<u32, f64> = BTreeMap::new();
        let mut settled: Vec<(f64, u32)> = Vec::new();
        // Metres are never negative, so their bits sort as they do.
        let mut open: BinaryHeap<Reverse<(u64, u32)>> = BinaryHeap::new();
        let mut relax = |so_far_m: f64, at: Coord<f64>, edges: &[Edge], open: &mut BinaryHeap<_>| {
            for edge in edges {
                let far_m = so_far_m + metres(at, mesh.nodes()[edge.to as usize].at);
                let known_m = best.entry(edge.to).or_insert(f64::INFINITY);
                if far_m <= self.limit_m && far_m < *known_m {
                    *known_m = far_m;
                    open.push(Reverse((far_m.to_bits(), edge.to)));
                }
            }
        };
        relax(0.0, stand.at, &mesh.look(&stand.eye(), self.limit_m), &mut open);
        let mut done: BTreeSet<u32> = BTreeSet::new();
        while let Some(Reverse((bits, node))) = open.pop() {
            if !done.insert(node) {
                continue;
            }
            let so_far_m = f64::from_bits(bits);
            settled.push((so_far_m, node));
            let seen = self.seen[node as usize].get_or_init(|| mesh.look(&mesh.eye(node), self.limit_m));
            relax(so_far_m, mesh.nodes()[node as usize].at, seen, &mut open);
        }
        settled
    }
}
