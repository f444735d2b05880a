//! Equals that cannot all have what they ask for: the least share is made as great as it can be, whoever cannot get more is
//! settled at it, and the rest go on (max-min fairness by progressive filling, as in the balance), on one basis throughout.

use super::pose::Posed;
use super::{REACHED, most_of};
use crate::balance::simplex::{Ended, Program, Simplex};
use crate::budget::{Budget, Halt};
use std::collections::HashSet;

/// How far each may rise above the common share in the trial that tells who can: less than what counts, far more than rounding, and
/// no round number, so that what is left seldom is a multiple of it.
const RISE: f64 = 3.718_9e-6;
/// A trial tells more than a round does from so many members on.
const MANY: usize = 24;

/// The common share w of a group, and a row for each member: share − w − excess = 0. Until the group is filled w is held at
/// nothing and an excess may fall below nothing as far as it likes, so that these rows are in nobody's way.
#[derive(Debug)]
pub struct Shares {
    /// The column of w.
    common: usize,
    /// (member, the column of its excess).
    members: Vec<(usize, usize)>,
}

impl Shares {
    /// Adds a group; `row` says which row each member has.
    pub fn add(program: &mut Program, group: &[usize], row: &[Option<u32>]) -> Self {
        let rows = || group.iter().filter_map(|&member| Some((member, row[member]?)));
        let mut entries: Vec<(u32, f64)> = rows().map(|(_, row)| (row, -1.0)).collect();
        entries.sort_unstable_by_key(|&(row, _)| row);
        let common = program.add(&entries, 0.0, 0.0);
        let members = rows().map(|(member, row)| {
            let excess = program.add_sink(row, f64::INFINITY);
            program.lower[excess] = -1.0;
            (member, excess)
        });
        Self { common, members: members.collect() }
    }

    /// Raises w, settles whoever holds it back, and goes on with the others.
    ///
    /// # Errors
    /// [`Halt`] from the budget.
    pub fn fill(&self, posed: &Posed, simplex: &mut Simplex<'_>, budget: &Budget<'_>) -> Result<(), Halt> {
        simplex.set_upper(self.common, 1.0 / posed.factor[self.common]);
        self.members.iter().for_each(|&(_, excess)| simplex.set_lower(excess, 0.0));
        let mut costs = vec![0.0; posed.factor.len()];
        costs[self.common] = -1.0;
        let mut active = self.members.clone();
        let mut last = f64::NEG_INFINITY;
        while !active.is_empty() {
            while let Ended::Unbounded { column } = simplex.minimise(&costs, budget)? {
                simplex.freeze(column);
            }
            let share = posed.factor[self.common] * simplex.value(self.common);
            if share >= 1.0 - REACHED {
                break;
            }
            // Rounding may hide who holds the others back: then all of them are held to what all of them can have.
            let hidden = !active.iter().any(|&(_, excess)| simplex.is_frozen(excess));
            let mut held = HashSet::new();
            if active.len() >= MANY && share - last <= REACHED {
                // Whoever was settled last held nobody back but themselves: of many at one limit a vertex shows a few at a time.
                held = self.held(posed, simplex, &active, budget)?;
            }
            last = share;
            active.retain(|&(member, excess)| {
                let settled = hidden || simplex.is_frozen(excess) || held.contains(&excess);
                if settled {
                    simplex.fix(member);
                    // It has its share, and the others' may grow beyond it by no more than all of it.
                    simplex.fall_behind(excess, 1.0 / posed.factor[excess]);
                }
                !settled
            });
        }
        let rest: Vec<usize> = active.into_iter().map(|(member, _)| member).collect();
        most_of(simplex, posed, &rest, budget)
    }
    /// The excesses that cannot grow while the common share stays, told by a trial in which all of them may by [`RISE`]. Of none that
    /// stands in between: there is not enough for all, and who goes without in the trial may not in truth.
    fn held(
        &self,
        posed: &Posed,
        simplex: &mut Simplex<'_>,
        active: &[(usize, usize)],
        budget: &Budget<'_>,
    ) -> Result<HashSet<usize>, Halt> {
        let grown = |simplex: &Simplex<'_>, excess: usize| posed.factor[excess] * simplex.value(excess) / RISE;
        let mut trial = simplex.clone();
        trial.fix(self.common);
        let mut costs = vec![0.0; posed.factor.len()];
        let level: Vec<usize> =
            active.iter().map(|&(_, excess)| excess).filter(|&excess| grown(&trial, excess) < 1.0).collect();
        for &excess in &level {
            trial.set_upper(excess, RISE / posed.factor[excess]);
            costs[excess] = -posed.factor[excess];
        }
        while let Ended::Unbounded { column } = trial.minimise(&costs, budget)? {
            trial.freeze(column);
        }
        simplex.steps = trial.steps;
        let part = |excess: &usize| grown(&trial, *excess);
        if level.iter().any(|excess| (0.01..0.99).contains(&part(excess))) {
            return Ok(HashSet::new());
        }
        Ok(level.into_iter().filter(|excess| part(excess) < 0.5).collect())
    }
}
