//! Square cells on the lake's plane.

use crate::terms::lake::Lake;
use crate::terms::place::{Place, PlanePoint};
use geo::{LineString, Polygon};

/// A cell by its column (east) and row (north), counted from the centre of the plane. Ordered from south to north.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Cell {
    /// Cells north of the centre; negative to the south.
    pub row: i32,
    /// Cells east of the centre; negative to the west.
    pub column: i32,
}

impl Cell {
    /// The cell that holds a point, for cells of `side_m` metres.
    #[must_use]
    pub fn at(point: PlanePoint, side_m: f64) -> Self {
        Self { row: (point.north_m / side_m).floor() as i32, column: (point.east_m / side_m).floor() as i32 }
    }

    /// Its middle.
    #[must_use]
    pub fn middle(self, side_m: f64) -> PlanePoint {
        PlanePoint {
            east_m: (f64::from(self.column) + 0.5) * side_m,
            north_m: (f64::from(self.row) + 0.5) * side_m,
        }
    }

    /// Its outline in degrees, counter-clockwise.
    #[must_use]
    pub fn outline(self, side_m: f64, lake: &Lake) -> Polygon<f64> {
        let corner = |east: i32, north: i32| {
            let point = PlanePoint {
                east_m: f64::from(self.column + east) * side_m,
                north_m: f64::from(self.row + north) * side_m,
            };
            let Place { lon, lat } = lake.plane.to_place(point);
            (lon, lat)
        };
        let ring: LineString<f64> =
            [corner(0, 0), corner(1, 0), corner(1, 1), corner(0, 1), corner(0, 0)].into_iter().collect();
        Polygon::new(ring, Vec::new())
    }
}
