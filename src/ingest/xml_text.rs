//! From raw XML text to clean text: entities, encoding, control characters.
//!
//! Only the five predefined entities and character references are expanded (XML 1.0, sections 4.1 and 4.6); any other
//! `&…;` stays as it stands, so no document can grow.

use std::borrow::Cow;

/// What had to be repaired in the texts of a record.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct TextRepairs {
    /// A bare `&`, or an entity that XML does not predefine, was read as text.
    pub(super) ampersand: bool,
    /// An entity was escaped twice.
    pub(super) escaped_twice: bool,
    /// Control characters were taken out.
    pub(super) control: bool,
    /// Bytes were no UTF-8 and were read as windows-1252.
    pub(super) encoding: bool,
}

/// Reads raw text: decodes, unescapes, strips control characters.
pub(super) fn clean<'a>(raw: &'a [u8], repairs: &mut TextRepairs) -> Cow<'a, str> {
    // Nearly every text is plain ASCII without entities: one pass tells, and nothing is copied.
    if raw.iter().all(|&b| (0x20..0x7f).contains(&b) && b != b'&') {
        return str::from_utf8(raw).map_or_else(|_| String::new().into(), Cow::Borrowed);
    }
    let decoded = decode(raw, repairs);
    let unescaped = if decoded.contains('&') { Cow::Owned(unescape(&decoded, repairs)) } else { decoded };
    strip_control(unescaped, repairs)
}

/// Reads text of a CDATA section or a CSV cell: as [`clean`], but `&` is just a letter.
pub(super) fn clean_literal<'a>(raw: &'a [u8], repairs: &mut TextRepairs) -> Cow<'a, str> {
    strip_control(decode(raw, repairs), repairs)
}

fn decode<'a>(raw: &'a [u8], repairs: &mut TextRepairs) -> Cow<'a, str> {
    str::from_utf8(raw).map_or_else(
        |_| {
            repairs.encoding = true;
            encoding_rs::WINDOWS_1252.decode_without_bom_handling(raw).0
        },
        Cow::Borrowed,
    )
}

fn strip_control<'a>(text: Cow<'a, str>, repairs: &mut TextRepairs) -> Cow<'a, str> {
    let unwanted = |c: char| c.is_control() && !matches!(c, '\t' | '\n' | '\r');
    if text.contains(unwanted) {
        repairs.control = true;
        Cow::Owned(text.replace(unwanted, ""))
    } else {
        text
    }
}

fn unescape(text: &str, repairs: &mut TextRepairs) -> String {
    let once = unescape_once(text, repairs);
    // `&amp;amp;` came from a program that escaped an escaped text; `&amp;` alone is a plain ampersand.
    let doubled =
        text.match_indices("&amp;").any(|(at, _)| entity(&text[at + 4..].replacen(';', "&", 1)).is_some());
    if doubled {
        repairs.escaped_twice = true;
        unescape_once(&once, &mut TextRepairs::default())
    } else {
        once
    }
}

fn unescape_once(text: &str, repairs: &mut TextRepairs) -> String {
    let mut out = String::with_capacity(text.len());
    let mut rest = text;
    while let Some(at) = rest.find('&') {
        out.push_str(&rest[..at]);
        rest = &rest[at..];
        if let Some((c, length)) = entity(rest) {
            out.push(c);
            rest = &rest[length..];
        } else {
            repairs.ampersand = true;
            out.push('&');
            rest = &rest[1..];
        }
    }
    out.push_str(rest);
    out
}

/// The character that the entity at the start of `text` stands for, and the entity's length.
fn entity(text: &str) -> Option<(char, usize)> {
    // The longest reference is `&#x10FFFF;`; a few leading zeros are let pass.
    let end = text.bytes().take(16).position(|b| b == b';')?;
    let c = match text[..end].strip_prefix('&')? {
        "amp" => '&',
        "lt" => '<',
        "gt" => '>',
        "quot" => '"',
        "apos" => '\'',
        name => {
            let digits = name.strip_prefix('#')?;
            let code = digits
                .strip_prefix(['x', 'X'])
                .map_or_else(|| digits.parse(), |hex| u32::from_str_radix(hex, 16))
                .ok()?;
            char::from_u32(code)?
        }
    };
    Some((c, end + 1))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Raw text → clean text and the repairs: `a`mpersand, escaped `t`wice, `c`ontrol, `e`ncoding.
    #[track_caller]
    fn check(raw: &[u8], text: &str, expected: &str) {
        let mut repairs = TextRepairs::default();
        assert_eq!(clean(raw, &mut repairs), text);
        let flags = [
            (repairs.ampersand, 'a'),
            (repairs.escaped_twice, 't'),
            (repairs.control, 'c'),
            (repairs.encoding, 'e'),
        ];
        assert_eq!(flags.iter().filter(|f| f.0).map(|f| f.1).collect::<String>(), expected);
    }

    #[test]
    fn the_five_entities_and_character_references_are_expanded() {
        check(b"a &lt;&gt;&amp;&quot;&apos; &#65;&#x20AC;", "a <>&\"' A\u{20ac}", "");
    }

    #[test]
    fn a_bare_ampersand_and_an_unknown_entity_stay_text() {
        check(b"B&B", "B&B", "a");
        check(b"a&nbsp;b &lol9;", "a&nbsp;b &lol9;", "a");
        check(b"&#xD800; &#99999999;", "&#xD800; &#99999999;", "a");
    }

    #[test]
    fn what_was_escaped_twice_is_unescaped_twice() {
        check(b"Bait &amp;amp; brush", "Bait & brush", "t");
        check(b"R&amp;D; done", "R&D; done", "");
        check(b"27&amp;apos;", "27'", "t");
    }

    #[test]
    fn control_characters_are_taken_out() {
        check(b"BA\x01IT\x7f", "BAIT", "c");
        check(b"BA&#1;IT", "BAIT", "c");
        check(b"two\nlines", "two\nlines", "");
    }

    #[test]
    fn bytes_that_are_no_utf_8_are_read_as_windows_1252() {
        check(b"Gr\xfcn \x96 27", "Gr\u{fc}n \u{2013} 27", "e");
        check("Grün".as_bytes(), "Grün", "");
    }
}
