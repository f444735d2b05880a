//! The balance of a moment for one cell: flows that share headers whose stores cannot make up a difference.
//!
//! Each such header has a row: Σ flows on it + out of its stores − into its stores = 0. In strict order:
//!
//! 1. what is asked for, by rank: demands, fed units, coolers, idle draw; equals are cut in proportion;
//! 2. what is pushed in, by rank, so that the least is lost;
//! 3. least from reserves: taps and wanted units that stand behind the stores by rank;
//! 4. fill the stores, from what stands before them by rank;
//! 5. least draw, last rank first; then fewest machines;
//! 6. least let out, then least spilled.
//!
//! Columns are shares of what each flow could be at most, rows are in shares of their greatest flow.

mod apart;
mod direct;
mod pose;
mod shares;
mod stages;
#[cfg(test)]
mod tests;

use super::system::{Drive, Flow};
use crate::balance::simplex::{Ended, Simplex};
use crate::budget::{Budget, Halt};
use pose::Posed;

/// Shares nearer to one than this are reached.
const REACHED: f64 = 1e-9;
/// Shares nearer than this to a bound are at it.
const AT_BOUND: f64 = 1e-13;

/// What the stores of a header can do at a moment.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Storage {
    /// The least rank of its stores; `None` where it has none.
    pub rank: Option<u32>,
    /// Whether any can give.
    pub gives: bool,
    /// How much they can take: nothing, what full ones lose standing, or any rate.
    pub takes: f64,
    /// What its fixed lines carry at most.
    pub lines: Option<f64>,
    /// Whether a tap without a rate is open on it.
    pub endless: bool,
}

impl Storage {
    /// Whether any difference on this header is made up by its stores, so that flows on it do not feel each other.
    #[must_use]
    pub fn is_free(&self) -> bool {
        self.gives && self.takes == f64::INFINITY && self.lines.is_none() && !self.endless
    }
}

/// How a flow of [`Drive::Tapped`] stands to the stores of the headers it gives to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Tap {
    /// Before them: it fills them.
    Refills,
    /// Behind them.
    Reserve,
    /// There are none, or it has no rate to fill them with.
    Plain,
}

/// A cell: flows by index into the system's, with the most each can be now, and the storage of all headers.
#[derive(Clone, Copy)]
pub struct Cell<'s> {
    /// The system's flows.
    pub flows: &'s [Flow],
    /// Those in this cell.
    pub members: &'s [usize],
    /// The most of each of the system's flows now; of one that asks by a dial, what it could be at full power.
    pub upper: &'s [f64],
    /// The share of that which each asks for. Who is cut is cut in proportion to what it could be, so that a cooler that is
    /// short does not get less for asking for less.
    pub asks: &'s [f64],
    /// By header.
    pub storage: &'s [Storage],
}

impl Cell<'_> {
    /// How much of each member there is, in the order of `members`.
    ///
    /// # Errors
    /// [`Halt`] from the budget.
    pub fn solve(&self, steps: &mut u64, budget: &Budget<'_>) -> Result<Vec<f64>, Halt> {
        let headers = self.bound_headers();
        if let Some(amounts) = self.solve_closed(&headers) {
            return Ok(amounts);
        }
        if let Some(amounts) = apart::solve(self, &headers, steps, budget)? {
            return Ok(amounts);
        }
        self.solve_programme(&headers, steps, budget)
    }

    /// The same with these headers, whatever stands on others.
    fn solve_between(&self, headers: &[usize], steps: &mut u64, budget: &Budget<'_>) -> Result<Vec<f64>, Halt> {
        match self.solve_closed(headers) {
            Some(amounts) => Ok(amounts),
            None => self.solve_programme(headers, steps, budget),
        }
    }

    fn solve_closed(&self, headers: &[usize]) -> Option<Vec<f64>> {
        if headers.is_empty() {
            return Some(self.members.iter().map(|&at| self.alone(at)).collect());
        }
        direct::solve(self, headers)
    }

    /// The same by a linear programme, whatever the headers.
    fn solve_programme(&self, headers: &[usize], steps: &mut u64, budget: &Budget<'_>) -> Result<Vec<f64>, Halt> {
        let groups = self.groups();
        let posed = self.pose(headers, &[]);
        let mut simplex = posed.simplex(&[], &[], *steps);
        for group in &groups {
            most_of(&mut simplex, &posed, group, budget)?;
            let reached = |&member: &usize| {
                posed.factor[member] * simplex.value(member) >= self.asks[self.members[member]] * (1.0 - REACHED)
            };
            // Mostly everybody gets what they ask for; only where equals are short are there shares to be told.
            if group.len() > 1 && !group.iter().all(reached) {
                *steps = simplex.steps;
                return self.solve_shared(headers, &groups, &simplex.vertex(), steps, budget);
            }
        }
        self.finish(&posed, simplex, steps, budget)
    }

    /// The same where equals are short: they are cut to shares, beginning at a vertex of the programme without shares.
    fn solve_shared(
        &self,
        headers: &[usize],
        groups: &[Vec<usize>],
        (basis, at_upper): &(Vec<u32>, Vec<usize>),
        steps: &mut u64,
        budget: &Budget<'_>,
    ) -> Result<Vec<f64>, Halt> {
        let posed = self.pose(headers, groups);
        let mut simplex = posed.simplex(basis, at_upper, *steps);
        simplex.restore(budget)?;
        for shares in &posed.shares {
            shares.fill(&posed, &mut simplex, budget)?;
        }
        self.finish(&posed, simplex, steps, budget)
    }

    /// Goes on with what comes after the groups.
    fn finish(
        &self,
        posed: &Posed,
        mut simplex: Simplex<'_>,
        steps: &mut u64,
        budget: &Budget<'_>,
    ) -> Result<Vec<f64>, Halt> {
        for costs in self.later_stages(posed) {
            minimise(&mut simplex, &posed.factor, &costs, budget)?;
        }
        simplex.polish();
        *steps = simplex.steps;
        Ok(self.read(posed, &simplex))
    }

    /// Headers of the members that are not free, in order.
    fn bound_headers(&self) -> Vec<usize> {
        let touched = self.members.iter().flat_map(|&at| self.flows[at].on.iter().map(|&(header, _)| header));
        let mut headers: Vec<usize> = touched.filter(|&header| !self.storage[header].is_free()).collect();
        headers.sort_unstable();
        headers.dedup();
        headers
    }

    /// A flow that touches none but free headers.
    fn alone(&self, at: usize) -> f64 {
        match self.flows[at].drive {
            Drive::Asked | Drive::Pushed => self.upper[at] * self.asks[at],
            Drive::Tapped if self.tap(at) == Tap::Refills => self.upper[at],
            Drive::Tapped | Drive::Surplus => 0.0,
        }
    }

    fn tap(&self, at: usize) -> Tap {
        let flow = &self.flows[at];
        let given = flow.on.iter().filter(|&&(_, rate)| rate > 0.0);
        let ranks: Vec<u32> = given.filter_map(|&(header, _)| self.storage[header].rank).collect();
        if ranks.is_empty() {
            Tap::Plain
        } else if ranks.iter().all(|&rank| rank < flow.rank) {
            Tap::Reserve
        } else if self.upper[at].is_infinite() {
            Tap::Plain
        } else {
            Tap::Refills
        }
    }

    /// Members by what decides first: asked for by rank, then pushed by rank. Those that cannot flow are left out.
    fn groups(&self) -> Vec<Vec<usize>> {
        let mut keyed: Vec<((bool, u32), usize)> = (0..self.members.len())
            .filter_map(|member| {
                let at = self.members[member];
                let flow = &self.flows[at];
                let pushed = match flow.drive {
                    Drive::Asked => false,
                    Drive::Pushed => true,
                    Drive::Tapped | Drive::Surplus => return None,
                };
                (self.upper[at] > 0.0).then_some(((pushed, flow.rank), member))
            })
            .collect();
        keyed.sort_unstable();
        keyed
            .chunk_by(|one, next| one.0 == next.0)
            .map(|group| group.iter().map(|&(_, member)| member).collect())
            .collect()
    }
}

/// Minimises costs given per share. Nothing can grow without end: what is unlimited is only ever minimised.
fn minimise(
    simplex: &mut Simplex<'_>,
    factor: &[f64],
    costs: &[(usize, f64)],
    budget: &Budget<'_>,
) -> Result<(), Halt> {
    let largest = costs.iter().fold(0.0_f64, |most, &(column, cost)| most.max((cost * factor[column]).abs()));
    if largest <= 0.0 {
        return Ok(());
    }
    let mut dense = vec![0.0; factor.len()];
    for &(column, cost) in costs {
        dense[column] += cost * factor[column] / largest;
    }
    while let Ended::Unbounded { column } = simplex.minimise(&dense, budget)? {
        simplex.freeze(column);
    }
    Ok(())
}

/// Maximises the sum of the shares of a group.
fn most_of(simplex: &mut Simplex<'_>, posed: &Posed, group: &[usize], budget: &Budget<'_>) -> Result<(), Halt> {
    let costs: Vec<(usize, f64)> = group.iter().map(|&member| (member, -1.0)).collect();
    minimise(simplex, &posed.factor, &costs, budget)
}
