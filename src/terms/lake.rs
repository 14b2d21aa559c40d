//! The lake: its plane, its water, its clock and its level.

use crate::terms::instant::Instant;
use crate::terms::mark::LocalDay;
use crate::terms::place::{LocalPlane, Place, PlanePoint};
use crate::terms::season::{SeasonDay, SeasonStart};
use crate::terms::units::Units;
use crate::terms::water::Water;
use jiff::civil::{Date, Time};
use jiff::tz::TimeZone;
use std::collections::BTreeMap;

/// What all stages know about the lake.
#[derive(Clone, Debug)]
pub struct Lake {
    /// Its name; empty when the user gave none.
    pub name: String,
    /// Its clock.
    pub time_zone: TimeZone,
    /// The plane on which distances are measured.
    pub plane: LocalPlane,
    /// Its water, where a shoreline was given.
    pub water: Option<Water>,
    /// Level of the surface by local date in metres above the user's datum; empty when not given.
    pub levels_m: BTreeMap<Date, f64>,
    /// Level at full pool in metres above the same datum; `None`: not given.
    pub full_pool_m: Option<f64>,
    /// Level to expect in metres on days to come, of which no reading can tell; `None`: not given.
    pub expected_level_m: Option<f64>,
    /// What the levels are counted from, as the user calls it; empty: not told.
    pub level_datum: String,
    /// Where a season begins.
    pub season_start: SeasonStart,
    /// Units of all outputs.
    pub units: Units,
}

impl Lake {
    /// A lake of which nothing is known but its centre: UTC, calendar-year seasons, US units.
    #[must_use]
    pub fn unknown_at(centre: Place) -> Self {
        Self {
            name: String::new(),
            time_zone: TimeZone::UTC,
            plane: LocalPlane::new(centre),
            water: None,
            levels_m: BTreeMap::new(),
            full_pool_m: None,
            expected_level_m: None,
            level_datum: String::new(),
            season_start: SeasonStart::default(),
            units: Units::default(),
        }
    }

    /// Metres on the lake's plane.
    #[must_use]
    pub fn to_plane(&self, place: Place) -> PlanePoint {
        self.plane.to_plane(place)
    }

    /// The outing day of a calendar date at the lake.
    #[must_use]
    pub fn day(&self, date: Date) -> LocalDay {
        LocalDay { date, season: self.season_start.season_of(date), season_day: SeasonDay::from_date(date) }
    }

    /// The outing day of a moment; `None` outside the years -9999 to 9999.
    #[must_use]
    pub fn day_of(&self, time: Instant) -> Option<LocalDay> {
        time.local_date(&self.time_zone).map(|date| self.day(date))
    }

    /// Level on a date in metres: the reading of that day, else the line between the readings around it when they
    /// are at most 31 days apart; `None` without them. A level is never carried past the ends of the series.
    #[must_use]
    pub fn level_m(&self, date: Date) -> Option<f64> {
        if let Some(level) = self.levels_m.get(&date) {
            return Some(*level);
        }
        let (before, level_before) = self.levels_m.range(..date).next_back()?;
        let (after, level_after) = self.levels_m.range(date..).next()?;
        let days = |from: Date, to: Date| f64::from((to - from).get_days());
        let gap = days(*before, *after);
        (gap <= 31.0).then(|| level_before + (level_after - level_before) * days(*before, date) / gap)
    }

    /// Level on a day to plan for: a reading, else the one that the user expects.
    #[must_use]
    pub fn level_ahead_m(&self, date: Date) -> Option<f64> {
        self.level_m(date).or(self.expected_level_m)
    }

    /// Lowest level of the readings in metres.
    #[must_use]
    pub fn lowest_level_m(&self) -> Option<f64> {
        self.levels_m.values().copied().reduce(f64::min)
    }

    /// A level as it is told: `606.5 ft (VD-0)`.
    #[must_use]
    pub fn level_text(&self, level_m: f64) -> String {
        let datum = if self.level_datum.is_empty() { "your datum" } else { &self.level_datum };
        format!("{:.1} {} ({datum})", self.units.short_from_metres(level_m), self.units.short_length())
    }
}

/// Local dates of moments, remembering the day last asked for: points come by the thousand a day.
#[derive(Debug, Default)]
pub struct LocalDates {
    known: Option<(i64, i64, Date)>,
}

impl LocalDates {
    /// The local date of a moment in milliseconds since 1970; `None` outside the years -9999 to 9999.
    pub fn date_of(&mut self, ms: i64, lake: &Lake) -> Option<Date> {
        if let Some((from, to, date)) = self.known
            && (from..to).contains(&ms)
        {
            return Some(date);
        }
        let date = Instant::from_unix_ms(ms).local_date(&lake.time_zone)?;
        let start = |d: Date| {
            let midnight = d.to_datetime(Time::midnight());
            Some(lake.time_zone.to_timestamp(midnight).ok()?.as_millisecond())
        };
        if let (Some(from), Some(to)) = (start(date), date.tomorrow().ok().and_then(start)) {
            self.known = Some((from, to, date));
        }
        Some(date)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    #[test]
    fn a_level_between_two_readings_lies_on_the_line_and_never_beyond_them() {
        let mut lake = Lake::unknown_at(Place { lon: -94.0, lat: 35.0 });
        lake.levels_m =
            [(date(2024, 1, 1), 100.0), (date(2024, 1, 11), 110.0), (date(2024, 6, 1), 90.0)].into();
        assert_eq!(lake.level_m(date(2024, 1, 6)), Some(105.0));
        assert_eq!(lake.level_m(date(2024, 1, 11)), Some(110.0));
        assert_eq!(lake.level_m(date(2024, 3, 1)), None);
        assert_eq!(lake.level_m(date(2024, 7, 1)), None);
    }
}
