//! `blame --package`: do settings work only together.

use super::super::context::Context;
use super::super::history::named_field;
use super::super::judged::Ran;
use super::super::ui::Ui;
use crate::blame::Estimates;
use crate::blame::package::package;
use crate::check::rules_for;
use crate::garage::{Error, Result};
use crate::render::{
    self,
    blame_package::{Answer, Asked as Set},
};
use crate::slip::Response;

/// Answers it: every package of the car's rules, or the one named.
pub fn answer(ctx: &Context, ui: &mut Ui, ran: &Ran, estimates: &Estimates, name: Option<&str>) -> Result<()> {
    let sets = sets(ran, name)?;
    let sheets = ran.book.sheets(&ran.history.timeline)?;
    let schema = &ran.book.schema;
    let told: Vec<_> = sets.iter().map(|s| package(schema, &sheets, estimates, &s.fields)).collect();
    let head = ctx.head(&ran.book.car.name);
    let answer = Answer {
        asked: estimates.asked,
        schema,
        timeline: &ran.history.timeline,
        sets: sets.iter().zip(told.iter().map(Vec::as_slice)).collect(),
        named: name.is_some(),
        counted: estimates.used().len(),
        footing: ran.footing,
        allowed: estimates.allowed(),
    };
    ctx.answer(ui, || render::blame_package::json(&head, &answer), || render::blame_package::text(&head, &answer));
    Ok(())
}

/// The sets meant.
fn sets(ran: &Ran, name: Option<&str>) -> Result<Vec<Set>> {
    if let Some(list) = name.filter(|n| n.contains(',')) {
        let mut fields: Vec<String> = Vec::new();
        for part in list.split(',').map(str::trim).filter(|p| !p.is_empty()) {
            let key = &named_field(ran.book, part)?.key;
            if !fields.contains(key) {
                fields.push(key.clone());
            }
        }
        if fields.len() < 2 {
            return Err(Error::usage(format!("`{list}` is one field"), "a set has two or more: front,limiter"));
        }
        return Ok(vec![Set { id: None, name: "fields as asked".to_owned(), fields }]);
    }
    let chassis = ran.book.car.chassis();
    let here = |kinds: &[String]| kinds.is_empty() || kinds.iter().any(|c| chassis.contains(c));
    let rules = rules_for(&ran.book.car.rules).into_iter().map(|(rule, _)| rule);
    let of_car: Vec<Set> = rules
        .filter(|r| here(&r.chassis) && r.package.len() > 1)
        .map(|r| Set { id: Some(r.id), name: r.name, fields: r.package })
        .collect();
    let Some(name) = name else { return Ok(of_car) };
    let wanted = name.to_lowercase();
    let is = |s: &&Set| s.id.as_ref().is_some_and(|id| id.to_lowercase() == wanted);
    let found: Vec<Set> = match of_car.iter().find(is) {
        Some(one) => vec![one.clone()],
        None => of_car.iter().filter(|s| s.name.to_lowercase().contains(&wanted)).cloned().collect(),
    };
    if found.is_empty() {
        if Response::read(name).is_some() {
            let ask = format!("the number goes first: slipbook blame {name} --package");
            return Err(Error::usage(format!("`{name}` is a number of the slip, no package"), ask));
        }
        let all: Vec<String> =
            of_car.iter().map(|s| format!("{} ({})", s.id.as_deref().unwrap_or_default(), s.name)).collect();
        let all = if all.is_empty() { String::new() } else { format!("{}, or ", all.join(", ")) };
        return Err(Error::usage(
            format!("there is no package `{name}` of this car"),
            format!("{all}fields with commas between: --package \"limiter,front valving\""),
        ));
    }
    Ok(found)
}
