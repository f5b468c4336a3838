//! Data files beside the fields: each in the type of whoever asks.

use super::embedded::{AIR, COLUMNS, PLACES, RULE_FILES};
use super::rule::{Rule, RuleFile};
use std::sync::OnceLock;

/// The columns of a season table (`schema/columns.toml`), in the type that describes them.
pub fn columns_data<T: serde::de::DeserializeOwned>() -> Result<T, String> {
    parse("columns.toml", COLUMNS)
}

/// What of the sheet says how a car follows the air (`schema/air.toml`), in the type that describes it.
pub fn air_data<T: serde::de::DeserializeOwned>() -> Result<T, String> {
    parse("air.toml", AIR)
}

/// Where a hand stands, in order (`schema/places.toml`), in the type that describes it.
pub fn places_data<T: serde::de::DeserializeOwned>() -> Result<T, String> {
    parse("places.toml", PLACES)
}

/// The built-in rules and cautions (`schema/rules/*.toml`), in the order of their files. Read when they are first asked
/// for: most commands never do.
pub fn rules() -> &'static [Rule] {
    static RULES: OnceLock<Vec<Rule>> = OnceLock::new();
    let read = || -> Result<Vec<Rule>, String> {
        let mut all: Vec<Rule> = Vec::new();
        for (name, text) in RULE_FILES {
            all.extend(parse::<RuleFile>(name, text)?.rule);
        }
        Ok(all)
    };
    RULES.get_or_init(|| match read() {
        Ok(rules) => rules,
        // The data is part of the program and a test reads all of it: failing here is a build that was never tested.
        Err(problem) => panic!("the built-in rules are damaged: {problem}"),
    })
}

pub(super) fn parse<T: serde::de::DeserializeOwned>(name: &str, text: &str) -> Result<T, String> {
    serde_json::from_str(text).map_err(|e| format!("{name}: {e}"))
}
