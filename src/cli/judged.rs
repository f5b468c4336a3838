//! The model of the book at hand, fitted or as it was kept.

use super::footing::seen_all;
use crate::blame::{Asked, Belief, Book as Input, Estimates, Kept, MATTERS_S, Sheets};
use crate::garage::{Book, History, Result};
use crate::pace::{Footing, Seen};
use crate::slip::{Beam, Response};

/// What is asked of a number, as a racer would: everything on record, and what matters by its unit.
pub fn asked(response: Response) -> Asked {
    Asked { response, matters: matters(response), since: None, until: None }
}

/// The 60 ft: the best signal of a chassis change.
pub fn of_60() -> Asked {
    asked(Response::Time(Beam::Ft60))
}

/// Of speed, smaller than this is not chased, mph (common practice, no source).
const MATTERS_MPH: f64 = 0.10;

/// What matters of a number if nobody said so, in its unit.
pub fn matters(response: Response) -> f64 {
    if response.is_speed() { MATTERS_MPH } else { MATTERS_S }
}

/// Everything a question of the runs needs: the book, its air, its runs.
pub struct Ran<'a> {
    /// The book.
    pub book: &'a Book,
    /// Its record.
    pub history: &'a History,
    /// Its air.
    pub footing: &'a Footing,
    /// All runs.
    pub runs: Vec<Seen<'a>>,
}

impl<'a> Ran<'a> {
    /// Of a book.
    pub fn new(book: &'a Book, history: &'a History, footing: &'a Footing) -> Ran<'a> {
        Ran { book, history, footing, runs: seen_all(history, footing) }
    }

    /// What the model is made from.
    pub fn input(&'a self) -> Input<'a> {
        Input {
            schema: &self.book.schema,
            timeline: &self.history.timeline,
            runs: &self.runs,
            footing: self.footing,
            finish_ft: self.history.finish_ft(),
        }
    }

    /// The model of a number, from what was kept where the book is the same.
    pub fn estimates(&'a self, asked: Asked) -> Result<Estimates<'a>> {
        let question = format!("{} {:?} {:?}", asked.response.key(), asked.since, asked.until);
        let name = format!("fit-{}", asked.response.key());
        let draws = format!("{name}-draws");
        if let Some(kept) = self.book.derived(self.history, &name, &question)
            && let Ok(kept) = postcard::from_bytes::<Kept>(&kept)
        {
            let columns = kept.fit.as_ref().map_or(0, |f| f.columns.len());
            let later = move || {
                let read = self.book.derived(self.history, &draws, &question);
                // Deleted, or damaged: the same book gives the same draws again.
                let read = read.and_then(|bytes| postcard::from_bytes::<Vec<Belief>>(&bytes).ok());
                read.filter(|b| b.iter().all(|b| b.is_of(columns))).unwrap_or_else(|| {
                    // Without the sheets there is nothing to believe: nothing can be told then.
                    let sheets = self.book.sheets(&self.history.timeline);
                    sheets.map(|sheets| Kept::new(&self.input(), &sheets, &asked).1).unwrap_or_default()
                })
            };
            return Ok(Estimates::from_kept(&self.input(), asked, kept, Box::new(later)));
        }
        let estimates = self.estimates_of(asked, &self.book.sheets(&self.history.timeline)?);
        estimates.foresee();
        let (kept, beliefs) = estimates.to_keep();
        if let (Ok(kept), Ok(beliefs)) = (postcard::to_stdvec(&kept), postcard::to_stdvec(beliefs)) {
            // What is read later must be there when it is.
            self.book.keep_derived(self.history, &draws, &question, &beliefs);
            self.book.keep_derived(self.history, &name, &question, &kept);
        }
        Ok(estimates)
    }

    /// The same, with the sheets at hand, and nothing kept: for a record that is not written yet.
    pub fn estimates_of(&'a self, asked: Asked, sheets: &Sheets) -> Estimates<'a> {
        Estimates::new(&self.input(), sheets, asked)
    }
}
