//! Layers, tables and GPX: what is written, read back by other readers.
//!
//! `fixtures/layers/{us,metric,empty}` holds what the hand-made results below give, laid out as the folder of a run;
//! `BLESS=1 cargo test golden` rewrites it, and `scripts/outside-checks fixtures/layers` has others judge it.

use crate::layers_sample::{Sample, area, at, hostile_marks, mark, sample};
use jiff::Timestamp;
use proptest::prelude::*;
use serde_json::Value;
use shoalwright::layers::boat::boat_areas;
use shoalwright::layers::boat_marks::{boat_marks, left_out};
use shoalwright::layers::{Results, Settings, all, caution, geojson, gpx as merged_gpx, tables};
use shoalwright::movement::Movement;
use shoalwright::terms::finding::{Code, Finding, SetAside};
use shoalwright::terms::instant::Instant;
use shoalwright::terms::mark::{Kind, Mark, SUGGESTION_TAG, Words};
use shoalwright::terms::units::Units;
use std::collections::{BTreeMap, BTreeSet};
use std::io::{self, Write};
use std::path::Path;
use std::{env, fs};

type Written = Vec<(&'static str, Vec<u8>)>;

/// All files of a run's folder that this module writes.
fn written(sample: &Sample) -> Written {
    let r = &sample.results();
    let settings =
        Settings { symbols: [(Kind::Bait, String::from("Circle, blue"))].into(), ..Settings::default() };
    let file = |write: &dyn Fn(&mut Vec<u8>) -> io::Result<()>| {
        let mut out = Vec::new();
        write(&mut out).unwrap();
        out
    };
    vec![
        ("layers/marks.geojson", file(&|out| geojson::write(out, &all::marks(r)))),
        ("layers/sightings.geojson", file(&|out| geojson::write(out, &all::sightings(r)))),
        ("layers/areas.geojson", file(&|out| geojson::write(out, &all::areas(r)))),
        ("layers/area-centres.geojson", file(&|out| geojson::write(out, &all::area_centres(r)))),
        ("layers/movement.geojson", file(&|out| geojson::write(out, &all::movement(r)))),
        ("layers/movement-days.geojson", file(&|out| geojson::write(out, &all::movement_days(r)))),
        ("tables/marks.csv", file(&|out| tables::marks(out, r))),
        ("tables/sightings.csv", file(&|out| tables::sightings(out, r))),
        ("tables/areas.csv", file(&|out| tables::areas(out, r))),
        ("tables/pairing.csv", file(&|out| tables::pairing(out, r))),
        ("tables/movement.csv", file(&|out| tables::movement(out, r))),
        ("tables/season-shifts.csv", file(&|out| tables::season_shifts(out, r))),
        ("tables/findings.csv", file(&|out| tables::findings(out, &sample.findings, &sample.exports))),
        ("set-aside/set-aside.csv", file(&|out| set_aside(out, sample, "<wpt lat=\"95\"/>"))),
        ("boat/areas.gpx", file(&|out| boat_areas(out, r, &settings))),
        ("boat/marks.gpx", file(&|out| boat_marks(out, r, &settings))),
        ("merged.gpx", file(&|out| merged_gpx::merged(out, r))),
    ]
}

/// A run whose files held nothing.
fn empty() -> Sample {
    let none =
        Sample { log: vec![], sightings: vec![], areas: vec![], findings: vec![], ..sample(Units::Us) };
    Sample { movement: Movement::default(), pairing: None, ..none }
}

fn set_aside(out: &mut Vec<u8>, sample: &Sample, record: &str) -> io::Result<()> {
    let origin = at(1, 9);
    let finding = Finding::new(Code::PositionOutOfRange, "latitude is `95`").at(origin, "FAR");
    let one = SetAside::one(origin, finding);
    tables::set_aside(out, [&one], &sample.exports, |_| Ok(record.to_owned()))
}

fn layers(written: &Written) -> impl Iterator<Item = (&'static str, Value)> + '_ {
    written
        .iter()
        .filter(|(path, _)| path.ends_with(".geojson"))
        .map(|(path, bytes)| (*path, serde_json::from_slice(bytes).unwrap()))
}

fn file<'a>(written: &'a Written, path: &str) -> &'a [u8] {
    &written.iter().find(|(p, _)| *p == path).unwrap().1
}

/// Rows of a table by column name.
fn rows(written: &Written, path: &str) -> Vec<BTreeMap<String, String>> {
    csv::Reader::from_reader(file(written, path)).deserialize().map(Result::unwrap).collect()
}

#[test]
fn the_golden_folder_holds_what_is_written() {
    let samples = [("us", sample(Units::Us)), ("metric", sample(Units::Metric)), ("empty", empty())];
    for (folder, sample) in samples {
        let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/layers").join(folder);
        for (path, bytes) in written(&sample) {
            let path = root.join(path);
            if env::var_os("BLESS").is_some() {
                fs::create_dir_all(path.parent().unwrap()).unwrap();
                fs::write(&path, &bytes).unwrap();
            }
            let expected =
                fs::read(&path).unwrap_or_else(|e| panic!("{}: {e}; BLESS=1 writes it", path.display()));
            let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
            assert_eq!(text(&bytes), text(&expected), "{}", path.display());
        }
    }
}

#[test]
fn properties_stand_in_the_order_of_the_contract() {
    // The property table of the project's interface, US units; the styling hints of simplestyle-spec follow it.
    const CONTRACT: [(&str, &str); 6] = [
        (
            "layers/marks.geojson",
            "id kind name note time local_date season season_day fish_depth_ft water_depth_ft water_temp_f \
             level_ft unit sources repairs sighting area",
        ),
        (
            "layers/sightings.geojson",
            "id kind marks outing season season_day fish_depth_ft water_depth_ft water_temp_f area light",
        ),
        (
            "layers/areas.geojson",
            "id kind sightings marks outings seasons first_day last_day peak_day fish_depth_min_ft \
             fish_depth_median_ft fish_depth_max_ft water_depth_median_ft water_temp_min_f water_temp_max_f \
             radius_ft gamefish_near gamefish_lift gamefish_p",
        ),
        ("layers/area-centres.geojson", ""),
        ("layers/movement.geojson", "id kind track sightings seasons first_day last_day clock length_mi"),
        (
            "layers/movement-days.geojson",
            "id kind track day season_day fish_depth_ft fish_depth_low_ft fish_depth_high_ft band_ft \
             sightings_near",
        ),
    ];
    let written = written(&sample(Units::Us));
    for (path, names) in CONTRACT {
        let names = if names.is_empty() { CONTRACT[2].1 } else { names };
        let text = std::str::from_utf8(file(&written, path)).unwrap();
        let features: Vec<&str> =
            text.lines().filter(|line| line.starts_with("{\"type\":\"Feature\",")).collect();
        assert!(!features.is_empty(), "{path}");
        for feature in features {
            // `serde_json` sorts keys, so the order is read off the text.
            let properties = feature.split_once("\"properties\":").unwrap().1;
            let mut from = 0;
            for name in names.split_whitespace() {
                let key = format!("\"{name}\":");
                from += properties[from..]
                    .find(&key)
                    .unwrap_or_else(|| panic!("{path}: `{name}` in {properties}"));
            }
            let parsed: Value = serde_json::from_str(feature.trim_end_matches(',')).unwrap();
            let hints = ["marker-", "stroke", "fill"];
            let told: BTreeSet<&str> = parsed["properties"]
                .as_object()
                .unwrap()
                .keys()
                .map(String::as_str)
                .filter(|key| !hints.iter().any(|hint| key.starts_with(hint) && !key.contains("fill_")))
                .collect();
            assert_eq!(told, names.split_whitespace().collect(), "{path}");
        }
    }
    let metric = crate::layers::written(&sample(Units::Metric));
    let marks = std::str::from_utf8(file(&metric, "layers/marks.geojson")).unwrap();
    assert!(marks.contains("\"fish_depth_m\":8.23,") && marks.contains("\"water_temp_c\":21.7,"), "{marks}");
    assert!(!marks.contains("_ft\"") && !marks.contains("_f\""), "{marks}");
}

#[test]
fn crate_geojson_reads_every_layer_and_the_bbox_is_that_of_the_data() {
    for (path, bytes) in written(&sample(Units::Us)) {
        if !path.ends_with(".geojson") {
            continue;
        }
        let text = std::str::from_utf8(&bytes).unwrap();
        let collection: ::geojson::FeatureCollection =
            text.parse::<::geojson::GeoJson>().unwrap().try_into().unwrap();
        let mut bounds = [f64::MAX, f64::MAX, f64::MIN, f64::MIN];
        for feature in &collection.features {
            assert!(feature.id.is_some(), "{path}");
            let geometry = feature.geometry.as_ref().unwrap();
            let parsed: geo::Geometry<f64> = geometry.value.clone().try_into().unwrap();
            for c in geo::CoordsIter::coords_iter(&parsed) {
                bounds = [bounds[0].min(c.x), bounds[1].min(c.y), bounds[2].max(c.x), bounds[3].max(c.y)];
            }
        }
        assert_eq!(collection.bbox.as_deref(), Some(&bounds[..]), "{path}");
        let foreign = collection.foreign_members.unwrap();
        assert_eq!(foreign["caution"], caution::FULL, "{path}");
        assert_eq!(foreign["units"]["depth"], "ft", "{path}");
        assert!(foreign["generator"].as_str().unwrap().starts_with("shoalwright "), "{path}");
    }
}

#[test]
fn a_mark_is_linked_to_its_sighting_and_an_undated_one_to_the_area_it_lies_in() {
    let sample = sample(Units::Us);
    let written = written(&sample);
    let rows = rows(&written, "tables/marks.csv");
    let bait_area = sample.areas[0].id.to_string();
    let link = |row: usize| (rows[row]["sighting"].as_str(), rows[row]["area"].as_str());
    assert_eq!(link(0), (sample.sightings[0].id.to_string().as_str(), bait_area.as_str()));
    assert_eq!(link(3), ("", bait_area.as_str()), "undated bait in the hull of a bait area");
    assert_eq!(link(4), ("", ""), "undated cover in the same place");
    assert_eq!(link(5), ("", ""), "a hazard far off, of which only the date is known");
}

#[test]
fn tables_tell_what_the_layers_tell() {
    let written = written(&sample(Units::Us));
    for (table, layer) in [
        ("tables/marks.csv", "layers/marks.geojson"),
        ("tables/sightings.csv", "layers/sightings.geojson"),
        ("tables/areas.csv", "layers/area-centres.geojson"),
        ("tables/movement.csv", "layers/movement-days.geojson"),
    ] {
        let layer: Value = serde_json::from_slice(file(&written, layer)).unwrap();
        let (features, rows) = (layer["features"].as_array().unwrap(), rows(&written, table));
        assert_eq!(rows.len(), features.len(), "{table}");
        for (row, feature) in rows.iter().zip(features) {
            for (axis, at) in [("lon", 0), ("lat", 1)] {
                let number: f64 = row[axis].parse().unwrap();
                assert_eq!(Some(number), feature["geometry"]["coordinates"][at].as_f64(), "{table}");
            }
            for (name, cell) in row.iter().filter(|(name, _)| !["lon", "lat", "wkt"].contains(&name.as_str()))
            {
                let text = |value: &Value| match value {
                    Value::Null => String::new(),
                    Value::String(text) => text.clone(),
                    other => other.to_string(),
                };
                let told = match &feature["properties"][name] {
                    Value::Array(parts) => parts.iter().map(text).collect::<Vec<_>>().join("; "),
                    value => text(value),
                };
                assert_eq!(cell.strip_prefix('\'').unwrap_or(cell), in_csv(&told), "{table}: {name}");
            }
        }
    }
}

#[test]
fn tables_carry_the_geometry_as_well_known_text() {
    let written = written(&sample(Units::Us));
    let areas = &rows(&written, "tables/areas.csv")[0];
    // As in `areas.geojson`; OGC 06-103r4, 7.2: the ring closes, pairs are parted by commas.
    let ring = "-56.0 36.0, -55.996 36.0, -55.996 36.003, -56.0 36.003, -56.0 36.0";
    assert_eq!(areas["wkt"], format!("POLYGON (({ring}))"));
    assert_eq!((areas["lon"].as_str(), areas["lat"].as_str()), ("-55.998", "36.0015"), "the centre");
    for table in ["marks", "sightings", "pairing", "movement"] {
        for row in rows(&written, &format!("tables/{table}.csv")) {
            assert_eq!(row["wkt"], format!("POINT ({} {})", row["lon"], row["lat"]), "{table}");
        }
    }
}

#[test]
fn an_empty_run_writes_empty_layers_without_a_bbox() {
    let written = written(&empty());
    for (path, layer) in layers(&written) {
        assert_eq!(layer["features"], Value::Array(vec![]), "{path}");
        assert!(layer.get("bbox").is_none(), "{path}: an empty bbox has no numbers to hold");
    }
    for path in ["boat/areas.gpx", "boat/marks.gpx", "merged.gpx"] {
        assert!(::gpx::read(file(&written, path)).unwrap().waypoints.is_empty(), "{path}");
    }
}

#[test]
fn a_track_that_stays_on_one_place_is_no_line_but_keeps_its_days() {
    let written = written(&sample(Units::Us));
    let all: BTreeMap<_, _> = layers(&written).collect();
    let tracks = |layer: &str| -> BTreeSet<u64> {
        let features = all[layer]["features"].as_array().unwrap();
        features.iter().map(|f| f["properties"]["track"].as_u64().unwrap()).collect()
    };
    assert_eq!(tracks("layers/movement.geojson"), [1].into());
    assert_eq!(tracks("layers/movement-days.geojson"), [1, 2, 3].into());
}

#[test]
fn hostile_names_come_back_as_they_were_from_json_and_gpx_and_harmless_from_csv() {
    let sample =
        Sample { log: hostile_marks(), sightings: vec![], areas: vec![], pairing: None, ..sample(Units::Us) };
    let written = written(&sample);
    let all: BTreeMap<_, _> = layers(&written).collect();
    let gpx = ::gpx::read(file(&written, "merged.gpx")).unwrap();
    let rows = rows(&written, "tables/marks.csv");
    for (number, mark) in sample.log.iter().enumerate() {
        let name = mark.words.name();
        assert_eq!(all["layers/marks.geojson"]["features"][number]["properties"]["name"], name);
        let bare: String = name.chars().filter(|c| !c.is_control()).collect();
        assert_eq!(gpx.waypoints[number].name.as_deref().unwrap(), bare);
        let cell = &rows[number]["name"];
        assert!(!cell.starts_with(['=', '+', '-', '@', '\t', '\r', '\n', '\0']), "{cell}");
        assert_eq!(cell.strip_prefix('\'').unwrap_or(cell), in_csv(name));
    }
}

/// Text as a CSV cell holds it: CSV knows no escape for control characters.
fn in_csv(text: &str) -> String {
    text.chars().filter(|c| !c.is_control() || matches!(c, '\t' | '\n' | '\r')).collect()
}

#[test]
fn the_merged_log_keeps_what_the_records_said_and_meets_the_schemas_longitude() {
    let sample = sample(Units::Us);
    let mut on_the_line = mark("m", 180.0, 36.0, Kind::Bait, None);
    on_the_line.words = Words::new("NAME", "SYM", "TYPE", "CMT", "DESC");
    let log = [on_the_line];
    let mut out = Vec::new();
    merged_gpx::merged(&mut out, &Results::of_log(&sample.lake, &sample.exports, &log)).unwrap();
    let text = String::from_utf8(out).unwrap();
    let wpt = text.lines().find(|line| line.starts_with("<wpt")).unwrap();
    assert_eq!(
        wpt,
        "<wpt lat=\"36\" lon=\"-180\"><name>NAME</name><cmt>CMT</cmt><desc>DESC</desc><src>bow.gpx#1</src>\
         <sym>SYM</sym><type>TYPE</type><extensions><sw:kind>bait</sw:kind></extensions></wpt>"
    );
}

#[test]
fn boat_waypoints_tell_their_counts_and_are_known_as_our_own() {
    let written = written(&sample(Units::Us));
    let gpx = ::gpx::read(file(&written, "boat/areas.gpx")).unwrap();
    let names: Vec<_> = gpx.waypoints.iter().map(|w| w.name.as_deref().unwrap()).collect();
    assert_eq!(names, ["B01 22FT OCT", "G01 DEC"]);
    let metric = crate::layers::written(&sample(Units::Metric));
    let gpx_metric = ::gpx::read(file(&metric, "boat/areas.gpx")).unwrap();
    assert_eq!(gpx_metric.waypoints[0].name.as_deref(), Some("B01 7M OCT"));
    let desc = gpx.waypoints[0].description.as_deref().unwrap();
    assert!(
        desc.contains(SUGGESTION_TAG) && desc.contains("2 sightings on 2 outings in 2023, 2024"),
        "{desc}"
    );
    let cmt = gpx.waypoints[0].comment.as_deref().unwrap();
    assert!(cmt.contains(SUGGESTION_TAG) && cmt.contains("not for navigation"), "{cmt}");
    let symbols: Vec<_> = gpx.waypoints.iter().map(|w| w.symbol.as_deref()).collect();
    assert_eq!(symbols, [Some("Circle, blue"), None], "a symbol only where the settings name one");
    assert_eq!(gpx.metadata.unwrap().description.as_deref(), Some(caution::FULL));
}

#[test]
fn boat_names_stay_unique_and_short_however_many_there_are() {
    for (count, length) in [(1, 4), (99, 4), (3_000, 4), (3_000, 5), (1_200, 12), (300, 64)] {
        let areas =
            (0..count).map(|n| area(&format!("{n}"), if n % 3 == 0 { Kind::Gamefish } else { Kind::Bait }));
        let sample = Sample {
            areas: areas.collect(),
            sightings: vec![],
            log: vec![],
            pairing: None,
            ..sample(Units::Us)
        };
        let settings = Settings { name_length: length, ..Settings::default() };
        let mut out = Vec::new();
        boat_areas(&mut out, &sample.results(), &settings).unwrap();
        let names: BTreeSet<String> =
            ::gpx::read(&out[..]).unwrap().waypoints.into_iter().map(|w| w.name.unwrap()).collect();
        // The 2,000th of bait has four digits: where only three fit, it is 1JK in base 36 (1·36² + 19·36 + 20).
        let one_of_them = match (count, length) {
            (3_000, 4) => "B1JK",
            (3_000, 5) => "B2000",
            (300, 64) => "B200 DEC",
            _ => "G01",
        };
        let found = names.iter().find(|name| name.starts_with(one_of_them));
        assert!(found.is_some(), "no {one_of_them} among {count} areas in {length} characters");
        assert_eq!(names.len(), count, "{count} areas in {length} characters");
        let wrong = names.iter().find(|name| !name.is_ascii() || name.len() > length);
        assert_eq!(wrong, None, "{count} areas in {length} characters");
    }
}

/// Names of the boat's marks for a log with these names, and the waypoints themselves.
fn boat_names(names: &[&str], settings: &Settings) -> (Vec<String>, ::gpx::Gpx) {
    let log: Vec<Mark> = (0..)
        .zip(names)
        .map(|(day, name)| {
            let kind = if name.starts_with("ROCK") { Kind::Hazard } else { Kind::Bait };
            mark(name, -56.0 + day as f64 * 0.01, 36.0, kind, Some(day))
        })
        .collect();
    let sample = Sample { log, sightings: vec![], areas: vec![], pairing: None, ..sample(Units::Us) };
    let mut out = Vec::new();
    boat_marks(&mut out, &sample.results(), settings).unwrap();
    let gpx = ::gpx::read(&out[..]).unwrap();
    (gpx.waypoints.iter().map(|w| w.name.clone().unwrap()).collect(), gpx)
}

#[test]
fn marks_for_the_boat_have_short_unique_names_and_only_the_users_symbols() {
    let settings = Settings {
        name_length: 8,
        symbols: [(Kind::Hazard, String::from("Cross"))].into(),
        ..Settings::default()
    };
    let told = ["SHAD POINT EAST", "SHAD POINT WEST", "shad poi", "Größe 3", "鱼", "鱼鱼", "ROCK"];
    let (names, gpx) = boat_names(&told, &settings);
    assert_eq!(names, ["SHAD POI", "SHAD P 2", "shad p 3", "Grosse 3", "BAIT", "BAIT 2", "ROCK"]);
    let symbols: Vec<_> = gpx.waypoints.iter().map(|w| w.symbol.as_deref()).collect();
    assert_eq!(symbols, [None, None, None, None, None, None, Some("Cross")]);
    assert_eq!(gpx.waypoints[0].description.as_deref(), Some("SHAD POINT EAST"), "the whole name");
    assert_eq!(gpx.waypoints[6].description, None, "a name that fits is not told twice");
}

#[test]
fn the_limit_of_marks_keeps_hazards_then_the_newest_and_tells_what_is_left_out() {
    let settings = Settings { most_marks: Some(3), ..Settings::default() };
    let (names, _) = boat_names(&["ROCK", "old", "older", "new", "newest"], &settings);
    assert_eq!(names, ["ROCK", "new", "newest"]);
    let finding = left_out(5, 4, &settings).unwrap();
    assert_eq!(finding.code, Code::BoatMarksLeftOut);
    assert!(finding.seen.starts_with("`2` marks and `1` holding areas"), "{}", finding.seen);
    assert_eq!(left_out(3, 3, &settings), None);
    assert_eq!(left_out(9, 9, &Settings::default()), None);

    let mut areas: Vec<_> = (0..4).map(|n| area(&format!("{n}"), Kind::Bait)).collect();
    areas[2].sightings = vec![0; 9];
    let sample = Sample { areas, sightings: vec![], log: vec![], pairing: None, ..sample(Units::Us) };
    let mut out = Vec::new();
    boat_areas(&mut out, &sample.results(), &Settings { most_marks: Some(2), ..settings }).unwrap();
    let read = ::gpx::read(&out[..]).unwrap();
    let names: Vec<_> = read.waypoints.iter().map(|w| w.name.as_deref().unwrap()).collect();
    assert_eq!(names, ["B01 DEC", "B03 DEC"], "the one with most sightings, then the first");
}

#[test]
fn no_writer_holds_the_whole_log() {
    /// Length of the longest single write.
    struct Longest(usize);
    impl Write for Longest {
        fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
            self.0 = self.0.max(bytes.len());
            Ok(bytes.len())
        }
        fn flush(&mut self) -> io::Result<()> {
            Ok(())
        }
    }
    let log: Vec<Mark> =
        (0..5_000).map(|n| mark(&format!("{n}"), -56.0, 36.0, Kind::Bait, Some(n))).collect();
    let sample = Sample { log, sightings: vec![], areas: vec![], pairing: None, ..sample(Units::Us) };
    let mut longest = Longest(0);
    geojson::write(&mut longest, &all::marks(&sample.results())).unwrap();
    tables::marks(&mut longest, &sample.results()).unwrap();
    assert!(longest.0 > 0 && longest.0 < 16_384, "{} bytes in one write", longest.0);
    // GPX is written by blocks of about a thousand marks, side by side.
    let (mut longest, mut whole) = (Longest(0), Vec::new());
    merged_gpx::merged(&mut longest, &sample.results()).unwrap();
    merged_gpx::merged(&mut whole, &sample.results()).unwrap();
    assert!(longest.0 > 0 && 4 * longest.0 < whole.len(), "{} of {} bytes", longest.0, whole.len());
}

/// Every number of a JSON value, in order.
fn numbers<'a>(value: &'a Value, into: &mut Vec<&'a serde_json::Number>) {
    match value {
        Value::Number(number) => into.push(number),
        Value::Array(items) => items.iter().for_each(|item| numbers(item, into)),
        Value::Object(members) => members.values().for_each(|member| numbers(member, into)),
        _ => {}
    }
}

prop_compose! {
    fn any_mark()(
        lon in -180.0..=180.0_f64,
        lat in -90.0..=90.0_f64,
        name in any::<String>(),
        cmt in "\\PC{0,12}",
        note in "[=+@'a-z -]{0,6}",
        time in prop::option::of(946_684_800_000..4_102_444_800_000_i64), // 2000 to 2100, milliseconds
        depth in prop::option::of(0.0..500.0_f64),
        kind in prop::sample::select(&Kind::ALL[..]),
    ) -> Mark {
        let mut mark = mark("any", lon, lat, kind, None);
        mark.words = Words::new(&name, "", "", &cmt, "");
        mark.note = note.into();
        mark.time = time.map(Instant::from_unix_ms);
        mark.fish_depth = depth.and_then(shoalwright::terms::units::Depth::from_metres);
        mark
    }
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(64) })]

    #[test]
    fn crate_gpx_reads_the_merged_log_back_as_it_was(log in prop::collection::vec(any_mark(), 1..8)) {
        let sample = sample(Units::Us);
        let mut out = Vec::new();
        merged_gpx::merged(&mut out, &Results::of_log(&sample.lake, &sample.exports, &log)).unwrap();
        let read = ::gpx::read(&out[..]).unwrap();
        prop_assert_eq!(read.waypoints.len(), log.len());
        for (waypoint, mark) in read.waypoints.iter().zip(&log) {
            let turn = (waypoint.point().x() - mark.place.lon).rem_euclid(360.0);
            prop_assert!(turn.min(360.0 - turn) < 1e-7 && (waypoint.point().y() - mark.place.lat).abs() < 1e-7);
            let time = waypoint.time.map(|time| time.format().unwrap().parse::<Timestamp>().unwrap());
            prop_assert_eq!(time.map(Instant::from), mark.time);
            // What XML cannot hold is gone; white space at the ends is the reader's to trim.
            let kept = |text: &str| -> String {
                let text: String = text
                    .chars()
                    .filter(|c| !c.is_control() || matches!(c, '\t' | '\n' | '\r'))
                    .filter(|c| !matches!(c, '\u{FFFE}' | '\u{FFFF}'))
                    .collect();
                text.trim().to_owned()
            };
            prop_assert_eq!(kept(waypoint.name.as_deref().unwrap_or("")), kept(mark.words.name()));
            prop_assert_eq!(kept(waypoint.comment.as_deref().unwrap_or("")), kept(mark.words.cmt()));
        }
    }

    #[test]
    fn every_number_is_finite_and_every_place_has_at_most_seven_decimals(
        log in prop::collection::vec(any_mark(), 1..8),
        lift in prop::sample::select(&[0.5, f64::NAN, f64::INFINITY][..]),
        band_m in prop::sample::select(&[120.0, f64::NAN, f64::INFINITY][..]),
    ) {
        let mut sample = Sample { log, sightings: vec![], pairing: None, ..sample(Units::Us) };
        sample.areas[0].gamefish.as_mut().unwrap().lift = lift;
        sample.movement.tracks[0].days[0].band_m = band_m;
        for (path, layer) in layers(&written(&sample)) {
            let mut found = Vec::new();
            numbers(&layer, &mut found);
            prop_assert!(found.iter().all(|number| number.as_f64().is_some_and(f64::is_finite)), "{}", path);
            let mut places = Vec::new();
            layer["features"].as_array().unwrap().iter().for_each(|f| numbers(&f["geometry"], &mut places));
            numbers(&layer["bbox"], &mut places);
            for number in places {
                let text = number.to_string();
                let decimals = text.split_once('.').map_or(0, |(_, decimals)| decimals.len());
                prop_assert!(decimals <= 7 && !text.contains('e'), "{}", text);
            }
        }
    }

    #[test]
    fn a_small_round_hull_stays_valid_when_its_corners_are_rounded(
        lat in -80.0..80.0_f64,
        radius_m in 10.0..500.0_f64,
        corners in 3..90_u32,
        turn in 0.0..1.0_f64,
    ) {
        // Metres a degree on a sphere of 6,371,008.8 m (mean radius, IUGG).
        let degree_m = 6_371_008.8_f64.to_radians();
        let corner = |n: u32| {
            let angle = std::f64::consts::TAU * (f64::from(n) / f64::from(corners) + turn);
            let (north, east) = (radius_m * angle.sin() / degree_m, radius_m * angle.cos() / degree_m);
            (-56.0 + east / lat.to_radians().cos(), lat + north)
        };
        let mut sample = sample(Units::Us);
        sample.areas.truncate(1);
        sample.areas[0].hull = geo::Polygon::new((0..corners).map(corner).collect(), vec![]);
        let mut out = Vec::new();
        geojson::write(&mut out, &all::areas(&sample.results())).unwrap();
        let text = String::from_utf8(out).unwrap();
        let layer: ::geojson::FeatureCollection = text.parse::<::geojson::GeoJson>().unwrap().try_into().unwrap();
        let hull: geo::Polygon<f64> =
            layer.features[0].geometry.as_ref().unwrap().value.clone().try_into().unwrap();
        prop_assert!(geo::Validation::is_valid(&hull), "{:?}", hull);
    }

    #[test]
    fn a_record_set_aside_comes_back_to_the_byte(record in any::<String>(), head in "[-='+@\t\r\n\u{0}]{0,2}") {
        let record = head + &record;
        let mut out = Vec::new();
        set_aside(&mut out, &sample(Units::Us), &record).unwrap();
        let row: BTreeMap<String, String> =
            csv::Reader::from_reader(&out[..]).deserialize().next().unwrap().unwrap();
        prop_assert!(!row["record"].starts_with(['=', '+', '-', '@', '\t', '\r', '\n', '\0']));
        prop_assert_eq!(tables::record_of_cell(&row["record"]), record);
        prop_assert_eq!(row["line"].as_str(), "90");
    }
}
