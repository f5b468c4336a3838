//! What may stand in a book and must not act on whoever reads it.

use crate::common::no_controls;
use crate::forge::*;
use crate::yard::Yard;

/// Clears the screen, sets the title, rings, turns round.
const NASTY: &str = "\u{1b}[2J\u{1b}]0;x\u{7}\u{202e}\u{9b}31m";

/// The same as TOML has to write it.
const WRITTEN: &str = "\\u001b[2J\\u001b]0;x\\u0007\\u202e\\u009b31m";

#[test]
fn escapes_in_names_notes_and_records_are_shown() {
    let mut forge = Forge::default();
    let car = CAR.replace("\"Ro\"", &format!("\"Ro {WRITTEN}\""));
    let sheet = format!("{SHEET}\n[rear.tire]\nname = \"pair {WRITTEN}\"\n");
    let mut root = forge.root(&car, &sheet);
    let sheet_id = hex(&root[2].2);
    let text = day(&sheet_id).replace("Osier Flats", &format!("Osier {WRITTEN}")) + &format!("note = \"{WRITTEN}\"\n");
    let text = forge.blob(text);
    root[1].2 = forge.days("05-16-osier-2j-0-x-31m.toml", text);
    let tree = forge.tree(&root);
    let commit = String::from_utf8(commit_bytes(
        &tree,
        &[],
        &format!("opened {NASTY}\n\nKind: open\nVersion: v1\nWhy: {NASTY}\n"),
    ));
    let commit = commit.unwrap().replace("author Ro", &format!("author Ro {NASTY}"));
    let tip = forge.put(gix::objs::Kind::Commit, commit);
    let yard = Yard::empty();
    let path = yard.garage.file("x.bundle", forge.bundle(&tip));
    let received = yard.run(&["receive", &path]);
    assert_eq!(received.code, 0, "{received:?}");
    no_controls(&received.stdout);
    no_controls(&received.stderr);
    for args in [&["verify"][..], &["history"], &["runs"], &["sheet"], &["part"], &["cars"], &["day"], &["blame"]] {
        let output = yard.run(args);
        assert_eq!(output.code, 0, "{args:?} {output:?}");
        no_controls(&output.stdout);
        no_controls(&output.stderr);
    }
}

#[test]
fn names_that_are_taken_and_devices_ask_for_another() {
    let yard = Yard::empty();
    let (forge, tip) = sound();
    let path = yard.garage.file("x.bundle", forge.bundle(&tip));
    assert_eq!(yard.run(&["receive", &path]).code, 0);
    // Another car of that name.
    let other = with_root(|forge, root| root[2].2 = forge.blob(SHEET.replace("2.0", "2.5")));
    // Its run stands on the sheet of the first.
    let other_path = yard.garage.file("other.bundle", other);
    yard.refuses("a run elsewhere", &other_path, "no record holds");
    let mut forge = Forge::default();
    let root = forge.root(CAR, &SHEET.replace("2.0", "2.5"));
    let tree = forge.tree(&root);
    let tip = forge.commit(&tree, &[], OPENED);
    let path = yard.garage.file("other.bundle", forge.bundle(&tip));
    yard.refuses("a name that is taken", &path, "--as NAME takes it in under another name");
    let output = yard.run(&["receive", &path, "--as", "Grey Two", "--owner", "Mo Teal"]);
    assert_eq!(output.code, 0, "{output:?}");
    assert!(output.stdout.starts_with("Grey Two"), "{}", output.stdout);
    let car = yard.garage.read("grey-two", "car.toml");
    assert!(
        car.contains("name = \"Grey Two\"") && car.contains("name = \"Ro\"") && car.contains("name = \"Mo Teal\""),
        "{car}"
    );
    yard.garage.tidy("grey-two", "receive --as");

    // No folder is called as a device of some system is.
    for (name, folder) in [("CON", "con-car"), ("Lpt1", "lpt1-car"), ("Ласточка", "lastochka")] {
        let mut forge = Forge::default();
        let root = forge.root(&CAR.replace("Grey", name), &SHEET.replace("2.0", "2.6"));
        let tree = forge.tree(&root);
        let tip = forge.commit(&tree, &[], OPENED);
        let path = yard.garage.file("device.bundle", forge.bundle(&tip));
        let output = yard.run(&["receive", &path]);
        assert_eq!(output.code, 0, "{output:?}");
        assert!(yard.garage.book(folder).is_dir(), "{folder}");
        assert_eq!(yard.run(&["sheet", "--car", name]).code, 0, "{name}");
    }
}
