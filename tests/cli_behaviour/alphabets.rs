//! Names in any alphabet: what a racer typed is shown as typed, in the log too; what would act or hide is made visible.

use crate::common::{Garage, has, has_not, no_controls};

/// "raven" in Cyrillic, "slick" in Greek, "water bird" in Han.
const CAR: &str = "\u{412}\u{43e}\u{440}\u{43e}\u{43d}";
const TIRE: &str = "\u{3bb}\u{3b5}\u{3af}\u{3bf}";
const TRACK: &str = "\u{6c34}\u{9ce5}";

#[test]
fn what_was_typed_stands_in_the_log_as_typed() {
    let garage = Garage::new();
    garage.at("2026-08-01T09:00:00");
    garage.by("\u{41c}\u{43e}");
    garage.ok(&["new", CAR, "--template", "leaf-torsion", "rear.limiter.height=1.00", "rear.tire.name=pair A"]);
    let folder = garage.json(&["cars"])["cars"][0]["folder"].as_str().unwrap().to_owned();
    garage.at("2026-08-02T09:00:00");
    garage.ok(&["change", &format!("rear.tire.name={TIRE}"), "--yes"]);
    garage.at("2026-08-02T09:30:00");
    garage.ok(&["part", "set", TIRE, "compound 55 in August"]);
    garage.ok(&["day", "--track", TRACK, "--note", "dry"]);
    garage.ok(&["run", "--track", TRACK, "60=1.600", "et=11.5", "mph=117"]);
    garage.at("2026-08-02T10:30:00");
    garage.ok(&["change", "limiter", "down", "1/4"]);
    garage.ok(&["trial", "start", &format!("{TIRE} 2"), "v2", "v3"]);
    garage.at("2026-08-02T11:30:00");
    garage.ok(&["mend", "track", TRACK, "--name", &format!("{TRACK} {TRACK}"), "--yes"]);
    garage.ok(&["oops", "--yes"]);
    let log = garage.log(&folder);
    let all = log.join("\n");
    has(&all, &[&format!("{CAR}: book opened"), TIRE, &format!("{TIRE} 2"), TRACK]);
    has_not(&all, &["?"]);
    assert!(log.iter().all(|s| s.chars().count() <= 72 && !s.is_empty()), "{log:?}");
    let by_git = garage.git(&folder, &["log", "--format=%s"]);
    assert_eq!(by_git.lines().collect::<Vec<_>>(), log, "stock git reads the same");
    has(&garage.ok(&["history", "--all"]), &[CAR, TIRE]);
    has(&garage.ok(&["history", "--as-recorded"]), &[CAR, TIRE, TRACK]);
    garage.tidy(&folder, "names in other alphabets");
}

#[test]
fn what_would_act_or_hide_is_visible_in_the_log() {
    let garage = Garage::with_car();
    garage.edit("grey", "setup.toml", |t| t.replace("\"pair A\"", "\"pair\\u202e \\u001b[31m\u{448}\""));
    let said = garage.ok(&["sheet", "--save", "--yes"]);
    let log = garage.log("grey");
    has(&log[0], &["pair\\u{202e} \\u{1b}[31m\u{448}"]);
    no_controls(&log.join("\n"));
    no_controls(&said);
    no_controls(&garage.ok(&["history"]));
}
