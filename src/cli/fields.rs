//! `fields`: what can stand on a sheet.

use super::context::Context;
use super::ui::Ui;
use crate::garage::{Error, Result};
use crate::render;
use crate::schema::{Field, Schema, schema};
use clap::Args;

/// Search the field definitions: labels, keys, help
#[derive(Debug, Args)]
#[command(verbatim_doc_comment)]
pub struct FieldsArgs {
    /// Words that must all be there; a key shows one field whole
    #[arg(value_name = "TEXT")]
    text: Vec<String>,
    /// Fields of every chassis, not only of the car at hand
    #[arg(long)]
    all: bool,
}

/// Runs the command. Works without a book too.
pub fn run(ctx: &Context, ui: &mut Ui, args: &FieldsArgs) -> Result<()> {
    let book = match ctx.book() {
        Ok(book) => Some(book),
        Err(Error::Usage { .. }) if ctx.car.is_none() => None,
        Err(e) => return Err(e),
    };
    let definitions: &Schema = book.as_ref().map_or(schema(), |b| &b.schema);
    let chassis = book.as_ref().map_or(&[][..], |b| b.car.chassis());
    let text = args.text.join(" ");
    let exact = definitions.field(&text).map(|f| vec![f]);
    let mut found: Vec<&Field> = exact.unwrap_or_else(|| definitions.search(&text));
    if !args.all {
        found.retain(|f| f.on_chassis(chassis) || f.key == text);
    }
    if found.is_empty() {
        let near = definitions.nearest(&text, 4).join(", ");
        let help =
            if near.is_empty() { "fewer words, or --all".to_owned() } else { format!("nearest: {near}; or --all") };
        return Err(Error::usage(format!("no field speaks of `{text}`"), help));
    }
    let head = ctx.head(book.as_ref().map_or("every car", |b| &b.car.name));
    let asked = (!text.is_empty()).then_some(text.as_str());
    ctx.answer(ui, || render::fields::json(&found), || render::fields::text(&head, definitions, &found, asked));
    Ok(())
}
