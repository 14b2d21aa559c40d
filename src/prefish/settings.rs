//! `[prefish]`: the practice days, the boat, the places to stay off.

use crate::terms::place::Place;
use crate::terms::units::{Distance, METRES_PER_MILE, Span, Speed, Volume};
use jiff::civil::{Date, Time};
use serde::{Deserialize, Deserializer, de};
use std::path::PathBuf;

/// `[prefish]`.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Settings {
    /// First practice day; `None`: `run` plans nothing.
    #[serde(deserialize_with = "date")]
    pub date: Option<Date>,
    /// Practice days in a row, 1 to 3. Default 1.
    #[serde(deserialize_with = "days")]
    pub days: u8,
    /// Where the boat goes in.
    pub start: Option<Spot>,
    /// Where it comes out; `None`: where it went in.
    pub finish: Option<Spot>,
    /// When it leaves; `None`: at first light (civil dawn).
    #[serde(deserialize_with = "clock")]
    pub launch: Option<Time>,
    /// When it is back, at the latest. Default 15:00 (common practice, no source).
    #[serde(deserialize_with = "clock_given")]
    pub off_water: Time,
    /// Speed between stops. Default 30 mph (common practice, no source).
    pub run_speed: Speed,
    /// Speed near the shore and at ramps. Default 5 mph (common practice, no source).
    pub idle_speed: Speed,
    /// Speed while looking. Default 4 mph (common practice, no source).
    pub search_speed: Speed,
    /// Most time given to one stop. Default 25 min: with a wide picture a 50-acre box is then looked over once.
    #[serde(deserialize_with = "search_time")]
    pub search_time: Span,
    /// How far the fuel aboard takes the boat; `None`: not limited.
    pub range: Option<Distance>,
    /// Fuel that takes the boat over `range`, so that fuel can be told as a volume on the water; `None`: it cannot.
    pub tank: Option<Volume>,
    /// A third out, a third back, a third kept: the plan uses two thirds of `range`. Default true. `false`: all of it,
    /// for a range from which the reserve is already taken.
    pub thirds: bool,
    /// Distance kept from shore and hazards. Default 20 m: two errors of a consumer GPS.
    pub keep_off: Distance,
    /// A hazard with more water over it on the day is not kept off and not told. Default 3 m (10 ft): several times the
    /// draught of a boat on plane or off it (no source).
    pub clearance: Distance,
    /// Pool level to expect on the practice days, of which no reading tells; `None`: hazards count whatever their depth.
    pub level: Option<String>,
    /// GeoJSON of slow and closed areas.
    pub zones: Option<PathBuf>,
    /// CSV of the user's own stops.
    pub stops: Option<PathBuf>,
    /// Most stops on one day. Default 12 (8 to 20 are common practice, no source).
    #[serde(deserialize_with = "max_stops")]
    pub max_stops: usize,
    /// Starts the search.
    pub seed: u64,
}

/// A place by its coordinates, or by the name of an access mark.
#[derive(Clone, Debug, PartialEq)]
pub enum Spot {
    /// Longitude and latitude.
    At(Place),
    /// Name of an access mark of the log.
    Named(String),
}

impl Default for Settings {
    fn default() -> Self {
        let mph = |speed: f64| Speed::from_metres_per_second(speed * METRES_PER_MILE / 3600.0);
        Self {
            date: None,
            days: 1,
            start: None,
            finish: None,
            launch: None,
            off_water: Time::constant(15, 0, 0, 0),
            run_speed: mph(30.0),
            idle_speed: mph(5.0),
            search_speed: mph(4.0),
            search_time: Span::from_seconds(25.0 * 60.0),
            range: None,
            tank: None,
            thirds: true,
            keep_off: Distance::from_metres(20.0),
            clearance: Distance::from_metres(3.0),
            level: None,
            zones: None,
            stops: None,
            max_stops: 12,
            seed: 1,
        }
    }
}

impl Settings {
    /// Whether the user asked for a plan: a date or a start is set.
    #[must_use]
    pub const fn wanted(&self) -> bool {
        self.date.is_some() || self.start.is_some()
    }
}

impl<'de> Deserialize<'de> for Spot {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let told = "write [longitude, latitude], like [-94.1, 35.2], or the name of an access mark";
        match toml::Value::deserialize(deserializer)? {
            toml::Value::String(name) if name.trim().is_empty() => Err(de::Error::custom(told)),
            toml::Value::String(name) => Ok(Self::Named(name.trim().to_owned())),
            toml::Value::Array(pair) => {
                let number = |value: &toml::Value| match value {
                    toml::Value::Float(number) => Some(*number),
                    toml::Value::Integer(number) => Some(*number as f64),
                    _ => None,
                };
                match pair.as_slice() {
                    [lon, lat] => number(lon)
                        .zip(number(lat))
                        .and_then(|(lon, lat)| Place::new(lon, lat))
                        .map(Self::At)
                        .ok_or_else(|| {
                            de::Error::custom(format!("`[{lon}, {lat}]` is no place on the earth: {told}"))
                        }),
                    _ => Err(de::Error::custom(told)),
                }
            }
            _ => Err(de::Error::custom(told)),
        }
    }
}

/// Reads a date as the settings and `--date` write it.
///
/// # Errors
/// When it is none.
pub fn read_date(text: &str) -> Result<Date, String> {
    text.trim().parse().map_err(|_| format!("`{text}` is no date: write it like 2027-01-09"))
}

/// Reads a clock time as the settings and `--at` write it.
///
/// # Errors
/// When it is none.
pub fn read_clock(text: &str) -> Result<Time, String> {
    let whole = text.trim();
    let parts: Vec<&str> = whole.split(':').collect();
    let digits = |part: &&str| (1..=2).contains(&part.len()) && part.bytes().all(|b| b.is_ascii_digit());
    let told = || format!("`{text}` is no time of day: write it like 06:45, from 00:00 to 23:59");
    match parts.as_slice() {
        [hour, minute] if digits(hour) && digits(minute) => {
            let [hour, minute] = [hour, minute].map(|part| part.parse().ok());
            hour.zip(minute).and_then(|(h, m)| Time::new(h, m, 0, 0).ok()).ok_or_else(told)
        }
        _ => Err(told()),
    }
}

fn date<'de, D: Deserializer<'de>>(deserializer: D) -> Result<Option<Date>, D::Error> {
    let text = match toml::Value::deserialize(deserializer)? {
        toml::Value::String(text) => text,
        other => other.to_string(),
    };
    read_date(&text).map(Some).map_err(de::Error::custom)
}

fn clock_given<'de, D: Deserializer<'de>>(deserializer: D) -> Result<Time, D::Error> {
    let text = match toml::Value::deserialize(deserializer)? {
        toml::Value::String(text) => text,
        // A TOML time has seconds: 06:45:00.
        other => other.to_string().trim_end_matches(":00").to_owned(),
    };
    read_clock(&text).map_err(de::Error::custom)
}

fn clock<'de, D: Deserializer<'de>>(deserializer: D) -> Result<Option<Time>, D::Error> {
    clock_given(deserializer).map(Some)
}

fn days<'de, D: Deserializer<'de>>(deserializer: D) -> Result<u8, D::Error> {
    let days = i64::deserialize(deserializer)?;
    u8::try_from(days).ok().filter(|days| (1..=3).contains(days)).ok_or_else(|| {
        de::Error::custom(format!("`{days}` practice days cannot be planned: write 1, 2 or 3"))
    })
}

fn max_stops<'de, D: Deserializer<'de>>(deserializer: D) -> Result<usize, D::Error> {
    let stops = i64::deserialize(deserializer)?;
    usize::try_from(stops)
        .ok()
        .filter(|stops| (1..=100).contains(stops))
        .ok_or_else(|| de::Error::custom(format!("`{stops}` is no number of stops: write 1 to 100")))
}

fn search_time<'de, D: Deserializer<'de>>(deserializer: D) -> Result<Span, D::Error> {
    let span = Span::deserialize(deserializer)?;
    if (60.0..=8.0 * 3600.0).contains(&span.seconds()) {
        Ok(span)
    } else {
        Err(de::Error::custom("`search_time` is no time for one stop: write from `1 min` to `8 h`"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Reads one line of `[prefish]`; the error's text, or `ok`.
    #[track_caller]
    fn check(line: &str, expected: &str) {
        let got = toml::from_str::<Settings>(line).map_or_else(|e| e.to_string(), |_| "ok".to_owned());
        assert!(got.contains(expected), "{line}: {got}");
    }

    #[test]
    fn values_that_make_no_sense_say_what_to_write() {
        check("date = 2027-01-09", "ok");
        check("date = \"2027-02-30\"", "`2027-02-30` is no date");
        check("days = 4", "write 1, 2 or 3");
        check("start = \"North Ramp\"", "ok");
        check("start = [-94, 35.2]", "ok");
        check("start = [35.2, -94.1]", "is no place on the earth");
        check("start = [35.2]", "write [longitude, latitude]");
        check("launch = \"6.45\"", "`6.45` is no time of day: write it like 06:45");
        check("launch = \"6:45\"", "ok");
        check("launch = 06:45:00", "ok");
        check("off_water = \"24:00\"", "from 00:00 to 23:59");
        check("search_time = \"0 min\"", "from `1 min` to `8 h`");
        check("max_stops = 0", "write 1 to 100");
        check("range = \"60\"", "`60` is no distance");
        check("run_sped = \"30 mph\"", "unknown field");
    }
}
