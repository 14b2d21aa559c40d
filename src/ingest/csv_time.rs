//! Reads dates and times of CSV cells, where day and month may stand in either order.

use super::time_text::{number, read_time, time_of_day};
use crate::terms::mark::RawTime;
use jiff::civil::{Date, DateTime, Time};

/// Which of two numbers is the day.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Order {
    /// 17/5/2024.
    DayFirst,
    /// 5/17/2024.
    MonthFirst,
}

/// What the cells of a row say.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum CellTime {
    /// Read.
    Known(RawTime),
    /// A date with day and month as numbers.
    Numbers(NumberedDate),
}

/// A date whose first two numbers are day and month in one order or the other.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct NumberedDate {
    first: i8,
    second: i8,
    year: i16,
    time: Option<Time>,
    utc: bool,
    dotted: bool,
}

impl NumberedDate {
    /// The order that this date tells by itself: one number above twelve, or dots (`17.5.2024`), which only countries
    /// with the day first write (common practice, no source).
    pub(super) fn order(self) -> Option<Order> {
        if self.first > 12 || (self.dotted && self.second <= 12) {
            Some(Order::DayFirst)
        } else {
            (self.second > 12).then_some(Order::MonthFirst)
        }
    }

    /// Whether both orders give one date.
    pub(super) const fn is_same_either_way(self) -> bool {
        self.first == self.second
    }

    /// The same, meant in UTC.
    pub(super) const fn in_utc(self) -> Self {
        Self { utc: true, ..self }
    }

    /// The time in the given order; `None` when there is no such date.
    pub(super) fn read(self, order: Order) -> Option<RawTime> {
        let (day, month) = match order {
            Order::DayFirst => (self.first, self.second),
            Order::MonthFirst => (self.second, self.first),
        };
        Some(moment(Date::new(self.year, month, day).ok()?, self.time, self.utc))
    }
}

/// Reads a date and time in one cell, or a date and a time of day in two.
pub(super) fn read_cells(date: &str, clock: &str) -> CellTime {
    let (mut date, mut clock) = (date.trim(), clock.trim());
    if !date.is_empty() && !clock.is_empty() {
        // Spreadsheets write a date as its midnight, and a time of day as one on the first day that they know.
        date = if date.contains(':') { date.split([' ', 'T']).next().unwrap_or(date) } else { date };
        clock = match clock.split_once([' ', 'T']) {
            Some((day, rest)) if day.contains(['-', '/']) && rest.contains(':') => rest,
            _ => clock,
        };
    }
    let both = [date, clock].join(" ");
    let both = both.trim();
    let known = read_time(both);
    if !matches!(known, RawTime::Unreadable(_)) {
        return CellTime::Known(known);
    }
    parts(both).unwrap_or(CellTime::Known(known))
}

/// A date without an offset, then nothing, a time of day on 24 or 12 hours, and perhaps `UTC`.
fn parts(text: &str) -> Option<CellTime> {
    let text = text.to_lowercase();
    let (text, utc) = ["utc", "gmt", "z"]
        .iter()
        .find_map(|zone| text.strip_suffix(zone))
        .map_or((text.as_str(), false), |rest| (rest.trim_end(), true));
    let (text, half) = half_of_day(text);
    let (date, clock) = date_and_clock(text, half.is_some());
    let time = match clock {
        "" if half.is_none() => None,
        clock => Some(clock_time(clock, half)?),
    };
    let words: Vec<&str> = date
        .split(|c: char| matches!(c, '/' | '-' | '.' | ',') || c.is_whitespace())
        .filter(|w| !w.is_empty())
        .collect();
    let words = match words[..] {
        [weekday, a, b, c] if weekday.chars().all(char::is_alphabetic) && month_named(weekday).is_none() => {
            [a, b, c]
        }
        [a, b, c] => [a, b, c],
        _ => return None,
    };
    if let [year, month, day] = words
        && year.len() == 4
        && let Some(year) = number(year)
    {
        let month = month_named(month).or_else(|| number(month))?;
        return Some(CellTime::Known(moment(Date::new(year, month, number(day)?).ok()?, time, utc)));
    }
    let [a, b, year] = words;
    let year = full_year(year)?;
    // A month in letters tells the order.
    for (month, day) in [(a, b), (b, a)] {
        if let Some(month) = month_named(month) {
            let day = number(day.trim_end_matches(|c: char| c.is_alphabetic()))?;
            return Some(CellTime::Known(moment(Date::new(year, month, day).ok()?, time, utc)));
        }
    }
    let (first, second) = (number(a)?, number(b)?);
    let dotted = date.contains('.') && !date.contains(['/', '-']);
    let numbers = NumberedDate { first, second, year, time, utc, dotted };
    let exists = [Order::DayFirst, Order::MonthFirst].iter().any(|order| numbers.read(*order).is_some());
    exists.then_some(CellTime::Numbers(numbers))
}

fn moment(date: Date, time: Option<Time>, utc: bool) -> RawTime {
    let Some(time) = time else { return RawTime::Date(date) };
    let civil = DateTime::from_parts(date, time);
    if utc { in_utc(civil) } else { RawTime::Civil(civil) }
}

/// A civil time that is meant in UTC.
pub(super) fn in_utc(civil: DateTime) -> RawTime {
    jiff::tz::TimeZone::UTC
        .to_timestamp(civil)
        .map_or(RawTime::Civil(civil), |moment| RawTime::Instant(moment.into()))
}

/// Cuts `am` or `pm` off the end; the second value is the hours to add.
fn half_of_day(text: &str) -> (&str, Option<i8>) {
    for (ending, hours) in [("am", 0), ("a.m.", 0), ("pm", 12), ("p.m.", 12)] {
        if let Some(rest) = text.strip_suffix(ending) {
            return (rest.trim_end(), Some(hours));
        }
    }
    (text, None)
}

/// Cuts a text before its time of day: the word that holds a colon, or the last one when `am` or `pm` stood behind it.
fn date_and_clock(text: &str, twelve_hours: bool) -> (&str, &str) {
    let start = match text.find(':') {
        Some(colon) => text[..colon].rfind([' ', 't', ',']).map(|at| at + 1),
        None if twelve_hours => text.rfind(' ').map(|at| at + 1),
        None => None,
    };
    match start {
        Some(start) => (text[..start].trim_end_matches([' ', 't', ',']), text[start..].trim()),
        None => (text, ""),
    }
}

fn clock_time(clock: &str, half: Option<i8>) -> Option<Time> {
    let hour_alone;
    let clock = if clock.contains(':') {
        clock
    } else {
        hour_alone = format!("{clock}:00");
        &hour_alone
    };
    let (time, extra_s) = time_of_day(clock)?;
    let Some(hours) = half else { return (extra_s == 0).then_some(time) };
    // 12 am is midnight and 12 pm noon.
    (1..=12).contains(&time.hour()).then_some(())?;
    Time::new(time.hour() % 12 + hours, time.minute(), time.second(), time.subsec_nanosecond()).ok()
}

/// Two digits are read as POSIX `%y` does: 69-99 are 1969-1999, 00-68 are 2000-2068.
fn full_year(text: &str) -> Option<i16> {
    let year: i16 = number(text)?;
    match text.len() {
        4 => Some(year),
        2 if year >= 69 => Some(1900 + year),
        2 => Some(2000 + year),
        _ => None,
    }
}

/// English month names, whole or cut to three letters or more.
fn month_named(word: &str) -> Option<i8> {
    const MONTHS: [&str; 12] = [
        "january",
        "february",
        "march",
        "april",
        "may",
        "june",
        "july",
        "august",
        "september",
        "october",
        "november",
        "december",
    ];
    let found = MONTHS.iter().position(|month| word.len() >= 3 && month.starts_with(word))?;
    i8::try_from(found + 1).ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// `date | clock` → what is read; `d` and `m` say both readings of a numbered date.
    #[track_caller]
    fn check(cells: &str, expected: &str) {
        let (date, clock) = cells.split_once('|').unwrap_or((cells, ""));
        let text = |time: &RawTime| match time {
            RawTime::Missing => "missing".to_owned(),
            RawTime::Instant(instant) => instant.rfc3339(),
            RawTime::Civil(civil) => civil.to_string(),
            RawTime::Date(date) => date.to_string(),
            RawTime::Unreadable(_) => "no".to_owned(),
        };
        let seen = match read_cells(date, clock) {
            CellTime::Known(time) => text(&time),
            CellTime::Numbers(numbers) => {
                let read = |order| numbers.read(order).map_or_else(|| "no".to_owned(), |time| text(&time));
                format!("d {} m {}", read(Order::DayFirst), read(Order::MonthFirst))
            }
        };
        assert_eq!(seen, expected, "{cells}");
    }

    #[test]
    fn iso_forms_in_one_cell_or_two() {
        check("2024-05-01T12:00:00Z", "2024-05-01T12:00:00Z");
        check("2024-05-01 07:14", "2024-05-01T07:14:00");
        check("2024-05-01|07:14:09", "2024-05-01T07:14:09");
        check("2024-5-1|7:14 pm", "2024-05-01T19:14:00");
        check("|", "missing");
        check("2024-05-01 00:00:00|1899-12-30 07:14:00", "2024-05-01T07:14:00");
        check("2024-05-01 00:00|7:14 PM", "2024-05-01T19:14:00");
        check("|2024-05-01T07:14:00Z", "2024-05-01T07:14:00Z");
    }

    #[test]
    fn numbered_dates_keep_both_readings() {
        check("3/4/2024 07:14", "d 2024-04-03T07:14:00 m 2024-03-04T07:14:00");
        check("17/5/24|7:14 AM", "d 2024-05-17T07:14:00 m no");
        check("5-17-99", "d no m 1999-05-17");
        check("17.5.2024, 7:14", "d 2024-05-17T07:14:00 m no");
        check("3/4/2024 07:14 UTC", "d 2024-04-03T07:14:00Z m 2024-03-04T07:14:00Z");
    }

    #[test]
    fn twelve_hour_clocks() {
        check("2024-05-01|12:00 am", "2024-05-01T00:00:00");
        check("2024-05-01|12:30PM", "2024-05-01T12:30:00");
        check("2024-05-01|7 a.m.", "2024-05-01T07:00:00");
        check("2024-05-01|13:00 pm", "no");
    }

    #[test]
    fn months_in_letters() {
        check("May 1, 2024 7:05 AM", "2024-05-01T07:05:00");
        check("1-May-24", "2024-05-01");
        check("Wednesday, 1 May 2024 07:05", "2024-05-01T07:05:00");
        check("Sept 3rd 2024", "2024-09-03");
    }

    #[test]
    fn what_is_no_date_is_refused() {
        for text in ["soon", "31/31/2024", "1/2", "1/2/3/4", "2024-13-01", "5/6/2024 25:00", "45413"] {
            check(text, "no");
        }
    }
}
