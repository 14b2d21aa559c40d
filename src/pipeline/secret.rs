//! The secret that moves the places of a mask: a file of the user's, made at first use.

use super::RunError;
use std::fs;
use std::io::{self, Write};
use std::path::{Path, PathBuf};

/// Bytes of a secret: those of the digest that it keys.
const LENGTH: usize = 32;

/// A secret, and whether it is new.
pub(super) struct Secret {
    path: PathBuf,
    bytes: [u8; LENGTH],
    is_new: bool,
}

impl Secret {
    /// Reads it; where there is none yet, draws one from the system, not yet written.
    pub(super) fn read_or_draw(path: PathBuf) -> Result<Self, RunError> {
        let told = |path: &Path| {
            let path = path.to_owned();
            move |source| RunError::Secret { path, source }
        };
        match fs::read_to_string(&path) {
            Ok(text) => {
                let no_secret = || {
                    io::Error::new(io::ErrorKind::InvalidData, "it holds no line of 64 hexadecimal digits")
                };
                let bytes = parse(&text).ok_or_else(no_secret).map_err(told(&path))?;
                Ok(Self { path, bytes, is_new: false })
            }
            Err(error) if error.kind() == io::ErrorKind::NotFound => {
                let mut bytes = [0; LENGTH];
                getrandom::fill(&mut bytes).map_err(io::Error::other).map_err(told(&path))?;
                Ok(Self { path, bytes, is_new: true })
            }
            Err(error) => Err(told(&path)(error)),
        }
    }

    /// The bytes.
    pub(super) const fn bytes(&self) -> &[u8] {
        &self.bytes
    }

    /// Where it stands.
    pub(super) fn path(&self) -> &Path {
        &self.path
    }

    /// Writes a new one, for its owner alone to read; returns where, when it was new. A file that has come to be there
    /// meanwhile is never overwritten.
    pub(super) fn keep(&self) -> Result<Option<&Path>, RunError> {
        if !self.is_new {
            return Ok(None);
        }
        let folder = self.path.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."));
        let write = || {
            // A named temporary file is made readable to its owner only.
            let mut file = tempfile::Builder::new().prefix(".share-").tempfile_in(folder)?;
            let hex = self.bytes.iter().fold(String::new(), |hex, byte| hex + &format!("{byte:02x}"));
            write!(
                file,
                "# The secret of `shoalwright share`. Keep this file, and never hand it out: who has it can tell where \
                 moved places belong.\n# Without it the next export moves each place elsewhere, and two exports together \
                 tell more than one.\n{hex}\n"
            )?;
            file.as_file().sync_all()?;
            file.persist_noclobber(&self.path).map_err(|e| e.error)?;
            Ok(())
        };
        write().map_err(|source| RunError::Secret { path: self.path.clone(), source })?;
        Ok(Some(&self.path))
    }
}

/// The one line of 64 hexadecimal digits; lines that begin with `#` are notes.
fn parse(text: &str) -> Option<[u8; LENGTH]> {
    let mut lines = text.lines().map(str::trim).filter(|line| !line.is_empty() && !line.starts_with('#'));
    let (line, rest) = (lines.next()?, lines.next());
    if rest.is_some() || line.len() != 2 * LENGTH || !line.is_ascii() {
        return None;
    }
    let mut bytes = [0; LENGTH];
    for (number, byte) in bytes.iter_mut().enumerate() {
        *byte = u8::from_str_radix(&line[2 * number..2 * number + 2], 16).ok()?;
    }
    Some(bytes)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_secret_is_made_once_and_read_again() {
        let home = tempfile::tempdir().unwrap();
        let path = home.path().join("share.secret");
        let first = Secret::read_or_draw(path.clone()).unwrap();
        assert!(!path.exists(), "nothing is written before the export is sound");
        assert_eq!(first.keep().unwrap(), Some(&*path));
        let second = Secret::read_or_draw(path.clone()).unwrap();
        assert_eq!((second.bytes(), second.keep().unwrap()), (first.bytes(), None));
        let other = Secret::read_or_draw(home.path().join("other")).unwrap();
        assert_ne!(other.bytes(), first.bytes());
        #[cfg(unix)]
        {
            use std::os::unix::fs::PermissionsExt;
            assert_eq!(fs::metadata(&path).unwrap().permissions().mode() & 0o077, 0, "for its owner alone");
        }
    }

    #[test]
    fn a_file_that_is_no_secret_is_refused() {
        for text in [
            "",
            "# only a note\n",
            "abc",
            &"g".repeat(64),
            &format!("{}\n{}", "0".repeat(64), "1".repeat(64)),
        ] {
            assert!(parse(text).is_none(), "{text}");
        }
        assert_eq!(parse(&format!("# note\n {}\n", "0f".repeat(32))), Some([15; 32]));
    }
}
