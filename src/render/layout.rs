//! The page: the car first, words that wrap under themselves, columns that line up.

use crate::diff::words::visible;
use crate::garage::ContentId;
use crate::slip::Moment;
pub use crate::text::counted;

/// What every answer begins with and is measured by.
#[derive(Debug, Clone)]
pub struct Head {
    /// The car's name.
    pub car: String,
    /// Columns of the screen.
    pub width: usize,
    /// The year that goes without saying.
    pub year: i16,
}

impl Head {
    /// A page that leads with the car's name.
    pub fn page(&self, line: &str) -> Page {
        let mut page = Page { width: self.width.max(40), lines: Vec::new() };
        let name = visible(&self.car);
        page.wrap(&format!("{name}   "), line);
        page
    }

    /// A date and time, the year only where it is another.
    pub fn when(&self, at: Moment) -> String {
        at.words(Some(self.year))
    }

    /// A date.
    pub fn day(&self, date: jiff::civil::Date) -> String {
        Moment::day_words(date, Some(self.year))
    }
}

/// Lines of an answer.
#[derive(Debug, Clone)]
pub struct Page {
    width: usize,
    lines: Vec<String>,
}

impl Page {
    /// Lines that follow an answer which named the car.
    pub fn below(head: &Head) -> Page {
        Page { width: head.width.max(40), lines: Vec::new() }
    }

    /// Columns of the screen.
    pub fn width(&self) -> usize {
        self.width
    }

    /// A line as it is. Control characters in it are shown, not sent.
    pub fn line(&mut self, text: impl AsRef<str>) {
        self.lines.push(visible(text.as_ref()).trim_end().to_owned());
    }

    /// An empty line.
    pub fn gap(&mut self) {
        self.lines.push(String::new());
    }

    /// Text behind a label, wrapped under itself. A label that takes most of the line flows with the text.
    pub fn wrap(&mut self, label: &str, text: &str) {
        let (label, text) = (visible(label), visible(text));
        let long = label.chars().count() * 9 > self.width * 5;
        let (first, indent, text) = match long {
            true => (String::new(), " ".repeat(6), format!("{label}{text}")),
            false => (label.clone(), " ".repeat(label.chars().count()), text),
        };
        // "re-measured" is one word.
        let options = textwrap::Options::new(self.width)
            // "lb/ft3" too.
            .word_separator(textwrap::WordSeparator::AsciiSpace)
            .initial_indent(&first)
            .subsequent_indent(&indent)
            .word_splitter(textwrap::WordSplitter::NoHyphenation)
            .break_words(true);
        self.lines.extend(textwrap::wrap(&text, options).into_iter().map(|l| l.trim_end().to_owned()));
    }

    /// Text behind a label with a note at the right edge, if both fit on one line; else the note comes below.
    pub fn with_note(&mut self, label: &str, text: &str, note: &str) {
        /// Notes begin here where the text is shorter.
        const NOTE_COLUMN: usize = 44;
        let used = label.chars().count() + text.chars().count();
        let pad = NOTE_COLUMN.saturating_sub(used).max(2);
        if note.is_empty() {
            self.wrap(label, text);
        } else if used + pad + note.chars().count() <= self.width {
            self.line(format!("{label}{text}{}{note}", " ".repeat(pad)));
        } else {
            self.wrap(label, text);
            self.wrap(&" ".repeat(label.chars().count() + 2), note);
        }
    }

    /// A table without rules: columns two spaces apart. `right` columns line up on the right.
    pub fn table(&mut self, rows: &[Vec<String>], right: &[usize]) {
        let columns = rows.iter().map(Vec::len).max().unwrap_or(0);
        let mut table = comfy_table::Table::new();
        table.load_style(comfy_table::presets::NOTHING).set_width(u16::try_from(self.width).unwrap_or(80));
        table.set_content_arrangement(comfy_table::ContentArrangement::Dynamic);
        for row in rows {
            let mut cells: Vec<String> = row.iter().map(|c| visible(c)).collect();
            cells.resize(columns, String::new());
            table.add_row(cells);
        }
        for i in 0..columns {
            if let Some(column) = table.column_mut(i) {
                column.set_padding((0, 2));
                if right.contains(&i) {
                    // A number is never broken, however narrow the screen.
                    column.set_constraint(comfy_table::ColumnConstraint::ContentWidth);
                    column.set_cell_alignment(comfy_table::CellAlignment::Right);
                }
            }
        }
        self.lines.extend(table.lines().map(|l| l.trim_end().to_owned()));
    }

    /// The whole text, each line ended.
    pub fn text(&self) -> String {
        self.lines.iter().map(|l| format!("{l}\n")).collect()
    }
}

/// The ends of a range as they are said. The timer reads in steps of the last digit: no range is narrower than one up and
/// one down.
pub fn ends(lo: f64, hi: f64, decimals: usize) -> (String, String) {
    let (a, b) = (signed(lo, decimals), signed(hi, decimals));
    if a != b {
        return (a, b);
    }
    let step = 10_f64.powi(-i32::try_from(decimals).unwrap_or(0));
    (signed(lo - step, decimals), signed(hi + step, decimals))
}

/// A signed number of seconds or mph.
pub fn signed(x: f64, decimals: usize) -> String {
    let text = format!("{x:+.decimals$}");
    // A difference that rounds to nothing has no sign.
    if text.trim_start_matches(['+', '-']).chars().all(|c| c == '0' || c == '.') { text[1..].to_owned() } else { text }
}

/// A handover id, everywhere in one shape: six words, the check word, and in full. The labels stand before each.
pub fn id_lines(page: &mut Page, labels: [&str; 3], id: &ContentId) {
    let (words, full) = (id.words(), id.to_string());
    page.wrap(labels[0], &words[..6].join(" "));
    page.wrap(labels[1], words[6]);
    page.line(format!("{}{}", labels[2], &full[..32]));
    page.line(format!("{}{}", " ".repeat(labels[2].len()), &full[32..]));
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_range_is_narrower_than_the_timer_reads() {
        let said = |lo, hi, d| ends(lo, hi, d);
        assert_eq!(said(0.0, 0.0, 3), ("-0.001".to_owned(), "+0.001".to_owned()));
        assert_eq!(said(-0.0102, -0.0098, 3), ("-0.011".to_owned(), "-0.009".to_owned()));
        assert_eq!(said(-0.002, 0.001, 3), ("-0.002".to_owned(), "+0.001".to_owned()));
        assert_eq!(said(0.0, 0.0, 2), ("-0.01".to_owned(), "+0.01".to_owned()));
    }
}
