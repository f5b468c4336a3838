//! Changes of a page that happened before what is on record: read, and carried through the later records in one mend,
//! before any other line is taken.

use super::super::change::comes_late;
use super::super::mend::{Fix, Then, plan};
use super::super::now::{OnCar, on_car_at, read_day, right_sheet};
use super::super::run::AtDay;
use super::super::{Error, Result};
use super::lines::{Ready, Told};
use super::{Came, PageWanted, Read, State, unread};
use crate::slip::Moment;
use crate::store::Store;
use crate::timeline::Steps;
use std::collections::HashMap;

impl State<'_, '_> {
    /// Whether it happened before something on record.
    fn is_late(&self, at: Moment) -> bool {
        comes_late(self.latest, self.last_run, at)
    }

    /// Takes the changes and measurements that come late; what came of them by their place on the page. `times` are the
    /// lines in the order of time.
    pub(super) fn take_late(
        &mut self,
        wanted: &PageWanted,
        read: &[Read],
        times: &[(usize, Moment)],
    ) -> Result<HashMap<usize, Came>> {
        let mut came: HashMap<usize, Came> = HashMap::new();
        let mut late: Vec<(usize, Ready)> = Vec::new();
        let mut then: Option<Then> = None;
        for (i, at) in times.iter().copied() {
            let Some(told) = read[i].as_ref().ok().and_then(Told::of).filter(|_| self.is_late(at)) else { continue };
            if let Some(on_record) = self.told_before(at, &told)? {
                came.insert(i, Came::OnRecord(on_record));
                continue;
            }
            let Some(mut on) = on_car_at(&self.book.store, &self.book.schema, self.head, Some(at))? else {
                let why = format!("{} is before the book begins", at.words(None));
                came.insert(i, unread(&why, "the date and time it was changed; slipbook mend v1 --when first"));
                continue;
            };
            // Words are said of the sheet of their time, as it is with what the page told of before.
            let news: Vec<_> = late.iter().map(|(_, ready)| &ready.wanted).collect();
            if !news.is_empty() {
                let then = match &mut then {
                    Some(then) => then,
                    None => then.insert(Then::read(self.book)?),
                };
                on.sheet = then.sheet(&news, at, wanted.steps).unwrap_or(on.sheet);
            }
            match self.ready(wanted.notebook.lines[i].number, at, &told, &on, true)? {
                Ok(ready) => late.push((i, ready)),
                Err(why) => drop(came.insert(i, why)),
            }
        }
        if !late.is_empty() {
            self.carry(wanted, late, &mut came)?;
        }
        Ok(came)
    }

    /// One plan for all of them, written; the lines behind it go on from what it made.
    fn carry(&mut self, wanted: &PageWanted, late: Vec<(usize, Ready)>, came: &mut HashMap<usize, Came>) -> Result<()> {
        let fixes: Vec<Fix> = late.iter().map(|(_, ready)| Fix::Late(ready.wanted.clone())).collect();
        let plan = match plan(self.book, self.hand, &fixes, wanted.steps) {
            // Lines that cannot be read are told first: the page is gone through once all the same.
            Err(asked @ Error::Unconfirmed { .. }) if wanted.steps == Steps::Ask => {
                let Ok(plan) = plan(self.book, self.hand, &fixes, Steps::KeepSteps) else { return Err(asked) };
                self.asked = Some(asked);
                plan
            }
            done => done?,
        };
        plan.write(self.batch, self.hand)?;
        // News of a plan stands in the order of time, as the lines do.
        for ((i, ready), entry) in late.into_iter().zip(&plan.news) {
            let mut changed = ready.changed;
            changed.kind = entry.kind;
            if let Some(number) = &entry.number {
                changed.number = number.clone();
            }
            came.insert(i, Came::changed(&changed, &ready.wanted));
        }
        let places = plan.after.timeline.places();
        if let (Some(version), Some(last), Some(text)) = (plan.after.timeline.now(), places.0.last(), plan.sheet_text())
        {
            self.on = OnCar {
                number: version.number.clone(),
                began: version.entry.at,
                latest: last.at,
                next: plan.given_next(),
                blob: Store::blob_id(text.as_bytes()),
                text: text.to_owned(),
                sheet: right_sheet(&self.book.schema, "setup.toml", text)?,
            };
        }
        if let Some(AtDay { path, text, day }) = &mut self.day
            && let Some(new) = plan.day_text(path)
        {
            *day = read_day(path, new)?;
            *text = Some(new.to_owned());
        }
        self.places = Some(places);
        self.moved = plan.moved;
        self.relinked = plan.relinked;
        Ok(())
    }
}
