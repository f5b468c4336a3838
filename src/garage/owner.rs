//! The owners of a car over time, in its `car.toml`: a new one is an entry of the book, those before stay.

use super::car::{Car, Owner};
use super::message::{Message, subject_of};
use super::now::text;
use super::record::{Draft, Written, record};
use super::who::Hand;
use super::{Error, Result};
use crate::slip::Moment;
use crate::store::{Options, Store};
use crate::timeline::Kind;
use toml_edit::{Array, DocumentMut, InlineTable, Item, Table, Value as Toml, value};

/// The longest name, in characters.
const LONGEST: usize = 60;

/// What the record of a new owner says.
pub struct NewOwner<'a> {
    /// The name.
    pub name: Option<&'a str>,
    /// The car's name from now on, where it is another.
    pub car: Option<&'a str>,
    /// The handover id of what was received, in full.
    pub received: &'a str,
}

/// Records a new owner from today on; nothing where the newest on record is called so and the car's name stays.
pub fn record_owner(store: &Store, options: &Options, hand: &Hand, new: &NewOwner) -> Result<Written> {
    let name = new.name.map(str::trim);
    if name.is_some_and(|n| n.is_empty() || n.chars().count() > LONGEST || n.chars().any(char::is_control)) {
        return Err(Error::usage(format!("an owner's name is 1 to {LONGEST} characters on one line"), "--owner NAME"));
    }
    record(store, options, hand, &mut |tip| {
        let file = tip.head.map(|h| tip.store.file(h, "car.toml")).transpose()?.flatten();
        let (_, bytes) = file.ok_or_else(|| Error::data("the book has no car.toml", "slipbook verify"))?;
        let before = text(bytes, "car.toml")?;
        let car = Car::read("car.toml", &before)?;
        let name = name.filter(|name| car.owners.last().is_none_or(|o| o.name != *name));
        let car_name = new.car.filter(|n| *n != car.name);
        if name.is_none() && car_name.is_none() {
            return Ok(None);
        }
        let mut doc: DocumentMut = before.parse().map_err(|e| Error::data(format!("{e}"), "car.toml"))?;
        if let Some(name) = car_name {
            doc["name"] = value(name);
        }
        if let Some(name) = name {
            put(&mut doc, name, hand.now)?;
        }
        let after = doc.to_string();
        read_back(&after, &car, name)?;
        let day = Moment::day_words(hand.now.civil().date(), Some(hand.now.civil().year()));
        let said = match (name, car_name) {
            (Some(name), _) => format!("{name} has the car from {day} on"),
            (None, to) => format!("the car is called {} from here on", to.unwrap_or(&car.name)),
        };
        let mut message = Message::new(Kind::Other, subject_of(&said));
        name.into_iter().for_each(|name| message.push("Owner", name));
        message.push("Received", new.received);
        let files = vec![("car.toml".to_owned(), Some(after.into_bytes()))];
        Ok(Some(Draft { files, message, at: hand.now, takes_hand_edit: false }))
    })
}

fn put(doc: &mut DocumentMut, name: &str, now: Moment) -> Result<()> {
    let date = now.civil().date().to_string();
    let since: toml_edit::Datetime = date.parse().map_err(|e| Error::data(format!("{e}"), "car.toml"))?;
    match doc.entry("owner").or_insert_with(|| Item::ArrayOfTables(Default::default())) {
        Item::ArrayOfTables(all) => {
            let mut one = Table::new();
            one["name"] = value(name);
            one["since"] = value(since);
            all.push(one);
        }
        Item::Value(Toml::Array(all)) => {
            let mut one = InlineTable::new();
            one.insert("name", name.into());
            one.insert("since", since.into());
            Array::push(all, one);
        }
        _ => return Err(Error::data("the owners in car.toml are no list", "slipbook verify")),
    }
    Ok(())
}

/// What was written says what was meant, and everything else as before.
fn read_back(text: &str, before: &Car, added: Option<&str>) -> Result<()> {
    let after = Car::read("car.toml", text)?;
    let mut owners: Vec<&Owner> = after.owners.iter().collect();
    let new = added.map(|_| owners.pop().map(|o| o.name.clone()));
    let same =
        owners.iter().copied().eq(&before.owners) && after.parts == before.parts && after.fields == before.fields;
    if same && new.is_none_or(|n| n.as_deref() == added) {
        return Ok(());
    }
    Err(Error::data("the owner cannot be put into car.toml as it is", "nothing was recorded"))
}
