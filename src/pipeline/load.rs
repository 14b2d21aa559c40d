//! What a run starts from: settings, the list of exports, the lake's own files.

use super::reread::Stamp;
use super::{Progress, RunError};
use crate::ingest::levels::read_levels;
use crate::ingest::shoreline::{Shoreline, read_shoreline};
use crate::ingest::zones::read_zones;
use crate::merge::{self, Edit};
use crate::prefish::{OnWater, OwnStop, read_stops};
use crate::settings::Settings;
use crate::terms::export::Export;
use crate::terms::finding::Finding;
use crate::terms::lake::Lake;
use crate::terms::place::{LocalPlane, Place};
use crate::terms::water::Water;
use crate::terms::zone::Zone;
use jiff::civil::Date;
use std::collections::BTreeMap;
use std::fs::{self, File};
use std::io::{self, Read};
use std::path::{Path, PathBuf};

/// Everything a run starts from.
#[derive(Debug)]
pub struct Sources {
    /// The settings in force.
    pub settings: Settings,
    /// The data files, in the order of their names.
    pub exports: Vec<Export>,
    /// The user's corrections.
    pub edits: Vec<Edit>,
    /// Files read besides the exports: settings, shoreline, levels, edits. No output may overwrite them.
    pub others: Vec<PathBuf>,
    /// What is told about the lake's own files: edits, shoreline, zones, stops.
    pub edit_findings: Vec<Finding>,
    /// The lake's water, where given.
    pub shoreline: Option<Shoreline>,
    /// Pool levels by date in metres.
    pub levels_m: BTreeMap<Date, f64>,
    /// Slow and closed areas.
    pub zones: Vec<Zone>,
    /// The user's own stops.
    pub stops: Vec<OwnStop>,
    /// Whether practice days are planned.
    pub planning: Planning,
    /// An outing to hold against what the outlook had said of it.
    pub outing: Option<Date>,
    /// Whether something is to be explained: the marks are kept as they came into `merge`.
    pub explaining: bool,
}

/// Whether practice days are planned.
#[derive(Clone, Debug, Default, PartialEq)]
pub enum Planning {
    /// No.
    #[default]
    Off,
    /// When the settings ask for it; what stands in the way is a finding.
    WhenSet,
    /// Yes; what stands in the way stops the run. Anew from the boat's place where one is given.
    Asked(Option<OnWater>),
}

fn has_ending(path: &Path, ending: &str) -> bool {
    path.extension().is_some_and(|e| e.eq_ignore_ascii_case(ending))
}

pub(super) fn read_text(path: &Path) -> Result<String, RunError> {
    let told = |source| RunError::Read { path: path.to_owned(), source };
    if path.is_dir() {
        return Err(RunError::Folder { path: path.to_owned() });
    }
    let bytes = fs::read(path).map_err(told)?;
    String::from_utf8(bytes)
        .map_err(|_| told(io::Error::new(io::ErrorKind::InvalidData, "it is no UTF-8 text")))
}

/// A finding about one of the lake's own files, under the file's name.
fn named(mut finding: Finding, path: &Path) -> Finding {
    if finding.name.is_empty() {
        finding.name = path.display().to_string().into();
    }
    finding
}

/// Resolves the inputs of a command: one settings file, or data files under default settings.
///
/// # Errors
/// When an input is missing, a folder or of an unknown kind, or the settings or the lake's files cannot be used.
pub fn load(inputs: &[PathBuf], sets: &[String]) -> Result<Sources, RunError> {
    for path in inputs {
        fs::metadata(path).map_err(|source| RunError::Read { path: path.clone(), source })?;
        if path.is_dir() {
            return Err(RunError::Folder { path: path.clone() });
        }
        if !["gpx", "csv", "toml"].iter().any(|ending| has_ending(path, ending)) {
            return Err(RunError::Ending { path: path.clone() });
        }
    }
    let (settings, exports) = match inputs {
        [path] if has_ending(path, "toml") => {
            let text = read_text(path)?;
            let settings = Settings::read(Some((path, &text)), sets)?;
            let exports = settings.exports(path)?;
            (settings, exports)
        }
        paths => {
            if let Some(path) = paths.iter().find(|p| has_ending(p, "toml")) {
                return Err(RunError::Mixed { path: path.clone() });
            }
            (Settings::read(None, sets)?, Settings::exports_of(paths))
        }
    };
    let mut others: Vec<PathBuf> = inputs.iter().filter(|p| has_ending(p, "toml")).cloned().collect();
    others.extend(
        [&settings.lake.shoreline, &settings.lake.levels, &settings.prefish.zones, &settings.prefish.stops]
            .into_iter()
            .flatten()
            .map(|p| settings.path(p)),
    );
    others.extend(settings.edits());
    let mut edit_findings = Vec::new();
    let shoreline = match &settings.lake.shoreline {
        Some(relative) => {
            let path = settings.path(relative);
            let text = read_text(&path)?;
            let read =
                read_shoreline(&text).map_err(|source| RunError::Shoreline { path: path.clone(), source })?;
            edit_findings.extend(read.open_rings.iter().map(|ring| named(ring.told(), &path)));
            Some(read)
        }
        None => None,
    };
    let levels_m = match &settings.lake.levels {
        Some(relative) => {
            let path = settings.path(relative);
            let text = read_text(&path)?;
            read_levels(&text, settings.lake.units).map_err(|source| RunError::Levels { path, source })?
        }
        None => BTreeMap::new(),
    };
    let mut edits = Vec::new();
    for path in settings.edits() {
        let (mut more, findings) = merge::read_edits(&read_text(&path)?);
        edits.append(&mut more);
        edit_findings.extend(findings.into_iter().map(|f| named(f, &path)));
    }
    let (mut zones, mut stops) = (Vec::new(), Vec::new());
    if let Some(relative) = &settings.prefish.zones {
        let path = settings.path(relative);
        let text = read_text(&path)?;
        let (read, findings) =
            read_zones(&text).map_err(|what| RunError::Zones { path: path.clone(), what })?;
        zones = read;
        edit_findings.extend(findings.into_iter().map(|f| named(f, &path)));
    }
    if let Some(relative) = &settings.prefish.stops {
        let path = settings.path(relative);
        let (read, findings) = read_stops(&read_text(&path)?);
        stops = read;
        edit_findings.extend(findings.into_iter().map(|f| named(f, &path)));
    }
    Ok(Sources {
        settings,
        exports,
        edits,
        others,
        edit_findings,
        shoreline,
        levels_m,
        zones,
        stops,
        planning: Planning::Off,
        outing: None,
        explaining: false,
    })
}

/// The lake: its plane stands at the middle of the shoreline, else at the middle of the marks.
pub(super) fn lake(
    settings: &Settings,
    shoreline: Option<Shoreline>,
    levels_m: BTreeMap<Date, f64>,
    middle_of_marks: Option<Place>,
) -> Lake {
    let middle =
        shoreline.as_ref().map(|s| s.middle).or(middle_of_marks).unwrap_or(Place { lon: 0.0, lat: 0.0 });
    let plane = LocalPlane::new(middle);
    Lake {
        name: settings.lake.name.clone(),
        time_zone: settings.time_zone(),
        plane,
        water: shoreline.map(|s| Water::new(s.polygons, plane)),
        levels_m,
        full_pool_m: settings.full_pool_m(),
        expected_level_m: settings.expected_level_m(),
        level_datum: settings.lake.level_datum.clone(),
        season_start: settings.season_start(),
        units: settings.lake.units,
    }
}

/// Bytes of all files, for the progress bar; a file that cannot be asked counts as none.
pub(super) fn total_bytes(exports: &[Export]) -> u64 {
    exports.iter().filter_map(|e| fs::metadata(&e.path).ok()).map(|m| m.len()).sum()
}

/// A file that tells how much of it was read. One that cannot be opened fails on its first read, so that ingest tells
/// of it as of any file that cannot be read.
pub(super) struct Watched<'a> {
    source: io::Result<File>,
    progress: &'a Progress,
}

impl<'a> Watched<'a> {
    pub(super) fn open(path: &Path, progress: &'a Progress) -> Self {
        Self { source: File::open(path), progress }
    }

    /// What tells later on whether the file is still the same.
    pub(super) fn stamp(&self) -> Option<Stamp> {
        self.source.as_ref().ok().and_then(Stamp::of)
    }
}

impl Read for Watched<'_> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let bytes = match &mut self.source {
            Ok(file) => file.read(buffer)?,
            Err(e) => return Err(io::Error::new(e.kind(), e.to_string())),
        };
        self.progress.read(bytes as u64);
        Ok(bytes)
    }
}
