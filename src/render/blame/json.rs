//! The ranking as JSON.

use super::super::{footing, layout::Head};
use super::{Answer, advice, toggles};
use crate::blame::{LeftOut, Ranked, Unjudged};
use serde_json::{Value as Json, json};

/// As JSON.
pub fn json(head: &Head, answer: &Answer) -> Json {
    let ranking = answer.ranking;
    let speed = answer.asked.response.is_speed();
    let unit = if speed { "mph" } else { "s" };
    let change = |r: &Ranked| {
        let sides = &r.judged.sides;
        let mut out = json!({ "version": r.version, "before": r.before, "at": r.at, "words": r.words, "fields": r.own, "along": r.along });
        if let Some(map) = out.as_object_mut() {
            effect_json(map, &r.judged.effect, unit);
            let rest = json!({
                "p_best": r.p_best, "open": r.judged.open, "evidence": r.judged.verdict.key(),
                "bundle": r.fields.len() > 1, "fields_judged": r.fields, "cannot_be_told_apart": r.bundles,
                "toggled_with": toggles(ranking, r), "same_days": sides.same_day, "confounds": r.confounds, "stands": r.stands, "one_of_two": r.one_of_two,
                "n_without": sides.without.len(), "n_with": sides.with.len(),
                "n_runs": sides.without.len() + sides.with.len(), "n_days": sides.days,
                "segments": r.segments, "as_run": r.as_run,
            });
            map.extend(rest.as_object().cloned().unwrap_or_default());
        }
        out
    };
    let not_judged = |u: &Unjudged| {
        let mut out = json!({ "version": u.version, "at": u.at, "words": u.words, "fields": u.fields, "along": [],
            "evidence": u.why, "stands": null, "cannot_be_told_apart": [], "toggled_with": [], "same_days": [], "confounds": [],
            "segments": [], "n_without": 0, "n_with": 0, "bundle": u.fields.len() > 1, "n_runs": 0, "n_days": 0 });
        if let Some(map) = out.as_object_mut() {
            for key in ["effect", "sd", "lo90", "hi90", "lo95", "hi95"] {
                map.insert(format!("{key}_{unit}"), Json::Null);
            }
            for key in ["p_gain", "p_loss", "p_same"] {
                map.insert(key.to_owned(), Json::Null);
            }
        }
        out
    };
    let left_out = |(why, n): &(LeftOut, usize)| json!({ "why": why, "runs": n });
    let test = answer.test.as_ref().map(
        |t| json!({ "version": t.change.version, "runs_a_side_80": t.needed.at_80, "runs_a_side_95": t.needed.at_95 }),
    );
    json!({
        "car": head.car, "response": answer.asked.response.key(), "matters": answer.asked.matters, "unit": unit,
        "advice": advice(answer).iter().map(|(label, words)| json!({"what": label.to_lowercase(), "words": words})).collect::<Vec<_>>(),
        "changes": ranking.changes.iter().map(change).chain(ranking.not_judged.iter().map(not_judged)).collect::<Vec<_>>(),
        "test": test,
        "counted": ranking.counted, "days": ranking.days, "left_out": ranking.left_out.iter().map(left_out).collect::<Vec<_>>(),
        "one_air": footing::json(answer.footing),
        "without_air": answer.without_air.0, "far_from_a_reading": answer.without_air.1,
    })
}

/// The numbers of an effect under keys with their unit.
pub fn effect_json(map: &mut serde_json::Map<String, Json>, e: &crate::blame::Effect, unit: &str) {
    for (key, value) in
        [("effect", e.value), ("sd", e.sd), ("lo90", e.lo90), ("hi90", e.hi90), ("lo95", e.lo95), ("hi95", e.hi95)]
    {
        map.insert(format!("{key}_{unit}"), json!(value));
    }
    for (key, value) in [("p_gain", e.p_gain), ("p_loss", e.p_loss), ("p_same", e.p_same)] {
        map.insert(key.to_owned(), json!(value));
    }
}
