//! A day file's TOML text ⇄ a day. New runs and readings are put into the text where they belong; the rest stays as it is.

use super::Moment;
use super::day::{Day, LONGEST_REPORT, Reading};
use super::facts::with_facts;
use super::moment::read_clock;
use super::run::Run;
use crate::schema::{Num, Problem, RunWords, toml_string};
use jiff::civil::{Date, Time};
use serde::Deserialize;
use std::collections::BTreeMap;
use std::fmt::Write as _;

/// The most a day file may hold, in bytes.
pub const LARGEST_DAY: usize = 1 << 20;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct DayToml {
    format: u32,
    date: toml::value::Datetime,
    track: String,
    finish: u32,
    elevation: Option<Num>,
    utc_offset: String,
    prep: Option<String>,
    note: Option<String>,
    #[serde(default)]
    closed: bool,
    #[serde(default)]
    unread: Vec<String>,
    #[serde(default)]
    reading: Vec<ReadingToml>,
    #[serde(default)]
    run: Vec<RunToml>,
}

#[derive(Deserialize)]
struct ReadingToml {
    at: toml::value::Datetime,
    sun: Option<String>,
    by: Option<String>,
    report: Option<String>,
    #[serde(flatten)]
    numbers: BTreeMap<String, Num>,
}

#[derive(Deserialize)]
struct RunToml {
    id: String,
    at: toml::value::Datetime,
    on: String,
    setup: String,
    setup_was: Option<String>,
    lane: Option<String>,
    round: Option<String>,
    clean_to: Option<u32>,
    why_not: Option<String>,
    #[serde(default)]
    did: Vec<String>,
    staged: Option<String>,
    psi_taken: Option<String>,
    #[serde(default)]
    shifts: Vec<Num>,
    note: Option<String>,
    #[serde(flatten)]
    numbers: BTreeMap<String, Num>,
}

/// Reads a day file, with all that is wrong in it.
pub fn read_day_text(words: &RunWords, text: &str) -> Result<Day, Vec<Problem>> {
    if text.len() > LARGEST_DAY {
        return Err(vec![Problem::at(None, format!("the day file is {} bytes; {LARGEST_DAY} at most", text.len()))]);
    }
    let raw: DayToml = toml::from_str(text).map_err(|e| vec![Problem::at(e.span(), e.message().to_owned())])?;
    let mut problems = Vec::new();
    if raw.format != 1 {
        problems.push(Problem::at(None, "this file's `format` is not 1").help("a newer slipbook may read it"));
    }
    let date = raw.date.date.and_then(|d| Date::new(d.year as i16, d.month as i8, d.day as i8).ok());
    let date = date.unwrap_or_else(|| {
        problems.push(Problem::at(find(text, "date"), "`date` is no date").help("2026-05-16"));
        Date::default()
    });
    let offset_seconds = read_offset(&raw.utc_offset).unwrap_or_else(|| {
        problems.push(Problem::at(find(text, "utc_offset"), "`utc_offset` is no offset").help("\"-05:00\""));
        0
    });
    if !words.finishes_ft.contains(&raw.finish) {
        let allowed: Vec<String> = words.finishes_ft.iter().map(ToString::to_string).collect();
        problems.push(Problem::at(
            find(text, "finish"),
            format!("finish = {} is none of {} ft", raw.finish, allowed.join(", ")),
        ));
    }
    let mut day = Day {
        date,
        track: raw.track,
        finish_ft: raw.finish,
        elevation_ft: raw.elevation,
        offset_seconds,
        prep: raw.prep,
        note: raw.note,
        closed: raw.closed,
        unread: raw.unread,
        readings: Vec::new(),
        runs: Vec::new(),
    };
    let (readings, runs): (Vec<usize>, Vec<usize>) =
        (block_starts(text, "[[reading]]").collect(), block_starts(text, "[[run]]").collect());
    let block = |starts: &[usize], i: usize| starts.get(i).map(|at| *at..*at + text[*at..].find('\n').unwrap_or(0));
    for (i, r) in raw.reading.into_iter().enumerate() {
        match reading(words, r) {
            Ok(r) => day.readings.push(r),
            Err(why) => problems.push(Problem::at(block(&readings, i), why)),
        }
    }
    for (i, r) in raw.run.into_iter().enumerate() {
        match run(words, r, &day) {
            Ok(r) => day.runs.push(r),
            Err(why) => problems.push(Problem::at(block(&runs, i), why)),
        }
    }
    // Equal times keep the order of the file.
    day.runs.sort_by_key(|r| r.at);
    if problems.is_empty() { Ok(day) } else { Err(problems) }
}

fn reading(words: &RunWords, r: ReadingToml) -> Result<Reading, String> {
    let at = clock(r.at).ok_or("`at` is no time of day")?;
    let reading = Reading { at, numbers: r.numbers, sun: r.sun, by: r.by, report: r.report };
    match reading_faults(words, &reading).into_iter().next() {
        Some(fault) => Err(fault),
        None => Ok(reading),
    }
}

/// All that is impossible about a reading.
pub fn reading_faults(words: &RunWords, reading: &Reading) -> Vec<String> {
    let mut faults = Vec::new();
    for (name, n) in &reading.numbers {
        match words.reading.iter().find(|d| d.name == *name) {
            None => faults.push(format!("`{name}` is no reading")),
            Some(d) if *n < d.possible[0] || *n > d.possible[1] => {
                let [a, b] = d.possible;
                faults.push(format!("{} = {n} {} is not possible: {a} to {b} is", d.label, d.unit));
            }
            Some(_) => {}
        }
    }
    faults.extend(one_of("sun", reading.sun.as_deref(), &words.sun));
    if reading.report.as_ref().is_some_and(|r| r.chars().count() > LONGEST_REPORT) {
        faults.push(format!("the weather report is longer than {LONGEST_REPORT} characters"));
    }
    faults
}

fn run(words: &RunWords, r: RunToml, day: &Day) -> Result<Run, String> {
    let time = clock(r.at).ok_or("`at` is no time of day")?;
    let at = Moment::on_race_day(day.date, time, day.offset_seconds).ok_or("`at` is beyond the years 1 to 9999")?;
    let run = Run {
        id: r.id,
        at,
        on: r.on,
        setup: r.setup,
        setup_was: r.setup_was,
        numbers: r.numbers,
        lane: r.lane,
        round: r.round,
        clean_to: r.clean_to,
        why_not: r.why_not,
        did: r.did,
        staged: r.staged,
        psi_taken: r.psi_taken,
        shifts: r.shifts,
        note: r.note,
    };
    match all_faults(words, &run).into_iter().next() {
        Some(fault) => Err(format!("run of {}: {fault}", run.at.civil().strftime("%H:%M"))),
        None => Ok(run),
    }
}

/// All that is wrong with a run: its numbers and its fixed words.
pub fn all_faults(words: &RunWords, run: &Run) -> Vec<String> {
    let why: Vec<String> = words.why_not.iter().map(|w| w.word.clone()).collect();
    let did: Vec<String> = words.did.iter().map(|w| w.word.clone()).collect();
    let mut faults = run.faults(words);
    faults.extend(one_of("lane", run.lane.as_deref(), &words.lanes));
    faults.extend(one_of("why_not", run.why_not.as_deref(), &why));
    faults.extend(one_of("staged", run.staged.as_deref(), &words.staged));
    faults.extend(one_of("psi_taken", run.psi_taken.as_deref(), &words.psi_taken));
    faults.extend(run.did.iter().flat_map(|d| one_of("did", Some(d), &did)));
    if let Some(to) = run.clean_to.filter(|to| *to != 0 && !words.beams_ft.contains(to)) {
        faults.push(format!("clean_to = {to} is no beam: 0, 60, 330, 660, 1000 are"));
    }
    faults
}

fn one_of(name: &str, word: Option<&str>, allowed: &[String]) -> Option<String> {
    let word = word.filter(|w| !allowed.iter().any(|a| a == w))?;
    Some(format!("{name} = \"{word}\" is none of {}", allowed.join(", ")))
}

fn clock(d: toml::value::Datetime) -> Option<Time> {
    let t = d.time.filter(|_| d.date.is_none() && d.offset.is_none())?;
    Time::new(t.hour as i8, t.minute as i8, t.second.unwrap_or(0) as i8, 0).ok()
}

pub(super) fn read_offset(text: &str) -> Option<i32> {
    let (sign, rest) = (text.get(..1)?, text.get(1..)?);
    let t = read_clock(rest)?;
    let seconds = i32::from(t.hour()) * 3600 + i32::from(t.minute()) * 60;
    match sign {
        "+" => Some(seconds),
        "-" => Some(-seconds),
        _ => None,
    }
}

/// The line that sets `key` at the top of the file.
fn find(text: &str, key: &str) -> Option<std::ops::Range<usize>> {
    let mut at = 0;
    for line in text.split_inclusive('\n') {
        if line.strip_prefix(key).is_some_and(|rest| rest.trim_start().starts_with('=')) {
            return Some(at..at + line.trim_end().len());
        }
        at += line.len();
    }
    None
}

fn block_starts<'a>(text: &'a str, header: &'a str) -> impl Iterator<Item = usize> + 'a {
    let mut at = 0;
    text.split_inclusive('\n').filter_map(move |line| {
        let start = at;
        at += line.len();
        (line.trim() == header).then_some(start)
    })
}

/// The text of a new day file.
pub fn write_day(words: &RunWords, day: &Day, header: &[String]) -> String {
    let mut out = String::new();
    for line in header {
        let _ = writeln!(out, "{line}");
    }
    let _ = writeln!(out, "format = 1\ndate = {}\ntrack = {}", day.date, toml_string(&day.track).trim());
    let _ = writeln!(out, "finish = {} # ft", day.finish_ft);
    if let Some(e) = day.elevation_ft {
        let _ = writeln!(out, "elevation = {e} # ft");
    }
    let _ = writeln!(out, "utc_offset = \"{}\"", day.offset_text());
    out = with_facts(&out, day);
    for r in &day.readings {
        out.push_str(&reading_block(words, r));
    }
    for r in &day.runs {
        out.push_str(&run_block(words, r));
    }
    out
}

/// The text with a run put in behind the runs made before it.
pub fn insert_run(words: &RunWords, text: &str, day: &Day, run: &Run) -> String {
    let before = day.runs.iter().filter(|r| r.at <= run.at).count();
    put_block(text, "[[run]]", before, &run_block(words, run))
}

/// The text with a reading put in behind those taken before it.
pub fn insert_reading(words: &RunWords, text: &str, day: &Day, reading: &Reading) -> String {
    let late = |t: Time| (t.hour() < 6, t);
    let before = day.readings.iter().filter(|r| late(r.at) <= late(reading.at)).count();
    let block = reading_block(words, reading);
    if block_starts(text, "[[reading]]").count() > before {
        return put_block(text, "[[reading]]", before, &block);
    }
    // Behind the last reading: before the first run.
    put_block(text, "[[run]]", 0, &block)
}

fn put_block(text: &str, header: &str, n: usize, block: &str) -> String {
    let mut out = text.to_owned();
    if !out.ends_with('\n') {
        out.push('\n');
    }
    let mut at = block_starts(text, header).nth(n).unwrap_or(out.len());
    // Comments right above a block belong to it.
    while let Some(line) = out[..at].strip_suffix('\n').map(|t| t.rfind('\n').map_or(0, |i| i + 1)) {
        let above = out[line..at].trim();
        if at == out.len() || !(above.starts_with('#') || above.is_empty()) {
            break;
        }
        at = line;
    }
    out.insert_str(at, block);
    out
}

fn reading_block(words: &RunWords, r: &Reading) -> String {
    let mut out = format!("\n[[reading]]\nat = {}\n", r.at.strftime("%H:%M:%S"));
    for d in &words.reading {
        if let Some(n) = r.numbers.get(&d.name) {
            let _ = writeln!(out, "{} = {} # {}", d.name, n.show(d.decimals, 6), d.unit);
        }
    }
    text_line(&mut out, "sun", r.sun.as_deref());
    text_line(&mut out, "by", r.by.as_deref());
    text_line(&mut out, "report", r.report.as_deref());
    out
}

fn run_block(words: &RunWords, r: &Run) -> String {
    let mut out = format!("\n[[run]]\nid = \"{}\"\nat = {}\n", r.id, r.at.civil().strftime("%H:%M:%S"));
    let _ = writeln!(out, "on = \"{}\"\nsetup = \"{}\"", r.on, r.setup);
    text_line(&mut out, "setup_was", r.setup_was.as_deref());
    text_line(&mut out, "lane", r.lane.as_deref());
    text_line(&mut out, "round", r.round.as_deref());
    for d in &words.number {
        if let Some(n) = r.numbers.get(&d.name) {
            let _ = writeln!(out, "{} = {} # {}", d.name, n.show(d.decimals, 6), d.unit);
        }
    }
    if let Some(to) = r.clean_to {
        let _ = writeln!(out, "clean_to = {to} # ft");
    }
    text_line(&mut out, "why_not", r.why_not.as_deref());
    if !r.did.is_empty() {
        let did: Vec<String> = r.did.iter().map(|d| toml_string(d).trim().to_owned()).collect();
        let _ = writeln!(out, "did = [{}]", did.join(", "));
    }
    text_line(&mut out, "staged", r.staged.as_deref());
    text_line(&mut out, "psi_taken", r.psi_taken.as_deref());
    if !r.shifts.is_empty() {
        let shifts: Vec<String> = r.shifts.iter().map(ToString::to_string).collect();
        let _ = writeln!(out, "shifts = [{}] # rpm", shifts.join(", "));
    }
    text_line(&mut out, "note", r.note.as_deref());
    out
}

fn text_line(out: &mut String, key: &str, text: Option<&str>) {
    if let Some(text) = text {
        let _ = writeln!(out, "{key} = {}", toml_string(text).trim());
    }
}
