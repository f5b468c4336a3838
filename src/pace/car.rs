//! What of the sheet says how a car follows the air.

use crate::schema::{Num, Sheet, air_data};
use crate::timeline::Facts;
use serde::Deserialize;
use std::sync::OnceLock;

/// `schema/air.toml`.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Sources {
    #[allow(dead_code, reason = "named so that a later form can be told apart")]
    format: u32,
    weight: String,
    induction: String,
    exponent: Vec<ByChoice>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct ByChoice {
    choice: String,
    value: f64,
    sd: f64,
}

fn sources() -> &'static Sources {
    static SOURCES: OnceLock<Sources> = OnceLock::new();
    SOURCES.get_or_init(|| match air_data() {
        Ok(sources) => sources,
        // Part of the program, read by a test.
        Err(problem) => panic!("the built-in schema is damaged: {problem}"),
    })
}

/// What the sheet says of the car's induction.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct CarFacts {
    /// The choice on the sheet; `None` = not on record.
    pub induction: Option<String>,
}

/// The car's weight as raced, lb, where it may be relied on.
pub fn weight_lb(facts: &Facts) -> Option<f64> {
    facts.num(&sources().weight).map(Num::to_f64)
}

impl CarFacts {
    /// From a sheet.
    pub fn of(sheet: &Sheet) -> CarFacts {
        CarFacts { induction: sheet.text(&sources().induction).map(str::to_owned) }
    }

    /// Power follows density to this power, and its standard deviation; whether the sheet says it. A car whose sheet says
    /// nothing is taken for a natural one.
    pub(super) fn power_on_density(&self) -> (f64, f64, bool) {
        let list = &sources().exponent;
        let named = self.induction.as_ref().and_then(|i| list.iter().find(|e| e.choice == *i));
        let taken = named.or(list.first());
        taken.map_or((1.0, 0.1, false), |e| (e.value, e.sd, named.is_some()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_data_name_what_there_is() {
        let (schema, s) = (crate::schema::schema(), sources());
        assert!(schema.field(&s.weight).is_some());
        let choices = &schema.field(&s.induction).unwrap().choices;
        assert!(!choices.is_empty() && choices.iter().all(|c| s.exponent.iter().any(|e| e.choice == *c)));
    }
}
