//! LU factors of a basis: sparse, left-looking, with the triangular part found first.
//!
//! Source of the method: J. R. Gilbert and T. Peierls, "Sparse partial pivoting in time proportional to arithmetic
//! operations", SIAM J. Sci. Stat. Comput. 9 (1988); product-form updates after G. B. Dantzig and W. Orchard-Hays (1954).

mod eliminate;
mod order;
mod packed;
#[cfg(test)]
mod tests;

use super::sparse::Sparse;
use packed::Packed;

const NONE: u32 = u32::MAX;
/// The least pivot that is taken; entries are scaled near one.
const LEAST_PIVOT: f64 = 1e-9;
/// A pivot may be this much smaller than the largest of its column if that keeps the factors sparse.
const THRESHOLD: f64 = 0.1;

/// B = L·U with rows and columns permuted, then a product of column exchanges.
///
/// Vectors over rows are indexed by row; vectors over the basis by position in the basis. Both have length m.
#[derive(Clone, Debug, Default)]
pub struct Factor {
    size: usize,
    /// Step → row and basis position of its pivot.
    pivot_row: Vec<u32>,
    pivot_position: Vec<u32>,
    step_of_row: Vec<u32>,
    step_of_position: Vec<u32>,
    /// L by columns of steps, indexed by steps below; and by rows.
    lower: Packed,
    lower_rows: Packed,
    /// U without its diagonal, by columns of steps, indexed by steps above; and by rows.
    upper: Packed,
    upper_rows: Packed,
    diagonal: Vec<f64>,
    exchanges: Packed,
    exchange_position: Vec<u32>,
    exchange_pivot: Vec<f64>,
    work: Sparse,
}

impl Factor {
    /// Number of exchanges since the last factorisation.
    #[must_use]
    pub fn exchanged(&self) -> usize {
        self.exchange_pivot.len()
    }

    /// Entries held by exchanges: what makes solves slower as they pile up.
    #[must_use]
    pub fn exchange_entries(&self) -> usize {
        self.exchanges.index.len()
    }

    /// Solves B·x = a in place: `vector` comes over rows and leaves over positions.
    pub fn forward(&mut self, vector: &mut Sparse) {
        let mut from = 0;
        while let Some(row) = vector.next(from) {
            from = row + 1;
            let value = vector.take(row);
            self.work.add(self.step_of_row[row] as usize, value);
        }
        let mut from = 0;
        while let Some(step) = self.work.next(from) {
            from = step + 1;
            let value = self.work.get(step);
            if value != 0.0 {
                for (below, factor) in self.lower.get(step) {
                    self.work.add(below, -factor * value);
                }
            }
        }
        let mut from = self.size.checked_sub(1);
        while let Some(step) = from.and_then(|from| self.work.previous(from)) {
            from = step.checked_sub(1);
            let value = self.work.take(step);
            if value != 0.0 {
                let value = value / self.diagonal[step];
                for (above, factor) in self.upper.get(step) {
                    self.work.add(above, -factor * value);
                }
                vector.set(self.pivot_position[step] as usize, value);
            }
        }
        for exchange in 0..self.exchange_pivot.len() {
            let position = self.exchange_position[exchange] as usize;
            if vector.get(position) != 0.0 {
                let value = vector.get(position) / self.exchange_pivot[exchange];
                for (other, factor) in self.exchanges.get(exchange) {
                    vector.add(other, -factor * value);
                }
                vector.set(position, value);
            }
        }
    }

    /// Solves yᵀ·B = cᵀ in place: `vector` comes over positions and leaves over rows.
    pub fn backward(&mut self, vector: &mut Sparse) {
        for exchange in (0..self.exchange_pivot.len()).rev() {
            let position = self.exchange_position[exchange] as usize;
            let mut value = vector.get(position);
            for (other, factor) in self.exchanges.get(exchange) {
                value -= factor * vector.get(other);
            }
            if value != 0.0 || vector.get(position) != 0.0 {
                vector.set(position, value / self.exchange_pivot[exchange]);
            }
        }
        let mut from = 0;
        while let Some(position) = vector.next(from) {
            from = position + 1;
            let value = vector.take(position);
            self.work.add(self.step_of_position[position] as usize, value);
        }
        let mut from = 0;
        while let Some(step) = self.work.next(from) {
            from = step + 1;
            let value = self.work.get(step);
            if value != 0.0 {
                let value = value / self.diagonal[step];
                self.work.set(step, value);
                for (right, factor) in self.upper_rows.get(step) {
                    self.work.add(right, -factor * value);
                }
            }
        }
        let mut from = self.size.checked_sub(1);
        while let Some(step) = from.and_then(|from| self.work.previous(from)) {
            from = step.checked_sub(1);
            let value = self.work.take(step);
            if value != 0.0 {
                for (left, factor) in self.lower_rows.get(step) {
                    self.work.add(left, -factor * value);
                }
                vector.set(self.pivot_row[step] as usize, value);
            }
        }
    }

    /// Records that the column at `position` was exchanged for one whose image B⁻¹·a is `image`.
    pub fn exchange(&mut self, position: usize, image: &Sparse) {
        for (other, value) in image.iter() {
            if value != 0.0 && other != position {
                self.exchanges.push(u32::try_from(other).unwrap_or(NONE), value);
            }
        }
        self.exchanges.close();
        self.exchange_position.push(u32::try_from(position).unwrap_or(NONE));
        self.exchange_pivot.push(image.get(position));
    }
}
