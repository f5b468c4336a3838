//! A page of the notebook into the book: each line one record, in the order of time; all of it or nothing.

use super::book::Book;
use super::car::sheet_header;
use super::change::{Changed, Wanted, message, preview};
use super::day::{Amend, Sum, amended, day_message, has_note, one_day};
use super::line;
use super::message::Message;
use super::now::{OnCar, last_run, now, on_car_at, read_day};
use super::record::{Draft, Written, finish};
use super::run::{AtDay, DayFacts, made_on, put_in, run_id, run_subject};
use super::who::{self, Hand};
use super::{Error, Result};
use crate::diff::words::Clause;
use crate::schema::{Edit, EntryContext, EntryError, Role, apply, read_entry};
use crate::slip::{Day, Moment, Notebook, Reading, Run, Said, Watch, insert_reading, read_line};
use crate::store::{Batch, Id, Options, Store};
use crate::timeline::{Kind, VersionNumber};
use jiff::civil::Date;
use jiff::tz::TimeZone;

/// A page and how it is taken in.
#[derive(Clone, Copy)]
pub struct PageWanted<'a> {
    /// The page.
    pub notebook: &'a Notebook,
    /// Its day.
    pub date: Date,
    /// The time zone of the machine.
    pub zone: &'a TimeZone,
    /// What can be read is recorded; the rest is kept as it is written.
    pub partial: bool,
    /// Unusual values are right.
    pub confirmed: bool,
    /// All is built and summed up, nothing is written.
    pub dry_run: bool,
}

/// What came of a line.
#[derive(Debug, Clone, PartialEq)]
pub enum Came {
    /// A run.
    Run(Box<Run>),
    /// The car changed, or something was measured.
    Changed {
        /// The version it made; the one on the car where nothing was turned.
        number: VersionNumber,
        /// What it is.
        kind: Kind,
        /// In words.
        clauses: Vec<Clause>,
        /// Why.
        why: Option<String>,
    },
    /// Air or track was read.
    Read(Reading),
    /// Words were kept.
    Noted(String),
    /// It is on record already: what and where.
    OnRecord(String),
    /// It could not be taken.
    Unread {
        /// Why.
        why: String,
        /// What would be right.
        help: String,
    },
}

/// A line with what came of it.
#[derive(Debug, Clone, PartialEq)]
pub struct LineDone {
    /// Its number on the page.
    pub number: usize,
    /// As it is written.
    pub text: String,
    /// When it happened.
    pub at: Option<Moment>,
    /// The time was written as another: `1:15` for 13:15.
    pub meant: Option<String>,
    /// What came of it.
    pub came: Came,
}

/// What taking in a page did, or would do.
#[derive(Debug, Clone)]
pub struct PageDone {
    /// Its day.
    pub date: Date,
    /// The day file, where the page has anything for one.
    pub day: Option<Day>,
    /// The day was opened for it.
    pub new_day: bool,
    /// The day was closed before.
    pub was_closed: bool,
    /// The lines in the order of the page.
    pub lines: Vec<LineDone>,
    /// Times that stand below later ones: the time, and the later one.
    pub out_of_order: Vec<(Moment, Moment)>,
    /// Values outside the usual range, in words.
    pub unusual: Vec<String>,
    /// What the page's runs came to.
    pub sum: Sum,
    /// What is on the car after it.
    pub on: OnCar,
    /// It was written.
    pub saved: bool,
}

impl PageDone {
    /// The lines that could not be taken.
    pub fn unread(&self) -> impl Iterator<Item = &LineDone> {
        self.lines.iter().filter(|l| matches!(l.came, Came::Unread { .. }))
    }
}

/// Takes in a page. Where lines cannot be read and `partial` is not set, nothing is written and the answer says which.
pub fn take_page(book: &Book, options: &Options, hand: &Hand, wanted: &PageWanted) -> Result<(PageDone, Written)> {
    let mut result = None;
    let mut failed = None;
    let done = book.store.record_many(options, &mut |batch| match State::build(book, batch, hand, wanted) {
        Ok(mut page) => {
            page.saved = !wanted.dry_run && (wanted.partial || page.unread().next().is_none());
            let saved = page.saved;
            result = Some(page);
            if saved { Ok(()) } else { Err("nothing is to be written".into()) }
        }
        Err(e) => {
            failed = Some(e);
            Err("the page was refused".into())
        }
    });
    match (result, failed) {
        (Some(page), None) if !page.saved => Ok((page, Written { id: None, notes: Vec::new() })),
        (Some(mut page), None) => {
            let written = finish(done, None)?;
            // All of it may be on record already.
            page.saved = written.id.is_some();
            Ok((page, written))
        }
        (_, failed) => {
            finish(done, failed)?;
            Err(Error::data("the page was not taken in", "try again"))
        }
    }
}

/// Changes of a page that lie before what is on record, in the order of time: the place where news that comes late is
/// carried through the later records. They are not taken yet.
fn carry_late(late: &[(usize, Wanted)], on: &OnCar, last: Option<Moment>) -> Result<()> {
    let Some((_, first)) = late.first() else { return Ok(()) };
    let named: Vec<String> =
        late.iter().map(|(line, w)| format!("line {line} ({})", w.at.unwrap_or(on.began).words(None))).collect();
    let at = first.at.unwrap_or(on.began);
    let than = match last.filter(|last| at >= on.began && at < *last) {
        Some(last) => format!("the last run on record ({})", last.words(None)),
        None => format!("{}, which went on {}", on.number, on.began.words(None)),
    };
    let lines = if named.len() == 1 { "a change" } else { "changes" };
    Err(Error::usage(
        format!("{lines} before {than}: {}; nothing was recorded", named.join(", ")),
        "a change that comes late is not taken yet: record it with the time after the last version and the last run",
    ))
}

/// A record of the book that a line may be told again by.
struct Known {
    at: Moment,
    typed: Vec<String>,
    told: String,
}

/// What the lines so far have made of the book.
struct State<'a, 'b> {
    book: &'a Book,
    hand: &'a Hand,
    batch: &'a mut Batch<'b>,
    head: Id,
    /// What was on the car before the page.
    before: OnCar,
    last_run: Option<Moment>,
    on: OnCar,
    /// A change of the page is on the car.
    changed: bool,
    day: Option<AtDay>,
    known: Vec<Known>,
    late: Vec<(usize, Wanted)>,
    unusual: Vec<String>,
    runs: Vec<Run>,
}

impl<'a, 'b> State<'a, 'b> {
    fn build(book: &'a Book, batch: &'a mut Batch<'b>, hand: &'a Hand, wanted: &PageWanted) -> Result<PageDone> {
        let head = batch.tip().head.ok_or_else(|| Error::data("the book has no sheet yet", "slipbook new"))?;
        let on = now(&book.store, &book.schema, Some(head))?;
        let page = wanted.notebook;
        let facts = DayFacts {
            track: page.track.clone(),
            finish_ft: page.finish_ft,
            elevation_ft: page.elevation_ft,
            prep: page.prep.clone(),
        };
        let noon = wanted.date.at(12, 0, 0, 0);
        let here = Moment::in_zone(noon, wanted.zone).map_or(0, |m| m.offset_seconds);
        let found = one_day(&book.store, Some(head), wanted.date, here, &facts);
        let offset = found.as_ref().map_or(here, |d| d.day.offset_seconds);
        let watch = if same_zone(wanted, offset) { Watch::Zone(wanted.zone) } else { Watch::Offset(offset) };
        let moments = page.moments(wanted.date, &watch);
        let finish_ft = page.finish_ft.or(found.as_ref().ok().map(|d| d.day.finish_ft)).unwrap_or(1320);
        let read: Vec<std::result::Result<Said, Came>> = page
            .lines
            .iter()
            .zip(&moments)
            .map(|(line, at)| {
                let (_, tokens) = line.timed.as_ref().map_err(|e| unread(&e.why, &e.help))?;
                let at = at.ok_or_else(|| unread("its time is beyond the years 1 to 9999", "the date of the page"))?;
                if at.seconds > hand.now.seconds + CLOCKS_DIFFER_S {
                    let why = format!("{} is still to come: it is {} now", at.words(None), hand.now.words(None));
                    return Err(unread(&why, "the time it happened, and the date of the page"));
                }
                read_line(&book.schema.run, tokens, finish_ft, at).map_err(|e| unread(&e.why, &e.help))
            })
            .collect();
        // A page of nothing but changes needs no day; anything else does.
        let for_day = |r: &std::result::Result<Said, Came>| match r {
            Ok(Said::Change(..) | Said::Measured(..)) => false,
            Ok(_) => true,
            Err(_) => wanted.partial,
        };
        let needs_day = read.iter().any(for_day) || page.track.is_some() || !page.notes.is_empty();
        let day = match found {
            Ok(day) if needs_day || day.text.is_some() => Some(day),
            Err(e) if needs_day => return Err(e),
            _ => None,
        };
        let mut state = State {
            book,
            hand,
            head,
            last_run: last_run(&book.store, head)?,
            before: on.clone(),
            on,
            changed: false,
            known: known(book, head, moments.iter().flatten().min().copied())?,
            batch,
            day,
            late: Vec::new(),
            unusual: Vec::new(),
            runs: Vec::new(),
        };
        let (new_day, was_closed) =
            state.day.as_ref().map_or((false, false), |d| (d.text.is_none() && needs_day, d.day.closed));
        let first = moments.iter().flatten().min().copied().unwrap_or(hand.now);
        let opening = Amend { facts, note: page.notes.clone(), ..Amend::default() };
        state.say_of_day(&opening, first, needs_day)?;
        let came = state.all_lines(wanted, &moments, read)?;
        let lines = page
            .lines
            .iter()
            .zip(came)
            .map(|(line, (at, came))| {
                let written = line.timed.as_ref().ok().map(|t| t.0.time);
                let shown = at.map(|a| a.civil().time());
                let meant = written.zip(shown).filter(|(w, s)| (w.hour(), w.minute()) != (s.hour(), s.minute()));
                let meant = meant.map(|(w, s)| format!("{} = {}", w.strftime("%-H:%M"), s.strftime("%H:%M")));
                LineDone { number: line.number, text: line.text.clone(), at, meant, came }
            })
            .collect::<Vec<_>>();
        let unread: Vec<String> =
            lines.iter().filter(|l| matches!(l.came, Came::Unread { .. })).map(|l| l.text.clone()).collect();
        if wanted.partial && !unread.is_empty() {
            state.say_of_day(&Amend { unread, ..Amend::default() }, hand.now, true)?;
        }
        carry_late(&state.late, &state.before, state.last_run)?;
        let whole = wanted.partial || !lines.iter().any(|l| matches!(l.came, Came::Unread { .. }));
        if whole && !state.unusual.is_empty() && !wanted.confirmed {
            return Err(Error::Unconfirmed {
                message: state.unusual.join("\n"),
                help: "--yes if these are right; nothing was recorded".to_owned(),
            });
        }
        Ok(PageDone {
            date: wanted.date,
            new_day,
            was_closed,
            lines,
            out_of_order: out_of_order(&moments),
            unusual: state.unusual,
            sum: Sum::of(&state.runs, finish_ft),
            day: state.day.map(|d| d.day),
            on: state.on,
            saved: false,
        })
    }

    /// Takes the lines in the order of time; what came of each, in the order of the page.
    fn all_lines(
        &mut self,
        wanted: &PageWanted,
        moments: &[Option<Moment>],
        read: Vec<std::result::Result<Said, Came>>,
    ) -> Result<Vec<(Option<Moment>, Came)>> {
        let mut order: Vec<usize> = (0..read.len()).collect();
        order.sort_by_key(|i| moments[*i].map(|m| m.seconds));
        let mut out: Vec<(Option<Moment>, Came)> = read
            .iter()
            .zip(moments)
            .map(|(r, at)| (*at, r.as_ref().err().cloned().unwrap_or_else(|| unread("it was not reached", ""))))
            .collect();
        let mut latest: Option<Moment> = None;
        let mut run_at: Option<Moment> = None;
        for i in order {
            let (Ok(said), Some(at)) = (&read[i], moments[i]) else { continue };
            let mut at = latest.map_or(at, |l| at.max(l));
            // A change written below a run of the same minute came after it: by a second, so that the run is not on it.
            if matches!(said, Said::Change(..)) && run_at == Some(at) {
                at = at.plus(1);
            }
            latest = Some(at);
            let number = wanted.notebook.lines[i].number;
            let came = match said {
                Said::Run(run) => {
                    run_at = Some(at);
                    self.run(Run { at, ..(**run).clone() })?
                }
                Said::Change(words, why) => self.change(number, at, words, why.as_ref(), false)?,
                Said::Measured(words, why) => self.change(number, at, words, why.as_ref(), true)?,
                Said::Air(reading) => self.reading(at, reading)?,
                Said::Note(text) => self.note(at, text)?,
            };
            out[i] = (Some(at), came);
        }
        Ok(out)
    }

    fn commit(&mut self, files: Vec<(String, Option<Vec<u8>>)>, message: Message, at: Moment) -> Result<()> {
        let draft = Draft { files, message, at, takes_hand_edit: false };
        self.batch.commit(draft.by(self.hand))?;
        Ok(())
    }

    /// Says something of the day in a record of its own, where it differs (or where the day is new and `open`).
    fn say_of_day(&mut self, said: &Amend, at: Moment, open: bool) -> Result<()> {
        let Some(day) = self.day.as_ref().filter(|d| d.text.is_some() || open) else { return Ok(()) };
        let (mut new, mut told) = amended(day, said)?;
        if told.is_some() && day.day.closed {
            (new, told) = amended(day, &Amend { reopen: true, ..said.clone() })?;
        }
        if let Some(told) = told {
            let files = vec![(new.path.clone(), new.text.clone().map(String::into_bytes))];
            self.commit(files, day_message(&told), at)?;
            self.day = Some(new);
        }
        Ok(())
    }

    fn run(&mut self, mut run: Run) -> Result<Came> {
        let Some(day) = self.day.clone() else { return Ok(no_day()) };
        if let Some(same) = day.day.runs.iter().find(|r| same_run(r, &run)) {
            return Ok(Came::OnRecord(format!("the run of {} on {}", same.at.civil().strftime("%H:%M"), same.on)));
        }
        let (on, blob) = if self.changed {
            (self.on.number.to_string(), self.on.blob)
        } else {
            match made_on(self.book, self.head, run.at, None) {
                Ok(found) => found,
                Err(Error::Usage { message, .. }) => return Ok(unread(&message, "the date and time it was made")),
                Err(e) => return Err(e),
            }
        };
        (run.on, run.setup) = (on, blob.to_string());
        run.at.offset_seconds = day.day.offset_seconds;
        run.id = run_id(&run, self.hand, Some(self.head));
        let (text, new) = put_in(&self.book.schema, &day, &run, None)?;
        let mut message = Message::new(Kind::Run, run_subject(&run, new.finish_ft));
        message.push("Run", &run.id);
        message.push("On", &run.on);
        self.commit(vec![(day.path.clone(), Some(text.clone().into_bytes()))], message, run.at)?;
        self.day = Some(AtDay { path: day.path, text: Some(text), day: new });
        self.runs.push(run.clone());
        Ok(Came::Run(Box::new(run)))
    }

    fn change(
        &mut self,
        line: usize,
        at: Moment,
        words: &[String],
        why: Option<&String>,
        measured: bool,
    ) -> Result<Came> {
        let schema = &self.book.schema;
        let late = at < self.before.began || self.last_run.is_some_and(|last| at < last);
        // What lies before the record is read against the sheet of its time.
        let on = if late { self.sheet_at(at)? } else { Some(self.on.clone()) };
        let Some(on) = on else {
            let why = format!("{} is before the book begins", at.words(None));
            return Ok(unread(&why, "the date and time it was changed"));
        };
        let edits = match self.edits(&on, words, measured) {
            Ok(edits) => edits,
            Err(e) => return Ok(e),
        };
        if let Some(told) = self.told_before(at, words, measured)? {
            return Ok(Came::OnRecord(told));
        }
        let is_measured = |e: &&Edit| schema.field(&e.key).is_some_and(|f| f.role == Role::Measured);
        let mut taken: Vec<String> = edits.iter().filter(is_measured).map(|e| e.key.clone()).collect();
        taken.dedup();
        let wanted = Wanted { edits, measured: taken, why: why.cloned(), at: Some(at), ..Wanted::default() };
        let changed: Changed = match preview(schema, &on, &wanted, self.hand) {
            Ok(changed) => changed,
            Err(e) => return Ok(unread(&e.to_string(), "the words of slipbook change")),
        };
        if changed.diff.is_empty() && wanted.measured.is_empty() {
            let why = "nothing would change: the sheet says so already";
            return Ok(unread(why, "the value it got, or take the line out; slipbook sheet shows it"));
        }
        let came = Came::Changed {
            number: changed.number.clone(),
            kind: changed.kind,
            clauses: changed.clauses.clone(),
            why: wanted.why.clone(),
        };
        self.unusual.extend(changed.unusual.iter().map(|u| format!("line {line}: {u}")));
        if late {
            self.late.push((line, wanted));
            return Ok(came);
        }
        let text = crate::schema::write_sheet(schema, &changed.sheet, Some(&on.text), &sheet_header());
        let message = message(schema, &changed, &wanted);
        self.commit(vec![("setup.toml".to_owned(), Some(text.clone().into_bytes()))], message, at)?;
        let nothing_turned = changed.kind == Kind::Measured;
        let blob = Store::blob_id(text.as_bytes());
        self.on = OnCar {
            began: if nothing_turned { on.began } else { at },
            next: if nothing_turned { on.next } else { VersionNumber::plain(on.next.n + 1) },
            number: changed.number,
            latest: at,
            blob,
            text,
            sheet: changed.sheet,
        };
        self.changed = true;
        Ok(came)
    }

    /// The words of a change against a sheet, or why they cannot be read.
    fn edits(&self, on: &OnCar, words: &[String], measured: bool) -> std::result::Result<Vec<Edit>, Came> {
        let schema = &self.book.schema;
        let role = |key: &str| schema.field(key).map(|f| f.role);
        let ctx = EntryContext { schema, chassis: self.book.car.chassis(), sheet: &on.sheet };
        // What is measured settles a name that a set value has too.
        let edits = read_entry(ctx, words, &mut |_, candidates| {
            let mut fits = candidates.iter().enumerate().filter(|(_, c)| role(&c.key) == Some(Role::Measured));
            let only = fits.next().filter(|_| measured).map(|(i, _)| i);
            only.filter(|_| fits.next().is_none())
        });
        let edits = edits.map_err(|e| unread(&e.to_string(), &entry_help(&e)))?;
        let set = edits.iter().find(|e| measured && role(&e.key) == Some(Role::Set));
        match set.and_then(|e| schema.field(&e.key)) {
            Some(field) => {
                let why = format!("{} is set by a hand, not measured", field.label);
                Err(unread(&why, "lead the line with change"))
            }
            None => Ok(edits),
        }
    }

    /// The sheet at a time before the last record, with the page's own late changes before it.
    fn sheet_at(&self, at: Moment) -> Result<Option<OnCar>> {
        let Some(mut on) = on_car_at(&self.book.store, &self.book.schema, self.head, Some(at))? else {
            return Ok(None);
        };
        for (_, wanted) in &self.late {
            if let Ok(applied) = apply(&self.book.schema, &on.sheet, &wanted.edits) {
                on.sheet = applied.sheet;
            }
        }
        Ok(Some(on))
    }

    /// What is on record of the same minute with the same words: the page entered again.
    fn told_before(&self, at: Moment, words: &[String], measured: bool) -> Result<Option<String>> {
        for known in self.known.iter().filter(|k| k.at.seconds.div_euclid(60) == at.seconds.div_euclid(60)) {
            let before = Moment { seconds: known.at.seconds - 1, ..known.at };
            let Some(on) = on_car_at(&self.book.store, &self.book.schema, self.head, Some(before))? else { continue };
            let typed = |e: Vec<Edit>| e.iter().map(|e| e.to_trailer(&self.book.schema)).collect::<Vec<_>>();
            if self.edits(&on, words, measured).is_ok_and(|e| typed(e) == known.typed) {
                return Ok(Some(known.told.clone()));
            }
        }
        Ok(None)
    }

    fn reading(&mut self, at: Moment, reading: &Reading) -> Result<Came> {
        let Some(day) = self.day.clone() else { return Ok(no_day()) };
        let at = Moment { offset_seconds: day.day.offset_seconds, ..at };
        let reading = Reading { at: at.civil().time(), ..reading.clone() };
        let minute = |r: &Reading| (r.at.hour(), r.at.minute());
        let same = |r: &&Reading| minute(r) == minute(&reading) && r.numbers == reading.numbers && r.sun == reading.sun;
        if day.day.readings.iter().any(|r| same(&r)) {
            return Ok(Came::OnRecord(format!("the reading of {}", reading.at.strftime("%H:%M"))));
        }
        let text = super::run::open_text(&day);
        let text = insert_reading(&self.book.schema.run, &text, &day.day, &reading);
        let new = read_day(&day.path, &text)?;
        if new.readings.len() != day.day.readings.len() + 1 {
            let message = format!("{} is laid out so that a reading cannot be added", day.path);
            return Err(Error::data(message, "each reading stands under a line [[reading]]"));
        }
        let track: String = new.track.chars().take(40).collect();
        let message = day_message(&format!("air and track read at {track}"));
        self.commit(vec![(day.path.clone(), Some(text.clone().into_bytes()))], message, at)?;
        self.day = Some(AtDay { path: day.path, text: Some(text), day: new });
        Ok(Came::Read(reading))
    }

    fn note(&mut self, at: Moment, text: &str) -> Result<Came> {
        let Some(day) = &self.day else { return Ok(no_day()) };
        let shown = Moment { offset_seconds: day.day.offset_seconds, ..at };
        let line = format!("{} {text}", shown.civil().strftime("%H:%M"));
        if has_note(&day.day, &line) {
            return Ok(Came::OnRecord("the note".to_owned()));
        }
        self.say_of_day(&Amend { note: vec![line.clone()], ..Amend::default() }, at, true)?;
        Ok(Came::Noted(line))
    }
}

/// A wrist watch may be this far ahead of the machine's clock.
const CLOCKS_DIFFER_S: i64 = 3600;

/// So many numbers alike on one day are one run, whatever minute they were written down for.
const WHOLE_SLIP: usize = 4;

fn unread(why: &str, help: &str) -> Came {
    Came::Unread { why: why.to_owned(), help: help.to_owned() }
}

fn no_day() -> Came {
    unread("it belongs to a day, and the track is not known", "track NAME above the lines")
}

fn same_run(a: &Run, b: &Run) -> bool {
    let minute = a.at.seconds.div_euclid(60) == b.at.seconds.div_euclid(60);
    let alike = a.numbers == b.numbers && (!a.numbers.is_empty() || (a.did == b.did && a.why_not == b.why_not));
    alike && (minute || a.numbers.len() >= WHOLE_SLIP)
}

/// Whether the machine's zone is that of the day: its offset is one the zone has on that day.
fn same_zone(wanted: &PageWanted, offset: i32) -> bool {
    let hours = [6, 12, 23];
    hours.iter().any(|h| {
        let at = Moment::in_zone(wanted.date.at(*h, 0, 0, 0), wanted.zone);
        at.is_some_and(|m| m.offset_seconds == offset)
    })
}

/// Records of the sheet since the first time of a page, with what was typed for them.
fn known(book: &Book, head: Id, since: Option<Moment>) -> Result<Vec<Known>> {
    let mut out = Vec::new();
    let Some(since) = since else { return Ok(out) };
    let mut next = Some(head);
    while let Some(id) = next {
        let commit = book.store.commit(id)?;
        next = line::before(&commit);
        let message = Message::read(&commit.message);
        let at = who::moment(commit.authored);
        if message.version().is_some() && at.seconds < since.seconds {
            break;
        }
        if line::is_mend(&message) || at.seconds < since.seconds {
            continue;
        }
        let typed: Vec<String> = message.all("Typed").map(str::to_owned).collect();
        let version = message.version().map(|v| format!("{v}: ")).unwrap_or_default();
        if !typed.is_empty() {
            out.push(Known { at, typed, told: format!("{version}{}", message.subject) });
        }
    }
    Ok(out)
}

/// Each time that stands below a later one, with that one.
fn out_of_order(moments: &[Option<Moment>]) -> Vec<(Moment, Moment)> {
    let mut latest: Option<Moment> = None;
    let mut out = Vec::new();
    for at in moments.iter().flatten() {
        match latest {
            Some(latest) if *at < latest => out.push((*at, latest)),
            _ => latest = Some(*at),
        }
    }
    out
}

fn entry_help(e: &EntryError) -> String {
    match e {
        EntryError::Ambiguous { candidates, .. } => {
            let keys: Vec<&str> = candidates.iter().take(6).map(|c| c.key.as_str()).collect();
            let more = if candidates.len() > keys.len() { " ..." } else { "" };
            format!("say which, for example {}=VALUE: {}{more}", keys.first().unwrap_or(&""), keys.join(", "))
        }
        EntryError::Unknown { near, .. } if near.is_empty() => "slipbook fields TEXT searches the fields".to_owned(),
        EntryError::Unknown { near, .. } => format!("nearest: {}; slipbook fields TEXT searches them", near.join(", ")),
        EntryError::Value { help, .. } => help.clone(),
        EntryError::Empty => "11:20 limiter down 1/4".to_owned(),
    }
}
