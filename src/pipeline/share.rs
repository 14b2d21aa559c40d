//! `share`: what is safe to hand out, into a folder of its own, after the leak test.

use super::secret::Secret;
use super::{Run, RunError};
use crate::layers::caution;
use crate::output::OutputFolder;
use crate::share::{self, Floor, Level, Ring, Shared, Truth, Wish};
use crate::terms::finding::Code;
use std::fmt::Write;
use std::path::{Path, PathBuf};

/// What was shared.
#[derive(Debug)]
pub struct SharedFolder {
    /// Where it stands.
    pub folder: PathBuf,
    /// What is told the user at home.
    pub told: String,
}

/// The files of a shared folder.
const FILES: &[&str] = &["summary.json", "layers/shared.geojson", "layers/hazards.geojson"];

impl Run {
    /// Writes the layers that are safe to hand out: built beside their place, read again by the leak test, and put
    /// there only when it finds nothing.
    ///
    /// # Errors
    /// When nothing can be shared, something leaks, an input lies in that folder, the folder is not ours or the secret
    /// lies in it, or it cannot be written.
    pub fn write_shared(&self, target: &Path, exact_hazards: bool) -> Result<SharedFolder, RunError> {
        self.spare_inputs(target)?;
        let (level, units) = (self.settings.share.level, self.lake.units);
        let secret = match level {
            Level::Mask => Some(Secret::read_or_draw(self.settings.path(&self.settings.share.secret))?),
            Level::Arm | Level::Cell => None,
        };
        if let Some(secret) = secret.as_ref().filter(|secret| lies_in(secret.path(), target)) {
            return Err(RunError::SecretInside { path: secret.path().to_owned() });
        }
        let wish = Wish {
            lake: &self.lake,
            log: &self.log,
            sightings: &self.schools.sightings,
            level,
            floor: Floor::default(),
            ring: Ring::default(),
            secret: secret.as_ref().map_or(&[], |s| s.bytes()),
            exact_hazards,
        };
        let shared = share::share(&wish)?;
        let folder = OutputFolder::begin(target, FILES)?;
        folder.write("layers/shared.geojson", |w| share::shared(w, &shared, level, units))?;
        if exact_hazards {
            folder.write("layers/hazards.geojson", |w| share::hazards(w, &shared.hazards, units))?;
        }
        folder.write("summary.json", |w| share::summary(w, &shared, level, &self.lake.name))?;
        let areas: Vec<String> = self.schools.areas.iter().map(|a| a.id.to_string()).collect();
        let truth =
            Truth::of(&wish, &shared, &areas, &self.told_texts()).ok_or(share::ShareError::NoShoreline)?;
        let leaks = share::leaks(&folder.read_back()?, &truth);
        if !leaks.is_empty() {
            let told = leaks.iter().take(5).map(|(file, leak)| format!("{file} holds {leak}"));
            let rest =
                if leaks.len() > 5 { format!("; and {} more", leaks.len() - 5) } else { String::new() };
            return Err(RunError::Leak { told: told.collect::<Vec<_>>().join("; ") + &rest });
        }
        let new_secret = secret.as_ref().map(Secret::keep).transpose()?.flatten();
        let told = told(&shared, level, new_secret, &self.settings.share.secret);
        Ok(SharedFolder { folder: folder.finish()?, told })
    }
}

impl Run {
    /// Texts of the user's beside those of the log: names of files and units, of records set aside, and names that
    /// copies lost in merging, which stand in the findings between backticks.
    fn told_texts(&self) -> Vec<String> {
        let of_files = self.exports.iter().flat_map(|e| [e.label.clone(), e.unit.clone()]);
        let names = self.all_findings().map(|f| f.name.to_string());
        let conflicts = self.all_findings().filter(|f| f.code == Code::MergeConflict);
        let lost = conflicts
            .flat_map(|f| f.seen.split('`').skip(1).step_by(2).map(str::to_owned).collect::<Vec<_>>());
        of_files.chain(names).chain(lost).collect()
    }
}

/// Whether a path lies in a folder, which may not be there yet.
fn lies_in(path: &Path, folder: &Path) -> bool {
    let whole = |path: &Path| {
        let here = std::path::absolute(path).unwrap_or_else(|_| path.to_owned());
        // The file itself may not be there yet, the folder that it is to stand in is.
        let parent = here.parent().and_then(|parent| parent.canonicalize().ok());
        here.canonicalize().ok().or_else(|| Some(parent?.join(here.file_name()?))).unwrap_or(here)
    };
    whole(path).starts_with(whole(folder))
}

/// What a person at home reads: how well hidden, what was left out, and what to mind.
fn told(shared: &Shared, level: Level, new_secret: Option<&Path>, secret: &Path) -> String {
    let mut text = String::new();
    let mut k: Vec<usize> = shared.features.iter().map(|f| f.k).collect();
    k.sort_unstable();
    let _ = writeln!(
        text,
        "level `{}`: `{}` sightings and marks in `{}` features",
        level.word(),
        shared.shown,
        shared.features.len() + shared.hazards.len()
    );
    if let (Some(least), Some(middle)) = (k.first(), k.get(k.len() / 2)) {
        let _ = writeln!(
            text,
            "each feature stands for `{least}` places or more that are equally likely (the middle one for `{middle}`), \
             of about 110 by 90 m each"
        );
    }
    for (reason, count) in &shared.left_out {
        let _ = writeln!(text, "left out: `{count}` {}", reason.words());
    }
    let _ =
        writeln!(text, "leak test passed: no name, note, id, time or coordinate of your log, nothing rare");
    if let Some(path) = new_secret {
        let _ = writeln!(
            text,
            "made the secret `{}`: keep it and never hand it out. With another secret the next export moves each place \
             elsewhere, and two exports together tell more than one",
            path.display()
        );
    }
    let more = match level {
        Level::Arm => {
            "Who gets this learns in which part of the lake and in which month you find them, and how deep."
        }
        Level::Cell => {
            "Who gets this learns the square kilometre, the month and the range of depths; with a depth chart that may be \
             a few places."
        }
        Level::Mask => {
            "Who gets this learns each place to within 1,200 m and half a month. Twenty places are half an hour of \
             searching: share it with people you trust."
        }
    };
    let _ = writeln!(text, "{more}");
    if level == Level::Mask {
        let _ = writeln!(text, "Keep `{}` and the shoreline as they are between exports.", secret.display());
    }
    let _ = writeln!(text, "{}", caution::FULL);
    text
}
