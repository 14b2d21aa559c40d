//! areas: sightings in, holding areas out.
//!
//! Sightings of one kind that are near in place, season day and depth make an area, all seasons pooled (`cluster`, `waists`,
//! three separate gates). With a shoreline the gate of place is the way by boat, so areas either side of a point, or in
//! arms beside each other, stay apart. The width is the user's; what the spacing of the sightings suggests is told, never applied.

use crate::schools::cluster::{Label, Metric, Neighbourhood, Point, cluster_on_stands};
use crate::schools::waists::parted_on_stands;
use crate::schools::{HoldingArea, Sighting};
use crate::terms::circle::MeanVector;
use crate::terms::id::Id;
use crate::terms::lake::Lake;
use crate::terms::mark::Kind;
use crate::terms::place::PlanePoint;
use crate::terms::season::{SeasonDay, YEAR_DAYS};
use crate::terms::units::{Depth, Distance, METRES_PER_FOOT, WaterTemp};
use crate::travel::WaterDistance;
use geo::{ConvexHull, Coord, LineString, MultiPoint, Point as GeoPoint, Polygon};
use serde::{Deserialize, Deserializer, de};
use std::collections::BTreeSet;
use std::f64::consts::TAU;

/// `[schools]`: which sightings make a holding area. The defaults were set before the first run on simulated lakes
/// and tie there with self-chosen widths and with HDBSCAN.
#[derive(Clone, Copy, Debug, PartialEq, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct AreaSettings {
    /// Reach of the neighbourhood in place. Default 300 m.
    pub distance: Distance,
    /// Reach in season days, the short way round the year. Default 21.
    #[serde(deserialize_with = "days")]
    pub days: f64,
    /// Reach in fish depth; an unknown depth passes. Default 12 ft.
    pub depth: Distance,
    /// Least number of sightings in reach of each other, itself counted. Default 4.
    #[serde(deserialize_with = "at_least_one")]
    pub min_sightings: usize,
    /// What the season is measured by. Default and only value: the date.
    pub clock: AreaClock,
}

/// What the season of a holding area is measured by.
///
/// Only the date: the reach in days between two sightings of one season does not change with a yearly shift, and the
/// shift between seasons is fitted by `movement`, which comes after.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum AreaClock {
    /// Calendar date.
    #[default]
    Date,
}

impl<'de> Deserialize<'de> for AreaClock {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        match String::deserialize(deserializer)?.as_str() {
            "date" => Ok(Self::Date),
            other => Err(de::Error::custom(format!(
                "`{other}` cannot measure the season of holding areas: write `date` \
                 (`temperature` and `auto` are for `movement.clock`)"
            ))),
        }
    }
}

fn days<'de, D: Deserializer<'de>>(deserializer: D) -> Result<f64, D::Error> {
    let days = f64::deserialize(deserializer)?;
    if (0.0..=366.0).contains(&days) {
        Ok(days)
    } else {
        Err(de::Error::custom(format!("`{days}` is no reach in season days: write a number from 0 to 366")))
    }
}

fn at_least_one<'de, D: Deserializer<'de>>(deserializer: D) -> Result<usize, D::Error> {
    match usize::deserialize(deserializer)? {
        0 => {
            Err(de::Error::custom("`0` sightings make no area: write 1 or more, the sighting itself counts"))
        }
        count => Ok(count),
    }
}

impl Default for AreaSettings {
    fn default() -> Self {
        Self {
            distance: Distance::from_metres(300.0),
            days: 21.0,
            depth: Distance::from_metres(12.0 * METRES_PER_FOOT),
            min_sightings: 4,
            clock: AreaClock::Date,
        }
    }
}

/// Labels sightings by the three gates of the settings, in the order given. All should be of one kind, in the order
/// of `sightings`, which breaks ties. Where the water is given, the reach in place is the boat's way, not the straight
/// line.
#[must_use]
pub fn group_sightings(
    sightings: &[&Sighting],
    settings: &AreaSettings,
    water: Option<&WaterDistance>,
) -> Vec<Label> {
    grouped(sightings, settings, water, cluster_on_stands)
}

type Grouping = fn(&[Point], &[u32], &dyn Fn(u32, u32) -> bool, &Neighbourhood) -> Vec<Label>;

fn grouped(
    sightings: &[&Sighting],
    settings: &AreaSettings,
    water: Option<&WaterDistance>,
    grouping: Grouping,
) -> Vec<Label> {
    // Days are whole numbers, so differences of just one gate are common: a hair of width keeps the division from
    // deciding them. A gate of zero lets equal values pass and nothing else: a millionth stands for it.
    let gate = |value: f64| (value * (1.0 + 1e-9)).max(1e-6);
    let (distance_m, days) = (gate(settings.distance.metres()), gate(settings.days));
    // Depths are kept in 32 bits, so two that differ by just the gate in feet may differ by a hair more in metres.
    let depth_m = gate(settings.depth.metres() + 1e-4);
    let points: Vec<Point> = sightings
        .iter()
        .map(|s| Point {
            place: [s.plane.east_m / distance_m, s.plane.north_m / distance_m],
            day: s.day.season_day.days() / days,
            depth: s.fish_depth.map(|d| d.metres() / depth_m),
        })
        .collect();
    let neighbourhood =
        Neighbourhood { metric: Metric::Gates, year: YEAR_DAYS / days, min_points: settings.min_sightings };
    let Some(water) = water else { return grouping(&points, &[], &|_, _| true, &neighbourhood) };
    let places: Vec<PlanePoint> = sightings.iter().map(|s| s.plane).collect();
    let nearby = water.nearby(&places, distance_m);
    grouping(&points, nearby.stands(), &|a, b| nearby.meet(a, b), &neighbourhood)
}

/// Finds the holding areas and tells each sighting its own. Order: kind, peak day, place.
pub(super) fn areas(
    sightings: &mut [Sighting],
    lake: &Lake,
    water: Option<&WaterDistance>,
    settings: &AreaSettings,
) -> Vec<HoldingArea> {
    let mut found = Vec::new();
    for kind in [Kind::Bait, Kind::Gamefish] {
        let numbers: Vec<usize> = (0..sightings.len()).filter(|i| sightings[*i].kind == kind).collect();
        let of_kind: Vec<&Sighting> = numbers.iter().map(|i| &sightings[*i]).collect();
        let labels = grouped(&of_kind, settings, water, parted_on_stands);
        let clusters = labels.iter().filter_map(|l| l.cluster()).max().map_or(0, |c| c + 1);
        let mut members = vec![Vec::new(); clusters];
        for (number, label) in numbers.iter().zip(&labels) {
            if let Some(cluster) = label.cluster() {
                members[cluster].push(*number);
            }
        }
        found.extend(members.into_iter().map(|m| holding_area(sightings, m, lake)));
    }
    found.sort_by(|a, b| {
        let key = |area: &HoldingArea| (area.peak_day.days(), area.centre.lon, area.centre.lat);
        a.kind
            .cmp(&b.kind)
            .then_with(|| key(a).partial_cmp(&key(b)).unwrap_or(std::cmp::Ordering::Equal))
            .then_with(|| a.id.cmp(&b.id))
    });
    for (number, area) in found.iter().enumerate() {
        area.sightings.iter().for_each(|s| sightings[*s].area = Some(number));
    }
    found
}

fn holding_area(all: &[Sighting], members: Vec<usize>, lake: &Lake) -> HoldingArea {
    let of = || members.iter().map(|i| &all[*i]);
    let count = members.len() as f64;
    let centre = PlanePoint {
        east_m: of().map(|s| s.plane.east_m).sum::<f64>() / count,
        north_m: of().map(|s| s.plane.north_m).sum::<f64>() / count,
    };
    let mut from_centre: Vec<f64> = of().map(|s| s.plane.metres_to(centre)).collect();
    from_centre.sort_by(f64::total_cmp);
    let ids: BTreeSet<String> = of().map(|s| s.id.to_string()).collect();
    let [first_day, last_day] = part_of_year(of().map(|s| s.day.season_day));
    let depths = sorted(of().filter_map(|s| s.fish_depth.map(Depth::metres)));
    let temps = sorted(of().filter_map(|s| s.water_temp.map(WaterTemp::celsius)));
    HoldingArea {
        id: Id::of('a', &ids.iter().map(String::as_str).collect::<Vec<_>>()),
        kind: all[members[0]].kind,
        marks: of().map(|s| s.marks.len()).sum(),
        outings: of().map(|s| s.day.date).collect::<BTreeSet<_>>().len(),
        seasons: of().map(|s| s.day.season).collect::<BTreeSet<_>>().into_iter().collect(),
        first_day,
        last_day,
        peak_day: MeanVector::of(of().map(|s| s.day.season_day)).day.unwrap_or(first_day),
        fish_depth: three(&depths).and_then(|[low, middle, high]| {
            Some([Depth::from_metres(low)?, Depth::from_metres(middle)?, Depth::from_metres(high)?])
        }),
        water_depth_median: three(&sorted(of().filter_map(|s| s.water_depth.map(Depth::metres))))
            .and_then(|[_, middle, _]| Depth::from_metres(middle)),
        water_temp: three(&temps)
            .and_then(|[low, _, high]| Some([WaterTemp::from_celsius(low)?, WaterTemp::from_celsius(high)?])),
        centre: lake.plane.to_place(centre),
        radius_m: from_centre[(members.len() * 9).div_ceil(10) - 1],
        hull: hull(of().map(|s| s.plane), lake),
        gamefish: None,
        sightings: members,
    }
}

fn sorted(values: impl Iterator<Item = f64>) -> Vec<f64> {
    let mut values: Vec<f64> = values.collect();
    values.sort_by(f64::total_cmp);
    values
}

/// Least, median and greatest of sorted values; `None` without any.
fn three(values: &[f64]) -> Option<[f64; 3]> {
    let n = values.len();
    let median =
        values.get(n / 2).zip(values.get(n.saturating_sub(1) / 2)).map(|(a, b)| f64::midpoint(*a, *b))?;
    Some([*values.first()?, median, *values.last()?])
}

/// First and last day of the part of the year that holds all days: the circle without its largest gap. Of equal gaps
/// the one that ends first in the calendar year.
fn part_of_year(days: impl Iterator<Item = SeasonDay>) -> [SeasonDay; 2] {
    let days = sorted(days.map(SeasonDay::days));
    let before = |i: usize| days[(i + days.len() - 1) % days.len()];
    let gap = |i: usize| (days[i] - before(i)).rem_euclid(YEAR_DAYS);
    // With one day, or all days the same, every gap is 0 and the part is that day.
    let first = (0..days.len()).fold(0, |best, i| if gap(i) > gap(best) { i } else { best });
    [SeasonDay::from_days(days[first]), SeasonDay::from_days(before(first))]
}

/// How far a hull is drawn beyond its sightings in metres: a mark is good to 20 to 30 m (consumer GPS, the cone of
/// the beam, the boat moving on before the key is pressed; common practice, no source).
const HULL_MARGIN_M: f64 = 30.0;
/// Corners of the circle drawn round each sighting; 16 keep the margin above 98 % of its length.
const HULL_CORNERS: u32 = 16;

/// Convex hull of circles round the places, in degrees, counter-clockwise.
fn hull(places: impl Iterator<Item = PlanePoint>, lake: &Lake) -> Polygon<f64> {
    let round = |p: PlanePoint| {
        (0..HULL_CORNERS).map(move |corner| {
            let (sin, cos) = (TAU * f64::from(corner) / f64::from(HULL_CORNERS)).sin_cos();
            GeoPoint::new(p.east_m + HULL_MARGIN_M * cos, p.north_m + HULL_MARGIN_M * sin)
        })
    };
    // The hull of the places first, so that circles are drawn round its few corners only.
    let corners: MultiPoint = places.map(|p| GeoPoint::new(p.east_m, p.north_m)).collect();
    let corners = corners.convex_hull();
    let circles = corners.exterior().coords().flat_map(|c| round(PlanePoint { east_m: c.x, north_m: c.y }));
    let on_plane = circles.collect::<MultiPoint>().convex_hull();
    let ring: LineString<f64> = on_plane
        .exterior()
        .coords()
        .map(|c| lake.plane.to_place(PlanePoint { east_m: c.x, north_m: c.y }))
        .map(|place| Coord { x: place.lon, y: place.lat })
        .collect();
    Polygon::new(ring, Vec::new())
}

#[cfg(test)]
mod tests {
    use super::*;

    use geo::{Area, Contains};

    fn days(list: &[f64]) -> impl Iterator<Item = SeasonDay> {
        list.iter().map(|d| SeasonDay::from_days(*d))
    }

    #[test]
    fn a_part_of_the_year_may_run_over_new_year() {
        for (list, first, last) in [
            (&[350.0, 20.0, 5.0][..], 350.0, 20.0),
            (&[100.0, 130.0, 110.0], 100.0, 130.0),
            (&[42.0], 42.0, 42.0),
            (&[42.0, 42.0], 42.0, 42.0),
        ] {
            let part = part_of_year(days(list));
            assert!(part == [first, last].map(SeasonDay::from_days), "{list:?}: {part:?}");
        }
    }

    #[test]
    fn the_median_of_an_even_count_lies_between_the_middle_two() {
        assert_eq!(three(&[1.0, 2.0, 4.0, 9.0]), Some([1.0, 3.0, 9.0]));
        assert_eq!(three(&[7.0]), Some([7.0, 7.0, 7.0]));
        assert_eq!(three(&[]), None);
    }

    #[test]
    fn the_hull_of_one_place_or_a_line_has_an_area_and_runs_counter_clockwise() {
        let lake = Lake::unknown_at(crate::terms::place::Place { lon: -94.2, lat: 35.4 });
        let at = |east_m, north_m| PlanePoint { east_m, north_m };
        for places in
            [vec![at(0.0, 0.0)], vec![at(0.0, 0.0); 3], vec![at(0.0, 0.0), at(50.0, 50.0), at(90.0, 90.0)]]
        {
            let hull = hull(places.iter().copied(), &lake);
            assert!(hull.signed_area() > 0.0, "{places:?}");
            for place in places.iter().map(|p| lake.plane.to_place(*p)) {
                assert!(hull.contains(&GeoPoint::new(place.lon, place.lat)));
            }
        }
    }

    #[test]
    fn settings_that_make_no_sense_say_what_to_write() {
        for (text, told) in [
            ("clock = \"temperature\"", "write `date`"),
            ("days = -1.0", "from 0 to 366"),
            ("min_sightings = 0", "write 1 or more"),
            ("width = \"300 m\"", "unknown field"),
        ] {
            let error = toml::from_str::<AreaSettings>(text).unwrap_err().to_string();
            assert!(error.contains(told), "{error}");
        }
        assert_eq!(toml::from_str::<AreaSettings>("").unwrap(), AreaSettings::default());
        assert_eq!(
            toml::from_str::<AreaSettings>("days = 21\nclock = \"date\"").unwrap(),
            AreaSettings::default()
        );
    }
}
