//! What is measured: each row is a command of slipbook and what stock git does for the same end.

use super::book::{Layout, NOW, SLIPBOOK, copied, forget, program, said};
use super::bundles::{new_bundle, to_take_in};
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::{Duration, Instant};

/// Two equal copies of one book, and what is needed to write to them again and again.
pub struct Pair {
    /// The copy slipbook works on.
    pub ours: PathBuf,
    /// The copy git works on.
    pub gits: PathBuf,
    /// A version half way back, by number and by commit.
    middle: (String, String),
    /// A day file of the book: what stands before its first run, and its runs.
    day: (String, Vec<String>),
    /// The version told late, once there is one; and the newest sheets for git to write once more, oldest first.
    late: Option<String>,
    sheets: Vec<String>,
    /// Writes so far.
    writes: usize,
}

/// One way of doing what a row is about.
pub struct Side {
    /// What is run.
    pub name: &'static str,
    /// Does it once and says how long it took, start to end of the processes.
    pub act: fn(&mut Pair) -> Duration,
}

/// A row of the table.
pub struct Row {
    /// What it is about.
    pub name: &'static str,
    /// Ours.
    pub ours: Side,
    /// Stock git's ways.
    pub gits: &'static [Side],
}

impl Pair {
    /// Fresh copies of the kept book.
    pub fn new(commits: usize, layout: Layout) -> Pair {
        let copy = |who: &str| copied(commits, layout, &format!("{commits}-{}-{who}", layout.word()));
        let (ours, gits) = (copy("ours"), copy("git"));
        let middle = format!("v{}", 1 + (commits - 1).div_ceil(6) / 2);
        let find = ["log", "-1", "--format=%H", &format!("--grep=^Version: {middle}$")];
        let id = said(program("git", &gits).args(find));
        assert!(!id.is_empty(), "the book has {middle}");
        let newest = said(program("git", &gits).args(["ls-files", "days"]));
        // The last but one is a full day.
        let path = newest.lines().rev().nth(1).or(newest.lines().next()).expect("the book has days");
        let text = fs::read_to_string(gits.join(path)).expect("the day can be read");
        let mut blocks = text.split("\n[[run]]\n");
        let head = blocks.next().unwrap_or_default().to_owned();
        let runs = blocks.map(|b| format!("\n[[run]]\n{b}")).collect();
        Pair { ours, gits, middle: (middle, id), day: (head, runs), late: None, sheets: Vec::new(), writes: 0 }
    }

    /// The moment of the next write: later than all before; twelve to a day.
    fn next_moment(&mut self) -> String {
        let start: jiff::Timestamp = NOW.parse().expect("the clock is a time");
        let (day, minute) = (self.writes / 12, self.writes % 12 * 20);
        self.writes += 1;
        let at = start.as_second() + (day * 86_400 + minute * 60) as i64;
        jiff::Timestamp::from_second(at).expect("the time is in the calendar").to_string()
    }
}

/// Runs programs one after the other; the time from before the first to after the last.
fn timed(commands: &mut [Command]) -> Duration {
    let start = Instant::now();
    for command in commands.iter_mut() {
        let status = command.status().expect("the program starts");
        assert!(status.success(), "{command:?}: {status}");
    }
    start.elapsed()
}

fn ours(dir: &Path, args: &[&str]) -> Command {
    let mut command = program(SLIPBOOK, dir);
    command.args(args);
    command
}

fn git(dir: &Path, args: &[&str]) -> Command {
    let mut command = program("git", dir);
    command.args(args);
    command
}

const SLIP: [&str; 12] =
    ["run", "0.052", "1.641", "4.771", "7.366", "94.11", "9.611", "11.552", "116.21", "r", "hook", "psi 13.25/13.0"];

fn record_ours(pair: &mut Pair, fsync: &str) -> Duration {
    let now = pair.next_moment();
    let mut command = ours(&pair.ours, &SLIP);
    command.env("SLIPBOOK_NOW", now).env("SLIPBOOK_FSYNC", fsync);
    timed(&mut [command])
}

fn record_git(pair: &mut Pair, fsync: &[&str]) -> Duration {
    let n = pair.writes;
    pair.next_moment();
    let path = format!("days/2030/{:05}-osier-flats.toml", n / 12);
    let (head, runs) = &pair.day;
    let mut text = head.clone();
    // Another text each time: a known object would not be written.
    (0..=n % 12).for_each(|i| text += &runs[i % runs.len()]);
    text += &format!("# {n}\n");
    let add = git(&pair.gits, &[fsync, &["add", &path]].concat());
    let commit = git(
        &pair.gits,
        &[fsync, &["commit", "-q", "-m", "v9 run: 60 ft 1.641, ET 11.552 at 116.21 mph, right lane"]].concat(),
    );
    let file = pair.gits.join(&path);
    let start = Instant::now();
    fs::create_dir_all(file.parent().expect("the day lies in a folder")).expect("the folder can be made");
    fs::write(&file, text).expect("the day can be written");
    timed(&mut [add, commit]);
    start.elapsed()
}

/// A launch rpm that was not on the car before.
fn next_rpm(pair: &mut Pair) -> (String, String) {
    let rpm = 2_001 + pair.writes % 2_000;
    (pair.next_moment(), rpm.to_string())
}

fn change_ours(pair: &mut Pair, fsync: &str) -> Duration {
    let (now, rpm) = next_rpm(pair);
    let mut command = ours(&pair.ours, &["change", "--yes", "--why", "it bogged", &format!("launch.rpm={rpm}")]);
    command.env("SLIPBOOK_NOW", now).env("SLIPBOOK_FSYNC", fsync);
    timed(&mut [command])
}

fn change_git(pair: &mut Pair, fsync: &[&str]) -> Duration {
    let (_, rpm) = next_rpm(pair);
    let add = git(&pair.gits, &[fsync, &["add", "setup.toml"]].concat());
    let commit = git(&pair.gits, &[fsync, &["commit", "-q", "-m", "launch rpm up"]].concat());
    let file = pair.gits.join("setup.toml");
    let start = Instant::now();
    let text = fs::read_to_string(&file).expect("the sheet can be read");
    let (before, area) = text.split_once("[launch]\n").expect("the sheet has a launch");
    let lines: Vec<String> = area
        .lines()
        .map(|l| if l.starts_with("rpm = ") { format!("rpm = {rpm} # rpm") } else { l.to_owned() })
        .collect();
    fs::write(&file, format!("{before}[launch]\n{}\n", lines.join("\n"))).expect("the sheet can be written");
    timed(&mut [add, commit]);
    start.elapsed()
}

/// How many of the latest versions a mend builds once more.
const MENDED: usize = 200;

/// Puts right a value that was told late before the latest versions: each of them is built once more, the runs since are
/// linked anew.
fn mend_ours(pair: &mut Pair) -> Duration {
    let now = pair.next_moment();
    let n = pair.writes;
    let run = |args: &[&str]| {
        let mut command = ours(&pair.ours, args);
        command.env("SLIPBOOK_NOW", &now);
        command
    };
    if pair.late.is_none() {
        let subjects = said(program("git", &pair.ours).args(["log", "--format=%at", "--grep=^Version: v"]));
        let versions: Vec<&str> = subjects.lines().collect();
        let at: i64 = versions[MENDED.min(versions.len() - 1)].parse().expect("git tells seconds");
        let at = jiff::Timestamp::from_second(at + 1).expect("the time is in the calendar");
        let when = at.strftime("%Y-%m-%d %H:%M:%S").to_string();
        let mut late = run(&["change", "--yes", "front.align.camber=-0.4", "--when", &when]);
        late.env("TZ", "UTC0");
        timed(&mut [late]);
        let subject = said(program("git", &pair.ours).args(["log", "-1", "--format=%s"]));
        pair.late = subject.split(' ').next().map(str::to_owned);
    }
    let version = pair.late.clone().expect("the late change has a number");
    let value = format!("front.align.camber=-{}.{:02}", n / 100 % 3, 41 + n % 50);
    timed(&mut [run(&["mend", "--yes", &version, &value])])
}

/// The least git has to do for that: as many commits with their sheets, told in one stream.
fn mend_git(pair: &mut Pair) -> Duration {
    pair.next_moment();
    let n = pair.writes;
    if pair.sheets.is_empty() {
        let ids =
            said(program("git", &pair.gits).args(["log", &format!("-{MENDED}"), "--format=%H", "--", "setup.toml"]));
        let sheet = |id: &str| said(program("git", &pair.gits).args(["show", &format!("{id}:setup.toml")]));
        pair.sheets = ids.lines().rev().map(sheet).collect();
    }
    let mut stream = String::new();
    for (i, sheet) in pair.sheets.iter().enumerate() {
        let text = format!("{sheet}# {n}\n");
        stream +=
            &format!("commit refs/heads/side\ncommitter Ro <ro@localhost> {} +0000\ndata 4\nmend", 1_700_000_000 + i);
        let from = if i == 0 { "\nfrom refs/heads/main^0" } else { "" };
        stream += &format!("{from}\nM 100644 inline setup.toml\ndata {}\n{text}\n", text.len());
    }
    let file = pair.gits.join(".git/stream");
    fs::write(&file, stream).expect("the stream can be written");
    let mut command = git(&pair.gits, &["fast-import", "--quiet", "--force"]);
    command.stdin(fs::File::open(&file).expect("the stream can be read"));
    timed(&mut [command])
}

/// A question to a book that was never asked anything: all of it is read.
fn first(pair: &Pair, args: &[&str]) -> Duration {
    forget(&pair.ours);
    timed(&mut [ours(&pair.ours, args)])
}

const FSYNC_ALL: [&str; 2] = ["-c", "core.fsync=all"];

const GIT_RECORD: [Side; 2] = [
    Side { name: "edit + add + commit", act: |p| record_git(p, &[]) },
    Side { name: "the same, core.fsync=all", act: |p| record_git(p, &FSYNC_ALL) },
];
const GIT_CHANGE: [Side; 2] = [
    Side { name: "edit + add + commit", act: |p| change_git(p, &[]) },
    Side { name: "the same, core.fsync=all", act: |p| change_git(p, &FSYNC_ALL) },
];
const GIT_LOG: [Side; 2] = [
    Side { name: "log -p -- setup.toml", act: |p| timed(&mut [git(&p.gits, &["log", "-p", "--", "setup.toml"])]) },
    Side {
        name: "log --oneline -- setup.toml",
        act: |p| timed(&mut [git(&p.gits, &["log", "--oneline", "--", "setup.toml"])]),
    },
];
const GIT_BLAME: [Side; 1] =
    [Side { name: "blame setup.toml", act: |p| timed(&mut [git(&p.gits, &["blame", "setup.toml"])]) }];

/// Every row.
pub const ROWS: [Row; 22] = [
    Row {
        name: "start",
        ours: Side { name: "--version", act: |p| timed(&mut [ours(&p.ours, &["--version"])]) },
        gits: &[Side { name: "--version", act: |p| timed(&mut [git(&p.gits, &["--version"])]) }],
    },
    Row {
        name: "sheet",
        ours: Side { name: "sheet", act: |p| timed(&mut [ours(&p.ours, &["sheet"])]) },
        gits: &[Side {
            name: "show HEAD:setup.toml",
            act: |p| timed(&mut [git(&p.gits, &["show", "HEAD:setup.toml"])]),
        }],
    },
    Row {
        name: "mend",
        ours: Side { name: "mend", act: mend_ours },
        gits: &[Side { name: "fast-import of 200 commits", act: mend_git }],
    },
    Row {
        name: "no command",
        ours: Side { name: "the first screen", act: |p| timed(&mut [ours(&p.ours, &[])]) },
        gits: &[Side { name: "status", act: |p| timed(&mut [git(&p.gits, &["status"])]) }],
    },
    Row {
        name: "copy",
        ours: Side {
            name: "copy to a bundle",
            act: |p| {
                let mut copy = ours(&p.ours, &["copy", &new_bundle(&p.ours)]);
                copy.env("SLIPBOOK_FSYNC", "off");
                timed(&mut [copy])
            },
        },
        gits: &[Side {
            name: "bundle create + verify",
            act: |p| {
                let to = new_bundle(&p.gits);
                let create = git(&p.gits, &["bundle", "create", "-q", &to, "main", "HEAD"]);
                timed(&mut [create, git(&p.gits, &["bundle", "verify", "-q", &to])])
            },
        }],
    },
    Row {
        name: "handover",
        ours: Side {
            name: "handover, its page and its id",
            act: |p| {
                let to = new_bundle(&p.ours);
                let mut handover = ours(&p.ours, &["handover", "--yes", "--to", &to]);
                handover.env("SLIPBOOK_FSYNC", "off");
                timed(&mut [handover])
            },
        },
        gits: &[Side {
            name: "bundle create",
            act: |p| {
                let to = new_bundle(&p.gits);
                timed(&mut [git(&p.gits, &["bundle", "create", "-q", &to, "main", "HEAD"])])
            },
        }],
    },
    Row {
        name: "receive",
        ours: Side {
            name: "receive",
            act: |p| {
                let (file, to) = to_take_in(&p.ours);
                let to = to.display().to_string();
                let mut receive = ours(&p.ours, &["--garage", &to, "receive", &file, "--owner", "Mo", "--yes"]);
                receive.env("SLIPBOOK_FSYNC", "off");
                timed(&mut [receive])
            },
        },
        gits: &[Side {
            name: "clone, transfer.fsckObjects",
            act: |p| {
                let (file, to) = to_take_in(&p.gits);
                let clone = ["-c", "transfer.fsckObjects=true", "clone", "-q", &file, &to.display().to_string()];
                timed(&mut [git(&p.gits, &clone)])
            },
        }],
    },
    Row {
        name: "verify",
        ours: Side { name: "verify", act: |p| timed(&mut [ours(&p.ours, &["verify"])]) },
        gits: &[Side {
            name: "fsck --full --strict",
            act: |p| timed(&mut [git(&p.gits, &["fsck", "--full", "--strict", "--no-progress"])]),
        }],
    },
    Row {
        name: "diff",
        ours: Side { name: "diff A now", act: |p| timed(&mut [ours(&p.ours, &["diff", &p.middle.0, "now"])]) },
        gits: &[Side {
            name: "diff A HEAD -- setup.toml",
            act: |p| timed(&mut [git(&p.gits, &["diff", &p.middle.1, "HEAD", "--", "setup.toml"])]),
        }],
    },
    Row {
        name: "history",
        ours: Side { name: "history", act: |p| timed(&mut [ours(&p.ours, &["history"])]) },
        gits: &GIT_LOG,
    },
    Row {
        name: "history --all",
        ours: Side { name: "history --all", act: |p| timed(&mut [ours(&p.ours, &["history", "--all"])]) },
        gits: &GIT_LOG,
    },
    Row {
        name: "blame",
        ours: Side { name: "blame", act: |p| timed(&mut [ours(&p.ours, &["blame"])]) },
        gits: &GIT_BLAME,
    },
    Row {
        name: "blame --fields",
        ours: Side { name: "blame --fields", act: |p| timed(&mut [ours(&p.ours, &["blame", "--fields"])]) },
        gits: &GIT_BLAME,
    },
    Row {
        name: "first history",
        ours: Side { name: "first history --all", act: |p| first(p, &["history", "--all"]) },
        gits: &GIT_LOG,
    },
    Row { name: "first blame", ours: Side { name: "first blame", act: |p| first(p, &["blame"]) }, gits: &GIT_BLAME },
    Row {
        name: "first fields",
        ours: Side { name: "first blame --fields", act: |p| first(p, &["blame", "--fields"]) },
        gits: &GIT_BLAME,
    },
    Row {
        name: "next history",
        ours: Side {
            name: "history after a change",
            act: |p| {
                change_ours(p, "off");
                timed(&mut [ours(&p.ours, &["history"])])
            },
        },
        gits: &GIT_LOG,
    },
    Row {
        name: "runs",
        ours: Side { name: "runs", act: |p| timed(&mut [ours(&p.ours, &["runs"])]) },
        gits: &[Side { name: "log --oneline -20", act: |p| timed(&mut [git(&p.gits, &["log", "--oneline", "-20"])]) }],
    },
    Row { name: "run", ours: Side { name: "run", act: |p| record_ours(p, "on") }, gits: &GIT_RECORD },
    Row {
        name: "run, no fsync",
        ours: Side { name: "run, no fsync", act: |p| record_ours(p, "off") },
        gits: &GIT_RECORD,
    },
    Row { name: "change", ours: Side { name: "change", act: |p| change_ours(p, "on") }, gits: &GIT_CHANGE },
    Row {
        name: "change, no fsync",
        ours: Side { name: "change, no fsync", act: |p| change_ours(p, "off") },
        gits: &GIT_CHANGE,
    },
];
