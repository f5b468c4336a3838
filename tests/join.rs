//! Two laptops on generated seasons: whichever joins, it is as if all had been written in one book; killed, it is the old
//! book or the joined one.

use proptest::prelude::*;
use slipbook::garage::{
    Book, DayFacts, Error, Fix, Form, Garage, Hand, How, JoinPlan, JoinWanted, Limits, NewCar, Options, Question,
    RunWanted, Span, Wanted, Which, carry_out, carry_out_join, change, copy, copy_target, is_late, new_book, now, plan,
    plan_join, run, verify,
};
use slipbook::schema::{Edit, Num, Scalar, Sheet, Typed, Value};
use slipbook::slip::{Moment, Run};
use slipbook::timeline::Steps;
use std::collections::BTreeMap;
use std::path::Path;
use std::time::Duration;

#[path = "common/killed.rs"]
mod killed;
use killed::{AtWork, dir_of_child};

/// 2026-05-02 09:00 in UTC-5.
const START: i64 = 1_777_730_400;

fn at(minutes: i64) -> Moment {
    Moment { seconds: START + minutes * 60, offset_seconds: -5 * 3600 }
}

fn thousandths(n: i64) -> Num {
    Num::parse(&format!("{}{}.{:03}", if n < 0 { "-" } else { "" }, n.abs() / 1000, n.abs() % 1000)).unwrap()
}

fn edit(key: &str, typed: Typed) -> Edit {
    Edit { key: key.to_owned(), slot: None, typed }
}

fn reading(key: &str, n: i64) -> Edit {
    edit(key, Typed::Reading(Value::One(Scalar::Num(thousandths(n)))))
}

fn options() -> Options {
    Options { fsync: false, ..Options::default() }
}

fn hand(by: &str, minute: i64) -> Hand {
    Hand { by: by.to_owned(), now: at(minute) }
}

/// A garage with one book whose first sheet sets the limiter and the pressures.
fn book(dir: &Path) -> Book {
    let sheet = "format = 1\n[rear.limiter]\nkind = \"screw\"\nheight = 8.0\nthreads = 16\ngap = 0.5\n[rear.tire]\npressure = 14\n";
    let new = NewCar {
        car_text: "format = 1\nname = \"Grey\"\ntemplate = \"leaf-torsion\"\n".to_owned(),
        car_file: "car.toml".to_owned(),
        sheet_text: Some(sheet.to_owned()),
        sheet_file: "setup.toml".to_owned(),
        sheet: Sheet::default(),
        at: at(0),
    };
    new_book(&Garage::new(dir.to_owned()), &options(), &hand("Ro", 1), &new).unwrap().1
}

/// A copy of a book in a garage of its own.
fn copied(book: &Book, dir: &Path) -> Book {
    std::fs::create_dir_all(dir).unwrap();
    let target = copy_target(&Garage::new(dir.join("none")), book, dir, Some(Form::Folder)).unwrap();
    let made = copy(&Garage::new(dir.join("none")), book, &options(), &hand("Ro", 2), target, &|_| {}).unwrap();
    Book::open(&made.target.path).unwrap()
}

/// Whose laptop something is written on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum On {
    Before,
    Ro,
    Sal,
}

#[derive(Debug, Clone)]
enum What {
    Change(Vec<Edit>),
    Run,
}

#[derive(Debug, Clone)]
struct Told {
    on: On,
    minute: i64,
    what: What,
}

fn tell(book: &Book, told: &Told, by: &str) -> Result<(), Error> {
    // Each is written down a minute after it happened, or at the end of the season.
    let hand = hand(by, told.minute + 1);
    match &told.what {
        What::Change(edits) => {
            let wanted = Wanted { edits: edits.clone(), at: Some(at(told.minute)), ..Wanted::default() };
            let on = now(&book.store, &book.schema, book.store.head()?)?;
            if is_late(book, &on, at(told.minute))? {
                let plan = plan(book, &hand, &[Fix::Late(wanted)], Steps::KeepSteps)?;
                carry_out(book, &options(), &hand, &plan)?;
            } else {
                change(book, &options(), &hand, &wanted)?;
            }
        }
        What::Run => {
            let mut made = Run::new(at(told.minute));
            made.numbers.insert("ft60".to_owned(), thousandths(1600 + told.minute % 50));
            let facts = DayFacts { track: Some("Osier Flats".to_owned()), ..DayFacts::default() };
            run(book, &options(), &hand, &RunWanted { run: made, facts, on: None, reading: None, confirmed: true })?;
        }
    }
    Ok(())
}

/// Events at different minutes, each on one of the laptops or before there were two.
fn season() -> impl Strategy<Value = Vec<Told>> {
    let event = prop_oneof![
        3 => (0..3_usize, any::<bool>(), 1..4_i64),
        2 => Just((9, false, 0)),
    ];
    (prop::collection::vec((event, any::<bool>(), 1..300_i64), 3..11), 0..4_usize).prop_map(|(events, before)| {
        let mut minute = 10;
        let mut out = Vec::new();
        for (i, ((what, is_step, n), ro, gap)) in events.into_iter().enumerate() {
            minute += gap;
            let unique = i as i64 + 1;
            let key = ["rear.limiter.height", "rear.tire.pressure", "rear.limiter.gap"][what.min(2)];
            let what = match (what, is_step) {
                (9, _) => What::Run,
                (2, _) => What::Change(vec![reading(key, 500 + 10 * unique)]),
                (_, true) => What::Change(vec![edit(key, Typed::Step(thousandths(-100 * n)))]),
                (0, false) => What::Change(vec![reading(key, 8000 + 125 * n + unique)]),
                (_, false) => What::Change(vec![reading(key, 14_000 + 125 * n + unique)]),
            };
            let on = match (i < before, ro) {
                (true, _) => On::Before,
                (false, true) => On::Ro,
                (false, false) => On::Sal,
            };
            out.push(Told { on, minute, what });
        }
        out
    })
}

/// Puts the record of a minute right, in one of four ways.
fn put_right(book: &Book, minute: i64, kind: u8, by: &str) {
    let h = book.history().unwrap();
    let all = h.timeline.versions.iter().map(|v| &v.entry).chain(h.timeline.remarks.iter().map(|r| &r.entry));
    let entry = all.into_iter().find(|e| e.at == at(minute)).expect("it is on record").clone();
    let record = entry.id.clone();
    let fix = match kind {
        0 => Fix::Why { record, why: Some(format!("asked {minute}")) },
        1 => Fix::Value { record, edits: vec![reading("rear.limiter.height", 8_500)], span: Span::Stretch },
        2 => Fix::Time { record, at: Moment { seconds: entry.at.seconds + 25, ..entry.at }, since: None },
        3 => Fix::Never { record },
        _ => return,
    };
    let hand = hand(by, 90_000);
    let plan = plan(book, &hand, &[fix], Steps::KeepSteps).unwrap();
    carry_out(book, &options(), &hand, &plan).unwrap();
}

/// What a racer sees of a book, numbers and ids aside.
#[derive(Debug, PartialEq)]
struct View {
    versions: Vec<(Moment, Vec<String>, Option<String>, Sheet)>,
    runs: Vec<(Moment, Moment, Sheet)>,
    remarks: Vec<(Moment, Vec<String>)>,
}

fn view(book: &Book) -> View {
    let h = book.history().unwrap();
    let sheets = book.sheets(&h.timeline).unwrap();
    let sheet = |id: &str| sheets.get(id).cloned().unwrap_or_else(|| panic!("{id} is no sheet of the live line"));
    for m in &h.runs {
        let v = &h.timeline.versions[m.version];
        assert_eq!(v.number.to_string(), m.run.on, "the run of {:?} names another version", m.run.at);
        assert!(v.blobs.contains(&m.run.setup), "{} does not hold the sheet of its run", v.number);
    }
    let numbers: std::collections::BTreeSet<_> = h.timeline.versions.iter().map(|v| v.number.clone()).collect();
    assert_eq!(numbers.len(), h.timeline.versions.len(), "no number is there twice");
    View {
        versions: h
            .timeline
            .versions
            .iter()
            .map(|v| (v.entry.at, v.entry.words.clone(), v.entry.why.clone(), sheet(v.sheet_id())))
            .collect(),
        runs: h.runs.iter().map(|m| (m.run.at, h.timeline.versions[m.version].entry.at, sheet(&m.run.setup))).collect(),
        remarks: h.timeline.remarks.iter().map(|r| (r.entry.at, r.entry.words.clone())).collect(),
    }
}

/// Ids of all runs.
fn runs(book: &Book) -> BTreeMap<String, Moment> {
    book.history().unwrap().runs.iter().map(|m| (m.run.id.clone(), m.run.at)).collect()
}

fn nobody(question: &Question) -> Option<Which> {
    panic!("nothing is to be asked: {question}")
}

fn planned(book: &Book, other: &Book, aside: &Path, steps: Steps) -> Result<JoinPlan, Error> {
    std::fs::create_dir_all(aside).unwrap();
    let wanted = JoinWanted {
        source: other.store.dir(),
        called: "the other",
        same_car: false,
        steps,
        decide: &nobody,
        as_it_is: false,
        limits: Limits::default(),
        met: &|_| {},
        tell: &|_| {},
    };
    plan_join(&Garage::new(aside.to_owned()), book, &wanted)
}

/// Joins, by a hand and at a time that must not matter; how the two stood.
fn joined(book: &Book, other: &Book, aside: &Path, by: &str) -> How {
    let plan = planned(book, other, aside, Steps::KeepSteps).unwrap();
    carry_out_join(book, &options(), &hand(by, 99_999), &plan, &|_| {}).unwrap();
    plan.how
}

/// `PROPTEST_CASES` for more.
fn cases() -> u32 {
    std::env::var("PROPTEST_CASES").ok().and_then(|n| n.parse().ok()).unwrap_or(12)
}

proptest! {
    #![proptest_config(ProptestConfig { cases: cases(), failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn it_is_as_if_all_had_been_written_in_one_book(
        season in season(),
        mends in prop::collection::vec((any::<bool>(), 0..5_u8), 4),
    ) {
        let temp = tempfile::tempdir().unwrap();
        let dir = |name: &str| temp.path().join(name);
        let ro = book(&dir("ro"));
        for told in season.iter().filter(|t| t.on == On::Before) {
            tell(&ro, told, "Ro").unwrap();
        }
        let one = copied(&ro, &dir("one"));
        let sal = copied(&ro, &dir("sal"));
        for told in &season {
            match told.on {
                On::Before => {}
                On::Ro => tell(&ro, told, "Ro").unwrap(),
                On::Sal => tell(&sal, told, "Sal").unwrap(),
            }
            if told.on != On::Before {
                tell(&one, told, "Ro").unwrap();
            }
        }
        // What both had is put right on one of the two, each record on one only.
        let shared = season.iter().filter(|t| t.on == On::Before && matches!(t.what, What::Change(_)));
        let mut mended = [false, false];
        for (told, (on_ro, kind)) in shared.zip(mends) {
            let (laptop, by) = if on_ro { (&ro, "Ro") } else { (&sal, "Sal") };
            // A value may go back to a record before: one such mend is enough to tell.
            let kind = if kind == 1 && mended.contains(&true) { 0 } else { kind };
            mended[usize::from(!on_ro)] |= kind < 4;
            for book in [laptop, &one] {
                put_right(book, told.minute, kind, by);
            }
        }
        let all: BTreeMap<String, Moment> = runs(&ro).into_iter().chain(runs(&sal)).collect();
        let (ro_alone, sal_alone) = (copied(&ro, &dir("ro-alone")), copied(&sal, &dir("sal-alone")));

        let how = joined(&ro, &sal_alone, &dir("aside"), "Ro");
        joined(&sal, &ro_alone, &dir("aside"), "Sal");
        let wrote = |on: On, mended: bool| mended || season.iter().any(|t| t.on == on);
        let apart = wrote(On::Ro, mended[0]) && wrote(On::Sal, mended[1]);
        prop_assert_eq!(how == How::Joined, apart, "{:?}", how);
        if apart || how == How::Ahead {
            prop_assert_eq!(view(&ro), view(&one));
            prop_assert_eq!(runs(&ro), all.clone());
        }
        prop_assert_eq!(ro.store.head().unwrap(), sal.store.head().unwrap(), "whichever joins");
        prop_assert_eq!(view(&ro), view(&sal));
        // Joining again, or joining what was joined already, changes nothing.
        let tip = ro.store.head().unwrap();
        prop_assert_eq!(joined(&ro, &sal, &dir("aside"), "Ro"), How::Same);
        for alone in [&ro_alone, &sal_alone] {
            let how = joined(&ro, alone, &dir("aside"), "Ro");
            prop_assert!(matches!(how, How::Had | How::Same), "{:?}", how);
        }
        prop_assert_eq!(tip, ro.store.head().unwrap());

        // Both go on, and join once more.
        let last = season.iter().map(|t| t.minute).max().unwrap_or(0);
        for (book, by, n) in [(&ro, "Ro", 1), (&sal, "Sal", 2)] {
            let what = What::Change(vec![reading("rear.limiter.height", 9000 + n)]);
            tell(book, &Told { on: On::Ro, minute: last + 10 * n, what }, by).unwrap();
            tell(book, &Told { on: On::Ro, minute: last + 10 * n + 5, what: What::Run }, by).unwrap();
        }
        let ro_alone = copied(&ro, &dir("ro-again"));
        prop_assert_eq!(joined(&ro, &sal, &dir("aside"), "Ro"), How::Joined);
        prop_assert_eq!(joined(&sal, &ro_alone, &dir("aside"), "Sal"), How::Joined);
        prop_assert_eq!(ro.store.head().unwrap(), sal.store.head().unwrap());
        prop_assert_eq!(view(&ro), view(&sal));
        prop_assert_eq!(runs(&ro).len(), all.len() + 2);
        // Nothing of all that is called a stranger's.
        for book in [&ro, &one] {
            prop_assert_eq!(verify(book.store.dir(), None, &|_| {}).unwrap().not_ours, vec![]);
        }
    }
}

/// A step that starts from another value is asked about, and said with the version's name.
#[test]
fn a_step_from_another_value_is_asked_about() {
    let temp = tempfile::tempdir().unwrap();
    let ro = book(&temp.path().join("ro"));
    let sal = copied(&ro, &temp.path().join("sal"));
    let change =
        |minute, typed| Told { on: On::Ro, minute, what: What::Change(vec![edit("rear.limiter.height", typed)]) };
    tell(&ro, &change(10, Typed::Reading(Value::One(Scalar::Num(thousandths(7000))))), "Ro").unwrap();
    tell(&sal, &change(20, Typed::Step(thousandths(-250))), "Sal").unwrap();
    let aside = temp.path().join("aside");
    match planned(&ro, &sal, &aside, Steps::Ask) {
        Err(Error::Unconfirmed { message, .. }) => {
            let said = "was typed as a step, 8.00 in -> 7.75 in; with that step it would be 7.00 in -> 6.75 in";
            assert!(message.contains(said), "{message}");
        }
        Err(other) => panic!("{other}"),
        Ok(_) => panic!("it was not asked"),
    }
    let height = |steps| {
        let plan = planned(&ro, &sal, &aside, steps).unwrap();
        let copy = copied(&ro, &temp.path().join(format!("{steps:?}")));
        carry_out_join(&copy, &options(), &hand("Ro", 50), &plan, &|_| {}).unwrap();
        let h = copy.history().unwrap();
        copy.sheet(h.timeline.now().unwrap()).unwrap().num("rear.limiter.height").unwrap().to_string()
    };
    assert_eq!(height(Steps::KeepSteps), "6.75");
    assert_eq!(height(Steps::KeepReadings), "7.75");
}

/// Two laptops with a season each, for the killing.
fn pair(dir: &Path) -> (Book, Book) {
    let ro = book(&dir.join("ro"));
    let sal = copied(&ro, &dir.join("sal"));
    for i in 0..8_i64 {
        let what = What::Change(vec![reading("rear.limiter.height", 7000 + i)]);
        let (book, by) = if i % 2 == 0 { (&ro, "Ro") } else { (&sal, "Sal") };
        tell(book, &Told { on: On::Ro, minute: 30 * i + 10, what }, by).unwrap();
        tell(book, &Told { on: On::Ro, minute: 30 * i + 20, what: What::Run }, by).unwrap();
    }
    (ro, sal)
}

/// What the test program does when a test starts it again: joins two books.
#[test]
fn child_that_is_killed() {
    let Some(dir) = dir_of_child() else { return };
    let open = |name: &str| Book::open(&dir.join(name).join("grey")).unwrap();
    let (ro, sal) = (open("ro"), open("sal"));
    let plan = planned(&ro, &sal, &dir.join("ro"), Steps::KeepSteps).unwrap();
    println!("begun");
    carry_out_join(&ro, &Options::default(), &hand("Ro", 99_999), &plan, &|_| {}).unwrap();
    println!("done");
}

fn copy_files(from: &Path, to: &Path) {
    std::fs::create_dir_all(to).unwrap();
    for entry in std::fs::read_dir(from).unwrap().map(Result::unwrap) {
        let path = to.join(entry.file_name());
        if entry.file_type().unwrap().is_dir() {
            copy_files(&entry.path(), &path);
        } else {
            std::fs::copy(entry.path(), path).unwrap();
        }
    }
}

#[test]
fn killed_while_joining_it_is_the_old_book_or_the_joined_one() {
    let rounds = std::env::var("SLIPBOOK_KILLS").ok().and_then(|n| n.parse().ok()).unwrap_or(10);
    let temp = tempfile::tempdir().unwrap();
    let first = temp.path().join("first");
    let (ro, sal) = pair(&first);
    let old = ro.store.head().unwrap();
    let alone = copied(&ro, &temp.path().join("alone"));
    joined(&alone, &sal, &temp.path().join("aside"), "Ro");
    let wanted = (alone.store.head().unwrap(), view(&alone));
    let mut seen = [0, 0];
    for round in 0..rounds {
        let dir = temp.path().join(format!("round-{round}"));
        copy_files(&first, &dir);
        let child = AtWork::start(&dir, &[], "begun");
        let told = child.kill_after(Duration::from_micros(7_001 * round % 90_000));
        let said_done = told.iter().any(|l| l.contains("done"));
        let book = Book::open(&dir.join("ro/grey")).unwrap();
        let head = book.store.head().unwrap();
        assert!(head == old || head == wanted.0, "round {round}: {head:?} is neither");
        assert!(!said_done || head == wanted.0, "round {round}: said to be done");
        seen[usize::from(head == wanted.0)] += 1;
        view(&book);
        // Joined again, it is the joined one and nothing is left over.
        let other = Book::open(&dir.join("sal/grey")).unwrap();
        joined(&book, &other, &dir.join("ro"), "Ro");
        book.store.record(&options(), &mut |_| Ok(None)).unwrap();
        assert_eq!((book.store.head().unwrap(), view(&book)), wanted, "round {round}");
        assert_eq!(book.store.work_state().unwrap(), [], "round {round}");
        std::fs::remove_dir_all(&dir).unwrap();
    }
    assert!(seen[0] > 0, "no kill came before the record: {seen:?}");
}
