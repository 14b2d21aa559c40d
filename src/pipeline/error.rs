//! What stops a run, with the place and the mend.

use crate::account::DoesNotAddUp;
use crate::ingest::levels::LevelsError;
use crate::ingest::shoreline::ShorelineError;
use crate::output::OutputError;
use crate::prefish::PrefishError;
use crate::settings::SettingsError;
use crate::share::ShareError;
use std::borrow::Cow;
use std::io;
use std::path::PathBuf;

/// Why a run stopped. Nothing was written.
#[derive(Debug, thiserror::Error)]
pub enum RunError {
    /// A file that the run cannot do without could not be read.
    #[error("cannot read `{}`", path.display())]
    Read {
        /// The file.
        path: PathBuf,
        /// Why.
        source: io::Error,
    },
    /// An input is a folder.
    #[error("`{}` is a folder", path.display())]
    Folder {
        /// The folder.
        path: PathBuf,
    },
    /// An input's name has an ending that is not known.
    #[error("`{}` ends neither in .gpx nor in .csv nor in .toml", path.display())]
    Ending {
        /// The file.
        path: PathBuf,
    },
    /// A settings file stands among other inputs.
    #[error("`{}` is a settings file: it stands alone, the data files are named in it", path.display())]
    Mixed {
        /// The settings file.
        path: PathBuf,
    },
    /// A settings file is given twice.
    #[error("`{}` and `{}` are one settings file", first.display(), second.display())]
    LakeTwice {
        /// As it was given first.
        first: PathBuf,
        /// As it was given once more.
        second: PathBuf,
    },
    /// Two lakes would write into one folder.
    #[error(
        "`{}` and `{}` would both write into `{}`; nothing was written",
        first.display(), second.display(), folder.display()
    )]
    OneFolder {
        /// The settings of the one.
        first: PathBuf,
        /// The settings of the other, which writes into that folder or into one in it.
        second: PathBuf,
        /// The folder.
        folder: PathBuf,
    },
    /// The settings cannot be used.
    #[error(transparent)]
    Settings(#[from] SettingsError),
    /// The shoreline cannot be used.
    #[error("cannot use the shoreline `{}`", path.display())]
    Shoreline {
        /// The file.
        path: PathBuf,
        /// Why.
        source: ShorelineError,
    },
    /// The level table cannot be used.
    #[error("cannot use the pool levels `{}`", path.display())]
    Levels {
        /// The file.
        path: PathBuf,
        /// Why.
        source: LevelsError,
    },
    /// The slow and closed areas cannot be used.
    #[error("cannot use the zones `{}`: {what}", path.display())]
    Zones {
        /// The file.
        path: PathBuf,
        /// Why.
        what: String,
    },
    /// No practice day can be planned.
    #[error("cannot plan")]
    Prefish {
        /// Why.
        source: PrefishError,
        /// What is told of stops and areas that could not be read; empty: nothing.
        unread: String,
    },
    /// No input gave a mark, a route or a track log.
    #[error("no input gave anything{told}")]
    Nothing {
        /// What was found in each, on lines of its own.
        told: String,
    },
    /// The output would overwrite a file that the run reads.
    #[error("this run reads `{}`; the output would overwrite it", path.display())]
    OverInput {
        /// The file.
        path: PathBuf,
    },
    /// A record was set aside, and its file is no longer what was read.
    #[error("`{}` was changed while the run was at it: a record set aside cannot be told whole", path.display())]
    Changed {
        /// The file.
        path: PathBuf,
    },
    /// The ending of `--out` is not known.
    #[error("`{}` ends neither in .gpx nor in .geojson nor in .csv", path.display())]
    LogEnding {
        /// The path given.
        path: PathBuf,
    },
    /// Nothing can be shared.
    #[error("cannot share")]
    Share(#[from] ShareError),
    /// What was about to be shared tells too much.
    #[error("the leak test refuses to hand this out: {told}")]
    Leak {
        /// What leaks, and in which file.
        told: String,
    },
    /// The secret cannot be read or made.
    #[error("cannot use the secret `{}`", path.display())]
    Secret {
        /// The file.
        path: PathBuf,
        /// Why.
        source: io::Error,
    },
    /// The secret lies in the folder that is handed out.
    #[error("the secret `{}` lies in the folder that is handed out", path.display())]
    SecretInside {
        /// The file.
        path: PathBuf,
    },
    /// The output could not be written.
    #[error(transparent)]
    Output(#[from] OutputError),
    /// The program's own books do not balance.
    #[error(transparent)]
    Account(#[from] DoesNotAddUp),
}

impl RunError {
    /// How to mend it; empty where the message says so already.
    #[must_use]
    pub fn hint(&self) -> Cow<'_, str> {
        match self {
            Self::Folder { path } => {
                format!("name the files in it, like {0}/*.gpx, or run `shoalwright init {0}`", path.display())
                    .into()
            }
            Self::Prefish { unread, .. } => unread.as_str().into(),
            other => other.plain_hint().into(),
        }
    }

    /// The hints that hang on nothing but the kind of error.
    fn plain_hint(&self) -> &'static str {
        match self {
            Self::Read { path, source } if source.kind() == io::ErrorKind::NotFound => {
                if path.extension().is_some_and(|e| e == "toml") {
                    "check the name; `shoalwright init` writes a lake.toml for the exports in a folder"
                } else {
                    "check the name, here or in the settings file that names it"
                }
            }
            Self::Read { source, .. } if source.kind() == io::ErrorKind::InvalidData => {
                "save it again as text in UTF-8"
            }
            Self::Read { .. } => "check that you may read it",
            Self::Ending { .. } => "export as GPX or CSV, or rename the file to what it holds",
            Self::Mixed { .. } => {
                "give either one settings file or data files; `run` takes several settings files, a lake each"
            }
            Self::LakeTwice { .. } => "give each lake once",
            Self::OneFolder { .. } => "give each lake a folder of its own as output.dir in its settings file",
            Self::Shoreline { .. } => {
                "it must hold Polygons or MultiPolygons of water as RFC 7946 writes them: degrees (WGS 84, EPSG:4326), longitude first"
            }
            Self::Levels { .. } => "it must be a CSV with the columns date,level",
            Self::Nothing { .. } => "mend that, or export the marks again as GPX or CSV",
            Self::Changed { .. } => "leave the exports alone while it runs, and run again",
            Self::OverInput { .. } => "choose another place with --out",
            Self::LogEnding { .. } => "let --out end in .gpx, .geojson or .csv",
            Self::Share(ShareError::NoShoreline) => "set lake.shoreline to a GeoJSON file of the water",
            Self::Share(ShareError::SmallLake(_)) => {
                "a water as small as this cannot hide a place; share nothing of it"
            }
            Self::Share(ShareError::Nothing) => "more seasons, or the level `arm`, hide more",
            Self::Leak { .. } => {
                "nothing was written. The only text of yours that is handed out is the lake's name: give another with \
                 --set lake.name=\"…\". If that is not it, please report a fault of shoalwright"
            }
            Self::Secret { .. } => {
                "mend or move the file that share.secret names; with a new secret, places come out elsewhere than before"
            }
            Self::SecretInside { .. } => {
                "choose another folder with --out, or another file with share.secret"
            }
            Self::Output(error) => error.hint(),
            Self::Account(_) => {
                "this is a fault of shoalwright, not of your files: nothing was written; please report it"
            }
            Self::Zones { .. } => "it must be a FeatureCollection of Polygons with the property `zone`",
            Self::Settings(_) | Self::Prefish { .. } | Self::Folder { .. } => "",
        }
    }
}
