//! When what a side says of one thing was written down: what `--take newer` goes by. Whatever else that laptop wrote since
//! has no say in it.

use super::super::book::Book;
use super::super::line::{before, is_mend, turns, written_behind};
use super::super::message::Message;
use super::super::now::{read_day, text};
use super::super::who;
use super::side::Side;
use crate::schema::{Edit, Sheet, read_in_parts, typed};
use crate::slip::{Day, Moment, Run};
use crate::store::{Commit, Id, Store};
use std::cell::RefCell;
use std::collections::{BinaryHeap, HashMap, HashSet};
use std::rc::Rc;

/// The log of a side up to its newest record.
pub(super) struct Log<'a> {
    store: &'a Store,
    tip: Id,
    read: &'a Read,
}

/// What was read of a log: a second question about it reads nothing twice.
#[derive(Default)]
pub(super) struct Read {
    /// The files a record has otherwise than what it was written behind.
    touched: RefCell<HashMap<Id, Rc<[String]>>>,
    /// Days by their blob.
    days: RefCell<HashMap<Id, Option<Rc<Day>>>>,
}

/// A record of the sheet as it stood at some commit.
#[derive(Debug)]
pub(super) struct Then {
    /// What was typed.
    pub edits: Vec<Edit>,
    /// When it happened: the moment, the beginning of the window, whether it is not known.
    pub when: (Moment, Option<String>, bool),
    /// Why.
    pub why: Option<String>,
}

/// When each side wrote what is read of a thing, s.
pub(super) type Written<'a, T> = &'a dyn Fn(&dyn Fn(&T) -> String) -> [i64; 2];

impl<'a> Log<'a> {
    /// That of a book up to a record.
    pub fn new(store: &'a Store, tip: Id, read: &'a Read) -> Log<'a> {
        Log { store, tip, read }
    }

    /// When what is said at the tip came to be said, s: the newest record with which it is so, and behind none of those it
    /// was written behind it was. Only records that `touches` holds for are asked what they say.
    fn wrote<T: PartialEq>(&self, touches: &dyn Fn(&Commit) -> bool, said: &dyn Fn(Id) -> T) -> i64 {
        let now = said(self.tip);
        let mut seen = HashSet::from([self.tip]);
        let mut queue: BinaryHeap<(i64, Id)> = BinaryHeap::new();
        let mut commits: HashMap<Id, Commit> = HashMap::new();
        let mut next = Some(self.tip);
        while let Some(id) = next {
            let commit = match commits.remove(&id) {
                Some(commit) => commit,
                None => match self.store.commit(id) {
                    Ok(commit) => commit,
                    Err(_) => break,
                },
            };
            let behind = written_behind(&commit);
            let asked = behind.is_empty() || touches(&commit);
            if asked && said(id) == now && behind.iter().all(|p| said(*p) != now) {
                return commit.written.seconds;
            }
            for id in behind.into_iter().filter(|p| seen.insert(*p)) {
                let Ok(commit) = self.store.commit(id) else { continue };
                queue.push((commit.written.seconds, id));
                commits.insert(id, commit);
            }
            next = queue.pop().map(|(_, id)| id);
        }
        0
    }

    /// Whether a record has such files otherwise than all it was written behind.
    fn touches(&self, commit: &Commit, of: &dyn Fn(&str) -> bool) -> bool {
        let known = self.read.touched.borrow().get(&commit.id).cloned();
        let touched = known.unwrap_or_else(|| {
            let differ =
                |p: Id| self.store.differing(Some(p), commit.id).unwrap_or_default().into_iter().map(|(f, _)| f);
            let mut behind = written_behind(commit).into_iter();
            let first: Vec<String> = behind.next().map(|p| differ(p).collect()).unwrap_or_default();
            let all = behind.fold(first, |all, p| {
                let other: HashSet<String> = differ(p).collect();
                all.into_iter().filter(|f| other.contains(f)).collect()
            });
            let all: Rc<[String]> = all.into();
            self.read.touched.borrow_mut().insert(commit.id, all.clone());
            all
        });
        touched.iter().any(|f| of(f))
    }

    /// When a file, or what `of` reads in it, came to be as it is.
    pub fn file<T: PartialEq>(&self, path: &str, of: &dyn Fn(&[u8]) -> T) -> i64 {
        let said = |id: Id| self.store.file(id, path).ok().flatten().map(|(_, bytes)| of(&bytes));
        self.wrote(&|c| self.touches(c, &|p| p == path), &said)
    }

    /// When what `of` says of one day came to be so.
    pub fn day(&self, path: &str, of: &dyn Fn(&Day) -> String) -> i64 {
        let read = |bytes: &[u8]| {
            let text = text(bytes.to_vec(), path).ok()?;
            read_day(path, &text).ok().map(|day| of(&day))
        };
        self.file(path, &read)
    }

    /// When what `of` says of one run came to be so, or it was taken away.
    pub fn run(&self, run: &str, of: &dyn Fn(&Run) -> String) -> i64 {
        let days = &self.read.days;
        let is_day = |path: &str| path.starts_with("days/");
        let said = |id: Id| -> Option<String> {
            let files = self.store.files(id).ok()?;
            files.into_iter().filter(|(path, _)| is_day(path)).find_map(|(path, blob)| {
                let read = || text(self.store.blob(blob).ok()?, &path).ok().and_then(|t| read_day(&path, &t).ok());
                let day = days.borrow_mut().entry(blob).or_insert_with(|| read().map(Rc::new)).clone()?;
                day.runs.iter().find(|r| r.id == run).map(of)
            })
        };
        self.wrote(&|c| self.touches(c, &is_day), &said)
    }
}

impl Side {
    /// Its log.
    pub fn log(&self) -> Log<'_> {
        Log::new(&self.book.store, self.live.head, &self.read)
    }

    /// When what `of` says of a record of the sheet came to be so, or it was taken away. It is known by its first commit.
    pub fn wrote_record(&self, first: &str, of: &dyn Fn(&Then) -> String) -> i64 {
        let touches = |c: &Commit| turns(c) || c.id.to_string() == first;
        self.log().wrote(&touches, &|id| record_then(&self.book, id, first).map(|then| of(&then)))
    }
}

/// A record as the live line up to a commit has it.
fn record_then(book: &Book, head: Id, first: &str) -> Option<Then> {
    let mut next = Some(head);
    while let Some(id) = next {
        let commit = book.store.commit(id).ok()?;
        let message = Message::read(&commit.message);
        next = before(&commit);
        let own = id.to_string();
        if is_mend(&message) || message.get("Replaces").unwrap_or(&own) != first {
            continue;
        }
        let mut known = book.known.borrow_mut();
        let mut sheet = |id: Option<Id>| -> Option<Sheet> {
            let Some(id) = id else { return Some(Sheet::default()) };
            let (_, bytes) = book.store.file(id, "setup.toml").ok()??;
            Some(read_in_parts(&book.schema, &text(bytes, "setup.toml").ok()?, &mut known))
        };
        let (before, after) = (sheet(next).unwrap_or_default(), sheet(Some(id))?);
        let trailers: Vec<&str> = message.all("Typed").collect();
        return Some(Then {
            edits: typed(&book.schema, &trailers, &before, &after),
            when: (
                who::moment(commit.authored),
                message.get("Since").map(str::to_owned),
                message.get("Time") == Some("unknown"),
            ),
            why: message.get("Why").map(str::to_owned),
        });
    }
    None
}
