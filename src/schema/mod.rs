//! What a sheet is, read from `schema/*.toml`: fields, units, words, templates; typed values; text to sheet and back.

mod assign;
mod car_rules;
mod catalog;
mod clause;
mod clause_edits;
mod condition;
mod data;
mod doubt;
mod edit;
mod embedded;
mod entry;
mod expr;
mod field;
mod json;
mod jsonschema;
mod mark;
mod near;
mod number;
mod part;
mod part_words;
mod problem;
mod read;
mod rule;
mod run_words;
mod sheet;
mod unit;
mod value;
mod write;

pub use assign::{find_field, reading, scalar};
pub use car_rules::{CarRules, NeedsBelow, Tuning};
pub use catalog::{Area, Kind, Schema, Template, Together, When, schema};
pub use clause_edits::{counted_from, counted_from_key, counted_from_stiff};
pub use condition::Condition;
pub use data::{air_data, columns_data, places_data, rules};
pub use doubt::{Places, SURE, about, is_about, without_doubt};
pub use edit::{Applied, Edit, Typed, apply, far_from, readings, typed, typed_again};
pub use entry::{Candidate, Choose, EntryContext, EntryError, Measured, read_entry, read_measured};
pub use expr::{Compare, Expr, LONGEST_EXPR, Term};
pub use field::{Effect, Field, Group, Noun, Ring, Role, Sides, Slot, Takes, Turn, short_label};
pub use json::{sheet_json, value_from_json, value_json};
pub use jsonschema::json_schemas;
pub use mark::{Mark, filled_back, mark_of};
pub use near::nearest;
pub use number::Num;
pub use part::{Bound, Limit, Swap, names_on, of_part, recalled, same_name, swaps};
pub use part_words::{PartWords, read_part_words};
pub use problem::Problem;
pub use read::{
    KnownParts, LARGEST_SHEET, SheetText, choice_word, flag_word, read_in_parts, read_sheet, read_values, with_unit,
};
pub use rule::{Job, Member, Rule, Severity};
pub use run_words::{RunNumber, RunWord, RunWords};
pub use sheet::{Sheet, Verdict, check_value, takes_words};
pub use unit::{Unit, Units};
pub use value::{Row, Scalar, Value};
pub use write::{inline, toml_string, unit_comment, write_sheet, write_sheet_onto};
