//! Every value of one field, and what each is worth.

use super::blame::{effect_json, typed};
use super::layout::{Head, Page, counted, ends, signed};
use crate::blame::levels::{Row, Table, Worth};
use crate::blame::{Allowed, Asked, Effect, Verdict};
use crate::diff::words::{show, show_value};
use crate::pace::Footing;
use crate::schema::{Field, Schema, short_label, value_json};
use crate::timeline::Timeline;
use serde_json::{Value as Json, json};

/// What is told.
pub struct Answer<'a> {
    /// What was asked.
    pub asked: Asked,
    /// The fields.
    pub schema: &'a Schema,
    /// The field.
    pub field: &'a Field,
    /// The versions.
    pub timeline: &'a Timeline,
    /// Its values.
    pub tables: &'a [Table],
    /// Runs that count.
    pub counted: usize,
    /// The air.
    pub footing: &'a Footing,
    /// What was allowed for.
    pub allowed: Allowed,
}

/// Narrower than this, the range stands in a line of its own.
const RANGE_NEEDS: usize = 72;

/// A number with its range, as a label.
pub fn lead(page: &Page, e: &Effect, decimals: usize) -> String {
    let range = if page.width() >= RANGE_NEEDS {
        let (lo, hi) = ends(e.lo95, e.hi95, decimals);
        format!("{:<19}", format!("{lo} and {hi}"))
    } else {
        String::new()
    };
    format!("{:>7}   {range}", signed(e.value, decimals))
}

/// What is worth something, with its number and its range.
pub fn worth(page: &mut Page, e: &Effect, decimals: usize, what: &str) {
    let label = lead(page, e, decimals);
    page.wrap(&label, what);
    if page.width() < RANGE_NEEDS {
        let (lo, hi) = ends(e.lo95, e.hi95, decimals);
        page.wrap(&" ".repeat(label.chars().count()), &format!("between {lo} and {hi}, 95 times in 100"));
    }
}

/// The heads of such labels: two lines.
pub fn heads(page: &mut Page, unit: &str) {
    let wide = page.width() >= RANGE_NEEDS;
    let range = |text: &str| if wide { format!("{text:<19}") } else { String::new() };
    page.line(format!("{:>7}   {}", "worth", range("95 times in 100")));
    page.line(format!("{unit:>7}   {}", range("it lies between")));
}

/// A probability to the nearest 5 in 100: closer the draws do not know it.
pub fn chance(p: f64) -> String {
    match (p * 20.0).round() as u32 * 5 {
        0 => "under 5 in 100".to_owned(),
        100 => "over 95 in 100".to_owned(),
        n => format!("{n} in 100"),
    }
}

/// The rung in words, with what it rests on where that is little, and the chance of a gain.
pub fn said(verdict: Verdict, effect: &Effect, fewest: usize) -> String {
    let rung = match verdict {
        Verdict::TooEarly => format!("too early to call: {}", counted(fewest, "run")),
        v if fewest == 2 => format!("{}: 2 runs on a side", v.words()),
        v => v.words(),
    };
    format!("{rung}; gain {}", chance(effect.p_gain))
}

/// What fields are called.
pub fn labels(schema: &Schema, keys: &[String]) -> String {
    let label = |k: &String| schema.field(k).map_or_else(|| k.clone(), |f| short_label(&f.label).to_owned());
    let all: Vec<String> = keys.iter().map(label).collect();
    match all.split_last() {
        Some((last, rest)) if !rest.is_empty() => format!("{} and {last}", rest.join(", ")),
        _ => all.concat(),
    }
}

/// The air and what is allowed for, below a table.
pub fn foot(asked: &Asked, allowed: Allowed) -> String {
    let (unit, minus) = if asked.response.is_speed() { ("mph", "slower") } else { ("s", "quicker") };
    let air = if allowed.air { "air, " } else { "" };
    let none = if allowed.air { "" } else { ", not air: none is on record" };
    format!(
        "Allowed for: {air}{}{none}. Under {} {unit} is not chased. Minus is {minus}; gain: the chance of it.",
        super::footing::allowed(allowed),
        asked.matters
    )
}

/// A value in words.
fn value(answer: &Answer, table: &Table, row: &Row) -> String {
    let Some(value) = &row.value else { return "not on record".to_owned() };
    match table.slots.first() {
        None => show_value(answer.schema, answer.field, value).replace('\n', " / "),
        Some(slot) => match value.slot(*slot) {
            Some(scalar) => show(answer.schema, answer.field, Some(*slot), scalar),
            None => "not on record".to_owned(),
        },
    }
}

fn spans(timeline: &Timeline, row: &Row) -> String {
    let number = |v: usize| timeline.versions[v].number.to_string();
    let one = |(a, b): &(usize, usize)| if a == b { number(*a) } else { format!("{} - {}", number(*a), number(*b)) };
    row.spans.iter().map(one).collect::<Vec<_>>().join(", ")
}

fn slots(answer: &Answer, table: &Table) -> Vec<String> {
    let name = |i: &usize| {
        let slot = answer.field.slot_list().get(*i);
        slot.map_or_else(|| i.to_string(), |s| s.label.clone().unwrap_or_else(|| s.id.clone()))
    };
    table.slots.iter().map(name).collect()
}

/// As text.
pub fn text(head: &Head, answer: &Answer) -> String {
    let response = answer.asked.response;
    let mut page = head.page(&format!(
        "{}, in the {}: {}",
        answer.field.label,
        response.label(),
        counted(answer.counted, "clean run")
    ));
    for table in answer.tables {
        page.gap();
        let which = slots(answer, table);
        let which = if which.is_empty() { String::new() } else { format!("{}: ", which.join(", ")) };
        let Some(against) = table.against else {
            page.wrap("", &format!("{which}No run counts: nothing to judge."));
            table.rows.iter().for_each(|r| page.wrap("  ", &held(answer, table, r)));
            continue;
        };
        let on_car = if against == table.on_car { "on the car now" } else { "the first with runs that count" };
        page.wrap("", &format!("{which}each value against {}, {on_car}", value(answer, table, &table.rows[against])));
        heads(&mut page, if response.is_speed() { "mph" } else { "s" });
        for (i, row) in table.rows.iter().enumerate() {
            let blank = " ".repeat(lead(&page, &NOTHING, response.decimals()).chars().count());
            let Some(worth) = &row.worth else {
                page.wrap(&blank, &held(answer, table, row));
                page.wrap(&blank, if i == against { "the others are held against it" } else { "never run clean" });
                continue;
            };
            self::worth(&mut page, &worth.effect, response.decimals(), &held(answer, table, row));
            let fewest = row.runs.min(table.rows[against].runs);
            page.wrap(&blank, &said(worth.verdict, &worth.effect, fewest));
            notes(answer, worth).iter().for_each(|n| page.wrap(&blank, n));
        }
    }
    page.gap();
    page.wrap(
        "",
        &format!(
            "By the field's own part in the model of all runs: what else changed is taken off. {}",
            foot(&answer.asked, answer.allowed)
        ),
    );
    page.wrap("", &format!("how it ran, plain: slipbook history --field {}", answer.field.key));
    page.text()
}

/// A label of the width all have.
pub const NOTHING: Effect =
    Effect { value: 0.0, sd: 0.0, lo90: 0.0, hi90: 0.0, lo95: 0.0, hi95: 0.0, p_gain: 0.0, p_loss: 0.0, p_same: 0.0 };

fn held(answer: &Answer, table: &Table, row: &Row) -> String {
    let runs = if row.runs == 0 {
        String::new()
    } else {
        format!("   {} on {}", counted(row.runs, "run"), counted(row.days, "day"))
    };
    format!("{}   {}{runs}", value(answer, table, row), spans(answer.timeline, row))
}

fn notes(answer: &Answer, worth: &Worth) -> Vec<String> {
    let mut out = Vec::new();
    if worth.other_slots {
        out.push("together with its other sides: cannot be told apart".to_owned());
    }
    if !worth.together.is_empty() {
        out.push(format!("together with {}: cannot be told apart", labels(answer.schema, &worth.together)));
    } else if !worth.along.is_empty() {
        let (n, which) = (worth.along.len(), labels(answer.schema, &worth.along));
        let which = if n > MOST_NAMED { format!("{n} other settings") } else { which };
        out.push(format!("only ever run with {which} changed too: the model parts them, no two setups do"));
    }
    if worth.same_days.is_empty() {
        out.push("never both on one day".to_owned());
    }
    out
}

/// More fields than this are counted, not named.
const MOST_NAMED: usize = 4;

/// As JSON.
pub fn json(head: &Head, answer: &Answer) -> Json {
    let unit = if answer.asked.response.is_speed() { "mph" } else { "s" };
    let number = |v: usize| &answer.timeline.versions[v].number;
    let row = |table: &Table, row: &Row| {
        let value = row.value.as_ref().map(|v| match table.slots.first() {
            None => value_json(answer.field, v),
            Some(slot) => json!(v.slot(*slot)),
        });
        let span = |(a, b): &(usize, usize)| json!({ "from": number(*a), "to": number(*b), "since": answer.timeline.versions[*a].entry.at });
        let worth = row.worth.as_ref().map(|w| {
            let mut map = serde_json::Map::new();
            effect_json(&mut map, &w.effect, unit);
            let rest = json!({
                "evidence": w.verdict.key(), "open": w.open, "cannot_be_told_apart": w.together,
                "other_slots": w.other_slots, "along": w.along, "same_days": w.same_days,
            });
            map.extend(rest.as_object().cloned().unwrap_or_default());
            Json::Object(map)
        });
        json!({ "value": value, "spans": row.spans.iter().map(span).collect::<Vec<_>>(), "n_runs": row.runs, "n_days": row.days, "worth": worth })
    };
    let table = |t: &Table| {
        let ids: Vec<&str> =
            t.slots.iter().filter_map(|s| answer.field.slot_list().get(*s)).map(|s| s.id.as_str()).collect();
        json!({ "slots": ids, "against": t.against, "on_car": t.on_car, "values": t.rows.iter().map(|r| row(t, r)).collect::<Vec<_>>() })
    };
    json!({
        "car": head.car, "field": answer.field.key, "field_unit": answer.field.unit, "response": answer.asked.response.key(), "number": typed(answer.asked.response),
        "matters": answer.asked.matters, "unit": unit, "counted": answer.counted,
        "tables": answer.tables.iter().map(table).collect::<Vec<_>>(), "one_air": super::footing::json(answer.footing),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn chances_to_the_nearest_five() {
        assert_eq!(
            [0.01, 0.03, 0.89, 0.91, 0.99].map(chance),
            ["under 5 in 100", "5 in 100", "90 in 100", "90 in 100", "over 95 in 100"]
        );
    }
}
