//! Turns the bytes of a file into text in UTF-8, a block at a time.
//!
//! A byte-order mark decides first, then zero bytes between letters (UTF-16 without a mark), then the declaration
//! `encoding="…"`. Bytes of a file that says or means UTF-8 pass through as they are: a bad one among them is dealt
//! with where it stands, so that it costs no more than its record.

use encoding_rs::{CoderResult, Decoder, Encoding, UTF_8, UTF_16BE, UTF_16LE};
use std::io::{self, Read};

/// Bytes read from the file at a time where they have to be decoded.
const BLOCK: usize = 1 << 16;
/// Where a declaration is looked for.
const HEAD: usize = 256;

/// A file's text in UTF-8.
pub(super) struct Text<R> {
    source: R,
    head: Vec<u8>,
    decoder: Option<Decoder>,
    encoding: &'static Encoding,
    failed: Option<io::Error>,
    ended: bool,
}

impl<R: Read> Text<R> {
    /// Reads the first bytes and decides how to go on.
    pub(super) fn new(mut source: R) -> Self {
        let mut head = Vec::with_capacity(HEAD);
        let failed = source.by_ref().take(HEAD as u64).read_to_end(&mut head).err();
        let (encoding, mark_length) = Encoding::for_bom(&head).unwrap_or_else(|| (without_mark(&head), 0));
        head.drain(..mark_length);
        let decoder = (encoding != UTF_8).then(|| encoding.new_decoder_without_bom_handling());
        Self { source, head, decoder, encoding, ended: failed.is_some(), failed }
    }

    /// Name of the encoding, when it is another than UTF-8.
    pub(super) fn foreign_encoding(&self) -> Option<&'static str> {
        self.decoder.is_some().then(|| self.encoding.name())
    }

    /// Appends at least `wanted` bytes of text to `text`, less only at the end. Returns whether more may come. An
    /// error of the source ends the text and is kept for [`Text::failed`].
    pub(super) fn append(&mut self, text: &mut Vec<u8>, wanted: usize) -> bool {
        let goal = text.len() + wanted;
        if self.ended && !self.head.is_empty() {
            // The source failed within its first bytes.
            let head = std::mem::take(&mut self.head);
            match &mut self.decoder {
                Some(decoder) => decode_block(decoder, &head, true, text),
                None => text.extend_from_slice(&head),
            }
        }
        while !self.ended && text.len() < goal {
            if let Some(decoder) = &mut self.decoder {
                let mut block = std::mem::take(&mut self.head);
                let read = self.source.by_ref().take(BLOCK as u64).read_to_end(&mut block);
                self.ended = !matches!(read, Ok(n) if n > 0);
                self.failed = read.err();
                decode_block(decoder, &block, self.ended, text);
            } else {
                text.append(&mut self.head);
                let missing = goal.saturating_sub(text.len()).max(1);
                let read = self.source.by_ref().take(missing as u64).read_to_end(text);
                self.ended = !matches!(read, Ok(n) if n == missing);
                self.failed = read.err();
            }
        }
        !self.ended
    }

    /// Why the text ended early, if it did.
    pub(super) const fn failed(&self) -> Option<&io::Error> {
        self.failed.as_ref()
    }
}

fn decode_block(decoder: &mut Decoder, mut block: &[u8], last: bool, text: &mut Vec<u8>) {
    let mut out =
        String::with_capacity(decoder.max_utf8_buffer_length(block.len()).unwrap_or(block.len() * 3));
    loop {
        let (result, read, _) = decoder.decode_to_string(block, &mut out, last);
        block = &block[read..];
        match result {
            CoderResult::InputEmpty => break,
            CoderResult::OutputFull => out.reserve(block.len() * 3 + 16),
        }
    }
    text.extend_from_slice(out.as_bytes());
}

/// The encoding of a file without a byte-order mark.
fn without_mark(head: &[u8]) -> &'static Encoding {
    // XML 1.0, appendix F: `<` and a zero byte tell UTF-16 without a mark.
    match head {
        [b'<', 0, ..] => return UTF_16LE,
        [0, b'<', ..] => return UTF_16BE,
        _ => {}
    }
    declared(head)
        // ASCII is UTF-8 too, and who says ASCII may well write UTF-8; `for_label` would give windows-1252.
        .filter(|label| !label.to_ascii_lowercase().ends_with(b"ascii"))
        .and_then(Encoding::for_label)
        // A declaration that can be read as ASCII is no UTF-16, whatever it says.
        .filter(|encoding| encoding.is_ascii_compatible())
        .unwrap_or(UTF_8)
}

/// The value of `encoding` in an XML declaration.
fn declared(head: &[u8]) -> Option<&[u8]> {
    let head = head.trim_ascii_start().strip_prefix(b"<?xml")?;
    let declaration = &head[..memchr::memchr(b'>', head)?];
    let at = memchr::memmem::find(declaration, b"encoding")?;
    let value = declaration[at + 8..].trim_ascii_start().strip_prefix(b"=")?.trim_ascii_start();
    let (quote, value) = value.split_first()?;
    Some(&value[..memchr::memchr(*quote, value)?])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(bytes: &[u8], expected: &str, encoding: Option<&str>) {
        let mut text = Text::new(bytes);
        assert_eq!(text.foreign_encoding(), encoding);
        let mut out = Vec::new();
        while text.append(&mut out, 1) {}
        assert_eq!(String::from_utf8(out).unwrap(), expected);
        assert!(text.failed().is_none());
    }

    fn utf_16(text: &str, mark: bool) -> Vec<u8> {
        mark.then_some(0xFEFF).into_iter().chain(text.encode_utf16()).flat_map(u16::to_le_bytes).collect()
    }

    #[test]
    fn marks_declarations_and_zero_bytes_tell_the_encoding() {
        check("\u{feff}<gpx/>ü".as_bytes(), "<gpx/>ü", None);
        check("<gpx/>ü".as_bytes(), "<gpx/>ü", None);
        check(&utf_16("<gpx/>ü", true), "<gpx/>ü", Some("UTF-16LE"));
        check(&utf_16("<gpx/>ü", false), "<gpx/>ü", Some("UTF-16LE"));
        let latin = b"<?xml version='1.0' encoding='ISO-8859-1'?>\xfc";
        check(latin, "<?xml version='1.0' encoding='ISO-8859-1'?>ü", Some("windows-1252"));
        check(b"<?xml encoding='UTF-16'?>", "<?xml encoding='UTF-16'?>", None);
        check("<?xml encoding='US-ASCII'?>ü".as_bytes(), "<?xml encoding='US-ASCII'?>ü", None);
        check(b"", "", None);
    }

    #[test]
    fn long_texts_come_whole_across_blocks() {
        let text = "ü<wpt/>€".repeat(40_000);
        check(&utf_16(&text, true), &text, Some("UTF-16LE"));
        check(text.as_bytes(), &text, None);
    }
}
