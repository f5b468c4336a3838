//! Errors: the exit code by their kind, and how they are told.

use super::args::Format;
use super::ui::Ui;
use crate::garage::{Error, StoreError};
use crate::schema::{EntryError, Problem};
use crate::slip::CellError;
use crate::text::{is_invisible, visible};
use miette::{GraphicalReportHandler, GraphicalTheme, LabeledSpan, MietteDiagnostic, NamedSource, Report};
use serde_json::{Value as Json, json};
use std::path::Path;

/// The answer is "no".
pub const NO: u8 = 1;
/// The command was not understood.
pub const USAGE: u8 = 2;
/// The book or the data is bad.
pub const DATA: u8 = 3;
/// Reading or writing failed.
pub const IO: u8 = 4;

/// The exit code of an error.
pub fn code(error: &Error) -> u8 {
    match error {
        Error::No(_) => NO,
        Error::Usage { .. } | Error::Unconfirmed { .. } | Error::Entry(_) => USAGE,
        Error::Text { .. } | Error::Table { .. } | Error::Data { .. } => DATA,
        Error::Store(StoreError::Io { .. } | StoreError::NoPlace { .. }) | Error::Io { .. } => IO,
        Error::Store(_) => DATA,
    }
}

/// Tells the error on stderr, in the form of the answer that was asked for, and gives its code.
pub fn tell(ui: &mut Ui, error: &Error, format: Format) -> u8 {
    match format {
        Format::Text => text(ui, error),
        Format::Json => ui.problem(&json(error)),
    }
    code(error)
}

/// Tells that the arguments were not understood, and gives the code.
pub fn tell_arguments(ui: &mut Ui, error: &clap::Error, format: Format) -> u8 {
    let said = error.to_string();
    let said = said.trim_end();
    match format {
        Format::Text => ui.status(said),
        Format::Json => {
            let (what, help) = said.split_once("\n\n").unwrap_or((said, ""));
            let what = what.strip_prefix("error: ").unwrap_or(what);
            ui.problem(&object(what, Some(help), &[], &[], USAGE));
        }
    }
    USAGE
}

fn text(ui: &mut Ui, error: &Error) {
    match error {
        Error::Text { name, text, problems } => {
            for problem in problems.iter().take(20) {
                let report = source_report(ui, name, text, problem);
                ui.report(&report);
            }
            if problems.len() > 20 {
                ui.status(&format!("and {} more", problems.len() - 20));
            }
        }
        Error::Table { name, text, errors } => {
            for e in errors.iter().take(20) {
                ui.status(&format!("error: {name}: {e}"));
                let text = text.trim_start_matches('\u{feff}');
                let line = usize::try_from(e.line).ok().and_then(|n| text.lines().nth(n.checked_sub(1)?));
                if let Some(line) = line {
                    let short: String = line.chars().take(160).collect();
                    ui.status(&format!("  {} | {short}", e.line));
                }
            }
            if errors.len() > 20 {
                ui.status(&format!("and {} more", errors.len() - 20));
            }
            help(error).iter().for_each(|h| ui.status(h));
        }
        Error::No(what) => ui.status(what),
        other => {
            ui.status(&format!("error: {other}"));
            causes(other).iter().for_each(|c| ui.status(&format!("  because: {c}")));
            if let Some(help) = help(other) {
                ui.status(&format!("  {help}"));
            }
        }
    }
}

/// What an error comes from, the nearest first, as far as it does not say so itself.
fn causes(error: &Error) -> Vec<String> {
    let said = error.to_string();
    let all = std::iter::successors(std::error::Error::source(error), |e| e.source());
    all.map(ToString::to_string).take_while(|c| !said.contains(c)).collect()
}

/// The same as one object: what is wrong, what would be right, and the places of a file where it is.
fn json(error: &Error) -> Json {
    let places: Vec<Json> = match error {
        Error::Text { name, text, problems } => {
            let line = |at: usize| text.get(..at).map(|before| before.matches('\n').count() + 1);
            let one = |p: &Problem| {
                let line = p.span.as_ref().and_then(|s| line(s.start));
                json!({"file": name, "line": line, "column": null, "error": p.message, "help": p.help})
            };
            problems.iter().map(one).collect()
        }
        Error::Table { name, errors, .. } => {
            let column = |c: &str| Some(c.to_owned()).filter(|c| !c.is_empty());
            let one = |e: &CellError| {
                json!({
                    "file": name, "line": e.line, "column": column(&e.column), "error": e.to_string(), "help": null,
                })
            };
            errors.iter().map(one).collect()
        }
        _ => Vec::new(),
    };
    object(&error.to_string(), help(error).as_deref(), &causes(error), &places, code(error))
}

fn object(error: &str, help: Option<&str>, because: &[String], places: &[Json], exit: u8) -> Json {
    let help = help.map(str::trim).filter(|h| !h.is_empty());
    json!({"error": error, "help": help, "because": because, "places": places, "exit": exit})
}

fn help(error: &Error) -> Option<String> {
    Some(match error {
        Error::Usage { help, .. } | Error::Unconfirmed { help, .. } | Error::Data { help, .. } => help.clone(),
        Error::Entry(EntryError::Ambiguous { candidates, .. }) => {
            let all: Vec<String> = candidates.iter().map(|c| format!("  {:<28} {}", c.key, c.label)).collect();
            format!("say which, for example {}=VALUE:\n{}", candidates.first()?.key, all.join("\n"))
        }
        Error::Entry(EntryError::Unknown { near, .. }) if near.is_empty() => {
            "slipbook fields TEXT searches them".to_owned()
        }
        Error::Entry(EntryError::Unknown { near, .. }) => {
            format!("nearest: {}; slipbook fields TEXT searches them", near.join(", "))
        }
        Error::Entry(EntryError::Value { help, .. }) => help.clone(),
        Error::Store(StoreError::Io { source, .. })
            if matches!(source.kind(), std::io::ErrorKind::StorageFull | std::io::ErrorKind::QuotaExceeded) =>
        {
            "the drive is full; nothing was recorded".to_owned()
        }
        Error::Store(StoreError::Missing { .. } | StoreError::Damaged { .. }) => {
            "slipbook verify names what is lost; slipbook receive COPY mends it from a copy or a bundle".to_owned()
        }
        Error::Store(StoreError::BranchLost { was: Some(id), .. }) => format!(
            "the records are still there, and the log says it named {id}: write that line into the file, then slipbook verify"
        ),
        Error::Store(StoreError::BranchLost { was: None, .. }) => {
            "nothing says which record it named; a copy has it: move this folder away, then slipbook receive COPY"
                .to_owned()
        }
        Error::Store(StoreError::Detached { .. } | StoreError::HeadElsewhere { .. }) => {
            "write that line into the file (git switch main does the same), then slipbook verify".to_owned()
        }
        Error::Store(StoreError::WrongKind { path, found: "not there", .. }) => lost_file(path)?,
        Error::Store(StoreError::Underway { .. }) => "wait until it is done, then say it again".to_owned(),
        Error::Table { .. } => "nothing was imported; --partial leaves the wrong rows out".to_owned(),
        Error::Entry(EntryError::Empty) => "slipbook change limiter down 1/4".to_owned(),
        _ => return None,
    })
}

/// What a file of a book's own says that is not there any more.
fn lost_file(path: &Path) -> Option<String> {
    let lines = match path.file_name()?.to_str()? {
        "HEAD" => "ref: refs/heads/main",
        "config" => "[core] repositoryformatversion = 0",
        _ => return None,
    };
    Some(format!("the records are still there: make that file, with the one line `{lines}`, then slipbook verify"))
}

/// A problem with the line of the file it stands on.
fn source_report(ui: &Ui, name: &str, text: &str, problem: &Problem) -> String {
    let mut diagnostic = MietteDiagnostic::new(visible(&problem.message));
    if let Some(help) = &problem.help {
        diagnostic = diagnostic.with_help(visible(help));
    }
    let Some(span) = problem.span.clone().filter(|s| s.end <= text.len()) else {
        return format!(
            "error: {}: {}{}",
            visible(name),
            visible(&problem.message),
            problem.help.as_ref().map(|h| format!("\n  {}", visible(h))).unwrap_or_default()
        );
    };
    // What would act on the terminal or hide there must not reach it; a byte for a byte keeps the columns right.
    let clean: String = text
        .chars()
        .flat_map(|c| if (c.is_control() || is_invisible(c)) && c != '\n' { vec!['?'; c.len_utf8()] } else { vec![c] })
        .collect();
    let end = span.end.min(clean[span.start..].find('\n').map_or(span.end, |n| span.start + n.max(1)));
    diagnostic = diagnostic.with_label(LabeledSpan::at(span.start..end, "here"));
    let report = Report::new(diagnostic).with_source_code(NamedSource::new(visible(name), clean));
    let theme = if ui.colour_err() { GraphicalTheme::unicode() } else { GraphicalTheme::none() };
    let mut out = String::new();
    let handler = GraphicalReportHandler::new_themed(theme).with_width(ui.width()).with_context_lines(0);
    match handler.render_report(&mut out, report.as_ref()) {
        Ok(()) => out.trim_end().to_owned(),
        Err(_) => format!("error: {}: {}", visible(name), visible(&problem.message)),
    }
}
