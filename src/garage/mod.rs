//! Books: brings store text and typed values together; recording, going back, taking in a table.

mod book;
mod car;
mod change;
mod copy;
mod error;
mod hand_edit;
mod home;
mod import;
mod line;
mod mend;
mod message;
mod name;
mod now;
mod oops;
mod open;
mod outline;
mod part;
mod part_life;
mod part_limits;
mod part_record;
mod parts;
mod place;
mod record;
mod revert;
mod run;
mod who;

pub use book::{Book, History, Made};
pub use car::{Car, Owner};
pub use change::{Changed, Wanted, change, is_late, preview, refuse_late, stale_after};
pub use copy::{CopyMade, Form, Since, Target, copy, copy_target, folder_in, last_copy, records_since};
pub use error::{Error, Result};
pub use hand_edit::{HandEdits, edited_sheet, hand_edits, preview_sheet, save_files, save_sheet};
pub use home::{CarName, Home, car_names, home};
pub use import::{ImportOptions, Imported, import};
pub use mend::{Carried, Fix, Moved, Plan, Span, carry_out, confirmed, plan, run_named};
pub use message::Message;
pub use name::version_named;
pub use now::{OnCar, days_back, last_run, now, on_car_at};
pub use oops::{Last, Moves, last, move_to, sentence, take_back, to_move};
pub use open::{NewCar, new_book};
pub use part::{Gone, Part, name_fault};
pub use part_life::{FittedSpan, PartLife, fitted_passes, part_lives};
pub use part_limits::{LimitTold, over_limits};
pub use part_record::{PartChange, record_part};
pub use parts::{Brought, PartMoved, bring_along, car_with, last_said, leave_gone};
pub use place::{Garage, LastCopy, Settings, read_small};
pub use record::Written;
pub use revert::{Back, Scope, areas, back_to};
pub use run::{AtDay, DayFacts, Ran, RunWanted, find_day, made_on, run};
pub use who::Hand;

/// How records are written; given through so that callers need not know the store.
pub use crate::store::{Options, StoreError};
