//! Whole numbers: the only file that names the crate which searches them.

use crate::budget::{Budget, Halt};
use microlp::{ComparisonOp, OptimizationDirection, Problem, ResumeOptions, SolveOptions, SolveOutcome, Variable};

/// Nodes searched between two looks at the budget.
const NODES_AT_A_TIME: u64 = 64;
/// The most machines of a unit that a search considers.
const MOST_MACHINES: u32 = 1_000_000_000;
/// Nodes after which the best so far must do.
const MOST_NODES: u64 = 20_000;

/// How a row compares.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Relation {
    /// Σ ≤ right side.
    AtMost,
    /// Σ ≥ right side.
    AtLeast,
    /// Σ = right side.
    Equal,
}

/// A small programme with integers, to be minimised.
#[derive(Debug)]
pub struct Whole {
    problem: Problem,
    variables: Vec<Variable>,
}

/// What the search found: values by variable.
#[derive(Clone, Debug, PartialEq)]
pub enum Search {
    /// The optimum.
    Best(Vec<f64>),
    /// A feasible point; the limit of nodes came before the proof.
    Unproven(Vec<f64>),
    /// Nothing: infeasible within tolerance, or no point found within the limit.
    None,
}

impl Whole {
    /// An empty programme.
    #[must_use]
    pub fn new() -> Self {
        Self { problem: Problem::new(OptimizationDirection::Minimize), variables: Vec::new() }
    }

    /// Adds a real variable; returns its index.
    pub fn real(&mut self, cost: f64, lower: f64, upper: f64) -> usize {
        self.variables.push(self.problem.add_var(cost, (lower, upper)));
        self.variables.len() - 1
    }

    /// Adds an integer variable; returns its index.
    pub fn integer(&mut self, cost: f64, lower: u32, upper: u32) -> usize {
        let bound = |count: u32| i32::try_from(count.min(MOST_MACHINES)).unwrap_or(i32::MAX);
        self.variables.push(self.problem.add_integer_var(cost, (bound(lower), bound(upper))));
        self.variables.len() - 1
    }

    /// Adds a row.
    pub fn row(&mut self, terms: &[(usize, f64)], relation: Relation, right: f64) {
        let terms: Vec<(Variable, f64)> = terms.iter().map(|&(at, value)| (self.variables[at], value)).collect();
        let relation = match relation {
            Relation::AtMost => ComparisonOp::Le,
            Relation::AtLeast => ComparisonOp::Ge,
            Relation::Equal => ComparisonOp::Eq,
        };
        self.problem.add_constraint(&terms[..], relation, right);
    }

    /// Searches for the least cost, counting nodes as steps.
    ///
    /// # Errors
    /// [`Halt`] from the budget, which is asked every few nodes.
    pub fn minimise(&self, steps: &mut u64, budget: &Budget<'_>) -> Result<Search, Halt> {
        let mut options = SolveOptions::default();
        options.node_limit = Some(NODES_AT_A_TIME);
        let mut outcome = self.problem.solve_with(options);
        let mut nodes = 0;
        loop {
            nodes += NODES_AT_A_TIME;
            *steps += NODES_AT_A_TIME;
            let Ok(running) = outcome else { return Ok(Search::None) };
            if running.is_optimal() || nodes >= MOST_NODES {
                return Ok(self.read(&running));
            }
            if budget.is_stopped() {
                return Err(Halt::Stopped);
            }
            budget.check(*steps)?;
            let mut resume = ResumeOptions::default();
            resume.node_limit = Some(NODES_AT_A_TIME);
            outcome = running.resume_with(resume);
        }
    }

    fn read(&self, outcome: &SolveOutcome) -> Search {
        let Some(solution) = outcome.solution() else { return Search::None };
        let values = self.variables.iter().map(|&variable| solution.var_value(variable)).collect();
        if outcome.is_optimal() { Search::Best(values) } else { Search::Unproven(values) }
    }
}

impl Default for Whole {
    fn default() -> Self {
        Self::new()
    }
}
