//! A first basis by following the flows: what a person does with pencil and paper.
//!
//! Everything wanted is assumed reached. Each header that this leaves short or in surplus is closed by the first column
//! that can (makers before supplies, takers before outlets), which moves other headers in turn. In a plant whose aim fixes
//! its flows the resulting basis is already the answer, found in one sweep; where the guess is wrong the simplex mends it.

use super::model::Model;
use super::objectives::{Purpose, Stage};
use super::simplex::{Program, Rows};
use crate::plan::Plan;
use std::collections::VecDeque;

/// How often a header may be revisited before the sweep leaves the rest to the simplex.
const MOST_VISITS: u8 = 8;

struct Sweep<'a> {
    program: &'a Program,
    rows: &'a Rows,
    /// Net flow of each row at the present values.
    net: Vec<f64>,
    /// Gross flow seen on each row, to tell a remainder from rounding.
    gross: Vec<f64>,
    x: Vec<f64>,
    /// 0: may close a deficit first; then by rank of supplies. `u32::MAX`: never chosen by the sweep.
    turn: Vec<u32>,
    /// Rows whose surplus would be trapped: a unit has to take it. Surplus with a free way out is left to it.
    traps: Vec<bool>,
    closes: Vec<Option<usize>>,
    used: Vec<bool>,
    full: Vec<bool>,
    visits: Vec<u8>,
    queue: VecDeque<usize>,
}

/// A first basis for `model`, and the columns at their upper bounds. `program` is the scaled programme, `rows` its rows.
#[must_use]
pub fn guess(plan: &Plan, model: &Model, stages: &[Stage], program: &Program, rows: &Rows) -> (Vec<u32>, Vec<usize>) {
    let columns = program.columns();
    let mut turn = vec![u32::MAX; columns];
    for &run in &model.columns.run {
        turn[run] = 0;
    }
    for (at, supply) in plan.supplies.iter().enumerate() {
        turn[model.columns.draw[at]] = supply.rank;
    }
    let mut traps = vec![false; program.rows()];
    for column in model.columns.trapped.iter().flatten() {
        for (row, _) in program.column(*column) {
            traps[row] = true;
        }
    }
    let mut sweep = Sweep {
        program,
        rows,
        net: vec![0.0; program.rows()],
        gross: vec![0.0; program.rows()],
        x: vec![0.0; columns],
        turn,
        traps,
        closes: vec![None; program.rows()],
        used: vec![false; columns],
        full: vec![false; columns],
        visits: vec![0; program.rows()],
        queue: VecDeque::new(),
    };
    for stage in stages {
        if matches!(stage.purpose, Purpose::Shortfall(_) | Purpose::Lost) {
            for &(column, _) in &stage.costs {
                sweep.fill(column);
            }
        }
    }
    sweep.run();
    let basis =
        (0..program.rows()).map(|row| sweep.closes[row].map_or(program.sinks[row], |column| column as u32)).collect();
    let at_upper: Vec<usize> = (0..columns).filter(|&column| sweep.full[column]).collect();
    (basis, at_upper)
}

impl Sweep<'_> {
    /// Sets a column to its upper bound, for good.
    fn fill(&mut self, column: usize) {
        let upper = self.program.upper[column];
        if upper.is_finite() && upper > 0.0 && !self.used[column] {
            self.used[column] = true;
            self.full[column] = true;
            self.add(column, upper);
        }
    }

    fn add(&mut self, column: usize, amount: f64) {
        self.x[column] += amount;
        for (row, entry) in self.program.column(column) {
            self.net[row] += entry * amount;
            self.gross[row] += (entry * amount).abs();
            self.queue.push_back(row);
        }
    }

    fn run(&mut self) {
        while let Some(row) = self.queue.pop_front() {
            if self.net[row].abs() <= 1e-9 * self.gross[row] || self.visits[row] >= MOST_VISITS {
                continue;
            }
            self.visits[row] += 1;
            if let Some(column) = self.closes[row] {
                self.follow(row, column);
            } else {
                self.close(row);
            }
        }
    }

    /// A closed row that moved again moves its column along, as far as that goes.
    fn follow(&mut self, row: usize, column: usize) {
        if let Some((_, entry)) = self.program.column(column).find(|&(other, _)| other == row) {
            let amount = (-self.net[row] / entry).max(-self.x[column]);
            self.add(column, amount);
        }
    }

    fn close(&mut self, row: usize) {
        loop {
            let short = self.net[row] < 0.0;
            let mut best: Option<(u32, usize, f64)> = None;
            for (column, entry) in self.rows.row(row) {
                let fits = if short { entry > 0.0 } else { entry < 0.0 && self.turn[column] == 0 };
                if !fits || self.used[column] || self.turn[column] == u32::MAX || self.program.upper[column] <= 0.0 {
                    continue;
                }
                if best.is_none_or(|(turn, ..)| self.turn[column] < turn) {
                    best = Some((self.turn[column], column, entry));
                }
            }
            let Some((_, column, entry)) = best else { return };
            if !short && !self.traps[row] {
                return;
            }
            let needed = -self.net[row] / entry;
            self.used[column] = true;
            if needed >= self.program.upper[column] {
                self.full[column] = true;
                self.add(column, self.program.upper[column]);
                if self.net[row].abs() <= 1e-9 * self.gross[row] {
                    return;
                }
            } else {
                self.closes[row] = Some(column);
                self.add(column, needed);
                return;
            }
        }
    }
}
