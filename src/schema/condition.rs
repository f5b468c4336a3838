//! When a field applies: `rear.limiter.kind is not none and front.shock.valving is adjustable`.

use super::{Scalar, Sheet, Value};

/// A conjunction of simple tests over fields. A field that is not on record contradicts nothing.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Condition(Vec<Test>);

#[derive(Debug, Clone, PartialEq)]
struct Test {
    key: String,
    wanted: Wanted,
}

#[derive(Debug, Clone, PartialEq)]
enum Wanted {
    Is(String),
    IsNot(String),
    OnRecord,
}

impl Condition {
    /// Reads the text form; the error is the part that could not be read.
    pub fn parse(text: &str) -> Result<Condition, String> {
        text.split(" and ")
            .map(|part| {
                let (key, rest) = part.trim().split_once(" is ").ok_or_else(|| part.to_owned())?;
                let rest = rest.trim();
                let wanted = match (rest, rest.strip_prefix("not ")) {
                    ("on record", _) => Wanted::OnRecord,
                    (_, Some(value)) => Wanted::IsNot(value.trim().to_owned()),
                    (value, None) => Wanted::Is(value.to_owned()),
                };
                Ok(Test { key: key.trim().to_owned(), wanted })
            })
            .collect::<Result<_, String>>()
            .map(Condition)
    }

    /// Whether it holds on `sheet`.
    pub fn holds(&self, sheet: &Sheet) -> bool {
        self.0.iter().all(|test| {
            let Some(value) = sheet.get(&test.key) else {
                return test.wanted != Wanted::OnRecord;
            };
            match &test.wanted {
                Wanted::OnRecord => true,
                Wanted::Is(word) => any_is(value, word),
                Wanted::IsNot(word) => !all_are(value, word),
            }
        })
    }

    /// The first field it looks at: the parent in whose sentence its dependents are told.
    pub fn parent(&self) -> Option<&str> {
        self.0.first().map(|t| t.key.as_str())
    }

    /// All fields it looks at.
    pub fn keys(&self) -> impl Iterator<Item = &str> {
        self.0.iter().map(|t| t.key.as_str())
    }

    /// The text form, for messages.
    pub fn describe(&self) -> String {
        let one = |t: &Test| match &t.wanted {
            Wanted::Is(w) => format!("{} is {w}", t.key),
            Wanted::IsNot(w) => format!("{} is not {w}", t.key),
            Wanted::OnRecord => format!("{} is on record", t.key),
        };
        self.0.iter().map(one).collect::<Vec<_>>().join(" and ")
    }
}

fn scalar_is(scalar: &Scalar, word: &str) -> bool {
    match scalar {
        Scalar::Text(t) => t == word,
        Scalar::Flag(f) => (if *f { "yes" } else { "no" }) == word,
        Scalar::Num(n) => super::Num::parse(word) == Some(*n),
    }
}

fn any_is(value: &Value, word: &str) -> bool {
    value.scalars().any(|s| scalar_is(s, word))
}

fn all_are(value: &Value, word: &str) -> bool {
    value.scalars().all(|s| scalar_is(s, word))
}
