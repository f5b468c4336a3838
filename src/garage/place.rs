//! The garage: a folder of books, which car is current, and where the editor finds the JSON Schemas.

use super::{Error, Result};
use serde::{Deserialize, Serialize};
use std::fs;
use std::io::Write as _;
use std::path::{Path, PathBuf};

/// A garage.
#[derive(Debug, Clone)]
pub struct Garage {
    dir: PathBuf,
}

/// What the garage remembers (`garage.toml`).
#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Settings {
    format: u32,
    /// Folder of the current car.
    pub current: Option<String>,
    /// Whose hand writes, where `--by` does not say.
    pub by: Option<String>,
}

impl Default for Settings {
    fn default() -> Settings {
        Settings { format: 1, current: None, by: None }
    }
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

    /// Remembers.
    pub fn remember(&self, settings: &Settings) -> Result<()> {
        let text = toml::to_string(settings).map_err(|e| Error::data(e.to_string(), "garage.toml"))?;
        self.write(Path::new("garage.toml"), &text)
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
