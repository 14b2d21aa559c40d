//! The command line: definitions and help text, nothing else.

use clap::{Args, Parser, Subcommand};
use clap_complete::Shell;
use jiff::civil::Date;
use std::path::PathBuf;

/// What every help page says at its foot.
const STATUS: &str = "\
Exit status: 0 done; 1 done, but a whole input gave nothing, a must-stop did not fit or --strict met a doubtful finding; 2 could not run, \
nothing written.";

/// What the help of `prefish` says beside that.
const PLAN_CAUTION: &str = "\
Not for navigation. Legs are computed from the outline, areas and hazard marks you supplied: they show no depth, buoy, \
current, weather, new obstruction or closure. Official charts, posted marks, the rules of agency and event, and the \
skipper's eyes come first. Wear your life jacket, and leave word where you go and when you are due.";

/// What the help of `soundings` says beside that.
const BOTTOM_CAUTION: &str = "\
Not for navigation: no chart. Between the tracks the bottom is worked out, not seen; stumps, rocks and bars do not show, \
and depths are those at full pool. Official charts, posted marks and the skipper's eyes come first.";

/// What the top help says beside that.
const CAUTION: &str = "\
Not for navigation. Places come from consumer GPS and past trips. The tool knows no buoy, stump, bar, weather, closed \
season or rule; charts, local notices, posted marks, speed and no-wake rules and the skipper's eyes come first. Fish \
brought up from deep water may be hurt: follow local rules and agency advice on release.

Everything stays on this machine: the tool opens no connection.

Exit status: 0 done; 1 done, but a whole input gave nothing, a must-stop did not fit or --strict met a doubtful finding; 2 could not run, \
nothing written.";

/// Turns an angler's exported sonar marks into one clean log, holding areas, seasonal movement, GIS layers and a boat file.
#[derive(Debug, Parser)]
#[command(
    name = "shoalwright",
    version,
    after_help = CAUTION,
    help_expected = true,
    disable_help_subcommand = true,
    max_term_width = 80
)]
pub struct Cli {
    /// What to do.
    #[command(subcommand)]
    pub command: Command,
    /// Options of every command.
    #[command(flatten)]
    pub options: Options,
}

/// Options of every command.
#[expect(clippy::struct_excessive_bools, reason = "each is a switch of its own on the command line")]
#[derive(Args, Debug)]
pub struct Options {
    /// Where to write: a folder, or for `merge` a file ending in .gpx, .geojson or .csv
    #[arg(short, long, global = true, value_name = "PATH")]
    pub out: Option<PathBuf>,
    /// Lay a setting over the settings file, like schools.days=14 or lake.units=metric; repeatable. `shoalwright
    /// settings` prints all of them with their defaults
    #[arg(long, global = true, value_name = "KEY=VALUE")]
    pub set: Vec<String>,
    /// How many threads to use; all cores when left out
    #[arg(long, global = true, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=1024))]
    pub threads: Option<u16>,
    /// Print nothing on standard error but errors
    #[arg(long, global = true, conflicts_with = "verbose")]
    pub quiet: bool,
    /// Print every finding, not one line a code
    #[arg(long, global = true)]
    pub verbose: bool,
    /// Print the account as one JSON object on standard output
    #[arg(long, global = true)]
    pub json: bool,
    /// Fail (exit status 1) on a doubtful finding or a damaged record set aside
    #[arg(long, global = true)]
    pub strict: bool,
}

/// The commands.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Look at the exports in a folder and write a commented lake.toml that runs as it stands
    #[command(after_help = foot(
        "init my-lake",
        "the exports, shoreline and tables below the folder",
        "lake.toml in it, unless there is one",
        "",
    ))]
    Init {
        /// Folder with the exports
        #[arg(default_value = ".")]
        dir: PathBuf,
    },
    /// Read and interpret everything, write nothing, and print the account
    #[command(after_help = foot(
        "check exports/*.gpx",
        "the settings and all they name, or the data files",
        "nothing; the account goes to standard output",
        "",
    ))]
    Check(Inputs),
    /// Run all stages and write all outputs into the output folder; of several settings files each is a lake of its own
    #[command(after_help = foot(
        "run lake.toml\nMany lakes: shoalwright run lakes/*/lake.toml",
        "the settings and all they name",
        "the folder of output.dir beside the settings (out), or that of --out: page, layers, tables, boat files, \
         account. The old folder is replaced whole, or stays",
        "",
    ))]
    #[command(mut_arg("inputs", |arg| arg.help(
        "One settings file (.toml), or several, a lake each; or data files (.gpx, .csv) for which default settings serve"
    )))]
    Run(Inputs),
    /// Merge exports into one clean log: .gpx, .geojson or .csv by the ending of --out, GPX to standard output without it
    #[command(after_help = foot(
        "merge exports/*.gpx field.csv -o all.gpx",
        "the data files, or the settings and all they name",
        "the file of --out, and beside it what was set aside (all.set-aside.csv)",
        "",
    ))]
    Merge(Inputs),
    /// Draw the bottom and its contours from the depths of the track logs; a table of how far they agree to standard output, or layers and tables with --out
    #[command(after_help = foot(
        "soundings lake.toml -o bottom",
        "the settings and all they name; depths of the track logs",
        "a table to standard output; with --out layers and tables into that folder",
        BOTTOM_CAUTION,
    ))]
    Soundings(Inputs),
    /// Group marks into sightings and holding areas; a table to standard output, or layers and tables with --out
    #[command(after_help = foot(
        "schools lake.toml -o schools",
        "the settings and all they name",
        "a table to standard output; with --out layers and tables into that folder",
        "",
    ))]
    Schools(Inputs),
    /// Fit how the bait moves through the year; a table to standard output, or layers and tables with --out
    #[command(after_help = foot(
        "movement lake.toml --set movement.clock=date",
        "the settings and all they name",
        "a table to standard output; with --out layers and tables into that folder",
        "",
    ))]
    Movement(Inputs),
    /// Tell how likely bait is to be met on a date, place by place; a table to standard output, or layers and tables with --out
    #[command(after_help = foot(
        "outlook lake.toml --date 2027-01-09 -o outlook",
        "the settings and all they name",
        "a table to standard output; with --out layers, tables and a page into that folder",
        "",
    ))]
    Outlook {
        /// What to read
        #[command(flatten)]
        inputs: Inputs,
        /// The day to look out to; the settings' outlook.date when left out
        #[arg(long, value_name = "DATE", value_parser = day)]
        date: Option<Date>,
    },
    /// Hold out each season in turn and tell what the outlook gains over simple guesses; a table to standard output
    #[command(after_help = foot(
        "backtest lake.toml --outing 2024-10-12",
        "the settings and all they name",
        "a table to standard output; with --out layers, tables and a page into that folder",
        "",
    ))]
    Backtest {
        /// What to read
        #[command(flatten)]
        inputs: Inputs,
        /// Also hold one outing, and its season so far, against what the outlook had said before it
        #[arg(long, value_name = "DATE", value_parser = day)]
        outing: Option<Date>,
    },
    /// Plan practice days: which places to check, in what order, how long, and back before the ramp closes
    #[command(after_help = foot(
        "prefish lake.toml --date 2027-01-09\nOn the water: shoalwright prefish --from -94.10,35.20 --at 10:40 \
         --done A3,A5",
        "the settings and all they name; prefish.start is needed",
        "the plan to standard output; with --out also layers, a table, the boat's route and prefish-sheet.html into \
         that folder",
        PLAN_CAUTION,
    ))]
    Prefish(PlanInputs),
    /// Tell where a mark, sighting, holding area, movement track or stop comes from: files, records, repairs, rules, arithmetic
    #[command(after_help = foot(
        "explain a-1k2 lake.toml",
        "the settings and all they name",
        "nothing; what is told goes to standard output",
        "",
    ))]
    Explain {
        /// Its id as layers and tables write it, or the beginning of one; the name of a stop; or a record, as file#record
        /// or as file and line with a colon between
        id: String,
        /// What to read
        #[command(flatten)]
        inputs: Inputs,
        /// Practice day for the arithmetic of stops, like 2027-01-09; prefish.date of the settings when left out
        #[arg(long, value_name = "DATE")]
        date: Option<String>,
    },
    /// Write a layer that is safe to hand out: places coarse or moved, no names, notes, ids, years or tracks
    #[command(after_help = foot(
        "share lake.toml -o to-a-friend --level cell",
        "the settings and all they name; the shoreline is needed",
        "layers/shared.geojson and summary.json into the folder of --out, layers/hazards.geojson with \
         --exact-hazards; at level mask also share.secret beside the settings, once",
        "",
    ))]
    Share {
        /// What to read
        #[command(flatten)]
        inputs: Inputs,
        /// How much is told: arm (zone and month), cell (squares of 0.01 degrees and month), mask (places moved 400 to
        /// 1,200 m); share.level of the settings when left out
        #[arg(long, value_name = "LEVEL", value_parser = ["arm", "cell", "mask"])]
        level: Option<String>,
        /// Also share hazard marks at their exact places, without names
        #[arg(long)]
        exact_hazards: bool,
    },
    /// Write the invented demo lake into a folder: settings, exports, shoreline
    #[command(after_help = foot(
        "demo demo && shoalwright run demo/lake.toml",
        "nothing",
        "the folder, which must be new or empty",
        "",
    ))]
    Demo {
        /// Folder to make
        dir: PathBuf,
    },
    /// Print the commented default settings
    #[command(after_help = foot(
        "settings > lake.toml",
        "nothing",
        "the text to standard output, or to the file of --out",
        "",
    ))]
    Settings,
    /// Print shell completions
    #[command(after_help = foot(
        "completions bash > shoalwright.bash",
        "nothing",
        "the script to standard output, or to the file of --out. Put it where your shell looks for completions: \
         ~/.local/share/bash-completion/completions/shoalwright for bash, a folder of $fpath under the name \
         _shoalwright for zsh, ~/.config/fish/completions/shoalwright.fish for fish",
        "",
    ))]
    Completions {
        /// Shell to complete for
        shell: Shell,
    },
    /// Print the manual page (roff)
    #[command(after_help = foot(
        "manual > shoalwright.1",
        "nothing",
        "the page to standard output, or to the file of --out; `man ./shoalwright.1` shows it",
        "",
    ))]
    Manual,
}

/// What `prefish` reads.
#[derive(Args, Clone, Debug)]
pub struct PlanInputs {
    /// What to read
    #[command(flatten)]
    pub inputs: Inputs,
    /// First practice day, like 2027-01-09; prefish.date of the settings when left out
    #[arg(long, value_name = "DATE")]
    pub date: Option<String>,
    /// Plan the rest of the day anew from here: longitude,latitude
    #[arg(long, value_name = "LON,LAT", allow_hyphen_values = true, requires = "at")]
    pub from: Option<String>,
    /// The time of day there, like 10:40
    #[arg(long, value_name = "HH:MM", requires = "from")]
    pub at: Option<String>,
    /// What fuel is left: how far it takes the boat, like "20 mi", or how much it is, like "9 gal"
    #[arg(long, value_name = "FUEL", requires = "from")]
    pub fuel_left: Option<String>,
    /// Stops already checked, by name or id, with commas between
    #[arg(long, value_name = "STOPS", requires = "from", value_delimiter = ',')]
    pub done: Vec<String>,
    /// Stops whose school was met: it counts no more, at no stop
    #[arg(long, value_name = "STOPS", requires = "from", value_delimiter = ',')]
    pub found: Vec<String>,
}

/// What a command reads.
#[derive(Args, Clone, Debug)]
pub struct Inputs {
    /// One settings file (.toml), or data files (.gpx, .csv) for which default settings serve
    #[arg(value_name = "INPUT", default_value = "lake.toml")]
    pub inputs: Vec<PathBuf>,
}

/// The foot of a command's help: an example (and more of them on lines of their own), what it reads, what it writes, a
/// caution where there is one.
fn foot(example: &str, reads: &str, writes: &str, caution: &str) -> String {
    let caution = if caution.is_empty() { String::new() } else { format!("{caution}\n\n") };
    format!("Example: shoalwright {example}\n\nReads: {reads}. Writes: {writes}.\n\n{caution}{STATUS}")
}

fn day(text: &str) -> Result<Date, String> {
    text.trim().parse().map_err(|_| String::from("it is no date: write it like 2027-01-09"))
}

#[cfg(test)]
mod tests {
    use super::*;
    use clap::CommandFactory;

    #[test]
    fn the_definitions_are_sound() {
        Cli::command().debug_assert();
    }

    #[test]
    fn every_command_has_an_example_and_tells_the_exit_status() {
        for command in Cli::command().get_subcommands() {
            let help = command.clone().render_long_help().to_string();
            assert!(help.contains("Example: shoalwright "), "{help}");
            assert!(help.contains("Exit status"), "{help}");
            assert!(help.contains("Reads: ") && help.contains("Writes: "), "{help}");
        }
    }
}
