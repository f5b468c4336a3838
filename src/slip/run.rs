//! One run: the time slip's numbers, how far it was clean, what the car did.

use super::Moment;
use crate::schema::{Num, RunWords};
use std::collections::BTreeMap;

/// A beam of the track whose time the slip prints.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, serde::Serialize)]
#[serde(rename_all = "lowercase")]
#[allow(missing_docs, reason = "named by their distance in feet")]
pub enum Beam {
    Ft60,
    Ft330,
    Ft660,
    Ft1000,
    Ft1320,
}

impl Beam {
    /// In the order of the track.
    pub const ALL: [Beam; 5] = [Beam::Ft60, Beam::Ft330, Beam::Ft660, Beam::Ft1000, Beam::Ft1320];

    /// Distance from the start, ft.
    pub fn feet(self) -> u32 {
        match self {
            Beam::Ft60 => 60,
            Beam::Ft330 => 330,
            Beam::Ft660 => 660,
            Beam::Ft1000 => 1000,
            Beam::Ft1320 => 1320,
        }
    }

    /// Name of its time in a day file.
    pub fn key(self) -> &'static str {
        match self {
            Beam::Ft60 => "ft60",
            Beam::Ft330 => "ft330",
            Beam::Ft660 => "ft660",
            Beam::Ft1000 => "ft1000",
            Beam::Ft1320 => "ft1320",
        }
    }

    /// Name of its speed in a day file, where slips print one.
    pub fn speed_key(self) -> Option<&'static str> {
        match self {
            Beam::Ft660 => Some("mph660"),
            Beam::Ft1000 => Some("mph1000"),
            Beam::Ft1320 => Some("mph1320"),
            _ => None,
        }
    }

    /// The beam at a distance in feet.
    pub fn at(feet: u32) -> Option<Beam> {
        Beam::ALL.into_iter().find(|b| b.feet() == feet)
    }
}

/// A pass down the track. Numbers are in the units of `schema/run.toml` (s, mph, rpm, psi, in); what was not taken is absent.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
pub struct Run {
    /// Its own id, 8 hex digits.
    pub id: String,
    /// When it was made.
    pub at: Moment,
    /// The version it was made on: `v17`.
    pub on: String,
    /// Git id of the sheet it was made on.
    pub setup: String,
    /// The link before it was mended.
    pub setup_was: Option<String>,
    /// Numbers by name.
    pub numbers: BTreeMap<String, Num>,
    /// left or right.
    pub lane: Option<String>,
    /// test, time trial, qualifying, elimination 1 …
    pub round: Option<String>,
    /// Clean up to: 0, 60, 330, 660, 1000 ft; `None` = to the finish.
    pub clean_to: Option<u32>,
    /// Why it was not clean beyond.
    pub why_not: Option<String>,
    /// What the car did.
    pub did: Vec<String>,
    /// shallow, deep, rolled.
    pub staged: Option<String>,
    /// When the pressures were taken.
    pub psi_taken: Option<String>,
    /// Shift points seen, rpm.
    pub shifts: Vec<Num>,
    /// Free text.
    pub note: Option<String>,
}

impl Run {
    /// An empty run at a time.
    pub fn new(at: Moment) -> Run {
        Run {
            id: String::new(),
            at,
            on: String::new(),
            setup: String::new(),
            setup_was: None,
            numbers: BTreeMap::new(),
            lane: None,
            round: None,
            clean_to: None,
            why_not: None,
            did: Vec::new(),
            staged: None,
            psi_taken: None,
            shifts: Vec::new(),
            note: None,
        }
    }

    /// A number by name.
    pub fn num(&self, name: &str) -> Option<Num> {
        self.numbers.get(name).copied()
    }

    /// The time at a beam, s.
    pub fn time(&self, beam: Beam) -> Option<Num> {
        self.num(beam.key())
    }

    /// The time at a beam, s, if the run was clean up to it.
    pub fn clean_time(&self, beam: Beam) -> Option<Num> {
        self.time(beam).filter(|_| self.clean_at(beam.feet()))
    }

    /// Whether the run was clean up to a distance in feet.
    pub fn clean_at(&self, feet: u32) -> bool {
        self.clean_to.is_none_or(|to| feet <= to)
    }

    /// All that is impossible about the numbers, in words that name the pair.
    pub fn faults(&self, words: &RunWords) -> Vec<String> {
        let mut faults = Vec::new();
        for (name, n) in &self.numbers {
            let Some(def) = words.number(name) else {
                faults.push(format!("`{name}` is no number of a run"));
                continue;
            };
            if *n < def.possible[0] || *n > def.possible[1] {
                let [a, b] = def.possible;
                faults.push(format!("{} = {n} {} is not possible: {a} to {b} is", def.label, def.unit));
            }
        }
        let times: Vec<(Beam, Num)> = Beam::ALL.into_iter().filter_map(|b| Some((b, self.time(b)?))).collect();
        for pair in times.windows(2) {
            let [(a, ta), (b, tb)] = pair else { continue };
            let (fa, fb) = (a.feet(), b.feet());
            if tb <= ta {
                faults.push(format!(
                    "the {fb} ft time ({}) must be after the {fa} ft time ({})",
                    tb.fixed(3),
                    ta.fixed(3)
                ));
                continue;
            }
            let mph = mph_between(*a, *ta, *b, *tb);
            if mph > FASTEST_MPH {
                faults.push(format!(
                    "from {fa} ft ({}) to {fb} ft ({}) would be {mph:.0} mph: one of the two is wrong",
                    ta.fixed(3),
                    tb.fixed(3)
                ));
            }
        }
        for (beam, time) in &times {
            // The speed trap reads the end of the run: a car that never lifted is faster there than on average.
            let trap = beam.speed_key().and_then(|k| self.num(k)).filter(|_| self.clean_at(beam.feet()));
            let average = f64::from(beam.feet()) / time.to_f64() * MPH_PER_FPS;
            if let Some(trap) = trap.filter(|t| t.to_f64() < average) {
                faults.push(format!(
                    "{trap} mph at {} ft is slower than the average to there ({average:.1} mph in {}): \
                     one of the two is wrong, or say where it was lifted",
                    beam.feet(),
                    time.fixed(3)
                ));
            }
        }
        faults
    }
}

/// Miles an hour in a foot a second: 3600/5280.
pub const MPH_PER_FPS: f64 = 3600.0 / 5280.0;

/// No car of this kind averages more between two beams (common practice, no source).
const FASTEST_MPH: f64 = 400.0;

/// The average speed between two beams, mph.
pub fn mph_between(a: Beam, ta: Num, b: Beam, tb: Num) -> f64 {
    f64::from(b.feet() - a.feet()) / (tb - ta).to_f64() * MPH_PER_FPS
}
