//! Limits as a part's maker gives them, judged where the sheet changes. They are the maker's word, never this program's.

use super::car::Car;
use super::change::Changed;
use crate::diff::words::{show, visible};
use crate::schema::{Bound, Field, Limit, Num, Scalar, Schema, Sheet, Value, names_on};

/// A limit as it is told.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub struct LimitTold {
    /// Its name in `car.toml`.
    pub limit: String,
    /// What a racer calls it.
    pub label: String,
    /// The number.
    pub value: Num,
    /// Its unit.
    pub unit: Option<String>,
    /// The number with its unit: "11.0 psi".
    #[serde(skip)]
    pub words: String,
    /// What passes it, in words.
    pub passed: Option<String>,
}

impl LimitTold {
    /// A limit of a part, not judged.
    pub(super) fn new(schema: &Schema, limit: &Limit, value: Num) -> LimitTold {
        let (unit, decimals) = schema.limit_unit(limit);
        let field = limit.fields.first().and_then(|k| schema.field(k));
        let words = match (field, unit) {
            (Some(field), _) => show(schema, field, slot_of(field), &Scalar::Num(value)),
            (None, Some(unit)) => format!("{} {unit}", value.show(decimals, 6)),
            (None, None) => value.show(0, 6),
        };
        let (unit, label) = (unit.map(str::to_owned), limit.label.clone());
        LimitTold { limit: limit.name.clone(), label, value, unit, words, passed: None }
    }
}

/// The slot whose unit a limit over the whole field is told in.
fn slot_of(field: &Field) -> Option<usize> {
    (!field.slots.is_empty()).then_some(0)
}

/// What the makers of the parts on the car give for fields of the sheet, as their owner put it down.
pub fn limits_on(schema: &Schema, car: &Car, sheet: &Sheet) -> Vec<(String, Bound, Num)> {
    let mut out = Vec::new();
    for kind in schema.part_kinds() {
        for part in names_on(kind, sheet).into_iter().flatten().filter_map(|n| car.part(&kind.key, n)) {
            for limit in schema.part_limits(&kind.key) {
                let given = part.limits.iter().find(|(l, _)| *l == limit.name).map(|(_, n)| *n);
                out.extend(limit.fields.iter().filter_map(|f| Some((f.clone(), limit.bound, given?))));
            }
        }
    }
    out
}

/// What the sheet after a change has beyond the limits of the parts on the car, where the change touches either.
pub fn over_limits(schema: &Schema, car: &Car, changed: &Changed) -> Vec<String> {
    let mut out = Vec::new();
    for kind in schema.part_kinds() {
        let swapped = changed.diff.get(&kind.key).is_some();
        for (side, name) in names_on(kind, &changed.sheet).into_iter().enumerate() {
            let Some(part) = name.and_then(|n| car.part(&kind.key, n)) else { continue };
            // A part on both sides is judged once.
            let sides = names_on(kind, &changed.sheet);
            if sides[..side].contains(&name) {
                continue;
            }
            for limit in schema.part_limits(&kind.key) {
                let given = part.limits.iter().find(|(l, _)| *l == limit.name).map(|(_, n)| *n);
                let Some(given) = given else { continue };
                let fields = limit.fields.iter().filter_map(|k| schema.field(k));
                for field in fields.filter(|f| swapped || changed.diff.get(&f.key).is_some()) {
                    let told = LimitTold::new(schema, limit, given);
                    out.extend(beyond(schema, &changed.sheet, field, limit, given).map(|n| {
                        let bound = if limit.bound == Bound::Least { "least" } else { "most" };
                        let (label, name, words) = (&field.label, visible(&part.name), &told.words);
                        format!("{label} {n}: the {bound} for {name} is {words}, says its maker; its word, tech inspection and class rules go first")
                    }));
                }
            }
        }
    }
    out
}

/// The number of a field that is furthest beyond a limit, with its unit.
fn beyond(schema: &Schema, sheet: &Sheet, field: &Field, limit: &Limit, given: Num) -> Option<String> {
    let numbers: Vec<Num> = match sheet.get(&field.key)? {
        Value::List(v) => v.clone(),
        value => value.scalars().filter_map(Scalar::num).collect(),
    };
    let passed = numbers.into_iter().filter(|n| limit.is_passed(given, *n));
    let worst = match limit.bound {
        Bound::Least => passed.min(),
        Bound::Most => passed.max(),
    };
    worst.map(|n| show(schema, field, slot_of(field), &Scalar::Num(n)))
}
