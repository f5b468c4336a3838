//! A car's story in a few lines: what to start from, what it came to, what is not proven. From the estimates of `blame`.

use super::footing::{FootingArgs, footing, seen};
use super::judged::{Ran, of_60};
use crate::blame::{Ranked, Ranking, Side, told};
use crate::garage::{Book, History, Result, is_of_engine, part_lives};
use crate::render::receive::{Start, Story, Tried};
use crate::schema::{names_on, same_name};

/// So many changes of a kind are told.
const MOST: usize = 2;

/// Tells it; `None` where the book has no version.
pub fn story(book: &Book, history: &History) -> Result<Option<Story>> {
    let versions = &history.timeline.versions;
    let Some(on_car) = versions.last() else { return Ok(None) };
    let footing = footing(book, history, FootingArgs::default().of(history, None)?)?;
    let ran = Ran::new(book, history, &footing);
    let estimates = ran.estimates(of_60())?;
    let engine = |key: &str| book.schema.field(key).is_some_and(is_of_engine);
    let ranking = Ranking::new(&estimates, &engine);
    let finish_ft = history.finish_ft();
    let numbers = told(&history.timeline, &seen(history, &footing), finish_ft, &estimates);

    let stays = staying(book, history)?;
    let mut passed = None;
    let mut start = None;
    for v in estimates.quickest_first() {
        let sheet = book.sheet(&versions[v])?;
        let names = |kind| names_on(kind, &sheet).into_iter().flatten().map(|n| (kind.key.clone(), n.to_owned()));
        let missing: Vec<String> = book
            .schema
            .part_kinds()
            .flat_map(names)
            .filter(|(kind, name)| stays.iter().any(|(k, n)| k == kind && same_name(n, name)))
            .map(|(_, name)| name)
            .collect();
        if missing.is_empty() {
            let (number, told) = (versions[v].number.clone(), &numbers[v]);
            let runs = estimates.on_setup(v).count();
            start = Some(Start { version: number, runs, ft60: told.ft60, et: told.et });
            break;
        }
        passed.get_or_insert((versions[v].number.clone(), missing));
    }

    let line = |r: &&Ranked| Tried {
        version: r.version.clone(),
        words: short(&r.words),
        said: crate::render::blame::said(r),
        evidence: r.judged.verdict,
        effect_s: r.judged.effect.value,
    };
    let mut losses: Vec<&Ranked> = ranking.settled(Side::Loss).collect();
    losses.reverse();
    let mut open: Vec<&Ranked> = ranking.each_once().filter(|r| !r.judged.verdict.settled()).collect();
    let weight = |r: &Ranked| r.judged.effect.p_gain.max(r.judged.effect.p_loss);
    open.sort_by(|a, b| weight(b).total_cmp(&weight(a)).then(b.index.cmp(&a.index)));
    Ok(Some(Story {
        versions: versions.len(),
        runs: history.runs.len(),
        finish_ft,
        first: versions[0].entry.at,
        last: history
            .runs
            .last()
            .map(|m| m.run.at)
            .into_iter()
            .chain([on_car.entry.at])
            .max()
            .unwrap_or(on_car.entry.at),
        passed,
        start,
        came_to: ranking.settled(Side::Gain).take(MOST).collect::<Vec<_>>().iter().map(line).collect(),
        not_proven: open.iter().take(MOST).map(line).collect(),
        leave_alone: losses.iter().take(MOST).map(line).collect(),
        on_car: on_car.number.clone(),
        same_setup: estimates.setup(versions.len() - 1),
        setups: (0..versions.len()).map(|v| (versions[v].number.clone(), estimates.setup(v))).collect(),
    }))
}

/// The first words of a change; how many more there are.
fn short(words: &[String]) -> Vec<String> {
    const TOLD: usize = 2;
    let more = words.len().saturating_sub(TOLD);
    let more = (more > 0).then(|| format!("and {more} more"));
    words.iter().take(TOLD).cloned().chain(more).collect()
}

/// Kind and name of the parts that do not go along, or are gone.
fn staying(book: &Book, history: &History) -> Result<Vec<(String, String)>> {
    let parts = part_lives(book, history)?.into_iter();
    Ok(parts.filter(|p| p.goes_with == Some(false) || p.gone.is_some()).map(|p| (p.kind, p.name)).collect())
}
