//! Comments of both hands in the texts of days: what one wrote or took out holds, as with lines of a note.

use super::days::Group;
use super::side::Side;
use crate::slip::{Block, Comment, Day, comments, with_comments};
use std::collections::{HashMap, HashSet};

/// The comments of one book, in the days that are not the same on both sides.
#[derive(Default)]
struct Hand {
    /// Those of the day and its readings, by group.
    days: HashMap<usize, Vec<Comment>>,
    /// Those of a run, by its id, with the group it is in.
    runs: HashMap<String, (usize, Vec<Comment>)>,
}

/// The comments of both sides, and of what was before.
pub(super) struct Hands {
    sides: [Hand; 2],
    bases: Vec<HashSet<Comment>>,
}

impl Hands {
    /// Reads them; a text that cannot be read has none.
    pub fn read(sides: &[Side; 2], bases: &[Side], groups: &[Group]) -> Hands {
        let text = |side: &'_ Side, i: Option<usize>| i.map(|i| side.days[i].2.clone());
        let differ = |g: &Group| text(&sides[0], g.sides[0]) != text(&sides[1], g.sides[1]);
        let differing = || groups.iter().enumerate().filter(|(_, g)| differ(g));
        let of = |side: &Side, i: Option<usize>| {
            i.and_then(|i| comments(&side.days[i].2).ok()).unwrap_or_default().into_iter()
        };
        let hand = |s: usize| {
            let mut out = Hand::default();
            for (n, group) in differing() {
                for comment in of(&sides[s], group.sides[s]) {
                    match &comment.block {
                        Block::Run(id) => out.runs.entry(id.clone()).or_insert((n, Vec::new())).1.push(comment),
                        _ => out.days.entry(n).or_default().push(comment),
                    }
                }
            }
            out
        };
        let before = |(b, side): (usize, &Side)| differing().flat_map(|(_, g)| of(side, g.bases[b])).collect();
        Hands { sides: [hand(0), hand(1)], bases: bases.iter().enumerate().map(before).collect() }
    }

    /// What holds of two lists: what is new on one, and what both have.
    fn held<'a>(&'a self, lists: [&'a [Comment]; 2], out: &mut Vec<Comment>) {
        for (s, list) in lists.iter().enumerate() {
            for comment in *list {
                let was = self.bases.iter().any(|b| b.contains(comment));
                if (!was || lists[1 - s].contains(comment)) && !out.contains(comment) {
                    out.push(comment.clone());
                }
            }
        }
    }

    /// The text of a day with its comments, those of the groups it is made `of` among them. `made` are the runs of all
    /// days: what stood at one that is gone stays with its day.
    pub fn put(&self, text: &str, day: &Day, of: &[usize], made: &HashSet<String>) -> Option<String> {
        let mut wanted = Vec::new();
        for n in of {
            self.held([0, 1].map(|s| self.sides[s].days.get(n).map_or(&[][..], Vec::as_slice)), &mut wanted);
        }
        let here: HashSet<&str> = day.runs.iter().map(|r| r.id.as_str()).collect();
        let mut ids: Vec<&String> = self.sides.iter().flat_map(|s| s.runs.keys()).collect();
        ids.sort_unstable();
        ids.dedup();
        for id in ids {
            let known = [0, 1].map(|s| self.sides[s].runs.get(id));
            let gone = !made.contains(id) && known.iter().flatten().any(|(n, _)| of.contains(n));
            if gone || here.contains(id.as_str()) {
                self.held(known.map(|k| k.map_or(&[][..], |(_, list)| list.as_slice())), &mut wanted);
            }
        }
        with_comments(text, &wanted).ok()
    }
}
