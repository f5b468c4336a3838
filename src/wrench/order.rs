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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::schema::schema;

    /// Labels of jobs at these fields, slots and places, in order.
    fn order(schema: &Schema, jobs: &[(&str, Option<usize>, (usize, usize))]) -> Vec<String> {
        let nodes: Vec<Node> = jobs
            .iter()
            .map(|(key, slot, at)| Node { field: schema.field(key).unwrap(), slot: *slot, at: *at })
            .collect();
        let side = |slot: Option<usize>| slot.map_or("", |s| [" left", " right"][s]);
        let told = |i: usize| format!("{}{}", nodes[i].field.key.rsplit('.').next().unwrap(), side(nodes[i].slot));
        in_order(schema, &nodes).into_iter().map(told).collect()
    }

    #[test]
    fn a_hand_stays_at_a_wheel_where_nothing_but_that_wheel_is_moved() {
        let (left, right) = ((4, 1), (4, 2));
        let jobs = [
            ("front.align.caster", Some(0), left),
            ("front.align.caster", Some(1), right),
            ("front.align.camber", Some(0), left),
            ("front.align.camber", Some(1), right),
        ];
        assert_eq!(order(schema(), &jobs), ["caster left", "camber left", "caster right", "camber right"]);
        // A spring seat moves the height of the car: both seats before either caster.
        let jobs = [
            ("front.spring.seat", Some(0), left),
            ("front.spring.seat", Some(1), right),
            ("front.align.caster", Some(0), left),
            ("front.align.caster", Some(1), right),
        ];
        assert_eq!(order(schema(), &jobs), ["seat left", "seat right", "caster right", "caster left"]);
    }

    #[test]
    fn what_moves_goes_before_the_order_of_the_places() {
        let jobs = [
            ("front.align.toe", None, (0, 0)),
            ("front.tire.name", None, (5, 0)),
            ("rear.spring.seat", Some(0), (2, 1)),
        ];
        assert_eq!(order(schema(), &jobs), ["seat left", "name", "toe"]);
    }

    #[test]
    fn jobs_that_move_each_other_in_a_ring_stand_as_on_the_sheet() {
        let own = |name: &str, moves: &str| {
            format!(
                "key = 'own.{name}'\nlabel = '{name}'\nring = 'sheet'\nrole = 'set'\nkind = 'number'\nmoves = ['own.{moves}']"
            )
        };
        let field = |text: String| toml::from_str::<Field>(&text).unwrap();
        let schema = schema().with_own(vec![field(own("c", "a")), field(own("a", "b")), field(own("b", "c"))]).unwrap();
        let jobs = [("own.c", None, (3, 0)), ("own.a", None, (2, 0)), ("own.b", None, (1, 0))];
        assert_eq!(order(&schema, &jobs), ["c", "a", "b"]);
    }
}
