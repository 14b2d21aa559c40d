//! Reads a time as text: RFC 3339 and the ISO 8601 forms near it.

use crate::terms::instant::Instant;
use crate::terms::mark::RawTime;
use jiff::civil::{Date, DateTime, Time};

/// Most characters of an unreadable time that are kept for the finding.
const MOST_KEPT: usize = 40;

/// Reads what a `time` element or cell says.
///
/// With an offset it is a moment; without one a civil time; without a clock a date. A leap second (`:60`) is read as
/// the second after `:59`, as POSIX time does. Empty text is no time.
pub(super) fn read_time(text: &str) -> RawTime {
    let text = text.trim();
    if text.is_empty() {
        return RawTime::Missing;
    }
    if let Some(instant) = utc_seconds(text.as_bytes()) {
        return RawTime::Instant(instant);
    }
    iso(text).unwrap_or_else(|| unreadable(text))
}

/// A time that is none, cut to what a finding needs.
pub(super) fn unreadable(text: &str) -> RawTime {
    RawTime::Unreadable(text.chars().take(MOST_KEPT).collect::<String>().into_boxed_str())
}

/// The form in which nearly all GPX times come, `YYYY-MM-DDTHH:MM:SS[.fff]Z`: read without a detour.
fn utc_seconds(text: &[u8]) -> Option<Instant> {
    let (head, tail) = text.split_at_checked(19)?;
    if head[4] != b'-' || head[7] != b'-' || head[10] != b'T' || head[13] != b':' || head[16] != b':' {
        return None;
    }
    let ms = match tail {
        b"Z" => 0,
        [b'.', a, b'Z'] => digit(*a)? * 100,
        [b'.', a, b, b'Z'] => digit(*a)? * 100 + digit(*b)? * 10,
        [b'.', a, b, c, b'Z'] => digit(*a)? * 100 + digit(*b)? * 10 + digit(*c)?,
        _ => return None,
    };
    let two = |at: usize| Some(digit(head[at])? * 10 + digit(head[at + 1])?);
    let (year, month, day) = (two(0)? * 100 + two(2)?, two(5)?, two(8)?);
    let (hour, minute, second) = (two(11)?, two(14)?, two(17)?);
    let leap = year % 4 == 0 && (year % 100 != 0 || year % 400 == 0);
    let days_in_month = match month {
        1 | 3 | 5 | 7 | 8 | 10 | 12 => 31,
        4 | 6 | 9 | 11 => 30,
        2 => 28 + i64::from(leap),
        _ => return None,
    };
    if !(1..=days_in_month).contains(&day) || hour > 23 || minute > 59 || second > 60 {
        return None;
    }
    let seconds = ((days_since_1970(year, month, day) * 24 + hour) * 60 + minute) * 60 + second;
    Some(Instant::from_unix_ms(seconds * 1000 + ms))
}

fn digit(byte: u8) -> Option<i64> {
    byte.is_ascii_digit().then(|| i64::from(byte - b'0'))
}

/// Days from 1970-01-01 in the proleptic Gregorian calendar, years counted from March so that the leap day is last.
const fn days_since_1970(year: i64, month: i64, day: i64) -> i64 {
    let year = if month <= 2 { year - 1 } else { year };
    let month = (month + 9) % 12;
    let day_of_year = (153 * month + 2) / 5 + day - 1;
    // 719_468 days lie between 0000-03-01 and 1970-01-01.
    year * 365 + year.div_euclid(4) - year.div_euclid(100) + year.div_euclid(400) + day_of_year - 719_468
}

/// Date, then `T`, `t`, blank or nothing, then time of day, then offset or nothing.
fn iso(text: &str) -> Option<RawTime> {
    let date = date(text.get(..10)?)?;
    let rest = text[10..].trim_start();
    let rest = rest.strip_prefix(['T', 't']).unwrap_or(rest).trim();
    if rest.is_empty() {
        return Some(RawTime::Date(date));
    }
    let end =
        rest.find(|c: char| !(c.is_ascii_digit() || matches!(c, ':' | '.' | ','))).unwrap_or(rest.len());
    let (time, extra_s) = time_of_day(&rest[..end])?;
    let civil = DateTime::from_parts(date, time);
    let offset_s = match rest[end..].trim() {
        "" => {
            let seconds = jiff::Span::new().try_seconds(extra_s).ok()?;
            return Some(RawTime::Civil(civil.checked_add(seconds).ok()?));
        }
        "Z" | "z" | "UTC" | "utc" | "GMT" => 0,
        offset => offset_seconds(offset)?,
    };
    let days = days_since_1970(date.year().into(), date.month().into(), date.day().into());
    let seconds = days * 86400
        + i64::from(time.hour()) * 3600
        + i64::from(time.minute()) * 60
        + i64::from(time.second())
        - offset_s
        + extra_s;
    Some(RawTime::Instant(Instant::from_unix_ms(
        seconds * 1000 + i64::from(time.subsec_nanosecond() / 1_000_000),
    )))
}

/// `YYYY-MM-DD`, also with `/` or `.` between.
fn date(text: &str) -> Option<Date> {
    let (year, rest) = (text.get(..4)?, text.get(4..)?);
    let separator = rest.chars().next().filter(|c| matches!(c, '-' | '/' | '.'))?;
    let (month, day) = rest[1..].split_once(separator)?;
    Date::new(number(year)?, number(month)?, number(day)?).ok()
}

/// `HH:MM`, `HH:MM:SS` or `HH:MM:SS.fff`; the second value is 1 for a leap second.
pub(super) fn time_of_day(text: &str) -> Option<(Time, i64)> {
    let (hour, rest) = text.split_once(':')?;
    let (minute, seconds) = rest.split_once(':').unwrap_or((rest, "0"));
    let (second, fraction) = seconds.split_once(['.', ',']).unwrap_or((seconds, ""));
    if !fraction.bytes().all(|b| b.is_ascii_digit()) {
        return None;
    }
    let ms: i32 = format!("{fraction:0<3}").get(..3)?.parse().ok()?;
    let second: i8 = number(second)?;
    let extra_s = i64::from(second == 60);
    Time::new(number(hour)?, number(minute)?, second.min(60 - extra_s as i8), ms * 1_000_000)
        .ok()
        .map(|time| (time, extra_s))
}

/// `+05:00`, `-0500`, `+05`.
fn offset_seconds(text: &str) -> Option<i64> {
    let (sign, digits) = match text.as_bytes().first()? {
        b'+' => (1, &text[1..]),
        b'-' => (-1, &text[1..]),
        _ => return None,
    };
    let (hours, minutes) = match digits.len() {
        2 => (digits, "0"),
        4 => digits.split_at_checked(2)?,
        _ => digits.split_once(':')?,
    };
    let (hours, minutes): (i64, i64) = (number(hours)?, number(minutes)?);
    (hours <= 18 && minutes <= 59).then(|| sign * (hours * 3600 + minutes * 60))
}

/// Digits only, so that no sign or blank slips through.
pub(super) fn number<T: std::str::FromStr>(text: &str) -> Option<T> {
    text.bytes().all(|b| b.is_ascii_digit()).then(|| text.parse().ok()).flatten()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(text: &str, expected: &str) {
        let seen = match read_time(text) {
            RawTime::Missing => "missing".to_owned(),
            RawTime::Instant(instant) => instant.rfc3339(),
            RawTime::Civil(civil) => civil.to_string(),
            RawTime::Date(date) => date.to_string(),
            RawTime::Unreadable(text) => format!("no: {text}"),
        };
        assert_eq!(seen, expected, "{text}");
    }

    #[test]
    fn an_offset_of_more_hours_than_a_number_holds_is_none() {
        // Found by fuzzing: it was multiplied before it was judged.
        let text = "2024-05-01T12:00:00+9000000000000000000:00";
        check(text, &format!("no: {}", &text[..40]));
    }

    #[test]
    fn moments_in_the_forms_of_rfc_3339() {
        // Examples of RFC 3339, section 5.8.
        check("1985-04-12T23:20:50.52Z", "1985-04-12T23:20:50.52Z");
        check("1996-12-19T16:39:57-08:00", "1996-12-20T00:39:57Z");
        check("1937-01-01T12:00:27.87+00:20", "1937-01-01T11:40:27.87Z");
        check("2024-05-01 12:00:00Z", "2024-05-01T12:00:00Z");
        check("2024-05-01T12:00:00.123456Z", "2024-05-01T12:00:00.123Z");
        check("2024-05-01T12:00:00+0530", "2024-05-01T06:30:00Z");
        check("2024-05-01T12:00:00+05", "2024-05-01T07:00:00Z");
    }

    #[test]
    fn a_leap_second_is_the_second_after() {
        check("1990-12-31T23:59:60Z", "1991-01-01T00:00:00Z");
        check("1990-12-31T15:59:60-08:00", "1991-01-01T00:00:00Z");
        check("2016-12-31T23:59:60", "2017-01-01T00:00:00");
    }

    #[test]
    fn without_an_offset_it_is_civil_and_without_a_clock_a_date() {
        check("2024-05-01T12:00:00", "2024-05-01T12:00:00");
        check("2024-05-01 12:30", "2024-05-01T12:30:00");
        check("2024/05/01", "2024-05-01");
        check(" ", "missing");
    }

    #[test]
    fn what_is_no_time_is_kept_as_text() {
        for text in
            ["24:00", "2024-02-30T00:00:00Z", "2023-02-29T00:00:00Z", "2024-05-01T25:00:00Z", "gestern"]
        {
            check(text, &format!("no: {text}"));
        }
        check(&"9".repeat(100), &format!("no: {}", "9".repeat(40)));
    }

    #[test]
    fn the_fast_form_agrees_with_the_calendar() {
        for days in (-40_000..40_000).step_by(13) {
            let t = Instant::from_unix_s(days * 86_400 + 3_661);
            assert_eq!(utc_seconds(t.rfc3339().as_bytes()), Some(t));
        }
    }
}
