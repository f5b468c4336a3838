//! After every command of a generated day stock git agrees: nothing wrong in the repository, nothing to say about the folder,
//! and the log has grown by the records that were made and nothing else.

mod common;

use common::Garage;
use proptest::prelude::*;

/// One thing a racer does.
#[derive(Debug, Clone)]
enum Does {
    /// A command line of one record.
    Records(Vec<String>),
    /// A table of runs, some with a limiter height (in sixteenths).
    Imports(Vec<(u16, Option<u8>)>),
    /// The sheet edited by hand, then saved.
    Edits(Edit),
    /// A day file edited by hand, then saved.
    EditsDay,
    /// Another book.
    Opens(&'static str),
    /// A reading command.
    Reads(&'static [&'static str]),
}

#[derive(Debug, Clone)]
enum Edit {
    Rpm(u16),
    Comment(u16),
    Note(String),
}

fn line(words: &[&str]) -> Does {
    Does::Records(words.iter().map(|w| (*w).to_owned()).collect())
}

fn change() -> impl Strategy<Value = Does> {
    let pressure = (18..60u8, 18..60u8).prop_map(|(l, r)| {
        line(&["change", &format!("rear.tire.pressure={}/{}", f64::from(l) / 4.0, f64::from(r) / 4.0)])
    });
    let limiter = (1..9u8, any::<bool>())
        .prop_map(|(n, up)| line(&["change", "limiter", if up { "up" } else { "down" }, &format!("{n}/16")]));
    let shocks = (1..4u8, any::<bool>())
        .prop_map(|(n, up)| line(&["change", "rear", "shocks", if up { "looser" } else { "tighter" }, &n.to_string()]));
    let several = (40..60u16, 28..38u8, "[ -~]{0,30}").prop_map(|(rpm, timing, why)| {
        line(&[
            "change",
            &format!("--why={why}"),
            &format!("launch.rpm={}", rpm * 100),
            &format!("engine.timing={timing}"),
            "rear.tire.name=pair B",
        ])
    });
    let measured = (0..20u8).prop_map(|n| line(&["change", &format!("rear.limiter.gap={}", f64::from(n) / 8.0)]));
    let taken = (0..20u8, any::<bool>()).prop_map(|(n, sure)| {
        line(&["measure", "rear", "height", &format!("{}{}", 24.0 + f64::from(n) / 8.0, if sure { "" } else { "?" })])
    });
    let note = any::<String>().prop_map(|t| line(&["change", &format!("notes={}", t.replace('\0', ""))]));
    let off = prop::sample::select(vec![
        "rear.limiter.gap=-",
        "rear.limiter.kind=none",
        "rear.limiter.kind=screw",
        "rear.limiter.height=1",
    ])
    .prop_map(|w| line(&["change", w]));
    prop_oneof![pressure, limiter, shocks, several, measured, taken, note, off]
}

fn run() -> impl Strategy<Value = Does> {
    let slip = (
        1400..1800u16,
        prop::sample::select(vec!["", "l", "r hook", "lifted at 60", "spun at the hit", "straight as a string"]),
    );
    let track = prop::sample::select(vec!["", "Osier Flats", "Heron Bend", "Alder Reach"]);
    (slip, track, any::<bool>()).prop_map(|((ft60, words), track, air)| {
        let mut args = vec!["run".to_owned(), "--yes".to_owned(), format!("60={ft60}")];
        args.extend(words.split_whitespace().map(str::to_owned));
        if !track.is_empty() {
            args.extend(["--track".to_owned(), track.to_owned()]);
        }
        if air {
            args.extend(["--air".to_owned(), "84F 52% 29.42 station".to_owned()]);
        }
        Does::Records(args)
    })
}

fn does() -> impl Strategy<Value = Does> {
    let revert = prop::sample::select(vec![
        &["revert", "v1"][..],
        &["revert", "previous"],
        &["revert", "v2", "--engine"],
        &["revert", "--last-good"],
    ]);
    let edit = prop_oneof![
        (40..60u16).prop_map(|n| Edit::Rpm(n * 100 + 25)),
        any::<u16>().prop_map(Edit::Comment),
        "[a-z\"\\\\\u{e4}-\u{ff} ]{1,20}".prop_map(Edit::Note),
    ];
    let rows = prop::collection::vec((1400..1800u16, prop::option::of(8..40u8)), 1..4);
    let reads: Vec<&'static [&'static str]> = vec![
        &["history"],
        &["diff", "v1"],
        &["blame"],
        &["runs", "--all"],
        &["sheet"],
        &["measure"],
        &["cars"],
        &["revert", "v1", "--dry-run"],
        &["change", "--dry-run", "timing", "29"],
    ];
    prop_oneof![
        6 => change(),
        5 => run(),
        2 => revert.prop_map(line),
        2 => rows.prop_map(Does::Imports),
        2 => edit.prop_map(Does::Edits),
        1 => Just(Does::EditsDay),
        1 => prop::sample::select(vec!["Wren", "Grebe"]).prop_map(Does::Opens),
        1 => prop::sample::select(reads).prop_map(Does::Reads),
    ]
}

/// The clock: minutes after the first morning.
fn moment(minutes: u32) -> jiff::civil::DateTime {
    let start = jiff::civil::date(2026, 8, 1).at(10, 0, 0, 0);
    start.checked_add(jiff::SignedDuration::from_mins(i64::from(minutes))).expect("a time")
}

fn clock(minutes: u32) -> String {
    moment(minutes).to_string()
}

/// Does it; how many records of `grey` it should have made, and what it was.
fn carry_out(garage: &Garage, what: &Does, minutes: u32) -> (usize, String) {
    let told = |args: &[&str]| {
        let output = garage.run(args);
        assert!([0, 2, 3].contains(&output.code), "{args:?}: {output:?}");
        assert!(!output.stderr.contains("panicked"), "{args:?}: {output:?}");
        // Already on the last good setup is an answer, and no record.
        let made = output.code == 0 && !output.stdout.contains("nothing to turn back");
        (usize::from(made), format!("{} -> {}", args.join(" "), output.code))
    };
    match what {
        Does::Records(words) => {
            let mut words: Vec<&str> = words.iter().map(String::as_str).collect();
            words.extend(["--car", "grey"]);
            // Options stand before the words of a change.
            words.rotate_right(2);
            told(&words)
        }
        Does::Imports(rows) => {
            let mut table = "date,time,track,ft60,rear.limiter.height\n".to_owned();
            for (i, (ft60, height)) in rows.iter().enumerate() {
                let at = moment(minutes + i as u32);
                // A table's date is that of the race day, which lasts until 06:00.
                let date = if at.hour() < 6 { at.date().yesterday().expect("a date") } else { at.date() };
                let time = at.time().strftime("%H:%M");
                let height = height.map(|h| (f64::from(h) / 16.0).to_string()).unwrap_or_default();
                table.push_str(&format!("{date},{time},Osier Flats,{},{height}\n", f64::from(*ft60) / 1000.0));
            }
            let path = garage.file("rows.csv", &table);
            garage.at(&clock(minutes + rows.len() as u32));
            let args = ["--car", "grey", "import", &path, "--yes", "--format", "json"];
            let output = garage.run(&args);
            assert!([0, 3].contains(&output.code), "{table}{output:?}");
            let json: serde_json::Value = serde_json::from_str(&output.stdout).unwrap_or_default();
            let count = |key: &str| json["imported"][key].as_u64().unwrap_or(0) as usize;
            if output.code == 0 {
                assert_eq!(count("runs"), rows.len(), "{table}{output:?}");
            }
            (count("runs") + count("versions") + count("measurements"), format!("import\n{table} -> {}", output.code))
        }
        Does::Edits(edit) => {
            let old = garage.read("grey", "setup.toml");
            let new = edited(&old, edit);
            if new == old {
                return (0, "no edit".to_owned());
            }
            garage.edit("grey", "setup.toml", |_| new);
            let refused = garage.run(&["--car", "grey", "change", "engine.timing=27"]);
            assert_eq!(refused.code, 3, "{refused:?}");
            let (made, what) = told(&["--car", "grey", "sheet", "--save", "--yes"]);
            assert_eq!(made, 1, "{what}: {edit:?}");
            (1, format!("{what}: {edit:?}"))
        }
        Does::EditsDay => {
            let days = garage.book("grey").join("days/2026");
            let Some(day) = std::fs::read_dir(&days).ok().and_then(|d| d.flatten().map(|e| e.file_name()).max()) else {
                return (0, "no day".to_owned());
            };
            let path = format!("days/2026/{}", day.to_string_lossy());
            garage.edit("grey", &path, |t| format!("{t}# looked at {minutes}\n"));
            told(&["--car", "grey", "sheet", "--save"])
        }
        Does::Opens(name) => {
            let first = !garage.book(&name.to_lowercase()).exists();
            let (made, what) = told(&["new", name, "--template", "ladder-strut", "rear.ladder.front_hole=2"]);
            assert_eq!(made, usize::from(first), "{what}");
            garage.tidy(&name.to_lowercase(), &what);
            (0, what)
        }
        Does::Reads(args) => {
            let (_, what) = told(&[&["--car", "grey"], *args].concat());
            (0, what)
        }
    }
}

fn edited(old: &str, edit: &Edit) -> String {
    match edit {
        Edit::Rpm(rpm) => {
            let swap = |l: &str| if l.starts_with("rpm = ") { format!("rpm = {rpm} # rpm") } else { l.to_owned() };
            old.lines().map(|l| swap(l) + "\n").collect()
        }
        Edit::Comment(n) => format!("{old}# {n}\n"),
        Edit::Note(text) if !old.contains("\nnotes") => {
            let text = text.replace('\\', "\\\\").replace('"', "\\\"");
            old.replacen("format = 1\n", &format!("format = 1\nnotes = \"{text}.\"\n"), 1)
        }
        Edit::Note(_) => format!("{old}# a note more\n"),
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 12, failure_persistence: None, max_shrink_iters: 24, ..ProptestConfig::default() })]

    #[test]
    fn after_every_command(day in prop::collection::vec((does(), 1..900u32), 8..12)) {
        let garage = Garage::with_car();
        garage.ok(&["--car", "grey", "run", "--track", "Osier Flats", "--at", "2026-08-01 09:30", "60=1.65"]);
        let mut minutes = 0;
        let mut records = garage.log("grey").len();
        for (what, later) in &day {
            minutes += later + 10;
            garage.at(&clock(minutes));
            let (made, told) = carry_out(&garage, what, minutes);
            garage.tidy("grey", &told);
            let log = garage.log("grey");
            prop_assert_eq!(log.len(), records + made, "records after: {}", told);
            records = log.len();
            let by_git = garage.git("grey", &["log", "--format=%s"]);
            let by_git: Vec<&str> = by_git.lines().collect();
            prop_assert_eq!(&by_git, &log, "stock git reads the same log after: {}", told);
            for subject in by_git {
                prop_assert!(subject.chars().count() <= 72 && !subject.chars().any(char::is_control) && !subject.is_empty(), "{:?} after: {}", subject, told);
            }
        }
        // A fresh clone by stock git holds the same book.
        let copy = garage.book("copy").display().to_string();
        garage.git("grey", &["clone", "-q", ".", &copy]);
        prop_assert_eq!(garage.json(&["--car", "grey", "history", "--all"])["versions"].clone(), garage.json(&["--car", "copy", "history", "--all"])["versions"].clone());
        prop_assert_eq!(garage.json(&["--car", "grey", "runs", "--all"])["runs"].clone(), garage.json(&["--car", "copy", "runs", "--all"])["runs"].clone());
    }
}

/// Stock git's housekeeping takes nothing away.
#[test]
fn after_garbage_collection() {
    let garage = Garage::with_car();
    garage.ok(&["run", "--track", "Osier Flats", "60=1.65"]);
    garage.ok(&["change", "limiter down 1/4"]);
    garage.ok(&["run", "60=1.60"]);
    let before = (garage.ok(&["history"]), garage.ok(&["runs"]));
    garage.git("grey", &["gc", "-q", "--prune=now"]);
    assert_eq!(before, (garage.ok(&["history"]), garage.ok(&["runs"])));
    garage.ok(&["change", "limiter up 1/8"]);
    garage.ok(&["run", "60=1.61"]);
    garage.tidy("grey", "records after gc");
}

/// Two that record at once both succeed.
#[test]
fn two_at_once() {
    let garage = Garage::with_car();
    garage.ok(&["run", "--track", "Osier Flats", "60=1.65"]);
    let garage = &garage;
    std::thread::scope(|scope| {
        for who in 0..2u16 {
            scope.spawn(move || {
                for n in 0..6 {
                    if n % 2 == 0 {
                        garage.ok(&["run", &format!("60={}", 1600 + who * 10 + n)]);
                    } else {
                        garage.ok(&["change", &format!("launch.rpm={}", 4000 + who * 100 + n)]);
                    }
                }
            });
        }
    });
    assert_eq!(garage.log("grey").len(), 2 + 12);
    assert_eq!(garage.json(&["runs"])["runs"].as_array().map(Vec::len), Some(7));
    garage.tidy("grey", "two at once");
}
