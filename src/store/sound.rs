//! Everything a commit stands on, looked at as if a stranger had made it: each object is what its id says and has a form
//! a book has. What is wrong is handed on, one by one, and what can still be read goes on being read.
use std::collections::{HashMap, HashSet, VecDeque};

use gix::objs::Kind;

use super::budget::Budget;
use super::{Id, Store, StoreError, reach, shape};

/// Says which paths a book has: the path with `/`, and whether it is a folder. The error is why not.
pub type Allowed<'a> = &'a dyn Fn(&str, bool) -> Result<(), String>;

/// Something that is not as it should be.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Flaw {
    /// The object.
    pub object: Id,
    /// What it is: `commit`, `folder`, `file`.
    pub what: &'static str,
    /// Its path; empty for a commit and for the folder of the whole book.
    pub path: String,
    /// The oldest record it was met in; for a commit that cannot be read, the one that follows it.
    pub record: Option<Id>,
    /// It is not there, or cannot be read: what it held is lost.
    pub lost: bool,
    /// What is wrong.
    pub why: String,
}

/// A file of some record.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Held {
    /// Its path.
    pub path: String,
    /// Its content.
    pub blob: Id,
    /// The oldest record it was met in.
    pub record: Id,
    /// `car.toml` of that record.
    pub car: Option<Id>,
}

/// What a book holds.
#[derive(Debug, Clone, Default)]
pub struct Inventory {
    /// Its records, newest first, those beside the log as written among them.
    pub commits: Vec<Id>,
    /// Every different file, each once, those of the oldest records first.
    pub files: Vec<Held>,
    /// Objects, each once.
    pub objects: usize,
}

impl Inventory {
    /// Whether a record is one of them.
    pub fn has(&self, commit: Id) -> bool {
        self.commits.contains(&commit)
    }
}

/// Takes a flaw; an error ends the walk.
pub(super) type Found<'f> = &'f mut dyn FnMut(Flaw, &Budget) -> Result<(), StoreError>;

pub(super) fn walk(
    store: &Store,
    tip: Id,
    allowed: Allowed,
    budget: &mut Budget,
    found: Found,
) -> Result<Inventory, StoreError> {
    let mut walk =
        Walk { store, allowed, budget, found, out: Inventory::default(), trees: HashSet::new(), blobs: HashMap::new() };
    let roots = walk.commits(tip)?;
    let mut held = HashSet::new();
    for (commit, root) in roots.into_iter().rev() {
        walk.root(commit, root, &mut held)?;
    }
    walk.out.objects = walk.out.commits.len() + walk.blobs.len();
    let trees: HashSet<Id> = walk.trees.iter().map(|(id, _)| *id).collect();
    walk.out.objects += trees.len();
    Ok(walk.out)
}

struct Walk<'a, 'b, 't> {
    store: &'a Store,
    allowed: Allowed<'a>,
    budget: &'b mut Budget<'t>,
    found: Found<'a>,
    out: Inventory,
    /// A folder is looked at once in each place it has.
    trees: HashSet<(Id, String)>,
    /// Files that were read, with their sizes; `None` where one could not be.
    blobs: HashMap<Id, Option<u64>>,
}

/// What all records together may say, in bytes: a book keeps their messages at hand.
const MOST_SAID: u64 = 128 << 20;

impl Walk<'_, '_, '_> {
    fn flaw(&mut self, flaw: Flaw) -> Result<(), StoreError> {
        (self.found)(flaw, self.budget)
    }

    fn read(&mut self, id: Id, kind: Kind) -> Result<Result<Vec<u8>, String>, StoreError> {
        let mut buffer = Vec::new();
        let read = reach::genuine(self.store, id, kind, &mut buffer).map(<[u8]>::to_vec);
        match read {
            Ok(data) => {
                self.budget.object(data.len() as u64)?;
                Ok(Ok(data))
            }
            Err(StoreError::Missing { .. }) => Ok(Err(format!("it is not there (object {})", id.short()))),
            Err(StoreError::Damaged { source, .. }) => {
                Ok(Err(format!("it is damaged: {source} (object {})", id.short())))
            }
            Err(e @ StoreError::TooLarge { .. }) => Ok(Err(e.to_string())),
            Err(e) => Err(e),
        }
    }

    /// All commits, newest first, each with its folder.
    fn commits(&mut self, tip: Id) -> Result<Vec<(Id, Id)>, StoreError> {
        let mut known = HashSet::from([tip]);
        let mut queue = VecDeque::from([(tip, None)]);
        let mut roots = Vec::new();
        let mut said = 0;
        while let Some((id, child)) = queue.pop_front() {
            let read = self.read(id, Kind::Commit)?;
            said += read.as_ref().map_or(0, |data| data.len() as u64);
            if said > MOST_SAID {
                return Err(self.budget.refuse(format!("its records alone say more than {MOST_SAID} bytes")));
            }
            let lost = read.is_err();
            let named = match read.and_then(|data| shape::commit(&data)) {
                Ok(named) => named,
                Err(why) => {
                    let record = if lost { child } else { Some(id) };
                    self.flaw(Flaw { object: id, what: "commit", path: String::new(), record, lost, why })?;
                    continue;
                }
            };
            self.out.commits.push(id);
            roots.push((id, named.tree));
            queue.extend(named.parents.into_iter().filter(|p| known.insert(*p)).map(|p| (p, Some(id))));
        }
        Ok(roots)
    }

    /// The files of one commit that were not met before.
    fn root(&mut self, commit: Id, root: Id, held: &mut HashSet<(String, Id)>) -> Result<(), StoreError> {
        let mut car = None;
        let mut open = vec![(root, String::new())];
        while let Some((id, path)) = open.pop() {
            if !self.trees.insert((id, path.clone())) {
                continue;
            }
            let flaw =
                |lost, why| Flaw { object: id, what: "folder", path: path.clone(), record: Some(commit), lost, why };
            let data = match self.read(id, Kind::Tree)? {
                Ok(data) => data,
                Err(why) => {
                    self.flaw(flaw(true, why))?;
                    continue;
                }
            };
            let entries = match shape::tree(&data) {
                Ok(entries) => entries,
                Err(why) => {
                    self.flaw(flaw(false, why))?;
                    continue;
                }
            };
            if path.is_empty() {
                car = entries.iter().find(|e| e.name == "car.toml" && !e.is_dir).map(|e| e.id);
            }
            for entry in entries {
                let inside = if path.is_empty() { entry.name.to_owned() } else { format!("{path}/{}", entry.name) };
                if let Err(why) = (self.allowed)(&inside, entry.is_dir) {
                    let what = if entry.is_dir { "folder" } else { "file" };
                    let flaw = Flaw { object: entry.id, what, path: inside, record: Some(commit), lost: false, why };
                    self.flaw(flaw)?;
                    continue;
                }
                if entry.is_dir {
                    open.push((entry.id, inside));
                } else if held.insert((inside.clone(), entry.id)) {
                    self.file(Held { path: inside, blob: entry.id, record: commit, car })?;
                }
            }
        }
        Ok(())
    }

    fn file(&mut self, file: Held) -> Result<(), StoreError> {
        if self.out.files.len() == self.budget.files() {
            return Err(self
                .budget
                .refuse(format!("its records hold more than {} different files", self.budget.files())));
        }
        let why = match self.blobs.get(&file.blob).copied() {
            // In another place it is read, laid out and kept once more.
            Some(Some(bytes)) => {
                self.budget.object(bytes)?;
                None
            }
            Some(None) => Some(format!("it is damaged or not there (object {})", file.blob.short())),
            None => {
                let read = self.read(file.blob, Kind::Blob)?;
                self.blobs.insert(file.blob, read.as_ref().ok().map(|data| data.len() as u64));
                read.err()
            }
        };
        if let Some(why) = why {
            let Held { path, blob, record, .. } = file;
            return self.flaw(Flaw { object: blob, what: "file", path, record: Some(record), lost: true, why });
        }
        self.out.files.push(file);
        Ok(())
    }
}
