//! `diff`: two versions in trade words, and what their runs say.

use super::context::Context;
use super::footing::{FootingArgs, footing, seen, version_meant};
use super::judged::{Ran, asked};
use super::ui::Ui;
use crate::blame::{Allowed, apart, where_apart};
use crate::diff::{diff, words};
use crate::garage::{Error, History, Result, edited_sheet, hand_edits};
use crate::pace::{Seen, conditions};
use crate::render::{self, diff::DiffTold, diff::Side};
use crate::schema::Sheet;
use crate::slip::{Beam, Response, read_day};
use clap::Args;

/// Tell two versions apart in the words of the trade, and by their runs
///
///   slipbook diff               the version before against the one on the car (or what was edited by hand)
///   slipbook diff v12           that version against the one on the car
///   slipbook diff v12 v17       two versions
///   slipbook diff jul 11        what was on the car at the end of that day
///
/// A version is v12, a short id, a date (jul 11: on the car at the end of that
/// day), best, last-good, previous or now.
#[derive(Debug, Args)]
#[command(verbatim_doc_comment)]
pub struct DiffArgs {
    /// One version, or two
    #[arg(value_name = "VERSION")]
    which: Vec<String>,
    /// Notes line by line
    #[arg(long)]
    notes: bool,
    #[command(flatten)]
    footing: FootingArgs,
}

/// Runs the command.
pub fn run(ctx: &Context, ui: &mut Ui, args: &DiffArgs) -> Result<()> {
    let book = ctx.book()?;
    let history = book.history()?;
    let footing = footing(&book, &history, args.footing.of(&history, None)?)?;
    let runs = seen(&history, &footing);
    let finish = history.finish_ft();
    let (a, b) = two_named(ctx, &args.which)?;
    let find = |name: &str| version_meant(ctx, &book, &history, name);
    let edited = match (&a, hand_edits(&book)?) {
        (None, edits) if edits.files.iter().any(|(p, _)| p == "setup.toml") => Some(edited_sheet(&book)?.1),
        _ => None,
    };
    let last = history
        .timeline
        .versions
        .len()
        .checked_sub(1)
        .ok_or_else(|| Error::usage("the book has no version yet", "slipbook new"))?;
    let b = b.as_deref().map(&find).transpose()?.unwrap_or(last);
    let a = match (&a, &edited) {
        (Some(name), _) => find(name)?,
        (None, Some(_)) => last,
        (None, None) => last
            .checked_sub(1)
            .ok_or_else(|| Error::usage("the book has one version: nothing to compare", "slipbook sheet"))?,
    };
    let versions = &history.timeline.versions;
    let (old, new) = (book.sheet(&versions[a])?, edited.clone().map_or_else(|| book.sheet(&versions[b]), Ok)?);
    let (old, new): (&Sheet, &Sheet) = (&old, &new);
    let differ = diff(&book.schema, old, new);
    let clauses = words::clauses(&book.schema, old, new, &differ);
    let ran = Ran::new(&book, &history, &footing);
    let mut one_of_two = Vec::new();
    let numbers = if edited.is_some() {
        Vec::new()
    } else {
        let asked_of = [Response::Time(Beam::Ft60), Response::Et, Response::Mph];
        let judged = asked_of.map(|r| ran.estimates(asked(r))).into_iter().collect::<Result<Vec<_>>>()?;
        one_of_two = judged.first().map(|e| e.hardly_parted(a, b)).unwrap_or_default();
        apart(&history.timeline, &runs, finish, (a, b), &judged)
    };
    let note = |s: &Sheet| s.text("notes").unwrap_or_default().to_owned();
    let same = old.iter().filter(|(k, v)| new.get(k) == Some(v)).count();
    let (lo, hi) = (a.min(b), a.max(b));
    let told = DiffTold {
        a: side(&history, &runs, a),
        b: match &edited {
            Some(_) => Side { name: "edited by hand".to_owned(), ..Side::default() },
            None => side(&history, &runs, b),
        },
        diff: &differ,
        clauses: &clauses,
        same,
        notes: args.notes.then(|| words::note_lines(&note(old), &note(new))),
        apart: &numbers,
        segments: if edited.is_some() { Vec::new() } else { where_apart(&history.timeline, &runs, a, b) },
        footing: &footing,
        one_of_two: one_of_two.iter().map(|v| versions[*v].number.clone()).collect(),
        allowed: Allowed::of(runs.iter()),
        between: versions[lo..hi].iter().collect(),
    };
    let head = ctx.head(&book.car.name);
    ctx.answer(ui, || render::diff::json(&head, &book.schema, &told), || render::diff::text(&head, &told));
    Ok(())
}

/// The one or two versions that are named: a date is one, be it two words or three.
fn two_named(ctx: &Context, words: &[String]) -> Result<(Option<String>, Option<String>)> {
    let mut named = Vec::new();
    let mut left = words;
    while let [first, ..] = left {
        let is_date = |words: &[String]| read_day(&words.join(" "), ctx.hand.now).is_some();
        let date = |n: &usize| is_date(&left[..*n]) && !left[..*n].iter().any(String::is_empty);
        let n = (2..=left.len().min(3)).rev().find(date).unwrap_or(1);
        named.push(if n == 1 { first.clone() } else { left[..n].join(" ") });
        left = &left[n..];
    }
    if named.len() > 2 {
        return Err(Error::usage(
            format!("{} versions are named, two are told apart", named.len()),
            "slipbook diff v12 v17",
        ));
    }
    let mut named = named.into_iter();
    Ok((named.next(), named.next()))
}

fn side(history: &History, runs: &[Seen], index: usize) -> Side {
    let versions = &history.timeline.versions;
    let v = &versions[index];
    let pooled: Vec<usize> = (0..versions.len()).filter(|i| versions[*i].mark == v.mark).collect();
    let mut days: Vec<_> = runs.iter().filter(|s| pooled.contains(&s.version)).map(|s| s.day.date).collect();
    days.sort();
    days.dedup();
    let of: Vec<Seen> = runs.iter().filter(|s| pooled.contains(&s.version)).copied().collect();
    let without = of.first().map(|s| s.footing.without_air(of.iter().map(|s| (s.run, s.day))));
    Side {
        conditions: conditions(&of),
        without: without.unwrap_or_default(),
        name: v.number.to_string(),
        at: Some(v.entry.at),
        runs: runs.iter().filter(|s| pooled.contains(&s.version)).count(),
        with: pooled.iter().filter(|i| **i != index).map(|i| versions[*i].number.to_string()).collect(),
        days,
    }
}
