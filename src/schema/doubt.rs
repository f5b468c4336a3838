//! Values in doubt: "about 0.50", `0.50?`. Kept and shown as such, and never used as a fact.

use super::{Sheet, Value};
use std::collections::BTreeSet;

/// Which numbers of a value are in doubt, counted from 0: of one value 0, the slots, the entries of a list, the cells of
/// rows one row after the other.
pub type Places = BTreeSet<usize>;

/// No number is in doubt.
pub const SURE: &Places = &Places::new();

/// Words that say a number is not certain.
const ABOUT: [&str; 3] = ["about", "roughly", "approx"];

/// Whether a word says that the numbers behind it are in doubt.
pub fn is_about(word: &str) -> bool {
    ABOUT.iter().any(|a| a.eq_ignore_ascii_case(word.trim_end_matches('.')))
}

/// The text of a number without its mark of doubt, and whether it had one: `0.50?`, `19? mm`, `about 0.50`.
pub fn without_doubt(text: &str) -> (String, bool) {
    let text = text.trim();
    let behind = match text.split_once(char::is_whitespace) {
        Some((first, rest)) if is_about(first) => Some(rest),
        _ => text.strip_prefix('~'),
    };
    let plain = behind.unwrap_or(text).trim();
    match plain.split_once('?') {
        // A second mark is no number any more, and is told as that.
        Some((number, unit)) if !number.trim().is_empty() => (format!("{}{unit}", number.trim_end()), true),
        _ => (plain.to_owned(), behind.is_some()),
    }
}

/// `about 0.50 in` for a number in doubt.
pub fn about(text: String, doubtful: bool) -> String {
    if doubtful { format!("about {text}") } else { text }
}

impl Value {
    /// The places that hold a number.
    pub fn number_places(&self) -> Places {
        let number = |s: &super::Scalar| s.num().is_some();
        match self {
            Value::One(s) => {
                if number(s) {
                    Places::from([0])
                } else {
                    Places::new()
                }
            }
            Value::Slots(v) => (0..v.len()).filter(|i| v[*i].as_ref().is_some_and(number)).collect(),
            Value::List(v) => (0..v.len()).collect(),
            Value::Rows(rows) => {
                let cells = rows.iter().flatten().enumerate();
                cells.filter(|(_, s)| s.as_ref().is_some_and(number)).map(|(i, _)| i).collect()
            }
        }
    }
}

impl Sheet {
    /// Which numbers of a field are in doubt.
    pub fn doubt(&self, key: &str) -> &Places {
        self.doubts.get(key).unwrap_or(SURE)
    }

    /// Whether the number of a slot is in doubt; without a slot: any number of the field.
    pub fn is_doubtful(&self, key: &str, slot: Option<usize>) -> bool {
        let places = self.doubt(key);
        slot.map_or(!places.is_empty(), |i| places.contains(&i))
    }

    /// Sets a value of which the numbers at these places are in doubt.
    pub fn set_doubting(&mut self, key: &str, value: Value, places: &Places) {
        let numbers = value.number_places();
        self.set(key, value);
        let places: Places = places.intersection(&numbers).copied().collect();
        if self.get(key).is_some() && !places.is_empty() {
            self.doubts.insert(key.to_owned(), places);
        }
    }

    /// Sets a field to what it is on another sheet, doubt and all.
    pub fn put(&mut self, key: &str, of: &Sheet) {
        match of.get(key) {
            Some(value) => self.set_doubting(key, value.clone(), of.doubt(key)),
            None => drop(self.remove(key)),
        }
    }

    /// Whether a field is the same on another sheet, doubt and all.
    pub fn same_at(&self, key: &str, other: &Sheet) -> bool {
        self.get(key) == other.get(key) && self.doubt(key) == other.doubt(key)
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Num, Scalar};
    use super::*;

    #[test]
    fn the_mark_is_taken_off() {
        for (text, plain, doubtful) in [
            ("0.50?", "0.50", true),
            (" 0.50 ? ", "0.50", true),
            ("19? mm", "19 mm", true),
            ("19mm?", "19mm", true),
            ("about 0.50", "0.50", true),
            ("Approx. 1-1/8", "1-1/8", true),
            ("~3", "3", true),
            ("0.50", "0.50", false),
            ("?", "?", false),
            ("", "", false),
            ("about", "about", false),
        ] {
            assert_eq!(without_doubt(text), (plain.to_owned(), doubtful), "{text}");
        }
    }

    #[test]
    fn doubt_goes_with_its_value() {
        let n = |t: &str| Scalar::Num(Num::parse(t).unwrap());
        let mut sheet = Sheet::default();
        sheet.set_doubting("a", Value::Slots(vec![Some(n("1")), None]), &Places::from([0, 1, 7]));
        assert_eq!(sheet.doubt("a"), &Places::from([0]), "only what holds a number");
        assert!(sheet.is_doubtful("a", Some(0)) && !sheet.is_doubtful("a", Some(1)) && sheet.is_doubtful("a", None));
        sheet.set("a", Value::One(n("1")));
        assert!(!sheet.is_doubtful("a", None), "a new value is sure");
        sheet.set_doubting("b", Value::One(Scalar::Text("x".into())), &Places::from([0]));
        assert!(!sheet.is_doubtful("b", None), "words are not in doubt");
        sheet.set_doubting("b", Value::One(n("2")), &Places::from([0]));
        let mut other = Sheet::default();
        other.put("b", &sheet);
        assert!(other.same_at("b", &sheet) && other.is_doubtful("b", None));
        other.remove("b");
        assert!(!other.is_doubtful("b", None));
    }
}
