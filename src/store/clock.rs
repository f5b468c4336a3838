//! How long a stranger's book may take: from its first byte until it is known whether it can be taken in.
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::{Duration, Instant};

use super::StoreError;

/// A clock that runs while a stranger's book is looked at; its clones are one clock.
///
/// Each object that is read from such a book looks at it, and so does each step of the walk over its file. What is done
/// with one's own book meanwhile, and what somebody is asked, does not count.
#[derive(Debug, Clone)]
pub struct Clock {
    from: PathBuf,
    limit: Duration,
    began: Instant,
    /// Milliseconds that do not count.
    off: Arc<AtomicU64>,
}

impl Clock {
    /// Begins now, for what comes from `from`.
    pub fn start(from: &Path, limit: Duration) -> Clock {
        Clock { from: from.into(), limit, began: Instant::now(), off: Arc::default() }
    }

    /// The error that refuses the whole, once the time is up.
    pub fn check(&self) -> Result<(), StoreError> {
        let off = Duration::from_millis(self.off.load(Ordering::Relaxed));
        if self.began.elapsed().saturating_sub(off) <= self.limit {
            return Ok(());
        }
        let why = format!("reading it took longer than {} s", self.limit.as_secs());
        Err(StoreError::Refused { path: self.from.clone(), why })
    }

    /// Does what does not count.
    pub fn paused<T>(&self, what: impl FnOnce() -> T) -> T {
        let began = Instant::now();
        let done = what();
        let took = u64::try_from(began.elapsed().as_millis()).unwrap_or(u64::MAX);
        let more = |off: u64| Some(off.saturating_add(took));
        let _ = self.off.fetch_update(Ordering::Relaxed, Ordering::Relaxed, more);
        done
    }

    /// Ends it: all is known, and what is written from here on takes its time.
    pub fn end(&self) {
        self.off.store(u64::MAX, Ordering::Relaxed);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_what_counts_counts() {
        let pause = Duration::from_millis(60);
        let clock = Clock::start(Path::new("x"), Duration::from_millis(50));
        clock.clone().paused(|| std::thread::sleep(pause));
        assert!(clock.check().is_ok());
        std::thread::sleep(pause);
        assert!(clock.check().unwrap_err().to_string().contains("took longer"));
        clock.clone().end();
        assert!(clock.check().is_ok());
    }
}
