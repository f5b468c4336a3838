//! `join`: two laptops, one car.

use super::context::Context;
use super::fetch::{self, Other};
use super::plan::{StepArgs, ask_steps};
use super::progress::Progress;
use super::ui::Ui;
use crate::garage::{
    Error, JoinPlan, JoinWanted, Limits, NotOurs, Question, Result, STEPS_HELP, Which, aside_of, carry_out_join,
    edit_help, find_other, hand_edits, plan_join, sweep,
};
use crate::render::{self, join::JoinTold};
use crate::timeline::Steps;
use clap::{Args, ValueEnum};
use std::cell::RefCell;
use std::collections::HashMap;
use std::path::Path;

/// Bring together what two laptops wrote down of one car
///
/// Changes of both stand in the order they happened, as if all had been written
/// in one book; runs and readings of both are kept. What one value is here and
/// another there, with no order between the two, is asked about. Of two versions
/// with one number, the one written down first keeps it: the other is v22b. Two
/// trials of one name are both kept. What is otherwise here afterwards is named.
///
///   slipbook join /media/stick               a folder, a garage or a copy there
///   slipbook join /media/stick/plover.bundle
///   slipbook join ssh://tow/books/plover.git over a network, with an installed git
///   slipbook join ADDRESS --send             and send what came of it back there
///   slipbook join OTHER --take newer         what was written down last holds
///   slipbook join OTHER --dry-run            only say what it would do
///
/// Only this book is written to (and with --send what the address names). The
/// other laptop gets it by joining this one, or a copy of it on a stick, and is
/// then the same: both make the same record, whichever joins first. Joining again
/// changes nothing.
#[derive(Debug, Args)]
#[command(verbatim_doc_comment)]
pub struct JoinArgs {
    /// The other book: a folder, a bundle, or an address git knows
    #[arg(value_name = "OTHER", allow_hyphen_values = true)]
    other: String,
    /// What holds where one value is said here and another there
    #[arg(long, value_name = "WHICH")]
    take: Option<TakeArg>,
    /// Two books that begin otherwise were begun for one car
    #[arg(long)]
    same_car: bool,
    /// Send the joined book back to the address
    #[arg(long, conflicts_with = "dry_run")]
    send: bool,
    #[command(flatten)]
    steps: StepArgs,
    /// Say what it would do, and do nothing
    #[arg(long)]
    dry_run: bool,
    /// Do not ask before it is done, and take what this program would not have written as it is
    #[arg(long, short = 'y', global = true)]
    yes: bool,
}

/// Which of two values holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum TakeArg {
    /// What this book says
    Here,
    /// What the other one says
    There,
    /// What was written down last
    Newer,
}

/// Runs the command.
pub fn run(ctx: &Context, ui: &mut Ui, args: &JoinArgs) -> Result<()> {
    let book = ctx.book()?;
    let limits = Limits::default();
    let other = fetch::meant(&args.other)?;
    let edits = hand_edits(&book)?;
    if let Some((path, what)) = edits.files.iter().find(|(_, what)| *what != "new") {
        return Err(Error::data(
            format!("{path} was {what} by hand and is not saved yet; nothing was joined"),
            edit_help(path),
        ));
    }
    let aside = aside_of(&ctx.garage, &book);
    sweep(aside);
    let (source, address, brought) = match &other {
        Other::Place(_) if args.send => {
            return Err(Error::usage(
                "--send is for an address git knows; a folder or a bundle is only read",
                "the other laptop joins this one; nothing was changed",
            ));
        }
        Other::Place(path) => {
            let found = find_other(&book, path, args.same_car, limits)?;
            for why in &found.unread {
                ui.status(&format!("a book there could not be read, {why}"));
            }
            (found.book, None, None)
        }
        Other::Address(address) => {
            let brought = fetch::bring(aside, address, &limits)?;
            (brought.repository(), Some(address.as_str()), Some(brought))
        }
    };
    // Of a folder with books in it, which of them is said.
    let called = if address.is_some() { fetch::shown(&args.other) } else { source.display().to_string() };
    let plan = planned(ctx, ui, args, (&source, &called), limits)?;
    let head = ctx.head(&book.car.name);
    let told = |saved: bool, sent: bool| JoinTold { plan: &plan, other: &called, saved, sent };
    if args.dry_run {
        ctx.answer(
            ui,
            || render::join::json(&head, &told(false, false)),
            || render::join::text(&head, &told(false, false)),
        );
        return Ok(());
    }
    if plan.alters() && ui.asks() && !args.yes {
        ui.status(&render::join::text(&head, &told(false, false)));
        if ui.confirm("Join?") != Some(true) {
            return Err(Error::usage("nothing was joined", "--dry-run only says it"));
        }
    }
    let progress = Progress::new(ui);
    let written = carry_out_join(&book, &ctx.options(), &ctx.hand, &plan, &|n| progress.at(n));
    progress.done();
    let written = written?;
    written.notes.iter().for_each(|n| ui.status(n));
    let sends = address.zip(brought.as_ref()).filter(|_| args.send && plan.has_more());
    if let Some((address, brought)) = sends {
        fetch::send(book.store.dir(), address, brought, &limits)?;
    }
    let sent = sends.is_some();
    ctx.answer(ui, || render::join::json(&head, &told(true, sent)), || render::join::text(&head, &told(true, sent)));
    Ok(())
}

/// Works it out, asking where somebody answers. What was answered once is not asked again.
fn planned(
    ctx: &Context,
    ui: &mut Ui,
    args: &JoinArgs,
    (source, called): (&Path, &str),
    limits: Limits,
) -> Result<JoinPlan> {
    let book = ctx.book()?;
    let progress = Progress::new(ui);
    let asks = ui.asks();
    let known: RefCell<HashMap<Question, Which>> = RefCell::default();
    let ask = RefCell::new(&mut *ui);
    // Who is asked about a value should know whose hand wrote it.
    let met: RefCell<Option<Vec<NotOurs>>> = RefCell::default();
    let meet = |all: &[NotOurs]| {
        met.borrow_mut().get_or_insert_with(|| all.to_vec());
    };
    let head = ctx.head(&book.car.name);
    let say_met = |ui: &mut Ui| {
        let all = met.borrow_mut().as_mut().map(std::mem::take).unwrap_or_default();
        let said = render::join::not_ours(&head, &all);
        if !said.is_empty() {
            ui.status(said.trim_end());
        }
    };
    let decide = |question: &Question| match args.take {
        Some(TakeArg::Here) => Some(Which::Here),
        Some(TakeArg::There) => Some(Which::There),
        Some(TakeArg::Newer) if question.there_is_newer => Some(Which::There),
        Some(TakeArg::Newer) => Some(Which::Here),
        None => {
            if let Some(which) = known.borrow().get(question) {
                return Some(*which);
            }
            progress.done();
            say_met(*ask.borrow_mut());
            let which = asked(*ask.borrow_mut(), question)?;
            known.borrow_mut().insert(question.clone(), which);
            Some(which)
        }
    };
    let tell = |n: usize| progress.at(n);
    let wanted = |steps: Steps| JoinWanted {
        source,
        called,
        same_car: args.same_car,
        steps,
        decide: &decide,
        met: &meet,
        as_it_is: args.yes,
        limits,
        tell: &tell,
    };
    let steps = args.steps.steps();
    let plan = match plan_join(&ctx.garage, &book, &wanted(steps)) {
        Err(Error::Unconfirmed { message, help }) if steps == Steps::Ask && help == STEPS_HELP && asks => {
            progress.done();
            say_met(*ask.borrow_mut());
            let steps = ask_steps(*ask.borrow_mut(), &message);
            match steps {
                Some(steps) => plan_join(&ctx.garage, &book, &wanted(steps)),
                None => Err(Error::Unconfirmed { message, help }),
            }
        }
        done => done,
    };
    progress.done();
    if matches!(plan, Err(Error::Unconfirmed { .. })) {
        say_met(*ask.borrow_mut());
    }
    plan
}

/// Asks which of two holds.
fn asked(ui: &mut Ui, question: &Question) -> Option<Which> {
    let text = format!(
        "{}\n  here   {}\n  there  {}\nWhich holds? [here/there]",
        question.about, question.here, question.there
    );
    for _ in 0..3 {
        match ui.ask(&text)?.to_lowercase().as_str() {
            "here" | "h" => return Some(Which::Here),
            "there" | "t" => return Some(Which::There),
            _ => {}
        }
    }
    None
}
