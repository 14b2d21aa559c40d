//! schools: the log in, sightings and holding areas out.
//!
//! Sets aside: nothing. Undated marks are counted and left out of what needs a date.
//! Does not: fit how the schools move (that is `movement`).

pub mod cluster;
pub mod waists;

mod areas;
mod bounds;
mod cells;
mod outing_track;
mod pairing;
mod sightings;
mod width_advice;
mod without;

use crate::terms::finding::{Code, Finding};
use crate::terms::id::Id;
use crate::terms::instant::Instant;
use crate::terms::lake::Lake;
use crate::terms::mark::{Kind, LocalDay, Mark};
use crate::terms::place::{Place, PlanePoint};
use crate::terms::season::SeasonDay;
use crate::terms::sun::Light;
use crate::terms::track_log::TrackLog;
use crate::terms::units::{Depth, WaterTemp};
use crate::travel::WaterDistance;
use geo::Polygon;

pub use areas::{AreaClock, AreaSettings, group_sightings};
pub use pairing::Pairing;
pub use sightings::SightingSettings;
pub use without::Without;

/// What the stage hands on.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Schools {
    /// In the order of day, time, kind and id.
    pub sightings: Vec<Sighting>,
    /// In the order of kind, peak day and place.
    pub areas: Vec<HoldingArea>,
    /// Bait and gamefish side by side; `None`: the log holds no dated marks of both.
    pub pairing: Option<Pairing>,
    /// What is told about the log as a whole.
    pub findings: Vec<Finding>,
}

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

impl Sighting {
    /// The light it was first marked in; `None`: its time of day is not known.
    #[must_use]
    pub fn light(&self) -> Option<Light> {
        Light::at(self.place, self.time?)
    }
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
    /// Gamefish marks by their outing's track that lie near its bait sightings of the same outing: within 120 m and
    /// 15 ft of depth.
    pub near: usize,
    /// Share observed over the share expected by chance.
    pub lift: f64,
    /// Chance of as large a share without any association; of an area: corrected for the number of areas (Holm).
    pub p: f64,
}

/// Joins the log's bait and gamefish marks into sightings, finds where sightings recur, and compares the two kinds.
///
/// `log` is one merged log; `seed` starts the draws of the pairing test. The order of `log` and `track_logs` does not
/// matter, except that places in the log follow it.
#[must_use]
pub fn schools(
    log: &[Mark],
    track_logs: &[TrackLog],
    lake: &Lake,
    sighting_settings: &SightingSettings,
    area_settings: &AreaSettings,
    seed: u64,
) -> Schools {
    let water = lake.water.as_ref().map(|water| WaterDistance::new(water, &lake.plane));
    let mut sightings = sightings::sightings(log, lake, water.as_ref(), sighting_settings);
    let mut areas = areas::areas(&mut sightings, lake, water.as_ref(), area_settings);
    let mut findings: Vec<Finding> = undated(log).into_iter().collect();
    findings.extend(width_advice::width_advice(&sightings, area_settings));
    let (pairing, refused) = pairing::pairing(log, track_logs, lake, &sightings, &mut areas, seed);
    findings.extend(refused);
    Schools { sightings, areas, pairing, findings }
}

fn undated(log: &[Mark]) -> Option<Finding> {
    let of_kind = || log.iter().filter(|m| matches!(m.kind, Kind::Bait | Kind::Gamefish));
    let undated = of_kind().filter(|m| m.day.is_none()).count();
    (undated > 0).then(|| {
        let all = of_kind().count();
        Finding::new(
            Code::UndatedMarks,
            format!("`{undated}` of `{all}` bait and gamefish marks are undated"),
        )
        .done("left out of sightings and holding areas; they stay in the log")
        .fix("mend the time of the marks, or the clock of the unit that wrote them")
    })
}
