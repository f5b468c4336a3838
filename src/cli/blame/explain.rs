//! `blame --explain`: everything a verdict rests on.

use super::super::context::Context;
use super::super::footing::version_meant;
use super::super::judged::Ran;
use super::super::ui::Ui;
use crate::blame::{Estimates, Explanation, Ranking};
use crate::garage::{Error, Result};
use crate::render::{self, blame_explain::Told};

/// Says why one version is judged as it is, or why it is not judged.
pub fn run(
    ctx: &Context,
    ui: &mut Ui,
    ran: &Ran,
    (estimates, ranking): (&Estimates, &Ranking),
    name: &str,
    all_runs: bool,
) -> Result<()> {
    let version = version_meant(ctx, ran.book, ran.history, name)?;
    let head = ctx.head(&ran.book.car.name);
    let label = |key: &str| ran.book.schema.field(key).map_or_else(|| key.to_owned(), |f| f.label.clone());
    let change = ranking.changes.iter().find(|r| r.index.1 == version);
    let explanation = change.and_then(|r| Explanation::new(&ran.input(), estimates, r.clone()));
    if change.is_some() && explanation.is_none() {
        let help = "slipbook's folder of what can be rebuilt may be deleted at any time; nothing was changed";
        return Err(Error::data("the fit that was kept is not of this book's runs", help));
    }
    let told =
        Told { estimates, ranking, version, explanation: explanation.as_ref(), footing: ran.footing, label: &label };
    ctx.answer(
        ui,
        || render::blame_explain::json(&head, &told),
        || render::blame_explain::text(&head, &told, all_runs),
    );
    Ok(())
}
