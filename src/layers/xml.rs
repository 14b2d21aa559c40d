//! Text as XML 1.0 may hold it.

use std::borrow::Cow;

/// The characters that XML 1.0 allows (clause 2.2, `Char`); the rest cannot be written even as references.
const fn allowed(c: char) -> bool {
    matches!(c, '\t' | '\n' | '\r' | ' '..='\u{D7FF}' | '\u{E000}'..='\u{FFFD}' | '\u{10000}'..)
}

/// Text without the characters that XML cannot hold, and without C1 and DEL controls, which it holds but no unit
/// shows.
pub(super) fn clean(text: &str) -> Cow<'_, str> {
    let keep = |c: char| allowed(c) && !matches!(c, '\u{7F}'..='\u{9F}');
    if text.bytes().all(|byte| matches!(byte, b' '..=b'~')) {
        return text.into();
    }
    if text.chars().all(keep) {
        text.into()
    } else {
        text.chars().filter(|c| keep(*c)).collect::<String>().into()
    }
}

/// Appends clean text, escaped for element content or an attribute in double quotes. A carriage return becomes a
/// reference, because a reader turns a bare one into a line feed (clause 2.11).
pub(super) fn write_escaped(out: &mut Vec<u8>, text: &str) {
    let mut rest = &*clean(text);
    // Nearly all text goes through unchanged: copied a stretch at a time.
    while let Some(at) = rest.find(['&', '<', '>', '"', '\r']) {
        out.extend_from_slice(&rest.as_bytes()[..at]);
        out.extend_from_slice(match rest.as_bytes()[at] {
            b'&' => b"&amp;".as_slice(),
            b'<' => b"&lt;",
            b'>' => b"&gt;",
            b'"' => b"&quot;",
            _ => b"&#13;",
        });
        rest = &rest[at + 1..];
    }
    out.extend_from_slice(rest.as_bytes());
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(text: &str, expected: &str) {
        let mut out = Vec::new();
        write_escaped(&mut out, text);
        assert_eq!(String::from_utf8(out).unwrap(), expected);
    }

    #[test]
    fn what_xml_cannot_hold_is_taken_out_and_the_rest_survives() {
        check("a\u{0}b\u{1B}c\u{FFFE}d\u{85}e", "abcde");
        check("<wpt> & \"x\" ]]>", "&lt;wpt&gt; &amp; &quot;x&quot; ]]&gt;");
        check("über\t30'\r\n🐟", "über\t30'&#13;\n🐟");
    }
}
