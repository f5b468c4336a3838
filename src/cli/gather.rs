//! What figures and rules are judged by, brought together from a book: a sheet, what is stale on it, what its runs say.

use super::context::Context;
use super::ui::Ui;
use crate::figures::{FromRuns, Given, Memory, Wanted};
use crate::garage::{AsIf, Book, Error, History, Result, limits_on, moved_as_if};
use crate::schema::{Bound, EntryContext, Field, Num, Role, Sheet, apply, read_entry};
use crate::slip::{Beam, Moment, Run};
use crate::timeline::{Facts, Kind, Stale, on_record_since};
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
            memory: Memory::default(),
        }
    }
}

/// What is put in the place of what is on record.
#[derive(Clone, Copy)]
pub enum With<'a> {
    /// Nothing.
    Nothing,
    /// What was typed behind `--with`.
    Words(&'a [String]),
    /// This sheet; these paths were taken in it.
    Sheet(&'a Sheet, &'a [String]),
}

/// A version with all that was read for it, to look at as it is and as if something were changed.
pub struct Looked<'a> {
    book: &'a Book,
    history: &'a History,
    version: usize,
    sheets: HashMap<String, Sheet>,
    /// When values came on record is of no matter where nobody is told.
    dated: bool,
}

impl<'a> Looked<'a> {
    /// Reads the sheets.
    pub fn at(book: &'a Book, history: &'a History, version: usize) -> Result<Looked<'a>> {
        if history.timeline.versions.get(version).is_none() {
            return Err(Error::usage("the book has no version yet", "slipbook new"));
        }
        Ok(Looked { book, history, version, sheets: book.sheets(&history.timeline)?, dated: true })
    }

    /// Without the dates of the inputs.
    pub fn undated(self) -> Looked<'a> {
        Looked { dated: false, ..self }
    }

    /// The sheet at the end of the version, with what `with` changes on it.
    pub fn gather(&self, ctx: &Context, ui: &mut Ui, with: With) -> Result<Gathered> {
        let (book, history, version) = (self.book, self.history, self.version);
        let (timeline, schema) = (&history.timeline, &book.schema);
        let v = &timeline.versions[version];
        let sheet_of = |i: usize| self.sheets.get(timeline.versions[i].sheet_id());
        let as_recorded = sheet_of(version).cloned().unwrap_or_default();
        let (mut sheet, mut what_if, mut taken) = (as_recorded.clone(), Vec::new(), Vec::new());
        match with {
            With::Nothing | With::Words([]) => {}
            With::Words(words) => {
                let entry = EntryContext { schema, chassis: book.car.chassis(), sheet: &as_recorded };
                let edits = read_entry(entry, words, &mut |clause, found| super::change::choose(ui, clause, found))?;
                super::change::refuse_twice(book, &edits)?;
                let applied = apply(schema, &as_recorded, &edits);
                let applied = applied.map_err(|why| Error::usage(why, "slipbook fields WORDS"))?;
                if let Some(edit) = edits.iter().find(|e| applied.dropped.contains(&e.key)) {
                    let label = schema.field(&edit.key).map_or(edit.key.as_str(), |f| f.label.as_str());
                    return Err(Error::usage(format!("{label} is not on this car then"), "slipbook fields WORDS"));
                }
                sheet = applied.sheet;
                taken = edits.iter().filter_map(|e| Some(schema.path(schema.field(&e.key)?, e.slot))).collect();
                what_if = edits.iter().map(|e| e.key.clone()).collect();
            }
            With::Sheet(other, paths) => {
                sheet = other.clone();
                taken = paths.to_vec();
                let differs = |f: &&Field| as_recorded.get(&f.key) != other.get(&f.key);
                what_if = schema.fields.iter().filter(differs).map(|f| f.key.clone()).collect();
            }
        }
        let as_if = match with {
            With::Nothing | With::Words([]) => None,
            _ => Some(AsIf { sheet: &sheet, taken, at: ctx.hand.now }),
        };
        let is_as_if = as_if.is_some();
        let roles = [Role::Measured, Role::Set];
        let stale = moved_as_if(book, history, version, &roles, &self.sheets, as_if)?;
        let mut then: HashMap<String, Sheet> = HashMap::new();
        for taken in stale.iter().filter_map(|s| s.taken.as_ref()) {
            let at = timeline.by_number(&taken.version).and_then(sheet_of);
            then.extend(at.map(|s| (taken.version.to_string(), s.clone())));
        }
        if is_as_if {
            then.insert(v.number.to_string(), as_recorded);
        }
        let last_run = history.runs.iter().rev().find(|m| m.version <= version).map(|m| m.version);
        let mut runs = from_runs(history, version);
        if let Some(last) = last_run {
            if runs.ft60_s.is_none() {
                runs.earlier = Some(Box::new(from_runs(history, last)));
            }
            let since = timeline.versions.iter().take(version + 1).skip(last + 1);
            runs.went_back = since.filter(|v| v.entry.kind == Kind::Revert).count();
            runs.at_last_run = sheet_of(last).cloned();
            let differs = |f: &&Field| sheet_of(last).and_then(|s| s.get(&f.key)) != sheet.get(&f.key);
            let set = schema.fields.iter().filter(|f| f.role == Role::Set);
            runs.turned = Some(set.filter(differs).map(|f| f.key.clone()).collect());
        }
        let since = match self.dated {
            true => on_record_since(timeline, &self.sheets, version),
            false => HashMap::new(),
        };
        let limits = limits_on(schema, &book.car, &sheet);
        Ok(Gathered { sheet, version, what_if, stale, then, since, limits, runs })
    }
}

/// What the clean runs of a version's setup say.
fn from_runs(history: &History, version: usize) -> FromRuns {
    let timeline = &history.timeline;
    let setup_of = timeline.setup_of(&timeline.setups());
    let of_setup = |m: &&crate::garage::Made| setup_of.get(m.version) == setup_of.get(version) && !m.unsure;
    let runs: Vec<(&Run, u32)> =
        history.runs.iter().filter(of_setup).map(|m| (&m.run, history.days[m.day].finish_ft)).collect();
    // Numbers of the finish of the latest run; those of other finishes are no one sample with them.
    let finish = runs.last().map_or(1320, |r| r.1);
    let to_finish = || runs.iter().filter(|r| r.1 == finish).map(|r| r.0);
    let clean_num = |run: &Run, name: &str| run.num(name).filter(|_| run.clean_at(finish)).map(Num::to_f64);
    let ft60 = runs.iter().filter_map(|(r, _)| r.clean_time(Beam::Ft60)).map(Num::to_f64).collect();
    let beam = Beam::at(finish);
    let times = to_finish().filter_map(|r| r.clean_time(beam?)).map(Num::to_f64);
    let trap = to_finish().filter_map(|r| clean_num(r, beam?.speed_key()?)).collect();
    let rpm = to_finish().filter_map(|r| clean_num(r, "rpm_finish")).collect();
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
