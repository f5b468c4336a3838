//! The page printed to be filled in at the track: one letter page of plain text, which `day --from` reads.

use super::change::short;
use super::layout::Head;
use crate::diff::words::{show_value, visible};
use crate::garage::OnCar;
use crate::schema::{Field, Ring, Role, Schema, Value};
use crate::slip::Beam;
use serde_json::{Value as Json, json};

/// Columns of a letter page in a plain typewriter face.
const WIDTH: usize = 80;
/// Its lines.
const LINES: usize = 60;
/// As many of them may say what is on the car.
const ON_CAR: usize = 16;
/// Runs between two readings of the air.
const RUNS_A_READING: usize = 4;

/// The page. Lines with `#` are for the eye; lines of underscores take numbers, dots take words.
pub fn blank(head: &Head, schema: &Schema, on: &OnCar, finish_ft: u32) -> String {
    let mut out = vec![format!("car {}", visible(&head.car))];
    out.extend(["date", "track"].map(|name| dotted(&format!("{name} "))));
    out.push("elevation ______".to_owned());
    out.push(format!("finish {finish_ft}"));
    out.extend(["prep", "note"].map(|name| dotted(&format!("{name} "))));
    out.push(format!("# on the car: {} since {}", on.number, head.when(on.began)));
    out.extend(settings(schema, on));
    let foot = [
        "#".to_owned(),
        "# Lines take numbers, dots words; leave open what was not taken. Lane: l or r.".to_owned(),
        "# At home: slipbook day --from FILE reads it. Lines with # are not read.".to_owned(),
    ];
    let measured = 2;
    let run = format!("_____{}", " ______".repeat(columns(finish_ft).len()));
    let run = dotted(&format!("{run} .. "));
    out.push(header(finish_ft));
    let mut left = LINES - out.len() - foot.len() - measured;
    let mut runs = 0;
    loop {
        let with_air = runs % RUNS_A_READING == 0;
        let needed = if with_air { 3 } else { 2 };
        if left < needed {
            break;
        }
        if with_air {
            out.push("_____ air ____F ____% _____ station track ____F".to_owned());
        }
        out.push(run.clone());
        out.push(format!("{} why {}", &dotted("_____ change ")[..50], ".".repeat(WIDTH - 55)));
        left -= needed;
        runs += 1;
    }
    out.extend(std::iter::repeat_n(dotted("_____ measure "), measured));
    out.extend(foot);
    out.iter().map(|l| format!("{l}\n")).collect()
}

/// Dots to the right edge.
fn dotted(label: &str) -> String {
    format!("{label}{}", ".".repeat(WIDTH.saturating_sub(label.len())))
}

/// What a slip prints up to the finish, in its order.
fn columns(finish_ft: u32) -> Vec<String> {
    let mut out = Vec::new();
    for beam in Beam::ALL.into_iter().filter(|b| b.feet() <= finish_ft) {
        out.push(beam.feet().to_string());
        out.extend(
            beam.speed_key().filter(|_| beam == Beam::Ft660 || beam.feet() == finish_ft).map(|_| "mph".to_owned()),
        );
    }
    out
}

fn header(finish_ft: u32) -> String {
    let columns: String = columns(finish_ft).iter().map(|c| format!(" {c:>6}")).collect();
    format!("#time{columns} ln what it did")
}

/// The settings a racer meets first, with what they are now.
fn settings(schema: &Schema, on: &OnCar) -> Vec<String> {
    let shown = on.sheet.in_order(schema).filter(|(f, _)| f.role == Role::Set && f.ring == Ring::Pocket);
    let shown: Vec<(&Field, &Value)> = shown.collect();
    // A short name that two fields have says nothing: then the whole label.
    let twice = |f: &Field| shown.iter().filter(|(other, _)| short(&other.label) == short(&f.label)).count() > 1;
    let name = |f: &Field| if twice(f) { f.label.clone() } else { short(&f.label).to_owned() };
    let said: Vec<String> =
        shown.iter().map(|(f, v)| visible(&format!("{} {}", name(f), show_value(schema, f, v)))).collect();
    let options = textwrap::Options::new(WIDTH).initial_indent("#   ").subsequent_indent("#   ").break_words(true);
    let mut lines: Vec<String> =
        textwrap::wrap(&said.join("; "), options).into_iter().map(|l| l.trim_end().to_owned()).collect();
    if lines.len() > ON_CAR {
        lines.truncate(ON_CAR - 1);
        lines.push("#   and more: slipbook sheet".to_owned());
    }
    lines.retain(|l| l != "#");
    lines
}

/// As JSON.
pub fn json(head: &Head, text: &str) -> Json {
    json!({"car": head.car, "page": text})
}
