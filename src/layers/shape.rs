//! A geometry as layers and tables write it: rounded, by the right-hand rule.

use crate::layers::cell::{rounded, write_decimal};
use crate::terms::place::Place;
use geo::orient::{Direction, Orient};
use geo::{LineString, Polygon};
use std::io::{self, Write};

/// Decimals of a place: 0.011 m, the most that RFC 7946 leaves sensible (11.2).
pub(super) const PLACE_DECIMALS: usize = 7;
/// Decimals of a computed outline: 0.11 m.
const OUTLINE_DECIMALS: usize = 6;

/// A position as it is written: longitude, latitude, rounded.
pub(super) type Position = [f64; 2];

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

    /// All positions; of a polygon those of the exterior, within which the holes lie.
    pub(super) fn positions(&self) -> &[Position] {
        match self {
            Self::Point(position) => std::slice::from_ref(position),
            Self::Line(line) => line,
            Self::Polygon(rings) => &rings[0],
        }
    }

    /// West, south, east, north.
    pub(super) fn bounds(&self) -> Option<Bounds> {
        self.positions().iter().map(|[lon, lat]| [*lon, *lat, *lon, *lat]).reduce(around)
    }

    /// As a GeoJSON geometry (RFC 7946, 3.1).
    pub(super) fn write_json(&self, out: &mut Vec<u8>) -> io::Result<()> {
        write!(out, r#"{{"type":"{}","coordinates":"#, self.kind().geojson())?;
        match self {
            Self::Point(position) => write_position(out, position)?,
            Self::Line(line) => write_positions(out, line)?,
            Self::Polygon(rings) => write_list(out, rings, |out, ring| write_positions(out, ring))?,
        }
        out.push(b'}');
        Ok(())
    }

    /// As well-known text (OGC 06-103r4, 7): `POLYGON ((-56.0 36.0, ...))`.
    pub(super) fn write_wkt(&self, out: &mut Vec<u8>) -> io::Result<()> {
        write!(out, "{} ", self.kind().word())?;
        match self {
            Self::Point(position) => write_text(out, std::slice::from_ref(position)),
            Self::Line(line) => write_text(out, line),
            Self::Polygon(rings) => {
                for (number, ring) in rings.iter().enumerate() {
                    out.extend_from_slice(if number == 0 { b"(" } else { b", " });
                    write_text(out, ring)?;
                }
                out.push(b')');
                Ok(())
            }
        }
    }

    /// As well-known binary, little-endian (OGC 06-103r4, 8).
    pub(super) fn write_wkb(&self, out: &mut Vec<u8>) {
        fn count<T>(out: &mut Vec<u8>, items: &[T]) {
            out.extend_from_slice(&(items.len() as u32).to_le_bytes());
        }
        fn positions(out: &mut Vec<u8>, positions: &[Position]) {
            positions.iter().flatten().for_each(|number| out.extend_from_slice(&number.to_le_bytes()));
        }
        out.push(1);
        out.extend_from_slice(&self.kind().wkb().to_le_bytes());
        match self {
            Self::Point(position) => positions(out, std::slice::from_ref(position)),
            Self::Line(line) => {
                count(out, line);
                positions(out, line);
            }
            Self::Polygon(rings) => {
                count(out, rings);
                for ring in rings {
                    count(out, ring);
                    positions(out, ring);
                }
            }
        }
    }

    pub(super) const fn kind(&self) -> ShapeKind {
        match self {
            Self::Point(_) => ShapeKind::Point,
            Self::Line(_) => ShapeKind::Line,
            Self::Polygon(_) => ShapeKind::Polygon,
        }
    }
}

/// What all geometries of a layer are.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum ShapeKind {
    Point,
    Line,
    Polygon,
}

impl ShapeKind {
    const fn geojson(self) -> &'static str {
        match self {
            Self::Point => "Point",
            Self::Line => "LineString",
            Self::Polygon => "Polygon",
        }
    }

    /// The word of well-known text and of GeoPackage.
    pub(super) const fn word(self) -> &'static str {
        match self {
            Self::Point => "POINT",
            Self::Line => "LINESTRING",
            Self::Polygon => "POLYGON",
        }
    }

    const fn wkb(self) -> u32 {
        match self {
            Self::Point => 1,
            Self::Line => 2,
            Self::Polygon => 3,
        }
    }
}

/// West, south, east, north.
pub(super) type Bounds = [f64; 4];

/// The bounds around two bounds.
pub(super) fn around(a: Bounds, b: Bounds) -> Bounds {
    [a[0].min(b[0]), a[1].min(b[1]), a[2].max(b[2]), a[3].max(b[3])]
}

fn position(lon: f64, lat: f64, places: usize) -> Position {
    [rounded(lon, places), rounded(lat, places)]
}

pub(super) fn write_number(out: &mut Vec<u8>, number: f64) -> io::Result<()> {
    // A place has passed `Place::new`, so its numbers are finite and always written.
    write_decimal(out, number, PLACE_DECIMALS).map(|_| ())
}

fn write_position(out: &mut Vec<u8>, position: &Position) -> io::Result<()> {
    write_list(out, position, |out, number| write_number(out, *number))
}

fn write_positions(out: &mut Vec<u8>, positions: &[Position]) -> io::Result<()> {
    write_list(out, positions, write_position)
}

/// As a JSON array.
pub(super) fn write_list<T>(
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

/// Positions of well-known text: `(lon lat, lon lat)`.
fn write_text(out: &mut Vec<u8>, positions: &[Position]) -> io::Result<()> {
    for (number, [lon, lat]) in positions.iter().enumerate() {
        out.extend_from_slice(if number == 0 { b"(" } else { b", " });
        write_number(out, *lon)?;
        out.push(b' ');
        write_number(out, *lat)?;
    }
    out.push(b')');
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
