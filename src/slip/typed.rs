//! A time slip as it is typed in the pits → a run: `1597 4676 7.251 94.2 9.491 11.428 117.0 r hook`.

use super::Moment;
use super::run::{Beam, Run};
use crate::schema::{Num, RunWord, RunWords, nearest};

/// Why a slip could not be read.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{why}")]
pub struct SlipError {
    /// What is wrong.
    pub why: String,
    /// What would be right.
    pub help: String,
}

pub(super) fn error(why: impl Into<String>, help: impl Into<String>) -> SlipError {
    SlipError { why: why.into(), help: help.into() }
}

/// Reads the words of a slip. `finish_ft` decides which numbers a slip prints.
pub fn read_slip(words: &RunWords, text: &[String], finish_ft: u32, at: Moment) -> Result<Run, SlipError> {
    let run = read_said(words, text, finish_ft, at)?;
    if run.numbers.is_empty() && run.did.is_empty() && run.why_not.is_none() {
        return Err(error("no number of the slip was given", "slip order, or by name: 60=1.597 et=11.428 mph=117"));
    }
    Ok(run)
}

/// Reads what is said of a run, in the words of a slip, without a number too.
pub fn read_said(words: &RunWords, text: &[String], finish_ft: u32, at: Moment) -> Result<Run, SlipError> {
    let mut run = Run::new(at);
    let tokens: Vec<String> = text
        .iter()
        .flat_map(|t| t.split([' ', ',']))
        .flat_map(|t| t.split_once('=').map_or(vec![t.to_owned()], |(a, b)| vec![format!("{a}="), b.to_owned()]))
        .filter(|t| !t.is_empty())
        .collect();
    let named = tokens.first().is_some_and(|t| beam_name(words, t, finish_ft).is_some());
    let mut bare: Vec<(String, Num)> = Vec::new();
    let mut note: Vec<String> = Vec::new();
    let mut i = 0;
    while i < tokens.len() {
        let (token, next) = (tokens[i].as_str(), tokens.get(i + 1).map(String::as_str));
        if !note.is_empty() {
            // A note runs to the end of the line.
            note.push(token.trim_end_matches('=').to_owned());
            i += 1;
            continue;
        }
        let lower = token.to_lowercase();
        let value = next.and_then(|n| Num::parse(n.trim_end_matches("mph").trim_end_matches('s')));
        let may_name = |n: &String| named || !n.starts_with("ft") || lower.contains(['f', '=']) || lower == "et";
        let name = number_name(words, &lower, finish_ft).filter(may_name);
        match (name, value) {
            (Some(name), Some(n)) => {
                put(words, &mut run, &name, as_printed(words, &name, n))?;
                i += 2;
                continue;
            }
            (_, None) if token.ends_with('=') => {
                let what = next.unwrap_or("");
                return Err(error(format!("`{token}{what}`: `{what}` is no number"), "60=1.597"));
            }
            _ => {}
        }
        if let Some(used) = fixed_words(words, &tokens[i..], &mut run)? {
            i += used;
            continue;
        }
        match (lower.as_str(), Num::parse(token)) {
            ("-" | "x", _) => bare.push((token.to_owned(), Num::ZERO)),
            (_, Some(n)) => bare.push((token.to_owned(), n)),
            _ if ["no", "not", "didnt", "didn't", "other", "without", "never"].contains(&lower.as_str()) => {
                note.push(token.to_owned())
            }
            _ if looks_like_a_number(token) => {
                return Err(error(format!("`{token}` is no number"), "1.597 or 1597; a note goes behind --note"));
            }
            // A name with a value that no number of a run has: nothing of it may get lost in a note.
            _ if token.ends_with('=') => {
                let names = words.number.iter().map(|d| d.name.as_str());
                let said = token.trim_end_matches('=');
                let near = nearest(said, names, 1).first().map_or(String::new(), |n| format!(" (nearest: {n})"));
                return Err(error(format!("`{said}` is no number of a run{near}"), "60=1.597 et=11.428 mph=117"));
            }
            _ => note.push(token.to_owned()),
        }
        i += 1;
    }
    place(words, &mut run, &bare, finish_ft)?;
    if !note.is_empty() {
        run.note = Some(note.join(" "));
    }
    infer_clean(words, &mut run);
    Ok(run)
}

/// A slip of the finger on a number: `1.6o`, `l.648`, `7.4o0`.
fn looks_like_a_number(token: &str) -> bool {
    let digits = token.chars().filter(char::is_ascii_digit).count();
    digits > 0 && (token.starts_with(|c: char| c.is_ascii_digit() || "+-.".contains(c)) || token.contains('.'))
}

fn beam_name(words: &RunWords, token: &str, finish_ft: u32) -> Option<String> {
    number_name(words, &token.to_lowercase(), finish_ft)
        .filter(|n| n.starts_with("ft") || n.starts_with("mph") || n == "reaction")
}

/// The number meant by a word: `60=`, `60ft`, `et`, `mph`, `rt`.
fn number_name(words: &RunWords, word: &str, finish_ft: u32) -> Option<String> {
    let word = word.trim_end_matches(['=', ':']);
    match word {
        "et" => return Some(format!("ft{finish_ft}")),
        "mph" => return Some(format!("mph{finish_ft}")),
        _ => {}
    }
    words.number.iter().find(|n| n.name == word || n.says.iter().any(|s| s == word)).map(|n| n.name.clone())
}

/// `1597` is 1.597 where a slip prints seconds. No split is under 0.6 s, so `117` is a speed; a reaction is any of them.
fn as_printed(words: &RunWords, name: &str, n: Num) -> Num {
    let seconds = words.number(name).is_some_and(|d| d.unit == "s" && d.decimals == 3);
    let least = if name == "reaction" { 2 } else { 600 };
    if seconds && n.is_int() && n.abs() >= Num::int(least) { Num::from_micros(n.micros() / 1000) } else { n }
}

fn put(words: &RunWords, run: &mut Run, name: &str, n: Num) -> Result<(), SlipError> {
    if run.numbers.insert(name.to_owned(), n).is_some() {
        let label = words.number(name).map_or(name, |d| d.label.as_str());
        return Err(error(format!("{label} is given twice"), "give each number once"));
    }
    Ok(())
}

/// Puts the bare numbers in slip order. `-` stands for one that is not on the slip.
fn place(words: &RunWords, run: &mut Run, bare: &[(String, Num)], finish_ft: u32) -> Result<(), SlipError> {
    if bare.is_empty() {
        return Ok(());
    }
    let mut order: Vec<&str> = Vec::new();
    for beam in Beam::ALL.into_iter().filter(|b| b.feet() <= finish_ft) {
        order.push(beam.key());
        // Slips print the speed at the eighth and at the finish.
        order.extend(beam.speed_key().filter(|_| beam == Beam::Ft660 || beam.feet() == finish_ft));
    }
    let help = || {
        format!(
            "slip order is: [reaction] {}; `-` for one that is missing, or name them: 60=1.597 et=11.428 mph=117",
            order.join(" ")
        )
    };
    let printed: Vec<Num> = bare.iter().map(|(_, n)| as_printed(words, "ft60", *n)).collect();
    let speed = |n: Num| n >= Num::int(30);
    let shape: String = printed.iter().map(|n| if speed(*n) { 'v' } else { 't' }).collect();
    let names: Vec<&str> = if bare.len() == order.len() {
        order.clone()
    } else if bare.len() == order.len() + 1 && as_printed(words, "reaction", bare[0].1) < Num::int(1) {
        [vec!["reaction"], order.clone()].concat()
    } else {
        let (et, mph) = (format!("ft{finish_ft}"), format!("mph{finish_ft}"));
        let keep = |wanted: &[&str]| -> Vec<&str> { order.iter().copied().filter(|n| wanted.contains(n)).collect() };
        match shape.as_str() {
            "t" if printed[0] < Num::int(3) => vec!["ft60"],
            "tv" if printed[0] > Num::int(4) => keep(&[&et, &mph]),
            "ttv" if plausible_finish(printed[0], printed[1], finish_ft) => keep(&["ft60", &et, &mph]),
            // A pass that went wrong early has the first two.
            "tt" if run.why_not.is_some() && (2.3..3.6).contains(&(printed[1].to_f64() / printed[0].to_f64())) => {
                vec!["ft60", "ft330"]
            }
            "tttv" if finish_ft > 660 => vec!["ft60", "ft330", "ft660", "mph660"],
            _ => return Err(error(format!("{} numbers: which is which cannot be told", bare.len()), help())),
        }
    };
    for (name, ((text, _), n)) in names.iter().zip(bare.iter().zip(&printed)) {
        if matches!(text.as_str(), "-" | "x") {
            continue;
        }
        let wants_speed = name.starts_with("mph");
        let n = match *name {
            "reaction" => as_printed(words, name, Num::parse(text).unwrap_or(*n)),
            _ if wants_speed => Num::parse(text).unwrap_or(*n),
            _ => *n,
        };
        if wants_speed != speed(n) && *name != "reaction" {
            let label = words.number(name).map_or(*name, |d| d.label.as_str());
            return Err(error(format!("`{text}` stands where the {label} belongs"), help()));
        }
        put(words, run, name, n)?;
    }
    Ok(())
}

/// A quarter takes about seven times its 60 ft, an eighth four and a half, 1000 ft six: tells the finish from a split.
fn plausible_finish(t60: Num, et: Num, finish_ft: u32) -> bool {
    let ratio = et.to_f64() / t60.to_f64();
    match finish_ft {
        660 => (3.6..5.6).contains(&ratio),
        1000 => (5.0..7.2).contains(&ratio),
        _ => (5.8..9.0).contains(&ratio),
    }
}

/// Lane, round, staging, what it did, why it was not clean: the fixed words at the front of `tokens`; how many were used.
fn fixed_words(words: &RunWords, tokens: &[String], run: &mut Run) -> Result<Option<usize>, SlipError> {
    let lower: Vec<String> = tokens.iter().map(|t| t.to_lowercase()).collect();
    let first = lower[0].as_str();
    let next = lower.get(1).map(String::as_str);
    if let Some(lane) = lane_word(first).filter(|_| run.lane.is_none()) {
        // "went left" is what it did; "left" alone, the first time, is the lane.
        run.lane = Some(lane.to_owned());
        return Ok(Some(if next == Some("lane") { 2 } else { 1 }));
    }
    if let Some(used) = words.did.iter().find_map(|w| said(w, &lower)).map(|u| u.1) {
        let (word, _) = words.did.iter().filter_map(|w| said(w, &lower)).max_by_key(|(_, n)| *n).unwrap_or_default();
        let longest = words.did.iter().filter_map(|w| said(w, &lower)).map(|(_, n)| n).max().unwrap_or(used);
        if !run.did.contains(&word) {
            run.did.push(word);
        }
        return Ok(Some(longest));
    }
    // "dialed 11.55 broke out" went under its dial: nothing on the car broke.
    if first == "broke" && next == Some("out") {
        return Ok(None);
    }
    // A second cause stays in the note, whole.
    let cause = words.why_not.iter().filter(|_| run.why_not.is_none());
    if let Some((word, used)) = cause.filter_map(|w| said(w, &lower)).max_by_key(|(_, n)| *n) {
        run.why_not = Some(word);
        return Ok(Some(used + place_word(words, &lower[used..], run)));
    }
    match first {
        "clean" => {
            let used = place_word(words, &lower[1..], run);
            return Ok(Some(1 + used));
        }
        "psi" => {
            let Some((left, right)) = next.map(|n| n.split_once('/').unwrap_or((n, n))) else { return Ok(None) };
            let (Some(l), Some(r)) = (Num::parse(left), Num::parse(right)) else { return Ok(None) };
            run.numbers.insert("psi_rear_left".to_owned(), l);
            run.numbers.insert("psi_rear_right".to_owned(), r);
            return Ok(Some(2));
        }
        "elimination" | "round" => {
            let n = next
                .filter(|n| n.parse::<u8>().is_ok())
                .ok_or_else(|| error("which elimination round?", "elimination 1"))?;
            run.round = Some(format!("elimination {n}"));
            return Ok(Some(2));
        }
        _ => {}
    }
    if words.staged.iter().any(|w| w == first) {
        run.staged = Some(first.to_owned());
        return Ok(Some(1));
    }
    let two = next.map(|n| format!("{first} {n}"));
    if let Some(round) = words.rounds.iter().find(|r| *r == first || two.as_deref() == Some(r.as_str())) {
        run.round = Some(round.clone());
        return Ok(Some(round.split(' ').count()));
    }
    Ok(None)
}

/// left or right, as people type it.
pub fn lane_word(word: &str) -> Option<&'static str> {
    match word.to_lowercase().as_str() {
        "l" | "left" => Some("left"),
        "r" | "right" => Some("right"),
        _ => None,
    }
}

fn said(word: &RunWord, tokens: &[String]) -> Option<(String, usize)> {
    let ways = std::iter::once(&word.word).chain(&word.says);
    let fits = ways.filter_map(|way| {
        let parts: Vec<&str> = way.split(' ').collect();
        (tokens.len() >= parts.len() && parts.iter().zip(tokens).all(|(a, b)| *a == b.as_str())).then_some(parts.len())
    });
    fits.max().map(|n| (word.word.clone(), n))
}

/// The fixed word meant by a text, for tables; the error names the words there are.
pub fn run_word(list: &[RunWord], text: &str) -> Result<String, String> {
    let lower = text.trim().to_lowercase();
    let hit = list.iter().find(|w| w.word == lower || w.says.contains(&lower));
    hit.map(|w| w.word.clone()).ok_or_else(|| {
        let all: Vec<&str> = list.iter().map(|w| w.word.as_str()).collect();
        let near = nearest(&lower, all.iter().copied(), 1);
        let near = near.first().map(|n| format!(" (did you mean {n}?)")).unwrap_or_default();
        format!("`{text}` is none of {}{near}", all.join(", "))
    })
}

/// `at 330`, `to 330`, `@330`, `330ft` behind a reason; how many words it took.
fn place_word(words: &RunWords, tokens: &[String], run: &mut Run) -> usize {
    let (skip, word) = match tokens {
        [a, b, ..] if matches!(a.as_str(), "at" | "to" | "past" | "after") => (2, b.as_str()),
        [a, ..] => (1, a.as_str()),
        [] => return 0,
    };
    let word = word.trim_start_matches('@').trim_end_matches("ft");
    if word == "finish" {
        run.clean_to = None;
        return skip;
    }
    match word.parse::<u32>().ok().filter(|f| *f == 0 || words.beams_ft.contains(f)) {
        Some(feet) => {
            run.clean_to = Some(feet);
            skip
        }
        None => 0,
    }
}

/// A reason without a place: as far as `schema/run.toml` says, else up to the last split on the slip.
fn infer_clean(words: &RunWords, run: &mut Run) {
    if run.why_not.is_none() {
        run.why_not = run.did.iter().find_map(|d| words.did.iter().find(|w| w.word == *d)?.why_not.clone());
    }
    if run.clean_to.is_some() || run.why_not.is_none() {
        return;
    }
    let of =
        |list: &[RunWord], word: &str| list.iter().find(|w| w.word == word)?.clean_to.as_deref()?.parse::<u32>().ok();
    let by_did = run.did.iter().filter_map(|d| of(&words.did, d)).min();
    let by_reason = run.why_not.as_deref().and_then(|w| of(&words.why_not, w));
    // Lifting or breaking somewhere: the part before the last beam passed is not known to be clean.
    let passed = Beam::ALL.into_iter().filter(|b| run.time(*b).is_some()).map(Beam::feet).collect::<Vec<_>>();
    let before_last = passed.len().checked_sub(2).map_or(0, |i| passed[i]);
    run.clean_to = Some(by_did.or(by_reason).unwrap_or(before_last));
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::schema::schema;

    fn read(text: &str, finish_ft: u32) -> Result<Run, SlipError> {
        let at = Moment { seconds: 1_787_000_000, offset_seconds: -18_000 };
        let words: Vec<String> = text.split(' ').map(str::to_owned).collect();
        read_slip(&schema().run, &words, finish_ft, at)
    }

    fn numbers(text: &str, finish_ft: u32) -> String {
        let run = read(text, finish_ft).unwrap();
        run.numbers.iter().map(|(k, v)| format!("{k}={v}")).collect::<Vec<_>>().join(" ")
    }

    #[test]
    fn slip_order_with_and_without_points() {
        let whole = "ft1000=9.491 ft1320=11.428 ft330=4.676 ft60=1.597 ft660=7.251 mph1320=117 mph660=94.2";
        assert_eq!(numbers("1597 4676 7.251 94.2 9.491 11.428 117.0 r hook", 1320), whole);
        assert_eq!(numbers("1.597 4.676 7251 94.2 9491 11428 117", 1320), whole);
        assert_eq!(
            numbers("521 1597 4676 7251 94.2 9491 11428 117", 1320),
            whole.replace("mph660=94.2", "mph660=94.2 reaction=0.521")
        );
        assert_eq!(
            numbers("-0.012 1.597 4.676 7.251 94.2", 660),
            "ft330=4.676 ft60=1.597 ft660=7.251 mph660=94.2 reaction=-0.012"
        );
    }

    #[test]
    fn by_name_and_a_few() {
        assert_eq!(numbers("60=1.597 et=11.428 mph=117", 1320), "ft1320=11.428 ft60=1.597 mph1320=117");
        assert_eq!(numbers("60 1.597 et 7.251", 660), "ft60=1.597 ft660=7.251");
        assert_eq!(numbers("1597 11428 117", 1320), "ft1320=11.428 ft60=1.597 mph1320=117");
        assert_eq!(numbers("1.702 - - - - 12.9 88", 1320), "ft1320=12.9 ft60=1.702 mph1320=88");
        for unclear in ["1.6 4.7", "1.6 4.7 7.2", "94 1.6 4.6 7.2 9.4 11.4 117"] {
            assert!(read(unclear, 1320).is_err(), "{unclear}");
        }
    }

    #[test]
    fn the_words_behind_the_numbers() {
        let run = read("1.597 11.428 117.0 r deep lifted at 660 bounced left the box open", 1320).unwrap();
        assert_eq!((run.lane.as_deref(), run.staged.as_deref()), (Some("right"), Some("deep")));
        assert_eq!((run.why_not.as_deref(), run.clean_to), (Some("lifted"), Some(660)));
        assert_eq!(run.did, ["bounced"]);
        let run = read("1.997 12.9 88.0 l spun at the hit", 1320).unwrap();
        assert_eq!((run.why_not.as_deref(), run.clean_to), (Some("spun"), Some(0)));
    }
}
