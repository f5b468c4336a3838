//! All arguments, and those every command takes.

use clap::{Args, Parser, Subcommand, ValueEnum};
use std::path::PathBuf;

/// A versioned setup book for drag cars: what is on the car, what changed, and which change bought the time.
#[derive(Debug, Parser)]
#[command(name = "slipbook", version, disable_help_subcommand = true)]
pub struct Cli {
    #[command(flatten)]
    pub common: Common,
    #[command(subcommand)]
    pub command: Option<Command>,
}

/// What every command takes.
#[derive(Debug, Clone, Args)]
#[command(next_help_heading = "For every command")]
pub struct Common {
    /// The folder of the books
    #[arg(long, global = true, env = "SLIPBOOK_GARAGE", value_name = "DIR", hide_env_values = true)]
    pub garage: Option<PathBuf>,
    /// The car: its name, its folder, or the beginning of one
    #[arg(long, global = true, value_name = "CAR")]
    pub car: Option<String>,
    /// Whose hand writes (else the garage's `by`, else the user of the machine)
    #[arg(long, global = true, env = "SLIPBOOK_BY", value_name = "NAME", hide_env_values = true)]
    pub by: Option<String>,
    /// How the answer is written
    #[arg(long, global = true, value_name = "FORM", default_value = "text", hide_default_value = true)]
    pub format: Format,
    /// Take unusual values as right, without asking
    #[arg(long, short = 'y', global = true)]
    pub yes: bool,
}

/// The form of an answer.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Format {
    /// For people
    Text,
    /// For programs; keys are documented in schema/output.md
    Json,
}

/// The commands.
#[derive(Debug, Subcommand)]
pub enum Command {
    Run(super::run::RunArgs),
    Air(super::air::AirArgs),
    Change(super::change::ChangeArgs),
    Check(super::check::CheckArgs),
    Dial(super::dial::DialArgs),
    Wrench(super::wrench::WrenchArgs),
    Day(super::day::DayArgs),
    Page(super::page::PageArgs),
    Runs(super::runs::RunsArgs),
    History(super::history::HistoryArgs),
    Diff(super::diff::DiffArgs),
    Blame(super::blame::BlameArgs),
    Trial(super::trial::TrialArgs),
    Numbers(super::numbers::NumbersArgs),
    Revert(super::revert::RevertArgs),
    Mend(super::mend::MendArgs),
    Oops(super::oops::OopsArgs),
    Measure(super::measure::MeasureArgs),
    Verify(super::verify::VerifyArgs),
    New(super::new::NewArgs),
    Cars(super::cars::CarsArgs),
    Part(super::part::PartArgs),
    Sheet(super::sheet::SheetArgs),
    Fields(super::fields::FieldsArgs),
    Copy(super::copy::CopyArgs),
    Receive(super::receive::ReceiveArgs),
    Export(super::export::ExportArgs),
    Handover(super::handover::HandoverArgs),
    Join(super::join::JoinArgs),
    Import(super::import::ImportArgs),
    Tour(super::tour::TourArgs),
}
