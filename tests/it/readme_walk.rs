//! A newcomer's walk: every command of the README, from a bare home, and every name in it.

use crate::cli::{text, tree};
use crate::lakes::small_lakes;
use rayon::prelude::*;
use shoalwright::settings::DEFAULT_TOML;
use shoalwright::terms::finding::Code;
use std::collections::BTreeSet;
use std::fs;
use std::path::Path;
use std::process::Command;

/// Lines of the README that are not run here, and why. One that is no longer in the README must go.
const NOT_RUN: &[(&str, &str)] = &[
    ("scripts/check", "it runs these tests"),
    ("cargo install --path .", "it builds the program anew; the built one is run in its place"),
];
/// How the README runs the program out of its sources; the built one is run in its place.
const FROM_SOURCES: &str = "cargo run --release -- ";

fn readme() -> String {
    fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("README.md")).unwrap()
}

/// What stands between fences of a language.
fn fenced<'a>(readme: &'a str, language: &str) -> Vec<&'a str> {
    let open = format!("\n```{language}\n");
    readme.split(&open).skip(1).map(|rest| rest.split("\n```").next().unwrap()).collect()
}

/// A folder with a bare home, the built program on the path, and the lakes that the README speaks of.
struct Newcomer {
    root: tempfile::TempDir,
}

impl Newcomer {
    fn new() -> Self {
        let root = tempfile::tempdir().unwrap();
        for folder in ["home", "bin", "empty"] {
            fs::create_dir(root.path().join(folder)).unwrap();
        }
        fs::hard_link(env!("CARGO_BIN_EXE_shoalwright"), root.path().join("bin/shoalwright"))
            .or_else(|_| {
                fs::copy(env!("CARGO_BIN_EXE_shoalwright"), root.path().join("bin/shoalwright")).map(drop)
            })
            .unwrap();
        Self { root }
    }

    /// Runs a script with nothing in its surroundings but a path and an empty home.
    fn bash(&self, folder: &str, script: &str) -> (bool, String, String) {
        let ended = Command::new("bash")
            .env_clear()
            .env("PATH", format!("{}:/usr/bin:/bin", self.root.path().join("bin").display()))
            .env("HOME", self.root.path().join("home"))
            .current_dir(self.root.path().join(folder))
            .args(["-euxc", script])
            .output()
            .unwrap();
        (ended.status.success(), text(&ended.stdout), text(&ended.stderr))
    }

    /// The demo lake, its squares of soundings so wide that a test has time for them.
    fn demo(&self, folder: &str) {
        let made = self.bash(".", &format!("shoalwright demo {folder}"));
        assert!(made.0, "{}", made.2);
        let settings = self.root.path().join(folder).join("lake.toml");
        let quick = fs::read_to_string(&settings).unwrap() + "\n[soundings]\ncell = \"80 m\"\n";
        fs::write(settings, quick).unwrap();
    }

    /// An angler's folder: some of the demo lake's exports, and no settings yet.
    fn my_lake(&self) {
        self.demo("theirs");
        let mine = self.root.path().join("mine/my-lake");
        fs::create_dir_all(mine.join("exports")).unwrap();
        for file in ["exports/alpha-2021.gpx", "exports/alpha-2023.gpx", "shoreline.geojson", "levels.csv"] {
            fs::copy(self.root.path().join("theirs").join(file), mine.join(file)).unwrap();
        }
    }
}

/// The folder in which a block of the README is run, made as the README says it is.
fn folder_for(newcomer: &Newcomer, block: &str) -> &'static str {
    if block.contains("-- demo demo") {
        return "empty";
    }
    if block.contains("cd my-lake") {
        newcomer.my_lake();
        return "mine";
    }
    if block.contains(" lakes/*/") {
        small_lakes(&newcomer.root.path().join("many"), 2);
        return "many";
    }
    newcomer.demo("demo");
    "demo"
}

/// A line without its remark.
fn command(line: &str) -> &str {
    line.split("  #").next().unwrap().trim()
}

#[test]
fn every_command_of_the_readme_runs_from_a_bare_home() {
    let readme = readme();
    let blocks = fenced(&readme, "sh");
    let lines: Vec<&str> = blocks.iter().flat_map(|block| block.lines()).map(command).collect();
    assert!(blocks.len() >= 6 && lines.len() >= 14, "{lines:?}");
    for (line, why) in NOT_RUN {
        assert!(lines.contains(line) && !why.is_empty(), "`{line}` is no longer in the README");
    }
    let unknown = readme.lines().filter(|line| line.starts_with("```") && !["```", "```sh"].contains(line));
    assert_eq!(unknown.count(), 0, "a block of another language is not looked into");
    let walked: Vec<(String, bool, String)> = blocks
        .par_iter()
        .map(|block| {
            let newcomer = Newcomer::new();
            let folder = folder_for(&newcomer, block);
            let kept = block.lines().filter(|line| !NOT_RUN.iter().any(|(not, _)| command(line) == *not));
            let script = kept.collect::<Vec<_>>().join("\n").replace(FROM_SOURCES, "shoalwright ");
            let (done, _, told) = newcomer.bash(folder, &script);
            assert!(!told.contains("panicked"), "{told}");
            assert!(
                tree(&newcomer.root.path().join("home")).is_empty(),
                "something was written into the home"
            );
            if folder == "empty" {
                outputs_are_those_of_the_readme(&readme, &newcomer.root.path().join("empty/demo/out"));
            }
            (script, done, told)
        })
        .collect();
    let failed: Vec<String> = walked
        .iter()
        .filter(|(_, done, _)| !done)
        .map(|(script, _, told)| format!("{script}\n{told}"))
        .collect();
    assert!(failed.is_empty(), "{}", failed.join("\n\n"));
    let ran = walked.iter().map(|(script, ..)| script.matches("shoalwright ").count()).sum::<usize>();
    assert!(ran >= 14, "only {ran} commands were run");
}

/// The files that the README says come out: folder, name, ending.
fn outputs_told(readme: &str) -> BTreeSet<String> {
    let picture = fenced(readme, "").into_iter().find(|block| block.starts_with("out/\n")).unwrap();
    let mut told = BTreeSet::new();
    let mut folder = String::new();
    let mut names = String::new();
    for line in picture.lines().skip(1) {
        let mut rest = line.trim();
        if !line.starts_with("       ") {
            let first = rest.split_whitespace().next().unwrap();
            if first.ends_with('/') {
                first.clone_into(&mut folder);
                rest = rest[first.len()..].trim();
            } else {
                folder.clear();
            }
        }
        let first = rest.split([' ', ':']).next().unwrap();
        if first.contains('.') && !first.ends_with(',') {
            told.insert(format!("{folder}{first}"));
            continue;
        }
        let (listed, format) = rest.split_once("  (").unwrap_or((rest, ""));
        names = names + " " + listed.trim();
        // The format behind a list tells the ending of all in it.
        let ending =
            [("GeoJSON", "geojson"), ("CSV", "csv")].iter().find(|(word, _)| format.starts_with(word));
        if let Some((_, ending)) = ending {
            told.extend(names.split(',').map(|name| format!("{folder}{}.{ending}", name.trim())));
            names.clear();
        }
    }
    assert!(names.trim().is_empty(), "no format is told for {names}");
    told
}

#[track_caller]
fn outputs_are_those_of_the_readme(readme: &str, out: &Path) {
    let written: BTreeSet<String> =
        tree(out).keys().map(|path| path.to_string_lossy().replace('\\', "/")).collect();
    let told = outputs_told(readme);
    assert!(told.len() > 25, "{told:?}");
    assert_eq!(written, told);
}

/// What stands in backticks outside of fences.
fn in_backticks(readme: &str) -> Vec<String> {
    let prose: String = readme.split("```").step_by(2).collect();
    prose.lines().flat_map(|line| line.split('`').skip(1).step_by(2)).map(str::to_owned).collect()
}

/// Sections and keys of the settings, as `settings` prints them: `lake`, `lake.name`.
fn settings_known() -> BTreeSet<String> {
    let mut known = BTreeSet::new();
    let mut section = String::new();
    for line in DEFAULT_TOML.lines() {
        let line = line.trim_start_matches("# ");
        if let Some(name) = line.strip_prefix('[') {
            name.trim_start_matches('[').split(']').next().unwrap().clone_into(&mut section);
            known.insert(section.clone());
        } else if let Some((key, _)) = line.split_once(" = ")
            && key.chars().all(|c| c.is_ascii_lowercase() || c == '_')
        {
            known.insert(format!("{section}.{key}"));
        }
    }
    known
}

#[test]
fn every_setting_that_the_readme_names_is_there() {
    let readme = readme();
    let known = settings_known();
    assert!(known.len() > 70, "{known:?}");
    let sections: Vec<&String> = known.iter().filter(|name| !name.contains('.')).collect();
    let mut seen = 0;
    for word in in_backticks(&readme) {
        // `[lake] levels`, `prefish.level`, `reach = …`.
        let name = word.split(" = ").next().unwrap().replace("] ", ".").replace(['[', ']'], "");
        let section = name.split('.').next().unwrap().to_owned();
        let is_file =
            [".toml", ".csv", ".gpx", ".html", ".json", ".geojson"].iter().any(|end| name.ends_with(end));
        let of_settings = name.contains('.') || word.starts_with('[');
        if of_settings && !is_file && sections.contains(&&section) {
            assert!(known.contains(&name), "the README names `{word}`, and there is no setting {name}");
            seen += 1;
        } else if word.contains(" = ") && !word.starts_with('[') {
            let key = name.rsplit('.').next().unwrap();
            let found = known.iter().any(|k| k.rsplit('.').next() == Some(key));
            // `zone` is a property of GeoJSON.
            assert!(
                found || key == "zone" || key == "read",
                "the README names `{word}`, and nothing is set so"
            );
            seen += 1;
        }
    }
    assert!(seen > 15, "{seen}");
}

#[test]
fn every_code_command_and_option_that_the_readme_names_is_there() {
    let readme = readme();
    let codes: BTreeSet<&str> = Code::ALL.iter().map(|code| code.word()).collect();
    let outputs: BTreeSet<String> = outputs_told(&readme)
        .iter()
        .map(|path| path.rsplit('/').next().unwrap().split('.').next().unwrap().to_owned())
        .collect();
    let help = |args: &[&str]| {
        let ended = Command::new(env!("CARGO_BIN_EXE_shoalwright")).args(args).output().unwrap();
        (ended.status.success(), text(&ended.stdout))
    };
    let commands: Vec<String> = help(&["--help"])
        .1
        .lines()
        .skip_while(|line| *line != "Commands:")
        .skip(1)
        .take_while(|line| !line.is_empty())
        .filter_map(|line| line.strip_prefix("  ").filter(|l| !l.starts_with(' '))?.split(' ').next())
        .map(str::to_owned)
        .collect();
    assert!(commands.len() >= 16, "{commands:?}");
    let helps: String = commands.iter().map(|command| help(&[command, "--help"]).1).collect();

    let words = in_backticks(&readme);
    for word in &words {
        let kebab = word.contains('-')
            && word.starts_with(|c: char| c.is_ascii_lowercase())
            && word.chars().all(|c| c.is_ascii_lowercase() || c == '-');
        assert!(
            !kebab || codes.contains(word.as_str()) || outputs.contains(word),
            "the README names `{word}`: it is no code and no output"
        );
    }
    for word in readme.split(|c: char| !(c.is_ascii_alphanumeric() || c == '-' || c == '_')) {
        if let Some(option) =
            word.strip_prefix("--").filter(|o| o.starts_with(|c: char| c.is_ascii_lowercase()))
        {
            // Of cargo, and of a script of ours.
            let others = ["release", "path", "slice"];
            let known = helps.contains(&format!("--{option} ")) || helps.contains(&format!("--{option}\n"));
            assert!(known || others.contains(&option), "the README names --{option}");
        }
    }
    let rows = readme.lines().filter_map(|line| line.strip_prefix("| `")?.split([' ', '`', '…']).next());
    let listed: BTreeSet<&str> = rows.filter(|word| commands.iter().any(|c| c == word)).collect();
    // One row holds three: `settings`, `completions SHELL`, `manual`.
    let told = |command: &&String| {
        listed.contains(command.as_str()) || words.iter().any(|word| word.split(' ').next() == Some(command))
    };
    let missing: Vec<&String> = commands.iter().filter(|command| !told(command)).collect();
    assert!(missing.is_empty(), "the README does not tell of {missing:?}");
    for word in &words {
        if let Some(rest) = word.strip_prefix("shoalwright ") {
            let command = rest.split(' ').next().unwrap();
            assert!(command == "COMMAND" || commands.iter().any(|c| c == command), "`{word}` is no command");
        }
    }
}
