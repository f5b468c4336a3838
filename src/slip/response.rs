//! Which number of the slip is asked about, and which runs can answer.

use super::{Beam, Day, Run};

/// The number asked about.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Response {
    /// Time at a beam, s.
    Time(Beam),
    /// Speed at a beam, mph.
    Speed(Beam),
    /// Time at the finish, s.
    Et,
    /// Speed at the finish, mph.
    Mph,
}

impl Response {
    /// Reads `60`, `60ft`, `330`, `660`, `1000`, `et`, `mph`.
    pub fn read(text: &str) -> Option<Response> {
        let t = text.trim().to_lowercase();
        match t.as_str() {
            "et" => return Some(Response::Et),
            "mph" => return Some(Response::Mph),
            _ => {}
        }
        let feet = t.trim_start_matches("ft").trim_end_matches("ft").trim().parse().ok()?;
        Beam::at(feet).map(Response::Time)
    }

    /// As tables call it.
    pub fn label(self) -> String {
        match self {
            Response::Time(b) => format!("{} ft", b.feet()),
            Response::Speed(b) => format!("mph at {}", b.feet()),
            Response::Et => "ET".to_owned(),
            Response::Mph => "mph".to_owned(),
        }
    }

    /// Key in JSON, with its unit.
    pub fn key(self) -> String {
        match self {
            Response::Time(b) => format!("ft{}_s", b.feet()),
            Response::Speed(b) => format!("mph{}", b.feet()),
            Response::Et => "et_s".to_owned(),
            Response::Mph => "mph".to_owned(),
        }
    }

    /// Decimals shown.
    pub fn decimals(self) -> usize {
        if self.is_speed() { 2 } else { 3 }
    }

    /// What the instrument resolves, in its unit.
    pub fn resolution(self) -> f64 {
        if self.is_speed() { 0.01 } else { 0.001 }
    }

    /// More of it is quicker.
    pub fn more_is_quicker(self) -> bool {
        self.is_speed()
    }

    /// A speed, in mph; else a time, in s.
    pub fn is_speed(self) -> bool {
        matches!(self, Response::Mph | Response::Speed(_))
    }

    /// ET and mph as the time and the speed at the beam they are read at.
    pub fn at_beam(self, finish_ft: u32) -> Response {
        match (self, Beam::at(finish_ft)) {
            (Response::Et, Some(beam)) => Response::Time(beam),
            (Response::Mph, Some(beam)) => Response::Speed(beam),
            (other, _) => other,
        }
    }

    /// The run's number, if the run was clean up to there. ET and mph count only at the book's finish.
    pub fn of(self, run: &Run, day: &Day, finish_ft: u32) -> Option<f64> {
        let n = match self {
            Response::Time(beam) => run.clean_time(beam)?,
            Response::Speed(beam) => run.num(beam.speed_key()?).filter(|_| run.clean_at(beam.feet()))?,
            Response::Et if day.finish_ft == finish_ft => run.clean_time(Beam::at(finish_ft)?)?,
            Response::Mph if day.finish_ft == finish_ft => {
                let key = Beam::at(finish_ft)?.speed_key()?;
                run.num(key).filter(|_| run.clean_at(finish_ft))?
            }
            _ => return None,
        };
        Some(n.to_f64())
    }
}
