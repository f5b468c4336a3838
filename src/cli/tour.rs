//! `tour`: the sample garage, built and shown by the ordinary commands.

use super::context::Context;
use super::ui::Ui;
use crate::garage::{Error, Result};
use clap::Args;
use std::ffi::OsString;
use std::fs;
use std::path::{Path, PathBuf};

/// Build the sample garage in a folder, and show what the book answers
///
/// Three invented cars, a season each. The folder is named on the first line;
/// play in it with --garage.
#[derive(Debug, Args)]
#[command(verbatim_doc_comment)]
pub struct TourArgs {
    /// Where to build it (default: slipbook-tour in the folder for temporary files)
    #[arg(value_name = "DIR")]
    dir: Option<PathBuf>,
}

macro_rules! sample {
    ($car:literal) => {
        (
            $car,
            include_str!(concat!("../../sample-garage/", $car, "/car.toml")),
            include_str!(concat!("../../sample-garage/", $car, "/setup.toml")),
            include_str!(concat!("../../sample-garage/", $car, "/season.csv")),
        )
    };
}

/// Folder, car, first sheet, season.
const CARS: [(&str, &str, &str, &str); 3] = [sample!("dunlin"), sample!("knot"), sample!("plover")];

/// Marks a folder that may be built anew.
const MARK: &str = ".slipbook-tour";

/// Runs the command.
pub fn run(ctx: &Context, ui: &mut Ui, args: &TourArgs) -> Result<()> {
    let dir = args.dir.clone().unwrap_or_else(|| std::env::temp_dir().join("slipbook-tour"));
    clear(&dir)?;
    let texts = dir.join("texts");
    let garage = dir.join("garage");
    let make = |p: &Path| fs::create_dir_all(p).map_err(|e| Error::io(p, e));
    make(&texts)?;
    write(&dir.join(MARK), "This folder was made by `slipbook tour` and may be deleted.\n")?;
    ui.text(&format!("The sample garage is built in {}\n", garage.display()));
    for (car, identity, sheet, season) in CARS {
        let at = texts.join(car);
        make(&at)?;
        let (car_file, sheet_file, table) = (at.join("car.toml"), at.join("setup.toml"), at.join("season.csv"));
        write(&car_file, identity)?;
        write(&sheet_file, sheet)?;
        write(&table, season)?;
        let new = [
            "new",
            "--car-file",
            &text(&car_file),
            "--sheet",
            &text(&sheet_file),
            "--when",
            "2026-03-01 12:00",
            "--yes",
        ];
        command(ctx, ui, &garage, &new.map(str::to_owned), false)?;
        command(
            ctx,
            ui,
            &garage,
            &["import".to_owned(), text(&table), "--car".to_owned(), car.to_owned(), "--yes".to_owned()],
            false,
        )?;
    }
    for shown in [
        &["history", "--car", "plover"][..],
        &["diff", "v12", "v17", "--car", "plover"],
        &["blame", "60", "--car", "plover"],
        &["check", "--car", "plover"],
        &["revert", "--last-good", "--dry-run", "--car", "plover"],
        &["numbers", "--short", "--car", "knot"],
        &["part", "--car", "plover"],
        &["part", "fit", "pair A", "--dry-run", "--car", "plover"],
        &["blame", "60", "--top", "4", "--car", "dunlin"],
        &["history", "--field", "own.fuel_pump", "--car", "knot"],
        // A change nobody wrote down, found on the back of a slip; then a number that was read wrong.
        &[
            "change",
            "wheelie",
            "bar",
            "down",
            "1/2",
            "--when",
            "2026-08-01 15:30",
            "--why",
            "on the back of a slip",
            "--car",
            "dunlin",
        ],
        &["mend", "v12", "rear", "tires", "10.25", "--car", "dunlin"],
        &["history", "tires", "--car", "dunlin"],
    ] {
        let words: Vec<String> = shown.iter().map(|w| (*w).to_owned()).collect();
        command(ctx, ui, &garage, &words, true)?;
    }
    ui.text(&format!("\nPlay in it:  slipbook --garage {} history --car knot\n", garage.display()));
    Ok(())
}

/// Runs one ordinary command on the sample garage, under the line that gives it.
fn command(ctx: &Context, ui: &mut Ui, garage: &Path, words: &[String], titled: bool) -> Result<()> {
    if titled {
        let quoted = |w: &String| if w.contains(' ') { format!("\"{w}\"") } else { w.clone() };
        ui.text(&format!("\n$ slipbook {}\n", words.iter().map(quoted).collect::<Vec<_>>().join(" ")));
    }
    let mut args: Vec<OsString> = vec![
        "slipbook".into(),
        "--yes".into(),
        "--garage".into(),
        garage.into(),
        "--by".into(),
        ctx.hand.by.clone().into(),
    ];
    args.extend(words.iter().map(OsString::from));
    super::with_args(ui, args).map_err(|_| {
        Error::data("the tour stopped at the command above", "it is a bug: the sample data ships with the program")
    })
}

fn clear(dir: &Path) -> Result<()> {
    if !dir.exists() {
        return Ok(());
    }
    if !dir.join(MARK).is_file() {
        return Err(Error::usage(
            format!("{} is there and was not made by the tour", dir.display()),
            "name another folder",
        ));
    }
    fs::remove_dir_all(dir).map_err(|e| Error::io(dir, e))
}

fn write(path: &Path, text: &str) -> Result<()> {
    fs::write(path, text).map_err(|e| Error::io(path, e))
}

fn text(path: &Path) -> String {
    path.display().to_string()
}
