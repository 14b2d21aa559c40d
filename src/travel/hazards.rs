//! Hazards that matter on a day, and areas that matter to a lake.

use super::polygons::water_of;
use super::projected;
use crate::terms::finding::{Code, Finding};
use crate::terms::lake::Lake;
use crate::terms::mark::{Kind, Mark};
use crate::terms::place::Place;
use crate::terms::units::Depth;
use crate::terms::zone::Zone;
use geo::BooleanOps;
use jiff::civil::Date;

/// A hazard known to lie deeper than this on the day is passed over, in metres (10 ft: several times the draught of
/// a boat on plane or off it; no source).
const CLEAR_M: f64 = 3.0;

/// The hazard marks to keep off on a date. One is left out only when its depth, the level on the day it was marked
/// and the level on the date are all known and tell that it lies deeper than 3 m: unknown counts.
#[must_use]
pub fn hazards(log: &[Mark], lake: &Lake, date: Date) -> Vec<Place> {
    let level_m = lake.level_m(date);
    let clear = |mark: &Mark| {
        let depth_m =
            [mark.fish_depth, mark.water_depth].into_iter().flatten().map(Depth::metres).reduce(f64::min);
        let marked_m = mark.day.and_then(|day| lake.level_m(day.date));
        match (depth_m, marked_m, level_m) {
            (Some(depth_m), Some(marked_m), Some(level_m)) => depth_m + level_m - marked_m > CLEAR_M,
            _ => false,
        }
    };
    log.iter().filter(|m| m.kind == Kind::Hazard && !clear(m)).map(|m| m.place).collect()
}

/// What is told about zones that touch no water of the lake.
#[must_use]
pub fn zone_findings(zones: &[Zone], lake: &Lake) -> Vec<Finding> {
    let Some(water) = &lake.water else { return Vec::new() };
    let water = water_of(&projected(water.polygons(), &lake.plane));
    zones
        .iter()
        .filter(|zone| water.intersection(&water_of(&projected(&zone.area, &lake.plane))).0.is_empty())
        .map(|zone| {
            Finding::new(Code::ZoneOutside, format!("`{}` touches no water of the lake", zone.name))
                .done("it changes nothing")
                .fix("check that its coordinates are longitude first, and that the shoreline is whole")
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::terms::codes::Codes;
    use crate::terms::id::Id;
    use crate::terms::mark::Words;
    use jiff::civil::date;

    /// Whether a rock marked at a depth on 1 June, at level 100 m, is kept off at another level.
    fn counts(depth_m: Option<f64>, level_m: Option<f64>) -> bool {
        let mut lake = Lake::unknown_at(Place { lon: -94.0, lat: 35.0 });
        let day = date(2025, 11, 1);
        lake.levels_m = [(date(2025, 6, 1), 100.0)].into_iter().chain(level_m.map(|l| (day, l))).collect();
        let rock = Mark {
            id: Id::of('m', &["rock"]),
            place: Place { lon: -94.0, lat: 35.0 },
            time: None,
            day: Some(lake.day(date(2025, 6, 1))),
            kind: Kind::Hazard,
            fish_depth: None,
            water_depth: depth_m.and_then(Depth::from_metres),
            water_temp: None,
            words: Words::default(),
            note: "".into(),
            sources: Vec::new().into(),
            repairs: Codes::default(),
        };
        !hazards(&[rock], &lake, day).is_empty()
    }

    #[test]
    fn a_hazard_counts_unless_it_is_known_to_lie_deep_on_the_day() {
        assert!(!counts(Some(5.0), Some(100.0)));
        assert!(counts(Some(5.0), Some(97.5)), "drawn down, 2.5 m of water are left over it");
        assert!(counts(Some(5.0), None) && counts(None, Some(100.0)), "unknown counts");
    }
}
