//! How this car follows the air: the physics beforehand, then its own runs, as far as they can say.

use super::believed::{Believed, believed};
use super::car::CarFacts;
use super::model::{Alike, as_believed};
use super::row::{Common, Row};
use crate::air::TwoPhase;
use crate::slip::{Beam, Response};
use crate::stats::Sample;
use nalgebra::DVector;

/// The exponent of one number on the density of the air: the number goes as density to this power (times fall with it, so
/// theirs is below 0; speeds rise).
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct Exponent {
    /// The most believable value.
    pub value: f64,
    /// Its standard deviation.
    pub sd: f64,
    /// Before the book's own runs were looked at.
    pub prior: f64,
    /// Its standard deviation.
    pub prior_sd: f64,
    /// Runs that had a say.
    pub runs: usize,
}

/// All of them, and what they rest on.
#[derive(Debug, Clone, PartialEq)]
pub struct Exponents {
    by: Vec<(Response, Exponent)>,
    /// What ET means, ft.
    finish_ft: u32,
    /// The two-phase model of the car, where 60 ft and trap speed gave one.
    pub model: Option<TwoPhase>,
    /// Middle 60 ft, s, and trap speed, mph, and where the trap stands, ft, that the model was fitted to.
    pub fitted_to: Option<(f64, f64, u32)>,
    /// Power follows density to this power, and its standard deviation.
    pub power: (f64, f64),
    /// The induction stands on the sheet; else a natural one was taken, and the widths are twice as wide.
    pub induction_known: bool,
}

/// A number of a run with the run's row: what an exponent is learnt from.
pub(super) struct Learnt<'a> {
    pub row: &'a Row,
    pub raw: f64,
}

/// What drag, which thickens with the air, takes from the exponent of a speed: between the 660 ft (0.91) and the 1320 ft
/// (0.83) of the model with drag in the reference values `dragexp_3300_450` and `dragexp_2800_700` (own numeric model).
pub const DRAG_ON_SPEED: f64 = 0.87;

/// A value further from the middle of its setup's runs of the day than this many standard deviations teaches nothing.
const TOO_FAR: f64 = 6.0;

impl Exponents {
    /// Before any run had a say.
    pub(super) fn beforehand(car: &CarFacts, finish_ft: u32, medians: &[(Response, f64)]) -> Exponents {
        let median = |r: Response| medians.iter().find(|(k, _)| *k == r).map(|(_, m)| *m);
        let (power, power_sd, known) = car.power_on_density();
        let trap = median(Response::Mph.at_beam(finish_ft));
        let fitted_to = median(Response::Time(Beam::Ft60)).zip(trap).map(|(t, v)| (t, v, finish_ft));
        let model = fitted_to.and_then(|(t, v, ft)| TwoPhase::fitted(t, v, f64::from(ft), crate::air::ROLLOUT_FT));
        let by = medians.iter().map(|(response, median)| {
            let b = believed(*response, finish_ft, *median);
            let on_power = model.map(|m| match response {
                Response::Time(beam) => m.power_on_slip_time(f64::from(beam.feet()), crate::air::ROLLOUT_FT),
                Response::Speed(beam) => m.power_on_speed(f64::from(beam.feet())) * DRAG_ON_SPEED,
                // Kept under the beam they are read at.
                Response::Et | Response::Mph => 0.0,
            });
            let (prior, sd) = match on_power {
                Some(n) => {
                    let own = if known { b.exponent_sd } else { 2.0 * b.exponent_sd };
                    (n * power, own.hypot(n * power_sd))
                }
                None => (b.exponent * power, 2.0 * b.exponent_sd),
            };
            (*response, Exponent { value: prior, sd, prior, prior_sd: sd, runs: 0 })
        });
        Exponents { by: by.collect(), finish_ft, model, fitted_to, power: (power, power_sd), induction_known: known }
    }

    /// The exponent of a number; 0 for one the book has never had.
    pub fn of(&self, response: Response) -> Exponent {
        let none = Exponent { value: 0.0, sd: 0.0, prior: 0.0, prior_sd: 0.0, runs: 0 };
        let response = response.at_beam(self.finish_ft);
        self.by.iter().find(|(k, _)| *k == response).map_or(none, |(_, e)| *e)
    }

    /// Each number and its exponent.
    pub fn all(&self) -> impl Iterator<Item = (Response, Exponent)> {
        self.by.iter().copied()
    }

    /// Takes what was learnt of the same runs before, by the key of each number. False, and nothing taken, where one is
    /// missing.
    pub(super) fn take(&mut self, learnt: &[(String, Exponent)]) -> bool {
        let of = |r: Response| learnt.iter().find(|(k, _)| *k == r.key()).map(|(_, e)| *e);
        let Some(all) = self.by.iter().map(|(r, _)| Some((*r, of(*r)?))).collect::<Option<Vec<_>>>() else {
            return false;
        };
        self.by = all;
        true
    }

    /// Lets the runs have their say: a line through the carried numbers against the air, beside setups, days, lanes and
    /// tracks with the widths believed of them. What it cannot tell from a day's own ups and downs stays as believed.
    pub(super) fn learn(&mut self, response: Response, finish_ft: u32, common: &Common, runs: &[Learnt]) {
        let Some(exponent) = self.by.iter_mut().find(|(k, _)| *k == response).map(|(_, e)| e) else { return };
        let Some(median) = Sample::new(runs.iter().map(|l| l.raw)).middle() else { return };
        let b = believed(response, finish_ft, median);
        let carried = |l: &Learnt| l.raw * (-l.row.air * exponent.prior).exp();
        let runs = belonging(runs, &b, &carried);
        let n = runs.len();
        // One run says nothing of a slope.
        if n < 2 {
            return;
        }
        let Some(middle) = Sample::new(runs.iter().map(|l| carried(l))).middle() else { return };
        let width = exponent.prior_sd;
        let slope = |r: &Row| width * median * r.air;
        let rows: Vec<&Row> = runs.iter().map(|l| l.row).collect();
        let y = runs.iter().map(|l| carried(l) - middle).collect();
        let alike = Alike { change: &|a, c| common.of(a, c), slope: &slope, unread: 0.0 };
        let seasons = rows.iter().any(|r| r.season != rows[0].season);
        let Some(fit) = as_believed(&b, &rows, y, &alike, seasons) else { return };
        let with = DVector::from_iterator(n, rows.iter().map(|r| width * slope(r)));
        let (moved, left) = fit.expect(&with, width * width);
        (exponent.value, exponent.sd, exponent.runs) = (exponent.prior + moved, left.sqrt(), n);
    }
}

/// The runs that lie where their setup's others of the day lie.
fn belonging<'a, 'b>(runs: &'b [Learnt<'a>], b: &Believed, carried: &dyn Fn(&Learnt) -> f64) -> Vec<&'b Learnt<'a>> {
    let near = |l: &&Learnt| {
        let cell = runs.iter().filter(|o| (o.row.day, o.row.setup) == (l.row.day, l.row.setup)).map(carried);
        let day = runs.iter().filter(|o| o.row.day == l.row.day).map(carried);
        let (cell, day) = (Sample::new(cell), Sample::new(day));
        let middle = if cell.n() > 2 { cell.middle() } else { day.middle() };
        middle.is_none_or(|m| (carried(l) - m).abs() < TOO_FAR * b.run.median.hypot(b.change.median))
    };
    runs.iter().filter(near).collect()
}
