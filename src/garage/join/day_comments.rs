//! Comments of both hands in the texts of days: what one wrote or took out holds, as with lines of a note.

use super::days::Group;
use super::side::Side;
use crate::slip::{Block, Comment, Day, Place, comments, places, with_comments};
use std::collections::{HashMap, HashSet};

/// The comments of one book, in the days that are not the same on both sides.
#[derive(Default)]
struct Hand {
    /// Those of the day and its readings, by group.
    days: HashMap<usize, Vec<Comment>>,
    /// Those of a run, by its id, with the group it is in.
    runs: HashMap<String, (usize, Vec<Comment>)>,
    /// Where one can stand, by group; those of a run are of none.
    places: HashSet<(Option<usize>, Place)>,
}

/// The comments of both sides, and of what was before.
pub(super) struct Hands {
    sides: [Hand; 2],
    bases: Vec<Hand>,
}

/// What holds, and what does not any more.
#[derive(Default)]
struct Held<'a> {
    wanted: Vec<&'a Comment>,
    known: HashSet<&'a Comment>,
    gone: HashSet<&'a Comment>,
}

impl Hand {
    /// Those of a book's days, the day of a group by `at`; a text that cannot be read has none.
    fn read(side: &Side, groups: &[(usize, &Group)], at: &dyn Fn(&Group) -> Option<usize>) -> Hand {
        let mut out = Hand::default();
        for (n, text) in groups.iter().filter_map(|(n, g)| Some((*n, &side.days[at(g)?].2))) {
            for comment in comments(text).unwrap_or_default() {
                match &comment.block {
                    Block::Run(id) => out.runs.entry(id.clone()).or_insert((n, Vec::new())).1.push(comment),
                    _ => out.days.entry(n).or_default().push(comment),
                }
            }
            let group = |p: &Place| (!matches!(p.0, Block::Run(_))).then_some(n);
            out.places.extend(places(text).unwrap_or_default().into_iter().map(|p| (group(&p), p)));
        }
        out
    }

    fn of_day(&self, n: usize) -> &[Comment] {
        self.days.get(&n).map_or(&[], Vec::as_slice)
    }

    fn of_run(&self, id: &str) -> &[Comment] {
        self.runs.get(id).map_or(&[], |(_, list)| list.as_slice())
    }
}

impl Hands {
    /// Reads them.
    pub fn read(sides: &[Side; 2], bases: &[Side], groups: &[Group]) -> Hands {
        let text = |s: usize, g: &Group| g.sides[s].map(|i| sides[s].days[i].2.as_str());
        let differ = |g: &Group| text(0, g) != text(1, g);
        let differing: Vec<(usize, &Group)> = groups.iter().enumerate().filter(|(_, g)| differ(g)).collect();
        let hand = |s: usize| Hand::read(&sides[s], &differing, &|g| g.sides[s]);
        let before = |(b, side): (usize, &Side)| Hand::read(side, &differing, &|g| g.bases[b]);
        Hands { sides: [hand(0), hand(1)], bases: bases.iter().enumerate().map(before).collect() }
    }

    /// Of two lists and what was before: what is new on one, and what both have, holds; what was before, and is not on a
    /// side any more that has its place, was taken out.
    fn held<'a>(&'a self, group: Option<usize>, of: &dyn Fn(&'a Hand) -> &'a [Comment], out: &mut Held<'a>) {
        let lists = [of(&self.sides[0]), of(&self.sides[1])];
        let sets = lists.map(|list| list.iter().collect::<HashSet<&Comment>>());
        let was: HashSet<&Comment> = self.bases.iter().flat_map(of).collect();
        for (s, list) in lists.into_iter().enumerate() {
            for comment in list {
                if (!was.contains(comment) || sets[1 - s].contains(comment)) && out.known.insert(comment) {
                    out.wanted.push(comment);
                }
            }
        }
        let has_place =
            |s: usize, c: &Comment| self.sides[s].places.contains(&(group, (c.block.clone(), c.key.clone())));
        let taken_out = |c: &&Comment| (0..2).any(|s| !sets[s].contains(*c) && has_place(s, c));
        out.gone.extend(was.into_iter().filter(taken_out));
    }

    /// The text of a day with its comments, those of the groups it is made `of` among them. `made` are the runs of all
    /// days: what stood at one that is gone stays with its day.
    pub fn put(&self, text: &str, day: &Day, of: &[usize], made: &HashSet<String>) -> Option<String> {
        let mut held = Held::default();
        for n in of {
            self.held(Some(*n), &|hand| hand.of_day(*n), &mut held);
        }
        let here: HashSet<&str> = day.runs.iter().map(|r| r.id.as_str()).collect();
        let mut ids: Vec<&String> = self.sides.iter().chain(&self.bases).flat_map(|s| s.runs.keys()).collect();
        ids.sort_unstable();
        ids.dedup();
        for id in ids {
            let mut known = self.sides.iter().filter_map(|s| s.runs.get(id));
            let gone = !made.contains(id) && known.any(|(n, _)| of.contains(n));
            if gone || here.contains(id.as_str()) {
                self.held(None, &|hand| hand.of_run(id), &mut held);
            }
        }
        with_comments(text, &held.wanted, &held.gone).ok()
    }
}
