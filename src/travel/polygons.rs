//! Operations on polygons of the plane, in metres: the one place that calls them.
//!
//! All results are in one canonical form (exteriors counter-clockwise, rings begun at their lowest corner, sorted), so
//! that winding, first vertex and order of the input leave no trace.

use geo::algorithm::bool_ops::{FillRule, OpType};
use geo::algorithm::buffer::{BufferStyle, LineJoin};
use geo::orient::{Direction, Orient};
use geo::{
    BooleanOps, BoundingRect, Buffer, Contains, Coord, Line, LineString, MultiPolygon, Polygon, Rect,
    Simplify, coord, unary_union,
};
use rstar::{AABB, RTree};
use std::f64::consts::PI;

/// How far a simplified shore may lie off the shore itself, in metres: below what a consumer GPS tells.
pub(super) const SIMPLIFIED_BY_M: f64 = 2.0;
/// Largest angle between neighbouring corners of a rounded join, in radians.
const JOIN: f64 = PI / 4.0;
/// Corners of the polygon around a disk.
const DISK_CORNERS: u32 = 16;

/// The water of a list of polygons: each ring cleaned by itself with the even-odd rule, then all exteriors less all
/// holes. Cleaning rings one by one keeps islands that are wound like their exterior.
pub(super) fn water_of(polygons: &MultiPolygon<f64>) -> MultiPolygon<f64> {
    let exteriors: Vec<_> = polygons.iter().map(|p| cleaned(p.exterior())).collect();
    let holes: Vec<_> = polygons.iter().flat_map(Polygon::interiors).map(cleaned).collect();
    canonical(&less(joined(&exteriors), &joined(&holes)))
}

/// One ring by the even-odd rule: crossings become corners, what is wound twice is outside.
fn cleaned(ring: &LineString<f64>) -> MultiPolygon<f64> {
    let alone = Polygon::new(ring.clone(), Vec::new());
    alone.boolean_op_with_fill_rule(&MultiPolygon::new(Vec::new()), OpType::Union, FillRule::EvenOdd)
}

fn joined(parts: &[MultiPolygon<f64>]) -> MultiPolygon<f64> {
    match parts {
        [one] => one.clone(),
        many => unary_union(many.iter().filter(|part| !part.0.is_empty())),
    }
}

fn less(water: MultiPolygon<f64>, taken: &MultiPolygon<f64>) -> MultiPolygon<f64> {
    if taken.0.is_empty() || water.0.is_empty() { water } else { water.difference(taken) }
}

/// The water with whole areas taken out of it.
pub(super) fn without(water: &MultiPolygon<f64>, areas: &[MultiPolygon<f64>]) -> MultiPolygon<f64> {
    canonical(&less(water.clone(), &joined(areas)))
}

/// What of an area lies in the box around the water, made wider by `margin` all round. An area within it stays as it is.
pub(super) fn near(area: &MultiPolygon<f64>, water: &MultiPolygon<f64>, margin: f64) -> MultiPolygon<f64> {
    let (Some(around), Some(own)) = (water.bounding_rect(), area.bounding_rect()) else {
        return area.clone();
    };
    let wide = coord! { x: margin, y: margin };
    let around = Rect::new(around.min() - wide, around.max() + wide);
    if around.contains(&own) { area.clone() } else { water_of(area).intersection(&around.to_polygon()) }
}

/// The water at least `margin_m` from the shore, for water in canonical form.
///
/// The shore is simplified first, and the shrinking goes that much further; and it goes `1 / cos(JOIN / 2)` further,
/// because the chords of a rounded join cut inside the circle.
pub(super) fn shrunk(water: &MultiPolygon<f64>, margin_m: f64) -> MultiPolygon<f64> {
    let simple = |ring: &LineString<f64>| {
        let fewer = Polygon::new(ring.clone(), Vec::new()).simplify(SIMPLIFIED_BY_M).into_inner().0;
        // A ring that would vanish (a narrow island) stays as it is.
        if cleaned(&fewer).0.is_empty() { ring.clone() } else { fewer }
    };
    let simplified = water
        .iter()
        .map(|p| Polygon::new(simple(p.exterior()), p.interiors().iter().map(simple).collect()))
        .collect();
    let off_m = (margin_m + SIMPLIFIED_BY_M) / (JOIN / 2.0).cos();
    // The library rounds the number of chords down, so half the angle is asked for: none is then wider than JOIN.
    let style = BufferStyle::new(-off_m).line_join(LineJoin::Round(JOIN / 2.0));
    canonical(&water_of(&MultiPolygon::new(simplified)).buffer_with_style(style))
}

/// A polygon that holds the disk about a place.
pub(super) fn disk(centre: Coord<f64>, radius_m: f64) -> MultiPolygon<f64> {
    let step = 2.0 * PI / f64::from(DISK_CORNERS);
    let corner_m = radius_m / (step / 2.0).cos();
    let corners = (0..DISK_CORNERS).map(|k| {
        let (sin, cos) = (step * f64::from(k)).sin_cos();
        Coord { x: centre.x + corner_m * cos, y: centre.y + corner_m * sin }
    });
    Polygon::new(LineString::new(corners.collect()), Vec::new()).into()
}

fn canonical(polygons: &MultiPolygon<f64>) -> MultiPolygon<f64> {
    let mut polygons: Vec<Polygon<f64>> = polygons
        .orient(Direction::Default)
        .into_iter()
        .map(|polygon| {
            let (exterior, holes) = polygon.into_inner();
            let mut holes: Vec<_> = holes.into_iter().map(from_lowest).collect();
            holes.sort_by(by_corners);
            Polygon::new(from_lowest(exterior), holes)
        })
        .collect();
    polygons.sort_by(|a, b| by_corners(a.exterior(), b.exterior()));
    MultiPolygon::new(polygons)
}

fn from_lowest(ring: LineString<f64>) -> LineString<f64> {
    let mut corners = ring.into_inner();
    corners.pop();
    let lowest = (0..corners.len()).min_by(|a, b| by_place(&corners[*a], &corners[*b]));
    corners.rotate_left(lowest.unwrap_or(0));
    corners.extend(corners.first().copied());
    LineString::new(corners)
}

fn by_place(a: &Coord<f64>, b: &Coord<f64>) -> std::cmp::Ordering {
    a.x.total_cmp(&b.x).then(a.y.total_cmp(&b.y))
}

fn by_corners(a: &LineString<f64>, b: &LineString<f64>) -> std::cmp::Ordering {
    a.0.iter()
        .zip(&b.0)
        .map(|(a, b)| by_place(a, b))
        .find(|order| order.is_ne())
        .unwrap_or_else(|| a.0.len().cmp(&b.0.len()))
}

/// Whether a place lies inside a list of rings by the even-odd rule; each piece counts half-open in `y`.
pub(super) fn inside<'a>(rings: impl IntoIterator<Item = &'a LineString<f64>>, at: Coord<f64>) -> bool {
    rings.into_iter().flat_map(LineString::lines).filter(|piece| crosses(piece.start, piece.end, at)).count()
        % 2
        == 1
}

/// Whether a piece crosses the ray that runs east from a place.
fn crosses(a: Coord<f64>, b: Coord<f64>, at: Coord<f64>) -> bool {
    (a.y > at.y) != (b.y > at.y) && at.x < (b.x - a.x) * (at.y - a.y) / (b.y - a.y) + a.x
}

/// Rings that are asked many times what lies inside them: an outline that crosses itself everywhere has as many parts as
/// pieces.
pub(super) struct Outline(RTree<rstar::primitives::Line<[f64; 2]>>);

impl Outline {
    pub(super) fn of(polygons: &MultiPolygon<f64>) -> Self {
        let pieces = rings(polygons).flat_map(LineString::lines);
        let piece = |l: Line<f64>| rstar::primitives::Line::new(l.start.into(), l.end.into());
        Self(RTree::bulk_load(pieces.map(piece).collect()))
    }

    /// As [`inside`] says it.
    pub(super) fn holds(&self, at: Coord<f64>) -> bool {
        let east = AABB::from_corners([at.x, at.y], [f64::MAX, at.y]);
        let met = self.0.locate_in_envelope_intersecting(&east);
        met.filter(|piece| crosses(piece.from.into(), piece.to.into(), at)).count() % 2 == 1
    }
}

/// All rings of a list of polygons.
pub(super) fn rings(polygons: &MultiPolygon<f64>) -> impl Iterator<Item = &LineString<f64>> {
    polygons.iter().flat_map(|p| std::iter::once(p.exterior()).chain(p.interiors()))
}
