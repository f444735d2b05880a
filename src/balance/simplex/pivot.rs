//! One pivot: how far a column can move before something blocks it, the move, and the exchange.

use super::{BOUND_TOLERANCE, LEAST_PIVOT, MOST_EXCHANGES, Place, Simplex};

/// The outcome of a ratio test.
pub(super) enum Block {
    None,
    /// The entering column reaches its other bound.
    Flip,
    /// A basic column reaches a bound.
    Leaves {
        position: usize,
        to_upper: bool,
    },
}

impl Simplex<'_> {
    /// How far `column` can move before something blocks it (P. M. J. Harris, Math. Prog. 5, 1973: among the blocks within
    /// tolerance the largest pivot).
    pub(super) fn ratio_test(&self, column: usize, upward: bool, bland: bool) -> (Block, f64) {
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
    pub(super) fn room(&self, position: usize, fall: f64, slack: f64) -> f64 {
        let column = self.basis[position] as usize;
        let x = self.x[column];
        if fall > 0.0 { (x - self.lower[column] + slack) / fall } else { (self.upper[column] - x + slack) / -fall }
    }

    /// Moves the entering column and, by `image`, the basic ones.
    pub(super) fn move_along(&mut self, column: usize, upward: bool, step: f64) {
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
    pub(super) fn exchange(&mut self, column: usize, upward: bool, step: f64, position: usize, to_upper: bool) -> bool {
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
}
