//! The messages of a rewritten copy: each record is said as it was, or anew where something of it stays here.

use super::super::change::{say, told};
use super::super::message::Message;
use super::super::texts::{Is, what_typed};
use super::{NOT_ALONG, Rewrite};
use crate::diff::diff;
use crate::schema::Sheet;
use crate::store::Commit;
use crate::timeline::Kind;

/// The names of settings in a message, which a field left out takes with it.
const OF_FIELDS: [&str; 2] = ["Typed", "Measured"];

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
        let measured: Vec<String> = was.all("Measured").filter(|m| self.goes(m)).map(str::to_owned).collect();
        message.subject = match kind {
            Some(Kind::Run) => scrub.text(&was.subject),
            _ => scrub.sentence(&was.subject),
        };
        message.body = was.body.iter().map(|l| scrub.text(l)).collect();
        // What a change says can be said anew from the sheets: nothing is cut off there before it is cleaned.
        let of_sheet = matches!(kind, Some(Kind::Open | Kind::Change | Kind::Revert | Kind::Measured));
        if first {
            if self.out.before.is_some() {
                message.subject = scrub.text("the record handed over begins here");
            }
            message.body.clear();
        } else if of_sheet && (anew || !scrub.is_nothing()) {
            let paths: Vec<String> = measured.iter().map(|m| first_word(m).to_owned()).collect();
            let mut clauses = told(self.schema, old, new, &diff(self.schema, old, new), &paths);
            for clause in &mut clauses {
                (clause.text, clause.brief) = (scrub.text(&clause.text), scrub.text(&clause.brief));
            }
            match clauses.is_empty() {
                true if anew => (message.subject, message.body) = (NOT_ALONG.to_owned(), Vec::new()),
                true => {}
                false => say(&mut message, was.get("Back-to"), &clauses),
            }
        } else if anew {
            let subject = match kind {
                Some(Kind::Run) => message.subject.clone(),
                Some(Kind::Mend) => scrub.text("the record was put right"),
                Some(Kind::Oops) => scrub.text("a record was taken back"),
                _ => scrub.text("recorded"),
            };
            (message.subject, message.body) = (subject, Vec::new());
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
        }
        for (key, value) in &was.trailers {
            let stays = match key.as_str() {
                "Kind" | "Version" | "Replaces" => false,
                k if OF_FIELDS.contains(&k) => self.goes(value),
                "Why" => !self.out.notes,
                "Mended" => !anew,
                // In a message by hand they may be anything.
                "Back-to" | "Since" | "Time" | "Given" | "Run" | "On" | "Trial" => was.kind().is_some() || !anew,
                _ => false,
            };
            let said = match key.as_str() {
                "Typed" => self.typed(value),
                // The name of a trial is what its file is found by.
                "Trial" => value.clone(),
                "Run" => self.run_ids.of(value),
                _ => scrub.text(value),
            };
            if stays {
                message.push(key, &said);
            }
        }
        message
    }

    /// Whether what a trailer says of a field goes along: it begins with the path of one. Where it is none that is known,
    /// it could be one that was left out.
    fn goes(&self, trailer: &str) -> bool {
        let nothing = self.out.fields.is_empty() && !self.out.notes;
        self.schema.locate(first_word(trailer)).map_or(nothing, |(field, _)| !self.leaves(field))
    }

    /// What was typed, its text as it stands on the sheet now.
    fn typed(&self, trailer: &str) -> String {
        let fixed = what_typed(self.schema, trailer) != Is::Words;
        match trailer.find(['"', '\'']).filter(|_| !fixed) {
            Some(at) => format!("{}{}", &trailer[..at], self.out.scrub.text(&trailer[at..])),
            None if fixed => trailer.to_owned(),
            None => self.out.scrub.text(trailer),
        }
    }
}

fn first_word(text: &str) -> &str {
    text.split(' ').next().unwrap_or_default()
}
