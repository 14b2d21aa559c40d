//! Things that lie still while the water rises and falls: their elevation, and the water over them at a level.
//!
//! Fish keep their depth below the surface; cover, structure, hazards and the bottom keep their elevation.

use crate::terms::lake::Lake;
use crate::terms::mark::{Kind, Mark};
use crate::terms::units::Depth;

/// Whether a thing of this kind lies still.
#[must_use]
pub const fn lies_still(kind: Kind) -> bool {
    matches!(kind, Kind::Cover | Kind::Structure | Kind::Hazard)
}

/// Elevation of a marked thing's top in metres above the lake's datum: the level of its day less the least depth told of
/// it. `None`: it does not lie still, or depth, day or level is not known.
///
/// # Example
/// Marked at 24.0 ft at level 606.5 ft: 582.5 ft. At full pool, 612.0 ft, it lies 29.5 ft deep.
#[must_use]
pub fn elevation_m(mark: &Mark, lake: &Lake) -> Option<f64> {
    if !lies_still(mark.kind) {
        return None;
    }
    let depths = [mark.fish_depth, mark.water_depth].into_iter().flatten().map(Depth::metres);
    Some(lake.level_m(mark.day?.date)? - depths.reduce(f64::min)?)
}

/// Water over a marked thing in metres at a level; below zero it stands out of the water. `None` as for its elevation.
#[must_use]
pub fn water_over_m(mark: &Mark, lake: &Lake, level_m: f64) -> Option<f64> {
    elevation_m(mark, lake).map(|elevation_m| level_m - elevation_m)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::terms::codes::Codes;
    use crate::terms::id::Id;
    use crate::terms::mark::Words;
    use crate::terms::place::Place;
    use crate::terms::units::METRES_PER_FOOT;
    use jiff::civil::date;

    /// Elevation, and water over it at another level, of a mark at a depth on a day at a level; all in feet.
    #[track_caller]
    fn check(kind: Kind, level: f64, depth: f64, other: f64, expected: Option<(f64, f64)>) {
        let day = date(2024, 10, 1);
        let mut lake = Lake::unknown_at(Place { lon: -56.0, lat: 36.0 });
        lake.levels_m = [(day, level * METRES_PER_FOOT)].into();
        let mark = Mark {
            id: Id::of('m', &["x"]),
            place: Place { lon: -56.0, lat: 36.0 },
            time: None,
            day: Some(lake.day(day)),
            kind,
            fish_depth: None,
            water_depth: Depth::from_feet(depth),
            water_temp: None,
            words: Words::default(),
            note: "".into(),
            sources: Vec::new().into(),
            repairs: Codes::default(),
        };
        let feet = |m: f64| (m / METRES_PER_FOOT * 1000.0).round() / 1000.0;
        let got = elevation_m(&mark, &lake)
            .map(feet)
            .zip(water_over_m(&mark, &lake, other * METRES_PER_FOOT).map(feet));
        assert_eq!(got, expected);
    }

    #[test]
    fn cover_and_hazards_keep_their_elevation_and_fish_do_not() {
        // Subtraction by hand: 606.5 - 24 = 582.5, 612 - 582.5 = 29.5; a rock at 603.2: 8.8 at 612, 0.8 at 604.
        check(Kind::Cover, 606.5, 24.0, 612.0, Some((582.5, 29.5)));
        check(Kind::Hazard, 612.0, 8.8, 604.0, Some((603.2, 0.8)));
        check(Kind::Hazard, 604.0, 0.8, 612.0, Some((603.2, 8.8)));
        check(Kind::Hazard, 612.0, 2.0, 604.0, Some((610.0, -6.0)));
        check(Kind::Bait, 606.5, 24.0, 612.0, None);
    }
}
