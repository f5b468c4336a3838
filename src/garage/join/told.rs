//! What a joining is told with: what each side brings, what looks told twice, and the words of the log.

use super::super::history::History;
use super::super::mend::Moved;
use super::super::message::{Message, subject_of};
use super::counts::new_runs;
use super::line::{Line, Renumbered};
use super::plan::{Counts, JoinPlan, NewNumber, Share};
use super::records::Item;
use super::side::Side;
use crate::schema::Edit;
use crate::slip::Run;
use crate::store::Id;
use crate::text::{counted, shell_word};
use crate::timeline::{Kind, Version, VersionNumber};
use std::collections::{HashMap, HashSet};

pub(super) fn new_number(items: &[Item], r: &Renumbered, here: usize) -> NewNumber {
    let item = items.iter().find(|i| i.lived.entry.number.as_ref() == Some(&r.now));
    let by = item.map(|i| i.lived.entry.by.clone()).unwrap_or_default();
    NewNumber { here: r.side == here, by, was: r.was.clone(), now: r.now.clone() }
}

/// Slips and changes that were told on both laptops, each with what takes one of them away.
pub(super) fn twice(sides: &[Side; 2], before: &[Side], items: &[Item]) -> Vec<String> {
    let minute = |r: &Run| r.at.seconds.div_euclid(60);
    let [here, there] = [0, 1].map(|s| new_runs(sides, before, s));
    let mut out = Vec::new();
    for a in &here {
        let same = |b: &&&Run| minute(a) == minute(b) && !a.numbers.is_empty() && a.numbers == b.numbers;
        for b in there.iter().filter(same) {
            let (at, a, b) = (a.at.words(None), &a.id, &b.id);
            // An id by hand can be any text.
            let word = shell_word(b);
            out.push(format!("the run of {at} is on record as {a} and as {b}: slipbook mend run {word} --never"));
        }
    }
    let of = |side: usize| items.iter().filter(move |i| i.from[side].is_some() && i.from[1 - side].is_none());
    for a in of(0).filter(|a| a.lived.is_version()) {
        let same =
            |b: &&Item| b.lived.entry.at.seconds == a.lived.entry.at.seconds && typed(sides, b) == typed(sides, a);
        for b in of(1).filter(|b| b.lived.is_version()).filter(same) {
            let names = [a, b].map(|i| i.lived.entry.number.as_ref().map(ToString::to_string).unwrap_or_default());
            let [a, b] = if names[0].len() <= names[1].len() {
                names
            } else {
                let [x, y] = names;
                [y, x]
            };
            out.push(format!("{a} and {b} tell the same change: slipbook mend {b} --never"));
        }
    }
    out
}

/// What a version is known by: the first commit it was written in.
fn first(version: &Version) -> &str {
    version.entry.replaces.first().unwrap_or(&version.entry.id)
}

/// Versions of this book that have another number in one that holds all of it.
pub(super) fn renumbered_in(own: &History, other: &History) -> Vec<NewNumber> {
    let now: HashMap<&str, &Version> = other.timeline.versions.iter().map(|v| (first(v), v)).collect();
    let was = own.timeline.versions.iter().filter_map(|v| Some((v, *now.get(first(v))?)));
    was.filter(|(was, now)| was.number != now.number)
        .map(|(was, now)| NewNumber {
            here: true,
            by: was.entry.by.clone(),
            was: was.number.clone(),
            now: now.number.clone(),
        })
        .collect()
}

/// Runs that stand on another version than they did on the side that has them, whatever its number is now.
pub(super) fn moved(before: &[&History], after: &History) -> Vec<Moved> {
    let called: HashMap<&str, &VersionNumber> = after.timeline.versions.iter().map(|v| (first(v), &v.number)).collect();
    let now: HashMap<&str, &Run> = after.runs.iter().map(|m| (m.run.id.as_str(), &m.run)).collect();
    let mut seen = HashSet::new();
    let mut out = Vec::new();
    for (was, run) in before.iter().flat_map(|h| h.runs.iter().map(|m| (&h.timeline, &m.run))) {
        let Some(new) = now.get(run.id.as_str()) else { continue };
        let (Some(a), Some(b)) = (was.of_run(run), after.timeline.of_run(new)) else { continue };
        let (a, b) = (&was.versions[a], &after.timeline.versions[b]);
        if first(a) != first(b) && seen.insert(run.id.as_str()) {
            // As it is called now: its number may be another's.
            let from = called.get(first(a)).map_or_else(|| a.number.to_string(), ToString::to_string);
            let to = b.number.to_string();
            out.push(Moved { at: new.at, run: run.id.clone(), from, to });
        }
    }
    out.sort_by_key(|m| m.at);
    out
}

/// What was typed for a record, as it was told.
fn typed(sides: &[Side; 2], item: &Item) -> Vec<Edit> {
    let there = item.from[item.of].map(|i| &sides[item.of].entries()[i]);
    there.map(|l| l.edits(&sides[item.of].book)).unwrap_or_default()
}

/// What the log says of it: the same on both laptops.
pub(super) fn joined_message(plan: &JoinPlan, here: usize, tips: [Id; 2], line: &Line) -> Message {
    let told = |c: &Counts| {
        let one = |p: &Share| format!("{} by {}", p.tally.words(), p.by);
        match c.brought() {
            all if all.is_empty() => format!("{} by {}", counted(c.records, "record"), c.by.join(", ")),
            all => all.into_iter().map(one).collect::<Vec<_>>().join(" and "),
        }
    };
    let (a, b) = if here == 0 { (&plan.here, &plan.there) } else { (&plan.there, &plan.here) };
    let sentence = format!("two laptops joined: {}; {}", told(a), told(b));
    let mut message = Message::new(Kind::Mend, subject_of(&sentence));
    let numbers = plan.renumbered.iter().map(|r| format!("{} of {} is {} from here on", r.was, r.by, r.now));
    let names = plan.renamed.iter().map(|r| format!("trial {} of {} is {} from here on", r.was, r.by, r.now));
    let decided = plan.decided.iter().map(|d| match d.once {
        true => format!("{}: {}", d.about, d.words("")),
        false => format!("{}, {} holds, {} gave way", d.about, d.holds, d.gave_way),
    });
    let more: Vec<String> = numbers.chain(names).chain(decided).collect();
    if message.subject != sentence || !more.is_empty() {
        let one_line = |l: String| l.chars().map(|c| if c.is_control() { ' ' } else { c }).collect::<String>();
        message.body = std::iter::once(sentence).chain(more).map(one_line).collect();
    }
    tips.iter().for_each(|id| message.push("Joins", &id.to_string()));
    message.push("Given", &line.given.to_line());
    message
}
