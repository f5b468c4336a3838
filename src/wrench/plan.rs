//! The list for two sheets.

use super::after::{Remeasure, not_moved, remeasure};
use super::caution::{Caution, beside, told};
use super::order::{Node, in_order};
use super::place::Places;
use super::step::{Between, Step, Work};
use crate::diff::words::{called, called_all, show, show_doubting};
use crate::schema::{Field, Role, Rule, Scalar, Schema, Sheet, Sides, Takes, Value};

/// What a list is made from.
#[derive(Clone, Copy)]
pub struct Wanted<'a> {
    /// Definitions, a book's own fields included.
    pub schema: &'a Schema,
    /// Where a hand stands.
    pub places: &'a Places,
    /// Rules; those with a job give the cautions.
    pub rules: &'a [Rule],
    /// The car's chassis kinds.
    pub chassis: &'a [String],
    /// What is on the car.
    pub from: &'a Sheet,
    /// What shall be on it.
    pub to: &'a Sheet,
    /// What was measured with that on it.
    pub then: &'a Sheet,
    /// Keys of measured values that were no facts there.
    pub then_stale: &'a [String],
    /// Keys of what is set on the car and was moved by something else since: nothing counts from it.
    pub from_moved: &'a [String],
}

/// Steps done at one place without going elsewhere.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub struct Stretch {
    /// As the fields name the place; absent where they name none.
    pub place: Option<String>,
    /// "Under the rear", "Left front".
    pub heading: String,
    /// The heading of the place with both its sides.
    #[serde(skip)]
    pub both_sides: String,
    /// How the car must stand.
    pub car: String,
    /// A person is under the car.
    pub under: bool,
    /// What can hurt there, told at the first step that it stands beside.
    pub cautions: Vec<Caution>,
    /// Its steps: their places in the list's `steps`.
    pub steps: Vec<usize>,
}

/// What to turn.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct List {
    /// Every value that differs, in the order of work; what comes along follows what it comes with, what only goes off
    /// the record stands last.
    pub steps: Vec<Step>,
    /// The steps of a hand by where it stands.
    pub stretches: Vec<Stretch>,
    /// What must be taken again.
    pub remeasure: Vec<Remeasure>,
    /// What a racer asks first and that did not move.
    pub not_moved: Vec<String>,
    /// Parts one must have.
    pub parts: Vec<String>,
    /// Before the car runs.
    pub before_the_run: Vec<Caution>,
    /// Jobs of a hand; a pair alike is one.
    pub jobs: usize,
    /// Pit minutes of all, without what is no pit job.
    pub minutes: u32,
    /// How often a person goes under the car.
    pub times_under: usize,
}

impl List {
    /// Nothing differs in what is set.
    pub fn is_empty(&self) -> bool {
        self.steps.is_empty()
    }

    /// Some of it is no job for between rounds.
    pub fn has_shop_work(&self) -> bool {
        self.steps.iter().any(|s| s.is_turned() && s.shop)
    }
}

/// What to turn to go from one sheet to the other, in what a hand sets.
pub fn plan(wanted: Wanted) -> List {
    let between = Between { schema: wanted.schema, from: wanted.from, to: wanted.to };
    let mut steps = found(between);
    let moved: Vec<String> = steps.iter().filter(|s| s.is_turned()).flat_map(|s| direct(between, &s.field)).collect();
    for step in steps.iter_mut().filter(|s| s.amount.is_some()) {
        // What another job of the list moves, or something moved since it was set, is set anew: so many turns from where it
        // stands would be from nowhere.
        if moved.contains(&step.field) || wanted.from_moved.contains(&step.field) {
            between.set_anew(step);
        }
    }
    for step in &mut steps {
        if step.work == Work::OffRecord {
            continue;
        }
        let rules = beside(wanted.rules, wanted.chassis, &step.field, step.place.as_deref());
        step.cautions = rules.into_iter().filter(|(_, after)| !after).map(|(r, _)| r.id.clone()).collect();
    }
    let steps = arranged(wanted, steps);
    let remeasure = remeasure(between, wanted.places, &steps, wanted.then, wanted.then_stale);
    let turned = || steps.iter().filter(|s| s.is_turned());
    let mut jobs: Vec<(&str, &str, &str)> =
        turned().map(|s| (s.field.as_str(), s.words.as_str(), s.change.as_str())).collect();
    jobs.sort_unstable();
    jobs.dedup();
    let stretches = stretches(wanted, &steps);
    let goes_under = |(i, s): &(usize, &Stretch)| s.under && !(*i > 0 && stretches[i - 1].under);
    let mut before_the_run: Vec<Caution> = Vec::new();
    for rule in wanted.rules {
        let meets = |s: &&Step| {
            beside(std::slice::from_ref(rule), wanted.chassis, &s.field, s.place.as_deref())
                .iter()
                .any(|(_, after)| *after)
        };
        let caution = told(rule);
        let said = before_the_run.iter().any(|c| c.text == caution.text);
        if !said && steps.iter().filter(|s| s.work != Work::OffRecord).any(|s| meets(&s)) {
            before_the_run.push(caution);
        }
    }
    List {
        not_moved: not_moved(between, wanted.places, &steps, &remeasure),
        parts: parts(between, &steps),
        jobs: jobs.len(),
        minutes: turned().filter_map(|s| s.minutes).sum(),
        times_under: stretches.iter().enumerate().filter(goes_under).count(),
        before_the_run,
        remeasure,
        stretches,
        steps,
    }
}

/// The settings that a change of this one moves by itself. Where the two are told in one sentence (a hole and its height)
/// neither is moved: they are one job.
fn direct(between: Between, key: &str) -> Vec<String> {
    let Some(field) = between.schema.field(key) else { return Vec::new() };
    let set = field.moves.iter().filter_map(|m| between.schema.locate(m)).map(|(f, _)| f);
    let one_job = |f: &Field| f.follows.as_deref() == Some(key) || field.follows.as_deref() == Some(f.key.as_str());
    set.filter(|f| f.role == Role::Set && !one_job(f)).map(|f| f.key.clone()).collect()
}

/// The steps in the order of the sheet.
fn found(between: Between) -> Vec<Step> {
    let Between { schema, from, to } = between;
    let differs = |key: &str| from.get(key) != to.get(key);
    let mut steps = Vec::new();
    for field in schema.fields.iter().filter(|f| f.role == Role::Set && (differs(&f.key) || between.recounted(f))) {
        let work = leader(between, field).map_or(Work::Turn, |l| Work::Along(l.key.clone()));
        let mut of_field = between.steps(field, &work);
        if field.kind == "own_part" {
            let brings = brought(between, field);
            of_field.iter_mut().filter(|s| s.is_turned()).take(1).for_each(|s| s.brings.clone_from(&brings));
        }
        steps.extend(of_field);
    }
    steps
}

/// The field in whose step this one comes or goes: the part it belongs to, the hole it is set in, the thing that went.
fn leader<'a>(between: Between<'a>, field: &Field) -> Option<&'a Field> {
    let Between { schema, from, to } = between;
    let mut top: Option<&Field> = None;
    let mut of = field;
    // A chain is never longer than the sheet.
    for _ in 0..schema.fields.len() {
        let by_part = of.part.as_deref().filter(|p| to.get(p).is_some() && from.get(p) != to.get(p));
        let both = |k: &&str| from.get(k).is_some() && to.get(k).is_some() && from.get(k) != to.get(k);
        let by_hole = of.follows.as_deref().filter(both).filter(|_| both(&of.key.as_str()));
        let gone = to.get(&of.key).is_none() && !of.applies.holds(to);
        let by_parent = of.applies.keys().find(|k| gone && to.get(k).is_some() && from.get(k) != to.get(k));
        let Some(next) = by_part.or(by_hole).or(by_parent).and_then(|k| schema.field(k)) else { break };
        if next.role != Role::Set || next.key == field.key {
            break;
        }
        top = Some(next);
        of = next;
    }
    top
}

/// What is told of a part with it: what describes it and differs.
fn brought(between: Between, part: &Field) -> Vec<String> {
    let Between { schema, from, to } = between;
    let of_part = |f: &&Field| f.part.as_deref() == Some(&part.key) && f.role != Role::Set && f.takes() != Takes::Flag;
    let one = |f: &Field| {
        let value = to.get(&f.key).filter(|v| from.get(&f.key) != Some(v))?;
        let shown = show_doubting(schema, f, value, to.doubt(&f.key));
        Some(format!("{} {shown}", called(schema, from, to, f, None)))
    };
    schema.fields.iter().filter(of_part).filter_map(one).collect()
}

/// The steps in the order of work.
fn arranged(wanted: Wanted, steps: Vec<Step>) -> Vec<Step> {
    let turned: Vec<usize> = (0..steps.len()).filter(|i| steps[*i].is_turned()).collect();
    let node = |i: &usize| {
        let step = &steps[*i];
        let field = wanted.schema.field(&step.field)?;
        Some(Node { field, slot: step.slot, at: standing(wanted, step) })
    };
    let nodes: Vec<Node> = turned.iter().filter_map(node).collect();
    let mut order: Vec<usize> = in_order(wanted.schema, &nodes).into_iter().map(|n| turned[n]).collect();
    // What comes along stands behind the first step of what it comes with; without one it is off the record.
    for i in 0..steps.len() {
        let Work::Along(with) = &steps[i].work else { continue };
        let leads = |j: &usize| steps[*j].field == *with && steps[*j].is_turned();
        let behind = order.iter().position(leads).map_or(order.len(), |at| {
            at + 1 + order[at + 1..].iter().take_while(|j| steps[**j].work == Work::Along(with.clone())).count()
        });
        order.insert(behind, i);
    }
    order.extend((0..steps.len()).filter(|i| steps[*i].work == Work::OffRecord));
    order.into_iter().map(|i| steps[i].clone()).collect()
}

/// The turn of its place, and the side of it.
fn standing(wanted: Wanted, step: &Step) -> (usize, usize) {
    let has_sides = wanted.schema.field(&step.field).is_some_and(|f| f.sides == Sides::Pair);
    match wanted.places.find(step.place.as_deref()) {
        Some((turn, place)) if has_sides && place.sides.len() == 2 => (turn, step.slot.map_or(0, |s| s + 1)),
        Some((turn, _)) => (turn, 0),
        None => (usize::MAX, 0),
    }
}

fn stretches(wanted: Wanted, steps: &[Step]) -> Vec<Stretch> {
    let mut out: Vec<Stretch> = Vec::new();
    let mut here = None;
    let mut said: Vec<String> = Vec::new();
    for (i, step) in steps.iter().enumerate() {
        let at = standing(wanted, step);
        match &step.work {
            Work::OffRecord => continue,
            // What comes along is told where its leader is.
            Work::Along(_) if !out.is_empty() => {}
            _ if here == Some(at) => {}
            _ => {
                here = Some(at);
                out.push(stretch(wanted.places, step, at));
            }
        }
        let Some(last) = out.last_mut() else { continue };
        last.steps.push(i);
        for rule in wanted.rules.iter().filter(|r| step.cautions.contains(&r.id)) {
            let caution = told(rule);
            if !said.contains(&caution.text) {
                said.push(caution.text.clone());
                last.cautions.push(caution);
            }
        }
    }
    out
}

fn stretch(places: &Places, step: &Step, at: (usize, usize)) -> Stretch {
    let place = places.find(step.place.as_deref()).map(|(_, p)| p);
    let side = at.1.checked_sub(1).and_then(|i| place?.sides.get(i));
    let own = || step.place.clone().unwrap_or_else(|| "Elsewhere".to_owned());
    Stretch {
        place: step.place.clone(),
        both_sides: place.map_or_else(own, |p| p.heading.clone()),
        heading: side.or(place.map(|p| &p.heading)).cloned().unwrap_or_else(own),
        car: place.map(|p| p.car.clone()).unwrap_or_default(),
        under: place.is_some_and(|p| p.under),
        cautions: Vec::new(),
        steps: Vec::new(),
    }
}

/// The parts one must have: what is swapped, and what is fitted where nothing was.
fn parts(between: Between, steps: &[Step]) -> Vec<String> {
    let Between { schema, from, to } = between;
    let off = |s: &Scalar| s.flag() == Some(false) || s.text() == Some("none");
    let needed = |s: &&Step| {
        let Some(field) = schema.field(&s.field) else { return false };
        let there = s.to.as_ref().and_then(Value::one).is_none_or(|v| !off(v)) && s.to.is_some();
        let swapped = field.kind == "own_part" || field.turn.iter().any(|t| t.by == "part");
        let new = s.from.as_ref().and_then(Value::one).is_some_and(off);
        s.is_turned() && there && (swapped || new)
    };
    let mut out: Vec<String> = Vec::new();
    for step in steps.iter().filter(needed) {
        let Some(field) = schema.field(&step.field) else { continue };
        let alike = steps.iter().filter(|s| s.field == step.field && s.to == step.to && needed(s)).count();
        let all = alike > 1 && alike == field.slots.len();
        let name = if all { called_all(schema, from, to, field) } else { step.label.clone() };
        let value = match step.to.as_ref() {
            Some(Value::One(Scalar::Flag(_))) | None => String::new(),
            Some(Value::One(s)) if field.takes() == Takes::Text => {
                format!(" \"{}\"", show(schema, field, step.slot, s))
            }
            Some(v) => format!(
                " {}",
                v.one().map_or_else(
                    || show_doubting(schema, field, v, to.doubt(&field.key)),
                    |s| show(schema, field, step.slot, s)
                )
            ),
        };
        let said = format!("{name}{value}");
        if !out.contains(&said) {
            out.push(said);
        }
    }
    out
}
