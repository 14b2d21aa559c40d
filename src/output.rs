//! Writing whole or not at all: a folder or a file is built beside its place and then swapped in.

mod file;
mod turn;

pub use file::{OutputFile, write_file};

use std::fs::{self, File, TryLockError};
use std::io::{self, BufWriter};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU64, Ordering};
use turn::{Turn, parent};

/// What every folder of ours holds; a folder without it is somebody else's and is not replaced.
pub const MARKER: &str = "summary.json";

/// Why an output could not be written.
#[derive(Debug, thiserror::Error)]
pub enum OutputError {
    /// A file or folder could not be made, written or moved.
    #[error("cannot write `{}`", path.display())]
    Write {
        /// What could not be written.
        path: PathBuf,
        /// Why.
        source: io::Error,
    },
    /// The folder holds files, and none of them says that it is ours.
    #[error("`{}` holds other files (there is no {MARKER} in it), so it is not replaced", path.display())]
    NotOurs {
        /// The folder.
        path: PathBuf,
    },
    /// The folder is ours, but a file in it is not.
    #[error("`{}` is not one of our files, so the folder around it is not replaced", path.display())]
    Foreign {
        /// The file.
        path: PathBuf,
    },
    /// It is a file.
    #[error("`{}` is a file, not a folder", path.display())]
    NoFolder {
        /// The path.
        path: PathBuf,
    },
    /// The folder that a file is to stand in is not there.
    #[error("cannot write `{}`: there is no folder `{}`", path.display(), folder.display())]
    MissingFolder {
        /// The file.
        path: PathBuf,
        /// The folder.
        folder: PathBuf,
    },
    /// Another run is writing into the same folder.
    #[error("another run is writing into `{}`", path.display())]
    Busy {
        /// The folder.
        path: PathBuf,
    },
}

impl OutputError {
    /// How to mend it.
    #[must_use]
    pub const fn hint(&self) -> &'static str {
        match self {
            Self::Write { .. } => "check that you may write there and that the disk has room",
            Self::MissingFolder { .. } => "make the folder first, or choose another with --out",
            Self::NotOurs { .. } => "choose another folder with --out, or empty this one yourself",
            Self::Foreign { .. } => "move it elsewhere, or choose another folder with --out",
            Self::NoFolder { .. } => "choose a folder with --out",
            Self::Busy { .. } => "wait for it to end, or choose another folder with --out",
        }
    }

    fn write(path: &Path) -> impl FnOnce(io::Error) -> Self {
        let path = path.to_owned();
        move |source| Self::Write { path, source }
    }
}

/// An output folder being built beside its place. Dropped without `finish`, it vanishes and the old folder stays.
#[derive(Debug)]
pub struct OutputFolder {
    target: PathBuf,
    building: PathBuf,
    finished: bool,
    files: AtomicU64,
    /// Held while building: a second run into the same folder is refused. `None` where folders cannot be locked.
    _lock: Option<File>,
}

impl OutputFolder {
    /// Starts building the folder that is to stand at `target`; `ours` are the names of all files that we ever write.
    ///
    /// # Errors
    /// When `target` is a file, somebody else's folder or holds a file of somebody else's, is being written by another
    /// run, or is not writable.
    pub fn begin(target: &Path, ours: &[&str]) -> Result<Self, OutputError> {
        // A link to a folder stays a link: what it points to is replaced.
        let target = fs::canonicalize(target).unwrap_or_else(|_| target.to_owned());
        // Told by its name, and not by what making a folder in a file fails with.
        if let Some(file) = target.ancestors().skip(1).find(|above| above.is_file()) {
            return Err(OutputError::NoFolder { path: file.to_owned() });
        }
        fs::create_dir_all(parent(&target)).map_err(OutputError::write(parent(&target)))?;
        // Until the folder is ours: another run may be swapping its own in.
        let _turn = Turn::of(parent(&target));
        if target.exists() {
            if !target.is_dir() {
                return Err(OutputError::NoFolder { path: target });
            }
            let mut entries = fs::read_dir(&target).map_err(OutputError::write(&target))?;
            if entries.next().is_some() && !target.join(MARKER).is_file() {
                return Err(OutputError::NotOurs { path: target });
            }
            if let Some(path) = foreign(&target, &target, ours).map_err(OutputError::write(&target))? {
                return Err(OutputError::Foreign { path });
            }
        }
        let building = beside(&target, "partial");
        match fs::create_dir(&building) {
            Err(e) if e.kind() != io::ErrorKind::AlreadyExists => return Err(OutputError::write(&target)(e)),
            _ => {}
        }
        let lock = File::open(&building).ok();
        if let Some(Err(TryLockError::WouldBlock)) = lock.as_ref().map(File::try_lock) {
            return Err(OutputError::Busy { path: target });
        }
        // What a killed run left behind.
        let old = beside(&target, "old");
        if old.exists() {
            remove(&old).map_err(OutputError::write(&old))?;
        }
        for entry in fs::read_dir(&building).map_err(OutputError::write(&building))?.flatten() {
            remove(&entry.path()).map_err(OutputError::write(&building))?;
        }
        Ok(Self { target, building, finished: false, files: AtomicU64::new(0), _lock: lock })
    }

    /// Makes a file in the folder, with the folders above it, and writes it whole.
    ///
    /// # Errors
    /// When the file cannot be made or written.
    pub fn write(
        &self,
        name: &str,
        content: impl FnOnce(&mut BufWriter<File>) -> io::Result<()>,
    ) -> Result<(), OutputError> {
        let path = self.building.join(name);
        let told = self.target.join(name);
        let write = || {
            fs::create_dir_all(path.parent().unwrap_or(&self.building))?;
            let mut writer = BufWriter::with_capacity(1 << 18, File::create(&path)?);
            content(&mut writer)?;
            writer.into_inner().map_err(io::IntoInnerError::into_error)?.sync_all()
        };
        write().map_err(OutputError::write(&told))?;
        self.files.fetch_add(1, Ordering::Relaxed);
        Ok(())
    }

    /// Lets a file be made in the folder, by its path, for formats that want more than a stream.
    ///
    /// # Errors
    /// When the file cannot be made or written.
    pub fn make(&self, name: &str, make: impl FnOnce(&Path) -> io::Result<()>) -> Result<(), OutputError> {
        let path = self.building.join(name);
        let write = || {
            fs::create_dir_all(path.parent().unwrap_or(&self.building))?;
            make(&path)?;
            File::open(&path)?.sync_all()
        };
        write().map_err(OutputError::write(&self.target.join(name)))?;
        self.files.fetch_add(1, Ordering::Relaxed);
        Ok(())
    }

    /// Reads everything that was written so far, by name with `/` between parts, in their order.
    ///
    /// # Errors
    /// When a file cannot be read.
    pub fn read_back(&self) -> Result<Vec<(String, Vec<u8>)>, OutputError> {
        fn read(dir: &Path, base: &Path, files: &mut Vec<(String, Vec<u8>)>) -> io::Result<()> {
            for entry in fs::read_dir(dir)? {
                let path = entry?.path();
                if path.is_dir() {
                    read(&path, base, files)?;
                } else {
                    let name = path.strip_prefix(base).unwrap_or(&path).to_string_lossy().replace('\\', "/");
                    files.push((name, fs::read(&path)?));
                }
            }
            Ok(())
        }
        let mut files = Vec::new();
        read(&self.building, &self.building, &mut files).map_err(OutputError::write(&self.target))?;
        files.sort();
        Ok(files)
    }

    /// Files written so far.
    #[must_use]
    pub fn files(&self) -> u64 {
        self.files.load(Ordering::Relaxed)
    }

    /// Puts the folder in its place; the old one is whole until then, and gone after.
    ///
    /// # Errors
    /// When it cannot be moved; then the old folder stays.
    pub fn finish(mut self) -> Result<PathBuf, OutputError> {
        let old = beside(&self.target, "old");
        let told = OutputError::write(&self.target);
        // Until the old folder is gone: the next run must not take it for its own.
        let _turn = Turn::of(parent(&self.target));
        if self.target.exists() {
            if exchange(&self.building, &self.target).is_err() {
                // No exchange on this system or file system: for a moment neither stands in place.
                fs::rename(&self.target, &old).map_err(OutputError::write(&self.target))?;
                if let Err(e) = fs::rename(&self.building, &self.target) {
                    fs::rename(&old, &self.target).map_err(OutputError::write(&self.target))?;
                    return Err(told(e));
                }
            } else {
                // Out of the way of the next run; that the new folder stands is what counts.
                drop(fs::rename(&self.building, &old));
            }
            self.finished = true;
            // The new folder stands; what is left of the old one goes now or at the next run.
            drop(remove(&old));
        } else {
            fs::rename(&self.building, &self.target).map_err(told)?;
            self.finished = true;
        }
        Ok(self.target.clone())
    }
}

impl Drop for OutputFolder {
    fn drop(&mut self) {
        if !self.finished {
            let _turn = Turn::of(parent(&self.target));
            // Nothing more can be done about a folder that will not go; the next run clears it.
            drop(fs::remove_dir_all(&self.building));
        }
    }
}

/// The first file below a folder that we never write. What desktops drop into every folder does not count.
fn foreign(dir: &Path, base: &Path, ours: &[&str]) -> io::Result<Option<PathBuf>> {
    const DESKTOP: &[&str] = &[".DS_Store", "Thumbs.db", "desktop.ini", ".directory"];
    let mut paths: Vec<PathBuf> =
        fs::read_dir(dir)?.map(|e| e.map(|e| e.path())).collect::<io::Result<_>>()?;
    paths.sort();
    for path in paths {
        let name = path.strip_prefix(base).unwrap_or(&path).to_string_lossy().replace('\\', "/");
        if fs::symlink_metadata(&path)?.is_dir() {
            if let Some(found) = foreign(&path, base, ours)? {
                return Ok(Some(found));
            }
        } else if !ours.contains(&name.as_str()) && !DESKTOP.iter().any(|d| path.ends_with(d)) {
            return Ok(Some(path));
        }
    }
    Ok(None)
}

/// `out` → `.out.partial`, in the same folder, so that moving it is one step.
fn beside(target: &Path, word: &str) -> PathBuf {
    let name = target.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
    target.with_file_name(format!(".{name}.{word}"))
}

fn remove(path: &Path) -> io::Result<()> {
    if fs::symlink_metadata(path)?.is_dir() { fs::remove_dir_all(path) } else { fs::remove_file(path) }
}

/// Swaps two folders in one step, so that the place is never empty.
#[cfg(target_os = "linux")]
fn exchange(a: &Path, b: &Path) -> io::Result<()> {
    use rustix::fs::{CWD, RenameFlags, renameat_with};
    Ok(renameat_with(CWD, a, CWD, b, RenameFlags::EXCHANGE)?)
}

#[cfg(not(target_os = "linux"))]
fn exchange(_: &Path, _: &Path) -> io::Result<()> {
    Err(io::ErrorKind::Unsupported.into())
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::io::Write;

    const OURS: &[&str] = &[MARKER, "layers/a.txt"];

    fn text(path: &Path) -> String {
        fs::read_to_string(path).unwrap()
    }

    fn write(folder: &OutputFolder, content: &str) {
        folder.write(MARKER, |w| w.write_all(content.as_bytes())).unwrap();
    }

    #[test]
    fn the_old_folder_stands_until_the_new_one_is_whole() {
        let home = tempfile::tempdir().unwrap();
        let out = home.path().join("out");
        let first = OutputFolder::begin(&out, OURS).unwrap();
        write(&first, "one");
        first.write("layers/a.txt", |w| w.write_all(b"a")).unwrap();
        assert!(!out.exists());
        first.finish().unwrap();
        let second = OutputFolder::begin(&out, OURS).unwrap();
        write(&second, "two");
        assert_eq!(text(&out.join(MARKER)), "one");
        second.finish().unwrap();
        assert_eq!(text(&out.join(MARKER)), "two");
        assert!(!out.join("layers").exists(), "the new folder took the place of the old, nothing is mixed");
        assert_eq!(fs::read_dir(home.path()).unwrap().count(), 1, "nothing is left beside it");
    }

    #[test]
    fn a_failed_run_leaves_the_old_folder_and_nothing_else() {
        let home = tempfile::tempdir().unwrap();
        let out = home.path().join("out");
        let first = OutputFolder::begin(&out, OURS).unwrap();
        write(&first, "one");
        first.finish().unwrap();
        let failed = OutputFolder::begin(&out, OURS).unwrap();
        write(&failed, "half");
        drop(failed);
        assert_eq!(text(&out.join(MARKER)), "one");
        assert_eq!(fs::read_dir(home.path()).unwrap().count(), 1);
    }

    #[test]
    fn somebody_elses_folder_is_not_replaced() {
        let home = tempfile::tempdir().unwrap();
        fs::write(home.path().join("thesis.txt"), "years of work").unwrap();
        assert!(matches!(OutputFolder::begin(home.path(), OURS), Err(OutputError::NotOurs { .. })));
        assert!(matches!(
            OutputFolder::begin(&home.path().join("thesis.txt"), OURS),
            Err(OutputError::NoFolder { .. })
        ));
    }

    #[test]
    fn a_file_that_somebody_put_into_our_folder_is_never_lost() {
        let home = tempfile::tempdir().unwrap();
        let out = home.path().join("out");
        let first = OutputFolder::begin(&out, OURS).unwrap();
        write(&first, "one");
        first.write("layers/a.txt", |w| w.write_all(b"a")).unwrap();
        first.finish().unwrap();
        fs::write(out.join("layers/.DS_Store"), "").unwrap();
        OutputFolder::begin(&out, OURS).unwrap();
        fs::write(out.join("layers/my-map.qgz"), "work").unwrap();
        let refused = OutputFolder::begin(&out, OURS).unwrap_err();
        assert!(
            matches!(&refused, OutputError::Foreign { path } if path.ends_with("layers/my-map.qgz")),
            "{refused}"
        );
        assert_eq!(text(&out.join("layers/my-map.qgz")), "work");
    }

    #[test]
    fn two_runs_into_one_folder_are_refused_and_a_killed_one_is_cleared() {
        let home = tempfile::tempdir().unwrap();
        let out = home.path().join("out");
        let running = OutputFolder::begin(&out, OURS).unwrap();
        assert!(matches!(OutputFolder::begin(&out, OURS), Err(OutputError::Busy { .. })));
        drop(running);
        // As after kill -9, before and after the swap.
        fs::create_dir_all(home.path().join(".out.partial/layers")).unwrap();
        fs::create_dir_all(home.path().join(".out.old/layers")).unwrap();
        let next = OutputFolder::begin(&out, OURS).unwrap();
        write(&next, "one");
        next.finish().unwrap();
        assert!(!out.join("layers").exists());
    }

    /// Runs that begin while others end: each ends whole or is refused as another one is at it, and none meets a
    /// folder halfway through its swap.
    #[test]
    fn many_runs_into_one_folder_are_each_whole_or_refused() {
        let home = tempfile::tempdir().unwrap();
        let out = home.path().join("out");
        let one = |run: usize| match OutputFolder::begin(&out, OURS) {
            Ok(folder) => {
                let text = run.to_string();
                write(&folder, &text);
                folder.write("layers/a.txt", |w| w.write_all(text.as_bytes())).unwrap();
                folder.finish().map(|_| 1).unwrap()
            }
            Err(OutputError::Busy { .. }) => 0,
            Err(other) => panic!("run {run}: {other:?}"),
        };
        let written: u32 = std::thread::scope(|scope| {
            let runs: Vec<_> =
                (0..8).map(|t| scope.spawn(move || (0..50).map(|n| one(t * 50 + n)).sum::<u32>())).collect();
            runs.into_iter().map(|run| run.join().unwrap()).sum()
        });
        assert!(written >= 1);
        assert_eq!(text(&out.join(MARKER)), text(&out.join("layers/a.txt")));
        assert_eq!(fs::read_dir(home.path()).unwrap().count(), 1, "nothing is left beside it");
    }
}
