//! The files of a rewritten copy: a sheet, a day, a trial, `car.toml`, each without what stays here.

use super::super::car::{Car, day_header, sheet_header};
use super::super::named::is_named;
use super::super::now::{read_day, text};
use super::super::private::LEFT_OUT;
use super::super::texts::{Is, below, beside_keys, has_text, is_known, keys_in, takes_keys, what};
use super::super::{Error, Result};
use super::{Rewrite, is_own};
use crate::schema::{Field, Sheet, read_sheet, write_sheet};
use crate::slip::{Day, Moment, Run, day_of_path, write_day};
use crate::store::{Id, Store};
use crate::timeline::VersionNumber;
use crate::trial::{Arm, path_of, read_trial};
use toml::{Table, Value as Toml};

impl Rewrite<'_> {
    /// What takes the place of a file, with the path it has by what stands in it, or that nothing of it goes along; `None`
    /// where it cannot be read as this program does.
    pub(super) fn file(&mut self, path: &str, blob: Id) -> Result<Option<Option<(String, String)>>> {
        debug_assert!(is_own(path));
        let Ok(text) = text(self.book.store.blob(blob)?, path) else { return Ok(None) };
        Ok(match path {
            "car.toml" => match Car::read(path, &text) {
                Ok(_) => Some(Some((path.to_owned(), self.car(&text)?))),
                Err(_) => None,
            },
            p if day_of_path(p).is_some() => match read_day(p, &text) {
                Ok(day) => {
                    let own = day.path();
                    Some(self.day(day)?.map(|text| (own, text)))
                }
                Err(_) => None,
            },
            _ => Some(self.trial(&text)?),
        })
    }

    /// A sheet without what stays here, and its text.
    pub(super) fn sheet(&self, blob: Id) -> Result<(Sheet, String)> {
        let mut sheet = read_sheet(self.schema, &text(self.book.store.blob(blob)?, "setup.toml")?).sheet;
        for field in &self.schema.fields {
            if self.leaves(field) {
                sheet.remove(&field.key);
            } else if has_text(field) && field.kind != "own_part" {
                // The name of a part is what its runs and its record are found by.
                sheet.reword(&field.key, &|said| self.out.scrub.text(said));
            }
        }
        self.along.settle(&mut sheet);
        let written = write_sheet(self.schema, &sheet, None, &sheet_header());
        Ok((sheet, written))
    }

    /// The id the sheet of a run or a trial has in the copy.
    fn link(&mut self, setup: &str) -> Result<String> {
        let id: Id = setup.parse().map_err(|e| Error::data(format!("{e}"), "slipbook runs"))?;
        if let Some(new) = self.sheets.get(&id) {
            return Ok(new.to_string());
        }
        let new = Store::blob_id(self.sheet(id)?.1.as_bytes());
        self.sheets.insert(id, new);
        Ok(new.to_string())
    }

    /// Whether the book has the sheet a run or a trial names.
    fn is_there(&self, setup: &str) -> bool {
        self.held.contains(setup) || setup.parse::<Id>().is_ok_and(|id| self.book.store.blob(id).is_ok())
    }

    fn cut_at(&self) -> Option<Moment> {
        self.out.before.map(|v| self.history.timeline.versions[v].entry.at)
    }

    /// A day without what stays here; none where nothing of it goes along.
    fn day(&mut self, mut day: Day) -> Result<Option<String>> {
        let mut runs = Vec::new();
        for run in std::mem::take(&mut day.runs) {
            runs.extend(self.run(run)?);
        }
        day.runs = runs;
        if self.cut_at().is_some_and(|at| day.date < at.race_day()) && day.runs.is_empty() {
            return Ok(None);
        }
        let clean = |t: Option<String>| t.filter(|_| !self.out.notes).map(|t| self.out.scrub.text(&t));
        day.note = clean(day.note);
        day.prep = day.prep.map(|t| self.out.scrub.text(&t));
        let unread = std::mem::take(&mut day.unread);
        day.unread = unread.into_iter().filter_map(|l| clean(Some(l))).collect();
        for reading in &mut day.readings {
            reading.by = reading.by.take().map(|by| self.out.scrub.person(&by));
            reading.report = reading.report.take().map(|t| self.out.scrub.text(&t));
        }
        Ok(Some(write_day(&crate::schema::schema().run, &day, &day_header())))
    }

    /// A run with its link; none where it was made before the copy begins.
    fn run(&mut self, mut run: Run) -> Result<Option<Run>> {
        let known = self.runs.get(run.id.as_str()).map(|i| &self.history.runs[*i]);
        let before = match known {
            Some(made) => self.out.before.is_some_and(|v| made.version < v),
            None => self.cut_at().is_some_and(|at| run.at < at),
        };
        if before {
            return Ok(None);
        }
        if let Some(made) = known {
            // It stands where it stands now: the links from before a mend lead to sheets that are not in the copy.
            run.on = self.history.timeline.versions[made.version].number.to_string();
            let holds = self.history.timeline.versions[made.version].blobs.contains(&made.run.setup);
            let version = &self.history.timeline.versions[made.version];
            run.setup = if holds { made.run.setup.clone() } else { version.sheet_id().to_owned() };
        }
        if run.on.parse::<VersionNumber>().is_err() {
            run.on = self.out.scrub.text(&run.on);
        }
        // What is on record no more, by hand, on a sheet that is not there.
        if known.is_none() && !self.is_there(&run.setup) {
            return Ok(None);
        }
        run.setup = self.link(&run.setup)?;
        run.setup_was = None;
        run.id = self.run_ids.of(&run.id);
        run.round = run.round.map(|t| self.out.scrub.text(&t));
        run.note = run.note.filter(|_| !self.out.notes).map(|t| self.out.scrub.text(&t));
        Ok(Some(run))
    }

    /// A trial with its links; none where it is about versions from before the copy begins.
    fn trial(&mut self, text: &str) -> Result<Option<(String, String)>> {
        let Ok(trial) = read_trial(text) else { return Ok(None) };
        let index = |n| self.history.timeline.by_number(n);
        let of = [index(&trial.a.version), index(&trial.b.version)];
        if self.out.before.is_some_and(|v| of.iter().any(|i| i.is_none_or(|i| i < v))) {
            return Ok(None);
        }
        let Ok(mut table) = text.parse::<Table>() else { return Ok(None) };
        for (key, arm) in [("a_setup", &trial.a), ("b_setup", &trial.b)] {
            let Some(setup) = self.side(arm)? else {
                self.trials_lost.insert(self.out.scrub.text(&trial.name));
                return Ok(None);
            };
            table.insert(key.to_owned(), Toml::String(setup));
        }
        let path = path_of(&trial.name);
        self.clean(&mut table, &path, "");
        let text = toml::to_string(&table).map_err(|e| Error::data(e.to_string(), path.clone()))?;
        Ok(Some((path, text)))
    }

    /// The id the sheet of a side of a trial has in the copy; none where it is not on record.
    fn side(&mut self, arm: &Arm) -> Result<Option<String>> {
        let history = self.history;
        let version = history.timeline.by_number(&arm.version).map(|i| &history.timeline.versions[i]);
        let setup = match version {
            _ if self.held.contains(arm.setup.as_str()) => arm.setup.as_str(),
            // From before a mend, as that of a run.
            Some(version) if self.is_there(&arm.setup) => version.sheet_id(),
            _ => return Ok(None),
        };
        self.link(setup).map(Some)
    }

    /// `car.toml` without what stays here.
    fn car(&self, text: &str) -> Result<String> {
        let mut table: Table = text.parse().map_err(|e: toml::de::Error| Error::data(e.message(), "car.toml"))?;
        if let Some(Toml::Array(fields)) = table.get_mut("field") {
            fields.retain(|f| !self.out.fields.contains(text_at(f, "key")));
            for field in fields.iter_mut().filter_map(Toml::as_table_mut) {
                if self.unlink(field) {
                    let key = field.get("key").and_then(Toml::as_str).unwrap_or_default().to_owned();
                    self.gone_along.borrow_mut().0.insert(key);
                }
            }
        }
        let left = |key: &str| self.out.fields.contains(key);
        if let Some(Toml::Array(parts)) = table.get_mut("part") {
            parts.retain(|p| !left(text_at(p, "kind")));
        }
        if let Some(Toml::Array(named)) = table.get_mut("private") {
            named.retain(|n| n.as_str().is_some_and(|n| !self.all_left(n)));
        }
        // A rule about a setting tells of it, by its key or by what it is called.
        let left_out: Vec<&Field> = self.schema.fields.iter().filter(|f| left(&f.key)).collect();
        let tells = |r: &Toml| {
            let said = r.to_string();
            left_out.iter().any(|f| is_named(&said, &f.key) || is_named(&said, &f.label))
        };
        for kind in ["rule", "needs_below"] {
            if let Some(Toml::Array(rules)) = table.get_mut(kind) {
                rules.retain(|r| {
                    let stays = tells(r);
                    if stays {
                        self.gone_along.borrow_mut().1.insert(format!("{}{}", text_at(r, "id"), text_at(r, "item")));
                    }
                    !stays
                });
            }
        }
        table.retain(|_, v| !v.as_array().is_some_and(Vec::is_empty));
        for part in table.get_mut("part").and_then(Toml::as_array_mut).into_iter().flatten() {
            let Some(values) = part.get_mut("values").and_then(Toml::as_table_mut) else { continue };
            for field in self.schema.fields.iter().filter(|f| self.leaves(f)) {
                take(values, &field.key);
            }
        }
        self.clean(&mut table, "car.toml", "");
        for part in table.get_mut("part").and_then(Toml::as_array_mut).into_iter().flatten() {
            part.as_table_mut().into_iter().for_each(|p| self.before.carry_passes(p, !self.out.notes));
        }
        let body = toml::to_string(&table).map_err(|e| Error::data(e.to_string(), "car.toml"))?;
        Car::read("car.toml", &body).map_err(|e| {
            let message = format!("car.toml cannot be read without what is left out ({e}); nothing was written");
            Error::data(message, "leave out what speaks of it as well, or less")
        })?;
        Ok(body)
    }

    /// Takes out of a field of the car's own what names one that stays here: what it moves and follows, the part it
    /// describes, how it is turned, when it applies. Whether there was any.
    fn unlink(&self, field: &mut Table) -> bool {
        let is_left = |key: &str| self.schema.locate(key).is_some_and(|(f, _)| self.out.fields.contains(&f.key));
        let named = |value: &Toml| {
            let said = value.as_str().unwrap_or_default();
            keys_in(self.schema, said).into_iter().any(|range| is_left(&said[range]))
        };
        let turn = |t: &Toml| t.as_table().is_some_and(|t| t.values().any(named));
        let before = field.clone();
        field.retain(|key, value| match (key, value) {
            ("part" | "follows" | "applies", value) => !named(value),
            ("moves", Toml::Array(list)) => {
                list.retain(|v| !named(v));
                true
            }
            ("turn", Toml::Array(list)) => {
                list.retain(|t| !turn(t));
                true
            }
            _ => true,
        });
        *field != before
    }

    /// Whether a field, or every field of a heading, stays here.
    fn all_left(&self, named: &str) -> bool {
        let mut fields = self.schema.fields.iter().filter(|f| f.is_under(named)).peekable();
        fields.peek().is_some() && fields.all(|f| self.out.fields.contains(&f.key))
    }

    /// Texts of a file: what is a note is taken out with the notes, the rest is cleaned; names of things are left as they are.
    fn clean(&self, table: &mut Table, path: &str, at: &str) {
        table.retain(|name, value| {
            let key = below(at, name);
            match what(self.schema, path, &key, "") {
                _ if !is_known(self.schema, path, &key) => return false,
                Is::Note if self.out.notes && NEEDED.contains(&name) => *value = Toml::String(LEFT_OUT.to_owned()),
                Is::Note => return !self.out.notes,
                _ => {}
            }
            true
        });
        for (name, value) in table.iter_mut() {
            self.clean_value(value, path, &below(at, name));
        }
    }

    fn clean_value(&self, value: &mut Toml, path: &str, at: &str) {
        match value {
            Toml::String(text) => {
                *text = match what(self.schema, path, at, text) {
                    Is::Person => self.out.scrub.person(text),
                    Is::Words if takes_keys(self.schema, path, at) => {
                        beside_keys(self.schema, text, &|said| self.out.scrub.text(said))
                    }
                    Is::Note | Is::Words => self.out.scrub.text(text),
                    Is::Run => self.run_ids.of(text),
                    Is::Unknown => LEFT_OUT.to_owned(),
                    Is::Name(_) | Is::Fixed => return,
                }
            }
            Toml::Array(list) => list.iter_mut().for_each(|v| self.clean_value(v, path, at)),
            Toml::Table(table) => self.clean(table, path, at),
            _ => {}
        }
    }
}

/// The text under a key of a table.
fn text_at<'a>(table: &'a Toml, key: &str) -> &'a str {
    table.get(key).and_then(Toml::as_str).unwrap_or_default()
}

/// Reasons a rule does not go without.
const NEEDED: [&str; 3] = ["reason", "because", "source"];

/// Takes the value at a dotted key out.
fn take(table: &mut Table, key: &str) {
    match key.split_once('.') {
        None => drop(table.remove(key)),
        Some((first, rest)) => {
            if let Some(Toml::Table(inner)) = table.get_mut(first) {
                take(inner, rest);
                if inner.is_empty() {
                    table.remove(first);
                }
            }
        }
    }
}
