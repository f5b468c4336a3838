//! The command line: one file a command. Only here are the clock, the environment and the streams met.

mod air;
mod air_said;
mod args;
mod blame;
mod cars;
mod cg;
mod change;
mod check;
mod context;
mod copy;
mod day;
mod dial;
mod diff;
mod exit;
mod export;
mod fetch;
mod fields;
mod footing;
mod gather;
mod handover;
mod help;
mod history;
mod home;
mod import;
mod join;
mod judged;
mod measure;
mod mend;
mod new;
mod numbers;
mod oops;
mod page;
mod part;
mod plan;
mod progress;
mod receive;
mod revert;
mod run;
mod runs;
mod sheet;
mod spoken;
mod story;
mod tour;
mod trial;
mod ui;
mod verify;
mod wrench;

use args::{Cli, Command, Format};
use clap::{CommandFactory, FromArgMatches};
use context::Context;
use std::process::ExitCode;
use ui::Ui;

/// Runs the program with the arguments and the environment of the process.
pub fn main() -> ExitCode {
    let mut ui = Ui::of_process();
    match with_args(&mut ui, std::env::args_os().collect()) {
        Ok(()) => ExitCode::SUCCESS,
        Err(code) => ExitCode::from(code),
    }
}

/// Runs one command line; the error is the exit code, told already.
fn with_args(ui: &mut Ui, args: Vec<std::ffi::OsString>) -> Result<(), u8> {
    let command = help::grouped(Cli::command());
    let format = format_of(&args);
    let args = args.into_iter().map(with_zero);
    let cli = match command.try_get_matches_from(args).and_then(|m| Cli::from_arg_matches(&m)) {
        Ok(cli) => cli,
        Err(e) if e.use_stderr() => {
            return Err(exit::tell_arguments(ui, &e, format));
        }
        Err(e) => {
            ui.text(&e.to_string());
            return Ok(());
        }
    };
    let done = Context::new(&cli.common, ui).and_then(|ctx| match &cli.command {
        Some(wanted) => dispatch(&ctx, ui, wanted),
        None => home::run(&ctx, ui),
    });
    done.map_err(|e| exit::tell(ui, &e, cli.common.format))
}

/// The form of the answer that was asked for, where the arguments as a whole may not be understood.
fn format_of(args: &[std::ffi::OsString]) -> Format {
    let mut form = Format::Text;
    let mut args = args.iter().take_while(|a| *a != "--").map(|a| a.to_string_lossy());
    while let Some(arg) = args.next() {
        let named = match arg.strip_prefix("--format") {
            Some("") => args.next().map(|a| a.into_owned()),
            Some(rest) => rest.strip_prefix('=').map(str::to_owned),
            None => continue,
        };
        form = if named.as_deref() == Some("json") { Format::Json } else { Format::Text };
    }
    form
}

/// `-.012`, as slips print a red light, is a number and no option: `-0.012`; so is `-5C`, a cold morning, or `-5C 90%`.
fn with_zero(arg: std::ffi::OsString) -> std::ffi::OsString {
    let Some(text) = arg.to_str().and_then(|a| a.strip_prefix('-')) else { return arg };
    let digits =
        |t: &str| t.starts_with(|c: char| c.is_ascii_digit()) && t.bytes().all(|b| b.is_ascii_digit() || b == b'.');
    let first = text.split(' ').next().unwrap_or_default();
    match (text.strip_prefix('.'), first.strip_suffix(['F', 'C', 'f', 'c'])) {
        (Some(rest), _) if digits(rest) => format!("-0.{rest}").into(),
        // A word that begins with a blank is no option; who reads words takes it off.
        (_, Some(degrees)) if digits(degrees) => format!(" {}", arg.to_string_lossy()).into(),
        _ => arg,
    }
}

fn dispatch(ctx: &Context, ui: &mut Ui, command: &Command) -> crate::garage::Result<()> {
    match command {
        Command::Run(args) => run::run(ctx, ui, args),
        Command::Air(args) => air::run(ctx, ui, args),
        Command::Change(args) => change::run(ctx, ui, args),
        Command::Day(args) => day::run(ctx, ui, args),
        Command::Page(args) => page::run(ctx, ui, args),
        Command::Runs(args) => runs::run(ctx, ui, args),
        Command::History(args) => history::run(ctx, ui, args),
        Command::Wrench(args) => wrench::run(ctx, ui, args),
        Command::Check(args) => check::run(ctx, ui, args),
        Command::Dial(args) => dial::run(ctx, ui, args),
        Command::Diff(args) => diff::run(ctx, ui, args),
        Command::Blame(args) => blame::run(ctx, ui, args),
        Command::Trial(args) => trial::run(ctx, ui, args),
        Command::Numbers(args) => numbers::run(ctx, ui, args),
        Command::Revert(args) => revert::run(ctx, ui, args),
        Command::Mend(args) => mend::run(ctx, ui, args),
        Command::Oops(args) => oops::run(ctx, ui, args),
        Command::Measure(args) => measure::run(ctx, ui, args),
        Command::New(args) => new::run(ctx, ui, args),
        Command::Part(args) => part::run(ctx, ui, args),
        Command::Cars(args) => cars::run(ctx, ui, args),
        Command::Sheet(args) => sheet::run(ctx, ui, args),
        Command::Fields(args) => fields::run(ctx, ui, args),
        Command::Import(args) => import::run(ctx, ui, args),
        Command::Copy(args) => copy::run(ctx, ui, args),
        Command::Receive(args) => receive::run(ctx, ui, args),
        Command::Join(args) => join::run(ctx, ui, args),
        Command::Verify(args) => verify::run(ctx, ui, args),
        Command::Export(args) => export::run(ctx, ui, args),
        Command::Handover(args) => handover::run(ctx, ui, args),
        Command::Tour(args) => tour::run(ctx, ui, args),
    }
}
