//! Whatever text they are given, the readers answer: no panic, no endless work, and what they took they can give back.

use jiff::civil::{Time, date};
use jiff::tz::{Offset, TimeZone};
use proptest::prelude::*;
use slipbook::air::metar::read_metar;
use slipbook::schema::{
    EntryContext, Num, RunWords, Sheet, apply, read_entry, read_measured, read_sheet, schema, write_sheet,
};
use slipbook::slip::{
    Moment, Watch, read_air, read_day, read_day_text, read_line, read_notebook, read_report, read_slip, read_table,
    read_when, report_moment,
};
use slipbook::trial::{read_trial, write_trial};
use std::collections::BTreeMap;
use std::path::Path;
use std::sync::OnceLock;
use std::time::{Duration, Instant};

/// Far more than any of these takes, on any machine; an endless loop is longer.
const ENOUGH: Duration = Duration::from_secs(20);

const SHEET: &str = include_str!("../sample-garage/plover/setup.toml");
const TABLE: &str = include_str!("../sample-garage/dunlin/season.csv");
const DAY: &str = r#"format = 1
date = 2026-08-22
track = "Osier Flats"
finish = 1320 # ft
utc_offset = "-05:00"

[[reading]]
at = 14:00
temperature = 84.0 # degF
humidity = 52 # %

[[run]]
id = "1f0c2b3a"
at = 14:20
on = "v20"
setup = "7d3ba1c46f0c1de30f4f2cbcd3e9d7f1a2b3c4d5"
lane = "right"
ft60 = 1.597 # s
ft1320 = 11.428 # s
mph1320 = 117.0 # mph
did = ["dead hook"]
note = "straight"
"#;
const SLIPS: [&str; 5] = [
    "1597 4676 7.251 94.2 9.491 11.428 117.0 r hook",
    "60=1.597 et=11.428 mph=117 left spun at the hit",
    "1.702 - - - - 12.9 88 lifted at 660 psi 12.0/12.25 rpm 4200",
    ".050 1597 4676 7251 94.2 9491 11428 117 deep elimination 2 clean to 330",
    "rt=-.012 1.6 11.4 117.1",
];
const PAGE: &str = "sat aug 22 2026\ntrack Osier Flats\nfinish 1320\nelevation 640\n\
    10:50 1.597 4.676 7.251 94.2 9.491 11.428 117.0 r hook\n11:20 rear tires down 1/2 -- chasing bite\n\
    12:00 84F 52% 29.42 station\n1:15 pm measure corner lr 812\n_____ ______ ______ .. ....\n2:00 note Pell drove\n";
const ENTRIES: [&str; 9] = [
    "limiter down 1/4",
    "rear shocks looser 2, lr tire 12.25 and timing 34",
    "pinion 5 down",
    "rear.tire.pressure=12.0/12.25 launch.rpm=4600",
    "front.spring.adjuster=+2 turns",
    "limiter 1-1/8 in; front toe 1/8",
    "rear.limiter.height=19mm notes=",
    "corner lr 812?, limiter gap about 0.50 in and pinion 5 down",
    "rear.tire.pressure=12?/12.25? front.height=~25.5 weight.corner=about 800/790/820/810",
];

const REPORTS: [&str; 4] = [
    "METAR KXXX 011955Z AUTO 22015G25KT 200V260 1 1/2SM R24/1200 -RA BKN008 03/M01 A2992 RMK AO2 SLP982 T00261015",
    "SPECI CXXX 121207Z CCA 34005MPS CAVOK M21/M25 Q1020 A3012 NOSIG RMK SLP231=",
    "EXXX 051220Z COR VRB03KT //// R06/////// // ////// ///// Q//// BECMG 24030KT",
    "KXXX 010000Z 00000KT 22/ A2987 RMK T0217",
];

/// The sheet with every second of its plain numbers in doubt.
fn in_doubt() -> String {
    let line = |(i, line): (usize, &str)| match line.split_once(" = ") {
        Some((key, rest)) if i % 2 == 0 && rest.starts_with(|c: char| c.is_ascii_digit()) => {
            let (number, rest) = rest.split_once(' ').unwrap_or((rest, ""));
            format!("{key} = \"{number}?\" {rest}\n")
        }
        _ => format!("{line}\n"),
    };
    SHEET.lines().skip(1).enumerate().map(line).fold("format = 1\n".to_owned(), |all, l| all + &l)
}

fn words() -> &'static RunWords {
    &schema().run
}

fn now() -> Moment {
    Moment::from_civil(date(2026, 8, 22).at(14, 20, 0, 0), -5 * 3600).unwrap()
}

fn zone() -> TimeZone {
    TimeZone::fixed(Offset::from_hours(-5).unwrap())
}

fn begun() -> &'static Sheet {
    static SHEET_READ: OnceLock<Sheet> = OnceLock::new();
    SHEET_READ.get_or_init(|| read_sheet(schema(), SHEET).sheet)
}

/// Runs a reader, and wants it to end in time.
fn in_time<T>(read: impl FnOnce() -> T) -> T {
    let began = Instant::now();
    let out = read();
    assert!(began.elapsed() < ENOUGH, "took {:?}", began.elapsed());
    out
}

fn sheet(text: &str) {
    let read = in_time(|| read_sheet(schema(), text));
    for problem in &read.problems {
        assert!(!problem.message.is_empty());
        if let Some(span) = &problem.span {
            assert!(span.start <= span.end && span.end <= text.len(), "{span:?} of {}", text.len());
        }
    }
    // What was read is written so that it is read the same again, whatever stood around it.
    if read.refused().next().is_none() {
        let written = write_sheet(schema(), &read.sheet, Some(text), &[]);
        let again = read_sheet(schema(), &written);
        assert_eq!(again.sheet, read.sheet, "{written}");
        assert!(again.refused().next().is_none(), "{written}\n{:?}", again.problems);
    }
}

fn day(text: &str) {
    if let Err(problems) = in_time(|| read_day_text(words(), text)) {
        assert!(!problems.is_empty());
    }
}

fn table(bytes: &[u8]) {
    let (rows, errors) = in_time(|| read_table(schema(), bytes, &BTreeMap::new(), &zone(), &mut |_| {}));
    for e in &errors {
        assert!(!e.to_string().is_empty());
    }
    assert!(rows.len() <= bytes.iter().filter(|b| matches!(b, b'\n' | b'\r')).count() + 1);
}

fn slip(text: &str) {
    let split: Vec<String> = text.split_whitespace().map(str::to_owned).collect();
    for finish in [660, 1000, 1320] {
        for given in [&split[..], &[text.to_owned()][..]] {
            if let Err(e) = in_time(|| read_slip(words(), given, finish, now())) {
                assert!(!e.why.is_empty() && !e.help.is_empty());
            }
        }
    }
}

fn report(text: &str) {
    match in_time(|| read_metar(text)) {
        Ok(m) => {
            let numbers = [m.temperature_c, m.dew_point_c, m.setting_hpa, m.setting_inhg, m.sea_level_hpa, m.wind_kt];
            assert!(numbers.into_iter().flatten().all(f64::is_finite), "{m:?}");
            assert!(m.temperature_c.zip(m.dew_point_c).is_none_or(|(t, dew)| dew <= t), "{m:?}");
            assert!(m.setting_hpa.is_none_or(|p| (850.0..=1100.0).contains(&p)), "{m:?}");
            assert_eq!(m.setting_hpa.is_some(), m.setting_inhg.is_some());
        }
        Err(e) => assert!(!e.why.is_empty() && !e.help.is_empty() && e.why.is_ascii() && e.why.len() < 100, "{e}"),
    }
}

fn notebook(text: &str) {
    let page = match in_time(|| read_notebook(words(), text, now())) {
        Ok(page) => page,
        Err(e) => return assert!(!e.why.is_empty() && !e.help.is_empty()),
    };
    for watch in [Watch::Offset(-18_000), Watch::Zone(&zone())] {
        let at = in_time(|| page.moments(page.date.unwrap_or(date(2026, 8, 22)), &watch));
        assert_eq!(at.len(), page.lines.len());
        for (line, at) in page.lines.iter().zip(at) {
            // A line is kept as it is written, and has its words or a reason.
            assert!(text.lines().nth(line.number - 1).is_some_and(|l| l.contains(&line.text)), "{line:?}");
            match (&line.timed, at) {
                (Ok((_, said)), Some(at)) => {
                    if let Err(e) = in_time(|| read_line(words(), said, page.finish_ft.unwrap_or(1320), at)) {
                        assert!(!e.why.is_empty() && !e.help.is_empty(), "{line:?}");
                    }
                }
                (Ok(_), None) => {}
                (Err(e), _) => assert!(!e.why.is_empty() && !e.help.is_empty()),
            }
        }
    }
}

fn entry(text: &str) {
    let given: Vec<String> = text.split(' ').map(str::to_owned).collect();
    for template in &schema().templates {
        let ctx = EntryContext { schema: schema(), chassis: &template.chassis, sheet: begun() };
        let read = in_time(|| read_entry(ctx, &given, &mut |_, _| None));
        match read {
            // Applied, it is taken or refused with a reason.
            Ok(edits) => match apply(schema(), begun(), &edits) {
                Ok(_) => assert!(!edits.is_empty()),
                Err(why) => assert!(!why.is_empty()),
            },
            Err(e) => assert!(!e.to_string().is_empty()),
        }
        match in_time(|| read_measured(ctx, &given, &mut |_, _| None)) {
            Ok(taken) => assert!(taken.iter().all(|t| schema().field(t.key()).is_some())),
            Err(e) => assert!(!e.to_string().is_empty()),
        }
    }
}

/// Pieces that readers trip over.
fn piece() -> impl Strategy<Value = String> {
    let nasty = [
        "",
        "\0",
        "\u{1b}[2J",
        "\r\n",
        "\r",
        "\u{feff}",
        "\u{202e}",
        "\"",
        "\"\"\"",
        "'''",
        "\\",
        "[",
        "[[",
        "]]",
        "{",
        "}",
        "=",
        ",",
        ";",
        "#",
        "nan",
        "inf",
        "-",
        "--",
        "1/0",
        "1/",
        "/",
        "1-1/8",
        "0x10",
        "1e400",
        "-1e400",
        "9223372036854775807",
        "99999999999999999999999",
        "-0",
        ".5",
        "1.0000000000001",
        "\u{f6}",
        "\u{2212}3",
        "\u{bd}",
        "1:2:3",
        "24:00",
        "2026-02-30",
        "99-99-99",
        "format = 2\n",
        "[rear]\n",
        "[[run]]\n",
        "a.b.c = 1\n",
        "left",
        "right",
        "both",
        "up",
        "down",
        "at",
        "mm",
        "turns",
        "clean to",
        "psi",
        "elimination",
        "?",
        "??",
        "0.5?",
        "\"0.5?\"",
        "about",
        "~",
        "~3",
    ];
    prop_oneof![3 => prop::sample::select(nasty.to_vec()).prop_map(str::to_owned), 1 => any::<String>(), 1 => "[ -~]{0,12}", 1 => "-?[0-9]{1,25}(\\.[0-9]{0,12})?"]
}

/// One way a text goes wrong: where (in thousandths of it), how much is lost, what comes instead.
type Wound = (u16, u16, String);

fn wounds() -> impl Strategy<Value = Vec<Wound>> {
    prop::collection::vec((0..1000u16, prop_oneof![3 => 0..4u16, 1 => 0..400u16], piece()), 1..5)
}

fn wounded(text: &str, wounds: &[Wound]) -> String {
    let mut chars: Vec<char> = text.chars().collect();
    for (place, lost, instead) in wounds {
        let at = chars.len() * usize::from(*place) / 1000;
        let end = (at + usize::from(*lost)).min(chars.len());
        chars.splice(at..end, instead.chars());
    }
    chars.into_iter().collect()
}

fn one_of(texts: &'static [&'static str]) -> impl Strategy<Value = &'static str> {
    prop::sample::select(texts.to_vec())
}

/// Air as typed, as it is meant at any elevation and none, and what it comes to; and the text as a weather report.
fn air(text: &str) {
    if let Ok(typed) = read_air(text, Time::midnight()) {
        for feet in [None, Some(-1500), Some(0), Some(612), Some(15_000)] {
            if let Ok(meant) = typed.clone().meant(words(), feet.map(Num::int)) {
                let means = meant.reading.means(feet.map(f64::from)).expect("what was taken is possible");
                assert!(means.air.is_none_or(|a| a.density_kg_m3() > 0.5), "{text}");
            }
        }
    }
    if let Ok(report) = read_report(text) {
        let _ = report.time.and_then(|t| report_moment(t, now(), &zone()));
    }
}

/// The first lines of the sample table: enough for every kind of row, short enough to be quick.
fn rows() -> &'static str {
    let end = TABLE.match_indices('\n').nth(30).map_or(TABLE.len(), |(i, _)| i);
    &TABLE[..end]
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 96, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn any_text(text in any::<String>(), bytes in prop::collection::vec(any::<u8>(), 0..400)) {
        sheet(&text);
        day(&text);
        table(text.as_bytes());
        table(&bytes);
        slip(&text);
        entry(&text);
        notebook(&text);
        notebook(&format!("10:50 {text}"));
        report(&text);
        report(&format!("KXXX 010000Z {text}"));
        report(&String::from_utf8_lossy(&bytes));
        air(&text);
        let _ = (read_when(&text, now(), &zone()), read_day(&text, now()));
    }

    #[test]
    fn pieces_in_a_row(pieces in prop::collection::vec(piece(), 0..12)) {
        for joint in ["", " ", "\n", ","] {
            let text = pieces.join(joint);
            sheet(&text);
            day(&text);
            table(format!("date,time,track,ft60,rear.limiter.height,note\n{text}").as_bytes());
            table(text.as_bytes());
            slip(&text);
            entry(&text);
            notebook(&text);
            notebook(&format!("10:50 {text}"));
            report(&text);
            air(&text);
            let _ = (read_when(&text, now(), &zone()), read_day(&text, now()));
        }
    }

    #[test]
    fn a_sheet_gone_wrong(wounds in wounds()) {
        sheet(&wounded(SHEET, &wounds));
    }

    #[test]
    fn a_sheet_in_doubt_gone_wrong(wounds in wounds()) {
        sheet(&wounded(&in_doubt(), &wounds));
    }

    #[test]
    fn a_day_gone_wrong(wounds in wounds()) {
        day(&wounded(DAY, &wounds));
    }

    #[test]
    fn a_page_gone_wrong(wounds in wounds()) {
        notebook(&wounded(PAGE, &wounds));
    }

    #[test]
    fn a_table_gone_wrong(wounds in wounds()) {
        table(wounded(rows(), &wounds).as_bytes());
    }

    #[test]
    fn a_slip_gone_wrong(text in one_of(&SLIPS), wounds in wounds()) {
        slip(&wounded(text, &wounds));
    }

    #[test]
    fn a_report_gone_wrong(text in one_of(&REPORTS), wounds in wounds(), noise in "[ -~]{0,4}", at in 0..1000u16) {
        report(&wounded(text, &wounds));
        report(&wounded(text, &[(at, 2, noise)]));
    }

    #[test]
    fn an_entry_gone_wrong(text in one_of(&ENTRIES), wounds in wounds()) {
        entry(&wounded(text, &wounds));
    }
}

#[test]
fn the_texts_to_be_wounded_are_right() {
    assert!(read_sheet(schema(), SHEET).refused().next().is_none());
    let page = read_notebook(words(), PAGE, now()).unwrap();
    assert!(page.lines.len() == 5 && page.lines.iter().all(|l| l.timed.is_ok()), "{page:?}");
    let doubting = read_sheet(schema(), &in_doubt());
    assert!(doubting.refused().next().is_none(), "{:?}", doubting.problems);
    assert!(schema().fields.iter().filter(|f| doubting.sheet.is_doubtful(&f.key, None)).count() > 8);
    assert_eq!(read_day_text(words(), DAY).map(|d| d.runs.len()), Ok(1));
    let (read, errors) = read_table(schema(), rows().as_bytes(), &BTreeMap::new(), &zone(), &mut |_| {});
    assert!(read.len() > 20 && errors.is_empty(), "{errors:?}");
    for text in REPORTS {
        assert!(read_metar(text).is_ok(), "{text}: {:?}", read_metar(text));
    }
    for text in SLIPS {
        let split: Vec<String> = text.split(' ').map(str::to_owned).collect();
        assert!(
            read_slip(words(), &split, 1320, now()).is_ok(),
            "{text}: {:?}",
            read_slip(words(), &split, 1320, now())
        );
    }
}

#[test]
fn deep_long_and_many() {
    let deep = |open: &str, n: usize| open.repeat(n);
    for text in [
        format!("a = {}", deep("[", 5_000)),
        format!("a = {}", deep("{a=", 5_000)),
        format!("[{}a]", deep("a.", 5_000)),
        format!("{}a = 1", deep("a.", 5_000)),
        deep("[[run]]\n", 20_000),
        deep("\"", 50_000),
        deep("rear.limiter.height = 0.75\n", 5_000),
        format!("notes = \"{}\"", deep("long ", 100_000)),
        deep("x", 2 << 20),
    ] {
        sheet(&text);
        day(&text);
        notebook(&text);
    }
    notebook(&deep("10:50 1.6\n", 5_000));
    notebook(&format!("10:50 {}", deep("1.6 ", 90)));
    table(deep(",", 200_000).as_bytes());
    table(format!("date,note\n2026-05-16,\"{}", deep("x\n", 100_000)).as_bytes());
    for text in [deep("1.597 ", 5_000), deep("9", 50_000), deep("spun ", 5_000), deep("=", 5_000)] {
        slip(&text);
    }
    for text in [deep("22/18 ", 160), deep("/", 1_000), deep("RMK ", 250), deep("M", 2 << 20), deep("A2992 ", 5_000)] {
        report(&text);
    }
    for text in
        [deep("limiter ", 300), deep("down 1/4, ", 200), deep("9", 50_000), format!("limiter {}", deep("1/", 2_000))]
    {
        entry(&text);
    }
}

const RULES: &str = "format = 1\nname = \"P\"\ntemplate = \"leaf-torsion\"\n\n[[rule]]\nid = \"P3\"\nlimits = { most_clamps = 3 }\nreason = \"three\"\n\n\
    [[rule]]\nid = \"own.rake\"\nname = \"rake\"\nseverity = \"note\"\nwhen = \"not (front.height > rear.height + 1 and moved(front.height)) or abs(a - 2) <= spread(front.height)\"\n\
    says = \"{front.height}\"\nbecause = \"x\"\nsource = \"ours\"\n\n[[needs_below]]\net = 9.99\nitem = \"a cage\"\nfield = \"frame.cage\"\n";

fn rules(text: &str) {
    let before = Instant::now();
    let _ = slipbook::garage::Car::read("car.toml", text);
    assert!(before.elapsed() < ENOUGH, "{} bytes", text.len());
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 256, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn conditions_of_rules(
        words in prop::collection::vec(prop_oneof![
            Just("and".to_owned()), Just("or".to_owned()), Just("not".to_owned()), Just("(".to_owned()), Just(")".to_owned()),
            Just("is".to_owned()), Just("<=".to_owned()), Just("moved(a.b)".to_owned()), Just("abs(".to_owned()), Just("-".to_owned()),
            Just("spread(x".to_owned()), "[a-z.]{1,6}", "[0-9.]{1,4}", "\\PC{0,4}",
        ], 0..24),
    ) {
        if let Ok(expr) = slipbook::schema::Expr::parse(&words.join(" ")) {
            prop_assert!(expr.names().len() <= words.len());
        }
    }

    #[test]
    fn a_cars_rules_broken_anywhere(at in 0..RULES.len(), put in "\\PC{0,3}", cut in 0..8_usize) {
        let at = (0..=at).rev().find(|i| RULES.is_char_boundary(*i)).unwrap();
        let end = (at + cut).min(RULES.len());
        let end = (end..=RULES.len()).find(|i| RULES.is_char_boundary(*i)).unwrap();
        rules(&format!("{}{put}{}", &RULES[..at], &RULES[end..]));
    }
}

#[test]
fn rules_deep_long_and_many() {
    let deep = |open: &str, n: usize| open.repeat(n);
    for text in
        [deep("(", 5_000), deep("not ", 400), deep("abs(", 400), deep("a + ", 400) + "a > 1", deep("a > 1 and ", 5_000)]
    {
        assert!(slipbook::schema::Expr::parse(&text).is_err() || text.len() < 2_000);
        rules(&RULES.replace("not (front", &format!("{text} not (front")));
    }
    rules(&format!(
        "format = 1\nname = \"P\"\ntemplate = \"leaf-torsion\"\n{}",
        deep("[[rule]]\nid = \"own.a\"\n", 5_000)
    ));
}

const TRIAL: &str = r#"format = 1
name = "clamps"
response = "60" # 60, 330, 660, 1000, et or mph
a = "v15"
a_setup = "7d3ba1c46f0c1de30f4f2cbcd3e9d7f1a2b3c4d5"
b = "v16"
b_setup = "8d3ba1c46f0c1de30f4f2cbcd3e9d7f1a2b3c4d5"
order = "ABBA"
matters_s = 0.005 # s
started = 2026-07-11T09:30:00-05:00
by = "Ro"
why = "windup marks"

[judged]
at = 2026-07-11T16:00:00-05:00
by = "Ro"
verdict = "almost certainly a loss"
evidence = ["toggled"]
effect_s = 0.0331 # s
p_loss = 0.99
runs_a = ["3f9ac2d1"]
runs_b = ["11111111", "22222222"]
order_run = "ABB"
"#;

fn trial(text: &str) {
    in_time(|| match read_trial(text) {
        Err(problems) => assert!(!problems.is_empty()),
        // What was taken can be given back.
        Ok(trial) => assert_eq!(read_trial(&write_trial(&trial)).map(|t| t.order), Ok(trial.order)),
    });
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 96, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn a_trial_gone_wrong(wounds in wounds(), text in any::<String>(), pieces in prop::collection::vec(piece(), 0..12)) {
        trial(&wounded(TRIAL, &wounds));
        trial(&text);
        trial(&pieces.join("\n"));
        trial(&format!("{TRIAL}{}", pieces.join("\n")));
    }
}

#[test]
fn trials_deep_long_and_many() {
    assert_eq!(read_trial(TRIAL).map(|t| t.name), Ok("clamps".to_owned()));
    for text in [
        "[".repeat(20_000),
        format!("order = {}", "[".repeat(20_000)),
        format!("{TRIAL}x = {}", "{a=".repeat(10_000)),
        TRIAL.replace("\"ABBA\"", &format!("\"{}\"", "AB".repeat(20_000))),
        TRIAL.replace("[\"toggled\"]", &format!("[{}]", "\"x\", ".repeat(10_000))),
        TRIAL.replace("clamps", &"c".repeat(10_000)),
    ] {
        trial(&text);
        assert!(read_trial(&text).is_err());
    }
}

/// The fuzz targets beside this file read with the same readers.
#[test]
fn each_reader_has_its_fuzz_target() {
    let dir = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/fuzz");
    let cargo = std::fs::read_to_string(dir.join("Cargo.toml")).unwrap();
    for (name, reader) in [
        ("sheet", "read_sheet"),
        ("day", "read_day_text"),
        ("table", "read_table"),
        ("slip", "read_slip"),
        ("entry", "read_entry"),
        ("notebook", "read_notebook"),
        ("metar", "read_metar"),
        ("rules", "Expr::parse"),
        ("trial", "read_trial"),
    ] {
        let text = std::fs::read_to_string(dir.join(format!("fuzz_targets/{name}.rs"))).unwrap();
        assert!(text.contains(reader), "{name}");
        assert!(cargo.contains(&format!("name = \"{name}\"")), "{name}");
    }
}
