//! movement: sightings in, seasonal movement tracks out.
//!
//! Sets aside: nothing; a sighting that fits no track counts as clutter.
//! Does not: say where bait will be on a date (that is `outlook`).
//! Method: methods of the project's DEVELOPERS.md, "Movement".

use crate::terms::finding::Finding;
use crate::terms::id::Id;
use crate::terms::mark::Kind;
use crate::terms::place::Place;
use crate::terms::season::SeasonDay;
use crate::terms::units::Depth;

/// What the season is measured by.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Clock {
    /// Calendar date.
    Date,
    /// Water temperature.
    Temperature,
}

/// Fitted place and depth of a body of bait through the season.
#[derive(Clone, Debug, PartialEq)]
pub struct MovementTrack {
    /// Stable name: a hash of the places of its days.
    pub id: Id,
    /// Kind of its sightings.
    pub kind: Kind,
    /// Number among the tracks, from 1, in the order of `first_day`.
    pub number: usize,
    /// Sightings it stands on (expected number, rounded).
    pub sightings: usize,
    /// Seasons in which it was seen, ascending.
    pub seasons: Vec<i16>,
    /// What the season is measured by.
    pub clock: Clock,
    /// Every fifth season day that it is supported on, in the order of travel from its first day.
    pub days: Vec<MovementDay>,
    /// Length of the way through its days in metres.
    pub length_m: f64,
}

/// A track on one season day.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MovementDay {
    /// The day.
    pub season_day: SeasonDay,
    /// Where the bait is held to be.
    pub place: Place,
    /// How deep; `None`: no sighting of the track tells a depth.
    pub fish_depth: Option<Depth>,
    /// The depths between which nine of ten sightings are expected.
    pub fish_depth_band: Option<[Depth; 2]>,
    /// Radius in metres within which nine of ten sightings are expected.
    pub band_m: f64,
    /// Sightings near this day (expected number within a 10-day kernel).
    pub sightings_near: f64,
}

/// What was fitted, or why not.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Movement {
    /// The tracks; empty when refused.
    pub tracks: Vec<MovementTrack>,
    /// What is told about the fit.
    pub findings: Vec<Finding>,
}
