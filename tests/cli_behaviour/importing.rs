//! A season table taken in.

use crate::common::{Garage, has, sample_file};
use serde_json::Value;

const HEAD: &str = "date,time,track,finish,ft60,ft1320,mph1320,rear.limiter.height,why";

/// Writes a table and imports it.
fn import(garage: &Garage, table: &str, more: &[&str]) -> Value {
    let path = garage.file("season.csv", table);
    garage.json(&[&["import", &path], more].concat())["imported"].clone()
}

fn refused(garage: &Garage, code: i32, table: impl AsRef<[u8]>, more: &[&str]) -> String {
    let path = garage.file("season.csv", table);
    garage.refused(code, &[&["import", &path], more].concat())
}

#[test]
fn a_version_whenever_set_fields_change() {
    let garage = Garage::with_car();
    let table = format!(
        "{HEAD}\n2026-08-08,10:00,Osier Flats,,1.650,11.59,116.1,,\n,10:40,,,1.652,11.60,116.0,0.75,closer\n,11:20,,,,,,0.5,\n,12:00,,,1.640,,,0.5,\n"
    );
    let done = import(&garage, &table, &[]);
    assert_eq!(
        [&done["rows"], &done["runs"], &done["versions"], &done["days"]],
        [4, 3, 2, 1].map(Value::from).each_ref()
    );
    let history = garage.json(&["history"]);
    let versions = history["versions"].as_array().unwrap();
    assert_eq!(versions.len(), 3);
    assert_eq!(
        (&versions[1]["why"], &versions[1]["at"]),
        (&Value::from("closer"), &Value::from("2026-08-08T10:40:00-05:00"))
    );
    let runs = garage.json(&["runs"]);
    let on: Vec<&str> = runs["runs"].as_array().unwrap().iter().map(|r| r["version"].as_str().unwrap()).collect();
    assert_eq!(on, ["v1", "v2", "v3"], "a change in the row of a run is before the run");
    assert_eq!(garage.log("grey").len(), 1 + 3 + 2);
    garage.tidy("grey", "import");
}

#[test]
fn empty_cells_carry_down_or_mean_not_taken() {
    let garage = Garage::with_car();
    let table = "date,time,track,finish,elevation,ft60,ft660,mph660,temperature,rear.tire.pressure\n\
                 2026-08-08,10:00,Heron Bend,660,1180,1.42,6.35,107,84,\n,,,,,1.43,,,,12.0/12.25\n2026-08-09,09:00,,,,1.44,,,,\n";
    import(&garage, table, &[]);
    let runs = garage.json(&["runs", "--all"]);
    let runs = runs["runs"].as_array().unwrap();
    assert_eq!(
        (&runs[1]["ft660"], &runs[1]["finish_ft"], &runs[1]["track"]),
        (&Value::Null, &Value::from(660), &Value::from("Heron Bend"))
    );
    assert_eq!(runs[2]["date"], "2026-08-09");
    assert!(runs[0]["at"].as_str() < runs[1]["at"].as_str());
    let day = garage.read("grey", "days/2026/08-08-heron-bend.toml");
    assert_eq!(day.matches("[[reading]]").count(), 1, "{day}");
    assert_eq!(garage.json(&["sheet"])["fields"]["rear.tire.pressure"]["right"], 12.25);
    garage.tidy("grey", "import");
}

#[test]
fn a_bad_cell_is_named_and_nothing_is_imported() {
    let garage = Garage::with_car();
    let good = "2026-08-08,10:00,Osier Flats,,1.650,11.59,116.1,,\n";
    for (row, says) in [
        (",10:40,,,1.6o2,11.60,116.0,,", &["line 3", "ft60", "1.6o2"][..]),
        (",10:40,,,1.652,11.60,116.0,40,", &["line 3", "rear.limiter.height", "40"]),
        (",10:40,,,1.652,11.60,116.0,tall,", &["line 3", "rear.limiter.height", "tall"]),
        (",25:40,,,1.652,11.60,116.0,,", &["line 3", "time", "25:40"]),
        ("2026-02-30,10:40,,,1.652,11.60,116.0,,", &["line 3", "date", "2026-02-30"]),
        ("2026-08,10:40,,,1.652,11.60,116.0,,", &["line 3", "date", "2026-08"]),
        (",10:40,,500,1.652,11.60,116.0,,", &["line 3", "finish", "500"]),
        (",10:40,,,11.652,11.60,116.0,,", &["line 3"]),
        (",10:40,,,1.652,11.60", &["line 3", "6 cells", "9"]),
        (",09:00,,,1.652,11.60,116.0,,", &["line 3", "before"]),
    ] {
        has(
            &refused(&garage, 3, format!("{HEAD}\n{good}{row}\n"), &[]),
            &[says, &["nothing was imported", "--partial"]].concat(),
        );
    }
    has(
        &refused(&garage, 3, format!("{HEAD}\n,10:40,,,1.6o2,,,,\n{good},10:50,,,,x,,,\n"), &[]),
        &["line 2", "line 4"],
    );
}

#[test]
fn partial_leaves_wrong_rows_out_and_says_which() {
    let garage = Garage::with_car();
    let table = format!(
        "{HEAD}\n2026-08-08,10:00,Osier Flats,,1.650,11.59,116.1,,\n,10:40,,,1.6o2,11.60,116.0,,\n,11:00,,,1.651,11.60,116.0,0.75,\n,10:30,,,1.7,,,,\n"
    );
    let done = import(&garage, &table, &["--partial"]);
    assert_eq!((&done["runs"], &done["versions"]), (&Value::from(2), &Value::from(1)));
    let left = done["left_out"].to_string();
    has(&left, &["line 3", "1.6o2", "line 5"]);
    garage.tidy("grey", "a part of a table");
}

#[test]
fn own_headers_are_mapped() {
    let garage = Garage::with_car();
    let columns = garage.file(
        "columns.toml",
        "\"60'\" = \"ft60\"\n\"Temp C\" = \"temperature [C]\"\n\"Best?\" = \"\"\nDay = \"date\"\nWhere = \"track\"\n",
    );
    let table = "Day,time,Where,60',Temp C,Best?\n2026-08-08,10:00,Osier Flats,1.65,29,yes\n";
    import(&garage, table, &["--columns", &columns]);
    assert_eq!(garage.json(&["runs"])["runs"][0]["ft60"], 1.65);
    has(&garage.read("grey", "days/2026/08-08-osier-flats.toml"), &["temperature = 84.2 # degF"]);
    has(&refused(&garage, 3, "Day,60'\n2026-08-08,1.6\n", &[]), &["Day", "60'"]);
    let wrong = garage.file("wrong.toml", "\"60'\" = ft60\n");
    has(&refused(&garage, 3, table, &["--columns", &wrong]), &["wrong.toml:1"]);
    refused(&garage, 4, table, &["--columns", "absent.toml"]);
}

#[test]
fn units_in_the_header() {
    let garage = Garage::with_car();
    let table = "date,time,track,ft60,temperature [C],pressure_station [hPa],rear.limiter.height [mm]\n2026-08-08,10:00,Osier Flats,1.65,29,1000,19.05\n";
    import(&garage, table, &[]);
    assert_eq!(garage.json(&["sheet"])["fields"]["rear.limiter.height"], 0.75);
    has(
        &garage.read("grey", "days/2026/08-08-osier-flats.toml"),
        &["temperature = 84.2 # degF", "pressure_station = 29.53"],
    );
    for head in ["temperature [psi]", "rear.limiter.height [psi]", "track [in]", "rear.limter.height", "ft61"] {
        has(&refused(&garage, 3, format!("date,{head}\n2026-08-08,1\n"), &[]), &[head.split(' ').next().unwrap()]);
    }
    has(&refused(&garage, 3, "date,ft61\n2026-08-08,1\n", &[]), &["ft60"]);
    has(&refused(&garage, 3, "date,ft60,ft60\n2026-08-08,1.6,1.6\n", &[]), &["twice"]);
}

#[test]
fn however_the_table_was_saved() {
    for (before, end) in [("", "\n"), ("\u{feff}", "\n"), ("", "\r\n"), ("\u{feff}", "\r\n")] {
        let garage = Garage::with_car();
        let rows = [
            "date,time,track,ft60,note",
            "2026-08-08,10:00,Osier Flats,1.65,\"a, \"\"quoted\"\" note\"",
            ",10:40,,1.66,",
            "",
            ",,,,",
        ];
        let done = import(&garage, &format!("{before}{}{end}", rows.join(end)), &[]);
        assert_eq!(done["runs"], 2, "{before:?} {end:?}");
        assert_eq!(garage.json(&["runs"])["runs"][0]["note"], "a, \"quoted\" note");
        garage.tidy("grey", "import");
    }
}

#[test]
fn what_is_no_table() {
    let garage = Garage::with_car();
    refused(&garage, 3, b"date,ft60\n2026-08-08,1.6\xff\n", &[]);
    refused(&garage, 3, "date,note\n2026-08-08,\"never closed\n", &[]);
    has(&garage.refused(4, &["import", "absent.csv"]), &["absent.csv"]);
    garage.refused(2, &["import"]);
    let empty = garage.file("empty.csv", "");
    let output = garage.run(&["import", &empty]);
    assert!(!output.stderr.contains("panicked"), "{output:?}");
    assert_eq!(garage.log("grey").len(), 1);
}

#[test]
fn unusual_values_want_a_yes() {
    let garage = Garage::with_car();
    let table = format!("{HEAD}\n2026-08-08,10:00,Osier Flats,,1.650,,,0.25,\n");
    has(&refused(&garage, 2, &table, &[]), &["line 2", "0.25", "--yes"]);
    assert_eq!(import(&garage, &table, &["--yes"])["versions"], 1);
}

#[test]
fn before_the_record_is_refused() {
    let garage = Garage::with_car();
    has(&refused(&garage, 3, format!("{HEAD}\n2026-07-08,10:00,Osier Flats,,1.650,,,,\n"), &[]), &["line 2", "before"]);
    // The same table twice is not two seasons.
    let table = format!("{HEAD}\n2026-08-08,10:00,Osier Flats,,1.650,,,,\n,10:40,,,1.651,,,,\n");
    import(&garage, &table, &[]);
    refused(&garage, 3, &table, &[]);
}

#[test]
fn a_dry_run_writes_nothing() {
    let garage = Garage::with_car();
    let path = garage.file("season.csv", format!("{HEAD}\n2026-08-08,10:00,Osier Flats,,1.650,,,0.75,\n"));
    let before = garage.contents();
    has(&garage.ok(&["import", "--dry-run", &path]), &["would be imported", "1 run"]);
    assert_eq!(before, garage.contents());
}

/// What a dry run says would be imported is what the import then does.
#[test]
fn a_dry_run_says_what_the_import_does() {
    let garage = Garage::with_car();
    let good = format!("{HEAD}\n2026-08-08,10:00,Osier Flats,,1.650,,,0.75,\n");
    assert_eq!(import(&garage, &good, &["--dry-run"]), import(&garage, &good, &[]));
    let early = format!("{HEAD}\n2026-07-08,10:00,Osier Flats,,1.650,,,,\n");
    has(&refused(&garage, 3, early, &["--dry-run"]), &["before"]);
}

#[test]
fn over_an_edit_by_hand_is_refused() {
    let garage = Garage::with_car();
    garage.edit("grey", "setup.toml", |t| t.replace("extension = 6", "extension = 4"));
    has(
        &refused(&garage, 3, format!("{HEAD}\n2026-08-08,10:00,Osier Flats,,1.650,,,0.75,\n"), &[]),
        &["setup.toml", "by hand"],
    );
}

#[test]
fn the_samples_come_in_whole() {
    let garage = Garage::new();
    garage.take_in_samples();
    for (car, versions, runs) in [("plover", 19, 77), ("dunlin", 16, 80), ("knot", 15, 84)] {
        let table = std::fs::read_to_string(sample_file(car, "season.csv")).unwrap();
        assert!(table.lines().count() > runs, "{car}");
        has(&garage.ok(&["history", "--car", car]), &[&format!("{versions} versions, {runs} runs")]);
        garage.tidy(car, "import of the season");
    }
}

/// A row's date is that of the race day: what was run after midnight stands under the day before.
#[test]
fn after_midnight_is_still_the_day() {
    let garage = Garage::with_car();
    import(&garage, &format!("{HEAD}\n2026-08-08,23:40,Osier Flats,,1.650,,,,\n,00:20,,,1.651,,,,\n"), &[]);
    let runs = garage.json(&["runs", "2026-08-08"]);
    assert_eq!(runs["runs"][1]["at"], "2026-08-09T00:20:00-05:00", "{runs}");
    garage.tidy("grey", "import over midnight");
}

#[test]
fn the_line_that_is_named_is_the_line_of_the_file() {
    let garage = Garage::with_car();
    let rows = [
        "date,time,track,ft60,ft1320,mph1320",
        "2026-09-04,10:00,Osier,1.6,11.5,116",
        "",
        "2026-09-04,10:30,Osier,banana,11.5,116",
        "2026-09-04,10:40,\"Osier\",1.6,11.5",
    ];
    for end in ["\n", "\r\n"] {
        for mark in ["", "\u{feff}"] {
            let said = refused(&garage, 3, format!("{mark}{}{end}", rows.join(end)), &[]);
            has(
                &said,
                &[
                    "line 4, column `ft60`, value `banana`",
                    "4 | 2026-09-04,10:30,Osier,banana",
                    "line 5: the row has 5 cells",
                ],
            );
            has(&said, &["5 | 2026-09-04,10:40"]);
        }
    }
}

#[test]
fn a_table_parted_by_something_else_than_commas_is_told_so() {
    let garage = Garage::with_car();
    for (mark, called) in [(";", "semicolons (`;`)"), ("\t", "tabs (`\\t`)")] {
        let table = "\u{feff}date,time,track,ft60\r\n2026-09-04,10:00,Osier,1.6\r\n".replace(',', mark);
        let said = refused(&garage, 3, table, &[]);
        has(&said.split_whitespace().collect::<Vec<_>>().join(" "), &[called, "not by commas"]);
        assert!(!said.contains("feff"), "{said}");
    }
}

/// A fault of the row as a whole names no column, and two moments of one minute are told apart.
#[test]
fn a_row_before_the_record_is_told_to_the_second() {
    let garage = Garage::with_car();
    garage.at("2026-08-22T14:20:30");
    garage.ok(&["change", "timing", "34"]);
    let table = format!("{HEAD}\n2026-08-22,14:20,Osier Flats,,1.650,11.59,116.1,,\n");
    let said = refused(&garage, 3, table, &[]);
    has(&said, &["line 2: Aug 22 2026 14:20:00 is before the record so far (Aug 22 2026 14:20:30)"]);
    assert!(!said.contains("column"), "{said}");
}
