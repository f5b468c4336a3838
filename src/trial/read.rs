//! A trial's file → a trial, with all that is wrong in it. What the program does not know of is left alone.

use super::file::name_fault;
use super::{Arm, Dropped, End, Judged, MOST_RUNS, Order, Trial};
use crate::schema::{Num, Problem};
use crate::slip::{Moment, Response};
use crate::timeline::VersionNumber;
use std::ops::Range;
use toml_edit::{Document, Item, TableLike, Value};

/// The most a trial's file may hold, in bytes.
pub const LARGEST_TRIAL: usize = 1 << 16;

/// The longest text in one, in characters.
const LONGEST_TEXT: usize = 500;

/// The most runs a verdict names a side.
const MOST_NAMED: usize = 500;

/// Reads a trial's file.
pub fn read_trial(text: &str) -> Result<Trial, Vec<Problem>> {
    if text.len() > LARGEST_TRIAL {
        let message = format!("the trial's file is {} bytes; {LARGEST_TRIAL} at most", text.len());
        return Err(vec![Problem::at(None, message)]);
    }
    let doc = Document::parse(text).map_err(|e| vec![Problem::at(e.span(), e.message().to_owned())])?;
    let mut reader = Reader::default();
    let trial = reader.trial(doc.as_table());
    match trial {
        Some(trial) if reader.problems.is_empty() => Ok(trial),
        _ => Err(reader.problems),
    }
}

#[derive(Default)]
struct Reader {
    problems: Vec<Problem>,
}

type Span = Option<Range<usize>>;

impl Reader {
    fn wrong(&mut self, span: Span, message: impl Into<String>, help: impl Into<String>) {
        self.problems.push(Problem::at(span, message).help(help));
    }

    fn trial(&mut self, table: &dyn TableLike) -> Option<Trial> {
        if table.get("format").and_then(Item::as_integer) != Some(1) {
            let span = table.get("format").and_then(Item::span);
            self.wrong(span, "this file's `format` is not 1", "a newer slipbook may read it");
        }
        let name = self.text(table, "name");
        if let Some(fault) = name.as_deref().and_then(name_fault) {
            self.wrong(table.get("name").and_then(Item::span), fault, "name = \"clamps\"");
        }
        let said = self.text(table, "response");
        let response = said.as_deref().and_then(Response::read);
        if let (Some(said), None) = (&said, response) {
            let span = table.get("response").and_then(Item::span);
            self.wrong(span, format!("`{said}` is no number of the slip"), "60, 330, 660, 1000, et or mph");
        }
        let (a, b) = (self.arm(table, "a"), self.arm(table, "b"));
        if a.is_some() && a.as_ref().map(|a| &a.version) == b.as_ref().map(|b| &b.version) {
            self.wrong(table.get("b").and_then(Item::span), "`a` and `b` are the same version", "b = \"v18\"");
        }
        let order = self.order(table, "order");
        if order.as_ref().is_some_and(|o| o.is_empty() || o.len() > 2 * MOST_RUNS) {
            let message = format!("an order has 1 to {} runs", 2 * MOST_RUNS);
            self.wrong(table.get("order").and_then(Item::span), message, "order = \"ABBA\"");
        }
        // Without the response the unit in the key is not known, and that is told already.
        let unit = response.map(unit_of);
        let matters = unit.and_then(|unit| self.needed_number(table, &format!("matters_{unit}")));
        if let Some(m) = matters.filter(|m| !(0.0..=10.0).contains(m)) {
            let span = unit.and_then(|u| table.get(&format!("matters_{u}"))).and_then(Item::span);
            self.wrong(span, format!("{m} is no difference that could matter"), "0 to 10");
        }
        let started = self.moment(table, "started");
        let by = self.text(table, "by");
        let why = self.optional_text(table, "why");
        let end = self.end(table, unit);
        let ended = end.as_ref().map(|end| match end {
            End::Judged(judged) => judged.at,
            End::Dropped(dropped) => dropped.at,
        });
        if started.zip(ended).is_some_and(|(started, ended)| ended.seconds < started.seconds) {
            self.wrong(table.get("started").and_then(Item::span), "it ended before it began", "started = TIME");
        }
        Some(Trial {
            name: name?,
            response: response?,
            a: a?,
            b: b?,
            order: order?,
            matters: Num::from_f64(matters?)?,
            started: started?,
            by: by?,
            why,
            end,
        })
    }

    fn arm(&mut self, table: &dyn TableLike, key: &str) -> Option<Arm> {
        let said = self.text(table, key)?;
        let version: Option<VersionNumber> = said.parse().ok();
        if version.is_none() {
            self.wrong(
                table.get(key).and_then(Item::span),
                format!("`{said}` is no version"),
                format!("{key} = \"v17\""),
            );
        }
        let id = format!("{key}_setup");
        let setup = self.text(table, &id)?;
        if setup.len() != 40 || !setup.bytes().all(|b| b.is_ascii_hexdigit()) {
            self.wrong(table.get(&id).and_then(Item::span), format!("`{id}` is no id of a sheet"), "40 hex digits");
            return None;
        }
        Some(Arm { version: version?, setup })
    }

    fn order(&mut self, table: &dyn TableLike, key: &str) -> Option<Order> {
        let said = self.text(table, key)?;
        match said.parse() {
            Ok(order) => Some(order),
            Err(why) => {
                self.wrong(table.get(key).and_then(Item::span), why, format!("{key} = \"ABBA\""));
                None
            }
        }
    }

    fn end(&mut self, table: &dyn TableLike, unit: Option<&str>) -> Option<End> {
        let (judged, dropped) = (table.get("judged"), table.get("dropped"));
        let item = match (judged, dropped) {
            (None, None) => return None,
            (Some(_), Some(dropped)) => {
                self.wrong(dropped.span(), "a trial is judged or dropped, not both", "take one of the two out");
                return None;
            }
            (Some(item), None) | (None, Some(item)) => item,
        };
        let Some(of) = item.as_table_like() else {
            self.wrong(item.span(), "how it ended stands under a line [judged] or [dropped]", "[judged]");
            return None;
        };
        let (at, by) = (self.moment(of, "at"), self.text(of, "by"));
        if judged.is_none() {
            let why = self.optional_text(of, "why");
            return Some(End::Dropped(Dropped { at: at?, by: by?, why }));
        }
        let unit = unit?;
        let with_unit = |key: &str| format!("{key}_{unit}");
        let number = |this: &mut Reader, key: &str| this.number(of, key);
        let chance = |this: &mut Reader, key: &str| {
            let p = this.number(of, key)?;
            if !(0.0..=1.0).contains(&p) {
                this.wrong(of.get(key).and_then(Item::span), format!("`{key}` is a chance, 0 to 1"), "0.95");
            }
            Some(p)
        };
        let effect = number(self, &with_unit("effect"));
        let sd = number(self, &with_unit("sd"));
        let (lo95, hi95) = (number(self, &with_unit("lo95")), number(self, &with_unit("hi95")));
        let by_hand = number(self, &with_unit("by_hand"));
        let (p_gain, p_loss, p_same) = (chance(self, "p_gain"), chance(self, "p_loss"), chance(self, "p_same"));
        let verdict = self.text(of, "verdict");
        let evidence = self.texts(of, "evidence");
        let (runs_a, runs_b) = (self.texts(of, "runs_a"), self.texts(of, "runs_b"));
        let order_run = match of.get("order_run") {
            None => Some(Order::default()),
            Some(_) => self.order(of, "order_run"),
        };
        let air_kg_m3 = number(self, "air_kg_m3");
        let method = self.optional_text(of, "method").unwrap_or_default();
        Some(End::Judged(Box::new(Judged {
            at: at?,
            by: by?,
            verdict: verdict?,
            evidence,
            effect,
            sd,
            lo95,
            hi95,
            p_gain,
            p_loss,
            p_same,
            by_hand,
            runs_a,
            runs_b,
            order_run: order_run?,
            air_kg_m3,
            method,
        })))
    }

    fn text(&mut self, table: &dyn TableLike, key: &str) -> Option<String> {
        if table.get(key).is_none() {
            self.wrong(None, format!("the trial's file has no `{key}`"), format!("{key} = \"...\""));
            return None;
        }
        self.optional_text(table, key)
    }

    fn optional_text(&mut self, table: &dyn TableLike, key: &str) -> Option<String> {
        let item = table.get(key)?;
        match item.as_str() {
            Some(text) if text.chars().count() <= LONGEST_TEXT => Some(text.to_owned()),
            Some(_) => {
                self.wrong(item.span(), format!("`{key}` is longer than {LONGEST_TEXT} characters"), "say it shorter");
                None
            }
            None => {
                self.wrong(item.span(), format!("`{key}` is a text"), format!("{key} = \"...\""));
                None
            }
        }
    }

    fn texts(&mut self, table: &dyn TableLike, key: &str) -> Vec<String> {
        let Some(item) = table.get(key) else { return Vec::new() };
        let list = item.as_array().filter(|a| a.len() <= MOST_NAMED);
        let all: Option<Vec<String>> = list.and_then(|a| {
            let short = |v: &Value| v.as_str().filter(|s| s.chars().count() <= LONGEST_TEXT).map(str::to_owned);
            a.iter().map(short).collect()
        });
        all.unwrap_or_else(|| {
            let message = format!("`{key}` is a list of texts, {MOST_NAMED} at most");
            self.wrong(item.span(), message, format!("{key} = [\"...\", \"...\"]"));
            Vec::new()
        })
    }

    fn number(&mut self, table: &dyn TableLike, key: &str) -> Option<f64> {
        let item = table.get(key)?;
        let number = item.as_float().or_else(|| item.as_integer().map(|n| n as f64));
        match number.filter(|n| n.is_finite() && n.abs() < 1e6) {
            Some(n) => Some(n),
            None => {
                self.wrong(item.span(), format!("`{key}` is a number"), format!("{key} = 0.010"));
                None
            }
        }
    }

    fn needed_number(&mut self, table: &dyn TableLike, key: &str) -> Option<f64> {
        if table.get(key).is_none() {
            self.wrong(None, format!("the trial's file has no `{key}`"), format!("{key} = 0.010"));
        }
        self.number(table, key)
    }

    fn moment(&mut self, table: &dyn TableLike, key: &str) -> Option<Moment> {
        let Some(item) = table.get(key) else {
            self.wrong(None, format!("the trial's file has no `{key}`"), format!("{key} = 2026-08-22T14:20:00-05:00"));
            return None;
        };
        let at = item.as_datetime().and_then(|d| d.to_string().parse().ok());
        if at.is_none() {
            let help = format!("{key} = 2026-08-22T14:20:00-05:00");
            self.wrong(item.span(), format!("`{key}` is a time with its offset"), help);
        }
        at
    }
}

/// The unit of a response as it stands behind its numbers' keys.
pub(super) fn unit_of(response: Response) -> &'static str {
    if response.is_speed() { "mph" } else { "s" }
}
