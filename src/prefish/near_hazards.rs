//! Hazard marks beside the legs of a day, with the water over them at the level of that day.

use crate::prefish::stage::Way;
use crate::terms::lake::Lake;
use crate::terms::mark::{Kind, Mark};
use crate::terms::place::{Place, PlanePoint};
use crate::terms::pool::{elevation_m, water_over_m};
use crate::terms::units::Distance;
use jiff::civil::Date;

/// A hazard mark near a leg.
#[derive(Clone, Debug, PartialEq)]
pub struct NearHazard {
    /// Its name as marked; may be empty.
    pub name: String,
    /// Where.
    pub place: Place,
    /// The leg that passes nearest, counted from 0.
    pub leg: usize,
    /// How far that leg passes, in metres.
    pub off_m: f64,
    /// Water over it that day in metres, below zero when it stands out; `None`: not known.
    pub over_m: Option<f64>,
    /// Water over it at full pool, where that is known.
    pub over_full_m: Option<f64>,
    /// Water over it at the lowest level of the readings, where that is known.
    pub over_lowest_m: Option<f64>,
}

/// Told when a leg passes nearer than this (judgement: a few errors of GPS, and the width in which a boat dodges wind and
/// traffic).
const NEAR_M: f64 = 150.0;

/// The hazards near a day's legs that have no more than the clearance over them, or an unknown depth; by leg, the nearest
/// first.
pub(super) fn near_hazards(
    log: &[Mark],
    lake: &Lake,
    date: Date,
    clearance: Distance,
    ways: &[Way],
) -> Vec<NearHazard> {
    let level_m = lake.level_ahead_m(date);
    let lines: Vec<Vec<PlanePoint>> =
        ways.iter().map(|way| way.path.iter().map(|place| lake.to_plane(*place)).collect()).collect();
    let mut near: Vec<NearHazard> = log
        .iter()
        .filter(|mark| mark.kind == Kind::Hazard)
        .filter_map(|mark| {
            let over_m = level_m.and_then(|level_m| water_over_m(mark, lake, level_m));
            if over_m.is_some_and(|over_m| over_m > clearance.metres()) {
                return None;
            }
            let at = lake.to_plane(mark.place);
            let (leg, off_m) = lines
                .iter()
                .map(|line| metres_to_line(at, line))
                .enumerate()
                .min_by(|a, b| a.1.total_cmp(&b.1))
                .filter(|(_, off_m)| *off_m <= NEAR_M)?;
            let at_level = |level_m: Option<f64>| Some(level_m? - elevation_m(mark, lake)?);
            Some(NearHazard {
                name: mark.words.name().trim().to_owned(),
                place: mark.place,
                leg,
                off_m,
                over_m,
                over_full_m: at_level(lake.full_pool_m),
                over_lowest_m: at_level(lake.lowest_level_m()),
            })
        })
        .collect();
    near.sort_by(|a, b| {
        (a.leg, &a.name)
            .cmp(&(b.leg, &b.name))
            .then(a.off_m.total_cmp(&b.off_m))
            .then_with(|| a.place.partial_cmp(&b.place).unwrap_or(std::cmp::Ordering::Equal))
    });
    near
}

fn metres_to_line(at: PlanePoint, line: &[PlanePoint]) -> f64 {
    line.windows(2)
        .map(|pair| {
            let (dx, dy) = (pair[1].east_m - pair[0].east_m, pair[1].north_m - pair[0].north_m);
            let along = (at.east_m - pair[0].east_m) * dx + (at.north_m - pair[0].north_m) * dy;
            let share =
                if dx == 0.0 && dy == 0.0 { 0.0 } else { (along / (dx * dx + dy * dy)).clamp(0.0, 1.0) };
            let foot =
                PlanePoint { east_m: pair[0].east_m + share * dx, north_m: pair[0].north_m + share * dy };
            at.metres_to(foot)
        })
        .fold(f64::INFINITY, f64::min)
}

impl NearHazard {
    /// `ROCK: 0.8 ft over it (8.8 at full pool)`, in the lake's units.
    #[must_use]
    pub fn told(&self, lake: &Lake) -> String {
        let units = lake.units;
        let (u, short) = (units.short_length(), |m: f64| units.short_from_metres(m));
        let name = if self.name.is_empty() { "hazard" } else { &self.name };
        let now = match (self.over_m, self.over_lowest_m) {
            (Some(over_m), _) if over_m < 0.0 => format!("stands {:.1} {u} out of the water", short(-over_m)),
            (Some(over_m), _) => format!("{:.1} {u} over it", short(over_m)),
            (None, Some(lowest_m)) => {
                format!("level that day not known; {:.1} {u} over it at the lowest given", short(lowest_m))
            }
            (None, None) => String::from("water over it not known"),
        };
        let full = self.over_full_m.map_or_else(String::new, |m| format!(" ({:.1} at full pool)", short(m)));
        format!("{name}: {now}{full}")
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::terms::codes::Codes;
    use crate::terms::id::Id;
    use crate::terms::mark::Words;
    use crate::terms::units::{Depth, METRES_PER_FOOT};
    use jiff::civil::date;

    /// A rock marked 8.8 ft deep at full pool, 612 ft, beside a leg that passes so far north of it → what is told on a day at
    /// the level expected.
    #[track_caller]
    fn check(off_m: f64, expected_ft: Option<f64>, clearance_m: f64, told: Option<&str>) {
        let ft = |feet: f64| feet * METRES_PER_FOOT;
        let centre = Place { lon: -56.0, lat: 36.0 };
        let mut lake = Lake::unknown_at(centre);
        lake.levels_m = [(date(2024, 5, 1), ft(612.0)), (date(2024, 12, 1), ft(604.0))].into();
        lake.full_pool_m = Some(ft(612.0));
        lake.expected_level_m = expected_ft.map(ft);
        let rock = Mark {
            id: Id::of('m', &["rock"]),
            place: centre,
            time: None,
            day: Some(lake.day(date(2024, 5, 1))),
            kind: Kind::Hazard,
            fish_depth: None,
            water_depth: Depth::from_feet(8.8),
            water_temp: None,
            words: Words::new("ROCK", "", "", "", ""),
            note: "".into(),
            sources: Vec::new().into(),
            repairs: Codes::default(),
        };
        let corner = |east_m: f64| lake.plane.to_place(PlanePoint { east_m, north_m: off_m });
        let way = Way {
            path: vec![corner(-500.0), corner(500.0)],
            slow_s: 0.0,
            slack_s: 0.0,
            straight_m: 1000.0,
            kept_off_m: 20.0,
            straight: false,
        };
        let near =
            near_hazards(&[rock], &lake, date(2026, 10, 24), Distance::from_metres(clearance_m), &[way]);
        assert_eq!(near.first().map(|h| h.told(&lake)).as_deref(), told);
        assert!(near.iter().all(|h| (h.off_m - off_m).abs() < 0.01 && h.leg == 0));
    }

    #[test]
    fn a_hazard_beside_a_leg_is_told_with_the_water_over_it_that_day() {
        // 612 - 8.8 = 603.2; 604 - 603.2 = 0.8 (worked by hand).
        check(60.0, Some(604.0), 3.0, Some("ROCK: 0.8 ft over it (8.8 at full pool)"));
        check(60.0, Some(602.0), 3.0, Some("ROCK: stands 1.2 ft out of the water (8.8 at full pool)"));
        check(60.0, Some(612.0), 3.0, Some("ROCK: 8.8 ft over it (8.8 at full pool)"));
        check(60.0, Some(612.0), 2.0, None);
        check(400.0, Some(604.0), 3.0, None);
        check(
            60.0,
            None,
            2.0,
            Some("ROCK: level that day not known; 0.8 ft over it at the lowest given (8.8 at full pool)"),
        );
    }
}
