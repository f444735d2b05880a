//! The steady engine: which units run how much, what is drawn, let out, short and trapped.

mod result;

use crate::budget::{Budget, Halt};
use crate::plan::Plan;

pub use result::{Balance, Binding, Grower, HeaderFlow, Limit, Outcome, Reached, UnitRun};

/// Solves the steady balance of a plan.
///
/// # Errors
/// [`Halt`] when the budget is spent or the hook says stop.
pub fn balance(_plan: &Plan, _budget: &Budget<'_>) -> Result<Balance, Halt> {
    todo!("the engine is being written")
}
