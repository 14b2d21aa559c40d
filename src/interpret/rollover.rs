//! GPS week rollover: the week number has 10 bits, so a unit may date everything 1024 weeks (7168 days) too early.
//! Time of day and weekday stay right; the season day moves by 137 days.
//!
//! Source of the 10 bits and of week 0: IS-GPS-200. Firmware may roll over at a week of its own, so the date of the
//! broadcast rollovers tells nothing about when a unit jumps.

use super::Draft;
use super::clock::{FIRST_LOG, start_of};
use super::device::Devices;
use super::tally::Tally;
use crate::terms::export::FileId;
use crate::terms::finding::{Code, Finding};
use crate::terms::instant::Instant;
use crate::terms::mark::Origin;
use crate::terms::track_log::TrackLog;
use jiff::civil::Date;
use std::collections::{BTreeMap, BTreeSet};

const DAY_MS: i64 = 86_400_000;
/// 1024 weeks in days.
const ROLLOVER_DAYS: i64 = 7168;
/// Times of one unit with a longer gap between them belong to different eras of its clock: shorter than a rollover
/// (19.6 years), longer than a boat is laid up.
const GAP_DAYS: i64 = 3650;
/// An era of fewer times, or of less than a tenth of its unit's, is a stray and is never moved: it is too little to
/// prove that the counter rolled over. Where moving would bring it among its unit's other times it is undated.
const FEWEST: usize = 5;
/// How far a moved era may reach past the seasons of the others.
const SLACK_DAYS: i64 = 366;

/// Times of one unit that lie together.
#[derive(Clone, Copy, Debug)]
struct Era {
    first: i64,
    last: i64,
    count: usize,
}

/// What is to be done with an era.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Verdict {
    Stands,
    MoveDays(i64),
    Undate,
    /// A stray that lies so many days before where its unit's other times are.
    Stray(i64),
}

fn day_of(time: Instant) -> i64 {
    time.unix_ms().div_euclid(DAY_MS)
}

/// Moves whole eras of a unit forward by 1024 weeks or a multiple, marks and track logs together, when exactly one
/// multiple brings them into the seasons of the other times (or, for times before any unit could log, when only
/// one multiple is possible at all). Where two would do, the times are not to be trusted: undated.
pub(super) fn repair(
    drafts: &mut [Draft],
    track_logs: &mut [TrackLog],
    units: &Devices,
    run_date: Date,
    findings: &mut Vec<Finding>,
    tally: &mut Tally,
) {
    let mut days: BTreeMap<u32, Vec<i64>> = BTreeMap::new();
    for draft in drafts.iter() {
        if let Some(time) = draft.time() {
            days.entry(units.of(draft.file())).or_default().push(day_of(time));
        }
    }
    for log in track_logs.iter() {
        let unit = days.entry(units.of(log.origin.file)).or_default();
        unit.extend(log.segments.iter().flatten().filter_map(|point| point.time).map(day_of));
    }
    let eras: BTreeMap<u32, Vec<Era>> = days.into_iter().map(|(unit, days)| (unit, eras_of(days))).collect();
    let verdicts = judge(&eras, day_of(start_of(run_date)) + 1);
    let verdict_of = |file: FileId, time: Instant| {
        let day = day_of(time);
        verdicts
            .get(&units.of(file))
            .and_then(|eras| eras.iter().find(|(era, _)| (era.first..=era.last).contains(&day)))
            .map_or(Verdict::Stands, |(_, verdict)| *verdict)
    };

    let mut undated: BTreeSet<FileId> = BTreeSet::new();
    for draft in drafts {
        let Some(time) = draft.time() else { continue };
        match verdict_of(draft.file(), time) {
            Verdict::Stands => {}
            Verdict::MoveDays(days) => {
                let moved = time.plus_s(days * 86_400);
                draft.set_time(moved);
                draft.repairs.insert(Code::ClockWeekRollover);
                tally.count_with(Code::ClockWeekRollover, draft.raw.origin, || {
                    format!("{} -> {}", time.rfc3339(), moved.rfc3339())
                });
            }
            Verdict::Undate => {
                draft.undate();
                undated.insert(draft.file());
            }
            Verdict::Stray(days) => {
                findings.push(stray(time, days).at(draft.raw.origin, draft.raw.words.name()));
                draft.undate();
            }
        }
    }
    for file in undated {
        findings.push(
            Finding::new(
                Code::ClockTooOld,
                "the times lie one or more GPS week counts (1024 weeks) back, and two multiples would fit",
            )
            .at(Origin::whole_file(file), "")
            .done("its marks are undated")
            .fix("export again with the unit's clock put right"),
        );
    }
    for log in track_logs {
        let file = log.origin.file;
        let first_stray = log.segments.iter().flatten().filter_map(|point| point.time).find_map(|time| {
            match verdict_of(file, time) {
                Verdict::Stray(days) => Some(stray(time, days)),
                _ => None,
            }
        });
        findings.extend(first_stray.map(|finding| finding.at(log.origin, &log.name)));
        for point in log.segments.iter_mut().flatten() {
            point.time = point.time.and_then(|time| match verdict_of(file, time) {
                Verdict::Stands => Some(time),
                Verdict::MoveDays(days) => Some(time.plus_s(days * 86_400)),
                Verdict::Undate | Verdict::Stray(_) => None,
            });
        }
    }
}

fn stray(time: Instant, days: i64) -> Finding {
    Finding::new(
        Code::ClockStray,
        format!("the time `{}` lies `{}` weeks before the other times of its unit", time.rfc3339(), days / 7),
    )
    .done("undated: one stamp does not prove that the week counter rolled over")
    .fix("write the right time into the file")
}

fn eras_of(mut days: Vec<i64>) -> Vec<Era> {
    days.sort_unstable();
    days.chunk_by(|a, b| b - a <= GAP_DAYS)
        .map(|days| Era { first: days[0], last: days[days.len() - 1], count: days.len() })
        .collect()
}

fn judge(eras: &BTreeMap<u32, Vec<Era>>, latest: i64) -> BTreeMap<u32, Vec<(Era, Verdict)>> {
    let may_move = |era: &Era| era.last + ROLLOVER_DAYS <= latest;
    let fixed: Vec<&Era> =
        eras.values().flatten().filter(|era| !may_move(era) && era.first <= latest).collect();
    let seasons = (fixed.iter().map(|era| era.count).sum::<usize>() >= FEWEST)
        .then(|| {
            let first = fixed.iter().map(|era| era.first).min()?;
            Some((first - SLACK_DAYS, fixed.iter().map(|era| era.last).max()? + SLACK_DAYS))
        })
        .flatten();
    let first_log = day_of(start_of(FIRST_LOG));
    eras.iter()
        .map(|(unit, eras)| {
            let of_unit: usize = eras.iter().map(|era| era.count).sum();
            let judged = eras
                .iter()
                .map(|era| {
                    let stray = era.count < FEWEST || era.count * 10 < of_unit;
                    let fits: Vec<i64> = (1..=3)
                        .map(|k| k * ROLLOVER_DAYS)
                        .filter(|days| era.last + days <= latest)
                        .filter(|days| match seasons {
                            Some((first, last)) => era.first + days >= first && era.last + days <= last,
                            None => era.last < first_log && era.first + days >= first_log,
                        })
                        .collect();
                    // Before any unit could log, `clock-too-old` tells it.
                    let lands_at_home = (1..=2).map(|k| k * ROLLOVER_DAYS).find(|days| {
                        era.first >= first_log
                            && eras.iter().any(|home| {
                                home.count >= FEWEST
                                    && home.first > era.last
                                    && era.first + days >= home.first - SLACK_DAYS
                                    && era.last + days <= (home.last + SLACK_DAYS).min(latest)
                            })
                    });
                    let among_others = seasons.is_some_and(|(first, _)| era.last >= first);
                    let verdict = match fits.as_slice() {
                        _ if stray => lands_at_home.map_or(Verdict::Stands, Verdict::Stray),
                        _ if among_others => Verdict::Stands,
                        [] => Verdict::Stands,
                        [days] => Verdict::MoveDays(*days),
                        _ => Verdict::Undate,
                    };
                    (*era, verdict)
                })
                .collect();
            (*unit, judged)
        })
        .collect()
}
