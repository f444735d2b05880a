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
mod program;

use crate::budget::{Budget, Halt};
use factor::Factor;
pub use program::{Program, Rows};

/// Reduced costs nearer to zero than this are zero. Costs and columns are scaled near one.
const COST_TOLERANCE: f64 = 1e-9;
/// A basic column may stray this far past a bound within a ratio test.
const BOUND_TOLERANCE: f64 = 1e-10;
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
    image: Vec<f64>,
    prices: Vec<f64>,
    pivot_row: Vec<f64>,
    touched: Vec<u32>,
    /// Pivots and bound flips so far.
    pub steps: u64,
}

/// The outcome of a ratio test.
enum Block {
    None,
    /// The entering column reaches its other bound.
    Flip,
    /// A basic column reaches a bound.
    Leaves {
        position: usize,
        to_upper: bool,
    },
}

impl<'p> Simplex<'p> {
    /// Starts with nothing running: every column at its lower bound, every row closed by its sink. Where all lower bounds
    /// are zero that is feasible.
    #[must_use]
    pub fn new(program: &'p Program) -> Self {
        let columns = program.columns();
        let rows = program.rows();
        let mut simplex = Self {
            program,
            rows: program.by_rows(),
            lower: program.lower.clone(),
            upper: program.upper.clone(),
            place: vec![Place::AtLower; columns],
            frozen: vec![false; columns],
            basis: program.sinks.clone(),
            x: program.lower.clone(),
            factor: Factor::default(),
            reduced: vec![0.0; columns],
            image: vec![0.0; rows],
            prices: vec![0.0; rows],
            pivot_row: vec![0.0; columns],
            touched: Vec::new(),
            steps: 0,
        };
        simplex.install();
        simplex
    }

    /// Replaces the basis by a guess: these columns basic (one per row; a dependent one gives way to a sink), those at
    /// their upper bounds, the rest at their lower. The guess need not be feasible.
    pub fn start_from(&mut self, basis: Vec<u32>, at_upper: &[usize]) {
        debug_assert_eq!(basis.len(), self.program.rows());
        self.place.fill(Place::AtLower);
        self.frozen.fill(false);
        for &column in at_upper {
            self.place[column] = Place::AtUpper;
        }
        self.basis = basis;
        self.install();
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
        let response = (0..self.basis.len())
            .filter(|&position| self.image[position].abs() > LEAST_PIVOT * 1e-3)
            .map(|position| (self.basis[position] as usize, -self.image[position]))
            .collect();
        self.image.fill(0.0);
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

    /// Makes the basis feasible again after bounds moved, keeping what is frozen. False where it cannot be done.
    ///
    /// # Errors
    /// [`Halt`] from the budget.
    pub fn restore(&mut self, budget: &Budget<'_>) -> Result<bool, Halt> {
        self.place_nonbasic();
        self.refresh();
        self.repair(budget)
    }

    fn install(&mut self) {
        for position in 0..self.basis.len() {
            self.place[self.basis[position] as usize] = Place::Basic(position as u32);
        }
        self.place_nonbasic();
        self.refactor();
    }

    fn place_nonbasic(&mut self) {
        for column in 0..self.place.len() {
            match self.place[column] {
                Place::Basic(_) => {}
                Place::AtUpper if self.upper[column].is_finite() => self.x[column] = self.upper[column],
                Place::AtUpper | Place::AtLower => {
                    self.place[column] = Place::AtLower;
                    self.x[column] = self.lower[column];
                }
            }
        }
    }

    fn refactor(&mut self) {
        let replaced = self.factor.factorise(self.program, &self.basis);
        for (position, row) in replaced {
            let column = self.basis[position] as usize;
            self.place[column] = Place::AtLower;
            self.x[column] = self.lower[column];
            let sink = self.program.sinks[row];
            self.basis[position] = sink;
            self.place[sink as usize] = Place::Basic(position as u32);
        }
        self.refresh();
    }

    /// Basic values from the nonbasic ones: B·x_B = −N·x_N.
    fn refresh(&mut self) {
        let mut vector = std::mem::take(&mut self.image);
        vector.fill(0.0);
        for column in 0..self.place.len() {
            if !matches!(self.place[column], Place::Basic(_)) && self.x[column] != 0.0 {
                for (row, value) in self.program.column(column) {
                    vector[row] -= value * self.x[column];
                }
            }
        }
        self.factor.forward(&mut vector);
        for (position, value) in vector.iter_mut().enumerate() {
            self.x[self.basis[position] as usize] = std::mem::take(value);
        }
        self.image = vector;
    }

    fn load_image(&mut self, column: usize) {
        self.image.fill(0.0);
        for (row, value) in self.program.column(column) {
            self.image[row] = value;
        }
        self.factor.forward(&mut self.image);
    }

    /// Prices y with yᵀ·B = c_B and reduced costs d = c − yᵀ·A.
    fn price(&mut self, cost: impl Fn(usize) -> f64) {
        for position in 0..self.basis.len() {
            self.prices[position] = cost(self.basis[position] as usize);
        }
        self.factor.backward(&mut self.prices);
        for column in 0..self.place.len() {
            self.reduced[column] = if matches!(self.place[column], Place::Basic(_)) {
                0.0
            } else {
                let used: f64 = self.program.column(column).map(|(row, value)| value * self.prices[row]).sum();
                cost(column) - used
            };
        }
    }

    /// The nonbasic column that improves most, or under Bland's rule the first that improves.
    fn entering(&self, bland: bool) -> Option<usize> {
        let mut best = None;
        let mut most = COST_TOLERANCE;
        for column in 0..self.place.len() {
            let gain = match self.place[column] {
                Place::Basic(_) => continue,
                Place::AtLower => -self.reduced[column],
                Place::AtUpper => self.reduced[column],
            };
            if gain > most && !self.frozen[column] && self.upper[column] > self.lower[column] {
                best = Some(column);
                if bland {
                    break;
                }
                most = gain;
            }
        }
        best
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
                self.refactor();
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
                    self.image.fill(0.0);
                    return Ok(Ended::Unbounded { column });
                }
                Block::Flip => self.move_along(column, upward, step),
                Block::Leaves { position, to_upper } => {
                    self.update_reduced(column, position);
                    fresh = false;
                    if self.exchange(column, upward, step, position, to_upper) {
                        self.price(|column| cost[column]);
                        fresh = true;
                    }
                }
            }
            self.image.fill(0.0);
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

    /// Drives basic columns that stand outside their bounds back inside, by the sum of what they stray. Frozen columns stay.
    /// False where it cannot be done.
    fn repair(&mut self, budget: &Budget<'_>) -> Result<bool, Halt> {
        let tolerance = BOUND_TOLERANCE * 10.0;
        let mut standing_still = 0_usize;
        let patience = 64 + self.basis.len() / 2;
        loop {
            let strays = |x: f64, column: usize| {
                let room = tolerance * (1.0 + x.abs());
                if x < self.lower[column] - room {
                    -1.0
                } else if x > self.upper[column] + room {
                    1.0
                } else {
                    0.0
                }
            };
            let cost: Vec<f64> = (0..self.place.len())
                .map(|column| match self.place[column] {
                    Place::Basic(_) => strays(self.x[column], column),
                    _ => 0.0,
                })
                .collect();
            if cost.iter().all(|&c| c == 0.0) {
                return Ok(true);
            }
            self.price(|column| cost[column]);
            let bland = standing_still > patience;
            let Some(column) = self.entering(bland) else { return Ok(false) };
            self.steps += 1;
            budget.check(self.steps)?;
            let upward = self.place[column] == Place::AtLower;
            self.load_image(column);
            let (block, step) = self.ratio_test_astray(column, upward, &cost);
            standing_still = if step > BOUND_TOLERANCE { 0 } else { standing_still + 1 };
            match block {
                Block::None => {
                    self.image.fill(0.0);
                    return Ok(false);
                }
                Block::Flip => self.move_along(column, upward, step),
                Block::Leaves { position, to_upper } => {
                    self.exchange(column, upward, step, position, to_upper);
                }
            }
            self.image.fill(0.0);
        }
    }

    /// How far `column` can move before something blocks it (P. M. J. Harris, Math. Prog. 5, 1973: among the blocks within
    /// tolerance the largest pivot).
    fn ratio_test(&self, column: usize, upward: bool, bland: bool) -> (Block, f64) {
        let sign = if upward { 1.0 } else { -1.0 };
        let slack = if bland { 0.0 } else { BOUND_TOLERANCE };
        let mut reach = f64::INFINITY;
        for (position, &entry) in self.image.iter().enumerate() {
            if entry.abs() > LEAST_PIVOT {
                reach = reach.min(self.room(position, sign * entry, slack));
            }
        }
        let mut block = Block::None;
        let mut step = f64::INFINITY;
        if reach.is_finite() {
            let mut largest = 0.0_f64;
            let mut first = u32::MAX;
            for (position, &entry) in self.image.iter().enumerate() {
                if entry.abs() <= LEAST_PIVOT {
                    continue;
                }
                let exact = self.room(position, sign * entry, 0.0);
                let better = if bland { self.basis[position] < first } else { entry.abs() > largest };
                if exact <= reach && better {
                    largest = entry.abs();
                    first = self.basis[position];
                    block = Block::Leaves { position, to_upper: sign * entry < 0.0 };
                    step = exact.max(0.0);
                }
            }
        }
        let width = self.upper[column] - self.lower[column];
        if width <= step && width.is_finite() { (Block::Flip, width) } else { (block, step) }
    }

    /// The step at which the basic column at `position`, falling by `fall` per step, reaches a bound widened by `slack`.
    fn room(&self, position: usize, fall: f64, slack: f64) -> f64 {
        let column = self.basis[position] as usize;
        let x = self.x[column];
        if fall > 0.0 { (x - self.lower[column] + slack) / fall } else { (self.upper[column] - x + slack) / -fall }
    }

    /// The ratio test while some columns stray: a stray column blocks where it comes home, the others as ever.
    fn ratio_test_astray(&self, column: usize, upward: bool, stray: &[f64]) -> (Block, f64) {
        let sign = if upward { 1.0 } else { -1.0 };
        let mut block = Block::None;
        let mut step = f64::INFINITY;
        let mut largest = 0.0_f64;
        for (position, &entry) in self.image.iter().enumerate() {
            if entry.abs() <= LEAST_PIVOT {
                continue;
            }
            let fall = sign * entry;
            let basic = self.basis[position] as usize;
            let (room, to_upper) = if stray[basic] == 0.0 {
                (self.room(position, fall, 0.0).max(0.0), fall < 0.0)
            } else if stray[basic] > 0.0 && fall > 0.0 {
                ((self.x[basic] - self.upper[basic]) / fall, true)
            } else if stray[basic] < 0.0 && fall < 0.0 {
                ((self.lower[basic] - self.x[basic]) / -fall, false)
            } else {
                continue;
            };
            let near = BOUND_TOLERANCE * (1.0 + step.min(1e6));
            if room < step - near || (room <= step + near && entry.abs() > largest) {
                step = room.min(step + near);
                largest = entry.abs();
                block = Block::Leaves { position, to_upper };
            }
        }
        let width = self.upper[column] - self.lower[column];
        if width <= step && width.is_finite() { (Block::Flip, width) } else { (block, step) }
    }

    /// Moves the entering column and, by `image`, the basic ones.
    fn move_along(&mut self, column: usize, upward: bool, step: f64) {
        let signed = if upward { step } else { -step };
        if signed != 0.0 {
            for (position, &entry) in self.image.iter().enumerate() {
                if entry != 0.0 {
                    self.x[self.basis[position] as usize] -= signed * entry;
                }
            }
            self.x[column] += signed;
        }
        if upward && step >= self.upper[column] - self.lower[column] {
            self.place[column] = Place::AtUpper;
            self.x[column] = self.upper[column];
        } else if !upward && step >= self.upper[column] - self.lower[column] {
            self.place[column] = Place::AtLower;
            self.x[column] = self.lower[column];
        }
    }

    /// Exchanges the basic column at `position` for `column`. True where the basis was factorised afresh.
    fn exchange(&mut self, column: usize, upward: bool, step: f64, position: usize, to_upper: bool) -> bool {
        self.move_along(column, upward, step);
        let leaving = self.basis[position] as usize;
        if to_upper {
            self.place[leaving] = Place::AtUpper;
            self.x[leaving] = self.upper[leaving];
        } else {
            self.place[leaving] = Place::AtLower;
            self.x[leaving] = self.lower[leaving];
        }
        self.basis[position] = column as u32;
        self.place[column] = Place::Basic(position as u32);
        self.factor.exchange(position, &self.image);
        let heavy = self.factor.exchange_entries() > 4 * (self.program.entries() + self.basis.len());
        if self.factor.exchanged() >= MOST_EXCHANGES || heavy {
            self.refactor();
            return true;
        }
        false
    }

    /// Reduced costs after `column` takes the place of the basic column at `position`.
    fn update_reduced(&mut self, column: usize, position: usize) {
        self.prices.fill(0.0);
        self.prices[position] = 1.0;
        self.factor.backward(&mut self.prices);
        for row in 0..self.prices.len() {
            let weight = self.prices[row];
            if weight.abs() > 1e-14 {
                for (other, value) in self.rows.row(row) {
                    if self.pivot_row[other] == 0.0 {
                        self.touched.push(other as u32);
                    }
                    self.pivot_row[other] += weight * value;
                }
            }
        }
        let leaving = self.basis[position] as usize;
        let ratio = self.reduced[column] / self.image[position];
        for &other in &self.touched {
            let entry = std::mem::take(&mut self.pivot_row[other as usize]);
            if !matches!(self.place[other as usize], Place::Basic(_)) {
                self.reduced[other as usize] -= ratio * entry;
            }
        }
        self.touched.clear();
        self.reduced[column] = 0.0;
        self.reduced[leaving] = -ratio;
    }
}
