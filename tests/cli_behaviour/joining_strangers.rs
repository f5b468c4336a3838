//! What is joined is a stranger's: the garage the book is looked for in, what git brings, and what a hand altered in it.

use super::joining::{apart, path, two};
use crate::common::{Garage, flat, has, has_not};
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::{Duration, Instant};

/// A folder on the stick that is to be a copy.
fn on(stick: &Path, name: &str) -> String {
    stick.join(name).display().to_string()
}

fn put(path: PathBuf, bytes: impl AsRef<[u8]>) {
    fs::create_dir_all(path.parent().unwrap()).unwrap();
    fs::write(path, bytes).unwrap();
}

/// Writes the same object otherwise.
fn alter(object: &Path) {
    let mut bytes = fs::read(object).unwrap();
    let middle = bytes.len() / 2;
    bytes[middle] ^= 0x55;
    fs::remove_file(object).unwrap();
    fs::write(object, bytes).unwrap();
}

/// Every object of a copy that has a file of its own, and every pack.
fn objects(book: &Path) -> Vec<PathBuf> {
    let folders = fs::read_dir(book.join(".git/objects")).unwrap().map(|e| e.unwrap());
    let folders = folders.filter(|e| e.file_name() != "info").map(|e| e.path());
    let files = folders.flat_map(|d| fs::read_dir(d).unwrap().map(|e| e.unwrap().path()));
    files.filter(|p| p.extension().is_none_or(|e| e == "pack")).collect()
}

/// A settings file and hooks that would start something, and settings git itself does not take.
fn hostile_settings(book: &Path, marker: &Path) {
    let touch = format!("touch {}", marker.display());
    let config = format!(
        "[core]\n\trepositoryformatversion = 0\n\tbare = perhaps\n\tfsmonitor = {touch}\n\thooksPath = hooks\n\
         \tpackedGitLimit = x\n[include]\n\tpath = /dev/zero\n[alias]\n\tlog = !{touch}\n"
    );
    put(book.join(".git/config"), config);
    for hook in ["post-checkout", "post-merge", "reference-transaction", "fsmonitor-watchman"] {
        put(book.join(".git/hooks").join(hook), format!("#!/bin/sh\n{touch}\n"));
        #[cfg(unix)]
        {
            use std::os::unix::fs::PermissionsExt;
            let file = book.join(".git/hooks").join(hook);
            fs::set_permissions(file, fs::Permissions::from_mode(0o755)).unwrap();
        }
    }
    // What git's reader would look into.
    put(book.join(".git/objects/info/commit-graph"), vec![0xff; 4096]);
    put(book.join(".git/objects/pack/multi-pack-index"), vec![0xff; 4096]);
    put(book.join(".git/index"), vec![0xff; 4096]);
}

#[test]
fn the_book_is_found_among_hostile_ones_and_what_cannot_be_read_is_named_where_none_fits() {
    let (ro, sal) = two();
    apart(&ro, &sal);
    let stick = ro.root().join("stick");
    fs::create_dir(&stick).unwrap();
    let marker = ro.root().join("it-ran");
    for name in ["a-borrows", "b-branches", "c-damaged", "d-cut", "sal"] {
        sal.ok(&["copy", &on(&stick, name), "--as", "folder"]);
        hostile_settings(&stick.join(name), &marker);
    }
    put(stick.join("a-borrows/.git/objects/info/alternates"), format!("{}/.git/objects\n", path(&sal)));
    put(stick.join("b-branches/.git/packed-refs"), "# pack-refs with: peeled fully-peeled sorted\n".repeat(1 << 16));
    objects(&stick.join("c-damaged")).iter().for_each(|o| alter(o));
    objects(&stick.join("d-cut")).iter().for_each(|o| fs::remove_file(o).unwrap());
    // A book that is not begun is no other one's.
    fs::create_dir(stick.join("e-new")).unwrap();
    sal.git("grey", &["init", "-q", "-b", "main", &on(&stick, "e-new")]);

    let said = flat(&ro.ok(&["join", &stick.display().to_string(), "--dry-run"]));
    has(&said, &[&format!("would be joined with {}", on(&stick, "sal")), "1 change, 2 runs, by Sal"]);
    fs::remove_dir_all(stick.join("sal")).unwrap();
    let said = flat(&ro.refused(3, &["join", &stick.display().to_string()]));
    has(
        &said,
        &["no book in", "begins as the one of Grey does", "not all of them could be read", "nothing was changed"],
    );
    for (name, why) in [
        ("a-borrows", "alternates"),
        ("b-branches", "packed-refs"),
        ("c-damaged", "does not unpack"),
        ("d-cut", "is not there"),
    ] {
        let (_, of) = said.split_once(&format!("{name}: ")).unwrap_or_else(|| panic!("{name} is not in {said}"));
        has(of.split(": ").take(9).collect::<Vec<_>>().join(": ").as_str(), &[why]);
    }
    has_not(&said, &["e-new:"]);
    assert!(!marker.exists(), "something of the stick ran");

    // Where the one that fits has nothing new, what could not be read is said beside it.
    ro.ok(&["copy", &on(&stick, "ro"), "--as", "folder"]);
    let joined = ro.run(&["join", &stick.display().to_string()]);
    assert_eq!(joined.code, 0, "{joined:?}");
    has(&joined.stdout, &["the same book"]);
    has(&flat(&joined.stderr), &["a book there could not be read, c-damaged: "]);
    // With it, it is joined and nothing is said of the others.
    sal.ok(&["copy", &on(&stick, "sal"), "--as", "folder"]);
    let joined = ro.run(&["join", &stick.display().to_string()]);
    assert_eq!((joined.code, joined.stderr.as_str()), (0, ""), "{joined:?}");
    ro.tidy("grey", "join of one of a stranger's books");
}

/// Waits until something is so.
#[track_caller]
fn until(what: &str, so: impl Fn() -> bool) {
    let began = Instant::now();
    while !so() {
        assert!(began.elapsed() < Duration::from_secs(60), "{what} did not come");
        std::thread::sleep(Duration::from_millis(5));
    }
}

/// What of ours lies in the garage and beside it that is no book.
fn asides(garage: &Garage) -> Vec<String> {
    let names = |dir: &Path| fs::read_dir(dir).unwrap().map(|e| e.unwrap().file_name().to_string_lossy().into_owned());
    names(&garage.dir()).chain(names(garage.root())).filter(|n| n.contains("slipbook-")).collect()
}

#[cfg(unix)]
#[test]
fn a_fetch_that_was_killed_leaves_nothing_after_the_next_command() {
    use std::os::unix::fs::PermissionsExt;
    let garage = Garage::with_car();
    // A git that has brought half of it and hangs.
    let bin = garage.root().join("bin");
    let pid = garage.root().join("pid");
    let script = "#!/bin/sh\nfor last; do :; done\nmkdir -p \"$last/objects/pack\"\n\
                  echo half > \"$last/objects/pack/tmp_pack_x\"\necho $$ > PID.new\nmv PID.new PID\nexec sleep 600\n";
    put(bin.join("git"), script.replace("PID", &pid.display().to_string()));
    fs::set_permissions(bin.join("git"), fs::Permissions::from_mode(0o755)).unwrap();
    let ways = format!("{}:{}", bin.display(), std::env::var("PATH").unwrap());
    let mut child = garage.start_with(&[("PATH", &ways)], &["join", "file:///somewhere/grey.git"]);
    until("the git that hangs", || pid.exists());
    assert_eq!(asides(&garage), [".slipbook-copy-fetched"]);
    // Somebody is at work there: another command leaves it alone, and another fetch does not begin.
    garage.ok(&["history"]);
    assert!(garage.dir().join(".slipbook-copy-fetched/brought/objects/pack/tmp_pack_x").is_file());
    let second = garage.run_with(garage.root(), &[("PATH", &ways)], &["join", "file:///somewhere/else.git"]);
    assert_eq!(second.code, 3, "{second:?}");
    child.kill().unwrap();
    child.wait().unwrap();
    let hung = fs::read_to_string(&pid).unwrap();
    assert!(Command::new("kill").args(["-9", hung.trim()]).status().unwrap().success());
    assert_eq!(asides(&garage), [".slipbook-copy-fetched"], "the kill left it");
    garage.ok(&["history"]);
    assert_eq!(asides(&garage), [""; 0]);
}

#[test]
fn what_a_hand_altered_in_the_other_book_is_said_before_it_is_joined() {
    let (ro, sal) = two();
    apart(&ro, &sal);
    let day = "days/2026/08-08-osier-flats.toml";
    sal.edit("grey", day, |t| t.replace("ft60 = 1.600", "ft60 = 1.400"));
    sal.git("grey", &["commit", "-qam", "a better day"]);
    let once = "1 record was not written by slipbook: by Hand; altered 1 run";
    let lines = ["a better day", day, "it altered 1 run", "ft60 1.6, now 1.4"];
    let said = flat(&ro.ok(&["join", &path(&sal), "--dry-run"]));
    has(&said, &["would be joined with", once]);
    has(&said, &lines);
    has(&flat(&ro.json(&["join", &path(&sal), "--dry-run"]).to_string()), &["\"not_by_slipbook\":[{", "a better day"]);
    let said = flat(&ro.ok(&["join", &path(&sal)]));
    has(&said, &["joined with", once]);
    has(&said, &lines);
    // What is here already is not said again; `verify` says it of the whole book.
    let said = flat(&ro.ok(&["join", &path(&sal)]));
    has_not(&said, &["not written by slipbook"]);
    has(&flat(&ro.ok(&["verify"])), &[once]);
    // So it is of one that says it is a run of ours.
    sal.edit("grey", day, |t| t.replace("ft60 = 1.400", "ft60 = 1.300"));
    sal.git("grey", &["commit", "-qam", "60 ft 1.600", "-m", "Kind: run"]);
    let said = flat(&ro.ok(&["join", &path(&sal), "--dry-run"]));
    has(&said, &[once, "though marked Kind: run", "ft60 1.4, now 1.3"]);
    let once = "2 records were not written by slipbook: by Hand; altered 1 run";
    // Of a book that is brought up to another it is said too.
    let kim = two().0;
    has(&flat(&kim.ok(&["join", &path(&sal), "--dry-run"])), &["would be brought up to", once]);
}

#[test]
fn who_is_asked_which_value_holds_is_told_first_what_a_hand_altered() {
    let (ro, sal) = two();
    ro.at("2026-08-15T10:00:00");
    sal.at("2026-08-15T10:05:00");
    ro.ok(&["change", "launch", "rpm", "4400", "--when", "aug 15 09:00"]);
    sal.ok(&["change", "launch", "rpm", "4500", "--when", "aug 15 09:00"]);
    sal.edit("grey", "setup.toml", |t| t.replace("timing = 33", "timing = 36"));
    sal.git("grey", &["commit", "-qam", "more timing"]);
    let said = flat(&ro.refused(2, &["join", &path(&sal)]));
    has(&said, &["1 record was not written by slipbook: by Hand; altered the sheet", "more timing", "33 -> 36"]);
    let (first, then) = (said.find("more timing").unwrap(), said.find("--take newer").unwrap());
    assert!(first < then, "{said}");
    has_not(&said[then..], &["more timing"]);
}
