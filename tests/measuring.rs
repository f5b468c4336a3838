//! Generated lines of changes, measurements, confirmations, notes and doubts: what is stale is what a plain forward count
//! says, and only what is set makes a setup.

use proptest::prelude::*;
use slipbook::schema::{Edit, Num, Places, Role, Scalar, Sheet, Typed, Value, apply, mark_of, schema};
use slipbook::slip::Moment;
use slipbook::timeline::{Entry, Facts, Kind, Step, Timeline, VersionNumber, Walk};
use std::collections::BTreeMap;

/// Set fields with what moves with them, each with two settings.
const SET: [(&str, &str, &str); 6] = [
    ("rear.limiter.height", "0.75", "1"),
    ("rear.tire.pressure", "12", "12.5"),
    ("front.spring.adjuster", "6", "9"),
    ("rear.leaf.front_clamps", "1", "2"),
    ("front.tire.pressure", "34", "36"),
    ("engine.timing", "33", "34"),
];
const MEASURED: [(&str, usize, &str); 6] = [
    ("rear.limiter.gap", 1, "0.5"),
    ("rear.height", 2, "26"),
    ("weight.corner", 4, "800"),
    ("rear.pinion.slope", 1, "-3"),
    ("front.height", 2, "25"),
    ("rear.tire.rollout", 2, "88"),
];

#[derive(Debug, Clone)]
enum Event {
    /// A hand sets a field, or one side of it, one way or the other.
    Set(usize, bool, Option<bool>),
    /// A measured slot is read: so many steps above its least.
    Read(usize, usize, u8),
    /// It is found as it was.
    Confirm(usize, usize),
    /// Its number is in doubt from now on.
    Doubt(usize, usize),
    Note(u8),
    /// A change and a reading in one record.
    Both(usize, bool, usize, usize, u8),
}

fn event() -> impl Strategy<Value = Event> {
    let (set, measured) = (0..SET.len(), 0..MEASURED.len());
    prop_oneof![
        4 => (set.clone(), any::<bool>(), any::<Option<bool>>()).prop_map(|(f, way, side)| Event::Set(f, way, side)),
        4 => (measured.clone(), 0..4usize, 0..3u8).prop_map(|(f, slot, n)| Event::Read(f, slot, n)),
        2 => (measured.clone(), 0..4usize).prop_map(|(f, slot)| Event::Confirm(f, slot)),
        1 => (measured.clone(), 0..4usize).prop_map(|(f, slot)| Event::Doubt(f, slot)),
        1 => any::<u8>().prop_map(Event::Note),
        1 => (set, any::<bool>(), measured, 0..4usize, 0..3u8).prop_map(|(f, w, m, s, n)| Event::Both(f, w, m, s, n)),
    ]
}

fn one(text: &str) -> Value {
    Value::One(Scalar::Num(Num::parse(text).unwrap()))
}

fn set(i: usize, way: bool, side: Option<bool>) -> Edit {
    let (key, a, b) = SET[i];
    let slots = schema().field(key).unwrap().slots.len();
    let slot = side.filter(|_| slots == 2).map(usize::from);
    Edit { key: key.to_owned(), slot, typed: Typed::Reading(one(if way { a } else { b })) }
}

fn slot_of(m: usize, slot: usize) -> Option<usize> {
    (MEASURED[m].1 > 1).then_some(slot % MEASURED[m].1)
}

fn read(m: usize, slot: usize, n: u8, unsure: bool) -> Edit {
    let least = Num::parse(MEASURED[m].2).unwrap();
    let value = Value::One(Scalar::Num(Num::from_micros(least.micros() + 250_000 * i64::from(n))));
    let typed = if unsure { Typed::Doubtful(value, Places::from([0])) } else { Typed::Reading(value) };
    Edit { key: MEASURED[m].0.to_owned(), slot: slot_of(m, slot), typed }
}

/// One record: the sheet after it and the paths named as measured.
fn record(sheet: &Sheet, event: &Event) -> (Sheet, Vec<String>) {
    let path = |m: usize, slot: usize| schema().path(schema().field(MEASURED[m].0).unwrap(), slot_of(m, slot));
    let there = |m: usize, slot: usize| Typed::of(sheet, MEASURED[m].0, slot_of(m, slot));
    let (edits, measured) = match event {
        Event::Set(f, way, side) => (vec![set(*f, *way, *side)], vec![]),
        Event::Read(m, slot, n) => (vec![read(*m, *slot, *n, false)], vec![path(*m, *slot)]),
        Event::Both(f, way, m, slot, n) => {
            (vec![set(*f, *way, None), read(*m, *slot, *n, false)], vec![path(*m, *slot)])
        }
        Event::Confirm(m, slot) => match there(*m, *slot) {
            Typed::Reading(_) => (vec![], vec![path(*m, *slot)]),
            _ => (vec![], vec![]),
        },
        Event::Doubt(m, slot) => match there(*m, *slot) {
            Typed::Reading(v) => {
                let typed = Typed::Doubtful(v, Places::from([0]));
                (vec![Edit { key: MEASURED[*m].0.to_owned(), slot: slot_of(*m, *slot), typed }], vec![])
            }
            _ => (vec![], vec![]),
        },
        Event::Note(n) => {
            let typed = Typed::Reading(Value::One(Scalar::Text(format!("note {n}"))));
            (vec![Edit { key: "notes".to_owned(), slot: None, typed }], vec![])
        }
    };
    (apply(schema(), sheet, &edits).unwrap().sheet, measured)
}

struct Line {
    records: Vec<(Entry, Sheet)>,
}

fn line(events: &[Event]) -> Line {
    let screw = Edit {
        key: "rear.limiter.kind".to_owned(),
        slot: None,
        typed: Typed::Reading(Value::One(Scalar::Text("screw".to_owned()))),
    };
    let mut first = vec![screw];
    first.extend((0..SET.len()).map(|f| set(f, true, None)));
    let mut sheet = apply(schema(), &Sheet::default(), &first).unwrap().sheet;
    let mut records = Vec::new();
    let mut versions = 0;
    for i in 0..=events.len() {
        let (after, measured) = if i == 0 { (sheet.clone(), vec![]) } else { record(&sheet, &events[i - 1]) };
        let turned = i == 0 || after.of_roles(schema(), &[Role::Set]) != sheet.of_roles(schema(), &[Role::Set]);
        versions += u32::from(turned);
        let at = Moment { seconds: 60 * i as i64, offset_seconds: 0 };
        let entry = Entry {
            id: i.to_string(),
            kind: if i == 0 {
                Kind::Open
            } else if turned {
                Kind::Change
            } else {
                Kind::Measured
            },
            number: turned.then(|| VersionNumber::plain(versions)),
            at,
            written: at,
            by: "Ro".to_owned(),
            words: Vec::new(),
            why: None,
            back_to: None,
            measured,
            since: None,
            time_unknown: false,
            mended: Vec::new(),
            replaces: Vec::new(),
            was: Vec::new(),
            blob: i.to_string(),
        };
        records.push((entry, after.clone()));
        sheet = after;
    }
    Line { records }
}

impl Line {
    fn now(&self) -> &Sheet {
        &self.records.last().unwrap().1
    }

    /// Each stale slot with the number of changes that moved it since.
    fn stale(&self) -> BTreeMap<(String, Option<usize>), usize> {
        let number = VersionNumber::plain(1);
        let mut walk = Walk::new(schema(), self.now());
        for (i, (entry, after)) in self.records.iter().enumerate().rev() {
            if walk.is_done() {
                break;
            }
            let before = i.checked_sub(1).map(|b| &self.records[b].1);
            walk.back(Step { entry, version: &number, before, after });
        }
        let mut out = BTreeMap::new();
        for s in walk.finish() {
            let slots = if s.slots.is_empty() { vec![None] } else { s.slots.iter().map(|i| Some(*i)).collect() };
            out.extend(slots.into_iter().map(|slot| ((s.key.clone(), slot), s.causes.len())));
        }
        out
    }

    /// The same, counted forward.
    fn counted(&self) -> BTreeMap<(String, Option<usize>), usize> {
        let mut moved: BTreeMap<(String, Option<usize>), usize> = BTreeMap::new();
        let value = |sheet: &Sheet, key: &str, slot: Option<usize>| Typed::of(sheet, key, slot);
        for (i, (entry, after)) in self.records.iter().enumerate() {
            let empty = Sheet::default();
            let before = i.checked_sub(1).map_or(&empty, |b| &self.records[b].1);
            for (key, slots, _) in MEASURED {
                for slot in 0..slots {
                    let slot = (slots > 1).then_some(slot);
                    let at = (key.to_owned(), slot);
                    let (was, is) = (value(before, key, slot), value(after, key, slot));
                    let path = schema().path(schema().field(key).unwrap(), slot);
                    let number = |t: &Typed| match t {
                        Typed::Reading(v) | Typed::Doubtful(v, _) => Some(v.clone()),
                        _ => None,
                    };
                    let sure = matches!((&was, &is), (Typed::Doubtful(..), Typed::Reading(_)));
                    if number(&is).is_none() {
                        moved.remove(&at);
                    } else if number(&was) != number(&is) || sure || entry.measured.contains(&path) {
                        moved.insert(at, 0);
                    } else {
                        let turned = |f: &&slipbook::schema::Field| {
                            f.role == Role::Set
                                && f.moves.iter().any(|m| m == key || *m == path)
                                && before.get(&f.key) != after.get(&f.key)
                        };
                        let turned = schema().fields.iter().any(|f| turned(&f));
                        *moved.entry(at).or_default() += usize::from(turned);
                    }
                }
            }
        }
        moved.retain(|_, n| *n > 0);
        moved
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 256, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn what_is_stale_is_what_a_count_says(events in prop::collection::vec(event(), 0..40)) {
        let line = line(&events);
        prop_assert_eq!(line.stale(), line.counted());
    }

    /// Measured values, confirmations, notes and doubts never split a setup.
    #[test]
    fn only_what_is_set_makes_a_setup(events in prop::collection::vec(event(), 0..40)) {
        let line = line(&events);
        for pair in line.records.windows(2) {
            let same = pair[0].1.of_roles(schema(), &[Role::Set]) == pair[1].1.of_roles(schema(), &[Role::Set]);
            prop_assert_eq!(same, mark_of(schema(), &pair[0].1) == mark_of(schema(), &pair[1].1));
        }
        let timeline = Timeline::build(schema(), line.records.clone());
        let mut settings: Vec<Sheet> = Vec::new();
        for (_, sheet) in &line.records {
            let set = sheet.of_roles(schema(), &[Role::Set]);
            if !settings.contains(&set) {
                settings.push(set);
            }
        }
        prop_assert_eq!(timeline.setups().len(), settings.len());
    }

    /// A confirmation makes a value a fact, whatever came before; a change of what moves it, whatever came after, does not.
    #[test]
    fn a_confirmation_and_a_change_in_either_order(events in prop::collection::vec(event(), 0..20), n in 0..3u8) {
        let read = Event::Read(0, 0, n);
        let turn = |line: &Line| {
            let lower = line.now().num("rear.limiter.height") == Num::parse("0.75");
            Event::Set(0, !lower, None)
        };
        let mut first = events.clone();
        first.push(read);
        let turned = turn(&line(&first));
        let key = ("rear.limiter.gap".to_owned(), None);
        let with = |more: &[Event]| line(&[&first[..], more].concat());
        prop_assert!(!with(&[turned.clone(), Event::Confirm(0, 0)]).stale().contains_key(&key));
        prop_assert!(with(&[Event::Confirm(0, 0), turned.clone()]).stale().contains_key(&key));
        let both = with(&[turned, Event::Confirm(0, 0), Event::Doubt(0, 0)]);
        prop_assert_eq!(Facts::new(schema(), both.now(), &[]).usable("rear.limiter.gap"), None);
    }
}
