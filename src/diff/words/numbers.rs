//! Numbers as a racer says them: enough decimals, words for small counts, fractions for what is read off a tape.

use crate::schema::{Field, Num, Schema};

/// Decimals shown at most, unless two values that differ would look alike.
const MOST: u32 = 4;

/// Two numbers that differ, so that they look different.
pub(super) fn both(field: &Field, slot: Option<usize>, a: Num, b: Num) -> (String, String) {
    let least = field.decimals_of(slot);
    let (x, y) = (a.show(least, MOST), b.show(least, MOST));
    if x == y && a != b { (a.show(least, 6), b.show(least, 6)) } else { (x, y) }
}

/// One number with at least the field's decimals.
pub(super) fn one(field: &Field, slot: Option<usize>, n: Num) -> String {
    n.show(field.decimals_of(slot), MOST)
}

/// The size of a step with at least the field's decimals; never zero when it is none.
pub(super) fn size(field: &Field, slot: Option<usize>, d: Num) -> String {
    let (d, least) = (d.abs(), field.decimals_of(slot));
    if d != Num::ZERO && d.round(MOST.max(least)) == Num::ZERO { d.show(least, 6) } else { d.show(least, MOST) }
}

/// `text` with the unit's word for `n` of it.
pub(super) fn with_unit(schema: &Schema, field: &Field, slot: Option<usize>, n: Num, text: &str) -> String {
    match field.unit_of(slot).and_then(|u| schema.units.get(u)) {
        Some(unit) => format!("{text} {}", unit.word(n)),
        None => text.to_owned(),
    }
}

/// A small whole count in words: "one", "two"; else its digits.
pub(super) fn spelled(n: Num) -> String {
    const WORDS: [&str; 9] = ["one", "two", "three", "four", "five", "six", "seven", "eight", "nine"];
    let small = (1..=9).find(|i| Num::int(*i) == n);
    small.and_then(|i| WORDS.get(usize::try_from(i).ok()? - 1)).map_or_else(|| n.show(0, MOST), |w| (*w).to_owned())
}

/// Halves to sixty-fourths: `1/16`, `1-1/8`; `None` when it is no such number.
pub(super) fn fraction(n: Num) -> Option<String> {
    let (sign, n) = if n < Num::ZERO { ("-", n.abs()) } else { ("", n) };
    let whole = Num::from_micros(n.micros() / 1_000_000 * 1_000_000);
    let part = (n - whole).micros();
    let whole = whole.micros() / 1_000_000;
    if part == 0 {
        return Some(format!("{sign}{whole}"));
    }
    let bottom = [2_i64, 4, 8, 16, 32, 64].into_iter().find(|b| (part * b) % 1_000_000 == 0)?;
    let top = part * bottom / 1_000_000;
    Some(if whole == 0 { format!("{sign}{top}/{bottom}") } else { format!("{sign}{whole}-{top}/{bottom}") })
}

/// The share of `part` in `all` in percent, to a tenth: `52.1 %`.
pub(super) fn percent(part: Num, all: Num) -> Option<String> {
    (all > Num::ZERO).then(|| Num::from_f64(part.to_f64() / all.to_f64() * 100.0))?.map(|p| format!("{} %", p.fixed(1)))
}

/// What an arithmetic effect is worth: `wheel rate -24 %`.
pub(super) fn effect(field: &Field, a: Num, b: Num) -> Option<String> {
    let effect = field.effect.as_ref()?;
    if a <= Num::ZERO || b <= Num::ZERO {
        return None;
    }
    let share = Num::from_f64(((b.to_f64() / a.to_f64()).powi(effect.power) - 1.0) * 100.0)?.round(0);
    let sign = if share > Num::ZERO { "+" } else { "" };
    (share != Num::ZERO).then(|| format!("{} {sign}{} %", effect.name, share.fixed(0)))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn n(text: &str) -> Num {
        Num::parse(text).unwrap()
    }

    #[test]
    fn fractions_are_those_of_a_tape() {
        for (text, said) in [
            ("0.0625", Some("1/16")),
            ("0.125", Some("1/8")),
            ("-0.25", Some("-1/4")),
            ("1.125", Some("1-1/8")),
            ("0", Some("0")),
            ("2", Some("2")),
            ("0.015625", Some("1/64")),
            ("0.1", None),
        ] {
            assert_eq!(fraction(n(text)).as_deref(), said, "{text}");
        }
    }

    #[test]
    fn small_counts_are_words() {
        assert_eq!([n("1"), n("9"), n("10"), n("1.5"), n("0")].map(spelled), ["one", "nine", "10", "1.5", "0"]);
    }

    #[test]
    fn values_that_differ_look_different() {
        let schema = crate::schema::schema();
        let field = schema.fields.iter().find(|f| f.decimals == 2 && f.slots.is_empty()).unwrap();
        assert_eq!(both(field, None, n("1"), n("0.75")), ("1.00".to_owned(), "0.75".to_owned()));
        assert_eq!(both(field, None, n("1"), n("1.00001")), ("1.00".to_owned(), "1.00001".to_owned()));
        assert_eq!(size(field, None, n("-0.25")), "0.25");
        assert_eq!(size(field, None, n("0.00001")), "0.00001");
        assert_eq!(size(field, None, n("0.0625")), "0.0625");
    }

    #[test]
    fn shares_and_effects() {
        assert_eq!(percent(n("1650"), n("3168")).as_deref(), Some("52.1 %"));
        assert_eq!(percent(n("1"), Num::ZERO), None);
        let schema = crate::schema::schema();
        let field = schema.fields.iter().find(|f| f.effect.as_ref().is_some_and(|e| e.power == 4)).unwrap();
        assert!(effect(field, n("0.92"), n("0.86")).unwrap().ends_with("-24 %"));
        assert!(effect(field, n("0.86"), n("0.92")).unwrap().ends_with("+31 %"));
        assert_eq!(effect(field, Num::ZERO, n("1")), None);
    }
}
