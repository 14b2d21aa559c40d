//! The job array of `scripts/fleet`, on five lakes.

use crate::cli::{text, tree_without_seconds};
use crate::lakes::small_lakes;
use std::fs;
use std::path::Path;
use std::process::Command;

/// Runs the script with these words and the folder: status, and what it printed.
fn fleet(home: &Path, words: &[&str]) -> (i32, String) {
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("scripts/fleet");
    let mut command = Command::new("bash");
    command.current_dir(home).arg(script).args([
        "--binary",
        env!("CARGO_BIN_EXE_shoalwright"),
        "--jobs",
        "2",
    ]);
    let ended = command.args(words).output().unwrap();
    (ended.status.code().unwrap(), text(&ended.stdout) + &text(&ended.stderr))
}

#[test]
fn slices_of_a_fleet_make_the_whole_and_only_what_changed_runs_again() {
    let home = tempfile::tempdir().unwrap();
    let home = home.path();
    small_lakes(home, 4);
    fs::create_dir(home.join("lakes/broken")).unwrap();
    fs::write(home.join("lakes/broken/lake.toml"), "[shools]\n").unwrap();

    let (status, told) = fleet(home, &["--slice", "2/2", "lakes"]);
    assert_eq!(status, 0, "{told}");
    let ended = "5 lakes: 2 done, 0 done with a reason to look, 0 could not run, 3 not yet run; 2 run now";
    assert!(told.contains(ended), "{told}");
    let (status, told) = fleet(home, &["--slice", "1/2", "lakes"]);
    assert_eq!(status, 2, "{told}");
    assert!(
        told.contains("lakes/broken/lake.toml: could not run: error: lakes/broken/lake.toml:1:2"),
        "{told}"
    );
    let ended = "5 lakes: 4 done, 0 done with a reason to look, 1 could not run, 0 not yet run; 3 run now";
    assert!(told.contains(ended), "{told}");

    // The account is that of one call over all lakes, and so are the bytes.
    let outputs =
        || (1..=4).map(|n| tree_without_seconds(&home.join(format!("lakes/{n}/out")))).collect::<Vec<_>>();
    let by_script = outputs();
    let lakes: Vec<String> = (1..=4).map(|n| format!("lakes/{n}/lake.toml")).collect();
    let ended = Command::new(env!("CARGO_BIN_EXE_shoalwright"))
        .current_dir(home)
        .args(["run", "--json", "--quiet"])
        .args(&lakes)
        .output()
        .unwrap();
    let account: serde_json::Value = serde_json::from_slice(&ended.stdout).unwrap();
    let records = &account["records"];
    let sum = format!(
        "read {} = kept {} + merged away {} + set aside {}",
        records["read"], records["kept"], records["merged_away"], records["set_aside"]
    );
    assert!(told.contains(&sum) && records["read"].as_u64().unwrap() > 30, "{sum} is not in {told}");
    assert!(outputs() == by_script);

    // What ended stays; a lake whose file is newer runs again.
    let (status, told) = fleet(home, &["lakes"]);
    assert!(status == 2 && told.contains("; 0 run now"), "{told}");
    fs::write(
        home.join("lakes/broken/lake.toml"),
        fs::read_to_string(home.join("lakes/1/lake.toml")).unwrap(),
    )
    .unwrap();
    let (status, told) = fleet(home, &["lakes"]);
    assert!(status == 2 && told.contains("; 1 run now") && told.contains("matches no file"), "{told}");
}

#[test]
fn a_fleet_asked_for_wrongly_is_refused_with_the_mend() {
    let home = tempfile::tempdir().unwrap();
    for (words, says) in [
        (&["nothing"][..], "there is no nothing/*/lake.toml"),
        (&[], "say which folder holds the lakes"),
        (&["--slice", "3/2", "x"], "write which part of how many, like --slice 2/5"),
        (&["--jobs", "none", "x"], "how many at once? Like --jobs 4"),
        (&["--faster", "x"], "there is no option --faster"),
        (&["--slice"], "--slice wants a value"),
    ] {
        let (status, told) = fleet(home.path(), words);
        assert!(status == 2 && told.contains(says), "{words:?} says {told}");
    }
}
