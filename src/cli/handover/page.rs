//! What stands on the page of a handover, from what goes out with it.

use crate::blame::{Ranked, Ranking, Samples, Side};
use crate::check::{Judged, check};
use crate::cli::context::Context;
use crate::cli::footing::footing;
use crate::cli::gather::{Looked, With};
use crate::cli::judged::{Ran, of_60};
use crate::cli::ui::Ui;
use crate::diff::words::show_doubting;
use crate::figures::Wanted;
use crate::garage::{
    Book, ContentId, HandoverTo, History, LeaveOut, LeftOut, LimitTold, NOT_ALONG, PartLife, Result, is_of_engine,
    part_lives,
};
use crate::pace::FootingOf;
use crate::render::blame::{doubts, said};
use crate::render::dial::finish_words;
use crate::render::handover_page::{BeatenBy, Before, Best, HandoverPage, Passed, Start, Told};
use crate::render::part::counted_passes;
use crate::schema::{Severity, same_name};
use crate::slip::{Beam, Day, Response};
use crate::timeline::Fitted;

/// What the page is made from.
pub struct Of<'a> {
    /// The whole book: what is said of setups and changes comes from all of it.
    pub book: &'a Book,
    /// Its record.
    pub history: &'a History,
    /// What goes out: the book, or a rewritten copy.
    pub gone: &'a Book,
    /// The record that goes out.
    pub told: &'a History,
    /// What does not go along.
    pub out: &'a LeaveOut,
    /// The same in words.
    pub left_out: Vec<String>,
    /// What is kept all the same, in words.
    pub kept: Vec<String>,
}

/// The page: judged by the whole book, told in the words of what goes out.
pub fn page(ctx: &Context, ui: &mut Ui, of: Of, id: ContentId, to: &HandoverTo) -> Result<HandoverPage> {
    let Of { book, history, gone, told, out, .. } = of;
    let footing = footing(book, history, FootingOf::Book)?;
    let ran = Ran::new(book, history, &footing);
    let estimates = ran.estimates(of_60())?;
    let ranking = Ranking::new(&estimates, &|key| book.schema.field(key).is_some_and(is_of_engine));
    let lives = part_lives(book, history)?;
    let part = |f: &Fitted| lives.iter().find(|p| p.kind == f.key && same_name(&p.name, &f.name));
    let stays = |f: &Fitted| part(f).is_some_and(PartLife::stays);
    let unsaid = |f: &Fitted| part(f).is_none_or(|p| p.goes_with.is_none() && p.gone.is_none());
    let versions = &history.timeline.versions;
    let from = out.before.unwrap_or(0);
    let number = |v: usize| versions[v].number.to_string();
    let names = |fitted: &[Fitted]| -> Vec<String> {
        let name = |f: &Fitted| if out.fields.contains(&f.key) { HIDDEN.to_owned() } else { f.name.clone() };
        let mut names: Vec<String> = fitted.iter().map(name).collect();
        names.dedup();
        names
    };
    let (start, passed) = estimates.start_from(from, &stays);
    let samples = Samples::new(&history.timeline, &ran.runs, history.finish_ft(), Response::Time(Beam::Ft60));
    let passed = passed.into_iter().map(|(v, parts)| {
        let against = start.and_then(|s| estimates.compare(s, v)).map(|j| j.verdict.apart(false));
        Passed { version: number(v), parts: names(&parts), against }
    });
    let passed_over = passed.collect();
    // Of the whole book, where the file begins later and has it not.
    let whole = estimates.start_from(0, &stays).0.filter(|w| *w < from);
    let beaten_by = whole.map(|w| {
        let against = start.and_then(|s| estimates.compare(w, s)).map(|j| j.verdict);
        let own = start.and_then(|s| ranking.each_once().find(|r| r.index.1 == s));
        let own = own.filter(|r| r.judged.verdict.side() == Some(Side::Loss));
        BeatenBy {
            version: number(w),
            against: against.map(|v| v.apart(false)),
            own_change: own.map(said),
            no_start: own.is_some() || against.is_some_and(|v| v.side() == Some(Side::Loss)),
        }
    });
    let start = start.map(|v| {
        let sample = samples.of(v);
        let one_setup = |s: &&crate::pace::Seen| samples.setup(s.version) == samples.setup(v);
        let timed = |s: &&crate::pace::Seen| s.number(Response::Time(Beam::Ft60), history.finish_ft()).is_some();
        let on_it = || ran.runs.iter().filter(|s| !s.unsure).filter(one_setup).filter(timed);
        let along = on_it().filter(|s| s.version >= from).count();
        let days = || on_it().map(|s| s.day.date);
        let others = (0..versions.len()).filter(|i| *i != v && samples.setup(*i) == samples.setup(v));
        let unsaid: Vec<Fitted> = versions[v].fitted.iter().filter(|f| unsaid(f)).cloned().collect();
        Start {
            version: number(v),
            at: versions[v].entry.at,
            with: others.map(number).collect(),
            runs: sample.n(),
            ran: days().min().zip(days().max()),
            runs_in_file: out.before.map(|_| along),
            middle_s: sample.middle().unwrap_or(f64::NAN),
            best_s: sample.least().unwrap_or(f64::NAN),
            one_air: footing.reference.is_some(),
            unsaid: names(&unsaid),
        }
    });
    let changes = Changes { gone, history, told, out, ranking: &ranking };
    let (mut proven, mut no_effect, mut not_proven) = (Vec::new(), Vec::new(), Vec::new());
    let nothing = ranking.each_once().filter(|r| r.judged.verdict.settled() && r.judged.verdict.side().is_none());
    let all = [ranking.proven(Side::Gain), ranking.proven(Side::Loss), nothing.collect(), ranking.open()].concat();
    for r in all.into_iter().filter(|r| r.index.1 > from) {
        let Some(said) = changes.told(r) else { continue };
        match (said.mixed, r.judged.verdict.settled(), r.judged.verdict.side()) {
            (false, true, Some(_)) => proven.push(said),
            (false, true, None) => no_effect.push(said),
            _ => not_proven.push(said),
        }
    }
    let moved = |v: &usize| estimates.kept.keys[*v].iter().any(|k| out.fields.contains(k));
    let moved_with = (from + 1..versions.len()).filter(moved).map(number).collect();
    let parts = part_lives(gone, told)?;
    let mut days: Vec<_> = told.days.iter().filter(|d| !d.runs.is_empty()).map(|d| d.date).collect();
    let first = told.timeline.versions.first();
    days.extend(first.map(|v| v.entry.at.race_day()).filter(|_| days.is_empty()));
    // Counted, and held to its limits, by the whole book.
    let whole_life = |p: &PartLife| lives.iter().find(|l| l.kind == p.kind && same_name(&l.name, &p.name));
    let part_name = |p: &PartLife| {
        let life = whole_life(p).unwrap_or(p);
        let mut words = vec![p.kind_words.clone()];
        words.extend(life.passes().map(counted_passes));
        words.extend(life.limits.iter().filter_map(over));
        format!("{} ({})", p.name, words.join(", "))
    };
    let here = parts.iter().filter(|p| p.gone.is_none());
    let of_parts = |goes: Option<bool>| here.clone().filter(|p| p.goes_with == goes).map(part_name).collect::<Vec<_>>();
    let judged = |n: &&crate::blame::Unjudged| {
        n.why == crate::blame::NotJudged::NeverRun && told.timeline.by_number(&n.version).is_some_and(|v| v > 0)
    };
    let cautions = cautions(ctx, ui, &of)?;
    Ok(HandoverPage {
        class: gone.car.class.clone(),
        at: ctx.hand.now,
        owners: gone.car.owners.iter().map(|o| (o.name.clone(), o.since.map(|s| s.to_string()))).collect(),
        versions: told.timeline.versions.len(),
        runs: told.runs.len(),
        before: gone.shortened().map(|b| Before { versions: b.versions, runs: b.runs, judged_by: history.runs.len() }),
        span: days.iter().min().copied().zip(days.iter().max().copied()),
        finish: finish_words(told.finish_ft()),
        bests: bests(history, &ran, from),
        start,
        beaten_by,
        passed_over,
        on_car: versions.last().map(|v| v.number.to_string()),
        proven,
        no_effect,
        not_proven,
        not_judged: ranking.not_judged.iter().filter(judged).count(),
        weighed: weighed(gone, told)?,
        along: of_parts(Some(true)),
        stays: of_parts(Some(false)),
        unsaid: of_parts(None),
        grave: cautions.0,
        cautions: cautions.1,
        moved_with,
        left_out: of.left_out,
        left_out_before: book.left_out().map(LeftOut::words).unwrap_or_default(),
        kept: of.kept,
        id,
        file: to.target.path.file_name().unwrap_or_default().to_string_lossy().into_owned(),
    })
}

/// What is said for a part that stands under a field that was left out.
const HIDDEN: &str = "a part that is left out";

/// What the changes are told with.
struct Changes<'a> {
    gone: &'a Book,
    history: &'a History,
    told: &'a History,
    out: &'a LeaveOut,
    ranking: &'a Ranking,
}

impl Changes<'_> {
    /// A change; none where all of it was left out. Its words are those of the record that goes out.
    fn told(&self, r: &Ranked) -> Option<Told> {
        let hidden = |key: &String| self.out.fields.contains(key);
        if !r.fields.is_empty() && r.fields.iter().all(hidden) {
            return None;
        }
        let mixed = r.fields.iter().any(hidden);
        let words = match self.out.is_nothing() {
            true => r.words.clone(),
            false => {
                let own = self.history.timeline.versions[r.index.0 + 1..=r.index.1].iter();
                let there = own.filter_map(|v| self.told.timeline.by_number(&v.number));
                let words = there.flat_map(|v| self.told.timeline.versions[v].entry.words.iter());
                words.filter(|w| *w != NOT_ALONG).cloned().collect()
            }
        };
        let label = |key: &str| match self.gone.schema.field(key) {
            _ if self.out.fields.contains(key) => HIDDEN_SETTING.to_owned(),
            Some(field) => field.label.clone(),
            None => key.to_owned(),
        };
        let (effect, sides) = (&r.judged.effect, &r.judged.sides);
        Some(Told {
            version: r.version.to_string(),
            words: words.join("; "),
            said: if mixed { MIXED.to_owned() } else { said(r) },
            mixed,
            worth_s: effect.value,
            between_s: (effect.lo95, effect.hi95),
            runs: (sides.without.len(), sides.with.len()),
            doubts: doubts(self.ranking, r, &label),
        })
    }
}

/// What stands for the name of a setting that was left out.
const HIDDEN_SETTING: &str = "what was left out";

/// What is said of a change that moved what was left out as well.
const MIXED: &str = "something left out was changed with it: cannot be told apart";

/// What the check of the whole book says of the car as it stands now, the gravest first; how many can cost much or hurt.
/// What rests on a setting that was left out is counted where it is of safety, and not told.
fn cautions(ctx: &Context, ui: &mut Ui, of: &Of) -> Result<(usize, Vec<String>)> {
    let Some(last) = of.history.timeline.versions.len().checked_sub(1) else { return Ok((0, Vec::new())) };
    let gathered = Looked::at(of.book, of.history, last)?.undated().gather(ctx, ui, With::Nothing)?;
    let judged = check(&gathered.given(of.book, Wanted::default()), &of.gone.car.rules);
    let rests_on = |j: &Judged, key: &String| {
        let of_it = |name: &str| name == key || name.strip_prefix(key.as_str()).is_some_and(|r| r.starts_with('.'));
        j.inputs.iter().any(|i| of_it(&i.name))
    };
    let hidden = |j: &Judged| of.out.fields.iter().any(|key| rests_on(j, key));
    let speaking =
        |severity: Severity| judged.iter().filter(move |j| j.rule.severity == severity && j.speaks().is_some());
    let mut out = Vec::new();
    let unsaid = speaking(Severity::Safety).filter(|j| hidden(j)).count();
    if unsaid > 0 {
        let word = Severity::Safety.word();
        let what = if unsaid == 1 { "one caution is".to_owned() } else { format!("{unsaid} cautions are") };
        out.push(format!("{word}: {what} of what was left out: ask whoever hands it over"));
    }
    let mut grave = 0;
    for severity in [Severity::Safety, Severity::Warning, Severity::Caution] {
        let told = speaking(severity).filter(|j| !hidden(j));
        out.extend(told.filter_map(|j| {
            let words = if of.out.scrub.is_nothing() { j.speaks()?.to_owned() } else { of.out.scrub.text(j.speaks()?) };
            Some(format!("{}: {words}", severity.word()))
        }));
        if severity != Severity::Caution {
            grave = out.len();
        }
    }
    Ok((grave, out))
}

/// "OVER most passes 70: 72 passes".
fn over(limit: &LimitTold) -> Option<String> {
    let passed = limit.passed.as_ref()?;
    Some(format!("OVER its {} of {}: {passed}", limit.label, limit.words))
}

/// The best number of each kind, as run, of runs clean to there.
fn bests(history: &History, ran: &Ran, from: usize) -> Vec<Best> {
    let finish = history.finish_ft();
    let mut out = Vec::new();
    for response in [Response::Time(Beam::Ft60), Response::Et, Response::Mph] {
        let numbers = ran.runs.iter().filter(|s| s.version >= from && !s.unsure && s.day.finish_ft == finish);
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
            wind: wind(seen.day),
        });
    }
    out
}

/// The wind on record for a day, in words; a tail wind flatters.
fn wind(day: &Day) -> Option<String> {
    let read: Vec<f64> = day.readings.iter().filter_map(|r| Some(r.numbers.get("head_wind")?.to_f64())).collect();
    let (least, most) = (read.iter().copied().reduce(f64::min)?, read.iter().copied().reduce(f64::max)?);
    let words = |mph: f64| match mph.round() {
        0.0 => "none".to_owned(),
        mph if mph < 0.0 => format!("tail {:.0} mph", -mph),
        mph => format!("head {mph:.0} mph"),
    };
    let (least, most) = (words(least), words(most));
    Some(if least == most { format!("wind that day {least}") } else { format!("wind that day {least} to {most}") })
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
