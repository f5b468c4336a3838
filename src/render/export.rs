//! An export as it is told.

use super::layout::{Head, counted};
use crate::garage::Exported;
use crate::slip::Moment;
use crate::text::shell_word;
use serde_json::{Value as Json, json};
use std::path::Path;

/// What is told.
#[derive(Debug, Clone)]
pub struct ExportTold<'a> {
    /// The folder.
    pub to: &'a Path,
    /// What was written.
    pub exported: &'a Exported,
    /// When the book was opened.
    pub opened: Option<Moment>,
    /// Files edited by hand and not saved: they are not in it.
    pub unsaved: &'a [String],
}

/// As text.
pub fn text(head: &Head, told: &ExportTold) -> String {
    let done = told.exported;
    let to = told.to.display().to_string();
    let mut page = head.page(&format!("written to {to}: {}", counted(done.files.len(), "file")));
    let (versions, runs) = (counted(done.versions, "version"), counted(done.runs, "run"));
    page.wrap("  ", &format!("season.csv has {}: {versions}, {runs}", counted(done.rows, "row")));
    page.wrap("  ", "not in the table: the log as written, comments, trials (slipbook handover keeps all of it)");
    done.lost.iter().for_each(|l| page.wrap("  not as here: ", l));
    if !told.unsaved.is_empty() {
        let files = told.unsaved.join(", ");
        page.wrap("  ", &format!("not in it: {files}, edited by hand and not saved (slipbook sheet --save)"));
    }
    page.line("a book of it, in another garage:");
    for command in commands(told) {
        page.line(format!("  {command}"));
    }
    page.text()
}

/// What makes a book of the files again.
fn commands(told: &ExportTold) -> [String; 2] {
    let path = |name: &str| shell_word(&told.to.join(name).display().to_string());
    let when = told.opened.map(|at| format!(" --when {}", at.iso())).unwrap_or_default();
    [
        format!("slipbook new --car-file {} --sheet {}{when}", path("car.toml"), path("opening.toml")),
        format!("slipbook import --yes {}", path("season.csv")),
    ]
}

/// As JSON.
pub fn json(head: &Head, told: &ExportTold) -> Json {
    let done = told.exported;
    json!({
        "car": head.car, "to": told.to.display().to_string(),
        "files": done.files.iter().map(|(path, _)| path).collect::<Vec<_>>(),
        "rows": done.rows, "versions": done.versions, "runs": done.runs, "not_as_here": done.lost,
        "opened": told.opened, "not_saved": told.unsaved, "commands": commands(told),
    })
}
