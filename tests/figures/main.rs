//! Figures: every one against numbers reckoned by hand (by_hand.py, apart from the Rust), what each is missing, and what holds
//! for any sheet.

#[path = "../common/car.rs"]
mod car;

use car::{Car, as_toml};
use proptest::prelude::*;
use slipbook::figures::{Cannot, Figure, SUBJECTS, Wanted, figures, figures_named};
use slipbook::schema::{Num, Scalar, Sides, Value, schema};
use std::collections::{BTreeMap, BTreeSet};

const BASES: [&str; 3] = ["leaf", "ladder", "fourlink"];

fn all(car: &Car) -> Vec<Figure> {
    figures(&car.given(Wanted::default())).into_iter().flat_map(|(_, f)| f).collect()
}

fn by_name(car: &Car) -> BTreeMap<String, Figure> {
    all(car).into_iter().map(|f| (f.full_name(), f)).collect()
}

#[test]
fn every_figure_is_what_a_hand_reckons() {
    let by_hand: toml::Table = toml::from_str(include_str!("by_hand.toml")).unwrap();
    for base in BASES {
        let hand = by_hand[base].as_table().unwrap();
        let figures = by_name(&Car::base(base));
        for (name, figure) in &figures {
            // What stands in car.toml is not on these sheets.
            if name.contains("pressure_floor") || name.contains("over_floor") || name.contains("under_most") {
                assert!(matches!(figure.value, Err(Cannot::Missing(_))), "{name}");
                continue;
            }
            let want = as_toml(hand.get(name).unwrap_or_else(|| panic!("{base}: no hand reckoned {name}")));
            let got = figure.value.as_ref().unwrap_or_else(|e| panic!("{base}: {name}: {e:?}"));
            // A finite difference by hand is good to 1e-8.
            assert!((got - want).abs() <= 1e-7 * want.abs().max(1e-3), "{base}: {name} is {got}, by hand {want}");
        }
        for name in hand.keys() {
            assert!(figures.contains_key(name), "{base}: there is no figure {name}");
        }
    }
}

#[test]
fn every_figure_is_of_some_car_and_explains_itself() {
    let seen: BTreeSet<&str> = BASES.iter().flat_map(|b| all(&Car::base(b))).map(|f| f.def.name).collect();
    let mut names: BTreeSet<(&str, &str)> = BTreeSet::new();
    for def in SUBJECTS.iter().flat_map(|s| s.figures) {
        assert!(seen.contains(def.name), "{} is computed of no car", def.name);
        let plain = def.name.bytes().all(|b| b.is_ascii_lowercase() || b.is_ascii_digit() || b == b'_');
        assert!(plain && !def.label.is_empty() && !def.formula.is_empty() && !def.source.is_empty(), "{}", def.name);
        for chassis in if def.chassis.is_empty() { &[""][..] } else { def.chassis } {
            assert!(names.insert((def.name, chassis)), "{} twice for {chassis}", def.name);
        }
    }
}

#[test]
fn the_list_of_figures_is_fresh() {
    let mut text = String::from(
        "# Figures\n\nWhat `slipbook numbers` computes and rules may name; generated, never edited: `UPDATE_SCHEMAS=1 cargo test --test figures`.\nA figure of each side is `NAME_left`, `NAME_right` in JSON. *hidden*: for rules, not on the page.\n",
    );
    for subject in &SUBJECTS {
        text.push_str(&format!(
            "\n## {}\n\n| name | what | unit | where | for | formula | source |\n|---|---|---|---|---|---|---|\n",
            subject.title
        ));
        for d in subject.figures {
            let chassis = if d.chassis.is_empty() { "every car".to_owned() } else { d.chassis.join(", ") };
            let hidden = if d.shown { "" } else { " *hidden*" };
            let formula = d.formula.replace('|', "\\|");
            text.push_str(&format!(
                "| `{}`{hidden} | {} | {} | {} | {chassis} | {formula} | {} |\n",
                d.name,
                d.label,
                d.unit,
                d.state.words(),
                d.source
            ));
        }
    }
    let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("schema/generated/figures.md");
    if std::env::var_os("UPDATE_SCHEMAS").is_some() {
        std::fs::write(&path, &text).unwrap();
    }
    let there = std::fs::read_to_string(&path).unwrap_or_default();
    assert!(
        there == text,
        "schema/generated/figures.md is stale: UPDATE_SCHEMAS=1 cargo test --test figures writes it"
    );
}

/// Fields that have another way round where they are missing: what is then assumed or taken instead.
const ANOTHER_WAY: [&str; 11] = [
    "driveline.shaft_top",
    "rear.leaf.leaves",
    "rear.leaf.full_leaves",
    "weight.cg_height",
    "weight.front_unsprung",
    "rear.axle.weight",
    "front.antiroll.inside",
    "rear.antiroll.inside",
    "rear.leaf.rate",
    "rear.leaf.section",
    "front.spring.arm_angle",
];

#[test]
fn what_is_missing_is_named() {
    for base in BASES {
        let whole = by_name(&Car::base(base));
        for (name, figure) in &whole {
            let fields = figure.inputs.iter().filter_map(|i| schema().locate(&i.name)).map(|(f, _)| f.key.clone());
            for key in fields.collect::<BTreeSet<_>>() {
                for stale in [false, true] {
                    let mut car = Car::base(base);
                    if stale {
                        car.spoil(&key);
                    } else {
                        car.sheet.remove(&key);
                    }
                    let again = figures_named(&car.given(Wanted::default()), figure.def.name);
                    let Some(after) = again.into_iter().find(|f| f.side == figure.side) else {
                        // The field says whether there is such a thing at all.
                        assert!(
                            schema().fields.iter().any(|f| f.applies.keys().any(|k| k == key)),
                            "{name} went with {key}"
                        );
                        continue;
                    };
                    match after.value {
                        Err(Cannot::Missing(missing)) => {
                            let named = missing.iter().any(|m| m.name == key || m.name.starts_with(&format!("{key}.")));
                            assert!(named, "{base}: {name} without {key} wants {missing:?}");
                        }
                        Ok(_) => {
                            let another = ANOTHER_WAY.contains(&key.as_str()) || key.starts_with("weight.corner");
                            let told = after.assumed != figure.assumed || after.inputs != figure.inputs;
                            assert!(another && told, "{base}: {name} is said without {key}");
                        }
                        other => panic!("{base}: {name} without {key}: {other:?}"),
                    }
                }
            }
        }
    }
}

#[test]
fn a_limiter_that_was_moved_moves_its_gap() {
    let mut car = Car::base("leaf");
    let gap = by_name(&car)["limiter_gap"].value.clone().unwrap();
    let then = car.sheet.clone();
    car.sheet.set("rear.limiter.height", Value::One(Scalar::Num(Num::parse("1.5").unwrap())));
    car.spoil("rear.limiter.gap");
    // Something else moved it: it must be measured.
    assert!(matches!(by_name(&car)["limiter_gap"].value, Err(Cannot::Missing(_))));
    car.stale[0].causes[0].fields = vec!["rear.limiter.height".to_owned()];
    car.taken_on(&then);
    let figure = &by_name(&car)["limiter_gap"];
    assert!((figure.value.clone().unwrap() - (gap - 0.5)).abs() < 1e-9);
    assert!(figure.assumed[0].contains("raised 0.50 in"), "{:?}", figure.assumed);
}

/// The car seen in a mirror: left is right.
fn mirrored(mut car: Car) -> Car {
    for field in schema().fields.iter().filter(|f| matches!(f.sides, Sides::Pair | Sides::Corners)) {
        let Some(Value::Slots(slots)) = car.sheet.get(&field.key) else { continue };
        let mut slots = slots.clone();
        slots.chunks_exact_mut(2).for_each(|pair| pair.swap(0, 1));
        car.sheet.set(&field.key, Value::Slots(slots));
    }
    car
}

/// Figures of the whole car that turn their sign in a mirror, and shares that become the rest.
const TURNED: [&str; 2] = ["rear_difference", "rear_rollout_apart"];
const REST: [&str; 2] = ["left_share", "cross_share"];

fn number(low: f64, high: f64, share: f64) -> Num {
    Num::from_f64((low + (high - low) * share).mul_add(64.0, 0.0).round() / 64.0).unwrap()
}

/// A base car with each number moved within what is usual; sides of their own.
fn any_car() -> impl Strategy<Value = (usize, Vec<f64>)> {
    (0..3_usize, prop::collection::vec(0.0..1.0_f64, 400))
}

fn moved((base, shares): &(usize, Vec<f64>)) -> Car {
    let mut car = Car::base(BASES[*base]);
    let mut share = shares.iter().copied().cycle();
    let mut next = || share.next().unwrap();
    for field in &schema().fields {
        let Some(value) = car.sheet.get(&field.key).cloned() else { continue };
        let mut draw = |slot: Option<usize>, was: &Scalar| -> Scalar {
            let own = slot.and_then(|i| field.slot_list().get(i)).and_then(|s| s.usual);
            let Some([low, high]) = own.or(field.usual) else { return was.clone() };
            let whole = matches!(field.kind.as_str(), "hole" | "count" | "clicks" | "turns" | "preload");
            let n = number(low.to_f64(), high.to_f64(), next());
            match was {
                Scalar::Num(_) if whole => Scalar::Num(n.round(0)),
                Scalar::Num(_) => Scalar::Num(n),
                other => other.clone(),
            }
        };
        let value = match value {
            Value::One(s) => Value::One(draw(None, &s)),
            Value::Slots(all) => {
                Value::Slots(all.iter().enumerate().map(|(i, s)| s.as_ref().map(|s| draw(Some(i), s))).collect())
            }
            other => other,
        };
        car.sheet.set(&field.key, value);
    }
    car
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 48, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn a_mirrored_car_gives_mirrored_figures(case in any_car()) {
        let (car, mirror) = (by_name(&moved(&case)), by_name(&mirrored(moved(&case))));
        let opposite = |name: &str| match (name.strip_suffix("_left"), name.strip_suffix("_right")) {
            (Some(n), _) => format!("{n}_right"),
            (_, Some(n)) => format!("{n}_left"),
            _ => name.to_owned(),
        };
        for (name, figure) in &car {
            let other = &mirror[&opposite(name)];
            match (&figure.value, &other.value) {
                (Ok(a), Ok(b)) => {
                    let a = match name.as_str() {
                        n if TURNED.contains(&n) => -a,
                        n if REST.contains(&n) => 100.0 - a,
                        _ => *a,
                    };
                    prop_assert!((a - b).abs() <= 1e-9 * a.abs().max(1.0), "{name}: {a} and {b}");
                }
                (Err(a), Err(b)) => prop_assert_eq!(std::mem::discriminant(a), std::mem::discriminant(b), "{}", name),
                (a, b) => prop_assert!(false, "{name}: {a:?} and {b:?}"),
            }
        }
    }

    #[test]
    fn no_sheet_gives_a_number_that_is_none(case in any_car(), off in prop::collection::vec(0..400_usize, 0..12), zero in prop::collection::vec(0..400_usize, 0..6)) {
        let mut car = moved(&case);
        let keys: Vec<String> = car.sheet.iter().map(|(k, _)| k.to_owned()).collect();
        for i in off {
            car.sheet.remove(&keys[i % keys.len()]);
        }
        for i in zero {
            let key = &keys[i % keys.len()];
            if let Some(Value::One(Scalar::Num(_))) = car.sheet.get(key) {
                car.sheet.set(key, Value::One(Scalar::Num(Num::ZERO)));
            }
        }
        for figure in all(&car) {
            match &figure.value {
                Ok(x) => prop_assert!(x.is_finite(), "{}", figure.full_name()),
                Err(Cannot::Missing(all)) => prop_assert!(!all.is_empty()),
                Err(Cannot::Because(why)) => prop_assert!(!why.is_empty()),
                Err(Cannot::NotHere) => prop_assert!(false, "{}", figure.full_name()),
            }
        }
    }

    #[test]
    fn more_gap_never_lowers_the_contact_angle(case in any_car(), more in 0.0..2.0_f64) {
        let mut case = case;
        case.0 = 0;
        let mut car = moved(&case);
        let before = by_name(&car);
        let gap = car.sheet.num("rear.limiter.gap").unwrap();
        car.sheet.set("rear.limiter.gap", Value::One(Scalar::Num(gap + Num::from_f64(more).unwrap())));
        let after = by_name(&car);
        for name in ["pinion_rise_contact", "pinion_contact"] {
            let (a, b) = (before[name].value.clone().unwrap(), after[name].value.clone().unwrap());
            prop_assert!(b >= a, "{name}: {a} then {b}");
        }
        let forces = |f: &BTreeMap<String, Figure>| f["limiter_force_hit"].value.clone();
        if let (Ok(a), Ok(b)) = (forces(&before), forces(&after)) {
            prop_assert!(b <= a + 1e-9);
        }
    }

    #[test]
    fn joints_at_equal_angles_leave_nothing_over(angle in 0.1..6.0_f64, shaft in -3.0..6.0_f64) {
        let mut car = Car::base("fourlink");
        let deg = |x: f64| Value::One(Scalar::Num(Num::from_f64((x * 100.0).round() / 100.0).unwrap()));
        let (angle, shaft) = ((angle * 100.0).round() / 100.0, (shaft * 100.0).round() / 100.0);
        car.sheet.set("driveline.shaft_slope", deg(shaft));
        car.sheet.set("driveline.shaft_top", deg(0.0));
        // Parallel: opposite sides of the shaft; and both on one side, the other way joints cancel.
        for pinion in [shaft + angle, shaft - angle] {
            car.sheet.set("driveline.trans_slope", deg(shaft + angle));
            car.sheet.set("rear.pinion.slope", deg(pinion));
            let figures = by_name(&car);
            let left_over = figures["left_over_angle"].value.clone().unwrap();
            prop_assert!(left_over.abs() < 1e-3, "{left_over}");
            prop_assert!(figures["working_angle_apart"].value.clone().unwrap().abs() < 1e-9);
        }
    }
}
