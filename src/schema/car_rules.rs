//! Rules as a car's own file has them: of its own, and built-in ones muted or moved, with a reason.

use super::{Num, Rule};
use serde::Deserialize;
use std::collections::BTreeMap;

/// A built-in rule as this car wants it.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Tuning {
    /// Which: `P4`.
    pub id: String,
    /// It does not speak.
    #[serde(default)]
    pub mute: bool,
    /// Its numbers, moved.
    #[serde(default)]
    pub limits: BTreeMap<String, Num>,
    /// Why.
    pub reason: String,
}

/// What the class rule book asks for below a time, as the owner put it down.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct NeedsBelow {
    /// Quicker than this, s.
    pub et: Num,
    /// To this finish, ft; a time to another finish says nothing of it.
    #[serde(default = "quarter_mile")]
    pub finish: u32,
    /// What is asked for, in words.
    pub item: String,
    /// The field of the sheet that holds it; without one it is told whenever the car is quicker.
    pub field: Option<String>,
}

fn quarter_mile() -> u32 {
    1320
}

/// A car's rules.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct CarRules {
    /// Of its own: ids begin with `own.`.
    pub own: Vec<Rule>,
    /// Built-in ones muted or moved.
    pub tunings: Vec<Tuning>,
    /// What the class rule book asks for.
    pub needs_below: Vec<NeedsBelow>,
}

/// The most rules a car has, things one looks for, and bytes of a sentence: its file may come from a stranger.
const MOST: usize = 60;
const MOST_MEMBERS: usize = 20;
const LONGEST_SAYS: usize = 600;

impl CarRules {
    /// Reads the `[[rule]]` and `[[needs_below]]` of a car's file, given as tables; the error names the rule.
    pub fn read(rules: Vec<toml::Table>, needs_below: Vec<NeedsBelow>) -> Result<CarRules, String> {
        let mut out = CarRules { needs_below, ..CarRules::default() };
        if rules.len() + out.needs_below.len() > MOST {
            return Err(format!("a car has {MOST} rules at most"));
        }
        if let Some(wrong) = out.needs_below.iter().find(|n| n.et <= Num::ZERO || n.item.trim().is_empty()) {
            return Err(format!("needs_below: `et = {}` and an `item` in words; one of them is not right", wrong.et));
        }
        for table in rules {
            let id = table.get("id").and_then(toml::Value::as_str).unwrap_or_default().to_owned();
            let told = |e: toml::de::Error| format!("rule {id}: {}", e.message().lines().next().unwrap_or_default());
            if id.starts_with("own.") {
                let rule: Rule = table.try_into().map_err(told)?;
                if !rule.is_judged() {
                    return Err(format!("rule {id}: it has no `when`"));
                }
                let says =
                    || rule.member.iter().map(|m| &m.says).chain([&rule.says, &rule.because, &rule.source, &rule.name]);
                if rule.member.len() > MOST_MEMBERS || says().any(|s| s.len() > LONGEST_SAYS) {
                    return Err(format!(
                        "rule {id}: {MOST_MEMBERS} members and {LONGEST_SAYS} bytes a sentence at most"
                    ));
                }
                // A list of jobs has no figures to fill in.
                let beside = rule.job.as_ref().map(|j| j.says.as_ref().unwrap_or(&rule.says));
                if beside.is_some_and(|s| s.contains(['{', '['])) {
                    return Err(format!("rule {id}: beside a job it wants a sentence without {{}}: `job.says`"));
                }
                if out.own.iter().any(|r| r.id == id) {
                    return Err(format!("rule {id} is there twice"));
                }
                out.own.push(rule);
                continue;
            }
            let tuning: Tuning = table.try_into().map_err(told)?;
            let Some(rule) = super::rules().iter().find(|r| r.id == tuning.id) else {
                return Err(format!(
                    "there is no rule `{id}` to mute or move; a rule of the car's own is `own.` and a name"
                ));
            };
            if let Some(name) = tuning.limits.keys().find(|n| !rule.limits.contains_key(*n)) {
                let names: Vec<&str> = rule.limits.keys().map(String::as_str).collect();
                return Err(format!("rule {id} has no limit `{name}`: {}", names.join(", ")));
            }
            if tuning.reason.trim().is_empty() || (!tuning.mute && tuning.limits.is_empty()) {
                return Err(format!("rule {id}: `mute = true` or `limits`, and a `reason`"));
            }
            if out.tunings.iter().any(|t| t.id == id) {
                return Err(format!("rule {id} is there twice"));
            }
            out.tunings.push(tuning);
        }
        Ok(out)
    }
}
