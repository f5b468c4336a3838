//! Which change preceded a gain: the ranking, and the sheet with the origin of each value.

use super::layout::{Head, Page, counted, signed};
use crate::blame::{FieldOrigin, Ranked, Ranking, Verdict};
use crate::diff::words::show_doubting;
use crate::pace::Footing;
use crate::schema::{Schema, value_json};
use crate::slip::Response;
use serde_json::{Value as Json, json};

/// The air the ranking stands in: the footing, the runs that counted, and how many of them had no air of their own or none
/// within an hour.
pub struct OneAir<'a> {
    /// The footing.
    pub footing: &'a Footing,
    /// Runs that counted.
    pub runs: usize,
    /// Of them without air, and far from a reading.
    pub without: (usize, usize),
}

/// As text.
pub fn text(head: &Head, response: Response, ranking: &Ranking, top: usize, air: &OneAir) -> String {
    let out =
        format!("{}: {} counted, {} left out", response.label(), counted(ranking.counted, "run"), ranking.left_out);
    let mut page = head.page(&out);
    page.wrap("", &advice(ranking));
    if ranking.changes.is_empty() {
        page.line("No change has clean runs before and after it yet.");
    } else {
        table(&mut page, response, ranking, top, air);
    }
    if ranking.changes.len() > top {
        page.line(format!("{} more: blame --all", ranking.changes.len() - top));
    }
    if !ranking.never_compared.is_empty() {
        let names: Vec<String> = ranking.never_compared.iter().map(ToString::to_string).collect();
        page.wrap("No clean run on one side: ", &names.join(", "));
    }
    page.text()
}

/// Narrower than this, the range goes; the words never do.
const RANGE_NEEDS: usize = 72;

fn table(page: &mut Page, response: Response, ranking: &Ranking, top: usize, air: &OneAir) {
    let unit = if response == Response::Mph { "mph" } else { "s" };
    let wide = page.width() >= RANGE_NEEDS;
    let row = |worth: &str, range: &str, runs: &str, version: &str| {
        let range = if wide { format!("{range:<18}") } else { String::new() };
        format!("{worth:>7}  {range}{runs:>7}  {version:<5} ")
    };
    page.gap();
    page.line(row("worth", "95 times in 100", "runs", ""));
    page.line(format!("{}what changed", row(unit, "it lies between", "w/o|w", "")));
    let d = response.decimals();
    for r in ranking.changes.iter().take(top) {
        let (worth, range) = match r.difference {
            Some(x) => (signed(x.value, d), format!("{} to {}", signed(x.lo, d), signed(x.hi, d))),
            None => ("-".to_owned(), "not known yet".to_owned()),
        };
        let label = row(&worth, &range, &format!("{}|{}", r.n_without, r.n_with), &r.version.to_string());
        page.wrap(&label, &r.words.join(", "));
        let as_run = r.as_run.filter(|_| air.footing.reference.is_some());
        let as_run = as_run.map_or(String::new(), |x| format!(" (as run {})", signed(x, d)));
        page.wrap(&" ".repeat(label.len()), &format!("{}{as_run}", words(response, r)));
        if r.verdict != Verdict::TooEarly && r.segments.len() > 1 {
            page.wrap("   ", &super::footing::segments(&r.segments));
        }
    }
    page.gap();
    page.wrap("", &super::footing::foot(air.footing, &response.label(), air.runs, air.without));
    let carried = if air.footing.reference.is_some() { "Day, lane, drift" } else { "Day, air, lane, drift" };
    page.wrap("", &format!(
        "Plain before/after arithmetic, in {unit}: means on the setup with the change minus means on the setup before it, \
         the scatter pooled over all setups. {carried} and luck are not allowed for: a change made on another day carries \
         that day with it. w/o|w: clean runs without and with. Minus is {}.",
        if response.more_is_quicker() { "slower" } else { "quicker" }
    ));
}

fn words(response: Response, r: &Ranked) -> String {
    match r.verdict {
        Verdict::Quicker if response == Response::Mph => "faster, by more than the scatter".to_owned(),
        Verdict::TooEarly => {
            let few = r.n_without.min(r.n_with);
            format!("too early to call: {} on a side", counted(few, "clean run"))
        }
        v => v.words().to_owned(),
    }
}

fn advice(ranking: &Ranking) -> String {
    let of = |v: Verdict| ranking.changes.iter().filter(move |r| r.verdict == v);
    let best = of(Verdict::Quicker).next();
    let worst = of(Verdict::Slower).next_back();
    match (best, worst) {
        (Some(b), Some(w)) => {
            format!("Quickest step {}, slowest {}: run them back to back before you believe it.", b.version, w.version)
        }
        (Some(b), None) => format!("Quickest step {}: run it back to back before you believe it.", b.version),
        (None, Some(w)) => format!("Slowest step {}: run it back to back before you believe it.", w.version),
        (None, None) => match of(Verdict::CannotTell).next() {
            Some(r) => format!("Nothing stands out of the scatter. Best guess {}; test it.", r.version),
            None => "Too early to call anything.".to_owned(),
        },
    }
}

/// As JSON.
pub fn json(head: &Head, response: Response, ranking: &Ranking, air: &OneAir) -> Json {
    json!({
        "car": head.car, "response": response.key(), "method": if air.footing.reference.is_some() { "before/after difference of means in one air, pooled scatter" } else { "before/after difference of means, pooled scatter" },
        "confidence": crate::blame::CONFIDENCE, "changes": ranking.changes, "never_compared": ranking.never_compared,
        "counted": ranking.counted, "left_out": ranking.left_out, "one_air": super::footing::json(air.footing),
        "without_air": air.without.0, "far_from_a_reading": air.without.1,
    })
}

/// The sheet area by area with the origin of each value, as text.
pub fn fields_text(head: &Head, schema: &Schema, origins: &[FieldOrigin], response: Response) -> String {
    let mut page = head.page(&format!("where each value comes from, and the {} that followed", response.label()));
    let mut area = "";
    for o in origins {
        let Some(field) = schema.field(&o.key) else { continue };
        if field.area != area {
            area = &field.area;
            page.gap();
            page.line(area);
        }
        let why = o.why.as_ref().map(|w| format!(", why: {w}")).unwrap_or_default();
        let followed = match &o.followed {
            Some((Some(d), v)) => format!("; {} {}", signed(d.value, response.decimals()), v.words()),
            _ => String::new(),
        };
        let value = show_doubting(schema, field, &o.value, &o.doubt).replace('\n', " / ");
        let label = format!("  {}: ", field.label);
        page.wrap(&label, &format!("{value}   {} {} by {}{why}{followed}", o.since, head.day(o.at.race_day()), o.by));
    }
    page.text()
}

/// The same as JSON.
pub fn fields_json(head: &Head, schema: &Schema, origins: &[FieldOrigin]) -> Json {
    let one = |o: &FieldOrigin| {
        let field = schema.field(&o.key)?;
        let (difference, verdict) = o.followed.map_or((None, None), |(d, v)| (d, Some(v)));
        Some(json!({
            "field": o.key, "area": field.area, "value": value_json(field, &o.value), "unit": field.unit, "since": o.since,
            "at": o.at, "by": o.by, "why": o.why, "difference": difference, "verdict": verdict,
        }))
    };
    json!({ "car": head.car, "fields": origins.iter().filter_map(one).collect::<Vec<_>>() })
}
