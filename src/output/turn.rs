//! One at a time in a folder: a lock for the moments in which names are made, looked at and moved.

use std::fs::File;
use std::path::Path;

/// Held while names below a folder are made or moved, so that no other run sees them halfway. Let go when dropped, and
/// by the system when the program is killed.
#[derive(Debug)]
pub(super) struct Turn(#[expect(dead_code, reason = "held for its lock")] Option<File>);

impl Turn {
    /// Waits until no other run is at it. Where a folder cannot be opened or locked (some systems, some network
    /// disks), runs go ahead without.
    pub(super) fn of(folder: &Path) -> Self {
        Self(File::open(folder).ok().filter(|file| file.lock().is_ok()))
    }
}

/// The folder that a path stands in.
pub(super) fn parent(path: &Path) -> &Path {
    path.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."))
}
