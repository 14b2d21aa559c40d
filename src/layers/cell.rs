//! One value of a layer, written the same way in GeoJSON and in CSV.

use std::borrow::Cow;
use std::io::{self, Write};

/// A value of a property. Absent is `Null`: `null` in GeoJSON, an empty cell in CSV.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Cell<'a> {
    /// Not told, or not computed.
    Null,
    /// Text as it is; whoever shows it escapes it.
    Text(Cow<'a, str>),
    /// A whole number.
    Integer(i64),
    /// A number and its decimal places; anything that is no finite number is written as absent.
    Decimal(f64, usize),
    /// Whole numbers.
    Integers(&'a [i16]),
    /// Texts.
    Texts(Vec<Cow<'a, str>>),
}

impl<'a> Cell<'a> {
    /// Text that is absent when empty.
    pub(super) fn words(text: &'a str) -> Self {
        if text.is_empty() { Self::Null } else { Self::Text(text.into()) }
    }

    pub(super) fn count(number: usize) -> Self {
        Self::Integer(i64::try_from(number).unwrap_or(i64::MAX))
    }

    pub(super) fn decimal(number: Option<f64>, places: usize) -> Self {
        number.map_or(Self::Null, |number| Self::Decimal(number, places))
    }

    /// As a JSON value.
    pub(super) fn write_json(&self, out: &mut Vec<u8>) -> io::Result<()> {
        match self {
            Self::Null => out.extend_from_slice(b"null"),
            Self::Text(text) => serde_json::to_writer(out, text)?,
            Self::Integer(number) => write!(out, "{number}")?,
            Self::Decimal(number, places) => {
                if write_decimal(out, *number, *places)?.is_none() {
                    out.extend_from_slice(b"null");
                }
            }
            Self::Integers(numbers) => serde_json::to_writer(out, numbers)?,
            Self::Texts(texts) => serde_json::to_writer(out, texts)?,
        }
        Ok(())
    }

    /// As the text of a CSV cell; lists are joined by `; `.
    pub(super) fn write_csv(&self, out: &mut Vec<u8>) -> io::Result<()> {
        match self {
            Self::Null => {}
            Self::Text(text) => write_text(out, text),
            Self::Integer(number) => write!(out, "{number}")?,
            Self::Decimal(number, places) => {
                write_decimal(out, *number, *places)?;
            }
            Self::Integers(numbers) => {
                let texts: Vec<String> = numbers.iter().map(i16::to_string).collect();
                out.extend_from_slice(texts.join("; ").as_bytes());
            }
            Self::Texts(texts) => write_text(out, &texts.join("; ")),
        }
        Ok(())
    }
}

/// The characters with which a cell becomes a formula in a spreadsheet: those of OWASP ASVS 5.0, 1.2.10 (weakness
/// CWE-1236), and both line ends.
pub(super) fn starts_a_formula(text: &str) -> bool {
    text.starts_with(['=', '+', '-', '@', '\t', '\r', '\n', '\0'])
}

/// Text for a CSV cell: an apostrophe goes before what a spreadsheet would run as a formula, and control characters
/// that are no white space, for which CSV knows no escape, are taken out.
pub(super) fn write_text(out: &mut Vec<u8>, text: &str) {
    let keep = |c: char| !c.is_control() || matches!(c, '\t' | '\n' | '\r');
    let text: Cow<'_, str> =
        if text.chars().all(keep) { text.into() } else { text.chars().filter(|c| keep(*c)).collect() };
    if starts_a_formula(&text) {
        out.push(b'\'');
    }
    out.extend_from_slice(text.as_bytes());
}

/// A number rounded to decimal places; never `-0`.
pub(super) fn rounded(number: f64, places: usize) -> f64 {
    const SCALES: [f64; 8] = [1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7];
    (number * SCALES[places]).round() / SCALES[places] + 0.0
}

/// Writes a rounded number without an exponent, `12.0` rather than `12` where it has places, so that a column of
/// whole feet is still read as a column of decimal numbers. `None`: it is no finite number and nothing was written.
pub(super) fn write_decimal(out: &mut Vec<u8>, number: f64, places: usize) -> io::Result<Option<()>> {
    if !number.is_finite() {
        return Ok(None);
    }
    let number = rounded(number, places);
    write!(out, "{number}")?;
    if places > 0 && number.fract() == 0.0 {
        out.extend_from_slice(b".0");
    }
    Ok(Some(()))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(cell: &Cell<'_>, json: &str, csv: &str) {
        let (mut as_json, mut as_csv) = (Vec::new(), Vec::new());
        cell.write_json(&mut as_json).unwrap();
        cell.write_csv(&mut as_csv).unwrap();
        assert_eq!(
            (String::from_utf8(as_json).unwrap(), String::from_utf8(as_csv).unwrap()),
            (json.into(), csv.into())
        );
    }

    #[test]
    fn numbers_are_rounded_finite_and_without_exponent() {
        check(&Cell::Decimal(26.999_999, 1), "27.0", "27.0");
        check(&Cell::Decimal(-0.04, 1), "0.0", "0.0");
        check(&Cell::Decimal(0.000_000_1, 7), "0.0000001", "0.0000001");
        check(&Cell::Decimal(151.6, 0), "152", "152");
        check(&Cell::Decimal(f64::NAN, 2), "null", "");
        check(&Cell::Decimal(f64::INFINITY, 2), "null", "");
        check(&Cell::Null, "null", "");
    }

    #[test]
    fn text_that_would_run_as_a_formula_gets_an_apostrophe_in_csv_only() {
        check(&Cell::words("=1+1"), r#""=1+1""#, "'=1+1");
        check(&Cell::words("-5"), r#""-5""#, "'-5");
        check(&Cell::words("\tx"), r#""\tx""#, "'\tx");
        check(&Cell::words("\u{1b}=1"), r#""\u001b=1""#, "'=1");
        check(&Cell::words("a\u{9b}b\nc"), "\"a\u{9b}b\\nc\"", "ab\nc");
        check(&Cell::words("SHAD 24FT"), r#""SHAD 24FT""#, "SHAD 24FT");
        check(&Cell::Texts(vec!["@a".into(), "b".into()]), r#"["@a","b"]"#, "'@a; b");
        check(&Cell::Integers(&[2023, 2024]), "[2023,2024]", "2023; 2024");
    }
}
