//! explain: an id in, and where the thing comes from out: files, records, repairs, rules, arithmetic.
//!
//! Sets aside: nothing. Does not: work anything out that a stage worked out; open files (what stands in a record is
//! handed in). The exceptions are counts that no stage keeps: looks that found nothing, and neighbours of a sighting.

mod area;
mod find;
mod mark;
mod sighting;
mod stop;
mod told;
mod track;

pub use find::{NotFound, Wanted};
pub use told::Told;

use crate::effort::{self, Effort};
use crate::merge;
use crate::movement::Movement;
use crate::prefish::Prefish;
use crate::schools::{self, Schools};
use crate::terms::export::Export;
use crate::terms::finding::{Finding, SetAside};
use crate::terms::lake::Lake;
use crate::terms::mark::{LocalDay, Mark, Origin, RawMark};
use crate::terms::place::Place;
use crate::terms::units::{Depth, Speed, WaterTemp};
use find::Thing;

/// What a run knows.
#[derive(Clone, Copy)]
pub struct Known<'a> {
    /// The lake.
    pub lake: &'a Lake,
    /// The files.
    pub exports: &'a [Export],
    /// The merged log.
    pub log: &'a [Mark],
    /// All marks as they came into `merge`.
    pub before_merge: &'a [Mark],
    /// Records set aside.
    pub set_aside: &'a [SetAside],
    /// Findings about kept records, files and the run.
    pub findings: &'a [Finding],
    /// Sightings and areas.
    pub schools: &'a Schools,
    /// Movement.
    pub movement: &'a Movement,
    /// Where was looked.
    pub effort: &'a Effort,
    /// The plan, where one was made.
    pub prefish: Option<&'a Prefish>,
    /// First practice day.
    pub practice: Option<LocalDay>,
    /// Speed of a search on a practice day.
    pub search_speed: Speed,
    /// `[merge]`.
    pub merging: &'a merge::Settings,
    /// `[sightings]`.
    pub sighting_gates: &'a schools::SightingSettings,
    /// `[schools]`.
    pub area_gates: &'a schools::AreaSettings,
    /// `[effort]`.
    pub looking: &'a effort::Settings,
    /// What stands in a record: as read, and as it stands in the file.
    pub record: &'a dyn Fn(Origin) -> (Option<RawMark>, String),
}

/// Tells where a thing comes from.
///
/// # Errors
/// When nothing, or more than one thing, is called so.
pub fn explain(known: &Known<'_>, wanted: &Wanted) -> Result<Told, NotFound> {
    Ok(match find::find(known, wanted)? {
        Thing::Mark(number) => mark::mark(known, number),
        Thing::Aside(number) => mark::set_aside(known, number),
        Thing::Merged { copy, into } => mark::merged_away(known, copy, into),
        Thing::Sighting(number) => sighting::sighting(known, number),
        Thing::Area(number) => area::area(known, number),
        Thing::Track(number) => track::track(known, number, None),
        Thing::TrackDay(number, day) => track::track(known, number, Some(day)),
        Thing::Stop(number) => stop::stop(known, number),
    })
}

/// `1 mark`, `3 marks`, the number in backticks.
fn counted(count: usize, what: &str) -> String {
    format!("`{count}` {what}{}", if count == 1 { "" } else { "s" })
}

/// A number to some decimals, as JSON.
fn rounded(number: f64, decimals: i32) -> serde_json::Value {
    let scale = 10_f64.powi(decimals);
    serde_json::json!((number * scale).round() / scale + 0.0)
}

/// `-94.123456 35.123456`.
fn place_text(place: Place) -> String {
    place.six_decimals().join(" ")
}

fn depth_text(depth: Depth, lake: &Lake) -> String {
    let units = lake.units;
    format!("{:.1} {}", units.short_from_metres(depth.metres()), units.short_length())
}

fn temp_text(temp: WaterTemp, lake: &Lake) -> String {
    format!("{:.1} {}", lake.units.degrees(temp), lake.units.temperature().to_uppercase())
}

fn metres_text(metres: f64, lake: &Lake) -> String {
    format!("{:.0} {}", lake.units.short_from_metres(metres), lake.units.short_length())
}

/// A depth in the units of the outputs, as JSON; absent: null.
fn depth_json(depth: Option<Depth>, lake: &Lake) -> serde_json::Value {
    depth.map_or(serde_json::Value::Null, |d| rounded(lake.units.short_from_metres(d.metres()), 2))
}

/// A key with the unit of its number: `fish_depth_ft`.
fn with_unit(key: &str, lake: &Lake) -> String {
    format!("{key}_{}", lake.units.short_length())
}
