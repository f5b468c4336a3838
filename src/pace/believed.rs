//! What is believed of a number of the slip before the book's own runs are looked at.
//!
//! The two ends, 60 ft and quarter-mile ET, are the measured choice of the blame model (simulated seasons); between them a
//! split lies by its share of the whole time. Speeds and everything else here: common practice, no source.

use crate::slip::{Beam, Response};
use crate::stats::{Bad, Prior};

/// Standard deviations believed of one number, in its unit (s or mph).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Believed {
    /// Exponent on the density of the air where nothing of the car is known.
    pub exponent: f64,
    /// Its standard deviation where the car's own physics gave it; twice that where not.
    pub exponent_sd: f64,
    /// From run to run.
    pub run: Prior,
    /// From day to day.
    pub day: Prior,
    /// Drift in a day.
    pub drift: Prior,
    /// What a change of the sheet is worth.
    pub change: Prior,
    /// Half the difference of the lanes; at one track again as much.
    pub lane: f64,
    /// From track to track.
    pub track: f64,
    /// An hour of the day.
    pub hour: f64,
    /// A hundred runs of wear.
    pub wear: f64,
    /// From season to season.
    pub season: f64,
    /// Intercept: as good as unknown.
    pub intercept: f64,
    /// σ is never believed below this.
    pub floor: f64,
    /// Runs that were bad and not marked.
    pub bad: Bad,
}

/// A number of the slip at `60 ft`, and at the quarter mile.
const AT_60: [f64; 11] = [-0.08, 0.10, 0.014, 0.010, 0.001, 0.015, 0.004, 0.010, 0.0015, 0.010, 0.012];
const AT_1320: [f64; 11] = [-0.20, 0.05, 0.027, 0.028, 0.003, 0.030, 0.006, 0.018, 0.003, 0.030, 0.030];
/// Of speed at the finish, as shares of the speed (the first two are the exponent and its sd).
const OF_SPEED: [f64; 11] = [0.28, 0.05, 0.0022, 0.003, 0.0004, 0.003, 0.0005, 0.002, 0.0003, 0.001, 0.004];
/// Share of the quarter mile's time that has gone by at each beam, of a car whose tires are the limit to 60 ft.
const SHARE_OF_ET: [(Beam, f64); 5] =
    [(Beam::Ft60, 0.135), (Beam::Ft330, 0.405), (Beam::Ft660, 0.640), (Beam::Ft1000, 0.838), (Beam::Ft1320, 1.0)];
/// Standard deviations of the logarithms: run, day, drift, change; 60 ft, ET, and speed.
const LOG_SD_60: [f64; 4] = [0.4, 0.5, 0.7, 0.5];
const LOG_SD_ET: [f64; 4] = [0.45, 0.5, 0.7, 0.5];
const LOG_SD_SPEED: [f64; 4] = [0.7, 0.7, 0.9, 0.7];
/// What a timer resolves, s; a rounded value scatters by it over √12 and more.
const FLOOR_S: f64 = 0.003;

/// What is believed of a number whose median over the book is `median`.
pub fn believed(response: Response, finish_ft: u32, median: f64) -> Believed {
    let bad_s = |shift: f64| Bad { share: 0.06, shift, wide_share: 0.07, wide_variance: 0.09 };
    let beam = match response.at_beam(finish_ft) {
        Response::Time(beam) => beam,
        Response::Et => Beam::Ft1320,
        Response::Mph | Response::Speed(_) => {
            let mut v = OF_SPEED;
            v[2..].iter_mut().for_each(|x| *x *= median);
            let wide = 0.03 * median;
            let bad = Bad { share: 0.06, shift: wide, wide_share: 0.07, wide_variance: wide * wide };
            return from(v, LOG_SD_SPEED, 0.3 * median, 0.01, bad);
        }
    };
    let share = SHARE_OF_ET.iter().find(|(b, _)| *b == beam).map_or(1.0, |(_, s)| *s);
    let along = (share - SHARE_OF_ET[0].1) / (1.0 - SHARE_OF_ET[0].1);
    let mix = |a: f64, b: f64| a + (b - a) * along;
    let v = std::array::from_fn(|i| mix(AT_60[i], AT_1320[i]));
    let log_sd = std::array::from_fn(|i| mix(LOG_SD_60[i], LOG_SD_ET[i]));
    from(v, log_sd, 2.0, FLOOR_S, bad_s(mix(0.10, 0.25)))
}

fn from(v: [f64; 11], log_sd: [f64; 4], intercept: f64, floor: f64, bad: Bad) -> Believed {
    let prior = |i: usize| Prior { median: v[i + 2], log_sd: log_sd[i] };
    Believed {
        exponent: v[0],
        exponent_sd: v[1],
        run: prior(0),
        day: prior(1),
        drift: prior(2),
        change: prior(3),
        lane: v[6],
        track: v[7],
        hour: v[8],
        wear: v[9],
        season: v[10],
        intercept,
        floor,
        bad,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn splits_lie_between_the_ends() {
        let of = |r| believed(r, 1320, 11.0);
        let chain: Vec<Believed> = Beam::ALL.into_iter().map(|b| of(Response::Time(b))).collect();
        assert_eq!(of(Response::Et), chain[4]);
        assert_eq!((chain[0].exponent, chain[4].exponent), (-0.08, -0.20));
        for pair in chain.windows(2) {
            assert!(pair[1].exponent < pair[0].exponent && pair[1].run.median > pair[0].run.median);
        }
        assert_eq!(believed(Response::Et, 660, 7.0), chain[2]);
    }
}
