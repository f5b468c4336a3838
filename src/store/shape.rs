//! The forms the objects of a book have. Git takes more than these; what is not among them is none of a book.
use std::collections::HashSet;

use gix::objs::tree::name_order;

use super::{Id, Person, Stamp, log, paths};

/// The most a commit may hold, in bytes.
const LARGEST_COMMIT: usize = 1024 * 1024;

/// The most entries of one folder.
const MOST_ENTRIES: usize = 20_000;

/// The most commits one follows.
const MOST_PARENTS: usize = 16;

/// What a commit names.
pub(super) struct Named {
    pub(super) tree: Id,
    pub(super) parents: Vec<Id>,
}

/// One entry of a folder.
pub(super) struct Entry<'d> {
    pub(super) name: &'d str,
    pub(super) is_dir: bool,
    pub(super) id: Id,
}

/// Reads a commit; the error says what about it is not as it should be.
pub(super) fn commit(data: &[u8]) -> Result<Named, String> {
    if data.len() > LARGEST_COMMIT {
        return Err(format!("it has {} bytes; {LARGEST_COMMIT} at most", data.len()));
    }
    if data.contains(&0) {
        return Err("it has a zero byte".to_owned());
    }
    let text = std::str::from_utf8(data).map_err(|_| "it is not UTF-8 text".to_owned())?;
    let (head, _) = text.split_once("\n\n").ok_or("it has no message")?;
    let mut lines = head.split('\n').peekable();
    let mut wanted = |name: &str, more: bool| -> Result<Option<&str>, String> {
        let is = |line: &&str| line.strip_prefix(name).is_some_and(|rest| rest.starts_with(' '));
        match lines.next_if(is) {
            Some(line) => Ok(Some(&line[name.len() + 1..])),
            None if more => Ok(None),
            None => Err(format!("where its `{name}` belongs there is something else")),
        }
    };
    let id = |text: &str| {
        let small = !text.bytes().any(|b| b.is_ascii_uppercase());
        text.parse::<Id>().ok().filter(|_| small).ok_or_else(|| "it names an object by no id".to_owned())
    };
    let tree = id(wanted("tree", false)?.unwrap_or_default())?;
    let mut parents = Vec::new();
    while let Some(parent) = wanted("parent", true)? {
        let parent = id(parent)?;
        if parents.contains(&parent) {
            return Err("it names one parent twice".to_owned());
        }
        if parents.len() == MOST_PARENTS {
            return Err(format!("it follows more than {MOST_PARENTS} commits"));
        }
        parents.push(parent);
    }
    for name in ["author", "committer"] {
        signature(wanted(name, false)?.unwrap_or_default()).map_err(|why| format!("its {name}: {why}"))?;
    }
    // What follows (a signature, say) is not acted upon: only its form is looked at.
    for line in lines {
        let name = line.split(' ').next().unwrap_or_default();
        let plain = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-';
        let again = ["tree", "parent", "author", "committer"].contains(&name);
        if !line.starts_with(' ') && (name.is_empty() || again || !name.chars().all(plain)) {
            return Err("one of its lines is none that belongs there".to_owned());
        }
    }
    Ok(Named { tree, parents })
}

/// `name <address> seconds +hhmm`
fn signature(text: &str) -> Result<(), String> {
    let form = || "no name, address and time".to_owned();
    let (name, rest) = text.split_once(" <").or_else(|| Some(("", text.strip_prefix('<')?))).ok_or_else(form)?;
    let (email, time) = rest.split_once("> ").ok_or_else(form)?;
    let (seconds, zone) = time.split_once(' ').ok_or_else(form)?;
    let digits = |t: &str| !t.is_empty() && t.bytes().all(|b| b.is_ascii_digit());
    let (sign, hours) = (zone.as_bytes().first().copied(), zone.get(1..).unwrap_or_default());
    if !digits(seconds) || !digits(hours) || hours.len() != 4 || !matches!(sign, Some(b'+' | b'-')) {
        return Err("its time is none".to_owned());
    }
    let minutes: i32 = hours.parse().map_err(|_| form())?;
    if minutes % 100 > 59 {
        return Err("its time is none".to_owned());
    }
    let offset_seconds = (minutes / 100 * 60 + minutes % 100) * 60 * if sign == Some(b'-') { -1 } else { 1 };
    let seconds = seconds.parse().map_err(|_| "its time is none".to_owned())?;
    // A name may be empty or have blanks about it: a hand may have written it with git.
    let who = Person { name: format!("x{}x", name), email: format!("x{}x", email) };
    log::check_signature(&who, Stamp { seconds, offset_seconds }).map_err(|e| e.to_string())
}

/// Reads a folder; the error says what about it is not as it should be.
pub(super) fn tree(data: &[u8]) -> Result<Vec<Entry<'_>>, String> {
    let mut out: Vec<Entry> = Vec::new();
    let mut names: HashSet<String> = HashSet::new();
    let mut rest = data;
    while !rest.is_empty() {
        let cut = || "it is cut off".to_owned();
        let blank = rest.iter().position(|b| *b == b' ').ok_or_else(cut)?;
        let zero = rest.iter().position(|b| *b == 0).filter(|zero| *zero > blank).ok_or_else(cut)?;
        let (mode, name) = (&rest[..blank], &rest[blank + 1..zero]);
        let id = rest[zero + 1..].first_chunk::<20>().ok_or_else(cut)?;
        rest = &rest[zero + 21..];
        let shown = String::from_utf8_lossy(name).escape_debug().take(200).collect::<String>();
        let name = std::str::from_utf8(name).map_err(|_| format!("the name `{shown}` in it is not UTF-8 text"))?;
        let is_dir = match mode {
            b"100644" => false,
            b"40000" => true,
            b"120000" => return Err(format!("`{shown}` in it is a symbolic link")),
            b"160000" => return Err(format!("`{shown}` in it is a repository of its own, a submodule")),
            b"100755" => return Err(format!("`{shown}` in it is marked as a program")),
            _ => return Err(format!("`{shown}` in it is neither a plain file nor a folder")),
        };
        if name.contains('/') {
            return Err(format!("the name `{shown}` in it has a / in it"));
        }
        paths::check(name).map_err(|e| e.to_string())?;
        if *id == [0; 20] {
            return Err(format!("`{shown}` in it names no object"));
        }
        if !names.insert(name.to_lowercase()) {
            return Err(format!("the name `{shown}` is in it twice, or once more in other letters"));
        }
        if let Some(last) = out.last()
            && name_order(last.name.as_bytes(), last.is_dir, name.as_bytes(), is_dir).is_ge()
        {
            return Err(format!("its entries are not in order at `{shown}`"));
        }
        if out.len() == MOST_ENTRIES {
            return Err(format!("it has more than {MOST_ENTRIES} entries"));
        }
        out.push(Entry { name, is_dir, id: Id(*id) });
    }
    Ok(out)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn entry(mode: &str, name: &str) -> Vec<u8> {
        [mode.as_bytes(), b" ", name.as_bytes(), b"\0", &[7; 20]].concat()
    }

    #[test]
    fn plain_folders_pass_and_others_are_named() {
        let good = [entry("100644", "car.toml"), entry("40000", "days"), entry("100644", "setup.toml")].concat();
        assert_eq!(tree(&good).unwrap().len(), 3);
        for (mode, name, said) in [
            ("120000", "car.toml", "symbolic link"),
            ("160000", "days", "submodule"),
            ("100755", "car.toml", "program"),
            ("100664", "car.toml", "neither"),
            ("040000", "days", "neither"),
            ("100644", ".GiT", "own folder"),
            ("100644", "a/b", "/ in it"),
            ("100644", "..", "`..`"),
            ("100644", "", "empty"),
        ] {
            let why = tree(&entry(mode, name)).err().unwrap_or_default();
            assert!(why.contains(said), "{mode} {name}: {why}");
        }
        let twice = [entry("100644", "days"), entry("40000", "days")].concat();
        assert!(tree(&twice).is_err_and(|why| why.contains("twice")));
        let order = [entry("100644", "setup.toml"), entry("100644", "car.toml")].concat();
        assert!(tree(&order).is_err_and(|why| why.contains("order")));
        for short in 1..good.len() {
            assert!(tree(&good[..short]).is_ok_and(|t| t.len() < 3) || tree(&good[..short]).is_err(), "{short}");
        }
    }

    #[test]
    fn commits_have_one_form() {
        let id = "0123456789abcdef0123456789abcdef01234567";
        let (head, by) = (format!("tree {id}\n"), "Ro <ro@x> 1700000000 -0500");
        let whole = format!("{head}parent {id}\nauthor {by}\ncommitter {by}\ngpgsig -----\n abc\n\nWords\n");
        assert_eq!(commit(whole.as_bytes()).map(|n| n.parents.len()), Ok(1));
        for bad in [
            format!("{head}author {by}\ncommitter {by}\n"),
            format!("author {by}\n{head}committer {by}\n\nWords"),
            format!("{head}parent {id}\nparent {id}\nauthor {by}\ncommitter {by}\n\nWords"),
            format!("{head}author {by}\ncommitter {by}\nparent {id}\n\nWords"),
            format!("{head}author {by}\n\nWords"),
            format!("{head}author Ro 1700000000 -0500\ncommitter {by}\n\nWords"),
            format!("{head}author Ro <x> 99999999999999999999 -0500\ncommitter {by}\n\nWords"),
            format!("{head}author Ro <x> -5 -0500\ncommitter {by}\n\nWords"),
            format!("{head}author Ro <x> 5 -9900\ncommitter {by}\n\nWords"),
            format!("tree {}\nauthor {by}\ncommitter {by}\n\nWords", &id[1..]),
            format!("{head}author {by}\ncommitter {by}\n\nWo\0rds"),
        ] {
            assert!(commit(bad.as_bytes()).is_err(), "{bad}");
        }
    }
}
