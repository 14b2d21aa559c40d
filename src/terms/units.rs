//! Quantities with their units. The only place where feet, miles and Fahrenheit are converted.

use serde::{Deserialize, Deserializer, Serialize, de};
use std::fmt;
use std::str::FromStr;

/// International foot, exact by definition (1959 agreement; NIST SP 811).
pub const METRES_PER_FOOT: f64 = 0.3048;
/// International mile, exact: 5280 feet.
pub const METRES_PER_MILE: f64 = 1609.344;
/// International nautical mile, exact (BIPM SI brochure, table 8 of the 8th edition).
pub const METRES_PER_NAUTICAL_MILE: f64 = 1852.0;

/// Square metres in an acre: 4,840 square yards, exact (international yard of 0.9144 m).
pub const SQUARE_METRES_PER_ACRE: f64 = 4840.0 * 0.9144 * 0.9144;

/// Which units the outputs speak: `[lake] units`.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Units {
    /// Feet, miles, miles an hour, Fahrenheit.
    #[default]
    Us,
    /// Metres, kilometres, kilometres an hour, Celsius.
    Metric,
}

impl Units {
    /// Suffix of a property that holds a depth, a radius or a level: `ft` or `m`.
    #[must_use]
    pub const fn short_length(self) -> &'static str {
        match self {
            Self::Us => "ft",
            Self::Metric => "m",
        }
    }

    /// Suffix of a property that holds a way: `mi` or `km`.
    #[must_use]
    pub const fn long_length(self) -> &'static str {
        match self {
            Self::Us => "mi",
            Self::Metric => "km",
        }
    }

    /// Suffix of a property that holds a temperature: `f` or `c`.
    #[must_use]
    pub const fn temperature(self) -> &'static str {
        match self {
            Self::Us => "f",
            Self::Metric => "c",
        }
    }

    /// A number of metres in feet or metres.
    #[must_use]
    pub fn short_from_metres(self, metres: f64) -> f64 {
        match self {
            Self::Us => metres / METRES_PER_FOOT,
            Self::Metric => metres,
        }
    }

    /// A number of metres in miles or kilometres.
    #[must_use]
    pub fn long_from_metres(self, metres: f64) -> f64 {
        match self {
            Self::Us => metres / METRES_PER_MILE,
            Self::Metric => metres / 1000.0,
        }
    }

    /// Suffix of a property that holds an area of water: `acres` or `ha`.
    #[must_use]
    pub const fn area(self) -> &'static str {
        match self {
            Self::Us => "acres",
            Self::Metric => "ha",
        }
    }

    /// A number of square metres in acres or hectares.
    #[must_use]
    pub fn area_from_square_metres(self, square_metres: f64) -> f64 {
        match self {
            Self::Us => square_metres / SQUARE_METRES_PER_ACRE,
            Self::Metric => square_metres / 10_000.0,
        }
    }

    /// A surface temperature in Fahrenheit or Celsius.
    #[must_use]
    pub fn degrees(self, temperature: WaterTemp) -> f64 {
        match self {
            Self::Us => temperature.fahrenheit(),
            Self::Metric => temperature.celsius(),
        }
    }
}

/// Unit of a bare depth number in a name or a column.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub enum DepthUnit {
    /// Feet.
    #[default]
    #[serde(rename = "ft")]
    Feet,
    /// Metres.
    #[serde(rename = "m")]
    Metres,
    /// Fathoms of six feet.
    #[serde(rename = "fathom")]
    Fathoms,
}

impl DepthUnit {
    /// A number in this unit as metres, whatever its range.
    #[must_use]
    pub fn to_metres(self, number: f64) -> f64 {
        match self {
            Self::Feet => number * METRES_PER_FOOT,
            Self::Metres => number,
            Self::Fathoms => number * 6.0 * METRES_PER_FOOT,
        }
    }
}

/// Unit of a bare temperature number in a name or a column.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub enum TemperatureUnit {
    /// Degrees Fahrenheit.
    #[default]
    #[serde(rename = "F")]
    Fahrenheit,
    /// Degrees Celsius.
    #[serde(rename = "C")]
    Celsius,
}

impl TemperatureUnit {
    /// A number in this unit as degrees Celsius, whatever its range.
    #[must_use]
    pub fn to_celsius(self, number: f64) -> f64 {
        match self {
            Self::Fahrenheit => (number - 32.0) / 1.8,
            Self::Celsius => number,
        }
    }
}

/// Depth below the surface of that day, never negative (Darwin Core keeps `minimumDepthInMeters` the same way).
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct Depth(f32);

impl Depth {
    /// Deepest depth taken as one. The deepest lake has 1,642 m (Baikal; encyclopaedia figure, from memory).
    pub const MAX_M: f64 = 1700.0;

    /// From metres; `None` when negative, not a number or deeper than any lake.
    #[must_use]
    pub fn from_metres(metres: f64) -> Option<Self> {
        (0.0..=Self::MAX_M).contains(&metres).then_some(Self(metres as f32))
    }

    /// From feet; `None` as for metres.
    #[must_use]
    pub fn from_feet(feet: f64) -> Option<Self> {
        Self::from_metres(feet * METRES_PER_FOOT)
    }

    /// From a bare number in a given unit; `None` as for metres.
    #[must_use]
    pub fn from_number(number: f64, unit: DepthUnit) -> Option<Self> {
        match unit {
            DepthUnit::Feet => Self::from_feet(number),
            DepthUnit::Metres => Self::from_metres(number),
            DepthUnit::Fathoms => Self::from_feet(number * 6.0),
        }
    }

    /// In metres.
    #[must_use]
    pub fn metres(self) -> f64 {
        f64::from(self.0)
    }

    /// In feet.
    #[must_use]
    pub fn feet(self) -> f64 {
        self.metres() / METRES_PER_FOOT
    }
}

/// Temperature of the water at the surface.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct WaterTemp(f32);

impl WaterTemp {
    /// From degrees Celsius; `None` outside -2 to 50, which no fished water has.
    #[must_use]
    pub fn from_celsius(celsius: f64) -> Option<Self> {
        (-2.0..=50.0).contains(&celsius).then_some(Self(celsius as f32))
    }

    /// From degrees Fahrenheit; `None` as for Celsius.
    #[must_use]
    pub fn from_fahrenheit(fahrenheit: f64) -> Option<Self> {
        Self::from_celsius((fahrenheit - 32.0) / 1.8)
    }

    /// From a bare number in a given unit; `None` as for Celsius.
    #[must_use]
    pub fn from_number(number: f64, unit: TemperatureUnit) -> Option<Self> {
        match unit {
            TemperatureUnit::Fahrenheit => Self::from_fahrenheit(number),
            TemperatureUnit::Celsius => Self::from_celsius(number),
        }
    }

    /// In degrees Celsius.
    #[must_use]
    pub fn celsius(self) -> f64 {
        f64::from(self.0)
    }

    /// In degrees Fahrenheit.
    #[must_use]
    pub fn fahrenheit(self) -> f64 {
        self.celsius() * 1.8 + 32.0
    }
}

/// A level in metres from `606.5`, `606.5 ft` or `184.9 m`; it may be negative (a datum may lie above the lake).
#[must_use]
pub fn level_m(text: &str, units: Units) -> Option<f64> {
    let text = text.trim();
    let (number, factor) = if let Some(number) = text.strip_suffix("ft") {
        (number, METRES_PER_FOOT)
    } else if let Some(number) = text.strip_suffix('m') {
        (number, 1.0)
    } else {
        (text, if units == Units::Us { METRES_PER_FOOT } else { 1.0 })
    };
    number.trim().parse::<f64>().ok().filter(|n| n.is_finite()).map(|n| n * factor)
}

/// Why a quantity in the settings could not be read.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("`{text}` is no {what}: write a number and a unit, like {example}")]
pub struct QuantityError {
    text: String,
    what: &'static str,
    example: &'static str,
}

/// `60 m` → (60.0, "m"); the number may carry a sign, the space may be missing.
fn number_and_unit(text: &str) -> Option<(f64, &str)> {
    let text = text.trim();
    let end =
        text.find(|c: char| !(c.is_ascii_digit() || matches!(c, '.' | '-' | '+'))).unwrap_or(text.len());
    let number: f64 = text[..end].parse().ok()?;
    number.is_finite().then(|| (number, text[end..].trim()))
}

/// Defines a settings quantity: one number in its base unit, read from and written as text with a unit.
/// Litres in a US gallon: 231 cubic inches of 2.54 cm (definition).
const LITRES_PER_GALLON: f64 = 3.785_411_784;

macro_rules! quantity {
    ($(#[$doc:meta])* $name:ident, $base:literal, $what:literal, $example:literal, $reader:ident, $from:ident,
     { $($unit:literal $(| $other:literal)* => $factor:expr),+ $(,)? }) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
        pub struct $name(f64);

        impl $name {
            #[doc = concat!("From ", $base, ".")]
            #[must_use]
            pub const fn $from(value: f64) -> Self {
                Self(value)
            }

            #[doc = concat!("In ", $base, ".")]
            #[must_use]
            pub const fn $reader(self) -> f64 {
                self.0
            }
        }

        impl FromStr for $name {
            type Err = QuantityError;

            fn from_str(text: &str) -> Result<Self, QuantityError> {
                number_and_unit(text)
                    .filter(|(number, _)| *number >= 0.0)
                    .and_then(|(number, unit)| {
                        let factor = match unit.to_ascii_lowercase().as_str() {
                            $($unit $(| $other)* => $factor,)+
                            _ => return None,
                        };
                        Some(Self(number * factor))
                    })
                    .ok_or_else(|| QuantityError { text: text.to_owned(), what: $what, example: $example })
            }
        }

        impl<'de> Deserialize<'de> for $name {
            fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
                String::deserialize(deserializer)?.parse().map_err(de::Error::custom)
            }
        }
    };
}

quantity!(
    /// A distance over ground or a difference of depth, zero or more.
    Distance, "metres", "distance", "`60 m` or `200 ft`", metres, from_metres,
    { "m" => 1.0, "km" => 1000.0, "ft" | "'" => METRES_PER_FOOT, "yd" => 3.0 * METRES_PER_FOOT,
      "mi" => METRES_PER_MILE, "nmi" => METRES_PER_NAUTICAL_MILE }
);
quantity!(
    /// A length of time, zero or more.
    Span, "seconds", "length of time", "`25 min` or `2 s`", seconds, from_seconds,
    { "s" | "sec" => 1.0, "min" => 60.0, "h" => 3600.0, "d" | "days" => 86400.0 }
);
quantity!(
    /// A speed over ground, zero or more.
    Speed, "metres a second", "speed", "`8 mph` or `6 kn`", metres_per_second, from_metres_per_second,
    { "mph" => METRES_PER_MILE / 3600.0, "kn" | "kt" | "kts" | "knots" => METRES_PER_NAUTICAL_MILE / 3600.0,
      "km/h" | "kmh" => 1000.0 / 3600.0, "m/s" => 1.0 }
);

quantity!(
    /// A volume of fuel, zero or more. A gallon is the US gallon of 231 cubic inches (NIST Handbook 44, appendix C).
    Volume, "litres", "volume of fuel", "`9 gal` or `34 L`", litres, from_litres,
    { "gal" | "gallon" | "gallons" => LITRES_PER_GALLON,
      "l" | "litre" | "litres" | "liter" | "liters" => 1.0 }
);

impl fmt::Display for Depth {
    /// Both units, for messages: `27.0 ft (8.2 m)`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:.1} ft ({:.1} m)", self.feet(), self.metres())
    }
}

impl fmt::Display for WaterTemp {
    /// Both units, for messages: `71.0 F (21.7 C)`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:.1} F ({:.1} C)", self.fahrenheit(), self.celsius())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn temperatures_match_the_definition() {
        // Definition of the Fahrenheit scale against Celsius (NIST SP 811, B.8).
        for (c, f) in [(4.0, 39.2), (7.2, 44.96), (9.0, 48.2), (22.0, 71.6), (25.0, 77.0)] {
            assert!((WaterTemp::from_celsius(c).unwrap().fahrenheit() - f).abs() < 1e-5);
        }
    }

    #[test]
    fn quantities_read_with_and_without_space() {
        for (text, metres) in [("200ft", 60.96), ("60 m", 60.0), ("2 mi", 3218.688)] {
            assert!((text.parse::<Distance>().unwrap().metres() - metres).abs() < 1e-9, "{text}");
        }
        // A knot is 0.514444 m/s, a mile an hour 0.44704 m/s (definitions).
        for (text, m_s) in [("8 mph", 3.57632), ("6 kn", 3.086_666_7), ("36 km/h", 10.0)] {
            assert!((text.parse::<Speed>().unwrap().metres_per_second() - m_s).abs() < 1e-6, "{text}");
        }
        assert!((" 10 min ".parse::<Span>().unwrap().seconds() - 600.0).abs() < 1e-9);
    }

    #[test]
    fn a_quantity_without_a_unit_says_what_to_write() {
        let error = "60".parse::<Distance>().unwrap_err().to_string();
        assert_eq!(error, "`60` is no distance: write a number and a unit, like `60 m` or `200 ft`");
        assert!("-5 m".parse::<Distance>().is_err());
        assert!("5 parsec".parse::<Distance>().is_err());
    }

    #[test]
    fn depth_is_never_negative() {
        assert_eq!(Depth::from_feet(-1.0), None);
        assert_eq!(Depth::from_metres(f64::NAN), None);
        assert!((Depth::from_feet(27.0).unwrap().metres() - 8.2296).abs() < 1e-5);
    }
}
