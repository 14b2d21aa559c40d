//! One function a command: from arguments to calls of the library, and what is printed.

mod lakes;

use clap::CommandFactory;
use jiff::civil::Date;
use serde::Serialize;
use shoalwright::account::{Telling, findings_text, printable, printable_lines, results, table};
use shoalwright::cli::{Cli, Command, Inputs, Options, PlanInputs};
use shoalwright::explain::{NotFound, Wanted};
use shoalwright::output::write_file;
use shoalwright::pipeline::{
    Extent, LogFormat, Planning, Progress, Run, RunError, Sources, extent_of, load, run as run_stages,
};
use shoalwright::prefish::{OnWater, plan_text, read_clock, read_date};
use shoalwright::terms::finding::{Code, Finding, Severity};
use shoalwright::terms::place::Place;
use shoalwright::{demo, init, settings};
use std::collections::BTreeSet;
use std::error::Error;
use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};

/// How a command ended that could run.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Ending {
    /// All is well.
    Done,
    /// A whole input gave nothing, or `--strict` met a doubtful finding.
    Doubt,
    /// Of several lakes one could not run; the others were done, and all is told.
    LakeCouldNotRun,
}

/// Why a command stopped.
#[derive(Debug, thiserror::Error)]
pub(crate) enum CommandError {
    /// The run could not be done.
    #[error(transparent)]
    Run(#[from] RunError),
    /// `init` could not be done.
    #[error(transparent)]
    Init(#[from] init::InitError),
    /// `demo` could not be done.
    #[error(transparent)]
    Demo(#[from] demo::DemoError),
    /// The account and the log would both go to standard output.
    #[error("--json prints the account on standard output, so the log needs a file: add -o all.gpx")]
    TwoOutputs,
    /// An option that the command has no use for.
    #[error("`{command}` has no use for {option}; take it away")]
    IdleOption {
        /// The command.
        command: &'static str,
        /// The option.
        option: &'static str,
    },
    /// One folder for several lakes.
    #[error(
        "--out is one folder, and several lakes are given: take it away, for each lake has its own output.dir"
    )]
    OneOut,
    /// No folder to share into.
    #[error("what is shared goes into a folder of its own: add -o, like -o to-a-friend")]
    NoFolder,
    /// Nothing, or more than one thing, is called so.
    #[error(transparent)]
    NotFound(#[from] NotFound),
    /// An outlook for no date.
    #[error(
        "an outlook is for a date: add --date, like --date 2027-01-09, or set outlook.date in the settings"
    )]
    NoDate,
    /// An option's value cannot be used.
    #[error("{option}: {what}")]
    Value {
        /// The option.
        option: &'static str,
        /// What is wrong, with the mend.
        what: String,
    },
    /// The threads could not be started.
    #[error("cannot start the threads")]
    Threads(#[source] rayon::ThreadPoolBuildError),
    /// Standard output is closed or full.
    #[error("cannot write to standard output")]
    Stdout(#[from] io::Error),
}

impl CommandError {
    /// The error, its causes and the mend, a line each.
    pub(crate) fn told(&self) -> Vec<String> {
        let mut lines = vec![format!("error: {self}")];
        let mut cause = self.source();
        while let Some(inner) = cause {
            lines.push(format!("  because: {inner}"));
            cause = inner.source();
        }
        let hint = match self {
            Self::Run(run) => run.hint(),
            Self::Init(init::InitError::Folder { .. }) => "check the name, and that you may read it".into(),
            _ => "".into(),
        };
        if !hint.is_empty() {
            lines.push(format!("hint: {hint}"));
        }
        lines
    }
}

/// Runs the command.
pub(crate) fn run(cli: &Cli) -> Result<Ending, CommandError> {
    let options = &cli.options;
    if let Some(threads) = options.threads {
        rayon::ThreadPoolBuilder::new()
            .num_threads(threads.into())
            .build_global()
            .map_err(CommandError::Threads)?;
    }
    refuse_idle_options(cli)?;
    match &cli.command {
        Command::Init { dir } => {
            let told = init::init(dir, system_time_zone().as_deref())?;
            print(&told)
        }
        Command::Check(inputs) => check(inputs, options),
        Command::Run(inputs) if lakes::several(&inputs.inputs) => lakes::run_lakes(&inputs.inputs, options),
        Command::Run(inputs) => {
            let run = start_with(inputs, Extent::Outlook, Planning::WhenSet, &options.set, options)?;
            let target = run.output_folder(options.out.as_deref());
            write_folder(run, &target, options)
        }
        Command::Merge(inputs) => merge(inputs, options),
        Command::Soundings(inputs) => table_or_folder(inputs, Extent::Soundings, options),
        Command::Schools(inputs) => table_or_folder(inputs, Extent::Schools, options),
        Command::Movement(inputs) => table_or_folder(inputs, Extent::Movement, options),
        Command::Outlook { inputs, date } => outlook(inputs, *date, options),
        Command::Backtest { inputs, outing } => backtest(inputs, *outing, options),
        Command::Prefish(wanted) => plan(wanted, options),
        Command::Explain { id, inputs, date } => explain(id, inputs, date.as_deref(), options),
        Command::Share { inputs, level, exact_hazards } => {
            share(inputs, level.as_deref(), *exact_hazards, options)
        }
        Command::Demo { dir } => print(&demo::write_demo(dir)?),
        Command::Settings => print_or_write(settings::DEFAULT_TOML.as_bytes(), options),
        Command::Completions { shell } => {
            let mut script = Vec::new();
            clap_complete::generate(*shell, &mut Cli::command(), "shoalwright", &mut script);
            print_or_write(&script, options)
        }
        Command::Manual => print_or_write(&crate::manual::page()?, options),
    }
}

/// Refuses options that a command would leave unused, rather than taking them in silence.
fn refuse_idle_options(cli: &Cli) -> Result<(), CommandError> {
    let (command, writes, accounts) = match &cli.command {
        Command::Init { .. } => ("init", false, false),
        Command::Demo { .. } => ("demo", false, false),
        Command::Check(_) => ("check", false, true),
        Command::Explain { .. } => ("explain", false, true),
        Command::Settings => ("settings", true, false),
        Command::Completions { .. } => ("completions", true, false),
        Command::Manual => ("manual", true, false),
        Command::Run(_)
        | Command::Merge(_)
        | Command::Soundings(_)
        | Command::Schools(_)
        | Command::Movement(_)
        | Command::Prefish(_)
        | Command::Share { .. }
        | Command::Outlook { .. }
        | Command::Backtest { .. } => return Ok(()),
    };
    let given = &cli.options;
    let idle = [
        ("--out", given.out.is_some() && !writes),
        ("--json", given.json && !accounts),
        ("--set", !given.set.is_empty() && !accounts),
        ("--strict", given.strict && !accounts),
    ];
    match idle.into_iter().find(|(_, idle)| *idle) {
        Some((option, _)) => Err(CommandError::IdleOption { command, option }),
        None => Ok(()),
    }
}

/// To the file of --out, or to standard output.
fn print_or_write(text: &[u8], options: &Options) -> Result<Ending, CommandError> {
    match &options.out {
        Some(path) => write_file(path, |w| w.write_all(text)).map_err(RunError::from)?,
        None => io::stdout().write_all(text)?,
    }
    Ok(Ending::Done)
}

fn print(text: &str) -> Result<Ending, CommandError> {
    Ok(io::stdout().write_all(text.as_bytes()).map(|()| Ending::Done)?)
}

/// Reads the inputs and runs the stages.
fn start(inputs: &Inputs, extent: Extent, options: &Options) -> Result<Run, CommandError> {
    start_with(inputs, extent, Planning::Off, &options.set, options)
}

/// The same with practice days, and settings laid over.
fn start_with(
    inputs: &Inputs,
    extent: Extent,
    planning: Planning,
    sets: &[String],
    options: &Options,
) -> Result<Run, CommandError> {
    let sources = Sources { planning, ..load(&inputs.inputs, sets)? };
    Ok(run_stages(sources, extent, today(), &progress(options))?)
}

fn progress(options: &Options) -> Progress {
    if options.quiet { Progress::hidden() } else { Progress::on_terminal() }
}

fn check(inputs: &Inputs, options: &Options) -> Result<Ending, CommandError> {
    let run = start(inputs, Extent::Log, options)?;
    if options.json {
        print_json(&run.account)?;
    } else {
        print(&account_text(&run, options))?;
    }
    run.require_something()?;
    Ok(ending(&run, options))
}

fn merge(inputs: &Inputs, options: &Options) -> Result<Ending, CommandError> {
    let format = match &options.out {
        Some(path) => LogFormat::of(path)?,
        None if options.json => return Err(CommandError::TwoOutputs),
        None => LogFormat::Gpx,
    };
    let run = start(inputs, Extent::Log, options)?;
    run.require_something()?;
    if let Some(path) = &options.out {
        if let Some(aside) = run.write_log_file(path, format)?
            && !options.quiet
        {
            let records = run.account.records.set_aside;
            let told = format!("{records} records set aside: {}\n", aside.display());
            drop(io::stderr().write_all(printable_lines(&told).as_bytes()));
        }
    } else {
        let mut stdout = BufWriter::new(io::stdout().lock());
        run.write_log(&mut stdout, format)?;
        stdout.flush()?;
    }
    finish(&run, options, options.out.as_deref())
}

/// `soundings`, `schools` and `movement`: the table to standard output, or a folder with --out.
fn table_or_folder(inputs: &Inputs, extent: Extent, options: &Options) -> Result<Ending, CommandError> {
    finish_table(start(inputs, extent, options)?, options, |run, w| run.write_table(w, extent))
}

/// `outlook`: the table of places to standard output, or a folder with --out.
fn outlook(inputs: &Inputs, date: Option<Date>, options: &Options) -> Result<Ending, CommandError> {
    let mut sources = load(&inputs.inputs, &options.set)?;
    if let Some(date) = date {
        sources.settings.look_out_to(date);
    }
    if sources.settings.outlook.date.is_none() {
        return Err(CommandError::NoDate);
    }
    finish_table(run_stages(sources, Extent::Outlook, today(), &progress(options))?, options, |run, w| {
        run.write_table(w, Extent::Outlook)
    })
}

/// `backtest`: the table of skill to standard output, or a folder with --out.
fn backtest(inputs: &Inputs, outing: Option<Date>, options: &Options) -> Result<Ending, CommandError> {
    let mut sources = load(&inputs.inputs, &options.set)?;
    sources.outing = outing;
    finish_table(
        run_stages(sources, Extent::Outlook, today(), &progress(options))?,
        options,
        Run::write_skill,
    )
}

/// A folder with --out, else one table to standard output.
fn finish_table(
    run: Run,
    options: &Options,
    table: impl Fn(&Run, &mut BufWriter<io::StdoutLock<'static>>) -> io::Result<()>,
) -> Result<Ending, CommandError> {
    if let Some(target) = &options.out {
        return write_folder(run, target, options);
    }
    run.require_something()?;
    if !options.json {
        let mut stdout = BufWriter::new(io::stdout().lock());
        table(&run, &mut stdout)?;
        stdout.flush()?;
    }
    finish(&run, options, None)
}

/// `prefish`: the plan as text to standard output, and a folder with --out.
fn plan(wanted: &PlanInputs, options: &Options) -> Result<Ending, CommandError> {
    let mut sets = options.set.clone();
    if let Some(date) = &wanted.date {
        let date = read_date(date).map_err(|what| CommandError::Value { option: "--date", what })?;
        sets.push(format!("prefish.date={date}"));
    }
    let planning = Planning::Asked(on_water(wanted)?);
    let run = start_with(&wanted.inputs, Extent::Schools, planning, &sets, options)?;
    run.require_something()?;
    if let Some(prefish) = run.prefish.as_ref().filter(|_| !options.json) {
        print(&printable_lines(&plan_text(prefish, &run.lake)))?;
    }
    match &options.out {
        Some(target) => write_folder(run, target, options),
        None => finish(&run, options, None),
    }
}

/// Where the boat is, by the options of a plan made anew.
fn on_water(wanted: &PlanInputs) -> Result<Option<OnWater>, CommandError> {
    let (Some(from), Some(at)) = (&wanted.from, &wanted.at) else { return Ok(None) };
    let value = |option, what: String| CommandError::Value { option, what };
    let place = from
        .split_once(',')
        .and_then(|(lon, lat)| Place::new(lon.trim().parse().ok()?, lat.trim().parse().ok()?))
        .ok_or_else(|| {
            value("--from", format!("`{from}` is no place: write longitude,latitude like -94.10,35.20"))
        })?;
    let at = read_clock(at).map_err(|what| value("--at", what))?;
    let fuel_left = wanted.fuel_left.as_deref().map(|text| {
        text.parse()
            .map_err(|_| value("--fuel-left", format!("`{text}` is no fuel: write \"9 gal\" or \"20 mi\"")))
    });
    let fuel_left = fuel_left.transpose()?;
    let words =
        |list: &[String]| list.iter().map(|w| w.trim().to_owned()).filter(|w| !w.is_empty()).collect();
    Ok(Some(OnWater { from: place, at, fuel_left, done: words(&wanted.done), found: words(&wanted.found) }))
}

/// `explain`: where a thing comes from, to standard output.
fn explain(id: &str, inputs: &Inputs, date: Option<&str>, options: &Options) -> Result<Ending, CommandError> {
    let wanted = Wanted::new(id);
    let mut sets = options.set.clone();
    if let Some(date) = date {
        let date = read_date(date).map_err(|what| CommandError::Value { option: "--date", what })?;
        sets.push(format!("prefish.date={date}"));
    }
    let extent = extent_of(&wanted);
    // Marks, sightings and tracks are the same whatever is planned.
    let planning = match extent {
        Extent::Outlook if date.is_some() => Planning::Asked(None),
        Extent::Outlook => Planning::WhenSet,
        _ => Planning::Off,
    };
    let sources = Sources { planning, explaining: true, ..load(&inputs.inputs, &sets)? };
    let run = run_stages(sources, extent, today(), &progress(options))?;
    run.require_something()?;
    let told = run.explain(&wanted)?;
    if options.json {
        let mut text = serde_json::to_string_pretty(&told.json()).map_err(io::Error::from)?;
        text.push('\n');
        return print(&text);
    }
    print(&printable_lines(&told.text()))
}

/// `share`: a folder of its own that is safe to hand out.
fn share(
    inputs: &Inputs,
    level: Option<&str>,
    exact_hazards: bool,
    options: &Options,
) -> Result<Ending, CommandError> {
    let target = options.out.as_deref().ok_or(CommandError::NoFolder)?;
    let mut sets = options.set.clone();
    sets.extend(level.map(|level| format!("share.level={level}")));
    let run = start_with(inputs, Extent::Schools, Planning::Off, &sets, options)?;
    run.require_something()?;
    let shared = run.write_shared(target, exact_hazards)?;
    let ending = finish(&run, options, Some(&shared.folder))?;
    if !options.quiet {
        drop(io::stderr().write_all(printable_lines(&shared.told).as_bytes()));
    }
    Ok(ending)
}

fn write_folder(mut run: Run, target: &Path, options: &Options) -> Result<Ending, CommandError> {
    run.require_something()?;
    let written: PathBuf = run.write_folder(target)?;
    finish(&run, options, Some(&written))
}

/// The last lines of every run: the account, and where the output is.
fn finish(run: &Run, options: &Options, written: Option<&Path>) -> Result<Ending, CommandError> {
    if options.json {
        print_json(&run.account)?;
    }
    if !options.quiet {
        let mut text = account_text(run, options);
        if let Some(path) = written {
            text.push_str(&printable(&format!("written: {}", path.display())));
            text.push('\n');
        }
        // A closed standard error is no reason to fail a run that is done.
        drop(io::stderr().write_all(text.as_bytes()));
    }
    Ok(ending(run, options))
}

fn account_text(run: &Run, options: &Options) -> String {
    let findings: Vec<&Finding> = run.all_findings().collect();
    let telling = if options.verbose { Telling::Full } else { Telling::Short };
    let mut text = findings_text(&findings, &run.exports, telling);
    if !text.is_empty() {
        text.push('\n');
    }
    text + &table(&run.account) + &results(&run.account)
}

fn print_json(account: &impl Serialize) -> Result<(), CommandError> {
    let mut text = serde_json::to_string_pretty(account).map_err(io::Error::from)?;
    text.push('\n');
    Ok(io::stdout().write_all(text.as_bytes())?)
}

fn ending(run: &Run, options: &Options) -> Ending {
    if doubts(run, options).is_empty() { Ending::Done } else { Ending::Doubt }
}

/// Why a run that was done ends with a doubt, a line a reason.
fn doubts(run: &Run, options: &Options) -> Vec<String> {
    let nothing = run.account.files.iter().filter(|file| file.gave_nothing());
    let mut doubts: Vec<String> = nothing.map(|file| format!("`{}` gave nothing", file.path)).collect();
    if run.findings.iter().any(|f| f.code == Code::MustUnfit) {
        doubts.push(String::from("a must-stop does not fit into the plan"));
    }
    if options.strict {
        // What the user dropped, and our own suggestions come back, are set aside as they should be.
        let wanted = [Code::EditDropped, Code::OwnSuggestion];
        let met: BTreeSet<&str> = run
            .all_findings()
            .map(|f| f.code)
            .filter(|code| code.severity() >= Severity::Doubtful && !wanted.contains(code))
            .map(Code::word)
            .collect();
        if !met.is_empty() {
            doubts.push(format!("--strict met {}", met.into_iter().collect::<Vec<_>>().join(", ")));
        }
    }
    doubts
}

/// Today in UTC. The one place that asks the clock: a mark from after tomorrow has a wrong clock, whatever the zone.
fn today() -> Date {
    #[expect(clippy::disallowed_methods, reason = "the run date enters here and is an argument from here on")]
    let now = jiff::Timestamp::now();
    jiff::tz::TimeZone::UTC.to_datetime(now).date()
}

/// The name of this computer's time zone, for `init`'s guess: `TZ`, else what /etc/localtime links to. UTC is no
/// guess: it is what computers say that were never told where they are.
fn system_time_zone() -> Option<String> {
    let from_link = || {
        let link = std::fs::read_link("/etc/localtime").ok()?;
        link.to_str()?.split_once("zoneinfo/").map(|(_, name)| name.to_owned())
    };
    let names = [std::env::var("TZ").ok(), from_link()];
    names.into_iter().flatten().find(|name| {
        jiff::tz::TimeZone::get(name).is_ok_and(|zone| zone != jiff::tz::TimeZone::UTC)
            && !name.contains("UTC")
    })
}
