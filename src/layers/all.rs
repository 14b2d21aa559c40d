//! The layers, a function a layer: what its features are, where they lie and how they are hinted to look.
//!
//! What is listed here is written as GeoJSON (`geojson`) and into the GeoPackage (`geopackage`) alike. A feature carries
//! its `id` both as member and as property, because viewers show only properties. Features stand in the order of what is
//! handed in.

use crate::effort::Cell;
use crate::layers::layer::{Collection, Layer};
use crate::layers::prefish::{self, Planned};
use crate::layers::properties::{self, TrackDay, track_day, track_days};
use crate::layers::shape::{Shape, ShapeKind};
use crate::layers::{Results, colours};
use crate::movement::MovementTrack;
use crate::terms::id::Id;
use crate::terms::mark::Kind;

/// The merged log: Point a mark.
#[must_use]
pub fn marks<'a>(results: &'a Results<'a>) -> Layer<'a> {
    Collection {
        name: "marks",
        title: "Marks",
        about: "The merged log: a point a mark that was dropped on the water.",
        kind: ShapeKind::Point,
        results,
        columns: properties::marks(results.lake.units),
        id: |r, i| r.log[i].id.to_string(),
        shape: |r, i| Shape::point(r.log[i].place),
        style: |r, i| colours::point(r.log[i].kind, "small"),
    }
    .over(0..results.log.len())
}

/// Sightings: Point at the mean place of the marks.
#[must_use]
pub fn sightings<'a>(results: &'a Results<'a>) -> Layer<'a> {
    Collection {
        name: "sightings",
        title: "Sightings",
        about: "A point a school seen on one outing: the marks of one kind that stand for it.",
        kind: ShapeKind::Point,
        results,
        columns: properties::sightings(results.lake.units),
        id: |r, i| r.sightings[i].id.to_string(),
        shape: |r, i| Shape::point(r.sightings[i].place),
        style: |r, i| colours::point(r.sightings[i].kind, "medium"),
    }
    .over(0..results.sightings.len())
}

/// Holding areas: Polygon, the hull.
#[must_use]
pub fn areas<'a>(results: &'a Results<'a>) -> Layer<'a> {
    Collection {
        name: "areas",
        title: "Holding areas",
        about: "The hull of each place where sightings recur in the same part of the season at like depth.",
        kind: ShapeKind::Polygon,
        results,
        columns: properties::areas(results.lake.units),
        id: |r, i| r.areas[i].id.to_string(),
        shape: |r, i| Shape::polygon(&r.areas[i].hull),
        style: |r, i| colours::area(r.areas[i].kind),
    }
    .over(0..results.areas.len())
}

/// Holding areas: Point at the centre, with the properties of `areas`.
#[must_use]
pub fn area_centres<'a>(results: &'a Results<'a>) -> Layer<'a> {
    Collection {
        name: "area-centres",
        title: "Centres of holding areas",
        about: "The middle of each holding area.",
        kind: ShapeKind::Point,
        results,
        columns: properties::areas(results.lake.units),
        id: |r, i| r.areas[i].id.to_string(),
        shape: |r, i| Shape::point(r.areas[i].centre),
        style: |r, i| colours::point(r.areas[i].kind, "large"),
    }
    .over(0..results.areas.len())
}

/// Effort: Polygon a cell that was looked at, with what was seen there.
#[must_use]
pub fn effort<'a>(results: &'a Results<'a>) -> Layer<'a> {
    Collection {
        name: "effort",
        title: "Effort",
        about: "Cells that were looked over with sonar by the track logs, found or not.",
        kind: ShapeKind::Polygon,
        results,
        columns: properties::effort(results.lake.units),
        id: |r, i| cell_id(r, r.effort[i].0.cell, 'e'),
        shape: |r, i| Shape::polygon(&r.effort[i].0.cell.outline(r.cell_m, r.lake)),
        style: |r, i| colours::cell(r.effort[i].1 > 0, 0.25),
    }
    .over(0..results.effort.len())
}

/// Contours of the bottom: `LineString` a line of equal depth, a ring where it closes.
#[must_use]
pub fn contours<'a>(results: &'a Results<'a>) -> Layer<'a> {
    Collection {
        name: "contours",
        title: "Contours",
        about: "Lines of equal depth at full pool, worked out from the depths of the track logs; no chart.",
        kind: ShapeKind::Line,
        results,
        columns: properties::contours(results.lake.units),
        id: |r, i| r.contours[i].id.to_string(),
        shape: |r, i| Shape::line(&r.contours[i].line),
        style: |_, _| colours::contour(),
    }
    .over(0..results.contours.len())
}

/// Hazards, cover and structure by the water over them: Point a mark.
#[must_use]
pub fn hazards_and_cover<'a>(results: &'a Results<'a>) -> Layer<'a> {
    Collection {
        name: "hazards-and-cover",
        title: "Hazards and cover",
        about: "What lies still while the water rises and falls, with the water over it; others may be there.",
        kind: ShapeKind::Point,
        results,
        columns: properties::standing(results.lake.units),
        id: |r, i| r.log[i].id.to_string(),
        shape: |r, i| Shape::point(r.log[i].place),
        style: |r, i| colours::point(r.log[i].kind, "medium"),
    }
    .over(results.standing())
}

/// The outlook: Polygon a cell, the best first.
#[must_use]
pub fn outlook<'a>(results: &'a Results<'a>) -> Layer<'a> {
    let cells = results.outlook_cells().len();
    Collection {
        name: "outlook",
        title: "Outlook",
        about: "Cells with the chance to meet bait in a standard search on the date of the outlook.",
        kind: ShapeKind::Polygon,
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
    .over(0..cells)
}

/// A cell is named by the place of its middle.
pub(super) fn cell_id(results: &Results<'_>, cell: Cell, letter: char) -> String {
    let [lon, lat] = results.lake.plane.to_place(cell.middle(results.cell_m)).six_decimals();
    Id::of(letter, &[&lon, &lat]).to_string()
}

/// Movement tracks: `LineString` through the days, from the first to the last supported day; a track of the whole
/// year is not closed. A track that never leaves one place makes no line; its days are in `movement_days`.
#[must_use]
pub fn movement<'a>(results: &'a Results<'a>) -> Layer<'a> {
    let tracks = 0..results.movement.tracks.len();
    Collection {
        name: "movement",
        title: "Movement tracks",
        about: "Lines through the places of a body of bait, from the first to the last day of the season.",
        kind: ShapeKind::Line,
        results,
        columns: properties::movement(results.lake.units),
        id: |r, i| r.movement.tracks[i].id.to_string(),
        shape: |r, i| Shape::line(&r.movement.tracks[i].way),
        style: |r, i| colours::line(r.movement.tracks[i].kind),
    }
    .over(tracks.filter(|track| makes_a_line(&results.movement.tracks[*track])))
}

/// Movement tracks: Point a track and supported day.
#[must_use]
pub fn movement_days<'a>(results: &'a Results<'a>) -> Layer<'a> {
    Collection {
        name: "movement-days",
        title: "Days of movement tracks",
        about: "A point a movement track and day: place and depth with their bands.",
        kind: ShapeKind::Point,
        results,
        columns: properties::movement_days(results.lake.units),
        id: track_day_id,
        shape: |r, at| Shape::point(track_day(r, at).1.place),
        style: |r, at| colours::point(track_day(r, at).0.kind, "small"),
    }
    .over(track_days(results))
}

/// Stops of the pre-fish plan: Point where the boat stops.
#[must_use]
pub fn prefish_stops<'a>(results: &'a Results<'a>) -> Layer<'a> {
    Collection {
        name: "prefish-stops",
        title: "Stops of the pre-fish plan",
        about: "A point a place to check, in order.",
        kind: ShapeKind::Point,
        results,
        columns: prefish::stop_columns(results.lake.units),
        id: prefish::visit_id,
        shape: |r, at| Shape::point(prefish::visit_place(r, at)),
        style: |_, _| colours::point(Kind::Bait, "large"),
    }
    .over(results.planned.into_iter().flat_map(Planned::visits))
}

/// Legs of the pre-fish plan: `LineString` through water.
#[must_use]
pub fn prefish_legs<'a>(results: &'a Results<'a>) -> Layer<'a> {
    Collection {
        name: "prefish-legs",
        title: "Legs of the pre-fish plan",
        about: "The way between two stops, through water; no chart course.",
        kind: ShapeKind::Line,
        results,
        columns: prefish::leg_columns(results.lake.units),
        id: prefish::leg_id,
        shape: prefish::leg_shape,
        style: |_, _| colours::line(Kind::Other),
    }
    .over(results.planned.into_iter().flat_map(Planned::legs))
}

/// A track's id and the day: `t-….-10-15`.
pub(super) fn track_day_id(results: &Results<'_>, at: TrackDay) -> String {
    let (track, day) = track_day(results, at);
    format!("{}-{}", track.id, day.season_day.month_day())
}

fn makes_a_line(track: &MovementTrack) -> bool {
    matches!(Shape::line(&track.way), Shape::Line(line) if line.len() > 1)
}
