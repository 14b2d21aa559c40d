//! Distances through water: no margin, no areas, every metre alike.

use super::levels::Edges;
use super::mesh::Mesh;
use super::search::{Spot, Ways};
use super::sight::metres;
use super::{coord, plane_point, polygons, projected};
use crate::terms::place::{LocalPlane, PlanePoint};
use crate::terms::water::Water;
use geo::{Coord, MultiPolygon};

/// How far past the shore a place on land is set, in metres: the first that lies in water.
const PAST_SHORE_M: [f64; 3] = [0.001, 0.01, 0.1];
/// A place on land further than this from the water is in no water, in metres.
const NEAR_WATER_M: f64 = 100.0;

/// The water of a lake, made ready for many questions of how far it is from place to place by boat.
///
/// A place on land within 100 m of the water counts from the nearest shore, and the way to there is added.
///
/// ```
/// use shoalwright::terms::place::{LocalPlane, Place, PlanePoint};
/// use shoalwright::terms::water::Water;
/// use shoalwright::travel::WaterDistance;
/// use geo::{MultiPolygon, polygon};
///
/// // Water of some 900 by 1100 m with a spit of land that reaches from the south to half its height.
/// let lake = polygon![
///     (x: -94.010, y: 35.000), (x: -94.006, y: 35.000), (x: -94.005, y: 35.005), (x: -94.004, y: 35.000),
///     (x: -94.000, y: 35.000), (x: -94.000, y: 35.010), (x: -94.010, y: 35.010),
/// ];
/// let plane = LocalPlane::new(Place { lon: -94.005, lat: 35.005 });
/// let distance = WaterDistance::new(&Water::new(MultiPolygon::new(vec![lake]), plane), &plane);
///
/// // The tip of the spit is the middle of the plane. West and east of it, 300 m to the south:
/// let west = PlanePoint { east_m: -300.0, north_m: -300.0 };
/// let east = PlanePoint { east_m: 300.0, north_m: -300.0 };
/// let near = PlanePoint { east_m: -300.0, north_m: -200.0 };
/// let found = distance.within(west, &[near, east], 1_000.0);
/// assert!((found[0].unwrap() - 100.0).abs() < 1e-3);
/// assert!((found[1].unwrap() - 600.0 * 2.0_f64.sqrt()).abs() < 1e-3);
/// assert_eq!(distance.within(west, &[east], 700.0), [None]);
/// assert_eq!(distance.path(west, east).unwrap().len(), 3);
/// ```
#[derive(Debug)]
pub struct WaterDistance {
    mesh: Mesh,
    shore: Edges,
}

/// A place in the water, and the metres to it from where it was asked for.
struct Footing {
    at: Coord<f64>,
    off_m: f64,
}

impl WaterDistance {
    /// Triangulates the water of a lake; `plane` is the one that questions are asked on.
    #[must_use]
    pub fn new(water: &Water, plane: &LocalPlane) -> Self {
        Self::on_plane(&projected(water.polygons(), plane))
    }

    /// As [`WaterDistance::new`], for polygons already in metres of a plane.
    #[must_use]
    pub fn on_plane(water: &MultiPolygon<f64>) -> Self {
        let water = polygons::water_of(water);
        Self { mesh: Mesh::new(&water, 1.0, &[], 1.0), shore: Edges::of(&water) }
    }

    /// Metres through water from a place to each of some others; `None` where it is more than `limit_m`, or no water
    /// leads there. Costs little where the straight line stays in the water.
    #[must_use]
    pub fn within(&self, from: PlanePoint, to: &[PlanePoint], limit_m: f64) -> Vec<Option<f64>> {
        let mut found = vec![None; to.len()];
        let Some((start, off_m)) = self.spot(coord(from), limit_m, false) else { return found };
        // What a straight line does not reach, with what is left of the limit for it.
        let mut hidden: Vec<(usize, Footing)> = Vec::new();
        for (number, place) in to.iter().enumerate() {
            if from.metres_to(*place) > limit_m {
                continue;
            }
            let Some(footing) = self.footing(coord(*place)) else { continue };
            if self.mesh.sees(&start.eye(), footing.at).is_some() {
                found[number] = Some(off_m + metres(start.at, footing.at) + footing.off_m);
            } else {
                hidden.push((number, footing));
            }
        }
        if !hidden.is_empty()
            && let Some((start, off_m)) = self.spot(coord(from), limit_m, true)
        {
            self.around_shores(&start, off_m, &hidden, limit_m, &mut found);
        }
        found.into_iter().map(|m| m.filter(|m| *m <= limit_m)).collect()
    }

    /// Metres from a place to another through water; straight where no shore lies between them or one of them lies in no
    /// water, and infinite where it is more than `limit_m`.
    #[must_use]
    pub fn metres(&self, from: PlanePoint, to: PlanePoint, limit_m: f64) -> f64 {
        let straight_m = from.metres_to(to);
        if straight_m > limit_m {
            return f64::INFINITY;
        }
        let low = [from.east_m.min(to.east_m), from.north_m.min(to.north_m)];
        let high = [from.east_m.max(to.east_m), from.north_m.max(to.north_m)];
        if !self.shore_in(low, high) {
            return straight_m;
        }
        let [Some((from, _)), Some((to, _))] = [from, to].map(|p| self.afloat(coord(p))) else {
            return straight_m;
        };
        // From the shore where a place lies on land: two marks on land beside each other are near, not twice their way.
        let between_m =
            self.within(plane_point(from), &[plane_point(to)], limit_m)[0].unwrap_or(f64::INFINITY);
        between_m.max(straight_m)
    }

    pub(super) const fn mesh(&self) -> &Mesh {
        &self.mesh
    }

    /// Whether a piece of shore runs through a box of the plane: west, south and east, north.
    pub(super) fn shore_in(&self, low: [f64; 2], high: [f64; 2]) -> bool {
        self.shore.any_in(low, high)
    }

    /// Where a place counts from, and the triangles that hold it; `None` more than 100 m from the water.
    pub(super) fn afloat(&self, at: Coord<f64>) -> Option<(Coord<f64>, Vec<u32>)> {
        let at = self.footing(at)?.at;
        Some((at, self.mesh.triangles_at(at)))
    }

    fn around_shores(
        &self,
        start: &Spot,
        off_m: f64,
        hidden: &[(usize, Footing)],
        limit_m: f64,
        found: &mut [Option<f64>],
    ) {
        let mut ways = Ways::new(&self.mesh, start, 0.0);
        while let Some((node, label)) = ways.settle() {
            let here_m = off_m + label.metres;
            if here_m > limit_m {
                break;
            }
            let eye = self.mesh.eye(node);
            for (number, footing) in hidden {
                let metres = here_m + metres(eye.at, footing.at) + footing.off_m;
                let best_m = found[*number].unwrap_or(limit_m);
                let better = metres < best_m || (metres <= best_m && found[*number].is_none());
                if better && self.mesh.sees(&eye, footing.at).is_some() {
                    found[*number] = Some(metres);
                }
            }
        }
    }

    /// The shortest way through water, both places included; `None` when no water leads there.
    #[must_use]
    pub fn path(&self, from: PlanePoint, to: PlanePoint) -> Option<Vec<PlanePoint>> {
        let (a, _) = self.spot(coord(from), f64::INFINITY, true)?;
        let (b, _) = self.spot(coord(to), f64::INFINITY, true)?;
        let mut ways = Ways::new(&self.mesh, &a, 0.0);
        let label = ways.to(&[&b])[0]?;
        let mut path = vec![from, plane_point(a.at)];
        path.extend(ways.bends(&label).into_iter().map(plane_point));
        path.extend([plane_point(b.at), to]);
        path.dedup();
        Some(path)
    }

    /// The spot in water of a place, with the metres to it; what it sees is looked for when `looking`.
    fn spot(&self, at: Coord<f64>, reach_m: f64, looking: bool) -> Option<(Spot, f64)> {
        let footing = self.footing(at)?;
        let spot = if looking {
            Spot::new(&self.mesh, footing.at, reach_m)?
        } else {
            Spot { at: footing.at, triangles: self.mesh.triangles_at(footing.at), seen: Box::default() }
        };
        Some((spot, footing.off_m))
    }

    fn footing(&self, at: Coord<f64>) -> Option<Footing> {
        if !self.mesh.triangles_at(at).is_empty() {
            return Some(Footing { at, off_m: 0.0 });
        }
        for (foot, off_m) in self.shore.feet(at).take_while(|(_, off_m)| *off_m <= NEAR_WATER_M) {
            let ahead = if off_m > 0.0 { (foot - at) / off_m } else { Coord { x: 1.0, y: 0.0 } };
            let afloat = PAST_SHORE_M
                .iter()
                .map(|past| foot + ahead * *past)
                .find(|p| !self.mesh.triangles_at(*p).is_empty());
            if let Some(afloat) = afloat {
                return Some(Footing { at: afloat, off_m });
            }
        }
        None
    }
}
