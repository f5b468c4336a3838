//! Lists (gear ratios, shift points), groups among them (front and rear jets), and rows (ballast).

use super::names::plural;
use super::numbers;
use super::show;
use super::story::{Said, Story, Vars, Who};
use crate::schema::{Field, Num, Row, SURE, Scalar, Takes};

/// Two places along the car this near are one to a racer, in the unit of the column.
const NEAR: Num = Num::int(3);

impl Story<'_> {
    pub(super) fn list(&self, field: &Field, a: &[Num], b: &[Num]) -> Option<Said> {
        let mut vars = self.base(field, &self.names(field), Who::Spread);
        let shown = |v: &[Num], unit: bool| show::list(self.schema, field, v, unit, SURE);
        vars.extend([("value", shown(b, true)), ("new", shown(b, false)), ("old", shown(a, false))]);
        if a.len() != b.len() {
            return self.say(field, &["list"], &["brief_list"], &vars);
        }
        let some = |v: &[Num]| v.iter().map(|n| Some(*n)).collect::<Vec<_>>();
        if !field.groups.is_empty()
            && let Some(said) = self.grouped(field, &some(a), &some(b))
        {
            return Some(said);
        }
        let changed: Vec<usize> = (0..a.len()).filter(|i| a[*i] != b[*i]).collect();
        let steps = |i: usize| b[i] - a[i];
        match changed.as_slice() {
            [i] => {
                vars.extend(self.step(field, None, a[*i], b[*i]));
                let each = field.each.as_deref().unwrap_or("entry");
                let name = field.entries.get(*i).cloned().unwrap_or_else(|| format!("{each} {}", i + 1));
                vars.insert("entry_name", name);
                self.say(field, &["one_entry"], &[], &vars)
            }
            all if all.len() == a.len() && all.iter().all(|i| steps(*i) == steps(0)) => {
                let step = self.step(field, None, a[0], b[0]);
                let alike = |v: &[Num]| v.iter().all(|n| *n == v[0]);
                let (old, new) = (vars.remove("old")?, vars.remove("new")?);
                let whole = vars.remove("value")?;
                vars.extend(step);
                if !alike(a) || !alike(b) {
                    vars.extend([("old", old), ("new", new)]);
                }
                vars.insert("value", whole);
                let each = plural(field.each.as_deref().unwrap_or("entry"));
                vars.insert(
                    "all",
                    if a.len() == 2 { format!("both {each}") } else { format!("all {} {each}", a.len()) },
                );
                self.say(field, &["all_entries"], &[], &vars)
            }
            _ => self.say(field, &["list"], &["brief_list"], &vars),
        }
    }

    /// Groups that are alike inside: what changed first, then what stays.
    pub(super) fn grouped(&self, field: &Field, a: &[Option<Num>], b: &[Option<Num>]) -> Option<Said> {
        let names = self.names(field);
        let alike = |of: &[usize], v: &[Option<Num>]| {
            let first = (*v.get(*of.first()?)?)?;
            of.iter().all(|i| v.get(*i) == Some(&Some(first))).then_some(first)
        };
        let mut groups = Vec::new();
        for g in &field.groups {
            groups.push((g, alike(&g.of, a)?, alike(&g.of, b)?));
        }
        let say = |situation: &str, name: &str, short: &str, x: Num, y: Num| {
            let mut vars = self.step(field, None, x, y);
            vars.extend(self.base(field, &names, Who::Spread));
            vars.extend([("group", name.to_owned()), ("group_short", short.to_owned())]);
            self.say(field, &[situation], &[], &vars).map(|s| s.text)
        };
        let (_, x, y) = *groups.first()?;
        let text = if groups.iter().all(|(_, a, b)| (*a, *b) == (x, y)) {
            say("group", &format!("all {}", names.pair), "", x, y)?
        } else {
            let moved = groups.iter().filter(|(_, a, b)| a != b);
            let stay = groups.iter().filter(|(_, a, b)| a == b);
            let moved = moved.map(|(g, a, b)| say("group", &g.name, &g.short, *a, *b));
            let stay = stay.map(|(g, a, b)| say("group_stay", &g.name, &g.short, *a, *b));
            moved.chain(stay).collect::<Option<Vec<_>>>()?.join(", ")
        };
        let brief = text.split(" (").next().unwrap_or(&text).to_owned();
        Some(Said { text, brief, ..Said::default() })
    }

    pub(super) fn rows(&self, field: &Field, a: &[Row], b: &[Row]) -> Option<Said> {
        // Rows that stand in both are not told.
        let (mut old, mut new): (Vec<&Row>, Vec<&Row>) = (Vec::new(), b.iter().collect());
        for row in a {
            match new.iter().position(|r| *r == row) {
                Some(i) => drop(new.remove(i)),
                None => old.push(row),
            }
        }
        let names = self.names(field);
        let events = match (old.as_slice(), new.as_slice()) {
            ([], []) => vec![format!("{} listed in another order", names.one)],
            ([o], [n]) => vec![self.row_changed(field, o, n)?],
            ([o], [x, y]) => match self.split(field, o, x, y).or_else(|| self.split(field, o, y, x)) {
                Some(event) => vec![event],
                None => self.out_and_in(field, &old, &new),
            },
            _ => self.out_and_in(field, &old, &new),
        };
        let text = match events.as_slice() {
            [one] => one.clone(),
            several => format!("{}: {}", names.one, show::joined(several, 4)),
        };
        let brief = match events.as_slice() {
            [one] => super::subject::shorten(one, &[]),
            several => format!("{}: {}", names.one, show::joined(several, 1)),
        };
        Some(Said { text, brief, ..Said::default() })
    }

    fn out_and_in(&self, field: &Field, old: &[&Row], new: &[&Row]) -> Vec<String> {
        let out = old.iter().filter_map(|r| self.row(field, "row_taken", r, Vars::new()));
        out.chain(new.iter().filter_map(|r| self.row(field, "row_added", r, Vars::new()))).collect()
    }

    fn row_changed(&self, field: &Field, o: &Row, n: &Row) -> Option<String> {
        let (amount, place) = (column(field, Takes::Number), column(field, Takes::Text));
        let at = |row: &Row, i: Option<usize>| row.get(i?).cloned().flatten();
        let (x, y) = (at(o, amount).and_then(|s| s.num()), at(n, amount).and_then(|s| s.num()));
        let (from, to) = (at(o, place), at(n, place));
        if x == y && from != to && from.is_some() && to.is_some() {
            let places = [("place_old", placed(from.as_ref()?.text()?)), ("place_new", placed(to.as_ref()?.text()?))];
            return self.row(field, "row_moved", n, Vars::from(places));
        }
        if let (Some(x), Some(y), true) = (x, y, from == to && x != y) {
            let vars = self.step(field, amount, x, y);
            let keep = ["n", "old", "new"];
            let vars = vars.into_iter().filter(|(name, _)| keep.contains(name)).collect();
            return self.row(field, if y > x { "row_heavier" } else { "row_lighter" }, n, vars);
        }
        let show = |row: &Row, i: usize| {
            at(row, Some(i)).map_or("none".to_owned(), |s| show::show(self.schema, field, Some(i), &s))
        };
        let differ = (0..field.columns.len()).filter(|i| at(o, Some(*i)) != at(n, Some(*i)));
        let what: Vec<String> =
            differ.map(|i| format!("{} {} -> {}", show::label(field, i), show(o, i), show(n, i))).collect();
        let vars = [("row", show::row(self.schema, field, n, SURE, 0)), ("what", show::joined(&what, 3))];
        self.row(field, "row_changed", n, Vars::from(vars))
    }

    /// A part of one piece went elsewhere.
    fn split(&self, field: &Field, o: &Row, kept: &Row, gone: &Row) -> Option<String> {
        let (amount, place) = (column(field, Takes::Number)?, column(field, Takes::Text)?);
        let num = |row: &Row| row.get(amount)?.as_ref()?.num();
        let text = |row: &Row| Some(row.get(place)?.as_ref()?.text()?.to_owned());
        let (all, left, moved) = (num(o)?, num(kept)?, num(gone)?);
        if text(o)? != text(kept)? || left + moved != all || moved <= Num::ZERO {
            return None;
        }
        let all = show::show(self.schema, field, Some(amount), &Scalar::Num(all));
        let moved = numbers::one(field, Some(amount), moved);
        let places =
            [("place_old", placed(&text(o)?)), ("place_new", placed(&text(gone)?)), ("all", all), ("n_bare", moved)];
        self.row(field, "row_split", gone, Vars::from(places))
    }

    fn row(&self, field: &Field, situation: &str, row: &Row, more: Vars) -> Option<String> {
        let mut vars = self.base(field, &self.names(field), Who::One);
        let amount = column(field, Takes::Number);
        let said = amount.and_then(|i| Some((i, row.get(i)?.as_ref()?)));
        vars.insert(
            "n",
            said.map_or_else(|| "a piece".to_owned(), |(i, s)| show::show(self.schema, field, Some(i), s)),
        );
        if let Some((at, from)) = self.whereabouts(field, row) {
            vars.extend([("at", at), ("from", from)]);
        }
        vars.extend(more);
        self.say(field, &[situation], &[], &vars).map(|s| s.text)
    }

    /// "at trunk right" and "of trunk right"; what has no words for its place is told by its distance.
    fn whereabouts(&self, field: &Field, row: &Row) -> Option<(String, String)> {
        let text =
            column(field, Takes::Text).and_then(|i| row.get(i)?.as_ref()?.text()).filter(|t| !t.trim().is_empty());
        if let Some(text) = text {
            let place = placed(text);
            return Some(if leads(text) {
                (place.clone(), place)
            } else {
                (format!("at {place}"), format!("of {place}"))
            });
        }
        let i = field.slot_index(field.tell.get("over_column")?)?;
        let far = row.get(i)?.as_ref()?.num()?;
        let axle = field.tell.get("over_key").and_then(|k| {
            let value = self.new.get(k).or_else(|| self.old.get(k))?;
            value.scalars().next()?.num()
        });
        let text = match (axle, field.tell.get("over")) {
            (Some(axle), Some(over)) if (axle - far).abs() <= NEAR => over.clone(),
            _ => format!("{} {}", show::show(self.schema, field, Some(i), &Scalar::Num(far)), show::label(field, i)),
        };
        Some((text.clone(), text))
    }
}

fn column(field: &Field, takes: Takes) -> Option<usize> {
    (0..field.columns.len()).find(|i| field.slot_takes(*i) == takes)
}

/// The place says itself where it is: "over the rear axle".
fn leads(place: &str) -> bool {
    const WORDS: [&str; 12] =
        ["over", "under", "in", "on", "behind", "ahead", "at", "by", "beside", "between", "near", "the"];
    place.split_whitespace().next().is_some_and(|w| WORDS.contains(&w.to_lowercase().as_str()))
}

/// A place of one word takes its article: "the nose", but "trunk left".
fn placed(place: &str) -> String {
    let text = show::clip(place);
    if text.contains(' ') || leads(&text) { text } else { format!("the {text}") }
}
