//! Equals that cannot all have what they ask for: the least share is made as great as it can be, whoever cannot get more is
//! settled at it, and the rest go on (max-min fairness by progressive filling, as in the balance), on one basis throughout.

use super::{Posed, REACHED, most_of};
use crate::balance::simplex::{Ended, Program, Simplex};
use crate::budget::{Budget, Halt};

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
        while !active.is_empty() {
            while let Ended::Unbounded { column } = simplex.minimise(&costs, budget)? {
                simplex.freeze(column);
            }
            if posed.factor[self.common] * simplex.value(self.common) >= 1.0 - REACHED {
                break;
            }
            // Rounding may hide who holds the others back: then all of them are held to what all of them can have.
            let hidden = !active.iter().any(|&(_, excess)| simplex.is_frozen(excess));
            active.retain(|&(member, excess)| {
                let settled = hidden || simplex.is_frozen(excess);
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
}
