//! The physics of air against the check values of `tests/reference/references.toml`, topics A and B: every number of every
//! entry, with the tolerance of the entry, is checked against ours or left with a reason.

mod book;
mod forms;
mod grid;
mod heights;
mod reports;
mod runs;
mod water;

use book::{Check, Entry, entries};
use std::collections::BTreeMap;

/// Entries that nothing of ours answers.
const LEFT: &[(&str, &str)] = &[
    ("boost_exp", "a guide without source; the share of density an engine takes stands in the schema, as its own data"),
    ("if97_ps_500", "steam at 227 C: no air, and no form of ours reaches there"),
    ("if97_ps_600", "steam at 327 C: no air, and no form of ours reaches there"),
];

/// What checks a topic.
fn checker(topic: &str) -> Option<fn(&mut Check)> {
    Some(match topic {
        "A.isa" => heights::atmosphere,
        "A.pressure_altitude" => heights::pressure_altitude,
        "A.density_altitude" => heights::density_altitude,
        "A.altimeter" => heights::altimeter,
        "A.es" => water::saturation,
        "A.dewpoint" => water::dew_point,
        "A.wetbulb" => water::wet_bulb,
        "A.humidity_ratio" => water::humidity_ratio,
        "A.rho" => grid::density,
        "A.rho_grid" => grid::grid,
        "A.power_cf" => grid::corrections,
        "A.metar" => reports::report,
        "A.chain" => reports::chain,
        "B.cube_root" => runs::cube_root,
        "B.density_correction" => runs::density_correction,
        "B.two_phase" => runs::two_phase,
        "B.eighth_quarter" => runs::eighth_quarter,
        "B.const_power" => runs::constant_power,
        "B.splits" => runs::splits,
        _ => return None,
    })
}

fn air_and_runs() -> Vec<Entry> {
    entries().into_iter().filter(|e| e.topic.starts_with("A.") || e.topic.starts_with("B.")).collect()
}

#[test]
fn every_value_of_air_and_runs() {
    let all = air_and_runs();
    assert!(all.len() > 350, "only {} entries", all.len());
    let (mut wrong, mut checked) = (Vec::new(), BTreeMap::<String, usize>::new());
    for entry in all.iter().filter(|e| LEFT.iter().all(|(id, _)| *id != e.id)) {
        let mut check = Check::new(entry);
        match checker(&entry.topic) {
            Some(topic) => topic(&mut check),
            None => wrong.push(format!("{}: topic {} has no check", entry.id, entry.topic)),
        }
        let (numbers, said) = check.done();
        if numbers == 0 {
            wrong.push(format!("{}: no number of it was checked; list it in LEFT with the reason", entry.id));
        }
        *checked.entry(entry.topic.clone()).or_default() += numbers;
        wrong.extend(said);
    }
    assert!(wrong.is_empty(), "{} wrong\n{}", wrong.len(), wrong.join("\n"));
    assert!(checked.values().sum::<usize>() > 900, "{checked:?}");
}

#[test]
fn what_is_left_is_in_the_file_and_has_a_reason() {
    let all = air_and_runs();
    for (id, why) in LEFT {
        assert!(all.iter().any(|e| e.id == *id), "{id} is gone");
        assert!(why.len() > 20);
    }
}

/// The net is fine enough: a value that is off by three tolerances, or a key nobody knows, is caught.
#[test]
fn a_wrong_value_is_caught() {
    let mut caught = 0;
    for mut entry in air_and_runs() {
        let Some(topic) = checker(&entry.topic).filter(|_| entry.rtol.is_some() || entry.atol.is_some()) else {
            continue;
        };
        let numbers: Vec<(String, f64)> =
            entry.expected.iter().filter_map(|(k, v)| Some((k.clone(), book::number(v)?))).collect();
        let Some((key, x)) = numbers.first().cloned() else { continue };
        let off = 3.0 * entry.atol.unwrap_or(0.0).max(entry.rtol.unwrap_or(0.0) * x.abs());
        if off == 0.0 {
            continue;
        }
        entry.expected.insert(key.clone(), toml::Value::Float(x + off));
        entry.expected.insert("nobody_knows".to_owned(), toml::Value::Float(1.0));
        let mut check = Check::new(&entry);
        topic(&mut check);
        let (_, said) = check.done();
        assert!(said.iter().any(|s| s.contains("nobody_knows")), "{}: {said:?}", entry.id);
        caught +=
            usize::from(said.iter().any(|s| s.contains(&format!("{}.{key}", entry.id)) && s.contains(&entry.source)));
    }
    // Where forms differ, the tolerance between them is the wider one: those few are let through.
    assert!(caught > 300, "{caught}");
}
