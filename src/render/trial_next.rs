//! Which experiment comes next: one line that says what to do, then the best for their minutes.

use super::layout::{Head, counted};
use crate::blame::Worth;
use crate::schema::Num;
use crate::slip::Response;
use crate::timeline::VersionNumber;
use serde_json::{Map, Value as Json, json};

/// One experiment.
#[derive(Debug, Clone)]
pub struct Idea {
    /// What is turned, in words.
    pub words: Vec<String>,
    /// What it is told apart from, in words; empty where these runs tell it alone.
    pub parted_from: Vec<String>,
    /// Versions of other changes the runs hardly part from it.
    pub one_of_two: Vec<VersionNumber>,
    /// Keys of what is turned.
    pub keys: Vec<String>,
    /// The version it was last so on.
    pub back_to: String,
    /// Jobs of a change-over.
    pub jobs: usize,
    /// Pit minutes of a change-over.
    pub turning_minutes: u32,
    /// How often a person goes under the car for it.
    pub times_under: usize,
    /// Some of it is no job for between rounds.
    pub shop: bool,
    /// Minutes from the first run to the last.
    pub minutes: f64,
    /// What it is worth.
    pub worth: Worth,
}

/// What is told.
pub struct NextTold<'a> {
    /// The number asked about.
    pub response: Response,
    /// Less is not worth a job, in its unit.
    pub matters: Num,
    /// The order of the runs.
    pub order: String,
    /// What gains less on average is not worth a test.
    pub least_gain: f64,
    /// How many are shown.
    pub shown: usize,
    /// The version on the car.
    pub on_car: String,
    /// It has no run that counts.
    pub never_run: bool,
    /// Names of the trials that are open.
    pub open: Vec<String>,
    /// The best for its minutes first.
    pub ideas: &'a [Idea],
}

fn unit(response: Response) -> &'static str {
    if response.is_speed() { "mph" } else { "s" }
}

/// "4 times out of 5": a chance as a racer says it, to the nearest twentieth.
pub(super) fn times(p: f64) -> String {
    let twentieths = (p * 20.0).round().clamp(0.0, 20.0) as u32;
    match twentieths {
        0 => "hardly ever".to_owned(),
        20 => "nearly always".to_owned(),
        n if n % 4 == 0 => format!("{} times out of 5", n / 4),
        n if n % 2 == 0 => format!("{} times out of 10", n / 2),
        n => format!("{n} times out of 20"),
    }
}

/// As text.
pub fn text(head: &Head, told: &NextTold) -> String {
    let mut page = head.page(&format!("what to try next, {}, from {} on the car", told.response.label(), told.on_car));
    let worth: Vec<&Idea> = told.ideas.iter().filter(|i| !i.shop && i.worth.gain >= told.least_gain).collect();
    let (u, decimals) = (unit(told.response), told.response.decimals());
    match (&worth.first(), told.never_run) {
        (_, true) => {
            page.wrap(
                "Run      ",
                &format!("{} as it is: it has no run that counts, so nothing can be told yet", told.on_car),
            );
            return page.text();
        }
        (None, _) => page.wrap("Test     ", "nothing: no single thing put back is worth a test now"),
        (Some(best), _) => {
            page.wrap("Test     ", &best.words.join(", "));
            let minutes = best.minutes.round();
            let runs = counted(told.order.len(), "run");
            page.wrap(
                "         ",
                &format!("{}: {runs}, about {minutes:.0} minutes; settled {}", told.order, times(best.worth.settles)),
            );
        }
    }
    if !told.open.is_empty() {
        page.wrap("Open     ", &format!("trial {}: first finish it (trial status)", told.open.join(", ")));
    }
    let shown: Vec<&Idea> = if worth.is_empty() { told.ideas.iter().take(3).collect() } else { worth.clone() };
    for (i, idea) in shown.iter().take(told.shown).enumerate() {
        if i == 0 {
            page.gap();
            if worth.is_empty() {
                page.wrap("", "The nearest to it, not worth its minutes:");
            }
            page.line("minutes     gains  settled");
        }
        let gain = format!("{:.*} {u}", decimals + 1, idea.worth.gain);
        let of_20 = format!("{:.0} in 20", idea.worth.settles * 20.0);
        let label = format!("{:>7.0}  {gain:>8}  {of_20:>8}  ", idea.minutes);
        page.wrap(&label, &idea.words.join(", "));
        let indent = " ".repeat(label.chars().count());
        if !idea.parted_from.is_empty() {
            page.wrap(&indent, &format!("tells it apart from: {}", idea.parted_from.join(", ")));
        }
        if !idea.one_of_two.is_empty() {
            page.wrap(&indent, &super::blame::one_of_two(&idea.one_of_two));
        }
        let under = if idea.times_under > 0 { ", under the car" } else { "" };
        let shop = if idea.shop { ", work for the shop" } else { "" };
        let jobs = counted(idea.jobs, "job");
        page.wrap(
            &indent,
            &format!("as on {}: {jobs}, {} min each way{under}{shop}", idea.back_to, idea.turning_minutes),
        );
    }
    let more = shown.len().saturating_sub(told.shown);
    page.gap();
    let matters = format!("{:.*} {u}", decimals, told.matters.to_f64());
    page.wrap(
        "",
        &format!(
            "gains: what choosing after the test brings on average beyond choosing now; under {matters} is not chased. Expected by \
             the model of blame. Known gains and losses need no test: blame says what to keep and to take back."
        ),
    );
    if more > 0 {
        page.line(format!("{more} more: trial next --all"));
    }
    if !worth.is_empty() {
        page.wrap("", "Mind the cautions of the list: wrench. Turned, and recorded with slipbook change:");
        page.line("  slipbook trial start NAME previous now");
    }
    page.text()
}

/// As JSON.
pub fn json(head: &Head, told: &NextTold) -> Json {
    let u = unit(told.response);
    let one = |i: &Idea| {
        let mut out = Map::new();
        for (key, value) in [
            ("words", json!(i.words)),
            ("fields", json!(i.keys)),
            ("back_to", json!(i.back_to)),
            ("parted_from", json!(i.parted_from)),
            ("one_of_two", json!(i.one_of_two)),
            ("jobs", json!(i.jobs)),
            ("turning_minutes", json!(i.turning_minutes)),
            ("times_under", json!(i.times_under)),
            ("shop", json!(i.shop)),
            ("minutes", json!(i.minutes)),
            (&format!("gain_{u}"), json!(i.worth.gain)),
            (&format!("gain_now_{u}"), json!(i.worth.now)),
            ("settles", json!(i.worth.settles)),
            ("worth_a_test", json!(!i.shop && i.worth.gain >= told.least_gain)),
        ] {
            out.insert(key.to_owned(), value);
        }
        Json::Object(out)
    };
    let mut out = Map::new();
    for (key, value) in [
        ("car", json!(head.car)),
        ("response", json!(told.response.key())),
        (&format!("matters_{u}"), json!(told.matters)),
        ("on_car", json!(told.on_car)),
        ("never_run", json!(told.never_run)),
        ("order", json!(told.order)),
        (&format!("least_gain_{u}"), json!(told.least_gain)),
        ("open", json!(told.open)),
        ("experiments", told.ideas.iter().map(one).collect()),
    ] {
        out.insert(key.to_owned(), value);
    }
    Json::Object(out)
}
