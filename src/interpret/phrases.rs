//! Phrases: depths, temperatures and weights in what anglers type (common practice, no source).
//!
//! `24FT`, `24'`, `9.1 m`, `24-28 ft`, `10 over 32`, `@24`, `22/68` (depth/temperature), `71F`, `21.5C`, `3.5#`,
//! `depth 76.7 ft; water 40.1 F`, `40 ft of water`. An explicit unit always wins.

use super::kind::Match;
use super::tokens::Token;
use crate::terms::mark::Kind;
use crate::terms::units::{Depth, DepthUnit, TemperatureUnit, WaterTemp};

/// Whose depth a phrase tells.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Whose {
    Fish,
    Water,
    /// Not said: the kind of the mark decides.
    Untold,
}

/// What a text says in numbers.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Said {
    /// Depths with whose they are.
    pub(super) depths: Vec<(Whose, Depth)>,
    /// Depths from bare numbers beside a bait or fish word: believed only when nothing better is told.
    pub(super) bare: Vec<Depth>,
    /// Depths that no lake has, as written.
    pub(super) impossible: Vec<f64>,
    pub(super) temps: Vec<WaterTemp>,
    /// A weight is told, so a fish was caught.
    pub(super) weight: bool,
    /// A depth is the middle of a range.
    pub(super) range: bool,
}

/// Unit written behind a number.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Unit {
    Depth(DepthUnit),
    /// Feet of water.
    OfWater,
    Degrees(Option<TemperatureUnit>),
    Weight,
    /// Speed, distance, time, count: nothing of ours.
    Foreign,
}

/// Least and greatest bare number read as feet beside a bait word; in metres the same in whole metres.
const BARE_FEET: std::ops::RangeInclusive<f64> = 3.0..=80.0;
const BARE_METRES: std::ops::RangeInclusive<f64> = 1.0..=25.0;
/// Beside a gamefish word a smaller bare number may be a weight or a count.
const BARE_GAMEFISH_LEAST: f64 = 10.0;
/// Second number of `22/68` in Fahrenheit: from ice to the warmest fished water.
const SLASH_FAHRENHEIT: std::ops::RangeInclusive<f64> = 33.0..=95.0;

const DASHES: [char; 3] = ['-', '–', '—'];

/// Reads the phrases of one text. `matches` are its words that name kinds; bare numbers are read in the given units.
pub(super) fn read(
    tokens: &[Token],
    matches: &[Match],
    depth_unit: DepthUnit,
    temperature_unit: TemperatureUnit,
) -> Said {
    let mut reader = Reader { tokens, matches, depth_unit, temperature_unit, said: Said::default() };
    let mut at = 0;
    while at < tokens.len() {
        at = if tokens[at].number().is_some() { reader.number_at(at) } else { at + 1 };
    }
    reader.said
}

struct Reader<'a> {
    tokens: &'a [Token],
    matches: &'a [Match],
    depth_unit: DepthUnit,
    temperature_unit: TemperatureUnit,
    said: Said,
}

impl Reader<'_> {
    /// Reads the phrase that starts with the number at `at`; gives the token after it.
    fn number_at(&mut self, at: usize) -> usize {
        let Some(first) = self.number(at) else { return at + 1 };
        let numbering = matches!(self.tokens[at], Token::Number { ordinal: true, .. })
            || (self.sign_before(at, &['#']) || self.glued_word_before(at, "x"));
        let (unit, after) = self.unit_at(at + 1);
        if numbering && unit.is_none() {
            return at + 1;
        }
        if let Some(end) = self.clock_or_date_at(at).or_else(|| self.angle_at(unit, after)) {
            return end;
        }
        if self.is_of_something_else(at, after) {
            return after.max(at + 1);
        }
        if let Some(end) = self.over_at(at, first, unit, after) {
            return end;
        }
        if let Some(unit) = unit {
            if let Some(end) = self.pair_with_units_at(first, unit, after) {
                return end;
            }
            self.with_unit(at, first, unit, after);
            return after;
        }
        let joined = |signs: &[char]| {
            let sign = self.tokens.get(at + 1)?;
            (sign.is_sign(signs)).then(|| self.number(at + 2)).flatten()
        };
        if let Some(second) = joined(&['/']) {
            return self.slash_at(at, first, second);
        }
        if let Some(second) = joined(&DASHES).or_else(|| {
            (self.tokens.get(at + 1)?.word() == Some("to")).then(|| self.number(at + 2)).flatten()
        }) {
            return self.range_at(at, first, second);
        }
        self.without_unit(at, first);
        at + 1
    }

    fn number(&self, at: usize) -> Option<f64> {
        self.tokens.get(at)?.number()
    }

    fn sign_before(&self, at: usize, signs: &[char]) -> bool {
        at > 0 && self.tokens[at].glued() && self.tokens[at - 1].is_sign(signs)
    }

    fn glued_word_before(&self, at: usize, word: &str) -> bool {
        at > 0 && self.tokens[at].glued() && self.tokens[at - 1].word() == Some(word)
    }

    /// The unit at a token, and the token after it.
    fn unit_at(&self, at: usize) -> (Option<Unit>, usize) {
        let Some(token) = self.tokens.get(at) else { return (None, at) };
        let unit = match token {
            Token::Word { text, .. } => match text.as_str() {
                "ft" | "feet" | "foot" => Unit::Depth(DepthUnit::Feet),
                "m" | "meter" | "meters" | "metre" | "metres" | "mtr" => Unit::Depth(DepthUnit::Metres),
                "fathom" | "fathoms" | "fm" | "fth" => Unit::Depth(DepthUnit::Fathoms),
                "fow" => Unit::OfWater,
                "f" | "fahrenheit" => Unit::Degrees(Some(TemperatureUnit::Fahrenheit)),
                "c" | "celsius" => Unit::Degrees(Some(TemperatureUnit::Celsius)),
                "deg" | "degs" | "degree" | "degrees" => return self.degrees_at(at + 1),
                "lb" | "lbs" | "pound" | "pounds" | "oz" | "kg" | "kilo" | "kilos" => Unit::Weight,
                "mph" | "kn" | "kt" | "kts" | "knots" | "yd" | "yds" | "yard" | "yards" | "mi" | "mile"
                | "miles" | "km" | "cm" | "mm" | "inch" | "inches" | "am" | "pm" | "min" | "mins" | "h"
                | "hr" | "hrs" | "x" | "rpm" | "gal" | "v" | "st" | "nd" | "rd" | "th" => Unit::Foreign,
                _ => return (None, at),
            },
            Token::Sign { sign, .. } => match sign {
                '\'' | '’' | '′' => Unit::Depth(DepthUnit::Feet),
                '#' => Unit::Weight,
                '°' | 'º' | '*' => return self.degrees_at(at + 1),
                '"' | '″' | '%' => Unit::Foreign,
                _ => return (None, at),
            },
            Token::Number { .. } => return (None, at),
        };
        // `1st`, `2x`: such endings count only where they touch the number; apart they are words.
        if unit == Unit::Foreign && !token.glued() && token.word().is_some_and(|w| w.len() < 3) {
            return (None, at);
        }
        // Letters that stand alone are units only behind a number that they touch or nearly touch.
        (Some(unit), at + 1)
    }

    fn degrees_at(&self, at: usize) -> (Option<Unit>, usize) {
        let unit = match self.tokens.get(at).and_then(Token::word) {
            Some("f" | "fahrenheit") => Some(TemperatureUnit::Fahrenheit),
            Some("c" | "celsius") => Some(TemperatureUnit::Celsius),
            _ => None,
        };
        (Some(Unit::Degrees(unit)), at + usize::from(unit.is_some()))
    }

    /// `6:30`, `2024-05-01`, `5/12/24`: no quantity of ours. Gives the token after it.
    fn clock_or_date_at(&self, at: usize) -> Option<usize> {
        let joined = |from: usize, signs: &[char]| {
            self.tokens.get(from + 1).is_some_and(|t| t.is_sign(signs) && t.glued())
                && self.tokens.get(from + 2).is_some_and(|t| t.glued() && t.number().is_some())
        };
        if joined(at, &[':']) {
            return Some(if joined(at + 2, &[':']) { at + 5 } else { at + 3 });
        }
        let dashes_or = |sign: char| [DASHES[0], sign];
        (joined(at, &dashes_or('/')) && joined(at + 2, &dashes_or('/'))).then_some(at + 5)
    }

    /// `36° 07.5' N`: a position typed into a text. Gives the token after its minutes and seconds.
    fn angle_at(&self, unit: Option<Unit>, mut after: usize) -> Option<usize> {
        if unit != Some(Unit::Degrees(None)) || self.number(after).is_none() {
            return None;
        }
        while self.number(after).is_some() {
            after = self.unit_at(after + 1).1;
        }
        Some(after)
    }

    /// Whether the words around a number say that it is no depth and no water temperature: air, heights, distances,
    /// courses, lake levels.
    fn is_of_something_else(&self, at: usize, after: usize) -> bool {
        const BEFORE: [&str; 22] = [
            "air",
            "wind",
            "vis",
            "visibility",
            "clarity",
            "secchi",
            "rises",
            "rise",
            "leader",
            "cast",
            "course",
            "heading",
            "hdg",
            "bearing",
            "brg",
            "cog",
            "level",
            "pool",
            "elev",
            "elevation",
            "humidity",
            "baro",
        ];
        const BEHIND: [&str; 18] = [
            "tall",
            "high",
            "wide",
            "long",
            "wave",
            "waves",
            "chop",
            "vis",
            "visibility",
            "clarity",
            "off",
            "above",
            "up",
            "from",
            "away",
            "air",
            "apart",
            "leader",
        ];
        let behind = self.tokens.get(after).and_then(Token::word);
        self.words_before(at).iter().any(|word| BEFORE.contains(word))
            || behind.is_some_and(|word| BEHIND.contains(&word))
    }

    /// `10 over 32`, `10 ft over 32 ft`, `10 in 32 fow`, `40'/55'`: fish over bottom.
    fn over_at(&mut self, at: usize, first: f64, unit: Option<Unit>, after: usize) -> Option<usize> {
        let joint = self.tokens.get(after)?;
        let word = joint.word().unwrap_or_default();
        let second = self.number(after + 1)?;
        let (second_unit, end) = self.unit_at(after + 2);
        let as_depth = |unit: Option<Unit>| match unit {
            Some(Unit::Depth(unit)) => Some(unit),
            Some(Unit::OfWater) => Some(DepthUnit::Feet),
            _ => None,
        };
        let over = word == "over" && unit.is_none_or(|u| as_depth(Some(u)).is_some());
        let within = word == "in" && as_depth(second_unit).is_some();
        // Without both units `22/68` is depth and temperature, or a date.
        let slash = joint.is_sign(&['/']) && as_depth(unit).is_some() && as_depth(second_unit).is_some();
        if !(over || within || slash)
            || second_unit.is_some_and(|u| as_depth(Some(u)).is_none())
            || second < first
        {
            return None;
        }
        let of_first = as_depth(unit).or(as_depth(second_unit)).unwrap_or(self.depth_unit);
        let of_second = as_depth(second_unit).or(as_depth(unit)).unwrap_or(self.depth_unit);
        self.depth(Whose::Fish, first, of_first);
        self.depth(Whose::Water, second, of_second);
        // In "10 ft in 32 ft of water" the last two words say nothing more.
        debug_assert!(at < end);
        Some(end)
    }

    /// `5'6"`, `4 lb 7 oz`, `24ft-28ft`: a number with a unit that another belongs to.
    fn pair_with_units_at(&mut self, first: f64, unit: Unit, after: usize) -> Option<usize> {
        match unit {
            Unit::Depth(DepthUnit::Feet) => {
                if let (Some(_), (Some(Unit::Foreign), end)) = (self.number(after), self.unit_at(after + 1))
                    && self.tokens[end - 1].is_sign(&['"', '″'])
                {
                    let inches = self.number(after)?;
                    self.depth(Whose::Untold, first + inches / 12.0, DepthUnit::Feet);
                    return Some(end);
                }
                self.range_with_units(first, DepthUnit::Feet, after)
            }
            Unit::Depth(depth_unit) => self.range_with_units(first, depth_unit, after),
            Unit::Weight if self.number(after).is_some() => {
                let (ounces, end) = self.unit_at(after + 1);
                self.said.weight = true;
                (ounces == Some(Unit::Weight)).then_some(end)
            }
            _ => None,
        }
    }

    fn range_with_units(&mut self, first: f64, unit: DepthUnit, after: usize) -> Option<usize> {
        let joins = self.tokens.get(after)?.is_sign(&DASHES) || self.tokens[after].word() == Some("to");
        let second = self.number(after + 1).filter(|_| joins)?;
        let (Some(Unit::Depth(second_unit)), end) = self.unit_at(after + 2) else { return None };
        (second_unit == unit && second > first).then(|| {
            self.said.range = true;
            self.depth(Whose::Untold, f64::midpoint(first, second), unit);
            end
        })
    }

    fn with_unit(&mut self, at: usize, value: f64, unit: Unit, after: usize) {
        match unit {
            Unit::Depth(depth_unit) => self.depth(self.whose(at, after), value, depth_unit),
            Unit::OfWater => self.depth(Whose::Water, value, DepthUnit::Feet),
            Unit::Degrees(unit) => self.temp(value, unit),
            Unit::Weight => self.said.weight = true,
            Unit::Foreign => {}
        }
    }

    /// `22/68`: depth and temperature, where the numbers allow it and no date is as likely.
    fn slash_at(&mut self, at: usize, first: f64, second: f64) -> usize {
        let (unit, after) = self.unit_at(at + 3);
        let fahrenheit = match unit {
            Some(Unit::Degrees(None | Some(TemperatureUnit::Fahrenheit))) => true,
            Some(Unit::Degrees(Some(TemperatureUnit::Celsius))) => {
                self.depth(Whose::Untold, first, self.depth_unit);
                self.temp(second, Some(TemperatureUnit::Celsius));
                return after;
            }
            None => self.temperature_unit == TemperatureUnit::Fahrenheit,
            _ => return at + 2,
        };
        if fahrenheit && SLASH_FAHRENHEIT.contains(&second) && self.is_bare_depth(first) {
            self.depth(Whose::Untold, first, self.depth_unit);
            self.temp(second, Some(TemperatureUnit::Fahrenheit));
        }
        after.max(at + 3)
    }

    /// `24-28 ft` is a range; without a unit `4-7` beside a fish is 4 lb 7 oz and `24-28` beside bait a range.
    fn range_at(&mut self, at: usize, first: f64, second: f64) -> usize {
        let (unit, after) = self.unit_at(at + 3);
        match unit {
            Some(Unit::Depth(unit)) => {
                self.said.range = true;
                self.depth(self.whose(at, after), f64::midpoint(first, second), unit);
            }
            Some(Unit::OfWater) => {
                self.said.range = true;
                self.depth(Whose::Water, f64::midpoint(first, second), DepthUnit::Feet);
            }
            Some(Unit::Degrees(unit)) => self.temp(f64::midpoint(first, second), unit),
            Some(Unit::Weight) => self.said.weight = true,
            Some(_) => {}
            None => {
                let fish = self.matches.iter().any(|m| m.kind == Kind::Gamefish);
                let date = first <= 12.0 && second <= 31.0;
                if fish && first <= 25.0 && second < 16.0 {
                    self.said.weight = true;
                } else if self.beside(at, Kind::Bait) && second > first && !date && self.is_bare_depth(second)
                {
                    self.said.range = true;
                    self.bare(f64::midpoint(first, second));
                }
            }
        }
        after
    }

    /// A number alone: what stands before it tells, or a bait word beside it.
    fn without_unit(&mut self, at: usize, value: f64) {
        let before = self.words_before(at);
        let says = |words: &[&str]| before.iter().any(|word| words.contains(word));
        if says(&["temp", "temps", "temperature", "surface", "surf", "wtemp", "watertemp"]) {
            self.temp(value, None);
        } else if says(&["depth", "dpt", "bottom", "suspended", "susp"]) || self.sign_before_loosely(at, '@')
        {
            let whose = self.whose(at, at + 1);
            self.depth(whose, value, self.depth_unit);
        } else if self.is_bare_depth(value)
            && (self.beside(at, Kind::Bait)
                || (self.behind(at, Kind::Gamefish) && value >= BARE_GAMEFISH_LEAST))
        {
            self.bare(value);
        }
    }

    fn sign_before_loosely(&self, at: usize, sign: char) -> bool {
        at > 0 && self.tokens[at - 1].is_sign(&[sign])
    }

    /// Up to three words before a token, back to the number or the semicolon before it.
    fn words_before(&self, at: usize) -> Vec<&str> {
        self.tokens[..at]
            .iter()
            .rev()
            .take_while(|t| t.number().is_none() && !t.is_sign(&[';', ',']))
            .filter_map(Token::word)
            .take(3)
            .collect()
    }

    /// Whose depth a phrase tells by the words around it: `water depth`, `fish depth`, `of water`, `down`.
    fn whose(&self, at: usize, after: usize) -> Whose {
        let before = self.words_before(at);
        let says = |word: &str| before.contains(&word);
        let behind = |offset: usize| self.tokens.get(after + offset).and_then(Token::word);
        if says("bottom")
            || (says("water") && says("depth"))
            || (behind(0), behind(1)) == (Some("of"), Some("water"))
        {
            Whose::Water
        } else if says("suspended")
            || says("susp")
            || (says("depth") && (says("fish") || says("bait")))
            || behind(0) == Some("down")
        {
            Whose::Fish
        } else {
            Whose::Untold
        }
    }

    /// Whether the nearest word or number before or after a number is one that names a kind.
    fn beside(&self, at: usize, kind: Kind) -> bool {
        let next = (at + 1..self.tokens.len()).find(|i| !matches!(self.tokens[*i], Token::Sign { .. }));
        self.behind(at, kind) || next.is_some_and(|i| self.names(i, kind))
    }

    /// The same for what stands before it only: `15 bass` counts fish.
    fn behind(&self, at: usize, kind: Kind) -> bool {
        let previous = (0..at).rev().find(|i| !matches!(self.tokens[*i], Token::Sign { .. }));
        previous.is_some_and(|i| self.names(i, kind))
    }

    fn names(&self, at: usize, kind: Kind) -> bool {
        self.matches.iter().any(|m| m.kind == kind && (m.from..m.to).contains(&at))
    }

    fn is_bare_depth(&self, value: f64) -> bool {
        match self.depth_unit {
            DepthUnit::Feet => BARE_FEET.contains(&value),
            DepthUnit::Metres | DepthUnit::Fathoms => BARE_METRES.contains(&value),
        }
    }

    fn bare(&mut self, value: f64) {
        self.said.bare.extend(Depth::from_number(value, self.depth_unit));
    }

    fn depth(&mut self, whose: Whose, value: f64, unit: DepthUnit) {
        match Depth::from_number(value, unit) {
            Some(depth) => self.said.depths.push((whose, depth)),
            None => self.said.impossible.push(value),
        }
    }

    fn temp(&mut self, value: f64, unit: Option<TemperatureUnit>) {
        self.said.temps.extend(WaterTemp::from_number(value, unit.unwrap_or(self.temperature_unit)));
    }
}

#[cfg(test)]
mod tests;
