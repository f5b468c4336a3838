//! slipbook: a versioned setup book for drag cars.
//!
//! Data flows one way: text in git → `store` → `garage` (with `timeline`) → typed sheets and runs → `diff`, `blame` →
//! a plain result → `render` → the terminal. Outside `cli` the library never prints and never reads the clock or the
//! environment.

#![deny(clippy::print_stdout, clippy::print_stderr)]

pub mod air;
pub mod blame;
pub mod chassis;
pub mod check;
pub mod cli;
pub mod diff;
pub mod figures;
pub mod garage;
pub mod pace;
pub mod render;
pub mod schema;
pub mod slip;
pub mod store;
pub mod text;
pub mod timeline;
pub mod trial;
pub mod wrench;

/// Samples and estimates: a crate of its own in `stats/`, so that its matrices are optimised in every build.
pub use slipbook_stats as stats;
