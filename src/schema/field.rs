//! A field of the sheet as its definition in `schema/fields/*.toml` says.

use super::{Condition, Num};
use serde::Deserialize;
use std::collections::BTreeMap;

/// What a value on the sheet is. Decides what makes a new setup and what goes stale.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Deserialize, serde::Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Role {
    /// Set by a hand.
    Set,
    /// A result; goes stale when what moves it is changed.
    Measured,
    /// Described once, of a part or a bracket.
    Described,
    /// Words beside the numbers.
    Note,
}

/// How soon a racer meets the field.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Deserialize, serde::Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Ring {
    /// Asked by `new`.
    Pocket,
    /// On the sheet.
    Sheet,
    /// On the sheet once used.
    Extra,
}

/// How many values the field has.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize, serde::Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Sides {
    /// One.
    One,
    /// Left and right.
    Pair,
    /// Left front, right front, left rear, right rear.
    Corners,
    /// Named slots.
    Named,
    /// A list of numbers.
    List,
    /// A list of rows.
    Rows,
}

/// A slot of a field, or a column of its rows.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Slot {
    /// Key inside the value: `left`, `lf`, `intake`.
    pub id: String,
    /// What a racer calls it.
    pub label: Option<String>,
    /// Unit, where it differs from the field's.
    pub unit: Option<String>,
    /// Least decimals shown, where they differ from the field's.
    pub decimals: Option<u32>,
    /// "text" for a column of words.
    pub kind: Option<String>,
    /// Least step a hand can set, where it differs from the field's.
    pub step: Option<Num>,
    /// Usual range, where it differs from the field's.
    pub usual: Option<[Num; 2]>,
    /// Possible range, where it differs from the field's.
    pub possible: Option<[Num; 2]>,
}

/// How a sentence calls the thing (schema/README.md, `noun`).
#[derive(Debug, Clone, Default, PartialEq, Deserialize)]
#[serde(deny_unknown_fields, default)]
#[allow(missing_docs, reason = "the parts are explained in schema/README.md")]
pub struct Noun {
    pub thing: Option<String>,
    pub many: Option<String>,
    pub end: Option<String>,
    pub on: Option<String>,
    pub at: Option<String>,
    pub record: Option<String>,
    pub record_many: Option<String>,
    pub short: Option<String>,
    pub left: Option<String>,
    pub right: Option<String>,
    pub pair: Option<String>,
    pub both: Option<String>,
}

/// Entries or slots told together: "rear jets".
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Group {
    /// What they are called.
    pub name: String,
    /// What they are called beside the others, when they stay: "fronts".
    pub short: String,
    /// Their places in the list or among the slots, from 0.
    pub of: Vec<usize>,
}

/// How a hand changes the value; the first whose `when` holds.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Turn {
    /// Condition text; absent = always.
    pub when: Option<String>,
    /// `hole`, `turns`, `flats`, `clicks`, `psi`, `part`, `links`, `shims`.
    pub by: String,
    /// Key of the threads per inch.
    pub threads: Option<String>,
    /// Key of the hole spacing.
    pub spacing: Option<String>,
    /// Key of the travel per turn.
    pub per_turn: Option<String>,
}

/// What the change does that is known by arithmetic: `(new/old)^power - 1`, as a share of `name`.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Effect {
    /// What it moves: "wheel rate".
    pub name: String,
    /// The exponent.
    pub power: i32,
}

/// A field definition. Ranges are for entry checks, never limits of what is right or legal.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
#[allow(missing_docs, reason = "the attributes are explained in schema/README.md")]
pub struct Field {
    pub key: String,
    pub label: String,
    pub ring: Ring,
    pub role: Role,
    pub kind: String,
    #[serde(default = "one_side")]
    pub sides: Sides,
    pub unit: Option<String>,
    #[serde(default)]
    pub decimals: u32,
    pub step: Option<Num>,
    pub usual: Option<[Num; 2]>,
    pub possible: Option<[Num; 2]>,
    pub usual_change: Option<Num>,
    #[serde(default)]
    pub chassis: Vec<String>,
    #[serde(default, rename = "applies")]
    pub applies_text: Option<String>,
    #[serde(default)]
    pub choices: Vec<String>,
    #[serde(default)]
    pub choice_says: BTreeMap<String, Vec<String>>,
    #[serde(default)]
    pub says: Vec<String>,
    #[serde(default)]
    pub noun: Noun,
    #[serde(default)]
    pub tell: BTreeMap<String, String>,
    pub told: Option<String>,
    #[serde(default)]
    pub lines: bool,
    #[serde(default)]
    pub private: bool,
    #[serde(default)]
    pub handover: bool,
    pub effect: Option<Effect>,
    #[serde(default)]
    pub turn: Vec<Turn>,
    pub tool: Option<String>,
    pub place: Option<String>,
    pub minutes: Option<u32>,
    #[serde(default)]
    pub shop: bool,
    #[serde(default)]
    pub moves: Vec<String>,
    pub part: Option<String>,
    pub follows: Option<String>,
    #[serde(default)]
    pub slots: Vec<Slot>,
    #[serde(default)]
    pub entries: Vec<String>,
    pub each: Option<String>,
    #[serde(default)]
    pub groups: Vec<Group>,
    #[serde(default)]
    pub columns: Vec<Slot>,
    #[serde(default)]
    pub help: String,
    #[serde(default = "no_source")]
    pub source: String,
    /// The heading of a diff it stands under: filled from its area.
    #[serde(skip)]
    pub group: String,
    /// The heading of the sheet it stands under: filled from its area.
    #[serde(skip)]
    pub area: String,
    /// `applies`, read.
    #[serde(skip)]
    pub applies: Condition,
}

/// A label without its explanation: "limiter height" of "limiter height, base to top of bumper".
pub fn short_label(label: &str) -> &str {
    label.split([',', '(']).next().unwrap_or(label).trim()
}

fn one_side() -> Sides {
    Sides::One
}

fn no_source() -> String {
    "common practice, no source".to_owned()
}

/// What kind of plain value a field (or slot) takes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Takes {
    /// A number.
    Number,
    /// One of the choices.
    Choice,
    /// Free text.
    Text,
    /// Yes or no.
    Flag,
}

impl Field {
    /// Whether it is the one named, or stands under the heading named, whatever the case of its letters.
    pub fn is_under(&self, named: &str) -> bool {
        let named = named.trim().to_lowercase();
        self.key == named || self.group == named || self.area.to_lowercase() == named
    }

    /// The table part of the key and the key inside the table.
    pub fn table_and_name(&self) -> (&str, &str) {
        self.key.rsplit_once('.').unwrap_or(("", &self.key))
    }

    /// What its plain values are.
    pub fn takes(&self) -> Takes {
        match self.kind.as_str() {
            "choice" => Takes::Choice,
            "text" | "own_part" => Takes::Text,
            "fitted" => Takes::Flag,
            _ => Takes::Number,
        }
    }

    /// What slot `i` takes.
    pub fn slot_takes(&self, i: usize) -> Takes {
        match self.slot_list().get(i).and_then(|s| s.kind.as_deref()) {
            Some("text") => Takes::Text,
            _ => self.takes(),
        }
    }

    /// Slots or columns; empty for a single value or a list.
    pub fn slot_list(&self) -> &[Slot] {
        if self.sides == Sides::Rows { &self.columns } else { &self.slots }
    }

    /// The unit of slot `i`, or of the field.
    pub fn unit_of(&self, slot: Option<usize>) -> Option<&str> {
        slot.and_then(|i| self.slot_list().get(i)).and_then(|s| s.unit.as_deref()).or(self.unit.as_deref())
    }

    /// Least decimals shown of slot `i`, or of the field.
    pub fn decimals_of(&self, slot: Option<usize>) -> u32 {
        slot.and_then(|i| self.slot_list().get(i)).and_then(|s| s.decimals).unwrap_or(self.decimals)
    }

    /// Index of the slot called `id`.
    pub fn slot_index(&self, id: &str) -> Option<usize> {
        self.slot_list().iter().position(|s| s.id == id)
    }

    /// Whether it belongs on a car of these chassis kinds.
    pub fn on_chassis(&self, chassis: &[String]) -> bool {
        self.chassis.is_empty() || chassis.is_empty() || self.chassis.iter().any(|c| chassis.contains(c))
    }

    /// Fills in the slots that follow from `sides` and reads the condition; the error names the field.
    pub(super) fn finish(&mut self, area: &str, group: &str) -> Result<(), String> {
        area.clone_into(&mut self.area);
        group.clone_into(&mut self.group);
        let implied: &[(&str, &str)] = match self.sides {
            Sides::Pair => &[("left", "left"), ("right", "right")],
            Sides::Corners => &[("lf", "left front"), ("rf", "right front"), ("lr", "left rear"), ("rr", "right rear")],
            _ => &[],
        };
        if self.slots.is_empty() {
            let slot = |&(id, label): &(&str, &str)| Slot {
                id: id.to_owned(),
                label: Some(label.to_owned()),
                unit: None,
                decimals: None,
                kind: None,
                step: None,
                usual: None,
                possible: None,
            };
            self.slots = implied.iter().map(slot).collect();
        }
        if let Some(text) = &self.applies_text {
            self.applies =
                Condition::parse(text).map_err(|part| format!("{}: cannot read the condition `{part}`", self.key))?;
        }
        Ok(())
    }
}
