//! The balance of a plan as a programme, with what its columns mean in the plan's terms.

use super::HeatPower;
use super::simplex::Program;
use crate::plan::{Aim, Count, DemandId, HeaderId, Plan, Unit, UnitId};
use std::sync::Arc;

/// The reserved rank of standing machines: their idle draw comes before everything.
pub const IDLE_RANK: u32 = 0;

/// The basic columns of a vertex, and the others that stand at their upper bounds.
pub type Vertex = (Vec<u32>, Vec<usize>);

/// Where the passes of a solve ended.
#[derive(Clone, Debug, Default)]
pub struct Starts {
    /// The first, before equals share what is short.
    pub first: Option<Vertex>,
    /// The one in which they do.
    pub shared: Option<Vertex>,
}

/// What is fixed before a pass and may change between passes.
#[derive(Clone, Debug)]
pub struct Setting {
    /// Upper bound of each unit's run, in full-duty machines.
    pub run_upper: Vec<f64>,
    /// Lower bound of each unit's run.
    pub run_lower: Vec<f64>,
    /// Machines that stand ready and draw idle power when they do not run; `None` until the count is known.
    pub standing: Vec<Option<u32>>,
    /// Of those, by unit, the ones that may stand only if they have their idle draw. Empty where whole numbers are not searched;
    /// where they are, the programme has the same rows and columns whatever stands, so that one solve can start from another.
    pub firm: Vec<u32>,
    /// Where to start, from a solve of the same search.
    pub start: Option<Arc<Starts>>,
    /// Caps on what each [`Item`] may reach, by item; empty: what it wants.
    pub caps: Vec<f64>,
    /// Upper bounds that a worth step raises: the limit's own measure added to each.
    pub raised: Option<(super::Limit, f64)>,
    /// What coolers draw and turbines give.
    pub heat: HeatPower,
}

/// Something wanted that may fall short.
#[derive(Clone, Debug)]
pub struct Item {
    /// First rank first.
    pub rank: u32,
    /// How much: full-duty machines or SI rate.
    pub wanted: f64,
    /// The column that reaches it.
    pub column: usize,
    /// What it is.
    pub what: Wanted,
}

/// What an [`Item`] stands for.
#[derive(Clone, Debug)]
pub enum Wanted {
    /// Machines that run or stand ready with their idle draw met.
    Idle(UnitId),
    /// A run of the aim.
    Run,
    /// The power that coolers draw.
    Cooling,
    /// Demands and `make` targets of one rank on one header, served in proportion.
    Served {
        /// The demands.
        demands: Vec<DemandId>,
        /// Indices into the aim's targets.
        targets: Vec<usize>,
    },
}

/// What a delivery by value takes: a header's demands up to their sum, or without a limit.
#[derive(Clone, Debug)]
pub struct Delivery {
    /// The header.
    pub header: HeaderId,
    /// The column.
    pub column: usize,
    /// Its demands.
    pub demands: Vec<DemandId>,
}

/// The columns by meaning.
#[derive(Clone, Debug, Default)]
pub struct Columns {
    /// By unit.
    pub run: Vec<usize>,
    /// By supply.
    pub draw: Vec<usize>,
    /// By outlet.
    pub let_out: Vec<usize>,
    /// By header: surplus without a way out, where there can be any.
    pub trapped: Vec<Option<usize>>,
    /// By header: power spilled.
    pub spill: Vec<Option<usize>>,
    /// By header: throughput held to its fixed lines.
    pub through: Vec<Option<usize>>,
    /// By unit: machines that stand ready and draw idle power.
    pub idle: Vec<Option<usize>>,
    /// By unit: machines that stand only with their idle draw, where whole numbers are searched.
    pub firm: Vec<Option<usize>>,
    /// Power that turbines give, all that finds a place.
    pub turbines: Option<usize>,
}

/// A target of the aim, resolved.
#[derive(Clone, Copy, Debug)]
pub enum AimTarget {
    /// So many full-duty machines.
    Run(UnitId, f64),
    /// So much of a header.
    Make(HeaderId, f64),
}

/// The balance of a plan as a programme.
#[derive(Clone, Debug)]
pub struct Model {
    /// Unscaled.
    pub program: Program,
    /// Columns by meaning.
    pub columns: Columns,
    /// What is wanted, by rank.
    pub items: Vec<Item>,
    /// What is delivered for value.
    pub deliveries: Vec<Delivery>,
}

/// The aim's targets in the order of its list; a plan that says nothing and demands nothing runs what it has.
#[must_use]
pub fn targets(plan: &Plan) -> Vec<AimTarget> {
    match &plan.aim {
        Aim::Run(runs) => runs.iter().map(|&(unit, machines)| AimTarget::Run(unit, machines)).collect(),
        Aim::Make(makes) => makes.iter().map(|target| AimTarget::Make(target.header, target.rate)).collect(),
        Aim::Unsaid if plan.demands.is_empty() => (0..plan.units.len())
            .filter_map(|at| match plan.units[at].count {
                Count::Fixed(count) => Some(AimTarget::Run(UnitId(at), f64::from(count))),
                Count::Sized { .. } => None,
            })
            .collect(),
        Aim::Unsaid | Aim::Most(_) => Vec::new(),
    }
}

/// Machines of a unit that stand because the plan says so, whether there is power for them or not.
#[must_use]
pub fn must_stand(unit: &Unit) -> u32 {
    match unit.count {
        Count::Fixed(count) => count,
        Count::Sized { at_least, .. } => at_least,
    }
}

/// The most machines of a unit that the plan allows.
#[must_use]
pub fn most_machines(unit: &Unit) -> f64 {
    match unit.count {
        Count::Fixed(count) | Count::Sized { at_most: Some(count), .. } => f64::from(count),
        Count::Sized { at_most: None, .. } => f64::INFINITY,
    }
}

impl Setting {
    /// The first setting of a plan.
    #[must_use]
    pub fn of(plan: &Plan, heat: HeatPower) -> Self {
        let standing = plan.units.iter().map(|unit| match unit.count {
            Count::Fixed(count) => Some(count),
            Count::Sized { .. } => None,
        });
        Self {
            run_upper: plan.units.iter().map(most_machines).collect(),
            run_lower: vec![0.0; plan.units.len()],
            standing: standing.collect(),
            firm: Vec::new(),
            start: None,
            caps: Vec::new(),
            raised: None,
            heat,
        }
    }

    /// Whether whole numbers are being searched.
    #[must_use]
    pub fn is_searched(&self) -> bool {
        !self.firm.is_empty()
    }

    /// Machines of a unit that may stand only if they have their idle draw.
    #[must_use]
    pub fn firm(&self, unit: usize) -> u32 {
        self.firm.get(unit).copied().unwrap_or(0)
    }

    /// By how much a limit is raised.
    #[must_use]
    pub fn raise(&self, limit: super::Limit) -> f64 {
        self.raised.filter(|(raised, _)| *raised == limit).map_or(0.0, |(_, by)| by)
    }
}
