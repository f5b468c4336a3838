//! What the commands do, from the outside: one file for each thing a racer does.

#[path = "../common/mod.rs"]
mod common;

mod air;
mod alphabets;
mod blame;
mod blame_explain;
mod blame_more;
mod blame_same;
mod changing;
mod checking;
mod copying;
mod days;
mod days_late;
mod dial;
mod errors;
mod exporting;
mod hand_edits;
mod handing_over;
mod handing_over_beside;
mod handing_over_hidden;
mod handing_over_late;
mod handing_over_less;
mod handing_over_named;
mod handing_over_records;
mod handing_over_words;
mod home;
mod hostile;
mod importing;
mod joining;
mod joining_holds;
mod joining_strangers;
mod joining_told;
mod measuring;
mod mending;
mod mending_sides;
mod numbers;
mod one_air;
mod opening;
mod parts;
mod reading;
mod reverting;
mod running;
mod trial;
mod wrench;
