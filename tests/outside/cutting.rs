//! Whole numbers where there is a choice: A17, rolls cut to widths.

use crate::rows::row;
use crate::support::solve;
use hotwell::quantity::whole_up;
use serde_json::{Map, Value, json};

/// All patterns of pieces that fit into one roll and leave no room for another piece.
fn patterns(stock: f64, widths: &[f64]) -> Vec<Vec<u32>> {
    fn extend(left: f64, widths: &[f64], so_far: &mut Vec<u32>, found: &mut Vec<Vec<u32>>, narrowest: f64) {
        let at = so_far.len();
        if at == widths.len() {
            if left < narrowest {
                found.push(so_far.clone());
            }
            return;
        }
        let mut pieces = 0;
        while f64::from(pieces) * widths[at] <= left {
            so_far.push(pieces);
            extend(left - f64::from(pieces) * widths[at], widths, so_far, found, narrowest);
            so_far.pop();
            pieces += 1;
        }
    }
    let narrowest = widths.iter().copied().fold(f64::INFINITY, f64::min);
    let mut found = Vec::new();
    extend(stock, widths, &mut Vec::new(), &mut found, narrowest);
    found
}

#[test]
fn a17_cutting_stock() {
    let row = row("A17");
    let (stock, widths, pieces) = (row.given("stock_mm"), row.given_list("width_mm"), row.given_list("demand_piece"));
    let patterns = patterns(stock, &widths);
    let plan = |whole: bool| {
        let units: Map<String, Value> = patterns
            .iter()
            .enumerate()
            .map(|(at, pattern)| {
                let gives: Map<String, Value> = widths
                    .iter()
                    .zip(pattern)
                    .filter(|&(_, &pieces)| pieces > 0)
                    .map(|(width, pieces)| (format!("{width} mm"), json!(pieces)))
                    .collect();
                let turndown = u8::from(whole);
                (format!("pattern {at}"), json!({ "gives": gives, "running_cost": 1, "turndown": turndown }))
            })
            .collect();
        let demands: Map<String, Value> = widths
            .iter()
            .zip(&pieces)
            .map(|(width, pieces)| {
                (format!("of {width} mm"), json!({ "header": format!("{width} mm"), "rate": pieces }))
            })
            .collect();
        let outlets: Map<String, Value> = widths.iter().map(|width| (format!("{width} mm"), json!({}))).collect();
        json!({ "units": units, "demands": demands, "outlets": outlets, "aim": { "most": {} } })
    };
    let relaxed = -solve(&plan(false)).value();
    let whole = solve(&plan(true));
    let rolls: u32 = whole.balance.units.iter().map(|run| run.count).sum();
    assert!(whole.balance.units.iter().all(|run| (run.needed - f64::from(run.count)).abs() < 1e-6));
    let length: f64 = widths.iter().zip(&pieces).map(|(width, pieces)| width * pieces).sum();
    let ceiling = whole_up(length / stock);
    row.holds(&[
        ("total_length_mm", length),
        ("area_bound_roll", length / stock),
        ("ceiling_roll", f64::from(u32::try_from(ceiling).expect("a small count"))),
        ("lp_bound_roll", relaxed),
        ("optimum_roll", f64::from(rolls)),
        ("maximal_patterns", f64::from(u32::try_from(patterns.len()).expect("a few patterns"))),
    ]);
}
