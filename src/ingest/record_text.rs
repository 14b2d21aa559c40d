//! Reads records back out of a file, whole, by where they stand.

use super::decode::Text;
use super::xml_text::shown_whole;
use crate::terms::mark::Origin;
use std::io::Read;

/// Bytes of text read at a time.
const BLOCK: usize = 1 << 20;

/// The texts of the records at `origins`, in that order, white space behind them taken off (a tab before the first cell
/// of a row is a cell) and control characters replaced by U+FFFD. A record that the source does not reach is empty.
/// Holds no more of the file than one record and one block.
pub(super) fn texts_at(source: impl Read, origins: &[Origin]) -> Vec<String> {
    let mut texts = vec![String::new(); origins.len()];
    let mut order: Vec<usize> = (0..origins.len()).collect();
    order.sort_by_key(|&i| origins[i].start);
    let mut text = Text::new(source);
    let mut buffer = Vec::new();
    let mut offset = 0_u64;
    let mut more = true;
    for i in order {
        let origin = origins[i];
        let end = origin.start + u64::from(origin.bytes);
        while more && offset + (buffer.len() as u64) < end {
            let passed = origin.start.saturating_sub(offset).min(buffer.len() as u64);
            buffer.drain(..passed as usize);
            offset += passed;
            more = text.append(&mut buffer, BLOCK);
        }
        let from = origin.start.saturating_sub(offset) as usize;
        let to = (end.saturating_sub(offset) as usize).min(buffer.len());
        if let Some(bytes) = buffer.get(from..to) {
            shown_whole(bytes).trim_end().clone_into(&mut texts[i]);
        }
    }
    texts
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::terms::export::FileId;

    #[test]
    fn records_come_back_in_the_order_asked() {
        let text = format!("{}<a>1</a>{}<b>ü</b>", " ".repeat(3 * BLOCK), "x".repeat(BLOCK));
        let at = |what: &str| Origin {
            file: FileId(0),
            record: 1,
            line: 1,
            bytes: what.len() as u32,
            start: text.find(what).unwrap() as u64,
        };
        let origins =
            [at("<b>ü</b>"), at("<a>1</a>"), at("<b>ü</b>"), Origin { start: 1 << 40, ..at("<a>") }];
        assert_eq!(texts_at(text.as_bytes(), &origins), ["<b>ü</b>", "<a>1</a>", "<b>ü</b>", ""]);
    }
}
