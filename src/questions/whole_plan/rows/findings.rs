//! What the rows show that the author should know.

use serde_json::{Map, Value, json};

use super::RowCode;
use crate::floor::Fit;
use crate::plan::{Count, FloorRow, Placed, Plan, UnitId, pointer};
use crate::questions::answer::{Finding, Remedy, Weight, finding, heaviest_first, merge, nest, quoted};

/// A list is patched as a whole, so that of more rows than this a patch would be longer than it helps.
const MOST_PATCHED: usize = 50;

/// The unit of measure of lengths.
const CELLS: &str = "cells";

/// All findings.
pub(super) fn find(plan: &Plan, fit: &Fit) -> Vec<Finding> {
    let mut found = Vec::new();
    for at in 0..plan.rows.len() {
        left_over(plan, fit, at, &mut found);
        odd(plan, fit, at, &mut found);
    }
    for (at, &unasked) in fit.unasked.iter().enumerate() {
        if unasked > 0 {
            found.push(not_all_placed(plan, UnitId(at), unasked));
        }
    }
    heaviest_first::<RowCode>(&mut found);
    found
}

fn place(row: usize, rest: &[&str]) -> String {
    let index = row.to_string();
    let names: Vec<&str> = ["floor", "rows", &index].into_iter().chain(rest.iter().copied()).collect();
    pointer(&names)
}

fn cells(count: u64) -> String {
    if count == 1 { "1 cell".to_owned() } else { format!("{count} cells") }
}

fn left_over(plan: &Plan, fit: &Fit, at: usize, found: &mut Vec<Finding>) {
    let (row, fitted) = (&plan.rows[at], &fit.rows[at]);
    let name = quoted(&row.name);
    for kind in fitted.kinds.iter().filter(|kind| kind.homeless > 0) {
        let unit = &plan.units[kind.unit.0];
        let (left, placed, wanted) = (kind.homeless, kind.placed, kind.wanted);
        let are = if left == 1 { "is" } else { "are" };
        let it = quoted(&unit.name);
        if kind.too_tall {
            let height = row.height.unwrap_or(0);
            let say = format!("{left} × {it} {are} left over: {} high, and row {name} has {height}", unit.height);
            let remedy = Remedy {
                say: format!("make row {name} {} high", cells(unit.height.into())),
                patch: patch(plan, |other, row| {
                    if other == at {
                        row["height"] = json!(unit.height);
                    }
                }),
            };
            let low = finding(RowCode::RowTooLow, place(at, &["height"]), say);
            found.push(low.at_most(f64::from(unit.height), f64::from(height), CELLS).mended(Some(remedy)));
            continue;
        }
        let (stand, fit) =
            (if wanted == 1 { "is" } else { "are" }, if placed == 1 { "1 fits" } else { &format!("{placed} fit") });
        let say = format!("{wanted} × {it} {stand} to stand in row {name} and {fit}: {left} {are} left over");
        let wide = u64::from(row.width) + fitted.missing;
        let mut say_more = format!("make row {name} {} wider ({wide} in all)", cells(fitted.missing));
        if left > 1 && kind.wider < fitted.missing {
            say_more = format!("{say_more}; for one more {}", cells(kind.wider));
        }
        let remedy = Remedy {
            say: say_more,
            patch: patch(plan, |other, row| {
                if other == at {
                    row["width"] = json!(wide);
                }
            }),
        };
        let narrow = finding(RowCode::RowTooNarrow, place(at, &["width"]), say);
        found.push(narrow.at_least(f64::from(row.width), wide as f64, CELLS).mended(Some(remedy)));
    }
}

fn odd(plan: &Plan, fit: &Fit, at: usize, found: &mut Vec<Finding>) {
    let row = &plan.rows[at];
    for kind in fit.rows[at].kinds.iter().filter(|kind| kind.odd) {
        let unit = &plan.units[kind.unit.0];
        let (count, name) = (kind.placed, quoted(&row.name));
        let say = format!(
            "row {name} is to be symmetric, and {count} × {} have no equal halves: {} or {} do",
            quoted(&unit.name),
            count - 1,
            count + 1,
        );
        let asked = row.place.iter().find(|placing| placing.unit == kind.unit).map(|placing| placing.placed);
        // One more of what is counted by the author, and of what is placed by number.
        let more = match unit.count {
            Count::Fixed(there) => Some(nest(&["units", &unit.name, "count"], json!(there + 1))),
            Count::Sized { .. } => None,
        };
        let patched = match asked {
            Some(Placed::Count(_)) => patch(plan, |other, row| {
                if other == at {
                    row["place"][&unit.name] = json!(count + 1);
                }
            })
            .map(|mut patched| {
                if let Some(more) = more {
                    merge(&mut patched, more);
                }
                patched
            }),
            Some(Placed::All) | None => more,
        };
        let remedy = (kind.wanted == count).then(|| Remedy {
            say: format!("have {} × {} in row {name}", count + 1, quoted(&unit.name)),
            patch: patched,
        });
        let odd = finding(RowCode::SymmetryOdd, place(at, &["place", &unit.name]), say);
        found.push(odd.mended(remedy));
    }
}

fn not_all_placed(plan: &Plan, unit: UnitId, unasked: u64) -> Finding {
    let name = &plan.units[unit.0].name;
    let asked = |row: &FloorRow| row.place.iter().position(|placing| placing.unit == unit);
    let last = plan.rows.iter().rposition(|row| asked(row).is_some()).unwrap_or(0);
    let verb = if unasked == 1 { "has" } else { "have" };
    let say = format!("{unasked} × {} {verb} no row to stand in", quoted(name));
    let remedy = Remedy {
        say: format!("place all of them in row {}", quoted(&plan.rows[last].name)),
        patch: patch(plan, |other, row| {
            if other == last {
                row["place"][name] = json!("all");
            }
        }),
    };
    finding(RowCode::NotAllPlaced, place(last, &["place", name]), say)
        .at_most(unasked as f64, 0.0, "1")
        .weighing(Weight::Caution)
        .mended(Some(remedy))
}

/// All rows as the plan has them, changed: a merge patch takes a list as a whole.
fn patch(plan: &Plan, change: impl Fn(usize, &mut Value)) -> Option<Value> {
    if plan.rows.len() > MOST_PATCHED {
        return None;
    }
    let rows = plan.rows.iter().enumerate().map(|(at, row)| {
        let mut value = written(plan, row);
        change(at, &mut value);
        value
    });
    Some(json!({ "floor": { "rows": rows.collect::<Vec<_>>() } }))
}

/// A row as a document has it.
fn written(plan: &Plan, row: &FloorRow) -> Value {
    let place: Map<String, Value> = row
        .place
        .iter()
        .map(|placing| {
            let count = match placing.placed {
                Placed::Count(count) => json!(count),
                Placed::All => json!("all"),
            };
            (plan.units[placing.unit.0].name.clone(), count)
        })
        .collect();
    let mut value = json!({ "name": row.name, "width": row.width, "place": place });
    for (field, cells) in [("walls", row.walls), ("access", row.access), ("gap", row.gap)] {
        if cells > 0 {
            value[field] = json!(cells);
        }
    }
    if let Some(height) = row.height {
        value["height"] = json!(height);
    }
    if row.symmetric {
        value["symmetric"] = json!(true);
    }
    value
}
