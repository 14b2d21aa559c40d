//! Symbols that mean something else on one unit: who marks brush with the fish symbol does so again and again.
//!
//! A unit without a symbol for brush shows whatever its owner chose. Where the names of a file say so often enough, the
//! symbol is read that way on the marks that have nothing but it.

use super::Draft;
use super::kind::{Rules, Spoken, best, is_numbered};
use super::tokens::lex;
use crate::terms::export::FileId;
use crate::terms::finding::{Code, Finding};
use crate::terms::mark::{Kind, Origin};
use std::collections::BTreeMap;

/// So many names must tell what a symbol stands on, and this share of them the same (our own choice: a chance
/// agreement of eight in ten is unlikely where a symbol means what it shows).
const FEWEST: usize = 8;
const SHARE: f64 = 0.8;
/// Marks of a file that are asked, taken evenly from all.
const SAMPLE: usize = 2000;

/// What the symbols of a file stand on, where that is not what they show. Symbols in lower case.
pub(super) type Symbols = BTreeMap<(FileId, String), Kind>;

/// Finds the symbols whose marks are named for another kind than the symbol shows, and tells of each.
pub(super) fn of_files(drafts: &[Draft], rules: &Rules, findings: &mut Vec<Finding>) -> Symbols {
    let mut symbols = Symbols::new();
    for of_file in drafts.chunk_by(|a, b| a.file() == b.file()) {
        let file = of_file[0].file();
        let mut named: BTreeMap<String, BTreeMap<Kind, usize>> = BTreeMap::new();
        for draft in of_file.iter().step_by(of_file.len().div_ceil(SAMPLE).max(1)) {
            let words = &draft.raw.words;
            if words.sym().is_empty() {
                continue;
            }
            let name = lex(words.name());
            if let Some(kind) = best(&rules.matches(&name)).filter(|_| !is_numbered(&name)) {
                *named.entry(words.sym().to_lowercase()).or_default().entry(kind).or_default() += 1;
            }
        }
        for (symbol, kinds) in named {
            let all: usize = kinds.values().sum();
            let Some((kind, count)) =
                kinds.into_iter().max_by_key(|(kind, count)| (*count, std::cmp::Reverse(*kind)))
            else {
                continue;
            };
            let Some(shown) = best(&rules.matches(&lex(&symbol))).filter(|shown| *shown != kind) else {
                continue;
            };
            if all < FEWEST || (count as f64) < SHARE * all as f64 {
                continue;
            }
            let seen = format!(
                "the symbol `{symbol}`, which shows `{}`, stands on marks named for `{}`: {count} of {all}",
                shown.word(),
                kind.word()
            );
            findings.push(
                Finding::new(Code::SymbolMeaning, seen)
                    .at(Origin::whole_file(file), "")
                    .done(format!(
                        "marks of this file with nothing but the symbol are read as `{}`",
                        kind.word()
                    ))
                    .fix("set the kind in edits.csv where that is wrong"),
            );
            symbols.insert((file, symbol), kind);
        }
    }
    symbols
}

/// What the symbol of a mark means on its unit, where nothing but the symbol tells the mark's kind.
pub(super) fn meaning(draft: &Draft, spoken: &Spoken, symbols: &Symbols) -> Option<Kind> {
    if symbols.is_empty() || !spoken.by_symbol {
        return None;
    }
    symbols.get(&(draft.file(), draft.raw.words.sym().to_lowercase())).copied()
}
