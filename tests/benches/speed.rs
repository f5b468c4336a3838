//! The same rows under criterion, for comparing one state of the code with another (`--save-baseline`, `--baseline`).
//! The table of ratios comes from the bench `ratios`, which interleaves its rounds.

mod book;
mod bundles;
mod rows;

use book::{Layout, SIZES};
use criterion::{BenchmarkId, Criterion, SamplingMode};
use rows::{Pair, ROWS};
use std::time::Duration;

fn main() {
    let mut criterion = Criterion::default()
        .sample_size(10)
        .warm_up_time(Duration::from_millis(100))
        .measurement_time(Duration::from_millis(500))
        .without_plots()
        .configure_from_args();
    for commits in SIZES {
        for layout in Layout::ALL {
            measure(&mut criterion, commits, layout);
        }
    }
    criterion.final_summary();
    book::sweep();
}

fn measure(criterion: &mut Criterion, commits: usize, layout: Layout) {
    let book = format!("{commits} {}", layout.word());
    // Copied only if something on it is measured: a filter may pick other books.
    let mut pair: Option<Pair> = None;
    for row in &ROWS {
        let mut group = criterion.benchmark_group(row.name);
        group.sampling_mode(SamplingMode::Flat);
        for (who, side) in std::iter::once(("slipbook", &row.ours)).chain(row.gits.iter().map(|s| ("git", s))) {
            group.bench_function(BenchmarkId::new(format!("{who} {}", side.name), &book), |bencher| {
                let pair = pair.get_or_insert_with(|| Pair::new(commits, layout));
                bencher.iter_custom(|times| (0..times).map(|_| (side.act)(pair)).sum());
            });
        }
        group.finish();
    }
}
