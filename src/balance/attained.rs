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
    /// Figures up to the machines.
    counted: usize,
}

impl Attained {
    /// The figures of `pass`, solved under `setting`. All passes of one plan have as many, in the same order.
    #[must_use]
    pub fn of(plan: &Plan, setting: &Setting, pass: &Pass) -> Self {
        let stages = stages(plan, &pass.model);
        let mut figures = lacking_idle(plan, pass);
        let (mut outcome, mut counted) = (None, 0);
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
                    counted = figures.len();
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
        Self { figures, outcome, counted }
    }

    /// Whether these are better than those.
    #[must_use]
    pub fn is_better_than(&self, other: &Self) -> bool {
        self.compare(other, usize::MAX) == Ordering::Less
    }

    /// Whether up to the machines these are better than those. What is let out or spilled where numbers are real says nothing
    /// of whole ones.
    #[must_use]
    pub fn leads(&self, other: &Self) -> bool {
        self.compare(other, self.counted.min(other.counted)) == Ordering::Less
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

#[cfg(test)]
mod tests {
    use super::super::{HeatPower, settle};
    use super::*;
    use crate::budget::Budget;
    use crate::plan::Limits;
    use serde_json::{Value, json};

    fn attained(figures: &[(f64, f64)], outcome: usize) -> Attained {
        Attained {
            figures: figures.iter().map(|&(value, room)| Figure { value, room }).collect(),
            outcome,
            counted: figures.len().min(2),
        }
    }

    #[test]
    fn the_first_figure_that_differs_by_more_than_its_room_decides() {
        let base = attained(&[(1.0, 0.1), (2.0, 0.1), (3.0, 0.1)], 2);
        let better = |figures: [f64; 3]| {
            let other = attained(&figures.map(|value| (value, 0.01)), 2);
            (
                other.is_better_than(&base),
                base.is_better_than(&other),
                other.stays_behind(&base),
                base.stays_behind(&other),
            )
        };
        assert_eq!(better([1.0, 2.0, 3.0]), (false, false, false, false));
        assert_eq!(better([1.05, 1.95, 3.09]), (false, false, false, false));
        assert_eq!(better([0.8, 9.0, 9.0]), (true, false, false, true));
        assert_eq!(better([1.05, 1.8, 9.0]), (true, false, false, true));
        assert_eq!(better([1.05, 2.2, 0.0]), (false, true, true, false));
        // The last is no matter of the outcome.
        assert_eq!(better([1.0, 2.0, 2.8]), (true, false, false, false));
        assert_eq!(better([1.0, 2.0, 3.2]), (false, true, false, false));
        let narrow = attained(&[(1.0, 0.1), (9.0, 0.1), (3.0, 0.1)], 1);
        assert!(narrow.stays_behind(&attained(&[(0.0, 0.1)], 3)) && !narrow.stays_behind(&base));
    }

    #[test]
    fn what_leads_is_better_up_to_the_machines() {
        let base = attained(&[(1.0, 0.1), (2.0, 0.1), (3.0, 0.1)], 1);
        let leads = |figures: [f64; 3]| attained(&figures.map(|value| (value, 0.01)), 1).leads(&base);
        assert!(leads([1.0, 1.8, 9.0]) && leads([0.8, 9.0, 9.0]));
        assert!(!leads([1.0, 2.0, 0.0]) && !leads([1.0, 2.0, 3.0]) && !leads([1.0, 2.2, 0.0]));
    }

    /// Presses of which so many must stand and two do, on so much power; both demands are short of cake.
    fn presses(kilowatts: f64, at_least: u32) -> (Plan, Setting, Pass) {
        let document: Value = json!({
            "units": { "press": {
                "takes": { "dough": 1 }, "gives": { "cake": 1, "crumbs": 0.1 }, "draws": 3000, "idle_draw": 1000, "count": { "at_least": at_least },
            } },
            "supplies": {
                "dough": { "header": "dough" }, "glue": { "header": "glue" },
                "mains": { "header": "power", "rate": 1000.0 * kilowatts },
            },
            "demands": {
                "baker": { "header": "cake", "rate": 2 }, "cafe": { "header": "cake", "rate": 1, "rank": 2 },
                "binder": { "header": "glue", "rate": 1e-6, "rank": 2 },
            },
            "outlets": { "crumbs": {} },
        });
        let plan = Plan::from_json(document.to_string().as_bytes(), &Limits::default())
            .unwrap_or_else(|error| panic!("{error:?}"));
        let mut setting = Setting::of(&plan, HeatPower::NONE);
        setting.standing[0] = Some(2);
        let pass = settle(&plan, &setting, &Budget::unhurried()).expect("within the budget").0;
        (plan, setting, pass)
    }

    fn assert_near(found: &[f64], expected: &[f64]) {
        let near = |(one, other): (&f64, &f64)| (one - other).abs() <= 1e-6 * other.abs() + 1e-18;
        assert!(
            found.len() == expected.len() && found.iter().zip(expected).all(near),
            "{found:?}, expected {expected:?}"
        );
    }

    #[test]
    fn figures_are_those_of_the_objectives_in_their_order() {
        // 5 kW: one and a half run, and half of one idles.
        let (plan, setting, pass) = presses(5.0, 1);
        let attained = Attained::of(&plan, &setting, &pass);
        let values: Vec<f64> =
            attained.figures.iter().map(|figure| if figure.value.abs() < 1e-12 { 0.0 } else { figure.value }).collect();
        // Idle draw; the baker, the cafe and the binder; trapped; drawn of matter and of power; machines; let out; spilled.
        assert_near(&values, &[0.0, 0.25, 1.0, 0.0, 0.0, 1.500_001, 5000.0, 2.0, 0.15, 0.0]);
        assert_eq!((attained.outcome, attained.counted), (5, 8));
        let rooms: Vec<f64> = attained.figures.iter().map(|figure| figure.room).collect();
        assert_near(&rooms[..4], &[1e-9; 4]);
        assert_near(&rooms[5..9], &[1.5e-9 + 1.5e-12, 5e-6, 0.5, 1.5e-10]);
    }

    #[test]
    fn noise_goes_by_what_passes_through_and_by_the_greatest_of_its_kind() {
        let (plan, _, pass) = presses(5.0, 1);
        let noise = noise(&plan, &pass);
        let of = |name: &str| noise[plan.header_named(name).expect("a header").0];
        let headers = ["dough", "cake", "crumbs", "glue", "power"].map(of);
        assert_near(&headers, &[1.5e-10, 1.5e-10, 1.5e-11, 1.5e-12, 5e-7]);
        // Two stand: half of what runs, idles and is ready.
        assert_near(&noise[plan.headers.len()..], &[2e-10]);
    }

    #[test]
    fn what_must_stand_and_lacks_its_draw_is_told_as_a_share() {
        let lacks = |kilowatts: f64, at_least: u32| -> Vec<f64> {
            let (plan, _, pass) = presses(kilowatts, at_least);
            lacking_idle(&plan, &pass).iter().map(|figure| figure.value).collect()
        };
        assert_near(&lacks(5.0, 1), &[0.0]);
        assert_near(&lacks(0.5, 1), &[1.5]);
        assert_near(&lacks(0.5, 2), &[0.75]);
        assert_near(&lacks(1.5, 2), &[0.25]);
        assert!(lacks(0.5, 0).is_empty());
    }
}
