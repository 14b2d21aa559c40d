//! The layer that goes out, as GeoJSON by RFC 7946, and the summary that goes with it.

use super::groups::{coarse_depth, coarse_temp};
use super::{Feature, Level, Shape, Shared, When};
use crate::layers::{GENERATOR, caution, colours};
use crate::terms::mark::Kind;
use crate::terms::place::Place;
use crate::terms::units::Units;
use geo::{LineString, Polygon};
use serde_json::{Value, json};
use std::io::{self, Write};

/// Decimals of an exact hazard: 1.1 m.
const HAZARD_DECIMALS: usize = 5;
/// What the layer of exact hazards says of itself.
pub(super) const HAZARDS_MEANING: &str = "Hazard marks at their exact places, as somebody recorded them at the level of \
    that day. Where none is marked there may be one.";

/// Writes what is shown, one feature a line. Numbers have three decimals at most.
///
/// # Errors
/// When `out` cannot be written.
pub fn shared(out: &mut impl Write, shared: &Shared, level: Level, units: Units) -> io::Result<()> {
    let bounds = shared.features.iter().flat_map(|f| corners(&f.shape));
    head(out, level.meaning(), units, bounds.map(|[lon, lat]| [coarse(lon), coarse(lat)]))?;
    for (number, feature) in (1..).zip(&shared.features) {
        let id = number.to_string();
        let mut line = Vec::new();
        write!(
            line,
            r#"{{"type":"Feature","id":"{id}","geometry":{},"properties":"#,
            geometry(&feature.shape)
        )?;
        let mut properties = properties(feature, level, units);
        properties.insert(0, ("id".into(), json!(id)));
        write_object(&mut line, &properties)?;
        line.push(b'}');
        write_line(out, number, &line)?;
    }
    out.write_all(b"\n]}\n")
}

/// Writes hazard marks with their exact places, which the user asked for in words.
///
/// # Errors
/// When `out` cannot be written.
pub fn hazards(out: &mut impl Write, places: &[Place], units: Units) -> io::Result<()> {
    let exact = |degrees: f64| format!("{degrees:.HAZARD_DECIMALS$}");
    head(out, HAZARDS_MEANING, units, places.iter().map(|p| [exact(p.lon), exact(p.lat)]))?;
    for (number, place) in (1..).zip(places) {
        let mut line = Vec::new();
        let [lon, lat] = [exact(place.lon), exact(place.lat)];
        write!(
            line,
            r#"{{"type":"Feature","id":"{number}","geometry":{{"type":"Point","coordinates":[{lon},{lat}]}},"properties":"#
        )?;
        let mut properties: Vec<(String, Value)> =
            vec![("id".into(), json!(number.to_string())), ("kind".into(), json!(Kind::Hazard.word()))];
        properties.extend(style(Kind::Hazard, &Shape::Point(*place)));
        write_object(&mut line, &properties)?;
        line.push(b'}');
        write_line(out, number, &line)?;
    }
    out.write_all(b"\n]}\n")
}

/// The numbers of exact hazards, as they are written.
pub(super) fn exact_numbers(places: &[Place]) -> impl Iterator<Item = String> {
    places.iter().flat_map(|p| [p.lon, p.lat]).map(|degrees| format!("{degrees:.HAZARD_DECIMALS$}"))
}

/// Writes what the folder holds and what was done to it: no counts of what was left out, no settings, no file names.
///
/// # Errors
/// When `out` cannot be written.
pub fn summary(out: &mut impl Write, shared: &Shared, level: Level, lake: &str) -> io::Result<()> {
    let mut parts: Vec<(String, Value)> = vec![("generator".into(), json!(GENERATOR))];
    if !lake.is_empty() {
        parts.push(("lake".into(), json!(lake)));
    }
    parts.push(("level".into(), json!(level.word())));
    parts.push(("shared".into(), json!(level.meaning())));
    parts.push(("features".into(), json!(shared.features.len())));
    parts.push(("k_least".into(), json!(shared.features.iter().map(|f| f.k).min())));
    parts.push(("caution".into(), json!(caution::FULL)));
    let mut text = Vec::new();
    write_object(&mut text, &parts)?;
    text.push(b'\n');
    out.write_all(&text)
}

fn properties(feature: &Feature, level: Level, units: Units) -> Vec<(String, Value)> {
    let (u, t, us) = (units.short_length(), units.temperature(), units == Units::Us);
    let mut all: Vec<(String, Value)> =
        vec![("kind".into(), json!(feature.kind.word())), ("place".into(), json!(feature.place))];
    match level {
        Level::Mask => {
            let days = match feature.when {
                When::HalfMonth(month, false) => Some([day(month, 1), day(month, 15)]),
                When::HalfMonth(month, true) => Some([day(month, 16), day(month, last_day(month))]),
                When::Month(_) | When::Always => None,
            };
            all.push(("from_day".into(), json!(days.as_ref().map(|d| &d[0]))));
            all.push(("to_day".into(), json!(days.as_ref().map(|d| &d[1]))));
            all.push(("sightings_at_least".into(), json!(feature.count)));
        }
        Level::Arm | Level::Cell => {
            let month = if let When::Month(month) = feature.when { Some(month) } else { None };
            all.push(("month".into(), json!(month)));
            all.push(("sightings".into(), json!(feature.count)));
            let depth = feature.fish_depth.map(|range| coarse_depth(range, us));
            let temp = feature.water_temp.map(|range| coarse_temp(range, us));
            for (name, range, end) in [("fish_depth_low", depth, 0), ("fish_depth_high", depth, 1)] {
                all.push((format!("{name}_{u}"), json!(range.map(|r| r[end]))));
            }
            for (name, range, end) in [("water_temp_low", temp, 0), ("water_temp_high", temp, 1)] {
                all.push((format!("{name}_{t}"), json!(range.map(|r| r[end]))));
            }
        }
    }
    all.push(("k".into(), json!(feature.k)));
    all.extend(style(feature.kind, &feature.shape));
    all
}

/// Styling hints (simplestyle-spec 1.1.0) in our own colours.
fn style(kind: Kind, shape: &Shape) -> Vec<(String, Value)> {
    let colour = json!(colours::of(kind));
    match shape {
        Shape::Point(_) => {
            vec![("marker-color".into(), colour), ("marker-size".into(), json!("medium"))]
        }
        Shape::Area(_) => vec![
            ("stroke".into(), colour.clone()),
            ("stroke-width".into(), json!(1)),
            ("fill".into(), colour),
            ("fill-opacity".into(), json!(0.2)),
        ],
    }
}

fn day(month: i8, day: i8) -> String {
    format!("{month:02}-{day:02}")
}

/// February has 29 days here: no year is told.
const fn last_day(month: i8) -> i8 {
    match month {
        2 => 29,
        4 | 6 | 9 | 11 => 30,
        _ => 31,
    }
}

fn head(
    out: &mut impl Write,
    meaning: &str,
    units: Units,
    corners: impl Iterator<Item = [String; 2]>,
) -> io::Result<()> {
    let system = if units == Units::Us { "us" } else { "metric" };
    let parts: Vec<(String, Value)> = vec![
        ("type".into(), json!("FeatureCollection")),
        ("generator".into(), json!(GENERATOR)),
        ("caution".into(), json!(caution::FULL)),
        ("shared".into(), json!(meaning)),
        (
            "units".into(),
            json!({"system": system, "depth": units.short_length(), "temperature": units.temperature()}),
        ),
    ];
    let mut line = Vec::new();
    write_object(&mut line, &parts)?;
    line.pop();
    // Texts are compared as numbers, and written as they stand.
    let number = |text: &String| text.parse::<f64>().unwrap_or(0.0);
    let mut bounds: Option<[String; 4]> = None;
    for [lon, lat] in corners {
        let [w, s, e, n] = bounds.get_or_insert_with(|| [lon.clone(), lat.clone(), lon.clone(), lat.clone()]);
        for (low, high, at) in [(w, e, &lon), (s, n, &lat)] {
            if number(at) < number(low) {
                low.clone_from(at);
            }
            if number(at) > number(high) {
                high.clone_from(at);
            }
        }
    }
    if let Some(bounds) = bounds {
        write!(line, r#","bbox":[{}]"#, bounds.join(","))?;
    }
    line.extend_from_slice(br#","features":["#);
    out.write_all(&line)
}

fn write_line(out: &mut impl Write, number: usize, line: &[u8]) -> io::Result<()> {
    out.write_all(if number == 1 { b"\n" } else { b",\n" })?;
    out.write_all(line)
}

/// Members in the order given, which `serde_json` would sort.
fn write_object(out: &mut Vec<u8>, members: &[(String, Value)]) -> io::Result<()> {
    for (number, (key, value)) in members.iter().enumerate() {
        out.push(if number == 0 { b'{' } else { b',' });
        serde_json::to_writer(&mut *out, key)?;
        out.push(b':');
        serde_json::to_writer(&mut *out, value)?;
    }
    out.push(b'}');
    Ok(())
}

/// A degree to three decimals at most.
fn coarse(degrees: f64) -> String {
    ((degrees * 1000.0).round() / 1000.0 + 0.0).to_string()
}

fn corners(shape: &Shape) -> Vec<[f64; 2]> {
    match shape {
        Shape::Point(place) => vec![[place.lon, place.lat]],
        Shape::Area(area) => {
            area.iter().flat_map(|p| p.exterior().coords().map(|c| [c.x, c.y]).collect::<Vec<_>>()).collect()
        }
    }
}

fn geometry(shape: &Shape) -> String {
    let position = |x: f64, y: f64| format!("[{},{}]", coarse(x), coarse(y));
    let ring = |ring: &LineString<f64>| {
        let positions: Vec<String> = ring.coords().map(|c| position(c.x, c.y)).collect();
        format!("[{}]", positions.join(","))
    };
    let polygon = |p: &Polygon<f64>| {
        let rings: Vec<String> = std::iter::once(p.exterior()).chain(p.interiors()).map(ring).collect();
        format!("[{}]", rings.join(","))
    };
    match shape {
        Shape::Point(place) => {
            format!(r#"{{"type":"Point","coordinates":{}}}"#, position(place.lon, place.lat))
        }
        Shape::Area(area) if area.0.len() == 1 => {
            format!(r#"{{"type":"Polygon","coordinates":{}}}"#, polygon(&area.0[0]))
        }
        Shape::Area(area) => {
            let polygons: Vec<String> = area.iter().map(polygon).collect();
            format!(r#"{{"type":"MultiPolygon","coordinates":[{}]}}"#, polygons.join(","))
        }
    }
}
