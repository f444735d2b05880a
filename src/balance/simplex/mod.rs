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
mod sparse;

use crate::budget::{Budget, Halt};
use factor::Factor;
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

    /// Makes the basis feasible again after bounds moved, keeping what is frozen. False where it cannot be done.
    ///
    /// # Errors
    /// [`Halt`] from the budget.
    pub fn restore(&mut self, budget: &Budget<'_>) -> Result<bool, Halt> {
        self.place_nonbasic();
        self.refresh();
        self.repair(budget)
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

    /// Prices y with `yᵀ·B = c_B`, reduced costs `d = c − yᵀ·A`, and the columns that may improve.
    fn price(&mut self, cost: impl Fn(usize) -> f64) {
        self.prices.clear();
        let mut free = true;
        for (position, &column) in self.basis.iter().enumerate() {
            let cost = cost(column as usize);
            if cost != 0.0 {
                self.prices.set(position, cost);
                free = false;
            }
        }
        if !free {
            self.factor.backward(&mut self.prices);
        }
        self.candidates.clear();
        self.listed.fill(false);
        for column in 0..self.place.len() {
            self.reduced[column] = if matches!(self.place[column], Place::Basic(_)) {
                0.0
            } else if free {
                // Nothing that stands in the basis costs anything, so no row has a price.
                cost(column)
            } else {
                let (mut net, mut gross) = (cost(column), cost(column).abs());
                for (row, value) in self.program.column(column) {
                    let part = value * self.prices.get(row);
                    net -= part;
                    gross += part.abs();
                }
                if net.abs() <= CANCELLATION * gross { 0.0 } else { net }
            };
            self.list(column);
        }
    }

    /// How much faster than zero the objective falls when a nonbasic column moves off its bound.
    fn gain(&self, column: usize) -> f64 {
        match self.place[column] {
            Place::Basic(_) => 0.0,
            _ if self.frozen[column] || self.upper[column] <= self.lower[column] => 0.0,
            Place::AtLower => -self.reduced[column],
            Place::AtUpper => self.reduced[column],
        }
    }

    /// Lists a column among those that may improve.
    fn list(&mut self, column: usize) {
        if !self.listed[column] && self.gain(column) > COST_TOLERANCE {
            self.listed[column] = true;
            self.candidates.push(column as u32);
        }
    }

    /// The nonbasic column that improves most, or under Bland's rule the first that improves.
    fn entering(&mut self, bland: bool) -> Option<usize> {
        let mut best: Option<(f64, usize)> = None;
        let mut kept = 0;
        for at in 0..self.candidates.len() {
            let column = self.candidates[at] as usize;
            let gain = self.gain(column);
            if gain <= COST_TOLERANCE {
                self.listed[column] = false;
                continue;
            }
            self.candidates[kept] = column as u32;
            kept += 1;
            let better =
                best.is_none_or(
                    |(most, first)| {
                        if bland { column < first } else { gain > most || (gain >= most && column < first) }
                    },
                );
            if better {
                best = Some((gain, column));
            }
        }
        self.candidates.truncate(kept);
        best.map(|(_, column)| column)
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

    /// On which side of its bounds a basic column strays: −1 below, +1 above, 0 inside.
    fn stray(&self, column: usize) -> f64 {
        let x = self.x[column];
        let room = 10.0 * BOUND_TOLERANCE * (1.0 + x.abs());
        if x < self.lower[column] - room {
            -1.0
        } else if x > self.upper[column] + room {
            1.0
        } else {
            0.0
        }
    }

    /// Drives basic columns that stand outside their bounds back inside, by the sum of what they stray. Frozen columns stay.
    /// False where it cannot be done.
    fn repair(&mut self, budget: &Budget<'_>) -> Result<bool, Halt> {
        let mut standing_still = 0_usize;
        let patience = 64 + self.basis.len() / 2;
        let mut cost = vec![0.0; self.place.len()];
        let mut strays = self.find_strays(&mut cost);
        if strays == 0 {
            return Ok(true);
        }
        self.price(|column| cost[column]);
        let mut fresh = true;
        loop {
            if strays == 0 && fresh {
                return Ok(true);
            }
            let bland = standing_still > patience;
            let entering = if strays == 0 { None } else { self.entering(bland) };
            let Some(column) = entering else {
                if fresh {
                    return Ok(false);
                }
                // Updated values drift; only fresh ones may say that this is the end.
                self.refresh();
                strays = self.find_strays(&mut cost);
                self.price(|column| cost[column]);
                fresh = true;
                continue;
            };
            self.steps += 1;
            budget.check(self.steps)?;
            let upward = self.place[column] == Place::AtLower;
            self.load_image(column);
            let (block, step) = self.ratio_test_astray(column, upward, &cost);
            standing_still = if step > BOUND_TOLERANCE { 0 } else { standing_still + 1 };
            let mut refactored = false;
            match block {
                Block::None => {
                    self.image.clear();
                    return Ok(false);
                }
                Block::Flip => self.move_along(column, upward, step),
                Block::Leaves { position, to_upper } => {
                    let leaving = self.basis[position] as usize;
                    self.update_reduced(column, position);
                    refactored = self.exchange(column, upward, step, position, to_upper);
                    if cost[leaving] != 0.0 {
                        self.reduced[leaving] -= cost[leaving];
                        cost[leaving] = 0.0;
                        strays -= 1;
                    }
                    self.list(leaving);
                }
            }
            fresh = refactored;
            if refactored {
                self.image.clear();
                strays = self.find_strays(&mut cost);
                self.price(|column| cost[column]);
            } else {
                self.recost(&mut cost, &mut strays);
            }
        }
    }

    /// Writes the side on which each basic column strays, and counts them.
    fn find_strays(&self, cost: &mut [f64]) -> usize {
        cost.fill(0.0);
        let mut strays = 0;
        for &column in &self.basis {
            let side = self.stray(column as usize);
            cost[column as usize] = side;
            strays += usize::from(side != 0.0);
        }
        strays
    }

    /// After a move: basic columns along `image` may have come home (or gone astray), which changes what the others gain.
    fn recost(&mut self, cost: &mut [f64], strays: &mut usize) {
        let mut changed: Vec<(usize, f64)> = Vec::new();
        for (position, _) in self.image.iter() {
            let column = self.basis[position] as usize;
            let side = self.stray(column);
            let before = cost[column];
            if side.to_bits() != before.to_bits() && (side != 0.0 || before != 0.0) {
                cost[column] = side;
                *strays = *strays + usize::from(side != 0.0) - usize::from(before != 0.0);
                changed.push((position, side - before));
            }
        }
        self.image.clear();
        for (position, change) in changed {
            self.load_row(position);
            self.spread_row(change);
        }
    }

    /// How far `column` can move before something blocks it (P. M. J. Harris, Math. Prog. 5, 1973: among the blocks within
    /// tolerance the largest pivot).
    fn ratio_test(&self, column: usize, upward: bool, bland: bool) -> (Block, f64) {
        let sign = if upward { 1.0 } else { -1.0 };
        let slack = if bland { 0.0 } else { BOUND_TOLERANCE };
        let mut reach = f64::INFINITY;
        for (position, entry) in self.image.iter() {
            if entry.abs() > LEAST_PIVOT {
                reach = reach.min(self.room(position, sign * entry, slack));
            }
        }
        let mut block = Block::None;
        let mut step = f64::INFINITY;
        if reach.is_finite() {
            let mut largest = 0.0_f64;
            let mut first = u32::MAX;
            for (position, entry) in self.image.iter() {
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
        for (position, entry) in self.image.iter() {
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
            for (position, entry) in self.image.iter() {
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
        if self.factor.exchanged() >= MOST_EXCHANGES + self.basis.len() / 32 || heavy {
            self.refactor();
            return true;
        }
        false
    }

    /// Reduced costs after `column` takes the place of the basic column at `position`.
    fn update_reduced(&mut self, column: usize, position: usize) {
        self.load_row(position);
        let leaving = self.basis[position] as usize;
        let ratio = self.reduced[column] / self.image.get(position);
        self.spread_row(ratio);
        self.reduced[column] = 0.0;
        self.reduced[leaving] = -ratio;
    }

    /// The row of B⁻¹·A at `position` into `pivot_row`.
    fn load_row(&mut self, position: usize) {
        self.prices.clear();
        self.prices.set(position, 1.0);
        self.factor.backward(&mut self.prices);
        for (row, weight) in self.prices.iter() {
            if weight.abs() > 1e-14 {
                for (other, value) in self.rows.row(row) {
                    self.pivot_row.add(other, weight * value);
                }
            }
        }
    }

    /// Takes `ratio` times `pivot_row` from the reduced costs, leaving the row empty.
    fn spread_row(&mut self, ratio: f64) {
        let mut from = 0;
        while let Some(other) = self.pivot_row.next(from) {
            from = other + 1;
            let entry = self.pivot_row.take(other);
            if !matches!(self.place[other], Place::Basic(_)) {
                self.reduced[other] -= ratio * entry;
                self.list(other);
            }
        }
    }
}
