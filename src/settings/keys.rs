//! Known keys, the nearest to a misspelt one, and where in a file a key stands.

use super::SettingsError;
use std::path::Path;
use toml::de::{DeTable, DeValue};

/// Section → its keys. A test compares this with what the types accept.
const KNOWN: &[(&str, &[&str])] = &[
    (
        "lake",
        &["name", "timezone", "shoreline", "levels", "full_pool", "level_datum", "season_start", "units"],
    ),
    (
        "input",
        &[
            "files",
            "unit",
            "recorded_depth",
            "ele",
            "columns",
            "depth_unit",
            "temperature_unit",
            "time_zone",
            "edits",
        ],
    ),
    ("labels", &["bait", "gamefish", "cover", "structure", "hazard", "access", "other"]),
    ("merge", &["same_place", "same_time", "same_cover", "apply_unit_offset"]),
    ("soundings", &["cell", "reach", "interval", "contours", "spike", "unit_offsets", "transducer"]),
    ("sightings", &["distance", "depth", "time"]),
    ("schools", &["distance", "days", "depth", "min_sightings", "clock"]),
    ("movement", &["clock", "max_tracks"]),
    ("effort", &["swath", "max_speed", "running_weight"]),
    ("outlook", &["date", "water_temp", "cell"]),
    (
        "prefish",
        &[
            "date",
            "days",
            "start",
            "finish",
            "launch",
            "off_water",
            "run_speed",
            "idle_speed",
            "search_speed",
            "search_time",
            "range",
            "tank",
            "thirds",
            "keep_off",
            "clearance",
            "level",
            "zones",
            "stops",
            "max_stops",
            "seed",
        ],
    ),
    ("output", &["dir", "name_length", "most_marks", "for_boat", "symbols"]),
    ("share", &["level", "secret"]),
];

/// Sections of stages that this version does not have: accepted, told, not looked into.
const LATER: &[&str] = &[];

/// Checks that all sections and keys of a settings text are known.
pub(super) fn check(path: &Path, text: &str) -> Result<(), SettingsError> {
    let table = DeTable::parse(text).map_err(|e| {
        SettingsError::new(place(path, text, e.span().map_or(0, |s| s.start)), plain(e.message()))
    })?;
    for (section, value) in table.get_ref() {
        let at = |start: usize| place(path, text, start);
        let keys = section_keys(section.get_ref())
            .map_err(|what| SettingsError::new(at(section.span().start), what))?;
        let shaped = shape(section.get_ref(), value.get_ref());
        shaped.map_err(|what| SettingsError::new(at(section.span().start), what))?;
        let tables: Vec<&DeTable> = match value.get_ref() {
            DeValue::Table(table) => vec![table],
            DeValue::Array(items) => items
                .iter()
                .filter_map(
                    |item| if let DeValue::Table(table) = item.get_ref() { Some(table) } else { None },
                )
                .collect(),
            _ => Vec::new(),
        };
        for key in tables.into_iter().flat_map(|t| t.keys()) {
            check_key(section.get_ref(), key.get_ref(), keys)
                .map_err(|what| SettingsError::new(at(key.span().start), what))?;
        }
    }
    Ok(())
}

/// Says how a section is opened where it is given as something else.
fn shape(section: &str, value: &DeValue<'_>) -> Result<(), String> {
    match (section, value) {
        ("input", DeValue::Array(items))
            if items.iter().all(|i| matches!(i.get_ref(), DeValue::Table(_))) =>
        {
            Ok(())
        }
        ("input", _) => Err(String::from(
            "inputs are a list: open each with `[[input]]`, two brackets on either side, on a line of its own",
        )),
        (_, DeValue::Table(_)) => Ok(()),
        _ => Err(format!(
            "`{section}` is a section: open it with `[{section}]` on a line of its own, and put its settings below"
        )),
    }
}

/// The keys of a section, `None` where they are not looked into.
fn section_keys(section: &str) -> Result<Option<&'static [&'static str]>, String> {
    if LATER.contains(&section) {
        return Ok(None);
    }
    KNOWN.iter().find(|(name, _)| *name == section).map(|(_, keys)| Some(*keys)).ok_or_else(|| {
        let names = KNOWN.iter().map(|(name, _)| *name).chain(LATER.iter().copied());
        // A setting without the section that it belongs to.
        match KNOWN.iter().find(|(_, keys)| keys.contains(&section)) {
            Some((home, _)) => {
                format!("`{section}` belongs into a section: write `[{home}]` on a line above it")
            }
            None => format!("there is no section `{section}`{}", told(nearest(section, names), "")),
        }
    })
}

fn check_key(section: &str, key: &str, keys: Option<&[&str]>) -> Result<(), String> {
    match keys {
        Some(keys) if !keys.contains(&key) => Err(format!(
            "there is no setting `{section}.{key}`{}",
            told(nearest(key, keys.iter().copied()), &format!("{section}."))
        )),
        _ => Ok(()),
    }
}

fn told(nearest: Option<&str>, prefix: &str) -> String {
    nearest.map_or_else(
        || String::from("; `shoalwright settings` prints all there are"),
        |word| format!("; the nearest is `{prefix}{word}`"),
    )
}

/// What the reader of TOML says, in plain words and with the mend where there is one to tell.
pub(super) fn plain(message: &str) -> String {
    if message == "duplicate key" {
        return String::from("this stands twice: take one away");
    }
    if let Some(words) = message.strip_prefix("unknown variant ") {
        return words.replacen(", expected one of ", " is not known here; it is one of ", 1).replacen(
            ", expected ",
            " is not known here; write ",
            1,
        );
    }
    let number = message
        .strip_prefix("invalid type: integer ")
        .or(message.strip_prefix("invalid type: floating point "));
    match number.and_then(|rest| rest.strip_suffix(", expected a string")) {
        Some(number) => format!(
            "{number} stands without quotes: write text in quotes, and a quantity with its unit, like \"60 m\""
        ),
        None => message.to_owned(),
    }
}

/// Lays one `section.key=value` over a table. The value is read as TOML, or as plain text where it is none.
pub(super) fn apply_set(table: &mut toml::Table, set: &str) -> Result<(), SettingsError> {
    let fail = |what: String| SettingsError::new(format!("--set {set}"), what);
    let form = || fail(String::from("write it as section.key=value, like schools.days=14"));
    let (path, text) = set.split_once('=').ok_or_else(form)?;
    let (section, key) = path.trim().split_once('.').ok_or_else(form)?;
    check_key(section, key.split('.').next().unwrap_or(key), section_keys(section).map_err(fail)?)
        .map_err(fail)?;
    if section == "input" {
        return Err(fail(String::from("inputs are a list: change them in the settings file")));
    }
    let value = toml::from_str::<toml::Table>(&format!("v = {text}"))
        .ok()
        .and_then(|mut t| t.remove("v"))
        .unwrap_or_else(|| toml::Value::String(text.trim().to_owned()));
    let mut inner = table;
    let mut keys = path.trim().split('.').peekable();
    while let Some(key) = keys.next() {
        if keys.peek().is_none() {
            inner.insert(key.to_owned(), value);
            break;
        }
        inner = inner
            .entry(key)
            .or_insert_with(|| toml::Value::Table(toml::Table::new()))
            .as_table_mut()
            .ok_or_else(|| fail(format!("`{key}` holds a value, not a section")))?;
    }
    Ok(())
}

/// Line and column of a byte in a text, as `file:line:column`, both from 1.
pub(super) fn place(path: &Path, text: &str, byte: usize) -> String {
    let before = text.get(..byte).unwrap_or(text);
    let line = before.matches('\n').count() + 1;
    let column = before.rsplit('\n').next().map_or(0, |l| l.chars().count()) + 1;
    format!("{}:{line}:{column}", path.display())
}

/// Where the value of a key stands; the file alone when it came from elsewhere (`--set`).
pub(super) fn place_of(path: &Path, text: &str, keys: &[&str; 2]) -> String {
    let start = DeTable::parse(text).ok().and_then(|table| {
        let DeValue::Table(section) = table.get_ref().get(keys[0])?.get_ref() else { return None };
        Some(section.get(keys[1])?.span().start)
    });
    start
        .map_or_else(|| format!("{} {}.{}", path.display(), keys[0], keys[1]), |byte| place(path, text, byte))
}

/// The word with the fewest edits to `word`, when it is near enough to be what was meant: a third of its length.
pub(super) fn nearest<'a>(word: &str, known: impl Iterator<Item = &'a str>) -> Option<&'a str> {
    known
        .map(|candidate| (edits(&word.to_lowercase(), &candidate.to_lowercase()), candidate))
        .min()
        .filter(|(edits, candidate)| *edits <= candidate.chars().count().div_ceil(3))
        .map(|(_, candidate)| candidate)
}

/// Insertions, deletions and changes of one character that turn `a` into `b` (Levenshtein distance).
fn edits(a: &str, b: &str) -> usize {
    let b: Vec<char> = b.chars().collect();
    let mut row: Vec<usize> = (0..=b.len()).collect();
    for (i, from) in a.chars().enumerate() {
        let mut diagonal = row[0];
        row[0] = i + 1;
        for (j, to) in b.iter().enumerate() {
            let changed = diagonal + usize::from(from != *to);
            diagonal = row[j + 1];
            row[j + 1] = changed.min(diagonal + 1).min(row[j] + 1);
        }
    }
    row[b.len()]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn edits_match_published_distances() {
        // Worked example of the Levenshtein distance found in textbooks (from memory): kitten → sitting is 3.
        assert_eq!(edits("kitten", "sitting"), 3);
        assert_eq!(edits("", "abc"), 3);
    }

    #[test]
    fn the_table_of_keys_is_what_the_types_accept() {
        for (section, keys) in KNOWN {
            let header = if *section == "input" { "[[input]]" } else { &format!("[{section}]") };
            let error = toml::from_str::<crate::settings::Settings>(&format!("{header}\nno_such_key = 1\n"))
                .unwrap_err()
                .message()
                .to_owned();
            // serde lists the accepted fields: "expected one of `a`, `b`".
            let mut accepted: Vec<&str> = error.split('`').skip(3).step_by(2).collect();
            let mut known = keys.to_vec();
            accepted.sort_unstable();
            known.sort_unstable();
            assert_eq!(accepted, known, "{section}: {error}");
        }
    }
}
