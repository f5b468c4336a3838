//! Fitting a part: what is known of it comes along, what the sheet says of the one that comes off is kept in `car.toml`.

use super::book::Book;
use super::car::Car;
use super::change::Wanted;
use super::now::{now, on_car_at, text};
use super::part::Part;
use super::part_put;
use super::{Error, Result};
use crate::schema::{
    Edit, Scalar, Schema, Sheet, Swap, Typed, Value, apply, names_on, of_part, recalled, same_name, swaps,
};
use crate::slip::Moment;
use crate::store::Id;
use std::collections::BTreeMap;

/// A part that went on or came off.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub struct PartMoved {
    /// The key of the field that names it.
    pub kind: String,
    /// Its name.
    pub name: String,
    /// It went on; false: it came off.
    pub on: bool,
    /// Something was known of it: it stands in `car.toml`, or was on the car before.
    pub known: bool,
    /// Keys of the values that came along with it, or were kept of it.
    pub values: Vec<String>,
}

/// A change with what comes along.
#[derive(Debug, Clone, Default)]
pub struct Brought {
    /// The change.
    pub wanted: Wanted,
    /// What went on and came off.
    pub moved: Vec<PartMoved>,
    /// What must be confirmed: a part that is gone.
    pub doubts: Vec<String>,
}

/// The same, before it is put into a change.
#[derive(Debug, Clone, Default)]
pub(super) struct Along {
    pub edits: Vec<Edit>,
    /// The text of `car.toml` after it, where it is another.
    pub car: Option<String>,
    pub moved: Vec<PartMoved>,
    pub doubts: Vec<String>,
}

/// What a change is made on.
pub(super) struct Ground<'a> {
    pub schema: &'a Schema,
    pub car: &'a Car,
    /// The text of `car.toml`.
    pub text: &'a str,
    /// The sheet it is made on.
    pub sheet: &'a Sheet,
    /// When it happens.
    pub at: Moment,
    /// Later versions are on record: what `car.toml` says of a part is newer than the sheet of that time.
    pub late: bool,
    /// It goes back to an earlier version: what is known of a part now goes before what a sheet said of it then.
    pub back: bool,
    /// What the sheets on record last said of a part, by the key of its kind and its name.
    pub last: &'a dyn Fn(&str, &str) -> Result<Option<Sheet>>,
}

/// The change with the values that come and go with the parts it fits, and with what it keeps of those that come off.
/// Where no part moves it is the change as it was.
pub fn bring_along(book: &Book, wanted: &Wanted, clock: Moment) -> Result<Brought> {
    let as_it_was = || Brought { wanted: wanted.clone(), ..Brought::default() };
    let touches = wanted.car.is_none() && touches_parts(&book.schema, &wanted.edits);
    let Some(head) = book.store.head()?.filter(|_| touches) else {
        return Ok(as_it_was());
    };
    let on = now(&book.store, &book.schema, Some(head))?;
    let then = match wanted.at.filter(|at| *at < on.began) {
        Some(at) => on_car_at(&book.store, &book.schema, head, Some(at))?,
        None => None,
    };
    let (blob, bytes) = book
        .store
        .file(head, "car.toml")?
        .ok_or_else(|| Error::data("there is no car.toml in the newest record", "every record of a book holds it"))?;
    let car_text = text(bytes, "car.toml")?;
    let ground = Ground {
        schema: &book.schema,
        car: &book.car,
        text: &car_text,
        sheet: then.as_ref().map_or(&on.sheet, |t| &t.sheet),
        at: wanted.at.unwrap_or(clock),
        late: then.is_some(),
        back: wanted.back_to.is_some(),
        last: &|kind, name| last_said(book, kind, name),
    };
    // What cannot be applied is refused, in its words, by what makes the change.
    let Ok(along) = along(&ground, &wanted.edits)? else { return Ok(as_it_was()) };
    if along.moved.is_empty() && along.car.is_none() {
        return Ok(Brought { wanted: Wanted { edits: along.edits, ..wanted.clone() }, ..Brought::default() });
    }
    let car = along.car.map(|text| (blob, text));
    let wanted = Wanted { edits: along.edits, seen: Some(on.blob), car, ..wanted.clone() };
    Ok(Brought { wanted, moved: along.moved, doubts: along.doubts })
}

/// Whether edits name a part or say something that describes one.
pub(super) fn touches_parts(schema: &Schema, edits: &[Edit]) -> bool {
    edits.iter().filter_map(|e| schema.field(&e.key)).any(|f| f.kind == "own_part" || f.part.is_some())
}

/// What the last sheet with a part on it says of the part.
pub fn last_said(book: &Book, kind: &str, name: &str) -> Result<Option<Sheet>> {
    let history = book.history()?;
    let is_it = |f: &&crate::timeline::Fitted| f.key == kind && same_name(&f.name, name);
    let version = history.timeline.versions.iter().rev().find(|v| v.fitted.iter().any(|f| is_it(&f)));
    let (Some(version), Some(field)) = (version, book.schema.field(kind)) else { return Ok(None) };
    let sheet = book.sheet(version)?;
    let mut out = Sheet::default();
    for fitted in version.fitted.iter().filter(is_it) {
        of_part(&book.schema, field, fitted.slot, &sheet, &mut out);
    }
    Ok(Some(out))
}

/// The text of `car.toml` with a part in it, and the store id of the text it was made from.
pub fn car_with(book: &Book, part: &Part) -> Result<(Id, String)> {
    let file = book.store.head()?.map(|h| book.store.file(h, "car.toml")).transpose()?.flatten();
    let (blob, bytes) = file.ok_or_else(|| Error::data("the book has no car.toml yet", "slipbook new"))?;
    let new = part_put::put(&book.schema, &text(bytes, "car.toml")?, part)?;
    read_back(&new, std::slice::from_ref(part))?;
    Ok((blob, new))
}

/// The inner error says why the edits cannot be applied.
pub(super) fn along(ground: &Ground, edits: &[Edit]) -> Result<std::result::Result<Along, String>> {
    let Ground { schema, sheet, .. } = *ground;
    let mut edits = spelled(ground, edits);
    let after = match apply(schema, sheet, &edits) {
        Ok(applied) => applied.sheet,
        Err(why) => return Ok(Err(why)),
    };
    let mut out = Along::default();
    let mut parts: Vec<Part> = ground.car.parts.clone();
    let moves = swaps(schema, sheet, &after);
    for swap in &moves {
        keep(ground, swap, &mut parts, &mut out.moved);
    }
    for edit in edits.iter().filter(|e| e.typed == Typed::Off && e.slot.is_none()) {
        forget(schema, &after, &edit.key, &mut parts);
    }
    let mut known: BTreeMap<(String, String), Sheet> = BTreeMap::new();
    for swap in &moves {
        let Some(name) = &swap.on else { continue };
        let place = parts.iter().position(|p| p.kind == swap.key && same_name(&p.name, name));
        let said = match place {
            Some(i) => Some(parts[i].values.clone()),
            None => (ground.last)(&swap.key, name)?,
        };
        if let Some(part) = place.map(|i| &mut parts[i])
            && let Some(gone) = part.gone.take_if(|g| ground.at.race_day() >= g.on)
        {
            let words = gone.words(Some(ground.at.civil().year()));
            out.doubts.push(format!("{} is gone ({words}); fitting it takes that back", part.name));
        }
        if !out.moved.iter().any(|m| m.on && m.kind == swap.key && m.name == *name) {
            let (kind, name, known) = (swap.key.clone(), name.clone(), said.is_some());
            out.moved.push(PartMoved { kind, name, on: true, known, values: Vec::new() });
        }
        known.insert((swap.key.clone(), name.clone()), said.unwrap_or_default());
    }
    let of = |kind: &str, name: &str| known.get(&(kind.to_owned(), name.to_owned()));
    let mut recalled = recalled(schema, &moves, sheet, &of);
    let on_now = |key: &str| {
        let kind = schema.field(key).and_then(|f| f.part.as_deref())?;
        moves.iter().filter(|s| s.key == kind).filter_map(|s| of(kind, s.on.as_deref()?)).find(|v| v.get(key).is_some())
    };
    match ground.back {
        true => edits.retain(|e| on_now(&e.key).is_none()),
        false => recalled.retain(|r| !edits.iter().any(|e| e.key == r.key && e.slot.is_none())),
    }
    let fits = applying(schema, &after, &recalled);
    recalled.retain(|r| fits.contains(&r.key));
    for moved in out.moved.iter_mut().filter(|m| m.on) {
        let of = known.get(&(moved.kind.clone(), moved.name.clone()));
        let stands = |key: &str| !recalled.iter().any(|e| e.key == key && e.typed == Typed::Off);
        let fits = |key: &str| schema.field(key).is_some_and(|f| f.applies.holds(&after)) && stands(key);
        let values = of.into_iter().flat_map(|v| v.in_order(schema)).map(|(f, _)| f.key.clone());
        moved.values = values.filter(|key| fits(key)).collect();
    }
    recalled.extend(edits);
    out.edits = recalled;
    let mut text = ground.text.to_owned();
    for part in parts.iter().filter(|p| !ground.car.parts.contains(p)) {
        text = part_put::put(schema, &text, part)?;
    }
    if text != ground.text {
        read_back(&text, &parts)?;
        out.car = Some(text);
    }
    Ok(Ok(out))
}

/// What was written must be what is read.
pub(super) fn read_back(text: &str, parts: &[Part]) -> Result<()> {
    let read = Car::read("car.toml", text)?;
    if parts.iter().all(|p| read.parts.contains(p)) {
        return Ok(());
    }
    Err(Error::data("car.toml is laid out so that a part cannot be put in", "parts stand under lines [[part]]"))
}

/// The edits with known parts called as they are on record.
pub(super) fn spelled(ground: &Ground, edits: &[Edit]) -> Vec<Edit> {
    let mut edits = edits.to_vec();
    edits.iter_mut().for_each(|e| spell(ground, e));
    edits
}

/// A known part is called as it is on record, however it was typed.
fn spell(ground: &Ground, edit: &mut Edit) {
    let Some(kind) = ground.schema.field(&edit.key).filter(|f| f.kind == "own_part") else { return };
    let known = |typed: &str| {
        let part = ground.car.part(&kind.key, typed).map(|p| p.name.as_str());
        let here = || names_on(kind, ground.sheet).into_iter().flatten().find(|n| same_name(n, typed));
        part.or_else(here).map_or_else(|| typed.trim().to_owned(), str::to_owned)
    };
    let respell = |s: &mut Scalar| {
        if let Scalar::Text(t) = s {
            *t = known(t);
        }
    };
    match &mut edit.typed {
        Typed::Reading(Value::One(s)) => respell(s),
        Typed::Reading(Value::Slots(v)) => v.iter_mut().flatten().for_each(respell),
        _ => {}
    }
}

/// Keeps what the sheet says of the part that comes off.
fn keep(ground: &Ground, swap: &Swap, parts: &mut Vec<Part>, moved: &mut Vec<PartMoved>) {
    let (Some(off), Some(kind)) = (&swap.off, ground.schema.field(&swap.key)) else { return };
    let mut said = Sheet::default();
    of_part(ground.schema, kind, swap.slot, ground.sheet, &mut said);
    let place = parts.iter().position(|p| p.kind == swap.key && same_name(&p.name, off));
    // A name of a kind that cannot stand in car.toml: what was said of it is found on its last sheet.
    let new = place.is_none() && !said.is_empty() && super::part::name_fault(off).is_none();
    if new {
        parts.push(Part { name: off.clone(), kind: swap.key.clone(), ..Part::default() });
    }
    let place = place.or(new.then(|| parts.len() - 1));
    if let Some(part) = place.map(|i| &mut parts[i]) {
        let mut whole = part.values.clone();
        of_part(ground.schema, kind, swap.slot, ground.sheet, &mut whole);
        for (key, value) in whole.iter() {
            // Late news knows less than what was kept since.
            if !(ground.late && part.values.get(key).is_some()) {
                part.values.set(key, value.clone());
            }
        }
    }
    let values: Vec<String> = said.iter().map(|(k, _)| k.to_owned()).filter(|_| place.is_some()).collect();
    match moved.iter_mut().find(|m| !m.on && m.kind == swap.key && m.name == *off) {
        Some(m) => m.values.extend(values.into_iter().filter(|v| !m.values.contains(v)).collect::<Vec<_>>()),
        None => moved.push(PartMoved {
            kind: swap.key.clone(),
            name: off.clone(),
            on: false,
            known: place.is_some() && !new,
            values,
        }),
    }
}

/// A value taken off the record is no longer said of the part on the car either.
fn forget(schema: &Schema, after: &Sheet, key: &str, parts: &mut [Part]) {
    let Some(kind) = schema.field(key).and_then(|f| f.part.as_deref()).and_then(|k| schema.field(k)) else { return };
    for name in names_on(kind, after).into_iter().flatten() {
        let part = parts.iter_mut().find(|p| p.kind == kind.key && same_name(&p.name, name));
        if let Some(part) = part {
            part.values.remove(key);
        }
    }
}

/// Keys of the edits whose field applies on the sheet with all of them on it.
fn applying(schema: &Schema, sheet: &Sheet, edits: &[Edit]) -> Vec<String> {
    let mut with = sheet.clone();
    for edit in edits {
        if let Typed::Reading(value) = &edit.typed {
            with.set(&edit.key, value.clone());
        }
    }
    let dropped = schema.settle(&mut with);
    edits.iter().filter(|e| !dropped.contains(&e.key)).map(|e| e.key.clone()).collect()
}

/// Takes out of a way back the parts that are gone, with what describes them; says which, and what stays.
pub fn leave_gone(schema: &Schema, car: &Car, sheet: &Sheet, wanted: &mut Wanted, year: i16) -> Vec<String> {
    let mut said = Vec::new();
    for kind in schema.part_kinds() {
        let Some(edit) = wanted.edits.iter().find(|e| e.key == kind.key) else { continue };
        let Typed::Reading(value) = &edit.typed else { continue };
        let names = value.scalars().filter_map(Scalar::text);
        let Some((name, gone)) = names.filter_map(|n| Some((n, car.part(&kind.key, n)?.gone.as_ref()?))).next() else {
            continue;
        };
        let now: Vec<&str> = names_on(kind, sheet).into_iter().flatten().collect();
        let stays = now.first().map_or("as they are".to_owned(), |n| (*n).to_owned());
        said.push(format!("{} stay {stays}: {name} is gone ({})", schema.part_words(kind), gone.words(Some(year))));
        let of_it =
            |key: &str| key == kind.key || schema.field(key).is_some_and(|f| f.part.as_deref() == Some(&kind.key));
        wanted.edits.retain(|e| !of_it(&e.key));
    }
    said
}
