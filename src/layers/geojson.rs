//! GeoJSON by RFC 7946: WGS 84, longitude first, right-hand rule, `bbox` at the head, one feature a line.
//!
//! The collection carries `generator`, `caution` and `units`. An empty layer has no `bbox`. Two passes over the data
//! (bounds, then features) keep memory at one feature.

use crate::layers::layer::{Feature, Layer};
use crate::layers::shape::{write_list, write_number};
use crate::layers::{GENERATOR, caution};
use crate::terms::units::Units;
use std::io::{self, Write};

/// Writes a layer.
///
/// # Errors
/// When `out` cannot be written.
pub fn write(out: &mut impl Write, layer: &Layer<'_>) -> io::Result<()> {
    let keys: Vec<String> = layer.columns().iter().map(|name| format!(",\"{name}\":")).collect();
    let mut line = Vec::new();
    write_head(&mut line, layer)?;
    let mut before: &[u8] = b"\n";
    layer.each(&mut |feature| {
        line.extend_from_slice(before);
        before = b",\n";
        write_feature(&mut line, &keys, &feature)?;
        out.write_all(&line)?;
        line.clear();
        Ok(())
    })?;
    line.extend_from_slice(b"\n]}\n");
    out.write_all(&line)
}

fn write_head(out: &mut Vec<u8>, layer: &Layer<'_>) -> io::Result<()> {
    let units = layer.results.lake.units;
    let system = match units {
        Units::Us => "us",
        Units::Metric => "metric",
    };
    let units = serde_json::json!({
        "system": system,
        "depth": units.short_length(),
        "level": units.short_length(),
        "radius": units.short_length(),
        "band": units.short_length(),
        "length": units.long_length(),
        "distance": units.long_length(),
        "temperature": units.temperature(),
        "effort": units.area(),
        "rate": format!("sightings per {} searched", if units == Units::Us { "acre" } else { "hectare" }),
    });
    write!(out, r#"{{"type":"FeatureCollection","generator":"#)?;
    serde_json::to_writer(&mut *out, GENERATOR)?;
    write!(out, r#","caution":"#)?;
    serde_json::to_writer(&mut *out, caution::FULL)?;
    write!(out, r#","units":{units}"#)?;
    if let Some(bounds) = layer.bounds() {
        write!(out, r#","bbox":"#)?;
        write_list(out, &bounds, |out, number| write_number(out, *number))?;
    }
    write!(out, r#","features":["#)
}

fn write_feature(out: &mut Vec<u8>, keys: &[String], feature: &Feature<'_>) -> io::Result<()> {
    let id = &feature.id;
    write!(out, r#"{{"type":"Feature","id":"{id}","geometry":"#)?;
    feature.shape.write_json(out)?;
    write!(out, r#","properties":{{"id":"{id}""#)?;
    for (key, cell) in keys.iter().zip(&feature.cells) {
        out.extend_from_slice(key.as_bytes());
        cell.write_json(out)?;
    }
    write!(out, ",{}}}}}", feature.style)
}
