//! Racing goes on past midnight: the race day is still the one before, and a date as typed is the one the clock shows.

use crate::common::{Garage, has};

/// Five past midnight in the night of a race day, a run and a change on record.
fn garage() -> Garage {
    let garage = Garage::with_car();
    garage.at("2026-11-27T00:05:00");
    garage.ok(&["run", "--at", "nov 27 00:01", "--track", "Tern Hollow", "60=1.6"]);
    garage.ok(&["change", "launch.rpm=3600", "--when", "nov 27 00:02", "--yes"]);
    garage
}

#[test]
fn a_date_without_its_year_is_the_one_just_begun() {
    let garage = garage();
    let run = garage.json(&["runs", "nov 27"]);
    let at = run["runs"][0]["at"].as_str().unwrap_or_else(|| panic!("{run}"));
    assert!(at.starts_with("2026-11-27T00:01:00"), "{at}");
    has(&garage.ok(&["history", "--all"]), &["Nov 27 00:02"]);
    has(&garage.ok(&["history", "nov 27"]), &["Nov 27 00:02"]);
}

#[test]
fn what_was_done_past_midnight_is_found_by_its_date() {
    let garage = garage();
    has(&garage.ok(&["handover", "--list", "--since", "nov 27"]), &["what was before v2"]);
    has(&garage.ok(&["handover", "--list", "--since", "2026-11-27"]), &["what was before v2"]);
    has(&garage.ok(&["runs", "nov 26"]), &["00:01"]);
    has(
        &garage.refused(2, &["handover", "--list", "--since", "nov 28 2026"]),
        &["nothing is on record from 2026-11-28"],
    );
}
