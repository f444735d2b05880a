//! The elimination: left-looking, column by column, over the rows that each one reaches.

use super::order::triangular_order;
use super::packed::Packed;
use super::{Factor, LEAST_PIVOT, NONE, THRESHOLD};
use crate::balance::simplex::program::Program;

impl Factor {
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
