//! A trial → its file's text; how it ended is put behind what stands there, so what a hand wrote stays.

use super::read::{read_trial, unit_of};
use super::{Dropped, End, Judged, Side, Trial};
use crate::schema::{Problem, toml_string};
use crate::slip::Response;
use std::fmt::Write as _;

/// Decimals of a number of seconds or mph in the file.
const DECIMALS: usize = 4;

fn quoted(text: &str) -> String {
    toml_string(text).trim().to_owned()
}

/// `60`, `et`: as `Response::read` takes it.
fn word(response: Response) -> String {
    match response {
        Response::Time(beam) => beam.feet().to_string(),
        Response::Et => "et".to_owned(),
        Response::Mph | Response::Speed(_) => "mph".to_owned(),
    }
}

/// The text of a new trial's file.
pub fn write_trial(trial: &Trial) -> String {
    let unit = unit_of(trial.response);
    let mut out = String::from(
        "# A trial: two setups back to back. `slipbook trial status` tells what comes next.\n\
         # Text after # is yours and is kept.\n",
    );
    let _ = writeln!(out, "format = 1\nname = {}", quoted(&trial.name));
    let _ = writeln!(out, "response = {} # 60, 330, 660, 1000, et or mph", quoted(&word(trial.response)));
    for (key, side) in [("a", Side::A), ("b", Side::B)] {
        let arm = trial.arm(side);
        let _ = writeln!(out, "{key} = \"{}\"\n{key}_setup = \"{}\"", arm.version, arm.setup);
    }
    let _ = writeln!(out, "order = \"{}\" # one letter a run", trial.order);
    let _ = writeln!(out, "matters_{unit} = {} # {unit}: less is not worth a job", trial.matters.show(3, 6));
    let _ = writeln!(out, "started = {}\nby = {}", trial.started.iso(), quoted(&trial.by));
    if let Some(why) = &trial.why {
        let _ = writeln!(out, "why = {}", quoted(why));
    }
    match &trial.end {
        Some(End::Judged(judged)) => out.push_str(&judged_block(trial, judged)),
        Some(End::Dropped(dropped)) => out.push_str(&dropped_block(dropped)),
        None => {}
    }
    out
}

/// The text with a verdict put behind it; an error where it is laid out so that this cannot be read back.
pub fn with_judged(text: &str, trial: &Trial, judged: &Judged) -> Result<(String, Trial), Vec<Problem>> {
    put_behind(text, trial, End::Judged(Box::new(judged.clone())), &judged_block(trial, judged))
}

/// The text with the note that it was given up.
pub fn with_dropped(text: &str, trial: &Trial, dropped: &Dropped) -> Result<(String, Trial), Vec<Problem>> {
    put_behind(text, trial, End::Dropped(dropped.clone()), &dropped_block(dropped))
}

fn put_behind(text: &str, trial: &Trial, end: End, block: &str) -> Result<(String, Trial), Vec<Problem>> {
    let gap = if text.ends_with('\n') { "" } else { "\n" };
    let out = format!("{text}{gap}{block}");
    let read = read_trial(&out)?;
    // Numbers are rounded on the way, all else is as it was said.
    let same = |a: &End, b: &End| std::mem::discriminant(a) == std::mem::discriminant(b);
    if read.name != trial.name || !read.end.as_ref().is_some_and(|e| same(e, &end)) {
        return Err(vec![Problem::at(None, "the trial's file is laid out so that its end cannot be put in")]);
    }
    Ok((out, read))
}

fn dropped_block(dropped: &Dropped) -> String {
    let mut out = format!("\n[dropped]\nat = {}\nby = {}\n", dropped.at.iso(), quoted(&dropped.by));
    if let Some(why) = &dropped.why {
        let _ = writeln!(out, "why = {}", quoted(why));
    }
    out
}

fn judged_block(trial: &Trial, judged: &Judged) -> String {
    let unit = unit_of(trial.response);
    let mut out = format!("\n[judged]\nat = {}\nby = {}\n", judged.at.iso(), quoted(&judged.by));
    let _ = writeln!(out, "verdict = {} # b against a", quoted(&judged.verdict));
    let list = |texts: &[String]| texts.iter().map(|t| quoted(t)).collect::<Vec<_>>().join(", ");
    if !judged.evidence.is_empty() {
        let _ = writeln!(out, "evidence = [{}]", list(&judged.evidence));
    }
    let mut number = |key: &str, value: Option<f64>, decimals: usize, comment: &str| {
        if let Some(x) = value.filter(|x| x.is_finite()) {
            // No minus before a nothing.
            let shown = format!("{x:.decimals$}");
            let zero = shown.trim_start_matches('-').chars().all(|c| matches!(c, '0' | '.'));
            let shown = if zero { shown.trim_start_matches('-') } else { &shown };
            let _ = writeln!(out, "{key} = {shown} # {comment}");
        }
    };
    let says = if trial.response.is_speed() { "mph, plus is faster" } else { "s, minus is quicker" };
    number(&format!("effect_{unit}"), judged.effect, DECIMALS, says);
    number(&format!("sd_{unit}"), judged.sd, DECIMALS, unit);
    number(&format!("lo95_{unit}"), judged.lo95, DECIMALS, &format!("{unit}: 95 times in 100 it is not below"));
    number(&format!("hi95_{unit}"), judged.hi95, DECIMALS, &format!("{unit}: nor above"));
    number("p_gain", judged.p_gain, 2, "chance of a gain beyond what matters");
    number("p_loss", judged.p_loss, 2, "of a loss");
    number("p_same", judged.p_same, 2, "of neither");
    number(
        &format!("by_hand_{unit}"),
        judged.by_hand,
        DECIMALS,
        &format!("{unit}: means of this trial's runs, day by day"),
    );
    number("air_kg_m3", judged.air_kg_m3, 4, "kg/m3: the one air all runs were carried to");
    let _ = writeln!(out, "runs_a = [{}]\nruns_b = [{}]", list(&judged.runs_a), list(&judged.runs_b));
    let _ = writeln!(out, "order_run = \"{}\"\nmethod = {}", judged.order_run, quoted(&judged.method));
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::schema::Num;
    use crate::slip::{Beam, Moment};
    use crate::trial::{Arm, LARGEST_TRIAL};

    fn at(text: &str) -> Moment {
        text.parse().unwrap()
    }

    fn clamps() -> Trial {
        let arm = |v: &str, c: &str| Arm { version: v.parse().unwrap(), setup: c.repeat(40) };
        Trial {
            name: "clamps \"on\"".to_owned(),
            response: Response::Time(Beam::Ft60),
            a: arm("v15", "a"),
            b: arm("v16", "b"),
            order: "ABBA".parse().unwrap(),
            matters: Num::parse("0.005").unwrap(),
            started: at("2026-07-11T09:30:00-05:00"),
            by: "Ro".to_owned(),
            why: Some("windup marks".to_owned()),
            end: None,
        }
    }

    fn verdict() -> Judged {
        Judged {
            at: at("2026-07-11T16:00:00-05:00"),
            by: "Ro".to_owned(),
            verdict: "almost certainly a loss".to_owned(),
            evidence: vec!["toggled".to_owned()],
            effect: Some(0.0331),
            sd: Some(0.006),
            lo95: Some(0.022),
            hi95: Some(0.0455),
            p_gain: Some(0.0),
            p_loss: Some(1.0),
            p_same: Some(0.0),
            by_hand: Some(0.0312),
            runs_a: vec!["3f9ac2d1".to_owned()],
            runs_b: vec!["11111111".to_owned(), "22222222".to_owned()],
            order_run: "ABB".parse().unwrap(),
            air_kg_m3: Some(1.1405),
            method: "state effects".to_owned(),
        }
    }

    #[test]
    fn written_and_read() {
        let trial = clamps();
        let text = write_trial(&trial);
        assert_eq!(read_trial(&text).unwrap(), trial);
        let (judged, read) = with_judged(&text, &trial, &verdict()).unwrap();
        assert_eq!(read.end, Some(End::Judged(Box::new(verdict()))));
        assert_eq!(read_trial(&judged).unwrap(), read);
        assert_eq!(write_trial(&read), judged);
        let gone = Dropped { at: at("2026-07-11T12:00:00-05:00"), by: "Pell".to_owned(), why: Some("rain".to_owned()) };
        let (text, read) = with_dropped(&text, &trial, &gone).unwrap();
        assert_eq!(read.end, Some(End::Dropped(gone)));
        // It has ended: a second end is refused.
        assert!(with_judged(&text, &read, &verdict()).is_err());
    }

    #[test]
    fn speeds_stand_in_mph() {
        let trial = Trial { response: Response::Mph, ..clamps() };
        let (text, read) = with_judged(&write_trial(&trial), &trial, &verdict()).unwrap();
        assert!(text.contains("matters_mph = 0.005") && text.contains("effect_mph = 0.0331"), "{text}");
        assert_eq!(read.end, Some(End::Judged(Box::new(verdict()))));
    }

    #[test]
    fn what_a_hand_wrote_stays() {
        let text = write_trial(&clamps()).replace("order =", "# the left rear is sticky\norder =");
        let text = format!("{text}weather = \"dust\"\n\n[mine]\nx = 1");
        let (out, _) = with_judged(&text, &clamps(), &verdict()).unwrap();
        for kept in ["# the left rear is sticky", "weather = \"dust\"", "[mine]\nx = 1\n"] {
            assert!(out.contains(kept), "{out}");
        }
    }

    #[test]
    fn all_that_is_wrong_is_told_with_its_place() {
        let text = write_trial(&clamps());
        for (from, to, wanted) in [
            ("format = 1", "format = 2", "`format` is not 1"),
            ("a = \"v15\"", "a = \"15\"", "`15` is no version"),
            ("b = \"v16\"", "b = \"v15\"", "the same version"),
            ("\"ABBA\"", "\"ABX\"", "no order"),
            ("response = \"60\"", "response = \"61\"", "no number of the slip"),
            ("2026-07-11T09:30:00-05:00", "2026-07-11", "a time with its offset"),
            ("matters_s = 0.005", "matters_s = -1", "could matter"),
            ("matters_s = 0.005", "matters_s = \"much\"", "is a number"),
            ("by = \"Ro\"", "by = 7", "`by` is a text"),
            ("name = ", "nam = ", "no `name`"),
        ] {
            let wrong = text.replacen(from, to, 1);
            assert_ne!(wrong, text, "{from}");
            let problems = read_trial(&wrong).unwrap_err();
            assert!(problems.iter().any(|p| p.message.contains(wanted)), "{wanted}: {problems:?}");
            let placed = |p: &Problem| p.span.is_some() || p.message.contains("no `");
            assert!(problems.iter().all(placed), "{wanted}: {problems:?}");
        }
        // Two things wrong: both are told.
        let twice = text.replace("\"ABBA\"", "\"ABX\"").replace("a = \"v15\"", "a = \"15\"");
        assert_eq!(read_trial(&twice).unwrap_err().len(), 2);
    }

    #[test]
    fn hostile_files_are_one_clear_error() {
        for text in [
            "",
            "format = 1",
            "[judged]",
            "judged = 3",
            "order = [",
            "\u{0}",
            &"#".repeat(LARGEST_TRIAL + 1),
            &format!("{}[judged]\nat = 1\nruns_a = [1]\np_gain = 7\neffect_s = inf\n", write_trial(&clamps())),
            &format!("{}[judged]\n[dropped]\n", write_trial(&clamps())),
            &format!("{}[[judged]]\nat = 1\n", write_trial(&clamps())),
        ] {
            assert!(!read_trial(text).unwrap_err().is_empty(), "{text:.80}");
        }
    }
}
