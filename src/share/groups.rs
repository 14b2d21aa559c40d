//! From what was seen to what is shown: counted by place and month, or moved.

use super::mask::Mask;
use super::places::{Knot, Places};
use super::zones::Zones;
use super::{Feature, Floor, LEAST_PLACES, Level, Reason, Seen, Shape, Shared, When, Wish};
use crate::terms::mark::Kind;
use crate::terms::sha256::keyed;
use crate::terms::units::{Depth, WaterTemp};
use geo::{LineString, MultiPolygon, Polygon};
use jiff::civil::Date;
use std::collections::{BTreeMap, BTreeSet};

/// Thousandths of a degree along the side of a square: 0.01 degrees, at 36 degrees of latitude 1,110 by 902 m.
const SQUARE: i32 = 10;
/// Counts are rounded to this.
const ROUND: usize = 5;

/// The lake as sharing knows it.
#[derive(Clone, Copy, Debug)]
pub(super) struct Ground<'a> {
    pub(super) places: &'a Places,
    pub(super) zones: &'a Zones,
}

impl Ground<'_> {
    /// The name of the zone or square that a plausible place lies in.
    pub(super) fn name(&self, level: Level, at: Knot) -> Option<String> {
        match level {
            Level::Arm | Level::Mask => {
                let zone = self.zones.zone(self.places.number(at)?);
                Some(format!("zone {}", zone + 1))
            }
            Level::Cell => {
                let [west, south] = self.corner(square_of(at));
                Some(format!("square {} {}", hundredths(west), hundredths(south)))
            }
        }
    }

    /// South-west corner of a square, in thousandths of a degree.
    fn corner(&self, square: Knot) -> [i32; 2] {
        [square.east * SQUARE * self.places.step(), square.north * SQUARE]
    }

    fn square(&self, square: Knot) -> MultiPolygon<f64> {
        let [west, south] = self.corner(square);
        let [east, north] = self.corner(Knot { north: square.north + 1, east: square.east + 1 });
        let [w, s, e, n] = [west, south, east, north].map(|t| f64::from(t) / 1000.0);
        MultiPolygon::new(vec![Polygon::new(
            LineString::from(vec![(w, s), (e, s), (e, n), (w, n), (w, s)]),
            Vec::new(),
        )])
    }
}

fn square_of(knot: Knot) -> Knot {
    Knot { north: knot.north.div_euclid(SQUARE), east: knot.east.div_euclid(SQUARE) }
}

/// `-56.01` of thousandths that end in 0.
fn hundredths(thousandths: i32) -> String {
    format!("{:.2}", f64::from(thousandths) / 1000.0)
}

/// How often one kind was seen in one place, and when.
#[derive(Clone, Debug, Default)]
pub(super) struct Tally<'a> {
    pub(super) seen: Vec<&'a Seen>,
}

impl Tally<'_> {
    pub(super) fn is_rare(&self, floor: Floor) -> bool {
        let outings: BTreeSet<Date> = self.seen.iter().filter_map(|s| s.day).map(|day| day.date).collect();
        self.seen.len() < floor.sightings || outings.len() < floor.outings
    }
}

/// The part of the year of something seen. What stays in place has none.
pub(super) fn when(level: Level, seen: &Seen) -> When {
    match (seen.kind, seen.day) {
        (Kind::Bait | Kind::Gamefish, Some(day)) if level == Level::Mask => {
            When::HalfMonth(day.date.month(), day.date.day() > 15)
        }
        (Kind::Bait | Kind::Gamefish, Some(day)) => When::Month(day.date.month()),
        _ => When::Always,
    }
}

/// Levels `arm` and `cell`: counts by zone or square, kind and month.
pub(super) fn count(ground: &Ground<'_>, seen: &[Seen], wish: &Wish<'_>, shared: &mut Shared) {
    let mut sizes: BTreeMap<Knot, usize> = BTreeMap::new();
    ground.places.knots().iter().for_each(|knot| *sizes.entry(square_of(*knot)).or_default() += 1);
    let mut tallies: BTreeMap<(Knot, Kind, When), Tally<'_>> = BTreeMap::new();
    for one in seen {
        let Some(at) = ground.places.nearest(one.place) else {
            *shared.left_out.entry(Reason::Outside).or_default() += 1;
            continue;
        };
        let key = match wish.level {
            Level::Cell => square_of(at),
            // A zone's number, dressed as a knot.
            _ => Knot { north: ground.places.number(at).map_or(0, |n| small(ground.zones.zone(n))), east: 0 },
        };
        tallies.entry((key, one.kind, when(wish.level, one))).or_default().seen.push(one);
    }
    let mut outlines: BTreeMap<Knot, MultiPolygon<f64>> = BTreeMap::new();
    for ((key, kind, when), tally) in tallies {
        let (name, k) = match wish.level {
            Level::Cell => {
                let [west, south] = ground.corner(key);
                (format!("square {} {}", hundredths(west), hundredths(south)), sizes[&key])
            }
            _ => (format!("zone {}", key.north + 1), ground.zones.size(key.north as usize)),
        };
        let reason = if k < LEAST_PLACES {
            Some(Reason::Few)
        } else {
            tally.is_rare(wish.floor).then_some(Reason::Rare)
        };
        if let Some(reason) = reason {
            *shared.left_out.entry(reason).or_default() += tally.seen.len();
            continue;
        }
        shared.shown += tally.seen.len();
        let outline = outlines.entry(key).or_insert_with(|| match wish.level {
            Level::Cell => ground.square(key),
            _ => ground.zones.outline(key.north as usize, ground.places),
        });
        let count = ((tally.seen.len() + ROUND / 2) / ROUND * ROUND).max(ROUND);
        shared.features.push(Feature {
            kind,
            place: name,
            when,
            count,
            fish_depth: range(tally.seen.iter().filter_map(|s| s.fish_depth)),
            water_temp: range(tally.seen.iter().filter_map(|s| s.water_temp)),
            k,
            shape: Shape::Area(outline.clone()),
        });
    }
    debug_assert!(shared.features.iter().all(|f| matches!(f.shape, Shape::Area(_))));
}

/// Least and greatest.
fn range<T: PartialOrd + Copy>(values: impl Iterator<Item = T>) -> Option<[T; 2]> {
    values.fold(None, |range, value| {
        let [low, high] = range.unwrap_or([value, value]);
        Some([if value < low { value } else { low }, if value > high { value } else { high }])
    })
}

/// Level `mask`: each place moved, then counted by shown place, kind and half month.
pub(super) fn moved(ground: &Ground<'_>, seen: &[Seen], wish: &Wish<'_>, shared: &mut Shared) {
    let mask = Mask::of(ground.places, ground.zones, &wish.ring);
    let mut by_zone: BTreeMap<(usize, Kind), Tally<'_>> = BTreeMap::new();
    let mut located: Vec<(Knot, usize, &Seen)> = Vec::new();
    for one in seen {
        let at = ground.places.nearest(one.place).and_then(|at| Some((at, ground.places.number(at)?)));
        let Some((at, number)) = at else {
            *shared.left_out.entry(Reason::Outside).or_default() += 1;
            continue;
        };
        let zone = ground.zones.zone(number);
        by_zone.entry((zone, one.kind)).or_default().seen.push(one);
        located.push((at, zone, one));
    }
    let mut drawn: BTreeMap<Knot, Option<Knot>> = BTreeMap::new();
    let mut counts: BTreeMap<(Knot, Kind, When), (usize, usize)> = BTreeMap::new();
    for (at, zone, one) in located {
        if by_zone.get(&(zone, one.kind)).is_none_or(|tally| tally.is_rare(wish.floor)) {
            *shared.left_out.entry(Reason::Rare).or_default() += 1;
            continue;
        }
        let shown =
            *drawn.entry(at).or_insert_with(|| mask.shown(at, ground.places, ground.zones, wish.secret));
        let Some(shown) = shown else {
            *shared.left_out.entry(Reason::Few).or_default() += 1;
            continue;
        };
        shared.shown += 1;
        shared.behind.entry(shown).or_default().push(at);
        counts.entry((shown, one.kind, when(Level::Mask, one))).or_insert((0, zone)).0 += 1;
    }
    shared.behind.values_mut().for_each(|true_places| {
        true_places.sort_unstable();
        true_places.dedup();
    });
    let mut features: Vec<([u8; 32], Feature)> = counts
        .into_iter()
        .map(|((shown, kind, when), (count, zone))| {
            let feature = Feature {
                kind,
                place: format!("zone {}", zone + 1),
                when,
                count: at_least(count),
                fish_depth: None,
                water_temp: None,
                k: ground.places.number(shown).map_or(0, |number| (mask.k(number) + 1e-9) as usize),
                shape: Shape::Point(ground.places.place(shown)),
            };
            let order = format!("order {} {} {} {when:?}", shown.north, shown.east, kind.word());
            (keyed(wish.secret, order.as_bytes()), feature)
        })
        .collect();
    features.sort_by_key(|(order, _)| *order);
    shared.features = features.into_iter().map(|(_, feature)| feature).collect();
}

/// The greatest of 1, 2, 5, 10, 20, 50 … that is not more than a count.
fn at_least(count: usize) -> usize {
    let mut step = 1;
    loop {
        for (size, next) in [(1, 2), (2, 5), (5, 10)] {
            if count < next * step {
                return size * step;
            }
        }
        step *= 10;
    }
}

/// The number of a zone; there are never more than places.
fn small(zone: usize) -> i32 {
    i32::try_from(zone).unwrap_or(i32::MAX)
}

/// The depth range to whole fives of feet, or twos of metres.
pub(super) fn coarse_depth([low, high]: [Depth; 2], us: bool) -> [i64; 2] {
    if us { widened([low.feet(), high.feet()], 5.0) } else { widened([low.metres(), high.metres()], 2.0) }
}

/// The temperature range to whole twos of Fahrenheit, or ones of Celsius.
pub(super) fn coarse_temp([low, high]: [WaterTemp; 2], us: bool) -> [i64; 2] {
    if us {
        widened([low.fahrenheit(), high.fahrenheit()], 2.0)
    } else {
        widened([low.celsius(), high.celsius()], 1.0)
    }
}

/// A range down and up to whole steps. A hair more or less than a step is that step: values are kept in 32 bits.
fn widened([low, high]: [f64; 2], step: f64) -> [i64; 2] {
    [(low / step + 1e-4).floor() * step, (high / step - 1e-4).ceil() * step].map(|number| number as i64)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ranges_are_widened_to_whole_steps() {
        let depth = |feet: f64| Depth::from_feet(feet).unwrap();
        assert_eq!(coarse_depth([depth(20.0), depth(31.0)], true), [20, 35]);
        assert_eq!(coarse_depth([depth(19.9), depth(30.0)], true), [15, 30]);
        let temp = |f: f64| WaterTemp::from_fahrenheit(f).unwrap();
        assert_eq!(coarse_temp([temp(61.0), temp(66.0)], true), [60, 66]);
    }

    #[test]
    fn counts_of_a_mask_are_told_in_steps() {
        let steps: Vec<usize> =
            [1, 2, 4, 5, 9, 10, 19, 20, 49, 50, 99, 100].into_iter().map(at_least).collect();
        assert_eq!(steps, [1, 2, 2, 5, 5, 10, 10, 20, 20, 50, 50, 100]);
    }
}
