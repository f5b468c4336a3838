//! Killed at any moment: what was acknowledged is there, and the next record puts the rest right.
use std::time::Duration;

use slipbook::store::{Id, Options, Store};

#[path = "common/killed.rs"]
mod killed;
mod store_support;
use killed::{AtWork, Dice, dir_of_child};
use store_support::*;

/// What the test program does when a test starts it again: records without end, telling each id.
#[test]
fn child_that_is_killed() {
    let Some(dir) = dir_of_child() else { return };
    let many = std::env::var("SLIPBOOK_TEST_MANY").is_ok();
    let store = Store::open(&dir).unwrap();
    let pid = std::process::id();
    // With fsync every step is there, and the time between the steps that a kill has to hit.
    let options = Options::default();
    for n in 0.. {
        let done = store
            .record_many(&options, &mut |batch| {
                for k in 0..if many { 40 } else { 1 } {
                    let (day, text) = (format!("days/2026/d{}.toml", n % 9), format!("n = \"{pid} {n} {k}\"\n"));
                    let mut r = record(&[("setup.toml", &text), (&day, &text)]);
                    if n % 7 == 6 && k == 0 {
                        r.files.push((format!("days/2026/d{}.toml", (n + 1) % 9), None));
                    }
                    batch.commit(r)?;
                }
                Ok(())
            })
            .unwrap();
        println!("recorded {}", done.id.unwrap());
    }
}

fn kill_often(rounds: u64, many: bool) {
    let book = Book::new();
    let mut dice = Dice::new();
    let mut healed = 0;
    for round in 0..rounds {
        let more: &[(&str, &str)] = if many { &[("SLIPBOOK_TEST_MANY", "1")] } else { &[] };
        // The first id says that it is at work; then at a random moment within a few records.
        let child = AtWork::start(book.dir(), more, "recorded ");
        let told: Vec<Id> = child
            .kill_after(Duration::from_micros(dice.roll(30_000)))
            .into_iter()
            .filter_map(|line| line.strip_prefix("recorded ").map(|hex| hex.parse()))
            .filter_map(Result::ok)
            .collect();

        // As it lies there, before anything is put right.
        let store = Store::open(book.dir()).unwrap();
        let log: std::collections::HashSet<Id> = store.log(None).unwrap().into_iter().map(|l| l.commit.id).collect();
        for id in &told {
            assert!(log.contains(id), "round {round}: {id} was acknowledged and is not there");
        }
        if many {
            assert_eq!((log.len() - 1) % 40, 0, "round {round}: part of an import is there");
        }
        assert_fsck(book.dir());

        let done = store.record(&quick(), &mut |_| Ok(None)).unwrap();
        healed += done.healed.len();
        assert!(done.left_alone.is_empty(), "round {round}: {:?}", done.left_alone);
        for name in ["index.lock", "refs/heads/main.lock", "HEAD.lock"] {
            assert!(!book.git_dir().join(name).exists(), "round {round}: {name}");
        }
        assert_eq!(git(book.dir(), &["diff-files"]), "", "round {round}");
        assert_eq!(git(book.dir(), &["status", "--porcelain"]), "", "round {round}");
        assert_eq!(store.work_state().unwrap(), [], "round {round}");
    }
    println!("{healed} of {rounds} rounds had a folder to heal");
    book.put(&[("car.toml", "after all\n")]);
    book.assert_tidy();
}

#[test]
fn killed_at_random_while_recording() {
    kill_often(60, false);
}

#[test]
fn killed_at_random_while_importing() {
    kill_often(20, true);
}
