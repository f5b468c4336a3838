//! The messages of a rewritten copy: each record is said as it was, or anew where something of it stays here.

use super::super::change::{say, told};
use super::super::left_out::{self, LeftOut};
use super::super::message::{Message, OF_NO_VALUE, Said, said_in};
use super::super::run::run_subject;
use super::{BEGINS_HERE, NOT_ALONG, Rewrite};
use crate::diff::diff;
use crate::schema::{Sheet, typed_again};
use crate::slip::Run;
use crate::store::Commit;
use crate::timeline::{Kind, noted_again};
use crate::trial::{LARGEST_TRIAL, path_of, read_trial};

/// What a record says of which nothing else is to be said.
const RECORDED: &str = "recorded";

impl Rewrite<'_> {
    /// The message of a record, said anew where something of it stays here.
    pub(super) fn message(&self, commit: &Commit, first: bool, old: &Sheet, new: &Sheet) -> Message {
        let was = Message::read(&commit.message);
        let version = self.versions.get(commit.id.to_string().as_str()).map(|i| &self.history.timeline.versions[*i]);
        let kind = match version {
            Some(v) if !first => Some(v.entry.kind),
            Some(_) => Some(Kind::Open),
            None => was.kind(),
        };
        let scrub = &self.out.scrub;
        let anew = self.out.notes || !self.out.fields.is_empty();
        let mut message = match kind {
            Some(kind) => Message::new(kind, ""),
            None => Message::default(),
        };
        let measured: Vec<String> = was.all("Measured").filter_map(|m| self.noted(m)).collect();
        message.subject = scrub.sentence(&was.subject);
        message.body = was.body.iter().map(|l| scrub.text(l)).collect();
        // What a change says can be said anew from the sheets: nothing is cut off there before it is cleaned.
        let of_sheet = matches!(kind, Some(Kind::Open | Kind::Change | Kind::Revert | Kind::Measured));
        if first {
            if self.out.before.is_some() {
                message.subject = scrub.text(BEGINS_HERE);
            }
            message.body.clear();
        } else if of_sheet && (anew || !scrub.is_nothing()) {
            let paths: Vec<String> = measured.iter().map(|m| first_word(m).to_owned()).collect();
            let mut clauses = told(self.schema, old, new, &diff(self.schema, old, new), &paths);
            for clause in &mut clauses {
                (clause.text, clause.brief) = (scrub.text(&clause.text), scrub.text(&clause.brief));
            }
            match clauses.is_empty() {
                // Some records of the sheet change no value of it.
                true if OF_NO_VALUE.contains(&was.subject.as_str()) => {}
                true if !self.out.fields.is_empty() => {
                    (message.subject, message.body) = (NOT_ALONG.to_owned(), Vec::new());
                }
                true if anew => (message.subject, message.body) = (RECORDED.to_owned(), Vec::new()),
                true => {}
                false => say(&mut message, was.get("Back-to"), &clauses),
            }
        } else if kind == Some(Kind::Run) && (anew || !scrub.is_nothing()) {
            (message.subject, message.body) = (self.run_said(was.get("Run")), Vec::new());
        } else if anew {
            let subject = match kind {
                Some(Kind::Mend) => scrub.text("the record was put right"),
                Some(Kind::Oops) => scrub.text("a record was taken back"),
                _ => scrub.text(RECORDED),
            };
            (message.subject, message.body) = (subject, Vec::new());
        }
        // By hand a record can be without a message; in a book it has one.
        if message.subject.trim().is_empty() {
            message.subject = scrub.text(RECORDED);
        }
        if let Some(version) = version {
            message.push("Version", &version.number.to_string());
        }
        if first {
            let moved = self.before.moved(self.schema, &|f| self.leaves(f));
            moved.iter().for_each(|m| message.push("Measured", m));
            if let Some(shortened) = self.before.shortened {
                shortened.say(&mut message);
            }
            let left_out = LeftOut::of(self.out).after(self.book.left_out());
            message.push(left_out::TRAILER, &left_out.to_line());
        }
        for (key, value) in &was.trailers {
            if let Some(said) = self.trailer(commit, key, value, new) {
                message.push(key, &said);
            }
        }
        message
    }

    /// What a trailer says in the copy, in this program's form; `None` where it has none, or stays here.
    fn trailer(&self, commit: &Commit, key: &str, value: &str, sheet: &Sheet) -> Option<String> {
        let scrub = &self.out.scrub;
        match key {
            "Typed" if self.goes(value) => typed_again(self.schema, value, sheet),
            "Measured" => self.noted(value),
            "Why" if !self.out.notes => Some(scrub.text(value)),
            "Mended" if !self.out.notes && self.out.fields.is_empty() => Some(scrub.text(value)),
            "Run" if self.runs.contains_key(value) || said_in(self.schema, key, value) == Said::Own => {
                Some(self.run_ids.of(value))
            }
            // The name of a trial is what its file is found by.
            "Trial" if self.has_trial(commit, value) => Some(value.to_owned()),
            "Back-to" | "Since" | "Time" | "Given" | "On" | "Was" if said_in(self.schema, key, value) == Said::Own => {
                Some(value.to_owned())
            }
            _ => None,
        }
    }

    /// Whether what a trailer says was typed is of a field that goes along.
    fn goes(&self, trailer: &str) -> bool {
        self.schema.locate(first_word(trailer)).is_some_and(|(field, _)| !self.leaves(field))
    }

    /// What a trailer says of a value beside its number, without the fields that stay here.
    fn noted(&self, trailer: &str) -> Option<String> {
        noted_again(self.schema, trailer, &|field| !self.leaves(field))
    }

    /// Whether a record has a trial of this name in its files.
    fn has_trial(&self, commit: &Commit, name: &str) -> bool {
        let file = self.book.store.file(commit.id, &path_of(name)).ok().flatten();
        let text = file.filter(|(_, bytes)| bytes.len() <= LARGEST_TRIAL);
        let text = text.and_then(|(_, bytes)| String::from_utf8(bytes).ok());
        text.and_then(|text| read_trial(&text).ok()).is_some_and(|trial| trial.name == name)
    }

    /// The sentence of a run's record, made anew from the run as it is now.
    fn run_said(&self, id: Option<&str>) -> String {
        let scrub = &self.out.scrub;
        let Some(made) = id.and_then(|id| self.runs.get(id)).map(|i| &self.history.runs[*i]) else {
            return scrub.text("a run was recorded");
        };
        let clean = |text: &Option<String>| text.as_deref().map(|t| scrub.text(t));
        let run = Run {
            on: scrub.text(&made.run.on),
            lane: clean(&made.run.lane),
            why_not: clean(&made.run.why_not),
            ..made.run.clone()
        };
        scrub.text(&run_subject(&run, self.history.days[made.day].finish_ft))
    }
}

fn first_word(text: &str) -> &str {
    text.split(' ').next().unwrap_or_default()
}
