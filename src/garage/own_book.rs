//! Which book of the garage a received one belongs to, and how their records lie to each other.

use super::place::Garage;
use super::{Result, sound};
use crate::store::{Id, Inventory, Store};
use std::collections::{HashSet, VecDeque};

/// The book of the garage that has a record in common with the received one: the first, or its newest. A damaged one is
/// known by any record that can still be read, or that git's own log of its branch names.
pub(super) fn own_book(
    garage: &Garage,
    received: &Store,
    tip: Id,
    contents: &Inventory,
) -> Result<Option<(String, Store)>> {
    let first = received.first_of(tip)?;
    let of: HashSet<Id> = contents.commits.iter().copied().collect();
    for folder in garage.folders()? {
        // A folder that is no book is none that could be brought up to anything.
        let Ok(store) = Store::open(&garage.car_dir(&folder)) else { continue };
        let Ok(Some(head)) = store.head() else { continue };
        let own = of.contains(&head)
            || match store.first_of(head) {
                Ok(begun) => begun == first,
                Err(_) => {
                    let mut known = false;
                    all_before(&store, head, &mut |id| {
                        known |= of.contains(&id);
                        !known
                    });
                    known || store.pointed_to().iter().any(|id| of.contains(id))
                }
            };
        if own {
            return Ok(Some((folder, store)));
        }
    }
    Ok(None)
}

/// Whether something of a book is lost or damaged: every object of it is read and its sum compared.
///
/// That a received book has the same records does not spare it. An id says what an object should be, nothing of what is on
/// this drive; and a car that comes back is the one moment when what was lost here can be had again. Nothing is walked
/// twice: the received objects were read from their own file.
pub(super) fn is_damaged(store: &Store, tell: &dyn Fn(usize)) -> Result<bool> {
    let mut lost = false;
    store.look_through(&sound::book_path, &mut |flaw| lost |= flaw.lost, tell)?;
    Ok(lost)
}

/// Visits a record and all before it, each once, until told to stop; what cannot be read has none before it.
pub(super) fn all_before(store: &Store, tip: Id, visit: &mut dyn FnMut(Id) -> bool) {
    let mut known = HashSet::from([tip]);
    let mut queue = VecDeque::from([tip]);
    while let Some(id) = queue.pop_front() {
        if !visit(id) {
            return;
        }
        let parents = store.commit(id).map(|c| c.parents).unwrap_or_default();
        queue.extend(parents.into_iter().filter(|p| known.insert(*p)));
    }
}

/// Whether a record is the tip or before it.
pub(super) fn has(store: &Store, tip: Id, wanted: Id) -> bool {
    let mut found = false;
    all_before(store, tip, &mut |id| {
        found |= id == wanted;
        !found
    });
    found
}

/// Records up to a tip, those beside the log as written among them.
pub(super) fn count(store: &Store, tip: Id) -> usize {
    let mut n = 0;
    all_before(store, tip, &mut |_| {
        n += 1;
        true
    });
    n
}
