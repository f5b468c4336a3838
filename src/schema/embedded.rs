//! The data files under `schema/`, embedded in the program (`build.rs` lists the folders).

pub(super) const UNITS: &str = include_str!("../../schema/units.toml");
pub(super) const KINDS: &str = include_str!("../../schema/kinds.toml");
pub(super) const TOGETHER: &str = include_str!("../../schema/together.toml");
pub(super) const RUN: &str = include_str!("../../schema/run.toml");
/// The columns of a season table.
pub const COLUMNS: &str = include_str!("../../schema/columns.toml");

include!(concat!(env!("OUT_DIR"), "/schema_files.rs"));
