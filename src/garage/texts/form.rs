//! What the program's own words look like, each by the place it stands at: a text that does not is somebody's.

use crate::schema::{Field, Role, Severity, Turn, rules, schema};
use crate::slip::Response;
use crate::timeline::VersionNumber;
use crate::trial::Order;
use std::collections::HashSet;
use std::sync::OnceLock;

fn read<T: serde::de::DeserializeOwned>(text: &str) -> bool {
    T::deserialize(serde::de::value::StrDeserializer::<serde::de::value::Error>::new(text)).is_ok()
}

pub(in crate::garage) fn is_hex(text: &str, digits: usize) -> bool {
    text.len() == digits && text.bytes().all(|b| b.is_ascii_digit() || (b'a'..=b'f').contains(&b))
}

/// Whether the definitions of the program's own fields have it.
fn some_field(has: impl Fn(&Field) -> bool) -> bool {
    schema().fields.iter().any(has)
}

/// The id a run gets from this program: 8 hex digits.
pub(in crate::garage) fn run_id(text: &str) -> bool {
    is_hex(text, 8)
}

pub(super) fn sheet_id(text: &str) -> bool {
    is_hex(text, 40)
}

pub(in crate::garage) fn version(text: &str) -> bool {
    text.parse::<VersionNumber>().is_ok_and(|v| v.to_string() == text)
}

pub(super) fn order(text: &str) -> bool {
    text.parse::<Order>().is_ok()
}

pub(super) fn response(text: &str) -> bool {
    Response::read(text).is_some()
}

/// `-05:00`.
pub(super) fn offset(text: &str) -> bool {
    !text.is_empty() && text.chars().all(|c| c.is_ascii_digit() || "+-:".contains(c))
}

pub(super) fn template(text: &str) -> bool {
    schema().template(text).is_some()
}

pub(super) fn chassis(text: &str) -> bool {
    schema().templates.iter().any(|t| t.chassis.iter().any(|c| c == text))
}

pub(super) fn kind(text: &str) -> bool {
    schema().kinds.iter().any(|k| k.id == text)
}

pub(super) fn unit(text: &str) -> bool {
    schema().units.get(text).is_some()
}

pub(super) fn ring(text: &str) -> bool {
    read::<crate::schema::Ring>(text)
}

pub(super) fn role(text: &str) -> bool {
    read::<Role>(text)
}

pub(super) fn sides(text: &str) -> bool {
    read::<crate::schema::Sides>(text)
}

pub(super) fn severity(text: &str) -> bool {
    read::<Severity>(text)
}

/// A built-in rule; the id of one of the car's own is its name.
pub(super) fn rule(text: &str) -> bool {
    rules().iter().any(|r| r.id == text)
}

pub(super) fn limit(text: &str) -> bool {
    schema().limits.iter().any(|l| l.name == text)
}

pub(super) fn place(text: &str) -> bool {
    some_field(|f| f.place.as_deref() == Some(text))
}

pub(super) fn turned_by(text: &str) -> bool {
    some_field(|f| f.turn.iter().any(|t: &Turn| t.by == text))
}

pub(super) fn tell(text: &str) -> bool {
    some_field(|f| f.tell.contains_key(text)) || schema().kinds.iter().any(|k| k.tell.contains_key(text))
}

fn among(words: &[String], text: &str) -> bool {
    words.iter().any(|w| w == text)
}

pub(super) fn lane(text: &str) -> bool {
    among(&schema().run.lanes, text)
}

pub(super) fn sun(text: &str) -> bool {
    among(&schema().run.sun, text)
}

pub(super) fn staged(text: &str) -> bool {
    among(&schema().run.staged, text)
}

pub(super) fn psi_taken(text: &str) -> bool {
    among(&schema().run.psi_taken, text)
}

pub(super) fn why_not(text: &str) -> bool {
    schema().run.why_not.iter().any(|w| w.word == text)
}

pub(super) fn did(text: &str) -> bool {
    schema().run.did.iter().any(|w| w.word == text)
}

/// A number, in doubt or with a unit: `0.5?`, `about 12 psi`, `1-1/8`.
pub(super) fn number(text: &str) -> bool {
    let is_unit = |w: &str| w == "about" || schema().units.typed(w).next().is_some();
    let mut words = text.split(|c: char| c.is_ascii_digit() || c.is_whitespace() || "+-./?~,".contains(c));
    text.contains(|c: char| c.is_ascii_digit()) && words.all(|w| w.is_empty() || is_unit(w))
}

/// A word of what was typed for a number, a choice or a flag.
pub(super) fn of_typed(word: &str) -> bool {
    matches!(word, "reading" | "step" | "off" | "true" | "false")
        || word.bytes().all(|b| b.is_ascii_digit())
        || number(&format!("1 {word}"))
}

/// The words of a verdict, and of how it was come to.
const OF_A_TRIAL: &str = "almost certainly very likely a gain loss not settled no effect worth chasing these runs \
                          cannot tell too early to call the model of blame run book ft ET et mph";

pub(super) fn said_of_a_trial(text: &str) -> bool {
    let known = |w: &str| OF_A_TRIAL.split(' ').any(|k| k == w) || w.bytes().all(|b| b.is_ascii_digit());
    text.split([' ', ',']).filter(|w| !w.is_empty()).all(known)
}

/// Words of conditions that are the program's: signs, choices of its fields, headings of its sheet.
pub(super) fn of_conditions(word: &str) -> bool {
    static WORDS: OnceLock<HashSet<String>> = OnceLock::new();
    let words = WORDS.get_or_init(|| {
        let fixed = ["and", "or", "is", "not", "on", "record", "moved", "turned", "spread", "abs", "+", "-", "="];
        let choices = schema().fields.iter().flat_map(|f| &f.choices);
        let headings = schema().areas.iter().flat_map(|a| [&a.title, &a.group]);
        let said = choices.chain(headings).map(|t| t.to_lowercase());
        let said: Vec<String> = said.flat_map(|t| t.split([' ', ',']).map(str::to_owned).collect::<Vec<_>>()).collect();
        said.into_iter().chain(fixed.map(str::to_owned)).collect()
    });
    word.is_empty() || word.parse::<f64>().is_ok_and(f64::is_finite) || words.contains(word)
}
