//! `run` over several settings files: a lake each, one account at the end.

use super::{CommandError, Ending, doubts, today};
use shoalwright::account::{
    LakeAccount, LakeEnding, LakesAccount, Telling, findings_text, printable, printable_lines,
};
use shoalwright::cli::Options;
use shoalwright::layers::caution;
use shoalwright::pipeline::{Extent, Planning, Progress, Sources, each_lake, lakes_apart, load, run};
use shoalwright::terms::finding::Finding;
use std::fmt::Write as _;
use std::io::{self, Write as _};
use std::path::{Path, PathBuf};

/// Whether these inputs are lakes: more than one, and all of them settings files.
pub(super) fn several(inputs: &[PathBuf]) -> bool {
    let is_settings = |path: &PathBuf| path.extension().is_some_and(|e| e.eq_ignore_ascii_case("toml"));
    inputs.len() > 1 && inputs.iter().all(is_settings)
}

/// Runs each lake as if it were alone. One that fails stops no other.
pub(super) fn run_lakes(inputs: &[PathBuf], options: &Options) -> Result<Ending, CommandError> {
    if options.out.is_some() {
        return Err(CommandError::OneOut);
    }
    let lakes = lakes_apart(inputs, &options.set)?;
    let progress = super::progress(options);
    progress.lakes(lakes.len() as u64);
    let ended = each_lake(&lakes, rayon::current_num_threads(), |settings| {
        let ended = run_lake(settings, options);
        progress.lake_ended();
        ended.unwrap_or_else(|error| LakeAccount::could_not_run(settings, error.told()))
    });
    drop(progress);
    let accounts = lakes.iter().zip(ended.map_err(CommandError::Threads)?).map(|(settings, ended)| {
        ended.unwrap_or_else(|| {
            let fault =
                "error: this is a fault of shoalwright, not of your files; please report it with the lines above";
            LakeAccount::could_not_run(settings, vec![fault.to_owned()])
        })
    });
    let account = LakesAccount::new(accounts.collect(), caution::FULL);
    tell(&account, options)?;
    Ok(match account.status {
        LakeEnding::Done => Ending::Done,
        LakeEnding::Doubt => Ending::Doubt,
        LakeEnding::CouldNotRun => Ending::LakeCouldNotRun,
    })
}

/// One lake, as `run` does it alone, but for what is printed.
fn run_lake(settings: &Path, options: &Options) -> Result<LakeAccount, CommandError> {
    let sources = Sources { planning: Planning::WhenSet, ..load(&[settings.to_owned()], &options.set)? };
    let mut run = run(sources, Extent::Outlook, today(), &Progress::hidden())?;
    run.require_something()?;
    let target = run.output_folder(None);
    let written = run.write_folder(&target)?;
    let mut account = LakeAccount::ran(settings, &run.account, &written, doubts(&run, options));
    if options.verbose {
        let findings: Vec<&Finding> = run.all_findings().collect();
        account.told = findings_text(&findings, &run.exports, Telling::Full);
    }
    Ok(account)
}

fn tell(account: &LakesAccount, options: &Options) -> Result<(), CommandError> {
    if options.json {
        super::print_json(account)?;
    }
    let mut told = String::new();
    for lake in account.lakes.iter().filter(|lake| !lake.told.is_empty()) {
        let _ = writeln!(told, "{}:\n{}", printable(&lake.settings), lake.told);
    }
    if options.quiet {
        // Errors are told whatever is asked for.
        for lake in account.lakes.iter().filter(|lake| lake.ending == LakeEnding::CouldNotRun) {
            let _ = writeln!(told, "{}", lake.not_well());
        }
    } else {
        told.push_str(&account.text());
    }
    // A closed standard error is no reason to fail a run that is done.
    drop(io::stderr().write_all(printable_lines(&told).as_bytes()));
    Ok(())
}
