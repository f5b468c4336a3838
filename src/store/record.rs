//! One record from lock to unlock, in the order that loses nothing when it is cut off anywhere.
use std::fs::{File, OpenOptions};
use std::io::Write;
use std::path::{Path, PathBuf};

use gix::index::entry::Stat;

use super::batch::{Batch, Touched};
use super::index::Index;
use super::lock::{self, GitLock, Stale, Turn};
use super::refs::{self, Move};
use super::types::io;
use super::{BuildError, Options, Recorded, Store, StoreError, heal, worktree};

/// How the names of files begin that wait in `.git` to be moved into place.
pub(super) const ASIDE: &str = "slipbook-aside-";

const TRIES: u32 = 5;

/// What git leaves while something begun by hand is unfinished.
const UNFINISHED: &[&str] = &["MERGE_HEAD", "CHERRY_PICK_HEAD", "REVERT_HEAD", "rebase-merge", "rebase-apply"];

type Build<'b> = &'b mut dyn FnMut(&mut Batch) -> Result<(), BuildError>;

pub(super) fn run(store: &Store, options: &Options, build: Build) -> Result<Recorded, StoreError> {
    let mut turn = Turn::take(store, options)?;
    let result = under_lock(store, options, &mut turn, build);
    match &result {
        // The folder is behind: the mark stays, so that the next record heals it.
        Err(StoreError::Unsettled { .. }) => {}
        // Not healed yet: likewise.
        Err(_) if turn.stale.is_some() => {}
        Err(_) => {
            heal::sweep_asides(store)?;
            turn.clear()?;
        }
        Ok(_) => turn.clear()?,
    }
    result
}

fn under_lock(store: &Store, options: &Options, turn: &mut Turn, build: Build) -> Result<Recorded, StoreError> {
    let mut done = Recorded::default();
    if let Some(stale) = &turn.stale {
        if stale.base.is_none() {
            // The mark was lost; written anew before the other traces go, healing can be cut off too.
            let base = heal::likely_base(store)?;
            turn.mark(base, false)?;
            turn.stale = Some(Stale { base: Some(base) });
        }
        heal::sweep(store, turn)?;
    } else {
        turn.mark(refs::head(store)?, false)?;
    }
    let index_lock = GitLock::take(turn, &store.git.join("index"), options)?;
    refuse_unfinished(store)?;
    let mut index = Index::for_writing(store, refs::head(store)?)?;
    if let Some(stale) = turn.stale.take() {
        let healed = heal::restore(store, options, &stale, &mut index, &mut done);
        if healed.is_err() {
            turn.stale = Some(stale);
        }
        healed?;
    }
    for _ in 0..TRIES {
        let base = refs::head(store)?;
        turn.mark(base, false)?;
        let mut batch = Batch::new(store, &index, base)?;
        build(&mut batch).map_err(StoreError::from_build)?;
        let (Some(id), Some(last)) = (batch.tip, batch.last.take()) else {
            if batch.laid_out {
                // The branch stays where it is. A git program that writes the index waits for us; one that only moves the
                // branch does not, and then the folder holds what was the newest record until now, as an edit by hand.
                let (plan, beside) = Plan::make(store, std::mem::take(&mut batch.touched))?;
                batch.sink.finish(&beside, options.fsync)?;
                drop(batch);
                plan.carry_out(store, &mut index, &mut done)?;
                index.write(store, options.fsync)?;
            }
            return Ok(done);
        };
        if (batch.made.len() > 1 || batch.adopted) && options.fsync {
            // After one record a lost mark does no harm: the tip before it is its parent.
            turn.mark(base, true)?;
        }
        let (plan, mut beside) = Plan::make(store, std::mem::take(&mut batch.touched))?;
        beside.push(refs::prepare(store, id)?);
        batch.sink.finish(&beside, options.fsync)?;
        drop(batch);
        let step =
            Move { from: base, to: id, action: last.action, who: &last.who, when: last.when, subject: &last.subject };
        if !refs::advance(store, turn, options, &step)? {
            heal::sweep_asides(store)?;
            continue;
        }
        // From here on the record exists, whatever happens.
        done.id = Some(id);
        plan.carry_out(store, &mut index, &mut done)
            .and_then(|()| index.write(store, options.fsync))
            .map_err(|source| StoreError::Unsettled { id, source: Box::new(source) })?;
        drop(index_lock);
        return Ok(done);
    }
    Err(StoreError::Contended { tries: TRIES })
}

fn refuse_unfinished(store: &Store) -> Result<(), StoreError> {
    for name in UNFINISHED {
        let path = store.git.join(name);
        if path.symlink_metadata().is_ok() {
            return Err(StoreError::Unfinished { path });
        }
    }
    Ok(())
}

/// What is to happen in the folder once the branch has moved.
struct Plan {
    steps: Vec<(String, Touched, Option<PathBuf>)>,
}

impl Plan {
    /// Writes the new files aside, complete, so that later only names have to move.
    fn make(
        store: &Store,
        touched: std::collections::BTreeMap<String, Touched>,
    ) -> Result<(Plan, Vec<PathBuf>), StoreError> {
        let mut beside = Vec::new();
        let mut steps = Vec::new();
        for (path, mut touched) in touched {
            if touched.new == touched.old && touched.seen == touched.old {
                continue;
            }
            let content = match (touched.content.take(), touched.new) {
                // Adopted from another book: the store has it, and has it on the disk.
                (None, Some(id)) if touched.new != touched.old => Some(store.blob(id)?),
                (content, _) => content,
            };
            let aside = match content {
                Some(bytes) if touched.new != touched.seen => {
                    let name = format!("{ASIDE}{}", steps.len());
                    let aside = store.git.join(name);
                    write_aside(&aside, &bytes, touched.executable)?;
                    beside.push(aside.clone());
                    Some(aside)
                }
                _ => None,
            };
            steps.push((path, touched, aside));
        }
        Ok((Plan { steps }, beside))
    }

    fn carry_out(self, store: &Store, index: &mut Index, done: &mut Recorded) -> Result<(), StoreError> {
        for (path, touched, aside) in self.steps {
            // Saved by hand in the moment since it was looked at: that is kept.
            let kept = !as_seen(store, &path, &touched)?;
            if kept {
                done.left_alone.push(path.clone());
                if let Some(aside) = &aside {
                    lock::remove(aside)?;
                }
            } else if let Some(aside) = &aside {
                worktree::place(aside, &store.dir, &path)?;
            } else if touched.new.is_none() {
                worktree::remove(&store.dir, &path)?;
            }
            match touched.new {
                Some(id) => {
                    let at = (!kept).then_some(store.dir.as_path());
                    index.set(&path, id, touched.executable, at)?;
                }
                None => index.remove(&path),
            }
        }
        Ok(())
    }
}

fn as_seen(store: &Store, path: &str, touched: &Touched) -> Result<bool, StoreError> {
    let now = match worktree::look(&store.dir, path) {
        Err(StoreError::NotAFile { .. } | StoreError::WrongKind { .. }) => return Ok(false),
        other => other?,
    };
    let now_stat = now.and_then(|m| Stat::from_fs(&m).ok());
    if now_stat == touched.stat {
        return Ok(true);
    }
    match worktree::id(&store.dir, path) {
        Err(StoreError::TooLarge { .. }) => Ok(false),
        other => Ok(other? == touched.seen),
    }
}

/// Writes a file that is to be moved into place later; the caller sees to it that it reaches the disk.
pub(super) fn write_aside(aside: &Path, bytes: &[u8], executable: bool) -> Result<File, StoreError> {
    let mut options = OpenOptions::new();
    options.write(true).create_new(true);
    #[cfg(unix)]
    if executable {
        use std::os::unix::fs::OpenOptionsExt;
        options.mode(0o777);
    }
    #[cfg(not(unix))]
    let _ = executable;
    let mut file = options.open(aside).map_err(io("write", aside))?;
    file.write_all(bytes).map_err(io("write", aside))?;
    Ok(file)
}
