//! What is in the books of a garage, by their files, by their log, and by stock git.

use super::Garage;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::sync::OnceLock;

impl Garage {
    /// Every file under the garage with its content, except locks and what can be rebuilt.
    pub fn contents(&self) -> Vec<(PathBuf, Vec<u8>)> {
        fn walk(dir: &Path, out: &mut Vec<(PathBuf, Vec<u8>)>) {
            let Ok(entries) = std::fs::read_dir(dir) else { return };
            for entry in entries.flatten() {
                let path = entry.path();
                let name = entry.file_name();
                if name == "slipbook.lock" || name == "slipbook" || path.ends_with(".git/index") {
                    continue;
                }
                if path.is_dir() {
                    walk(&path, out);
                } else {
                    out.push((path.clone(), std::fs::read(&path).unwrap_or_default()));
                }
            }
        }
        let mut out = Vec::new();
        walk(&self.dir(), &mut out);
        out.sort();
        out
    }

    /// Stock git in a book. It must succeed; its answer.
    #[track_caller]
    pub fn git(&self, folder: &str, args: &[&str]) -> String {
        let dir = self.book(folder);
        // What git commits is of the garage's own clock.
        let now = self.now.lock().expect("one test, one thread").clone();
        let output = self
            .command(git_binary(), &dir)
            .env("GIT_CEILING_DIRECTORIES", self.dir())
            .env("GIT_AUTHOR_DATE", &now)
            .env("GIT_COMMITTER_DATE", &now)
            .args(args)
            .output()
            .expect("git starts");
        let said = String::from_utf8_lossy(&output.stderr).into_owned();
        assert!(output.status.success(), "git {} in {}: {}\n{said}", args.join(" "), dir.display(), output.status);
        // fsck speaks on stderr too.
        assert!(!args.contains(&"fsck") || said.is_empty(), "git {}: {said}", args.join(" "));
        String::from_utf8_lossy(&output.stdout).into_owned()
    }

    /// Stock git finds nothing wrong in a book and nothing to say about its folder.
    #[track_caller]
    pub fn tidy(&self, folder: &str, after: &str) {
        for args in [
            &["fsck", "--full", "--strict", "--no-progress"][..],
            &["status", "--porcelain"],
            &["diff-index", "HEAD"],
            &["diff-files"],
        ] {
            assert_eq!(self.git(folder, args), "", "git {} after: {after}", args.join(" "));
        }
    }

    /// Subjects of a book's records, newest first.
    pub fn log(&self, folder: &str) -> Vec<String> {
        let book = slipbook::garage::Book::open(&self.book(folder)).expect("the book opens");
        let log = book.store.log(None).expect("the log is read");
        log.iter().map(|l| l.commit.message.lines().next().unwrap_or_default().to_owned()).collect()
    }

    /// The whole message of the newest record.
    pub fn last_message(&self, folder: &str) -> String {
        let book = slipbook::garage::Book::open(&self.book(folder)).expect("the book opens");
        let log = book.store.log(None).expect("the log is read");
        log.first().map(|l| l.commit.message.clone()).unwrap_or_default()
    }
}

/// The git of this machine. The tests need one: that stock git agrees is half of what they show.
#[track_caller]
pub fn git_binary() -> &'static str {
    static FOUND: OnceLock<bool> = OnceLock::new();
    let found = FOUND.get_or_init(|| {
        let asked = Command::new("git").arg("--version").stdin(Stdio::null()).output();
        asked.is_ok_and(|o| o.status.success())
    });
    assert!(*found, "the tests need git, and `git --version` does not run here: install it (.ci/run does)");
    "git"
}
