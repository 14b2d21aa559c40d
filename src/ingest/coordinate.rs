//! Reads a latitude or longitude in the ways people and programs write them.
//!
//! Decimal degrees, degrees and minutes, degrees, minutes and seconds; a sign or a hemisphere letter on either side;
//! any mark for degrees, minutes and seconds; decimal commas. No range is checked here. Latitude comes first in a
//! combined text, as in ISO 6709, unless letters say otherwise.

/// A coordinate as read.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Coordinate {
    /// Degrees, south and west negative; finite.
    pub(super) deg: f64,
    /// Whether it was a plain decimal number, so that nothing had to be repaired.
    pub(super) plain: bool,
    /// The hemisphere letter, if there was one: `N`, `S`, `E` or `W`.
    hemisphere: Option<char>,
}

impl Coordinate {
    /// Told as a plain decimal number.
    pub(super) const fn plain(deg: f64) -> Self {
        Self { deg, plain: true, hemisphere: None }
    }
}

/// Reads one coordinate; `None` when it is no number in any known form.
pub(super) fn read_coordinate(text: &str) -> Option<Coordinate> {
    let text = text.trim();
    if let Some(deg) = plain_decimal(text.as_bytes()) {
        return Some(Coordinate::plain(deg));
    }
    from_pieces(&pieces(text)?)
}

/// Reads latitude and longitude out of one text, such as `36 07.5N 086 15.2W`.
pub(super) fn read_pair(text: &str) -> Option<[Coordinate; 2]> {
    let halves = split_at_separator(text).or_else(|| {
        let all = pieces(text)?;
        let (first, second) = all.split_at(middle(&all)?);
        Some([from_pieces(first)?, from_pieces(second)?])
    })?;
    let [first, second] = halves;
    let is_lon = |c: Coordinate| c.hemisphere.map(|letter| matches!(letter, 'E' | 'W'));
    match (is_lon(first), is_lon(second)) {
        (Some(true), Some(false) | None) | (None, Some(false)) => Some([second, first]),
        (Some(a), Some(b)) if a == b => None,
        _ => Some([first, second]),
    }
}

/// A signed decimal number with at most 19 digits: exact where mantissa and power of ten are (both exact in a double
/// up to 2^53 and 10^22), and through the standard library otherwise.
pub(super) fn plain_decimal(text: &[u8]) -> Option<f64> {
    let (negative, digits) = match text.first()? {
        b'-' => (true, &text[1..]),
        b'+' => (false, &text[1..]),
        _ => (false, text),
    };
    let (mut mantissa, mut decimals, mut seen, mut point) = (0_u64, 0_usize, 0_usize, false);
    for &byte in digits {
        match byte {
            b'0'..=b'9' => {
                seen += 1;
                mantissa = mantissa.wrapping_mul(10).wrapping_add(u64::from(byte - b'0'));
                decimals += usize::from(point);
            }
            b'.' if !point => point = true,
            // Programs write tiny numbers as 9.1e-05; a positive exponent would be mistaken for east.
            b'e' | b'E' if seen > 0 => return small_with_exponent(text),
            _ => return None,
        }
    }
    if seen == 0 {
        return None;
    }
    if seen > 18 || mantissa > 1 << 53 || decimals >= POWERS_OF_TEN.len() {
        return str::from_utf8(text).ok()?.parse().ok().filter(|deg: &f64| deg.is_finite());
    }
    let deg = mantissa as f64 / POWERS_OF_TEN[decimals];
    Some(if negative { -deg } else { deg })
}

fn small_with_exponent(text: &[u8]) -> Option<f64> {
    let text = str::from_utf8(text).ok()?;
    text.to_ascii_lowercase().contains("e-").then(|| text.parse().ok()).flatten()
}

const POWERS_OF_TEN: [f64; 19] =
    [1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18];

/// What a coordinate's text is made of.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Piece {
    Number { value: f64, negative: bool, whole: bool },
    Hemisphere(char),
}

/// Cuts a text into numbers and hemisphere letters; `None` when anything else than known marks stands between.
fn pieces(text: &str) -> Option<Vec<Piece>> {
    let mut out = Vec::new();
    let mut rest = text.trim_start();
    while let Some(c) = rest.chars().next() {
        let mut length = c.len_utf8();
        match c {
            '0'..='9' | '-' | '+' | '.' | '\u{2212}' => {
                // A minus sign proper (U+2212) comes from typeset pages.
                let sign = if matches!(c, '-' | '+' | '\u{2212}') { length } else { 0 };
                let digits = &rest[sign..];
                let end = digits
                    .find(|d: char| !(d.is_ascii_digit() || matches!(d, '.' | ',')))
                    .unwrap_or(digits.len());
                let number = digits[..end].trim_end_matches([',', '.']);
                length = sign + number.len();
                let value = decimal_or_comma(number)?;
                let whole = !number.contains(['.', ',']);
                out.push(Piece::Number { value, negative: matches!(c, '-' | '\u{2212}'), whole });
            }
            'N' | 'S' | 'E' | 'W' | 'n' | 's' | 'e' | 'w' => {
                // The letter alone, or the first of a word such as `North`.
                let word_end = rest.find(|d: char| !d.is_alphabetic()).unwrap_or(rest.len());
                let word = rest[..word_end].to_lowercase();
                match word.as_str() {
                    "n" | "s" | "e" | "w" | "north" | "south" | "east" | "west" => {
                        out.push(Piece::Hemisphere(c.to_ascii_uppercase()));
                    }
                    "sec" | "seconds" => {}
                    _ => return None,
                }
                length = word_end;
            }
            'd' | 'D' | 'm' | 'M' => {
                let word_end = rest.find(|d: char| !d.is_alphabetic()).unwrap_or(rest.len());
                if !matches!(rest[..word_end].to_lowercase().as_str(), "deg" | "degrees" | "min" | "minutes")
                {
                    return None;
                }
                length = word_end;
            }
            // Signs of degree (also ordinal and ring), minute and second (straight, curly, prime), and separators.
            '\u{b0}' | '\u{ba}' | '\u{2da}' | '\'' | '\u{2018}' | '\u{2019}' | '\u{2032}' | '\u{b4}'
            | '`' | '"' | '\u{201c}' | '\u{201d}' | '\u{2033}' | ':' | ',' | ';' | '*' => {}
            c if c.is_whitespace() => {}
            _ => return None,
        }
        rest = &rest[length..];
    }
    Some(out)
}

/// `45.1`, or `45,1` where no point stands.
fn decimal_or_comma(number: &str) -> Option<f64> {
    plain_decimal(number.as_bytes()).or_else(|| {
        let (whole, decimals) = number.split_once(',')?;
        plain_decimal(format!("{whole}.{decimals}").as_bytes()).filter(|_| !whole.contains('.'))
    })
}

/// One to three numbers and at most one letter.
fn from_pieces(pieces: &[Piece]) -> Option<Coordinate> {
    let mut numbers = Vec::with_capacity(3);
    let mut hemisphere = None;
    for piece in pieces {
        match *piece {
            Piece::Number { value, negative, whole } => numbers.push((value, negative, whole)),
            Piece::Hemisphere(letter) if hemisphere.is_none() => hemisphere = Some(letter),
            Piece::Hemisphere(_) => return None,
        }
    }
    let negative = numbers.first()?.1;
    let size = match numbers[..] {
        [(degrees, ..)] => degrees,
        // Only the last number may have decimals, minutes and seconds lie below 60 and have no sign.
        [(degrees, _, true), (minutes, false, _)] if minutes < 60.0 => degrees + minutes / 60.0,
        [(degrees, _, true), (minutes, false, true), (seconds, false, _)]
            if minutes < 60.0 && seconds < 60.0 =>
        {
            degrees + (minutes * 60.0 + seconds) / 3600.0
        }
        _ => return None,
    };
    let south_or_west = hemisphere.map(|letter| matches!(letter, 'S' | 'W'));
    if negative && south_or_west == Some(false) {
        return None; // `-36 N` says two things
    }
    let deg = if south_or_west.unwrap_or(negative) { -size } else { size };
    Some(Coordinate { deg, plain: false, hemisphere })
}

/// Two coordinates with `;`, `/`, `|` or a comma between that is not a decimal comma.
fn split_at_separator(text: &str) -> Option<[Coordinate; 2]> {
    let both = |(a, b): (&str, &str)| Some([read_coordinate(a)?, read_coordinate(b)?]);
    [";", "/", "|", ", ", ","].into_iter().filter(|separator| text.matches(separator).count() == 1).find_map(
        |separator| {
            // `36,5 -86` has a decimal comma: a comma splits only where its halves make sense as they are.
            let halves = text.split_once(separator)?;
            if separator == "," && !text.contains('.') && halves.1.trim_start().contains(' ') {
                return None;
            }
            both(halves)
        },
    )
}

/// Where the second coordinate starts among the pieces.
fn middle(pieces: &[Piece]) -> Option<usize> {
    let letters: Vec<usize> =
        (0..pieces.len()).filter(|&i| matches!(pieces[i], Piece::Hemisphere(_))).collect();
    match letters[..] {
        // Letters before their numbers, or after them.
        [0, second] => Some(second),
        [first, last] if last + 1 == pieces.len() => Some(first + 1),
        [] if pieces.len().is_multiple_of(2) => Some(pieces.len() / 2),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(text: &str, expected: Option<f64>) {
        let seen = read_coordinate(text).map(|c| c.deg);
        match (seen, expected) {
            (Some(a), Some(b)) => assert!((a - b).abs() < 1e-9, "`{text}`: {a} is not {b}"),
            (a, b) => assert_eq!(a, b, "`{text}`"),
        }
    }

    #[track_caller]
    fn check_pair(text: &str, expected: Option<[f64; 2]>) {
        let seen = read_pair(text).map(|pair| pair.map(|c| (c.deg * 1e6).round() / 1e6));
        assert_eq!(seen, expected, "`{text}`");
    }

    #[test]
    fn decimal_degrees_in_all_dresses() {
        for text in
            ["36.125", "+36.125", "36,125", "36.125N", "N36.125", "36.125° N", "n 36.125", "36.125 North"]
        {
            check(text, Some(36.125));
        }
        for text in ["-86.25", "86.25W", "W86.25", "-86.25 W", "\u{2212}86.25", "86,25 w"] {
            check(text, Some(-86.25));
        }
        check("9.1697e-05", Some(9.1697e-5));
        check("-0.5", Some(-0.5));
        check(".5", Some(0.5));
    }

    #[test]
    fn degrees_and_minutes() {
        let forms =
            ["N 36 07.500", "36 07.5N", "36° 7.5' N", "36º07,5′", "36:07.5", "36 deg 7.5 min", "36N07.5"];
        for text in forms {
            check(text, Some(36.125));
        }
        check("-0 30", Some(-0.5));
        check("W 086 15.000", Some(-86.25));
    }

    #[test]
    fn degrees_minutes_and_seconds() {
        // The Greenwich example of ISO 6709 annex H is not open; these are worked by hand: 36 + 7/60 + 30/3600.
        for text in ["36 07 30 N", "36°07'30\"N", "36°07\u{2032}30\u{2033}", "N36 7 30.0", "36°07''30"] {
            check(text, Some(36.125));
        }
        check("086°15'00\" W", Some(-86.25));
    }

    #[test]
    fn every_form_of_a_coordinate_reads_as_the_same_place() {
        for step in 0..5000 {
            let tenths_of_seconds = step * 1291;
            let degrees = tenths_of_seconds / 36_000;
            let minutes = tenths_of_seconds / 600 % 60;
            let seconds = f64::from(tenths_of_seconds % 600) / 10.0;
            let expected = f64::from(tenths_of_seconds) / 36_000.0;
            let in_minutes = f64::from(minutes) + seconds / 60.0;
            for text in [
                format!("{degrees}°{minutes:02}'{seconds:04.1}\"N"),
                format!("N{degrees:03} {in_minutes:.6}"),
                format!("{expected:.9}").replace('.', ","),
                format!("+{degrees}:{minutes}:{seconds}"),
            ] {
                let seen = read_coordinate(&text).map(|c| c.deg);
                assert!(
                    seen.is_some_and(|deg| (deg - expected).abs() < 1e-8),
                    "`{text}`: {seen:?} is not {expected}"
                );
            }
        }
    }

    #[test]
    fn what_is_no_coordinate_is_refused() {
        let texts = [
            "", "north", "NaN", "inf", "abc", "36 61", "36 07 61", "36.5 07", "-36 N", "36 N S", "1 2 3 4",
            "1.2.3",
        ];
        for text in texts {
            check(text, None);
        }
    }

    #[test]
    fn the_fast_reading_is_the_correctly_rounded_one() {
        let texts = [
            "45.1234567",
            "-118.33698051050305",
            "179.99999999999999",
            "0.000091697",
            "47.64454800000000123",
            "9007199254740993",
        ];
        for text in texts {
            let exact: f64 = text.parse().unwrap();
            assert_eq!(read_coordinate(text).unwrap().deg.to_bits(), exact.to_bits(), "{text}");
        }
    }

    #[test]
    fn two_coordinates_in_one_text() {
        let texts = [
            "36 07.5N 086 15.0W",
            "N36 07.5 W086 15.0",
            "36.125, -86.25",
            "36.125,-86.25",
            "36.125 -86.25",
            "36,125; -86,25",
            "36,125 -86,25",
            "W086 15.0 N36 07.5",
            "36°07'30\"N, 86°15'00\"W",
            "36 07 30 N / 86 15 00 W",
        ];
        for text in texts {
            check_pair(text, Some([36.125, -86.25]));
        }
        check_pair("36.125", None);
        check_pair("36.125N 86.25N", None);
    }
}
