//! Does a set of fields work only together: each singly, all together, and what is beyond the sum.

use super::model::Level;
use super::pieces::{Pieces, Spot};
use super::{Effect, Estimates, Sheets, Verdict};
use crate::schema::{Schema, Value};
use std::collections::{BTreeMap, BTreeSet, HashMap};

/// A number of the model and what is said of it.
#[derive(Debug, Clone)]
pub struct Weighed {
    /// In the response's unit.
    pub effect: Effect,
    /// The rung.
    pub verdict: Verdict,
    /// How much these runs leave open, 0 to 1.
    pub open: f64,
}

/// A field of the set that differs between the two ends.
#[derive(Debug, Clone)]
pub struct Turned {
    /// Which.
    pub key: String,
    /// Before; `None` = not on record.
    pub from: Option<Value>,
    /// With the set.
    pub to: Option<Value>,
}

/// A setup something rests on.
#[derive(Debug, Clone)]
pub struct Corner {
    /// A version of it: index.
    pub version: usize,
    /// Runs that count.
    pub runs: usize,
}

/// Fields that were run changed without the rest of the set.
#[derive(Debug, Clone)]
pub struct Block {
    /// Which.
    pub keys: Vec<String>,
    /// Where they were.
    pub corner: Corner,
    /// What they are worth without the rest.
    pub worth: Weighed,
}

/// What the runs say of a set.
#[derive(Debug, Clone)]
pub enum Said {
    /// Singly, together, and beyond the sum.
    Parted {
        /// Each alone; several fields where they were never run apart.
        blocks: Vec<Block>,
        /// All of them.
        together: Weighed,
        /// Together minus the sum of each alone.
        beyond: Weighed,
    },
    /// A setup is wanting.
    Wanting {
        /// All of them against none.
        together: Weighed,
        /// Fields that were never run changed alone.
        never_alone: Vec<String>,
        /// The fewest setups that would tell something: each is the whole set with these fields back as they were.
        run: Vec<Vec<String>>,
    },
}

/// A set with two or more of its fields changed, where the runs were with none and with most of them.
#[derive(Debug, Clone)]
pub struct Told {
    /// What differs.
    pub turned: Vec<Turned>,
    /// With none of them.
    pub without: Corner,
    /// With all of them.
    pub with: Corner,
    /// Fields of the set, and fields outside it that changed whenever they did: they cannot be told apart, and the numbers
    /// are of both.
    pub shared: Option<(Vec<String>, Vec<String>)>,
    /// Other fields outside the set that differ too: taken off by the model.
    pub beside: Vec<String>,
    /// What is said.
    pub said: Said,
}

/// More fields than this at once are never parted.
const MOST_FIELDS: usize = 8;
/// States of a set looked at, those with the most runs.
const MOST_STATES: usize = 60;

/// A setup of fewer runs stands for a state only where there is no other.
const FEW: usize = 3;

/// What stands in each slot of the set, by number.
type State = Vec<usize>;

struct Set<'p, 'a> {
    pieces: &'p Pieces<'a>,
    /// Fields of the set, those of which something was ever on record.
    keys: Vec<String>,
    spots: Vec<Spot>,
    /// Setups that were run, by state.
    at: HashMap<State, usize>,
    states: Vec<(State, Vec<usize>)>,
}

/// Two states, with what differs.
struct Pair {
    from: usize,
    to: usize,
    apart: Vec<usize>,
    /// Each a set of places in `apart`, as bits: fields that were run changed without the rest.
    blocks: Vec<usize>,
}

/// A set judged: where most of it changed, and, where that leaves it open, where something of it was parted. Empty where fewer
/// than two of its fields ever changed between runs that count.
pub fn package(schema: &Schema, sheets: &Sheets, estimates: &Estimates, keys: &[String]) -> Vec<Told> {
    let pieces = Pieces::new(schema, sheets, estimates);
    let set = Set::new(&pieces, keys);
    let pairs = set.pairs();
    // What was on the car first is the set undone: the other way round its worth would change its sign.
    let fewest = |p: &Pair| set.runs(p.from).min(set.runs(p.to));
    let score = |p: &&Pair| (p.apart.len(), p.blocks.len(), std::cmp::Reverse(p.from), fewest(p));
    let widest = pairs.iter().max_by_key(score);
    let open = widest.is_some_and(|w| w.blocks.len() < 2);
    let parted = pairs.iter().filter(|p| open && p.blocks.len() > 1).max_by_key(score);
    widest.into_iter().chain(parted).filter_map(|p| set.told(p)).collect()
}

impl<'p, 'a> Set<'p, 'a> {
    fn new(pieces: &'p Pieces<'a>, keys: &[String]) -> Set<'p, 'a> {
        let of: Vec<(String, Vec<Spot>)> = keys.iter().map(|k| (k.clone(), pieces.spots(k))).collect();
        let of: Vec<_> = of.into_iter().filter(|(_, s)| !s.is_empty()).collect();
        let spots: Vec<Spot> = of.iter().flat_map(|(_, s)| s.clone()).collect();
        let mut seen: Vec<Vec<Option<&Level>>> = vec![Vec::new(); spots.len()];
        let place = |seen: &mut Vec<Option<&'p Level>>, level: Option<&'p Level>| {
            seen.iter().position(|l| *l == level).unwrap_or_else(|| {
                seen.push(level);
                seen.len() - 1
            })
        };
        let mut states: Vec<(State, Vec<usize>)> = Vec::new();
        for setup in pieces.ran() {
            let state: State =
                spots.iter().zip(&mut seen).map(|(s, seen)| place(seen, pieces.level(setup, s))).collect();
            match states.iter_mut().find(|(s, _)| *s == state) {
                Some((_, setups)) => setups.push(setup),
                None => states.push((state, vec![setup])),
            }
        }
        let at = states.iter().enumerate().map(|(i, (s, _))| (s.clone(), i)).collect();
        Set { pieces, keys: of.into_iter().map(|(k, _)| k).collect(), spots, at, states }
    }

    fn runs(&self, state: usize) -> usize {
        self.states[state].1.iter().map(|s| self.pieces.runs_on(*s)).sum()
    }

    /// Fields in which two states differ: places in `keys`.
    fn apart(&self, a: usize, b: usize) -> Vec<usize> {
        let (sa, sb) = (&self.states[a].0, &self.states[b].0);
        let differ: BTreeSet<&String> =
            self.spots.iter().enumerate().filter(|(i, _)| sa[*i] != sb[*i]).map(|(_, s)| &s.0).collect();
        (0..self.keys.len()).filter(|k| differ.contains(&self.keys[*k])).collect()
    }

    /// The state with some fields as in `to`, the others as in `from`, if it was run.
    fn mixed(&self, from: usize, to: usize, apart: &[usize], of: usize) -> Option<usize> {
        let moved: BTreeSet<&String> =
            apart.iter().enumerate().filter(|(i, _)| of >> i & 1 == 1).map(|(_, k)| &self.keys[*k]).collect();
        let (a, b) = (&self.states[from].0, &self.states[to].0);
        let state: State =
            self.spots.iter().enumerate().map(|(i, s)| if moved.contains(&s.0) { b[i] } else { a[i] }).collect();
        self.at.get(&state).copied()
    }

    /// All pairs of states that differ in two fields and more, the earlier first.
    fn pairs(&self) -> Vec<Pair> {
        let mut order: Vec<usize> = (0..self.states.len()).collect();
        order.sort_by_key(|s| std::cmp::Reverse(self.runs(*s)));
        order.truncate(MOST_STATES);
        order.sort_unstable();
        let mut out = Vec::new();
        for (i, from) in order.iter().copied().enumerate() {
            for to in order[i + 1..].iter().copied() {
                let apart = self.apart(from, to);
                if (2..=MOST_FIELDS).contains(&apart.len()) {
                    out.push(Pair { from, to, blocks: self.blocks(from, to, &apart), apart });
                }
            }
        }
        out
    }

    /// The finest way to part the fields into such as were run changed without the rest.
    fn blocks(&self, from: usize, to: usize, apart: &[usize]) -> Vec<usize> {
        let full = (1 << apart.len()) - 1;
        let ran: Vec<bool> = (0..=full).map(|of| self.mixed(from, to, apart, of).is_some()).collect();
        let mut best: Vec<Option<Vec<usize>>> = vec![None; full + 1];
        best[0] = Some(Vec::new());
        for of in 1..=full {
            let lowest = of & of.wrapping_neg();
            let mut part = of;
            while part > 0 {
                if part & lowest != 0
                    && ran[part]
                    && let Some(rest) = &best[of ^ part]
                    && best[of].as_ref().is_none_or(|b| rest.len() + 1 > b.len())
                {
                    let found = rest.iter().copied().chain([part]).collect();
                    best[of] = Some(found);
                }
                part = (part - 1) & of;
            }
        }
        let mut found = best[full].take().unwrap_or_default();
        found.sort_unstable();
        found
    }

    fn names(&self, apart: &[usize], of: usize) -> Vec<String> {
        apart.iter().enumerate().filter(|(i, _)| of >> i & 1 == 1).map(|(_, k)| self.keys[*k].clone()).collect()
    }

    /// Fields outside the set in which two setups differ.
    fn beside(&self, a: usize, b: usize) -> BTreeSet<String> {
        let others = self.pieces.apart(a, b).into_iter().filter(|s| !self.keys.contains(&s.0));
        let others = others.map(|s| self.pieces.root(&s.0));
        others.filter(|r| !self.keys.contains(r)).collect()
    }

    /// A setup of each state, as alike as can be outside the set; the first is what the others are held against.
    fn setups(&self, states: &[usize]) -> Option<Vec<usize>> {
        let nearest = |a: usize, state: usize| {
            let of = self.states[state].1.iter().copied();
            of.min_by_key(|s| {
                let runs = self.pieces.runs_on(*s);
                (runs < FEW, self.beside(a, *s).len(), std::cmp::Reverse(runs))
            })
        };
        let rest = &states[1..];
        let with = |a: usize| -> Option<Vec<usize>> {
            let others: Option<Vec<usize>> = rest.iter().map(|s| nearest(a, *s)).collect();
            Some(std::iter::once(a).chain(others?).collect())
        };
        let cost = |all: &Vec<usize>| {
            let fewest = all.iter().map(|s| self.pieces.runs_on(*s)).min().unwrap_or(0);
            let beside: usize = all.iter().map(|s| self.beside(all[0], *s).len()).sum();
            (fewest < FEW, beside, std::cmp::Reverse(fewest))
        };
        self.states[*states.first()?].1.iter().filter_map(|a| with(*a)).min_by_key(cost)
    }

    fn corner(&self, setup: usize) -> Corner {
        let estimates = self.pieces.estimates;
        let ran = estimates.used().iter().map(|r| estimates.runs[*r].version);
        let version = ran.filter(|v| estimates.setup(*v) == setup).max().unwrap_or(0);
        Corner { version, runs: self.pieces.runs_on(setup) }
    }

    fn turned(&self, pair: &Pair, from: &Corner, to: &Corner) -> Vec<Turned> {
        let value = |c: &Corner, key: &str| self.pieces.sheets[c.version].get(key).cloned();
        let one = |k: &usize| {
            let key = &self.keys[*k];
            Turned { key: key.clone(), from: value(from, key), to: value(to, key) }
        };
        pair.apart.iter().map(one).collect()
    }

    fn told(&self, pair: &Pair) -> Option<Told> {
        let parted = pair.blocks.len() > 1;
        let parts: &[usize] = if parted { &pair.blocks } else { &[] };
        let states: Option<Vec<usize>> =
            parts.iter().map(|of| self.mixed(pair.from, pair.to, &pair.apart, *of)).collect();
        let states: Vec<usize> = [pair.from, pair.to].into_iter().chain(states?).collect();
        let setups = self.setups(&states)?;
        let (a, b) = (setups[0], setups[1]);
        let (without, with) = (self.corner(a), self.corner(b));
        let turned = self.turned(pair, &without, &with);
        let mine = self.mine();
        let (mut steps, mut shared) = (Vec::new(), (BTreeSet::new(), BTreeSet::new()));
        let mut beside: BTreeSet<String> = BTreeSet::new();
        for s in &setups[1..] {
            let others = self.beside(a, *s);
            let own = self.pieces.step(a, *s, |k| others.is_empty() || mine.contains(&k));
            // What is turned round beside it is of the same lump.
            let columns: BTreeSet<usize> = own.iter().map(|(k, _)| *k).collect();
            let round = self.pieces.turned_round(&columns);
            let lump: BTreeSet<usize> = columns.union(&round).copied().collect();
            self.strangers(&lump, &mut shared);
            steps.push(self.pieces.step(a, *s, |k| lump.contains(&k)));
            beside.extend(others);
        }
        beside.retain(|k| !shared.1.contains(k));
        let beside = beside.into_iter().collect();
        let shared = Some(shared).filter(|s| !s.1.is_empty());
        let shared = shared.map(|(of, with)| (of.into_iter().collect(), with.into_iter().collect()));
        let told = |said| Some(Told { turned, without, with, shared, beside, said });
        let runs = |s: &usize| self.pieces.runs_on(*s);
        let weighed = |step: &[(usize, f64)], of: &[usize]| {
            let fewest = of.iter().map(runs).min().unwrap_or(0);
            let (effect, verdict, open) = self.pieces.estimates.weigh(step, fewest)?;
            Some(Weighed { effect, verdict, open })
        };
        let together = weighed(&steps[0], &[a, b])?;
        if !parted {
            let singles =
                (0..pair.apart.len()).filter(|i| self.mixed(pair.from, pair.to, &pair.apart, 1 << i).is_none());
            let never_alone = singles.map(|i| self.keys[pair.apart[i]].clone()).collect();
            return told(Said::Wanting { together, never_alone, run: self.wanting(pair) });
        }
        let mut sum: BTreeMap<usize, f64> = steps[0].iter().copied().collect();
        let mut blocks = Vec::new();
        for ((of, step), setup) in parts.iter().zip(&steps[1..]).zip(&setups[2..]) {
            step.iter().for_each(|(k, d)| *sum.entry(*k).or_default() -= d);
            let worth = weighed(step, &[a, *setup])?;
            blocks.push(Block { keys: self.names(&pair.apart, *of), corner: self.corner(*setup), worth });
        }
        let beyond: Vec<(usize, f64)> = sum.into_iter().filter(|(_, d)| *d != 0.0).collect();
        let beyond = weighed(&beyond, &setups)?;
        told(Said::Parted { blocks, together, beyond })
    }

    /// Columns of the set: its fields' own, and the bundles that altered one of them.
    fn mine(&self) -> BTreeSet<usize> {
        let own = self.pieces.own(&self.spots);
        let altered = |s: &usize| self.pieces.altered(*s).iter().any(|spot| self.keys.contains(&spot.0));
        let bundles = self.pieces.setups().filter(altered).filter_map(|s| self.pieces.bundle(s));
        let pure = |k: &usize| self.pieces.keys(*k).iter().all(|key| self.is_mine(key));
        own.iter().copied().chain(bundles.filter(pure)).collect()
    }

    fn is_mine(&self, key: &str) -> bool {
        self.keys.iter().any(|k| k == key) || self.keys.contains(&self.pieces.root(key))
    }

    /// Notes the fields in a lump of columns that cannot be told apart, where some are of the set and others are not.
    fn strangers(&self, lump: &BTreeSet<usize>, (of, with): &mut (BTreeSet<String>, BTreeSet<String>)) {
        for k in lump {
            let one = BTreeSet::from([*k]);
            let round = self.pieces.turned_round(&one);
            let keys = one.union(&round).flat_map(|k| self.pieces.keys(*k));
            let (mine, others): (Vec<&String>, Vec<&String>) = keys.partition(|k| self.is_mine(k));
            if !mine.is_empty() && !others.is_empty() {
                of.extend(mine.into_iter().cloned());
                with.extend(others.into_iter().map(|k| self.pieces.root(k)));
            }
        }
    }

    /// The fewest setups that would part the set in two, of those the one with the least to put back.
    fn wanting(&self, pair: &Pair) -> Vec<Vec<String>> {
        let full = (1_usize << pair.apart.len()) - 1;
        let missing = |of: usize| self.mixed(pair.from, pair.to, &pair.apart, of).is_none();
        let lacks = |of: usize| [of, full ^ of].into_iter().filter(|p| missing(*p)).collect::<Vec<_>>();
        let back = |p: usize| (full ^ p).count_ones();
        let best = (1..full).map(lacks).filter(|l| !l.is_empty());
        let best = best.min_by_key(|l| (l.len(), l.iter().map(|p| back(*p)).sum::<u32>()));
        best.unwrap_or_default().into_iter().map(|p| self.names(&pair.apart, full ^ p)).collect()
    }
}
