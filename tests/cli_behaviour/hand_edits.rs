//! Edits made by hand in a book's files.

use crate::common::{Garage, flat, has, has_not};

const DAY: &str = "days/2026/08-22-osier-flats.toml";

#[test]
fn noticed_refused_saved() {
    let garage = Garage::with_car();
    garage.ok(&["change", "limiter", "down", "1/4"]);
    garage.edit("grey", "setup.toml", |t| t.replace("extension = 6", "extension = 4"));
    has(
        &garage.ok(&["sheet"]),
        &["v2", "edited by hand, not saved: both rear shocks loosened 2 clicks on extension", "--save"],
    );
    has(&garage.ok(&["diff"]), &["edited by hand", "both rear shocks loosened 2 clicks on extension (6 -> 4)"]);
    for line in [&["change", "timing", "34"][..], &["revert", "v1"], &["change", "--dry-run", "timing", "34"]] {
        has(&garage.refused(3, line), &["setup.toml", "by hand", "sheet --save", "sheet --put-back setup.toml"]);
    }
    has(
        &garage.ok(&["sheet", "--save", "--why", "forgot to type it"]),
        &[
            "Grey   v3",
            "both rear shocks loosened 2 clicks on extension (6 -> 4)",
            "2 clicks looser",
            "forgot to type it",
            "saved",
        ],
    );
    assert_eq!(garage.log("grey")[0], "both rear shocks loosened 2 clicks on extension (6 -> 4)");
    has(&garage.last_message("grey"), &["Kind: change", "Version: v3", "Why: forgot to type it"]);
    garage.tidy("grey", "sheet --save");
    has(&garage.ok(&["sheet", "--save"]), &["nothing to save"]);
    assert_eq!(garage.log("grey").len(), 3);
}

/// A run says nothing of the sheet, so a sheet that is being edited does not hold it up.
#[test]
fn a_run_goes_in_beside_the_edit() {
    let garage = Garage::with_car();
    garage.edit("grey", "setup.toml", |t| t.replace("extension = 6", "extension = 4"));
    garage.ok(&["run", "--track", "Osier Flats", "60=1.6"]);
    let status = garage.git("grey", &["status", "--porcelain"]);
    assert_eq!(status, " M setup.toml\n", "the edit is still there, and nothing else");
    assert_eq!(garage.json(&["runs"])["runs"][0]["version"], "v1");
    garage.ok(&["sheet", "--save"]);
    garage.tidy("grey", "run, then save");
}

#[test]
fn units_are_taken_and_stored_converted() {
    let garage = Garage::with_car();
    garage.edit("grey", "setup.toml", |t| t.replace("height = 1.00 # in", "height = \"19 mm\""));
    garage.ok(&["sheet", "--save"]);
    let height = garage.json(&["sheet"])["fields"]["rear.limiter.height"].as_f64().unwrap();
    assert!((height - 0.748).abs() < 0.0005, "{height}");
    has(&garage.read("grey", "setup.toml"), &["height = 0.748", "# in"]);
    garage.tidy("grey", "a unit by hand");
}

#[test]
fn what_is_no_toml_is_told_with_its_line() {
    let garage = Garage::with_car();
    garage.edit("grey", "setup.toml", |t| format!("{t}bad = = 1\n"));
    let lines = garage.read("grey", "setup.toml").lines().count();
    has(&garage.refused(3, &["sheet", "--save"]), &["no TOML", &format!("setup.toml:{lines}:")]);
    garage.refused(3, &["diff"]);
    has(&garage.ok(&["sheet"]), &["v1", "setup.toml", "by hand"]);
    has(&garage.refused(3, &["change", "timing", "34"]), &["setup.toml", "by hand"]);
}

/// The line at fault is shown whole, as it stands in the file.
#[test]
fn the_line_at_fault_is_shown() {
    let garage = Garage::with_car();
    garage.edit("grey", "setup.toml", |t| t.replace("height = 1.00 # in", "height = 100 # in"));
    has(&garage.refused(3, &["sheet", "--save"]), &["height = 100", "0 to 12 in"]);
}

#[test]
fn an_unknown_key_is_told_with_the_nearest() {
    let garage = Garage::with_car();
    garage.edit("grey", "setup.toml", |t| t.replace("extension = 6", "extenson = 6"));
    has(&garage.refused(3, &["sheet", "--save"]), &["rear.shock.extenson", "setup.toml:", "rear.shock.extension"]);
}

#[test]
fn all_that_is_wrong_is_told_at_once() {
    let garage = Garage::with_car();
    garage.edit("grey", "setup.toml", |t| {
        t.replace("extension = 6", "extenson = 6")
            .replace("height = 1.00", "height = 100")
            .replace("kind = \"screw\"", "kind = \"rope\"")
    });
    has(&garage.refused(3, &["sheet", "--save"]), &["extenson", "100", "rope"]);
}

#[test]
fn unusual_by_hand_wants_a_yes() {
    let garage = Garage::with_car();
    garage.edit("grey", "setup.toml", |t| t.replace("pressure = 34", "pressure = 64"));
    has(&garage.refused(2, &["sheet", "--save"]), &["64", "20 to 60 psi", "--yes"]);
    garage.ok(&["sheet", "--save", "--yes"]);
    garage.tidy("grey", "unusual by hand");
}

#[test]
fn comments_are_kept() {
    let garage = Garage::with_car();
    garage.edit("grey", "setup.toml", |t| {
        t.replace("[rear.limiter]", "# the screw is bent a little\n[rear.limiter]") + "# the end\n"
    });
    has(&garage.ok(&["sheet", "--save"]), &["no value differs"]);
    garage.tidy("grey", "comments");
    garage.ok(&["change", "limiter", "down", "1/4"]);
    has(
        &garage.read("grey", "setup.toml"),
        &["# the screw is bent a little\n[rear.limiter]", "height = 0.75 # in", "# the end"],
    );
    assert_eq!(garage.json(&["history"])["versions"].as_array().map(Vec::len), Some(2), "a comment is no version");
}

/// A remark behind a value stays as it was written, behind the unit that the program writes itself.
#[test]
fn a_remark_behind_a_value_is_kept() {
    let garage = Garage::with_car();
    garage.edit("grey", "setup.toml", |t| t.replace("height = 1.00 # in", "height = 1.00 # in, from the plate"));
    garage.ok(&["sheet", "--save"]);
    garage.ok(&["change", "limiter", "down", "1/4"]);
    garage.ok(&["change", "limiter", "down", "1/8"]);
    let text = garage.read("grey", "setup.toml");
    let line = text.lines().find(|l| l.starts_with("height = ")).unwrap_or_default();
    has(line, &["0.625 # in", "from the plate"]);
    assert_eq!(
        (line.matches("in").count(), line.matches("plate").count()),
        (1, 1),
        "the unit stands there once: {line}"
    );
}

#[test]
fn deleted_by_hand() {
    let garage = Garage::with_car();
    std::fs::remove_file(garage.book("grey").join("setup.toml")).unwrap();
    has(&garage.ok(&["sheet"]), &["v1", "setup.toml", "deleted by hand"]);
    has(&garage.refused(3, &["sheet", "--save"]), &["setup.toml is gone", "slipbook sheet --put-back"]);
    has(&garage.refused(3, &["change", "timing", "34"]), &["--put-back setup.toml"]);
    has(&garage.ok(&["sheet", "--put-back"]), &["put back as on record: setup.toml"]);
    garage.tidy("grey", "put back");
    garage.ok(&["change", "timing", "34"]);
}

/// What is said of a day that a hand deleted leads to its end, and the record stays whole.
#[test]
fn a_day_deleted_by_hand_is_put_back() {
    let garage = Garage::with_car();
    garage.ok(&["run", "--track", "Osier Flats", "1.6", "11.4", "117.1"]);
    garage.edit("grey", "setup.toml", |t| t.replace("extension = 6", "extension = 4"));
    std::fs::remove_dir_all(garage.book("grey").join("days")).unwrap();
    let log = garage.log("grey");
    has(
        &flat(&garage.ok(&["verify"])),
        &["the book is whole", DAY, "deleted from the folder", "slipbook sheet --put-back"],
    );
    has(&garage.ok(&["runs"]), &["1.600"]);
    garage.ok(&["check"]);
    garage.ok(&["history"]);
    has(&garage.ok(&[]), &["slipbook sheet --put-back", "slipbook sheet --save"]);
    has(&flat(&garage.ok(&["sheet"])), &[&format!("{DAY}: deleted by hand"), "sheet --put-back brings back"]);
    let puts_back = "slipbook sheet --put-back";
    has(&garage.refused(3, &["sheet", "--save"]), &[DAY, "whole on record", puts_back, "mend run ID --never"]);
    has(&garage.refused(3, &["run", "60=1.62"]), &[DAY, "deleted by hand", puts_back]);
    let id = garage.json(&["runs"])["runs"][0]["id"].as_str().unwrap().to_owned();
    has(&garage.refused(3, &["mend", "run", &id, "--never", "--yes"]), &[puts_back]);
    // What was deleted comes back; what was edited stays as edited.
    assert_eq!(garage.json(&["sheet", "--put-back"])["put_back"], serde_json::json!([DAY]));
    assert_eq!(garage.log("grey"), log, "no record is made of it");
    assert_eq!(garage.git("grey", &["status", "--porcelain"]), " M setup.toml\n");
    has(&garage.ok(&["sheet", "--put-back"]), &["nothing to put back"]);
    has(&garage.refused(2, &["sheet", "--put-back", DAY]), &[DAY, "as it is on record", "setup.toml (changed)"]);
    has(&garage.refused(2, &["sheet", "--put-back", "../../x"]), &["setup.toml (changed)"]);
    // Named, an edit goes too; and a run that never was goes by a mend.
    garage.ok(&["sheet", "--put-back", "setup.toml"]);
    garage.tidy("grey", "an edit that was dropped");
    garage.ok(&["mend", "run", &id, "--never", "--yes"]);
    assert_eq!(garage.json(&["runs"])["runs"].as_array().unwrap().len(), 0);
    garage.tidy("grey", "a run that never was");
}

#[test]
fn a_day_edited_by_hand() {
    let garage = Garage::with_car();
    garage.ok(&["run", "--track", "Osier Flats", "1.6", "11.4", "117.1"]);
    garage.edit("grey", DAY, |t| t.replace("ft60 = 1.600", "ft60 = 1.610"));
    has(&garage.refused(3, &["run", "60=1.62"]), &[DAY, "by hand", "sheet --save"]);
    has(&garage.ok(&["sheet"]), &[DAY, "not saved"]);
    garage.ok(&["sheet", "--save"]);
    assert_eq!(garage.json(&["runs"])["runs"][0]["ft60"], 1.61);
    garage.tidy("grey", "a day by hand");
    for (from, to, says) in [
        ("ft60 = 1.610", "ft60 = 12.0", "after"),
        ("ft60 = 1.610", "ft6o = 1.6", "ft6o"),
        ("finish = 1320", "finish = 1300", "1300"),
        ("utc_offset", "utc", "utc"),
    ] {
        garage.edit("grey", DAY, |t| t.replace(from, to));
        has(&garage.refused(3, &["sheet", "--save"]), &[DAY, says]);
        garage.edit("grey", DAY, |t| t.replace(to, from));
    }
    garage.tidy("grey", "put back by hand");
}

#[test]
fn a_field_of_its_own_by_hand() {
    let garage = Garage::with_car();
    garage.edit("grey", "car.toml", |t| format!("{t}\n[[field]]\nkey = \"own.pump\"\nlabel = \"fuel pump\"\nring = \"pocket\"\nrole = \"set\"\nkind = \"text\"\nsides = \"one\"\nhelp = \"Which of the two pumps is in.\"\n"));
    let saved = garage.run(&["sheet", "--save"]);
    assert_eq!(saved.code, 0, "{saved:?}");
    garage.ok(&["change", "own.pump=big"]);
    has(&garage.ok(&["sheet"]), &["fuel pump", "big"]);
    has(&garage.ok(&["fields", "pump"]), &["own.pump"]);
    garage.tidy("grey", "a field of its own");
    garage.edit("grey", "car.toml", |t| t.replace("role = \"set\"", "role = \"sat\""));
    has(&garage.refused(3, &["sheet", "--save"]), &["car.toml", "sat"]);
}

#[cfg(unix)]
#[test]
fn through_an_editor() {
    let garage = Garage::with_car();
    let editor = |script: &str| {
        use std::os::unix::fs::PermissionsExt as _;
        let path = garage.file("editor.sh", format!("#!/bin/sh\n{script}\n"));
        std::fs::set_permissions(&path, std::fs::Permissions::from_mode(0o755)).unwrap();
        garage.run_with(garage.root(), &[("EDITOR", &path)], &["sheet", "--edit", "--why", "in the editor"])
    };
    let edited = editor("sed -i.bak 's/^rpm = .*/rpm = 4444/' \"$1\" && rm -f \"$1.bak\"");
    assert_eq!(edited.code, 0, "{edited:?}");
    has(&edited.stdout, &["v2", "4444", "in the editor"]);
    garage.tidy("grey", "sheet --edit");
    let idle = editor("exit 0");
    has(&idle.stdout, &["nothing to save"]);
    let failed = editor("exit 7");
    assert_eq!(failed.code, 3, "{failed:?}");
    let spoiled = editor("echo 'x = [' >> \"$1\"");
    assert_eq!(spoiled.code, 3, "{spoiled:?}");
    has(&spoiled.stderr, &["setup.toml:"]);
    has_not(&garage.ok(&["history"]), &["v3"]);
    let none = garage.run(&["sheet", "--edit"]);
    assert_eq!(none.code, 2, "{none:?}");
    has(&none.stderr, &["EDITOR"]);
}

/// A commit by hand with stock git is part of the record: a version where what is set differs.
#[test]
fn committed_by_hand() {
    let garage = Garage::with_car();
    garage.edit("grey", "setup.toml", |t| t.replace("extension = 6", "extension = 4"));
    garage.git("grey", &["commit", "-qam", "looser"]);
    assert_eq!(garage.json(&["sheet"])["version"], "v2");
    has(&garage.ok(&["history"]), &["2 versions", "looser"]);
    garage.ok(&["change", "timing", "34"]);
    assert_eq!(garage.json(&["sheet"])["version"], "v3");
    garage.tidy("grey", "a change on a commit by hand");
}
