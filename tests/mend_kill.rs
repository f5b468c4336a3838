//! Killed at any moment of a mend, a late change, an oops: the book is as before or as after, never between.

use slipbook::garage::{
    Book, DayFacts, Fix, Garage, Hand, NewCar, Options, RunWanted, Span, Wanted, carry_out, change, last, new_book,
    plan, run, take_back,
};
use slipbook::schema::{Edit, Num, Scalar, Sheet, Typed, Value};
use slipbook::slip::{Moment, Run};
use slipbook::timeline::Steps;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::Duration;

#[path = "common/killed.rs"]
mod killed;
use killed::{AtWork, Dice, dir_of_child};

const LIMITER: &str = "rear.limiter.height";

fn at(minutes: i64) -> Moment {
    Moment { seconds: 1_777_730_400 + minutes * 60, offset_seconds: -5 * 3600 }
}

fn hand() -> Hand {
    Hand { by: "Ro".to_owned(), now: at(100 * 1440) }
}

fn limiter(text: &str) -> Vec<Edit> {
    let n = Num::parse(text).unwrap();
    vec![Edit { key: LIMITER.to_owned(), slot: None, typed: Typed::Reading(Value::One(Scalar::Num(n))) }]
}

/// A book with a dozen versions and as many runs on two days.
fn season(dir: &Path) -> PathBuf {
    let quick = Options { fsync: false, ..Options::default() };
    let new = NewCar {
        car_text: "format = 1\nname = \"Grey\"\ntemplate = \"leaf-torsion\"\n".to_owned(),
        car_file: "car.toml".to_owned(),
        sheet_text: Some("format = 1\n[rear.limiter]\nkind = \"screw\"\nheight = 2.0\nthreads = 16\n".to_owned()),
        sheet_file: "setup.toml".to_owned(),
        sheet: Sheet::default(),
        at: at(0),
    };
    let (_, book, _) = new_book(&Garage::new(dir.join("garage")), &quick, &hand(), &new).unwrap();
    for i in 0..12 {
        let minute = if i < 6 { 60 + i * 30 } else { 1500 + i * 30 };
        let psi = Num::parse(&format!("{}.{}", 12 + i / 10, i % 10)).unwrap();
        let edits = vec![Edit {
            key: "rear.tire.pressure".to_owned(),
            slot: None,
            typed: Typed::Reading(Value::One(Scalar::Num(psi))),
        }];
        change(&book, &quick, &hand(), &Wanted { edits, at: Some(at(minute)), ..Wanted::default() }).unwrap();
        let mut made = Run::new(at(minute + 10));
        made.numbers.insert("ft60".to_owned(), Num::parse("1.600").unwrap());
        let facts = DayFacts { track: Some("Osier Flats".to_owned()), ..DayFacts::default() };
        run(&book, &quick, &hand(), &RunWanted { run: made, facts, on: None, reading: None, confirmed: true }).unwrap();
    }
    book.store.dir().to_owned()
}

/// What the test program does when a test starts it again: puts the record right without end.
#[test]
fn child_that_is_killed() {
    let Some(dir) = dir_of_child() else { return };
    // With fsync every step is there, and the time between the steps that a kill has to hit.
    let options = Options::default();
    for n in 0_i64.. {
        let book = Book::open(&dir).unwrap();
        let h = book.history().unwrap();
        let v = |i: usize| h.timeline.versions[i].entry.id.clone();
        let here = |n: i64| format!("2.{}", 125 + n.rem_euclid(500) * 5 / 5 % 800);
        let fix = match n % 5 {
            0 => Fix::Value {
                record: v(0),
                edits: limiter(&here(n + i64::from(std::process::id()))),
                span: Span::Stretch,
            },
            1 => Fix::Late(Wanted {
                edits: limiter(&format!("3.{:03}", (n + i64::from(std::process::id())) % 1000)),
                at: Some(at(75 + n % 9)),
                ..Wanted::default()
            }),
            2 => Fix::Clock { day: at(60).race_day(), seconds: if n % 2 == 0 { 60 } else { -60 } },
            3 => Fix::Track {
                name: h.days[0].track.clone(),
                to: Some(format!("Tern Hollow {}", n % 3)),
                elevation_ft: None,
            },
            _ => {
                let taken = last(&book).and_then(|l| take_back(&book, &options, &hand(), &l, None));
                println!("recorded {}", taken.unwrap().id.unwrap());
                continue;
            }
        };
        let plan = match plan(&book, &hand(), &[fix], Steps::KeepSteps) {
            Ok(plan) if !plan.is_empty() => plan,
            _ => continue,
        };
        println!("recorded {}", carry_out(&book, &options, &hand(), &plan).unwrap().id.unwrap());
    }
}

fn git(dir: &Path, args: &[&str]) -> String {
    let mut command = Command::new("git");
    command.current_dir(dir).args(args).env("GIT_CONFIG_NOSYSTEM", "1").env("HOME", dir).stdin(Stdio::null());
    let output = command.output().expect("the tests need git: install it (.ci/run does)");
    assert!(output.status.success(), "git {args:?}: {}", String::from_utf8_lossy(&output.stderr));
    String::from_utf8_lossy(&output.stdout).into_owned()
}

/// The book as it lies there is whole: it reads, every run stands on a sheet of its line, git finds nothing wrong.
fn whole(dir: &Path, round: u64) {
    let book = Book::open(dir).unwrap();
    let h = book.history().unwrap();
    assert_eq!(h.runs.len(), 12, "round {round}");
    for m in &h.runs {
        let v = &h.timeline.versions[m.version];
        assert!(v.number.to_string() == m.run.on && v.blobs.contains(&m.run.setup), "round {round}: {:?}", m.run);
    }
    book.sheets(&h.timeline).unwrap();
    // The tip holds the newest sheet of the line.
    let tip = book.store.file(h.head.unwrap(), "setup.toml").unwrap().unwrap().0.to_string();
    assert_eq!(h.timeline.now().unwrap().sheet_id(), tip, "round {round}");
}

/// Rounds: `SLIPBOOK_KILLS`, else few enough for every test run.
#[test]
fn killed_at_random_while_mending() {
    let rounds = std::env::var("SLIPBOOK_KILLS").ok().and_then(|n| n.parse().ok()).unwrap_or(25);
    let temp = tempfile::tempdir().unwrap();
    let dir = season(temp.path());
    let mut dice = Dice::new();
    for round in 0..rounds {
        let child = AtWork::start(&dir, &[], "recorded ");
        let told: Vec<String> = child
            .kill_after(Duration::from_micros(dice.roll(60_000)))
            .into_iter()
            .filter_map(|l| l.strip_prefix("recorded ").map(str::to_owned))
            .filter(|id| id.len() == 40)
            .collect();
        // As it lies there, before anything is put right.
        whole(&dir, round);
        let store = Book::open(&dir).unwrap().store;
        let log: Vec<String> = store.log(None).unwrap().into_iter().map(|l| l.commit.id.to_string()).collect();
        for id in &told {
            assert!(log.contains(id), "round {round}: {id} was acknowledged and is not there");
        }
        // The next record puts the folder right.
        let quick = Options { fsync: false, ..Options::default() };
        let done = store.record(&quick, &mut |_| Ok(None)).unwrap();
        assert!(done.left_alone.is_empty(), "round {round}: {:?}", done.left_alone);
        assert_eq!(git(&dir, &["status", "--porcelain"]), "", "round {round}");
        if round % 10 == 0 || round + 1 == rounds {
            // Killed before the branch was moved, objects lie there that nothing names: gc's to sweep, and no damage.
            let fsck = ["fsck", "--full", "--strict", "--no-progress", "--no-dangling"];
            assert_eq!(git(&dir, &fsck), "");
        }
        whole(&dir, round);
    }
}
