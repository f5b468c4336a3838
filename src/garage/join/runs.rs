//! The runs of both sides: each survives, as it was put right on either, on the sheet of the joined line.

use super::super::Result;
use super::super::mend::what_differs;
use super::choice::{Choice, Told};
use super::days::Group;
use super::side::Side;
use super::wrote::Written;
use crate::schema::{Num, RunWords};
use crate::slip::Run;
use crate::timeline::{Places, VersionNumber};
use std::collections::{BTreeSet, HashMap};

/// A run with the day it stands in.
pub(super) struct Placed {
    /// The run, on its sheet.
    pub run: Run,
    /// Index of its day's group.
    pub group: usize,
}

/// Where a run stands in a book: its group, the run, the version it was put on by name.
struct Known<'a> {
    group: usize,
    run: &'a Run,
    by_name: Option<VersionNumber>,
}

/// The runs of one book, by id; of one id twice (by hand) each by its place.
type Runs<'a> = HashMap<(&'a str, usize), Known<'a>>;

fn runs_of<'a>(side: &'a Side, group_of: &HashMap<usize, usize>) -> Runs<'a> {
    let timeline = &side.live.before.timeline;
    let mut out = Runs::new();
    let mut versions = timeline.of_runs(side.days.iter().flat_map(|(_, day, _)| &day.runs)).into_iter();
    for (i, (_, day, _)) in side.days.iter().enumerate() {
        for (run, was) in day.runs.iter().zip(&mut versions) {
            let named = was.filter(|v| timeline.at(run.at) != Some(*v));
            let by_name = named.map(|v| side.number_now(&timeline.versions[v].number));
            let mut nth = 0;
            while out.contains_key(&(run.id.as_str(), nth)) {
                nth += 1;
            }
            out.insert((&run.id, nth), Known { group: group_of.get(&i).copied().unwrap_or(0), run, by_name });
        }
    }
    out
}

/// All runs, each once.
pub(super) fn merge_runs(
    words: &RunWords,
    sides: &[Side; 2],
    bases: &[Side],
    groups: &[Group],
    places: &Places,
    choice: &mut Choice,
) -> Result<Vec<Placed>> {
    let of_side = |s: usize| groups.iter().enumerate().filter_map(|(g, m)| Some((m.sides[s]?, g))).collect();
    let of_base = |b: usize| groups.iter().enumerate().filter_map(|(g, m)| Some((m.bases[b]?, g))).collect();
    let known = [runs_of(&sides[0], &of_side(0)), runs_of(&sides[1], &of_side(1))];
    let before: Vec<Runs> = bases.iter().enumerate().map(|(b, side)| runs_of(side, &of_base(b))).collect();
    let ids: BTreeSet<(&str, usize)> = known.iter().flat_map(|k| k.keys().copied()).collect();
    let mut out = Vec::new();
    for id in ids {
        let was: Vec<&Known> = before.iter().filter_map(|b| b.get(&id)).collect();
        // Where both were joined in two ways before, what only one of those had has no say.
        let was = if was.len() == before.len() { was } else { Vec::new() };
        let pair = [known[0].get(&id), known[1].get(&id)];
        let written = |of: &dyn Fn(&Run) -> String| [0, 1].map(|s| sides[s].log().run(id.0, of));
        let (mut run, group, by_name) = match pair {
            [Some(a), Some(b)] => {
                let at = a.run.at.words(None);
                let told = |what: String, said: [String; 2], of: &dyn Fn(&Run) -> String| Told {
                    about: what,
                    said,
                    written: written(of),
                };
                let groups: Vec<&usize> = was.iter().map(|k| &k.group).collect();
                let group = choice.side(&groups, [&a.group, &b.group], || {
                    let said = [a, b].map(|k| k.run.at.words(None));
                    told(format!("the day of the run of {at}"), said, &|r| format!("{:?}", r.at))
                });
                let names: Vec<_> = was.iter().map(|k| &k.by_name).collect();
                let name_words =
                    |k: &Known| k.by_name.as_ref().map_or("the version of its time".to_owned(), ToString::to_string);
                let name = choice.side(&names, [&a.by_name, &b.by_name], || {
                    let said = [name_words(a), name_words(b)];
                    told(format!("what the run of {at} was made on"), said, &|r| r.on.clone())
                });
                let old: Vec<&Run> = was.iter().map(|k| k.run).collect();
                let run = merge_run(words, &old, [a.run, b.run], &written, choice);
                let pair = [a, b];
                (run, pair[group].group, pair[name].by_name.clone())
            }
            [Some(one), None] | [None, Some(one)] => {
                let side = usize::from(pair[0].is_none());
                if !was.is_empty() {
                    if was.iter().all(|k| same(k.run, one.run)) {
                        continue;
                    }
                    let fixed = what_differs(words, was[0].run, one.run);
                    let mut said = ["it was never made".to_owned(), "it was never made".to_owned()];
                    said[side] = format!("it was put right{fixed}");
                    let about = format!("the run of {}", one.run.at.words(None));
                    let written = written(&|r| format!("{:?}", bare(r)));
                    if choice.ask(Told { about, said, written }) != side {
                        continue;
                    }
                }
                (one.run.clone(), one.group, one.by_name.clone())
            }
            [None, None] => continue,
        };
        link(&mut run, pair.map(|k| k.map(|k| k.run)), by_name.as_ref(), places);
        out.push(Placed { run, group });
    }
    Ok(out)
}

/// The run apart from the sheet it is linked to.
fn bare(run: &Run) -> Run {
    Run { on: String::new(), setup: String::new(), setup_was: None, ..run.clone() }
}

fn same(a: &Run, b: &Run) -> bool {
    bare(a) == bare(b)
}

/// Puts the run on its sheet; the first link it ever had is kept.
fn link(run: &mut Run, pair: [Option<&Run>; 2], by_name: Option<&VersionNumber>, places: &Places) {
    let place = by_name.and_then(|n| places.end_of(n)).or_else(|| places.at(run.at)).or(places.0.first());
    let Some(place) = place else { return };
    let first = pair.iter().flatten().map(|r| r.setup_was.as_ref().unwrap_or(&r.setup)).min().cloned();
    run.on = place.number.to_string();
    run.setup.clone_from(&place.blob);
    run.setup_was = first.filter(|f| *f != run.setup);
}

/// What was put right on either side, number by number.
fn merge_run(words: &RunWords, old: &[&Run], pair: [&Run; 2], written: Written<'_, Run>, choice: &mut Choice) -> Run {
    if same(pair[0], pair[1]) {
        return pair[0].clone();
    }
    let mut out = pair[0].clone();
    let at = pair[0].at.words(None);
    let told = |what: &str, said: [String; 2], of: &dyn Fn(&Run) -> String| Told {
        about: format!("the run of {at}: {what}"),
        said,
        written: written(of),
    };
    let times: Vec<_> = old.iter().map(|r| &r.at).collect();
    let right = choice.side(&times, [&pair[0].at, &pair[1].at], || {
        told("its time", pair.map(|r| r.at.words(None)), &|r| format!("{:?}", r.at))
    });
    out.at = pair[right].at;
    let names: BTreeSet<&String> = pair.iter().flat_map(|r| r.numbers.keys()).collect();
    for name in names {
        let of = |r: &Run| r.numbers.get(name).copied();
        let was: Vec<Option<Num>> = old.iter().map(|r| of(r)).collect();
        let def = words.number.iter().find(|d| d.name == *name);
        let show =
            |n: Option<Num>| n.map_or("none".to_owned(), |n| def.map_or(n.to_string(), |d| n.show(d.decimals, 6)));
        let right = choice.side_of_some(&was.iter().collect::<Vec<_>>(), [&of(pair[0]), &of(pair[1])], || {
            told(def.map_or(name, |d| &d.label), pair.map(|r| show(of(r))), &|r| format!("{:?}", of(r)))
        });
        match of(pair[right]) {
            Some(n) => drop(out.numbers.insert(name.clone(), n)),
            None => drop(out.numbers.remove(name)),
        }
    }
    let mut text = |what: &str, of: &dyn Fn(&Run) -> Option<String>| {
        let was: Vec<Option<String>> = old.iter().map(|r| of(r)).collect();
        let (a, b) = (of(pair[0]), of(pair[1]));
        let right = choice.side_of_some(&was.iter().collect::<Vec<_>>(), [&a, &b], || {
            let said = [&a, &b].map(|t| t.clone().unwrap_or_else(|| "none".to_owned()));
            told(what, said, &|r| format!("{:?}", of(r)))
        });
        of(pair[right])
    };
    out.lane = text("lane", &|r| r.lane.clone());
    out.round = text("round", &|r| r.round.clone());
    out.staged = text("staged", &|r| r.staged.clone());
    out.psi_taken = text("when its pressures were taken", &|r| r.psi_taken.clone());
    out.note = text("note", &|r| r.note.clone());
    let clean = |r: &Run| (r.clean_to, r.why_not.clone());
    let was: Vec<_> = old.iter().map(|r| clean(r)).collect();
    let clean_words = |r: &Run| {
        let to = r.clean_to.map_or("clean to the finish".to_owned(), |to| format!("clean to {to} ft"));
        std::iter::once(to).chain(r.why_not.clone()).collect::<Vec<_>>().join(", ")
    };
    let right = choice.side(&was.iter().collect::<Vec<_>>(), [&clean(pair[0]), &clean(pair[1])], || {
        told("how far it was clean", pair.map(clean_words), &|r| format!("{:?}", clean(r)))
    });
    (out.clean_to, out.why_not) = clean(pair[right]);
    let listed = |all: &[String]| if all.is_empty() { "nothing".to_owned() } else { all.join(", ") };
    let did: Vec<_> = old.iter().map(|r| &r.did).collect();
    let right = choice.side(&did, [&pair[0].did, &pair[1].did], || {
        told("what the car did", pair.map(|r| listed(&r.did)), &|r| format!("{:?}", r.did))
    });
    out.did.clone_from(&pair[right].did);
    let shifts: Vec<_> = old.iter().map(|r| &r.shifts).collect();
    let right = choice.side(&shifts, [&pair[0].shifts, &pair[1].shifts], || {
        let said = pair.map(|r| listed(&r.shifts.iter().map(Num::to_string).collect::<Vec<_>>()));
        told("its shifts", said, &|r| format!("{:?}", r.shifts))
    });
    out.shifts.clone_from(&pair[right].shifts);
    out
}
