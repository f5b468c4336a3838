//! What the files of a rewritten copy are called. A hand may have called one after somebody: a day has the path of its date
//! and its track in the copy, a trial that of its name, whatever they are called in the book.

use super::super::now::read_day;
use crate::slip::day_of_path;
use crate::trial::{read_trial, slug_of_path};
use std::collections::BTreeMap;

/// The files of the copy as they stand after the record at hand.
#[derive(Default)]
pub(super) struct Places {
    /// By the path in the book.
    held: BTreeMap<String, Held>,
    /// What the record at hand changes, by the path in the copy.
    changed: BTreeMap<String, Option<Vec<u8>>>,
}

struct Held {
    path: String,
    /// Kept where the file is not called as it should be: it makes room for one that is.
    text: Option<String>,
}

impl Places {
    /// A file of the book is gone, or nothing of it goes along.
    pub(super) fn take_out(&mut self, was: &str) {
        if let Some(held) = self.held.remove(was) {
            self.changed.insert(held.path, None);
        }
    }

    /// A file of the book has this text in the copy, and would be called `own` by it.
    pub(super) fn put(&mut self, was: &str, own: &str, text: String) {
        let other = |p: &str, all: &BTreeMap<String, Held>| {
            all.iter().find(|(w, h)| *w != was && h.path == p).map(|(w, _)| w.clone())
        };
        let mut path = own.to_owned();
        let mut moved = None;
        match other(own, &self.held) {
            Some(there) if was == own => moved = self.held.remove(&there).map(|held| (there, held)),
            Some(_) => path = numbered(own, |p| other(p, &self.held).is_none()),
            None => {}
        }
        let before = self.held.get(was).filter(|held| held.path != path).map(|held| held.path.clone());
        before.into_iter().for_each(|p| drop(self.changed.insert(p, None)));
        self.changed.insert(path.clone(), Some(text.clone().into_bytes()));
        self.held.insert(was.to_owned(), Held { path, text: Some(text).filter(|_| was != own) });
        if let Some((there, held)) = moved {
            self.put(&there, own, held.text.unwrap_or_default());
        }
    }

    /// What the record at hand changes.
    pub(super) fn changed(&mut self) -> Vec<(String, Option<Vec<u8>>)> {
        std::mem::take(&mut self.changed).into_iter().collect()
    }
}

/// A path beside `own` that is free.
fn numbered(own: &str, free: impl Fn(&str) -> bool) -> String {
    let stem = own.trim_end_matches(".toml");
    (2..).map(|n| format!("{stem}-{n}.toml")).find(|p| free(p)).unwrap_or_default()
}

/// What the file of a day or a trial is called, in words: a number in it is read as one then.
pub fn called(path: &str) -> Option<String> {
    let slug = day_of_path(path).map(|(_, slug)| slug).or_else(|| slug_of_path(path));
    slug.map(|slug| slug.replace('-', " "))
}

/// Whether the file of a day or a trial is called after its track, or its name; the second one of a day in a copy too.
pub fn is_called_so(path: &str, text: &str) -> bool {
    let own = match day_of_path(path) {
        Some(_) => read_day(path, text).ok().map(|day| day.path()),
        None => read_trial(text).ok().map(|trial| trial.path()),
    };
    own.is_some_and(|own| is_numbered(path, &own))
}

/// Whether a path is this one, or one [`numbered`] beside it.
fn is_numbered(path: &str, own: &str) -> bool {
    let stem = own.trim_end_matches(".toml");
    let rest = path.strip_prefix(stem).and_then(|rest| rest.strip_suffix(".toml"));
    let number =
        |n: &str| n.len() < 4 && n.parse::<u32>().is_ok_and(|n| n > 1) && n.bytes().all(|b| b.is_ascii_digit());
    rest.is_some_and(|rest| rest.is_empty() || rest.strip_prefix('-').is_some_and(number))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_called_as_it_should_be_has_its_name_and_others_make_room() {
        let mut places = Places::default();
        let mut step = |puts: &[(&str, &str, &str)], out: &[&str]| {
            out.iter().for_each(|p| places.take_out(p));
            puts.iter().for_each(|(was, own, text)| places.put(was, own, (*text).to_owned()));
            let text = |t: Option<Vec<u8>>| t.map_or("-".to_owned(), |t| String::from_utf8(t).unwrap());
            places.changed().into_iter().map(|(p, t)| format!("{p}={}", text(t))).collect::<Vec<_>>()
        };
        assert_eq!(step(&[("d/tony.toml", "d/flats.toml", "a")], &[]), ["d/flats.toml=a"]);
        assert_eq!(step(&[("d/pell.toml", "d/flats.toml", "b")], &[]), ["d/flats-2.toml=b"]);
        assert_eq!(step(&[("d/pell.toml", "d/flats.toml", "bb")], &[]), ["d/flats-2.toml=bb"]);
        assert_eq!(step(&[("d/flats.toml", "d/flats.toml", "c")], &[]), ["d/flats-3.toml=a", "d/flats.toml=c"]);
        assert_eq!(step(&[("d/x.toml", "d/flats.toml", "c")], &["d/flats.toml"]), ["d/flats.toml=c"]);
        assert_eq!(step(&[("d/x.toml", "d/else.toml", "e")], &["d/none.toml"]), ["d/else.toml=e", "d/flats.toml=-"]);
        assert_eq!(step(&[], &["d/x.toml", "d/pell.toml"]), ["d/else.toml=-", "d/flats-2.toml=-"]);
        assert!(is_numbered("d/flats-2.toml", "d/flats.toml") && is_numbered("d/flats.toml", "d/flats.toml"));
        for no in ["d/flats-5550142.toml", "d/flats-pell.toml", "d/flats-1.toml", "d/flat.toml", "d/flats2.toml"] {
            assert!(!is_numbered(no, "d/flats.toml"), "{no}");
        }
    }
}
