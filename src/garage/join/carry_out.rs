//! A joining is written, in one move of the branch.

use super::super::book::Book;
use super::super::record::{Written, finish};
use super::super::who::{Hand, stamp};
use super::super::{Error, Result};
use super::plan::{How, JoinPlan, Write};
use crate::store::{Batch, CopyHow, Options};

/// Carries it out: afterwards it is the old book or the joined one, whenever it is cut off.
pub fn carry_out_join(
    book: &Book,
    options: &Options,
    hand: &Hand,
    plan: &JoinPlan,
    tell: &dyn Fn(usize),
) -> Result<Written> {
    let how = CopyHow { options, who: hand.person(), when: stamp(hand.now), tell };
    match (plan.how, &plan.write) {
        (How::Joined, Some(write)) => {
            let mut failed = None;
            let done = book.store.record_many(options, &mut |batch| {
                put(plan, batch, write, tell).map_err(|e| {
                    failed = Some(e);
                    "the joining was not built".into()
                })
            });
            match failed {
                Some(Error::Store(e)) => finish(Err(e), None),
                failed => finish(done, failed),
            }
        }
        (How::Ahead, _) => {
            let (made, _) = plan.incoming.make(&how)?;
            let brought = book.store.bring_up_to(&made, &how);
            let brought = match brought {
                Err(e) => return finish(Err(e), None),
                Ok(brought) => brought,
            };
            let kept = brought.kept_by_hand.iter().map(|p| format!("{p} was edited by hand and is kept as it is"));
            let notes = brought.notes.into_iter().chain(kept).collect();
            Ok(Written { id: Some(brought.tip), notes })
        }
        _ => Ok(Written { id: None, notes: Vec::new() }),
    }
}

fn put(plan: &JoinPlan, batch: &mut Batch, write: &Write, tell: &dyn Fn(usize)) -> Result<()> {
    if batch.tip().head != Some(plan.head) {
        return Err(Error::data("the book changed meanwhile; nothing was joined", "say it again"));
    }
    batch.refuse_hand_edits()?;
    batch.take_from(plan.incoming.store(), plan.incoming.tip, tell)?;
    let mut parent = write.start;
    for record in &write.side {
        parent = Some(batch.commit_on(parent, record.clone())?);
    }
    let parents = match (write.as_on, parent) {
        (Some(two), _) => two.to_vec(),
        (None, Some(line)) => vec![write.tips[0], line, write.tips[1]],
        (None, None) => write.tips.to_vec(),
    };
    batch.join(write.record.clone(), &parents)?;
    Ok(())
}
