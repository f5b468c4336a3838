//! What a stranger made that is not taken in, and what to do instead.

use super::after::RunThen;
use super::book::Book;
use super::history::History;
use super::join::held_in;
use super::not_ours::NotOurs;
use super::sound::{self, Harm, Sound};
use super::{Error, Result};
use crate::store::{is_bundle, repository_in};
use crate::text::counted;
use crate::timeline::VersionNumber;
use std::collections::HashSet;
use std::path::Path;

/// What is no book and lies beside one: the page of a handover, a stick, a garage. It is said which file or folder is.
pub(super) fn refuse_other_than_book(source: &Path) -> Result<()> {
    if source.is_file() && source.extension().is_some_and(|e| e != "bundle") {
        let bundle = source.with_extension("bundle");
        if bundle.is_file() && !is_bundle(source) {
            return Err(Error::usage(
                format!("{} is the page that goes with the file, not the file; nothing was changed", source.display()),
                format!("slipbook receive {}", bundle.display()),
            ));
        }
    }
    if !source.is_dir() || repository_in(source).is_some() {
        return Ok(());
    }
    let (books, bundles) = held_in(source);
    let Some(first) = bundles.first().or(books.first()) else { return Ok(()) };
    let named = |all: &[String], what: &str| (!all.is_empty()).then(|| format!("{what} {}", all.join(", ")));
    let held: Vec<String> =
        [named(&bundles, "the bundles"), named(&books, "the books")].into_iter().flatten().collect();
    Err(Error::usage(
        format!("{} is no book; it holds {}; nothing was changed", source.display(), held.join(" and ")),
        format!("say which: slipbook receive {}", source.join(first).display()),
    ))
}

/// What is not taken in, in a sentence.
fn not_taken(source: &Path, sound: &Sound) -> Option<String> {
    let first = sound.wrong.first()?;
    let named = |w: &sound::Wrong| {
        let of = w.said.as_ref().map(|(at, s)| format!(" of {} ({s})", at.words(None))).unwrap_or_default();
        format!("{}{of}: {}", w.path, w.why)
    };
    let more = sound.wrong.len() - 1;
    let more = if more == 0 { String::new() } else { format!("; and {more} more") };
    Some(format!("{} is not taken in: {}{more}", source.display(), named(first)))
}

/// Refuses what is of no book's form.
pub(super) fn refuse_form(source: &Path, sound: &Sound) -> Result<()> {
    match not_taken(source, sound) {
        Some(message) if sound.wrong.iter().any(|w| w.harm != Harm::Content) => {
            Err(Error::data(message, "nothing was changed"))
        }
        _ => Ok(()),
    }
}

/// The same of what alters runs on record here, where this program did not write it. `so_far` is what was done until then.
pub(super) fn refuse_altered(old: &Book, not_ours: &[NotOurs], so_far: &str) -> Result<()> {
    let new = not_ours.iter().filter(|n| old.store.commit(n.hand.record).is_err());
    let runs: Vec<&RunThen> = new.flat_map(|n| &n.runs).collect();
    let Some(first) = runs.first() else { return Ok(()) };
    let message = format!(
        "what was received takes out or alters {} of the book of {} that is here, the first of {}, and this program did not write that",
        counted(runs.len(), "run"),
        old.car.name,
        first.at.words(None)
    );
    Err(Error::Unconfirmed {
        message,
        help: format!("{so_far}; ask who had it whether that was meant. --yes takes it in all the same"),
    })
}

/// Refuses a book with something wrong in it. What merely would not have been taken can be taken as it is, where what
/// holds now can be opened: `unopened` says why it cannot.
pub(super) fn refuse_wrong(source: &Path, as_it_is: bool, sound: &Sound, unopened: Option<&Error>) -> Result<()> {
    let Some(message) = not_taken(source, sound) else { return Ok(()) };
    match unopened {
        Some(why) => Err(Error::data(
            message,
            format!(
                "as it holds now it cannot be opened ({why}), so it cannot be taken in as it is; nothing was changed"
            ),
        )),
        None if as_it_is => Ok(()),
        None => Err(Error::Unconfirmed {
            message,
            help: "nothing of it can run; --yes takes it in as it is, and slipbook verify names all of it".to_owned(),
        }),
    }
}

/// What comes back in its own book may add and put right; what takes runs or versions out of the book here is asked about:
/// whoever had the file once could write that. `so_far` is what was done until then.
pub(super) fn refuse_loss(old: &Book, received: &History, so_far: &str) -> Result<()> {
    let here = old.history()?;
    let there: HashSet<&str> = received.runs.iter().map(|m| m.run.id.as_str()).collect();
    let runs = here.runs.iter().filter(|m| !there.contains(m.run.id.as_str())).count();
    // By their numbers, and those a joining took from them: new ones make up for none that is gone.
    let kept: HashSet<&VersionNumber> =
        received.timeline.versions.iter().flat_map(|v| std::iter::once(&v.number).chain(&v.entry.was)).collect();
    let versions = here.timeline.versions.iter().filter(|v| !kept.contains(&v.number)).count();
    if runs == 0 && versions == 0 {
        return Ok(());
    }
    let message = format!(
        "what was received takes {} and {} out of the book of {} that is here",
        counted(runs, "run"),
        counted(versions, "version"),
        old.car.name
    );
    Err(Error::Unconfirmed {
        message,
        help: format!(
            "{so_far}; ask who had it whether that was meant. --yes takes it in all the same: what was taken out stays in \
             the record"
        ),
    })
}
