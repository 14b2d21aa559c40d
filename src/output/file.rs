//! A file written whole or not at all.

use super::OutputError;
use super::turn::{Turn, parent};
use std::fs::{self, File};
use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};
use tempfile::NamedTempFile;

/// Signs of a file's name that the unfinished file beside it takes over: names may have 255 bytes.
const NAME_KEPT: usize = 40;

/// A file being built beside its place. Dropped without `finish`, it vanishes and the old file stays.
#[derive(Debug)]
pub struct OutputFile {
    target: PathBuf,
    /// Locked, so that another run does not take it for one that a killed run left behind.
    building: NamedTempFile,
}

impl OutputFile {
    /// Writes the file that is to stand at `target`, beside it. What killed runs left there is cleared.
    ///
    /// # Errors
    /// When `target` is a folder, its folder is missing or not writable, or the content fails.
    pub fn write(
        target: &Path,
        content: impl FnOnce(&mut BufWriter<File>) -> io::Result<()>,
    ) -> Result<Self, OutputError> {
        if !parent(target).exists() {
            let folder = parent(target).to_owned();
            return Err(OutputError::MissingFolder { path: target.to_owned(), folder });
        }
        let write = || {
            let building = begin(target)?;
            let mut writer = BufWriter::with_capacity(1 << 18, building.reopen()?);
            content(&mut writer)?;
            writer.flush()?;
            writer.get_ref().sync_all()?;
            Ok(Self { target: target.to_owned(), building })
        };
        write().map_err(OutputError::write(target))
    }

    /// Puts the file in its place in one step.
    ///
    /// # Errors
    /// When it cannot be moved; then the old file stays.
    pub fn finish(self) -> Result<(), OutputError> {
        self.building.persist(&self.target).map(drop).map_err(|e| OutputError::write(&self.target)(e.error))
    }
}

/// Writes one file whole or not at all: the old file, if any, stays until the new one is complete.
///
/// # Errors
/// When the folder is missing or not writable, or the content fails.
pub fn write_file(
    path: &Path,
    content: impl FnOnce(&mut BufWriter<File>) -> io::Result<()>,
) -> Result<(), OutputError> {
    OutputFile::write(path, content)?.finish()
}

fn begin(target: &Path) -> io::Result<NamedTempFile> {
    if target.is_dir() {
        return Err(io::Error::new(io::ErrorKind::IsADirectory, "it is a folder"));
    }
    let name = target.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
    let prefix = format!(".{}.", name.chars().take(NAME_KEPT).collect::<String>());
    let folder = parent(target);
    let _turn = Turn::of(folder);
    clear(folder, &prefix);
    let mut builder = tempfile::Builder::new();
    builder.prefix(&prefix).suffix(".partial");
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        // As any program makes files; the user's umask takes away what it must.
        builder.permissions(fs::Permissions::from_mode(0o666));
    }
    let building = builder.tempfile_in(folder)?;
    // Where files cannot be locked, nobody clears them either.
    drop(building.as_file().try_lock());
    Ok(building)
}

/// Removes unfinished files that no run holds. One that will not go does no harm.
fn clear(folder: &Path, prefix: &str) {
    for entry in fs::read_dir(folder).into_iter().flatten().flatten() {
        let name = entry.file_name();
        let name = name.to_string_lossy();
        let unfinished = name.starts_with(prefix) && name.ends_with(".partial");
        if unfinished && entry.file_type().is_ok_and(|kind| kind.is_file()) {
            let left = File::open(entry.path()).is_ok_and(|file| file.try_lock().is_ok());
            if left {
                drop(fs::remove_file(entry.path()));
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn names(folder: &Path) -> Vec<String> {
        let mut names: Vec<String> = fs::read_dir(folder)
            .unwrap()
            .map(|entry| entry.unwrap().file_name().to_string_lossy().into_owned())
            .collect();
        names.sort();
        names
    }

    #[test]
    fn a_file_is_written_whole_or_not_at_all() {
        let home = tempfile::tempdir().unwrap();
        let path = home.path().join("all.gpx");
        write_file(&path, |w| w.write_all(b"whole")).unwrap();
        let failed = write_file(&path, |w| {
            w.write_all(b"ha")?;
            Err(io::Error::other("disk full"))
        });
        assert!(failed.is_err());
        assert_eq!(fs::read_to_string(&path).unwrap(), "whole");
        assert_eq!(names(home.path()), ["all.gpx"]);
    }

    #[test]
    fn what_a_killed_run_left_is_cleared_and_what_another_is_writing_is_not() {
        let home = tempfile::tempdir().unwrap();
        let path = home.path().join("all.gpx");
        // As after kill -9: the file stands, nobody holds its lock.
        fs::write(home.path().join(".all.gpx.aBcDeF.partial"), "ha").unwrap();
        fs::write(home.path().join(".other.gpx.aBcDeF.partial"), "of another file").unwrap();
        let first = OutputFile::write(&path, |w| w.write_all(b"first")).unwrap();
        let second = OutputFile::write(&path, |w| w.write_all(b"second")).unwrap();
        second.finish().unwrap();
        assert_eq!(fs::read_to_string(&path).unwrap(), "second");
        first.finish().unwrap();
        assert_eq!(fs::read_to_string(&path).unwrap(), "first");
        assert_eq!(names(home.path()), [".other.gpx.aBcDeF.partial", "all.gpx"]);
    }

    #[test]
    fn a_name_of_255_bytes_is_written() {
        let home = tempfile::tempdir().unwrap();
        let path = home.path().join(format!("{}.gpx", "a".repeat(251)));
        write_file(&path, |w| w.write_all(b"whole")).unwrap();
        assert_eq!(names(home.path()).len(), 1);
    }
}
