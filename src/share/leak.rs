//! The leak test: reads the bytes that are about to go out, and tells what in them must not.
//!
//! It trusts nothing that made them, but for which true places stand behind a moved one. Every text must be one of ours, every number must be coarse, and what is shown is
//! counted again from the log. A file that cannot be read as JSON is a leak, because nobody knows what it says.

use super::groups::{Ground, Tally, when};
use super::layer::exact_numbers;
use super::mask::same_patch;
use super::{Floor, LEAST_PLACES, Level, Mask, Places, Seen, Shared, When, Wish, Zones};
use crate::layers::{GENERATOR, caution, colours};
use crate::terms::mark::{Kind, Mark};
use crate::terms::place::Place;
use serde_json::Value;
use std::collections::{BTreeMap, BTreeSet};
use std::fmt;

/// Decimals of a degree that a layer may have.
const DECIMALS: usize = 3;
/// Texts of the log shorter than this turn up by chance.
const SHORTEST: usize = 3;

/// Something that must not go out.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Leak {
    /// A coordinate of a mark, to four decimals.
    Coordinate(String),
    /// A number with more decimals than a layer may have.
    Fine(String),
    /// A mark's name, note or other text, or the name of a file or unit.
    Text(String),
    /// The id of a mark, sighting or area.
    Id(String),
    /// The time or date of a mark.
    Time(String),
    /// A text that is none of ours.
    Foreign(String),
    /// A kind that is too rare in its place to be shown.
    Rare(String),
    /// A place that too few others could stand for.
    Few(String),
    /// A moved place that lies within a patch of a true one: the nearest plausible place would be right.
    Near(String),
    /// A file that is no JSON, or holds what no layer of ours holds.
    Unreadable(String),
}

impl fmt::Display for Leak {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Coordinate(what) => write!(f, "the coordinate `{what}` of a mark"),
            Self::Fine(what) => write!(f, "the number `{what}`, which is finer than 0.001 degrees"),
            Self::Text(what) => write!(f, "`{what}`, which is a name or note of your log"),
            Self::Id(what) => write!(f, "the id `{what}`"),
            Self::Time(what) => write!(f, "the time `{what}` of a mark"),
            Self::Foreign(what) => write!(f, "the text `{what}`, which is none of ours"),
            Self::Rare(what) => write!(f, "{what}, which is too rare to be shown"),
            Self::Few(what) => write!(f, "{what}, hidden among fewer than {LEAST_PLACES} places"),
            Self::Near(what) => write!(f, "{what}, shown where it was seen"),
            Self::Unreadable(what) => write!(f, "something that no layer of ours holds: {what}"),
        }
    }
}

/// What must not go out, gathered from the log and not from what was made of it.
pub struct Truth {
    level: Level,
    floor: Floor,
    /// Coordinates of all marks, to four decimals.
    coordinates: BTreeSet<String>,
    /// Texts in lower case.
    texts: BTreeSet<String>,
    ids: BTreeSet<String>,
    times: BTreeSet<String>,
    /// Numbers of hazards that the user wants to go out.
    wanted: BTreeSet<String>,
    /// The one text of the user that may go out: the name of the lake.
    lake: String,
    seen: Vec<Seen>,
    places: Places,
    zones: Zones,
    /// Of a mask: chances of all shown places, worked out anew.
    mask: Option<Mask>,
    shared: Shared,
}

impl Truth {
    /// Gathers it. `ids` are those of areas; `texts` are names of files and units.
    #[must_use]
    pub fn of(wish: &Wish<'_>, shared: &Shared, ids: &[String], texts: &[String]) -> Option<Self> {
        let water = wish.lake.water.as_ref()?;
        let places = Places::of(water);
        let zones = Zones::of(&places);
        let exact = wish.exact_hazards;
        let hidden = |m: &&Mark| !(exact && m.kind == Kind::Hazard);
        let coordinates = wish.log.iter().filter(hidden).flat_map(|m| four_decimals(m.place)).collect();
        let words = wish.log.iter().flat_map(|m| m.words.in_order().into_iter().chain([&*m.note]));
        let texts = words
            .map(str::to_lowercase)
            .chain(texts.iter().map(|t| t.to_lowercase()))
            .map(|text| text.trim().to_owned())
            .filter(|text| text.chars().count() >= SHORTEST)
            .collect();
        let own = wish.log.iter().map(|m| m.id).chain(wish.sightings.iter().map(|s| s.id));
        let mut counted = Shared::default();
        Some(Self {
            level: wish.level,
            floor: Floor::default(),
            coordinates,
            texts,
            ids: own.map(|id| id.to_string()).chain(ids.iter().cloned()).collect(),
            times: wish.log.iter().flat_map(times).collect(),
            wanted: if exact { exact_numbers(&shared.hazards).collect() } else { BTreeSet::new() },
            lake: wish.lake.name.clone(),
            seen: super::seen(wish, &mut counted),
            mask: (wish.level == Level::Mask).then(|| Mask::of(&places, &zones, &super::Ring::default())),
            places,
            zones,
            shared: shared.clone(),
        })
    }
}

fn four_decimals(place: Place) -> [String; 2] {
    [place.lon, place.lat].map(|degrees| format!("{degrees:.4}"))
}

fn times(mark: &Mark) -> Vec<String> {
    let moment = mark.time.map(crate::terms::instant::Instant::rfc3339);
    let date = mark.day.map(|day| day.date.to_string());
    moment.into_iter().chain(date).collect()
}

/// Reads what is about to go out; nothing found: it may.
#[must_use]
pub fn leaks(files: &[(String, Vec<u8>)], truth: &Truth) -> Vec<(String, Leak)> {
    let mut found = BTreeSet::new();
    for (name, bytes) in files {
        let mut of_file = BTreeSet::new();
        match tokens(bytes) {
            Ok(tokens) => {
                let before = std::iter::once(None).chain(tokens.iter().map(Some));
                before
                    .zip(&tokens)
                    .for_each(|(before, token)| truth.judge(before, token, name, &mut of_file));
            }
            Err(at) => {
                of_file.insert(Leak::Unreadable(format!("byte {at} is no JSON")));
            }
        }
        truth.count_again(name, bytes, &mut of_file);
        found.extend(of_file.into_iter().map(|leak| (name.clone(), leak)));
    }
    found.into_iter().collect()
}

/// A piece of JSON text that says something.
enum Token {
    Text(String),
    Number(String),
}

/// The texts and numbers of a JSON text, in their order; else the byte that is none. Nothing is passed over: members
/// that stand twice, which a reader would drop, are here.
fn tokens(bytes: &[u8]) -> Result<Vec<Token>, usize> {
    let mut tokens = Vec::new();
    let mut at = 0;
    while let Some(byte) = bytes.get(at) {
        let start = at;
        match byte {
            b'"' => {
                at += 1;
                while *bytes.get(at).ok_or(start)? != b'"' {
                    at += if bytes[at] == b'\\' { 2 } else { 1 };
                }
                at += 1;
                let text = bytes.get(start..at).and_then(|token| serde_json::from_slice(token).ok());
                tokens.push(Token::Text(text.ok_or(start)?));
            }
            b'-' | b'0'..=b'9' => {
                let rest = bytes[at..].iter();
                at +=
                    rest.take_while(|b| matches!(b, b'-' | b'+' | b'.' | b'e' | b'E' | b'0'..=b'9')).count();
                tokens.push(Token::Number(String::from_utf8_lossy(&bytes[start..at]).into_owned()));
            }
            b'{' | b'}' | b'[' | b']' | b':' | b',' | b' ' | b'\n' => at += 1,
            _ => {
                let word =
                    [&b"true"[..], b"false", b"null"].into_iter().find(|word| bytes[at..].starts_with(word));
                at += word.ok_or(start)?.len();
            }
        }
    }
    Ok(tokens)
}

impl Truth {
    fn judge(&self, before: Option<&Token>, token: &Token, file: &str, found: &mut BTreeSet<Leak>) {
        let key = if let Some(Token::Text(key)) = before { key } else { "" };
        match token {
            Token::Number(number) => self.judge_number(number, file, found),
            Token::Text(text) if is_ours(key, text) => {}
            Token::Text(text) => {
                let known = found.len();
                self.judge_text(text, found);
                if found.len() == known && *text != self.lake {
                    found.insert(Leak::Foreign(text.clone()));
                }
            }
        }
    }

    fn judge_number(&self, number: &str, file: &str, found: &mut BTreeSet<Leak>) {
        let decimals = number.split_once('.').map_or(0, |(_, decimals)| decimals.len());
        if number.contains(['e', 'E']) || decimals > DECIMALS {
            if file.ends_with(HAZARDS) && self.wanted.contains(number) {
                return;
            }
            let four = number.parse::<f64>().map_or_else(|_| String::new(), |n| format!("{n:.4}"));
            let of_a_mark = self.coordinates.contains(&four);
            found.insert(if of_a_mark { Leak::Coordinate(four) } else { Leak::Fine(number.to_owned()) });
        }
    }

    /// What of the log stands in a text.
    fn judge_text(&self, text: &str, found: &mut BTreeSet<Leak>) {
        let lower = text.to_lowercase();
        found.extend(self.texts.iter().filter(|t| holds_word(&lower, t)).map(|t| Leak::Text(t.clone())));
        found.extend(self.ids.iter().filter(|id| lower.contains(id.as_str())).map(|id| Leak::Id(id.clone())));
        let times = self.times.iter().filter(|time| lower.contains(&time.to_lowercase()));
        found.extend(times.map(|time| Leak::Time(time.clone())));
        let is_number = |c: char| c.is_ascii_digit() || c == '.' || c == '-';
        for number in text.split(|c| !is_number(c)).filter(|n| n.contains('.')) {
            let degrees = number.trim_matches('.').parse::<f64>().ok();
            // A hemisphere may stand for the sign.
            let signs = degrees.into_iter().flat_map(|d| [format!("{d:.4}"), format!("{:.4}", -d)]);
            found.extend(signs.filter(|n| self.coordinates.contains(n)).map(Leak::Coordinate));
        }
    }

    /// Counts what is shown against the log.
    fn count_again(&self, file: &str, bytes: &[u8], found: &mut BTreeSet<Leak>) {
        if file.ends_with(HAZARDS) || !file.ends_with(".geojson") {
            return;
        }
        let features = serde_json::from_slice::<Value>(bytes)
            .ok()
            .and_then(|v| Some(v.get("features")?.as_array()?.clone()));
        let Some(features) = features else {
            found.insert(Leak::Unreadable("it is no FeatureCollection".into()));
            return;
        };
        let tallies = self.tallies();
        for feature in &features {
            let properties = &feature["properties"];
            let kind = properties["kind"].as_str().and_then(Kind::from_word);
            let place = properties["place"].as_str().unwrap_or_default();
            let month = properties["month"].as_i64().map_or(When::Always, |month| When::Month(month as i8));
            let when = if self.level == Level::Mask { When::Always } else { month };
            let tally = kind.and_then(|kind| tallies.get(&(place.to_owned(), kind, when)));
            let what = format!("`{}` in {place}", kind.map_or("?", Kind::word));
            if tally.is_none_or(|tally| tally.is_rare(self.floor)) {
                found.insert(Leak::Rare(what.clone()));
            }
            match self.level {
                Level::Mask => self.check_moved(feature, &what, found),
                Level::Arm | Level::Cell => {
                    let size = self.places_in(place);
                    if size < LEAST_PLACES {
                        found.insert(Leak::Few(what));
                    }
                }
            }
        }
    }

    /// Everything that may be shared, by place, kind and month; of a mask by place and kind.
    fn tallies(&self) -> BTreeMap<(String, Kind, When), Tally<'_>> {
        let ground = Ground { places: &self.places, zones: &self.zones };
        let mut tallies: BTreeMap<(String, Kind, When), Tally<'_>> = BTreeMap::new();
        for seen in &self.seen {
            let name = self.places.nearest(seen.place).and_then(|at| ground.name(self.level, at));
            let when = if self.level == Level::Mask { When::Always } else { when(self.level, seen) };
            if let Some(name) = name {
                tallies.entry((name, seen.kind, when)).or_default().seen.push(seen);
            }
        }
        tallies
    }

    /// Plausible places of a zone or square.
    fn places_in(&self, name: &str) -> usize {
        let ground = Ground { places: &self.places, zones: &self.zones };
        let in_it = |knot: &&super::Knot| ground.name(self.level, **knot).as_deref() == Some(name);
        self.places.knots().iter().filter(in_it).count()
    }

    fn check_moved(&self, feature: &Value, what: &str, found: &mut BTreeSet<Leak>) {
        let number = |i: usize| feature["geometry"]["coordinates"][i].as_f64();
        let at = number(0).zip(number(1)).and_then(|(lon, lat)| self.places.nearest(Place { lon, lat }));
        let Some((at, place)) = at.and_then(|at| Some((at, self.places.number(at)?))) else {
            found.insert(Leak::Unreadable(format!("{what} lies outside the water")));
            return;
        };
        if self.mask.as_ref().is_none_or(|mask| mask.k(place) + 1e-9 < LEAST_PLACES as f64) {
            found.insert(Leak::Few(what.to_owned()));
        }
        let behind = self.shared.behind.get(&at).map_or(&[][..], Vec::as_slice);
        if behind.is_empty() || behind.iter().any(|true_place| same_patch(*true_place, at)) {
            found.insert(Leak::Near(what.to_owned()));
        }
    }
}

/// The file of exact hazards.
const HAZARDS: &str = "hazards.geojson";

/// Whether one text holds another as words of its own.
fn holds_word(text: &str, word: &str) -> bool {
    let is_edge = |c: Option<char>| c.is_none_or(|c| !c.is_alphanumeric());
    text.match_indices(word).any(|(at, _)| {
        is_edge(text[..at].chars().next_back()) && is_edge(text[at + word.len()..].chars().next())
    })
}

/// Whether a text, behind another one, is one that we write, whatever the log.
fn is_ours(key: &str, text: &str) -> bool {
    const WORDS: &[&str] = &[
        "type",
        "FeatureCollection",
        "Feature",
        "Point",
        "Polygon",
        "MultiPolygon",
        "generator",
        "caution",
        "shared",
        "units",
        "system",
        "us",
        "metric",
        "depth",
        "temperature",
        "ft",
        "m",
        "f",
        "c",
        "bbox",
        "features",
        "id",
        "geometry",
        "coordinates",
        "properties",
        "kind",
        "place",
        "month",
        "from_day",
        "to_day",
        "sightings",
        "sightings_at_least",
        "fish_depth_low_ft",
        "fish_depth_high_ft",
        "fish_depth_low_m",
        "fish_depth_high_m",
        "water_temp_low_f",
        "water_temp_high_f",
        "water_temp_low_c",
        "water_temp_high_c",
        "k",
        "k_least",
        "lake",
        "level",
        "arm",
        "cell",
        "mask",
        "marker-color",
        "marker-size",
        "medium",
        "stroke",
        "stroke-width",
        "fill",
        "fill-opacity",
        GENERATOR,
        caution::FULL,
        super::layer::HAZARDS_MEANING,
    ];
    let digits = |text: &str, length: std::ops::RangeInclusive<usize>| {
        length.contains(&text.len()) && text.bytes().all(|b| b.is_ascii_digit())
    };
    let degrees = |text: &str| {
        let text = text.strip_prefix('-').unwrap_or(text);
        text.split_once('.').is_some_and(|(whole, part)| digits(whole, 1..=3) && digits(part, 2..=2))
    };
    let two = |text: &str, parted_by: char, is: &dyn Fn(&str) -> bool| {
        text.split_once(parted_by).is_some_and(|(a, b)| is(a) && is(b))
    };
    let fixed = WORDS.contains(&text)
        || [Level::Arm, Level::Cell, Level::Mask].iter().any(|level| level.meaning() == text)
        || Kind::ALL.iter().any(|kind| kind.word() == text || colours::of(*kind) == text);
    fixed
        || match key {
            "id" => digits(text, 1..=7) && !text.starts_with('0'),
            "from_day" | "to_day" => two(text, '-', &|part| digits(part, 2..=2)),
            "place" => {
                text.strip_prefix("zone ").is_some_and(|number| digits(number, 1..=4))
                    || text.strip_prefix("square ").is_some_and(|square| two(square, ' ', &degrees))
            }
            _ => false,
        }
}
