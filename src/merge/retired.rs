//! Marks that were deleted on the unit but still stand in an older export of it: kept, and told.

use crate::terms::export::{Export, FileId};
use crate::terms::finding::{Code, Finding};
use crate::terms::mark::{Mark, Origin};
use std::collections::BTreeMap;

/// A later export of a unit is a full one when it holds this share of what the earlier had, and so many marks
/// (our own choice: a trip's export shares few marks with the one before).
const SHARE: f64 = 0.8;
const FEWEST: usize = 20;

/// Tags the marks of earlier exports that a later full export of the same unit no longer has, and tells of each file.
pub(super) fn tag(marks: &mut [Mark], exports: &[Export]) -> Vec<Finding> {
    let mut of_unit: BTreeMap<&str, Vec<FileId>> = BTreeMap::new();
    for (number, export) in exports.iter().enumerate() {
        of_unit.entry(&export.unit).or_default().push(FileId(number as u32));
    }
    of_unit.retain(|_, files| files.len() > 1);
    let mut held: BTreeMap<FileId, Vec<usize>> = BTreeMap::new();
    for (number, mark) in marks.iter().enumerate() {
        let mut files: Vec<FileId> = mark.sources.iter().map(|source| source.file).collect();
        files.dedup();
        for file in files.into_iter().filter(|file| of_unit.values().any(|unit| unit.contains(file))) {
            held.entry(file).or_default().push(number);
        }
    }
    let mut findings = Vec::new();
    for files in of_unit.values() {
        // The newest export of the unit is the one with the newest mark; of two the larger.
        let newest = |file: &FileId| {
            let marks_of = held.get(file).map_or(&[][..], Vec::as_slice);
            (marks_of.iter().filter_map(|number| marks[*number].time).max(), marks_of.len())
        };
        let Some(last) = files.iter().copied().max_by_key(|file| (newest(file), std::cmp::Reverse(*file)))
        else {
            continue;
        };
        let Some(kept) = held.get(&last) else { continue };
        for file in files.iter().copied().filter(|file| *file != last) {
            let Some(before) = held.get(&file) else { continue };
            let gone: Vec<usize> =
                before.iter().copied().filter(|number| kept.binary_search(number).is_err()).collect();
            let still = before.len() - gone.len();
            if gone.is_empty() || before.len() < FEWEST || (still as f64) < SHARE * before.len() as f64 {
                continue;
            }
            let example = &marks[gone[0]];
            let seen = format!(
                "{} of {} marks are no longer in `{}`, a later export of the same unit; the first is `{}`",
                gone.len(),
                before.len(),
                exports[last.0 as usize].label,
                example.words.name()
            );
            findings.push(
                Finding::new(Code::MarkRetired, seen)
                    .at(Origin::whole_file(file), "")
                    .done("kept: a mark deleted on the unit may still tell of the season it was made in")
                    .fix("drop them in edits.csv where they were mistakes"),
            );
            for number in gone {
                marks[number].repairs.insert(Code::MarkRetired);
            }
        }
    }
    findings
}
