//! A car's story in a few lines: what to start from, what it came to, what is not proven. From the estimates of `blame`.

use super::footing::{FootingArgs, footing};
use super::judged::{Ran, of_60};
use crate::blame::{Ranked, Ranking, Side, spot};
use crate::garage::{Book, History, LeftOut, PartLife, Result, is_of_engine, part_lives};
use crate::render::receive::{Start, Story, Tried};
use crate::schema::same_name;
use crate::slip::{Beam, Response};
use crate::stats::Sample;
use crate::timeline::Fitted;

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
    let parts = part_lives(book, history)?;
    let of = |f: &Fitted| parts.iter().find(|p| p.kind == f.key && same_name(&p.name, &f.name));
    let stays = |f: &Fitted| of(f).is_some_and(PartLife::stays);
    let (start, passed) = estimates.start_from(0, &stays);
    let start = start.map(|v| {
        // The numbers are of the runs that are counted: all that count on this setup, whatever their version.
        let on: Vec<_> = estimates.on_setup(v).map(|r| ran.runs[r]).collect();
        let of = |r: Response| spot(&Sample::new(on.iter().filter_map(|s| s.number(r, finish_ft))), false);
        Start {
            version: versions[v].number.clone(),
            runs: on.len(),
            ft60: of(Response::Time(Beam::Ft60)),
            et: of(Response::Et),
            one_air: footing.reference.is_some(),
        }
    });
    let passed = passed.into_iter().next();
    let passed = passed.map(|(v, stay)| (versions[v].number.clone(), each_once(stay.into_iter().map(|f| f.name))));

    let line = |r: &Ranked| Tried {
        version: r.version.clone(),
        words: short(&r.words),
        said: crate::render::blame::said(r),
        evidence: r.judged.verdict,
        effect_s: r.judged.effect.value,
    };
    let told = |all: Vec<&Ranked>| all.into_iter().take(MOST).map(line).collect();
    Ok(Some(Story {
        versions: versions.len(),
        runs: history.runs.len(),
        before: book.shortened(),
        left_out: book.left_out().map(LeftOut::words).unwrap_or_default(),
        finish_ft,
        first: history.runs.first().map_or(versions[0].entry.at, |m| m.run.at),
        last: history.runs.last().map_or(on_car.entry.at, |m| m.run.at),
        passed,
        start,
        came_to: told(ranking.proven(Side::Gain)),
        not_proven: told(ranking.open()),
        leave_alone: told(ranking.proven(Side::Loss)),
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

/// Names, each once: two of a pair have one.
fn each_once(names: impl Iterator<Item = String>) -> Vec<String> {
    names.fold(Vec::new(), |mut out, name| {
        if !out.iter().any(|n| same_name(n, &name)) {
            out.push(name);
        }
        out
    })
}

#[cfg(test)]
mod tests {
    use super::each_once;

    #[test]
    fn a_pair_of_one_name_is_named_once() {
        let names = ["five leaf", "pair B", "Five leaf"].map(str::to_owned);
        assert_eq!(each_once(names.into_iter()), ["five leaf", "pair B"]);
    }
}
