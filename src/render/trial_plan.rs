//! The plan of a trial: what to run in which order, what that takes and tells.

use super::layout::{Head, Page, counted};
use super::trial::{amount, unit};
use super::trial_next::times;
use crate::blame::{MOST, Needed, Verdict};
use crate::schema::Num;
use crate::slip::Response;
use crate::trial::{Drift, LEAST_RUNS, Pit, Proposal, Side};
use serde_json::{Map, Value as Json, json};

/// What a change-over takes.
#[derive(Debug, Clone)]
pub struct Turning {
    /// The version it goes to.
    pub to: String,
    /// Jobs.
    pub jobs: usize,
    /// Pit minutes.
    pub minutes: u32,
    /// How often a person goes under the car.
    pub times_under: usize,
    /// Some of it is no job for between rounds.
    pub shop: bool,
    /// The sum of the list: "3 jobs, about 11 minutes, once under it".
    pub words: String,
}

/// A plan.
pub struct PlanTold<'a> {
    /// What it is compared with.
    pub a: String,
    /// What is tried.
    pub b: String,
    /// The number asked about.
    pub response: Response,
    /// Less is not worth a job; in its unit.
    pub matters: Num,
    /// Minutes there are.
    pub within_minutes: Option<u32>,
    /// Orders, the best first.
    pub proposals: &'a [Proposal],
    /// How the numbers wander.
    pub drift: Drift,
    /// Runs behind that; 0 = what is usual.
    pub scatter_of: usize,
    /// What a run and a change-over take.
    pub pit: Pit,
    /// Runs behind the minutes between runs; 0 = what is usual, or said.
    pub gaps: usize,
    /// The minutes between runs were said.
    pub between_said: bool,
    /// From A to B, and back.
    pub turning: &'a [Turning; 2],
    /// The side whose setup is on the car.
    pub on_car: Option<Side>,
    /// The chance that it settles the matter; `None` where one of the two has no run yet.
    pub settles: Option<Settles>,
}

/// What the model expects of a trial.
#[derive(Debug, Clone, Copy)]
pub struct Settles {
    /// The chance that as many runs settle it, 0 to 1.
    pub chance: f64,
    /// How many it takes.
    pub needed: Needed,
    /// What is said of the two now.
    pub verdict: Verdict,
}

/// A day at the track has no more minutes for a trial (common practice, no source).
pub const DAY_MINUTES: f64 = 480.0;

/// Orders shown beside the one proposed.
const ORDERS_SHOWN: usize = 5;

/// A plan, as text.
pub fn text(head: &Head, told: &PlanTold) -> String {
    let mut page = head.page(&format!("{} (A) against {} (B), {}", told.a, told.b, told.response.label()));
    let Some(best) = told.proposals.first() else { return page.text() };
    let runs = best.order.runs(Side::A);
    let order = best.order.in_stints();
    let minutes = best.minutes.round();
    let (n, swaps) = (best.order.len(), counted(best.swaps, "change-over"));
    match told.within_minutes.filter(|_| !best.fits) {
        None => page
            .wrap("Run      ", &format!("{order}: {n} runs, {swaps}, about {minutes:.0} minutes from first to last")),
        Some(within) => page.wrap(
            "Run      ",
            &format!("{order}, on a day with {minutes:.0} minutes for it: in {within} it cannot be done"),
        ),
    }
    match &told.settles {
        None => page.wrap("Settles  ", "not known: one of the two has no run yet. When the first are made, plan again"),
        Some(s) => settles_lines(&mut page, s, runs),
    }
    if told.within_minutes.is_none() && best.minutes > DAY_MINUTES {
        page.wrap("         ", "longer than a day: two days then, and what differs between them weighs in");
    }
    page.wrap("Start    ", &format!("slipbook trial start NAME {} {}{}", told.a, told.b, typed(told)));
    page.gap();
    let mut rows = vec![["order", "change-overs", "minutes", "tells it to", ""].map(str::to_owned).to_vec()];
    for p in told.proposals.iter().take(ORDERS_SHOWN) {
        let note = match (p.order.returns(), p.fits) {
            (false, _) => "does not come back",
            (true, false) => "too long",
            (true, true) => "",
        };
        let sd = amount(told.response, p.sd);
        rows.push(vec![
            p.order.in_stints(),
            p.swaps.to_string(),
            format!("{:.0}", p.minutes),
            format!("+- {sd}"),
            note.to_owned(),
        ]);
    }
    page.table(&rows, &[1, 2, 3]);
    page.gap();
    let [there, back] = told.turning;
    page.wrap("To B     ", &format!("{} (the list: wrench {} {})", there.words, told.a, told.b));
    page.wrap("To A     ", &format!("{} (the list: wrench {} {})", back.words, told.b, told.a));
    if there.shop || back.shop {
        page.wrap("         ", "some of it is work for the shop: two days then, and other days between weigh in");
    }
    match told.on_car {
        Some(side) => page.wrap("Now      ", &format!("{side} is on the car: the order begins with it")),
        None => page.wrap("Now      ", &format!("neither is on the car: first wrench {}", told.a)),
    }
    page.gap();
    page.wrap("", &plan_foot(told, runs));
    page.text()
}

fn settles_lines(page: &mut Page, s: &Settles, runs: usize) {
    if s.verdict.settled() {
        page.wrap("Settled  ", &format!("{}, says blame: a trial would only confirm it", s.verdict.words()));
        return;
    }
    let takes = |m: Option<usize>| match m {
        Some(m) => m.max(LEAST_RUNS).to_string(),
        None => format!("more than {MOST}"),
    };
    let needed = match (s.needed.at_80, s.needed.at_95) {
        (None, _) => {
            format!("; 4 times out of 5 would take more than {MOST}: the model expects too little between them")
        }
        // As many as are planned do it, nearly surely.
        (_, Some(at_95)) if at_95 <= runs => String::new(),
        (at_80, at_95) => format!("; 4 times out of 5 takes {}, 19 out of 20 {}", takes(at_80), takes(at_95)),
    };
    let chance = times(s.chance);
    page.wrap("Settles  ", &format!("{chance} with {runs} a side{needed}"));
    page.wrap("So far   ", &s.verdict.words());
}

/// What of the plan is typed again.
fn typed(told: &PlanTold) -> String {
    let mut out = match told.response {
        Response::Time(beam) if beam.feet() == 60 => String::new(),
        Response::Time(beam) => format!(" {}", beam.feet()),
        Response::Et => " et".to_owned(),
        _ => " mph".to_owned(),
    };
    if let Some(best) = told.proposals.first() {
        out.push_str(&format!(" --order {}", best.order));
    }
    out
}

fn plan_foot(told: &PlanTold, runs: usize) -> String {
    let between = told.pit.minutes_between;
    let between = match (told.between_said, told.gaps) {
        (true, _) => format!("{between:.0} minutes from run to run, as you said"),
        (_, 0) => format!("{between:.0} minutes from run to run, as usual"),
        (_, 1) => format!("{between:.0} minutes from run to run, as once here"),
        (_, n) => format!("{between:.0} minutes from run to run, the middle of {n} here"),
    };
    let scatter = match told.scatter_of {
        0 => "as cars usually do".to_owned(),
        n => format!("by the model from {} of this book", counted(n, "run")),
    };
    let sd = amount(told.response, told.drift.run_sd);
    format!(
        "{} a side. {between}. Runs scatter by {sd}, {scatter}; +- is one standard deviation of the difference these runs alone \
         would give. Of the orders that come back to where they began, the first tells most for its minutes. Before anything is \
         loosened under the car: the cautions of the list.",
        counted(runs, "run")
    )
}

/// A plan, as JSON.
pub fn json(head: &Head, told: &PlanTold) -> Json {
    let u = unit(told.response);
    let one = |p: &Proposal| {
        let mut map = Map::new();
        map.insert("order".to_owned(), json!(p.order.to_string()));
        map.insert("change_overs".to_owned(), json!(p.swaps));
        map.insert("minutes".to_owned(), json!(p.minutes));
        map.insert(format!("sd_{u}"), json!(p.sd));
        map.insert("comes_back".to_owned(), json!(p.order.returns()));
        map.insert("fits".to_owned(), json!(p.fits));
        Json::Object(map)
    };
    let turning = |t: &Turning| json!({"to": t.to, "jobs": t.jobs, "minutes": t.minutes, "times_under": t.times_under, "shop": t.shop});
    let mut out = Map::new();
    for (key, value) in [
        ("car", json!(head.car)),
        ("a", json!(told.a)),
        ("b", json!(told.b)),
        ("response", json!(told.response.key())),
        (&format!("matters_{u}"), json!(told.matters)),
        ("runs_a_side", json!(told.proposals.first().map(|p| p.order.runs(Side::A)))),
        ("orders", told.proposals.iter().map(one).collect()),
        (&format!("run_sd_{u}"), json!(told.drift.run_sd)),
        (&format!("slope_sd_{u}_per_hour"), json!(told.drift.slope_sd_per_hour)),
        (&format!("walk_sd_{u}"), json!(told.drift.walk_sd)),
        ("scatter_of_runs", json!(told.scatter_of)),
        ("minutes_between", json!(told.pit.minutes_between)),
        ("minutes_per_change_over", json!(told.pit.minutes_per_swap)),
        ("turning", told.turning.iter().map(turning).collect()),
        ("on_car", json!(told.on_car)),
        ("settles", json!(told.settles.map(|s| s.chance))),
        ("settled_with", json!(told.settles.map(|s| s.needed))),
        ("verdict", json!(told.settles.map(|s| s.verdict.key()))),
    ] {
        out.insert(key.to_owned(), value);
    }
    Json::Object(out)
}
