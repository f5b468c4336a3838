//! One change explained, as JSON.

use super::super::blame::effect_json;
use super::super::layout::Head;
use super::Told;
use crate::blame::{ByHand, Did, Explanation, Order, RunLeft, RunTold, SheetTold};
use serde_json::{Value as Json, json};

/// As JSON.
pub fn json(head: &Head, told: &Told) -> Json {
    let version = &told.estimates.timeline.versions[told.version];
    let mut out = json!({
        "car": head.car, "response": told.estimates.response().key(), "matters": told.estimates.asked.matters,
        "unit": told.unit(), "version": version.number, "at": version.entry.at,
        "one_air": super::super::footing::json(told.footing),
    });
    let rest = match told.explanation {
        Some(e) => judged(told, e),
        None => {
            let along = told.estimates.judged_along_with(told.version).map(|m| told.number(m.version));
            json!({ "words": version.entry.words, "evidence": told.why_not(), "judged_along_with": along })
        }
    };
    if let (Some(map), Json::Object(rest)) = (out.as_object_mut(), rest) {
        map.extend(rest);
    }
    out
}

fn judged(told: &Told, e: &Explanation) -> Json {
    let change = &e.change;
    let sides = &change.judged.sides;
    let numbers = |versions: &[usize]| versions.iter().map(|v| told.number(*v)).collect::<Vec<_>>();
    let hand = |r: &ByHand| {
        json!({
            "how": r.how, "day_without": r.days.0, "day_with": r.days.1, "track": r.track,
            "from": numbers(&r.from), "to": numbers(&r.to), "same_step": r.same_step,
            "without": r.means.0, "n_without": r.without.len(), "with": r.means.1, "n_with": r.with.len(),
            "worth": r.worth(),
        })
    };
    let seen = |run: usize| &told.estimates.runs[run];
    let run = |r: &RunTold| {
        let s = seen(r.run);
        json!({
            "run": s.run.id, "at": s.run.at, "version": told.number(s.version), "lane": s.run.lane, "with": r.with,
            "by_hand": r.by_hand, "slip": r.slip, "one_air": r.one_air, "sheet": r.sheet, "day_lane": r.day_lane,
            "of_it_air": r.air, "left_over": r.left, "counts": r.counts(), "counts_by_channel": r.ordinary,
        })
    };
    let sheet = |s: &SheetTold| json!({ "versions": s.versions, "with": s.with, "value": s.value });
    let left = |l: &RunLeft| {
        let s = seen(l.run);
        json!({
            "run": s.run.id, "at": s.run.at, "version": told.number(s.version), "with": l.with, "by_hand": l.by_hand,
            "why": l.why, "why_not": s.run.why_not,
        })
    };
    let did = |d: &Did| {
        json!({
            "words": d.words, "without": d.without.0, "of_without": d.without.1, "with": d.with.0, "of_with": d.with.1,
        })
    };
    let order = |o: &Order| json!({ "date": o.day, "with_later": o.with_later, "track_hotter_f": o.track_hotter_f });
    let mended = |(v, words): &(crate::timeline::VersionNumber, Vec<String>)| json!({ "version": v, "mended": words });
    let mut out = json!({
        "before": change.before, "words": change.words, "fields": change.fields, "along": change.along,
        "evidence": change.judged.verdict.key(), "open": change.judged.open, "p_best": change.p_best,
        "cannot_be_told_apart": change.bundles, "toggles": numbers(&sides.toggles), "same_days": sides.same_day,
        "n_without": sides.without.len(), "n_with": sides.with.len(), "counted": told.ranking.counted,
        "by_hand": e.by_hand.iter().map(hand).collect::<Vec<_>>(), "two_days": e.nearest.as_ref().map(hand),
        "not_one_day": e.not_one_day, "runs": e.runs.iter().map(run).collect::<Vec<_>>(),
        "sheets": e.sheets.iter().map(sheet).collect::<Vec<_>>(),
        "left_out": e.left_out.iter().map(left).collect::<Vec<_>>(), "outside": e.outside,
        "mended": e.mended.iter().map(mended).collect::<Vec<_>>(),
        "relinked": e.relinked.iter().map(|r| &seen(*r).run.id).collect::<Vec<_>>(),
        "did": e.did.iter().map(did).collect::<Vec<_>>(), "order": e.order.iter().map(order).collect::<Vec<_>>(),
        "one_track": e.one_track, "confounds": change.confounds, "segments": change.segments,
        "settled": change.judged.verdict.settled(),
        "runs_a_side_80": e.needed.and_then(|n| n.at_80), "runs_a_side_95": e.needed.and_then(|n| n.at_95),
    });
    if let Some(map) = out.as_object_mut() {
        effect_json(map, &change.judged.effect, told.unit());
    }
    out
}
