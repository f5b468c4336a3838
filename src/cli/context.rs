//! What a command works with: the garage, the car, the hand, the clock.

use super::args::{Common, Format};
use super::ui::Ui;
use crate::garage::{Book, CLOCKS_DIFFER_S, Car, Error, Garage, Hand, Options, Result, read_small, sweep};
use crate::render::Head;
use crate::slip::{Moment, read_day, read_when};
use crate::text::visible;
use jiff::tz::TimeZone;
use std::path::{Path, PathBuf};

/// The time zone of the machine. Where the system has a file of it, that is read: by name, all zones there are would be
/// listed first, which takes longer than most commands.
fn zone_of_machine() -> TimeZone {
    let named = std::env::var_os("TZ").is_some();
    let file = (!named).then(|| zone_in(Path::new("/etc/localtime"))).flatten();
    file.unwrap_or_else(TimeZone::system)
}

/// The time zone in a file in the format of RFC 9636; none where there is no such file.
fn zone_in(file: &Path) -> Option<TimeZone> {
    TimeZone::tzif("", &std::fs::read(file).ok()?).ok()
}

/// The surroundings of a command.
pub struct Context {
    /// The garage.
    pub garage: Garage,
    /// The garage as it was named on the command line.
    pub garage_named: Option<PathBuf>,
    /// The car asked for.
    pub car: Option<String>,
    /// Who writes, and when.
    pub hand: Hand,
    /// The time zone of the machine.
    pub zone: TimeZone,
    /// The form of the answer.
    pub format: Format,
    /// Unusual values are right.
    pub yes: bool,
    width: usize,
    cwd: PathBuf,
    cache: Option<PathBuf>,
}

impl Context {
    /// From the arguments, the clock and the environment.
    pub fn new(common: &Common, ui: &Ui) -> Result<Context> {
        let zone = zone_of_machine();
        let now = match std::env::var("SLIPBOOK_NOW") {
            Ok(text) => fixed_now(&text, &zone)?,
            Err(_) => Moment::at(jiff::Timestamp::now().as_second(), &zone)
                .unwrap_or(Moment { seconds: 0, offset_seconds: 0 }),
        };
        let dir = match &common.garage {
            Some(dir) => dir.clone(),
            None => {
                directories::ProjectDirs::from("", "", "slipbook").map(|d| d.data_dir().join("garage")).ok_or_else(
                    || Error::usage("this user has no home folder, so there is no default garage", "--garage DIR"),
                )?
            }
        };
        let cwd = std::env::current_dir().map_err(|e| match e.kind() {
            std::io::ErrorKind::NotFound => {
                Error::data("the folder you are in is no longer there; nothing was done", "cd to one that is")
            }
            _ => Error::io(Path::new("."), e),
        })?;
        sweep(&dir);
        let garage = Garage::new(dir);
        let by = match &common.by {
            Some(by) => by.clone(),
            None => garage.settings()?.by.or_else(user).unwrap_or_else(|| "unknown".to_owned()),
        };
        let by_environment = |dir: &PathBuf| std::env::var_os("SLIPBOOK_GARAGE").is_some_and(|e| e == **dir);
        Ok(Context {
            garage,
            garage_named: common.garage.clone().filter(|dir| !by_environment(dir)),
            car: common.car.clone(),
            hand: Hand { by, now },
            zone,
            format: common.format,
            yes: common.yes,
            width: ui.width(),
            cwd,
            cache: directories::ProjectDirs::from("", "", "slipbook").map(|d| d.cache_dir().to_owned()),
        })
    }

    /// How records are written. `SLIPBOOK_FSYNC=off` is for tests and throw-away books only.
    pub fn options(&self) -> Options {
        Options {
            fsync: std::env::var("SLIPBOOK_FSYNC").map_or(true, |v| v != "off"),
            waiting: Some(Box::new(|sentence| {
                let _ =
                    std::io::Write::write_all(&mut std::io::stderr(), format!("{}\n", visible(sentence)).as_bytes());
            })),
            ..Options::default()
        }
    }

    /// The folder of the car at hand: `--car`, else the book one stands in, else the current car, else the only one.
    pub fn car_dir(&self) -> Result<PathBuf> {
        if let Some(wanted) = &self.car {
            return self.find_car(wanted).map(|folder| self.garage.car_dir(&folder));
        }
        for dir in self.cwd.ancestors() {
            if dir.join("car.toml").is_file() && dir.join(".git").exists() {
                return Ok(dir.to_owned());
            }
        }
        let folders = self.garage.folders()?;
        if let Some(current) = self.garage.settings()?.current.filter(|c| folders.contains(c)) {
            return Ok(self.garage.car_dir(&current));
        }
        match folders.as_slice() {
            [one] => Ok(self.garage.car_dir(one)),
            [] => Err(Error::usage(
                format!("there is no car in {}", self.garage.dir().display()),
                "slipbook new NAME opens a book, slipbook receive FILE takes one in",
            )),
            many => Err(Error::usage("which car?", format!("--car {}", many.join(" | ")))),
        }
    }

    /// Whether a folder is the one somebody stands in.
    pub fn stands_in(&self, dir: &Path) -> bool {
        self.cwd == dir
    }

    /// The folder of the car called so: its folder, its name, or the only one that begins so.
    pub fn find_car(&self, wanted: &str) -> Result<String> {
        let lower = wanted.to_lowercase();
        let folders = self.garage.folders()?;
        let name = |folder: &String| {
            let path = self.garage.car_dir(folder).join("car.toml");
            let text = read_small(&path).ok().flatten()?;
            Car::read("car.toml", &text).ok().map(|c| c.name.to_lowercase())
        };
        if let Some(exact) = folders.iter().find(|f| **f == lower || name(f).as_deref() == Some(&lower)) {
            return Ok(exact.clone());
        }
        let begins: Vec<&String> = folders
            .iter()
            .filter(|f| f.starts_with(&lower) || name(f).is_some_and(|n| n.starts_with(&lower)))
            .collect();
        match begins.as_slice() {
            [one] => Ok((*one).clone()),
            _ => {
                let help = if folders.is_empty() { "slipbook new NAME".to_owned() } else { folders.join(", ") };
                Err(Error::usage(format!("no car `{wanted}` in {}", self.garage.dir().display()), help))
            }
        }
    }

    /// Opens the book at hand, and keeps the schemas beside it in step.
    pub fn book(&self) -> Result<Book> {
        self.open(&self.car_dir()?)
    }

    /// Opens the book in a folder.
    pub fn open(&self, dir: &Path) -> Result<Book> {
        Ok(Book::open(dir)?.with_cache(self.cache.as_deref()))
    }

    /// What every answer about a car begins with.
    pub fn head(&self, car: &str) -> Head {
        Head { car: car.to_owned(), width: self.width, year: self.hand.now.civil().year() }
    }

    /// Says where a number stands on the tape of another laptop too.
    pub fn tell_also_called(&self, history: &crate::garage::History, name: &str) {
        if let Some(sentence) = crate::garage::also_called(history, name) {
            let _ = std::io::Write::write_all(&mut std::io::stderr(), format!("{}\n", visible(&sentence)).as_bytes());
        }
    }

    /// The moment meant by a text, be it still to come.
    pub fn any_moment(&self, text: &str) -> Result<Moment> {
        read_when(text, self.hand.now, &self.zone).map_err(|why| Error::usage(why, "14:20, sat 14:20, aug 22 14:20"))
    }

    /// The moment meant by `--when` and its like.
    pub fn moment(&self, text: &str) -> Result<Moment> {
        let at = read_when(text, self.hand.now, &self.zone).map_err(|why| Error::usage(why, "nothing was recorded"))?;
        if at.seconds > self.hand.now.seconds + CLOCKS_DIFFER_S {
            let now = self.hand.now.words(None);
            return Err(Error::usage(
                format!("{} is still to come: it is {now} by this machine's clock", at.words(None)),
                "the time it happened; nothing was recorded",
            ));
        }
        Ok(at)
    }

    /// A race day as typed: `jul 11`, `2026-07-11`, `yesterday`.
    pub fn race_day(&self, text: &str) -> Result<jiff::civil::Date> {
        read_day(text, self.hand.now)
            .ok_or_else(|| Error::usage(format!("`{text}` is no day"), "jul 11, 2026-07-11, yesterday"))
    }

    /// Says the answer in the form asked for.
    pub fn answer(&self, ui: &mut Ui, json: impl FnOnce() -> serde_json::Value, text: impl FnOnce() -> String) {
        match self.format {
            Format::Json => ui.json(&json()),
            Format::Text => ui.text(&text()),
        }
    }
}

fn fixed_now(text: &str, zone: &TimeZone) -> Result<Moment> {
    let wrong = || Error::usage(format!("SLIPBOOK_NOW={text} is no time"), "2026-08-22T14:20:00-05:00");
    if let Ok(t) = text.parse::<jiff::Timestamp>() {
        return Moment::at(t.as_second(), zone).ok_or_else(wrong);
    }
    text.parse::<jiff::civil::DateTime>().ok().and_then(|d| Moment::in_zone(d, zone)).ok_or_else(wrong)
}

fn user() -> Option<String> {
    ["USER", "USERNAME", "LOGNAME"].iter().find_map(|k| std::env::var(k).ok()).filter(|u| !u.is_empty())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A file of a zone with one kind of time, six hours behind, and the rule of all that comes after, by RFC 9636.
    fn zone_file(rule: &str) -> Vec<u8> {
        let mut block = b"TZif2".to_vec();
        block.extend([0; 15]);
        // Leaps, changes and marks: none. One kind of time, with four letters and their end.
        [0_u32, 0, 0, 0, 1, 4].iter().for_each(|n| block.extend(n.to_be_bytes()));
        block.extend((-6 * 3600_i32).to_be_bytes());
        block.extend([0, 0]);
        block.extend(b"CST\0");
        [block.clone(), block, format!("\n{rule}\n").into_bytes()].concat()
    }

    #[test]
    fn the_zone_is_the_one_in_the_file() {
        let dir = tempfile::tempdir().unwrap();
        let file = dir.path().join("localtime");
        std::fs::write(&file, zone_file("CST6CDT,M3.2.0,M11.1.0")).unwrap();
        let zone = zone_in(&file).unwrap();
        // Noon of 15 January and of 15 July 2026 by UTC.
        for (at, hours) in [(1_768_478_400, -6), (1_784_116_800, -5)] {
            let at = jiff::Timestamp::from_second(at).unwrap();
            assert_eq!(zone.to_offset(at), jiff::tz::offset(hours), "{at}");
        }
        std::fs::write(&file, "no zone").unwrap();
        assert!(zone_in(&file).is_none() && zone_in(&dir.path().join("none")).is_none());
    }
}
