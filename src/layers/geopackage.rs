//! All layers in one OGC GeoPackage 1.3 (OGC 12-128r18), with the extensions R-tree, schema and metadata.
//!
//! A table a layer, named as its file: `fid`, `geom`, then the properties by their names in GeoJSON. Times are UTC, lists
//! are JSON text, what is absent is NULL; styling hints are left out, because the standard knows no styles. The table
//! `layer_styles` that one viewer reads is no part of it either and holds that viewer's own format, so none is written.
//! Titles with units, one sentence a property and the list of kinds stand in `gpkg_data_columns`, the caution in
//! the description of each layer and in the metadata.
//!
//! The same layers give the same bytes: rows go in by order, in one transaction, and `last_change` is the time of the
//! newest mark of the log rather than the clock's.

use crate::layers::cell::{Cell, rounded};
use crate::layers::fields::{Field, Holds, fields};
use crate::layers::layer::Layer;
use crate::layers::shape::Shape;
use crate::layers::xml::write_escaped;
use crate::layers::{GENERATOR, Results, caution};
use crate::terms::instant::Instant;
use crate::terms::mark::Kind;
use rusqlite::types::{Null, ToSql, ToSqlOutput, Value, ValueRef};
use rusqlite::{Connection, params, params_from_iter};
use std::io;

mod tables;

/// WGS 84 in the EPSG list, which the tables of the standard refer to.
const WGS_84: i32 = 4326;

/// Writes the layers into a database without tables. Holds one feature at a time and 16 MB of pages.
///
/// # Errors
/// When the database cannot be written or holds tables already.
pub fn write(database: &Connection, layers: &[Layer<'_>]) -> io::Result<()> {
    // The file is built beside its place and thrown away where something fails, so no journal is needed.
    database
        .execute_batch(
            "PRAGMA page_size = 4096; PRAGMA journal_mode = OFF; PRAGMA synchronous = OFF; \
             PRAGMA cache_size = -16384; PRAGMA foreign_keys = ON; BEGIN",
        )
        .and_then(|()| database.execute_batch(tables::HEAD))
        .and_then(|()| insert_srs(database))
        .map_err(io::Error::other)?;
    let change = last_change(layers);
    if let Some(layer) = layers.first() {
        insert_metadata(database, layer.results, &change).map_err(io::Error::other)?;
    }
    for layer in layers {
        write_layer(database, layer, &change)?;
    }
    database.execute_batch("COMMIT").map_err(io::Error::other)
}

/// The time of the newest mark in the form of the standard; 1970 where no mark has a time.
fn last_change(layers: &[Layer<'_>]) -> String {
    let newest = layers.first().and_then(|layer| layer.results.log.iter().filter_map(|mark| mark.time).max());
    let newest = newest.map_or_else(|| String::from("1970-01-01T00:00:00Z"), Instant::rfc3339);
    moment(&newest).unwrap_or(newest)
}

/// A time of RFC 3339 as the standard wants a DATETIME: UTC with three decimals.
fn moment(text: &str) -> Option<String> {
    let time: jiff::Timestamp = text.parse().ok()?;
    Some(time.strftime("%Y-%m-%dT%H:%M:%S.%3fZ").to_string())
}

fn insert_srs(database: &Connection) -> rusqlite::Result<()> {
    let mut insert = database.prepare("INSERT INTO gpkg_spatial_ref_sys VALUES (?, ?, ?, ?, ?, ?)")?;
    for (name, id, organization, definition, about) in [
        (
            "Undefined Cartesian SRS",
            -1,
            "NONE",
            "undefined",
            "undefined Cartesian coordinate reference system",
        ),
        (
            "Undefined geographic SRS",
            0,
            "NONE",
            "undefined",
            "undefined geographic coordinate reference system",
        ),
        (
            "WGS 84 geodetic",
            WGS_84,
            "EPSG",
            tables::WGS_84_WKT,
            "longitude and latitude in degrees on WGS 84",
        ),
    ] {
        insert.execute(params![name, id, organization, id, definition, about])?;
    }
    Ok(())
}

/// What the file is and the caution, in the terms of Dublin Core.
fn insert_metadata(database: &Connection, results: &Results<'_>, change: &str) -> rusqlite::Result<()> {
    let mut xml = Vec::from(
        &b"<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<metadata xmlns:dc=\"http://purl.org/dc/elements/1.1/\">"[..],
    );
    for (name, text) in
        [("title", results.lake.name.as_str()), ("creator", GENERATOR), ("description", caution::FULL)]
    {
        if !text.is_empty() {
            xml.extend_from_slice(format!("<dc:{name}>").as_bytes());
            write_escaped(&mut xml, text);
            xml.extend_from_slice(format!("</dc:{name}>").as_bytes());
        }
    }
    xml.extend_from_slice(b"</metadata>\n");
    database.execute(
        "INSERT INTO gpkg_metadata VALUES (1, 'dataset', 'http://purl.org/dc/elements/1.1/', 'text/xml', ?)",
        [String::from_utf8_lossy(&xml)],
    )?;
    database.execute(
        "INSERT INTO gpkg_metadata_reference VALUES ('geopackage', NULL, NULL, NULL, ?, 1, NULL)",
        [change],
    )?;
    let mut extension =
        database.prepare("INSERT INTO gpkg_extensions VALUES (?, NULL, ?, ?, 'read-write')")?;
    for (table, name) in [
        ("gpkg_data_columns", "gpkg_schema"),
        ("gpkg_data_column_constraints", "gpkg_schema"),
        ("gpkg_metadata", "gpkg_metadata"),
        ("gpkg_metadata_reference", "gpkg_metadata"),
    ] {
        let definition = format!("http://www.geopackage.org/spec130/#extension_{}", &name["gpkg_".len()..]);
        extension.execute(params![table, name, definition])?;
    }
    let mut constraint =
        database.prepare("INSERT INTO gpkg_data_column_constraints VALUES (?, ?, ?, ?, ?, ?, ?, ?)")?;
    for kind in Kind::ALL {
        constraint.execute(params!["kind", "enum", kind.word(), Null, Null, Null, Null, Null])?;
    }
    constraint.execute(params!["chance", "range", Null, 0, true, 1, true, "a probability"])?;
    Ok(())
}

fn write_layer(database: &Connection, layer: &Layer<'_>, change: &str) -> io::Result<()> {
    let (table, fields) = (layer.name, fields(layer));
    let column = |field: &Field| format!("{} {}", quoted(&field.name), column_type(field.holds));
    let columns = fields.iter().map(column).collect::<Vec<_>>().join(", ");
    let create = format!(
        "CREATE TABLE {} (fid INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL, geom {}, id TEXT, {columns})",
        quoted(table),
        layer.kind.word(),
    );
    database
        .execute_batch(&create)
        .and_then(|()| describe(database, layer, &fields, change))
        .map_err(io::Error::other)?;
    let slots = ", ?".repeat(fields.len());
    let mut insert = database
        .prepare(&format!("INSERT INTO {} VALUES (NULL, ?, ?{slots})", quoted(table)))
        .map_err(io::Error::other)?;
    let mut blob = Vec::new();
    layer.each(&mut |feature| {
        blob.clear();
        write_blob(&mut blob, &feature.shape);
        let head = [Slot::Blob(&blob), Slot::Text(&feature.id)];
        let rest = fields.iter().zip(&feature.cells).map(|(field, cell)| Slot::Cell(field.holds, cell));
        insert.execute(params_from_iter(head.into_iter().chain(rest))).map_err(io::Error::other)?;
        Ok(())
    })?;
    index(database, layer).map_err(io::Error::other)
}

/// Rows about a table in the tables of the standard.
fn describe(
    database: &Connection,
    layer: &Layer<'_>,
    fields: &[Field],
    change: &str,
) -> rusqlite::Result<()> {
    let table = layer.name;
    let [west, south, east, north] = match layer.bounds() {
        Some(bounds) => bounds.map(Some),
        None => [None; 4],
    };
    let about = format!("{} {}", layer.about, caution::FULL);
    database.execute(
        "INSERT INTO gpkg_contents VALUES (?, 'features', ?, ?, ?, ?, ?, ?, ?, ?)",
        params![table, layer.title, about, change, west, south, east, north, WGS_84],
    )?;
    database.execute(
        "INSERT INTO gpkg_geometry_columns VALUES (?, 'geom', ?, ?, 0, 0)",
        params![table, layer.kind.word(), WGS_84],
    )?;
    database.execute(
        "INSERT INTO gpkg_extensions VALUES (?, 'geom', 'gpkg_rtree_index', \
         'http://www.geopackage.org/spec130/#extension_rtree', 'write-only')",
        [table],
    )?;
    let mut insert = database.prepare("INSERT INTO gpkg_data_columns VALUES (?, ?, ?, ?, ?, ?, ?)")?;
    for field in fields {
        let mime = (field.holds == Holds::List).then_some("application/json");
        let constraint = match field.holds {
            Holds::Kind => Some("kind"),
            Holds::Chance => Some("chance"),
            _ => None,
        };
        let about = Some(field.about).filter(|about| !about.is_empty());
        insert.execute(params![table, field.name, field.title, field.title, about, mime, constraint])?;
    }
    Ok(())
}

/// The R-tree with its triggers, by the names and words of the standard.
fn index(database: &Connection, layer: &Layer<'_>) -> rusqlite::Result<()> {
    let rtree = format!("rtree_{}_geom", layer.name);
    database.execute_batch(&format!(
        "CREATE VIRTUAL TABLE {} USING rtree(id, minx, maxx, miny, maxy)",
        quoted(&rtree)
    ))?;
    let mut insert = database.prepare(&format!("INSERT INTO {} VALUES (?, ?, ?, ?, ?)", quoted(&rtree)))?;
    let (mut number, mut done) = (0_i64, Ok(0));
    layer.each_shape(&mut |shape| {
        number += 1;
        if let (Ok(_), Some([west, south, east, north])) = (&done, shape.bounds()) {
            done = insert.execute(params![number, west, east, south, north]);
        }
    });
    done?;
    drop(insert);
    database.execute_batch(&tables::triggers(layer.name, &quoted(layer.name), &quoted(&rtree)))
}

/// A name as SQL takes it.
fn quoted(name: &str) -> String {
    format!("\"{}\"", name.replace('"', "\"\""))
}

const fn column_type(holds: Holds) -> &'static str {
    match holds {
        Holds::Integer => "INTEGER",
        Holds::Real | Holds::Chance => "REAL",
        Holds::Text | Holds::List | Holds::Kind => "TEXT",
        Holds::Date => "DATE",
        Holds::Moment => "DATETIME",
    }
}

/// A geometry in the standard's binary form: header, envelope (a point is its own), well-known binary.
fn write_blob(out: &mut Vec<u8>, shape: &Shape) {
    const LITTLE_ENDIAN: u8 = 0b1;
    const ENVELOPE_XY: u8 = 0b10;
    let envelope = match shape {
        Shape::Point(_) => None,
        _ => shape.bounds(),
    };
    let flags = LITTLE_ENDIAN | if envelope.is_some() { ENVELOPE_XY } else { 0 };
    out.extend_from_slice(&[b'G', b'P', 0, flags]);
    out.extend_from_slice(&WGS_84.to_le_bytes());
    if let Some([west, south, east, north]) = envelope {
        for number in [west, east, south, north] {
            out.extend_from_slice(&number.to_le_bytes());
        }
    }
    shape.write_wkb(out);
}

/// A value for a column of a row.
enum Slot<'s> {
    Blob(&'s [u8]),
    Text(&'s str),
    Cell(Holds, &'s Cell<'s>),
}

impl ToSql for Slot<'_> {
    fn to_sql(&self) -> rusqlite::Result<ToSqlOutput<'_>> {
        let borrowed = |value| Ok(ToSqlOutput::Borrowed(value));
        let owned = |value| Ok(ToSqlOutput::Owned(value));
        match self {
            Self::Blob(bytes) => borrowed(ValueRef::Blob(bytes)),
            Self::Text(text) => borrowed(ValueRef::Text(text.as_bytes())),
            Self::Cell(holds, cell) => match cell {
                Cell::Null => owned(Value::Null),
                Cell::Integer(number) => owned(Value::Integer(*number)),
                Cell::Decimal(number, _) if !number.is_finite() => owned(Value::Null),
                Cell::Decimal(number, places) => owned(Value::Real(rounded(*number, *places))),
                Cell::Text(text) => match (holds, moment(text)) {
                    (Holds::Moment, Some(utc)) => owned(Value::Text(utc)),
                    _ => borrowed(ValueRef::Text(text.as_bytes())),
                },
                Cell::Integers(_) | Cell::Texts(_) => {
                    let mut json = Vec::new();
                    cell.write_json(&mut json)
                        .map_err(|e| rusqlite::Error::ToSqlConversionFailure(e.into()))?;
                    owned(Value::Text(String::from_utf8_lossy(&json).into_owned()))
                }
            },
        }
    }
}
