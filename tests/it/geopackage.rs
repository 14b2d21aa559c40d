//! The GeoPackage: read back with `SQLite`, against the GeoJSON layers and the requirements of OGC 12-128r18.
//!
//! Numbers of requirements are those of version 1.3 of the standard. `scripts/outside-checks` has GDAL and its validator
//! judge the same file.

#![expect(clippy::panic, reason = "a helper of tests that meets what it does not know says so by panicking")]

use crate::layers_sample::{Sample, hostile_marks, mark, sample};
use rusqlite::functions::FunctionFlags;
use rusqlite::types::ValueRef;
use rusqlite::{Connection, Row};
use serde_json::{Value, json};
use shoalwright::layers::{Layer, Results, all, geojson, geopackage};
use shoalwright::movement::Movement;
use shoalwright::terms::mark::Kind;
use shoalwright::terms::units::Units;
use std::fs;

fn layers<'a>(r: &'a Results<'a>) -> Vec<Layer<'a>> {
    vec![
        all::marks(r),
        all::sightings(r),
        all::areas(r),
        all::area_centres(r),
        all::movement(r),
        all::movement_days(r),
        all::effort(r),
        all::outlook(r),
        all::prefish_stops(r),
        all::prefish_legs(r),
    ]
}

fn geopackage(layers: &[Layer<'_>]) -> Connection {
    let database = Connection::open_in_memory().unwrap();
    geopackage::write(&database, layers).unwrap();
    database
}

fn features(layer: &Layer<'_>) -> Vec<Value> {
    let mut out = Vec::new();
    geojson::write(&mut out, layer).unwrap();
    let layer: Value = serde_json::from_slice(&out).unwrap();
    layer["features"].as_array().unwrap().clone()
}

fn one<T: rusqlite::types::FromSql>(database: &Connection, sql: &str) -> T {
    database.query_row(sql, [], |row| row.get(0)).unwrap_or_else(|e| panic!("{sql}: {e}"))
}

/// A geometry of the standard's binary form as GeoJSON, and its envelope.
fn geometry(blob: &[u8]) -> (Value, Option<[f64; 4]>) {
    assert_eq!(&blob[..3], b"GP\0", "magic and version (requirement 19)");
    assert_eq!(&blob[4..8], 4326_i32.to_le_bytes());
    let number = |at: usize| f64::from_le_bytes(blob[at..at + 8].try_into().unwrap());
    let count = |at: usize| u32::from_le_bytes(blob[at..at + 4].try_into().unwrap()) as usize;
    let (envelope, body) = match blob[3] {
        0b01 => (None, 8),
        0b11 => (Some([8, 24, 16, 32].map(number)), 40), // minx, maxx, miny, maxy in the file
        flags => panic!("flags {flags:b}"),
    };
    assert_eq!(blob[body], 1, "little-endian");
    let positions = |at: &mut usize, many: usize| -> Value {
        let list = (0..many)
            .map(|_| {
                *at += 16;
                json!([number(*at - 16), number(*at - 8)])
            })
            .collect();
        Value::Array(list)
    };
    let counted = |at: &mut usize| {
        *at += 4;
        count(*at - 4)
    };
    let mut at = body + 5;
    let told = match count(body + 1) {
        1 => json!({"type": "Point", "coordinates": positions(&mut at, 1)[0]}),
        2 => {
            let many = counted(&mut at);
            json!({"type": "LineString", "coordinates": positions(&mut at, many)})
        }
        3 => {
            let rings: Vec<Value> = (0..counted(&mut at))
                .map(|_| {
                    let many = counted(&mut at);
                    positions(&mut at, many)
                })
                .collect();
            json!({"type": "Polygon", "coordinates": rings})
        }
        other => panic!("geometry {other}"),
    };
    assert_eq!(at, blob.len(), "nothing follows the geometry");
    (told, envelope)
}

/// West, south, east, north of a GeoJSON geometry.
fn bounds(value: &Value) -> [f64; 4] {
    match value["coordinates"].as_array().map_or(value, |_| &value["coordinates"]) {
        Value::Array(parts) if parts.iter().all(Value::is_number) => {
            let [lon, lat] = [0, 1].map(|n| parts[n].as_f64().unwrap());
            [lon, lat, lon, lat]
        }
        Value::Array(parts) => parts
            .iter()
            .map(bounds)
            .reduce(|a, b| [a[0].min(b[0]), a[1].min(b[1]), a[2].max(b[2]), a[3].max(b[3])])
            .unwrap(),
        other => panic!("{other}"),
    }
}

/// The value that a column should hold for a property of GeoJSON: lists as text, times in UTC.
fn expected(column_type: &str, value: &Value) -> Value {
    match (column_type, value) {
        ("DATETIME", Value::String(text)) => {
            let time: jiff::Timestamp = text.parse().unwrap();
            Value::String(format!("{}.{:03}Z", time.strftime("%Y-%m-%dT%H:%M:%S"), time.subsec_millisecond()))
        }
        (_, Value::Array(_)) => Value::String(value.to_string()),
        ("REAL", Value::Number(number)) => json!(number.as_f64().unwrap()),
        _ => value.clone(),
    }
}

fn stored(row: &Row<'_>, name: &str) -> Value {
    match row.get_ref(name).unwrap() {
        ValueRef::Null => Value::Null,
        ValueRef::Integer(number) => json!(number),
        ValueRef::Real(number) => json!(number),
        ValueRef::Text(text) => json!(std::str::from_utf8(text).unwrap()),
        ValueRef::Blob(_) => panic!("{name} is a blob"),
    }
}

/// Each row of a table against the feature of the GeoJSON layer.
fn check_rows(database: &Connection, layer: &Layer<'_>) {
    let mut columns = database.prepare("SELECT name, type FROM pragma_table_info(?)").unwrap();
    let types: Vec<(String, String)> = columns
        .query_map([layer.name], |row| Ok((row.get(0)?, row.get(1)?)))
        .unwrap()
        .map(Result::unwrap)
        .collect();
    let mut select = database.prepare(&format!("SELECT * FROM \"{}\" ORDER BY fid", layer.name)).unwrap();
    let mut rows = select.query([]).unwrap();
    let features = features(layer);
    for (number, feature) in (1_i64..).zip(&features) {
        let row = rows.next().unwrap().unwrap();
        assert_eq!(row.get::<_, i64>("fid").unwrap(), number);
        let (shape, envelope) = geometry(row.get_ref("geom").unwrap().as_blob().unwrap());
        assert_eq!(shape, feature["geometry"], "{}", layer.name);
        assert!(
            envelope.is_none_or(|envelope| envelope.map(f64::to_bits) == bounds(&shape).map(f64::to_bits)),
            "{}",
            layer.name
        );
        let properties = feature["properties"].as_object().unwrap();
        let hint = |key: &&String| ["marker-", "stroke", "fill"].iter().any(|hint| key.starts_with(hint));
        assert_eq!(properties.keys().filter(|key| !hint(key)).count(), types.len() - 2, "{}", layer.name);
        for (name, column_type) in &types[2..] {
            let told = stored(row, name);
            assert_eq!(told, expected(column_type, &properties[name]), "{}.{name}", layer.name);
            let fits = match column_type.as_str() {
                "INTEGER" => told.is_i64(),
                "REAL" => told.is_f64(),
                "TEXT" | "DATE" | "DATETIME" => told.is_string(),
                _ => false,
            };
            assert!(told.is_null() || fits, "{}.{name} {column_type} holds {told}", layer.name);
        }
    }
    assert!(rows.next().unwrap().is_none(), "{}: more rows than features", layer.name);
    let kind: String = one(
        database,
        &format!("SELECT geometry_type_name FROM gpkg_geometry_columns WHERE table_name = '{}'", layer.name),
    );
    assert!(features.iter().all(|f| f["geometry"]["type"].as_str().unwrap().eq_ignore_ascii_case(&kind)));
}

fn empty() -> Sample {
    let none = Sample { log: vec![], sightings: vec![], areas: vec![], ..sample(Units::Us) };
    Sample { movement: Movement::default(), pairing: None, ..none }
}

#[test]
fn every_layer_holds_what_its_geojson_holds() {
    for sample in [sample(Units::Us), sample(Units::Metric), empty()] {
        let results = sample.results();
        let layers = layers(&results);
        let database = geopackage(&layers);
        for layer in &layers {
            check_rows(&database, layer);
        }
    }
}

#[test]
fn the_file_says_what_it_is_and_sqlite_finds_nothing_wrong() {
    let sample = sample(Units::Us);
    let results = sample.results();
    let database = geopackage(&layers(&results));
    // Requirement 2: `GPKG` in ASCII, and the version as 1 03 00.
    assert_eq!(one::<i64>(&database, "PRAGMA application_id"), 0x4750_4B47);
    assert_eq!(one::<i64>(&database, "PRAGMA user_version"), 10_300);
    assert_eq!(one::<String>(&database, "PRAGMA integrity_check"), "ok"); // requirement 6
    assert_eq!(one::<i64>(&database, "SELECT count(*) FROM pragma_foreign_key_check"), 0); // requirement 7
    let srs = "SELECT group_concat(srs_id) FROM (SELECT srs_id FROM gpkg_spatial_ref_sys ORDER BY srs_id)";
    assert_eq!(one::<String>(&database, srs), "-1,0,4326"); // requirement 11
    let layers = "SELECT count(*) FROM gpkg_contents JOIN gpkg_geometry_columns USING (table_name, srs_id) \
                  WHERE data_type = 'features' AND description LIKE '%Not for navigation%'";
    assert_eq!(one::<i64>(&database, layers), 10);
    assert!(one::<String>(&database, "SELECT metadata FROM gpkg_metadata").contains("Not for navigation"));
    assert!(
        one::<String>(&database, "SELECT metadata FROM gpkg_metadata")
            .contains("<dc:title>Hand-made &lt;Lake&gt; &amp; Sons<")
    );
}

#[test]
fn every_property_has_a_title_with_its_unit_and_a_meaning() {
    for (units, depth) in [(Units::Us, "Fish depth (ft)"), (Units::Metric, "Fish depth (m)")] {
        let sample = sample(units);
        let results = sample.results();
        let layers = layers(&results);
        let database = geopackage(&layers);
        let title = "SELECT title FROM gpkg_data_columns WHERE table_name = 'marks' AND column_name LIKE 'fish_depth_%'";
        assert_eq!(one::<String>(&database, title), depth);
        // A property that the table of fields does not list has its bare name for a title.
        let bare = "SELECT group_concat(table_name || '.' || column_name) FROM gpkg_data_columns \
                    WHERE title GLOB '[a-z]*' OR title LIKE '%\\_%' ESCAPE '\\'";
        assert_eq!(one::<Option<String>>(&database, bare), None);
        for layer in &layers {
            let told = format!("SELECT count(*) FROM gpkg_data_columns WHERE table_name = '{}'", layer.name);
            let there = format!("SELECT count(*) - 3 FROM pragma_table_info('{}')", layer.name);
            assert_eq!(one::<i64>(&database, &told), one::<i64>(&database, &there), "{}", layer.name);
        }
        let lists = "SELECT count(*) FROM gpkg_data_columns WHERE mime_type = 'application/json'";
        assert_eq!(
            one::<i64>(&database, lists),
            5,
            "sources, repairs, and seasons of areas, centres, movement"
        );
    }
}

/// Rows of a table's R-tree that are those of its features: as many, the same numbers, each box around its geometry
/// by no more than what 32-bit numbers round away.
fn check_index(database: &Connection, table: &str) -> i64 {
    let count = |of: &str| one::<i64>(database, &format!("SELECT count(*) FROM {of}"));
    let (features, boxes) = (format!("\"{table}\""), format!("\"rtree_{table}_geom\""));
    assert_eq!(count(&features), count(&boxes), "{table}");
    assert_eq!(one::<String>(database, &format!("SELECT rtreecheck('rtree_{table}_geom')")), "ok");
    let mut both = database
        .prepare(&format!(
            "SELECT geom, minx, miny, maxx, maxy FROM {features} JOIN {boxes} AS box ON box.id = fid"
        ))
        .unwrap_or_else(|_| panic!("{table}"));
    let mut rows = both.query([]).unwrap();
    let mut seen = 0;
    while let Some(row) = rows.next().unwrap() {
        let told = bounds(&geometry(row.get_ref(0).unwrap().as_blob().unwrap()).0);
        let indexed: [f64; 4] = [1, 2, 3, 4].map(|n| row.get(n).unwrap());
        for (n, (told, indexed)) in told.into_iter().zip(indexed).enumerate() {
            assert!(if n < 2 { indexed <= told } else { indexed >= told }, "{table}: {indexed} for {told}");
            assert!(
                (indexed - told).abs() <= told.abs() * f64::from(f32::EPSILON),
                "{table}: {indexed} for {told}"
            );
        }
        seen += 1;
    }
    assert_eq!(seen, count(&features), "{table}");
    seen
}

/// The functions that the standard's triggers want a viewer to bring (annex F.3).
fn bring_functions(database: &Connection) {
    let flags = FunctionFlags::SQLITE_UTF8 | FunctionFlags::SQLITE_DETERMINISTIC;
    for (name, side) in [("ST_MinX", 0), ("ST_MinY", 1), ("ST_MaxX", 2), ("ST_MaxY", 3)] {
        database
            .create_scalar_function(name, 1, flags, move |args| {
                Ok(bounds(&geometry(args.get_raw(0).as_blob().unwrap()).0)[side])
            })
            .unwrap();
    }
    database.create_scalar_function("ST_IsEmpty", 1, flags, |_| Ok(false)).unwrap();
}

#[test]
fn the_index_holds_every_feature_and_follows_what_a_viewer_changes() {
    let sample = sample(Units::Us);
    let results = sample.results();
    let database = geopackage(&layers(&results));
    for (table, expected) in [
        ("marks", 18),
        ("sightings", 4),
        ("areas", 2),
        ("area-centres", 2),
        ("movement", 1),
        ("movement-days", 7),
        ("effort", 0),
        ("prefish-legs", 0),
    ] {
        assert_eq!(check_index(&database, table), expected, "{table}");
    }
    bring_functions(&database);
    let count =
        |id: i64| one::<i64>(&database, &format!("SELECT count(*) FROM rtree_areas_geom WHERE id = {id}"));
    let run = |sql: &str| {
        database.execute_batch(sql).unwrap();
        check_index(&database, "areas")
    };
    assert_eq!(run("INSERT INTO areas (fid, geom, id) SELECT 9, geom, 'x' FROM areas WHERE fid = 1"), 3);
    let far = "UPDATE areas SET geom = (SELECT geom FROM movement WHERE fid = 1) WHERE fid = 9";
    assert_eq!(run(far), 3);
    let west = one::<f64>(&database, "SELECT minx FROM rtree_areas_geom WHERE id = 9");
    assert!((west + 56.02).abs() < 1e-4, "the index moved with the geometry: {west}");
    assert_eq!(run("UPDATE areas SET fid = 12 WHERE fid = 9"), 3);
    assert_eq!((count(9), count(12)), (0, 1));
    assert_eq!(run("DELETE FROM areas WHERE fid = 12"), 2);
    // A geometry taken away leaves the index, and comes back into it with the geometry; then the number moves while it is gone.
    database.execute_batch("UPDATE areas SET geom = NULL WHERE fid = 2").unwrap();
    assert_eq!((count(1), count(2)), (1, 0));
    assert_eq!(run("UPDATE areas SET geom = (SELECT geom FROM areas WHERE fid = 1) WHERE fid = 2"), 2);
    database.execute_batch("UPDATE areas SET geom = NULL, fid = 5 WHERE fid = 2").unwrap();
    assert_eq!((count(2), count(5)), (0, 0));
}

#[test]
fn names_from_files_are_values_and_never_sql() {
    let mut log = hostile_marks();
    log.push(mark("'); DROP TABLE marks; --", -56.0, 36.0, Kind::Bait, Some(1)));
    let sample = Sample { log, sightings: vec![], areas: vec![], pairing: None, ..sample(Units::Us) };
    let results = sample.results();
    let layers = layers(&results);
    check_rows(&geopackage(&layers), &layers[0]);
}

#[test]
fn the_same_layers_give_the_same_bytes_and_no_clock_is_in_them() {
    let sample = sample(Units::Us);
    let results = sample.results();
    let home = tempfile::tempdir().unwrap();
    let bytes = |name: &str| {
        let path = home.path().join(name);
        let database = Connection::open(&path).unwrap();
        geopackage::write(&database, &layers(&results)).unwrap();
        database.close().unwrap();
        fs::read(path).unwrap()
    };
    assert!(bytes("a.gpkg") == bytes("b.gpkg"));
    assert_eq!(fs::read_dir(home.path()).unwrap().count(), 2, "no journal is left beside them");
    // The newest mark with a time of the sample is of 20 days after 2023-10-01T12:00Z; another has only its date.
    let database = geopackage(&layers(&results));
    let changes = "SELECT group_concat(DISTINCT last_change) FROM gpkg_contents";
    assert_eq!(one::<String>(&database, changes), "2023-10-21T12:00:00.000Z");
    let empty = empty();
    let nothing = empty.results();
    assert_eq!(one::<String>(&geopackage(&layers(&nothing)), changes), "1970-01-01T00:00:00.000Z");
}

#[test]
fn a_database_that_holds_something_already_is_refused() {
    let sample = sample(Units::Us);
    let results = sample.results();
    let database = geopackage(&layers(&results));
    assert!(geopackage::write(&database, &layers(&results)).is_err());
}
