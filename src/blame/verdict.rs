//! A verdict: an effect with what is believed of it, and the rung of a fixed ladder of words.

use crate::stats::quantile;
use serde::{Deserialize, Serialize};

/// Smaller than this is not chased, s.
pub const MATTERS_S: f64 = 0.005;

/// What a difference is worth, in the response's unit; a time with minus is quicker.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs, reason = "ends of intervals, named by what they hold")]
pub struct Effect {
    /// The mean of what is believed.
    pub value: f64,
    /// Its standard deviation.
    pub sd: f64,
    pub lo90: f64,
    pub hi90: f64,
    pub lo95: f64,
    pub hi95: f64,
    /// Chance of a gain beyond what matters.
    pub p_gain: f64,
    /// Chance of a loss beyond what matters.
    pub p_loss: f64,
    /// Chance that it is within twice what matters.
    pub p_same: f64,
}

/// Gain or loss.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Side {
    /// Quicker, faster.
    Gain,
    /// Slower.
    Loss,
}

/// The ladder.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Verdict {
    /// Chance of 0.98 and more.
    AlmostCertainly(Side),
    /// 0.90 to 0.98.
    VeryLikely(Side),
    /// 0.75 to 0.90.
    Likely(Side),
    /// Within twice what matters, with 0.90 and more.
    Nothing,
    /// Neither.
    CannotTell,
    /// One clean run on a side, whatever the sum says.
    TooEarly,
}

/// Rungs of the ladder.
const ALMOST_CERTAINLY: f64 = 0.98;
const VERY_LIKELY: f64 = 0.90;
const LIKELY: f64 = 0.75;
/// More of what was believed than this is left open: these runs cannot tell.
pub const OPEN: f64 = 0.75;

impl Effect {
    /// From draws, in which less is quicker; `matters` in their unit. `more` turns them round: more is quicker.
    pub fn of(draws: &[f64], matters: f64, more: bool) -> Effect {
        let n = draws.len().max(1) as f64;
        let share = |f: &dyn Fn(f64) -> bool| draws.iter().filter(|d| f(**d)).count() as f64 / n;
        let (p_gain, p_loss) = (share(&|d| d < -matters), share(&|d| d > matters));
        let p_same = share(&|d| d.abs() <= 2.0 * matters);
        let mut sorted: Vec<f64> = if more { draws.iter().map(|d| -d).collect() } else { draws.to_vec() };
        sorted.sort_unstable_by(f64::total_cmp);
        let value = sorted.iter().sum::<f64>() / n;
        let sd = (sorted.iter().map(|d| (d - value).powi(2)).sum::<f64>() / n).sqrt();
        let q = |p: f64| if sorted.is_empty() { 0.0 } else { quantile(&sorted, p) };
        // To the microsecond: beyond that machines differ.
        let round = |x: f64| (x * 1e6).round() / 1e6;
        let q = |p: f64| round(q(p));
        let (value, sd) = (round(value), round(sd));
        Effect { value, sd, lo90: q(0.05), hi90: q(0.95), lo95: q(0.025), hi95: q(0.975), p_gain, p_loss, p_same }
    }

    /// The rung, with the clean runs on the thinner side, and how much the runs leave open.
    pub fn verdict(&self, fewest: usize, open: f64) -> Verdict {
        let (side, p) = if self.p_gain >= self.p_loss { (Side::Gain, self.p_gain) } else { (Side::Loss, self.p_loss) };
        let rung = match p {
            _ if fewest < 2 => return Verdict::TooEarly,
            _ if open > OPEN => return Verdict::CannotTell,
            p if p >= ALMOST_CERTAINLY => Verdict::AlmostCertainly(side),
            p if p >= VERY_LIKELY => Verdict::VeryLikely(side),
            _ if self.p_same >= VERY_LIKELY => Verdict::Nothing,
            p if p >= LIKELY => Verdict::Likely(side),
            _ => Verdict::CannotTell,
        };
        if fewest > 2 { rung } else { rung.lower() }
    }
}

impl Verdict {
    fn lower(self) -> Verdict {
        match self {
            Verdict::AlmostCertainly(side) => Verdict::VeryLikely(side),
            Verdict::VeryLikely(side) => Verdict::Likely(side),
            Verdict::Likely(_) | Verdict::Nothing | Verdict::CannotTell => Verdict::CannotTell,
            Verdict::TooEarly => Verdict::TooEarly,
        }
    }

    /// Which side it is on, if it says so.
    pub fn side(self) -> Option<Side> {
        match self {
            Verdict::AlmostCertainly(s) | Verdict::VeryLikely(s) | Verdict::Likely(s) => Some(s),
            Verdict::Nothing | Verdict::CannotTell | Verdict::TooEarly => None,
        }
    }

    /// Settled, one way or the other: very likely, almost certainly, or no effect worth chasing.
    pub fn settled(self) -> bool {
        matches!(self, Verdict::AlmostCertainly(_) | Verdict::VeryLikely(_) | Verdict::Nothing)
    }

    /// It is very likely or almost certainly this.
    pub fn is(self, side: Side) -> bool {
        self.settled() && self.side() == Some(side)
    }

    /// In words, of a change.
    pub fn words(self) -> String {
        match self {
            Verdict::AlmostCertainly(s) => format!("almost certainly a {}", s.word()),
            Verdict::VeryLikely(s) => format!("very likely a {}", s.word()),
            Verdict::Likely(s) => format!("likely a {}, not settled", s.word()),
            Verdict::Nothing => "no effect worth chasing".to_owned(),
            Verdict::CannotTell => "these runs cannot tell".to_owned(),
            Verdict::TooEarly => "too early to call".to_owned(),
        }
    }

    /// In words, of two setups side by side: a time is quicker or slower, a speed faster or slower.
    pub fn apart(self, speed: bool) -> String {
        let side = |s: Side| match s {
            Side::Gain if speed => "faster",
            Side::Gain => "quicker",
            Side::Loss => "slower",
        };
        match self {
            Verdict::AlmostCertainly(s) => format!("almost certainly {}", side(s)),
            Verdict::VeryLikely(s) => format!("very likely {}", side(s)),
            Verdict::Likely(s) => format!("likely {}, not settled", side(s)),
            other => other.words(),
        }
    }

    /// Name in JSON.
    pub fn key(self) -> &'static str {
        match self {
            Verdict::AlmostCertainly(Side::Gain) => "almost_certainly_gain",
            Verdict::AlmostCertainly(Side::Loss) => "almost_certainly_loss",
            Verdict::VeryLikely(Side::Gain) => "very_likely_gain",
            Verdict::VeryLikely(Side::Loss) => "very_likely_loss",
            Verdict::Likely(Side::Gain) => "likely_gain",
            Verdict::Likely(Side::Loss) => "likely_loss",
            Verdict::Nothing => "no_effect",
            Verdict::CannotTell => "cannot_tell",
            Verdict::TooEarly => "too_early",
        }
    }
}

impl Side {
    /// gain, loss.
    pub fn word(self) -> &'static str {
        match self {
            Side::Gain => "gain",
            Side::Loss => "loss",
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(p_gain: f64, p_loss: f64, p_same: f64) -> Effect {
        Effect { p_gain, p_loss, p_same, ..Effect::of(&[0.0], MATTERS_S, false) }
    }

    #[test]
    fn the_ladder_reads_the_same_both_ways() {
        for (p, words) in [
            (0.98, "almost certainly a"),
            (0.979, "very likely a"),
            (0.90, "very likely a"),
            (0.89, "likely a"),
            (0.74, "these runs cannot tell"),
        ] {
            assert!(at(p, 0.0, 0.0).verdict(9, 0.1).words().starts_with(words));
            assert!(at(0.0, p, 0.0).verdict(9, 0.1).words().starts_with(words));
        }
        assert_eq!(at(0.05, 0.05, 0.92).verdict(9, 0.1), Verdict::Nothing);
        assert_eq!(at(0.80, 0.0, 0.95).verdict(9, 0.1), Verdict::Nothing, "small, and likely so");
        assert_eq!(at(0.99, 0.0, 0.0).verdict(9, 0.8), Verdict::CannotTell);
    }

    #[test]
    fn few_runs_call_less() {
        let sure = at(1.0, 0.0, 0.0);
        assert_eq!(sure.verdict(1, 0.0), Verdict::TooEarly);
        assert_eq!(sure.verdict(2, 0.0), Verdict::VeryLikely(Side::Gain));
        assert_eq!(at(0.8, 0.0, 0.0).verdict(2, 0.0), Verdict::CannotTell);
        assert_eq!(at(0.0, 0.0, 1.0).verdict(2, 0.0), Verdict::CannotTell);
    }

    #[test]
    fn an_effect_of_draws() {
        let e = Effect::of(&[-0.02, -0.01, 0.0, 0.0], 0.005, false);
        assert_eq!((e.p_gain, e.p_loss, e.p_same), (0.5, 0.0, 0.75));
        assert!((e.value + 0.0075).abs() < 1e-12 && e.hi95 == 0.0);
        let speed = Effect::of(&[-0.2, 0.0], 0.1, true);
        assert_eq!((speed.value, speed.p_gain), (0.1, 0.5));
    }
}
