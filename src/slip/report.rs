//! A weather report as a reading: its numbers in the trade's units, its time by the calendar.

use super::day::{LONGEST_REPORT, Reading};
use super::moment::Moment;
use crate::air::fahrenheit;
use crate::air::metar::{Metar, read_metar};
use crate::schema::Num;
use jiff::ToSpan;
use jiff::civil::Time;
use jiff::tz::TimeZone;

/// A report, read.
#[derive(Debug, Clone, PartialEq)]
pub struct Report {
    /// Its reading, with its text; the time is set by who knows the day's clock.
    pub reading: Reading,
    /// Day of the month, hour and minute, UTC, where it gives them.
    pub time: Option<(u8, u8, u8)>,
}

/// Reads a report. The error says what is wrong and what would be right.
pub fn read_report(text: &str) -> Result<Report, String> {
    // Pasted over several lines, it is one line all the same.
    let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
    if text.chars().count() > LONGEST_REPORT {
        return Err(format!("the report is longer than {LONGEST_REPORT} characters: one report at a time"));
    }
    let metar: Metar = read_metar(&text).map_err(|e| e.to_string())?;
    let degrees = |c: Option<f64>| c.and_then(|c| Num::from_f64(fahrenheit(c)));
    // The pressure reduced to sea level is neither a station pressure nor an altimeter setting: it stays in the text.
    let numbers = [
        ("temperature", degrees(metar.temperature_c)),
        ("dew_point", degrees(metar.dew_point_c)),
        ("pressure_altimeter", metar.setting_inhg.and_then(Num::from_f64)),
    ];
    let numbers = numbers.into_iter().filter_map(|(name, n)| Some((name.to_owned(), n?))).collect();
    let reading = Reading { at: Time::midnight(), numbers, sun: None, by: None, report: Some(text) };
    if reading.numbers.is_empty() {
        return Err("the report gives no temperature, no dew point and no altimeter setting".to_owned());
    }
    let time = metar.day.zip(metar.hour).zip(metar.minute).map(|((d, h), m)| (d, h, m));
    Ok(Report { reading, time })
}

/// A report may be this much ahead of the clock, s: the hour's report is sent early, and clocks differ.
const AHEAD_S: i64 = 3600;

/// The last moment that has this day of the month and this time UTC and lies at most an hour ahead of `now`.
pub fn report_moment(time: (u8, u8, u8), now: Moment, zone: &TimeZone) -> Option<Moment> {
    let (day, hour, minute) = time;
    let latest = Moment { offset_seconds: 0, ..now }.plus(AHEAD_S);
    let clock = Time::new(i8::try_from(hour).ok()?, i8::try_from(minute).ok()?, 0, 0).ok()?;
    // One month after another has the day; two in a row without a 31st are not in the calendar, three are looked at.
    (0..3).find_map(|back| {
        let date = latest.civil().date().first_of_month().checked_sub(back.months()).ok()?;
        let date = date.with().day(i8::try_from(day).ok()?).build().ok()?;
        let then = Moment::from_civil(date.to_datetime(clock), 0)?;
        (then.seconds <= latest.seconds).then(|| Moment::at(then.seconds, zone))?
    })
}

/// By how much a report's time lies ahead of the clock, s, where that is more than the hour it may be and less than a day:
/// a clock that is wrong, or a time that was mistyped.
pub fn report_ahead(time: (u8, u8, u8), now: Moment, zone: &TimeZone) -> Option<i64> {
    /// A day, s.
    const DAY_S: i64 = 86_400;
    let at = report_moment(time, now.plus(DAY_S - AHEAD_S), zone)?;
    Some(at.seconds - now.seconds).filter(|ahead| *ahead > AHEAD_S)
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::tz::Offset;

    #[test]
    fn the_numbers_of_a_report() {
        let text = "KXXX 221855Z AUTO 22008KT 10SM CLR 29/18 A3005 RMK AO2 SLP168 T02940178";
        let report = read_report(&format!("  {text}\n")).unwrap();
        let n = |name: &str| report.reading.numbers[name].to_string();
        assert_eq!(
            (n("temperature"), n("dew_point"), n("pressure_altimeter")),
            ("84.92".into(), "64.04".into(), "30.05".into())
        );
        assert_eq!((report.reading.numbers.len(), report.time), (3, Some((22, 18, 55))));
        assert_eq!(report.reading.report.as_deref(), Some(text));
        let q = read_report("EXXX 221850Z 00000KT CAVOK M01/M05 Q1013").unwrap().reading;
        assert_eq!(q.numbers["pressure_altimeter"].to_string(), "29.913873");
        assert_eq!(q.numbers["temperature"].to_string(), "30.2");
        for bad in [&"KXXX ".repeat(90), "KXXX 221855Z AUTO 22008KT 10SM CLR", "", "nothing"] {
            assert!(read_report(bad).is_err(), "{bad}");
        }
    }

    #[test]
    fn the_last_time_the_calendar_has() {
        let zone = TimeZone::fixed(Offset::from_seconds(-18_000).unwrap());
        let then = |time, now: &str| report_moment(time, now.parse().unwrap(), &zone).map(|m| m.iso());
        let now = "2026-08-22T14:20:00-05:00";
        assert_eq!(then((22, 18, 55), now).unwrap(), "2026-08-22T13:55:00-05:00");
        assert_eq!(then((22, 20, 15), now).unwrap(), "2026-08-22T15:15:00-05:00", "an hour ahead");
        assert_eq!(then((22, 20, 25), now).unwrap(), "2026-07-22T15:25:00-05:00");
        let ahead = |time| report_ahead(time, now.parse().unwrap(), &zone);
        assert_eq!((ahead((22, 22, 20)), ahead((22, 20, 15)), ahead((22, 18, 55))), (Some(3 * 3600), None, None));
        assert_eq!((ahead((23, 19, 0)), ahead((23, 19, 30))), (Some(24 * 3600 - 1200), None));
        assert_eq!(then((31, 23, 0), now).unwrap(), "2026-07-31T18:00:00-05:00");
        // The evening here is the next day, month, year by UTC.
        assert_eq!(then((1, 1, 55), "2026-12-31T21:00:00-05:00").unwrap(), "2026-12-31T20:55:00-05:00");
        assert_eq!(then((31, 3, 55), "2026-12-31T21:00:00-05:00").unwrap(), "2026-12-30T22:55:00-05:00");
        assert_eq!(then((31, 1, 0), "2026-03-01T10:00:00-05:00").unwrap(), "2026-01-30T20:00:00-05:00");
        assert_eq!(then((32, 1, 0), now), None);
        assert_eq!(then((2, 24, 0), now), None);
    }
}
