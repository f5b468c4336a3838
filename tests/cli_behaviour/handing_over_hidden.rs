//! Where a name can hide: every key of every file that takes a text, ids a hand made up, keys nobody knows. It is listed
//! before anything goes, and gone from the file once names stay here.

use crate::common::{Garage, has, has_not};
use crate::handing_over_less::all_in;
use std::path::{Path, PathBuf};

fn garage() -> (Garage, PathBuf) {
    let garage = Garage::with_car();
    let stick = garage.root().join("stick");
    std::fs::create_dir(&stick).unwrap();
    (garage, stick)
}

fn path(stick: &Path, name: &str) -> String {
    stick.join(name).display().to_string()
}

/// A car of Quill's whose every text has the name in it, each with a mark of its own.
const CAR: &str = r##"format = 1
name = "Grey"
template = "leaf-torsion"
class = "Q01 of Quill"
"owner" = [{ name = "Quill" }]

[[needs_below]]
et = 9.99
item = "Q02 as Quill reads the book"
field = "Q03 whatever Quill has"

[[field]]
key = "own.shim"
label = "Q04 Quill's shim"
ring = "sheet"
role = "set"
kind = "text"
chassis = ["leaf"]
choice_says = { thick = ["Q05 as Quill says"] }
says = ["Q06 the quill shim"]
told = "Q07 Quill's"
tool = "Q08 Quill's wrench"
place = "Q09 Quill's corner"
entries = ["Q10 Quill"]
each = "Q11 Quill"
help = "Q12 ask Quill"
source = "Q13 Quill"
noun = { thing = "Q14 Quill", many = "Q15 Quill", on = "Q16 Quill", short = "Q17 Quill" }
tell = { of = "Q18 Quill" }
effect = { name = "Q19 Quill's rate", power = 1 }
turn = [{ by = "Q20 Quill's way" }]
groups = [{ name = "Q21 Quill", short = "Q22 Quill", of = [0] }]

[[field]]
key = "own.spring"
label = "spring"
ring = "sheet"
role = "set"
kind = "number"
applies = "own.shim is not Q23 Quill"

[[part]]
name = "pair A"
kind = "rear.tire.name"
note = "Q24 of Quill"
gone = 2026-08-20
gone_how = "Q25 to Quill"
values.rear.tire.compound = "Q26 Quill's"

[[rule]]
id = "own.lead"
name = "Q27 Quill"
about = ["Q28 quill"]
severity = "note"
when = "own.shim is Q29 Quill"
says = "Q30 Quill"
because = "Q31 Quill"
source = "Q32 Quill"
contested = "Q33 Quill"
member = [{ when = "own.shim is Q34 Quill", says = "Q35 Quill" }]
job = { fields = ["Q36 Quill"], places = ["Q37 Quill's corner"], says = "Q38 Quill" }
package = ["Q39 Quill"]
"##;

/// The same for what a hand adds to a trial, the day and the sheet.
fn plant(garage: &Garage) {
    garage.at("2026-08-01T10:00:00");
    // Some of it `sheet --save` would refuse.
    garage.edit("grey", "car.toml", |_| CAR.to_owned());
    garage.git("grey", &["commit", "-qam", "Q68 by Quill"]);
    let ok = |args: &[&str]| garage.ok(&[args, &["--car", "grey", "--yes"]].concat());
    garage.at("2026-08-02T10:00:00");
    ok(&["change", "own.shim=Q40 Quill", "notes=Q41 Quill", "--why", "Q42 Quill"]);
    garage.edit("grey", "setup.toml", |t| {
        t.replacen("[rear", "[weight]\nballast = [{ weight = 25, where = \"Q43 Quill\" }]\n\n[rear", 1)
    });
    ok(&["sheet", "--save"]);
    ok(&["run", "--track", "Osier Flats", "60=1.652", "--air", "84F 52% 29.42 station", "--note", "Q44 Quill"]);
    garage.at("2026-08-02T11:00:00");
    ok(&["change", "rear.limiter.height=0.75"]);
    ok(&["run", "--track", "Osier Flats", "60=1.642"]);
    let day = "days/2026/08-02-osier-flats.toml";
    let id = garage.read("grey", day).split("id = \"").nth(1).unwrap()[..8].to_owned();
    garage.edit("grey", day, |t| {
        let t = t.replacen(&id, "Q45-quill", 1);
        let t =
            t.replacen("finish =", "prep = \"Q46 Quill\"\nnote = \"Q47 Quill\"\nunread = [\"Q48 Quill\"]\nfinish =", 1);
        let t = t.replacen("[[run]]\n", "[[run]]\nround = \"Q49 Quill\"\n", 1);
        t.replacen("[[reading]]\n", "[[reading]]\nreport = \"Q50 Quill\"\nby = \"Quill\"\n", 1)
    });
    ok(&["sheet", "--save"]);
    ok(&["trial", "start", "pairs", "v1", "v2", "--why", "Q51 Quill"]);
    garage.edit("grey", "trials/pairs.toml", |t| {
        let by_hand = "effect_of_it = \"Q52 Quill\"\nmatters_to = \"Q53 Quill\"\n\"Q54 quill\" = 7\nremark = [{ x = \"Q55 Quill\" }]\n";
        let judged = "\n[judged]\nat = 2026-08-22T16:00:00-05:00\nby = \"Quill\"\nverdict = \"Q56 for Quill\"\n\
                      evidence = [\"Q57 Quill\"]\nruns_a = [\"Q45-quill\"]\nruns_b = []\norder_run = \"A\"\n\
                      method = \"Q58 as Quill counts\"\nsd_of = \"Q59 Quill\"\n[judged.mine]\nwho = \"Q60 Quill\"\n";
        t.replacen("matters_s", &format!("{by_hand}matters_s"), 1) + judged
    });
    // What this program cannot read stands in the history as well, and a message may say anything.
    let whole = garage.read("grey", day);
    garage.edit("grey", day, |t| t.replacen("[[run]]\n", "[[run]]\nwith = \"Q61 Quill\"\nlane = \"Q62 Quill\"\n", 1));
    garage.edit("grey", "setup.toml", |t| {
        t.replacen("[rear", "[mine]\nx = \"Q63 Quill\"\n\n[rear", 1).replacen(
            "height = 0.75",
            "height = \"Q64 Quill\"",
            1,
        )
    });
    let message =
        "edits\n\nTyped: engine.timing Q65 Quill\nTyped: own.shim reading \"Q66 Quill\"\nOn: Q67 Quill\nRun: Q45-quill";
    garage.git("grey", &["commit", "-qam", message]);
    garage.edit("grey", day, |_| whole);
    garage.edit("grey", "setup.toml", |t| {
        t.replacen("[mine]\nx = \"Q63 Quill\"\n\n", "", 1).replacen("height = \"Q64 Quill\"", "height = 0.75", 1)
    });
    garage.git("grey", &["commit", "-qam", "mended"]);
}

#[test]
fn a_name_is_listed_wherever_it_hides_and_then_gone() {
    let (garage, stick) = garage();
    plant(&garage);
    let told = garage.json(&["handover", "grey", "--list"]);
    let said = |key: &str| told[key].to_string();
    let listed = format!("{}{}", said("other_words"), said("note_list"));
    for n in 1..=68 {
        has(&listed, &[&format!("Q{n:02}")]);
    }
    let whole = path(&stick, "whole.bundle");
    garage.ok(&["handover", "grey", "--yes", "--to", &whole]);
    has(&all_in(&garage, Path::new(&whole)), &["Q09 Quill", "Q45-quill", "Q60 Quill"]);
    for without in ["names", "names,notes", "names,phones,notes,engine"] {
        let to = path(&stick, &format!("{}.bundle", without.len()));
        let told = garage.json(&["handover", "grey", "--yes", "--to", &to, "--without", without]);
        let page = std::fs::read_to_string(Path::new(&to).with_extension("txt")).unwrap();
        let all = all_in(&garage, Path::new(&to)).to_lowercase() + &page.to_lowercase();
        has_not(&all, &["quill", "q45", "q52", "q53", "q54", "q55", "q59", "q60", "q61", "q62", "q63", "q64"]);
        has(&all, &["q09 owner 1", "q20 owner 1", "q37 owner 1", "q56 for owner 1"]);
        assert_eq!((&told["versions"], &told["runs"], &told["names"]), (&6.into(), &2.into(), &serde_json::json!([])));
        // The rule and the condition still hold for what stands on the sheet.
        has(&all, &["own.shim is not q23 owner 1", "q40 owner 1"]);
        let other = Garage::new();
        other.ok(&["receive", &to, "--owner", "Mo"]);
        assert_eq!(other.json(&["verify"])["good"], true, "{without}");
        // The run has one id, in the day, in its record and in the trial.
        let id = other.json(&["runs"])["runs"][0]["id"].as_str().unwrap().to_owned();
        assert!(id.len() == 8 && id.bytes().all(|b| b.is_ascii_hexdigit()), "{id}");
        has(&other.read("grey", "trials/pairs.toml"), &[&id]);
    }
}

#[test]
fn without_names_does_what_it_says_where_none_is_on_record() {
    let (garage, stick) = garage();
    garage.by("unknown");
    let garage = {
        let nobody = Garage::new();
        nobody.by("unknown");
        nobody.at("2026-08-01T09:00:00");
        nobody.ok(&["new", "Grey", "--template", "leaf-torsion", "launch.rpm=4200"]);
        nobody.ok(&["change", "launch.rpm=4300", "--why", "said pell@shop.example.org", "--yes"]);
        drop(garage);
        nobody
    };
    let to = path(&stick, "x.bundle");
    std::fs::create_dir_all(&stick).unwrap();
    let said = garage.run(&["handover", "grey", "--yes", "--to", &to, "--without", "names"]);
    assert_eq!(said.code, 0, "{}", said.both());
    has(&said.stdout, &["left out", "names of owners and of those who wrote"]);
    let all = all_in(&garage, Path::new(&to));
    has_not(&all, &["pell@shop"]);
    has(&all, &["said (address left out)", "unknown"]);
}

#[test]
fn names_of_two_letters_go_and_single_letters_are_told() {
    let (garage, stick) = garage();
    garage.edit("grey", "car.toml", |t| {
        format!("{t}\n[[owner]]\nname = \"Al J. Hart Jr\"\n\n[[owner]]\nname = \"Jo\"\n")
    });
    garage.ok(&["sheet", "--save", "--yes"]);
    garage.ok(&["change", "launch.rpm=4300", "--why", "Al's idea, jo agreed, J drove; alloy or not", "--yes"]);
    let to = path(&stick, "x.bundle");
    garage.ok(&["handover", "grey", "--yes", "--to", &to, "--without", "names"]);
    let all = all_in(&garage, Path::new(&to));
    has(&all, &["owner 1's idea, owner 2 agreed, J drove; alloy or not"]);
    has_not(&all, &["Hart", "Al J", "\"Jo\""]);
    let listed = garage.ok(&["handover", "grey", "--list", "--without", "names"]);
    has(&listed.split_whitespace().collect::<Vec<_>>().join(" "), &["single letters of names"]);
}

#[test]
fn what_names_a_field_that_stays_here_is_left_out_or_mended() {
    let (garage, stick) = garage();
    garage.edit("grey", "car.toml", |t| {
        let field = |key: &str, role: &str, more: &str| {
            format!("\n[[field]]\nkey = \"own.{key}\"\nlabel = \"{key} in\"\nring = \"sheet\"\nrole = \"{role}\"\nkind = \"number\"\n{more}")
        };
        let rule = "\n[[rule]]\nid = \"own.lead\"\nname = \"x\"\nseverity = \"note\"\nwhen = \"own.pad > 1\"\nsays = \"y\"\nbecause = \"z\"\nsource = \"none\"\n";
        let other = rule.replace("own.lead", "own.other").replace("own.pad > 1", "own.gap > 1");
        [
            t.to_owned(),
            field("pad", "set", "moves = [\"own.gap\"]\n"),
            field("gap", "measured", "help = \"taken behind own.pad\"\n"),
            field("arm", "set", "moves = [\"own.pad\", \"own.gap\"]\nfollows = \"own.pad\"\n"),
            field("bolt", "set", "applies = \"own.pad is on record\"\nturn = [{ by = \"turns\", threads = \"own.pad\" }]\n"),
            field("clip", "described", "part = \"own.pad\"\n"),
            rule.to_owned(),
            other,
        ]
        .concat()
    });
    garage.ok(&["sheet", "--save", "--yes"]);
    garage.ok(&["change", "own.pad=2", "own.gap=1.5", "own.arm=3", "own.bolt=4", "own.clip=5", "--yes"]);
    garage.ok(&["change", "own.pad=2.5", "--why", "own.pad was thin", "--yes"]);
    let to = path(&stick, "x.bundle");
    let said = garage.run(&["handover", "grey", "--yes", "--to", &to, "--without", "own.pad"]);
    assert_eq!(said.code, 0, "{}", said.both());
    let flat = |t: &str| t.split_whitespace().collect::<Vec<_>>().join(" ");
    has(
        &flat(&said.both()),
        &["left out", "3 fields of the car's own say of it", "what a rule of the car's own says of it"],
    );
    has_not(&all_in(&garage, Path::new(&to)), &["own.pad", "own.lead"]);
    let other = Garage::new();
    other.ok(&["receive", &to, "--owner", "Mo"]);
    assert_eq!(other.json(&["verify"])["good"], true);
    has(&other.read("grey", "car.toml"), &["moves = [\"own.gap\"]", "own.other"]);
    // What depended on it is still on record, and goes on by itself.
    has(&other.read("grey", "setup.toml"), &["gap = 1.5", "arm = 3", "bolt = 4", "clip = 5"]);
    other.ok(&["change", "own.bolt=6", "own.arm=2", "--yes"]);
}

#[test]
fn the_only_field_of_the_cars_own_goes_from_its_parts_too() {
    let (garage, stick) = garage();
    garage.edit("grey", "car.toml", |t| {
        format!(
            "private = [\"own.tread\"]\n{t}\n[[field]]\nkey = \"own.tread\"\nlabel = \"tread\"\nring = \"sheet\"\nrole = \"described\"\n\
             kind = \"text\"\npart = \"rear.tire.name\"\n\n[[part]]\nname = \"pair B\"\nkind = \"rear.tire.name\"\n\
             values.own.tread = \"as cut\"\n"
        )
    });
    garage.ok(&["sheet", "--save", "--yes"]);
    let to = path(&stick, "x.bundle");
    garage.ok(&["handover", "grey", "--yes", "--to", &to, "--without", "private"]);
    has_not(&all_in(&garage, Path::new(&to)), &["tread", "as cut"]);
    let other = Garage::new();
    other.ok(&["receive", &to, "--owner", "Mo"]);
    assert_eq!(other.json(&["verify"])["good"], true);
}

#[test]
fn texts_of_a_left_out_list_go_from_the_notes_too() {
    let (garage, stick) = garage();
    garage.edit("grey", "setup.toml", |t| {
        t.replacen("[rear", "[weight]\nballast = [{ weight = 25, where = \"under the seat rail\" }]\n\n[rear", 1)
    });
    garage.ok(&["sheet", "--save", "--yes"]);
    garage.ok(&["change", "launch.rpm=4300", "--why", "with the bar under the seat rail, weight 25", "--yes"]);
    let to = path(&stick, "x.bundle");
    garage.ok(&["handover", "grey", "--yes", "--to", &to, "--without", "weight.ballast"]);
    let all = all_in(&garage, Path::new(&to));
    has_not(&all, &["seat rail"]);
    has(&all, &["with the bar (left out), weight 25"]);
}

#[test]
fn help_says_what_yes_does() {
    let garage = Garage::new();
    for (command, wanted) in
        [("handover", "what may go"), ("receive", "lacks runs or versions"), ("join", "Do not ask")]
    {
        let help = garage.ok(&[command, "--help"]);
        let at = help.find("--yes").expect("it is an option");
        let flat = help[at..].split_whitespace().collect::<Vec<_>>().join(" ");
        has(&flat, &[wanted]);
        has_not(&flat, &["unusual values"]);
    }
}
