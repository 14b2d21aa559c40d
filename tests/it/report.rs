//! The report page as a text: what is in it, what can never be, how large it is. What it does in a browser is judged
//! by `scripts/reference/page_checks.cjs`.

use crate::cli::{fixture, shoalwright, text};
use serde_json::Value;
use std::fmt::Write as _;
use std::fs;
use std::path::Path;

fn run(dir: &Path, out: &str) -> String {
    let ran = shoalwright(dir, &["run", "lake.toml", "-o", out, "--quiet"]);
    assert_eq!(ran.status.code(), Some(0), "{}", text(&ran.stderr));
    fs::read_to_string(dir.join(out).join("report.html")).unwrap()
}

/// The blocks of data of a page by name.
fn blocks(page: &str) -> Vec<(String, Value)> {
    page.split("<script type=\"application/json\" id=\"data-")
        .skip(1)
        .map(|rest| {
            let (name, rest) = rest.split_once("\">").unwrap();
            (name.to_owned(), serde_json::from_str(rest.split_once("</script>").unwrap().0).unwrap())
        })
        .collect()
}

/// The blocks of data of a page without what tells where a record stands in its file.
pub(crate) fn without_places(page: &str) -> Vec<(String, Value)> {
    let mut blocks = blocks(page);
    blocks.retain(|(name, _)| name != "findings");
    for (_, block) in blocks.iter_mut().filter(|(name, _)| name == "marks") {
        block["columns"]["sources"] = Value::Null;
    }
    blocks
}

fn block(page: &str, name: &str) -> Value {
    blocks(page).into_iter().find(|(n, _)| n == name).unwrap().1
}

/// The texts of a column, however it is packed.
fn column(layer: &Value, name: &str) -> Vec<Value> {
    let column = &layer["columns"][name];
    match column.as_array() {
        Some(list) => list.clone(),
        None => column["at"]
            .as_array()
            .unwrap()
            .iter()
            .map(|at| at.as_u64().map_or(Value::Null, |at| column["words"][at as usize].clone()))
            .collect(),
    }
}

/// The page without its blocks of data.
fn fixed(page: &str) -> String {
    let mut parts = page.split("<script type=\"application/json\"");
    let mut rest = parts.next().unwrap().to_owned();
    for part in parts {
        rest.push_str(part.split_once("</script>\n").unwrap().1);
    }
    rest
}

#[test]
fn names_that_try_to_run_are_data_and_never_markup() {
    let home = tempfile::tempdir().unwrap();
    for file in ["lake.toml", "hostile.gpx", "hostile.csv"] {
        fs::copy(fixture("page").join(file), home.path().join(file)).unwrap();
    }
    // A file's own name may try, too.
    fs::rename(home.path().join("hostile.gpx"), home.path().join("<script>pwned=1<&.gpx")).unwrap();
    let page = run(home.path(), "out");

    let marks = block(&page, "marks");
    let names = column(&marks, "name");
    for told in [
        "<script>window.pwned=1</script>",
        "</script><script>window.pwned=1</script>",
        "javascript:window.pwned=1",
        "SHAD \u{202e}24FT\u{2066} \u{200f}",
        "{{blocks}} ${1} %s",
    ] {
        assert!(names.iter().any(|name| name == told), "{told} in {names:?}");
        assert!(names.iter().any(|name| *name == format!("bait {told}")), "{told} through CSV");
    }
    assert!(names.iter().any(|name| name.as_str().is_some_and(|n| n.len() == 10_000)));
    assert!(block(&page, "about")["lake"].as_str().unwrap().starts_with("</script>"));

    // The page without its data is the same whatever the data is.
    fs::write(home.path().join("plain.gpx"), PLAIN).unwrap();
    fs::write(home.path().join("plain.toml"), "[[input]]\nfiles = [\"plain.gpx\"]\n").unwrap();
    let ran = shoalwright(home.path(), &["run", "plain.toml", "-o", "plain", "--quiet"]);
    assert_eq!(ran.status.code(), Some(0), "{}", text(&ran.stderr));
    let plain = fs::read_to_string(home.path().join("plain/report.html")).unwrap();
    assert_eq!(fixed(&page), fixed(&plain));
    for part in page.split("<script type=\"application/json\"").skip(1) {
        let data = part.split_once('>').unwrap().1.split_once("</script>").unwrap().0;
        assert!(!data.contains(['<', '>', '&', '\u{2028}', '\u{2029}', '\0']));
    }
}

const PLAIN: &str = "<gpx version=\"1.1\" creator=\"x\" xmlns=\"http://www.topografix.com/GPX/1/1\">\
    <wpt lat=\"36\" lon=\"-56\"><time>2024-05-01T12:00:00Z</time><name>BAIT 27FT</name></wpt></gpx>";

#[test]
fn the_demo_page_says_what_it_holds_loads_nothing_and_is_the_same_twice() {
    let home = tempfile::tempdir().unwrap();
    assert!(shoalwright(home.path(), &["demo", "."]).status.success());
    let page = run(home.path(), "a");
    assert_eq!(page, run(home.path(), "b"));
    assert!(page.contains("<title>Lake report: holds exact places</title>"));
    assert!(page.contains("This page holds exact places."));
    assert!(page.contains("Not for navigation"));
    // BSD 2-clause: the notice of the map library goes where the library goes.
    assert!(page.contains("Leaflet 1.9.4") && page.contains("Copyright (c) 2010-2023, Volodymyr Agafonkin"));
    assert!(page.contains("Redistributions in binary form must reproduce the above copyright notice"));
    assert!(page.contains("default-src 'none'; script-src 'sha256-"));
    let outside = ["<link", "<img", "<iframe", "@import", "src=\"http", "<base"];
    assert!(outside.iter().all(|word| !fixed(&page).contains(word)));
    let count = |name: &str, layer: &str| {
        let path = home.path().join("a/layers").join(format!("{layer}.geojson"));
        let written: Value = serde_json::from_str(&fs::read_to_string(path).unwrap()).unwrap();
        assert_eq!(
            block(&page, name)["n"].as_u64().unwrap() as usize,
            written["features"].as_array().unwrap().len(),
            "{name}"
        );
        written
    };
    for layer in ["sightings", "areas", "movement", "movement-days", "effort"] {
        count(layer, layer);
    }
    // Places and properties are those of the layer.
    let (written, marks) = (count("marks", "marks"), block(&page, "marks"));
    let mut place = [0; 2];
    for (number, feature) in written["features"].as_array().unwrap().iter().enumerate() {
        for (axis, name) in ["lon", "lat"].into_iter().enumerate() {
            place[axis] += marks[name][number].as_i64().unwrap();
            let degrees = feature["geometry"]["coordinates"][axis].as_f64().unwrap();
            assert!((place[axis] as f64 * 1e-6 - degrees).abs() < 0.6e-6);
        }
    }
    for name in ["kind", "name", "local_date", "fish_depth_ft", "sources", "sighting", "repairs"] {
        let told: Vec<Value> =
            written["features"].as_array().unwrap().iter().map(|f| f["properties"][name].clone()).collect();
        assert_eq!(column(&marks, name), told, "{name}");
    }
    assert!(page.len() <= 2_000_000, "{} bytes for 1,548 marks", page.len());
}

#[test]
fn a_plan_stands_in_the_page_as_in_its_layers() {
    let home = tempfile::tempdir().unwrap();
    assert!(shoalwright(home.path(), &["demo", "."]).status.success());
    let page = run(home.path(), "out");
    for (name, layer, column_name) in [("stops", "prefish-stops", "arrive"), ("legs", "prefish-legs", "to")] {
        let path = home.path().join(format!("out/layers/{layer}.geojson"));
        let written: Value = serde_json::from_str(&fs::read_to_string(path).unwrap()).unwrap();
        let told: Vec<Value> = written["features"]
            .as_array()
            .unwrap()
            .iter()
            .map(|f| f["properties"][column_name].clone())
            .collect();
        assert!(!told.is_empty());
        assert_eq!(column(&block(&page, name), column_name), told);
    }
}

#[test]
fn a_thousand_marks_stay_under_two_megabytes() {
    let mut gpx =
        String::from("<gpx version=\"1.1\" creator=\"x\" xmlns=\"http://www.topografix.com/GPX/1/1\">");
    for n in 0..1000 {
        write!(
            gpx,
            "<wpt lat=\"36.{:06}\" lon=\"-56.{:06}\"><time>20{:02}-0{}-{:02}T12:{:02}:00Z</time><name>SHAD {}FT {n}</name>\
             <cmt>seen by the second point, {n} of many</cmt></wpt>",
            n * 91 % 99_991,
            n * 57 % 99_991,
            20 + n % 5,
            1 + n % 9,
            1 + n % 28,
            n % 60,
            10 + n % 30
        )
        .unwrap();
    }
    gpx.push_str("</gpx>");
    let home = tempfile::tempdir().unwrap();
    fs::write(home.path().join("marks.gpx"), gpx).unwrap();
    fs::write(home.path().join("lake.toml"), "[[input]]\nfiles = [\"marks.gpx\"]\n").unwrap();
    let page = run(home.path(), "out");
    assert_eq!(block(&page, "marks")["n"], 1000);
    assert!(page.len() <= 2_000_000, "{} bytes", page.len());
}
