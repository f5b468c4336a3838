//! A copy on another drive: what it is, what it refuses, what is remembered of it.

use crate::common::{Garage, has, has_not};
use std::path::{Path, PathBuf};

/// A garage with a car that ran, and a folder beside it that stands for another drive.
fn garage() -> (Garage, PathBuf) {
    let garage = Garage::with_car();
    garage.ok(&["run", "--track", "Osier Flats", "60=1.65"]);
    garage.ok(&["change", "limiter down 1/4"]);
    let stick = garage.root().join("stick");
    std::fs::create_dir(&stick).unwrap();
    (garage, stick)
}

fn text(path: &Path) -> String {
    path.display().to_string()
}

fn names(dir: &Path) -> Vec<String> {
    let entries = std::fs::read_dir(dir).unwrap().map(|e| e.unwrap().file_name().to_string_lossy().into_owned());
    let mut all: Vec<String> = entries.collect();
    all.sort();
    all
}

/// Stock git beside the garage.
fn git(garage: &Garage, args: &[&str]) {
    // Its paths are whole, so the book it stands in does not matter.
    garage.git("grey", args);
}

#[test]
fn a_folder_on_the_stick_opens_as_a_book() {
    let (garage, stick) = garage();
    let said = garage.ok(&["copy", &text(&stick)]);
    has(
        &said,
        &["Grey   copied to", "stick/grey", "opens as a book", "3 commits", "read back", "slipbook sheet --garage"],
    );
    assert_eq!(names(&stick), ["grey"]);
    let there = text(&stick);
    for args in [&["history", "--all"][..], &["runs", "--all"], &["sheet"]] {
        assert_eq!(garage.ok(&[args, &["--garage", &there]].concat()), garage.ok(args), "{args:?}");
    }
    garage.tidy("grey", "copy");
    git(&garage, &["-C", &text(&stick.join("grey")), "fsck", "--full", "--strict", "--no-progress"]);
    let clone = text(&garage.book("clone"));
    git(&garage, &["clone", "-q", &text(&stick.join("grey")), &clone]);
    assert_eq!(garage.ok(&["history", "--all", "--car", "clone"]), garage.ok(&["history", "--all", "--car", "grey"]));
}

#[test]
fn a_bundle_is_cloned_by_stock_git() {
    let (garage, stick) = garage();
    let bundle = text(&stick.join("grey.bundle"));
    has(&garage.ok(&["copy", &bundle]), &["Grey   copied to", "one file", "kB", "git clone"]);
    assert_eq!(names(&stick), ["grey.bundle"]);
    git(&garage, &["bundle", "verify", "-q", &bundle]);
    git(&garage, &["clone", "-q", &bundle, &text(&garage.book("clone"))]);
    garage.tidy("clone", "git clone of a bundle");
    assert_eq!(garage.ok(&["history", "--all", "--car", "clone"]), garage.ok(&["history", "--all", "--car", "grey"]));
    assert_eq!(garage.ok(&["runs", "--all", "--car", "clone"]), garage.ok(&["runs", "--all", "--car", "grey"]));
}

#[test]
fn where_a_copy_goes() {
    let (garage, stick) = garage();
    let to = |args: &[&str]| {
        let json = garage.json(&[&["copy"], args].concat());
        let to = PathBuf::from(json["to"].as_str().unwrap());
        (text(to.strip_prefix(&stick).unwrap()), json["form"].as_str().unwrap().to_owned())
    };
    let at = |name: &str| text(&stick.join(name));
    let is = |to: &str, form: &str| (to.to_owned(), form.to_owned());
    assert_eq!(to(&[&text(&stick)]), is("grey", "folder"));
    assert_eq!(to(&[&at("other")]), is("other", "folder"), "a folder that is not there is the copy");
    assert_eq!(to(&[&at("other")]), is("other", "folder"), "and stays it");
    assert_eq!(to(&[&at("x.bundle")]), is("x.bundle", "bundle"));
    assert_eq!(to(&[&text(&stick), "--as", "bundle"]), is("grey.bundle", "bundle"));
    assert_eq!(to(&[&at("y"), "--as", "bundle"]), is("y", "bundle"));
    assert_eq!(to(&[&at("z.bundle"), "--as", "folder"]), is("z.bundle", "folder"));
    assert_eq!(names(&stick), ["grey", "grey.bundle", "other", "x.bundle", "y", "z.bundle"]);
    // By a way of one's own: from where one stands, back up, over a link.
    std::fs::create_dir(stick.join("deep")).unwrap();
    let said = garage.run_in(&stick.join("deep"), &["copy", "..", "--car", "grey"]);
    has(&said.stdout, &["stick/grey:"]);
    assert!(names(&stick.join("deep")).is_empty());
}

#[test]
fn the_second_copy_takes_what_is_new() {
    let (garage, stick) = garage();
    let places = [text(&stick), text(&stick.join("grey.bundle"))];
    for place in &places {
        has_not(&garage.ok(&["copy", place]), &["that was there"]);
        has(&garage.ok(&["copy", place]), &["the copy that was there held all of it already"]);
    }
    garage.ok(&["run", "60=1.62"]);
    garage.ok(&["change", "limiter down 1/8"]);
    for place in &places {
        has(&garage.ok(&["copy", place]), &["2 records more than the copy that was there", "5 commits"]);
    }
    let there = text(&stick);
    assert_eq!(garage.ok(&["history", "--garage", &there]), garage.ok(&["history"]));
    git(&garage, &["-C", &text(&stick.join("grey")), "fsck", "--full", "--strict", "--no-progress"]);
    let status = garage.git("grey", &["-C", &text(&stick.join("grey")), "status", "--porcelain"]);
    assert_eq!(status, "");
}

#[test]
fn a_copy_with_records_of_its_own_is_left_as_it_is() {
    let (garage, stick) = garage();
    let there = text(&stick);
    let bundle = text(&stick.join("grey.bundle"));
    garage.ok(&["copy", &there]);
    garage.ok(&["change", "--garage", &there, "launch.rpm=4400"]);
    garage.ok(&["copy", "--garage", &there, "--car", "grey", &text(&garage.root().join("ahead.bundle"))]);
    std::fs::rename(garage.root().join("ahead.bundle"), &bundle).unwrap();
    let before = std::fs::read(&bundle).unwrap();
    for ft60 in ["60=1.62", "60=1.63"] {
        let said = garage.refused(3, &["copy", &there]);
        has(&said, &["has records this book has not", "4400", "left as it is", "another place"]);
        has(&garage.refused(3, &["copy", &bundle]), &["has records this book has not", "another place"]);
        garage.ok(&["run", ft60]);
    }
    assert_eq!(std::fs::read(&bundle).unwrap(), before);
    assert_eq!(garage.json(&["sheet", "--garage", &there])["fields"]["launch.rpm"], 4400.0);
    // Another car's book is no copy of this one.
    garage.ok(&["new", "Wren", "--template", "ladder-strut"]);
    has(&garage.refused(3, &["copy", "--car", "wren", &text(&stick.join("grey"))]), &["is another book", "Grey"]);
    // The copy, taken for a garage, remembers the copy that was made of it.
    assert_eq!(names(&stick), ["garage.toml", "grey", "grey.bundle"]);
}

#[test]
fn places_that_are_refused() {
    let (garage, stick) = garage();
    garage.ok(&["new", "Wren", "--template", "ladder-strut"]);
    std::fs::write(stick.join("file"), "mine").unwrap();
    std::fs::write(stick.join("notes.bundle"), "mine").unwrap();
    std::fs::create_dir_all(stick.join("full/grey/photos")).unwrap();
    std::fs::create_dir(stick.join("dir.bundle")).unwrap();
    let at = |name: &str| text(&stick.join(name));
    let own = garage.book("grey");
    let refused = |code: i32, args: &[&str], words: &[&str]| {
        let said = garage.refused(code, &[&["--car", "grey", "copy"], args].concat());
        has(&said, words);
    };
    refused(2, &[&text(&garage.dir())], &["is in the garage", "another drive"]);
    refused(2, &[&text(&garage.dir().join("x.bundle"))], &["is in the garage"]);
    refused(2, &[&text(&own)], &["is in the garage"]);
    refused(2, &[&text(&own.join("x"))], &["is in the garage"]);
    refused(2, &[&text(&garage.book("wren").join(".git/x"))], &["is in the garage"]);
    refused(2, &[&text(&own.join("../../garage/x"))], &["is in the garage"]);
    refused(2, &[&at("file")], &["is a file", ".bundle"]);
    refused(2, &[&at("full")], &["no copy of a book"]);
    refused(2, &[&at("dir.bundle")], &["is a folder; a bundle is a file"]);
    refused(3, &[&at("notes.bundle")], &["a file that is no bundle of a book"]);
    refused(2, &[&at("not/there")], &["there is no folder", "plugged in"]);
    refused(2, &["--as", "paper", &at("x")], &["folder", "bundle"]);
    refused(2, &[], &["DEST"]);
    assert_eq!(names(&stick), ["dir.bundle", "file", "full", "notes.bundle"]);
    assert_eq!(std::fs::read_to_string(stick.join("file")).unwrap(), "mine");
    assert_eq!(names(&stick.join("full/grey")), ["photos"]);
    // In a book that is elsewhere.
    garage.ok(&["--car", "wren", "copy", &text(&stick)]);
    refused(2, &[&at("wren/days")], &["is in another book"]);
    refused(2, &[&at("wren/.git/x")], &["is in another book"]);
    refused(3, &[&at("wren")], &["is another book, of Wren"]);
    git(&garage, &["init", "-q", "--bare", &at("bare")]);
    refused(2, &[&at("bare")], &["a repository without files"]);
    assert!(!stick.join("bare/grey").exists());
}

#[cfg(unix)]
#[test]
fn links_are_not_followed_to_somewhere_else() {
    use std::os::unix::fs::symlink;
    let (garage, stick) = garage();
    let elsewhere = garage.root().join("elsewhere");
    std::fs::create_dir(&elsewhere).unwrap();
    std::fs::write(elsewhere.join("x.bundle"), "mine").unwrap();
    symlink(&elsewhere, stick.join("grey")).unwrap();
    symlink(elsewhere.join("x.bundle"), stick.join("grey.bundle")).unwrap();
    symlink(garage.dir(), stick.join("way")).unwrap();
    symlink(elsewhere.join("nothing"), stick.join("new")).unwrap();
    for name in ["grey.bundle", "grey", "new", "way", ""] {
        has(&garage.refused(2, &["copy", &text(&stick.join(name))]), &["is a link to", "name the real place"]);
    }
    has(&garage.refused(2, &["copy", &text(&stick.join("way/x"))]), &["is in the garage"]);
    assert_eq!(names(&elsewhere), ["x.bundle"]);
    assert_eq!(std::fs::read_to_string(elsewhere.join("x.bundle")).unwrap(), "mine");
    // A folder on the way that is a link is the user's own: it is followed.
    symlink(&elsewhere, garage.root().join("short")).unwrap();
    garage.ok(&["copy", &text(&garage.root().join("short/grey2.bundle"))]);
    assert_eq!(names(&elsewhere), ["grey2.bundle", "x.bundle"]);
    // A copy whose inside leads elsewhere is refused as a book that does.
    garage.ok(&["copy", &text(&elsewhere)]);
    let objects = elsewhere.join("grey/.git/objects");
    std::fs::rename(&objects, garage.root().join("objects")).unwrap();
    symlink(garage.root().join("objects"), &objects).unwrap();
    has(&garage.refused(3, &["copy", &text(&elsewhere)]), &["is a symbolic link"]);
}

#[cfg(unix)]
#[test]
fn a_place_that_cannot_be_written() {
    use std::os::unix::fs::PermissionsExt;
    let (garage, stick) = garage();
    let mode = |mode: u32| std::fs::set_permissions(&stick, std::fs::Permissions::from_mode(mode)).unwrap();
    mode(0o555);
    if std::fs::write(stick.join("try"), "").is_ok() {
        // Root writes everywhere; a folder that is none by the kernel's word stands in.
        mode(0o755);
        std::fs::remove_file(stick.join("try")).unwrap();
        has(&garage.refused(4, &["copy", "/proc/grey.bundle"]), &["nothing can be written into /proc"]);
        return;
    }
    has(&garage.refused(4, &["copy", &text(&stick)]), &["nothing can be written into", "stick"]);
    has(&garage.refused(4, &["copy", &text(&stick.join("grey.bundle"))]), &["nothing can be written into"]);
    mode(0o755);
    assert!(names(&stick).is_empty());
}

#[test]
fn what_is_not_saved_is_in_no_copy() {
    let (garage, stick) = garage();
    garage.edit("grey", "setup.toml", |t| t.replace("4200", "4300"));
    has(&garage.ok(&["copy", &text(&stick)]), &["not in it: setup.toml", "sheet --save"]);
    let there = text(&stick);
    assert_eq!(garage.json(&["sheet", "--garage", &there])["fields"]["launch.rpm"], 4200.0);
    has(&garage.read("grey", "setup.toml"), &["4300"]);
    // And an edit in the copy is not written over, nor is that said to be a copy while there is nothing new.
    let sheet = stick.join("grey/setup.toml");
    let copied = std::fs::read(&sheet).unwrap();
    std::fs::write(&sheet, "format = 1\n# mine\n").unwrap();
    has(&garage.refused(3, &["copy", &there]), &["setup.toml was changed by hand in the copy", "as it was"]);
    std::fs::write(&sheet, copied).unwrap();
    has(&garage.ok(&["copy", &there]), &["held all of it already"]);
    garage.ok(&["sheet", "--save"]);
    std::fs::write(&sheet, "format = 1\n# mine\n").unwrap();
    has(&garage.refused(3, &["copy", &there]), &["setup.toml was changed by hand in the copy", "as it was"]);
    assert_eq!(std::fs::read_to_string(&sheet).unwrap(), "format = 1\n# mine\n");
}

#[test]
fn the_garage_remembers_the_last_one() {
    let (garage, stick) = garage();
    let settings = garage.dir().join("garage.toml");
    let by_hand = format!("# mine\n{}", std::fs::read_to_string(&settings).unwrap());
    std::fs::write(&settings, by_hand).unwrap();
    garage.ok(&["copy", &text(&stick)]);
    garage.at("2026-08-23T10:00:00");
    let json = garage.json(&["copy", &text(&stick.join("grey.bundle"))]);
    let now = std::fs::read_to_string(&settings).unwrap();
    let tip = json["tip"].as_str().unwrap();
    has(
        &now,
        &[
            "# mine\n",
            "current = \"grey\"",
            "[copy.grey]",
            "at = 2026-08-23T10:00:00-05:00",
            "stick/grey.bundle\"",
            tip,
        ],
    );
    assert_eq!(now.matches("[copy").count(), 1, "{now}");
    // A copy that failed is none.
    garage.refused(2, &["copy", &text(&garage.dir())]);
    assert_eq!(std::fs::read_to_string(&settings).unwrap(), now);
    // A book that is none of the garage has no place there.
    let other = garage.run_in(&stick.join("grey"), &["copy", &text(&stick.join("again.bundle"))]);
    assert_eq!(other.code, 0, "{other:?}");
    has(&other.stdout, &["does not remember the copy"]);
    assert_eq!(std::fs::read_to_string(&settings).unwrap(), now);
    assert_eq!(json["remembered"], true);
}
