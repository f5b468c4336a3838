//! The order of the jobs: what moves something comes before it is set, and a hand stays where it stands as long as there
//! is something to do.

use crate::schema::{Field, Role, Schema};
use std::collections::{BTreeMap, BTreeSet, HashMap};

/// One job: a field, or one slot of it, at a place.
#[derive(Debug, Clone, Copy)]
pub(super) struct Node<'a> {
    pub field: &'a Field,
    pub slot: Option<usize>,
    /// The turn of the place, then the side of it: none, left, right.
    pub at: (usize, usize),
}

/// What each field moves, be it through another that it moves: keys.
pub(super) fn moved_by(schema: &Schema, key: &str) -> BTreeSet<String> {
    let mut out = BTreeSet::new();
    let mut open = vec![key.to_owned()];
    while let Some(next) = open.pop() {
        for moved in schema.field(&next).into_iter().flat_map(|f| &f.moves) {
            if moved != key && out.insert(moved.clone()) {
                open.push(moved.clone());
            }
        }
    }
    out
}

/// Whether what it moves is set at the same wheel: then the two sides have nothing to do with each other.
fn at_one_wheel(schema: &Schema, field: &Field) -> bool {
    field.moves.iter().all(|k| schema.field(k).is_some_and(|f| f.role == Role::Set))
}

/// The nodes in order: their places in `nodes`.
///
/// Where two fields move each other, the one that stands first on the sheet comes first.
pub(super) fn in_order(schema: &Schema, nodes: &[Node]) -> Vec<usize> {
    let moves: HashMap<&str, BTreeSet<String>> =
        nodes.iter().map(|n| (n.field.key.as_str(), moved_by(schema, &n.field.key))).collect();
    let reaches =
        |a: &Field, b: &Field| a.key != b.key && moves.get(a.key.as_str()).is_some_and(|m| m.contains(&b.key));
    let before = |a: &Node, b: &Node| {
        let sides_apart = a.at.0 == b.at.0 && a.slot.is_some() && b.slot.is_some() && a.slot != b.slot;
        if sides_apart && a.at.1 != b.at.1 && at_one_wheel(schema, a.field) {
            return false;
        }
        match (reaches(a.field, b.field), reaches(b.field, a.field)) {
            (true, false) => true,
            (true, true) => schema.order(&a.field.key) < schema.order(&b.field.key),
            (false, _) => false,
        }
    };
    let mut waits: BTreeMap<usize, Vec<usize>> =
        (0..nodes.len()).map(|j| (j, (0..nodes.len()).filter(|i| before(&nodes[*i], &nodes[j])).collect())).collect();
    let mut out: Vec<usize> = Vec::new();
    let mut here: Option<(usize, usize)> = None;
    while !waits.is_empty() {
        let free = |i: &&usize| waits.get(i).is_some_and(|w| w.iter().all(|b| !waits.contains_key(b)));
        // Nothing is free only where the jobs wait for each other in a ring; then the sheet decides.
        let ready: Vec<usize> = match waits.keys().filter(free).copied().collect::<Vec<_>>() {
            none if none.is_empty() => waits.keys().take(1).copied().collect(),
            some => some,
        };
        let key = |i: &usize| (Some(nodes[*i].at) != here, nodes[*i].at, schema.order(&nodes[*i].field.key), *i);
        let Some(next) = ready.into_iter().min_by_key(key) else { break };
        here = Some(nodes[next].at);
        waits.remove(&next);
        out.push(next);
    }
    out
}
