//! Reads records back out of a file, whole, by where they stand.

use super::decode::Text;
use super::xml_text::shown_whole;
use crate::terms::mark::Origin;
use std::io::Read;

/// Bytes of text read at a time.
const BLOCK: usize = 1 << 20;

/// A file's text on the way from record to record. Holds no more of the file than one record and one block.
pub(super) struct TextsAt<R> {
    text: Text<R>,
    buffer: Vec<u8>,
    /// Where `buffer` starts in the text.
    offset: u64,
    more: bool,
}

impl<R: Read> TextsAt<R> {
    pub(super) fn new(source: R) -> Self {
        Self { text: Text::new(source), buffer: Vec::new(), offset: 0, more: true }
    }

    /// The text of the record at `origin`, which starts no earlier than the one asked for before; white space behind it
    /// that XML knows taken off (a tab before the first cell of a row is a cell) and control characters replaced by U+FFFD. Empty where
    /// the source does not reach.
    pub(super) fn at(&mut self, origin: Origin) -> String {
        let end = origin.start + u64::from(origin.bytes);
        while self.more && self.offset + (self.buffer.len() as u64) < end {
            let passed = origin.start.saturating_sub(self.offset).min(self.buffer.len() as u64);
            self.buffer.drain(..passed as usize);
            self.offset += passed;
            self.more = self.text.append(&mut self.buffer, BLOCK);
        }
        let from = origin.start.saturating_sub(self.offset) as usize;
        let to = (end.saturating_sub(self.offset) as usize).min(self.buffer.len());
        // A blank that XML does not know belongs to the name that it ends: without it, `<wpt` would be another record.
        self.buffer.get(from..to).map_or_else(String::new, |bytes| {
            let end = bytes.iter().rposition(|byte| !b" \t\r\n".contains(byte)).map_or(0, |last| last + 1);
            shown_whole(&bytes[..end])
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::terms::export::FileId;

    #[test]
    fn records_come_back_from_far_apart() {
        let text = format!("{}<a>1</a>{}<b>ü</b>", " ".repeat(3 * BLOCK), "x".repeat(BLOCK));
        let at = |what: &str| Origin {
            file: FileId(0),
            record: 1,
            line: 1,
            bytes: what.len() as u32,
            start: text.find(what).unwrap() as u64,
        };
        let mut texts = TextsAt::new(text.as_bytes());
        let asked = [at("<a>1</a>"), at("<b>ü</b>"), at("<b>ü</b>"), Origin { start: 1 << 40, ..at("<a>") }];
        assert_eq!(asked.map(|origin| texts.at(origin)), ["<a>1</a>", "<b>ü</b>", "<b>ü</b>", ""]);
    }
}
