//! The trials of both sides. Two of one name are two trials: both are kept, the one begun later under a further name.

use super::super::{Error, Result};
use super::choice::{Choice, Told, by_change};
use super::plan::NewName;
use super::side::Side;
use crate::text::cut;
use crate::trial::{Trial, path_of, read_trial};
use std::collections::{BTreeMap, BTreeSet};
use toml_edit::{DocumentMut, Item};

/// The most characters of a name that a letter is put behind.
const STEM: usize = 36;

/// A trial by what it is known by, whatever it is called: when it was begun, by whom, on which sheets. One that cannot be
/// read is known by its file.
type Known<'a> = BTreeMap<String, (&'a str, &'a str)>;

fn known(trials: &BTreeMap<String, String>) -> Known<'_> {
    let mut out = Known::new();
    for (path, text) in trials {
        let first = read_trial(text).map_or_else(
            |_| path.clone(),
            |t| format!("{:>20} {} {} {}", t.started.seconds, t.by, t.a.setup, t.b.setup),
        );
        let mut key = first.clone();
        while out.contains_key(&key) {
            key.push('+');
        }
        out.insert(key, (path, text));
    }
    out
}

/// A trial that is called otherwise than on one side.
pub(super) struct Renamed {
    side: usize,
    by: String,
    was: String,
    now: String,
}

impl Renamed {
    /// As it is told.
    pub fn told(&self, here: usize) -> NewName {
        NewName { here: self.side == here, by: self.by.clone(), was: self.was.clone(), now: self.now.clone() }
    }
}

/// One that is kept.
struct Kept {
    text: String,
    /// Its files' names on the sides, the one to be taken first.
    paths: Vec<String>,
    shared: bool,
    /// What it is called on each side.
    names: [Option<String>; 2],
}

/// All trials: path and text. Their versions are named as they are now.
pub(super) fn merge_trials(
    sides: &[Side; 2],
    bases: &[Side],
    choice: &mut Choice,
) -> Result<(BTreeMap<String, String>, Vec<Renamed>)> {
    let of = [known(&sides[0].trials), known(&sides[1].trials)];
    let before: Vec<Known> = bases.iter().map(|b| known(&b.trials)).collect();
    let keys: BTreeSet<&String> = of.iter().flat_map(Known::keys).collect();
    let mut all = Vec::new();
    for key in keys {
        let pair = [0, 1].map(|s| of[s].get(key));
        let was: Vec<Option<&(&str, &str)>> = before.iter().map(|b| b.get(key)).collect();
        let nothing = was.is_empty() || was.iter().any(Option::is_none);
        // Of what both were, where it was begun on one laptop before: that one's.
        let whole = pair.iter().all(Option::is_some);
        let old = was.iter().filter(|w| !whole || w.is_some());
        let texts: Vec<Option<String>> = old.map(|w| w.map(|(_, text)| bare(text))).collect();
        let now = pair.map(|p| p.map(|(_, text)| bare(text)));
        let side = match (by_change(&texts.iter().collect::<Vec<_>>(), [&now[0], &now[1]]), pair) {
            (Some(side), _) => side,
            (None, [Some(_), None]) if nothing => 0,
            (None, [None, Some(_)]) if nothing => 1,
            _ => {
                let said = pair.map(|t| t.map_or("it was taken away".to_owned(), |(_, t)| trial_words(t)));
                let path = |s: usize| pair[s].or(pair[1 - s]).map_or("", |(path, _)| path);
                let written = [0, 1].map(|s| sides[s].log().file(path(s), &<[u8]>::to_vec));
                let about = pair.iter().flatten().next().map_or(key.clone(), |(path, text)| called(path, text));
                choice.ask(Told { about: format!("trial {about}"), said, written })
            }
        };
        let Some((_, text)) = pair[side] else { continue };
        let paths: Vec<&str> = was.iter().flatten().map(|(path, _)| *path).collect();
        let named = pair.map(|p| p.map(|(path, _)| *path));
        let named = match named {
            [Some(a), Some(b)] => match by_change(&paths.iter().collect::<Vec<_>>(), [&a, &b]) {
                Some(side) => vec![[a, b][side]],
                None => BTreeSet::from([a, b]).into_iter().collect(),
            },
            one => one.into_iter().flatten().collect(),
        };
        all.push(Kept {
            text: renumbered(text, &sides[side])?,
            paths: named.into_iter().map(str::to_owned).collect(),
            shared: pair.iter().all(Option::is_some),
            names: pair.map(|p| p.map(|(path, text)| called(path, text))),
        });
    }
    named(all)
}

/// Trials of a book that are called otherwise in one that holds all of it.
pub(super) fn renamed_in(was: &BTreeMap<String, String>, now: &BTreeMap<String, String>) -> Vec<NewName> {
    let now = known(now);
    let one = |(key, (path, text)): (String, (&str, &str))| {
        let (new_path, new) = now.get(&key)?;
        let by = read_trial(text).map(|t| t.by).unwrap_or_default();
        (*new_path != path).then(|| NewName { here: true, by, was: called(path, text), now: called(new_path, new) })
    };
    known(was).into_iter().filter_map(one).collect()
}

/// Trials that stand otherwise than they did.
pub(super) fn altered(was: &BTreeMap<String, String>, now: &BTreeMap<String, String>) -> Vec<String> {
    let now = known(now);
    let one = |(key, (path, text)): (String, (&str, &str))| {
        let name = called(path, text);
        match now.get(&key) {
            None => Some(format!("trial {name} was taken away")),
            Some((_, new)) if bare(new) != bare(text) => Some(format!("trial {name}: {}", trial_words(new))),
            Some(_) => None,
        }
    };
    known(was).into_iter().filter_map(one).collect()
}

/// Gives each its file: those both sides have first, then in the order they were begun.
fn named(mut all: Vec<Kept>) -> Result<(BTreeMap<String, String>, Vec<Renamed>)> {
    let taken: BTreeSet<String> = all.iter().flat_map(|k| k.paths.clone()).collect();
    all.sort_by_key(|k| !k.shared);
    let mut out: BTreeMap<String, String> = BTreeMap::new();
    let mut renamed = Vec::new();
    for kept in all {
        let free = kept.paths.iter().find(|p| !out.contains_key(*p));
        let first = kept.names.iter().flatten().next().cloned().unwrap_or_default();
        let (path, name) = match free {
            Some(path) => {
                let of = |n: &&String| path_of(n) == **path;
                (path.clone(), kept.names.iter().flatten().find(of).cloned())
            }
            None => {
                let mut letters = (1..).map(|n| format!("{} {}", cut(&first, STEM), letter(n)));
                let free = letters.find(|n| !taken.contains(&path_of(n)) && !out.contains_key(&path_of(n)));
                let name = free.ok_or_else(|| Error::data("no name is left for a trial", "nothing was changed"))?;
                (path_of(&name), Some(name))
            }
        };
        let Some(name) = name else {
            out.insert(path, kept.text);
            continue;
        };
        let text = with(&kept.text, "name", &name);
        let by = read_trial(&text).map(|t: Trial| t.by).unwrap_or_default();
        for (side, was) in kept.names.into_iter().enumerate() {
            if let Some(was) = was.filter(|w| path_of(w) != path) {
                renamed.push(Renamed { side, by: by.clone(), was, now: name.clone() });
            }
        }
        out.insert(path, text);
    }
    Ok((out, renamed))
}

/// b, c, ... z, then z1, z2, ...
fn letter(n: u32) -> String {
    match char::from_u32('a' as u32 + n).filter(char::is_ascii_lowercase) {
        Some(c) => c.to_string(),
        None => format!("z{}", n - 25),
    }
}

fn called(path: &str, text: &str) -> String {
    read_trial(text).map_or_else(|_| path.to_owned(), |t| t.name)
}

/// A trial apart from how it and its versions are called, which a joining may alter.
fn bare(text: &str) -> String {
    ["name", "a", "b"].iter().fold(text.to_owned(), |text, key| with(&text, key, ""))
}

/// The text with another value at a key it has.
fn with(text: &str, key: &str, value: &str) -> String {
    let Ok(mut doc) = text.parse::<DocumentMut>() else { return text.to_owned() };
    let Some(old) = doc.get_mut(key).and_then(Item::as_value_mut) else { return text.to_owned() };
    if old.as_str() == Some(value) {
        return text.to_owned();
    }
    let mut new = toml_edit::Value::from(value);
    *new.decor_mut() = old.decor().clone();
    *old = new;
    doc.to_string()
}

fn trial_words(text: &str) -> String {
    let Ok(trial) = read_trial(text) else { return "it cannot be read".to_owned() };
    let ended = match (trial.judged(), trial.ended()) {
        (Some(judged), _) => format!("judged: {}", judged.verdict),
        (None, Some(at)) => format!("given up {}", at.words(None)),
        (None, None) => "still open".to_owned(),
    };
    format!("{} against {}, begun {}, {ended}", trial.a.version, trial.b.version, trial.started.words(None))
}

/// A trial with its versions named as they are now.
fn renumbered(text: &str, side: &Side) -> Result<String> {
    let mut out = text.to_owned();
    for key in ["a", "b"] {
        let Ok(doc) = out.parse::<DocumentMut>() else { return Ok(out) };
        let was = doc.get(key).and_then(Item::as_str).and_then(|v| v.parse().ok());
        if let Some(now) = was.and_then(|w| side.renamed.get(&w)) {
            out = with(&out, key, &now.to_string());
        }
    }
    Ok(out)
}
