//! What the settings do: figures with their inputs, side by side, or one with where it comes from.

use super::layout::{Head, Page, counted};
use crate::figures::{Cannot, Def, Figure, Input, Missing, SIDES, SUBJECTS, State, Why};
use crate::slip::Moment;
use serde_json::{Value as Json, json};

/// What the figures are of.
pub struct Of {
    /// The version, or "as if".
    pub name: String,
    /// When it began.
    pub at: Moment,
    /// What it was taken for with.
    pub with: Option<String>,
}

/// Figures by subject.
pub type BySubject = [(&'static str, Vec<Figure>)];

/// The last lines of every page of figures.
pub(super) const STATICS: &str = "Statics: dampers, tire wrap and growth, lift, and the converter are not in it. Check with scales, tape and video; a back-to-back decides.";

pub(super) fn value(def: &Def, x: f64) -> String {
    signed_plain(x, def.decimals)
}

/// Without a sign where it rounds to nothing.
fn signed_plain(x: f64, decimals: usize) -> String {
    let text = format!("{x:.decimals$}");
    if text.trim_start_matches(['-', '0', '.']).is_empty() { text.trim_start_matches('-').to_owned() } else { text }
}

fn with_unit(number: String, unit: &str) -> String {
    match unit {
        "" => number,
        "%" => format!("{number} %"),
        unit => format!("{number} {unit}"),
    }
}

/// Figures of one definition, in order: one, or one a side.
fn groups(figures: &[Figure]) -> Vec<&[Figure]> {
    figures.chunk_by(|a, b| a.def.name == b.def.name).collect()
}

/// The value of one figure or of both sides, in words; `None` where none can be said.
fn said(def: &Def, group: &[Figure]) -> Option<String> {
    match group {
        [one] => Some(with_unit(value(def, *one.value.as_ref().ok()?), def.unit)),
        [left, right] => {
            let sides = [left, right].map(|f| f.value.as_ref().ok().map(|x| value(def, *x)));
            match sides {
                [Some(l), Some(r)] if l == r => Some(with_unit(l, def.unit)),
                [Some(l), Some(r)] => Some(with_unit(format!("{l} left, {r} right"), def.unit)),
                [Some(l), None] => Some(with_unit(format!("{l} left"), def.unit)),
                [None, Some(r)] => Some(with_unit(format!("{r} right"), def.unit)),
                [None, None] => None,
            }
        }
        _ => None,
    }
}

/// A label, with where the car is where that is not the same for the whole subject.
pub(super) fn label(def: &Def) -> String {
    let subject = SUBJECTS.iter().find(|s| s.figures.iter().any(|d| std::ptr::eq(d, def)));
    let one_state = subject.is_some_and(|s| s.figures.iter().all(|d| d.state == def.state));
    match def.state {
        State::AtRest => def.label.to_owned(),
        _ if one_state => def.label.to_owned(),
        state => format!("{}, {}", def.label, state.words()),
    }
}

/// An input in few words: "wheelbase 108.03 in".
pub fn input_words(i: &Input) -> String {
    let number = |x: f64| {
        let digits = if x.abs() >= 1000.0 {
            0
        } else if x.abs() >= 100.0 {
            1
        } else {
            3
        };
        let text = format!("{x:.digits$}");
        if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_owned() } else { text }
    };
    let what = match (&i.value, &i.words) {
        (Some(x), _) => with_unit(number(*x), &i.unit),
        (None, Some(words)) => words.clone(),
        (None, None) => String::new(),
    };
    let as_if = if i.what_if { " as if" } else { "" };
    format!("{} {what}{as_if}", i.label)
}

/// What is missing, with what takes it: "corner weight (was 834 ..., not re-measured since Jul 3; scales, 15 min)".
pub fn missing_words(head: &Head, m: &Missing) -> String {
    let how = match (&m.tool, m.minutes) {
        (Some(tool), Some(minutes)) if minutes > 0 => Some(format!("{tool}, {minutes} min")),
        (Some(tool), _) => Some(tool.clone()),
        _ => None,
    };
    let why = match &m.why {
        Why::NotOnRecord | Why::NoRun => None,
        Why::Stale { was, since } => Some(format!("was {was}, not re-measured since {}", head.day(since.race_day()))),
        Why::Doubtful => Some("in doubt".to_owned()),
    };
    let inside: Vec<String> = why.into_iter().chain(how).collect();
    if inside.is_empty() { m.label.clone() } else { format!("{} ({})", m.label, inside.join("; ")) }
}

/// Why there is none, in words.
fn cannot(head: &Head, why: &Cannot) -> String {
    match why {
        Cannot::NotHere => "not on this car".to_owned(),
        Cannot::Because(because) => because.clone(),
        Cannot::Missing(all) => {
            let mut words: Vec<String> = Vec::new();
            for m in all {
                // Corners are weighed at once.
                let sides = all.iter().filter(|o| o.whole == m.whole && o.why == m.why).count();
                let told = if sides > 1 { Missing { label: m.whole.clone(), ..m.clone() } } else { m.clone() };
                let said = missing_words(head, &told);
                if !words.contains(&said) {
                    words.push(said);
                }
            }
            words.join("; ")
        }
    }
}

/// Notes at the foot, each once, numbered.
#[derive(Default)]
pub(super) struct Notes(pub(super) Vec<String>);

impl Notes {
    pub(super) fn marks(&mut self, assumed: &[String]) -> String {
        let mut marks: Vec<usize> = Vec::new();
        for words in assumed {
            let at = self.0.iter().position(|n| n == words).unwrap_or_else(|| {
                self.0.push(words.clone());
                self.0.len() - 1
            });
            marks.push(at + 1);
        }
        marks.sort_unstable();
        let marks: Vec<String> = marks.iter().map(ToString::to_string).collect();
        if marks.is_empty() { String::new() } else { format!("({})", marks.join(",")) }
    }
}

fn first_line(of: &Of, all: &BySubject, head: &Head) -> String {
    let shown: Vec<&[Figure]> = all.iter().flat_map(|(_, f)| groups(f)).filter(|g| g[0].def.shown).collect();
    let can = shown.iter().filter(|g| g.iter().any(|f| f.value.is_ok())).count();
    let not = shown.len() - can;
    let with = of.with.as_ref().map(|w| format!(", as if {w}")).unwrap_or_default();
    let not = if not > 0 { format!(", {not} cannot be said yet") } else { String::new() };
    format!("{}, {}{with}: {}{not}", of.name, head.when(of.at), counted(can, "figure"))
}

/// The page.
pub fn text(head: &Head, of: &Of, all: &BySubject, short: bool) -> String {
    let mut page = head.page(&first_line(of, all, head));
    let mut notes = Notes::default();
    for (title, figures) in all {
        let shown: Vec<(&'static Def, &[Figure])> =
            groups(figures).into_iter().filter_map(|g| Some((g.first()?.def, g))).filter(|(d, _)| d.shown).collect();
        if shown.is_empty() {
            continue;
        }
        page.gap();
        page.line(title);
        for (def, group) in &shown {
            let Some(said) = said(def, group) else { continue };
            let assumed: Vec<String> = group.iter().flat_map(|f| f.assumed.iter().cloned()).collect();
            let marks = notes.marks(&assumed.iter().fold(Vec::new(), |mut out: Vec<String>, a| {
                if !out.contains(a) {
                    out.push(a.clone());
                }
                out
            }));
            let said = if marks.is_empty() { said } else { format!("{said} {marks}") };
            row(&mut page, &label(def), &said);
            if !short {
                let inputs: Vec<String> =
                    distinct(group.iter().filter(|f| f.value.is_ok()).flat_map(|f| f.inputs.iter().map(input_words)));
                if !inputs.is_empty() {
                    page.wrap("      from ", &inputs.join("; "));
                }
            }
        }
        // What cannot be said for the same reason is told together.
        let mut why_not: Vec<(String, Vec<String>)> = Vec::new();
        for (def, group) in &shown {
            let silent = group.iter().find_map(|f| f.value.as_ref().err());
            let Some(why) = silent else { continue };
            let words = cannot(head, why);
            let name = label(def);
            match why_not.iter_mut().find(|(w, _)| *w == words) {
                Some((_, names)) => names.push(name),
                None => why_not.push((words, vec![name])),
            }
        }
        for (why, names) in why_not {
            page.wrap("  cannot say ", &names.join("; "));
            page.wrap("      wants ", &why);
        }
    }
    page.gap();
    for (i, note) in notes.0.iter().enumerate() {
        page.wrap(&format!("({}) assumed: ", i + 1), note);
    }
    page.wrap("", STATICS);
    page.wrap("", "Where one comes from: slipbook numbers --why anti_squat");
    page.text()
}

pub(super) fn distinct(all: impl Iterator<Item = String>) -> Vec<String> {
    let mut out: Vec<String> = Vec::new();
    for one in all {
        if !out.contains(&one) {
            out.push(one);
        }
    }
    out
}

/// A label with its value in the column of values; a long label wraps, a long value ends at the edge.
fn row(page: &mut Page, label: &str, said: &str) {
    let column = (page.width() * 3 / 5).min(page.width().saturating_sub(said.chars().count()));
    let lines = textwrap::wrap(label, column.saturating_sub(4).max(16));
    for (i, line) in lines.iter().enumerate() {
        let indent = if i == 0 { "  " } else { "    " };
        match i + 1 == lines.len() {
            true => {
                let used = indent.len() + line.chars().count();
                page.line(format!("{indent}{line}{}{said}", " ".repeat(column.saturating_sub(used).max(1))));
            }
            false => page.line(format!("{indent}{line}")),
        }
    }
}

/// One figure (or those that were meant): formula, inputs with their dates, source.
pub fn why(head: &Head, of: &Of, all: &BySubject) -> String {
    let with = of.with.as_ref().map(|w| format!(", as if {w}")).unwrap_or_default();
    let mut page = head.page(&format!("{}, {}{with}", of.name, head.when(of.at)));
    for group in all.iter().flat_map(|(_, f)| groups(f)) {
        let Some(def) = group.first().map(|f| f.def) else { continue };
        page.gap();
        let value = said(def, group).unwrap_or_else(|| "cannot say".to_owned());
        page.wrap("", &format!("{}: {value}", label(def)));
        page.wrap("  name     ", def.name);
        page.wrap("  formula  ", def.formula);
        page.wrap("  source   ", def.source);
        for figure in group {
            let side = figure.side.map(|i| format!("{} ", SIDES[i])).unwrap_or_default();
            if let Err(why) = &figure.value {
                page.wrap("  wants    ", &format!("{side}{}", cannot(head, why)));
            }
        }
        for i in inputs_of(group) {
            let since = i.since.map(|at| format!(", on record {}", head.when(at))).unwrap_or_default();
            page.wrap("  from     ", &format!("{}{since}  [{}]", input_words(&i), i.name));
        }
        for a in distinct(group.iter().flat_map(|f| f.assumed.iter().cloned())) {
            page.wrap("  assumed  ", &a);
        }
    }
    page.gap();
    page.wrap("", STATICS);
    page.text()
}

fn inputs_of(group: &[Figure]) -> Vec<Input> {
    let mut out: Vec<Input> = Vec::new();
    for i in group.iter().flat_map(|f| &f.inputs) {
        if !out.contains(i) {
            out.push(i.clone());
        }
    }
    out
}

/// One figure as JSON.
pub fn figure_json(figure: &Figure) -> Json {
    let def = figure.def;
    let missing = match &figure.value {
        Err(Cannot::Missing(all)) => all.iter().map(missing_json).collect(),
        _ => Vec::new(),
    };
    json!({
        "name": figure.full_name(),
        "label": def.label,
        "state": def.state,
        "value": figure.value.as_ref().ok(),
        "unit": def.unit,
        "inputs": figure.inputs.iter().map(input_json).collect::<Vec<_>>(),
        "formula": def.formula,
        "source": def.source,
        "assumed": figure.assumed,
        "missing": missing,
        "cannot": match &figure.value { Err(Cannot::Because(why)) => Some(why), _ => None },
    })
}

/// An input as JSON.
pub fn input_json(i: &Input) -> Json {
    let value = i.value.map_or_else(|| json!(i.words), |x| json!(x));
    json!({"name": i.name, "label": i.label, "value": value, "unit": i.unit, "since": i.since.map(Moment::iso), "as_if": i.what_if})
}

/// A missing measurement as JSON.
pub fn missing_json(m: &Missing) -> Json {
    let (why, was) = match &m.why {
        Why::NotOnRecord => ("not_on_record", None),
        Why::Stale { was, .. } => ("stale", Some(was)),
        Why::Doubtful => ("doubtful", None),
        Why::NoRun => ("no_run", None),
    };
    json!({"name": m.name, "label": m.label, "why": why, "was": was, "tool": m.tool, "minutes": m.minutes})
}

/// The page as JSON.
pub fn json(head: &Head, of: &Of, all: &BySubject) -> Json {
    let shown = |f: &&Figure| f.def.shown;
    json!({
        "car": head.car,
        "version": of.name,
        "with": of.with,
        "figures": all.iter().flat_map(|(_, f)| f).filter(shown).map(figure_json).collect::<Vec<_>>(),
    })
}
