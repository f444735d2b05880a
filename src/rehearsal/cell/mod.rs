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
mod shares;
#[cfg(test)]
mod tests;

use super::system::{Drive, Flow, Source};
use crate::balance::simplex::{Ended, Program, Simplex};
use crate::budget::{Budget, Halt};
use shares::Shares;
use std::collections::BTreeMap;

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

/// The programme of a cell, and what its columns are measured in.
struct Posed {
    program: Program,
    factor: Vec<f64>,
    /// What one of each member's column is, in the flow's own measure.
    measure: Vec<f64>,
    /// (header, measure, into, out of) by row.
    stored: Vec<(usize, f64, usize, Option<usize>)>,
    /// By group that is shared.
    shares: Vec<Shares>,
}

impl Posed {
    /// At a basis for the first of the rows, the others closed by their sinks. Without one it is at rest, which is feasible.
    fn simplex(&self, basis: &[u32], at_upper: &[usize], steps: u64) -> Simplex<'_> {
        let basis = [basis, &self.program.sinks[basis.len()..]].concat();
        let mut simplex = Simplex::new(&self.program, self.program.by_rows(), basis, at_upper);
        simplex.steps = steps;
        simplex
    }
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

    /// The rows and columns; members of `sharing` groups have a row more.
    fn pose(&self, headers: &[usize], sharing: &[Vec<usize>]) -> Posed {
        let row_of = |header: usize| headers.binary_search(&header).ok();
        let mut greatest = vec![0.0_f64; headers.len()];
        for &at in self.members {
            for &(header, rate) in &self.flows[at].on {
                if let (Some(row), true) = (row_of(header), self.upper[at].is_finite()) {
                    greatest[row] = greatest[row].max((rate * self.upper[at]).abs());
                }
            }
        }
        greatest.iter_mut().filter(|most| **most <= 0.0).for_each(|most| *most = 1.0);
        let mut line_row = vec![None; headers.len()];
        let mut rows = headers.len();
        for (row, &header) in headers.iter().enumerate() {
            if self.storage[header].lines.is_some() {
                line_row[row] = Some(rows);
                rows += 1;
            }
        }
        let mut share_row = vec![None; self.members.len()];
        let mut next = rows;
        for &member in sharing.iter().flatten() {
            share_row[member] = Some(next as u32);
            next += 1;
        }
        let mut program = Program::new(next);
        let mut measure = Vec::with_capacity(self.members.len());
        let mut entries: Vec<(u32, f64)> = Vec::new();
        for (member, &at) in self.members.iter().enumerate() {
            let flow = &self.flows[at];
            let one = if self.upper[at].is_finite() {
                self.upper[at]
            } else {
                // A tap or a way out: on one header, at one each.
                flow.on.first().and_then(|&(header, _)| row_of(header)).map_or(1.0, |row| greatest[row])
            };
            entries.clear();
            for &(header, rate) in &flow.on {
                let Some(row) = row_of(header) else { continue };
                let value = rate * one / greatest[row];
                if value != 0.0 {
                    entries.push((row as u32, value));
                    if let (Some(line), true) = (line_row[row], value > 0.0) {
                        entries.push((line as u32, value));
                    }
                }
            }
            entries.extend(share_row[member].map(|row| (row, 1.0)));
            entries.sort_unstable_by_key(|&(row, _)| row);
            let upper = if self.upper[at].is_finite() {
                self.asks[at].min(if one > 0.0 { 1.0 } else { 0.0 })
            } else {
                f64::INFINITY
            };
            program.add(&entries, 0.0, upper);
            measure.push(one);
        }
        let mut stored = Vec::with_capacity(headers.len());
        for (row, &header) in headers.iter().enumerate() {
            let storage = &self.storage[header];
            let into = program.add_sink(row as u32, storage.takes / greatest[row]);
            let out = storage.gives.then(|| program.add(&[(row as u32, 1.0)], 0.0, f64::INFINITY));
            stored.push((header, greatest[row], into, out));
        }
        for (row, &line) in line_row.iter().enumerate() {
            if let (Some(line), Some(carries)) = (line, self.storage[headers[row]].lines) {
                program.add_sink(line as u32, carries / greatest[row]);
            }
        }
        let shares = sharing.iter().map(|group| Shares::add(&mut program, group, &share_row)).collect();
        let (_, factor) = program.scale();
        Posed { program, factor, measure, stored, shares }
    }

    /// Objectives 3 to 6, as costs of columns in shares.
    fn later_stages(&self, posed: &Posed) -> Vec<Vec<(usize, f64)>> {
        let mut stages = Vec::new();
        let taps: Vec<(usize, Tap)> = (0..self.members.len())
            .filter(|&member| self.flows[self.members[member]].drive == Drive::Tapped)
            .map(|member| (member, self.tap(self.members[member])))
            .collect();
        let cost = |member: usize| (member, posed.measure[member]);
        let rank = |member: usize| self.flows[self.members[member]].rank;
        let ranks = |chosen: &dyn Fn(usize, Tap) -> bool| {
            let mut ranks: Vec<u32> =
                taps.iter().filter(|&&(member, tap)| chosen(member, tap)).map(|&(member, _)| rank(member)).collect();
            ranks.sort_unstable_by(|one, other| other.cmp(one));
            ranks.dedup();
            ranks
        };
        let mut least = |chosen: &dyn Fn(usize, Tap) -> bool| {
            for of_rank in ranks(chosen) {
                let these = taps.iter().filter(|&&(member, tap)| rank(member) == of_rank && chosen(member, tap));
                stages.push(these.map(|&(member, _)| cost(member)).collect::<Vec<_>>());
            }
        };
        least(&|_, tap| tap == Tap::Reserve);
        let mut fill: Vec<(usize, f64)> = Vec::new();
        let filled_here = |header: usize| !self.storage[header].is_free();
        for &(member, tap) in &taps {
            let gives = self.flows[self.members[member]].on.iter().filter(|&&(_, rate)| rate > 0.0);
            let to_free = gives.clone().any(|&(header, _)| !filled_here(header));
            if tap == Tap::Refills && to_free {
                fill.push((member, -1.0));
            }
        }
        for &(header, _, into, out) in &posed.stored {
            if self.storage[header].rank.is_some() {
                if !self.storage[header].endless {
                    fill.push((into, -1.0));
                }
                fill.extend(out.map(|out| (out, 1.0)));
            }
        }
        let is_draw = |member: usize| matches!(self.flows[self.members[member]].what, Source::Draw(_));
        if !fill.is_empty() {
            stages.push(fill);
        }
        stages.extend(self.least_draw(posed, &taps));
        let mut least = |chosen: &dyn Fn(usize, Tap) -> bool| {
            for of_rank in ranks(chosen) {
                let these = taps.iter().filter(|&&(member, tap)| rank(member) == of_rank && chosen(member, tap));
                stages.push(these.map(|&(member, _)| cost(member)).collect::<Vec<_>>());
            }
        };
        least(&|member, _| !is_draw(member));
        for spills in [false, true] {
            let surplus: Vec<(usize, f64)> = (0..self.members.len())
                .filter(|&member| {
                    let flow = &self.flows[self.members[member]];
                    flow.drive == Drive::Surplus && matches!(flow.what, Source::Spill(_)) == spills
                })
                .map(|member| (member, 1.0))
                .collect();
            if !surplus.is_empty() {
                stages.push(surplus);
            }
        }
        stages
    }

    /// The draw on supplies, last rank first; on those that give whatever is asked of them too.
    fn least_draw(&self, posed: &Posed, taps: &[(usize, Tap)]) -> Vec<Vec<(usize, f64)>> {
        let mut by_rank: BTreeMap<u32, Vec<(usize, f64)>> = BTreeMap::new();
        for &(member, _) in taps {
            let flow = &self.flows[self.members[member]];
            if matches!(flow.what, Source::Draw(_)) {
                by_rank.entry(flow.rank).or_default().push((member, posed.measure[member]));
            }
            for taken in &flow.endless {
                by_rank.entry(taken.rank).or_default().push((member, taken.takes * posed.measure[member]));
            }
        }
        by_rank.into_values().rev().collect()
    }

    fn read(&self, posed: &Posed, simplex: &Simplex<'_>) -> Vec<f64> {
        (0..self.members.len())
            .map(|member| {
                let share = posed.factor[member] * simplex.value(member);
                let upper = posed.program.upper[member] * posed.factor[member];
                let share = if share < AT_BOUND {
                    0.0
                } else if share > upper - AT_BOUND {
                    upper
                } else {
                    share
                };
                share * posed.measure[member]
            })
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
