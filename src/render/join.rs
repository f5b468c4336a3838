//! Two laptops joined, or as they would be.

use super::layout::{Head, Page, counted};
use super::not_ours;
use crate::garage::{Counts, How, JoinPlan, NotOurs, Which};
use serde_json::{Value as Json, json};

/// What is told.
pub struct JoinTold<'a> {
    /// The joining.
    pub plan: &'a JoinPlan,
    /// The other book, as it was typed.
    pub other: &'a str,
    /// It was carried out.
    pub saved: bool,
    /// It was sent back.
    pub sent: bool,
}

/// Versions named in one line.
const SHOWN: usize = 12;

/// As text.
pub fn text(head: &Head, told: &JoinTold) -> String {
    let JoinTold { plan, other, saved, sent } = *told;
    let headline = match plan.how {
        How::Same => format!("{other} is the same book; nothing to join"),
        How::Had => format!("all that {other} has is here already"),
        How::Ahead if saved => format!("brought up to {other}: this book had nothing of its own since"),
        How::Ahead => format!("would be brought up to {other}: this book has nothing of its own since"),
        How::Joined if saved => format!("joined with {other}"),
        How::Joined => format!("would be joined with {other}"),
    };
    let said = not_ours::summary(&plan.not_ours).map(|s| format!("; {s}")).unwrap_or_default();
    let mut page = head.page(&format!("{headline}{said}"));
    match plan.how {
        How::Same => return page.text(),
        How::Had => page.wrap("  ", &format!("{} more here", counted(plan.here.records, "record"))),
        How::Ahead => {
            page.wrap(
                "  ",
                &format!("{} more from there: {}", counted(plan.there.records, "record"), brings(&plan.there)),
            );
            numbers(&mut page, plan);
            altered(&mut page, plan);
            super::mend::moved(&mut page, head, &plan.moved);
        }
        How::Joined => joined(&mut page, head, plan),
    }
    not_ours::lines(head, &mut page, &plan.not_ours.iter().collect::<Vec<_>>(), "  not ours     ");
    if !saved {
        page.line("nothing written");
        return page.text();
    }
    match (plan.how, sent) {
        (_, true) => page.line(format!("sent to {other}; the other laptop gets it by joining that")),
        (How::Ahead, _) => {}
        (..) => page.line("the other laptop gets it by joining this book: slipbook copy STICK, join there"),
    }
    page.text()
}

/// What slipbook did not write in the other book, where something is asked before the joining is told; empty where all is.
pub fn not_ours(head: &Head, all: &[NotOurs]) -> String {
    let Some(said) = not_ours::summary(all) else { return String::new() };
    let mut page = head.page(&format!("in the other book {said}"));
    not_ours::lines(head, &mut page, &all.iter().collect::<Vec<_>>(), "  not ours     ");
    page.text()
}

fn joined(page: &mut Page, head: &Head, plan: &JoinPlan) {
    page.wrap("  from here    ", &brings(&plan.here));
    page.wrap("  from there   ", &brings(&plan.there));
    numbers(page, plan);
    for d in &plan.decided {
        let whose = if d.whose == Which::Here { "here" } else { "there" };
        page.wrap("  taken        ", &format!("{}: {}", d.about, d.words(&format!("{whose}, "))));
    }
    altered(page, plan);
    if !plan.carried.is_empty() {
        let mut names: Vec<String> = plan.carried.iter().take(SHOWN).map(ToString::to_string).collect();
        if plan.carried.len() > SHOWN {
            names.push(format!("{} more", plan.carried.len() - SHOWN));
        }
        page.wrap("  carried on   ", &format!("{}: with what the other laptop had changed before", names.join(", ")));
    }
    super::mend::moved(page, head, &plan.moved);
    for t in &plan.twice {
        page.wrap("  twice?       ", t);
    }
    if let Some(after) = &plan.after
        && let Some(now) = after.timeline.now()
    {
        let since = head.when(now.entry.at);
        page.wrap("  on the car   ", &format!("{}, since {since}: {}", now.number, now.entry.words.join(", ")));
    }
}

/// Versions with another number, trials with another name.
fn numbers(page: &mut Page, plan: &JoinPlan) {
    for r in &plan.renumbered {
        let whose = if r.here { "this laptop" } else { "the other laptop" };
        let words = format!("{} of {whose} ({}) is {} from here on; its tape says {}", r.was, r.by, r.now, r.was);
        page.wrap("  number       ", &words);
    }
    for r in &plan.renamed {
        let whose = if r.here { "this laptop" } else { "the other laptop" };
        page.wrap("  name         ", &format!("trial {} of {whose} ({}) is {} from here on", r.was, r.by, r.now));
    }
}

fn brings(c: &Counts) -> String {
    match c.brought().as_slice() {
        [] => format!("{}, by {}", counted(c.records, "record"), c.by.join(", ")),
        [one] => format!("{}, by {}", one.tally.words(), one.by),
        all => all.iter().map(|p| format!("{} by {}", p.tally.words(), p.by)).collect::<Vec<_>>().join("; "),
    }
}

/// What was on record here and is otherwise now.
fn altered(page: &mut Page, plan: &JoinPlan) {
    plan.altered.iter().for_each(|what| page.wrap("  otherwise    ", what));
}

/// As JSON.
pub fn json(head: &Head, told: &JoinTold) -> Json {
    let plan = told.plan;
    let numbers = plan.renumbered.iter().map(|r| json!({"here": r.here, "by": r.by, "was": r.was, "version": r.now}));
    let decided = plan
        .decided
        .iter()
        .map(|d| json!({"about": d.about, "holds": d.holds, "gave_way": d.gave_way, "whose": d.whose, "once": d.once}));
    json!({
        "car": head.car,
        "other": told.other,
        "saved": told.saved && plan.alters(),
        "sent": told.sent,
        "how": plan.how,
        "here": plan.here,
        "there": plan.there,
        "renumbered": numbers.collect::<Vec<_>>(),
        "renamed": plan.renamed,
        "decided": decided.collect::<Vec<_>>(),
        "altered": plan.altered,
        "carried": plan.carried,
        "moved": plan.moved,
        "twice": plan.twice,
        "not_by_slipbook": not_ours::json(&plan.not_ours),
        "version": plan.after.as_ref().and_then(|a| a.timeline.now()).map(|v| v.number.clone()),
    })
}
