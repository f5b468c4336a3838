//! Reading commits: one by one, or the whole log with reused buffers.
use gix::objs::{CommitRef, Find, FindHeader, TreeRefIter};

use super::{Commit, Id, Logged, MAX_FILE, Person, Stamp, Store, StoreError};

const SHA1: gix::hash::Kind = gix::hash::Kind::Sha1;

/// Reads an object of a known kind into `buffer`, telling apart what is missing, too large, or broken.
pub(super) fn find<'b>(
    store: &Store,
    id: Id,
    kind: gix::objs::Kind,
    buffer: &'b mut Vec<u8>,
) -> Result<&'b [u8], StoreError> {
    store.clock.as_ref().map_or(Ok(()), super::Clock::check)?;
    let oid = id.git();
    match store.repo.objects.try_find(&oid, buffer) {
        Ok(Some(data)) if data.kind == kind => Ok(data.data),
        Ok(Some(data)) => {
            Err(StoreError::damaged(format!("the object {id}"), format!("it is a {}, not a {kind}", data.kind)))
        }
        Ok(None) => Err(StoreError::Missing { id }),
        Err(e) => Err(unreadable(store, id, e)),
    }
}

/// gix refuses large objects before it inflates them; the header says whether that was the reason.
fn unreadable(store: &Store, id: Id, error: gix::Error) -> StoreError {
    match store.repo.objects.try_header(&id.git()) {
        Ok(Some(header)) if header.size > MAX_FILE => {
            StoreError::TooLarge { what: format!("the object {id}"), size: header.size, limit: MAX_FILE }
        }
        _ if bytes_are_bad(&error) => {
            StoreError::damaged(format!("the object {id}"), "its bytes are not those that were written")
        }
        _ => StoreError::damaged(format!("the object {id}"), error),
    }
}

/// Whether what is on the drive was read and is no object: what unpacks it says so in words of its own trade.
fn bytes_are_bad(error: &gix::Error) -> bool {
    use std::io::ErrorKind::{InvalidData, InvalidInput, Other, UnexpectedEof};
    let mut at: Option<&(dyn std::error::Error + 'static)> = Some(error);
    while let Some(e) = at {
        if let Some(e) = e.downcast_ref::<std::io::Error>() {
            return matches!(e.kind(), InvalidData | InvalidInput | Other | UnexpectedEof);
        }
        at = e.source();
    }
    true
}

pub(super) fn commit(store: &Store, id: Id) -> Result<Commit, StoreError> {
    let mut buffer = Vec::new();
    read_commit(store, id, &mut buffer)
}

fn read_commit(store: &Store, id: Id, buffer: &mut Vec<u8>) -> Result<Commit, StoreError> {
    let data = find(store, id, gix::objs::Kind::Commit, buffer)?;
    let bad = |e: gix::Error| StoreError::damaged(format!("the commit {id}"), e);
    let raw = CommitRef::from_bytes(data, SHA1).map_err(bad)?;
    let author = raw.author().map_err(bad)?;
    let committer = raw.committer().map_err(bad)?;
    Ok(Commit {
        id,
        parents: raw.parents().map(|p| Id::of(&p)).collect(),
        tree: Id::of(&raw.tree()),
        author: person(&author),
        authored: stamp(&author).map_err(bad)?,
        committer: person(&committer),
        written: stamp(&committer).map_err(bad)?,
        message: String::from_utf8_lossy(raw.message).into_owned(),
    })
}

fn person(signature: &gix::actor::SignatureRef) -> Person {
    Person {
        name: String::from_utf8_lossy(signature.name).into_owned(),
        email: String::from_utf8_lossy(signature.email).into_owned(),
    }
}

fn stamp(signature: &gix::actor::SignatureRef) -> Result<Stamp, gix::Error> {
    let time = signature.time()?;
    Ok(Stamp { seconds: time.seconds, offset_seconds: time.offset })
}

pub(super) fn walk(
    store: &Store,
    start: Id,
    until: Option<Id>,
    before: &dyn Fn(&Commit) -> Option<Id>,
) -> Result<Vec<Logged>, StoreError> {
    let mut log: Vec<Logged> = Vec::new();
    let (mut commit_buffer, mut tree_buffer) = (Vec::new(), Vec::new());
    let mut next = Some(start);
    while let Some(id) = next.filter(|id| Some(*id) != until) {
        let commit = read_commit(store, id, &mut commit_buffer)?;
        next = before(&commit);
        let (sheet, car) = match log.last() {
            Some(last) if last.commit.tree == commit.tree => (last.sheet, last.car),
            _ => two_files(store, commit.tree, &mut tree_buffer)?,
        };
        log.push(Logged { commit, sheet, car });
    }
    Ok(log)
}

fn two_files(store: &Store, tree: Id, buffer: &mut Vec<u8>) -> Result<(Option<Id>, Option<Id>), StoreError> {
    let data = find(store, tree, gix::objs::Kind::Tree, buffer)?;
    let (mut sheet, mut car) = (None, None);
    for entry in TreeRefIter::from_bytes(data, SHA1) {
        let entry = entry.map_err(|e| StoreError::damaged(format!("the tree {tree}"), e))?;
        if !entry.mode.is_blob() {
            continue;
        }
        if entry.filename == "setup.toml" {
            sheet = Some(Id::of(entry.oid));
        } else if entry.filename == "car.toml" {
            car = Some(Id::of(entry.oid));
        }
    }
    Ok((sheet, car))
}

/// A person and a time as a commit and a reflog write them.
pub(super) fn signature(who: &Person, when: Stamp) -> String {
    let sign = if when.offset_seconds < 0 { '-' } else { '+' };
    let minutes = when.offset_seconds.unsigned_abs() / 60;
    format!("{} <{}> {} {sign}{:02}{:02}", who.name, who.email, when.seconds, minutes / 60, minutes % 60)
}

/// Refuses what git would refuse or silently change in a name or a time.
pub(super) fn check_signature(who: &Person, when: Stamp) -> Result<(), StoreError> {
    let wrong = |text: String| Err(StoreError::BadRecord(text));
    for (what, text) in [("name", &who.name), ("address", &who.email)] {
        if text.contains(['<', '>', '\n', '\r', '\0']) {
            return wrong(format!("the {what} {text:?} has a line end or one of < >"));
        }
        if text.trim() != text {
            return wrong(format!("the {what} {text:?} starts or ends with a space"));
        }
    }
    if who.name.is_empty() {
        return wrong("a record needs the name of who wrote it".to_owned());
    }
    // The year 9999; git keeps no time before 1970.
    if !(0..=253_402_300_799).contains(&when.seconds) {
        return wrong(format!("the time {} s is not between 1970 and 9999", when.seconds));
    }
    if when.offset_seconds % 60 != 0 || when.offset_seconds.abs() >= 24 * 3600 {
        return wrong(format!(
            "the clock offset {} s is not a whole number of minutes under a day",
            when.offset_seconds
        ));
    }
    Ok(())
}
