//! Cut off anywhere, a car is there whole or not at all: short files, killed programs, full disks.

use crate::forge::{season, sound};
use crate::yard::{Yard, all_below};
use slipbook::garage::{Garage, Hand, Limits, Options, ReceiveWanted, receive, verify};
use slipbook::slip::Moment;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::Duration;

fn take(garage: &Garage, source: &Path) -> slipbook::garage::Result<slipbook::garage::Received> {
    let options = Options { fsync: false, ..Options::default() };
    let hand = Hand { by: "Mo".to_owned(), now: Moment { seconds: 1_787_000_000, offset_seconds: -18_000 } };
    let wanted = ReceiveWanted {
        source,
        called: None,
        other_name: &|_| None,
        owner: Some("Mo"),
        owner_named: false,
        as_it_is: false,
        limits: Limits::default(),
        tell: &|_| {},
    };
    receive(garage, &options, &hand, &wanted)
}

#[test]
fn a_file_cut_off_at_any_byte_leaves_nothing() {
    let (forge, tip) = sound();
    let whole = forge.bundle(&tip);
    let temp = tempfile::tempdir().unwrap();
    let file = temp.path().join("x.bundle");
    let garage = Garage::new(temp.path().join("some/garage"));
    for short in 0..whole.len() {
        std::fs::write(&file, &whole[..short]).unwrap();
        assert!(take(&garage, &file).is_err(), "{short} bytes of {}", whole.len());
        assert!(!temp.path().join("some").exists(), "{short} bytes: something is left");
    }
    std::fs::write(&file, &whole).unwrap();
    let received = take(&garage, &file).unwrap();
    assert!(verify(received.book.store.dir(), None, &|_| {}).unwrap().is_good());
}

#[test]
fn a_bit_turned_anywhere_is_seen() {
    let (forge, tip) = sound();
    let whole = forge.bundle(&tip);
    let temp = tempfile::tempdir().unwrap();
    let file = temp.path().join("x.bundle");
    let garage = Garage::new(temp.path().join("garage"));
    for at in 0..whole.len() {
        let mut bad = whole.clone();
        bad[at] ^= 1 << (at % 8);
        std::fs::write(&file, &bad).unwrap();
        assert!(take(&garage, &file).is_err(), "byte {at}");
        assert!(!garage.dir().exists(), "byte {at}: something is left");
    }
}

/// Small steps that are different each time without a clock or a dependency.
struct Dice(u64);

impl Dice {
    fn roll(&mut self, below: u64) -> u64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) % below
    }
}

/// Rounds: `SLIPBOOK_KILLS`, else few enough for every test run.
#[test]
fn killed_at_random_while_receiving() {
    let rounds = std::env::var("SLIPBOOK_KILLS").ok().and_then(|n| n.parse().ok()).unwrap_or(25);
    let yard = Yard::new();
    let path = yard.garage.file("season.bundle", season(150));
    let mut dice = Dice(u64::from(std::process::id()));
    let car = yard.garage.book("grey");
    let own = yard.garage.book("own");
    let before = all_below(&own);
    let (mut there, mut not) = (0, 0);
    let mut longest = 400_000;
    for round in 0..rounds {
        let mut child = Command::new(env!("CARGO_BIN_EXE_slipbook"))
            .args(["receive", &path])
            .env_clear()
            .env("HOME", yard.garage.root())
            .env("SLIPBOOK_GARAGE", yard.garage.dir())
            .env("SLIPBOOK_NOW", "2026-08-22T14:20:00")
            .env("SLIPBOOK_BY", "Mo")
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        std::thread::sleep(Duration::from_micros(dice.roll(longest)));
        child.kill().unwrap();
        child.wait().unwrap();
        assert!(before == all_below(&own), "round {round}: another car was touched");
        let folders = Garage::new(yard.garage.dir()).folders().unwrap();
        if car.exists() {
            there += 1;
            let found = verify(&car, None, &|_| {}).unwrap();
            assert!(found.is_good() && found.sound.records >= 151, "round {round}: {found:?}");
            yard.garage.tidy("grey", "a killed receive");
            std::fs::remove_dir_all(&car).unwrap();
            // Half of the kills should come before.
            longest = longest * 4 / 5;
        } else {
            not += 1;
            assert_eq!(folders, ["own"], "round {round}");
            longest = longest * 5 / 4;
        }
    }
    // The time to the kill follows what came of it, so that both are met.
    assert!(there > 0 && not > 0, "killed after {there} times, before {not} times");
    // What killed ones left is cleared away by the next, and it is not in its way.
    let output = yard.run(&["receive", &path]);
    assert_eq!(output.code, 0, "{output:?}");
    let left: Vec<_> = std::fs::read_dir(yard.garage.dir())
        .unwrap()
        .map(|e| e.unwrap().file_name().into_string().unwrap())
        .filter(|n| n.starts_with(".slipbook"))
        .collect();
    assert!(left.is_empty(), "{left:?}");
}

#[test]
fn a_full_disk_leaves_nothing() {
    let yard = Yard::new();
    let path = yard.garage.file("season.bundle", season(60));
    let before = all_below(&yard.garage.dir());
    let mut refused = 0;
    // A file may have so many blocks of 512 bytes; the write that goes beyond fails, as on a full disk.
    for blocks in [0, 1, 2, 4, 8, 16, 24, 32, 48] {
        let output = yard.limited(&format!("trap '' XFSZ; ulimit -f {blocks};"), &["receive", &path]);
        if output.code == 0 {
            break;
        }
        refused += 1;
        assert_eq!(output.code, 4, "{blocks}: {output:?}");
        assert!(!output.stderr.contains("panicked"), "{output:?}");
        assert!(before == all_below(&yard.garage.dir()), "{blocks}: the garage is not as it was");
    }
    assert!(refused > 2, "{refused}");
    assert_eq!(yard.run(&["receive", &path]).code, 0);
}
