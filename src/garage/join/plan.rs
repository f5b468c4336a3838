//! What joining would do, said before it is done; and doing it, in one move of the branch.

use super::super::book::{Book, History, linked};
use super::super::car::Car;
use super::super::mend::Moved;
use super::super::message::Message;
use super::super::own_book::is_damaged;
use super::super::place::Garage;
use super::super::receive::{refuse_form, refuse_wrong};
use super::super::record::{Written, finish};
use super::super::sound;
use super::super::who::{Hand, stamp};
use super::super::{Error, Result};
use super::car::{merge_car, merge_trials};
use super::choice::{Choice, Decide, Decided, Question};
use super::days;
use super::graph::{Apart, Stand, stand};
use super::line::{Line, build, settle_numbers, start};
use super::records::{Item, merge};
use super::rewritten::{self, refuse_twice};
use super::side::{Side, car_text};
use super::told::{counts, joined_message, moved, new_number, twice};
use crate::store::{Batch, Commit, CopyHow, Id, Incoming, Limits, Options, Record, Store};
use crate::timeline::{Steps, VersionNumber};
use std::collections::BTreeMap;
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

/// What one side brings that the other has not.
#[derive(Debug, Clone, Default, PartialEq, Eq, serde::Serialize)]
pub struct Counts {
    /// Records.
    pub records: usize,
    /// Changes and measurements.
    pub changes: usize,
    /// Runs.
    pub runs: usize,
    /// Whose hands wrote them.
    pub by: Vec<String>,
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
    /// What was asked and answered.
    pub decided: Vec<Decided>,
    /// Versions whose sheet holds what came from the other side too.
    pub carried: Vec<VersionNumber>,
    /// Runs that stand on another version than they did where they were written down.
    pub moved: Vec<Moved>,
    /// Runs of both sides that look like one slip typed twice, in words.
    pub twice: Vec<String>,
    /// The book as it will be; `None` where it stays as it is or is brought up to the other.
    pub after: Option<History>,
    head: Id,
    incoming: Incoming,
    write: Option<Write>,
}

/// What is written.
struct Write {
    start: Option<Id>,
    side: Vec<Record>,
    /// The parents, where one side's line goes on as it is.
    as_on: Option<[Id; 2]>,
    tips: [Id; 2],
    record: Record,
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
    // A book may stand outside the garage, and that need not be there.
    let beside = book.store.dir().parent().filter(|_| !garage.dir().is_dir()).unwrap_or(garage.dir());
    let incoming = Store::take_in(wanted.source, beside, wanted.limits, &sound::book_path, wanted.tell)?;
    let tip = incoming.tip;
    let sound = sound::look(incoming.store(), tip, &incoming.contents, &[], wanted.tell)?;
    refuse_form(wanted.source, &sound)?;
    refuse_wrong(wanted.source, wanted.as_it_is, &sound, None)?;
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
        decided: Vec::new(),
        carried: Vec::new(),
        moved: Vec::new(),
        twice: Vec::new(),
        after: None,
        head,
        incoming,
        write: None,
    };
    let apart = match stands {
        Stand::Same => return Ok(plan),
        Stand::Had(records) => {
            plan.how = How::Had;
            plan.here.records = records;
            return Ok(plan);
        }
        Stand::Ahead(records) => {
            plan.how = How::Ahead;
            plan.there.records = records;
            let schema = book.schema.clone();
            let other = Side::read(plan.incoming.store().again()?, tip, &book.car, schema, Vec::new())?;
            let clock = plan.incoming.clock().clone();
            plan.moved = moved(&[&clock.paused(|| book.history())?], &other.live.before);
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

fn joined(book: &Book, wanted: &JoinWanted, mut plan: JoinPlan, apart: Apart) -> Result<JoinPlan> {
    plan.how = How::Joined;
    let plan = join(book, wanted, plan, apart)?;
    plan.incoming.clock().check()?;
    Ok(plan)
}

/// Both sides in their settled order: the one with more records first, so that it is the same on both laptops.
fn join(book: &Book, wanted: &JoinWanted, mut plan: JoinPlan, apart: Apart) -> Result<JoinPlan> {
    let tip = plan.incoming.tip;
    let Apart { bases, own } = apart;
    let rank = |n: usize, id: Id| (std::cmp::Reverse(n), id);
    let here = usize::from(rank(own[1].len(), tip) < rank(own[0].len(), plan.head));
    let [ours, theirs] = own;
    let (tips, own) = if here == 0 { ([plan.head, tip], [ours, theirs]) } else { ([tip, plan.head], [theirs, ours]) };
    // What somebody is asked, and what one's own book takes, does not count.
    let clock = plan.incoming.clock().clone();
    let decide = |question: &Question| clock.paused(|| (wanted.decide)(question));
    let mut choice = Choice::new(here, &decide);
    let stores = if here == 0 { [&book.store, plan.incoming.store()] } else { [plan.incoming.store(), &book.store] };
    let texts = [car_text(stores[0], tips[0])?, car_text(stores[1], tips[1])?];
    let cars = [Car::read("car.toml", &texts[0])?, Car::read("car.toml", &texts[1])?];
    if cars[0].chassis() != cars[1].chassis() {
        return Err(Error::usage(
            format!(
                "{} has {}, {} has {}: one car has one chassis; nothing was changed",
                cars[here].name,
                cars[here].chassis().join(" and "),
                wanted.called,
                cars[1 - here].chassis().join(" and ")
            ),
            "two cars stay two books",
        ));
    }
    let newest = |s: usize| own[s].iter().map(|c| c.written.seconds).max().unwrap_or(0);
    let written = [0, 1].map(|s| {
        let wrote = |c: &&Commit| {
            let id = |of: Id| stores[s].file(of, "car.toml").ok().flatten().map(|(id, _)| id);
            id(c.id) != c.parents.first().and_then(|p| id(*p))
        };
        own[s].iter().find(wrote).map_or_else(|| newest(s), |c| c.written.seconds)
    });
    let old_cars = bases.iter().map(|b| car_text(&book.store, *b)).collect::<Result<Vec<_>>>()?;
    let car = merge_car(&old_cars, [&texts[0], &texts[1]], written, &mut choice)?;
    let of_both = Car::read("car.toml", &car)?;
    let schema = of_both.schema().map_err(|why| Error::data(why, "car.toml"))?;
    let last = last_written(&own, tips);
    let [first, second] = own;
    let side = |s: usize, own| {
        let read = || Side::read(stores[s].again()?, tips[s], &of_both, schema.clone(), own);
        if s == here { clock.paused(read) } else { read() }
    };
    let mut sides = [side(0, first)?, side(1, second)?];
    let before: Vec<Side> = bases
        .iter()
        .map(|b| clock.paused(|| Side::read(book.store.again()?, *b, &of_both, schema.clone(), Vec::new())))
        .collect::<Result<_>>()?;
    let mut items = merge(&sides, &before, &mut choice);
    let (renumbered, given) = settle_numbers(&mut sides, &mut items);
    // What is open is told whole, not one after the other; the sums and the days may ask more.
    let line =
        if choice.open.is_empty() { Some(build(&schema, &sides, &mut items, given, wanted.steps)?) } else { None };
    let places = line.as_ref().map(|l| l.timeline.places()).unwrap_or_default();
    let made = days::merge(&schema.run, &sides, &before, &places, &mut choice)?;
    let trials = merge_trials(&sides, &before, &mut choice)?;
    refuse_open(&choice)?;
    let line = line.ok_or_else(|| Error::data("the two could not be joined", "say it again"))?;

    let counts = [0, 1].map(|s| counts(&sides, &before, &items, s));
    let [a, b] = counts;
    (plan.here, plan.there) = if here == 0 { (a, b) } else { (b, a) };
    plan.renumbered = renumbered.iter().map(|r| new_number(&items, r, here)).collect();
    plan.twice = twice(&sides, &before, &items);
    plan.carried.clone_from(&line.carried);
    plan.decided.clone_from(&choice.decided);
    let days: Vec<_> = made.values().map(|(day, _)| day.clone()).collect();
    let after = linked(line.timeline.clone(), days, None);
    plan.moved = moved(&[&sides[0].live.before, &sides[1].live.before], &after);
    plan.after = Some(after);
    let mut files: BTreeMap<String, String> = made.into_iter().map(|(path, (_, text))| (path, text)).collect();
    files.extend(trials);
    files.insert("car.toml".to_owned(), car);
    files.insert("setup.toml".to_owned(), line.sheet.clone());
    let message = joined_message(&plan, here, tips, &line);
    let side = side_records(&sides, &items, &line)?;
    let as_on = line.as_on.map(|side| [tips[1 - side], tips[side]]);
    let record = joining(book, plan.head, files, last, &message)?;
    plan.write = Some(Write { start: start(&items, line.kept), side, as_on, tips, record });
    Ok(plan)
}

fn refuse_open(choice: &Choice) -> Result<()> {
    if choice.open.is_empty() {
        return Ok(());
    }
    let list: Vec<String> = choice.open.iter().map(Question::to_string).collect();
    let n = list.len();
    let what = if n == 1 { "one thing is".to_owned() } else { format!("{n} things are") };
    Err(Error::Unconfirmed {
        message: format!("{what} otherwise there than here, and no order says which holds:\n{}", list.join("\n")),
        help: "--take here, --take there, or --take newer (what was written down last) for all of them; nothing was \
               changed"
            .to_owned(),
    })
}

/// The record that was written last on either side: its hand and its time are those of the joining.
fn last_written(own: &[Vec<Commit>; 2], tips: [Id; 2]) -> Option<Commit> {
    let newest = own.iter().flatten().filter(|c| tips.contains(&c.id));
    newest.max_by_key(|c| (c.written.seconds, c.id)).cloned()
}

/// The records of the joined line, from the first that is another on either side.
fn side_records(sides: &[Side; 2], items: &[Item], line: &Line) -> Result<Vec<Record>> {
    let mut out = Vec::new();
    for (i, (item, text)) in items[line.kept..].iter().zip(&line.texts).enumerate() {
        let mut files = vec![("setup.toml".to_owned(), Some(text.clone().into_bytes()))];
        if let (0, 0, Some(opening)) = (i, line.kept, item.lived.commit) {
            // A line that begins anew holds what the first record of the book held.
            let first = sides[item.of].book.store.file(opening, "car.toml")?;
            files.extend(first.map(|(_, bytes)| ("car.toml".to_owned(), Some(bytes))));
            files.sort();
        }
        out.push(Record {
            files,
            author: item.lived.people.0.clone(),
            authored: stamp(item.lived.entry.at),
            committer: item.lived.people.1.clone(),
            written: stamp(item.lived.entry.written),
            message: item.lived.message.to_text(),
            accept_hand_edit: false,
        });
    }
    Ok(out)
}

/// The record that joins: the files this book has otherwise.
fn joining(
    book: &Book,
    head: Id,
    files: BTreeMap<String, String>,
    last: Option<Commit>,
    message: &Message,
) -> Result<Record> {
    let known: BTreeMap<String, Id> = book.store.files(head)?.into_iter().collect();
    let mut changed: Vec<(String, Option<Vec<u8>>)> = Vec::new();
    for path in known.keys().filter(|p| sound::book_path(p, false).is_ok() && !files.contains_key(*p)) {
        changed.push((path.clone(), None));
    }
    for (path, text) in files {
        if known.get(&path) != Some(&Store::blob_id(text.as_bytes())) {
            changed.push((path, Some(text.into_bytes())));
        }
    }
    let last = last.ok_or_else(|| Error::data("neither book has a record of its own", "say it again"))?;
    Ok(Record {
        files: changed,
        author: last.committer.clone(),
        authored: last.written,
        committer: last.committer,
        written: last.written,
        message: message.to_text(),
        accept_hand_edit: false,
    })
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

    fn put(&self, batch: &mut Batch, write: &Write, tell: &dyn Fn(usize)) -> Result<()> {
        if batch.tip().head != Some(self.head) {
            return Err(Error::data("the book changed meanwhile; nothing was joined", "say it again"));
        }
        batch.refuse_hand_edits()?;
        batch.take_from(self.incoming.store(), self.incoming.tip, tell)?;
        let mut parent = write.start;
        for record in &write.side {
            parent = Some(batch.commit_on(parent, record.clone())?);
        }
        let parents = match (write.as_on, parent) {
            (Some(two), _) => two.to_vec(),
            (None, Some(line)) => vec![write.tips[0], line, write.tips[1]],
            (None, None) => write.tips.to_vec(),
        };
        batch.join(write.record.clone(), &parents)?;
        Ok(())
    }
}

/// Carries it out: afterwards it is the old book or the joined one, whenever it is cut off.
pub fn carry_out_join(
    book: &Book,
    options: &Options,
    hand: &Hand,
    plan: &JoinPlan,
    tell: &dyn Fn(usize),
) -> Result<Written> {
    let how = CopyHow { options, who: hand.person(), when: stamp(hand.now), tell };
    match (plan.how, &plan.write) {
        (How::Joined, Some(write)) => {
            let mut failed = None;
            let done = book.store.record_many(options, &mut |batch| {
                plan.put(batch, write, tell).map_err(|e| {
                    failed = Some(e);
                    "the joining was not built".into()
                })
            });
            match failed {
                Some(Error::Store(e)) => finish(Err(e), None),
                failed => finish(done, failed),
            }
        }
        (How::Ahead, _) => {
            let (made, _) = plan.incoming.make(&how)?;
            let brought = book.store.bring_up_to(&made, &how);
            let brought = match brought {
                Err(e) => return finish(Err(e), None),
                Ok(brought) => brought,
            };
            let kept = brought.kept_by_hand.iter().map(|p| format!("{p} was edited by hand and is kept as it is"));
            let notes = brought.notes.into_iter().chain(kept).collect();
            Ok(Written { id: Some(brought.tip), notes })
        }
        _ => Ok(Written { id: None, notes: Vec::new() }),
    }
}
