//! The records of the sheet from both sides: each once, as it was put right on either, in the order of time.

use super::super::mend::live::Lived;
use super::choice::{Choice, Told, by_change};
use super::days::merge_lines;
use super::mended::{GaveWay, told_so};
use super::order::in_order;
use super::side::Side;
use super::wrote::{Then, Written};
use crate::diff::words;
use crate::schema::{Edit, Schema, Typed};
use crate::slip::Moment;
use crate::timeline::VersionNumber;
use std::collections::{HashMap, HashSet};

/// One record of the joined line.
pub(super) struct Item {
    /// As it holds now.
    pub lived: Lived,
    /// Its place on each side, where that has it.
    pub from: [Option<usize>; 2],
    /// The side it is taken from: that one's book has its texts.
    pub of: usize,
    /// Its numbers, where each side calls it otherwise than both did before.
    pub claims: Vec<VersionNumber>,
}

/// What a record is known by, whatever became of it: the first commit it was written in.
pub(super) fn identity(lived: &Lived) -> &str {
    lived.entry.replaces.first().unwrap_or(&lived.entry.id)
}

pub(super) type Time = (Moment, Option<Moment>, bool);

pub(super) fn time(lived: &Lived) -> Time {
    (lived.entry.at, lived.entry.since, lived.entry.time_unknown)
}

/// `v22 of Aug 22 14:20 (Ro)`.
pub(super) fn named(lived: &Lived) -> String {
    let e = &lived.entry;
    let name = e.number.as_ref().map_or_else(|| "what was measured".to_owned(), ToString::to_string);
    format!("{name} of {}", e.at.words(None))
}

/// All records of both sides, in the order of time.
pub(super) fn merge(sides: &[Side; 2], bases: &[Side], choice: &mut Choice) -> Vec<Item> {
    let place = |side: &Side| -> HashMap<String, usize> {
        let all = side.entries().iter().enumerate();
        all.map(|(i, e)| (identity(e).to_owned(), i)).collect()
    };
    let places = [place(&sides[0]), place(&sides[1])];
    let before: Vec<HashMap<String, usize>> = bases.iter().map(place).collect();
    let mut items = Vec::new();
    for (side, here) in places.iter().enumerate() {
        let mut keys: Vec<(&usize, &String)> = here.iter().map(|(k, i)| (i, k)).collect();
        keys.sort();
        for (i, key) in keys {
            let there = places[1 - side].get(key).copied();
            if side == 1 && there.is_some() {
                continue;
            }
            let was: Vec<Option<(&Side, &Lived)>> = bases
                .iter()
                .zip(&before)
                .map(|(base, known)| known.get(key).map(|i| (base, &base.entries()[*i])))
                .collect();
            let item = match there {
                Some(j) => Some(both(sides, [*i, j], &was, choice)),
                None => alone(sides, side, *i, &was, choice),
            };
            items.extend(item);
        }
    }
    unordered(sides, &mut items, choice);
    in_order(items)
}

/// One only one side has: the other took it away, or never had it.
fn alone(
    sides: &[Side; 2],
    side: usize,
    i: usize,
    was: &[Option<(&Side, &Lived)>],
    choice: &mut Choice,
) -> Option<Item> {
    let lived = &sides[side].entries()[i];
    let mut from = [None, None];
    from[side] = Some(i);
    let item = Item { lived: lived.clone(), from, of: side, claims: Vec::new() };
    let known: Vec<_> = was.iter().flatten().collect();
    if known.is_empty() || known.len() < was.len() {
        return Some(item);
    }
    let as_it_was = known.iter().all(|(base, old)| same_content(&sides[side], lived, base, old));
    if as_it_was {
        return None;
    }
    let mut said = ["it never happened".to_owned(), "it never happened".to_owned()];
    said[side] = format!("it was put right: {}", lived.entry.words.join(", "));
    let key = identity(lived);
    let written = [0, 1].map(|s| sides[s].wrote_record(key, &|then| format!("{then:?}")));
    let right = choice.ask(Told { about: named(lived), said, written });
    (right == side).then_some(item)
}

fn same_content(a: &Side, x: &Lived, b: &Side, y: &Lived) -> bool {
    x.entry.id == y.entry.id || (time(x) == time(y) && x.entry.why == y.entry.why && same_edits(a, x, b, y))
}

/// Whether the same was typed; a record that was only carried on says so in its trailers.
fn same_edits(a: &Side, x: &Lived, b: &Side, y: &Lived) -> bool {
    let typed = |l: &Lived| l.message.all("Typed").map(str::to_owned).collect::<Vec<_>>();
    let (of_x, of_y) = (typed(x), typed(y));
    (!of_x.is_empty() && of_x == of_y) || x.edits(&a.book) == y.edits(&b.book)
}

/// One both sides have: what either put right in it holds.
fn both(sides: &[Side; 2], at: [usize; 2], was: &[Option<(&Side, &Lived)>], choice: &mut Choice) -> Item {
    let pair = [0, 1].map(|s| &sides[s].entries()[at[s]]);
    let from = [Some(at[0]), Some(at[1])];
    // Where it was joined in two ways before, what both were has no say.
    let agree = was.iter().all(Option::is_some);
    let known: Vec<(&Side, &Lived)> = was.iter().flatten().copied().filter(|_| agree).collect();
    let unchanged = |s: usize| !known.is_empty() && known.iter().all(|(_, old)| old.entry.id == pair[s].entry.id);
    // What one side alone holds anew is taken from there.
    let mut of = usize::from(unchanged(0));
    if pair[0].entry.id == pair[1].entry.id {
        return Item { lived: pair[of].clone(), from, of, claims: Vec::new() };
    }
    let key = identity(pair[0]);
    let written = |of: &dyn Fn(&Then) -> String| [0, 1].map(|s| sides[s].wrote_record(key, of));
    let mut edits = None;
    let mut of_one = false;
    let mut gave_way = Vec::new();
    if !same_edits(&sides[0], pair[0], &sides[1], pair[1]) {
        let typed = [0, 1].map(|s| pair[s].edits(&sides[s].book));
        let old: Vec<Vec<Edit>> = known.iter().map(|(b, l)| l.edits(&b.book)).collect();
        let merged = merge_edits(&sides[0].book.schema, &named(pair[0]), &typed, &old, &written, choice, &mut gave_way);
        match typed.iter().position(|t| *t == merged) {
            Some(side) => (of, of_one) = (side, true),
            None => edits = Some(merged),
        }
    }
    let mut item = Item { lived: pair[of].clone(), from, of, claims: Vec::new() };
    item.lived.edits = edits;
    let lived = &mut item.lived;
    let times: Vec<Time> = known.iter().map(|(_, l)| time(l)).collect();
    let words = |t: Time| t.1.map_or(t.0.words(None), |s| format!("between {} and {}", s.words(None), t.0.words(None)));
    let asked = choice.decided.len();
    let right = choice.side(&times.iter().collect::<Vec<_>>(), [&time(pair[0]), &time(pair[1])], || Told {
        about: format!("when {} was", named(pair[0])),
        said: [words(time(pair[0])), words(time(pair[1]))],
        written: written(&|then| format!("{:?}", then.when)),
    });
    if choice.decided.len() > asked {
        let names = vec!["mended: it was ".to_owned()];
        gave_way.push(GaveWay { side: 1 - right, names, to: words(time(pair[right])) });
    }
    if time(pair[right]) != time(lived) {
        (lived.entry.at, lived.entry.since, lived.entry.time_unknown) = time(pair[right]);
        lived.message = lived.message.clone().without("Since").without("Time");
    }
    let whys: Vec<&Option<String>> = known.iter().map(|(_, l)| &l.entry.why).collect();
    let why_words = |w: &Option<String>| w.clone().unwrap_or_else(|| "no reason".to_owned());
    let asked = choice.decided.len();
    let right = choice.side_of_some(&whys, [&pair[0].entry.why, &pair[1].entry.why], || Told {
        about: format!("why {} was", named(pair[0])),
        said: [why_words(&pair[0].entry.why), why_words(&pair[1].entry.why)],
        written: written(&|then| format!("{:?}", then.why)),
    });
    if choice.decided.len() > asked {
        let names = vec!["mended: why: ".to_owned(), "mended: it had no reason".to_owned()];
        gave_way.push(GaveWay { side: 1 - right, names, to: why_words(&pair[right].entry.why) });
    }
    lived.entry.why.clone_from(&pair[right].entry.why);
    let numbers: Vec<_> = known.iter().map(|(_, l)| &l.entry.number).collect();
    let right = by_change(&numbers, [&pair[0].entry.number, &pair[1].entry.number]);
    if right.is_none() {
        item.claims = pair.iter().filter_map(|l| l.entry.number.clone()).collect();
        item.claims.sort();
    }
    lived.entry.number.clone_from(&pair[right.unwrap_or(0)].entry.number);
    lived.entry.measured = merge_lines(&[], pair.map(|l| l.entry.measured.clone()));
    // What gave way on the one and holds after all is not said to have given way.
    if !(of_one && known.is_empty()) {
        let old: Vec<Vec<String>> = known.iter().map(|(_, l)| l.entry.mended.clone()).collect();
        lived.entry.mended = merge_lines(&old, told_so(&old, pair.map(|l| l.entry.mended.clone()), &gave_way));
    }
    for n in pair.iter().flat_map(|l| &l.entry.was) {
        if !lived.entry.was.contains(n) {
            lived.entry.was.push(n.clone());
        }
    }
    item
}

/// What was typed on either side, field by field.
fn merge_edits(
    schema: &Schema,
    about: &str,
    typed: &[Vec<Edit>; 2],
    old: &[Vec<Edit>],
    written: Written<'_, Then>,
    choice: &mut Choice,
    gave_way: &mut Vec<GaveWay>,
) -> Vec<Edit> {
    let place = |e: &Edit| (e.key.clone(), e.slot);
    let mut places: Vec<(String, Option<usize>)> = typed[0].iter().map(place).collect();
    places.extend(typed[1].iter().map(place).filter(|p| !typed[0].iter().any(|e| place(e) == *p)));
    let mut out = Vec::new();
    let mut seen = HashSet::new();
    for at in places.into_iter().filter(|p| seen.insert(p.clone())) {
        let of = |list: &[Edit]| list.iter().filter(|e| place(e) == at).cloned().collect::<Vec<_>>();
        let before: Vec<Vec<Edit>> = old.iter().map(|l| of(l)).collect();
        let pair = [of(&typed[0]), of(&typed[1])];
        let said = |edits: &[Edit]| match edits {
            [] => "nothing said of it".to_owned(),
            edits => edits.iter().map(|e| typed_words(schema, e)).collect::<Vec<_>>().join(", "),
        };
        let asked = choice.decided.len();
        let right = choice.side(&before.iter().collect::<Vec<_>>(), [&pair[0], &pair[1]], || Told {
            about: format!("{}, {about}", label(schema, &at.0, at.1)),
            said: [said(&pair[0]), said(&pair[1])],
            written: written(&|then| format!("{:?}", of(&then.edits))),
        });
        if choice.decided.len() > asked {
            let names = schema.field(&at.0).map(|f| f.says.iter().chain([&f.label]).cloned().collect());
            gave_way.push(GaveWay { side: 1 - right, names: names.unwrap_or_default(), to: said(&pair[right]) });
        }
        out.extend(pair[right].iter().cloned());
    }
    out
}

/// The name of a field, or of one side of it.
pub(super) fn label(schema: &Schema, key: &str, slot: Option<usize>) -> String {
    let Some(field) = schema.field(key) else { return key.to_owned() };
    let name = field.says.first().unwrap_or(&field.label).clone();
    match slot.and_then(|i| field.slot_list().get(i)) {
        Some(slot) => format!("{name}, {}", slot.label.as_deref().unwrap_or(&slot.id)),
        None => name,
    }
}

/// What was typed, in words.
pub(super) fn typed_words(schema: &Schema, edit: &Edit) -> String {
    let Some(field) = schema.field(&edit.key) else { return edit.to_trailer(schema) };
    match &edit.typed {
        Typed::Off => "taken off the record".to_owned(),
        Typed::Reading(v) | Typed::Doubtful(v, _) => match (v.one(), edit.slot) {
            (Some(one), slot) => words::show(schema, field, slot.or(Some(0)), one),
            (None, _) => words::show_value(schema, field, v),
        },
        Typed::Step(_) => {
            let text = edit.to_trailer(schema);
            text.split_once(' ').map_or(text.clone(), |(_, step)| format!("a {step}"))
        }
    }
}

/// When a record may have happened, s: first and last.
fn window(side: &Side, i: usize) -> (i64, i64) {
    let e = &side.entries()[i].entry;
    let end = e.at.seconds;
    let begin = match (e.since, e.time_unknown) {
        (Some(since), _) => since.seconds,
        (None, true) => i.checked_sub(1).map_or(end, |p| (side.entries()[p].entry.at.seconds + 1).min(end)),
        _ => end,
    };
    (begin, end)
}

/// What each side set anew in one field, with no order between the two: one of them holds, the other gives way.
fn unordered(sides: &[Side; 2], items: &mut [Item], choice: &mut Choice) {
    let new = |side: usize| move |i: &Item| i.from[side].is_some() && i.from[1 - side].is_none();
    let mut by_field: HashMap<String, [Vec<usize>; 2]> = HashMap::new();
    for side in [0, 1] {
        for (n, item) in items.iter().enumerate().filter(|(_, i)| new(side)(i)) {
            let keys: HashSet<String> = item.lived.edits(&sides[side].book).into_iter().map(|e| e.key).collect();
            for key in keys {
                by_field.entry(key).or_default()[side].push(n);
            }
        }
    }
    let mut fields: Vec<(String, [Vec<usize>; 2])> = by_field.into_iter().collect();
    fields.sort();
    for (key, [firsts, seconds]) in fields {
        for a in firsts {
            for b in &seconds {
                clash(sides, items, [a, *b], &key, choice);
            }
        }
    }
}

fn clash(sides: &[Side; 2], items: &mut [Item], pair: [usize; 2], key: &str, choice: &mut Choice) {
    let windows = [0, 1].map(|s| items[pair[s]].from[s].map_or((0, -1), |i| window(&sides[s], i)));
    if windows[0].0 > windows[1].1 || windows[1].0 > windows[0].1 {
        return;
    }
    let schema = &sides[0].book.schema;
    let edits = [0, 1].map(|s| items[pair[s]].lived.edits(&sides[s].book));
    let of = [0, 1].map(|s| edits[s].iter().filter(|e| e.key == key).cloned().collect::<Vec<_>>());
    let meets = |x: &Edit, y: &Edit| x.slot.is_none() || y.slot.is_none() || x.slot == y.slot;
    if !of[0].iter().any(|x| of[1].iter().any(|y| meets(x, y))) || is_one(items, pair, key, &of) {
        return;
    }
    let said = [0, 1].map(|s| {
        let e = &items[pair[s]].lived.entry;
        let typed: Vec<String> = of[s].iter().map(|e| typed_words(schema, e)).collect();
        let name = e.number.as_ref().map(|n| format!("{n} by ")).unwrap_or_default();
        format!("{} ({name}{})", typed.join(", "), e.by)
    });
    let when = |s: usize| match windows[s] {
        (a, b) if a == b => items[pair[s]].lived.entry.at.words(None),
        _ => format!("some time up to {}", items[pair[s]].lived.entry.at.words(None)),
    };
    let about = match (when(0), when(1)) {
        (a, b) if a == b => format!("{}, {a}", label(schema, key, None)),
        (a, b) => format!("{}, {a} and {b}", label(schema, key, None)),
    };
    // One step told on both laptops was taken once: there is nothing to ask, the one written down first holds.
    let right = if of[0] == of[1] {
        let written = [0, 1].map(|s| items[pair[s]].lived.entry.written.seconds);
        choice.settled(Told { about, said, written }, usize::from(written[1] < written[0]), true)
    } else {
        let typed = |then: &Then| format!("{:?}", then.edits.iter().filter(|e| e.key == key).collect::<Vec<_>>());
        let written = [0, 1].map(|s| sides[s].wrote_record(identity(&items[pair[s]].lived), &typed));
        choice.ask(Told { about, said, written })
    };
    let lost = 1 - right;
    let typed = |s: usize| of[s].iter().map(|e| typed_words(schema, e)).collect::<Vec<_>>().join(", ");
    let note = match of[0] == of[1] {
        true => format!("mended: {} told on both laptops, counts once", label(schema, key, None)),
        false => format!("mended: {} {} gave way to {}", label(schema, key, None), typed(lost), typed(right)),
    };
    let lived = &mut items[pair[lost]].lived;
    lived.edits = Some(edits[lost].iter().filter(|e| e.key != key).cloned().collect());
    lived.entry.measured.retain(|m| m.split([' ']).next().is_none_or(|k| k != key));
    lived.fixed.push(note);
}

/// Whether both sides say the same: readings that end at one value.
fn is_one(items: &[Item], pair: [usize; 2], key: &str, of: &[Vec<Edit>; 2]) -> bool {
    let stepped = of.iter().flatten().any(|e| matches!(e.typed, Typed::Step(_)));
    let sheet = |s: usize| items[pair[s]].lived.sheet();
    let (a, b) = (sheet(0), sheet(1));
    let slots: HashSet<Option<usize>> = of.iter().flatten().map(|e| e.slot).collect();
    !stepped && slots.into_iter().all(|slot| Typed::of(&a, key, slot) == Typed::of(&b, key, slot))
}
