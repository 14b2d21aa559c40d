//! The manual page: one page for the program and all its commands.

use clap::{Command, CommandFactory};
use clap_mangen::Man;
use clap_mangen::roff::{Roff, bold, roman};
use shoalwright::cli::Cli;
use std::io;

/// Day on which the wording of the page was last gone through. Without a day the version would stand where readers of manual
/// pages look for one.
const CHANGED: &str = "2026-11-26";

/// The page in roff.
pub(crate) fn page() -> io::Result<Vec<u8>> {
    let mut root = Cli::command();
    root.build();
    let man = Man::new(root.clone()).date(CHANGED);
    let mut page = Vec::new();
    man.render_title(&mut page)?;
    man.render_name_section(&mut page)?;
    man.render_synopsis_section(&mut page)?;
    man.render_description_section(&mut page)?;
    commands(&root).to_writer(&mut page)?;
    man.render_options_section(&mut page)?;
    man.render_extra_section(&mut page)?;
    Ok(page)
}

/// Each command with its arguments, what it does, and its example: `clap_mangen` alone would name a page for each, and
/// there are none.
fn commands(root: &Command) -> Roff {
    let mut roff = Roff::new();
    roff.control("SH", ["COMMANDS"]);
    for command in root.get_subcommands() {
        let positionals = command.get_positionals().map(|argument| format!(" {argument}"));
        let about = command.get_about().map(ToString::to_string).unwrap_or_default();
        let example = command.get_after_help().map(ToString::to_string).unwrap_or_default();
        roff.control("TP", []);
        roff.text([bold(command.get_name()), roman(positionals.collect::<String>())]);
        roff.text([roman(format!("{about}."))]);
        roff.control("br", []);
        roff.text([roman(example.lines().next().unwrap_or_default())]);
    }
    roff
}
