//! share: sightings and marks in, a layer that is safe to hand out.
//!
//! Leaves out, and counts: what is too rare to hide, what lies outside the lake, what has no date where one is needed.
//! Does not: show names, notes, ids, years, exact times, track logs, the order of anything; open files (the secret is
//! handed in). Everything here hangs on the shoreline: without one nobody can tell where a mark could have lain.
//!
//! Steps of coarseness after Chapman 2020 (doi 10.15468/doc-5jp4-5g10); the mask has its own sources (`mask`).

mod groups;
mod layer;
mod leak;
mod mask;
mod places;
mod zones;

use crate::schools::Sighting;
use crate::terms::lake::Lake;
use crate::terms::mark::{Kind, LocalDay, Mark};
use crate::terms::place::Place;
use crate::terms::units::{Depth, WaterTemp};
use geo::MultiPolygon;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::path::PathBuf;

pub use layer::{hazards, shared, summary};
pub use leak::{Leak, Truth, leaks};
pub use mask::{Mask, Ring};
pub use places::{Knot, Places};
pub use zones::Zones;

/// Fewest plausible places that anything shown may stand for.
pub const LEAST_PLACES: usize = 20;

/// What is too rare to be shown: less than this, of one kind in one place (and month).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Floor {
    /// Outings.
    pub outings: usize,
    /// Sightings, or marks of what stays in place.
    pub sightings: usize,
}

impl Default for Floor {
    /// Three outings and five sightings: one mark alone in an arm is a spot with an address (judgement).
    fn default() -> Self {
        Self { outings: 3, sightings: 5 }
    }
}

/// How much is told of a place.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Level {
    /// Zone and month.
    #[default]
    Arm,
    /// A square of 0.01 degrees, and month.
    Cell,
    /// A place 400 to 1,200 m off, and half a month.
    Mask,
}

impl Level {
    /// The word for it in settings and outputs.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Arm => "arm",
            Self::Cell => "cell",
            Self::Mask => "mask",
        }
    }

    /// What was done to the places, for whoever reads the layer.
    #[must_use]
    pub const fn meaning(self) -> &'static str {
        match self {
            Self::Arm => {
                "Coarse on purpose: sightings are counted by zone of the lake and month, all years together. A zone is \
                 drawn along a grid and is no shoreline. What was seen on fewer than 3 outings or fewer than 5 times is \
                 left out, and counts are rounded to 5: what is not shown here may still be there."
            }
            Self::Cell => {
                "Coarse on purpose: sightings are counted by squares of 0.01 degrees and month, all years together. What \
                 was seen on fewer than 3 outings or fewer than 5 times is left out, and counts are rounded to 5: what \
                 is not shown here may still be there."
            }
            Self::Mask => {
                "Moved on purpose: each place was put somewhere in the water 400 to 1,200 m from where it was seen. \
                 Nothing is known of the places shown, and no fish were seen there. What is rare is left out."
            }
        }
    }
}

/// `[share]`.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Settings {
    /// How much is told of a place. Default `arm`, which tells least.
    pub level: Level,
    /// The file of the secret that moves the places of `mask`, relative to the settings file. Made at first use.
    pub secret: PathBuf,
}

impl Default for Settings {
    fn default() -> Self {
        Self { level: Level::Arm, secret: PathBuf::from("share.secret") }
    }
}

/// What is to be shared.
#[derive(Clone, Copy, Debug)]
pub struct Wish<'a> {
    /// The lake; it must have a shoreline.
    pub lake: &'a Lake,
    /// The merged log.
    pub log: &'a [Mark],
    /// Its sightings.
    pub sightings: &'a [Sighting],
    /// How much is told.
    pub level: Level,
    /// What is too rare.
    pub floor: Floor,
    /// How far the mask moves.
    pub ring: Ring,
    /// The secret. Without it nobody can tell the moved places, or their order, from chance.
    pub secret: &'a [u8],
    /// Whether hazard marks go out with their exact places.
    pub exact_hazards: bool,
}

/// Why nothing can be shared.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum ShareError {
    /// No shoreline.
    #[error("without a shoreline nobody can tell among how many places a mark is hidden")]
    NoShoreline,
    /// The lake is too small.
    #[error(
        "the lake has `{0}` places of about 110 by 90 m, fewer than the {LEAST_PLACES} that a mark must be hidden among"
    )]
    SmallLake(usize),
    /// Everything is too rare.
    #[error("nothing in this log can be shared: all of it is too rare to hide")]
    Nothing,
}

/// What goes out, and what is told the user at home.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Shared {
    /// What is shown, in an order that tells nothing of the log.
    pub features: Vec<Feature>,
    /// Exact places of hazard marks, where asked for.
    pub hazards: Vec<Place>,
    /// Sightings and marks that are shown.
    pub shown: usize,
    /// Sightings and marks that are left out, by reason. Stays at home.
    pub left_out: BTreeMap<Reason, usize>,
    /// Of a mask: the true places behind each shown one. Stays at home; the leak test asks for it.
    pub behind: BTreeMap<Knot, Vec<Knot>>,
}

/// Why something is left out.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Reason {
    /// Its kind is never shared: ramps may be a driveway at home, and nobody knows what `other` is.
    Kind,
    /// Bait or gamefish without a date.
    Undated,
    /// It lies away from the water.
    Outside,
    /// Too few of its kind there.
    Rare,
    /// Too few places that it could be.
    Few,
    /// A hazard in a mask: moved, it would warn of the wrong place.
    Hazard,
}

impl Reason {
    /// In words, behind a count.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::Kind => "ramps, docks and marks of no kind: never shared",
            Self::Undated => "bait and gamefish marks without a date",
            Self::Outside => "outside the water",
            Self::Rare => "too rare: fewer than 3 outings or 5 sightings there",
            Self::Few => "in water too small to hide them among 20 places",
            Self::Hazard => {
                "hazards: a hazard moved would warn of the wrong place (`--exact-hazards` shares them as they are)"
            }
        }
    }
}

/// Where a feature is drawn.
#[derive(Clone, Debug, PartialEq)]
pub enum Shape {
    /// A moved place.
    Point(Place),
    /// A zone or a square.
    Area(MultiPolygon<f64>),
}

/// When it was seen, whatever the year.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum When {
    /// All year: what stays in place.
    Always,
    /// Month, 1 to 12.
    Month(i8),
    /// Month, and whether its second half (from the 16th).
    HalfMonth(i8, bool),
}

/// One thing shown.
#[derive(Clone, Debug, PartialEq)]
pub struct Feature {
    /// What it is on.
    pub kind: Kind,
    /// The zone or square, as the layer names it.
    pub place: String,
    /// The part of the year.
    pub when: When,
    /// Sightings or marks, rounded to 5; of a mask the greatest of 1, 2, 5, 10, 20 … that is not more than them.
    pub count: usize,
    /// Least and greatest fish depth; never of a mask, because a depth and a chart give a place away.
    pub fish_depth: Option<[Depth; 2]>,
    /// Least and greatest temperature of the surface.
    pub water_temp: Option<[WaterTemp; 2]>,
    /// Plausible places that it may stand for.
    pub k: usize,
    /// Where it is drawn.
    pub shape: Shape,
}

/// A sighting, or a mark of what stays in place, as far as sharing knows it.
#[derive(Clone, Copy, Debug)]
struct Seen {
    kind: Kind,
    place: Place,
    day: Option<LocalDay>,
    fish_depth: Option<Depth>,
    water_temp: Option<WaterTemp>,
}

/// Makes the layer that is safe to hand out.
///
/// # Errors
/// When the lake has no shoreline, is too small to hide anything, or nothing is left to share.
pub fn share(wish: &Wish<'_>) -> Result<Shared, ShareError> {
    let water = wish.lake.water.as_ref().ok_or(ShareError::NoShoreline)?;
    let places = Places::of(water);
    if places.knots().len() < LEAST_PLACES {
        return Err(ShareError::SmallLake(places.knots().len()));
    }
    let zones = Zones::of(&places);
    let mut shared = Shared::default();
    let seen = seen(wish, &mut shared);
    let lake = groups::Ground { places: &places, zones: &zones };
    match wish.level {
        Level::Arm | Level::Cell => groups::count(&lake, &seen, wish, &mut shared),
        Level::Mask => groups::moved(&lake, &seen, wish, &mut shared),
    }
    if wish.exact_hazards {
        shared.hazards = exact_hazards(wish.log);
        shared.shown += shared.hazards.len();
    }
    if shared.features.is_empty() && shared.hazards.is_empty() {
        return Err(ShareError::Nothing);
    }
    Ok(shared)
}

/// What may be shared at all.
fn seen(wish: &Wish<'_>, shared: &mut Shared) -> Vec<Seen> {
    let mut seen: Vec<Seen> = wish
        .sightings
        .iter()
        .map(|s| Seen {
            kind: s.kind,
            place: s.place,
            day: Some(s.day),
            fish_depth: s.fish_depth,
            water_temp: s.water_temp,
        })
        .collect();
    for mark in wish.log {
        let reason = match mark.kind {
            Kind::Bait | Kind::Gamefish if mark.day.is_some() => continue,
            Kind::Bait | Kind::Gamefish => Reason::Undated,
            Kind::Access | Kind::Other => Reason::Kind,
            Kind::Hazard if wish.exact_hazards => continue,
            Kind::Hazard if wish.level == Level::Mask => Reason::Hazard,
            Kind::Cover | Kind::Structure | Kind::Hazard => {
                let (fish_depth, water_temp) = (None, None);
                seen.push(Seen { kind: mark.kind, place: mark.place, day: mark.day, fish_depth, water_temp });
                continue;
            }
        };
        *shared.left_out.entry(reason).or_default() += 1;
    }
    seen
}

/// Places of the hazard marks, but for those where another mark stands as well: a pile that somebody fishes.
fn exact_hazards(log: &[Mark]) -> Vec<Place> {
    let four = |place: Place| [place.lon, place.lat].map(|deg| (deg * 1e4).round() as i64);
    let others: std::collections::BTreeSet<[i64; 2]> =
        log.iter().filter(|m| m.kind != Kind::Hazard).map(|m| four(m.place)).collect();
    let mut places: Vec<Place> = log
        .iter()
        .filter(|m| m.kind == Kind::Hazard && !others.contains(&four(m.place)))
        .map(|m| m.place)
        .collect();
    places.sort_by(|a, b| a.lat.total_cmp(&b.lat).then(a.lon.total_cmp(&b.lon)));
    places.dedup();
    places
}
