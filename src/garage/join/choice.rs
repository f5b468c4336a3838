//! What both laptops changed: one of them is right, and who knows is asked.

use std::fmt;

/// One of the two sides.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Which {
    /// This book.
    Here,
    /// The other one.
    There,
}

/// Something that is one thing here and another there, with no order between the two.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Question {
    /// What it is about.
    pub about: String,
    /// What is said here.
    pub here: String,
    /// What is said there.
    pub there: String,
    /// Which was written later: true = there.
    pub there_is_newer: bool,
}

impl fmt::Display for Question {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: here {}, there {}", self.about, self.here, self.there)
    }
}

/// An answer that was given.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Decided {
    /// What it is about.
    pub about: String,
    /// What holds.
    pub holds: String,
    /// What gave way.
    pub gave_way: String,
    /// Whose it is that holds.
    pub whose: Which,
    /// Both told the very same thing, which happened once.
    pub once: bool,
}

impl Decided {
    /// What came of it; `whose` is said of what holds.
    pub fn words(&self, whose: &str) -> String {
        match self.once {
            true => "told on both laptops, counts once".to_owned(),
            false => format!("{whose}{}; {} gave way", self.holds, self.gave_way),
        }
    }
}

/// Who decides; `None` where nobody does.
pub type Decide<'a> = &'a dyn Fn(&Question) -> Option<Which>;

/// Something to decide, of the two sides in their settled order.
pub(super) struct Told {
    /// What it is about.
    pub about: String,
    /// What each side says.
    pub said: [String; 2],
    /// When each was written, s.
    pub written: [i64; 2],
}

/// What was asked and answered.
pub(super) struct Choice<'a> {
    /// Which of the two sides is this book.
    pub here: usize,
    decide: Decide<'a>,
    /// What nobody answered.
    pub open: Vec<Question>,
    /// What was answered.
    pub decided: Vec<Decided>,
}

impl<'a> Choice<'a> {
    pub fn new(here: usize, decide: Decide<'a>) -> Choice<'a> {
        Choice { here, decide, open: Vec::new(), decided: Vec::new() }
    }

    /// Asks: the side that is right.
    pub fn ask(&mut self, told: Told) -> usize {
        let here = self.here;
        if told.said[0] == told.said[1] {
            return 0;
        }
        let Told { about, said, written } = told;
        // Of the same second, the second side counts as the later: on both laptops the same.
        let newer = usize::from(written[1] >= written[0]);
        let question =
            Question { about, here: said[here].clone(), there: said[1 - here].clone(), there_is_newer: newer != here };
        let Some(whose) = (self.decide)(&question) else {
            self.open.push(question);
            return 0;
        };
        let side = if whose == Which::Here { here } else { 1 - here };
        self.settled(Told { about: question.about, said, written }, side, false)
    }

    /// Notes what holds; nobody is asked.
    pub fn settled(&mut self, told: Told, side: usize, once: bool) -> usize {
        let [holds, gave_way] = [told.said[side].clone(), told.said[1 - side].clone()];
        let whose = if side == self.here { Which::Here } else { Which::There };
        self.decided.push(Decided { about: told.about, holds, gave_way, whose, once });
        side
    }

    /// The side whose value holds: the one that changed it, else it is asked.
    pub fn side<T: PartialEq + ?Sized>(&mut self, bases: &[&T], sides: [&T; 2], tell: impl FnOnce() -> Told) -> usize {
        match by_change(bases, sides) {
            Some(side) => side,
            None => self.ask(tell()),
        }
    }

    /// The same of what may not be there: where nothing was said of it before, what one side alone says holds.
    pub fn side_of_some<T: PartialEq>(
        &mut self,
        bases: &[&Option<T>],
        sides: [&Option<T>; 2],
        tell: impl FnOnce() -> Told,
    ) -> usize {
        match (by_change(bases, sides), sides) {
            (Some(side), _) => side,
            (None, [Some(_), None]) if bases.iter().all(|b| b.is_none()) => 0,
            (None, [None, Some(_)]) if bases.iter().all(|b| b.is_none()) => 1,
            (None, _) => self.ask(tell()),
        }
    }
}

/// The side that changed something, where only one did or both to the same.
pub(super) fn by_change<T: PartialEq + ?Sized>(bases: &[&T], sides: [&T; 2]) -> Option<usize> {
    let unchanged = |side: usize| !bases.is_empty() && bases.iter().all(|b| **b == *sides[side]);
    match (sides[0] == sides[1], unchanged(0), unchanged(1)) {
        (true, ..) | (_, _, true) => Some(0),
        (_, true, _) => Some(1),
        _ => None,
    }
}
