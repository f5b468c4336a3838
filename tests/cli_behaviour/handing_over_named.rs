//! Names where they stand in something else: in what a file is called, in a header of a commit, beside an underscore, in a
//! plain word, in what one types to leave something out.

use crate::common::{Garage, has, has_not};
use crate::handing_over_less::all_in;
use std::path::{Path, PathBuf};

fn garage() -> (Garage, PathBuf) {
    let garage = Garage::with_car();
    let stick = garage.root().join("stick");
    std::fs::create_dir(&stick).unwrap();
    garage.by("Tony Pell");
    garage.at("2026-08-02T10:00:00");
    garage.ok(&["change", "launch.rpm=4300", "--yes"]);
    garage.ok(&["run", "--track", "Osier Flats", "60=1.652", "--air", "84F 52% 29.42 station", "--yes"]);
    garage.by("Ro");
    (garage, stick)
}

/// The copy of a handover, and all there is in its file and on its page.
fn gone_out(garage: &Garage, stick: &Path, name: &str, without: &str) -> (PathBuf, String) {
    let to = stick.join(format!("{name}.bundle"));
    garage.ok(&["handover", "grey", "--yes", "--to", &to.display().to_string(), "--without", without]);
    let page = std::fs::read_to_string(to.with_extension("txt")).unwrap();
    let all = all_in(garage, &to) + &page;
    (to, all)
}

fn flat(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// A name in small letters is no less of one, unless it is a word one has to be able to write.
#[test]
fn a_name_written_small_goes_and_where_it_stays_it_is_told() {
    let (garage, stick) = garage();
    garage.by("Hank Will");
    garage.ok(&["change", "launch.rpm=4200", "--why", "tony said it will hook, hank did not", "--yes"]);
    let (_, all) = gone_out(&garage, &stick, "small", "names");
    has(&all, &["said it will hook"]);
    has_not(&all, &["tony", "hank", "Tony", "Hank", "Will"]);
    // The one who hands it over is told which; the page is a stranger's.
    let listed = garage.json(&["handover", "grey", "--list", "--without", "names"]);
    has(&listed["still_in_it"].to_string(), &["written small", "will"]);
    let listed = garage.ok(&["handover", "grey", "--list", "--without", "names"]);
    has(&flat(&listed), &["names that are plain words, where they are written small: will"]);
    let page = std::fs::read_to_string(stick.join("small.txt")).unwrap();
    has(&flat(&page), &["Still in it: names that are plain words, where they are written small."]);
    has_not(&flat(&page), &["small: will"]);
    // Where no such word stands there is nothing to tell.
    let listed = garage.ok(&["handover", "grey", "--list", "--without", "names,notes"]);
    has_not(&flat(&listed), &["written small"]);
}

#[test]
fn a_name_beside_an_underscore_or_a_digit_goes_and_keys_stay() {
    let (garage, stick) = garage();
    garage.by("Ed Pell");
    garage.edit("grey", "car.toml", |t| {
        format!(
            "{t}\n[[field]]\nkey = \"own.pell_shim\"\nlabel = \"shim\"\nring = \"sheet\"\nrole = \"measured\"\nkind = \"number\"\n\
             unit = \"in\"\n\n[[rule]]\nid = \"own.lead\"\nname = \"x\"\nseverity = \"note\"\nwhen = \"own.pell_shim > 1\"\n\
             says = \"{{own.pell_shim}} is thick\"\nbecause = \"z\"\nsource = \"none\"\n\n[[part]]\nname = \"pell_pair2\"\nkind = \"rear.tire.name\"\n"
        )
    });
    garage.ok(&["sheet", "--save", "--yes"]);
    garage.ok(&["change", "rear.tire.name=pell_pair2", "--why", "Pell_setup by pell2, 2PELL_notes", "--yes"]);
    garage.ok(&["measure", "own.pell_shim", "2", "--yes"]);
    let (to, all) = gone_out(&garage, &stick, "joined", "names");
    has_not(&all, &["Pell_", "pell2", "PELL_"]);
    has(&all, &["own.pell_shim > 1", "{own.pell_shim} is thick", "pell_pair2"]);
    let other = Garage::new();
    other.ok(&["receive", &to.display().to_string(), "--owner", "Mo"]);
    assert_eq!(other.json(&["verify"])["good"], true);
    has(&other.read("grey", "setup.toml"), &["pell_shim = 2"]);
    has(&other.git("grey", &["log", "--format=%B"]), &["Measured: own.pell_shim"]);
    has(&flat(&other.ok(&["check"])), &["is thick"]);
    let listed = flat(&garage.ok(&["handover", "grey", "--list", "--without", "names"]));
    has(&listed, &["a field of the car's own", "a part's name", "\"own.pell_shim\""]);
}

#[test]
fn a_file_called_after_somebody_is_listed_and_called_after_its_track_in_a_copy() {
    let (garage, stick) = garage();
    let day = "days/2026/08-02-osier-flats.toml";
    garage.ok(&["trial", "start", "pairs", "v1", "v2", "--yes", "--car", "grey"]);
    let moved = "days/2026/08-02-call-pell-555-013-0142.toml";
    let second = "days/2026/08-02-tonys.toml";
    garage.git("grey", &["mv", day, moved]);
    garage.git("grey", &["mv", "trials/pairs.toml", "trials/call-tony-555-013-0143.toml"]);
    garage.git("grey", &["commit", "-qm", "renamed"]);
    // A second one says it is of the same track and date: neither takes the other's place.
    let text = garage.read("grey", moved).replacen("1.652", "1.661", 1);
    let id = text.split("id = \"").nth(1).unwrap()[..8].to_owned();
    let text = text.replacen(&id, "00c0ffee", 1).replacen("T10:00:00", "T10:30:00", 1);
    garage.edit("grey", second, |_| text);
    garage.git("grey", &["add", "-A"]);
    garage.git("grey", &["commit", "-qm", "one more"]);
    // What a file was called before is in the history too, and so is what it was called for a while.
    garage.git("grey", &["mv", second, "days/2026/08-02-isa-555-013-0144.toml"]);
    garage.git("grey", &["commit", "-qm", "again"]);
    garage.git("grey", &["mv", "days/2026/08-02-isa-555-013-0144.toml", second]);
    garage.git("grey", &["commit", "-qm", "and back"]);
    let told = garage.json(&["handover", "grey", "--list"]);
    let words = told["other_words"].to_string();
    has(&words, &[moved, "trials/call-tony-555-013-0143.toml", second, "08-02-isa-555-013-0144.toml"]);
    has_not(&words, &[day, "trials/pairs.toml"]);
    let phones = told["phones"].to_string();
    has(&phones, &["555 013 0142", "555 013 0143", "555 013 0144"]);
    for without in ["names,phones,notes", "names", "phones"] {
        let (to, all) = gone_out(&garage, &stick, &without.replace(',', "-"), without);
        has_not(&all, &["call-pell", "call-tony", "0142", "0143", "0144", "tonys"]);
        has(&all, &["08-02-osier-flats.toml", "08-02-osier-flats-2.toml", "pairs.toml"]);
        let other = Garage::new();
        // Of two files of one day `verify` tells in the book as well.
        other.ok(&["receive", &to.display().to_string(), "--owner", "Mo", "--yes"]);
        assert_eq!(other.json(&["runs"])["runs"].as_array().unwrap().len(), 2);
        has(&other.ok(&["trial"]), &["pairs"]);
    }
}

#[test]
fn what_a_commit_holds_beside_its_message_is_listed() {
    let (garage, stick) = garage();
    let git = |args: &[&str]| garage.git("grey", args);
    let raw = git(&["cat-file", "commit", "HEAD"]);
    let (head, message) = raw.split_once("\n\n").unwrap();
    let odd = "x-note call Zed 555-013-0177\nsigned -----BEGIN\n by zed@shop.example.org\n -----END";
    let file = garage.file("raw", format!("{head}\n{odd}\n\n{message}"));
    let id = git(&["hash-object", "-t", "commit", "-w", &file]);
    git(&["update-ref", "refs/heads/main", id.trim()]);
    let told = garage.json(&["handover", "grey", "--list"]);
    has(
        &told["other_words"].to_string(),
        &["x-note call Zed 555-013-0177", "signed -----BEGIN by zed@shop.example.org"],
    );
    has(&told["phones"].to_string(), &["555-013-0177"]);
    has(&told["addresses"].to_string(), &["zed@shop.example.org"]);
    let (_, all) = gone_out(&garage, &stick, "x", "names");
    has_not(&all, &["Zed", "zed", "0177"]);
}

#[test]
fn the_page_does_not_name_what_was_left_out() {
    let (garage, stick) = garage();
    garage.edit("grey", "car.toml", |t| {
        let field = |key: &str, label: &str| {
            format!(
                "\n[[field]]\nkey = \"own.{key}\"\nlabel = \"{label}\"\nring = \"sheet\"\nrole = \"set\"\nkind = \"number\"\nunit = \"in\"\n"
            )
        };
        [t.to_owned(), field("isas_secret_pump", "isa's pump"), field("arm", "the lever")].concat()
    });
    garage.ok(&["sheet", "--save", "--yes"]);
    garage.ok(&["change", "own.isas_secret_pump=2", "own.arm=3", "--yes"]);
    for (n, (without, said)) in [
        ("own.isas_secret_pump", "Not in the file: a field of the car's own."),
        ("limiter,own.isas_secret_pump,own.arm", "limiter, 2 fields of the car's own ("),
    ]
    .into_iter()
    .enumerate()
    {
        let (to, all) = gone_out(&garage, &stick, &n.to_string(), without);
        has_not(&all.to_lowercase(), &["isas", "isa's", "secret", "pump"]);
        let page = flat(&std::fs::read_to_string(to.with_extension("txt")).unwrap());
        has(&page, &[said]);
    }
}

#[test]
fn a_name_of_one_character_goes() {
    let garage = Garage::new();
    garage.ok(&["new", "Grey", "--template", "leaf-torsion", "--owner", "\u{674e}", "launch.rpm=3500", "--yes"]);
    let note = "\u{674e} asked; \u{674e}\u{3055}\u{3093}";
    garage.ok(&["run", "--track", "Osier Flats", "60=1.6", "--note", note]);
    let stick = garage.root().join("stick");
    std::fs::create_dir(&stick).unwrap();
    let (_, all) = gone_out(&garage, &stick, "yy", "names");
    has_not(&all, &["\u{674e}"]);
    // A word of a name too; and of one written without blanks it is told that a part stays.
    garage.by("\u{674e} \u{5c0f}\u{9f8d}\u{5b50}");
    garage.at("2026-08-23T10:00:00");
    garage.ok(&["run", "--track", "Osier Flats", "60=1.61", "--note", "\u{674e} said"]);
    let told = garage.json(&["handover", "--list", "--without", "names"]);
    has(&told["still_in_it"].to_string(), &["parts of names written without blanks"]);
    let (_, all) = gone_out(&garage, &stick, "zz", "names");
    has_not(&all, &["\u{674e}", "\u{5c0f}\u{9f8d}"]);
}
