//! A garage with a car in it, looked at to the last byte, and the program run on it with little memory.

use crate::common::{Garage, Output, flat, no_controls};
use crate::forge;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

/// The most address space the program gets, KiB: its own code, its threads and what a book needs fit in.
const MEMORY_KIB: u32 = 400_000;

/// The most seconds of work, on any machine.
const SECONDS: u32 = 120;

/// Everything below a folder: path, kind and mode, content.
pub fn all_below(dir: &Path) -> Vec<(PathBuf, String, Vec<u8>)> {
    fn walk(dir: &Path, out: &mut Vec<(PathBuf, String, Vec<u8>)>) {
        let mut entries: Vec<PathBuf> = std::fs::read_dir(dir).unwrap().map(|e| e.unwrap().path()).collect();
        entries.sort();
        for path in entries {
            let meta = std::fs::symlink_metadata(&path).unwrap();
            let kind = format!("{:?} {:?}", meta.file_type(), meta.permissions());
            let content = if meta.is_file() { std::fs::read(&path).unwrap() } else { Vec::new() };
            out.push((path.clone(), kind, content));
            if meta.is_dir() {
                walk(&path, out);
            }
        }
    }
    let mut out = Vec::new();
    if dir.is_dir() {
        walk(dir, &mut out);
    }
    out
}

/// A garage, and the program run on it as by a stranger's file.
pub struct Yard {
    pub garage: Garage,
}

impl Yard {
    /// With a car of its own in it, and another folder's things beside.
    pub fn new() -> Yard {
        let garage = Garage::new();
        garage.at("2026-08-01T09:00:00");
        garage.ok(&["new", "Own", "--template", "leaf-torsion", "rear.limiter.kind=screw", "rear.limiter.height=0.75"]);
        Yard { garage }
    }

    /// Without a garage.
    pub fn empty() -> Yard {
        Yard { garage: Garage::new() }
    }

    /// Runs the program with what a shell's `limits` leave it.
    pub fn limited(&self, limits: &str, args: &[&str]) -> Output {
        let mut command = Command::new("sh");
        command
            .args(["-c", &format!("{limits} exec \"$0\" \"$@\""), env!("CARGO_BIN_EXE_slipbook")])
            .args(args)
            .current_dir(self.garage.root())
            .env_clear()
            .env("PATH", std::env::var_os("PATH").unwrap_or_default())
            .env("HOME", self.garage.root())
            .env("SLIPBOOK_GARAGE", self.garage.dir())
            .env("SLIPBOOK_NOW", "2026-08-22T14:20:00")
            .env("TZ", "CST6CDT,M3.2.0,M11.1.0")
            .env("SLIPBOOK_BY", "Mo")
            .env("SLIPBOOK_FSYNC", "off")
            .env("COLUMNS", "80")
            .stdin(Stdio::null());
        let output = command.output().expect("a shell starts the program");
        let text = |bytes: Vec<u8>| String::from_utf8(bytes).expect("what the program says is UTF-8");
        Output { stdout: text(output.stdout), stderr: text(output.stderr), code: output.status.code().unwrap_or(-1) }
    }

    /// Runs it with little memory and little time.
    pub fn run(&self, args: &[&str]) -> Output {
        self.limited(&format!("ulimit -v {MEMORY_KIB}; ulimit -t {SECONDS};"), args)
    }

    /// Receives a file or folder that has to be refused: one clear error that says so, nothing raw for the terminal, and
    /// the garage byte for byte as it was.
    #[track_caller]
    pub fn refuses(&self, name: &str, path: &str, said: &str) {
        let before = all_below(&self.garage.dir());
        let output = self.run(&["receive", path]);
        assert!(matches!(output.code, 2..=4), "{name}: {output:?}");
        assert_eq!(output.stdout, "", "{name}");
        no_controls(&output.stderr);
        let flat = flat(&output.stderr);
        assert!(flat.contains(said), "{name}: `{said}` is not in: {flat}");
        assert!(!flat.contains("panicked") && flat.len() < 2000, "{name}: {flat}");
        assert!(before == all_below(&self.garage.dir()), "{name}: the garage is not as it was");
    }

    /// The same of each file of a corpus; each has a name of its own.
    #[track_caller]
    pub fn refuses_all(&self, corpus: Vec<(&str, &str, Vec<u8>)>) {
        let mut names = std::collections::HashSet::new();
        for (name, said, bytes) in corpus {
            assert!(names.insert(name), "{name} is there twice");
            let path = self.garage.file("hostile.bundle", bytes);
            self.refuses(name, &path, said);
        }
        // What follows is not in the way of a sound one.
        let (forge, tip) = forge::sound();
        let path = self.garage.file("sound.bundle", forge.bundle(&tip));
        let output = self.run(&["receive", &path]);
        assert_eq!(output.code, 0, "{output:?}");
    }
}
