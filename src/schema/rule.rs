//! Rules and cautions as `schema/rules/*.toml` has them: what must stand together, and what can hurt. Judging them is the
//! matter of `check`; here they are only read.

use super::Expr;
use super::Num;
use serde::Deserialize;
use std::collections::BTreeMap;

/// How much a rule matters.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Deserialize, serde::Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Severity {
    /// A probable typing error.
    Ask,
    /// Worth knowing.
    Note,
    /// Likely to cost.
    Caution,
    /// Likely to cost much, or to break parts.
    Warning,
    /// Someone can be hurt.
    Safety,
}

impl Severity {
    /// Its word.
    pub fn word(self) -> &'static str {
        match self {
            Severity::Ask => "ask",
            Severity::Note => "note",
            Severity::Caution => "caution",
            Severity::Warning => "warning",
            Severity::Safety => "safety",
        }
    }
}

/// One of several things a rule looks for; those that hold are listed in its sentence.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Member {
    /// When it is so.
    pub when: Expr,
    /// How the list names it.
    pub says: String,
    /// Chassis kinds it is for; empty = every car.
    #[serde(default)]
    pub chassis: Vec<String>,
}

/// The jobs a caution is shown beside. A job is meant when it turns one of `fields`, or stands at one of `places`.
#[derive(Debug, Clone, Default, PartialEq, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Job {
    /// Keys of the fields that are turned; one that ends in `.` means all below it.
    pub fields: Vec<String>,
    /// Places a hand stands at, as the fields name them.
    pub places: Vec<String>,
    /// Shown once at the end of the list, not beside the job.
    pub after: bool,
    /// What the list says beside the job, where it is not the sentence of the rule.
    pub says: Option<String>,
}

impl Job {
    /// Whether it is shown beside a job that turns `key` at `place`.
    pub fn meets(&self, key: &str, place: Option<&str>) -> bool {
        let field = |f: &String| if f.ends_with('.') { key.starts_with(f.as_str()) } else { f == key };
        self.fields.iter().any(field) || place.is_some_and(|p| self.places.iter().any(|q| q == p))
    }
}

/// A rule.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Rule {
    /// `P4`, `S1`; of a car's own: `own.` and a name.
    pub id: String,
    /// What it is about, in a few words.
    pub name: String,
    /// Words it is found by.
    #[serde(default)]
    pub about: Vec<String>,
    /// How much it matters.
    pub severity: Severity,
    /// Chassis kinds it is for; empty = every car.
    #[serde(default)]
    pub chassis: Vec<String>,
    /// Does it concern the car as it stands? Where this is not so the rule is quiet; absent = always.
    #[serde(default, rename = "if")]
    pub concerns: Option<Expr>,
    /// When it speaks; absent = by its members only, or beside jobs only.
    #[serde(default)]
    pub when: Option<Expr>,
    /// Things it looks for; with members it speaks when one of them holds too.
    #[serde(default)]
    pub member: Vec<Member>,
    /// Numbers its conditions name, with their unit in the name; a car may move them.
    #[serde(default)]
    pub limits: BTreeMap<String, Num>,
    /// Its sentence: `{name}` is a field, a figure or a limit, `{list}` its members that hold.
    pub says: String,
    /// Why.
    pub because: String,
    /// Where that is from.
    pub source: String,
    /// What those do who win and disagree.
    #[serde(default)]
    pub contested: Option<String>,
    /// Settings that are said to work only together; `blame --package` asks the runs.
    #[serde(default)]
    pub package: Vec<String>,
    /// The jobs it is shown beside.
    #[serde(default)]
    pub job: Option<Job>,
}

impl Rule {
    /// The names of fields, figures and limits its conditions look at, each once, in the order they stand in.
    pub fn names(&self) -> Vec<&str> {
        let all = self.concerns.iter().chain(&self.when).chain(self.member.iter().map(|m| &m.when));
        let mut out: Vec<&str> = Vec::new();
        for name in all.flat_map(Expr::names) {
            if !out.contains(&name) {
                out.push(name);
            }
        }
        out
    }

    /// It has a condition; one without is only shown beside jobs.
    pub fn is_judged(&self) -> bool {
        self.when.is_some() || !self.member.is_empty()
    }
}

/// A file of rules.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RuleFile {
    pub rule: Vec<Rule>,
}
