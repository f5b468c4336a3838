//! Books: brings store text and typed values together; recording, going back, taking in a table.

mod book;
mod car;
mod change;
mod error;
mod hand_edit;
mod import;
mod kept_stale;
mod line;
mod measure;
mod message;
mod name;
mod now;
mod open;
mod outline;
mod place;
mod record;
mod revert;
mod run;
mod who;

pub use book::{Book, History, Made};
pub use car::{Car, Owner};
pub use change::{Changed, Wanted, change, preview, refuse_late, stale_after};
pub use error::{Error, Result};
pub use hand_edit::{HandEdits, edited_sheet, hand_edits, preview_sheet, save_files, save_sheet};
pub use import::{ImportOptions, Imported, import};
pub use measure::{always, measured, stale_at, stale_now};
pub use message::Message;
pub use name::version_named;
pub use now::{OnCar, days_back, now, on_car_at};
pub use open::{NewCar, new_book};
pub use place::{Garage, Settings, read_small};
pub use record::Written;
pub use revert::{Back, Scope, areas, back_to};
pub use run::{AtDay, DayFacts, Ran, RunWanted, find_day, made_on, run};
pub use who::Hand;

/// How records are written; given through so that callers need not know the store.
pub use crate::store::{Options, StoreError};
