//! Surface temperature: the recorded field where it is sound, else what the words say.

use super::Draft;
use super::phrases::Said;
use crate::terms::finding::{Code, Finding};
use crate::terms::units::WaterTemp;

/// Numbers that devices write for `unknown`, in Celsius or in Fahrenheit (common practice, no source). Freezing
/// exactly and 0 Fahrenheit are among them: blanked memory, converted or not.
const SENTINELS: [f64; 10] = [0.0, 999.0, -999.0, 9999.0, -9999.0, 255.0, 127.0, 32767.0, -32768.0, 65535.0];
/// Above this no fished surface stays; as Celsius it is Fahrenheit. Cooling lakes reach about 40 C (from memory).
const WARMEST_C: f64 = 42.0;
/// Up to this a number above `WARMEST_C` makes sense as Fahrenheit.
const WARMEST_F: f64 = 105.0;

/// The surface temperature of a mark.
pub(super) fn decide(draft: &Draft, said: &[Said], told: &mut Vec<Finding>) -> Option<WaterTemp> {
    let field = draft.raw.fields.water_temp_c.and_then(|celsius| checked(draft, f64::from(celsius), told));
    field.or_else(|| said.iter().find_map(|s| s.temps.first().copied()))
}

fn checked(draft: &Draft, celsius: f64, told: &mut Vec<Finding>) -> Option<WaterTemp> {
    let fahrenheit = celsius * 1.8 + 32.0;
    // The reader may have turned Fahrenheit into Celsius, in 32 bits.
    let means_unknown =
        |number: f64| SENTINELS.iter().any(|s| (number - s).abs() <= 2e-6 * s.abs().max(10.0));
    // 0 Fahrenheit, turned into Celsius and written with one decimal.
    let is_zero_f = (celsius + 17.8).abs() < 1e-5;
    if celsius.is_nan() || means_unknown(celsius) || means_unknown(fahrenheit) || is_zero_f {
        let seen = format!("the temperature field holds `{celsius:.1}` C (`{fahrenheit:.1}` F)");
        told.push(draft.finding(Code::TempSentinel, seen).done("read as not told"));
        return None;
    }
    if celsius > WARMEST_C && celsius <= WARMEST_F {
        let temp = WaterTemp::from_fahrenheit(celsius)?;
        told.push(
            draft
                .finding(Code::TempUnitRepaired, format!("the surface is told as `{celsius:.1}` C"))
                .done(format!("read as Fahrenheit: `{temp}`")),
        );
        return Some(temp);
    }
    let temp = WaterTemp::from_celsius(celsius);
    if temp.is_none() {
        told.push(
            draft
                .finding(
                    Code::TempImpossible,
                    format!("the surface is told as `{celsius:.1}` C (`{fahrenheit:.1}` F)"),
                )
                .done("blanked")
                .fix("set temperature_unit for the file, or write the number again"),
        );
    }
    temp
}
