//! Books and texts that mean harm or are broken: one clear error, the right exit code, nothing of them on the terminal raw.

use crate::common::{Garage, has, no_controls};
use std::fs;
use std::path::Path;

/// Turns a terminal red, clears it, rings, writes backwards, returns to the line's start, and a C1 control.
const NASTY: &str = "A\u{1b}[31m\u{1b}[2J\u{7}\u{8}\u{202e}B\r\u{9b}C\u{2066}\tD\u{200b}\u{ad}E\u{feff}\u{e0041}";

const READING: &[&[&str]] = &[
    &["history"],
    &["history", "--all"],
    &["history", "--field", "rear.tire.name"],
    &["runs"],
    &["diff", "v1"],
    &["diff", "v1", "--notes"],
    &["blame"],
    &["blame", "--fields"],
    &["sheet"],
    &["cars"],
    &["revert", "v1", "--dry-run"],
    &["fields", "rear.tire.name"],
];

/// Lines of a file that an error quotes, and what is said beside an answer.
#[test]
fn what_is_quoted_of_a_file_shows_its_marks() {
    let garage = Garage::with_car();
    let marks = "\u{202e}kcehc\u{2066}\u{200b}\u{ad}\u{feff}\u{e0041}";
    garage.edit("grey", "setup.toml", |t| t.replacen("height = ", &format!("height = 9{marks}9 # "), 1));
    for args in [&["sheet", "--save"][..], &["sheet"], &["change", "timing", "34"], &[], &["history"]] {
        no_controls(&garage.run(args).both());
    }
    let output = garage.run(&["sheet", "--save"]);
    assert!(output.code != 0 && output.stderr.contains("kcehc"), "{output:?}");
    let table = garage.file("season.csv", format!("date,track,ft1320\n2026-05-16,Osier{marks},fast{marks}\n"));
    let output = garage.run(&["import", &table]);
    assert!(output.code != 0 && output.stderr.contains("kcehc"), "{output:?}");
    no_controls(&output.both());
    for (args, said) in [
        (&["run", "--track", marks, "60=1.6", "--at", "13:00"][..], "kcehc"),
        (&["run", "--track", "Osier Flats", "--note", marks, "60=9.6", "--at", "13:10"], ""),
        (&["handover", "--to", marks], ""),
    ] {
        let output = garage.run(args);
        assert!(output.both().contains(said), "{output:?}");
        no_controls(&output.both());
    }
}

#[test]
fn control_characters_from_words() {
    let garage = Garage::with_car();
    let all = |args: &[&str]| {
        let output = garage.run(args);
        no_controls(&output.both());
        output
    };
    all(&[
        "change",
        "--why",
        NASTY,
        &format!("rear.tire.name={NASTY}"),
        &format!("notes={NASTY}\n{NASTY}"),
        "limiter down 1/4",
    ]);
    all(&["run", "--track", NASTY, "--prep", NASTY, "--note", NASTY, "60=1.6"]);
    all(&["run", "--track", "Osier Flats", "--note", NASTY, "60=1.6"]);
    all(&["change", "--by", NASTY, "timing", "34"]);
    for args in READING {
        assert_eq!(all(args).code, 0, "{args:?}");
    }
    // In errors too.
    for args in [
        &["change", NASTY, "2"][..],
        &["change", &format!("{NASTY}=2")],
        &["change", &format!("rear.limiter.height={NASTY}")],
        &["change", &format!("rear.limiter.kind={NASTY}")],
        &["change", "--when", NASTY, "timing", "35"],
        &["sheet", NASTY],
        &["diff", NASTY],
        &["blame", NASTY],
        &["runs", NASTY],
        &["fields", NASTY],
        &["history", "--field", NASTY],
        &["history", NASTY],
        &["run", "--on", NASTY, "60=1.6"],
        &["run", "--air", NASTY, "60=1.6"],
        &["run", &format!("60={NASTY}")],
        &["revert", NASTY],
        &["revert", "v1", "--only", NASTY],
        &["sheet", "--car", NASTY],
        &["cars", NASTY],
        &["new", NASTY, "--template", NASTY],
        &["new", "X", "--template", "leaf-torsion", "--sheet", NASTY],
        &["import", NASTY],
        &[NASTY],
        &["sheet", &format!("--{NASTY}")],
        &["--garage", NASTY, "sheet"],
    ] {
        let output = all(args);
        assert!(!output.stderr.contains("panicked"), "{args:?} {output:?}");
    }
}

#[test]
fn control_characters_from_files() {
    let garage = Garage::with_car();
    let escaped: String = NASTY.chars().map(|c| format!("\\u{:04x}", u32::from(c))).collect();
    let all = |args: &[&str]| {
        let output = garage.run(args);
        no_controls(&output.both());
        output
    };
    // A name, a note and a class, written with escapes, which TOML takes.
    garage.edit("grey", "setup.toml", |t| {
        t.replace("name = \"pair A\"", &format!("name = \"{escaped}\""))
            .replace("format = 1", &format!("format = 1\nnotes = \"{escaped}\""))
    });
    garage.edit("grey", "car.toml", |t| format!("{t}class = \"{escaped}\"\n"));
    all(&["sheet"]);
    all(&["diff"]);
    assert_eq!(all(&["sheet", "--save"]).code, 0);
    garage.ok(&["run", "--track", "Osier Flats", "60=1.6"]);
    garage.edit("grey", "days/2026/08-22-osier-flats.toml", |t| {
        t.replace("\"Osier Flats\"", &format!("\"Osier Flats\"\nprep = \"{escaped}\""))
            .replace("ft60 = 1.6", &format!("note = \"{escaped}\"\nlane = \"left\"\nft60 = 1.6"))
    });
    assert_eq!(all(&["sheet", "--save"]).code, 0);
    for args in READING {
        all(args);
    }
    // What is wrong is shown, but not raw.
    for (path, text) in [
        ("setup.toml", format!("format = 1\n\"{escaped}\" = 1\n")),
        ("setup.toml", format!("format = 1\n[rear.limiter]\nkind = \"{escaped}\"\n")),
        ("setup.toml", format!("format = 1\nx = \"{NASTY}\n")),
        ("car.toml", format!("format = 1\nname = \"Grey\"\ntemplate = \"{escaped}\"\n")),
        ("car.toml", format!("format = 1\nname = \"{escaped}\"\ntemplate = \"leaf-torsion\"\n")),
        ("car.toml", format!("format = 1\nname = \"{NASTY}\"\ntemplate = \"leaf-torsion\"\n")),
        ("days/2026/08-22-osier-flats.toml", format!("format = 1\n\"{escaped}\" = 1\n")),
    ] {
        let old = garage.read("grey", path);
        garage.edit("grey", path, |_| text.clone());
        assert_eq!(all(&["sheet", "--save"]).code, 3, "{path}: {text}");
        garage.edit("grey", path, |_| old.clone());
    }
    let table = garage.file("season.csv", format!("date,{NASTY}\n2026-08-22,{NASTY}\n"));
    assert_eq!(all(&["import", &table]).code, 3);
    let table = garage.file("season.csv", format!("date,ft60,track\n2026-08-23,{NASTY},{NASTY}\n"));
    assert_eq!(all(&["import", &table]).code, 3);
    fs::write(garage.dir().join("garage.toml"), format!("format = 1\ncurrent = \"{NASTY}\"\n")).unwrap();
    all(&["sheet"]);
    fs::write(garage.dir().join("garage.toml"), format!("format = 1\nby = \"{escaped}\"\ncurrent = \"{escaped}\"\n"))
        .unwrap();
    all(&["sheet"]);
    #[cfg(unix)]
    {
        fs::create_dir(garage.book(NASTY)).unwrap();
        fs::write(garage.book(NASTY).join("car.toml"), "").unwrap();
        all(&["cars"]);
        all(&["sheet", "--car", "zz"]);
    }
}

#[test]
fn no_repository() {
    let garage = Garage::with_car();
    fs::create_dir(garage.book("shell")).unwrap();
    fs::write(garage.book("shell").join("car.toml"), "format = 1\nname = \"Shell\"\ntemplate = \"leaf-torsion\"\n")
        .unwrap();
    for args in [&["sheet"][..], &["history"], &["change", "timing", "34"], &["run", "60=1.6"], &["blame"]] {
        has(&garage.refused(3, &[args, &["--car", "shell"]].concat()), &["no book", ".git"]);
    }
    fs::create_dir(garage.book("shell").join(".git")).unwrap();
    garage.refused(3, &["sheet", "--car", "shell"]);
}

fn commit_by_hand(garage: &Garage, path: &str, text: &[u8]) {
    fs::write(garage.book("grey").join(path), text).unwrap();
    garage.git("grey", &["add", "-A"]);
    garage.git("grey", &["commit", "-qm", "by hand"]);
}

#[test]
fn a_corrupt_sheet_in_head() {
    for text in [&b"this is [no toml"[..], b"format = 1\n[rear.limiter]\nheight = 400\n", b"\xff\xfe", b"format = 2\n"]
    {
        let garage = Garage::with_car();
        commit_by_hand(&garage, "setup.toml", text);
        for args in [
            &["sheet"][..],
            &["change", "timing", "34"],
            &["run", "--track", "Osier Flats", "60=1.6"],
            &["history"],
            &["diff"],
            &["revert", "v1"],
            &["blame"],
        ] {
            let output = garage.run(args);
            assert!(!output.stderr.contains("panicked"), "{args:?}: {output:?}");
            assert!([0, 2, 3].contains(&output.code), "{args:?}: {output:?}");
            no_controls(&output.both());
        }
        // Nothing is recorded on a sheet that cannot be read.
        let text = String::from_utf8_lossy(text);
        has(&garage.refused(3, &["change", "timing", "34"]), &["setup.toml"]);
        has(&garage.refused(3, &["run", "--track", "Osier Flats", "60=1.6"]), &["setup.toml"]);
        // The way out is the way in: a valid sheet, committed or saved.
        let garage_log = garage.log("grey").len();
        assert_eq!(garage_log, 2, "{text}");
    }
}

#[test]
fn a_corrupt_car_or_day_in_head() {
    let garage = Garage::with_car();
    commit_by_hand(&garage, "car.toml", b"format = 1\nname = \"Grey\"\ntemplate = \"wagon\"\n");
    has(&garage.refused(3, &["sheet"]), &["car.toml:3", "wagon", "leaf-torsion"]);
    has(&garage.ok(&["cars"]), &["grey", "cannot be opened"]);
    let garage = Garage::with_car();
    fs::create_dir_all(garage.book("grey").join("days/2026")).unwrap();
    commit_by_hand(&garage, "days/2026/08-22-x.toml", b"format = 1\ndate = 2026-08-22\n");
    has(&garage.refused(3, &["history"]), &["days/2026/08-22-x.toml"]);
    has(&garage.refused(3, &["run", "60=1.6"]), &["days/2026/08-22-x.toml"]);
}

#[test]
fn damaged_objects() {
    let garage = Garage::with_car();
    let objects = garage.book("grey").join(".git/objects");
    let mut damaged = 0;
    let mut folders: Vec<_> = fs::read_dir(&objects)
        .unwrap()
        .flatten()
        .map(|e| e.path())
        .filter(|p| p.file_name().is_some_and(|n| n.len() == 2))
        .collect();
    folders.sort();
    for path in folders.iter().flat_map(|f| fs::read_dir(f).unwrap().flatten().map(|e| e.path())) {
        let old = fs::read(&path).unwrap();
        make_writable(&path);
        fs::write(&path, &old[..old.len() / 2]).unwrap();
        let output = garage.run(&["history"]);
        assert!(!output.stderr.contains("panicked"), "{output:?}");
        assert!(output.code == 0 || output.code == 3 || output.code == 4, "{output:?}");
        damaged += usize::from(output.code != 0);
        fs::write(&path, &old).unwrap();
    }
    assert!(damaged >= 3, "the commit, the tree, the sheet: {damaged}");
    garage.ok(&["history"]);
}

fn make_writable(path: &Path) {
    let mut permissions = fs::metadata(path).unwrap().permissions();
    #[expect(clippy::permissions_set_readonly_false, reason = "a file of the test's own")]
    permissions.set_readonly(false);
    fs::set_permissions(path, permissions).unwrap();
}

/// What a stranger's book could set to make a program act.
#[test]
fn nothing_in_a_book_acts() {
    let garage = Garage::with_car();
    let git = garage.book("grey").join(".git");
    let acted = garage.root().join("acted");
    let act = format!("touch {}", acted.display());
    fs::create_dir_all(git.join("hooks")).unwrap();
    for hook in ["pre-commit", "post-commit", "reference-transaction", "post-index-change", "post-checkout"] {
        let path = git.join("hooks").join(hook);
        fs::write(&path, format!("#!/bin/sh\n{act}\n")).unwrap();
        #[cfg(unix)]
        fs::set_permissions(&path, std::os::unix::fs::PermissionsExt::from_mode(0o755)).unwrap();
    }
    let config = fs::read_to_string(git.join("config")).unwrap();
    fs::write(
        git.join("config"),
        format!("{config}\n[core]\n\tfsmonitor = {act}\n\tsshCommand = {act}\n\teditor = {act}\n\tpager = {act}\n[filter \"x\"]\n\tclean = {act}\n\tsmudge = {act}\n[alias]\n\thistory = !{act}\n[include]\n\tpath = /dev/zero-not-there\n"),
    )
    .unwrap();
    fs::create_dir_all(git.join("info")).unwrap();
    fs::write(git.join("info/attributes"), "* filter=x\n").unwrap();
    for args in [
        &["sheet"][..],
        &["change", "timing", "34"],
        &["run", "--track", "Osier Flats", "60=1.6"],
        &["history"],
        &["diff"],
        &["revert", "v1", "--engine"],
    ] {
        let output = garage.run(args);
        assert!(output.code == 0 || output.code == 3, "{args:?} {output:?}");
        assert!(!acted.exists(), "{args:?} let the book act");
    }
}

#[test]
fn borrowed_or_linked_books_are_refused() {
    let refused = |spoil: &dyn Fn(&Path)| {
        let garage = Garage::with_car();
        spoil(&garage.book("grey").join(".git"));
        garage.refused(3, &["history"]);
        garage.refused(3, &["change", "timing", "34"]);
    };
    refused(&|git| {
        fs::create_dir_all(git.join("objects/info")).unwrap();
        fs::write(git.join("objects/info/alternates"), "/somewhere/else\n").unwrap();
    });
    refused(&|git| fs::write(git.join("commondir"), "/somewhere/else\n").unwrap());
    refused(&|git| fs::write(git.join("HEAD"), "ref: refs/heads/other\n").unwrap());
    refused(&|git| {
        fs::rename(git, git.with_extension("real")).unwrap();
        fs::write(git, "gitdir: .real\n").unwrap();
    });
    refused(&|git| {
        let config = fs::read_to_string(git.join("config")).unwrap();
        fs::write(git.join("config"), format!("{config}[extensions]\n\tsurprise = true\n")).unwrap();
    });
    #[cfg(unix)]
    refused(&|git| {
        fs::rename(git.join("objects"), git.join("elsewhere")).unwrap();
        std::os::unix::fs::symlink("elsewhere", git.join("objects")).unwrap();
    });
    #[cfg(unix)]
    refused(&|git| {
        fs::rename(git, git.with_extension("real")).unwrap();
        std::os::unix::fs::symlink(git.with_extension("real"), git).unwrap();
    });
}

#[test]
fn files_beyond_reason() {
    let garage = Garage::with_car();
    let big = "#".repeat(3 << 20);
    let sheet = garage.file("big.toml", format!("format = 1\n{big}\n"));
    has(&garage.refused(3, &["new", "X", "--template", "leaf-torsion", "--sheet", &sheet]), &["big.toml", "bytes"]);
    garage.edit("grey", "setup.toml", |t| format!("{t}{big}\n"));
    garage.refused(3, &["sheet", "--save"]);
}

#[test]
fn wrong_clock_and_wrong_garage() {
    let garage = Garage::with_car();
    let clock = garage.run_with(garage.root(), &[("SLIPBOOK_NOW", "soon")], &["sheet"]);
    assert_eq!(clock.code, 2, "{clock:?}");
    has(&clock.stderr, &["SLIPBOOK_NOW=soon"]);
    let file = garage.file("file", "");
    let no_folder = garage.run(&["--garage", &file, "cars"]);
    assert_eq!(no_folder.code, 4, "{no_folder:?}");
    let no_folder = garage.run(&["--garage", &format!("{file}/g"), "new", "X", "--template", "leaf-torsion"]);
    assert_eq!(no_folder.code, 4, "{no_folder:?}");
}
