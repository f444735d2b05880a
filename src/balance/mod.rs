//! The steady engine: which units run how much, what is drawn, let out, short and trapped.
//!
//! Objectives in strict order, each keeping those before it:
//!
//! 1. least shortfall by rank; within a rank the least reached share is greatest, so that equals are cut in proportion;
//! 2. least surplus trapped, then least lost by supplies that push;
//! 3. for a `most` aim the greatest value less running cost;
//! 4. least draw on supplies, last rank first;
//! 5. fewest machines, in whole numbers where there is a choice;
//! 6. least matter let out, then least power spilled.
//!
//! `assemble` says what each row and column means, `objectives` what each costs; `start` guesses a basis by following the
//! flows; `simplex` solves; `islands` and `fair` say who is cut; `counts` and `turndown` bring in whole numbers, through
//! `solve`; `explain` puts the numbers back into the plan's terms.
//!
//! Machines to be sized that draw power while they stand are counted by trial ([`balance`]): the counts and the power told always
//! belong together, but where power is short another count might have reached a little more.

#![allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "rows, columns and counts stay below 2^32 by the limits of a plan, and runs are never negative"
)]

mod assemble;
mod counts;
mod explain;
mod fair;
mod islands;
mod model;
mod objectives;
mod pass;
mod result;
pub mod simplex;
mod solve;
mod start;
#[cfg(test)]
mod tests;
mod turndown;
mod worth;

use crate::budget::{Budget, Halt};
use crate::plan::{Count, Plan};
use crate::quantity::Power;
use model::Setting;
use pass::{Pass, Solved};
use std::borrow::Cow;

pub use result::{Balance, Binding, Grower, HeaderFlow, Limit, Outcome, Reached, UnitRun};

/// Rounds in which idle draw may call for more machines before the last count stands.
const MOST_IDLE_ROUNDS: usize = 32;

/// Electric power of what moves heat, as temperatures have it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct HeatPower {
    /// What coolers draw. It is wanted like a demand of the first rank.
    pub draws: Power,
    /// What turbines give, whether it is wanted or not.
    pub generates: Power,
}

impl HeatPower {
    /// Neither.
    pub const NONE: Self = Self { draws: Power::ZERO, generates: Power::ZERO };
}

/// Solves the steady balance of a plan, coolers and turbines left out.
///
/// # Errors
/// [`Halt`] when the budget is spent or the hook says stop.
pub fn balance(plan: &Plan, budget: &Budget<'_>) -> Result<Balance, Halt> {
    balance_with(plan, HeatPower::NONE, budget)
}

/// As [`balance`], with what coolers draw and turbines give.
///
/// # Errors
/// As [`balance`].
pub fn balance_with(plan: &Plan, heat: HeatPower, budget: &Budget<'_>) -> Result<Balance, Halt> {
    let mut setting = Setting::of(plan, heat);
    let (mut settled, mut limits, mut proven) = run(plan, &setting, budget)?;
    for _ in 0..MOST_IDLE_ROUNDS {
        if !recount(plan, &settled, &mut setting) {
            break;
        }
        (settled, limits, proven) = run(plan, &setting, budget)?;
    }
    // Whatever draws idle power is there.
    for (count, standing) in settled.counts.iter_mut().zip(&setting.standing) {
        *count = standing.map_or(*count, |standing| standing.max(*count));
    }
    let binding = worth::worth(plan, &setting, &settled, &limits, budget)?;
    let mut balance = explain::explain(plan, &settled, binding);
    balance.proven = proven;
    balance.heat = heat;
    Ok(balance)
}

/// A settled pass, the limits that bind, and whether its whole numbers are proven the best.
fn run(plan: &Plan, setting: &Setting, budget: &Budget<'_>) -> Result<(Pass, Vec<Limit>, bool), Halt> {
    let (settled, limits) = settle(plan, setting, budget)?;
    if turndown::is_kept(plan, &settled) {
        return Ok((settled, limits, true));
    }
    let mut steps = settled.steps;
    let (mut held, mut proven) = turndown::hold(plan, setting, &mut steps, budget)?;
    let (mut settled, _) = settle(plan, &held, budget)?;
    if !settled.feasible {
        // The search meets its rows within a tolerance that the exact solve does not grant: those machines stand still.
        proven = false;
        turndown::stand_still(plan, &mut held);
        settled = settle(plan, &held, budget)?.0;
    }
    settled.steps += steps;
    Ok((settled, limits, proven))
}

/// Solves, and once more with equals cut in proportion where something is short.
fn settle(plan: &Plan, setting: &Setting, budget: &Budget<'_>) -> Result<(Pass, Vec<Limit>), Halt> {
    let mut setting = Cow::Borrowed(setting);
    let (mut before, mut limits) = (0, None);
    loop {
        match pass::pass(plan, &setting, budget)? {
            Solved::Whole(mut settled) => {
                settled.steps += before;
                let limits = limits.unwrap_or_else(|| std::mem::take(&mut settled.binding));
                return Ok((*settled, limits));
            }
            Solved::Shared { caps, binding, steps } => {
                setting.to_mut().caps = caps;
                (before, limits) = (steps, Some(binding));
            }
        }
    }
}

/// Counts the machines whose idle draw the next round has to meet: more where more run than stood ready, and fewer where
/// some of those that stood ready do not run at all. Those are done without from then on: when power is short, a machine
/// that only stands there takes it from those that run. False where the counts stand.
fn recount(plan: &Plan, settled: &Pass, setting: &mut Setting) -> bool {
    let mut changed = false;
    for (at, unit) in plan.units.iter().enumerate() {
        if unit.idle_draw.si() <= 0.0 || matches!(unit.count, Count::Fixed(_)) {
            continue;
        }
        let count = settled.counts[at];
        let next = match setting.standing[at] {
            Some(before) if count < before => {
                let idle = before - count;
                // A few too many are tried one by one; of many, half go at once.
                let next = before - if idle <= 4 { 1 } else { idle / 2 };
                setting.run_upper[at] = setting.run_upper[at].min(f64::from(next));
                next
            }
            _ => count,
        };
        changed |= setting.standing[at] != Some(next);
        setting.standing[at] = Some(next);
    }
    changed
}
