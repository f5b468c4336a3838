//! A test program that starts itself again, to be killed: the test `child_that_is_killed` of it is what is done then, in the
//! folder of `SLIPBOOK_TEST_DIR`.
#![allow(dead_code, reason = "each test file uses its part")]

use std::io::{BufRead, BufReader, Lines};
use std::path::{Path, PathBuf};
use std::process::{Child, ChildStdout, Command, Stdio};
use std::time::Duration;

/// The folder, in the test program that was started again.
pub fn dir_of_child() -> Option<PathBuf> {
    std::env::var_os("SLIPBOOK_TEST_DIR").map(PathBuf::from)
}

/// The test program, started again and at work.
pub struct AtWork {
    child: Child,
    lines: Lines<BufReader<ChildStdout>>,
    /// The first line that told of the work.
    first: String,
}

impl AtWork {
    /// Starts it, with something more in its environment, and waits until a line it tells holds `sign`.
    #[track_caller]
    pub fn start(dir: &Path, env: &[(&str, &str)], sign: &str) -> AtWork {
        let program = std::env::current_exe().expect("this test program has a path");
        let mut child = Command::new(program)
            .args(["--exact", "child_that_is_killed", "--nocapture"])
            .env("SLIPBOOK_TEST_DIR", dir)
            .envs(env.iter().copied())
            .stdout(Stdio::piped())
            .spawn()
            .expect("this test program starts again");
        let mut lines = BufReader::new(child.stdout.take().expect("its lines are heard")).lines();
        let first = lines.by_ref().map_while(Result::ok).find(|l| l.contains(sign));
        AtWork { child, lines, first: first.expect("it told of its work before it ended") }
    }

    /// Kills it so long after; all lines of its work it told.
    pub fn kill_after(mut self, wait: Duration) -> Vec<String> {
        std::thread::sleep(wait);
        self.child.kill().expect("it is killed");
        self.child.wait().expect("it ends");
        std::iter::once(self.first).chain(self.lines.map_while(Result::ok)).collect()
    }
}

/// Small steps that are different each time without a clock or a dependency.
pub struct Dice(u64);

impl Dice {
    /// Other ones in each test program.
    pub fn new() -> Dice {
        Dice(u64::from(std::process::id()))
    }

    /// A number below this.
    pub fn roll(&mut self, below: u64) -> u64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) % below
    }
}
