//! `verify`: what is damaged is named, what is good is counted, and a handover id is held against the book.

use crate::common::{Garage, flat};
use std::fs;
use std::path::PathBuf;

/// A car with a change and two runs.
fn car() -> Garage {
    let garage = Garage::with_car();
    garage.ok(&["run", "--track", "Osier Flats", "60=1.6", "et=11.5", "mph=117"]);
    garage.at("2026-08-22T15:00:00");
    garage.ok(&["change", "limiter", "down", "1/4"]);
    garage.at("2026-08-22T15:20:00");
    garage.ok(&["run", "60=1.58", "et=11.45", "mph=117"]);
    garage
}

fn object(garage: &Garage, id: &str) -> PathBuf {
    garage.book("grey").join(format!(".git/objects/{}/{}", &id[..2], &id[2..]))
}

#[test]
fn the_id_that_was_told_is_found_again() {
    let garage = car();
    let told = garage.json(&["verify"]);
    let id = told["handover_id"].as_str().unwrap().to_owned();
    let six = told["handover_words"].as_array().unwrap().iter();
    let words: Vec<String> = six.chain([&told["check_word"]]).map(|w| w.as_str().unwrap().to_owned()).collect();
    assert_eq!((id.len(), words.len()), (64, 7));
    let against = |garage: &Garage, id: &[&str]| garage.run(&[&["verify", "--against"], id].concat());
    let spoken: Vec<&str> = words.iter().map(String::as_str).collect();
    let broken = format!("{} {}\n", &id[..40], &id[40..]);
    for said in [vec![id.as_str()], spoken.clone(), vec![&words.join(" ")], vec![&broken]] {
        let output = against(&garage, &said);
        assert_eq!(output.code, 0, "{output:?}");
        assert!(output.stdout.contains("it is that book, unaltered"), "{}", output.stdout);
    }
    garage.at("2026-08-22T16:00:00");
    garage.ok(&["change", "limiter", "up", "1/8"]);
    garage.ok(&["run", "60=1.59"]);
    for said in [vec![id.as_str()], spoken.clone()] {
        let output = against(&garage, &said);
        assert_eq!(output.code, 0, "{output:?}");
        let said = flat(&output.stdout);
        assert!(said.contains("whole and unaltered since that id"), "{said}");
        assert!(said.contains("2 records came after it"), "{said}");
    }
    // Another book, words that are none, and an id that is none.
    let other = Garage::with_car();
    let output = against(&other, &[&id]);
    assert_eq!(output.code, 1);
    assert!(flat(&output.stdout).contains("it is another, or was altered"), "{}", output.stdout);
    let mut swapped = spoken.clone();
    swapped.swap(0, 1);
    assert_eq!(against(&garage, &swapped).code, 2);
    assert_eq!(against(&garage, &["heron"]).code, 2);
    let part = against(&garage, &[&id[..8]]);
    assert!(part.code == 2 && part.stderr.contains("an id is 64 digits or seven words; 8 digits"), "{part:?}");
    // The received book is that book.
    let bundle = garage.root().join("x.bundle").display().to_string();
    garage.ok(&["copy", &bundle]);
    let id = garage.json(&["verify"])["handover_id"].as_str().unwrap().to_owned();
    let taker = Garage::new();
    let received = taker.json(&["receive", &bundle]);
    assert_eq!(received["handover_id"], id.as_str());
    let output = against(&taker, &[&id]);
    assert_eq!(output.code, 0, "{output:?}");
    assert!(output.stdout.contains("since that id"), "a new owner is an entry of the book: {}", output.stdout);
}

#[test]
fn each_damage_is_named_with_what_is_lost_and_what_is_good() {
    // An old sheet that is gone, a day that is altered, a record that is gone.
    let garage = car();
    let versions = garage.json(&["history"]);
    assert_eq!(versions["versions"].as_array().unwrap().len(), 2);
    let log = garage.git("grey", &["log", "--format=%H"]);
    let log: Vec<&str> = log.lines().collect();
    let of = |commit: &str, path: &str| garage.git("grey", &["rev-parse", &format!("{commit}:{path}")]);
    let first_sheet = of(log[log.len() - 1], "setup.toml");
    let day = of(log[0], "days/2026/08-22-osier-flats.toml");

    let path = object(&garage, first_sheet.trim());
    let sheet = fs::read(&path).unwrap();
    fs::remove_file(&path).unwrap();
    let output = garage.run(&["verify"]);
    assert_eq!(output.code, 1);
    assert!(output.stdout.contains("lost      setup.toml, first in \"Grey: book opened"), "{}", output.stdout);
    let said = flat(&output.stdout);
    assert!(said.contains("it is not there (object ") && said.contains("); 1 run was made on it"), "{said}");
    assert!(said.contains("1 thing not as it should be") && said.contains("3 of 3 files"), "{said}");
    fs::write(&path, &sheet).unwrap();
    assert_eq!(garage.run(&["verify"]).code, 0);

    // The bytes of another object under its name.
    let at = object(&garage, day.trim());
    let bytes = fs::read(&at).unwrap();
    fs::remove_file(&at).unwrap();
    fs::write(&at, &sheet).unwrap();
    let output = garage.run(&["verify"]);
    assert_eq!(output.code, 1);
    assert!(output.stdout.contains("lost      days/2026/08-22-osier-flats.toml"), "{}", output.stdout);
    assert!(flat(&output.stdout).contains("2 of 3 files"), "{}", output.stdout);
    fs::remove_file(&at).unwrap();
    fs::write(&at, &bytes).unwrap();

    let gone = object(&garage, log[2]);
    let bytes = fs::read(&gone).unwrap();
    fs::remove_file(&gone).unwrap();
    let told = garage.run(&["verify", "--format", "json"]);
    assert_eq!(told.code, 1);
    let told: serde_json::Value = serde_json::from_str(&told.stdout).unwrap();
    assert_eq!((&told["records"], &told["good"]), (&serde_json::json!(2), &serde_json::json!(false)));
    assert_eq!(told["wrong"][0]["harm"], "lost");
    assert_eq!(told["wrong"][0]["object"], log[2]);
    assert_eq!(told["handover_id"], serde_json::Value::Null);
    // Its first run stands in two versions of its day: one line says so.
    assert_eq!(told["wrong"].as_array().unwrap().iter().filter(|w| w["harm"] == "content").count(), 2, "{told}");
    let said = garage.run(&["verify"]).stdout;
    assert_eq!(said.matches("  not right ").count(), 1, "{said}");
    fs::write(&gone, bytes).unwrap();
    assert_eq!(garage.run(&["verify"]).code, 0);
}

/// One file's content may stand under two paths: each of them has lost it, and each is named.
#[test]
fn what_is_lost_under_two_paths_is_named_under_both() {
    let garage = car();
    let days = ["days/2026/08-22-osier-flats.toml", "days/2026/08-23-osier-flats.toml"];
    fs::copy(garage.book("grey").join(days[0]), garage.book("grey").join(days[1])).unwrap();
    commit_by_hand(&garage, "twice");
    let blob = garage.git("grey", &["rev-parse", &format!("HEAD:{}", days[1])]);
    let path = object(&garage, blob.trim());
    fs::remove_file(&path).unwrap();
    for damage in ["gone", "altered"] {
        let told = told_json(&garage);
        let lost = told["wrong"].as_array().unwrap().iter().filter(|w| w["harm"] == "lost");
        let mut lost: Vec<(&str, &str)> =
            lost.map(|w| (w["path"].as_str().unwrap(), w["object"].as_str().unwrap())).collect();
        lost.sort_unstable();
        assert_eq!(lost, days.map(|d| (d, blob.trim())), "{damage}: {told}");
        let said = garage.run(&["verify"]).stdout;
        for day in days {
            assert!(said.contains(&format!("lost      {day}")), "{damage}: {said}");
        }
        assert!(flat(&said).contains("2 of 4 files"), "{damage}: {said}");
        fs::write(&path, b"nothing of git").unwrap();
    }
}

#[test]
fn where_the_newest_record_is_lost_what_is_before_it_is_found_and_can_be_gone_back_to() {
    let garage = car();
    let log = garage.git("grey", &["log", "--format=%H"]);
    let log: Vec<&str> = log.lines().collect();
    fs::remove_file(object(&garage, log[0])).unwrap();
    let output = garage.run(&["verify"]);
    assert_eq!(output.code, 1);
    let said = flat(&output.stdout);
    for wanted in [
        &format!("lost the newest record, {}", &log[0][..7]),
        "good 3 records",
        &format!("the newest record that is there: {}", &log[1][..7]),
        &format!("git update-ref refs/heads/main {}", log[1]),
    ] {
        assert!(said.contains(wanted), "`{wanted}` is not in: {said}");
    }
    assert_eq!(told_json(&garage)["newest_there"]["record"], log[1]);
    garage.git("grey", &["update-ref", "refs/heads/main", log[1]]);
    assert_eq!(garage.run(&["verify"]).code, 0);
}

/// What verify tells of a book that is not as it should be.
fn told_json(garage: &Garage) -> serde_json::Value {
    serde_json::from_str(&garage.run(&["verify", "--format", "json"]).stdout).unwrap()
}

#[test]
fn a_damaged_book_is_mended_by_a_good_file_of_it() {
    for damage in ["lost object", "altered object", "lost newest record", "altered pack"] {
        let garage = car();
        let bundle = garage.root().join("full.bundle").display().to_string();
        garage.ok(&["copy", &bundle]);
        // A record that is only here.
        garage.at("2026-08-22T16:00:00");
        if damage != "lost newest record" {
            garage.ok(&["change", "limiter", "up", "1/8"]);
        }
        let log = garage.git("grey", &["log", "--format=%H"]);
        let log: Vec<&str> = log.lines().collect();
        let sheet = garage.git("grey", &["rev-parse", &format!("{}:setup.toml", log[log.len() - 1])]);
        let overwrite = |path: &std::path::Path, bytes: &[u8]| {
            fs::remove_file(path).unwrap();
            fs::write(path, bytes).unwrap();
        };
        match damage {
            "lost object" => fs::remove_file(object(&garage, sheet.trim())).unwrap(),
            "altered object" => overwrite(&object(&garage, sheet.trim()), b"nothing of git"),
            "lost newest record" => fs::remove_file(object(&garage, log[0])).unwrap(),
            _ => {
                garage.git("grey", &["repack", "-adq"]);
                let packs = garage.book("grey").join(".git/objects/pack");
                let pack = fs::read_dir(packs).unwrap().map(|e| e.unwrap().path());
                let pack = pack.into_iter().find(|p| p.extension().is_some_and(|e| e == "pack")).unwrap();
                let mut bytes = fs::read(&pack).unwrap();
                let listed = garage.git("grey", &["verify-pack", "-v", &pack.display().to_string()]);
                let of = listed.lines().find(|l| l.starts_with(sheet.trim())).unwrap();
                let at: usize = of.split_whitespace().nth(4).unwrap().parse().unwrap();
                bytes[at + 8] ^= 0x55;
                overwrite(&pack, &bytes);
            }
        }
        assert_eq!(garage.run(&["verify"]).code, 1, "{damage}");
        let told = garage.json(&["receive", &bundle]);
        assert!(told["put_back_objects"].as_u64().unwrap() > 0, "{damage}: {told}");
        assert_eq!(told["folder"], "grey", "{damage}");
        let verified = garage.run(&["verify"]);
        assert_eq!(verified.code, 0, "{damage}: {verified:?}");
        let now = garage.git("grey", &["log", "--format=%H"]);
        assert_eq!(now.lines().collect::<Vec<_>>(), log, "{damage}");
    }
}

#[test]
fn verify_writes_nothing_and_says_what_is_not_saved() {
    let garage = car();
    let before = crate::yard::all_below(&garage.dir());
    garage.ok(&["verify", "grey"]);
    assert!(before == crate::yard::all_below(&garage.dir()));
    garage.edit("grey", "setup.toml", |t| format!("{t}# by hand\n"));
    assert!(garage.ok(&["verify"]).contains("edited and not saved"));
    // A file that is gone from the folder was not edited.
    let day = "days/2026/08-22-osier-flats.toml";
    fs::remove_file(garage.book("grey").join(day)).unwrap();
    let said = flat(&garage.ok(&["verify"]));
    assert!(said.contains(&format!("{day}: deleted from the folder")), "{said}");
    let told = garage.json(&["verify"]);
    assert_eq!(told["deleted"], serde_json::json!([day]));
}

/// Commits by stock git what a hand did in the folder of the book.
fn commit_by_hand(garage: &Garage, subject: &str) {
    garage.git("grey", &["add", "-A"]);
    garage.git("grey", &["commit", "-q", "-m", subject]);
}

#[test]
fn what_came_after_the_id_is_told_with_what_it_took_out_or_altered() {
    let garage = car();
    let id = garage.json(&["verify"])["handover_id"].as_str().unwrap().to_owned();
    let day = "days/2026/08-22-osier-flats.toml";
    garage.edit("grey", day, |t| t.replacen("1.600 ", "1.400 ", 1));
    commit_by_hand(&garage, "tidy");
    let told = garage.run(&["verify", "--against", &id]);
    assert_eq!(told.code, 0, "{told:?}");
    let said = flat(&told.stdout);
    assert!(!said.contains("unaltered"), "{said}");
    for wanted in [
        "1 record came after it, by Hand",
        "\"tidy\" by Hand",
        "was not written by slipbook: days/2026/08-22-osier-flats.toml",
        "1 run of then: Aug 22 14:20 (ft60 1.6, now 1.4)",
        "took out or altered some of it",
    ] {
        assert!(said.contains(wanted), "`{wanted}` is not in: {said}");
    }

    std::fs::remove_file(garage.book("grey").join(day)).unwrap();
    commit_by_hand(&garage, "less");
    let told = garage.json(&["verify", "--against", &id]);
    let after = &told["against"]["after"];
    let len = |key: &str| after[key].as_array().unwrap().len();
    assert_eq!((len("runs_gone"), len("runs_changed"), len("not_by_slipbook")), (2, 0, 2), "{after}");
    assert_eq!(after["files_gone"], serde_json::json!([day]));
    assert_eq!(after["runs_gone"][0]["by_slipbook"], false);
    assert_eq!(after["not_by_slipbook"][1]["files"], serde_json::json!([{"path": day, "gone": true}]));
    assert_eq!((&told["against"]["added"], &after["only_added"]), (&2.into(), &false.into()));
    let said = flat(&garage.ok(&["verify", "--against", &id]));
    assert!(said.contains("2 runs of then: Aug 22 14:20") && said.contains("taken out"), "{said}");
}

#[test]
fn a_version_whose_sheet_a_hand_altered_later_is_named() {
    let garage = car();
    let id = garage.json(&["verify"])["handover_id"].as_str().unwrap().to_owned();
    // Dated back into the first version.
    let first = garage.git("grey", &["log", "--reverse", "--format=%aI"]);
    let at = first.lines().next().unwrap();
    garage.edit("grey", "setup.toml", |t| format!("{t}# told later\n"));
    garage.git("grey", &["add", "-A"]);
    garage.git("grey", &["commit", "-q", "-m", "was so", "--date", at]);
    let told = garage.json(&["verify", "--against", &id]);
    let after = &told["against"]["after"];
    assert_eq!(after["sheets_changed"], serde_json::json!(["v1"]), "{after}");
}
