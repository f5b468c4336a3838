//! `new`: a book for a car.

use super::context::Context;
use super::ui::Ui;
use crate::garage::{Car, Error, LONGEST_NAME, NewCar, Result, new_book, read_small};
use crate::render::counted;
use crate::schema::{Edit, EntryContext, Ring, Schema, Sheet, apply, read_sheet, reading, schema, takes_words};
use clap::Args;
use std::path::{Path, PathBuf};

/// Open a book for a car
///
/// On a terminal the pocket fields are asked one by one; Enter skips one, `.`
/// skips the rest. Elsewhere the sheet begins with what --sheet and FIELD=VALUE
/// say.
///
///   slipbook new Plover --template leaf-torsion
///   slipbook new Plover --template leaf-torsion rear.limiter.kind=screw rear.limiter.height=0.75
#[derive(Debug, Args)]
#[command(verbatim_doc_comment)]
pub struct NewArgs {
    /// The car's name
    #[arg(value_name = "NAME", required_unless_present = "car_file")]
    name: Option<String>,
    /// First values: FIELD=VALUE
    #[arg(value_name = "FIELD=VALUE")]
    values: Vec<String>,
    /// The chassis: leaf-torsion, ladder-strut, fourlink-coilover
    #[arg(long, value_name = "ID")]
    template: Option<String>,
    /// The class it runs in
    #[arg(long, value_name = "TEXT")]
    class: Option<String>,
    /// Its owner
    #[arg(long, value_name = "NAME")]
    owner: Option<String>,
    /// A sheet to begin with (setup.toml of another book, or written by hand)
    #[arg(long, value_name = "FILE")]
    sheet: Option<PathBuf>,
    /// A car.toml to begin with, instead of NAME, --template, --class, --owner
    #[arg(long, value_name = "FILE", conflicts_with_all = ["name", "template", "class", "owner"])]
    car_file: Option<PathBuf>,
    /// When the sheet was so, if not now
    #[arg(long, value_name = "TIME")]
    when: Option<String>,
}

/// Runs the command.
pub fn run(ctx: &Context, ui: &mut Ui, args: &NewArgs) -> Result<()> {
    let at = args.when.as_deref().map(|t| ctx.moment(t)).transpose()?.unwrap_or(ctx.hand.now);
    let (car_text, car_file) = match &args.car_file {
        Some(path) => (file(path)?, path.display().to_string()),
        None => {
            let template = template(ui, args.template.as_deref())?;
            let name = args.name.as_deref().unwrap_or_default();
            refuse_long("a car's name", "slipbook new Plover", name, LONGEST_NAME)?;
            // Whose it was when the sheet was so.
            let owner = args.owner.as_deref().map(|o| (o, at.civil().date()));
            (Car::new_text(name, &template, args.class.as_deref(), owner), "car.toml".to_owned())
        }
    };
    let car = Car::read(&car_file, &car_text)?;
    let schema = car.schema().map_err(|why| Error::data(why, car_file.clone()))?;
    let sheet_text = args.sheet.as_deref().map(file).transpose()?;
    if let Some(text) = &sheet_text {
        let unusual = read_sheet(&schema, text).problems.into_iter().filter(|p| p.unusual).map(|p| p.message);
        super::change::confirm_unusual(ctx, ui, &unusual.collect::<Vec<_>>())?;
    }
    let mut sheet = Sheet::default();
    for text in &args.values {
        let entry = EntryContext { schema: &schema, chassis: car.chassis(), sheet: &sheet };
        let words = std::slice::from_ref(text);
        let edits = crate::schema::read_entry(entry, words, &mut |_, _| None)?;
        take(ctx, ui, &schema, &mut sheet, &edits)?;
    }
    if args.sheet.is_none() && args.values.is_empty() && ui.asks() {
        ask_pocket(ui, &schema, car.chassis(), &mut sheet);
    }
    let sheet_file = args.sheet.as_ref().map_or("setup.toml".to_owned(), |p| p.display().to_string());
    let new = NewCar { car_text, car_file, sheet_text, sheet_file, sheet, at };
    let (folder, book, _) = new_book(&ctx.garage, &ctx.options(), &ctx.hand, &new)?;
    let mut settings = ctx.garage.settings()?;
    settings.current = Some(folder.clone());
    ctx.garage.remember(&settings)?;
    ctx.garage.keep_schemas(&crate::schema::json_schemas())?;
    let on = crate::garage::now(&book.store, &book.schema, book.store.head()?)?;
    let head = ctx.head(&book.car.name);
    let dir = book.store.dir().display().to_string();
    ctx.answer(
        ui,
        || serde_json::json!({"car": head.car, "folder": folder, "dir": dir, "version": on.number, "fields": on.sheet.len()}),
        || {
            let mut page = head.page(&format!("book opened in {dir}, {} on record: {}", on.number, counted(on.sheet.len(), "field")));
            page.line("next: slipbook run …   slipbook change …   slipbook sheet");
            page.text()
        },
    );
    Ok(())
}

/// A name is refused as it was typed: the car.toml it would stand in is none the racer wrote.
fn refuse_long(what: &str, typed: &str, name: &str, longest: usize) -> Result<()> {
    let n = name.chars().count();
    if name.trim().is_empty() || n > longest || name.chars().any(char::is_control) {
        let has = if n > longest { format!("; this one has {n}") } else { String::new() };
        return Err(Error::usage(format!("{what} is 1 to {longest} characters on one line{has}"), typed));
    }
    Ok(())
}

fn file(path: &Path) -> Result<String> {
    read_small(path)?.ok_or_else(|| Error::io(path, std::io::ErrorKind::NotFound.into()))
}

fn template(ui: &mut Ui, given: Option<&str>) -> Result<String> {
    let all = &schema().templates;
    let ids: Vec<&str> = all.iter().map(|t| t.id.as_str()).collect();
    if let Some(id) = given {
        return match schema().template(id) {
            Some(t) => Ok(t.id.clone()),
            None => Err(Error::usage(format!("there is no template `{id}`"), ids.join(", "))),
        };
    }
    if ui.asks() {
        for (i, t) in all.iter().enumerate() {
            ui.status(&format!("  {}  {}", i + 1, t.title));
        }
        let answer = ui.ask("which chassis (number)?").and_then(|a| a.parse::<usize>().ok());
        if let Some(t) = answer.and_then(|n| all.get(n.checked_sub(1)?)) {
            return Ok(t.id.clone());
        }
    }
    Err(Error::usage("which chassis has it?", format!("--template {}", ids.join(" | "))))
}

fn take(ctx: &Context, ui: &mut Ui, schema: &Schema, sheet: &mut Sheet, edits: &[Edit]) -> Result<()> {
    let applied = apply(schema, sheet, edits).map_err(|why| Error::data(why, "no book was made"))?;
    super::change::confirm_unusual(ctx, ui, &applied.unusual)?;
    *sheet = applied.sheet;
    Ok(())
}

/// Asks the pocket fields that apply, one by one. All can be skipped.
fn ask_pocket(ui: &mut Ui, schema: &Schema, chassis: &[String], sheet: &mut Sheet) {
    ui.status("Enter skips a field, `.` skips the rest, `?` explains one.");
    for field in schema.fields.iter().filter(|f| f.ring == Ring::Pocket && f.on_chassis(chassis)) {
        while field.applies.holds(sheet) {
            let Some(answer) = ui.ask(&format!("{} ({})?", field.label, takes_words(schema, field))) else { return };
            match answer.as_str() {
                "" => break,
                "." => return,
                "?" => ui.status(&field.help),
                text => {
                    let applied = reading(schema, field, None, text).and_then(|edit| apply(schema, sheet, &[edit]));
                    match applied {
                        Ok(a)
                            if a.unusual.is_empty()
                                || ui.confirm(&format!("{}. Is that right?", a.unusual.join("; "))) == Some(true) =>
                        {
                            *sheet = a.sheet;
                            break;
                        }
                        Ok(_) => {}
                        Err(why) => ui.status(&why),
                    }
                }
            }
        }
    }
}
