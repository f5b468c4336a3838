//! `cars`: the garage.

use super::context::Context;
use super::ui::Ui;
use crate::garage::{Book, Result, now};
use crate::render::{self, cars::CarTold};
use crate::slip::Moment;
use clap::Args;

/// List the cars of the garage, or make one the current car
#[derive(Debug, Args)]
#[command(verbatim_doc_comment)]
pub struct CarsArgs {
    /// The car to make current
    #[arg(value_name = "NAME")]
    name: Option<String>,
}

/// Runs the command.
pub fn run(ctx: &Context, ui: &mut Ui, args: &CarsArgs) -> Result<()> {
    if let Some(name) = &args.name {
        let folder = ctx.find_car(name)?;
        let mut settings = ctx.garage.settings()?;
        settings.current = Some(folder);
        ctx.garage.remember(&settings)?;
    }
    let current = ctx.garage.settings()?.current;
    let mut cars = Vec::new();
    for folder in ctx.garage.folders()? {
        let is_current = current.as_ref() == Some(&folder);
        let opened =
            Book::open(&ctx.garage.car_dir(&folder)).and_then(|b| Ok((now(&b.store, &b.schema, b.store.head()?)?, b)));
        cars.push(match opened {
            Ok((on, book)) => {
                let last = book.store.head()?.map(|h| book.store.commit(h)).transpose()?;
                CarTold {
                    folder,
                    name: Ok(book.car.name.clone()),
                    template: book.car.template.clone(),
                    version: on.number.to_string(),
                    last: last
                        .map(|c| Moment { seconds: c.authored.seconds, offset_seconds: c.authored.offset_seconds }),
                    current: is_current,
                }
            }
            Err(e) => CarTold {
                folder,
                name: Err(e.to_string()),
                template: String::new(),
                version: String::new(),
                last: None,
                current: is_current,
            },
        });
    }
    let dir = ctx.garage.dir().display().to_string();
    let head = ctx.head(&dir);
    ctx.answer(ui, || render::cars::json(&dir, &cars), || render::cars::text(&head, &cars));
    Ok(())
}
