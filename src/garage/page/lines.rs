//! The lines of a page, one record each.

use super::super::air::{at_odds, at_odds_words, read_before, with_reading};
use super::super::car::{Car, sheet_header};
use super::super::change::{Changed, Wanted, after, message, preview};
use super::super::day::{Amend, has_note};
use super::super::message::Message;
use super::super::now::{OnCar, on_car_at};
use super::super::part_limits::over_limits;
use super::super::parts::{Along, Ground, along, spelled, touches_parts};
use super::super::run::{AtDay, made_on, put_in, run_id, run_subject};
use super::super::{Error, Result};
use super::told::{same_minute, same_run};
use super::{AirRead, Came, State, unread};
use crate::schema::{Edit, EntryContext, EntryError, Role, read_entry, write_sheet};
use crate::slip::{AirMeant, AirTyped, Moment, Reading, Run, Said};
use crate::store::Store;
use crate::timeline::Kind;

/// A line that tells of the sheet.
pub(super) struct Told<'a> {
    words: &'a [String],
    why: Option<&'a String>,
    measured: bool,
}

impl Told<'_> {
    /// Of what a line says; `None` where it is no change and no measurement.
    pub(super) fn of(said: &Said) -> Option<Told<'_>> {
        match said {
            Said::Change(words, why) => Some(Told { words, why: why.as_ref(), measured: false }),
            Said::Measured(words, why) => Some(Told { words, why: why.as_ref(), measured: true }),
            _ => None,
        }
    }
}

/// A change, ready to be recorded.
pub(super) struct Ready {
    pub wanted: Wanted,
    pub changed: Changed,
}

impl Came {
    /// What came of a change.
    pub(super) fn changed(changed: &Changed, wanted: &Wanted) -> Came {
        Came::Changed {
            number: changed.number.clone(),
            kind: changed.kind,
            clauses: changed.clauses.clone(),
            why: wanted.why.clone(),
        }
    }
}

impl State<'_, '_> {
    /// A run, on the sheet of its time.
    pub(super) fn run(&mut self, mut run: Run) -> Result<Came> {
        let Some(day) = self.day.clone() else { return Ok(no_day()) };
        if let Some(same) = day.day.runs.iter().find(|r| same_run(r, &run)) {
            return Ok(Came::OnRecord(format!("the run of {} on {}", same.at.civil().strftime("%H:%M"), same.on)));
        }
        if let Some(first) = self.written.iter().find(|r| same_run(r, &run)) {
            let there = day.day.runs.iter().any(|r| r.id == first.id);
            let since = if there { "mended since" } else { "mended away since" };
            return Ok(Came::OnRecord(format!("the run of {}, {since}", first.at.civil().strftime("%H:%M"))));
        }
        match self.sheet_of(run.at) {
            Ok(link) => (run.on, run.setup) = link,
            Err(Error::Usage { message, .. }) => return Ok(unread(&message, "the date and time it was made")),
            Err(e) => return Err(e),
        }
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

    /// The version and the sheet on the car at a time.
    fn sheet_of(&self, at: Moment) -> Result<(String, String)> {
        if self.changed {
            return Ok((self.on.number.to_string(), self.on.blob.to_string()));
        }
        let Some(places) = &self.places else {
            let (on, blob) = made_on(self.book, self.head, at, None)?;
            return Ok((on, blob.to_string()));
        };
        let place = places.at(at);
        let before = || Error::usage(format!("{} is before the book begins", at.words(None)), "the time it was made");
        place.map(|p| (p.number.to_string(), p.blob.clone())).ok_or_else(before)
    }

    /// A change or a measurement behind all that is on record.
    pub(super) fn change(&mut self, line: usize, at: Moment, told: &Told) -> Result<Came> {
        if let Some(on_record) = self.told_before(at, told)? {
            return Ok(Came::OnRecord(on_record));
        }
        let on = self.on.clone();
        let Ready { wanted, changed } = match self.ready(line, at, told, &on, false)? {
            Ok(ready) => ready,
            Err(why) => return Ok(why),
        };
        let schema = &self.book.schema;
        let came = Came::changed(&changed, &wanted);
        let text = write_sheet(schema, &changed.sheet, Some(&on.text), &sheet_header());
        let mut files = vec![("setup.toml".to_owned(), Some(text.clone().into_bytes()))];
        files.extend(wanted.car.clone().map(|(_, text)| ("car.toml".to_owned(), Some(text.into_bytes()))));
        self.commit(files, message(schema, &changed, &wanted), at)?;
        self.on = after(on, &changed, text);
        self.changed = true;
        Ok(came)
    }

    /// Reads the words against a sheet, with what comes along with the parts they fit. What is ready will be recorded:
    /// from here on `car.toml` is as it leaves it.
    pub(super) fn ready(
        &mut self,
        line: usize,
        at: Moment,
        told: &Told,
        on: &OnCar,
        late: bool,
    ) -> Result<std::result::Result<Ready, Came>> {
        let schema = &self.book.schema;
        let edits = match self.edits(on, told) {
            Ok(edits) => edits,
            Err(e) => return Ok(Err(e)),
        };
        let is_measured = |e: &&Edit| schema.field(&e.key).is_some_and(|f| f.role == Role::Measured);
        let mut taken: Vec<String> = edits.iter().filter(is_measured).map(|e| e.key.clone()).collect();
        taken.dedup();
        let brought = match touches_parts(schema, &edits) {
            true => along(&self.ground(on, at, late), &edits)?,
            false => Ok(Along { edits, ..Along::default() }),
        };
        let cannot = |why: &str| unread(why, "the words of slipbook change");
        let brought = match brought {
            Ok(brought) => brought,
            Err(why) => return Ok(Err(cannot(&why))),
        };
        let car = brought.car.map(|text| (Store::blob_id(self.car_text.as_bytes()), text));
        let (edits, why) = (brought.edits, told.why.cloned());
        let wanted = Wanted { edits, measured: taken, why, at: Some(at), car, ..Wanted::default() };
        let changed = match preview(schema, on, &wanted, self.hand) {
            Ok(changed) => changed,
            Err(e) => return Ok(Err(cannot(&e.to_string()))),
        };
        if changed.diff.is_empty() && wanted.measured.is_empty() && wanted.car.is_none() {
            let why = "nothing would change: the sheet says so already";
            return Ok(Err(unread(why, "the value it got, or take the line out; slipbook sheet shows it")));
        }
        let over = over_limits(schema, &self.car, &changed);
        let doubts = changed.unusual.iter().chain(&over).chain(&brought.doubts);
        self.unusual.extend(doubts.map(|u| format!("line {line}: {u}")));
        if let Some((_, text)) = &wanted.car {
            (self.car, self.car_text) = (Car::read("car.toml", text)?, text.clone());
        }
        Ok(Ok(Ready { wanted, changed }))
    }

    fn ground<'s>(&'s self, on: &'s OnCar, at: Moment, late: bool) -> Ground<'s> {
        let last = self.last_said;
        Ground {
            schema: &self.book.schema,
            car: &self.car,
            text: &self.car_text,
            sheet: &on.sheet,
            at,
            late,
            back: false,
            last,
        }
    }

    /// The words of a change against a sheet, or why they cannot be read.
    fn edits(&self, on: &OnCar, told: &Told) -> std::result::Result<Vec<Edit>, Came> {
        let schema = &self.book.schema;
        let role = |key: &str| schema.field(key).map(|f| f.role);
        let ctx = EntryContext { schema, chassis: self.book.car.chassis(), sheet: &on.sheet };
        // What is measured settles a name that a set value has too.
        let edits = read_entry(ctx, told.words, &mut |_, candidates| {
            let mut fits = candidates.iter().enumerate().filter(|(_, c)| role(&c.key) == Some(Role::Measured));
            let only = fits.next().filter(|_| told.measured).map(|(i, _)| i);
            only.filter(|_| fits.next().is_none())
        });
        let edits = edits.map_err(|e| unread(&e.to_string(), &entry_help(&e)))?;
        let set = edits.iter().find(|e| told.measured && role(&e.key) == Some(Role::Set));
        match set.and_then(|e| schema.field(&e.key)) {
            Some(field) => {
                let why = format!("{} is set by a hand, not measured", field.label);
                Err(unread(&why, "lead the line with change"))
            }
            None => Ok(edits),
        }
    }

    /// What is on record of the same minute with the same words: the page entered again.
    pub(super) fn told_before(&self, at: Moment, told: &Told) -> Result<Option<String>> {
        let schema = &self.book.schema;
        for known in self.known.iter().filter(|k| same_minute(k.at, at)) {
            let before = Moment { seconds: known.at.seconds - 1, ..known.at };
            let Some(on) = on_car_at(&self.book.store, schema, self.head, Some(before))? else { continue };
            let Ok(edits) = self.edits(&on, told) else { continue };
            let typed = spelled(&self.ground(&on, at, true), &edits);
            let typed: Vec<String> = typed.iter().map(|e| e.to_trailer(schema)).collect();
            // What came along with a part stands before what was typed.
            let same = match touches_parts(schema, &edits) {
                true => known.typed.ends_with(&typed),
                false => known.typed == typed,
            };
            if same {
                return Ok(Some(known.told.clone()));
            }
        }
        Ok(None)
    }

    /// Air or track, read at a time.
    pub(super) fn reading(&mut self, at: Moment, typed: &AirTyped) -> Result<Came> {
        let Some(day) = self.day.clone() else { return Ok(no_day()) };
        let AirMeant { reading, taken_as } = match typed.clone().meant(&self.book.schema.run, day.day.elevation_ft) {
            Ok(meant) => meant,
            Err(refused) => {
                return Ok(unread(refused.why(), "12:00 84F 52% 29.42 station, as the instrument shows it"));
            }
        };
        let at = Moment { offset_seconds: day.day.offset_seconds, ..at };
        let reading = Reading { at: at.civil().time(), ..reading };
        if read_before(&day.day, &reading) {
            return Ok(Came::OnRecord(format!("the reading of {}", reading.at.strftime("%H:%M"))));
        }
        let odds = at_odds(&day.day, &reading);
        if !odds.is_empty() {
            let why = at_odds_words(&self.book.schema.run, &day.day, &odds);
            return Ok(unread(&why, "slipbook air READING --at TIME --replace puts another in its place"));
        }
        let (new, message) = with_reading(&self.book.schema, &day, &reading)?;
        self.commit(vec![(new.path.clone(), new.text.clone().map(String::into_bytes))], message, at)?;
        let elevation_ft = new.day.elevation_ft;
        self.day = Some(new);
        Ok(Came::Read(Box::new(AirRead { reading, taken_as, elevation_ft })))
    }

    /// Words to be remembered, with their time.
    pub(super) fn note(&mut self, at: Moment, text: &str) -> Result<Came> {
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

fn no_day() -> Came {
    unread("it belongs to a day, and the track is not known", "track NAME above the lines")
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
