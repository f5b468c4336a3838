//! The day files of a mend: runs that move, days that were another date, tracks with another name.

use super::super::book::Book;
use super::super::car::day_header;
use super::super::now::read_day;
use super::super::{Error, Result};
use super::live::{DayFile, DayTexts, Live};
use crate::schema::{Num, RunWords};
use crate::slip::{Day, Moment, Run, all_faults, edit_day, edit_runs, insert_run, remove_run, write_day};
use crate::timeline::{Places, Timeline, VersionNumber};
use jiff::ToSpan;
use jiff::civil::Date;
use std::collections::HashMap;

/// Which numbers and words of a run differ, for a sentence.
pub fn what_differs(words: &RunWords, was: &Run, run: &Run) -> String {
    let mut out = Vec::new();
    let keys = was.numbers.keys().chain(run.numbers.keys().filter(|k| !was.numbers.contains_key(*k)));
    for key in keys.filter(|k| was.numbers.get(*k) != run.numbers.get(*k)) {
        let def = words.number.iter().find(|d| d.name == *key);
        let text = |n: &Num| def.map_or(n.to_string(), |d| n.show(d.decimals, 6));
        let show = |r: &Run| r.numbers.get(key).map_or("none".to_owned(), text);
        let label = def.map_or(key.as_str(), |d| d.label.as_str());
        out.push(format!("{label} {}, not {}", show(run), show(was)));
    }
    if was.at != run.at {
        out.push(format!("it was at {}", run.at.words(None)));
    }
    for (name, a, b) in [
        ("lane", &was.lane, &run.lane),
        ("round", &was.round, &run.round),
        ("note", &was.note, &run.note),
        ("staged", &was.staged, &run.staged),
    ] {
        if a != b {
            out.push(format!("{name} {}", b.as_deref().unwrap_or("none")));
        }
    }
    if (was.clean_to, &was.why_not, &was.did) != (run.clean_to, &run.why_not, &run.did) {
        let to = run.clean_to.map_or("clean".to_owned(), |to| format!("clean to {to} ft"));
        out.push(std::iter::once(to).chain(run.why_not.clone()).chain(run.did.clone()).collect::<Vec<_>>().join(", "));
    }
    if was.shifts != run.shifts {
        let list: Vec<String> = run.shifts.iter().map(Num::to_string).collect();
        out.push(format!("shifts {}", if list.is_empty() { "none".to_owned() } else { list.join(", ") }));
    }
    if out.is_empty() { String::new() } else { format!(": {}", out.join("; ")) }
}

/// Puts a run on a sheet of a version. The link before the first mend is kept; where the run is back on it, nothing is.
pub fn link(run: &mut Run, number: &VersionNumber, blob: &str) {
    run.on = number.to_string();
    let old = std::mem::replace(&mut run.setup, blob.to_owned());
    if run.setup == old {
        return;
    }
    match &run.setup_was {
        Some(was) if *was == run.setup => run.setup_was = None,
        Some(_) => {}
        None => run.setup_was = Some(old),
    }
}

/// A run whose time may be another now: it goes to the sheet of its time if it was on that before, and to its date.
pub fn settle(live: &mut Live, d: usize, r: usize) -> Result<()> {
    let mut run = live.days[d].day.runs[r].clone();
    let date = run.at.race_day();
    let to = if date == live.days[d].day.date { d } else { day_for(live, d, date, run.at.offset_seconds) };
    // A day has one clock: its own. What was said is what that showed.
    let offset = live.days[to].day.offset_seconds;
    if run.at.offset_seconds != offset {
        run.at = Moment::from_civil(run.at.civil(), offset).ok_or_else(beyond)?;
    }
    let was = live.days.iter().flat_map(|f| &f.old.runs).find(|o| o.id == run.id);
    let timeline = &live.before.timeline;
    if let Some(was) = was.filter(|w| w.at != run.at && timeline.of_run(w) == timeline.at(w.at)) {
        let places = timeline.places();
        let place = places.at(run.at).ok_or_else(|| {
            Error::usage(format!("{} is before the book begins", run.at.words(None)), "mend v1 --when first")
        })?;
        run.setup.clone_from(&was.setup);
        link(&mut run, &place.number, &place.blob);
    }
    live.days[d].day.runs.remove(r);
    let at = if to == d { r } else { live.days[to].day.runs.len() };
    live.days[to].day.runs.insert(at, run);
    Ok(())
}

/// Of the days, the one at the track of `from` on a date; where there is none, a new one.
///
/// Only what the track is goes over to a new day: what was said of the other day was of that day.
fn day_for(live: &mut Live, from: usize, date: Date, offset_seconds: i32) -> usize {
    let like = &live.days[from].day;
    let is = |d: &Day| d.date == date && d.track.eq_ignore_ascii_case(&like.track);
    if let Some(found) = live.days.iter().position(|f| is(&f.day)) {
        return found;
    }
    let day = Day {
        date,
        track: like.track.clone(),
        finish_ft: like.finish_ft,
        elevation_ft: like.elevation_ft,
        offset_seconds,
        prep: None,
        note: None,
        closed: false,
        unread: Vec::new(),
        readings: Vec::new(),
        runs: Vec::new(),
    };
    live.days.push(DayFile { was: None, old: day.clone(), day });
    live.days.len() - 1
}

fn beyond() -> Error {
    Error::usage("that is beyond the years 1 to 9999", "nothing was mended")
}

/// Every run of a day so much later.
pub fn shift(live: &mut Live, date: Date, seconds: i64) -> Result<usize> {
    let whole_days = seconds % 86_400 == 0;
    let mut count = 0;
    let placed: Vec<usize> = (0..live.days.len()).filter(|d| live.days[*d].day.date == date).collect();
    for d in placed {
        let timeline: &Timeline = &live.before.timeline;
        let places = timeline.places();
        let file = &mut live.days[d];
        for run in &mut file.day.runs {
            let followed = timeline.of_run(run) == timeline.at(run.at);
            run.at.seconds += seconds;
            // The sheet of its time moves along with the records of the day; which it is shows once they are summed.
            if let Some(place) = places.at(run.at).filter(|_| followed) {
                link(run, &place.number, &place.blob);
            }
            count += 1;
        }
        if whole_days {
            let moved = date.checked_add((seconds / 86_400).days());
            file.day.date = moved.map_err(|_| beyond())?;
            count += file.day.readings.len();
            continue;
        }
        let falls_out = |what: &str, at: Moment, help: &str| {
            let message = format!(
                "the {what} then at {} would fall on another race day (a day lasts until 06:00)",
                at.words(None)
            );
            Err(Error::usage(message, help))
        };
        if let Some(run) = file.day.runs.iter().find(|r| r.at.race_day() != date) {
            return falls_out("run", run.at, "whole days: --slow 1d; or one run: mend run ID --at TIME");
        }
        let offset = file.day.offset_seconds;
        for reading in &mut file.day.readings {
            let then = Moment::on_race_day(date, reading.at, offset).ok_or_else(beyond)?.plus(seconds);
            if then.race_day() != date {
                return falls_out("reading", then, "whole days: --slow 1d");
            }
            reading.at = then.civil().time();
            count += 1;
        }
    }
    Ok(count)
}

/// A track's name or elevation, on all its days.
pub fn track(
    live: &mut Live,
    name: &str,
    to: Option<&str>,
    elevation_ft: Option<Num>,
    said: &mut Vec<String>,
) -> Result<()> {
    let mut days = 0;
    let mut spelled = name.to_owned();
    for file in live.days.iter_mut().filter(|f| f.day.track.eq_ignore_ascii_case(name.trim())) {
        spelled.clone_from(&file.day.track);
        let was = file.day.clone();
        if let Some(to) = to {
            file.day.track = to.trim().to_owned();
        }
        file.day.elevation_ft = elevation_ft.or(file.day.elevation_ft);
        days += usize::from(was != file.day);
    }
    let known = || {
        let mut names: Vec<&str> = live.days.iter().map(|f| f.old.track.as_str()).collect();
        names.sort_unstable();
        names.dedup();
        names.join(", ")
    };
    if !live.days.iter().any(|f| f.old.track.eq_ignore_ascii_case(name.trim())) {
        return Err(Error::usage(format!("no day was at `{name}`"), format!("tracks on record: {}", known())));
    }
    if days == 0 {
        return Err(Error::usage("it is on record so already", "--name NAME, --elevation FT"));
    }
    let what: Vec<String> = to
        .map(|t| format!("it is {}", t.trim()))
        .into_iter()
        .chain(elevation_ft.map(|e| format!("it lies at {e} ft")))
        .collect();
    let plural = if days == 1 { "day" } else { "days" };
    said.push(format!("mended: track {spelled}: {} ({days} {plural})", what.join(", ")));
    Ok(())
}

/// Links every run to the line as it is now.
pub fn relink(live: &mut Live, places: &Places) {
    for file in &mut live.days {
        for run in &mut file.day.runs {
            if let Some(place) = places.of_run(&live.before.timeline, run) {
                link(run, &place.number, &place.blob);
            }
        }
    }
}

/// The texts of the day files that are others now; `None` takes one away.
pub fn texts(book: &Book, live: &Live) -> Result<DayTexts> {
    let words = &book.schema.run;
    let (mut gone, mut out) = (DayTexts::new(), DayTexts::new());
    let path_of = |f: &DayFile| match &f.was {
        Some(path) if (f.day.date, &f.day.track) == (f.old.date, &f.old.track) => path.clone(),
        _ => f.day.path(),
    };
    for file in live.days.iter().filter(|f| f.was.is_none() || f.day != f.old) {
        for run in &file.day.runs {
            if let Some(fault) = all_faults(words, run).into_iter().next() {
                return Err(Error::usage(format!("the run of {}: {fault}", run.at.words(None)), "nothing was mended"));
            }
        }
        let path = path_of(file);
        let taken = live.days.iter().any(|f| !std::ptr::eq(f, file) && path_of(f) == path);
        if taken {
            let message = format!("there is a day of {} at {} on record already", file.day.date, file.day.track);
            return Err(Error::usage(message, "two days at one track cannot be one date"));
        }
        let text = match &file.was {
            Some(was) => edited(book, file, &live.day_text(book, was)?)
                .map_err(|why| Error::data(format!("{was}: {why}"), "nothing was mended"))?,
            None => write_day(words, &file.day, &day_header()),
        };
        let mut wanted = file.day.clone();
        wanted.runs.sort_by_key(|r| r.at);
        if read_day(&path, &text)? != wanted {
            return Err(Error::data(
                format!("{path} is laid out so that it cannot be mended"),
                "put it right by hand: slipbook sheet --save",
            ));
        }
        if let Some(was) = file.was.as_ref().filter(|w| **w != path) {
            gone.insert(was.clone(), None);
        }
        out.insert(path, Some(text));
    }
    // One day may come to lie where another was: what is written goes over what is taken away.
    gone.extend(out);
    Ok(gone)
}

fn edited(book: &Book, file: &DayFile, text: &str) -> std::result::Result<String, String> {
    let words = &book.schema.run;
    let mut text = edit_day(text, &file.old, &file.day)?;
    let now: HashMap<&str, &Run> = file.day.runs.iter().map(|r| (r.id.as_str(), r)).collect();
    let both = file.old.runs.iter().filter_map(|was| Some((was, *now.get(was.id.as_str())?)));
    let changed: Vec<(&Run, &Run)> = both.filter(|(was, run)| was != run).collect();
    text = edit_runs(words, &text, &changed)?;
    for was in file.old.runs.iter().filter(|r| !now.contains_key(r.id.as_str())) {
        text = remove_run(&text, &was.id)?;
    }
    let mut so_far = file.day.clone();
    so_far.runs.retain(|r| file.old.runs.iter().any(|o| o.id == r.id));
    for run in file.day.runs.iter().filter(|r| !file.old.runs.iter().any(|o| o.id == r.id)) {
        text = insert_run(words, &text, &so_far, run);
        so_far.runs.push(run.clone());
        so_far.runs.sort_by_key(|r| r.at);
    }
    Ok(text)
}
