//! Prices of rows and reduced costs of columns: which column may improve the objective.

use super::{CANCELLATION, COST_TOLERANCE, Place, Simplex};

impl Simplex<'_> {
    /// Prices y with `yᵀ·B = c_B`, reduced costs `d = c − yᵀ·A`, and the columns that may improve.
    pub(super) fn price(&mut self, cost: impl Fn(usize) -> f64) {
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
    pub(super) fn gain(&self, column: usize) -> f64 {
        match self.place[column] {
            Place::Basic(_) => 0.0,
            _ if self.frozen[column] || self.upper[column] <= self.lower[column] => 0.0,
            Place::AtLower => -self.reduced[column],
            Place::AtUpper => self.reduced[column],
        }
    }

    /// Lists a column among those that may improve.
    pub(super) fn list(&mut self, column: usize) {
        if !self.listed[column] && self.gain(column) > COST_TOLERANCE {
            self.listed[column] = true;
            self.candidates.push(column as u32);
        }
    }

    /// The nonbasic column that improves most, or under Bland's rule the first that improves.
    pub(super) fn entering(&mut self, bland: bool) -> Option<usize> {
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

    /// Reduced costs after `column` takes the place of the basic column at `position`.
    pub(super) fn update_reduced(&mut self, column: usize, position: usize) {
        self.load_row(position);
        let leaving = self.basis[position] as usize;
        let ratio = self.reduced[column] / self.image.get(position);
        self.spread_row(ratio);
        self.reduced[column] = 0.0;
        self.reduced[leaving] = -ratio;
    }

    /// The row of B⁻¹·A at `position` into `pivot_row`.
    pub(super) fn load_row(&mut self, position: usize) {
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
    pub(super) fn spread_row(&mut self, ratio: f64) {
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
