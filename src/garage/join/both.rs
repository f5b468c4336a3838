//! Two books that went on apart, brought into one: what each wrote, in one line, with the days, parts and trials of both.

use super::super::book::Book;
use super::super::car::Car;
use super::super::history::linked;
use super::super::message::Message;
use super::super::sound;
use super::super::who::stamp;
use super::super::{Error, Result};
use super::altered::{After, altered};
use super::car::{Step, merge_car, value_at};
use super::choice::{Choice, Question};
use super::counts::counts;
use super::days;
use super::graph::Apart;
use super::line::{Line, build, settle_numbers, start};
use super::plan::{JoinPlan, JoinWanted, Write};
use super::records::{Item, identity, merge};
use super::side::{Side, car_text};
use super::told::{joined_message, moved, new_number, twice};
use super::trials::merge_trials;
use super::wrote::{Log, Read};
use crate::schema::Edit;
use crate::store::{Commit, Id, Record, Store};
use std::collections::BTreeMap;

/// Both sides in their settled order: the one with more records first, so that it is the same on both laptops.
pub(super) fn both(book: &Book, wanted: &JoinWanted, mut plan: JoinPlan, apart: Apart) -> Result<JoinPlan> {
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
    let read = [Read::default(), Read::default()];
    let written = |way: &[Step]| {
        [0, 1].map(|s| {
            let of = |bytes: &[u8]| std::str::from_utf8(bytes).ok().and_then(|text| value_at(text, way));
            Log::new(stores[s], tips[s], &read[s]).file("car.toml", &of)
        })
    };
    let old_cars = bases.iter().map(|b| car_text(&book.store, *b)).collect::<Result<Vec<_>>>()?;
    let car = merge_car(&old_cars, [&texts[0], &texts[1]], &written, &mut choice)?;
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
    let typed = typed_now(&sides, &items, here);
    let (renumbered, given) = settle_numbers(&mut sides, &mut items);
    // What is open is told whole, not one after the other; the sums and the days may ask more.
    let line =
        if choice.open.is_empty() { Some(build(&schema, &sides, &mut items, given, wanted.steps)?) } else { None };
    let places = line.as_ref().map(|l| l.timeline.places()).unwrap_or_default();
    let made = days::merge(&schema.run, &sides, &before, &places, &mut choice)?;
    let (trials, renamed) = merge_trials(&sides, &before, &mut choice)?;
    refuse_open(&choice)?;
    let line = line.ok_or_else(|| Error::data("the two could not be joined", "say it again"))?;

    let counts = [0, 1].map(|s| counts(&sides, &before, &items, s));
    let [a, b] = counts;
    (plan.here, plan.there) = if here == 0 { (a, b) } else { (b, a) };
    plan.renumbered = renumbered.iter().map(|r| new_number(&items, r, here)).collect();
    plan.renamed = renamed.iter().map(|r| r.told(here)).collect();
    plan.twice = twice(&sides, &before, &items);
    let after = After {
        records: items.iter().zip(typed).map(|(i, t)| (identity(&i.lived).to_owned(), (&i.lived, t))).collect(),
        days: made.values().map(|(day, _)| day).collect(),
        car: &car,
        trials: &trials,
    };
    plan.altered = altered(&sides[here], &texts[here], &after);
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

/// What was typed in each record, where it may be another than here.
fn typed_now(sides: &[Side; 2], items: &[Item], here: usize) -> Vec<Option<Vec<Edit>>> {
    let other = |item: &Item| {
        let was = item.from[here].map(|i| &sides[here].entries()[i].entry.id);
        was.is_some_and(|id| *id != item.lived.entry.id || item.lived.edits.is_some())
    };
    items.iter().map(|i| other(i).then(|| i.lived.edits(&sides[i.of].book))).collect()
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
