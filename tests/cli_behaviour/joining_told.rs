//! What a joining says: which book it took, runs that move, what cannot be joined and what to do instead.

use super::joining::{apart, beside, path, tip, two};
use crate::common::{Garage, flat, has, has_not};

#[test]
fn of_several_books_in_a_folder_the_one_with_something_new_is_taken_and_named() {
    let (ro, sal) = two();
    apart(&ro, &sal);
    let stick = ro.root().join("stick");
    let folder = |name: &str| {
        let dir = stick.join(name);
        std::fs::create_dir_all(&dir).unwrap();
        dir.display().to_string()
    };
    let (of_ro, of_sal) = (folder("ro"), folder("sal"));
    let stick = stick.display().to_string();
    // The folder is a garage: each copy is a book right in it.
    std::fs::remove_dir(&of_ro).unwrap();
    std::fs::remove_dir(&of_sal).unwrap();
    ro.ok(&["copy", &of_ro, "--as", "folder"]);
    sal.ok(&["copy", &of_sal, "--as", "folder"]);

    // A third laptop has none of both: neither is taken before the other without a word.
    let kim = Garage::new();
    kim.by("Kim");
    std::fs::create_dir_all(kim.dir()).unwrap();
    let before = two().0;
    before.ok(&["copy", &kim.dir().display().to_string()]);
    let said = kim.refused(2, &["join", &stick]);
    has(&flat(&said), &["holds 2 books of Grey", "ro, sal", "nothing was joined", "say which", &of_ro]);

    // Ro's own copy has nothing that is new to Ro: Sal's is the one, and it is named.
    let said = ro.ok(&["join", &stick]);
    has(&flat(&said), &[&format!("joined with {of_sal}"), "1 change, 2 runs, by Sal"]);
    assert_eq!(ro.json(&["runs", "--all"])["runs"].as_array().unwrap().len(), 4);
}

#[test]
fn a_run_that_stands_on_another_setup_after_it_is_told() {
    let (ro, sal) = two();
    ro.at("2026-08-15T11:00:00");
    ro.ok(&["run", "--track", "Osier Flats", "--at", "aug 15 10:00", "60=1.590", "et=11.480", "mph=117.2"]);
    sal.at("2026-08-15T11:30:00");
    sal.ok(&["change", "rear", "tire", "pressure", "12", "--when", "aug 15 09:30"]);
    let alone = beside(&ro);
    let would = flat(&ro.ok(&["join", &path(&sal), "--dry-run"]));
    has(&would, &["1 run moves from v2 to v3 (Aug 15 10:00)"]);
    let json = ro.json(&["join", &path(&sal)]);
    assert_eq!(json["moved"].as_array().unwrap().len(), 1, "{json}");
    assert_eq!((&json["moved"][0]["from"], &json["moved"][0]["to"]), (&"v2".into(), &"v3".into()), "{json}");
    // The other laptop is brought up to it, and is told the same of what it had; a number that is another is no move.
    let said = flat(&alone.ok(&["join", &path(&ro)]));
    has(&said, &["brought up to", "1 run moves from v2 to v3 (Aug 15 10:00)"]);
    let said = flat(&sal.ok(&["join", &path(&ro)]));
    has_not(&said, &["moves from"]);
}

#[test]
fn a_version_with_another_number_moves_no_run() {
    let (ro, sal) = two();
    ro.at("2026-08-15T12:00:00");
    ro.ok(&["change", "timing", "32", "--when", "aug 15 09:00"]);
    ro.ok(&["run", "--track", "Osier Flats", "--at", "aug 15 09:10", "60=1.590", "et=11.480", "mph=117.2"]);
    sal.at("2026-08-15T11:30:00");
    sal.ok(&["change", "rear", "tire", "pressure", "12", "--when", "aug 15 09:30"]);
    let json = ro.json(&["join", &path(&sal)]);
    assert_eq!(json["renumbered"][0]["was"], "v3", "{json}");
    assert_eq!(json["moved"].as_array().unwrap().len(), 0, "{json}");
}

#[test]
fn a_damaged_book_is_not_called_the_same_and_receiving_the_copy_mends_it() {
    let (ro, sal) = two();
    let copy = path(&sal);
    let blob = ro.git("grey", &["rev-parse", "HEAD:days/2026/08-08-osier-flats.toml"]);
    let blob = blob.trim();
    let object = ro.book("grey").join(format!(".git/objects/{}/{}", &blob[..2], &blob[2..]));
    let mut bytes = std::fs::read(&object).unwrap();
    let middle = bytes.len() / 2;
    bytes[middle] ^= 0x55;
    std::fs::remove_file(&object).unwrap();
    std::fs::write(&object, bytes).unwrap();
    let verify = ro.run(&["verify"]);
    assert_eq!(verify.code, 1, "{verify:?}");
    let said = flat(&verify.stdout);
    has(&said, &["lost days/2026/08-08-osier-flats.toml", "it is damaged: ", "slipbook receive COPY mends it"]);
    let join = ro.run(&["join", &copy]);
    assert_eq!(join.code, 3, "{join:?}");
    let told = flat(&join.stderr);
    has(&told, &["damaged", &format!("slipbook receive {copy} mends it")]);
    for text in [said, told, flat(&ro.run(&["runs"]).stderr)] {
        has_not(&text, &["zip stream", "deflate"]);
    }
    ro.ok(&["receive", &copy]);
    ro.ok(&["verify"]);
    let said = ro.ok(&["join", &copy]);
    has(&said, &["the same book"]);
}

#[test]
fn a_rewritten_copy_of_the_book_is_not_joined_as_if_it_were_a_second_one() {
    let (ro, _) = two();
    ro.ok(&["change", "timing", "32", "--when", "aug 8 12:00"]);
    let bundle = ro.root().join("less.bundle").display().to_string();
    ro.ok(&["handover", "--to", &bundle, "--without", "engine", "--yes"]);
    let mo = Garage::new();
    mo.by("Mo");
    mo.ok(&["receive", &bundle]);
    mo.ok(&["run", "--track", "Osier Flats", "60=1.570", "et=11.40", "mph=117.5"]);
    let before = ro.log("grey");
    for more in [&[][..], &["--same-car", "--take", "newer"]] {
        let said = flat(&ro.refused(3, &[&["join", &path(&mo)], more].concat()));
        has(
            &said,
            &["is a rewritten copy of the book of Grey", "1 of its 2 runs are here already", "would stand twice"],
        );
        has(&said, &["slipbook export --to DIR", "slipbook import"]);
    }
    assert_eq!(ro.log("grey"), before);
    // What it says to do is done: the header and the new row of its table.
    let files = mo.root().join("files").display().to_string();
    mo.ok(&["export", "--to", &files]);
    let table = std::fs::read_to_string(format!("{files}/season.csv")).unwrap();
    let lines: Vec<&str> = table.lines().collect();
    let new = ro.file("new.csv", format!("{}\n{}\n", lines[0], lines[lines.len() - 1]));
    let done = ro.json(&["import", &new, "--yes"]);
    assert_eq!(done["imported"]["runs"], 1, "{done}");
    let runs = ro.json(&["runs", "--all"]);
    let all: Vec<String> = runs["runs"].as_array().unwrap().iter().map(|r| r["ft60"].to_string()).collect();
    assert_eq!(all, ["1.6", "1.57"], "{runs}");
    ro.ok(&["verify"]);
}

#[test]
fn one_step_told_on_both_laptops_is_no_question() {
    let (ro, sal) = two();
    ro.at("2026-08-15T10:00:00");
    sal.at("2026-08-15T10:30:00");
    for laptop in [&ro, &sal] {
        laptop.ok(&["change", "limiter", "down", "1/8", "--when", "aug 15 09:00"]);
    }
    let other = beside(&ro);
    let json = ro.json(&["join", &path(&sal)]);
    assert_eq!(json["decided"].as_array().unwrap().len(), 1, "{json}");
    sal.ok(&["join", &path(&other)]);
    assert_eq!(tip(&ro), tip(&sal));
    // It was taken once: from 0.75.
    assert!(ro.read("grey", "setup.toml").contains("height = 0.625"), "{}", ro.read("grey", "setup.toml"));
}

#[test]
fn an_id_by_hand_is_one_word_of_the_command_that_takes_the_run_away() {
    let (ro, sal) = two();
    for (laptop, by_hand) in [(&ro, "first; reboot"), (&sal, "other; reboot")] {
        laptop.at("2026-08-15T10:00:00");
        laptop.ok(&["run", "--track", "Osier Flats", "--at", "aug 15 09:40", "60=1.590", "et=11.480", "mph=117.2"]);
        laptop.edit("grey", "days/2026/08-15-osier-flats.toml", |t| {
            let id = t.split("id = \"").nth(1).and_then(|t| t.split('"').next()).unwrap();
            t.replace(id, by_hand)
        });
        laptop.ok(&["sheet", "--save", "--yes"]);
    }
    let json = ro.json(&["join", &path(&sal), "--dry-run"]);
    has(&json["twice"].to_string(), &["slipbook mend run '", "; reboot' --never"]);
}

#[test]
fn a_value_of_a_part_is_asked_about_in_words() {
    let (ro, sal) = two();
    for (laptop, size) in [(&ro, "30 x 9-15"), (&sal, "28 x 9-15")] {
        laptop.at("2026-08-15T10:00:00");
        laptop.ok(&["part", "add", "pair \u{416}", "--kind", "rear tires", &format!("size {size}"), "--yes"]);
    }
    let said = flat(&ro.run(&["join", &path(&sal)]).both());
    has(&said, &["part pair \u{416}: rear tire size: here 30 x 9-15, there 28 x 9-15"]);
}
