//! The documents say what the program does: codes in the README, origins in `fixtures/README.md`.

use shoalwright::terms::finding::Code;
use std::collections::BTreeSet;
use std::fmt::Write;
use std::fs;
use std::path::{Path, PathBuf};

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).to_owned()
}

#[test]
fn the_table_of_codes_in_the_readme_is_printed_from_the_enum() {
    let mut table = String::from("\n| code | | meaning |\n|---|---|---|\n");
    for code in Code::ALL {
        writeln!(table, "| `{}` | {} | {} |", code.word(), code.severity().word(), code.meaning()).unwrap();
    }
    let path = root().join("README.md");
    let readme = fs::read_to_string(&path).unwrap();
    let (before, rest) = readme.split_once("<!-- findings -->").unwrap();
    let (shown, after) = rest.split_once("<!-- /findings -->").unwrap();
    if std::env::var_os("BLESS").is_some() {
        fs::write(&path, format!("{before}<!-- findings -->{table}<!-- /findings -->{after}")).unwrap();
    } else {
        assert_eq!(shown, table, "run BLESS=1 cargo test to print the table anew");
    }
}

#[test]
fn every_folder_of_fixtures_has_a_row_of_origin() {
    fn folders(dir: &Path, found: &mut Vec<PathBuf>) {
        let entries: Vec<PathBuf> = fs::read_dir(dir).unwrap().map(|e| e.unwrap().path()).collect();
        if entries.iter().any(|p| p.is_file() && p.file_name().is_some_and(|n| n != "README.md")) {
            found.push(dir.to_owned());
        }
        entries.iter().filter(|p| p.is_dir()).for_each(|p| folders(p, found));
    }
    let fixtures = root().join("fixtures");
    let readme = fs::read_to_string(fixtures.join("README.md")).unwrap();
    assert_eq!(readme.lines().filter(|line| line.starts_with("# ")).count(), 1, "one title, one table");
    // A row names one folder or several, or part of one (`stats/amacrine_*`), each in backticks, in its first cell.
    let first_cells = readme.lines().filter_map(|line| line.strip_prefix("| `")?.split('|').next());
    let rows: Vec<&str> =
        first_cells.flat_map(|cell| cell.split('`').step_by(2)).filter(|row| row.len() > 2).collect();
    let unique: BTreeSet<&str> = rows.iter().copied().collect();
    assert_eq!(unique.len(), rows.len(), "a folder has two rows: {rows:?}");
    let mut found = Vec::new();
    folders(&fixtures, &mut found);
    assert!(found.len() > 3);
    for folder in found {
        let name = folder.strip_prefix(&fixtures).unwrap().to_string_lossy().replace('\\', "/");
        let told = |row: &&str| {
            let folder = row.trim_end_matches('/');
            let part_of =
                folder.split_once('*').map(|(part, _)| Path::new(part).parent() == Some(Path::new(&name)));
            part_of.unwrap_or_else(|| Path::new(&name).starts_with(folder))
        };
        assert!(rows.iter().any(told), "fixtures/{name} has no row in fixtures/README.md");
    }
}
