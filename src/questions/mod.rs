//! Questions: each takes a plan to an answer.

pub mod answer;
pub mod batch;
mod change;
pub mod compare;
pub(crate) mod coupled;
pub mod fill_level;
pub mod flow_balance;
pub mod heat_budget;
pub mod registry;
pub mod seek;
pub mod sweep;
pub mod whole_plan;

use crate::budget::{Budget, Halt};
use crate::plan::inquiry::Better;
use crate::plan::{Limits, Plan, ReadError};
use answer::{Answer, Figures};

/// A plan together with the document that it was read from, for questions that ask again with a change to it.
#[derive(Clone, Copy)]
pub struct Document<'a> {
    /// The plan.
    pub plan: &'a Plan,
    /// The document, as JSON.
    pub json: Json<'a>,
    /// The limits within which it was read.
    pub limits: &'a Limits,
    /// What the answer is wanted for.
    pub detail: Detail,
}

/// What an answer is wanted for. Its figures are the same.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Detail {
    /// To be told in words and figures.
    Figures,
    /// To be drawn: with what only pictures show, which takes longer.
    Pictures,
}

/// A document as it was sent, or as a tree that it was read into: written and read again, numbers would not stay what they
/// are to the last bit.
#[derive(Clone, Copy, Debug)]
pub enum Json<'a> {
    /// As it was sent.
    Bytes(&'a [u8]),
    /// As it was read.
    Tree(&'a serde_json::Value),
}

/// Why there is no answer.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum Refused {
    /// The document is not one.
    #[error(transparent)]
    Read(#[from] ReadError),
    /// The calculation was ended.
    #[error(transparent)]
    Halt(#[from] Halt),
}

/// A question that a plan is asked: what every route, comparison and description needs to know of it.
pub trait OfPlan: Figures {
    /// The figures that matter most, and which way each is better: JSON pointers into the answer, in which `*` stands for
    /// every name. The first ones decide first.
    const KEY_FIGURES: &'static [(&'static str, Better)];

    /// The codes of all that it can find.
    fn codes() -> Vec<&'static str>;

    /// Answers it.
    ///
    /// # Errors
    /// [`Halt`] when the budget is spent or its hook says stop.
    fn ask(plan: &Plan, detail: Detail, budget: &Budget<'_>) -> Result<Answer<Self>, Halt>;

    /// Answers it with the document at hand. Most questions have no use for the document.
    ///
    /// # Errors
    /// As [`OfPlan::ask`].
    fn ask_of(document: &Document<'_>, budget: &Budget<'_>) -> Result<Answer<Self>, Halt> {
        Self::ask(document.plan, document.detail, budget)
    }
}

impl<F: OfPlan> Answer<F> {
    /// Answers the question, to be drawn too: see [`OfPlan::ask`].
    ///
    /// # Errors
    /// [`Halt`] when the budget is spent or its hook says stop.
    pub fn ask(plan: &Plan, budget: &Budget<'_>) -> Result<Self, Halt> {
        F::ask(plan, Detail::Pictures, budget)
    }

    /// Answers it with the document at hand: see [`OfPlan::ask_of`].
    ///
    /// # Errors
    /// As [`OfPlan::ask`].
    pub fn ask_of(document: &Document<'_>, budget: &Budget<'_>) -> Result<Self, Halt> {
        F::ask_of(document, budget)
    }
}
