//! What is wrong in a file or an entry: the rule, the place, what would be right.

use std::ops::Range;

/// One problem. All problems of a file are told, not the first.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Problem {
    /// What is wrong.
    pub message: String,
    /// Where, in bytes of the text.
    pub span: Option<Range<usize>>,
    /// What would be right.
    pub help: Option<String>,
    /// Only outside the usual range: taken when the racer says so.
    pub unusual: bool,
}

impl Problem {
    /// A problem at a place.
    pub fn at(span: Option<Range<usize>>, message: impl Into<String>) -> Problem {
        Problem { message: message.into(), span, help: None, unusual: false }
    }

    /// With what would be right.
    pub fn help(mut self, help: impl Into<String>) -> Problem {
        self.help = Some(help.into());
        self
    }

    /// Marked as merely unusual.
    pub fn unusual(mut self) -> Problem {
        self.unusual = true;
        self
    }
}
