//! Columns that line up; where they do not fit, whole columns go, never a word of one.

use super::super::layout::Page;
use crate::diff::words::visible;

/// A column of a table.
pub struct Column {
    head: &'static str,
    cells: Vec<String>,
    right: bool,
    /// The highest goes first; 0 stays.
    goes: u8,
}

impl Column {
    /// Of words, flush left.
    pub fn words(head: &'static str, cells: Vec<String>) -> Column {
        Column { head, cells: cells.iter().map(|c| visible(c)).collect(), right: false, goes: 0 }
    }

    /// Of numbers, flush right.
    pub fn numbers(head: &'static str, cells: Vec<String>) -> Column {
        Column { right: true, ..Column::words(head, cells) }
    }

    /// May be left out where the screen is narrow: the highest first.
    pub fn may_go(self, goes: u8) -> Column {
        Column { goes, ..self }
    }

    fn width(&self) -> usize {
        self.cells.iter().map(|c| c.chars().count()).chain([self.head.len()]).max().unwrap_or(0)
    }
}

/// Puts the table on the page; two spaces apart, one where that is all there is room for.
pub fn columns(page: &mut Page, indent: &str, all: &[Column]) {
    let mut shown: Vec<&Column> = all.iter().collect();
    let wide = |shown: &[&Column], gap: usize| {
        let cells: usize = shown.iter().map(|c| c.width()).sum();
        indent.len() + cells + gap * shown.len().saturating_sub(1)
    };
    while wide(&shown, 2) > page.width() {
        let goes = shown.iter().map(|c| c.goes).max().unwrap_or(0);
        if goes == 0 {
            break;
        }
        shown.retain(|c| c.goes != goes);
    }
    let gap = if wide(&shown, 2) > page.width() { " " } else { "  " };
    let line = |cell: &dyn Fn(&Column) -> String| {
        let cells: Vec<String> = shown
            .iter()
            .map(|c| {
                let (text, width) = (cell(c), c.width());
                if c.right { format!("{text:>width$}") } else { format!("{text:<width$}") }
            })
            .collect();
        format!("{indent}{}", cells.join(gap))
    };
    page.line(line(&|c| c.head.to_owned()));
    for i in 0..all.iter().map(|c| c.cells.len()).max().unwrap_or(0) {
        page.line(line(&|c| c.cells.get(i).cloned().unwrap_or_default()));
    }
}
