//! What the runs and the record say of the car. For rules; the runs themselves are on other pages.

use super::ask::{Got, some};
use super::{Ask, Cannot, Def, Of, State, Subject};

/// Set fields changed after the last run.
fn turned(ask: &mut Ask) -> Got<Vec<String>> {
    ask.given().runs.turned.clone().ok_or_else(|| Cannot::Because("the book has no run yet".to_owned()))
}

pub(super) const SUBJECT: Subject = Subject {
    title: "From the runs",
    figures: &[
        Def::new(
            "ft60_middle",
            "60 ft, middle of the clean runs",
            "s",
            3,
            Of::One(|a| a.ran("ft60", "60 ft", "s", |r| r.ft60_s)),
        )
        .by("median of the setup's clean runs, as run", "the book's runs and changes")
        .at(State::AtLaunch)
        .hidden(),
        Def::new(
            "trap_mph_middle",
            "mph in the trap, middle of the clean runs",
            "mph",
            2,
            Of::One(|a| a.ran("trap_mph", "mph in the trap", "mph", |r| r.trap_mph)),
        )
        .by("median of the setup's clean runs, as run", "the book's runs and changes")
        .at(State::AtSpeed)
        .hidden(),
        Def::new(
            "quickest_et",
            "quickest time at the finish",
            "s",
            3,
            Of::One(|a| {
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
            }),
        )
        .by("least of the setup's clean runs, as run", "the book's runs and changes")
        .at(State::AtSpeed)
        .hidden(),
        Def::new(
            "front_rise_seen",
            "front rise seen",
            "in",
            1,
            Of::One(|a| a.ran("front_rise", "front rise seen", "in", |r| r.front_rise_in)),
        )
        .by("median of the setup's runs that have one", "the book's runs and changes")
        .at(State::AtFullRise)
        .hidden(),
        Def::new(
            "bar_touched_share",
            "share of runs in which the wheelie bar touched",
            "%",
            0,
            Of::One(|a| {
                a.ran("bar_touched", "share of runs in which the wheelie bar touched", "%", |r| r.bar_touched_pct)
            }),
        )
        .by("runs with \"bar touched\" over runs that say what the car did", "the book's runs and changes")
        .at(State::AtLaunch)
        .hidden(),
        Def::new(
            "fields_turned_since_last_run",
            "settings changed after the last run",
            "",
            0,
            Of::One(|a| Ok(turned(a)?.len() as f64)),
        )
        .by("count", "the book's runs and changes")
        .hidden(),
        Def::new(
            "minutes_under_since_last_run",
            "minutes of work under the car after the last run",
            "min",
            0,
            Of::One(|a| {
                let fields = turned(a)?;
                let schema = a.given().schema;
                let under = |k: &String| {
                    let field = schema.field(k)?;
                    field.place.as_ref().filter(|p| p.starts_with("under"))?;
                    field.minutes
                };
                some(Some(fields.iter().filter_map(under).map(f64::from).sum()), "")
            }),
        )
        .by("sum of the fields' minutes", "the book's runs and changes")
        .hidden(),
        Def::new(
            "front_pressure_rise_since_last_run",
            "front tires up since the last run",
            "psi",
            1,
            Of::Side(|a| {
                let [now] = a.nums(["front.tire.pressure"])?;
                let given = a.given();
                let side = ["front.tire.pressure.left", "front.tire.pressure.right"][a.side()];
                // Without a run nothing was put up since.
                let Some(last) = &given.runs.at_last_run else { return Ok(0.0) };
                let then = given.schema.num_at(last, side);
                some(then.map(|t| now - t.to_f64()), "the front pressure of the last run is in doubt or not on record")
            }),
        )
        .by("pressure now - pressure then", "the book's runs and changes")
        .hidden(),
        Def::new(
            "went_back_since_last_run",
            "times gone back to an earlier version after the last run",
            "",
            0,
            Of::One(|a| {
                turned(a)?;
                Ok(a.given().runs.went_back as f64)
            }),
        )
        .by("count", "the book's runs and changes")
        .hidden(),
    ],
};
