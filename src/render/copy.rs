//! A copy as it is told once it was read back.

use super::layout::{Head, counted};
use crate::garage::{CopyMade, Form, Since};
use crate::text::shell_word;
use serde_json::{Value as Json, json};
use std::path::Path;

/// What is told.
#[derive(Debug, Clone)]
pub struct CopyTold<'a> {
    /// The copy.
    pub made: &'a CopyMade,
    /// Records that were not in it before; none where there was no copy.
    pub new: Option<Since>,
    /// Files edited by hand and not saved: they are in no copy.
    pub unsaved: &'a [String],
}

/// As text.
pub fn text(head: &Head, told: &CopyTold) -> String {
    let made = told.made;
    let path = made.target.path.display().to_string();
    let what = match made.bytes {
        Some(bytes) => format!("one file, {}", size(bytes)),
        None => "a folder that opens as a book".to_owned(),
    };
    let mut page = head.page(&format!("copied to {path}: {what}"));
    let (commits, objects) = (counted(made.copied.commits, "commit"), counted(made.copied.objects, "object"));
    page.wrap("  ", &format!("{commits}, {objects}: each read back from there and compared"));
    match told.new {
        Some(Since::Records(0)) => page.wrap("  ", "the copy that was there held all of it already"),
        Some(Since::Records(n)) => {
            page.wrap("  ", &format!("{} more than the copy that was there", counted(n, "record")))
        }
        _ => {}
    }
    if !told.unsaved.is_empty() {
        let files = told.unsaved.join(", ");
        page.wrap("  ", &format!("not in it: {files}, edited by hand and not saved (slipbook sheet --save)"));
    }
    if !made.copied.not_laid_out.is_empty() {
        let paths = made.copied.not_laid_out.join(", ");
        page.wrap("  ", &format!("in its record, not laid out as files: {paths}"));
    }
    for path in &made.copied.kept_by_hand {
        page.wrap("  ", &format!("{path} in the copy was edited by hand meanwhile and is kept as it is"));
    }
    if !made.remembered {
        page.wrap("  ", "this book is none of the garage, so the garage does not remember the copy");
    }
    page.line(format!("open it:  {}", opens_with(&made.target.path, made.target.form)));
    page.text()
}

/// The command that opens a copy.
fn opens_with(path: &Path, form: Form) -> String {
    match form {
        Form::Bundle => format!("git clone {}", shell_word(&path.display().to_string())),
        Form::Folder => {
            let part = |p: Option<&std::ffi::OsStr>| shell_word(&p.unwrap_or_default().to_string_lossy());
            let (garage, car) = (part(path.parent().map(Path::as_os_str)), part(path.file_name()));
            format!("slipbook sheet --garage {garage} --car {car}")
        }
    }
}

/// Bytes as people say them.
pub fn size(bytes: u64) -> String {
    match bytes {
        0..=999_999 => format!("{} kB", bytes.div_ceil(1000)),
        _ => format!("{:.1} MB", bytes as f64 / 1e6),
    }
}

/// As JSON.
pub fn json(head: &Head, told: &CopyTold) -> Json {
    let made = told.made;
    let new = told.new.and_then(|s| match s {
        Since::Records(n) => Some(n),
        _ => None,
    });
    json!({
        "car": head.car, "to": made.target.path.display().to_string(), "form": form_word(made.target.form),
        "tip": made.copied.tip.to_string(), "was": made.copied.was.map(|id| id.to_string()), "new_records": new,
        "commits": made.copied.commits, "objects": made.copied.objects, "size_bytes": made.bytes,
        "not_saved": told.unsaved, "not_laid_out": made.copied.not_laid_out, "remembered": made.remembered,
    })
}

fn form_word(form: Form) -> &'static str {
    match form {
        Form::Folder => "folder",
        Form::Bundle => "bundle",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sizes() {
        assert_eq!((size(1), size(999_999), size(1_000_000)), ("1 kB".into(), "1000 kB".into(), "1.0 MB".into()));
    }
}
