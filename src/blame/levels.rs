//! One field: every value it had, the runs on each, and what each is worth against the one on the car.

use super::model::Level;
use super::pieces::{Pieces, Spot};
use super::{Effect, Estimates, Sheets, Verdict};
use crate::schema::{Schema, Value};
use std::collections::BTreeSet;

/// The values of a field, or of some of its slots.
#[derive(Debug, Clone)]
pub struct Table {
    /// Places of its slots; empty = all of the field as one.
    pub slots: Vec<usize>,
    /// In the order they were first on the car.
    pub rows: Vec<Row>,
    /// The row the others are held against; `None` where no run counts.
    pub against: Option<usize>,
    /// The row of the value on the car now.
    pub on_car: usize,
}

/// A value.
#[derive(Debug, Clone)]
pub struct Row {
    /// The field as it stood then; `None` = not on record.
    pub value: Option<Value>,
    /// First and last version of each time it was on the car: indices.
    pub spans: Vec<(usize, usize)>,
    /// Runs that count.
    pub runs: usize,
    /// On how many days.
    pub days: usize,
    /// What it is worth against the other; `None` of that one itself, and where none of its runs counts.
    pub worth: Option<Worth>,
}

/// What a value is worth against the one it is held against, by the field's own part in the model.
#[derive(Debug, Clone)]
pub struct Worth {
    /// In the response's unit; of a time with minus this value is quicker.
    pub effect: Effect,
    /// The rung.
    pub verdict: Verdict,
    /// How much these runs leave open, 0 to 1.
    pub open: f64,
    /// Keys of fields that changed whenever this one did: the number is of all of them together.
    pub together: Vec<String>,
    /// The field's other slots changed whenever these did.
    pub other_slots: bool,
    /// Keys that differed too wherever both values were run; empty where once nothing else did.
    pub along: Vec<String>,
    /// Days with runs on both.
    pub same_days: Vec<jiff::civil::Date>,
}

/// The values of a field: a table for each set of slots that always moved alike. Empty where it is no setting.
pub fn levels(schema: &Schema, sheets: &Sheets, estimates: &Estimates, key: &str) -> Vec<Table> {
    let pieces = Pieces::new(schema, sheets, estimates);
    let versions = 0..estimates.timeline.versions.len();
    let over_time = |spot: &Spot| -> Vec<Option<&Level>> {
        versions.clone().map(|v| pieces.level(estimates.setup(v), spot)).collect()
    };
    let mut groups: Vec<Vec<Spot>> = Vec::new();
    for spot in pieces.spots(key) {
        match groups.iter_mut().find(|g| over_time(&g[0]) == over_time(&spot)) {
            Some(group) => group.push(spot),
            None => groups.push(vec![spot]),
        }
    }
    let whole = groups.len() == 1;
    groups.iter().map(|g| table(&pieces, g, whole)).collect()
}

fn table(pieces: &Pieces, group: &[Spot], whole: bool) -> Table {
    let estimates = pieces.estimates;
    let key = &group[0].0;
    let mut levels: Vec<Option<&Level>> = Vec::new();
    let mut rows: Vec<Row> = Vec::new();
    let mut last = 0;
    for v in 0..estimates.timeline.versions.len() {
        let level = pieces.level(estimates.setup(v), &group[0]);
        let at = levels.iter().position(|l| *l == level).unwrap_or_else(|| {
            levels.push(level);
            let value = pieces.sheets[v].get(key).cloned();
            rows.push(Row { value, spans: Vec::new(), runs: 0, days: 0, worth: None });
            rows.len() - 1
        });
        match rows[at].spans.last_mut().filter(|s| s.1 + 1 == v) {
            Some(span) => span.1 = v,
            None => rows[at].spans.push((v, v)),
        }
        last = at;
    }
    let setups: Vec<BTreeSet<usize>> =
        levels.iter().map(|l| pieces.ran().filter(|s| pieces.level(*s, &group[0]) == *l).collect()).collect();
    for (row, setups) in rows.iter_mut().zip(&setups) {
        let sides = estimates.sides_of(setups, &BTreeSet::new(), Vec::new());
        (row.runs, row.days) = (sides.without.len(), sides.days);
    }
    let against = Some(last).filter(|l| rows.get(*l).is_some_and(|r| r.runs > 0));
    let against = against.or_else(|| rows.iter().position(|r| r.runs > 0));
    if let Some(against) = against {
        for i in (0..rows.len()).filter(|i| *i != against && !setups[*i].is_empty()) {
            rows[i].worth = worth(pieces, group, &setups[against], &setups[i]);
        }
    }
    let slots = if whole { Vec::new() } else { group.iter().map(|s| s.1).collect() };
    Table { slots, rows, against, on_car: last }
}

fn worth(pieces: &Pieces, group: &[Spot], from: &BTreeSet<usize>, to: &BTreeSet<usize>) -> Option<Worth> {
    let (key, estimates) = (&group[0].0, pieces.estimates);
    let own = pieces.own(group);
    let (a, b) = (*from.first()?, *to.first()?);
    let between: BTreeSet<usize> = pieces.step(a, b, |k| own.contains(&k)).into_iter().map(|(k, _)| k).collect();
    let round = pieces.turned_round(&between);
    // What is turned round beside it belongs to the same lump: its share of the number is the sampler's, not the runs'.
    let round: BTreeSet<usize> = round.into_iter().filter(|k| !pieces.keys(*k).is_empty()).collect();
    let lump: BTreeSet<usize> = between.union(&round).copied().collect();
    let step = pieces.step(a, b, |k| lump.contains(&k));
    let root = pieces.root(key);
    let mut together: Vec<String> = Vec::new();
    for other in lump.iter().flat_map(|k| pieces.keys(*k)) {
        // What describes a part comes along with it, and is named by the part.
        let named = pieces.root(other);
        if other != key && !(named == root && root == *key) && !together.contains(&named) {
            together.push(named);
        }
    }
    let others: Vec<Spot> = pieces.spots(key).into_iter().filter(|s| !group.contains(s)).collect();
    let sides = estimates.sides_of(from, to, Vec::new());
    let (effect, verdict, open) = estimates.weigh(&step, sides.without.len().min(sides.with.len()))?;
    Some(Worth {
        effect,
        verdict,
        open,
        together,
        other_slots: !pieces.own(&others).is_disjoint(&lump),
        along: along(pieces, group, from, to),
        same_days: sides.same_day,
    })
}

/// Of all pairs of setups with the two values: the fewest fields that differ too.
fn along(pieces: &Pieces, group: &[Spot], from: &BTreeSet<usize>, to: &BTreeSet<usize>) -> Vec<String> {
    let key = &group[0].0;
    let root = pieces.root(key);
    let mut fewest: Option<BTreeSet<String>> = None;
    for a in from {
        for b in to {
            let apart = pieces.apart(*a, *b).into_iter().filter(|s| !group.contains(s));
            // Its part, and what describes that, is not another thing.
            let others = apart.filter(|s| s.0 == *key || pieces.root(&s.0) != root);
            let others: BTreeSet<String> = others.map(|s| pieces.root(&s.0)).collect();
            if fewest.as_ref().is_none_or(|f| others.len() < f.len()) {
                fewest = Some(others);
            }
        }
    }
    fewest.unwrap_or_default().into_iter().collect()
}
