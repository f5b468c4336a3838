//! What a hand turns, as a number: so many holes, turns, flats, clicks or psi one way, and where that ends.

use crate::schema::{Condition, EntryContext, Field, Num, Schema, Sheet, Turn, counted_from_stiff};

/// How far a hand turns something, and which way.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub struct Amount {
    /// How many of `unit`, without a sign.
    pub count: Num,
    /// hole, turns, flats, clicks, psi; where nothing is counted the unit of the field (in, deg), empty for a plain number.
    pub unit: String,
    /// Which way, in the words of the hand: "down", "looser".
    pub way: String,
    /// Threads per inch of the screw that is turned.
    pub threads_per_inch: Option<Num>,
    /// The value grows.
    pub more: bool,
    /// It is counted by a `turn` of the field, not read off a tape or a gauge.
    #[serde(skip)]
    pub counted: bool,
    #[serde(skip)]
    each: Each,
}

/// What one count is worth in the unit of the field, as a fraction of millionths.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Each {
    top: i64,
    bottom: i64,
}

/// The value itself is counted.
const ONE: Each = Each { top: 1, bottom: 1 };

impl Each {
    /// The travel of `count`, without a sign, to the nearest millionth.
    fn travel(self, count: Num) -> Num {
        scaled(count, self.top, self.bottom)
    }

    /// How many counts a travel is.
    fn counts(self, travel: Num) -> Num {
        scaled(travel, self.bottom, self.top)
    }
}

fn scaled(n: Num, by: i64, over: i64) -> Num {
    let (by, over) = (i128::from(by), i128::from(over.max(1)));
    let product = i128::from(n.micros()) * by;
    let half = over / 2 * product.signum();
    Num::from_micros(i64::try_from((product + half) / over).unwrap_or(i64::MAX))
}

impl Amount {
    /// Where `from` ends when this is turned.
    pub fn carry(&self, from: Num) -> Num {
        let travel = self.each.travel(self.count);
        if self.more { from + travel } else { from - travel }
    }

    /// Where `from` ends after `count` the same way.
    pub fn at(&self, from: Num, count: Num) -> Num {
        Amount { count, ..self.clone() }.carry(from)
    }

    /// A hole, a flat or a click is taken whole or not at all.
    pub fn stands_between(&self) -> bool {
        self.counted && matches!(self.unit.as_str(), "hole" | "flats" | "clicks") && !self.count.is_int()
    }

    /// "8 turns down", "0.25 deg out".
    pub fn words(&self, schema: &Schema) -> String {
        let n = match (self.counted, self.unit.as_str()) {
            (true, "flats") => self.count.round(1),
            (true, "hole" | "turns") => self.count.round(2),
            _ => self.count,
        };
        let unit = schema.units.get(&self.unit).map_or(self.unit.as_str(), |u| u.word(n));
        let words = format!("{} {unit} {}", n.show(0, 4), self.way);
        words.split_whitespace().collect::<Vec<_>>().join(" ")
    }
}

/// Why there is no amount.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum NoAmount {
    /// The key of the one number that would tell it.
    Missing(String),
    /// Nothing is counted: it is swapped, or hung anew, or the two numbers do not compare.
    NotCounted,
}

/// How a hand turns the field: the first `turn` that is so on the newer sheet. What kind it is must be on record, and it
/// must not have been another kind before: a guess is no instruction, and neither is a step on other hardware.
fn turn<'f>(field: &'f Field, old: &Sheet, new: &Sheet) -> Result<Option<&'f Turn>, NoAmount> {
    let condition = |t: &Turn| t.when.as_deref().and_then(|w| Condition::parse(w).ok()).unwrap_or_default();
    let found = field.turn.iter().find(|t| {
        let condition = condition(t);
        condition.keys().all(|k| new.get(k).is_some()) && condition.holds(new)
    });
    // A kind that is not on the older sheet contradicts nothing.
    if found.is_some_and(|t| !condition(t).holds(old)) { Err(NoAmount::NotCounted) } else { Ok(found) }
}

/// What a hand turns to go from `a` to `b`, two numbers of a field (or of a slot of it) on two sheets.
pub fn amount(
    schema: &Schema,
    (old, new): (&Sheet, &Sheet),
    field: &Field,
    slot: Option<usize>,
    (a, b): (Num, Num),
) -> Result<Amount, NoAmount> {
    let turn = turn(field, old, new)?;
    let kind = schema.kind(field);
    let by = turn.map_or("", |t| t.by.as_str());
    let stiff = |sheet| counted_from_stiff(EntryContext { schema, chassis: &[], sheet }, field);
    let clicks = kind.id == "clicks";
    if by == "part" || kind.more == kind.less || (clicks && stiff(old) != stiff(new)) {
        return Err(NoAmount::NotCounted);
    }
    let number = |key: &str| -> Result<Num, NoAmount> {
        let on = |sheet| schema.num_at(sheet, key).filter(|n| *n > Num::ZERO);
        match (on(old), on(new)) {
            // Another screw, other holes: the step is no step of either.
            (Some(x), Some(y)) if x != y => Err(NoAmount::NotCounted),
            (x, y) => x.or(y).ok_or_else(|| NoAmount::Missing(key.to_owned())),
        }
    };
    let threads = match turn {
        Some(t) if field.unit.as_deref() == Some("in") => t.threads.as_deref(),
        _ => None,
    };
    let million = Num::int(1).micros();
    let own_count = field.unit.as_deref() == Some(by);
    let each = match (by, turn) {
        ("hole" | "turns" | "flats" | "clicks" | "psi", _) if own_count => Some(ONE),
        ("hole", Some(Turn { spacing: Some(key), .. })) | ("turns", Some(Turn { per_turn: Some(key), .. })) => {
            Some(Each { top: number(key)?.micros(), bottom: million })
        }
        ("turns", Some(Turn { threads: Some(key), .. })) => Some(Each { top: million, bottom: number(key)?.micros() }),
        ("flats", Some(Turn { threads: Some(key), .. })) => {
            Some(Each { top: million, bottom: number(key)?.micros().saturating_mul(6) })
        }
        _ => None,
    };
    let travel = (b - a).abs();
    let (counted, unit) = match each {
        Some(_) => (true, by),
        None => (false, field.unit_of(slot).unwrap_or_default()),
    };
    let each = each.unwrap_or(ONE);
    let more = b > a;
    let tighter = if clicks && stiff(new) { !more } else { more };
    let way = if tighter {
        kind.hand_more.as_ref().or(kind.short_more.as_ref()).unwrap_or(&kind.more)
    } else {
        kind.hand_less.as_ref().or(kind.short_less.as_ref()).unwrap_or(&kind.less)
    };
    let threads_per_inch = threads.filter(|_| matches!(by, "turns" | "flats")).map(number).transpose()?;
    let mut amount = Amount {
        count: each.counts(travel),
        unit: unit.to_owned(),
        way: way.clone(),
        threads_per_inch,
        more,
        counted,
        each,
    };
    if amount.stands_between() {
        amount.count = as_written(&amount, travel, (a, b));
    }
    Ok(amount)
}

/// Holes and flats are whole where the numbers as they were written leave that open: a rod end two flats longer reads
/// 0.02 in on a tape that shows hundredths, and is 0.0208.
fn as_written(amount: &Amount, travel: Num, (a, b): (Num, Num)) -> Num {
    let decimals = |n: Num| (0..6).find(|d| n.round(*d) == n).unwrap_or(6);
    let read = decimals(a).max(decimals(b)).clamp(2, 6);
    // Half of the last decimal; of two numbers to the millionth each has half a millionth of its own.
    let room = (Num::int(1).micros() / 10_i64.pow(read) / 2).max(1);
    let whole = amount.count.round(0);
    let off = (amount.each.travel(whole) - travel).abs();
    if whole > Num::ZERO && off.micros() <= room { whole } else { amount.count }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::schema::{read_sheet, schema};

    fn sheet(text: &str) -> Sheet {
        let read = read_sheet(schema(), &format!("format = 1\n{text}"));
        assert!(read.problems.is_empty(), "{:?}", read.problems);
        read.sheet
    }

    fn of(old: &str, new: &str, key: &str, a: &str, b: &str) -> Result<(String, Num), NoAmount> {
        let (field, slot) = schema().locate(key).unwrap();
        let (a, b) = (Num::parse(a).unwrap(), Num::parse(b).unwrap());
        let amount = amount(schema(), (&sheet(old), &sheet(new)), field, slot, (a, b))?;
        Ok((amount.words(schema()), amount.carry(a)))
    }

    fn said(text: &str, key: &str, a: &str, b: &str) -> String {
        match of(text, text, key, a, b) {
            Ok((words, end)) => format!("{words}: {end}"),
            Err(why) => format!("{why:?}"),
        }
    }

    #[test]
    fn the_hand_counts_what_it_turns() {
        let screw = "[rear.limiter]\nkind = 'screw'\nthreads = 16\n";
        let pins = "[rear.limiter]\nkind = 'pin tower'\nhole_spacing = 0.5\n";
        let links = "[rear.link]\nthreads = 16\n";
        for (text, key, a, b, wanted) in [
            (screw, "rear.limiter.height", "1.25", "0.75", "8 turns down: 0.75"),
            (screw, "rear.limiter.height", "0.75", "0.76", "0.16 turn up: 0.76"),
            (pins, "rear.limiter.height", "0.5", "1.5", "2 holes up: 1.5"),
            (pins, "rear.limiter.height", "0.5", "0.75", "0.5 hole up: 0.75"),
            ("", "rear.limiter.hole", "3", "2", "1 hole down: 2"),
            // Two flats are 0.0208 in; a tape that reads hundredths says 0.02.
            (links, "rear.link.upper_length", "20.25", "20.27", "2 flats longer: 20.270833"),
            (links, "rear.link.upper_length", "20.25", "20.22", "3 flats shorter: 20.21875"),
            (links, "rear.link.upper_length", "20.250", "20.255", "0.5 flat longer: 20.255"),
            ("", "rear.link.preload", "-1", "2", "3 flats in: 2"),
            ("", "rear.tire.pressure", "12.5", "12", "0.5 psi down: 12"),
            ("", "front.align.camber", "0.25", "-0.25", "0.5 deg in: -0.25"),
            ("", "rear.locate.length", "24", "24.125", "0.125 in longer: 24.125"),
        ] {
            assert_eq!(said(text, key, a, b), wanted, "{key} {a} -> {b}");
        }
    }

    #[test]
    fn clicks_go_by_the_end_they_are_counted_from() {
        let from = |end: &str| format!("[rear.shock]\nvalving = 'adjustable'\ncounted_from = '{end}'\n");
        assert_eq!(said(&from("full soft"), "rear.shock.extension", "8", "6"), "2 clicks looser: 6");
        assert_eq!(said(&from("full stiff"), "rear.shock.extension", "8", "6"), "2 clicks tighter: 6");
        let recounted = of(&from("full soft"), &from("full stiff"), "rear.shock.extension", "8", "6");
        assert_eq!(recounted, Err(NoAmount::NotCounted), "numbers from two ends do not compare");
    }

    #[test]
    fn what_is_missing_is_named_and_other_hardware_is_no_step() {
        let key = "rear.limiter.height";
        let kind = |kind: &str, more: &str| format!("[rear.limiter]\nkind = '{kind}'\n{more}");
        let missing = |key: &str| Err(NoAmount::Missing(key.to_owned()));
        assert_eq!(of(&kind("screw", ""), &kind("screw", ""), key, "1", "2"), missing("rear.limiter.threads"));
        assert_eq!(
            of(&kind("pin tower", ""), &kind("pin tower", ""), key, "1", "2"),
            missing("rear.limiter.hole_spacing")
        );
        let (fine, coarse) = (kind("screw", "threads = 16"), kind("screw", "threads = 12"));
        assert_eq!(of(&fine, &coarse, key, "1", "2"), Err(NoAmount::NotCounted));
        let fixed = kind("fixed", "");
        assert_eq!(of(&fixed, &fine, key, "1", "2"), Err(NoAmount::NotCounted), "another limiter stands there now");
        // A number in doubt counts nothing.
        let unsure = kind("screw", "threads = '16?'");
        assert_eq!(of(&unsure, &unsure, key, "1", "2"), missing("rear.limiter.threads"));
    }
}
