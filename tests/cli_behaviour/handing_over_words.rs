//! What a giver must read before a book goes: every free word is listed, every way of writing a name or a number is known,
//! and nothing goes out unread.

use crate::common::{Garage, flat, has, has_not};
use crate::handing_over_less::all_in;
use std::path::PathBuf;

fn garage() -> (Garage, PathBuf) {
    let garage = Garage::with_car();
    let stick = garage.root().join("stick");
    std::fs::create_dir(&stick).unwrap();
    (garage, stick)
}

#[test]
fn free_words_that_stay_are_listed() {
    let (garage, stick) = garage();
    garage.edit("grey", "car.toml", |t| format!("class = \"Nell's street class\"\n{t}"));
    garage.ok(&["sheet", "--save", "--yes"]);
    garage.ok(&["part", "add", "Olga's slicks", "--kind", "rear tires"]);
    garage.ok(&["change", "weight.as_weighed=Wanda in the seat", "engine.fuel=what Udo brews", "--yes"]);
    garage.ok(&["run", "--track", "Wanda's back yard", "60=1.652", "--prep", "dragged by Udo"]);
    garage.ok(&["trial", "start", "Vera's bet", "v1", "v2"]);
    let words = [
        "Nell's street class",
        "Olga's slicks",
        "Wanda in the seat",
        "what Udo brews",
        "Wanda's back yard",
        "dragged by Udo",
        "Vera's bet",
    ];
    for without in ["names,phones,notes", "phones"] {
        let listed = flat(&garage.ok(&["handover", "grey", "--list", "--without", without]));
        has(&listed, &["other words"]);
        has(&listed, &words);
        has_not(&listed, &["nothing: no", "\"in\"", "\"lb\"", "one letter a run", "setup.schema", "\"s\""]);
    }
    // The program's own comments are nobody's words; a hand's are.
    garage.edit("grey", "setup.toml", |t| t.replacen("# in", "# in; as Sten taped it", 1));
    garage.ok(&["sheet", "--save", "--yes"]);
    let all = garage.json(&["handover", "grey", "--list"])["other_words"].clone();
    let all: Vec<&str> = all.as_array().unwrap().iter().map(|w| w.as_str().unwrap()).collect();
    // With the pair the car stands on from the beginning.
    assert_eq!(all.len(), words.len() + 2, "{all:?}");
    assert!(all.contains(&"as Sten taped it"), "{all:?}");
    let told = garage.json(&["handover", "grey", "--list", "--without", "names,phones,notes"]);
    let listed: Vec<&str> = told["other_words"].as_array().unwrap().iter().map(|w| w.as_str().unwrap()).collect();
    for word in words {
        assert!(listed.contains(&word), "{word}: {listed:?}");
    }
    // With nothing of people's left, the words alone go, listed.
    let to = stick.join("x.bundle").display().to_string();
    let said = garage.run(&["handover", "grey", "--to", &to, "--without", "names,phones,notes"]);
    assert_eq!(said.code, 0, "{}", said.both());
    has(&flat(&said.stderr), &words);
}

#[test]
fn what_only_looks_like_the_programs_own_words_is_listed() {
    let (garage, _) = garage();
    // What the car was called before is on no list but this one.
    let name = garage.read("grey", "car.toml").lines().find(|l| l.starts_with("name")).unwrap().to_owned();
    garage.edit("grey", "car.toml", |t| t.replacen(&name, "name = \"Tony's loaner\"", 1));
    garage.ok(&["sheet", "--save", "--yes"]);
    garage.edit("grey", "car.toml", |t| t.replacen("name = \"Tony's loaner\"", &name, 1));
    garage.ok(&["sheet", "--save", "--yes"]);
    garage.ok(&["run", "--track", "Alder Flats", "60=1.652", "--note", "lane #4 of Al", "--yes"]);
    garage.edit("grey", "days/2026/08-22-alder-flats.toml", |t| {
        t.replacen("[[run]]", "#:schema lent by Udo\n# Al\n[[run]]", 1)
    });
    garage.ok(&["sheet", "--save", "--yes"]);
    let all = garage.json(&["handover", "grey", "--list"])["other_words"].clone();
    let all: Vec<&str> = all.as_array().unwrap().iter().map(|w| w.as_str().unwrap()).collect();
    let wanted = ["Tony's loaner", ":schema lent by Udo", "Al", "Alder Flats"];
    let missing: Vec<&&str> = wanted.iter().filter(|w| !all.contains(w)).collect();
    assert!(missing.is_empty(), "{missing:?} are not in {all:?}");
    // A `#` in a note is no comment, and the program's own lines and the car's name of now are nobody's words.
    let none = |w: &&str| w.starts_with("4 of") || w.contains("schema.json") || *w == "Grey";
    assert!(!all.iter().any(none), "{all:?}");
}

#[test]
fn a_number_goes_however_it_is_written() {
    let (garage, stick) = garage();
    for (n, note) in [
        "a 0170-1234567",
        "b 0170.123.45.67",
        "c 01 70 12 34 56 7",
        "call 5551234",
        "chat.example/15551234567",
        "or 555 12 34",
    ]
    .iter()
    .enumerate()
    {
        garage.at(&format!("2026-08-22T14:2{n}:00"));
        garage.ok(&["run", "--track", "Osier Flats", "60=1.652", "--note", note, "--yes"]);
    }
    let told = garage.json(&["handover", "grey", "--list"]);
    assert_eq!(told["phones"].as_array().unwrap().len(), 3, "{}", told["phones"]);
    let to = stick.join("x.bundle").display().to_string();
    let told = garage.json(&["handover", "grey", "--yes", "--to", &to, "--without", "phones"]);
    assert_eq!(told["phones"], serde_json::json!([]));
    let all = all_in(&garage, &stick.join("x.bundle"));
    has_not(&all, &["0170", "70 12", "5551234", "15551234567", "555 12 34"]);
    has(&all, &["a (number left out)", "c (number left out)", "or (number left out)"]);
    // The record is pointed at as one.
    garage.ok(&["change", "engine.timing=35", "--why", "Pell 555-013-0142", "--yes"]);
    let listed = flat(&garage.ok(&["handover", "grey", "--list"]));
    has(&listed, &["555-013-0142 (in the record of v2, 2026-08-22)"]);
    // The name of a part stays: it is said which, and what can be done.
    garage.ok(&["part", "add", "Pell 0170 1234567", "--kind", "rear tires"]);
    let to = stick.join("y.bundle").display().to_string();
    let refused = flat(&garage.refused(3, &["handover", "grey", "--yes", "--to", &to, "--without", "phones"]));
    has(&refused, &["a part's name", "Pell 0170 1234567", "--without phones,rear.tire.name", "nothing was written"]);
    garage.ok(&["handover", "grey", "--yes", "--to", &to, "--without", "phones,rear.tire.name"]);
    has_not(&all_in(&garage, &stick.join("y.bundle")), &["1234567"]);
}

#[test]
fn a_name_goes_whatever_its_letters() {
    let (garage, stick) = garage();
    garage.edit("grey", "car.toml", |t| {
        format!("{t}\n[[owner]]\nname = \"M\u{fc}ller, Hans-Peter\"\n\n[[owner]]\nname = \"Jos\u{e9} \u{d1}and\u{fa}\"\n\n[[owner]]\nname = \"Will May\"\n")
    });
    garage.ok(&["sheet", "--save", "--yes"]);
    let note = "M\u{dc}LLER, m\u{fc}ller, M\u{fc}llers, HANS; JOS\u{c9}, jose, \u{f1}and\u{fa}; May said it may and will hook, Will's way";
    garage.ok(&["run", "--track", "Osier Flats", "60=1.652", "--note", note, "--yes"]);
    let to = stick.join("x.bundle").display().to_string();
    garage.ok(&["handover", "grey", "--yes", "--to", &to, "--without", "names"]);
    let all = all_in(&garage, &stick.join("x.bundle")).to_lowercase();
    has_not(&all, &["m\u{fc}ller", "hans", "jose", "jos\u{e9}", "\u{f1}and\u{fa}", "may said", "will's"]);
    has(&all, &["said it may and will hook,"]);
}

#[test]
fn nothing_of_people_goes_out_unread() {
    let (garage, stick) = garage();
    garage.at("2026-08-02T10:00:00");
    garage.ok(&["run", "--track", "Osier Flats", "60=1.652", "--note", "Pell hates this lane", "--yes"]);
    garage.at("2026-08-03T10:00:00");
    garage.ok(&["change", "engine.timing=35", "--why", "Udo bet on it", "--yes"]);
    let to = stick.join("x.bundle").display().to_string();
    let refused = garage.refused(2, &["handover", "grey", "--to", &to]);
    has(&flat(&refused), &["names 1", "notes and reasons 2", "--yes", "--without", "nothing was written"]);
    assert_eq!(std::fs::read_dir(&stick).unwrap().count(), 0);
    let listed = flat(&garage.ok(&["handover", "grey", "--list"]));
    has(&listed, &["2026-08-02 Pell hates this lane", "2026-08-03 Udo bet on it"]);
    let told = garage.json(&["handover", "grey", "--list"]);
    assert_eq!(told["note_list"][0], serde_json::json!({"of": "2026-08-02", "text": "Pell hates this lane"}));
    garage.ok(&["handover", "grey", "--to", &to, "--without", "names,notes"]);
    garage.ok(&["handover", "grey", "--yes", "--to", &stick.join("y.bundle").display().to_string()]);
}

#[test]
fn a_private_mark_not_saved_is_said_before_anything_goes() {
    let (garage, stick) = garage();
    garage.edit("grey", "car.toml", |t| t.replacen("format = 1\n", "format = 1\nprivate = [\"engine\"]\n", 1));
    let to = stick.join("x.bundle").display().to_string();
    let refused = garage.refused(2, &["handover", "grey", "--to", &to, "--without", "names,notes,private"]);
    has(&flat(&refused), &["car.toml has edits not saved", "slipbook sheet --save first", "nothing was written"]);
    assert_eq!(std::fs::read_dir(&stick).unwrap().count(), 0);
    has(&flat(&garage.ok(&["handover", "grey", "--list"])), &["not in it car.toml, edited by hand and not saved"]);
    garage.ok(&["sheet", "--save", "--yes"]);
    garage.ok(&["handover", "grey", "--to", &to, "--without", "names,notes,private"]);
}
