//! A GeoJSON feature collection: its head, its bounds and its features one by one.

use crate::layers::cell::{rounded, write_decimal};
use crate::layers::properties::Column;
use crate::layers::{GENERATOR, Results, caution};
use crate::terms::place::Place;
use crate::terms::units::Units;
use geo::orient::{Direction, Orient};
use geo::{LineString, Polygon};
use std::io::{self, Write};

/// Decimals of a place: 0.011 m, the most that RFC 7946 leaves sensible (11.2).
const PLACE_DECIMALS: usize = 7;
/// Decimals of a computed outline: 0.11 m.
const OUTLINE_DECIMALS: usize = 6;

/// A position as it is written: longitude, latitude, rounded.
type Position = [f64; 2];

/// A geometry with rounded positions.
pub(super) enum Shape {
    Point(Position),
    Line(Vec<Position>),
    Polygon(Vec<Vec<Position>>),
}

impl Shape {
    pub(super) fn point(place: Place) -> Self {
        Self::Point(position(place.lon, place.lat, PLACE_DECIMALS))
    }

    /// Through places; one that rounds to the one before it is left out.
    pub(super) fn line(places: &[Place]) -> Self {
        let mut line: Vec<_> =
            places.iter().map(|place| position(place.lon, place.lat, PLACE_DECIMALS)).collect();
        line.dedup();
        Self::Line(line)
    }

    /// Through places; one that rounds to the one before it is left out.
    pub(super) fn way(places: &[Place]) -> Self {
        let mut line: Vec<_> =
            places.iter().map(|place| position(place.lon, place.lat, PLACE_DECIMALS)).collect();
        line.dedup();
        Self::Line(line)
    }

    /// Exterior counter-clockwise, holes clockwise (RFC 7946, 3.1.6).
    pub(super) fn polygon(polygon: &Polygon<f64>) -> Self {
        let ring = |ring: &LineString<f64>| {
            let mut ring: Vec<_> = ring.coords().map(|c| position(c.x, c.y, OUTLINE_DECIMALS)).collect();
            ring.dedup();
            ring
        };
        let polygon = polygon.orient(Direction::Default);
        Self::Polygon(std::iter::once(polygon.exterior()).chain(polygon.interiors()).map(ring).collect())
    }

    fn positions(&self) -> &[Position] {
        match self {
            Self::Point(position) => std::slice::from_ref(position),
            Self::Line(line) => line,
            // The holes lie within the exterior.
            Self::Polygon(rings) => &rings[0],
        }
    }

    fn write(&self, out: &mut Vec<u8>) -> io::Result<()> {
        let word = match self {
            Self::Point(_) => "Point",
            Self::Line(_) => "LineString",
            Self::Polygon(_) => "Polygon",
        };
        write!(out, r#"{{"type":"{word}","coordinates":"#)?;
        match self {
            Self::Point(position) => write_position(out, position)?,
            Self::Line(line) => write_positions(out, line)?,
            Self::Polygon(rings) => write_list(out, rings, |out, ring| write_positions(out, ring))?,
        }
        out.push(b'}');
        Ok(())
    }
}

/// A layer: how the thing numbered `I` is named, drawn and described.
pub(super) struct Collection<'a, I> {
    pub(super) results: &'a Results<'a>,
    pub(super) columns: Vec<Column<I>>,
    pub(super) id: fn(&Results<'_>, I) -> String,
    pub(super) shape: fn(&Results<'_>, I) -> Shape,
    /// Styling hints, as JSON members.
    pub(super) style: fn(&Results<'_>, I) -> String,
}

impl<I: Copy> Collection<'_, I> {
    /// Writes the things in order.
    pub(super) fn write(
        &self,
        out: &mut impl Write,
        things: impl Iterator<Item = I> + Clone,
    ) -> io::Result<()> {
        let keys: Vec<String> = self.columns.iter().map(|column| format!(",\"{}\":", column.name)).collect();
        let mut line = Vec::new();
        self.write_head(&mut line, things.clone())?;
        for (number, thing) in things.enumerate() {
            line.extend_from_slice(if number == 0 { b"\n" } else { b",\n" });
            self.write_feature(&mut line, &keys, thing)?;
            out.write_all(&line)?;
            line.clear();
        }
        line.extend_from_slice(b"\n]}\n");
        out.write_all(&line)
    }

    fn write_head(&self, out: &mut Vec<u8>, things: impl Iterator<Item = I>) -> io::Result<()> {
        let units = self.results.lake.units;
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
        if let Some(bounds) = bounds(things.map(|thing| (self.shape)(self.results, thing))) {
            write!(out, r#","bbox":"#)?;
            write_list(out, &bounds, |out, number| write_number(out, *number))?;
        }
        write!(out, r#","features":["#)
    }

    fn write_feature(&self, out: &mut Vec<u8>, keys: &[String], thing: I) -> io::Result<()> {
        let id = (self.id)(self.results, thing);
        write!(out, r#"{{"type":"Feature","id":"{id}","geometry":"#)?;
        (self.shape)(self.results, thing).write(out)?;
        write!(out, r#","properties":{{"id":"{id}""#)?;
        for (key, column) in keys.iter().zip(&self.columns) {
            out.extend_from_slice(key.as_bytes());
            (column.read)(self.results, thing).write_json(out)?;
        }
        write!(out, ",{}}}}}", (self.style)(self.results, thing))
    }
}

/// West, south, east, north of the positions as written; `None` when there are none.
fn bounds(shapes: impl Iterator<Item = Shape>) -> Option<[f64; 4]> {
    let mut bounds: Option<[f64; 4]> = None;
    for shape in shapes {
        for [lon, lat] in shape.positions() {
            let [west, south, east, north] = bounds.unwrap_or([*lon, *lat, *lon, *lat]);
            bounds = Some([west.min(*lon), south.min(*lat), east.max(*lon), north.max(*lat)]);
        }
    }
    bounds
}

fn position(lon: f64, lat: f64, places: usize) -> Position {
    [rounded(lon, places), rounded(lat, places)]
}

fn write_number(out: &mut Vec<u8>, number: f64) -> io::Result<()> {
    // A place has passed `Place::new`, so its numbers are finite and always written.
    write_decimal(out, number, PLACE_DECIMALS).map(|_| ())
}

fn write_position(out: &mut Vec<u8>, position: &Position) -> io::Result<()> {
    write_list(out, position, |out, number| write_number(out, *number))
}

fn write_positions(out: &mut Vec<u8>, positions: &[Position]) -> io::Result<()> {
    write_list(out, positions, write_position)
}

fn write_list<T>(
    out: &mut Vec<u8>,
    items: &[T],
    write: impl Fn(&mut Vec<u8>, &T) -> io::Result<()>,
) -> io::Result<()> {
    for (number, item) in items.iter().enumerate() {
        out.push(if number == 0 { b'[' } else { b',' });
        write(out, item)?;
    }
    out.push(b']');
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Signed area by the shoelace formula: positive is counter-clockwise.
    fn signed_area(ring: &[Position]) -> f64 {
        ring.windows(2).map(|pair| pair[0][0] * pair[1][1] - pair[1][0] * pair[0][1]).sum::<f64>() / 2.0
    }

    #[test]
    fn a_hull_handed_in_clockwise_is_written_by_the_right_hand_rule() {
        let clockwise = |from: f64, to: f64| {
            LineString::from(vec![(from, from), (from, to), (to, to), (to, from), (from, from)])
        };
        for holes in [vec![], vec![clockwise(1.0, 2.0)]] {
            let Shape::Polygon(rings) = Shape::polygon(&Polygon::new(clockwise(0.0, 3.0), holes)) else {
                panic!("no polygon")
            };
            assert!(signed_area(&rings[0]) > 0.0);
            assert!(rings[1..].iter().all(|hole| signed_area(hole) < 0.0));
            assert!(rings.iter().all(|ring| ring.len() == 5 && ring.first() == ring.last()));
        }
    }

    #[test]
    fn a_line_leaves_out_a_place_that_rounds_to_the_one_before() {
        let place = |lon: f64| Place { lon, lat: 36.0 };
        let Shape::Line(line) =
            Shape::line(&[place(-56.0), place(-56.000_000_01), place(-55.9), place(-56.0)])
        else {
            panic!("no line")
        };
        assert_eq!(line, [[-56.0, 36.0], [-55.9, 36.0], [-56.0, 36.0]]);
    }
}
