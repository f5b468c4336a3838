//! The texts in a book's files: where each stands, and what it is to whoever hands the book over. What goes along is
//! found, cleaned and looked for once more by this one table.

use super::rewrite::is_free_note;
use crate::schema::{Field, Schema, Takes};
use crate::slip::day_of_path;
use toml::{Table, Value as Toml};

/// What a text is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Is {
    /// The name of a person.
    Person,
    /// Free words beside the record: they stay here with the notes.
    Note,
    /// Other words of somebody's.
    Words,
    /// What a thing is called, which stays: what thing.
    Name(&'static str),
    /// One of the program's own words, an id, a time, a condition.
    Fixed,
    /// Nothing this program knows of: no rewritten copy has it.
    Unknown,
}

/// A text, and where it stands.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Piece {
    /// The key it stands under, dotted; empty for a comment, or where the file is of no known form.
    pub key: String,
    /// The text.
    pub text: String,
}

/// The texts of a file, however they are written there: what stands under its keys, and its comments; numbers are none.
pub fn pieces(text: &str) -> Vec<Piece> {
    let Ok(table) = text.parse::<Table>() else { return vec![Piece { key: String::new(), text: text.to_owned() }] };
    let mut out = Vec::new();
    strings(&Toml::Table(table), "", &mut out);
    // Behind a value a `#` is no sure sign of a comment: such a tail is a text as well, and seen twice if it is none.
    let comments = text.lines().filter_map(|l| l.split_once('#')).map(|(_, c)| c.to_owned());
    out.extend(comments.map(|text| Piece { key: String::new(), text }));
    out
}

fn strings(value: &Toml, key: &str, out: &mut Vec<Piece>) {
    match value {
        Toml::String(text) => out.push(Piece { key: key.to_owned(), text: text.clone() }),
        Toml::Array(list) => list.iter().for_each(|v| strings(v, key, out)),
        Toml::Table(table) => table.iter().for_each(|(name, value)| strings(value, &below(key, name), out)),
        _ => {}
    }
}

/// The key of what stands under a name in a table.
pub fn below(key: &str, name: &str) -> String {
    if key.is_empty() { name.to_owned() } else { format!("{key}.{name}") }
}

/// What stands under a key of a file; an empty key is a comment.
pub fn what(schema: &Schema, path: &str, key: &str) -> Is {
    match path {
        _ if key.is_empty() => Is::Words,
        super::sound::SHEET => of_sheet(schema, key),
        "car.toml" => of_car(schema, key),
        p if day_of_path(p).is_some() => of_day(key),
        _ => of_trial(key),
    }
}

fn of_sheet(schema: &Schema, key: &str) -> Is {
    let upwards = std::iter::successors(Some(key), |k| k.rsplit_once('.').map(|(above, _)| above));
    match upwards.filter_map(|k| schema.field(k)).next() {
        None => Is::Words,
        Some(f) if f.kind == "own_part" => Is::Name("a part's name"),
        Some(f) if is_free_note(f) => Is::Note,
        Some(f) if has_text(f) => Is::Words,
        Some(f) if f.takes() == Takes::Choice && f.key.starts_with("own.") => OWN_FIELD,
        Some(_) => Is::Fixed,
    }
}

/// A key or a choice of it, which the sheets hold.
const OWN_FIELD: Is = Is::Name("a field of the car's own");

/// Whether a field holds words, itself or in a column.
pub fn has_text(field: &Field) -> bool {
    field.takes() == Takes::Text || (0..field.slot_list().len()).any(|i| field.slot_takes(i) == Takes::Text)
}

fn of_car(schema: &Schema, key: &str) -> Is {
    let (head, rest) = key.split_once('.').unwrap_or((key, ""));
    match (head, rest) {
        ("name", "") => Is::Name("the car's name"),
        ("class", "") | ("needs_below", "item") => Is::Words,
        ("owner", "name") => Is::Person,
        ("part", "name") => Is::Name("a part's name"),
        ("part", "note" | "gone_how") => Is::Note,
        ("part", rest) => rest.strip_prefix("values.").map_or(Is::Fixed, |key| of_sheet(schema, key)),
        ("rule", "id") => Is::Name("a rule of the car's own"),
        ("rule", "reason" | "because" | "source" | "contested") => Is::Note,
        ("rule", "name" | "about" | "says" | "member.says" | "job.says") => Is::Words,
        ("field", "key" | "choices") => OWN_FIELD,
        ("field", "label" | "told" | "help" | "source" | "says" | "tool" | "each" | "entries") => Is::Words,
        ("field", "slots.label" | "columns.label" | "groups.name" | "groups.short" | "effect.name") => Is::Words,
        ("field", rest) if ["noun.", "tell.", "choice_says."].iter().any(|p| rest.starts_with(p)) => Is::Words,
        _ => Is::Fixed,
    }
}

fn of_day(key: &str) -> Is {
    match key {
        "track" => Is::Name("a track's name"),
        "note" | "run.note" | "unread" => Is::Note,
        "prep" | "run.round" | "reading.report" => Is::Words,
        "reading.by" => Is::Person,
        _ => Is::Fixed,
    }
}

/// A trial keeps what a hand put into its file beside what is known of.
fn of_trial(key: &str) -> Is {
    let last = key.rsplit('.').next().unwrap_or_default();
    let of_unit = ["matters_", "effect_", "sd_", "lo95_", "hi95_", "by_hand_"];
    match (key, last) {
        ("name", _) => Is::Name("a trial's name"),
        ("by" | "judged.by" | "dropped.by", _) => Is::Person,
        ("why" | "dropped.why" | "judged.evidence", _) => Is::Note,
        ("format" | "response" | "a" | "b" | "a_setup" | "b_setup" | "order" | "started", _) => Is::Fixed,
        ("judged" | "dropped" | "judged.at" | "dropped.at" | "judged.verdict" | "judged.method", _) => Is::Fixed,
        ("judged.p_gain" | "judged.p_loss" | "judged.p_same" | "judged.order_run" | "judged.air_kg_m3", _) => Is::Fixed,
        ("judged.runs_a" | "judged.runs_b", _) => Is::Fixed,
        (_, last) if of_unit.iter().any(|u| last.starts_with(u)) && !last.contains(' ') => Is::Fixed,
        _ => Is::Unknown,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::schema::schema;

    #[test]
    fn texts_of_a_file_are_found_and_its_numbers_are_none() {
        let text = "# tel 555 0144\na = 555.0143\n[b]\nc = [\"x\", 'y']\n[[d]]\nnote = \"\"\"\none\ntwo\"\"\" # who\n";
        let found = pieces(text);
        let of = |key: &str| found.iter().filter(|p| p.key == key).map(|p| p.text.as_str()).collect::<Vec<_>>();
        assert_eq!(of("b.c"), ["x", "y"]);
        assert_eq!(of("d.note"), ["one\ntwo"]);
        assert_eq!(of(""), [" tel 555 0144", " who"]);
        assert!(found.iter().all(|p| !p.text.contains("0143")));
        assert_eq!(pieces("no = toml = at all").len(), 1);
    }

    #[test]
    fn a_text_is_what_it_is_in_any_form_toml_has_for_it() {
        let day = "days/2026/05-16-osier-flats.toml";
        for text in [
            "[[reading]]\nby = 'Pell'\n",
            "reading = [{ at = 09:00:00, by = \"Pell\" }]\n",
            "[[reading]]\n\"by\" = \"\"\"\nPell\"\"\"\n",
        ] {
            let found = pieces(text);
            let by = found.iter().find(|p| what(schema(), day, &p.key) == Is::Person).map(|p| p.text.as_str());
            assert_eq!(by, Some("Pell"), "{text}");
        }
        for (text, wanted) in [
            ("owner = [{name = 'Pell'}]\n", Is::Person),
            ("[[part]]\nvalues.rear.tire.compound = 'Pell'\n", Is::Words),
            ("[[part]]\n[part.values.rear.tire]\nname = 'Pell'\n", Is::Name("a part's name")),
            ("[[rule]]\nreason = 'Pell'\n", Is::Note),
            ("[[rule]]\nmember = [{ says = 'Pell' }]\n", Is::Words),
            ("[[field]]\nlabel = 'Pell'\n", Is::Words),
        ] {
            assert_eq!(what(schema(), "car.toml", &pieces(text)[0].key), wanted, "{text}");
        }
        for (key, wanted) in [("judged.by", Is::Person), ("remark", Is::Unknown), ("a_setup", Is::Fixed)] {
            assert_eq!(what(schema(), "trials/x.toml", key), wanted, "{key}");
        }
    }
}
