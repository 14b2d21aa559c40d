//! Which records were found to be one mark, two by two: the merge told again for one mark.

use super::{Rule, Settings, content_order, same_mark, unit_offset};
use crate::terms::export::Export;
use crate::terms::lake::Lake;
use crate::terms::mark::{Mark, Origin};
use rayon::prelude::*;
use std::collections::BTreeSet;

/// Two records that were found to be the same mark.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Joined {
    /// The two records, in the order of their files.
    pub records: [Origin; 2],
    /// By which rule.
    pub rule: Rule,
    /// Metres between them.
    pub metres: f64,
    /// Seconds between their times; `None`: one has none.
    pub seconds: Option<f64>,
}

/// Judges all marks again, as they came into `merge`, and tells what joined the records of one mark: as many pairs as
/// there are records less one, but for records that only came to say the same after one had taken a name from a copy, and for
/// cover and structure marked again on other days.
#[must_use]
pub fn joined(
    marks: &[Mark],
    records: &[Origin],
    lake: &Lake,
    exports: &[Export],
    settings: &Settings,
) -> Vec<Joined> {
    let mut marks = marks.to_vec();
    marks.par_sort_unstable_by(content_order);
    // Its findings are told by `merge` itself.
    drop(unit_offset::settle(&mut marks, lake, exports, settings));
    marks.par_sort_unstable_by(content_order);
    let records: BTreeSet<Origin> = records.iter().copied().collect();
    let mut joined = Vec::new();
    same_mark::groups_told(&marks, lake, settings, |a, b, rule| {
        let (a, b) = (&marks[a as usize], &marks[b as usize]);
        if records.contains(&a.origin()) && records.contains(&b.origin()) {
            let (first, second) = if a.origin() <= b.origin() { (a, b) } else { (b, a) };
            joined.push(Joined {
                records: [first.origin(), second.origin()],
                rule,
                metres: first.place.metres_to(second.place),
                seconds: first.time.zip(second.time).map(|(a, b)| b.seconds_since(a)),
            });
        }
    });
    joined.sort_by_key(|j| (j.records, j.rule));
    joined
}
