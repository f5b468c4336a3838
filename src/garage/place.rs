//! The garage: a folder of books, which car is current, and where the editor finds the JSON Schemas.

use super::{Error, Result};
use crate::slip::Moment;
use crate::store::Id;
use serde::de::Error as _;
use serde::{Deserialize, Deserializer};
use std::collections::BTreeMap;
use std::fs;
use std::io::Write as _;
use std::path::{Path, PathBuf};
use toml_edit::{DocumentMut, Item, Table, value};

/// A garage.
#[derive(Debug, Clone)]
pub struct Garage {
    dir: PathBuf,
}

/// What the garage remembers (`garage.toml`).
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Settings {
    #[allow(dead_code, reason = "a file without it is refused")]
    format: u32,
    /// Folder of the current car.
    pub current: Option<String>,
    /// Whose hand writes, where `--by` does not say.
    pub by: Option<String>,
    /// The last copy of each car, by folder.
    #[serde(default)]
    pub copy: BTreeMap<String, LastCopy>,
}

impl Default for Settings {
    fn default() -> Settings {
        Settings { format: 1, current: None, by: None, copy: BTreeMap::new() }
    }
}

/// The last copy that was made of a book.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LastCopy {
    /// When.
    #[serde(deserialize_with = "moment")]
    pub at: Moment,
    /// Where: a folder or a bundle.
    pub to: String,
    /// The newest record in it.
    #[serde(deserialize_with = "id")]
    pub tip: Id,
}

fn moment<'de, D: Deserializer<'de>>(d: D) -> std::result::Result<Moment, D::Error> {
    let said = toml::value::Datetime::deserialize(d)?.to_string();
    said.parse().map_err(|()| D::Error::custom("a time with its offset is wanted, as 2026-08-22T14:20:00-05:00"))
}

fn id<'de, D: Deserializer<'de>>(d: D) -> std::result::Result<Id, D::Error> {
    String::deserialize(d)?.parse().map_err(D::Error::custom)
}

/// The largest settings or car file that is read, in bytes.
pub const LARGEST_FILE: u64 = 1 << 20;

impl Garage {
    /// The garage in a folder; the folder need not be there yet.
    pub fn new(dir: PathBuf) -> Garage {
        Garage { dir }
    }

    /// Its folder.
    pub fn dir(&self) -> &Path {
        &self.dir
    }

    /// The folder of a car.
    pub fn car_dir(&self, folder: &str) -> PathBuf {
        self.dir.join(folder)
    }

    /// What it remembers.
    pub fn settings(&self) -> Result<Settings> {
        let path = self.dir.join("garage.toml");
        let Some(text) = read_small(&path)? else { return Ok(Settings::default()) };
        toml::from_str(&text).map_err(|e| Error::Text {
            name: path.display().to_string(),
            text: text.clone(),
            problems: vec![crate::schema::Problem::at(e.span(), e.message().to_owned())],
        })
    }

    /// Remembers: what differs is put into the text that is there, comments stay.
    pub fn remember(&self, settings: &Settings) -> Result<()> {
        let known = self.settings()?;
        let old = read_small(&self.dir.join("garage.toml"))?.unwrap_or_else(|| "format = 1\n".to_owned());
        let mut doc: DocumentMut = old.parse().map_err(|e| Error::data(format!("{e}"), "garage.toml"))?;
        for (key, was, is) in [("current", &known.current, &settings.current), ("by", &known.by, &settings.by)] {
            if was != is {
                put(doc.as_table_mut(), key, is.as_deref().map(value));
            }
        }
        for folder in known.copy.keys().chain(settings.copy.keys()) {
            let (was, is) = (known.copy.get(folder), settings.copy.get(folder));
            if was != is {
                let copies = doc.entry("copy").or_insert_with(|| Item::Table(Table::new()));
                let copies =
                    copies.as_table_like_mut().ok_or_else(|| Error::data("`copy` is no table", "garage.toml"))?;
                match is {
                    None => drop(copies.remove(folder)),
                    Some(last) => {
                        let one = copies.entry(folder).or_insert_with(|| Item::Table(Table::new()));
                        let one =
                            one.as_table_like_mut().ok_or_else(|| Error::data("`copy` is wrong", "garage.toml"))?;
                        let at: toml_edit::Datetime =
                            last.at.iso().parse().map_err(|e| Error::data(format!("{e}"), "garage.toml"))?;
                        put(one, "at", Some(value(at)));
                        put(one, "to", Some(value(&last.to)));
                        put(one, "tip", Some(value(last.tip.to_string())));
                    }
                }
            }
        }
        if let Some(copies) = doc.get_mut("copy").and_then(Item::as_table_mut) {
            // Its entries are tables of their own.
            copies.set_implicit(true);
        }
        self.write(Path::new("garage.toml"), &doc.to_string())
    }

    /// Folders that hold a book, sorted.
    pub fn folders(&self) -> Result<Vec<String>> {
        let entries = match fs::read_dir(&self.dir) {
            Ok(entries) => entries,
            Err(e) if e.kind() == std::io::ErrorKind::NotFound => return Ok(Vec::new()),
            Err(e) => return Err(Error::io(&self.dir, e)),
        };
        let mut out = Vec::new();
        for entry in entries {
            let path = entry.map_err(|e| Error::io(&self.dir, e))?.path();
            let name = path.file_name().and_then(|n| n.to_str()).filter(|n| !n.starts_with('.'));
            if let Some(name) = name.filter(|_| path.join("car.toml").is_file() || path.join(".git").exists()) {
                out.push(name.to_owned());
            }
        }
        out.sort();
        Ok(out)
    }

    /// Writes the JSON Schemas beside the books, where they are missing or stale: `(file name, text)`.
    pub fn keep_schemas(&self, files: &[(&str, String)]) -> Result<()> {
        for (name, text) in files {
            let path = Path::new(".schema").join(name);
            if read_small(&self.dir.join(&path))?.as_ref() != Some(text) {
                self.write(&path, text)?;
            }
        }
        Ok(())
    }

    /// Writes a file of the garage aside and renames it.
    fn write(&self, path: &Path, text: &str) -> Result<()> {
        let path = self.dir.join(path);
        let aside = path.with_extension("aside");
        let parent = path.parent().unwrap_or(&self.dir);
        fs::create_dir_all(parent).map_err(|e| Error::io(parent, e))?;
        let write = || -> std::io::Result<()> {
            let mut file = fs::File::create(&aside)?;
            file.write_all(text.as_bytes())?;
            file.sync_all()?;
            fs::rename(&aside, &path)
        };
        write().map_err(|e| Error::io(&path, e))
    }
}

/// Sets a key or takes it out; what is written around a value stays.
fn put(table: &mut dyn toml_edit::TableLike, key: &str, new: Option<Item>) {
    match (new, table.get_mut(key)) {
        (None, _) => drop(table.remove(key)),
        (Some(Item::Value(mut new)), Some(Item::Value(old))) => {
            *new.decor_mut() = old.decor().clone();
            *old = new;
        }
        (Some(new), _) => drop(table.insert(key, new)),
    }
}

/// The text of a file; `None` when it is not there; an error when it is too large or no UTF-8.
pub fn read_small(path: &Path) -> Result<Option<String>> {
    match fs::metadata(path) {
        Ok(m) if m.len() > LARGEST_FILE => {
            Err(Error::data(format!("{} is {} bytes", path.display(), m.len()), format!("{LARGEST_FILE} at most")))
        }
        Ok(_) => fs::read_to_string(path).map(Some).map_err(|e| Error::io(path, e)),
        Err(e) if e.kind() == std::io::ErrorKind::NotFound => Ok(None),
        Err(e) => Err(Error::io(path, e)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn garage() -> (tempfile::TempDir, Garage) {
        let temp = tempfile::tempdir().unwrap();
        let garage = Garage::new(temp.path().to_owned());
        (temp, garage)
    }

    fn last(at: &str) -> LastCopy {
        LastCopy { at: at.parse().unwrap(), to: "/media/stick/grey.bundle".to_owned(), tip: Id::from_bytes([7; 20]) }
    }

    #[test]
    fn what_is_remembered_is_read_back() {
        let (_temp, garage) = garage();
        let mut settings = garage.settings().unwrap();
        settings.current = Some("grey".to_owned());
        settings.copy.insert("grey".to_owned(), last("2026-08-22T14:20:00-05:00"));
        settings.copy.insert("a.b \"c\"".to_owned(), last("2026-08-23T14:20:00+05:30"));
        garage.remember(&settings).unwrap();
        let read = garage.settings().unwrap();
        assert_eq!((&read.current, &read.by, &read.copy), (&settings.current, &None, &settings.copy));
        settings.copy.remove("grey");
        settings.current = None;
        garage.remember(&settings).unwrap();
        let read = garage.settings().unwrap();
        assert_eq!((read.current, read.copy), (None, settings.copy));
    }

    #[test]
    fn what_a_hand_wrote_stays() {
        let (_temp, garage) = garage();
        let text = "# mine\nformat = 1\nby = \"Ro\" # me\ncurrent = \"wren\"   # this year\n\n[copy.wren]\n# the red stick\nat = 2026-08-01T09:00:00-05:00\nto = \"/old\" # was grey\ntip = \"0101010101010101010101010101010101010101\"\n";
        std::fs::write(garage.dir().join("garage.toml"), text).unwrap();
        let mut settings = garage.settings().unwrap();
        settings.current = Some("grey".to_owned());
        settings.copy.insert("wren".to_owned(), last("2026-08-22T14:20:00-05:00"));
        garage.remember(&settings).unwrap();
        let now = std::fs::read_to_string(garage.dir().join("garage.toml")).unwrap();
        let wanted = text
            .replace("\"wren\"   #", "\"grey\"   #")
            .replace("2026-08-01T09:00:00-05:00", "2026-08-22T14:20:00-05:00")
            .replace("/old", "/media/stick/grey.bundle")
            .replace("01", "07");
        assert_eq!(now, wanted);
    }

    #[test]
    fn a_wrong_copy_is_told_with_its_place() {
        let (_temp, garage) = garage();
        for wrong in ["at = 2026-08-22", "at = 2026-08-22T14:20:00", "at = \"today\""] {
            let text =
                format!("format = 1\n[copy.grey]\n{wrong}\nto = \"/x\"\ntip = \"{}\"\n", Id::from_bytes([7; 20]));
            std::fs::write(garage.dir().join("garage.toml"), text).unwrap();
            assert!(matches!(garage.settings(), Err(Error::Text { .. })), "{wrong}");
        }
    }
}
