//! A result → text or JSON. Nothing is computed here, and nothing is printed.

pub mod air;
pub mod beside;
pub mod blame;
pub mod blame_explain;
pub mod blame_field;
pub mod blame_package;
pub mod blame_spread;
pub mod cars;
pub mod cg;
pub mod change;
pub mod check;
pub mod copy;
pub mod day;
pub mod dial;
pub mod diff;
pub mod explain;
pub mod fields;
pub mod footing;
pub mod history;
pub mod home;
mod layout;
pub mod measure;
pub mod mend;
pub mod numbers;
pub mod page;
pub mod part;
pub mod revert;
pub mod run;
pub mod runs;
pub mod sheet;
pub mod trial;
pub mod trial_next;
pub mod trial_plan;
pub mod wrench;

pub use layout::{Head, Page, counted};
