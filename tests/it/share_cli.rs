//! `share` as the user types it, on the demo lake.

use crate::cli::{demo, shoalwright, text, tree};
use serde_json::Value;
use std::fs;
use std::path::Path;

fn share(home: &Path, args: &[&str]) -> (i32, String) {
    let run = shoalwright(home, &[&["share", "demo/lake.toml"], args].concat());
    (run.status.code().unwrap(), text(&run.stderr))
}

fn layer(home: &Path, folder: &str, name: &str) -> Value {
    serde_json::from_slice(&fs::read(home.join(folder).join("layers").join(name)).unwrap()).unwrap()
}

#[test]
fn nothing_of_the_log_stands_in_what_is_shared_and_all_of_it_in_what_is_not() {
    let home = demo();
    let home = home.path();
    let run = shoalwright(home, &["schools", "demo/lake.toml", "-o", "own", "--quiet"]);
    assert_eq!(run.status.code(), Some(0), "{}", text(&run.stderr));
    let marks = layer(home, "own", "marks.geojson");
    let own: String = tree(&home.join("own")).values().map(|bytes| text(bytes)).collect();
    let mut needles: Vec<String> = Vec::new();
    for feature in marks["features"].as_array().unwrap() {
        needles.extend(
            (0..2).map(|i| format!("{:.4}", feature["geometry"]["coordinates"][i].as_f64().unwrap())),
        );
        let properties = &feature["properties"];
        let texts =
            ["id", "name", "time", "sighting", "area", "local_date"].map(|key| properties[key].as_str());
        // Words of one letter case that are no words of ours: names with a digit or two words.
        needles.extend(texts.into_iter().flatten().filter(|t| t.contains([' ', '-'])).map(str::to_owned));
    }
    assert!(needles.len() > 5000);
    let in_own = needles.iter().filter(|needle| own.contains(needle.as_str())).count();
    assert!(in_own > needles.len() * 9 / 10, "the search proves nothing: {in_own} of {}", needles.len());
    for level in ["arm", "cell", "mask"] {
        let (status, told) = share(home, &["-o", level, "--level", level]);
        assert_eq!(status, 0, "{told}");
        assert!(told.contains("leak test passed") && told.contains("Not for navigation."), "{told}");
        let shared: String = tree(&home.join(level)).values().map(|bytes| text(bytes)).collect();
        let found: Vec<&String> = needles.iter().filter(|needle| shared.contains(needle.as_str())).collect();
        assert!(found.is_empty(), "{level}: {found:?}");
        assert!(layer(home, level, "shared.geojson")["features"].as_array().unwrap().len() > 20);
    }
}

#[test]
fn the_safest_level_is_the_default_and_an_export_repeats_byte_for_byte() {
    let home = demo();
    let home = home.path();
    assert_eq!(share(home, &["-o", "one"]).0, 0);
    assert_eq!(share(home, &["-o", "two", "--level", "arm", "--threads", "1"]).0, 0);
    assert_eq!(tree(&home.join("one")), tree(&home.join("two")));
    assert!(!home.join("demo/share.secret").exists(), "nothing is moved, so no secret is made");
    let (_, told) = share(home, &["-o", "three", "--level", "mask"]);
    assert!(told.contains("made the secret `demo/share.secret`: keep it and never hand it out"), "{told}");
    let (_, told) = share(home, &["-o", "four", "--set", "share.level=mask"]);
    assert!(!told.contains("made the secret"), "{told}");
    assert_eq!(tree(&home.join("three")), tree(&home.join("four")));
    // With another secret the places lie elsewhere.
    let other = ["-o", "five", "--level", "mask", "--set", "share.secret=other.secret"];
    assert_eq!(share(home, &other).0, 0);
    assert_ne!(tree(&home.join("three")), tree(&home.join("five")));
}

#[test]
fn a_leak_is_refused_and_nothing_is_written() {
    let home = demo();
    let home = home.path();
    // The one text of the user's that goes out: a lake that bears the name of a mark, of a copy that lost its name, or
    // the day of a mark.
    for name in ["off BRUSH 14FT", "Lake good 1", "since 2021-01-03"] {
        for level in ["arm", "mask"] {
            let (status, told) =
                share(home, &["-o", "out", "--level", level, "--set", &format!("lake.name={name}")]);
            assert!(status == 2 && told.contains("the leak test refuses"), "{name}: {told}");
            assert!(!home.join("out").exists() && !home.join(".out.partial").exists());
            assert!(!home.join("demo/share.secret").exists());
        }
    }
    let run = shoalwright(home, &["merge", "demo/exports/alpha-2021.gpx", "-o", "one.geojson", "--quiet"]);
    assert_eq!(run.status.code(), Some(0));
    let marks: Value = serde_json::from_slice(&fs::read(home.join("one.geojson")).unwrap()).unwrap();
    let lat = marks["features"][0]["geometry"]["coordinates"][1].as_f64().unwrap();
    let (status, told) = share(home, &["-o", "out", "--set", &format!("lake.name=pile at {lat:.4} north")]);
    assert!(status == 2 && told.contains(&format!("the coordinate `{lat:.4}` of a mark")), "{told}");
    // An export that stands is not touched by one that is refused.
    assert_eq!(share(home, &["-o", "out"]).0, 0);
    let before = tree(&home.join("out"));
    assert_eq!(share(home, &["-o", "out", "--set", "lake.name=BRUSH 14FT"]).0, 2);
    assert_eq!(tree(&home.join("out")), before);
}

#[test]
fn hazards_go_out_exactly_only_when_asked_for_in_words() {
    let home = demo();
    let home = home.path();
    assert_eq!(share(home, &["-o", "plain", "--level", "mask"]).0, 0);
    assert!(!home.join("plain/layers/hazards.geojson").exists());
    let kinds = |value: &Value| -> Vec<String> {
        let features = value["features"].as_array().unwrap().iter();
        features.map(|f| f["properties"]["kind"].as_str().unwrap().to_owned()).collect()
    };
    assert!(!kinds(&layer(home, "plain", "shared.geojson")).contains(&"hazard".to_owned()));
    let (status, told) = share(home, &["-o", "exact", "--level", "mask", "--exact-hazards"]);
    assert_eq!(status, 0, "{told}");
    let hazards = layer(home, "exact", "hazards.geojson");
    assert!(kinds(&hazards).len() > 20 && kinds(&hazards).iter().all(|kind| kind == "hazard"));
    assert_eq!(layer(home, "plain", "shared.geojson"), layer(home, "exact", "shared.geojson"));
    assert!(!text(&fs::read(home.join("exact/layers/hazards.geojson")).unwrap()).contains("name"));
}

#[test]
fn what_cannot_be_shared_says_why() {
    let home = demo();
    let home = home.path();
    let check = |args: &[&str], expected: &str| {
        let (status, told) = share(home, args);
        assert!(status == 2 && told.contains(expected), "{args:?}: {told}");
    };
    check(&[], "a folder of its own: add -o");
    check(&["-o", "out", "--set", "share.level=exact"], "`exact` is not known here");
    check(&["-o", "demo", "--level", "mask"], "this run reads");
    fs::create_dir(home.join("to-ray")).unwrap();
    check(
        &["-o", "to-ray", "--level", "mask", "--set", "share.secret=../to-ray/share.secret"],
        "lies in the folder that is handed out",
    );
    fs::write(home.join("demo/bad.secret"), "not a secret").unwrap();
    check(&["-o", "out", "--level", "mask", "--set", "share.secret=bad.secret"], "64 hexadecimal digits");
    // The folder of `run` is not replaced by a shared one.
    assert_eq!(
        shoalwright(home, &["schools", "demo/lake.toml", "-o", "own", "--quiet"]).status.code(),
        Some(0)
    );
    check(&["-o", "own"], "is not one of our files");
    let data = shoalwright(home, &["share", "demo/exports/alpha-2021.gpx", "-o", "out"]);
    assert!(
        data.status.code() == Some(2) && text(&data.stderr).contains("set lake.shoreline"),
        "{}",
        text(&data.stderr)
    );
    assert!(!home.join("out").exists());
}
