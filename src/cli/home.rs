//! No command: where one stands, and what is likely to be typed next.

use super::context::Context;
use super::ui::Ui;
use crate::garage::{
    Book, CarName, Error, Home, LastCopy, Result, Since, car_names, folder_in, home, stale_now, trials,
};
use crate::render::{self, change::short, home::HomeTold, home::Next};
use crate::text::shell_word;
use crate::trial::Trial;
use std::path::Path;

/// A copy older than this many days is old.
const COPY_OLD_DAYS: i32 = 30;

/// How many commands are named.
const NEXT: usize = 3;

/// Shows the first screen.
pub fn run(ctx: &Context, ui: &mut Ui) -> Result<()> {
    let cars = car_names(&ctx.garage)?;
    let current = ctx.garage.settings()?.current;
    let garage = ctx.garage.dir().display().to_string();
    let mut told = HomeTold { garage, cars: &cars, current, ..HomeTold::default() };
    let dir = match ctx.car_dir() {
        Ok(dir) => dir,
        // Nobody asked for a car: that there is none, or which one it is, is what the screen is there to say.
        Err(Error::Usage { .. }) if ctx.car.is_none() => {
            told.next = without_car(&cars, &again(ctx, None));
            show(ctx, ui, "slipbook", &told);
            return Ok(());
        }
        Err(e) => return Err(e),
    };
    told.here = folder_in(&ctx.garage, &dir);
    let looked = ctx.open(&dir).and_then(|book| Ok((home(&ctx.garage, &book)?, book)));
    match looked {
        Ok((home, book)) => {
            told.copy_days = home.copy.as_ref().map(|c| days_since(ctx, c));
            told.open = open_trials(&book)?;
            told.stale = stale_labels(&book)?;
            let race_day = home.last_run.is_some_and(|at| at.race_day() == ctx.hand.now.race_day());
            told.next = next(&home, &told, race_day, &again(ctx, Some(&told)));
            if told.here.is_none() {
                let from = if ctx.stands_in(&dir) { ".".to_owned() } else { dir.display().to_string() };
                let take = format!("slipbook receive {}{}", shell_word(&from), again(ctx, None));
                told.next.insert(0, say(take, "takes this book into the garage"));
                told.next.truncate(NEXT);
            }
            told.home = Some(&home);
            show(ctx, ui, &book.car.name, &told);
            Ok(())
        }
        Err(e) => {
            // All the more one wants to know where the copy is.
            let copy = told.here.as_ref().and_then(|f| ctx.garage.settings().ok()?.copy.remove(f));
            told.copy_days = copy.as_ref().map(|c| days_since(ctx, c));
            told.copy_of_broken = copy;
            told.broken = true;
            told.next = of_broken(&told, &dir, &again(ctx, None));
            let named = told.here.as_ref().and_then(|f| cars.iter().find(|c| c.folder == *f));
            let folder = dir.file_name().unwrap_or_default().to_string_lossy().into_owned();
            show(ctx, ui, named.map_or(&folder, |c| &c.name), &told);
            Err(e)
        }
    }
}

/// The trials that are open. A trial's file that is not right says nothing here: `slipbook trial` does.
fn open_trials(book: &Book) -> Result<Vec<Trial>> {
    let mut all = trials(&book.store, book.store.head()?).unwrap_or_default();
    all.retain(Trial::is_open);
    Ok(all)
}

/// What was measured before something moved it, as the sheet calls it.
fn stale_labels(book: &Book) -> Result<Vec<String>> {
    let stale = stale_now(book, &book.history()?)?;
    let labels = stale.iter().filter_map(|s| book.schema.field(&s.key)).map(|f| short(&f.label).to_owned());
    Ok(labels.collect())
}

fn show(ctx: &Context, ui: &mut Ui, name: &str, told: &HomeTold) {
    let head = ctx.head(name);
    ctx.answer(ui, || render::home::json(&head, told), || render::home::text(&head, told));
}

/// Days by the calendar; a copy from a clock that ran ahead is of today.
fn days_since(ctx: &Context, copy: &LastCopy) -> i32 {
    let (then, now) = (copy.at.civil().date(), ctx.hand.now.civil().date());
    now.since(then).map_or(0, |span| span.get_days().max(0))
}

/// What has to be typed again with each command, so that it is about the same book.
fn again(ctx: &Context, told: Option<&HomeTold>) -> String {
    let mut out = String::new();
    if let Some(dir) = &ctx.garage_named {
        out.push_str(&format!(" --garage {}", shell_word(&dir.display().to_string())));
    }
    if let Some(here) = told.filter(|t| ctx.car.is_some() && t.here != t.current).and_then(|t| t.here.as_ref()) {
        out.push_str(&format!(" --car {}", shell_word(here)));
    }
    out
}

fn say(command: impl Into<String>, what: &'static str) -> Next {
    Next { command: command.into(), what }
}

fn without_car(cars: &[CarName], again: &str) -> Vec<Next> {
    match cars.first() {
        None => vec![
            say(format!("slipbook new NAME{again}"), "opens a book for a car"),
            say("slipbook tour", "builds a sample garage to look at"),
            say("slipbook --help", "lists the commands"),
        ],
        Some(first) => vec![
            say(format!("slipbook cars {}{again}", shell_word(&first.folder)), "makes it the current car"),
            say(format!("slipbook --car {}{again}", shell_word(&first.folder)), "looks at it once"),
            say(format!("slipbook cars{again}"), "says what is on each of them"),
        ],
    }
}

/// The likeliest commands: what would be lost first, then what the day is for; an old copy has the last place.
fn next(home: &Home, told: &HomeTold, race_day: bool, again: &str) -> Vec<Next> {
    let say = |command: &str, what| say(format!("slipbook {command}{again}"), what);
    let mut out = Vec::new();
    let (deleted, edited): (Vec<_>, Vec<_>) = home.unsaved.iter().partition(|(_, what)| *what == "deleted");
    if !deleted.is_empty() {
        out.push(say("sheet --put-back", "puts back what was deleted by hand"));
    }
    if !edited.is_empty() {
        out.push(say("sheet --save", "saves what was edited by hand"));
    }
    let copy = copy_due(home, told).then(|| {
        let to = home.copy.as_ref().map_or("DEST".to_owned(), |c| shell_word(&c.to));
        say(&format!("copy {to}"), "puts the book on another drive")
    });
    let measure = (!told.stale.is_empty()).then(|| say("measure", "lists what to measure anew"));
    let run = say("run SLIP", "records a run from its slip");
    let change = say("change WORDS", "records what was turned");
    let day = match home.last_run {
        Some(_) if race_day => vec![Some(run), Some(change), measure],
        Some(_) => vec![
            measure,
            Some(say("history", "shows the changes, how they ran")),
            Some(say("blame 60ft", "shows which change preceded a gain")),
            Some(run),
        ],
        None => vec![Some(run), Some(change), Some(say("sheet --edit", "fills the sheet in"))],
    };
    let room = NEXT - usize::from(copy.is_some());
    out.extend(day.into_iter().flatten());
    out.truncate(room);
    out.extend(copy);
    out
}

/// There is something to copy, and it was not done for a month.
fn copy_due(home: &Home, told: &HomeTold) -> bool {
    home.since != Since::Records(0) && told.copy_days.is_none_or(|days| days >= COPY_OLD_DAYS)
}

fn of_broken(told: &HomeTold, dir: &Path, again: &str) -> Vec<Next> {
    let mut out = vec![
        say(format!("git -C {} fsck --full", shell_word(&dir.display().to_string())), "says what is damaged"),
        say(format!("slipbook cars{again}"), "says which books open"),
    ];
    if let Some(copy) = &told.copy_of_broken {
        out.push(say(format!("git clone {}", shell_word(&copy.to)), "takes the last copy out"));
    }
    out
}
