//! `numbers --cg`: the height of the center of gravity, from a weighing with one axle raised.

use super::context::Context;
use super::ui::Ui;
use crate::chassis::RaisedAxle;
use crate::garage::{Error, Result, now, stale_now};
use crate::render;
use crate::schema::Num;
use crate::timeline::Facts;

/// What is asked, in the order it is taken: name, question, least and most that can be.
const ASKED: [(&str, &str, f64, f64); 7] = [
    ("total", "weight of the car as it races, lb", 500.0, 8000.0),
    ("level", "on the axle that stays down, car level, lb", 100.0, 6000.0),
    ("raised", "on the same axle, the other one raised, lb", 100.0, 6000.0),
    ("lift", "how far the other wheels were raised, in", 2.0, 60.0),
    ("wheelbase", "wheelbase, in", 60.0, 200.0),
    ("radius", "axle center to the floor at the axle that stays down, in", 5.0, 25.0),
    ("radius_up", "axle center to the floor at the raised axle, level, in (empty: the same)", 5.0, 25.0),
];

/// Runs it: numbers given as `name=number`, else asked one at a time.
pub fn run(ctx: &Context, ui: &mut Ui, numbers: &[String]) -> Result<()> {
    let book = ctx.book()?;
    let head = ctx.head(&book.car.name);
    let on = now(&book.store, &book.schema, book.store.head()?)?;
    let stale = stale_now(&book, &book.history()?)?;
    let facts = Facts::new(&book.schema, &on.sheet, &stale);
    let known = |key: &str| facts.num(key).map(Num::to_f64);
    let mut taken: [Option<f64>; 7] = [None; 7];
    for said in numbers.iter().flat_map(|n| n.split([',', ' '])).filter(|s| !s.is_empty()) {
        let wrong = || Error::usage(format!("`{said}` was not understood"), usage());
        let (name, number) = said.split_once('=').ok_or_else(wrong)?;
        let i = ASKED.iter().position(|a| a.0 == name.replace('-', "_")).ok_or_else(wrong)?;
        taken[i] = Some(read(i, number)?);
    }
    // Total weight and wheelbase may be on record.
    let total = known("weight.total");
    taken[0] = taken[0].or_else(|| total.filter(|_| !numbers.is_empty()));
    taken[4] = taken[4].or_else(|| {
        let sides = ["frame.wheelbase.left", "frame.wheelbase.right"].map(known);
        sides[0].zip(sides[1]).map(|(a, b)| (a + b) / 2.0)
    });
    if numbers.is_empty() {
        if !ui.asks() {
            ui.text(&render::cg::weighing(&head, &usage()));
            return Ok(());
        }
        ui.status(&render::cg::weighing(&head, ""));
        for (i, (_, question, ..)) in ASKED.iter().enumerate() {
            let known = match i {
                0 => total,
                _ => taken[i],
            };
            let hint = known.map(|k| format!(" [{k}]")).unwrap_or_default();
            loop {
                let Some(answer) = ui.ask(&format!("{question}{hint}:")) else {
                    return Err(Error::usage("the weighing was broken off", "nothing was recorded"));
                };
                match (answer.trim(), known) {
                    ("", Some(k)) => taken[i] = Some(k),
                    ("", None) if i == 6 => {}
                    (text, _) => match read(i, text) {
                        Ok(n) => taken[i] = Some(n),
                        Err(why) => {
                            ui.status(&why.to_string());
                            continue;
                        }
                    },
                }
                break;
            }
        }
    }
    let need =
        |i: usize| taken[i].ok_or_else(|| Error::usage(format!("{} is missing: {}", ASKED[i].0, ASKED[i].1), usage()));
    let weighing = RaisedAxle {
        weight_lb: need(0)?,
        level_lb: need(1)?,
        raised_lb: need(2)?,
        lift_in: need(3)?,
        wheelbase_in: need(4)?,
        radius_down_in: need(5)?,
        radius_up_in: taken[6].unwrap_or(need(5)?),
    };
    if weighing.level_lb >= weighing.weight_lb || weighing.raised_lb >= weighing.weight_lb {
        return Err(Error::usage("one axle weighs as much as the whole car", "the scales under that axle, in lb"));
    }
    let answer = weighing.height().ok_or_else(|| {
        Error::usage("raised as far as the car is long, or not at all", "the lift in in, of the raised wheels")
    })?;
    if answer.height_in <= 0.0 || answer.height_in > 60.0 {
        let help = "the same axle weighed twice, the other one raised; shocks blocked, brakes off, wheels free to roll";
        return Err(Error::usage(
            format!("that puts the center of gravity {:.1} in above the ground: a number is wrong", answer.height_in),
            help,
        ));
    }
    let usual = book.schema.field("weight.cg_height").and_then(|f| f.usual).map(|u| u.map(Num::to_f64));
    if let Some([low, high]) = usual.filter(|[low, high]| !(*low..=*high).contains(&answer.height_in)) {
        ui.status(&format!("outside the usual {low} to {high} in: weigh it again before you use it"));
    }
    ctx.answer(
        ui,
        || render::cg::weighed_json(&head, &weighing, &answer),
        || render::cg::weighed(&head, &weighing, &answer),
    );
    Ok(())
}

fn usage() -> String {
    "slipbook numbers --cg total=3168 level=1516 raised=1544 lift=14 wheelbase=108 radius=13.2".to_owned()
}

fn read(i: usize, text: &str) -> Result<f64> {
    let (name, question, low, high) = ASKED[i];
    let number = text.trim().trim_end_matches("lb").trim_end_matches("in").trim();
    match Num::parse(number).map(Num::to_f64) {
        Some(n) if (low..=high).contains(&n) => Ok(n),
        Some(n) => Err(Error::usage(format!("{name} {n} cannot be: {question}"), format!("{low} to {high}"))),
        None => Err(Error::usage(format!("{name}: `{text}` is no number"), question.to_owned())),
    }
}
