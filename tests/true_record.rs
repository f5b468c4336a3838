//! The timeline on generated seasons: whatever the order of entering, and whatever was put right in between.

use proptest::prelude::*;
use proptest::sample::Index;
use slipbook::garage::{
    Book, DayFacts, Error, Fix, Garage, Hand, History, NewCar, Options, RunWanted, Span, Wanted, carry_out, change,
    is_late, last, new_book, now, plan, run, take_back,
};
use slipbook::schema::{Edit, Mark, Num, Scalar, Sheet, Typed, Value};
use slipbook::slip::{Moment, Run};
use slipbook::timeline::Steps;

const LIMITER: &str = "rear.limiter.height";
const PRESSURE: &str = "rear.tire.pressure";
const GAP: &str = "rear.limiter.gap";

/// 2026-05-02 09:00 in UTC-5.
const START: i64 = 1_777_730_400;

fn at(minutes: i64) -> Moment {
    Moment { seconds: START + minutes * 60, offset_seconds: -5 * 3600 }
}

fn edit(key: &str, typed: Typed) -> Edit {
    Edit { key: key.to_owned(), slot: None, typed }
}

fn thousandths(n: i64) -> Num {
    Num::parse(&format!("{}{}.{:03}", if n < 0 { "-" } else { "" }, n.abs() / 1000, n.abs() % 1000)).unwrap()
}

fn reading(key: &str, n: i64) -> Edit {
    edit(key, Typed::Reading(Value::One(Scalar::Num(thousandths(n)))))
}

fn options() -> Options {
    Options { fsync: false, ..Options::default() }
}

fn hand() -> Hand {
    Hand { by: "Ro".to_owned(), now: at(100 * 1440) }
}

/// A garage with one book whose first sheet sets the limiter and the pressures.
fn book() -> (tempfile::TempDir, Book) {
    let temp = tempfile::tempdir().unwrap();
    let car = "format = 1\nname = \"Grey\"\ntemplate = \"leaf-torsion\"\n";
    let sheet = "format = 1\n[rear.limiter]\nkind = \"screw\"\nheight = 2.0\nthreads = 16\ngap = 0.5\n[rear.tire]\npressure = 14\n";
    let new = NewCar {
        car_text: car.to_owned(),
        car_file: "car.toml".to_owned(),
        sheet_text: Some(sheet.to_owned()),
        sheet_file: "setup.toml".to_owned(),
        sheet: Sheet::default(),
        at: at(0),
    };
    let (_, book, _) = new_book(&Garage::new(temp.path().join("garage")), &options(), &hand(), &new).unwrap();
    (temp, book)
}

/// Something told of the car, or a run.
#[derive(Debug, Clone)]
enum Told {
    Change(i64, Vec<Edit>),
    Run(i64),
}

fn tell(book: &Book, told: &Told) -> Result<(), Error> {
    match told {
        Told::Change(minute, edits) => {
            let wanted = Wanted { edits: edits.clone(), at: Some(at(*minute)), ..Wanted::default() };
            let on = now(&book.store, &book.schema, book.store.head()?)?;
            if is_late(book, &on, at(*minute))? {
                let plan = plan(book, &hand(), &[Fix::Late(wanted)], Steps::KeepSteps)?;
                carry_out(book, &options(), &hand(), &plan)?;
            } else {
                change(book, &options(), &hand(), &wanted)?;
            }
        }
        Told::Run(minute) => {
            let mut made = Run::new(at(*minute));
            made.numbers.insert("ft60".to_owned(), thousandths(1600 + minute % 50));
            let facts = DayFacts { track: Some("Osier Flats".to_owned()), ..DayFacts::default() };
            let wanted = RunWanted { run: made, facts, on: None, reading: None, confirmed: true };
            run(book, &options(), &hand(), &wanted)?;
        }
    }
    Ok(())
}

/// Events at different minutes. No reading meets its own value: each has thousandths of its own.
fn season() -> impl Strategy<Value = Vec<Told>> {
    let event = prop_oneof![
        3 => (0..3_usize, any::<bool>(), 1..4_i64).prop_map(|(what, is_step, n)| (what, is_step, n)),
        2 => Just((9, false, 0)),
    ];
    prop::collection::vec((event, 1..200_i64), 4..12).prop_map(|events| {
        let mut minute = 10;
        let mut out = Vec::new();
        for (i, ((what, is_step, n), gap)) in events.into_iter().enumerate() {
            minute += gap;
            let key = [LIMITER, PRESSURE, GAP][what.min(2)];
            let unique = i as i64 + 1;
            out.push(match (what, is_step) {
                (9, _) => Told::Run(minute),
                (2, _) => Told::Change(minute, vec![reading(GAP, 500 + 10 * unique)]),
                (_, true) => Told::Change(minute, vec![edit(key, Typed::Step(thousandths(-100 * n)))]),
                (0, false) => Told::Change(minute, vec![reading(LIMITER, 2000 + 125 * n + unique)]),
                (_, false) => Told::Change(minute, vec![reading(PRESSURE, 14_000 + 125 * n + unique)]),
            });
        }
        out
    })
}

/// Time, setup, words, reason and mends of a version.
type VersionTold = (Moment, Mark, Vec<String>, Option<String>, Vec<String>);

/// What a racer sees of a book, numbers and ids aside.
#[derive(Debug, PartialEq)]
struct View {
    versions: Vec<VersionTold>,
    remarks: Vec<(Moment, Vec<String>)>,
    runs: Vec<(Moment, Moment, Sheet)>,
    now: Sheet,
}

fn view(book: &Book) -> View {
    let h = book.history().unwrap();
    let sheets = book.sheets(&h.timeline).unwrap();
    let versions = h.timeline.versions.iter();
    let sheet = |id: &str| sheets.get(id).cloned().unwrap_or_else(|| panic!("{id} is no sheet of the live line"));
    View {
        versions: versions
            .map(|v| (v.entry.at, v.mark, v.entry.words.clone(), v.entry.why.clone(), v.entry.mended.clone()))
            .collect(),
        remarks: h.timeline.remarks.iter().map(|r| (r.entry.at, r.entry.words.clone())).collect(),
        runs: h.runs.iter().map(|m| (m.run.at, h.timeline.versions[m.version].entry.at, sheet(&m.run.setup))).collect(),
        now: sheet(h.timeline.now().unwrap().sheet_id()),
    }
}

/// Every run names a version of the live line that holds its sheet, at that sheet's time.
fn linked(h: &History) {
    for m in &h.runs {
        let v = &h.timeline.versions[m.version];
        assert_eq!(v.number.to_string(), m.run.on, "the run of {:?} names another version", m.run.at);
        assert!(v.blobs.contains(&m.run.setup), "{} does not hold the sheet of its run", v.number);
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 12, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn the_order_of_entering_does_not_matter(season in season(), order in prop::collection::vec(any::<Index>(), 12)) {
        let (_one, straight) = book();
        for told in &season {
            tell(&straight, told).unwrap();
        }
        let (_two, mixed) = book();
        let mut left = season.clone();
        for pick in order.iter() {
            if left.is_empty() {
                break;
            }
            let told = left.remove(pick.index(left.len()));
            tell(&mixed, &told).unwrap();
            linked(&mixed.history().unwrap());
        }
        for told in &left {
            tell(&mixed, told).unwrap();
        }
        let (a, b) = (view(&straight), view(&mixed));
        prop_assert_eq!(a, b);
    }

    #[test]
    fn a_mend_there_and_back_leaves_the_view_as_it_was(season in season(), which in any::<Index>(), what in 0..6_u8) {
        let (_temp, book) = book();
        for told in &season {
            tell(&book, told).unwrap();
        }
        let h = book.history().unwrap();
        let before = view(&book);
        let versions = &h.timeline.versions;
        let version = &versions[which.index(versions.len())];
        let sheet = book.sheet(version).unwrap();
        let record = version.entry.id.clone();
        let right = |b: &Book| {
            let h = b.history().unwrap();
            let i = h.timeline.by_number(&version.number).unwrap();
            h.timeline.versions[i].entry.id.clone()
        };
        let mend = |fix: Fix| {
            let p = plan(&book, &hand(), &[fix], Steps::KeepSteps)?;
            carry_out(&book, &options(), &hand(), &p)
        };
        let value = |n: Num| vec![edit(LIMITER, Typed::Reading(Value::One(Scalar::Num(n))))];
        let old = sheet.num(LIMITER).unwrap();
        let at_first = version.entry.at.seconds == START;
        let day = version.entry.at.race_day();
        let there = match what {
            0 => Fix::Why { record, why: Some("another".to_owned()) },
            1 => Fix::Value { record, edits: value(thousandths(3000)), span: Span::Stretch },
            2 if !at_first => Fix::Time { record, at: Moment { seconds: version.entry.at.seconds + 30, ..version.entry.at }, since: None },
            3 if !at_first => Fix::Never { record },
            4 if !h.runs.is_empty() => {
                let mut wrong = h.runs[which.index(h.runs.len())].run.clone();
                wrong.at.seconds += 86_400;
                wrong.numbers.insert("ft60".to_owned(), thousandths(1777));
                Fix::Run(Box::new(wrong))
            }
            _ => Fix::Clock { day, seconds: 60 },
        };
        if let Err(e) = mend(there.clone()) {
            // What is refused is refused before anything is written.
            prop_assert!(matches!(e, Error::Usage { .. }), "{e}");
            prop_assert_eq!(before, view(&book));
            return Ok(());
        }
        linked(&book.history().unwrap());
        prop_assert_ne!(&before, &view(&book));
        let back = match there {
            Fix::Why { .. } => Fix::Why { record: right(&book), why: None },
            Fix::Value { .. } => Fix::Value { record: right(&book), edits: value(old), span: Span::Stretch },
            Fix::Time { .. } => Fix::Time { record: right(&book), at: version.entry.at, since: None },
            Fix::Run(wrong) => Fix::Run(Box::new(h.runs.iter().find(|m| m.run.id == wrong.id).unwrap().run.clone())),
            Fix::Clock { .. } => Fix::Clock { day, seconds: -60 },
            _ => {
                take_back(&book, &options(), &hand(), &last(&book).unwrap(), None).unwrap();
                prop_assert_eq!(before, view(&book));
                return Ok(());
            }
        };
        mend(back).unwrap();
        linked(&book.history().unwrap());
        prop_assert_eq!(before, view(&book));
    }

    #[test]
    fn what_is_measured_or_noted_never_splits_a_setup(season in season(), minute in 5..1500_i64, n in 0..400_i64) {
        let (_temp, book) = book();
        for told in &season {
            tell(&book, told).unwrap();
        }
        let setups = |b: &Book| {
            let h = b.history().unwrap();
            let of = |m: &slipbook::garage::Made| h.timeline.versions[m.version].mark;
            (h.timeline.setups(), h.runs.iter().map(of).collect::<Vec<_>>())
        };
        let before = setups(&book);
        tell(&book, &Told::Change(minute, vec![reading(GAP, 4003 + 7 * n)])).unwrap();
        let note = edit("notes", Typed::Reading(Value::One(Scalar::Text("loose\nfound it".to_owned()))));
        tell(&book, &Told::Change(minute + 1, vec![note])).unwrap();
        prop_assert_eq!(before, setups(&book));
    }

    #[test]
    fn git_alone_gives_what_the_cache_gives(season in season(), order in prop::collection::vec(any::<Index>(), 12)) {
        let (temp, plain) = book();
        let cached = Book::open(plain.store.dir()).unwrap().with_cache(Some(&temp.path().join("cache")));
        let mut left = season;
        for pick in order.iter() {
            if left.is_empty() {
                break;
            }
            let told = left.remove(pick.index(left.len()));
            tell(&plain, &told).unwrap();
            prop_assert_eq!(view(&plain), view(&cached));
        }
        prop_assert_eq!(view(&plain), view(&Book::open(plain.store.dir()).unwrap()));
    }
}

/// One day comes to lie where the other was: neither is lost.
#[test]
fn two_days_that_follow_each_other_are_shifted_in_one_plan() {
    let (_temp, book) = book();
    for minute in [60, 120, 1440 + 60] {
        tell(&book, &Told::Run(minute)).unwrap();
    }
    let date = |n: i64| at(n * 1440).race_day();
    let seconds = 86_400;
    for (first, second, seconds) in [(date(1), date(0), seconds), (date(1), date(2), -seconds)] {
        let fixes = [Fix::Clock { day: first, seconds }, Fix::Clock { day: second, seconds }];
        let plan = plan(&book, &hand(), &fixes, Steps::KeepSteps).unwrap();
        carry_out(&book, &options(), &hand(), &plan).unwrap();
        let days = book.history().unwrap().days;
        let shifted = i64::from(seconds > 0);
        let made: Vec<_> = days.iter().map(|d| (d.date, d.runs.len())).collect();
        assert_eq!(made, [(date(shifted), 2), (date(shifted + 1), 1)]);
    }
}
