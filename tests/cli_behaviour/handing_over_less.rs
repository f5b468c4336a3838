//! What is to stay here, wherever it hides: in every form a hand can write it, in every file and every record, now and in
//! what was there before.

use crate::common::{Garage, has, has_not};
use std::path::{Path, PathBuf};

/// Quill had the car before, wrote with git by hand, and stands, with a number each time, wherever words can stand.
fn garage() -> (Garage, PathBuf) {
    let garage = Garage::with_car();
    garage.at("2026-08-01T10:00:00");
    garage.edit("grey", "car.toml", |_| {
        r#"format = 1
name = "Grey"
template = "leaf-torsion"
class = "street, as Quill wrote it, call 555-013-0101"
"owner" = [{ 'name' = '''Quill''' }, {name='Ansel Crane'}]

[[field]]
key = "own.shim"
label = "Quill's shim 555-013-0102"
ring = "sheet"
role = "set"
kind = "number"
unit = "in"

[[part]]
name = "pair A"
kind = "rear.tire.name"
note = 'from Quill, 555-013-0103'
values.rear.tire.compound = 'soft, Quill says, 555-013-0104'

[[rule]]
id = "P1"
mute = true
reason = "Quill knows better, 555-013-0105"

[[rule]]
id = "own.lead"
name = "Quill's rule"
severity = "note"
when = "engine.timing > 40"
says = "Quill warned of it, 555-013-0123"
because = 'Quill broke one'
source = "Quill, 555-013-0124"
"#
        .to_owned()
    });
    let car = ["--car", "grey", "--yes"];
    let ok = |args: &[&str]| garage.ok(&[args, &car[..]].concat());
    ok(&["sheet", "--save"]);
    garage.at("2026-08-02T09:00:00");
    ok(&["change", "own.shim=0.25", "notes=Quill at 555-013-0106"]);
    ok(&["change", "own.shim=0.5", "--why", "Quill: 555-013-0107, shop@quill.example.org, or ask Crane"]);
    garage.edit("grey", "setup.toml", |t| {
        t.replacen(
            "[rear",
            "[weight]\nballast = [{ weight = 25, 'where' = \"Quill's seat, 555-013-0108\" }]\n\n[rear",
            1,
        )
    });
    ok(&["sheet", "--save"]);
    garage.at("2026-08-02T10:00:00");
    let note = "Quill said lift, 555-013-0110";
    ok(&["run", "--track", "Osier Flats", "60=1.652", "--air", "84F 52% 29.42 station", "--note", note]);
    garage.at("2026-08-02T11:00:00");
    ok(&["change", "rear.limiter.height=0.75"]);
    ok(&["run", "--track", "Osier Flats", "60=1.642"]);
    ok(&["trial", "start", "pairs", "v1", "v2", "--why", "Quill bets on it 555-013-0111"]);
    garage.edit("grey", "trials/pairs.toml", |t| {
        let at = t.find("why =").expect("the trial has its reason");
        let end = at + t[at..].find('\n').expect("a line");
        let by_hand = "why = 'Quill bets 555-013-0112'\nremark = \"Quill again 555-013-0113\"\nphone = 5550130114";
        format!("{}{by_hand}{}", &t[..at], &t[end..])
    });
    garage.edit("grey", "days/2026/08-02-osier-flats.toml", |t| {
        let told = "unread = [\"Quill 555-013-0115\"]\nprep = '''Quill dragged it, 555-013-0116'''\nnote = \"\"\"\nQuill\n\
                    555-013-0117\"\"\"\n[[reading]]\n\"by\" = 'Quill'\nreport = \"from Quill 555-013-0118\"";
        let run = "# Quill 555-013-0119\n[[run]]\nround = \"with Quill 555-013-0120\"";
        t.replacen("[[reading]]", told, 1).replacen("[[run]]", run, 1)
    });
    let by = ["--author", "Quill <quill@example.org>"];
    let message = "edits of Quill\n\ncall 555-013-0121\n\nRun: Quill 555-013-0122\nOn: Quill";
    garage.git("grey", &[&["commit", "-qam", message], &by[..]].concat());
    // One version nobody can read, and then a car.toml in which the owner of before is not named any more.
    let whole = garage.read("grey", "car.toml");
    garage.edit("grey", "car.toml", |_| "owner = [{ name = \"Quill\" }, broken\n".to_owned());
    garage.git("grey", &["commit", "-qam", "broken by Quill"]);
    let line = whole.lines().find(|l| l.starts_with("\"owner\"")).expect("the owners");
    garage.edit("grey", "car.toml", |_| whole.replace(line, "owner = [{name = \"Ansel Crane\"}]"));
    garage.git("grey", &["commit", "-qam", "mended"]);
    let stick = garage.root().join("stick");
    std::fs::create_dir(&stick).unwrap();
    (garage, stick)
}

/// Everything in a bundle, by stock git, as one text.
pub fn all_in(garage: &Garage, bundle: &Path) -> String {
    let clone = garage.root().join(format!("clone-of-{}", bundle.file_name().unwrap().display()));
    let (bundle, clone) = (bundle.display().to_string(), clone.display().to_string());
    garage.git("grey", &["clone", "-q", &bundle, &clone]);
    let mut all = garage.git("grey", &["-C", &clone, "log", "--all", "--format=raw"]);
    let objects = garage.git("grey", &["-C", &clone, "rev-list", "--objects", "--all"]);
    for id in objects.lines().filter_map(|l| l.split(' ').next()) {
        all += &garage.git("grey", &["-C", &clone, "cat-file", "-p", id]);
    }
    all
}

/// Everything in the file and on its page, as one text.
fn all_of(garage: &Garage, stick: &Path, name: &str) -> String {
    let page = std::fs::read_to_string(stick.join(format!("{name}.txt"))).unwrap();
    all_in(garage, &stick.join(format!("{name}.bundle"))) + &page
}

#[test]
fn what_stays_here_is_gone_from_wherever_it_hides() {
    let (garage, stick) = garage();
    for (name, without) in [
        ("names", "names"),
        ("phones", "phones"),
        ("notes", "notes"),
        ("three", "names,phones,notes"),
        ("engine", "names,phones,engine"),
        ("shim", "own.shim,names,phones"),
    ] {
        let to = stick.join(format!("{name}.bundle")).display().to_string();
        let told = garage.json(&["handover", "grey", "--yes", "--to", &to, "--without", without]);
        assert_eq!((&told["versions"], &told["runs"]), (&5.into(), &2.into()), "{without}");
        // Who gets it takes in a whole book.
        let other = Garage::new();
        other.ok(&["receive", &to, "--owner", "Mo"]);
        assert_eq!(other.json(&["verify"])["good"], true, "{without}");
        let all = all_of(&garage, &stick, name);
        // What the answer lists is what still goes.
        if without.contains("names") {
            has_not(&all.to_lowercase(), &["quill", "ansel", "crane", "shop@"]);
            assert_eq!(told["names"], serde_json::json!([]), "{without}");
            has(&all, &["owner 1", "owner 2"]);
        } else {
            has(&all, &["Quill's shim", "Ansel Crane"]);
            has(&told["names"].to_string(), &["Ansel Crane", "Quill", "Ro"]);
        }
        if without.contains("phones") {
            has_not(&all, &["555-013", "5550130"]);
            assert_eq!(told["phones"], serde_json::json!([]), "{without}");
            has(&all, &["(number left out)"]);
        } else {
            has(&all, &["555-013-0102"]);
            has(&told["phones"].to_string(), &["555-013-0102"]);
        }
        if without.contains("notes") {
            has_not(
                &all,
                &[
                    "bets",
                    "said lift",
                    "knows better",
                    "broke one",
                    "again",
                    "013-0103",
                    "013-0115",
                    "013-0117",
                    "013-0122",
                ],
            );
            assert_eq!(told["notes"], 0, "{without}");
            has(&all, &["warned of it"]);
        }
        if without.contains("engine") {
            has_not(&all, &["timing", "warned of it"]);
        }
        if without.contains("own.shim") {
            // The page says that it is not in the file.
            has_not(&all, &["\"own.shim\"", "own.shim reading", "[own]", "shim 0.25", "shim (number"]);
        }
    }
}

#[test]
fn what_still_goes_is_listed_before_it_is_written() {
    let (garage, stick) = garage();
    let to = stick.join("x.bundle").display().to_string();
    let said = garage.run(&["handover", "grey", "--yes", "--to", &to, "--without", "phones,notes"]);
    assert_eq!(said.code, 0, "{}", said.both());
    has(&said.stderr, &["would still go", "names 4", "Ansel Crane", "Quill", "hand@localhost", "quill@example.org"]);
    has_not(&said.stderr, &["555-013", "notes and reasons 1"]);
    has(&said.stdout, &["still goes along", "Quill", "left out", "phone numbers"]);
    let listed = garage.ok(&["handover", "grey", "--list", "--without", "names"]);
    has(&listed, &["this would still go along", "notes and reasons", "555-013-0118", "nothing was written"]);
    has_not(&listed, &["Quill", "Ansel"]);
    // All of it, where all of it goes.
    has(
        &garage.ok(&["handover", "grey"]),
        &["Quill", "Ansel Crane", "shop@quill.example.org", "555-013-0119", "555-013-0124"],
    );
}

#[test]
fn a_note_that_says_what_the_record_says_is_no_hindrance() {
    let garage = Garage::with_car();
    garage.ok(&["change", "rear.limiter.height=0.75", "--why", "limiter lowered 0.25 in"]);
    garage.ok(&["change", "engine.timing=34", "--why", "up"]);
    let stick = garage.root().join("stick");
    std::fs::create_dir(&stick).unwrap();
    let to = stick.join("x.bundle").display().to_string();
    garage.ok(&["handover", "grey", "--yes", "--to", &to, "--without", "notes"]);
    let all = all_of(&garage, &stick, "x");
    has(&all, &["limiter lowered 0.25 in (1.00 -> 0.75)"]);
    has_not(&all, &["Why:"]);
}

#[test]
fn bundle_and_page_are_of_one_kind_whenever_it_is_killed() {
    let garage = Garage::with_car();
    let stick = garage.root().join("stick");
    std::fs::create_dir(&stick).unwrap();
    let (bundle, page) = (stick.join("x.bundle"), stick.join("x.txt"));
    let to = bundle.display().to_string();
    let id_of = |tip: &str| garage.git("grey", &["bundle", "list-heads", tip])[..40].to_owned();
    // A link laid in wait for what is written aside leads nowhere.
    std::fs::write(stick.join("victim"), "mine\n").unwrap();
    #[cfg(unix)]
    for aside in ["x.txt.aside", ".x.txt.aside", "x.bundle.aside"] {
        std::os::unix::fs::symlink(stick.join("victim"), stick.join(aside)).unwrap();
    }
    garage.ok(&["handover", "grey", "--yes", "--to", &to]);
    assert_eq!(std::fs::read_to_string(stick.join("victim")).unwrap(), "mine\n");
    let mut ids = std::collections::HashMap::new();
    let mut seen = [0, 0, 0];
    for round in 0..14_u64 {
        // One record more each time: the page of before tells of another book.
        garage.ok(&["change", &format!("engine.timing={}", 20 + round), "--yes"]);
        let tip = garage.git("grey", &["rev-parse", "HEAD"]).trim().to_owned();
        let full = garage.json(&["verify", "grey"])["handover_id"].as_str().unwrap().to_owned();
        let before = bundle.exists().then(|| id_of(&to));
        ids.insert(tip.clone(), full);
        let mut child = garage.start(&["handover", "grey", "--yes", "--to", &to]);
        std::thread::sleep(std::time::Duration::from_millis(60 * round));
        let _ = child.kill();
        child.wait().unwrap();
        let now = id_of(&to);
        assert!(now == tip || Some(&now) == before.as_ref(), "a bundle is there, of before or of now");
        seen[usize::from(now == tip)] += 1;
        let Ok(text) = std::fs::read_to_string(&page) else {
            seen[2] += 1;
            continue;
        };
        if let Some(id) = ids.get(&now) {
            has(&text, &[&id[..32], &id[32..]]);
        }
    }
    assert!(seen[0] > 0 && seen[1] > 0, "killed before and after: {seen:?}");
    // What was left lying aside is in nobody's way.
    garage.ok(&["handover", "grey", "--yes", "--to", &to]);
    let left: Vec<_> =
        std::fs::read_dir(&stick).unwrap().map(|e| e.unwrap().file_name().into_string().unwrap()).collect();
    assert!(left.iter().all(|n| !n.starts_with(".slipbook")), "{left:?}");
    // A page somebody wrote on is theirs.
    std::fs::write(&page, std::fs::read_to_string(&page).unwrap() + "paid in full\n").unwrap();
    has(
        &garage.refused(2, &["handover", "grey", "--yes", "--to", &to]),
        &["x.txt", "written on", "nothing was written"],
    );
    std::fs::write(&page, "a letter about my handover id\n").unwrap();
    has(&garage.refused(2, &["handover", "grey", "--yes", "--to", &to]), &["no page of a handover"]);
}

#[test]
fn what_is_named_in_one_is_meant_and_nothing_private_is_said() {
    let (garage, _) = garage();
    let to = |name: &str| garage.root().join(name).display().to_string();
    let said = garage.ok(&["handover", "grey", "--to", &to("a.bundle"), "--without", "note,name,phone", "--yes"]);
    let plural = garage.ok(&["handover", "grey", "--to", &to("b.bundle"), "--without", "notes,names,phones", "--yes"]);
    let left = |text: &str| text.lines().filter(|l| l.contains("left out")).map(str::to_owned).collect::<Vec<_>>();
    assert_eq!(left(&said), left(&plural));
    assert!(!left(&said).is_empty(), "{said}");
    // Beside an area they are no part of it.
    let with_area = |what: &str, name: &str| {
        garage.ok(&["handover", "grey", "--to", &to(name), "--without", &format!("{what},engine"), "--yes"])
    };
    assert_eq!(left(&with_area("note,name", "d.bundle")), left(&with_area("notes,names", "e.bundle")));
    let refused = garage.refused(2, &["handover", "grey", "--to", &to("c.bundle"), "--without", "private", "--yes"]);
    has(&refused, &["no field of this book is marked private; nothing was written"]);
}
