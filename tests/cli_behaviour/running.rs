//! A run from its time slip.

use crate::common::{Garage, has, has_not};
use serde_json::Value;

const WHOLE: [&str; 8] = ["1.597", "4.676", "7.251", "94.2", "9.491", "11.428", "117.0", "r"];

/// A garage with a car and one run, so that the track is known.
pub fn at_the_track() -> Garage {
    let garage = Garage::with_car();
    garage.ok(&["run", "--track", "Osier Flats", "--elevation", "612", "60=1.650"]);
    garage.at("2026-08-22T15:00:00");
    garage
}

/// The run just recorded.
fn recorded(garage: &Garage, args: &[&str]) -> Value {
    garage.json(&[&["run"], args].concat())["run"].clone()
}

fn numbers(run: &Value) -> [&Value; 7] {
    ["ft60", "ft330", "ft660", "mph660", "ft1000", "ft1320", "mph1320"].map(|k| &run[k])
}

#[test]
fn a_whole_slip_in_its_order() {
    let garage = Garage::with_car();
    garage.refused(2, &[&["run"], &WHOLE[..]].concat());
    let said = garage.ok(&[
        &["run", "--track", "Osier Flats", "--prep", "glue", "--air", "84F 52% 29.42 station"],
        &WHOLE[..],
        &["hook"],
    ]
    .concat());
    has(
        &said,
        &[
            "Grey   v1, run 1, right lane, Aug 22 14:20   saved",
            "NEW DAY opened: Aug 22 2026 at Osier Flats, 1320 ft finish",
            "slipbook oops takes both back",
            "60 ft 1.597",
            "ET",
            "11.428",
            "117.00 mph",
            "dead hook",
        ],
    );
    has(&said, &["too early to call"]);
    let day = garage.read("grey", "days/2026/08-22-osier-flats.toml");
    has(
        &day,
        &[
            "finish = 1320 # ft",
            "utc_offset = \"-05:00\"",
            "prep = \"glue\"",
            "ft60 = 1.597 # s",
            "mph1320 = 117.00 # mph",
            "humidity = 52 # %",
            "pressure_station = 29.42 # inHg",
            "on = \"v1\"",
        ],
    );
    assert_eq!(garage.log("grey")[0], "v1 run: 60 ft 1.597, ET 11.428 at 117.00 mph, right lane");
    garage.tidy("grey", "run");
}

/// The run holds the id of the sheet it was made on, and stock git knows that id.
#[test]
fn linked_to_its_sheet_by_id() {
    let garage = at_the_track();
    let run = recorded(&garage, &["1.6", "11.4", "117.1"]);
    assert_eq!(run["setup"], garage.git("grey", &["rev-parse", "HEAD:setup.toml"]).trim());
    assert_eq!(run["setup"].as_str().map(str::len), Some(40));
    assert_eq!(run["on"], "v1");
    assert!(run["id"].as_str().is_some_and(|id| id.len() >= 7));
}

#[test]
fn thousandths_without_the_point() {
    let garage = at_the_track();
    let run = recorded(&garage, &["1597", "4676", "7251", "94.2", "9491", "11428", "117"]);
    let wanted = [1.597, 4.676, 7.251, 94.2, 9.491, 11.428, 117.0];
    assert_eq!(numbers(&run).map(|n| n.as_f64().unwrap()), wanted);
}

#[test]
fn by_name_and_in_any_order() {
    let garage = at_the_track();
    let run = recorded(&garage, &["et=11.428", "left", "mph=117", "60=1597", "rt=.050", "rise=3.5", "shook"]);
    assert_eq!(
        (run["ft60"].as_f64(), run["ft1320"].as_f64(), run["mph1320"].as_f64()),
        (Some(1.597), Some(11.428), Some(117.0))
    );
    assert_eq!((run["reaction"].as_f64(), run["front_rise"].as_f64()), (Some(0.05), Some(3.5)));
    assert_eq!((&run["lane"], &run["did"][0]), (&Value::from("left"), &Value::from("shook")));
}

#[test]
fn a_reaction_leads_the_slip() {
    let garage = at_the_track();
    let run = recorded(&garage, &[&[".050"], &WHOLE[..]].concat());
    assert_eq!((run["reaction"].as_f64(), run["ft1320"].as_f64()), (Some(0.05), Some(11.428)));
}

#[test]
fn any_may_be_missing() {
    let garage = at_the_track();
    let run = recorded(&garage, &["1.702", "-", "-", "-", "-", "12.9", "88"]);
    assert_eq!(
        (run["ft60"].as_f64(), run["ft330"].as_f64(), run["ft1320"].as_f64(), run["mph1320"].as_f64()),
        (Some(1.702), None, Some(12.9), Some(88.0))
    );
    assert_eq!(recorded(&garage, &["1.61"])["ft60"], 1.61);
    assert_eq!(recorded(&garage, &["11.4", "117.1"])["ft1320"], 11.4);
    let eighth = recorded(&garage, &["1.6", "4.68", "7.25", "94.2"]);
    assert_eq!((eighth["ft660"].as_f64(), eighth["mph660"].as_f64()), (Some(7.25), Some(94.2)));
}

/// 117 is a speed as well as 117.1 is, wherever it stands.
#[test]
fn a_short_slip_with_a_round_speed() {
    let garage = at_the_track();
    let run = recorded(&garage, &["1.6", "11.4", "117"]);
    assert_eq!(
        (run["ft60"].as_f64(), run["ft1320"].as_f64(), run["mph1320"].as_f64()),
        (Some(1.6), Some(11.4), Some(117.0))
    );
    assert_eq!(recorded(&garage, &["11.4", "117"])["mph1320"], 117);
}

#[test]
fn eighth_mile_and_thousand_foot() {
    let garage = Garage::with_car();
    let eighth =
        garage.json(&["run", "--track", "Heron Bend", "--finish", "660", "1.421", "4.098", "6.349", "106.98", "l"]);
    assert_eq!(
        (&eighth["finish_ft"], &eighth["run"]["ft660"], &eighth["run"]["mph660"]),
        (&Value::from(660), &Value::from(6.349), &Value::from(106.98))
    );
    assert_eq!(garage.log("grey")[0], "v1 run: 60 ft 1.421, ET 6.349 at 106.98 mph, left lane");
    garage.at("2026-08-29T12:00:00");
    let thousand = garage.json(&[
        "run",
        "--track",
        "Alder Reach",
        "--finish",
        "1000",
        "1.380",
        "3.960",
        "6.130",
        "110.9",
        "8.020",
        "131.2",
    ]);
    assert_eq!(
        (&thousand["finish_ft"], &thousand["run"]["ft1000"], &thousand["run"]["mph1000"]),
        (&Value::from(1000), &Value::from(8.02), &Value::from(131.2))
    );
    has(&garage.ok(&["runs"]), &["Heron Bend, 660 ft", "Alder Reach, 1000 ft"]);
    has(&garage.refused(2, &["run", "--track", "New", "--finish", "500", "60=1.4"]), &["500", "660, 1000 or 1320"]);
    has(&garage.refused(2, &["run", "--finish", "660", "60=1.4"]), &["1000"]);
}

#[test]
fn a_red_light_is_no_fault_of_the_chassis() {
    let garage = at_the_track();
    let said = garage.ok(&["run", "rt=-.012", "60=1.597", "et=11.428"]);
    has(&said, &["-0.012", "red light"]);
    assert_eq!(
        garage.json(&["runs"])["runs"].as_array().unwrap().iter().filter(|r| r["clean_to_ft"].is_null()).count(),
        2,
        "it is clean to the finish"
    );
}

/// A slip begins with its reaction, and a red one is written `-.012`.
#[test]
fn a_red_light_in_slip_order() {
    let garage = at_the_track();
    for typed in ["-0.012", "-.012"] {
        let run = recorded(&garage, &[&["--yes", typed], &WHOLE[..]].concat());
        assert_eq!((run["reaction"].as_f64(), run["ft60"].as_f64()), (Some(-0.012), Some(1.597)), "{typed}");
    }
}

#[test]
fn what_it_did_and_how_far_it_counts() {
    let garage = at_the_track();
    let spun = recorded(&garage, &["1.702", "-", "-", "-", "-", "12.9", "88", "spun", "at", "the", "hit"]);
    assert_eq!(
        (&spun["did"][0], &spun["why_not"], &spun["clean_to_ft"]),
        (&Value::from("spun at the hit"), &Value::from("spun"), &Value::from(0))
    );
    let lifted = recorded(&garage, &["1.6", "4.7", "7.3", "94", "lifted", "at", "330"]);
    assert_eq!((&lifted["why_not"], &lifted["clean_to_ft"]), (&Value::from("lifted"), &Value::from(330)));
    let shift = recorded(&garage, &["60=1.6", "et=11.9", "missed", "shift"]);
    assert_eq!((&shift["why_not"], &shift["clean_to_ft"]), (&Value::from("missed shift"), &Value::from(60)));
    let two = recorded(
        &garage,
        &[
            "60=1.6",
            "et=11.5",
            "went",
            "left",
            "bounced",
            "deep",
            "elimination",
            "2",
            "psi",
            "12.0/12.25",
            "rpm",
            "4300",
        ],
    );
    assert_eq!(two["did"], serde_json::json!(["went left", "bounced"]));
    assert_eq!(
        (&two["lane"], &two["staged"], &two["round"]),
        (&Value::Null, &Value::from("deep"), &Value::from("elimination 2"))
    );
    assert_eq!(
        (two["psi_rear_left"].as_f64(), two["psi_rear_right"].as_f64(), two["rpm_launch"].as_f64()),
        (Some(12.0), Some(12.25), Some(4300.0))
    );
    // What does not count is counted nowhere.
    let history = garage.json(&["history"]);
    assert_eq!(history["versions"][0]["runs"], 5);
    assert_eq!(history["versions"][0]["ft60_s"]["n"], 4, "all but the spun one: {history}");
}

#[test]
fn other_words_are_a_note() {
    let garage = at_the_track();
    let run = recorded(&garage, &["60=1.6", "straight", "as", "a", "string"]);
    assert_eq!(run["note"], "straight as a string");
    let run = recorded(&garage, &["60=1.61", "--note", "smoke: \"white\"\tand \u{f6}"]);
    has(run["note"].as_str().unwrap(), &["smoke: \"white\"", "\u{f6}"]);
    garage.tidy("grey", "a note");
}

/// What should have been a number and is none is told, not kept as a note.
#[test]
fn no_number_is_told() {
    let garage = at_the_track();
    has(&garage.refused(2, &["run", "60=1.6o"]), &["1.6o"]);
    has(&garage.refused(2, &["run", "1.6o", "4.5"]), &["1.6o"]);
    has(&garage.refused(2, &["run", "1.597", "4.676", "7.251", "94.2", "9.4g1", "11.428", "117.0", "r"]), &["9.4g1"]);
}

#[test]
fn the_wrong_pair_is_named() {
    let garage = at_the_track();
    has(
        &garage.refused(2, &["run", "1.7", "1.6", "7.2", "94", "9.4", "11.4", "117.1"]),
        &["330 ft", "1.600", "60 ft", "1.700"],
    );
    has(&garage.refused(2, &["run", "660=7.2", "et=7.1"]), &["1320 ft", "660 ft"]);
    has(&garage.refused(2, &["run", "et=11.4", "mph=470"]), &["470", "10 to 400"]);
    has(&garage.refused(2, &["run", "60=0.2"]), &["60 ft", "0.2"]);
    // Faster over the last part than the speed at its end allows by far.
    garage.refused(2, &["run", "1.597", "4.676", "7.251", "94.2", "7.5", "7.6", "117.1"]);
    has(&garage.refused(2, &["run", "60=1.6", "60=1.7"]), &["60 ft", "twice"]);
    has(&garage.refused(2, &["run", "1.5", "2.5", "3.5", "4.5", "5.5"]), &["which is which", "ft60 ft330 ft660"]);
    has(&garage.refused(2, &["run"]), &["no slip"]);
}

#[test]
fn a_day_lasts_until_six() {
    let garage = at_the_track();
    garage.at("2026-08-23T00:40:00");
    garage.ok(&["run", "60=1.61"]);
    garage.at("2026-08-23T05:59:59");
    garage.ok(&["run", "60=1.62"]);
    assert!(!garage.book("grey").join("days/2026/08-23-osier-flats.toml").exists());
    garage.at("2026-08-23T06:00:00");
    has(&garage.ok(&["run", "60=1.63"]), &["at Osier Flats, 1320 ft finish"]);
    assert!(garage.book("grey").join("days/2026/08-23-osier-flats.toml").exists());
    let runs = garage.json(&["runs", "aug", "22"]);
    assert_eq!(runs["runs"].as_array().map(Vec::len), Some(3), "{runs}");
    // A clock time after midnight is of the day at hand.
    garage.at("2026-08-23T23:50:00");
    let run = recorded(&garage, &["--at", "00:30", "60=1.64"]);
    assert_eq!(run["at"], "2026-08-24T00:30:00-05:00");
    garage.tidy("grey", "runs after midnight");
}

#[test]
fn earlier_than_the_last_run_is_asked_about() {
    let garage = at_the_track();
    let early = ["run", "--at", "14:00", "60=1.6"];
    has(&garage.refused(2, &early), &["Aug 22 2026 14:00", "before the last run on record", "--yes"]);
    garage.ok(&[&early[..], &["--yes"]].concat());
    let runs = garage.json(&["runs"]);
    let at: Vec<&str> = runs["runs"].as_array().unwrap().iter().map(|r| r["at"].as_str().unwrap()).collect();
    assert!(at.is_sorted(), "{at:?}");
    garage.tidy("grey", "an earlier run");
    has(&garage.refused(2, &["run", "--at", "2026-08-22", "60=1.6"]), &["a date without its time"]);
    has(&garage.refused(2, &["run", "--at", "2026-07-01 12:00", "--yes", "60=1.6"]), &["before the book begins"]);
}

#[test]
fn the_sheet_of_its_time_or_the_one_named() {
    let garage = at_the_track();
    garage.ok(&["change", "--when", "15:00", "limiter", "down", "1/4"]);
    garage.at("2026-08-22T16:00:00");
    assert_eq!(recorded(&garage, &["60=1.6"])["on"], "v2");
    let late = recorded(&garage, &["--at", "14:50", "--yes", "60=1.66"]);
    assert_eq!(late["on"], "v1", "v2 went on at 15:00");
    let old = recorded(&garage, &["--on", "v1", "60=1.65"]);
    assert_eq!(old["on"], "v1");
    let first = &garage.json(&["runs", "v1"])["runs"][0]["setup"];
    assert_eq!(&old["setup"], first);
    has(&garage.refused(2, &["run", "--on", "v9", "60=1.6"]), &["`v9`", "v1 to v2"]);
    let history = garage.json(&["history"]);
    assert_eq!((&history["versions"][0]["runs"], &history["versions"][1]["runs"]), (&Value::from(1), &Value::from(3)));
}

#[test]
fn a_track_is_remembered() {
    let garage = at_the_track();
    garage.at("2026-08-29T12:00:00");
    for feet in ["15001", "-1501", "1e300", "nan"] {
        let said = garage.refused(2, &["run", "--track", "Heron Bend", &format!("--elevation={feet}"), "60=1.6"]);
        has(&said, &["is no elevation in feet", "--elevation 640"]);
    }
    garage.ok(&["run", "--track", "Heron Bend", "--finish", "660", "--elevation", "1180", "60=1.6"]);
    garage.at("2026-08-30T12:00:00");
    has(&garage.ok(&["run", "60=1.6"]), &["at Heron Bend, 660 ft finish"]);
    has(&garage.read("grey", "days/2026/08-30-heron-bend.toml"), &["finish = 660 # ft", "elevation = 1180 # ft"]);
    garage.at("2026-09-05T12:00:00");
    has(&garage.ok(&["run", "--track", "osier flats", "60=1.6"]), &["1320 ft finish"]);
    has(&garage.read("grey", "days/2026/09-05-osier-flats.toml"), &["elevation = 612 # ft", "track = \"Osier Flats\""]);
    garage.tidy("grey", "three tracks");
}

#[test]
fn two_tracks_on_one_date() {
    let garage = at_the_track();
    garage.ok(&["run", "--track", "Heron Bend", "--finish", "660", "60=1.6"]);
    garage.ok(&["run", "--track", "Heron Bend", "60=1.61"]);
    garage.ok(&["run", "--track", "Osier Flats", "60=1.62"]);
    let runs = garage.json(&["runs", "aug", "22"]);
    let tracks: Vec<&str> = runs["runs"].as_array().unwrap().iter().map(|r| r["track"].as_str().unwrap()).collect();
    assert_eq!(tracks.iter().filter(|t| **t == "Heron Bend").count(), 2, "{tracks:?}");
    assert_eq!(tracks.len(), 4);
    garage.tidy("grey", "two tracks");
}

/// A slip typed in twice is asked about; one of another minute, or of other numbers, is another run.
#[test]
fn the_same_slip_again() {
    let garage = at_the_track();
    garage.ok(&["run", "60=1.6", "1320=11.4"]);
    let said = garage.refused(2, &["run", "60=1.600", "et=11.4", "left"]);
    has(&said, &["the same slip is on record at 15:00", "--yes if it was run twice"]);
    garage.ok(&["run", "60=1.6", "et=11.41"]);
    garage.at("2026-08-22T15:01:00");
    garage.ok(&["run", "60=1.6", "et=11.4"]);
    garage.ok(&["run", "60=1.6", "et=11.4", "--yes"]);
    // Words alone are no slip.
    garage.ok(&["run", "broke"]);
    garage.ok(&["run", "broke"]);
    assert_eq!(garage.json(&["runs"])["runs"].as_array().map(Vec::len), Some(7));
    garage.tidy("grey", "a slip twice");
}

/// The elevation as it is said, on every command that takes it.
#[test]
fn an_elevation_in_feet_or_meters() {
    for (said, feet) in [("640ft", "640"), ("640 ft", "640"), ("195m", "640"), ("195 m", "640"), ("640", "640")] {
        let garage = Garage::with_car();
        garage.ok(&["run", "--track", "Osier Flats", "--elevation", said, "60=1.6"]);
        garage.ok(&["air", "--track", "Heron Bend", "--elevation", said, "84F"]);
        garage.ok(&["day", "aug", "21", "--track", "Tern Spit", "--elevation", said]);
        for day in ["22-osier-flats", "22-heron-bend", "21-tern-spit"] {
            has(&garage.read("grey", &format!("days/2026/08-{day}.toml")), &[&format!("elevation = {feet} # ft")]);
        }
    }
    let garage = at_the_track();
    for bad in ["195 yd", "high", "", "20000m"] {
        garage.refused(2, &["air", "84F", "--elevation", bad]);
        garage.refused(2, &["day", "--elevation", bad]);
    }
}

#[test]
fn two_runs_in_one_second() {
    let garage = at_the_track();
    let (a, b) = (recorded(&garage, &["60=1.6"]), recorded(&garage, &["60=1.6", "--yes"]));
    assert_ne!(a["id"], b["id"]);
    assert_eq!(garage.json(&["runs"])["runs"].as_array().map(Vec::len), Some(3));
    garage.tidy("grey", "two runs in one second");
}

#[test]
fn a_day_edited_by_hand_keeps_its_comments() {
    let garage = at_the_track();
    let day = "days/2026/08-22-osier-flats.toml";
    garage.edit("grey", day, |t| t.replace("ft60 = 1.650 # s", "ft60 = 1.650 # s\n# lane was wet"));
    garage.ok(&["sheet", "--save"]);
    garage.ok(&["run", "60=1.6"]);
    has(&garage.read("grey", day), &["# lane was wet", "ft60 = 1.650", "ft60 = 1.600"]);
    garage.tidy("grey", "a run under a comment");
}

/// A run typed at home days later makes a day of its own: that is the first thing said, and one word undoes all of it.
#[test]
fn a_day_that_was_opened_unasked_is_told_first_and_taken_back_whole() {
    let garage = Garage::with_car();
    garage.ok(&["run", "--track", "Osier Flats", "60=1.6"]);
    let before = garage.contents();
    garage.at("2026-08-24T21:00:00");
    let said = garage.ok(&["run", "60=1.61"]);
    let lines: Vec<&str> = said.lines().collect();
    has(lines[1], &["NEW DAY opened: Aug 24 2026 at Osier Flats"]);
    assert!(garage.book("grey").join("days/2026/08-24-osier-flats.toml").exists());
    garage.ok(&["oops", "--yes"]);
    assert!(!garage.book("grey").join("days/2026/08-24-osier-flats.toml").exists());
    let files = |all: &[(std::path::PathBuf, Vec<u8>)]| {
        all.iter().filter(|(p, _)| p.extension().is_some_and(|e| e == "toml")).cloned().collect::<Vec<_>>()
    };
    assert_eq!(files(&garage.contents()), files(&before));
    has_not(&garage.ok(&["run", "60=1.62", "--at", "aug 22 15:00"]), &["NEW DAY"]);
}
