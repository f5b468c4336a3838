//! A handover as it is told: before it, what would go to a stranger; after it, what was written.

use super::copy::size;
use super::handover_page::{HandoverPage, id, start_lines};
use super::layout::{Head, Page, counted};
use crate::garage::{Handed, HandoverTo, Outgoing};
use crate::text::shell_word;
use serde_json::{Value as Json, json};

/// What is told.
#[derive(Debug, Clone)]
pub struct HandoverTold<'a> {
    /// The folder of the car.
    pub car: &'a str,
    /// Where to.
    pub to: &'a HandoverTo,
    /// What was written.
    pub handed: &'a Handed,
    /// The page.
    pub page: &'a HandoverPage,
    /// What goes along beside the car's own record.
    pub out: &'a Outgoing,
    /// What stays in it all the same, in words.
    pub kept: &'a [String],
    /// Files edited by hand and not saved: they are not in it.
    pub unsaved: &'a [String],
}

/// What would go to a stranger, as it is listed before.
#[derive(Debug, Clone, Copy)]
pub struct OutgoingTold<'a> {
    /// What goes along beside the car's own record.
    pub out: &'a Outgoing,
    /// What is left out, in words.
    pub left_out: &'a [String],
    /// What stays in it all the same, in words.
    pub kept: &'a [String],
    /// Files edited by hand and not saved: they are not in it, and what they mark as private is not known.
    pub unsaved: &'a [String],
    /// The folder of the car.
    pub car: &'a str,
}

/// What was asked for, to be typed again: another car, or all of this one, would be handed over without it.
#[derive(Debug, Clone, Copy)]
pub struct Again<'a> {
    /// The folder of the car.
    pub car: &'a str,
    /// The version it is to begin with.
    pub since: Option<&'a str>,
    /// What is left out, as it was named.
    pub without: &'a [String],
}

impl Again<'_> {
    /// The command that writes it, with more left out.
    fn command(&self, more: &[&str]) -> String {
        let mut words = format!("slipbook handover {} --to FILE", shell_word(self.car));
        self.since.iter().for_each(|s| words.push_str(&format!(" --since {}", shell_word(s))));
        let without: Vec<&str> = self.without.iter().map(String::as_str).chain(more.iter().copied()).collect();
        if !without.is_empty() {
            words.push_str(&format!(" --without {}", shell_word(&without.join(","))));
        }
        words
    }
}

/// Names told one by one, once it is written: before, all are.
const MOST_TOLD: usize = 12;

/// What would go to a stranger, a line a kind, so many of each; nothing of a kind is not told.
fn outgoing_lines(out: &Outgoing, most: usize) -> Vec<(String, String)> {
    let some = |all: Vec<String>| {
        let more = all.len().saturating_sub(most);
        let told = all.into_iter().take(most).collect::<Vec<_>>().join(", ");
        if more > 0 { format!("{told} and {more} more") } else { told }
    };
    let mut lines = Vec::new();
    let mut put = |what: &str, n: usize, told: String| {
        if n > 0 {
            lines.push((format!("{what} {n}"), told));
        }
    };
    let phones = out.phones.iter().map(|p| format!("{} (in {})", p.number, p.in_)).collect();
    put("names", out.names.len(), some(out.names.keys().cloned().collect()));
    put("mail addresses", out.addresses.len(), some(out.addresses.iter().cloned().collect()));
    put("phone numbers", out.phones.len(), some(phones));
    put("notes and reasons", out.notes, String::new());
    put("private fields", out.private.len(), some(out.private.clone()));
    put("files by hand", out.other_files.len(), some(out.other_files.iter().cloned().collect()));
    put("other words", out.words.len(), some(out.words.iter().map(|w| format!("\"{w}\"")).collect()));
    lines
}

/// What would go to a stranger, to be asked about.
pub fn outgoing_text(head: &Head, told: &OutgoingTold) -> String {
    let still = if told.left_out.is_empty() { "" } else { "still " };
    let mut page = head.page(&format!("beside the car's own record this would {still}go to whoever gets the file:"));
    put_outgoing(&mut page, told, usize::MAX);
    put_unsaved(&mut page, told.unsaved, told.car);
    page.text()
}

/// What would go, where nothing is written.
pub fn list_text(head: &Head, told: &OutgoingTold, again: &Again) -> String {
    let still = if told.left_out.is_empty() { "" } else { "still " };
    let mut page = head.page(&format!("this would {still}go along to whoever gets the file; nothing was written"));
    put_outgoing(&mut page, told, usize::MAX);
    if !told.out.note_texts.is_empty() {
        page.line("the notes and reasons:");
        let mut notes: Vec<(&String, &String)> = told.out.note_texts.iter().map(|(text, day)| (day, text)).collect();
        notes.sort();
        let width = notes.iter().map(|(day, _)| day.chars().count()).max().unwrap_or(0);
        for (day, text) in notes {
            page.wrap(&format!("  {day:<width$}   "), text);
        }
    }
    put_unsaved(&mut page, told.unsaved, again.car);
    let out = told.out;
    let some = [
        ("names", !out.names.is_empty() || !out.addresses.is_empty()),
        ("phones", !out.phones.is_empty()),
        ("notes", out.notes > 0),
        ("private", !out.private.is_empty()),
        ("files", !out.other_files.is_empty()),
    ];
    let left = |what: &str| again.without.iter().any(|w| w.eq_ignore_ascii_case(what));
    let more: Vec<&str> =
        some.into_iter().filter(|(what, there)| *there && !left(what)).map(|(what, _)| what).collect();
    // A command is one line, to be typed as it stands.
    page.line(format!("to write it:  {}", again.command(&[])));
    if !more.is_empty() {
        page.line(format!("without some: {}", again.command(&more)));
    }
    page.text()
}

/// The same as JSON.
pub fn list_json(head: &Head, told: &OutgoingTold) -> Json {
    let mut json = json!({"car": head.car, "written": false, "left_out": told.left_out, "still_in_it": told.kept,
        "not_saved": told.unsaved});
    let notes = told.out.note_texts.iter().map(|(text, of)| json!({"of": of, "text": text}));
    json["note_list"] = notes.collect();
    if let (Some(map), Json::Object(rest)) = (json.as_object_mut(), outgoing_json(told.out)) {
        map.extend(rest);
    }
    json
}

fn outgoing_json(out: &Outgoing) -> Json {
    json!({
        "names": out.names.keys().collect::<Vec<_>>(), "addresses": out.addresses,
        "phones": out.phones.iter().map(|f| json!({"number": f.number, "in": f.in_})).collect::<Vec<_>>(),
        "notes": out.notes, "private": out.private, "other_files": out.other_files, "other_words": out.words,
    })
}

fn put_outgoing(page: &mut Page, told: &OutgoingTold, most: usize) {
    let lines = outgoing_lines(told.out, most);
    let width = lines.iter().map(|(l, _)| l.chars().count()).max().unwrap_or(0);
    for (label, told) in &lines {
        page.wrap(&format!("  {label:<width$}   "), told);
    }
    if lines.is_empty() {
        page.wrap("  ", "nothing: no names, no phone numbers, no notes, no other words");
    }
    if !told.left_out.is_empty() {
        page.wrap("  left out      ", &told.left_out.join(", "));
    }
    for (i, kept) in told.kept.iter().enumerate() {
        page.wrap(if i == 0 { "  still in it   " } else { "                " }, kept);
    }
}

fn put_unsaved(page: &mut Page, unsaved: &[String], car: &str) {
    if !unsaved.is_empty() {
        page.wrap("  not in it     ", &format!("{}, edited by hand and not saved", unsaved.join(", ")));
        page.line(format!("                slipbook sheet --save --car {}", shell_word(car)));
    }
}

/// `1 field`, `12 fields`.
pub fn fields_counted(n: usize) -> String {
    counted(n, "field")
}

/// As text.
pub fn text(head: &Head, told: &HandoverTold) -> String {
    let (p, name) = (told.page, |path: &std::path::Path| path.display().to_string());
    let span = p.span.map(|(a, b)| format!(", {} to {}", head.day(a), head.day(b))).unwrap_or_default();
    let mut page = head.page(&format!("{}, {}{span}", counted(p.versions, "version"), counted(p.runs, "run")));
    page.wrap("  wrote         ", &format!("{}, {}", name(&told.to.target.path), size(told.handed.bytes)));
    page.wrap("                ", &format!("{}, one page to print", name(&told.to.page)));
    id(&mut page, &p.id);
    page.wrap("                ", "say the words on the phone; the full id proves it");
    for (i, line) in start_lines(head, p).iter().enumerate() {
        page.wrap(if i == 0 { "  start from    " } else { "                " }, line);
    }
    if !p.stays.is_empty() {
        page.wrap("  parts stay    ", &p.stays.join(", "));
    }
    if !p.unsaid.is_empty() {
        page.wrap("  not said      ", &p.unsaid.join(", "));
        page.line(format!(
            "                slipbook part set NAME --car {} --goes-with yes, or no",
            shell_word(told.car)
        ));
    }
    if !p.left_out.is_empty() {
        page.wrap("  rewritten     ", "a copy without what is left out: its ids differ from the book's own");
    }
    page.line(if p.left_out.is_empty() { "  goes along too" } else { "  still goes along" });
    put_outgoing(
        &mut page,
        &OutgoingTold { out: told.out, left_out: &p.left_out, kept: told.kept, unsaved: told.unsaved, car: told.car },
        MOST_TOLD,
    );
    put_unsaved(&mut page, told.unsaved, told.car);
    page.text()
}

/// As JSON.
pub fn json(head: &Head, told: &HandoverTold) -> Json {
    let p = told.page;
    let changes = |all: &[super::handover_page::Told]| -> Vec<Json> {
        let told = |t: &super::handover_page::Told| {
            json!({
                "version": t.version, "words": t.words, "said": t.said, "with_left_out": t.mixed,
                "effect_s": if t.mixed { None } else { Some(t.worth_s) },
                "lo95_s": if t.mixed { None } else { Some(t.between_s.0) },
                "hi95_s": if t.mixed { None } else { Some(t.between_s.1) },
                "n_without": t.runs.0, "n_with": t.runs.1, "doubts": t.doubts,
            })
        };
        all.iter().map(told).collect()
    };
    let mut json = json!({
        "car": head.car,
        "to": told.to.target.path.display().to_string(), "page": told.to.page.display().to_string(),
        "size_bytes": told.handed.bytes, "commits": told.handed.copied.commits, "objects": told.handed.copied.objects,
        "tip": told.handed.copied.tip.to_string(),
        "handover_id": p.id.to_string(), "handover_words": p.id.words()[..6].to_vec(), "check_word": p.id.words()[6],
        "rewritten": !p.left_out.is_empty(), "left_out": p.left_out, "left_out_before": p.left_out_before,
        "still_in_it": told.kept,
        "left_out_moved_with": p.moved_with, "cautions": p.cautions,
        "versions": p.versions, "runs": p.runs,
        "before": p.before.as_ref()
            .map(|b| json!({"versions": b.versions, "runs": b.runs, "judged_by_runs": b.judged_by})),
        "from": p.span.map(|s| s.0.to_string()), "until": p.span.map(|s| s.1.to_string()),
        "owners": p.owners.iter().map(|(n, s)| json!({"name": n, "since": s})).collect::<Vec<_>>(),
        "start_from": p.start.as_ref().map(|s| json!({
            "version": s.version, "one_setup_with": s.with, "clean_runs": s.runs, "clean_runs_in_file": s.runs_in_file.unwrap_or(s.runs),
            "ran_from": s.ran.map(|r| r.0.to_string()), "ran_until": s.ran.map(|r| r.1.to_string()),
            "ft60_middle_s": s.middle_s, "ft60_best_s": s.best_s,
            "one_air": s.one_air, "parts_not_said": s.unsaid,
        })),
        "best_not_in_file": p.beaten_by.as_ref().map(|b| json!({
            "version": b.version, "start_against_it": b.against, "start_own_change": b.own_change,
            "no_start": b.no_start,
        })),
        "passed_over": p.passed_over.iter()
            .map(|o| json!({"version": o.version, "parts": o.parts, "against_start": o.against})).collect::<Vec<_>>(),
        "on_car": p.on_car, "proven": changes(&p.proven), "no_effect": changes(&p.no_effect),
        "not_proven": changes(&p.not_proven),
        "not_judged": p.not_judged,
        "parts_along": p.along, "parts_stay": p.stays, "parts_not_said": p.unsaid,
        "weighed": p.weighed.iter().map(|(l, v)| json!({"label": l, "value": v})).collect::<Vec<_>>(),
        "not_saved": told.unsaved,
    });
    if let (Some(map), Json::Object(rest)) = (json.as_object_mut(), outgoing_json(told.out)) {
        map.extend(rest);
    }
    json
}
