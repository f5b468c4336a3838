//! All rules of a car, judged.

use super::truth::{Looking, Truth};
use super::words::filled;
use crate::figures::{Given, Input, Missing, is_figure};
use crate::schema::{CarRules, Expr, NeedsBelow, Num, Rule, Schema, Severity, rules};

/// Why a built-in rule of a car is not as it comes.
#[derive(Debug, Clone, PartialEq)]
pub struct Muted {
    /// The owner's reason.
    pub reason: String,
    /// It does not speak at all; else its limits were moved.
    pub mute: bool,
}

/// What a rule comes to.
#[derive(Debug, Clone, PartialEq)]
pub enum Verdict {
    /// It speaks, in these words.
    Speaks(String),
    /// All is as it should be, or it does not concern the car as it stands.
    Quiet,
    /// It is not for this car.
    NotHere,
    /// It is shown beside jobs only.
    ForJobs,
    /// The owner muted it.
    Muted,
    /// Nobody can tell: these are missing, or the numbers have no answer.
    CannotTell {
        /// Measurements.
        missing: Vec<Missing>,
        /// Reasons.
        because: Vec<String>,
    },
}

/// A rule and what it comes to.
#[derive(Debug, Clone)]
pub struct Judged {
    /// The rule, with the car's limits.
    pub rule: Rule,
    /// What it comes to.
    pub verdict: Verdict,
    /// Which of its members hold.
    pub held: Vec<usize>,
    /// What it looked at.
    pub inputs: Vec<Input>,
    /// What was assumed in it.
    pub assumed: Vec<String>,
    /// The owner's hand in it.
    pub tuned: Option<Muted>,
}

/// The rules of a car: the built-in ones as it wants them, and its own.
pub fn rules_for(car: &CarRules) -> Vec<(Rule, Option<Muted>)> {
    let mut out: Vec<(Rule, Option<Muted>)> = Vec::new();
    for rule in rules() {
        let mut rule = rule.clone();
        let tuning = car.tunings.iter().find(|t| t.id == rule.id);
        if let Some(tuning) = tuning {
            rule.limits.extend(tuning.limits.clone());
        }
        out.push((rule, tuning.map(|t| Muted { reason: t.reason.clone(), mute: t.mute })));
    }
    out.extend(car.own.iter().map(|r| (r.clone(), None)));
    out
}

/// Names in the conditions and the sentences of a rule that are no field, no figure and no limit of it.
pub fn unknown_names(rule: &Rule, schema: &Schema) -> Vec<String> {
    let known = |n: &&str| {
        *n == "list"
            || rule.limits.contains_key(*n)
            || is_figure(n)
            || schema.locate(n).is_some()
            || NEEDS.iter().any(|w| w == n)
    };
    let said = std::iter::once(&rule.says).chain(rule.member.iter().map(|m| &m.says));
    let said = said.flat_map(|t| t.split('{').skip(1).filter_map(|p| p.split('}').next()));
    rule.names().into_iter().chain(said).filter(|n| !known(n)).map(str::to_owned).collect()
}

/// Judges all rules of a car, in order.
pub fn check(given: &Given, car: &CarRules) -> Vec<Judged> {
    let mut out = Vec::new();
    for (rule, tuned) in rules_for(car) {
        if rule.id == NEEDS_RULE {
            out.extend(car.needs_below.iter().map(|n| needed(&rule, n, given, tuned.clone())));
            if car.needs_below.is_empty() {
                let verdict = Verdict::Quiet;
                out.push(Judged { rule, verdict, held: Vec::new(), inputs: Vec::new(), assumed: Vec::new(), tuned });
            }
        } else {
            out.push(judged(rule, given, tuned, &[]));
        }
    }
    out
}

/// The rule that stands for what owners put down from their class rule book.
const NEEDS_RULE: &str = "S13";
/// Words that only its sentence has.
const NEEDS: [&str; 2] = ["et_limit", "item"];

fn said(needs: &NeedsBelow) -> [(&'static str, String); 2] {
    [(NEEDS[0], format!("{} s", needs.et)), (NEEDS[1], needs.item.clone())]
}

/// One entry of the owner's, judged. A time to another finish says nothing of it.
fn needed(rule: &Rule, entry: &NeedsBelow, given: &Given, tuned: Option<Muted>) -> Judged {
    let mut judged = judged(needs(rule, entry), given, tuned, &said(entry));
    let runs = given.runs;
    let ran = runs.quickest_s.or_else(|| runs.earlier.as_ref()?.quickest_s).map(|(_, finish)| finish);
    if let Some(ran) = ran.filter(|f| *f != entry.finish && judged.verdict != Verdict::Muted) {
        let why = format!("the class book's time is to {} ft, these runs are to {ran} ft", entry.finish);
        judged.verdict = Verdict::CannotTell { missing: Vec::new(), because: vec![why] };
    }
    judged
}

/// The rule of one entry: the setup is quicker, and what is asked for is not on the sheet.
fn needs(rule: &Rule, needs: &NeedsBelow) -> Rule {
    let mut rule = rule.clone();
    let quicker = Expr::Number(
        crate::schema::Term::Name("quickest_et".to_owned()),
        crate::schema::Compare::Less,
        crate::schema::Term::Number(needs.et.to_f64()),
    );
    let absent = needs.field.as_ref().map(|f| {
        Expr::Or(vec![
            Expr::OnRecord(f.clone(), false),
            Expr::Is(f.clone(), "none".to_owned(), true),
            Expr::Is(f.clone(), "no".to_owned(), true),
        ])
    });
    rule.when = Some(Expr::And(std::iter::once(quicker).chain(absent).collect()));
    rule
}

fn judged(rule: Rule, given: &Given, tuned: Option<Muted>, more: &[(&str, String)]) -> Judged {
    let for_car = |chassis: &[String]| chassis.is_empty() || chassis.iter().any(|c| given.chassis.contains(c));
    let silent = match (tuned.as_ref().is_some_and(|t| t.mute), for_car(&rule.chassis), rule.is_judged()) {
        (true, ..) => Some(Verdict::Muted),
        (_, false, _) => Some(Verdict::NotHere),
        (.., false) => Some(Verdict::ForJobs),
        _ => None,
    };
    if let Some(verdict) = silent {
        return Judged { rule, verdict, held: Vec::new(), inputs: Vec::new(), assumed: Vec::new(), tuned };
    }
    // A rule of the car's own may name what there is not; the others go on.
    let unknown: Vec<String> = unknown_names(&rule, given.schema)
        .iter()
        .map(|n| format!("`{n}` is no field, no figure and no limit of it"))
        .collect();
    if !unknown.is_empty() && rule.id != NEEDS_RULE {
        let verdict = Verdict::CannotTell { missing: Vec::new(), because: unknown };
        return Judged { rule, verdict, held: Vec::new(), inputs: Vec::new(), assumed: Vec::new(), tuned };
    }
    let mut looking = Looking::new(given, &rule.limits);
    let concerns = rule.concerns.as_ref().map_or(Truth::Yes, |e| looking.at(e));
    let when = rule.when.as_ref().map_or(Truth::Yes, |e| looking.at(e));
    let members = rule.member.iter().enumerate().filter(|(_, m)| for_car(&m.chassis));
    let members: Vec<(usize, Truth)> = members.map(|(i, m)| (i, looking.at(&m.when))).collect();
    let one = match rule.member.is_empty() {
        true => Truth::Yes,
        false => Truth::any(members.iter().map(|m| m.1.clone())),
    };
    let held: Vec<usize> = members.iter().filter(|m| m.1 == Truth::Yes).map(|m| m.0).collect();
    // A rule that does not concern the car wants nothing measured.
    let truth = match concerns {
        Truth::No => Truth::No,
        concerns => Truth::all([concerns, when, one].into_iter()),
    };
    let verdict = match truth {
        Truth::No => Verdict::Quiet,
        Truth::Unknown(missing, because) => Verdict::CannotTell { missing, because },
        Truth::Yes => {
            let says = |i: &usize| filled(&rule.member[*i].says, given, &rule.limits, "", more);
            let list: Vec<String> = held.iter().map(says).collect();
            Verdict::Speaks(filled(&rule.says, given, &rule.limits, &list.join(", "), more))
        }
    };
    let (inputs, assumed) = (looking.inputs, looking.assumed);
    Judged { rule, verdict, held, inputs, assumed, tuned }
}

impl Judged {
    /// It speaks.
    pub fn speaks(&self) -> Option<&str> {
        match &self.verdict {
            Verdict::Speaks(words) => Some(words),
            _ => None,
        }
    }

    /// It speaks, and of something that is likely to cost much or to hurt.
    pub fn is_grave(&self) -> bool {
        self.speaks().is_some() && matches!(self.rule.severity, Severity::Warning | Severity::Safety)
    }

    /// Its limits by name, for whoever asks why.
    pub fn limits(&self) -> impl Iterator<Item = (&str, Num)> {
        self.rule.limits.iter().map(|(k, n)| (k.as_str(), *n))
    }
}
