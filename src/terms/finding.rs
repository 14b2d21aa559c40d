//! Findings: what is told about a record, and what a stage hands on beside its output.

use crate::terms::mark::Origin;
use std::borrow::Cow;

/// How much a finding matters.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Severity {
    /// Worth knowing; nothing was changed.
    Note,
    /// Put right; the old value is in the finding.
    Repaired,
    /// Kept as it is, but somebody should look. `--strict` fails on it.
    Doubtful,
    /// Kept out of the run, written whole to the set-aside file.
    SetAside,
}

impl Severity {
    /// The word for it in outputs.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Note => "note",
            Self::Repaired => "repaired",
            Self::Doubtful => "doubtful",
            Self::SetAside => "set-aside",
        }
    }
}

/// Declares the codes: one row a code, so that severity and meaning cannot drift from it.
macro_rules! codes {
    ($($variant:ident, $word:literal, $severity:ident, $meaning:literal;)+) => {
        /// Stable code of a finding. The README's table is printed from this list.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum Code {
            $(#[doc = $meaning] $variant,)+
        }

        impl Code {
            /// All codes, in the order of the run.
            pub const ALL: &[Self] = &[$(Self::$variant,)+];

            /// The word for it in outputs.
            #[must_use]
            pub const fn word(self) -> &'static str {
                match self { $(Self::$variant => $word,)+ }
            }

            /// How much it matters.
            #[must_use]
            pub const fn severity(self) -> Severity {
                match self { $(Self::$variant => Severity::$severity,)+ }
            }

            /// What it means, in one sentence.
            #[must_use]
            pub const fn meaning(self) -> &'static str {
                match self { $(Self::$variant => $meaning,)+ }
            }
        }
    };
}

codes! {
    // settings, levels
    LevelDatumMissing, "level-datum-missing", Doubtful, "Pool levels are given and nothing says what they are counted from: two datums differ by feet.";
    // reading: bytes and files
    FileEmpty, "file-empty", Doubtful, "The file holds nothing.";
    FileNotGpx, "file-not-gpx", Doubtful, "The file is named .gpx but holds something else; nothing was read from it.";
    FileNotCsv, "file-not-csv", Doubtful, "The file is named .csv but holds something else, or no header that tells latitude and longitude.";
    FileUnreadable, "file-unreadable", Doubtful, "The file could not be opened or read to its end.";
    EncodingRepaired, "encoding-repaired", Repaired, "Text was not UTF-8; it was read as the encoding that its declaration or its bytes tell.";
    ControlCharacters, "control-characters", Repaired, "Control characters were taken out of a text.";
    XmlTruncated, "xml-truncated", Doubtful, "The file ends inside an element; all complete records before it were read.";
    XmlDamaged, "xml-damaged", Doubtful, "A stretch that is no XML was passed over; reading went on at the next record.";
    XmlAmpersand, "xml-ampersand", Repaired, "A bare `&` was read as text.";
    XmlEscapedTwice, "xml-escaped-twice", Repaired, "Entities that were escaped twice were unescaped once more.";
    XmlSecondDocument, "xml-second-document", Note, "Several GPX documents stand in one file; all were read.";
    TrackPointUnreadable, "track-point-unreadable", Doubtful, "Points of track logs are broken or tell no position; they were left out and counted.";
    RecordDamaged, "record-damaged", SetAside, "A record is broken off, too long or not well-formed.";
    RowShort, "row-short", SetAside, "A row has too few cells to hold a position.";
    // reading: values
    PositionMissing, "position-missing", SetAside, "A record has no latitude or no longitude.";
    PositionUnreadable, "position-unreadable", SetAside, "Latitude or longitude is no number in any known form.";
    PositionForm, "position-form", Repaired, "A coordinate was written with a decimal comma or another form and read as decimal degrees.";
    TimeUnreadable, "time-unreadable", Doubtful, "The time is not a time; the mark is undated.";
    DateOrder, "date-order", Note, "The order of day and month in a CSV was told by its rows.";
    DateOrderUnclear, "date-order-unclear", Doubtful, "Rows do not tell whether day or month comes first; their marks are undated.";
    NumberUnreadable, "number-unreadable", Doubtful, "A depth or temperature is no number; it was left out.";
    ColumnMissing, "column-missing", Doubtful, "A column that the settings name is not in the file.";
    // interpreting: place
    PositionOutOfRange, "position-out-of-range", SetAside, "Latitude or longitude lies outside the earth's range.";
    PositionNull, "position-null", SetAside, "The position is 0, 0: the unit had no fix.";
    PositionSwapped, "position-swapped", Repaired, "Latitude and longitude stood in each other's place.";
    PositionSign, "position-sign", Repaired, "A lost sign or hemisphere was put back.";
    PositionMinutes, "position-minutes", Repaired, "Degrees and minutes stood glued together as one decimal number.";
    PositionScaled, "position-scaled", Repaired, "Integer angle units were turned into degrees.";
    PositionProjected, "position-projected", Repaired, "Metres of a Mercator map were turned into degrees.";
    PositionOnLand, "position-on-land", Note, "The mark lies on land near the shore; low water or a coarse shoreline.";
    PositionOutside, "position-outside", SetAside, "The mark lies far outside the lake.";
    PositionFar, "position-far", Doubtful, "The mark lies far from the bulk of the marks; without a shoreline nobody can tell whether it belongs.";
    PositionCoarse, "position-coarse", Note, "All positions of a file are rounded to a coarse step.";
    // interpreting: clock
    ClockMissing, "clock-missing", Note, "The mark has no time: it takes part in place-only results.";
    ClockNoZone, "clock-no-zone", Repaired, "A time without an offset was read in the lake's time zone.";
    ClockWeekRollover, "clock-week-rollover", Repaired, "All times of a unit were 1024 weeks (or a multiple) off: the GPS week counter rolled over.";
    ClockStray, "clock-stray", Doubtful, "A single time lies whole GPS week counts before the rest of its unit; the mark is undated.";
    ClockLocalAsUtc, "clock-local-as-utc", Repaired, "A unit wrote local time as UTC.";
    ClockMinutes, "clock-minutes", Repaired, "A file's clock was off by the same minutes on several days.";
    ClockDefault, "clock-default", Doubtful, "The time is a factory default; the mark is undated.";
    ClockFuture, "clock-future", Doubtful, "The time lies after the day of the run; the mark is undated.";
    ClockTooOld, "clock-too-old", Doubtful, "The time lies before any unit could have logged it; the mark is undated.";
    ClockBurst, "clock-burst", Doubtful, "Marks far apart share a few minutes: edit times, not mark times; the marks are undated.";
    ClockDateOnly, "clock-date-only", Note, "The record tells a date but no time of day.";
    TimezoneMissing, "timezone-missing", Doubtful, "No time zone is set for the lake: UTC is used, and dates near midnight may be off by one.";
    // interpreting: what it says
    KindConflict, "kind-conflict", Note, "The record's texts name different kinds; the first in order won.";
    SymbolMeaning, "symbol-meaning", Repaired, "A file's symbol stands on marks of another kind than it shows, and was read as that kind where nothing else tells.";
    KindUnknown, "kind-unknown", Note, "No word tells what the mark is on; it counts as other.";
    DepthContradiction, "depth-contradiction", Doubtful, "Two depths of the same thing disagree; neither is used.";
    DepthSentinel, "depth-sentinel", Repaired, "A depth that stands for `unknown` was blanked.";
    DepthImpossible, "depth-impossible", Doubtful, "A depth that no lake has was blanked.";
    DepthUnitRepaired, "depth-unit-repaired", Repaired, "The recorded depths of a file were feet taken for metres, or a table's metres taken for feet.";
    DepthUnitDoubtful, "depth-unit-doubtful", Doubtful, "Two files record the same bottom with a foot's ratio between them, and nothing tells which is wrong.";
    DepthIsBottom, "depth-is-bottom", Repaired, "A file's names carry the depth of the bottom, not of the fish: the fish depth was blanked.";
    DepthInEle, "depth-in-ele", Note, "The heights of a file look like depths; the user can say that they are.";
    DepthRange, "depth-range", Note, "A range of depths was read as its middle.";
    DepthBelowBottom, "depth-below-bottom", Doubtful, "The fish would lie below the bottom: the fish depth was blanked.";
    DepthBare, "depth-bare", Note, "A bare number beside a bait or fish word was read as fish depth.";
    TempSentinel, "temp-sentinel", Repaired, "A water temperature that stands for `unknown` was blanked.";
    TempImpossible, "temp-impossible", Doubtful, "A water temperature that no fished lake has was blanked.";
    TempUnitRepaired, "temp-unit-repaired", Repaired, "A water temperature was Fahrenheit written as Celsius.";
    OwnSuggestion, "own-suggestion", SetAside, "The mark is one of our own suggestions come back from the boat; it is no sighting.";
    // merging
    MergeConflict, "merge-conflict", Note, "Copies of one mark say different things; the stated rule chose.";
    UnitOffset, "unit-offset", Note, "One unit's marks lie a constant way off another's: an antenna mounted elsewhere or an old datum.";
    CoverRemarked, "cover-remarked", Note, "Cover or structure was marked again on other days; it is one mark with all records.";
    MarkRetired, "mark-retired", Note, "Marks of an export are no longer in a later full export of the same unit; they are kept.";
    EditUnmatched, "edit-unmatched", Doubtful, "A row of the edits file matches no mark.";
    EditUnreadable, "edit-unreadable", Doubtful, "A row of the edits file cannot be read.";
    EditDropped, "edit-dropped", SetAside, "The user's edits file drops this mark.";
    EditApplied, "edit-applied", Repaired, "The user's edits file changed this mark.";
    // soundings
    SoundingsRefused, "soundings-refused", Note, "No bottom was drawn from the track logs; the finding says what is missing.";
    SoundingsCleaned, "soundings-cleaned", Note, "How many depths the track logs hold, and which were left out.";
    SoundingsSurface, "soundings-surface", Note, "What depths of the bottom are counted from, where level, full pool or shoreline is missing.";
    SoundingsUnitOffset, "soundings-unit-offset", Note, "One unit sounds deeper than another by a constant: transducers at two depths, or a keel offset.";
    SoundingsCrossings, "soundings-crossings", Note, "How far soundings differ where tracks cross.";
    SoundingsHeldOut, "soundings-held-out", Note, "How far off the bottom is at tracks that it was not drawn from.";
    SoundingsDrawn, "soundings-drawn", Note, "How many contours were drawn, over how much water.";
    WaterDepthSounded, "water-depth-sounded", Repaired, "Marks without a water depth got that of the soundings at their place, on their day.";
    // schools, movement
    UndatedMarks, "undated-marks", Note, "Undated marks are left out of what needs a date.";
    AreaWidthAdvice, "area-width-advice", Note, "The spacing of the sightings suggests another width for holding areas; nothing was changed.";
    PairingRefused, "pairing-refused", Note, "Bait and gamefish were not paired: too few marks or no track logs.";
    MovementRefused, "movement-refused", Note, "No movement was fitted; the finding says what is missing.";
    MovementClock, "movement-clock", Note, "Which clock the season was measured by, and why.";
    MovementTracks, "movement-tracks", Note, "How many movement tracks were fitted, and how sure that number is.";
    // effort, outlook
    EffortLooked, "effort-looked", Note, "How far the boat searched and ran by its track logs, and what of them was left out.";
    OutlookBasis, "outlook-basis", Note, "How many sightings, seasons and looks an outlook stands on.";
    OutlookRanksOnly, "outlook-ranks-only", Note, "Without track logs the outlook ranks places and tells no rates.";
    OutlookThin, "outlook-thin", Note, "The outlook stands on little: a single season or few sightings.";
    OutlookNoData, "outlook-no-data", Note, "No outing of any season came near the day of the year that was asked for.";
    OutlookOffTrack, "outlook-off-track", Note, "Some sightings lie where no track log of their day passed; they count for no rate.";
    OutlookTempUnused, "outlook-temp-unused", Note, "A water temperature was given that the outlook has no use for.";
    OutlookSensitivity, "outlook-sensitivity", Note, "How far another swath or another weight of running moves the outlook.";
    BacktestRefused, "backtest-refused", Note, "No season could be held out; the finding says what is missing.";
    BacktestVerdict, "backtest-verdict", Note, "What seasons held out say of the outlook, against simple guesses.";
    // travel
    ShorelineOpen, "shoreline-open", Doubtful, "A ring of the shoreline is not closed; a straight line closes it.";
    ShorelineMissing, "shoreline-missing", Doubtful, "No shoreline is given: legs are straight and take no account of land.";
    ZoneUnreadable, "zone-unreadable", Doubtful, "A slow or closed area cannot be read; it is not in force.";
    ZoneOutside, "zone-outside", Doubtful, "A slow or closed area lies outside the lake; it changes nothing.";
    StopMoved, "stop-moved", Repaired, "A stop lies on land near the water, or too near to a hazard; it was moved into open water.";
    StopOnLand, "stop-on-land", Doubtful, "A stop lies on land away from the water; it was left out of the plan.";
    StopOtherWater, "stop-other-water", Doubtful, "A stop lies in another water than the start; it was left out of the plan.";
    StopClosed, "stop-closed", Doubtful, "A stop lies in a closed area; it was left out of the plan.";
    LegKeepOff, "leg-keep-off", Doubtful, "No way keeps off the shore as the settings ask; the leg says how far it does.";
    // prefish
    StopUnreadable, "stop-unreadable", Doubtful, "A row of the stops file cannot be used; it was left out of the plan.";
    StopsMany, "stops-many", Note, "More places are in season than a plan is searched over.";
    PrefishRefused, "prefish-refused", Doubtful, "No pre-fish route was planned; the finding says why.";
    PrefishDaylight, "prefish-daylight", Note, "Launch or return was moved into daylight.";
    PrefishDayShut, "prefish-day-shut", Doubtful, "A practice day cannot be used: its ramp is closed or cut off.";
    PrefishLate, "prefish-late", Doubtful, "The boat cannot be back in time, even without a stop.";
    PrefishWorth, "prefish-worth", Note, "What the plan is worth, and what is known of better plans.";
    MustUnfit, "must-unfit", Doubtful, "A must-stop does not fit into the plan; the finding says why.";
    FuelFar, "fuel-far", Doubtful, "A stop lies farther from the ramp than a third of the fuel range.";
    FuelShort, "fuel-short", Doubtful, "The fuel does not reach the ramp without the reserve.";
    // writing
    BoatMarksLeftOut, "boat-marks-left-out", Note, "The files for the boat hold fewer marks than there are, because `output.most_marks` asks for it.";
}

/// Something told about a record, or about a file when the origin has record 0.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Finding {
    /// What kind of finding.
    pub code: Code,
    /// The record or file it is about; `None`: the run as a whole.
    pub origin: Option<Origin>,
    /// Name of the mark as it stands; empty when there is none.
    pub name: Box<str>,
    /// What was seen, with the value in backticks.
    pub seen: Cow<'static, str>,
    /// What was done about it; empty: nothing.
    pub done: Cow<'static, str>,
    /// How to mend it; empty: nothing to mend.
    pub fix: Cow<'static, str>,
}

impl Finding {
    /// A finding about the run as a whole.
    #[must_use]
    pub fn new(code: Code, seen: impl Into<Cow<'static, str>>) -> Self {
        Self { code, origin: None, name: "".into(), seen: seen.into(), done: "".into(), fix: "".into() }
    }

    /// Says which record or file it is about.
    #[must_use]
    pub fn at(mut self, origin: Origin, name: &str) -> Self {
        self.origin = Some(origin);
        self.name = name.into();
        self
    }

    /// Says what was done.
    #[must_use]
    pub fn done(mut self, done: impl Into<Cow<'static, str>>) -> Self {
        self.done = done.into();
        self
    }

    /// Says how to mend it.
    #[must_use]
    pub fn fix(mut self, fix: impl Into<Cow<'static, str>>) -> Self {
        self.fix = fix.into();
        self
    }
}

/// A record kept out of the run: where it stands whole, and why. Of a heap of broken records, several in a row.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SetAside {
    /// Where the record stands: of several, from the start of the first to the end of the last, with the first's number.
    pub origin: Origin,
    /// How many records stand there, at least 1.
    pub records: u32,
    /// Why it was kept out; its severity is `SetAside`.
    pub finding: Finding,
}

impl SetAside {
    /// One record.
    #[must_use]
    pub const fn one(origin: Origin, finding: Finding) -> Self {
        Self { origin, records: 1, finding }
    }
}

/// What a stage hands on: kept + set aside = what came in.
#[derive(Clone, Debug, PartialEq)]
pub struct Outcome<T> {
    /// What goes on.
    pub kept: Vec<T>,
    /// What was kept out.
    pub set_aside: Vec<SetAside>,
    /// What is told about the kept records and the files (reasons of `set_aside` are there, not here).
    pub findings: Vec<Finding>,
}

impl<T> Default for Outcome<T> {
    fn default() -> Self {
        Self { kept: Vec::new(), set_aside: Vec::new(), findings: Vec::new() }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeSet;

    #[test]
    fn code_words_are_unique_kebab_case() {
        let words: BTreeSet<_> = Code::ALL.iter().map(|c| c.word()).collect();
        assert_eq!(words.len(), Code::ALL.len());
        assert!(
            words.iter().all(|w| w.chars().all(|c| c.is_ascii_lowercase() || c == '-' || c.is_ascii_digit()))
        );
    }
}
