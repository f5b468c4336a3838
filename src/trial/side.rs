//! A and B, and runs in order, one letter each.

use std::fmt;
use std::str::FromStr;

/// Fewer runs a side are too early to call, whatever they say: one run of each, and A, B, A with one of each.
pub const LEAST_RUNS: usize = 2;

/// No trial has more runs a side.
pub const MOST_RUNS: usize = 12;

/// The longest order that is read: what was run may be more than was planned.
const LONGEST_ORDER: usize = 500;

/// A or B.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "lowercase")]
#[allow(missing_docs, reason = "the two setups of a trial")]
pub enum Side {
    A,
    B,
}

impl Side {
    /// The other one.
    pub fn other(self) -> Side {
        match self {
            Side::A => Side::B,
            Side::B => Side::A,
        }
    }
}

impl fmt::Display for Side {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(if *self == Side::A { "A" } else { "B" })
    }
}

/// Runs in order, one letter each.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Order(pub Vec<Side>);

impl Order {
    /// How many runs.
    pub fn len(&self) -> usize {
        self.0.len()
    }

    /// No run at all.
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// Runs of a side.
    pub fn runs(&self, side: Side) -> usize {
        self.0.iter().filter(|s| **s == side).count()
    }

    /// How often the car is changed over.
    pub fn swaps(&self) -> usize {
        self.0.windows(2).filter(|w| w[0] != w[1]).count()
    }

    /// It comes back to the side it began on: only that shows that the time came back with it.
    pub fn returns(&self) -> bool {
        self.swaps() >= 2
    }

    /// `AA BBBB AA`: the runs between two change-overs together.
    pub fn in_stints(&self) -> String {
        let mut out = String::new();
        for (i, side) in self.0.iter().enumerate() {
            if i > 0 && self.0[i - 1] != *side {
                out.push(' ');
            }
            out.push_str(&side.to_string());
        }
        out
    }

    /// What is wrong with it as a plan.
    pub fn plan_fault(&self) -> Option<String> {
        let (a, b) = (self.runs(Side::A), self.runs(Side::B));
        match (a.min(b), a.max(b)) {
            (0..LEAST_RUNS, _) => {
                Some(format!("{self} has {a} on A and {b} on B: one run a side is too early to call"))
            }
            (_, most) if most > MOST_RUNS => Some(format!("{most} runs a side; {MOST_RUNS} at most")),
            _ if !self.returns() => {
                Some(format!("{self} does not come back: only A, B, A again tells a drift from a gain"))
            }
            _ => None,
        }
    }

    /// A where B is, and B where A is.
    pub fn turned_round(&self) -> Order {
        Order(self.0.iter().map(|s| s.other()).collect())
    }
}

impl fmt::Display for Order {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.iter().try_for_each(|s| fmt::Display::fmt(s, f))
    }
}

impl FromStr for Order {
    type Err = String;

    /// Reads `ABBA`, `AA BBBB AA`, `a-b-b-a`.
    fn from_str(text: &str) -> Result<Order, String> {
        let mut out = Vec::new();
        for c in text.chars().filter(|c| !c.is_whitespace() && !matches!(c, '-' | ',')) {
            match c {
                'A' | 'a' => out.push(Side::A),
                'B' | 'b' => out.push(Side::B),
                _ => return Err(format!("`{text}` is no order of A and B")),
            }
            if out.len() > LONGEST_ORDER {
                return Err(format!("an order has {LONGEST_ORDER} runs at most"));
            }
        }
        Ok(Order(out))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str) -> Order {
        text.parse().unwrap()
    }

    #[test]
    fn read_and_written() {
        for text in ["ABBA", "AA BBBB AA", "a-b-b-a"] {
            let o = read(text);
            assert_eq!(o.to_string().parse::<Order>().unwrap(), o);
        }
        assert_eq!(read("AABBBBAA").in_stints(), "AA BBBB AA");
        assert_eq!((read("AABBBBAA").swaps(), read("AABBBBAA").runs(Side::B)), (2, 4));
        assert!("ABC".parse::<Order>().is_err() && "AB".repeat(251).parse::<Order>().is_err());
        assert!(!read("AABB").returns() && read("ABA").returns());
    }
}
