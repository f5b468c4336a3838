//! The list of what to turn, to be printed: by where a hand stands, with boxes to tick.

mod json;

pub use json::{json, list_json};

use super::change::short;
use super::layout::{Head, Page, counted};
use crate::diff::words::{show_doubting, visible};
use crate::schema::Schema;
use crate::wrench::{List, Remeasure, Step, Stretch, Work};

/// A list that is longer goes on one page with sides alike on one line.
const LINES_OF_A_PAGE: usize = 60;

/// What is told.
pub struct WrenchTold<'a> {
    /// What the list starts from: "v19 on the car".
    pub from: String,
    /// The version it goes to.
    pub to: String,
    /// What to turn.
    pub list: &'a List,
    /// Set fields that differ but stay: keys.
    pub left_alone: &'a [String],
    /// Set fields that were not on record then, and stay.
    pub not_on_record: &'a [String],
    /// Parts that are gone, and what stays.
    pub gone: &'a [String],
    /// What records it when it is done; absent for a plan between two other sheets.
    pub command: Option<String>,
}

/// As text.
pub fn text(head: &Head, schema: &Schema, told: &WrenchTold) -> String {
    let whole = lines(head, schema, told, false);
    if whole.lines().count() <= LINES_OF_A_PAGE { whole } else { lines(head, schema, told, true) }
}

fn lines(head: &Head, schema: &Schema, told: &WrenchTold, sides_together: bool) -> String {
    let mut page = head.page(&format!("{} -> {}        {}", told.from, told.to, sum(told.list)));
    body(&mut page, schema, told.list, &told.to, sides_together);
    if !told.left_alone.is_empty() || !told.gone.is_empty() || !told.not_on_record.is_empty() {
        page.gap();
        left_alone(&mut page, schema, told.left_alone);
        left_unknown(&mut page, schema, told.not_on_record, &told.to);
        gone(&mut page, told.gone, "wrench");
    }
    page.gap();
    match &told.command {
        Some(command) => {
            let (done, differs) = (format!("When done:  {command}"), "something differs:  slipbook change ...");
            if done.chars().count() + 6 + differs.len() <= page.width() {
                page.line(format!("{done}      {differs}"));
            } else {
                page.wrap("", &done);
                page.wrap("", &differs.replacen('s', "S", 1));
            }
        }
        None => page.wrap("", "A plan from one sheet to another: it records nothing."),
    }
    page.text()
}

/// "3 jobs, about 11 minutes, once under it".
pub fn sum(list: &List) -> String {
    let minutes = match list.minutes {
        0 => String::new(),
        1 => ", about 1 minute".to_owned(),
        m => format!(", about {m} minutes"),
    };
    let shop = if list.has_shop_work() { ", and work for the shop" } else { "" };
    let under = match list.times_under {
        0 => "not under it".to_owned(),
        1 => "once under it".to_owned(),
        2 => "twice under it".to_owned(),
        n => format!("{n} times under it"),
    };
    format!("{}{minutes}{shop}, {under}", counted(list.jobs, "job"))
}

/// What stays as it is though it differs.
pub fn left_alone(page: &mut Page, schema: &Schema, keys: &[String]) {
    if keys.is_empty() {
        return;
    }
    let fields: Vec<_> = keys.iter().filter_map(|k| schema.field(k)).collect();
    let labels: Vec<&str> = fields.iter().map(|f| short(&f.label)).collect();
    let by_rule = fields.iter().any(|f| f.group == "launch" || f.group == "engine");
    let hint = if by_rule { " (--engine takes launch and engine back too)" } else { "" };
    page.wrap("Left alone     ", &format!("{}{hint}", labels.join(", ")));
}

/// "limiter gap not on record at v3: left as it is"; nothing where there is nothing.
pub fn not_on_record(schema: &Schema, keys: &[String], at: &str) -> Option<String> {
    let labels: Vec<&str> = keys.iter().filter_map(|k| schema.field(k)).map(|f| short(&f.label)).collect();
    let stays = if labels.len() == 1 { "left as it is" } else { "left as they are" };
    (!labels.is_empty()).then(|| format!("{} not on record at {at}: {stays}", labels.join(", ")))
}

/// What stays as it is because nobody knows what it was.
pub fn left_unknown(page: &mut Page, schema: &Schema, keys: &[String], at: &str) {
    if let Some(words) = not_on_record(schema, keys, at) {
        page.wrap("Not known      ", &words);
    }
}

/// Parts that are gone.
pub fn gone(page: &mut Page, gone: &[String], command: &str) {
    gone.iter().for_each(|g| page.wrap("Gone           ", g));
    if !gone.is_empty() {
        let what = if command == "revert" { "--even-gone fits it again" } else { "revert --even-gone fits it again" };
        page.wrap("               ", what);
    }
}

/// The places with their steps, what to measure after, and what to look at before the run.
pub fn body(page: &mut Page, schema: &Schema, list: &List, to: &str, sides_together: bool) {
    if !list.parts.is_empty() {
        page.gap();
        page.wrap("Have ready:  ", &list.parts.join(", "));
    }
    let blocks = blocks(list, sides_together);
    let all: Vec<&Row> = blocks.iter().flat_map(|b| &b.rows).collect();
    let columns = Columns::of(page.width(), &all);
    let mut stands = "";
    for block in &blocks {
        page.gap();
        // The car stands as it stood.
        page.wrap(&format!("{}    ", block.heading), if block.car == stands { "" } else { block.car });
        stands = block.car;
        for caution in &block.cautions {
            page.wrap("  ! ", caution);
        }
        block.rows.iter().for_each(|row| put(page, row, &columns));
    }
    off_record(page, list, to);
    measure(page, schema, list, to);
    if !list.before_the_run.is_empty() {
        page.gap();
        page.line("Before the next run");
        list.before_the_run.iter().for_each(|c| page.wrap("  [ ] ", &c.text));
    }
}

/// One place of the printed list.
struct Block<'a> {
    heading: &'a str,
    car: &'a str,
    cautions: Vec<&'a str>,
    rows: Vec<Row>,
}

/// One line to tick: as many boxes as there are sides in it.
struct Row {
    boxes: usize,
    label: String,
    words: String,
    change: String,
    time: String,
    /// What does not fit into columns, below it.
    below: Vec<String>,
}

fn blocks(list: &List, sides_together: bool) -> Vec<Block<'_>> {
    let mut out: Vec<Block> = Vec::new();
    let mut rest = list.stretches.as_slice();
    while let Some(first) = rest.first() {
        // The two sides of a place, one after the other, are one block where sides go together.
        let with =
            rest[1..].iter().take_while(|s| sides_together && s.place.is_some() && s.place == first.place).count();
        let (together, after) = rest.split_at(1 + with);
        rest = after;
        let steps: Vec<&Step> = together.iter().flat_map(|s| &s.steps).filter_map(|i| list.steps.get(*i)).collect();
        out.push(Block {
            heading: if with > 0 { &first.both_sides } else { &first.heading },
            car: &first.car,
            cautions: together.iter().flat_map(|s: &Stretch| &s.cautions).map(|c| c.text.as_str()).collect(),
            rows: rows(&steps, sides_together),
        });
    }
    out
}

fn rows(steps: &[&Step], sides_together: bool) -> Vec<Row> {
    let alike = |a: &Step, b: &Step| a.field == b.field && a.words == b.words && a.change == b.change;
    let mut out: Vec<Row> = Vec::new();
    let mut of: Vec<&Step> = Vec::new();
    for step in steps {
        if let Work::Along(_) = step.work {
            // What comes along is told below what it comes with.
            if let Some(last) = out.last_mut() {
                let said = match step.to {
                    Some(_) => format!("with it: {} {}", step.label, step.change),
                    None => format!("{} {}", step.label, step.words),
                };
                last.below.push(said.trim_end().to_owned());
            }
            continue;
        }
        let all_alike = || steps.iter().filter(|s| s.is_turned() && alike(s, step)).count() == step.of;
        if let Some(at) = of.iter().position(|s| sides_together && alike(s, step)).filter(|_| all_alike()) {
            out[at].boxes += 1;
            out[at].label.clone_from(&step.label_all);
            let both = of[at].minutes.unwrap_or(0) * u32::try_from(out[at].boxes).unwrap_or(1);
            out[at].time = time(step, Some(both).filter(|m| *m > 0));
            continue;
        }
        of.push(step);
        out.push(row(step));
    }
    out
}

fn time(step: &Step, minutes: Option<u32>) -> String {
    if step.shop { "shop".to_owned() } else { minutes.map(|m| format!("{m} min")).unwrap_or_default() }
}

fn row(step: &Step) -> Row {
    /// Words that are longer stand below the line.
    const LONGEST: usize = 30;
    let long = step.words.chars().count() > LONGEST;
    let mut below: Vec<String> = Vec::new();
    let words = match (&step.unreachable, long) {
        (Some(_), _) => "not reachable".to_owned(),
        (None, true) => String::new(),
        (None, false) => visible(&step.words),
    };
    if long || step.unreachable.is_some() {
        below.push(step.words.clone());
    }
    let mut change = step.change.clone();
    if change.chars().count() > LONGEST {
        below.push(std::mem::take(&mut change));
    }
    below.extend(step.needs.as_ref().map(|key| format!("how far to turn is not told: {key} is not on record")));
    if !step.brings.is_empty() {
        below.push(format!("with it: {}", step.brings.join(", ")));
    }
    Row {
        boxes: 1,
        label: visible(&step.label),
        words,
        change: visible(&change),
        time: time(step, step.minutes),
        below,
    }
}

/// Columns for the boxes, and for label, words and change: what they need, or what the screen leaves, taken from the
/// widest.
struct Columns {
    /// The screen is too narrow for columns.
    narrow: bool,
    boxes: usize,
    widths: [usize; 3],
}

impl Columns {
    fn of(screen: usize, rows: &[&Row]) -> Columns {
        /// Indent, gaps between, and the minutes.
        const AROUND: usize = 2 + 6 + 7;
        let boxes = rows.iter().map(|r| r.boxes).max().unwrap_or(1) * 4;
        let longest = |of: fn(&Row) -> &String| rows.iter().map(|r| of(r).chars().count()).max().unwrap_or(0);
        let mut widths = [longest(|r| &r.label), longest(|r| &r.words), longest(|r| &r.change)];
        /// Columns with less between them tear every word.
        const LEAST: usize = 24;
        let room = screen.saturating_sub(AROUND + boxes);
        let narrow = room < LEAST;
        let room = room.max(LEAST);
        while widths.iter().sum::<usize>() > room {
            if let Some(widest) = widths.iter_mut().max() {
                *widest -= 1;
            }
        }
        Columns { narrow, boxes, widths }
    }
}

fn put(page: &mut Page, row: &Row, columns: &Columns) {
    let wrapped = |text: &str, width: usize| -> Vec<String> {
        let options = textwrap::Options::new(width.max(4)).word_separator(textwrap::WordSeparator::AsciiSpace);
        let lines = textwrap::wrap(text, options.word_splitter(textwrap::WordSplitter::NoHyphenation));
        lines.into_iter().map(|l| l.trim_end().to_owned()).collect()
    };
    let below = |page: &mut Page| row.below.iter().for_each(|b| page.wrap(&" ".repeat(columns.boxes + 4), b));
    if columns.narrow {
        let told = [&row.words, &row.change, &row.time].map(|t| t.trim()).into_iter().filter(|t| !t.is_empty());
        let boxes = format!("  {:<width$}", "[ ] ".repeat(row.boxes), width = columns.boxes);
        page.wrap(&boxes, &format!("{}: {}", row.label, told.collect::<Vec<_>>().join(", ")));
        return below(page);
    }
    let texts = [&row.label, &row.words, &row.change];
    let cells: Vec<Vec<String>> = texts.into_iter().zip(columns.widths).map(|(t, w)| wrapped(t, w)).collect();
    let height = cells.iter().map(Vec::len).max().unwrap_or(1).max(1);
    for i in 0..height {
        let boxes = if i == 0 { "[ ] ".repeat(row.boxes) } else { String::new() };
        let mut line = format!("  {boxes:<width$}", width = columns.boxes);
        for (cell, width) in cells.iter().zip(columns.widths) {
            let text = cell.get(i).map_or("", String::as_str);
            line.push_str(&format!("{text:<width$}  "));
        }
        if i == 0 {
            line.push_str(&format!("{:>7}", row.time));
        }
        page.line(line);
    }
    below(page);
}

fn off_record(page: &mut Page, list: &List, to: &str) {
    let gone: Vec<String> = list
        .steps
        .iter()
        .filter(|s| s.work == Work::OffRecord)
        .map(|s| format!("{} ({})", s.label, s.change))
        .collect();
    if !gone.is_empty() {
        page.gap();
        page.wrap(&format!("Not on record at {to}, nothing to turn:  "), &gone.join(", "));
    }
}

fn measure(page: &mut Page, schema: &Schema, list: &List, to: &str) {
    let (checks, measured): (Vec<&Remeasure>, Vec<&Remeasure>) = list.remeasure.iter().partition(|r| r.check);
    let shown = |r: &Remeasure| {
        let field = schema.field(&r.field)?;
        r.expect.as_ref().map(|e| show_doubting(schema, field, &e.value, &e.doubt))
    };
    let width = list.remeasure.iter().map(|r| r.label.chars().count()).max().unwrap_or(0).min(32);
    let tick = |page: &mut Page, title: &str, of: &[&Remeasure], expect: &dyn Fn(&Remeasure) -> String| {
        if of.is_empty() {
            return;
        }
        page.gap();
        page.line(title);
        for r in of {
            page.wrap(&format!("  [ ] {:<width$}  ", r.label), &expect(r));
        }
    };
    tick(page, "Then measure, because the above moved it", &measured, &|r| match shown(r) {
        Some(value) => format!("expect about {} ({to})", value.trim_start_matches("about ")),
        None => format!("no number to expect from {to}"),
    });
    if !list.not_moved.is_empty() {
        if measured.is_empty() {
            page.gap();
        }
        let label = if measured.is_empty() { "Not moved by these jobs: " } else { "  not moved by these jobs: " };
        page.wrap(label, &list.not_moved.join(", "));
    }
    tick(page, "Then check, because the above moved it", &checks, &|r| shown(r).unwrap_or_default());
}
