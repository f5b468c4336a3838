//! Who writes, and when: the identity and the clock come from outside, never from the environment.

use crate::slip::Moment;
use crate::store::{Person, Stamp};

/// A wrist watch may be this far ahead of the machine's clock, s.
pub const CLOCKS_DIFFER_S: i64 = 3600;

/// The hand that writes a record and the moment it does.
#[derive(Debug, Clone)]
pub struct Hand {
    /// Who.
    pub by: String,
    /// Now.
    pub now: Moment,
}

impl Hand {
    /// For the store. The address is a form git wants; it is nobody's.
    pub fn person(&self) -> Person {
        person(&self.by)
    }
}

/// A name as the store wants it.
pub fn person(name: &str) -> Person {
    let clean: String = name.chars().filter(|c| !c.is_control() && !matches!(c, '<' | '>')).collect();
    let name = clean.trim();
    let name = if name.is_empty() { "unknown" } else { name }.to_owned();
    Person { name, email: "slipbook@localhost".to_owned() }
}

/// A moment as the store wants it.
pub fn stamp(moment: Moment) -> Stamp {
    Stamp { seconds: moment.seconds, offset_seconds: moment.offset_seconds }
}

/// A moment from the store.
pub fn moment(stamp: Stamp) -> Moment {
    Moment { seconds: stamp.seconds, offset_seconds: stamp.offset_seconds }
}
