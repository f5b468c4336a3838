//! The time a stranger's book may take: it runs over all that is done with it, and over nothing else.

use crate::forge::season;
use crate::yard::all_below;
use slipbook::garage::{
    Book, Error, Form, Garage, Hand, JoinWanted, Limits, NewCar, Options, ReceiveWanted, Received, Wanted, Which,
    change, copy, copy_target, new_book, plan_join, receive,
};
use slipbook::schema::{Edit, Num, Scalar, Sheet, Typed, Value};
use slipbook::slip::Moment;
use slipbook::timeline::Steps;
use std::cell::Cell;
use std::path::Path;
use std::time::Duration;

const LIMIT: Duration = Duration::from_secs(3);
const DOZE: Duration = Duration::from_millis(3100);

/// Sleeps longer than the limit as the count begins anew for the `nth` time: as something else begins to be done.
struct Dozes {
    nth: usize,
    turns: Cell<usize>,
    last: Cell<usize>,
}

impl Dozes {
    fn at(nth: usize) -> Dozes {
        Dozes { nth, turns: Cell::new(0), last: Cell::new(usize::MAX) }
    }

    fn tell(&self, n: usize) {
        if n <= self.last.replace(n) {
            self.turns.set(self.turns.get() + 1);
            if self.turns.get() == self.nth {
                std::thread::sleep(DOZE);
            }
        }
    }

    fn dozed(&self) -> bool {
        self.turns.get() >= self.nth
    }
}

fn hand(seconds: i64) -> Hand {
    Hand { by: "Mo".to_owned(), now: Moment { seconds: 1_787_000_000 + seconds, offset_seconds: -18_000 } }
}

fn options() -> Options {
    Options { fsync: false, ..Options::default() }
}

/// Receives with a doze, as a new car or back into its own book.
fn received(garage: &Path, file: &Path, dozes: &Dozes, ask: &dyn Fn()) -> Result<Received, Error> {
    let wanted = ReceiveWanted {
        source: file,
        called: None,
        other_name: &|_| {
            ask();
            Some("Other".to_owned())
        },
        owner: None,
        owner_named: false,
        as_it_is: true,
        limits: Limits { time: LIMIT, ..Limits::default() },
        tell: &|n| dozes.tell(n),
    };
    receive(&Garage::new(garage.to_owned()), &options(), &hand(0), &wanted)
}

/// How many of the things that are done with what is received are refused for their time, each dozed over in a garage of
/// its own, made by `before`; all of them leave it as it was.
fn refusals(file: &[u8], before: impl Fn(&Path) + Sync) -> usize {
    std::thread::scope(|scope| {
        let before = &before;
        let one = |nth: usize| {
            scope.spawn(move || {
                let temp = tempfile::tempdir().unwrap();
                let garage = temp.path().join("garage");
                before(&garage);
                let path = temp.path().join("x.bundle");
                std::fs::write(&path, file).unwrap();
                let was = all_below(&garage);
                let dozes = Dozes::at(nth);
                let Err(e) = received(&garage, &path, &dozes, &|| {}) else { return false };
                assert!(dozes.dozed() && e.to_string().contains("took longer than 3 s"), "{nth}: {e}");
                assert!(was == all_below(&garage), "dozing at {nth}: something is left");
                true
            })
        };
        let all: Vec<_> = (1..=9).map(one).collect();
        all.into_iter().map(|t| t.join().unwrap()).filter(|refused| *refused).count()
    })
}

#[test]
fn it_runs_until_all_is_known_of_what_is_received_and_not_over_ones_own_book() {
    let whole = season(9);
    let new = refusals(&whole, |_| {});
    // The walk over the file, the contents, the handover id, making the book and reading it back.
    assert!(new >= 4, "{new}");
    let back = refusals(&whole, |garage| {
        let path = garage.with_extension("bundle");
        std::fs::write(&path, season(6)).unwrap();
        let done = received(garage, &path, &Dozes::at(99), &|| {});
        assert_eq!(done.err().map(|e| e.to_string()), None);
    });
    assert_eq!(back, new);
}

#[test]
fn it_stands_while_somebody_is_asked() {
    let temp = tempfile::tempdir().unwrap();
    let file = temp.path().join("x.bundle");
    std::fs::write(&file, season(6)).unwrap();
    let garage = temp.path().join("garage");
    // Another car is in the folder: a name is asked for.
    std::fs::create_dir_all(garage.join("grey")).unwrap();
    let done = received(&garage, &file, &Dozes::at(99), &|| std::thread::sleep(DOZE));
    assert_eq!(done.map_err(|e| e.to_string()).unwrap().folder, "other");
}

/// A garage with one book, and the same book in another with a change of its own in each.
fn two(dir: &Path) -> (Book, Book) {
    let sheet = "format = 1\n[rear.limiter]\nkind = \"screw\"\nheight = 2.0\nthreads = 16\n";
    let new = NewCar {
        car_text: "format = 1\nname = \"Grey\"\ntemplate = \"leaf-torsion\"\n".to_owned(),
        car_file: "car.toml".to_owned(),
        sheet_text: Some(sheet.to_owned()),
        sheet_file: "setup.toml".to_owned(),
        sheet: Sheet::default(),
        at: hand(0).now,
    };
    let (_, here, _) = new_book(&Garage::new(dir.join("here")), &options(), &hand(1), &new).unwrap();
    let other = dir.join("there");
    std::fs::create_dir_all(&other).unwrap();
    let none = Garage::new(dir.join("none"));
    let target = copy_target(&none, &here, &other, Some(Form::Folder)).unwrap();
    let made = copy(&none, &here, &options(), &hand(2), target, &|_| {}).unwrap();
    let there = Book::open(&made.target.path).unwrap();
    for (book, height) in [(&here, "2.25"), (&there, "2.5")] {
        let value = Value::One(Scalar::Num(Num::parse(height).unwrap()));
        let edit = Edit { key: "rear.limiter.height".to_owned(), slot: None, typed: Typed::Reading(value) };
        let wanted = Wanted { edits: vec![edit], at: Some(hand(3600).now), ..Wanted::default() };
        change(book, &options(), &hand(3600), &wanted).unwrap();
    }
    (here, there)
}

#[test]
fn it_runs_over_what_is_joined_and_not_while_somebody_is_asked() {
    let temp = tempfile::tempdir().unwrap();
    let (here, there) = two(temp.path());
    let garage = Garage::new(temp.path().join("here"));
    let planned = |dozes: &Dozes, slow: bool| {
        let wanted = JoinWanted {
            source: there.store.dir(),
            called: "there",
            same_car: false,
            steps: Steps::Ask,
            decide: &|_| {
                if slow {
                    std::thread::sleep(DOZE);
                }
                Some(Which::Here)
            },
            as_it_is: false,
            limits: Limits { time: LIMIT, ..Limits::default() },
            met: &|_| {},
            tell: &|n| dozes.tell(n),
        };
        plan_join(&garage, &here, &wanted).map(|plan| plan.decided.len()).map_err(|e| e.to_string())
    };
    // One's own book is looked through too, and that takes as long as it takes.
    let (mut held, mut stood) = (0, 0);
    for nth in 1..12 {
        let dozes = Dozes::at(nth);
        match planned(&dozes, false) {
            Err(said) => {
                assert!(dozes.dozed() && said.contains("took longer than 3 s"), "dozing at {nth}: {said}");
                held += 1;
            }
            Ok(_) if dozes.dozed() => stood += 1,
            Ok(_) => break,
        }
    }
    assert!(held >= 2 && (1..=2).contains(&stood), "{held} held, {stood} stood");
    assert_eq!(planned(&Dozes::at(99), true).unwrap(), 1, "somebody was asked");
}
