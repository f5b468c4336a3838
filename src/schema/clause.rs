//! One clause in words → edits: sides, direction words of the field's kind, fractions, units, short names.

use super::assign::candidate;
use super::clause_edits::{edits, slot_of};
use super::entry::{Choose, EntryContext, EntryError};
use super::sheet::takes_words;
use super::{Edit, Field, Num, Places, Role, Schema, Sides, is_about, without_doubt};

/// A clause taken apart.
#[derive(Debug, Clone, Default)]
pub struct Clause {
    pub(super) text: String,
    pub(super) raw: Vec<String>,
    pub(super) left: Option<bool>,
    pub(super) rear: Option<bool>,
    pub(super) numbers: Vec<Num>,
    /// A number that may be two sides: `12/12.25`.
    pub(super) sides: Option<String>,
    pub(super) unit: Option<String>,
    /// "in" behind a number: inches, or the direction of a kind that goes in and out.
    pub(super) trailing_in: bool,
    pub(super) more: bool,
    /// A number typed with a plus: a step up.
    pub(super) plus: bool,
    /// Places among the numbers that are in doubt: `0.50?`; all of them behind "about".
    pub(super) doubt: Places,
    pub(super) about: bool,
    /// A direction stood before the number.
    pub(super) direction_first: bool,
    pub(super) directions: Vec<String>,
    pub(super) names: Vec<String>,
}

pub(super) const FILLERS: [&str; 14] =
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
    pub(super) fn unsure(&self, i: usize) -> bool {
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

pub(super) fn singular(word: &str) -> String {
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
    // "toe" is the toe that is set, not what is measured of it at full rise: a setting called exactly so goes first, where
    // another setting moves it.
    let exact = |f: &&Field| f.says.iter().any(|s| *s == clause.text.trim().to_lowercase());
    let meant = match measured.iter().any(|(_, f)| exact(f)) {
        true => Vec::new(),
        false => set.iter().filter(|(_, f)| exact(f) && ctx.schema.is_moved(ctx.sheet, &f.key)).copied().collect(),
    };
    let among = match (meant.is_empty(), measured.is_empty()) {
        (false, _) => meant,
        (_, true) => set,
        _ => measured,
    };
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
    /// Of a long line the first words say enough.
    const WORDS: usize = 8;
    let mut typed: Vec<String> = Vec::new();
    for name in clause.names.iter().map(|n| singular(n)).filter(|n| n.len() > 2) {
        if typed.len() < WORDS && !typed.iter().any(|t| **t == *name) {
            typed.push(name.to_string());
        }
    }
    let mut scored: Vec<(usize, usize, &str)> = Vec::new();
    for (order, field) in ctx.schema.fields.iter().enumerate().filter(|(_, f)| f.on_chassis(ctx.chassis)) {
        let said = field.says.iter().enumerate().flat_map(|(rank, s)| s.split_whitespace().map(move |w| (rank, w)));
        let parts = field.key.split('.').map(|w| (3, w));
        let words: Vec<(usize, &str)> = said.chain(parts).collect();
        let near = |t: &str, w: &str| {
            let w = singular(w);
            // Words of another length are further apart than that.
            (t.len().abs_diff(w.len()) <= 2).then(|| strsim::osa_distance(t, &w))
        };
        let near = &near;
        let best = typed.iter().flat_map(|t| words.iter().filter_map(move |(rank, w)| Some((near(t, w)?, *rank))));
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
