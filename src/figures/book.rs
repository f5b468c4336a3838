//! What the runs and the record say of the car. For rules; the runs themselves are on other pages.

use super::ask::{Got, some};
use super::{Ask, Cannot, Def, Of, State, Subject};

const fn def(
    name: &'static str,
    label: &'static str,
    unit: &'static str,
    decimals: usize,
    state: State,
    formula: &'static str,
    of: fn(&mut Ask) -> Got<f64>,
) -> Def {
    Def {
        name,
        label,
        unit,
        decimals,
        state,
        chassis: &[],
        formula,
        source: "the book's runs and changes",
        shown: false,
        of: Of::One(of),
    }
}

/// Set fields changed after the last run.
fn turned(ask: &mut Ask) -> Got<Vec<String>> {
    ask.given().runs.turned.clone().ok_or_else(|| Cannot::Because("the book has no run yet".to_owned()))
}

pub(super) const SUBJECT: Subject = Subject {
    title: "From the runs",
    figures: &[
        def(
            "ft60_middle",
            "60 ft, middle of the clean runs",
            "s",
            3,
            State::AtLaunch,
            "median of the setup's clean runs, as run",
            |a| a.ran("ft60", "60 ft", "s", |r| r.ft60_s),
        ),
        def(
            "trap_mph_middle",
            "mph in the trap, middle of the clean runs",
            "mph",
            2,
            State::AtSpeed,
            "median of the setup's clean runs, as run",
            |a| a.ran("trap_mph", "mph in the trap", "mph", |r| r.trap_mph),
        ),
        def(
            "quickest_et",
            "quickest time at the finish",
            "s",
            3,
            State::AtSpeed,
            "least of the setup's clean runs, as run",
            |a| {
                let quickest = a.given().runs.quickest_s;
                match quickest {
                    Some((s, _)) => {
                        a.number("quickest_et", "quickest time at the finish", "s", s);
                        Ok(s)
                    }
                    None => {
                        a.ran("quickest_et", "a clean time at the finish", "s", |r| r.quickest_s.map(|(t, _)| (t, 1)))
                    }
                }
            },
        ),
        def(
            "front_rise_seen",
            "front rise seen",
            "in",
            1,
            State::AtFullRise,
            "median of the setup's runs that have one",
            |a| a.ran("front_rise", "front rise seen", "in", |r| r.front_rise_in),
        ),
        def(
            "bar_touched_share",
            "share of runs in which the wheelie bar touched",
            "%",
            0,
            State::AtLaunch,
            "runs with \"bar touched\" over runs that say what the car did",
            |a| a.ran("bar_touched", "share of runs in which the wheelie bar touched", "%", |r| r.bar_touched_pct),
        ),
        def(
            "fields_turned_since_last_run",
            "settings changed after the last run",
            "",
            0,
            State::AtRest,
            "count",
            |a| Ok(turned(a)?.len() as f64),
        ),
        def(
            "minutes_under_since_last_run",
            "minutes of work under the car after the last run",
            "min",
            0,
            State::AtRest,
            "sum of the fields' minutes",
            |a| {
                let fields = turned(a)?;
                let schema = a.given().schema;
                let under = |k: &String| {
                    let field = schema.field(k)?;
                    field.place.as_ref().filter(|p| p.starts_with("under"))?;
                    field.minutes
                };
                some(Some(fields.iter().filter_map(under).map(f64::from).sum()), "")
            },
        ),
        Def {
            name: "front_pressure_rise_since_last_run",
            label: "front tires up since the last run",
            unit: "psi",
            decimals: 1,
            state: State::AtRest,
            chassis: &[],
            formula: "pressure now - pressure then",
            source: "the book's runs and changes",
            shown: false,
            of: Of::Side(|a| {
                let [now] = a.nums(["front.tire.pressure"])?;
                let given = a.given();
                let side = ["front.tire.pressure.left", "front.tire.pressure.right"][a.side()];
                // Without a run nothing was put up since.
                let Some(last) = &given.runs.at_last_run else { return Ok(0.0) };
                let then = given.schema.num_at(last, side);
                some(then.map(|t| now - t.to_f64()), "the front pressure of the last run is in doubt or not on record")
            }),
        },
        def(
            "went_back_since_last_run",
            "times gone back to an earlier version after the last run",
            "",
            0,
            State::AtRest,
            "count",
            |a| {
                turned(a)?;
                Ok(a.given().runs.went_back as f64)
            },
        ),
    ],
};
