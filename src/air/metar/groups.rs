//! The groups of a report, one function each: false or nothing where a group is of another kind. They take
//! ASCII only.

use super::{Metar, MetarError, error, hpa_of_inhg};

/// A knot, m/h (exact).
const M_PER_H_KT: f64 = 1_852.0;
/// Temperatures on earth, C: a little more than the WMO's extremes, -89.2 and 56.7 (memory).
const TEMPERATURES_C: [f64; 2] = [-90.0, 60.0];
/// Pressures at sea level, hPa: a little more than the WMO's extremes, 870 and 1084 (memory).
const PRESSURES_HPA: [f64; 2] = [850.0, 1_100.0];
/// The fastest wind, kt: a little more than the WMO's extreme gust, 220 kt (memory).
const FASTEST_KT: f64 = 230.0;

/// `161753Z`: day, hour and minute.
pub(super) fn moment(group: &str) -> Option<[u8; 3]> {
    let digits = group.strip_suffix('Z').filter(|d| d.len() == 6)?;
    Some([number(&digits[..2])?, number(&digits[2..4])?, number(&digits[4..])?]).map(|n| n.map(|n| n as u8))
}

/// A number of digits and nothing else.
pub(super) fn number(digits: &str) -> Option<u16> {
    digits.bytes().all(|b| b.is_ascii_digit()).then(|| digits.parse().ok()).flatten()
}

pub(super) fn read_moment(group: &str, out: &mut Metar) -> Result<bool, MetarError> {
    let Some([day, hour, minute]) = moment(group) else { return Ok(false) };
    if !(1..=31).contains(&day) || hour > 23 || minute > 59 {
        return Err(error(
            format!("`{group}` is no time"),
            "day 01 to 31, hour 00 to 23 and minute 00 to 59, as in 161753Z",
        ));
    }
    (out.day, out.hour, out.minute) = (Some(day), Some(hour), Some(minute));
    Ok(true)
}

/// `14021G26KT`, `VRB03KT`, `34005MPS`, `/////KT`.
pub(super) fn read_wind(group: &str, out: &mut Metar) -> Result<bool, MetarError> {
    let units = [("KT", M_PER_H_KT), ("MPS", 3_600.0), ("KMH", 1_000.0)];
    let Some((wind, m_per_h)) = units.iter().find_map(|(u, m)| Some((group.strip_suffix(u)?, *m))) else {
        return Ok(false);
    };
    if wind.len() < 5 {
        return Ok(false);
    }
    let (from, speeds) = wind.split_at(3);
    let (speed, gust) = speeds.split_once('G').map_or((speeds, None), |(s, g)| (s, Some(g)));
    let (Some(speed), Some(gust)) = (wind_speed(speed), gust.map_or(Some(None), wind_speed)) else { return Ok(false) };
    let from = match (from, number(from)) {
        ("VRB" | "///", _) => None,
        (_, Some(degrees)) => Some(degrees),
        _ => return Ok(false),
    };
    let (speed, gust) = (speed.map(|n| n * m_per_h / M_PER_H_KT), gust.map(|n| n * m_per_h / M_PER_H_KT));
    let garbled = from.is_some_and(|d| d > 360)
        || [speed, gust].into_iter().flatten().any(|n| n > FASTEST_KT)
        || speed.zip(gust).is_some_and(|(s, g)| g < s);
    if garbled {
        return Err(error(
            format!("`{group}` is no wind"),
            format!("it comes from 000 to 360 degrees, blows at most {FASTEST_KT:.0} kt, and gusts are faster than it"),
        ));
    }
    if out.wind_kt.is_none() {
        (out.wind_dir_deg, out.wind_kt, out.gust_kt) = (from, speed, gust);
    }
    Ok(true)
}

/// Two or three digits; `//` and `P99` (above 99) are no number. None: no wind speed at all.
fn wind_speed(text: &str) -> Option<Option<f64>> {
    match text {
        "//" => Some(None),
        _ if text.len() == 3 && text.starts_with('P') && number(&text[1..]).is_some() => Some(None),
        _ if (2..=3).contains(&text.len()) => number(text).map(|n| Some(f64::from(n))),
        _ => None,
    }
}

/// `18/M02`, `22/` (no dew point), `/////` (neither).
pub(super) fn read_temperatures(group: &str, out: &mut Metar) -> Result<bool, MetarError> {
    /// None: no such part.
    fn whole(part: &str) -> Option<Option<f64>> {
        let (sign, digits) = part.strip_prefix('M').map_or((1.0, part), |d| (-1.0, d));
        match part {
            "//" | "XX" => Some(None),
            // + 0.0: a zero of M00 without its sign.
            _ if digits.len() == 2 => number(digits).map(|n| Some(sign * f64::from(n) + 0.0)),
            _ => None,
        }
    }
    let read = if let Some(dew) = group.strip_prefix("///").filter(|d| !d.is_empty()) {
        whole(dew).map(|dew| (None, dew))
    } else {
        group.split_once('/').and_then(|(t, dew)| Some((whole(t)?, if dew.is_empty() { None } else { whole(dew)? })))
    };
    let Some((temperature, dew)) = read else { return Ok(false) };
    possible(group, temperature, dew)?;
    if out.body_temperature_c.is_none() && out.body_dew_point_c.is_none() {
        (out.body_temperature_c, out.body_dew_point_c) = (temperature, dew);
    }
    Ok(true)
}

/// Refuses temperatures that air cannot have.
pub(super) fn possible(group: &str, temperature: Option<f64>, dew: Option<f64>) -> Result<(), MetarError> {
    let [low, high] = TEMPERATURES_C;
    if [temperature, dew].into_iter().flatten().any(|t| !(low..=high).contains(&t)) {
        return Err(error(
            format!("`{group}` is no temperature of air"),
            format!("{low:.0} to {high:.0} C is possible, as in 18/M02"),
        ));
    }
    if temperature.zip(dew).is_some_and(|(t, d)| d > t) {
        return Err(error(
            format!("`{group}`: the dew point is above the temperature"),
            "it is at most the temperature",
        ));
    }
    Ok(())
}

/// `A2992` (hundredths of inHg), `Q1013` (hPa), `A////` and `Q////` (missing).
pub(super) fn read_setting(group: &str, out: &mut Metar) -> Result<bool, MetarError> {
    let Some((form, digits)) = group.split_at_checked(1).filter(|(f, d)| matches!(*f, "A" | "Q") && d.len() == 4)
    else {
        return Ok(false);
    };
    if digits == "////" {
        return Ok(true);
    }
    let Some(n) = number(digits) else { return Ok(false) };
    let hpa = if form == "Q" { f64::from(n) } else { hpa_of_inhg(f64::from(n) / 100.0) };
    let [low, high] = PRESSURES_HPA;
    if !(low..=high).contains(&hpa) {
        return Err(error(
            format!("`{group}` is no altimeter setting"),
            format!("A2511 to A3248 (25.11 to 32.48 inHg) and Q{low:04.0} to Q{high:04.0} (hPa) are possible"),
        ));
    }
    let slot = if form == "Q" { &mut out.setting_hpa } else { &mut out.setting_inhg };
    slot.get_or_insert(if form == "Q" { hpa } else { f64::from(n) / 100.0 });
    Ok(true)
}

/// `TsTTTsTTT`, or `TsTTT` where the dew point is missing; `s` is 0 for plus, 1 for minus (FMH-1, 12.7.2).
pub(super) fn tenths(group: &str) -> Option<(f64, Option<f64>)> {
    let digits = group.strip_prefix('T').filter(|d| d.bytes().all(|b| b.is_ascii_digit()))?;
    let signed = |d: &str| {
        let n = f64::from(number(&d[1..])?) / 10.0;
        match &d[..1] {
            "0" => Some(n),
            "1" => Some(-n + 0.0),
            _ => None,
        }
    };
    match digits.len() {
        4 => Some((signed(digits)?, None)),
        8 => Some((signed(&digits[..4])?, Some(signed(&digits[4..])?))),
        _ => None,
    }
}
