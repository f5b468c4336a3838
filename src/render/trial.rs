//! Trials: where one stands, all of them.

use super::layout::{Head, Page, counted, ends, signed};
use crate::slip::Response;
use crate::timeline::Timeline;
use crate::trial::{Counted, End, Next, Side, Standing, Trial};
use serde_json::{Map, Value as Json, json};

pub(super) fn unit(response: Response) -> &'static str {
    if response.is_speed() { "mph" } else { "s" }
}

pub(super) fn amount(response: Response, x: f64) -> String {
    format!("{x:.*} {}", response.decimals(), unit(response))
}

/// Where a trial stands.
pub struct StatusTold<'a> {
    /// The trial.
    pub trial: &'a Trial,
    /// The book's versions.
    pub timeline: &'a Timeline,
    /// The numbers of the runs that count, in one air.
    pub one_air: Vec<Option<f64>>,
    /// Some run has air.
    pub has_air: bool,
    /// Its runs.
    pub standing: &'a Standing<'a>,
    /// It was just recorded.
    pub saved: Option<bool>,
}

/// Where it stands, in a few words: "open since Jul 11 09:30".
fn state(head: &Head, trial: &Trial) -> String {
    match &trial.end {
        None => format!("open since {}", head.when(trial.started)),
        Some(End::Judged(judged)) => format!("judged {}: {}", head.when(judged.at), judged.verdict),
        Some(End::Dropped(dropped)) => {
            let why = dropped.why.as_ref().map(|w| format!(": {w}")).unwrap_or_default();
            format!("dropped {}{why}", head.when(dropped.at))
        }
    }
}

fn name_of(trial: &Trial, timeline: &Timeline, standing: &Standing, side: Side) -> String {
    standing.version(side).map_or(trial.arm(side).version.to_string(), |v| timeline.versions[v].number.to_string())
}

/// What comes next, in words.
fn next_words(trial: &Trial, timeline: &Timeline, standing: &Standing) -> String {
    match standing.next {
        Next::Gone(side) => {
            format!("{} is no longer on record: this trial cannot be judged (trial drop)", trial.arm(side).version)
        }
        Next::Judge => "all planned runs are made: slipbook trial judge".to_owned(),
        Next::Run { side, runs, on_car } => {
            let version = name_of(trial, timeline, standing, side);
            let runs = counted(runs, "run");
            match on_car {
                Some(_) => format!("{runs} on {version}: it is on the car"),
                None if standing.counted.iter().any(|c| c.side == side) => {
                    format!("put {version} back on (the list: wrench {version}), then {runs}")
                }
                None => format!("put {version} on (the list: wrench {version}), then {runs}"),
            }
        }
    }
}

/// What a run that was just made is to a trial, in words: "trial "clamps": run 2 of 4, on B. Next: ...". Nothing where it was
/// made on neither setup.
pub fn run_words(trial: &Trial, timeline: &Timeline, standing: &Standing, run: &str) -> Option<String> {
    let name = &trial.name;
    if let Some(at) = standing.counted.iter().position(|c| c.run.id == run) {
        let next = next_words(trial, timeline, standing);
        let (n, of, side) = (at + 1, trial.order.len(), standing.counted[at].side);
        return Some(format!("trial \"{name}\": run {n} of {of}, on {side}. Next: {next}"));
    }
    let left_out = standing.left_out.iter().find(|l| l.run.id == run && l.on_side)?;
    Some(format!("trial \"{name}\": this run does not count: {}", left_out.why))
}

/// Where a trial stands, as text.
pub fn status_text(head: &Head, told: &StatusTold) -> String {
    let (trial, standing) = (told.trial, told.standing);
    let [a, b] = [Side::A, Side::B].map(|side| name_of(trial, told.timeline, standing, side));
    let label = trial.response.label();
    let mut page = head.page(&format!("trial \"{}\": {a} (A) against {b} (B), {label}", trial.name));
    match &trial.end {
        None => page.wrap("Next     ", &next_words(trial, told.timeline, standing)),
        Some(_) => page.wrap("Ended    ", &state(head, trial)),
    }
    page.gap();
    if trial.is_open() {
        let why = trial.why.as_ref().map(|w| format!("   why: {w}")).unwrap_or_default();
        page.wrap("Since    ", &format!("{}, by {}{why}", head.when(trial.started), trial.by));
    }
    let so_far = if standing.order_run.is_empty() { "none yet".to_owned() } else { standing.order_run.in_stints() };
    page.wrap("Order    ", &format!("{} planned, {so_far} run", trial.order.in_stints()));
    for side in [Side::A, Side::B] {
        side_line(&mut page, told, side);
    }
    if let Some(judged) = trial.judged() {
        judged_lines(&mut page, trial, judged);
    }
    runs_table(head, &mut page, told);
    if !standing.left_out.is_empty() {
        page.gap();
        page.line("Not counted");
        for out in &standing.left_out {
            page.wrap(&format!("  {}  ", head.when(out.run.at)), &out.why);
        }
    }
    page.gap();
    let matters = amount(trial.response, trial.matters.to_f64());
    let air = if told.has_air { " One air: carried to the middle of the book's." } else { " As run: no run has air." };
    page.wrap("", &format!("Under {matters} is not chased.{air}"));
    match told.saved {
        Some(true) => page.line("saved"),
        Some(false) => page.line("nothing written"),
        None => {}
    }
    page.text()
}

fn side_line(page: &mut Page, told: &StatusTold, side: Side) {
    let words = match told.standing.version(side) {
        Some(v) => told.timeline.versions[v].entry.words.join(", "),
        None => "no longer on record".to_owned(),
    };
    let name = name_of(told.trial, told.timeline, told.standing, side);
    page.wrap(&format!("{side}        "), &format!("{name}: {words}"));
}

fn judged_lines(page: &mut Page, trial: &Trial, judged: &crate::trial::Judged) {
    let (u, d) = (unit(trial.response), trial.response.decimals());
    page.gap();
    if let Some(effect) = judged.effect {
        let range = judged
            .lo95
            .zip(judged.hi95)
            .map(|(lo, hi)| ends(lo, hi, d))
            .map(|(lo, hi)| format!(", 95 times in 100 between {lo} and {hi}"));
        page.wrap("Answer   ", &format!("{} {u}{}", signed(effect, d), range.unwrap_or_default()));
    }
    page.wrap("Verdict  ", &judged.verdict);
    judged.evidence.iter().for_each(|e| page.wrap("         ", e));
    if let Some(by_hand) = judged.by_hand {
        page.wrap("By hand  ", &format!("{} {u}: means of this trial's runs, day by day", signed(by_hand, d)));
    }
    let rested = match judged.air_kg_m3 {
        Some(air) => format!("{}, in one air of {}", judged.method, super::footing::density(air)),
        None => format!("{}, as run", judged.method),
    };
    page.wrap("Rests on ", &rested);
}

fn runs_table(head: &Head, page: &mut Page, told: &StatusTold) {
    let standing = told.standing;
    if standing.counted.is_empty() {
        return;
    }
    let decimals = told.trial.response.decimals();
    page.gap();
    let mut rows = vec![["run", "side", "on", "lane", "slip", "one air"].map(str::to_owned).to_vec()];
    for (c, one_air) in standing.counted.iter().zip(&told.one_air) {
        let lane = c.run.lane.as_deref().and_then(|l| l.chars().next()).map(|l| l.to_ascii_uppercase().to_string());
        let carried = one_air.filter(|_| told.has_air).map(|x| format!("{x:.decimals$}"));
        rows.push(vec![
            head.when(c.run.at),
            c.side.to_string(),
            told.timeline.versions[c.version].number.to_string(),
            lane.unwrap_or_default(),
            format!("{:.decimals$}", c.raw),
            carried.unwrap_or_default(),
        ]);
    }
    if !told.has_air {
        rows.iter_mut().for_each(|r| r.truncate(5));
    }
    page.table(&rows, &[4, 5]);
}

/// A trial by itself, as JSON.
fn trial_json(trial: &Trial) -> Map<String, Json> {
    let u = unit(trial.response);
    let judged = trial.judged().map(|j| {
        let mut map = Map::new();
        for (key, value) in [
            ("at", json!(j.at)),
            ("by", json!(j.by)),
            ("verdict", json!(j.verdict)),
            ("evidence", json!(j.evidence)),
            (&format!("effect_{u}"), json!(j.effect)),
            (&format!("sd_{u}"), json!(j.sd)),
            (&format!("lo95_{u}"), json!(j.lo95)),
            (&format!("hi95_{u}"), json!(j.hi95)),
            ("p_gain", json!(j.p_gain)),
            ("p_loss", json!(j.p_loss)),
            ("p_same", json!(j.p_same)),
            (&format!("by_hand_{u}"), json!(j.by_hand)),
            ("runs_a", json!(j.runs_a)),
            ("runs_b", json!(j.runs_b)),
            ("order_run", json!(j.order_run.to_string())),
            ("air_kg_m3", json!(j.air_kg_m3)),
            ("method", json!(j.method)),
        ] {
            map.insert(key.to_owned(), value);
        }
        Json::Object(map)
    });
    let dropped = match &trial.end {
        Some(End::Dropped(d)) => json!({"at": d.at, "by": d.by, "why": d.why}),
        _ => Json::Null,
    };
    let mut out = Map::new();
    for (key, value) in [
        ("name", json!(trial.name)),
        ("response", json!(trial.response.key())),
        ("a", json!(trial.a.version)),
        ("b", json!(trial.b.version)),
        ("order", json!(trial.order.to_string())),
        (&format!("matters_{u}"), json!(trial.matters)),
        ("started", json!(trial.started)),
        ("by", json!(trial.by)),
        ("why", json!(trial.why)),
        ("open", json!(trial.is_open())),
        ("judged", json!(judged)),
        ("dropped", dropped),
    ] {
        out.insert(key.to_owned(), value);
    }
    out
}

fn next_json(trial: &Trial, timeline: &Timeline, standing: &Standing) -> Json {
    let words = next_words(trial, timeline, standing);
    match standing.next {
        _ if !trial.is_open() => Json::Null,
        Next::Gone(side) => json!({"do": "drop", "side": side, "words": words}),
        Next::Judge => json!({"do": "judge", "words": words}),
        Next::Run { side, runs, on_car } => {
            let version = name_of(trial, timeline, standing, side);
            json!({"do": "run", "side": side, "version": version, "runs": runs, "on_car": on_car.is_some(), "words": words})
        }
    }
}

/// Where a trial stands, as JSON.
pub fn status_json(head: &Head, told: &StatusTold) -> Json {
    let standing = told.standing;
    let u = unit(told.trial.response);
    let run = |(c, one_air): (&Counted, &Option<f64>)| {
        let on = &told.timeline.versions[c.version].number;
        json!({"run": c.run.id, "at": c.run.at, "version": on, "side": c.side, format!("as_run_{u}"): c.raw, format!("one_air_{u}"): one_air.filter(|_| told.has_air)})
    };
    let mut out = Map::new();
    out.insert("car".to_owned(), json!(head.car));
    if let Some(saved) = told.saved {
        out.insert("saved".to_owned(), json!(saved));
    }
    out.insert("trial".to_owned(), Json::Object(trial_json(told.trial)));
    out.insert("order_run".to_owned(), json!(standing.order_run.to_string()));
    out.insert("next".to_owned(), next_json(told.trial, told.timeline, standing));
    out.insert("runs".to_owned(), standing.counted.iter().zip(&told.one_air).map(run).collect());
    let left_out = standing.left_out.iter().map(|l| json!({"run": l.run.id, "at": l.run.at, "why": l.why}));
    out.insert("not_counted".to_owned(), left_out.collect());
    Json::Object(out)
}

/// One trial of all.
pub struct ListedTrial<'a> {
    /// The trial.
    pub trial: &'a Trial,
    /// Where it stands.
    pub standing: Standing<'a>,
}

/// All trials, as text: the open ones first.
pub fn all_text(head: &Head, timeline: &Timeline, all: &[ListedTrial]) -> String {
    let open = all.iter().filter(|l| l.trial.is_open()).count();
    let mut page = head.page(&format!("{}, {open} open", counted(all.len(), "trial")));
    if all.is_empty() {
        page.wrap("", "A trial is a planned back-to-back, A, B, A again: slipbook trial plan A B");
        return page.text();
    }
    for l in all.iter().rev().filter(|l| l.trial.is_open()).chain(all.iter().rev().filter(|l| !l.trial.is_open())) {
        let trial = l.trial;
        let [a, b] = [Side::A, Side::B].map(|side| name_of(trial, timeline, &l.standing, side));
        page.gap();
        page.wrap(
            "",
            &format!("\"{}\": {a} against {b}, {}, {}", trial.name, trial.response.label(), state(head, trial)),
        );
        match &trial.end {
            None => page.wrap("     next: ", &next_words(trial, timeline, &l.standing)),
            Some(End::Judged(j)) => {
                let d = trial.response.decimals();
                let effect =
                    j.effect.map(|e| format!("{} {}, ", signed(e, d), unit(trial.response))).unwrap_or_default();
                page.wrap(
                    "     ",
                    &format!("{effect}{} on A, {} on B", counted(j.runs_a.len(), "run"), j.runs_b.len()),
                );
            }
            Some(End::Dropped(_)) => {}
        }
    }
    page.gap();
    page.line("one of them: slipbook trial status NAME");
    page.text()
}

/// All trials, as JSON: in the order they began.
pub fn all_json(head: &Head, timeline: &Timeline, all: &[ListedTrial]) -> Json {
    let one = |l: &ListedTrial| {
        let mut out = trial_json(l.trial);
        out.insert("order_run".to_owned(), json!(l.standing.order_run.to_string()));
        out.insert("next".to_owned(), next_json(l.trial, timeline, &l.standing));
        Json::Object(out)
    };
    json!({"car": head.car, "trials": all.iter().map(one).collect::<Vec<_>>()})
}
