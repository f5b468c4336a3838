//! Books: brings store text and typed values together; recording, going back, taking in a table.

mod air;
mod book;
mod car;
mod change;
mod copy;
mod day;
mod derived;
mod error;
mod hand_edit;
mod home;
mod import;
mod join;
mod kept_stale;
mod line;
mod measure;
mod mend;
mod message;
mod name;
mod now;
mod oops;
mod open;
mod outline;
mod owner;
mod page;
mod part;
mod part_life;
mod part_limits;
mod part_record;
mod parts;
mod place;
mod receive;
mod record;
mod revert;
mod run;
mod sound;
mod trial;
mod verify;
mod who;

pub use air::{AirDone, AirGone, AirWanted, REPLACE_HELP, air, air_never, at_odds, at_odds_words, by_the_day};
pub use book::{Book, History, Made};
pub use car::{Car, Owner};
pub use change::{Changed, Wanted, change, is_late, preview, refuse_late, stale_after};
pub use copy::{CopyMade, Form, Since, Target, copy, copy_target, folder_in, last_copy, records_since};
pub use day::{Amend, Event, Shown, Sum, amend, closed_day, days_on, shown};
pub use error::{Error, Result};
pub use hand_edit::{HandEdits, edited_sheet, hand_edits, preview_sheet, save_files, save_sheet};
pub use home::{CarName, Home, car_names, home};
pub use import::{ImportOptions, Imported, import};
pub use join::{
    Counts, Decide, Decided, How, JoinPlan, JoinWanted, NewNumber, Question, Which, carry_out_join, find_other,
    plan_join,
};
pub use measure::{AsIf, measured, moved_as_if, moved_at, stale_at, stale_now};
pub use mend::{Carried, Fix, Moved, Plan, STEPS_HELP, Span, carry_out, plan};
pub use message::Message;
pub use name::{also_called, run_named, version_named};
pub use now::{OnCar, days_back, last_run, now, on_car_at};
pub use oops::{Last, Moves, last, move_to, sentence, take_back, to_move};
pub use open::{NewCar, new_book};
pub use owner::{NewOwner, record_owner};
pub use page::{AirRead, Came, LineDone, PageDone, PageWanted, take_page};
pub use part::{Gone, Part, name_fault};
pub use part_life::{FittedSpan, PartLife, fitted_passes, part_lives};
pub use part_limits::{LimitTold, limits_on, over_limits};
pub use part_record::{PartChange, record_part};
pub use parts::{Brought, PartMoved, bring_along, car_with, last_said, leave_gone};
pub use place::{Garage, LastCopy, Settings, read_small};
pub use receive::{CameIn, ReceiveWanted, Received, receive};
pub use record::Written;
pub use revert::{Back, Scope, areas, back_to, is_of_engine};
pub use run::{AtDay, DayFacts, Ran, RunWanted, find_day, made_on, run};
pub use sound::{Harm, Sound, Wrong, book_path};
pub use trial::{end_trial, refuse_ended, start_trial, trial_named, trials};
pub use verify::{Against, Stands, Verified, verify};
pub use who::{CLOCKS_DIFFER_S, Hand};

/// How records are written; given through so that callers need not know the store.
pub use crate::store::{ContentId, Limits, Options, StoreError};
