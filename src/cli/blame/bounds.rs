//! What is asked of the model has a bound: its matrices grow with the square of the setups.

use crate::garage::{Error, Result};
use crate::pace::Seen;
use crate::slip::Moment;
use crate::timeline::Timeline;
use std::collections::BTreeMap;

/// More distinct setups run than this are refused: the matrices of the model hold a number for every two of them, and are
/// solved in the cube of that.
pub const MOST_SETUPS: usize = 1_500;

/// Refuses a book of more distinct setups than the model takes, with the day from which on it would do.
pub fn refuse_too_many(
    timeline: &Timeline,
    runs: &[Seen],
    (since, until): (Option<jiff::civil::Date>, Option<jiff::civil::Date>),
) -> Result<()> {
    let asked = |s: &&Seen| since.is_none_or(|d| s.day.date >= d) && until.is_none_or(|d| s.day.date <= d);
    let ran = runs.iter().filter(asked).map(|s| (s.day.date, timeline.versions[s.version].mark));
    let Some((setups, from)) = too_many(ran, MOST_SETUPS) else { return Ok(()) };
    let from = Moment::day_words(from, None);
    Err(Error::usage(
        format!("{setups} different setups were run in that time: blame weighs {MOST_SETUPS} at most"),
        format!("only the later ones: slipbook blame --since \"{from}\""),
    ))
}

/// How many setups there are, where there are more than `most`, and the first day from which on there are no more.
fn too_many<M: Ord + Copy>(
    ran: impl Iterator<Item = (jiff::civil::Date, M)>,
    most: usize,
) -> Option<(usize, jiff::civil::Date)> {
    let mut last: BTreeMap<M, jiff::civil::Date> = BTreeMap::new();
    for (day, mark) in ran {
        let at = last.entry(mark).or_insert(day);
        *at = day.max(*at);
    }
    // A setup is in the time asked about as long as its last run is.
    let mut days: Vec<jiff::civil::Date> = last.into_values().collect();
    days.sort_unstable();
    let over = days.len().checked_sub(most).filter(|n| *n > 0)?;
    let tomorrow = |d: jiff::civil::Date| d.tomorrow().unwrap_or(d);
    Some((days.len(), tomorrow(days[over - 1])))
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    #[test]
    fn the_day_from_which_on_it_would_do() {
        let day = |d: i8| date(2026, 5, d);
        let ran = [(1, 'a'), (1, 'b'), (2, 'c'), (3, 'a'), (4, 'd')].map(|(d, m)| (day(d), m));
        assert_eq!(too_many(ran.into_iter(), 4), None);
        // b ran last on the 1st, c on the 2nd; a was run once more on the 3rd.
        assert_eq!(too_many(ran.into_iter(), 3), Some((4, day(2))));
        assert_eq!(too_many(ran.into_iter(), 2), Some((4, day(3))));
        assert_eq!(too_many(std::iter::empty::<(jiff::civil::Date, char)>(), 2), None);
    }

    /// A season has some dozens: what is refused is no book a racer keeps.
    #[test]
    fn the_bound_is_far_beyond_a_season() {
        let ran =
            (0..MOST_SETUPS + 1).map(|m| (date(2026, 5, 1).saturating_add(jiff::Span::new().days(m as i64 / 3)), m));
        assert_eq!(too_many(ran.clone().take(MOST_SETUPS), MOST_SETUPS), None);
        assert_eq!(too_many(ran, MOST_SETUPS).map(|t| t.0), Some(MOST_SETUPS + 1));
    }
}
