//! What a clause taken apart says about one field: a reading, a step, a choice, or nothing.

use super::assign::reading;
use super::clause::{Clause, FILLERS, singular};
use super::entry::EntryContext;
use super::read::flag_word;
use super::sheet::takes_words;
use super::{Edit, Field, Kind, Num, Scalar, Schema, Sheet, Sides, Takes, Typed, Unit, Value, without_doubt};

pub(super) type Refusal = (String, String);

/// What the clause says about `field`: `Ok(None)` when it cannot be about it.
pub(super) fn edits(
    ctx: EntryContext,
    field: &Field,
    clause: &Clause,
    rest: &[String],
) -> Result<Option<Vec<Edit>>, Refusal> {
    let schema = ctx.schema;
    let slot = slot_of(field, clause);
    let refuse = |why: String| (why, format!("it takes {}", takes_words(schema, field)));
    let reading_of =
        |s: Scalar| Some(vec![Edit { key: field.key.clone(), slot, typed: Typed::Reading(Value::One(s)) }]);
    match field.takes() {
        // "5 off full stiff" is a count, not only where it is counted from.
        Takes::Choice
            if !clause.numbers.is_empty() && !clause.raw.iter().any(|w| w.contains('/') && !w.starts_with('/')) =>
        {
            Ok(None)
        }
        Takes::Choice => Ok(choice(field, clause, rest).map(Scalar::Text).and_then(reading_of)),
        Takes::Flag => {
            let said = clause
                .directions
                .iter()
                .chain(rest)
                .find_map(|w| flag_word(w).or_else(|| fitted_word(schema, field, w)));
            Ok(said.filter(|_| clause.numbers.is_empty()).map(Scalar::Flag).and_then(reading_of))
        }
        Takes::Text => {
            let text = text_behind_name(field, clause);
            // A free text of many lines grows by one; `FIELD=TEXT` writes it anew.
            let before = ctx.sheet.text(&field.key).filter(|_| field.lines);
            let text = text.map(|t| before.map_or(t.clone(), |b| format!("{b}\n{t}")));
            Ok(text.map(Scalar::Text).and_then(reading_of))
        }
        Takes::Number if field.sides == Sides::Rows => Ok(None),
        Takes::Number => {
            if rest.iter().any(|w| w != "hard") {
                return Ok(None);
            }
            let kind = schema.kind(field);
            let Some(sign) = sign_of(kind, field, clause) else { return Ok(None) };
            match (clause.numbers.as_slice(), sign) {
                // "clamps off": none are left.
                ([], Some(-1))
                    if kind.id == "count" && clause.directions.iter().any(|d| d == "off" || d == "removed") =>
                {
                    Ok(reading_of(Scalar::Num(Num::ZERO)))
                }
                ([], _) => Ok(None),
                ([n], sign) => number_edit(ctx, field, kind, slot, clause, *n, sign).map_err(refuse),
                (many, None) if field.sides != Sides::One && slot.is_none() => {
                    let one = |(i, n): (usize, &Num)| format!("{n}{}", if clause.unsure(i) { "?" } else { "" });
                    let text = many.iter().enumerate().map(one).collect::<Vec<_>>().join(", ");
                    reading(schema, field, None, &text).map(|e| Some(vec![e])).map_err(refuse)
                }
                _ => Ok(None),
            }
        }
    }
}

pub(super) fn slot_of(field: &Field, clause: &Clause) -> Option<usize> {
    match (field.sides, clause.left, clause.rear) {
        (Sides::Pair, Some(left), _) => Some(usize::from(!left)),
        (Sides::Corners, Some(left), Some(rear)) => Some(usize::from(!left) + 2 * usize::from(rear)),
        _ => None,
    }
}

/// Which way the clause points for this kind: `Some(None)` = a reading; `None` = its words are not of this kind.
fn sign_of(kind: &Kind, field: &Field, clause: &Clause) -> Option<Option<i32>> {
    if clause.plus && !kind.signed {
        return Some(Some(1));
    }
    let mut sign = None;
    let goes_in = |list: &[String]| list.iter().any(|w| w == "in");
    let as_direction = clause.trailing_in && clause.directions.is_empty() && (goes_in(&kind.up) || goes_in(&kind.down));
    let trailing = as_direction.then(|| "in".to_owned());
    for word in clause.directions.iter().chain(&trailing) {
        let s = match (kind.up.contains(word), kind.down.contains(word)) {
            (true, _) => Some(1),
            (_, true) => Some(-1),
            // "2 down more", "in less": amounts a direction, does not point by itself.
            _ if word == "more" || word == "less" => None,
            // A word that belongs to the name: "toe in", "put in".
            _ if field.says.iter().any(|s| s.split_whitespace().any(|w| w == word)) => None,
            _ => return None,
        };
        sign = sign.or(s);
    }
    Some(sign)
}

fn number_edit(
    ctx: EntryContext,
    field: &Field,
    kind: &Kind,
    slot: Option<usize>,
    clause: &Clause,
    n: Num,
    sign: Option<i32>,
) -> Result<Option<Vec<Edit>>, String> {
    let goes_in = |list: &[String]| list.iter().any(|w| w == "in");
    let inches = clause.trailing_in && !(clause.directions.is_empty() && (goes_in(&kind.up) || goes_in(&kind.down)));
    let unit = clause.unit.as_deref().or(inches.then_some("in"));
    if let (Some(text), None, None, Sides::Pair) = (&clause.sides, slot, sign, field.sides) {
        let text =
            unit.map_or(text.clone(), |u| text.split('/').map(|t| format!("{t} {u}")).collect::<Vec<_>>().join(", "));
        let text = if clause.about { format!("about {text}") } else { text };
        return reading(ctx.schema, field, None, &text).map(|e| Some(vec![e]));
    }
    // Two sides are no number of one.
    if clause.sides.as_deref().is_some_and(|t| Num::parse(&without_doubt(t).0).is_none()) {
        return Ok(None);
    }
    let Some(n) = in_stored_unit(ctx, field, slot, unit, n)? else { return Ok(None) };
    let unsure = clause.unsure(0);
    let edit = |typed| {
        let edit = Edit { key: field.key.clone(), slot, typed };
        if unsure { doubting(ctx, edit).map(|e| Some(vec![e])) } else { Ok(Some(vec![edit])) }
    };
    let signed = |s: i32| if s < 0 { -n } else { n };
    match sign {
        None if kind.asks_order && n > Num::ZERO && !clause.plus => Err(format!("{n} up or {n} down?")),
        None => {
            if matches!(field.sides, Sides::Corners | Sides::Named | Sides::List) && slot.is_none() {
                return Ok(None);
            }
            edit(Typed::Reading(Value::One(Scalar::Num(n))))
        }
        Some(_) if kind.asks_order && !clause.more && clause.direction_first => Err(format!(
            "is it where it stands, or a step? `{n} up` and `{n} down` say where, `{n} up more` and `{n} down more` how far"
        )),
        // "pinion 5 down" is where it stands, "pinion 2 down more" is a step; so is the other kinds' "down 1/4".
        Some(s) if kind.signed && !clause.more => edit(Typed::Reading(Value::One(Scalar::Num(signed(s))))),
        Some(s) => {
            let s = if clause.directions.iter().any(|d| d == "less") && kind.signed { -s } else { s };
            let s = if kind.id == "clicks" && counted_from_stiff(ctx, field) { -s } else { s };
            edit(Typed::Step(signed(s)))
        }
    }
}

/// The reading in doubt: an unsure step ends at an unsure value.
fn doubting(ctx: EntryContext, edit: Edit) -> Result<Edit, String> {
    let (key, slot) = (edit.key.clone(), edit.slot);
    let stepped = match edit.typed {
        Typed::Step(_) => Some(super::apply(ctx.schema, ctx.sheet, std::slice::from_ref(&edit))?.sheet),
        _ => None,
    };
    let typed = match (stepped.map(|sheet| Typed::of(&sheet, &key, slot)), edit.typed) {
        (Some(Typed::Reading(v) | Typed::Doubtful(v, _)), _) | (None, Typed::Reading(v)) => {
            let all = v.number_places();
            Typed::Doubtful(v, all)
        }
        (stepped, typed) => stepped.unwrap_or(typed),
    };
    Ok(Edit { key, slot, typed })
}

fn in_stored_unit(
    ctx: EntryContext,
    field: &Field,
    slot: Option<usize>,
    unit: Option<&str>,
    n: Num,
) -> Result<Option<Num>, String> {
    let units = &ctx.schema.units;
    let Some(unit) = unit else { return Ok(Some(n)) };
    let Some(stored) = field.unit_of(slot) else { return Ok(None) };
    let known: Option<&Unit> = units.meant(unit, stored);
    match (known, unit) {
        (Some(from), _) => Ok(units.to_stored(n, from)),
        (None, "turn" | "turns") => Ok(travel_of_turns(ctx, field, n, 1.0)),
        (None, "flat" | "flats") => Ok(travel_of_turns(ctx, field, n, 6.0)),
        // "limiter down one hole" is about the hole field, not about the height in holes.
        (None, "hole" | "holes" | "click" | "clicks") => Ok(None),
        (None, _) => Err(format!("`{unit}` is no unit it is measured in ({})", units.symbols_for(stored).join(", "))),
    }
}

/// What turns of the field's own screw are worth in its unit; `None` where it has none, or its pitch is not on record.
fn travel_of_turns(ctx: EntryContext, field: &Field, n: Num, parts_of_a_turn: f64) -> Option<Num> {
    let holds = |when: &str| super::Condition::parse(when).is_ok_and(|c| c.holds(ctx.sheet));
    let turn = field.turn.iter().find(|t| t.when.as_deref().is_none_or(holds))?;
    if field.unit.as_deref() != Some("in") {
        return None;
    }
    let at = |key: &Option<String>| ctx.schema.num_at(ctx.sheet, key.as_deref()?).map(Num::to_f64).filter(|x| *x > 0.0);
    let per_turn = at(&turn.threads).map(|tpi| 1.0 / tpi).or_else(|| at(&turn.per_turn))?;
    Num::from_f64(n.to_f64() / parts_of_a_turn * per_turn).map(|n| n.round(4))
}

/// Clicks counted from full stiff: tighter is fewer.
pub fn counted_from_stiff(ctx: EntryContext, field: &Field) -> bool {
    counted_from(ctx.sheet, field).is_some_and(|t| t.contains("stiff"))
}

/// Key of the field that says which end the clicks of a field are counted from.
pub fn counted_from_key(field: &Field) -> String {
    format!("{}.counted_from", field.table_and_name().0)
}

/// Which end the clicks of a field are counted from, where that is on record: "full soft".
pub fn counted_from<'a>(sheet: &'a Sheet, field: &Field) -> Option<&'a str> {
    sheet.text(&counted_from_key(field))
}

/// A choice said by the words left over, or by the last words of the clause.
fn choice(field: &Field, clause: &Clause, rest: &[String]) -> Option<String> {
    let said = rest.join(" ");
    let norm = |t: &str| t.to_lowercase().split_whitespace().map(singular).collect::<Vec<_>>().join(" ");
    let ways = |c: &String| {
        let mut all = vec![norm(c)];
        all.extend(field.choice_says.get(c).into_iter().flatten().map(|w| norm(w)));
        all
    };
    let tail = norm(&clause.text);
    // The longest way to say one wins: "not hooked" over "hooked".
    let mut found: Vec<(usize, &String)> = Vec::new();
    for c in &field.choices {
        for way in ways(c) {
            let at_end = tail == way || tail.ends_with(&format!(" {way}"));
            if way == said || (at_end && (said.is_empty() || way.ends_with(&said))) {
                found.push((way.len(), c));
            }
        }
    }
    found.into_iter().max_by_key(|(len, _)| *len).map(|(_, c)| c.clone())
}

/// "fitted", "removed" in the words of the kind.
fn fitted_word(schema: &Schema, field: &Field, word: &str) -> Option<bool> {
    let kind = schema.kind(field);
    if kind.up.iter().any(|w| w == word) {
        return Some(true);
    }
    kind.down.iter().any(|w| w == word).then_some(false)
}

/// The text that follows a short name: `rear tires pair B`, as it was typed.
fn text_behind_name(field: &Field, clause: &Clause) -> Option<String> {
    let raw: Vec<String> = clause.raw.iter().map(|w| singular(w)).collect();
    let says = field.says.iter().map(|s| s.split_whitespace().map(singular).collect::<Vec<_>>());
    let fits = says.filter(|say| !say.is_empty() && raw.len() > say.len() && raw.starts_with(say));
    let mut lengths: Vec<usize> = fits.map(|say| say.len()).collect();
    lengths.sort_unstable_by_key(|n| std::cmp::Reverse(*n));
    // "rear tires pair B" is pair B of the rear tires, not B of the rear tire pairs: the longest name that leaves a part.
    lengths.truncate(if field.kind == "own_part" { lengths.len() } else { 1 });
    lengths.into_iter().find_map(|longest| {
        let skip = clause.raw[longest..].iter().take_while(|w| FILLERS.contains(&w.to_lowercase().as_str())).count();
        let text = clause.raw[longest + skip..].join(" ");
        let text = text.trim_matches('"').to_owned();
        (!text.is_empty() && is_meant(field, &text)).then_some(text)
    })
}

/// A part is named so that nothing else can be meant: "pair B", or a part known by that name. Any other: FIELD=NAME.
fn is_meant(field: &Field, text: &str) -> bool {
    if field.kind == "own_part" {
        let first = text.split_whitespace().next().unwrap_or("").to_lowercase();
        let named = matches!(first.as_str(), "pair" | "set") && !text.split_whitespace().skip(2).any(scalar_number);
        return named || field.choices.iter().any(|known| super::same_name(known, text));
    }
    !scalar_number(text)
}

fn scalar_number(text: &str) -> bool {
    text.split_whitespace().next().is_some_and(|w| w.starts_with(|c: char| c.is_ascii_digit() || "+-.".contains(c)))
}
