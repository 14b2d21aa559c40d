//! `explain`: an id looked up in what a run made, with the records behind it read again.

use super::{Extent, Run};
use crate::explain::{self, Known, NotFound, Told, Wanted};
use crate::ingest;
use crate::terms::export::FileId;
use crate::terms::mark::{Origin, RawMark};
use std::cell::RefCell;
use std::collections::BTreeMap;
use std::fs::File;

/// How far a run must go to explain what is called so: looks need the outlook's effort, tracks the movement.
#[must_use]
pub fn extent_of(wanted: &Wanted) -> Extent {
    match wanted.class() {
        Some('m' | 's') => Extent::Schools,
        Some('t') => Extent::Movement,
        _ => Extent::Outlook,
    }
}

impl Run {
    /// Tells where a thing comes from.
    ///
    /// # Errors
    /// When nothing, or more than one thing, is called so.
    pub fn explain(&self, wanted: &Wanted) -> Result<Told, NotFound> {
        let files: RefCell<BTreeMap<FileId, Vec<RawMark>>> = RefCell::default();
        let record = |origin: Origin| self.record(origin, &files);
        explain::explain(
            &Known {
                lake: &self.lake,
                exports: &self.exports,
                log: &self.log,
                before_merge: &self.before_merge,
                set_aside: &self.set_aside,
                findings: &self.findings,
                schools: &self.schools,
                movement: &self.movement,
                effort: &self.looked_out.effort,
                prefish: self.prefish.as_ref(),
                practice: self.settings.prefish.date.map(|date| self.lake.day(date)),
                search_speed: self.settings.prefish.search_speed,
                merging: &self.settings.merge,
                sighting_gates: &self.settings.sightings,
                area_gates: &self.settings.schools,
                looking: &self.settings.effort,
                record: &record,
            },
            wanted,
        )
    }

    /// A record as it was read, and as it stands in its file; nothing where the file can no longer be read.
    fn record(
        &self,
        origin: Origin,
        files: &RefCell<BTreeMap<FileId, Vec<RawMark>>>,
    ) -> (Option<RawMark>, String) {
        let Some(export) = self.exports.get(origin.file.0 as usize) else { return (None, String::new()) };
        let Ok(source) = File::open(&export.path) else { return (None, String::new()) };
        let text = ingest::Records::new(export, source).at(origin);
        let mut files = files.borrow_mut();
        let marks = files.entry(origin.file).or_insert_with(|| {
            File::open(&export.path)
                .map_or_else(|_| Vec::new(), |source| ingest::read(export, origin.file, source).marks.kept)
        });
        (marks.iter().find(|mark| mark.origin == origin).cloned(), text)
    }
}
