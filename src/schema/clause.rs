//! One clause in words → edits: sides, direction words of the field's kind, fractions, units, short names.

use super::assign::{candidate, reading};
use super::entry::{Choose, EntryContext, EntryError};
use super::read::flag_word;
use super::sheet::takes_words;
use super::{
    Edit, Field, Kind, Num, Places, Role, Scalar, Schema, Sides, Takes, Typed, Unit, Value, is_about, without_doubt,
};

/// A clause taken apart.
#[derive(Debug, Clone, Default)]
pub struct Clause {
    text: String,
    raw: Vec<String>,
    left: Option<bool>,
    rear: Option<bool>,
    numbers: Vec<Num>,
    /// A number that may be two sides: `12/12.25`.
    sides: Option<String>,
    unit: Option<String>,
    /// "in" behind a number: inches, or the direction of a kind that goes in and out.
    trailing_in: bool,
    more: bool,
    /// A number typed with a plus: a step up.
    plus: bool,
    /// Places among the numbers that are in doubt: `0.50?`; all of them behind "about".
    doubt: Places,
    about: bool,
    /// A direction stood before the number.
    direction_first: bool,
    directions: Vec<String>,
    names: Vec<String>,
}

const FILLERS: [&str; 14] =
    ["to", "by", "the", "at", "now", "is", "of", "a", "an", "from", "set", "my", "with", "both"];

impl Clause {
    /// Sorts the words of a clause.
    pub fn read(schema: &Schema, words: &[String]) -> Clause {
        let mut c = Clause { text: words.join(" "), raw: words.to_vec(), ..Clause::default() };
        let direction = |w: &str| schema.kinds.iter().any(|k| k.up.iter().chain(&k.down).any(|d| d == w));
        for word in &joined(words) {
            let typed = word;
            let word = &c.taken_in_doubt(typed);
            let w = word.to_lowercase();
            c.direction_first |= c.numbers.is_empty() && direction(&w);
            match w.as_str() {
                "l" | "left" => c.left = Some(true),
                "r" | "right" => c.left = Some(false),
                "front" | "fronts" => c.rear = Some(false),
                "rear" | "rears" | "back" => c.rear = Some(true),
                "lf" | "fl" => (c.left, c.rear) = (Some(true), Some(false)),
                "rf" | "fr" => (c.left, c.rear) = (Some(false), Some(false)),
                "lr" | "rl" => (c.left, c.rear) = (Some(true), Some(true)),
                "rr" => (c.left, c.rear) = (Some(false), Some(true)),
                "more" | "less" => {
                    c.more = true;
                    c.directions.push(w);
                }
                "" => {}
                a if is_about(a) => c.about = true,
                f if FILLERS.contains(&f) => {}
                "in" if !c.numbers.is_empty() && c.unit.is_none() => c.trailing_in = true,
                d if direction(d) => c.directions.push(w),
                _ => c.number_or_name(schema, typed, word, w),
            }
        }
        c
    }

    /// The word without its mark of doubt, which is noted: `0.50?`, `~3`, `mm?`, or a `?` that stands alone.
    fn taken_in_doubt(&mut self, word: &str) -> String {
        let bare = word.strip_suffix('?').map(|w| (w, true)).unwrap_or((word, false));
        let (bare, marked) = match bare.0.strip_prefix('~') {
            Some(rest) if rest.starts_with(|ch: char| ch.is_ascii_digit() || ch == '.' || ch == '-') => (rest, true),
            _ => bare,
        };
        let number = bare.starts_with(|ch: char| ch.is_ascii_digit() || "+-.".contains(ch));
        match (marked, number, self.numbers.len()) {
            (false, ..) => word.to_owned(),
            (true, true, n) => {
                self.doubt.insert(n);
                bare.to_owned()
            }
            // Behind the number: `0.50 in?`, `0.50 ?`.
            (true, false, n) if n > 0 => {
                self.doubt.insert(n - 1);
                bare.to_owned()
            }
            _ => word.to_owned(),
        }
    }

    /// Whether number `i` is in doubt.
    fn unsure(&self, i: usize) -> bool {
        self.about || self.doubt.contains(&i)
    }

    fn number_or_name(&mut self, schema: &Schema, typed: &str, word: &str, w: String) {
        self.plus |= word.len() > 1 && word.starts_with('+');
        let split = word.find(|ch: char| !(ch.is_ascii_digit() || "+-./".contains(ch))).unwrap_or(word.len());
        let (digits, unit) = word.split_at(split);
        let number = Num::parse(digits).or_else(|| if split == 0 { count_word(&w) } else { None });
        let is_unit =
            |u: &str| schema.units.typed(u).next().is_some() || schema.units.typed(&u.to_lowercase()).next().is_some();
        let parsed = |t: &str| Num::parse(&without_doubt(t).0);
        if word.split_once('/').is_some_and(|(a, b)| parsed(a).is_some() && parsed(b).is_some()) {
            // Each side keeps its own mark of doubt.
            self.sides = Some(typed.to_owned());
            self.numbers.push(Num::parse(word).unwrap_or(Num::ZERO));
            return;
        }
        match number {
            Some(n) if unit.is_empty() || split == 0 => self.numbers.push(n),
            Some(n) if is_unit(unit) => {
                self.numbers.push(n);
                self.unit = Some(unit.to_owned());
            }
            _ if !self.numbers.is_empty() && self.unit.is_none() && is_unit(word) => self.unit = Some(word.to_owned()),
            _ => self.names.push(w),
        }
    }

    /// Name words without a number in them, singular.
    fn wanted(&self) -> Vec<String> {
        self.names.iter().map(|n| singular(n)).collect()
    }
}

/// Words that are typed in two parts: `two step`, `1 1/8`; and a point behind an abbreviation (`in.`).
fn joined(words: &[String]) -> Vec<String> {
    let mut out: Vec<String> = Vec::new();
    for word in words {
        let word = word.strip_suffix('.').filter(|w| !w.is_empty()).unwrap_or(word);
        let whole = |w: &String| Num::parse(w).is_some_and(Num::is_int) && !w.contains('/');
        let plain = word.strip_suffix('?').unwrap_or(word);
        let fraction =
            plain.split_once('/').is_some_and(|(a, b)| Num::parse(a) < Num::parse(b)) && Num::parse(plain).is_some();
        match out.last_mut() {
            Some(last) if fraction && whole(last) => *last = format!("{last}-{word}"),
            Some(last) if last.eq_ignore_ascii_case("two") && word.eq_ignore_ascii_case("step") => {
                *last = "two-step".to_owned()
            }
            _ => out.push(word.to_owned()),
        }
    }
    out
}

fn count_word(w: &str) -> Option<Num> {
    let micros = match w {
        "one" => 1_000_000,
        "two" => 2_000_000,
        "three" => 3_000_000,
        "four" => 4_000_000,
        "five" => 5_000_000,
        "six" => 6_000_000,
        "half" => 500_000,
        "quarter" => 250_000,
        _ => return None,
    };
    Some(Num::from_micros(micros))
}

fn singular(word: &str) -> String {
    let w = word.to_lowercase();
    match w.strip_suffix('s') {
        Some(stem) if stem.len() > 2 && !stem.ends_with('s') => stem.to_owned(),
        _ => w,
    }
}

struct Fit<'a> {
    field: &'a Field,
    score: u32,
    edits: Vec<Edit>,
}

/// The edits a clause means, among the fields that are wanted. Several that fit equally well are asked about.
pub fn match_clause(
    ctx: EntryContext,
    clause: &Clause,
    wanted: &dyn Fn(&Field) -> bool,
    choose: &mut Choose,
) -> Result<Vec<Edit>, EntryError> {
    let mut fits: Vec<Fit> = Vec::new();
    let mut refused: Option<(u32, EntryError)> = None;
    for field in ctx.schema.fields.iter().filter(|f| f.on_chassis(ctx.chassis) && wanted(f)) {
        let Some((name_score, rest)) = name_score(field, clause) else { continue };
        let score = name_score * 4
            + u32::from(field.applies.holds(ctx.sheet)) * 2
            + u32::from(ctx.sheet.get(&field.key).is_some());
        match edits(ctx, field, clause, &rest) {
            Ok(Some(edits)) => fits.push(Fit { field, score, edits }),
            Ok(None) => {}
            Err((why, help)) => {
                let error =
                    EntryError::Value { clause: clause.text.clone(), why: format!("{}: {why}", field.key), help };
                if refused.as_ref().is_none_or(|(s, _)| *s < score) {
                    refused = Some((score, error));
                }
            }
        }
    }
    let best = fits.iter().map(|f| f.score).max().unwrap_or(0);
    // A field whose name fits far better than any that could take the value: its own message is the useful one.
    if let Some((_, error)) = refused.filter(|(score, _)| *score > best + 40) {
        return Err(error);
    }
    fits.retain(|f| f.score == best);
    // The field is clear, what became of it is not.
    let best_name = ctx
        .schema
        .fields
        .iter()
        .filter(|f| f.on_chassis(ctx.chassis))
        .filter_map(|f| Some((name_score(f, clause)?.0, f)));
    if let (true, Some((_, field))) = (
        fits.is_empty(),
        best_name.filter(|(s, _)| *s >= 60).max_by_key(|(s, f)| (*s, ctx.sheet.get(&f.key).is_some())),
    ) {
        return Err(EntryError::Value {
            clause: clause.text.clone(),
            why: format!("`{}`: what became of {} is not understood", clause.text, field.key),
            help: format!("it takes {}; a step needs a direction and a number", takes_words(ctx.schema, field)),
        });
    }
    match fits.len() {
        0 => Err(EntryError::Unknown { clause: clause.text.clone(), near: near_fields(ctx, clause) }),
        1 => Ok(fits.swap_remove(0).edits),
        _ => {
            let candidates: Vec<_> = fits.iter().map(|f| candidate(f.field)).collect();
            match choose(&clause.text, &candidates).filter(|i| *i < fits.len()) {
                Some(i) => Ok(fits.swap_remove(i).edits),
                None => Err(EntryError::Ambiguous { clause: clause.text.clone(), candidates }),
            }
        }
    }
}

/// The field that a clause names and says nothing else about: what a hand sets only where nothing else is named.
/// `None`: the clause says more, or names none.
pub fn match_name<'a>(
    ctx: EntryContext<'a>,
    clause: &Clause,
    choose: &mut Choose,
) -> Result<Option<(&'a Field, Option<usize>)>, EntryError> {
    if !clause.numbers.is_empty() || !clause.directions.is_empty() || clause.about {
        return Ok(None);
    }
    let all = clause.wanted().len();
    // "the left front corner" names it; a word that is a choice or a text says more.
    let named = |f: &'a Field| {
        let (name, _) = name_score(f, clause).filter(|(_, rest)| rest.is_empty() && all > 0)?;
        let (holds, there) = (f.applies.holds(ctx.sheet), ctx.sheet.get(&f.key).is_some());
        Some((name * 4 + u32::from(holds) * 2 + u32::from(there), f))
    };
    let named = ctx.schema.fields.iter().filter(|f| f.on_chassis(ctx.chassis)).filter_map(named);
    let (set, measured): (Vec<_>, Vec<_>) = named.partition(|(_, f)| f.role == Role::Set);
    let among = if measured.is_empty() { set } else { measured };
    let most = among.iter().map(|(score, _)| *score).max();
    let best: Vec<&Field> = among.into_iter().filter(|(score, _)| Some(*score) == most).map(|(_, f)| f).collect();
    let found = match best.as_slice() {
        [] => None,
        [one] => Some(*one),
        many => {
            let candidates: Vec<_> = many.iter().map(|f| candidate(f)).collect();
            match choose(&clause.text, &candidates).and_then(|i| many.get(i)) {
                Some(one) => Some(*one),
                None => return Err(EntryError::Ambiguous { clause: clause.text.clone(), candidates }),
            }
        }
    };
    Ok(found.map(|f| (f, slot_of(f, clause))))
}

/// Keys of the fields whose short names or keys hold words nearest to those typed, likeliest first.
fn near_fields(ctx: EntryContext, clause: &Clause) -> Vec<String> {
    let mut scored: Vec<(usize, usize, &str)> = Vec::new();
    for (order, field) in ctx.schema.fields.iter().enumerate().filter(|(_, f)| f.on_chassis(ctx.chassis)) {
        let said = field.says.iter().enumerate().flat_map(|(rank, s)| s.split_whitespace().map(move |w| (rank, w)));
        let parts = field.key.split('.').map(|w| (3, w));
        let typed = clause.names.iter().map(|n| singular(n)).filter(|n| n.len() > 2);
        let words: Vec<(usize, &str)> = said.chain(parts).collect();
        let best =
            typed.flat_map(|t| words.iter().map(move |(rank, w)| (strsim::osa_distance(&t, &singular(w)), *rank)));
        // On the sheet already, and called so first: likeliest.
        if let Some((distance, rank)) = best.min().filter(|(d, _)| *d <= 2) {
            let absent = usize::from(ctx.sheet.get(&field.key).is_none());
            scored.push((distance * 16 + rank.min(3) * 2 + absent, order, &field.key));
        }
    }
    scored.sort();
    scored.into_iter().take(4).map(|(_, _, key)| key.to_owned()).collect()
}

/// How well the clause's name words fit a field, and the words left over (a choice or a text). `None`: not at all.
fn name_score(field: &Field, clause: &Clause) -> Option<(u32, Vec<String>)> {
    let end =
        field.noun.end.as_deref().or_else(|| field.key.split('.').next().filter(|s| *s == "front" || *s == "rear"));
    if let Some(rear) = clause.rear {
        let corner = field.sides == Sides::Corners;
        if !corner && end.is_none_or(|e| (e == "rear") != rear) {
            return None;
        }
    }
    if clause.left.is_some() && !matches!(field.sides, Sides::Pair | Sides::Corners) {
        return None;
    }
    let wanted = clause.wanted();
    // The whole name, or the longest part of it from the start with a choice or text behind.
    let mut best: Option<(u32, usize)> = None;
    for say_index in 0..field.says.len() {
        let say: Vec<String> = field.says[say_index]
            .split_whitespace()
            .filter(|w| !["front", "rear", "left", "right"].contains(w))
            .map(singular)
            .collect();
        if !say.is_empty() && wanted.starts_with(&say) {
            let score = 60 + 10 * say.len() as u32 - (say_index as u32).min(9);
            if best.is_none_or(|(s, _)| s < score) {
                best = Some((score, say.len()));
            }
        }
    }
    if let Some((score, used)) = best {
        return Some((score, wanted[used..].to_vec()));
    }
    // All words somewhere in the key, the label or the short names.
    let hay: Vec<String> = [&field.key, &field.label]
        .into_iter()
        .chain(&field.says)
        .flat_map(|s| s.split(|c: char| !c.is_alphanumeric() && c != '-').map(singular))
        .collect();
    let used = wanted.iter().take_while(|w| hay.contains(w)).count();
    let all_parts_of_key = wanted.iter().take(used).all(|w| field.key.split(['.', '_']).any(|k| singular(k) == *w));
    (used > 0).then(|| (if all_parts_of_key { 20 } else { 10 } + used as u32, wanted[used..].to_vec()))
}

type Refusal = (String, String);

/// What the clause says about `field`: `Ok(None)` when it cannot be about it.
fn edits(ctx: EntryContext, field: &Field, clause: &Clause, rest: &[String]) -> Result<Option<Vec<Edit>>, Refusal> {
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

fn slot_of(field: &Field, clause: &Clause) -> Option<usize> {
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
    let table = field.table_and_name().0;
    ctx.sheet.text(&format!("{table}.counted_from")).is_some_and(|t| t.contains("stiff"))
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
