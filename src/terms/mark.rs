//! A mark: one waypoint that the angler dropped, before and after it is interpreted.

use crate::terms::codes::Codes;
use crate::terms::export::FileId;
use crate::terms::id::Id;
use crate::terms::instant::Instant;
use crate::terms::place::Place;
use crate::terms::season::SeasonDay;
use crate::terms::sources::Sources;
use crate::terms::units::{Depth, WaterTemp};
use jiff::civil;
use serde::{Deserialize, Serialize};

/// What a mark is on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Kind {
    /// Forage fish.
    Bait,
    /// The fish sought.
    Gamefish,
    /// What grows or lies there: brush, trees, piles.
    Cover,
    /// Shape of the bottom: points, humps, ledges, channels.
    Structure,
    /// What hits the motor.
    Hazard,
    /// Ramp, dock.
    Access,
    /// Anything else, or not told.
    Other,
}

impl Kind {
    /// All kinds, in the order in which outputs list them.
    pub const ALL: [Self; 7] =
        [Self::Bait, Self::Gamefish, Self::Cover, Self::Structure, Self::Hazard, Self::Access, Self::Other];

    /// The word for it in settings and outputs.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Bait => "bait",
            Self::Gamefish => "gamefish",
            Self::Cover => "cover",
            Self::Structure => "structure",
            Self::Hazard => "hazard",
            Self::Access => "access",
            Self::Other => "other",
        }
    }

    /// The kind that a word names, in any case; `None` for any other word.
    #[must_use]
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|kind| kind.word().eq_ignore_ascii_case(word.trim()))
    }
}

/// What we write into `cmt` of every mark that we suggest, so that it is known when it comes back from the boat.
pub const SUGGESTION_TAG: &str = "shoalwright plan";

/// Where a record stands: file, number and bytes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Origin {
    /// The file, as a number in the sorted list of inputs.
    pub file: FileId,
    /// Number of the record in its file, from 1; 0 is the file as a whole.
    pub record: u32,
    /// Line on which the record starts, from 1; 0 is the file as a whole.
    pub line: u32,
    /// Length of the record in bytes.
    pub bytes: u32,
    /// First byte of the record in the file's text (as UTF-8), from 0.
    pub start: u64,
}

impl Origin {
    /// The file as a whole.
    #[must_use]
    pub const fn whole_file(file: FileId) -> Self {
        Self { file, record: 0, line: 0, bytes: 0, start: 0 }
    }
}

/// The texts of a record, as they stood, in one allocation: a log holds a million of these.
#[derive(Clone, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Words {
    joined: Box<str>,
    /// End of name, sym, type and cmt in `joined`; desc runs to its end.
    ends: [u32; 4],
}

impl Words {
    /// Packs GPX `name`, `sym`, `type`, `cmt` and `desc`; empty text stands for an absent element.
    #[must_use]
    pub fn new(name: &str, sym: &str, type_: &str, cmt: &str, desc: &str) -> Self {
        let mut joined = String::with_capacity(name.len() + sym.len() + type_.len() + cmt.len() + desc.len());
        let mut ends = [0; 4];
        for (end, part) in ends.iter_mut().zip([name, sym, type_, cmt]) {
            joined.push_str(part);
            *end = joined.len() as u32;
        }
        joined.push_str(desc);
        Self { joined: joined.into_boxed_str(), ends }
    }

    fn part(&self, number: usize) -> &str {
        let from = if number == 0 { 0 } else { self.ends[number - 1] as usize };
        let to = self.ends.get(number).map_or(self.joined.len(), |end| *end as usize);
        &self.joined[from..to]
    }

    /// GPX `name`: what the unit shows beside the mark.
    #[must_use]
    pub fn name(&self) -> &str {
        self.part(0)
    }

    /// GPX `sym`: name of the symbol.
    #[must_use]
    pub fn sym(&self) -> &str {
        self.part(1)
    }

    /// GPX `type`: class of the mark.
    #[must_use]
    pub fn type_(&self) -> &str {
        self.part(2)
    }

    /// GPX `cmt`: comment.
    #[must_use]
    pub fn cmt(&self) -> &str {
        self.part(3)
    }

    /// GPX `desc`: description for the user.
    #[must_use]
    pub fn desc(&self) -> &str {
        self.part(4)
    }

    /// Name, sym, type, cmt, desc: the order in which kinds and depths are looked for.
    #[must_use]
    pub fn in_order(&self) -> [&str; 5] {
        [self.name(), self.sym(), self.type_(), self.cmt(), self.desc()]
    }
}

/// What a record says about its time, before anybody judges the clock.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub enum RawTime {
    /// No time in the record.
    #[default]
    Missing,
    /// A moment with its offset told (`Z`, `+05:00`).
    Instant(Instant),
    /// Date and time of day without an offset.
    Civil(civil::DateTime),
    /// A date alone.
    Date(civil::Date),
    /// Text that is no time; at most 40 characters are kept.
    Unreadable(Box<str>),
}

/// A mark as it was read: nothing judged yet.
#[derive(Clone, Debug, PartialEq)]
pub struct RawMark {
    /// Where it stands.
    pub origin: Origin,
    /// Longitude in degrees as read: finite, but not yet checked against any range.
    pub lon_deg: f64,
    /// Latitude in degrees as read: finite, but not yet checked against any range.
    pub lat_deg: f64,
    /// Time as read.
    pub time: RawTime,
    /// Its texts.
    pub words: Words,
    /// Depth and temperature fields.
    pub fields: Fields,
    /// The user's own note, where one of our own outputs comes back; empty: none.
    pub note: Box<str>,
}

/// Numbers from extensions or columns, as they stood. GPX extension numbers are in metres and Celsius unless the
/// element says otherwise; CSV numbers are in the export's units unless the cell says otherwise. The reader converts
/// to metres and Celsius but checks no range: sentinels such as -999 are still here.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Fields {
    /// A recorded depth that does not say whose (`depth`): the export's `recorded_depth` tells. In metres.
    pub depth_m: Option<f32>,
    /// Depth of fish or bait, said to be so. In metres.
    pub fish_depth_m: Option<f32>,
    /// Depth of the bottom, said to be so. In metres.
    pub water_depth_m: Option<f32>,
    /// Temperature of the surface in Celsius.
    pub water_temp_c: Option<f32>,
    /// Kind in one of our own words (our own exports, a CSV column); the word rules come after it.
    pub kind: Option<Kind>,
}

/// The outing day of a dated mark.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LocalDay {
    /// Calendar date at the lake.
    pub date: civil::Date,
    /// Season it belongs to.
    pub season: i16,
    /// Its place on the circle of the year.
    pub season_day: SeasonDay,
}

/// A mark with what could be read out of its record.
#[derive(Clone, Debug, PartialEq)]
pub struct Mark {
    /// Stable name: a hash of place, time and name.
    pub id: Id,
    /// Where it is.
    pub place: Place,
    /// When it was dropped; `None`: not told, or not to be trusted.
    pub time: Option<Instant>,
    /// The outing day; `None` when undated. A mark may have a day without a time of day.
    pub day: Option<LocalDay>,
    /// What it is on.
    pub kind: Kind,
    /// Depth of the fish or bait below the surface; `None`: not told.
    pub fish_depth: Option<Depth>,
    /// Depth of the bottom below the surface of that day; `None`: not told.
    pub water_depth: Option<Depth>,
    /// Temperature of the surface; `None`: not told.
    pub water_temp: Option<WaterTemp>,
    /// Its texts, cleaned of control characters.
    pub words: Words,
    /// The user's own note from `edits.csv`; empty: none.
    pub note: Box<str>,
    /// The records it came from: the one that won first, the rest in order.
    pub sources: Sources,
    /// Codes of the repairs made.
    pub repairs: Codes,
}

impl Mark {
    /// The record whose values the mark carries.
    ///
    /// # Panics
    /// Never for a mark made by `interpret` or `merge`: both give at least one source.
    #[must_use]
    pub fn origin(&self) -> Origin {
        self.sources[0]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_come_back_as_they_went_in() {
        let words = Words::new("BAIT 27FT", "", "bait", "über 30'", "");
        assert_eq!(words.in_order(), ["BAIT 27FT", "", "bait", "über 30'", ""]);
        assert_eq!(Words::new("", "", "", "", "d").desc(), "d");
    }

    #[test]
    fn kinds_are_read_in_any_case() {
        assert_eq!(Kind::from_word(" Gamefish"), Some(Kind::Gamefish));
        assert_eq!(Kind::from_word("fish"), None);
    }
}
