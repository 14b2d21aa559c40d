//! The account of several lakes run by one call: a row a lake, and the sum.

use super::text::shortened;
use super::{Account, Records, ResultCounts, printable, printable_lines};
use crate::terms::finding::Code;
use serde::{Serialize, Serializer};
use std::collections::BTreeMap;
use std::path::Path;

/// How a lake's run ended, in the order from best to worst.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum LakeEnding {
    /// All is well.
    Done,
    /// Done, but a whole input gave nothing, a must-stop did not fit, or `--strict` met a doubtful finding.
    Doubt,
    /// It could not run; nothing was written.
    CouldNotRun,
}

impl LakeEnding {
    /// The exit status that a run of this lake alone would have had.
    #[must_use]
    pub const fn status(self) -> u8 {
        self as u8
    }

    const fn word(self) -> &'static str {
        match self {
            Self::Done => "done",
            Self::Doubt => "done, see below",
            Self::CouldNotRun => "could not run",
        }
    }
}

impl Serialize for LakeEnding {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_u8(self.status())
    }
}

/// One lake's part. Nothing in it is measured, so that it is the same in every run.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LakeAccount {
    /// The settings file as it was given.
    pub settings: String,
    /// Name of the lake; empty when it could not run or has none.
    pub lake: String,
    /// Exit status of this lake.
    #[serde(rename = "status")]
    pub ending: LakeEnding,
    /// Why the status is not 0, a line a reason; for a lake that could not run the error, its causes and the mend.
    pub why: Vec<String>,
    /// The folder that was written; `None`: it could not run.
    pub written: Option<String>,
    /// Data files read.
    pub files: usize,
    /// What became of its marks; `None`: it could not run.
    pub records: Option<Records>,
    /// How many results there are; `None`: it could not run.
    pub counts: Option<ResultCounts>,
    /// Findings by code.
    pub findings: BTreeMap<&'static str, u64>,
    /// All findings as `--verbose` tells them; empty otherwise.
    #[serde(skip)]
    pub told: String,
}

impl LakeAccount {
    /// A lake that ran.
    #[must_use]
    pub fn ran(settings: &Path, account: &Account, written: &Path, why: Vec<String>) -> Self {
        Self {
            settings: settings.display().to_string(),
            lake: account.lake.clone(),
            ending: if why.is_empty() { LakeEnding::Done } else { LakeEnding::Doubt },
            why,
            written: Some(written.display().to_string()),
            files: account.files.len(),
            records: Some(account.records),
            counts: Some(account.counts),
            findings: account.findings.clone(),
            told: String::new(),
        }
    }

    /// A lake that could not run.
    #[must_use]
    pub fn could_not_run(settings: &Path, why: Vec<String>) -> Self {
        Self {
            settings: settings.display().to_string(),
            lake: String::new(),
            ending: LakeEnding::CouldNotRun,
            why,
            written: None,
            files: 0,
            records: None,
            counts: None,
            findings: BTreeMap::new(),
            told: String::new(),
        }
    }

    fn line(&self, width: usize) -> String {
        let ended = self.ending.word();
        match self.records {
            Some(records) => line(width, &self.settings, records, ended),
            None => format!(
                "{:width$}  {:>8} {:>8} {:>8} {:>9} {:>8}  {ended}",
                shortened(&self.settings, width),
                "-",
                "-",
                "-",
                "-",
                "-"
            ),
        }
    }
}

/// The whole account of several lakes, as `--json` prints it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LakesAccount {
    /// Always `shoalwright`.
    pub generator: &'static str,
    /// Version of the program.
    pub version: &'static str,
    /// Exit status: the worst of the lakes'.
    pub status: LakeEnding,
    /// What became of all marks of the lakes that ran.
    pub records: Records,
    /// By lake, in the order of their settings files' names.
    pub lakes: Vec<LakeAccount>,
    /// Findings of all lakes by code.
    pub findings: BTreeMap<&'static str, u64>,
    /// What the places may not be used for.
    pub caution: &'static str,
}

impl LakesAccount {
    /// Sums the lakes.
    #[must_use]
    pub fn new(lakes: Vec<LakeAccount>, caution: &'static str) -> Self {
        let mut findings: BTreeMap<&'static str, u64> = BTreeMap::new();
        for (code, count) in lakes.iter().flat_map(|lake| &lake.findings) {
            *findings.entry(code).or_default() += count;
        }
        Self {
            generator: "shoalwright",
            version: env!("CARGO_PKG_VERSION"),
            status: lakes.iter().map(|lake| lake.ending).max().unwrap_or(LakeEnding::Done),
            records: Records::sum(lakes.iter().filter_map(|lake| lake.records)),
            lakes,
            findings,
            caution,
        }
    }

    /// As a person reads it: a line a lake, the sum, what was found by code, and which lakes did not end well.
    #[must_use]
    pub fn text(&self) -> String {
        let names = self.lakes.iter().map(|lake| lake.settings.chars().count());
        let width = names.max().unwrap_or(0).clamp(16, 48);
        let mut lines = vec![format!(
            "{:width$}  {:>8} {:>8} {:>8} {:>9} {:>8}  ended",
            "lake", "read", "kept", "merged", "set aside", "repaired"
        )];
        lines.extend(self.lakes.iter().map(|lake| lake.line(width)));
        let of = |ending: LakeEnding| self.lakes.iter().filter(|lake| lake.ending == ending).count();
        let ended = format!(
            "{} done, {} done with a reason to look, {} could not run",
            of(LakeEnding::Done),
            of(LakeEnding::Doubt),
            of(LakeEnding::CouldNotRun)
        );
        lines.push(line(width, &format!("all {} lakes", self.lakes.len()), self.records, &ended));
        let mut counted: Vec<(Code, u64)> =
            Code::ALL.iter().filter_map(|code| Some((*code, *self.findings.get(code.word())?))).collect();
        counted.sort_by_key(|(code, _)| (std::cmp::Reverse(code.severity()), *code));
        for (code, count) in counted {
            lines.push(format!(
                "{:>9} {count:>6}  {}: {}",
                code.severity().word(),
                code.word(),
                code.meaning()
            ));
        }
        for lake in self.lakes.iter().filter(|lake| lake.ending != LakeEnding::Done) {
            lines.push(lake.not_well());
        }
        lines.join("\n") + "\n"
    }
}

impl LakeAccount {
    /// Why it did not end well, under its name.
    #[must_use]
    pub fn not_well(&self) -> String {
        let ended = if self.ending == LakeEnding::CouldNotRun { "could not run" } else { "done, but" };
        let mut lines = vec![format!("{}: {ended}", printable(&self.settings))];
        lines.extend(self.why.iter().map(|why| format!("  {}", printable_lines(why))));
        lines.join("\n")
    }
}

fn line(width: usize, name: &str, r: Records, ended: &str) -> String {
    format!(
        "{:width$}  {:>8} {:>8} {:>8} {:>9} {:>8}  {ended}",
        shortened(name, width),
        r.read,
        r.kept,
        r.merged_away,
        r.set_aside,
        r.repaired
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    fn lake(name: &str, records: Records, why: &[&str]) -> LakeAccount {
        let why: Vec<String> = why.iter().map(|w| (*w).to_owned()).collect();
        let mut lake = LakeAccount::could_not_run(Path::new(name), why.clone());
        lake.records = Some(records);
        lake.ending = if why.is_empty() { LakeEnding::Done } else { LakeEnding::Doubt };
        lake
    }

    #[test]
    fn the_sum_is_that_of_the_lakes_and_the_worst_ending_counts() {
        let records = Records { read: 10, kept: 7, merged_away: 2, set_aside: 1, repaired: 3 };
        let well =
            [lake("a/lake.toml", records, &[]), lake("b/lake.toml", records, &["`x.gpx` gave nothing"])];
        let told = LakesAccount::new(well.to_vec(), "");
        assert_eq!((told.records.read, told.records.set_aside), (20, 2));
        assert_eq!(told.status, LakeEnding::Doubt);
        let mut lakes = well.to_vec();
        lakes.push(LakeAccount::could_not_run(
            Path::new("c/lake.toml"),
            vec![String::from("error: no such file")],
        ));
        let told = LakesAccount::new(lakes, "");
        assert_eq!(
            (told.records.read, told.status.status()),
            (20, 2),
            "a lake that did not run adds nothing"
        );
        let text = told.text();
        assert!(text.contains("all 3 lakes"), "{text}");
        assert!(text.ends_with("c/lake.toml: could not run\n  error: no such file\n"), "{text}");
    }
}
