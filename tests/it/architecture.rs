//! Who may use whom: the arrows of the run point one way.

use std::fs;
use std::path::{Path, PathBuf};

/// Module → modules of ours that it may use.
const MAY_USE: &[(&str, &[&str])] = &[
    ("terms", &[]),
    ("travel", &["terms"]),
    ("ingest", &["terms"]),
    ("interpret", &["terms"]),
    ("merge", &["terms"]),
    ("soundings", &["terms"]),
    ("schools", &["terms", "travel"]),
    ("movement", &["terms", "schools", "travel"]),
    ("effort", &["terms"]),
    ("outlook", &["terms", "schools", "movement", "effort"]),
    ("prefish", &["terms", "travel", "schools"]),
    ("layers", &["terms", "soundings", "schools", "movement", "effort", "outlook", "prefish", "travel"]),
    ("share", &["terms", "schools", "layers"]),
    ("explain", &["terms", "travel", "merge", "schools", "movement", "effort", "prefish", "layers"]),
    (
        "settings",
        &[
            "terms",
            "interpret",
            "merge",
            "soundings",
            "schools",
            "movement",
            "effort",
            "outlook",
            "layers",
            "prefish",
            "share",
        ],
    ),
    ("account", &["terms", "ingest"]),
    ("report", &["terms", "effort", "layers", "account"]),
    ("output", &[]),
    (
        "pipeline",
        &[
            "terms",
            "ingest",
            "interpret",
            "merge",
            "soundings",
            "schools",
            "movement",
            "effort",
            "outlook",
            "prefish",
            "travel",
            "layers",
            "share",
            "explain",
            "settings",
            "account",
            "report",
            "output",
        ],
    ),
    ("init", &["terms", "ingest", "interpret", "settings", "account", "output"]),
    ("demo", &["output"]),
    ("cli", &[]),
];

fn rust_files(path: &Path) -> Vec<PathBuf> {
    if path.is_file() {
        return vec![path.to_owned()];
    }
    let Ok(entries) = fs::read_dir(path) else { return Vec::new() };
    entries
        .flat_map(|e| rust_files(&e.unwrap().path()))
        .filter(|p| p.extension().is_some_and(|e| e == "rs"))
        .collect()
}

/// The modules of ours that a text uses: the word after each `crate::`. A grouped `use crate::{…}` gives an empty
/// word, which no table allows.
fn used(text: &str) -> impl Iterator<Item = &str> {
    text.split("crate::")
        .skip(1)
        .map(|rest| &rest[..rest.find(|c: char| !(c.is_alphanumeric() || c == '_')).unwrap_or(rest.len())])
}

#[test]
fn every_arrow_points_against_the_flow_of_the_run() {
    let src = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let lib = fs::read_to_string(src.join("lib.rs")).unwrap();
    let modules: Vec<&str> =
        lib.lines().filter_map(|l| l.strip_prefix("pub mod ")?.strip_suffix(';')).collect();
    assert!(modules.len() > 5, "no modules found in lib.rs");
    for module in modules {
        let (_, allowed) = MAY_USE
            .iter()
            .find(|(name, _)| *name == module)
            .unwrap_or_else(|| panic!("module `{module}` has no row in MAY_USE"));
        let files = [rust_files(&src.join(module)), rust_files(&src.join(format!("{module}.rs")))].concat();
        assert!(!files.is_empty(), "module `{module}` has no file");
        for file in files {
            let text = fs::read_to_string(&file).unwrap();
            for word in used(&text) {
                assert!(word == module || allowed.contains(&word), "{} may not use `{word}`", file.display());
            }
            assert!(!text.contains("super::super::"), "{} reaches past its parent", file.display());
        }
    }
}
