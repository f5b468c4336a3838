//! Air and track: as measured with a run, read on their own, from a weather report; and what they come to.

use crate::common::{Garage, has, has_not, no_controls};
use crate::running::at_the_track;
use serde_json::Value;
use slipbook::air::{self, Moist, Moisture, PA_PER_INHG};

const DAY: &str = "days/2026/08-22-osier-flats.toml";
const REPORT: &str = "KXXX 221855Z AUTO 22008KT 10SM CLR 29/18 A3005 RMK AO2 SLP168 T02940178";

#[test]
fn air_as_measured() {
    let garage = at_the_track();
    garage.ok(&["run", "--air", "29 C dew 18C 1013 hPa altimeter track 48C sun tail 4 mph", "60=1.6"]);
    has(
        &garage.read("grey", DAY),
        &[
            "[[reading]]",
            "temperature = 84.2 # degF",
            "pressure_altimeter = 29.913873 # inHg",
            "head_wind = -4 # mph",
            "sun = \"sun\"",
        ],
    );
    has_not(&garage.ok(&["run", "60=1.61"]), &["no air on record"]);
}

/// What was measured may be wrong; the run was made all the same.
#[test]
fn a_run_is_recorded_without_air_that_cannot_be() {
    for (bad, says) in [
        ("84F 29.42", "Both can be"),
        ("84", "unit"),
        ("hot", "`hot`"),
        ("", "no number"),
        ("84F 400% 29.42 station", "0 to 100"),
        ("-41C 50%", "-40"),
        ("-41F 50%", "-40"),
        ("84F 50% 31.6 station", "31.5"),
        ("60F dew 61F 29.42 station", "above the air temperature"),
        ("60F wet 61F 29.42 station", "above the air temperature"),
        ("90F wet 35F 29.42 station", "dry"),
        ("84F 50% 24.00 station", "24.5"),
    ] {
        let garage = at_the_track();
        let before = garage.log("grey").len();
        let said = garage.json(&["run", "--air", bad, "60=1.6"]);
        has(said["air_refused"]["why"].as_str().unwrap(), &[says]);
        let again = if bad == "84F 29.42" { "84F 29.42 station" } else { "READING" };
        assert_eq!(said["air_refused"]["again"], format!("slipbook air {again} --at \"aug 22 15:00\""), "{bad}");
        assert_eq!((said["saved"].as_bool(), said["run"]["ft60"].as_f64()), (Some(true), Some(1.6)), "{bad}");
        assert_eq!(garage.log("grey").len(), before + 1);
        has_not(&garage.read("grey", DAY), &["[[reading]]"]);
    }
    let garage = at_the_track();
    let said = garage.ok(&["run", "--air", "84F 29.42", "60=1.6"]);
    has(&said, &["the air was not recorded: ", "slipbook air 84F 29.42 station --at \"aug 22 15:00\"", "or altimeter"]);
    // As it is told, it is taken.
    garage.ok(&["air", "84F", "29.42", "station", "--at", "aug 22 15:00"]);
    has(&garage.read("grey", DAY), &["at = 15:00:00", "pressure_station = 29.42"]);
    assert_eq!(garage.json(&["run", "60=1.61"])["air_refused"], Value::Null);
    garage.tidy("grey", "a run without its air");
}

/// With the first run of a day too, and no file that is not there is blamed.
#[test]
fn an_impossible_reading_with_a_new_day() {
    let garage = at_the_track();
    let said = garage.ok(&["run", "--track", "Heron Bend", "--air", "84F 400% 29.42 station", "60=1.6"]);
    has(
        &said,
        &[
            "NEW DAY opened: Aug 22 2026 at Heron Bend",
            "400",
            "0 to 100",
            "slipbook air READING",
            "--track 'Heron Bend'",
        ],
    );
    has_not(&said, &[".toml"]);
}

#[test]
fn a_reading_goes_to_its_day_and_time() {
    let garage = at_the_track();
    let said = garage.ok(&["air", "84F", "52%", "29.42", "station", "track", "118F", "sun", "head", "4", "mph"]);
    has(
        &said,
        &["Grey   air, Aug 22 15:00 at Osier Flats   saved", "29.42 inHg", "996.3 hPa", "as you said", "CIPM-2007"],
    );
    has(&said, &["no run is corrected by them", "SAE J1349", "SAE J607"]);
    assert!(said.lines().all(|l| l.chars().count() <= 80), "{said}");
    has(
        &garage.read("grey", DAY),
        &["at = 15:00:00", "humidity = 52 # %", "track_temp = 118 # degF", "head_wind = 4 # mph", "sun = \"sun\""],
    );
    assert_eq!(garage.log("grey")[0], "air and track read at Osier Flats");
    // The same again is on record.
    let again = garage.json(&["air", "84F", "52%", "29.42", "station", "track", "118F", "sun", "head", "4", "mph"]);
    assert_eq!(again["saved"], false);
    assert_eq!(garage.read("grey", DAY).matches("[[reading]]").count(), 1);
    garage.ok(&["air", "82F", "--at", "10:30"]);
    let text = garage.read("grey", DAY);
    assert!(text.find("at = 10:30:00") < text.find("at = 15:00:00"), "{text}");
    garage.tidy("grey", "readings");
}

#[test]
fn after_midnight_and_at_a_second_track() {
    let garage = at_the_track();
    garage.at("2026-08-23T00:40:00");
    garage.ok(&["air", "61F", "88%", "29.44", "station"]);
    has(&garage.read("grey", DAY), &["at = 00:40:00"]);
    let said = garage.json(&["air", "--track", "Heron Bend", "--elevation", "2100", "60F", "80%", "27.9", "station"]);
    assert_eq!((said["track"].as_str(), said["elevation_ft"].as_f64()), (Some("Heron Bend"), Some(2100.0)));
    assert_eq!(said["at"], "2026-08-23T00:40:00-05:00");
    has(
        &garage.read("grey", "days/2026/08-22-heron-bend.toml"),
        &["elevation = 2100 # ft", "pressure_station = 27.90"],
    );
    garage.refused(2, &["air", "--track", "Osier Flats", "--elevation", "900", "60F"]);
}

#[test]
fn an_elevation_that_was_missing_is_kept() {
    let garage = Garage::with_car();
    garage.ok(&["run", "--track", "Osier Flats", "60=1.65"]);
    let part = garage.json(&["air", "84F", "52%", "29.42", "altimeter", "--dry-run"]);
    assert_eq!((&part["missing"][0], &part["density_kg_m3"]), (&Value::from("elevation"), &Value::Null));
    let whole = garage.json(&["air", "84F", "52%", "30.05", "altimeter", "--elevation", "612"]);
    assert!(whole["density_kg_m3"].is_number());
    has(&garage.read("grey", DAY), &["elevation = 612 # ft"]);
    garage.ok(&["run", "60=1.66", "--elevation", "612"]);
    garage.tidy("grey", "an elevation");
}

#[test]
fn a_dry_run_writes_nothing() {
    let garage = at_the_track();
    let before = garage.contents();
    for args in [
        &["air", "84F", "52%", "29.42", "station", "--dry-run"][..],
        &["air", "--metar", REPORT, "--dry-run"],
        &["air", "--metar", "KXXX 031855Z 29/18 A3005", "--dry-run"],
        &["air", "-5C", "90%", "--dry-run", "--track", "Heron Bend", "--elevation", "2100"],
    ] {
        let said = garage.json(args);
        assert_eq!((&said["saved"], &said["car"]), (&Value::from(false), &Value::from("Grey")), "{args:?}");
        has(&garage.ok(args), &["nothing was recorded: a dry run"]);
    }
    assert_eq!(before, garage.contents());
}

#[track_caller]
fn same(said: &Value, wanted: &[(&str, f64)]) {
    for (key, wanted) in wanted {
        let is = said[*key].as_f64().unwrap_or_else(|| panic!("{key}: {said}"));
        assert!((is - wanted).abs() <= 1e-9 * wanted.abs().max(1.0), "{key}: {is}, not {wanted}");
    }
}

fn keys(air: &Moist) -> Vec<(&'static str, f64)> {
    vec![
        ("temperature_c", air.temperature_c),
        ("station_pressure_hpa", air.pressure_pa / 100.0),
        ("density_kg_m3", air.density_kg_m3()),
        ("vapor_pressure_hpa", air.vapor_pa / 100.0),
        ("dew_point_c", air.dew_point_c().unwrap()),
        ("wet_bulb_c", air.wet_bulb_c()),
        ("relative_humidity", air.relative_humidity()),
        ("density_altitude_ft", air.density_altitude_ft()),
        ("pressure_altitude_ft", air.pressure_altitude_ft()),
        ("water_grains_per_lb", air.water_grains_per_lb()),
        ("correction_j1349", air.correction_j1349()),
        ("correction_dry", air.correction_dry()),
    ]
}

/// The numbers of the answer are the physics' own, in every unit that may be typed, with a car and without.
#[test]
fn the_numbers_are_those_of_the_physics() {
    let c = air::celsius;
    let pa = |inhg: f64| inhg * PA_PER_INHG;
    let setting = air::station_from_altimeter_pa(pa(29.92), 5355.0);
    let (garage, empty) = (at_the_track(), Garage::new());
    for (typed, elevation, wanted) in [
        ("84F 52% 29.42 station", "612", air::moist(c(84.0), pa(29.42), Moisture::Relative(0.52))),
        ("84F dew 64F 29.42 station", "612", air::moist(c(84.0), pa(29.42), Moisture::DewPoint(c(64.0)))),
        ("84F wet 70F 29.42 station", "612", air::moist(c(84.0), pa(29.42), Moisture::WetBulb(c(70.0)))),
        ("30C dew 15C 29.92 altimeter", "5355", air::moist(30.0, setting, Moisture::DewPoint(15.0))),
    ] {
        let wanted = wanted.unwrap();
        for (garage, track) in [(&garage, "Heron Bend"), (&empty, "Heron Bend")] {
            let said = garage.json(&["air", typed, "--track", track, "--elevation", elevation, "--dry-run"]);
            same(&said, &keys(&wanted));
            let feet: f64 = elevation.parse().unwrap();
            same(&said, &[("altimeter_setting_hpa", air::altimeter_from_station_pa(wanted.pressure_pa, feet) / 100.0)]);
        }
    }
    // hPa, mbar and kPa are one pressure, and come back as typed.
    for typed in ["996.3 hPa", "996.3 mbar", "99.63 kPa"] {
        let said = empty.json(&["air", "84F", "52%", typed, "station"]);
        let is = said["station_pressure_hpa"].as_f64().unwrap();
        assert!((is - 996.3).abs() < 1e-4, "{typed}: {is}");
    }
}

#[test]
fn as_much_as_a_part_of_a_reading_says() {
    let garage = at_the_track();
    let said = garage.json(&["air", "84F"]);
    assert_eq!((said["saved"].as_bool(), &said["density_kg_m3"]), (Some(true), &Value::Null));
    assert_eq!(said["missing"], serde_json::json!(["pressure", "water"]));
    assert_eq!(said["inputs"], serde_json::json!(["temperature"]));
    let said = garage.ok(&["air", "84F", "52%", "--at", "14:50"]);
    has(&said, &["dew point", "vapor pressure", "still missing: the barometer"]);
    has_not(&said, &["kg/m3", "no run is corrected"]);
    has_not(&garage.ok(&["air", "track", "118F", "--at", "14:40"]), &["missing"]);
}

#[test]
fn which_number_the_barometer_shows() {
    let garage = at_the_track();
    let said = garage.refused(2, &["air", "84F", "52%", "29.42"]);
    has(
        &said,
        &[
            "`station` (at 612 ft then an altimeter setting of 30.08 inHg)",
            "`altimeter`",
            "28.77",
            "nothing was recorded",
        ],
    );
    let high = |typed: &[&str]| {
        let args = [&["air", "--track", "Heron Bend", "--elevation", "5355", "--dry-run"], typed].concat();
        garage.json(&args)
    };
    let said = high(&["84F", "52%", "29.92"]);
    assert_eq!((said["barometer"].as_str(), said["barometer_by"].as_str()), (Some("altimeter"), Some("only_possible")));
    has(said["barometer_why"].as_str().unwrap(), &["29.92 inHg can only be an altimeter setting at 5355 ft"]);
    assert_eq!(high(&["84F", "52%", "24.60"])["barometer"], "station");
    assert_eq!(high(&["84F", "24.60", "station"])["barometer_by"], "said");
    let said = garage.refused(2, &["air", "--track", "Heron Bend", "--elevation", "5355", "84F", "29.92", "station"]);
    has(&said, &["29.92 inHg as station pressure at 5355 ft", "36.18", "is it the altimeter setting?"]);
    garage.refused(2, &["air", "--track", "Heron Bend", "--elevation", "5355", "84F", "27.60"]);
    // At sea level there is nothing to ask.
    let sea = garage.json(&["air", "84F", "29.92", "--track", "Tern Spit", "--elevation", "0", "--dry-run"]);
    assert_eq!(sea["barometer"], "station");
    // Without the elevation it cannot be told.
    let empty = Garage::new();
    has(&empty.refused(2, &["air", "84F", "29.92"]), &["elevation is not on record", "`station`", "`altimeter`"]);
    // With a run, what it was taken for is told.
    let run = garage.ok(&["run", "--track", "Heron Bend", "--elevation", "5355", "--air", "84F 52% 29.92", "60=1.7"]);
    has(&run, &["can only be an altimeter setting at 5355 ft"]);
    has(&garage.read("grey", "days/2026/08-22-heron-bend.toml"), &["pressure_altimeter = 29.92"]);
}

#[test]
fn a_weather_report_becomes_a_reading() {
    let garage = at_the_track();
    let said = garage.json(&["air", "--metar", REPORT]);
    assert_eq!((said["saved"].as_bool(), said["at"].as_str()), (Some(true), Some("2026-08-22T13:55:00-05:00")));
    assert_eq!((said["barometer"].as_str(), said["barometer_by"].as_str()), (Some("altimeter"), Some("report")));
    let station = air::station_from_altimeter_pa(30.05 * PA_PER_INHG, 612.0);
    same(&said, &keys(&air::moist(29.4, station, Moisture::DewPoint(17.8)).unwrap()));
    has(
        &garage.read("grey", DAY),
        &[
            "at = 13:55:00",
            "temperature = 84.92 # degF",
            "dew_point = 64.04 # degF",
            "pressure_altimeter = 30.05 # inHg",
        ],
    );
    has(&garage.read("grey", DAY), &[&format!("report = \"{REPORT}\"")]);
    let day = garage.json(&["day"]);
    assert_eq!(day["days"][0]["readings"][0]["report"], REPORT);
    same(&day["days"][0]["readings"][0], &[("density_kg_m3", said["density_kg_m3"].as_f64().unwrap())]);
    has(&garage.ok(&["day"]), &["report KXXX 221855Z AUTO", "...", "lb/ft3, DA "]);
    garage.tidy("grey", "a report");
}

#[test]
fn a_report_with_gaps_and_the_track_beside_it() {
    let garage = at_the_track();
    let said = garage.json(&["air", "--metar", "KXXX 221855Z 22008KT 10SM CLR 29/// A3005", "track", "118F", "sun"]);
    assert_eq!(said["missing"], serde_json::json!(["water"]));
    has(said["notes"][0].as_str().unwrap(), &["no dew point"]);
    has(&garage.read("grey", DAY), &["track_temp = 118", "sun = \"sun\"", "temperature = 84.2 "]);
    has_not(&garage.read("grey", DAY), &["dew_point"]);
    for (args, says) in [
        (&["air", "--metar", REPORT, "84F"][..], "the report gives it too"),
        (&["air", "--metar", "KXXX 221855Z 22008KT 10SM CLR"], "no temperature"),
        (&["air", "--metar", "KXXX 221855Z M42/M45 A3005"], "-40"),
        (&["air", "--metar", "84F 52%"], "report"),
        (&["air", "--metar", ""], "report"),
    ] {
        has(&garage.refused(2, args), &[says]);
    }
    // In the other form, below freezing.
    let said = garage.json(&["air", "--metar", "EXXX 221850Z 00000KT CAVOK M01/M05 Q1013", "--dry-run"]);
    same(&said, &[("temperature_c", -1.0), ("dew_point_c", -5.0)]);
}

/// What a stranger's report holds is kept, shown and bounded.
#[test]
fn a_hostile_report() {
    let garage = at_the_track();
    let said = garage.ok(&["air", "--metar", "KXXX 221855Z 29/18 A3005\nRMK \u{1b}[31mRED \u{202e} \"\"\" \\"]);
    no_controls(&said);
    has(&garage.read("grey", DAY), &["report = "]);
    let kept = garage.json(&["day"])["days"][0]["readings"][0]["report"].as_str().unwrap().to_owned();
    assert_eq!(kept, "KXXX 221855Z 29/18 A3005 RMK \u{1b}[31mRED \u{202e} \"\"\" \\");
    no_controls(&garage.ok(&["day"]));
    no_controls(&garage.ok(&["air"]));
    let long = format!("KXXX 221855Z 29/18 A3005 RMK {}", "X ".repeat(500));
    has(&garage.refused(2, &["air", "--metar", &long]), &["1000 characters"]);
    garage.edit("grey", DAY, |t| t.replace("29/18 A3005", &"29/18 A3005 ".repeat(100)));
    has(&garage.refused(3, &["run", "60=1.6"]), &["changed or deleted by hand"]);
}

/// The night the clocks go back, one day has one clock: what that clock calls the next morning is not put down in it, where
/// it would be read as the morning before.
#[test]
fn a_time_that_is_the_next_day_by_the_days_clock_is_refused() {
    let garage = Garage::with_car();
    garage.at("2026-10-31T22:00:00");
    garage.ok(&["run", "--track", "Osier Flats", "--elevation", "612", "60=1.65"]);
    garage.at("2026-11-01T12:00:00");
    let before = garage.log("grey");
    for words in [&["air", "60F 50% 29.42 station"][..], &["run", "60=1.66", "--yes"]] {
        let said = garage.refused(2, &[words, &["--at", "2026-11-01 05:30"]].concat());
        has(&said, &["06:30", "2026-10-31", "the next day there"]);
    }
    assert_eq!(garage.log("grey"), before);
    garage.ok(&["air", "60F 50% 29.42 station", "--at", "2026-11-01 04:30"]);
    has(&garage.read("grey", "days/2026/10-31-osier-flats.toml"), &["at = 05:30:00"]);
}

#[test]
fn an_old_report_needs_its_time() {
    let garage = at_the_track();
    let old = "KXXX 201855Z 22008KT 10SM CLR 29/18 A3005";
    let before = garage.log("grey");
    has(&garage.ok(&["air", "--metar", old]), &["day 20, 18:55 UTC", "24 hours", "--at TIME records it"]);
    assert_eq!(garage.json(&["air", "--metar", old])["saved"], false);
    let timeless = "KXXX 22008KT 10SM CLR 29/18 A3005";
    has(&garage.ok(&["air", "--metar", timeless]), &["does not say when", "--at"]);
    assert_eq!(garage.log("grey"), before, "nothing was recorded");
    garage.ok(&["air", "--metar", timeless, "--at", "14:10"]);
    assert_eq!(garage.json(&["air", "--metar", old, "--dry-run"])["at"], "2026-08-20T13:55:00-05:00");
    // Yesterday evening is within a day; the evening here is the next day by UTC.
    let evening = "KXXX 220155Z 22008KT 10SM CLR 21/18 A3005";
    garage.ok(&["air", "--metar", evening, "--track", "Osier Flats", "--elevation", "612"]);
    has(&garage.read("grey", "days/2026/08-21-osier-flats.toml"), &["at = 20:55:00"]);
    // Half an hour ahead of the clock is the next hour's report.
    garage.ok(&["air", "--metar", "KXXX 222030Z 22008KT 10SM CLR 29/18 A3005"]);
    has(&garage.read("grey", DAY), &["at = 15:30:00"]);
}

#[test]
fn a_report_wants_the_elevation() {
    let garage = Garage::with_car();
    garage.ok(&["run", "--track", "Osier Flats", "60=1.65"]);
    has(&garage.refused(2, &["air", "--metar", REPORT]), &["elevation", "--elevation FT"]);
    garage.ok(&["air", "--metar", REPORT, "--elevation", "612"]);
    has(&garage.read("grey", DAY), &["elevation = 612 # ft", "report = "]);
    has(&Garage::new().refused(2, &["air", "--metar", REPORT]), &["--elevation FT"]);
}

#[test]
fn without_a_car_all_is_computed() {
    let garage = Garage::new();
    let said = garage.json(&["air", "--metar", REPORT, "--elevation", "5355"]);
    assert_eq!((&said["car"], &said["saved"]), (&Value::Null, &Value::from(false)));
    assert!(said["density_kg_m3"].is_number());
    let text = garage.ok(&["air", "84F", "52%", "29.42", "station"]);
    assert!(text.starts_with("air, Aug 22 14:20\n"), "{text}");
    has(&text, &["nothing was recorded: no car is at hand", "density altitude"]);
    // Impossible is impossible without a car too.
    garage.refused(2, &["air", "60F", "dew", "70F"]);
    garage.refused(2, &["air"]);
    garage.refused(2, &["air", "84F", "--car", "nobody"]);
}

#[test]
fn the_last_reading_and_the_air_now() {
    let garage = at_the_track();
    has(&garage.ok(&["air"]), &["no air is on record for Aug 22"]);
    assert_eq!(garage.json(&["air"])["reading"], Value::Null);
    garage.ok(&["air", "29.42", "station", "--at", "09:00"]);
    garage.ok(&["air", "80F", "60%", "--at", "13:00"]);
    garage.ok(&["air", "84F", "50%", "--at", "14:00"]);
    let said = garage.ok(&["air"]);
    has(&said, &["air, Aug 22 14:00 at Osier Flats", "1 h before Aug 22 15:00", "then rests on a reading 6", "kg/m3"]);
    let wanted = air::moist(air::celsius(84.0), 29.42 * PA_PER_INHG, Moisture::Relative(0.5)).unwrap();
    let now = garage.json(&["air"]);
    same(&now, &keys(&wanted));
    assert_eq!((now["minutes_away"].as_u64(), now["at"].as_str()), (Some(360), Some("2026-08-22T14:00:00-05:00")));
    // Between two readings.
    same(&garage.json(&["air", "--at", "13:30"]), &[("temperature_c", air::celsius(82.0))]);
    let before = garage.contents();
    garage.ok(&["air"]);
    assert_eq!(before, garage.contents());
}

/// A page's air is taken by the day's elevation; what cannot be told stays unread.
#[test]
fn air_on_a_page() {
    let garage = at_the_track();
    let page = garage.file("page.txt", "track Heron Bend\nelevation 5355\n10:50 1.700 left\n12:00 84F 52% 29.92\n");
    let said = garage.ok(&["day", "--from", &page]);
    has(&said, &["can only be an altimeter setting at 5355 ft", "DA "]);
    has(&garage.read("grey", "days/2026/08-22-heron-bend.toml"), &["pressure_altimeter = 29.92"]);
    let page = garage.file("page.txt", "track Osier Flats\n10:50 1.700 left\n12:00 84F 52% 29.42\n12:10 60F dew 70F\n");
    has(&garage.refused(3, &["day", "--from", &page]), &["Both can be", "above the air temperature"]);
    garage.ok(&["day", "--from", &page, "--partial", "--yes"]);
    has(&garage.read("grey", DAY), &["12:00 84F 52% 29.42", "12:10 60F dew 70F"]);
}

/// A table is all or nothing: its air too.
#[test]
fn air_of_a_table() {
    let garage = at_the_track();
    garage.at("2026-08-24T12:00:00");
    let table = |row: &str| {
        let header = "date,time,track,elevation,ft60,temperature,dew_point,humidity,pressure_station";
        garage.file("season.csv", format!("{header}\n2026-08-23,10:00,Osier Flats,612,1.6,{row}\n"))
    };
    for (row, says) in [
        ("60,61,,29.42", "above the air temperature"),
        ("60,,101,29.42", "0 to 100"),
        ("60,,50,24.10", "altimeter setting of 24.6"),
    ] {
        has(&garage.refused(3, &["import", &table(row)]), &[says]);
    }
    garage.ok(&["import", &table("60,50,,29.42")]);
}

/// Mends leave readings with their report as they are, and move them with their day.
#[test]
fn mends_keep_the_readings() {
    let garage = at_the_track();
    garage.ok(&["air", "--metar", REPORT]);
    let reading = |text: &str| text[text.find("[[reading]]").unwrap()..text.find("[[run]]").unwrap()].to_owned();
    let before = reading(&garage.read("grey", DAY));
    let id = garage.json(&["runs"])["runs"][0]["id"].as_str().unwrap().to_owned();
    garage.ok(&["mend", "run", &id, "60=1.66"]);
    garage.ok(&["mend", "track", "Osier Flats", "--elevation", "640"]);
    assert_eq!(reading(&garage.read("grey", DAY)), before);
    let moved = air::station_from_altimeter_pa(30.05 * PA_PER_INHG, 640.0) / 100.0;
    same(&garage.json(&["air"]), &[("station_pressure_hpa", moved)]);
    garage.tidy("grey", "mends");
}

/// One mistyped number of the air is found and put right; the runs' air follows, and git has nothing to say.
#[test]
fn a_mistyped_reading_is_put_right() {
    let garage = at_the_track();
    garage.ok(&["air", "48F", "52%", "29.42", "station", "--at", "14:10"]);
    garage.ok(&["air", "track", "118F", "--at", "14:10"]);
    garage.edit("grey", DAY, |t| t.replace("humidity = 52 # %", "# by the trailer\nhumidity = 52 # %"));
    garage.ok(&["sheet", "--save"]);
    let right = ["air", "84F", "52%", "29.42", "station", "--at", "14:10"];
    let said = garage.refused(2, &right);
    has(&said, &["a reading of 14:10 is on record: air temperature 48.0 F, relative humidity 52 %", "--replace"]);
    let air = |garage: &Garage| garage.json(&["runs"])["runs"][0]["air"]["density_kg_m3"].as_f64().unwrap();
    let density = |f: f64| {
        let pressure = 29.42 * PA_PER_INHG;
        air::moist(air::celsius(f), pressure, Moisture::Relative(0.52)).unwrap().density_kg_m3()
    };
    assert!((air(&garage) - density(48.0)).abs() < 1e-9);
    let before = garage.read("grey", DAY);
    let said = garage.ok(&[&right[..], &["--replace"]].concat());
    has(&said, &["saved", "in the place of: air temperature 48.0 F"]);
    assert_eq!(garage.log("grey")[0], "mended: air of Aug 22 2026 14:10: 84.0 F, not 48.0 F");
    let text = garage.read("grey", DAY);
    assert_eq!(text, before.replace("temperature = 48.0", "temperature = 84.0"), "nothing else is another");
    assert!((air(&garage) - density(84.0)).abs() < 1e-9);
    has(&garage.ok(&["history", "--as-recorded"]), &["mended: air of Aug 22 2026 14:10: 84.0 F, not 48.0 F"]);
    garage.tidy("grey", "a reading put right");
    // Once more is known; taken back it is as before, and again.
    assert_eq!(garage.json(&[&right[..], &["--replace"]].concat())["saved"], false);
    garage.ok(&["oops", "--yes"]);
    assert_eq!(garage.read("grey", DAY), before);
    assert!((air(&garage) - density(48.0)).abs() < 1e-9);
    garage.ok(&["oops", "--yes"]);
    assert_eq!(garage.read("grey", DAY), text);
    garage.tidy("grey", "taken back and put back");
}

/// The wrong word for the barometer, and the water read in another way, are the same quantity.
#[test]
fn what_says_otherwise_of_one_minute() {
    let garage = at_the_track();
    garage.ok(&["air", "84F", "52%", "29.42", "station", "--at", "14:10"]);
    for other in [&["29.42", "altimeter"][..], &["dew", "40F"], &["85F"], &["29.40", "station"]] {
        let args = [&["air", "--at", "14:10"], other].concat();
        has(&garage.refused(2, &args), &["a reading of 14:10 is on record", "--replace"]);
    }
    let said = garage.json(&["air", "85F", "--at", "14:10", "--dry-run"]);
    has(said["notes"][0].as_str().unwrap(), &["a reading of 14:10 is on record"]);
    // Part of what is on record is on record; more of it stands beside it; another minute is another reading.
    assert_eq!(garage.json(&["air", "84F", "--at", "14:10"])["saved"], false);
    assert_eq!(garage.json(&["air", "track", "118F", "sun", "--at", "14:10"])["saved"], true);
    assert_eq!(garage.json(&["air", "track", "118F", "52%", "--at", "14:10"])["saved"], false);
    garage.refused(2, &["air", "cloud", "track", "118F", "--at", "14:10"]);
    garage.ok(&["air", "85F", "--at", "14:11"]);
    garage.ok(&["air", "29.42", "altimeter", "84F", "52%", "--at", "14:10", "--replace"]);
    has(&garage.read("grey", DAY), &["pressure_altimeter = 29.42", "track_temp = 118", "temperature = 85"]);
    has_not(&garage.read("grey", DAY), &["pressure_station"]);
    has(&garage.refused(2, &["air", "84F", "--at", "13:00", "--replace"]), &["no reading of Aug 22 2026 13:00"]);
    garage.refused(2, &["air", "--at", "14:10", "--replace"]);
    garage.tidy("grey", "replaced");
    // With a run, the run is recorded and the air given again.
    let said = garage.json(&["run", "60=1.61", "--at", "15:00", "--air", "84F 50% 29.4 station"]);
    assert_eq!(said["air_refused"], Value::Null);
    let said = garage.json(&["run", "60=1.62", "--at", "15:00", "--air", "48F 50% 29.4 station"]);
    has(said["air_refused"]["why"].as_str().unwrap(), &["a reading of 15:00 is on record: air temperature 84.0 F"]);
    let again = "slipbook air 48F 50% 29.4 station --at \"aug 22 15:00\" --replace";
    assert_eq!(said["air_refused"]["again"], again);
    garage.ok(&["run", "60=1.63", "--at", "15:00", "--air", "84F 50% 29.4 station"]);
    assert_eq!(garage.read("grey", DAY).matches("at = 15:00:00\ntemperature").count(), 1, "the same is kept once");
}

#[test]
fn a_reading_that_never_was() {
    let garage = at_the_track();
    garage.ok(&["air", "84F", "52%", "29.42", "station", "--at", "14:10"]);
    garage.ok(&["air", "86F", "50%", "29.40", "station", "--at", "14:40"]);
    let before = garage.read("grey", DAY);
    let said = garage.json(&["air", "--at", "14:10", "--never", "--dry-run"]);
    assert_eq!((said["saved"].as_bool(), said["taken_away"][0]["temperature"].as_f64()), (Some(false), Some(84.0)));
    assert_eq!(garage.read("grey", DAY), before);
    has(
        &garage.ok(&["air", "--at", "14:10", "--never"]),
        &["no such air, Aug 22 14:10 at Osier Flats   saved", "84.0 F"],
    );
    let text = garage.read("grey", DAY);
    has(&text, &["at = 14:40:00", "[[run]]"]);
    has_not(&text, &["14:10:00"]);
    has(&garage.log("grey")[0], &["mended: no such air at Aug 22 2026 14:10: 84.0 F, 52 %"]);
    has(&garage.refused(2, &["air", "--at", "14:10", "--never"]), &["no reading of Aug 22 2026 14:10 is on record"]);
    garage.refused(2, &["air", "--never"]);
    garage.refused(2, &["air", "84F", "--at", "14:40", "--never"]);
    garage.tidy("grey", "a reading taken away");
    garage.ok(&["oops", "--yes"]);
    assert_eq!(garage.read("grey", DAY), before);
    garage.ok(&["oops", "--yes"]);
    assert_eq!(garage.read("grey", DAY), text);
    has(&garage.refused(2, &["mend", "air", "14:10"]), &["slipbook air", "--replace", "--never"]);
    // The last of a day's readings too, and of two tracks the one that is named.
    garage.ok(&["air", "--at", "14:40", "--never"]);
    has_not(&garage.read("grey", DAY), &["[[reading]]"]);
    for track in ["Osier Flats", "Heron Bend"] {
        garage.ok(&["air", "84F", "--at", "14:20", "--track", track]);
    }
    has(&garage.refused(2, &["air", "--at", "14:20", "--never"]), &["more than one track"]);
    garage.ok(&["air", "--at", "14:20", "--never", "--track", "heron bend"]);
    has(&garage.read("grey", DAY), &["at = 14:20:00"]);
    garage.tidy("grey", "two tracks");
}

/// A file that is laid out in another way is refused, not damaged.
#[test]
fn readings_laid_out_by_hand_are_not_damaged() {
    let garage = at_the_track();
    garage.edit("grey", DAY, |t| t.replace("\n[[run]]", "reading = [{ at = 14:10:00, temperature = 48 }]\n\n[[run]]"));
    garage.ok(&["sheet", "--save"]);
    for args in [&["air", "84F", "--at", "14:10", "--replace"][..], &["air", "--at", "14:10", "--never"]] {
        has(&garage.refused(3, args), &["laid out", "[[reading]]"]);
    }
}

/// The command that gives refused air again is whole, and invents nothing.
#[test]
fn the_command_that_gives_it_again() {
    let garage = at_the_track();
    garage.at("2026-08-29T15:00:00");
    let track = "Al's \"Big\" Bend";
    let args = ["run", "--car", "Grey", "--track", track, "--elevation", "600", "60=1.6", "--air", "84F 52% 29.42"];
    let said = garage.json(&args);
    let placed = "--at \"aug 29 15:00\" --track 'Al'\\''s \"Big\" Bend' --car grey";
    assert_eq!(said["air_refused"]["again"], format!("slipbook air 84F 52% 29.42 station {placed}"));
    has(said["air_refused"]["why"].as_str().unwrap(), &["or altimeter"]);
    let dir = garage.dir().display().to_string();
    let said = garage.json(&["run", "--garage", &dir, "60=1.61", "--air", "hot"]);
    let again = said["air_refused"]["again"].as_str().unwrap();
    has(again, &["slipbook air READING --at"]);
    has_not(again, &["84F", "--car"]);
}

/// An altimeter setting without an elevation is kept, and what it wants is said.
#[test]
fn air_that_does_not_count_yet() {
    let garage = Garage::with_car();
    let said = garage.ok(&["run", "--track", "Osier Flats", "60=1.6", "--air", "60F 50% 29.92 altimeter"]);
    let said = said.split_whitespace().collect::<Vec<_>>().join(" ");
    has(&said, &["air kept; its pressure wants the track's elevation: slipbook day 2026-08-22 --elevation FT"]);
    garage.ok(&["day", "2026-08-22", "--elevation", "612"]);
    assert!(garage.json(&["runs"])["runs"][0]["air"]["density_kg_m3"].is_number());
    let said = garage.ok(&["run", "60=1.61", "--at", "14:20", "--air", "track 118F"]);
    has_not(&said, &["air kept"]);
    let garage = Garage::with_car();
    has(&garage.ok(&["run", "--track", "Osier Flats", "60=1.6", "--air", "60F"]), &["air kept", "barometer"]);
}

/// A report without a setting takes the barometer that is typed beside it.
#[test]
fn a_barometer_beside_a_report_without_one() {
    let garage = at_the_track();
    let said = garage.json(&["air", "--metar", "KXXX 221855Z 29/18", "29.42", "station"]);
    assert_eq!((said["barometer"].as_str(), said["barometer_by"].as_str()), (Some("station"), Some("said")));
    assert!(said["density_kg_m3"].is_number());
    has(&garage.refused(2, &["air", "--metar", REPORT, "29.42", "station"]), &["the barometer is typed", "too"]);
}

#[test]
fn numbers_that_contradict_each_other() {
    let garage = at_the_track();
    has(&garage.refused(2, &["air", "84F", "29.42", "station", "29.90", "altimeter"]), &["29.42", "30.08", "29.90"]);
    has(&garage.refused(2, &["air", "84F", "40%", "dew", "64F", "29.42", "station"]), &["humidity 40 %", "64.0 F"]);
    has(&garage.refused(2, &["air", "84F", "night", "sun"]), &["`night` and `sun`: one of them"]);
    let said = garage.ok(&["air", "84F", "52%", "dew", "64F", "29.42", "station", "30.08", "altimeter"]);
    has(&said, &["the dew point is used, not the humidity", "the station pressure is used, not the altimeter setting"]);
    let said = garage.ok(&["run", "60=1.6", "--at", "15:00", "--air", "85F 52% dew 65F 29.42 station"]);
    has(&said, &["a reading of 15:00 is on record"]);
}

/// What was recorded before a mend keeps its air in the record as written.
#[test]
fn the_record_as_written_has_its_air() {
    let garage = at_the_track();
    garage.ok(&["run", "60=1.62", "--air", "84F 52% 29.42 station"]);
    garage.ok(&["mend", "run", "aug 22 15:00", "60=1.63"]);
    garage.at("2026-08-22T16:00:00");
    garage.ok(&["run", "60=1.61", "--air", "90F 52% 29.30 station"]);
    let (now, then) = (garage.json(&["history"]), garage.json(&["history", "--as-recorded"]));
    assert!(now["one_air"]["reference"]["density_kg_m3"].is_number(), "{now}");
    assert_eq!(now["one_air"]["reference"], then["one_air"]["reference"]);
    assert_eq!((now["without_air"].as_u64(), then["without_air"].as_u64()), (Some(0), Some(0)));
}

/// What the numbers rest on, in the answer that asks the day.
#[test]
fn the_setting_was_read_and_the_station_pressure_follows() {
    let garage = at_the_track();
    garage.ok(&["air", "84F", "52%", "30.05", "altimeter", "--at", "14:40"]);
    let said = garage.ok(&["air"]);
    let line = |name: &str| said.lines().find(|l| l.trim_start().starts_with(name)).unwrap_or_default().to_owned();
    has(&line("station pressure"), &["from the setting, 612 ft"]);
    has(&line("altimeter setting"), &["by the day's readings"]);
    let order = ["  density  ", "density altitude", "pressure altitude", "station pressure", "altimeter setting"];
    let places: Vec<_> = order.iter().map(|name| said.find(name).unwrap()).collect();
    assert!(places.is_sorted(), "{said}");
    // Where there is no room, what it rests on goes first.
    let narrow = garage.run_with(garage.root(), &[("COLUMNS", "60")], &["air"]).stdout;
    has(&narrow, &["station pressure", "hPa"]);
    has_not(&narrow, &["from the setting", "CIPM"]);
    assert!(narrow.lines().all(|l| l.chars().count() <= 60), "{narrow}");
}

#[test]
fn a_day_shows_a_reading_on_one_line() {
    let garage = at_the_track();
    garage.ok(&["air", "84F", "52%", "29.42", "station", "--at", "14:10"]);
    garage.ok(&[
        "air",
        "84F",
        "dew",
        "64F",
        "30.08",
        "altimeter",
        "track",
        "118F",
        "tail",
        "4",
        "mph",
        "--at",
        "14:40",
    ]);
    let said = garage.ok(&["day"]);
    let station = air::station_from_altimeter_pa(30.08 * PA_PER_INHG, 612.0);
    let then = air::moist(air::celsius(84.0), station, Moisture::DewPoint(air::celsius(64.0))).unwrap();
    let height = format!("{:.0}", then.density_altitude_ft());
    has(
        &said,
        &[
            "14:10  air   84.0 F  52 %  29.42 inHg station   0.0712 lb/ft3, DA 2434 ft\n",
            "14:40  air   84.0 F  dew 64.0 F  30.08 inHg altimeter\n",
            &format!("             0.0712 lb/ft3, DA {height} ft   track 118 F, tail wind 4 mph\n"),
        ],
    );
    has_not(&said, &["-4"]);
    assert!(said.lines().all(|l| l.chars().count() <= 80), "{said}");
}

#[test]
fn a_report_ahead_of_the_clock() {
    let garage = at_the_track();
    let early = "KXXX 222300Z 22008KT 10SM CLR 29/18 A3005";
    let said = garage.ok(&["air", "--metar", early]).split_whitespace().collect::<Vec<_>>().join(" ");
    has(&said, &["day 22, 23:00 UTC: 3 h ahead of this clock", "--at TIME records it"]);
    has_not(&said, &["24 hours", "saved"]);
}

/// The sentence names what was typed, on a page too.
#[test]
fn a_barometer_in_hpa_is_told_as_typed() {
    let garage = at_the_track();
    has(&garage.refused(2, &["air", "84F", "1009", "hPa"]), &["is 1009 hPa `station`"]);
    let page = garage.file("page.txt", "track Osier Flats\n10:50 1.700 left\n12:00 84F 52% 1009 hPa\n");
    has(&garage.refused(3, &["day", "--from", &page]), &["is 1009 hPa `station`"]);
    has(&garage.refused(2, &["air", "84F", "wind", "5"]), &["5 mph `head` or `tail`?"]);
}

/// A page's reading of a minute that says otherwise is not taken for a second one.
#[test]
fn a_page_against_what_is_on_record() {
    let garage = at_the_track();
    garage.ok(&["air", "84F", "52%", "29.42", "station", "--at", "12:00"]);
    let page = garage.file("page.txt", "track Osier Flats\n12:00 48F 52% 29.42 station\n");
    has(&garage.refused(3, &["day", "--from", &page]), &["a reading of 12:00 is on record", "--replace"]);
    let page = garage.file("page.txt", "track Osier Flats\n12:00 84F 52% 29.42 station\n12:00 track 118F\n");
    has(&garage.ok(&["day", "--from", &page]), &["on record already", "track 118 F"]);
}
