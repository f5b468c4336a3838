//! Names for runs, and for versions: `v12`, a short id, a date, `best`, `last-good`, `previous`, `now`.

use super::history::History;
use super::{Error, Result};
use crate::slip::{Moment, Run, is_month, read_day};
use crate::timeline::{Version, VersionNumber};

/// Finds the version meant by `text`. `best` and `last_good` answer those two names (they need the runs judged).
pub fn version_named(
    history: &History,
    text: &str,
    now: Moment,
    best: &dyn Fn() -> Option<usize>,
    last_good: &dyn Fn() -> Option<usize>,
) -> Result<usize> {
    let versions = &history.timeline.versions;
    let count = versions.len();
    let lower = text.trim().to_lowercase();
    let none = |what: &str, help: &str| Error::usage(what.to_owned(), help.to_owned());
    match lower.as_str() {
        "now" | "head" => {
            return count.checked_sub(1).ok_or_else(|| none("the book has no version yet", "slipbook new"));
        }
        "previous" => {
            return count.checked_sub(2).ok_or_else(|| none("there is no version before this one", "slipbook history"));
        }
        "best" => {
            return best().ok_or_else(|| none("no setup has three clean runs yet, so none is best", "slipbook runs"));
        }
        "last-good" => {
            return last_good()
                .ok_or_else(|| none("no setup has three clean runs yet, so none ran well", "slipbook runs"));
        }
        _ => {}
    }
    if let Some(i) = lower.parse().ok().and_then(|n| history.timeline.by_number(&n)) {
        return Ok(i);
    }
    // A number that a version gave up when two laptops were joined, and nobody else has.
    if let Some(i) = lower.parse().ok().and_then(|n| versions.iter().position(|v| v.entry.was.contains(&n))) {
        return Ok(i);
    }
    let is_id = lower.len() >= 6 && lower.len() <= 40 && lower.bytes().all(|b| b.is_ascii_hexdigit());
    if is_id {
        let hits: Vec<usize> = (0..count)
            .filter(|i| {
                versions[*i].entry.id.starts_with(&lower) || versions[*i].blobs.iter().any(|b| b.starts_with(&lower))
            })
            .collect();
        match hits.as_slice() {
            [] => {}
            [one] => return Ok(*one),
            many => {
                let named: Vec<String> = many.iter().map(|i| versions[*i].number.to_string()).collect();
                return Err(none(&format!("`{text}` is the beginning of several ids"), &named.join(", ")));
            }
        }
    }
    if let Some(day) = read_day(&lower, now) {
        let on = versions.iter().rposition(|v| v.entry.at.race_day() <= day);
        return on.ok_or_else(|| none(&format!("the book begins after {day}"), "slipbook history --all"));
    }
    let number = |v: Option<&Version>| v.map_or(String::new(), |v| v.number.to_string());
    let (first, last) = (number(versions.first()), number(versions.last()));
    let range = if first == last { first.clone() } else { format!("{first} to {last}") };
    let help = format!("{range}, a short id, a date (jul 11, 2026-07-11, yesterday), best, last-good, previous or now");
    let before = |n: &VersionNumber| versions.first().is_some_and(|v| *n < v.number);
    let message = match lower.parse::<VersionNumber>() {
        Ok(n) if before(&n) => format!("`{text}` is before this book begins: it holds {range}"),
        _ if is_month(&lower) => format!("`{text}` is a month without its day"),
        _ => format!("`{text}` names no version of this book"),
    };
    Err(Error::usage(message, help))
}

/// Where a number also stands on the tape of another laptop: a sentence that says which version that is.
pub fn also_called(history: &History, text: &str) -> Option<String> {
    let number: crate::timeline::VersionNumber = text.trim().to_lowercase().parse().ok()?;
    let versions = &history.timeline.versions;
    let others: Vec<String> = versions
        .iter()
        .filter(|v| v.number != number && v.entry.was.contains(&number))
        .map(|v| format!("{} ({})", v.number, v.entry.by))
        .collect();
    (!others.is_empty()).then(|| format!("{number} on the tape of another laptop is {}", others.join(", ")))
}

/// The run of an id (or of its beginning), or made in the minute of a time.
pub fn run_named<'a>(history: &'a History, said: &str, at: Option<Moment>) -> Result<&'a Run> {
    let all = || history.runs.iter().map(|m| &m.run);
    if let Some(run) = all().find(|r| r.id == said) {
        return Ok(run);
    }
    let minute = |m: Moment| m.seconds.div_euclid(60);
    let by_id: Vec<&Run> = all().filter(|r| said.len() >= 4 && r.id.starts_with(said)).collect();
    let by_time = || all().filter(|r| at.is_some_and(|at| minute(r.at) == minute(at))).collect();
    let found: Vec<&Run> = if by_id.is_empty() { by_time() } else { by_id };
    match found.as_slice() {
        [one] => Ok(one),
        [] => {
            let near = at.and_then(|at| all().min_by_key(|r| (r.at.seconds - at.seconds).abs()));
            let help = near.map_or("slipbook runs lists them".to_owned(), |r| {
                format!("the nearest is the run of {} (id {})", r.at.words(None), r.id)
            });
            Err(Error::usage(format!("there is no run `{said}` on record"), help))
        }
        many => {
            let ids: Vec<&str> = many.iter().map(|r| r.id.as_str()).collect();
            Err(Error::usage(format!("`{said}` is several runs"), format!("by its id: {}", ids.join(", "))))
        }
    }
}
