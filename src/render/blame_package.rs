//! Does a set of fields work only together.

use super::blame::effect_json;
use super::blame_field::{foot, heads, labels, lead, said, worth};
use super::layout::{Head, Page, counted};
use crate::blame::package::{Block, Corner, Said, Told, Turned, Weighed};
use crate::blame::{Allowed, Asked as Question, Side, Verdict};
use crate::diff::words::show_value;
use crate::pace::Footing;
use crate::schema::{Schema, Value, short_label, value_json};
use crate::timeline::Timeline;
use serde_json::{Value as Json, json};

/// A set as asked.
#[derive(Debug, Clone)]
pub struct Asked {
    /// Of a rule.
    pub id: Option<String>,
    /// What it is called.
    pub name: String,
    /// Its fields.
    pub fields: Vec<String>,
}

/// What is told.
pub struct Answer<'a> {
    /// What was asked.
    pub asked: Question,
    /// The fields.
    pub schema: &'a Schema,
    /// The versions.
    pub timeline: &'a Timeline,
    /// The sets; nothing where fewer than two of its fields changed between runs that count.
    pub sets: Vec<(&'a Asked, &'a [Told])>,
    /// One was asked for by name.
    pub named: bool,
    /// Runs that count.
    pub counted: usize,
    /// The air.
    pub footing: &'a Footing,
    /// What was allowed for.
    pub allowed: Allowed,
}

/// As text.
pub fn text(head: &Head, answer: &Answer) -> String {
    let response = answer.asked.response;
    let mut page = head.page(&format!(
        "does it work only together, in the {}: {}",
        response.label(),
        counted(answer.counted, "clean run")
    ));
    let told: Vec<_> = answer.sets.iter().flat_map(|(s, told)| told.iter().map(|t| (*s, t))).collect();
    for (set, told) in &told {
        page.gap();
        let id = set.id.as_ref().map(|id| format!("{id}  ")).unwrap_or_default();
        let turned: Vec<String> = told.turned.iter().map(|t| turned(answer.schema, t)).collect();
        page.wrap(&id, &format!("{}: {}", set.name, turned.join(", ")));
        page.wrap(
            "",
            &format!("none of it: {}; all of it: {}", corner(answer, &told.without), corner(answer, &told.with)),
        );
        one(&mut page, answer, told);
    }
    let quiet: Vec<&Asked> = answer.sets.iter().filter(|(_, t)| t.is_empty()).map(|(s, _)| *s).collect();
    if !quiet.is_empty() || told.is_empty() {
        page.gap();
    }
    for set in &quiet {
        let id = set.id.as_ref().map(|id| format!("{id}  ")).unwrap_or_default();
        page.wrap(
            &id,
            &format!(
                "{}: fewer than two of {} changed between runs that count.",
                set.name,
                labels(answer.schema, &set.fields)
            ),
        );
    }
    if answer.sets.is_empty() {
        page.wrap("", "This car's rules name no set.");
    }
    if told.is_empty() && !answer.named {
        page.wrap("", "any set: slipbook blame --package FIELD,FIELD,...");
    }
    if !told.is_empty() {
        page.gap();
        page.wrap("", &foot(&answer.asked, answer.allowed));
    }
    page.text()
}

fn one(page: &mut Page, answer: &Answer, told: &Told) {
    let d = answer.asked.response.decimals();
    let blank = " ".repeat(lead(page, &NOTHING, d).chars().count());
    let put = |page: &mut Page, w: &Weighed, what: &str, fewest: usize| {
        worth(page, &w.effect, d, what);
        page.wrap(&blank, &said(w.verdict, &w.effect, fewest));
    };
    let fewest = told.without.runs.min(told.with.runs);
    let unit = if answer.asked.response.is_speed() { "mph" } else { "s" };
    match &told.said {
        Said::Parted { blocks, together, beyond } => {
            heads(page, unit);
            for b in blocks {
                let with = if b.keys.len() > 1 { "together without the rest" } else { "alone" };
                let what = format!("{} {with} ({})", labels(answer.schema, &b.keys), corner(answer, &b.corner));
                put(page, &b.worth, &what, b.corner.runs.min(told.without.runs));
            }
            put(page, together, "all together", fewest);
            worth(page, &beyond.effect, d, "beyond the sum of them");
            page.wrap(&blank, beyond_words(beyond.verdict));
            if matches!(beyond.verdict, Verdict::CannotTell | Verdict::TooEarly) {
                let corners = blocks.iter().map(|b| &b.corner).chain([&told.without, &told.with]);
                if let Some(thin) = corners.min_by_key(|c| c.runs) {
                    page.wrap(&blank, &format!("fewest runs: {}", corner(answer, thin)));
                }
            }
        }
        Said::Wanting { together, never_alone, run } => {
            heads(page, unit);
            put(page, together, "all together", fewest);
            page.wrap("", &wanting(answer, told, never_alone, run));
        }
    }
    if let Some((of, with)) = &told.shared {
        let (of, with) = (labels(answer.schema, of), labels(answer.schema, with));
        page.wrap(
            "",
            &format!(
                "Whenever {of} changed, {with} changed too: they cannot be told apart, and the numbers are of all."
            ),
        );
    }
    if !told.beside.is_empty() {
        let n = told.beside.len();
        let which = if n > MOST_NAMED { format!("{n} other settings") } else { labels(answer.schema, &told.beside) };
        page.wrap("", &format!("Between these setups {which} changed too: taken off by the model."));
    }
}

/// More fields than this are counted, not named.
const MOST_NAMED: usize = 4;

/// Whether it works only together, in words.
fn beyond_words(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::AlmostCertainly(Side::Gain) => "almost certainly: together they do more than each alone",
        Verdict::VeryLikely(Side::Gain) => "very likely: together they do more than each alone",
        Verdict::Likely(Side::Gain) => "likely, not settled: together they do more than each alone",
        Verdict::AlmostCertainly(Side::Loss) => "almost certainly: together they do less than each alone",
        Verdict::VeryLikely(Side::Loss) => "very likely: together they do less than each alone",
        Verdict::Likely(Side::Loss) => "likely, not settled: together they do less than each alone",
        Verdict::Nothing => "the sum of them, no more: each does its part alone",
        Verdict::CannotTell => "these runs cannot tell whether together is more than the sum",
        Verdict::TooEarly => "too early to call: 1 run on one of these setups",
    }
}

/// Which setups would have to be run.
fn wanting(answer: &Answer, told: &Told, never_alone: &[String], run: &[Vec<String>]) -> String {
    let version = &answer.timeline.versions[told.with.version].number;
    let back = |keys: &Vec<String>| {
        let one = |k: &String| {
            let turned = told.turned.iter().find(|t| t.key == *k);
            let value = turned.map(|t| shown(answer.schema, k, t.from.as_ref())).unwrap_or_default();
            format!("{} back at {value}", labels(answer.schema, std::slice::from_ref(k)))
        };
        format!("{version} with {}", keys.iter().map(one).collect::<Vec<_>>().join(", "))
    };
    let never = match never_alone.len() {
        0 => "The parts were run, but never so that they add up.".to_owned(),
        n if n == told.turned.len() && n > 2 => "Never run with only one of these changed.".to_owned(),
        1 => format!("Never run with only {} changed.", labels(answer.schema, never_alone)),
        _ => format!("Never run with only one of {} changed.", labels(answer.schema, never_alone)),
    };
    format!(
        "{never} What it does beyond the sum is not known: run {}.",
        run.iter().map(back).collect::<Vec<_>>().join(", and ")
    )
}

const NOTHING: crate::blame::Effect = super::blame_field::NOTHING;

fn shown(schema: &Schema, key: &str, value: Option<&Value>) -> String {
    match (schema.field(key), value) {
        (Some(field), Some(v)) => show_value(schema, field, v),
        _ => "not on record".to_owned(),
    }
}

fn turned(schema: &Schema, t: &Turned) -> String {
    let label = schema.field(&t.key).map_or(t.key.as_str(), |f| short_label(&f.label));
    format!("{label} {} -> {}", shown(schema, &t.key, t.from.as_ref()), shown(schema, &t.key, t.to.as_ref()))
}

fn corner(answer: &Answer, c: &Corner) -> String {
    format!("{}, {}", answer.timeline.versions[c.version].number, counted(c.runs, "run"))
}

/// As JSON.
pub fn json(head: &Head, answer: &Answer) -> Json {
    let unit = if answer.asked.response.is_speed() { "mph" } else { "s" };
    let weighed = |w: &Weighed| {
        let mut map = serde_json::Map::new();
        effect_json(&mut map, &w.effect, unit);
        map.insert("evidence".to_owned(), json!(w.verdict.key()));
        map.insert("open".to_owned(), json!(w.open));
        Json::Object(map)
    };
    let corner = |c: &Corner| json!({ "version": answer.timeline.versions[c.version].number, "n_runs": c.runs });
    let block = |b: &Block| json!({ "fields": b.keys, "on": corner(&b.corner), "worth": weighed(&b.worth) });
    let value = |key: &str, v: Option<&Value>| answer.schema.field(key).zip(v).map(|(f, v)| value_json(f, v));
    let turned = |t: &Turned| json!({ "field": t.key, "old": value(&t.key, t.from.as_ref()), "new": value(&t.key, t.to.as_ref()) });
    let told = |told: &Told| {
        let mut out =
            json!({ "differed_too": told.beside, "cannot_be_told_apart": told.shared.as_ref().map(|(a, b)| [a, b]) });
        if let Some(map) = out.as_object_mut() {
            map.insert("changes".to_owned(), told.turned.iter().map(turned).collect());
            map.insert("without".to_owned(), corner(&told.without));
            map.insert("with".to_owned(), corner(&told.with));
            let more = match &told.said {
                Said::Parted { blocks, together, beyond } => json!({
                    "answer": "parted", "alone": blocks.iter().map(block).collect::<Vec<_>>(), "together": weighed(together),
                    "beyond": weighed(beyond),
                }),
                Said::Wanting { together, never_alone, run } => json!({
                    "answer": "wanting", "together": weighed(together), "never_alone": never_alone, "run_with_back": run,
                }),
            };
            map.extend(more.as_object().cloned().unwrap_or_default());
        }
        out
    };
    let one = |(set, all): &(&Asked, &[Told])| json!({ "rule": set.id, "name": set.name, "fields": set.fields, "tried": all.iter().map(told).collect::<Vec<_>>() });
    json!({
        "car": head.car, "response": answer.asked.response.key(), "matters": answer.asked.matters, "unit": unit, "counted": answer.counted,
        "packages": answer.sets.iter().map(one).collect::<Vec<_>>(), "one_air": super::footing::json(answer.footing),
    })
}
