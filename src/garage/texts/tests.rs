//! The table holds every key of every type, and lets no word of somebody's pass for the program's own.

use super::*;
use crate::garage::{Car, Gone, Owner, Part};
use crate::schema::{CarRules, Effect, Field, Group, Job, Member, NeedsBelow, Noun, Rule, Slot, Tuning, Turn, schema};
use crate::slip::{Day, Reading, Run};
use crate::trial::{Dropped, Judged, Trial};
use std::collections::BTreeSet;

const DAY: &str = "days/2026/05-16-osier-flats.toml";
const TRIAL: &str = "trials/pairs.toml";

#[test]
fn texts_of_a_file_are_found_and_its_numbers_are_none() {
    let text =
        "# tel 555 0144\na = 'v1'\nmatters_s = 0.0143\nby = '''one\ntwo'''\n[judged]\nevidence = [\"x\", 'y'] # who\n";
    let found = pieces(schema(), TRIAL, text);
    let of = |key: &str| found.iter().filter(|p| p.key == key).map(|p| p.text.as_str()).collect::<Vec<_>>();
    assert_eq!(of("judged.evidence"), ["x", "y"]);
    assert_eq!(of("by"), ["one\ntwo"]);
    assert_eq!(of(""), [" tel 555 0144", " who"]);
    assert!(found.iter().all(|p| !p.text.contains("0143")));
    assert_eq!(pieces(schema(), TRIAL, "no = toml = at all").len(), 1);
}

#[test]
fn a_text_is_what_it_is_in_any_form_toml_has_for_it() {
    let is = |path: &str, text: &str| {
        let piece = pieces(schema(), path, text).into_iter().rfind(|p| p.text == "Pell").expect("it is found");
        what(schema(), path, &piece.key, &piece.text)
    };
    for text in [
        "[[reading]]\nby = 'Pell'\n",
        "reading = [{ at = 09:00:00, by = \"Pell\" }]\n",
        "[[reading]]\n\"by\" = \"\"\"\nPell\"\"\"\n",
    ] {
        assert_eq!(is(DAY, text), Is::Person, "{text}");
    }
    for (text, wanted) in [
        ("owner = [{name = 'Pell'}]\n", Is::Person),
        ("[[part]]\nvalues.rear.tire.compound = 'Pell'\n", Is::Words),
        ("[[part]]\n[part.values.rear.tire]\nname = 'Pell'\n", Is::Name("a part's name")),
        ("[[rule]]\nreason = 'Pell'\n", Is::Note),
        ("[[rule]]\nmember = [{ says = 'Pell' }]\n", Is::Words),
        ("[[field]]\nlabel = 'Pell'\n", Is::Words),
    ] {
        assert_eq!(is("car.toml", text), wanted, "{text}");
    }
}

/// Every key of the files' own types. The patterns name every part of a type: one that is added does not compile until it
/// is told of here, and then in the table.
fn keys() -> Vec<(&'static str, Vec<String>)> {
    fn parts(of: &str, keys: &[&str]) -> Vec<String> {
        keys.iter().map(|k| format!("{of}{k}")).collect()
    }
    macro_rules! keys {
        ($of:expr, $type:ident { $($part:ident $(as $key:literal)?),* $(,)? }) => {{
            #[allow(unused_variables, dead_code, reason = "that it compiles is what is asked")]
            fn whole(value: $type) { let $type { $($part),* } = value; }
            parts($of, &[$(keys!(@ $part $(as $key)?)),*])
        }};
        (@ $part:ident as $key:literal) => { $key };
        (@ $part:ident) => { stringify!($part) };
    }
    let mut car = parts("", &["format"]);
    car.extend(keys!("", Car { name, template, class, private, owners as "owner.name", fields as "field.key", parts as "part.name", rules as "rule.id" }));
    car.extend(keys!("field.", Field {
        key, label, ring, role, kind, sides, unit, decimals, step, usual, possible, usual_change, chassis,
        applies_text as "applies", choices, choice_says as "choice_says.x", says, noun as "noun.thing", tell as "tell.show", told, lines, private, handover,
        effect as "effect.name", turn as "turn.by", tool, place, minutes, shop, moves, part, follows,
        slots as "slots.id", entries, each, groups as "groups.of", columns as "columns.id", help, source,
        group as "key", area as "key", applies,
    }));
    car.extend(keys!(
        "field.noun.",
        Noun { thing, many, end, on, at, record, record_many, short, left, right, pair, both }
    ));
    car.extend(keys!("field.groups.", Group { name, short, of }));
    car.extend(keys!("field.turn.", Turn { when, by, threads, spacing, per_turn }));
    car.extend(keys!("field.effect.", Effect { name, power }));
    for of in ["field.slots.", "field.columns."] {
        car.extend(keys!(of, Slot { id, label, unit, decimals, kind, step, usual, possible }));
    }
    car.extend(keys!("rule.", Rule {
        id, name, about, severity, chassis, concerns as "if", when, member as "member.says", limits as "limits.x",
        says, because, source, contested, package, job as "job.says",
    }));
    car.extend(keys!("rule.", Tuning { id, mute, limits as "limits.x", reason }));
    car.extend(keys!("rule.member.", Member { when, says, chassis }));
    car.extend(keys!("rule.job.", Job { fields, places, after, says }));
    car.extend(keys!("", CarRules { own as "rule.id", tunings as "rule.id", needs_below as "needs_below.item" }));
    car.extend(keys!("owner.", Owner { name, since }));
    car.extend(keys!("needs_below.", NeedsBelow { et, finish, item, field }));
    car.extend(keys!("part.", Part {
        name, kind, came_with_passes, limits as "limits.x", values as "values.rear.tire.compound", goes_with, gone, note,
    }));
    car.extend(keys!("part.", Gone { on as "gone", how as "gone_how" }));
    let mut day = parts("", &["format"]);
    day.extend(keys!("", Day {
        date, track, finish_ft as "finish", elevation_ft as "elevation", offset_seconds as "utc_offset", prep, note,
        closed, unread, readings as "reading.by", runs as "run.id",
    }));
    day.extend(keys!("reading.", Reading { at, numbers as "temperature", sun, by, report }));
    day.extend(keys!("run.", Run {
        id, at, on, setup, setup_was, numbers as "ft60", lane, round, clean_to, why_not, did, staged, psi_taken,
        shifts, note,
    }));
    let mut trial = parts("", &["format", "a_setup", "b_setup"]);
    trial.extend(
        keys!("", Trial { name, response, a, b, order, matters as "matters_s", started, by, why, end as "judged.by" }),
    );
    trial.extend(keys!("judged.", Judged {
        at, by, verdict, evidence, effect as "effect_s", sd as "sd_mph", lo95 as "lo95_s", hi95 as "hi95_mph",
        p_gain, p_loss, p_same, by_hand as "by_hand_s", runs_a, runs_b, order_run, air_kg_m3, method,
    }));
    trial.extend(keys!("dropped.", Dropped { at, by, why }));
    vec![("car.toml", car), (DAY, day), (TRIAL, trial)]
}

#[test]
fn every_key_of_every_file_is_told_of_and_none_more() {
    for (path, keys) in keys() {
        for key in &keys {
            assert!(is_known(schema(), path, key), "{path}: {key}");
        }
        // A key no type has would let through what nobody reads; a number in mph stands beside the one in seconds.
        let keys: BTreeSet<String> = keys.into_iter().map(|k| k.replace("_mph", "_s")).collect();
        for (key, _) in table::of(path) {
            let key = key.replace("_mph", "_s");
            let above = key.trim_end_matches(".*");
            let is_read = |k: &String| *k == key || k.strip_prefix(above).is_some_and(|rest| rest.starts_with('.'));
            assert!(keys.iter().any(is_read), "{path}: {key}");
        }
    }
}

#[test]
fn somebodys_words_are_the_programs_own_under_no_key() {
    let sheet: Vec<String> = schema()
        .fields
        .iter()
        .flat_map(|f| {
            let slots = (0..f.slot_list().len()).map(|i| schema().path(f, Some(i)));
            slots.chain([f.key.clone()]).collect::<Vec<_>>()
        })
        .collect();
    let listed = keys().into_iter().flat_map(|(path, keys)| {
        let table: Vec<String> = table::of(path).iter().map(|(k, _)| k.replace('*', "anything")).collect();
        [keys, table].concat().into_iter().map(move |k| (path, k))
    });
    let all: Vec<(&str, String)> = listed.chain(sheet.into_iter().map(|k| ("setup.toml", k))).collect();
    assert!(all.len() > 500, "{}", all.len());
    for (path, key) in &all {
        for said in ["Pell", "ask Pell Quill", "pell", "Pell 555-013-0142"] {
            assert_ne!(what(schema(), path, key, said), Is::Fixed, "{path}: {key} = {said}");
            // Nor under a key beside it, or below it.
            for odd in
                [format!("{key}_of_it"), format!("{key}.by_whom"), "effect_of_it".to_owned(), "owner.by".to_owned()]
            {
                if !odd.starts_with("field.tell.")
                    && !odd.starts_with("field.choice_says.")
                    && !odd.starts_with("rule.limits.")
                    && !odd.starts_with("part.limits.")
                {
                    assert_eq!(what(schema(), path, &odd, said), Is::Unknown, "{path}: {odd} = {said}");
                    assert!(!is_known(schema(), path, &odd), "{path}: {odd}");
                }
            }
        }
    }
}

#[test]
fn what_the_program_writes_is_its_own() {
    for (path, key, said) in [
        ("car.toml", "template", "leaf-torsion"),
        ("car.toml", "private", "front wheels, tires, brakes"),
        ("car.toml", "private", "engine"),
        ("car.toml", "rule.id", "P1"),
        (
            "car.toml",
            "rule.when",
            "engine.timing > 40 and (rear.limiter.height <= 1.5 or rear.limiter.kind is not none)",
        ),
        ("car.toml", "field.place", "under the rear"),
        ("car.toml", "field.applies", "rear.limiter.height is on record"),
        ("car.toml", "field.moves", "rear.limiter.height"),
        (DAY, "run.id", "3f9ac2d1"),
        (DAY, "run.on", "v17"),
        (DAY, "run.lane", "left"),
        (DAY, "utc_offset", "-05:00"),
        (TRIAL, "judged.verdict", "almost certainly a loss"),
        (TRIAL, "judged.verdict", "likely a gain, not settled"),
        (TRIAL, "judged.method", "the model of blame 60 ft, 12 runs of the book"),
        (TRIAL, "response", "et"),
        ("setup.toml", "rear.limiter.height", "0.5?"),
        ("setup.toml", "rear.limiter.height", "about 12 mm"),
    ] {
        let places = schema().fields.iter().find_map(|f| f.place.as_deref());
        let said = if key == "field.place" { places.unwrap() } else { said };
        assert_eq!(what(schema(), path, key, said), Is::Fixed, "{path}: {key} = {said}");
    }
    assert_eq!(what(schema(), DAY, "run.id", "quills-run"), Is::Run);
    assert_eq!(what(schema(), "car.toml", "rule.id", "own.quill"), OWN_RULE);
    for (said, wanted) in [
        ("engine.timing reading 34", Is::Fixed),
        ("rear.tire.pressure.left step -0.25", Is::Fixed),
        ("rear.tire.pressure reading { left = 12.5, right = \"13?\" }", Is::Fixed),
        ("engine.timing off", Is::Fixed),
        ("engine.timing as Pell had it", Is::Words),
        ("engine.fuel reading \"what Pell brews\"", Is::Words),
        ("rear.tire.name reading \"pair A\"", PART_NAME),
        ("Pell 34", Is::Words),
    ] {
        assert_eq!(what_typed(schema(), said), wanted, "{said}");
    }
}

#[test]
fn keys_of_a_condition_are_told_from_its_words() {
    let field =
        toml::from_str("key = 'own.pells shim'\nlabel = 'x'\nring = 'sheet'\nrole = 'set'\nkind = 'text'\n").unwrap();
    let schema = schema().with_own(vec![field]).unwrap();
    let said = "own.pells shim is Pell and engine.timing > 40";
    let keys: Vec<&str> = keys_in(&schema, said).into_iter().map(|r| &said[r]).collect();
    assert_eq!(keys, ["own.pells shim", "engine.timing"]);
    assert_eq!(
        beside_keys(&schema, said, &|t| t.replace("Pell", "hand 1")),
        "own.pells shim is hand 1 and engine.timing > 40"
    );
    let of = |text: &str| what(&schema, "car.toml", "rule.when", text);
    assert_eq!((of("own.pells shim"), of("own.pells shim is on record"), of(said)), (OWN_FIELD, OWN_FIELD, Is::Words));
    let found = pieces(&schema, "car.toml", &format!("[[rule]]\nwhen = \"{said}\"\n"));
    assert!(found.iter().any(|p| p.text.contains("is Pell and")) && found.iter().any(|p| p.text == "own.pells shim"));
    // Of an unknown key all is read: its name, what stands there, numbers too.
    let found = pieces(&schema, TRIAL, "phone = 5550130114\n[quill]\nsaid = [\"x\", { y = 'one' }]\n");
    assert!(found.iter().any(|p| p.text == "phone = 5550130114"), "{found:?}");
    assert!(found.iter().any(|p| p.text == "quill = said = x, y = one"), "{found:?}");
}
