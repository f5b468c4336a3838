//! What was said of the air: typed, or in a weather report; and how it is said again where it could not be taken.

use super::context::Context;
use super::ui::Ui;
use crate::garage::{Error, Result};
use crate::schema::{Num, RunWords};
use crate::slip::{AirMeant, AirRefused, Moment, Reading, read_air, report_ahead, report_moment};
use crate::text::shell_word;

/// A report this old is not of the weather now, s: a day.
const OLD_REPORT_S: i64 = 86_400;

/// When a report was made, by its own time; and why it is not recorded under it, where that is not of late.
pub(super) fn of_report(ctx: &Context, time: Option<(u8, u8, u8)>) -> Result<(Option<Moment>, Option<String>)> {
    let now = ctx.hand.now;
    let Some((day, hour, minute)) = time else {
        let why = "the report does not say when it was made: --at TIME records it";
        return Ok((None, Some(why.to_owned())));
    };
    let said = format!("day {day}, {hour:02}:{minute:02} UTC");
    if let Some(ahead) = report_ahead((day, hour, minute), now, &ctx.zone) {
        let span = match (ahead / 60 / 60, ahead / 60 % 60) {
            (h, 0) => format!("{h} h"),
            (h, m) => format!("{h} h {m} min"),
        };
        let why = format!("the report is of {said}: {span} ahead of this clock; --at TIME records it");
        return Ok((Some(now.plus(ahead)), Some(why)));
    }
    let at = report_moment((day, hour, minute), now, &ctx.zone);
    let at = at.ok_or_else(|| {
        Error::usage(format!("the report's time ({said}) is not in the calendar"), "--at TIME; nothing was recorded")
    })?;
    let old = now.since(at).as_secs() > OLD_REPORT_S;
    let why = old.then(|| {
        format!("the report is of {said}: {}, not of the last 24 hours; --at TIME records it", at.words(None))
    });
    Ok((Some(at), why))
}

/// What the report does not give.
pub(super) fn report_gaps(reading: &Reading) -> Option<String> {
    let gaps: Vec<&str> =
        [("temperature", "temperature"), ("dew_point", "dew point"), ("pressure_altimeter", "altimeter setting")]
            .into_iter()
            .filter(|(name, _)| !reading.numbers.contains_key(*name))
            .map(|(_, label)| label)
            .collect();
    (!gaps.is_empty()).then(|| format!("the report gives no {}", gaps.join(", no ")))
}

/// What was typed beside a report, with the report.
pub(super) fn both(typed: Reading, report: Reading) -> Result<Reading> {
    let sets = report.numbers.contains_key("pressure_altimeter");
    let mut out = Reading { sun: typed.sun, by: typed.by, ..report };
    for (name, n) in typed.numbers {
        let pressure = name.starts_with("pressure");
        if (pressure && sets) || out.numbers.insert(name.clone(), n).is_some() {
            let what = if pressure { "barometer".to_owned() } else { name.replace('_', " ") };
            return Err(Error::usage(
                format!("the {what} is typed, and the report gives it too"),
                "one or the other; nothing was recorded",
            ));
        }
    }
    Ok(out)
}

/// Of what was read in two ways, which is used.
pub(super) fn used_words(reading: &Reading) -> Vec<String> {
    let label = |name: &str| match name {
        "pressure_station" => "station pressure".to_owned(),
        "pressure_altimeter" => "altimeter setting".to_owned(),
        other => other.replace('_', " "),
    };
    reading
        .unused()
        .into_iter()
        .map(|(used, not)| format!("the {} is used, not the {}; they agree", label(used), label(not)))
        .collect()
}

/// A reading as typed, and as it is meant at an elevation; on a terminal it is asked which number the barometer shows, and
/// which way the wind blows.
pub(super) fn typed(
    ui: &mut Ui,
    words: &RunWords,
    text: &str,
    at: Moment,
    elevation_ft: Option<Num>,
) -> std::result::Result<AirMeant, AirRefused> {
    let mut typed = read_air(text, at.civil().time()).map_err(AirRefused::Impossible)?;
    loop {
        let refused = match typed.clone().meant(words, elevation_ft) {
            Err(refused) if !refused.words().is_empty() => refused,
            done => return done,
        };
        let keys: Vec<&str> = refused.words().iter().filter_map(|w| w.get(..1)).collect();
        let question = format!("{} [{}]", refused.why(), keys.join("/"));
        let said = ui.ask(&question).map(|a| a.to_lowercase()).unwrap_or_default();
        match refused.words().iter().find(|w| !said.is_empty() && w.starts_with(&said)) {
            Some(word) => typed = typed.with_word(word),
            None => return Err(refused),
        }
    }
}

/// The command that gives a refused reading again: what was typed with the word that was missing, else a place for it.
pub(super) fn again(ctx: &Context, text: &str, refused: &AirRefused, at: Moment, track: Option<&str>) -> String {
    let mut words = vec!["slipbook".to_owned(), "air".to_owned()];
    match refused {
        AirRefused::Ambiguous(_) => {
            words.extend(text.split_whitespace().map(shell_word));
            words.push("station".to_owned());
        }
        AirRefused::Wind(_) | AirRefused::Impossible(_) => words.push("READING".to_owned()),
    }
    words.extend(placed(ctx, at, track));
    words.join(" ")
}

/// The words that name the moment, the track, the car and the garage of a command.
pub(super) fn placed(ctx: &Context, at: Moment, track: Option<&str>) -> Vec<String> {
    let at = at.words(Some(ctx.hand.now.civil().year())).to_lowercase();
    let mut words = vec!["--at".to_owned(), format!("\"{at}\"")];
    let car = ctx.car.as_ref().map(|c| ctx.find_car(c).unwrap_or_else(|_| c.clone()));
    let garage = ctx.garage_named.as_ref().map(|g| g.display().to_string());
    for (flag, value) in [("--track", track.map(str::to_owned)), ("--car", car), ("--garage", garage)] {
        if let Some(value) = value {
            words.extend([flag.to_owned(), shell_word(&value)]);
        }
    }
    words
}
