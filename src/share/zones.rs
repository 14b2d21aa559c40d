//! A lake cut into zones: arms, and stretches of its main water, by the way through water.
//!
//! Seeds are set one by one on the place that is farthest, through water, from all seeds so far: first the ends of the
//! arms, then between them. A zone is what lies nearest to a seed. It hangs on the shoreline alone.

use super::places::{Knot, Places};
use geo::{Coord, LineString, MultiPolygon, Orient, Polygon, orient::Direction, unary_union};
use std::cmp::Reverse;
use std::collections::{BTreeMap, BTreeSet, BinaryHeap};

/// No place of a zone is farther from its middle than this, in metres through water (judgement: an arm of 5 km is one
/// or two zones).
const REACH_M: f64 = 2500.0;
/// Least plausible places of a zone: a square kilometre (judgement). Smaller ones go to a neighbour.
const LEAST_PLACES: usize = 100;
/// Corners of a square of the grid that must be water for the square to be drawn.
const CORNERS: usize = 2;

/// The zones of a lake.
#[derive(Clone, Debug)]
pub struct Zones {
    /// Zone of each plausible place, from 0.
    of: Vec<u32>,
    /// Plausible places of each zone.
    sizes: Vec<usize>,
}

impl Zones {
    /// Cuts the lake.
    #[must_use]
    pub fn of(places: &Places) -> Self {
        let graph = Graph { places };
        let mut zone = graph.nearest_seeds();
        graph.merge_small(&mut zone);
        let of = numbered_from_the_north(places, &zone);
        let mut sizes = vec![0; of.iter().max().map_or(0, |last| *last as usize + 1)];
        for zone in &of {
            sizes[*zone as usize] += 1;
        }
        Self { of, sizes }
    }

    /// The zone of a plausible place, by its number; zones count from 0.
    #[must_use]
    pub fn zone(&self, place: usize) -> usize {
        self.of[place] as usize
    }

    /// How many zones there are.
    #[must_use]
    pub const fn len(&self) -> usize {
        self.sizes.len()
    }

    /// Whether the lake has no plausible place at all.
    #[must_use]
    pub const fn is_empty(&self) -> bool {
        self.sizes.is_empty()
    }

    /// Plausible places of a zone.
    #[must_use]
    pub fn size(&self, zone: usize) -> usize {
        self.sizes[zone]
    }

    /// Outline of a zone in degrees, drawn along the grid: as coarse as that, and no shoreline.
    #[must_use]
    pub fn outline(&self, zone: usize, places: &Places) -> MultiPolygon<f64> {
        // A square between four knots belongs to the zone that holds most of them.
        let mut rows: BTreeMap<i32, Vec<i32>> = BTreeMap::new();
        let mut tried = BTreeSet::new();
        for (_, knot) in (0..).zip(places.knots()).filter(|(number, _)| self.zone(*number) == zone) {
            for (north, east) in [(0, 0), (0, -1), (-1, 0), (-1, -1)] {
                let square = Knot { north: knot.north + north, east: knot.east + east };
                if tried.insert(square) && self.square_zone(square, places) == Some(zone) {
                    rows.entry(square.north).or_default().push(square.east);
                }
            }
        }
        let mut strips = Vec::new();
        for (north, mut easts) in rows {
            easts.sort_unstable();
            for run in easts.chunk_by(|a, b| a + 1 == *b) {
                let (west, east) = (run[0], run[run.len() - 1] + 1);
                strips.push(rectangle([west * places.step(), north], [east * places.step(), north + 1]));
            }
        }
        // Joined in whole thousandths, where nothing rounds; then in degrees.
        let joined = unary_union(&strips);
        let degrees = geo::MapCoords::map_coords(&joined, |c: Coord<f64>| Coord {
            x: c.x.round() / 1000.0,
            y: c.y.round() / 1000.0,
        });
        degrees.orient(Direction::Default)
    }

    fn square_zone(&self, square: Knot, places: &Places) -> Option<usize> {
        let corners: Vec<usize> = [(0, 0), (0, 1), (1, 0), (1, 1)]
            .into_iter()
            .filter_map(|(north, east)| {
                places.number(Knot { north: square.north + north, east: square.east + east })
            })
            .map(|number| self.zone(number))
            .collect();
        if corners.len() < CORNERS {
            return None;
        }
        let most = |zone: &usize| corners.iter().filter(|other| *other == zone).count();
        corners.iter().copied().max_by_key(|zone| (most(zone), Reverse(*zone)))
    }
}

fn rectangle([west, south]: [i32; 2], [east, north]: [i32; 2]) -> Polygon<f64> {
    let [w, s, e, n] = [west, south, east, north].map(f64::from);
    Polygon::new(LineString::from(vec![(w, s), (e, s), (e, n), (w, n), (w, s)]), Vec::new())
}

/// The plausible places as knots joined to their eight neighbours.
struct Graph<'a> {
    places: &'a Places,
}

impl Graph<'_> {
    fn neighbours(&self, number: usize) -> impl Iterator<Item = (usize, f64)> {
        let [east_m, north_m] = self.places.metres();
        let knot = self.places.knots()[number];
        (-1..=1).flat_map(move |north| (-1..=1).map(move |east| (north, east))).filter_map(
            move |(north, east)| {
                let next = self.places.number(Knot { north: knot.north + north, east: knot.east + east })?;
                (next != number).then(|| (next, (f64::from(east) * east_m).hypot(f64::from(north) * north_m)))
            },
        )
    }

    /// Lowers `metres` to the way from a seed, and tells the seed's zone to what is nearer to it than to any before.
    fn grow(&self, seed: usize, zone: u32, metres: &mut [f64], zones: &mut [u32]) {
        // Ways in whole centimetres, which have an order.
        let mut open = BinaryHeap::from([Reverse((0_u64, seed))]);
        metres[seed] = 0.0;
        zones[seed] = zone;
        while let Some(Reverse((way_cm, at))) = open.pop() {
            if way_cm as f64 / 100.0 > metres[at] {
                continue;
            }
            for (next, step_m) in self.neighbours(at) {
                let cm = way_cm + (step_m * 100.0).round() as u64;
                if (cm as f64 / 100.0) < metres[next] {
                    metres[next] = cm as f64 / 100.0;
                    zones[next] = zone;
                    open.push(Reverse((cm, next)));
                }
            }
        }
    }

    /// The seed that each place is nearest to.
    fn nearest_seeds(&self) -> Vec<u32> {
        let count = self.places.knots().len();
        let (mut metres, mut zones) = (vec![f64::INFINITY; count], vec![0; count]);
        let mut next_zone = 0;
        for first in 0..count {
            if metres[first].is_finite() {
                continue;
            }
            // A water of its own. Its first seed is what lies farthest from its first place.
            let (mut ways, mut reached) = (vec![f64::INFINITY; count], vec![0; count]);
            self.grow(first, 0, &mut ways, &mut reached);
            let water: Vec<usize> = (0..count).filter(|i| ways[*i].is_finite()).collect();
            let farthest = |ways: &[f64]| {
                water
                    .iter()
                    .copied()
                    .max_by(|a, b| ways[*a].total_cmp(&ways[*b]).then(b.cmp(a)))
                    .unwrap_or(first)
            };
            let mut seed = farthest(&ways);
            loop {
                self.grow(seed, next_zone, &mut metres, &mut zones);
                next_zone += 1;
                seed = farthest(&metres);
                if metres[seed] <= REACH_M {
                    break;
                }
            }
        }
        zones
    }

    /// Gives zones that are too small to the neighbour they share most of their border with, or to the nearest.
    fn merge_small(&self, zones: &mut [u32]) {
        loop {
            let mut sizes: BTreeMap<u32, usize> = BTreeMap::new();
            for zone in &*zones {
                *sizes.entry(*zone).or_default() += 1;
            }
            let Some((small, _)) = sizes
                .iter()
                .filter(|(_, size)| **size < LEAST_PLACES)
                .min_by_key(|(zone, size)| (**size, **zone))
                .filter(|_| sizes.len() > 1)
            else {
                return;
            };
            let members: Vec<usize> = (0..zones.len()).filter(|i| zones[*i] == *small).collect();
            let mut borders: BTreeMap<u32, usize> = BTreeMap::new();
            for (next, _) in members.iter().flat_map(|i| self.neighbours(*i)) {
                if zones[next] != *small {
                    *borders.entry(zones[next]).or_default() += 1;
                }
            }
            let widest = borders
                .iter()
                .max_by_key(|(zone, border)| (**border, Reverse(**zone)))
                .map(|(zone, _)| *zone);
            let into = widest.unwrap_or_else(|| self.nearest_other(zones, &members));
            for i in members {
                zones[i] = into;
            }
        }
    }

    /// The zone across land that comes nearest to a zone's first place.
    fn nearest_other(&self, zones: &[u32], members: &[usize]) -> u32 {
        let knots = self.places.knots();
        let (from, own) = (knots[members[0]], zones[members[0]]);
        (0..zones.len())
            .filter(|i| zones[*i] != own)
            .min_by(|a, b| {
                let metres = |i: usize| self.places.metres_between(from, knots[i]);
                metres(*a).total_cmp(&metres(*b)).then(a.cmp(b))
            })
            .map_or(own, |i| zones[i])
    }
}

/// Numbers zones from 0 in the order of their middles, from north to south.
fn numbered_from_the_north(places: &Places, zones: &[u32]) -> Vec<u32> {
    let mut sums: BTreeMap<u32, (i64, i64, i64)> = BTreeMap::new();
    for (knot, zone) in places.knots().iter().zip(zones) {
        let sum = sums.entry(*zone).or_default();
        *sum = (sum.0 + i64::from(knot.north), sum.1 + i64::from(knot.east), sum.2 + 1);
    }
    let mut order: Vec<(Reverse<i64>, i64, u32)> = sums
        .into_iter()
        .map(|(zone, (north, east, count))| (Reverse(north / count), east / count, zone))
        .collect();
    order.sort_unstable();
    let numbers: BTreeMap<u32, u32> = order.into_iter().map(|(_, _, zone)| zone).zip(0..).collect();
    zones.iter().map(|zone| numbers[zone]).collect()
}
