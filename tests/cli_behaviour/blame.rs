//! What blame says of books: sound ones, and those with next to nothing in them.

use crate::common::{Garage, has, has_not};
use serde_json::Value;

const HEAD: &str = "date,time,track,lane,ft60,ft660,ft1320,mph1320,clean_to,why_not,temperature,humidity,\
                    pressure_station,rear.limiter.height,change_time";

/// A run of a made-up day.
#[derive(Clone)]
pub struct Pass {
    pub day: u32,
    pub minute: u32,
    pub ft60: Option<f64>,
    pub et: f64,
    pub lane: &'static str,
    pub marked: bool,
    pub air: bool,
    pub limiter: &'static str,
    pub unknown: bool,
}

/// Passes on two settings of the limiter, there and back on each of `days` days, `a_side` runs each; `worth` is what the
/// second one is worth in the 60 ft. Scatter by a fixed rule.
pub fn toggled(days: u32, a_side: u32, worth: f64) -> Vec<Pass> {
    let mut out = Vec::new();
    let mut state = 7_u64;
    let mut scatter = move || {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        ((state >> 33) as f64 / f64::from(1_u32 << 31) - 0.5) * 0.02
    };
    for day in 0..days {
        let of_day = scatter();
        for (block, limiter) in ["1.00", "0.75"].into_iter().enumerate() {
            for i in 0..a_side {
                let ft60 = 1.640 + of_day + scatter() + if block == 1 { worth } else { 0.0 };
                out.push(Pass {
                    day: day + 1,
                    minute: 30 * (block as u32 * a_side + i),
                    ft60: Some(ft60),
                    et: 11.5 + 1.6 * (ft60 - 1.64) + scatter(),
                    lane: if i % 2 == 0 { "left" } else { "right" },
                    marked: false,
                    air: true,
                    limiter,
                    unknown: false,
                });
            }
        }
    }
    out
}

/// The passes as a season table.
pub fn table(passes: &[Pass]) -> String {
    let mut out = format!("{HEAD}\n");
    for p in passes {
        let (hour, minute) = (9 + p.minute / 60, p.minute % 60);
        let ft60 = p.ft60.map_or(String::new(), |t| format!("{t:.3}"));
        let marked = if p.marked { "0,spun" } else { "," };
        let air = if p.air { "80,50,29.4" } else { ",," };
        let unknown = if p.unknown { "unknown" } else { "" };
        out.push_str(&format!(
            "2026-08-{:02},{hour}:{minute:02},Osier Flats,{},{ft60},{:.3},{:.3},116.5,{marked},{air},{},{unknown}\n",
            p.day + 1,
            p.lane,
            p.et * 0.64,
            p.et,
            p.limiter,
        ));
    }
    out
}

/// A garage with these passes in its book.
pub fn book(passes: &[Pass]) -> Garage {
    let garage = Garage::with_car();
    let path = garage.file("season.csv", table(passes));
    garage.json(&["import", "--yes", &path]);
    garage
}

fn changes(blame: &Value) -> Vec<&Value> {
    blame["changes"].as_array().unwrap().iter().filter(|c| !c["effect_s"].is_null()).collect()
}

fn of<'a>(blame: &'a Value, version: &str) -> &'a Value {
    blame["changes"].as_array().unwrap().iter().find(|c| c["version"] == version).unwrap()
}

#[test]
fn a_change_toggled_on_three_days_is_found() {
    let garage = book(&toggled(3, 4, -0.040));
    let blame = garage.json(&["blame"]);
    let best = of(&blame, "v2");
    assert_eq!(best["evidence"], "almost_certainly_gain", "{blame}");
    assert!((best["effect_s"].as_f64().unwrap() + 0.040).abs() < 0.012, "{best}");
    assert_eq!((&best["n_without"], &best["n_with"]), (&Value::from(12), &Value::from(12)));
    assert_eq!(best["toggled_with"].as_array().unwrap().len(), 4, "{best}");
    assert_eq!(best["same_days"].as_array().unwrap().len(), 3);
    for key in
        ["sd_s", "lo90_s", "hi90_s", "lo95_s", "hi95_s", "p_gain", "p_loss", "p_same", "bundle", "n_runs", "n_days"]
    {
        assert!(!best[key].is_null(), "{key}: {best}");
    }
    assert_eq!(best["fields"], serde_json::json!(["rear.limiter.height"]));
    // The way back is the same with the other sign, and stands under the first in the table.
    let back = of(&blame, "v3");
    assert_eq!(back["effect_s"].as_f64(), best["effect_s"].as_f64().map(|x| -x));
    assert_eq!(back["evidence"], "almost_certainly_loss");
    let told = garage.ok(&["blame"]);
    has(&told, &["Keep      v2.", "almost certainly a gain", "toggled: v3", "12|12"]);
    has_not(&told, &["caused", "Take back"]);
    // The finish time says so too, through its 60 ft; and so does the history.
    assert_eq!(of(&garage.json(&["blame", "et"]), "v2")["evidence"], "almost_certainly_gain");
    has(&garage.ok(&["history", "--all"]), &["in the 60 ft: almost certainly a gain"]);
    has(&garage.ok(&["diff", "v1", "v2"]), &["almost certainly quicker"]);
}

#[test]
fn nothing_is_called_where_nothing_happened() {
    let garage = book(&toggled(3, 4, 0.0));
    let blame = garage.json(&["blame"]);
    assert!(changes(&blame).iter().all(|c| !c["evidence"].as_str().unwrap().contains("likely")), "{blame}");
}

#[test]
fn books_with_next_to_nothing() {
    let first = toggled(1, 4, -0.05);
    let only = |n: usize| first[..n].to_vec();
    // No run.
    let garage = Garage::with_car();
    let blame = garage.json(&["blame"]);
    assert_eq!((&blame["counted"], blame["changes"].as_array().unwrap().len()), (&Value::from(0), 0));
    has(&garage.ok(&["blame"]), &["No run counts yet."]);
    // One run; one version.
    for n in [1, 4] {
        let garage = book(&only(n));
        assert!(changes(&garage.json(&["blame"])).is_empty());
        has(&garage.ok(&["blame"]), &["Nothing was changed"]);
    }
    // All runs marked bad.
    let marked: Vec<Pass> = first.iter().map(|p| Pass { marked: true, ..p.clone() }).collect();
    let garage = book(&marked);
    assert_eq!(garage.json(&["blame"])["changes"][0]["evidence"], "never_run");
    has(&garage.ok(&["blame"]), &["every run is marked bad", "Never run clean: v2"]);
    // Two runs on two setups: the model runs, the verdict is too early.
    let garage = book(&[first[0].clone(), first[4].clone()]);
    let blame = garage.json(&["blame"]);
    assert_eq!(of(&blame, "v2")["evidence"], "too_early", "{blame}");
    has(&garage.ok(&["blame"]), &["too early to call: 1 run", "Nothing is settled yet."]);
    // A version nobody ran, before one that was: it came along.
    let garage = book(&first[..4]);
    garage.at("2026-08-20T10:00:00");
    garage.ok(&["change", "limiter", "0.75"]);
    garage.at("2026-08-20T10:05:00");
    garage.ok(&["change", "rear", "tire", "13", "--yes"]);
    for (i, t) in ["1.600", "1.604", "1.597"].into_iter().enumerate() {
        garage.at(&format!("2026-08-20T1{}:30:00", i + 1));
        garage.ok(&["run", t, "--track", "Osier Flats"]);
    }
    let blame = garage.json(&["blame"]);
    assert_eq!(of(&blame, "v2")["evidence"], "never_run", "{blame}");
    let both = of(&blame, "v3");
    assert_eq!((&both["before"], &both["along"]), (&Value::from("v1"), &serde_json::json!(["v2"])));
    assert_eq!(both["cannot_be_told_apart"][0].as_array().unwrap().len(), 2, "{both}");
    has(
        &garage.ok(&["blame"]),
        &["changed together: cannot be told apart", "limiter lowered", "never both on one day"],
    );
}

#[test]
fn books_without_air_60_ft_or_lanes() {
    let full = toggled(3, 4, -0.04);
    let gain = |garage: &Garage, number: &str| of(&garage.json(&["blame", number]), "v2").clone();
    let no_air = book(&full.iter().map(|p| Pass { air: false, ..p.clone() }).collect::<Vec<_>>());
    assert_eq!(gain(&no_air, "60")["evidence"], "almost_certainly_gain");
    has(&no_air.ok(&["blame"]), &["as run, not in one air: no run has air on record"]);
    let no_60 = book(&full.iter().map(|p| Pass { ft60: None, ..p.clone() }).collect::<Vec<_>>());
    assert!(gain(&no_60, "et")["effect_s"].as_f64().unwrap() < -0.03);
    assert_eq!(no_60.json(&["blame", "60"])["counted"], 0);
    let no_lane = book(&full.iter().map(|p| Pass { lane: "", ..p.clone() }).collect::<Vec<_>>());
    assert_eq!(gain(&no_lane, "60")["evidence"], "almost_certainly_gain");
    // What is not on record is not said to be allowed for.
    for args in [&["blame"][..], &["blame", "--field", "limiter"]] {
        let told = no_lane.ok(args).replace('\n', " ");
        has(&told, &["day, wear and drift"]);
        has_not(&told, &["lane"]);
    }
    has(&no_lane.ok(&["history"]).replace('\n', " "), &["blame's word, the day allowed for"]);
    has(&no_lane.ok(&["diff", "v1", "v2"]).replace('\n', " "), &["allows for air, day, wear and drift"]);
    let explained = no_lane.ok(&["blame", "--explain", "v2"]).replace('\n', " ");
    has(&explained, &["weighs days and air", "one air = sheet + day + left over", "means in one air (runs)"]);
    has_not(&explained, &["lane"]);
    has(&no_air.ok(&["blame", "--explain", "v2"]), &["means as run (runs)", "weighs days and lanes, and"]);
    has(&no_air.ok(&["blame"]).replace('\n', " "), &["day, lane, wear and drift, not air."]);
    // Every number of the slip answers.
    for number in ["330", "660", "1000", "et", "mph"] {
        no_lane.ok(&["blame", number]);
    }
    let mph = no_lane.json(&["blame", "mph"]);
    assert!(!of(&mph, "v2")["effect_mph"].is_null(), "{mph}");
}

#[test]
fn an_eighth_mile_book() {
    let quarter = table(&toggled(3, 4, -0.04));
    // The same days with the finish at 660 ft: what stood under 660 ft is the finish time.
    let mut lines = quarter.lines().map(|l| l.split(',').map(str::to_owned).collect::<Vec<_>>());
    let mut head = lines.next().unwrap();
    head.push("finish".to_owned());
    let mut out = format!("{}\n", head.join(","));
    for mut cells in lines {
        (cells[6], cells[7]) = (String::new(), String::new());
        cells.push("660".to_owned());
        out.push_str(&format!("{}\n", cells.join(",")));
    }
    let garage = Garage::with_car();
    let path = garage.file("season.csv", out);
    garage.json(&["import", "--yes", &path]);
    let blame = garage.json(&["blame", "et"]);
    let v2 = of(&blame, "v2");
    assert_eq!(v2["evidence"], "almost_certainly_gain", "{blame}");
    let effect = v2["effect_s"].as_f64().unwrap();
    assert!((-0.075..-0.025).contains(&effect), "{effect}");
}

#[test]
fn a_bad_run_nobody_marked_neither_buys_nor_costs() {
    let mut passes = toggled(3, 4, 0.0);
    for p in passes.iter_mut().filter(|p| p.day == 2 && p.limiter == "0.75").take(1) {
        (p.ft60, p.et) = (Some(1.95), 12.1);
    }
    let blame = book(&passes).json(&["blame"]);
    let v2 = of(&blame, "v2");
    assert!(v2["effect_s"].as_f64().unwrap().abs() < 0.01, "{v2}");
    assert!(v2["p_loss"].as_f64().unwrap() < 0.5, "{v2}");
}

#[test]
fn a_change_of_unknown_time_leaves_the_runs_before_it_out() {
    let mut passes = toggled(1, 4, -0.04);
    passes[4].unknown = true;
    let garage = book(&passes);
    let blame = garage.json(&["blame"]);
    assert_eq!(blame["left_out"], serde_json::json!([{"why": "maybe_after", "runs": 2}]), "{blame}");
    assert_eq!((&of(&blame, "v2")["n_without"], &of(&blame, "v2")["n_with"]), (&Value::from(2), &Value::from(4)));
    has(&garage.ok(&["history"]), &["or before, when is not known"]);
    // Said by hand.
    garage.at("2026-08-21T12:00:00");
    garage.ok(&["change", "limiter", "1.00", "--when", "unknown"]);
    has(&garage.ok(&["history"]), &["when is not known"]);
}

#[test]
fn what_is_asked_of_blame_is_checked() {
    let garage = book(&toggled(2, 3, -0.04));
    has(&garage.refused(2, &["blame", "61"]), &["is no number of the slip"]);
    has(&garage.refused(2, &["blame", "--matters", "-1"]), &["is nothing to chase"]);
    has(&garage.refused(2, &["blame", "--since", "someday"]), &["is no day"]);
    let all = garage.json(&["blame"])["counted"].as_u64().unwrap();
    let since = garage.json(&["blame", "--since", "2026-08-03"]);
    assert_eq!(since["counted"].as_u64().unwrap(), all / 2, "{since}");
    assert_eq!(since["left_out"][0]["why"], "outside");
    let strict = garage.json(&["blame", "--matters", "0.030"]);
    assert!(of(&strict, "v2")["p_gain"].as_f64() <= of(&garage.json(&["blame"]), "v2")["p_gain"].as_f64());
}

/// A narrow screen wraps the range of an effect; it does not drop it.
#[test]
fn a_narrow_screen_keeps_the_ranges() {
    let garage = Garage::sample();
    let wide = garage.ok(&["blame", "60", "--car", "plover"]);
    let narrow = garage.run_with(garage.root(), &[("COLUMNS", "40")], &["blame", "60", "--car", "plover"]);
    assert!(narrow.stdout.lines().all(|l| l.chars().count() <= 40), "{}", narrow.stdout);
    let ranges: Vec<String> = wide
        .lines()
        .filter_map(|l| {
            let words: Vec<&str> = l.split_whitespace().collect();
            (words.get(2) == Some(&"and")).then(|| format!("between {} and {}", words[1], words[3]))
        })
        .collect();
    assert!(ranges.len() > 3, "{wide}");
    let flat = narrow.stdout.split_whitespace().collect::<Vec<_>>().join(" ");
    for range in ranges {
        assert!(flat.contains(&format!("{range}, 95 times in 100")), "{range}: {}", narrow.stdout);
    }
}
