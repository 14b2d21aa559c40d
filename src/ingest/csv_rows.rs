//! Cuts CSV text into rows, so that a quote without its end costs one row and not the rest of the file.
//!
//! RFC 4180: a cell may be quoted, a quote inside it is doubled, and line breaks inside quotes belong to the cell.

use super::decode::Text;
use super::xml_text::{TextRepairs, clean_literal};
use memchr::{memchr, memchr_iter, memchr2};
use std::collections::VecDeque;
use std::io::{self, Read};

/// Text taken in at a time.
const BLOCK: usize = 1 << 18;
/// Bytes of rows that are read at once.
const ROWS_AT_ONCE: usize = 1 << 16;

/// Most bytes of a row; a longer one is set aside.
const MOST_ROW_BYTES: usize = 1 << 20;

/// A row's cells and where it stands.
#[derive(Debug)]
pub(super) struct CsvRow {
    /// Texts of its cells, white space at both ends taken off.
    pub(super) cells: Vec<String>,
    /// What had to be repaired in them.
    pub(super) repairs: TextRepairs,
    /// Whether its quotes match.
    pub(super) whole: bool,
    /// Line on which it starts, from 1.
    pub(super) line: u32,
    /// Where it starts in the file's text.
    pub(super) start: u64,
    /// Its length without the line break.
    pub(super) bytes: u32,
}

/// The rows of a file, one after the other; blank ones are left out.
pub(super) struct CsvRows<R> {
    text: Text<R>,
    buffer: Vec<u8>,
    at: usize,
    offset: u64,
    line: u32,
    more: bool,
    delimiter: u8,
    /// Rows that were read but not yet asked for.
    ready: VecDeque<CsvRow>,
}

impl<R: Read> CsvRows<R> {
    /// Looks at the first block and finds the delimiter.
    pub(super) fn new(source: R) -> Self {
        let mut text = Text::new(source);
        let mut buffer = Vec::new();
        let more = text.append(&mut buffer, BLOCK);
        let (delimiter, at) = sniff_delimiter(&buffer);
        let line = 1 + u32::from(at > 0);
        Self { text, buffer, at, offset: 0, line, more, delimiter, ready: VecDeque::new() }
    }

    /// The sign between its cells.
    pub(super) const fn delimiter(&self) -> u8 {
        self.delimiter
    }

    /// Name of the encoding, when it is another than UTF-8.
    pub(super) fn foreign_encoding(&self) -> Option<&'static str> {
        self.text.foreign_encoding()
    }

    /// Why the text ended early, if it did.
    pub(super) const fn failed(&self) -> Option<&io::Error> {
        self.text.failed()
    }

    /// The next row; `None` at the end.
    pub(super) fn next(&mut self) -> Option<CsvRow> {
        loop {
            if let Some(row) = self.ready.pop_front() {
                if row.whole && row.cells.iter().all(String::is_empty) {
                    continue;
                }
                return Some(row);
            }
            self.take_block();
            if self.ready.is_empty() {
                if !self.more {
                    return None;
                }
                self.buffer.drain(..self.at);
                self.offset += self.at as u64;
                self.at = 0;
                self.more = self.text.append(&mut self.buffer, BLOCK);
            }
        }
    }

    /// Reads the whole rows that stand next in the buffer, up to a damaged one, all by one reader: making a reader
    /// costs as much as reading a hundred rows.
    fn take_block(&mut self) {
        let start = self.at;
        let mut damaged = None;
        while self.at < self.buffer.len() && self.at - start < ROWS_AT_ONCE {
            let row = first_row(&self.buffer[self.at..], self.delimiter, self.more);
            let (Row::Whole(length) | Row::Damaged(length)) = row else { break };
            let bytes = &self.buffer[self.at..self.at + length];
            let row = CsvRow {
                cells: Vec::new(),
                repairs: TextRepairs::default(),
                whole: matches!(row, Row::Whole(_)),
                line: self.line,
                start: self.offset + self.at as u64,
                bytes: bytes.trim_ascii_end().len() as u32,
            };
            self.line += line_breaks(bytes);
            if !row.whole {
                damaged = Some(row);
                break;
            }
            self.at += length;
            // The reader passes over rows without a byte, too.
            if bytes.iter().any(|b| !matches!(b, b'\r' | b'\n')) {
                self.ready.push_back(row);
            }
        }
        let mut reader = csv::ReaderBuilder::new()
            .has_headers(false)
            .flexible(true)
            .delimiter(self.delimiter)
            .from_reader(&self.buffer[start..self.at]);
        let mut record = csv::ByteRecord::new();
        for row in &mut self.ready {
            // A slice gives no error but for rows of unequal length, and `flexible` lets those pass.
            row.whole = reader.read_byte_record(&mut record).unwrap_or(false);
            row.cells =
                record.iter().map(|cell| clean_literal(cell, &mut row.repairs).trim().to_owned()).collect();
        }
        if let Some(row) = damaged {
            self.at += first_line(&self.buffer[self.at..]).unwrap_or(self.buffer.len() - self.at);
            self.ready.push_back(row);
        }
    }
}

/// Line breaks in a text: `\n`, `\r\n` or a lone `\r`.
fn line_breaks(text: &[u8]) -> u32 {
    let lone = memchr_iter(b'\r', text).filter(|&at| text.get(at + 1) != Some(&b'\n')).count();
    (memchr_iter(b'\n', text).count() + lone) as u32
}

/// Length of the first line with its line break; `None` when the text has none.
fn first_line(text: &[u8]) -> Option<usize> {
    let end = memchr2(b'\n', b'\r', text)?;
    Some(end + 1 + usize::from(text[end] == b'\r' && text.get(end + 1) == Some(&b'\n')))
}

/// What stands at the start of a text.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Row {
    /// A row of so many bytes, its line break included.
    Whole(usize),
    /// A line of so many bytes with a quote that is never closed, or closed in the middle of a cell.
    Damaged(usize),
    /// More text is needed to tell.
    Unfinished,
}

/// Measures the first row of `text`, its line break included; `more` tells whether text may follow.
fn first_row(text: &[u8], delimiter: u8, more: bool) -> Row {
    // A `\r` at the very end may be the half of a line break.
    let undecided = |length: usize| more && length == text.len() && text.len() < MOST_ROW_BYTES;
    let line = first_line(text).unwrap_or(text.len());
    if undecided(line) {
        return Row::Unfinished;
    }
    // Hardly any row has a quote.
    if memchr(b'"', &text[..line]).is_none() {
        return if line > MOST_ROW_BYTES { Row::Damaged(line) } else { Row::Whole(line) };
    }
    let mut at = 0;
    loop {
        // At the start of a cell.
        if text.get(at) == Some(&b'"') {
            match closing_quote(&text[at + 1..]) {
                Some(end) => at += end + 2,
                None if undecided(text.len()) => return Row::Unfinished,
                None => return Row::Damaged(line),
            }
            match text.get(at) {
                None if undecided(at) => return Row::Unfinished,
                Some(byte) if *byte != delimiter && !matches!(byte, b'\r' | b'\n') => {
                    return Row::Damaged(line);
                }
                _ => {}
            }
        }
        let rest = text.get(at..).unwrap_or_default();
        let cell = rest.iter().position(|&byte| byte == delimiter || matches!(byte, b'\r' | b'\n'));
        match cell {
            Some(end) if rest[end] == delimiter => at += end + 1,
            _ => {
                let length = at + first_line(rest).unwrap_or(rest.len());
                return if undecided(length) { Row::Unfinished } else { Row::Whole(length) };
            }
        }
        if at > MOST_ROW_BYTES {
            return Row::Damaged(line);
        }
    }
}

/// Where the quoted cell ends whose opening quote was just passed.
fn closing_quote(text: &[u8]) -> Option<usize> {
    let mut quotes = memchr_iter(b'"', text);
    while let Some(at) = quotes.next() {
        if text.get(at + 1) != Some(&b'"') {
            return Some(at);
        }
        quotes.next();
    }
    None
}

/// The delimiter of a table: the one that stands most often outside quotes in its first line with text. Excel's
/// `sep=;` line tells it outright. Returns the delimiter and the length of that line, 0 when there is none.
fn sniff_delimiter(head: &[u8]) -> (u8, usize) {
    let start = head.iter().position(|b| !b.is_ascii_whitespace()).unwrap_or(0);
    let line = &head[start..start + memchr(b'\n', &head[start..]).map_or(head.len() - start, |i| i + 1)];
    let word = line.trim_ascii().trim_ascii_start();
    let word = word.strip_prefix(b"\"").and_then(|w| w.strip_suffix(b"\"")).unwrap_or(word);
    if let [b's' | b'S', b'e' | b'E', b'p' | b'P', b'=', delimiter] = word {
        return (*delimiter, start + line.len());
    }
    let count = |delimiter: u8| {
        let mut quoted = false;
        line.iter()
            .filter(|&&b| {
                quoted ^= b == b'"';
                b == delimiter && !quoted
            })
            .count()
    };
    // On a tie the comma wins, then the semicolon: max_by_key keeps the last.
    let delimiter = [b'|', b'\t', b';', b','].into_iter().max_by_key(|&d| count(d)).unwrap_or(b',');
    (delimiter, 0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(text: &str, expected: Row) {
        assert_eq!(first_row(text.as_bytes(), b',', false), expected, "{text}");
    }

    #[test]
    fn rows_end_at_line_breaks_outside_quotes() {
        check("a,b\nc", Row::Whole(4));
        check("a,\"b\nc\",d\r\ne", Row::Whole(11));
        check("\"a\"\"b\",c\n", Row::Whole(9));
        check("a,b\rc,d\r", Row::Whole(4));
        check("a,\"b\rc\"\r\nd", Row::Whole(9));
        check("27\" deep,b\nc", Row::Whole(11));
        check("a,b", Row::Whole(3));
        check("a,\"b\"", Row::Whole(5));
    }

    #[test]
    fn a_quote_without_its_end_costs_its_line_alone() {
        check("\"a,1\nb,2\n", Row::Damaged(5));
        check("\"a,1\n\"b\",2\n", Row::Damaged(5));
    }

    #[test]
    fn more_text_is_asked_for_where_it_decides() {
        assert_eq!(first_row(b"a,b", b',', true), Row::Unfinished);
        assert_eq!(first_row(b"a,b\r", b',', true), Row::Unfinished);
        assert_eq!(first_row(b"\"a\nb", b',', true), Row::Unfinished);
        assert_eq!(first_row(b"a,\"b\n\"", b',', true), Row::Unfinished);
    }

    #[test]
    fn the_delimiter_is_the_commonest_sign_of_the_header() {
        assert_eq!(sniff_delimiter(b"Name;Lat;Lon\nA;45,1;-90,2\n"), (b';', 0));
        assert_eq!(sniff_delimiter(b"\"Name, full\"\tLat\tLon\n"), (b'\t', 0));
        assert_eq!(sniff_delimiter(b"lat,lon\n"), (b',', 0));
        assert_eq!(sniff_delimiter(b"sep=;\r\nlat;lon\n"), (b';', 7));
    }
}
