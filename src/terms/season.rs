//! The season as a circle: day of the year as a place on it, and which season an outing belongs to.

use jiff::civil::Date;

/// Mean length of the year in days, the length of the circle (Gregorian rounding, 365.25).
pub const YEAR_DAYS: f64 = 365.25;

/// Day of the year as a place on a circle: 0 is 1 January, in `[0, 365.25)`.
///
/// A calendar date has the same season day every year: 1 March is 59 in leap years too, and 29 February
/// shares the middle of the step from 28 February to it.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct SeasonDay(f64);

impl SeasonDay {
    /// Any real number of days, brought onto the circle.
    #[must_use]
    pub fn from_days(days: f64) -> Self {
        let day = days.rem_euclid(YEAR_DAYS);
        // rem_euclid of a tiny negative number rounds to the modulus itself.
        Self(if day >= YEAR_DAYS { 0.0 } else { day })
    }

    /// The season day of a local calendar date.
    #[must_use]
    pub fn from_date(date: Date) -> Self {
        if date.month() == 2 && date.day() == 29 {
            return Self(58.5);
        }
        let after_leap_day = date.in_leap_year() && date.month() > 2;
        Self(f64::from(date.day_of_year()) - 1.0 - f64::from(u8::from(after_leap_day)))
    }

    /// Days since 1 January, in `[0, 365.25)`.
    #[must_use]
    pub const fn days(self) -> f64 {
        self.0
    }

    /// Shortest way round the circle from `self` to `other`, in days, in `[-182.625, 182.625)`.
    #[must_use]
    pub fn days_to(self, other: Self) -> f64 {
        (other.0 - self.0 + YEAR_DAYS / 2.0).rem_euclid(YEAR_DAYS) - YEAR_DAYS / 2.0
    }

    /// Days between two season days the short way round, in `[0, 182.625]`.
    #[must_use]
    pub fn days_apart(self, other: Self) -> f64 {
        self.days_to(other).abs()
    }

    /// The season day `days` later (earlier when negative).
    #[must_use]
    pub fn plus(self, days: f64) -> Self {
        Self::from_days(self.0 + days)
    }

    /// The calendar day it falls on, as `MM-DD`.
    #[must_use]
    pub fn month_day(self) -> String {
        let mut day = (self.0 as i32).min(364);
        for (month, length) in (1..).zip([31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31]) {
            if day < length {
                return format!("{month:02}-{:02}", day + 1);
            }
            day -= length;
        }
        String::from("12-31")
    }
}

/// Where one season ends and the next begins: a month and a day.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SeasonStart {
    month: i8,
    day: i8,
}

impl Default for SeasonStart {
    /// 1 January: the season is the calendar year.
    fn default() -> Self {
        Self { month: 1, day: 1 }
    }
}

impl SeasonStart {
    /// Reads `MM-DD`; `None` when it is no calendar day.
    #[must_use]
    pub fn from_month_day(text: &str) -> Option<Self> {
        let (month, day) = text.split_once('-')?;
        let date = Date::new(2024, month.trim().parse().ok()?, day.trim().parse().ok()?).ok()?;
        Some(Self { month: date.month(), day: date.day() })
    }

    /// The season that a date belongs to, named by the year in which that season began.
    #[must_use]
    pub fn season_of(self, date: Date) -> i16 {
        if (date.month(), date.day()) < (self.month, self.day) { date.year() - 1 } else { date.year() }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    #[test]
    fn new_year_is_one_step_and_leap_years_do_not_shift_march() {
        let (dec, jan) = (SeasonDay::from_date(date(2023, 12, 31)), SeasonDay::from_date(date(2024, 1, 1)));
        assert!((dec.days_to(jan) - 1.25).abs() < 1e-9);
        for (y, m, d, text) in [(2024, 3, 1, "03-01"), (2023, 3, 1, "03-01"), (2024, 12, 31, "12-31")] {
            assert_eq!(SeasonDay::from_date(date(y, m, d)).month_day(), text);
        }
        assert_eq!(SeasonDay::from_date(date(2024, 2, 29)).month_day(), "02-28");
    }

    #[test]
    fn a_season_that_starts_in_september_is_named_by_that_year() {
        let start = SeasonStart::from_month_day("09-01").unwrap();
        assert_eq!(start.season_of(date(2024, 8, 31)), 2023);
        assert_eq!(start.season_of(date(2024, 9, 1)), 2024);
        assert_eq!(SeasonStart::from_month_day("13-01"), None);
    }
}
