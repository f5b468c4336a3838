//! Taking a car in: what strangers may hand over, what is cut off on the way, what stock git makes of it.

#[path = "../common/mod.rs"]
mod common;

mod clock;
mod clones;
mod cut;
mod damaged;
mod forge;
mod harmless;
mod hostile_contents;
mod hostile_files;
mod hostile_trees;
mod interop;
mod story;
mod told;
mod verifying;
mod yard;
