//! Two sheets in trade words, area by area, and what the runs on each say.

use super::layout::{Head, counted, signed};
use crate::blame::{Allowed, Apart, Segment};
use crate::diff::SheetDiff;
use crate::diff::words::{Clause, LineChange, NoteLine};
use crate::pace::{Conditions, Footing};
use crate::schema::Schema;
use crate::timeline::{Version, VersionNumber};
use serde_json::{Value as Json, json};

/// One side of the comparison.
#[derive(Debug, Clone, Default)]
pub struct Side {
    /// "v12", or "edited by hand".
    pub name: String,
    /// When it went on the car.
    pub at: Option<crate::slip::Moment>,
    /// Runs on its setup.
    pub runs: usize,
    /// Other versions that are the same setup.
    pub with: Vec<String>,
    /// Days those runs were made on.
    pub days: Vec<jiff::civil::Date>,
    /// What those runs were made in.
    pub conditions: Conditions,
    /// Of them without air, and far from a reading.
    pub without: (usize, usize),
}

/// What is told.
pub struct DiffTold<'a> {
    /// First side.
    pub a: Side,
    /// Second side.
    pub b: Side,
    /// What differs.
    pub diff: &'a SheetDiff,
    /// In words.
    pub clauses: &'a [Clause],
    /// Fields alike on both.
    pub same: usize,
    /// Notes line by line, where they were asked for.
    pub notes: Option<Vec<NoteLine>>,
    /// Number by number.
    pub apart: &'a [Apart],
    /// Where in the run they differ.
    pub segments: Vec<Segment>,
    /// What the numbers were carried to.
    pub footing: &'a Footing,
    /// Versions of other changes the runs hardly part from this one: one of them did it.
    pub one_of_two: Vec<VersionNumber>,
    /// What the model allows for.
    pub allowed: Allowed,
    /// Versions between the two.
    pub between: Vec<&'a Version>,
}

fn side(head: &Head, s: &Side) -> String {
    let mut parts: Vec<String> = s.at.map(|at| head.day(at.race_day())).into_iter().collect();
    let with = if s.with.is_empty() { String::new() } else { format!(" with {}", s.with.join(", ")) };
    parts.push(format!("{}{with}", counted(s.runs, "run")));
    format!("{} ({})", s.name, parts.join(", "))
}

/// As text.
pub fn text(head: &Head, told: &DiffTold) -> String {
    let mut page = head.page(&format!("{} -> {}", side(head, &told.a), side(head, &told.b)));
    page.gap();
    let order = ["front", "rear", "weight", "driveline", "launch", "body", "engine", "own", "note"];
    for group in order {
        let mut label = group;
        for clause in told.clauses.iter().filter(|c| c.group == group) {
            page.wrap(&format!("{label:<10}"), &clause.text);
            label = "";
        }
    }
    if told.diff.is_empty() {
        page.wrap("", "nothing differs: the two sheets are equal");
    }
    let same = if told.same == 0 { "no field".to_owned() } else { counted(told.same, "field") };
    page.line(format!("{:<10}{same}", "same"));
    for line in told.notes.iter().flatten() {
        let label = match line.change {
            LineChange::Added => "note in   ",
            LineChange::TakenOut => "note out  ",
            LineChange::Kept => "          ",
        };
        page.wrap(label, &line.text);
    }
    page.gap();
    if told.apart.is_empty() {
        page.wrap("", "No number was cleanly run on both, or they are one setup: nothing to compare.");
        return page.text();
    }
    let heading = |s: &Side| s.name.clone();
    let mut rows = vec![vec![String::new(), heading(&told.a), heading(&told.b), "apart".to_owned(), String::new()]];
    for x in told.apart {
        let d = x.response.decimals();
        rows.push(vec![
            x.response.label(),
            format!("{:.d$}", x.a.middle),
            format!("{:.d$}", x.b.middle),
            signed(x.b.middle - x.a.middle, d),
            x.judged.as_ref().map_or(String::new(), |j| {
                let words = j.verdict.apart(x.response.is_speed());
                format!("{words} (worth {})", signed(j.effect.value, d))
            }),
        ]);
        if told.footing.reference.is_some() {
            let [a, b] = x.as_run.map(|s| s.middle);
            let apart = signed(b - a, d);
            rows.push(vec!["  as run".to_owned(), format!("{a:.d$}"), format!("{b:.d$}"), apart, String::new()]);
        }
    }
    page.table(&rows, &[1, 2, 3]);
    if !told.one_of_two.is_empty() {
        page.wrap("  ", &super::blame::one_of_two(&told.one_of_two));
    }
    if told.segments.len() > 1 {
        page.wrap("  ", &super::footing::segments(&told.segments));
        page.wrap("  ", "middles of each stretch: they need not add up to the ET's");
    }
    for side in [&told.a, &told.b] {
        if let Some(words) = super::footing::conditions(&side.conditions) {
            page.wrap(&format!("{:<9}", side.name), &words);
        }
    }
    page.gap();
    let runs = told.a.runs + told.b.runs;
    let without = (told.a.without.0 + told.b.without.0, told.a.without.1 + told.b.without.1);
    page.wrap("", &super::footing::foot(told.footing, "Middles", runs, without));
    let mixed = told.footing.reference.is_some() && without.0 > 0;
    if mixed && (told.a.without.0 == 0) != (told.b.without.0 == 0) {
        page.wrap("", "Only one side is without some of its air: the difference leans on the guess.");
    }
    let air = if told.allowed.air { "air, " } else { "" };
    let allowed = format!("{air}{}", super::footing::allowed(told.allowed));
    let (da, db) = (&told.a.days, &told.b.days);
    let both = da.iter().filter(|d| db.contains(d)).count();
    let same_day =
        if both == 0 { "never the same day".to_owned() } else { format!("{} in common", counted(both, "day")) };
    page.wrap(
        "",
        &format!(
            "{} on {} against {} on {}, {same_day}. The words are the model's of blame, which allows for {allowed}.",
            counted(told.a.runs, "run"),
            counted(da.len(), "day"),
            counted(told.b.runs, "run"),
            counted(db.len(), "day"),
        ),
    );
    if told.between.len() > 1 {
        let lie = format!("{} changes lie between. Which did it?  slipbook blame", told.between.len());
        page.wrap("", &lie);
    }
    page.text()
}

/// As JSON.
pub fn json(head: &Head, schema: &Schema, told: &DiffTold) -> Json {
    let side = |s: &Side| {
        json!({"name": s.name, "at": s.at, "runs": s.runs, "same_setup": s.with, "conditions": s.conditions,
            "without_air": s.without.0, "far_from_a_reading": s.without.1})
    };
    let apart = |x: &Apart| json!({"number": x.response.key(), "a": x.a, "b": x.b, "as_run": x.as_run, "effect": x.judged.as_ref().map(|j| j.effect), "evidence": x.judged.as_ref().map(|j| j.verdict.key())});
    json!({
        "car": head.car, "a": side(&told.a), "b": side(&told.b), "words": told.clauses, "changes": told.diff.to_json(schema),
        "same": told.same, "runs": told.apart.iter().map(apart).collect::<Vec<_>>(), "segments": told.segments, "one_of_two": told.one_of_two,
        "one_air": super::footing::json(told.footing),
    })
}
