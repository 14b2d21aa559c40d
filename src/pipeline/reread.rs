//! Records read once more, out of files that must still be what they were.

use super::{Run, RunError};
use crate::ingest;
use crate::terms::export::FileId;
use crate::terms::mark::Origin;
use std::collections::BTreeMap;
use std::fs::File;
use std::time::SystemTime;

/// What tells whether a file is still the one that was read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Stamp {
    bytes: u64,
    modified: Option<SystemTime>,
}

impl Stamp {
    /// Of an open file; `None`: it is none that can be read twice.
    pub(super) fn of(file: &File) -> Option<Self> {
        let metadata = file.metadata().ok().filter(std::fs::Metadata::is_file)?;
        Some(Self { bytes: metadata.len(), modified: metadata.modified().ok() })
    }
}

impl Run {
    /// The text of each record that was set aside, read again from its file, a file at a time.
    ///
    /// # Errors
    /// When a file is gone or was changed since: a record told from it might be another one, or half of one.
    pub(super) fn texts_set_aside(&self) -> Result<BTreeMap<Origin, String>, RunError> {
        let mut by_file: BTreeMap<FileId, Vec<Origin>> = BTreeMap::new();
        for one in &self.set_aside {
            by_file.entry(one.origin.file).or_default().push(one.origin);
        }
        let mut texts = BTreeMap::new();
        for (file, origins) in by_file {
            let export = &self.exports[file.0 as usize];
            let changed = || RunError::Changed { path: export.path.clone() };
            let stamp = self.stamps[file.0 as usize].ok_or_else(changed)?;
            let source = File::open(&export.path).map_err(|_| changed())?;
            let records = ingest::record_texts(export, &source, &origins);
            if Stamp::of(&source) != Some(stamp) {
                return Err(changed());
            }
            texts.extend(origins.into_iter().zip(records));
        }
        Ok(texts)
    }
}
