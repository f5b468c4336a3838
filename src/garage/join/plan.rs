//! What joining would do, said before it is done.

use super::super::book::Book;
use super::super::car::Car;
use super::super::history::History;
use super::super::mend::Moved;
use super::super::not_ours::{NotOurs, not_ours};
use super::super::own_book::is_damaged;
use super::super::place::Garage;
use super::super::refuse::{refuse_form, refuse_wrong};
use super::super::room::refuse_vast;
use super::super::scratch::aside_of;
use super::super::sound;
use super::super::{Error, Result};
use super::altered::{After, altered};
use super::both::both;
use super::choice::{Decide, Decided};
use super::counts::more;
use super::graph::{Apart, Stand, stand};
use super::rewritten::{self, refuse_twice};
use super::side::{Side, car_text};
use super::told::{moved, renumbered_in};
use super::trials::renamed_in;
use crate::store::{Commit, Id, Incoming, Limits, Record, Store};
use crate::text::counted;
use crate::timeline::{Steps, VersionNumber};
use std::path::Path;

/// What is to be joined, and how.
pub struct JoinWanted<'a> {
    /// The other book: its folder, a bare repository, or a bundle.
    pub source: &'a Path,
    /// How it is called in what is said.
    pub called: &'a str,
    /// Two books that begin otherwise are one car's all the same.
    pub same_car: bool,
    /// What becomes of steps that start from another value.
    pub steps: Steps,
    /// Who decides what is one thing here and another there.
    pub decide: Decide<'a>,
    /// Told what of the other book this program did not write and this book has not, before anything is asked.
    pub met: &'a dyn Fn(&[NotOurs]),
    /// What of the other book's content this program would not have taken is taken as it is.
    pub as_it_is: bool,
    /// Limits of what is read.
    pub limits: Limits,
    /// Called with a count that goes up.
    pub tell: &'a dyn Fn(usize),
}

/// How the two stand to each other.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "snake_case")]
pub enum How {
    /// They are the same.
    Same,
    /// All the other has is here already.
    Had,
    /// The other has all of this one and more: this one is brought up to it.
    Ahead,
    /// Each has records of its own.
    Joined,
}

/// How much of each kind it is.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, serde::Serialize)]
pub struct Tally {
    /// Changes.
    pub changes: usize,
    /// Runs.
    pub runs: usize,
    /// Measurements, and what was described for the first time.
    pub measurements: usize,
    /// Mends.
    pub mends: usize,
    /// Records of parts and of the car itself.
    pub parts: usize,
    /// Trials begun or ended.
    pub trials: usize,
    /// What was said of a day, its air, the layout of a file.
    pub notes: usize,
}

impl Tally {
    /// Both together.
    pub(super) fn and(self, other: Tally) -> Tally {
        Tally {
            changes: self.changes + other.changes,
            runs: self.runs + other.runs,
            measurements: self.measurements + other.measurements,
            mends: self.mends + other.mends,
            parts: self.parts + other.parts,
            trials: self.trials + other.trials,
            notes: self.notes + other.notes,
        }
    }

    /// `1 change, 2 runs`; empty where there is nothing of it.
    pub fn words(&self) -> String {
        let all = [
            (self.changes, "change"),
            (self.runs, "run"),
            (self.measurements, "measurement"),
            (self.mends, "mend"),
            (self.parts, "part record"),
            (self.trials, "trial record"),
            (self.notes, "note"),
        ];
        all.into_iter().filter(|(n, _)| *n > 0).map(|(n, one)| counted(n, one)).collect::<Vec<_>>().join(", ")
    }
}

/// What one hand wrote of it.
#[derive(Debug, Clone, Default, PartialEq, Eq, serde::Serialize)]
pub struct Share {
    /// Whose hand.
    pub by: String,
    /// What it wrote.
    #[serde(flatten)]
    pub tally: Tally,
}

/// What one side brings that the other has not.
#[derive(Debug, Clone, Default, PartialEq, Eq, serde::Serialize)]
pub struct Counts {
    /// Records.
    pub records: usize,
    /// What they are.
    #[serde(flatten)]
    pub tally: Tally,
    /// Whose hands wrote them.
    pub by: Vec<String>,
    /// What each of them wrote.
    pub people: Vec<Share>,
}

impl Counts {
    /// The people who wrote something of what is counted.
    pub fn brought(&self) -> Vec<&Share> {
        self.people.iter().filter(|p| p.tally != Tally::default()).collect()
    }
}

/// A version that has another number now.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NewNumber {
    /// It was written here.
    pub here: bool,
    /// By whom.
    pub by: String,
    /// Its number there.
    pub was: VersionNumber,
    /// Its number now.
    pub now: VersionNumber,
}

/// A trial that is called otherwise now: another one had its name.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub struct NewName {
    /// It was called so here.
    pub here: bool,
    /// Who began it.
    pub by: String,
    /// Its name there.
    pub was: String,
    /// Its name now.
    pub now: String,
}

/// A joining, ready to be carried out.
pub struct JoinPlan {
    /// How the two stand to each other.
    pub how: How,
    /// What only this book has.
    pub here: Counts,
    /// What only the other has.
    pub there: Counts,
    /// Versions that have another number now.
    pub renumbered: Vec<NewNumber>,
    /// Trials that have another name now.
    pub renamed: Vec<NewName>,
    /// What was asked and answered.
    pub decided: Vec<Decided>,
    /// What was on record here and is otherwise now, in sentences.
    pub altered: Vec<String>,
    /// Versions whose sheet holds what came from the other side too.
    pub carried: Vec<VersionNumber>,
    /// Runs that stand on another version than they did where they were written down.
    pub moved: Vec<Moved>,
    /// Runs of both sides that look like one slip typed twice, in words.
    pub twice: Vec<String>,
    /// Records that only the other has and this program did not write, and what they altered.
    pub not_ours: Vec<NotOurs>,
    /// The book as it will be; `None` where it stays as it is or is brought up to the other.
    pub after: Option<History>,
    pub(super) head: Id,
    pub(super) incoming: Incoming,
    pub(super) write: Option<Write>,
}

/// What is written.
pub(super) struct Write {
    /// What the joined line goes on from; none where it begins anew.
    pub(super) start: Option<Id>,
    /// The records of that line.
    pub(super) side: Vec<Record>,
    /// The parents, where one side's line goes on as it is.
    pub(super) as_on: Option<[Id; 2]>,
    /// The newest record of either book.
    pub(super) tips: [Id; 2],
    /// The record that joins.
    pub(super) record: Record,
}

impl JoinPlan {
    /// Whether it would alter this book.
    pub fn alters(&self) -> bool {
        matches!(self.how, How::Ahead | How::Joined)
    }

    /// Whether this book has, afterwards, what the other has not.
    pub fn has_more(&self) -> bool {
        matches!(self.how, How::Had | How::Joined)
    }
}

pub(super) fn own_head(book: &Book) -> Result<Id> {
    book.store.head()?.ok_or_else(|| Error::data("the book has no sheet yet", "slipbook new"))
}

/// Works out what joining would do. Nothing is written but the place aside where the other book is read into.
pub fn plan_join(garage: &Garage, book: &Book, wanted: &JoinWanted) -> Result<JoinPlan> {
    let plan = planned(garage, book, wanted)?;
    // All is known of the other book.
    plan.incoming.clock().end();
    Ok(plan)
}

fn planned(garage: &Garage, book: &Book, wanted: &JoinWanted) -> Result<JoinPlan> {
    let head = own_head(book)?;
    let aside = aside_of(garage, book);
    let incoming = Store::take_in(wanted.source, aside, wanted.limits, &sound::book_path, wanted.tell)?;
    let tip = incoming.tip;
    let sound = sound::look(incoming.store(), tip, &incoming.contents, &[], wanted.tell)?;
    refuse_form(wanted.source, &sound)?;
    refuse_wrong(wanted.source, wanted.as_it_is, &sound, None)?;
    refuse_vast(wanted.source, incoming.store(), tip)?;
    let damaged = incoming.clock().paused(|| is_damaged(&book.store, wanted.tell))?;
    if damaged {
        let copy = if wanted.called == wanted.source.display().to_string() { wanted.called } else { "COPY" };
        return Err(Error::data(
            format!("the book of {} here is damaged; nothing was joined", book.car.name),
            format!("slipbook receive {copy} mends it, then join; slipbook verify names what is lost"),
        ));
    }
    let stands = stand([&book.store, incoming.store()], [head, tip], incoming.clock())?;
    let mut plan = JoinPlan {
        how: How::Same,
        here: Counts::default(),
        there: Counts::default(),
        renumbered: Vec::new(),
        renamed: Vec::new(),
        decided: Vec::new(),
        altered: Vec::new(),
        carried: Vec::new(),
        moved: Vec::new(),
        twice: Vec::new(),
        not_ours: Vec::new(),
        after: None,
        head,
        incoming,
        write: None,
    };
    plan.not_ours = new_not_ours(book, &plan.incoming);
    (wanted.met)(&plan.not_ours);
    let apart = match stands {
        Stand::Same => return Ok(plan),
        Stand::Had(records) => {
            plan.how = How::Had;
            plan.here.records = records;
            return Ok(plan);
        }
        Stand::Ahead(own) => {
            plan.how = How::Ahead;
            ahead(book, &mut plan, tip, own)?;
            return Ok(plan);
        }
        Stand::Apart(apart) => apart,
        Stand::Strangers(apart) => {
            let theirs = Car::read("car.toml", &car_text(plan.incoming.store(), tip)?)?;
            let schema = theirs.schema().map_err(|why| Error::data(why, "car.toml"))?;
            let other = Side::read(plan.incoming.store().again()?, tip, &theirs, schema, Vec::new())?;
            let clock = plan.incoming.clock().clone();
            let own = clock.paused(|| book.history())?;
            refuse_twice(&rewritten::twice(&own, &other.live.before), wanted.called, &book.car.name)?;
            if wanted.same_car {
                return joined(book, wanted, plan, apart);
            }
            return Err(Error::data(
                format!(
                    "{} is not this car's book: it is of {}, and begins with another record; nothing was changed",
                    wanted.called, theirs.name
                ),
                "--same-car if two books were begun for one car",
            ));
        }
    };
    joined(book, wanted, plan, apart)
}

/// What being brought up to the other alters here.
fn ahead(book: &Book, plan: &mut JoinPlan, tip: Id, own: Vec<Commit>) -> Result<()> {
    let clock = plan.incoming.clock().clone();
    let texts = [car_text(&book.store, plan.head)?, car_text(plan.incoming.store(), tip)?];
    let car = Car::read("car.toml", &texts[1])?;
    let schema = car.schema().map_err(|why| Error::data(why, "car.toml"))?;
    let other = Side::read(plan.incoming.store().again()?, tip, &car, schema.clone(), own)?;
    let here = clock.paused(|| Side::read(book.store.again()?, plan.head, &car, schema, Vec::new()))?;
    plan.there = more(&here, &other);
    plan.renumbered = renumbered_in(&here.live.before, &other.live.before);
    plan.renamed = renamed_in(&here.trials, &other.trials);
    plan.moved = moved(&[&here.live.before], &other.live.before);
    plan.altered = altered(&here, &texts[0], &After::of(&here, &other, &texts[1]));
    Ok(())
}

/// What was not written by this program in the records that this book has not.
fn new_not_ours(book: &Book, incoming: &Incoming) -> Vec<NotOurs> {
    let new: Vec<Id> =
        incoming.contents.commits.iter().filter(|id| book.store.commit(**id).is_err()).copied().collect();
    let theirs = car_text(incoming.store(), incoming.tip).and_then(|text| Car::read("car.toml", &text));
    let schema = theirs.ok().and_then(|car| car.schema().ok()).unwrap_or_else(|| book.schema.clone());
    not_ours(incoming.store(), &new, &schema)
}

fn joined(book: &Book, wanted: &JoinWanted, mut plan: JoinPlan, apart: Apart) -> Result<JoinPlan> {
    plan.how = How::Joined;
    let plan = both(book, wanted, plan, apart)?;
    plan.incoming.clock().check()?;
    Ok(plan)
}
