//! The command line: one file per command, help text on its arguments.
//!
//! Every command hands back what it has to say ([`said::Said`]) as text and as JSON; it is printed
//! here, once. `docs/commands.md` lists commands, options and exit codes. What the commands do is the
//! service's; only the clock, the environment and the files given by name are read here.

mod backup;
mod card;
mod clock;
mod coach;
mod daily_backups;
mod demo;
mod doctor;
mod dose;
mod drafts;
mod ending;
mod entropy;
mod estimate;
mod exit;
mod export;
mod forecasts;
mod import;
mod joints;
mod key;
mod lifts;
mod neighbours;
mod paper;
mod place;
mod pool;
mod programme;
mod programme_change;
mod programme_draft;
mod programme_of;
mod progress;
mod read;
mod reader;
mod refit;
mod repeat;
mod replay;
mod restore;
mod said;
mod serve;
mod tables;
mod week_load;
mod whole_log;

use std::ffi::OsString;
use std::path::PathBuf;
use std::process::ExitCode;

use clap::{Args, Parser, Subcommand};
use jiff::civil::Date;

use exit::{Exit, Failure};
use said::Said;

const AFTER_HELP: &str = "\
Exit codes:
  0  done
  1  done, but something in the input was refused
  2  wrong use: a command, an option or a value given to one
  3  nothing done because of the data: unknown lifts, dates of two readings, …
  4  trouble with the store: locked, full, read-only, damaged, …
  5  a file can't be read or written, or the address can't be served

Pain, new or strong, belongs before a licensed professional. Nothing here
diagnoses anything or clears anybody to train.";

/// Over the options of every command in its help.
const HEADING: &str = "With every command";

/// Reads from the first work set of each lift whether its muscles have recovered, and says where to
/// cut back, and where not.
#[derive(Debug, Parser)]
#[command(name = "bellwether", bin_name = "bellwether", version, after_help = AFTER_HELP, max_term_width = 80)]
struct Cli {
    #[command(flatten)]
    everywhere: Everywhere,
    #[command(subcommand)]
    command: Command,
}

/// Options of every command.
#[derive(Args, Debug)]
pub(crate) struct Everywhere {
    /// The store: the file that holds the record [default: record.bellwether in your data folder]
    #[arg(long, global = true, value_name = "FILE", env = "BELLWETHER_STORE", help_heading = HEADING)]
    store: Option<PathBuf>,
    /// Print JSON instead of text
    #[arg(long, global = true, help_heading = HEADING)]
    json: bool,
    /// The day that counts as today, as 2031-05-04 [default: this machine's date]
    #[arg(long, global = true, value_name = "DATE", help_heading = HEADING)]
    today: Option<Date>,
}

impl Everywhere {
    /// The day that counts as today.
    pub(crate) fn today(&self) -> Date {
        self.today.unwrap_or_else(clock::today)
    }
}

#[derive(Debug, Subcommand)]
enum Command {
    Import(import::ImportArgs),
    Export(export::ExportArgs),
    Backup(backup::BackupArgs),
    Restore(restore::RestoreArgs),
    Lifts(lifts::LiftsArgs),
    Read(read::ReadArgs),
    Card(card::CardArgs),
    Refit(refit::RefitArgs),
    Pool(pool::PoolArgs),
    Programme(programme::ProgrammeArgs),
    Dose(dose::DoseArgs),
    Joints(joints::JointsArgs),
    Replay(replay::ReplayArgs),
    Forecasts(forecasts::ForecastsArgs),
    Serve(serve::ServeArgs),
    Demo(demo::DemoArgs),
    Key(key::KeyArgs),
    Estimate(estimate::EstimateArgs),
    Repeat(repeat::RepeatArgs),
    WeekLoad(week_load::WeekLoadArgs),
    Doctor(doctor::DoctorArgs),
}

/// Runs the program with these arguments, the first of which is its own name.
pub fn run(arguments: impl IntoIterator<Item = OsString>) -> ExitCode {
    let cli = match Cli::try_parse_from(arguments) {
        Ok(cli) => cli,
        Err(error) => {
            error.print().ok(); // nobody may be reading, as with `| head`
            return if error.use_stderr() { Exit::WrongUse } else { Exit::Done }.into();
        }
    };
    ending::listen();
    let json = cli.everywhere.json;
    let exit = match answer(&cli) {
        Ok(said) => said.print(json).unwrap_or_else(|failure| failure.print(json)),
        Err(failure) => failure.print(json),
    };
    ending::settle();
    exit.into()
}

fn answer(cli: &Cli) -> Result<Said, Failure> {
    let everywhere = &cli.everywhere;
    match &cli.command {
        Command::Import(args) => import::run(args, everywhere),
        Command::Export(args) => export::run(args, everywhere),
        Command::Backup(args) => backup::run(args, everywhere),
        Command::Restore(args) => restore::run(args, everywhere),
        Command::Lifts(args) => lifts::run(args, everywhere),
        Command::Read(args) => read::run(args, everywhere),
        Command::Card(args) => card::run(args, everywhere),
        Command::Refit(args) => refit::run(args, everywhere),
        Command::Pool(args) => pool::run(args, everywhere),
        Command::Programme(args) => programme::run(args, everywhere),
        Command::Dose(args) => dose::run(args, everywhere),
        Command::Joints(args) => joints::run(args, everywhere),
        Command::Replay(args) => replay::run(args),
        Command::Forecasts(args) => forecasts::run(args),
        Command::Serve(args) => serve::run(args, everywhere),
        Command::Demo(args) => demo::run(args, everywhere),
        Command::Key(args) => key::run(args, everywhere),
        Command::Estimate(args) => estimate::run(args),
        Command::Repeat(args) => repeat::run(args),
        Command::WeekLoad(args) => week_load::run(args),
        Command::Doctor(args) => doctor::run(args, everywhere),
    }
}
