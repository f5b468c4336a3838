//! A page of a racer's notebook: facts of the day, then lines that begin with a time, each a run, a change, a
//! measurement, a reading or a note. Also the page printed to be filled in, whose blanks say nothing.

mod line;

pub use line::{Said, read_line};

use super::clock::{self, Clock, Watch, meant, moment};
use super::moment::{Moment, read_day};
use super::typed::{SlipError, error};
use crate::schema::{Num, RunWords};
use jiff::civil::Date;
use line::SORTS;

/// The most a page may hold, in bytes.
pub const LARGEST_PAGE: usize = 64 << 10;

/// The most lines a page may have.
pub const MOST_LINES: usize = 1000;

/// The longest line that is read, in characters.
const LONGEST_LINE: usize = 400;

/// A page, taken apart.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Notebook {
    /// The car it says it is of.
    pub car: Option<String>,
    /// Its date.
    pub date: Option<Date>,
    /// Its track.
    pub track: Option<String>,
    /// The track's elevation, ft.
    pub elevation_ft: Option<Num>,
    /// The finish, ft.
    pub finish_ft: Option<u32>,
    /// How the track was prepared.
    pub prep: Option<String>,
    /// Notes without a time.
    pub notes: Vec<String>,
    /// Every line that is neither empty nor one of the above, in the order of the page.
    pub lines: Vec<Line>,
}

/// A line of a page.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Line {
    /// Its number on the page, from 1.
    pub number: usize,
    /// As it is written.
    pub text: String,
    /// Its time and the words behind it, or why there are none.
    pub timed: Result<(Clock, Vec<String>), SlipError>,
}

/// Takes a page apart. `now` is what `sat` and a date without its year are counted from.
pub fn read_notebook(words: &RunWords, text: &str, now: Moment) -> Result<Notebook, SlipError> {
    if text.len() > LARGEST_PAGE {
        return Err(error(format!("the page is {} bytes; {LARGEST_PAGE} at most", text.len()), "one page a day"));
    }
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    if text.lines().count() > MOST_LINES {
        return Err(error(format!("the page has more than {MOST_LINES} lines"), "one page a day"));
    }
    let mut page = Notebook::default();
    for (i, text) in text.lines().enumerate() {
        let tokens: Vec<&str> = text.split_whitespace().collect();
        if tokens.first().is_none_or(|t| t.starts_with('#')) || tokens.iter().all(|t| is_blank(t)) {
            continue;
        }
        let timed = match timed(&tokens) {
            Some((clock, rest)) => Ok((clock, rest.iter().map(|t| (*t).to_owned()).collect())),
            None if is_blank(tokens[0]) && empty(&tokens) => continue,
            None => match page.fact(words, &tokens, now) {
                Ok(true) => continue,
                Ok(false) => {
                    Err(error("it does not begin with a time", "10:50 and then what happened; # before a remark"))
                }
                Err(e) => Err(e),
            },
        };
        let long = text.chars().count() > LONGEST_LINE;
        let too_long = || error(format!("it is longer than {LONGEST_LINE} characters"), "two lines of the same time");
        let timed = if long { Err(too_long()) } else { timed };
        page.lines.push(Line { number: i + 1, text: text.trim().to_owned(), timed });
    }
    Ok(page)
}

/// The time a line begins with, and what stands behind it.
fn timed<'a>(tokens: &'a [&'a str]) -> Option<(Clock, &'a [&'a str])> {
    let (first, rest) = tokens.split_first()?;
    let (clock, used) = clock::read(first.trim_matches('_'), rest.first().copied())?;
    Some((clock, &rest[usize::from(used)..]))
}

/// A blank that was left unfilled: a line of underscores for a number, of dots for words.
fn is_blank(token: &str) -> bool {
    let only = |c: char| token.chars().all(|x| x == c);
    token.len() >= 2 && (only('_') || only('.') || only('\u{2026}'))
}

/// A blank with its unit behind it: `____F`.
fn is_blank_with_unit(token: &str) -> bool {
    token.starts_with("__") && !token.chars().any(|c| c.is_ascii_digit())
}

/// Nothing was filled in: blanks, and the words that are printed between them.
fn empty(tokens: &[&str]) -> bool {
    let printed = |t: &str| matches!(t, "why" | "station" | "track") || SORTS.iter().any(|(w, _)| *w == t);
    tokens.iter().all(|t| is_blank(t) || is_blank_with_unit(t) || printed(t))
}

impl Notebook {
    /// Takes a line without a time as a fact of the day; false where it is none.
    fn fact(&mut self, words: &RunWords, tokens: &[&str], now: Moment) -> Result<bool, SlipError> {
        let name = tokens[0].trim_end_matches([':', '=']).to_lowercase();
        let rest: Vec<String> = tokens[1..].iter().filter(|t| !is_blank(t)).map(|t| filled(t).to_owned()).collect();
        let said = rest.join(" ");
        let twice = |there: bool| match there {
            true => Err(error(format!("the {name} stands on this page already"), "one page a day")),
            false => Ok(()),
        };
        let number = || Num::parse(said.trim_end_matches("ft").trim_end());
        match name.as_str() {
            "car" | "track" | "elevation" | "finish" | "prep" | "date" | "note" if said.is_empty() => {}
            "car" => {
                twice(self.car.is_some())?;
                self.car = Some(said);
            }
            "track" => {
                twice(self.track.is_some())?;
                if said.chars().count() > 80
                    || said.chars().any(char::is_control)
                    || !said.chars().any(char::is_alphanumeric)
                {
                    return Err(error("that is no name of a track", "track Osier Flats"));
                }
                self.track = Some(said);
            }
            "elevation" => {
                twice(self.elevation_ft.is_some())?;
                let feet = number().filter(|n| n.abs() <= Num::int(15_000));
                self.elevation_ft =
                    Some(feet.ok_or_else(|| error(format!("`{said}` is no elevation in feet"), "elevation 640"))?);
            }
            "finish" => {
                twice(self.finish_ft.is_some())?;
                let feet = words.finishes_ft.iter().find(|f| number() == Num::parse(&f.to_string()));
                let allowed = || words.finishes_ft.iter().map(ToString::to_string).collect::<Vec<_>>().join(", ");
                let finish =
                    feet.ok_or_else(|| error(format!("`{said}` is no finish"), format!("one of {} ft", allowed())))?;
                self.finish_ft = Some(*finish);
            }
            "prep" => {
                twice(self.prep.is_some())?;
                self.prep = Some(said);
            }
            "note" => self.notes.push(said),
            "date" => {
                twice(self.date.is_some())?;
                self.date = Some(
                    read_date_line(&said, now)?
                        .ok_or_else(|| error(format!("`{said}` is no date"), "date sep 5 2026"))?,
                );
            }
            _ => {
                let whole: Vec<&str> = tokens.iter().copied().filter(|t| !is_blank(t)).collect();
                let Some(date) = read_date_line(&whole.join(" "), now)? else { return Ok(false) };
                if self.date.is_some() {
                    return Err(error("a second date on one page", "one page a day"));
                }
                self.date = Some(date);
            }
        }
        Ok(true)
    }

    /// When each line happened, on that day by that watch; `None` for a line without a time.
    pub fn moments(&self, date: Date, watch: &Watch) -> Vec<Option<Moment>> {
        let clocks: Vec<Clock> = self.lines.iter().filter_map(|l| l.timed.as_ref().ok()).map(|t| t.0).collect();
        let mut times = meant(&clocks).into_iter();
        let mut latest: Option<Moment> = None;
        let mut one = |line: &Line| {
            line.timed.as_ref().ok()?;
            let at = moment(date, times.next()?, watch, latest)?;
            latest = latest.max(Some(at));
            Some(at)
        };
        self.lines.iter().map(&mut one).collect()
    }
}

/// `sat sep 5 2026`, `sep 5`, `2026-09-05`, `sat`. A day of the week that is not the date's is an error.
fn read_date_line(text: &str, now: Moment) -> Result<Option<Date>, SlipError> {
    if let Some(date) = read_day(text, now) {
        return Ok(Some(date));
    }
    let text = text.replace(',', " ");
    let Some((day, rest)) = text.trim().split_once(' ') else { return Ok(None) };
    let weekdays = ["mon", "tue", "wed", "thu", "fri", "sat", "sun"];
    let weekday = weekdays.iter().position(|d| day.to_lowercase().starts_with(d));
    let rest = rest.split_whitespace().collect::<Vec<_>>().join(" ");
    let (Some(weekday), Some(date)) = (weekday, read_day(&rest, now)) else {
        return Ok(read_day(&text.split_whitespace().collect::<Vec<_>>().join(" "), now));
    };
    let is = usize::try_from(date.weekday().to_monday_zero_offset()).unwrap_or(0);
    if is != weekday {
        return Err(error(
            format!("{date} is no {day}, it is {}", weekdays[is]),
            "the date with its own day, or without",
        ));
    }
    Ok(Some(date))
}

/// A token without what is left of the blank it was written over.
fn filled(token: &str) -> &str {
    let token = token.trim_matches('_');
    if token.ends_with("..") { token.trim_end_matches('.') } else { token }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::schema::schema;
    use jiff::civil::date;

    const PAGE: &str = "sat sep 5 2026\ntrack Osier Flats\nelevation 640\nfinish 1320\n\n# remarks\n\
        10:50 1.597 4.676 7.251 94.2 9.491 11.428 117.0 r hook\n11:20 rear tires down 1/2 -- chasing bite\n\
        12:00 84F 52% 29.42 station\n12:10 measure corner lr 812\n12:50 spun at the hit\n1:15 60=1.600 left\nlimitter dwn\n";

    fn now() -> Moment {
        Moment::from_civil(date(2026, 9, 6).at(20, 0, 0, 0), -5 * 3600).unwrap()
    }

    fn page(text: &str) -> Notebook {
        read_notebook(&schema().run, text, now()).unwrap()
    }

    fn said(text: &str) -> Result<Said, SlipError> {
        let page = page(&format!("10:50 {text}"));
        read_line(&schema().run, &page.lines[0].timed.clone().unwrap().1, 1320, now())
    }

    #[test]
    fn a_page_taken_apart() {
        let page = page(PAGE);
        assert_eq!(
            (page.date, page.track.as_deref(), page.finish_ft),
            (Some(date(2026, 9, 5)), Some("Osier Flats"), Some(1320))
        );
        assert_eq!(page.elevation_ft, Some(Num::int(640)));
        assert_eq!(page.lines.len(), 7);
        assert_eq!((page.lines[6].number, page.lines[6].timed.is_err()), (13, true));
        let at = page.moments(date(2026, 9, 5), &Watch::Offset(-18_000));
        assert_eq!(at[5].unwrap().iso(), "2026-09-05T13:15:00-05:00");
        assert_eq!(at[6], None);
    }

    #[test]
    fn what_a_line_is() {
        for (text, wanted) in [
            ("1.597 11.428 117.0 r", "run"),
            ("1597 11428 117", "run"),
            ("- 4.676 - - - 11.4 117", "run"),
            ("60=1.6 et=11.4", "run"),
            ("lifted at 660", "run"),
            ("run broke the axle", "run"),
            ("rear tires down 1/2", "change"),
            ("left rear tire 12.25", "change"),
            ("rpm 4200", "change"),
            ("broke the axle", "change"),
            ("change 84F", "change"),
            ("84F 52%", "air"),
            ("track 118F", "air"),
            ("note 1.597 in the other lane", "note"),
            ("measure gap 0.5", "measured"),
        ] {
            let is = match said(text) {
                Ok(Said::Run(_)) => "run",
                Ok(Said::Change(..)) => "change",
                Ok(Said::Measured(..)) => "measured",
                Ok(Said::Air(_)) => "air",
                Ok(Said::Note(_)) => "note",
                Err(e) => panic!("{text}: {e}"),
            };
            assert_eq!(is, wanted, "{text}");
        }
        for wrong in
            ["l.597", "1.597 4.6", "", "....", "1.6 1.5 7.2 94 9.4 11.4 117", "air 84", "run hello", "84F -- hot"]
        {
            assert!(
                page(&format!("10:50 {wrong}")).lines.len() == 1 && said(wrong).is_err(),
                "{wrong}: {:?}",
                said(wrong)
            );
        }
    }

    #[test]
    fn why_behind_a_dash_or_its_word() {
        let change =
            |what: &str, why: &str| Said::Change(what.split(' ').map(str::to_owned).collect(), Some(why.to_owned()));
        for text in
            ["limiter down 1/4 -- it hurt", "limiter down 1/4 why: it hurt", "limiter down 1/4 \u{2014} it hurt"]
        {
            assert_eq!(said(text).unwrap(), change("limiter down 1/4", "it hurt"), "{text}");
        }
        let Ok(Said::Run(run)) = said("1.597 11.4 117 no idea why -- other lane wet") else { panic!() };
        assert_eq!(run.note.as_deref(), Some("no idea why; other lane wet"));
    }

    #[test]
    fn blanks_say_nothing() {
        let page = page(
            "date ......\ntrack ....\nfinish 1320\n_____ ______ ______ .. .....\n_____ change ........ why .....\n\
             _____ air ____F ____% _____ station ....\n10:50 1.650 ______ ______ ______ ______ 11.5__ 116.0 .. ......\n\
             11:20 change limiter down 1/4...... why ....\n12:00 air 84F ____% _____ station ...\n_____ 1.6 11.4 117",
        );
        assert_eq!((page.date, page.track, page.lines.len()), (None, None, 4));
        let read = |i: usize| read_line(&schema().run, &page.lines[i].timed.clone().unwrap().1, 1320, now()).unwrap();
        let Said::Run(run) = read(0) else { panic!() };
        assert_eq!(run.numbers.len(), 3);
        assert_eq!(read(1), Said::Change(vec!["limiter".into(), "down".into(), "1/4".into()], None));
        let Said::Air(air) = read(2) else { panic!() };
        assert_eq!((air.reading.numbers.len(), air.barometer), (1, None));
        assert!(page.lines[3].timed.is_err(), "a run without its time is no blank");
    }

    #[test]
    fn facts_that_cannot_be() {
        for (line, why) in [
            ("sun sep 5 2026", "is no sun"),
            ("finish 900", "no finish"),
            ("elevation high", "no elevation"),
            ("date whenever", "no date"),
            ("track \u{1b}[2J\ntrack Osier Flats\ntrack Tern Hollow", "already"),
            ("2026-09-05\n2026-09-06", "second date"),
        ] {
            let page = page(line);
            assert!(
                page.lines.iter().any(|l| l.timed.as_ref().is_err_and(|e| e.why.contains(why))),
                "{line}: {page:?}"
            );
        }
        assert!(read_notebook(&schema().run, &"x".repeat(LARGEST_PAGE + 1), now()).is_err());
        assert!(read_notebook(&schema().run, &"\n".repeat(MOST_LINES + 1), now()).is_err());
    }
}
