//! The account: what was read, kept, merged away, set aside and repaired, by file and in all.
//!
//! It is checked: for each file read = kept + merged away + set aside.

mod lakes;
mod skill;
mod text;

pub use lakes::{LakeAccount, LakeEnding, LakesAccount};
pub use skill::{GainAccount, ReliabilityAccount, ReviewAccount, RunningAccount, SkillAccount};
pub use text::{Telling, findings_text, printable, printable_lines, results, table};

use crate::ingest::Counts;
use crate::terms::export::{Export, FileId};
use crate::terms::finding::{Finding, SetAside};
use crate::terms::mark::Origin;
use serde::Serialize;
use std::collections::BTreeMap;

/// What became of the marks of a file, or of all.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Records {
    /// Marks read.
    pub read: u64,
    /// Marks in the log that carry this file's record.
    pub kept: u64,
    /// Copies of a mark that another record carries.
    pub merged_away: u64,
    /// Kept out, written whole to the set-aside file.
    pub set_aside: u64,
    /// Marks, not set aside, of which something was put right.
    pub repaired: u64,
}

impl Records {
    /// Adds up the parts.
    pub(super) fn sum(parts: impl Iterator<Item = Self>) -> Self {
        parts.fold(Self::default(), |sum, part| Self {
            read: sum.read + part.read,
            kept: sum.kept + part.kept,
            merged_away: sum.merged_away + part.merged_away,
            set_aside: sum.set_aside + part.set_aside,
            repaired: sum.repaired + part.repaired,
        })
    }

    const fn adds_up(self) -> bool {
        self.read == self.kept + self.merged_away + self.set_aside
    }
}

/// One file's part.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FileAccount {
    /// The file as outputs name it.
    pub path: String,
    /// `gpx` or `csv`.
    pub format: &'static str,
    /// What became of its marks.
    #[serde(flatten)]
    pub records: Records,
    /// GPX routes.
    pub routes: u64,
    /// Points of routes; no marks.
    pub route_points: u64,
    /// Track logs.
    pub tracks: u64,
    /// Segments of track logs.
    pub track_segments: u64,
    /// Points of track logs; no marks.
    pub track_points: u64,
    /// Findings by code.
    pub findings: BTreeMap<&'static str, u64>,
}

impl FileAccount {
    /// Whether nothing at all came of the file.
    #[must_use]
    pub const fn gave_nothing(&self) -> bool {
        self.records.kept + self.records.merged_away + self.route_points + self.track_points == 0
    }
}

/// One stage's part.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct StageAccount {
    /// Name of the stage.
    pub name: &'static str,
    /// How long it took. The one thing in an account that differs from run to run; in `summary.json` it stands in
    /// steps of ten seconds, so that ordinary runs repeat byte for byte.
    pub seconds: f64,
    /// Things that went in.
    #[serde(rename = "in")]
    pub went_in: u64,
    /// Things that came out.
    #[serde(rename = "out")]
    pub came_out: u64,
}

/// How many of each result there are.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
pub struct ResultCounts {
    /// Contours of the bottom.
    pub contours: usize,
    /// Sightings.
    pub sightings: usize,
    /// Holding areas.
    pub areas: usize,
    /// Movement tracks.
    pub movement_tracks: usize,
    /// Cells of the outlook.
    pub outlook_cells: usize,
    /// Stops of the pre-fish route.
    pub stops: usize,
}

/// Bait and gamefish side by side over the whole log: what it shows, never a rule of fish.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct PairingAccount {
    /// Dated gamefish marks.
    pub gamefish_marks: usize,
    /// Those of them that lie by a track log of their day and could be tested.
    pub tested: usize,
    /// Dated gamefish marks near bait seen on the same outing.
    pub near: usize,
    /// The same of the tested ones; `None`: not tested, a finding says why.
    pub tested_near: Option<usize>,
    /// Share observed among the tested over the share expected by chance.
    pub lift: Option<f64>,
    /// Chance of as large a share without any association.
    pub p: Option<f64>,
    /// Bait sightings without gamefish near, on outings of seasons that marked both.
    pub bait_without_gamefish: usize,
    /// Gamefish marks without bait near, the same.
    pub gamefish_without_bait: usize,
}

/// How much earlier or later than usual the movement of a season ran.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct SeasonShift {
    /// The season.
    pub season: i16,
    /// Days; positive is later than usual.
    pub days: f64,
}

/// The whole account, as `--json` prints it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Account {
    /// Always `shoalwright`.
    pub generator: &'static str,
    /// Version of the program.
    pub version: &'static str,
    /// Name of the lake; empty when the user gave none.
    pub lake: String,
    /// What became of all marks.
    pub records: Records,
    /// By file, in the order of their names.
    pub files: Vec<FileAccount>,
    /// By stage, in the order of the run.
    pub stages: Vec<StageAccount>,
    /// How many results there are.
    pub counts: ResultCounts,
    /// Bait and gamefish; `None`: the run did not go so far, or the log holds no dated marks of both.
    pub pairing: Option<PairingAccount>,
    /// Movement by season; empty when the run did not go so far or nothing was fitted.
    pub season_shifts: Vec<SeasonShift>,
    /// What seasons held out told; `None`: the run did not go so far, or there are too few seasons.
    pub skill: Option<SkillAccount>,
    /// The outing that was asked for, against what the outlook had said.
    pub review: Option<ReviewAccount>,
    /// Findings of the whole run by code.
    pub findings: BTreeMap<&'static str, u64>,
    /// The settings in force.
    pub settings: serde_json::Value,
    /// What the places may not be used for.
    pub caution: &'static str,
}

/// What the account is made from.
#[derive(Clone, Copy, Debug)]
pub struct Ledger<'a> {
    /// The files, in the order of their ids.
    pub exports: &'a [Export],
    /// What each held.
    pub counts: &'a [Counts],
    /// The record that each mark of the log carries.
    pub kept: &'a [Origin],
    /// Records merged into another.
    pub merged_away: &'a [Origin],
    /// Records kept out.
    pub set_aside: &'a [SetAside],
    /// Records of which something was put right; those set aside do not count.
    pub repaired: &'a [Origin],
    /// All findings about kept records and files.
    pub findings: &'a [Finding],
}

/// The books do not balance: a fault of the program, never of the input.
#[derive(Debug, thiserror::Error)]
#[error(
    "the account of `{path}` does not add up: read {} is not kept {} + merged away {} + set aside {}",
    records.read, records.kept, records.merged_away, records.set_aside
)]
pub struct DoesNotAddUp {
    path: String,
    records: Records,
}

impl Ledger<'_> {
    /// Counts the files' parts and checks them.
    ///
    /// # Errors
    /// When a file's marks do not add up.
    pub fn files(&self) -> Result<Vec<FileAccount>, DoesNotAddUp> {
        let mut files: Vec<FileAccount> = self
            .exports
            .iter()
            .zip(self.counts)
            .map(|(export, counts)| FileAccount {
                path: export.label.clone(),
                format: export.format.word(),
                records: Records { read: counts.marks, ..Records::default() },
                routes: counts.routes,
                route_points: counts.route_points,
                tracks: counts.tracks,
                track_segments: counts.track_segments,
                track_points: counts.track_points,
                findings: BTreeMap::new(),
            })
            .collect();
        let number = |origin: &Origin| origin.file.0 as usize;
        self.kept.iter().for_each(|o| files[number(o)].records.kept += 1);
        self.merged_away.iter().for_each(|o| files[number(o)].records.merged_away += 1);
        self.set_aside
            .iter()
            .for_each(|s| files[number(&s.origin)].records.set_aside += u64::from(s.records));
        self.repaired.iter().for_each(|o| files[number(o)].records.repaired += 1);
        for (origin, code) in self.all_findings().filter_map(|f| Some((f.origin?, f.code))) {
            *files[number(&origin)].findings.entry(code.word()).or_default() += 1;
        }
        match files.iter().find(|f| !f.records.adds_up()) {
            Some(file) => Err(DoesNotAddUp { path: file.path.clone(), records: file.records }),
            None => Ok(files),
        }
    }

    /// Findings about kept records and files, and the reasons of those set aside.
    pub fn all_findings(&self) -> impl Iterator<Item = &Finding> {
        self.findings.iter().chain(self.set_aside.iter().map(|s| &s.finding))
    }
}

impl Account {
    /// Sums the files.
    #[must_use]
    pub fn total(files: &[FileAccount]) -> Records {
        Records::sum(files.iter().map(|file| file.records))
    }

    /// As it is written into the output folder: seconds in steps of ten.
    #[must_use]
    pub fn with_coarse_seconds(mut self) -> Self {
        for stage in &mut self.stages {
            stage.seconds = (stage.seconds / 10.0).floor() * 10.0;
        }
        self
    }
}

/// How an origin is told: `season-2.gpx:312`, or the file alone.
#[must_use]
pub fn place_text(exports: &[Export], origin: Origin) -> String {
    let FileId(file) = origin.file;
    let label = &exports[file as usize].label;
    if origin.line == 0 { label.clone() } else { format!("{label}:{}", origin.line) }
}
