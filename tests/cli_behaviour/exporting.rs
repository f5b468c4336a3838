//! A book as plain files: where they go, what is left where it was cut off, what a racer finds in them.

use crate::common::{Garage, has, has_not};
use std::path::Path;

fn names(dir: &Path) -> Vec<String> {
    let mut all: Vec<String> =
        std::fs::read_dir(dir).unwrap().map(|e| e.unwrap().file_name().into_string().unwrap()).collect();
    all.sort();
    all
}

fn garage() -> Garage {
    let garage = Garage::with_car();
    garage.at("2026-08-02T10:00:00");
    garage.ok(&["run", "--track", "Osier Flats", "60=1.6", "et=11.5", "--air", "84F 52% 29.4 station"]);
    garage.at("2026-08-02T11:00:00");
    garage.ok(&["change", "rear.limiter.height=0.75", "--why", "=HYPERLINK(1)", "--yes"]);
    garage.at("2026-08-02T12:00:00");
    garage.ok(&["run", "--track", "Osier Flats", "60=1.59", "et=11.48", "--note", "@home -1"]);
    garage
}

#[test]
fn into_a_folder_that_is_not_there_or_is_empty() {
    let garage = garage();
    let there = garage.root().join("here");
    std::fs::create_dir(&there).unwrap();
    let output = garage.run_in(&there, &["export", "grey", "--to", "."]);
    assert_eq!(output.code, 0, "{}", output.both());
    let wanted = ["car.toml", "columns.csv", "days", "opening.toml", "season.csv", "sheets"];
    assert_eq!(names(&there), wanted);
    // Not once more, and not over somebody's files.
    let before = std::fs::read_to_string(there.join("season.csv")).unwrap();
    for to in [".", "../here"] {
        let output = garage.run_in(&there, &["export", "grey", "--to", to]);
        assert_eq!((output.code, output.stdout.as_str()), (2, ""), "{}", output.stderr);
        has(&output.stderr, &["not empty", "nothing was written"]);
    }
    assert_eq!((names(&there).len(), std::fs::read_to_string(there.join("season.csv")).unwrap()), (6, before));
    let file = garage.file("file", "x");
    has(&garage.refused(2, &["export", "grey", "--to", &file]), &["no folder", "nothing was written"]);
}

#[test]
fn what_a_killed_export_left_is_in_nobodys_way() {
    let garage = garage();
    let place = garage.root().join("place");
    std::fs::create_dir(&place).unwrap();
    let to = place.join("out");
    for round in 0..12_u64 {
        let mut child = garage.start(&["export", "grey", "--to", &to.display().to_string()]);
        std::thread::sleep(std::time::Duration::from_millis(8 * round));
        let _ = child.kill();
        child.wait().unwrap();
        if to.exists() {
            assert_eq!(names(&to).len(), 6, "all of it, or none");
            std::fs::remove_dir_all(&to).unwrap();
        }
    }
    // As a kill between two files leaves it.
    let aside = place.join(".slipbook-copy-out");
    std::fs::create_dir_all(aside.join("files/days")).unwrap();
    std::fs::write(aside.join("lock"), "").unwrap();
    std::fs::write(aside.join("files/season.csv"), "half").unwrap();
    garage.ok(&["export", "grey", "--to", &to.display().to_string()]);
    assert_eq!(names(&place), ["out"]);
    assert_eq!(names(&to).len(), 6);
}

#[test]
fn a_racer_finds_units_versions_and_no_formula() {
    let garage = garage();
    let to = garage.root().join("out");
    garage.ok(&["export", "grey", "--to", &to.display().to_string()]);
    let season = std::fs::read_to_string(to.join("season.csv")).unwrap();
    let mut lines = season.lines();
    let header: Vec<&str> = lines.next().unwrap().split(',').collect();
    let at = |name: &str| header.iter().position(|h| *h == name).unwrap_or_else(|| panic!("{name}: {header:?}"));
    let rows: Vec<Vec<&str>> = lines.map(|l| l.split(',').collect()).collect();
    // Each run says what it was made on, in the digits of a slip.
    let runs: Vec<_> = rows.iter().filter(|r| !r[at("run")].is_empty()).collect();
    let of = |name: &str| runs.iter().map(|r| r[at(name)]).collect::<Vec<_>>();
    assert_eq!(
        (of("on"), of("ft60"), of("ft1320")),
        (vec!["v1", "v2"], vec!["1.600", "1.590"], vec!["11.500", "11.480"])
    );
    // No cell begins as a formula does; a number below zero and an offset are none.
    for cell in rows.iter().flatten().filter(|c| c.starts_with(['=', '@', '+', '-'])) {
        assert!(cell[1..].starts_with(|c: char| c.is_ascii_digit()), "{cell}");
    }
    has(&season, &["\"\"\"=HYPERLINK(1)\"\"\"", "\"\"\"@home -1\"\"\""]);
    has_not(&season, &[",=", ",@"]);
    // Every column is told of, with its unit.
    let legend = std::fs::read_to_string(to.join("columns.csv")).unwrap();
    for name in &header {
        assert!(legend.lines().any(|l| l.starts_with(&format!("{name},"))), "{name} is not in:\n{legend}");
    }
    for (column, unit) in
        [("ft60", "s"), ("temperature", "degF"), ("pressure_station", "inHg"), ("rear.limiter.height", "in")]
    {
        let line = legend.lines().find(|l| l.starts_with(&format!("{column},"))).unwrap();
        assert!(line.split(',').any(|cell| cell == unit), "{line}");
    }
}

#[test]
fn never_into_the_garage_or_a_book() {
    let garage = garage();
    let before = garage.contents();
    for (to, why) in [("grey/out", "is in the garage"), ("out", "is in the garage")] {
        let to = garage.dir().join(to).display().to_string();
        has(&garage.refused(2, &["export", "grey", "--to", &to]), &[why]);
    }
    assert_eq!(garage.contents(), before);
}

#[test]
fn an_id_by_hand_is_another_in_the_table_and_comes_back() {
    let garage = garage();
    let ids = |garage: &Garage| -> Vec<String> {
        let runs = garage.json(&["runs", "--all"])["runs"].clone();
        runs.as_array().unwrap().iter().map(|r| r["id"].as_str().unwrap().to_owned()).collect()
    };
    let [first, second] = <[String; 2]>::try_from(ids(&garage)).unwrap();
    garage.edit("grey", "days/2026/08-02-osier-flats.toml", |t| {
        t.replace(&format!("\"{first}\""), "\"=HYPERLINK(2)\"").replace(&format!("\"{second}\""), "\"a\"")
    });
    garage.ok(&["sheet", "--save", "--yes"]);
    let to = |name: &str| garage.root().join(name);
    let export = |name: &str| garage.json(&["export", "grey", "--to", &to(name).display().to_string()]);
    let (told, again) = (export("out"), export("again"));
    let season = |name: &str| std::fs::read_to_string(to(name).join("season.csv")).unwrap();
    has_not(&season("out"), &["HYPERLINK(2)", ",=", ",a,"]);
    assert_eq!(season("out"), season("again"));
    assert_eq!(told["not_as_here"], again["not_as_here"]);
    let said = told["not_as_here"].as_array().unwrap();
    assert_eq!(said.len(), 2, "{said:?}");
    has(
        &told["not_as_here"].to_string(),
        &["the run of Aug 02 2026 10:00 has the id =HYPERLINK(2)", "12:00 has the id a"],
    );

    let other = Garage::new();
    for command in told["commands"].as_array().unwrap() {
        let command = command.as_str().unwrap().strip_prefix("slipbook ").unwrap();
        other.ok(&command.split(' ').collect::<Vec<_>>());
    }
    let back = ids(&other);
    assert_eq!(back.len(), 2);
    for id in back {
        assert!(season("out").contains(&id) && told["not_as_here"].to_string().contains(&id), "{id}: {said:?}");
    }
}
