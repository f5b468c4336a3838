//! slipbook: a versioned setup book for drag cars.
//!
//! Data flows one way: text in git → `store` → `garage` (with `timeline`) → typed sheets and runs → `diff`, `blame` →
//! a plain result → `render` → the terminal. The library never prints and never reads the clock or the environment.

#![allow(missing_docs)]
#![deny(clippy::print_stdout, clippy::print_stderr)]

pub mod blame;
pub mod diff;
pub mod garage;
pub mod schema;
pub mod slip;
pub mod stats;
pub mod store;
pub mod timeline;
