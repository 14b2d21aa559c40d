//! What a reader sets aside: record by record, and where a file is a heap of broken records, in rows of many.

use super::xml_tokens::MOST_BYTES;
use crate::terms::finding::SetAside;

/// So many records of a file are told one by one. Ten thousand rows are more than anybody mends by hand, and a file of 330
/// MB can hold millions of broken records.
const MOST_ALONE: usize = 10_000;

/// Adds a record. Behind [`MOST_ALONE`] rows, records of one reason that follow each other share a row of at most a
/// megabyte of text.
pub(super) fn add(rows: &mut Vec<SetAside>, next: SetAside) {
    let full = rows.len() >= MOST_ALONE;
    if let Some(last) = rows.last_mut().filter(|_| full) {
        let end = next.origin.start + u64::from(next.origin.bytes);
        let bytes = end.saturating_sub(last.origin.start);
        if next.finding.code == last.finding.code
            && next.origin.record == last.origin.record + last.records
            && bytes <= MOST_BYTES as u64
        {
            last.records += next.records;
            last.origin.bytes = bytes as u32;
            last.finding.origin = Some(last.origin);
            return;
        }
    }
    rows.push(next);
}

/// Says in each row of many records how many they are.
pub(super) fn tell_many(rows: &mut [SetAside]) {
    for row in rows.iter_mut().filter(|row| row.records > 1) {
        row.finding.seen =
            format!("{} records in a row; of the first: {}", row.records, row.finding.seen).into();
    }
}
