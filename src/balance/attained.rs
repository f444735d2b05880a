//! What a pass attains, objective by objective, so that two of them can be held against each other in the strict order.

use super::model::{IDLE_RANK, Setting, Wanted, must_stand};
use super::objectives::{Purpose, stages};
use super::pass::Pass;
use crate::plan::{Carried, Count, Plan};
use std::cmp::Ordering;

/// Figures nearer than this, relative to their terms, are one figure.
const ALIKE: f64 = 1e-9;
/// What stays on a row may be rounding up to this share of what passes through it, and to this share of the greatest flow of its kind.
const NOISE: [f64; 2] = [1e-10, 1e-12];

/// One figure; less is better.
#[derive(Clone, Copy, Debug)]
struct Figure {
    value: f64,
    /// What of it may be rounding.
    room: f64,
}

/// The figures of a pass, first objective first.
///
/// Of each rank there are the shares by which things fall short, the greatest first: of two such lists the one with the lesser
/// first difference is better, which is what cutting equals in proportion comes to where there is no choice of machines. Of
/// every other objective there is one figure, and of the machines their whole number.
#[derive(Clone, Debug)]
pub struct Attained {
    figures: Vec<Figure>,
    /// Figures that come before what is drawn on supplies.
    outcome: usize,
}

impl Attained {
    /// The figures of `pass`, solved under `setting`. All passes of one plan have as many, in the same order.
    #[must_use]
    pub fn of(plan: &Plan, setting: &Setting, pass: &Pass) -> Self {
        let stages = stages(plan, &pass.model);
        let mut figures = lacking_idle(plan, pass);
        let mut outcome = None;
        let noise = noise(plan, pass);
        let items = &pass.model.items;
        for stage in &stages {
            if matches!(stage.purpose, Purpose::Draw(_) | Purpose::Machines) {
                outcome.get_or_insert(figures.len());
            }
            match stage.purpose {
                // What machines that must stand lack is reckoned above, in what must stand and not in what does.
                Purpose::Shortfall(IDLE_RANK) | Purpose::Idle => {}
                Purpose::Shortfall(rank) => {
                    let from = figures.len();
                    figures.extend(items.iter().filter(|item| item.rank == rank).map(|item| {
                        let lacks = (1.0 - pass.x[item.column] / item.wanted).max(0.0);
                        Figure { value: lacks, room: ALIKE }
                    }));
                    figures[from..].sort_by(|one, other| other.value.total_cmp(&one.value));
                }
                Purpose::Machines => {
                    let sized = |at: &usize| matches!(plan.units[*at].count, Count::Sized { .. });
                    let machines = (0..plan.units.len()).filter(sized);
                    let machines = machines.map(|at| f64::from(pass.counts[at].max(setting.standing[at].unwrap_or(0))));
                    figures.push(Figure { value: machines.sum(), room: 0.5 });
                }
                _ => {
                    let mut figure = Figure { value: 0.0, room: 0.0 };
                    for &(column, cost) in &stage.costs {
                        let term = cost * pass.x[column];
                        let rows = pass.model.program.column(column);
                        let noise = rows.map(|(row, entry)| noise[row] / entry.abs()).fold(0.0, f64::max);
                        figure.value += term;
                        figure.room += (ALIKE * term.abs()).max(cost.abs() * noise);
                    }
                    figures.push(figure);
                }
            }
        }
        let outcome = outcome.unwrap_or(figures.len());
        Self { figures, outcome }
    }

    /// Whether these are better than those.
    #[must_use]
    pub fn is_better_than(&self, other: &Self) -> bool {
        self.compare(other, usize::MAX) == Ordering::Less
    }

    /// Whether in what is reached, trapped, lost and earned these stay behind those.
    #[must_use]
    pub fn stays_behind(&self, other: &Self) -> bool {
        self.compare(other, self.outcome.min(other.outcome)) == Ordering::Greater
    }

    fn compare(&self, other: &Self, figures: usize) -> Ordering {
        let pairs = self.figures.iter().zip(&other.figures).take(figures);
        for (one, other) in pairs {
            if (one.value - other.value).abs() > one.room.max(other.room) {
                return one.value.total_cmp(&other.value);
            }
        }
        Ordering::Equal
    }
}

/// Shares of the idle draw that machines lack that must stand, the greatest first.
fn lacking_idle(plan: &Plan, pass: &Pass) -> Vec<Figure> {
    let mut lacks = vec![0.0; plan.units.len()];
    for item in &pass.model.items {
        if let Wanted::Idle(unit) = item.what {
            lacks[unit.0] = item.wanted - pass.x[item.column];
        }
    }
    let must = plan.units.iter().map(must_stand);
    let mut figures: Vec<Figure> = plan
        .units
        .iter()
        .zip(must)
        .zip(lacks)
        .filter(|((unit, must), _)| unit.idle_draw.si() > 0.0 && *must > 0)
        .map(|((_, must), lacks)| Figure { value: (lacks / f64::from(must)).max(0.0), room: ALIKE })
        .collect();
    figures.sort_by(|one, other| other.value.total_cmp(&one.value));
    figures
}

/// What may be rounding on each row, in its measure.
fn noise(plan: &Plan, pass: &Pass) -> Vec<f64> {
    let program = &pass.model.program;
    // Half of all that comes and goes.
    let mut through = vec![0.0; program.rows()];
    for column in 0..program.columns() {
        for (row, entry) in program.column(column) {
            through[row] += 0.5 * (entry * pass.x[column]).abs();
        }
    }
    let carries = |row: usize| plan.headers.get(row).map(|header| header.carries);
    let greatest = |of: Carried| {
        let alike = through.iter().enumerate().filter(|&(row, _)| carries(row) == Some(of));
        alike.map(|(_, &through)| through).fold(0.0, f64::max)
    };
    let greatest = [greatest(Carried::Matter), greatest(Carried::Power)];
    let of = |row: usize| match carries(row) {
        Some(Carried::Matter) => greatest[0],
        Some(Carried::Power) => greatest[1],
        None => 0.0,
    };
    through.iter().enumerate().map(|(row, through)| (NOISE[0] * through).max(NOISE[1] * of(row))).collect()
}
