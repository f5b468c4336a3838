//! A race day opened, shown, closed; a page of the notebook typed in late.

use crate::common::{Garage, has, has_not};
use proptest::prelude::*;
use serde_json::Value;

const PAGE: &str = "sat aug 22 2026\ntrack Osier Flats\nelevation 640\nfinish 1320\n\n\
    10:50 1.597 4.676 7.251 94.2 9.491 11.428 117.0 r hook\n\
    11:20 rear tires down 1/2 -- chasing bite\n\
    11:45 1.590 4.666 7.241 94.3 9.481 11.418 117.1 l\n\
    12:00 84F 52% 29.42 station\n\
    1:10 limiter down 1/4 why it hurt\n\
    12:50 1.600 4.677 7.252 94.2 9.492 11.430 117.0 r\n\
    1:40 measure corner lr 812\n\
    1:50 spun at the hit\n\
    2:00 note Pell drove\n\
    2:15 1.585 4.660 7.240 94.3 9.480 11.410 117.1 l\n";

/// Sunday evening.
fn at_home() -> Garage {
    let garage = Garage::with_car();
    garage.at("2026-08-23T20:00:00");
    garage
}

pub fn page(garage: &Garage, text: &str, more: &[&str]) -> Value {
    let path = garage.file("page.txt", text);
    garage.json(&[&["day", "--from", &path], more].concat())
}

pub fn refused(garage: &Garage, code: i32, text: impl AsRef<[u8]>, more: &[&str]) -> String {
    let path = garage.file("page.txt", text);
    garage.refused(code, &[&["day", "--from", &path], more].concat())
}

pub fn day_file(garage: &Garage) -> String {
    garage.read("grey", "days/2026/08-22-osier-flats.toml")
}

#[test]
fn a_whole_page_in_its_order() {
    let garage = at_home();
    let done = page(&garage, PAGE, &[]);
    for (key, n) in [("runs", 5), ("changes", 2), ("measurements", 1), ("readings", 1), ("notes", 1), ("unread", 0)] {
        assert_eq!(done[key], n, "{key}");
    }
    assert_eq!((&done["saved"], &done["new_day"]), (&Value::from(true), &Value::from(true)));
    assert_eq!(done["out_of_order"][0]["at"], "2026-08-22T12:50:00-05:00");
    assert_eq!(done["out_of_order"][0]["after"], "2026-08-22T13:10:00-05:00");
    assert_eq!(done["sum"]["best_ft60_s"], 1.585);
    assert_eq!(done["on_car"]["version"], "v3");
    assert_eq!(done["lines"][4]["meant"], "1:10 = 13:10");

    // Each line is one record at its true time; the change below is not on the run above it.
    let runs = garage.json(&["runs"]);
    let on: Vec<&str> = runs["runs"].as_array().unwrap().iter().map(|r| r["on"].as_str().unwrap()).collect();
    assert_eq!(on, ["v1", "v2", "v2", "v3", "v3"]);
    let history = garage.json(&["history"]);
    let at: Vec<&str> = history["versions"].as_array().unwrap().iter().map(|v| v["at"].as_str().unwrap()).collect();
    assert_eq!(&at[..2], ["2026-08-22T13:10:00-05:00", "2026-08-22T11:20:00-05:00"], "newest first");
    assert_eq!(history["versions"][1]["why"], "chasing bite");
    assert_eq!(history["versions"][0]["why"], "it hurt");
    assert_eq!(history["remarks"].as_array().unwrap().len(), 1);
    assert_eq!(garage.log("grey").len(), 1 + 1 + 10);
    has(
        &day_file(&garage),
        &["elevation = 640 # ft", "humidity = 52 # %", "note = \"14:00 Pell drove\"", "why_not = \"spun\""],
    );
    garage.tidy("grey", "day --from");

    let shown = garage.ok(&["day", "aug", "22"]);
    has(
        &shown,
        &[
            "Aug 22 at Osier Flats, open",
            "elevation 640 ft",
            "both rear tires down 0.5 psi",
            "why: chasing bite",
            "best 60 ft 1.585",
        ],
    );
    let place = |what: &str| shown.find(what).unwrap_or_else(|| panic!("{what} in\n{shown}"));
    assert!(place("10:50") < place("11:20") && place("11:20") < place("11:45") && place("12:50") < place("13:10"));
}

#[test]
fn told_in_words_at_the_end() {
    let garage = at_home();
    let path = garage.file("page.txt", PAGE);
    let said = garage.ok(&["day", "--from", &path]);
    has(
        &said,
        &[
            "Grey   Aug 22 at Osier Flats: 5 runs, 2 changes, 1 measurement, 1 reading, 1",
            "1 time out of order: 12:50 after 13:10?",
            "times read by their order: 1:10 = 13:10",
            "on the car: v3 since Aug 22 13:10",
            "saved",
        ],
    );
    assert!(said.lines().all(|l| l.len() <= 80), "{said}");
}

#[test]
fn all_or_nothing_unless_partial() {
    let garage = at_home();
    let wrong = format!("{PAGE}2:20 limitter dwn 1/4\nthe good one\n2:40 1.6 1.5 7.2 94 9.4 11.4 117\n");
    let said = refused(&garage, 3, &wrong, &[]);
    has(
        &said,
        &[
            "line 16:",
            "16 | 2:20 limitter dwn 1/4",
            "line 17: it does not begin with a time",
            "17 | the good one",
            "line 18: the 330 ft time",
            "3 of 13 lines cannot be read; nothing was recorded",
            "5 runs, 2 changes",
            "--partial",
        ],
    );
    refused(&garage, 3, &wrong, &["--dry-run"]);
    let done = page(&garage, &wrong, &["--partial"]);
    assert_eq!((&done["runs"], &done["unread"]), (&Value::from(5), &Value::from(3)));
    let kept = ["2:20 limitter dwn 1/4", "the good one", "2:40 1.6 1.5 7.2 94 9.4 11.4 117"];
    has(&day_file(&garage), &kept);
    has(&garage.ok(&["day", "aug", "22"]), &kept);
    garage.tidy("grey", "day --partial");

    // The same page once more: nothing is doubled.
    let before = (garage.log("grey").len(), day_file(&garage));
    let again = page(&garage, &wrong, &["--partial"]);
    assert_eq!(
        (&again["runs"], &again["changes"], &again["on_record"]),
        (&Value::from(0), &Value::from(0), &Value::from(10))
    );
    assert_eq!((garage.log("grey").len(), day_file(&garage)), before);

    // Put right, and then forgotten.
    page(&garage, "date aug 22\n2:20 pm limiter down 1/4", &[]);
    has(&garage.ok(&["day", "aug", "22"]), &["v4", "limiter lowered 0.25 in (0.75 -> 0.50)"]);
    garage.ok(&["day", "aug", "22", "--forget-unread"]);
    has_not(&day_file(&garage), &["unread", "limitter"]);
}

#[test]
fn a_dry_run_writes_nothing() {
    let garage = at_home();
    let before = garage.contents();
    let done = page(&garage, PAGE, &["--dry-run"]);
    assert_eq!((&done["saved"], &done["runs"]), (&Value::from(false), &Value::from(5)));
    assert_eq!(garage.contents(), before);
}

#[test]
fn a_run_told_again_with_its_whole_slip_is_the_same_run() {
    let garage = Garage::with_car();
    garage.ok(&["run", "--track", "Osier Flats", "1.597", "4.676", "7.251", "94.2", "9.491", "11.428", "117.0", "r"]);
    garage.at("2026-08-23T20:00:00");
    // The notebook says another minute than the clock of the machine did.
    let done = page(&garage, "aug 22\n14:17 1597 4676 7251 94.2 9491 11428 117 r\n14:40 1.6 11.5 116", &[]);
    assert_eq!((&done["runs"], &done["on_record"]), (&Value::from(1), &Value::from(1)));
    assert_eq!(garage.json(&["runs"])["runs"].as_array().unwrap().len(), 2);
}

#[test]
fn a_run_and_a_change_of_one_minute_keep_the_order_of_the_page() {
    let garage = at_home();
    page(&garage, "aug 22\ntrack Osier Flats\n11:20 1.6 11.5 116\n11:20 limiter down 1/4\n11:20 1.58 11.4 117", &[]);
    let on: Vec<Value> = garage.json(&["runs"])["runs"].as_array().unwrap().iter().map(|r| r["on"].clone()).collect();
    assert_eq!(on, ["v1", "v2"]);
    let again = page(&garage, "aug 22\n11:20 1.6 11.5 116\n11:20 limiter down 1/4\n11:20 1.58 11.4 117", &[]);
    assert_eq!(again["on_record"], 3);
}

#[test]
fn a_run_that_comes_late_goes_to_the_sheet_of_its_time() {
    let garage = at_home();
    page(&garage, PAGE, &[]);
    page(&garage, "aug 22\n11:30 1.599 11.44 116.9", &[]);
    let runs = garage.json(&["runs"]);
    assert_eq!(
        (&runs["runs"][1]["at"], &runs["runs"][1]["on"]),
        (&Value::from("2026-08-22T11:30:00-05:00"), &Value::from("v2"))
    );
    let early = refused(&garage, 3, "jul 11\ntrack Osier Flats\n11:30 1.599 11.44 116.9", &[]);
    has(&early, &["before the book begins"]);
}

#[test]
fn a_day_past_midnight() {
    let garage = at_home();
    let done = page(
        &garage,
        "aug 22\ntrack Osier Flats\n9:40 pm 1.6 11.5 116\n11:55 1.61 11.51 116\n12:30 limiter down 1/4\n1:10 1.58 11.4 117",
        &[],
    );
    assert_eq!(done["lines"][3]["at"], "2026-08-23T01:10:00-05:00");
    assert_eq!(done["out_of_order"].as_array().unwrap().len(), 0);
    let runs = garage.json(&["runs"]);
    let dates: Vec<&Value> = runs["runs"].as_array().unwrap().iter().map(|r| &r["date"]).collect();
    assert_eq!(dates, ["2026-08-22"; 3].map(Value::from).iter().collect::<Vec<_>>());
    assert_eq!(runs["runs"][2]["on"], "v2");
    has(&garage.ok(&["day", "aug", "22"]), &["01:10", "v2"]);
}

#[test]
fn the_night_the_clocks_go_back() {
    let garage = Garage::with_car();
    garage.at("2026-11-01T12:00:00");
    let text = "oct 31\ntrack Osier Flats\n22:00 1.60 11.50 116.0\n01:50 1.61 11.51 116.1\n01:20 1.62 11.52 116.2\n02:30 1.63 11.53 116.3";
    let done = page(&garage, text, &[]);
    let at: Vec<&str> = done["lines"].as_array().unwrap().iter().map(|l| l["run"]["at"].as_str().unwrap()).collect();
    assert_eq!(done["out_of_order"].as_array().unwrap().len(), 0, "{at:?}");
    // One day has one clock: the hours after the change go on by it.
    assert_eq!(
        at,
        [
            "2026-10-31T22:00:00-05:00",
            "2026-11-01T01:50:00-05:00",
            "2026-11-01T02:20:00-05:00",
            "2026-11-01T03:30:00-05:00"
        ]
    );
    assert_eq!(page(&garage, text, &[])["on_record"], 4);
    garage.tidy("grey", "a page of that night");
}

#[test]
fn a_day_at_another_offset_keeps_its_own_clock() {
    let garage = Garage::with_car();
    garage.ok(&["run", "--track", "Osier Flats", "60=1.650"]);
    garage.edit("grey", "days/2026/08-22-osier-flats.toml", |t| {
        t.replace("-05:00", "-07:00").replace("at = 14:20:00", "at = 12:20:00")
    });
    garage.ok(&["sheet", "--save"]);
    garage.at("2026-08-23T20:00:00");
    let done = page(&garage, "aug 22\n13:00 1.6 11.5 116\n13:10 limiter down 1/4", &[]);
    assert_eq!(done["lines"][0]["at"], "2026-08-22T13:00:00-07:00");
    assert_eq!(done["lines"][1]["at"], "2026-08-22T13:10:00-07:00");
}

#[test]
fn opened_amended_closed_and_open_again() {
    let garage = Garage::with_car();
    has(&garage.ok(&["day"]), &["nothing is on record for this day"]);
    garage.refused(2, &["day", "--close"]);
    garage.refused(2, &["day", "--prep", "glue"]);
    has(
        &garage.ok(&["day", "--track", "Osier Flats", "--elevation", "640", "--finish", "660", "--prep", "glue"]),
        &["Aug 22 at Osier Flats, open", "finish 660 ft, elevation 640 ft, prep glue, clock UTC-05:00"],
    );
    assert_eq!(garage.log("grey")[0], "day at Osier Flats, 660 ft finish");
    has(&garage.last_message("grey"), &["Kind: other"]);
    garage.ok(&["day", "--note", "lane 2 is bumpy"]);
    garage.ok(&["day", "--note", "left early"]);
    garage.ok(&["run", "1.40", "4.1", "6.3", "108"]);
    garage.refused(2, &["day", "--finish", "1320"]);
    garage.ok(&["day", "--elevation", "650", "--close"]);
    let day = garage.json(&["day"])["days"][0].clone();
    assert_eq!(
        (&day["closed"], &day["elevation_ft"], &day["finish_ft"]),
        (&Value::from(true), &Value::from(650), &Value::from(660))
    );
    assert_eq!(day["note"], "lane 2 is bumpy\nleft early");
    has(&garage.run(&["change", "limiter", "down", "1/4"]).stderr, &["Aug 22 at Osier Flats was closed"]);
    has(&garage.ok(&["run", "1.41", "4.1", "6.3", "108"]), &["the day was closed; it is open again"]);
    assert_eq!(garage.json(&["day"])["days"][0]["closed"], false);
    garage.tidy("grey", "day --close");

    // The track's facts are remembered; its preparation is of the day.
    garage.at("2026-08-29T09:00:00");
    garage.ok(&["day", "--track", "osier flats"]);
    let day = garage.json(&["day"])["days"][0].clone();
    assert_eq!(
        (&day["track"], &day["elevation_ft"], &day["finish_ft"]),
        (&Value::from("Osier Flats"), &Value::from(650), &Value::from(660))
    );
    assert!(day["prep"].is_null());
    garage.refused(2, &["day", "jul", "4"]);
    garage.refused(2, &["day", "2027-08-22", "--track", "Osier Flats"]);
}

#[test]
fn a_day_told_late_does_not_hide_the_sheet_of_its_time() {
    let garage = Garage::with_car();
    garage.ok(&["change", "limiter", "down", "1/4"]);
    garage.at("2026-08-23T20:00:00");
    // The reading stands at its own time in the log, on the newest sheet: a run before the change is not on that.
    page(&garage, "aug 15\ntrack Osier Flats\n10:00 84F 52%", &[]);
    page(&garage, "aug 16\ntrack Osier Flats\n10:00 1.6 11.5 116", &[]);
    assert_eq!(garage.json(&["runs"])["runs"][0]["on"], "v1");
}

#[test]
fn what_is_refused_whole() {
    let garage = at_home();
    for (code, text, why) in [
        (2, &b"aug 22\n"[..], "no line of the page"),
        (2, b"car Wren\n10:50 limiter down 1/4", "the page is of Wren"),
        (2, b"10:50 1.6 11.5 116", "which track"),
        (3, b"10:50 \xff\xfe", "not UTF-8"),
        (3, b"date aug 22\n10:50 limiter 1", "nothing would change"),
        (3, b"date aug 22\n10:50 measure limiter height 0.5", "set by a hand"),
        (3, b"date aug 23\n23:50 limiter down 1/4", "still to come"),
        (2, b"date 2031-08-22\n10:50 limiter down 1/4", "still to come"),
        (2, b"date aug 22\n10:50 rear tires 2", "psi"),
    ] {
        let said = refused(&garage, code, text, &[]);
        assert!(said.contains(why), "{why} in\n{said}");
    }
    has(&refused(&garage, 3, "x\n".repeat(2000), &[]), &["more than 1000 lines"]);
    has(&refused(&garage, 2, PAGE, &["jul", "4"]), &["the page is of 2026-08-22"]);
    has(&refused(&garage, 2, PAGE, &["--track", "Tern Hollow"]), &["another track"]);
    garage.refused(4, &["day", "--from", "/nonexistent"]);
    garage.refused(2, &["day", "--paste"]);
    garage.refused(2, &["day", "--partial"]);
    // Nothing a line holds acts on the terminal.
    let said = refused(&garage, 3, "aug 22\ntrack Osier Flats\n10:50 \u{1b}[2Jlimiter dwn", &[]);
    crate::common::no_controls(&said);
}

#[test]
fn a_page_filled_in_is_read_back() {
    let garage = at_home();
    let blank = garage.ok(&["page", "--blank"]);
    let lines: Vec<&str> = blank.lines().collect();
    assert!(lines.len() <= 60, "{} lines", lines.len());
    assert!(lines.iter().all(|l| l.len() <= 80 && l.is_ascii()), "{blank}");
    has(&blank, &["car Grey", "finish 1320", "# on the car: v1", "limiter", "12.5"]);
    has(&refused(&garage, 2, &blank, &[]), &["no line of the page"]);

    // By hand: a value written over each blank, the rest of the blank left.
    let mut filled: Vec<String> = lines.iter().map(|l| (*l).to_owned()).collect();
    let mut over = |start: &str, n: usize, values: &[&str]| {
        let at = (0..filled.len()).filter(|i| lines[*i].starts_with(start)).nth(n).unwrap();
        for value in values {
            let line = &filled[at];
            let from = if line.starts_with(start) && !start.starts_with('_') { start.len() } else { 0 };
            let blank = line[from..].find("__").into_iter().chain(line[from..].find("..")).min().unwrap() + from;
            let of = line.as_bytes()[blank] as char;
            let end = line[blank..].find(|c| c != of).map_or(line.len(), |e| blank + e);
            let rest = if *value == "=" { "\u{1}".repeat(end - blank) } else { (*value).to_owned() };
            let width = end - blank;
            let left = if rest.len() < width && of == '.' && width > 6 {
                "\u{2}".repeat(width - rest.len())
            } else {
                String::new()
            };
            filled[at] = format!("{}{rest}{left}{}", &line[..blank], &line[end..]);
        }
    };
    over("date ", 0, &["sat aug 22"]);
    over("track ", 0, &["Osier Flats"]);
    over("elevation ", 0, &["640"]);
    over("_____ air", 0, &["9:50", "84", "52", "29.42", "="]);
    over(
        "_____ ______",
        0,
        &["10:50", "1.650", "4.801", "7.402", "93.8", "9.655", "11.593", "116.1", "l", "dead hook"],
    );
    over("_____ change", 0, &["11:20", "rear tires down 1/2", "chasing bite"]);
    over("_____ ______", 1, &["11:45", "1.640", "=", "=", "=", "=", "11.55", "116.4", "r"]);
    over("_____ change", 1, &["1:05", "limiter down 1/4"]);
    over("_____ measure", 0, &["1:30", "corner lr 812"]);
    let text: String = filled
        .iter()
        .map(|l| {
            format!(
                "{}\n",
                l.chars()
                    .map(|c| match c {
                        '\u{1}' => '_',
                        '\u{2}' => '.',
                        c => c,
                    })
                    .collect::<String>()
            )
        })
        .collect();
    let done = page(&garage, &text, &[]);
    for (key, n) in [("runs", 2), ("changes", 2), ("measurements", 1), ("readings", 1), ("unread", 0)] {
        assert_eq!(done[key], n, "{key} of\n{text}");
    }
    assert_eq!(done["lines"][1]["run"]["mph1320"], 116.1);
    assert_eq!(done["lines"][1]["run"]["did"][0], "dead hook");
    assert_eq!(done["lines"][3]["run"]["ft1320"], 11.55);
    assert!(done["lines"][3]["run"]["ft330"].is_null());
    assert_eq!(done["day"]["elevation_ft"], 640);
    assert_eq!(done["day"]["readings"][0]["pressure_station"], 29.42);
    let short = garage.ok(&["page", "--blank", "--finish", "660"]);
    has(&short, &["finish 660"]);
    has_not(&short, &["1000", "1320"]);
    garage.refused(2, &["page"]);
}

#[test]
fn the_page_of_every_sample_car_fits() {
    let garage = Garage::sample();
    for car in ["dunlin", "knot", "plover"] {
        for finish in ["660", "1000", "1320"] {
            let blank = garage.ok(&["page", "--blank", "--car", car, "--finish", finish]);
            assert!(blank.lines().count() <= 60 && blank.lines().all(|l| l.chars().count() <= 80), "{blank}");
        }
    }
}

/// What happens on a generated day.
#[derive(Debug, Clone)]
enum Happens {
    Run(u32, bool),
    Limiter(i8),
    Air(u8),
    Corner(u16),
    Note(u8),
}

fn happens() -> impl Strategy<Value = Happens> {
    prop_oneof![
        4 => (0..90u32, any::<bool>()).prop_map(|(n, l)| Happens::Run(n, l)),
        2 => prop_oneof![Just(1i8), Just(-1), Just(2)].prop_map(Happens::Limiter),
        1 => (60..100u8).prop_map(Happens::Air),
        1 => (700..900u16).prop_map(Happens::Corner),
        1 => any::<u8>().prop_map(Happens::Note),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 12, failure_persistence: None, ..ProptestConfig::default() })]

    /// A day recorded line by line as it happened, and the same day written as a page and read on Sunday, say the same.
    #[test]
    fn a_day_written_as_a_page_gives_the_same_records(day in prop::collection::vec((1..40u32, happens()), 1..9), twelve in any::<bool>()) {
        let (live, late) = (Garage::with_car(), at_home());
        live.ok(&["day", "aug", "22", "--track", "Osier Flats"]);
        let mut text = "aug 22\ntrack Osier Flats\n".to_owned();
        let mut minute = 9 * 60;
        let mut notes = Vec::new();
        for (later, what) in &day {
            minute += later;
            let clock = format!("{:02}:{:02}", minute / 60, minute % 60);
            let written = if twelve { format!("{}:{:02}", (minute / 60 + 11) % 12 + 1, minute % 60) } else { clock.clone() };
            let when = format!("2026-08-22 {clock}");
            live.at(&format!("2026-08-22T{clock}:00"));
            let line = match what {
                Happens::Run(n, left) => {
                    let lane = if *left { "l" } else { "r" };
                    let slip = [format!("1.{:03}", 580 + n), format!("11.{:03}", 400 + n), "117.0".to_owned(), lane.to_owned()];
                    let args: Vec<&str> = slip.iter().map(String::as_str).collect();
                    live.ok(&[&["run", "--at", &when][..], &args[..]].concat());
                    slip.join(" ")
                }
                Happens::Limiter(n) => {
                    let words = format!("limiter {} 1/{}", if *n < 0 { "down" } else { "up" }, 8 * n.abs());
                    live.ok(&["change", &words, "--when", &when, "--yes"]);
                    words
                }
                Happens::Air(f) => format!("{f}F 50%"),
                Happens::Corner(lb) => {
                    let words = format!("corner lr {lb}");
                    let _ = live.run(&["change", &words, "--when", &when, "--yes"]);
                    format!("measure {words}")
                }
                Happens::Note(n) => {
                    notes.push(format!("{clock} it was {n}"));
                    format!("note it was {n}")
                }
            };
            text.push_str(&format!("{written} {line}\n"));
        }
        let done = page(&late, &text, &["--yes"]);
        prop_assert_eq!(&done["unread"], 0);
        prop_assert_eq!(done["out_of_order"].as_array().unwrap().len(), 0, "{}", text);
        let of = |g: &Garage| {
            let (runs, history) = (g.json(&["runs", "--all"]), g.json(&["history", "--all"]));
            let pick = |v: &Value, keys: &[&str]| keys.iter().map(|k| v[*k].clone()).collect::<Vec<_>>();
            let runs: Vec<_> = runs["runs"].as_array().unwrap().iter().map(|r| pick(r, &["at", "on", "lane", "ft60", "ft1320", "mph1320", "setup"])).collect();
            let versions: Vec<_> = history["versions"].as_array().unwrap().iter().map(|v| pick(v, &["version", "at", "words", "kind"])).collect();
            (runs, versions, g.json(&["sheet"])["fields"].clone())
        };
        prop_assert_eq!(of(&live), of(&late), "{}", text);
        let note = done["day"]["note"].as_str().unwrap_or_default().to_owned();
        for line in &notes {
            prop_assert!(note.contains(line.as_str()), "{} in {}", line, note);
        }
        late.tidy("grey", "a generated page");
    }
}
