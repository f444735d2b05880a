//! LU factors of a basis: sparse, left-looking, with the triangular part found first.
//!
//! Source of the method: J. R. Gilbert and T. Peierls, "Sparse partial pivoting in time proportional to arithmetic
//! operations", SIAM J. Sci. Stat. Comput. 9 (1988); product-form updates after G. B. Dantzig and W. Orchard-Hays (1954).

use super::program::Program;
use super::sparse::Sparse;

const NONE: u32 = u32::MAX;
/// The least pivot that is taken; entries are scaled near one.
const LEAST_PIVOT: f64 = 1e-9;
/// A pivot may be this much smaller than the largest of its column if that keeps the factors sparse.
const THRESHOLD: f64 = 0.1;

/// Columns stored one after the other.
#[derive(Clone, Debug, Default)]
struct Packed {
    starts: Vec<usize>,
    index: Vec<u32>,
    value: Vec<f64>,
}

impl Packed {
    fn clear(&mut self) {
        self.starts.clear();
        self.starts.push(0);
        self.index.clear();
        self.value.clear();
    }

    /// As [`Self::clear`], with room for so many columns of so many entries together.
    fn clear_for(&mut self, columns: usize, entries: usize) {
        self.clear();
        self.starts.reserve(columns);
        self.index.reserve(entries);
        self.value.reserve(entries);
    }

    fn push(&mut self, index: u32, value: f64) {
        self.index.push(index);
        self.value.push(value);
    }

    fn close(&mut self) {
        self.starts.push(self.index.len());
    }

    fn get(&self, at: usize) -> impl Iterator<Item = (usize, f64)> + '_ {
        let range = self.starts[at]..self.starts[at + 1];
        self.index[range.clone()].iter().zip(&self.value[range]).map(|(&index, &value)| (index as usize, value))
    }

    fn transpose_into(&self, size: usize, out: &mut Self) {
        out.starts.clear();
        out.starts.resize(size + 1, 0);
        for &index in &self.index {
            out.starts[index as usize + 1] += 1;
        }
        for at in 0..size {
            out.starts[at + 1] += out.starts[at];
        }
        out.index.clear();
        out.index.resize(self.index.len(), 0);
        out.value.clear();
        out.value.resize(self.value.len(), 0.0);
        let mut next = out.starts.clone();
        for at in 0..self.starts.len().saturating_sub(1) {
            for (index, value) in self.get(at) {
                out.index[next[index]] = u32::try_from(at).unwrap_or(NONE);
                out.value[next[index]] = value;
                next[index] += 1;
            }
        }
    }
}

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

    /// Factorises the basis. A column that depends on the others is replaced by the sink of a row left without a pivot;
    /// the replacements are returned as (position, row).
    pub fn factorise(&mut self, program: &Program, basis: &[u32]) -> Vec<(usize, usize)> {
        let size = basis.len();
        self.size = size;
        self.exchanges.clear();
        self.exchange_position.clear();
        self.exchange_pivot.clear();
        self.lower.clear_for(size, size);
        self.upper.clear_for(size, 2 * size);
        self.diagonal.clear();
        self.diagonal.reserve(size);
        self.pivot_row.clear();
        self.pivot_row.reserve(size);
        self.pivot_position.clear();
        self.pivot_position.reserve(size);
        self.step_of_row.clear();
        self.step_of_row.resize(size, NONE);
        self.step_of_position.clear();
        self.step_of_position.resize(size, NONE);
        self.work.reset(size);
        let mut work = vec![0.0; size];

        let (order, fixed_row) = triangular_order(program, basis);
        let mut row_weight = vec![0_u32; size];
        for &position in &order {
            for (row, _) in program.column(basis[position as usize] as usize) {
                row_weight[row] += 1;
            }
        }
        let mut reach = Reach::new(size);
        let mut left_out = Vec::new();
        for &position in &order {
            let column = basis[position as usize] as usize;
            let fixed = fixed_row[position as usize];
            reach.collect(program, column, &self.step_of_row, &self.lower);
            if !self.eliminate(program.column(column), position, fixed, &row_weight, &reach, &mut work) {
                left_out.push(position as usize);
            }
        }
        let mut replaced = Vec::new();
        if !left_out.is_empty() {
            let mut free_rows = (0..size).filter(|&row| self.step_of_row[row] == NONE).collect::<Vec<_>>().into_iter();
            for position in left_out {
                let Some(row) = free_rows.next() else { break };
                self.take_sink(row, position);
                replaced.push((position, row));
            }
        }
        // L was collected by row; from here on everything is by step.
        for index in &mut self.lower.index {
            *index = self.step_of_row[*index as usize];
        }
        self.lower.transpose_into(size, &mut self.lower_rows);
        self.upper.transpose_into(size, &mut self.upper_rows);
        replaced
    }

    /// Left-looking elimination of one column. False where no entry can serve as a pivot.
    fn eliminate(
        &mut self,
        column: impl Iterator<Item = (usize, f64)>,
        position: u32,
        fixed_row: u32,
        row_weight: &[u32],
        reach: &Reach,
        work: &mut [f64],
    ) -> bool {
        for (row, value) in column {
            work[row] = value;
        }
        for at in (0..reach.order.len()).rev() {
            let row = reach.order[at] as usize;
            let value = work[row];
            let step = self.step_of_row[row];
            if step == NONE || value == 0.0 {
                continue;
            }
            let range = self.lower.starts[step as usize]..self.lower.starts[step as usize + 1];
            for entry in range {
                work[self.lower.index[entry] as usize] -= self.lower.value[entry] * value;
            }
        }
        let mut largest = 0.0_f64;
        for &row in &reach.order {
            if self.step_of_row[row as usize] == NONE {
                largest = largest.max(work[row as usize].abs());
            }
        }
        let mut pivot = NONE;
        if largest >= LEAST_PIVOT {
            if fixed_row != NONE && work[fixed_row as usize].abs() >= LEAST_PIVOT {
                pivot = fixed_row;
            } else {
                for &row in &reach.order {
                    let size = work[row as usize].abs();
                    if self.step_of_row[row as usize] == NONE
                        && size >= THRESHOLD * largest
                        && (pivot == NONE || (row_weight[row as usize], row) < (row_weight[pivot as usize], pivot))
                    {
                        pivot = row;
                    }
                }
            }
        }
        if pivot == NONE {
            for &row in &reach.order {
                work[row as usize] = 0.0;
            }
            return false;
        }
        let diagonal = work[pivot as usize];
        for &row in &reach.order {
            let value = std::mem::take(&mut work[row as usize]);
            let step = self.step_of_row[row as usize];
            if value == 0.0 {
            } else if step != NONE {
                self.upper.push(step, value);
            } else if row != pivot {
                self.lower.push(row, value / diagonal);
            }
        }
        self.close_step(pivot, position, diagonal);
        true
    }

    fn close_step(&mut self, row: u32, position: u32, diagonal: f64) {
        self.lower.close();
        self.upper.close();
        self.diagonal.push(diagonal);
        let step = u32::try_from(self.pivot_row.len()).unwrap_or(NONE);
        self.step_of_row[row as usize] = step;
        self.step_of_position[position as usize] = step;
        self.pivot_row.push(row);
        self.pivot_position.push(position);
    }

    /// A sink has −1 in its own row only, and that row has no pivot yet: no elimination reaches it.
    fn take_sink(&mut self, row: usize, position: usize) {
        self.close_step(u32::try_from(row).unwrap_or(NONE), u32::try_from(position).unwrap_or(NONE), -1.0);
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

/// Depth-first search for the rows that an elimination touches, in reverse topological order.
struct Reach {
    order: Vec<u32>,
    mark: Vec<u32>,
    stamp: u32,
    stack: Vec<(u32, usize)>,
}

impl Reach {
    fn new(size: usize) -> Self {
        Self { order: Vec::new(), mark: vec![0; size], stamp: 0, stack: Vec::new() }
    }

    fn collect(&mut self, program: &Program, column: usize, step_of_row: &[u32], lower: &Packed) {
        self.order.clear();
        self.stamp += 1;
        for (row, _) in program.column(column) {
            if self.mark[row] == self.stamp {
                continue;
            }
            self.mark[row] = self.stamp;
            self.stack.push((u32::try_from(row).unwrap_or(NONE), 0));
            while let Some(&mut (row, ref mut next)) = self.stack.last_mut() {
                let step = step_of_row[row as usize];
                let below = if step == NONE {
                    &[][..]
                } else {
                    &lower.index[lower.starts[step as usize]..lower.starts[step as usize + 1]]
                };
                if let Some(&child) = below.get(*next) {
                    *next += 1;
                    if self.mark[child as usize] != self.stamp {
                        self.mark[child as usize] = self.stamp;
                        self.stack.push((child, 0));
                    }
                } else {
                    self.order.push(row);
                    self.stack.pop();
                }
            }
        }
    }
}

/// Orders the basis so that the triangular part needs no elimination: columns with one open row first, then rows with one
/// open column, then the rest by length. For the first two kinds the pivot row is fixed.
fn triangular_order(program: &Program, basis: &[u32]) -> (Vec<u32>, Vec<u32>) {
    let size = basis.len();
    let mut row_columns = Packed::default();
    let mut by_column = Packed::default();
    by_column.clear_for(size, 3 * size);
    for &column in basis {
        for (row, value) in program.column(column as usize) {
            by_column.push(u32::try_from(row).unwrap_or(NONE), value);
        }
        by_column.close();
    }
    by_column.transpose_into(size, &mut row_columns);
    let length = |packed: &Packed, at: usize| packed.starts[at + 1] - packed.starts[at];
    let mut column_open: Vec<usize> = (0..size).map(|position| length(&by_column, position)).collect();
    let mut row_open: Vec<usize> = (0..size).map(|row| length(&row_columns, row)).collect();
    let mut row_done = vec![false; size];
    let mut column_done = vec![false; size];
    let mut fixed = vec![NONE; size];
    let mut order = Vec::with_capacity(size);

    let mut queue: Vec<usize> = (0..size).rev().filter(|&position| column_open[position] == 1).collect();
    while let Some(position) = queue.pop() {
        if column_done[position] || column_open[position] != 1 {
            continue;
        }
        let open = by_column.get(position).find(|&(row, _)| !row_done[row]);
        let Some((row, value)) = open else { continue };
        if value.abs() < LEAST_PIVOT {
            continue;
        }
        column_done[position] = true;
        row_done[row] = true;
        fixed[position] = u32::try_from(row).unwrap_or(NONE);
        order.push(u32::try_from(position).unwrap_or(NONE));
        for (other, _) in row_columns.get(row) {
            row_open[row] -= 1;
            column_open[other] -= 1;
            if !column_done[other] && column_open[other] == 1 {
                queue.push(other);
            }
        }
    }
    // Columns already ordered no longer count for the open rows.
    for (row, open) in row_open.iter_mut().enumerate() {
        *open = row_columns.get(row).filter(|&(position, _)| !column_done[position]).count();
    }
    let mut queue: Vec<usize> = (0..size).rev().filter(|&row| !row_done[row] && row_open[row] == 1).collect();
    while let Some(row) = queue.pop() {
        if row_done[row] || row_open[row] != 1 {
            continue;
        }
        let open = row_columns.get(row).find(|&(position, _)| !column_done[position]);
        let Some((position, value)) = open else { continue };
        let largest = by_column
            .get(position)
            .filter(|&(other, _)| !row_done[other])
            .fold(0.0_f64, |most, (_, entry)| most.max(entry.abs()));
        if value.abs() < LEAST_PIVOT.max(1e-3 * largest) {
            continue;
        }
        row_done[row] = true;
        column_done[position] = true;
        fixed[position] = u32::try_from(row).unwrap_or(NONE);
        order.push(u32::try_from(position).unwrap_or(NONE));
        for (other, _) in by_column.get(position) {
            if !row_done[other] {
                row_open[other] -= 1;
                if row_open[other] == 1 {
                    queue.push(other);
                }
            }
        }
    }
    let mut rest: Vec<usize> = (0..size).filter(|&position| !column_done[position]).collect();
    rest.sort_by_key(|&position| (column_open[position], position));
    order.extend(rest.into_iter().map(|position| u32::try_from(position).unwrap_or(NONE)));
    (order, fixed)
}
