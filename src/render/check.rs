//! The package check: what speaks, what cannot be judged and what to measure for it, and why.

use super::layout::{Head, Page, counted};
use super::numbers::{input_json, input_words, missing_json, missing_words};
use crate::check::{Judged, Verdict};
use crate::figures::{Missing, Why};
use crate::schema::Severity;
use crate::slip::Moment;
use serde_json::{Value as Json, json};

/// What is told.
pub struct CheckTold<'a> {
    /// The version.
    pub version: String,
    /// When it began.
    pub at: Moment,
    /// What it was taken for with.
    pub with: Option<String>,
    /// All rules, judged.
    pub judged: &'a [Judged],
    /// The same without `with`: what speaks then is marked.
    pub before: Option<&'a [Judged]>,
    /// The quiet ones too.
    pub all: bool,
}

/// Graver ones first.
const ORDER: [Severity; 5] = [Severity::Safety, Severity::Warning, Severity::Caution, Severity::Note, Severity::Ask];

fn count(told: &CheckTold, of: impl Fn(&Verdict) -> bool) -> usize {
    told.judged.iter().filter(|j| of(&j.verdict)).count()
}

/// The page.
pub fn text(head: &Head, told: &CheckTold) -> String {
    let judged = told.judged.len() - count(told, |v| matches!(v, Verdict::NotHere | Verdict::ForJobs));
    let (quiet, speak) = (count(told, |v| *v == Verdict::Quiet), count(told, |v| matches!(v, Verdict::Speaks(_))));
    let cannot = count(told, |v| matches!(v, Verdict::CannotTell { .. }));
    let muted = count(told, |v| *v == Verdict::Muted);
    let with = told.with.as_ref().map(|w| format!(", as if {w}")).unwrap_or_default();
    let mut line = format!("{}{with}, {}: {quiet} quiet, {speak} ", told.version, counted(judged, "rule"));
    line.push_str(if speak == 1 { "speaks" } else { "speak" });
    if cannot > 0 {
        line.push_str(&format!(", {cannot} cannot tell"));
    }
    if muted > 0 {
        line.push_str(&format!(", {muted} muted"));
    }
    let mut page = head.page(&line);
    for severity in &ORDER {
        speaking(&mut page, told, *severity);
    }
    let silent: Vec<(&Judged, &Vec<Missing>, &Vec<String>)> = told
        .judged
        .iter()
        .filter_map(|j| match &j.verdict {
            Verdict::CannotTell { missing, because } => Some((j, missing, because)),
            _ => None,
        })
        .collect();
    if !silent.is_empty() {
        page.gap();
        for (i, (words, rules)) in wanted(head, &silent).iter().enumerate() {
            let label = if i == 0 { "cannot   " } else { "         " };
            page.wrap(label, &format!("{words}: {}", rules.join(", ")));
        }
    }
    for judged in told.judged {
        if let (Verdict::Muted, Some(tuned)) = (&judged.verdict, &judged.tuned) {
            page.wrap("muted    ", &format!("{} {}: {}", judged.rule.id, judged.rule.name, tuned.reason));
        }
    }
    if told.all {
        page.gap();
        for judged in
            told.judged.iter().filter(|j| matches!(j.verdict, Verdict::Quiet | Verdict::ForJobs | Verdict::NotHere))
        {
            let label = match judged.verdict {
                Verdict::NotHere => "not here ",
                Verdict::ForJobs => "jobs     ",
                _ => "quiet    ",
            };
            page.wrap(label, &format!("{} {}", judged.rule.id, judged.rule.name));
        }
    }
    if let Some(before) = told.before {
        page.gap();
        match compared(before, told.judged, &[]) {
            (new, gone) if new.is_empty() && gone.is_empty() => {
                page.line("No rule speaks that was quiet, and none is quiet that spoke.")
            }
            (new, gone) => {
                if !new.is_empty() {
                    page.wrap("", &format!("Would speak then: {}", names(&new)));
                }
                if !gone.is_empty() {
                    page.wrap("", &format!("Would be quiet then: {}", names(&gone)));
                }
            }
        }
    }
    page.gap();
    let first = told.judged.iter().find(|j| j.speaks().is_some()).map_or("P4", |j| j.rule.id.as_str());
    page.wrap("", &format!("Why, and who disagrees: check --why {first}. A back-to-back decides; tech inspection and your class rule book go first."));
    page.text()
}

fn names(all: &[&Judged]) -> String {
    all.iter().map(|j| format!("{} {}", j.rule.id, j.rule.name)).collect::<Vec<_>>().join("; ")
}

fn speaking(page: &mut Page, told: &CheckTold, severity: Severity) {
    for judged in told.judged.iter().filter(|j| j.rule.severity == severity) {
        let Some(words) = judged.speaks() else { continue };
        said(page, judged, words);
    }
}

/// A rule that speaks: its sentence, who disagrees, what was assumed.
fn said(page: &mut Page, judged: &Judged, words: &str) {
    let label = format!("{:<8} ", judged.rule.severity.word());
    let contested = judged.rule.contested.as_ref().map(|c| format!(" Contested: {c}.")).unwrap_or_default();
    page.wrap(&label, &format!("{} {words}{contested}", judged.rule.id));
    for assumed in &judged.assumed {
        page.wrap("         ", &format!("assumed: {assumed}"));
    }
}

/// What to measure, each with the rules that wait for it; then what has no answer.
fn wanted(head: &Head, silent: &[(&Judged, &Vec<Missing>, &Vec<String>)]) -> Vec<(String, Vec<String>)> {
    let mut out: Vec<(String, Vec<String>)> = Vec::new();
    let mut add = |words: String, judged: &Judged| {
        let id = judged.rule.id.clone();
        match out.iter_mut().find(|(w, _)| *w == words) {
            Some((_, rules)) if rules.contains(&id) => {}
            Some((_, rules)) => rules.push(id),
            None => out.push((words, vec![id])),
        }
    };
    for (judged, missing, because) in silent {
        for m in *missing {
            add(brief(head, m, missing), judged);
        }
        because.iter().for_each(|b| add(b.clone(), judged));
    }
    out
}

/// What is missing in few words: "corner weight, stale since Jul 03 (four scales, 15 min)".
fn brief(head: &Head, m: &Missing, with: &[Missing]) -> String {
    // Sides that are all missing are one thing to measure.
    let sides = with.iter().filter(|o| o.whole == m.whole && o.why == m.why).count();
    let label = if sides > 1 { &m.whole } else { &m.label };
    let why = match &m.why {
        Why::Stale { since, .. } => format!(", stale since {}", head.day(since.race_day())),
        Why::Doubtful => ", in doubt".to_owned(),
        Why::NotOnRecord => " not on record".to_owned(),
        Why::NoRun => " in no run of this setup".to_owned(),
    };
    let how = match (&m.tool, m.minutes) {
        (Some(tool), Some(minutes)) if minutes > 0 => format!(" ({tool}, {minutes} min)"),
        (Some(tool), _) => format!(" ({tool})"),
        _ => String::new(),
    };
    format!("{label}{why}{how}")
}

fn wants(head: &Head, missing: &[Missing], because: &[String]) -> String {
    let mut words: Vec<String> = Vec::new();
    for m in missing {
        let said = missing_words(head, m);
        if !words.contains(&said) {
            words.push(said);
        }
    }
    words.extend(because.iter().cloned());
    words.join("; ")
}

/// What speaks after and did not before (or found something more); what spoke before and is quiet after. A rule that cannot
/// tell any more is not mended. What can hurt is said again with each change that touches it.
pub fn compared<'a>(
    before: &'a [Judged],
    after: &'a [Judged],
    touched: &[String],
) -> (Vec<&'a Judged>, Vec<&'a Judged>) {
    // An entry of the owner's class book is told apart from the others by what it asks.
    let same = |a: &Judged, b: &Judged| a.rule.id == b.rule.id && a.rule.when == b.rule.when;
    let said = |j: &Judged| {
        before.iter().any(|b| same(b, j) && b.speaks().is_some() && j.held.iter().all(|m| b.held.contains(m)))
    };
    let named =
        |name: &str, key: &String| name == key || name.strip_prefix(key.as_str()).is_some_and(|r| r.starts_with('.'));
    let again = |j: &Judged| {
        j.rule.severity == Severity::Safety && touched.iter().any(|k| j.inputs.iter().any(|i| named(&i.name, k)))
    };
    let new = after.iter().filter(|j| j.speaks().is_some() && (!said(j) || again(j))).collect();
    let quiet = |j: &Judged| after.iter().any(|a| same(a, j) && a.verdict == Verdict::Quiet);
    let gone = before.iter().filter(|j| j.speaks().is_some() && quiet(j)).collect();
    (new, gone)
}

/// What a change newly breaks or mends, below its answer.
pub fn changed(head: &Head, before: &[Judged], after: &[Judged], touched: &[String]) -> String {
    let (new, gone) = compared(before, after, touched);
    let mut page = Page::below(head);
    for judged in &new {
        if let Some(words) = judged.speaks() {
            said(&mut page, judged, words);
        }
    }
    for judged in gone {
        page.wrap("mended   ", &format!("{} {}", judged.rule.id, judged.rule.name));
    }
    page.text()
}

/// Why: the reason, what was looked at with its dates, the source.
pub fn why(head: &Head, told: &CheckTold, found: &[&Judged]) -> String {
    let with = told.with.as_ref().map(|w| format!(", as if {w}")).unwrap_or_default();
    let mut page = head.page(&format!("{}, {}{with}", told.version, head.when(told.at)));
    for judged in found {
        let rule = &judged.rule;
        page.gap();
        page.wrap("", &format!("{} {} ({})", rule.id, rule.name, rule.severity.word()));
        let verdict = match &judged.verdict {
            Verdict::Speaks(words) => words.clone(),
            Verdict::Quiet => "quiet".to_owned(),
            Verdict::NotHere => "not for this car".to_owned(),
            Verdict::ForJobs => format!("shown beside jobs (wrench): {}", rule.says),
            Verdict::Muted => "muted".to_owned(),
            Verdict::CannotTell { missing, because } => format!("cannot tell; wants {}", wants(head, missing, because)),
        };
        page.wrap("  says     ", &verdict);
        page.wrap("  because  ", &rule.because);
        page.wrap("  source   ", &rule.source);
        if let Some(contested) = &rule.contested {
            page.wrap("  contested  ", &format!("{contested}. Some do it on purpose; a back-to-back decides."));
        }
        for (name, n) in judged.limits() {
            page.wrap("  limit    ", &format!("{name} = {n}"));
        }
        for i in &judged.inputs {
            let since = i.since.map(|at| format!(", on record {}", head.when(at))).unwrap_or_default();
            page.wrap("  looked at  ", &format!("{}{since}  [{}]", input_words(i), i.name));
        }
        for assumed in &judged.assumed {
            page.wrap("  assumed  ", assumed);
        }
        if let Some(tuned) = &judged.tuned {
            let what = if tuned.mute { "muted" } else { "limits moved" };
            page.wrap("  your word  ", &format!("{what}: {}", tuned.reason));
        }
    }
    page.gap();
    page.wrap("", "To mute a rule or move its limits, with a reason: [[rule]] in car.toml. Tech inspection and your class rule book go first.");
    page.text()
}

fn judged_json(judged: &Judged) -> Json {
    let (verdict, missing, because) = match &judged.verdict {
        Verdict::Speaks(_) => ("speaks", Vec::new(), Vec::new()),
        Verdict::Quiet => ("quiet", Vec::new(), Vec::new()),
        Verdict::NotHere => ("not_here", Vec::new(), Vec::new()),
        Verdict::ForJobs => ("for_jobs", Vec::new(), Vec::new()),
        Verdict::Muted => ("muted", Vec::new(), Vec::new()),
        Verdict::CannotTell { missing, because } => {
            ("cannot_tell", missing.iter().map(missing_json).collect(), because.clone())
        }
    };
    let rule = &judged.rule;
    json!({
        "id": rule.id,
        "name": rule.name,
        "severity": rule.severity,
        "verdict": verdict,
        "says": judged.speaks(),
        "because": rule.because,
        "source": rule.source,
        "contested": rule.contested,
        "limits": rule.limits.iter().map(|(k, n)| (k.clone(), json!(n.to_f64()))).collect::<serde_json::Map<_, _>>(),
        "inputs": judged.inputs.iter().map(input_json).collect::<Vec<_>>(),
        "assumed": judged.assumed,
        "missing": missing,
        "cannot": because,
        "reason": judged.tuned.as_ref().map(|t| &t.reason),
    })
}

/// What newly speaks and what is mended, as JSON.
pub fn changed_json(before: &[Judged], after: &[Judged], touched: &[String]) -> Json {
    let (new, gone) = compared(before, after, touched);
    let one = |j: &&Judged| json!({"id": j.rule.id, "severity": j.rule.severity, "says": j.speaks()});
    json!({"speaks": new.iter().map(one).collect::<Vec<_>>(), "mended": gone.iter().map(|j| &j.rule.id).collect::<Vec<_>>()})
}

/// The page as JSON.
pub fn json(head: &Head, told: &CheckTold) -> Json {
    json!({
        "car": head.car,
        "version": told.version,
        "with": told.with,
        "rules": told.judged.iter().map(judged_json).collect::<Vec<_>>(),
        "against_as_is": told.before.map(|b| changed_json(b, told.judged, &[])),
    })
}

/// Those that were asked about, as JSON.
pub fn why_json(head: &Head, told: &CheckTold, found: &[&Judged]) -> Json {
    json!({
        "car": head.car,
        "version": told.version,
        "with": told.with,
        "rules": found.iter().map(|j| judged_json(j)).collect::<Vec<_>>(),
    })
}
