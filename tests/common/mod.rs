//! What the tests of the command line share: a garage in a folder that goes away with it, an environment with nothing of
//! the machine in it, a clock that only the test moves, and stock git to check the books with.
#![allow(dead_code, reason = "each test file uses its part")]

mod books;
mod texts;

#[allow(unused_imports, reason = "each test file uses its part")]
pub use books::git_binary;
#[allow(unused_imports, reason = "each test file uses its part")]
pub use texts::{flat, has, has_not, no_controls};

use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::sync::Mutex;
use std::sync::OnceLock;

/// Chicago's clock as a rule, so that no file of the machine is asked for it.
const ZONE: &str = "CST6CDT,M3.2.0,M11.1.0";

/// The clock of a new garage: a Saturday in the pits.
pub const SATURDAY: &str = "2026-08-22T14:20:00";

/// What one command answered.
#[derive(Debug, Clone)]
pub struct Output {
    /// The answer.
    pub stdout: String,
    /// Everything else.
    pub stderr: String,
    /// The exit code; -1 where a signal ended it.
    pub code: i32,
}

impl Output {
    /// Both streams.
    pub fn both(&self) -> String {
        format!("{}{}", self.stdout, self.stderr)
    }
}

/// A garage of its own, with the program to run on it.
pub struct Garage {
    root: Root,
    now: Mutex<String>,
    by: Mutex<String>,
}

enum Root {
    Temporary(tempfile::TempDir),
    Kept(PathBuf),
}

impl Garage {
    /// An empty garage.
    pub fn new() -> Garage {
        let temp = tempfile::tempdir().expect("a temporary folder");
        Garage { root: Root::Temporary(temp), now: Mutex::new(SATURDAY.to_owned()), by: Mutex::new("Ro".to_owned()) }
    }

    /// A garage with one leaf car, `grey`, whose sheet has a few fields on record, opened on Aug 1 2026.
    pub fn with_car() -> Garage {
        let garage = Garage::new();
        garage.at("2026-08-01T09:00:00");
        garage.ok(&["new", "Grey", "--template", "leaf-torsion"].iter().chain(FIRST).copied().collect::<Vec<_>>());
        garage.at(SATURDAY);
        garage
    }

    /// The sample garage, taken in by the ordinary commands once for each test program; nobody may write to it.
    pub fn sample() -> Garage {
        static BUILT: OnceLock<PathBuf> = OnceLock::new();
        let root = BUILT.get_or_init(|| {
            let name = std::env::current_exe().ok().and_then(|p| Some(p.file_stem()?.to_string_lossy().into_owned()));
            let root = Path::new(env!("CARGO_TARGET_TMPDIR")).join(name.unwrap_or_default());
            let _ = std::fs::remove_dir_all(&root);
            std::fs::create_dir_all(&root).expect("a folder for the sample garage");
            Garage::kept(&root).take_in_samples();
            root
        });
        Garage::kept(root)
    }

    fn kept(root: &Path) -> Garage {
        Garage {
            root: Root::Kept(root.to_owned()),
            now: Mutex::new(SATURDAY.to_owned()),
            by: Mutex::new("Ro".to_owned()),
        }
    }

    /// The three sample cars by `new` and `import`, at their end of season.
    pub fn take_in_samples(&self) {
        for car in ["dunlin", "knot", "plover"] {
            self.take_in(car);
        }
        self.at("2026-10-03T19:30:00");
    }

    /// One sample car.
    pub fn take_in(&self, car: &str) {
        let file = |name: &str| sample_file(car, name).display().to_string();
        self.at("2026-03-01T12:00:00");
        self.ok(&["new", "--car-file", &file("car.toml"), "--sheet", &file("setup.toml")]);
        self.at("2026-10-03T19:30:00");
        self.ok(&["import", &file("season.csv"), "--car", car]);
    }

    /// Moves the clock: local time of the track.
    pub fn at(&self, now: &str) {
        now.clone_into(&mut self.now.lock().unwrap());
    }

    /// Who writes from here on.
    pub fn by(&self, name: &str) {
        name.clone_into(&mut self.by.lock().unwrap());
    }

    /// The folder everything is in.
    pub fn root(&self) -> &Path {
        match &self.root {
            Root::Temporary(temp) => temp.path(),
            Root::Kept(path) => path,
        }
    }

    /// The folder of the books.
    pub fn dir(&self) -> PathBuf {
        self.root().join("garage")
    }

    /// The folder of a book.
    pub fn book(&self, folder: &str) -> PathBuf {
        self.dir().join(folder)
    }

    /// A file of a book, as it stands in its folder.
    pub fn read(&self, folder: &str, path: &str) -> String {
        let path = self.book(folder).join(path);
        std::fs::read_to_string(&path).unwrap_or_else(|e| panic!("{}: {e}", path.display()))
    }

    /// The folder of derived answers.
    fn caches(&self) -> PathBuf {
        let at = self.root().join(".cache/slipbook");
        assert!(at.is_dir(), "{} is no folder", at.display());
        at
    }

    /// Deletes the derived answers.
    pub fn forget_caches(&self) {
        std::fs::remove_dir_all(self.caches()).expect("the caches are deleted");
    }

    /// Turns a bit in every derived answer, so far from its end.
    pub fn spoil_caches(&self, from_end: usize) {
        let files = std::fs::read_dir(self.caches()).expect("the caches are listed");
        for path in files.map(|f| f.expect("a file").path()) {
            let mut bytes = std::fs::read(&path).expect("a cache is read");
            if let Some(byte) = bytes.len().checked_sub(1 + from_end).and_then(|at| bytes.get_mut(at)) {
                *byte ^= 0x04;
            }
            std::fs::write(&path, bytes).expect("a cache is written");
        }
    }

    /// Edits a file of a book by hand.
    pub fn edit(&self, folder: &str, path: &str, edit: impl FnOnce(&str) -> String) {
        let path = self.book(folder).join(path);
        let old = std::fs::read_to_string(&path).unwrap_or_default();
        let new = edit(&old);
        assert_ne!(old, new, "the edit by hand changed nothing in {}", path.display());
        std::fs::write(&path, new).expect("the edit by hand");
    }

    /// A file beside the garage; its path.
    pub fn file(&self, name: &str, content: impl AsRef<[u8]>) -> String {
        let path = self.root().join(name);
        std::fs::write(&path, content).expect("a file beside the garage");
        path.display().to_string()
    }

    /// Runs the program.
    pub fn run(&self, args: &[&str]) -> Output {
        self.run_in(self.root(), args)
    }

    /// Runs the program, standing in a folder.
    pub fn run_in(&self, dir: &Path, args: &[&str]) -> Output {
        self.run_with(dir, &[], args)
    }

    /// Runs the program, standing in a folder, with something more in its environment.
    pub fn run_with(&self, dir: &Path, env: &[(&str, &str)], args: &[&str]) -> Output {
        let mut command = self.program(dir);
        command.envs(env.iter().copied()).args(args);
        let output = command.output().expect("the program starts");
        let text = |bytes: Vec<u8>, stream: &str| {
            String::from_utf8(bytes).unwrap_or_else(|e| panic!("{stream} of {args:?} is no UTF-8: {e}"))
        };
        Output {
            stdout: text(output.stdout, "stdout"),
            stderr: text(output.stderr, "stderr"),
            code: output.status.code().unwrap_or(-1),
        }
    }

    /// Starts the program; nobody hears what it says.
    pub fn start(&self, args: &[&str]) -> std::process::Child {
        self.start_with(&[], args)
    }

    /// Starts the program with something more in its environment.
    pub fn start_with(&self, env: &[(&str, &str)], args: &[&str]) -> std::process::Child {
        let mut command = self.program(self.root());
        command.envs(env.iter().copied()).args(args).stdout(Stdio::null()).stderr(Stdio::null());
        command.spawn().expect("the program starts")
    }

    /// The program, with this garage, its clock and its hand.
    fn program(&self, dir: &Path) -> Command {
        let mut command = self.command(env!("CARGO_BIN_EXE_slipbook"), dir);
        command
            .env("SLIPBOOK_GARAGE", self.dir())
            .env("SLIPBOOK_NOW", self.now.lock().unwrap().as_str())
            .env("SLIPBOOK_BY", self.by.lock().unwrap().as_str())
            .env("SLIPBOOK_FSYNC", "off")
            .env("COLUMNS", "80")
            .env("NO_COLOR", "1");
        command
    }

    /// Runs the program and wants it to succeed; its answer.
    #[track_caller]
    pub fn ok(&self, args: &[&str]) -> String {
        let output = self.run(args);
        assert_eq!(output.code, 0, "slipbook {}\n{}{}", args.join(" "), output.stdout, output.stderr);
        output.stdout
    }

    /// Runs the program and wants it to refuse with this code, an answer on stderr alone, and no book changed; what it said.
    #[track_caller]
    pub fn refused(&self, code: i32, args: &[&str]) -> String {
        let before = self.contents();
        let output = self.run(args);
        assert_eq!(output.code, code, "slipbook {}\n{}{}", args.join(" "), output.stdout, output.stderr);
        assert_eq!(output.stdout, "", "an error speaks on stderr: slipbook {}", args.join(" "));
        assert!(!output.stderr.trim().is_empty(), "an error says something: slipbook {}", args.join(" "));
        assert!(!output.stderr.contains("panicked"), "{}", output.stderr);
        assert_eq!(
            before,
            self.contents(),
            "a refused command changed nothing: slipbook {}\n{}",
            args.join(" "),
            output.stderr
        );
        output.stderr
    }

    /// Runs the program with `--format json`; its answer, read.
    #[track_caller]
    pub fn json(&self, args: &[&str]) -> serde_json::Value {
        let args = [args, &["--format", "json"]].concat();
        let text = self.ok(&args);
        serde_json::from_str(&text).unwrap_or_else(|e| panic!("slipbook {}: no JSON: {e}\n{text}", args.join(" ")))
    }

    /// The command line, its status, its answer and what it said besides, for a snapshot; temporary paths are named.
    pub fn shown(&self, args: &[&str]) -> String {
        let output = self.run(args);
        let quoted: Vec<String> = args
            .iter()
            .map(|a| if a.contains(' ') || a.is_empty() { format!("'{a}'") } else { (*a).to_owned() })
            .collect();
        let mut out = format!("$ slipbook {}\n", quoted.join(" "));
        out.push_str(&output.stdout);
        if !output.stderr.is_empty() {
            let _ = write!(out, "--- stderr\n{}", output.stderr);
        }
        if output.code != 0 {
            let _ = writeln!(out, "--- status {}", output.code);
        }
        self.named(&out)
    }

    /// The text with what is of this machine named instead.
    pub fn named(&self, text: &str) -> String {
        let samples = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-garage");
        text.replace(&self.dir().display().to_string(), "[garage]")
            .replace(&self.root().display().to_string(), "[beside]")
            .replace(&samples.display().to_string(), "[samples]")
    }

    /// A program of this garage's clean environment: nothing of the machine but where stock git is found.
    fn command(&self, program: &str, dir: &Path) -> Command {
        let mut command = Command::new(program);
        command
            .current_dir(dir)
            .stdin(Stdio::null())
            .env_clear()
            .env("PATH", std::env::var_os("PATH").unwrap_or_default())
            .env("HOME", self.root())
            .env("TMPDIR", self.root())
            .env("TZ", ZONE)
            .env("GIT_CONFIG_GLOBAL", "/dev/null")
            .env("GIT_CONFIG_NOSYSTEM", "1")
            .env("GIT_AUTHOR_NAME", "Hand")
            .env("GIT_AUTHOR_EMAIL", "hand@localhost")
            .env("GIT_COMMITTER_NAME", "Hand")
            .env("GIT_COMMITTER_EMAIL", "hand@localhost");
        command
    }
}

/// What is on record for `grey` from the first day on.
pub const FIRST: &[&str] = &[
    "rear.limiter.kind=screw",
    "rear.limiter.threads=16",
    "rear.limiter.height=1.00",
    "rear.limiter.gap=0.5",
    "rear.shock.valving=adjustable",
    "rear.shock.counted_from=full soft",
    "rear.shock.extension=6",
    "rear.shock.compression=4",
    "rear.tire.name=pair A",
    "rear.tire.pressure=12.5",
    "front.tire.pressure=34",
    "launch.rpm=4200",
    "engine.timing=33",
];

/// A file of the sample garage.
pub fn sample_file(car: &str, name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-garage").join(car).join(name)
}
