//! The file of check values, and how one of them is compared.

use std::collections::BTreeSet;
use toml::{Table, Value};

/// One entry.
pub struct Entry {
    pub id: String,
    pub topic: String,
    pub kind: String,
    pub source: String,
    /// The tolerance in words, as the file says it.
    pub tolerance: String,
    pub inputs: Table,
    pub expected: Table,
    pub cross: Table,
    pub rtol: Option<f64>,
    pub atol: Option<f64>,
}

/// A number of the file, whole or not.
pub fn number(value: &Value) -> Option<f64> {
    value.as_float().or(value.as_integer().map(|n| n as f64))
}

/// Everything in the file.
pub fn entries() -> Vec<Entry> {
    let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/reference/references.toml");
    let file: Table = std::fs::read_to_string(path).unwrap().parse().unwrap();
    let entry = |value: &Value| {
        let text = |key: &str| value[key].as_str().unwrap().to_owned();
        let table = |key: &str| value.get(key).map(|t| t.as_table().unwrap().clone()).unwrap_or_default();
        Entry {
            id: text("id"),
            topic: text("topic"),
            kind: text("kind"),
            source: text("source"),
            tolerance: text("tolerance"),
            inputs: table("inputs"),
            expected: table("expected"),
            cross: table("cross"),
            rtol: value.get("rtol").and_then(number),
            atol: value.get("atol").and_then(number),
        }
    };
    file["ref"].as_array().unwrap().iter().map(entry).collect()
}

/// The work on one entry: what was looked at, what is wrong.
pub struct Check<'a> {
    pub entry: &'a Entry,
    looked: BTreeSet<String>,
    numbers: usize,
    wrong: Vec<String>,
}

impl<'a> Check<'a> {
    pub fn new(entry: &'a Entry) -> Self {
        Check { entry, looked: BTreeSet::new(), numbers: 0, wrong: Vec::new() }
    }

    /// How many numbers were checked, and what is wrong: values too far off, values nobody looked at.
    pub fn done(mut self) -> (usize, Vec<String>) {
        let keys = self.entry.expected.keys().cloned().chain(self.entry.cross.keys().map(|k| format!("cross.{k}")));
        for key in keys.filter(|k| !self.looked.contains(k)).collect::<Vec<_>>() {
            self.say(&key, "is neither checked nor left with a reason".to_owned());
        }
        (self.numbers, self.wrong)
    }

    fn say(&mut self, key: &str, what: String) {
        let Entry { id, kind, source, tolerance, .. } = self.entry;
        self.wrong.push(format!("{id}.{key} {what} [{kind}; {source}; {tolerance}]"));
    }

    /// An input, as a number; none when it has none of that name.
    pub fn given(&self, name: &str) -> Option<f64> {
        self.entry.inputs.get(name).and_then(number)
    }

    /// An input that must be there.
    pub fn input(&self, name: &str) -> f64 {
        self.given(name).unwrap_or_else(|| panic!("{} has no input {name}", self.entry.id))
    }

    /// The value under `key`, or under `cross` for `cross.KEY`.
    pub fn value(&self, key: &str) -> Option<&'a Value> {
        match key.strip_prefix("cross.") {
            Some(key) => self.entry.cross.get(key),
            None => self.entry.expected.get(key),
        }
    }

    /// The number under a key.
    pub fn wanted(&self, key: &str) -> Option<f64> {
        self.value(key).and_then(number)
    }

    /// Keys of what is expected, and of the other answers with `cross.` before them.
    pub fn keys(&self) -> Vec<String> {
        let cross = self.entry.cross.keys().map(|k| format!("cross.{k}"));
        self.entry.expected.keys().cloned().chain(cross).collect()
    }

    /// Marks a key as looked at, and says what is wrong with it, if something is.
    pub fn look(&mut self, key: &str, wrong: Option<String>) {
        if self.value(key).is_some() {
            self.looked.insert(key.to_owned());
            self.numbers += 1;
            if let Some(what) = wrong {
                self.say(key, what);
            }
        }
    }

    /// The value under `key`, where there is one, within the entry's own tolerance.
    pub fn is(&mut self, key: &str, ours: f64) {
        let (rtol, atol) = (self.entry.rtol, self.entry.atol);
        if self.value(key).is_some() {
            assert!(rtol.is_some() || atol.is_some(), "{}: its tolerance is in words", self.entry.id);
        }
        self.near(key, ours, rtol.unwrap_or(0.0), atol.unwrap_or(0.0));
    }

    /// The value under `key`, where there is one, within a tolerance that the entry's words give. An expected 0 without
    /// `atol` is exactly 0 by construction.
    pub fn near(&mut self, key: &str, ours: f64, rtol: f64, atol: f64) {
        let Some(wanted) = self.wanted(key) else { return };
        let within = (rtol * wanted.abs()).max(atol).max(if wanted == 0.0 { 1e-12 } else { 0.0 });
        let off = (ours - wanted).abs();
        self.look(
            key,
            (off.is_nan() || off > within)
                .then(|| format!("is {wanted}, ours {ours}: off {off:.3e}, allowed {within:.3e}")),
        );
    }

    /// Two forms that answer the same question: `ours` beside the other form, within the tolerance between them.
    pub fn between(&mut self, key: &str, other: f64, ours: f64, within: f64) {
        let off = (ours - other).abs();
        if self.value(key).is_some() && (off.is_nan() || off > within) {
            self.say(key, format!("by that form {other}, by ours {ours}: more than {within:.3e} apart"));
        }
    }

    /// A value that nothing of ours answers. The reason stands in the code beside the key.
    pub fn left(&mut self, key: &str, why: &str) {
        assert!(why.len() > 10, "{key}: a reason");
        self.looked.insert(key.to_owned());
    }
}
