//! The words of a change, row by row, and what holds for any two sheets.

#[path = "common/sheets.rs"]
mod sheets;

use proptest::prelude::*;
use slipbook::diff::words::{Clause, back_to, body, clauses, found, mended, note_lines, subject};
use slipbook::diff::{SheetDiff, diff};
use slipbook::schema::{Field, Num, Scalar, Schema, Sheet, Value, read_sheet, schema, write_sheet};

fn sheet_of(schema: &Schema, text: &str) -> Sheet {
    let read = read_sheet(schema, &format!("format = 1\n{text}"));
    assert!(read.problems.is_empty(), "{text}\n{:?}", read.problems);
    read.sheet
}

fn told(schema: &Schema, common: &str, old: &str, new: &str) -> Vec<Clause> {
    let old = sheet_of(schema, &format!("{common}\n{old}"));
    let new = sheet_of(schema, &format!("{common}\n{new}"));
    clauses(schema, &old, &new, &diff(schema, &old, &new))
}

struct Row {
    name: &'static str,
    /// On both sheets.
    common: &'static str,
    old: &'static str,
    new: &'static str,
    says: &'static str,
}

const fn row(
    name: &'static str,
    common: &'static str,
    old: &'static str,
    new: &'static str,
    says: &'static str,
) -> Row {
    Row { name, common, old, new, says }
}

const ADJUSTABLE: &str = "rear.shock.valving = 'adjustable'\nrear.shock.counted_from = 'full soft'";
const STIFF: &str = "rear.shock.valving = 'adjustable'\nrear.shock.counted_from = 'full stiff'";
const TOWER: &str = "rear.limiter.kind = 'pin tower'\nrear.limiter.hole_spacing = 0.5";

#[rustfmt::skip]
const ROWS: &[Row] = &[
    row("one side, height", "", "rear.limiter.height = 1.0", "rear.limiter.height = 0.75", "limiter lowered 0.25 in (1.00 -> 0.75)"),
    row("same, tower", TOWER, "rear.limiter.hole = 4", "rear.limiter.hole = 3", "limiter down one hole (hole 4 -> 3, 0.50 in)"),
    row("same, tower, height moves along", TOWER, "rear.limiter.hole = 4\nrear.limiter.height = 2.0", "rear.limiter.hole = 3\nrear.limiter.height = 1.5",
        "limiter down one hole (hole 4 -> 3, 0.50 in)"),
    row("kind, fold", "", "rear.limiter = { kind = 'screw', height = 0.75, gap = 0.5 }", "rear.limiter.kind = 'none'",
        "pinion limiter removed (was a screw limiter at 0.75 in)"),
    row("kind, back on", "", "rear.limiter.kind = 'none'", "rear.limiter = { kind = 'screw', height = 0.75, bumper = 'urethane' }",
        "screw limiter fitted at 0.75 in, urethane bumper"),
    row("choice of small part", "", "rear.limiter.bumper = 'rubber'", "rear.limiter.bumper = 'urethane'", "limiter bumper now urethane (was rubber)"),
    row("both, choice", "", "front.shock.valving = 'even'", "front.shock.valving = 'free-rise'", "both front shocks now free-rise"),
    row("one side, choice", "", "front.shock.valving = 'even'", "front.shock.valving = { left = 'free-rise', right = 'even' }",
        "left front shock now free-rise (right stays even)"),
    row("both, clicks", ADJUSTABLE, "rear.shock.extension = 6", "rear.shock.extension = 4", "both rear shocks loosened 2 clicks on extension (6 -> 4)"),
    row("same number, counted from full stiff", STIFF, "rear.shock.extension = 6", "rear.shock.extension = 4",
        "both rear shocks tightened 2 clicks on extension (6 -> 4)"),
    row("sides differ, clicks", ADJUSTABLE, "rear.shock.extension = 6", "rear.shock.extension = { left = 7, right = 4 }",
        "rear extension: left tightened 1 click, right loosened 2"),
    row("both, pressure", "", "rear.tire.pressure = 12.5", "rear.tire.pressure = 12.0", "both rear tires down 0.5 psi (12.5 -> 12.0)"),
    row("sides differ", "", "rear.tire.pressure = 12.5", "rear.tire.pressure = { left = 12.0, right = 12.25 }", "rear tires down 0.5 psi left, 0.25 psi right"),
    row("one side", "", "rear.tire.pressure = 12.0", "rear.tire.pressure = { left = 12.0, right = 12.25 }", "right rear tire up 0.25 psi (12.0 -> 12.25)"),
    row("sides swap", "", "rear.tire.pressure = { left = 12.0, right = 12.5 }", "rear.tire.pressure = { left = 12.5, right = 12.0 }",
        "rear tire pressures swapped (now 12.5 left, 12.0 right)"),
    row("sides made equal", "", "rear.tire.pressure = { left = 12.0, right = 12.5 }", "rear.tire.pressure = 12.25",
        "both rear tires now 12.25 psi (were 12.0 left, 12.5 right)"),
    row("count to zero", "", "rear.leaf.rear_clamps = 2", "rear.leaf.rear_clamps = 0", "rear leaf segments unclamped (2 clamps off each side)"),
    row("count from zero", "", "rear.leaf.rear_clamps = 0", "rear.leaf.rear_clamps = 2", "rear leaf segments clamped (2 clamps on each side)"),
    row("count, one side", "", "rear.leaf.front_clamps = 2", "rear.leaf.front_clamps = { left = 2, right = 3 }",
        "one clamp added, right front leaf segment (2 -> 3)"),
    row("count, leaves", "", "rear.leaf.leaves = 5", "rear.leaf.leaves = { left = 5, right = 6 }", "one leaf added, right rear spring (5 -> 6)"),
    row("fitted -> removed", "", "front.travel.upper_stop = true", "front.travel.upper_stop = false", "both front upper bump stops removed"),
    row("fitted, one side", "", "rear.leaf.helper = false", "rear.leaf.helper = { left = false, right = true }", "helper leaf fitted, right rear"),
    row("turns", "", "front.spring.adjuster = 6", "front.spring.adjuster = 9.5", "both torsion bars up 3.5 turns (6 -> 9.5)"),
    row("turns, one side", "", "front.spring.adjuster = 6", "front.spring.adjuster = { left = 6, right = 5.5 }", "right torsion bar down 0.5 turn (6 -> 5.5)"),
    row("thickness", "", "front.spring.bar_diameter = 0.92", "front.spring.bar_diameter = 0.86",
        "torsion bars 0.06 in thinner (0.92 -> 0.86: wheel rate -24 %)"),
    row("rate", "", "front.spring.rate = 300", "front.spring.rate = 275", "front springs 25 lb/in softer (300 -> 275)"),
    row("hole", "rear.ladder.hole_spacing = 0.75", "rear.ladder.front_hole = 2", "rear.ladder.front_hole = 3",
        "ladder bars up one hole in front (hole 2 -> 3, 0.75 in)"),
    row("holes, two at once", "", "rear.link = { upper_front_hole = 5, lower_front_hole = 3 }", "rear.link = { upper_front_hole = 6, lower_front_hole = 4 }",
        "both bars up one hole in front (upper 5 -> 6, lower 3 -> 4)"),
    row("holes, opposite", "", "rear.link = { upper_rear_hole = 2, lower_rear_hole = 2 }", "rear.link = { upper_rear_hole = 1, lower_rear_hole = 3 }",
        "rear: upper bars down one hole (2 -> 1), lower up one (2 -> 3)"),
    row("length, flats", "rear.link.threads = 12", "rear.link.upper_length = 18.000", "rear.link.upper_length = 18.028",
        "both upper bars 2 flats longer (0.03 in)"),
    row("preload, added", "", "rear.link.preload = 0", "rear.link.preload = 2", "2 flats of preload put in, right side"),
    row("preload, through zero", "", "rear.link.preload = 2", "rear.link.preload = -1", "preload 3 flats out (2 right -> 1 left)"),
    row("height", "wheelie.kind = 'solid'", "wheelie.height = 4.0", "wheelie.height = 3.5", "wheelie bar lowered 0.50 in (4.00 -> 3.50 off the ground)"),
    row("gap", "", "rear.limiter.gap = 0.5", "rear.limiter.gap = 0.75", "re-measured: limiter gap 0.75 in (was 0.50)"),
    row("angle, same side of zero", "", "rear.pinion.slope = -3", "rear.pinion.slope = -5", "pinion nose down 2.0 deg more (-3.0 -> -5.0)"),
    row("angle, through zero", "", "rear.pinion.slope = 1", "rear.pinion.slope = -2", "pinion nose from 1.0 deg up to 2.0 deg down"),
    row("wedge", "", "rear.pinion.wedge = 0", "rear.pinion.wedge = -2", "2 deg pinion wedges fitted, nose down"),
    row("camber", "", "front.align.camber = -0.25", "front.align.camber = { left = -0.5, right = -0.25 }",
        "left front leans in 0.25 deg more (camber -0.25 -> -0.50)"),
    row("caster", "", "front.align.caster = 4", "front.align.caster = 5", "caster up 1.0 deg both sides (4.0 -> 5.0)"),
    row("toe", "", "front.align.toe = 0.125", "front.align.toe = 0.0625", "toe-in cut by half: 1/8 -> 1/16"),
    row("toe, through zero", "", "front.align.toe = 0.0625", "front.align.toe = -0.0625", "front from 1/16 toe-in to 1/16 toe-out"),
    row("travel limiter", "front.travel.limiter = 'strap'", "front.travel.limiter_length = 9", "front.travel.limiter_length = 8",
        "front straps 1.00 in shorter (9.00 -> 8.00)"),
    row("ballast moved", "", "weight.ballast = [{ weight = 50, where = 'trunk right' }]", "weight.ballast = [{ weight = 50, where = 'trunk left' }]",
        "50 lb moved from trunk right to trunk left"),
    row("ballast added", "frame.wheelbase = 111", "weight.ballast = [{ weight = 50, where = 'nose' }]",
        "weight.ballast = [{ weight = 50, where = 'nose' }, { weight = 25, behind = 112 }]", "25 lb added over the rear axle"),
    row("ballast split", "", "weight.ballast = [{ weight = 50, where = 'trunk right' }]",
        "weight.ballast = [{ weight = 30, where = 'trunk right' }, { weight = 20, where = 'nose' }]",
        "20 of 50 lb ballast moved from trunk right to the nose"),
    row("tire swap, 6 fields", "", "rear.tire = { name = 'pair A', size = '26 x 9', construction = 'drag radial', sidewall = 'stiff', compound = 'hard', pressure = 14 }",
        "rear.tire = { name = 'pair B', size = '28 x 10.5', construction = 'bias slick', sidewall = 'soft', compound = 'medium', pressure = 12 }",
        "rear tires now pair B: soft sidewall bias slick, 12.0 psi"),
    row("part swap, 4 fields", "", "rear.shock = { name = 'old', valving = 'even', extended = 20, collapsed = 12 }",
        "rear.shock = { name = 'long free', valving = '80/20', extended = 22.5, collapsed = 13 }",
        "rear shocks now \"long free\": 80/20, 2.50 in more extended length"),
    row("same part, other side", "", "rear.tire.side = 'left'", "rear.tire.side = 'right'", "rear tires swapped side to side"),
    row("gear", "", "rear.axle.ratio = 4.30", "rear.axle.ratio = 4.56", "rear gear now 4.56 (was 4.30)"),
    row("list, one entry", "", "driveline.ratios = [2.75, 1.79, 1.28, 1]", "driveline.ratios = [2.75, 1.70, 1.28, 1]", "second gear now 1.70 (was 1.79)"),
    row("list, all", "", "launch.shift_rpm = [6800, 6800]", "launch.shift_rpm = [7000, 7000]", "both shifts up 200 rpm (6800 -> 7000)"),
    row("jets", "", "engine.jets = { lf = 80, rf = 80, lr = 82, rr = 82 }", "engine.jets = { lf = 80, rf = 80, lr = 84, rr = 84 }",
        "rear jets up two (82 -> 84), fronts stay 80"),
    row("timing", "", "engine.timing = 36", "engine.timing = 34", "2 deg of timing taken out (36 -> 34)"),
    row("rpm", "", "launch.rpm = 4200", "launch.rpm = 4600", "launch rpm up 400 (4200 -> 4600)"),
    row("clutch", "", "driveline.clutch_base = 6\ndriveline.clutch_counterweight = 12", "driveline.clutch_base = 6.5\ndriveline.clutch_counterweight = 10.5",
        "clutch base up 0.5 turn, counterweight down 1.5 g"),
    row("gap, small", "", "driveline.clutch_gap = 0.060", "driveline.clutch_gap = 0.070", "clutch air gap opened 0.010 in (0.060 -> 0.070)"),
    row("first record", "", "weight.corner = { lf = 850, rf = 830, rr = 770 }", "weight.corner = { lf = 850, rf = 830, lr = 812, rr = 770 }",
        "on record now: left rear corner 812 lb"),
    row("off the record", "", "weight.corner = { lf = 850, rf = 830, lr = 812, rr = 770 }", "weight.corner = { lf = 850, rf = 830, rr = 770 }",
        "no longer on record: left rear corner (was 812 lb)"),
    row("first record, S field", "", "", "front.spring.adjuster = 6", "on record now: both torsion bar adjusters at 6 turns"),
    row("note changed", "", "notes = \"new converter has 38 runs on it\\nleft alone\"", "notes = \"new converter has 40 runs on it\\nleft alone\"",
        "note: \"new converter has 40 runs on it\" (1 line changed)"),
    row("forgotten", "", "rear.limiter.height = 0.75", "rear.limiter.height = 0.5", "limiter lowered 0.25 in (0.75 -> 0.50)"),
    row("nothing on the car", "", "weight.total = 3180", "weight.total = 3168\nweight.corner = { lf = 832, rf = 818, lr = 765, rr = 753 }",
        "weighed: 3168 lb, 52.1 % front, left 50.4 %"),
];

#[test]
fn every_row_is_told_to_the_letter() {
    let mut wrong = Vec::new();
    for row in ROWS {
        let told = told(schema(), row.common, row.old, row.new);
        let texts: Vec<&str> = told.iter().map(|c| c.text.as_str()).collect();
        if texts != [row.says] {
            wrong.push(format!("{}\n  wanted {}\n  told   {}", row.name, row.says, texts.join("\n         ")));
        }
    }
    assert!(wrong.is_empty(), "\n{}", wrong.join("\n"));
}

/// Beyond the rows: cases a racer meets that must read well too.
#[rustfmt::skip]
const MORE: &[Row] = &[
    row("hole and height apart", TOWER, "rear.limiter.hole = 4\nrear.limiter.height = 2.0", "rear.limiter.hole = 3\nrear.limiter.height = 1.0",
        "limiter lowered 1.00 in (2.00 -> 1.00); limiter down one hole (hole 4 -> 3, 0.50 in)"),
    row("one step from two places", "", "rear.tire.pressure = { left = 12, right = 12.5 }", "rear.tire.pressure = { left = 11.5, right = 12 }",
        "both rear tires down 0.5 psi (12.0/12.5 -> 11.5/12.0)"),
    row("one of a pair made like the other", "", "rear.tire.pressure = { left = 12, right = 12.5 }", "rear.tire.pressure = 12.5", "left rear tire up 0.5 psi (12.0 -> 12.5)"),
    row("opposite ways", "", "rear.tire.pressure = 12", "rear.tire.pressure = { left = 12.5, right = 11.75 }", "rear tires: left up 0.5 psi, right down 0.25"),
    row("only one side known", "", "rear.airbag.pressure = { right = 10 }", "rear.airbag.pressure = { right = 14 }", "right rear air bag up 4.0 psi (10.0 -> 14.0)"),
    row("children come with a parent", "", "rear.shock.valving = 'even'", "rear.shock.valving = 'adjustable'\nrear.shock.counted_from = 'full soft'\nrear.shock.extension = 6",
        "both rear shocks now adjustable, both rear shock extensions at 6 clicks"),
    row("measured, both", "", "front.height = 6.0", "front.height = 6.25", "re-measured: both front ride heights 6.25 in (were 6.00)"),
    row("measured, apart", "", "front.height = 6.0", "front.height = { left = 6.25, right = 6.125 }",
        "re-measured: front ride heights 6.25 left, 6.125 right in (were 6.00)"),
    row("described", "rear.limiter.kind = 'screw'", "rear.limiter.arm = 9", "rear.limiter.arm = 9.5", "limiter arm now 9.50 in (was 9.00)"),
    row("clicks counted from the other end", "rear.shock.valving = 'adjustable'", "rear.shock.counted_from = 'full soft'\nrear.shock.extension = 6",
        "rear.shock.counted_from = 'full stiff'\nrear.shock.extension = 4",
        "both rear shock extensions now 4 clicks (were 6); rear clicks counted from now full stiff (was full soft)"),
    row("ballast taken out", "", "weight.ballast = [{ weight = 50, where = 'nose' }, { weight = 20, where = 'trunk left' }]", "weight.ballast = [{ weight = 20, where = 'trunk left' }]",
        "50 lb taken out of the nose"),
    row("ballast heavier", "", "weight.ballast = [{ weight = 50, where = 'nose' }]", "weight.ballast = [{ weight = 60, where = 'nose' }]", "10 lb added at the nose (50 -> 60)"),
    row("lash", "", "engine.lash = { intake = 0.018, exhaust = 0.02 }", "engine.lash = { intake = 0.02, exhaust = 0.018 }",
        "valve lash: intake opened 0.002 in (0.018 -> 0.020), exhaust closed 0.002 in (0.020 -> 0.018)"),
    row("camber, both", "", "front.align.camber = -0.25", "front.align.camber = -0.5", "both front wheels lean in 0.25 deg more (camber -0.25 -> -0.50)"),
    row("one side made like the other", "", "front.shock.valving = { left = 'even', right = '80/20' }", "front.shock.valving = '80/20'", "left front shock now 80/20 like the right (was even)"),
    row("two packs", "", "rear.leaf.name = { left = 'a', right = 'b' }", "", "no longer on record: rear leaf packs (were \"a\" left, \"b\" right)"),
    row("preload out on the left", "", "rear.link.preload = -3", "rear.link.preload = -1", "2 flats of preload taken out, left side (3 -> 1)"),
    row("choice on record", "", "", "front.shock.valving = 'even'", "on record now: both front shocks even"),
    row("all jets", "", "engine.jets = { lf = 80, rf = 80, lr = 80, rr = 80 }", "engine.jets = { lf = 82, rf = 82, lr = 82, rr = 82 }", "all jets up two (80 -> 82)"),
    row("part, its facts unknown", "", "rear.tire.name = 'A'", "rear.tire.name = 'B'", "rear tires now B"),
    row("own words are made safe", "", "rear.shock.name = 'a'", "rear.shock.name = \"b\\u001B[31m\"", "rear shocks now \"b\\u{1b}[31m\""),
    row("first gear cars", "", "driveline.ratios = [2.75, 1.8]", "driveline.ratios = [2.75, 1.8, 1]", "gear ratios now 2.75 1.80 1.00 (were 2.75 1.80)"),
    row("stop out on one side", "", "front.travel.upper_stop = true", "front.travel.upper_stop = { left = false, right = true }", "upper bump stop removed, left front"),
    row("bar fitted", "", "front.antiroll.kind = 'none'", "front.antiroll = { kind = 'hooked', diameter = 1.0 }", "front anti-roll bar fitted, hooked, 1.00 in"),
];

#[test]
fn beyond_the_rows() {
    let mut wrong = Vec::new();
    for row in MORE {
        let texts: Vec<String> = told(schema(), row.common, row.old, row.new).into_iter().map(|c| c.text).collect();
        if texts.join("; ") != row.says {
            wrong.push(format!("{}\n  wanted {}\n  told   {}", row.name, row.says, texts.join("; ")));
        }
    }
    assert!(wrong.is_empty(), "\n{}", wrong.join("\n"));
}

#[test]
fn only_what_a_hand_set_is_turned() {
    let turned = |old, new| told(schema(), "", old, new).iter().all(|c| c.turned);
    assert!(turned("rear.limiter.height = 1", "rear.limiter.height = 0.75"));
    assert!(turned("rear.limiter = { kind = 'screw', gap = 0.5 }", "rear.limiter.kind = 'none'"));
    for (old, new) in [
        ("", "rear.limiter.height = 1"),
        ("rear.pinion.slope = -3", "rear.pinion.slope = -4"),
        ("weight.total = 3180", "weight.total = 3168"),
        ("notes = 'a'", "notes = 'b'"),
        ("rear.shock.extended = 20", "rear.shock.extended = 20.5"),
    ] {
        assert!(!turned(old, new), "{old} {new}");
    }
}

#[test]
fn an_own_field_is_told_by_its_kind() {
    let text = "key = 'own.fuel_pump'\nlabel = 'fuel pump'\nring = 'sheet'\nrole = 'set'\nkind = 'choice'\nchoices = ['small', 'big']";
    let own: Field = toml::from_str(text).unwrap();
    let schema = schema().with_own(vec![own]).unwrap();
    let told = told(&schema, "", "own.fuel_pump = 'small'", "own.fuel_pump = 'big'");
    assert_eq!(told[0].text, "fuel pump now big (was small)");
    assert_eq!((told[0].group.as_str(), told[0].turned), ("own", true));
}

#[test]
fn a_mend_says_what_it_really_was() {
    let field = |key: &str| schema().field(key).unwrap();
    let num = |text: &str| Value::One(Scalar::Num(Num::parse(text).unwrap()));
    let mend = |since, key, right: &Value, wrong: &Value| {
        mended(since, schema(), &Sheet::default(), field(key), Some(right), Some(wrong))
    };
    let said = mend(Some("v15"), "rear.limiter.height", &num("1"), &num("0.75"));
    assert_eq!(said, "mended from v15 on: limiter was at 1.00 in, not 0.75");
    assert_eq!(mend(None, "rear.axle.ratio", &num("4.56"), &num("4.3")), "mended: rear gear was 4.56, not 4.30");
    let pair = |text: &str| sheet_of(schema(), text).get("rear.tire.pressure").unwrap().clone();
    let (both, right) = (pair("rear.tire.pressure = 12"), pair("rear.tire.pressure = { left = 12, right = 12.5 }"));
    assert_eq!(mend(None, "rear.tire.pressure", &right, &both), "mended: right rear tire was at 12.5 psi, not 12.0");
}

#[test]
fn a_window_says_between_when_and_when() {
    let said = found("left rear leaf clamp loose", "11:45", "13:20");
    assert_eq!(said, "found: left rear leaf clamp loose (between 11:45 and 13:20)");
    assert_eq!(found("a\nb", "11:45", ""), "found: a\\nb (after 11:45)");
}

#[test]
fn going_back_names_what_is_turned_back() {
    let told = told(
        schema(),
        ADJUSTABLE,
        "rear.limiter.height = 1.25\nrear.shock.extension = 8",
        "rear.limiter.height = 0.75\nrear.shock.extension = 6",
    );
    assert_eq!(back_to("v17", &told), "back to v17: limiter down 0.50 in, rear shocks looser 2 clicks");
    assert_eq!(back_to("v17", &[]), "back to v17");
}

#[test]
fn many_changes_are_two_and_more() {
    let told = told(
        schema(),
        "",
        "rear.leaf.rear_clamps = 2\nfront.shock.valving = 'even'\nfront.spring.bar_diameter = 0.92\nfront.spring.adjuster = 6\n\
         front.travel.upper_stop = true\nlaunch.rpm = 4200\nlaunch.staging = 'shallow'\nengine.timing = 36\nbody.spoiler = 5",
        "rear.leaf.rear_clamps = 0\nfront.shock.valving = 'free-rise'\nfront.spring.bar_diameter = 0.86\nfront.spring.adjuster = 9.5\n\
         front.travel.upper_stop = false\nlaunch.rpm = 4600\nlaunch.staging = 'deep'\nengine.timing = 34\nbody.spoiler = 7",
    );
    assert_eq!(told.len(), 9);
    // The order of the sheet inside an area.
    let texts: Vec<&str> = told.iter().map(|c| c.text.as_str()).collect();
    let places: Vec<usize> = ["unclamped", "thinner", "free-rise", "launch rpm", "spoiler", "timing"]
        .iter()
        .map(|w| texts.iter().position(|t| t.contains(w)).unwrap())
        .collect();
    assert!(places.is_sorted(), "{texts:?}");
    let pick = |word: &str| told.iter().find(|c| c.text.contains(word)).unwrap().clone();
    let mut asked = vec![pick("unclamped"), pick("free-rise")];
    asked.extend(told.iter().filter(|c| !asked.contains(c)).cloned().collect::<Vec<_>>());
    assert_eq!(subject(&asked), "rear leaf segments unclamped, both front shocks free-rise, 7 more");
    assert_eq!(body(&asked).unwrap().lines().count(), 9);
}

/// What is held for about nothing is not told as gone.
#[test]
fn about_nothing_is_told() {
    let gone = told(
        schema(),
        "",
        "rear.antiroll.kind = 'hooked'\nrear.antiroll.preload = 1",
        "rear.antiroll.kind = 'hooked'\nrear.antiroll.preload = '0?'",
    );
    assert!(gone[0].text.contains("about 0"), "{}", gone[0].text);
    let sure = told(
        schema(),
        "",
        "rear.antiroll.kind = 'hooked'\nrear.antiroll.preload = 1",
        "rear.antiroll.kind = 'hooked'\nrear.antiroll.preload = 0",
    );
    assert!(sure[0].text.contains("taken out (was 1 flat right)"), "{}", sure[0].text);
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn each_change_is_told_once((old, new) in sheets::two_sheets()) {
        let diff = diff(schema(), &old, &new);
        let told = clauses(schema(), &old, &new, &diff);
        let mut fields: Vec<&str> = told.iter().flat_map(|c| &c.fields).map(String::as_str).collect();
        let mut changed: Vec<&str> = diff.changes.iter().map(|c| c.key.as_str()).collect();
        fields.sort_unstable();
        changed.sort_unstable();
        prop_assert_eq!(fields, changed);
        for clause in &told {
            for text in [&clause.text, &clause.brief] {
                prop_assert!(!text.trim().is_empty() && !text.chars().any(char::is_control), "{:?}", clause);
                prop_assert!(!text.contains("  ") && !text.contains("{"  ) || text.contains("odd") || text.contains("u{"), "{:?}", clause);
            }
        }
        for line in [subject(&told), back_to("v17", &told)] {
            // Only what somebody typed may be of another alphabet.
            let typed = |c: char| told.iter().any(|t| t.text.contains(c) || t.brief.contains(c));
            prop_assert!(line.chars().all(|c| c.is_ascii_graphic() || c == ' ' || (!c.is_ascii() && typed(c))), "{}", line);
            prop_assert!(line.chars().count() <= 72 && !line.is_empty(), "{}", line);
        }
    }

    #[test]
    fn a_difference_is_empty_only_between_equals_and_carries_over((old, new) in sheets::two_sheets()) {
        let d = diff(schema(), &old, &new);
        prop_assert_eq!(d.is_empty(), old == new);
        prop_assert!(diff(schema(), &old, &old).is_empty());
        let back = SheetDiff::from_json(schema(), &d.to_json(schema())).unwrap();
        prop_assert_eq!(back.apply(&old), new.clone());
        prop_assert_eq!(d.apply(&old), new);
    }

    #[test]
    fn a_written_sheet_reads_the_same(sheet in sheets::any_sheet()) {
        let text = write_sheet(schema(), &sheet, None, &["# a sheet".to_owned()]);
        let read = read_sheet(schema(), &text);
        prop_assert!(read.refused().next().is_none(), "{:?}\n{}", read.problems, text);
        prop_assert_eq!(&read.sheet, &sheet);
        prop_assert_eq!(write_sheet(schema(), &read.sheet, Some(&text), &[]), text);
    }

    #[test]
    fn comments_survive_a_rewrite((old, new) in sheets::two_sheets(), at in any::<prop::sample::Index>()) {
        let plain = write_sheet(schema(), &old, None, &[]);
        let keys: Vec<usize> = plain.lines().enumerate().filter(|(_, l)| l.contains(" = ") && !l.starts_with(' ')).map(|(i, _)| i).collect();
        let place = keys[at.index(keys.len())];
        let lines: Vec<String> = plain
            .lines()
            .enumerate()
            .flat_map(|(i, l)| if i == place { vec!["# kept words".to_owned(), l.to_owned()] } else { vec![l.to_owned()] })
            .collect();
        let text = lines.join("\n") + "\n";
        prop_assume!(read_sheet(schema(), &text).sheet == old);
        for sheet in [&old, &new] {
            let out = write_sheet(schema(), sheet, Some(&text), &[]);
            prop_assert_eq!(out.matches("# kept words").count(), 1, "{}\n->\n{}", text, out);
            prop_assert_eq!(&read_sheet(schema(), &out).sheet, sheet);
        }
    }

    /// A number in doubt is never told as a fact.
    #[test]
    fn doubt_is_told((old, new) in sheets::two_sheets()) {
        let diff = diff(schema(), &old, &new);
        for clause in clauses(schema(), &old, &new, &diff) {
            let [key] = clause.fields.as_slice() else { continue };
            let Some(change) = diff.get(key) else { continue };
            let at = |v: &Option<Value>, i: usize| v.as_ref().and_then(|v| v.slot(i).cloned());
            let other = |i: &usize| at(&change.old, *i) != at(&change.new, *i) || !change.old_doubt.contains(i);
            if change.new_doubt.iter().any(|i| at(&change.new, *i).is_some() && other(i)) {
                prop_assert!(clause.text.contains("about ") || clause.text.contains("in doubt"), "{:?}\n{}", change, clause.text);
            }
        }
    }

    #[test]
    fn read_in_parts_is_read_whole((old, new) in sheets::two_sheets()) {
        let mut known = slipbook::schema::KnownParts::default();
        for sheet in [&old, &new, &old] {
            let text = write_sheet(schema(), sheet, None, &[]);
            let parts = slipbook::schema::read_in_parts(schema(), &text, &mut known);
            prop_assert_eq!(&parts, &read_sheet(schema(), &text).sheet);
            // A line in a note that looks like a table is none.
            let tricky = text.replace("format = 1\n", "format = 1\nnotes = \"\"\"\none\n[front.spring]\nseat = 99\n\"\"\"\n");
            let parts = slipbook::schema::read_in_parts(schema(), &tricky, &mut known);
            prop_assert_eq!(&parts, &read_sheet(schema(), &tricky).sheet);
        }
    }

    #[test]
    fn notes_are_all_there(old in "([a-c]{0,2}\n?){0,6}", new in "([a-c]{0,2}\n?){0,6}") {
        let lines = note_lines(&old, &new);
        let of = |not| lines.iter().filter(|l| l.change != not).map(|l| l.text.as_str()).collect::<Vec<_>>();
        prop_assert_eq!(of(slipbook::diff::words::LineChange::Added), old.lines().collect::<Vec<_>>());
        prop_assert_eq!(of(slipbook::diff::words::LineChange::TakenOut), new.lines().collect::<Vec<_>>());
    }
}
