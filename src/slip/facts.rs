//! What a day file says at its top, put into its text; everything else there stays as a hand left it.

use super::Day;
use crate::schema::Num;
use toml_edit::{Array, DocumentMut, Item, Value};

/// The text with the day's finish, elevation, prep, note, closing and unread lines as they are now.
///
/// A text that is no TOML comes back as it is: who reads it next says what is wrong with it.
pub fn with_facts(text: &str, day: &Day) -> String {
    let Ok(mut doc) = text.parse::<DocumentMut>() else { return text.to_owned() };
    put(&mut doc, "finish", Some(Value::from(i64::from(day.finish_ft))), " # ft");
    put(&mut doc, "elevation", day.elevation_ft.and_then(number), " # ft");
    put(&mut doc, "prep", day.prep.as_deref().map(Value::from), "");
    put(&mut doc, "note", day.note.as_deref().map(Value::from), "");
    put(&mut doc, "closed", day.closed.then(|| Value::from(true)), "");
    put(&mut doc, "unread", (!day.unread.is_empty()).then(|| Value::Array(lines(&day.unread))), "");
    doc.to_string()
}

fn number(n: Num) -> Option<Value> {
    n.to_string().parse().ok()
}

/// One line of the file for each.
fn lines(unread: &[String]) -> Array {
    let mut out = Array::new();
    for line in unread {
        let mut value = Value::from(line.as_str());
        value.decor_mut().set_prefix("\n  ");
        out.push_formatted(value);
    }
    out.set_trailing("\n");
    out.set_trailing_comma(true);
    out
}

/// Sets a key, or takes it away; one that says so already stays as it is written.
fn put(doc: &mut DocumentMut, key: &str, value: Option<Value>, beside: &str) {
    let Some(mut value) = value else {
        doc.remove(key);
        return;
    };
    match doc.get_mut(key).and_then(Item::as_value_mut) {
        Some(old) if same(old, &value) => {}
        Some(old) => {
            *value.decor_mut() = old.decor().clone();
            *old = value;
        }
        None => {
            value.decor_mut().set_prefix(" ");
            value.decor_mut().set_suffix(beside);
            doc.insert(key, Item::Value(value));
        }
    }
}

fn same(a: &Value, b: &Value) -> bool {
    match (a, b) {
        (Value::Array(a), Value::Array(b)) => {
            a.len() == b.len() && a.iter().zip(b.iter()).all(|(a, b)| a.as_str() == b.as_str())
        }
        (Value::String(a), Value::String(b)) => a.value() == b.value(),
        (Value::Boolean(a), Value::Boolean(b)) => a.value() == b.value(),
        _ => amount(a).is_some() && amount(a) == amount(b),
    }
}

fn amount(v: &Value) -> Option<f64> {
    v.as_float().or_else(|| v.as_integer().map(|n| n as f64))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::schema::schema;
    use crate::slip::read_day_text;

    const DAY: &str = "# mine\nformat = 1\ndate = 2026-08-22\ntrack = \"Osier Flats\"\nfinish = 1320 # ft\nelevation = 612 # by the map\nutc_offset = \"-05:00\"\n\n# the good one\n[[run]]\nid = \"1f0c2b3a\"\nat = 14:20:00\non = \"v1\"\nsetup = \"7d3ba1c46f0c1de30f4f2cbcd3e9d7f1a2b3c4d5\"\nft60 = 1.597 # s\n";

    #[test]
    fn only_what_differs_is_written() {
        let words = &schema().run;
        let mut day = read_day_text(words, DAY).unwrap();
        assert_eq!(with_facts(DAY, &day), DAY);
        day.elevation_ft = Num::parse("640");
        day.note = Some("two\nlines \"quoted\"".to_owned());
        day.closed = true;
        day.unread = vec!["14:10 limitter dwn".to_owned(), "\u{1b}[2J".to_owned()];
        let text = with_facts(DAY, &day);
        assert!(text.contains("elevation = 640 # by the map\n") && text.contains("# the good one\n[[run]]"), "{text}");
        assert_eq!(read_day_text(words, &text).unwrap(), day, "{text}");
        (day.note, day.closed, day.unread) = (None, false, Vec::new());
        assert_eq!(with_facts(&text, &day), DAY.replace("612", "640"));
    }
}
