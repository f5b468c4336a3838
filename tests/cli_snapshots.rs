//! The whole of every answer on the sample garage, as files under `snapshots/` that a reviewer reads: the command line, the
//! answer, what was said besides, the status. Clock, hand and season are fixed, so ids are too; only paths are replaced.
//!
//! A change of what is said: `INSTA_UPDATE=always cargo test --test cli_snapshots`, then read the difference.

mod common;

use common::{Garage, no_controls};

/// Compares with `snapshots/NAME.snap`.
fn same(name: &str, text: &str) {
    no_controls(text);
    let mut settings = insta::Settings::clone_current();
    settings.set_prepend_module_to_snapshot(false);
    settings.set_omit_expression(true);
    settings.bind(|| insta::assert_snapshot!(name, text));
}

/// The answer for people, in the season of a car.
fn text(name: &str, args: &[&str]) {
    same(name, &Garage::sample().shown(args));
}

/// The answer for programs: one JSON value, laid out as it came.
fn json(name: &str, args: &[&str]) {
    let garage = Garage::sample();
    let value = garage.json(args);
    assert!(value.is_object(), "an answer is an object with named parts");
    let all = [args, &["--format", "json"]].concat();
    let shown = garage.shown(&all);
    assert!(!shown.contains("--- stderr"), "{shown}");
    same(name, &shown);
}

macro_rules! snapshots {
    ($how:ident: $($name:ident $args:expr;)*) => {
        $(#[test] fn $name() { $how(stringify!($name), &$args); })*
    };
}

snapshots! { text:
    plover_history ["history", "--car", "plover"];
    plover_history_all ["history", "--all", "--car", "plover"];
    plover_history_field ["history", "--field", "limiter", "--car", "plover"];
    plover_history_field_pair ["history", "--field", "rear.tire.pressure", "--car", "plover"];
    plover_history_text ["history", "clamp", "--car", "plover"];
    plover_history_day ["history", "jul", "11", "--car", "plover"];
    plover_history_nothing ["history", "gearbox", "--car", "plover"];
    plover_diff ["diff", "--car", "plover"];
    plover_diff_v12_v17 ["diff", "v12", "v17", "--car", "plover"];
    plover_diff_v17_v12 ["diff", "v17", "v12", "--car", "plover"];
    plover_diff_one_setup ["diff", "v15", "v17", "--car", "plover"];
    plover_diff_notes ["diff", "v1", "v19", "--notes", "--car", "plover"];
    plover_diff_by_name ["diff", "last-good", "now", "--car", "plover"];
    plover_blame_60 ["blame", "60", "--car", "plover"];
    plover_blame_60_all ["blame", "60", "--all", "--car", "plover"];
    plover_blame_et ["blame", "et", "--car", "plover"];
    plover_blame_mph ["blame", "mph", "--top", "3", "--car", "plover"];
    plover_blame_explain ["blame", "60", "--explain", "v14", "--car", "plover"];
    plover_blame_field ["blame", "--field", "limiter", "--car", "plover"];
    plover_blame_package ["blame", "--package", "--car", "plover"];
    plover_blame_spread ["blame", "60", "spread", "--car", "plover"];
    plover_blame_fields ["blame", "--fields", "--car", "plover"];
    plover_numbers ["numbers", "--car", "plover"];
    plover_numbers_v12_v15 ["numbers", "v12", "v15", "--car", "plover"];
    plover_numbers_with ["numbers", "--with", "limiter 0.75", "--car", "plover"];
    plover_numbers_why ["numbers", "--why", "limiter_force_hit", "--car", "plover"];
    plover_numbers_cg ["numbers", "--cg", "--car", "plover"];
    dunlin_numbers_short ["numbers", "--short", "--car", "dunlin"];
    knot_numbers_short ["numbers", "--short", "--car", "knot"];
    plover_check ["check", "--car", "plover"];
    plover_check_all ["check", "--all", "--car", "plover"];
    plover_check_why ["check", "--why", "P2", "--car", "plover"];
    plover_check_with ["check", "--with", "limiter 0.75", "--car", "plover"];
    dunlin_check ["check", "--car", "dunlin"];
    knot_check ["check", "--car", "knot"];
    plover_revert_last_good ["revert", "--last-good", "--dry-run", "--car", "plover"];
    plover_revert_v12 ["revert", "v12", "--dry-run", "--car", "plover"];
    plover_revert_v12_engine ["revert", "v12", "--engine", "--dry-run", "--car", "plover"];
    plover_revert_only ["revert", "v12", "--only", "rear shocks", "--dry-run", "--car", "plover"];
    plover_trial_plan ["trial", "plan", "v15", "v16", "--car", "plover"];
    plover_trial_plan_et ["trial", "plan", "v18", "v19", "et", "--minutes", "200", "--car", "plover"];
    plover_trial_next ["trial", "next", "--car", "plover"];
    dunlin_trial_next ["trial", "next", "et", "--car", "dunlin"];
    plover_runs ["runs", "--car", "plover"];
    plover_runs_v14 ["runs", "v14", "--car", "plover"];
    plover_runs_day ["runs", "jul", "11", "--car", "plover"];
    plover_explain ["runs", "--explain", "jul 11 14:15", "--car", "plover"];
    plover_dial ["dial", "--on", "v17", "--air", "84F 52% 29.42 station", "--car", "plover"];
    dunlin_backtest ["dial", "--backtest", "--last", "30", "--car", "dunlin"];
    plover_history_sea_level ["history", "--reference", "sea-level", "--car", "plover"];
    plover_runs_by_version ["runs", "--by-version", "--car", "plover"];
    plover_day ["day", "jul", "11", "--car", "plover"];
    plover_page_blank ["page", "--blank", "--car", "plover"];
    plover_sheet ["sheet", "--car", "plover"];
    plover_sheet_v12 ["sheet", "v12", "--car", "plover"];
    plover_sheet_day ["sheet", "jun", "13", "--car", "plover"];
    plover_part ["part", "--car", "plover"];
    plover_part_one ["part", "pair", "A", "--car", "plover"];
    plover_part_fit ["part", "fit", "pair", "A,", "rear", "tires", "9.5", "--yes", "--dry-run", "--car", "plover"];
    plover_revert_v3 ["revert", "v3", "--dry-run", "--car", "plover"];
    plover_change ["change", "--dry-run", "limiter", "down", "1/4,", "rear", "shocks", "looser", "2", "--car", "plover"];
    plover_air ["air", "84F 52% 29.42 station track 118F sun head 4 mph", "--dry-run", "--car", "plover"];
    plover_wrench_v17 ["wrench", "v17", "--car", "plover"];
    plover_wrench_v1 ["wrench", "v1", "--engine", "--car", "plover"];
    plover_wrench_v1_v17 ["wrench", "v1", "v17", "--only", "front", "--car", "plover"];
    plover_fields_limiter ["fields", "limiter", "--car", "plover"];
    plover_fields_one ["fields", "rear.limiter.height", "--car", "plover"];
    plover_measure ["measure", "--car", "plover"];
    plover_measure_gap ["measure", "--dry-run", "limiter", "gap,", "corner", "lr", "765?", "--car", "plover"];
    dunlin_history ["history", "--car", "dunlin"];
    dunlin_blame_60 ["blame", "60", "--car", "dunlin"];
    dunlin_blame_package ["blame", "--package", "front.travel.limiter_length,front.shock.extension,rear.shock.extension", "--car", "dunlin"];
    dunlin_blame_et ["blame", "et", "--car", "dunlin"];
    dunlin_diff_best ["diff", "best", "--car", "dunlin"];
    dunlin_revert_last_good ["revert", "--last-good", "--dry-run", "--car", "dunlin"];
    dunlin_runs ["runs", "--car", "dunlin"];
    dunlin_measure ["measure", "--car", "dunlin"];
    dunlin_sheet ["sheet", "--car", "dunlin"];
    knot_history ["history", "--car", "knot"];
    knot_history_own_field ["history", "--field", "own.fuel_pump", "--car", "knot"];
    knot_blame_et ["blame", "et", "--car", "knot"];
    knot_diff_v8_v13 ["diff", "v8", "v13", "--car", "knot"];
    knot_runs_1000 ["runs", "--by-version", "--all", "--car", "knot"];
    knot_wrench_v1 ["wrench", "v1", "--car", "knot"];
    knot_sheet ["sheet", "--car", "knot"];
    cars ["cars"];
}

snapshots! { json:
    json_history ["history", "v19", "--car", "plover"];
    json_history_field ["history", "--field", "limiter", "--car", "plover"];
    json_diff ["diff", "v12", "v17", "--car", "plover"];
    json_diff_notes ["diff", "v1", "v19", "--notes", "--car", "plover"];
    json_blame_60 ["blame", "60", "--car", "plover"];
    json_blame_field ["blame", "--field", "limiter", "--car", "plover"];
    json_blame_package ["blame", "--package", "P2", "--car", "plover"];
    json_blame_spread ["blame", "60", "spread", "--car", "plover"];
    json_blame_fields ["blame", "--fields", "--car", "plover"];
    json_revert ["revert", "--last-good", "--dry-run", "--car", "plover"];
    json_wrench ["wrench", "v17", "--car", "plover"];
    json_mend ["mend", "v18", "rear", "tires", "12.75", "--dry-run", "--car", "plover"];
    json_runs_v14 ["runs", "v14", "--car", "plover"];
    json_runs_day ["runs", "jul", "11", "--car", "plover"];
    json_explain ["runs", "--explain", "jul 11 14:15", "--car", "plover"];
    json_numbers ["numbers", "--with", "limiter 0.75", "--car", "plover"];
    json_check ["check", "--car", "plover"];
    json_dial ["dial", "--on", "v17", "--air", "84F 52% 29.42 station", "--car", "plover"];
    json_part ["part", "--car", "plover"];
    json_part_fit ["part", "fit", "pair", "A", "--dry-run", "--car", "plover"];
    json_day ["day", "jul", "11", "--car", "plover"];
    json_air ["air", "84F 52% 29.42 station", "--dry-run", "--car", "plover"];
    json_measure ["measure", "--car", "knot"];
    json_sheet ["sheet", "--car", "plover"];
    json_change ["change", "--dry-run", "limiter", "down", "1/4", "--car", "plover"];
    json_fields ["fields", "rear.limiter.height", "--car", "plover"];
    json_cars ["cars"];
}

snapshots! { text:
    help ["--help"];
    help_run ["run", "--help"];
    help_dial ["dial", "--help"];
    help_numbers ["numbers", "--help"];
    help_check ["check", "--help"];
    help_air ["air", "--help"];
    help_change ["change", "--help"];
    help_day ["day", "--help"];
    help_page ["page", "--help"];
    help_runs ["runs", "--help"];
    help_history ["history", "--help"];
    help_diff ["diff", "--help"];
    help_blame ["blame", "--help"];
    help_trial ["trial", "--help"];
    help_trial_plan ["trial", "plan", "--help"];
    help_trial_start ["trial", "start", "--help"];
    help_trial_judge ["trial", "judge", "--help"];
    help_trial_next ["trial", "next", "--help"];
    help_revert ["revert", "--help"];
    help_wrench ["wrench", "--help"];
    help_mend ["mend", "--help"];
    help_oops ["oops", "--help"];
    late_change ["change", "limiter", "down", "1/4", "--when", "2026-06-27 12:00", "--dry-run", "--car", "plover"];
    late_window ["change", "rear", "tires", "12.25", "--between", "2026-06-13 11:00", "2026-06-13 16:30", "--dry-run", "--car", "plover"];
    mend_value ["mend", "v18", "rear", "tires", "12.75", "--dry-run", "--car", "plover"];
    mend_never ["mend", "v16", "--never", "--dry-run", "--car", "plover"];
    history_as_recorded ["history", "--as-recorded", "--car", "plover"];
    help_measure ["measure", "--help"];
    help_new ["new", "--help"];
    help_cars ["cars", "--help"];
    help_part ["part", "--help"];
    help_part_fit ["part", "fit", "--help"];
    help_sheet ["sheet", "--help"];
    help_fields ["fields", "--help"];
    help_import ["import", "--help"];
    help_copy ["copy", "--help"];
    help_receive ["receive", "--help"];
    help_join ["join", "--help"];
    help_verify ["verify", "--help"];
    help_export ["export", "--help"];
    help_handover ["handover", "--help"];
    help_tour ["tour", "--help"];
}

#[test]
fn every_command_has_its_help_here() {
    let help = Garage::sample().run(&["--help"]).stdout;
    let source = include_str!("cli_snapshots.rs");
    let named = help.lines().filter(|l| l.starts_with("  ") && !l.trim().starts_with('-'));
    let commands: Vec<&str> = named.filter_map(|l| l.split_whitespace().next()).collect();
    assert!(commands.contains(&"run") && commands.contains(&"import"), "{help}");
    let missing: Vec<_> = commands
        .iter()
        .filter(|c| c.chars().all(|c| c.is_ascii_lowercase()) && !source.contains(&format!("help_{c} ")))
        .collect();
    assert!(missing.is_empty(), "{missing:?}");
}

/// The first screen in the states it has; the copies go beside a garage of their own.
#[test]
fn the_first_screen() {
    let empty = Garage::new();
    same("home_no_car", &empty.shown(&[]));
    let garage = Garage::new();
    garage.take_in("plover");
    garage.take_in("knot");
    let stick = garage.root().join("stick");
    std::fs::create_dir(&stick).unwrap();
    let (folder, bundle) = (stick.display().to_string(), stick.join("plover.bundle").display().to_string());
    let plover = |args: &[&'static str]| garage.shown(&[args, &["--car", "plover"]].concat());
    garage.at("2026-08-22T19:30:00");
    same("home_race_day", &plover(&[]));
    same("copy_folder", &garage.shown(&["copy", &folder, "--car", "plover"]));
    garage.ok(&["copy", &bundle, "--car", "plover"]);
    garage.at("2026-10-03T19:30:00");
    garage.ok(&["change", "--car", "plover", "launch.rpm=4400", "--yes"]);
    let again = garage.shown(&["copy", &folder, "--car", "plover"]);
    same("copy_folder_again", &again);
    garage.at("2026-11-03T19:30:00");
    same("home_copy_old", &plover(&[]));
    garage.edit("plover", "setup.toml", |t| t.replace("4400", "4500"));
    same("home_edited_by_hand", &plover(&[]));
    same("json_home", &plover(&["--format", "json"]));
    std::fs::remove_file(garage.dir().join("garage.toml")).unwrap();
    same("home_which_car", &garage.shown(&[]));
    std::fs::write(garage.book("knot").join(".git/HEAD"), "ref: refs/heads/other\n").unwrap();
    same("home_broken", &garage.shown(&["--car", "knot"]));
}

/// A screen is as wide as it is told to be.
#[test]
fn lines_fit_the_screen() {
    let garage = Garage::sample();
    for columns in [60, 80, 120] {
        for args in [
            &["history", "--car", "plover"][..],
            &["day", "jul", "11", "--car", "plover"],
            &["measure", "--car", "plover"],
            &["air", "84F 52% 29.42 station track 118F sun", "--dry-run", "--car", "plover"],
            &["diff", "v12", "v17", "--car", "plover"],
            &["blame", "60", "--car", "plover"],
            &["blame", "60", "--explain", "v14", "--all-runs", "--car", "plover"],
            &["runs", "--car", "plover"],
            &["trial", "plan", "v18", "v19", "--car", "plover"],
            &["trial", "next", "--all", "--car", "plover"],
            &["sheet", "--car", "plover"],
            &["part", "--car", "plover"],
            &["revert", "--last-good", "--dry-run", "--car", "plover"],
            &["wrench", "v1", "--engine", "--car", "plover"],
            &["numbers", "--car", "plover"],
            &["numbers", "v12", "v15", "--car", "plover"],
            &["numbers", "--why", "limiter", "--car", "plover"],
            &["check", "--all", "--car", "plover"],
            &["check", "--why", "limiter", "--car", "plover"],
            &["wrench", "v1", "v12", "--engine", "--car", "dunlin"],
            &["--car", "plover"],
        ] {
            let output = garage.run_with(garage.root(), &[("COLUMNS", &columns.to_string())], args);
            assert_eq!(output.code, 0);
            for line in output.stdout.lines() {
                assert!(line.chars().count() <= columns, "{columns}: {}: {line}", args.join(" "));
            }
        }
    }
}

/// What was imported is what the tables hold, counted here by hand from the text.
#[test]
fn every_run_of_the_tables_is_there() {
    let garage = Garage::sample();
    for (car, versions, runs) in [("plover", 19, 77), ("dunlin", 16, 80), ("knot", 15, 84)] {
        let head = garage.ok(&["history", "--car", car]);
        let wanted = format!("{versions} versions, {runs} runs");
        assert!(head.lines().next().unwrap_or_default().contains(&wanted), "{wanted}: {head}");
        garage.tidy(car, "import of the season");
    }
}
