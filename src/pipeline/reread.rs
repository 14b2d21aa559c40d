//! Records read once more, out of files that must still be what they were.

use super::{Run, RunError};
use crate::ingest;
use crate::output::OutputError;
use crate::terms::export::FileId;
use crate::terms::mark::Origin;
use std::fs::File;
use std::io;
use std::path::PathBuf;
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

/// The records set aside, read again from their files, a file at a time.
///
/// A file that is gone or was changed since stops it: a record told from it might be another one, or half of one.
pub(super) struct Reread<'a> {
    run: &'a Run,
    open: Option<Open>,
    /// The file that is not what was read.
    changed: Option<PathBuf>,
}

struct Open {
    file: FileId,
    source: File,
    records: ingest::Records<File>,
}

impl<'a> Reread<'a> {
    pub(super) const fn new(run: &'a Run) -> Self {
        Self { run, open: None, changed: None }
    }

    /// The text of a record, which stands behind those asked for before.
    ///
    /// # Errors
    /// When its file, or the one before, is not what was read.
    pub(super) fn text(&mut self, origin: Origin) -> io::Result<String> {
        if self.open.as_ref().is_none_or(|open| open.file != origin.file) {
            self.finish()?;
            let Some(open) = self.opened(origin.file) else { return Err(self.stop(origin.file)) };
            self.open = Some(open);
        }
        Ok(self.open.as_mut().map(|open| open.records.at(origin)).unwrap_or_default())
    }

    /// Looks at the last file once more.
    ///
    /// # Errors
    /// When it is not what was read.
    pub(super) fn finish(&mut self) -> io::Result<()> {
        let Some(open) = self.open.take() else { return Ok(()) };
        let same = Stamp::of(&open.source) == self.run.stamps[open.file.0 as usize];
        if same { Ok(()) } else { Err(self.stop(open.file)) }
    }

    fn opened(&self, file: FileId) -> Option<Open> {
        let export = &self.run.exports[file.0 as usize];
        let source = File::open(&export.path).ok()?;
        let stamp = Stamp::of(&source)?;
        let same = self.run.stamps[file.0 as usize] == Some(stamp);
        let records = ingest::Records::new(export, source.try_clone().ok()?);
        same.then_some(Open { file, source, records })
    }

    fn stop(&mut self, file: FileId) -> io::Error {
        self.changed = Some(self.run.exports[file.0 as usize].path.clone());
        io::Error::other("an input was changed")
    }

    /// Why what was written from these texts could not be written.
    pub(super) fn why(self, error: OutputError) -> RunError {
        self.changed.map_or(RunError::Output(error), |path| RunError::Changed { path })
    }
}
