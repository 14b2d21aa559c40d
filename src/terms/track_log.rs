//! A track log: where the boat went, with what the sounder said on the way.

use crate::terms::instant::Instant;
use crate::terms::mark::Origin;
use crate::terms::place::Place;

/// One point of a track log.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TrackPoint {
    /// Where the boat was.
    pub place: Place,
    /// When; `None`: not told or not readable.
    pub time: Option<Instant>,
    /// Depth of the bottom in metres as logged, range not checked.
    pub depth_m: Option<f32>,
    /// Temperature of the surface in Celsius as logged, range not checked.
    pub water_temp_c: Option<f32>,
}

/// One `trk` of an export. Segments are never joined: a break means that reception was lost or the unit was off.
#[derive(Clone, Debug, PartialEq)]
pub struct TrackLog {
    /// Where it stands.
    pub origin: Origin,
    /// Its name; empty when it has none.
    pub name: Box<str>,
    /// Whether its times came without an offset. As read they are the date and time of day at the lake, held as if they
    /// were UTC; `interpret` reads them in the lake's zone.
    pub local_times: bool,
    /// Points in the order of the file, by segment.
    pub segments: Vec<Vec<TrackPoint>>,
}
