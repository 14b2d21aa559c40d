//! Names of marks as merging compares them: without case, spaces and signs, and perhaps cut short.

use crate::terms::mark::Mark;
use rayon::prelude::*;
use std::ops::Index;

/// A name without case, spaces and signs.
pub(super) fn bare_name(name: &str) -> Box<str> {
    let mut bare = String::with_capacity(name.len());
    push_bare(&mut bare, name);
    bare.into()
}

fn push_bare(bare: &mut String, name: &str) {
    if name.is_ascii() {
        let letters = name.bytes().filter(u8::is_ascii_alphanumeric);
        return bare.extend(letters.map(|letter| char::from(letter.to_ascii_lowercase())));
    }
    bare.extend(name.chars().filter(|c| c.is_alphanumeric()).flat_map(char::to_lowercase));
}

/// Units cut names to eight characters and more (common practice, no source): so much of two names must agree.
const CUT: usize = 8;

/// The characters of a bare name that no unit cuts.
pub(super) fn first_letters(name: &str) -> &str {
    name.char_indices().nth(CUT).map_or(name, |(at, _)| &name[..at])
}

/// Whether two bare names are one, or one is the other cut short.
pub(super) fn same_name(a: &str, b: &str) -> bool {
    let (short, long) = if a.len() <= b.len() { (a, b) } else { (b, a) };
    a == b || (short.chars().count() >= CUT && long.starts_with(short))
}

/// The bare names of a log in one text: a million of them apart would weigh 50 MB.
pub(super) struct BareNames {
    text: String,
    /// Where each name ends.
    ends: Vec<usize>,
}

impl BareNames {
    pub(super) fn of(marks: &[Mark]) -> Self {
        let blocks: Vec<(String, Vec<usize>)> = marks
            .par_chunks(1 << 14)
            .map(|block| {
                let (mut text, mut ends) = (String::new(), Vec::with_capacity(block.len()));
                for mark in block {
                    push_bare(&mut text, mark.words.name());
                    ends.push(text.len());
                }
                (text, ends)
            })
            .collect();
        let (mut text, mut ends) = (String::new(), Vec::with_capacity(marks.len()));
        for (of_block, ends_in_block) in blocks {
            ends.extend(ends_in_block.into_iter().map(|end| text.len() + end));
            text.push_str(&of_block);
        }
        Self { text, ends }
    }
}

impl Index<usize> for BareNames {
    type Output = str;

    fn index(&self, mark: usize) -> &str {
        let start = if mark == 0 { 0 } else { self.ends[mark - 1] };
        &self.text[start..self.ends[mark]]
    }
}
