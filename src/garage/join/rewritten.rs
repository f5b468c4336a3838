//! Two books without a record in common that tell of the same runs: one is a rewritten copy of the other (handed over
//! without some of it), or was made from its table. Joined as two books of one car, everything would stand twice.

use super::super::history::History;
use super::super::{Error, Result};
use std::collections::HashSet;

/// What two books both tell of.
pub(super) struct Twice {
    /// Versions of one number and one time.
    pub versions: usize,
    /// Versions of the other book.
    pub of_versions: usize,
    /// Runs of one id: no two runs ever get the same.
    pub runs: usize,
    /// Runs of the other book.
    pub of_runs: usize,
}

/// Compares them.
pub(super) fn twice(here: &History, there: &History) -> Twice {
    let version = |h: &History| -> HashSet<(String, i64)> {
        h.timeline.versions.iter().map(|v| (v.number.to_string(), v.entry.at.seconds)).collect()
    };
    let runs: HashSet<&str> = here.runs.iter().map(|m| m.run.id.as_str()).collect();
    Twice {
        versions: version(here).intersection(&version(there)).count(),
        of_versions: there.timeline.versions.len(),
        runs: there.runs.iter().filter(|m| runs.contains(m.run.id.as_str())).count(),
        of_runs: there.runs.len(),
    }
}

impl Twice {
    /// Whether that is no chance. Of a book without runs, its versions say so: two books that are begun in one minute have
    /// one version alike.
    fn is_one_book(&self) -> bool {
        self.runs > 0 || (self.versions > 1 && self.versions * 2 >= self.of_versions)
    }
}

/// Refuses to join them.
pub(super) fn refuse_twice(twice: &Twice, called: &str, car: &str) -> Result<()> {
    if !twice.is_one_book() {
        return Ok(());
    }
    let Twice { versions, of_versions, runs, of_runs } = twice;
    let message = format!(
        "{called} is a rewritten copy of the book of {car} (handed over without some of it, or made from its table): \
         {versions} of its {of_versions} versions and {runs} of its {of_runs} runs are here already and would stand \
         twice; nothing was changed"
    );
    let help = format!(
        "what is new there: slipbook export --to DIR in that book, and of season.csv the header and the new rows, each \
         with its date and track, for slipbook import here; or slipbook receive {called} --as NAME keeps it as a book of \
         its own"
    );
    Err(Error::data(message, help))
}
