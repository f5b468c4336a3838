//! A mend before it is done: the line as recorded beside the line as it was, the runs that move, the verdicts that turn.

use super::layout::{Head, Page, counted};
use crate::blame::Ranked;
use crate::garage::{History, Moved, Plan};
use crate::timeline::{Entry, VersionNumber};
use serde_json::{Value as Json, json};

/// What blame says of one change, before and after.
#[derive(Debug, Clone)]
pub struct Verdicts {
    /// The version.
    pub version: VersionNumber,
    /// As recorded; `None` = it could not be judged.
    pub before: Option<Ranked>,
    /// As it was.
    pub after: Option<Ranked>,
}

/// Versions shown side by side.
const SHOWN: usize = 12;

struct Row {
    version: VersionNumber,
    before: Option<(String, usize)>,
    after: Option<(String, usize)>,
    sheet: String,
    why: String,
}

/// As text.
pub fn text(head: &Head, plan: &Plan, verdicts: &[Verdicts], saved: bool) -> String {
    let mut first: Vec<String> =
        plan.news.iter().map(|e| format!("{}, {}", e.words.join(", "), head.when(e.at))).collect();
    first.extend(plan.said.iter().cloned());
    let mut page = head.page(first.first().map_or("the record is put right", String::as_str));
    for line in first.iter().skip(1) {
        page.wrap("  ", line);
    }
    let rows = rows(head, plan);
    if !rows.is_empty() {
        page.gap();
        side_by_side(&mut page, &rows);
    }
    page.gap();
    tell(&mut page, head, plan, verdicts, saved);
    page.wrap(
        "",
        if saved { "saved; nothing that was written is lost: history --as-recorded" } else { "nothing written" },
    );
    page.text()
}

/// After it was shown and saved.
pub fn done(head: &Head, plan: &Plan) -> String {
    let runs = match plan.relinked {
        0 => String::new(),
        n => format!(
            " {} a new sheet, old links kept.",
            if n == 1 { "1 run carries".to_owned() } else { format!("{n} runs carry") }
        ),
    };
    head.page(&format!("saved.{runs}")).text()
}

fn rows(head: &Head, plan: &Plan) -> Vec<Row> {
    let side = |h: &History, n: &VersionNumber| {
        let i = h.timeline.by_number(n)?;
        Some((head.when(h.timeline.versions[i].entry.at), h.runs_on(i).count()))
    };
    let mut numbers: Vec<VersionNumber> = plan.after.timeline.versions.iter().map(|v| v.number.clone()).collect();
    for (i, v) in plan.before.timeline.versions.iter().enumerate() {
        if !numbers.contains(&v.number) {
            let before = i.checked_sub(1).map(|p| &plan.before.timeline.versions[p].number);
            let at = before.and_then(|b| numbers.iter().position(|n| n == b)).map_or(0, |p| p + 1);
            numbers.insert(at, v.number.clone());
        }
    }
    let row = |n: VersionNumber| {
        let carried = plan.carried.iter().find(|c| c.version == n);
        let (was, is) = (entry_of(&plan.before, &n), entry_of(&plan.after, &n));
        let sheet = match (carried, was, is) {
            (Some(c), ..) => c.now.join(", "),
            (None, None, Some(e)) => e.words.join(", "),
            (None, Some(a), Some(b)) if a.words != b.words => b.words.join(", "),
            (None, Some(_), None) => "never happened".to_owned(),
            _ => String::new(),
        };
        let why = is.filter(|i| was.is_some_and(|w| w.why != i.why)).and_then(|e| e.why.clone()).unwrap_or_default();
        Row { before: side(&plan.before, &n), after: side(&plan.after, &n), sheet, why, version: n }
    };
    let all = numbers.into_iter().map(row);
    all.filter(|r| r.before != r.after || !r.sheet.is_empty() || !r.why.is_empty()).collect()
}

fn entry_of<'a>(h: &'a History, n: &VersionNumber) -> Option<&'a Entry> {
    h.timeline.by_number(n).map(|i| &h.timeline.versions[i].entry)
}

fn side_by_side(page: &mut Page, rows: &[Row]) {
    let cells = |side: &Option<(String, usize)>, n: &VersionNumber| match side {
        Some((when, runs)) => [n.to_string(), when.clone(), counted(*runs, "run")],
        None => [String::new(), String::new(), String::new()],
    };
    let line = |row: &Row| [cells(&row.before, &row.version), cells(&row.after, &row.version)].concat();
    let table: Vec<Vec<String>> = rows.iter().take(SHOWN).map(line).collect();
    let widths: Vec<usize> = (0..6).map(|c| table.iter().map(|r| r[c].chars().count()).max().unwrap_or(0)).collect();
    let left = widths[..3].iter().sum::<usize>() + 4;
    let whole = widths.iter().sum::<usize>() + 11;
    if whole > page.width() {
        return below_each_other(page, &table, rows);
    }
    page.line(format!("{:<left$}   {}", "as recorded", "as it was"));
    for (line, row) in table.iter().zip(rows) {
        let cell = |c: usize| format!("{:<w$}", line[c], w = widths[c]);
        let text = format!("{}  {}  {}   {}  {}  {}", cell(0), cell(1), cell(2), cell(3), cell(4), cell(5));
        let words = words_of(row);
        // The words of a row come below it where they do not fit: a narrow column would tear them.
        if words.is_empty() {
            page.line(text);
        } else if text.chars().count() + 3 + words.chars().count() <= page.width() {
            page.line(format!("{text}   {words}"));
        } else {
            page.line(text);
            page.wrap("      ", &words);
        }
    }
    more(page, rows.len());
}

/// What is on the sheet of a row, and why.
fn words_of(row: &Row) -> String {
    let why = if row.why.is_empty() { String::new() } else { format!("why: {}", row.why) };
    let words: Vec<&str> = [row.sheet.as_str(), &why].into_iter().filter(|w| !w.is_empty()).collect();
    words.join("; ")
}

/// The same where the two do not fit beside each other.
fn below_each_other(page: &mut Page, table: &[Vec<String>], rows: &[Row]) {
    for (line, row) in table.iter().zip(rows) {
        for (label, cells) in [("as recorded  ", &line[..3]), ("as it was    ", &line[3..])] {
            if !cells[0].is_empty() {
                page.wrap(label, &cells.join("  "));
            }
        }
        let words = words_of(row);
        if !words.is_empty() {
            page.wrap("      ", &words);
        }
    }
    more(page, rows.len());
}

fn more(page: &mut Page, rows: usize) {
    if rows > SHOWN {
        page.line(format!("and {} more", counted(rows - SHOWN, "later version")));
    }
}

fn tell(page: &mut Page, head: &Head, plan: &Plan, verdicts: &[Verdicts], saved: bool) {
    moved(page, head, &plan.moved);
    if plan.relinked > 0 {
        let carry = if plan.relinked == 1 { "carries" } else { "carry" };
        page.wrap("", &format!("{} {carry} a new sheet; old links are kept", counted(plan.relinked, "run")));
    }
    let last = plan.after.timeline.now().map(|v| &v.number);
    if let Some(c) = plan.carried.last() {
        let to = if last == Some(&c.version) { "to now".to_owned() } else { format!("to {}", c.version) };
        page.wrap("", &format!("carried on through {}, {to}", counted(plan.carried.len(), "later version")));
    }
    for c in &plan.carried {
        if let Some(version) = &c.reverted {
            let then = if plan.news.is_empty() { "" } else { ". If it was turned back later, say when: --until TIME" };
            let text = format!(
                "{} went back to {version}, but what is put right was not among what it turned back: {} stays{then}",
                c.version,
                c.now.join(", ")
            );
            page.wrap("", &text);
        }
    }
    let window: Vec<String> = plan
        .after
        .runs
        .iter()
        .filter(|m| m.unsure && !plan.before.runs.iter().any(|b| b.unsure && b.run.id == m.run.id))
        .map(|m| head.when(m.run.at))
        .collect();
    if !window.is_empty() {
        let count = counted(window.len(), "run");
        page.wrap("", &format!("{count} inside the window count for neither side ({})", window.join(", ")));
    }
    if !verdicts.is_empty() {
        let names: Vec<String> = verdicts.iter().map(|v| v.version.to_string()).collect();
        let turned: Vec<String> = verdicts.iter().filter_map(turned).collect();
        let changes = if saved { "changed" } else { "would change" };
        page.wrap("", &format!("blame {changes} for {}: {}", counted(names.len(), "change"), names.join(", ")));
        turned.iter().for_each(|t| page.wrap("  ", t));
    }
}

/// Runs that stand on another version now, those of one way in one line.
pub(super) fn moved(page: &mut Page, head: &Head, all: &[Moved]) {
    let mut told: Vec<(&str, &str, Vec<String>)> = Vec::new();
    for m in all {
        let when = head.when(m.at);
        match told.iter_mut().find(|(a, b, _)| (*a, *b) == (m.from.as_str(), m.to.as_str())) {
            Some((_, _, runs)) => runs.push(when),
            None => told.push((&m.from, &m.to, vec![when])),
        }
    }
    for (from, to, runs) in told {
        let verb = if runs.len() == 1 { "moves" } else { "move" };
        let which = if runs.len() <= 4 { format!(" ({})", runs.join(", ")) } else { String::new() };
        page.wrap("", &format!("{} {verb} from {from} to {to}{which}", counted(runs.len(), "run")));
    }
}

fn turned(v: &Verdicts) -> Option<String> {
    let word =
        |r: &Option<Ranked>| r.as_ref().map_or_else(|| "no runs on a side".to_owned(), |r| r.judged.verdict.words());
    let (a, b) = (word(&v.before), word(&v.after));
    (a != b && v.before.is_some()).then(|| format!("{}: was \"{a}\", now \"{b}\"", v.version))
}

/// As JSON.
pub fn json(head: &Head, plan: &Plan, verdicts: &[Verdicts], saved: bool) -> Json {
    let news = |e: &Entry| json!({"version": e.number, "kind": e.kind, "at": e.at, "since": e.since, "words": e.words, "why": e.why});
    let verdict = |v: &Verdicts| {
        let of = |r: &Option<Ranked>| {
            r.as_ref().map(|r| json!({"effect_s": r.judged.effect.value, "evidence": r.judged.verdict.key(), "n_without": r.judged.sides.without.len(), "n_with": r.judged.sides.with.len()}))
        };
        json!({"version": v.version, "before": of(&v.before), "after": of(&v.after)})
    };
    json!({
        "car": head.car, "saved": saved, "mended": plan.said, "news": plan.news.iter().map(news).collect::<Vec<_>>(),
        "moved": plan.moved, "relinked_runs": plan.relinked, "carried": plan.carried,
        "verdicts": verdicts.iter().map(verdict).collect::<Vec<_>>(),
    })
}
