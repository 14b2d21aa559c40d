//! The invented demo lake, from the binary itself.

use crate::output::OutputError;
use std::fs;
use std::path::{Path, PathBuf};

/// Why the demo lake could not be written.
#[derive(Debug, thiserror::Error)]
pub enum DemoError {
    /// The folder holds files already.
    #[error("`{}` is not empty. Give a folder that does not exist yet, like `shoalwright demo demo`", path.display())]
    NotEmpty {
        /// The folder.
        path: PathBuf,
    },
    /// A file could not be written.
    #[error(transparent)]
    Output(#[from] OutputError),
}

/// Embeds the files of `demo-data` under their names.
macro_rules! demo_files {
    ($($name:literal),+ $(,)?) => {
        &[$(($name, include_bytes!(concat!("../demo-data/", $name)))),+]
    };
}

/// Name and content of each file; a test compares the list with the folder.
const FILES: &[(&str, &[u8])] = demo_files![
    "PLANTED.md",
    "edits.csv",
    "exports/alpha-2021.gpx",
    "exports/alpha-2022-all.gpx",
    "exports/alpha-2023.gpx",
    "exports/alpha-2025-all.gpx",
    "exports/bravo-2021-22.gpx",
    "exports/bravo-2023-fall.gpx",
    "exports/bravo-2023-spring.gpx",
    "exports/bravo-2024-card.gpx",
    "exports/bravo-2024.gpx",
    "exports/bravo-2025.gpx",
    "exports/fieldbook-2023-24.csv",
    "exports/fieldbook-2025.csv",
    "exports/fieldbook-guest.csv",
    "lake.toml",
    "levels.csv",
    "odd/not-a-gpx.gpx",
    "shoreline.geojson",
];

/// Writes the demo lake into a new or empty folder; returns what to do next.
///
/// # Errors
/// When the folder holds files or cannot be written.
pub fn write_demo(dir: &Path) -> Result<String, DemoError> {
    let fail = |path: &Path| {
        let path = path.to_owned();
        move |source| OutputError::Write { path, source }
    };
    if fs::read_dir(dir).is_ok_and(|mut entries| entries.next().is_some()) {
        return Err(DemoError::NotEmpty { path: dir.to_owned() });
    }
    for (name, content) in FILES {
        let path = dir.join(name);
        let folder = path.parent().unwrap_or(dir);
        fs::create_dir_all(folder).map_err(fail(folder))?;
        fs::write(&path, content).map_err(fail(&path))?;
    }
    let settings = dir.join("lake.toml");
    Ok(format!(
        "An invented lake, with invented people and marks, is in `{}`. Now run:\n  shoalwright run {}\n",
        dir.display(),
        settings.display()
    ))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn names(dir: &Path, base: &Path, found: &mut Vec<String>) {
        for entry in fs::read_dir(dir).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                names(&path, base, found);
            } else {
                found.push(path.strip_prefix(base).unwrap().to_string_lossy().into_owned());
            }
        }
    }

    #[test]
    fn all_of_demo_data_is_embedded() {
        let base = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-data");
        let mut found = Vec::new();
        names(&base, &base, &mut found);
        found.sort();
        let embedded: Vec<_> = FILES.iter().map(|(name, _)| (*name).to_owned()).collect();
        assert_eq!(embedded, found);
        let bytes: usize = FILES.iter().map(|(_, content)| content.len()).sum();
        assert!(bytes < 3_000_000, "the demo lake has {bytes} bytes");
    }
}
