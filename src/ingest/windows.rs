//! Cuts a file's text into windows that can be read apart from each other.
//!
//! A window ends just before the start tag of an element that gives GPX its shape, outside comments and CDATA, so
//! that what is read does not depend on where windows are cut. A stretch of more than [`MOST_BYTES`] without such a
//! tag is passed over after its first megabyte: memory stays bounded whatever the file holds.

use super::decode::Text;
use super::gpx_dialect::Dialect;
use super::xml_tokens::{Declarations, MOST_BYTES, TagName};
use memchr::{memchr, memchr_iter, memmem, memrchr};
use std::io::Read;
use std::ops::Range;

/// Bytes at the end of the buffer in which a tag name may be cut off.
const NAME_ROOM: usize = 80;

/// How much is read at a time.
#[derive(Clone, Copy, Debug)]
pub(super) struct WindowSize {
    /// Bytes of a window, about.
    pub(super) window: usize,
    /// Windows that are read side by side.
    pub(super) at_once: usize,
}

/// Windows that can be read side by side.
pub(super) struct Batch<'a> {
    /// The windows, one after the other.
    pub(super) windows: Vec<&'a [u8]>,
    /// Where the first starts in the file's text.
    pub(super) offset: u64,
    /// Line feeds that were passed over before it.
    pub(super) lines_passed: u32,
}

/// The text of a file on its way into windows.
pub(super) struct Windows<'d, R> {
    text: Text<R>,
    dialect: &'d Dialect,
    size: WindowSize,
    buffer: Vec<u8>,
    /// Bytes of `buffer` handed out by the last batch.
    used: usize,
    /// Where `buffer` starts in the text.
    offset: u64,
    more: bool,
    /// Whether the buffer starts inside a stretch that is passed over.
    adrift: bool,
}

impl<'d, R: Read> Windows<'d, R> {
    /// `buffer` is what was already taken from `text`.
    pub(super) const fn new(
        text: Text<R>,
        dialect: &'d Dialect,
        size: WindowSize,
        buffer: Vec<u8>,
        more: bool,
    ) -> Self {
        Self { text, dialect, size, buffer, used: 0, offset: 0, more, adrift: false }
    }

    /// The next windows; `None` at the end.
    pub(super) fn next_batch(&mut self) -> Option<Batch<'_>> {
        let mut lines_passed = 0;
        self.drop_front(self.used);
        let mut wanted = self.size.window.saturating_mul(self.size.at_once);
        let ends = loop {
            if self.more && self.buffer.len() < wanted {
                let missing = wanted - self.buffer.len();
                self.more = self.text.append(&mut self.buffer, missing);
            }
            let view = View::new(&self.buffer, self.more, self.dialect);
            if self.adrift {
                let landed = view.first_start(0);
                let passed = landed.unwrap_or(view.limit);
                lines_passed += memchr_iter(b'\n', &self.buffer[..passed]).count() as u32;
                self.adrift = landed.is_none();
                self.drop_front(passed);
                if self.adrift && !self.more {
                    return None;
                }
                wanted = wanted.max(self.buffer.len() + self.size.window);
                continue;
            }
            if self.buffer.is_empty() {
                return None;
            }
            let ends = view.cuts(self.size.window);
            if !ends.is_empty() {
                break ends;
            }
            // All comments in the first half of two megabytes are decided.
            if self.buffer.len() > 2 * MOST_BYTES + NAME_ROOM {
                self.adrift = true;
                break vec![view.limit];
            }
            wanted = self.buffer.len() + self.size.window.max(NAME_ROOM);
        };
        self.used = *ends.last()?;
        let starts = std::iter::once(0).chain(ends.iter().copied());
        let windows = starts.zip(&ends).map(|(from, to)| &self.buffer[from..*to]).collect();
        Some(Batch { windows, offset: self.offset, lines_passed })
    }

    /// Whether the text ended inside a stretch that was passed over.
    pub(super) const fn ended_adrift(&self) -> bool {
        self.adrift
    }

    /// Why the text ended early, if it did.
    pub(super) const fn failed(&self) -> Option<&std::io::Error> {
        self.text.failed()
    }

    fn drop_front(&mut self, count: usize) {
        self.buffer.drain(..count);
        self.offset += count as u64;
        self.used = 0;
    }
}

/// A buffer with its comments, CDATA sections and declarations marked.
struct View<'a> {
    buffer: &'a [u8],
    dialect: &'a Dialect,
    asides: Vec<Range<usize>>,
    /// Nothing from here on is decided.
    limit: usize,
    more: bool,
}

impl<'a> View<'a> {
    fn new(buffer: &'a [u8], more: bool, dialect: &'a Dialect) -> Self {
        let mut limit = if more { buffer.len().saturating_sub(NAME_ROOM) } else { buffer.len() };
        let mut asides = Vec::new();
        let finder = memmem::Finder::new("<!");
        let mut declarations = Declarations::new();
        let mut at = 0;
        while let Some(found) = finder.find(&buffer[at..]).map(|i| at + i).filter(|found| *found < limit) {
            if let Some(length) = declarations.length(buffer, found) {
                asides.push(found..found + length);
                at = found + length;
            } else if more && buffer.len() - found < MOST_BYTES {
                limit = found;
            } else {
                at = found + 2;
            }
        }
        // A decided aside may reach past the limit; what follows must not start inside it.
        if let Some(aside) = asides.last() {
            limit = limit.max(aside.end);
        }
        Self { buffer, dialect, asides, limit, more }
    }

    fn is_start(&self, at: usize) -> bool {
        let aside = self.asides.partition_point(|aside| aside.end <= at);
        self.dialect.shape(TagName::at_start(&self.buffer[at + 1..])).is_some()
            && self.asides.get(aside).is_none_or(|aside| at < aside.start)
    }

    /// The first place to cut at or after `from`.
    fn first_start(&self, mut from: usize) -> Option<usize> {
        while from < self.limit {
            let at = from + memchr(b'<', &self.buffer[from..self.limit])?;
            if self.is_start(at) {
                return Some(at);
            }
            from = at + 1;
        }
        None
    }

    /// The last place to cut after `after` and at most `window` behind it.
    fn last_start(&self, after: usize, window: usize) -> Option<usize> {
        let mut end = after.saturating_add(window).saturating_add(1).min(self.limit);
        while end > after + 1 {
            let at = after + 1 + memrchr(b'<', &self.buffer[after + 1..end])?;
            if self.is_start(at) {
                return Some(at);
            }
            end = at;
        }
        None
    }

    /// Where windows end; empty when the buffer holds no whole window yet.
    fn cuts(&self, window: usize) -> Vec<usize> {
        let mut ends = Vec::new();
        let mut from = 0;
        while from < self.buffer.len() {
            let rest = self.buffer.len() - from;
            let cut = if !self.more && rest <= window {
                None
            } else {
                self.last_start(from, window)
                    .or_else(|| self.first_start(from.saturating_add(window).saturating_add(1)))
            };
            match cut {
                Some(cut) => {
                    ends.push(cut);
                    from = cut;
                }
                None if self.more => break,
                None => {
                    ends.push(self.buffer.len());
                    break;
                }
            }
        }
        ends
    }
}
