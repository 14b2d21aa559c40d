//! Travel: the lake's water in, shortest times through it out, with the ways that take them.
//!
//! Water is kept off the shore by a margin, closed areas and hazards are taken out of it, slow areas have their own
//! speed. In water of one speed a shortest way bends at corners of the shore alone, so corners that see each other
//! make a graph that holds it exactly. Where speed changes, ways may cross at places no more than
//! [`ZONE_STEP_M`] apart: never quicker than the true optimum, slower by no more than is told with each trip.
//!
//! Does not: judge depth, wind or current, read files, know the clock. A way is no chart course.
//!
//! References: tangent visibility graphs (de Berg et al., Computational Geometry, 3rd ed., ch. 15); Dijkstra 1959.

mod course;
mod distance;
mod hazards;
mod levels;
mod matrix;
mod mesh;
mod nearby;
mod pace;
mod polygons;
mod search;
mod sight;
mod standing;

pub use course::{Declination, course_deg};
pub use distance::WaterDistance;
pub use hazards::{hazards, zone_findings};
pub use matrix::{Matrix, Trip};
pub use nearby::{Nearby, OPEN};
pub use standing::Standing;

use crate::terms::place::{LocalPlane, Place, PlanePoint};
use crate::terms::zone::{Zone, ZoneKind};
use geo::{Coord, LineString, MultiPolygon, Polygon};
use levels::{Edges, Level};
use mesh::{Mesh, SpeedArea};
use std::sync::OnceLock;

/// Greatest distance between places where a way may cross an edge of slow water, in metres, while there are at most
/// [`ZONE_PLACES`] of them.
pub const ZONE_STEP_M: f64 = 25.0;
/// Most places where ways may cross edges of slow water: more make the step longer, which each trip's bound tells.
pub const ZONE_PLACES: usize = 2_000;
/// A stop on land up to so far from the water is moved into it, in metres.
pub const MOVED_AT_MOST_M: f64 = 100.0;
/// Water is taken to reach so far about the middle where no shoreline is given, in metres.
const NO_SHORE_M: f64 = 100_000.0;
/// Areas are cut off this far outside the box around the water, in degrees.
const NEAR_DEG: f64 = 0.1;
/// Shares of the margin that are tried in turn.
const MARGIN_SHARES: [f64; 4] = [1.0, 0.5, 0.25, 0.0];

/// How the boat travels.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TravelSettings {
    /// Distance kept from shore and hazards, in metres.
    pub keep_off_m: f64,
    /// Running speed in metres a second.
    pub run_m_s: f64,
    /// Idle speed in metres a second, kept where a stop lies nearer to the shore than `keep_off_m`.
    pub idle_m_s: f64,
}

/// The water of a lake as a boat may use it on one day.
#[derive(Debug)]
pub struct Waters {
    plane: LocalPlane,
    settings: TravelSettings,
    /// Whether a shoreline was given.
    shoreline: bool,
    /// All water, closed or not, in canonical form; a polygon is a water of its own.
    water: MultiPolygon<f64>,
    shore: Edges,
    /// Closed areas with their names.
    closed: Vec<(String, MultiPolygon<f64>)>,
    /// What is taken out of the water: closed areas and hazards.
    taken: Vec<MultiPolygon<f64>>,
    slow: Vec<SpeedArea>,
    step_m: f64,
    /// Open water up to the shore, without slow areas: for the last metres to a ramp.
    banks: Level,
    /// Water at the shares of the margin; made when needed.
    levels: [OnceLock<Level>; MARGIN_SHARES.len()],
}

impl Waters {
    /// The water of a lake in degrees (`None`: no shoreline is known, water is everywhere), with the areas in force
    /// and the hazards to keep off.
    #[must_use]
    pub fn new(
        water: Option<&MultiPolygon<f64>>,
        plane: LocalPlane,
        zones: &[Zone],
        hazards: &[Place],
        settings: &TravelSettings,
    ) -> Self {
        let on_plane = |polygons: &MultiPolygon<f64>| projected(polygons, &plane);
        // What of an area lies far from the water is not carried along: a plane of the lake cannot hold the globe.
        let near = |zone: &Zone| match water {
            Some(water) => on_plane(&polygons::near(&zone.area, water, NEAR_DEG)),
            None => on_plane(&zone.area),
        };
        let closed =
            zones.iter().filter(|z| z.kind == ZoneKind::Closed).map(|z| (z.name.clone(), near(z))).collect();
        let slow = zones
            .iter()
            .filter_map(|z| match z.kind {
                ZoneKind::Slow { m_s } => Some((near(z), m_s)),
                ZoneKind::Closed => None,
            })
            .collect();
        let hazards = hazards.iter().map(|h| coord(plane.to_plane(*h))).collect();
        let mut waters = Self::on_plane(water.map(on_plane).as_ref(), closed, slow, hazards, settings);
        waters.plane = plane;
        waters
    }

    /// As [`Waters::new`], for polygons already in metres of a plane. Its places are degrees about (0, 0), so ask it
    /// for [`Matrix::path_on_plane`].
    #[must_use]
    pub fn on_plane(
        water: Option<&MultiPolygon<f64>>,
        closed: Vec<(String, MultiPolygon<f64>)>,
        slow: Vec<(MultiPolygon<f64>, f64)>,
        hazards: Vec<Coord<f64>>,
        settings: &TravelSettings,
    ) -> Self {
        let shoreline = water.is_some();
        let water = polygons::water_of(&water.cloned().unwrap_or_else(no_shore));
        let closed: Vec<_> =
            closed.into_iter().map(|(name, area)| (name, polygons::water_of(&area))).collect();
        let taken: Vec<_> = closed
            .iter()
            .map(|(_, area)| area.clone())
            .chain(hazards.into_iter().map(|h| polygons::disk(h, settings.keep_off_m)))
            .collect();
        let slow: Vec<_> = slow
            .into_iter()
            .map(|(area, speed)| SpeedArea {
                area: polygons::water_of(&area),
                speed: speed.min(settings.run_m_s),
            })
            .collect();
        let step_m = step_of(&slow, &water);
        let open = polygons::without(&water, &taken);
        let banks = Level::new(open.clone(), Mesh::new(&open, settings.run_m_s, &[], step_m));
        Self {
            plane: LocalPlane::new(Place { lon: 0.0, lat: 0.0 }),
            settings: *settings,
            shoreline,
            shore: Edges::of(&water),
            water,
            closed,
            taken,
            slow,
            step_m,
            banks,
            levels: Default::default(),
        }
    }

    /// Greatest distance between places where a way may cross an edge of slow water, in metres.
    #[must_use]
    pub const fn zone_step_m(&self) -> f64 {
        self.step_m
    }

    /// Whether a shoreline was given: without one, legs take no account of land.
    #[must_use]
    pub const fn has_shoreline(&self) -> bool {
        self.shoreline
    }

    /// The water at one of [`MARGIN_SHARES`] of the margin.
    fn level(&self, number: usize) -> &Level {
        self.levels[number].get_or_init(|| {
            let margin_m = self.settings.keep_off_m * MARGIN_SHARES[number];
            let kept_off = if margin_m > 0.0 && self.shoreline {
                polygons::shrunk(&self.water, margin_m)
            } else {
                self.water.clone()
            };
            let open = polygons::without(&kept_off, &self.taken);
            let mesh = Mesh::new(&open, self.settings.run_m_s, &self.slow, self.step_m);
            Level::new(open, mesh)
        })
    }
}

/// The step at which edges of slow areas are cut: [`ZONE_STEP_M`], or so much more that [`ZONE_PLACES`] lie in water.
fn step_of(slow: &[SpeedArea], water: &MultiPolygon<f64>) -> f64 {
    let places = slow
        .iter()
        .flat_map(|s| polygons::rings(&s.area))
        .flat_map(LineString::lines)
        .flat_map(|line| {
            let pieces = (line.dx().hypot(line.dy()) / ZONE_STEP_M).ceil().max(1.0) as u32;
            (0..pieces).map(move |k| line.start + line.delta() * (f64::from(k) / f64::from(pieces)))
        })
        .filter(|at| polygons::inside(polygons::rings(water), *at))
        .count();
    ZONE_STEP_M * (places as f64 / ZONE_PLACES as f64).max(1.0)
}

fn coord(point: PlanePoint) -> Coord<f64> {
    Coord { x: point.east_m, y: point.north_m }
}

fn plane_point(at: Coord<f64>) -> PlanePoint {
    PlanePoint { east_m: at.x, north_m: at.y }
}

fn projected(polygons: &MultiPolygon<f64>, plane: &LocalPlane) -> MultiPolygon<f64> {
    let ring = |ring: &LineString<f64>| -> LineString<f64> {
        ring.0.iter().map(|c| coord(plane.to_plane(Place { lon: c.x, lat: c.y }))).collect()
    };
    polygons
        .iter()
        .map(|p| Polygon::new(ring(p.exterior()), p.interiors().iter().map(ring).collect()))
        .collect()
}

/// Water everywhere.
fn no_shore() -> MultiPolygon<f64> {
    let m = NO_SHORE_M;
    Polygon::new(LineString::from(vec![(-m, -m), (m, -m), (m, m), (-m, m)]), Vec::new()).into()
}
