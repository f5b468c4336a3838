//! Runs in a table: by day, or by version.

use super::layout::{Head, counted};
use super::run::run_json;
use crate::garage::{History, Made};
use crate::slip::Beam;
use serde_json::{Value as Json, json};

/// As text.
pub fn text(head: &Head, history: &History, runs: &[&Made], by_version: bool, left_out: usize) -> String {
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
            page.wrap("", &format!("{}  {}, {} ft{prep}", head.day(day.date), day.track, day.finish_ft));
        }
        let finish = list.iter().map(|m| history.days[m.day].finish_ft).max().unwrap_or(1320);
        let beams: Vec<Beam> = Beam::ALL.into_iter().filter(|b| b.feet() <= finish).collect();
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
        }
        page.table(&rows, &right);
    }
    page.gap();
    if runs.iter().any(|m| m.unsure) {
        page.wrap("", "?: made in a window in which something changed; counts for neither side");
    }
    page.line("As run, not in one air.");
    if left_out > 0 {
        page.wrap("", &format!("{left_out} older: runs --all   one version: runs v12   one day: runs jul 11"));
    }
    page.text()
}

fn speed(beam: Beam, finish_ft: u32) -> Option<&'static str> {
    beam.speed_key().filter(|_| beam == Beam::Ft660 || beam.feet() == finish_ft)
}

/// As JSON.
pub fn json(head: &Head, history: &History, runs: &[&Made]) -> Json {
    let one = |m: &&Made| {
        let day = &history.days[m.day];
        let mut run = run_json(&m.run);
        if let Some(map) = run.as_object_mut() {
            map.insert("version".to_owned(), json!(history.timeline.versions[m.version].number));
            map.insert("date".to_owned(), json!(day.date.to_string()));
            map.insert("track".to_owned(), json!(day.track));
            map.insert("finish_ft".to_owned(), json!(day.finish_ft));
        }
        run
    };
    json!({ "car": head.car, "runs": runs.iter().map(one).collect::<Vec<_>>() })
}
