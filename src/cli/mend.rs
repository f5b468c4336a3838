//! `mend`: the record was wrong.

use super::context::Context;
use super::footing::version_meant;
use super::plan::{StepArgs, put_right};
use super::ui::Ui;
use crate::garage::{Book, Error, Fix, History, Result, Span, run_named, version_named};
use crate::schema::{EntryContext, Num, read_entry};
use crate::slip::{Moment, Run, read_day, read_said};
use clap::Args;

/// Put right what was put down wrong
///
///   slipbook mend v22 limiter 3/4            until it was next set
///   slipbook mend v22 limiter 3/4 --only     in v22 only
///   slipbook mend v1 rear gear 4.56 --always from the first sheet to now
///   slipbook mend v22 --when "sat 12:15"     it happened then
///   slipbook mend v22 --between "sat 11:00" "sat 12:15"
///   slipbook mend v22 --why "Pell asked"     its reason
///   slipbook mend v22 --never                it never happened on the car
///   slipbook mend v22 --happened             it did, after all
///   slipbook mend run "sat 14:20" 60=1.597 left
///   slipbook mend run 3f9ac2d1 --on v14      it was made on v14
///   slipbook mend run "sat 14:20" --at "sun 14:20"
///   slipbook mend run 3f9ac2d1 --never       there was no such run
///   slipbook mend track "Osier Flat" --name "Osier Flats" --elevation 640
///   slipbook mend clock "sep 5" --slow 1h    the clock was an hour behind that day
///
/// A mend never counts as a change to the car. What would move is said first;
/// --dry-run only says it. Nothing that was written is lost: history
/// --as-recorded shows it. A mend can be mended, or taken back with oops.
#[derive(Debug, Args)]
#[command(verbatim_doc_comment)]
pub struct MendArgs {
    /// v22 (or its id), run, track or clock; then what is right
    #[arg(required = true, value_name = "WHAT", allow_negative_numbers = true)]
    what: Vec<String>,
    /// In that version only
    #[arg(long, conflicts_with = "always")]
    only: bool,
    /// It was always so
    #[arg(long)]
    always: bool,
    /// It never happened
    #[arg(long)]
    never: bool,
    /// What was mended with --never did happen
    #[arg(long, conflicts_with = "never")]
    happened: bool,
    /// The run's note
    #[arg(long, value_name = "TEXT")]
    note: Option<String>,
    /// When it happened
    #[arg(long, value_name = "TIME")]
    when: Option<String>,
    /// It happened between these times
    #[arg(long, num_args = 2, value_names = ["FROM", "TO"], conflicts_with = "when")]
    between: Option<Vec<String>>,
    /// Its reason
    #[arg(long, value_name = "TEXT")]
    why: Option<String>,
    /// When the run was made
    #[arg(long, value_name = "TIME")]
    at: Option<String>,
    /// The version the run was made on
    #[arg(long, value_name = "VERSION")]
    on: Option<String>,
    /// The track's right name
    #[arg(long, value_name = "NAME")]
    name: Option<String>,
    /// The track's elevation, ft
    #[arg(long, value_name = "FT")]
    elevation: Option<String>,
    /// The clock was behind by that much: 1h, 25min, 1d
    #[arg(long, value_name = "TIME", conflicts_with = "fast")]
    slow: Option<String>,
    /// The clock was ahead by that much
    #[arg(long, value_name = "TIME")]
    fast: Option<String>,
    #[command(flatten)]
    steps: StepArgs,
    /// Say what it would do, and do nothing
    #[arg(long)]
    dry_run: bool,
}

/// Runs the command.
pub fn run(ctx: &Context, ui: &mut Ui, args: &MendArgs) -> Result<()> {
    let book = ctx.book()?;
    let (first, rest) = args.what.split_first().ok_or_else(|| Error::usage("mend what?", "slipbook mend --help"))?;
    let fixes = match first.to_lowercase().as_str() {
        "run" => of_run(ctx, &book, args, rest)?,
        "track" => vec![of_track(args, rest)?],
        "clock" => vec![of_clock(ctx, args, rest)?],
        "air" | "reading" => {
            let help =
                "slipbook air READING --at TIME --replace puts it right; slipbook air --at TIME --never takes it away";
            return Err(Error::usage("a reading is put right where it was recorded", help));
        }
        _ => of_version(ctx, ui, &book, args, first, rest)?,
    };
    if fixes.is_empty() {
        return Err(Error::usage("what is right? Nothing was said to mend", "slipbook mend --help has examples"));
    }
    put_right(ctx, ui, &book, &fixes, &args.steps, args.dry_run)
}

fn stray(args: &MendArgs, allowed: &[&str]) -> Result<()> {
    let given = [
        ("--only", args.only),
        ("--always", args.always),
        ("--never", args.never),
        ("--happened", args.happened),
        ("--note", args.note.is_some()),
        ("--when", args.when.is_some()),
        ("--between", args.between.is_some()),
        ("--why", args.why.is_some()),
        ("--at", args.at.is_some()),
        ("--on", args.on.is_some()),
        ("--name", args.name.is_some()),
        ("--elevation", args.elevation.is_some()),
        ("--slow", args.slow.is_some()),
        ("--fast", args.fast.is_some()),
    ];
    match given.iter().find(|(name, given)| *given && !allowed.contains(name)) {
        Some((name, _)) => {
            Err(Error::usage(format!("{name} says nothing here"), format!("here: {}", allowed.join(" "))))
        }
        None => Ok(()),
    }
}

fn of_version(
    ctx: &Context,
    ui: &mut Ui,
    book: &Book,
    args: &MendArgs,
    name: &str,
    words: &[String],
) -> Result<Vec<Fix>> {
    stray(args, &["--only", "--always", "--never", "--happened", "--when", "--between", "--why"])?;
    let history = book.history()?;
    if args.happened {
        let number =
            name.parse().map_err(|()| Error::usage(format!("`{name}` is no version"), "mend v22 --happened"))?;
        return Ok(vec![Fix::Happened(number)]);
    }
    let (record, sheet) = record_named(ctx, book, &history, name)?;
    let mut fixes = Vec::new();
    if args.never {
        let more = args.when.is_some() || args.between.is_some() || args.why.is_some() || args.only || args.always;
        if !words.is_empty() || more {
            return Err(Error::usage("what never happened has no value, time or reason", "--never alone"));
        }
        return Ok(vec![Fix::Never { record }]);
    }
    if !words.is_empty() {
        let entry = EntryContext { schema: &book.schema, chassis: book.car.chassis(), sheet: &sheet };
        let edits = read_entry(entry, words, &mut |clause, candidates| super::change::choose(ui, clause, candidates))?;
        let span = match (args.only, args.always) {
            (true, _) => Span::Only,
            (_, true) => Span::Always,
            _ => Span::Stretch,
        };
        fixes.push(Fix::Value { record: record.clone(), edits, span });
    } else if args.only || args.always {
        return Err(Error::usage("which value?", "slipbook mend v22 limiter 3/4 --only"));
    }
    if let Some(when) = &args.when {
        fixes.push(Fix::Time { record: record.clone(), at: ctx.moment(when)?, since: None });
    }
    if let Some((since, at)) = window(ctx, args.between.as_deref())? {
        fixes.push(Fix::Time { record: record.clone(), at, since: Some(since) });
    }
    if let Some(why) = &args.why {
        let why = Some(why.trim().to_owned()).filter(|w| !w.is_empty());
        fixes.push(Fix::Why { record, why });
    }
    Ok(fixes)
}

/// A window of time as `--between` gives it.
pub fn window(ctx: &Context, between: Option<&[String]>) -> Result<Option<(Moment, Moment)>> {
    let Some([from, to]) = between else { return Ok(None) };
    let (from, to) = (ctx.moment(from)?, ctx.moment(to)?);
    if from >= to {
        return Err(Error::usage(
            format!("{} is not before {}", from.words(None), to.words(None)),
            "--between FROM TO",
        ));
    }
    Ok(Some((from, to)))
}

/// The record that began a version (`v22`), or any record of the sheet by the beginning of its id; and the sheet after it.
fn record_named(ctx: &Context, book: &Book, history: &History, name: &str) -> Result<(String, crate::schema::Sheet)> {
    let lower = name.to_lowercase();
    let by_id = lower.len() >= 6 && lower.bytes().all(|b| b.is_ascii_hexdigit());
    let remark = history.timeline.remarks.iter().filter(|_| by_id).find(|r| r.entry.id.starts_with(&lower));
    if let Some(remark) = remark {
        let sheets = book.sheets(&history.timeline)?;
        return Ok((remark.entry.id.clone(), sheets.get(&remark.entry.blob).cloned().unwrap_or_default()));
    }
    if name.parse::<crate::timeline::VersionNumber>().is_err() && !by_id {
        return Err(Error::usage(format!("`{name}` is nothing to mend"), "a version (v22), run, track or clock"));
    }
    ctx.tell_also_called(history, name);
    let i = version_named(history, name, ctx.hand.now, &|| None, &|| None)?;
    let version = &history.timeline.versions[i];
    Ok((version.entry.id.clone(), book.sheet(version)?))
}

/// The run meant by the first words: an id, or a time in one word or more; and the words behind.
fn which_run<'a>(ctx: &Context, history: &'a History, words: &'a [String]) -> Result<(&'a Run, &'a [String])> {
    for n in (1..=words.len().min(4)).rev() {
        let said = words[..n].join(" ");
        if let Ok(at) = crate::slip::read_when(&said, ctx.hand.now, &ctx.zone) {
            return Ok((run_named(history, &said, Some(at))?, &words[n..]));
        }
    }
    let said = words.first().ok_or_else(|| Error::usage("which run?", "slipbook mend run \"sat 14:20\" 60=1.597"))?;
    Ok((run_named(history, &said.to_lowercase(), None)?, &words[1..]))
}

fn of_run(ctx: &Context, book: &Book, args: &MendArgs, words: &[String]) -> Result<Vec<Fix>> {
    stray(args, &["--never", "--at", "--on", "--note"])?;
    let history = book.history()?;
    let (was, words) = which_run(ctx, &history, words)?;
    let id = was.id.clone();
    if args.never {
        if !words.is_empty() || args.at.is_some() || args.on.is_some() {
            return Err(Error::usage("a run that never was has no numbers", "--never alone"));
        }
        return Ok(vec![Fix::NoRun { run: id }]);
    }
    let mut fixes = Vec::new();
    let mut run = was.clone();
    if !words.is_empty() {
        said_of(book, &history, &mut run, words)?;
    }
    if let Some(note) = &args.note {
        run.note = Some(note.trim().to_owned()).filter(|n| !n.is_empty());
    }
    if let Some(at) = &args.at {
        let said = ctx.moment(at)?;
        // What was said is what the clock at the track showed; another zone than the day's says nothing of that clock.
        let same_zone =
            Moment::at(was.at.seconds, &ctx.zone).is_some_and(|m| m.offset_seconds == was.at.offset_seconds);
        let there = Moment::from_civil(said.civil(), was.at.offset_seconds);
        let moves = said.race_day() != was.at.race_day();
        run.at = there.filter(|_| !(same_zone && moves)).unwrap_or(said);
    }
    if run != *was {
        fixes.push(Fix::Run(Box::new(run)));
    } else if args.on.is_none() {
        let what = if words.is_empty() && args.at.is_none() {
            "what was wrong about it?"
        } else {
            "it is on record so already"
        };
        return Err(Error::usage(what, "slipbook mend run ID 60=1.597, --on v14, --at TIME or --never"));
    }
    if let Some(on) = &args.on {
        let version = version_meant(ctx, book, &history, on)?;
        fixes.push(Fix::RunOn { run: id, version: history.timeline.versions[version].number.clone() });
    }
    Ok(fixes)
}

/// Numbers and words of a run, put over those on record. `60=-` takes a number off.
fn said_of(book: &Book, history: &History, run: &mut Run, words: &[String]) -> Result<()> {
    let schema = &book.schema.run;
    let day = history.runs.iter().find(|m| m.run.id == run.id).map(|m| &history.days[m.day]);
    let finish = day.map_or(1320, |d| d.finish_ft);
    let at = run.at;
    let read = |words: &[String]| read_said(schema, words, finish, at).map_err(|e| Error::usage(e.why, e.help));
    let mut kept = Vec::new();
    let mut off = Vec::new();
    for word in words.iter().flat_map(|w| w.split_whitespace()) {
        match word.strip_suffix("=-") {
            Some(name) => off.extend(read(&[format!("{name}=1.0")])?.numbers.into_keys()),
            None => kept.push(word.to_owned()),
        }
    }
    let said = if kept.is_empty() { Run::new(at) } else { read(&kept)? };
    if let Some(note) = &said.note {
        return Err(Error::usage(
            format!("`{note}` is nothing of a slip"),
            "60=1.597, left, dead hook ...; --note TEXT for a note",
        ));
    }
    run.numbers.extend(said.numbers);
    run.numbers.retain(|k, _| !off.contains(k));
    let clean = kept.iter().any(|w| w.eq_ignore_ascii_case("clean"));
    if clean || said.clean_to.is_some() || said.why_not.is_some() {
        (run.clean_to, run.why_not) = (said.clean_to, said.why_not);
    }
    if !said.did.is_empty() {
        run.did = said.did;
    }
    if !said.shifts.is_empty() {
        run.shifts = said.shifts;
    }
    for (old, new) in [
        (&mut run.lane, said.lane),
        (&mut run.round, said.round),
        (&mut run.staged, said.staged),
        (&mut run.psi_taken, said.psi_taken),
    ] {
        if new.is_some() {
            *old = new;
        }
    }
    Ok(())
}

fn of_track(args: &MendArgs, words: &[String]) -> Result<Fix> {
    stray(args, &["--name", "--elevation"])?;
    let name = words.join(" ");
    if name.trim().is_empty() || (args.name.is_none() && args.elevation.is_none()) {
        let help = "slipbook mend track \"Osier Flat\" --name \"Osier Flats\" --elevation 640";
        return Err(Error::usage("which track, and what is right?", help));
    }
    if args.name.as_ref().is_some_and(|n| n.trim().is_empty() || n.chars().any(char::is_control)) {
        return Err(Error::usage("a track has a name", "--name NAME"));
    }
    let elevation = args.elevation.as_deref().map(|e| {
        let feet = Num::parse(e).filter(|n| (-1500.0..=15000.0).contains(&n.to_f64()));
        feet.ok_or_else(|| Error::usage(format!("`{e}` is no elevation in feet"), "--elevation 640"))
    });
    Ok(Fix::Track { name, to: args.name.clone(), elevation_ft: elevation.transpose()? })
}

fn of_clock(ctx: &Context, args: &MendArgs, words: &[String]) -> Result<Fix> {
    stray(args, &["--slow", "--fast"])?;
    let said = words.join(" ");
    let day = read_day(&said, ctx.hand.now);
    let day =
        day.ok_or_else(|| Error::usage(format!("`{said}` is no day"), "slipbook mend clock \"sep 5\" --slow 1h"))?;
    let (by, sign) = match (&args.slow, &args.fast) {
        (Some(by), _) => (by, 1),
        (_, Some(by)) => (by, -1),
        _ => return Err(Error::usage("by how much was the clock wrong?", "--slow 1h, --fast 1h, --slow 1d")),
    };
    let seconds = read_span(by).ok_or_else(|| Error::usage(format!("`{by}` is no time span"), "1h, 1d, 25min"))?;
    Ok(Fix::Clock { day, seconds: sign * seconds })
}

/// `1h`, `1d`, `25min`: seconds; at most four hundred days.
fn read_span(text: &str) -> Option<i64> {
    let text = text.trim();
    let digits = text.find(|c: char| !c.is_ascii_digit())?;
    let n: i64 = text[..digits].parse().ok().filter(|n| (1..=600_000).contains(n))?;
    let unit = match text[digits..].trim() {
        "h" | "hour" | "hours" => 3600,
        "d" | "day" | "days" => 86_400,
        "m" | "min" | "minutes" => 60,
        _ => return None,
    };
    Some(n * unit).filter(|s| *s <= 400 * 86_400)
}

#[cfg(test)]
mod tests {
    use super::read_span;

    #[test]
    fn how_wrong_a_clock_was() {
        assert_eq!(["1h", "1d", "25min", "90 min"].map(read_span), [Some(3600), Some(86_400), Some(1500), Some(5400)]);
        assert_eq!(["", "1", "h", "0h", "1y", "401d", "1e9h", "-1h"].map(read_span), [None; 8]);
    }
}
