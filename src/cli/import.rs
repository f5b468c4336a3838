//! `import`: a season table.

use super::context::Context;
use super::ui::Ui;
use crate::garage::{Error, ImportOptions, Result, import};
use crate::render::counted;
use crate::slip::read_table;
use clap::Args;
use std::collections::BTreeMap;
use std::path::PathBuf;

/// Take in a season table (CSV), one row a run
///
/// Versions are made where set fields change.
///
/// Columns are documented in schema/columns.toml: date, time, track, slip
/// numbers, air, how it went, and any field key; a unit may stand in the header
/// (`temperature [C]`). In a field's column an empty cell means unchanged;
/// elsewhere, not taken. All rows or none, unless --partial. --columns maps
/// headers of your own:
///
///   "60'" = "ft60"
///   "Temp" = "temperature [C]"
///   "Best?" = ""                 # left out
#[derive(Debug, Args)]
#[command(verbatim_doc_comment)]
#[allow(rustdoc::broken_intra_doc_links, reason = "the comment is the help, brackets and all")]
pub struct ImportArgs {
    /// The table
    #[arg(value_name = "FILE")]
    file: PathBuf,
    /// A TOML file that maps your headers to ours
    #[arg(long, value_name = "FILE")]
    columns: Option<PathBuf>,
    /// Leave wrong rows out, and say which
    #[arg(long)]
    partial: bool,
    /// Read and check, write nothing
    #[arg(long)]
    dry_run: bool,
}

/// Runs the command.
pub fn run(ctx: &Context, ui: &mut Ui, args: &ImportArgs) -> Result<()> {
    let book = ctx.book()?;
    let bytes = std::fs::read(&args.file).map_err(|e| Error::io(&args.file, e))?;
    let renamed = columns(args.columns.as_ref())?;
    let name = args.file.display().to_string();
    let (rows, errors) = read_table(&book.schema, &bytes, &renamed, &ctx.zone, &mut |_| {});
    if !errors.is_empty() && (!args.partial || rows.is_empty()) {
        return Err(Error::Table { name, text: String::from_utf8_lossy(&bytes).into_owned(), errors });
    }
    if args.dry_run {
        super::change::refuse_unsaved(&crate::garage::hand_edits(&book)?)?;
    }
    let mut done = {
        let bar = (ui.progress() && rows.len() > 200).then(|| indicatif::ProgressBar::new(rows.len() as u64));
        let progress = |n: usize| {
            if let Some(bar) = &bar {
                bar.set_position(n as u64);
            }
        };
        let how =
            ImportOptions { partial: args.partial, confirmed: ctx.yes, dry_run: args.dry_run, progress: &progress };
        let result = import(&book, &ctx.options(), &ctx.hand, &how, &rows);
        let result = match result {
            Err(Error::Unconfirmed { message, .. })
                if ui.confirm(&format!("{message}\nAre these right?")) == Some(true) =>
            {
                import(&book, &ctx.options(), &ctx.hand, &ImportOptions { confirmed: true, ..how }, &rows)
            }
            other => other,
        };
        if let Some(bar) = &bar {
            bar.finish_and_clear();
        }
        let (done, written) = result.map_err(|e| match e {
            Error::Table { errors, .. } => {
                Error::Table { name: name.clone(), text: String::from_utf8_lossy(&bytes).into_owned(), errors }
            }
            e => e,
        })?;
        written.notes.iter().for_each(|n| ui.status(n));
        done
    };
    done.left_out.splice(0..0, errors.iter().map(ToString::to_string));
    let head = ctx.head(&book.car.name);
    let saved = !args.dry_run;
    ctx.answer(
        ui,
        || serde_json::json!({"car": head.car, "saved": saved, "imported": done}),
        || {
            let what = if saved { "imported" } else { "would be imported" };
            let mut page = head.page(&format!(
                "{what}: {}, {} on {}, {}, {}",
                counted(done.rows, "row"),
                counted(done.runs, "run"),
                counted(done.days, "day"),
                counted(done.versions, "version"),
                counted(done.measurements, "measurement"),
            ));
            for row in &done.left_out {
                page.wrap("left out: ", row);
            }
            if done.rows > 0 && saved {
                page.line("next: slipbook history   slipbook blame");
            }
            page.text()
        },
    );
    Ok(())
}

fn columns(path: Option<&PathBuf>) -> Result<BTreeMap<String, String>> {
    let Some(path) = path else { return Ok(BTreeMap::new()) };
    let text = crate::garage::read_small(path)?.ok_or_else(|| Error::io(path, std::io::ErrorKind::NotFound.into()))?;
    toml::from_str(&text).map_err(|e| Error::Text {
        name: path.display().to_string(),
        problems: vec![crate::schema::Problem::at(e.span(), e.message().to_owned()).help("\"your header\" = \"ft60\"")],
        text,
    })
}
