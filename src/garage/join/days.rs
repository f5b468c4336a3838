//! The days of both sides: the same day at the same track becomes one, run by run and reading by reading.

use super::super::car::day_header;
use super::super::now::read_day;
use super::super::{Error, Result};
use super::choice::{Choice, Told, by_change};
use super::day_comments::Hands;
use super::readings::merge_readings;
use super::runs::{Placed, merge_runs};
use super::side::Side;
use crate::schema::{Num, RunWords};
use crate::slip::{
    Day, Moment, Reading, Run, edit_day, edit_runs, insert_reading, insert_run, remove_readings, remove_run, slug,
    write_day,
};
use crate::timeline::Places;
use jiff::civil::Date;
use std::collections::btree_map::Entry;
use std::collections::{BTreeMap, HashMap, HashSet};

/// One day, in what was before and on both sides: its place there.
pub(super) struct Group {
    /// In each of what both were before.
    pub bases: Vec<Option<usize>>,
    /// On each side.
    pub sides: [Option<usize>; 2],
}

/// All days of the joined book: path and text.
pub(super) fn merge(
    words: &RunWords,
    sides: &[Side; 2],
    bases: &[Side],
    places: &Places,
    choice: &mut Choice,
) -> Result<BTreeMap<String, (Day, String)>> {
    let groups = grouped(sides, bases);
    let runs = merge_runs(words, sides, bases, &groups, places, choice)?;
    let mut of_group: HashMap<usize, Vec<Run>> = HashMap::new();
    for Placed { run, group } in runs {
        of_group.entry(group).or_default().push(run);
    }
    // Two groups may have come to be one day: a track that was put right on one side, say.
    let mut days: BTreeMap<(Date, String), (Day, Vec<usize>)> = BTreeMap::new();
    // The day that each group became.
    let mut became = HashMap::new();
    for (n, group) in groups.iter().enumerate() {
        let runs = of_group.remove(&n).unwrap_or_default();
        for day in one_day(sides, bases, group, runs, choice)? {
            let key = (day.date, slug(&day.track));
            became.entry(n).or_insert_with(|| key.clone());
            match days.entry(key) {
                Entry::Vacant(free) => drop(free.insert((day, vec![n]))),
                Entry::Occupied(mut there) => {
                    let (known, of) = there.get_mut();
                    absorb(known, day)?;
                    of.push(n);
                }
            }
        }
    }
    let hands = Hands::read(sides, bases, &groups);
    let made: HashSet<String> = days.values().flat_map(|(day, _)| &day.runs).map(|r| r.id.clone()).collect();
    let mut out = BTreeMap::new();
    for (key, (mut day, of)) in days {
        day.runs.sort_by(|a, b| (a.at, &a.id).cmp(&(b.at, &b.id)));
        let (path, text) = written(words, sides, bases, of.iter().map(|n| &groups[*n]), &day)?;
        let whole: Vec<usize> = of.into_iter().filter(|n| became.get(n) == Some(&key)).collect();
        let with = hands.put(&text, &day, &whole, &made).filter(|t| read_day(&path, t).is_ok_and(|read| read == day));
        let text = with.unwrap_or(text);
        let read = read_day(&path, &text)?;
        out.insert(path, (read, text));
    }
    Ok(out)
}

/// Which days are one: by their file, else by a run they share (a track or a date that was put right).
fn grouped(sides: &[Side; 2], bases: &[Side]) -> Vec<Group> {
    let trees: Vec<&Side> = bases.iter().chain(sides.iter()).collect();
    let mut out: Vec<Vec<Option<usize>>> = Vec::new();
    let mut by_path: HashMap<&str, usize> = HashMap::new();
    let mut by_run: HashMap<&str, usize> = HashMap::new();
    for (t, tree) in trees.iter().enumerate() {
        let mut left = Vec::new();
        for (i, (path, ..)) in tree.days.iter().enumerate() {
            match by_path.get(path.as_str()) {
                Some(group) if out[*group][t].is_none() => out[*group][t] = Some(i),
                _ => left.push(i),
            }
        }
        for i in left {
            let day = &tree.days[i].1;
            let shares = day.runs.iter().find_map(|r| by_run.get(r.id.as_str()));
            let group = match shares {
                Some(group) if out[*group][t].is_none() => *group,
                _ => {
                    out.push(vec![None; trees.len()]);
                    out.len() - 1
                }
            };
            out[group][t] = Some(i);
        }
        for (group, members) in out.iter().enumerate() {
            let Some(i) = members[t] else { continue };
            let (path, day, _) = &tree.days[i];
            by_path.entry(path).or_insert(group);
            for run in &day.runs {
                by_run.entry(&run.id).or_insert(group);
            }
        }
    }
    let n = bases.len();
    out.into_iter().map(|m| Group { bases: m[..n].to_vec(), sides: [m[n], m[n + 1]] }).collect()
}

/// A day with what both sides say of it; none where it is gone. Behind it, days of their own for what one side wrote of a
/// day that is another by the clock the other side put right: it stands where it was written.
fn one_day(sides: &[Side; 2], bases: &[Side], group: &Group, runs: Vec<Run>, choice: &mut Choice) -> Result<Vec<Day>> {
    let of = |s: usize| group.sides[s].map(|i| &sides[s].days[i].1);
    let before: Vec<&Day> = group.bases.iter().zip(bases).filter_map(|(i, b)| Some(&b.days[(*i)?].1)).collect();
    let before = if before.len() == bases.len() { before } else { Vec::new() };
    let (a, b) = match (of(0), of(1)) {
        (Some(a), Some(b)) => (a, b),
        (None, None) if runs.is_empty() => return Ok(Vec::new()),
        (None, None) => {
            let was = group.bases.iter().zip(bases).find_map(|(i, b)| Some(&b.days[(*i)?].1));
            let day = was.ok_or_else(|| Error::data("a run has no day", "slipbook verify"))?;
            let days = by_date(Day { runs, readings: Vec::new(), ..day.clone() }, None);
            return Ok(days.into_iter().filter(|d| !d.runs.is_empty()).collect());
        }
        (Some(one), None) | (None, Some(one)) => {
            let untouched = !before.is_empty() && before.iter().all(|d| head(d) == head(one));
            let gone = runs.is_empty() && untouched && before.iter().all(|d| d.readings == one.readings);
            let day = Day { runs, ..one.clone() };
            return Ok(if gone { Vec::new() } else { by_date(day, None) });
        }
    };
    let path = [0, 1].map(|s| group.sides[s].map_or("", |i| sides[s].days[i].0.as_str()));
    let written = |of: &dyn Fn(&Day) -> String| [0, 1].map(|s| sides[s].log().day(path[s], of));
    let day_words = format!("the day of {} at {}", Moment::day_words(a.date, Some(a.date.year())), a.track);
    let told = |what: &str, said: [String; 2], of: &dyn Fn(&Day) -> String| Told {
        about: format!("{day_words}: {what}"),
        said,
        written: written(of),
    };
    // Spelled in two ways with one file's name, or two zones of one evening: nobody need be asked.
    let pick = |was: Option<usize>| was.unwrap_or(0);
    let tracks: Vec<&String> = before.iter().map(|d| &d.track).collect();
    let track = [a, b][pick(by_change(&tracks, [&a.track, &b.track]))].track.clone();
    let offsets: Vec<&i32> = before.iter().map(|d| &d.offset_seconds).collect();
    let offset = [a, b][pick(by_change(&offsets, [&a.offset_seconds, &b.offset_seconds]))].offset_seconds;
    let dates: Vec<_> = before.iter().map(|d| &d.date).collect();
    let date = choice.side(&dates, [&a.date, &b.date], || {
        told("its date", [a, b].map(|d| d.date.to_string()), &|d| d.date.to_string())
    });
    let finishes: Vec<_> = before.iter().map(|d| &d.finish_ft).collect();
    let finish = choice.side(&finishes, [&a.finish_ft, &b.finish_ft], || {
        told("its finish", [a, b].map(|d| format!("{} ft", d.finish_ft)), &|d| format!("{:?}", d.finish_ft))
    });
    let elevations: Vec<_> = before.iter().map(|d| &d.elevation_ft).collect();
    let feet = |n: &Option<Num>| n.map_or("none".to_owned(), |n| format!("{n} ft"));
    let elevation = choice.side_of_some(&elevations, [&a.elevation_ft, &b.elevation_ft], || {
        told("its elevation", [a, b].map(|d| feet(&d.elevation_ft)), &|d| feet(&d.elevation_ft))
    });
    let preps: Vec<_> = before.iter().map(|d| &d.prep).collect();
    let prep = choice.side_of_some(&preps, [&a.prep, &b.prep], || {
        told("its prep", [a, b].map(|d| d.prep.clone().unwrap_or_else(|| "none".to_owned())), &|d| {
            format!("{:?}", d.prep)
        })
    });
    let at = [a, b];
    let lines = |d: &Day| d.note.as_deref().unwrap_or_default().lines().map(str::to_owned).collect::<Vec<_>>();
    let note = merge_lines(&before.iter().map(|d| lines(d)).collect::<Vec<_>>(), [lines(a), lines(b)]);
    let unread =
        merge_lines(&before.iter().map(|d| d.unread.clone()).collect::<Vec<_>>(), [a.unread.clone(), b.unread.clone()]);
    let by_clock = |d: &Day| on_its_clock(&Day { runs: Vec::new(), ..d.clone() }, offset);
    let (mut a, mut b) = (by_clock(a)?, by_clock(b)?);
    let old: Vec<Vec<Reading>> = before.iter().map(|d| by_clock(d).map(|d| d.readings)).collect::<Result<_>>()?;
    // A reading has its day's date: what was read since on the side whose date gave way is of that date.
    let mut other = None;
    if a.date != b.date && !old.is_empty() {
        let gave_way = if date == 0 { &mut b } else { &mut a };
        let (was, new) =
            std::mem::take(&mut gave_way.readings).into_iter().partition(|r| old.iter().any(|list| list.contains(r)));
        gave_way.readings = was;
        other = Some((gave_way.date, new));
    }
    let of_minute = |at| written(&|d| format!("{:?}", d.readings.iter().filter(|r| r.at == at).collect::<Vec<_>>()));
    let readings = merge_readings(&old, [&a.readings, &b.readings], &day_words, &of_minute, choice);
    // What came on the other side all the same opens it again.
    let whole = |s: usize| {
        let has = |r: &Run| at[s].runs.iter().any(|o| o.id == r.id);
        runs.iter().all(has) && readings.iter().all(|r| [&a, &b][s].readings.contains(r))
    };
    let closed = match (a.closed, b.closed) {
        (true, true) => true,
        (true, false) => before.iter().all(|d| !d.closed) && whole(0),
        (false, true) => before.iter().all(|d| !d.closed) && whole(1),
        (false, false) => false,
    };
    let day = Day {
        date: at[date].date,
        track,
        finish_ft: at[finish].finish_ft,
        elevation_ft: at[elevation].elevation_ft,
        offset_seconds: offset,
        prep: at[prep].prep.clone(),
        note: (!note.is_empty()).then(|| note.join("\n")),
        closed,
        unread,
        readings,
        runs,
    };
    Ok(by_date(day, other))
}

/// A day and what is of other dates, each by itself: runs of another race day, and the readings of `other`.
fn by_date(mut day: Day, other: Option<(Date, Vec<Reading>)>) -> Vec<Day> {
    let offset = day.offset_seconds;
    day.runs.iter_mut().for_each(|run| run.at.offset_seconds = offset);
    day.readings.sort_by_key(|r| (r.at.hour() < 6, r.at));
    let mut apart: BTreeMap<Date, (Vec<Run>, Vec<Reading>)> = BTreeMap::new();
    let (own, others): (Vec<Run>, _) = day.runs.into_iter().partition(|run| run.at.race_day() == day.date);
    for run in others {
        apart.entry(run.at.race_day()).or_default().0.push(run);
    }
    if let Some((date, readings)) = other.filter(|(_, list)| !list.is_empty()) {
        apart.entry(date).or_default().1.extend(readings);
    }
    day.runs = own;
    let bare = Day { prep: None, note: None, unread: Vec::new(), closed: false, ..day.clone() };
    let of = |(date, (runs, readings))| Day { date, runs, readings, ..bare.clone() };
    std::iter::once(day).chain(apart.into_iter().map(of)).collect()
}

/// What is said of a day itself.
fn head(day: &Day) -> Day {
    Day { runs: Vec::new(), readings: Vec::new(), ..day.clone() }
}

/// Lines of both: what one side added or took out.
pub(super) fn merge_lines(before: &[Vec<String>], sides: [Vec<String>; 2]) -> Vec<String> {
    let [a, b] = sides;
    let was = |l: &String| !before.is_empty() && before.iter().all(|d| d.contains(l));
    let mut out: Vec<String> = a.iter().filter(|l| b.contains(l) || !was(l)).cloned().collect();
    let more: Vec<String> = b.into_iter().filter(|l| !a.contains(l) && !was(l)).collect();
    out.extend(more);
    out
}

/// A day by another clock: its runs and readings show what that showed.
fn on_its_clock(day: &Day, offset: i32) -> Result<Day> {
    let other = |what: &str| {
        let message = format!("a {what} of {} at {} is of another race day by the other clock", day.date, day.track);
        Error::data(message, "slipbook mend clock puts one of the two right; nothing was changed")
    };
    let mut out = Day { offset_seconds: offset, ..day.clone() };
    for run in &mut out.runs {
        run.at.offset_seconds = offset;
        if run.at.race_day() != out.date {
            return Err(other("run"));
        }
    }
    if offset != day.offset_seconds {
        for reading in &mut out.readings {
            let at = Moment::on_race_day(day.date, reading.at, day.offset_seconds).ok_or_else(|| other("reading"))?;
            let there = Moment { offset_seconds: offset, ..at };
            if there.race_day() != out.date {
                return Err(other("reading"));
            }
            reading.at = there.civil().time();
        }
    }
    out.readings.sort_by_key(|r| (r.at.hour() < 6, r.at));
    Ok(out)
}

/// A day takes in what another of the same date at the same track holds.
fn absorb(day: &mut Day, other: Day) -> Result<()> {
    let other = on_its_clock(&other, day.offset_seconds)?;
    if day.finish_ft != other.finish_ft && !day.runs.is_empty() && !other.runs.is_empty() {
        let message = format!(
            "{} at {} ends at {} ft on one laptop and at {} ft on the other",
            day.date, day.track, day.finish_ft, other.finish_ft
        );
        return Err(Error::data(message, "put one of the two right first; nothing was changed"));
    }
    day.elevation_ft = day.elevation_ft.or(other.elevation_ft);
    day.prep = day.prep.take().or(other.prep);
    day.closed &= other.closed;
    let lines = |n: &Option<String>| n.as_deref().unwrap_or_default().lines().map(str::to_owned).collect::<Vec<_>>();
    let note = merge_lines(&[], [lines(&day.note), lines(&other.note)]);
    day.note = (!note.is_empty()).then(|| note.join("\n"));
    day.unread = merge_lines(&[], [day.unread.clone(), other.unread]);
    let new: Vec<Reading> = other.readings.into_iter().filter(|r| !day.readings.contains(r)).collect();
    day.readings.extend(new);
    day.readings.sort_by_key(|r| (r.at.hour() < 6, r.at));
    day.runs.extend(other.runs);
    Ok(())
}

/// Path and text of a day: the text of a side with what is another put in, so that what a hand wrote there stays.
fn written<'g>(
    words: &RunWords,
    sides: &[Side; 2],
    bases: &[Side],
    groups: impl Iterator<Item = &'g Group>,
    day: &Day,
) -> Result<(String, String)> {
    let mut texts: Vec<&(String, Day, String)> = Vec::new();
    for group in groups {
        let of = |s: usize| group.sides[s].map(|i| &sides[s].days[i]);
        let before: Vec<&String> = group.bases.iter().zip(bases).filter_map(|(i, b)| Some(&b.days[(*i)?].2)).collect();
        let side = match (of(0), of(1)) {
            (Some(a), Some(b)) => by_change(&before, [&a.2, &b.2]).unwrap_or(0),
            _ => 0,
        };
        texts.extend([of(side), of(1 - side)].into_iter().flatten());
    }
    let path = texts.iter().find(|(p, d, _)| (d.date, &d.track) == (day.date, &day.track) && *p == day.path());
    let path = path.map_or_else(|| day.path(), |(p, ..)| p.clone());
    if let Some((_, _, text)) = texts.iter().find(|(p, d, _)| *p == path && d == day) {
        return Ok((path, text.clone()));
    }
    let like = texts.iter().find(|(p, ..)| *p == path).or(texts.first());
    let edited = like.and_then(|(_, old, text)| edit(words, old, text, day).ok());
    let is_it = |text: &String| read_day(&path, text).is_ok_and(|read| read == *day);
    let text = edited.filter(is_it).unwrap_or_else(|| write_day(words, day, &day_header()));
    if !is_it(&text) {
        let message = format!("{path} cannot be written so that it reads as it should");
        return Err(Error::data(message, "nothing was changed"));
    }
    Ok((path, text))
}

/// The text of a day as another.
fn edit(words: &RunWords, old: &Day, text: &str, day: &Day) -> std::result::Result<String, String> {
    let mut text = edit_day(text, old, &Day { readings: old.readings.clone(), ..day.clone() })?;
    let gone: Vec<usize> = (0..old.readings.len()).filter(|i| !day.readings.contains(&old.readings[*i])).collect();
    text = remove_readings(&text, &gone)?;
    let mut so_far = day.clone();
    so_far.readings = old.readings.iter().filter(|r| day.readings.contains(r)).cloned().collect();
    for reading in day.readings.iter().filter(|r| !old.readings.contains(r)) {
        text = insert_reading(words, &text, &so_far, reading);
        so_far.readings.push(reading.clone());
        so_far.readings.sort_by_key(|r| (r.at.hour() < 6, r.at));
    }
    let now: HashMap<&str, &Run> = day.runs.iter().map(|r| (r.id.as_str(), r)).collect();
    let both = old.runs.iter().filter_map(|was| Some((was, *now.get(was.id.as_str())?)));
    let changed: Vec<(&Run, &Run)> = both.filter(|(was, run)| was != run).collect();
    text = edit_runs(words, &text, &changed)?;
    for was in old.runs.iter().filter(|r| !now.contains_key(r.id.as_str())) {
        text = remove_run(&text, &was.id)?;
    }
    let had: HashSet<&str> = old.runs.iter().map(|r| r.id.as_str()).collect();
    so_far.runs.retain(|r| had.contains(r.id.as_str()));
    for run in day.runs.iter().filter(|r| !had.contains(r.id.as_str())) {
        text = insert_run(words, &text, &so_far, run);
        so_far.runs.push(run.clone());
        so_far.runs.sort_by_key(|r| r.at);
    }
    Ok(text)
}
