//! A cell as a linear programme, and its vertex as amounts again.

use super::shares::Shares;
use super::{AT_BOUND, Cell};
use crate::balance::simplex::{Program, Simplex};

/// The programme of a cell, and what its columns are measured in.
pub(super) struct Posed {
    pub program: Program,
    pub factor: Vec<f64>,
    /// What one of each member's column is, in the flow's own measure.
    pub measure: Vec<f64>,
    /// (header, measure, into, out of) by row.
    pub stored: Vec<(usize, f64, usize, Option<usize>)>,
    /// By group that is shared.
    pub shares: Vec<Shares>,
}

impl Posed {
    /// At a basis for the first of the rows, the others closed by their sinks. Without one it is at rest, which is feasible.
    pub fn simplex(&self, basis: &[u32], at_upper: &[usize], steps: u64) -> Simplex<'_> {
        let basis = [basis, &self.program.sinks[basis.len()..]].concat();
        let mut simplex = Simplex::new(&self.program, self.program.by_rows(), basis, at_upper);
        simplex.steps = steps;
        simplex
    }
}

impl Cell<'_> {
    /// The rows and columns; members of `sharing` groups have a row more.
    pub(super) fn pose(&self, headers: &[usize], sharing: &[Vec<usize>]) -> Posed {
        let row_of = |header: usize| headers.binary_search(&header).ok();
        let mut greatest = vec![0.0_f64; headers.len()];
        for &at in self.members {
            for &(header, rate) in &self.flows[at].on {
                if let (Some(row), true) = (row_of(header), self.upper[at].is_finite()) {
                    greatest[row] = greatest[row].max((rate * self.upper[at]).abs());
                }
            }
        }
        greatest.iter_mut().filter(|most| **most <= 0.0).for_each(|most| *most = 1.0);
        let mut line_row = vec![None; headers.len()];
        let mut rows = headers.len();
        for (row, &header) in headers.iter().enumerate() {
            if self.storage[header].lines.is_some() {
                line_row[row] = Some(rows);
                rows += 1;
            }
        }
        let mut share_row = vec![None; self.members.len()];
        let mut next = rows;
        for &member in sharing.iter().flatten() {
            share_row[member] = Some(next as u32);
            next += 1;
        }
        let mut program = Program::new(next);
        let mut measure = Vec::with_capacity(self.members.len());
        let mut entries: Vec<(u32, f64)> = Vec::new();
        for (member, &at) in self.members.iter().enumerate() {
            let flow = &self.flows[at];
            let one = if self.upper[at].is_finite() {
                self.upper[at]
            } else {
                // A tap or a way out: on one header, at one each.
                flow.on.first().and_then(|&(header, _)| row_of(header)).map_or(1.0, |row| greatest[row])
            };
            entries.clear();
            for &(header, rate) in &flow.on {
                let Some(row) = row_of(header) else { continue };
                let value = rate * one / greatest[row];
                if value != 0.0 {
                    entries.push((row as u32, value));
                    if let (Some(line), true) = (line_row[row], value > 0.0) {
                        entries.push((line as u32, value));
                    }
                }
            }
            entries.extend(share_row[member].map(|row| (row, 1.0)));
            entries.sort_unstable_by_key(|&(row, _)| row);
            let upper = if self.upper[at].is_finite() {
                self.asks[at].min(if one > 0.0 { 1.0 } else { 0.0 })
            } else {
                f64::INFINITY
            };
            program.add(&entries, 0.0, upper);
            measure.push(one);
        }
        let mut stored = Vec::with_capacity(headers.len());
        for (row, &header) in headers.iter().enumerate() {
            let storage = &self.storage[header];
            let into = program.add_sink(row as u32, storage.takes / greatest[row]);
            let out = storage.gives.then(|| program.add(&[(row as u32, 1.0)], 0.0, f64::INFINITY));
            stored.push((header, greatest[row], into, out));
        }
        for (row, &line) in line_row.iter().enumerate() {
            if let (Some(line), Some(carries)) = (line, self.storage[headers[row]].lines) {
                program.add_sink(line as u32, carries / greatest[row]);
            }
        }
        let shares = sharing.iter().map(|group| Shares::add(&mut program, group, &share_row)).collect();
        let (_, factor) = program.scale();
        Posed { program, factor, measure, stored, shares }
    }

    /// How much of each member there is at a vertex.
    pub(super) fn read(&self, posed: &Posed, simplex: &Simplex<'_>) -> Vec<f64> {
        (0..self.members.len())
            .map(|member| {
                let share = posed.factor[member] * simplex.value(member);
                let upper = posed.program.upper[member] * posed.factor[member];
                let share = if share < AT_BOUND {
                    0.0
                } else if share > upper - AT_BOUND {
                    upper
                } else {
                    share
                };
                share * posed.measure[member]
            })
            .collect()
    }
}
