//! Distinct setups → columns: each level of each field, each bundle beyond its fields, and what cannot be told apart.

use crate::schema::{Role, Scalar, Schema, Sheet, Value};
use nalgebra::DMatrix;
use std::collections::{BTreeMap, BTreeSet, HashMap, HashSet};

/// The value of one slot of a field.
#[derive(Debug, Clone, PartialEq, PartialOrd)]
pub enum Level {
    /// A number, in the field's unit.
    Num(f64),
    /// Anything that is the same or not.
    Word(String),
}

/// What a setup sets, by field and slot.
pub type Levels = BTreeMap<(String, usize), Level>;

/// Levels of a sheet: what a hand sets, and what is described.
pub fn levels_of(schema: &Schema, sheet: &Sheet) -> Levels {
    let mut out = Levels::new();
    let level = |s: &Scalar| match s {
        Scalar::Num(n) => Level::Num(n.to_f64()),
        Scalar::Text(t) => Level::Word(t.to_lowercase()),
        Scalar::Flag(f) => Level::Word(f.to_string()),
    };
    for (key, value) in sheet.iter() {
        if !schema.field(key).is_some_and(|f| matches!(f.role, Role::Set | Role::Described)) {
            continue;
        }
        match value {
            Value::One(s) => {
                out.insert((key.to_owned(), 0), level(s));
            }
            Value::Slots(slots) => {
                for (slot, s) in slots.iter().enumerate().filter_map(|(i, s)| Some((i, s.as_ref()?))) {
                    out.insert((key.to_owned(), slot), level(s));
                }
            }
            Value::List(_) | Value::Rows(_) => {
                out.insert((key.to_owned(), 0), Level::Word(format!("{value:?}")));
            }
        }
    }
    out
}

/// Columns that are the same on every setup that was run: they cannot be told apart.
#[derive(Debug, Clone, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct Column {
    /// Keys of the fields in it, each once.
    pub keys: Vec<String>,
    /// How many of them count: a part brings its described values along, and is one.
    pub fields: f64,
    /// Bundles in it: 1 for one of a single field, 1.5 for more.
    pub edges: f64,
}

/// The columns by setup.
#[derive(Debug, Clone, PartialEq)]
pub struct Design {
    /// In the order of their pattern of values, never of their names.
    pub columns: Vec<Column>,
    /// Setups × columns, each minus its value on the first setup that was run.
    pub z: DMatrix<f64>,
}

/// What setups set, by numbers: equal numbers in a slot are equal levels, and 0 is none.
pub struct Grid<'a> {
    /// The slots, in order.
    pub spots: Vec<&'a (String, usize)>,
    /// Levels of each slot, in the order they are first met; number 1 is the first.
    levels: Vec<Vec<&'a Level>>,
    /// Of each slot: the field it came along with; equal numbers are one.
    root: Vec<usize>,
    /// Setups × slots, setup by setup.
    at: Vec<u32>,
}

impl<'a> Grid<'a> {
    /// Of the levels of each setup. `root` says which field a described one came along with.
    pub fn new(setups: &'a [Levels], root: &dyn Fn(&str) -> String) -> Grid<'a> {
        let spots: HashSet<&(String, usize)> = setups.iter().flat_map(BTreeMap::keys).collect();
        let mut spots: Vec<&(String, usize)> = spots.into_iter().collect();
        spots.sort_unstable();
        let place: HashMap<&(String, usize), usize> = spots.iter().enumerate().map(|(i, s)| (*s, i)).collect();
        let mut levels: Vec<Vec<&Level>> = vec![Vec::new(); spots.len()];
        let mut at = vec![0; setups.len() * spots.len()];
        for (s, setup) in setups.iter().enumerate() {
            for (spot, level) in setup {
                let i = place[spot];
                let known = levels[i].iter().position(|l| *l == level).unwrap_or_else(|| {
                    levels[i].push(level);
                    levels[i].len() - 1
                });
                at[s * spots.len() + i] = known as u32 + 1;
            }
        }
        let mut roots: HashMap<String, usize> = HashMap::new();
        let mut number = |key: &str| {
            let next = roots.len();
            *roots.entry(root(key)).or_insert(next)
        };
        let root = spots.iter().map(|s| number(&s.0)).collect();
        Grid { spots, levels, root, at }
    }

    fn row(&self, setup: usize) -> &[u32] {
        &self.at[setup * self.spots.len()..(setup + 1) * self.spots.len()]
    }

    /// Slots in which two setups differ, in order.
    fn apart(&self, a: usize, b: usize) -> impl Iterator<Item = usize> + '_ {
        self.row(a).iter().zip(self.row(b)).enumerate().filter(|(_, (x, y))| x != y).map(|(i, _)| i)
    }

    /// Keys in which two setups differ, each once, in order.
    pub fn differ(&self, a: usize, b: usize) -> Vec<String> {
        let mut keys: Vec<&String> = self.apart(a, b).map(|i| &self.spots[i].0).collect();
        keys.dedup();
        keys.into_iter().cloned().collect()
    }

    /// Fields that differ between two setups, each counted once with what came along with it.
    pub fn changed(&self, a: usize, b: usize) -> usize {
        self.apart(a, b).map(|i| self.root[i]).collect::<BTreeSet<usize>>().len()
    }

    /// The level of a slot on every setup.
    fn values(&self, spot: usize) -> Vec<Option<&Level>> {
        let number = |setup: usize| self.at[setup * self.spots.len() + spot] as usize;
        let setups = self.at.len().checked_div(self.spots.len()).unwrap_or(0);
        (0..setups).map(|s| number(s).checked_sub(1).map(|l| self.levels[spot][l])).collect()
    }
}

struct Candidate {
    pattern: Vec<f64>,
    /// Slot of the field.
    spot: Option<usize>,
    edge: f64,
}

impl Design {
    /// From what the distinct setups set, in the order of their first version; the setup in use before each, with the
    /// fields that differ from it; and which setups have runs that count.
    pub fn new(grid: &Grid, parent: &[Option<usize>], used: &[bool]) -> Design {
        let Some(first) = used.iter().position(|u| *u) else {
            return Design { columns: Vec::new(), z: DMatrix::zeros(used.len(), 0) };
        };
        let mut candidates = Vec::new();
        for spot in 0..grid.spots.len() {
            for pattern in patterns(&grid.values(spot), used) {
                candidates.push(Candidate { pattern, spot: Some(spot), edge: 0.0 });
            }
        }
        for s in 0..used.len() {
            let Some(p) = parent[s] else { continue };
            let edge = if grid.changed(p, s) > 1 { 1.5 } else { 1.0 };
            candidates.push(Candidate { pattern: bundle(parent, s), spot: None, edge });
        }
        // Same on every setup that was run: one group.
        let mut groups: BTreeMap<Vec<i64>, Vec<Candidate>> = BTreeMap::new();
        for mut c in candidates {
            let base = c.pattern[first];
            c.pattern.iter_mut().for_each(|v| *v -= base);
            let shown: Vec<i64> =
                c.pattern.iter().zip(used).filter(|(_, u)| **u).map(|(v, _)| v.round() as i64).collect();
            if shown.iter().any(|v| *v != 0) {
                groups.entry(shown).or_default().push(c);
            }
        }
        let mut z = DMatrix::zeros(used.len(), groups.len());
        let mut columns = Vec::new();
        for (k, (_, group)) in groups.into_iter().enumerate() {
            // Of setups without runs any member would do; the least is the same whatever fields are called.
            if let Some(pattern) =
                group.iter().map(|c| &c.pattern).min_by(|a, b| a.partial_cmp(b).unwrap_or(std::cmp::Ordering::Equal))
            {
                pattern.iter().enumerate().for_each(|(s, v)| z[(s, k)] = *v);
            }
            let roots: BTreeSet<usize> = group.iter().filter_map(|c| Some(grid.root[c.spot?])).collect();
            let keys: BTreeSet<&String> = group.iter().filter_map(|c| Some(&grid.spots[c.spot?].0)).collect();
            columns.push(Column {
                fields: roots.len() as f64,
                keys: keys.into_iter().cloned().collect(),
                edges: group.iter().map(|c| c.edge).sum(),
            });
        }
        Design { columns, z }
    }

    /// The step from one setup to another: columns that differ.
    pub fn step(&self, from: usize, to: usize) -> Vec<(usize, f64)> {
        let difference = |k: usize| self.z[(to, k)] - self.z[(from, k)];
        (0..self.columns.len()).map(|k| (k, difference(k))).filter(|(_, d)| *d != 0.0).collect()
    }
}

/// The column of the bundle that made a setup: 1 on it and on all that came of it.
pub fn bundle(parent: &[Option<usize>], setup: usize) -> Vec<f64> {
    let mut pattern = vec![0.0; parent.len()];
    // A parent stands before its child.
    for t in setup..parent.len() {
        pattern[t] = if t == setup { 1.0 } else { parent[t].map_or(0.0, |p| pattern[p]) };
    }
    pattern
}

/// The columns of one slot: a number's steps from level to level, a word's each but the first seen, and whether there is one.
pub fn patterns(values: &[Option<&Level>], used: &[bool]) -> Vec<Vec<f64>> {
    let shown = || values.iter().zip(used).filter(|(_, u)| **u).map(|(v, _)| *v);
    let mut numbers: Vec<f64> =
        shown().filter_map(|v| if let Some(Level::Num(n)) = v { Some(*n) } else { None }).collect();
    let first = numbers.first().copied();
    numbers.sort_by(f64::total_cmp);
    numbers.dedup();
    let mut words: Vec<&str> = Vec::new();
    for v in shown() {
        if let Some(Level::Word(w)) = v
            && !words.contains(&w.as_str())
        {
            words.push(w);
        }
    }
    let yes = |b: bool| f64::from(u8::from(b));
    let mut out: Vec<Vec<f64>> = Vec::new();
    for b in numbers.iter().skip(1) {
        // Not on record counts as the first number there was: whether it is on record is a column of its own.
        let at = |v: &Option<&Level>| match v {
            Some(Level::Num(n)) => yes(n >= b),
            _ => yes(first.is_some_and(|f| f >= *b)),
        };
        out.push(values.iter().map(at).collect());
    }
    for w in words.iter().skip(1) {
        out.push(values.iter().map(|v| yes(matches!(v, Some(Level::Word(x)) if x == w))).collect());
    }
    if shown().any(|v| v.is_none()) && shown().any(|v| v.is_some()) {
        out.push(values.iter().map(|v| yes(v.is_some())).collect());
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sheets(rows: &[&[(&str, f64)]]) -> Vec<Levels> {
        rows.iter().map(|r| r.iter().map(|(k, v)| (((*k).to_owned(), 0), Level::Num(*v))).collect()).collect()
    }

    fn design(levels: &[Levels], parent: &[Option<usize>], used: &[bool]) -> Design {
        Design::new(&Grid::new(levels, &|key| key.to_owned()), parent, used)
    }

    #[test]
    fn what_always_came_together_is_one_column() {
        let levels = sheets(&[&[("a", 1.0), ("b", 5.0)], &[("a", 2.0), ("b", 4.0)], &[("a", 2.0), ("b", 3.0)]]);
        let d = design(&levels, &[None, Some(0), Some(1)], &[true; 3]);
        // a up: 0 1 1; b down in two steps: 0 -1 -1 and 0 0 -1; the bundle with a, the single with b's second step's negative.
        let patterns: Vec<Vec<f64>> = d.z.column_iter().map(|c| c.iter().copied().collect()).collect();
        assert_eq!(patterns, [[0.0, -1.0, -1.0], [0.0, 0.0, -1.0], [0.0, 0.0, 1.0], [0.0, 1.0, 1.0]]);
        assert_eq!(d.columns[3].keys, ["a"]);
        assert_eq!((d.columns[3].fields, d.columns[3].edges), (1.0, 1.5));
        assert_eq!(d.columns[2].edges, 1.0);
        assert_eq!(d.step(0, 1), [(0, -1.0), (3, 1.0)]);
    }

    #[test]
    fn a_setup_never_run_splits_nothing() {
        let levels = sheets(&[&[("a", 1.0), ("b", 5.0)], &[("a", 2.0), ("b", 5.0)], &[("a", 2.0), ("b", 6.0)]]);
        let d = design(&levels, &[None, Some(0), Some(1)], &[true, false, true]);
        assert_eq!(d.columns.len(), 1);
        assert_eq!((d.columns[0].fields, d.columns[0].edges), (2.0, 2.0));
    }

    #[test]
    fn names_do_not_matter() {
        let rows: [&[(&str, f64)]; 4] = [
            &[("a", 1.0), ("b", 5.0)],
            &[("a", 2.0), ("b", 5.0)],
            &[("a", 2.0), ("b", 6.0)],
            &[("a", 1.0), ("b", 6.0)],
        ];
        let renamed: Vec<Vec<(&str, f64)>> =
            rows.iter().map(|r| r.iter().map(|(k, v)| (if *k == "a" { "z" } else { "b" }, *v)).collect()).collect();
        let other: Vec<&[(&str, f64)]> = renamed.iter().map(Vec::as_slice).collect();
        let parents = [None, Some(0), Some(1), Some(2)];
        let a = design(&sheets(&rows), &parents, &[true; 4]);
        assert_eq!(a.z, design(&sheets(&other), &parents, &[true; 4]).z);
    }

    #[test]
    fn a_value_that_comes_on_record_is_one_step() {
        let levels = sheets(&[&[], &[("a", 3.0)], &[("a", 2.0)]]);
        let d = design(&levels, &[None, Some(0), Some(1)], &[true; 3]);
        let step = d.step(0, 1);
        assert_eq!(step.len(), 1, "{d:?}");
    }
}
