//! `[[input]]`: which files are read, and what the user says about the device they came from.

use super::{Settings, SettingsError};
use crate::terms::export::{Columns, CsvClock, Ele, Export, Format, RecordedDepth};
use crate::terms::units::{DepthUnit, TemperatureUnit};
use serde::Deserialize;
use std::path::{Path, PathBuf};

/// One `[[input]]`.
#[derive(Clone, Debug, Default, PartialEq, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct InputSettings {
    /// Globs, relative to the settings file.
    pub files: Vec<String>,
    /// Label of the device; the file's stem when left out.
    pub unit: Option<String>,
    /// What a recorded depth means.
    pub recorded_depth: RecordedDepth,
    /// What GPX `ele` holds.
    pub ele: Ele,
    /// CSV columns, where the user names them.
    pub columns: Columns,
    /// Unit of bare depth numbers.
    pub depth_unit: DepthUnit,
    /// Unit of bare temperature numbers.
    pub temperature_unit: TemperatureUnit,
    /// How CSV times without an offset are read.
    pub time_zone: CsvClock,
    /// The user's corrections.
    pub edits: Option<PathBuf>,
}

impl InputSettings {
    /// What these settings say of one file.
    fn export(&self, path: PathBuf, label: String) -> Export {
        let stem = || path.file_stem().map(|s| s.to_string_lossy().into_owned()).unwrap_or_default();
        Export {
            unit: self.unit.clone().unwrap_or_else(stem),
            format: if has_ending(&path, "csv") { Format::Csv } else { Format::Gpx },
            recorded_depth: self.recorded_depth,
            ele: self.ele,
            columns: self.columns.clone(),
            depth_unit: self.depth_unit,
            temperature_unit: self.temperature_unit,
            time_zone: self.time_zone,
            path,
            label,
        }
    }
}

/// Whether a path ends in `.ending`, in any case.
fn has_ending(path: &Path, ending: &str) -> bool {
    path.extension().is_some_and(|e| e.eq_ignore_ascii_case(ending))
}

impl Settings {
    /// The exports that `[[input]]` names, sorted by label, each file once (the first `[[input]]` that names it counts).
    ///
    /// # Errors
    /// When a glob is no glob or matches no file, or there is no `[[input]]`.
    pub fn exports(&self, settings_path: &Path) -> Result<Vec<Export>, SettingsError> {
        let fail = |what: String| SettingsError::new(settings_path.display().to_string(), what);
        let mut exports: Vec<Export> = Vec::new();
        for (number, input) in (1..).zip(&self.input) {
            for pattern in &input.files {
                // The folder's own name may hold characters that mean something in a glob.
                let base = PathBuf::from(glob::Pattern::escape(&self.base.to_string_lossy()));
                let paths = glob::glob(&base.join(pattern).to_string_lossy())
                    .map_err(|e| fail(format!("input {number}: `{pattern}` is no glob: {e}")))?;
                let mut found = 0;
                for path in paths {
                    let path = path.map_err(|e| fail(format!("input {number}: `{pattern}`: {e}")))?;
                    if path.is_dir() {
                        continue;
                    }
                    found += 1;
                    let label = label_of(path.strip_prefix(&self.base).unwrap_or(&path));
                    if !exports.iter().any(|e| e.path == path) {
                        exports.push(input.export(path, label));
                    }
                }
                if found == 0 {
                    return Err(fail(format!(
                        "input {number}: `{pattern}` matches no file under `{}`. Mend the pattern or take the line out",
                        if self.base.as_os_str().is_empty() { Path::new(".") } else { &self.base }.display()
                    )));
                }
            }
        }
        if exports.is_empty() {
            return Err(fail(String::from(
                "no input is named. Add `[[input]]` with `files = [\"exports/*.gpx\"]`, or run `shoalwright init`",
            )));
        }
        exports.sort_by(|a, b| a.label.cmp(&b.label));
        Ok(exports)
    }

    /// Exports for data files given on the command line: default settings, sorted by label, each path once.
    #[must_use]
    pub fn exports_of(paths: &[PathBuf]) -> Vec<Export> {
        let mut paths = paths.to_vec();
        paths.sort();
        paths.dedup();
        let input = InputSettings::default();
        paths.into_iter().map(|p| input.export(p.clone(), label_of(&p))).collect()
    }

    /// The edits files that `[[input]]` names, each once.
    #[must_use]
    pub fn edits(&self) -> Vec<PathBuf> {
        let mut edits: Vec<PathBuf> =
            self.input.iter().filter_map(|i| i.edits.as_deref()).map(|p| self.base.join(p)).collect();
        edits.sort();
        edits.dedup();
        edits
    }
}

/// How outputs name a file: its path with `/` between parts, whatever the system.
fn label_of(path: &Path) -> String {
    path.components()
        .map(|c| c.as_os_str().to_string_lossy())
        .collect::<Vec<_>>()
        .join("/")
        .replace("//", "/")
}
