//! The command line: which commands there are, and which exit code each outcome becomes.

use crate::cmd::{self, Outcome};
use clap::{Parser, Subcommand};
use std::path::PathBuf;
use std::process::ExitCode;

/// Counts the hours that a marine radar's wearing parts really run, and says when each is due.
#[derive(Debug, Parser)]
#[command(name = "halfglass", version, arg_required_else_help = true, after_help = EXAMPLES)]
pub struct Cli {
    /// The ship folder, made by `halfglass init`
    #[arg(long, global = true, value_name = "DIR", default_value = ".")]
    pub ship: PathBuf,

    /// Whether answers have colours: auto (on a terminal, unless NO_COLOR is set), always or never
    #[arg(long, global = true, value_name = "WHEN", default_value = "auto", hide_possible_values = true)]
    pub color: clap::ColorChoice,

    /// What to do
    #[command(subcommand)]
    pub command: Command,
}

const EXAMPLES: &str = "\
Examples:
  halfglass demo                              an invented ship, end to end, in under a minute
  halfglass init calder-sound                 a folder for a ship, with a commented ship.toml
  halfglass --ship calder-sound pull          find the logger, bring its log into the folder
  halfglass --ship calder-sound reconcile     which count is true, and why sources differ
  halfglass --ship calder-sound due           which part is due when
  halfglass --ship calder-sound plan          in which port it is renewed
  halfglass --ship calder-sound report        everything on one page, to read and to print

Exit codes: 0 fine, 1 findings or overdue parts under --check, 2 usage or bad input, 3 no logger reached.";

/// The subcommands.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// An invented ship, end to end, in under a minute
    Demo(cmd::demo::Args),
    /// Make a folder for a ship, with a commented ship.toml
    Init(cmd::init::Args),
    /// Bring a logger's log into the ship folder
    Pull(cmd::pull::Args),
    /// Tell a logger what is wired to it
    Setup(cmd::setup::Args),
    /// Show a logger's lines live, while somebody works the switches
    Watch(cmd::watch::Args),
    /// Bring a file into the ship folder
    Import(cmd::import::Args),
    /// Add one fact by hand
    Add(cmd::add::Args),
    /// Show what a dump, or the ship folder, holds
    Show(cmd::show::Args),
    /// Say which part is due when
    Due(cmd::due::Args),
    /// Say which count is true, and why sources differ
    Reconcile(cmd::reconcile::Args),
    /// Say in which port each part is renewed, and why there
    Plan(cmd::plan::Args),
    /// Write everything on one page: one HTML file, no network
    Report(cmd::report::Args),
    /// Write the work card for renewing a part, printable
    Card(cmd::card::Args),
    /// Write one page for the relief or the auditor
    Handover(cmd::handover::Args),
    /// Take the readings of all radars in one go, check them at once, say what the planner is told
    MonthEnd(cmd::month_end::Args),
    /// Hours and dates for whatever planner or calendar the office runs
    Feed(cmd::feed::Args),
    /// Run the real firmware on a timeline of lines, and write the dump that a pull would have written
    Simulate(cmd::simulate::Args),
    /// Print the JSON Schema of an answer
    Schema(cmd::schema::Args),
    /// Print completions for a shell, or write manual pages
    Completions(cmd::completions::Args),
}

/// Reads the arguments, runs the command, prints an error if there is one.
#[must_use]
pub fn main() -> ExitCode {
    let cli = Cli::parse();
    match cli.color {
        clap::ColorChoice::Auto => anstream::ColorChoice::Auto,
        clap::ColorChoice::Always => anstream::ColorChoice::Always,
        clap::ColorChoice::Never => anstream::ColorChoice::Never,
    }
    .write_global();
    let outcome = match &cli.command {
        Command::Demo(args) => cmd::demo::run(args),
        Command::Init(args) => cmd::init::run(args),
        Command::Pull(args) => cmd::pull::run(&cli.ship, args),
        Command::Setup(args) => cmd::setup::run(&cli.ship, args),
        Command::Watch(args) => cmd::watch::run(&cli.ship, args),
        Command::Import(args) => cmd::import::run(&cli.ship, args),
        Command::Add(args) => cmd::add::run(&cli.ship, args),
        Command::Show(args) => cmd::show::run(&cli.ship, args),
        Command::Due(args) => cmd::due::run(&cli.ship, args),
        Command::Reconcile(args) => cmd::reconcile::run(&cli.ship, args),
        Command::Schema(args) => cmd::schema::run(args),
        Command::Plan(args) => cmd::plan::run(&cli.ship, args),
        Command::Report(args) => cmd::report::run(&cli.ship, args),
        Command::Card(args) => cmd::card::run(&cli.ship, args),
        Command::Handover(args) => cmd::handover::run(&cli.ship, args),
        Command::MonthEnd(args) => cmd::month_end::run(&cli.ship, args),
        Command::Feed(args) => cmd::feed::run(&cli.ship, args),
        Command::Completions(args) => cmd::completions::run(args),
        Command::Simulate(args) => cmd::simulate::run(args),
    };
    match outcome {
        Ok(Outcome::Fine) => ExitCode::SUCCESS,
        Ok(Outcome::Findings) => ExitCode::from(1),
        Err(error) => {
            eprintln!("halfglass: {error}");
            ExitCode::from(error.exit_code())
        }
    }
}
