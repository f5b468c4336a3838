//! The running sum: one pure function of a base sheet and dated changes. Entry, mend, import and join use it.

use crate::schema::{Edit, Schema, Sheet, Typed, Value, apply};
use crate::slip::Moment;

/// A dated change of the sheet.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Dated {
    /// When it happened.
    pub at: Moment,
    /// Place among changes of the same second: the order of writing.
    pub written: u64,
    /// What was typed.
    pub edits: Vec<Edit>,
    /// The sheets before and after it as they are on record; `None` for news.
    pub known: Option<Box<(Sheet, Sheet)>>,
    /// Its edits are not those on record.
    pub mended: bool,
}

/// What becomes of a step whose starting point turns out to have been another.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Steps {
    /// It is asked about: an error that lists them.
    Ask,
    /// The step was taken: from the other starting point it ends elsewhere.
    KeepSteps,
    /// The reading on record stands: it ends where the record says.
    KeepReadings,
}

/// One change, summed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Summed {
    /// Index into the changes as given.
    pub index: usize,
    /// The sheet after it.
    pub sheet: Sheet,
    /// What was typed; a step that gave way to its reading is one.
    pub edits: Vec<Edit>,
}

/// Why changes cannot be summed.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum SumError {
    /// A change cannot be made on the sheet it meets.
    #[error("{why}")]
    Refused {
        /// Index into the changes as given.
        index: usize,
        /// What is wrong.
        why: String,
    },
    /// Steps whose starting point is another now.
    #[error("{} steps start from another value now", .0.len())]
    Steps(Vec<MovedStep>),
}

/// A step whose starting point is another now.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct MovedStep {
    /// Index into the changes as given.
    pub index: usize,
    /// The field.
    pub key: String,
    /// The one slot of it that was stepped.
    pub slot: Option<usize>,
    /// From and to as on record; `None` where nothing is on the sheet.
    pub was: [Option<Value>; 2],
    /// From and to with the step taken from there; the end is `None` too where it leads nowhere.
    pub now: [Option<Value>; 2],
}

/// The sheet after each change, in time order. The order of `changes` does not matter.
///
/// A reading sets its value whatever was there before; a step moves it. Where a step on record meets another value than
/// it was taken from, `steps` says what then.
pub fn sums(schema: &Schema, base: &Sheet, changes: &[Dated], steps: Steps) -> Result<Vec<Summed>, SumError> {
    let mut order: Vec<usize> = (0..changes.len()).collect();
    order.sort_by_key(|i| (changes[*i].at.seconds, changes[*i].written));
    let mut sheet = base.clone();
    let mut out = Vec::with_capacity(order.len());
    let mut asked = Vec::new();
    for index in order {
        let change = &changes[index];
        // What meets the sheet it was made on gives the sheet on record, however that came about.
        if let Some(known) = change.known.as_deref().filter(|k| !change.mended && k.0 == sheet) {
            sheet.clone_from(&known.1);
            out.push(Summed { index, sheet: sheet.clone(), edits: change.edits.clone() });
            continue;
        }
        let moved =
            change.known.as_deref().map_or(Vec::new(), |(before, _)| moved_steps(before, &sheet, &change.edits));
        let mut edits = change.edits.clone();
        if let (Some(known), Steps::KeepReadings) = (change.known.as_deref(), steps) {
            for i in &moved {
                give_way(&mut edits[*i], &known.1);
            }
        }
        let applied = apply(schema, &sheet, &edits);
        if let Some((from, to)) = change.known.as_deref() {
            let end = applied.as_ref().ok().map(|a| &a.sheet);
            asked.extend(moved.iter().map(|i| {
                let e = &edits[*i];
                let (was, start) = ([value(from, e), value(to, e)], value(&sheet, e));
                let (key, slot) = (e.key.clone(), e.slot);
                MovedStep { index, key, slot, was, now: [start, end.and_then(|s| value(s, e))] }
            }));
        }
        // While steps are only listed, one that leads nowhere is among them and hides no other.
        match applied {
            Ok(applied) => sheet = applied.sheet,
            Err(_) if steps == Steps::Ask && !asked.is_empty() => {}
            Err(why) => return Err(SumError::Refused { index, why }),
        }
        out.push(Summed { index, sheet: sheet.clone(), edits });
    }
    if steps == Steps::Ask && !asked.is_empty() {
        asked.dedup();
        return Err(SumError::Steps(asked));
    }
    Ok(out)
}

/// What a sheet holds where an edit goes.
fn value(sheet: &Sheet, edit: &Edit) -> Option<Value> {
    match (sheet.get(&edit.key), edit.slot) {
        (Some(v), Some(i)) => v.slot(i).cloned().map(Value::One),
        (v, _) => v.cloned(),
    }
}

/// Places of the steps that start from another value than they did.
fn moved_steps(before: &Sheet, now: &Sheet, edits: &[Edit]) -> Vec<usize> {
    let read_first = |i: usize| {
        let e = &edits[i];
        let covers = |o: &Edit| o.key == e.key && (o.slot.is_none() || o.slot == e.slot);
        edits[..i].iter().any(|o| covers(o) && !matches!(o.typed, Typed::Step(_)))
    };
    let moved = |i: &usize| {
        let e = &edits[*i];
        matches!(e.typed, Typed::Step(_)) && value(before, e) != value(now, e) && !read_first(*i)
    };
    (0..edits.len()).filter(moved).collect()
}

/// The step becomes the reading it gave.
fn give_way(edit: &mut Edit, after: &Sheet) {
    edit.typed = Typed::of(after, &edit.key, edit.slot);
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::schema::{Num, Scalar, schema};

    const HEIGHT: &str = "rear.limiter.height";

    fn at(seconds: i64) -> Moment {
        Moment { seconds, offset_seconds: 0 }
    }

    fn reading(n: &str) -> Edit {
        let value = Value::One(Scalar::Num(Num::parse(n).unwrap()));
        Edit { key: HEIGHT.to_owned(), slot: None, typed: Typed::Reading(value) }
    }

    fn step(n: &str) -> Edit {
        Edit { key: HEIGHT.to_owned(), slot: None, typed: Typed::Step(Num::parse(n).unwrap()) }
    }

    fn base() -> Sheet {
        let kind = Edit {
            key: "rear.limiter.kind".to_owned(),
            slot: None,
            typed: Typed::Reading(Value::One(Scalar::Text("screw".to_owned()))),
        };
        apply(schema(), &Sheet::default(), &[kind, reading("1")]).unwrap().sheet
    }

    fn dated(seconds: i64, edit: Edit, known: Option<(Sheet, Sheet)>) -> Dated {
        Dated { at: at(seconds), written: seconds as u64, edits: vec![edit], known: known.map(Box::new), mended: false }
    }

    fn heights(summed: &[Summed]) -> Vec<String> {
        summed.iter().map(|s| s.sheet.num(HEIGHT).unwrap().to_string()).collect()
    }

    fn on_record(edits: &[Edit]) -> Vec<Dated> {
        let mut sheet = base();
        let mut out = Vec::new();
        for (i, e) in edits.iter().enumerate() {
            let after = apply(schema(), &sheet, std::slice::from_ref(e)).unwrap().sheet;
            out.push(dated(10 * (i as i64 + 1), e.clone(), Some((sheet.clone(), after.clone()))));
            sheet = after;
        }
        out
    }

    #[test]
    fn a_reading_stops_the_carry_and_a_step_is_asked_about() {
        let mut changes = on_record(&[step("-0.25"), reading("0.5")]);
        changes.push(dated(5, reading("1.5"), None));
        let asked = sums(schema(), &base(), &changes, Steps::Ask).unwrap_err();
        let one = |n: &str| Some(Value::One(Scalar::Num(Num::parse(n).unwrap())));
        let (was, now) = ([one("1"), one("0.75")], [one("1.5"), one("1.25")]);
        let step_asked = MovedStep { index: 0, key: HEIGHT.to_owned(), slot: None, was, now };
        assert_eq!(asked, SumError::Steps(vec![step_asked]));
        let stepped = sums(schema(), &base(), &changes, Steps::KeepSteps).unwrap();
        assert_eq!(heights(&stepped), ["1.5", "1.25", "0.5"]);
        let read = sums(schema(), &base(), &changes, Steps::KeepReadings).unwrap();
        assert_eq!(heights(&read), ["1.5", "0.75", "0.5"]);
        assert_eq!(read[1].edits, [reading("0.75")], "it is a reading from now on");
    }

    #[test]
    fn nothing_is_asked_where_the_start_is_as_it_was() {
        let mut changes = on_record(&[reading("0.75"), step("-0.25")]);
        changes.push(dated(5, reading("1.5"), None));
        assert_eq!(heights(&sums(schema(), &base(), &changes, Steps::Ask).unwrap()), ["1.5", "0.75", "0.5"]);
    }

    #[test]
    fn what_cannot_be_names_its_change() {
        let mut changes = on_record(&[step("5")]);
        changes.push(dated(5, reading("11.5"), None));
        match sums(schema(), &base(), &changes, Steps::KeepSteps).unwrap_err() {
            SumError::Refused { index: 0, why } => assert!(why.contains("not possible"), "{why}"),
            other => panic!("{other:?}"),
        }
    }
}
