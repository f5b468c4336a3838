//! The physics of driveline and tires against the check values of `tests/reference/references.toml`, topics D, C.tire and
//! C.trap_rpm: every number of every entry is checked against ours, with the tolerance of the entry. None is left out.

#[path = "../air_reference/book.rs"]
#[allow(dead_code, reason = "one book for the whole file; the topics of air use more of it")]
mod book;
mod forms;
mod joints;
mod shafts;
mod tires;

use book::{Check, Entry, entries, number};
use std::collections::BTreeMap;
use toml::Value;

/// What checks a topic.
fn checker(topic: &str) -> Option<fn(&mut Check)> {
    Some(match topic {
        "D.operating_angle" => joints::operating_angle,
        "D.compound" => joints::compound,
        "D.cardan" => joints::cardan,
        "D.residual" => joints::residual,
        "D.critical_speed" => shafts::critical_speed,
        "C.tire" => tires::tire,
        "C.trap_rpm" => tires::trap_rpm,
        _ => return None,
    })
}

fn driveline() -> Vec<Entry> {
    entries()
        .into_iter()
        .filter(|e| e.topic.starts_with("D.") || ["C.tire", "C.trap_rpm"].contains(&&*e.topic))
        .collect()
}

/// What is wrong with an entry, and how many of its numbers were checked.
fn checked(entry: &Entry) -> (usize, Vec<String>) {
    let Some(topic) = checker(&entry.topic) else {
        return (0, vec![format!("{}: topic {} has no check", entry.id, entry.topic)]);
    };
    let mut check = Check::new(entry);
    topic(&mut check);
    let (numbers, mut wrong) = check.done();
    if numbers == 0 {
        wrong.push(format!("{}: no number of it was checked", entry.id));
    }
    (numbers, wrong)
}

#[test]
fn every_value_of_driveline_and_tires() {
    let all = driveline();
    assert!(all.len() >= 38, "only {} entries", all.len());
    let (mut wrong, mut counts) = (Vec::new(), BTreeMap::<&str, usize>::new());
    for entry in &all {
        let (numbers, said) = checked(entry);
        *counts.entry(&entry.topic).or_default() += numbers;
        wrong.extend(said);
    }
    assert!(wrong.is_empty(), "{} wrong\n{}", wrong.len(), wrong.join("\n"));
    assert!(counts.values().sum::<usize>() >= 140, "{counts:?}");
}

/// Each number of an entry off by three tolerances, one at a time: what it was and where it stands.
fn spoilt(entry: &Entry) -> Vec<(String, Value)> {
    let off = |x: f64| x + 3.0 * entry.atol.unwrap_or(0.0).max(entry.rtol.unwrap_or(0.0) * x.abs()).max(1e-11);
    let mut out = Vec::new();
    for (key, value) in &entry.expected {
        match value {
            Value::Array(list) => {
                for (i, x) in list.iter().enumerate() {
                    let mut list = list.clone();
                    list[i] = Value::Float(off(number(x).unwrap()));
                    out.push((key.clone(), Value::Array(list)));
                }
            }
            _ => out.push((key.clone(), Value::Float(off(number(value).unwrap())))),
        }
    }
    out
}

/// The net is fine enough: any value that is off by three tolerances is caught, and its kind and source are said.
#[test]
fn a_wrong_value_is_caught() {
    let mut caught = 0;
    for mut entry in driveline() {
        for (key, value) in spoilt(&entry) {
            let was = entry.expected.insert(key.clone(), value).unwrap();
            let (_, said) = checked(&entry);
            let names = |s: &&String| s.starts_with(&format!("{}.{key}", entry.id));
            let line = said.iter().find(names).unwrap_or_else(|| panic!("{}.{key}: {said:?}", entry.id));
            assert!(line.contains(&entry.source) && line.contains(&entry.kind), "{line}");
            entry.expected.insert(key, was);
            caught += 1;
        }
    }
    assert!(caught >= 131, "{caught}");
}

/// Other answers have tolerances of their own, none of them beyond 1 %, or 0.1 degree.
#[test]
fn a_wrong_cross_value_is_caught() {
    let mut caught = 0;
    for mut entry in driveline() {
        for (key, was) in entry.cross.clone() {
            let off = |x: f64| Value::Float(x * 1.05 + 0.15);
            let wrong = match &was {
                Value::Array(list) => Value::Array(list.iter().map(|x| off(number(x).unwrap())).collect()),
                _ => off(number(&was).unwrap()),
            };
            entry.cross.insert(key.clone(), wrong);
            let (_, said) = checked(&entry);
            assert!(said.iter().any(|s| s.starts_with(&format!("{}.cross.{key}", entry.id))), "{}.{key}", entry.id);
            entry.cross.insert(key, was);
            caught += 1;
        }
    }
    assert!(caught >= 12, "{caught}");
}

/// A key nobody knows, a topic nobody knows, inputs nobody knows.
#[test]
fn what_is_new_fails() {
    for mut entry in driveline() {
        entry.expected.insert("nobody_knows".to_owned(), Value::Float(1.0));
        entry.cross.insert("nobody_knows".to_owned(), Value::Float(1.0));
        let (_, said) = checked(&entry);
        for key in ["nobody_knows", "cross.nobody_knows"] {
            assert!(said.iter().any(|s| s.starts_with(&format!("{}.{key} is neither", entry.id))), "{}", entry.id);
        }
        entry.inputs.clear();
        assert!(!checked(&entry).1.is_empty(), "{}", entry.id);
        entry.topic = "D.nobody_knows".to_owned();
        assert_eq!(checked(&entry), (0, vec![format!("{}: topic D.nobody_knows has no check", entry.id)]));
    }
}
