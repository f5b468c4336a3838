//! A car that was taken in, and its story.

use super::dial::finish_words;
use super::layout::{Head, Page, counted, id_lines};
use super::not_ours;
use crate::blame::{Spot, Verdict};
use crate::garage::{CameIn, Received, Shortened};
use crate::slip::Moment;
use crate::timeline::VersionNumber;
use serde_json::{Value as Json, json};

/// What the record tells of a car.
#[derive(Debug, Clone)]
pub struct Story {
    /// Versions on record.
    pub versions: usize,
    /// Runs on record.
    pub runs: usize,
    /// What of the car's record came before the book begins; none where it is all there.
    pub before: Option<Shortened>,
    /// What was left out of it when the car was handed over, in words.
    pub left_out: Vec<String>,
    /// Where most of them end, ft.
    pub finish_ft: u32,
    /// Its first run; the first record where it has none.
    pub first: Moment,
    /// Its last run; the newest version where it has none.
    pub last: Moment,
    /// A quicker setup whose parts do not go along: its version, and those parts.
    pub passed: Option<(VersionNumber, Vec<String>)>,
    /// The setup to start from; none where none has three clean runs.
    pub start: Option<Start>,
    /// Gains that are settled, the largest first.
    pub came_to: Vec<Tried>,
    /// What is not settled, the likeliest to be something first.
    pub not_proven: Vec<Tried>,
    /// Losses that are settled, the largest first.
    pub leave_alone: Vec<Tried>,
    /// The version on the car.
    pub on_car: VersionNumber,
    /// The setup it is.
    pub same_setup: usize,
    /// The setup of each version.
    pub setups: Vec<(VersionNumber, usize)>,
}

/// The setup to start from.
#[derive(Debug, Clone)]
pub struct Start {
    /// Its version.
    pub version: VersionNumber,
    /// Clean runs on it.
    pub runs: usize,
    /// Its 60 ft, s.
    pub ft60: Option<Spot>,
    /// Its ET, s.
    pub et: Option<Spot>,
    /// The numbers are in one air.
    pub one_air: bool,
}

/// A change, with what came of it.
#[derive(Debug, Clone)]
pub struct Tried {
    /// Its version.
    pub version: VersionNumber,
    /// What was changed, in words.
    pub words: Vec<String>,
    /// What is said of it.
    pub said: String,
    /// The same as a rung.
    pub evidence: Verdict,
    /// What it is worth at 60 ft, s; with minus it is quicker.
    pub effect_s: f64,
}

impl Story {
    /// Whether the setup to start from is on the car.
    fn starts_on_car(&self) -> bool {
        let of = |n: &VersionNumber| self.setups.iter().find(|(v, _)| v == n).map(|(_, s)| *s);
        self.start.as_ref().is_some_and(|s| of(&s.version) == Some(self.same_setup))
    }
}

/// A car that was taken in, as it is told.
pub struct ReceivedTold<'a> {
    /// The car.
    pub received: &'a Received,
    /// Its story; none in a book without a version.
    pub story: Option<&'a Story>,
}

/// As text.
pub fn text(head: &Head, told: &ReceivedTold) -> String {
    let received = told.received;
    let wrong = &received.sound.wrong;
    let by = match &received.sold_by {
        Some(by) if received.by_owner() => format!("handed over by {by}"),
        Some(by) if received.newest_by == "unknown" => {
            format!("{by} had it last by its record, and who wrote its newest record is not known")
        }
        Some(by) => format!("{by} had it last by its record, and its newest record is by {}", received.newest_by),
        None => "handed over".to_owned(),
    };
    let not_ours = not_ours::summary(&received.not_ours);
    let whole = match (wrong.len(), &not_ours) {
        (0, None) => "whole, and nothing in it can run".to_owned(),
        (0, Some(said)) => format!("whole, and nothing in it can run, but {said}"),
        (n, said) => {
            let but = said.as_ref().map(|s| format!("; {s}")).unwrap_or_default();
            format!("taken in with {} not right, and nothing in it can run{but}", counted(n, "thing"))
        }
    };
    let mut page = head.page(&match (received.came, wrong.len(), &received.owner) {
        (CameIn::New, ..) => format!("{by}; {whole}"),
        (CameIn::Back(n), 0, _) if not_ours.is_none() => {
            format!("back in its own book: {} from elsewhere", counted(n, "record"))
        }
        (CameIn::Back(n), ..) => format!("back in its own book: {} from elsewhere; {whole}", counted(n, "record")),
        (CameIn::Had, _, Some(_)) => "the book here has all of that already".to_owned(),
        (CameIn::Had, ..) if received.put_back > 0 => "the book here had all of that, and is mended from it".to_owned(),
        (CameIn::Had, ..) => "the book here has all of that already; nothing was changed".to_owned(),
    });
    if received.put_back > 0 {
        let n = counted(received.put_back, "object");
        page.wrap(
            "  put back      ",
            &format!("{n} the book here had lost or damaged; what was damaged is in .git/damaged"),
        );
    }
    super::verify::wrong_lines(head, &mut page, wrong, false);
    not_ours::lines(head, &mut page, &received.not_ours.iter().collect::<Vec<_>>(), "  not ours      ");
    // The id is that of the file: where the book here holds more, each is said to be what it is.
    let had = received.came == CameIn::Had;
    if had {
        let (versions, runs) = (counted(received.versions, "version"), counted(received.sound.runs, "run"));
        page.wrap("  the file      ", &format!("{versions}, {runs}, {}", counted(received.sound.records, "record")));
    }
    let label = if had { "  id of it      " } else { "  handover id   " };
    id_lines(&mut page, [label, "  check word    ", "  in full       "], &received.id);
    page.wrap("                ", "compare it with what the giver says; if one word differs, it is not that book");
    if let Some(story) = told.story {
        let more = match had {
            true if received.more_here == 0 => ", the same",
            true => ", the same and more",
            false => "",
        };
        story_lines(head, &mut page, story, (if had { "  your book     " } else { "  on record     " }, more));
    }
    let next = story_next(told);
    if let Some(owner) = &received.owner {
        page.wrap("", &format!("{owner} has the car from today on{next}; what was before stays as it was."));
    }
    if had
        && received.owner.is_none()
        && let Some(last) = received.book.car.owners.last()
    {
        page.wrap("", &format!("{} has the car by its record; --owner NAME records another.", last.name));
    }
    page.wrap("", "History, not advice: tech inspection and the class rules decide.");
    page.text()
}

/// "; your own records start at v24"
fn story_next(told: &ReceivedTold) -> String {
    let next = told.story.map(|s| s.on_car.to_string());
    next.map(|n| format!(", after {n}")).unwrap_or_default()
}

/// `book`: what the book is called, and how it stands to the file.
fn story_lines(head: &Head, page: &mut Page, story: &Story, book: (&str, &str)) {
    let span = format!("{} - {}", head.day(story.first.race_day()), head.day(story.last.race_day()));
    let (versions, runs) = (counted(story.versions, "version"), counted(story.runs, "run"));
    page.wrap(book.0, &format!("{versions}, {runs}, {}, {span}{}", finish_words(story.finish_ft), book.1));
    if let Some(before) = &story.before {
        let (earlier, whole) = (counted(before.runs, "run"), before.runs.saturating_add(story.runs));
        let said = format!(
            "{} and {earlier} of the car came before this record begins. What follows rests on {} of its {whole} runs; the \
             page that came with the file says how many it is judged by",
            counted(before.versions, "version"),
            story.runs
        );
        page.wrap("  before it     ", &said);
    }
    if !story.left_out.is_empty() {
        page.wrap("  left out      ", &format!("{}, when the car was handed over", story.left_out.join(", ")));
    }
    match &story.start {
        Some(start) => {
            let middle = |name: &str, spot: Option<Spot>| {
                spot.map(|s| format!(", {name} {:.3} in the middle (best {:.3})", s.middle, s.best)).unwrap_or_default()
            };
            let runs = counted(start.runs, "clean run");
            let air = if start.one_air { ", in one air" } else { ", as run" };
            let (ft60, et) = (middle("60 ft", start.ft60), middle("ET", start.et));
            let others = story.setups.iter().filter(|(v, _)| *v != start.version);
            let of = story.setups.iter().find(|(v, _)| *v == start.version).map(|(_, setup)| *setup);
            let with: Vec<String> = others.filter(|(_, s)| Some(*s) == of).map(|(v, _)| v.to_string()).collect();
            let with = if with.is_empty() { String::new() } else { format!(", one setup with {}", with.join(", ")) };
            let said = format!("{}{with}: {runs}{ft60}{et}{air}", start.version);
            page.wrap("  start from    ", &said);
        }
        None if story.passed.is_some() => {
            page.wrap("  start from    ", "every setup with three clean runs has a part that does not go along")
        }
        None => page.wrap("  start from    ", "no setup has three clean runs yet, so none is proven"),
    }
    if let Some((version, parts)) = &story.passed {
        page.wrap("  not with it   ", &format!("{version} ran best, on {}: that does not go along", parts.join(", ")));
    }
    let mut told = |label: &str, all: &[Tried]| {
        for (n, one) in all.iter().enumerate() {
            let label = if n == 0 { format!("  {label:<14}") } else { " ".repeat(16) };
            page.wrap(&label, &format!("{}: {}, {}", one.version, one.words.join("; "), one.said));
        }
    };
    told("it came to", &story.came_to);
    told("not proven", &story.not_proven);
    told("leave alone", &story.leave_alone);
    let back = match &story.start {
        Some(_) if story.starts_on_car() => ", which is the setup to start from".to_owned(),
        Some(start) => format!(". To go back: slipbook wrench {}", start.version),
        None => String::new(),
    };
    page.wrap("  on the car    ", &format!("{}{back}", story.on_car));
}

/// As JSON.
pub fn json(head: &Head, told: &ReceivedTold) -> Json {
    let received = told.received;
    let came = match received.came {
        CameIn::New => "new",
        CameIn::Back(_) => "back",
        CameIn::Had => "had",
    };
    let new = match received.came {
        CameIn::New => Some(received.sound.records),
        CameIn::Back(n) => Some(n),
        CameIn::Had => Some(0),
    };
    json!({
        "car": head.car, "folder": received.folder, "came": came, "new_records": new, "tip": received.tip.to_string(),
        "handover_id": received.id.to_string(), "handover_words": received.id.words()[..6].to_vec(),
        "check_word": received.id.words()[6], "versions": received.versions, "more_here": received.more_here,
        "not_by_slipbook": not_ours::json(&received.not_ours), "sold_by": received.sold_by,
        "owner": received.owner, "records": received.sound.records, "sheets": received.sound.sheets,
        "days": received.sound.days, "runs": received.sound.runs, "left_out_objects": received.left_out,
        "newest_by": received.newest_by, "put_back_objects": received.put_back,
        "wrong": super::verify::wrong_json(&received.sound.wrong), "story": told.story.map(story_json),
    })
}

/// The story as JSON.
pub fn story_json(story: &Story) -> Json {
    let tried = |all: &[Tried]| -> Vec<Json> {
        let one = |t: &Tried| json!({"version": t.version, "words": t.words, "evidence": t.evidence.key(), "effect_s": t.effect_s});
        all.iter().map(one).collect()
    };
    json!({
        "versions": story.versions, "runs": story.runs, "before": story.before, "left_out": story.left_out, "finish_ft": story.finish_ft, "first": story.first.iso(),
        "last": story.last.iso(),
        "start": story.start.as_ref().map(|s| json!({"version": s.version, "runs": s.runs, "ft60_s": s.ft60, "et_s": s.et, "in_one_air": s.one_air})),
        "without_parts": story.passed.as_ref().map(|(v, parts)| json!({"version": v, "parts": parts})),
        "came_to": tried(&story.came_to), "not_proven": tried(&story.not_proven),
        "leave_alone": tried(&story.leave_alone), "on_car": story.on_car, "starts_on_car": story.starts_on_car(),
    })
}
