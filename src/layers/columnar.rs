//! The layers column by column, for the report page: the same properties as in GeoJSON in about a quarter of the bytes.
//!
//! A layer is `{"n", "id", "lon"/"lat" or "shape", "columns"}`. Positions are whole numbers of 10⁻⁶ degrees (0.11 m), each
//! told as the step from the one before: over a whole layer of points, within one ring or line of a shape. A column is a
//! list of values; `{"words", "at"}` where few values recur (-1: null); `null` where nothing is told.

use crate::effort::Effort;
use crate::layers::Results;
use crate::layers::all::{cell_id, track_day_id};
use crate::layers::cell::Cell;
use crate::layers::prefish::{self, Planned};
use crate::layers::properties::{self, Column, track_day, track_days};
use crate::terms::mark::Kind;
use crate::terms::place::Place;
use crate::terms::water::Water;
use geo::{LineString, Polygon};
use std::collections::HashMap;
use std::io::{self, Write};

/// Where a thing lies.
enum Lies<I> {
    At(fn(&Results<'_>, I) -> Place),
    Along(fn(&Results<'_>, I) -> Vec<Place>),
    Over(fn(&Results<'_>, I) -> Polygon<f64>),
}

struct Columnar<'a, I> {
    results: &'a Results<'a>,
    columns: Vec<Column<I>>,
    id: fn(&Results<'_>, I) -> String,
    lies: Lies<I>,
}

/// The merged log.
///
/// # Errors
/// When `out` cannot be written.
pub fn marks(out: &mut impl Write, results: &Results<'_>) -> io::Result<()> {
    Columnar {
        results,
        columns: properties::marks(results.lake.units),
        id: |r, i| r.log[i].id.to_string(),
        lies: Lies::At(|r, i| r.log[i].place),
    }
    .write(out, &(0..results.log.len()))
}

/// Sightings.
///
/// # Errors
/// When `out` cannot be written.
pub fn sightings(out: &mut impl Write, results: &Results<'_>) -> io::Result<()> {
    Columnar {
        results,
        columns: properties::sightings(results.lake.units),
        id: |r, i| r.sightings[i].id.to_string(),
        lies: Lies::At(|r, i| r.sightings[i].place),
    }
    .write(out, &(0..results.sightings.len()))
}

/// Holding areas, by their hulls.
///
/// # Errors
/// When `out` cannot be written.
pub fn areas(out: &mut impl Write, results: &Results<'_>) -> io::Result<()> {
    Columnar {
        results,
        columns: properties::areas(results.lake.units),
        id: |r, i| r.areas[i].id.to_string(),
        lies: Lies::Over(|r, i| r.areas[i].hull.clone()),
    }
    .write(out, &(0..results.areas.len()))
}

/// Movement tracks, along the way through the places of their days.
///
/// # Errors
/// When `out` cannot be written.
pub fn movement(out: &mut impl Write, results: &Results<'_>) -> io::Result<()> {
    Columnar {
        results,
        columns: properties::movement(results.lake.units),
        id: |r, i| r.movement.tracks[i].id.to_string(),
        lies: Lies::Along(|r, i| r.movement.tracks[i].way.clone()),
    }
    .write(out, &(0..results.movement.tracks.len()))
}

/// Days of the movement tracks.
///
/// # Errors
/// When `out` cannot be written.
pub fn movement_days(out: &mut impl Write, results: &Results<'_>) -> io::Result<()> {
    Columnar {
        results,
        columns: properties::movement_days(results.lake.units),
        id: track_day_id,
        lies: Lies::At(|r, at| track_day(r, at).1.place),
    }
    .write(out, &track_days(results))
}

/// Contours of the bottom.
///
/// # Errors
/// When `out` cannot be written.
pub fn contours(out: &mut impl Write, results: &Results<'_>) -> io::Result<()> {
    Columnar {
        results,
        columns: properties::contours(results.lake.units),
        id: |r, i| r.contours[i].id.to_string(),
        lies: Lies::Along(|r, i| r.contours[i].line.clone()),
    }
    .write(out, &(0..results.contours.len()))
}

/// Cells with effort.
///
/// # Errors
/// When `out` cannot be written.
pub fn effort(out: &mut impl Write, results: &Results<'_>) -> io::Result<()> {
    Columnar {
        results,
        columns: properties::effort(results.lake.units),
        id: |r, i| cell_id(r, r.effort[i].0.cell, 'e'),
        lies: Lies::Over(|r, i| r.effort[i].0.cell.outline(r.cell_m, r.lake)),
    }
    .write(out, &(0..results.effort.len()))
}

/// Cells of the outlook, the best first.
///
/// # Errors
/// When `out` cannot be written.
pub fn outlook(out: &mut impl Write, results: &Results<'_>) -> io::Result<()> {
    Columnar {
        results,
        columns: properties::outlook(results.lake.units),
        id: |r, i| cell_id(r, r.outlook_cells()[i].cell, 'o'),
        lies: Lies::Over(|r, i| r.outlook_cells()[i].cell.outline(r.cell_m, r.lake)),
    }
    .write(out, &(0..results.outlook_cells().len()))
}

/// Stops of the pre-fish plan.
///
/// # Errors
/// When `out` cannot be written.
pub fn prefish_stops(out: &mut impl Write, results: &Results<'_>) -> io::Result<()> {
    Columnar {
        results,
        columns: prefish::stop_columns(results.lake.units),
        id: prefish::visit_id,
        lies: Lies::At(prefish::visit_place),
    }
    .write(out, &results.planned.into_iter().flat_map(Planned::visits))
}

/// Legs of the pre-fish plan, through water.
///
/// # Errors
/// When `out` cannot be written.
pub fn prefish_legs(out: &mut impl Write, results: &Results<'_>) -> io::Result<()> {
    Columnar {
        results,
        columns: prefish::leg_columns(results.lake.units),
        id: prefish::leg_id,
        lies: Lies::Along(|r, at| r.planned.map_or_else(Vec::new, |p| p.leg(at).1.path.clone())),
    }
    .write(out, &results.planned.into_iter().flat_map(Planned::legs))
}

/// Outings with effort: date, season, whole season day, the cells looked at as steps through the list of `effort`, and
/// the share of each looked over, in hundredths (rounded up: what was looked at is never told as nothing).
///
/// # Errors
/// When `out` cannot be written.
pub fn looks(out: &mut impl Write, results: &Results<'_>, effort: &Effort) -> io::Result<()> {
    let hundredth_m2 = effort.cell_m * effort.cell_m / 100.0;
    out.write_all(b"[")?;
    for (number, outing) in effort.outings.iter().enumerate() {
        let places = outing
            .cells
            .iter()
            .filter_map(|(cell, _)| results.effort.binary_search_by_key(cell, |e| e.0.cell).ok())
            .map(whole);
        let shares: Vec<u32> =
            outing.cells.iter().map(|(_, area_m2)| (area_m2 / hundredth_m2).ceil() as u32).collect();
        let day = outing.day;
        let before = if number == 0 { "" } else { "," };
        write!(out, "{before}[\"{}\",{},{:.0},", day.date, day.season, day.season_day.days().floor())?;
        steps(out, places)?;
        out.write_all(b",")?;
        serde_json::to_writer(&mut *out, &shares)?;
        out.write_all(b"]")?;
    }
    out.write_all(b"]")
}

/// The water: a list of polygons, each a list of rings.
///
/// # Errors
/// When `out` cannot be written.
pub fn water(out: &mut impl Write, water: &Water) -> io::Result<()> {
    list(out, water.polygons(), |out, polygon| rings(out, polygon))
}

impl<I: Copy> Columnar<'_, I> {
    fn write(&self, out: &mut impl Write, things: &(impl Iterator<Item = I> + Clone)) -> io::Result<()> {
        let (r, each) = (self.results, || things.clone());
        write!(out, "{{\"n\":{},\"id\":", each().count())?;
        // An id is letters, digits and hyphens.
        list(out, each(), |out, thing| write!(out, "\"{}\"", (self.id)(r, thing)))?;
        match self.lies {
            Lies::At(place) => {
                out.write_all(b",\"lon\":")?;
                steps(out, each().map(|thing| micro_degrees(place(r, thing).lon)))?;
                out.write_all(b",\"lat\":")?;
                steps(out, each().map(|thing| micro_degrees(place(r, thing).lat)))?;
            }
            Lies::Along(line) => {
                out.write_all(b",\"shape\":")?;
                list(out, each(), |out, thing| {
                    out.write_all(b"[")?;
                    path(out, line(r, thing).iter().map(|place| [place.lon, place.lat]))?;
                    out.write_all(b"]")
                })?;
            }
            Lies::Over(polygon) => {
                out.write_all(b",\"shape\":")?;
                list(out, each(), |out, thing| rings(out, &polygon(r, thing)))?;
            }
        }
        out.write_all(b",\"columns\":{")?;
        for (number, column) in self.columns.iter().enumerate() {
            write!(out, "{}\"{}\":", if number == 0 { "" } else { "," }, column.name)?;
            values(out, r, column, each())?;
        }
        out.write_all(b"}}")
    }
}

/// The values of a column.
fn values<I: Copy>(
    out: &mut impl Write,
    results: &Results<'_>,
    column: &Column<I>,
    things: impl Iterator<Item = I> + Clone,
) -> io::Result<()> {
    let (mut known, mut words): (HashMap<Vec<u8>, usize>, Vec<Vec<u8>>) = Default::default();
    let (mut at, mut told, mut numbers) = (Vec::new(), 0_usize, false);
    for thing in things.clone() {
        let cell = (column.read)(results, thing);
        numbers |= matches!(cell, Cell::Decimal(..) | Cell::Integer(_));
        if numbers {
            told = 1;
            break;
        }
        if cell == Cell::Null {
            at.push(None);
            continue;
        }
        told += 1;
        let mut json = Vec::new();
        cell.write_json(&mut json)?;
        let next = words.len();
        at.push(Some(*known.entry(json).or_insert_with_key(|json| {
            words.push(json.clone());
            next
        })));
    }
    if told == 0 {
        out.write_all(b"null")
    } else if !numbers && words.len() * 2 <= told {
        out.write_all(b"{\"words\":")?;
        list(out, &words, |out, word| out.write_all(word))?;
        out.write_all(b",\"at\":")?;
        list(out, at, |out, at: Option<usize>| write!(out, "{}", at.map_or(-1, whole)))?;
        out.write_all(b"}")
    } else {
        let mut json = Vec::new();
        list(out, things, |out, thing| {
            json.clear();
            (column.read)(results, thing).write_json(&mut json)?;
            out.write_all(&json)
        })
    }
}

/// A place in a list, as a number that may be stepped from.
fn whole(number: usize) -> i64 {
    i64::try_from(number).unwrap_or(i64::MAX)
}

fn micro_degrees(degrees: f64) -> i64 {
    (degrees * 1e6).round() as i64
}

fn rings(out: &mut impl Write, polygon: &Polygon<f64>) -> io::Result<()> {
    let all = std::iter::once(polygon.exterior()).chain(polygon.interiors());
    list(out, all, |out, ring: &LineString<f64>| path(out, ring.coords().map(|c| [c.x, c.y])))
}

/// Longitude and latitude in turn, each pair as the step from the pair before.
fn path(out: &mut impl Write, positions: impl Iterator<Item = [f64; 2]>) -> io::Result<()> {
    let mut before = [0; 2];
    let pairs = positions.flat_map(|position| {
        let here = position.map(micro_degrees);
        let step = [here[0] - before[0], here[1] - before[1]];
        before = here;
        step
    });
    list(out, pairs, |out, number| write!(out, "{number}"))
}

fn steps(out: &mut impl Write, numbers: impl Iterator<Item = i64>) -> io::Result<()> {
    let mut before = 0;
    list(out, numbers, |out, number| {
        write!(out, "{}", number - before)?;
        before = number;
        Ok(())
    })
}

fn list<T, W: Write>(
    out: &mut W,
    items: impl IntoIterator<Item = T>,
    mut write: impl FnMut(&mut W, T) -> io::Result<()>,
) -> io::Result<()> {
    out.write_all(b"[")?;
    for (number, item) in items.into_iter().enumerate() {
        if number > 0 {
            out.write_all(b",")?;
        }
        write(out, item)?;
    }
    out.write_all(b"]")
}

/// The colours of the kinds: `{"bait":"#0072B2",…}`.
///
/// # Errors
/// When `out` cannot be written.
pub fn colours(out: &mut impl Write) -> io::Result<()> {
    out.write_all(b"{")?;
    for (number, kind) in Kind::ALL.into_iter().enumerate() {
        let before = if number == 0 { "" } else { "," };
        write!(out, "{before}\"{}\":\"{}\"", kind.word(), super::colours::of(kind))?;
    }
    out.write_all(b"}")
}
