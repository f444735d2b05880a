//! Machines that stand because the objectives so far leave their run no other value.
//!
//! Where whole numbers are searched ([`super::whole`]) a plan is solved with the numbers real, and then a machine that runs in part idles in
//! none. But once nothing that is still free can move the run r of a unit, whatever attains as much runs just so, and ⌈r⌉ of it
//! stand. So before the supplies are asked, one rank after the other, and before machines are counted, these are made to stand and draw. What
//! is attained then is nearer to what whole numbers can, and where all runs are decided it is that: there is nothing to search.
//!
//! A machine whose idle draw would cost something of what is decided is left alone, and so are all of them where there is no power
//! for them: such a plan attains less than it would with numbers real, and how much less is for the search to say.

use super::counts::machines;
use super::model::{Model, Vertex, must_stand};
use super::simplex::Simplex;
use crate::budget::{Budget, Halt};
use crate::plan::Plan;
use crate::quantity::ROUNDING_TOLERANCE;
use std::collections::HashMap;

/// Machines that were made to stand.
#[derive(Debug)]
pub struct Decided {
    /// By unit, those that stand only with their idle draw; empty where whole numbers are not searched.
    pub firm: Vec<u32>,
    /// Of those that were raised: the column that idles, and the one whose place in the basis it took.
    swapped: HashMap<u32, u32>,
}

impl Decided {
    /// With what a setting begins with.
    #[must_use]
    pub fn new(firm: &[u32]) -> Self {
        Self { firm: firm.to_vec(), swapped: HashMap::new() }
    }

    /// Makes machines stand whose run is decided on the present face of `simplex`.
    ///
    /// # Errors
    /// [`Halt`] from the budget.
    pub fn raise(
        &mut self,
        plan: &Plan,
        model: &Model,
        simplex: &mut Simplex<'_>,
        factor: &[f64],
        budget: &Budget<'_>,
    ) -> Result<(), Halt> {
        let columns = &model.columns;
        let mut rising = Vec::new();
        for (at, unit) in plan.units.iter().enumerate() {
            let (Some(idle), Some(firm)) = (columns.idle[at], columns.firm[at]) else { continue };
            let run = factor[columns.run[at]] * simplex.value(columns.run[at]);
            let machines = machines(run);
            let rest = f64::from(machines) - run;
            let is_whole = rest <= ROUNDING_TOLERANCE * f64::from(machines);
            let costs = simplex.is_frozen(idle) || simplex.is_frozen(firm);
            if machines > must_stand(unit) + self.firm[at] && !is_whole && !costs {
                rising.push((at, machines));
            }
        }
        if rising.is_empty() {
            return Ok(());
        }
        let varies = varying(simplex, factor.len(), budget)?;
        rising.retain(|&(at, _)| !varies[columns.run[at]]);
        if rising.is_empty() {
            return Ok(());
        }
        let before = simplex.clone();
        let mut pairs = Vec::with_capacity(rising.len());
        for &(at, machines) in &rising {
            let (Some(idle), Some(firm)) = (columns.idle[at], columns.firm[at]) else { continue };
            let stands = f64::from(machines - must_stand(&plan.units[at])) / factor[firm];
            simplex.set_lower(firm, stands);
            simplex.set_upper(firm, stands);
            simplex.set_upper(idle, f64::from(machines) / factor[idle]);
            pairs.extend(model.program.column(firm).map(|(row, _)| (model.program.sinks[row], idle as u32)));
        }
        // What ran besides those that stood was left over on its row; now the rest of the last machine makes up for it.
        simplex.swap(&pairs);
        if simplex.restore(budget)? {
            for (at, machines) in rising {
                self.firm[at] = machines - must_stand(&plan.units[at]);
            }
            self.swapped.extend(pairs.into_iter().map(|(sink, idle)| (idle, sink)));
        } else {
            let steps = simplex.steps;
            simplex.clone_from(&before);
            simplex.steps = steps;
        }
        Ok(())
    }

    /// Where another solve of the search starts that begins with fewer machines: at this vertex, had none been raised.
    #[must_use]
    pub fn start(&self, vertex: Vertex, columns: usize) -> Vertex {
        let (mut basis, at_upper) = vertex;
        let mut is_basic = vec![false; columns];
        for &column in &basis {
            is_basic[column as usize] = true;
        }
        for column in &mut basis {
            if let Some(&sink) = self.swapped.get(column).filter(|&&sink| !is_basic[sink as usize]) {
                *column = sink;
            }
        }
        (basis, at_upper)
    }
}

/// The columns that the present face leaves free, and those that answer them.
fn varying(simplex: &mut Simplex<'_>, columns: usize, budget: &Budget<'_>) -> Result<Vec<bool>, Halt> {
    let mut varies = vec![false; columns];
    let free: Vec<usize> = simplex.free_columns().collect();
    for column in free {
        simplex.steps += 1;
        budget.check(simplex.steps)?;
        varies[column] = true;
        for (answers, _) in simplex.response(column) {
            varies[answers] = true;
        }
    }
    Ok(varies)
}
