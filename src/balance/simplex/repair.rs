//! A basis made feasible again after bounds moved.

use super::pivot::Block;
use super::{BOUND_TOLERANCE, LEAST_PIVOT, Place, Simplex};
use crate::budget::{Budget, Halt};

impl Simplex<'_> {
    /// Makes the basis feasible again after bounds moved, keeping what is frozen. False where it cannot be done.
    ///
    /// # Errors
    /// [`Halt`] from the budget.
    pub fn restore(&mut self, budget: &Budget<'_>) -> Result<bool, Halt> {
        self.place_nonbasic();
        self.refresh();
        self.repair(budget)
    }

    pub(super) fn place_nonbasic(&mut self) {
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

    /// On which side of its bounds a basic column strays: −1 below, +1 above, 0 inside.
    pub(super) fn stray(&self, column: usize) -> f64 {
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
    pub(super) fn repair(&mut self, budget: &Budget<'_>) -> Result<bool, Halt> {
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
    pub(super) fn find_strays(&self, cost: &mut [f64]) -> usize {
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
    pub(super) fn recost(&mut self, cost: &mut [f64], strays: &mut usize) {
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

    /// The ratio test while some columns stray: a stray column blocks where it comes home, the others as ever.
    pub(super) fn ratio_test_astray(&self, column: usize, upward: bool, stray: &[f64]) -> (Block, f64) {
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
}
