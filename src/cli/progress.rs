//! How far a long job is, on stderr, where that is a terminal and the job takes its time.

use super::ui::Ui;
use std::cell::RefCell;
use std::time::{Duration, Instant};

/// Progress is drawn of what takes longer than this.
const SLOW: Duration = Duration::from_millis(500);

/// A count that is drawn. Dropping it clears the line.
pub struct Progress {
    began: Instant,
    drawn: bool,
    bar: RefCell<Option<indicatif::ProgressBar>>,
}

impl Progress {
    /// Of a job that begins now.
    pub fn new(ui: &Ui) -> Progress {
        Progress { began: Instant::now(), drawn: ui.progress(), bar: RefCell::new(None) }
    }

    /// So many are done.
    pub fn at(&self, n: usize) {
        if self.drawn && self.began.elapsed() > SLOW {
            self.bar.borrow_mut().get_or_insert_with(indicatif::ProgressBar::no_length).set_position(n as u64);
        }
    }

    /// Takes it off the screen: the job is done, or something is asked.
    pub fn done(&self) {
        if let Some(bar) = self.bar.take() {
            bar.finish_and_clear();
        }
    }
}

impl Drop for Progress {
    fn drop(&mut self) {
        self.done();
    }
}
