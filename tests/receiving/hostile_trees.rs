//! Folders and commits git would take and a book has not.

use crate::forge::*;
use crate::yard::Yard;
use gix::objs::Kind;

/// A file of this name in the root, in the order git has.
fn named(mode: &'static str, name: impl AsRef<[u8]>) -> Vec<u8> {
    let name = name.as_ref().to_vec();
    with_root(|forge, root| {
        let id = if mode == DIR { forge.tree(&[]) } else { forge.blob("x") };
        root.push(entry(mode, name, id));
        let key = |e: &Entry| [&e.1[..], if e.0 == DIR { b"/" } else { b"" }].concat();
        root.sort_by_key(key);
    })
}

#[test]
fn folders() {
    Yard::new().refuses_all(vec![
        ("a symbolic link", "symbolic link", named("120000", "link")),
        ("a sheet that is a link", "symbolic link", with_root(|_, root| root[2].0 = "120000")),
        ("a submodule", "submodule", named("160000", "sub")),
        ("a program", "program", named("100755", "run.sh")),
        ("a mode of old", "neither a plain file", named("100664", "x.toml")),
        ("a mode with a zero before it", "neither a plain file", with_root(|_, root| root[1].0 = "040000")),
        ("a mode that is none", "neither a plain file", named("777777", "x")),
        ("no mode", "neither a plain file", named("", "x")),
        ("one folder up", "`..`", named(FILE, "..")),
        ("the folder itself", "`.`", named(DIR, ".")),
        ("a name with a way up", "/ in it", named(FILE, "../../evil")),
        ("a name from the root", "/ in it", named(FILE, "/etc/cron.d/x")),
        ("a name with a way down", "/ in it", named(FILE, "days/2026/x.toml")),
        ("the repository's own folder", "own folder", named(DIR, ".git")),
        ("the same in other letters", "own folder", named(DIR, ".GiT")),
        ("the same with a dot behind", "own folder", named(DIR, ".git.")),
        ("the same with blanks behind", "own folder", named(DIR, ".git  ")),
        ("the same as a short name", "own folder", named(DIR, "GIT~1")),
        ("the same with a letter none sees", "invisible", named(DIR, ".g\u{200c}it")),
        ("the same with a mark of order", "invisible", named(DIR, "\u{feff}.git")),
        ("the same as a stream", "not every system", named(DIR, ".git::$INDEX_ALLOCATION")),
        ("a path of another system", "not every system", named(FILE, "..\\..\\evil")),
        ("a drive", "not every system", named(FILE, "c:evil")),
        ("a device", "device name", named(FILE, "nul.toml")),
        ("a device with a number", "device name", named(FILE, "COM7")),
        ("a name that ends in a dot", "ends in a dot", named(FILE, "setup.toml.")),
        ("a name that ends in a blank", "ends in a dot or a space", named(FILE, "setup.toml ")),
        ("a name that clears the screen", "control or invisible", named(FILE, "\u{1b}[2Jx")),
        ("a name that turns round", "control or invisible", named(FILE, "x\u{202e}lmot")),
        ("a name with a line end", "control or invisible", named(FILE, "a\nb")),
        ("a name that is no text", "not UTF-8", named(FILE, b"\xff\xfe.toml")),
        ("no name", "empty", named(FILE, "")),
        ("the sheet in other letters", "once more in other letters", named(FILE, "SETUP.toml")),
        (
            "a file twice",
            "twice",
            with_root(|_, root| {
                let one = root[0].clone();
                root.insert(0, one);
            }),
        ),
        ("a file and a folder of one name", "twice", named(FILE, "days")),
        ("out of order", "not in order", with_root(|_, root| root.swap(0, 2))),
        ("an entry of no object", "names no object", with_root(|_, root| root[2].2 = [0; 20])),
        ("a folder cut off", "cut off", {
            let mut forge = Forge::default();
            let root = forge.root(CAR, SHEET);
            let bytes = tree_bytes(&root);
            let tree = forge.put(Kind::Tree, &bytes[..bytes.len() - 5]);
            let tip = forge.commit(&tree, &[], OPENED);
            forge.bundle(&tip)
        }),
        ("settings git acts upon", "git would act", named(FILE, ".gitattributes")),
        ("submodules to fetch", "git would act", named(FILE, ".gitmodules")),
        ("a stranger's file", "none of a book's files", named(FILE, "notes.txt")),
        ("a stranger's folder", "none of a book's files", named(DIR, "hooks")),
        (
            "a sheet that is a folder",
            "none of a book's files",
            with_root(|forge, root| root[2] = entry(DIR, "setup.toml", forge.tree(&[]))),
        ),
        (
            "a day of no date",
            "none of a book's files",
            with_root(|forge, root| {
                let day = forge.blob("format = 1\n");
                root[1].2 = forge.days("99-99-x.toml", day);
            }),
        ),
        ("a file that is not there", "it is not there", with_root(|_, root| root[2].2 = [9; 20])),
        ("a folder that is not there", "it is not there", with_root(|_, root| root[1].2 = [9; 20])),
        ("a file that is a folder's bytes", "not a blob", with_root(|_, root| root[2].2 = root[1].2)),
        ("a folder that is a file's bytes", "not a tree", with_root(|_, root| root[1].2 = root[2].2)),
        (
            "five thousand folders deep",
            "none of a book's files",
            with_root(|forge, root| {
                let mut at = forge.tree(&[]);
                for _ in 0..5000 {
                    let next = tree_bytes(&[entry(DIR, "days", at)]);
                    at = id_of(Kind::Tree, &next);
                    forge.objects.push((Kind::Tree, next));
                }
                root[1].2 = at;
            }),
        ),
        (
            "a folder that stands for ten milliards",
            "none of a book's files",
            with_root(|forge, root| {
                let mut at = forge.blob("x");
                for level in 0..10 {
                    let mode = if level == 0 { FILE } else { DIR };
                    let ten: Vec<Entry> = (2020..2030).map(|y| entry(mode, y.to_string(), at)).collect();
                    at = forge.tree(&ten);
                }
                root[1].2 = at;
            }),
        ),
        (
            "a folder of thirty thousand files",
            "more than 20000 entries",
            with_root(|forge, root| {
                let blob = forge.blob("x");
                let many: Vec<Entry> = (0..30_000).map(|n| entry(FILE, format!("05-16-{n:06}.toml"), blob)).collect();
                let year = forge.tree(&many);
                root[1].2 = forge.tree(&[entry(DIR, "2026", year)]);
            }),
        ),
    ]);
}

#[test]
fn commits() {
    let made = |author: &str, rest: &str| {
        with_commit(|tree, first| format!("tree {tree}\nparent {first}\nauthor {author}\n{rest}").into_bytes())
    };
    let good = format!("committer {BY}\n\nWords\n");
    Yard::new().refuses_all(vec![
        (
            "a parent that is not there",
            "it is not there",
            with_commit(|tree, _| commit_text(tree, &["0123456789abcdef0123456789abcdef01234567"], "Words\n")),
        ),
        ("a parent that is a folder", "not a commit", with_commit(|tree, _| commit_text(tree, &[tree], "Words\n"))),
        (
            "one parent twice",
            "one parent twice",
            with_commit(|tree, first| commit_text(tree, &[first, first], "Words\n")),
        ),
        (
            "forty parents",
            "more than 16",
            with_commit(|tree, _| {
                let all: Vec<String> = (0..40).map(|n| format!("{n:040x}")).collect();
                commit_text(tree, &all.iter().map(String::as_str).collect::<Vec<_>>(), "Words\n")
            }),
        ),
        ("no author", "`author` belongs", with_commit(|tree, _| format!("tree {tree}\n{good}").into_bytes())),
        (
            "no folder",
            "`tree` belongs",
            with_commit(|_, first| format!("parent {first}\nauthor {BY}\n{good}").into_bytes()),
        ),
        (
            "a folder that is no id",
            "no id",
            with_commit(|_, _| format!("tree ../../x\nauthor {BY}\n{good}").into_bytes()),
        ),
        (
            "two folders",
            "something else",
            with_commit(|tree, _| format!("tree {tree}\ntree {tree}\nauthor {BY}\n{good}").into_bytes()),
        ),
        (
            "a parent behind the author",
            "something else",
            with_commit(|tree, first| format!("tree {tree}\nauthor {BY}\nparent {first}\n{good}").into_bytes()),
        ),
        ("an author without an address", "no name, address", made("Ro 1777730400 -0500", &good)),
        ("a time before all time", "its time is none", made("Ro <x> -5 -0500", &good)),
        ("a time beyond the years", "between 1970 and 9999", made("Ro <x> 999999999999999 -0500", &good)),
        ("a time beyond numbers", "its time is none", made(&format!("Ro <x> {} -0500", "9".repeat(60)), &good)),
        ("a clock of another world", "under a day", made("Ro <x> 1777730400 +9900", &good)),
        ("a clock that is none", "its time is none", made("Ro <x> 1777730400 EST", &good)),
        ("no message", "no message", made(BY, &format!("committer {BY}\n"))),
        ("a zero in the message", "zero byte", made(BY, &format!("committer {BY}\n\nWor\0ds\n"))),
        (
            "a message of two megabytes",
            "65536 at most",
            made(BY, &format!("committer {BY}\n\n{}\n", "x".repeat(2 << 20))),
        ),
        ("a message that is no text", "not UTF-8", {
            with_commit(|tree, _| [commit_text(tree, &[], "Words ").as_slice(), b"\xff\xfe\n"].concat())
        }),
        ("a line that is none", "none that belongs", made(BY, &format!("committer {BY}\nEvil!line\n\nWords\n"))),
        ("a tip that is a folder", "not a commit", {
            let (mut forge, _) = sound();
            let root = forge.root(CAR, SHEET);
            let tree = forge.tree(&root);
            forge.bundle(&tree)
        }),
        ("a tip that is a file", "not a commit", {
            let (mut forge, _) = sound();
            let blob = forge.blob("x");
            forge.bundle(&blob)
        }),
    ]);
}

fn commit_text(tree: &str, parents: &[&str], message: &str) -> Vec<u8> {
    let parents: String = parents.iter().map(|p| format!("parent {p}\n")).collect();
    format!("tree {tree}\n{parents}author {BY}\ncommitter {BY}\n\n{message}").into_bytes()
}
