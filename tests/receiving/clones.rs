//! The folder of a clone: nothing in its `.git` is obeyed, followed or started, and only sound objects of it are taken.

use crate::common::Garage;
use crate::forge::{Forge, packed};
use crate::yard::{Yard, all_below};
use std::fs;
use std::os::unix::fs::{PermissionsExt, symlink};
use std::path::{Path, PathBuf};

/// A garage to receive into, and the folder of a clone beside it.
struct Clone {
    yard: Yard,
    from: Garage,
}

impl Clone {
    fn new() -> Clone {
        Clone { yard: Yard::new(), from: Garage::with_car() }
    }

    fn dir(&self) -> PathBuf {
        self.from.book("grey")
    }

    fn git(&self, path: &str) -> PathBuf {
        self.dir().join(".git").join(path)
    }

    fn put(&self, path: &str, text: impl AsRef<[u8]>) {
        let path = self.git(path);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(path, text).unwrap();
    }

    /// Some file of an object, and its folder.
    fn an_object(&self) -> PathBuf {
        let folders = fs::read_dir(self.git("objects")).unwrap().map(|e| e.unwrap().path());
        let folder = folders.filter(|p| p.file_name().unwrap().len() == 2).min().unwrap();
        fs::read_dir(folder).unwrap().next().unwrap().unwrap().path()
    }

    #[track_caller]
    fn refused(&self, said: &str) {
        self.yard.refuses(said, &self.dir().display().to_string(), said);
    }

    #[track_caller]
    fn taken(&self) {
        let output = self.yard.run(&["receive", &self.dir().display().to_string()]);
        assert_eq!(output.code, 0, "{output:?}");
        self.yard.garage.tidy("grey", "a received clone");
        let verified = self.yard.run(&["verify", "grey"]);
        assert_eq!(verified.code, 0, "{verified:?}");
    }
}

#[test]
fn hooks_settings_filters_and_attributes_are_neither_run_nor_taken_along() {
    let clone = Clone::new();
    let marker = clone.from.root().join("marker");
    let script = clone.from.root().join("trap.sh");
    fs::write(&script, format!("#!/bin/sh\necho ran >> '{}'\ncat\n", marker.display())).unwrap();
    fs::set_permissions(&script, fs::Permissions::from_mode(0o755)).unwrap();
    for hook in
        ["pre-commit", "post-checkout", "post-merge", "post-commit", "reference-transaction", "fsmonitor-watchman"]
    {
        clone.put(&format!("hooks/{hook}"), fs::read(&script).unwrap());
        fs::set_permissions(clone.git(&format!("hooks/{hook}")), fs::Permissions::from_mode(0o755)).unwrap();
    }
    let included = clone.from.root().join("included");
    fs::write(&included, format!("[core]\n\tfsmonitor = {}\n", script.display())).unwrap();
    let trap = script.display();
    let config = fs::read_to_string(clone.git("config")).unwrap();
    clone.put(
        "config",
        format!(
            "{config}[include]\n\tpath = {0}\n[includeIf \"gitdir:/\"]\n\tpath = {0}\n[core]\n\tfsmonitor = {trap}\n\
             \thooksPath = {trap}\n\tsshCommand = {trap}\n\teditor = {trap}\n\tworktree = /\n\talternateRefsCommand = {trap}\n\
             [filter \"trap\"]\n\tclean = {trap}\n\tsmudge = {trap}\n\tprocess = {trap}\n[diff]\n\texternal = {trap}\n\
             [alias]\n\tstatus = !{trap}\n[credential]\n\thelper = !{trap}\n[uploadpack]\n\tpackObjectsHook = {trap}\n\
             [remote \"origin\"]\n\turl = ext::{trap}\n[submodule \"x\"]\n\turl = {trap}\n\tupdate = !{trap}\n",
            included.display()
        ),
    );
    clone.put("info/attributes", "* filter=trap diff=trap\n");
    fs::write(clone.dir().join(".gitattributes"), "* filter=trap\n").unwrap();
    fs::write(clone.dir().join(".gitmodules"), format!("[submodule \"x\"]\n\tpath = x\n\turl = ext::{trap}\n"))
        .unwrap();
    clone.taken();
    assert!(!marker.exists(), "something was run");
    let all = all_below(&clone.yard.garage.book("grey"));
    let text = |content: &[u8]| String::from_utf8_lossy(content).into_owned();
    assert!(!all.iter().any(|(path, _, content)| path.ends_with("hooks") || text(content).contains("trap")));
}

#[test]
fn borrowed_objects_are_refused() {
    let clone = Clone::new();
    clone.put("objects/info/alternates", "/var/lib/other/objects\n");
    clone.refused("another repository's data");
}

#[test]
fn a_common_folder_elsewhere_is_refused() {
    let clone = Clone::new();
    clone.put("commondir", "../../other/.git\n");
    clone.refused("another repository's data");
}

#[test]
fn a_file_that_points_elsewhere_is_refused() {
    let clone = Clone::new();
    let elsewhere = clone.from.root().join("elsewhere");
    fs::rename(clone.dir().join(".git"), &elsewhere).unwrap();
    fs::write(clone.dir().join(".git"), format!("gitdir: {}\n", elsewhere.display())).unwrap();
    clone.refused("points to a repository elsewhere");
}

#[test]
fn a_linked_repository_is_refused() {
    let clone = Clone::new();
    let elsewhere = clone.from.root().join("elsewhere");
    fs::rename(clone.dir().join(".git"), &elsewhere).unwrap();
    symlink(&elsewhere, clone.dir().join(".git")).unwrap();
    clone.refused("symbolic link");
}

#[test]
fn linked_folders_and_files_in_it_are_refused() {
    for part in ["objects", "refs", "config", "HEAD", "refs/heads/main"] {
        let clone = Clone::new();
        let elsewhere = clone.from.root().join("elsewhere");
        fs::rename(clone.git(part), &elsewhere).unwrap();
        symlink(&elsewhere, clone.git(part)).unwrap();
        clone.refused("symbolic link");
    }
}

#[test]
fn linked_objects_and_pipes_are_refused_unread() {
    let clone = Clone::new();
    let object = clone.an_object();
    let elsewhere = clone.from.root().join("elsewhere");
    fs::rename(&object, &elsewhere).unwrap();
    symlink("/dev/zero", &object).unwrap();
    clone.refused("symbolic link");
    fs::remove_file(&object).unwrap();
    let made = std::process::Command::new("mkfifo").arg(&object).status();
    if made.is_ok_and(|s| s.success()) {
        clone.refused("a device or pipe");
        fs::remove_file(&object).unwrap();
    }
    let folder = object.parent().unwrap();
    let aside = clone.from.root().join("folder");
    fs::rename(folder, &aside).unwrap();
    symlink(&aside, folder).unwrap();
    clone.refused("symbolic link");
}

#[test]
fn objects_that_are_no_objects_are_refused() {
    for (bytes, said) in [
        (b"garbage".to_vec(), "does not begin as one"),
        (packed(b"blob 3\0four"), "does not unpack"),
        (packed(b"blob 4\0four"), "its content is that of"),
        (packed(b"spell 4\0four"), "no kind git knows"),
        (packed(b"blob 99999999999\0x"), "99999999999 bytes"),
        (packed(&[&b"blob 4\0"[..], &vec![0; 1 << 24]].concat()), "does not unpack"),
    ] {
        let clone = Clone::new();
        let object = clone.an_object();
        fs::set_permissions(&object, fs::Permissions::from_mode(0o644)).unwrap();
        fs::write(&object, bytes).unwrap();
        clone.refused(said);
    }
}

#[test]
fn an_object_that_is_missing_is_named() {
    let clone = Clone::new();
    let tip = fs::read_to_string(clone.git("refs/heads/main")).unwrap();
    fs::remove_file(clone.git(&format!("objects/{}/{}", &tip[..2], &tip[2..40]))).unwrap();
    clone.refused("it is not there");
}

#[test]
fn only_the_latest_records_are_not_a_book() {
    let clone = Clone::new();
    clone.put("shallow", "0123456789abcdef0123456789abcdef01234567\n");
    clone.refused("the latest records only");
}

/// Branches, tags and settings are bounded before git's reader, which takes them in whole, sees any of them.
#[test]
fn branches_and_tags_without_end_are_refused_unread() {
    let line = "0123456789abcdef0123456789abcdef01234567 refs/tags/a-tag-of-no-book\n";
    for bare in [false, true] {
        let clone = Clone::new();
        let (git, source) = if bare {
            let git = clone.from.root().join("grey.git");
            fs::rename(clone.git(""), &git).unwrap();
            (git.clone(), git)
        } else {
            (clone.git(""), clone.dir())
        };
        let refuses = |name: &str, said: &str| clone.yard.refuses(name, &source.display().to_string(), said);
        for part in ["packed-refs", "HEAD", "refs/heads/main", "shallow", "config", "config.worktree"] {
            let path = git.join(part);
            let was = fs::read(&path).ok();
            // A hole on the disk: nothing of it but its length is there.
            let file = fs::OpenOptions::new().append(true).create(true).open(&path).unwrap();
            file.set_len(8 << 30).unwrap();
            refuses(part, &format!("{} has 8589934592 bytes", path.display()));
            match was {
                Some(was) => fs::write(&path, was).unwrap(),
                None => fs::remove_file(&path).unwrap(),
            }
        }
        // In no order, so that a reader would sort them first.
        fs::write(git.join("packed-refs"), line.repeat(2_000_000)).unwrap();
        refuses("two million tags", "packed-refs has 136000000 bytes");
        fs::write(git.join("packed-refs"), line.repeat(200) + "no branch\n").unwrap();
        fs::rename(git.join("refs/heads/main"), git.join("main")).unwrap();
        refuses("a line that is none", "names no branch");
        // As many as somebody may have are read, in whatever order.
        let tip = fs::read_to_string(git.join("main")).unwrap();
        let packed = format!(
            "# pack-refs with: peeled\n{}{} refs/heads/main\n^{}",
            line.repeat(10_000),
            tip.trim(),
            &line[..40]
        );
        fs::write(git.join("packed-refs"), packed).unwrap();
        let output = clone.yard.run(&["receive", &source.display().to_string()]);
        assert_eq!(output.code, 0, "{output:?}");
    }
}

#[test]
fn heads_elsewhere_and_forms_of_other_gits_are_refused() {
    let clone = Clone::new();
    let config = fs::read_to_string(clone.git("config")).unwrap();
    clone.put("HEAD", "0123456789abcdef0123456789abcdef01234567\n");
    clone.refused("detached");
    clone.put("HEAD", "ref: refs/heads/../../../x\n");
    clone.refused("`ref: refs/heads/main` is all it says");
    clone.put("HEAD", "ref: refs/heads/main\n");
    for (extension, said) in [
        ("partialclone = origin", "partialclone"),
        ("objectformat = sha256", "sha256"),
        ("refstorage = reftable", "reftable"),
        ("evil = yes", "evil"),
    ] {
        clone.put("config", format!("{config}[extensions]\n\t{extension}\n"));
        clone.refused(said);
    }
    clone.put("config", "[core\nnot a settings file");
    clone.refused("not a settings file");
}

#[test]
fn replaced_and_grafted_history_is_not_believed() {
    let clone = Clone::new();
    clone.from.ok(&["change", "limiter", "down", "1/4"]);
    let tip = fs::read_to_string(clone.git("refs/heads/main")).unwrap();
    let tip = tip.trim();
    // A record that says another limiter, put in the place of the newest one.
    let mut forge = Forge::default();
    let root = forge.root(crate::forge::CAR, crate::forge::SHEET);
    let tree = forge.tree(&root);
    let other = forge.commit(&tree, &[], "forged\n");
    for (kind, data) in &forge.objects {
        let id = crate::forge::hex(&crate::forge::id_of(*kind, data));
        let head = format!("{kind} {}\0", data.len());
        clone.put(&format!("objects/{}/{}", &id[..2], &id[2..]), packed(&[head.as_bytes(), data].concat()));
    }
    clone.put(&format!("refs/replace/{tip}"), format!("{}\n", crate::forge::hex(&other)));
    clone.put("info/grafts", format!("{tip}\n"));
    clone.taken();
    let history = clone.yard.run(&["history", "--car", "grey"]);
    assert!(history.stdout.contains("limiter") && !history.stdout.contains("forged"), "{}", history.stdout);
    let log = clone.yard.garage.git("grey", &["log", "--format=%H"]);
    assert!(log.contains(tip) && log.lines().count() == 3, "{log}");
}

#[test]
fn indexes_and_files_beside_are_not_read() {
    let clone = Clone::new();
    clone.from.git("grey", &["repack", "-adq"]);
    let packs: Vec<PathBuf> = fs::read_dir(clone.git("objects/pack")).unwrap().map(|e| e.unwrap().path()).collect();
    for path in packs.iter().filter(|p| p.extension().is_some_and(|e| e == "idx" || e == "rev")) {
        fs::set_permissions(path, fs::Permissions::from_mode(0o644)).unwrap();
        fs::write(path, vec![0xff; 4096]).unwrap();
    }
    clone.put("objects/pack/multi-pack-index", vec![0xff; 4096]);
    clone.put("objects/info/commit-graph", vec![0xff; 4096]);
    clone.put("index", vec![0xff; 4096]);
    fs::write(clone.dir().join("setup.toml"), "\u{1b}[2J").unwrap();
    fs::write(clone.dir().join("evil.sh"), "rm -rf /\n").unwrap();
    clone.taken();
    assert!(!clone.yard.garage.book("grey").join("evil.sh").exists());
    // A pack that lies is refused as one in a bundle is.
    let pack = packs.iter().find(|p| p.extension().is_some_and(|e| e == "pack")).unwrap();
    let clone_of = Clone::new();
    let mut bytes = fs::read(pack).unwrap();
    let at = bytes.len() / 2;
    bytes[at] ^= 0x10;
    clone_of.put("objects/pack/pack-x.pack", bytes);
    let before = all_below(&clone_of.yard.garage.dir());
    let output = clone_of.yard.run(&["receive", &clone_of.dir().display().to_string()]);
    assert_eq!(output.code, 3, "{output:?}");
    assert!(before == all_below(&clone_of.yard.garage.dir()));
}

#[test]
fn what_is_no_clone_is_refused() {
    let yard = Yard::new();
    let root = yard.garage.root();
    fs::create_dir(root.join("nothing")).unwrap();
    yard.refuses("a folder", &root.join("nothing").display().to_string(), "is no book");
    yard.refuses("nothing", &root.join("absent").display().to_string(), "could not open");
    if Path::new("/dev/zero").exists() {
        yard.refuses("a device", "/dev/zero", "neither a file nor a folder");
    }
}
