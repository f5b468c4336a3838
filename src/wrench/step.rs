//! One step: what a hand does to one value, in words and as a number.

use super::reach::{Unreachable, unreachable};
use crate::diff::words::{called, called_all, clauses, from_to, show};
use crate::diff::{Amount, FieldChange, NoAmount, SheetDiff, amount};
use crate::schema::{EntryContext, Field, Num, Places as Doubt, Scalar, Schema, Sheet, Takes, Value};
use crate::schema::{about, counted_from, counted_from_stiff};

/// What kind of work it is.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "snake_case", tag = "kind", content = "with")]
pub enum Work {
    /// A hand does it.
    Turn,
    /// It comes or goes with the step of this field.
    Along(String),
    /// The value goes off the record: no hand turns that.
    OffRecord,
}

/// One step.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub struct Step {
    /// The field.
    pub field: String,
    /// The slot of it, where it has sides, corners or named values.
    pub slot: Option<usize>,
    /// What it is called: "left rear shock extension".
    pub label: String,
    /// What all slots of it are called together.
    #[serde(skip)]
    pub label_all: String,
    /// How many slots those are; 1 where there is one value.
    #[serde(skip)]
    pub of: usize,
    /// Where a hand stands for it, as the field names it.
    pub place: Option<String>,
    /// The value now; absent where none is on record.
    #[serde(skip)]
    pub from: Option<Value>,
    /// The value after it; absent where it goes off the record.
    #[serde(skip)]
    pub to: Option<Value>,
    /// What kind of work it is.
    pub work: Work,
    /// How far, and which way.
    pub amount: Option<Amount>,
    /// What to do: "8 turns down", "swap to \"soft bars\"".
    pub words: String,
    /// From what to what: "1.25 -> 0.75 in".
    pub change: String,
    /// Pit minutes of this step.
    pub minutes: Option<u32>,
    /// Not between rounds.
    pub shop: bool,
    /// Cannot be set with what is on the car.
    pub unreachable: Option<Unreachable>,
    /// Key of the one number that would tell the amount.
    pub needs: Option<String>,
    /// What a part brings: "rear tire size 28 x 10.5-15".
    pub brings: Vec<String>,
    /// Rules whose cautions stand beside it.
    pub cautions: Vec<String>,
}

/// The two sheets a list is about.
#[derive(Clone, Copy)]
pub(super) struct Between<'a> {
    pub schema: &'a Schema,
    pub from: &'a Sheet,
    pub to: &'a Sheet,
}

/// What a step says and what it is worth.
#[derive(Default)]
struct Told {
    words: String,
    change: String,
    amount: Option<Amount>,
    unreachable: Option<Unreachable>,
    needs: Option<String>,
}

const NOTHING_NOW: &str = "nothing on record now";

impl Between<'_> {
    /// The steps of one field: one a slot that differs.
    pub(super) fn steps(self, field: &Field, work: &Work) -> Vec<Step> {
        let (a, b) = (self.from.get(&field.key), self.to.get(&field.key));
        let recounted = self.recounted(field);
        let slots = match (a, b) {
            (Some(Value::Slots(_)), None | Some(Value::Slots(_))) | (None, Some(Value::Slots(_))) => field.slots.len(),
            _ => return vec![self.step(field, None, a.cloned(), b.cloned(), work)],
        };
        let at = |v: Option<&Value>, i: usize| v.and_then(|v| v.slot(i)).cloned().map(Value::One);
        let sides = (0..slots).map(|i| (i, at(a, i), at(b, i))).filter(|(_, x, y)| x != y || recounted);
        sides.map(|(i, x, y)| self.step(field, Some(i), x, y, work)).collect()
    }

    fn step(self, field: &Field, slot: Option<usize>, from: Option<Value>, to: Option<Value>, work: &Work) -> Step {
        let work = match (&to, work) {
            (None, Work::Turn) => Work::OffRecord,
            _ => work.clone(),
        };
        let told = self.told(field, slot, from.as_ref(), to.as_ref(), &work);
        // The minutes of a field are those of all its sides.
        let share = u32::try_from(slot.map_or(1, |_| field.slots.len())).unwrap_or(1).max(1);
        Step {
            field: field.key.clone(),
            slot,
            label: called(self.schema, self.from, self.to, field, slot),
            label_all: called_all(self.schema, self.from, self.to, field),
            of: slot.map_or(1, |_| field.slots.len()),
            place: field.place.clone(),
            minutes: field.minutes.filter(|_| work == Work::Turn && !field.shop).map(|m| m.div_ceil(share)),
            shop: field.shop,
            from,
            to,
            work,
            amount: told.amount,
            words: told.words,
            change: told.change,
            unreachable: told.unreachable,
            needs: told.needs,
            brings: Vec::new(),
            cautions: Vec::new(),
        }
    }

    fn told(self, field: &Field, slot: Option<usize>, a: Option<&Value>, b: Option<&Value>, work: &Work) -> Told {
        let says = |words: String, change: String| Told { words, change, ..Told::default() };
        let now = |v: Option<&Value>, sheet: &Sheet| v.map(|v| self.shown(field, slot, v, sheet));
        match (a.and_then(Value::one), b.and_then(Value::one), b) {
            (_, _, None) => {
                let words = if *work == Work::OffRecord { "goes off the record" } else { "goes with it" };
                says(words.to_owned(), format!("{} now", now(a, self.from).unwrap_or_default()))
            }
            (Some(Scalar::Num(_)), Some(Scalar::Num(_)), _) if self.recounted(field) => {
                let from_end = |sheet| counted_from(sheet, field).map(|end| format!(" from {end}")).unwrap_or_default();
                let (was, is) = (now(a, self.from).unwrap_or_default(), now(b, self.to).unwrap_or_default());
                says(format!("set to {is}{}", from_end(self.to)), format!("{was}{} now", from_end(self.from)))
            }
            (Some(Scalar::Num(x)), Some(Scalar::Num(y)), _) => self.number(field, slot, *x, *y),
            (None, Some(Scalar::Num(_)), _) if a.is_none() => {
                says(format!("set to {}", now(b, self.to).unwrap_or_default()), NOTHING_NOW.to_owned())
            }
            (x, Some(y), _) if a.is_none() || x.is_some() => {
                let was = now(a, self.from).map_or(NOTHING_NOW.to_owned(), |was| format!("{was} now"));
                says(self.word(field, slot, x, y), was)
            }
            _ => {
                // Lists and rows are told as a change of them is.
                let other = |sheet: &Sheet| sheet.doubt(&field.key).clone();
                let change = FieldChange {
                    key: field.key.clone(),
                    old: a.cloned(),
                    new: b.cloned(),
                    old_doubt: other(self.from),
                    new_doubt: other(self.to),
                };
                let told = clauses(self.schema, self.from, self.to, &SheetDiff { changes: vec![change] });
                says(told.into_iter().map(|c| c.text).collect::<Vec<_>>().join("; "), String::new())
            }
        }
    }

    /// A step that counts from nowhere: the value itself is told.
    pub(super) fn set_anew(self, step: &mut Step) {
        let (Some(field), Some(to)) = (self.schema.field(&step.field), step.to.as_ref()) else { return };
        step.words = format!("set to {}", self.shown(field, step.slot, to, self.to));
        step.amount = None;
    }

    /// The clicks are counted from the other end: their numbers do not compare.
    pub(super) fn recounted(self, field: &Field) -> bool {
        let stiff = |sheet| counted_from_stiff(EntryContext { schema: self.schema, chassis: &[], sheet }, field);
        let both = self.from.get(&field.key).is_some() && self.to.get(&field.key).is_some();
        both && self.schema.kind(field).id == "clicks" && stiff(self.from) != stiff(self.to)
    }

    /// A value as the list shows it, an own word in quotes.
    fn shown(self, field: &Field, slot: Option<usize>, value: &Value, sheet: &Sheet) -> String {
        let Some(one) = value.one() else { return crate::diff::words::show_value(self.schema, field, value) };
        if let Some(fitted) = one.flag() {
            return if fitted { "fitted" } else { "off" }.to_owned();
        }
        let text = about(show(self.schema, field, slot, one), self.in_doubt(field, slot, sheet));
        if field.takes() == Takes::Text { format!("\"{text}\"") } else { text }
    }

    fn in_doubt(self, field: &Field, slot: Option<usize>, sheet: &Sheet) -> bool {
        let doubt: &Doubt = sheet.doubt(&field.key);
        doubt.contains(&slot.unwrap_or(0))
    }

    fn number(self, field: &Field, slot: Option<usize>, a: Num, b: Num) -> Told {
        let (x, y) = from_to(self.schema, field, slot, &Scalar::Num(a), &Scalar::Num(b));
        let (was, is) = (self.in_doubt(field, slot, self.from), self.in_doubt(field, slot, self.to));
        let change = format!("{} -> {}", about(x, was), about(y, is));
        let set_to = |words: &str| format!("{words} {}", self.shown(field, slot, &Value::One(Scalar::Num(b)), self.to));
        // How far is not known from a number in doubt, nor to one.
        if was || is {
            return Told { words: set_to("set to"), change, ..Told::default() };
        }
        match amount(self.schema, (self.from, self.to), field, slot, (a, b)) {
            Ok(amount) => match unreachable(self.schema, self.from, field, a, &amount) {
                Some(out) => {
                    let words = self.not_reachable(field, slot, &out);
                    Told { words, change, unreachable: Some(out), ..Told::default() }
                }
                None => Told { words: amount.words(self.schema), change, amount: Some(amount), ..Told::default() },
            },
            Err(NoAmount::Missing(key)) => {
                Told { words: set_to("set to"), change, needs: Some(key), ..Told::default() }
            }
            Err(NoAmount::NotCounted) => {
                let swapped = field.turn.iter().any(|t| t.by == "part");
                Told { words: set_to(if swapped { "swap to" } else { "set to" }), change, ..Told::default() }
            }
        }
    }

    /// "not reachable with these holes: nearest are 0.50 or 1.00 (holes 1, 2)".
    fn not_reachable(self, field: &Field, slot: Option<usize>, out: &Unreachable) -> String {
        let value = |n: Num| from_to(self.schema, field, slot, &Scalar::Num(n), &Scalar::Num(n)).0;
        let values: Vec<String> = out.nearest.iter().map(|n| value(n.value)).collect();
        let holes: Vec<String> = out.nearest.iter().filter_map(|n| n.hole).map(|h| h.to_string()).collect();
        let with = match out.unit.as_str() {
            "hole" => "with these holes".to_owned(),
            unit => format!("in whole {unit}"),
        };
        let of = match holes.as_slice() {
            [] => String::new(),
            [one] => format!(" (hole {one})"),
            many => format!(" (holes {})", many.join(", ")),
        };
        match values.as_slice() {
            [] => format!("not reachable {with}"),
            [one] => format!("not reachable {with}: nearest is {one}{of}"),
            many => format!("not reachable {with}: nearest are {}{of}", many.join(" or ")),
        }
    }

    /// What is done to a word, a choice, or something that is on or off.
    fn word(self, field: &Field, slot: Option<usize>, a: Option<&Scalar>, b: &Scalar) -> String {
        let off = |s: &Scalar| s.flag() == Some(false) || s.text() == Some("none");
        let shown = self.shown(field, slot, &Value::One(b.clone()), self.to);
        match (a, b) {
            (None, b) if off(b) => "must be off".to_owned(),
            (Some(_), b) if off(b) => "take off".to_owned(),
            (_, Scalar::Flag(_)) => "fit".to_owned(),
            (None, _) if field.kind == "own_part" => format!("fit {shown}"),
            (Some(_), _) if field.kind == "own_part" => format!("swap to {shown}"),
            (Some(a), _) if off(a) => format!("fit: {shown}"),
            (Some(_), _) if field.turn.iter().any(|t| t.by == "part") => format!("swap to {shown}"),
            _ => format!("change to {shown}"),
        }
    }
}

impl Step {
    /// A hand does it.
    pub fn is_turned(&self) -> bool {
        self.work == Work::Turn
    }
}
