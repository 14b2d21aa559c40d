//! Help, manual page and completions as a newcomer meets them.

use crate::cli::text;
use std::fs;
use std::process::{Command, Stdio};

pub(crate) const COMMANDS: &[&str] = &[
    "init",
    "check",
    "run",
    "merge",
    "soundings",
    "schools",
    "movement",
    "outlook",
    "backtest",
    "prefish",
    "explain",
    "share",
    "demo",
    "settings",
    "completions",
    "manual",
];

/// What a command prints, however wide the terminal says it is.
fn printed(args: &[&str], columns: &str) -> String {
    let ended =
        Command::new(env!("CARGO_BIN_EXE_shoalwright")).args(args).env("COLUMNS", columns).output().unwrap();
    assert!(ended.status.success(), "{args:?}: {}", text(&ended.stderr));
    text(&ended.stdout)
}

#[test]
fn help_fits_80_columns_and_tells_what_is_read_and_written() {
    let top = printed(&["--help"], "200");
    for command in COMMANDS {
        assert!(top.contains(&format!("\n  {command} ")), "{command} is not listed");
    }
    let mut pages = vec![top];
    for command in COMMANDS {
        let page = printed(&[command, "--help"], "200");
        for part in
            [&format!("Example: shoalwright {command}")[..], "Reads:", "Writes:", "Exit status: 0 done"]
        {
            assert!(page.contains(part), "{command} does not tell {part:?}: {page}");
        }
        pages.push(page);
    }
    for page in &pages {
        for line in page.lines() {
            assert!(line.chars().count() <= 80, "{} columns: {line}", line.chars().count());
            // What is to be typed stands on one line.
            assert!(!line.contains("shoalwright ") || !line.ends_with(" \\"), "{line}");
        }
        for line in page.lines().filter(|line| line.starts_with("Example: ")) {
            let quotes = line.matches('\'').count() + line.matches('"').count();
            assert!(quotes % 2 == 0, "an example is broken over two lines: {line}");
        }
    }
    assert_eq!(printed(&["run", "--help"], "80"), printed(&["run", "--help"], "200"));
}

#[test]
fn every_setting_shows_its_default_or_an_example_with_its_unit() {
    let settings = printed(&["settings"], "80");
    let keys: Vec<&str> = settings.lines().filter(|line| line.contains(" = ")).collect();
    assert!(keys.len() > 60, "{}", keys.len());
    for line in keys {
        let value = line.split_once(" = ").unwrap().1;
        let about = ["distance", "depth", "time", "swath", "speed", "reach", "spike", "cell"];
        let key = line.trim_start_matches("# ").split(' ').next().unwrap();
        if about.contains(&key.rsplit('_').next().unwrap()) && value.starts_with('"') {
            let quantity = value.split('"').nth(1).unwrap();
            let is_word = quantity.chars().all(|c| c.is_ascii_alphabetic());
            assert!(is_word || quantity.contains(' '), "no unit: {line}");
        }
    }
}

/// Runs a program that may not be installed over a text: `None`: it is not; else what it complains of.
fn complaints(program: &str, args: &[&str], input: &str) -> Option<String> {
    let home = tempfile::tempdir().unwrap();
    let path = home.path().join("input");
    fs::write(&path, input).unwrap();
    let ended = Command::new(program)
        .args(args)
        .stdin(fs::File::open(&path).unwrap())
        .stdout(Stdio::null())
        .stderr(Stdio::piped())
        .output()
        .ok()?;
    let told = text(&ended.stderr);
    Some(if ended.status.success() { told } else { format!("{told}\n{:?}", ended.status) })
}

#[test]
fn the_manual_page_and_the_completions_are_sound_where_their_readers_are_installed() {
    // bash runs these tests' scripts in any case; the others are asked for by `scripts/check`.
    let manual = printed(&["manual"], "80");
    for command in COMMANDS {
        assert!(manual.contains(&format!("\\fB{command}\\fR")), "{command} is not in the manual");
    }
    let bash = printed(&["completions", "bash"], "80");
    assert_eq!(complaints("bash", &["-n"], &bash).as_deref(), Some(""), "bash");
    assert!(complaints("bash", &["-n"], "if then (").is_some_and(|told| told.contains("syntax error")));
    if let Some(told) = complaints("groff", &["-man", "-Tutf8", "-ww", "-z"], &manual) {
        assert_eq!(told, "", "groff");
    }
    for shell in ["zsh", "fish", "elvish", "powershell"] {
        let script = printed(&["completions", shell], "80");
        assert!(script.contains("hazards"), "{shell}: an option of `share` is missing");
    }
}
