//! Files of the right name that say what no book says.

use crate::common::flat;
use crate::forge::*;
use crate::yard::{Yard, all_below};

fn with(car: impl AsRef<[u8]>, sheet: impl AsRef<[u8]>) -> Vec<u8> {
    with_root(|forge, root| {
        let sheet = forge.blob(sheet);
        let day = forge.blob(day(&hex(&sheet)));
        *root = vec![
            entry(FILE, "car.toml", forge.blob(car)),
            entry(DIR, "days", forge.days("05-16-osier-flats.toml", day)),
            entry(FILE, "setup.toml", sheet),
        ];
    })
}

fn with_day(name: &str, text: impl AsRef<[u8]>) -> Vec<u8> {
    with_root(|forge, root| {
        let day = forge.blob(text);
        root[1].2 = forge.days(name, day);
    })
}

fn with_trial(name: &str, text: impl AsRef<[u8]>) -> Vec<u8> {
    with_root(|forge, root| {
        let trial = forge.blob(text);
        let trials = forge.tree(&[entry(FILE, name, trial)]);
        root.push(entry(DIR, "trials", trials));
    })
}

/// A sound book, and then so many records that change nothing and say this.
fn said_again(car: &str, sheet: &str, records: usize, message: &str) -> Vec<u8> {
    let mut forge = Forge::default();
    let root = forge.root(car, sheet);
    let tree = forge.tree(&root);
    let mut tip = forge.commit(&tree, &[], OPENED);
    for _ in 0..records {
        tip = forge.commit(&tree, &[tip], message);
    }
    forge.bundle(&tip)
}

const VERSION: &str = "limiter lowered\n\nKind: change\nVersion: v9999999\n";

/// A car with fields of its own, and a sheet that fills them: nearly a megabyte of values no check refuses.
fn wordy() -> (String, String) {
    let field = |n: usize| {
        format!(
            "\n[[field]]\nkey = \"own.p{n}\"\nlabel = \"p {n}\"\nring = \"pocket\"\nrole = \"set\"\nkind = \"text\"\n\
             sides = \"one\"\nhelp = \"words\"\n"
        )
    };
    let value = |n: usize| format!("p{n} = \"{}\"\n", "x".repeat(16_000));
    let all = |of: &dyn Fn(usize) -> String| (0..60).map(of).collect::<String>();
    (format!("{CAR}{}", all(&field)), format!("{SHEET}[own]\n{}", all(&value)))
}

/// With a trial on two setups.
fn trial_on(a: &str, b: &str) -> Vec<u8> {
    let text = format!(
        "format = 1\nname = \"clamps\"\nresponse = \"60\"\na = \"v1\"\na_setup = \"{a}\"\nb = \"v2\"\nb_setup = \"{b}\"\n\
         order = \"ABBA\"\nmatters_s = 0.010\nstarted = 2026-05-16T09:00:00-05:00\nby = \"Ro\"\n"
    );
    with_trial("clamps.toml", text)
}

const DAY: &str = "05-16-osier-flats.toml";

#[test]
fn contents() {
    let sheet_id = |sheet: &str| hex(&id_of(gix::objs::Kind::Blob, sheet.as_bytes()));
    let right = day(&sheet_id(SHEET));
    Yard::new().refuses_all(vec![
        ("a car that is no TOML", "car.toml", with("\u{1b}[2J = = =", SHEET)),
        ("a car of no template", "there is no template", with(CAR.replace("leaf-torsion", "hovercraft"), SHEET)),
        ("a car of a later form", "`format` is not 1", with(CAR.replace("format = 1", "format = 2"), SHEET)),
        ("a car without a name", "1 to 40 characters", with(CAR.replace("Grey", ""), SHEET)),
        (
            "a car whose name clears the screen",
            "1 to 40 characters",
            with(CAR.replace("Grey", "\\u001b[2JGrey"), SHEET),
        ),
        ("a car with keys no car has", "car.toml", with(format!("exec = \"rm -rf /\"\n{CAR}"), SHEET)),
        ("a car of two megabytes", "at most", with(format!("{CAR}# {}\n", "x".repeat(2 << 20)), SHEET)),
        ("a car that is no text", "not UTF-8", with(b"\xff\xfe\x00", SHEET)),
        ("no car", "not in the newest record", with_root(|_, root| drop(root.remove(0)))),
        ("a day without the sheet of its run", "no record holds", with_root(|_, root| drop(root.pop()))),
        ("no sheet", "setup.toml: it is not in the newest record", with_root(|_, root| root.truncate(1))),
        ("a sheet that is no TOML", "no TOML", with(CAR, "[[[[")),
        ("a sheet of zeros", "this is no TOML: key with no value", with(CAR, vec![0; 4096])),
        ("a sheet of two megabytes", "at most", with(CAR, format!("{SHEET}# {}\n", "x".repeat(2 << 20)))),
        (
            "a sheet a hundred thousand brackets deep",
            "max recursion depth",
            with(CAR, format!("format = 1\nx = {}", "[".repeat(100_000))),
        ),
        (
            "a sheet a hundred thousand dots deep",
            "recursion limit",
            with(CAR, format!("format = 1\n{}x = 1\n", "a.".repeat(100_000))),
        ),
        ("a sheet with a key no sheet has", "setup.toml", with(CAR, format!("{SHEET}\n[engine]\nwarp = 9\n"))),
        ("a sheet with a number beyond numbers", "setup.toml", with(CAR, SHEET.replace("2.0", "1e999"))),
        ("a sheet with a value that cannot be", "setup.toml", with(CAR, SHEET.replace("2.0", "-900.0"))),
        ("a sheet that says a key twice", "no TOML", with(CAR, format!("{SHEET}height = 3.0\n"))),
        (
            "a sheet of a hundred thousand rows",
            "rows; 64 at most",
            with(CAR, format!("{SHEET}[weight]\nballast = [{}]\n", "{},".repeat(100_000))),
        ),
        ("a version of a number no book reaches", "go to v99999", said_again(CAR, SHEET, 1, VERSION)),
        ("one large sheet on a thousand records", "bytes of memory", {
            let (car, sheet) = wordy();
            said_again(&car, &sheet, 1000, "told again\n\nKind: measured\n")
        }),
        (
            "two thousand records of many short lines",
            "bytes of memory",
            said_again(CAR, SHEET, 2000, &format!("x\n\n{}\nKind: measured\n", "y\n".repeat(3000))),
        ),
        ("a day that is no TOML", "days/2026/05-16", with_day(DAY, "\u{1b}]0;x\u{7}")),
        ("a day of another date", "its name says", with_day("05-17-osier-flats.toml", &right)),
        ("a day of a year that is none", "days/2026/05-16", with_day(DAY, right.replace("2026-05-16", "99999-01-01"))),
        ("a day of two megabytes", "at most", with_day(DAY, format!("{right}# {}\n", "x".repeat(2 << 20)))),
        ("a run on a setup that is not there", "no record holds", with_day(DAY, day(&"7".repeat(40)))),
        ("a run on a setup that is no id", "no record holds", with_day(DAY, day("../../setup.toml"))),
        ("a run on the id of the car", "no record holds", with_day(DAY, day(&sheet_id(CAR)))),
        ("a run of numbers that cannot be", "days/2026/05-16", with_day(DAY, right.replace("1.597", "-1e30"))),
        ("a run without a setup", "missing field", with_day(DAY, right.replace("setup =", "nosetup ="))),
        ("a day with a clock of another world", "utc_offset", with_day(DAY, right.replace("-05:00", "+99:99"))),
        ("a trial that is no TOML", "trials/clamps.toml", with_trial("clamps.toml", "= = =")),
        ("a trial of another name", "trials/clamps.toml", with_trial("clamps.toml", "format = 1\nname = \"other\"\n")),
        (
            "a trial on a setup that is not there",
            "its a_setup is a setup no record holds",
            trial_on(&"0".repeat(40), &sheet_id(SHEET)),
        ),
        (
            "a trial on the id of the car",
            "its b_setup is a setup no record holds",
            trial_on(&sheet_id(SHEET), &sheet_id(CAR)),
        ),
        ("a trial of two megabytes", "at most", with_trial("clamps.toml", "#".repeat(2 << 20))),
    ]);
}

#[test]
fn what_is_wrong_in_an_old_record_is_named_and_can_be_taken_as_it_is() {
    let (mut forge, first) = sound();
    let mut root = forge.root(CAR, SHEET);
    let wrong = forge.blob(SHEET.replace("2.0", "-900.0"));
    let right = root[2].2;
    root[2].2 = wrong;
    let tree = forge.tree(&root);
    let second = forge.commit(&tree, &[first], "by hand\n");
    root[2].2 = right;
    let tree = forge.tree(&root);
    let tip = forge.commit(&tree, &[second], "put right by hand\n");
    let yard = Yard::new();
    let path = yard.garage.file("x.bundle", forge.bundle(&tip));
    let before = all_below(&yard.garage.dir());
    let output = yard.run(&["receive", &path]);
    assert_eq!(output.code, 2);
    assert!(output.stderr.contains("--yes takes it in as it is"), "{}", output.stderr);
    assert!(before == all_below(&yard.garage.dir()));
    let output = yard.run(&["receive", &path, "--yes"]);
    assert_eq!(output.code, 0, "{output:?}");
    assert!(output.stdout.contains("not right"), "{}", output.stdout);
    let output = yard.run(&["verify", "grey"]);
    assert_eq!(output.code, 1);
    assert!(output.stdout.contains("\"by hand\"") && output.stdout.contains("setup.toml"), "{}", output.stdout);
}

#[test]
fn a_trial_on_a_setup_that_is_not_there_stays_here_where_the_rest_goes_on() {
    let yard = Yard::new();
    let path = yard.garage.file("x.bundle", trial_on(&"0".repeat(40), &"7".repeat(40)));
    yard.garage.ok(&["receive", &path, "--yes"]);
    for without in ["notes", "names"] {
        let to = yard.garage.root().join(format!("{without}.bundle")).display().to_string();
        let said = flat(&yard.garage.ok(&["handover", "grey", "--to", &to, "--yes", "--without", without]));
        assert!(said.contains("the trial clamps, whose setups are not on record"), "{said}");
        let other = crate::common::Garage::new();
        other.ok(&["receive", &to, "--owner", "Mo"]);
        assert_eq!(other.json(&["verify"])["good"], true, "{without}");
        assert!(!other.book("grey").join("trials").exists(), "{without}");
    }
}

#[test]
fn what_is_taken_as_it_is_is_not_called_whole_and_what_cannot_be_opened_is_not_promised() {
    // An old day says what no day says; the newest record is right.
    let (mut forge, first) = sound();
    let mut root = forge.root(CAR, SHEET);
    let right = root[1].2;
    let wrong = forge.blob(day(&"7".repeat(40)).replace("1f0c2b3a", "1f0c2b3b"));
    root[1].2 = forge.days(DAY, wrong);
    let tree = forge.tree(&root);
    let second = forge.commit(&tree, &[first], "by hand\n");
    root[1].2 = right;
    let tree = forge.tree(&root);
    let tip = forge.commit(&tree, &[second], "put right by hand\n");
    let yard = Yard::new();
    let path = yard.garage.file("x.bundle", forge.bundle(&tip));
    let output = yard.run(&["receive", &path, "--yes"]);
    assert_eq!(output.code, 0, "{output:?}");
    let said = flat(&output.stdout);
    assert!(said.contains("taken in with 1 thing not right"), "{said}");
    assert!(said.contains("no record holds") && !said.contains("whole, and"), "{said}");
    let to = yard.garage.root().join("on.bundle").display().to_string();
    yard.garage.ok(&["handover", "grey", "--to", &to, "--yes", "--without", "names"]);

    for (name, bytes) in [
        ("the newest sheet", with(CAR, SHEET.replace("2.0", "-900.0"))),
        ("the newest car", with(CAR.replace("leaf-torsion", "hovercraft"), SHEET)),
    ] {
        let path = yard.garage.file("bad.bundle", bytes);
        for args in [&["receive", &path][..], &["receive", &path, "--yes", "--as", "Bad"]] {
            let before = all_below(&yard.garage.dir());
            let output = yard.run(args);
            let said = flat(&output.stderr);
            assert!(output.code != 0 && said.contains("cannot be taken in as it is"), "{name}: {said}");
            assert!(!said.contains("--yes takes it in"), "{name}: {said}");
            assert!(before == all_below(&yard.garage.dir()), "{name}");
        }
    }
}
