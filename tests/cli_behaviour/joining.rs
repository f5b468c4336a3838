//! Two laptops, one car: what each wrote down is brought together, whichever joins.

use crate::common::{Garage, git_binary};
use std::path::Path;
use std::process::Command;

const STEP: &[&str] = &["change", "limiter", "down", "1/4", "--when", "aug 8 10:00"];

/// Two laptops with one book: Ro's, and Sal's made of a copy.
pub fn two() -> (Garage, Garage) {
    let ro = Garage::with_car();
    ro.at("2026-08-08T12:00:00");
    ro.ok(STEP);
    ro.ok(&["run", "--track", "Osier Flats", "--at", "aug 8 11:00", "60=1.600", "et=11.500", "mph=117"]);
    let sal = Garage::new();
    sal.by("Sal");
    std::fs::create_dir_all(sal.dir()).unwrap();
    ro.ok(&["copy", &sal.dir().display().to_string()]);
    ro.at("2026-08-22T14:20:00");
    (ro, sal)
}

pub fn path(garage: &Garage) -> String {
    garage.book("grey").display().to_string()
}

pub fn tip(garage: &Garage) -> String {
    let book = slipbook::garage::Book::open(&garage.book("grey")).unwrap();
    book.store.head().unwrap().unwrap().to_string()
}

fn versions(garage: &Garage) -> Vec<String> {
    let json = garage.json(&["history", "--all"]);
    let all = json["versions"].as_array().unwrap().iter();
    let mut out: Vec<String> =
        all.map(|v| format!("{} {}", v["version"].as_str().unwrap(), v["words"][0].as_str().unwrap())).collect();
    out.sort();
    out
}

/// What each did on its own: Ro a change and a run, Sal a change between them and two runs.
pub fn apart(ro: &Garage, sal: &Garage) {
    ro.at("2026-08-15T10:00:00");
    ro.ok(&["change", "rear", "shocks", "extension", "looser", "2", "--when", "aug 15 09:00"]);
    ro.ok(&["run", "--track", "Osier Flats", "--at", "aug 15 09:40", "60=1.590", "et=11.480", "mph=117.2"]);
    sal.at("2026-08-15T10:30:00");
    sal.ok(&["change", "rear", "tire", "pressure", "12", "--when", "aug 15 09:20"]);
    sal.ok(&["run", "--track", "Osier Flats", "--at", "aug 15 09:50", "60=1.580", "et=11.470", "mph=117.3"]);
    sal.ok(&["run", "--track", "Tern Hollow", "--at", "aug 15 10:20", "60=1.585", "et=11.475", "mph=117.1"]);
}

#[test]
fn both_make_the_same_record_whichever_joins() {
    let (ro, sal) = two();
    apart(&ro, &sal);
    let bundle = ro.root().join("sal.bundle").display().to_string();
    sal.ok(&["copy", &bundle]);
    let other = Garage::new();
    std::fs::create_dir_all(other.dir()).unwrap();
    ro.ok(&["copy", &other.dir().display().to_string()]);

    ro.at("2026-08-20T10:00:00");
    let json = ro.json(&["join", &bundle]);
    assert_eq!(json["how"], "joined");
    assert_eq!((&json["here"]["changes"], &json["here"]["runs"]), (&1.into(), &1.into()), "{json}");
    assert_eq!((&json["there"]["changes"], &json["there"]["runs"]), (&1.into(), &2.into()), "{json}");
    assert_eq!(json["renumbered"][0]["was"], "v3", "{json}");
    assert_eq!(json["renumbered"][0]["version"], "v3b", "{json}");
    ro.tidy("grey", "join");
    ro.ok(&["verify"]);

    // The other way round, by another hand, at another time: the very same record.
    sal.at("2026-09-01T10:00:00");
    sal.ok(&["join", &path(&other)]);
    assert_eq!(tip(&ro), tip(&sal));
    assert_eq!(versions(&ro), versions(&sal));
    sal.tidy("grey", "join");
    let said = sal.ok(&["join", &path(&ro)]);
    assert!(said.contains("the same book"), "{said}");

    // Every run is there, and stands on the sheet of its time: Sal's on both changes.
    let runs = ro.json(&["runs", "--all"]);
    let all: Vec<String> = runs["runs"]
        .as_array()
        .unwrap()
        .iter()
        .map(|r| format!("{} {}", r["on"].as_str().unwrap(), r["ft60"]))
        .collect();
    assert_eq!(all, ["v2 1.6", "v3b 1.59", "v3b 1.58", "v3b 1.585"]);
    let sheet = ro.read("grey", "setup.toml");
    assert!(sheet.contains("pressure = 12.0") && sheet.contains("extension = 4"), "{sheet}");
    assert_eq!(ro.read("grey", "days/2026/08-15-osier-flats.toml").matches("[[run]]").count(), 2);
    let log = ro.git("grey", &["log", "--format=%an %s"]);
    assert!(log.contains("Sal v3 run: 60 ft 1.580") && log.contains("Ro v3 run: 60 ft 1.590"), "{log}");
    assert!(log.starts_with("Sal two laptops joined: 1 change, 2 runs by Sal; 1 change, 1 run by Ro"), "{log}");

    // A copy of either laptop is one of the joined book, and is brought up to it.
    let told = ro.json(&["copy", &other.dir().display().to_string()]);
    assert_eq!(told["tip"], tip(&ro), "{told}");

    // As it was written down: both changes as v3, and each run on what its laptop knew of.
    let json = ro.json(&["history", "--all", "--as-recorded"]);
    let all: Vec<&str> = json["versions"].as_array().unwrap().iter().map(|v| v["version"].as_str().unwrap()).collect();
    assert_eq!(all.iter().filter(|v| **v == "v3").count(), 2, "{json}");

    // Going on: the next number is one neither gave, and the other laptop is brought up to it.
    ro.ok(&["change", "launch", "rpm", "4400", "--when", "aug 20 09:00"]);
    assert!(versions(&ro).last().unwrap().starts_with("v4 "), "{:?}", versions(&ro));
    let said = sal.ok(&["join", &path(&ro)]);
    assert!(said.contains("brought up to"), "{said}");
    assert_eq!(tip(&ro), tip(&sal));
    let said = ro.ok(&["join", &path(&sal)]);
    assert!(said.contains("the same book"), "{said}");
}

#[test]
fn a_number_on_the_tape_of_the_other_laptop_is_said() {
    let (ro, sal) = two();
    apart(&ro, &sal);
    ro.ok(&["join", &path(&sal)]);
    let output = ro.run(&["sheet", "v3"]);
    assert!(output.stderr.contains("v3 on the tape of another laptop is v3b (Sal)"), "{output:?}");
    assert!(output.stdout.contains("v3"), "{output:?}");
    let said = ro.ok(&["history", "--all"]);
    assert!(said.contains("v3 on the tape of Sal's laptop"), "{said}");
    // Once nobody else has the number, it is the version's other name.
    ro.ok(&["mend", "v3", "--never"]);
    let said = ro.ok(&["sheet", "v3"]);
    assert!(said.contains("v3b"), "{said}");
    ro.tidy("grey", "a mend of a joined book");
    // What was joined is not taken back, and what came after it is.
    let (ro, sal) = two();
    apart(&ro, &sal);
    ro.ok(&["join", &path(&sal)]);
    let said = ro.refused(2, &["oops", "--yes"]);
    assert!(said.contains("joined two laptops"), "{said}");
}

#[test]
fn what_has_no_order_is_asked_about_and_both_laptops_agree() {
    let (ro, sal) = two();
    ro.at("2026-08-15T10:00:00");
    sal.at("2026-08-15T10:05:00");
    ro.ok(&["change", "launch", "rpm", "4400", "--when", "aug 15 09:00"]);
    sal.ok(&["change", "launch", "rpm", "4500", "--when", "aug 15 09:00"]);
    // In order, a later value is no conflict.
    sal.ok(&["change", "timing", "34", "--when", "aug 15 09:30"]);
    ro.ok(&["change", "timing", "32", "--when", "aug 15 09:20"]);
    let said = ro.refused(2, &["join", &path(&sal)]);
    assert!(said.contains("here 4,400 rpm (v3 by Ro)") || said.contains("here 4400 rpm (v3 by Ro)"), "{said}");
    assert!(said.contains("4500") && said.contains("--take newer") && !said.contains("timing"), "{said}");
    let before = Garage::new();
    std::fs::create_dir_all(before.dir()).unwrap();
    ro.ok(&["copy", &before.dir().display().to_string()]);
    ro.ok(&["join", &path(&sal), "--take", "newer"]);
    sal.ok(&["join", &path(&before), "--take", "newer"]);
    assert_eq!(tip(&ro), tip(&sal));
    let sheet = ro.read("grey", "setup.toml");
    assert!(sheet.contains("rpm = 4500") && sheet.contains("timing = 34"), "{sheet}");
    let said = ro.ok(&["history", "--all"]);
    assert!(said.contains("gave way to"), "{said}");
    ro.tidy("grey", "join with a choice");
}

#[test]
fn what_one_side_put_right_holds_and_two_that_differ_are_asked_about() {
    let (ro, sal) = two();
    ro.ok(&["mend", "run", "aug 8 11:00", "60=1.610"]);
    sal.at("2026-08-22T15:00:00");
    sal.ok(&["mend", "v2", "--why", "it sat too high"]);
    sal.ok(&["mend", "run", "aug 8 11:00", "left"]);
    ro.ok(&["join", &path(&sal)]);
    let day = ro.read("grey", "days/2026/08-08-osier-flats.toml");
    assert!(day.contains("ft60 = 1.610") && day.contains("lane = \"left\""), "{day}");
    assert!(ro.ok(&["history", "--all"]).contains("it sat too high"));

    let (ro, sal) = two();
    ro.ok(&["mend", "run", "aug 8 11:00", "60=1.610"]);
    sal.at("2026-08-22T15:00:00");
    sal.ok(&["mend", "run", "aug 8 11:00", "60=1.620"]);
    let said = ro.refused(2, &["join", &path(&sal)]);
    assert!(said.contains("the run of") && said.contains("here 1.610, there 1.620"), "{said}");
    ro.ok(&["join", &path(&sal), "--take", "here"]);
    assert!(ro.read("grey", "days/2026/08-08-osier-flats.toml").contains("ft60 = 1.610"));
    // Taken away on one side and left alone on the other: it is gone.
    let (ro, sal) = two();
    ro.ok(&["mend", "run", "aug 8 11:00", "--never"]);
    sal.ok(&["change", "launch", "rpm", "4500"]);
    ro.ok(&["join", &path(&sal)]);
    assert!(!ro.read("grey", "days/2026/08-08-osier-flats.toml").contains("[[run]]"));
}

#[test]
fn parts_and_readings_of_both_are_kept() {
    let (ro, sal) = two();
    ro.ok(&["part", "add", "pair B", "--kind", "rear tires"]);
    sal.at("2026-08-22T14:40:00");
    sal.ok(&["part", "add", "pair C", "--kind", "rear tires"]);
    ro.ok(&["air", "84F", "60%", "29.92", "station", "--track", "Osier Flats", "--at", "14:00", "--elevation", "640"]);
    sal.ok(&["air", "86F", "55%", "29.90", "station", "--track", "Osier Flats", "--at", "14:30", "--elevation", "640"]);
    ro.ok(&["join", &path(&sal)]);
    let car = ro.read("grey", "car.toml");
    assert!(car.contains("pair B") && car.contains("pair C"), "{car}");
    let day = ro.read("grey", "days/2026/08-22-osier-flats.toml");
    assert_eq!(day.matches("[[reading]]").count(), 2, "{day}");
    ro.tidy("grey", "join of parts and readings");
}

#[test]
fn strangers_are_refused_unless_they_are_one_car() {
    let (ro, _) = two();
    let other = Garage::new();
    other.by("Sal");
    other.at("2026-08-10T09:00:00");
    other.ok(&["new", "Grey", "--template", "leaf-torsion", "launch.rpm=4300", "front.tire.pressure=34"]);
    other.ok(&["run", "--track", "Tern Hollow", "60=1.7"]);
    let said = ro.refused(3, &["join", &path(&other)]);
    assert!(said.contains("is not this car's book") && said.contains("--same-car"), "{said}");
    let both = Garage::new();
    std::fs::create_dir_all(both.dir()).unwrap();
    ro.ok(&["copy", &both.dir().display().to_string()]);
    ro.ok(&["join", &path(&other), "--same-car"]);
    other.ok(&["join", &path(&both), "--same-car"]);
    assert_eq!(tip(&ro), tip(&other));
    assert!(ro.read("grey", "setup.toml").contains("rpm = 4300"));
    assert!(versions(&ro).iter().any(|v| v.starts_with("v1b ")), "{:?}", versions(&ro));
    ro.tidy("grey", "join of two books of one car");
    // Another chassis is another car.
    let four = Garage::new();
    four.ok(&["new", "Grey", "--template", "fourlink-coilover"]);
    let said = ro.run(&["join", &path(&four), "--same-car"]);
    assert_eq!(said.code, 2, "{said:?}");
    assert!(said.stderr.contains("one chassis"), "{said:?}");
}

#[test]
fn hand_edits_refuse_and_a_dry_run_writes_nothing() {
    let (ro, sal) = two();
    apart(&ro, &sal);
    let before = ro.contents();
    let said = ro.ok(&["join", &path(&sal), "--dry-run"]);
    assert!(said.contains("would be joined") && said.contains("nothing written"), "{said}");
    assert_eq!(before, ro.contents());
    // A garage is a place to look in, too.
    let said = ro.ok(&["join", &sal.dir().display().to_string(), "--dry-run"]);
    assert!(said.contains("would be joined"), "{said}");
    ro.edit("grey", "setup.toml", |t| t.replace("timing = 33", "timing = 31"));
    let said = ro.refused(3, &["join", &path(&sal)]);
    assert!(said.contains("changed by hand"), "{said}");
    let said = ro.refused(2, &["join", "ext::sh -c true"]);
    assert!(said.contains("a program of its own"), "{said}");
    ro.refused(2, &["join", "--upload-pack=touch"]);
    ro.refused(2, &["join", "/no/such/place"]);
}

#[test]
fn a_book_pushed_by_git_is_joined_and_sent_back() {
    let (ro, sal) = two();
    apart(&ro, &sal);
    let bare = ro.root().join("books.git");
    let git = |dir: &Path, args: &[&str]| {
        let done = Command::new(git_binary())
            .current_dir(dir)
            .env("GIT_CONFIG_GLOBAL", "/dev/null")
            .args(args)
            .output()
            .unwrap();
        assert!(done.status.success(), "git {args:?}: {}", String::from_utf8_lossy(&done.stderr));
    };
    git(ro.root(), &["init", "-q", "--bare", "books.git"]);
    let address = format!("file://{}", bare.display());
    sal.git("grey", &["push", "-q", &address, "main"]);
    // From the folder without a git, from the address with it: the same.
    let said = ro.ok(&["join", &bare.display().to_string(), "--dry-run"]);
    assert!(said.contains("would be joined"), "{said}");
    let no_git = ro.run_with(ro.root(), &[("PATH", "/nowhere")], &["join", &address]);
    assert_eq!(no_git.code, 2, "{no_git:?}");
    assert!(no_git.stderr.contains("there is no git on this machine"), "{no_git:?}");
    // Whoever made that repository says nothing of what runs here.
    let ran = ro.root().join("ran");
    for hook in ["pre-receive", "update", "post-receive", "post-update", "reference-transaction", "proc-receive"] {
        let file = bare.join("hooks").join(hook);
        std::fs::create_dir_all(bare.join("hooks")).unwrap();
        std::fs::write(&file, format!("#!/bin/sh\necho {hook} >> '{}'\n", ran.display())).unwrap();
        std::fs::set_permissions(&file, std::os::unix::fs::PermissionsExt::from_mode(0o755)).unwrap();
    }
    let said = ro.ok(&["join", &address, "--send"]);
    assert!(said.contains("sent to"), "{said}");
    assert!(!ran.exists(), "a hook ran: {}", std::fs::read_to_string(&ran).unwrap());
    ro.tidy("grey", "join of an address");
    sal.ok(&["join", &address]);
    assert_eq!(tip(&ro), tip(&sal));
    sal.tidy("grey", "join of what was sent");
    let said = sal.ok(&["join", &address, "--send"]);
    assert!(said.contains("the same book"), "{said}");
    ro.refused(3, &["join", "file:///no/such/book.git"]);
}

#[test]
fn a_window_that_overlaps_another_change_of_the_field_is_asked_about() {
    let (ro, sal) = two();
    ro.ok(&["change", "launch", "rpm", "4400", "--between", "aug 15 09:00", "aug 15 12:00"]);
    sal.at("2026-08-22T15:00:00");
    sal.ok(&["change", "launch", "rpm", "4500", "--when", "aug 15 10:00"]);
    let said = ro.refused(2, &["join", &path(&sal)]);
    assert!(said.contains("4400 rpm (v3 by Ro)") && said.contains("4500 rpm (v3 by Sal)"), "{said}");
    ro.ok(&["join", &path(&sal), "--take", "there"]);
    assert!(ro.read("grey", "setup.toml").contains("rpm = 4500"));
    // Joined otherwise there: the two joined books differ in that alone, and that is asked about once more.
    let (a, b) = two();
    a.ok(&["change", "launch", "rpm", "4400", "--when", "aug 15 09:00"]);
    b.ok(&["change", "launch", "rpm", "4500", "--when", "aug 15 09:00"]);
    let (a_alone, b_alone) = (beside(&a), beside(&b));
    a.ok(&["join", &path(&b_alone), "--take", "here"]);
    b.ok(&["join", &path(&a_alone), "--take", "here"]);
    assert_ne!(tip(&a), tip(&b));
    let said = a.refused(2, &["join", &path(&b)]);
    assert!(said.contains("--take"), "{said}");
    let (a_alone, b_alone) = (beside(&a), beside(&b));
    a.ok(&["join", &path(&b_alone), "--take", "here"]);
    b.ok(&["join", &path(&a_alone), "--take", "there"]);
    assert_eq!(tip(&a), tip(&b));
    assert!(a.read("grey", "setup.toml").contains("rpm = 4400"));
    a.tidy("grey", "join of what was joined in two ways");
}

/// A copy of a laptop's book as it is now, in a garage of its own.
pub fn beside(garage: &Garage) -> Garage {
    let copy = Garage::new();
    std::fs::create_dir_all(copy.dir()).unwrap();
    garage.ok(&["copy", &copy.dir().display().to_string()]);
    copy
}

#[test]
fn what_went_back_to_a_version_and_trials_name_it_as_it_is_called_now() {
    let (ro, sal) = two();
    ro.at("2026-08-15T10:00:00");
    ro.ok(&["change", "timing", "32", "--when", "aug 15 09:00"]);
    sal.at("2026-08-15T12:00:00");
    sal.ok(&["change", "rear", "tire", "pressure", "12", "--when", "aug 15 11:00"]);
    sal.ok(&["change", "rear", "tire", "pressure", "11.5", "--when", "aug 15 11:20"]);
    sal.ok(&["revert", "v3", "--when", "aug 15 11:40", "--yes"]);
    sal.ok(&["trial", "start", "pressure", "v2", "v3", "--yes"]);
    ro.ok(&["join", &path(&sal)]);
    let json = ro.json(&["history", "--all"]);
    let back = json["versions"].as_array().unwrap().iter().find(|v| v["kind"] == "revert").unwrap();
    assert_eq!(back["back_to"], "v3b", "{back}");
    assert!(back["words"].to_string().contains("v3b") || !back["words"].to_string().contains("v3"), "{back}");
    let trial = ro.read("grey", "trials/pressure.toml");
    assert!(trial.contains("b = \"v3b\"") && trial.contains("a = \"v2\""), "{trial}");
    ro.tidy("grey", "join of a trial");
}

#[test]
fn comments_of_both_hands_stay_and_commits_by_hand_are_versions() {
    let (ro, sal) = two();
    ro.edit("grey", "setup.toml", |t| t.replace("timing = 33", "# Pell says 33\ntiming = 33"));
    ro.ok(&["sheet", "--save"]);
    sal.at("2026-08-22T15:00:00");
    sal.edit("grey", "setup.toml", |t| t.replace("rpm = 4200", "rpm = 4300 # on the two-step"));
    sal.git("grey", &["commit", "-qam", "by hand"]);
    ro.ok(&["join", &path(&sal)]);
    let sheet = ro.read("grey", "setup.toml");
    assert!(sheet.contains("# Pell says 33\ntiming = 33"), "{sheet}");
    assert!(sheet.contains("rpm = 4300") && sheet.contains("on the two-step"), "{sheet}");
    assert_eq!(versions(&ro).len(), 3, "{:?}", versions(&ro));
    ro.tidy("grey", "join of a commit by hand");
}

#[test]
fn a_book_that_was_cut_off_or_is_none_changes_nothing() {
    let (ro, sal) = two();
    apart(&ro, &sal);
    let bundle = sal.root().join("sal.bundle");
    sal.ok(&["copy", &bundle.display().to_string()]);
    let whole = std::fs::read(&bundle).unwrap();
    for (name, bytes) in [("cut", &whole[..whole.len() / 2]), ("short", &whole[..40]), ("none", &b"# a note\n"[..])] {
        let path = ro.file(name, bytes);
        ro.refused(3, &["join", &path]);
    }
    let mut turned = whole.clone();
    let middle = turned.len() * 2 / 3;
    turned[middle] ^= 4;
    ro.refused(3, &["join", &ro.file("turned", turned)]);
    ro.ok(&["join", &ro.file("whole", whole)]);
}

#[test]
fn what_was_told_on_both_laptops_is_said() {
    let (ro, sal) = two();
    for garage in [&ro, &sal] {
        garage.at("2026-08-15T12:00:00");
        garage.ok(&["change", "launch", "rpm", "4400", "--when", "aug 15 09:00"]);
        garage.ok(&["run", "--track", "Osier Flats", "--at", "aug 15 11:00", "60=1.600", "et=11.500", "mph=117"]);
    }
    let json = ro.json(&["join", &path(&sal)]);
    let twice = json["twice"].as_array().unwrap();
    assert_eq!(twice.len(), 2, "{json}");
    assert!(twice[0].as_str().unwrap().contains("--never"), "{json}");
    assert_eq!(twice[1], "v3 and v3b tell the same change: slipbook mend v3b --never");
    ro.ok(&["mend", "v3b", "--never"]);
    assert_eq!(versions(&ro).len(), 3);
}

#[test]
fn one_day_at_one_track_becomes_one_day_with_what_both_said_of_it() {
    let (ro, sal) = two();
    ro.ok(&["day", "--track", "Osier Flats", "--prep", "glue", "--note", "wind from the left"]);
    ro.ok(&["run", "--at", "13:00", "60=1.600", "et=11.500", "mph=117"]);
    ro.ok(&["day", "--close"]);
    sal.at("2026-08-22T15:00:00");
    sal.ok(&["day", "--track", "osier flats", "--elevation", "640", "--note", "sun on lane 2"]);
    sal.ok(&["run", "--at", "13:30", "60=1.610", "et=11.510", "mph=116.9"]);
    let (ro_alone, sal_alone) = (beside(&ro), beside(&sal));
    ro.ok(&["join", &path(&sal_alone)]);
    sal.ok(&["join", &path(&ro_alone)]);
    assert_eq!(tip(&ro), tip(&sal));
    let day = ro.read("grey", "days/2026/08-22-osier-flats.toml");
    for said in ["prep = \"glue\"", "elevation = 640", "wind from the left", "sun on lane 2", "1.600", "1.610"] {
        assert!(day.contains(said), "{said}: {day}");
    }
    // A run came to it that its closing did not know of.
    assert!(!day.contains("closed"), "{day}");
    assert_eq!(day.matches("[[run]]").count(), 2);
    // Two finishes of one day are asked about.
    let (ro, sal) = two();
    ro.ok(&["day", "--track", "Osier Flats", "--finish", "1320"]);
    sal.ok(&["day", "--track", "Osier Flats", "--finish", "660"]);
    let said = ro.refused(2, &["join", &path(&sal)]);
    assert!(said.contains("its finish: here 1320 ft, there 660 ft"), "{said}");
    // A track whose name was put right on one laptop has its new name, and the other's runs with it.
    let (ro, sal) = two();
    ro.ok(&["mend", "track", "Osier Flats", "--name", "Osier Meadow"]);
    sal.at("2026-08-22T15:00:00");
    sal.ok(&["mend", "run", "aug 8 11:00", "60=1.620"]);
    sal.ok(&["run", "--track", "Osier Flats", "--at", "aug 8 11:30", "60=1.605", "et=11.51", "mph=117", "--yes"]);
    ro.ok(&["join", &path(&sal)]);
    let day = ro.read("grey", "days/2026/08-08-osier-meadow.toml");
    assert!(day.contains("1.620") && day.contains("1.605") && day.contains("Osier Meadow"), "{day}");
    assert!(!ro.book("grey").join("days/2026/08-08-osier-flats.toml").exists());
    ro.tidy("grey", "join of a track's new name");
}

#[test]
fn comments_of_both_hands_in_one_day_stay() {
    let (ro, sal) = two();
    let day = "days/2026/08-08-osier-flats.toml";
    ro.edit("grey", day, |t| {
        t.replace("[[run]]", "# Ro: crosswind\n[[run]]").replace("finish = 1320 # ft", "finish = 1320 # ft, measured")
    });
    ro.ok(&["sheet", "--save"]);
    ro.ok(&["run", "--track", "Osier Flats", "--at", "aug 8 11:40", "60=1.605", "et=11.51", "mph=117", "--yes"]);
    sal.at("2026-08-22T15:00:00");
    sal.ok(&["run", "--track", "Osier Flats", "--at", "aug 8 11:30", "60=1.602", "et=11.50", "mph=117", "--yes"]);
    sal.edit("grey", day, |t| {
        let (first, second) = t.split_at(t.rfind("[[run]]").unwrap());
        let first =
            first.replace("track =", "# Sal: the north gate\ntrack =").replace("ft60", "# Sal: read twice\nft60");
        format!("{first}# Sal: her first\n{}# Sal: that was all\n", second.replace("1.602 # s", "1.602 # s, by hand"))
    });
    sal.ok(&["sheet", "--save"]);
    let (ro_alone, sal_alone) = (beside(&ro), beside(&sal));
    ro.ok(&["join", &path(&sal_alone)]);
    sal.ok(&["join", &path(&ro_alone)]);
    assert_eq!(tip(&ro), tip(&sal));
    let text = ro.read("grey", day);
    for said in [
        "# Ro: crosswind\n[[run]]",
        "finish = 1320 # ft, measured",
        "# Sal: the north gate\ntrack",
        "# Sal: read twice\nft60 = 1.600",
        "# Sal: her first\n[[run]]",
        "ft60 = 1.602 # s, by hand",
        "# Sal: that was all",
    ] {
        assert_eq!(text.matches(said).count(), 1, "{said}: {text}");
    }
    assert_eq!(text.matches("[[run]]").count(), 3, "{text}");
    ro.ok(&["verify"]);
    ro.tidy("grey", "join of comments");
}

#[test]
fn a_comment_that_one_hand_took_out_stays_out() {
    let (ro, sal) = two();
    let day = "days/2026/08-08-osier-flats.toml";
    ro.edit("grey", day, |t| {
        let t = t.replace("finish = 1320 # ft", "finish = 1320 # ft, a guess");
        t.replace("[[run]]", "# a wrong remark\n[[run]]").replace("ft60", "# read by Pell\nft60")
    });
    ro.ok(&["sheet", "--save"]);
    sal.ok(&["join", &path(&ro)]);
    assert!(sal.read("grey", day).contains("# a wrong remark"));
    ro.edit("grey", day, |t| t.replace("# a wrong remark\n", "").replace("# ft, a guess", "# ft"));
    ro.ok(&["sheet", "--save"]);
    sal.at("2026-08-22T15:00:00");
    sal.ok(&["run", "--track", "Osier Flats", "--at", "aug 8 11:30", "60=1.602", "et=11.50", "mph=117", "--yes"]);
    let (ro_alone, sal_alone) = (beside(&ro), beside(&sal));
    ro.ok(&["join", &path(&sal_alone)]);
    sal.ok(&["join", &path(&ro_alone)]);
    assert_eq!(tip(&ro), tip(&sal));
    let text = ro.read("grey", day);
    assert!(!text.contains("a wrong remark") && !text.contains("a guess"), "{text}");
    assert!(text.contains("finish = 1320 # ft\n") && text.contains("# read by Pell\nft60 = 1.600"), "{text}");
    assert!(text.contains("1.602"), "{text}");
}

#[test]
fn what_the_other_laptop_wrote_of_a_day_whose_clock_was_put_right_stays_where_it_was() {
    for (wrong, date) in [("1d", "08-09"), ("1h", "08-08")] {
        let (ro, sal) = two();
        ro.ok(&["mend", "clock", "aug 8", "--slow", wrong]);
        sal.at("2026-08-22T15:00:00");
        sal.ok(&["run", "--track", "Osier Flats", "--at", "aug 8 14:30", "60=1.605", "et=11.51", "mph=117", "--yes"]);
        sal.ok(&["air", "--at", "aug 8 14:00", "84F", "50%", "29.9 in station"]);
        sal.ok(&["change", "timing", "32", "--when", "aug 8 14:10"]);
        let (ro_alone, sal_alone) = (beside(&ro), beside(&sal));
        ro.ok(&["join", &path(&sal_alone)]);
        sal.ok(&["join", &path(&ro_alone)]);
        assert_eq!(tip(&ro), tip(&sal), "{wrong}");
        let moved = ro.read("grey", &format!("days/2026/{date}-osier-flats.toml"));
        assert!(moved.contains("1.600"), "{wrong}: {moved}");
        let stays = ro.read("grey", "days/2026/08-08-osier-flats.toml");
        assert!(stays.contains("at = 14:30:00") && stays.contains("1.605"), "{wrong}: {stays}");
        assert!(stays.contains("[[reading]]\nat = 14:00:00"), "{wrong}: {stays}");
        assert_eq!(moved.contains("14:00:00"), wrong == "1h", "{moved}");
        assert_eq!(ro.json(&["runs", "--all"])["runs"].as_array().unwrap().len(), 2, "{wrong}");
        ro.ok(&["verify"]);
        ro.tidy("grey", "join of a clock put right");
    }
}
