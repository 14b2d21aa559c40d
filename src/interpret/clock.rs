//! Clocks, first step: what a record tells of its time, and which times nobody can have logged.

use super::Draft;
use super::local_time::read_as_local;
use super::tally::Tally;
use crate::terms::finding::{Code, Finding};
use crate::terms::instant::Instant;
use crate::terms::lake::Lake;
use crate::terms::mark::RawTime;
use crate::terms::track_log::TrackLog;
use jiff::civil::{Date, DateTime, Time, date};
use jiff::tz::TimeZone;

/// Before this nobody logged waypoints by satellite: the first civil receivers came about 1989 (from memory).
pub(super) const FIRST_LOG: Date = date(1990, 1, 1);

/// Days on which clocks start that were never set: the Unix epoch, GPS week 0 (IS-GPS-200: 1980-01-06), an epoch of
/// consumer receivers, and the turn of the century (the last two: common practice, no source).
const EPOCHS: [Date; 4] = [date(1970, 1, 1), date(1980, 1, 6), date(1989, 12, 31), date(2000, 1, 1)];
/// Week 0 of the later GPS eras, midnight exactly: 1024 weeks of 7 days after one another.
const ERAS: [Date; 2] = [date(1999, 8, 22), date(2019, 4, 7)];

/// Reads the time of each record as told; a time without an offset is read in the lake's zone. In a gap or fold of
/// the zone the reading is that of RFC 5545 (`compatible` in jiff).
pub(super) fn read(
    drafts: &mut [Draft],
    track_logs: &mut [TrackLog],
    lake: &Lake,
    findings: &mut Vec<Finding>,
    tally: &mut Tally,
) {
    findings.extend(track_logs.iter_mut().filter_map(|log| read_log(log, lake)));
    for draft in drafts {
        let origin = draft.raw.origin;
        match std::mem::take(&mut draft.raw.time) {
            RawTime::Missing => tally.count(Code::ClockMissing, origin, &draft.raw.words),
            // The reader has told what the text was.
            RawTime::Unreadable(_) => {}
            RawTime::Instant(time) => {
                if time.timestamp().is_some_and(|t| is_default(TimeZone::UTC.to_datetime(t))) {
                    findings.push(default_finding(draft, &time.rfc3339()));
                } else {
                    draft.set_time(time);
                }
            }
            RawTime::Civil(civil) => {
                if is_default(civil) {
                    findings.push(default_finding(draft, &civil.to_string()));
                } else if let Ok(time) = lake.time_zone.to_ambiguous_timestamp(civil).compatible() {
                    draft.set_time(time.into());
                    draft.repairs.insert(Code::ClockNoZone);
                    tally.count_with(Code::ClockNoZone, origin, || civil.to_string());
                }
            }
            RawTime::Date(day) => {
                if EPOCHS.contains(&day) {
                    findings.push(default_finding(draft, &day.to_string()));
                } else {
                    draft.raw.time = RawTime::Date(day);
                    tally.count_with(Code::ClockDateOnly, origin, || day.to_string());
                }
            }
        }
    }
}

/// Reads the times of a track log that came without an offset in the lake's zone.
fn read_log(log: &mut TrackLog, lake: &Lake) -> Option<Finding> {
    if !log.local_times {
        return None;
    }
    let mut first = None;
    for time in log.segments.iter_mut().flatten().filter_map(|point| point.time.as_mut()) {
        first.get_or_insert(*time);
        *time = read_as_local(*time, &lake.time_zone).unwrap_or(*time);
    }
    let told = first.map_or_else(String::new, |time| time.rfc3339().trim_end_matches('Z').to_owned());
    let seen = format!("the points of a track log have times without an offset, the first `{told}`");
    Some(Finding::new(Code::ClockNoZone, seen).at(log.origin, &log.name).done("read in the lake's time zone"))
}

/// Before `FIRST_LOG` the whole day is a default (the clock ran on from its epoch); later only midnight exactly.
fn is_default(told: DateTime) -> bool {
    let midnight = told.time() == Time::midnight();
    let day = told.date();
    EPOCHS.contains(&day) && (midnight || day < FIRST_LOG) || ERAS.contains(&day) && midnight
}

fn default_finding(draft: &Draft, told: &str) -> Finding {
    draft
        .finding(Code::ClockDefault, format!("the time `{told}` is where unset clocks start"))
        .done("the mark is undated")
        .fix("write the right time into the file")
}

/// Start of a day in UTC; the zone is not asked, a day of slack is in every use.
pub(super) fn start_of(day: Date) -> Instant {
    let midnight = TimeZone::UTC.to_ambiguous_timestamp(day.to_datetime(Time::midnight())).compatible();
    midnight.map_or(Instant::from_unix_ms(i64::MAX), Instant::from)
}

/// Takes the time from marks and track points that lie after the run or before any unit could have logged them.
pub(super) fn undate_implausible(
    drafts: &mut [Draft],
    track_logs: &mut [TrackLog],
    run_date: Date,
    findings: &mut Vec<Finding>,
) {
    // The day of the run ends up to 12 hours after it ends in UTC; one more day is let for wrong zones.
    let latest = start_of(run_date).plus_s(2 * 86_400 + 12 * 3600);
    let earliest = start_of(FIRST_LOG);
    let judge = |time: Instant| match time {
        _ if time > latest => Some(Code::ClockFuture),
        _ if time < earliest => Some(Code::ClockTooOld),
        _ => None,
    };
    for draft in drafts {
        let (code, told) = match (draft.time(), draft.date()) {
            (Some(time), _) => (judge(time), time.rfc3339()),
            (None, Some(day)) => (judge(start_of(day)), day.to_string()),
            (None, None) => continue,
        };
        let Some(code) = code else { continue };
        let what = if code == Code::ClockFuture { "after the day of the run" } else { "before 1990" };
        findings.push(
            draft
                .finding(code, format!("the time `{told}` lies {what}"))
                .done("the mark is undated")
                .fix("write the right time into the file"),
        );
        draft.undate();
    }
    for point in track_logs.iter_mut().flat_map(|log| log.segments.iter_mut().flatten()) {
        point.time = point.time.filter(|time| judge(*time).is_none());
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::terms::export::FileId;
    use crate::terms::mark::Origin;
    use crate::terms::place::Place;
    use crate::terms::track_log::TrackPoint;

    #[test]
    fn six_in_the_morning_at_the_lake_is_eleven_in_utc() {
        let place = Place { lon: -94.0, lat: 35.0 };
        let mut lake = Lake::unknown_at(place);
        lake.time_zone = TimeZone::get("America/Chicago").unwrap();
        let time = |text: &str| Some(Instant::from(text.parse::<jiff::Timestamp>().unwrap()));
        let point =
            TrackPoint { place, time: time("2024-07-01T06:00:00Z"), depth_m: None, water_temp_c: None };
        let origin = Origin::whole_file(FileId(0));
        let mut log = TrackLog { origin, name: "".into(), local_times: true, segments: vec![vec![point]] };
        assert_eq!(read_log(&mut log, &lake).unwrap().code, Code::ClockNoZone);
        assert_eq!(log.segments[0][0].time, time("2024-07-01T11:00:00Z"));
        log.local_times = false;
        assert_eq!(read_log(&mut log, &lake), None);
        assert_eq!(log.segments[0][0].time, time("2024-07-01T11:00:00Z"));
    }
}
