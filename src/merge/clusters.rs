//! Clusters: sets of marks that are one mark, united pair by pair.

use super::same_mark::{MINUTE_MS, ToTheMinute, is_clock_shift, whole_hours};
use crate::terms::export::FileId;
use crate::terms::mark::Mark;

/// Sets of marks that are one mark, no two of one file in a set (but for doubled records).
pub(super) struct Clusters {
    parent: Vec<u32>,
    files: Vec<Vec<FileId>>,
    /// Time of a dated member, and whether it is told to the minute only; to the second where one tells it.
    times: Vec<Option<(ToTheMinute, i64)>>,
}

impl Clusters {
    pub(super) fn new(marks: &[Mark], to_the_minute: &[ToTheMinute]) -> Self {
        let files = marks
            .iter()
            .map(|mark| {
                let mut files: Vec<FileId> = mark.sources.iter().map(|s| s.file).collect();
                files.sort_unstable();
                files.dedup();
                files
            })
            .collect();
        let times =
            marks.iter().zip(to_the_minute).map(|(m, minute)| Some((*minute, m.time?.unix_ms()))).collect();
        Self { parent: (0..marks.len() as u32).collect(), files, times }
    }

    fn root(&mut self, mut i: u32) -> u32 {
        while self.parent[i as usize] != i {
            let up = self.parent[self.parent[i as usize] as usize];
            self.parent[i as usize] = up;
            i = up;
        }
        i
    }

    /// Unites two sets unless both hold a mark of one file, or, where a mark without a time to the second is all that
    /// links them (`slack_ms` given), both have times of their own that are not the same moment.
    pub(super) fn unite(&mut self, a: u32, b: u32, slack_ms: Option<i64>) {
        let (a, b) = (self.root(a), self.root(b));
        let disjoint = || {
            let (few, many) = (&self.files[a as usize], &self.files[b as usize]);
            !few.iter().any(|file| many.binary_search(file).is_ok())
        };
        let one_moment = || match (slack_ms, self.times[a as usize], self.times[b as usize]) {
            (Some(slack), Some((p_minute, p)), Some((q_minute, q))) => {
                let (shift, residue) = whole_hours(q - p);
                let exact = p_minute == ToTheMinute::No && q_minute == ToTheMinute::No;
                let slack = if exact { slack } else { slack.max(MINUTE_MS) };
                residue.abs() <= slack && is_clock_shift(shift)
            }
            _ => true,
        };
        if a != b && disjoint() && one_moment() {
            self.join(a, b);
        }
    }

    /// Unites two records that say the very same, whatever their files.
    pub(super) fn unite_doubled(&mut self, a: u32, b: u32) {
        let (a, b) = (self.root(a), self.root(b));
        if a != b {
            self.join(a, b);
        }
    }

    fn join(&mut self, a: u32, b: u32) {
        let (first, second) = (a.min(b), a.max(b));
        self.parent[second as usize] = first;
        let moved = std::mem::take(&mut self.files[second as usize]);
        let (one, other) = (self.times[first as usize], self.times[second as usize]);
        // The finer first; of two alike the one of the earlier mark.
        self.times[first as usize] = [one, other].into_iter().flatten().min_by_key(|(minute, _)| *minute);
        let files = &mut self.files[first as usize];
        files.extend(moved);
        files.sort_unstable();
        files.dedup();
    }

    /// Each mark with the first of its set, sets together, in the order of their first.
    pub(super) fn into_members(mut self) -> Vec<(u32, u32)> {
        let mut members: Vec<(u32, u32)> = (0..self.parent.len() as u32).map(|i| (self.root(i), i)).collect();
        members.sort_unstable();
        members
    }
}
