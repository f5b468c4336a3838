//! The arithmetic of one run, so that it can be followed by hand.

use super::footing::{density, reference_words};
use super::layout::{Head, Page};
use crate::air::{PA_PER_INHG, fahrenheit};
use crate::pace::{Explained, Exponents, Footing, Standing, Step};
use crate::slip::{Day, Response, Run};
use serde_json::{Value as Json, json};

/// As text.
pub fn text(head: &Head, run: &Run, day: &Day, footing: &Footing, e: &Explained) -> String {
    let lane = run.lane.as_ref().map(|l| format!(", {l} lane")).unwrap_or_default();
    let mut page = head.page(&format!("{}, {}{lane}: its numbers in one air", run.on, head.when(run.at)));
    air(&mut page, day, e);
    if let (Some(reference), Some(density_then)) = (&footing.reference, e.standing.map(|s| s.density_kg_m3())) {
        let to = reference.density_kg_m3;
        let words = reference_words(reference);
        page.wrap(
            "One air  ",
            &format!(
                "{to:.4} kg/m3 = {}, {words}; ratio {to:.4}/{density_then:.4} = {:.5}",
                density(to),
                to / density_then
            ),
        );
    }
    page.gap();
    steps(&mut page, e);
    if e.reference_kg_m3.is_some() {
        page.gap();
        exponents(&mut page, &footing.exponents);
    }
    page.gap();
    physics(&mut page, e);
    page.text()
}

fn air(page: &mut Page, day: &Day, e: &Explained) {
    let mut track: Vec<String> = Vec::new();
    track.extend(e.track.track_temp_f.map(|t| format!("surface {t:.0} F")));
    track.extend(e.track.sun.clone());
    track.extend(
        e.track
            .head_wind_mph
            .map(|w| if w < 0.0 { format!("tail wind {:.0} mph", -w) } else { format!("head wind {w:.0} mph") }),
    );
    track.extend(day.elevation_ft.map(|h| format!("elevation {h} ft")));
    match e.standing {
        Some(Standing::Read { air, density_kg_m3, minutes }) => {
            let dew = air.dew_point_c().map(|d| format!(", dew point {:.1} F", fahrenheit(d))).unwrap_or_default();
            let away = match minutes {
                0 => "read at the run".to_owned(),
                m => format!("the reading it rests on is {m} min away"),
            };
            page.wrap(
                "Air      ",
                &format!(
                    "{:.1} F, {:.0} % humid{dew}, {:.2} inHg at the track; {away}",
                    fahrenheit(air.temperature_c),
                    100.0 * air.relative_humidity(),
                    air.pressure_pa / PA_PER_INHG,
                ),
            );
            page.wrap("         ", &format!("CIPM-2007: {density_kg_m3:.4} kg/m3 = {}", density(density_kg_m3)));
        }
        Some(Standing::Assumed { density_kg_m3, by }) => {
            let what = super::footing::usual(by);
            page.wrap("Air      ", &format!("not read: {what}, {density_kg_m3:.4} kg/m3 = {}", density(density_kg_m3)));
        }
        None => page.line("Air      no run of the book has air on record: all as run"),
    }
    if !track.is_empty() {
        page.wrap("Track    ", &format!("{}; none of this is in the sums", track.join(", ")));
    }
}

fn steps(page: &mut Page, e: &Explained) {
    if e.steps.is_empty() {
        page.line("no number of this run was clean: nothing is carried");
        return;
    }
    let mut rows = vec![["", "slip", "exponent", "times", "in one air"].map(str::to_owned).to_vec()];
    for s in &e.steps {
        let d = s.response.decimals();
        rows.push(vec![
            s.response.label(),
            format!("{:.d$}", s.raw),
            format!("{:+.3}", s.exponent.value),
            format!("{:.5}", s.factor),
            format!("{:.d$}", s.carried),
        ]);
    }
    page.table(&rows, &[1, 2, 3, 4]);
    page.line("times = ratio ^ exponent;  in one air = slip x times");
}

fn exponents(page: &mut Page, all: &Exponents) {
    page.line("Where the exponents come from");
    let (power, _) = all.power;
    let induction = if all.induction_known {
        "by the induction on the sheet"
    } else {
        "taken for natural: induction is not on the sheet"
    };
    match (&all.model, all.fitted_to) {
        (Some(model), Some((t60, mph, ft))) => {
            page.wrap(
                "  physics   ",
                &format!(
                    "two phases, tires then power, from the middle 60 ft {t60:.3} and {mph:.2} mph at {ft} ft (power midway \
                     between the two forms below, Km 234): tires' limit {:.2} g, power takes over at {:.0} ft; power goes as \
                     density^{power} ({induction}); of a speed's exponent drag takes {:.2}",
                    model.accel_ft_s2 / crate::air::G_FT_S2,
                    model.switch_ft(),
                    1.0 - crate::pace::DRAG_ON_SPEED,
                ),
            );
        }
        _ => page.wrap(
            "  physics   ",
            "no 60 ft and trap speed to fit: what is usual, with twice the width (common practice, no source)",
        ),
    }
    let mut rows = vec![["", "before the runs", "after", "runs"].map(str::to_owned).to_vec()];
    for (response, x) in all.all() {
        let label = response.label();
        rows.push(vec![
            format!("  {label}"),
            format!("{:+.3} +- {:.3}", x.prior, x.prior_sd),
            format!("{:+.3} +- {:.3}", x.value, x.sd),
            x.runs.to_string(),
        ]);
    }
    page.table(&rows, &[1, 2, 3]);
    page.wrap("", "+-: one standard deviation. Setups, days, lanes and tracks are allowed for, so a book of few days moves little.");
}

fn physics(page: &mut Page, e: &Explained) {
    let p = &e.physics;
    page.line("From the slip");
    if let (Some(g), Some(real)) = (p.average_g_60ft, p.average_g_60ft_rollout) {
        page.wrap(
            "  to 60 ft  ",
            &format!(
                "{g:.2} g as the slip reads it (2 s/t^2); {real:.2} g with {:.0} in of roll-out before the timer starts \
                 (common practice, no source)",
                p.rollout_in
            ),
        );
    }
    match (p.weight_lb, p.trap, p.least_power_hp, p.trap_power_hp) {
        (Some(w), Some((mph, ft)), Some(least), Some((by234, by225))) => page.wrap(
            "  power     ",
            &format!(
                "{w:.0} lb to {mph:.2} mph at {ft} ft: at the wheels no less than {least:.0} hp (constant power, nothing lost: \
                 Fox 1973), about {by234:.0} to {by225:.0} hp by W (mph/Km)^3 x 1320/ft, Km 234 to 225 (from memory, unverified). No \
                 drag, slip or rotating mass in the first; those of other cars in the second.",
            ),
        ),
        (None, Some(_), ..) => page.wrap("  power     ", "needs the car's weight, driver in: slipbook measure weight"),
        _ => page.wrap("  power     ", "needs a trap speed of a run that was clean to there"),
    }
}

/// As JSON.
pub fn json(head: &Head, run: &Run, day: &Day, footing: &Footing, e: &Explained) -> Json {
    let step = |s: &Step| json!({"number": s.response.key(), "raw": s.raw, "exponent": s.exponent, "factor": s.factor, "one_air": s.carried});
    let model = footing.exponents.model.map(|m| {
        json!({"tires_g": m.accel_ft_s2 / crate::air::G_FT_S2, "switch_ft": m.switch_ft(), "power_ft2_s3": m.power_ft2_s3})
    });
    let track = json!({
        "track_temp_f": e.track.track_temp_f, "head_wind_mph": e.track.head_wind_mph, "sun": e.track.sun,
        "elevation_ft": day.elevation_ft,
    });
    let et = Response::Et.at_beam(day.finish_ft).key();
    json!({
        "car": head.car, "run": super::run::run_json(run), "air": super::footing::standing_json(e.standing),
        "reference_density_kg_m3": e.reference_kg_m3, "numbers": e.steps.iter().map(step).collect::<Vec<_>>(), "et": et,
        "two_phase": model, "physics": e.physics, "conditions": track, "one_air": super::footing::json(footing),
    })
}
