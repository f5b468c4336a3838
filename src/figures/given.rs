//! What figures are computed from: the sheet as far as it can be relied on, what the runs say, and what was asked.

use super::{Cannot, Memory, Missing, SIDES, Why};
use crate::schema::{Bound, Num, Role, Schema, Sheet, Value};
use crate::slip::Moment;
use crate::timeline::{Facts, Stale};
use std::collections::HashMap;

/// What the runs and the record say of a setup; what is not on record is `None`.
#[derive(Debug, Clone, Default)]
pub struct FromRuns {
    /// How the setup is called: "v17 and v15".
    pub setup: String,
    /// Middle 60 ft of its clean runs, s, and how many.
    pub ft60_s: Option<(f64, usize)>,
    /// Quickest time at the finish of its clean runs, s, and the finish, ft.
    pub quickest_s: Option<(f64, u32)>,
    /// Middle speed in the trap of its clean runs, mph, and how many.
    pub trap_mph: Option<(f64, usize)>,
    /// Middle engine speed at the finish, rpm, and how many runs have it.
    pub rpm_finish: Option<(f64, usize)>,
    /// Middle front rise seen, in, and how many runs have it.
    pub front_rise_in: Option<(f64, usize)>,
    /// Share of runs in which the wheelie bar touched, %, and how many runs say what the car did.
    pub bar_touched_pct: Option<(f64, usize)>,
    /// What the runs of the setup that ran last say, where this one has no clean run: what it left at is no other figure's
    /// business, but a launch to reckon with.
    pub earlier: Option<Box<FromRuns>>,
    /// Set fields that were changed after the last run, with the place a hand stands at; `None` = the book has no run.
    pub turned: Option<Vec<String>>,
    /// The sheet that the last run was made on.
    pub at_last_run: Option<Sheet>,
    /// Times it was gone back to an earlier version after the last run.
    pub went_back: usize,
}

/// What was asked for.
#[derive(Debug, Clone, Copy, Default)]
pub struct Wanted {
    /// The launch, g.
    pub launch_g: Option<f64>,
    /// The 60 ft, s.
    pub ft60_s: Option<f64>,
    /// Where the pinion is to stand when the limiter is met, degrees nose up against the ground.
    pub pinion_deg: Option<f64>,
}

/// Everything a figure may ask.
pub struct Given<'a> {
    /// The definitions.
    pub schema: &'a Schema,
    /// Front and rear of the car.
    pub chassis: &'a [String],
    /// The sheet.
    pub sheet: &'a Sheet,
    /// The sheet as far as it can be relied on.
    pub facts: Facts<'a>,
    /// What is stale on it, of what was measured, and of what was set and then moved by another setting.
    pub stale: &'a [Stale],
    /// The sheet as it was when a value that is stale now was taken, by the name of the version.
    pub then: &'a HashMap<String, Sheet>,
    /// When the values on the sheet came on record.
    pub since: &'a HashMap<String, Moment>,
    /// What the makers of the parts on the car give, as their owner put it down: by field and bound, for each side alike.
    pub limits: &'a [(String, Bound, Num)],
    /// What the runs say.
    pub runs: &'a FromRuns,
    /// What was asked for.
    pub wanted: Wanted,
    /// Fields that were given in `--with`.
    pub what_if: &'a [String],
    /// Figures that were computed already.
    pub memory: Memory,
}

impl<'a> Given<'a> {
    /// How a value went stale.
    pub fn stale_of(&self, key: &str) -> Option<&'a Stale> {
        self.stale.iter().find(|s| s.key == key)
    }

    /// The value at a path, if it is a fact, and the slots of it that are meant.
    pub fn value(&self, path: &str, side: Option<usize>) -> Result<(Vec<usize>, Value), Cannot> {
        let given = self;
        let Some((field, slot)) = given.schema.locate(path) else {
            return Err(Cannot::Because(format!("`{path}` is no field")));
        };
        if !field.on_chassis(given.chassis) || !field.applies.holds(given.sheet) {
            return Err(Cannot::NotHere);
        }
        let width = field.slots.len();
        let slots: Vec<usize> = match (slot, side) {
            (Some(i), _) => vec![i],
            (None, Some(side)) if width == 2 && field.slots[0].id == SIDES[0] => vec![side],
            (None, _) => (0..width).collect(),
        };
        let Some(value) = given.sheet.get(&field.key) else { return Err(self.missing(path, Why::NotOnRecord)) };
        let there = |i: &usize| value.slot(*i).is_some();
        if matches!(value, Value::Slots(_)) && !slots.iter().all(there) {
            return Err(self.missing(path, Why::NotOnRecord));
        }
        let sure = match value {
            Value::Slots(_) => slots.iter().all(|i| given.facts.usable_at(&field.key, *i).is_some()),
            _ => given.facts.usable(&field.key).is_some(),
        };
        if !sure {
            return Err(self.missing(path, self.not_sure(&field.key)));
        }
        Ok((slots, value.clone()))
    }

    /// Why a value that is on record is no fact.
    fn not_sure(&self, key: &str) -> Why {
        let given = self;
        match (given.stale_of(key), given.schema.field(key), given.sheet.get(key)) {
            (Some(stale), Some(field), Some(value)) => {
                Why::Stale { was: crate::diff::words::show_value(given.schema, field, value), since: stale.since().at }
            }
            _ => Why::Doubtful,
        }
    }

    /// What is missing at a path.
    pub fn missing(&self, path: &str, why: Why) -> Cannot {
        let Some((field, slot)) = self.schema.locate(path) else { return Cannot::NotHere };
        let slot = slot.and_then(|i| field.slot_list().get(i)).and_then(|s| s.label.clone());
        let label = self.schema.label_apart(field);
        Cannot::Missing(vec![Missing {
            name: path.to_owned(),
            label: slot.map_or_else(|| label.clone(), |s| format!("{label}, {s}")),
            whole: label,
            why,
            // A setting is known, or read off; its tool and minutes are those of changing it.
            tool: field.tool.clone().filter(|_| field.role != Role::Set),
            minutes: field.minutes.filter(|_| !field.shop && field.role != Role::Set),
        }])
    }
}
