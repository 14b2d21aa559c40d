//! The run, top to bottom: one call a stage. The only file that knows the whole order.
//!
//! Opens files and hands them on; decides nothing: thresholds and rules are the stages'.

mod error;
mod explain;
mod lakes;
mod load;
mod outlook;
mod progress;
mod reread;
mod secret;
mod share;
mod write;

pub use error::RunError;
pub use explain::extent_of;
pub use lakes::{each_lake, lakes_apart};
pub use load::{Planning, Sources, load};
pub use outlook::OutlookRun;
pub use progress::Progress;
pub use share::SharedFolder;
pub use write::LogFormat;

use crate::account::{Account, Ledger, PairingAccount, ResultCounts, SeasonShift, StageAccount};
use crate::ingest::{self, FileRead};
use crate::interpret::{self, Interpreted};
use crate::layers::boat_marks;
use crate::merge;
use crate::movement::{self, Movement};
use crate::prefish::{self, OwnStop, Prefish, PrefishError, Wish};
use crate::schools::{self, HoldingArea, Schools};
use crate::settings::Settings;
use crate::soundings::{self, Bottom};
use crate::terms::export::{Export, FileId};
use crate::terms::finding::{Code, Finding, SetAside, Severity};
use crate::terms::lake::Lake;
use crate::terms::mark::{Mark, Origin, RawMark};
use crate::terms::track_log::TrackLog;
use crate::terms::zone::Zone;
use jiff::civil::Date;
use rayon::prelude::*;
use reread::Stamp;
use std::collections::BTreeMap;
use std::path::PathBuf;
use std::time::Instant;

/// How far a run goes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Extent {
    /// To the merged log.
    Log,
    /// To the bottom by the depths of the track logs.
    Soundings,
    /// To sightings and holding areas.
    Schools,
    /// To movement tracks.
    Movement,
    /// To effort, outlook and backtest.
    Outlook,
}

/// What a run came to.
#[derive(Debug)]
pub struct Run {
    /// The settings in force.
    pub settings: Settings,
    /// The lake.
    pub lake: Lake,
    /// The files, in the order of their ids.
    pub exports: Vec<Export>,
    /// What tells whether each of them is still the file that was read.
    stamps: Vec<Option<Stamp>>,
    /// Files read besides the exports; no output may overwrite them.
    pub others: Vec<PathBuf>,
    /// How far the run went.
    pub extent: Extent,
    /// The merged log.
    pub log: Vec<Mark>,
    /// All marks as they came into `merge`; empty unless something is to be explained.
    pub before_merge: Vec<Mark>,
    /// Records kept out, in the order of the files.
    pub set_aside: Vec<SetAside>,
    /// Findings about kept records, files and the run, by code and place.
    pub findings: Vec<Finding>,
    /// The bottom; empty when the run did not go so far.
    pub bottom: Bottom,
    /// Sightings and areas; empty when the run did not go so far.
    pub schools: Schools,
    /// Movement; empty when the run did not go so far.
    pub movement: Movement,
    /// Effort, outlook, backtest; empty when the run did not go so far.
    pub looked_out: OutlookRun,
    /// The pre-fish route; `None`: not asked for, or a finding says why there is none.
    pub prefish: Option<Prefish>,
    /// The account.
    pub account: Account,
}

/// Runs the stages. `run_date` is today at the lake, for clocks that run ahead of it.
///
/// # Errors
/// When no input gave anything at all, or the account does not add up.
#[expect(clippy::too_many_lines, reason = "a call a stage, to be read from top to bottom")]
pub fn run(sources: Sources, extent: Extent, run_date: Date, progress: &Progress) -> Result<Run, RunError> {
    let Sources {
        settings,
        exports,
        edits,
        others,
        edit_findings,
        shoreline,
        levels_m,
        zones,
        stops,
        planning,
        outing,
        explaining,
    } = sources;
    let mut stages = Stages::default();
    let mut findings = settings_findings(&settings);
    findings.extend(edit_findings);

    progress.stage("ingest", load::total_bytes(&exports));
    let reads = stages.time("ingest", exports.len(), || {
        let reads = read_all(&exports, progress);
        let marks = reads.iter().map(|(r, _)| r.marks.kept.len()).sum();
        (reads, marks)
    });
    let (reads, stamps): (Vec<_>, Vec<_>) = reads.into_iter().unzip();
    let counts: Vec<_> = reads.iter().map(|r| r.counts).collect();
    let (raw, track_logs, mut set_aside, ingest_repairs) = spread(reads, &mut findings);

    let lake = load::lake(&settings, shoreline, levels_m, interpret::middle_of(&raw));

    progress.stage("interpret", 0);
    let Interpreted { mut marks, track_logs } = stages.time("interpret", raw.len(), || {
        let read = interpret::interpret(raw, track_logs, &exports, &lake, run_date, &settings.labels);
        let kept = read.marks.kept.len();
        (read, kept)
    });
    findings.append(&mut marks.findings);
    set_aside.append(&mut marks.set_aside);
    note_repairs(&mut marks.kept, &ingest_repairs);
    let repaired: Vec<Origin> =
        marks.kept.iter().filter(|m| !m.repairs.is_empty()).map(Mark::origin).collect();

    let before_merge = if explaining { marks.kept.clone() } else { Vec::new() };

    progress.stage("merge", 0);
    let mut merged = stages.time("merge", marks.kept.len(), || {
        let merged = merge::merge(marks.kept, &lake, &exports, &settings.merge);
        let merged = merge::apply_edits(merged, &edits, &lake);
        let kept = merged.log.kept.len();
        (merged, kept)
    });
    findings.append(&mut merged.log.findings);
    set_aside.append(&mut merged.log.set_aside);
    let mut log = merged.log.kept;

    let mut bottom = Bottom::default();
    if extent >= Extent::Soundings {
        progress.stage("soundings", 0);
        bottom = stages.time("soundings", track_logs.len(), || {
            let bottom = soundings::soundings(&track_logs, &exports, &lake, &settings.soundings);
            let contours = bottom.contours.len();
            (bottom, contours)
        });
        findings.append(&mut bottom.findings);
        findings.extend(soundings::fill_water_depths(&mut log, &bottom, &lake));
    }

    let mut schools = Schools::default();
    if extent >= Extent::Schools {
        progress.stage("schools", 0);
        schools = stages.time("schools", log.len(), || {
            let found =
                schools::schools(&log, &track_logs, &lake, &settings.sightings, &settings.schools, SEED);
            let areas = found.areas.len();
            (found, areas)
        });
        findings.append(&mut schools.findings);
    }
    let (mut movement, mut tracks) = (Movement::default(), None);
    if extent >= Extent::Movement {
        progress.stage("movement", 0);
        (movement, tracks) = stages.time("movement", schools.sightings.len(), || {
            let fitted = movement::movement_with_fit(&schools.sightings, &lake, &settings.movement);
            let tracks = fitted.0.tracks.len();
            (fitted, tracks)
        });
        findings.append(&mut movement.findings);
    }
    let mut looked_out = OutlookRun::default();
    if extent >= Extent::Outlook {
        progress.stage("outlook", 0);
        let (log, track_logs, lake) = (&log, &track_logs, &lake);
        let before = outlook::Before {
            log,
            track_logs,
            lake,
            settings: &settings,
            schools: &schools,
            movement: &movement,
            tracks: tracks.as_ref(),
        };
        looked_out =
            if explaining { before.looked() } else { before.run(outing, &mut stages, &mut findings) };
    }
    let mut prefish = None;
    if planning != Planning::Off && (settings.prefish.wanted() || planning != Planning::WhenSet) {
        progress.stage("prefish", 0);
        let planned = stages.time("prefish", schools.areas.len() + stops.len(), || {
            // The outlook asks the movement for its clock, also where the run stops before it.
            let fitted = (extent < Extent::Movement)
                .then(|| movement::movement_with_fit(&schools.sightings, &lake, &settings.movement));
            let (movement, tracks) = fitted.as_ref().map_or((&movement, &tracks), |(m, t)| (m, t));
            let before = outlook::Before {
                log: &log,
                track_logs: &track_logs,
                lake: &lake,
                settings: &settings,
                schools: &schools,
                movement,
                tracks: tracks.as_ref(),
            };
            let planned = plan(&before, &stops, &zones, &planning);
            let visits = planned.as_ref().map_or(0, visits);
            (planned, visits)
        });
        prefish = kept_plan(planned, &planning, &mut findings)?;
    }

    if extent > Extent::Log || settings.output.for_boat {
        findings.extend(boat_marks::left_out(log.len(), schools.areas.len(), &settings.output));
    }

    findings.sort_by(|a, b| (a.code, a.origin, &a.name, &a.seen).cmp(&(b.code, b.origin, &b.name, &b.seen)));
    set_aside.sort_by_key(|s| s.origin);
    let kept: Vec<Origin> = log.iter().map(Mark::origin).collect();
    let ledger = Ledger {
        exports: &exports,
        counts: &counts,
        kept: &kept,
        merged_away: &merged.merged_away,
        set_aside: &set_aside,
        repaired: &repaired,
        findings: &findings,
    };
    let mut account = account(&ledger, &lake, &settings, stages.0, &schools, &movement, &looked_out)?;
    account.counts.contours = bottom.contours.len();
    account.counts.stops = prefish.as_ref().map_or(0, visits);
    Ok(Run {
        settings,
        lake,
        exports,
        stamps,
        others,
        extent,
        log,
        before_merge,
        set_aside,
        findings,
        bottom,
        schools,
        movement,
        looked_out,
        prefish,
        account,
    })
}

/// The stage `prefish`: chances of the areas are the outlook's for the first practice day, or without track logs those of
/// the seasons in which they held bait.
fn plan(
    before: &outlook::Before<'_>,
    own: &[OwnStop],
    zones: &[Zone],
    planning: &Planning,
) -> Result<Prefish, PrefishError> {
    let outlook::Before { log, lake, settings, schools, .. } = *before;
    let on_water = if let Planning::Asked(on_water) = planning { on_water.as_ref() } else { None };
    let chances = settings.prefish.date.map_or_else(Vec::new, |date| {
        let by_seasons = prefish::chances(&schools.areas, &schools.sightings, lake.day(date).season_day);
        let outlook = by_seasons.iter().any(Option::is_some).then(|| before.outlook_on(date)).flatten();
        let chance = |(area, by_seasons): (&HoldingArea, Option<f64>)| {
            let radius_m = prefish::radius_m(area, &schools.sightings);
            let by_outlook = || outlook.as_ref()?.chance_within(area.centre, radius_m, lake);
            by_seasons.map(|chance| by_outlook().unwrap_or(chance))
        };
        schools.areas.iter().zip(by_seasons).map(chance).collect()
    });
    prefish::prefish(&Wish {
        settings: &settings.prefish,
        swath: settings.effort.swath,
        lake,
        log,
        sightings: &schools.sightings,
        areas: &schools.areas,
        chances: &chances,
        own,
        zones,
        on_water,
    })
}

/// The plan with its findings told. Where `run` plans on the way, what stands in the way is a finding as well.
fn kept_plan(
    planned: Result<Prefish, PrefishError>,
    planning: &Planning,
    findings: &mut Vec<Finding>,
) -> Result<Option<Prefish>, RunError> {
    match planned {
        Ok(mut planned) => {
            findings.append(&mut planned.findings);
            Ok(Some(planned))
        }
        Err(error) if *planning == Planning::WhenSet => {
            let refused = Finding::new(Code::PrefishRefused, error.to_string());
            findings.push(refused.done("no pre-fish route was planned"));
            Ok(None)
        }
        Err(source) => {
            let unread =
                findings.iter().find(|f| matches!(f.code, Code::StopUnreadable | Code::ZoneUnreadable));
            let unread = unread.map_or_else(String::new, |f| format!("{}: {}; {}", f.name, f.seen, f.fix));
            Err(RunError::Prefish { source, unread })
        }
    }
}

fn visits(prefish: &Prefish) -> usize {
    prefish.plan.days.iter().map(|day| day.visits.len()).sum()
}

/// Seed of the pairing test's draws: any number serves, but it must be the same in every run.
const SEED: u64 = 1;

/// How long each stage took, and how much went in and came out.
#[derive(Default)]
struct Stages(Vec<StageAccount>);

impl Stages {
    fn time<T>(&mut self, name: &'static str, went_in: usize, stage: impl FnOnce() -> (T, usize)) -> T {
        let start = Instant::now();
        let (value, came_out) = stage();
        let seconds = start.elapsed().as_secs_f64();
        self.0.push(StageAccount { name, seconds, went_in: went_in as u64, came_out: came_out as u64 });
        value
    }
}

/// What the settings themselves give cause to tell.
fn settings_findings(settings: &Settings) -> Vec<Finding> {
    let mut findings = Vec::new();
    if settings.lake.timezone.is_none() {
        findings.push(
            Finding::new(Code::TimezoneMissing, "`lake.timezone` is not set")
                .done("local dates were taken in UTC")
                .fix("set it, like timezone = \"America/Chicago\""),
        );
    }
    let lake = &settings.lake;
    if (lake.levels.is_some() || lake.full_pool.is_some()) && lake.level_datum.trim().is_empty() {
        findings.push(
            Finding::new(Code::LevelDatumMissing, "`lake.level_datum` is not set")
                .done("levels and full pool were taken as counted from one datum")
                .fix("set it to what your levels are counted from, like level_datum = \"NGVD 29\", and check that full pool is too"),
        );
    }
    findings
}

/// Reads all files, in parallel; the result is in the order of the exports.
fn read_all(exports: &[Export], progress: &Progress) -> Vec<(FileRead, Option<Stamp>)> {
    (0..exports.len() as u32)
        .into_par_iter()
        .map(|number| {
            let (file, export) = (FileId(number), &exports[number as usize]);
            let source = load::Watched::open(&export.path, progress);
            let stamp = source.stamp();
            (ingest::read(export, file, source), stamp)
        })
        .collect()
}

/// Takes the files' reads apart.
#[expect(
    clippy::type_complexity,
    reason = "four lists that go four ways; a name for the tuple would say no more"
)]
fn spread(
    reads: Vec<FileRead>,
    findings: &mut Vec<Finding>,
) -> (Vec<RawMark>, Vec<TrackLog>, Vec<SetAside>, BTreeMap<Origin, Vec<Code>>) {
    let (mut raw, mut track_logs, mut set_aside) = (Vec::new(), Vec::new(), Vec::new());
    let mut repairs: BTreeMap<Origin, Vec<Code>> = BTreeMap::new();
    let mut to_come: usize = reads.iter().map(|r| r.marks.kept.len()).sum();
    for mut read in reads {
        for finding in &read.marks.findings {
            if let Some(origin) = finding.origin.filter(|o| o.record > 0)
                && finding.code.severity() == Severity::Repaired
            {
                repairs.entry(origin).or_default().push(finding.code);
            }
        }
        if raw.is_empty() {
            // The first file's list grows: one large file is not held twice.
            raw = read.marks.kept;
            to_come -= raw.len();
            raw.reserve_exact(to_come);
        } else {
            to_come -= read.marks.kept.len();
            raw.append(&mut read.marks.kept);
        }
        findings.append(&mut read.marks.findings);
        set_aside.append(&mut read.marks.set_aside);
        track_logs.append(&mut read.track_logs);
    }
    (raw, track_logs, set_aside, repairs)
}

/// Adds the repairs that reading made to the marks they were made on.
fn note_repairs(marks: &mut [Mark], repairs: &BTreeMap<Origin, Vec<Code>>) {
    if repairs.is_empty() {
        return;
    }
    for mark in marks {
        if let Some(codes) = repairs.get(&mark.origin()) {
            mark.repairs.extend(codes.iter().copied());
        }
    }
}

fn account(
    ledger: &Ledger,
    lake: &Lake,
    settings: &Settings,
    stages: Vec<StageAccount>,
    schools: &Schools,
    movement: &Movement,
    looked_out: &OutlookRun,
) -> Result<Account, RunError> {
    let files = ledger.files()?;
    let mut findings = BTreeMap::new();
    for finding in ledger.all_findings() {
        *findings.entry(finding.code.word()).or_default() += 1;
    }
    Ok(Account {
        generator: "shoalwright",
        version: env!("CARGO_PKG_VERSION"),
        lake: lake.name.clone(),
        records: Account::total(&files),
        files,
        stages,
        counts: ResultCounts {
            sightings: schools.sightings.len(),
            areas: schools.areas.len(),
            movement_tracks: movement.tracks.len(),
            outlook_cells: looked_out.outlook.as_ref().map_or(0, |o| o.cells.len()),
            ..ResultCounts::default()
        },
        pairing: schools.pairing.as_ref().map(|p| PairingAccount {
            gamefish_marks: p.gamefish_marks,
            tested: p.tested,
            near: p.near,
            tested_near: p.test.map(|t| t.near),
            lift: p.test.map(|t| hundredths(t.lift)),
            p: p.test.map(|t| t.p),
            bait_without_gamefish: p.bait_without_gamefish.len(),
            gamefish_without_bait: p.gamefish_without_bait.len(),
        }),
        season_shifts: movement
            .season_shifts
            .iter()
            .map(|(season, days)| SeasonShift { season: *season, days: hundredths(*days) })
            .collect(),
        skill: looked_out.skill(),
        review: looked_out.reviewed(),
        findings,
        settings: settings.in_force.clone(),
        caution: crate::layers::caution::FULL,
    })
}

/// To two decimals, as a person reads it.
fn hundredths(number: f64) -> f64 {
    (number * 100.0).round() / 100.0
}
