//! The built binary, end to end: what a user types and what comes of it.

use crate::report::without_places;
use serde_json::Value;
use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};
use tempfile::TempDir;

pub(crate) fn fixture(path: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures").join(path)
}

/// Runs the binary in a folder.
pub(crate) fn shoalwright(dir: &Path, args: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_shoalwright")).current_dir(dir).args(args).output().unwrap()
}

pub(crate) fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

fn home() -> TempDir {
    tempfile::tempdir().unwrap()
}

/// A folder with the demo lake in it.
pub(crate) fn demo() -> TempDir {
    let home = home();
    let told = shoalwright(home.path(), &["demo", "demo"]);
    assert!(told.status.success(), "{}", text(&told.stderr));
    home
}

/// Every file below a folder with its bytes.
pub(crate) fn tree(dir: &Path) -> BTreeMap<PathBuf, Vec<u8>> {
    fn walk(dir: &Path, base: &Path, files: &mut BTreeMap<PathBuf, Vec<u8>>) {
        for entry in fs::read_dir(dir).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                walk(&path, base, files);
            } else {
                files.insert(path.strip_prefix(base).unwrap().to_owned(), fs::read(&path).unwrap());
            }
        }
    }
    let mut files = BTreeMap::new();
    walk(dir, dir, &mut files);
    files
}

/// The same without the seconds that stages took: they stand in steps of ten in `summary.json`, and a busy machine makes a
/// step of difference.
pub(crate) fn tree_without_seconds(dir: &Path) -> BTreeMap<PathBuf, Vec<u8>> {
    let mut files = tree(dir);
    for (path, bytes) in &mut files {
        if path.ends_with("summary.json") {
            *bytes = without_seconds(bytes).to_string().into_bytes();
        }
    }
    files
}

#[track_caller]
fn same_tree(a: &Path, b: &Path) {
    let (a, b) = (tree(a), tree(b));
    assert_eq!(a.keys().collect::<Vec<_>>(), b.keys().collect::<Vec<_>>());
    for (path, bytes) in &a {
        let same = if path.ends_with("summary.json") {
            // A stage of a crowded machine may take ten seconds more; all else in the account is the same.
            without_seconds(bytes) == without_seconds(&b[path])
        } else {
            bytes == &b[path]
        };
        assert!(same, "{} differs", path.display());
    }
}

/// The account without the seconds that its stages took.
fn without_seconds(summary: &[u8]) -> Value {
    let mut account: Value = serde_json::from_slice(summary).unwrap();
    for stage in account["stages"].as_array_mut().unwrap() {
        stage.as_object_mut().unwrap().remove("seconds").unwrap();
    }
    account
}

fn adds_up(records: &Value) -> bool {
    let number = |key: &str| records[key].as_u64().unwrap();
    number("read") == number("kept") + number("merged_away") + number("set_aside")
}

#[test]
fn the_demo_lake_runs_end_to_end_and_its_account_adds_up() {
    let home = demo();
    let run = shoalwright(home.path(), &["run", "demo/lake.toml", "--json"]);
    assert_eq!(run.status.code(), Some(0), "{}", text(&run.stderr));
    let account: Value = serde_json::from_slice(&run.stdout).unwrap();
    assert!(adds_up(&account["records"]));
    assert!(account["files"].as_array().unwrap().iter().all(adds_up));
    for (key, at_least) in [("sightings", 200), ("areas", 5), ("movement_tracks", 1)] {
        let count = account["counts"][key].as_u64().unwrap();
        assert!(count >= at_least, "{key}: {count}");
    }
    for key in ["kept", "merged_away", "set_aside", "repaired"] {
        assert!(account["records"][key].as_u64().unwrap() > 0, "the demo shows {key}");
    }
    let out = home.path().join("demo/out");
    let marks: Value = serde_json::from_slice(&fs::read(out.join("layers/marks.geojson")).unwrap()).unwrap();
    assert_eq!(
        marks["features"].as_array().unwrap().len() as u64,
        account["records"]["kept"].as_u64().unwrap()
    );
    let set_aside =
        csv::Reader::from_path(out.join("set-aside/set-aside.csv")).unwrap().into_records().count();
    assert_eq!(set_aside as u64, account["records"]["set_aside"].as_u64().unwrap());
    let summary: Value = serde_json::from_slice(&fs::read(out.join("summary.json")).unwrap()).unwrap();
    assert_eq!(summary["records"], account["records"]);
}

#[test]
fn the_demo_looks_out_to_its_event_and_tells_what_seasons_held_out_say() {
    let home = demo();
    let out = home.path().join("out");
    let args = ["outlook", "demo/lake.toml", "--date", "2025-10-16", "-o", "out", "--json"];
    let run = shoalwright(home.path(), &args);
    assert_eq!(run.status.code(), Some(0), "{}", text(&run.stderr));
    let account: Value = serde_json::from_slice(&run.stdout).unwrap();
    let layer: Value =
        serde_json::from_slice(&fs::read(out.join("layers/outlook.geojson")).unwrap()).unwrap();
    let cells = layer["features"].as_array().unwrap();
    assert_eq!(account["counts"]["outlook_cells"].as_u64().unwrap(), cells.len() as u64);
    let best = &cells[0]["properties"];
    assert!(best["chance"].as_f64().unwrap() > 0.3 && best["basis"] == "log", "{best}");
    // In October the bait is in the back half of Dray, the eastern arm (demo-data/PLANTED.md).
    let lon = cells[0]["geometry"]["coordinates"][0][0][0].as_f64().unwrap();
    assert!((-55.99..-55.94).contains(&lon), "{lon}");
    assert!(account["skill"]["verdict"].as_str().unwrap().starts_with("better than"));
    let skill = csv::Reader::from_path(out.join("tables/skill.csv")).unwrap().into_records().count();
    assert_eq!(skill, 6 * 4, "five seasons and all of them, against four guesses");
    let printed = shoalwright(home.path(), &["backtest", "demo/lake.toml", "--outing", "2024-10-12"]);
    assert!(text(&printed.stdout).starts_with("season,guess,outings,"));
}

#[test]
fn threads_and_the_order_of_files_change_no_byte() {
    let home = demo();
    for (threads, out) in [("1", "one"), ("2", "two")] {
        let run =
            shoalwright(home.path(), &["run", "demo/lake.toml", "--threads", threads, "-o", out, "--quiet"]);
        assert_eq!(run.status.code(), Some(0), "{}", text(&run.stderr));
    }
    same_tree(&home.path().join("one"), &home.path().join("two"));

    let mut files: Vec<String> = fs::read_dir(home.path().join("demo/exports"))
        .unwrap()
        .map(|e| format!("demo/exports/{}", e.unwrap().file_name().to_string_lossy()))
        .collect();
    files.sort();
    let merge = |files: &[String], out: &str| {
        let mut args = vec!["merge", "-o", out, "--quiet"];
        args.extend(files.iter().map(String::as_str));
        let run = shoalwright(home.path(), &args);
        assert_eq!(run.status.code(), Some(0), "{}", text(&run.stderr));
        fs::read(home.path().join(out)).unwrap()
    };
    let sorted = merge(&files, "a.gpx");
    files.reverse();
    assert!(sorted == merge(&files, "b.gpx"));
    assert!(
        sorted
            == shoalwright(
                home.path(),
                &[&["merge"], &files.iter().map(String::as_str).collect::<Vec<_>>()[..]].concat()
            )
            .stdout,
        "without -o the log goes to standard output"
    );
}

#[test]
fn shuffled_records_give_the_same_results() {
    let home = home();
    let original = fs::read_to_string(fixture("reference/lake-seasons/hollow-a.gpx")).unwrap();
    let (before, rest) = original.split_at(original.find("<wpt").unwrap());
    let (marks, after) = rest.split_at(rest.rfind("</wpt>").unwrap() + "</wpt>".len());
    let mut records: Vec<&str> = marks.split_inclusive("</wpt>").map(str::trim).collect();
    assert!(records.len() > 500);
    // A fixed shuffle: every 7th record in turn.
    let n = records.len();
    records = (0..7).flat_map(|from| (from..n).step_by(7)).map(|i| records[i]).collect();
    fs::write(home.path().join("a.gpx"), &original).unwrap();
    fs::create_dir(home.path().join("shuffled")).unwrap();
    fs::write(home.path().join("shuffled/a.gpx"), [before, &records.join("\n"), after].concat()).unwrap();
    let settings = "[lake]\ntimezone = \"Etc/GMT+6\"\n[[input]]\nfiles = [\"a.gpx\"]\n";
    for dir in [home.path().to_owned(), home.path().join("shuffled")] {
        fs::write(dir.join("lake.toml"), settings).unwrap();
        let run = shoalwright(&dir, &["run", "--quiet"]);
        assert_eq!(run.status.code(), Some(0), "{}", text(&run.stderr));
    }
    let (plain, shuffled) = (tree(&home.path().join("out")), tree(&home.path().join("shuffled/out")));
    // Where a record stands in its file is told in marks and findings; nothing else may change.
    let tells_place = [
        "layers/marks.geojson",
        "report.html",
        "layers/layers.gpkg",
        "boat/marks.gpx",
        "tables/marks.csv",
        "tables/findings.csv",
    ]
    .map(PathBuf::from);
    for (path, bytes) in &plain {
        if !tells_place.contains(path) {
            assert!(bytes == &shuffled[path], "{} differs", path.display());
        }
    }
    let without_sources = |bytes: &[u8]| -> Vec<Value> {
        let mut layer: Value = serde_json::from_slice(bytes).unwrap();
        let features = layer["features"].as_array_mut().unwrap();
        for feature in features.iter_mut() {
            feature["properties"]["sources"] = Value::Null;
        }
        features.clone()
    };
    let marks = &tells_place[0];
    assert!(without_sources(&plain[marks]) == without_sources(&shuffled[marks]));
    let page = &tells_place[1];
    assert!(without_places(&text(&plain[page])) == without_places(&text(&shuffled[page])));
    let boat = |files: &BTreeMap<PathBuf, Vec<u8>>| -> Vec<String> {
        let told = text(&files[&tells_place[3]]);
        let ends = told.split("<src>").map(|part| part.split_once("</src>").map_or(part, |(_, rest)| rest));
        ends.map(str::to_owned).collect()
    };
    assert!(boat(&plain).len() > 500 && boat(&plain) == boat(&shuffled));
    let package = |dir: &str| rows_without_sources(&home.path().join(dir).join(&tells_place[2]));
    let rows = package("out");
    assert!(rows.len() > 1_000 && rows == package("shuffled/out"));
}

/// All rows of all tables of a GeoPackage, but for what tells where a mark's records stand.
fn rows_without_sources(path: &Path) -> Vec<String> {
    let database = rusqlite::Connection::open(path).unwrap();
    let mut names =
        database.prepare("SELECT name FROM sqlite_master WHERE type = 'table' ORDER BY name").unwrap();
    let tables: Vec<String> = names.query_map([], |row| row.get(0)).unwrap().map(Result::unwrap).collect();
    let mut told = Vec::new();
    for table in tables {
        let mut select = database.prepare(&format!("SELECT * FROM \"{table}\"")).unwrap();
        let columns: Vec<String> = select.column_names().map(str::to_owned).collect();
        let mut rows = select.query([]).unwrap();
        while let Some(row) = rows.next().unwrap() {
            let kept = columns.iter().filter(|column| *column != "sources");
            told.push(format!(
                "{table} {:?}",
                kept.map(|column| row.get_ref_unwrap(column.as_str())).collect::<Vec<_>>()
            ));
        }
    }
    told
}

#[test]
fn counts_of_34_odd_and_plain_gpx_files_are_exact_through_check() {
    // Counts by lxml 6.1.3, an independent reader: fixtures/README.md tells where the files come from.
    let dir = fixture("reference/gpx");
    let mut expected = csv::Reader::from_path(dir.join("expected.csv")).unwrap();
    let headers = expected.headers().unwrap().clone();
    let mut seen = 0;
    for row in expected.records() {
        let row = row.unwrap();
        let cell = |name: &str| &row[headers.iter().position(|h| h == name).unwrap()];
        let run = shoalwright(&dir, &["check", "--json", cell("file")]);
        let account: Value = serde_json::from_slice(&run.stdout)
            .unwrap_or_else(|e| panic!("{}: {e}: {}", cell("file"), text(&run.stderr)));
        let file = &account["files"][0];
        for (column, key) in [
            ("wpt", "read"),
            ("rte", "routes"),
            ("rtept", "route_points"),
            ("trk", "tracks"),
            ("trkseg", "track_segments"),
            ("trkpt", "track_points"),
        ] {
            assert_eq!(file[key].as_u64().unwrap().to_string(), cell(column), "{} {key}", cell("file"));
        }
        assert!(adds_up(file));
        assert!(run.status.code().is_some_and(|code| code <= 2));
        seen += 1;
    }
    assert_eq!(seen, 34);
}

/// Arguments → exit status and what standard error says; nothing is written.
#[track_caller]
fn check_refused(home: &Path, args: &[&str], status: i32, says: &[&str]) {
    let before = tree(home);
    let run = shoalwright(home, args);
    let told = text(&run.stderr);
    assert_eq!(run.status.code(), Some(status), "{args:?}: {told}");
    for part in says {
        assert!(told.contains(part), "{args:?} says {told:?}, not {part:?}");
    }
    assert!(tree(home) == before, "{args:?} wrote something");
}

const ONE_MARK: &str = r#"<gpx version="1.1" creator="t" xmlns="http://www.topografix.com/GPX/1/1"><wpt lat="35.1" lon="-94.2"><time>2024-05-01T12:00:00Z</time><name>BAIT 27FT</name></wpt></gpx>"#;

#[test]
fn bad_input_gets_one_clear_message_and_nothing_is_half_written() {
    let home = home();
    let write = |name: &str, bytes: &[u8]| fs::write(home.path().join(name), bytes).unwrap();
    write("good.gpx", ONE_MARK.as_bytes());
    write("empty.gpx", b"");
    write("page.gpx", b"<!DOCTYPE html><html><body>Not found</body></html>");
    write("binary.gpx", &[0, 159, 146, 150, 0, 1, 2, 255, 254]);
    write("typo.toml", b"[schools]\ndistanse = \"300 m\"\n[[input]]\nfiles = [\"good.gpx\"]\n");
    write("zone.toml", b"[lake]\ntimezone = \"America/Chikago\"\n[[input]]\nfiles = [\"good.gpx\"]\n");
    write("glob.toml", b"[[input]]\nfiles = [\"nothing/*.gpx\"]\n");
    write("shore.toml", b"[lake]\nshoreline = \"good.gpx\"\n[[input]]\nfiles = [\"good.gpx\"]\n");
    write("good.toml", b"[lake]\ntimezone = \"UTC\"\n[[input]]\nfiles = [\"good.gpx\"]\n");
    write("notes.txt", b"hello");
    write("edits.csv", b"id,action,value\n");
    write("edited.toml", b"[[input]]\nfiles = [\"good.gpx\"]\nedits = \"edits.csv\"\n");
    assert!(shoalwright(home.path(), &["run", "good.toml", "-o", "ours", "--quiet"]).status.success());
    write("ours/layers/my-map.qgz", b"work");
    fs::create_dir(home.path().join("folder")).unwrap();
    fs::create_dir(home.path().join("theirs")).unwrap();
    write("theirs/thesis.txt", b"years of work");

    let refused = |args: &[&str], says: &[&str]| check_refused(home.path(), args, 2, says);
    refused(&["check", "missing.gpx"], &["cannot read `missing.gpx`", "hint: check the name"]);
    refused(&["run"], &["cannot read `lake.toml`", "shoalwright init"]);
    refused(&["merge", "folder", "-o", "all.gpx"], &["`folder` is a folder", "hint:"]);
    refused(&["merge", "notes.txt", "-o", "all.gpx"], &["`notes.txt` ends neither in .gpx nor in .csv"]);
    refused(&["merge", "empty.gpx", "-o", "all.gpx"], &["empty.gpx: The file holds nothing"]);
    refused(
        &["merge", "page.gpx", "-o", "all.gpx"],
        &["page.gpx: The file is named .gpx but holds something else"],
    );
    refused(&["merge", "binary.gpx", "-o", "all.gpx"], &["binary.gpx: The file is named .gpx"]);
    refused(
        &["run", "typo.toml"],
        &["typo.toml:2:1: there is no setting `schools.distanse`; the nearest is `schools.distance`"],
    );
    refused(
        &["run", "zone.toml"],
        &["zone.toml:2:12: there is no time zone `America/Chikago`; the nearest is `America/Chicago`"],
    );
    refused(&["run", "glob.toml"], &["`nothing/*.gpx` matches no file"]);
    refused(&["run", "shore.toml"], &["cannot use the shoreline `good.gpx`", "because: it is no GeoJSON"]);
    refused(&["run", "good.toml", "good.gpx"], &["`good.toml` is a settings file"]);
    refused(&["run", "good.toml", "-o", "theirs"], &["holds other files", "--out"]);
    refused(&["run", "good.toml", "-o", "notes.txt"], &["is a file, not a folder"]);
    refused(&["run", "good.toml", "-o", "notes.txt/out"], &["`notes.txt` is a file, not a folder", "hint:"]);
    refused(&["run", "good.toml", "--set", "schools.dayz=3"], &["the nearest is `schools.days`"]);
    refused(
        &["merge", "good.gpx", "-o", "all.kml"],
        &["`all.kml` ends neither in .gpx nor in .geojson nor in .csv"],
    );
    refused(&["merge", "good.gpx", "-o", "good.gpx"], &["this run reads `good.gpx`"]);
    refused(&["merge", "edited.toml", "-o", "edits.csv"], &["this run reads `edits.csv`"]);
    refused(&["check", "good.gpx", "-o", "x"], &["`check` has no use for --out"]);
    refused(&["settings", "--json"], &["`settings` has no use for --json"]);
    refused(&["settings", "--set", "lake.units=us"], &["`settings` has no use for --set"]);
    refused(&["init", ".", "--strict"], &["`init` has no use for --strict"]);
    refused(
        &["run", "good.toml", "-o", "ours"],
        &["my-map.qgz` is not one of our files", "move it elsewhere"],
    );
    refused(
        &["merge", "good.gpx", "-o", "no/such/folder/all.gpx"],
        &["cannot write `no/such/folder/all.gpx`"],
    );
    refused(&["merge", "good.gpx", "--json"], &["add -o all.gpx"]);
    refused(&["demo", "theirs"], &["`theirs` is not empty"]);
    refused(&["init", "theirs"], &["there is no .gpx and no .csv in `theirs`"]);
    refused(&["outlook", "good.toml"], &["an outlook is for a date", "--date"]);
    refused(&["outlook", "good.toml", "--date", "soon"], &["invalid value 'soon' for '--date"]);
    refused(
        &["run", "good.toml", "--set", "outlook.date=soon"],
        &["`soon` is no date: write it like 2027-01-09"],
    );
    refused(&["run", "good.toml", "--set", "effort.swath=0 m"], &["no swath: write a width"]);
    // `check` writes nothing anyway; the account is still told.
    refused(&["check", "page.gpx"], &["holds something else"]);
}

#[test]
fn a_useless_file_among_others_is_told_by_exit_status_1_and_the_rest_goes_on() {
    let home = home();
    fs::write(home.path().join("good.gpx"), ONE_MARK).unwrap();
    fs::write(home.path().join("page.gpx"), "<html></html>").unwrap();
    let run = shoalwright(home.path(), &["merge", "good.gpx", "page.gpx", "-o", "all.csv"]);
    assert_eq!(run.status.code(), Some(1));
    assert!(text(&run.stderr).contains("file-not-gpx"), "{}", text(&run.stderr));
    assert_eq!(csv::Reader::from_path(home.path().join("all.csv")).unwrap().into_records().count(), 1);
}

#[test]
fn strict_fails_a_run_with_a_doubtful_finding_but_not_a_clean_one() {
    let home = home();
    fs::write(home.path().join("good.gpx"), ONE_MARK).unwrap();
    let strict = |more: &[&str]| {
        let args = [&["check", "good.gpx", "--strict"], more].concat();
        shoalwright(home.path(), &args).status.code()
    };
    assert_eq!(strict(&[]), Some(1), "no time zone is set, which is doubtful");
    assert_eq!(strict(&["--set", "lake.timezone=America/Chicago"]), Some(0));
}

#[test]
fn init_writes_settings_that_run_as_they_stand() {
    let home = demo();
    let exports = home.path().join("demo/exports");
    let lake = home.path().join("lake");
    fs::create_dir(&lake).unwrap();
    for entry in fs::read_dir(exports).unwrap() {
        let path = entry.unwrap().path();
        fs::copy(&path, lake.join(path.file_name().unwrap())).unwrap();
    }
    fs::copy(home.path().join("demo/shoreline.geojson"), lake.join("shoreline.geojson")).unwrap();
    let init = shoalwright(home.path(), &["init", "lake"]);
    assert!(init.status.success(), "{}", text(&init.stderr));
    let settings = fs::read_to_string(lake.join("lake.toml")).unwrap();
    assert!(
        settings.contains("shoreline = \"shoreline.geojson\"") && settings.contains("[[input]]"),
        "{settings}"
    );
    let run = shoalwright(home.path(), &["run", "lake/lake.toml", "--quiet"]);
    assert_eq!(run.status.code(), Some(0), "{}", text(&run.stderr));
    check_refused(home.path(), &["init", "lake"], 2, &["is there already and is not overwritten"]);
}

#[test]
fn a_second_run_replaces_the_folder_with_the_same_bytes() {
    let home = home();
    fs::write(home.path().join("good.gpx"), ONE_MARK).unwrap();
    let args = ["run", "good.gpx", "-o", "out", "--quiet"];
    assert!(shoalwright(home.path(), &args).status.success());
    let first = tree(&home.path().join("out"));
    assert!(shoalwright(home.path(), &args).status.success());
    assert!(first == tree(&home.path().join("out")));
    assert_eq!(fs::read_dir(home.path()).unwrap().count(), 2, "nothing is left beside the folder");
}

#[test]
fn settings_completions_and_manual_print() {
    let home = home();
    let out = |args: &[&str]| text(&shoalwright(home.path(), args).stdout);
    assert!(out(&["settings"]).contains("[schools]"));
    assert!(out(&["completions", "bash"]).contains("shoalwright"));
    let manual = out(&["manual"]);
    assert!(manual.contains(".TH shoalwright") && manual.contains("Not for navigation"), "{manual}");
    let help = out(&["--help"]);
    for command in ["explain", "share", "soundings"] {
        assert!(help.contains(command), "{command} is not listed");
    }
}
