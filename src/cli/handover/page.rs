//! What stands on the page of a handover, from what goes out with it.

use crate::blame::{Ranked, Ranking, Samples, Side};
use crate::cli::context::Context;
use crate::cli::footing::footing;
use crate::cli::judged::{Ran, of_60};
use crate::diff::words::show_doubting;
use crate::garage::{Book, Handed, HandoverTo, History, PartLife, Result, is_of_engine, part_lives};
use crate::pace::FootingOf;
use crate::render::blame::said;
use crate::render::dial::finish_words;
use crate::render::handover_page::{Best, HandoverPage, Start, Told};
use crate::slip::{Beam, Response};
use crate::timeline::Fitted;

/// The page of `book`: what goes out, not what was left out of it.
pub fn page(
    ctx: &Context,
    book: &Book,
    history: &History,
    handed: &Handed,
    to: &HandoverTo,
    left_out: Vec<String>,
) -> Result<HandoverPage> {
    let footing = footing(book, history, FootingOf::Book)?;
    let ran = Ran::new(book, history, &footing);
    let estimates = ran.estimates(of_60())?;
    let ranking = Ranking::new(&estimates, &|key| book.schema.field(key).is_some_and(is_of_engine));
    let parts = part_lives(book, history)?;
    let of = |f: &Fitted| parts.iter().find(|p| p.kind == f.key && crate::schema::same_name(&p.name, &f.name));
    let stays = |f: &Fitted| of(f).is_some_and(|p| p.goes_with == Some(false) || p.gone.is_some());
    let (start, passed) = estimates.start_from(&stays);
    let versions = &history.timeline.versions;
    let number = |v: usize| versions[v].number.to_string();
    let names = |fitted: &mut dyn Iterator<Item = &Fitted>| -> Vec<String> {
        let mut out: Vec<String> = fitted.map(|f| f.name.clone()).collect();
        out.dedup();
        out
    };
    let unsaid = |f: &&Fitted| of(f).is_none_or(|p| p.goes_with.is_none() && p.gone.is_none());
    let samples = Samples::new(&history.timeline, &ran.runs, history.finish_ft(), Response::Time(Beam::Ft60));
    let start = start.map(|v| {
        let sample = samples.of(v);
        Start {
            version: number(v),
            at: versions[v].entry.at,
            runs: sample.n(),
            middle_s: sample.middle().unwrap_or(f64::NAN),
            best_s: sample.least().unwrap_or(f64::NAN),
            one_air: footing.reference.is_some(),
            unsaid: names(&mut versions[v].fitted.iter().filter(unsaid)),
        }
    });
    let told = |r: &Ranked| Told { version: r.version.to_string(), words: r.words.join("; "), said: said(r) };
    let settled = |r: &&Ranked| r.judged.verdict.settled();
    let proven = ranking.settled(Side::Gain).chain(ranking.settled(Side::Loss)).map(told).collect();
    let nothing = ranking.each_once().filter(settled).filter(|r| r.judged.verdict.side().is_none());
    let mut days: Vec<_> = history.days.iter().filter(|d| !d.runs.is_empty()).map(|d| d.date).collect();
    days.extend(versions.first().map(|v| v.entry.at.race_day()).filter(|_| days.is_empty()));
    let part_name = |p: &PartLife| match p.passes() {
        Some(n) => format!("{} ({}, {n} passes)", p.name, p.kind_words),
        None => format!("{} ({})", p.name, p.kind_words),
    };
    let here = parts.iter().filter(|p| p.gone.is_none());
    let of_parts = |goes: Option<bool>| here.clone().filter(|p| p.goes_with == goes).map(part_name).collect::<Vec<_>>();
    Ok(HandoverPage {
        class: book.car.class.clone(),
        at: ctx.hand.now,
        owners: book.car.owners.iter().map(|o| (o.name.clone(), o.since.map(|s| s.to_string()))).collect(),
        versions: versions.len(),
        runs: history.runs.len(),
        span: days.iter().min().copied().zip(days.iter().max().copied()),
        finish: finish_words(history.finish_ft()),
        bests: bests(history, &ran),
        start,
        passed_over: passed.iter().map(|(v, parts)| (number(*v), names(&mut parts.iter()))).collect(),
        on_car: versions.last().map(|v| v.number.to_string()),
        proven,
        no_effect: nothing.map(|r| r.version.to_string()).collect(),
        not_proven: ranking.each_once().filter(|r| !settled(r)).map(told).collect(),
        not_judged: ranking.not_judged.iter().filter(|n| n.why == crate::blame::NotJudged::NeverRun).count(),
        weighed: weighed(book, history)?,
        along: of_parts(Some(true)),
        stays: of_parts(Some(false)),
        unsaid: of_parts(None),
        left_out,
        id: handed.contents.id,
        file: to.target.path.file_name().unwrap_or_default().to_string_lossy().into_owned(),
    })
}

/// The best number of each kind, as run, of runs clean to there.
fn bests(history: &History, ran: &Ran) -> Vec<Best> {
    let finish = history.finish_ft();
    let mut out = Vec::new();
    for response in [Response::Time(Beam::Ft60), Response::Et, Response::Mph] {
        let numbers = ran.runs.iter().filter(|s| !s.unsure && s.day.finish_ft == finish);
        let numbers = numbers.filter_map(|s| Some((s, s.raw(response, finish)?)));
        let best = match response.is_speed() {
            true => numbers.max_by(|a, b| a.1.total_cmp(&b.1)),
            false => numbers.min_by(|a, b| a.1.total_cmp(&b.1)),
        };
        let Some((seen, x)) = best else { continue };
        out.push(Best {
            what: format!("{} {x:.*}", response.label(), response.decimals()),
            at: seen.run.at,
            track: seen.day.track.clone(),
            version: history.timeline.versions[seen.version].number.to_string(),
        });
    }
    out
}

/// What the sheet on the car says of how it was weighed: the fields that are marked for it.
fn weighed(book: &Book, history: &History) -> Result<Vec<(String, String)>> {
    let Some(now) = history.timeline.now() else { return Ok(Vec::new()) };
    let sheet = book.sheet(now)?;
    let marked = book.schema.fields.iter().filter(|f| f.handover);
    let told = marked.filter_map(|f| {
        let value = sheet.get(&f.key)?;
        Some((f.label.clone(), show_doubting(&book.schema, f, value, sheet.doubt(&f.key))))
    });
    Ok(told.collect())
}
