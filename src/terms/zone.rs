//! Areas of water with a rule: closed, or slow; and when the rule is in force.

use geo::MultiPolygon;
use jiff::civil::{Date, DateTime, Time};

/// What holds in an area.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum ZoneKind {
    /// No boat may be there.
    Closed,
    /// No boat may be faster.
    Slow {
        /// Greatest speed in metres a second.
        m_s: f64,
    },
}

/// An end of the time in which a rule is in force, as the user wrote it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ZoneTime {
    /// A day of one year: `2025-10-06`.
    Day(Date),
    /// A day of every year, as month and day: `11-01`.
    EveryYear {
        /// 1 to 12.
        month: i8,
        /// 1 to 31.
        day: i8,
    },
    /// A time of every day: `22:00`.
    EveryDay(Time),
    /// A moment: `2025-10-06T07:30`.
    Moment(DateTime),
}

/// An area of water with a rule.
#[derive(Clone, Debug, PartialEq)]
pub struct Zone {
    /// Its name, or its number in the file.
    pub name: String,
    /// The rule.
    pub kind: ZoneKind,
    /// Polygons in degrees, longitude first.
    pub area: MultiPolygon<f64>,
    /// From when the rule is in force, itself included; `None`: since ever.
    pub from: Option<ZoneTime>,
    /// Until when, a day included, a time excluded; `None`: for ever.
    pub until: Option<ZoneTime>,
}

impl Zone {
    /// Whether the rule is in force at some moment of a stretch of local time, its ends included.
    ///
    /// Two days of every year, or two times of every day, may pass the year's end or midnight: `11-01` to `03-15`,
    /// `22:00` to `05:00`.
    #[must_use]
    pub fn in_force(&self, first: DateTime, last: DateTime) -> bool {
        use ZoneTime::{EveryDay, EveryYear};
        match (self.from, self.until) {
            (Some(EveryYear { month: m1, day: d1 }), Some(EveryYear { month: m2, day: d2 })) => {
                let (from, until) = ((m1, d1), (m2, d2));
                days(first.date(), last.date()).any(|d| {
                    let day = (d.month(), d.day());
                    if from <= until { from <= day && day <= until } else { from <= day || day <= until }
                })
            }
            (Some(EveryDay(from)), Some(EveryDay(until))) => {
                days(first.date().yesterday().unwrap_or(first.date()), last.date()).any(|d| {
                    let end = if from < until { Some(d) } else { d.tomorrow().ok() };
                    end.is_some_and(|e| d.to_datetime(from) <= last && first < e.to_datetime(until))
                })
            }
            (from, until) => {
                let begins = from.is_none_or(|t| days(first.date(), last.date()).any(|d| t.begun(d, last)));
                let ends = until.is_none_or(|t| days(first.date(), last.date()).any(|d| t.lasts(d, first)));
                begins && ends
            }
        }
    }
}

impl ZoneTime {
    /// Whether a rule that begins so has begun by a moment, a day of which is `day`.
    fn begun(self, day: Date, moment: DateTime) -> bool {
        match self {
            Self::Day(date) => date <= moment.date(),
            Self::EveryYear { month, day: d } => (month, d) <= (day.month(), day.day()),
            Self::EveryDay(time) => day.to_datetime(time) <= moment,
            Self::Moment(begin) => begin <= moment,
        }
    }

    /// Whether a rule that ends so still lasts at a moment, a day of which is `day`.
    fn lasts(self, day: Date, moment: DateTime) -> bool {
        match self {
            Self::Day(date) => moment.date() <= date,
            Self::EveryYear { month, day: d } => (day.month(), day.day()) <= (month, d),
            Self::EveryDay(time) => moment < day.to_datetime(time),
            Self::Moment(end) => moment < end,
        }
    }
}

/// The days from one to another, at most 400: more is every day of a year.
fn days(first: Date, last: Date) -> impl Iterator<Item = Date> {
    first.series(jiff::Span::new().days(1)).take_while(move |d| *d <= last).take(400)
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    fn zone(from: Option<ZoneTime>, until: Option<ZoneTime>) -> Zone {
        let area = MultiPolygon::new(Vec::new());
        Zone { name: String::new(), kind: ZoneKind::Closed, area, from, until }
    }

    /// Whether a zone is in force on 2025-month-day between two hours.
    fn on(zone: &Zone, month: i8, day: i8, hours: [i8; 2]) -> bool {
        let at = |hour| date(2025, month, day).at(hour, 0, 0, 0);
        zone.in_force(at(hours[0]), at(hours[1]))
    }

    #[test]
    fn days_of_every_year_pass_the_years_end() {
        let winter = zone(
            Some(ZoneTime::EveryYear { month: 11, day: 1 }),
            Some(ZoneTime::EveryYear { month: 3, day: 15 }),
        );
        let got: Vec<bool> = [(10, 31), (11, 1), (12, 31), (1, 1), (3, 15), (3, 16)]
            .map(|(m, d)| on(&winter, m, d, [6, 15]))
            .to_vec();
        assert_eq!(got, [false, true, true, true, true, false]);
    }

    #[test]
    fn times_of_every_day_pass_midnight() {
        let night = zone(
            Some(ZoneTime::EveryDay(Time::constant(22, 0, 0, 0))),
            Some(ZoneTime::EveryDay(Time::constant(5, 0, 0, 0))),
        );
        assert!(on(&night, 5, 1, [4, 12]) && on(&night, 5, 1, [15, 23]) && on(&night, 5, 1, [22, 22]));
        assert!(!on(&night, 5, 1, [5, 12]) && !on(&night, 5, 1, [6, 21]));
    }

    #[test]
    fn dates_are_included_and_moments_end() {
        let event = zone(Some(ZoneTime::Day(date(2025, 10, 6))), Some(ZoneTime::Day(date(2025, 10, 15))));
        assert!(on(&event, 10, 6, [0, 1]) && on(&event, 10, 15, [22, 23]));
        assert!(!on(&event, 10, 5, [22, 23]) && !on(&event, 10, 16, [0, 1]));
        let until_noon = zone(None, Some(ZoneTime::Moment(date(2025, 10, 6).at(12, 0, 0, 0))));
        assert!(on(&until_noon, 10, 6, [11, 13]) && !on(&until_noon, 10, 6, [12, 13]));
        assert!(on(&zone(None, None), 1, 1, [0, 0]));
    }
}
