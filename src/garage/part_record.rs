//! Records what is known of a part: it came, its values, it is gone. Nothing on the car changes by it.

use super::book::Book;
use super::car::Car;
use super::message::{Message, subject_of};
use super::now::text;
use super::part::Part;
use super::part_put;
use super::parts::read_back;
use super::record::{Draft, Written, record};
use super::who::Hand;
use super::{Error, Result};
use crate::store::Options;
use crate::timeline::Kind;

/// What is to be recorded of a part.
pub struct PartChange<'a> {
    /// The key of its kind.
    pub kind: &'a str,
    /// Its name.
    pub name: &'a str,
    /// The record's sentence.
    pub subject: String,
    /// The part after it, from the part as it is on record by then; an error refuses.
    pub change: &'a dyn Fn(Option<&Part>) -> Result<Part>,
}

/// Records it in `car.toml`; `Written::id` is `None` where it says so already.
pub fn record_part(book: &Book, options: &Options, hand: &Hand, wanted: &PartChange) -> Result<(Part, Written)> {
    let mut result = None;
    let written = record(&book.store, options, hand, &mut |tip| {
        let file = tip.head.map(|h| tip.store.file(h, "car.toml")).transpose()?.flatten();
        let (_, bytes) = file.ok_or_else(|| Error::data("the book has no car.toml yet", "slipbook new"))?;
        let before = text(bytes, "car.toml")?;
        let car = Car::read("car.toml", &before)?;
        let part = (wanted.change)(car.part(wanted.kind, wanted.name))?;
        let schema = car.schema().map_err(|why| Error::data(why, "car.toml"))?;
        let after = part_put::put(&schema, &before, &part)?;
        read_back(&after, std::slice::from_ref(&part))?;
        result = Some(part);
        if after == before {
            return Ok(None);
        }
        let message = Message::new(Kind::Other, subject_of(&wanted.subject));
        let files = vec![("car.toml".to_owned(), Some(after.into_bytes()))];
        Ok(Some(Draft { files, message, at: hand.now, takes_hand_edit: false }))
    })?;
    let part = result.ok_or_else(|| Error::data("the record was not built", "try again"))?;
    Ok((part, written))
}
