//! Which changed fields are told in whose sentence.

use super::Clause;
use super::story::{Said, Story};
use super::template::render;
use crate::diff::SheetDiff;
use crate::schema::{Field, Num, Role, Together, When};
use std::collections::BTreeMap;

/// The most values that came with their parent and are told behind its sentence.
const MOST_TOLD: usize = 3;

/// Each changed field in exactly one clause; in sheet order.
pub(super) fn clauses(story: Story, diff: &SheetDiff) -> Vec<Clause> {
    let mut told: BTreeMap<&str, Said> = BTreeMap::new();
    for change in &diff.changes {
        let said = match story.schema.field(&change.key) {
            Some(field) => story.tell(field, change.old.as_ref(), change.new.as_ref()),
            None => {
                let text = format!("{} changed", change.key);
                Said { brief: text.clone(), text, ..Said::default() }
            }
        };
        told.insert(&change.key, said);
    }
    let folder = Folder { story, diff, told: &told };
    let mut clusters: Vec<(&str, Vec<&str>)> = Vec::new();
    for change in &diff.changes {
        let root = folder.root(&change.key);
        match clusters.iter_mut().find(|(r, _)| *r == root) {
            Some((_, members)) => members.push(&change.key),
            None => clusters.push((root, vec![&change.key])),
        }
    }
    let mut out: Vec<Clause> = Vec::new();
    for together in &story.schema.together {
        let Some(said) = folder.together(together, &clusters) else {
            continue;
        };
        let mut members: Vec<&str> = Vec::new();
        clusters.retain(|(root, of)| {
            let taken = together.fields.iter().any(|f| f == root);
            if taken {
                members.extend(of);
            }
            !taken
        });
        if let Some(first) = together.fields.first() {
            out.push(folder.clause(first, members, said));
        }
    }
    for (root, members) in clusters {
        let said = folder.with_children(root, &members);
        out.push(folder.clause(root, members, said));
    }
    out
}

struct Folder<'a> {
    story: Story<'a>,
    diff: &'a SheetDiff,
    told: &'a BTreeMap<&'a str, Said>,
}

impl<'a> Folder<'a> {
    /// The changed field in whose sentence `key` is told: itself, or the end of the way up.
    fn root(&self, key: &'a str) -> &'a str {
        let mut way = vec![key];
        loop {
            let here = way[way.len() - 1];
            let Some(up) = self.parent(here) else {
                return here;
            };
            if let Some(i) = way.iter().position(|k| *k == up) {
                // A circle has one root too.
                return way[i..].iter().min().copied().unwrap_or(up);
            }
            way.push(up);
        }
    }

    fn parent(&self, key: &'a str) -> Option<&'a str> {
        let field = self.story.schema.field(key)?;
        let change = self.diff.get(key)?;
        let changed = |k: &str| self.diff.get(k).map(|c| c.key.as_str()).filter(|k| *k != key);
        if let Some(part) = field.part.as_deref().and_then(changed) {
            return Some(part);
        }
        let user = self.told.iter().find(|(k, said)| **k != key && said.special && said.used.iter().any(|u| u == key));
        if let Some((user, _)) = user {
            return Some(user);
        }
        let (before, after) = (field.applies.holds(self.story.old), field.applies.holds(self.story.new));
        let came_or_went = change.old.is_none() != change.new.is_none() && before != after;
        let parent = |k: &str| {
            let parent = self.diff.get(k)?;
            let known = parent.new.is_some() && (parent.old.is_some() || change.new.is_none());
            known.then(|| changed(k)).flatten()
        };
        if came_or_went && let Some(up) = field.applies.keys().find_map(parent) {
            return Some(up);
        }
        let leader = field.follows.as_deref().and_then(changed)?;
        self.consistent(field, leader).then_some(leader)
    }

    /// The value moved as its leader says: holes times spacing, or the same way where the spacing is not known.
    fn consistent(&self, field: &Field, leader: &str) -> bool {
        let (schema, story) = (self.story.schema, self.story);
        let step = |key: &str| Some(schema.num_at(story.new, key)? - schema.num_at(story.old, key)?);
        let (Some(d), Some(holes)) = (step(&field.key), step(leader)) else {
            return false;
        };
        let spacing = schema.field(leader).and_then(|f| story.turn(f)).and_then(|t| story.num(t.spacing.as_deref()?));
        match spacing {
            Some(s) => (d.to_f64() - holes.to_f64() * s.to_f64()).abs() < 0.0005,
            None => holes != Num::ZERO && (d > Num::ZERO) == (holes > Num::ZERO),
        }
    }

    fn together(&self, together: &Together, clusters: &[(&str, Vec<&str>)]) -> Option<Said> {
        let whole = together.fields.iter().all(|f| clusters.iter().any(|(root, _)| root == f));
        let mut steps = Vec::new();
        for key in &together.fields {
            let (old, new) =
                (self.story.schema.num_at(self.story.old, key), self.story.schema.num_at(self.story.new, key));
            steps.push(new.zip(old).map(|(b, a)| b - a));
        }
        let fits = match together.when {
            When::Any => true,
            When::SameStep => steps.iter().all(|s| s.is_some() && *s == steps[0]),
            When::Opposite => {
                let up = |s: &Option<Num>| s.map(|n| n > Num::ZERO);
                steps.iter().all(Option::is_some) && steps.iter().skip(1).all(|s| up(s) != up(&steps[0]))
            }
        };
        if !whole || !fits {
            return None;
        }
        let fill = |template: &str| {
            render(template, &mut |name| {
                let (place, parts) = name.split_once('|').unwrap_or((name, ""));
                let key = place.parse::<usize>().ok().and_then(|i| together.fields.get(i.checked_sub(1)?));
                let key = key.map_or(place, String::as_str);
                self.story.path(&format!("{key}|{parts}"), &mut Vec::new())
            })
        };
        let text = fill(&together.tell)?;
        let brief = together.brief.as_deref().and_then(fill).unwrap_or_else(|| super::subject::shorten(&text, &[]));
        Some(Said { text, brief, special: true, ..Said::default() })
    }

    /// The root's sentence, with the values that came with it where it does not tell them.
    fn with_children(&self, root: &str, members: &[&str]) -> Said {
        let mut said = self.told.get(root).cloned().unwrap_or_default();
        if said.special {
            return said;
        }
        let came = |key: &&str| {
            let change = self.diff.get(key).filter(|c| *key != root && c.old.is_none())?;
            let field = self.story.schema.field(key).filter(|f| f.role == Role::Set)?;
            Some(self.story.entry(field, change.new.as_ref()?))
        };
        for entry in members.iter().filter_map(came).take(MOST_TOLD) {
            said.text.push_str(&format!(", {entry}"));
        }
        said
    }

    fn clause(&self, root: &str, members: Vec<&str>, said: Said) -> Clause {
        let turned = |key: &&str| {
            let set = self.story.schema.field(key).is_some_and(|f| f.role == Role::Set);
            set && self.diff.get(key).is_some_and(|c| c.old.is_some() && c.new.is_some() && c.is_other_value())
        };
        Clause {
            group: self.story.schema.field(root).map_or_else(|| "own".to_owned(), |f| f.group.clone()),
            text: super::visible(&said.text),
            brief: super::visible(&said.brief),
            turned: members.iter().any(turned),
            fields: members.into_iter().map(str::to_owned).collect(),
        }
    }
}
