//! A new book: its folder, its car, its first sheet.

use super::book::Book;
use super::car::{Car, sheet_header};
use super::message::Message;
use super::now::right_sheet;
use super::place::Garage;
use super::record::{Draft, Written, record};
use super::who::Hand;
use super::{Error, Result};
use crate::schema::{Sheet, write_sheet};
use crate::slip::Moment;
use crate::store::{Options, Store};
use crate::text::{on_a_line, slug};
use crate::timeline::{Kind, VersionNumber};
use std::fs;

/// A car to open a book for.
#[derive(Debug, Clone)]
pub struct NewCar {
    /// The text of its `car.toml`.
    pub car_text: String,
    /// Where that text comes from, for errors.
    pub car_file: String,
    /// The text of the first sheet, where one is given.
    pub sheet_text: Option<String>,
    /// Where that text comes from, for errors.
    pub sheet_file: String,
    /// Values asked for, on top.
    pub sheet: Sheet,
    /// When the sheet was so.
    pub at: Moment,
}

/// Makes the book; returns its folder's name. Nothing is left behind where it fails.
pub fn new_book(garage: &Garage, options: &Options, hand: &Hand, new: &NewCar) -> Result<(String, Book, Written)> {
    let car = Car::read(&new.car_file, &new.car_text)?;
    let schema = car.schema().map_err(|why| Error::data(why, "car.toml"))?;
    let mut sheet = Sheet::default();
    if let Some(text) = &new.sheet_text {
        sheet = right_sheet(&schema, &new.sheet_file, text)?;
        let off = |f: &&crate::schema::Field| !f.on_chassis(car.chassis());
        if let Some(field) = sheet.in_order(&schema).map(|(f, _)| f).find(off) {
            let message = format!("{} is no field of this car: it is a {}", field.key, car.template);
            return Err(Error::data(message, "another --template, or take the line out"));
        }
    }
    for (key, _) in new.sheet.iter() {
        sheet.put(key, &new.sheet);
    }
    schema.settle(&mut sheet);
    let folder = slug(&car.name, "car");
    let dir = garage.car_dir(&folder);
    if dir.exists() {
        return Err(Error::usage(format!("{} is there already", dir.display()), "another name for the car"));
    }
    fs::create_dir_all(garage.dir()).map_err(|e| Error::io(garage.dir(), e))?;
    let store = Store::create(&dir)?;
    let number = VersionNumber::plain(1);
    let mut message = Message::new(Kind::Open, opening(&car, &sheet));
    message.push("Version", &number.to_string());
    let text = write_sheet(&schema, &sheet, new.sheet_text.as_deref(), &sheet_header());
    let files = vec![
        ("car.toml".to_owned(), Some(new.car_text.clone().into_bytes())),
        ("setup.toml".to_owned(), Some(text.into_bytes())),
    ];
    let mut draft = Some(Draft { files, message, at: new.at, takes_hand_edit: false });
    let written = match record(&store, options, hand, &mut |_| Ok(draft.take())) {
        Ok(written) => written,
        Err(e) => {
            // Half a book is none.
            let _ = fs::remove_dir_all(&dir);
            return Err(e);
        }
    };
    Ok((folder, Book { store, car, schema, cache: None, known: std::cell::RefCell::default() }, written))
}

fn opening(car: &Car, sheet: &Sheet) -> String {
    let n = sheet.len();
    format!("{}: book opened, {n} field{} on record", on_a_line(&car.name), if n == 1 { "" } else { "s" })
}
