//! Writing a record: what every command that records has in common.

use super::hand_edit::edit_help;
use super::message::Message;
use super::who::{Hand, stamp};
use super::{Error, Result};
use crate::slip::Moment;
use crate::store::{Id, Options, Record, Recorded, Store, StoreError, Tip};

/// One record, before it has the hand's name on it.
pub struct Draft {
    /// Files by path; `None` takes one away.
    pub files: Vec<(String, Option<Vec<u8>>)>,
    /// What happened.
    pub message: Message,
    /// When it happened.
    pub at: Moment,
    /// The content takes in what was edited by hand in these files.
    pub takes_hand_edit: bool,
}

impl Draft {
    /// With the hand that writes it.
    pub fn by(self, hand: &Hand) -> Record {
        Record {
            files: self.files,
            author: hand.person(),
            authored: stamp(self.at),
            committer: hand.person(),
            written: stamp(hand.now),
            message: self.message.to_text(),
            accept_hand_edit: self.takes_hand_edit,
        }
    }
}

/// What was written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Written {
    /// Id of the record; `None` when there was nothing to write.
    pub id: Option<Id>,
    /// What was put right on the way, in sentences.
    pub notes: Vec<String>,
}

/// Writes one record. `build` sees the book under the lock and may be called again.
pub fn record(
    store: &Store,
    options: &Options,
    hand: &Hand,
    build: &mut dyn FnMut(&Tip) -> Result<Option<Draft>>,
) -> Result<Written> {
    let mut failed = None;
    let done = store.record(options, &mut |tip| match build(tip) {
        Ok(draft) => Ok(draft.map(|d| d.by(hand))),
        Err(e) => {
            failed = Some(e);
            Err("the record was not built".into())
        }
    });
    finish(done, failed)
}

/// The result of the store, or the error that stopped the building.
pub fn finish(done: std::result::Result<Recorded, StoreError>, failed: Option<Error>) -> Result<Written> {
    match (done, failed) {
        (_, Some(e)) => Err(e),
        (Ok(r), None) => {
            let mut notes = r.healed;
            notes.extend(r.left_alone.iter().map(|p| format!("{p} was edited by hand and is kept as it is")));
            Ok(Written { id: r.id, notes })
        }
        (Err(StoreError::HandEdit { path }), None) => Err(Error::data(
            format!("{path} was changed or deleted by hand and is not saved yet; nothing was recorded"),
            edit_help(&path),
        )),
        (Err(e), None) => Err(e.into()),
    }
}
