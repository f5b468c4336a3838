//! In which order two setups are run: what each order costs in minutes, and how well it tells the difference when the
//! track drifts meanwhile.
//!
//! Run i of a trial, t_i hours after the first, on A (x_i = -1/2) or B (x_i = +1/2):
//!
//! ```text
//! y_i = mean + d x_i + g (t_i - middle of t) + u_i + e_i
//! e_i ~ N(0, run^2)   g ~ N(0, slope^2)   u_i = u_(i-1) + N(0, walk^2)
//! ```
//!
//! so y has the covariance V = run^2 I + slope^2 t t' + walk^2 min(i, j), and the variance of the estimate of d by
//! generalised least squares is 1 / (x'V^-1 x - (x'V^-1 1)^2 / (1'V^-1 1)) (own algebra from the normal equations). That a
//! symmetrical order (ABBA) is orthogonal to a straight drift, and ABBABAAB to a curved one too: D. R. Cox, "Some systematic
//! experimental designs", Biometrika 38 (1951) 312-323, on trend-free orders (reference from memory).

use super::{LEAST_RUNS, MOST_RUNS, Order, Side};
use crate::slip::Response;
use nalgebra::{DMatrix, DVector};

/// How much the numbers wander within a day, in the response's unit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Drift {
    /// From run to run, standard deviation.
    pub run_sd: f64,
    /// A straight drift through the day: standard deviation of its slope, per hour.
    pub slope_sd_per_hour: f64,
    /// A wandering drift: standard deviation of its step from one run to the next.
    pub walk_sd: f64,
}

impl Drift {
    /// What goes with a scatter from run to run: a straight drift an hour of a ninth of it, as the simulated seasons of
    /// `blame` have it, and steps of a tenth of it (an assumption: small, but not nothing).
    pub fn of_scatter(run_sd: f64) -> Drift {
        Drift { run_sd, slope_sd_per_hour: run_sd / 9.0, walk_sd: run_sd / 10.0 }
    }

    /// Where a book says nothing yet: 0.014 s at 60 ft, 0.027 s at the end of a quarter mile (what `blame` begins from), even
    /// by distance between; 0.25 mph (common practice, no source).
    pub fn usual(response: Response, finish_ft: u32) -> Drift {
        Drift::of_scatter(match response.at_beam(finish_ft) {
            Response::Time(beam) => 0.014 + 0.013 * (f64::from(beam.feet()) - 60.0) / 1260.0,
            Response::Et => 0.027,
            Response::Speed(_) | Response::Mph => 0.25,
        })
    }
}

/// What a change-over and a run take.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pit {
    /// Minutes from one run to the next when nothing is turned.
    pub minutes_between: f64,
    /// More minutes where the car is changed over.
    pub minutes_per_swap: f64,
}

impl Pit {
    /// When each run of an order is made, in hours after the first.
    fn hours(&self, order: &Order) -> Vec<f64> {
        let mut at = 0.0;
        let mut out = Vec::with_capacity(order.len());
        for (i, side) in order.0.iter().enumerate() {
            if i > 0 {
                at += self.minutes_between + if order.0[i - 1] != *side { self.minutes_per_swap } else { 0.0 };
            }
            out.push(at / 60.0);
        }
        out
    }

    /// Minutes from the first run of an order to its last.
    pub fn minutes(&self, order: &Order) -> f64 {
        self.hours(order).last().map_or(0.0, |h| h * 60.0)
    }
}

/// An order with what it takes and what it tells.
#[derive(Debug, Clone, PartialEq)]
pub struct Proposal {
    /// The order.
    pub order: Order,
    /// How often the car is changed over.
    pub swaps: usize,
    /// Minutes from the first run to the last.
    pub minutes: f64,
    /// Standard deviation of the difference these runs alone would give.
    pub sd: f64,
    /// It is done within the time there is.
    pub fits: bool,
}

/// Standard deviation of the difference an order gives; `None` where it has a side without a run.
pub fn sd_of(order: &Order, drift: &Drift, pit: &Pit) -> Option<f64> {
    let n = order.len();
    if order.runs(Side::A) == 0 || order.runs(Side::B) == 0 {
        return None;
    }
    let hours = pit.hours(order);
    let middle = hours.iter().sum::<f64>() / n as f64;
    let (run, slope, walk) = (drift.run_sd.powi(2), drift.slope_sd_per_hour.powi(2), drift.walk_sd.powi(2));
    let v = DMatrix::from_fn(n, n, |i, j| {
        let own = if i == j { run } else { 0.0 };
        own + slope * (hours[i] - middle) * (hours[j] - middle) + walk * i.min(j) as f64
    });
    let factor = v.cholesky()?;
    let x = DVector::from_iterator(n, order.0.iter().map(|s| if *s == Side::A { -0.5 } else { 0.5 }));
    let ones = DVector::from_element(n, 1.0);
    let (vx, v1) = (factor.solve(&x), factor.solve(&ones));
    let information = x.dot(&vx) - x.dot(&v1).powi(2) / ones.dot(&v1);
    (information > 0.0).then(|| information.sqrt().recip()).filter(|sd| sd.is_finite())
}

/// The orders worth a look with so many runs a side, beginning on `first`.
pub fn candidates(runs_a_side: usize, first: Side) -> Vec<Order> {
    let n = 2 * runs_a_side;
    let stints = |of: &dyn Fn(usize) -> bool| Order((0..n).map(|i| if of(i) { Side::B } else { Side::A }).collect());
    let m = runs_a_side;
    let mut out = vec![
        // A, B: one change-over, and the drift goes with B.
        stints(&|i| i >= m),
        // A, B, A again: half of A before, half after.
        stints(&|i| (m.div_ceil(2)..m.div_ceil(2) + m).contains(&i)),
        // ABAB ...
        stints(&|i| i % 2 == 1),
        // ABBA BAAB ...: the parity of the ones in i (Thue and Morse), free of a curved drift too from eight runs on.
        stints(&|i| i.count_ones() % 2 == 1),
    ];
    // ABBA ABBA ..., with stints of one run, of two ...
    for each in (1..m).filter(|each| m.is_multiple_of(2 * each) || (*each == 1)) {
        out.push(stints(&|i| matches!(i / each % 4, 1 | 2)));
    }
    out.retain(|o| o.runs(Side::A) == m && o.runs(Side::B) == m);
    if first == Side::B {
        out = out.iter().map(Order::turned_round).collect();
    }
    let mut seen: Vec<Order> = Vec::new();
    out.retain(|o| {
        let new = !seen.contains(o);
        seen.push(o.clone());
        new
    });
    out
}

/// The orders of so many runs a side, the best first: one that is done in time before one that is not, one that comes back
/// before one that does not, then by the information a minute gives, 1/(variance x minutes).
///
/// Nothing for fewer than [`LEAST_RUNS`] or more than [`MOST_RUNS`].
pub fn propose(
    runs_a_side: usize,
    first: Side,
    drift: &Drift,
    pit: &Pit,
    within_minutes: Option<f64>,
) -> Vec<Proposal> {
    if !(LEAST_RUNS..=MOST_RUNS).contains(&runs_a_side) {
        return Vec::new();
    }
    let proposal = |order: Order| {
        let minutes = pit.minutes(&order);
        let sd = sd_of(&order, drift, pit)?;
        let fits = within_minutes.is_none_or(|within| minutes <= within);
        Some(Proposal { swaps: order.swaps(), order, minutes, sd, fits })
    };
    let mut out: Vec<Proposal> = candidates(runs_a_side, first).into_iter().filter_map(proposal).collect();
    let rank = |p: &Proposal| (!p.fits, !p.order.returns());
    let cost = |p: &Proposal| p.sd.powi(2) * p.minutes.max(1.0);
    out.sort_by(|a, b| rank(a).cmp(&rank(b)).then(cost(a).total_cmp(&cost(b))).then(a.swaps.cmp(&b.swaps)));
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    fn order(text: &str) -> Order {
        text.parse().unwrap()
    }

    const PIT: Pit = Pit { minutes_between: 30.0, minutes_per_swap: 0.0 };

    fn drift(run_sd: f64, slope_sd_per_hour: f64, walk_sd: f64) -> Drift {
        Drift { run_sd, slope_sd_per_hour, walk_sd }
    }

    /// By hand: without drift, n runs of each give 2 run^2 / n.
    #[test]
    fn without_drift_only_the_runs_count() {
        let still = drift(0.014, 0.0, 0.0);
        for (text, n) in [("AB", 1.0), ("AABB", 2.0), ("ABBA", 2.0), ("ABBABAAB", 4.0)] {
            let sd = sd_of(&order(text), &still, &PIT).unwrap();
            assert!((sd - 0.014 * (2.0_f64 / n).sqrt()).abs() < 1e-12, "{text}: {sd}");
        }
        // Two of A, one of B: run^2 (1/2 + 1).
        let sd = sd_of(&order("ABA"), &still, &PIT).unwrap();
        assert!((sd - 0.014 * 1.5_f64.sqrt()).abs() < 1e-12);
        assert_eq!(sd_of(&order("AAA"), &still, &PIT), None);
    }

    /// A symmetrical order does not see a straight drift, however steep (Cox 1951); A then B cannot part it from B.
    #[test]
    fn abba_kills_a_straight_drift() {
        for slope in [0.0015, 0.05, 10.0] {
            let steep = drift(0.014, slope, 0.0);
            for text in ["ABBA", "AABBBBAA", "ABBAABBA", "ABBABAAB"] {
                let o = order(text);
                let still = sd_of(&o, &drift(0.014, 0.0, 0.0), &PIT).unwrap();
                assert!((sd_of(&o, &steep, &PIT).unwrap() - still).abs() < 1e-9, "{text}");
            }
        }
        // A and B once, dt hours apart: 2 run^2 + slope^2 dt^2.
        let sd = sd_of(&order("AB"), &drift(0.014, 0.05, 0.0), &PIT).unwrap();
        assert!((sd - (2.0 * 0.014_f64.powi(2) + (0.05 * 0.5_f64).powi(2)).sqrt()).abs() < 1e-12);
        // A slope without bounds leaves AABB what parts it from a line: half of what it told before, squared.
        let (flat, steep) = (drift(0.014, 0.0, 0.0), drift(0.014, 1e3, 0.0));
        let (a, b) = (sd_of(&order("AABB"), &flat, &PIT).unwrap(), sd_of(&order("AABB"), &steep, &PIT).unwrap());
        assert!(b > 2.0 * a, "{a} {b}");
    }

    /// One step between A and B: 2 run^2 + walk^2.
    #[test]
    fn a_wandering_drift_favours_short_stints() {
        let wanders = drift(0.010, 0.0, 0.010);
        let sd = |t: &str| sd_of(&order(t), &wanders, &PIT).unwrap();
        assert!((sd("AB") - (3.0 * 0.010_f64.powi(2)).sqrt()).abs() < 1e-12);
        assert!(sd("ABBABAAB") < sd("AABBBBAA") && sd("AABBBBAA") < sd("AAAABBBB"));
    }

    #[test]
    fn one_run_a_side_is_never_proposed() {
        let d = drift(0.014, 0.0015, 0.002);
        assert_eq!(propose(1, Side::A, &d, &PIT, None), []);
        assert_eq!(propose(13, Side::A, &d, &PIT, None), []);
    }

    #[test]
    fn what_comes_back_stands_before_what_does_not() {
        let pit = Pit { minutes_between: 25.0, minutes_per_swap: 10.0 };
        for m in LEAST_RUNS..=MOST_RUNS {
            for first in [Side::A, Side::B] {
                let all = propose(m, first, &drift(0.014, 0.0015, 0.002), &pit, None);
                let best = &all[0];
                assert!(best.order.returns() && best.order.0[0] == first, "{}", best.order);
                assert!(all.iter().all(|p| p.order.runs(Side::A) == m && p.order.runs(Side::B) == m));
            }
        }
    }

    /// Cheap change-overs and a wandering track: change over often. Dear ones on a steady track: twice.
    #[test]
    fn the_price_of_a_change_over_decides() {
        let cheap = Pit { minutes_between: 30.0, minutes_per_swap: 1.0 };
        let dear = Pit { minutes_between: 30.0, minutes_per_swap: 60.0 };
        let best = |d: &Drift, pit: &Pit| propose(4, Side::A, d, pit, None)[0].clone();
        assert_eq!(best(&drift(0.014, 0.0015, 0.0), &dear).order.to_string(), "AABBBBAA");
        assert!(best(&drift(0.010, 0.0015, 0.010), &cheap).swaps > 2);
    }

    #[test]
    fn what_is_done_in_time_stands_first() {
        let pit = Pit { minutes_between: 20.0, minutes_per_swap: 15.0 };
        let d = drift(0.010, 0.0, 0.010);
        let all = propose(4, Side::A, &d, &pit, Some(7.0 * 20.0 + 2.0 * 15.0));
        assert_eq!((all[0].order.to_string().as_str(), all[0].fits), ("AABBBBAA", true));
        assert!(all.last().is_some_and(|p| !p.fits));
        let none = propose(4, Side::A, &d, &pit, Some(60.0));
        assert!(none.iter().all(|p| !p.fits) && none[0].order.returns());
    }
}
