//! Settings: gathers each stage's settings from `lake.toml` and `--set`.
//!
//! An unknown key is an error that names the nearest known one. Does not: run anything, open data files.

mod inputs;
mod keys;

pub use inputs::InputSettings;

use crate::effort;
use crate::interpret;
use crate::layers;
use crate::merge;
use crate::movement;
use crate::outlook;
use crate::prefish;
use crate::schools;
use crate::share;
use crate::soundings;
use crate::terms::season::SeasonStart;
use crate::terms::units::{Units, level_m};
use jiff::tz::TimeZone;
use serde::Deserialize;
use std::path::{Path, PathBuf};

/// The commented defaults, as `shoalwright settings` prints them.
pub const DEFAULT_TOML: &str = include_str!("settings.toml");

/// Why the settings could not be used.
#[derive(Debug, thiserror::Error)]
#[error("{place}: {what}")]
pub struct SettingsError {
    /// File with line and column, or the `--set` option.
    place: String,
    /// What is wrong, with the mend.
    what: String,
}

impl SettingsError {
    fn new(place: impl Into<String>, what: impl Into<String>) -> Self {
        Self { place: place.into(), what: what.into() }
    }
}

/// `[lake]`.
#[derive(Clone, Debug, Default, PartialEq, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct LakeSettings {
    /// Name of the lake.
    pub name: String,
    /// IANA time zone; `None`: UTC, with a doubtful finding.
    pub timezone: Option<String>,
    /// GeoJSON of the water.
    pub shoreline: Option<PathBuf>,
    /// CSV of pool levels.
    pub levels: Option<PathBuf>,
    /// Level at full pool.
    pub full_pool: Option<String>,
    /// What levels and full pool are counted from, like `NGVD 29`; empty: not told.
    pub level_datum: String,
    /// Month and day on which a season begins.
    pub season_start: Option<String>,
    /// Units of all outputs.
    pub units: Units,
}

/// All settings of a run.
#[derive(Clone, Debug, Default, PartialEq, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Settings {
    /// The lake.
    pub lake: LakeSettings,
    /// The exports, by device.
    pub input: Vec<InputSettings>,
    /// The user's words for each kind.
    pub labels: interpret::Labels,
    /// When two marks are one.
    pub merge: merge::Settings,
    /// The bottom by the depths of the track logs.
    pub soundings: soundings::Settings,
    /// When marks are one sighting.
    pub sightings: schools::SightingSettings,
    /// When sightings are a holding area.
    pub schools: schools::AreaSettings,
    /// The movement fit.
    pub movement: movement::Settings,
    /// What counts as looked over.
    pub effort: effort::Settings,
    /// The outlook.
    pub outlook: outlook::Settings,
    /// The practice days.
    pub prefish: prefish::Settings,
    /// What is written.
    pub output: layers::Settings,
    /// What is handed out.
    pub share: share::Settings,
    /// Folder that relative paths start from.
    #[serde(skip)]
    pub base: PathBuf,
    /// The settings in force, for the account: defaults with the file and `--set` laid over them.
    #[serde(skip)]
    pub in_force: serde_json::Value,
    // Sections of stages that this version does not have: taken, not looked into, and told.
}

impl Settings {
    /// Reads the settings: defaults, then the text of the file, then each `key=value`.
    ///
    /// # Errors
    /// With file, line and column (or the option): bad TOML, an unknown key, a value that cannot be read.
    pub fn read(file: Option<(&Path, &str)>, sets: &[String]) -> Result<Self, SettingsError> {
        let (path, text) = file.unwrap_or((Path::new(""), ""));
        keys::check(path, text)?;
        let at = |e: &toml::de::Error| keys::place(path, text, e.span().map_or(0, |span| span.start));
        let mut settings: Self =
            toml::from_str(text).map_err(|e| SettingsError::new(at(&e), keys::plain(e.message())))?;
        let mut table: toml::Table =
            toml::from_str(text).map_err(|e| SettingsError::new(at(&e), keys::plain(e.message())))?;
        for set in sets {
            keys::apply_set(&mut table, set)?;
            settings = table.clone().try_into().map_err(|e: toml::de::Error| {
                SettingsError::new(format!("--set {set}"), keys::plain(e.message()))
            })?;
        }
        let mut in_force: toml::Table =
            toml::from_str(DEFAULT_TOML).map_err(|e| SettingsError::new("settings.toml", e.message()))?;
        lay_over(&mut in_force, table);
        settings.in_force = serde_json::to_value(in_force)
            .map_err(|e| SettingsError::new(path.display().to_string(), e.to_string()))?;
        settings.base = path.parent().map(Path::to_owned).unwrap_or_default();
        settings.check_values(path, text)?;
        Ok(settings)
    }

    /// Looks out to a date, whatever the settings file says.
    pub fn look_out_to(&mut self, date: jiff::civil::Date) {
        self.outlook.date = Some(date);
        self.in_force["outlook"]["date"] = date.to_string().into();
    }

    /// Level at full pool in metres.
    #[must_use]
    pub fn full_pool_m(&self) -> Option<f64> {
        self.lake.full_pool.as_deref().and_then(|text| level_m(text, self.lake.units))
    }

    /// Level to expect on the practice days in metres.
    #[must_use]
    pub fn expected_level_m(&self) -> Option<f64> {
        self.prefish.level.as_deref().and_then(|text| level_m(text, self.lake.units))
    }

    /// Values of `[lake]` that need more than a type: told here, where the line is still known.
    fn check_values(&self, path: &Path, text: &str) -> Result<(), SettingsError> {
        let at = |key: &str| keys::place_of(path, text, &["lake", key]);
        if let Some(name) = self.lake.timezone.as_deref().filter(|name| TimeZone::get(name).is_err()) {
            let known: Vec<String> = jiff::tz::db().available().map(|n| n.to_string()).collect();
            let nearest = keys::nearest(name, known.iter().map(String::as_str));
            let hint = nearest.map_or_else(String::new, |n| format!("; the nearest is `{n}`"));
            return Err(SettingsError::new(
                at("timezone"),
                format!("there is no time zone `{name}`{hint}. Write an IANA name like `America/Chicago`"),
            ));
        }
        let is_no_day = |start: &&str| SeasonStart::from_month_day(start).is_none();
        if let Some(start) = self.lake.season_start.as_deref().filter(is_no_day) {
            return Err(SettingsError::new(
                at("season_start"),
                format!("`{start}` is no month and day; write it like `09-01`"),
            ));
        }
        let is_no_level = |level: &&str| level_m(level, self.lake.units).is_none();
        if let Some(level) = self.lake.full_pool.as_deref().filter(is_no_level) {
            return Err(SettingsError::new(
                at("full_pool"),
                format!("`{level}` is no level; write it like `640 ft` or `195 m`"),
            ));
        }
        if let Some(level) = self.prefish.level.as_deref().filter(is_no_level) {
            return Err(SettingsError::new(
                keys::place_of(path, text, &["prefish", "level"]),
                format!("`{level}` is no level; write it like `606.5 ft` or `184.9 m`"),
            ));
        }
        Ok(())
    }

    /// The lake's time zone; UTC when none is set.
    #[must_use]
    pub fn time_zone(&self) -> TimeZone {
        self.lake.timezone.as_deref().and_then(|name| TimeZone::get(name).ok()).unwrap_or(TimeZone::UTC)
    }

    /// Where a season begins; 1 January when not set.
    #[must_use]
    pub fn season_start(&self) -> SeasonStart {
        self.lake.season_start.as_deref().and_then(SeasonStart::from_month_day).unwrap_or_default()
    }

    /// A path of the settings file, from the folder that it stands in.
    #[must_use]
    pub fn path(&self, relative: &Path) -> PathBuf {
        self.base.join(relative)
    }
}

/// Lays one table over another, section by section.
fn lay_over(under: &mut toml::Table, over: toml::Table) {
    for (key, value) in over {
        match (under.get_mut(&key), value) {
            (Some(toml::Value::Table(inner)), toml::Value::Table(more)) => lay_over(inner, more),
            (_, value) => {
                under.insert(key, value);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Reads a settings text; the error's text, or `ok`.
    #[track_caller]
    fn check(text: &str, sets: &[&str], expected: &str) {
        let sets: Vec<String> = sets.iter().map(|s| (*s).to_owned()).collect();
        let got = Settings::read(Some((Path::new("lake.toml"), text)), &sets)
            .map_or_else(|e| e.to_string(), |_| String::from("ok"));
        assert!(got.contains(expected), "{got}");
    }

    #[test]
    fn the_printed_defaults_are_the_defaults() {
        let printed = Settings::read(Some((Path::new(""), DEFAULT_TOML)), &[]).unwrap();
        let mut plain = Settings::read(None, &[]).unwrap();
        plain.lake.season_start = printed.lake.season_start.clone(); // spelled out there, absent here: both 1 January
        assert_eq!(printed, plain);
    }

    #[test]
    fn every_commented_example_in_the_defaults_is_accepted() {
        let lines: Vec<&str> = DEFAULT_TOML
            .lines()
            .map(|line| {
                line.strip_prefix("# ").filter(|l| l.starts_with("[[") || l.contains(" = ")).unwrap_or(line)
            })
            .collect();
        let text = lines.join("\n");
        assert!(text.contains("\n[[input]]") && text.contains("\nfull_pool"), "{text}");
        check(&text, &[], "ok");
    }

    #[test]
    fn a_misspelt_key_names_the_nearest_with_its_place() {
        check(
            "[schools]\ndistanse = \"1 m\"\n",
            &[],
            "lake.toml:2:1: there is no setting `schools.distanse`; the nearest is `schools.distance`",
        );
        check("[shools]\n", &[], "lake.toml:1:2: there is no section `shools`; the nearest is `schools`");
        check(
            "[[input]]\nfile = []\n",
            &[],
            "lake.toml:2:1: there is no setting `input.file`; the nearest is `input.files`",
        );
        check(
            "",
            &["schools.dayz=3"],
            "--set schools.dayz=3: there is no setting `schools.dayz`; the nearest is `schools.days`",
        );
    }

    #[test]
    fn a_wrong_value_is_told_with_its_place() {
        check("[schools]\ndistance = \"300\"\n", &[], "lake.toml:2:12: `300` is no distance");
        check(
            "[lake]\ntimezone = \"America/Chicagoo\"\n",
            &[],
            "lake.toml:2:12: there is no time zone `America/Chicagoo`; the nearest is `America/Chicago`",
        );
        check("[lake\n", &[], "lake.toml:1:");
        check("", &["schools.days=x"], "--set schools.days=x");
    }

    #[test]
    fn set_lays_over_the_file() {
        let text = "[schools]\ndays = 14\n";
        let sets = [
            "schools.days=30".to_owned(),
            "lake.name=Two Words".to_owned(),
            "sightings.time=5 min".to_owned(),
        ];
        let settings = Settings::read(Some((Path::new("lake.toml"), text)), &sets).unwrap();
        assert!((settings.schools.days - 30.0).abs() < 1e-12);
        assert_eq!(settings.lake.name, "Two Words");
        assert_eq!(settings.in_force["schools"]["days"], 30);
        assert_eq!(settings.in_force["merge"]["same_place"], "10 m");
    }
}
