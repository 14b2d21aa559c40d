//! The nearest water of a place on land.

use crate::terms::place::{LocalPlane, Place, PlanePoint};
use crate::terms::water::Water;
use geo::LineString;

/// How far beyond the shore a place is set, so that it lies in water and not on the line: the first that does, the
/// lesser ones for channels and tips where the greater lands on the other side.
const BEYOND_M: [f64; 3] = [1.0, 0.2, 0.05];
/// Pieces of shore that are tried, nearest first.
const PIECES: usize = 64;

/// Shores of a lake on its plane.
pub(super) struct WaterEdge<'a> {
    water: &'a Water,
    plane: LocalPlane,
    pieces: Vec<[PlanePoint; 2]>,
}

impl<'a> WaterEdge<'a> {
    pub(super) fn new(water: &'a Water, plane: &LocalPlane) -> Self {
        let pieces = water
            .polygons()
            .iter()
            .flat_map(|p| std::iter::once(p.exterior()).chain(p.interiors()))
            .flat_map(LineString::lines)
            .map(|l| [l.start, l.end].map(|c| plane.to_plane(Place { lon: c.x, lat: c.y })))
            .collect();
        Self { water, plane: *plane, pieces }
    }

    /// The place itself when in water, else the water just off the nearest shore; `None`: none was found.
    pub(super) fn in_water(&self, place: Place) -> Option<Place> {
        if self.water.contains(place) {
            return Some(place);
        }
        let from = self.plane.to_plane(place);
        let mut shores: Vec<(f64, PlanePoint)> = self
            .pieces
            .iter()
            .map(|piece| nearest_on(*piece, from))
            .map(|shore| (shore.metres_to(from), shore))
            .collect();
        shores.sort_by(|a, b| a.0.total_cmp(&b.0));
        shores.iter().take(PIECES).filter(|(metres, _)| *metres > 0.0).find_map(|(metres, shore)| {
            BEYOND_M.iter().find_map(|beyond_m| {
                let stretch = 1.0 + beyond_m / metres;
                let moved = self.plane.to_place(PlanePoint {
                    east_m: from.east_m + (shore.east_m - from.east_m) * stretch,
                    north_m: from.north_m + (shore.north_m - from.north_m) * stretch,
                });
                self.water.contains(moved).then_some(moved)
            })
        })
    }
}

fn nearest_on([a, b]: [PlanePoint; 2], p: PlanePoint) -> PlanePoint {
    let (east, north) = (b.east_m - a.east_m, b.north_m - a.north_m);
    let squares = east * east + north * north;
    let along = if squares > 0.0 {
        (((p.east_m - a.east_m) * east + (p.north_m - a.north_m) * north) / squares).clamp(0.0, 1.0)
    } else {
        0.0
    };
    PlanePoint { east_m: a.east_m + along * east, north_m: a.north_m + along * north }
}

#[cfg(test)]
mod tests {
    use super::*;
    use geo::{MultiPolygon, polygon};

    #[test]
    fn a_place_on_an_island_moves_to_the_water_off_its_nearest_shore() {
        let lake = polygon!(
            exterior: [(x: -94.1, y: 35.0), (x: -94.0, y: 35.0), (x: -94.0, y: 35.1), (x: -94.1, y: 35.1)],
            interiors: [[(x: -94.06, y: 35.04), (x: -94.04, y: 35.04), (x: -94.04, y: 35.06), (x: -94.06, y: 35.06)]],
        );
        let plane = LocalPlane::new(Place { lon: -94.05, lat: 35.05 });
        let water = Water::new(MultiPolygon::new(vec![lake]), plane);
        let edge = WaterEdge::new(&water, &plane);
        let on_island = Place { lon: -94.042, lat: 35.05 };
        let moved = edge.in_water(on_island).unwrap();
        assert!(water.contains(moved));
        // Two thousandths of a degree of longitude to the east shore of the island.
        let to_shore = on_island.metres_to(Place { lon: -94.04, lat: 35.05 });
        assert!((on_island.metres_to(moved) - to_shore - 1.0).abs() < 0.1);
        let afloat = Place { lon: -94.02, lat: 35.05 };
        assert_eq!(edge.in_water(afloat), Some(afloat));
    }
}
