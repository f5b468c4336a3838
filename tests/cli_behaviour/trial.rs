//! Trials: planned, begun, run, given up; what belongs to them, and that they lie in the book like any other record.

use crate::common::{Garage, has, has_not};
use serde_json::Value;

/// v1 with the limiter at 1.00, v2 with it at 0.75; v2 is on the car.
fn two_setups() -> Garage {
    let garage = Garage::with_car();
    garage.at("2026-08-22T09:00:00");
    garage.ok(&["change", "limiter", "down", "1/4"]);
    garage
}

fn run_at(garage: &Garage, at: &str, words: &[&str]) {
    garage.at(&format!("2026-08-22T{at}:00"));
    garage.ok(&[&["run", "--track", "Osier Flats"], words].concat());
}

fn next(garage: &Garage) -> Value {
    garage.json(&["trial", "status"])["next"].clone()
}

#[test]
fn a_plan_comes_back_to_where_it_began() {
    let garage = two_setups();
    let plan = garage.json(&["trial", "plan", "v1", "v2", "--runs", "4"]);
    let orders = plan["orders"].as_array().unwrap();
    assert!(orders.len() >= 4, "{plan}");
    let best = &orders[0];
    assert_eq!((&best["comes_back"], &plan["runs_a_side"]), (&Value::from(true), &Value::from(4)));
    let order = best["order"].as_str().unwrap();
    // v2 is on the car: beginning with it saves a change-over.
    assert!(order.starts_with('B') && order.len() == 8 && order.matches('A').count() == 4, "{order}");
    assert_eq!(plan["on_car"], "b");
    // The limiter's minutes are those of the schema, one way as the other.
    let limiter = garage.json(&["wrench", "v1"])["minutes"].clone();
    assert_eq!(plan["turning"][1]["minutes"], limiter);
    assert_eq!(plan["minutes_per_change_over"].as_f64(), limiter.as_f64());
    let said = garage.ok(&["trial", "plan", "v1", "v2", "--runs", "4"]);
    has(
        &said,
        &[
            "Run      BB AAAA BB",
            "slipbook trial start NAME v1 v2 --order BBAAAABB",
            "wrench v1 v2",
            "does not come back",
        ],
    );
}

#[test]
fn a_plan_knows_the_time_there_is() {
    let garage = two_setups();
    let args = ["trial", "plan", "v1", "v2", "--runs", "2", "--between", "20", "--minutes"];
    let plan = |minutes| garage.json(&[&args[..], &[minutes]].concat());
    let two = plan("200")["orders"][0].clone();
    assert_eq!((&two["fits"], &two["change_overs"]), (&Value::from(true), &Value::from(2)));
    // Three times twenty, and two change-overs.
    let swap = plan("200")["minutes_per_change_over"].as_f64().unwrap();
    assert_eq!(two["minutes"].as_f64().unwrap(), 60.0 + 2.0 * swap);
    assert_eq!(plan("30")["orders"][0]["fits"], false);
    let short = [&args[..], &["30"]].concat();
    has(&garage.ok(&short), &["in 30 it cannot be done"]);
}

#[test]
fn a_plan_that_cannot_be_meant_is_refused() {
    let garage = two_setups();
    has(&garage.refused(2, &["trial", "plan", "v2", "v2"]), &["v2 against itself"]);
    has(&garage.refused(2, &["trial", "plan", "v1", "v2", "--runs", "1"]), &["one run a side is too early to call"]);
    has(&garage.refused(2, &["trial", "plan", "v1", "v2", "61"]), &["`61` is no number of the slip"]);
    has(&garage.refused(2, &["trial", "plan", "v1", "v9"]), &["`v9` names no version"]);
    has(&garage.refused(2, &["trial", "plan", "v1", "v2", "--matters", "much"]), &["`much`"]);
    garage.ok(&["revert", "v1"]);
    has(&garage.refused(2, &["trial", "plan", "v1", "v3"]), &["v1 and v3 are one setup"]);
    has(&garage.refused(2, &["trial", "start", "x", "v1", "v2", "--order", "ABA"]), &["one run a side"]);
    has(&garage.refused(2, &["trial", "start", "x", "v1", "v2", "--order", "AABB"]), &["does not come back"]);
    has(&garage.refused(2, &["trial", "start", "x", "v1", "v2", "--order", "ABC"]), &["no order"]);
    has(&garage.refused(2, &["trial", "start", "...", "v1", "v2"]), &["a letter or a digit"]);
    has(&garage.refused(2, &["trial", "status"]), &["no trial is on record"]);
    has(&garage.refused(2, &["trial", "drop", "clamps"]), &["no trial \"clamps\""]);
}

#[test]
fn from_the_start_to_the_last_run() {
    let garage = two_setups();
    // Before the start: it belongs to nothing.
    run_at(&garage, "09:30", &["60=1.640"]);
    garage.at("2026-08-22T10:00:00");
    let said = garage.ok(&["trial", "start", "limiter", "v1", "v2", "--order", "BAAB", "--why", "does it bite"]);
    has(
        &said,
        &["trial \"limiter\": v1 (A) against v2 (B), 60 ft", "1 run on v2: it is on the car", "saved", "does it bite"],
    );
    assert_eq!(garage.log("grey")[0], "trial limiter started: v1 against v2, order BAAB");
    has(&garage.last_message("grey"), &["Kind: other", "Trial: limiter", "Why: does it bite"]);
    has(
        &garage.read("grey", "trials/limiter.toml"),
        &["format = 1", "a = \"v1\"", "b = \"v2\"", "order = \"BAAB\"", "matters_s = 0.005 # s"],
    );
    garage.tidy("grey", "trial start");
    let words = |n: &Value| (n["side"].clone(), n["runs"].clone(), n["on_car"].clone());
    assert_eq!(words(&next(&garage)), ("b".into(), 1.into(), true.into()));
    garage.at("2026-08-22T10:30:00");
    // The answer to the run says what it was to the trial, and what comes next.
    let said = garage.json(&["run", "60=1.641"]);
    has(said["notes"].to_string().as_str(), &["run 1 of 4, on B. Next: put v1 on (the list: wrench v1), then 2 runs"]);
    assert_eq!(words(&next(&garage)), ("a".into(), 2.into(), false.into()));
    has(&garage.ok(&["trial"]), &["1 trial, 1 open", "put v1 on (the list: wrench v1), then 2 runs"]);
    garage.ok(&["revert", "v1"]);
    run_at(&garage, "11:10", &["60=1.650"]);
    run_at(&garage, "11:40", &["60=1.652"]);
    has(&garage.ok(&["trial", "status"]), &["put v2 back on (the list: wrench v2), then 1 run"]);
    garage.ok(&["revert", "v2"]);
    run_at(&garage, "12:20", &["60=1.639"]);
    let status = garage.json(&["trial", "status", "limiter"]);
    assert_eq!((&status["order_run"], &status["next"]["do"]), (&"BAAB".into(), &"judge".into()));
    let runs = status["runs"].as_array().unwrap();
    let seen: Vec<(&str, f64)> =
        runs.iter().map(|r| (r["side"].as_str().unwrap(), r["as_run_s"].as_f64().unwrap())).collect();
    assert_eq!(seen, [("b", 1.641), ("a", 1.65), ("a", 1.652), ("b", 1.639)]);
    assert_eq!(status["not_counted"].as_array().map(Vec::len), Some(0));
}

#[test]
fn what_does_not_count_is_listed_with_its_reason() {
    let garage = two_setups();
    garage.at("2026-08-22T10:00:00");
    garage.ok(&["trial", "start", "limiter", "v1", "v2", "et"]);
    run_at(&garage, "10:30", &["60=1.641", "1320=11.40"]);
    garage.at("2026-08-22T11:00:00");
    has(&garage.ok(&["run", "60=1.640"]), &["trial \"limiter\": this run does not count: no ET on the slip"]);
    run_at(&garage, "11:30", &["60=1.640", "1320=12.40", "clean", "330", "missed", "shift"]);
    // Something changed between noon and one, and nobody knows when.
    run_at(&garage, "12:30", &["60=1.640", "1320=11.42"]);
    garage.at("2026-08-22T13:30:00");
    garage.ok(&["change", "rear.tire.pressure=12", "--between", "12:00", "13:00"]);
    run_at(&garage, "14:00", &["60=1.640", "1320=11.42"]);
    let status = garage.json(&["trial", "status"]);
    assert_eq!(status["order_run"], "B", "{status}");
    let why: Vec<&str> = status["not_counted"].as_array().unwrap().iter().map(|l| l["why"].as_str().unwrap()).collect();
    assert_eq!(why.len(), 4, "{why:?}");
    for (why, wanted) in why.iter().zip([
        "no ET on the slip",
        "clean to 330 ft only",
        "in a window",
        "made on v3, which is neither setup",
    ]) {
        assert!(why.contains(wanted), "{why}");
    }
    has(&garage.ok(&["trial", "status"]), &["Not counted", "no ET on the slip"]);
}

#[test]
fn a_trial_ends_once_and_oops_takes_it_back() {
    let garage = two_setups();
    garage.ok(&["trial", "start", "Limiter", "v1", "v2"]);
    has(&garage.refused(2, &["trial", "start", "limiter", "v1", "v2"]), &["a trial \"Limiter\"", "another name"]);
    garage.ok(&["trial", "drop", "--why", "rain"]);
    assert_eq!(garage.log("grey")[0], "trial Limiter dropped: rain");
    has(&garage.read("grey", "trials/limiter.toml"), &["[dropped]", "why = \"rain\""]);
    has(&garage.refused(2, &["trial", "drop", "limiter"]), &["was dropped"]);
    has(&garage.refused(2, &["trial", "drop"]), &["no trial is open"]);
    garage.tidy("grey", "trial drop");
    has(&garage.ok(&["oops"]), &["took back: trial Limiter dropped: rain"]);
    has_not(&garage.read("grey", "trials/limiter.toml"), &["[dropped]"]);
    assert_eq!(garage.json(&["trial"])["trials"][0]["open"], true);
    garage.tidy("grey", "oops of a drop");
    // The start itself, and back again.
    has(&garage.ok(&["oops"]), &["put back: trial Limiter dropped"]);
    garage.ok(&["trial", "start", "other", "v1", "v2"]);
    garage.ok(&["oops"]);
    assert!(!garage.book("grey").join("trials/other.toml").exists());
    assert_eq!(garage.json(&["trial"])["trials"].as_array().map(Vec::len), Some(1));
    garage.tidy("grey", "oops of a start");
}

/// A trial of something else is begun beside an open one, which is named.
#[test]
fn an_open_trial_is_named() {
    let garage = two_setups();
    garage.ok(&["trial", "start", "bite", "v1", "v2"]);
    has(&garage.ok(&[]), &["trial    \"bite\" open since Aug 22 09:00, v1 against v2: slipbook trial status"]);
    assert_eq!(garage.json(&[])["open_trials"], serde_json::json!(["bite"]));
    garage.ok(&["change", "rear.tire.pressure=12"]);
    let told = garage.run(&["trial", "start", "tires", "v2", "v3"]);
    assert_eq!(told.code, 0, "{}", told.stderr);
    has(&told.stderr, &["trial \"bite\" (v1 against v2) is open since", "slipbook trial drop bite"]);
    has(&garage.ok(&[]), &["2 open: \"bite\", \"tires\": slipbook trial"]);
    garage.ok(&["trial", "drop", "bite"]);
    garage.ok(&["trial", "drop", "tires"]);
    has_not(&garage.ok(&[]), &["trial    "]);
}

/// Two laptops: what one records of a trial touches that trial's file alone.
#[test]
fn one_file_a_trial() {
    let garage = two_setups();
    garage.ok(&["trial", "start", "one", "v1", "v2"]);
    // Another that turns the same: which of the two a run is for, nobody could say.
    let said = garage.refused(2, &["trial", "start", "two", "v1", "v2"]);
    has(&said, &["trial \"one\" (v1 against v2) is open since Aug 22", "turns limiter height as this one does"]);
    has(&said, &["slipbook trial judge one, or slipbook trial drop one", "--even-open"]);
    let told = garage.run(&["trial", "start", "two", "v1", "v2", "--even-open"]);
    has(&told.stderr, &["trial \"one\" (v1 against v2) is open since", "a run may belong to both"]);
    assert_eq!(told.code, 0);
    has(&garage.refused(2, &["trial", "drop"]), &["which trial?", "one, two"]);
    garage.ok(&["trial", "drop", "one"]);
    let names = garage.git("grey", &["log", "-3", "--format=", "--name-only"]);
    let names: Vec<&str> = names.lines().filter(|l| !l.is_empty()).collect();
    assert_eq!(names, ["trials/one.toml", "trials/two.toml", "trials/one.toml"]);
}

#[test]
fn what_a_hand_edits_is_never_lost() {
    let garage = two_setups();
    garage.ok(&["trial", "start", "limiter", "v1", "v2"]);
    garage.edit("grey", "trials/limiter.toml", |t| t.replace("order =", "# mind the wind\norder ="));
    has(
        &garage.refused(3, &["trial", "drop"]),
        &["trials/limiter.toml was changed or deleted by hand", "sheet --save"],
    );
    garage.ok(&["sheet", "--save"]);
    garage.tidy("grey", "an edit saved");
    garage.ok(&["trial", "drop"]);
    has(&garage.read("grey", "trials/limiter.toml"), &["# mind the wind", "[dropped]"]);
    // A wrong edit is told with its line, and nothing is saved.
    garage.edit("grey", "trials/limiter.toml", |t| t.replace("a = \"v1\"", "a = \"first\""));
    has(&garage.refused(3, &["sheet", "--save"]), &["`first` is no version", "trials/limiter.toml"]);
    // The rest of the book goes on.
    garage.ok(&["history"]);
    garage.ok(&["run", "--track", "Osier Flats", "60=1.640"]);
}

/// A file that is broken in the record itself is one clear error where it is asked for, and nowhere else.
#[test]
fn a_broken_file_on_record_stops_only_trials() {
    let garage = two_setups();
    garage.ok(&["trial", "start", "limiter", "v1", "v2"]);
    garage.edit("grey", "trials/limiter.toml", |_| "format = 7\nname = 3\n".to_owned());
    garage.git("grey", &["add", "-A"]);
    garage.git("grey", &["commit", "-q", "-m", "by hand"]);
    has(&garage.refused(3, &["trial"]), &["`format` is not 1", "trials/limiter.toml"]);
    garage.ok(&["history"]);
    garage.ok(&["change", "limiter", "down", "1/8"]);
    garage.tidy("grey", "a change beside a broken trial");
}

#[test]
fn mends_and_copies_keep_it() {
    let garage = two_setups();
    garage.at("2026-08-22T10:00:00");
    garage.ok(&["trial", "start", "limiter", "v1", "v2"]);
    run_at(&garage, "10:30", &["60=1.641"]);
    run_at(&garage, "11:30", &["60=1.643"]);
    let file = garage.read("grey", "trials/limiter.toml");
    // A mend with a side line: the launch was higher all along.
    garage.ok(&["mend", "v1", "launch.rpm=4300", "--always"]);
    assert_eq!(garage.read("grey", "trials/limiter.toml"), file);
    garage.tidy("grey", "a mend");
    let status = garage.json(&["trial", "status"]);
    assert_eq!((&status["order_run"], &status["trial"]["open"]), (&"BB".into(), &true.into()));
    // A change told late takes a run away from B.
    garage.at("2026-08-22T12:00:00");
    garage.ok(&["change", "rear.tire.pressure=12", "--when", "11:00"]);
    let status = garage.json(&["trial", "status"]);
    assert_eq!(status["order_run"], "B", "{status}");
    has(status["not_counted"][0]["why"].as_str().unwrap(), &["neither setup"]);
    let copy = garage.root().join("copy");
    garage.ok(&["copy", &copy.display().to_string()]);
    assert_eq!(std::fs::read_to_string(copy.join("trials/limiter.toml")).unwrap(), file);
}

/// A version that was taken back: the trial says so instead of judging something else.
#[test]
fn a_side_that_is_gone_is_said() {
    let garage = two_setups();
    garage.ok(&["trial", "start", "limiter", "v1", "v2", "--when", "09:10"]);
    garage.ok(&["mend", "v2", "--never"]);
    let status = garage.json(&["trial", "status"]);
    assert_eq!(status["next"]["do"], "drop", "{status}");
    has(&garage.ok(&["trial", "status"]), &["v2 is no longer on record"]);
}

/// Twelve runs of a limiter that is worth 30 ms, in the order B A A B by threes.
fn run_through(garage: &Garage) {
    let mut minute = 0;
    let mut runs = |numbers: &[&str]| {
        for n in numbers {
            minute += 20;
            run_at(garage, &format!("{:02}:{:02}", 10 + minute / 60, minute % 60), &[n]);
        }
    };
    runs(&["60=1.611", "60=1.607", "60=1.612"]);
    garage.ok(&["revert", "v1"]);
    runs(&["60=1.640", "60=1.645", "60=1.638", "60=1.642", "60=1.640", "60=1.641"]);
    garage.ok(&["revert", "v2"]);
    runs(&["60=1.609", "60=1.613", "60=1.608"]);
}

fn limiter_trial() -> Garage {
    let garage = two_setups();
    garage.at("2026-08-22T10:00:00");
    garage.ok(&["trial", "start", "limiter", "v1", "v2", "--order", "BBBAAAAAABBB"]);
    garage
}

/// One verdict: the trial's numbers are blame's, and what was said by hand is the plain arithmetic beside them.
#[test]
fn the_verdict_is_that_of_blame_and_is_written_down() {
    let garage = limiter_trial();
    run_through(&garage);
    let before = garage.contents();
    let dry = garage.json(&["trial", "judge", "--dry-run"]);
    assert_eq!((&dry["saved"], &dry["trial"]["open"]), (&false.into(), &false.into()));
    assert_eq!(before, garage.contents(), "a dry run wrote something");
    let said = garage.ok(&["trial", "judge"]);
    has(&said, &["Verdict  ", "a gain", "toggled: the car came back", "both on Aug 22", "By hand  -0.031 s", "saved"]);
    garage.tidy("grey", "trial judge");
    has(&garage.log("grey")[0], &["trial limiter judged: ", "a gain, -0.0"]);
    let trial = garage.json(&["trial"])["trials"][0].clone();
    let judged = &trial["judged"];
    let blame = garage.json(&["blame", "60", "--all"]);
    // v4 is v2 once more, after v1 once more: the same step.
    let of_v4 = blame["changes"].as_array().unwrap().iter().find(|c| c["version"] == "v4").unwrap();
    for key in ["effect_s", "sd_s", "lo95_s", "hi95_s"] {
        let (ours, theirs) = (judged[key].as_f64().unwrap(), of_v4[key].as_f64().unwrap());
        assert!((ours - theirs).abs() <= 0.000_051, "{key}: {ours} {theirs}");
    }
    // (1.611+1.607+1.612+1.609+1.613+1.608)/6 - (1.640+1.645+1.638+1.642+1.640+1.641)/6
    assert!((judged["by_hand_s"].as_f64().unwrap() + 0.031).abs() < 1e-4, "{judged}");
    let ids = |key: &str| judged[key].as_array().map(Vec::len);
    assert_eq!((ids("runs_a"), ids("runs_b")), (Some(6), Some(6)));
    assert_eq!(judged["order_run"], "BBBAAAAAABBB");
    assert_eq!(judged["air_kg_m3"], Value::Null, "no run has air");
    // The verdict stays as it was given, whatever comes after; oops opens the trial again.
    has(&garage.refused(2, &["trial", "judge", "limiter"]), &["was judged", "a gain"]);
    garage.ok(&["oops"]);
    assert_eq!(garage.json(&["trial"])["trials"][0]["open"], true);
    garage.tidy("grey", "oops of a verdict");
}

/// A machine whose clock is behind the track's: what was entered counts, before the verdict and after it.
#[test]
fn runs_ahead_of_the_clock_belong_to_it() {
    let garage = limiter_trial();
    run_through(&garage);
    garage.at("2026-08-22T11:00:00");
    let orders = |said: &Value| said["order_run"].clone();
    assert_eq!(orders(&garage.json(&["trial", "status"])), "BBBAAAAAABBB");
    let judged = garage.json(&["trial", "judge"]);
    assert_eq!((&orders(&judged), &judged["runs"].as_array().map(Vec::len)), (&"BBBAAAAAABBB".into(), &Some(12)));
    assert_eq!(orders(&garage.json(&["trial", "status", "limiter"])), "BBBAAAAAABBB");
    garage.ok(&["oops"]);
    let dropped = garage.json(&["trial", "drop", "--why", "rain"]);
    assert_eq!(orders(&dropped), "BBBAAAAAABBB");
    garage.tidy("grey", "trial drop");
}

#[test]
fn history_tells_the_trial_on_its_versions() {
    let garage = limiter_trial();
    run_through(&garage);
    garage.ok(&["change", "launch.rpm=4300"]);
    let history = garage.ok(&["history"]);
    assert_eq!(history.matches("trial \"limiter\"").count(), 3, "v2, v3, v4: {history}");
    has_not(&history, &["judged"]);
    garage.ok(&["trial", "judge", "limiter"]);
    let json = garage.json(&["history"]);
    let told = |v: usize| json["versions"][v]["trials"].clone();
    assert_eq!(json["versions"][0]["version"], "v5");
    assert_eq!(told(0), serde_json::json!([]));
    assert_eq!(told(1), serde_json::json!([{"name": "limiter", "ended": "judged"}]));
    assert_eq!(told(2), serde_json::json!([{"name": "limiter", "ended": null}]));
    assert_eq!(told(4), serde_json::json!([]), "v1 was there before");
    assert_eq!(garage.ok(&["history"]).matches("trial \"limiter\", judged").count(), 1);
}

#[test]
fn what_cannot_be_judged_is_refused_and_early_is_said() {
    let garage = limiter_trial();
    has(&garage.refused(2, &["trial", "judge"]), &["no run on v1 counts yet (A)"]);
    run_at(&garage, "10:20", &["60=1.611"]);
    has(&garage.refused(2, &["trial", "judge"]), &["no run on v1 counts yet (A)"]);
    garage.ok(&["revert", "v1"]);
    run_at(&garage, "10:50", &["60=1.640"]);
    let judged = garage.json(&["trial", "judge", "--dry-run"])["trial"]["judged"].clone();
    assert_eq!(judged["verdict"], "too early to call");
    let evidence = judged["evidence"].to_string();
    has(&evidence, &["judged early: 2 runs, 12 were planned", "not toggled", "both on Aug 22", "more runs a side"]);
}

/// What the model expects decides the number of runs.
#[test]
fn a_plan_asks_for_as_many_runs_as_settle_it() {
    let garage = limiter_trial();
    let plan = |more: &[&str]| garage.json(&[&["trial", "plan", "v1", "v2", "--between", "10"], more].concat());
    assert_eq!(plan(&[])["settles"], Value::Null, "neither has a run");
    run_at(&garage, "09:20", &["60=1.622"]);
    garage.ok(&["revert", "v1"]);
    run_at(&garage, "09:40", &["60=1.640"]);
    let asked = plan(&[]);
    let (at_80, runs) = (asked["settled_with"]["at_80"].as_u64(), asked["runs_a_side"].as_u64().unwrap());
    match at_80 {
        Some(m) => assert_eq!(runs, m.max(2).next_multiple_of(2), "{asked}"),
        None => has(&garage.ok(&["trial", "plan", "v1", "v2"]), &["more than 12"]),
    }
    let said = plan(&["--runs", "5"]);
    assert_eq!(said["runs_a_side"], 5);
    assert!((0.0..=1.0).contains(&said["settles"].as_f64().unwrap()), "{said}");
    // What is settled is said to be.
    garage.ok(&["revert", "v2"]);
    run_through(&garage);
    let settled = plan(&[]);
    assert!(settled["verdict"].as_str().unwrap().ends_with("_gain"), "{settled}");
    has(&garage.ok(&["trial", "plan", "v1", "v2"]), &["Settled  ", "would only confirm it"]);
}

#[test]
fn the_next_experiment() {
    let garage = Garage::with_car();
    has(&garage.ok(&["trial", "next"]), &["v1 as it is", "no run that counts"]);
    run_at(&garage, "09:00", &["60=1.640"]);
    run_at(&garage, "09:20", &["60=1.644"]);
    assert_eq!(garage.json(&["trial", "next"])["experiments"], serde_json::json!([]));
    has(&garage.ok(&["trial", "next"]), &["Test     nothing"]);
    // Three things at once, and one run: nobody knows what did what. Hole and height are one job where they go together.
    garage.ok(&["change", "limiter", "down", "1/4,", "rear", "tires", "12,", "rear", "shocks", "looser", "2"]);
    run_at(&garage, "10:00", &["60=1.630"]);
    run_at(&garage, "10:20", &["60=1.655"]);
    let next = garage.json(&["trial", "next", "--matters", "0.001"]);
    let all = next["experiments"].as_array().unwrap();
    let of = |key: &str| {
        let one = |e: &&Value| e["fields"] == serde_json::json!([key]);
        all.iter().find(one).unwrap_or_else(|| panic!("{key}: {next}"))
    };
    for key in ["rear.limiter.height", "rear.tire.pressure"] {
        let e = of(key);
        assert_eq!(e["back_to"], "v1");
        assert!(!e["parted_from"].as_array().unwrap().is_empty(), "{e}");
        let gain = e["gain_s"].as_f64().unwrap();
        assert!((0.0..0.05).contains(&gain), "{e}");
        // Three pauses, there and back.
        let swap = e["turning_minutes"].as_f64().unwrap();
        let between = garage.json(&["trial", "next", "--between", "30"])["experiments"].clone();
        let with_30 = between.as_array().unwrap().iter().find(|x| x["fields"] == e["fields"]).unwrap();
        assert_eq!(with_30["minutes"].as_f64().unwrap(), 90.0 + 2.0 * swap);
    }
    // The best for its minutes stands first; what is not worth a test says so.
    let rates: Vec<f64> = all.iter().map(|e| e["gain_s"].as_f64().unwrap() / e["minutes"].as_f64().unwrap()).collect();
    assert!(rates.windows(2).all(|w| w[0] >= w[1]), "{rates:?}");
    let least = next["least_gain_s"].as_f64().unwrap();
    assert!(all.iter().all(|e| e["worth_a_test"] == (e["gain_s"].as_f64().unwrap() >= least)));
    // The same book gives the same answer, and nothing is written.
    let before = garage.contents();
    assert_eq!(next, garage.json(&["trial", "next", "--matters", "0.001"]));
    assert_eq!(before, garage.contents());
    has(&garage.refused(2, &["trial", "next", "61"]), &["`61` is no number of the slip"]);
}

/// One run a side is too early to call, whatever the runs of other days on the two setups say; that goes first.
#[test]
fn one_run_a_side_is_early_before_it_is_anything_else() {
    let garage = two_setups();
    let mut n = 0;
    let mut pairs = |count: usize| {
        for _ in 0..count {
            for version in ["v2", "v1"] {
                garage.run(&["revert", version]);
                n += 1;
                run_at(&garage, &format!("{:02}:{:02}", 10 + n / 4, 15 * (n % 4)), &["60=1.610"]);
            }
        }
    };
    pairs(7);
    garage.at("2026-08-22T13:35:00");
    garage.ok(&["trial", "start", "limiter", "v1", "v2", "--order", "ABBA"]);
    pairs(1);
    let judged = garage.json(&["trial", "judge", "--dry-run"])["trial"]["judged"].clone();
    let verdict = judged["verdict"].as_str().unwrap();
    assert!(verdict.starts_with("too early to call by this trial, 1 on A and 1 on B; "), "{judged}");
    assert!(verdict.contains("no effect worth chasing"), "{judged}");
    let said = garage.ok(&["trial", "judge", "--dry-run"]);
    assert!(said.find("too early").unwrap() < said.find("no effect").unwrap(), "{said}");
    assert!(said.find("too early").unwrap() < said.find("Answer").unwrap(), "{said}");
}
