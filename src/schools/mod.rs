//! schools: the log in, sightings and holding areas out.
//!
//! Sets aside: nothing. Undated marks are counted and left out of what needs a date.
//! Does not: fit how the schools move (that is `movement`).

use crate::terms::id::Id;
use crate::terms::instant::Instant;
use crate::terms::mark::{Kind, LocalDay};
use crate::terms::place::{Place, PlanePoint};
use crate::terms::season::SeasonDay;
use crate::terms::units::{Depth, WaterTemp};
use geo::Polygon;

/// The marks of one kind, on one outing, that stand for one school seen.
#[derive(Clone, Debug, PartialEq)]
pub struct Sighting {
    /// Stable name: a hash of the ids of its marks.
    pub id: Id,
    /// `Bait` or `Gamefish`.
    pub kind: Kind,
    /// Its marks, as places in the log, ascending.
    pub marks: Vec<usize>,
    /// The outing day.
    pub day: LocalDay,
    /// Time of its first mark; `None`: the date is known, the time of day is not.
    pub time: Option<Instant>,
    /// Mean place of its marks.
    pub place: Place,
    /// The same on the lake's plane.
    pub plane: PlanePoint,
    /// Mean fish depth of the marks that tell one.
    pub fish_depth: Option<Depth>,
    /// Mean water depth of the marks that tell one.
    pub water_depth: Option<Depth>,
    /// Mean surface temperature of the marks that tell one.
    pub water_temp: Option<WaterTemp>,
    /// Its holding area, as a place in `Schools::areas`; `None`: it recurs nowhere.
    pub area: Option<usize>,
}

/// A place where sightings recur in the same part of the season at like depth.
#[derive(Clone, Debug, PartialEq)]
pub struct HoldingArea {
    /// Stable name: a hash of the ids of its sightings.
    pub id: Id,
    /// Kind of its sightings.
    pub kind: Kind,
    /// Its sightings, as places in `Schools::sightings`, ascending.
    pub sightings: Vec<usize>,
    /// Marks behind the sightings.
    pub marks: usize,
    /// Outings on which it was seen.
    pub outings: usize,
    /// Seasons in which it was seen, ascending.
    pub seasons: Vec<i16>,
    /// First day of the part of the year it is seen in; the part may run over new year.
    pub first_day: SeasonDay,
    /// Last day of that part.
    pub last_day: SeasonDay,
    /// Circular mean of its season days.
    pub peak_day: SeasonDay,
    /// Least, median and greatest fish depth; `None`: no sighting tells one.
    pub fish_depth: Option<[Depth; 3]>,
    /// Median water depth.
    pub water_depth_median: Option<Depth>,
    /// Least and greatest surface temperature.
    pub water_temp: Option<[WaterTemp; 2]>,
    /// Mean place of its sightings.
    pub centre: Place,
    /// Metres from the centre within which 90 % of its sightings lie.
    pub radius_m: f64,
    /// Hull of its sightings in degrees, exterior counter-clockwise, widened so that it has an area.
    pub hull: Polygon<f64>,
    /// Pairing with gamefish; `None`: not computed for this area, or refused.
    pub gamefish: Option<GamefishNear>,
}

/// What the log shows of gamefish near the bait of an area (or of the lake).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct GamefishNear {
    /// Gamefish marks near its bait sightings on the same outings.
    pub near: usize,
    /// Share observed over the share expected by chance.
    pub lift: f64,
    /// Chance of as large a share without any association.
    pub p: f64,
}
