//! A folder of plain files: written whole aside before it gets its name.
use std::collections::BTreeSet;
use std::fs;
use std::path::Path;

use super::StoreError;
use super::aside::{Aside, PREFIX, sync_below};
use super::types::io;

/// The folder's name while it is made.
const NAME: &str = "files";
/// Stands beside it once its files are moved where they belong.
const MOVING: &str = "moving";

/// Writes files, by their paths with `/`, into a folder that is not there yet, or is empty.
///
/// One that is not there gets its name by one rename: killed at any moment, it is there whole or not at all. Into one
/// that is there they are written aside first, in it, and then moved one after another: it may be where somebody
/// stands, or where a disk is mounted. What a killed one left aside is cleared away.
pub fn write_folder(dest: &Path, files: &[(String, String)], fsync: bool) -> Result<(), StoreError> {
    let occupied = |what| Err(StoreError::Occupied { path: dest.into(), what });
    let there = match fs::symlink_metadata(dest) {
        Err(e) if e.kind() == std::io::ErrorKind::NotFound => false,
        Err(e) => return Err(io("look at", dest)(e)),
        Ok(m) if !m.is_dir() => return occupied("something that is no folder"),
        Ok(_) => true,
    };
    if !there {
        let aside = Aside::for_stick(dest)?;
        write(&aside, files, fsync)?;
        return aside.place(NAME, dest, fsync);
    }
    let tops: BTreeSet<&str> = files.iter().filter_map(|(path, _)| path.split('/').next()).collect();
    let marked = dest.join(format!("{PREFIX}{NAME}")).join(MOVING);
    let moving = fs::symlink_metadata(&marked).is_ok();
    let mut left = Vec::new();
    for entry in fs::read_dir(dest).map_err(io("read", dest))? {
        let name = entry.map_err(io("read", dest))?.file_name();
        match name.to_str() {
            Some(name) if name == format!("{PREFIX}{NAME}") => {}
            // It was empty when a killed one began to move its files here.
            Some(name) if moving && tops.contains(name) => left.push(dest.join(name)),
            _ => return occupied("a folder that is not empty"),
        }
    }
    // Whoever holds it is still moving.
    let aside = Aside::for_dest(&dest.join(NAME))?;
    if !left.is_empty() {
        aside.write(MOVING, b"", fsync)?;
    }
    for path in &left {
        let is_dir = fs::symlink_metadata(path).is_ok_and(|m| m.is_dir());
        if is_dir { fs::remove_dir_all(path) } else { fs::remove_file(path) }.map_err(io("clear", path))?;
    }
    write(&aside, files, fsync)?;
    if left.is_empty() {
        aside.write(MOVING, b"", fsync)?;
    }
    for name in tops {
        let to = dest.join(name);
        if fs::symlink_metadata(&to).is_ok() {
            return occupied("a folder something else is written into");
        }
        aside.place(&format!("{NAME}/{name}"), &to, fsync)?;
    }
    Ok(())
}

fn write(aside: &Aside, files: &[(String, String)], fsync: bool) -> Result<(), StoreError> {
    let root = aside.path(NAME);
    fs::create_dir(&root).map_err(io("make", &root))?;
    for (path, text) in files {
        let name = format!("{NAME}/{path}");
        let folder = aside.path(&name).parent().map(Path::to_path_buf).unwrap_or_default();
        fs::create_dir_all(&folder).map_err(io("make", &folder))?;
        // The disk is waited for once, with the names.
        aside.write(&name, text.as_bytes(), false)?;
    }
    if fsync { sync_below(&root) } else { Ok(()) }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn files() -> Vec<(String, String)> {
        [("season.csv", "a,b\n"), ("days/2026/x.toml", "x = 1\n")].map(|(p, t)| (p.to_owned(), t.to_owned())).into()
    }

    fn whole(dir: &Path) {
        for (path, text) in files() {
            assert_eq!(fs::read_to_string(dir.join(path)).unwrap(), text);
        }
        assert_eq!(fs::read_dir(dir).unwrap().count(), 2, "nothing of ours is left there");
    }

    #[test]
    fn a_folder_is_written_where_none_is_and_where_it_is_empty() {
        let temp = tempfile::tempdir().unwrap();
        let dir = temp.path().join("out");
        write_folder(&dir, &files(), true).unwrap();
        whole(&dir);
        assert_eq!(fs::read_dir(temp.path()).unwrap().count(), 1);
        let empty = temp.path().join("empty");
        fs::create_dir(&empty).unwrap();
        write_folder(&empty, &files(), false).unwrap();
        whole(&empty);
        assert!(write_folder(&empty, &files(), false).unwrap_err().to_string().contains("not empty"));
        whole(&empty);
        fs::write(temp.path().join("file"), "x").unwrap();
        assert!(write_folder(&temp.path().join("file"), &files(), false).is_err());
    }

    #[test]
    fn what_a_killed_one_left_is_cleared_and_somebody_elses_is_not() {
        let temp = tempfile::tempdir().unwrap();
        let (dir, inside) = (temp.path().join("out"), temp.path().join("in"));
        fs::create_dir(&inside).unwrap();
        for aside in [temp.path().join(".slipbook-copy-out"), inside.join(".slipbook-copy-files")] {
            fs::create_dir_all(aside.join("files/days")).unwrap();
            fs::write(aside.join("lock"), "").unwrap();
            fs::write(aside.join("files/season.csv"), "half").unwrap();
        }
        write_folder(&dir, &files(), false).unwrap();
        whole(&dir);
        write_folder(&inside, &files(), false).unwrap();
        whole(&inside);
        // Killed while it moved them: what came there before is its own, anything else is not.
        let moved = temp.path().join("moved");
        fs::create_dir_all(moved.join(".slipbook-copy-files/files")).unwrap();
        fs::create_dir_all(moved.join("days/2025")).unwrap();
        for path in ["lock", "moving", "files/season.csv"] {
            fs::write(moved.join(".slipbook-copy-files").join(path), "").unwrap();
        }
        fs::write(moved.join("mine"), "mine").unwrap();
        assert!(write_folder(&moved, &files(), false).is_err());
        assert!(moved.join("days/2025").is_dir(), "nothing is cleared beside somebody else's");
        fs::remove_file(moved.join("mine")).unwrap();
        write_folder(&moved, &files(), false).unwrap();
        whole(&moved);
        let other = temp.path().join(".slipbook-copy-third");
        fs::create_dir(&other).unwrap();
        fs::write(other.join("mine"), "mine").unwrap();
        assert!(write_folder(&temp.path().join("third"), &files(), false).is_err());
        assert_eq!(fs::read_to_string(other.join("mine")).unwrap(), "mine");
    }
}
