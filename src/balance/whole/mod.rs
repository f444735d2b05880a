//! What is whole, searched: how many machines stand, and how many of them run.
//!
//! Two things of a unit are whole numbers: with an idle draw the machines that stand ([`super::standing`]), and with a turndown the
//! machines that run, k of them with turndown · k ≤ r ≤ k ([`super::turndown`]). A unit may have both.
//!
//! The search is a branch and bound over both (A. H. Land and A. G. Doig, *Econometrica* 28, 1960). At a node every such number has
//! bounds, and the plan is solved by all objectives in their strict order with the numbers real within them: at least so many machines
//! stand and draw, at most so many run, and if any run, at least so much of them. More is possible there than in whole numbers, so a
//! node that attains no more than the best plant known, held against it objective by objective ([`super::attained`]), is done with;
//! one at which all numbers are whole is itself a plant. At others one number that is not whole splits it in two, and the
//! better half goes first. Machines of which nothing is left to choose stand before supplies are asked ([`super::decided`]), so that
//! only what can be chosen is split, and the first node of a plant without a choice attains what trial does. Since each node is
//! solved by the steady engine itself, equals are cut in proportion there as everywhere, and no objective gives anything away to a
//! later one.
//!
//! The first plant known is what trial found, so that whatever the search leaves unproven is never worse than that. Where that
//! reaches, traps, loses and earns as much as could be, and only less might be drawn for it or fewer machines do, the search ends sooner.

#[cfg(test)]
#[path = "../../../tests/support/halls.rs"]
#[allow(missing_docs, reason = "the tests' own")]
mod halls;
#[cfg(test)]
#[path = "../../../tests/support/plant.rs"]
#[allow(dead_code, reason = "the tests use the rest")]
mod plant;
#[cfg(test)]
mod tests;

use super::attained::Attained;
use super::counts::machines;
use super::model::{Setting, must_stand};
use super::pass::Pass;
use super::standing::{self, is_sound};
use super::{Found, HeatPower, Limit, settle, turndown};
use crate::budget::{Budget, Halt};
use crate::plan::{Count, Plan};
use crate::quantity::ROUNDING_TOLERANCE;
use std::sync::Arc;

/// Work after which the best so far must do. A node is as much as its programme has columns, and a pivot as much as
/// [`PIVOT`] columns and a tenth of its rows: a thousand nodes of ten units, hundreds of thirty, dozens of a hundred.
const MOST_WORK: u64 = 600_000;
/// The same where only what is drawn on supplies and the machines are still to be bettered.
const SPARE_WORK: u64 = 30_000;
/// What a solve that starts from another leaves of nothing at all: so little of any machine or flow is none.
const NOTHING: f64 = 1e-14;
/// What a pivot takes besides its rows.
const PIVOT: u64 = 30;

/// A number that is not whole yet, to be split: below `machines` or not.
#[derive(Clone, Copy, Debug)]
enum Split {
    /// Of a unit, the machines that stand.
    Stand { unit: usize, machines: u32 },
    /// Of a unit, the machines that run.
    Run { unit: usize, machines: u32 },
}

/// A part of the search.
struct Node {
    setting: Setting,
    attained: Attained,
    /// Bounds of the split unit's run.
    run: (f64, f64),
    split: Split,
}

struct Search<'s> {
    plan: &'s Plan,
    budget: &'s Budget<'s>,
    setting: Setting,
    best: Found,
    attained: Attained,
    /// What holds back the plan with all numbers real.
    limits: Vec<Limit>,
    work: u64,
    steps: u64,
    proven: bool,
}

/// A plan solved with all numbers real: no whole ones attain more.
pub struct Bound {
    setting: Setting,
    /// What was found.
    pub pass: Pass,
    limits: Vec<Limit>,
}

/// Solves with all numbers real, but for those of which what attains as much leaves no choice.
///
/// # Errors
/// [`Halt`] from the budget.
pub fn bound(plan: &Plan, heat: HeatPower, budget: &Budget<'_>) -> Result<Bound, Halt> {
    let mut setting = Setting::of(plan, heat);
    setting.firm = vec![0; plan.units.len()];
    for (standing, unit) in setting.standing.iter_mut().zip(&plan.units) {
        *standing = Some(must_stand(unit));
    }
    let (pass, limits) = settle(plan, &setting, budget)?;
    Ok(Bound { setting, pass, limits })
}

/// The best whole numbers, from the numbers that trial found on. Under the setting returned every number stands.
///
/// # Errors
/// [`Halt`] from the budget.
pub fn search(
    plan: &Plan,
    bound: Bound,
    numbers: Setting,
    mut found: Found,
    budget: &Budget<'_>,
) -> Result<(Setting, Found), Halt> {
    let stands = is_sound(plan, &numbers, &found.pass);
    let possible = Attained::of(plan, &bound.setting, &bound.pass);
    let attained = Attained::of(plan, &numbers, &found.pass);
    if stands && !possible.leads(&attained) {
        found.proven = bound.pass.proven;
        found.pass.steps += bound.pass.steps;
        return Ok((numbers, found));
    }
    let spares = stands && !attained.stays_behind(&possible);
    let most = if spares { SPARE_WORK } else { MOST_WORK };
    let (setting, best, attained) = if stands {
        (numbers, found, attained)
    } else {
        let (setting, best) = least(plan, &bound.setting, budget)?;
        let attained = Attained::of(plan, &setting, &best.pass);
        (setting, best, attained)
    };
    let steps = best.pass.steps;
    let limits = bound.limits.clone();
    let mut search = Search { plan, budget, setting, best, attained, limits, work: 0, steps, proven: true };
    let mut open: Vec<Node> = search.weigh(bound.setting, bound.pass, bound.limits)?.into_iter().collect();
    while let Some(node) = open.pop() {
        if !node.attained.is_better_than(&search.attained) {
            continue;
        }
        // What is only to be bettered is not worth the last of a budget.
        if search.work >= most || spares && search.steps > budget.steps / 2 {
            search.proven = false;
            break;
        }
        let mut halves = Vec::with_capacity(2);
        for half in [at_least(plan, &node), below(&node)].into_iter().flatten() {
            halves.extend(search.look(half)?);
        }
        if let [one, other] = &halves[..]
            && one.attained.is_better_than(&other.attained)
        {
            halves.swap(0, 1);
        }
        open.append(&mut halves);
    }
    Ok(if spares { search.end_with_all() } else { search.end() })
}

/// Only what must stand, and of that nothing that cannot be turned down as far as it would have to be.
fn least(plan: &Plan, root: &Setting, budget: &Budget<'_>) -> Result<(Setting, Found), Halt> {
    let mut setting = root.clone();
    for (at, unit) in plan.units.iter().enumerate() {
        if unit.idle_draw.si() > 0.0 {
            setting.run_upper[at] = setting.run_upper[at].min(f64::from(must_stand(unit)));
        }
    }
    let (mut pass, mut limits) = settle(plan, &setting, budget)?;
    if !turndown::is_kept(plan, &pass) {
        turndown::stand_still(plan, &mut setting);
        (pass, limits) = settle(plan, &setting, budget)?;
    }
    Ok((setting, Found { pass, limits, proven: false, held: false }))
}

/// The part of a node in which the split number is at least so much; none where its bounds do not reach that.
fn at_least(plan: &Plan, node: &Node) -> Option<Setting> {
    let mut setting = node.setting.clone();
    match node.split {
        Split::Stand { unit, machines } => {
            setting.standing[unit] = Some(machines);
            setting.firm[unit] = machines - must_stand(&plan.units[unit]);
            // One more stands only because more run than the others could: what runs less is in the other half.
            setting.run_lower[unit] = setting.run_lower[unit].max(f64::from(machines) - 1.0);
        }
        Split::Run { unit, machines } => {
            let least = plan.units[unit].turndown.si() * f64::from(machines);
            if least > node.run.1 {
                return None;
            }
            setting.run_lower[unit] = least.max(f64::from(machines) - 1.0);
        }
    }
    Some(setting)
}

/// The part of a node in which the split number is less.
fn below(node: &Node) -> Option<Setting> {
    let mut setting = node.setting.clone();
    let (Split::Stand { unit, machines } | Split::Run { unit, machines }) = node.split;
    let most = f64::from(machines) - 1.0;
    if most < node.run.0 {
        return None;
    }
    setting.run_upper[unit] = most;
    Some(setting)
}

impl Search<'_> {
    /// Solves a node. One that is whole and better than the best so far takes its place; what is returned is to be split.
    fn look(&mut self, setting: Setting) -> Result<Option<Node>, Halt> {
        if self.budget.is_stopped() {
            return Err(Halt::Stopped);
        }
        let (pass, limits) = settle(self.plan, &setting, self.budget)?;
        self.weigh(setting, pass, limits)
    }

    /// As [`Self::look`], where a node is solved.
    fn weigh(&mut self, setting: Setting, mut pass: Pass, limits: Vec<Limit>) -> Result<Option<Node>, Halt> {
        let plan = self.plan;
        let (columns, rows) = (pass.model.program.columns() as u64, pass.model.program.rows() as u64);
        self.work += columns + pass.steps * (PIVOT + rows / 10);
        self.steps += pass.steps + 1;
        if self.steps > self.budget.steps {
            return Err(Halt::StepsSpent { limit: self.budget.steps });
        }
        if !pass.feasible {
            return Ok(None);
        }
        self.proven &= pass.proven;
        let attained = Attained::of(plan, &setting, &pass);
        if !attained.is_better_than(&self.attained) {
            return Ok(None);
        }
        let raised = raised(plan, &setting, &pass);
        let Some(split) = split(plan, &raised, &pass) else {
            pass.x.iter_mut().filter(|x| x.abs() <= NOTHING).for_each(|x| *x = 0.0);
            self.best = Found { pass, limits, proven: false, held: false };
            (self.setting, self.attained) = (raised, attained);
            return Ok(None);
        };
        let (Split::Stand { unit, .. } | Split::Run { unit, .. }) = split;
        let (column, program) = (pass.model.columns.run[unit], &pass.model.program);
        let run = (program.lower[column], program.upper[column]);
        let setting = Setting { start: Some(Arc::new(pass.ends)), ..setting };
        Ok(Some(Node { setting, attained, run, split }))
    }

    /// Says of the best what the search came to.
    fn tell(&mut self) {
        self.best.pass.steps = self.steps;
        self.best.proven = self.proven;
        if self.best.limits.is_empty() {
            // What was split holds it back, and that is no limit of the plan: those are told that it meets all the same.
            let limits = std::mem::take(&mut self.limits);
            let meets = |&limit: &Limit| self.best.pass.meets(self.plan, limit);
            self.best.limits = limits.into_iter().filter(meets).collect();
        }
    }

    /// The best found, which reaches all there is: more of a limit may run more machines.
    fn end_with_all(mut self) -> (Setting, Found) {
        self.tell();
        let setting = &self.setting;
        let counts = self.best.pass.counts.iter().zip(&setting.standing);
        let counts: Vec<u32> = counts.map(|(&count, standing)| count.max(standing.unwrap_or(0))).collect();
        (standing::with(self.plan, setting.heat, &counts), self.best)
    }

    /// The best found, with its numbers fixed.
    fn end(mut self) -> (Setting, Found) {
        self.tell();
        let mut setting = self.setting;
        setting.firm.resize(self.plan.units.len(), 0);
        for (at, unit) in self.plan.units.iter().enumerate() {
            if unit.idle_draw.si() > 0.0 && matches!(unit.count, Count::Sized { .. }) {
                let count = self.best.pass.counts[at].max(setting.standing[at].unwrap_or(0));
                setting.standing[at] = Some(count);
                setting.firm[at] = count - must_stand(unit);
                setting.run_upper[at] = setting.run_upper[at].min(f64::from(count));
            }
        }
        (setting, self.best)
    }
}

/// The setting with the machines that were found decided.
fn raised(plan: &Plan, setting: &Setting, pass: &Pass) -> Setting {
    let mut raised = setting.clone();
    for ((standing, unit), firm) in raised.standing.iter_mut().zip(&plan.units).zip(&pass.firm) {
        *standing = Some(must_stand(unit) + firm);
    }
    raised.firm.clone_from(&pass.firm);
    raised
}

/// The number that is furthest from whole, machines that stand before machines that run; none where all are whole.
fn split(plan: &Plan, setting: &Setting, pass: &Pass) -> Option<Split> {
    let mut stand: Option<(f64, Split)> = None;
    let mut run: Option<(f64, Split)> = None;
    for (unit, entry) in plan.units.iter().enumerate() {
        let runs = pass.x[pass.model.columns.run[unit]];
        let machines = machines(runs);
        let rest = f64::from(machines) - runs;
        let idle = entry.idle_draw.si() * rest;
        let is_whole = rest <= ROUNDING_TOLERANCE * f64::from(machines);
        if idle > 0.0 && !is_whole && machines > setting.standing[unit].unwrap_or(0) {
            if stand.is_none_or(|(most, _)| idle > most) {
                stand = Some((idle, Split::Stand { unit, machines }));
            }
        } else if !turndown::keeps(entry, runs) {
            let lacks = entry.turndown.si() * f64::from(machines) - runs;
            if run.is_none_or(|(most, _)| lacks > most) {
                run = Some((lacks, Split::Run { unit, machines }));
            }
        }
    }
    stand.or(run).map(|(_, split)| split)
}
