//! Reports in all the forms they come in, and garbled ones.

use super::*;

fn read(text: &str) -> Metar {
    read_metar(text).unwrap_or_else(|e| panic!("{text}: {e}"))
}

#[test]
fn tenths_of_the_remarks_win_and_remarks_are_no_body() {
    let m = read("KXXX 011955Z 22015G25KT 10SM CLR 03/M01 A2992 RMK AO2 SLP982 T00261015 10122 A3010 25/20 30040KT");
    assert_eq!((m.temperature_c, m.dew_point_c), (Some(2.6), Some(-1.5)));
    assert_eq!((m.body_temperature_c, m.body_dew_point_c), (Some(3.0), Some(-1.0)));
    assert_eq!((m.setting_inhg, m.sea_level_hpa), (Some(29.92), Some(998.2)));
    assert_eq!((m.wind_dir_deg, m.wind_kt, m.gust_kt), (Some(220), Some(15.0), Some(25.0)));
    // Without RMK they are groups of an unknown kind.
    let m = read("KXXX 011955Z 03/M01 T00261015 SLP982");
    assert_eq!((m.temperature_c, m.sea_level_hpa), (Some(3.0), None));
}

#[test]
fn the_forms_of_each_group() {
    for (text, temperature, dew) in [
        ("METAR XXXX 051220Z M00/M07 Q0998", Some(0.0), Some(-7.0)),
        ("XXXX 051220Z AUTO 22/ Q0998", Some(22.0), None),
        ("XXXX 051220Z AUTO 22/// Q0998", Some(22.0), None),
        ("XXXX 051220Z AUTO ///15 Q0998", None, Some(15.0)),
        ("XXXX 051220Z AUTO ///// Q0998", None, None),
        ("XXXX 051220Z AUTO // ///// Q0998", None, None),
        ("XXXX 051220Z R24/1200 1/2SM 18/17 Q0998", Some(18.0), Some(17.0)),
        ("XXXX 051220Z 1 1/2SM 18/17 Q0998", Some(18.0), Some(17.0)),
        ("XXXX 051220Z M1/4SM W15/S2 18/17 Q0998", Some(18.0), Some(17.0)),
        // The remarks' temperature is below the rounded dew point of the body.
        ("XXXX 051220Z 22/22 Q0998 RMK T0217", Some(21.7), Some(21.7)),
    ] {
        let m = read(text);
        assert_eq!((m.temperature_c, m.dew_point_c, m.setting_hpa), (temperature, dew, Some(998.0)), "{text}");
        assert!(m.temperature_c.is_none_or(f64::is_sign_positive), "{text}: a zero without its sign");
    }
    for (text, from, wind, gust) in [
        ("VRB03KT", None, Some(3.0), None),
        ("/////KT", None, None, None),
        ("///07KT", None, Some(7.0), None),
        ("00000KT", Some(0), Some(0.0), None),
        ("240P99KT", Some(240), None, None),
        ("24010G120KT", Some(240), Some(10.0), Some(120.0)),
        ("36005MPS", Some(360), Some(5.0 * 3600.0 / 1852.0), None),
        ("36010KMH", Some(360), Some(10_000.0 / 1_852.0), None),
        ("24010KT 35020KT", Some(240), Some(10.0), None),
        ("240V300", None, None, None),
    ] {
        let m = read(&format!("XXXX 051220Z {text}"));
        assert_eq!((m.wind_dir_deg, m.wind_kt, m.gust_kt), (from, wind, gust), "{text}");
    }
    for (text, hpa, inhg) in [
        ("A2970", Some(29.70 * 33.863_886_403_41), Some(29.70)),
        ("Q1013", Some(1013.0), Some(1013.0 / 33.863_886_403_41)),
        ("Q1013 A2992", Some(1013.0), Some(29.92)),
        ("A////", None, None),
        ("Q////", None, None),
        ("A29921", None, None),
        ("AO2", None, None),
    ] {
        let m = read(&format!("XXXX 051220Z {text}"));
        let near = |a: Option<f64>, b: Option<f64>| a.zip(b).map_or(a == b, |(a, b)| (a - b).abs() < 1e-9);
        assert!(near(m.setting_hpa, hpa) && near(m.setting_inhg, inhg), "{text}: {m:?}");
    }
    assert_eq!(read("XXXX 051220Z 18/17 A2992 RMK SLP205").sea_level_hpa, Some(1020.5));
    assert_eq!(read("XXXX 051220Z 18/17 A2992 RMK SLPNO").sea_level_hpa, None);
}

#[test]
fn who_and_when() {
    let m = read("SAXX70 XXXX 051800 METAR COR KX1X 051220Z AUTO CAVOK 18/17 Q1012 NOSIG=");
    assert_eq!((m.station.as_deref(), m.day, m.hour, m.minute), (Some("KX1X"), Some(5), Some(12), Some(20)));
    assert!(m.auto && m.corrected);
    let m = read("cyyy 051220z cca 24008kt 18/17 a2992");
    assert!(!m.auto && m.corrected && m.station.as_deref() == Some("CYYY"));
    let m = read("24008KT 18/17 A2992");
    assert_eq!((m.station, m.day, m.wind_kt), (None, None, Some(8.0)));
    assert_eq!(read("XXXX AUTO 18/17").station.as_deref(), Some("XXXX"));
    // What is announced is not observed.
    assert_eq!(read("XXXX 051220Z 18/17 Q1012 BECMG 24030KT").wind_kt, None);
}

#[test]
fn what_air_cannot_be_is_refused_by_its_group() {
    for (text, named) in [
        ("XXXX 051220Z 18/17 A9999", "`A9999`"),
        ("XXXX 051220Z 18/17 Q0000", "`Q0000`"),
        ("XXXX 051220Z 18/17 Q2992", "`Q2992`"),
        ("XXXX 051220Z 99/99 A2992", "`99/99`"),
        ("XXXX 051220Z M99/M99 A2992", "`M99/M99`"),
        ("XXXX 051220Z 18/19 A2992", "`18/19`"),
        ("XXXX 051220Z 18/17 A2992 RMK T09990172", "`T09990172`"),
        ("XXXX 051220Z 18/17 A2992 RMK T01720178", "`T01720178`"),
        ("XXXX 051220Z 22/21 A2992 RMK T0200", "21 C"),
        ("XXXX 051220Z 18/17 A2992 Q0998", "`A2992`"),
        ("XXXX 051260Z 18/17 A2992", "`051260Z`"),
        ("XXXX 320000Z 18/17 A2992", "`320000Z`"),
        ("XXXX 051220Z 37005KT 18/17", "`37005KT`"),
        ("XXXX 051220Z 24020G10KT 18/17", "`24020G10KT`"),
        ("XXXX 051220Z 240300KT 18/17", "`240300KT`"),
        ("XXXX 051220Z NIL", "`NIL`"),
        ("TAF XXXX 051220Z 0512/0618 24008KT", "`TAF`"),
        ("METAR XXXX 051220Z 18/17 METAR XXXX 051320Z 19/17", "more than one"),
        ("XXXX 051220Z 18/17 XXXX 051320Z 19/17", "more than one"),
        ("XXXX 051220Z 18/17 RMK AO2 XXXX 051320Z 19/17 RMK T01940172", "more than one"),
        ("XXXX 051220Z 18/17= XXXX 051320Z 19/17=", "more than one"),
        ("hello there", "no group"),
        ("", "no group"),
    ] {
        let e = read_metar(text).expect_err(text);
        assert!(e.why.contains(named) && !e.help.is_empty(), "{text}: {e}");
    }
    assert!(read_metar(&"18/17 ".repeat(200)).unwrap_err().why.contains("1200 bytes"));
}
