//! Books to measure on: a real sheet, a generated career on it, taken in by the ordinary `import`.
//!
//! Six commits are one change and the five runs on it; twelve runs are a day. The same `N` gives the same book, to the
//! last object id. Books are made once and kept under cargo's target folder; what is measured works on copies.

use std::fmt::Write as _;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

/// Changes with what the generator writes or how `import` records it, so that no stale book is measured.
const FORMAT: u32 = 1;

/// Commits in a book.
pub const SIZES: [usize; 3] = [100, 1_000, 6_000];

/// How the objects of a book lie on the disk.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Layout {
    /// A file each, as single records leave them.
    Loose,
    /// One pack, as `git gc` leaves them.
    Packed,
}

impl Layout {
    /// Both.
    pub const ALL: [Layout; 2] = [Layout::Loose, Layout::Packed];

    /// Its word in tables and names.
    pub fn word(self) -> &'static str {
        match self {
            Layout::Loose => "loose",
            Layout::Packed => "packed",
        }
    }
}

/// The clock of everything that is not a measured record: after the last run of the largest book.
pub const NOW: &str = "2030-01-01T12:00:00Z";

/// The program measured.
pub const SLIPBOOK: &str = env!("CARGO_BIN_EXE_slipbook");

/// A program in a folder, with nothing of the user's surroundings but `PATH`.
pub fn program(name: &str, dir: &Path) -> Command {
    let mut command = Command::new(name);
    command.env_clear().current_dir(dir).stdin(Stdio::null()).stdout(Stdio::null()).stderr(Stdio::null());
    command.env("PATH", std::env::var_os("PATH").unwrap_or_default());
    command.envs([("TZ", "UTC"), ("LC_ALL", "C")]).env("HOME", home(dir));
    if name == SLIPBOOK {
        let garage = dir.parent().unwrap_or(dir);
        command.env("SLIPBOOK_GARAGE", garage).env("SLIPBOOK_BY", "Ro").env("SLIPBOOK_NOW", NOW);
    } else {
        command.envs([("GIT_CONFIG_GLOBAL", "/dev/null"), ("GIT_CONFIG_NOSYSTEM", "1")]);
    }
    command
}

/// The home folder of what runs in `dir`: beside the book, so that a derived cache goes with the copy.
fn home(dir: &Path) -> PathBuf {
    dir.parent().unwrap_or(dir).join(".home")
}

/// Throws away what slipbook keeps outside the book to be quicker the next time.
pub fn forget(dir: &Path) {
    let _ = fs::remove_dir_all(home(dir));
}

/// Runs a program to its end; its answer, or a panic that names it.
pub fn said(command: &mut Command) -> String {
    let out = command.stdout(Stdio::piped()).stderr(Stdio::piped()).output().expect("the program starts");
    assert!(out.status.success(), "{command:?}: {}", String::from_utf8_lossy(&out.stderr));
    String::from_utf8_lossy(&out.stdout).trim_end().to_owned()
}

fn git(dir: &Path, args: &[&str]) -> String {
    said(program("git", dir).args(args))
}

fn store() -> PathBuf {
    Path::new(env!("CARGO_TARGET_TMPDIR")).join("bench-books")
}

/// The kept book of this size and layout: the folder of the car. Never written to once it is made.
pub fn kept(commits: usize, layout: Layout) -> PathBuf {
    let name = format!("f{FORMAT}-{commits}-{}", layout.word());
    let garage = store().join(&name);
    let car = garage.join("plover");
    if !garage.exists() {
        eprintln!("making the {} book of {commits} commits once", layout.word());
        let half = store().join(format!("{name}.half"));
        let _ = fs::remove_dir_all(&half);
        fs::create_dir_all(&half).expect("the target folder can be written");
        make(&half, commits);
        lay_out(&half.join("plover"), layout);
        check(&half.join("plover"), commits);
        fs::rename(&half, &garage).expect("the finished book can be renamed");
    }
    car
}

/// A copy of a kept book that may be written to.
pub fn copied(commits: usize, layout: Layout, name: &str) -> PathBuf {
    let from = kept(commits, layout);
    let garage = store().join(format!("copy-{name}"));
    let _ = fs::remove_dir_all(&garage);
    let car = garage.join("plover");
    copy_dir(&from, &car);
    // Copied files have other inodes; without this the first command would pay for looking at each of them.
    git(&car, &["update-index", "-q", "--refresh"]);
    for (key, value) in
        [("gc.auto", "0"), ("maintenance.auto", "false"), ("user.name", "Ro"), ("user.email", "ro@localhost")]
    {
        git(&car, &["config", key, value]);
    }
    car
}

/// Throws the copies away; the kept books stay.
pub fn sweep() {
    for entry in fs::read_dir(store()).into_iter().flatten().flatten() {
        if entry.file_name().to_string_lossy().starts_with("copy-") {
            let _ = fs::remove_dir_all(entry.path());
        }
    }
}

fn copy_dir(from: &Path, to: &Path) {
    fs::create_dir_all(to).expect("the copy's folder can be made");
    for entry in fs::read_dir(from).expect("the book can be read").flatten() {
        let (path, to) = (entry.path(), to.join(entry.file_name()));
        if path.is_dir() {
            copy_dir(&path, &to);
        } else {
            fs::copy(&path, &to).expect("the file can be copied");
        }
    }
}

fn make(garage: &Path, commits: usize) {
    let sample = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-garage/plover");
    let table = garage.join("career.csv");
    fs::write(&table, career(commits - 1)).expect("the table can be written");
    // `program` takes the garage from the folder above the one it runs in.
    let dir = garage.join("plover");
    let ours = |args: &[&str]| {
        let mut command = program(SLIPBOOK, garage);
        command.env("SLIPBOOK_GARAGE", garage).env("SLIPBOOK_FSYNC", "off").args(args);
        said(&mut command);
    };
    let (car, sheet) = (sample.join("car.toml"), sample.join("setup.toml"));
    let path = |p: &Path| p.to_str().expect("the path is UTF-8").to_owned();
    ours(&["new", "--car-file", &path(&car), "--sheet", &path(&sheet), "--when", "2018-04-01 12:00"]);
    ours(&["import", "--yes", &path(&table)]);
    assert!(dir.is_dir(), "the book is where its car's name says");
}

/// An import leaves one pack; single records would have left loose objects.
fn lay_out(car: &Path, layout: Layout) {
    if layout == Layout::Packed {
        git(car, &["gc", "-q"]);
        return;
    }
    let packs = car.join(".git/objects/pack");
    let aside = car.join(".git/packs-aside");
    fs::rename(&packs, &aside).expect("the packs can be put aside");
    fs::create_dir(&packs).expect("the pack folder can be made");
    for entry in fs::read_dir(&aside).expect("the packs can be listed").flatten() {
        if entry.path().extension().is_some_and(|e| e == "pack") {
            let pack = fs::File::open(entry.path()).expect("the pack can be read");
            said(program("git", car).args(["unpack-objects", "-q"]).stdin(pack));
        }
    }
    fs::remove_dir_all(&aside).expect("the packs can be removed");
}

fn check(car: &Path, commits: usize) {
    assert_eq!(git(car, &["rev-list", "--count", "HEAD"]), commits.to_string(), "commits in the book");
    assert_eq!(git(car, &["status", "--porcelain"]), "", "the work tree is that of the last record");
    git(car, &["fsck", "--strict"]);
}

/// A small generator of numbers that is the same everywhere (splitmix64).
struct Dice(u64);

impl Dice {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    fn below(&mut self, n: u64) -> u64 {
        self.next() % n
    }

    /// Roughly normal, with deviation 1.
    fn scatter(&mut self) -> f64 {
        (0..12).map(|_| self.below(1 << 20) as f64 / f64::from(1 << 20)).sum::<f64>() - 6.0
    }
}

/// What the racer of these books turns: field, lowest, step, steps, the step the sample's sheet stands on, digits.
const TURNED: [(&str, f64, f64, u64, u64, usize); 11] = [
    ("rear.limiter.height", 0.5, 0.25, 6, 2, 2),
    ("rear.shock.extension", 2.0, 1.0, 9, 6, 0),
    ("rear.shock.compression", 1.0, 1.0, 9, 3, 0),
    ("rear.tire.pressure", 11.5, 0.25, 12, 8, 2),
    ("rear.leaf.rear_clamps", 0.0, 1.0, 4, 2, 0),
    ("rear.leaf.preload_shim", 0.0, 0.125, 6, 2, 3),
    ("front.spring.adjuster", 2.0, 0.5, 14, 8, 1),
    ("front.tire.pressure", 30.0, 1.0, 12, 4, 0),
    ("front.align.toe", 0.06, 0.03, 5, 2, 2),
    ("launch.rpm", 2600.0, 100.0, 14, 8, 0),
    ("engine.timing", 31.0, 0.5, 10, 6, 1),
];
const WHY: [&str; 5] = ["chasing bite", "it spun twice", "the air came in", "back to what worked", ""];
const DID: [&str; 4] = ["", "dead hook", "spun at the hit", "even marks"];

/// A season table of as many rows; each row is one record.
fn career(rows: usize) -> String {
    let slip = "lane,reaction,ft60,ft330,ft660,mph660,ft1000,ft1320,mph1320,did,temperature,humidity,pressure_station,psi_rear,note";
    let mut out = format!("date,time,track,finish,elevation,{slip},why");
    for (field, ..) in TURNED {
        let _ = write!(out, ",{field}");
    }
    out.push('\n');
    let mut dice = Dice(0x51_1b_00_4b);
    let mut at = TURNED.map(|t| t.4);
    let mut day: jiff::civil::Date = jiff::civil::date(2018, 4, 7);
    let (mut in_day, mut minute, mut setup) = (0, 9 * 60, 0.0_f64);
    for row in 0..rows {
        if in_day == 12 {
            // Saturday, Sunday, Saturday; April to October.
            let step = if day.weekday() == jiff::civil::Weekday::Saturday { 1 } else { 6 };
            day = day.checked_add(jiff::Span::new().days(step)).expect("the career ends before the calendar");
            if day.month() > 10 {
                let spring = jiff::civil::date(day.year() + 1, 4, 1);
                let to_saturday = i64::from((6 - spring.weekday().to_sunday_zero_offset()).rem_euclid(7));
                day = spring
                    .checked_add(jiff::Span::new().days(to_saturday))
                    .expect("the career ends before the calendar");
            }
            (in_day, minute) = (0, 9 * 60);
        }
        let track = if day.month() % 2 == 0 { "Osier Flats,1320,612" } else { "Tern Hollow,1320,1188" };
        let _ = write!(out, "{day},{:02}:{:02},{track},", minute / 60, minute % 60);
        minute += 20;
        if row % 6 == 0 {
            let i = dice.below(TURNED.len() as u64) as usize;
            let (_, low, step, steps, _, digits) = TURNED[i];
            // Always another value than the one on the car.
            at[i] = (at[i] + 1 + dice.below(steps - 1)) % steps;
            setup = 0.012 * dice.scatter();
            let why = WHY[dice.below(5) as usize];
            let _ = write!(out, "{}{why},{}", ",".repeat(15), ",".repeat(i));
            let _ = writeln!(out, "{:.digits$}{}", low + step * at[i] as f64, ",".repeat(TURNED.len() - 1 - i));
            continue;
        }
        in_day += 1;
        let hit = dice.scatter();
        let ft60 = 1.655 + setup + 0.016 * hit;
        let ft330 = ft60 + 3.123 + 0.012 * hit + 0.006 * dice.scatter();
        let ft660 = ft330 + 2.600 + 0.006 * dice.scatter();
        let ft1000 = ft660 + 2.248 + 0.006 * dice.scatter();
        let et = ft1000 + 1.945 + 0.006 * dice.scatter();
        let lane = if row % 2 == 0 { "left" } else { "right" };
        let reaction = 0.04 + 0.001 * dice.below(60) as f64;
        let (mph660, mph) = (94.0 + 0.2 * dice.scatter(), 116.0 + 0.3 * dice.scatter());
        let did = DID[dice.below(4) as usize];
        let _ = write!(
            out,
            "{lane},{reaction:.3},{ft60:.3},{ft330:.3},{ft660:.3},{mph660:.2},{ft1000:.3},{et:.3},{mph:.2},{did},"
        );
        if in_day % 3 == 1 {
            let _ = write!(out, "{},{},29.{:02},", 58 + dice.below(30), 35 + dice.below(40), 20 + dice.below(40));
        } else {
            out.push_str(",,,");
        }
        let note = if dice.below(6) == 0 { "drove through the water box" } else { "" };
        let _ = writeln!(out, "{}/{},{note},{}", 13.0 + 0.25 * dice.below(4) as f64, 13.0, ",".repeat(TURNED.len()));
    }
    out
}
