//! A raw weather report: METAR and SPECI as the WMO prints them (FM 15 and FM 16, Manual on Codes, WMO-No. 306), with the
//! remarks of the US handbook FMH-1.
//!
//! Groups that say nothing of the air are stepped over. Whatever is missing (`/////`) stays missing; a value that air
//! cannot have is refused, for then the report was garbled on its way.

mod groups;
#[cfg(test)]
mod tests;

use super::PA_PER_INHG;
use groups::{moment, number, possible, read_moment, read_setting, read_temperatures, read_wind, tenths};

/// Bytes of the longest report read; real ones have a few hundred.
const LONGEST: usize = 1_000;
/// How far two settings of one report may be apart, hPa: `Q` drops the tenths, `A` is good to 0.005 inHg.
const SETTINGS_APART_HPA: f64 = 1.5;

/// What a report says of the air. `None` is what it does not say.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Metar {
    /// The station's four letters.
    pub station: Option<String>,
    /// Day of the month, UTC.
    pub day: Option<u8>,
    /// Hour, UTC.
    pub hour: Option<u8>,
    /// Minute.
    pub minute: Option<u8>,
    /// No observer was there (`AUTO`).
    pub auto: bool,
    /// It corrects an earlier report (`COR`; in Canada `CCA`, `CCB` and so on).
    pub corrected: bool,
    /// Where the wind comes from, degrees from true north; 0 with 0 kt is a calm. Variable wind has none.
    pub wind_dir_deg: Option<u16>,
    /// Wind, kt. `P99` (more than 99) is not a number and stays out.
    pub wind_kt: Option<f64>,
    /// Gusts, kt.
    pub gust_kt: Option<f64>,
    /// Air temperature, C: the remarks' tenths where they stand, else the body's whole degree.
    pub temperature_c: Option<f64>,
    /// Dew point over water, C; tenths as for the temperature.
    pub dew_point_c: Option<f64>,
    /// Temperature of the body, whole degrees C; halves went to the warmer degree, so `M00` is -0.5 to -0.1.
    pub body_temperature_c: Option<f64>,
    /// Dew point of the body, whole degrees C.
    pub body_dew_point_c: Option<f64>,
    /// Altimeter setting, hPa: as given by `Q`, else from inches.
    pub setting_hpa: Option<f64>,
    /// Altimeter setting, inHg: as given by `A`, else from hectopascals.
    pub setting_inhg: Option<f64>,
    /// Pressure reduced to sea level, hPa (`SLP`). It is reduced with the station's temperature and is neither a station
    /// pressure nor an altimeter setting.
    pub sea_level_hpa: Option<f64>,
}

/// Why a report was not read, and what would be right.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{why}; {help}")]
pub struct MetarError {
    /// What is wrong, with the group at fault.
    pub why: String,
    /// What would be right.
    pub help: String,
}

fn error(why: impl Into<String>, help: impl Into<String>) -> MetarError {
    MetarError { why: why.into(), help: help.into() }
}

/// What a whole report looks like.
const FORM: &str = "a report is like `KXXX 011955Z 22015G25KT 10SM CLR 03/M01 A2992 RMK AO2 T00261015`";

/// Reads one METAR or SPECI.
///
/// ```
/// let m = slipbook::air::metar::read_metar("KXXX 011955Z 22015KT 10SM CLR 03/M01 A2992 RMK AO2 T00261015").unwrap();
/// assert_eq!((m.temperature_c, m.dew_point_c, m.setting_inhg), (Some(2.6), Some(-1.5), Some(29.92)));
/// ```
pub fn read_metar(text: &str) -> Result<Metar, MetarError> {
    if text.len() > LONGEST {
        return Err(error(
            format!("the report is {} bytes long", text.len()),
            format!("one report has at most {LONGEST}"),
        ));
    }
    let upper = text.to_ascii_uppercase();
    let text = one_report(&upper)?;
    // Groups are plain letters and digits; the functions below may cut them anywhere.
    let groups: Vec<&str> = text.split_whitespace().filter(|g| g.is_ascii()).collect();
    let (body, remarks) = match groups.iter().position(|g| *g == "RMK") {
        Some(at) => (&groups[..at], &groups[at + 1..]),
        None => (&groups[..], &[][..]),
    };
    if remarks.contains(&"RMK") || body.iter().filter(|g| moment(g).is_some()).count() > 1 {
        return Err(error("this is more than one report", "give one at a time"));
    }
    if groups.first() == Some(&"TAF") {
        return Err(error("`TAF` begins a forecast", FORM));
    }
    if body.contains(&"NIL") {
        return Err(error("`NIL`: the station sent no report", "take the report before or after it"));
    }
    let mut out = Metar { station: station(body), ..Metar::default() };
    let told = read_body(body, &mut out)? | read_remarks(remarks, &mut out)?;
    if !told {
        return Err(error("no group of a weather report is in it", FORM));
    }
    out.settle()?;
    Ok(out)
}

/// The text of the one report in it: what stands before `METAR` or `SPECI` heads a bulletin, `=` ends a report.
fn one_report(text: &str) -> Result<&str, MetarError> {
    let (report, rest) = text.split_once('=').unwrap_or((text, ""));
    let begins: Vec<usize> = ["METAR", "SPECI"].iter().flat_map(|w| word_ends(report, w)).collect();
    if begins.len() > 1 || rest.split_whitespace().any(|w| w != "=") {
        return Err(error("this is more than one report", "give one at a time"));
    }
    Ok(&report[begins.first().copied().unwrap_or(0)..])
}

/// Where `word`, standing alone, ends in the text.
fn word_ends<'a>(text: &'a str, word: &'a str) -> impl Iterator<Item = usize> + 'a {
    let blank = |c: Option<char>| c.is_none_or(char::is_whitespace);
    text.match_indices(word).filter_map(move |(at, _)| {
        let end = at + word.len();
        (blank(text[..at].chars().next_back()) && blank(text[end..].chars().next())).then_some(end)
    })
}

/// The station: four letters or digits before the time, or at the beginning of a report without time.
fn station(body: &[&str]) -> Option<String> {
    let before = match body.iter().position(|g| moment(g).is_some()) {
        Some(at) => at.checked_sub(1)?,
        None => usize::from(body.first() == Some(&"COR")),
    };
    let name = body.get(before)?;
    let is_name = name.len() == 4
        && name.starts_with(|c: char| c.is_ascii_uppercase())
        && name.bytes().all(|b| b.is_ascii_uppercase() || b.is_ascii_digit());
    (is_name && *name != "AUTO").then(|| (*name).to_owned())
}

/// The groups before the remarks, as far as the trend: what `BECMG` and `TEMPO` announce is no observation. Whether there
/// was one that tells something.
fn read_body(body: &[&str], out: &mut Metar) -> Result<bool, MetarError> {
    let mut told = false;
    for group in body.iter().take_while(|g| !matches!(**g, "BECMG" | "TEMPO" | "NOSIG")) {
        match *group {
            "AUTO" => out.auto = true,
            "COR" => out.corrected = true,
            g if g.len() == 3 && g.starts_with("CC") && g.as_bytes()[2].is_ascii_uppercase() => out.corrected = true,
            g => {
                told |=
                    read_moment(g, out)? || read_wind(g, out)? || read_temperatures(g, out)? || read_setting(g, out)?;
            }
        }
    }
    Ok(told)
}

/// The remarks: `T00261015` (tenths of a degree) and `SLP205`. Nothing in them is taken for the body.
fn read_remarks(remarks: &[&str], out: &mut Metar) -> Result<bool, MetarError> {
    let mut told = false;
    for group in remarks {
        if let Some(digits) = group.strip_prefix("SLP").filter(|d| d.len() == 3)
            && let Some(n) = number(digits)
        {
            let thousands = if n < 500 { 10_000 } else { 9_000 };
            out.sea_level_hpa.get_or_insert(f64::from(thousands + n) / 10.0);
            told = true;
        } else if let Some((temperature, dew)) = tenths(group) {
            possible(group, Some(temperature), dew)?;
            if out.temperature_c.is_none() {
                (out.temperature_c, out.dew_point_c) = (Some(temperature), dew);
            }
            told = true;
        }
    }
    Ok(told)
}

fn hpa_of_inhg(inhg: f64) -> f64 {
    inhg * PA_PER_INHG / 100.0
}

impl Metar {
    /// Fills what one form gives from the other, and refuses two that contradict each other.
    fn settle(&mut self) -> Result<(), MetarError> {
        self.temperature_c = self.temperature_c.or(self.body_temperature_c);
        self.dew_point_c = match (self.dew_point_c.or(self.body_dew_point_c), self.temperature_c) {
            // A whole-degree dew point beside tenths of the temperature may have been rounded up past it, by half a degree.
            (Some(dew), Some(t)) if dew > t + 0.5 => {
                return Err(error(
                    format!("the dew point of the body, {dew:.0} C, is above the temperature of the remarks, {t:.1} C"),
                    "it is at most the temperature",
                ));
            }
            (Some(dew), Some(t)) => Some(dew.min(t)),
            (dew, _) => dew,
        };
        if let (Some(hpa), Some(inhg)) = (self.setting_hpa, self.setting_inhg)
            && (hpa - hpa_of_inhg(inhg)).abs() > SETTINGS_APART_HPA
        {
            return Err(error(
                format!("`Q{hpa:04.0}` and `A{:04.0}` are not the same pressure", inhg * 100.0),
                "leave the wrong one out",
            ));
        }
        self.setting_hpa = self.setting_hpa.or(self.setting_inhg.map(hpa_of_inhg));
        self.setting_inhg = self.setting_inhg.or(self.setting_hpa.map(|hpa| hpa * 100.0 / PA_PER_INHG));
        Ok(())
    }
}
