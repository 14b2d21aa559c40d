//! Some ninety bad inputs, over all commands: what the tool says to each. `fixtures/messages/cases.toml` lists them, and
//! `told.txt` beside it holds all that is said, to be read aloud; `BLESS=1 cargo test` writes it anew.

use crate::cli::{fixture, text, tree};
use crate::help::COMMANDS;
use rayon::prelude::*;
use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::fs;
use std::process::Command;
use toml::Value;

/// One bad input; what it must come to.
struct Case {
    what: String,
    /// Where it is run, below the folder with the files.
    dir: String,
    args: Vec<String>,
    status: i64,
    /// What tells the file, line or option that is meant.
    place: String,
    /// What tells how to mend it.
    mend: String,
    /// Whether something is written, as it should be.
    writes: bool,
    files: BTreeMap<String, Vec<u8>>,
}

fn word(table: &toml::Table, key: &str) -> String {
    table.get(key).and_then(Value::as_str).unwrap_or_default().to_owned()
}

fn cases() -> Vec<Case> {
    let text = fs::read_to_string(fixture("messages/cases.toml")).unwrap();
    let all: toml::Table = toml::from_str(&text).unwrap();
    let list = |key: &str| -> Vec<toml::Table> {
        all[key].as_array().unwrap().iter().map(|item| item.as_table().unwrap().clone()).collect()
    };
    let common: BTreeMap<String, Vec<u8>> =
        list("file").iter().map(|file| (word(file, "path"), word(file, "text").into_bytes())).collect();
    list("case")
        .iter()
        .map(|case| {
            let mut files = common.clone();
            for (path, content) in case.get("files").and_then(Value::as_table).into_iter().flatten() {
                files.insert(path.clone(), content.as_str().unwrap().as_bytes().to_vec());
            }
            for (path, bytes) in case.get("bytes").and_then(Value::as_table).into_iter().flatten() {
                let bytes = bytes.as_array().unwrap().iter().map(|b| b.as_integer().unwrap() as u8);
                files.insert(path.clone(), bytes.collect());
            }
            Case {
                what: word(case, "what"),
                dir: word(case, "dir"),
                args: case["args"]
                    .as_array()
                    .unwrap()
                    .iter()
                    .map(|a| a.as_str().unwrap().to_owned())
                    .collect(),
                status: case["status"].as_integer().unwrap(),
                place: word(case, "place"),
                mend: word(case, "mend"),
                writes: case.get("writes").and_then(Value::as_bool).unwrap_or(false),
                files,
            }
        })
        .collect()
}

/// Does one; what it says, and what is wrong with that.
fn done(case: &Case) -> (String, Vec<String>) {
    let home = tempfile::tempdir().unwrap();
    let home = fs::canonicalize(home.path()).map(|path| (home, path)).unwrap();
    let (_kept, home) = (&home.0, home.1.as_path());
    fs::create_dir(home.join("empty")).unwrap();
    for (path, content) in &case.files {
        fs::create_dir_all(home.join(path).parent().unwrap()).unwrap();
        fs::write(home.join(path), content).unwrap();
    }
    let before = tree(home);
    let ended = Command::new(env!("CARGO_BIN_EXE_shoalwright"))
        .current_dir(home.join(&case.dir))
        .args(&case.args)
        .output()
        .unwrap();
    let said = text(&ended.stdout) + &text(&ended.stderr);
    // The folder has another name in each run.
    let said = said.replace(&home.display().to_string(), "HOME");
    let mut faults = Vec::new();
    let status = ended.status.code().map(i64::from);
    if status != Some(case.status) {
        faults.push(format!("exit status {status:?}, not {}", case.status));
    }
    for (which, wanted) in [("place", &case.place), ("mend", &case.mend)] {
        if wanted.is_empty() || !said.contains(wanted.as_str()) {
            faults.push(format!("no {which} `{wanted}`"));
        }
    }
    if said.contains("panicked") {
        faults.push(String::from("a panic"));
    }
    if !case.writes && tree(home) != before {
        faults.push(String::from("something was written"));
    }
    (said, faults)
}

#[test]
fn what_is_said_to_bad_inputs_tells_what_where_and_how_to_mend_it() {
    let cases = cases();
    assert!(cases.len() >= 60, "{}", cases.len());
    let commands: Vec<&str> = cases.iter().filter_map(|case| case.args.first().map(String::as_str)).collect();
    // The other two read nothing.
    for command in COMMANDS.iter().filter(|command| !["settings", "manual"].contains(command)) {
        assert!(commands.contains(command), "no bad input for {command}");
    }
    let ended: Vec<(String, Vec<String>)> = cases.par_iter().map(done).collect();
    let mut table = String::new();
    let mut faults = String::new();
    for (case, (said, wrong)) in cases.iter().zip(&ended) {
        let args: Vec<String> =
            case.args.iter().map(|a| if a.contains(' ') { format!("'{a}'") } else { a.clone() }).collect();
        writeln!(table, "{}\n$ shoalwright {}", case.what, args.join(" ")).unwrap();
        for line in said.trim_end().lines() {
            writeln!(table, "    {}", line.trim_end()).unwrap();
        }
        writeln!(table, "exit status {}\n", case.status).unwrap();
        if !wrong.is_empty() {
            writeln!(faults, "{}: {}\n{said}", case.what, wrong.join("; ")).unwrap();
        }
    }
    assert!(faults.is_empty(), "{faults}");
    let path = fixture("messages/told.txt");
    if std::env::var_os("BLESS").is_some() {
        fs::write(path, table).unwrap();
    } else {
        let kept = fs::read_to_string(path).unwrap();
        for (got, kept) in table.lines().zip(kept.lines()) {
            assert_eq!(got, kept, "run BLESS=1 cargo test to write the messages anew, and read them aloud");
        }
        assert!(table == kept, "run BLESS=1 cargo test to write the messages anew");
    }
}

#[test]
fn messages_are_lines_that_a_terminal_holds() {
    // What a person must take in at once: no line of an error longer than two lines of a small terminal.
    let told = fs::read_to_string(fixture("messages/told.txt")).unwrap();
    let errors = told.lines().filter(|line| {
        let line = line.trim_start();
        ["error:", "because:", "hint:", "seen:", "fix:"].iter().any(|word| line.starts_with(word))
    });
    let mut seen = 0;
    for line in errors {
        assert!(line.trim_start().chars().count() <= 240, "{} characters: {line}", line.chars().count());
        seen += 1;
    }
    assert!(seen > 60);
}

#[test]
fn no_message_names_a_type_of_ours() {
    let told = fs::read_to_string(fixture("messages/told.txt")).unwrap();
    for inner in ["struct ", "enum ", "variant", "Settings {", "Some(", "None", "Err(", "unwrap", "::"] {
        assert!(!told.contains(inner), "`{inner}` stands in a message");
    }
}
