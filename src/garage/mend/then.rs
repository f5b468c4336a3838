//! What was on the car at a time, with news carried on that is not on record yet: what words told late are said of.

use super::super::Result;
use super::super::book::Book;
use super::super::change::Wanted;
use super::live::Live;
use crate::schema::Sheet;
use crate::slip::Moment;
use crate::timeline::{Dated, Steps, sums};

/// The record as it holds now, to put news into.
pub struct Then<'a> {
    book: &'a Book,
    live: Live,
}

impl Then<'_> {
    /// Reads it at the tip of the book.
    pub fn read(book: &Book) -> Result<Then<'_>> {
        Ok(Then { book, live: Live::read(book)? })
    }

    /// The sheet at a moment with news, in the order of time, that happened before it. `None` where there is no news,
    /// or where what is on record cannot be made on it: the plan tells which.
    pub fn sheet(&self, news: &[&Wanted], at: Moment, steps: Steps) -> Option<Sheet> {
        let first = news.first().and_then(|w| w.at)?;
        let entries = &self.live.entries;
        let kept = entries.partition_point(|e| e.entry.at.seconds <= first.seconds);
        let base = entries[..kept].last()?.sheet();
        let later = entries[kept..].iter().take_while(|e| e.entry.at.seconds <= at.seconds);
        let mut dated: Vec<Dated> = later.map(|e| e.dated(self.book)).collect();
        // As in the plan: of one second, what was told last happened last.
        dated.extend((self.live.next_order()..).zip(news).map(|(written, w)| Dated {
            at: w.at.unwrap_or(at),
            written,
            edits: w.edits.clone(),
            known: None,
            mended: false,
        }));
        // What is asked about is asked once, of the whole plan.
        let steps = if steps == Steps::Ask { Steps::KeepSteps } else { steps };
        sums(&self.book.schema, &base, &dated, steps).ok()?.pop().map(|s| s.sheet)
    }
}
