//! `part`: parts with a name of one's own, what describes them, their passes; fitting one.

mod args;

use super::context::Context;
use super::ui::Ui;
use crate::garage::{
    Book, Error, Gone, History, OnCar, Part, PartChange, PartLife, Result, Wanted, car_with, fitted_passes, last_said,
    name_fault, now, part_lives, record_part,
};
use crate::render;
use crate::schema::{
    Edit, EntryContext, Field, PartWords, Scalar, Sheet, Typed, Value, apply, names_on, nearest, of_part, read_entry,
    read_part_words, same_name,
};
use args::{AddArgs, Facts, FitArgs, GoneArgs, SetArgs, What, YesNo};
use clap::Args;

/// Tires, springs, shocks ... by your own names, with their passes
///
///   slipbook part                    all of them: passes, where they are, limits
///   slipbook part pair B             one of them, with what describes it
///   slipbook part add "pair B" --kind "rear tires" --came-with 12
///                 size 28 x 9-15, sidewall soft, least pressure 11
///   slipbook part fit pair B         puts it on the car; its values come along
///   slipbook part fit pair B, rear tires 12.5 --why "pair A is hard"
///   slipbook part set pair B --goes-with no compound soft 48
///   slipbook part gone pair A sold to Wren
///
/// Fitting is a change: one version, and what the sheet says of the part that
/// comes off is kept in car.toml. `slipbook change rear tires pair B` does the
/// same. Passes are counted from the runs. Limits are those its maker gives: a
/// change beyond one is asked about.
#[derive(Debug, Args)]
#[command(verbatim_doc_comment, args_conflicts_with_subcommands = true)]
pub struct PartArgs {
    /// Only this part
    #[arg(value_name = "NAME")]
    name: Vec<String>,
    #[command(subcommand)]
    what: Option<What>,
}

/// Runs the command.
pub fn run(ctx: &Context, ui: &mut Ui, args: &PartArgs) -> Result<()> {
    let book = ctx.book()?;
    match &args.what {
        None => show(ctx, ui, &book, &args.name.join(" ")),
        Some(What::Add(args)) => add(ctx, ui, &book, args),
        Some(What::Set(args)) => set(ctx, ui, &book, args),
        Some(What::Fit(args)) => fit(ctx, ui, &book, args),
        Some(What::Gone(args)) => gone(ctx, ui, &book, args),
    }
}

fn show(ctx: &Context, ui: &mut Ui, book: &Book, name: &str) -> Result<()> {
    let all = part_lives(book, &book.history()?)?;
    let head = ctx.head(&book.car.name);
    if name.is_empty() {
        ctx.answer(ui, || render::part::json(&head, &book.schema, &all), || render::part::list(&head, &all));
        return Ok(());
    }
    let named: Vec<PartLife> = all.iter().filter(|p| same_name(&p.name, name)).cloned().collect();
    if named.is_empty() {
        return Err(unknown(name, &all));
    }
    ctx.answer(
        ui,
        || render::part::json(&head, &book.schema, &named),
        || render::part::one(&head, &book.schema, &named),
    );
    Ok(())
}

fn unknown(name: &str, all: &[PartLife]) -> Error {
    let names: Vec<&str> = all.iter().map(|p| p.name.as_str()).collect();
    let near = nearest(name, names.into_iter(), 4);
    let help = match near.as_slice() {
        [] => "slipbook part lists them; slipbook part add NAME --kind KIND puts one on record".to_owned(),
        near => format!("nearest: {}; slipbook part add NAME --kind KIND puts one on record", near.join(", ")),
    };
    Error::usage(format!("no part of this car is called `{name}`"), help)
}

/// Passes of the parts on the car, in words, where the car has parts on record: (words, kind, name, passes).
pub fn passes_now(book: &Book, history: &History) -> Vec<(String, String, String, usize)> {
    // A book without parts on record pays nothing for them.
    if book.car.parts.is_empty() {
        return Vec::new();
    }
    let all = fitted_passes(book, history, None).into_iter().filter(|(.., all_known)| *all_known);
    all.map(|(kind, name, n, _)| {
        (format!("{kind}: {name} has {} on it", render::part::counted_passes(n)), kind, name, n)
    })
    .collect()
}

/// The kind named by `--kind`.
fn kind_said<'a>(book: &'a Book, said: &str) -> Result<&'a Field> {
    book.schema.part_kind(said, book.car.chassis()).ok_or_else(|| {
        let kinds = book.schema.part_kinds().filter(|f| f.on_chassis(book.car.chassis()));
        let all: Vec<String> = kinds.map(|f| book.schema.part_words(f)).collect();
        Error::usage(format!("`{said}` is no kind of part of this car"), all.join(", "))
    })
}

/// The part whose name the words begin with, and the words behind it.
fn named(book: &Book, words: &[String], kind: Option<&str>) -> Result<(PartLife, Vec<String>)> {
    let all = part_lives(book, &book.history()?)?;
    let kind = kind.map(|k| kind_said(book, k)).transpose()?;
    let words: Vec<String> = words.iter().flat_map(|w| one_or_split(w)).collect();
    for n in (1..=words.len()).rev() {
        let name = words[..n].join(" ");
        let name = name.trim_end_matches([',', ';']);
        let found: Vec<&PartLife> =
            all.iter().filter(|p| same_name(&p.name, name) && kind.is_none_or(|k| k.key == p.kind)).collect();
        match found.as_slice() {
            [] => {}
            [one] => return Ok(((*one).clone(), words[n..].to_vec())),
            many => {
                let kinds: Vec<String> = many.iter().map(|p| format!("--kind \"{}\"", p.kind_words)).collect();
                return Err(Error::usage(format!("which `{name}`?"), kinds.join(" or ")));
            }
        }
    }
    Err(unknown(&words.join(" "), &all))
}

/// A quoted word with `=` stays whole; any other is as good as typed without quotes.
fn one_or_split(word: &str) -> Vec<String> {
    if word.contains('=') { vec![word.to_owned()] } else { word.split_whitespace().map(str::to_owned).collect() }
}

fn add(ctx: &Context, ui: &mut Ui, book: &Book, args: &AddArgs) -> Result<()> {
    let kind = kind_said(book, &args.kind)?;
    let (name, rest) = new_name(&args.words);
    if let Some(fault) = name_fault(&name) {
        return Err(Error::usage(fault, "slipbook part add \"pair B\" --kind \"rear tires\""));
    }
    if book.car.part(&kind.key, &name).is_some() {
        return Err(Error::usage(
            format!("{} \"{name}\" is on record already", book.schema.part_words(kind)),
            format!("slipbook part set \"{name}\" changes what is on record of it"),
        ));
    }
    let lived = part_lives(book, &book.history()?)?;
    let lived = lived.into_iter().find(|p| p.kind == kind.key && same_name(&p.name, &name));
    let name = lived.as_ref().map_or(name, |p| p.name.clone());
    say(ctx, ui, book, kind, &name, &rest, &args.facts, false, "on record")
}

/// The name of a new part: the first word as it was quoted, or `pair B` typed without quotes.
fn new_name(words: &[String]) -> (String, Vec<String>) {
    let n = match words {
        [first, _, ..] if matches!(first.to_lowercase().as_str(), "pair" | "set") => 2,
        _ => 1,
    };
    let name = words[..n.min(words.len())].join(" ");
    (name.trim_end_matches([',', ';']).trim().to_owned(), words[n.min(words.len())..].to_vec())
}

fn set(ctx: &Context, ui: &mut Ui, book: &Book, args: &SetArgs) -> Result<()> {
    let (part, rest) = named(book, &args.words, args.kind.as_deref())?;
    let said = &args.facts;
    if rest.is_empty() && !args.back && said.came_with.is_none() && said.goes_with.is_none() && said.note.is_none() {
        return Err(Error::usage("nothing was said of it", "slipbook part set --help"));
    }
    let kind = kind_of(book, &part)?;
    say(ctx, ui, book, kind, &part.name, &rest, said, args.back, "now on record")
}

fn kind_of<'a>(book: &'a Book, part: &PartLife) -> Result<&'a Field> {
    book.schema.field(&part.kind).ok_or_else(|| Error::data(format!("{} is no field", part.kind), "car.toml"))
}

/// Records what was said of a part: in car.toml; what describes a part on the car goes on its sheet as well.
#[allow(clippy::too_many_arguments, reason = "one for each thing that can be said")]
fn say(
    ctx: &Context,
    ui: &mut Ui,
    book: &Book,
    kind: &Field,
    name: &str,
    rest: &[String],
    facts: &Facts,
    back: bool,
    what: &str,
) -> Result<()> {
    let on = now(&book.store, &book.schema, book.store.head()?)?;
    let on_sheet = sides_on(kind, &on, name);
    let known = known_of(book, kind, &on, name)?;
    let said = read_part_words(&book.schema, kind, &known, rest)?;
    let values = values_after(book, kind, &on, &known, &said)?;
    let apply_to = |part: &Part| {
        let mut part = part.clone();
        part.came_with_passes = facts.came_with.or(part.came_with_passes);
        part.goes_with = facts.goes_with.map(|g| g == YesNo::Yes).or(part.goes_with);
        match facts.note.as_deref() {
            Some("-") => part.note = None,
            Some(note) => part.note = Some(note.to_owned()),
            None => {}
        }
        for (limit, number) in &said.limits {
            part.limits.retain(|(l, _)| l != limit);
            part.limits.extend(number.map(|n| (limit.clone(), n)));
        }
        let order = |l: &str| book.schema.part_limits(&kind.key).position(|x| x.name == l);
        part.limits.sort_by_key(|(l, _)| order(l));
        part.values = values.clone();
        part.gone = part.gone.filter(|_| !back);
        part
    };
    let blank = Part { name: name.to_owned(), kind: kind.key.clone(), ..Part::default() };
    let words = book.schema.part_words(kind);
    // What describes a part on the car is on its sheet: one record for both.
    if !on_sheet.is_empty() && !said.edits.is_empty() {
        let part = apply_to(book.car.part(&kind.key, name).unwrap_or(&blank));
        let car = car_with(book, &part)?;
        let wanted = Wanted { edits: said.edits.clone(), seen: Some(on.blob), car: Some(car), ..Wanted::default() };
        return super::change::record(ctx, ui, book, &wanted, &Default::default(), false);
    }
    let change = PartChange {
        kind: &kind.key,
        name,
        subject: format!("{words} \"{name}\" {what}"),
        change: &|part| Ok(apply_to(part.unwrap_or(&blank))),
    };
    recorded(ctx, ui, book, &change)
}

/// The sides of the car a part is on.
fn sides_on(kind: &Field, on: &OnCar, name: &str) -> Vec<usize> {
    let names = names_on(kind, &on.sheet).into_iter().enumerate();
    names.filter(|(_, n)| n.is_some_and(|n| same_name(n, name))).map(|(i, _)| i).collect()
}

/// What is known of a part: what the sheet says of it while it is on the car, else car.toml, else its last sheet.
fn known_of(book: &Book, kind: &Field, on: &OnCar, name: &str) -> Result<Sheet> {
    let sides = sides_on(kind, on, name);
    let mut known = match book.car.part(&kind.key, name) {
        Some(part) => part.values.clone(),
        None if sides.is_empty() => last_said(book, &kind.key, name)?.unwrap_or_default(),
        None => Sheet::default(),
    };
    sides.iter().for_each(|slot| of_part(&book.schema, kind, *slot, &on.sheet, &mut known));
    Ok(known)
}

/// The values of a part with what was said of it. Values are checked on a sheet on which they apply.
fn values_after(book: &Book, kind: &Field, on: &OnCar, known: &Sheet, said: &PartWords) -> Result<Sheet> {
    let mut sheet = on.sheet.clone();
    for field in book.schema.part_values(&kind.key) {
        sheet.remove(&field.key);
    }
    known.iter().for_each(|(k, v)| sheet.set(k, v.clone()));
    let refused = |why: String| Error::usage(why, "nothing was recorded");
    let after = apply(&book.schema, &sheet, &said.edits).map_err(refused)?.sheet;
    let mut out = known.clone();
    for edit in &said.edits {
        match after.get(&edit.key) {
            Some(value) => out.set(&edit.key, value.clone()),
            None => drop(out.remove(&edit.key)),
        }
    }
    Ok(out)
}

fn recorded(ctx: &Context, ui: &mut Ui, book: &Book, change: &PartChange) -> Result<()> {
    let (part, written) = record_part(book, &ctx.options(), &ctx.hand, change)?;
    written.notes.iter().for_each(|n| ui.status(n));
    if written.id.is_none() {
        return Err(Error::usage("nothing would change: car.toml says so already", "slipbook part shows it"));
    }
    let book = Book::open(book.store.dir())?;
    let all = part_lives(&book, &book.history()?)?;
    let one: Vec<PartLife> = all.into_iter().filter(|p| p.kind == part.kind && p.name == part.name).collect();
    let head = ctx.head(&book.car.name);
    ctx.answer(
        ui,
        || {
            let mut json = render::part::json(&head, &book.schema, &one);
            json["saved"] = true.into();
            json
        },
        || render::part::one(&head, &book.schema, &one) + "saved\n",
    );
    Ok(())
}

fn fit(ctx: &Context, ui: &mut Ui, book: &Book, args: &FitArgs) -> Result<()> {
    let (part, rest) = named(book, &args.words, args.kind.as_deref())?;
    let kind = kind_of(book, &part)?;
    let slot = match args.side.as_deref() {
        None => None,
        Some(side) => Some(kind.slot_index(&side.to_lowercase()).ok_or_else(|| {
            let ids: Vec<&str> = kind.slots.iter().map(|s| s.id.as_str()).collect();
            let words = &part.kind_words;
            let help = if ids.is_empty() { format!("{words} are one part for both sides") } else { ids.join(" or ") };
            Error::usage(format!("`{side}` is no side of {words}"), help)
        })?),
    };
    let typed = Typed::Reading(Value::One(Scalar::Text(part.name.clone())));
    let mut edits = vec![Edit { key: kind.key.clone(), slot, typed }];
    let on = now(&book.store, &book.schema, book.store.head()?)?;
    if !rest.is_empty() {
        let entry = EntryContext { schema: &book.schema, chassis: book.car.chassis(), sheet: &on.sheet };
        edits.extend(read_entry(entry, &rest, &mut |clause, all| super::change::choose(ui, clause, all))?);
    }
    let at = args.when.as_deref().map(|t| ctx.moment(t)).transpose()?;
    let wanted = Wanted { edits, why: args.why.clone(), at, ..Wanted::default() };
    super::change::record(ctx, ui, book, &wanted, &args.steps, args.dry_run)
}

fn gone(ctx: &Context, ui: &mut Ui, book: &Book, args: &GoneArgs) -> Result<()> {
    let (part, rest) = named(book, &args.words, args.kind.as_deref())?;
    let kind = kind_of(book, &part)?;
    let on = now(&book.store, &book.schema, book.store.head()?)?;
    if !sides_on(kind, &on, &part.name).is_empty() {
        return Err(Error::usage(
            format!("{} is on the car ({})", part.name, on.number),
            "fit another first: slipbook part fit NAME",
        ));
    }
    let at = args.when.as_deref().map(|t| ctx.moment(t)).transpose()?.unwrap_or(ctx.hand.now);
    let how = rest.join(" ");
    if how.chars().count() > 60 || how.chars().any(char::is_control) {
        return Err(Error::usage(
            "how it went is said in 60 characters",
            "more of it: slipbook part set NAME --note TEXT",
        ));
    }
    let said = Gone { on: at.race_day(), how: Some(how).filter(|h| !h.is_empty()) };
    let known = known_of(book, kind, &on, &part.name)?;
    let blank = Part { name: part.name.clone(), kind: part.kind.clone(), values: known, ..Part::default() };
    let change = PartChange {
        kind: &part.kind,
        name: &part.name,
        subject: format!("{} \"{}\" {}", part.kind_words, part.name, said.how.as_deref().unwrap_or("gone")),
        change: &|part| Ok(Part { gone: Some(said.clone()), ..part.unwrap_or(&blank).clone() }),
    };
    recorded(ctx, ui, book, &change)
}
