//! Clusters: sets of marks that are one mark, united pair by pair.

use super::same_mark::{MINUTE_MS, ToTheMinute, is_clock_shift, whole_hours};
use crate::terms::export::FileId;
use crate::terms::mark::Mark;
use std::borrow::Cow;
use std::collections::HashMap;

/// Sets of marks that are one mark, no two of one file in a set (but for doubled records).
pub(super) struct Clusters<'a> {
    marks: &'a [Mark],
    to_the_minute: &'a [ToTheMinute],
    parent: Vec<u32>,
    /// What is known of each set of two marks and more, by its first. Nearly all marks stay alone.
    united: HashMap<u32, Set>,
}

/// What the marks of a set have between them.
#[derive(Clone)]
struct Set {
    /// Their files, ascending, each once.
    files: Vec<FileId>,
    /// Time of a dated member, and whether it is told to the minute only; to the second where one tells it.
    time: Option<(ToTheMinute, i64)>,
}

impl Set {
    fn of_one(marks: &[Mark], to_the_minute: &[ToTheMinute], number: u32) -> Self {
        let mark = &marks[number as usize];
        let mut files: Vec<FileId> = mark.sources.iter().map(|s| s.file).collect();
        files.sort_unstable();
        files.dedup();
        Self { files, time: mark.time.map(|time| (to_the_minute[number as usize], time.unix_ms())) }
    }
}

impl<'a> Clusters<'a> {
    pub(super) fn new(marks: &'a [Mark], to_the_minute: &'a [ToTheMinute]) -> Self {
        let parent = (0..marks.len() as u32).collect();
        Self { marks, to_the_minute, parent, united: HashMap::new() }
    }

    fn set_of(&self, root: u32) -> Cow<'_, Set> {
        let united = self.united.get(&root).map(Cow::Borrowed);
        united.unwrap_or_else(|| Cow::Owned(Set::of_one(self.marks, self.to_the_minute, root)))
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
    /// links them (`slack_ms` given), both have times of their own that are not the same moment. Returns whether it did.
    pub(super) fn unite(&mut self, a: u32, b: u32, slack_ms: Option<i64>) -> bool {
        let (a, b) = (self.root(a), self.root(b));
        if a == b {
            return false;
        }
        let (of_a, of_b) = (self.set_of(a), self.set_of(b));
        let disjoint = !of_a.files.iter().any(|file| of_b.files.binary_search(file).is_ok());
        let one_moment = || match (slack_ms, of_a.time, of_b.time) {
            (Some(slack), Some((p_minute, p)), Some((q_minute, q))) => {
                let (shift, residue) = whole_hours(q - p);
                let exact = p_minute == ToTheMinute::No && q_minute == ToTheMinute::No;
                let slack = if exact { slack } else { slack.max(MINUTE_MS) };
                residue.abs() <= slack && is_clock_shift(shift)
            }
            _ => true,
        };
        let is_one = disjoint && one_moment();
        if is_one {
            self.join(a, b);
        }
        is_one
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
        let mut take = |root| {
            self.united.remove(&root).unwrap_or_else(|| Set::of_one(self.marks, self.to_the_minute, root))
        };
        let (mut set, other) = (take(first), take(second));
        // The finer first; of two alike the one of the earlier mark.
        set.time = [set.time, other.time].into_iter().flatten().min_by_key(|(minute, _)| *minute);
        set.files.extend(other.files);
        set.files.sort_unstable();
        set.files.dedup();
        self.united.insert(first, set);
    }

    /// Each mark with the first of its set, sets together, in the order of their first.
    pub(super) fn into_members(mut self) -> Vec<(u32, u32)> {
        let mut members: Vec<(u32, u32)> = (0..self.parent.len() as u32).map(|i| (self.root(i), i)).collect();
        members.sort_unstable();
        members
    }
}
