//! `handover`: one file of the whole history for whoever has the car next, and a page to print.

mod asked;
mod page;
mod words;

use super::context::Context;
use super::footing::version_meant;
use super::history::named_field;
use super::progress::Progress;
use super::ui::Ui;
use crate::garage::{
    Book, Error, Harm, History, LeaveOut, Making, Outgoing, Result, Rewritten, Wrong, areas, aside_of, digits_of,
    hand_edits, hand_over, handover_to, is_private, openable, outgoing, rewritten, scratch, sweep,
};
use crate::render::{self, handover::Again, handover::HandoverTold, handover::OutgoingTold};
use crate::slip::read_day;
use crate::store::Scratch;
use crate::timeline::VersionNumber;
use asked::{asked, refuse_unread, refuse_unsaved};
use clap::Args;
use std::path::PathBuf;
use words::{kept, said};

/// Write the car's whole history into one file, with a page to print
///
/// The file holds this car's book and nothing of another: every record, as
/// `slipbook receive` or `git clone FILE` takes it in. The page has the file's
/// name with .txt for .bundle (full.bundle -> full.txt) or behind it. It tells what
/// the car did, the setup to start from, what is proven and what is not, and the
/// handover id: a SHA-256 over all that is in the file, in full and as six words
/// with a check word. Who gets the file compares it with what you say. The words
/// guard against a slip; against a forger only the full id is proof: who makes
/// two books on purpose finds a pair with the same words in some 9e9 tries.
///
/// What would go to a stranger beside the record is listed first: names, phone
/// numbers, notes, fields marked private (`private = true` in a field of your
/// own, `private = ["engine"]` in car.toml), and other free words (class, tracks,
/// texts of sheets, names of parts and trials), which stay: read them. The
/// history holds also what was taken back later. With --without it is what still
/// goes. Without --to, or with --list, it is listed, each note with its day, and
/// nothing is written. Where nobody can be asked, names, numbers and notes go
/// only with --yes; so does a book with edits that are not saved.
///
///   slipbook handover plover --list
///   slipbook handover plover --to /media/stick/plover.bundle
///   slipbook handover plover --to plover.bundle --without names,phones
///   slipbook handover plover --to plover.bundle --without engine --since v12
///
/// With --since or --without a rewritten copy goes out: the records as they hold
/// now, without what you leave out, without comments and without the log as it was
/// first written. Its ids differ from the book's own. A name can only be taken out
/// where it is on record as a hand's or an owner's, today's or a past one: in
/// full, or a word of it of two letters or more (of one, if it is none of a to z),
/// whatever the case and the accents, with an s or 's too. Of a name written
/// without blanks no part is known. One that is a plain word as well (will, may,
/// stone) goes only where it begins with a capital: which stay is listed.
/// Nicknames, other spellings, single letters and people who never wrote stay:
/// read the notes, or leave them out. A phone number that is known goes however
/// its digits are parted. Mail addresses go with the names, the reasons of the
/// car's own rules with the notes. The names of parts, trials and tracks stay, and
/// those of fields and rules of the car's own; days and trials have files called
/// after these. The runs keep what was read on them. What a field or a rule of the
/// car's own says of a field that is left out goes with that one. What was left
/// out is looked for in the copy once more: if it is still there, nothing is
/// written. The page is judged by the whole book. A handover is no record: the
/// book stays as it is.
#[derive(Debug, Args)]
#[command(verbatim_doc_comment)]
#[allow(rustdoc::broken_intra_doc_links, reason = "the comment is the help, brackets and all")]
pub struct HandoverArgs {
    /// The car, if not the one at hand
    #[arg(value_name = "CAR")]
    which: Option<String>,
    /// The file
    #[arg(long, value_name = "FILE")]
    to: Option<PathBuf>,
    /// List what would go out beside the record, and write nothing
    #[arg(long)]
    list: bool,
    /// Only from this version, or from the one on the car that day
    #[arg(long, value_name = "VERSION|DATE")]
    since: Option<String>,
    /// What stays here: names, phones, notes, private, files (by hand, no part of a book), or areas or fields of the sheet (engine, "rear shocks", limiter)
    #[arg(long, value_name = "WHAT", value_delimiter = ',')]
    without: Vec<String>,
    /// The same as --without notes
    #[arg(long)]
    without_notes: bool,
    /// The same as --without names
    #[arg(long)]
    without_names: bool,
    /// Do not ask what may go: all that is listed goes, read or not, without edits that are not saved
    #[arg(long, short = 'y', global = true)]
    yes: bool,
}

/// Runs the command.
pub fn run(ctx: &Context, ui: &mut Ui, args: &HandoverArgs) -> Result<()> {
    let book = match &args.which {
        Some(car) => ctx.open(&ctx.garage.car_dir(&ctx.find_car(car)?))?,
        None => ctx.book()?,
    };
    // Of a book that stands alone, what a killed one left is beside it.
    sweep(aside_of(&ctx.garage, &book));
    let mut wanted = named(&args.without)?;
    wanted.extend(args.without_notes.then(|| "notes".to_owned()));
    wanted.extend(args.without_names.then(|| "names".to_owned()));
    let listed = args.list || args.to.is_none();
    let to = match &args.to {
        Some(to) if !listed => Some(handover_to(&ctx.garage, &book, to)?),
        _ => None,
    };
    let history = book.history()?;
    let unsaved: Vec<String> = hand_edits(&book)?.files.into_iter().map(|(path, _)| path).collect();
    // A mark that is not saved is none yet.
    if to.is_some() && !args.yes && wanted.iter().any(|w| w.eq_ignore_ascii_case("private")) {
        refuse_unsaved(&unsaved)?;
    }
    let progress = Progress::new(ui);
    let found = outgoing(&book, &history, &|n| progress.at(n))?;
    progress.done();
    let (head, car) = (ctx.head(&book.car.name), folder_of(&book));
    let prepared = loop {
        let prepared = prepare(ctx, ui, &book, &history, &found, args.since.as_deref(), &wanted)?;
        let Some(_) = &to else {
            let told = prepared.outgoing(&unsaved, &car);
            let again = Again { car: &car, since: args.since.as_deref(), without: &wanted };
            let text = || render::handover::list_text(&head, &told, &again);
            ctx.answer(ui, || render::handover::list_json(&head, &told), text);
            return Ok(());
        };
        // What goes out is listed before it is written, and so is what still does once something is left out.
        ui.status(&render::handover::outgoing_text(&head, &prepared.outgoing(&unsaved, &car)));
        if args.yes {
            break prepared;
        }
        refuse_unsaved(&unsaved)?;
        if !ui.asks() {
            refuse_unread(&prepared.still)?;
            break prepared;
        }
        let understood = |more: &[String]| leave_out(ctx, &book, &history, &found, None, more).map(drop);
        match asked(ui, &understood)? {
            more if more.is_empty() => break prepared,
            more => wanted.extend(more),
        }
    };
    let Some(to) = to else { return Ok(()) };
    let Prepared { out, copy, left_out, kept, kept_told, still, scratch: _scratch } = prepared;
    let gone = copy.as_ref().map_or(&book, |c| &c.book);
    let progress = Progress::new(ui);
    refuse_unsound(&found, &out, &gone.sound(&|n| progress.at(n))?)?;
    let copied = copy.as_ref().map(|copy| copy.book.history()).transpose()?;
    let told = copied.as_ref().unwrap_or(&history);
    let head_of = told.head.ok_or_else(|| Error::data("the book has no record yet", "slipbook new"))?;
    openable(gone, head_of).map_err(|why| not_taken(&why.to_string(), "slipbook verify names each"))?;
    let contents = gone.store.contents(head_of, &|n| progress.at(n))?;
    progress.done();
    let of = page::Of { book: &book, history: &history, gone, told, out: &out, left_out, kept };
    let page = page::page(ctx, ui, of, contents.id, &to)?;
    let text = render::handover_page::text(&head, &page);
    let progress = Progress::new(ui);
    let passed = contents.objects;
    let tell = |n| progress.at(passed + n);
    let handed = hand_over(gone, &ctx.options(), &ctx.hand, &to, contents, &text, &tell)?;
    progress.done();
    let (out, kept) = (&still, &kept_told);
    let answer = HandoverTold { car: &car, to: &to, handed: &handed, page: &page, out, kept, unsaved: &unsaved };
    ctx.answer(ui, || render::handover::json(&head, &answer), || render::handover::text(&head, &answer));
    Ok(())
}

/// The folder of a car, which names it whatever the current one is.
fn folder_of(book: &Book) -> String {
    book.store.dir().file_name().unwrap_or_default().to_string_lossy().into_owned()
}

/// What is ready to be written.
struct Prepared {
    out: LeaveOut,
    /// The rewritten copy, where something is left out; its folder goes away with the last.
    copy: Option<Rewritten>,
    /// What is left out, in words.
    left_out: Vec<String>,
    /// What stays in the copy all the same, in words that a stranger may read.
    kept: Vec<String>,
    /// The same for whoever hands it over.
    kept_told: Vec<String>,
    /// What goes to a stranger beside the record.
    still: Outgoing,
    scratch: Option<Scratch>,
}

impl Prepared {
    fn outgoing<'a>(&'a self, unsaved: &'a [String], car: &'a str) -> OutgoingTold<'a> {
        OutgoingTold { out: &self.still, left_out: &self.left_out, kept: &self.kept_told, unsaved, car }
    }
}

/// Leaves out what is wanted: the copy is made, and what goes to a stranger is read from what goes.
fn prepare(
    ctx: &Context,
    ui: &Ui,
    book: &Book,
    history: &History,
    found: &Outgoing,
    since: Option<&str>,
    wanted: &[String],
) -> Result<Prepared> {
    let out = leave_out(ctx, book, history, found, since, wanted)?;
    let mut left_out = said(book, history, &out, since, wanted);
    if out.is_nothing() {
        let (copy, kept, kept_told, still, scratch) = (None, Vec::new(), Vec::new(), found.clone(), None);
        return Ok(Prepared { out, copy, left_out, kept, kept_told, still, scratch });
    }
    let scratch = scratch(aside_of(&ctx.garage, book), Making::Handover)?;
    let progress = Progress::new(ui);
    let copy = rewritten(book, history, &out, found, &scratch.path("book"), &|n| progress.at(n))?;
    let still = outgoing(&copy.book, &copy.book.history()?, &|n| progress.at(n))?.without_stand_ins(&out.scrub);
    progress.done();
    left_out.extend(copy.along.iter().cloned());
    let mut kept = kept(book, history, &out, found, &still, &copy);
    let mut kept_told = kept.clone();
    if !copy.small.is_empty() {
        let small = "names that are plain words, where they are written small";
        let words: Vec<&str> = copy.small.iter().map(String::as_str).collect();
        kept.push(small.to_owned());
        kept_told.push(format!("{small}: {}", words.join(", ")));
    }
    Ok(Prepared { out, copy: Some(copy), left_out, kept, kept_told, still, scratch: Some(scratch) })
}

/// What was named to be left out. A comma with nothing beside it names nothing, and nothing may pass for everything kept.
fn named(words: &[String]) -> Result<Vec<String>> {
    let named: Vec<String> = words.iter().map(|w| w.trim().to_owned()).collect();
    match named.iter().any(String::is_empty) {
        true => Err(Error::usage("--without names nothing there; nothing was written", WITHOUT_HELP)),
        false => Ok(named),
    }
}

/// What can be left out.
const WITHOUT_HELP: &str = "names, phones, notes, private, files, an area (engine) or a field (limiter)";

/// What is left out wherever it stands, not by its field.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum What {
    Names,
    Phones,
    Notes,
    Files,
}

/// What a word means, in small letters; one is as good as many.
fn what_of(word: &str) -> Option<What> {
    match word {
        "names" | "name" => Some(What::Names),
        "phones" | "phone" | "phone numbers" => Some(What::Phones),
        "notes" | "note" => Some(What::Notes),
        "files" | "file" => Some(What::Files),
        _ => None,
    }
}

fn not_taken(why: &str, help: &str) -> Error {
    Error::data(format!("whoever gets the file could not take it in: {why}; nothing was written"), help)
}

/// What `receive` would not take in is said before it is written.
fn refuse_unsound(found: &Outgoing, out: &LeaveOut, wrong: &[Wrong]) -> Result<()> {
    let Some(first) = wrong.iter().find(|w| w.harm != Harm::Content) else { return Ok(()) };
    let more = match wrong.iter().filter(|w| w.harm != Harm::Content).count() - 1 {
        0 => String::new(),
        n => format!(" ({n} more)"),
    };
    let help = match !found.other_files.is_empty() && out.is_nothing() {
        true => "--without files hands over a copy without the files by hand; slipbook verify names each",
        false => "slipbook verify names each",
    };
    Err(not_taken(&format!("{}: {}{more}", first.path, first.why), help))
}

/// Everything that is to stay here, from its names.
fn leave_out(
    ctx: &Context,
    book: &Book,
    history: &History,
    found: &Outgoing,
    since: Option<&str>,
    wanted: &[String],
) -> Result<LeaveOut> {
    let mut out = LeaveOut::default();
    if let Some(since) = since {
        let at = version_meant(ctx, book, history, since)?;
        // What was done past midnight is of its own date as well.
        let last = history.timeline.versions.last().map(|v| v.entry.at.civil().date());
        let last = history.runs.iter().map(|m| m.run.at.civil().date()).chain(last).max();
        if let (Some(day), Some(last)) = (read_day(since, ctx.hand.now), last)
            && day > last
            && since.parse::<VersionNumber>().is_err()
        {
            let message = format!("nothing is on record from {day} on; nothing was written");
            return Err(Error::usage(message, format!("the last record is of {last}")));
        }
        out.before = Some(at).filter(|v| *v > 0);
    }
    let groups = areas(&book.schema);
    for name in &rejoined(wanted, &groups) {
        let lower = name.to_lowercase();
        match (what_of(&lower), lower.as_str()) {
            (Some(What::Notes), _) => out.notes = true,
            (Some(What::Files), _) => out.files = true,
            (Some(What::Phones), _) => {
                out.scrub.phones = true;
                out.scrub.numbers = found.phones.iter().map(|p| digits_of(&p.number)).collect();
            }
            (Some(What::Names), _) => (out.scrub.people, out.scrub.names) = (true, found.instead_of_all()),
            (None, "private") => {
                let marked = book.schema.fields.iter().filter(|f| is_private(book, f)).map(|f| f.key.clone());
                let before = out.fields.len();
                out.fields.extend(marked);
                if out.fields.len() == before {
                    let message = "no field of this book is marked private; nothing was written";
                    return Err(Error::usage(
                        message,
                        "private = [\"engine\"] in car.toml, then slipbook sheet --save",
                    ));
                }
            }
            (None, _) if groups.contains(&lower) => {
                out.fields.extend(book.schema.fields.iter().filter(|f| f.is_under(&lower)).map(|f| f.key.clone()))
            }
            (None, _) => match named_field(book, name) {
                Ok(field) => drop(out.fields.insert(field.key.clone())),
                Err(_) => {
                    let message = format!("`{name}` is nothing that can be left out; nothing was written");
                    return Err(Error::usage(message, WITHOUT_HELP));
                }
            },
        }
    }
    Ok(out)
}

/// Headings have commas of their own: "front wheels, tires, brakes".
fn rejoined(wanted: &[String], groups: &[String]) -> Vec<String> {
    let mut out = Vec::new();
    let mut at = 0;
    while at < wanted.len() {
        let together = |n: &usize| groups.contains(&wanted[at..at + n].join(", ").to_lowercase());
        let n = (2..=wanted.len() - at).rev().find(together).unwrap_or(1);
        out.push(wanted[at..at + n].join(", "));
        at += n;
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_heading_with_commas_is_one() {
        let words = |all: &[&str]| all.iter().map(|w| (*w).to_owned()).collect::<Vec<_>>();
        let groups = words(&["engine", "front wheels, tires, brakes"]);
        let wanted = words(&["names", "Front wheels", "tires", "brakes", "engine"]);
        assert_eq!(rejoined(&wanted, &groups), ["names", "Front wheels, tires, brakes", "engine"]);
    }
}
