//! What a limit is worth: solve again with a little more of it.
//!
//! One-sided, and so right at a kink, where a dual value is not unique.

use super::model::{Setting, Wanted};
use super::pass::Pass;
use super::{Binding, Limit, explain, settle};
use crate::budget::{Budget, Halt};
use crate::plan::{Aim, Count, Plan};

/// The step, as a share of the limit.
const STEP: f64 = 1e-5;
/// The most limits that are tried.
const MOST_LIMITS: usize = 64;

/// The binding limits with their worth where the plan wants it.
///
/// # Errors
/// [`Halt`] from the budget.
pub fn worth(
    plan: &Plan,
    setting: &Setting,
    settled: &Pass,
    limits: &[Limit],
    budget: &Budget<'_>,
) -> Result<Vec<Binding>, Halt> {
    let whole = plan.units.iter().any(|unit| unit.turndown.si() > 0.0);
    let mut bindings = Vec::with_capacity(limits.len());
    let at_present = outcome(plan, settled);
    for (at, &limit) in limits.iter().enumerate() {
        let mut binding = Binding { limit, worth: None };
        if plan.wants_worth && !whole && at < MOST_LIMITS {
            let size = size(plan, limit);
            let step = STEP * if size > 0.0 { size } else { 1.0 };
            let raised = Setting { raised: Some((limit, step)), caps: Vec::new(), ..setting.clone() };
            let more = settle(plan, &raised, budget)?.0;
            binding.worth = Some((outcome(plan, &more) - at_present) / step);
        }
        bindings.push(binding);
    }
    Ok(bindings)
}

/// What the worth is counted in: value, or the sum of what is reached.
fn outcome(plan: &Plan, pass: &Pass) -> f64 {
    if matches!(plan.aim, Aim::Most(_)) && pass.short_rank.is_none() {
        return explain::value(plan, pass);
    }
    let reached = pass.model.items.iter().filter(|item| !matches!(item.what, Wanted::Idle(_)));
    reached.map(|item| pass.x[item.column]).sum()
}

fn size(plan: &Plan, limit: Limit) -> f64 {
    match limit {
        Limit::Supply(id) => plan.supplies[id.0].average_rate().unwrap_or(0.0),
        Limit::Count(id) => match plan.units[id.0].count {
            Count::Fixed(count) | Count::Sized { at_most: Some(count), .. } => f64::from(count),
            Count::Sized { at_most: None, .. } => 0.0,
        },
        Limit::Lines(id) => {
            let header = &plan.headers[id.0];
            header.line.unwrap_or(0.0) * f64::from(header.lines.unwrap_or(0))
        }
        Limit::Outlet(id) => plan.outlets[id.0].limit.unwrap_or(0.0),
        Limit::Demand(id) => plan.demands[id.0].average_rate(),
    }
}
