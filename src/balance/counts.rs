//! How many machines: tolerant rounding where the flows leave no choice, whole numbers searched where they do.

use super::islands::root;
use super::model::{Model, Setting};
use super::objectives::Stage;
use super::pass::load;
use super::simplex::Simplex;
use super::solve::{Relation, Search, Whole};
use crate::budget::{Budget, Halt};
use crate::plan::{Count, Plan};
use crate::quantity::whole_up;
use std::collections::HashMap;

/// A run this far above a whole number of machines, relative, is that whole number.
const ROUNDING_ROOM: f64 = 1e-7;

/// A run up to this is what rounding leaves of none, not a need for a machine.
const NO_MACHINE: f64 = 1e-9;

/// Machines of each unit for the runs of `simplex`: the plan's count, or rounded up.
#[must_use]
pub fn rounded(plan: &Plan, setting: &Setting, model: &Model, simplex: &Simplex<'_>, factor: &[f64]) -> Vec<u32> {
    let run = |at: usize| {
        let column = model.columns.run[at];
        factor[column] * simplex.value(column)
    };
    plan.units.iter().enumerate().map(|(at, unit)| round(unit.count, setting.firm(at), run(at))).collect()
}

/// Machines that a run takes, with tolerance.
#[must_use]
pub fn machines(run: f64) -> u32 {
    let run = if run <= NO_MACHINE { 0.0 } else { run };
    u32::try_from(whole_up(run)).unwrap_or(u32::MAX)
}

fn round(count: Count, firm: u32, run: f64) -> u32 {
    match count {
        Count::Fixed(count) => count,
        Count::Sized { at_least, at_most } => {
            let needed = machines(run).max(at_least.saturating_add(firm));
            at_most.map_or(needed, |most| needed.min(most.max(at_least)))
        }
    }
}

/// What was chosen.
pub struct Chosen<'p> {
    /// Machines of each unit.
    pub counts: Vec<u32>,
    /// The relaxed solution with its runs capped by them, where what matters less may still take more of others.
    pub relaxed: Option<Simplex<'p>>,
    /// False where a search stopped before its proof.
    pub proven: bool,
}

/// Chooses the counts on the present face of `simplex`, where all that matters more is decided.
///
/// The runs that can still vary fall into groups that do not touch each other. For each group Σ ⌈run⌉ is bounded from below
/// by ⌈least Σ run⌉; where the relaxed solution reaches that bound it stands, otherwise the group is searched with integers and all
/// runs are capped by the counts. Where nothing was searched and runs can still vary, what matters less may move them to other
/// machines, as few or more: then there is the relaxed solution with its runs capped, to go back to.
///
/// # Errors
/// [`Halt`] from the budget.
pub fn choose<'p>(
    plan: &Plan,
    setting: &Setting,
    model: &Model,
    simplex: &mut Simplex<'p>,
    factor: &[f64],
    stage: &Stage,
    budget: &Budget<'_>,
) -> Result<Chosen<'p>, Halt> {
    let run_of = |simplex: &Simplex<'_>, at: usize| {
        let column = model.columns.run[at];
        (factor[column] * simplex.value(column)).max(0.0)
    };
    if simplex.free_columns().next().is_none() {
        // What matters more has left no choice.
        return Ok(Chosen { counts: rounded(plan, setting, model, simplex, factor), relaxed: None, proven: true });
    }
    let mut relaxed = simplex.clone();
    let mut costs = vec![0.0; factor.len()];
    load(stage, factor, &mut costs);
    relaxed.minimise(&costs, budget)?;
    let mut counts = rounded(plan, setting, model, &relaxed, factor);
    simplex.steps = relaxed.steps;

    let mut sized = HashMap::new();
    for (at, unit) in plan.units.iter().enumerate() {
        if matches!(unit.count, Count::Sized { .. }) {
            sized.insert(model.columns.run[at], at);
        }
    }
    let (mut searched, mut proven) = (false, true);
    for group in groups(simplex, &sized, budget)? {
        let units: Vec<usize> = group.columns().filter_map(|column| sized.get(&column).copied()).collect();
        let least: f64 = units.iter().map(|&at| run_of(&relaxed, at)).sum();
        let reached: u64 = units.iter().map(|&at| u64::from(counts[at])).sum();
        if reached <= whole_up(least) {
            continue;
        }
        let (found, is_best) = group.search(plan, setting, simplex, &sized, factor, budget)?;
        proven &= is_best;
        if let Some(found) = found {
            let total: u64 = found.iter().map(|&(_, count)| u64::from(count)).sum();
            if total < reached {
                for (at, count) in found {
                    counts[at] = count;
                }
                searched = true;
            }
        }
    }
    let cap = |simplex: &mut Simplex<'_>, counts: &[u32]| {
        for (&column, &at) in &sized {
            let cap = f64::from(counts[at]) * (1.0 + ROUNDING_ROOM) / factor[column];
            simplex.set_upper(column, cap.min(simplex.upper(column)));
        }
    };
    if searched {
        let uncapped: Vec<f64> = sized.keys().map(|&column| simplex.upper(column)).collect();
        cap(simplex, &counts);
        if !simplex.restore(budget)? {
            // The counts rest on a solution found within a tolerance that this basis does not meet: keep the relaxed ones.
            for (&column, upper) in sized.keys().zip(uncapped) {
                simplex.set_upper(column, upper);
            }
            simplex.restore(budget)?;
            counts = rounded(plan, setting, model, &relaxed, factor);
            (searched, proven) = (false, false);
        }
    }
    if searched {
        return Ok(Chosen { counts, relaxed: None, proven });
    }
    cap(&mut relaxed, &counts);
    Ok(Chosen { counts, relaxed: Some(relaxed), proven })
}

/// A free column and how the basic ones answer: (basic column, change).
type Move = (usize, Vec<(usize, f64)>);

/// Machines by unit.
type Counted = Vec<(usize, u32)>;

/// Free columns that touch each other through basic columns.
struct Group {
    moves: Vec<Move>,
}

/// The groups of free columns in which a unit to be sized can vary.
fn groups(simplex: &mut Simplex<'_>, sized: &HashMap<usize, usize>, budget: &Budget<'_>) -> Result<Vec<Group>, Halt> {
    let free: Vec<usize> = simplex.free_columns().collect();
    let mut moves = Vec::with_capacity(free.len());
    for column in free {
        simplex.steps += 1;
        budget.check(simplex.steps)?;
        moves.push((column, simplex.response(column)));
    }
    let mut parent: Vec<usize> = (0..moves.len()).collect();
    let mut owner: HashMap<usize, usize> = HashMap::new();
    for (at, (column, responses)) in moves.iter().enumerate() {
        for touched in std::iter::once(*column).chain(responses.iter().map(|&(basic, _)| basic)) {
            let other = *owner.entry(touched).or_insert(at);
            let (a, b) = (root(&mut parent, at), root(&mut parent, other));
            parent[a.max(b)] = a.min(b);
        }
    }
    let mut by_root: Vec<Vec<usize>> = vec![Vec::new(); moves.len()];
    for at in 0..moves.len() {
        by_root[root(&mut parent, at)].push(at);
    }
    let mut taken: Vec<Option<Move>> = moves.into_iter().map(Some).collect();
    let mut groups = Vec::new();
    for members in by_root {
        let moves: Vec<_> = members.iter().filter_map(|&at| taken[at].take()).collect();
        let group = Group { moves };
        if group.columns().any(|column| sized.contains_key(&column)) {
            groups.push(group);
        }
    }
    Ok(groups)
}

impl Group {
    /// All columns the group can move, each once, in a fixed order.
    fn columns(&self) -> impl Iterator<Item = usize> {
        let mut columns: Vec<usize> = self
            .moves
            .iter()
            .flat_map(|(column, responses)| std::iter::once(*column).chain(responses.iter().map(|&(basic, _)| basic)))
            .collect();
        columns.sort_unstable();
        columns.dedup();
        columns.into_iter()
    }

    /// The fewest machines of the group's units as (unit, count), or `None` where the search found none in time, and whether
    /// that is proven.
    fn search(
        &self,
        plan: &Plan,
        setting: &Setting,
        simplex: &mut Simplex<'_>,
        sized: &HashMap<usize, usize>,
        factor: &[f64],
        budget: &Budget<'_>,
    ) -> Result<(Option<Counted>, bool), Halt> {
        let mut whole = Whole::new();
        // Each free column moves by t ≥ 0 away from its bound; every touched column is its present value plus responses.
        let mut row_terms: HashMap<usize, Vec<(usize, f64)>> = HashMap::new();
        for (column, responses) in &self.moves {
            let sign = if simplex.is_at_upper(*column) { -1.0 } else { 1.0 };
            let width = simplex.upper(*column) - simplex.lower(*column);
            let variable = whole.real(0.0, 0.0, width);
            row_terms.entry(*column).or_default().push((variable, sign));
            for &(basic, change) in responses {
                row_terms.entry(basic).or_default().push((variable, sign * change));
            }
        }
        let mut wanted = Vec::new();
        for column in self.columns() {
            let terms = &row_terms[&column];
            let present = simplex.value(column);
            // A free column is held by what its own variable may be.
            if !self.moves.iter().any(|&(free, _)| free == column) {
                let (lower, upper) = (simplex.lower(column), simplex.upper(column));
                if lower.is_finite() {
                    whole.row(terms, Relation::AtLeast, lower - present);
                }
                if upper.is_finite() {
                    whole.row(terms, Relation::AtMost, upper - present);
                }
            }
            if let Some(&at) = sized.get(&column) {
                let Count::Sized { at_least, at_most } = plan.units[at].count else { continue };
                let least = at_least.saturating_add(setting.firm(at));
                let machines = whole.integer(1.0, least, at_most.unwrap_or(u32::MAX).max(least));
                let mut row: Vec<(usize, f64)> =
                    terms.iter().map(|&(variable, change)| (variable, change * factor[column])).collect();
                row.push((machines, -1.0));
                whole.row(&row, Relation::AtMost, -present * factor[column]);
                wanted.push((at, machines));
            }
        }
        let (found, proven) = match whole.minimise(&mut simplex.steps, budget)? {
            Search::Best(values) => (values, true),
            Search::Unproven(values) => (values, false),
            Search::None => return Ok((None, false)),
        };
        let counts = wanted.into_iter().map(|(at, machines)| (at, found[machines].round() as u32)).collect();
        Ok((Some(counts), proven))
    }
}
