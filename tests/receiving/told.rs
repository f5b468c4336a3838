//! What is said of what was taken in: records that slipbook did not write, the file beside the book that is here, and
//! what is no book but lies beside one.

use crate::common::{Garage, flat, has, has_not};

fn car() -> Garage {
    let garage = Garage::with_car();
    garage.ok(&["run", "--track", "Osier Flats", "60=1.594", "et=11.5", "mph=117"]);
    garage
}

const DAY: &str = "days/2026/08-22-osier-flats.toml";

#[test]
fn what_a_hand_altered_in_a_clone_is_said_beside_whole() {
    let garage = car();
    garage.edit("grey", DAY, |t| t.replace("1.594", "1.399"));
    garage.edit("grey", "setup.toml", |t| t.replace("height = 1.00", "height = 0.50"));
    let commit = ["commit", "-qam", "a better day"];
    garage.git("grey", &commit);
    let once = "1 record was not written by slipbook: by Hand; altered 1 run, altered the sheet";
    let lines = ["a better day", DAY, "it altered 1 run", "ft60 1.594, now 1.399", "it altered the sheet: limiter"];
    let said = flat(&garage.ok(&["verify"]));
    has(&said, &[&format!("the book is whole, but {once}")]);
    has(&said, &lines);
    let json = garage.json(&["verify"]);
    let not_ours = &json["not_by_slipbook"][0];
    assert_eq!(
        (&not_ours["by"], &not_ours["runs_changed"][0]["otherwise"][0]["now"]),
        (&"Hand".into(), &"1.399".into())
    );

    let taker = Garage::new();
    taker.by("Mo");
    let said = flat(&taker.ok(&["receive", &garage.book("grey").display().to_string()]));
    has(&said, &[&format!("whole, and nothing in it can run, but {once}")]);
    has(&said, &lines);
    // It stays said, whatever is written after it.
    taker.ok(&["change", "launch", "rpm", "4400"]);
    has(&flat(&taker.ok(&["verify"])), &[once]);

    // Told once where an id says what came after.
    let plain = car();
    let id = plain.json(&["verify"])["handover_id"].as_str().unwrap().to_owned();
    plain.edit("grey", DAY, |t| t.replace("1.594", "1.399"));
    plain.git("grey", &commit);
    let said = flat(&plain.ok(&["verify", "--against", &id]));
    assert_eq!(said.matches("a better day").count(), 1, "{said}");
    has(&said, &["1 record was not written by slipbook: by Hand; altered 1 run"]);
}

/// Anybody can write what a record says it is.
#[test]
fn what_a_hand_altered_is_said_whatever_its_record_says_it_is() {
    let run = |t: &str| t.replace("1.594", "1.399");
    let gone = |t: &str| t[..t.find("[[run]]").unwrap()].to_owned();
    let sheet = |t: &str| t.replace("height = 1.00", "height = 0.50");
    let whole = |t: &str| format!("# by hand\n{t}");
    type Edit<'a> = &'a dyn Fn(&str) -> String;
    let cases: [(&str, &str, Edit, &str); 9] = [
        ("run", DAY, &run, "altered 1 run"),
        ("other", DAY, &run, "altered 1 run"),
        ("change", DAY, &run, "altered 1 run"),
        ("oops", DAY, &run, "altered 1 run"),
        ("run", DAY, &gone, "took out 1 run"),
        ("run", "setup.toml", &sheet, "altered the sheet"),
        ("measured", "setup.toml", &sheet, "altered the sheet"),
        ("mend", "setup.toml", &sheet, "altered the sheet"),
        ("run", DAY, &whole, ""),
    ];
    for (kind, path, edit, did) in cases {
        let garage = car();
        let id = garage.json(&["verify"])["handover_id"].as_str().unwrap().to_owned();
        garage.edit("grey", path, edit);
        garage.git("grey", &["commit", "-qam", "60 ft 1.594", "-m", &format!("Kind: {kind}")]);
        let (said, json) = (flat(&garage.ok(&["verify"])), garage.json(&["verify"]));
        let against = flat(&garage.ok(&["verify", "--against", &id]));
        if did.is_empty() {
            has_not(&said, &["not written by slipbook"]);
            continue;
        }
        let once = format!("1 record was not written by slipbook: by Hand; {did}");
        has(&said, &[&once, &format!("was not written by slipbook, though marked Kind: {kind}: {path}")]);
        has(&against, &[&once]);
        assert_eq!((against.matches("though marked").count(), &json["not_by_slipbook"][0]["kind"]), (1, &kind.into()));
        let bundle = garage.root().join("x.bundle").display().to_string();
        garage.git("grey", &["bundle", "create", "-q", &bundle, "main"]);
        has(&flat(&Garage::new().ok(&["receive", &bundle])), &[&once]);
    }
}

#[test]
fn an_edit_by_hand_that_was_saved_is_said_where_it_altered_a_run() {
    let garage = car();
    garage.edit("grey", DAY, |t| t.replacen('\n', "\nprep = \"sticky\"\n", 1));
    garage.ok(&["sheet", "--save"]);
    has_not(&garage.ok(&["verify"]), &["by hand"]);
    garage.edit("grey", DAY, |t| t.replace("1.594", "1.399"));
    garage.ok(&["sheet", "--save"]);
    let said = flat(&garage.ok(&["verify"]));
    has(&said, &["the book is whole, but 1 edit by hand was saved: by Ro; altered 1 run", "saved an edit by hand"]);
    has_not(&said, &["not written by slipbook"]);
}

/// All that the program writes itself, taken back, put right and told late too.
#[test]
fn nothing_the_program_writes_is_called_a_strangers() {
    let none = |garage: &Garage, book: &str| {
        let json = garage.json(&["verify", "--car", book]);
        assert_eq!(json["not_by_slipbook"], serde_json::json!([]), "{book}");
    };
    let sample = Garage::sample();
    ["dunlin", "knot", "plover"].iter().for_each(|book| none(&sample, book));
    let garage = car();
    garage.at("2026-08-22T16:00:00");
    garage.ok(&["change", "limiter", "down", "1/4"]);
    garage.ok(&["run", "60=1.58", "et=11.4", "mph=117"]);
    garage.ok(&["oops", "--yes"]);
    garage.ok(&["oops", "--yes"]);
    garage.ok(&["change", "launch", "rpm", "4400", "--when", "aug 15 09:00", "--yes"]);
    let id = garage.json(&["runs"])["runs"][0]["id"].as_str().unwrap().to_owned();
    garage.ok(&["mend", "run", &id, "60=1.6", "--yes"]);
    garage.ok(&["mend", "v2", "limiter", "0.5", "--yes"]);
    garage.ok(&["mend", "run", &id, "--never", "--yes"]);
    garage.ok(&["measure", "limiter.gap=0.4", "--yes"]);
    none(&garage, "grey");
}

#[test]
fn what_slipbook_wrote_is_not_called_a_strangers() {
    let garage = Garage::new();
    garage.take_in("plover");
    garage.edit("plover", "setup.toml", |t| format!("{t}# by hand\n"));
    garage.ok(&["sheet", "--save"]);
    has_not(&garage.ok(&["verify"]), &["not written by slipbook", "not ours"]);
    assert_eq!(garage.json(&["verify"])["not_by_slipbook"].as_array().unwrap().len(), 0);
}

#[test]
fn an_older_file_is_told_apart_from_the_book_that_is_here() {
    let garage = car();
    let bundle = garage.root().join("grey.bundle").display().to_string();
    garage.ok(&["copy", &bundle]);
    let said = flat(&garage.ok(&["receive", &bundle]));
    has(&said, &["the file 1 version, 1 run, 2 records", "your book 1 version, 1 run", ", the same"]);
    has_not(&said, &["the same and more"]);
    garage.at("2026-08-22T16:00:00");
    garage.ok(&["change", "launch", "rpm", "4400"]);
    garage.ok(&["run", "60=1.6", "et=11.5", "mph=117"]);
    let said = flat(&garage.ok(&["receive", &bundle]));
    has(&said, &["the book here has all of that already", "the file 1 version, 1 run, 2 records", "id of it"]);
    has(&said, &["your book 2 versions, 2 runs", "the same and more"]);
    let json = garage.json(&["receive", &bundle]);
    assert_eq!((&json["versions"], &json["more_here"]), (&1.into(), &2.into()), "{json}");
}

#[test]
fn a_shortened_record_says_on_how_many_of_the_runs_it_rests() {
    let garage = car();
    garage.at("2026-08-23T09:00:00");
    garage.ok(&["change", "limiter", "down", "1/4"]);
    for minute in [10, 20, 30] {
        garage.at(&format!("2026-08-23T09:{minute}:00"));
        garage.ok(&["run", "60=1.580", "et=11.4", "mph=117"]);
    }
    let at = |garage: &Garage, name: &str| garage.root().join(name).display().to_string();
    let (late, whole) = (at(&garage, "late.bundle"), at(&garage, "whole.bundle"));
    garage.ok(&["handover", "--to", &late, "--since", "v2", "--yes"]);
    garage.ok(&["handover", "--to", &whole, "--yes"]);
    let says = |said: &str, versions: &str, of: &str| {
        has(&flat(said), &[&format!("before it {versions} of the car came before this record begins"), of]);
    };
    let taker = Garage::new();
    taker.at("2026-08-24T09:00:00");
    says(&taker.ok(&["receive", &late]), "1 version and 1 run", "rests on 3 of its 4 runs");
    taker.ok(&["verify"]);
    let json = taker.json(&["receive", &late]);
    assert_eq!(json["story"]["before"], serde_json::json!({"versions": 1, "runs": 1}), "{json}");

    // Handed on once more it is not forgotten, whatever is left out then.
    taker.ok(&["change", "limiter", "down", "1/8"]);
    taker.at("2026-08-24T10:00:00");
    taker.ok(&["run", "--track", "Osier Flats", "60=1.570", "et=11.4", "mph=117"]);
    for (more, versions, of) in [
        (&["--since", "v3"][..], "2 versions and 4 runs", "rests on 1 of its 5 runs"),
        (&["--without", "notes"], "1 version and 1 run", "rests on 4 of its 5 runs"),
        (&[], "1 version and 1 run", "rests on 4 of its 5 runs"),
    ] {
        let to = at(&taker, &format!("{}.bundle", more.len() + versions.len()));
        taker.ok(&[&["handover", "--to", &to, "--yes"], more].concat());
        says(&Garage::new().ok(&["receive", &to]), versions, of);
    }
    // Of a whole record nothing of the kind is said.
    let other = Garage::new();
    has_not(&flat(&other.ok(&["receive", &whole])), &["before it", "rests on"]);
    assert!(other.json(&["receive", &whole])["story"]["before"].is_null());
}

#[test]
fn the_id_has_one_shape_wherever_it_is_shown() {
    let garage = car();
    let bundle = garage.root().join("sold.bundle").display().to_string();
    let handed = garage.json(&["handover", "--to", &bundle, "--yes"]);
    let verified = garage.json(&["verify"]);
    let taker = Garage::new();
    let received = taker.json(&["receive", &bundle]);
    for key in ["handover_id", "handover_words", "check_word"] {
        assert_eq!(handed[key], verified[key], "{key}");
        assert_eq!(handed[key], received[key], "{key}");
    }
    assert_eq!(handed["handover_words"].as_array().unwrap().len(), 6);
    let check = format!("check word {}", handed["check_word"].as_str().unwrap());
    has(&flat(&garage.ok(&["verify"])), &[&check]);
    has(&flat(&taker.ok(&["receive", &bundle])), &[&check]);
}

#[test]
fn what_lies_beside_the_book_says_which_it_is() {
    let garage = car();
    let stick = garage.root().join("stick");
    std::fs::create_dir_all(&stick).unwrap();
    let at = |name: &str| stick.join(name).display().to_string();
    garage.ok(&["handover", "--to", &at("sold.bundle"), "--yes"]);
    let taker = Garage::new();
    let said = flat(&taker.refused(2, &["receive", &at("sold.txt")]));
    has(&said, &["is the page that goes with the file", &format!("slipbook receive {}", at("sold.bundle"))]);
    let stick = stick.display().to_string();
    let said = flat(&taker.refused(2, &["receive", &stick]));
    has(&said, &["it holds the bundles sold.bundle", &format!("slipbook receive {}", at("sold.bundle"))]);
    let said = flat(&taker.refused(2, &["receive", &garage.dir().display().to_string()]));
    has(&said, &["it holds the books grey", &format!("slipbook receive {}", garage.book("grey").display())]);
    let said = flat(&garage.refused(2, &["join", &stick]));
    has(&said, &["it holds sold.bundle", &format!("slipbook join {}", at("sold.bundle"))]);
    // A file that is called as one of git's makes no repository of the stick.
    std::fs::write(at("HEAD"), "of the old engine").unwrap();
    let said = flat(&taker.refused(2, &["receive", &stick]));
    has(&said, &["it holds the bundles sold.bundle", &format!("slipbook receive {}", at("sold.bundle"))]);
    taker.ok(&["receive", &at("sold.bundle")]);
}

#[test]
fn what_comes_back_with_a_run_altered_by_a_hand_is_asked_about() {
    let mine = car();
    let file = mine.root().join("grey.bundle").display().to_string();
    mine.ok(&["handover", "grey", "--to", &file, "--yes"]);
    let theirs = Garage::new();
    theirs.by("Mo");
    theirs.ok(&["receive", &file]);
    theirs.edit("grey", DAY, |t| t.replace("1.594", "1.399"));
    theirs.git("grey", &["commit", "-qam", "a better day"]);
    let back = theirs.book("grey").display().to_string();
    let before = mine.contents();
    let said = flat(&mine.refused(2, &["receive", &back]));
    has(&said, &["takes out or alters 1 run of the book of Grey", "--yes takes it in all the same"]);
    assert_eq!(mine.contents(), before, "nothing was changed");
    has(&flat(&mine.ok(&["receive", &back, "--yes"])), &["back in its own book", "altered 1 run"]);
}

#[test]
fn what_comes_back_without_a_version_is_asked_about_however_many_are_new() {
    let mine = car();
    for (day, timing) in [("23", "34"), ("24", "35")] {
        mine.at(&format!("2026-08-{day}T12:00:00"));
        mine.ok(&["change", &format!("engine.timing={timing}"), "--yes"]);
    }
    let file = mine.root().join("grey.bundle").display().to_string();
    mine.ok(&["handover", "grey", "--to", &file, "--yes"]);
    let theirs = Garage::new();
    theirs.by("Mo");
    theirs.at("2026-08-25T12:00:00");
    theirs.ok(&["receive", &file]);
    let newest = |g: &Garage| g.json(&["history", "--all"])["versions"].as_array().unwrap().len();
    let before = newest(&mine);
    theirs.ok(&["mend", &format!("v{}", before - 1), "--never", "--yes"]);
    theirs.ok(&["change", "launch.rpm=4400", "--yes"]);
    assert_eq!(newest(&theirs), before);
    let back = theirs.book("grey").display().to_string();
    let said = flat(&mine.refused(2, &["receive", &back]));
    has(&said, &["takes 0 runs and 1 version out of the book of Grey", "--yes takes it in all the same"]);
    has(&flat(&mine.ok(&["receive", &back, "--yes"])), &["back in its own book"]);
}

#[test]
fn a_name_for_the_car_makes_nobody_its_owner() {
    let from = car();
    let taker = Garage::new();
    taker.by("unknown");
    taker.ok(&["receive", &from.book("grey").display().to_string(), "--as", "Slate"]);
    assert!(!taker.read("slate", "car.toml").contains("[[owner]]"), "{}", taker.read("slate", "car.toml"));
    has(&taker.log("slate")[0], &["the car is called Slate from here on"]);
}

#[test]
fn another_current_car_is_said() {
    let from = car();
    let taker = Garage::new();
    taker.at("2026-08-22T09:00:00");
    taker.ok(&["new", "Wren", "--template", "leaf-torsion"]);
    let out = taker.run(&["receive", &from.book("grey").display().to_string()]);
    has(&out.both(), &["grey is the current car now: slipbook cars wren goes back"]);
    has_not(&taker.run(&["receive", &from.book("grey").display().to_string()]).both(), &["is the current car now"]);
}
