//! Hazards that matter on a day, and areas that matter to a lake.

use super::polygons::water_of;
use super::projected;
use crate::terms::finding::{Code, Finding};
use crate::terms::lake::Lake;
use crate::terms::mark::{Kind, Mark};
use crate::terms::place::Place;
use crate::terms::pool::water_over_m;
use crate::terms::zone::Zone;
use geo::BooleanOps;

/// The hazard marks to keep off at a level. One is left out only when its depth, the level on the day it was marked and the
/// level asked about are all known and tell that more than `clear_m` of water lie over it: unknown counts.
#[must_use]
pub fn hazards(log: &[Mark], lake: &Lake, level_m: Option<f64>, clear_m: f64) -> Vec<Place> {
    let clear = |mark: &Mark| {
        level_m.and_then(|level_m| water_over_m(mark, lake, level_m)).is_some_and(|over_m| over_m > clear_m)
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
    use crate::terms::units::Depth;
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
        !hazards(&[rock], &lake, lake.level_m(day), 3.0).is_empty()
    }

    #[test]
    fn a_hazard_counts_unless_it_is_known_to_lie_deep_on_the_day() {
        assert!(!counts(Some(5.0), Some(100.0)));
        assert!(counts(Some(5.0), Some(97.5)), "drawn down, 2.5 m of water are left over it");
        assert!(counts(Some(5.0), None) && counts(None, Some(100.0)), "unknown counts");
    }
}
