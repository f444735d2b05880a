//! The floor: what fits into which row, what is left over, and what would mend it.

mod code;
mod figures;
mod findings;

use crate::floor::{Fit, fit};
use crate::plan::{FloorRow, Plan};
use crate::questions::answer::{Finding, Name, Named, short};

pub use code::RowCode;
pub use figures::{RowFigures, StandFigures};

/// The name under which findings of the floor stand.
pub(super) const QUESTION: &str = "floor";

/// The rows, reckoned.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Rows {
    pub figures: Named<RowFigures>,
    pub findings: Vec<Finding>,
    pub working: Vec<String>,
}

/// Fits machines into rows. `counts` is by unit.
pub(super) fn reckon(plan: &Plan, counts: &[u32]) -> Rows {
    let fit = fit(plan, counts);
    Rows { figures: figures(plan, &fit), findings: findings::find(plan, &fit), working: working(plan, &fit) }
}

fn figures(plan: &Plan, fit: &Fit) -> Named<RowFigures> {
    let names: Vec<Name> = plan.units.iter().map(|unit| unit.name.as_str().into()).collect();
    let of = |(row, fit): (&FloorRow, &crate::floor::RowFit)| {
        let by = |figure: &dyn Fn(&crate::floor::KindFit) -> u64| -> Named<u64> {
            fit.kinds.iter().map(|kind| (names[kind.unit.0].clone(), figure(kind))).collect()
        };
        let stands = fit.runs.iter().map(|run| StandFigures {
            unit: names[run.unit.0].clone(),
            count: run.count,
            at_cell: run.at,
            each_cells: run.each,
            pitch_cells: run.pitch,
            height_cells: plan.units[run.unit.0].height.into(),
        });
        let figures = RowFigures {
            needed_cells: fit.needed,
            width_cells: row.width.into(),
            used_cells: fit.used,
            missing_cells: fit.missing,
            wanted: by(&|kind| kind.wanted),
            placed: by(&|kind| kind.placed),
            fits: by(&|kind| kind.fits),
            wider_for_more_cells: by(&|kind| kind.wider),
            mirrors: fit.mirrors,
            stands: stands.collect(),
            access_at_cell: fit.access_at,
            access_cells: row.access.into(),
            wall_cells: row.walls.into(),
            height_cells: row.height.map(u64::from),
        };
        (Name::from(row.name.as_str()), figures)
    };
    plan.rows.iter().zip(&fit.rows).map(of).collect()
}

/// "lower: 2 × 1 wall + 2 access + 4 × 3 (kiln) = 16 of 30 cells".
fn working(plan: &Plan, fit: &Fit) -> Vec<String> {
    let line = |(row, fit): (&FloorRow, &crate::floor::RowFit)| {
        let mut parts = Vec::new();
        if row.walls > 0 {
            parts.push(format!("2 × {} wall", row.walls));
        }
        if row.access > 0 {
            parts.push(format!("{} access", row.access));
        }
        let mut machines = 0;
        for kind in &fit.kinds {
            let unit = &plan.units[kind.unit.0];
            let places = kind.placed + u64::from(kind.odd);
            machines += places;
            if places > 0 {
                parts.push(format!("{places} × {} ({})", unit.width.unwrap_or(0), short(&unit.name)));
            }
        }
        if row.gap > 0 && machines > 1 {
            parts.push(format!("{} × {} gap", machines - 1, row.gap));
        }
        let sum = if parts.is_empty() { "nothing".to_owned() } else { parts.join(" + ") };
        format!("row {}: {sum} = {} of {} cells", short(&row.name), fit.used, row.width)
    };
    plan.rows.iter().zip(&fit.rows).map(line).collect()
}
