//! What a mend would do, said before it is done: the line as recorded beside the line as it was.

use super::super::book::Book;
use super::super::history::{History, linked};
use super::super::message::{Message, in_room};
use super::super::record::{Draft, Written, finish};
use super::super::who::{Hand, stamp};
use super::super::{Error, Result};
use super::build::{Line, build};
use super::days;
use super::fix::{Fix, put_right};
use super::live::{DayTexts, Live};
use crate::diff::words;
use crate::schema::{Sheet, Verdict, check_value};
use crate::slip::Moment;
use crate::store::Store;
use crate::store::{Batch, Id, Options, Person, Record};
use crate::text::on_a_line;
use crate::timeline::{Entry, Given, Kind, Steps, VersionNumber};
use std::collections::HashMap;

/// A run that belongs to another version now.
#[derive(Debug, Clone, serde::Serialize)]
pub struct Moved {
    /// When it was made.
    pub at: Moment,
    /// Its id.
    pub run: String,
    /// The version as recorded.
    pub from: String,
    /// The version as it was.
    pub to: String,
}

/// A version whose sheet is another without being put right itself.
#[derive(Debug, Clone, serde::Serialize)]
pub struct Carried {
    /// Its number.
    pub version: VersionNumber,
    /// Values its sheet holds now, in words, with what it held.
    pub now: Vec<String>,
    /// It went back to an earlier version and did not touch what was carried.
    pub reverted: Option<String>,
}

/// A mend, ready to be carried out.
pub struct Plan {
    /// What is put right, in sentences.
    pub said: Vec<String>,
    /// News that gets a place of its own.
    pub news: Vec<Entry>,
    /// The book as recorded.
    pub before: History,
    /// The book as it was. Records that are new have no id yet.
    pub after: History,
    /// Runs that go to another version.
    pub moved: Vec<Moved>,
    /// Runs that carry another sheet than before, those included.
    pub relinked: usize,
    /// Later versions whose sheets are others.
    pub carried: Vec<Carried>,
    /// Values outside the usual range that sheets would hold now, in words.
    pub unusual: Vec<String>,
    head: Id,
    start: Option<Id>,
    first: Option<Vec<u8>>,
    side: Vec<SideRecord>,
    files: DayTexts,
    sheet: Option<String>,
    car: Option<String>,
    given: Given,
    message: Message,
}

struct SideRecord {
    people: (Person, Person),
    at: Moment,
    written: Moment,
    message: String,
    text: String,
}

/// Works out what putting these right would do. Nothing is written.
pub fn plan(book: &Book, hand: &Hand, fixes: &[Fix], steps: Steps) -> Result<Plan> {
    let mut live = Live::read(book)?;
    let mut said = Vec::new();
    for fix in fixes {
        put_right(book, hand, &mut live, fix, &mut said)?;
    }
    let line = build(book, &live, steps)?;
    let places = line.as_ref().map_or_else(|| live.before.timeline.places(), |l| l.timeline.places());
    days::relink(&mut live, &places);
    let files = days::texts(book, &live)?;
    // Where the last records went and none came in their place, the sheet before them is on the car.
    let sheet = match &line {
        Some(l) => Some(match (l.rebuilt.last(), l.kept.checked_sub(1)) {
            (Some(newest), _) => newest.text.clone(),
            (None, Some(i)) => live.sheet_text(book, &live.entries[i].entry)?,
            (None, None) => return Err(Error::data("a book keeps its first sheet", "nothing was recorded")),
        }),
        None => None,
    };
    let car = live.car.take();
    let start = line.as_ref().and_then(|l| l.kept.checked_sub(1)).and_then(|i| live.entries[i].commit);
    // A line that begins anew holds what the first record of the book held.
    let first = match (&line, start, live.entries.first().and_then(|e| e.commit)) {
        (Some(_), None, Some(opening)) => book.store.file(opening, "car.toml")?.map(|(_, bytes)| bytes),
        _ => None,
    };
    let (moved, relinked) = moves(&live, line.as_ref());
    let carried = line.as_ref().map(|l| carried(book, l)).unwrap_or_default();
    let unusual = line.as_ref().map(|l| unusual(book, l)).unwrap_or_default();
    let news: Vec<Entry> = line
        .iter()
        .flat_map(|l| &l.rebuilt)
        .filter(|r| r.lived.commit.is_none())
        .map(|r| r.lived.entry.clone())
        .collect();
    let given = line.as_ref().map_or(&live.given, |l| &l.given).clone();
    let message = merge_message(&said, &news, &given);
    let side = line.iter().flat_map(|l| &l.rebuilt).map(|r| SideRecord {
        people: r.lived.people.clone(),
        at: r.lived.entry.at,
        written: r.lived.entry.written,
        message: r.lived.message.to_text(),
        text: r.text.clone(),
    });
    let side: Vec<SideRecord> = side.collect();
    let days: Vec<_> = live.days.iter().map(|f| f.day.clone()).collect();
    let timeline = line.map_or_else(|| live.before.timeline.clone(), |l| l.timeline);
    let after = linked(timeline, days, Some(live.head));
    Ok(Plan {
        said,
        news,
        before: live.before,
        after,
        moved,
        relinked,
        carried,
        unusual,
        head: live.head,
        start,
        first,
        side,
        files,
        sheet,
        car,
        given,
        message,
    })
}

fn moves(live: &Live, line: Option<&Line>) -> (Vec<Moved>, usize) {
    let mut moved = Vec::new();
    let mut relinked = 0;
    let new = line.map_or(&live.before.timeline, |l| &l.timeline);
    let mut by_id = std::collections::HashMap::new();
    for run in live.days.iter().flat_map(|f| &f.day.runs) {
        by_id.entry(run.id.as_str()).or_insert(run);
    }
    for old in live.days.iter().flat_map(|f| &f.old.runs) {
        let Some(run) = by_id.get(old.id.as_str()).copied() else { continue };
        relinked += usize::from(run.setup != old.setup);
        let name = |timeline: &crate::timeline::Timeline, run: &crate::slip::Run| {
            timeline.of_run(run).map(|v| timeline.versions[v].number.to_string()).unwrap_or_default()
        };
        let (from, to) = (name(&live.before.timeline, old), name(new, run));
        if from != to {
            moved.push(Moved { at: run.at, run: run.id.clone(), from, to });
        }
    }
    moved.sort_by_key(|m| m.at);
    (moved, relinked)
}

/// Values that no sheet on record held there, and that are not usual.
fn unusual(book: &Book, line: &Line) -> Vec<String> {
    let mut out: Vec<String> = Vec::new();
    for r in &line.rebuilt {
        let known = r.lived.known.as_deref().map(|k| &k.1);
        for (key, value) in r.sheet.iter().filter(|(key, v)| known.and_then(|k| k.get(key)) != Some(*v)) {
            let Some(field) = book.schema.field(key) else { continue };
            if let Verdict::Unusual(why) = check_value(&book.schema, field, value)
                && !out.contains(&why)
            {
                out.push(why);
            }
        }
    }
    // What was unusual on record has been asked about.
    let asked =
        |why: &String| line.rebuilt.iter().filter_map(|r| r.lived.known.as_deref()).any(|k| says(book, &k.1, why));
    out.retain(|why| !asked(why));
    out
}

fn says(book: &Book, sheet: &Sheet, why: &str) -> bool {
    sheet.iter().any(|(key, value)| {
        let verdict = book.schema.field(key).map(|f| check_value(&book.schema, f, value));
        matches!(verdict, Some(Verdict::Unusual(w)) if w == why)
    })
}

fn carried(book: &Book, line: &Line) -> Vec<Carried> {
    let schema = &book.schema;
    let mut out = Vec::new();
    for r in line.rebuilt.iter().filter(|r| r.carried) {
        let (Some(version), Some(known)) = (&r.lived.entry.number, r.lived.known.as_deref()) else { continue };
        let differ = crate::diff::diff(schema, &known.1, &r.sheet);
        let told = |c: &crate::diff::FieldChange| {
            let field = schema.field(&c.key)?;
            let show = |v: &Option<crate::schema::Value>| {
                v.as_ref().map_or("not on record".to_owned(), |v| words::show_value(schema, field, v))
            };
            let name = field.says.first().unwrap_or(&field.label);
            Some(match &c.old {
                Some(_) => format!("{name} {}, not {}", show(&c.new), show(&c.old)),
                None => format!("{name} {}, now on record", show(&c.new)),
            })
        };
        out.push(Carried {
            version: version.clone(),
            now: differ.changes.iter().filter_map(told).collect(),
            reverted: r.lived.entry.back_to.clone(),
        });
    }
    out
}

/// What the log as written says of it.
fn merge_message(said: &[String], news: &[Entry], given: &Given) -> Message {
    let name = |e: &Entry| e.number.as_ref().map(|n| format!("{n} ")).unwrap_or_default();
    let late = |e: &Entry| format!("{}told late, {}: {}", name(e), e.at.words(None), e.words.join(", "));
    let brief = |e: &Entry| format!("{}told late: {}", name(e), e.words.join(", "));
    let all: Vec<String> = news.iter().map(late).chain(said.iter().cloned()).collect();
    let all: Vec<String> =
        all.iter().map(|l| l.chars().map(|c| if c.is_control() { ' ' } else { c }).collect()).collect();
    let one: String = news.first().map(brief).or(said.first().cloned()).unwrap_or_else(|| "mended".to_owned());
    let more = if all.len() > 1 { format!(", {} more", all.len() - 1) } else { String::new() };
    let one = on_a_line(&one);
    let room = words::LONGEST_SUBJECT - more.len();
    let subject = match one.chars().count() <= room {
        true => format!("{one}{more}"),
        // Between words: what is left of a name would be nobody's any more, and still tell of somebody.
        false => format!("{}...{more}", in_room(&one, room - 3)),
    };
    let mut message = Message::new(Kind::Mend, subject.clone());
    if all.len() > 1 || all.first() != Some(&subject) {
        message.body = all;
    }
    message.push("Given", &given.to_line());
    message
}

impl Plan {
    /// Every sheet of the record as it will be, by its store id; those that are not written yet too.
    pub fn sheets(&self, book: &Book) -> Result<HashMap<String, Sheet>> {
        let texts = self.side.iter().map(|r| (Store::blob_id(r.text.as_bytes()).to_string(), r.text.as_str()));
        book.sheets_with(&self.after.timeline, &texts.collect())
    }

    /// Whether it would alter anything.
    pub fn is_empty(&self) -> bool {
        !self.alters_sheets() && self.files.is_empty() && self.car.is_none()
    }

    /// Whether records of the sheet are others: then it is a merge with a side line.
    pub fn alters_sheets(&self) -> bool {
        self.sheet.is_some()
    }

    /// The text of the sheet on the car after it, where records of the sheet are others.
    pub fn sheet_text(&self) -> Option<&str> {
        self.sheet.as_deref()
    }

    /// The text of a day file after it, where that is another.
    pub fn day_text(&self, path: &str) -> Option<&str> {
        self.files.get(path)?.as_deref()
    }

    /// The number the next version gets after it.
    pub fn given_next(&self) -> VersionNumber {
        self.given.next()
    }

    /// Writes it behind the last record of a batch that began at the tip it was worked out on.
    pub fn write(&self, batch: &mut Batch, hand: &Hand) -> Result<Id> {
        if batch.tip().head != Some(self.head) || batch.last() != Some(self.head) {
            return Err(Error::data("the book changed meanwhile; nothing was recorded", "say it again"));
        }
        let mut parent = self.start;
        for (i, r) in self.side.iter().enumerate() {
            let mut files = vec![("setup.toml".to_owned(), Some(r.text.clone().into_bytes()))];
            if let Some(car) = self.first.as_ref().filter(|_| i == 0) {
                files.insert(0, ("car.toml".to_owned(), Some(car.clone())));
            }
            let record = Record {
                files,
                author: r.people.0.clone(),
                authored: stamp(r.at),
                committer: r.people.1.clone(),
                written: stamp(r.written),
                message: r.message.clone(),
                accept_hand_edit: false,
            };
            parent = Some(batch.commit_on(parent, record)?);
        }
        let mut files: Vec<(String, Option<Vec<u8>>)> =
            self.files.iter().map(|(p, t)| (p.clone(), t.clone().map(String::into_bytes))).collect();
        files.extend(self.sheet.clone().map(|t| ("setup.toml".to_owned(), Some(t.into_bytes()))));
        files.extend(self.car.clone().map(|t| ("car.toml".to_owned(), Some(t.into_bytes()))));
        let draft = Draft { files, message: self.message.clone(), at: hand.now, takes_hand_edit: false };
        let also: Vec<Id> = parent.filter(|_| self.alters_sheets()).into_iter().collect();
        Ok(batch.merge(draft.by(hand), &also)?)
    }
}

/// Carries a plan out, in one move of the branch.
pub fn carry_out(book: &Book, options: &Options, hand: &Hand, plan: &Plan) -> Result<Written> {
    let mut failed = None;
    let done = book.store.record_many(options, &mut |batch| {
        plan.write(batch, hand).map(|_| ()).map_err(|e| {
            failed = Some(e);
            "the mend was not built".into()
        })
    });
    finish(done, failed)
}
