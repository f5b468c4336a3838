//! What the car should run, and how far earlier expectations would have been off.

use super::footing::density;
use super::layout::{Head, Page, counted};
use crate::air::{KG_M3_PER_LB_FT3, Moist, PA_PER_INHG, fahrenheit};
use crate::pace::{AssumedBy, Backtest, Expected, Footing, Habit};
use crate::slip::{Day, Moment, Response};
use serde_json::{Value as Json, json};

/// The air asked about.
#[derive(Debug, Clone)]
pub struct AirAsked {
    /// The air, where it is known.
    pub air: Option<Moist>,
    /// Its density, kg/m3.
    pub density_kg_m3: Option<f64>,
    /// Minutes to the day's nearest reading; `None` = as said on the command line.
    pub minutes: Option<u32>,
    /// Why the barometer number was taken for what it was, where its word was not said.
    pub taken_as: Option<String>,
    /// What is taken where none is known, kg/m3, and what that rests on; `None` = the book has no air.
    pub usual: Option<(f64, AssumedBy)>,
    /// How far the density may be off: standard deviation of its logarithm.
    pub log_sd: f64,
}

/// What is told.
pub struct DialTold<'a> {
    /// The version.
    pub version: String,
    /// Other versions that are the same setup.
    pub with: Vec<String>,
    /// It is on the car.
    pub on_car: bool,
    /// What ET means, ft.
    pub finish_ft: u32,
    /// The day and its track.
    pub day: &'a Day,
    /// When.
    pub at: Moment,
    /// The lane, where it was said.
    pub lane: Option<&'a str>,
    /// The air.
    pub air: AirAsked,
    /// How the car follows the air.
    pub footing: &'a Footing,
    /// Densities the setup's clean runs were made in, kg/m3.
    pub densities: Vec<f64>,
    /// Days of those runs.
    pub days: usize,
    /// The last of them.
    pub last: Option<jiff::civil::Date>,
    /// Clean finishes the expectation rests on, in any setup.
    pub clean: usize,
    /// Of the setup's own, those without air.
    pub without_air: usize,
    /// Number by number.
    pub expected: &'a [Expected],
    /// How the last ones would have done.
    pub looked_back: Option<Backtest>,
}

/// `quarter mile`.
pub fn finish_words(feet: u32) -> String {
    match feet {
        660 => "eighth mile".to_owned(),
        1320 => "quarter mile".to_owned(),
        other => format!("{other} ft"),
    }
}

/// As text.
pub fn text(head: &Head, told: &DialTold) -> String {
    let et = told.expected.iter().find(|e| e.response == Response::Et);
    let finish = finish_words(told.finish_ft);
    let Some(et) = et else {
        let mut page = head.page(&format!("{}, {finish}: no expectation yet", told.version));
        let clean = counted(told.clean, "clean run");
        page.wrap("", &format!("{clean} to the finish on record; it takes three, in any setup."));
        return page.text();
    };
    let lane = told.lane.map(|l| format!(", {l} lane")).unwrap_or_default();
    let mut page =
        head.page(&format!("{}, {finish} at {}, {}{lane}", told.version, told.day.track, head.when(told.at)));
    let with = if told.with.is_empty() { String::new() } else { format!(" with {}", told.with.join(", ")) };
    let last = told.last.map(|d| format!(", last {}", head.day(d))).unwrap_or_default();
    match et.runs_here {
        0 => page.wrap("Runs     ", "not run yet: a wide guess from the setups before it"),
        n => {
            let few = if n < 3 { ": a wide guess" } else { "" };
            let runs = counted(n, "clean run");
            page.wrap("Runs     ", &format!("{runs}{with} on {}{last}{few}", counted(told.days, "day")));
        }
    }
    page.wrap("Air      ", &air_words(told));
    if let Some(why) = &told.air.taken_as {
        page.wrap("         ", why);
    }
    page.gap();
    let (low, high) = et.range(0.95);
    let (low8, high8) = et.range(0.8);
    let lead = format!("Expect   {:.2}      ", et.middle);
    page.wrap(&lead, &format!("19 times in 20 between {low:.2} and {high:.2}"));
    page.wrap(&" ".repeat(lead.len()), &format!("8 times in 10 between {low8:.2} and {high8:.2}"));
    page.wrap("         ", &others(told.expected));
    page.gap();
    odds_table(&mut page, et);
    page.gap();
    if let Some(back) = &told.looked_back {
        page.wrap("", &back_words(back));
    }
    page.wrap(
        "",
        "Not in it: wind, sun on the track, the driver. Which number goes on the window is the driver's choice.",
    );
    page.wrap("next: ", "slipbook dial --backtest   how it follows the air: slipbook runs --explain");
    page.text()
}

fn air_words(told: &DialTold) -> String {
    let ends = (told.densities.iter().copied().reduce(f64::min), told.densities.iter().copied().reduce(f64::max));
    let mut range = match ends {
        (Some(a), Some(b)) => {
            let (a, b) = (format!("{:.4}", a / KG_M3_PER_LB_FT3), format!("{:.4}", b / KG_M3_PER_LB_FT3));
            if a == b { format!("; this setup ran in {a}") } else { format!("; this setup ran in {a} to {b}") }
        }
        _ => String::new(),
    };
    if told.without_air > 0 && !told.densities.is_empty() {
        range.push_str(&format!(" ({} of its runs without air)", told.without_air));
    }
    let track = &told.day.track;
    if told.footing.reference.is_none() {
        return match told.air.air {
            Some(_) => "no run has air on record: the air you gave cannot move it".to_owned(),
            None => "no run has air on record: as run, in whatever air there was".to_owned(),
        };
    }
    let Some(air) = &told.air.air else {
        let Some((usual, by)) = told.air.usual else { return String::new() };
        let what = match by {
            AssumedBy::Track => format!("not read today: taken as usual at {track}"),
            AssumedBy::Elevation => format!("never read at {track}: the book's middle, moved to its elevation"),
            AssumedBy::Book => format!("never read at {track}: the book's middle"),
        };
        return format!("{what}, {}; --air \"84F 52% 29.42 station\" says it{range}", density(usual));
    };
    let age = match told.air.minutes {
        Some(0) | None => String::new(),
        Some(m) if m >= 60 => format!(", read {} h {:02} min before", m / 60, m % 60),
        Some(m) => format!(", read {m} min before"),
    };
    format!(
        "{:.0} F, {:.0} % humid, {:.2} inHg at the track{age}: {}, density altitude {:.0} ft{range}",
        fahrenheit(air.temperature_c),
        100.0 * air.relative_humidity(),
        air.pressure_pa / PA_PER_INHG,
        density(air.density_kg_m3()),
        air.density_altitude_ft(),
    )
}

/// `60 ft 1.58   330 ft 4.67 … mph 117.0`.
fn others(expected: &[Expected]) -> String {
    let one = |e: &Expected| match e.response {
        Response::Et => None,
        r if r.is_speed() => Some(format!("{} {:.1}", r.label(), e.middle)),
        r => Some(format!("{} {:.2}", r.label(), e.middle)),
    };
    expected.iter().filter_map(one).collect::<Vec<_>>().join("   ")
}

/// The numbers around an expectation, hundredths or wider, quickest first: from one that is hardly ever gone under to just
/// above the middle.
fn numbers(et: &Expected) -> Vec<f64> {
    let (low, _) = et.range(0.97);
    let high = et.middle + 0.4 * et.sd;
    let step = [0.01, 0.02, 0.05, 0.1, 0.2, 0.5].into_iter().find(|s| (high - low) / s <= 8.0).unwrap_or(1.0);
    let first = (low / step).floor() as i64;
    (first..).map(|i| i as f64 * step).take_while(|x| *x <= high + step / 2.0).collect()
}

/// The chance in words: `about 1 in 13`, `about 2 in 7`, `nearly even`.
fn odds(p: f64) -> String {
    if p < 0.005 {
        return "less than 1 in 200".to_owned();
    }
    if p > 0.995 {
        return "nearly always".to_owned();
    }
    if (0.45..=0.55).contains(&p) {
        return "nearly even".to_owned();
    }
    let ones = [200, 150, 100, 80, 60, 50, 40, 30, 25, 20, 16, 13, 11, 10, 9, 8, 7, 6, 5, 4, 3].map(|n| (1, n));
    let between = [(2, 7), (2, 5), (3, 5), (5, 7), (2, 3), (3, 4), (4, 5), (5, 6), (7, 8), (9, 10), (19, 20), (49, 50)];
    let logit = |x: f64| (x / (1.0 - x)).ln();
    let far = |(a, b): &(i32, i32)| (logit(f64::from(*a) / f64::from(*b)) - logit(p)).abs();
    let best = ones.into_iter().chain(between).min_by(|x, y| far(x).total_cmp(&far(y)));
    best.map_or_else(String::new, |(a, b)| format!("about {a:>2} in {b:>2}"))
}

/// Narrower than this, where the spread comes from stands below the odds.
const BESIDE_NEEDS: usize = 72;

fn odds_table(page: &mut Page, et: &Expected) {
    let parts = [
        ("run to run", et.of.run),
        ("a new day", et.of.day),
        ("the air", et.of.air),
        ("how well it is known", et.of.knowing),
    ];
    let mut beside = vec![format!("one sigma is {:.3} s; squares add", et.sd)];
    beside.extend(parts.iter().map(|(name, sd)| format!("  {name:<21}{sd:.3}")));
    let wide = page.width() >= BESIDE_NEEDS;
    let mut left = vec![format!("{:>7}    {}", "dial", "goes under it")];
    left.extend(numbers(et).iter().map(|x| format!("{x:>7.2}    {}", odds(et.under(*x)))));
    let rows = if wide { left.len().max(beside.len()) } else { left.len() };
    for i in 0..rows {
        let right = if wide { beside.get(i).map_or("", String::as_str) } else { "" };
        page.line(format!("{:<37}{right}", left.get(i).map_or("", String::as_str)));
    }
    if !wide {
        beside.iter().for_each(|line| page.line(line));
    }
}

fn back_words(back: &Backtest) -> String {
    let miss = back.expected.map(|h| format!(", middle miss {:.3} s", h.middle_miss_s)).unwrap_or_default();
    format!("The last {} dialed this way: {} fell inside 19 in 20{miss}.", back.runs, back.inside95)
}

/// As JSON.
pub fn json(head: &Head, told: &DialTold) -> Json {
    let one = |e: &Expected| {
        json!({
            "number": e.response.key(), "expected": e.middle, "sd": e.sd, "range80": e.range(0.8), "range95": e.range(0.95),
            "sd_of": e.of, "runs": e.runs, "runs_here": e.runs_here,
        })
    };
    let et = told.expected.iter().find(|e| e.response == Response::Et);
    let odds = et.map_or(Vec::new(), |e| {
        numbers(e).into_iter().map(|x| json!({"number_s": (x * 100.0).round() / 100.0, "under": e.under(x)})).collect()
    });
    let air = json!({
        "density_kg_m3": told.air.density_kg_m3.or(told.air.usual.map(|u| u.0)), "read": told.air.air.is_some(),
        "taken_by": told.air.usual.filter(|_| told.air.air.is_none()).map(|u| u.1),
        "density_altitude_ft": told.air.air.as_ref().map(|a| a.density_altitude_ft()), "minutes_to_reading": told.air.minutes,
    });
    json!({
        "car": head.car, "version": told.version, "same_setup": told.with, "on_car": told.on_car, "finish_ft": told.finish_ft,
        "track": told.day.track, "at": told.at, "lane": told.lane, "air": air, "numbers": told.expected.iter().map(one).collect::<Vec<_>>(), "odds": odds,
        "clean_runs": told.clean, "days": told.days, "without_air": told.without_air, "looked_back": told.looked_back.as_ref().map(sum_json),
        "one_air": super::footing::json(told.footing),
    })
}

fn sum_json(b: &Backtest) -> Json {
    json!({"runs": b.runs, "inside80": b.inside80, "inside95": b.inside95, "expected": b.expected, "last_day": b.last_day,
        "fixed": b.fixed, "last_run": b.last_run.map(|(runs, last, dial)| json!({"runs": runs, "last_run": last, "expected": dial}))})
}

/// The backtest as text.
pub fn backtest_text(head: &Head, b: &Backtest) -> String {
    let mut page = head.page(&format!("{} expected from those before alone", counted(b.runs, "run")));
    if b.runs == 0 {
        page.wrap("", "Nothing to try yet: it takes five clean runs to the finish, and a day after the first.");
        return page.text();
    }
    page.gap();
    let row = |name: &str, h: Option<Habit>| {
        let number = |x: Option<f64>| x.map_or("-".to_owned(), |x| format!("{x:.3}"));
        vec![name.to_owned(), number(h.map(|h| h.middle_miss_s)), number(h.map(|h| h.mean_miss_s))]
    };
    let rows = vec![
        vec![String::new(), "middle miss".to_owned(), "mean miss".to_owned()],
        row("dial", b.expected),
        row("the last day's average", b.last_day),
        row("the book's average, cube root of density", b.fixed),
    ];
    page.table(&rows, &[1, 2]);
    if let Some((runs, last, dial)) = b.last_run {
        page.gap();
        page.wrap("", &format!("{} had one before on the same day and setup; on those alone", counted(runs, "run")));
        page.table(&[row("that run's ET", Some(last)), row("dial", Some(dial))], &[1, 2]);
    }
    page.gap();
    let share = |n: usize| 100.0 * n as f64 / b.runs as f64;
    page.line(format!("inside the range for 8 in 10:   {} of {}, {:.0} %", b.inside80, b.runs, share(b.inside80)));
    page.line(format!("inside the range for 19 in 20:  {} of {}, {:.0} %", b.inside95, b.runs, share(b.inside95)));
    page.gap();
    page.wrap(
        "",
        "In s, ET. Each run from the runs and readings before it: exponents, scatter and middle found anew from those. Its \
         sheet and its lane are taken as known. Runs you marked as not clean are left out on both sides. Half the misses are \
         smaller than the middle miss.",
    );
    page.text()
}

/// The backtest as JSON.
pub fn backtest_json(head: &Head, b: &Backtest) -> Json {
    let mut out = sum_json(b);
    if let Some(map) = out.as_object_mut() {
        map.insert("car".to_owned(), json!(head.car));
        map.insert("tried".to_owned(), json!(b.tried));
    }
    out
}

#[cfg(test)]
mod tests {
    use super::odds;

    #[test]
    fn odds_in_words() {
        for (p, words) in [
            (0.001, "less than 1 in 200"),
            (0.0125, "about  1 in 80"),
            (0.077, "about  1 in 13"),
            (0.29, "about  2 in  7"),
            (0.5, "nearly even"),
            (0.75, "about  3 in  4"),
            (0.999, "nearly always"),
        ] {
            assert_eq!(odds(p), words);
        }
    }
}
