//! Prints slipbook against stock git, side by side: every round does each way once, so that a slow moment of the machine
//! falls on all of them. Words after `--` pick rows: `cargo bench --bench ratios -- 6000 packed blame`.

mod book;
mod bundles;
mod rows;

use book::{Layout, SIZES};
use rows::{Pair, ROWS, Row};
use std::path::Path;
use std::time::Duration;

const ROUNDS: usize = 21;
/// For what takes longer than [`SLOW`].
const FEW_ROUNDS: usize = 11;
const SLOW: Duration = Duration::from_millis(150);

fn main() {
    let words: Vec<String> = std::env::args().skip(1).filter(|a| !a.starts_with("--")).collect();
    println!(
        "whole processes, medians of {ROUNDS} rounds ({FEW_ROUNDS} where one takes over {SLOW:?}), ms; below 1 slipbook is quicker"
    );
    println!(
        "{:>7} {:6} {:17} {:>8} {:>15}   {:28} {:>8} {:>6}",
        "commits", "layout", "slipbook", "median", "middle half", "git", "median", "ratio"
    );
    for commits in SIZES {
        for layout in Layout::ALL {
            let wanted = |row: &&Row| {
                let name = format!("{commits} {} {}", layout.word(), row.name);
                words.iter().all(|w| name.split_whitespace().any(|n| n.trim_end_matches(',') == w))
            };
            let picked: Vec<&Row> = ROWS.iter().filter(wanted).collect();
            if picked.is_empty() {
                continue;
            }
            let mut pair = Pair::new(commits, layout);
            picked.iter().for_each(|row| measure(row, &mut pair, &format!("{commits:>7} {:6}", layout.word())));
            book::sweep();
        }
    }
}

fn measure(row: &Row, pair: &mut Pair, book: &str) {
    let acts: Vec<_> = std::iter::once(row.ours.act).chain(row.gits.iter().map(|s| s.act)).collect();
    // Warms the disk cache, and says how slow it is.
    let slow = acts.iter().map(|act| act(pair)).max().unwrap_or_default() > SLOW;
    let rounds = if slow { FEW_ROUNDS } else { ROUNDS };
    let mut times: Vec<Vec<f64>> = vec![Vec::new(); acts.len()];
    for round in 0..rounds {
        for i in 0..acts.len() {
            // Nobody is always first.
            let i = (i + round) % acts.len();
            times[i].push(acts[i](pair).as_secs_f64() * 1e3);
        }
    }
    times.iter_mut().for_each(|t| t.sort_by(f64::total_cmp));
    let at = |t: &[f64], part: usize| t[(t.len() - 1) * part / 4];
    let ours = &times[0];
    for (side, git) in row.gits.iter().zip(&times[1..]) {
        let (a, b) = (at(ours, 2), at(git, 2));
        let half = format!("{:.1}-{:.1}", at(ours, 1), at(ours, 3));
        println!("{book} {:17} {a:>8.2} {half:>15}   {:28} {b:>8.2} {:>6.2}", row.name, side.name, a / b);
    }
    if row.name == "handover" {
        let (a, b) = (written(&pair.ours), written(&pair.gits));
        println!("{book} {:17} {a:>8.0} {:>15}   {:28} {b:>8.0} {:>6.2}", "  its size", "KiB", "size", a / b);
    }
}

/// The bundle a book's last handover, or git's, wrote, KiB.
fn written(book: &Path) -> f64 {
    let file = bundles::bundle_dir(book).join("plover.bundle");
    std::fs::metadata(file).expect("a bundle was written").len() as f64 / 1024.0
}
