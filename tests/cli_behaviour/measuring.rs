//! What was measured, what is stale, what is in doubt.

use crate::common::{Garage, flat, has, has_not};

/// The leaf car with heights and corners on record too.
fn measured_car() -> Garage {
    let garage = Garage::with_car();
    garage.ok(&["measure", "corners", "800", "790", "820", "810,", "rear", "height", "26.50"]);
    garage
}

fn on_car(garage: &Garage, key: &str) -> serde_json::Value {
    garage.json(&["sheet"])["fields"][key].clone()
}

#[test]
fn a_reading_is_recorded_without_a_new_version() {
    let garage = Garage::with_car();
    let said = garage.ok(&["measure", "corner", "lr", "812"]);
    has(&said, &["Grey   on record, nothing turned", "on record now: left rear corner 812 lb", "saved"]);
    assert_eq!(on_car(&garage, "weight.corner")["lr"], 812);
    let message = garage.last_message("grey");
    has(&message, &["Kind: measured", "Typed: weight.corner.lr reading 812", "Measured: weight.corner.lr\n"]);
    has_not(&message, &["Version:"]);
    has(&garage.ok(&["measure", "corner", "lr", "820"]), &["re-measured: left rear corner 820 lb (was 812)"]);
    garage.ok(&["measure", "pinion", "5", "down"]);
    assert_eq!(on_car(&garage, "rear.pinion.slope"), -5);
    assert_eq!(garage.json(&["sheet"])["version"], "v1");
    assert_eq!(garage.json(&["history"])["versions"].as_array().unwrap().len(), 1);
    garage.tidy("grey", "measure");
}

#[test]
fn named_without_a_number_it_was_found_as_it_is_on_record() {
    let garage = Garage::with_car();
    garage.ok(&["change", "limiter", "down", "1/4"]);
    has(&flat(&garage.ok(&["sheet"])), &["was 0.50 in, not re-measured since v2"]);
    let said = garage.ok(&["measure", "limiter", "gap"]);
    has(&said, &["measured again, as it was: limiter gap 0.50 in"]);
    has(
        &garage.last_message("grey"),
        &["measured again, as it was: limiter gap 0.50 in\n", "Measured: rear.limiter.gap\n"],
    );
    let sheet = flat(&garage.ok(&["sheet"]));
    has(&sheet, &["driver in): 0.50 in measured"]);
    has_not(&sheet, &["not re-measured"]);
    // The same number typed says the same.
    garage.ok(&["change", "limiter", "up", "1/4"]);
    has(&garage.ok(&["measure", "limiter", "gap", "0.5"]), &["measured again, as it was"]);
    assert_eq!(garage.json(&["measure"])["stale"].as_array().unwrap().len(), 0);
    garage.tidy("grey", "a confirmed value");
}

#[test]
fn what_a_hand_sets_is_no_measurement() {
    let garage = Garage::with_car();
    for words in
        [&["limiter", "down", "1/4"][..], &["rear.tire.pressure=12"], &["limiter", "height"], &["timing", "34"]]
    {
        let said = garage.refused(2, &[&["measure"], words].concat());
        has(&said, &["that is turned by a hand", "slipbook change", "nothing was recorded"]);
    }
    has(&garage.refused(2, &["measure", "rollout"]), &["rollout"]);
    has(&garage.refused(2, &["measure", "rear", "height"]), &["not on record", "give the number"]);
    garage.refused(2, &["measure", "gearbox", "3"]);
    garage.refused(2, &["measure", "--why", "x"]);
    garage.refused(2, &["measure", "--always"]);
}

#[test]
fn a_described_value_is_taken_once() {
    let garage = Garage::with_car();
    garage.ok(&["measure", "rear.limiter.arm=9.5"]);
    has(&garage.ok(&["measure", "rear.limiter.arm=9.5"]), &["measured again, as it was"]);
    let said = garage.refused(2, &["measure", "rear.limiter.arm=10"]);
    has(&said, &["9.50 in", "slipbook change", "slipbook mend"]);
    assert_eq!(garage.json(&["sheet"])["version"], "v1");
}

#[test]
fn what_is_stale_says_what_made_it_so() {
    let garage = measured_car();
    garage.ok(&["change", "limiter", "down", "1/4"]);
    garage.at("2026-08-22T15:00:00");
    garage.ok(&["change", "rear", "tires", "12"]);
    let json = garage.json(&["measure"]);
    let stale: Vec<&str> = json["stale"].as_array().unwrap().iter().map(|s| s["field"].as_str().unwrap()).collect();
    assert_eq!(stale, ["rear.limiter.gap", "rear.height"]);
    assert_eq!(json["stale"][0]["since"], "v2");
    assert_eq!(json["stale"][0]["causes"][0]["words"][0], "limiter lowered 0.25 in (1.00 -> 0.75)");
    assert_eq!(json["stale"][0]["causes"][0]["fields"][0], "rear.limiter.height");
    assert_eq!(json["stale"][1]["since"], "v3");
    assert_eq!(json["stale"][1]["slots"], serde_json::json!(["left", "right"]));
    let said = garage.ok(&["measure"]);
    has(
        &said,
        &["2 stale", "v2, Aug 22: limiter lowered 0.25 in", "v3, Aug 22: both rear tires", "min", "Not on record"],
    );
    let first_stale = said.find("Stale").unwrap();
    assert!(first_stale < said.find("Not on record").unwrap());
    // One side taken again.
    garage.ok(&["measure", "lr", "height", "26.25"]);
    has(&flat(&garage.ok(&["sheet"])), &["26.25 left, 26.50 right in, right not re-measured since v3"]);
    // Older sheets know nothing of it.
    has_not(&flat(&garage.ok(&["sheet", "v1"])), &["not re-measured"]);
}

#[test]
fn a_setting_turned_back_says_what_was_read_with_it() {
    let garage = Garage::with_car();
    garage.ok(&["change", "limiter", "down", "1/4"]);
    garage.ok(&["measure", "limiter", "gap", "0.75"]);
    garage.ok(&["change", "limiter", "up", "1/4"]);
    let json = garage.json(&["measure"]);
    assert_eq!(json["stale"][0]["taken"]["version"], "v2");
    assert_eq!(json["stale"][0]["set_as_now"]["value"], 0.5);
    assert_eq!(json["stale"][0]["set_as_now"]["version"], "v1");
    has(&garage.ok(&["measure"]), &["was 0.75 in (v2", "set as now it was 0.50 in at v1"]);
}

#[test]
fn a_change_and_a_measurement_in_one_record() {
    let garage = Garage::with_car();
    garage.ok(&["change", "limiter", "down", "1/4,", "limiter", "gap", "0.75"]);
    assert_eq!(garage.json(&["measure"])["stale"].as_array().unwrap().len(), 0);
}

#[test]
fn a_number_in_doubt_is_kept_as_such() {
    let garage = Garage::with_car();
    for (words, said) in [
        (&["limiter", "gap", "0.75?"][..], "re-measured: limiter gap about 0.75 in (was 0.50)"),
        (&["limiter", "gap", "about", "0.625"], "re-measured: limiter gap about 0.625 in (was about 0.75)"),
        (&["rear.limiter.gap=0.75?"], "re-measured: limiter gap about 0.75 in (was about 0.625)"),
    ] {
        has(&garage.ok(&[&["measure"], words].concat()), &[said]);
    }
    has(&garage.read("grey", "setup.toml"), &["gap = \"0.75?\" # in\n"]);
    has(&flat(&garage.ok(&["sheet"])), &["about 0.75 in measured"]);
    let json = garage.json(&["sheet"]);
    assert_eq!(json["doubtful"], serde_json::json!(["rear.limiter.gap"]));
    has(&garage.ok(&["measure"]), &["1 in doubt", "In doubt", "about 0.75 in"]);
    // Certain now, with the same number or found so.
    has(&garage.ok(&["measure", "limiter", "gap", "0.75"]), &["confirmed: limiter gap 0.75 in"]);
    has(&garage.ok(&["measure", "limiter", "gap", "0.75?"]), &["in doubt now: limiter gap about 0.75 in"]);
    has(&garage.ok(&["measure", "limiter", "gap"]), &["confirmed: limiter gap 0.75 in"]);
    has(&garage.read("grey", "setup.toml"), &["gap = 0.75 # in\n"]);
    assert_eq!(garage.json(&["sheet"])["version"], "v1");
    garage.tidy("grey", "numbers in doubt");
}

#[test]
fn a_setting_in_doubt_makes_no_setup_of_its_own() {
    let garage = Garage::with_car();
    let said = garage.ok(&["change", "limiter", "down", "about", "1/4"]);
    has(&said, &["limiter lowered about 0.25 in (1.00 -> about 0.75)"]);
    has_not(&said, &["turns down"]);
    garage.ok(&["change", "limiter", "3/4"]);
    assert_eq!(garage.json(&["sheet"])["version"], "v2", "sure of it now: nothing was turned");
    has(&garage.last_message("grey"), &["confirmed: limiter height 0.75 in", "Kind: measured"]);
    garage.ok(&["change", "lr", "tire", "12.25?"]);
    has(&flat(&garage.ok(&["sheet"])), &["about 12.25 left, 12.5 right psi"]);
    garage.ok(&["change", "rear", "tires", "12.25"]);
    let versions = garage.json(&["history"]);
    let versions = versions["versions"].as_array().unwrap();
    assert_eq!(versions.len(), 4);
    garage.tidy("grey", "settings in doubt");
}

#[test]
fn a_hand_may_write_doubt_into_the_sheet() {
    let garage = Garage::with_car();
    garage.edit("grey", "setup.toml", |t| t.replace("gap = 0.50 # in", "gap = \"about 16 mm\" # in"));
    garage.ok(&["sheet", "--save"]);
    has(&garage.read("grey", "setup.toml"), &["gap = \"0.6299?\" # in\n"]);
    garage.edit("grey", "setup.toml", |t| t.replace("\"0.6299?\"", "\"?\""));
    has(&garage.refused(3, &["sheet", "--save"]), &["rear.limiter.gap", "is no number"]);
}

#[test]
fn weighing_again_in_part_gives_no_shares() {
    let garage = Garage::with_car();
    let all = ["measure", "total", "weight", "3220,", "corners", "800", "790", "820", "810"];
    has(&garage.ok(&all), &["weighed: 3220 lb, 49.4 % front, left 50.3 %"]);
    let said = garage.ok(&["measure", "total", "weight", "3230,", "corner", "lr", "830"]);
    has(&said, &["re-measured: left rear corner 830 lb (was 820)"]);
    has_not(&said, &["% front"]);
    let said = garage.ok(&["measure", "total", "weight", "3200,", "corners", "801", "791?", "821", "811"]);
    has(&said, &["about 791"]);
    has_not(&said, &["% front"]);
}

#[test]
fn later_and_earlier() {
    let garage = Garage::with_car();
    garage.at("2026-08-22T16:00:00");
    garage.ok(&["measure", "limiter", "gap", "0.625", "--when", "15:10", "--why", "drill shank"]);
    has(&garage.last_message("grey"), &["Why: drill shank"]);
    let said = garage.ok(&["measure", "limiter", "gap", "0.75", "--dry-run"]);
    has(&said, &["re-measured: limiter gap 0.75 in (was 0.625)", "nothing written"]);
    assert_eq!(on_car(&garage, "rear.limiter.gap"), 0.625);
    let said = garage.ok(&["measure", "arm", "angle", "-4", "--always", "--dry-run"]);
    has(&said, &["nothing written"]);
}

/// What is not measured at all is nobody's error.
#[test]
fn a_book_with_everything_taken() {
    let garage = measured_car();
    let json = garage.json(&["measure"]);
    let missing: Vec<String> =
        json["not_on_record"].as_array().unwrap().iter().map(|m| m["field"].as_str().unwrap().to_owned()).collect();
    assert!(missing.contains(&"frame.wheelbase".to_owned()) && !missing.contains(&"weight.corner".to_owned()));
    assert!(json["minutes"].as_u64().unwrap() > 30);
    for line in garage.ok(&["measure"]).lines() {
        assert!(line.chars().count() <= 80, "{line}");
    }
}

/// What is kept to be quicker the next time never changes an answer.
#[test]
fn what_is_kept_changes_no_answer() {
    fn stale_files(dir: &std::path::Path, out: &mut Vec<std::path::PathBuf>) {
        for entry in std::fs::read_dir(dir).into_iter().flatten().flatten() {
            let path = entry.path();
            if path.is_dir() {
                stale_files(&path, out);
            } else if path.extension().is_some_and(|e| e == "stale") {
                out.push(path);
            }
        }
    }
    let garage = measured_car();
    garage.ok(&["change", "limiter", "down", "1/4"]);
    garage.ok(&["measure", "limiter", "gap", "0.75"]);
    garage.ok(&["change", "limiter", "up", "1/4"]);
    let first = garage.json(&["measure"]);
    assert_eq!(garage.json(&["measure"]), first, "from what was kept");
    let mut files = Vec::new();
    stale_files(garage.root(), &mut files);
    let [file] = files.as_slice() else { panic!("{files:?}") };
    let kept = std::fs::read(file).unwrap();
    for wrong in [&b""[..], b"garbage", &kept[..kept.len() / 2], &[kept.as_slice(), &[7]].concat()] {
        std::fs::write(file, wrong).unwrap();
        assert_eq!(garage.json(&["measure"]), first);
    }
    garage.ok(&["measure", "limiter", "gap"]);
    // The file of an older state is not believed.
    std::fs::write(file, &kept).unwrap();
    assert_eq!(garage.json(&["measure"])["stale"].as_array().unwrap().len(), 0);
}
