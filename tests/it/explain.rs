//! `explain`: where things come from, on the demo lake and on small logs made in place.

use crate::cli::{demo, shoalwright, text};
use serde_json::Value;
use std::fmt::Write;
use std::fs;
use std::path::Path;
use tempfile::TempDir;

/// Runs `explain` and gives its status, what it says, and its errors.
fn explain(home: &Path, args: &[&str]) -> (i32, String, String) {
    let run = shoalwright(home, &[&["explain"], args].concat());
    (run.status.code().unwrap(), text(&run.stdout), text(&run.stderr))
}

fn json(home: &Path, id: &str, more: &[&str]) -> Value {
    let (status, stdout, stderr) = explain(home, &[&[id, "demo/lake.toml", "--json"], more].concat());
    assert_eq!(status, 0, "{id}: {stderr}");
    serde_json::from_str(&stdout).unwrap()
}

#[track_caller]
fn says(home: &Path, args: &[&str], parts: &[&str]) {
    let (status, stdout, stderr) = explain(home, args);
    assert_eq!(status, 0, "{stderr}");
    for part in parts {
        assert!(stdout.contains(part), "`{part}` is not said:\n{stdout}");
    }
    assert!(!stdout.contains('\u{1b}'));
}

/// The demo lake with its layers in `own`.
fn demo_with_layers(command: &[&str]) -> TempDir {
    let home = demo();
    let run = shoalwright(home.path(), &[command, &["demo/lake.toml", "-o", "own", "--quiet"]].concat());
    assert_eq!(run.status.code(), Some(0), "{}", text(&run.stderr));
    home
}

fn features(home: &Path, layer: &str) -> Vec<Value> {
    let bytes = fs::read(home.join("own/layers").join(layer)).unwrap();
    serde_json::from_slice::<Value>(&bytes).unwrap()["features"].as_array().unwrap().clone()
}

fn length(list: &Value) -> u64 {
    list.as_array().unwrap().len() as u64
}

#[test]
fn a_mark_tells_its_records_and_the_rule_that_made_them_one() {
    let home = demo_with_layers(&["schools"]);
    let home = home.path();
    let marks = features(home, "marks.geojson");
    let sources = |mark: &Value| mark["properties"]["sources"].as_array().unwrap().len();
    let copied =
        marks.iter().find(|mark| sources(mark) == 2 && mark["properties"]["area"].is_string()).unwrap();
    let id = copied["id"].as_str().unwrap();
    let told = json(home, id, &[]);
    let listed: Vec<String> = told["sources"]
        .as_array()
        .unwrap()
        .iter()
        .map(|s| format!("{}#{}", s["file"].as_str().unwrap(), s["record"]))
        .collect();
    let in_layer: Vec<&str> =
        copied["properties"]["sources"].as_array().unwrap().iter().map(|s| s.as_str().unwrap()).collect();
    assert_eq!(listed, in_layer);
    let joined = &told["sources"][1]["joined"][0];
    assert!(joined["metres"].as_f64().unwrap() <= 10.0 && joined["rule"].is_string(), "{told}");
    assert!(
        told["sources"][0]["text"].as_str().unwrap().contains("<wpt"),
        "the record as it stands in the file"
    );
    for key in ["sighting", "area"] {
        assert_eq!(told[key], copied["properties"][key], "{key}");
    }
    let parts = ["It stands in `2` records", "the same mark, because", "holding area `a-"];
    says(home, &[id, "demo/lake.toml"], &parts);
    // The beginning of an id serves, in any case of letters.
    let short = &id[..9].to_uppercase();
    assert_eq!(json(home, short, &[])["id"], told["id"]);
    // A record is found by where it stands; the other copy leads to the mark as well.
    assert_eq!(json(home, in_layer[0], &[])["id"], told["id"]);
    assert_eq!(json(home, in_layer[1], &[])["into"], told["id"]);
}

#[test]
fn repairs_tell_the_value_before_and_after() {
    let home = demo();
    let home = home.path();
    // demo-data/PLANTED.md: swapped coordinates; a console a GPS week count back; Fahrenheit written as Celsius.
    let repair = |record: &str, code: &str| {
        let told = json(home, record, &[]);
        let list = told["repairs"].as_array().unwrap().clone();
        list.into_iter().find(|repair| repair["code"] == code).unwrap_or_else(|| panic!("{code}: {told}"))
    };
    let swapped = repair("exports/alpha-2023.gpx#15", "position-swapped");
    assert_eq!(swapped["old"], "36.004173 -56.007782");
    assert_eq!(swapped["new"], "-56.007782 36.004173");
    let rolled = repair("exports/bravo-2023-fall.gpx#1", "clock-week-rollover");
    // 2003-10-08 and 7,168 days (1024 weeks) are 2023-05-24: counted with Python's datetime.
    assert!(rolled["old"].as_str().unwrap().starts_with("2003-10-08"), "{rolled}");
    assert!(rolled["new"].as_str().unwrap().starts_with("2023-05-24"), "{rolled}");
    says(
        home,
        &["exports/alpha-2023.gpx#15", "demo/lake.toml"],
        &["From `36.004173 -56.007782` to `-56.007782 36.004173`"],
    );
}

#[test]
fn records_set_aside_and_dropped_by_an_edit_say_why() {
    let home = demo();
    let home = home.path();
    let told = json(home, "exports/alpha-2023.gpx#14", &[]);
    assert_eq!((told["what"].as_str(), told["code"].as_str()), (Some("set-aside"), Some("position-null")));
    assert!(told["text"].as_str().unwrap().contains("<wpt"));
    assert_eq!(
        shoalwright(home, &["merge", "demo/lake.toml", "-o", "all.geojson", "--quiet"]).status.code(),
        Some(0)
    );
    let log: Value = serde_json::from_slice(&fs::read(home.join("all.geojson")).unwrap()).unwrap();
    let dropped = log["features"][9]["id"].as_str().unwrap();
    fs::write(home.join("demo/edits.csv"), format!("id,action,value\n{dropped},drop,\n")).unwrap();
    says(home, &[dropped, "demo/lake.toml"], &["was set aside", "edits file", "drops `"]);
    assert_eq!(json(home, dropped, &[])["code"], "edit-dropped");
}

#[test]
fn sightings_areas_and_tracks_tell_what_they_are_made_of() {
    let home = demo_with_layers(&["movement"]);
    let home = home.path();
    let sightings = features(home, "sightings.geojson");
    let many = sightings.iter().find(|s| s["properties"]["marks"].as_i64() >= Some(3)).unwrap();
    let told = json(home, many["id"].as_str().unwrap(), &[]);
    assert_eq!(length(&told["marks"]), many["properties"]["marks"].as_u64().unwrap());
    assert_eq!(told["area"], many["properties"]["area"]);
    let alone = sightings.iter().find(|s| s["properties"]["area"].is_null()).unwrap();
    let id = alone["id"].as_str().unwrap();
    says(home, &[id, "demo/lake.toml"], &["no holding area", "`4` make one", "`21` days", "`984 ft`"]);
    // A border point may have fewer; one that is in no area has fewer than make one.
    assert!(json(home, id, &[])["sightings_within_gates"].as_i64().unwrap() < 4);
    let area = &features(home, "areas.geojson")[0];
    let told = json(home, area["id"].as_str().unwrap(), &[]);
    assert_eq!(length(&told["sightings"]), area["properties"]["sightings"].as_u64().unwrap());
    assert!(told["looks"].as_u64().unwrap() >= length(&told["looks_that_found_nothing"]));
    // The first area is the winter's: its place has a season, and says so.
    let season = &told["season"];
    assert!(season["outings"].as_u64() < season["of"].as_u64(), "{season}");
    assert!(season["p"].as_f64() < Some(0.01) && season["mean_vector"].as_f64() > Some(0.7), "{season}");
    says(home, &[area["id"].as_str().unwrap(), "demo/lake.toml"], &["the place has a season"]);
    let track = &features(home, "movement.geojson")[0];
    let id = track["id"].as_str().unwrap();
    let told = json(home, id, &[]);
    for key in ["sightings", "clock", "first_day", "last_day"] {
        assert_eq!(told[key], track["properties"][key], "{key}");
    }
    let days = features(home, "movement-days.geojson");
    let of_track: Vec<&Value> = days.iter().filter(|d| d["id"].as_str().unwrap().starts_with(id)).collect();
    assert_eq!(told["days"].as_array().unwrap().len(), of_track.len());
    says(
        home,
        &[id, "demo/lake.toml"],
        &["The fit: the season is measured by", "Days that a season ran late", "nine of ten"],
    );
    let day = of_track[3];
    let told = json(home, day["id"].as_str().unwrap(), &[]);
    assert_eq!(told["days"].as_array().unwrap().len(), 1);
    assert_eq!(told["days"][0]["day"], day["properties"]["day"]);
}

#[test]
fn a_stop_tells_its_arithmetic() {
    let home = demo();
    let home = home.path();
    let args = ["prefish", "demo/lake.toml", "--date", "2025-10-16", "-o", "own", "--quiet"];
    assert_eq!(shoalwright(home, &args).status.code(), Some(0));
    let stops = features(home, "prefish-stops.geojson");
    for stop in &stops {
        let id = stop["id"].as_str().unwrap();
        let area = json(home, id, &["--date", "2025-10-16"]);
        let told = if area["what"] == "area" { &area["stop"] } else { &area };
        let number = |part: &str, key: &str| told[part][key].as_f64().unwrap();
        // The law of random search (Koopman 1946): present times one less e to the minus coverage.
        let chance = number("present", "chance") * (1.0 - (-number("search", "coverage")).exp());
        assert!((chance - number("search", "chance")).abs() < 2e-3, "{told}");
        assert!(
            (number("search", "swept") / number("search", "place") - number("search", "coverage")).abs()
                < 0.02
        );
        let [seen, out] =
            ["seasons_seen", "seasons_out"].map(|key| told["present"][key].as_array().unwrap().len());
        assert!(0 < seen && seen <= out && number("present", "chance") < 1.0, "{told}");
        let visit = &told["visits"][0];
        assert_eq!(visit["leave_rule"], stop["properties"]["leave_rule"]);
        assert!(
            (visit["chance"].as_f64().unwrap() - stop["properties"]["chance"].as_f64().unwrap()).abs() < 1e-3
        );
    }
    let name = stops[0]["properties"]["name"].as_str().unwrap();
    says(
        home,
        &[name, "demo/lake.toml", "--date", "2025-10-16"],
        &["Holding area `a-", "by the outlook", "Leave rule: nothing in", "Not for navigation."],
    );
}

#[test]
fn without_track_logs_the_chance_of_a_stop_counts_seasons() {
    let home = demo();
    let home = home.path();
    let settings = "[lake]\ntimezone = \"America/Miquelon\"\nshoreline = \"shoreline.geojson\"\n\
        [[input]]\nfiles = [\"marks.gpx\"]\n[prefish]\ndate = 2025-10-16\nstart = \"RAMP OSK\"\n";
    fs::write(home.join("demo/marks.toml"), settings).unwrap();
    // A merged log holds the marks alone.
    let merge = ["merge", "demo/lake.toml", "-o", "demo/marks.gpx", "--quiet"];
    assert_eq!(shoalwright(home, &merge).status.code(), Some(0));
    let args = ["prefish", "demo/marks.toml", "-o", "own", "--quiet"];
    assert_eq!(shoalwright(home, &args).status.code(), Some(0));
    let stops = features(home, "prefish-stops.geojson");
    let name = stops[0]["properties"]["name"].as_str().unwrap();
    says(
        home,
        &[name, "demo/marks.toml"],
        &["+ 0.5) / (", "A season in which nobody looked counts as a miss"],
    );
}

#[test]
fn what_is_not_there_names_the_nearest_and_what_there_is() {
    let home = demo_with_layers(&["schools"]);
    let home = home.path();
    let fails = |id: &str, parts: &[&str]| {
        let (status, stdout, stderr) = explain(home, &[id, "demo/lake.toml"]);
        assert!(status == 2 && stdout.is_empty(), "{id}: {stdout}");
        for part in parts {
            assert!(stderr.contains(part), "{id}: `{part}` is not said: {stderr}");
        }
    };
    let id = features(home, "marks.geojson")[7]["id"].as_str().unwrap().to_owned();
    // One letter wrong: the id itself is the nearest.
    let wrong = format!("{}{}", &id[..12], if id.ends_with('0') { '1' } else { '0' });
    fails(&wrong, &["nothing is called", &format!("`{id}`"), "m-… a mark", "t-… a movement track"]);
    fails("m-", &["is the beginning of `1", "type more of it"]);
    assert_eq!(json(home, "A1", &[])["what"], "area", "the first bait area, in season or not");
    fails("exports/alpha-2023.gpx#9999", &["nothing is called"]);
    fails("q-123", &["nothing is called"]);
    fails("", &["is the beginning of", "type more of it"]);
    let (status, _, stderr) = explain(home, &["t-1", "demo/exports/alpha-2023.gpx"]);
    assert!(status == 2 && stderr.contains("no movement was fitted"), "{stderr}");
    let (status, _, stderr) = explain(home, &[&id, "demo/lake.toml", "-o", "x"]);
    assert!(status == 2 && stderr.contains("no use for --out"), "{stderr}");
}

/// A GPX file of one outing: a track log along a line of latitude, and marks on it.
fn outing(date: &str, lat: f64, marks: usize) -> String {
    let mut gpx =
        String::from("<gpx version=\"1.1\" creator=\"t\" xmlns=\"http://www.topografix.com/GPX/1/1\">");
    for mark in 0..marks {
        let lon = -94.0 + 0.0002 * mark as f64;
        write!(
            gpx,
            "<wpt lat=\"{lat}\" lon=\"{lon}\"><time>{date}T15:0{mark}:00Z</time><name>SHAD 20FT</name></wpt>"
        )
        .unwrap();
    }
    gpx.push_str("<trk><trkseg>");
    // 10 m in 5 s: 4.5 mph, a search.
    for step in 0..60 {
        let lon = -94.003 + 0.00011 * f64::from(step);
        let (minute, second) = (step * 5 / 60, step * 5 % 60);
        write!(
            gpx,
            "<trkpt lat=\"{lat}\" lon=\"{lon}\"><time>{date}T14:5{minute}:{second:02}Z</time></trkpt>"
        )
        .unwrap();
    }
    gpx + "</trkseg></trk></gpx>"
}

#[test]
fn looks_that_found_nothing_are_counted_and_no_others() {
    let home = tempfile::tempdir().unwrap();
    let write = |name: &str, text: &str| fs::write(home.path().join(name), text).unwrap();
    // Five October outings with bait; three that passed and marked nothing; one in June; one two kilometres off.
    for (number, day) in ["03", "06", "09", "12", "15"].iter().enumerate() {
        write(&format!("bait{number}.gpx"), &outing(&format!("2023-10-{day}"), 35.0, 2));
    }
    for day in ["04", "08", "14"] {
        write(&format!("look{day}.gpx"), &outing(&format!("2023-10-{day}"), 35.0, 0));
    }
    write("june.gpx", &outing("2023-06-08", 35.0, 0));
    write("far.gpx", &outing("2023-10-10", 35.02, 0));
    write("lake.toml", "[lake]\ntimezone = \"America/Chicago\"\n[[input]]\nfiles = [\"*.gpx\"]\n");
    let run = shoalwright(home.path(), &["schools", "-o", "own", "--quiet"]);
    assert_eq!(run.status.code(), Some(0), "{}", text(&run.stderr));
    let areas = features(home.path(), "areas.geojson");
    assert_eq!(areas.len(), 1);
    let id = areas[0]["id"].as_str().unwrap();
    let (status, stdout, stderr) = explain(home.path(), &[id, "--json"]);
    assert_eq!(status, 0, "{stderr}");
    let told: Value = serde_json::from_str(&stdout).unwrap();
    let empty: Vec<&str> = told["looks_that_found_nothing"]
        .as_array()
        .unwrap()
        .iter()
        .map(|look| look["outing"].as_str().unwrap())
        .collect();
    assert_eq!(empty, ["2023-10-04", "2023-10-08", "2023-10-14"]);
    assert_eq!(told["looks"], 8);
}
