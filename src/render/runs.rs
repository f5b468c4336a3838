//! Runs in a table: by day, or by version.

use super::layout::{Head, counted};
use super::run::run_json;
use crate::garage::{History, Made};
use crate::pace::{Footing, Seen, conditions};
use crate::slip::{Beam, Day, Response};
use serde_json::{Value as Json, json};

/// As text.
pub fn text(
    head: &Head,
    history: &History,
    runs: &[&Made],
    by_version: bool,
    left_out: usize,
    footing: &Footing,
) -> String {
    let mut page = head.page(&format!("{} of {}", counted(runs.len(), "run"), history.runs.len()));
    let mut groups: Vec<(usize, Vec<&Made>)> = Vec::new();
    for made in runs {
        let key = if by_version { made.version } else { made.day };
        match groups.iter_mut().find(|(k, _)| *k == key) {
            Some((_, list)) => list.push(made),
            None => groups.push((key, vec![made])),
        }
    }
    if by_version {
        groups.sort_by_key(|(k, _)| *k);
    }
    for (key, list) in groups {
        page.gap();
        if by_version {
            let v = &history.timeline.versions[key];
            page.wrap(&format!("{}  ", v.number), &v.entry.words.join(", "));
        } else {
            let day = &history.days[key];
            let prep = day.prep.as_ref().map(|p| format!(", {p}")).unwrap_or_default();
            let high = day.elevation_ft.map(|e| format!(", elevation {e} ft")).unwrap_or_default();
            page.wrap("", &format!("{}  {}, {} ft{prep}{high}", head.day(day.date), day.track, day.finish_ft));
            let of: Vec<Seen> = list
                .iter()
                .map(|m| Seen { run: &m.run, day: &history.days[m.day], version: m.version, unsure: m.unsure, footing })
                .collect();
            let made_in = conditions(&of);
            // The track and its elevation stand above.
            let made_in = crate::pace::Conditions { elevation_ft: None, tracks: Vec::new(), ..made_in };
            if let Some(words) = super::footing::conditions(&made_in) {
                page.wrap("  ", &words);
            }
        }
        let finish = list.iter().map(|m| history.days[m.day].finish_ft).max().unwrap_or(1320);
        // Narrower screens show fewer splits, the finish and the 60 ft to the last.
        let width = page.width();
        let shown = |b: &Beam| match b.feet() {
            feet if feet == finish || feet == 60 => true,
            660 => width >= 56,
            _ => width >= 76,
        };
        let beams: Vec<Beam> = Beam::ALL.into_iter().filter(|b| b.feet() <= finish && shown(b)).collect();
        let speed = |b: Beam, finish: u32| speed(b, finish).filter(|_| b.feet() == finish || width >= 76);
        let mut header = vec![if by_version { "when".to_owned() } else { "time".to_owned() }];
        header.extend((!by_version).then(|| "on".to_owned()));
        header.push("lane".to_owned());
        for b in &beams {
            header.push(b.feet().to_string());
            header.extend(speed(*b, finish).map(|_| "mph".to_owned()));
        }
        header.push(String::new());
        let right: Vec<usize> = (if by_version { 2 } else { 3 }..header.len() - 1).collect();
        let mut rows = vec![header];
        for made in &list {
            let run = &made.run;
            let mut row =
                vec![if by_version { head.when(run.at) } else { run.at.civil().strftime("%H:%M").to_string() }];
            // Made while something changed at an unknown moment.
            let unsure = if made.unsure { "?" } else { "" };
            row.extend((!by_version).then(|| format!("{}{unsure}", run.on)));
            row.push(run.lane.as_deref().map_or("", |l| if l == "left" { "L" } else { "R" }).to_owned());
            for b in &beams {
                row.push(run.time(*b).map(|t| t.fixed(3)).unwrap_or_default());
                row.extend(speed(*b, finish).map(|k| run.num(k).map(|v| v.fixed(2)).unwrap_or_default()));
            }
            let mut words: Vec<String> = run.clean_to.map(|f| super::run::clean_words(run, f)).into_iter().collect();
            words.extend(run.num("reaction").filter(|r| *r < crate::schema::Num::ZERO).map(|_| "red light".to_owned()));
            words.extend(run.did.iter().filter(|d| !(run.clean_to.is_some() && d.starts_with("spun"))).cloned());
            row.push(words.join(", "));
            rows.push(row);
            rows.extend(carried_row(history, made, &beams, &|b| speed(b, finish), by_version, footing));
        }
        page.table(&rows, &right);
    }
    page.gap();
    if runs.iter().any(|m| m.unsure) {
        page.wrap("", "?: made in a window in which something changed; counts for neither side");
    }
    let pairs = runs.iter().map(|m| (&m.run, &history.days[m.day]));
    let foot = super::footing::foot(footing, "Lines marked = are", runs.len(), footing.without_air(pairs));
    let raw = footing.reference.is_none();
    page.wrap("", if raw { "As run, not in one air: no run has air on record." } else { &foot });
    if !raw {
        page.line("The arithmetic of one run: runs --explain \"jul 11 14:15\"");
    }
    if left_out > 0 {
        page.wrap("", &format!("{left_out} older: runs --all   one version: runs v12   one day: runs jul 11"));
    }
    page.text()
}

/// The run's clean numbers in one air, below those of the slip.
fn carried_row(
    history: &History,
    made: &Made,
    beams: &[Beam],
    speed: &dyn Fn(Beam) -> Option<&'static str>,
    by_version: bool,
    footing: &Footing,
) -> Option<Vec<String>> {
    footing.reference?;
    let day = &history.days[made.day];
    let carry = |response: Response, raw: crate::schema::Num, decimals: usize| {
        format!("{:.decimals$}", footing.carried(&made.run, day, response, raw.to_f64()))
    };
    let mut row = vec![String::new()];
    row.extend((!by_version).then(String::new));
    row.push("=".to_owned());
    for b in beams {
        row.push(made.run.clean_time(*b).map(|t| carry(Response::Time(*b), t, 3)).unwrap_or_default());
        row.extend(speed(*b).map(|k| {
            let raw = made.run.num(k).filter(|_| made.run.clean_at(b.feet()));
            raw.map(|v| carry(Response::Speed(*b), v, 2)).unwrap_or_default()
        }));
    }
    let any = row.iter().skip(if by_version { 2 } else { 3 }).any(|c| !c.is_empty());
    any.then_some(row)
}

fn speed(beam: Beam, finish_ft: u32) -> Option<&'static str> {
    beam.speed_key().filter(|_| beam == Beam::Ft660 || beam.feet() == finish_ft)
}

/// As JSON.
pub fn json(head: &Head, history: &History, runs: &[&Made], footing: &Footing) -> Json {
    let one = |m: &&Made| {
        let day = &history.days[m.day];
        let mut run = run_json(&m.run);
        if let Some(map) = run.as_object_mut() {
            map.insert("version".to_owned(), json!(history.timeline.versions[m.version].number));
            map.insert("date".to_owned(), json!(day.date.to_string()));
            map.insert("track".to_owned(), json!(day.track));
            map.insert("finish_ft".to_owned(), json!(day.finish_ft));
            map.insert("air".to_owned(), super::footing::standing_json(footing.standing(&m.run, day)));
            map.insert("one_air".to_owned(), one_air_json(m, day, footing));
        }
        run
    };
    json!({ "car": head.car, "runs": runs.iter().map(one).collect::<Vec<_>>(), "one_air": super::footing::json(footing) })
}

/// The run's clean numbers in one air under the names of its own.
fn one_air_json(made: &Made, day: &Day, footing: &Footing) -> Json {
    if footing.reference.is_none() {
        return Json::Null;
    }
    let carry = |r: Response, raw: f64| json!(footing.carried(&made.run, day, r, raw));
    let times = Beam::ALL.into_iter().filter_map(|b| {
        let raw = made.run.clean_time(b)?.to_f64();
        Some((b.key().to_owned(), carry(Response::Time(b), raw)))
    });
    let speeds = Beam::ALL.into_iter().filter_map(|b| {
        let k = b.speed_key()?;
        let raw = made.run.num(k).filter(|_| made.run.clean_at(b.feet()))?.to_f64();
        Some((k.to_owned(), carry(Response::Speed(b), raw)))
    });
    Json::Object(times.chain(speeds).collect())
}
