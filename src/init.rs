//! Looks at the exports in a folder and writes a commented `lake.toml` that runs as it stands.

use crate::ingest;
use crate::ingest::shoreline::read_shoreline;
use crate::interpret::middle_of;
use crate::output::{OutputError, write_file};
use crate::settings::Settings;
use crate::terms::export::{Export, FileId};
use crate::terms::mark::{RawMark, RawTime};
use jiff::civil::Date;
use std::collections::BTreeMap;
use std::ffi::OsStr;
use std::fmt::Write as _;
use std::fs::{self, File};
use std::io::Write as _;
use std::path::{Path, PathBuf};

/// Folders below the given one that are looked into.
const DEPTH: usize = 3;

/// Why no settings file was written.
#[derive(Debug, thiserror::Error)]
pub enum InitError {
    /// The folder cannot be read.
    #[error("cannot look into `{}`", path.display())]
    Folder {
        /// The folder.
        path: PathBuf,
        /// Why.
        source: std::io::Error,
    },
    /// There is a settings file already.
    #[error("`{}` is there already and is not overwritten. Move it away to start anew", path.display())]
    Exists {
        /// The file.
        path: PathBuf,
    },
    /// There is no export.
    #[error("there is no .gpx and no .csv in `{}` or {DEPTH} folders below. Copy your exports there first", path.display())]
    NoExports {
        /// The folder.
        path: PathBuf,
    },
    /// The settings file cannot be written.
    #[error(transparent)]
    Output(#[from] OutputError),
}

/// What a look at one file told.
struct Look {
    /// Path from the folder, with `/` between parts.
    label: String,
    marks: u64,
    track_points: u64,
    /// First and last year of its marks.
    years: Option<(i16, i16)>,
    raw: Vec<RawMark>,
}

/// What a folder holds.
#[derive(Default)]
struct Folder {
    looks: Vec<Look>,
    shoreline: Option<String>,
    levels: Option<String>,
    edits: Option<String>,
    /// Files of a known ending that give nothing, with the reason.
    useless: Vec<(String, String)>,
}

/// Writes `lake.toml` into `dir`; returns what to tell the user. `time_zone` is this computer's.
///
/// # Errors
/// When the folder cannot be read, holds no exports, or holds a `lake.toml` already.
pub fn init(dir: &Path, time_zone: Option<&str>) -> Result<String, InitError> {
    let path = dir.join("lake.toml");
    if path.exists() {
        return Err(InitError::Exists { path });
    }
    let mut names = Vec::new();
    list(dir, DEPTH, &mut names).map_err(|source| InitError::Folder { path: dir.to_owned(), source })?;
    names.sort();
    let folder = look(dir, &names);
    if folder.looks.is_empty() {
        return Err(InitError::NoExports { path: dir.to_owned() });
    }
    let name = fs::canonicalize(dir)
        .ok()
        .and_then(|full| Some(full.file_name()?.to_string_lossy().into_owned()))
        .unwrap_or_default();
    let text = settings_text(&folder, &name, time_zone);
    write_file(&path, |w| w.write_all(text.as_bytes()))?;
    let marks: u64 = folder.looks.iter().map(|l| l.marks).sum();
    let mut told = format!("Written: {}\n{} files with {marks} marks.\n", path.display(), folder.looks.len());
    for (label, why) in &folder.useless {
        let _ = writeln!(told, "Left out: {label}: {why}");
    }
    let _ = writeln!(told, "Look it over, the time zone first, then:\n  shoalwright run {}", path.display());
    Ok(crate::account::printable_lines(&told))
}

/// Files below a folder, hidden ones and our own output folders left out.
fn list(dir: &Path, depth: usize, names: &mut Vec<PathBuf>) -> std::io::Result<()> {
    for entry in fs::read_dir(dir)? {
        let path = entry?.path();
        let hidden = path.file_name().is_none_or(|n| n.to_string_lossy().starts_with('.'));
        if hidden {
            continue;
        }
        if path.is_dir() {
            if depth > 0 && !path.join(crate::output::MARKER).exists() {
                list(&path, depth - 1, names)?;
            }
        } else {
            names.push(path);
        }
    }
    Ok(())
}

fn ending(path: &Path) -> String {
    path.extension().map(|e| e.to_string_lossy().to_lowercase()).unwrap_or_default()
}

fn look(dir: &Path, names: &[PathBuf]) -> Folder {
    let mut folder = Folder::default();
    for path in names {
        let label = path.strip_prefix(dir).unwrap_or(path).to_string_lossy().replace('\\', "/");
        match ending(path).as_str() {
            "geojson" | "json"
                if folder.shoreline.is_none()
                    && fs::read_to_string(path).is_ok_and(|text| read_shoreline(&text).is_ok()) =>
            {
                folder.shoreline = Some(label);
            }
            "csv" if header_is(path, &["date", "level"]) => folder.levels = Some(label),
            "csv" if header_is(path, &["id", "action", "value"]) => folder.edits = Some(label),
            "gpx" | "csv" => match look_at(path, label.clone()) {
                Ok(look) => folder.looks.push(look),
                Err(why) => folder.useless.push((label, why)),
            },
            _ => {}
        }
    }
    folder
}

fn header_is(path: &Path, columns: &[&str]) -> bool {
    let Ok(file) = File::open(path) else { return false };
    let mut reader = csv::ReaderBuilder::new().trim(csv::Trim::All).from_reader(file);
    reader.headers().is_ok_and(|headers| {
        headers.len() == columns.len() && headers.iter().zip(columns).all(|(h, c)| h.eq_ignore_ascii_case(c))
    })
}

/// Reads one file as `check` would, and keeps what a settings file tells of it.
fn look_at(path: &Path, label: String) -> Result<Look, String> {
    let [export]: [Export; 1] =
        Settings::exports_of(&[path.to_owned()]).try_into().map_err(|_| String::from("it has no name"))?;
    let file = File::open(path).map_err(|e| e.to_string())?;
    let read = ingest::read(&export, FileId(0), file);
    if read.counts.marks + read.counts.track_points == 0 {
        return Err(read
            .marks
            .findings
            .first()
            .map_or_else(|| String::from("no marks, no track logs"), |f| f.seen.to_string()));
    }
    let years = read.marks.kept.iter().filter_map(year).fold(None, |span: Option<(i16, i16)>, year| {
        Some(span.map_or((year, year), |(first, last)| (first.min(year), last.max(year))))
    });
    Ok(Look {
        label,
        marks: read.counts.marks,
        track_points: read.counts.track_points,
        years,
        raw: read.marks.kept,
    })
}

fn year(mark: &RawMark) -> Option<i16> {
    match &mark.time {
        RawTime::Instant(t) => t.local_date(&jiff::tz::TimeZone::UTC).map(Date::year),
        RawTime::Civil(t) => Some(t.year()),
        RawTime::Date(d) => Some(d.year()),
        RawTime::Missing | RawTime::Unreadable(_) => None,
    }
}

fn quoted(text: &str) -> String {
    toml::Value::String(text.to_owned()).to_string()
}

fn settings_text(folder: &Folder, name: &str, time_zone: Option<&str>) -> String {
    let mut text = String::from(
        "# Settings for one lake, written by `shoalwright init`. It runs as it stands; mend what it guessed.\n\
         # All settings with their defaults: `shoalwright settings`.\n\n[lake]\n",
    );
    let mut line = |content: String| {
        text.push_str(&content);
        text.push('\n');
    };
    line(format!("name = {}", quoted(name)));
    match time_zone {
        Some(zone) => line(format!("timezone = {}   # this computer's: is it the lake's?", quoted(zone))),
        None => line(String::from(
            "# timezone = \"America/Chicago\"   # set the lake's; until then dates are taken in UTC",
        )),
    }
    match &folder.shoreline {
        Some(label) => line(format!("shoreline = {}", quoted(label))),
        None => line(String::from(
            "# shoreline = \"shoreline.geojson\"   # polygons of water: tells marks on land and far off",
        )),
    }
    match &folder.levels {
        Some(label) => line(format!(
            "levels = {}\n# full_pool = \"640 ft\"\n# level_datum = \"NGVD 29\"   # what both are counted from",
            quoted(label)
        )),
        None => line(String::from("# levels = \"levels.csv\"   # columns date,level")),
    }
    line(String::from("units = \"us\"   # or \"metric\""));
    let raw: Vec<RawMark> = folder.looks.iter().flat_map(|l| l.raw.iter().cloned()).collect();
    if let Some(middle) = middle_of(&raw) {
        line(format!(
            "# The middle of the marks is at latitude {:.3}, longitude {:.3}.",
            middle.lat, middle.lon
        ));
    }
    for input in inputs(&folder.looks) {
        line(input);
    }
    if let Some(label) = &folder.edits {
        line(format!("edits = {}", quoted(label)));
    }
    line(String::from(
        "\n[labels]   # your own words for each kind of mark; \"ball*\" matches any ending\n# bait = [\"shad\", \"ball*\"]\n# hazard = [\"rock*\", \"stump*\"]",
    ));
    text
}

/// One `[[input]]` a device, as far as names tell: files of one folder and format whose names are the same
/// word with a date or number behind it (`bow-2021.gpx`, `bow-2022.gpx`) are taken for one device's.
fn inputs(looks: &[Look]) -> Vec<String> {
    let mut devices: BTreeMap<(String, String, String), Vec<&Look>> = BTreeMap::new();
    for look in looks {
        let path = Path::new(&look.label);
        let part = |part: Option<&OsStr>| part.map(|p| p.to_string_lossy().into_owned()).unwrap_or_default();
        let folder = part(path.parent().map(Path::as_os_str));
        let key = (folder, first_word(&part(path.file_stem())), part(path.extension()).to_lowercase());
        devices.entry(key).or_default().push(look);
    }
    devices.into_iter().map(|((_, unit, _), looks)| input(&unit, &looks)).collect()
}

/// The word of a file's name when only digits and signs follow it (a date, a number); else the whole name.
fn first_word(stem: &str) -> String {
    let word: String = stem.chars().take_while(|c| c.is_alphabetic()).collect();
    let only_digits_follow = !stem[word.len()..].chars().any(char::is_alphabetic);
    if word.chars().count() >= 3 && only_digits_follow { word.to_lowercase() } else { stem.to_owned() }
}

fn input(unit: &str, looks: &[&Look]) -> String {
    let mut lines = vec![
        String::from("\n[[input]]"),
        format!("unit = {}   # a label for the device: a guess", quoted(unit)),
    ];
    lines.push(String::from("files = ["));
    for look in looks {
        let years = look.years.map_or_else(String::new, |(first, last)| {
            if first == last { format!(", dated {first}") } else { format!(", dated {first} to {last}") }
        });
        lines.push(format!(
            "    {},   # {} marks, {} track points{years}",
            quoted(&glob::Pattern::escape(&look.label)),
            look.marks,
            look.track_points
        ));
    }
    lines.push(String::from("]"));
    lines.join("\n")
}
