//! Parts with a name of one's own: what kinds there are, which values describe one, what comes and goes with it.

use super::{Edit, Field, Num, Schema, Sheet, Sides, Typed, Value};
use serde::Deserialize;

/// Which way a limit holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize, serde::Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Bound {
    /// No less than that.
    Least,
    /// No more than that.
    Most,
}

/// A limit a part's maker may give (`schema/parts.toml`).
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Limit {
    /// Key in `car.toml`.
    pub name: String,
    /// What a racer calls it.
    pub label: String,
    /// Other ways to type it.
    #[serde(default)]
    pub says: Vec<String>,
    /// The kinds of part it is given for: keys of the fields that name them.
    pub parts: Vec<String>,
    /// Which way it holds.
    pub bound: Bound,
    /// The fields of the sheet it holds for.
    #[serde(default)]
    pub fields: Vec<String>,
    /// The numbers of a run it holds for.
    #[serde(default)]
    pub run: Vec<String>,
    /// It is counted in passes.
    #[serde(default)]
    pub passes: bool,
}

impl Limit {
    /// Whether a number passes it.
    pub fn is_passed(&self, limit: Num, n: Num) -> bool {
        match self.bound {
            Bound::Least => n < limit,
            Bound::Most => n > limit,
        }
    }
}

/// A place on the car where another part went on.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Swap {
    /// The field that names it.
    pub key: String,
    /// The side: its place among the field's slots, 0 where it has one value.
    pub slot: usize,
    /// What came off.
    pub off: Option<String>,
    /// What went on.
    pub on: Option<String>,
}

/// Whether two names are one part's: capitals and spaces are not told apart.
pub fn same_name(a: &str, b: &str) -> bool {
    let words = |t: &str| t.split_whitespace().map(str::to_lowercase).collect::<Vec<_>>();
    words(a) == words(b)
}

impl Schema {
    /// The fields that name a part, in sheet order: the kinds of part there are.
    pub fn part_kinds(&self) -> impl Iterator<Item = &Field> {
        self.fields.iter().filter(|f| f.kind == "own_part")
    }

    /// The kinds of part that are counted in passes: they wear.
    pub fn counted_in_passes(&self) -> Vec<&str> {
        self.limits.iter().filter(|l| l.passes).flat_map(|l| l.parts.iter().map(String::as_str)).collect()
    }

    /// The fields that describe a part of the kind that `key` names.
    pub fn part_values<'a>(&'a self, key: &'a str) -> impl Iterator<Item = &'a Field> {
        self.fields.iter().filter(move |f| f.part.as_deref() == Some(key))
    }

    /// The limits of a kind of part.
    pub fn part_limits<'a>(&'a self, key: &'a str) -> impl Iterator<Item = &'a Limit> {
        self.limits.iter().filter(move |l| l.parts.iter().any(|p| p == key))
    }

    /// What parts of a kind are called: "rear tires".
    pub fn part_words(&self, kind: &Field) -> String {
        let noun = &kind.noun;
        let many = noun.many.clone().or_else(|| noun.thing.clone()).unwrap_or_else(|| kind.label.clone());
        match &noun.end {
            Some(end) if !many.starts_with(end.as_str()) => format!("{end} {many}"),
            _ => many,
        }
    }

    /// The unit of a limit, and its least decimals.
    pub fn limit_unit(&self, limit: &Limit) -> (Option<&str>, u32) {
        if let Some(field) = limit.fields.first().and_then(|k| self.field(k)) {
            return (field.unit.as_deref(), field.decimals);
        }
        let number = limit.run.first().and_then(|n| self.run.number(n));
        (number.map(|n| n.unit.as_str()), 0)
    }

    /// The kind of part meant by words: its key, what it is called, or one of its short names.
    pub fn part_kind(&self, words: &str, chassis: &[String]) -> Option<&Field> {
        let said = |f: &Field| {
            f.key == words || same_name(&self.part_words(f), words) || f.says.iter().any(|s| same_name(s, words))
        };
        self.part_kinds().filter(|f| f.on_chassis(chassis)).find(|f| said(f))
    }

    /// This schema knowing the names of a car's parts: (key of the field that names it, its name).
    pub fn with_part_names<'a>(mut self, names: impl Iterator<Item = (&'a str, &'a str)>) -> Schema {
        for (key, name) in names {
            if let Some(field) = self.fields.iter_mut().find(|f| f.key == key) {
                field.choices.push(name.to_owned());
            }
        }
        self
    }

    /// Every key the limits name is there. The built-in data is checked by a test.
    pub(super) fn check_parts(&self) -> Result<(), String> {
        for l in &self.limits {
            let whole = [!l.fields.is_empty(), !l.run.is_empty(), l.passes].iter().filter(|x| **x).count() == 1;
            let kinds = l.parts.iter().all(|k| self.field(k).is_some_and(|f| f.kind == "own_part"));
            let fields = l.fields.iter().all(|k| self.field(k).is_some());
            let numbers = l.run.iter().all(|n| self.run.number(n).is_some());
            if !(whole && kinds && fields && numbers) {
                return Err(format!("parts.toml: the limit {} of {:?} is not right", l.name, l.parts));
            }
        }
        Ok(())
    }
}

/// The names a part-naming field holds on a sheet, one a side.
pub fn names_on<'a>(kind: &Field, sheet: &'a Sheet) -> Vec<Option<&'a str>> {
    let sides = kind.slots.len().max(1);
    let value = sheet.get(&kind.key);
    (0..sides).map(|i| value.and_then(|v| v.slot(i)).and_then(|s| s.text())).collect()
}

/// What `after` has fitted that `before` had not.
pub fn swaps(schema: &Schema, before: &Sheet, after: &Sheet) -> Vec<Swap> {
    let mut out = Vec::new();
    for kind in schema.part_kinds().filter(|f| before.get(&f.key) != after.get(&f.key)) {
        for (slot, (off, on)) in names_on(kind, before).into_iter().zip(names_on(kind, after)).enumerate() {
            if off != on {
                let own = |name: Option<&str>| name.map(str::to_owned);
                out.push(Swap { key: kind.key.clone(), slot, off: own(off), on: own(on) });
            }
        }
    }
    out
}

/// Puts what `sheet` says of the part on side `slot` into `into`. A value that has no sides goes with the first.
pub fn of_part(schema: &Schema, kind: &Field, slot: usize, sheet: &Sheet, into: &mut Sheet) {
    for field in schema.part_values(&kind.key) {
        match sheet.get(&field.key) {
            Some(Value::Slots(now)) if by_side(kind, field) => {
                let mut slots = match into.get(&field.key) {
                    Some(Value::Slots(v)) if v.len() == now.len() => v.clone(),
                    _ => vec![None; now.len()],
                };
                if let (Some(to), Some(Some(from))) = (slots.get_mut(slot), now.get(slot)) {
                    *to = Some(from.clone());
                    into.set(&field.key, Value::Slots(slots));
                }
            }
            Some(value) if slot == 0 => into.set(&field.key, value.clone()),
            _ => {}
        }
    }
}

/// The side of this value comes and goes with the part on that side.
fn by_side(kind: &Field, value: &Field) -> bool {
    kind.sides == Sides::Pair && value.sides == Sides::Pair
}

/// The edits that bring along what is known of the parts that went on, and take away what was said of those that came
/// off. `known` gives the values of a part by the key of its kind and its name.
pub fn recalled<'a>(
    schema: &Schema,
    swaps: &[Swap],
    sheet: &Sheet,
    known: &dyn Fn(&str, &str) -> Option<&'a Sheet>,
) -> Vec<Edit> {
    let mut out = Vec::new();
    for kind in schema.part_kinds() {
        let here: Vec<&Swap> = swaps.iter().filter(|s| s.key == kind.key).collect();
        for field in schema.part_values(&kind.key).filter(|_| !here.is_empty()) {
            let now = sheet.get(&field.key);
            let mut value = now.cloned();
            for swap in &here {
                let Some(name) = &swap.on else { continue };
                let of = known(&kind.key, name).and_then(|v| v.get(&field.key));
                if of.is_none() && swap.off.is_none() {
                    // It gets a name for the first time: what the sheet says is said of it.
                    continue;
                }
                if !by_side(kind, field) {
                    value = if swap.slot == 0 { of.cloned() } else { value };
                    continue;
                }
                let mut slots = match value {
                    Some(Value::Slots(v)) => v,
                    _ => vec![None; field.slots.len()],
                };
                // What is known of it on the other side holds on this one too.
                let scalar = of.and_then(|v| v.slot(swap.slot).or_else(|| v.scalars().next()));
                if let Some(to) = slots.get_mut(swap.slot) {
                    *to = scalar.cloned();
                }
                value = slots.iter().any(Option::is_some).then_some(Value::Slots(slots));
            }
            if value.as_ref() != now {
                let typed = value.map_or(Typed::Off, Typed::Reading);
                out.push(Edit { key: field.key.clone(), slot: None, typed });
            }
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::super::{apply, read_sheet, schema};
    use super::*;

    fn sheet(text: &str) -> Sheet {
        let read = read_sheet(schema(), &format!("format = 1\n{text}"));
        assert!(read.problems.is_empty(), "{:?}", read.problems);
        read.sheet
    }

    #[test]
    fn kinds_are_found_and_named() {
        let words: Vec<String> = schema().part_kinds().map(|f| schema().part_words(f)).collect();
        for wanted in ["rear tires", "front shocks", "torsion bars", "front springs", "rear leaf packs", "converter"] {
            assert!(words.iter().any(|w| w == wanted), "{wanted}: {words:?}");
        }
        let found = |w: &str| schema().part_kind(w, &[]).map(|f| f.key.as_str());
        assert_eq!(found("Rear  Tires"), Some("rear.tire.name"));
        assert_eq!(found("leaf springs"), Some("rear.leaf.name"));
        assert_eq!(found("gearbox"), None);
    }

    #[test]
    fn values_come_back_as_they_went() {
        let on_a = sheet("[rear.tire]\nname = 'A'\nsize = '28 x 9'\nsidewall = 'soft'\n");
        let kind = schema().field("rear.tire.name").unwrap();
        let mut a = Sheet::default();
        of_part(schema(), kind, 0, &on_a, &mut a);
        assert_eq!(a.len(), 2);
        let on_b = sheet("[rear.tire]\nname = 'B'\nsidewall = 'stiff'\nsize = '28 x 9'\n");
        let swapped = sheet("[rear.tire]\nname = 'A'\nsidewall = 'stiff'\nsize = '28 x 9'\n");
        let edits =
            recalled(schema(), &swaps(schema(), &on_b, &swapped), &swapped, &|_, name| (name == "A").then_some(&a));
        assert_eq!(edits.len(), 1, "only what differs: {edits:?}");
        assert_eq!(apply(schema(), &swapped, &edits).unwrap().sheet, on_a);
    }

    #[test]
    fn what_is_not_known_of_a_part_is_not_said_of_it() {
        let on_a = sheet("[rear.tire]\nname = 'A'\nsize = '28 x 9'\n");
        let on_c = sheet("[rear.tire]\nname = 'C'\nsize = '28 x 9'\n");
        let edits = recalled(schema(), &swaps(schema(), &on_a, &on_c), &on_c, &|_, _| None);
        assert_eq!(edits[0].typed, Typed::Off);
        let unnamed = sheet("[rear.tire]\nsize = '28 x 9'\n");
        assert_eq!(recalled(schema(), &swaps(schema(), &unnamed, &on_a), &on_a, &|_, _| None), []);
    }

    #[test]
    fn one_side_of_a_pair_comes_and_goes_alone() {
        let old = sheet("[rear.leaf]\nname = 'five leaf'\nrate = { left = 145, right = 150 }\nfull_leaves = 2\n");
        let new = sheet(
            "[rear.leaf]\nname = { left = 'five leaf', right = 'split' }\nrate = { left = 145, right = 150 }\nfull_leaves = 2\n",
        );
        let moved = swaps(schema(), &old, &new);
        assert_eq!(moved.len(), 1);
        assert_eq!(
            (moved[0].slot, moved[0].off.as_deref(), moved[0].on.as_deref()),
            (1, Some("five leaf"), Some("split"))
        );
        let split = sheet("[rear.leaf]\nrate = { left = 120 }\n");
        let edits = recalled(schema(), &moved, &new, &|_, _| Some(&split));
        let after = apply(schema(), &new, &edits).unwrap().sheet;
        let rate = after.get("rear.leaf.rate").unwrap();
        assert_eq!(rate.slot(0).unwrap().to_string(), "145");
        assert_eq!(rate.slot(1).unwrap().to_string(), "120", "known of the other side");
        assert_eq!(after.num("rear.leaf.full_leaves"), Some(crate::schema::Num::int(2)));
    }
}
