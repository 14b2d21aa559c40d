//! Texts that try to reach the terminal, a spreadsheet, a browser or a file's name, out of every input that has texts,
//! through every command: what each writes is read as a terminal, a spreadsheet or a browser would.

use crate::cli::{shoalwright, text, tree};
use std::fmt::Write;
use std::fs;
use std::path::Path;
use tempfile::TempDir;

/// A formula (OWASP, CSV injection), a colour and a title for the terminal (ECMA-48), a turned direction (UAX 9: an
/// override, an isolate, an Arabic letter mark), a tag that runs, the end of an attribute, and a bell.
const HOSTILE: &str =
    "=HYPERLINK(1)\u{1b}[31m\u{9b}2J\u{1b}]0;owned\u{7}\u{202e}\u{2066}\u{61c}<img src=x onerror=run()>\"'&";

fn hostile_lake() -> TempDir {
    let home = tempfile::tempdir().unwrap();
    let put = |name: &str, content: &str| fs::write(home.path().join(name), content).unwrap();
    let toml = HOSTILE.replace('"', "\\\"").replace('\u{1b}', "\\u001b").replace('\u{7}', "\\u0007");
    let xml = HOSTILE.replace('&', "&amp;").replace('<', "&lt;").replace('"', "&quot;");
    let csv = HOSTILE.replace('"', "\"\"");
    let json = toml.clone();
    let mut gpx = String::from("<gpx version=\"1.1\">");
    for n in 0..12 {
        write!(
            gpx,
            "<wpt lat=\"36.00{n:02}\" lon=\"-56.0000\"><time>20{}-10-{:02}T15:00:00Z</time><name>{xml} BAIT {n} FT</name>\
             <cmt>+{xml}</cmt><desc>@{xml}</desc><sym>-{xml}</sym></wpt>",
            20 + n % 4,
            10 + n,
        )
        .unwrap();
    }
    write!(gpx, "<wpt lat=\"95\" lon=\"-56\"><name>{xml}</name></wpt></gpx>").unwrap();
    // A slash ends a file's name; all else may stand in one.
    put(&format!("{HOSTILE}.gpx"), &gpx);
    put(
        "more.csv",
        &format!(
            "Latitude,Longitude,Time,Name,Note\n36.01,-56.01,2024-06-01T15:00:00Z,\"{csv} bait\",\"{csv}\"\n36.02,x,,\"{csv}\",\n"
        ),
    );
    put("edits.csv", &format!("id,action,value\n\"{csv}\",drop,\n\"{csv}\",\"{csv}\",\"{csv}\"\n"));
    put(
        "stops.csv",
        &format!(
            "name,lon,lat,value,search_min,earliest,latest,must,group\n\"{csv}\",-56.02,36.02,0.5,20,,,yes,\"{csv}\"\n\
             \"{csv}\",x,36,\"{csv}\",,,,,\n"
        ),
    );
    let square = "[[[-56.03,36.03],[-56.02,36.03],[-56.02,36.04],[-56.03,36.03]]]";
    put(
        "zones.geojson",
        &format!(
            "{{\"type\":\"FeatureCollection\",\"features\":[{{\"type\":\"Feature\",\"properties\":{{\"zone\":\"closed\",\
             \"name\":\"{json}\"}},\"geometry\":{{\"type\":\"Polygon\",\"coordinates\":{square}}}}},\
             {{\"type\":\"Feature\",\"properties\":{{\"zone\":\"{json}\"}},\"geometry\":null}}]}}"
        ),
    );
    put(
        "lake.toml",
        &format!(
            "[lake]\nname = \"{toml}\"\ntimezone = \"America/Miquelon\"\nlevel_datum = \"{toml}\"\nfull_pool = \"600 ft\"\n\
             [[input]]\nfiles = [\"*.gpx\"]\nunit = \"{toml}\"\n[[input]]\nfiles = [\"more.csv\"]\nunit = \"{toml}\"\n\
             edits = \"edits.csv\"\n[prefish]\ndate = 2026-10-15\nstart = [-56.0, 36.0]\nstops = \"stops.csv\"\n\
             zones = \"zones.geojson\"\n[outlook]\ndate = 2026-10-15\n"
        ),
    );
    home
}

/// What a terminal would take for a command, or for a change of direction.
fn moves_a_terminal(c: char) -> bool {
    let turns =
        matches!(c, '\u{61c}' | '\u{200e}' | '\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}');
    turns || (c.is_control() && c != '\n')
}

#[track_caller]
fn check_terminal(what: &str, bytes: &[u8]) {
    let said = text(bytes);
    let bad = said.chars().find(|c| moves_a_terminal(*c));
    assert!(bad.is_none(), "{what}: {bad:?} in {said:?}");
}

/// Data may hold a turned direction, as the name did; a control sign never. JSON escapes those below space (RFC 8259,
/// clause 7) and may hold the others.
#[track_caller]
fn check_data(what: &str, bytes: &[u8]) {
    let json = what.contains("json");
    let bad = text(bytes)
        .chars()
        .filter(|c| !(json && *c >= ' '))
        .find(|c| c.is_control() && !matches!(c, '\n' | '\r' | '\t'));
    assert!(bad.is_none(), "{what}: {bad:?}");
}

#[track_caller]
fn check_cells(what: &str, bytes: &[u8]) {
    let mut reader = csv::ReaderBuilder::new().has_headers(false).from_reader(bytes);
    for row in reader.records() {
        for cell in &row.unwrap() {
            let formula = cell.starts_with(['=', '+', '-', '@', '\t', '\r']) && cell.parse::<f64>().is_err();
            assert!(!formula, "{what}: {cell:?}");
        }
    }
}

/// The markup of a page, without the data blocks that no browser runs.
fn markup(page: &str) -> String {
    page.split("<script type=\"application/json\"")
        .enumerate()
        .map(|(n, part)| if n == 0 { part } else { part.split_once("</script>").unwrap().1 })
        .collect()
}

#[track_caller]
fn check_file(path: &Path, bytes: &[u8]) {
    let what = path.display().to_string();
    assert!(!what.contains(moves_a_terminal) && !what.contains(['<', '=']), "{what:?}");
    match path.extension().and_then(|e| e.to_str()).unwrap() {
        "gpkg" => {}
        "csv" => {
            check_data(&what, bytes);
            check_cells(&what, bytes);
        }
        "html" => {
            let markup = markup(&text(bytes));
            check_data(&what, markup.as_bytes());
            assert!(!markup.contains("<img") && !markup.contains("onerror=run()>\""), "{what}");
        }
        "json" | "geojson" => {
            check_data(&what, bytes);
            serde_json::from_slice::<serde_json::Value>(bytes).unwrap();
        }
        "gpx" => {
            check_data(&what, bytes);
            let mut reader = quick_xml::Reader::from_reader(bytes);
            let mut buffer = Vec::new();
            let mut names = Vec::new();
            loop {
                match reader.read_event_into(&mut buffer).unwrap() {
                    quick_xml::events::Event::Eof => break,
                    quick_xml::events::Event::Start(tag) => {
                        names.push(tag.name().as_ref().to_owned());
                    }
                    _ => {}
                }
            }
            assert!(
                names.iter().any(|name| name == "gpx") && !names.iter().any(|name| name == "img"),
                "{what}"
            );
        }
        _ => unreachable!("nobody checks files like {what}"),
    }
}

#[test]
fn no_text_of_an_input_reaches_the_terminal_as_a_command() {
    let home = hostile_lake();
    let at = |args: &[&str]| shoalwright(home.path(), args);
    let file = format!("{HOSTILE}.gpx");
    let missing = format!("{HOSTILE}/x.gpx");
    let (spoilt_set, spoilt_id) = (format!("lake.{HOSTILE}=1"), format!("m-{HOSTILE}"));
    let merged = at(&["merge", "lake.toml"]);
    assert_eq!(merged.status.code(), Some(0), "{}", text(&merged.stderr));
    check_data("merge", &merged.stdout);
    check_terminal("merge", &merged.stderr);
    let marks = fs::read_to_string({
        assert!(at(&["merge", "lake.toml", "-o", "all.csv", "--quiet"]).status.success());
        home.path().join("all.csv")
    })
    .unwrap();
    let id = marks.lines().nth(1).unwrap().split(',').next().unwrap().to_owned();
    let record = format!("{file}#1");
    let commands: [(&[&str], i32); 13] = [
        (&["check", "lake.toml"], 0),
        (&["check", "lake.toml", "--verbose"], 0),
        (&["check", &file], 0),
        (&["check", &missing], 2),
        (&["check", "lake.toml", "--set", &spoilt_set], 2),
        (&["run", "lake.toml"], 0),
        (&["prefish", "lake.toml"], 0),
        (&["explain", &id, "lake.toml"], 0),
        (&["explain", &record, "lake.toml"], 0),
        (&["explain", &spoilt_id, "lake.toml"], 2),
        (&["merge", "lake.toml", "-o", &file], 2),
        (&["share", "lake.toml", "-o", "shared"], 2),
        (&["init", "."], 2),
    ];
    for (args, status) in commands {
        let ran = at(args);
        assert_eq!(ran.status.code(), Some(status), "{args:?}: {}", text(&ran.stderr));
        check_terminal(&format!("{args:?}"), &ran.stderr);
        check_terminal(&format!("{args:?}"), &ran.stdout);
    }
    for args in [
        &["schools", "lake.toml"][..],
        &["outlook", "lake.toml"],
        &["backtest", "lake.toml", "--verbose"],
        &["check", "lake.toml", "--json"],
    ] {
        let ran = at(args);
        assert_eq!(ran.status.code(), Some(0), "{args:?}: {}", text(&ran.stderr));
        check_terminal(&format!("{args:?}"), &ran.stderr);
        check_data(&format!("{args:?}"), &ran.stdout);
    }
}

#[test]
fn no_text_of_an_input_is_a_formula_a_tag_or_a_files_name_in_what_is_written() {
    let home = hostile_lake();
    let ran = shoalwright(home.path(), &["run", "lake.toml", "--quiet"]);
    assert_eq!(ran.status.code(), Some(0), "{}", text(&ran.stderr));
    let files = tree(&home.path().join("out"));
    for name in [
        "report.html",
        "prefish-sheet.html",
        "tables/prefish.csv",
        "boat/prefish.gpx",
        "set-aside/set-aside.csv",
    ] {
        assert!(files.contains_key(Path::new(name)), "{name} is missing");
    }
    for (path, bytes) in &files {
        check_file(path, bytes);
    }
    for ending in ["gpx", "geojson", "csv"] {
        let name = format!("all.{ending}");
        assert!(shoalwright(home.path(), &["merge", "lake.toml", "-o", &name, "--quiet"]).status.success());
        check_file(Path::new(&name), &fs::read(home.path().join(&name)).unwrap());
    }
    check_file(Path::new("all.set-aside.csv"), &fs::read(home.path().join("all.set-aside.csv")).unwrap());
}
