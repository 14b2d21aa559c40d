//! way: the places of a track's days in, the line through water between them out.
//!
//! The shortest way between one day's place and the next, kept off the shore by a hair, so that what is rounded and
//! drawn in degrees does not cross it. Where no water leads on, the line ends; of several pieces the longest is drawn.

use crate::terms::lake::Lake;
use crate::terms::place::{LocalPlane, Place, PlanePoint};
use crate::terms::water::Water;
use crate::travel::WaterDistance;
use geo::{Buffer, MapCoords, MultiPolygon};
use std::cell::OnceCell;

/// How far the line is kept off the shore. A straight line on the plane and one in degrees lie up to 1.5 m apart on a
/// shore 10 km without a corner.
const OFF_SHORE_M: f64 = 2.0;
/// Longest piece: one drawn straight in degrees bends away from the plane's by less than 1 cm.
const LONGEST_PIECE_M: f64 = 500.0;

/// The lines of a lake's tracks.
pub(super) struct Ways<'a> {
    plane: LocalPlane,
    /// Without a shoreline lines go straight.
    water: Option<&'a Water>,
    off_shore: OnceCell<WaterDistance>,
    /// The whole water, for channels narrower than twice the hair.
    whole: OnceCell<WaterDistance>,
}

impl<'a> Ways<'a> {
    pub(super) fn new(lake: &'a Lake) -> Self {
        Self {
            plane: lake.plane,
            water: lake.water.as_ref(),
            off_shore: OnceCell::new(),
            whole: OnceCell::new(),
        }
    }

    /// The line through the places in their order.
    pub(super) fn through(&self, places: &[Place]) -> Vec<Place> {
        let Some(water) = self.water else { return places.to_vec() };
        let mut lines: Vec<Vec<Place>> = vec![places.first().copied().into_iter().collect()];
        for pair in places.windows(2) {
            match self.between(water, pair[0], pair[1]) {
                Some(way) => lines.last_mut().into_iter().for_each(|line| line.extend(&way[1..])),
                None => lines.push(vec![pair[1]]),
            }
        }
        // Of equally long ones the first.
        lines.into_iter().rev().max_by(|a, b| length_m(a).total_cmp(&length_m(b))).unwrap_or_default()
    }

    fn between(&self, water: &Water, from: Place, to: Place) -> Option<Vec<Place>> {
        let [a, b] = [from, to].map(|place| self.plane.to_plane(place));
        let off_shore = self
            .off_shore
            .get_or_init(|| WaterDistance::on_plane(&self.on_plane(water).buffer(-OFF_SHORE_M)));
        let way = off_shore
            .path(a, b)
            .or_else(|| self.whole.get_or_init(|| WaterDistance::new(water, &self.plane)).path(a, b))?;
        let mut line = vec![from];
        for pair in way.windows(2) {
            let pieces = (pair[0].metres_to(pair[1]) / LONGEST_PIECE_M).ceil().max(1.0) as u32;
            line.extend((1..=pieces).map(|k| {
                let share = f64::from(k) / f64::from(pieces);
                self.plane.to_place(PlanePoint {
                    east_m: pair[0].east_m + (pair[1].east_m - pair[0].east_m) * share,
                    north_m: pair[0].north_m + (pair[1].north_m - pair[0].north_m) * share,
                })
            }));
        }
        if let Some(last) = line.last_mut() {
            *last = to; // as it was, not as the plane gives it back
        }
        Some(line)
    }

    fn on_plane(&self, water: &Water) -> MultiPolygon<f64> {
        water.polygons().map_coords(|c| {
            let p = self.plane.to_plane(Place { lon: c.x, lat: c.y });
            geo::Coord { x: p.east_m, y: p.north_m }
        })
    }
}

/// Length of a line in metres.
pub(super) fn length_m(line: &[Place]) -> f64 {
    line.windows(2).map(|pair| pair[0].metres_to(pair[1])).sum()
}

#[cfg(test)]
mod tests {
    use super::*;
    use geo::polygon;

    /// A lake of 900 by 1100 m with a spit from the south, and a pond 900 m west of it.
    fn lake() -> Lake {
        let spit = polygon![
            (x: -94.010, y: 35.000), (x: -94.006, y: 35.000), (x: -94.005, y: 35.005), (x: -94.004, y: 35.000),
            (x: -94.000, y: 35.000), (x: -94.000, y: 35.010), (x: -94.010, y: 35.010),
        ];
        let pond = polygon![
            (x: -94.024, y: 35.000), (x: -94.020, y: 35.000), (x: -94.020, y: 35.004), (x: -94.024, y: 35.004),
        ];
        let mut lake = Lake::unknown_at(Place { lon: -94.005, lat: 35.005 });
        lake.water = Some(Water::new(MultiPolygon::new(vec![spit, pond]), lake.plane));
        lake
    }

    #[test]
    fn a_line_goes_round_a_spit_and_without_a_shoreline_straight() {
        let mut lake = lake();
        let places = [(-94.008, 35.002), (-94.002, 35.002)].map(|(lon, lat)| Place { lon, lat });
        let line = Ways::new(&lake).through(&places);
        assert_eq!((line[0], line[line.len() - 1]), (places[0], places[1]));
        let tip = Place { lon: -94.005, lat: 35.005 };
        let round = places[0].metres_to(tip) + tip.metres_to(places[1]);
        assert!((0.0..8.0).contains(&(length_m(&line) - round)), "{} {round}", length_m(&line));
        assert!(line[1..line.len() - 1].iter().all(|p| lake.water.as_ref().unwrap().contains(*p)));
        lake.water = None;
        assert_eq!(Ways::new(&lake).through(&places), places);
    }

    #[test]
    fn a_line_ends_where_no_water_leads_on_and_the_longest_piece_is_drawn() {
        let lake = lake();
        let places = [(-94.022, 35.001), (-94.022, 35.003), (-94.009, 35.008), (-94.001, 35.008)]
            .map(|(lon, lat)| Place { lon, lat });
        let line = Ways::new(&lake).through(&places);
        assert_eq!((line[0], line[line.len() - 1]), (places[2], places[3]));
        assert!(Ways::new(&lake).through(&[]).is_empty());
    }
}
