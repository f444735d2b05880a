//! One solve of the balance under a setting: all objectives in order, and counts where there is a choice.

use super::assemble::assemble;
use super::decided::Decided;
use super::fair::{self, Short};
use super::model::{Model, Setting, Starts, Vertex, most_machines};
use super::objectives::{Purpose, Stage, stages};
use super::simplex::{Ended, Simplex};
use super::{Limit, counts, start};
use crate::budget::{Budget, Halt};
use crate::plan::{DemandId, HeaderId, OutletId, Plan, SupplyId, UnitId};

/// Shares nearer to one than this are reached.
pub const REACHED: f64 = 1e-9;

/// What one pass found, in unscaled columns.
#[derive(Clone, Debug)]
pub struct Pass {
    /// The programme's meaning.
    pub model: Model,
    /// Column values.
    pub x: Vec<f64>,
    /// Machines of each unit: fixed, or rounded up.
    pub counts: Vec<u32>,
    /// The first column along which the value grows without end.
    pub endless: Option<usize>,
    /// Limits with a reduced cost in the deciding objective: the value, or the first shortfall.
    pub binding: Vec<Limit>,
    /// The first rank that falls short.
    pub short_rank: Option<u32>,
    /// False where the fewest machines are not proven the fewest.
    pub proven: bool,
    /// False where lower bounds of runs cannot be kept; the values then mean nothing.
    pub feasible: bool,
    /// Pivots and nodes.
    pub steps: u64,
    /// In a search, by unit, the machines that stand only with their idle draw: those of the setting and those that were decided.
    pub firm: Vec<u32>,
    /// Where it ended, in a search.
    pub ends: Starts,
}

impl Pass {
    /// Whether what a limit of the plan holds stands at it.
    #[must_use]
    pub fn meets(&self, plan: &Plan, limit: Limit) -> bool {
        let columns = &self.model.columns;
        let is_full = |column: usize, most: f64| self.x[column] >= most * (1.0 - REACHED);
        let upper = |column: usize| self.model.program.upper[column];
        match limit {
            Limit::Supply(SupplyId(at)) => is_full(columns.draw[at], upper(columns.draw[at])),
            Limit::Count(UnitId(at)) => is_full(columns.run[at], most_machines(&plan.units[at])),
            Limit::Lines(HeaderId(at)) => columns.through[at].is_some_and(|column| is_full(column, upper(column))),
            Limit::Outlet(OutletId(at)) => is_full(columns.let_out[at], upper(columns.let_out[at])),
            Limit::Demand(demand) => {
                let of = self.model.deliveries.iter().find(|delivery| delivery.demands.contains(&demand));
                of.is_some_and(|delivery| is_full(delivery.column, upper(delivery.column)))
            }
        }
    }
}

/// How a solve ended.
#[derive(Debug)]
pub enum Solved {
    /// With all objectives.
    Whole(Box<Pass>),
    /// After the shortfalls, because equals share what is short: what each may reach, and the limits that bind.
    Shared {
        /// By item, its most.
        caps: Vec<f64>,
        /// Limits with a reduced cost in the first shortfall.
        binding: Vec<Limit>,
        /// Pivots.
        steps: u64,
        /// Where it ended, in a search.
        end: Option<Vertex>,
    },
}

/// Solves `plan` under `setting`. Unless the setting caps its items already, it ends where equals share a shortfall: no later
/// objective has a say in that.
///
/// # Errors
/// [`Halt`] from the budget.
pub fn pass(plan: &Plan, setting: &Setting, budget: &Budget<'_>) -> Result<Solved, Halt> {
    let model = assemble(plan, setting);
    let mut program = model.program.clone();
    let (_, factor) = program.scale();
    let stages = stages(plan, &model);
    let rows = program.by_rows();
    let start = setting.start.as_deref();
    let start = start.and_then(|start| if setting.caps.is_empty() { &start.first } else { &start.shared }.clone());
    let (basis, at_upper) = start.unwrap_or_else(|| start::guess(plan, &model, &stages, &program, &rows));
    let mut simplex = Simplex::new(&program, rows, basis, &at_upper);
    let mut feasible = simplex.restore(budget)?;
    if !feasible {
        // The plant that stands still is feasible, so only rounding or wanted lower bounds can bring us here.
        simplex = Simplex::new(&program, program.by_rows(), program.sinks.clone(), &[]);
        feasible = simplex.restore(budget)?;
    }
    let mut costs = vec![0.0; program.columns()];
    let mut endless = None;
    let mut short_rank = None;
    let mut short_vertex = None;
    let mut binding = Vec::new();
    let (mut counts, mut capped, mut proven) = (Vec::new(), None, true);
    let mut standing = Decided::new(&setting.firm);
    // Shortfalls come first, and the choice of machines always comes after them.
    let shortfalls = stages.iter().take_while(|stage| matches!(stage.purpose, Purpose::Shortfall(_))).count();
    for (at, stage) in stages.iter().enumerate() {
        if at == shortfalls
            && setting.caps.is_empty()
            && let Some(vertex) = &short_vertex
        {
            let reached = model.items.iter().map(|item| factor[item.column] * simplex.value(item.column)).collect();
            let mut steps = simplex.steps;
            if let Some(caps) = fair::caps(&Short { model: &model, reached, vertex }, &mut steps, budget)? {
                let end = setting.is_searched().then(|| simplex.vertex());
                return Ok(Solved::Shared { caps, binding, steps, end });
            }
            simplex.steps = steps;
        }
        if feasible && setting.is_searched() && matches!(stage.purpose, Purpose::Draw(_) | Purpose::Machines) {
            standing.raise(plan, &model, &mut simplex, &factor, budget)?;
        }
        if stage.purpose == Purpose::Machines {
            let chosen = counts::choose(plan, setting, &model, &mut simplex, &factor, stage, budget)?;
            (counts, capped, proven) = (chosen.counts, chosen.relaxed, chosen.proven);
        }
        load(stage, &factor, &mut costs);
        while let Ended::Unbounded { column } = simplex.minimise(&costs, budget)? {
            endless.get_or_insert_with(|| cause(&model, &mut simplex, column));
            simplex.freeze(column);
        }
        let decides = match stage.purpose {
            Purpose::Shortfall(rank) => {
                let shared = |item: &super::model::Item| {
                    item.rank == rank
                        && factor[item.column] * simplex.value(item.column) < item.wanted * (1.0 - REACHED)
                };
                let short = short_rank.is_none() && model.items.iter().any(shared);
                if short {
                    short_rank = Some(rank);
                    short_vertex = Some(simplex.vertex());
                }
                short
            }
            Purpose::Value => short_rank.is_none(),
            _ => false,
        };
        if decides {
            binding = what_binds(plan, setting, &model, &simplex);
        }
        for &(column, _) in &stage.costs {
            costs[column] = 0.0;
        }
    }
    if let Some(capped) = capped {
        let moved = counts::rounded(plan, setting, &model, &simplex, &factor);
        let total = |counts: &[u32]| counts.iter().map(|&count| u64::from(count)).sum::<u64>();
        if total(&moved) <= total(&counts) {
            counts = moved;
        } else {
            // What matters less has moved runs to more machines: it has to do with those that were chosen.
            let steps = simplex.steps;
            simplex = capped;
            simplex.steps = steps;
            end(&stages, &mut simplex, &factor, &mut costs, budget)?;
        }
    }
    simplex.polish();
    let x: Vec<f64> = (0..program.columns())
        .map(|column| {
            // Never under zero by rounding; a hair over an upper bound is left, for the rows to close.
            factor[column] * simplex.value(column).max(simplex.lower(column))
        })
        .collect();
    let steps = simplex.steps;
    let end = setting.is_searched().then(|| standing.start(simplex.vertex(), program.columns()));
    let ends =
        if setting.caps.is_empty() { Starts { first: end, shared: None } } else { Starts { first: None, shared: end } };
    let pass =
        Pass { model, x, counts, endless, binding, short_rank, proven, feasible, steps, firm: standing.firm, ends };
    Ok(Solved::Whole(Box::new(pass)))
}

/// Minimises what comes after the machines.
fn end(
    stages: &[Stage],
    simplex: &mut Simplex<'_>,
    factor: &[f64],
    costs: &mut [f64],
    budget: &Budget<'_>,
) -> Result<(), Halt> {
    for stage in stages.iter().skip_while(|stage| stage.purpose != Purpose::Machines).skip(1) {
        load(stage, factor, costs);
        while let Ended::Unbounded { column } = simplex.minimise(costs, budget)? {
            simplex.freeze(column);
        }
        for &(column, _) in &stage.costs {
            costs[column] = 0.0;
        }
    }
    Ok(())
}

/// Of the columns that grow with an endless one: a supply without a rate before a unit without a count before the column.
fn cause(model: &Model, simplex: &mut Simplex<'_>, column: usize) -> usize {
    // What grows without end has no upper bound that it could begin at.
    let growing: Vec<usize> = std::iter::once((column, 1.0))
        .chain(simplex.response(column))
        .filter(|&(_, change)| change > 0.0)
        .map(|(grows, _)| grows)
        .collect();
    let among = |list: &[usize]| list.iter().copied().find(|grows| growing.contains(grows));
    among(&model.columns.draw).or_else(|| among(&model.columns.run)).unwrap_or(column)
}

/// Writes a stage's costs for scaled columns, the largest of them one.
pub fn load(stage: &Stage, factor: &[f64], costs: &mut [f64]) {
    let largest = stage.costs.iter().fold(0.0_f64, |most, &(column, cost)| most.max((cost * factor[column]).abs()));
    if largest > 0.0 {
        for &(column, cost) in &stage.costs {
            costs[column] = cost * factor[column] / largest;
        }
    }
}

/// Limits of the plan whose columns stand at their upper bound with a reduced cost: giving way would improve the objective.
fn what_binds(plan: &Plan, setting: &Setting, model: &Model, simplex: &Simplex<'_>) -> Vec<Limit> {
    let holds = |column: usize| simplex.is_at_upper(column) && simplex.reduced_cost(column) < -REACHED;
    let columns = &model.columns;
    let mut binding = Vec::new();
    for (at, supply) in plan.supplies.iter().enumerate() {
        if supply.rate.is_some() && holds(columns.draw[at]) {
            binding.push(Limit::Supply(SupplyId(at)));
        }
    }
    let targeted = |column: usize| {
        let item = model.items.iter().find(|item| item.column == column);
        item.map_or(f64::INFINITY, |item| item.wanted)
    };
    for (at, unit) in plan.units.iter().enumerate() {
        let most = most_machines(unit);
        // A search for whole numbers may hold a run below what the plan allows.
        let is_own = setting.run_upper[at] >= most;
        if is_own && most < targeted(columns.run[at]) && holds(columns.run[at]) {
            binding.push(Limit::Count(UnitId(at)));
        }
    }
    for header in 0..plan.headers.len() {
        if columns.through[header].is_some_and(holds) {
            binding.push(Limit::Lines(HeaderId(header)));
        }
    }
    for (at, outlet) in plan.outlets.iter().enumerate() {
        if outlet.limit.is_some() && holds(columns.let_out[at]) {
            binding.push(Limit::Outlet(OutletId(at)));
        }
    }
    for delivery in &model.deliveries {
        if holds(delivery.column) {
            binding.extend(delivery.demands.iter().map(|&DemandId(at)| Limit::Demand(DemandId(at))));
        }
    }
    binding
}
