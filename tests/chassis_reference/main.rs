//! The statics of a chassis against the check values of `tests/reference/references.toml`, topic C: every number of every
//! entry, with the tolerance of the entry, is checked against ours or left with a reason.

/// The file's reader, which the values of air use too.
#[path = "../air_reference/book.rs"]
#[allow(dead_code, reason = "of the two users not each needs all of it")]
mod book;
mod leaves;
mod limiter;
mod links;
mod loads;
mod springs;

use book::{Check, Entry, entries};
use std::collections::BTreeMap;

/// Topics of C that are checked where the driveline is.
const ELSEWHERE: [&str; 2] = ["C.tire", "C.trap_rpm"];

/// What checks a topic.
fn checker(topic: &str) -> Option<fn(&mut Check)> {
    Some(match topic {
        "C.corner_weights" => loads::corner_weights,
        "C.cg_height" => loads::cg_height,
        "C.load_transfer" => loads::load_transfer,
        "C.traction_limit" => loads::traction_limit,
        "C.mass_factor" => loads::mass_factor,
        "C.pitch" => loads::pitch,
        "C.torque_reaction" => loads::torque_reaction,
        "C.preload" => loads::preload,
        "C.torsion_bar" => springs::torsion_bar,
        "C.coil" => springs::coil,
        "C.shock" => springs::shock,
        "C.ride_freq" => springs::ride,
        "C.leaf" => leaves::rates,
        "C.leaf_equiv" => leaves::equivalent,
        "C.leaf_seat" => leaves::seat,
        "C.leaf_anti_squat" => leaves::anti_squat,
        "C.leaf_launch" => leaves::launch,
        "C.pinion_limiter" => limiter::limiter,
        "C.anti_squat" => links::anti_squat,
        _ => return None,
    })
}

/// A yes or no under `key`, where there is one.
fn truth(c: &mut Check, key: &str, ours: bool) {
    if let Some(wanted) = c.value(key) {
        c.look(key, (wanted.as_bool() != Some(ours)).then(|| format!("is {wanted}, ours {ours}")));
    }
}

fn of_the_chassis() -> Vec<Entry> {
    entries().into_iter().filter(|e| e.topic.starts_with("C.") && !ELSEWHERE.contains(&e.topic.as_str())).collect()
}

#[test]
fn every_value_of_the_chassis() {
    let all = of_the_chassis();
    assert!(all.len() >= 106, "only {} entries", all.len());
    let (mut wrong, mut checked) = (Vec::new(), BTreeMap::<String, usize>::new());
    for entry in &all {
        let mut check = Check::new(entry);
        match checker(&entry.topic) {
            Some(topic) => topic(&mut check),
            None => wrong.push(format!("{}: topic {} has no check", entry.id, entry.topic)),
        }
        let (numbers, said) = check.done();
        if numbers == 0 {
            wrong.push(format!("{}: no number of it was checked", entry.id));
        }
        *checked.entry(entry.topic.clone()).or_default() += numbers;
        wrong.extend(said);
    }
    assert!(wrong.is_empty(), "{} wrong\n{}", wrong.len(), wrong.join("\n"));
    assert!(checked.len() == 19 && checked.values().sum::<usize>() > 400, "{checked:?}");
}

/// The net is fine enough: each value in turn, off by three tolerances, is caught, and so is a key nobody knows.
#[test]
fn a_wrong_value_is_caught() {
    let mut caught = 0;
    for entry in of_the_chassis() {
        let topic = checker(&entry.topic).unwrap();
        // The one tolerance that stands in words.
        let rtol = if entry.id == "leaf_3link" { Some(0.05) } else { entry.rtol };
        for (key, value) in &entry.expected {
            let mut changed = Entry { expected: entry.expected.clone(), ..copy(&entry) };
            let off = match book::number(value) {
                Some(x) => {
                    let off = 3.0 * entry.atol.unwrap_or(0.0).max(rtol.unwrap_or(0.0) * x.abs());
                    toml::Value::Float(x + if off == 0.0 { 1e-9 } else { off })
                }
                None => toml::Value::Boolean(!value.as_bool().unwrap()),
            };
            changed.expected.insert(key.clone(), off);
            changed.expected.insert("nobody_knows".to_owned(), toml::Value::Float(1.0));
            let mut check = Check::new(&changed);
            topic(&mut check);
            let (_, said) = check.done();
            assert!(said.iter().any(|s| s.contains("nobody_knows")), "{}: {said:?}", entry.id);
            let found = said.iter().any(|s| s.contains(&format!("{}.{key} ", entry.id)) && s.contains(&entry.source));
            // A trade's constant is 0.8 % from ours, the width of its tolerance 1 %: caught on one side alone.
            assert!(found || entry.kind == "common-practice", "{}.{key}: {said:?}", entry.id);
            caught += usize::from(found);
        }
    }
    assert!(caught > 370, "{caught}");
}

fn copy(entry: &Entry) -> Entry {
    Entry {
        id: entry.id.clone(),
        topic: entry.topic.clone(),
        kind: entry.kind.clone(),
        source: entry.source.clone(),
        tolerance: entry.tolerance.clone(),
        inputs: entry.inputs.clone(),
        expected: entry.expected.clone(),
        cross: entry.cross.clone(),
        rtol: entry.rtol,
        atol: entry.atol,
    }
}
