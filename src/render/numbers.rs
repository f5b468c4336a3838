//! What the settings do: figures with their inputs, side by side, or one with where it comes from.

use super::layout::{Head, Page, counted, signed};
use crate::chassis::{CgHeight, RaisedAxle};
use crate::figures::{Cannot, Def, Figure, Input, Missing, SIDES, SUBJECTS, State, Why};
use crate::schema::Schema;
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

/// Two sets of figures.
pub struct Beside<'a> {
    /// The first.
    pub a: Of,
    /// The second.
    pub b: Of,
    /// Figures of the first.
    pub first: &'a BySubject,
    /// Figures of the second.
    pub second: &'a BySubject,
}

/// The last lines of every page of figures.
const STATICS: &str = "Statics: dampers, tire wrap and growth, lift, and the converter are not in it. Check with scales, tape and video; a back-to-back decides.";

fn value(def: &Def, x: f64) -> String {
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
fn label(def: &Def) -> String {
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
struct Notes(Vec<String>);

impl Notes {
    fn marks(&mut self, assumed: &[String]) -> String {
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
pub fn text(head: &Head, _schema: &Schema, of: &Of, all: &BySubject, short: bool) -> String {
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

fn distinct(all: impl Iterator<Item = String>) -> Vec<String> {
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
pub fn why(head: &Head, _schema: &Schema, of: &Of, all: &BySubject) -> String {
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

/// Two sets side by side: what differs.
pub fn beside(head: &Head, told: &Beside) -> String {
    let with = told.b.with.as_ref().map(|w| format!(": {w}")).unwrap_or_default();
    let mut page = head.page(&format!("{} beside {}{with}", told.a.name, told.b.name));
    let mut notes = Notes::default();
    let mut same = 0;
    let mut rows: Vec<Vec<String>> =
        vec![vec![String::new(), told.a.name.clone(), told.b.name.clone(), "apart".to_owned()]];
    for (title, figures) in merged(told) {
        let mut head_done = false;
        for (def, a, b) in figures {
            let (x, y) = (a.and_then(|f| f.value.as_ref().ok()), b.and_then(|f| f.value.as_ref().ok()));
            let (said_a, said_b) = (x.map(|x| value(def, *x)), y.map(|y| value(def, *y)));
            if said_a == said_b {
                same += usize::from(said_a.is_some());
                continue;
            }
            if !head_done {
                rows.push(vec![title.to_owned()]);
                head_done = true;
            }
            let side = a.or(b).and_then(|f| f.side).map(|i| format!(", {}", SIDES[i])).unwrap_or_default();
            let assumed: Vec<String> = a.into_iter().chain(b).flat_map(|f| f.assumed.iter().cloned()).collect();
            let marks = notes.marks(&distinct(assumed.into_iter()));
            let unit = if def.unit.is_empty() { String::new() } else { format!(", {}", def.unit) };
            // What differs because another thing was assumed is no effect.
            let ways = |f: &Figure| -> Vec<String> {
                let way = |w: &&String| !w.contains(" ran it") && !w.starts_with("gap ");
                f.assumed.iter().filter(way).cloned().collect()
            };
            let alike = a.zip(b).is_some_and(|(a, b)| ways(a) == ways(b));
            let apart = match (x, y) {
                (Some(x), Some(y)) if alike => signed(y - x, def.decimals),
                _ => String::new(),
            };
            let cell = |s: Option<String>| s.unwrap_or_else(|| "cannot".to_owned());
            rows.push(vec![format!("  {}{side}{unit} {marks}", label(def)), cell(said_a), cell(said_b), apart]);
        }
    }
    page.gap();
    if rows.len() == 1 {
        page.line(format!("no figure differs; {same} are the same"));
    } else {
        page.table(&rows, &[1, 2, 3]);
        page.gap();
        page.wrap("", &format!("{same} are the same. Why one cannot be said: slipbook numbers --why NAME"));
    }
    for (i, note) in notes.0.iter().enumerate() {
        page.wrap(&format!("({}) assumed: ", i + 1), note);
    }
    page.wrap("", STATICS);
    page.text()
}

type Pair<'a> = (&'static Def, Option<&'a Figure>, Option<&'a Figure>);

/// Figures of both, one row each, in the order of the page.
fn merged<'a>(told: &'a Beside) -> Vec<(&'static str, Vec<Pair<'a>>)> {
    let of = |all: &'a BySubject, title: &str| -> &'a [Figure] {
        all.iter().find(|(t, _)| *t == title).map_or(&[], |(_, f)| f.as_slice())
    };
    let mut out = Vec::new();
    for subject in &SUBJECTS {
        let (first, second) = (of(told.first, subject.title), of(told.second, subject.title));
        let mut rows: Vec<Pair> = Vec::new();
        for def in subject.figures.iter().filter(|d| d.shown) {
            for side in [None, Some(0), Some(1)] {
                let find = |all: &'a [Figure]| all.iter().find(|f| std::ptr::eq(f.def, def) && f.side == side);
                let (a, b) = (find(first), find(second));
                if a.is_some() || b.is_some() {
                    rows.push((def, a, b));
                }
            }
        }
        if !rows.is_empty() {
            out.push((subject.title, rows));
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
pub fn json(head: &Head, _schema: &Schema, of: &Of, all: &BySubject) -> Json {
    let shown = |f: &&Figure| f.def.shown;
    json!({
        "car": head.car,
        "version": of.name,
        "with": of.with,
        "figures": all.iter().flat_map(|(_, f)| f).filter(shown).map(figure_json).collect::<Vec<_>>(),
    })
}

/// Both as JSON: what differs.
pub fn beside_json(head: &Head, _schema: &Schema, told: &Beside) -> Json {
    let mut out = Vec::new();
    for (_, rows) in merged(told) {
        for (def, a, b) in rows {
            let number = |f: Option<&Figure>| f.and_then(|f| f.value.as_ref().ok().copied());
            let (x, y) = (number(a), number(b));
            if x.map(|x| value(def, x)) != y.map(|y| value(def, y)) {
                out.push(json!({"name": a.or(b).map(Figure::full_name), "label": def.label, "unit": def.unit, "a": a.map(figure_json), "b": b.map(figure_json)}));
            }
        }
    }
    json!({"car": head.car, "a": told.a.name, "b": told.b.name, "with": told.b.with, "differ": out})
}

/// How the weighing is done.
pub fn weighing(head: &Head, usage: &str) -> String {
    let mut page = head.page("center of gravity height: one axle weighed level, and again with the other raised");
    page.gap();
    let steps = [
        "The driver's weight in the seat as ballast (nobody sits in a raised car), fuel as it races, tires at pressure, anti-roll bars loose.",
        "Block the suspension at ride height, front and rear: solid links in place of shocks. A spring that moves spoils it.",
        "No brake set, transmission in neutral: the wheels on the scales must be free to roll. Chock nothing under them; hold the car by the axle that is raised.",
        "Weigh the axle that stays down, car level: that is `level`.",
        "Raise the other axle by its hubs or on blocks under its tires, 12 in or more, and measure by how much: `lift`. Rated stands and blocks on hard ground, never on a jack alone; nobody under the car.",
        "Weigh the axle that stays down again: `raised`. A pound is worth tenths of an inch: raise it high, weigh it twice.",
        "Measure axle center to floor at the axle that stays down: `radius` (and `radius_up` where the other tires are of another height).",
    ];
    for (i, step) in steps.iter().enumerate() {
        page.wrap(&format!("  {}  ", i + 1), step);
    }
    page.gap();
    if !usage.is_empty() {
        page.wrap("", &format!("Then:  {usage}"));
    }
    page.wrap("", "A raised car can roll or fall. Where you are not set up for it, have it weighed by a shop that is, or a licensed mechanic.");
    page.text()
}

/// What the weighing says.
pub fn weighed(head: &Head, weighing: &RaisedAxle, answer: &CgHeight) -> String {
    let mut page = head.page(&format!("center of gravity {:.2} in above the ground", answer.height_in));
    page.gap();
    page.wrap("  from     ", &format!(
        "{} lb; {} lb level, {} lb raised; lift {} in; wheelbase {} in; axle {} in high down, {} in at the raised end",
        weighing.weight_lb, weighing.level_lb, weighing.raised_lb, weighing.lift_in, weighing.wheelbase_in, weighing.radius_down_in, weighing.radius_up_in
    ));
    page.wrap("  tilt     ", &format!("{:.2} deg", answer.tilt_deg));
    page.wrap("  how sure ", &format!("a pound more on the scales raises it {:.3} in", answer.in_per_lb));
    page.wrap("  formula  ", "h = r + L (W2 - W1)/(W tan tilt) + (ru - r)(1 - W2/W)");
    page.wrap(
        "  source   ",
        "moments about the hub that stays down, own algebra; Gillespie, Fundamentals of Vehicle Dynamics, ch. 1",
    );
    page.gap();
    page.wrap("", &format!("Nothing is recorded. To record it:  slipbook measure cg height {:.2}", answer.height_in));
    page.text()
}

/// The same as JSON.
pub fn weighed_json(head: &Head, weighing: &RaisedAxle, answer: &CgHeight) -> Json {
    json!({
        "car": head.car,
        "height_in": answer.height_in,
        "tilt_deg": answer.tilt_deg,
        "in_per_lb": answer.in_per_lb,
        "inputs": {
            "weight_lb": weighing.weight_lb, "level_lb": weighing.level_lb, "raised_lb": weighing.raised_lb,
            "lift_in": weighing.lift_in, "wheelbase_in": weighing.wheelbase_in,
            "radius_down_in": weighing.radius_down_in, "radius_up_in": weighing.radius_up_in,
        },
    })
}
