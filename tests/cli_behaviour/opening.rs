//! Opening a book, and which car is meant.

use crate::common::{FIRST, Garage, has, has_not, sample_file};

#[test]
fn from_a_template_alone() {
    let garage = Garage::new();
    let said = garage.ok(&["new", "Wren", "--template", "ladder-strut", "--class", "footbrake", "--owner", "Tam"]);
    has(&said, &["Wren", "v1", "0 fields"]);
    assert_eq!(garage.log("wren").len(), 1);
    has(
        &garage.read("wren", "car.toml"),
        &[
            "name = \"Wren\"",
            "template = \"ladder-strut\"",
            "class = \"footbrake\"",
            "name = \"Tam\"",
            "since = 2026-08-22",
        ],
    );
    has(&garage.read("wren", "setup.toml"), &["format = 1"]);
    garage.tidy("wren", "new");
    has(&garage.ok(&["sheet"]), &["v1", "0 fields on record"]);
}

#[test]
fn with_first_values_in_any_unit() {
    let garage = Garage::new();
    garage.ok(&[
        "new",
        "Wren",
        "--template",
        "leaf-torsion",
        "rear.limiter.kind=screw",
        "rear.limiter.height=1-1/8",
        "rear.tire.pressure=0.86bar",
        "rear.limiter.gap=10mm",
    ]);
    let sheet = garage.json(&["sheet"]);
    assert_eq!(sheet["fields"]["rear.limiter.height"], 1.125);
    let bar = &sheet["fields"]["rear.tire.pressure"]["left"];
    assert!((bar.as_f64().unwrap() - 12.47).abs() < 0.01, "{bar}");
    has(&garage.read("wren", "setup.toml"), &["height = 1.125 # in", "[rear.limiter]"]);
    garage.tidy("wren", "new with values");
}

#[test]
fn from_a_sheet_and_a_car_file() {
    let garage = Garage::new();
    garage.take_in("plover");
    let sheet = garage.json(&["sheet", "v1"]);
    assert_eq!(sheet["fields"]["front.spring.bar_diameter"]["left"], 0.92);
    garage.tidy("plover", "new from files");
    garage.take_in("dunlin");
    assert_eq!(garage.read("dunlin", "car.toml"), std::fs::read_to_string(sample_file("dunlin", "car.toml")).unwrap());
    let sheet = garage.file("first.toml", "format = 1\n# mine\n[rear.tire]\npressure = 12 # psi\n");
    garage.ok(&["new", "Wren", "--template", "leaf-torsion", "--sheet", &sheet]);
    has(&garage.read("wren", "setup.toml"), &["# mine", "pressure = 12"]);
}

#[test]
fn dated_back() {
    let garage = Garage::new();
    garage.ok(&["new", "Wren", "--template", "leaf-torsion", "--when", "2026-03-01 12:00"]);
    has(&garage.ok(&["history"]), &["Mar 01 12:00"]);
    // Whose it was then, not whose it is today.
    garage.ok(&["new", "Stilt", "--template", "leaf-torsion", "--owner", "Ro", "--when", "2026-06-01 12:00"]);
    has(&garage.read("stilt", "car.toml"), &["since = 2026-06-01"]);
    let half = garage.refused(2, &["new", "Rail", "--template", "leaf-torsion", "--when", "2026-03-01"]);
    has(&half, &["without its time"]);
}

#[test]
fn a_name_too_long_is_told_as_it_was_typed() {
    let garage = Garage::new();
    let said = garage.refused(2, &["new", &"w".repeat(41), "--template", "leaf-torsion"]);
    has(&said, &["a car's name is 1 to 40 characters on one line; this one has 41"]);
    has_not(&said, &["car.toml"]);
    garage.ok(&["new", &"w".repeat(40), "--template", "leaf-torsion"]);
}

#[test]
fn the_same_name_twice_is_refused() {
    let garage = Garage::with_car();
    for name in ["Grey", "GREY", "grey"] {
        has(&garage.refused(2, &["new", name, "--template", "leaf-torsion"]), &["is there already"]);
    }
}

#[test]
fn a_wrong_template_is_told_with_the_right_ones() {
    let garage = Garage::new();
    let said = garage.refused(2, &["new", "Wren", "--template", "leaf"]);
    has(&said, &["`leaf`", "leaf-torsion", "ladder-strut", "fourlink-coilover"]);
    has(&garage.refused(2, &["new", "Wren"]), &["--template"]);
    garage.refused(2, &["new"]);
    assert!(!garage.book("wren").exists(), "half a book is none");
}

#[test]
fn a_wrong_first_sheet_makes_no_book() {
    let garage = Garage::new();
    for (text, says) in [
        ("format = 1\n[rear.tire]\npresure = 12\n", &["presure", "first.toml:3", "rear.tire.pressure"][..]),
        ("format = 1\n[rear.tire]\npressure = 400\n", &["400", "first.toml:3"]),
        ("format = 1\n[rear.tire\npressure = 12\n", &["first.toml:2"]),
        ("format = 1\n[rear.ladder]\nfront_hole = 2\n", &["rear.ladder.front_hole", "leaf-torsion"]),
    ] {
        let sheet = garage.file("first.toml", text);
        has(&garage.refused(3, &["new", "Wren", "--template", "leaf-torsion", "--sheet", &sheet]), says);
        assert!(!garage.book("wren").exists(), "{text}");
    }
    has(&garage.refused(4, &["new", "Wren", "--template", "leaf-torsion", "--sheet", "absent.toml"]), &["absent.toml"]);
}

#[test]
fn unusual_first_values_want_a_yes() {
    let garage = Garage::new();
    let line = ["new", "Wren", "--template", "leaf-torsion", "rear.tire.pressure=36"];
    has(&garage.refused(2, &line), &["36", "4 to 35 psi", "--yes"]);
    garage.ok(&[&line[..], &["--yes"]].concat());
}

/// A first sheet with an unusual value is no different from a typed one.
#[test]
fn unusual_values_of_a_first_sheet_want_a_yes() {
    let garage = Garage::new();
    let sheet = garage.file("first.toml", "format = 1\n[rear.tire]\npressure = 36\n");
    let line = ["new", "Wren", "--template", "leaf-torsion", "--sheet", &sheet];
    has(&garage.refused(2, &line), &["36", "--yes"]);
    garage.ok(&[&line[..], &["--yes"]].concat());
}

#[test]
fn which_car() {
    let garage = Garage::new();
    has(&garage.refused(2, &["sheet"]), &["no car", "slipbook new"]);
    garage.ok(&[&["new", "Grey Wren", "--template", "leaf-torsion"], FIRST].concat());
    garage.ok(&["new", "Grebe", "--template", "ladder-strut"]);
    let leads = |args: &[&str], name: &str| {
        let said = garage.ok(args);
        assert!(said.starts_with(&format!("{name}   ")), "{said}");
    };
    // The last one opened is current.
    leads(&["sheet"], "Grebe");
    leads(&["sheet", "--car", "grey"], "Grey Wren");
    leads(&["--car", "GREY WREN", "sheet"], "Grey Wren");
    leads(&["sheet", "--car", "grey-wren"], "Grey Wren");
    leads(&["sheet", "--car", "greb"], "Grebe");
    has(&garage.refused(2, &["sheet", "--car", "gre"]), &["gre", "grebe", "grey-wren"]);
    has(&garage.refused(2, &["sheet", "--car", "zz"]), &["no car `zz`", "grebe", "grey-wren"]);
    // Standing in a book's folder is enough, however deep.
    let inside = garage.run_in(&garage.book("grey-wren"), &["sheet"]);
    assert!(inside.stdout.starts_with("Grey Wren   "), "{inside:?}");
    std::fs::create_dir_all(garage.book("grey-wren").join("days/2026")).unwrap();
    let deeper = garage.run_in(&garage.book("grey-wren").join("days/2026"), &["sheet"]);
    assert!(deeper.stdout.starts_with("Grey Wren   "), "{deeper:?}");
    let told = garage.run_in(&garage.book("grey-wren"), &["sheet", "--car", "grebe"]);
    assert!(told.stdout.starts_with("Grebe   "), "{told:?}");
    // Made current.
    has(&garage.ok(&["cars", "grey"]), &["Grey Wren", "Grebe", "current"]);
    leads(&["sheet"], "Grey Wren");
    // Current is gone, two are left.
    garage.ok(&["new", "Third", "--template", "ladder-strut"]);
    std::fs::remove_dir_all(garage.book("third")).unwrap();
    has(&garage.refused(2, &["sheet"]), &["which car?", "--car", "grebe", "grey-wren"]);
}

#[test]
fn an_only_car_needs_no_choice() {
    let garage = Garage::with_car();
    std::fs::remove_file(garage.dir().join("garage.toml")).unwrap();
    has(&garage.ok(&["sheet"]), &["Grey   v1"]);
}

#[test]
fn the_garage_may_be_named() {
    let garage = Garage::with_car();
    let other = garage.root().join("other").display().to_string();
    garage.ok(&["--garage", &other, "new", "Wren", "--template", "leaf-torsion"]);
    let cars = garage.ok(&["cars", "--garage", &other]);
    has(&cars, &["Wren"]);
    has_not(&cars, &["Grey"]);
    let empty = garage.root().join("empty").display().to_string();
    assert_eq!(garage.run(&["cars", "--garage", &empty]).code, 0, "an empty garage is no error");
}

#[test]
fn cars_tells_which_cannot_be_opened() {
    let garage = Garage::with_car();
    std::fs::create_dir(garage.book("shell")).unwrap();
    std::fs::write(
        garage.book("shell").join("car.toml"),
        "format = 1\nname = \"Shell\"\ntemplate = \"leaf-torsion\"\n",
    )
    .unwrap();
    has(&garage.ok(&["cars"]), &["Grey", "leaf-torsion", "v1", "shell", "cannot be opened"]);
    // The reason has the whole width, beside cars that can be read too.
    garage.ok(&["new", "Teal", "--template", "leaf-torsion"]);
    std::fs::write(garage.book("shell").join("car.toml"), "format = 7\n").unwrap();
    let said = garage.ok(&["cars"]);
    let reason = said.lines().find(|l| l.contains("cannot be opened")).unwrap_or_else(|| panic!("{said}"));
    assert!(reason.starts_with("shell") && reason.chars().count() > 60, "{said}");
    let cars = garage.json(&["cars"]);
    assert_eq!(cars["cars"].as_array().map(Vec::len), Some(3), "{cars}");
}

/// A car and a track may be called in any letters: each has a folder and a file of its own, and its name names it.
#[test]
fn names_in_other_letters() {
    let garage = Garage::new();
    garage.at("2026-08-01T09:00:00");
    let cars = [("Ласточка", "lastochka"), ("Χελιδόνι", "chelidoni"), ("Žluva", "zluva"), ("隼", ""), ("鷹", "")];
    for (name, folder) in cars {
        garage.ok(&["new", name, "--template", "leaf-torsion", "rear.limiter.kind=screw", "rear.limiter.height=1"]);
        let json = garage.json(&["cars"]);
        let car =
            json["cars"].as_array().unwrap().iter().find(|c| c["name"] == name).unwrap_or_else(|| panic!("{json}"));
        let found = car["folder"].as_str().unwrap().to_owned();
        assert!(found == folder || folder.is_empty() && found.starts_with("car-"), "{name}: {found}");
        for wanted in [name, &name.to_uppercase(), &found] {
            has(&garage.ok(&["sheet", "--car", wanted]), &[name]);
            garage.ok(&["cars", wanted]);
        }
    }
    garage.at(crate::common::SATURDAY);
    for (track, minute) in [("Поле", "00"), ("Роща", "10"), ("隼", "20"), ("鷹", "30")] {
        garage.ok(&["run", "--track", track, "60=1.6", "--at", &format!("13:{minute}"), "--yes"]);
    }
    let json = garage.json(&["cars"]);
    let current = json["cars"].as_array().unwrap().iter().find(|c| c["current"] == true).unwrap();
    let days = std::fs::read_dir(garage.book(current["folder"].as_str().unwrap()).join("days/2026"));
    let mut days: Vec<String> = days.unwrap().map(|e| e.unwrap().file_name().to_string_lossy().into_owned()).collect();
    days.sort();
    assert_eq!(days.len(), 4, "{days:?}");
    assert!(
        days.contains(&"08-22-pole.toml".to_owned()) && days.contains(&"08-22-roshcha.toml".to_owned()),
        "{days:?}"
    );
    let text = garage.ok(&["runs", "--all"]);
    for track in ["Поле", "Роща", "隼", "鷹"] {
        has(&text, &[track]);
    }
    garage.ok(&["verify"]);
}

#[test]
fn names_no_folder_can_have() {
    let garage = Garage::new();
    for name in ["..", ".", "/", "a/../../b", "CON", "-", "\u{f6}\u{df}e", "name\u{1b}[31m", "two\nlines"] {
        let output = garage.run(&["new", "--template", "leaf-torsion", "--", name]);
        assert!(!output.stderr.contains("panicked"), "{output:?}");
        assert!([0, 2, 3].contains(&output.code), "{name:?} {output:?}");
        let beside: Vec<_> = std::fs::read_dir(garage.root()).unwrap().flatten().map(|e| e.file_name()).collect();
        assert!(beside.iter().all(|n| n == "garage"), "{name:?} wrote beside the garage: {beside:?}");
    }
}

/// The derived cache is kept by folder; what lies in the folder may be another book by now.
#[test]
fn another_book_in_the_folder_of_one_that_was_asked() {
    let garage = Garage::with_car();
    garage.ok(&["history"]);
    std::fs::remove_dir_all(garage.book("grey")).unwrap();
    garage.at("2026-08-02T09:00:00");
    garage.ok(&["new", "Grey", "--template", "leaf-torsion", "rear.limiter.kind=screw", "rear.limiter.height=2"]);
    assert_eq!(garage.json(&["history"])["versions"].as_array().unwrap().len(), 1);
}

/// One of a thing is told as one.
#[test]
fn one_field() {
    let garage = Garage::new();
    has(
        &garage.ok(&["new", "One", "--template", "leaf-torsion", "rear.limiter.height=1.00"]),
        &["v1 on record: 1 field\n"],
    );
    has(&garage.ok(&["sheet"]), &["1 field on record"]);
    has(&garage.ok(&["history"]), &["book opened, 1 field on record"]);
    garage.ok(&["change", "limiter", "0.75"]);
    has(&garage.ok(&["diff"]), &["same      no field"]);
}
