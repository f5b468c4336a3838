//! Runs, days, time slips: from what is typed, from a notebook's page, from a day file, from a season table.

mod air;
mod air_means;
mod air_words;
mod barometer;
mod clock;
mod day;
mod edit;
mod facts;
mod moment;
mod notebook;
mod report;
mod response;
mod run;
mod run_air;
mod table;
mod table_row;
mod text;
mod typed;

pub use air::{AirTyped, header_unit, read_air};
pub use air_means::AirMeans;
pub use air_words::{numbers_words, reading_words};
pub use barometer::{AirMeant, AirRefused, Barometer, air_faults, barometer_meant};
pub use clock::Watch;
pub use day::{Day, LONGEST_REPORT, Reading, day_of_path, slug};
pub use edit::{edit_day, edit_runs, remove_readings, remove_run, replace_readings};
pub use facts::with_facts;
pub use moment::{Moment, read_clock, read_day, read_when};
pub use notebook::{LARGEST_PAGE, Line, MOST_LINES, Notebook, Said, read_line, read_notebook};
pub use report::{Report, read_report, report_ahead, report_moment};
pub use response::Response;
pub use run::{Beam, MPH_PER_FPS, Run, mph_between};
pub use run_air::{RunAir, TrackThen};
pub use table::{CellError, Column, TableRow, columns, read_table};
pub use text::{LARGEST_DAY, all_faults, insert_reading, insert_run, read_day_text, reading_faults, write_day};
pub use typed::{SlipError, lane_word, read_said, read_slip, run_word};
