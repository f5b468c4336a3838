//! Every step of a book, judged by one model of all its runs: the one place verdicts come from.

use super::Sheets;
use super::model::{Asked, Design, Fit, LeftOut, Levels, Record, Settings, fit, levels_of};
use super::verdict::{Effect, Verdict};
use crate::diff::{diff, words};
use crate::pace::{Footing, Seen};
use crate::schema::{Schema, Sheet, filled_back};
use crate::slip::Response;
use crate::timeline::Timeline;
use serde::{Deserialize, Serialize};
use std::collections::{BTreeMap, BTreeSet};

/// A change of the sheet that runs lie on both sides of.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Move {
    /// Index of the version.
    pub version: usize,
    /// Index of the version before it that runs count on.
    pub before: usize,
    /// Keys of what a hand set, or what is described, that differs.
    pub keys: Vec<String>,
    /// What was turned, in words; what was only measured is no change of the car.
    pub words: Vec<String>,
    /// Columns that differ.
    pub step: Vec<(usize, f64)>,
}

/// What is kept: all of it follows from the book and what was asked.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Kept {
    /// The model; `None` where no run counts.
    pub fit: Option<Fit>,
    /// Runs that do not count, and why.
    pub left_out: Vec<(usize, LeftOut)>,
    /// The changes, in the order of time.
    pub moves: Vec<Move>,
    /// Keys that differ between each version and the one before it.
    pub keys: Vec<Vec<String>>,
}

/// The runs on the two sides of a change, pooled over equal and toggled states.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Sides {
    /// Runs without it: places among all runs.
    pub without: Vec<usize>,
    /// Runs with it.
    pub with: Vec<usize>,
    /// Changes, there or back, that are this one: indices of versions.
    pub toggles: Vec<usize>,
    /// Days with runs on both sides.
    pub same_day: Vec<jiff::civil::Date>,
    /// Days with a run on either.
    pub days: usize,
}

/// A difference, judged.
#[derive(Debug, Clone, PartialEq)]
pub struct Judged {
    /// What it is worth.
    pub effect: Effect,
    /// What is said of it.
    pub verdict: Verdict,
    /// How much of what was believed the runs leave open, 0 to 1.
    pub open: f64,
    /// The runs behind it.
    pub sides: Sides,
}

/// All of it, for one response.
pub struct Estimates<'a> {
    /// What was asked.
    pub asked: Asked,
    /// The book's versions.
    pub timeline: &'a Timeline,
    /// All runs.
    pub runs: &'a [Seen<'a>],
    /// Model and changes.
    pub kept: Kept,
    setup_of: Vec<usize>,
    /// The columns of each change that hold a setting.
    settings_of: Vec<Vec<(usize, f64)>>,
}

/// What the model is made from.
pub struct Book<'a> {
    /// The fields.
    pub schema: &'a Schema,
    /// The versions.
    pub timeline: &'a Timeline,
    /// All runs, in the order of time.
    pub runs: &'a [Seen<'a>],
    /// The air.
    pub footing: &'a Footing,
    /// What ET means, ft.
    pub finish_ft: u32,
}

impl<'a> Estimates<'a> {
    /// Fits the model.
    pub fn new(book: &Book<'a>, sheets: &Sheets, asked: Asked) -> Estimates<'a> {
        let kept = Kept::new(book, sheets, &asked);
        Estimates::from_kept(book, asked, kept)
    }

    /// From a fit that was kept.
    pub fn from_kept(book: &Book<'a>, asked: Asked, kept: Kept) -> Estimates<'a> {
        let setups = book.timeline.setups();
        let setup_of = book.timeline.setup_of(&setups);
        let settings_of = kept.moves.iter().map(|m| settings(&kept, &m.step)).collect();
        Estimates { asked, timeline: book.timeline, runs: book.runs, kept, setup_of, settings_of }
    }

    /// The setup of a version.
    pub fn setup(&self, version: usize) -> usize {
        self.setup_of[version]
    }

    /// Places of the runs that count.
    pub fn used(&self) -> &[usize] {
        self.kept.fit.as_ref().map_or(&[], |f| &f.used)
    }

    /// Mean passes on the tires by name over some runs that count.
    pub fn passes(&self, places: &[usize]) -> Option<f64> {
        let fit = self.kept.fit.as_ref()?;
        let of = |r: &usize| fit.used.binary_search(r).ok().and_then(|i| fit.passes[i]);
        let all: Option<Vec<f32>> = places.iter().map(of).collect();
        let all = all.filter(|v| !v.is_empty())?;
        Some(all.iter().map(|p| f64::from(*p)).sum::<f64>() / all.len() as f64)
    }

    /// From run to run, standard deviation of the number, in its unit, as fitted. `None` where no run counts.
    pub fn run_sd(&self) -> Option<f64> {
        let channels = &self.kept.fit.as_ref()?.channels;
        Some(channels.iter().map(|c| (c.times * c.sd[0]).powi(2)).sum::<f64>().sqrt())
    }

    /// Runs that do not count, and why.
    pub fn left_out(&self) -> &[(usize, LeftOut)] {
        &self.kept.left_out
    }

    /// Runs that count on the setup of a version.
    pub fn on_setup(&self, version: usize) -> impl Iterator<Item = usize> + '_ {
        let setup = self.setup_of[version];
        self.used().iter().copied().filter(move |r| self.setup_of[self.runs[*r].version] == setup)
    }

    /// The change that made a version.
    pub fn of_version(&self, version: usize) -> Option<&Move> {
        self.kept.moves.iter().find(|m| m.version == version)
    }

    /// A change, judged.
    pub fn judge(&self, m: &Move) -> Option<Judged> {
        let fit = self.kept.fit.as_ref()?;
        let sides = self.sides(m);
        Some(self.judged(fit, &m.step, sides))
    }

    /// One setup against another, with all that is the same change pooled. `None` without a run that counts on both, or of
    /// one setup.
    pub fn compare(&self, without: usize, with: usize) -> Option<Judged> {
        let fit = self.kept.fit.as_ref()?;
        let (a, b) = (self.setup_of[without], self.setup_of[with]);
        if a == b || self.on_setup(without).next().is_none() || self.on_setup(with).next().is_none() {
            return None;
        }
        let step = fit.step(a, b);
        let sides = self.sides_of_step(&step, (a, b));
        Some(self.judged(fit, &step, sides))
    }

    /// Draws of a difference of two versions' setups; less is quicker. Channel by channel, as they add up.
    pub fn channel_draws(&self, without: usize, with: usize) -> Vec<(f64, Vec<f64>)> {
        let Some(fit) = &self.kept.fit else { return Vec::new() };
        let step = fit.step(self.setup_of[without], self.setup_of[with]);
        fit.channels.iter().map(|c| (c.times, c.draws.sum(&step))).collect()
    }

    fn judged(&self, fit: &Fit, step: &[(usize, f64)], sides: Sides) -> Judged {
        let (effect, verdict, open) = self.weighed(fit, step, sides.without.len().min(sides.with.len()));
        Judged { effect, verdict, open, sides }
    }

    fn weighed(&self, fit: &Fit, step: &[(usize, f64)], fewest: usize) -> (Effect, Verdict, f64) {
        let open = fit.open(step);
        let effect = Effect::of(&fit.draws(step), self.asked.matters, self.asked.response.is_speed());
        let verdict = effect.verdict(fewest, open);
        (effect, verdict, open)
    }

    /// Any sum of columns, judged: `fewest` runs lie on the thinnest of what it rests on.
    pub(super) fn weigh(&self, step: &[(usize, f64)], fewest: usize) -> Option<(Effect, Verdict, f64)> {
        self.kept.fit.as_ref().map(|fit| self.weighed(fit, step, fewest))
    }

    /// The runs on the sides of a change and of all that are the same change, there or back.
    pub fn sides(&self, m: &Move) -> Sides {
        self.sides_of_step(&m.step, (self.setup_of[m.before], self.setup_of[m.version]))
    }

    fn sides_of_step(&self, step: &[(usize, f64)], (a, b): (usize, usize)) -> Sides {
        // The same settings there or back; what a bundle did beyond them is another column each time it is new.
        let own = self.settings(step);
        let back: Vec<(usize, f64)> = own.iter().map(|(k, d)| (*k, -d)).collect();
        let (mut without, mut with, mut toggles) = (BTreeSet::from([a]), BTreeSet::from([b]), Vec::new());
        for (other, settings) in self.kept.moves.iter().zip(&self.settings_of) {
            let (x, y) = (self.setup_of[other.before], self.setup_of[other.version]);
            let (x, y) = match settings {
                _ if (x, y) == (a, b) => (x, y),
                _ if (y, x) == (a, b) => (y, x),
                s if s.is_empty() => continue,
                s if *s == own => (x, y),
                s if *s == back => (y, x),
                _ => continue,
            };
            without.insert(x);
            with.insert(y);
            toggles.push(other.version);
        }
        self.sides_of(&without, &with, toggles)
    }

    /// Whether the settings of a change stand on a version as the change made them (true), as they were before it (false),
    /// or neither.
    pub fn stands(&self, m: &Move, on: usize) -> Option<bool> {
        let fit = self.kept.fit.as_ref()?;
        let own = self.settings(&m.step);
        let differs = |from: usize| {
            let step = fit.step(self.setup_of[from], self.setup_of[on]);
            own.iter().any(|(k, _)| step.iter().any(|(j, _)| j == k))
        };
        match (differs(m.version), differs(m.before)) {
            _ if own.is_empty() => None,
            (false, _) => Some(true),
            (true, false) => Some(false),
            (true, true) => None,
        }
    }

    /// The columns of a step that hold a setting.
    fn settings(&self, step: &[(usize, f64)]) -> Vec<(usize, f64)> {
        settings(&self.kept, step)
    }

    /// Other changes whose settings these runs hardly part from this one's: one of them did it. Their columns correlate below
    /// -0.7 in what is left open.
    pub fn one_of_two(&self, m: &Move) -> Vec<usize> {
        let Some(fit) = &self.kept.fit else { return Vec::new() };
        let p = fit.columns.len();
        let own = self.settings(&m.step);
        let apart = |j: usize, k: usize, sign: f64| {
            fit.channels.iter().any(|c| {
                let of = |a: usize, b: usize| f64::from(c.left[a * p + b]);
                sign * of(j, k) / (of(j, j) * of(k, k)).sqrt() < EITHER
            })
        };
        let either = |theirs: &[(usize, f64)]| {
            let shared = theirs.iter().any(|(k, _)| own.iter().any(|(j, _)| j == k));
            !shared && own.iter().any(|(j, x)| theirs.iter().any(|(k, y)| apart(*j, *k, x * y)))
        };
        let moves = self.kept.moves.iter().zip(&self.settings_of);
        moves.filter(|(_, theirs)| either(theirs)).map(|(o, _)| o.version).collect()
    }

    /// The runs on two sets of setups.
    pub(super) fn sides_of(&self, without: &BTreeSet<usize>, with: &BTreeSet<usize>, toggles: Vec<usize>) -> Sides {
        let on = |setups: &BTreeSet<usize>| -> Vec<usize> {
            self.used().iter().copied().filter(|r| setups.contains(&self.setup_of[self.runs[*r].version])).collect()
        };
        let (without, with) = (on(without), on(with));
        let days = |runs: &[usize]| -> BTreeSet<(jiff::civil::Date, &str)> {
            runs.iter().map(|r| (self.runs[*r].day.date, self.runs[*r].day.track.as_str())).collect()
        };
        let (a, b) = (days(&without), days(&with));
        let same_day = a.intersection(&b).map(|(d, _)| *d).collect();
        Sides { without, with, toggles, same_day, days: a.union(&b).count() }
    }

    /// The chance of each change to be the quickest step of all, and beyond what matters. Equal steps share.
    pub fn chances_of_best(&self) -> Vec<f64> {
        let Some(fit) = &self.kept.fit else { return Vec::new() };
        let mut least: Vec<f64> = Vec::new();
        for m in &self.kept.moves {
            let draws = fit.draws(&m.step);
            least.resize(draws.len(), f64::INFINITY);
            least.iter_mut().zip(draws).for_each(|(l, d)| *l = l.min(d));
        }
        let hits = |m: &Move| -> Vec<bool> {
            let draws = fit.draws(&m.step);
            draws.iter().zip(&least).map(|(d, l)| d == l && *l < -self.asked.matters).collect()
        };
        let mut shared = vec![0_usize; least.len()];
        for m in &self.kept.moves {
            shared.iter_mut().zip(hits(m)).for_each(|(n, hit)| *n += usize::from(hit));
        }
        let kept = least.len().max(1) as f64;
        let chance =
            |m: &Move| hits(m).iter().zip(&shared).filter(|(h, _)| **h).map(|(_, n)| 1.0 / *n as f64).sum::<f64>();
        self.kept.moves.iter().map(|m| chance(m) / kept).collect()
    }

    /// Fields that these runs cannot part, among those a change altered: groups of two and more.
    pub fn bundles(&self, m: &Move) -> Vec<Vec<String>> {
        let Some(fit) = &self.kept.fit else { return Vec::new() };
        let p = fit.columns.len();
        let setups: BTreeSet<usize> = self.used().iter().map(|r| self.setup_of[self.runs[*r].version]).collect();
        // A field that went up as another went down is a column turned round: no easier to part.
        let alike = |j: usize, k: usize| {
            let of = |c: usize| setups.iter().map(move |s| fit.z[s * p + c]);
            of(j).zip(of(k)).all(|(a, b)| a == b) || of(j).zip(of(k)).all(|(a, b)| a == -b)
        };
        let mut groups: Vec<Vec<usize>> = Vec::new();
        for (k, _) in self.settings(&m.step) {
            match groups.iter_mut().find(|g| alike(g[0], k)) {
                Some(group) => group.push(k),
                None => groups.push(vec![k]),
            }
        }
        let keys = |group: &Vec<usize>| -> Vec<String> {
            let of = group.iter().flat_map(|k| &fit.columns[*k].keys);
            let keys: BTreeSet<&String> = of.filter(|key| m.keys.contains(key)).collect();
            keys.into_iter().cloned().collect()
        };
        // A part and what came along with it are one.
        let many = |g: &&Vec<usize>| g.len() > 1 || fit.columns[g[0]].fields > 1.0;
        groups.iter().filter(many).map(keys).filter(|k| k.len() > 1).collect()
    }

    /// What is asked.
    pub fn response(&self) -> Response {
        self.asked.response
    }
}

/// The sheet of every version with what was described later filled back, and what each setup sets.
pub(super) fn levels_of_setups(schema: &Schema, timeline: &Timeline, sheets: &Sheets) -> (Vec<Sheet>, Vec<Levels>) {
    let empty = Sheet::default();
    let of_versions: Vec<Sheet> =
        timeline.versions.iter().map(|v| sheets.get(v.sheet_id()).unwrap_or(&empty).clone()).collect();
    let filled = filled_back(schema, &of_versions);
    let setups = timeline.setups();
    let of = |v: Option<&usize>| v.map_or_else(BTreeMap::new, |v| levels_of(schema, &filled[*v]));
    let levels = setups.iter().map(|s| of(s.versions.first())).collect();
    (filled, levels)
}

/// The field a value came along with: its part, or itself.
pub(super) fn root_of(schema: &Schema, key: &str) -> String {
    let part = schema.field(key).and_then(|f| f.part.clone());
    part.unwrap_or_else(|| key.to_owned())
}

/// From one sheet to the next in words: what a hand turned or what it is judged by, or all where there is nothing of it.
fn turned(schema: &Schema, old: &Sheet, new: &Sheet, keys: &[String]) -> Vec<String> {
    let clauses = words::clauses(schema, old, new, &diff(schema, old, new));
    let tells = |c: &words::Clause| c.turned || c.fields.iter().any(|f| keys.contains(f));
    let any = clauses.iter().any(tells);
    clauses.into_iter().filter(|c| tells(c) || !any).map(|c| c.text).collect()
}

/// Columns correlated below this are one of two.
const EITHER: f64 = -0.7;

/// The columns of a step that hold a setting.
fn settings(kept: &Kept, step: &[(usize, f64)]) -> Vec<(usize, f64)> {
    let Some(fit) = &kept.fit else { return Vec::new() };
    step.iter().filter(|(k, _)| fit.columns[*k].fields > 0.0).copied().collect()
}

impl Kept {
    fn new(book: &Book, sheets: &Sheets, asked: &Asked) -> Kept {
        let Book { schema, timeline, runs, footing, finish_ft } = *book;
        let record = Record::new(schema, timeline, runs, finish_ft, asked);
        let setups = timeline.setups();
        let setup_of = timeline.setup_of(&setups);
        let (_, levels) = levels_of_setups(schema, timeline, sheets);
        let empty = Sheet::default();
        let ground = crate::pace::Ground::new(timeline);
        let used = record.setups(setups.len());
        let design = Design::new(&levels, ground.parents(), &used, &|key| root_of(schema, key));
        let settings = |channel, middles| Settings::of(channel, footing, finish_ft, middles);
        let fitted = fit(&record, &design, finish_ft, asked.response, &settings, &|run| runs[run].version);
        // A change is judged between versions that runs count on; what was changed again before a run came along with it.
        // Equal setups pool: a version counts where its setup was run, even if not as this version.
        let counted: Vec<usize> = (0..setup_of.len()).filter(|v| used[setup_of[*v]]).collect();
        let differ = |a: usize, b: usize| -> Vec<String> {
            let (la, lb) = (&levels[a], &levels[b]);
            let keys: BTreeSet<&String> =
                la.keys().chain(lb.keys()).filter(|k| la.get(*k) != lb.get(*k)).map(|(k, _)| k).collect();
            keys.into_iter().cloned().collect()
        };
        let keys = (0..setup_of.len())
            .map(|v| v.checked_sub(1).map_or_else(Vec::new, |before| differ(setup_of[before], setup_of[v])))
            .collect();
        let mut moves = Vec::new();
        for pair in counted.windows(2) {
            let (a, b) = (setup_of[pair[0]], setup_of[pair[1]]);
            if a == b {
                continue;
            }
            let before = sheets.get(timeline.versions[pair[0]].sheet_id()).unwrap_or(&empty);
            let after = sheets.get(&timeline.versions[pair[1]].entry.blob).unwrap_or(&empty);
            moves.push(Move {
                version: pair[1],
                before: pair[0],
                keys: differ(a, b),
                words: turned(schema, before, after, &differ(a, b)),
                step: design.step(a, b),
            });
        }
        Kept { fit: fitted, left_out: record.left_out, moves, keys }
    }
}
