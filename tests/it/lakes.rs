//! Several lakes in one call of `run`, end to end.

use crate::cli::{shoalwright, text, tree, tree_without_seconds};
use crate::lake_files::{with_outings, write_lake};
use crate::simulator::{Timing, Wish, simulate};
use serde_json::Value;
use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

/// Writes so many small lakes, `lakes/1` and so on: four outings each, so that the tests stay quick.
pub(crate) fn small_lakes(home: &Path, count: u64) {
    for number in 1..=count {
        let wish = Wish { seed: 9_000 + number, routes: 2, seasons: 1, timing: Timing::Date };
        let lake = with_outings(simulate(wish), 4);
        write_lake(&home.join(format!("lakes/{number}")), &format!("Lake {number}"), &lake);
    }
}

/// Settings files of the lakes with these numbers.
fn settings(numbers: &[&str]) -> Vec<String> {
    numbers.iter().map(|number| format!("lakes/{number}/lake.toml")).collect()
}

/// Runs them with more arguments: status, standard output, standard error.
fn run(home: &Path, lakes: &[&str], more: &[&str]) -> (i32, String, String) {
    let files = settings(lakes);
    let args: Vec<&str> =
        ["run"].into_iter().chain(files.iter().map(String::as_str)).chain(more.iter().copied()).collect();
    let ended = shoalwright(home, &args);
    let told = text(&ended.stderr);
    assert!(!told.contains("panicked"), "{told}");
    (ended.status.code().unwrap(), text(&ended.stdout), told)
}

/// The output folders of all lakes.
fn outputs(home: &Path) -> BTreeMap<PathBuf, Vec<u8>> {
    let mut files = tree_without_seconds(&home.join("lakes"));
    files.retain(|path, _| path.iter().any(|part| part == "out"));
    files
}

fn number(value: &Value, key: &str) -> u64 {
    value[key].as_u64().unwrap()
}

#[test]
fn each_of_several_lakes_gets_the_bytes_that_it_gets_alone() {
    let home = tempfile::tempdir().unwrap();
    small_lakes(home.path(), 3);
    for lake in ["1", "2", "3"] {
        let alone = run(home.path(), &[lake], &["--quiet"]);
        assert_eq!((alone.0, alone.1.as_str()), (0, ""), "{}", alone.2);
    }
    let alone = outputs(home.path());
    assert!(alone.keys().filter(|path| path.ends_with("report.html")).count() == 3);
    let mut printed: Vec<(String, String)> = Vec::new();
    for (order, threads) in [(["1", "2", "3"], "1"), (["3", "1", "2"], "2"), (["2", "3", "1"], "64")] {
        let (status, json, told) = run(home.path(), &order, &["--json", "--threads", threads]);
        assert_eq!(status, 0, "{told}");
        assert!(outputs(home.path()) == alone, "{threads} threads");
        printed.push((json, told));
    }
    assert!(printed.iter().all(|one| *one == printed[0]), "threads and order change what is printed");

    let account: Value = serde_json::from_str(&printed[0].0).unwrap();
    let lakes = account["lakes"].as_array().unwrap();
    assert_eq!(lakes.len(), 3);
    for lake in lakes {
        let path = home.path().join(lake["written"].as_str().unwrap()).join("summary.json");
        let summary: Value = serde_json::from_slice(&fs::read(path).unwrap()).unwrap();
        assert_eq!(lake["records"], summary["records"]);
        assert_eq!(lake["counts"], summary["counts"]);
        assert_eq!(lake["lake"], summary["lake"]);
    }
    for key in ["read", "kept", "merged_away", "set_aside", "repaired"] {
        let sum: u64 = lakes.iter().map(|lake| number(&lake["records"], key)).sum();
        assert_eq!(number(&account["records"], key), sum, "{key}");
    }
    let all = &account["records"];
    assert_eq!(
        number(all, "read"),
        number(all, "kept") + number(all, "merged_away") + number(all, "set_aside")
    );
    assert!(number(all, "read") > 30);
}

#[test]
fn a_lake_that_fails_stops_no_other_and_the_worst_status_counts() {
    let home = tempfile::tempdir().unwrap();
    small_lakes(home.path(), 2);
    let write = |path: &str, content: &str| {
        fs::create_dir_all(home.path().join(path).parent().unwrap()).unwrap();
        fs::write(home.path().join(path), content).unwrap();
    };
    write("lakes/typo/lake.toml", "[schools]\ndistanse = \"300 m\"\n");
    write("lakes/page/lake.toml", "[[input]]\nfiles = [\"*.gpx\"]\n");
    write("lakes/page/page.gpx", "<html></html>");
    fs::create_dir_all(home.path().join("lakes/half/exports")).unwrap();
    for file in ["lake.toml", "shoreline.geojson", "exports/bow-2019.gpx"] {
        fs::copy(home.path().join("lakes/1").join(file), home.path().join("lakes/half").join(file)).unwrap();
    }
    write("lakes/half/exports/bow-page.gpx", "<html></html>");

    let (status, json, told) = run(home.path(), &["half", "1"], &["--json"]);
    assert_eq!(status, 1, "{told}");
    assert!(
        told.contains("lakes/half/lake.toml: done, but\n  `exports/bow-page.gpx` gave nothing\n"),
        "{told}"
    );
    let account: Value = serde_json::from_str(&json).unwrap();
    assert_eq!((number(&account, "status"), number(&account["lakes"][1], "status")), (1, 1));

    let lakes = ["1", "2", "half", "missing", "page", "typo"];
    for threads in ["1", "2"] {
        for lake in ["1", "2", "half"] {
            drop(fs::remove_dir_all(home.path().join("lakes").join(lake).join("out")));
        }
        let (status, json, told) = run(home.path(), &lakes, &["--json", "--threads", threads]);
        assert_eq!(status, 2, "{told}");
        let account: Value = serde_json::from_str(&json).unwrap();
        let statuses: Vec<u64> =
            account["lakes"].as_array().unwrap().iter().map(|lake| number(lake, "status")).collect();
        assert_eq!(statuses, [0, 0, 1, 2, 2, 2]);
        for lake in ["1", "2", "half"] {
            assert!(home.path().join("lakes").join(lake).join("out/report.html").exists(), "{lake}");
        }
        for lake in ["missing", "page", "typo"] {
            assert!(!home.path().join("lakes").join(lake).join("out").exists(), "{lake}");
        }
        for says in [
            "lakes/missing/lake.toml: could not run\n  error: cannot read `lakes/missing/lake.toml`\n",
            "lakes/typo/lake.toml:2:1: there is no setting `schools.distanse`; the nearest is `schools.distance`",
            "page.gpx: The file is named .gpx but holds something else",
            "all 6 lakes",
            "2 done, 1 done with a reason to look, 3 could not run",
        ] {
            assert!(told.contains(says), "{says:?} is not in {told}");
        }
    }
    let (status, json, told) = run(home.path(), &lakes, &["--quiet"]);
    assert_eq!((status, json.as_str()), (2, ""));
    assert!(told.contains("error: cannot read") && !told.contains("all 6 lakes"), "{told}");
}

#[test]
fn lakes_that_would_write_into_one_folder_are_refused_before_anything_is_written() {
    let home = tempfile::tempdir().unwrap();
    small_lakes(home.path(), 2);
    let dir = |lake: &str, dir: &str| {
        let path = home.path().join(format!("lakes/{lake}/lake.toml"));
        let text = fs::read_to_string(&path).unwrap();
        let text = text.split("\n[output]").next().unwrap().trim_end().to_owned();
        fs::write(path, format!("{text}\n\n[output]\ndir = \"{dir}\"\n")).unwrap();
    };
    let refused = |lakes: &[&str], more: &[&str], says: &str| {
        let before = tree(home.path());
        let (status, json, told) = run(home.path(), lakes, more);
        assert_eq!((status, json.as_str()), (2, ""), "{told}");
        assert!(told.contains(says) && told.contains("hint:"), "{told}");
        assert!(tree(home.path()) == before, "{lakes:?} wrote something");
    };
    dir("1", "../all");
    dir("2", "../1/./../all");
    refused(&["1", "2"], &[], "would both write into");
    dir("2", "../all/2");
    refused(&["1", "2"], &[], "would both write into");
    dir("2", "out");
    let everywhere = format!("output.dir={}", home.path().join("all").display());
    refused(&["1", "2"], &["--set", &everywhere], "would both write into");
    refused(&["1", "2", "2"], &[], "are one settings file");
    fs::copy(home.path().join("lakes/1/lake.toml"), home.path().join("lakes/1/again.toml")).unwrap();
    let before = tree(home.path());
    let ended = shoalwright(home.path(), &["run", "lakes/1/lake.toml", "lakes/1/again.toml"]);
    assert_eq!(ended.status.code(), Some(2));
    assert!(
        text(&ended.stderr).contains("`lakes/1/again.toml` and `lakes/1/lake.toml` would both write into")
    );
    let ended = shoalwright(home.path(), &["run", "lakes/1/lake.toml", "lakes/2/lake.toml", "-o", "x"]);
    assert_eq!(ended.status.code(), Some(2));
    assert!(text(&ended.stderr).contains("--out is one folder, and several lakes are given"));
    assert!(tree(home.path()) == before);
}
