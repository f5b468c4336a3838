//! A book as plain files and back: the table `export` writes makes an equal book when `import` reads it.
//!
//! Equal: the same versions by number, kind, time, hand, reason, window, words and what was measured; the same sheets, doubt
//! and all; the same remarks; the same runs with their ids and versions, each on a sheet of its version; the same days with
//! their air, notes, prep and lines. Not of a table: whose hand opened the book and when each record was written down.

use proptest::prelude::*;
use slipbook::garage::{
    Amend, Book, DayFacts, Garage, Hand, History, ImportOptions, NewCar, Options, RunWanted, Wanted, amend, change,
    export, import, new_book, now, opened, run,
};
use slipbook::schema::{Edit, Num, Scalar, Schema, Sheet, Takes, Typed, Value, apply, schema};
use slipbook::slip::{Day, Moment, Reading, Run, read_table};
use std::collections::BTreeMap;
use std::path::Path;

mod common;
#[path = "common/sheets.rs"]
#[allow(dead_code)]
mod sheets;

const START: i64 = 1_777_730_400;

fn at(minutes: i64) -> Moment {
    Moment { seconds: START + minutes * 60, offset_seconds: -5 * 3600 }
}

fn options() -> Options {
    Options { fsync: false, ..Options::default() }
}

fn hand(by: &str) -> Hand {
    Hand { by: by.to_owned(), now: at(400 * 1440) }
}

/// Makes a book of exported files, as `new` and `import` do.
fn taken_in(garage: &Path, files: &BTreeMap<String, String>, at: Moment) -> Book {
    let new = NewCar {
        car_text: files["car.toml"].clone(),
        car_file: "car.toml".to_owned(),
        sheet_text: Some(files["opening.toml"].clone()),
        sheet_file: "opening.toml".to_owned(),
        sheet: Sheet::default(),
        at,
    };
    let (_, book, _) = new_book(&Garage::new(garage.to_owned()), &options(), &hand("Ro"), &new).unwrap();
    // Another zone than the book's: the table has its own offsets.
    let zone = jiff::tz::TimeZone::fixed(jiff::tz::offset(9));
    let (rows, errors) = read_table(&book.schema, files["season.csv"].as_bytes(), &BTreeMap::new(), &zone, &mut |_| {});
    let shown = &files["season.csv"];
    if shown.lines().count() > 1 {
        assert!(errors.is_empty(), "{errors:?}\n{shown}");
        let how = ImportOptions { partial: false, confirmed: true, dry_run: false, progress: &|_| {} };
        import(&book, &options(), &hand("somebody"), &how, &rows).unwrap_or_else(|e| panic!("{e:?}\n{shown}"));
    }
    book
}

fn files(book: &Book) -> (BTreeMap<String, String>, Vec<String>) {
    let exported = export(book, &book.history().unwrap()).unwrap();
    (exported.files.into_iter().collect(), exported.lost)
}

/// All that is to be equal.
#[derive(Debug, PartialEq)]
struct View {
    versions: Vec<String>,
    sheets: Vec<Sheet>,
    remarks: Vec<String>,
    runs: Vec<String>,
    days: Vec<Day>,
    car: String,
}

fn view(book: &Book) -> View {
    let h = book.history().unwrap();
    let number = |h: &History, v: usize| h.timeline.versions[v].number.to_string();
    let version = |v: &slipbook::timeline::Version| {
        let e = &v.entry;
        let by = if v.number.to_string() == "v1" { "" } else { &e.by };
        let told = if v.number.to_string() == "v1" { Vec::new() } else { e.words.clone() };
        let what = (e.kind, e.at, &e.why, e.since, e.time_unknown, &e.back_to, &e.measured, &e.was);
        format!("{} {by} {what:?} {told:?}", v.number)
    };
    let runs = |m: &slipbook::garage::Made| {
        let of = &h.timeline.versions[m.version];
        assert!(of.blobs.contains(&m.run.setup), "the run of {:?} is on a sheet of {}", m.run.at, of.number);
        let run = Run { setup: String::new(), setup_was: None, on: number(&h, m.version), ..m.run.clone() };
        format!("{run:?} {}", m.unsure)
    };
    let bare = |d: &Day| Day { runs: Vec::new(), ..d.clone() };
    let remark = |r: &slipbook::timeline::Remark| {
        format!("{} {:?} {} {:?} {:?}", number(&h, r.during), r.entry.at, r.entry.by, r.entry.words, r.entry.measured)
    };
    View {
        versions: h.timeline.versions.iter().map(version).collect(),
        sheets: h.timeline.versions.iter().map(|v| book.sheet(v).unwrap()).collect(),
        remarks: h.timeline.remarks.iter().map(remark).collect(),
        runs: h.runs.iter().map(runs).collect(),
        days: h.days.iter().map(bare).collect(),
        car: book.store.file(h.head.unwrap(), "car.toml").unwrap().map(|f| String::from_utf8(f.1).unwrap()).unwrap(),
    }
}

/// There and back.
fn goes_round(book: &Book) {
    let temp = tempfile::tempdir().unwrap();
    let (first, lost) = files(book);
    assert_eq!(lost, Vec::<String>::new());
    let back = taken_in(&temp.path().join("garage"), &first, opened(&book.history().unwrap()).unwrap());
    let (was, is) = (view(book), view(&back));
    assert_eq!(was, is, "{}", first["season.csv"]);
    // And once more: the second table is the first.
    assert_eq!(first["season.csv"], files(&back).0["season.csv"]);
}

/// The fields a leaf car has, those that come and go with a part among them.
fn fields(schema: &Schema) -> Vec<&slipbook::schema::Field> {
    let chassis = ["torsion".to_owned(), "leaf".to_owned()];
    schema.fields.iter().filter(|f| f.on_chassis(&chassis)).collect()
}

/// Something that happened to a car.
#[derive(Debug, Clone)]
enum Told {
    /// Fields by number with seeds for their values, or off; measured anew or as it was; odd texts by number.
    Sheet {
        fields: Vec<(usize, [u16; 6], u8)>,
        why: Option<usize>,
        by: bool,
        window: bool,
    },
    Run {
        seeds: [u16; 6],
        note: Option<usize>,
        air: bool,
    },
    /// What is said of a day as a whole: its note, its prep, a line nobody could read, that it is over.
    Day {
        note: Option<usize>,
        prep: Option<usize>,
        unread: Option<usize>,
        close: bool,
    },
}

/// Texts that a table or a spreadsheet would take for something else.
const ODD: [&str; 12] = [
    "plain words",
    "-",
    "=1+1",
    "\"quoted\"",
    "two\nlines",
    " leading",
    "a, b; c",
    "[1, 2]",
    "@x",
    "about 3",
    "0.5?",
    "trailing ",
];

/// One of the odd texts, or none.
fn text() -> impl Strategy<Value = Option<usize>> {
    prop::option::of(0..ODD.len())
}

fn told() -> impl Strategy<Value = Told> {
    let one = (any::<usize>(), any::<[u16; 6]>(), 0..8_u8);
    prop_oneof![
        (prop::collection::vec(one, 1..5), prop::option::of(0..ODD.len()), any::<bool>(), any::<bool>())
            .prop_map(|(fields, why, by, window)| Told::Sheet { fields, why, by, window }),
        (any::<[u16; 6]>(), prop::option::of(0..ODD.len()), any::<bool>()).prop_map(|(seeds, note, air)| Told::Run {
            seeds,
            note,
            air
        }),
        (text(), text(), text(), any::<bool>()).prop_map(|(note, prep, unread, close)| Told::Day {
            note,
            prep,
            unread,
            close
        }),
    ]
}

fn tell(book: &Book, told: &Told, minute: i64, before: i64) {
    let schema = &*book.schema;
    match told {
        Told::Sheet { fields: of, why, by, window } => {
            let all = fields(schema);
            let sheet = now(&book.store, schema, book.store.head().unwrap()).unwrap().sheet;
            let mut edits: Vec<Edit> = Vec::new();
            for (n, seeds, how) in of {
                let field = all[n % all.len()];
                if edits.iter().any(|e| e.key == field.key) {
                    continue;
                }
                let typed = match how {
                    0 => Typed::Off,
                    1 if field.takes() == Takes::Text
                        && field.sides == slipbook::schema::Sides::One
                        && field.kind != "own_part" =>
                    {
                        Typed::Reading(Value::One(Scalar::Text(ODD[usize::from(seeds[0]) % ODD.len()].to_owned())))
                    }
                    2 => {
                        let value = sheets::value(schema, field, *seeds);
                        let places = value.number_places();
                        if places.is_empty() { Typed::Reading(value) } else { Typed::Doubtful(value, places) }
                    }
                    _ => Typed::Reading(sheets::value(schema, field, *seeds)),
                };
                // What contradicts the sheet would be refused, and the rest with it.
                edits.push(Edit { key: field.key.clone(), slot: None, typed });
                if apply(schema, &sheet, &edits).is_err() {
                    edits.pop();
                }
            }
            let wanted = Wanted {
                edits,
                why: why.map(|i| ODD[i].trim().to_owned()),
                at: Some(at(minute)),
                since: window.then(|| at(before)),
                ..Wanted::default()
            };
            // What says nothing new is refused; the book is as it was.
            let _ = change(book, &options(), &hand(if *by { "Tam" } else { "Ro" }), &wanted);
        }
        Told::Day { note, prep, unread, close } => {
            let odd = |i: &Option<usize>| i.map(|i| ODD[i].replace('\n', " "));
            let facts = DayFacts { track: Some("Osier Flats".to_owned()), prep: odd(prep), ..DayFacts::default() };
            let said = Amend {
                facts,
                note: odd(note).into_iter().collect(),
                unread: odd(unread).into_iter().collect(),
                close: *close,
                ..Amend::default()
            };
            // What says nothing new is refused; the book is as it was.
            let _ = amend(book, &options(), &hand("Ro"), at(minute).race_day(), at(minute).offset_seconds, &said);
        }
        Told::Run { seeds, note, air } => {
            let mut made = Run::new(at(minute));
            let num = |n: u16, least: i64| Num::from_micros(least * 1_000_000 + i64::from(n % 1000) * 1000);
            made.numbers.insert("ft60".to_owned(), num(seeds[0], 1));
            let more = [("rpm_launch", 3000, 1), ("psi_rear_left", 12, 2), ("fuel", 5, 3), ("oil_start", 180, 4)];
            for (name, least, i) in more {
                if seeds[i] % 3 == 0 {
                    made.numbers.insert(name.to_owned(), num(seeds[i], least));
                }
            }
            if seeds[5] % 4 == 0 {
                made.shifts = vec![Num::int(7000), Num::int(7150)];
                made.did = vec!["dead hook".to_owned(), "went left".to_owned()];
                (made.clean_to, made.why_not) = (Some(60), Some("lifted".to_owned()));
            }
            made.note = note.map(|i| ODD[i].to_owned());
            made.lane = (seeds[1] % 2 == 0).then(|| "left".to_owned());
            let reading = air.then(|| Reading {
                at: at(minute).civil().time(),
                numbers: BTreeMap::from([
                    ("temperature".to_owned(), num(seeds[2], 70)),
                    ("humidity".to_owned(), Num::int(50)),
                    ("pressure_station".to_owned(), Num::int(29)),
                ]),
                sun: Some("cloud".to_owned()),
                ..Reading::default()
            });
            let facts = DayFacts { track: Some("Osier Flats".to_owned()), ..DayFacts::default() };
            let wanted = RunWanted { run: made, facts, on: None, reading, confirmed: true };
            run(book, &options(), &hand("Ro"), &wanted).unwrap();
        }
    }
}

/// `PROPTEST_CASES=500` for more.
fn cases() -> u32 {
    std::env::var("PROPTEST_CASES").ok().and_then(|n| n.parse().ok()).unwrap_or(24)
}

fn book_of(temp: &Path) -> Book {
    let new = NewCar {
        car_text: "format = 1\nname = \"Grey\"\ntemplate = \"leaf-torsion\"\n".to_owned(),
        car_file: "car.toml".to_owned(),
        sheet_text: Some("format = 1\n[rear.limiter]\nkind = \"screw\"\nheight = 2.0\n".to_owned()),
        sheet_file: "setup.toml".to_owned(),
        sheet: Sheet::default(),
        at: at(0),
    };
    new_book(&Garage::new(temp.join("garage")), &options(), &hand("Ro"), &new).unwrap().1
}

proptest! {
    #![proptest_config(ProptestConfig { cases: cases(), failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn any_small_book_goes_round(season in prop::collection::vec((told(), 1..900_i64), 1..14)) {
        let temp = tempfile::tempdir().unwrap();
        let book = book_of(temp.path());
        let mut minute = 10;
        for (told, gap) in &season {
            tell(&book, told, minute + gap, minute);
            minute += gap;
        }
        goes_round(&book);
    }
}

#[test]
fn the_sample_garage_goes_round() {
    let garage = common::Garage::sample();
    for car in ["plover", "dunlin", "knot"] {
        goes_round(&Book::open(&garage.book(car)).unwrap());
    }
}

#[test]
fn every_number_of_a_run_and_a_reading_has_its_column() {
    let columns: Vec<String> = slipbook::slip::columns().into_iter().map(|c| c.name).collect();
    let words = &schema().run;
    for def in words.number.iter().chain(&words.reading) {
        let sided = ["psi_rear", "psi_front"].into_iter().find(|p| def.name.starts_with(p));
        assert!(columns.iter().any(|c| *c == sided.unwrap_or(&def.name)), "{}", def.name);
    }
}
