//! The list of what to turn, on generated sheets: doing it step by step, by the amounts a hand is told, makes the one
//! sheet of the other.

use proptest::prelude::*;
use proptest::strategy::ValueTree;
use slipbook::schema::{
    Condition, Field, Num, Role, Scalar, Schema, Sheet, Sides, Takes, Value, check_value, rules, schema,
};
use slipbook::wrench::{List, Step, Wanted, Work, places, plan};
use std::collections::BTreeSet;

/// A car: the fields of one template, with what the wrench must know of its screws and holes.
#[derive(Debug, Clone)]
struct Garage {
    chassis: Vec<String>,
    from: Sheet,
    to: Sheet,
}

/// Seeds of one field on both sheets: which fields are there, where a value stands, how far the other is.
type Seeds = Vec<[u16; 6]>;

fn list(chassis: &[String], from: &Sheet, to: &Sheet) -> List {
    let (schema, rules) = (schema(), rules());
    plan(Wanted { schema, places: places(), rules, chassis, from, to, then: to, then_stale: &[], from_moved: &[] })
}

fn two_sheets() -> impl Strategy<Value = Garage> {
    let fields = schema().fields.len();
    (0..schema().templates.len(), prop::collection::vec(any::<[u16; 6]>(), fields), 2_u16..5)
        .prop_map(|(template, seeds, often)| generated(template, &seeds, often))
}

/// Two sheets of one car. Described values (threads, spacings) are on both alike; what is set walks from the first to
/// the second by what the field is turned in.
fn generated(template: usize, seeds: &Seeds, often: u16) -> Garage {
    let schema = schema();
    let chassis = schema.templates[template].chassis.clone();
    let fields = || schema.fields.iter().zip(seeds).filter(|(f, _)| f.on_chassis(&chassis));
    let (mut from, mut to) = (Sheet::default(), Sheet::default());
    // What kinds of things are on the car comes first, then screws and holes: how a thing is turned hangs on them.
    let pass = |f: &Field| match (f.takes() == Takes::Number, f.role == Role::Set) {
        (false, _) => 0,
        (true, false) => 1,
        (true, true) if f.follows.is_none() => 2,
        (true, true) => 3,
    };
    for now in 0..4 {
        for (field, seed) in fields().filter(|(f, _)| pass(f) == now) {
            let there = |which: usize| seed[which] % 8 != 0;
            let start = value(field, seed);
            let shared = field.role != Role::Set;
            let moved = !shared && seed[3] % often == 0;
            let end = match (&start, moved) {
                (start, false) => start.clone(),
                (start, true) => {
                    if !settled(&from, field) || !settled(&to, field) {
                        continue;
                    }
                    let mut with = from.clone();
                    with.set(&field.key, start.clone());
                    walked(&with, &to, field, start, seed)
                }
            };
            if there(4) {
                from.set(&field.key, start);
            }
            if there(if moved { 5 } else { 4 }) {
                to.set(&field.key, end);
            }
        }
    }
    schema.settle(&mut from);
    schema.settle(&mut to);
    Garage { chassis, from, to }
}

fn settled(sheet: &Sheet, field: &Field) -> bool {
    field.applies.holds(sheet)
}

/// A value whose sides are alike on every other field.
fn value(field: &Field, seed: &[u16; 6]) -> Value {
    let alike = seed[5].is_multiple_of(2);
    let at = |i: usize| scalar(field, Some(i), seed[if alike { 0 } else { i % 3 }]);
    match field.sides {
        Sides::One => Value::One(scalar(field, None, seed[0])),
        Sides::Pair | Sides::Corners | Sides::Named => {
            Value::Slots((0..field.slots.len()).map(|i| Some(at(i))).collect())
        }
        Sides::List => Value::List((0..2).filter_map(|i| at(i).num()).collect()),
        Sides::Rows => Value::Rows(vec![(0..field.columns.len()).map(|i| Some(at(i))).collect()]),
    }
}

fn scalar(field: &Field, slot: Option<usize>, seed: u16) -> Scalar {
    let takes = slot.filter(|_| field.sides != Sides::List).map_or(field.takes(), |i| field.slot_takes(i));
    match takes {
        Takes::Number => Scalar::Num(number(field, slot, seed)),
        Takes::Choice => Scalar::Text(field.choices[usize::from(seed) % field.choices.len()].clone()),
        Takes::Text => Scalar::Text(["pair A", "pair B", "soft bars"][usize::from(seed) % 3].to_owned()),
        Takes::Flag => Scalar::Flag(seed.is_multiple_of(2)),
    }
}

fn range(field: &Field, slot: Option<usize>) -> ([Num; 2], Num) {
    let own = slot.and_then(|i| field.slot_list().get(i));
    let of_field = field.usual.or(field.possible);
    let usual = own.and_then(|s| s.usual).or(of_field).unwrap_or([Num::ZERO, Num::int(10)]);
    (usual, own.and_then(|s| s.step).or(field.step).unwrap_or(Num::int(1)))
}

fn number(field: &Field, slot: Option<usize>, seed: u16) -> Num {
    let ([lo, hi], step) = range(field, slot);
    let room = (hi - lo).micros() / step.micros() + 1;
    Num::from_micros(lo.micros() + i64::from(seed) % room * step.micros())
}

/// What one count of the hand is worth on this sheet, by the words of the schema and by nothing of the program:
/// `None` where the step of the field itself is what a hand can set.
fn count_worth(sheet: &Sheet, field: &Field) -> Option<f64> {
    let holds = |w: &String| {
        let condition = Condition::parse(w).unwrap();
        condition.keys().all(|k| sheet.get(k).is_some()) && condition.holds(sheet)
    };
    let turn = field.turn.iter().find(|t| t.when.as_ref().is_none_or(holds))?;
    let number = |key: &Option<String>| schema().num_at(sheet, key.as_deref()?).map(Num::to_f64);
    if field.unit.as_deref() == Some(turn.by.as_str()) {
        return None;
    }
    match turn.by.as_str() {
        "hole" => number(&turn.spacing),
        "turns" => Some(0.25 / number(&turn.threads)?),
        "flats" => Some(1.0 / 6.0 / number(&turn.threads)?),
        _ => None,
    }
}

/// Another position of the field that a hand can reach from `start`.
fn walked(from: &Sheet, to: &Sheet, field: &Field, start: &Value, seed: &[u16; 6]) -> Value {
    // What one sheet does not say the other does.
    let mut both = from.clone();
    to.iter().for_each(|(key, value)| both.set(key, value.clone()));
    let step = |i: Option<usize>, s: &Scalar| -> Scalar {
        let by = i.map_or(seed[2], |i| if seed[5].is_multiple_of(3) { seed[2] } else { seed[i % 3] });
        let Scalar::Num(a) = s else { return scalar(field, i, by) };
        let ([lo, hi], least) = range(field, i);
        let worth = count_worth(&both, field);
        let count = i64::from(by % 9) - 4;
        let b = match worth {
            Some(worth) => Num::from_f64(a.to_f64() + count as f64 * worth).unwrap(),
            None => Num::from_micros(a.micros() + count * least.micros()),
        };
        // A tower has only so many holes.
        let hole = field.follows.as_deref().and_then(|k| schema().num_at(from, k).zip(schema().field(k)?.possible));
        let in_tower = hole.is_none_or(|(n, [first, last])| {
            let there = n.to_f64() + count as f64;
            worth.is_none() || (first.to_f64() <= there && there <= last.to_f64())
        });
        if b < lo || b > hi || !in_tower { s.clone() } else { Scalar::Num(b) }
    };
    match start {
        Value::One(s) => Value::One(step(None, s)),
        Value::Slots(v) => {
            Value::Slots(v.iter().enumerate().map(|(i, s)| s.as_ref().map(|s| step(Some(i), s))).collect())
        }
        Value::List(v) => Value::List(v.iter().map(|n| step(None, &Scalar::Num(*n)).num().unwrap()).collect()),
        Value::Rows(rows) => {
            let row = |r: &Vec<Option<Scalar>>| {
                r.iter()
                    .enumerate()
                    .map(|(i, s)| {
                        s.as_ref().map(|s| scalar(field, Some(i), seed[2].wrapping_add(u16::from(s.num().is_some()))))
                    })
                    .collect()
            };
            Value::Rows(rows.iter().map(row).collect())
        }
    }
}

/// What the car is set as once a hand has done the list: by the amount wherever it is told one.
fn done(list: &List, from: &Sheet) -> Sheet {
    let mut sheet = from.clone();
    for step in &list.steps {
        let field = schema().field(&step.field).unwrap();
        let value = after(step);
        match (step.slot, value) {
            (None, Some(value)) => sheet.set(&field.key, value),
            (None, None) => drop(sheet.remove(&field.key)),
            (Some(slot), value) => {
                let mut slots = match sheet.get(&field.key) {
                    Some(Value::Slots(v)) => v.clone(),
                    _ => vec![None; field.slots.len()],
                };
                slots[slot] = value.as_ref().and_then(Value::one).cloned();
                sheet.set(&field.key, Value::Slots(slots));
            }
        }
    }
    sheet
}

fn after(step: &Step) -> Option<Value> {
    let from = step.from.as_ref().and_then(Value::one).and_then(Scalar::num);
    match (&step.amount, from) {
        (Some(amount), Some(from)) => Some(Value::One(Scalar::Num(amount.carry(from)))),
        _ => step.to.clone(),
    }
}

/// What a hand sets, to the ten-thousandth: a sixth of a thread of an inch is no decimal number.
fn set_values(schema: &Schema, sheet: &Sheet) -> Vec<(String, Value)> {
    let near = |n: &Num| n.round(4);
    let scalar = |s: &Scalar| s.num().map_or(s.clone(), |n| Scalar::Num(near(&n)));
    let value = |v: &Value| match v {
        Value::One(s) => Value::One(scalar(s)),
        Value::Slots(v) => Value::Slots(v.iter().map(|s| s.as_ref().map(scalar)).collect()),
        other => other.clone(),
    };
    let set = sheet.in_order(schema).filter(|(f, _)| f.role == Role::Set);
    set.map(|(f, v)| (f.key.clone(), value(v))).collect()
}

/// Keys a step moves, be it through others.
fn moves(key: &str) -> BTreeSet<&'static str> {
    let mut out = BTreeSet::new();
    let mut open = vec![key];
    while let Some(key) = open.pop() {
        for moved in schema().field(key).into_iter().flat_map(|f| &f.moves) {
            if out.insert(moved.as_str()) {
                open.push(moved);
            }
        }
    }
    out
}

/// The sheet with left and right swapped.
fn mirrored(sheet: &Sheet) -> Sheet {
    let mut out = Sheet::default();
    for (field, value) in sheet.in_order(schema()) {
        let value = match value {
            Value::Slots(v) if field.sides == Sides::Pair => Value::Slots(v.iter().rev().cloned().collect()),
            other => other.clone(),
        };
        out.set(&field.key, value);
    }
    out
}

proptest! {
    #[test]
    fn the_list_done_makes_the_one_car_of_the_other(garage in two_sheets()) {
        let Garage { chassis, from, to } = &garage;
        for (field, value) in from.in_order(schema()).chain(to.in_order(schema())) {
            let verdict = check_value(schema(), field, value);
            prop_assert!(!matches!(verdict, slipbook::schema::Verdict::Refused(_)), "{verdict:?}");
        }
        let list = list(chassis, from, to);
        for step in &list.steps {
            prop_assert!(step.unreachable.is_none(), "{step:#?}");
        }
        prop_assert_eq!(set_values(schema(), &done(&list, from)), set_values(schema(), to));
        // Each value once, and each that is done by a hand at a place.
        let mut seen = BTreeSet::new();
        prop_assert!(list.steps.iter().all(|s| seen.insert((s.field.clone(), s.slot))));
        let placed: Vec<usize> = list.stretches.iter().flat_map(|s| s.steps.clone()).collect();
        let worked: Vec<usize> = (0..list.steps.len()).filter(|i| list.steps[*i].work != Work::OffRecord).collect();
        prop_assert_eq!(placed, worked);
        // Nobody lies under the car without being told what it must stand on.
        for stretch in list.stretches.iter().filter(|s| s.under) {
            let place = stretch.place.clone().unwrap();
            let rule = rules().iter().find(|r| r.job.as_ref().is_some_and(|j| j.places.contains(&place))).unwrap();
            let told = list.stretches.iter().flat_map(|s| &s.cautions).any(|c| c.rule == rule.id);
            prop_assert!(told, "{} at {}", rule.id, place);
        }
    }

    #[test]
    fn what_moves_something_comes_before_it(garage in two_sheets()) {
        let Garage { chassis, from, to } = &garage;
        let list = list(chassis, from, to);
        let turned: Vec<&Step> = list.steps.iter().filter(|s| s.is_turned()).collect();
        for (i, later) in turned.iter().enumerate() {
            for earlier in &turned[..i] {
                let (moves_it, back) = (moves(&later.field).contains(earlier.field.as_str()), moves(&earlier.field).contains(later.field.as_str()));
                // At the two wheels of an axle a setting that only moves settings of its own wheel may come later.
                let own_wheel = schema().field(&later.field).unwrap().moves.iter().all(|k| schema().field(k).unwrap().role == Role::Set);
                let apart = own_wheel && later.slot.is_some() && earlier.slot.is_some() && later.slot != earlier.slot;
                prop_assert!(!moves_it || back || apart, "{} moves {}, which was set before it", later.label, earlier.label);
            }
        }
    }

    #[test]
    fn nothing_differs_nothing_to_do(garage in two_sheets()) {
        let list = list(&garage.chassis, &garage.from, &garage.from);
        prop_assert_eq!(list, List::default().with_headlines(&garage.from));
    }

    #[test]
    fn a_mirrored_car_has_mirrored_steps(garage in two_sheets()) {
        let Garage { chassis, from, to } = &garage;
        let told = |list: &List, mirror: bool| {
            let one = |s: &Step| {
                let pair = schema().field(&s.field).unwrap().sides == Sides::Pair;
                let slot = s.slot.map(|i| if mirror && pair { 1 - i } else { i });
                (s.field.clone(), slot, s.words.clone(), s.change.clone(), s.minutes)
            };
            list.steps.iter().map(one).collect::<BTreeSet<_>>()
        };
        let (plain, other) = (list(chassis, from, to), list(chassis, &mirrored(from), &mirrored(to)));
        prop_assert_eq!(told(&plain, false), told(&other, true));
        prop_assert_eq!((plain.jobs, plain.minutes), (other.jobs, other.minutes));
        prop_assert_eq!(plain.remeasure.len(), other.remeasure.len());
    }
}

/// An empty list still says what did not move.
trait WithHeadlines {
    fn with_headlines(self, sheet: &Sheet) -> List;
}

impl WithHeadlines for List {
    fn with_headlines(mut self, sheet: &Sheet) -> List {
        let there = places().headline.iter().filter(|h| h.fields.iter().any(|k| sheet.get(k).is_some()));
        self.not_moved = there.map(|h| h.name.clone()).collect();
        self
    }
}

/// Most of what is generated is told as an amount: the test above would pass without any.
#[test]
fn amounts_are_told_and_counted_in_all_units() {
    let mut units = BTreeSet::new();
    let mut runner = proptest::test_runner::TestRunner::deterministic();
    for _ in 0..120 {
        let garage = two_sheets().new_tree(&mut runner).unwrap().current();
        let list = list(&garage.chassis, &garage.from, &garage.to);
        units.extend(list.steps.iter().filter_map(|s| s.amount.as_ref()).filter(|a| a.counted).map(|a| a.unit.clone()));
    }
    assert_eq!(units.iter().map(String::as_str).collect::<Vec<_>>(), ["clicks", "flats", "hole", "psi", "turns"]);
}
