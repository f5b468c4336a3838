//! Parts with a name of their own: fitting one, what comes along, passes, limits, parts that are gone.

use crate::common::{Garage, has, has_not, no_controls};
use proptest::prelude::*;
use serde_json::Value;
use slipbook::garage::{Book, Hand, Options, Wanted, bring_along, change, now};
use slipbook::schema::{Edit, Scalar, Typed, Value as FieldValue, schema};
use slipbook::slip::Moment;
use std::collections::BTreeMap;

fn fields(garage: &Garage) -> Value {
    garage.json(&["sheet"])["fields"].clone()
}

fn part(garage: &Garage, name: &str) -> Value {
    let all = garage.json(&["part", name]);
    assert_eq!(all["parts"].as_array().map(Vec::len), Some(1), "{all}");
    all["parts"][0].clone()
}

/// Grey with pair A described on its sheet, and pair B on record.
fn two_pairs() -> Garage {
    let garage = Garage::with_car();
    garage.at("2026-08-02T09:00:00");
    garage.ok(&["change", "rear.tire.size=28 x 9-15", "rear.tire.sidewall=soft", "rear.tire.compound=48 in March"]);
    garage.ok(&[
        "part",
        "add",
        "pair B",
        "--kind",
        "rear tires",
        "--came-with",
        "12",
        "--goes-with",
        "yes",
        "size",
        "29",
        "x",
        "10.5-15,",
        "sidewall",
        "stiff,",
        "least",
        "pressure",
        "11",
    ]);
    garage
}

fn runs(garage: &Garage, day: &str, n: usize) {
    for i in 0..n {
        garage.at(&format!("2026-08-{day}T{:02}:00:00", 10 + i));
        garage.ok(&["run", "--track", "Osier Flats", &format!("60=1.6{i}")]);
    }
}

#[test]
fn either_way_of_fitting_is_the_same() {
    let told: Vec<(Value, String, String, String)> = [
        &["part", "fit", "pair b"][..],
        &["part", "fit", "pair", "B"],
        &["change", "rear", "tires", "Pair B"],
        &["change", "rear.tire.name=pair B"],
    ]
    .iter()
    .map(|args| {
        let garage = two_pairs();
        garage.at("2026-08-02T10:00:00");
        let said = garage.ok(args);
        let along = ["came along with pair B: size, sidewall", "kept of pair A: size, sidewall, compound"];
        has(&said, &[&["Grey   v2", "rear tires now pair B: stiff sidewall"][..], &along].concat());
        garage.tidy("grey", "a fit");
        let version = garage.json(&["history"])["versions"][0]["words"].clone();
        assert_eq!(version.as_array().map(Vec::len), Some(1), "one sentence: {version}");
        (
            fields(&garage),
            garage.read("grey", "car.toml"),
            garage.read("grey", "setup.toml"),
            garage.last_message("grey"),
        )
    })
    .collect();
    let (sheet, car, ..) = &told[0];
    assert_eq!((&sheet["rear.tire.size"], &sheet["rear.tire.sidewall"]), (&"29 x 10.5-15".into(), &"stiff".into()));
    assert_eq!(sheet["rear.tire.compound"], Value::Null, "what is not known of pair B is not said of it");
    has(car, &["rear.tire.compound = \"48 in March\"", "rear.tire.sidewall = \"soft\"", "name = \"pair A\""]);
    for other in &told[1..] {
        assert_eq!(other, &told[0]);
    }
}

#[test]
fn passes_are_counted_over_every_stretch() {
    let garage = two_pairs();
    runs(&garage, "03", 2);
    garage.at("2026-08-03T18:00:00");
    garage.ok(&["part", "fit", "pair B"]);
    runs(&garage, "04", 3);
    garage.at("2026-08-04T18:00:00");
    garage.ok(&["part", "fit", "pair A"]);
    runs(&garage, "05", 1);
    let (a, b) = (part(&garage, "pair A"), part(&garage, "pair B"));
    assert_eq!((&a["passes_here"], &a["passes"], &a["on_car"]), (&3.into(), &Value::Null, &true.into()));
    assert_eq!((&b["passes_here"], &b["passes"], &b["on_car"]), (&3.into(), &15.into(), &false.into()));
    let spans: Vec<_> = a["spans"].as_array().unwrap().iter().map(|s| (s["from"].clone(), s["to"].clone())).collect();
    assert_eq!(spans, [("v1".into(), "v2".into()), ("v3".into(), Value::Null)]);
    assert_eq!(a["values"]["rear.tire.compound"], "48 in March", "as it was when it came off");
    let said = garage.ok(&["part"]);
    has(&said, &["rear tires", "15 passes: 12 when it came, 3 here", "on the car since v3", "goes with the car"]);
    no_controls(&said);
    has(&garage.ok(&["part", "pair A"]), &["from v1", "to v2", "2 runs", "from v3", "1 run"]);
    garage.ok(&["part", "set", "pair A", "--came-with", "30"]);
    has(&garage.ok(&["sheet"]), &["rear tires: pair A has 33 passes on it"]);
    assert_eq!(garage.json(&["sheet"])["passes"][0]["passes"], 33);
}

#[test]
fn a_pressure_under_the_makers_least_is_asked_about() {
    let garage = two_pairs();
    garage.ok(&["part", "fit", "pair B"]);
    let said = garage.refused(2, &["change", "rear.tire.pressure=11/10.5"]);
    has(&said, &["10.5 psi", "the least for pair B is 11.0 psi, says its maker", "tech inspection", "--yes"]);
    garage.ok(&["change", "rear.tire.pressure=11"]);
    garage.ok(&["change", "launch.rpm=4300"]);
    let said = garage.json(&["change", "rear.tire.pressure=10", "--yes"]);
    assert!(said["unusual"][0].as_str().unwrap().contains("says its maker"), "{said}");
    garage.ok(&["change", "launch.rpm=4400"]);
    // Fitting a pair whose least lies higher than the pressure that is in.
    garage.ok(&["part", "fit", "pair A"]);
    has(&garage.refused(2, &["part", "fit", "pair B"]), &["10.0 psi", "says its maker"]);
    garage.ok(&["part", "fit", "pair B, rear tires 12"]);
    assert_eq!(fields(&garage)["rear.tire.pressure"]["left"], 12);
    garage.edit("grey", "setup.toml", |t| t.replace("pressure = 12", "pressure = 9"));
    has(&garage.run(&["sheet", "--save"]).stderr, &["says its maker"]);
}

#[test]
fn limits_that_were_passed_are_told_with_who_decides() {
    let garage = two_pairs();
    garage.ok(&["part", "set", "pair B", "most passes 13, highest speed 118"]);
    garage.ok(&["part", "fit", "pair B"]);
    for (at, mph) in [("10", "117.2"), ("11", "119.5")] {
        garage.at(&format!("2026-08-03T{at}:00:00"));
        garage.ok(&["run", "--track", "Osier Flats", "60=1.6", "et=11.5", &format!("mph={mph}")]);
    }
    let said = garage.ok(&["part"]);
    has(
        &said,
        &["OVER: 14 passes, most passes is 13", "OVER: 119.50 run, highest speed is 118 mph", "tech inspection"],
    );
    assert!(part(&garage, "pair B")["limits"][1]["passed"].is_string());
    garage.ok(&["part", "set", "pair B", "most passes -"]);
    has_not(&garage.ok(&["part"]), &["14 passes, most"]);
}

#[test]
fn a_part_that_is_gone_is_never_fitted_silently() {
    let garage = two_pairs();
    has(&garage.refused(2, &["part", "gone", "pair A", "sold"]), &["pair A is on the car"]);
    garage.at("2026-08-03T10:00:00");
    garage.ok(&["part", "fit", "pair B"]);
    garage.at("2026-08-04T10:00:00");
    has(&garage.ok(&["part", "gone", "pair A", "sold to Wren"]), &["sold to Wren Aug 04", "saved"]);
    garage.tidy("grey", "gone");
    for args in [&["part", "fit", "pair A"][..], &["change", "rear.tire.name=pair a"], &["change", "rear tires pair A"]]
    {
        has(&garage.refused(2, args), &["pair A is gone (sold to Wren Aug 04)", "--yes"]);
    }
    // On the day it was still there it may have been on the car.
    let car = garage.read("grey", "car.toml");
    garage.ok(&["part", "fit", "pair A", "--yes"]);
    has(&car, &["gone = 2026-08-04", "gone_how = \"sold to Wren\""]);
    has_not(&garage.read("grey", "car.toml"), &["gone"]);
    assert_eq!(part(&garage, "pair A")["gone"], Value::Null);
    assert_eq!(fields(&garage)["rear.tire.compound"], "48 in March");
}

#[test]
fn going_back_to_a_part_that_is_gone_says_so_and_leaves_it() {
    let garage = two_pairs();
    garage.at("2026-08-03T10:00:00");
    garage.ok(&["change", "limiter down 1/4, rear tires pair B"]);
    garage.ok(&["part", "gone", "pair A", "scrapped"]);
    let said = garage.ok(&["revert", "v1", "--dry-run"]);
    has(&said, &["rear tires stay pair B: pair A is gone (scrapped", "--even-gone"]);
    has(&garage.refused(2, &["revert", "v1", "--even-gone"]), &["pair A is gone"]);
    garage.ok(&["revert", "v1"]);
    let now = fields(&garage);
    assert_eq!((&now["rear.limiter.height"], &now["rear.tire.name"]), (&1.into(), &"pair B".into()));
    assert_eq!(now["rear.tire.size"], "29 x 10.5-15");
    has(&garage.refused(2, &["revert", "v1"]), &["nothing to turn back", "pair A is gone"]);
    garage.ok(&["revert", "v1", "--even-gone", "--yes"]);
    assert_eq!(fields(&garage)["rear.tire.name"], "pair A");
    assert_eq!(part(&garage, "pair A")["gone"], Value::Null);
    garage.tidy("grey", "reverts");
}

#[test]
fn going_back_brings_along_what_is_known_of_the_part_now() {
    let garage = two_pairs();
    runs(&garage, "02", 2);
    garage.at("2026-08-03T10:00:00");
    garage.ok(&["part", "fit", "pair B"]);
    garage.ok(&["part", "set", "pair A", "compound 55 in August"]);
    garage.at("2026-08-03T11:00:00");
    garage.ok(&["revert", "v1"]);
    let now = fields(&garage);
    assert_eq!((&now["rear.tire.name"], &now["rear.tire.compound"]), (&"pair A".into(), &"55 in August".into()));
    assert_eq!(now["rear.tire.sidewall"], "soft");
    // More passes on it than it had then.
    runs(&garage, "04", 2);
    garage.ok(&["change", "limiter down 1/4"]);
    let json = garage.json(&["revert", "v1", "--dry-run"]);
    assert_eq!(json["not_the_same"][0], "rear tires: pair A has 4 passes here, had 2 when v1 last ran", "{json}");
}

#[test]
fn what_is_said_of_a_part_on_the_car_is_on_its_sheet() {
    let garage = two_pairs();
    let said = garage.ok(&["part", "set", "pair A", "bead 8 rim screws, least pressure 10"]);
    has(&said, &["nothing turned", "saved"]);
    assert_eq!(fields(&garage)["rear.tire.bead"]["left"], "8 rim screws");
    has(&garage.read("grey", "car.toml"), &["least_pressure = 10 # psi", "rear.tire.bead = \"8 rim screws\""]);
    garage.ok(&["part", "set", "pair A", "bead=-"]);
    assert_eq!(fields(&garage)["rear.tire.bead"], Value::Null);
    has_not(&garage.read("grey", "car.toml"), &["bead"]);
    garage.ok(&["change", "rear.tire.compound=-"]);
    has_not(&garage.read("grey", "car.toml"), &["compound"]);
    garage.tidy("grey", "part set");
}

#[test]
fn springs_and_bars_bring_their_set_values() {
    let garage = Garage::with_car();
    garage.ok(&["change", "front.spring.bar_diameter=0.92", "front.spring.bars=stock bars"]);
    garage.ok(&["part", "add", "soft bars", "--kind", "torsion bars", "bar diameter 0.86"]);
    let said = garage.ok(&["part", "fit", "soft bars"]);
    has(&said, &["torsion bars now \"soft bars\": 0.86 in"]);
    assert_eq!(fields(&garage)["front.spring.bar_diameter"]["left"], 0.86);
    garage.ok(&["change", "torsion bars stock bars"]);
    assert_eq!(fields(&garage)["front.spring.bar_diameter"]["left"], 0.92);
    garage.ok(&["part", "add", "tight eight", "--kind", "converter", "diameter 8"]);
    garage.ok(&["part", "fit", "tight eight"]);
    assert_eq!(fields(&garage)["driveline.converter_diameter"], 8);
}

#[test]
fn one_leaf_pack_alone() {
    let garage = Garage::with_car();
    garage.ok(&["change", "rear.leaf.name=five leaf", "rear.leaf.rate=145"]);
    garage.ok(&["part", "add", "split pack", "--kind", "leaf packs", "rate=120"]);
    garage.ok(&["part", "fit", "split pack", "--side", "right"]);
    let now = fields(&garage);
    assert_eq!(now["rear.leaf.rate"], serde_json::json!({"left": 145, "right": 120}));
    garage.ok(&["part", "fit", "five leaf"]);
    assert_eq!(fields(&garage)["rear.leaf.rate"], serde_json::json!({"left": 145, "right": 145}));
    has(&garage.refused(2, &["part", "fit", "split pack", "--side", "top"]), &["no side", "left or right"]);
}

#[test]
fn what_cannot_be_meant_is_refused_with_what_can() {
    let garage = two_pairs();
    has(&garage.refused(2, &["part", "fit", "pair C"]), &["no part of this car is called", "pair B", "part add"]);
    has(&garage.refused(2, &["part", "add", "x", "--kind", "gearbox"]), &["no kind of part", "rear tires"]);
    has(&garage.refused(2, &["part", "add", "pair B", "--kind", "rear tires"]), &["on record already", "part set"]);
    has(&garage.refused(2, &["part", "add", "12", "--kind", "rear tires"]), &["more than a number"]);
    has(
        &garage.refused(2, &["part", "add", "pair C", "--kind", "rear tires", "wings 3"]),
        &["nothing that is said", "sidewall"],
    );
    has(
        &garage.refused(2, &["part", "add", "pair C", "--kind", "rear tires", "least pressure 300"]),
        &["not possible"],
    );
    has(&garage.refused(2, &["part", "add", "pair C", "--kind", "rear tires", "sidewall wobbly"]), &["sidewall"]);
    has(&garage.refused(2, &["part", "set", "pair B"]), &["nothing was said"]);
    has(&garage.refused(2, &["part", "set", "pair B", "--goes-with", "yes"]), &["nothing would change"]);
    garage.ok(&["part", "add", "pair B", "--kind", "front tires"]);
    has(&garage.refused(2, &["part", "fit", "pair B"]), &["which `pair B`?", "--kind \"front tires\""]);
    garage.ok(&["part", "fit", "pair B", "--kind", "front tires"]);
    garage.ok(&["change", "rear tires pair C"]);
    has(&garage.ok(&["part"]), &["pair C", "those before are not on record"]);
}

#[test]
fn hostile_parts_in_car_toml_are_refused_whole() {
    let garage = two_pairs();
    let long = "x".repeat(5000);
    let many = "\n[[part]]\nname = \"p\"\nkind = \"rear.tire.name\"\n".repeat(600);
    let deep =
        format!("\n[[part]]\nname = \"p\"\nkind = \"rear.tire.name\"\n[part.values]\n{}z = 1\n", "a.".repeat(60));
    for bad in [
        many.as_str(),
        deep.as_str(),
        &format!("\n[[part]]\nname = \"{long}\"\nkind = \"rear.tire.name\"\n"),
        &format!("\n[[part]]\nname = \"p\"\nnote = \"{long}\"\nkind = \"rear.tire.name\"\n"),
        "\n[[part]]\nname = \"a\\u001b[31m\"\nkind = \"rear.tire.name\"\n",
        "\n[[part]]\nname = \"p\"\nkind = \"\\u001b[31m\"\n",
        "\n[[part]]\nname = \"p\"\nkind = \"rear.tire.name\"\n[part.values]\nrear.limiter.height = 3\n",
        "\n[[part]]\nname = \"p\"\nkind = \"rear.tire.name\"\nlimits = 3\nvalues = []\n",
        "\n[[part]]\nname = \"pair B\"\nkind = \"rear.tire.name\"\n",
        "\n[part]\nname = \"p\"\n",
        "\n[[part]]\nname = 3\nkind = \"rear.tire.name\"\ncame_with_passes = 1e300\n",
    ] {
        let old = garage.read("grey", "car.toml");
        garage.edit("grey", "car.toml", |t| format!("{t}{bad}"));
        let output = garage.run(&["sheet", "--save"]);
        no_controls(&output.both());
        assert_eq!(output.code, 3, "{bad}\n{}", output.both());
        // The book itself still answers, and records nothing over the edit.
        garage.ok(&["part"]);
        garage.refused(3, &["part", "set", "pair B", "--came-with", "3"]);
        garage.edit("grey", "car.toml", |_| old.clone());
    }
    garage.tidy("grey", "hostile parts");
}

#[test]
fn a_part_written_by_hand_is_taken() {
    let garage = two_pairs();
    let by_hand = "\n# the spare\n[[part]]\nname = \"pair C\" # Pell's\nkind = \"rear.tire.name\"\n\n[part.values.rear]\ntire = { size = \"26 x 8\" }\n";
    garage.edit("grey", "car.toml", |t| format!("{t}{by_hand}"));
    garage.ok(&["sheet", "--save"]);
    garage.ok(&["part", "set", "pair C", "--note", "on the shelf"]);
    has(
        &garage.read("grey", "car.toml"),
        &["# the spare", "# Pell's", "note = \"on the shelf\"", "tire = { size = \"26 x 8\" }"],
    );
    garage.ok(&["change", "rear tires pair C"]);
    assert_eq!(fields(&garage)["rear.tire.size"], "26 x 8");
    garage.ok(&["change", "rear.tire.sidewall=stiff"]);
    garage.ok(&["part", "fit", "pair A"]);
    let car = garage.read("grey", "car.toml");
    has(&car, &["# the spare", "# Pell's", "sidewall = \"stiff\""]);
    garage.tidy("grey", "parts by hand");
}

#[test]
fn a_table_of_a_season_fits_parts_too() {
    let garage = two_pairs();
    let table = "date,time,track,rear.tire.name,rear.tire.pressure,ft60\n\
                 2026-08-03,10:00,Osier Flats,,,1.61\n\
                 2026-08-03,11:00,Osier Flats,pair B,12,1.60\n\
                 2026-08-03,12:00,Osier Flats,pair A,,1.62\n";
    let table = garage.file("season.csv", table);
    garage.ok(&["import", &table]);
    let sheet = garage.json(&["sheet", "v2"]);
    assert_eq!(sheet["fields"]["rear.tire.size"], "29 x 10.5-15", "{sheet}");
    assert_eq!(fields(&garage)["rear.tire.compound"], "48 in March");
    assert_eq!(part(&garage, "pair B")["passes"], 13);
    garage.tidy("grey", "import with parts");
}

/// What a racer does with three pairs.
#[derive(Debug, Clone)]
enum Does {
    Fit(&'static str),
    Says(&'static str, &'static str),
    Off(&'static str),
}

const SAID: [(&str, [&str; 2]); 3] = [
    ("rear.tire.size", ["28 x 9-15", "29 x 10.5-15"]),
    ("rear.tire.sidewall", ["soft", "stiff"]),
    ("rear.tire.compound", ["48", "55 # hard \"now\""]),
];

fn does() -> impl Strategy<Value = Does> {
    let said = (0..3usize, 0..2usize).prop_map(|(f, v)| Does::Says(SAID[f].0, SAID[f].1[v]));
    prop_oneof![
        3 => prop::sample::select(vec!["pair A", "pair B", "pair C"]).prop_map(Does::Fit),
        3 => said,
        1 => (0..3usize).prop_map(|f| Does::Off(SAID[f].0)),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, max_shrink_iters: 60, ..ProptestConfig::default() })]

    /// Whatever is fitted in whatever order: what comes along with a part is what was said of it when it came off.
    #[test]
    fn what_comes_along_is_what_was_there(all in prop::collection::vec(does(), 1..12)) {
        let garage = Garage::with_car();
        let mut at = Moment { seconds: 1_786_000_000, offset_seconds: 0 };
        let options = Options { fsync: false, ..Options::default() };
        let mut on = "pair A";
        let mut kept: BTreeMap<&str, BTreeMap<&str, &str>> = BTreeMap::new();
        let mut here: BTreeMap<&str, &str> = BTreeMap::new();
        for does in all {
            at.seconds += 600;
            let text = |t: &str| Typed::Reading(FieldValue::One(Scalar::Text(t.to_owned())));
            let (key, typed) = match does {
                Does::Fit(name) if name == on => continue,
                Does::Fit(name) => {
                    kept.insert(on, std::mem::take(&mut here));
                    here = kept.get(name).cloned().unwrap_or_default();
                    on = name;
                    ("rear.tire.name", text(name))
                }
                Does::Says(key, value) if here.get(key) == Some(&value) => continue,
                Does::Says(key, value) => {
                    here.insert(key, value);
                    (key, text(value))
                }
                Does::Off(key) if here.remove(key).is_none() => continue,
                Does::Off(key) => (key, Typed::Off),
            };
            let book = Book::open(&garage.book("grey")).unwrap();
            let edits = vec![Edit { key: key.to_owned(), slot: None, typed }];
            let wanted = Wanted { edits, at: Some(at), ..Wanted::default() };
            let hand = Hand { by: "Ro".to_owned(), now: at };
            let brought = bring_along(&book, &wanted, at).unwrap();
            prop_assert!(brought.doubts.is_empty());
            change(&book, &options, &hand, &brought.wanted).unwrap();
            let sheet = now(&book.store, &book.schema, book.store.head().unwrap()).unwrap().sheet;
            prop_assert_eq!(sheet.text("rear.tire.name"), Some(on));
            for field in schema().part_values("rear.tire.name") {
                prop_assert_eq!(sheet.text(&field.key), here.get(field.key.as_str()).copied(), "{}", field.key);
            }
        }
    }
}
