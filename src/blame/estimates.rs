//! Every step of a book, judged by one model of all its runs: the one place verdicts come from.

use super::Sheets;
use super::kept::{Kept, Move, Step, Told};
use super::model::{Asked, Belief, Fit, LeftOut};
use super::more::{More, Needed};
use super::sides::{Kinds, Ran, Sides};
use super::verdict::{Effect, Verdict};
use crate::pace::{Footing, Seen};
use crate::schema::Schema;
use crate::slip::Response;
use crate::timeline::Timeline;
use std::cell::{OnceCell, RefCell};
use std::collections::BTreeSet;

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
    pub(super) setup_of: Vec<usize>,
    /// The columns of each change that hold a setting.
    settings_of: Vec<Vec<(usize, f64)>>,
    /// Which of them are the same.
    pub(super) kinds: Kinds,
    /// Runs that count, by setup and day.
    pub(super) ran: Ran,
    /// What was answered so far.
    told: RefCell<Told>,
    beliefs: OnceCell<Vec<Belief>>,
    later: Box<dyn Fn() -> Vec<Belief> + 'a>,
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
        let (kept, beliefs) = Kept::new(book, sheets, &asked);
        let estimates = Estimates::from_kept(book, asked, kept, Box::new(Vec::new));
        let _ = estimates.beliefs.set(beliefs);
        estimates
    }

    /// From a fit that was kept; `later` gets what is believed of it, if it comes to that.
    pub fn from_kept(
        book: &Book<'a>,
        asked: Asked,
        mut kept: Kept,
        later: Box<dyn Fn() -> Vec<Belief> + 'a>,
    ) -> Estimates<'a> {
        let setups = book.timeline.setups();
        let setup_of = book.timeline.setup_of(&setups);
        let settings_of: Vec<_> = kept.moves.iter().map(|m| settings(&kept, &m.step)).collect();
        let kinds = Kinds::new(&settings_of);
        let used = kept.fit.as_ref().map_or(&[][..], |f| &f.used);
        let ran = Ran::new(book.runs, used, &setup_of, setups.len());
        let told = std::mem::take(&mut kept.told);
        let told = if told.matters == asked.matters { told } else { Told::of(asked.matters) };
        let (told, beliefs) = (RefCell::new(told), OnceCell::new());
        Estimates {
            asked,
            timeline: book.timeline,
            runs: book.runs,
            kept,
            setup_of,
            settings_of,
            kinds,
            ran,
            told,
            beliefs,
            later,
        }
    }

    /// What is kept, with the answers so far; and what is believed of the columns.
    pub fn to_keep(&self) -> (Kept, &[Belief]) {
        (Kept { told: self.told.borrow().clone(), ..self.kept.clone() }, self.beliefs())
    }

    /// What is believed of the columns of the fit, channel by channel.
    pub(super) fn beliefs(&self) -> &[Belief] {
        self.beliefs.get_or_init(|| (self.later)())
    }

    /// Answers what everybody asks, so that it is kept with the fit.
    pub fn foresee(&self) {
        for m in &self.kept.moves {
            let _ = (self.judge(m), self.one_of_two(m));
        }
        self.chances_of_best();
        let _ = self.last_good();
        if let (Some(best), Some(now)) = (self.best(), self.timeline.versions.len().checked_sub(1)) {
            let _ = self.compare(best, now);
        }
        let _ = self.promising().map(|m| self.needed(m));
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
        self.ran.on(self.setup_of[version]).iter().copied()
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
        fit.channels.iter().zip(self.beliefs()).map(|(c, b)| (c.times, b.draws.sum(&step))).collect()
    }

    fn judged(&self, fit: &Fit, step: &[(usize, f64)], sides: Sides) -> Judged {
        let (effect, verdict, open) = self.weighed(fit, step, sides.without.len().min(sides.with.len()));
        Judged { effect, verdict, open, sides }
    }

    fn weighed(&self, fit: &Fit, step: &[(usize, f64)], fewest: usize) -> (Effect, Verdict, f64) {
        // Values of a sheet's columns are whole numbers, and so are steps.
        let key: Option<Step> =
            step.iter().all(|(_, d)| d.fract() == 0.0).then(|| step.iter().map(|(k, d)| (*k, *d as i16)).collect());
        let known = key.as_ref().and_then(|k| self.told.borrow().effects.get(k).copied());
        let (effect, open) = known.unwrap_or_else(|| {
            let beliefs = self.beliefs();
            let draws = fit.draws(beliefs, step);
            (Effect::of(&draws, self.asked.matters, self.asked.response.is_speed()), fit.open(beliefs, step))
        });
        if let (None, Some(key)) = (known, key) {
            self.told.borrow_mut().effects.insert(key, (effect, open));
        }
        let verdict = effect.verdict(fewest, open);
        (effect, verdict, open)
    }

    /// Any sum of columns, judged: `fewest` runs lie on the thinnest of what it rests on.
    pub(super) fn weigh(&self, step: &[(usize, f64)], fewest: usize) -> Option<(Effect, Verdict, f64)> {
        self.kept.fit.as_ref().map(|fit| self.weighed(fit, step, fewest))
    }

    /// Whether the settings of a change stand on a version as the change made them (true), as they were before it (false),
    /// or neither.
    pub fn stands(&self, m: &Move, on: usize) -> Option<bool> {
        let fit = self.kept.fit.as_ref()?;
        let own = self.settings(&m.step);
        let differs = |from: usize| fit.differ(self.setup_of[from], self.setup_of[on], &own);
        match (differs(m.version), differs(m.before)) {
            _ if own.is_empty() => None,
            (false, _) => Some(true),
            (true, false) => Some(false),
            (true, true) => None,
        }
    }

    /// The columns of a step that hold a setting.
    pub(super) fn settings(&self, step: &[(usize, f64)]) -> Vec<(usize, f64)> {
        settings(&self.kept, step)
    }

    /// Other changes whose settings these runs hardly part from this one's: one of them did it. Their columns correlate below
    /// -0.7 in what is left open.
    pub fn one_of_two(&self, m: &Move) -> Vec<usize> {
        if let Some(known) = self.told.borrow().one_of_two.get(&m.version) {
            return known.clone();
        }
        let found = self.looked_for(m);
        self.told.borrow_mut().one_of_two.insert(m.version, found.clone());
        found
    }

    fn looked_for(&self, m: &Move) -> Vec<usize> {
        let Some(fit) = &self.kept.fit else { return Vec::new() };
        let p = fit.columns.len();
        let own = self.settings(&m.step);
        let apart = |j: usize, k: usize, sign: f64| {
            self.beliefs().iter().any(|b| {
                let of = |x: usize, y: usize| f64::from(b.left[x * p + y]);
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

    /// The chance of each change to be the quickest step of all, and beyond what matters. Equal steps share.
    pub fn chances_of_best(&self) -> Vec<f64> {
        if let Some(known) = &self.told.borrow().best {
            return known.clone();
        }
        let Some(fit) = &self.kept.fit else { return Vec::new() };
        let draws: Vec<Vec<f64>> = self.kept.moves.iter().map(|m| fit.draws(self.beliefs(), &m.step)).collect();
        let kept = draws.first().map_or(0, Vec::len);
        let mut chances = vec![0.0; draws.len()];
        for t in 0..kept {
            let least = draws.iter().map(|d| d[t]).fold(f64::INFINITY, f64::min);
            if least < -self.asked.matters {
                let hit = |d: &&Vec<f64>| d[t] == least;
                let share = 1.0 / (kept * draws.iter().filter(hit).count()) as f64;
                chances.iter_mut().zip(&draws).filter(|(_, d)| hit(d)).for_each(|(c, _)| *c += share);
            }
        }
        self.told.borrow_mut().best = Some(chances.clone());
        chances
    }

    /// The change that may gain most of those that are not settled: one that was taken back and done again counts as its
    /// first.
    pub fn promising(&self) -> Option<&Move> {
        let judged = |m: &Move| -> Option<f64> {
            let judged = self.judge(m)?;
            let e = judged.effect;
            let open = !judged.verdict.settled() && e.p_gain >= 0.25 && e.value.abs() >= self.asked.matters;
            (open && judged.sides.toggles.iter().all(|v| *v >= m.version)).then_some(e.p_gain)
        };
        let all = self.kept.moves.iter().filter_map(|m| Some((m, judged(m)?)));
        all.max_by(|a, b| a.1.total_cmp(&b.1)).map(|(m, _)| m)
    }

    /// How many runs more would settle a change.
    pub fn needed(&self, m: &Move) -> Option<Needed> {
        if let Some(known) = self.told.borrow().needed.get(&m.version) {
            return *known;
        }
        let needed = More::new(self, m.before, m.version).map(|more| more.needed());
        self.told.borrow_mut().needed.insert(m.version, needed);
        needed
    }

    /// Fields that these runs cannot part, among those a change altered: groups of two and more.
    pub fn bundles(&self, m: &Move) -> Vec<Vec<String>> {
        let Some(fit) = &self.kept.fit else { return Vec::new() };
        let p = fit.columns.len();
        // A field that went up as another went down is a column turned round: no easier to part.
        let alike = |j: usize, k: usize| {
            let of = |c: usize| self.ran.setups().map(move |s| fit.z[s * p + c]);
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

/// Columns correlated below this are one of two.
const EITHER: f64 = -0.7;

/// The columns of a step that hold a setting.
pub(super) fn settings(kept: &Kept, step: &[(usize, f64)]) -> Vec<(usize, f64)> {
    let Some(fit) = &kept.fit else { return Vec::new() };
    step.iter().filter(|(k, _)| fit.columns[*k].fields > 0.0).copied().collect()
}
