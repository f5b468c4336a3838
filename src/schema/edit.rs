//! One typed change of one field: a reading or a step, kept as typed, and how it is applied to a sheet.

use super::doubt::{Places, SURE};
use super::sheet::{Verdict, check_value};
use super::{Field, Num, Scalar, Schema, Sheet, Sides, Value, write};

/// How a value was typed: carrying a late change forward depends on it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Typed {
    /// Absolute: "limiter 0.75".
    Reading(Value),
    /// Absolute, the numbers at these places in doubt: "limiter about 0.75".
    Doubtful(Value, Places),
    /// Relative: "limiter down 1/4".
    Step(Num),
    /// Taken off the record.
    Off,
}

/// A change of one field, or of one slot of it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Edit {
    /// The field.
    pub key: String,
    /// The slot; `None` = the whole field, all slots alike.
    pub slot: Option<usize>,
    /// What was typed.
    pub typed: Typed,
}

/// What came of applying edits.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Applied {
    /// The sheet after them.
    pub sheet: Sheet,
    /// Values outside the usual range, in words.
    pub unusual: Vec<String>,
    /// Fields that no longer apply and went with their parent.
    pub dropped: Vec<String>,
}

/// Applies edits in order; the first that cannot be is the error.
pub fn apply(schema: &Schema, sheet: &Sheet, edits: &[Edit]) -> Result<Applied, String> {
    let mut out = Applied { sheet: sheet.clone(), ..Applied::default() };
    for edit in edits {
        let field = schema.field(&edit.key).ok_or_else(|| format!("`{}` is no field of the sheet", edit.key))?;
        let value = edited(field, &out.sheet, edit)?;
        if let Some((value, _)) = &value {
            match check_value(schema, field, value) {
                Verdict::Fine => {}
                Verdict::Unusual(why) => out.unusual.push(why),
                Verdict::Refused(why) => return Err(why),
            }
            out.unusual.extend(out.sheet.get(&edit.key).and_then(|old| large_change(schema, field, old, value)));
        }
        match value {
            Some((value, doubt)) => out.sheet.set_doubting(&edit.key, value, &doubt),
            None => drop(out.sheet.remove(&edit.key)),
        }
    }
    out.dropped = schema.settle(&mut out.sheet);
    // What was typed just now and does not apply is a contradiction, not something to drop silently.
    let contradicted = |e: &&Edit| e.typed != Typed::Off && out.dropped.contains(&e.key);
    if let Some(edit) = edits.iter().find(contradicted) {
        let needs = schema.field(&edit.key).map(|f| f.applies.describe()).unwrap_or_default();
        return Err(format!("{} does not apply on this sheet: it needs {needs}", edit.key));
    }
    Ok(out)
}

/// A value that is usual and far from the one before it, in words: more likely mistyped (15 as 51) than meant.
fn large_change(schema: &Schema, field: &Field, old: &Value, new: &Value) -> Option<String> {
    let number = |v: &Value, i: usize| v.slot(i).and_then(Scalar::num);
    let slots = 0..field.slot_list().len().max(1);
    let pairs = slots.filter_map(|i| Some((number(old, i)?, number(new, i)?)));
    pairs.filter_map(|(a, b)| far_from(schema, field, a, b)).next()
}

/// Where two numbers of a field are further apart than they usually are from one time to the next, that in words.
pub fn far_from(schema: &Schema, field: &Field, a: Num, b: Num) -> Option<String> {
    let most = field.usual_change.filter(|most| (b - a).abs() > *most)?;
    let unit = field.unit.as_deref().and_then(|u| schema.units.get(u)).map(|u| format!(" {}", u.word(Num::int(2))));
    let unit = unit.unwrap_or_default();
    Some(format!("{} from {a} to {b}{unit} is more than the usual {most}{unit} at once", field.key))
}

/// The value after an edit, and which of its numbers are in doubt.
fn edited(field: &Field, sheet: &Sheet, edit: &Edit) -> Result<Option<(Value, Places)>, String> {
    let old = sheet.get(&edit.key);
    let was = sheet.doubt(&edit.key);
    let others = |i: usize| was.iter().copied().filter(|p| *p != i).collect::<Places>();
    let one_side = |v: &Value, i: usize| {
        let one = v.one().ok_or_else(|| format!("{}: one value for one side", field.key))?;
        Ok::<_, String>(with_slot(field, old, i, Some(one.clone())))
    };
    match (&edit.typed, edit.slot) {
        (Typed::Off, None) => Ok(None),
        (Typed::Off, Some(i)) => Ok(old.and_then(|v| with_slot(field, Some(v), i, None)).map(|v| (v, others(i)))),
        (Typed::Reading(v), None) => Ok(Some((spread(field, v.clone()), Places::new()))),
        (Typed::Reading(v), Some(i)) => Ok(one_side(v, i)?.map(|v| (v, others(i)))),
        (Typed::Doubtful(v @ Value::One(_), _), None) => {
            let value = spread(field, v.clone());
            let all = value.number_places();
            Ok(Some((value, all)))
        }
        (Typed::Doubtful(v, places), None) => Ok(Some((v.clone(), places.clone()))),
        (Typed::Doubtful(v, _), Some(i)) => {
            Ok(one_side(v, i)?.map(|v| (v, others(i).into_iter().chain([i]).collect())))
        }
        (Typed::Step(d), slot) => {
            let old = old.ok_or_else(|| {
                format!("{} is not on record, so a step cannot be taken from it: give the reading", field.key)
            })?;
            // Where it started from is in doubt, so is where it ends.
            step(field, old, slot, *d).map(|v| Some((v, was.clone())))
        }
    }
}

/// One plain value given for a whole pair means both sides.
fn spread(field: &Field, value: Value) -> Value {
    match (field.sides, value) {
        (Sides::Pair, Value::One(s)) => Value::Slots(vec![Some(s); 2]),
        (_, value) => value,
    }
}

fn with_slot(field: &Field, old: Option<&Value>, i: usize, new: Option<Scalar>) -> Option<Value> {
    let mut slots = match old {
        Some(Value::Slots(v)) => v.clone(),
        _ => vec![None; field.slots.len()],
    };
    *slots.get_mut(i)? = new;
    Some(Value::Slots(slots))
}

fn step(field: &Field, old: &Value, slot: Option<usize>, d: Num) -> Result<Value, String> {
    let no_number = || format!("{} has no number to step from", field.key);
    match old {
        Value::One(s) => Ok(Value::One(Scalar::Num(s.num().ok_or_else(no_number)? + d))),
        Value::List(v) if slot.is_none() => Ok(Value::List(v.iter().map(|n| *n + d).collect())),
        Value::Slots(v) => {
            let mut out = v.clone();
            for (i, s) in out.iter_mut().enumerate() {
                if slot.is_none_or(|at| at == i) {
                    let n = s.as_ref().and_then(Scalar::num).ok_or_else(|| {
                        let side = field.slots.get(i).map_or("", |s| s.label.as_deref().unwrap_or(&s.id));
                        format!("{}: the {side} one is not on record: give the reading", field.key)
                    })?;
                    *s = Some(Scalar::Num(n + d));
                }
            }
            Ok(Value::Slots(out))
        }
        _ => Err(no_number()),
    }
}

impl Typed {
    /// The reading that gives a field (or one slot of it) what it is on a sheet.
    pub fn of(sheet: &Sheet, key: &str, slot: Option<usize>) -> Typed {
        let value = match (sheet.get(key), slot) {
            (Some(v), Some(i)) => v.slot(i).cloned().map(Value::One),
            (v, _) => v.cloned(),
        };
        match (value, slot) {
            (None, _) => Typed::Off,
            (Some(v), Some(_)) if sheet.is_doubtful(key, slot) => Typed::Doubtful(v, Places::from([0])),
            (Some(v), None) if sheet.is_doubtful(key, None) => Typed::Doubtful(v, sheet.doubt(key).clone()),
            (Some(v), _) => Typed::Reading(v),
        }
    }
}

impl Edit {
    /// The trailer's form: `rear.limiter.height step -0.25`, `rear.tire.pressure.left reading 12.25`, `... off`.
    pub fn to_trailer(&self, schema: &Schema) -> String {
        let field = schema.field(&self.key);
        let path = field.map_or_else(|| self.key.clone(), |f| schema.path(f, self.slot));
        let what = match &self.typed {
            Typed::Off => "off".to_owned(),
            Typed::Step(d) => format!("step {d}"),
            Typed::Reading(v) => reading_words(field, v, SURE),
            Typed::Doubtful(v, places) => reading_words(field, v, places),
        };
        format!("{path} {what}")
    }
}

/// What was typed for a record, from its trailers (`rear.limiter.height step -0.25`) and the sheets around it.
///
/// A reading's value is the one on the sheet it made. Whatever the trailers do not explain (a record made by hand has
/// none) is a reading, so that applying the edits to `before` always gives `after`.
pub fn typed(schema: &Schema, trailers: &[&str], before: &Sheet, after: &Sheet) -> Vec<Edit> {
    let mut edits: Vec<Edit> = trailers.iter().filter_map(|t| from_trailer(schema, t, after)).collect();
    let made = apply(schema, before, &edits).map(|a| a.sheet);
    match made {
        Ok(sheet) => edits.extend(readings(schema, &sheet, after)),
        Err(_) => edits = readings(schema, before, after),
    }
    edits
}

/// What a trailer says was typed, said again with what the sheet it made has of it; `None` where it says nothing of it.
pub fn typed_again(schema: &Schema, trailer: &str, after: &Sheet) -> Option<String> {
    Some(from_trailer(schema, trailer, after)?.to_trailer(schema))
}

fn from_trailer(schema: &Schema, text: &str, after: &Sheet) -> Option<Edit> {
    let (path, what) = text.split_once(' ')?;
    let (field, slot) = schema.locate(path)?;
    let typed = match what.split(' ').next()? {
        "off" => Typed::Off,
        "step" => Typed::Step(Num::parse(what.strip_prefix("step ")?)?),
        "reading" => Some(Typed::of(after, &field.key, slot)).filter(|t| *t != Typed::Off)?,
        _ => return None,
    };
    Some(Edit { key: field.key.clone(), slot, typed })
}

/// `reading 0.50`, `reading "0.50?"`.
fn reading_words(field: Option<&Field>, v: &Value, doubt: &Places) -> String {
    let text = field.map_or(String::new(), |f| write::inline(f, v, doubt));
    // A trailer is one line.
    format!("reading {}", if text.contains('\n') { one_line(v) } else { text })
}

fn one_line(v: &Value) -> String {
    let text: String = v.scalars().map(ToString::to_string).collect::<Vec<_>>().join(" ");
    serde_json::to_string(&text).unwrap_or_default()
}

/// The readings that turn `old` into `new`, field by field in sheet order.
pub fn readings(schema: &Schema, old: &Sheet, new: &Sheet) -> Vec<Edit> {
    let changed = |f: &&Field| !old.same_at(&f.key, new);
    let whole = |f: &Field| vec![Edit { key: f.key.clone(), slot: None, typed: Typed::of(new, &f.key, None) }];
    // Where only some sides differ, nothing is said of the others.
    let edits = |f: &Field| match (old.get(&f.key), new.get(&f.key)) {
        (Some(Value::Slots(a)), Some(Value::Slots(b))) if a.len() == b.len() => {
            let of = |sheet: &Sheet, i: usize| Typed::of(sheet, &f.key, Some(i));
            let differ: Vec<usize> = (0..b.len()).filter(|i| of(old, *i) != of(new, *i)).collect();
            match differ.len() == b.len() || differ.is_empty() {
                true => whole(f),
                false => {
                    let one = |i: usize| Edit { key: f.key.clone(), slot: Some(i), typed: of(new, i) };
                    differ.into_iter().map(one).collect()
                }
            }
        }
        _ => whole(f),
    };
    schema.fields.iter().filter(changed).flat_map(edits).collect()
}
