//! Reads depths and temperatures: which field a name stands for, and numbers with or without a unit.
//!
//! The names are local names of GPX extension elements and headers of CSV columns alike. Which words devices use is
//! common practice, without a source; `wtemp` and `depth` are point extensions in wide use, in Celsius and metres,
//! and `atemp` beside them is the air.

use super::coordinate::plain_decimal;
use crate::terms::mark::Fields;
use crate::terms::units::{DepthUnit, TemperatureUnit};

/// Which field a name stands for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Quantity {
    /// A depth that does not say whose.
    Depth,
    /// Depth of fish or bait.
    FishDepth,
    /// Depth of the bottom.
    WaterDepth,
    /// Temperature of the surface.
    WaterTemp,
}

/// A unit that a name or a value tells.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Unit {
    /// Of a depth.
    Depth(DepthUnit),
    /// Of a temperature.
    Temperature(TemperatureUnit),
}

impl Unit {
    /// Reads a unit in lower case, such as `ft`, `metres` or `°c`.
    pub(super) fn from_word(word: &str) -> Option<Self> {
        Some(match word.trim().trim_end_matches('.') {
            "ft" | "feet" | "foot" | "'" | "\u{2032}" | "\u{2019}" => Self::Depth(DepthUnit::Feet),
            "m" | "meter" | "meters" | "metre" | "metres" | "mtr" => Self::Depth(DepthUnit::Metres),
            "fathom" | "fathoms" | "fth" | "ftm" | "fm" => Self::Depth(DepthUnit::Fathoms),
            "f" | "\u{b0}f" | "\u{ba}f" | "degf" | "deg f" | "fahrenheit" => {
                Self::Temperature(TemperatureUnit::Fahrenheit)
            }
            "c" | "\u{b0}c" | "\u{ba}c" | "degc" | "deg c" | "celsius" | "centigrade" => {
                Self::Temperature(TemperatureUnit::Celsius)
            }
            _ => return None,
        })
    }
}

/// The field that a name stands for, whatever its case, blanks and signs, and the unit at its end.
pub(super) fn quantity_named(name: &[u8]) -> Option<(Quantity, Option<Unit>)> {
    // Millions of extension elements pass here. Most say `depth` or `wtemp` as they stand; of the rest, letters are
    // folded into a buffer on the stack.
    if let Some(quantity) = str::from_utf8(name).ok().and_then(quantity_word) {
        return Some((quantity, None));
    }
    let mut folded = [0; 32];
    let mut length = 0;
    for byte in name.iter().filter(|b| b.is_ascii_alphanumeric()) {
        *folded.get_mut(length)? = byte.to_ascii_lowercase();
        length += 1;
    }
    let word = str::from_utf8(&folded[..length]).ok()?;
    if let Some(quantity) = quantity_word(word) {
        return Some((quantity, None));
    }
    (3..length).find_map(|cut| {
        let quantity = quantity_word(&word[..cut])?;
        let unit = Unit::from_word(&word[cut..])?;
        let fits = matches!(
            (quantity, unit),
            (Quantity::WaterTemp, Unit::Temperature(_))
                | (Quantity::Depth | Quantity::FishDepth | Quantity::WaterDepth, Unit::Depth(_))
        );
        fits.then_some((quantity, Some(unit)))
    })
}

fn quantity_word(word: &str) -> Option<Quantity> {
    Some(match word {
        "depth" | "sonardepth" | "sounderdepth" | "deep" => Quantity::Depth,
        "fishdepth" | "baitdepth" | "schooldepth" | "targetdepth" | "depthfish" | "depthoffish" => {
            Quantity::FishDepth
        }
        "waterdepth" | "bottomdepth" | "totaldepth" | "bottom" | "depthbottom" | "depthwater"
        | "depthtobottom" | "lakedepth" | "seafloordepth" => Quantity::WaterDepth,
        "temp" | "wtemp" | "watertemp" | "watertemperature" | "temperature" | "surfacetemp"
        | "surfacetemperature" | "surfacewatertemp" | "lakesurfacetemp" | "seatemp" | "seatemperature"
        | "sst" | "tempwater" => Quantity::WaterTemp,
        _ => return None,
    })
}

/// A number, with a decimal point or a decimal comma, and the unit after it, if any. `None`: no finite number, or
/// something else behind it.
pub(super) fn number_and_unit(text: &str) -> Option<(f64, Option<Unit>)> {
    let text = text.trim();
    // Most are plain numbers.
    if let Some(number) = plain_decimal(text.as_bytes()) {
        return Some((number, None));
    }
    let end = text
        .find(|c: char| !(c.is_ascii_digit() || matches!(c, '.' | ',' | '-' | '+')))
        .unwrap_or(text.len());
    let number: f64 = match text[..end].parse() {
        Ok(number) => number,
        Err(_) => text[..end].replacen(',', ".", 1).parse().ok()?,
    };
    let rest = text[end..].trim();
    let unit = if rest.is_empty() { None } else { Some(Unit::from_word(&rest.to_lowercase())?) };
    number.is_finite().then_some((number, unit))
}

/// Units of bare numbers.
#[derive(Clone, Copy, Debug)]
pub(super) struct BareUnits {
    pub(super) depth: DepthUnit,
    pub(super) temperature: TemperatureUnit,
}

impl BareUnits {
    /// GPX extensions: metres and Celsius.
    pub(super) const METRIC: Self = Self { depth: DepthUnit::Metres, temperature: TemperatureUnit::Celsius };
}

/// Puts a value into its field, converted to metres or Celsius; the first readable value of a field stays. The unit
/// in the value wins over that of the name, and that over the bare one. Returns whether the text was a number.
pub(super) fn put(
    fields: &mut Fields,
    quantity: Quantity,
    name_unit: Option<Unit>,
    bare: BareUnits,
    text: &str,
) -> bool {
    let Some((number, value_unit)) = number_and_unit(text) else { return false };
    let unit = value_unit.or(name_unit);
    let (slot, value) = match (quantity, unit) {
        (Quantity::WaterTemp, Some(Unit::Temperature(unit))) => {
            (&mut fields.water_temp_c, unit.to_celsius(number))
        }
        (Quantity::WaterTemp, None) => (&mut fields.water_temp_c, bare.temperature.to_celsius(number)),
        (Quantity::WaterTemp, Some(Unit::Depth(_))) | (_, Some(Unit::Temperature(_))) => return false,
        (quantity, unit) => {
            let slot = match quantity {
                Quantity::FishDepth => &mut fields.fish_depth_m,
                Quantity::WaterDepth => &mut fields.water_depth_m,
                Quantity::Depth | Quantity::WaterTemp => &mut fields.depth_m,
            };
            let unit = if let Some(Unit::Depth(unit)) = unit { unit } else { bare.depth };
            (slot, unit.to_metres(number))
        }
    };
    // A sentinel such as -999 means the same in any unit: it is handed on as it stood.
    let value = if stands_for_unknown(number) { number } else { value };
    slot.get_or_insert(value as f32);
    true
}

/// -99, -999 …, 9999, 99999 …: nines only.
fn stands_for_unknown(number: f64) -> bool {
    [-99.0, -999.0, -9999.0, -99_999.0, 9999.0, 99_999.0, 999_999.0].iter().any(|s| (number - s).abs() < 1e-9)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(name: &str, text: &str, expected: Fields) {
        let mut fields = Fields::default();
        if let Some((quantity, unit)) = quantity_named(name.as_bytes()) {
            put(&mut fields, quantity, unit, BareUnits::METRIC, text);
        }
        assert_eq!(fields, expected, "{name} {text}");
    }

    #[test]
    fn names_are_matched_in_any_case_and_spelling() {
        let none = Fields::default();
        for name in ["depth", "Depth", "DEPTH_M", "Depth (m)", "sonar-depth"] {
            check(name, "8.2", Fields { depth_m: Some(8.2), ..none });
        }
        for name in ["water_depth_m", "waterdepth", "BottomDepth", "Bottom Depth"] {
            check(name, "8.2", Fields { water_depth_m: Some(8.2), ..none });
        }
        check("fish_depth_m", "8,2", Fields { fish_depth_m: Some(8.2), ..none });
        for name in ["temp", "wtemp", "watertemp", "water_temp_c", "Water Temperature"] {
            check(name, "21.5", Fields { water_temp_c: Some(21.5), ..none });
        }
        for name in ["atemp", "airtemp", "ele", "speed", "depthcharge", "hr"] {
            check(name, "8.2", none);
        }
    }

    #[test]
    fn units_in_the_name_and_in_the_value_are_honoured() {
        let none = Fields::default();
        check("Depth (ft)", "10", Fields { depth_m: Some(3.048), ..none });
        check("Depth (ft)", "10 m", Fields { depth_m: Some(10.0), ..none });
        check("depth", "27ft", Fields { depth_m: Some(8.2296), ..none });
        check("depth", "2 fathoms", Fields { depth_m: Some(3.6576), ..none });
        check("water_temp_f", "212", Fields { water_temp_c: Some(100.0), ..none });
        check("temp", "32 °F", Fields { water_temp_c: Some(0.0), ..none });
        check("temp", "71 ft", none);
        check("depth", "deep", none);
    }

    #[test]
    fn a_sentinel_keeps_its_number() {
        check("depth_ft", "-999", Fields { depth_m: Some(-999.0), ..Fields::default() });
    }
}
