//! An export: one file from one device, and what the user said about it.

use crate::terms::units::{DepthUnit, TemperatureUnit};
use serde::{Deserialize, Serialize};
use std::path::PathBuf;

/// How a file is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Format {
    /// GPX 1.0 or 1.1.
    Gpx,
    /// Rows of text with a header.
    Csv,
}

impl Format {
    /// The word for it in outputs: `gpx` or `csv`.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Gpx => "gpx",
            Self::Csv => "csv",
        }
    }
}

/// What a depth field recorded by the device means.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum RecordedDepth {
    /// Depth of the bottom, which is what a unit stores at the press (common practice, no source).
    #[default]
    Water,
    /// Depth of the fish or bait.
    Fish,
}

/// What GPX `ele` of a file holds.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Ele {
    /// Height above the sea, as GPX 1.1 has it: of no use for marks on one lake.
    #[default]
    Height,
    /// Depth of the bottom in metres, of either sign, as some exports have it (common practice, no source).
    Depth,
}

/// How a CSV time without an offset is read.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum CsvClock {
    /// In the lake's time zone.
    #[default]
    Local,
    /// In UTC.
    Utc,
}

/// Header of each CSV column, where the user named it; the rest is guessed from the header.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Columns {
    /// Latitude.
    pub lat: Option<String>,
    /// Longitude.
    pub lon: Option<String>,
    /// Date and time, or the date alone.
    pub time: Option<String>,
    /// Time of day, where date and time stand in two columns.
    pub clock: Option<String>,
    /// Name.
    pub name: Option<String>,
    /// What the mark is on, in the user's words.
    pub kind: Option<String>,
    /// Note.
    pub note: Option<String>,
    /// Depth of the fish or bait.
    pub fish_depth: Option<String>,
    /// Depth of the bottom.
    pub water_depth: Option<String>,
    /// Temperature of the surface.
    pub water_temp: Option<String>,
}

/// Number of an export in the sorted list of inputs.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct FileId(pub u32);

/// One file from one device.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Export {
    /// Where the file is.
    pub path: PathBuf,
    /// How outputs name it: as given on the command line, or relative to the settings file.
    pub label: String,
    /// How it is written.
    pub format: Format,
    /// Label of the device.
    pub unit: String,
    /// What a recorded depth means.
    pub recorded_depth: RecordedDepth,
    /// What GPX `ele` holds.
    pub ele: Ele,
    /// CSV columns that the user named.
    pub columns: Columns,
    /// Unit of bare depth numbers in CSV and names.
    pub depth_unit: DepthUnit,
    /// Unit of bare temperature numbers in CSV and names.
    pub temperature_unit: TemperatureUnit,
    /// How CSV times without an offset are read.
    pub time_zone: CsvClock,
}
