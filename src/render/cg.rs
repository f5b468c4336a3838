//! The weighing with one axle raised: how it is done, and what it says.

use super::layout::Head;
use crate::chassis::{CgHeight, RaisedAxle};
use serde_json::{Value as Json, json};

/// How the weighing is done.
pub fn weighing(head: &Head, usage: &str) -> String {
    let mut page = head.page("center of gravity height: one axle weighed level, and again with the other raised");
    page.gap();
    let steps = [
        "The driver's weight in the seat as ballast (nobody sits in a raised car), fuel as it races, tires at pressure, anti-roll bars loose.",
        "Block the suspension at ride height, front and rear: solid links in place of shocks. A spring that moves spoils it.",
        "No brake set, transmission in neutral: the wheels on the scales must be free to roll. Chock nothing under them; hold the car by the axle that is raised.",
        "Weigh the axle that stays down, car level: that is `level`.",
        "Raise the other axle by its hubs or on blocks under its tires, 12 in or more, and measure by how much: `lift`. Rated stands and blocks on hard ground, never on a jack alone; nobody under the car.",
        "Weigh the axle that stays down again: `raised`. A pound is worth tenths of an inch: raise it high, weigh it twice.",
        "Measure axle center to floor at the axle that stays down: `radius` (and `radius_up` where the other tires are of another height).",
    ];
    for (i, step) in steps.iter().enumerate() {
        page.wrap(&format!("  {}  ", i + 1), step);
    }
    page.gap();
    if !usage.is_empty() {
        page.wrap("", &format!("Then:  {usage}"));
    }
    page.wrap("", "A raised car can roll or fall. Where you are not set up for it, have it weighed by a shop that is, or a licensed mechanic.");
    page.text()
}

/// What the weighing says.
pub fn weighed(head: &Head, weighing: &RaisedAxle, answer: &CgHeight) -> String {
    let mut page = head.page(&format!("center of gravity {:.2} in above the ground", answer.height_in));
    page.gap();
    page.wrap("  from     ", &format!(
        "{} lb; {} lb level, {} lb raised; lift {} in; wheelbase {} in; axle {} in high down, {} in at the raised end",
        weighing.weight_lb, weighing.level_lb, weighing.raised_lb, weighing.lift_in, weighing.wheelbase_in, weighing.radius_down_in, weighing.radius_up_in
    ));
    page.wrap("  tilt     ", &format!("{:.2} deg", answer.tilt_deg));
    page.wrap("  how sure ", &format!("a pound more on the scales raises it {:.3} in", answer.in_per_lb));
    page.wrap("  formula  ", "h = r + L (W2 - W1)/(W tan tilt) + (ru - r)(1 - W2/W)");
    page.wrap(
        "  source   ",
        "moments about the hub that stays down, own algebra; Gillespie, Fundamentals of Vehicle Dynamics, ch. 1",
    );
    page.gap();
    page.wrap("", &format!("Nothing is recorded. To record it:  slipbook measure cg height {:.2}", answer.height_in));
    page.text()
}

/// The same as JSON.
pub fn weighed_json(head: &Head, weighing: &RaisedAxle, answer: &CgHeight) -> Json {
    json!({
        "car": head.car,
        "height_in": answer.height_in,
        "tilt_deg": answer.tilt_deg,
        "in_per_lb": answer.in_per_lb,
        "inputs": {
            "weight_lb": weighing.weight_lb, "level_lb": weighing.level_lb, "raised_lb": weighing.raised_lb,
            "lift_in": weighing.lift_in, "wheelbase_in": weighing.wheelbase_in,
            "radius_down_in": weighing.radius_down_in, "radius_up_in": weighing.radius_up_in,
        },
    })
}
