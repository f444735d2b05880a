//! The batch: many questions at once, each answered for itself.

use super::registry::{Written, entry};
use super::{Detail, Document, Json, Refused};
use crate::budget::{Budget, Halt};
use crate::plan::Limits;
use crate::plan::inquiry::{Batch, Item};

/// What comes of a question of a batch.
pub type Outcome = Result<Written, Refused>;

/// Answers each question, whoever works on which; what ends one without an answer is no matter to another.
///
/// # Errors
/// [`Halt::Stopped`] when the budget's hook says stop.
pub fn ask(batch: &Batch, limits: &Limits, budget: &Budget<'_>) -> Result<Vec<Outcome>, Halt> {
    budget.each(batch.items.len(), |index| match &batch.items[index] {
        Ok(Item { question, held }) => {
            let document =
                Document { plan: &held.plan, json: Json::Tree(&held.written), limits, detail: Detail::Figures };
            match (entry(*question).write)(&document, budget) {
                Ok(written) => Ok(Ok(written)),
                Err(Halt::Stopped) => Err(Halt::Stopped),
                Err(halt) => Ok(Err(Refused::Halt(halt))),
            }
        }
        Err(faults) => Ok(Err(Refused::Read(faults.clone().into()))),
    })
}
