//! A bounded primal simplex for objectives in strict order.
//!
//! Minimises c₁·x, then c₂·x among the minimisers of c₁, and so on, subject to A·x = 0 and lower ≤ x ≤ upper. After each
//! objective every nonbasic column with a reduced cost is frozen at its bound: what is left is exactly the optimal face, so
//! the next objective starts from the same basis, needs no added row, and cannot give anything of an earlier one away.
//! (The idea is that of sequential linear goal programming: J. P. Ignizio, *Linear Programming in Single- and
//! Multiple-Objective Systems*, 1982; from memory.)
//!
//! Ties are broken by column order, so the same programme always ends in the same vertex. Long runs of degenerate pivots
//! fall back to R. G. Bland's rule (Math. Oper. Res. 2, 1977), which cannot cycle.

mod factor;
mod pivot;
mod pricing;
mod program;
mod repair;
mod sparse;
#[cfg(test)]
mod tests;

use crate::budget::{Budget, Halt};
use factor::Factor;
use pivot::Block;
pub use program::{Program, Rows};
use sparse::Sparse;

/// Reduced costs nearer to zero than this are zero. Costs and columns are scaled near one.
const COST_TOLERANCE: f64 = 1e-9;
/// A reduced cost that is less than this share of its terms is what rounding left of their cancellation.
const CANCELLATION: f64 = 1e-12;
/// A basic column may stray this far past a bound within a ratio test.
const BOUND_TOLERANCE: f64 = 1e-12;
/// The least entry that may become a pivot.
const LEAST_PIVOT: f64 = 1e-8;
/// Exchanges after which the basis is factorised afresh.
const MOST_EXCHANGES: usize = 64;

/// Where a column stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Place {
    Basic(u32),
    AtLower,
    AtUpper,
}

/// How an objective ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ended {
    /// At its least value.
    Optimal,
    /// It falls without end along this column.
    Unbounded {
        /// The column that grows.
        column: usize,
    },
}

/// A basis being improved.
#[derive(Clone, Debug)]
pub struct Simplex<'p> {
    program: &'p Program,
    rows: Rows,
    lower: Vec<f64>,
    upper: Vec<f64>,
    place: Vec<Place>,
    frozen: Vec<bool>,
    basis: Vec<u32>,
    x: Vec<f64>,
    factor: Factor,
    reduced: Vec<f64>,
    /// B⁻¹·a of the entering column, by position.
    image: Sparse,
    /// Prices, or a row of B⁻¹, by row.
    prices: Sparse,
    /// A row of B⁻¹·A, by column.
    pivot_row: Sparse,
    /// Columns that may improve the present objective: all that do are among them.
    candidates: Vec<u32>,
    listed: Vec<bool>,
    /// Pivots and bound flips so far.
    pub steps: u64,
}

impl<'p> Simplex<'p> {
    /// Starts from a guess: these columns basic (one per row; a dependent one gives way to a sink), those at their upper
    /// bounds, the rest at their lower. Values are known, and the guess is feasible, after [`Self::restore`]. The sinks of the
    /// programme as a basis, with nothing at its upper bound, are the plant that stands still: where all lower bounds are
    /// zero that is feasible.
    #[must_use]
    pub fn new(program: &'p Program, rows: Rows, basis: Vec<u32>, at_upper: &[usize]) -> Self {
        debug_assert_eq!(basis.len(), program.rows());
        let columns = program.columns();
        let mut simplex = Self {
            program,
            rows,
            lower: program.lower.clone(),
            upper: program.upper.clone(),
            place: vec![Place::AtLower; columns],
            frozen: vec![false; columns],
            basis,
            x: program.lower.clone(),
            factor: Factor::default(),
            reduced: vec![0.0; columns],
            image: Sparse::zeros(program.rows()),
            prices: Sparse::zeros(program.rows()),
            pivot_row: Sparse::zeros(columns),
            candidates: Vec::new(),
            listed: vec![false; columns],
            steps: 0,
        };
        for &column in at_upper {
            simplex.place[column] = Place::AtUpper;
        }
        for position in 0..simplex.basis.len() {
            simplex.place[simplex.basis[position] as usize] = Place::Basic(position as u32);
        }
        simplex.factorise();
        simplex
    }

    /// The present vertex, to start another solve from: the basic columns, and the others at their upper bounds.
    #[must_use]
    pub fn vertex(&self) -> (Vec<u32>, Vec<usize>) {
        let at_upper = (0..self.place.len()).filter(|&column| self.place[column] == Place::AtUpper).collect();
        (self.basis.clone(), at_upper)
    }

    /// Lets columns take the place of basic ones: of each pair the first leaves for its lower bound and the second comes.
    /// [`Self::restore`] tells what they are worth then.
    pub fn swap(&mut self, pairs: &[(u32, u32)]) {
        for &(leaves, comes) in pairs {
            if let (Place::Basic(position), Place::AtLower | Place::AtUpper) =
                (self.place[leaves as usize], self.place[comes as usize])
            {
                self.place[leaves as usize] = Place::AtLower;
                self.place[comes as usize] = Place::Basic(position);
                self.basis[position as usize] = comes;
            }
        }
        self.factorise();
    }

    /// Factorises afresh and takes the basic values from it: the accuracy of the last digits.
    pub fn polish(&mut self) {
        if self.factor.exchanged() > 0 {
            self.factorise();
        }
        self.refresh();
    }

    /// The value of a column.
    #[must_use]
    pub fn value(&self, column: usize) -> f64 {
        self.x[column]
    }

    /// Whether the column may still move at all without losing an earlier objective.
    #[must_use]
    pub fn is_frozen(&self, column: usize) -> bool {
        self.frozen[column] && !matches!(self.place[column], Place::Basic(_))
    }

    /// Reduced cost of a column for the last objective, per scaled step upward.
    #[must_use]
    pub fn reduced_cost(&self, column: usize) -> f64 {
        self.reduced[column]
    }

    /// Whether the column stands at its upper bound, nonbasic.
    #[must_use]
    pub fn is_at_upper(&self, column: usize) -> bool {
        self.place[column] == Place::AtUpper
    }

    /// The columns that are free to move on the present face: nonbasic, not frozen, with room.
    pub fn free_columns(&self) -> impl Iterator<Item = usize> + '_ {
        (0..self.program.columns()).filter(|&column| {
            !matches!(self.place[column], Place::Basic(_))
                && !self.frozen[column]
                && self.upper[column] > self.lower[column]
        })
    }

    /// How the basic columns answer when `column` grows by one: pairs (basic column, change).
    pub fn response(&mut self, column: usize) -> Vec<(usize, f64)> {
        self.load_image(column);
        let response = self
            .image
            .iter()
            .filter(|&(_, change)| change.abs() > LEAST_PIVOT * 1e-3)
            .map(|(position, change)| (self.basis[position] as usize, -change))
            .collect();
        self.image.clear();
        response
    }

    /// The upper bound in force.
    #[must_use]
    pub fn upper(&self, column: usize) -> f64 {
        self.upper[column]
    }

    /// The lower bound in force.
    #[must_use]
    pub fn lower(&self, column: usize) -> f64 {
        self.lower[column]
    }

    /// Lowers (or raises) the upper bound of a column. [`Self::restore`] makes the basis feasible again.
    pub fn set_upper(&mut self, column: usize, upper: f64) {
        self.upper[column] = upper;
    }

    /// Raises (or lowers) the lower bound of a column. [`Self::restore`] makes the basis feasible again.
    pub fn set_lower(&mut self, column: usize, lower: f64) {
        self.lower[column] = lower;
    }

    /// Holds a column to its present value.
    pub fn fix(&mut self, column: usize) {
        self.lower[column] = self.x[column];
        self.upper[column] = self.x[column];
    }

    /// Lets a column that stands at a lower bound of nothing, or a basic one, fall instead: from here on it lies between
    /// `−by` and nothing, and it is free to move again.
    pub fn fall_behind(&mut self, column: usize, by: f64) {
        self.lower[column] = -by;
        self.upper[column] = self.x[column].max(0.0);
        self.frozen[column] = false;
        if self.place[column] == Place::AtLower {
            self.place[column] = Place::AtUpper;
        }
    }

    fn refactor(&mut self) {
        self.factorise();
        self.refresh();
    }

    /// Factors of the basis; a dependent column gives way to a sink.
    fn factorise(&mut self) {
        let replaced = self.factor.factorise(self.program, &self.basis);
        for (position, row) in replaced {
            let column = self.basis[position] as usize;
            self.place[column] = Place::AtLower;
            self.x[column] = self.lower[column];
            let sink = self.program.sinks[row];
            self.basis[position] = sink;
            self.place[sink as usize] = Place::Basic(position as u32);
        }
    }

    /// Basic values from the nonbasic ones: `B·x_B = −N·x_N`.
    fn refresh(&mut self) {
        self.image.clear();
        for column in 0..self.place.len() {
            if !matches!(self.place[column], Place::Basic(_)) && self.x[column] != 0.0 {
                for (row, value) in self.program.column(column) {
                    self.image.add(row, -value * self.x[column]);
                }
            }
        }
        self.factor.forward(&mut self.image);
        for (position, &column) in self.basis.iter().enumerate() {
            self.x[column as usize] = self.image.get(position);
        }
        self.image.clear();
    }

    fn load_image(&mut self, column: usize) {
        self.image.clear();
        for (row, value) in self.program.column(column) {
            self.image.set(row, value);
        }
        self.factor.forward(&mut self.image);
    }

    /// Minimises `cost` (one per column) over the present face and freezes what it decides.
    ///
    /// # Errors
    /// [`Halt`] from the budget.
    pub fn minimise(&mut self, cost: &[f64], budget: &Budget<'_>) -> Result<Ended, Halt> {
        self.price(|column| cost[column]);
        let mut standing_still = 0_usize;
        let patience = 64 + self.basis.len() / 2;
        let mut fresh = true;
        loop {
            let bland = standing_still > patience;
            let Some(column) = self.entering(bland) else {
                if fresh {
                    break;
                }
                // Updated reduced costs drift; only fresh ones may say that this is the end.
                self.price(|column| cost[column]);
                fresh = true;
                continue;
            };
            self.steps += 1;
            budget.check(self.steps)?;
            let upward = self.place[column] == Place::AtLower;
            self.load_image(column);
            let (block, step) = self.ratio_test(column, upward, bland);
            standing_still = if step > BOUND_TOLERANCE { 0 } else { standing_still + 1 };
            match block {
                Block::None => {
                    self.image.clear();
                    return Ok(Ended::Unbounded { column });
                }
                Block::Flip => self.move_along(column, upward, step),
                Block::Leaves { position, to_upper } => {
                    self.update_reduced(column, position);
                    fresh = false;
                    let leaving = self.basis[position] as usize;
                    if self.exchange(column, upward, step, position, to_upper) {
                        self.price(|column| cost[column]);
                        fresh = true;
                    } else {
                        self.list(leaving);
                    }
                }
            }
            self.image.clear();
        }
        for column in 0..self.place.len() {
            if !matches!(self.place[column], Place::Basic(_)) && self.reduced[column].abs() > COST_TOLERANCE {
                self.frozen[column] = true;
            }
        }
        Ok(Ended::Optimal)
    }

    /// Keeps a column at its present bound from now on.
    pub fn freeze(&mut self, column: usize) {
        self.frozen[column] = true;
    }
}
