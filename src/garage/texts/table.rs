//! Every key of a book's files but the sheet's, and what a text under it is. What is not told of here is unknown.

use super::form;
use super::{CAR_NAME, Is, OWN_FIELD, PART_NAME};
use crate::schema::Schema;
use crate::slip::day_of_path;
use crate::trial::slug_of_path;

/// What a text under a key is.
#[derive(Clone, Copy)]
pub(super) enum Row {
    /// This, whatever it says.
    As(Is),
    /// One of the program's own words where it has this form; anything else is somebody's.
    Own(fn(&str) -> bool),
    /// The key of a field, a heading, or a condition on fields.
    Keys,
    /// The id of a run.
    Run,
    /// A value of the sheet.
    Sheet,
}

use Row::{As, Keys, Own, Run};

/// A number, a date, yes or no: a text there is nothing of a book.
const NO_TEXT: Row = As(Is::Unknown);
const WORDS: Row = As(Is::Words);
const NOTE: Row = As(Is::Note);
const PERSON: Row = As(Is::Person);

/// Of `car.toml`. `x.*` is whatever stands under `x`; where `x` is told of as well, the names of those are texts themselves.
const CAR: &[(&str, Row)] = &[
    ("format", NO_TEXT),
    ("name", As(Is::Name(CAR_NAME))),
    ("template", Own(form::template)),
    ("class", WORDS),
    ("private", Keys),
    ("owner.name", PERSON),
    ("owner.since", NO_TEXT),
    ("needs_below.et", NO_TEXT),
    ("needs_below.finish", NO_TEXT),
    ("needs_below.item", WORDS),
    ("needs_below.field", Keys),
    ("part.name", As(PART_NAME)),
    ("part.kind", Keys),
    ("part.came_with_passes", NO_TEXT),
    ("part.goes_with", NO_TEXT),
    ("part.gone", NO_TEXT),
    ("part.gone_how", NOTE),
    ("part.note", NOTE),
    ("part.limits", Own(form::limit)),
    ("part.limits.*", Own(form::number)),
    ("part.values.*", Row::Sheet),
    ("rule.id", Own(form::rule)),
    ("rule.name", WORDS),
    ("rule.about", WORDS),
    ("rule.severity", Own(form::severity)),
    ("rule.chassis", Own(form::chassis)),
    ("rule.if", Keys),
    ("rule.when", Keys),
    ("rule.member.when", Keys),
    ("rule.member.says", WORDS),
    ("rule.member.chassis", Own(form::chassis)),
    ("rule.limits", WORDS),
    ("rule.limits.*", NO_TEXT),
    ("rule.mute", NO_TEXT),
    ("rule.says", WORDS),
    ("rule.reason", NOTE),
    ("rule.because", NOTE),
    ("rule.source", NOTE),
    ("rule.contested", NOTE),
    ("rule.package", Keys),
    ("rule.job.fields", Keys),
    ("rule.job.places", Own(form::place)),
    ("rule.job.after", NO_TEXT),
    ("rule.job.says", WORDS),
    ("field.key", As(OWN_FIELD)),
    ("field.label", WORDS),
    ("field.ring", Own(form::ring)),
    ("field.role", Own(form::role)),
    ("field.kind", Own(form::kind)),
    ("field.sides", Own(form::sides)),
    ("field.unit", Own(form::unit)),
    ("field.decimals", NO_TEXT),
    ("field.step", NO_TEXT),
    ("field.usual", NO_TEXT),
    ("field.possible", NO_TEXT),
    ("field.usual_change", NO_TEXT),
    ("field.chassis", Own(form::chassis)),
    ("field.applies", Keys),
    ("field.choices", As(OWN_FIELD)),
    ("field.choice_says", As(OWN_FIELD)),
    ("field.choice_says.*", WORDS),
    ("field.says", WORDS),
    ("field.noun.thing", WORDS),
    ("field.noun.many", WORDS),
    ("field.noun.end", WORDS),
    ("field.noun.on", WORDS),
    ("field.noun.at", WORDS),
    ("field.noun.record", WORDS),
    ("field.noun.record_many", WORDS),
    ("field.noun.short", WORDS),
    ("field.noun.left", WORDS),
    ("field.noun.right", WORDS),
    ("field.noun.pair", WORDS),
    ("field.noun.both", WORDS),
    ("field.tell", Own(form::tell)),
    ("field.tell.*", WORDS),
    ("field.told", WORDS),
    ("field.lines", NO_TEXT),
    ("field.private", NO_TEXT),
    ("field.handover", NO_TEXT),
    ("field.effect.name", WORDS),
    ("field.effect.power", NO_TEXT),
    ("field.turn.when", Keys),
    ("field.turn.by", Own(form::turned_by)),
    ("field.turn.threads", Keys),
    ("field.turn.spacing", Keys),
    ("field.turn.per_turn", Keys),
    ("field.tool", WORDS),
    ("field.place", Own(form::place)),
    ("field.minutes", NO_TEXT),
    ("field.shop", NO_TEXT),
    ("field.moves", Keys),
    ("field.part", Keys),
    ("field.follows", Keys),
    ("field.slots.id", As(OWN_FIELD)),
    ("field.slots.label", WORDS),
    ("field.slots.unit", Own(form::unit)),
    ("field.slots.decimals", NO_TEXT),
    ("field.slots.kind", Own(form::kind)),
    ("field.slots.step", NO_TEXT),
    ("field.slots.usual", NO_TEXT),
    ("field.slots.possible", NO_TEXT),
    ("field.entries", WORDS),
    ("field.each", WORDS),
    ("field.groups.name", WORDS),
    ("field.groups.short", WORDS),
    ("field.groups.of", NO_TEXT),
    ("field.columns.id", As(OWN_FIELD)),
    ("field.columns.label", WORDS),
    ("field.columns.unit", Own(form::unit)),
    ("field.columns.decimals", NO_TEXT),
    ("field.columns.kind", Own(form::kind)),
    ("field.columns.step", NO_TEXT),
    ("field.columns.usual", NO_TEXT),
    ("field.columns.possible", NO_TEXT),
    ("field.help", WORDS),
    ("field.source", WORDS),
];

/// Of a day, beside the numbers of its readings and runs.
const DAY: &[(&str, Row)] = &[
    ("format", NO_TEXT),
    ("date", NO_TEXT),
    ("track", As(Is::Name("a track's name"))),
    ("finish", NO_TEXT),
    ("elevation", NO_TEXT),
    ("utc_offset", Own(form::offset)),
    ("prep", WORDS),
    ("note", NOTE),
    ("closed", NO_TEXT),
    ("unread", NOTE),
    ("reading.at", NO_TEXT),
    ("reading.sun", Own(form::sun)),
    ("reading.by", PERSON),
    ("reading.report", WORDS),
    ("run.id", Run),
    ("run.at", NO_TEXT),
    ("run.on", Own(form::version)),
    ("run.setup", Own(form::sheet_id)),
    ("run.setup_was", Own(form::sheet_id)),
    ("run.lane", Own(form::lane)),
    ("run.round", WORDS),
    ("run.clean_to", NO_TEXT),
    ("run.why_not", Own(form::why_not)),
    ("run.did", Own(form::did)),
    ("run.staged", Own(form::staged)),
    ("run.psi_taken", Own(form::psi_taken)),
    ("run.shifts", NO_TEXT),
    ("run.note", NOTE),
];

/// Of a trial; its file keeps what a hand put into it beside these.
const TRIAL: &[(&str, Row)] = &[
    ("format", NO_TEXT),
    ("name", As(Is::Name("a trial's name"))),
    ("response", Own(form::response)),
    ("a", Own(form::version)),
    ("b", Own(form::version)),
    ("a_setup", Own(form::sheet_id)),
    ("b_setup", Own(form::sheet_id)),
    ("order", Own(form::order)),
    ("matters_s", NO_TEXT),
    ("matters_mph", NO_TEXT),
    ("started", NO_TEXT),
    ("by", PERSON),
    ("why", NOTE),
    ("judged.at", NO_TEXT),
    ("judged.by", PERSON),
    ("judged.verdict", Own(form::said_of_a_trial)),
    ("judged.evidence", NOTE),
    ("judged.effect_s", NO_TEXT),
    ("judged.effect_mph", NO_TEXT),
    ("judged.sd_s", NO_TEXT),
    ("judged.sd_mph", NO_TEXT),
    ("judged.lo95_s", NO_TEXT),
    ("judged.lo95_mph", NO_TEXT),
    ("judged.hi95_s", NO_TEXT),
    ("judged.hi95_mph", NO_TEXT),
    ("judged.p_gain", NO_TEXT),
    ("judged.p_loss", NO_TEXT),
    ("judged.p_same", NO_TEXT),
    ("judged.by_hand_s", NO_TEXT),
    ("judged.by_hand_mph", NO_TEXT),
    ("judged.air_kg_m3", NO_TEXT),
    ("judged.runs_a", Run),
    ("judged.runs_b", Run),
    ("judged.order_run", Own(form::order)),
    ("judged.method", Own(form::said_of_a_trial)),
    ("dropped.at", NO_TEXT),
    ("dropped.by", PERSON),
    ("dropped.why", NOTE),
];

/// The table of a file; none where it is the sheet, or no file of a book.
pub(super) fn of(path: &str) -> &'static [(&'static str, Row)] {
    match path {
        "car.toml" => CAR,
        p if day_of_path(p).is_some() => DAY,
        p if slug_of_path(p).is_some() => TRIAL,
        _ => &[],
    }
}

/// What stands under a key.
pub(super) fn row(schema: &Schema, path: &str, key: &str) -> Option<Row> {
    let table = of(path);
    let exact = table.iter().find(|(k, _)| *k == key);
    let below = |k: &str| k.strip_suffix('*').is_some_and(|above| key.starts_with(above));
    let found = exact.or_else(|| table.iter().find(|(k, _)| below(k)));
    let run = &schema.run;
    let is_number = || match key.split_once('.') {
        Some(("run", name)) => run.number(name).is_some(),
        Some(("reading", name)) => run.reading.iter().any(|d| d.name == name),
        _ => false,
    };
    match found {
        Some((_, row)) => Some(*row),
        None => (day_of_path(path).is_some() && is_number()).then_some(NO_TEXT),
    }
}

/// Whether something stands below a key.
pub(super) fn holds(path: &str, key: &str) -> bool {
    let under = |k: &str| k.strip_prefix(key).is_some_and(|rest| rest.starts_with('.'));
    of(path).iter().any(|(k, _)| under(k))
}

/// Whether the names of what stands below a key are texts as well.
pub(super) fn names_are_texts(path: &str, key: &str) -> bool {
    of(path).iter().any(|(k, _)| *k == key) && holds(path, key)
}
