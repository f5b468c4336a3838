//! A count on the terminal of what takes longer than half a second.

use indicatif::ProgressBar;
use std::cell::RefCell;
use std::time::{Duration, Instant};

/// Nothing is drawn before.
const SLOW: Duration = Duration::from_millis(500);

/// The count.
pub struct Counting {
    began: Instant,
    drawn: bool,
    bar: RefCell<Option<ProgressBar>>,
}

impl Counting {
    /// Begins; nothing is ever drawn where it is not wanted.
    pub fn new(drawn: bool) -> Counting {
        Counting { began: Instant::now(), drawn, bar: RefCell::new(None) }
    }

    /// So many are done.
    pub fn at(&self, n: usize) {
        if self.drawn && self.began.elapsed() > SLOW {
            self.bar.borrow_mut().get_or_insert_with(ProgressBar::no_length).set_position(n as u64);
        }
    }

    /// Takes it off the screen.
    pub fn done(&self) {
        if let Some(bar) = self.bar.borrow_mut().take() {
            bar.finish_and_clear();
        }
    }
}
