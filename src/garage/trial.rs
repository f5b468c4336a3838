//! The trials of a book: begun, judged, given up. One file each, so that two laptops never write the same one.

use super::book::Book;
use super::message::{Message, subject_of};
use super::now::text;
use super::record::{Draft, Written, record};
use super::who::Hand;
use super::{Error, Result};
use crate::schema::Problem;
use crate::store::{Id, Options, Store};
use crate::timeline::Kind;
use crate::trial::{Dropped, End, Judged, LARGEST_TRIAL, Trial, path_of, read_trial, slug_of_path};
use crate::trial::{with_dropped, with_judged, write_trial};

/// The most trials that are read of a book.
const MOST_TRIALS: usize = 2_000;

/// Reads a trial's file; all problems are told with its name.
pub(super) fn read_named(path: &str, text: &str) -> Result<Trial> {
    let wrong = |problems| Error::Text { name: path.to_owned(), text: text.to_owned(), problems };
    let trial = read_trial(text).map_err(wrong)?;
    // Its name is how it is found.
    if trial.path() != path {
        let message = format!("a trial \"{}\" is kept in {}", trial.name, trial.path());
        return Err(wrong(vec![Problem::at(None, message).help("the name and the file's name are the same")]));
    }
    Ok(trial)
}

/// A trial's file in the store; its text is not read further than it may be long.
fn file(store: &Store, path: &str, id: Id) -> Result<(String, Trial)> {
    let bytes = store.blob(id)?;
    if bytes.len() > LARGEST_TRIAL {
        let message = format!("{path} is {} bytes; nothing was recorded", bytes.len());
        return Err(Error::data(message, format!("a trial's file has {LARGEST_TRIAL} at most")));
    }
    let text = text(bytes, path)?;
    let trial = read_named(path, &text)?;
    Ok((text, trial))
}

/// The trials on record, in the order they began.
pub fn trials(store: &Store, head: Option<Id>) -> Result<Vec<Trial>> {
    let Some(head) = head else { return Ok(Vec::new()) };
    let files = store.files(head)?;
    let mut out = Vec::new();
    for (path, id) in files.iter().filter(|(p, _)| slug_of_path(p).is_some()).take(MOST_TRIALS) {
        out.push(file(store, path, *id)?.1);
    }
    out.sort_by(|a, b| (a.started, &a.name).cmp(&(b.started, &b.name)));
    Ok(out)
}

/// The trial called so; without a name the only open one.
pub fn trial_named<'a>(trials: &'a [Trial], name: Option<&str>) -> Result<&'a Trial> {
    let names = |of: &dyn Fn(&&Trial) -> bool| -> String {
        trials.iter().filter(|t| of(t)).map(|t| t.name.as_str()).collect::<Vec<_>>().join(", ")
    };
    let Some(name) = name else {
        let open: Vec<&Trial> = trials.iter().filter(|t| t.is_open()).collect();
        return match open.as_slice() {
            [one] => Ok(one),
            [] if trials.is_empty() => Err(Error::usage(
                "no trial is on record",
                "slipbook trial plan A B, then: slipbook trial start NAME A B",
            )),
            [] => Err(Error::usage("no trial is open", format!("name one: {}", names(&|_| true)))),
            _ => Err(Error::usage("which trial?", names(&|t| t.is_open()))),
        };
    };
    let path = path_of(name);
    let begins = |t: &&Trial| t.name.to_lowercase().starts_with(&name.trim().to_lowercase());
    let by_beginning = || {
        let mut all = trials.iter().filter(begins);
        all.next().filter(|_| all.next().is_none())
    };
    trials.iter().find(|t| t.path() == path).or_else(by_beginning).ok_or_else(|| match trials {
        [] => Error::usage(format!("no trial \"{name}\" is on record"), "slipbook trial start NAME A B"),
        _ => Error::usage(format!("no trial \"{name}\" is on record"), names(&|_| true)),
    })
}

fn message(trial: &Trial, subject: &str, why: Option<&str>) -> Message {
    let mut message = Message::new(Kind::Other, subject_of(subject));
    message.push("Trial", &trial.name);
    why.into_iter().for_each(|why| message.push("Why", why));
    message
}

/// Begins a trial: its file, in a record of its own.
pub fn start_trial(book: &Book, options: &Options, hand: &Hand, trial: &Trial) -> Result<Written> {
    record(&book.store, options, hand, &mut |tip| {
        let path = trial.path();
        let there = tip.head.map(|h| tip.store.file(h, &path)).transpose()?.flatten();
        if let Some((id, _)) = there {
            let was = file(tip.store, &path, id)?.1;
            let message = format!("a trial \"{}\" of {} is on record", was.name, was.started.words(None));
            return Err(Error::usage(message, "another name; nothing was recorded"));
        }
        let content = write_trial(trial);
        // What is written is what is read.
        if read_named(&path, &content)? != *trial {
            return Err(Error::data("the trial cannot be kept as it is", "nothing was recorded"));
        }
        let (a, b) = (&trial.a.version, &trial.b.version);
        let said = format!("trial {} started: {a} against {b}, order {}", trial.name, trial.order);
        Ok(Some(Draft {
            files: vec![(path, Some(content.into_bytes()))],
            message: message(trial, &said, trial.why.as_deref()),
            at: trial.started,
            takes_hand_edit: false,
        }))
    })
}

/// Puts the end of a trial into its file, in a record of its own. The trial as it stands then.
pub fn end_trial(book: &Book, options: &Options, hand: &Hand, name: &str, end: &End) -> Result<(Trial, Written)> {
    let mut result = None;
    let written = record(&book.store, options, hand, &mut |tip| {
        let path = path_of(name);
        let there = tip.head.map(|h| tip.store.file(h, &path)).transpose()?.flatten();
        let (id, _) = there.ok_or_else(|| {
            Error::usage(format!("no trial \"{name}\" is on record; nothing was recorded"), "slipbook trial")
        })?;
        let (was, trial) = file(tip.store, &path, id)?;
        refuse_ended(&trial)?;
        let laid_out = |problems| Error::Text { name: path.clone(), text: was.clone(), problems };
        let (new, said, why, at) = match end {
            End::Judged(judged) => {
                let new = with_judged(&was, &trial, judged).map_err(laid_out)?;
                (new, judged_words(&trial, judged), None, judged.at)
            }
            End::Dropped(dropped) => {
                let new = with_dropped(&was, &trial, dropped).map_err(laid_out)?;
                (new, dropped_words(&trial, dropped), dropped.why.as_deref(), dropped.at)
            }
        };
        let (content, trial) = new;
        let message = message(&trial, &said, why);
        result = Some(trial);
        Ok(Some(Draft { files: vec![(path, Some(content.into_bytes()))], message, at, takes_hand_edit: false }))
    })?;
    let trial = result.ok_or_else(|| Error::data("the record was not built", "try again"))?;
    Ok((trial, written))
}

/// A trial ends once.
pub fn refuse_ended(trial: &Trial) -> Result<()> {
    let said = match &trial.end {
        None => return Ok(()),
        Some(End::Judged(j)) => format!("was judged {}: {}", j.at.words(None), j.verdict),
        Some(End::Dropped(d)) => format!("was dropped {}", d.at.words(None)),
    };
    let help = "oops takes the last record back; a new trial has a new name: slipbook trial start";
    Err(Error::usage(format!("trial \"{}\" {said}; nothing was recorded", trial.name), help))
}

fn judged_words(trial: &Trial, judged: &Judged) -> String {
    let unit = if trial.response.is_speed() { "mph" } else { "s" };
    let decimals = trial.response.decimals();
    let effect = judged.effect.map(|e| format!(", {e:+.decimals$} {unit}")).unwrap_or_default();
    format!("trial {} judged: {}{effect}", trial.name, judged.verdict)
}

fn dropped_words(trial: &Trial, dropped: &Dropped) -> String {
    let why = dropped.why.as_ref().map(|w| format!(": {w}")).unwrap_or_default();
    format!("trial {} dropped{why}", trial.name)
}
