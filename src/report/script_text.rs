//! JSON inside a `script` element: written so that no text of a user can end the element or open a comment.

use std::io::{self, Write};

/// Writes JSON with `<`, `>`, `&`, U+2028 and U+2029 as JSON escapes. All five can stand only inside strings of JSON, so
/// the value stays the same. Call [`InScript::finish`] at the end.
pub(super) struct InScript<'a, W: Write> {
    out: &'a mut W,
    /// How many bytes of `E2 80`, with which U+2028 begins, are held back.
    held: usize,
}

const BEGINS: [u8; 2] = [0xE2, 0x80];

impl<'a, W: Write> InScript<'a, W> {
    pub(super) const fn new(out: &'a mut W) -> Self {
        Self { out, held: 0 }
    }

    /// Writes what was held back.
    pub(super) fn finish(self) -> io::Result<()> {
        self.out.write_all(&BEGINS[..self.held])
    }
}

impl<W: Write> Write for InScript<'_, W> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let mut safe = Vec::with_capacity(bytes.len() + 16);
        for byte in bytes {
            if self.held == 2 && matches!(byte, 0xA8 | 0xA9) {
                safe.extend_from_slice(if *byte == 0xA8 { b"\\u2028" } else { b"\\u2029" });
                self.held = 0;
                continue;
            }
            if self.held < 2 && *byte == BEGINS[self.held] {
                self.held += 1;
                continue;
            }
            safe.extend_from_slice(&BEGINS[..self.held]);
            self.held = 0;
            match byte {
                b'<' => safe.extend_from_slice(b"\\u003c"),
                b'>' => safe.extend_from_slice(b"\\u003e"),
                b'&' => safe.extend_from_slice(b"\\u0026"),
                // Text is UTF-8, so the byte after a part of U+2028 is never the first of another.
                byte => safe.push(*byte),
            }
        }
        self.out.write_all(&safe)?;
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        self.out.flush()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Written in pieces of every length, the text is the same and still means what it meant.
    fn check(text: &str, expected: &str) {
        let json = serde_json::to_vec(text).unwrap();
        for piece in 1..=json.len() {
            let mut written = Vec::new();
            let mut out = InScript::new(&mut written);
            json.chunks(piece).for_each(|c| out.write_all(c).unwrap());
            out.finish().unwrap();
            let written = String::from_utf8(written).unwrap();
            assert_eq!(written, expected);
            assert_eq!(serde_json::from_str::<String>(&written).unwrap(), text);
        }
    }

    #[test]
    fn text_that_could_end_the_element_is_escaped_and_means_the_same() {
        check("</script><!--&", r#""\u003c/script\u003e\u003c!--\u0026""#);
        check("a\u{2028}b\u{2029}", r#""a\u2028b\u2029""#);
        check("\u{2027}\u{201c}€â\u{80}", "\"\u{2027}\u{201c}€â\u{80}\"");
        check("\0\u{202e}", "\"\\u0000\u{202e}\"");
    }
}
