//! How much of a stranger's file is read before it is refused: counted before room is made for anything.
use std::path::{Path, PathBuf};
use std::time::Duration;

use super::{Clock, MAX_FILE, StoreError};

/// Limits of what is taken in. The defaults are far beyond a book of 20,000 records and far below what hurts a laptop.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Limits {
    /// Bytes of all files that are read.
    pub file_bytes: u64,
    /// Objects, needed or not.
    pub objects: u64,
    /// Bytes of all objects, unpacked: sizes as they are declared, and what differences are declared to make; each counts
    /// once as it is unpacked and once in every place where it is read, so that it is the work that is bounded.
    pub total_bytes: u64,
    /// Different files of all records together.
    pub files: usize,
    /// How long it may take until it is known whether it can be taken in.
    pub time: Duration,
}

impl Default for Limits {
    fn default() -> Limits {
        Limits {
            file_bytes: 512 << 20,
            objects: 500_000,
            total_bytes: 2 << 30,
            files: 500_000,
            time: Duration::from_secs(180),
        }
    }
}

/// What is left of the limits.
pub(super) struct Budget<'a> {
    from: PathBuf,
    limits: Limits,
    file_bytes: u64,
    objects: u64,
    total_bytes: u64,
    clock: Clock,
    tell: &'a dyn Fn(usize),
    steps: usize,
}

impl<'a> Budget<'a> {
    /// For what is read from `from`; `tell` is called with a count that goes up.
    pub(super) fn new(from: &Path, limits: Limits, tell: &'a dyn Fn(usize)) -> Budget<'a> {
        let Limits { file_bytes, objects, total_bytes, .. } = limits;
        Budget {
            from: from.into(),
            limits,
            file_bytes,
            objects,
            total_bytes,
            clock: Clock::start(from, limits.time),
            tell,
            steps: 0,
        }
    }

    /// The same by a clock that began before.
    pub(super) fn by(self, clock: &Clock) -> Budget<'a> {
        Budget { clock: clock.clone(), ..self }
    }

    /// A refusal of the whole.
    pub(super) fn refuse(&self, why: impl Into<String>) -> StoreError {
        StoreError::Refused { path: self.from.clone(), why: why.into() }
    }

    /// A file of so many bytes is about to be read.
    pub(super) fn file(&mut self, bytes: u64) -> Result<(), StoreError> {
        self.file_bytes = self.file_bytes.checked_sub(bytes).ok_or_else(|| {
            self.refuse(format!("it is larger than {} bytes, the most that is taken in", self.limits.file_bytes))
        })?;
        Ok(())
    }

    /// So many objects are announced.
    pub(super) fn objects(&mut self, n: u64) -> Result<(), StoreError> {
        self.objects = self.objects.checked_sub(n).ok_or_else(|| {
            self.refuse(format!(
                "it says it holds more than {} objects, the most that are taken in",
                self.limits.objects
            ))
        })?;
        Ok(())
    }

    /// An object is declared to unpack to so many bytes.
    pub(super) fn object(&mut self, bytes: u64) -> Result<(), StoreError> {
        if bytes > MAX_FILE {
            return Err(self.refuse(format!(
                "an object in it says it unpacks to {bytes} bytes; the most a book may hold in one file is {MAX_FILE}"
            )));
        }
        self.total_bytes = self
            .total_bytes
            .checked_sub(bytes)
            .ok_or_else(|| self.refuse(format!("it would unpack to more than {} bytes", self.limits.total_bytes)))?;
        self.step()
    }

    /// One thing more is done: stops where the time is up.
    pub(super) fn step(&mut self) -> Result<(), StoreError> {
        self.steps += 1;
        (self.tell)(self.steps);
        self.clock.check()
    }

    /// The clock, for what is done after the walk.
    pub(super) fn clock(&self) -> &Clock {
        &self.clock
    }

    /// The most different files.
    pub(super) fn files(&self) -> usize {
        self.limits.files
    }
}
