//! Air and track as measured with a run.

use crate::common::{has, has_not};
use crate::running::at_the_track;

#[test]
fn air_as_measured() {
    let garage = at_the_track();
    garage.ok(&["run", "--air", "29 C dew 18C 1013 hPa altimeter track 48C sun tail 4 mph", "60=1.6"]);
    has(
        &garage.read("grey", "days/2026/08-22-osier-flats.toml"),
        &[
            "[[reading]]",
            "temperature = 84.2 # degF",
            "pressure_altimeter = 29.91",
            "head_wind = -4 # mph",
            "sun = \"sun\"",
        ],
    );
    for (bad, says) in [
        ("84F 29.42", "station"),
        ("84", "unit"),
        ("hot", "`hot`"),
        ("", "no number"),
        ("84F 400% 29.42 station", "400"),
    ] {
        has(&garage.refused(2, &["run", "--air", bad, "60=1.6"]), &[says]);
    }
    has_not(&garage.ok(&["run", "60=1.61"]), &["no air on record"]);
}

/// A reading that cannot be is wrong as typed; no file is at fault, least of all one that is not there yet.
#[test]
fn an_impossible_reading_is_a_wrong_command_line() {
    let garage = at_the_track();
    let typed = ["--air", "84F 400% 29.42 station", "60=1.6"];
    for said in [
        garage.refused(2, &[&["run"], &typed[..]].concat()),
        garage.refused(2, &[&["run", "--track", "Heron Bend"], &typed[..]].concat()),
    ] {
        has(&said, &["400", "0 to 100"]);
        has_not(&said, &[".toml"]);
    }
}
