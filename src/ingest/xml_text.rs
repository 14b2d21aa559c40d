//! From raw XML text to clean text: entities, encoding, control characters.
//!
//! Only the five predefined entities and character references are expanded (XML 1.0, sections 4.1 and 4.6); any other
//! `&…;` stays as it stands, so no document can grow.

use std::borrow::Cow;

/// Something that had to be repaired in a text.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum TextRepair {
    /// A bare `&`, or an entity that XML does not predefine, was read as text.
    Ampersand,
    /// An entity was escaped twice.
    EscapedTwice,
    /// Control characters were taken out.
    Control,
    /// Bytes were no UTF-8 and were read as windows-1252.
    Encoding,
}

impl TextRepair {
    /// All repairs, in the order in which they are told.
    pub(super) const ALL: [Self; 4] = [Self::Ampersand, Self::EscapedTwice, Self::Control, Self::Encoding];
}

/// What had to be repaired in the texts of a record.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct TextRepairs([bool; TextRepair::ALL.len()]);

impl TextRepairs {
    fn note(&mut self, repair: TextRepair) {
        self.0[repair as usize] = true;
    }

    /// The repairs that were made.
    pub(super) fn made(self) -> impl Iterator<Item = TextRepair> {
        TextRepair::ALL.into_iter().filter(move |repair| self.0[*repair as usize])
    }
}

/// The same text as [`clean`] would read, from a text that is [`plain_ascii`].
pub(super) fn clean_plain<'a>(text: &'a str, repairs: &mut TextRepairs) -> Cow<'a, str> {
    if text.as_bytes().contains(&b'&') {
        strip_control(Cow::Owned(unescape(text, repairs)), repairs)
    } else {
        Cow::Borrowed(text)
    }
}

/// The bytes as text, when they are ASCII without control characters but for white space, so that no part of them has to
/// be decoded or stripped.
pub(super) fn plain_ascii(bytes: &[u8]) -> Option<&str> {
    let plain = |byte: &u8| (0x20..0x7f).contains(byte) | matches!(byte, b'\t' | b'\n' | b'\r');
    // A block at a time without a branch a byte.
    let all = bytes.chunks(4096).all(|block| block.iter().fold(true, |all, byte| all & plain(byte)));
    all.then(|| str::from_utf8(bytes).ok()).flatten()
}

/// Reads raw text: decodes, unescapes, strips control characters.
pub(super) fn clean<'a>(raw: &'a [u8], repairs: &mut TextRepairs) -> Cow<'a, str> {
    // Nearly every text is plain ASCII without entities: one pass tells, without a branch a byte, and nothing is copied.
    let (mut special, mut ampersand) = (false, false);
    for &byte in raw {
        special |= !(0x20..0x7f).contains(&byte);
        ampersand |= byte == b'&';
    }
    let decoded = decode(raw, repairs);
    let unescaped = if ampersand { Cow::Owned(unescape(&decoded, repairs)) } else { decoded };
    // A character reference may stand for a control character.
    if special || ampersand { strip_control(unescaped, repairs) } else { unescaped }
}

/// Reads a whole record for showing: decoded, with a mark (U+FFFD) in place of each control character.
pub(super) fn shown_whole(raw: &[u8]) -> String {
    decode(raw, &mut TextRepairs::default()).replace(is_unwanted, "\u{fffd}")
}

/// Reads text of a CDATA section or a CSV cell: as [`clean`], but `&` is just a letter.
pub(super) fn clean_literal<'a>(raw: &'a [u8], repairs: &mut TextRepairs) -> Cow<'a, str> {
    strip_control(decode(raw, repairs), repairs)
}

/// UTF-8, and each byte that is none as windows-1252: so a cell reads the same by itself as in its record, whatever the
/// encoding of the cell beside it.
fn decode<'a>(raw: &'a [u8], repairs: &mut TextRepairs) -> Cow<'a, str> {
    if let Ok(text) = str::from_utf8(raw) {
        return Cow::Borrowed(text);
    }
    repairs.note(TextRepair::Encoding);
    let mut text = String::with_capacity(raw.len());
    for chunk in raw.utf8_chunks() {
        text.push_str(chunk.valid());
        text.push_str(&encoding_rs::WINDOWS_1252.decode_without_bom_handling(chunk.invalid()).0);
    }
    Cow::Owned(text)
}

fn strip_control<'a>(text: Cow<'a, str>, repairs: &mut TextRepairs) -> Cow<'a, str> {
    // Bytes first: control characters lie below 0x20, at 0x7f, or behind the byte 0xc2.
    let may_hold = text.bytes().any(|b| b < 0x20 || b == 0x7f || b == 0xc2);
    if may_hold && text.contains(is_unwanted) {
        repairs.note(TextRepair::Control);
        Cow::Owned(text.replace(is_unwanted, ""))
    } else {
        text
    }
}

fn is_unwanted(c: char) -> bool {
    c.is_control() && !matches!(c, '\t' | '\n' | '\r')
}

fn unescape(text: &str, repairs: &mut TextRepairs) -> String {
    let (once, escaped_twice) = unescape_once(text, repairs);
    if !escaped_twice {
        return once;
    }
    repairs.note(TextRepair::EscapedTwice);
    unescape_once(&once, &mut TextRepairs::default()).0
}

/// The text with its entities expanded, and whether an expanded `&amp;` starts an entity again. That came from a
/// program that escaped an escaped text; `&amp;` before anything else is a plain ampersand.
fn unescape_once(text: &str, repairs: &mut TextRepairs) -> (String, bool) {
    let mut out = String::with_capacity(text.len());
    let mut escaped_twice = false;
    let mut rest = text;
    while let Some(at) = rest.find('&') {
        out.push_str(&rest[..at]);
        rest = &rest[at + 1..];
        if let Some((c, length)) = entity(rest) {
            out.push(c);
            rest = &rest[length..];
            escaped_twice |= c == '&' && entity(rest).is_some();
        } else {
            repairs.note(TextRepair::Ampersand);
            out.push('&');
        }
    }
    out.push_str(rest);
    (out, escaped_twice)
}

/// The character that an entity stands for whose `&` was just passed, and the length of the rest of it.
fn entity(text: &str) -> Option<(char, usize)> {
    // The longest reference is `#x10FFFF;`; a few leading zeros are let pass.
    let end = text.bytes().take(16).position(|b| b == b';')?;
    let c = match &text[..end] {
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
        let letter = |repair| match repair {
            TextRepair::Ampersand => 'a',
            TextRepair::EscapedTwice => 't',
            TextRepair::Control => 'c',
            TextRepair::Encoding => 'e',
        };
        assert_eq!(repairs.made().map(letter).collect::<String>(), expected);
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
