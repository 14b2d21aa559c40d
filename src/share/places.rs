//! The plausible places of a lake: where in its water a mark could lie.
//!
//! They are the knots of a grid of 0.001 degrees (about 110 by 90 m) that lie in water. The grid hangs on nothing but the
//! shoreline, so that it tells nothing of the marks; its knots have three decimals, so that no place drawn from it can
//! hold a coordinate to four.

use crate::terms::place::{Place, PlanePoint};
use crate::terms::water::Water;
use geo::LineString;
use std::collections::BTreeMap;

/// Knots a degree of latitude.
const KNOTS: f64 = 1000.0;
/// Metres in a degree of latitude, about.
const DEGREE_M: f64 = 111_195.0;
/// Least width of the grid from west to east in metres. Towards the poles meridians draw near, and the grid is
/// widened in steps (judgement).
const LEAST_WIDTH_M: f64 = 66.0;
/// A mark on the bank belongs to the nearest plausible place within this many knots, about 300 m.
const BANK_KNOTS: i32 = 3;

/// A knot of the grid. Ordered from south to north.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Knot {
    /// Thousandths of a degree of latitude.
    pub north: i32,
    /// Steps of the grid in longitude.
    pub east: i32,
}

/// The plausible places of a lake.
#[derive(Clone, Debug)]
pub struct Places {
    /// Thousandths of a degree of longitude from knot to knot.
    step: i32,
    /// Metres from knot to knot, east and north, at the middle of the lake.
    metres: [f64; 2],
    knots: Vec<Knot>,
    numbers: BTreeMap<Knot, u32>,
}

impl Places {
    /// The knots in water, by the even-odd rule.
    #[must_use]
    pub fn of(water: &Water) -> Self {
        let rings = || {
            water
                .polygons()
                .iter()
                .flat_map(|p| std::iter::once(p.exterior()).chain(p.interiors()))
                .flat_map(LineString::lines)
        };
        let (south, north) = rings().fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), line| {
            (low.min(line.start.y), high.max(line.start.y))
        });
        let middle = if south <= north { f64::midpoint(south, north) } else { 0.0 };
        let width = |step: i32| DEGREE_M / KNOTS * f64::from(step) * middle.to_radians().cos();
        let step = [1, 2, 5, 10].into_iter().find(|step| width(*step) >= LEAST_WIDTH_M).unwrap_or(20);
        // Where the shore crosses each row of the grid. Half-open in latitude: a corner on a row counts once.
        let mut crossings: BTreeMap<i32, Vec<f64>> = BTreeMap::new();
        for line in rings() {
            let (a, b) =
                if line.start.y <= line.end.y { (line.start, line.end) } else { (line.end, line.start) };
            for row in (a.y * KNOTS).ceil() as i32..(b.y * KNOTS).ceil() as i32 {
                let lat = f64::from(row) / KNOTS;
                crossings.entry(row).or_default().push(a.x + (b.x - a.x) * (lat - a.y) / (b.y - a.y));
            }
        }
        let mut knots = Vec::new();
        for (row, mut shore) in crossings {
            shore.sort_by(f64::total_cmp);
            for pair in shore.chunks_exact(2) {
                let [first, last] =
                    [pair[0], pair[1]].map(|lon| (lon * KNOTS / f64::from(step)).ceil() as i32);
                knots.extend((first..last).map(|east| Knot { north: row, east }));
            }
        }
        let numbers = knots.iter().copied().zip(0..).collect();
        Self { step, metres: [width(step), DEGREE_M / KNOTS], knots, numbers }
    }

    /// All of them, from south to north and west to east.
    #[must_use]
    pub fn knots(&self) -> &[Knot] {
        &self.knots
    }

    /// The number of a knot; `None`: it lies on land.
    #[must_use]
    pub fn number(&self, knot: Knot) -> Option<usize> {
        self.numbers.get(&knot).map(|number| *number as usize)
    }

    /// Where a knot is.
    #[must_use]
    pub fn place(&self, knot: Knot) -> Place {
        Place { lon: f64::from(knot.east * self.step) / KNOTS, lat: f64::from(knot.north) / KNOTS }
    }

    /// Thousandths of a degree from knot to knot, east.
    pub(super) const fn step(&self) -> i32 {
        self.step
    }

    /// A knot on a plane, metres east and north of the grid's origin.
    fn point(&self, knot: Knot) -> PlanePoint {
        PlanePoint {
            east_m: f64::from(knot.east) * self.metres[0],
            north_m: f64::from(knot.north) * self.metres[1],
        }
    }

    /// Metres between two knots of one lake, good to a part in a hundred.
    #[must_use]
    pub fn metres_between(&self, a: Knot, b: Knot) -> f64 {
        self.point(a).metres_to(self.point(b))
    }

    /// Most metres between a place in water and the knot that is nearest to it: half the diagonal.
    #[must_use]
    pub fn reach_m(&self) -> f64 {
        self.metres[0].hypot(self.metres[1]) / 2.0
    }

    /// Metres from knot to knot, east and north.
    pub(super) const fn metres(&self) -> [f64; 2] {
        self.metres
    }

    /// The plausible place nearest to a place: the knot next to it, or one within about 300 m where that lies on land.
    /// `None`: there is none.
    #[must_use]
    pub fn nearest(&self, place: Place) -> Option<Knot> {
        let (north, east) = (place.lat * KNOTS, place.lon * KNOTS / f64::from(self.step));
        let at = Knot { north: north.round() as i32, east: east.round() as i32 };
        if self.numbers.contains_key(&at) {
            return Some(at);
        }
        let metres = |knot: Knot| {
            ((f64::from(knot.east) - east) * self.metres[0])
                .hypot((f64::from(knot.north) - north) * self.metres[1])
        };
        let around = (-BANK_KNOTS..=BANK_KNOTS).flat_map(|rows| {
            (-BANK_KNOTS..=BANK_KNOTS)
                .map(move |columns| Knot { north: at.north + rows, east: at.east + columns })
        });
        around
            .filter(|knot| self.numbers.contains_key(knot))
            .min_by(|a, b| metres(*a).total_cmp(&metres(*b)).then(a.cmp(b)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::terms::place::LocalPlane;
    use geo::{MultiPolygon, Rect};

    fn places(west: f64, south: f64, east: f64, north: f64) -> Places {
        let lake = Rect::new((west, south), (east, north)).to_polygon();
        let island = Rect::new((west + 0.0035, south + 0.0035), (west + 0.0065, south + 0.0065)).to_polygon();
        let lake = geo::Polygon::new(lake.exterior().clone(), vec![island.exterior().clone()]);
        let plane = LocalPlane::new(Place { lon: west, lat: south });
        Places::of(&Water::new(MultiPolygon::new(vec![lake]), plane))
    }

    #[test]
    fn knots_in_water_are_plausible_and_those_on_an_island_are_not() {
        let places = places(-94.1005, 34.9995, -94.0905, 35.0095);
        // 10 by 10 knots less an island that holds 3 by 3.
        assert_eq!(places.knots().len(), 91);
        let middle = places.nearest(Place { lon: -94.0951, lat: 35.0049 }).unwrap();
        let [lon, lat] = places.place(middle).six_decimals();
        assert!(places.number(middle).is_some() && lon != "-94.095000", "{lon} {lat} lies on the island");
        assert_eq!(places.nearest(Place { lon: -94.2, lat: 35.0 }), None);
    }

    #[test]
    fn the_grid_widens_towards_the_poles() {
        for (lat, step) in [(35.0, 1), (60.0, 2), (75.0, 5)] {
            let places = places(10.0, lat, 10.1, lat + 0.01);
            assert_eq!(places.step(), step);
            assert!((66.0..170.0).contains(&places.metres()[0]), "{:?}", places.metres());
        }
    }
}
