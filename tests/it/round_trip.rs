//! What the program writes it reads again, whole: through the built binary.

use crate::cli::{shoalwright, text};
use std::fs;
use std::path::Path;

// In the order of a log, so that `src`, which names records by number, is the same after each round.
const GPX: &str = r#"<?xml version="1.0"?><gpx version="1.1" creator="t" xmlns="http://www.topografix.com/GPX/1/1" xmlns:sw="urn:shoalwright:marks:1">
<wpt lat="35.1234567" lon="-94.0512345"><time>2024-05-01T12:00:00Z</time><name>Shad &amp; "co" 24FT</name><cmt>by the ledge</cmt><desc>=two balls</desc><sym>Fish</sym><type>bait</type><extensions><sw:fish_depth_m>7.315</sw:fish_depth_m><sw:water_depth_m>12.5</sw:water_depth_m><sw:water_temp_c>21.97</sw:water_temp_c><sw:note>seen twice; &lt;big&gt;</sw:note></extensions></wpt>
<wpt lat="35.14" lon="-94.07"><name>=HYPERLINK(1)</name></wpt>
<wpt lat="35.13" lon="-94.06"><name>brush</name><extensions><sw:date>2023-11-30</sw:date></extensions></wpt>
</gpx>"#;

/// Merges one file into another and returns what was written.
fn merge(dir: &Path, from: &str, to: &str) -> String {
    let told = shoalwright(dir, &["merge", from, "-o", to]);
    assert!(told.status.success(), "{}", text(&told.stderr));
    fs::read_to_string(dir.join(to)).unwrap()
}

/// Writes `first` as `in.ENDING`, merges it to `out.ENDING`, and the same again with what was written.
fn twice(ending: &str, first: &str) -> [String; 2] {
    let (from, to) = (format!("in.{ending}"), format!("out.{ending}"));
    let once = |input: &str| {
        let home = tempfile::tempdir().unwrap();
        fs::write(home.path().join(&from), input).unwrap();
        merge(home.path(), &from, &to)
    };
    let one = once(first);
    let two = once(&one);
    [one, two]
}

#[test]
fn a_merged_gpx_merged_again_is_the_same_to_the_byte_and_keeps_every_field() {
    let [one, two] = twice("gpx", GPX);
    assert_eq!(one, two);
    for kept in [
        "<time>2024-05-01T12:00:00Z</time>",
        "<name>Shad &amp; &quot;co&quot; 24FT</name>",
        "<cmt>by the ledge</cmt>",
        "<desc>=two balls</desc>",
        "<sym>Fish</sym>",
        "<type>bait</type>",
        "<sw:kind>bait</sw:kind>",
        "<sw:fish_depth_m>7.315</sw:fish_depth_m>",
        "<sw:water_depth_m>12.5</sw:water_depth_m>",
        "<sw:water_temp_c>21.97</sw:water_temp_c>",
        "<sw:date>2023-11-30</sw:date>",
        "<sw:note>seen twice; &lt;big&gt;</sw:note>",
    ] {
        let plain = one.replace("\"co\"", "&quot;co&quot;");
        assert!(plain.contains(kept), "{kept} in {one}");
    }
}

#[test]
fn names_shortened_for_the_boat_are_whole_again_when_read() {
    let home = tempfile::tempdir().unwrap();
    fs::write(home.path().join("in.gpx"), GPX).unwrap();
    let short = ["--set", "output.for_boat=true", "--set", "output.name_length=6"];
    let args = [&["merge", "in.gpx", "-o", "boat.gpx", "--quiet"][..], &short].concat();
    let told = shoalwright(home.path(), &args);
    assert!(told.status.success(), "{}", text(&told.stderr));
    let boat = fs::read_to_string(home.path().join("boat.gpx")).unwrap();
    assert!(boat.contains("<name>Shad &amp;</name>") && boat.contains("<name>brush</name>"), "{boat}");
    assert!(!boat.contains("<sym>"), "the settings give no symbol: {boat}");
    let whole = merge(home.path(), "boat.gpx", "whole.gpx");
    assert!(whole.contains("<name>Shad &amp; &quot;co&quot; 24FT</name>"), "{whole}");
    assert!(whole.contains("<name>=HYPERLINK(1)</name>"), "{whole}");
}

#[test]
fn a_merged_table_merged_again_is_the_same_to_the_byte() {
    let home = tempfile::tempdir().unwrap();
    fs::write(home.path().join("in.gpx"), GPX).unwrap();
    let table = merge(home.path(), "in.gpx", "out.csv");
    assert!(table.contains("'=HYPERLINK(1)"), "{table}");
    let [one, two] = twice("csv", &table);
    assert_eq!(one, two);
    // But for the records that it names, the first table says the same.
    let nameless = |table: &str| table.replace("in.gpx#", "in.csv#");
    let columns = |table: &str| -> Vec<String> {
        let mut reader = csv::Reader::from_reader(table.as_bytes());
        let skip: Vec<bool> =
            reader.headers().unwrap().iter().map(|h| ["sources", "repairs"].contains(&h)).collect();
        let row = |row: csv::StringRecord| {
            row.iter()
                .zip(&skip)
                .filter(|(_, skip)| !**skip)
                .map(|(cell, _)| cell)
                .collect::<Vec<_>>()
                .join("|")
        };
        reader.records().map(|r| row(r.unwrap())).collect()
    };
    assert_eq!(columns(&nameless(&one)), columns(&table));
}

#[test]
fn records_set_aside_and_mended_complete_the_log() {
    let home = tempfile::tempdir().unwrap();
    let dir = home.path();
    let broken = GPX.replace("lat=\"35.13\"", "lat=\"\"");
    fs::write(dir.join("bow.gpx"), &broken).unwrap();
    let rows = "Name,Latitude,Longitude,Time\n-stump,35.15,-94.08,2024-05-02T12:00:00Z\n=bar,,-94.09,2024-05-03T12:00:00Z\n";
    fs::write(dir.join("old.csv"), rows).unwrap();
    let settings =
        "[lake]\nname = \"x\"\ntimezone = \"America/Chicago\"\n[[input]]\nfiles = [\"*.gpx\", \"*.csv\"]\n";
    fs::write(dir.join("lake.toml"), settings).unwrap();
    let told = shoalwright(dir, &["run"]);
    assert!(told.status.success(), "{}", text(&told.stderr));
    let aside = fs::read_to_string(dir.join("out/set-aside/set-aside.csv")).unwrap();
    // The header and two records; the user writes the missing latitudes.
    let mended = aside.replace("lat=\"\"\"\"", "lat=\"\"35.13\"\"").replace("=bar,,", "=bar,35.16,");
    assert_ne!(mended, aside);
    fs::write(dir.join("mended.csv"), mended).unwrap();
    let told = shoalwright(dir, &["merge", "bow.gpx", "old.csv", "mended.csv", "-o", "all.gpx"]);
    let all = fs::read_to_string(dir.join("all.gpx")).unwrap();
    assert_eq!(all.matches("<wpt ").count(), 5, "{all}\n{}", text(&told.stderr));
    assert!(
        all.contains("<wpt lat=\"35.16\" lon=\"-94.09\"><time>2024-05-03T12:00:00Z</time><name>=bar</name>"),
        "{all}"
    );
    assert!(all.contains("lat=\"35.13\"") && all.contains("<sw:date>2023-11-30</sw:date>"), "{all}");
}
