//! What stands behind the time of a line.

use super::super::air::{AirTyped, NAMES, names_pressure, read_air};
use super::super::moment::Moment;
use super::super::run::{Beam, Run};
use super::super::text::{all_faults, reading_faults};
use super::super::typed::{SlipError, error, read_slip};
use super::{filled, is_blank, is_blank_with_unit};
use crate::schema::{Num, RunWords};

/// What a line says.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Said {
    /// A pass.
    Run(Box<Run>),
    /// Something was changed: the words of a change, and why.
    Change(Vec<String>, Option<String>),
    /// Something was measured: the words, and why.
    Measured(Vec<String>, Option<String>),
    /// Air or track was read; what its barometer number is, the day's elevation may tell.
    Air(AirTyped),
    /// Words to be remembered.
    Note(String),
}

/// What a racer may lead a line with.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Sort {
    Run,
    Change,
    Measure,
    Air,
    Note,
}

pub(super) const SORTS: [(&str, Sort); 5] = [
    ("run", Sort::Run),
    ("change", Sort::Change),
    ("measure", Sort::Measure),
    ("air", Sort::Air),
    ("note", Sort::Note),
];

/// Stands between what happened and why.
const DASHES: [&str; 3] = ["--", "\u{2014}", "\u{2013}"];

/// Reads the words behind a line's time.
pub fn read_line(words: &RunWords, tokens: &[String], finish_ft: u32, at: Moment) -> Result<Said, SlipError> {
    let led = tokens.first().map(|t| t.trim_end_matches(':').to_lowercase());
    let led = led.and_then(|t| SORTS.iter().find(|(w, _)| *w == t)).map(|(_, sort)| *sort);
    let tokens = if led.is_some() { &tokens[1..] } else { tokens };
    let (tokens, behind) = match tokens.iter().position(|t| DASHES.contains(&t.as_str())) {
        Some(i) => (&tokens[..i], told(&tokens[i + 1..])),
        None => (tokens, None),
    };
    if tokens.iter().all(|t| is_blank(t)) {
        return Err(error("nothing stands behind the time", "what happened then, or take the line out"));
    }
    let sort = led.unwrap_or_else(|| sort_of(words, tokens, finish_ft, at));
    let help = |e: SlipError| match led {
        Some(_) => e,
        None => error(e.why, format!("{}; or lead with run, change, measure, air or note", e.help)),
    };
    match sort {
        Sort::Run => run(words, tokens, behind, finish_ft, at).map(|r| Said::Run(Box::new(r))).map_err(help),
        Sort::Air if behind.is_some() => {
            Err(error("a reading takes no words behind `--`", "12:00 note WORDS, on its own line"))
        }
        Sort::Air => air(words, tokens, at).map(Said::Air).map_err(help),
        Sort::Note => {
            let said = told(tokens).ok_or_else(|| error("the note is empty", "12:00 note WORDS"))?;
            Ok(Said::Note(behind.map_or(said.clone(), |b| format!("{said} -- {b}"))))
        }
        Sort::Change | Sort::Measure => {
            let is_why = |t: &String| matches!(t.to_lowercase().as_str(), "why" | "why:" | "reason:");
            let (what, why) = match tokens.iter().position(is_why) {
                Some(i) => (&tokens[..i], told(&tokens[i + 1..])),
                None => (tokens, None),
            };
            let what: Vec<String> = what.iter().filter(|t| !is_blank(t)).map(|t| filled(t).to_owned()).collect();
            let why = match (why, behind) {
                (Some(a), Some(b)) => Some(format!("{a}; {b}")),
                (a, b) => a.or(b),
            };
            if what.is_empty() {
                return Err(error("what was changed is not said", "11:20 rear tires down 1/2"));
            }
            Ok(if sort == Sort::Measure { Said::Measured(what, why) } else { Said::Change(what, why) })
        }
    }
}

/// Words as they are told, without blanks; `None` where nothing is left.
fn told(tokens: &[String]) -> Option<String> {
    let said: Vec<&str> = tokens.iter().filter(|t| !is_blank(t)).map(|t| filled(t)).filter(|t| !t.is_empty()).collect();
    (!said.is_empty()).then(|| said.join(" "))
}

/// What a line without a leading word is: all of it air; a number or a name of the slip in front, or nothing but what the
/// car did, a run; else a change.
fn sort_of(words: &RunWords, tokens: &[String], finish_ft: u32, at: Moment) -> Sort {
    // A number alone that could be a pressure is no reading yet.
    if air(words, tokens, at).is_ok_and(|a| !a.reading.numbers.is_empty() || a.wind.is_some()) {
        return Sort::Air;
    }
    let first = tokens.iter().find(|t| !is_blank(t)).map_or("", |t| filled(t));
    // A slip of the finger on a number (`l.597`) is meant as one.
    let digit = first.contains(|c: char| c.is_ascii_digit()) && !first.contains('=');
    let like_one = digit && (first.starts_with(|c: char| c.is_ascii_digit()) || first.contains('.'));
    let number = first == "-" || Num::parse(first).is_some() || like_one;
    if number {
        return Sort::Run;
    }
    match run(words, tokens, None, finish_ft, at) {
        Ok(run) if Beam::ALL.into_iter().any(|b| run.time(b).is_some()) => Sort::Run,
        Ok(run) if (!run.did.is_empty() || run.why_not.is_some()) && run.note.is_none() => Sort::Run,
        _ => Sort::Change,
    }
}

fn run(
    words: &RunWords,
    tokens: &[String],
    note: Option<String>,
    finish_ft: u32,
    at: Moment,
) -> Result<Run, SlipError> {
    let last = tokens.iter().rposition(|t| !is_blank(t)).map_or(0, |i| i + 1);
    let slip: Vec<String> = tokens[..last]
        .iter()
        .filter(|t| !is_blank(t) || t.starts_with('_'))
        .map(|t| if is_blank(t) { "-".to_owned() } else { filled(t).to_owned() })
        .collect();
    let mut run = read_slip(words, &slip, finish_ft, at)?;
    run.note = match (run.note.take(), note) {
        (Some(a), Some(b)) => Some(format!("{a}; {b}")),
        (a, b) => a.or(b),
    };
    match all_faults(words, &run).into_iter().next() {
        Some(fault) => Err(error(fault, "the number as the slip prints it")),
        None => Ok(run),
    }
}

fn air(words: &RunWords, tokens: &[String], at: Moment) -> Result<AirTyped, SlipError> {
    let mut said: Vec<&str> = Vec::new();
    let mut blank = false;
    for token in tokens {
        let unfilled = is_blank(token) || is_blank_with_unit(token);
        // A number that was not taken takes along the name in front of it, a pressure the word behind it.
        while unfilled && said.last().is_some_and(|w| NAMES.contains(&w.to_lowercase().as_str())) {
            said.pop();
        }
        if !(unfilled || (blank && names_pressure(token))) {
            said.push(filled(token));
        }
        blank = unfilled;
    }
    let typed =
        read_air(&said.join(" "), at.civil().time()).map_err(|why| error(why, "12:00 84F 52% 29.42 station"))?;
    match reading_faults(words, &typed.reading).into_iter().next() {
        Some(fault) => Err(error(fault, "the number as the instrument shows it")),
        None => Ok(typed),
    }
}
