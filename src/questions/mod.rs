//! Questions: each takes a plan to an answer.

pub mod answer;
pub mod fill_level;
pub mod flow_balance;
pub mod heat_budget;

use crate::budget::{Budget, Halt};
use crate::plan::Plan;

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
}
