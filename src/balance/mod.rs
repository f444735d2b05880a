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
//! flows; `simplex` solves; `islands` and `fair` say who is cut; `explain` puts the numbers back into the plan's terms.
//!
//! Whole numbers come in three ways: `counts` chooses the fewest machines on the face that the objectives before leave;
//! `turndown` has machines that cannot run at any share; `standing` has those that draw power while they stand, found by trial, and where
//! other numbers might do better by any objective up to the machines `whole` searches for those that all objectives together are best
//! with. `decided` says of which there is nothing to choose. `attained` holds two plants against each other.

#![allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "rows, columns and counts stay below 2^32 by the limits of a plan, and runs are never negative"
)]

mod assemble;
mod attained;
mod counts;
mod decided;
mod explain;
mod fair;
mod islands;
mod model;
mod objectives;
mod pass;
mod result;
pub mod simplex;
mod solve;
mod standing;
mod start;
#[cfg(test)]
mod tests;
mod turndown;
mod whole;
mod worth;

use crate::budget::{Budget, Halt};
use crate::plan::Plan;
use crate::quantity::Power;
use model::Setting;
use pass::{Pass, Solved};
use std::borrow::Cow;

pub use result::{Balance, Binding, Grower, HeaderFlow, Limit, Outcome, Reached, UnitRun};

/// Rounds in which idle draw may call for more machines, or for fewer, before the last count stands.
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
    let (setting, found) = solve_whole(plan, heat, budget)?;
    let Found { pass: mut settled, limits, proven, .. } = found;
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

/// Solves with whole numbers; under the setting returned, these stand.
fn solve_whole(plan: &Plan, heat: HeatPower, budget: &Budget<'_>) -> Result<(Setting, Found), Halt> {
    if !standing::is_open(plan) {
        let setting = Setting::of(plan, heat);
        let found = run(plan, &setting, budget)?;
        if found.pass.endless.is_some() || !(found.held && turndown::is_shared(&found.pass)) {
            return Ok((setting, found));
        }
        let bound = whole::bound(plan, heat, budget)?;
        return whole::search(plan, bound, setting, found, budget);
    }
    let bound = whole::bound(plan, heat, budget)?;
    let (setting, found) = try_numbers(plan, heat, &bound.pass, budget)?;
    if found.pass.endless.is_some() {
        return Ok((setting, found));
    }
    whole::search(plan, bound, setting, found, budget)
}

/// The numbers of machines that stand, by trial from those of `first` on.
fn try_numbers(plan: &Plan, heat: HeatPower, first: &Pass, budget: &Budget<'_>) -> Result<(Setting, Found), Halt> {
    let mut setting = standing::with(plan, heat, &first.counts);
    let mut found = run(plan, &setting, budget)?;
    for _ in 0..MOST_IDLE_ROUNDS {
        if !standing::recount(plan, &found.pass, &mut setting) {
            break;
        }
        found = run(plan, &setting, budget)?;
    }
    Ok((setting, found))
}

/// A settled pass.
#[derive(Debug)]
struct Found {
    pass: Pass,
    /// The limits that bind.
    limits: Vec<Limit>,
    /// Whether its whole numbers are proven the best.
    proven: bool,
    /// Whether runs had to be held to what turndowns allow.
    held: bool,
}

/// Solves under `setting`, with turndowns kept.
fn run(plan: &Plan, setting: &Setting, budget: &Budget<'_>) -> Result<Found, Halt> {
    let (pass, limits) = settle(plan, setting, budget)?;
    if turndown::is_kept(plan, &pass) {
        let proven = pass.proven;
        return Ok(Found { pass, limits, proven, held: false });
    }
    let mut steps = pass.steps;
    let (mut held, mut proven) = turndown::hold(plan, setting, &mut steps, budget)?;
    let (mut pass, _) = settle(plan, &held, budget)?;
    if !pass.feasible {
        // The search meets its rows within a tolerance that the exact solve does not grant: those machines stand still.
        proven = false;
        turndown::stand_still(plan, &mut held);
        pass = settle(plan, &held, budget)?.0;
    }
    pass.steps += steps;
    let proven = proven && pass.proven;
    Ok(Found { pass, limits, proven, held: true })
}

/// Solves, and once more with equals cut in proportion where something is short.
fn settle(plan: &Plan, setting: &Setting, budget: &Budget<'_>) -> Result<(Pass, Vec<Limit>), Halt> {
    let mut setting = Cow::Borrowed(setting);
    let (mut before, mut limits, mut first) = (0, None, None);
    loop {
        match pass::pass(plan, &setting, budget)? {
            Solved::Whole(mut settled) => {
                settled.steps += before;
                settled.ends.first = settled.ends.first.or(first);
                let limits = limits.unwrap_or_else(|| std::mem::take(&mut settled.binding));
                return Ok((*settled, limits));
            }
            Solved::Shared { caps, binding, steps, end } => {
                setting.to_mut().caps = caps;
                (before, limits, first) = (steps, Some(binding), end);
            }
        }
    }
}
