//! GeoJSON layers by RFC 7946: WGS 84, longitude first, right-hand rule, `bbox` at the head, one feature a line.
//!
//! The collection carries `generator`, `caution` and `units`; a feature carries its `id` both as member and as
//! property, because viewers show only properties. Features stand in the order of what is handed in. An empty layer
//! has no `bbox`. Two passes over the data (bounds, then features) keep memory at one feature.

use crate::effort::Cell;
use crate::layers::collection::{Collection, Shape};
use crate::layers::prefish::{self, Planned};
use crate::layers::properties::{self, TrackDay, track_day, track_days};
use crate::layers::{Results, colours};
use crate::movement::MovementTrack;
use crate::terms::id::Id;
use crate::terms::mark::Kind;
use std::io::{self, Write};

/// The merged log: Point a mark.
///
/// # Errors
/// When `out` cannot be written.
pub fn marks(out: &mut impl Write, results: &Results<'_>) -> io::Result<()> {
    Collection {
        results,
        columns: properties::marks(results.lake.units),
        id: |r, i| r.log[i].id.to_string(),
        shape: |r, i| Shape::point(r.log[i].place),
        style: |r, i| colours::point(r.log[i].kind, "small"),
    }
    .write(out, 0..results.log.len())
}

/// Sightings: Point at the mean place of the marks.
///
/// # Errors
/// When `out` cannot be written.
pub fn sightings(out: &mut impl Write, results: &Results<'_>) -> io::Result<()> {
    Collection {
        results,
        columns: properties::sightings(results.lake.units),
        id: |r, i| r.sightings[i].id.to_string(),
        shape: |r, i| Shape::point(r.sightings[i].place),
        style: |r, i| colours::point(r.sightings[i].kind, "medium"),
    }
    .write(out, 0..results.sightings.len())
}

/// Holding areas: Polygon, the hull.
///
/// # Errors
/// When `out` cannot be written.
pub fn areas(out: &mut impl Write, results: &Results<'_>) -> io::Result<()> {
    Collection {
        results,
        columns: properties::areas(results.lake.units),
        id: |r, i| r.areas[i].id.to_string(),
        shape: |r, i| Shape::polygon(&r.areas[i].hull),
        style: |r, i| colours::area(r.areas[i].kind),
    }
    .write(out, 0..results.areas.len())
}

/// Holding areas: Point at the centre, with the properties of `areas`.
///
/// # Errors
/// When `out` cannot be written.
pub fn area_centres(out: &mut impl Write, results: &Results<'_>) -> io::Result<()> {
    Collection {
        results,
        columns: properties::areas(results.lake.units),
        id: |r, i| r.areas[i].id.to_string(),
        shape: |r, i| Shape::point(r.areas[i].centre),
        style: |r, i| colours::point(r.areas[i].kind, "large"),
    }
    .write(out, 0..results.areas.len())
}

/// Effort: Polygon a cell that was looked at, with what was seen there.
///
/// # Errors
/// When `out` cannot be written.
pub fn effort(out: &mut impl Write, results: &Results<'_>) -> io::Result<()> {
    Collection {
        results,
        columns: properties::effort(results.lake.units),
        id: |r, i| cell_id(r, r.effort[i].0.cell, 'e'),
        shape: |r, i| Shape::polygon(&r.effort[i].0.cell.outline(r.cell_m, r.lake)),
        style: |r, i| colours::cell(r.effort[i].1 > 0, 0.25),
    }
    .write(out, 0..results.effort.len())
}

/// The outlook: Polygon a cell, the best first.
///
/// # Errors
/// When `out` cannot be written.
pub fn outlook(out: &mut impl Write, results: &Results<'_>) -> io::Result<()> {
    let cells = results.outlook_cells().len();
    Collection {
        results,
        columns: properties::outlook(results.lake.units),
        id: |r, i| cell_id(r, r.outlook_cells()[i].cell, 'o'),
        shape: |r, i| Shape::polygon(&r.outlook_cells()[i].cell.outline(r.cell_m, r.lake)),
        // The chance as opacity; where there are only ranks, the share of the water that is ranked below.
        style: |r, i| {
            let rank = || 1.0 - i as f64 / r.outlook_cells().len() as f64;
            colours::cell(true, 0.8 * r.outlook_cells()[i].chance.map_or_else(rank, |c| c.mean))
        },
    }
    .write(out, 0..cells)
}

/// A cell is named by the place of its middle.
pub(super) fn cell_id(results: &Results<'_>, cell: Cell, letter: char) -> String {
    let [lon, lat] = results.lake.plane.to_place(cell.middle(results.cell_m)).six_decimals();
    Id::of(letter, &[&lon, &lat]).to_string()
}

/// Movement tracks: `LineString` through the days, from the first to the last supported day; a track of the whole
/// year is not closed. A track that never leaves one place makes no line; its days are in `movement_days`.
///
/// # Errors
/// When `out` cannot be written.
pub fn movement(out: &mut impl Write, results: &Results<'_>) -> io::Result<()> {
    let tracks = 0..results.movement.tracks.len();
    Collection {
        results,
        columns: properties::movement(results.lake.units),
        id: |r, i| r.movement.tracks[i].id.to_string(),
        shape: |r, i| Shape::line(&r.movement.tracks[i].way),
        style: |r, i| colours::line(r.movement.tracks[i].kind),
    }
    .write(out, tracks.filter(|track| makes_a_line(&results.movement.tracks[*track])))
}

/// Movement tracks: Point a track and supported day.
///
/// # Errors
/// When `out` cannot be written.
pub fn movement_days(out: &mut impl Write, results: &Results<'_>) -> io::Result<()> {
    Collection {
        results,
        columns: properties::movement_days(results.lake.units),
        id: track_day_id,
        shape: |r, at| Shape::point(track_day(r, at).1.place),
        style: |r, at| colours::point(track_day(r, at).0.kind, "small"),
    }
    .write(out, track_days(results))
}

/// Stops of the pre-fish plan: Point where the boat stops.
///
/// # Errors
/// When `out` cannot be written.
pub fn prefish_stops(out: &mut impl Write, results: &Results<'_>) -> io::Result<()> {
    Collection {
        results,
        columns: prefish::stop_columns(results.lake.units),
        id: prefish::visit_id,
        shape: |r, at| Shape::point(prefish::visit_place(r, at)),
        style: |_, _| colours::point(Kind::Bait, "large"),
    }
    .write(out, results.planned.into_iter().flat_map(Planned::visits))
}

/// Legs of the pre-fish plan: `LineString` through water.
///
/// # Errors
/// When `out` cannot be written.
pub fn prefish_legs(out: &mut impl Write, results: &Results<'_>) -> io::Result<()> {
    Collection {
        results,
        columns: prefish::leg_columns(results.lake.units),
        id: prefish::leg_id,
        shape: prefish::leg_shape,
        style: |_, _| colours::line(Kind::Other),
    }
    .write(out, results.planned.into_iter().flat_map(Planned::legs))
}

/// A track's id and the day: `t-….-10-15`.
pub(super) fn track_day_id(results: &Results<'_>, at: TrackDay) -> String {
    let (track, day) = track_day(results, at);
    format!("{}-{}", track.id, day.season_day.month_day())
}

fn makes_a_line(track: &MovementTrack) -> bool {
    matches!(Shape::line(&track.way), Shape::Line(line) if line.len() > 1)
}
