//! `blame --field`: every value of a field, and what each is worth.

use super::super::context::Context;
use super::super::history::named_field;
use super::super::judged::Ran;
use super::super::ui::Ui;
use crate::blame::Estimates;
use crate::blame::levels::levels;
use crate::garage::{Error, Result};
use crate::render::{self, blame_field::Answer};
use crate::schema::Role;

/// Answers it.
pub fn answer(ctx: &Context, ui: &mut Ui, ran: &Ran, estimates: &Estimates, name: &str) -> Result<()> {
    let field = named_field(ran.book, name)?;
    if !matches!(field.role, Role::Set | Role::Described) {
        let kind = if field.role == Role::Note { "a note" } else { "a result: what moves it is judged" };
        return Err(Error::usage(
            format!("{} is no setting but {kind}", field.key),
            format!("its values: slipbook history --field {}", field.key),
        ));
    }
    let tables = levels(&ran.book.schema, &ran.book.sheets(&ran.history.timeline)?, estimates, &field.key);
    if tables.is_empty() {
        return Err(Error::data(format!("{} was never on record", field.key), "slipbook sheet shows what is"));
    }
    let head = ctx.head(&ran.book.car.name);
    let answer = Answer {
        asked: estimates.asked,
        schema: &ran.book.schema,
        field,
        timeline: &ran.history.timeline,
        tables: &tables,
        counted: estimates.used().len(),
        footing: ran.footing,
        allowed: estimates.allowed(),
    };
    ctx.answer(ui, || render::blame_field::json(&head, &answer), || render::blame_field::text(&head, &answer));
    Ok(())
}
