//! A car's parts with their life: what is fitted since when, passes, limits passed.

use super::Result;
use super::book::Book;
use super::history::History;
use super::part::Gone;
use super::part_limits::LimitTold;
use crate::schema::{Limit, Num, Sheet, of_part, same_name};
use crate::slip::Moment;
use crate::timeline::{Life, lives};

/// A while on the car.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub struct FittedSpan {
    /// The version that fitted it.
    pub from: String,
    /// When.
    pub since: Moment,
    /// The version that took it off; `None` = it is on the car.
    pub to: Option<String>,
    /// When.
    pub until: Option<Moment>,
    /// Runs made in between.
    pub runs: usize,
}

/// A part with its life.
#[derive(Debug, Clone, PartialEq)]
pub struct PartLife {
    /// The key of the field that names it.
    pub kind: String,
    /// What its kind is called.
    pub kind_words: String,
    /// Its name.
    pub name: String,
    /// It stands in `car.toml`; false: its name is only on sheets.
    pub described: bool,
    /// Whiles on the car, oldest first.
    pub spans: Vec<FittedSpan>,
    /// Passes that were on it when it came.
    pub came_with: Option<u32>,
    /// Runs made with it on this car.
    pub runs: usize,
    /// Limits as its maker gives them.
    pub limits: Vec<LimitTold>,
    /// Whether it goes with the car.
    pub goes_with: Option<bool>,
    /// It is no longer there.
    pub gone: Option<Gone>,
    /// Words beside it.
    pub note: Option<String>,
    /// The first version of the record, where what came before it is not in the book: the part may have been on the car then.
    pub record_begins: Option<String>,
    /// What describes it: from the sheet while it is on the car, else from `car.toml`.
    pub values: Sheet,
}

impl PartLife {
    /// Whether it does not go with the car: kept by its owner, or gone.
    pub fn stays(&self) -> bool {
        self.goes_with == Some(false) || self.gone.is_some()
    }

    /// The while it is on the car in.
    pub fn on_car(&self) -> Option<&FittedSpan> {
        self.spans.last().filter(|s| s.to.is_none())
    }

    /// All passes, where those it came with are known.
    pub fn passes(&self) -> Option<usize> {
        self.came_with.map(|n| n as usize + self.runs)
    }
}

/// Every part of the car, kind by kind; what is on the car first, then in the order they went on.
pub fn part_lives(book: &Book, history: &History) -> Result<Vec<PartLife>> {
    let schema = &book.schema;
    let all = lives(&history.timeline, history.runs.iter().map(|m| m.version));
    let now = history.timeline.versions.last().map(|v| book.sheet(v)).transpose()?.unwrap_or_default();
    let first = || history.timeline.versions.first().map(|v| v.number.to_string());
    let record_begins = book.shortened().filter(|s| s.versions > 0).and_then(|_| first());
    let mut out = Vec::new();
    for kind in schema.part_kinds() {
        let lived = all.iter().filter(|l| l.key == kind.key);
        let never = book
            .car
            .parts
            .iter()
            .filter(|p| p.kind == kind.key)
            .filter(|p| !all.iter().any(|l| l.key == kind.key && same_name(&l.name, &p.name)));
        let named = lived.map(|l| (l.name.as_str(), Some(l))).chain(never.map(|p| (p.name.as_str(), None)));
        let mut of_kind = Vec::new();
        for (name, life) in named {
            let part = book.car.part(&kind.key, name);
            let mut values = part.map(|p| p.values.clone()).unwrap_or_default();
            if life.is_some_and(|l| l.now().is_some()) {
                for (slot, _) in slots_of(kind, &now, name) {
                    of_part(schema, kind, slot, &now, &mut values);
                }
            }
            let mut told = PartLife {
                kind: kind.key.clone(),
                kind_words: schema.part_words(kind),
                name: part.map_or(name, |p| &p.name).to_owned(),
                described: part.is_some(),
                spans: life.map(|l| spans(history, l)).unwrap_or_default(),
                came_with: part.and_then(|p| p.came_with_passes),
                runs: life.map_or(0, Life::runs),
                limits: Vec::new(),
                goes_with: part.and_then(|p| p.goes_with),
                gone: part.and_then(|p| p.gone.clone()),
                note: part.and_then(|p| p.note.clone()),
                record_begins: record_begins.clone(),
                values,
            };
            for limit in schema.part_limits(&kind.key) {
                let given = part.and_then(|p| p.limits.iter().find(|(l, _)| *l == limit.name)).map(|(_, n)| *n);
                let Some(given) = given else { continue };
                let mut limit_told = LimitTold::new(schema, limit, given);
                limit_told.passed = passed(history, limit, given, &told, life);
                told.limits.push(limit_told);
            }
            of_kind.push(told);
        }
        of_kind.sort_by_key(|p| (p.on_car().is_none(), p.gone.is_some()));
        out.extend(of_kind);
    }
    Ok(out)
}

fn slots_of<'a>(
    kind: &crate::schema::Field,
    sheet: &'a Sheet,
    name: &'a str,
) -> impl Iterator<Item = (usize, &'a str)> {
    let names = crate::schema::names_on(kind, sheet).into_iter().enumerate();
    names.filter_map(|(i, n)| Some((i, n?))).filter(move |(_, n)| same_name(n, name))
}

fn spans(history: &History, life: &Life) -> Vec<FittedSpan> {
    let version = |i: usize| &history.timeline.versions[i];
    let span = |s: &crate::timeline::Stretch| FittedSpan {
        from: version(s.from).number.to_string(),
        since: version(s.from).entry.at,
        to: s.to.map(|i| version(i).number.to_string()),
        until: s.to.map(|i| version(i).entry.at),
        runs: s.runs,
    };
    life.stretches.iter().map(span).collect()
}

/// What is beyond a limit that is counted in passes or that a run's numbers are held to.
fn passed(history: &History, limit: &Limit, given: Num, part: &PartLife, life: Option<&Life>) -> Option<String> {
    if limit.passes {
        let (n, more) = match part.passes() {
            Some(n) => (n, ""),
            None => (part.runs, " here alone"),
        };
        let n = Num::int(i32::try_from(n).ok()?);
        return limit.is_passed(given, n).then(|| format!("{n} passes{more}"));
    }
    let life = life?;
    let with_it = history.runs.iter().filter(|m| life.holds(m.version));
    let numbers = with_it.flat_map(|m| limit.run.iter().filter_map(|name| m.run.num(name)));
    let worst = numbers.filter(|n| limit.is_passed(given, *n)).max()?;
    Some(format!("{} run", worst.fixed(2)))
}

/// Passes of each part that is on the car, up to a moment: (what its kind is called, its name, passes, all of them known).
pub fn fitted_passes(book: &Book, history: &History, until: Option<Moment>) -> Vec<(String, String, usize, bool)> {
    let runs = history.runs.iter().filter(|m| until.is_none_or(|t| m.run.at <= t)).map(|m| m.version);
    let all = lives(&history.timeline, runs);
    let mut out = Vec::new();
    for kind in book.schema.part_kinds() {
        for life in all.iter().filter(|l| l.key == kind.key && l.now().is_some()) {
            let part = book.car.part(&kind.key, &life.name);
            let came = part.and_then(|p| p.came_with_passes);
            let passes = came.map_or(0, |n| n as usize) + life.runs();
            out.push((book.schema.part_words(kind), life.name.clone(), passes, came.is_some()));
        }
    }
    out
}
