//! Reads the water of a lake from GeoJSON (RFC 7946).

use crate::terms::finding::{Code, Finding};
use crate::terms::place::Place;
use geo::{Coord, LineString, MultiPolygon, Polygon};
use geojson::{GeoJson, Geometry, GeometryValue, Position};

/// A ring is closed when its ends lie nearer than this: a shoreline is not known to the metre, and ends that were rounded apart
/// leave out no water.
const CLOSED_M: f64 = 1.0;

/// The water of a lake, and the middle of the box around it.
#[derive(Clone, Debug, PartialEq)]
pub struct Shoreline {
    /// Polygons of water in degrees; holes are islands.
    pub polygons: MultiPolygon<f64>,
    /// Middle of the bounding box.
    pub middle: Place,
    /// Rings that were not closed in the file.
    pub open_rings: Vec<OpenRing>,
}

/// A ring whose last position is not its first: it was closed by a straight line.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OpenRing {
    /// Number of the polygon in the file, from 1.
    polygon: usize,
    /// Number of the ring in the polygon, from 1 (the exterior).
    ring: usize,
    /// Length of that line.
    gap_m: f64,
}

impl OpenRing {
    /// As it is told.
    #[must_use]
    pub fn told(&self) -> Finding {
        let Self { polygon, ring, gap_m } = self;
        Finding::new(
            Code::ShorelineOpen,
            format!("polygon {polygon}, ring {ring}: its last position lies `{gap_m:.0} m` from its first"),
        )
        .done("closed by a straight line")
        .fix("where that line is no shore, draw or export the shoreline again; else write the first position again as the last")
    }
}

/// Why a shoreline could not be used.
#[derive(Debug, thiserror::Error)]
pub enum ShorelineError {
    /// The text is no GeoJSON.
    #[error("it is no GeoJSON: {0}")]
    NotGeoJson(String),
    /// A ring is too short or a position is broken.
    #[error("polygon {polygon}, ring {ring}: {what}")]
    Ring {
        /// Number of the polygon in the file, from 1.
        polygon: usize,
        /// Number of the ring in the polygon, from 1 (the exterior).
        ring: usize,
        /// What is wrong with it.
        what: String,
    },
    /// It spans more than half the globe.
    #[error("it spans {0:.0} degrees of longitude; a lake across the 180th meridian is not supported")]
    TooWide(f64),
    /// There is no polygon in it.
    #[error("it holds no Polygon and no MultiPolygon")]
    NoPolygon,
}

/// Reads all polygons of a GeoJSON text: a geometry, a feature or a collection. Other geometries are passed over.
/// The winding of the rings does not matter.
///
/// # Errors
/// When the text is no GeoJSON, holds no polygon, or a ring has fewer than four positions or one off the earth.
pub fn read_shoreline(text: &str) -> Result<Shoreline, ShorelineError> {
    let parsed: GeoJson = text
        .trim_start_matches('\u{feff}')
        .parse()
        .map_err(|e: geojson::Error| ShorelineError::NotGeoJson(e.to_string()))?;
    let mut found = Found::default();
    match &parsed {
        GeoJson::Geometry(geometry) => polygons_of(geometry, &mut found)?,
        GeoJson::Feature(feature) => {
            feature.geometry.iter().try_for_each(|g| polygons_of(g, &mut found))?;
        }
        GeoJson::FeatureCollection(collection) => {
            for geometry in collection.features.iter().filter_map(|f| f.geometry.as_ref()) {
                polygons_of(geometry, &mut found)?;
            }
        }
    }
    let Found { polygons, open_rings } = found;
    let positions = || polygons.iter().flat_map(|p: &Polygon<f64>| p.exterior().coords());
    let first = *positions().next().ok_or(ShorelineError::NoPolygon)?;
    let (low, high) = positions().fold((first, first), |(low, high), c| {
        (Coord { x: low.x.min(c.x), y: low.y.min(c.y) }, Coord { x: high.x.max(c.x), y: high.y.max(c.y) })
    });
    if high.x - low.x > 180.0 {
        return Err(ShorelineError::TooWide(high.x - low.x));
    }
    let middle = Place { lon: f64::midpoint(low.x, high.x), lat: f64::midpoint(low.y, high.y) };
    Ok(Shoreline { polygons: MultiPolygon(polygons), middle, open_rings })
}

/// All polygons of a geometry, those inside collections too; empty for other geometries.
///
/// # Errors
/// When a ring has fewer than four positions or one off the earth.
pub(super) fn polygons_in(geometry: &Geometry) -> Result<Vec<Polygon<f64>>, ShorelineError> {
    let mut found = Found::default();
    polygons_of(geometry, &mut found)?;
    Ok(found.polygons)
}

/// What was found so far.
#[derive(Default)]
struct Found {
    polygons: Vec<Polygon<f64>>,
    open_rings: Vec<OpenRing>,
}

fn polygons_of(geometry: &Geometry, found: &mut Found) -> Result<(), ShorelineError> {
    match &geometry.value {
        GeometryValue::Polygon { coordinates } => found.polygon(coordinates)?,
        GeometryValue::MultiPolygon { coordinates } => {
            for rings in coordinates {
                found.polygon(rings)?;
            }
        }
        GeometryValue::GeometryCollection { geometries } => {
            for inner in geometries {
                polygons_of(inner, found)?;
            }
        }
        _ => {}
    }
    Ok(())
}

impl Found {
    fn polygon(&mut self, rings: &[Vec<Position>]) -> Result<(), ShorelineError> {
        let polygon = self.polygons.len() + 1;
        let mut lines = Vec::new();
        for (number, positions) in (1..).zip(rings) {
            let line =
                ring(positions).map_err(|what| ShorelineError::Ring { polygon, ring: number, what })?;
            let [first, last] = [line.0[0], line.0[line.0.len() - 1]].map(|c| Place { lon: c.x, lat: c.y });
            let gap_m = first.metres_to(last);
            if gap_m > CLOSED_M {
                self.open_rings.push(OpenRing { polygon, ring: number, gap_m });
            }
            lines.push(line);
        }
        let mut lines = lines.into_iter();
        let exterior = lines.next().ok_or(ShorelineError::NoPolygon)?;
        self.polygons.push(Polygon::new(exterior, lines.collect()));
        Ok(())
    }
}

fn ring(positions: &[Position]) -> Result<LineString<f64>, String> {
    if positions.len() < 4 {
        return Err(format!(
            "it has {} positions; a ring needs four or more, the last like the first",
            positions.len()
        ));
    }
    positions
        .iter()
        .map(|position| match position.as_slice() {
            [lon, lat, ..] if Place::new(*lon, *lat).is_some() => Ok(Coord { x: *lon, y: *lat }),
            other => Err(format!("`{other:?}` is no longitude and latitude in degrees, longitude first")),
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The number of polygons, or the error's text.
    #[track_caller]
    fn check(text: &str, expected: &str) {
        let got = read_shoreline(text).map_or_else(|e| e.to_string(), |s| s.polygons.0.len().to_string());
        assert!(got.starts_with(expected), "{got}");
    }

    #[test]
    fn polygons_are_found_in_any_wrapping() {
        let ring = "[[[0,0],[1,0],[1,1],[0,0]]]";
        check(&format!(r#"{{"type":"Polygon","coordinates":{ring}}}"#), "1");
        check(
            &format!(
                r#"{{"type":"Feature","properties":null,"geometry":{{"type":"MultiPolygon","coordinates":[{ring},{ring}]}}}}"#
            ),
            "2",
        );
    }

    #[test]
    fn what_is_no_shoreline_is_told_with_the_place() {
        check("<html>", "it is no GeoJSON");
        check(
            r#"{"type":"Polygon","coordinates":[[[-179,0],[179,0],[179,1],[-179,0]]]}"#,
            "it spans 358 degrees",
        );
        check(r#"{"type":"Point","coordinates":[0,0]}"#, "it holds no Polygon");
        check(
            r#"{"type":"Polygon","coordinates":[[[0,0],[1,0],[0,0]]]}"#,
            "polygon 1, ring 1: it has 3 positions",
        );
        check(
            r#"{"type":"Polygon","coordinates":[[[35,-95],[1,0],[1,1],[35,-95]]]}"#,
            "polygon 1, ring 1: `[35.0, -95.0]`",
        );
    }
}
