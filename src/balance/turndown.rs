//! Machines that cannot run at any share: so many of them run, and each at no less than its turndown.
//!
//! How many is searched objective by objective, each the least sum of what it counts ([`hold`]). Where equals share what is short, the least sum
//! need not be what cuts them in proportion: from there [`super::whole`] goes on.

use super::assemble::assemble;
use super::model::Setting;
use super::objectives::{Purpose, stages};
use super::pass::{Pass, load};
use super::solve::{Relation, Search, Whole};
use crate::budget::{Budget, Halt};
use crate::plan::{Plan, Unit};
use crate::quantity::whole_up;

/// A run may be this much under its turndown, relative, and still count as at it.
const ROOM: f64 = 1e-9;
/// What an objective may lose to a later one in the search; the exact solve that follows does not.
const GIVE: f64 = 1e-9;

/// Whether a run of `unit` can be had with machines at or above its turndown.
#[must_use]
pub fn keeps(unit: &Unit, run: f64) -> bool {
    unit.turndown.si() * whole_up(run) as f64 <= run * (1.0 + ROOM)
}

/// Whether every run of `pass` can.
#[must_use]
pub fn is_kept(plan: &Plan, pass: &Pass) -> bool {
    plan.units.iter().zip(&pass.model.columns.run).all(|(unit, &column)| keeps(unit, pass.x[column]))
}

/// Whether equals may share what is short in `pass`. [`hold`] has the least sum of what they lack, which need not be what cuts them in
/// proportion.
#[must_use]
pub fn is_shared(pass: &Pass) -> bool {
    let ranks = pass.model.items.windows(2);
    pass.short_rank
        .is_some_and(|short| ranks.into_iter().any(|pair| pair[0].rank == pair[1].rank && pair[0].rank >= short))
}

/// Bounds of runs for which turndowns hold: machines m with turndown·m ≤ run ≤ m, by all objectives in order.
/// The second value is false where the search stopped before its proof.
///
/// # Errors
/// [`Halt`] from the budget.
pub fn hold(plan: &Plan, setting: &Setting, steps: &mut u64, budget: &Budget<'_>) -> Result<(Setting, bool), Halt> {
    let model = assemble(plan, setting);
    let mut program = model.program.clone();
    let (_, factor) = program.scale();
    let stages = stages(plan, &model);
    let mut unit_of = vec![None; program.columns()];
    for (at, unit) in plan.units.iter().enumerate() {
        if unit.turndown.si() > 0.0 {
            unit_of[model.columns.run[at]] = Some(at);
        }
    }
    let mut earlier: Vec<(Vec<(usize, f64)>, f64)> = Vec::new();
    let mut proven = true;
    let mut machines_of: Vec<Option<u32>> = vec![None; plan.units.len()];
    let mut costs = vec![0.0; program.columns()];
    for stage in stages.iter().filter(|stage| !stage.costs.is_empty()) {
        if matches!(stage.purpose, Purpose::LetOut | Purpose::Idle | Purpose::Spilled) {
            break;
        }
        load(stage, &factor, &mut costs);
        let mut whole = Whole::new();
        let mut machines = vec![None; plan.units.len()];
        // A run of turndown 1 is its own count of machines; below that the run is real and the count stands beside it.
        let mut terms_of: Vec<(usize, f64)> = Vec::with_capacity(program.columns());
        for column in 0..program.columns() {
            let (lower, upper) = (program.lower[column], program.upper[column]);
            let most = model.program.upper[column];
            let integer_most = if most.is_finite() { (most + ROOM).floor() as u32 } else { u32::MAX };
            match unit_of[column] {
                Some(at) if plan.units[at].turndown.si() >= 1.0 => {
                    let count = whole.integer(costs[column] / factor[column], 0, integer_most);
                    machines[at] = Some(count);
                    terms_of.push((count, 1.0 / factor[column]));
                }
                Some(at) => {
                    let run = whole.real(costs[column], lower, upper);
                    let count = whole.integer(0.0, 0, if most.is_finite() { most.ceil() as u32 } else { u32::MAX });
                    machines[at] = Some(count);
                    whole.row(&[(run, factor[column]), (count, -1.0)], Relation::AtMost, 0.0);
                    let turndown = plan.units[at].turndown.si();
                    whole.row(&[(run, factor[column]), (count, -turndown)], Relation::AtLeast, 0.0);
                    terms_of.push((run, 1.0));
                }
                None => terms_of.push((whole.real(costs[column], lower, upper), 1.0)),
            }
        }
        let mut rows: Vec<Vec<(usize, f64)>> = vec![Vec::new(); program.rows()];
        for (column, &(variable, per)) in terms_of.iter().enumerate() {
            for (row, value) in program.column(column) {
                rows[row].push((variable, value * per));
            }
        }
        for row in &rows {
            whole.row(row, Relation::Equal, 0.0);
        }
        for (terms, most) in &earlier {
            whole.row(terms, Relation::AtMost, *most);
        }
        let values = match whole.minimise(steps, budget)? {
            Search::Best(values) => values,
            Search::Unproven(values) => {
                proven = false;
                values
            }
            Search::None => {
                proven = false;
                break;
            }
        };
        for (at, count) in machines.iter().enumerate() {
            if let Some(count) = count {
                machines_of[at] = Some(values[*count].round().max(0.0) as u32);
            }
        }
        let objective: Vec<(usize, f64)> =
            stage.costs.iter().map(|&(column, _)| (terms_of[column].0, costs[column] * terms_of[column].1)).collect();
        let reached: f64 = objective.iter().map(|&(variable, cost)| values[variable] * cost).sum();
        earlier.push((objective, reached + GIVE * reached.abs().max(1.0)));
        for &(column, _) in &stage.costs {
            costs[column] = 0.0;
        }
    }
    let mut held = setting.clone();
    for (at, machines) in machines_of.into_iter().enumerate() {
        if unit_of[model.columns.run[at]].is_some() {
            // Where the search found nothing at all, standing still is what is sure to be possible.
            let machines = f64::from(machines.unwrap_or(0));
            held.run_upper[at] = machines;
            held.run_lower[at] = machines * plan.units[at].turndown.si();
        }
    }
    Ok((held, proven))
}

/// Stops every unit with a turndown: what is sure to be possible.
pub fn stand_still(plan: &Plan, setting: &mut Setting) {
    for (at, unit) in plan.units.iter().enumerate() {
        if unit.turndown.si() > 0.0 {
            setting.run_lower[at] = 0.0;
            setting.run_upper[at] = 0.0;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plan::Limits;

    #[test]
    fn a_run_is_kept_where_so_many_machines_can_run_at_their_turndown_or_above() {
        let unit = |turndown: f64| {
            let text = format!(r#"{{"units": {{"press": {{"gives": {{"cake": 1}}, "turndown": {turndown}}}}}}}"#);
            let plan = Plan::from_json(text.as_bytes(), &Limits::default()).unwrap_or_else(|error| panic!("{error:?}"));
            plan.units[0].clone()
        };
        for (turndown, run, kept) in [
            (0.5, 0.0, true),
            (0.5, 0.4, false),
            (0.5, 0.5, true),
            (0.5, 0.5 * (1.0 - 9e-10), true),
            (0.5, 0.5 * (1.0 - 1.1e-9), false),
            (0.5, 1.0, true),
            (0.5, 1.01, true),
            (0.6, 1.1, false),
            (0.6, 1.2, true),
            (0.9, 1.5, false),
            (0.9, 900.5, true),
            (1.0, 5.0, true),
            (1.0, 4.5, false),
        ] {
            assert_eq!(keeps(&unit(turndown), run), kept, "{run} at {turndown}");
        }
    }
}
