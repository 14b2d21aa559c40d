//! The practice days on the clock of the lake: launch, off the water, daylight.

use crate::prefish::settings::Settings;
use crate::terms::finding::{Code, Finding};
use crate::terms::instant::Instant;
use crate::terms::lake::Lake;
use crate::terms::place::Place;
use crate::terms::sun::{SunDay, sun_day};
use jiff::civil::{Date, Time};
use jiff::tz::AmbiguousOffset;

/// The hours of one practice day.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Window {
    /// The local date.
    pub date: Date,
    /// The boat leaves.
    pub launch: Instant,
    /// The boat is back.
    pub off_water: Instant,
    /// The sun of that day at the ramp.
    pub sun: SunDay,
}

/// The moment of a clock time on a date at the lake. Of a time that the clock shows twice, the first.
///
/// # Errors
/// When the clock never shows it, because it was set forward over it.
pub(super) fn on_clock(date: Date, time: Time, lake: &Lake) -> Result<Instant, String> {
    let clock = lake.time_zone.to_ambiguous_timestamp(date.to_datetime(time));
    if matches!(clock.offset(), AmbiguousOffset::Gap { .. }) {
        return Err(format!(
            "the clock never shows `{}` on {date}: it is set forward that day",
            time.strftime("%H:%M")
        ));
    }
    clock.compatible().map(Instant::from).map_err(|e| format!("`{date}` cannot be planned: {e}"))
}

/// `07:05` on the lake's clock.
#[must_use]
pub fn clock_text(moment: Instant, lake: &Lake) -> String {
    moment
        .timestamp()
        .map_or_else(String::new, |t| lake.time_zone.to_datetime(t).strftime("%H:%M").to_string())
}

/// The hours of a day: from launch, or first light, to off the water, all in civil daylight at the ramp.
///
/// # Errors
/// When nothing is left between the two, or the clock does not show them.
pub(super) fn window(
    date: Date,
    launch: Option<Time>,
    settings: &Settings,
    ramp: Place,
    lake: &Lake,
    findings: &mut Vec<Finding>,
) -> Result<Window, String> {
    let sun = sun_day(ramp, date, &lake.time_zone);
    let given = launch.map(|time| on_clock(date, time, lake)).transpose()?;
    let mut start = match (given, sun.dawn) {
        (Some(given), _) => given,
        (None, Some(dawn)) => dawn,
        (None, None) => {
            return Err(format!("there is no first light on {date} at this latitude: set prefish.launch"));
        }
    };
    let mut end = on_clock(date, settings.off_water, lake)?;
    if end <= start {
        return Err(format!(
            "the day is over before it begins on {date}: launch `{}`, off the water `{}`; a day ends on its own date",
            clock_text(start, lake),
            clock_text(end, lake)
        ));
    }
    if let Some(dawn) = sun.dawn.filter(|dawn| start < *dawn) {
        findings.push(
            Finding::new(
                Code::PrefishDaylight,
                format!("launch `{}` on {date} is before civil dawn", clock_text(start, lake)),
            )
            .done(format!("moved to `{}`: no leg is planned in the dark", clock_text(dawn, lake))),
        );
        start = dawn;
    }
    if let Some(dusk) = sun.dusk.filter(|dusk| *dusk < end) {
        findings.push(
            Finding::new(
                Code::PrefishDaylight,
                format!("off the water `{}` on {date} is after civil dusk", clock_text(end, lake)),
            )
            .done(format!("moved to `{}`: no leg is planned in the dark", clock_text(dusk, lake))),
        );
        end = dusk;
    }
    if end <= start {
        return Err(format!("no daylight is left on {date} between launch and off the water"));
    }
    Ok(Window { date, launch: start, off_water: end, sun })
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;
    use jiff::tz::TimeZone;

    const RAMP: Place = Place { lon: -94.1, lat: 35.2 };

    fn lake() -> Lake {
        Lake { time_zone: TimeZone::get("America/Chicago").unwrap(), ..Lake::unknown_at(RAMP) }
    }

    /// The hours of a day and what is told, or the error.
    #[track_caller]
    fn check(day: Date, launch: &str, off_water: &str, expected: &str) {
        let time = |text: &str| crate::prefish::settings::read_clock(text).unwrap();
        let settings = Settings { off_water: time(off_water), ..Settings::default() };
        let launch = (!launch.is_empty()).then(|| time(launch));
        let mut findings = Vec::new();
        let got = match window(day, launch, &settings, RAMP, &lake(), &mut findings) {
            Ok(w) => {
                let hours = [w.launch, w.off_water].map(|t| clock_text(t, &lake())).join(" ");
                let long_min = w.off_water.seconds_since(w.launch) / 60.0;
                format!("{hours} {long_min:.0} min, {} told", findings.len())
            }
            Err(error) => error,
        };
        assert!(got.contains(expected), "{got}");
    }

    #[test]
    fn a_day_begins_at_civil_dawn_and_keeps_to_daylight() {
        check(date(2027, 1, 9), "07:30", "15:00", "07:30 15:00 450 min, 0 told");
        // Civil dawn there that day, as `terms::sun` tells it, which is tested against two libraries.
        check(date(2027, 1, 9), "", "15:00", "06:57 15:00 482 min, 0 told");
        check(date(2027, 1, 9), "05:00", "15:00", "1 told");
        check(date(2027, 1, 9), "07:30", "23:00", "1 told");
    }

    #[test]
    fn a_day_that_is_over_or_runs_past_midnight_is_refused() {
        check(date(2027, 1, 9), "15:00", "15:00", "the day is over before it begins");
        check(date(2027, 1, 9), "07:00", "02:00", "a day ends on its own date");
        check(date(2027, 1, 9), "20:00", "23:00", "no daylight is left");
        check(date(2027, 1, 9), "03:00", "05:00", "no daylight is left");
    }

    #[test]
    fn a_clock_set_forward_or_back_changes_the_length_of_the_day_and_not_its_hours() {
        // 2027-03-14: 02:00 becomes 03:00. 2027-11-07: 02:00 becomes 01:00 (US rule).
        check(date(2027, 3, 14), "02:30", "15:00", "the clock never shows `02:30` on 2027-03-14");
        check(date(2027, 3, 14), "08:00", "15:00", "08:00 15:00 420 min");
        let gap = |day| {
            let at = |hour| on_clock(day, Time::constant(hour, 30, 0, 0), &lake()).unwrap();
            at(4).seconds_since(at(1)) / 3600.0
        };
        assert!((gap(date(2027, 3, 14)) - 2.0).abs() < 1e-9);
        assert!((gap(date(2027, 11, 7)) - 4.0).abs() < 1e-9);
    }
}
