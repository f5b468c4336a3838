//! A run as it is told when it is recorded, against the setup's other runs and the version before.

use super::layout::{Head, counted, ends, signed};
use crate::air::KG_M3_PER_LB_FT3;
use crate::blame::{Judged, MOST, Needed, Segment, Verdict};
use crate::pace::Standing;
use crate::schema::Num;
use crate::slip::{Beam, Day, Moment, Run};
use serde_json::{Value as Json, json};

/// One number against others.
#[derive(Debug, Clone)]
pub struct Against {
    /// "60 ft", "ET".
    pub label: String,
    /// The run's.
    pub value: Num,
    /// The same in the air all are compared in; `None` = as run.
    pub one_air: Option<f64>,
    /// `(against what, difference in s)`: "v19 (middle of 3)", +0.019.
    pub others: Vec<(String, f64)>,
}

/// A reading that was not taken with the run.
#[derive(Debug, Clone)]
pub struct AirAgain {
    /// Why.
    pub why: String,
    /// The command that gives it again.
    pub again: String,
}

/// What is told.
#[derive(Debug, Clone)]
pub struct RunTold<'a> {
    /// The run.
    pub run: &'a Run,
    /// Its day.
    pub day: &'a Day,
    /// The day was made for it.
    pub new_day: bool,
    /// Which run of the version it is, from 1.
    pub place: usize,
    /// Comparisons.
    pub against: Vec<Against>,
    /// Its air; `None` = the book has none.
    pub standing: Option<Standing>,
    /// The air compared in, kg/m3.
    pub reference_kg_m3: Option<f64>,
    /// Runs it is compared with that have no air of their own.
    pub without_air: usize,
    /// Where in the run it differs, and from which version.
    pub segments: Option<(String, Vec<Segment>)>,
    /// What the model says of its setup against the one that ran before, and how many more runs it wants.
    pub judged: Option<(String, Judged, Option<Needed>)>,
    /// The reading given with it was not taken.
    pub air_refused: Option<&'a AirAgain>,
    /// Sentences from the store.
    pub notes: &'a [String],
}

/// As text.
pub fn text(head: &Head, told: &RunTold) -> String {
    let run = told.run;
    let lane = run.lane.as_ref().map(|l| format!(", {l} lane")).unwrap_or_default();
    let mut page = head.page(&format!("{}, run {}{lane}, {}   saved", run.on, told.place, head.when(run.at)));
    if told.new_day {
        let day = &told.day;
        let date = Moment::day_words(day.date, None);
        page.wrap("  ", &format!("NEW DAY opened: {date} at {}, {} ft finish", day.track, day.finish_ft));
        page.wrap("  ", "Not so? slipbook oops takes both back; then run ... --at \"sat 14:20\" --track NAME");
    }
    page.wrap("  slip: ", &slip_words(run, told.day.finish_ft));
    let what: Vec<String> = run.did.iter().cloned().chain(run.clean_to.map(|f| clean_words(run, f))).collect();
    if !what.is_empty() {
        page.wrap("  ", &what.join(", "));
    }
    for a in &told.against {
        let others: Vec<String> = a
            .others
            .iter()
            .map(|(what, d)| match *d {
                d if d.abs() < 0.0005 => format!("even with {what}"),
                d => format!("{:.3} {} than {what}", d.abs(), if d < 0.0 { "quicker" } else { "slower" }),
            })
            .collect();
        let carried = a.one_air.map(|x| format!("in one air {x:.3}")).into_iter();
        let told: Vec<String> = carried.chain(others).collect();
        page.wrap(&format!("  {:<6} {:>7}   ", a.label, a.value.fixed(3)), &told.join(", "));
    }
    if let Some((before, judged, needed)) = &told.judged {
        page.wrap("  ", &judged_words(before, judged, *needed));
    } else if told.place < 3 {
        page.line(format!("  {} on this version: too early to call", counted(told.place, "run")));
    }
    if let Some((version, list)) = &told.segments {
        page.line(format!("  where it differs from {version}:"));
        page.wrap("  ", &super::footing::segments(list));
    }
    if let (Some(reference), true) = (told.reference_kg_m3, told.against.iter().any(|a| a.one_air.is_some())) {
        let then = told.standing.map(|s| format!("; this run in {:.4}", s.density_kg_m3() / KG_M3_PER_LB_FT3));
        let one = super::footing::density(reference);
        page.wrap("  ", &format!("one air: {one}, the middle of the book{}", then.unwrap_or_default()));
        if told.without_air > 0 {
            let have = counted(told.without_air, "run");
            page.wrap("  ", &format!("{have} it is compared with: no air on record, taken as usual"));
        }
    }
    if let Some(words) = super::footing::run_words(told.standing) {
        page.wrap("  ", &words);
    }
    if let Some(note) = &run.note {
        page.wrap("  note: ", note);
    }
    if let Some(air) = told.air_refused {
        page.wrap("  the air was not recorded: ", &air.why);
        page.line("  give it again:");
        page.wrap("    ", &air.again);
    }
    for note in told.notes {
        page.wrap("  ", note);
    }
    page.text()
}

/// "v18 to this: likely a gain, not settled (-0.014 s in the 60 ft). 3 more a side settle it 4 times out of 5."
fn judged_words(before: &str, judged: &Judged, needed: Option<Needed>) -> String {
    let e = &judged.effect;
    let sum = match judged.verdict {
        Verdict::TooEarly => String::new(),
        _ => {
            let (lo, hi) = ends(e.lo95, e.hi95, 3);
            format!(" ({} s in the 60 ft, between {lo} and {hi})", signed(e.value, 3))
        }
    };
    let runs = counted(judged.sides.with.len(), "run");
    let said = if judged.verdict == Verdict::TooEarly { format!("{runs}: ") } else { String::new() };
    let more = match needed {
        None => String::new(),
        Some(Needed { at_80: Some(m), .. }) => {
            format!(" {m} more a side {} it 4 times out of 5.", if m == 1 { "settles" } else { "settle" })
        }
        Some(_) => format!(" Not even {MOST} more a side would settle it."),
    };
    format!("against {before}: {said}{}{sum}.{more}", judged.verdict.words())
}

/// "60 ft 1.597  330 ft 4.676 …": with labels, so that a number put in the wrong place is seen.
pub fn slip_words(run: &Run, finish_ft: u32) -> String {
    let mut parts = Vec::new();
    if let Some(r) = run.num("reaction") {
        let red = if r < Num::ZERO { " red light" } else { "" };
        parts.push(format!("reaction {}{red}", r.fixed(3)));
    }
    for beam in Beam::ALL {
        let label = if beam.feet() == finish_ft { "ET".to_owned() } else { format!("{} ft", beam.feet()) };
        if let Some(t) = run.time(beam) {
            parts.push(format!("{label} {}", t.fixed(3)));
        }
        if let Some(v) = beam.speed_key().and_then(|k| run.num(k)) {
            parts.push(format!("{} mph", v.fixed(2)));
        }
    }
    if parts.is_empty() { "no numbers".to_owned() } else { parts.join("  ") }
}

/// "lifted: clean to 330 ft".
pub fn clean_words(run: &Run, feet: u32) -> String {
    let why = run.why_not.as_deref().unwrap_or("not clean");
    if feet == 0 { format!("{why}: no split counts") } else { format!("{why}: clean to {feet} ft") }
}

/// A run as JSON: its own keys, as in the day file.
pub fn run_json(run: &Run) -> Json {
    let mut out = json!({
        "id": run.id, "at": run.at, "on": run.on, "setup": run.setup, "lane": run.lane, "round": run.round,
        "clean_to_ft": run.clean_to, "why_not": run.why_not, "did": run.did, "staged": run.staged, "note": run.note,
    });
    if let Some(map) = out.as_object_mut() {
        map.extend(run.numbers.iter().map(|(k, v)| (k.clone(), json!(v))));
    }
    out
}

fn judged_json((before, judged, needed): &(String, Judged, Option<Needed>)) -> Json {
    let mut map = serde_json::Map::new();
    map.insert("against".to_owned(), json!(before));
    super::blame::effect_json(&mut map, &judged.effect, "s");
    map.insert("evidence".to_owned(), json!(judged.verdict.key()));
    map.insert("more".to_owned(), json!(needed));
    Json::Object(map)
}

/// As JSON.
pub fn json(head: &Head, told: &RunTold) -> Json {
    let against: Vec<Json> = told
        .against
        .iter()
        .flat_map(|a| a.others.iter().map(move |(what, d)| json!({"number": a.label, "against": what, "apart_s": signed(*d, 3).parse::<f64>().unwrap_or(*d)})))
        .collect();
    let one_air: serde_json::Map<String, Json> =
        told.against.iter().filter_map(|a| Some((a.label.clone(), json!(a.one_air?)))).collect();
    json!({
        "car": head.car, "saved": true, "run": run_json(told.run), "track": told.day.track, "finish_ft": told.day.finish_ft,
        "new_day": told.new_day, "run_of_version": told.place, "compared_without_air": told.without_air, "notes": told.notes, "against": against, "one_air": one_air,
        "air": super::footing::standing_json(told.standing), "segments": told.segments.as_ref().map(|(_, s)| s),
        "judged": told.judged.as_ref().map(judged_json),
        "air_refused": told.air_refused.map(|a| json!({"why": a.why, "again": a.again})),
    })
}
