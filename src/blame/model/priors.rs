//! What is believed of a response before the book's runs are looked at.

use crate::pace::{Believed, Footing, believed};
use crate::slip::{Beam, Response};
use crate::stats::Prior;

/// One response the model is fitted to.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Channel {
    /// A number of the slip, in its unit (a speed with minus: less is quicker).
    Number(Response),
    /// What of the finish time is left beyond `c` times the 60 ft.
    Rest {
        /// c.
        times: f64,
    },
}

/// Everything the model takes as given of one channel.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Settings {
    /// Widths and their priors.
    pub believed: Believed,
    /// The number is about proportional to density to minus this.
    pub exponent: f64,
    /// Standard deviation of that.
    pub exponent_sd: f64,
    /// Scale of the air term: the middle of the number.
    pub scale: f64,
    /// Chance that a field does something.
    pub field_share: f64,
    /// Chance that a bundle does something beyond its fields.
    pub edge_share: f64,
    /// Widths of what is worth something.
    pub slabs: [f64; 2],
}

/// Chance that a field matters, and of a bundle beyond its fields (measured choice of the blame model).
const FIELD_SHARE: f64 = 0.18;
const EDGE_SHARE: f64 = 0.02;
/// Of the fields that matter, the share that shows in the 60 ft, and in the rest.
const IN_60: f64 = 0.55;
const IN_REST: f64 = 0.65;
/// Widths of what is worth something, s: 60 ft, and ET and the rest.
const SLABS_60: [f64; 2] = [0.015, 0.050];
const SLABS_ET: [f64; 2] = [0.025, 0.080];
/// The same of a speed, as shares of it (common practice, no source).
const SLABS_SPEED: [f64; 2] = [0.0025, 0.008];
/// Exponents where the car's own are not known: 60 ft, ET, rest. Their widths are doubled then.
const UNKNOWN_60: f64 = 0.08;
const UNKNOWN_ET: f64 = 0.20;
const UNKNOWN_REST: f64 = 0.24;

/// Middle of the numbers a channel needs, in their units.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Middles {
    /// Of the response.
    pub response: f64,
    /// Of the 60 ft.
    pub ft60: f64,
}

impl Settings {
    /// Of a channel.
    pub fn of(channel: Channel, footing: &Footing, finish_ft: u32, middles: Middles) -> Settings {
        match channel {
            Channel::Number(response) => of_number(response, footing, finish_ft, middles.response),
            Channel::Rest { times } => of_rest(footing, finish_ft, times, middles),
        }
    }
}

fn known(footing: &Footing) -> bool {
    footing.exponents.induction_known && footing.exponents.model.is_some()
}

fn of_number(response: Response, footing: &Footing, finish_ft: u32, middle: f64) -> Settings {
    let b = believed(response, finish_ft, middle);
    let at = response.at_beam(finish_ft);
    let is_60 = at == Response::Time(Beam::Ft60);
    let of_car = footing.exponents.of(response);
    let sign = if response.is_speed() { 1.0 } else { -1.0 };
    let along = ((b.change.median - 0.015) / 0.015).clamp(0.0, 1.0);
    let (exponent, exponent_sd) = match footing.reference {
        None => (0.0, 0.0),
        Some(_) if known(footing) => (sign * of_car.prior, of_car.prior_sd),
        Some(_) if response.is_speed() => (b.exponent, 2.0 * b.exponent_sd),
        Some(_) => (UNKNOWN_60 + (UNKNOWN_ET - UNKNOWN_60) * along, 2.0 * b.exponent_sd),
    };
    let mix = |i: usize| SLABS_60[i] + (SLABS_ET[i] - SLABS_60[i]) * along;
    let slabs = if response.is_speed() { SLABS_SPEED.map(|s| s * middle) } else { [mix(0), mix(1)] };
    let field_share = if is_60 { FIELD_SHARE * IN_60 } else { FIELD_SHARE };
    Settings { believed: b, exponent, exponent_sd, scale: middle, field_share, edge_share: EDGE_SHARE, slabs }
}

fn of_rest(footing: &Footing, finish_ft: u32, times: f64, middles: Middles) -> Settings {
    let et = believed(Response::Et, finish_ft, middles.response);
    // The rest of the eighth mile scatters as its share of the quarter's.
    let k = et.run.median / 0.027;
    let prior = |median: f64, log_sd: f64| Prior { median: k * median, log_sd };
    let b = Believed {
        exponent_sd: 0.06,
        run: prior(0.017, 0.45),
        day: prior(0.023, 0.5),
        drift: prior(0.003, 0.7),
        change: prior(0.025, 0.5),
        lane: k * 0.002,
        track: k * 0.008,
        hour: k * 0.001,
        wear: k * 0.03,
        season: k * 0.03,
        ..et
    };
    let scale = middles.response - 0.6 * times * middles.ft60;
    let (of_et, of_60) = (footing.exponents.of(Response::Et), footing.exponents.of(Response::Time(Beam::Ft60)));
    let (exponent, exponent_sd) = match footing.reference {
        None => (0.0, 0.0),
        Some(_) if known(footing) => {
            ((-of_et.prior * middles.response + times * of_60.prior * middles.ft60) / scale, of_et.prior_sd.max(0.06))
        }
        Some(_) => (UNKNOWN_REST, 0.12),
    };
    Settings {
        believed: b,
        exponent,
        exponent_sd,
        scale,
        field_share: FIELD_SHARE * IN_REST,
        edge_share: EDGE_SHARE,
        slabs: SLABS_ET.map(|s| k * s),
    }
}
