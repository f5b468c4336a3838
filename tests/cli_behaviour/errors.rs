//! Errors, for people and for programs.

use crate::common::{Garage, has, no_controls};
use serde_json::Value as Json;

/// The one object an error is, on the last line of stderr; stdout is as told.
#[track_caller]
fn told(garage: &Garage, code: i32, args: &[&str]) -> Json {
    let output = garage.run(&[args, &["--format", "json"]].concat());
    assert_eq!(output.code, code, "{args:?}: {output:?}");
    let last = output.stderr.lines().last().unwrap_or_default();
    let json: Json = serde_json::from_str(last).unwrap_or_else(|e| panic!("{args:?}: {e}\n{}", output.stderr));
    assert_eq!(json["exit"], code, "{json}");
    assert!(json["error"].as_str().is_some_and(|e| !e.is_empty()), "{json}");
    for (key, is) in [("because", Json::is_array as fn(&Json) -> bool), ("places", Json::is_array)] {
        assert!(is(&json[key]), "{json}");
    }
    assert!(json["help"].is_string() || json["help"].is_null(), "{json}");
    json
}

#[test]
fn for_programs_an_error_is_one_object_with_the_same_code() {
    let garage = Garage::with_car();
    let json = told(&garage, 2, &["change", "lr", "tire", "51"]);
    assert_eq!(json["help"], "--yes if it is right; nothing was recorded");
    let json = told(&garage, 2, &["change", "limitr", "down", "1/4"]);
    has(json["help"].as_str().unwrap(), &["slipbook fields"]);
    let json = told(&garage, 2, &["sheet", "v9"]);
    has(json["error"].as_str().unwrap(), &["v9"]);
    // A file: where in it.
    garage.edit("grey", "setup.toml", |t| t.replace("threads = 16", "threads = 16\nthraeds = 3"));
    let json = told(&garage, 3, &["sheet", "--save"]);
    let place = &json["places"][0];
    let line = garage.read("grey", "setup.toml").lines().position(|l| l.starts_with("thraeds")).unwrap() + 1;
    assert_eq!((&place["file"], &place["line"]), (&"setup.toml".into(), &line.into()), "{json}");
    has(place["error"].as_str().unwrap(), &["thraeds"]);
    garage.ok(&["sheet", "--put-back", "setup.toml"]);
    // A table: which cell.
    let table = garage.file("bad.csv", "date,time,track,finish,ft60\n2026-08-08,10:00,Osier Flats,1320,1.6x\n");
    let json = told(&garage, 3, &["import", &table]);
    assert_eq!((&json["places"][0]["line"], &json["places"][0]["column"]), (&2.into(), &"ft60".into()), "{json}");
    has(json["help"].as_str().unwrap(), &["--partial"]);
    // The machine.
    let json = told(&garage, 4, &["receive", "/no/such.bundle"]);
    has(&json.to_string(), &["/no/such.bundle"]);
    // "No" is an answer: it is on stdout as well.
    let object = garage.git("grey", &["rev-parse", "HEAD:setup.toml"]);
    let object = object.trim();
    std::fs::remove_file(garage.book("grey").join(format!(".git/objects/{}/{}", &object[..2], &object[2..]))).unwrap();
    let json = told(&garage, 1, &["verify"]);
    assert_eq!(json["error"], "verify: not as it should be");
    let answer: Json = serde_json::from_str(&garage.run(&["verify", "--format", "json"]).stdout).unwrap();
    assert_eq!(answer["good"], false);
}

#[test]
fn arguments_that_are_not_understood_are_told_so_too() {
    let garage = Garage::new();
    let json = told(&garage, 2, &["mend"]);
    has(json["error"].as_str().unwrap(), &["required arguments", "<WHAT>"]);
    has(json["help"].as_str().unwrap(), &["Usage: slipbook mend"]);
    for args in [&["--format=json", "no-such"][..], &["--format", "json", "sheet", "--no-such"]] {
        let output = garage.run(args);
        assert_eq!((output.code, output.stdout.as_str()), (2, ""), "{output:?}");
        let json: Json = serde_json::from_str(&output.stderr).unwrap();
        assert_eq!(json["exit"], 2, "{json}");
    }
    // The last one counts, and behind `--` there are only words.
    for args in [
        &["mend", "--format", "json", "--format", "text"][..],
        &["sheet", "--no-such", "--", "--format", "json"],
        &["sheet", "--format", "yaml"],
    ] {
        let output = garage.run(args);
        assert_eq!((output.code, output.stderr.starts_with("error: ")), (2, true), "{output:?}");
    }
}

#[test]
fn for_people_it_is_text() {
    let garage = Garage::with_car();
    let said = garage.refused(2, &["change", "lr", "tire", "51"]);
    assert!(
        said.starts_with("error: ") && said.ends_with("\n  --yes if it is right; nothing was recorded\n"),
        "{said}"
    );
}

#[test]
fn json_has_nothing_in_it_that_acts_on_a_terminal_or_hides_there() {
    let garage = Garage::with_car();
    let why = "a\u{202e}b\u{200b}c\u{feff}";
    garage.ok(&["change", "limiter", "down", "1/4", "--why", why]);
    let shown = garage.ok(&["history", "--format", "json"]);
    no_controls(&shown);
    let json: Json = serde_json::from_str(&shown).unwrap();
    assert!(json.to_string().contains(why), "{shown}");
    has(&shown, &["a\\u202eb\\u200bc\\ufeff"]);
    let typed = "no\u{202e}such\u{9b}2J";
    let output = garage.run(&["change", typed, "1", "--format", "json"]);
    assert_eq!(output.code, 2, "{output:?}");
    no_controls(&output.stderr);
    has(&output.stderr, &["no\\u202esuch\\u009b2J"]);
    assert!(serde_json::from_str::<Json>(&output.stderr).unwrap()["error"].as_str().unwrap().contains("such"));
}
