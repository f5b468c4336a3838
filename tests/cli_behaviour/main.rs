//! What the commands do, from the outside: one file for each thing a racer does.

#[path = "../common/mod.rs"]
mod common;

mod air;
mod changing;
mod hand_edits;
mod hostile;
mod importing;
mod measuring;
mod opening;
mod reading;
mod reverting;
mod running;
