//! A page of the notebook with changes from before what is on record; parts fitted on a page; mends over its days.

use crate::common::{Garage, has, has_not};
use crate::days::{day_file, page, refused};
use crate::mending::saturday;
use serde_json::Value;

/// Time and version of every run.
fn made_on(garage: &Garage) -> Vec<(String, String)> {
    let runs = garage.json(&["runs"]);
    let text = |v: &Value| v.as_str().unwrap_or_default().to_owned();
    let of = |r: &Value| (text(&r["at"])[11..16].to_owned(), text(&r["on"]));
    let mut out: Vec<_> = runs["runs"].as_array().unwrap().iter().map(of).collect();
    out.sort();
    out
}

fn pairs(of: &[(&str, &str)]) -> Vec<(String, String)> {
    of.iter().map(|(a, b)| ((*a).to_owned(), (*b).to_owned())).collect()
}

const LATE: &str = "aug 22\n\
    12:15 limiter down 1/4 -- Pell; not written\n\
    12:20 limiter down 1/8\n\
    12:30 1.589 4.669 7.249 94.2 9.485 11.425 117.0 r\n\
    13:20 measure corner lr 812\n\
    14:30 timing 34\n\
    14:40 1.575 4.650 7.230 94.3 9.460 11.400 117.2 l\n";

#[test]
fn a_page_with_changes_before_later_records() {
    let garage = saturday();
    garage.ok(&["day", "aug", "22", "--note", "windy", "--close"]);
    let before = garage.contents();
    let dry = page(&garage, LATE, &["--dry-run"]);
    assert_eq!((&dry["saved"], &dry["told_late"]), (&Value::from(false), &Value::from(3)));
    assert_eq!(garage.contents(), before, "a dry run writes nothing");
    let path = garage.file("page.txt", LATE);
    let said = garage.ok(&["day", "--from", &path, "--dry-run"]);
    has(&said, &["3 lines told late: 1 run on record moves to another version"]);
    has(&said, &["12:15  v2a   limiter lowered 0.25 in (1.00 -> 0.75)", "12:20  v2b   limiter lowered 0.12"]);
    assert!(said.lines().all(|l| l.len() <= 80), "{said}");

    let log = garage.log("grey").len();
    let done = page(&garage, LATE, &[]);
    let versions: Vec<&Value> = done["lines"].as_array().unwrap().iter().map(|l| &l["version"]).collect();
    assert_eq!(versions, [&"v2a".into(), &"v2b".into(), &Value::Null, &"v3".into(), &"v4".into(), &Value::Null]);
    for (key, n) in [("runs", 2), ("changes", 3), ("measurements", 1), ("told_late", 3), ("moved_runs", 1)] {
        assert_eq!(done[key], n, "{key} of {done}");
    }
    assert_eq!((&done["relinked_runs"], &done["moved"][0]["to"]), (&Value::from(2), &Value::from("v2b")));
    assert_eq!((&done["on_car"]["version"], &done["reopened"]), (&Value::from("v4"), &Value::from(true)));
    // One mend, then a record for each other line.
    let first_parents = garage.git("grey", &["rev-list", "--count", "--first-parent", "HEAD"]);
    assert_eq!(first_parents.trim(), (log + 1 + 3).to_string());
    let on = [("09:40", "v1"), ("11:45", "v2"), ("12:30", "v2b"), ("12:50", "v2b"), ("13:40", "v3"), ("14:40", "v4")];
    assert_eq!(made_on(&garage), pairs(&on));
    let limiter = |v: &str| garage.json(&["sheet", v])["fields"]["rear.limiter.height"].clone();
    assert_eq!(["v1", "v2", "v2a", "v2b", "v3", "v4"].map(limiter), [1.0, 1.0, 0.75, 0.625, 0.625, 0.625]);
    assert_eq!(garage.json(&["history", "--all"])["versions"].as_array().unwrap().len(), 6);
    has(&day_file(&garage), &["setup_was = ", "note = \"windy\"", "ft60 = 1.575"]);
    garage.tidy("grey", "a page told late");

    // Each run stands on the sheet of its version.
    let book = garage.json(&["runs"]);
    let setups: Vec<&Value> = book["runs"].as_array().unwrap().iter().map(|r| &r["setup"]).collect();
    assert_eq!(setups[2], setups[3], "both runs on v2b carry one sheet");

    // The same page once more: nothing is doubled, nothing moves.
    let before = (garage.log("grey"), day_file(&garage));
    let again = page(&garage, LATE, &[]);
    assert_eq!((&again["on_record"], &again["told_late"]), (&Value::from(6), &Value::from(0)), "{again}");
    assert_eq!((garage.log("grey"), day_file(&garage)), before);
}

#[test]
fn told_late_on_a_page_or_one_by_one_is_the_same() {
    let (at_once, singly) = (saturday(), saturday());
    let lines = "aug 22\n10:30 limiter down 1/4\n11:30 limiter 1/2\n12:15 timing 34\n13:20 measure corner lr 812";
    page(&at_once, lines, &[]);
    for (time, words) in
        [("10:30", "limiter down 1/4"), ("11:30", "limiter 1/2"), ("12:15", "timing 34"), ("13:20", "corner lr 812")]
    {
        singly.ok(&["change", words, "--when", &format!("sat {time}"), "--yes"]);
    }
    let told = |g: &Garage| {
        let history = g.json(&["history", "--all"]);
        let pick = |v: &Value| ["version", "at", "words"].map(|k| v[k].clone());
        let versions: Vec<_> = history["versions"].as_array().unwrap().iter().map(pick).collect();
        (versions, made_on(g), g.read("grey", "setup.toml"))
    };
    assert_eq!(told(&at_once), told(&singly));
}

#[test]
fn words_told_late_are_read_on_the_sheet_of_their_time() {
    let garage = saturday();
    garage.ok(&["change", "limiter", "1/2"]);
    // A reading on record between two late lines ends what the first one carried.
    garage.ok(&["run", "60=1.6"]);
    garage.at("2026-08-24T20:00:00");
    let done = page(&garage, "aug 22\n10:00 limiter down 1/4\n12:00 limiter down 1/4", &[]);
    let words: Vec<String> = done["lines"].as_array().unwrap().iter().map(|l| l["words"][0].to_string()).collect();
    assert_eq!(words, ["\"limiter lowered 0.25 in (1.00 -> 0.75)\"", "\"limiter lowered 0.25 in (0.75 -> 0.50)\""]);
    assert_eq!(garage.json(&["sheet"])["fields"]["rear.limiter.height"], 0.5);
    let said = refused(&garage, 3, "aug 22\n10:30 limiter 3/4\n12:10 limitter 1", &[]);
    has(&said, &["line 2: nothing would change", "line 3:", "nothing was recorded"]);
}

#[test]
fn a_step_on_record_behind_a_late_line_is_asked_about() {
    let garage = saturday();
    let lines = "aug 22\n10:00 rear tires 13";
    let before = garage.contents();
    let said = refused(&garage, 2, lines, &[]);
    has(&said, &["v2 of Aug 22 2026 11:20", "was typed as a step", "--keep-steps"]);
    // What cannot be read is told first.
    has(&refused(&garage, 3, format!("{lines}\n10:05 limitter 1"), &[]), &["line 3:", "1 of 2 lines"]);
    assert_eq!(before, garage.contents());
    let pressure = |g: &Garage| g.json(&["sheet"])["fields"]["rear.tire.pressure"]["left"].clone();
    let other = saturday();
    page(&garage, lines, &["--keep-steps"]);
    page(&other, lines, &["--keep-readings"]);
    assert_eq!((pressure(&garage), pressure(&other)), (Value::from(12.5), Value::from(12)));
    // The step that gave way to its reading is still the line of its own page.
    for garage in [&garage, &other] {
        let again = page(garage, &format!("{lines}\n11:20 rear tires down 1/2"), &[]);
        assert_eq!(again["on_record"], 2, "{again}");
    }
    garage.refused(2, &["day", "--keep-steps"]);
}

#[test]
fn a_part_fitted_on_a_page_brings_what_is_known_of_it() {
    let garage = Garage::with_car();
    garage.at("2026-08-02T09:00:00");
    garage.ok(&["change", "rear.tire.size=28 x 9-15", "rear.tire.sidewall=soft"]);
    let add = "part add";
    let told = ["--kind", "rear tires", "size", "29", "x", "10.5-15,", "sidewall", "stiff,", "least", "pressure", "13"];
    garage.ok(&[&add.split(' ').collect::<Vec<_>>()[..], &["pair B"], &told].concat());
    garage.at("2026-08-23T20:00:00");
    let text = "aug 22\ntrack Osier Flats\n10:00 1.6 11.5 116\n11:20 rear tires pair b\n12:00 1.58 11.4 117\n\
        13:00 rear tires pair A\n13:30 1.59 11.41 117\n14:00 rear tires pair B";
    has(&refused(&garage, 2, text, &[]), &["line 4:", "the least for pair B", "--yes"]);
    page(&garage, text, &["--yes"]);
    let sheet = |v: &str| {
        let fields = garage.json(&["sheet", v])["fields"].clone();
        ["rear.tire.name", "rear.tire.size", "rear.tire.sidewall"].map(|k| fields[k].clone())
    };
    let (a, b) = (["pair A", "28 x 9-15", "soft"], ["pair B", "29 x 10.5-15", "stiff"]);
    for (version, want) in [("v2", b), ("v3", a), ("v4", b)] {
        let now = sheet(version);
        assert!(now[0].to_string().contains(want[0]), "{version}: {now:?}");
        assert_eq!((&now[1], &now[2]), (&want[1].into(), &want[2].into()), "{version}");
    }
    has(&garage.read("grey", "car.toml"), &["name = \"pair A\"", "rear.tire.sidewall = \"soft\""]);
    garage.tidy("grey", "parts on a page");
    let again = page(&garage, text, &[]);
    assert_eq!(again["on_record"], 6, "{again}");

    // Late: two swaps before what is on record, in one mend, each on the sheet of its time.
    let late = "aug 22\n10:30 rear tires pair C\n10:45 rear tires pair A";
    let done = page(&garage, late, &["--yes"]);
    assert_eq!((&done["told_late"], &done["moved_runs"]), (&Value::from(2), &Value::from(0)), "{done}");
    let back = sheet(done["lines"][1]["version"].as_str().unwrap());
    assert_eq!((&back[1], &back[2]), (&"28 x 9-15".into(), &"soft".into()));
    assert_eq!(sheet("v4"), sheet("v2"));
    garage.tidy("grey", "parts told late");
    assert_eq!(page(&garage, late, &[])["on_record"], 2);
}

#[test]
fn a_mend_keeps_what_a_day_says_of_itself() {
    let garage = saturday();
    page(&garage, "aug 22\nnote windy\n15:00 limitter dwn 1/4\nthe \"good\" one", &["--partial"]);
    garage.ok(&["day", "aug", "22", "--close"]);
    let kept = ["note = \"windy\"", "closed = true", "15:00 limitter dwn 1/4", "the \"good\" one"];
    let unquoted = |text: String| text.replace("\\\"", "\"");
    has(&unquoted(day_file(&garage)), &kept);
    garage.ok(&["change", "limiter", "down", "1/4", "--when", "sat 12:15"]);
    has(&unquoted(day_file(&garage)), &[&kept[..], &["setup_was"]].concat());
    let run = garage.json(&["runs"])["runs"][0]["id"].as_str().unwrap().to_owned();
    garage.ok(&["mend", "run", &run, "60=1.601"]);
    garage.ok(&["mend", "track", "Osier Flats", "--elevation", "640"]);
    has(&unquoted(day_file(&garage)), &[&kept[..], &["ft60 = 1.601", "elevation = 640"]].concat());
    // A run that was made on another date does not take the page of this one along.
    garage.ok(&["mend", "run", &run, "--at", "aug 21 09:40"]);
    has_not(&garage.read("grey", "days/2026/08-21-osier-flats.toml"), &["note", "closed", "unread"]);
    has(&unquoted(day_file(&garage)), &kept);
    garage.tidy("grey", "mends of a day");
}

#[test]
fn a_page_read_again_after_its_runs_were_mended_doubles_nothing() {
    let garage = Garage::with_car();
    garage.at("2026-08-23T20:00:00");
    let path = garage.file(
        "page.txt",
        "sat aug 22 2026\ntrack Osier Flats\n10:00 1.57 - - - - 11.45 117 l\n10:20 1.56 - - - - 11.44 117 r\n\
         10:40 1.55 - - - - 11.43 117 r\n",
    );
    garage.ok(&["day", "--from", &path]);
    garage.ok(&["mend", "run", "aug 22", "10:00", "60=1.575"]);
    garage.ok(&["mend", "run", "aug 22", "10:20", "--at", "aug 22 10:22"]);
    garage.ok(&["mend", "run", "aug 22", "10:40", "--never"]);
    let again = garage.json(&["day", "--from", &path]);
    assert_eq!((&again["runs"], &again["on_record"]), (&0.into(), &3.into()), "{again}");
    assert_eq!(garage.json(&["runs"])["runs"].as_array().unwrap().len(), 2);
    // What was taken back is told again.
    garage.ok(&["run", "--at", "aug 22 11:00", "60=1.54", "et=11.42", "l"]);
    garage.ok(&["oops"]);
    let more = garage.file("more.txt", "sat aug 22 2026\ntrack Osier Flats\n11:00 60=1.54 et=11.42 l\n");
    assert_eq!(garage.json(&["day", "--from", &more])["runs"], 1);
}
