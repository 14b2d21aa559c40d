//! The water of a lake: is a place in it, and how far is the shore.

use crate::terms::place::{LocalPlane, Place, PlanePoint};
use geo::{LineString, MultiPolygon};
use rstar::primitives::{GeomWithData, Line};
use rstar::{AABB, PointDistance, RTree};

/// One piece of shore in degrees, in the tree that answers "which pieces does this ray cross".
type ShorePiece = GeomWithData<Line<[f64; 2]>, ()>;
/// One piece of shore on the plane in metres.
type PlanePiece = Line<[f64; 2]>;

/// Polygons of water with an index over their shore. Holes are islands.
#[derive(Clone, Debug)]
pub struct Water {
    polygons: MultiPolygon<f64>,
    shore_deg: RTree<ShorePiece>,
    shore_m: RTree<PlanePiece>,
    plane: LocalPlane,
}

impl Water {
    /// Indexes polygons given in degrees, longitude first. The even-odd rule decides what is water, so the winding
    /// of the rings does not matter.
    #[must_use]
    pub fn new(polygons: MultiPolygon<f64>, plane: LocalPlane) -> Self {
        let rings = || {
            polygons
                .iter()
                .flat_map(|p| std::iter::once(p.exterior()).chain(p.interiors()))
                .flat_map(LineString::lines)
        };
        let deg = rings()
            .map(|l| GeomWithData::new(Line::new([l.start.x, l.start.y], [l.end.x, l.end.y]), ()))
            .collect();
        let on_plane = |x, y| {
            let p = plane.to_plane(Place { lon: x, lat: y });
            [p.east_m, p.north_m]
        };
        let metres =
            rings().map(|l| Line::new(on_plane(l.start.x, l.start.y), on_plane(l.end.x, l.end.y))).collect();
        Self { shore_deg: RTree::bulk_load(deg), shore_m: RTree::bulk_load(metres), polygons, plane }
    }

    /// The polygons in degrees.
    #[must_use]
    pub const fn polygons(&self) -> &MultiPolygon<f64> {
        &self.polygons
    }

    /// Whether a place lies in water: the number of shore pieces east of it is odd (even-odd rule).
    #[must_use]
    pub fn contains(&self, place: Place) -> bool {
        let ray = AABB::from_corners([place.lon, place.lat], [f64::MAX, place.lat]);
        self.shore_deg
            .locate_in_envelope_intersecting(&ray)
            .filter(|piece| {
                let ([x1, y1], [x2, y2]) = (piece.geom().from, piece.geom().to);
                // Half-open in latitude, so a vertex on the ray counts for one of its two pieces.
                (y1 > place.lat) != (y2 > place.lat)
                    && place.lon < (x2 - x1) * (place.lat - y1) / (y2 - y1) + x1
            })
            .count()
            % 2
            == 1
    }

    /// Every ring of the shore on the plane, its first corner repeated at its end, in the order of the polygons.
    pub fn rings_m(&self) -> impl Iterator<Item = Vec<PlanePoint>> {
        let plane = self.plane;
        self.polygons
            .iter()
            .flat_map(|p| std::iter::once(p.exterior()).chain(p.interiors()))
            .map(move |ring| ring.coords().map(|c| plane.to_plane(Place { lon: c.x, lat: c.y })).collect())
    }

    /// Whether the straight way between two points of the plane meets the shore.
    #[must_use]
    pub fn shore_between(&self, from: PlanePoint, to: PlanePoint) -> bool {
        let [a, b] = [from, to].map(|p| [p.east_m, p.north_m]);
        // On which side of the line through two points a third lies: positive is left.
        let side = |p: [f64; 2], q: [f64; 2], r: [f64; 2]| {
            (q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0])
        };
        self.shore_m.locate_in_envelope_intersecting(&AABB::from_corners(a, b)).any(|piece| {
            let (c, d) = (piece.from, piece.to);
            side(a, b, c) * side(a, b, d) <= 0.0 && side(c, d, a) * side(c, d, b) <= 0.0
        })
    }

    /// Metres from a place to the nearest shore, on either side of it; infinite when there is no shore.
    #[must_use]
    pub fn metres_to_shore(&self, place: Place) -> f64 {
        let p = self.plane.to_plane(place);
        self.shore_m
            .nearest_neighbor(&[p.east_m, p.north_m])
            .map_or(f64::INFINITY, |piece| piece.distance_2(&[p.east_m, p.north_m]).sqrt())
    }
}
