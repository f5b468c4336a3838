//! The walk that finds what is stale: the records back from the newest, only as far as needed. A change and a measurement in
//! one record: the measurement came after.

use super::notes::{ALWAYS, read_moved};
use super::{Before, Cause, Stale, Taken};
use crate::diff::{diff, words};
use crate::schema::{Field, Role, Scalar, Schema, Sheet, Value};
use crate::slip::Moment;
use crate::timeline::{Entry, VersionNumber};
use std::collections::HashMap;

/// A record with the sheets around it.
#[derive(Clone, Copy)]
pub struct Step<'a> {
    /// The record.
    pub entry: &'a Entry,
    /// The version on the car after it.
    pub version: &'a VersionNumber,
    /// The sheet before; `None` for the first.
    pub before: Option<&'a Sheet>,
    /// The sheet after it.
    pub after: &'a Sheet,
}

/// What may be stale: one slot of a measured field on the sheet.
struct Open<'a> {
    field: &'a Field,
    slot: Option<usize>,
    /// The set fields that move it.
    movers: Vec<&'a str>,
    taken: Option<Taken>,
    /// Newest first.
    causes: Vec<Cause>,
    before: Option<(Option<Scalar>, Value, Taken)>,
    done: bool,
}

/// The walk back.
pub struct Walk<'a> {
    schema: &'a Schema,
    now: &'a Sheet,
    /// All set fields that move something of it, each once.
    all: Vec<&'a str>,
    open: Vec<Open<'a>>,
}

impl<'a> Walk<'a> {
    /// Begins at the sheet on the car: what was measured.
    pub fn new(schema: &'a Schema, now: &'a Sheet) -> Walk<'a> {
        Walk::over(schema, now, &[Role::Measured])
    }

    /// The same of fields of these roles: what was set goes astray too when something that moves it is turned after it
    /// (toe, when the front height is).
    pub fn over(schema: &'a Schema, now: &'a Sheet, roles: &[Role]) -> Walk<'a> {
        let mut movers: HashMap<&str, Vec<(&str, Option<usize>)>> = HashMap::new();
        for field in schema.fields.iter().filter(|f| f.role == Role::Set) {
            for (moved, slot) in field.moves.iter().filter_map(|path| schema.locate(path)) {
                movers.entry(&moved.key).or_default().push((&field.key, slot));
            }
        }
        let measured =
            now.in_order(schema).filter(|(f, _)| roles.contains(&f.role) && movers.contains_key(f.key.as_str()));
        let slots = |(field, value): (&'a Field, &'a Value)| {
            let slots: Vec<Option<usize>> = match value {
                Value::Slots(v) => (0..v.len()).filter(|i| v[*i].is_some()).map(Some).collect(),
                _ => vec![None],
            };
            let movers = &movers[field.key.as_str()];
            let of = |slot: Option<usize>| {
                let meets = |of: &Option<usize>| of.is_none() || slot.is_none() || *of == slot;
                movers.iter().filter(|(_, of)| meets(of)).map(|(key, _)| *key).collect()
            };
            let open = |slot| Open {
                field,
                slot,
                movers: of(slot),
                taken: None,
                causes: Vec::new(),
                before: None,
                done: false,
            };
            slots.into_iter().map(open).collect::<Vec<_>>()
        };
        let open: Vec<Open> = measured.flat_map(slots).collect();
        let mut all: Vec<&str> = open.iter().flat_map(|o| o.movers.iter().copied()).collect();
        all.sort_unstable();
        all.dedup();
        Walk { schema, now, all, open }
    }

    /// Nothing older can change the answer.
    pub fn is_done(&self) -> bool {
        self.open.iter().all(|o| o.done)
    }

    /// Takes in the next older record.
    pub fn back(&mut self, step: Step) {
        let was = |key: &str| step.before.and_then(|b| b.get(key));
        // A record that changed nothing, with no word of a measurement, says nothing here.
        if step.before.is_some_and(|before| before == step.after) && step.entry.measured.is_empty() {
            return;
        }
        let moved: Vec<&str> = match step.before {
            Some(_) => self.all.iter().copied().filter(|key| was(key) != step.after.get(key)).collect(),
            None => Vec::new(),
        };
        let said: Vec<(&str, &str)> =
            step.entry.measured.iter().map(|m| m.split_once(' ').unwrap_or((m.as_str(), ""))).collect();
        let mut clauses = None;
        for open in self.open.iter_mut().filter(|o| !o.done) {
            let key = open.field.key.as_str();
            let Some(value) = step.after.get(key).filter(|v| open.slot.is_none_or(|i| v.slot(i).is_some())) else {
                continue;
            };
            let of_it = |path: &str| {
                self.schema.locate(path).is_some_and(|(f, slot)| f.key == key && (slot.is_none() || slot == open.slot))
            };
            let moved_then =
                said.iter().filter(|(path, _)| of_it(path)).find_map(|(_, how)| read_moved(self.schema, how));
            if let Some(cause) = moved_then {
                // What stands there was no reading of that day.
                if open.taken.is_none() {
                    open.causes.push(cause);
                }
                open.done |= step.before.is_none();
                continue;
            }
            let named = said.iter().find(|(path, _)| of_it(path));
            let anew = step.before.is_none_or(|before| is_taken_anew(key, open.slot, before, step.after));
            if named.is_some() || anew {
                let taken = Taken { at: step.entry.at, version: step.version.clone() };
                // It had always been so: what was changed before that was said did not move it.
                let stated = named.and_then(|(_, how)| how.strip_prefix(ALWAYS)?.trim().parse::<Moment>().ok());
                if open.taken.is_none() {
                    open.taken = Some(taken.clone());
                    open.causes.retain(|c| stated.is_none_or(|s| c.at.seconds > s.seconds));
                    open.done = open.causes.is_empty();
                }
                if !open.done && open.movers.iter().all(|m| self.now.get(m) == step.after.get(m)) {
                    let one = open.slot.and_then(|i| value.slot(i)).cloned();
                    open.before = Some((one, value.clone(), taken));
                    open.done = true;
                }
            } else if open.taken.is_none() && open.movers.iter().any(|m| moved.contains(m)) {
                let fields: Vec<String> =
                    open.movers.iter().filter(|m| moved.contains(*m)).map(|m| (*m).to_owned()).collect();
                let clauses = clauses.get_or_insert_with(|| told(self.schema, step));
                let words = clauses.iter().filter(|c| c.fields.iter().any(|f| fields.contains(f)));
                open.causes.push(Cause {
                    version: step.version.clone(),
                    at: step.entry.at,
                    words: words.map(|c| c.text.clone()).collect(),
                    fields,
                });
            }
        }
    }

    /// What is stale, in sheet order. Slots that are stale for the same reason are told together.
    pub fn finish(self) -> Vec<Stale> {
        let mut out: Vec<Stale> = Vec::new();
        for mut open in self.open.into_iter().filter(|o| !o.causes.is_empty()) {
            open.causes.reverse();
            let width = open.field.slots.len();
            let before = open.before.map(|(one, whole, taken)| {
                let value = match open.slot {
                    Some(at) => Value::Slots((0..width).map(|i| if i == at { one.clone() } else { None }).collect()),
                    None => whole,
                };
                Before { value, taken }
            });
            let same = |s: &&mut Stale| {
                s.key == open.field.key
                    && s.taken == open.taken
                    && s.causes == open.causes
                    && s.before.as_ref().map(|b| &b.taken) == before.as_ref().map(|b| &b.taken)
            };
            match (out.last_mut().filter(same), open.slot) {
                (Some(last), Some(slot)) => {
                    last.slots.push(slot);
                    if let (
                        Some(Before { value: Value::Slots(all), .. }),
                        Some(Before { value: Value::Slots(one), .. }),
                    ) = (&mut last.before, before)
                    {
                        all[slot] = one.into_iter().nth(slot).flatten();
                    }
                }
                _ => out.push(Stale {
                    key: open.field.key.clone(),
                    slots: open.slot.into_iter().collect(),
                    taken: open.taken,
                    causes: open.causes,
                    before,
                }),
            }
        }
        out
    }
}

/// The number is another, or no longer in doubt.
fn is_taken_anew(key: &str, slot: Option<usize>, before: &Sheet, after: &Sheet) -> bool {
    let (old, new) = (before.get(key), after.get(key));
    let same = match slot {
        Some(i) => old.and_then(|v| v.slot(i)) == new.and_then(|v| v.slot(i)),
        None => old == new,
    };
    !same || (before.is_doubtful(key, slot) && !after.is_doubtful(key, slot))
}

/// What a record changed, in words.
fn told(schema: &Schema, step: Step) -> Vec<words::Clause> {
    let Some(before) = step.before else { return Vec::new() };
    words::clauses(schema, before, step.after, &diff(schema, before, step.after))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::schema::{Num, read_sheet, schema};
    use crate::timeline::Kind;

    const GAP: &str = "rear.limiter.gap";

    /// A line of records: the lines of the sheet after each, and what was named as measured in it.
    struct Line(Vec<(Entry, Sheet)>);

    impl Line {
        fn of(records: &[(&str, &[&str])]) -> Line {
            let one = |(i, (text, measured)): (usize, &(&str, &[&str]))| {
                let sheet = read_sheet(schema(), &format!("format = 1\n{text}"));
                assert!(sheet.problems.is_empty(), "{:?}", sheet.problems);
                let at = Moment { seconds: 100 * i as i64, offset_seconds: 0 };
                let entry = Entry {
                    id: i.to_string(),
                    kind: Kind::Change,
                    number: None,
                    at,
                    written: at,
                    by: "Ro".to_owned(),
                    words: Vec::new(),
                    why: None,
                    back_to: None,
                    measured: measured.iter().map(|m| (*m).to_owned()).collect(),
                    since: None,
                    time_unknown: false,
                    mended: Vec::new(),
                    replaces: Vec::new(),
                    was: Vec::new(),
                    blob: i.to_string(),
                };
                (entry, sheet.sheet)
            };
            Line(records.iter().enumerate().map(one).collect())
        }

        /// Record `i` counts as version `v(i+1)`.
        fn stale(&self) -> Vec<Stale> {
            let (_, now) = self.0.last().unwrap();
            let mut walk = Walk::new(schema(), now);
            for i in (0..self.0.len()).rev() {
                let (entry, after) = &self.0[i];
                let before = i.checked_sub(1).map(|b| &self.0[b].1);
                let version = VersionNumber::plain(i as u32 + 1);
                walk.back(Step { entry, version: &version, before, after });
            }
            walk.finish()
        }
    }

    fn limiter(height: &str, gap: &str) -> String {
        format!("[rear.limiter]\nkind = 'screw'\nheight = {height}\ngap = {gap}\n")
    }

    #[test]
    fn what_moves_it_makes_it_stale_until_it_is_taken_again() {
        let (a, b, c) = (limiter("1", "0.5"), limiter("0.75", "0.5"), limiter("0.75", "0.75"));
        let fresh = Line::of(&[(&a, &[]), (&a, &[])]).stale();
        assert_eq!(fresh, [], "nothing was turned");
        let stale = Line::of(&[(&a, &[]), (&b, &[])]).stale();
        assert_eq!(stale.len(), 1);
        assert_eq!((stale[0].key.as_str(), stale[0].slots.len()), (GAP, 0));
        assert_eq!(stale[0].taken.as_ref().unwrap().version, VersionNumber::plain(1));
        assert_eq!(stale[0].since().version, VersionNumber::plain(2));
        assert_eq!(stale[0].since().words, ["limiter lowered 0.25 in (1.00 -> 0.75)"]);
        assert_eq!(Line::of(&[(&a, &[]), (&b, &[]), (&c, &[])]).stale(), [], "another number was read");
        assert_eq!(Line::of(&[(&a, &[]), (&b, &[]), (&b, &[GAP])]).stale(), [], "found as it was");
    }

    #[test]
    fn in_one_record_the_measurement_came_after() {
        let (a, c) = (limiter("1", "0.5"), limiter("0.75", "0.75"));
        assert_eq!(Line::of(&[(&a, &[]), (&c, &[])]).stale(), []);
        let b = limiter("0.75", "0.5");
        assert_eq!(Line::of(&[(&a, &[]), (&b, &[GAP])]).stale(), []);
    }

    #[test]
    fn turned_back_is_not_measured_again_but_it_is_said_what_it_was() {
        let (a, b, c) = (limiter("1", "0.5"), limiter("0.75", "0.5"), limiter("0.75", "0.75"));
        let back = limiter("1", "0.75");
        // Read at v3 with the limiter lower; set back at v4.
        let stale = Line::of(&[(&a, &[]), (&b, &[]), (&c, &[]), (&back, &[])]).stale();
        assert_eq!(stale[0].taken.as_ref().unwrap().version, VersionNumber::plain(3));
        let before = stale[0].before.as_ref().unwrap();
        assert_eq!(before.taken.version, VersionNumber::plain(1));
        assert_eq!(before.value.one().unwrap().num(), Num::parse("0.5"));
        // Never read again in between: the reading itself was made with these settings.
        let stale = Line::of(&[(&a, &[]), (&b, &[]), (&a, &[])]).stale();
        assert_eq!(stale[0].causes.len(), 2);
        assert_eq!(stale[0].before.as_ref().unwrap().taken.version, VersionNumber::plain(1));
    }

    #[test]
    fn one_side_is_taken_and_the_other_is_not() {
        let text = |psi: &str, height: &str| format!("[rear]\nheight = {height}\n[rear.tire]\npressure = {psi}\n");
        let (a, b) = (text("12", "{ left = 26, right = 26.5 }"), text("12.5", "{ left = 26, right = 26.5 }"));
        let both = Line::of(&[(&a, &[]), (&b, &[])]).stale();
        assert_eq!(both.iter().map(|s| s.slots.clone()).collect::<Vec<_>>(), [vec![0, 1]]);
        let right = Line::of(&[(&a, &[]), (&b, &["rear.height.left"])]).stale();
        assert_eq!(right.iter().map(|s| s.slots.clone()).collect::<Vec<_>>(), [vec![1]]);
        // A pressure of one side moves both heights.
        let one = text("{ left = 12, right = 12.5 }", "{ left = 26, right = 26.5 }");
        assert_eq!(Line::of(&[(&a, &[]), (&one, &[])]).stale()[0].slots, [0, 1]);
    }

    #[test]
    fn doubt_is_no_change_and_certainty_is_a_measurement() {
        let (a, b) = (limiter("1", "0.5"), limiter("0.75", "0.5"));
        let unsure_height = limiter("'1?'", "0.5");
        assert_eq!(Line::of(&[(&a, &[]), (&unsure_height, &[])]).stale(), [], "nothing was turned");
        let unsure = limiter("0.75", "'0.5?'");
        assert_eq!(Line::of(&[(&a, &[]), (&b, &[]), (&unsure, &[])]).stale().len(), 1, "a doubt is no reading");
        assert_eq!(Line::of(&[(&a, &[]), (&unsure, &[]), (&b, &[])]).stale(), [], "certain now: it was looked at");
    }

    #[test]
    fn always_so_is_not_moved_by_what_was_changed_before_it_was_said() {
        let (a, b, c) = (limiter("1", "0.5"), limiter("0.75", "0.5"), limiter("0.5", "0.5"));
        let said = super::super::always_so(GAP, Moment { seconds: 150, offset_seconds: 0 });
        assert_eq!(Line::of(&[(&a, &[&said]), (&b, &[])]).stale(), []);
        let stale = Line::of(&[(&a, &[&said]), (&b, &[]), (&c, &[])]).stale();
        assert_eq!(stale[0].causes.len(), 1, "only what came after");
        assert_eq!(stale[0].since().version, VersionNumber::plain(3));
    }
}
