//! What figures and rules are judged by, brought together from a book: a sheet, what is stale on it, what its runs say.

use super::context::Context;
use super::ui::Ui;
use crate::figures::{FromRuns, Given, Wanted};
use crate::garage::{Book, Error, History, Result, limits_on, moved_at};
use crate::schema::{Bound, EntryContext, Num, Role, Schema, Sheet, Value, apply, read_entry};
use crate::slip::{Beam, Moment, Run};
use crate::timeline::{Cause, Facts, Kind, Stale, on_record_since};
use std::collections::HashMap;

/// Everything a [`Given`] borrows.
pub struct Gathered {
    /// The sheet, with what `--with` says.
    pub sheet: Sheet,
    /// The version it is of.
    pub version: usize,
    /// Fields that `--with` sets.
    pub what_if: Vec<String>,
    stale: Vec<Stale>,
    then: HashMap<String, Sheet>,
    since: HashMap<String, Moment>,
    limits: Vec<(String, Bound, Num)>,
    runs: FromRuns,
}

impl Gathered {
    /// As figures take it.
    pub fn given<'a>(&'a self, book: &'a Book, wanted: Wanted) -> Given<'a> {
        Given {
            schema: &book.schema,
            chassis: book.car.chassis(),
            sheet: &self.sheet,
            facts: Facts::new(&book.schema, &self.sheet, &self.stale),
            stale: &self.stale,
            then: &self.then,
            since: &self.since,
            limits: &self.limits,
            runs: &self.runs,
            wanted,
            what_if: &self.what_if,
        }
    }
}

/// What is put in the place of what is on record.
#[derive(Clone, Copy)]
pub enum AsIf<'a> {
    /// Nothing.
    Recorded,
    /// What was typed behind `--with`.
    Words(&'a [String]),
    /// This sheet; these fields were given in it.
    Sheet(&'a Sheet, &'a [String]),
}

/// The sheet at the end of a version, with what `with` changes on it.
pub fn gather(
    ctx: &Context,
    ui: &mut Ui,
    book: &Book,
    history: &History,
    version: usize,
    with: AsIf,
) -> Result<Gathered> {
    let timeline = &history.timeline;
    let schema = &book.schema;
    let v =
        timeline.versions.get(version).ok_or_else(|| Error::usage("the book has no version yet", "slipbook new"))?;
    let sheets = book.sheets(timeline)?;
    let as_recorded = sheets.get(v.sheet_id()).cloned().unwrap_or_default();
    let mut stale = moved_at(book, history, version, &[Role::Measured, Role::Set])?;
    let mut then: HashMap<String, Sheet> = HashMap::new();
    for taken in stale.iter().filter_map(|s| s.taken.as_ref()) {
        let at = timeline.by_number(&taken.version).and_then(|i| sheets.get(timeline.versions[i].sheet_id()));
        then.extend(at.map(|s| (taken.version.to_string(), s.clone())));
    }
    let mut sheet = as_recorded.clone();
    let mut what_if = Vec::new();
    let other = match with {
        AsIf::Recorded => None,
        AsIf::Words([]) => None,
        AsIf::Words(words) => {
            let entry = EntryContext { schema, chassis: book.car.chassis(), sheet: &as_recorded };
            let edits = read_entry(entry, words, &mut |clause, found| super::change::choose(ui, clause, found))?;
            super::change::refuse_twice(book, &edits)?;
            let applied = apply(schema, &as_recorded, &edits);
            let applied = applied.map_err(|why| Error::usage(why, "slipbook fields WORDS"))?;
            if let Some(edit) = edits.iter().find(|e| applied.dropped.contains(&e.key)) {
                let label = schema.field(&edit.key).map_or(edit.key.as_str(), |f| f.label.as_str());
                return Err(Error::usage(format!("{label} is not on this car then"), "slipbook fields WORDS"));
            }
            Some((applied.sheet, edits.iter().map(|e| e.key.clone()).collect::<Vec<_>>()))
        }
        AsIf::Sheet(sheet, keys) => Some((sheet.clone(), keys.to_vec())),
    };
    if let Some((other, keys)) = other {
        (sheet, what_if) = (other, keys);
        moved_by(schema, &as_recorded, &sheet, &what_if, ctx.hand.now, &v.number, &mut stale);
        then.insert(v.number.to_string(), as_recorded.clone());
    }
    let since = on_record_since(timeline, &sheets, version);
    let limits = limits_on(schema, &book.car, &sheet);
    let last_run = history.runs.iter().rev().find(|m| m.version <= version).map(|m| m.version);
    let mut runs = from_runs(history, version);
    if let Some(last) = last_run.filter(|_| runs.ft60_s.is_none()) {
        runs.earlier = Some(Box::new(from_runs(history, last)));
    }
    runs.went_back = timeline.versions[last_run.map_or(0, |l| l + 1).min(version + 1)..=version]
        .iter()
        .filter(|v| v.entry.kind == Kind::Revert)
        .count();
    runs.at_last_run = last_run.and_then(|last| sheets.get(timeline.versions[last].sheet_id()).cloned());
    runs.turned = last_run.map(|last| {
        let then = sheets.get(timeline.versions[last].sheet_id());
        let set = schema.fields.iter().filter(|f| f.role == Role::Set);
        set.filter(|f| then.and_then(|s| s.get(&f.key)) != sheet.get(&f.key)).map(|f| f.key.clone()).collect()
    });
    if last_run.is_none() {
        runs.went_back = 0;
    }
    Ok(Gathered { sheet, version, what_if, stale, then, since, limits, runs })
}

/// What `with` sets moves what was measured, as a change would.
fn moved_by(
    schema: &Schema,
    was: &Sheet,
    sheet: &Sheet,
    given: &[String],
    now: Moment,
    version: &crate::timeline::VersionNumber,
    stale: &mut Vec<Stale>,
) {
    stale.retain(|s| !given.contains(&s.key));
    for mover in schema.fields.iter().filter(|f| f.role == Role::Set && was.get(&f.key) != sheet.get(&f.key)) {
        for (field, slot) in mover.moves.iter().filter_map(|m| schema.locate(m)) {
            if given.contains(&field.key) || sheet.get(&field.key).is_none() {
                continue;
            }
            let cause = Cause {
                version: version.clone(),
                at: now,
                fields: vec![mover.key.clone()],
                words: vec!["as if".to_owned()],
            };
            match stale.iter_mut().find(|s| s.key == field.key) {
                Some(known) => known.causes.push(cause),
                None => {
                    let slots = match (slot, was.get(&field.key)) {
                        (Some(i), _) => vec![i],
                        (None, Some(Value::Slots(all))) => (0..all.len()).collect(),
                        _ => Vec::new(),
                    };
                    let taken = Some(crate::timeline::Taken { at: now, version: version.clone() });
                    stale.push(Stale { key: field.key.clone(), slots, taken, causes: vec![cause], before: None });
                }
            }
        }
    }
}

/// What the clean runs of a version's setup say.
fn from_runs(history: &History, version: usize) -> FromRuns {
    let timeline = &history.timeline;
    let setup_of = timeline.setup_of(&timeline.setups());
    let of_setup = |m: &&crate::garage::Made| setup_of.get(m.version) == setup_of.get(version) && !m.unsure;
    let runs: Vec<(&Run, u32)> =
        history.runs.iter().filter(of_setup).map(|m| (&m.run, history.days[m.day].finish_ft)).collect();
    let beam = |finish: u32| Beam::at(finish);
    let clean_num =
        |run: &Run, finish: u32, name: &str| run.num(name).filter(|_| run.clean_at(finish)).map(Num::to_f64);
    let ft60 = runs.iter().filter_map(|(r, _)| r.clean_time(Beam::Ft60)).map(Num::to_f64).collect();
    let finish = runs.first().map_or(1320, |r| r.1);
    let times = runs.iter().filter(|r| r.1 == finish).filter_map(|(r, f)| r.clean_time(beam(*f)?)).map(Num::to_f64);
    let trap = runs.iter().filter_map(|(r, f)| clean_num(r, *f, beam(*f)?.speed_key()?)).collect();
    let rpm = runs.iter().filter_map(|(r, f)| clean_num(r, *f, "rpm_finish")).collect();
    let rise = runs.iter().filter_map(|(r, _)| r.num("front_rise")).map(Num::to_f64).collect();
    let told: Vec<&Run> = runs.iter().map(|r| r.0).filter(|r| !r.did.is_empty()).collect();
    let touched = told.iter().filter(|r| r.did.iter().any(|d| d == "bar touched")).count();
    let of: Vec<String> = (0..timeline.versions.len())
        .filter(|i| setup_of[*i] == setup_of[version])
        .map(|i| timeline.versions[i].number.to_string())
        .collect();
    FromRuns {
        setup: of.join(" and "),
        ft60_s: middle(ft60),
        quickest_s: times.min_by(f64::total_cmp).map(|t| (t, finish)),
        trap_mph: middle(trap),
        rpm_finish: middle(rpm),
        front_rise_in: middle(rise),
        bar_touched_pct: (!told.is_empty()).then(|| (100.0 * touched as f64 / told.len() as f64, told.len())),
        earlier: None,
        turned: None,
        at_last_run: None,
        went_back: 0,
    }
}

/// The middle one, and how many.
fn middle(values: Vec<f64>) -> Option<(f64, usize)> {
    let n = values.len();
    crate::stats::Sample::new(values).middle().map(|m| (m, n))
}
