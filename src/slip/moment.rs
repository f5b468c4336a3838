//! A moment as a racer's watch shows it: an instant with the offset of the place.

use jiff::civil::{Date, DateTime, Time};
use jiff::tz::{Offset, TimeZone};
use jiff::{SignedDuration, Timestamp, ToSpan};
use std::fmt;

/// An instant and the local offset from UTC, to the second. Ordered by the instant.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Moment {
    /// Seconds since 1970-01-01T00:00Z.
    pub seconds: i64,
    /// Local time minus UTC, in seconds.
    pub offset_seconds: i32,
}

/// A race day lasts until this hour of the next morning.
const DAY_ENDS_HOUR: i64 = 6;

impl Moment {
    /// From a local date and time at a known offset; `None` beyond the years 1 to 9999.
    pub fn from_civil(local: DateTime, offset_seconds: i32) -> Option<Moment> {
        let offset = Offset::from_seconds(offset_seconds).ok()?;
        let seconds = offset.to_timestamp(local).ok()?.as_second();
        Some(Moment { seconds, offset_seconds })
    }

    /// From a local date and time in a time zone (the earlier of two when clocks go back).
    pub fn in_zone(local: DateTime, zone: &TimeZone) -> Option<Moment> {
        let zoned = zone.to_ambiguous_zoned_datetime(local).compatible().ok()?;
        Some(Moment { seconds: zoned.timestamp().as_second(), offset_seconds: zoned.offset().seconds() })
    }

    /// From an instant in a time zone.
    pub fn at(seconds: i64, zone: &TimeZone) -> Option<Moment> {
        let t = Timestamp::from_second(seconds).ok()?;
        Some(Moment { seconds, offset_seconds: zone.to_offset(t).seconds() })
    }

    /// The local date and time.
    pub fn civil(self) -> DateTime {
        let offset = Offset::from_seconds(self.offset_seconds).unwrap_or(Offset::UTC);
        Timestamp::from_second(self.seconds).map_or(DateTime::MIN, |t| offset.to_datetime(t))
    }

    /// The race day it falls in: until 06:00 it is still the day before.
    pub fn race_day(self) -> Date {
        let civil = self.civil();
        civil.checked_sub(DAY_ENDS_HOUR.hours()).map_or(civil.date(), DateTime::date)
    }

    /// Whether a race day's clock shows this time on the morning after.
    pub fn of_next_morning(time: Time) -> bool {
        i64::from(time.hour()) < DAY_ENDS_HOUR
    }

    /// The moment on a race day at which the clock showed `time`.
    pub fn on_race_day(day: Date, time: Time, offset_seconds: i32) -> Option<Moment> {
        let late = i64::from(time.hour()) < DAY_ENDS_HOUR;
        let date = if late { day.tomorrow().ok()? } else { day };
        Moment::from_civil(date.to_datetime(time), offset_seconds)
    }

    /// Seconds from `earlier` to this.
    pub fn since(self, earlier: Moment) -> SignedDuration {
        SignedDuration::from_secs(self.seconds - earlier.seconds)
    }

    /// This moment, later by some seconds.
    pub fn plus(self, seconds: i64) -> Moment {
        Moment { seconds: self.seconds + seconds, ..self }
    }

    /// `Aug 22`, with the year where it is not `year`.
    pub fn day_words(date: Date, year: Option<i16>) -> String {
        let form = if year == Some(date.year()) { "%b %d" } else { "%b %d %Y" };
        date.strftime(form).to_string()
    }

    /// `Aug 22 14:20`, with the year where it is not `year`.
    pub fn words(self, year: Option<i16>) -> String {
        let civil = self.civil();
        format!("{} {}", Moment::day_words(civil.date(), year), civil.strftime("%H:%M"))
    }

    /// `2026-08-22T14:20:00-05:00`.
    pub fn iso(self) -> String {
        let (sign, s) = (if self.offset_seconds < 0 { '-' } else { '+' }, self.offset_seconds.abs());
        format!("{}{sign}{:02}:{:02}", self.civil().strftime("%Y-%m-%dT%H:%M:%S"), s / 3600, s % 3600 / 60)
    }
}

impl std::str::FromStr for Moment {
    type Err = ();

    /// Reads what [`Moment::iso`] writes.
    fn from_str(text: &str) -> Result<Moment, ()> {
        let seconds = text.parse::<Timestamp>().map_err(|_| ())?.as_second();
        let tail = text.get(text.len().saturating_sub(6)..).ok_or(())?;
        let part = |i: usize| tail.get(i..i + 2)?.parse::<i32>().ok();
        let (h, m) = part(1).zip(part(4)).ok_or(())?;
        let offset = h * 3600 + m * 60;
        let offset_seconds = match tail.as_bytes().first() {
            Some(b'+') => offset,
            Some(b'-') => -offset,
            _ => return Err(()),
        };
        Ok(Moment { seconds, offset_seconds })
    }
}

impl fmt::Debug for Moment {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.iso())
    }
}

impl serde::Serialize for Moment {
    /// ISO 8601 for people; two numbers where nobody reads it (caches).
    fn serialize<S: serde::Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
        if s.is_human_readable() {
            s.serialize_str(&self.iso())
        } else {
            (self.seconds, self.offset_seconds).serialize(s)
        }
    }
}

impl<'de> serde::Deserialize<'de> for Moment {
    /// Only the compact form: nothing reads moments back from JSON.
    fn deserialize<D: serde::Deserializer<'de>>(d: D) -> Result<Moment, D::Error> {
        <(i64, i32)>::deserialize(d).map(|(seconds, offset_seconds)| Moment { seconds, offset_seconds })
    }
}

/// Reads what a person types for a time, against `now`: `14:20`, `sat 12:15`, `jul 11 12:15`, `2026-07-11 12:15`,
/// `yesterday 14:00`. The error says what is wrong and what would be right.
pub fn read_when(text: &str, now: Moment, zone: &TimeZone) -> Result<Moment, String> {
    // As `export` and JSON have it, offset and all.
    if let Ok(at) = text.trim().parse::<Moment>() {
        return Ok(at);
    }
    let said = text.trim().replace(['T', ','], " ");
    let said = said.replace(" am", "am").replace(" pm", "pm").replace(" AM", "am").replace(" PM", "pm");
    let words: Vec<&str> = said.split_whitespace().collect();
    let forms = "a time is `14:20`, `sat 12:15`, `jul 11 12:15` or `2026-07-11 12:15`";
    let Some((clock, day)) = words.split_last() else { return Err(format!("no time was given; {forms}")) };
    let Some(time) = read_clock(clock) else {
        if read_day(text, now).is_some() {
            return Err(format!("`{text}` is a date without its time; {forms}"));
        }
        return Err(format!("`{text}` is no time; {forms}"));
    };
    let date = match day {
        [] => None,
        // A racer's today has this clock once: past midnight it is the morning after.
        [today] if today.eq_ignore_ascii_case("today") => None,
        day => Some(read_day(&day.join(" "), now).ok_or_else(|| format!("`{}` is no date; {forms}", day.join(" ")))?),
    };
    let local = match date {
        Some(date) => date.to_datetime(time),
        // A bare clock time is of the race day at hand.
        None => {
            let day = now.race_day();
            let late = i64::from(time.hour()) < DAY_ENDS_HOUR;
            let date = if late { day.tomorrow().map_err(|e| e.to_string())? } else { day };
            date.to_datetime(time)
        }
    };
    Moment::in_zone(local, zone).ok_or_else(|| format!("`{text}` is beyond the years 1 to 9999"))
}

/// `14:20`, `14:20:30`, `9:05`, and as slips print it: `9:40 pm`, `9:40PM`.
pub fn read_clock(text: &str) -> Option<Time> {
    let lower = text.trim().to_lowercase();
    let half = |suffix: &str| lower.strip_suffix(suffix).map(str::trim_end);
    if let Some((clock, afternoon)) = half("am").map(|c| (c, false)).or(half("pm").map(|c| (c, true))) {
        let t = read_clock(clock).filter(|t| (1..=12).contains(&t.hour()))?;
        return Time::new(t.hour() % 12 + if afternoon { 12 } else { 0 }, t.minute(), t.second(), 0).ok();
    }
    let text = text.trim();
    let mut parts = text.split(':');
    let mut next = || parts.next().filter(|p| (1..=2).contains(&p.len()))?.parse::<i8>().ok();
    let (h, m) = (next()?, next()?);
    let s = if text.matches(':').count() == 2 { next()? } else { 0 };
    (text.matches(':').count() <= 2).then(|| Time::new(h, m, s, 0).ok())?
}

/// A whole date: `2026-07-11`, or as US spreadsheets write it, `7/11/2026`.
pub fn read_date(text: &str) -> Option<Date> {
    if let Ok(date) = text.trim().parse::<Date>() {
        return Some(date);
    }
    let mut parts = text.trim().split('/');
    let (m, d, y) = (parts.next()?.parse().ok()?, parts.next()?.parse().ok()?, parts.next()?);
    (parts.next().is_none() && y.len() == 4).then(|| Date::new(y.parse().ok()?, m, d).ok())?
}

/// A date a person types: `2026-07-11`, `jul 11`, `jul 11 2026`, `sat` (the last one), `today`, `yesterday`.
///
/// A date without its year and a day of the week are the latest that the clock has begun: at 00:05 on Nov 27 `nov 27` is
/// that day, though the race day is still the one before, and `today` is that one.
pub fn read_day(text: &str, now: Moment) -> Option<Date> {
    let text = text.trim().to_lowercase();
    let today = now.civil().date();
    match text.as_str() {
        "today" | "now" => return Some(now.race_day()),
        "yesterday" => return now.race_day().yesterday().ok(),
        _ => {}
    }
    if let Some(date) = read_date(&text) {
        return Some(date);
    }
    let days = ["mon", "tue", "wed", "thu", "fri", "sat", "sun"];
    if let Some(i) = days.iter().position(|d| text.starts_with(d) && text.len() <= 9 && !text.contains(' ')) {
        let back = (i64::from(today.weekday().to_monday_zero_offset()) - i as i64).rem_euclid(7);
        return today.checked_sub(back.days()).ok();
    }
    let words: Vec<&str> = text.split_whitespace().collect();
    let (m, d, y) = match words.as_slice() {
        [m, d] => (month(m)?, d.parse().ok()?, None),
        [m, d, y] => (month(m)?, d.parse().ok()?, Some(y.parse::<i16>().ok()?)),
        _ => return None,
    };
    match y {
        Some(y) => Date::new(y, m, d).ok(),
        // "dec 30" said in January is last year's; feb 29 may be eight years back.
        None => (0..=8).find_map(|back| Date::new(today.year() - back, m, d).ok().filter(|date| *date <= today)),
    }
}

/// The number of a month, by its name or the beginning of it, in small letters.
fn month(word: &str) -> Option<i8> {
    let months = ["jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec"];
    months.iter().position(|m| word.starts_with(m)).map(|i| i as i8 + 1)
}

/// Whether a text is the name of a month and no more.
pub fn is_month(text: &str) -> bool {
    let text = text.trim().to_lowercase();
    let names = ["january", "february", "march", "april", "may", "june", "july", "august"];
    let names = names.into_iter().chain(["september", "october", "november", "december", "sept"]);
    text.len() >= 3 && names.into_iter().any(|name| name == text || text.len() == 3 && name.starts_with(&text))
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    fn now() -> Moment {
        // A Saturday.
        Moment::from_civil(date(2026, 8, 22).at(14, 20, 0, 0), -5 * 3600).unwrap()
    }

    #[test]
    fn a_day_lasts_until_six() {
        let late = Moment::from_civil(date(2026, 8, 23).at(5, 59, 59, 0), -18_000).unwrap();
        assert_eq!(late.race_day(), date(2026, 8, 22));
        assert_eq!(late.plus(1).race_day(), date(2026, 8, 23));
        let back = Moment::on_race_day(date(2026, 8, 22), late.civil().time(), -18_000).unwrap();
        assert_eq!(back, late);
    }

    #[test]
    fn iso_is_read_back() {
        for text in ["2026-08-22T14:20:00-05:00", "2026-12-31T23:59:59+05:30"] {
            assert_eq!(text.parse::<Moment>().unwrap().iso(), text);
        }
        for text in ["", "2026-08-22", "2026-08-22T14:20:00Z", "é-05:00"] {
            assert!(text.parse::<Moment>().is_err(), "{text}");
        }
    }

    #[test]
    fn times_as_people_say_them() {
        let zone = TimeZone::fixed(Offset::from_seconds(-18_000).unwrap());
        let read = |t: &str| read_when(t, now(), &zone).map(|m| m.iso());
        assert_eq!(read("9:05").unwrap(), "2026-08-22T09:05:00-05:00");
        assert_eq!(read("00:30").unwrap(), "2026-08-23T00:30:00-05:00");
        assert_eq!(read("thu 12:15").unwrap(), "2026-08-20T12:15:00-05:00");
        assert_eq!(read("jul 11 12:15").unwrap(), "2026-07-11T12:15:00-05:00");
        assert_eq!(read("2026-07-11T12:15").unwrap(), "2026-07-11T12:15:00-05:00");
        assert!(read("2026-07-11").unwrap_err().contains("without its time"));
        for half in ["2026-07 12:15", "25:00", "12", "", "foo 12:15", "1:2:3:4"] {
            assert!(read(half).is_err(), "{half}");
        }
    }

    #[test]
    fn past_midnight_a_date_is_the_one_the_clock_shows() {
        let zone = TimeZone::fixed(Offset::from_seconds(-18_000).unwrap());
        // The night of Thursday's racing; the clock shows Friday.
        let now = Moment::from_civil(date(2026, 11, 27).at(0, 5, 0, 0), -18_000).unwrap();
        for said in ["nov 27 00:01", "fri 00:01", "00:01", "today 00:01"] {
            assert_eq!(read_when(said, now, &zone).unwrap().iso(), "2026-11-27T00:01:00-05:00", "{said}");
        }
        let days = [("nov 27", (2026, 11, 27)), ("nov 28", (2025, 11, 28)), ("thu", (2026, 11, 26))];
        for (said, (y, m, d)) in days.into_iter().chain([("today", (2026, 11, 26)), ("feb 29", (2024, 2, 29))]) {
            assert_eq!(read_day(said, now), Some(date(y, m, d)), "{said}");
        }
    }
}
