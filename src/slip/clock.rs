//! The times at the beginning of a notebook's lines: as written, and which half of the day is meant.

use super::moment::{Moment, read_clock};
use jiff::civil::{Date, Time};
use jiff::tz::TimeZone;

/// A time as a line of a page gives it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Clock {
    /// As written.
    pub time: Time,
    /// It can be meant in one way only: `09:05`, `14:20`, `1:15 pm`.
    pub sure: bool,
    /// Only a clock of 24 hours shows it: `14:20`, `0:30`.
    pub of_24: bool,
}

/// Whose watch a page was written by.
#[derive(Debug, Clone)]
pub enum Watch<'a> {
    /// One that is set to the time of the place.
    Zone(&'a TimeZone),
    /// One at this offset from UTC, in seconds: a day on record at another place.
    Offset(i32),
}

/// Reads `10:50`, `9:05`, `1:15pm`; `next` is the word behind it, which may be `am` or `pm`. Also whether it was used.
pub fn read(word: &str, next: Option<&str>) -> Option<(Clock, bool)> {
    let word = word.trim_end_matches([':', ',', ';', ')', '.']);
    let half = next.map(str::to_lowercase).filter(|n| matches!(n.as_str(), "am" | "pm"));
    let told = word.to_lowercase().ends_with(['m']);
    if let Some(half) = half.filter(|_| !told) {
        let time = read_clock(&format!("{word}{half}"))?;
        return Some((Clock { time, sure: true, of_24: false }, true));
    }
    let time = read_clock(word)?;
    let of_24 = !told && !(1..=12).contains(&time.hour());
    Some((Clock { time, sure: told || of_24 || word.starts_with('0'), of_24 }, false))
}

/// Minutes since the race day began.
fn minute(time: Time) -> i32 {
    (i32::from(time.hour()) * 60 + i32::from(time.minute()) - 6 * 60).rem_euclid(24 * 60)
}

/// So much earlier than the line above is a slip of the order; more would be the other half of the day.
const OUT_OF_ORDER_MINUTES: i32 = 120;

/// The times meant. A page with a time only a 24-hour clock shows is read as written; on any other, `1:15` below `12:50`
/// is the afternoon: each time is the next that goes on from the lines above.
pub fn meant(clocks: &[Clock]) -> Vec<Time> {
    let as_written = clocks.iter().any(|c| c.of_24);
    let mut latest = 0;
    let one = |clock: &Clock| {
        let mut time = clock.time;
        if !clock.sure && !as_written {
            let other = Time::new((time.hour() + 12) % 24, time.minute(), time.second(), 0).unwrap_or(time);
            let (sooner, later) = if minute(time) < minute(other) { (time, other) } else { (other, time) };
            time = if latest - minute(sooner) <= OUT_OF_ORDER_MINUTES { sooner } else { later };
        }
        latest = latest.max(minute(time));
        time
    };
    clocks.iter().map(one).collect()
}

/// The moment a watch showed a time on a race day; where clocks went back, the later one if the earlier is before `after`.
pub fn moment(day: Date, time: Time, watch: &Watch, after: Option<Moment>) -> Option<Moment> {
    let zone = match watch {
        Watch::Offset(offset) => return Moment::on_race_day(day, time, *offset),
        Watch::Zone(zone) => zone,
    };
    let date = if Moment::of_next_morning(time) { day.tomorrow().ok()? } else { day };
    let local = date.to_datetime(time);
    let first = Moment::in_zone(local, zone)?;
    if after.is_none_or(|after| first >= after) {
        return Some(first);
    }
    let second = zone.to_ambiguous_zoned_datetime(local).later().ok()?;
    let second = Moment { seconds: second.timestamp().as_second(), offset_seconds: second.offset().seconds() };
    // A time that does not exist twice (or at all) stays what it was.
    let twice = second.civil() == first.civil() && after.is_some_and(|after| second >= after);
    Some(if twice { second } else { first })
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    fn times(page: &str) -> String {
        let clocks: Vec<Clock> = page.split(", ").map(|t| read(t, None).unwrap().0).collect();
        meant(&clocks).iter().map(|t| t.strftime("%H:%M").to_string()).collect::<Vec<_>>().join(" ")
    }

    #[test]
    fn the_half_of_the_day_that_goes_on() {
        assert_eq!(times("10:50, 11:20, 12:50, 1:15, 2:05"), "10:50 11:20 12:50 13:15 14:05");
        assert_eq!(
            times("1:15, 2:05, 5:50, 6:10, 9:40, 11:55, 12:30, 1:10"),
            "13:15 14:05 17:50 18:10 21:40 23:55 00:30 01:10"
        );
        assert_eq!(times("10:50, 8:30"), "10:50 20:30", "a run under the lights");
        assert_eq!(times("9:40, 8:30"), "09:40 08:30", "an hour back is out of order");
        assert_eq!(times("09:40, 1:10, 12:50, 1:40"), "09:40 13:10 12:50 13:40", "12:50 is a little out of order");
        assert_eq!(times("9:40, 10:50, 9:50, 11:20"), "09:40 10:50 09:50 11:20");
        assert_eq!(times("12:50, 1:15pm, 2:00"), "12:50 13:15 14:00");
    }

    #[test]
    fn as_written_where_a_clock_of_24_hours_is_used() {
        assert_eq!(times("10:50, 13:10, 12:50, 1:15"), "10:50 13:10 12:50 01:15");
        assert_eq!(times("22:00, 0:30, 1:15"), "22:00 00:30 01:15");
        assert!(read("25:00", None).is_none() && read("10:5O", None).is_none() && read("1050", None).is_none());
        assert_eq!(read("1:15", Some("PM")).unwrap().0.time, Time::constant(13, 15, 0, 0));
    }

    #[test]
    fn the_night_the_clocks_go_back() {
        let zone = TimeZone::posix("CST6CDT,M3.2.0,M11.1.0").unwrap();
        let watch = Watch::Zone(&zone);
        let day = date(2026, 10, 31);
        let at = |h, m, after| moment(day, Time::constant(h, m, 0, 0), &watch, after).unwrap();
        let first = at(1, 50, None);
        let second = at(1, 10, Some(first));
        assert_eq!(
            (first.iso().as_str(), second.iso().as_str()),
            ("2026-11-01T01:50:00-05:00", "2026-11-01T01:10:00-06:00")
        );
        // Only on that night: elsewhere a time before is a time before.
        assert!(at(20, 0, Some(first)) < first);
        assert_eq!(second.race_day(), day);
    }
}
