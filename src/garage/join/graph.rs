//! Two histories: what they have in common, and what each wrote of its own.

use super::super::line::written_behind;
use super::super::{Error, Result};
use crate::store::{Clock, Commit, Id, Store};
use std::collections::{HashMap, HashSet};

/// The most points two histories may both have gone on from.
const MOST_BASES: usize = 8;

/// How two histories stand to each other.
pub(super) enum Stand {
    /// They are the same.
    Same,
    /// All the other one has is in this one; so many records of this one are not in the other.
    Had(usize),
    /// The other one has all of this one and these records more, newest first.
    Ahead(Vec<Commit>),
    /// Each has records of its own.
    Apart(Apart),
    /// They have no record in common.
    Strangers(Apart),
}

/// Where two histories went apart.
pub(super) struct Apart {
    /// The newest records both have; more than one where both were joined from the same two before. None of strangers.
    pub bases: Vec<Id>,
    /// What each wrote since: newest first.
    pub own: [Vec<Commit>; 2],
}

type Log = HashMap<Id, Commit>;

/// Everything that was written up to a record; the lines that only hold records once more are left out.
fn written(store: &Store, tip: Id) -> Result<Log> {
    let mut out = Log::new();
    let mut queue = vec![tip];
    while let Some(id) = queue.pop() {
        if out.contains_key(&id) {
            continue;
        }
        let commit = store.commit(id)?;
        queue.extend(written_behind(&commit));
        out.insert(id, commit);
    }
    Ok(out)
}

/// Compares the history up to `tips[0]` in one's own book with that up to `tips[1]` in another, which `clock` is for.
pub(super) fn stand(stores: [&Store; 2], tips: [Id; 2], clock: &Clock) -> Result<Stand> {
    if tips[0] == tips[1] {
        return Ok(Stand::Same);
    }
    let logs = [clock.paused(|| written(stores[0], tips[0]))?, written(stores[1], tips[1])?];
    let own = [0, 1].map(|i| {
        let mut own: Vec<Commit> = logs[i].values().filter(|c| !logs[1 - i].contains_key(&c.id)).cloned().collect();
        own.sort_by_key(|c| std::cmp::Reverse((c.written.seconds, c.id)));
        own
    });
    if own[1].is_empty() {
        return Ok(Stand::Had(own[0].len()));
    }
    if own[0].is_empty() {
        let [_, more] = own;
        return Ok(Stand::Ahead(more));
    }
    let common = |id: &Id| logs[0].contains_key(id) && logs[1].contains_key(id);
    let inner: HashSet<Id> = logs[0].values().filter(|c| common(&c.id)).flat_map(written_behind).collect();
    let mut bases: Vec<Id> = logs[0].keys().filter(|id| common(id) && !inner.contains(id)).copied().collect();
    bases.sort_unstable();
    if bases.len() > MOST_BASES {
        return Err(Error::data(
            format!("the two books were joined in {} ways at once before", bases.len()),
            "join each with one book first; nothing was changed",
        ));
    }
    let apart = Apart { own, bases };
    Ok(if apart.bases.is_empty() { Stand::Strangers(apart) } else { Stand::Apart(apart) })
}
