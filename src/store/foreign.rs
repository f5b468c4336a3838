//! A stranger's repository, read from its files by this program alone: git's reader never opens it, and neither its
//! settings, hooks and indexes nor what it borrows from are obeyed.
use std::collections::HashMap;
use std::fs::{self, File};
use std::io::Read;
use std::path::{Path, PathBuf};

use gix::objs::Kind;
use gix::zlib::{Decompress, FlushDecompress, Status};

use super::budget::{Budget, Limits};
use super::types::io;
use super::unpack::{self, Take};
use super::{Clock, Id, MAX_FILE, StoreError, open, refs, shape};

/// The head of a loose object: its kind, its size, a zero.
const LONGEST_LOOSE_HEAD: usize = 32;

/// The folder of a clone, or a bare repository, with the newest record its branch `main` names. Nothing else of it is
/// read yet.
pub struct Foreign {
    from: PathBuf,
    git: PathBuf,
    tip: Id,
}

impl Foreign {
    /// Looks at the files that say what it is, each bounded.
    ///
    /// # Errors
    /// It is no book, borrows from another, has links in it, is a clone of the latest records only, or has no record.
    pub fn look(source: &Path) -> Result<Foreign, StoreError> {
        let git = open::checked_foreign(source)?;
        if fs::symlink_metadata(git.join("shallow")).is_ok() {
            let why = "it is a clone of the latest records only; a book is complete in itself (`git fetch --unshallow` there)";
            return Err(StoreError::Refused { path: source.into(), why: why.to_owned() });
        }
        let tip = refs::branch(&git)?.ok_or_else(|| StoreError::NoRecords { path: source.into() })?;
        Ok(Foreign { from: source.into(), git, tip })
    }

    /// The newest record, by its branch. Whether it is there is not looked at.
    pub fn tip(&self) -> Id {
        self.tip
    }

    /// The first record, along the log as written. All of its objects are read, within the limits and by a clock that
    /// may have run before; nothing of it is written anywhere.
    ///
    /// # Errors
    /// It is larger than the limits, takes longer, is damaged, or a record on the way is not there.
    pub fn first(&self, limits: Limits, clock: &Clock) -> Result<Id, StoreError> {
        let mut budget = Budget::new(&self.from, limits, &|_| {}).by(clock);
        let mut before: HashMap<Id, Option<Id>> = HashMap::new();
        self.objects(&mut budget, &mut |kind, data, _| {
            let id = id_of(kind, &data)?;
            if kind == Kind::Commit
                && let Ok(named) = shape::commit(&data)
            {
                before.insert(id, named.parents.first().copied());
            }
            Ok(id)
        })?;
        let mut at = self.tip;
        loop {
            match before.remove(&at) {
                Some(Some(parent)) => at = parent,
                Some(None) => return Ok(at),
                None => {
                    return Err(
                        budget.refuse(format!("its record {} is not there, or is not of a record's form", at.short()))
                    );
                }
            }
        }
    }

    /// Hands on every object of it, needed or not.
    pub(super) fn objects(&self, budget: &mut Budget, take: Take) -> Result<(), StoreError> {
        objects(&self.git, budget, take)
    }
}

/// The id an object has by its content.
pub(super) fn id_of(kind: Kind, data: &[u8]) -> Result<Id, StoreError> {
    let hash = gix::objs::compute_hash(gix::hash::Kind::Sha1, kind, data);
    Ok(Id::of(&hash.map_err(|e| StoreError::damaged("an object that was made to be taken for another", e))?))
}

/// Hands on the objects of a clone from its files: neither its indexes nor anything else in it is relied on.
fn objects(git: &Path, budget: &mut Budget, take: Take) -> Result<(), StoreError> {
    let objects = git.join("objects");
    for (path, name) in entries(&objects, budget)? {
        let hex = name.len() == 2 && name.bytes().all(|b| b.is_ascii_hexdigit());
        if !hex {
            continue;
        }
        open::check_part(&path, true, true)?;
        for (path, name) in entries(&path, budget)? {
            let id = format!("{}{name}", path.parent().and_then(Path::file_name).unwrap_or_default().to_string_lossy());
            if id.parse::<Id>().is_ok() {
                open::check_part(&path, false, true)?;
                loose(&path, &id, budget, take)?;
            }
        }
    }
    let packs = objects.join("pack");
    if fs::symlink_metadata(&packs).is_err() {
        return Ok(());
    }
    for (path, name) in entries(&packs, budget)? {
        if name.ends_with(".pack") {
            open::check_part(&path, false, true)?;
            let mut file = File::open(&path).map_err(io("open", &path))?;
            budget.file(file.metadata().map_err(io("look at", &path))?.len())?;
            unpack::read(&mut file, 0, budget, take)?;
        }
    }
    Ok(())
}

/// What is in a folder, sorted by name.
fn entries(dir: &Path, budget: &mut Budget) -> Result<Vec<(PathBuf, String)>, StoreError> {
    let mut out = Vec::new();
    for entry in fs::read_dir(dir).map_err(io("read", dir))? {
        budget.step()?;
        budget.objects(1)?;
        let entry = entry.map_err(io("read", dir))?;
        out.push((entry.path(), entry.file_name().to_string_lossy().into_owned()));
    }
    out.sort();
    Ok(out)
}

/// Reads one object that has a file of its own.
fn loose(path: &Path, id: &str, budget: &mut Budget, take: Take) -> Result<(), StoreError> {
    let wrong = |budget: &Budget, why: &str| budget.refuse(format!("the object {id}: {why}"));
    let mut file = File::open(path).map_err(io("open", path))?;
    let length = file.metadata().map_err(io("look at", path))?.len();
    budget.file(length)?;
    let mut packed = Vec::new();
    // Nothing that packs well is larger than what it unpacks to by more than this.
    file.by_ref().take(MAX_FILE + MAX_FILE / 16).read_to_end(&mut packed).map_err(io("read", path))?;
    let mut inflate = Decompress::new();
    let mut head = [0; LONGEST_LOOSE_HEAD];
    let _ = inflate.decompress(&packed, &mut head, FlushDecompress::None);
    let begun = &head[..(inflate.total_out() as usize).min(LONGEST_LOOSE_HEAD)];
    let parsed = begun.iter().position(|b| *b == 0).and_then(|zero| {
        let (kind, size) = std::str::from_utf8(&begun[..zero]).ok()?.split_once(' ')?;
        let size: u64 = size.parse().ok().filter(|_| size.bytes().all(|b| b.is_ascii_digit()))?;
        Some((kind.to_owned(), size, zero + 1))
    });
    let (kind, size, start) = parsed.ok_or_else(|| wrong(budget, "it does not begin as one"))?;
    let kind = match kind.as_str() {
        "commit" => Kind::Commit,
        "tree" => Kind::Tree,
        "blob" => Kind::Blob,
        "tag" => Kind::Tag,
        _ => return Err(wrong(budget, "it is of no kind git knows")),
    };
    budget.object(size)?;
    let whole = start + size as usize;
    let mut data = vec![0; whole + 1];
    inflate.reset();
    match inflate.decompress(&packed, &mut data, FlushDecompress::Finish) {
        Ok(Status::StreamEnd) if inflate.total_out() as usize == whole => {}
        _ => return Err(wrong(budget, "it does not unpack to what it says")),
    }
    data.truncate(whole);
    data.drain(..start);
    match take(kind, data, budget)? {
        found if found.to_string() == id => Ok(()),
        found => Err(wrong(budget, &format!("its content is that of {found}"))),
    }
}
