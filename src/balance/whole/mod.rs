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
//! better half goes first. Since each node is solved by the steady engine itself, equals are cut in proportion there as
//! everywhere, and no objective gives anything away to a later one.
//!
//! The first plant known is what trial found, so that whatever the search leaves unproven is never worse than that.

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
use super::standing::is_sound;
use super::{Found, Limit, settle, turndown};
use crate::budget::{Budget, Halt};
use crate::plan::{Count, Plan};
use crate::quantity::ROUNDING_TOLERANCE;
use std::sync::Arc;

/// Work after which the best so far must do. A node is as much as its programme has columns, and a pivot as much as
/// [`PIVOT`] columns and a tenth of its rows: a thousand nodes of ten units, hundreds of thirty, dozens of a hundred.
const MOST_WORK: u64 = 600_000;
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
    limits: Option<Vec<Limit>>,
    work: u64,
    steps: u64,
    proven: bool,
}

/// The best whole numbers, from the numbers that trial found on. Under the setting returned every number stands.
///
/// # Errors
/// [`Halt`] from the budget.
pub fn search(plan: &Plan, tried: Setting, found: Found, budget: &Budget<'_>) -> Result<(Setting, Found), Halt> {
    let mut root = Setting::of(plan, tried.heat);
    root.firm = vec![0; plan.units.len()];
    for (standing, unit) in root.standing.iter_mut().zip(&plan.units) {
        *standing = Some(must_stand(unit));
    }
    let (setting, best) =
        if is_sound(plan, &tried, &found.pass) { (tried, found) } else { least(plan, &root, budget)? };
    let attained = Attained::of(plan, &setting, &best.pass);
    let steps = best.pass.steps;
    let mut search = Search { plan, budget, setting, best, attained, limits: None, work: 0, steps, proven: true };
    let mut open: Vec<Node> = search.look(root)?.into_iter().collect();
    while let Some(node) = open.pop() {
        if !node.attained.is_better_than(&search.attained) {
            continue;
        }
        if search.work >= MOST_WORK {
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
    Ok(search.end())
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
        let plan = self.plan;
        if self.budget.is_stopped() {
            return Err(Halt::Stopped);
        }
        let (mut pass, limits) = settle(plan, &setting, self.budget)?;
        let (columns, rows) = (pass.model.program.columns() as u64, pass.model.program.rows() as u64);
        self.work += columns + pass.steps * (PIVOT + rows / 10);
        self.steps += pass.steps + 1;
        if self.steps > self.budget.steps {
            return Err(Halt::StepsSpent { limit: self.budget.steps });
        }
        if self.limits.is_none() {
            self.limits = Some(limits.clone());
        }
        if !pass.feasible {
            return Ok(None);
        }
        self.proven &= pass.proven;
        let attained = Attained::of(plan, &setting, &pass);
        if !attained.is_better_than(&self.attained) {
            return Ok(None);
        }
        let Some(split) = split(plan, &setting, &pass) else {
            pass.x.iter_mut().filter(|x| x.abs() <= NOTHING).for_each(|x| *x = 0.0);
            self.best = Found { pass, limits, proven: false, held: false };
            (self.setting, self.attained) = (setting, attained);
            return Ok(None);
        };
        let (Split::Stand { unit, .. } | Split::Run { unit, .. }) = split;
        let (column, program) = (pass.model.columns.run[unit], &pass.model.program);
        let run = (program.lower[column], program.upper[column]);
        let setting = Setting { start: Some(Arc::new(pass.ends)), ..setting };
        Ok(Some(Node { setting, attained, run, split }))
    }

    /// The best found, with its numbers fixed.
    fn end(mut self) -> (Setting, Found) {
        self.best.pass.steps = self.steps;
        self.best.proven = self.proven;
        if self.best.limits.is_empty() {
            // What was split holds it back, and that is no limit of the plan: those are told that it meets all the same.
            let pass = &self.best.pass;
            self.best.limits =
                self.limits.unwrap_or_default().into_iter().filter(|&limit| pass.meets(self.plan, limit)).collect();
        }
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
