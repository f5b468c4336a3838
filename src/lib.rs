//! slipbook: a versioned setup book for drag cars.
//!
//! Data flows one way: text in git → `store` → `garage` (with `timeline`) → typed sheets and runs → `diff`, `blame` →
//! a plain result → `render` → the terminal. The library never prints and never reads the clock or the environment.

#![deny(clippy::print_stdout, clippy::print_stderr)]

pub mod diff;
pub mod schema;
pub mod slip;
pub mod timeline;
