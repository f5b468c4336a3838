//! Generated sheets: random fields with usual values on the step grid, settled so that all of them apply.

use proptest::prelude::*;
use slipbook::schema::{Field, Num, Row, Scalar, Schema, Sheet, Sides, Takes, Value, schema};

/// One field and what its value is made from.
type Pick = (usize, [u16; 6]);

const TEXTS: [&str; 9] = [
    "pair A",
    "pair B",
    "long free",
    "two\nlines here",
    "gr\u{f6}\u{df}e 28\u{d7}10",
    "a \"quoted\" [name] {odd} # no comment",
    "tab\tand \u{1b}[31m\u{202e}",
    "'",
    "a name that goes on and on and on and on and on and on and on and on and on and on",
];

fn picks(most: usize) -> impl Strategy<Value = Vec<Pick>> {
    prop::collection::vec((0..schema().fields.len(), any::<[u16; 6]>()), 0..most)
}

/// Any valid sheet.
pub fn any_sheet() -> impl Strategy<Value = Sheet> {
    picks(90).prop_map(|picks| {
        let mut sheet = Sheet::default();
        put(&mut sheet, &picks);
        sheet
    })
}

/// Two valid sheets, as a rule near each other.
pub fn two_sheets() -> impl Strategy<Value = (Sheet, Sheet)> {
    let near = (any_sheet(), picks(12), picks(4)).prop_map(|(old, put_in, out)| {
        let mut new = old.clone();
        for (i, _) in out {
            new.remove(&schema().fields[i].key);
        }
        put(&mut new, &put_in);
        (old, new)
    });
    prop_oneof![4 => near, 1 => (any_sheet(), any_sheet())]
}

fn put(sheet: &mut Sheet, picks: &[Pick]) {
    for (i, seeds) in picks {
        let field = &schema().fields[*i];
        let value = value(schema(), field, *seeds);
        // Now and then a number is in doubt, or all of them.
        let doubtful = |i: &usize| seeds[4] % 11 == 0 || (seeds[4] % 11 == 1 && seeds[i % 4].is_multiple_of(2));
        let doubt = value.number_places().into_iter().filter(doubtful).collect();
        sheet.set_doubting(&field.key, value, &doubt);
    }
    schema().settle(sheet);
}

pub fn value(schema: &Schema, field: &Field, seeds: [u16; 6]) -> Value {
    let slot = |i: usize| {
        // Sides alike, sides that differ, a side that was not taken.
        let seed = if seeds[5].is_multiple_of(3) { seeds[0] } else { seeds[i % 5] };
        let left_out = seeds[5] % 7 == 1 && i > 0 && seeds[i % 5].is_multiple_of(2);
        (!left_out).then(|| scalar(schema, field, Some(i), seed))
    };
    match field.sides {
        Sides::One => Value::One(scalar(schema, field, None, seeds[0])),
        Sides::Pair | Sides::Corners | Sides::Named => Value::Slots((0..field.slots.len()).map(slot).collect()),
        Sides::List => {
            let n = 1 + usize::from(seeds[5] % 4);
            Value::List((0..n).map(|i| number(field, None, seeds[i])).collect())
        }
        Sides::Rows => {
            let n = 1 + usize::from(seeds[5] % 3);
            let column = |row: usize, i: usize| {
                let seed = seeds[row].wrapping_mul(i as u16 + 1);
                (i == 0 || !seed.is_multiple_of(3)).then(|| scalar(schema, field, Some(i), seed))
            };
            Value::Rows((0..n).map(|row| (0..field.columns.len()).map(|i| column(row, i)).collect::<Row>()).collect())
        }
    }
}

fn scalar(_schema: &Schema, field: &Field, slot: Option<usize>, seed: u16) -> Scalar {
    let takes = slot.map_or(field.takes(), |i| field.slot_takes(i));
    match takes {
        Takes::Number => Scalar::Num(number(field, slot, seed)),
        Takes::Choice => Scalar::Text(field.choices[usize::from(seed) % field.choices.len()].clone()),
        Takes::Text => Scalar::Text(TEXTS[usize::from(seed) % TEXTS.len()].to_owned()),
        Takes::Flag => Scalar::Flag(seed.is_multiple_of(2)),
    }
}

fn number(field: &Field, slot: Option<usize>, seed: u16) -> Num {
    let own = slot.and_then(|i| field.slot_list().get(i));
    let inherits = own.is_none_or(|s| s.unit.is_none());
    let field_usual = field.usual.or(field.possible).filter(|_| inherits);
    let usual = own.and_then(|s| s.usual.or(s.possible)).or(field_usual).unwrap_or([Num::ZERO, Num::int(10)]);
    let step = own.and_then(|s| s.step).or(field.step).unwrap_or(Num::int(1)).micros().max(1);
    let room = (usual[1] - usual[0]).micros() / step + 1;
    Num::from_micros(usual[0].micros() + i64::from(seed) % room * step)
}
