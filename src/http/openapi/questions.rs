//! The questions, as the description tells of them: as many as the router has.

use utoipa::{PartialSchema, ToSchema};

use super::components::{self, Schemas};
use crate::questions::Answer;
use crate::questions::fill_level::FillLevel;
use crate::questions::flow_balance::FlowBalance;
use crate::questions::heat_budget::HeatBudget;
use crate::questions::whole_plan::WholePlan;

/// What the description says of a question.
pub struct Asked {
    /// Its name in the path.
    pub name: &'static str,
    /// Its title.
    pub title: &'static str,
    /// What it answers.
    pub says: &'static str,
    /// The schema of its answer.
    pub schema: String,
    /// Adds that schema and what it refers to.
    pub gather: fn(&mut Schemas),
}

/// All of them.
pub fn all() -> Vec<Asked> {
    vec![asked::<FlowBalance>(), asked::<FillLevel>(), asked::<HeatBudget>(), asked::<WholePlan>()]
}

fn asked<A: Answer + ToSchema + PartialSchema>() -> Asked {
    Asked {
        name: A::QUESTION,
        title: A::TITLE,
        says: A::SAYS,
        schema: A::name().into_owned(),
        gather: components::gather::<A>,
    }
}
