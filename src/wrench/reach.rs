//! What can be reached: holes and flats are whole, and a tower has only so many holes.

use crate::diff::Amount;
use crate::schema::{Field, Num, Schema, Sheet};

/// A position next to the one that is wanted.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub struct Near {
    /// The value there.
    pub value: Num,
    /// The number of the hole, where the one it stands in now is on record.
    pub hole: Option<Num>,
}

/// A value that cannot be set with what is on the car.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub struct Unreachable {
    /// hole, flats, clicks.
    pub unit: String,
    /// The nearest positions, lowest first: one or two.
    pub nearest: Vec<Near>,
}

/// Why a step of this amount from `from` cannot be done: it ends between two positions, or beyond the last hole.
pub fn unreachable(schema: &Schema, sheet: &Sheet, field: &Field, from: Num, amount: &Amount) -> Option<Unreachable> {
    // The holes a height is set in are counted in the field it follows.
    let holes = field.follows.as_deref().and_then(|k| schema.field(k)).filter(|_| amount.unit == "hole");
    let stands_in = holes.and_then(|h| schema.num_at(sheet, &h.key));
    let hole = |count: Num| stands_in.map(|n| if amount.more { n + count } else { n - count });
    let fits = |near: &Near| {
        let within = |n: Num, range: Option<[Num; 2]>| range.is_none_or(|[lo, hi]| lo <= n && n <= hi);
        let in_tower = near.hole.is_none_or(|n| within(n, holes.and_then(|h| h.possible)));
        in_tower && within(near.value, field.possible)
    };
    let at = |count: Num| Near { value: amount.at(from, count), hole: hole(count) };
    let mut nearest: Vec<Near> = if amount.stands_between() {
        let one = Num::int(1);
        let below = Num::from_micros(amount.count.micros() / one.micros() * one.micros());
        [below, below + one].into_iter().map(at).filter(fits).collect()
    } else if amount.unit == "hole" && !fits(&at(amount.count)) {
        Vec::new()
    } else {
        return None;
    };
    // Beyond the last hole: the last one it is.
    if nearest.is_empty() {
        let room = holes.and_then(|h| h.possible).zip(stands_in);
        let count = room.map(|([lo, hi], n)| if amount.more { hi - n } else { n - lo });
        nearest.extend(count.filter(|c| *c >= Num::ZERO).map(at));
    }
    nearest.sort_by_key(|n| n.value);
    Some(Unreachable { unit: amount.unit.clone(), nearest })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::diff::amount;
    use crate::schema::{read_sheet, schema};

    /// The nearest positions as text; empty where it can be set.
    fn nearest(text: &str, key: &str, a: &str, b: &str) -> String {
        let read = read_sheet(schema(), &format!("format = 1\n{text}"));
        assert!(read.problems.is_empty(), "{:?}", read.problems);
        let (field, slot) = schema().locate(key).unwrap();
        let (a, b) = (Num::parse(a).unwrap(), Num::parse(b).unwrap());
        let amount = amount(schema(), (&read.sheet, &read.sheet), field, slot, (a, b)).unwrap();
        let Some(out) = unreachable(schema(), &read.sheet, field, a, &amount) else { return String::new() };
        let one = |n: &Near| format!("{}{}", n.value, n.hole.map(|h| format!(" in hole {h}")).unwrap_or_default());
        out.nearest.iter().map(one).collect::<Vec<_>>().join(" or ")
    }

    #[test]
    fn a_pin_goes_in_a_hole_of_the_tower() {
        let tower = "[rear.limiter]\nkind = 'pin tower'\nhole_spacing = 0.5\nhole = 3\n";
        let key = "rear.limiter.height";
        assert_eq!(nearest(tower, key, "1.5", "0.5"), "", "two holes down");
        assert_eq!(nearest(tower, key, "1.5", "0.75"), "0.5 in hole 1 or 1 in hole 2");
        assert_eq!(nearest(tower, key, "1.5", "1.75"), "1.5 in hole 3 or 2 in hole 4");
        assert_eq!(nearest(tower, key, "1.5", "0.25"), "0.5 in hole 1", "there is no hole 0");
        assert_eq!(nearest(tower, key, "2.5", "0.5"), "1.5 in hole 1", "four holes down of a tower with two");
        let unknown = "[rear.limiter]\nkind = 'pin tower'\nhole_spacing = 0.5\n";
        assert_eq!(nearest(unknown, key, "1.5", "0.75"), "0.5 or 1");
        let screw = "[rear.limiter]\nkind = 'screw'\nthreads = 16\n";
        assert_eq!(nearest(screw, key, "1.5", "0.77"), "", "a screw goes anywhere");
    }

    #[test]
    fn a_rod_end_goes_by_whole_flats() {
        let links = "[rear.link]\nthreads = 16\n";
        assert_eq!(nearest(links, "rear.link.upper_length", "20.25", "20.28"), "", "three flats, as a tape reads it");
        assert_eq!(nearest(links, "rear.link.upper_length", "20.250", "20.255"), "20.25 or 20.260417");
    }
}
