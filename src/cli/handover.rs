//! `handover`: one file of the whole history for whoever has the car next, and a page to print.

mod page;

use super::context::Context;
use super::progress::Progress;
use super::ui::Ui;
use crate::garage::{
    Book, Error, History, LeaveOut, Outgoing, Result, areas, hand_edits, hand_over, handover_to, in_order, is_private,
    outgoing, rewritten, version_named, write_page,
};
use crate::render::{self, handover::HandoverTold};
use clap::Args;
use std::path::{Path, PathBuf};

/// Write the car's whole history into one file, with a page to print
///
/// The file holds this car's book and nothing of another: every record, as
/// `slipbook receive` or `git clone FILE` takes it in. The page (FILE with .txt)
/// tells what the car did, the setup to start from, what is proven and what is
/// not, and the handover id: a SHA-256 over all that is in the file, in full and
/// as six words with a check word. Who gets the file compares it with what you
/// say; the words guard against a slip, the full id is the proof.
///
/// What would go to a stranger beside the record is listed first: names, phone
/// numbers, notes, fields marked private (`private = true` in a field of your
/// own, `private = ["engine"]` in car.toml). The history holds also what was
/// taken back later.
///
///   slipbook handover plover --to /media/stick/plover.bundle
///   slipbook handover plover --to plover.bundle --without names,phones
///   slipbook handover plover --to plover.bundle --without engine --since v12
///
/// With --since or --without a rewritten copy goes out: the records as they hold
/// now, without what you leave out, without comments and without the log as it
/// was first written. Its ids differ from the book's own. A name can only be
/// taken out where it is on record as a hand's or an owner's: read the notes, or
/// leave them out. The names of parts, trials and tracks stay. A handover is no
/// record: the book stays as it is.
#[derive(Debug, Args)]
#[command(verbatim_doc_comment)]
#[allow(rustdoc::broken_intra_doc_links, reason = "the comment is the help, brackets and all")]
pub struct HandoverArgs {
    /// The car, if not the one at hand
    #[arg(value_name = "CAR")]
    which: Option<String>,
    /// The file
    #[arg(long, value_name = "FILE")]
    to: PathBuf,
    /// Only from this version, or from the one on the car that day
    #[arg(long, value_name = "VERSION|DATE")]
    since: Option<String>,
    /// What stays here: names, phones, notes, private, or areas or fields of the sheet (engine, "rear shocks", launch.rpm)
    #[arg(long, value_name = "WHAT", value_delimiter = ',')]
    without: Vec<String>,
    /// The same as --without notes
    #[arg(long)]
    without_notes: bool,
    /// The same as --without names
    #[arg(long)]
    without_names: bool,
}

/// Runs the command.
pub fn run(ctx: &Context, ui: &mut Ui, args: &HandoverArgs) -> Result<()> {
    let book = match &args.which {
        Some(car) => ctx.open(&ctx.garage.car_dir(&ctx.find_car(car)?))?,
        None => ctx.book()?,
    };
    let to = handover_to(&ctx.garage, &book, &args.to)?;
    let history = book.history()?;
    let unsaved: Vec<String> = hand_edits(&book)?.files.into_iter().map(|(path, _)| path).collect();
    let progress = Progress::new(ui);
    let found = outgoing(&book, &history, &|n| progress.at(n))?;
    progress.done();
    let mut wanted: Vec<String> = args.without.iter().map(|w| w.trim().to_owned()).filter(|w| !w.is_empty()).collect();
    wanted.extend(args.without_notes.then(|| "notes".to_owned()));
    wanted.extend(args.without_names.then(|| "names".to_owned()));
    let head = ctx.head(&book.car.name);
    let out = leave_out(ctx, &book, &history, &found, args.since.as_deref(), &wanted)?;
    let out = match out.is_nothing() && ui.asks() && !ctx.yes {
        true => {
            ui.status(&render::handover::outgoing_text(&head, &found));
            wanted = asked(ui)?;
            leave_out(ctx, &book, &history, &found, None, &wanted)?
        }
        false => out,
    };
    let left_out = said(&history, &out, args.since.as_deref(), &wanted);
    let scratch = match out.is_nothing() {
        true => None,
        false => Some(Scratch::new()?),
    };
    let copy = scratch.as_ref().map(|scratch| {
        let progress = Progress::new(ui);
        rewritten(&book, &history, &out, &found, &scratch.0.join("book"), &|n| progress.at(n))
    });
    let copy = copy.transpose()?;
    let gone = copy.as_ref().map_or(&book, |c| &c.book);
    let progress = Progress::new(ui);
    let handed = hand_over(gone, &ctx.options(), &ctx.hand, &to, &|n| progress.at(n))?;
    progress.done();
    let told = match &copy {
        Some(copy) => copy.book.history()?,
        None => history,
    };
    if told.head != Some(handed.copied.tip) {
        let message = format!("the book was changed while {} was written", to.target.path.display());
        return Err(Error::data(message, "hand it over again: the page would tell of another record"));
    }
    let page = page::page(ctx, gone, &told, &handed, &to, left_out)?;
    write_page(&to, &render::handover_page::text(&head, &page))?;
    let answer = HandoverTold { to: &to, handed: &handed, page: &page, out: &found, unsaved: &unsaved };
    ctx.answer(ui, || render::handover::json(&head, &answer), || render::handover::text(&head, &answer));
    Ok(())
}

/// What one is asked on a terminal; an empty answer keeps everything.
fn asked(ui: &mut Ui) -> Result<Vec<String>> {
    let question = "Take something out first (names, phones, notes, private, an area), or stop? [keep]";
    let answer = ui.ask(question).unwrap_or_else(|| "stop".to_owned()).to_lowercase();
    match answer.as_str() {
        "" | "keep" | "k" | "no" | "n" => Ok(Vec::new()),
        "stop" | "s" | "q" | "quit" => Err(Error::usage("nothing was written", "slipbook handover --help")),
        words => Ok(words.split(',').map(|w| w.trim().to_owned()).filter(|w| !w.is_empty()).collect()),
    }
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
        let at = version_named(history, since, ctx.hand.now, &|| None, &|| None)?;
        out.before = Some(at).filter(|v| *v > 0);
    }
    let groups = areas(&book.schema);
    for name in wanted {
        let lower = name.to_lowercase();
        match lower.as_str() {
            "notes" => out.notes = true,
            "phones" | "phone numbers" => out.scrub.phones = true,
            "names" => out.scrub.names = instead(book, found),
            "private" => {
                out.fields.extend(book.schema.fields.iter().filter(|f| is_private(book, f)).map(|f| f.key.clone()))
            }
            _ if groups.contains(&lower) => out.fields.extend(
                (book.schema.fields.iter().filter(|f| f.group == lower || f.area.to_lowercase() == lower))
                    .map(|f| f.key.clone()),
            ),
            _ if book.schema.field(name).is_some() => drop(out.fields.insert(name.clone())),
            _ => {
                let message = format!("`{name}` is nothing that can be left out; nothing was written");
                return Err(Error::usage(message, format!("names, phones, notes, private, {}", groups.join(", "))));
            }
        }
    }
    Ok(out)
}

/// What stands for each name: owners by their order, other hands by theirs.
fn instead(book: &Book, found: &Outgoing) -> Vec<(String, String)> {
    let mut owners: Vec<String> = Vec::new();
    for owner in &book.car.owners {
        if !owners.contains(&owner.name.to_lowercase()) {
            owners.push(owner.name.to_lowercase());
        }
    }
    let mut hands = 0;
    let mut name_of = |name: &String| match owners.iter().position(|o| *o == name.to_lowercase()) {
        Some(i) => format!("owner {}", i + 1),
        None => {
            hands += 1;
            format!("hand {hands}")
        }
    };
    // Numbered in the order of the alphabet, put in longest first.
    let known: Vec<(String, String)> = found.names.keys().map(|n| (n.clone(), name_of(n))).collect();
    let order = in_order(&found.names.keys().cloned().collect());
    order.into_iter().filter_map(|n| known.iter().find(|(k, _)| *k == n).cloned()).collect()
}

/// What is not in the file, in words.
fn said(history: &History, out: &LeaveOut, since: Option<&str>, wanted: &[String]) -> Vec<String> {
    let mut words = Vec::new();
    if let (Some(v), Some(_)) = (out.before, since) {
        words.push(format!("what was before {}", history.timeline.versions[v].number));
    }
    words.extend(out.notes.then(|| "notes and reasons".to_owned()));
    words.extend((!out.scrub.names.is_empty()).then(|| "names".to_owned()));
    words.extend(out.scrub.phones.then(|| "phone numbers".to_owned()));
    if !out.fields.is_empty() {
        let named = |w: &&String| !["notes", "names", "phones", "phone numbers"].contains(&w.to_lowercase().as_str());
        let areas: Vec<&str> = wanted.iter().filter(named).map(String::as_str).collect();
        let fields = render::handover::fields_counted(out.fields.len());
        words.push(if areas.is_empty() { fields } else { format!("{} ({fields})", areas.join(", ")) });
    }
    words
}

/// A folder of the user's own for the rewritten copy; it goes away with what is in it.
struct Scratch(PathBuf);

impl Scratch {
    fn new() -> Result<Scratch> {
        let base = std::env::temp_dir();
        for n in 0..1000 {
            let dir = base.join(format!("slipbook-handover-{}-{n}", std::process::id()));
            match make_private(&dir) {
                Ok(()) => return Ok(Scratch(dir)),
                Err(e) if e.kind() == std::io::ErrorKind::AlreadyExists => {}
                Err(e) => return Err(Error::io(&dir, e)),
            }
        }
        Err(Error::usage(format!("there is no room for a scratch folder in {}", base.display()), "empty it"))
    }
}

impl Drop for Scratch {
    fn drop(&mut self) {
        let _ = std::fs::remove_dir_all(&self.0);
    }
}

/// Nobody else may look into it. It must not be there yet: a link laid in wait is none of ours.
fn make_private(dir: &Path) -> std::io::Result<()> {
    let mut builder = std::fs::DirBuilder::new();
    #[cfg(unix)]
    std::os::unix::fs::DirBuilderExt::mode(&mut builder, 0o700);
    builder.create(dir)
}
