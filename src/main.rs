//! Arguments in, exit status out.

mod commands;
mod manual;

use clap::Parser;
use shoalwright::account::printable_lines;
use shoalwright::cli::Cli;
use std::io::{self, Write};
use std::process::ExitCode;

/// A whole input gave nothing, or `--strict` met a doubtful finding.
const DONE_WITH_DOUBT: u8 = 1;
/// The run could not be done; nothing was written. Of several lakes: not of this one.
const COULD_NOT_RUN: u8 = 2;

fn main() -> ExitCode {
    let cli = Cli::parse();
    match commands::run(&cli) {
        Ok(commands::Ending::Done) => ExitCode::SUCCESS,
        Ok(commands::Ending::Doubt) => ExitCode::from(DONE_WITH_DOUBT),
        Ok(commands::Ending::LakeCouldNotRun) => ExitCode::from(COULD_NOT_RUN),
        // Whoever reads our output has had enough (`shoalwright merge … | head`): no fault.
        Err(commands::CommandError::Stdout(e)) if e.kind() == io::ErrorKind::BrokenPipe => ExitCode::SUCCESS,
        Err(error) => {
            tell(&error);
            ExitCode::from(COULD_NOT_RUN)
        }
    }
}

/// Prints an error with all its causes and the mend.
fn tell(error: &commands::CommandError) {
    // Nobody is left to tell when standard error is closed.
    drop(writeln!(io::stderr(), "{}", printable_lines(&error.told().join("\n"))));
}
