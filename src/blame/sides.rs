//! The runs on the two sides of a change.

use super::Estimates;
use super::kept::Move;
use crate::pace::Seen;
use std::collections::{BTreeMap, BTreeSet, HashMap};

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

/// The runs that count, by setup, and the day of each run: one at a track.
pub(super) struct Ran {
    on: Vec<Vec<usize>>,
    day: Vec<usize>,
}

impl Ran {
    /// `used`: places among `runs`, in order.
    pub fn new(runs: &[Seen], used: &[usize], setup_of: &[usize], setups: usize) -> Ran {
        let mut on = vec![Vec::new(); setups];
        for r in used {
            on[setup_of[runs[*r].version]].push(*r);
        }
        let mut known: HashMap<(jiff::civil::Date, &str), usize> = HashMap::new();
        let mut day = Vec::with_capacity(runs.len());
        for s in runs {
            let next = known.len();
            day.push(*known.entry((s.day.date, s.day.track.as_str())).or_insert(next));
        }
        Ran { on, day }
    }

    /// Those on a setup, in order.
    pub fn on(&self, setup: usize) -> &[usize] {
        &self.on[setup]
    }

    /// Setups with a run that counts.
    pub fn setups(&self) -> impl Iterator<Item = usize> + '_ {
        (0..self.on.len()).filter(|s| !self.on[*s].is_empty())
    }

    fn on_all(&self, setups: &BTreeSet<usize>) -> Vec<usize> {
        let mut runs: Vec<usize> = setups.iter().flat_map(|s| self.on(*s)).copied().collect();
        runs.sort_unstable();
        runs
    }
}

/// Which changes are the same settings, there or back.
pub(super) struct Kinds {
    known: HashMap<Vec<(usize, u64)>, usize>,
    /// Of each change: its kind, and whether it goes there; `None` where it changed no setting.
    of_moves: Vec<Option<(usize, bool)>>,
}

impl Kinds {
    /// `settings`: the columns of each change that hold a setting.
    pub fn new(settings: &[Vec<(usize, f64)>]) -> Kinds {
        let mut known = HashMap::new();
        let mut of = |s: &Vec<(usize, f64)>| {
            let (key, there) = Kinds::key(s)?;
            let next = known.len();
            Some((*known.entry(key).or_insert(next), there))
        };
        let of_moves = settings.iter().map(&mut of).collect();
        Kinds { known, of_moves }
    }

    /// The kind of a step, if a change is of it, and whether it goes there.
    fn of(&self, settings: &[(usize, f64)]) -> Option<(usize, bool)> {
        let (key, there) = Kinds::key(settings)?;
        self.known.get(&key).map(|kind| (*kind, there))
    }

    /// A step with its first column upwards, and whether that is the way it goes; no column of a step is 0.
    fn key(settings: &[(usize, f64)]) -> Option<(Vec<(usize, u64)>, bool)> {
        let there = settings.first()?.1 > 0.0;
        let up = |d: f64| if there { d } else { -d };
        Some((settings.iter().map(|(k, d)| (*k, up(*d).to_bits())).collect(), there))
    }
}

impl Estimates<'_> {
    /// The runs on the sides of a change and of all that are the same change, there or back.
    pub fn sides(&self, m: &Move) -> Sides {
        self.sides_of_step(&m.step, (self.setup_of[m.before], self.setup_of[m.version]))
    }

    pub(super) fn sides_of_step(&self, step: &[(usize, f64)], (a, b): (usize, usize)) -> Sides {
        // The same settings there or back; what a bundle did beyond them is another column each time it is new.
        let own = self.kinds.of(&self.settings(step));
        let (mut without, mut with, mut toggles) = (BTreeSet::from([a]), BTreeSet::from([b]), Vec::new());
        for (other, kind) in self.kept.moves.iter().zip(&self.kinds.of_moves) {
            let (x, y) = (self.setup_of[other.before], self.setup_of[other.version]);
            let (x, y) = match (kind, own) {
                _ if (x, y) == (a, b) => (x, y),
                _ if (y, x) == (a, b) => (y, x),
                (Some((theirs, there)), Some((ours, here))) if *theirs == ours => {
                    if *there == here {
                        (x, y)
                    } else {
                        (y, x)
                    }
                }
                _ => continue,
            };
            without.insert(x);
            with.insert(y);
            toggles.push(other.version);
        }
        self.sides_of(&without, &with, toggles)
    }

    /// The runs on two sets of setups.
    pub(super) fn sides_of(&self, without: &BTreeSet<usize>, with: &BTreeSet<usize>, toggles: Vec<usize>) -> Sides {
        let (without, with) = (self.ran.on_all(without), self.ran.on_all(with));
        let days = |runs: &[usize]| -> BTreeMap<usize, usize> { runs.iter().map(|r| (self.ran.day[*r], *r)).collect() };
        let (a, b) = (days(&without), days(&with));
        let both = a.iter().filter(|(day, _)| b.contains_key(day));
        let mut same_day: Vec<(jiff::civil::Date, &str)> =
            both.map(|(_, r)| (self.runs[*r].day.date, self.runs[*r].day.track.as_str())).collect();
        same_day.sort_unstable();
        let days = a.len() + b.len() - same_day.len();
        Sides { without, with, toggles, same_day: same_day.into_iter().map(|(d, _)| d).collect(), days }
    }
}
