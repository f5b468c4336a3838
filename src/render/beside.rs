//! Two sets of figures side by side: what differs.

use super::layout::{Head, signed};
use super::numbers::{BySubject, Notes, Of, STATICS, distinct, figure_json, label, value};
use crate::figures::{Def, Figure, SIDES, SUBJECTS};
use serde_json::{Value as Json, json};

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

/// Two sets side by side: what differs.
pub fn text(head: &Head, told: &Beside) -> String {
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

/// Both as JSON: what differs.
pub fn json(head: &Head, told: &Beside) -> Json {
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
