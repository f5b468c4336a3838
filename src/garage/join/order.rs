//! The records of both sides in one order.

use super::records::{Item, identity};
use crate::timeline::Kind;

/// Into the order of time. Of one second, each side's order holds; between the two, what was written first comes first.
pub(super) fn in_order(mut items: Vec<Item>) -> Vec<Item> {
    items.sort_by_key(|i| (i.lived.entry.at.seconds, i.from));
    let mut out: Vec<Item> = Vec::with_capacity(items.len());
    let mut rest = items.into_iter().peekable();
    while let Some(first) = rest.next() {
        let second = first.lived.entry.at.seconds;
        let mut group = vec![first];
        while let Some(next) = rest.next_if(|n| n.lived.entry.at.seconds == second) {
            group.push(next);
        }
        out.extend(weave(group));
    }
    for (n, item) in out.iter_mut().enumerate() {
        item.lived.order = n as u64;
        // The second of two cars' first sheets is a change of the car that was on record.
        if n > 0 && item.lived.entry.kind == Kind::Open {
            item.lived.entry.kind = Kind::Change;
        }
    }
    out
}

/// Records of one second.
fn weave(group: Vec<Item>) -> Vec<Item> {
    let list = |side: usize| {
        let mut all: Vec<usize> = (0..group.len()).filter(|i| group[*i].from[side].is_some()).collect();
        all.sort_by_key(|i| group[*i].from[side]);
        all
    };
    let lists = [list(0), list(1)];
    let key = |i: usize| (group[i].lived.entry.written.seconds, identity(&group[i].lived).to_owned());
    let (mut at, mut rank, mut next) = ([0, 0], vec![usize::MAX; group.len()], 0);
    loop {
        for side in [0, 1] {
            while lists[side].get(at[side]).is_some_and(|i| rank[*i] != usize::MAX) {
                at[side] += 1;
            }
        }
        let heads = [0, 1].map(|side| lists[side].get(at[side]).copied());
        // One both sides have waits until it is the next on both.
        let free = |i: usize| [0, 1].iter().all(|s| group[i].from[*s].is_none() || heads[*s] == Some(i));
        let first = |all: &mut dyn Iterator<Item = usize>| all.min_by_key(|i| key(*i));
        let chosen = first(&mut heads.iter().flatten().copied().filter(|i| free(*i)));
        let Some(chosen) = chosen.or_else(|| first(&mut heads.iter().flatten().copied())) else { break };
        rank[chosen] = next;
        next += 1;
    }
    let mut out: Vec<(usize, Item)> = rank.into_iter().zip(group).collect();
    out.sort_by_key(|(rank, _)| *rank);
    out.into_iter().map(|(_, item)| item).collect()
}
