//! Questions: each takes a plan to an answer.

pub mod answer;
pub(crate) mod coupled;
pub mod fill_level;
pub mod flow_balance;
pub mod heat_budget;
pub mod whole_plan;

use crate::budget::{Budget, Halt};
use crate::plan::{Limits, Plan};

/// A plan together with the document that it was read from, for questions that ask again with a change to it.
#[derive(Clone, Copy)]
pub struct Document<'a> {
    /// The plan.
    pub plan: &'a Plan,
    /// The document, as JSON.
    pub json: &'a [u8],
    /// The limits within which it was read.
    pub limits: &'a Limits,
}

/// An answer that a question of its own gives: what every form, route and description needs to know of it.
pub trait Answer: serde::Serialize + Sized {
    /// The name of the question, as in the path: `flow-balance`.
    const QUESTION: &'static str;
    /// Its title.
    const TITLE: &'static str;
    /// What it answers, in one sentence.
    const SAYS: &'static str;

    /// Answers it.
    ///
    /// # Errors
    /// [`Halt`] when the budget is spent or its hook says stop.
    fn ask(plan: &Plan, budget: &Budget<'_>) -> Result<Self, Halt>;

    /// Answers it with the document at hand. Most questions have no use for the document.
    ///
    /// # Errors
    /// As [`Answer::ask`].
    fn ask_of(document: &Document<'_>, budget: &Budget<'_>) -> Result<Self, Halt> {
        Self::ask(document.plan, budget)
    }
}
