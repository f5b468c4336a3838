//! Readings of the air and the track from both sides.

use super::choice::{Choice, Told, by_change};
use crate::slip::Reading;
use jiff::civil::Time;
use std::collections::HashMap;

/// Readings by their minute; more than one of it each by its place among them.
type Keyed<'a> = HashMap<(Time, usize), &'a Reading>;

fn keyed(list: &[Reading]) -> Keyed<'_> {
    let mut seen: HashMap<Time, usize> = HashMap::new();
    let mut nth = |at: Time| {
        let n = seen.entry(at).or_default();
        *n += 1;
        *n - 1
    };
    list.iter().map(|r| ((r.at, nth(r.at)), r)).collect()
}

/// Both sides' readings: what one added, put right or took away holds; one minute has one of each number.
pub(super) fn merge_readings(
    before: &[Vec<Reading>],
    sides: [&[Reading]; 2],
    day: &str,
    written: &dyn Fn(Time) -> [i64; 2],
    choice: &mut Choice,
) -> Vec<Reading> {
    let before: Vec<Keyed> = before.iter().map(|l| keyed(l)).collect();
    let sides = sides.map(keyed);
    let mut keys: Vec<_> = sides.iter().flat_map(HashMap::keys).copied().collect();
    keys.sort_by_key(|(at, n)| (at.hour() < 6, *at, *n));
    keys.dedup();
    let mut out = Vec::new();
    for key in keys {
        let of = |list: &Keyed| list.get(&key).map(|r| (*r).clone());
        let was: Vec<Option<Reading>> = before.iter().map(of).collect();
        let pair = [of(&sides[0]), of(&sides[1])];
        let right = match (by_change(&was.iter().collect::<Vec<_>>(), [&pair[0], &pair[1]]), &pair) {
            (Some(side), _) => pair[side].clone(),
            (None, [Some(one), None] | [None, Some(one)]) if was.is_empty() || was.iter().any(Option::is_none) => {
                Some(one.clone())
            }
            (None, [Some(a), Some(b)]) if together(a, b).is_some() => together(a, b),
            (None, _) => {
                let at = key.0.strftime("%H:%M");
                let said = [0, 1].map(|s| pair[s].as_ref().map_or("taken away".to_owned(), reading_words));
                let told = Told { about: format!("{day}: the reading of {at}"), said, written: written(key.0) };
                pair[choice.ask(told)].clone()
            }
        };
        out.extend(right);
    }
    out
}

/// One reading that says what both say, where they agree.
fn together(a: &Reading, b: &Reading) -> Option<Reading> {
    let mut out = a.clone();
    for (name, n) in &b.numbers {
        if *out.numbers.entry(name.clone()).or_insert(*n) != *n {
            return None;
        }
    }
    for (mine, other) in [(&mut out.sun, &b.sun), (&mut out.by, &b.by), (&mut out.report, &b.report)] {
        match (&mine, other) {
            (None, _) => mine.clone_from(other),
            (Some(m), Some(o)) if m != o => return None,
            _ => {}
        }
    }
    Some(out)
}

/// The numbers of a reading by their names.
pub(super) fn reading_words(reading: &Reading) -> String {
    let mut said: Vec<String> =
        reading.numbers.iter().map(|(name, n)| format!("{} {n}", name.replace('_', " "))).collect();
    said.extend(reading.sun.clone());
    said.extend(reading.by.as_ref().map(|b| format!("by {b}")));
    if said.is_empty() { "no number".to_owned() } else { said.join(", ") }
}
