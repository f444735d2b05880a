//! Who is cut when there is not enough: last rank first, equals in proportion.
//!
//! Within a rank the least reached share is made as great as it can be; whoever cannot get more is settled at that share,
//! and the rest go on (max-min fairness by progressive filling; D. Bertsekas and R. Gallager, *Data Networks*, 2nd ed. 1992,
//! section 6.5.2; locator from memory). So the shortfall of the worst-off is least, then that of the next.

use super::assemble::{Item, Model};
use super::objectives::{Purpose, Stage};
use super::pass::{Pass, REACHED, load};
use super::simplex::{Program, Simplex};
use crate::budget::{Budget, Halt};

/// Rounds of filling within one rank; whoever is left then is cut alike.
const MOST_ROUNDS: usize = 64;

/// The most each item may reach so that equals are cut in proportion, from the first short rank on.
///
/// # Errors
/// [`Halt`] from the budget.
pub fn caps(
    first: &Pass,
    stages: &[Stage],
    short_rank: u32,
    steps: &mut u64,
    budget: &Budget<'_>,
) -> Result<Vec<f64>, Halt> {
    let model = &first.model;
    let mut caps: Vec<f64> = model.items.iter().map(|item| item.wanted.min(model.program.upper[item.column])).collect();
    let mut ranks: Vec<u32> = model.items.iter().map(|item| item.rank).filter(|&rank| rank >= short_rank).collect();
    ranks.dedup();
    for rank in ranks {
        let mut active: Vec<usize> = (0..model.items.len()).filter(|&at| model.items[at].rank == rank).collect();
        for _ in 0..MOST_ROUNDS {
            if active.len() < 2 {
                break;
            }
            let (share, settled) = fill(first, stages, &caps, &active, rank, steps, budget)?;
            if share >= 1.0 - REACHED {
                break;
            }
            for &at in &settled {
                caps[at] = caps[at].min(share * model.items[at].wanted);
            }
            active.retain(|at| !settled.contains(at));
        }
    }
    Ok(caps)
}

/// The greatest share that all active items can reach together, and those that cannot go beyond it.
fn fill(
    first: &Pass,
    stages: &[Stage],
    caps: &[f64],
    active: &[usize],
    rank: u32,
    steps: &mut u64,
    budget: &Budget<'_>,
) -> Result<(f64, Vec<usize>), Halt> {
    let model = &first.model;
    let (program, share_column, slacks) = with_shares(model, caps, active);
    let mut scaled = program;
    let (_, factor) = scaled.scale();
    let rows = model.program.rows();
    // From the vertex of least shortfall, with the new rows closed by their excess: nearly there.
    let (mut basis, at_upper) =
        first.short_vertex.clone().unwrap_or_else(|| (scaled.sinks[..rows].to_vec(), Vec::new()));
    basis.extend_from_slice(&scaled.sinks[rows..]);
    let mut simplex = Simplex::new(&scaled, scaled.by_rows(), basis, &at_upper);
    simplex.steps = *steps;
    if !simplex.restore(budget)? {
        let steps = simplex.steps;
        simplex = Simplex::new(&scaled, scaled.by_rows(), scaled.sinks.clone(), &[]);
        simplex.steps = steps;
        simplex.restore(budget)?;
    }
    let mut costs = vec![0.0; scaled.columns()];
    for stage in stages {
        match stage.purpose {
            Purpose::Shortfall(earlier) if earlier < rank => {
                load(stage, &factor, &mut costs);
                simplex.minimise(&costs, budget)?;
                for &(column, _) in &stage.costs {
                    costs[column] = 0.0;
                }
            }
            _ => break,
        }
    }
    // Those of this rank that are settled keep what they have.
    let settled_before: Vec<&Item> = model
        .items
        .iter()
        .enumerate()
        .filter(|(at, item)| item.rank == rank && !active.contains(at))
        .map(|(_, item)| item)
        .collect();
    if !settled_before.is_empty() {
        for item in &settled_before {
            costs[item.column] = -factor[item.column] / item.wanted;
        }
        simplex.minimise(&costs, budget)?;
        for item in &settled_before {
            costs[item.column] = 0.0;
        }
    }
    costs[share_column] = -1.0;
    simplex.minimise(&costs, budget)?;
    *steps = simplex.steps;
    let share = factor[share_column] * simplex.value(share_column);
    let mut settled: Vec<usize> =
        active.iter().zip(&slacks).filter(|&(_, &slack)| simplex.is_frozen(slack)).map(|(&at, _)| at).collect();
    if settled.is_empty() {
        settled = active.to_vec();
    }
    Ok((share, settled))
}

/// The programme with a column for the common share w and a row for each active item: reached − wanted·w − excess = 0.
fn with_shares(model: &Model, caps: &[f64], active: &[usize]) -> (Program, usize, Vec<usize>) {
    let rows = model.program.rows();
    let mut program = Program::new(rows + active.len());
    let mut entries = Vec::new();
    for column in 0..model.program.columns() {
        entries.clear();
        entries.extend(model.program.column(column).map(|(row, value)| (row as u32, value)));
        if let Some(at) = active.iter().position(|&at| model.items[at].column == column) {
            entries.push(((rows + at) as u32, 1.0));
        }
        program.add(&entries, model.program.lower[column], model.program.upper[column]);
    }
    for (item, &cap) in model.items.iter().zip(caps) {
        program.upper[item.column] = program.upper[item.column].min(cap);
    }
    program.sinks[..rows].copy_from_slice(&model.program.sinks);
    let shares: Vec<(u32, f64)> =
        active.iter().enumerate().map(|(at, &item)| ((rows + at) as u32, -model.items[item].wanted)).collect();
    let share_column = program.add(&shares, 0.0, 1.0);
    let slacks = (0..active.len()).map(|at| program.add_sink((rows + at) as u32, f64::INFINITY)).collect();
    (program, share_column, slacks)
}
