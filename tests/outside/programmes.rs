//! Published programmes posed as plans: A11, A12, A14, A15.

use std::collections::HashMap;

use crate::rows::row;
use crate::support::{Solved, solve};
use hotwell::balance::{Limit, Outcome};
use serde_json::{Map, Value, json};

#[test]
fn a11_maximum_flow_and_minimum_cut() {
    let row = row("A11");
    let edges = row.given_value("edges").as_array().expect("a list of edges");
    let mut units = Map::new();
    for edge in edges {
        let (from, to) = (edge[0].as_str().expect("a node"), edge[1].as_str().expect("a node"));
        units.insert(format!("{from} {to}"), json!({ "count": edge[2], "takes": { from: 1 }, "gives": { to: 1 } }));
    }
    let solved = solve(&json!({ "units": units, "supplies": { "source": { "header": "s" } },
                                "aim": { "most": { "t": 1 } }, "worth": true }));
    // The smallest cut is what binds: raising any one of its edges lets more through.
    let cut = solved.balance.binding.iter().filter(|binding| binding.worth.is_some_and(|worth| worth > 0.5));
    let capacity: f64 = cut
        .map(|binding| match binding.limit {
            Limit::Count(unit) => f64::from(solved.balance.units[unit.0].count),
            limit => panic!("{limit:?} binds, which has no limit"),
        })
        .sum();
    row.holds(&[("max_flow_kg_s", solved.header("t").delivered), ("cut_capacity_kg_s", capacity)]);
}

#[test]
fn a12_programme_with_prices() {
    let row = row("A12");
    let profit = row.given_list("profit_thousand_usd_per_batch");
    let hours = row.given_list("b_h");
    let uses = row.given_value("A_h_per_batch");
    let mut units = Map::new();
    for (product, profit) in profit.iter().enumerate() {
        let takes: Map<String, Value> = (0..hours.len())
            .filter(|&plant| uses[plant][product] != 0)
            .map(|plant| (format!("hours {}", plant + 1), uses[plant][product].clone()))
            .collect();
        units.insert(format!("x{}", product + 1), json!({ "takes": takes, "gives": { "profit": profit } }));
    }
    let supplies: Map<String, Value> = hours
        .iter()
        .enumerate()
        .map(|(at, hours)| {
            (format!("plant {}", at + 1), json!({ "header": format!("hours {}", at + 1), "rate": hours }))
        })
        .collect();
    let solved =
        solve(&json!({ "units": units, "supplies": supplies, "aim": { "most": { "profit": 1 } }, "worth": true }));
    row.holds(&[
        ("x1_batch", solved.run("x1")),
        ("x2_batch", solved.run("x2")),
        ("Z_thousand_usd", solved.value()),
        ("y1_thousand_usd_per_h", solved.worth_of_supply("plant 1")),
        ("y2_thousand_usd_per_h", solved.worth_of_supply("plant 2")),
        ("y3_thousand_usd_per_h", solved.worth_of_supply("plant 3")),
    ]);
}

#[test]
fn a14_transport_at_least_cost() {
    let row = row("A14");
    let supply = row.given_list("supply_case");
    let demand = row.given_list("demand_case");
    let plants = ["Seattle", "San Diego"];
    let markets = ["New York", "Chicago", "Topeka"];
    let cost = |demand: &[f64]| -> Solved {
        let mut units = Map::new();
        for (from, plant) in plants.iter().enumerate() {
            for (to, market) in markets.iter().enumerate() {
                let distance = row.given_value("distance_thousand_mi")[from][to].as_f64().expect("a distance");
                let freight = distance * row.given("freight_usd_per_case_thousand_mi") / 1000.0;
                units.insert(
                    format!("{plant} to {market}"),
                    json!({ "takes": { *plant: 1 }, "gives": { *market: 1 }, "running_cost": freight }),
                );
            }
        }
        let supplies: Map<String, Value> = (0..plants.len())
            .map(|at| (plants[at].to_owned(), json!({ "header": plants[at], "rate": supply[at] })))
            .collect();
        let demands: Map<String, Value> = (0..markets.len())
            .map(|at| (markets[at].to_owned(), json!({ "header": markets[at], "rate": demand[at] })))
            .collect();
        // Nothing has a value of its own: the most that can be made of it is the least cost.
        solve(&json!({ "units": units, "supplies": supplies, "demands": demands, "aim": { "most": {} } }))
    };
    let asked = cost(&demand);
    assert_eq!(asked.balance.outcome, Outcome::Met);
    // What one more case costs. The dual has several solutions; this one is right for more.
    let price = |market: usize| {
        let mut more = demand.clone();
        more[market] += 1.0;
        asked.value() - cost(&more).value()
    };
    row.holds(&[
        ("cost_thousand_usd", -asked.value()),
        ("price_NewYork_thousand_usd_per_case", price(0)),
        ("price_Chicago_thousand_usd_per_case", price(1)),
        ("price_Topeka_thousand_usd_per_case", price(2)),
    ]);
}

/// A programme in fixed MPS form with rows N, L and E, no ranges and no bounds, as a plan: each column a unit that runs as
/// often as its variable says. A row L is a header that its right side supplies, positive coefficients take from it, and
/// what is left over goes out; a row E the same without the way out. The cost is a header that columns with a gain give to.
fn plan_of_mps(text: &str) -> Value {
    let mut kinds: HashMap<&str, &str> = HashMap::new();
    let mut units = Map::new();
    let mut supplies = Map::new();
    let mut outlets = Map::new();
    let mut section = "";
    for line in text.lines() {
        if !line.starts_with(' ') {
            section = line.split_whitespace().next().unwrap_or("");
            assert!(matches!(section, "NAME" | "ROWS" | "COLUMNS" | "RHS" | "ENDATA"), "section {section}");
            continue;
        }
        let words: Vec<&str> = line.split_whitespace().collect();
        match section {
            "ROWS" => {
                assert!(matches!(words[0], "N" | "L" | "E"), "a row of kind {}", words[0]);
                kinds.insert(words[1], words[0]);
                if words[0] == "L" {
                    outlets.insert(words[1].to_owned(), json!({}));
                }
            }
            "COLUMNS" => {
                let unit = units.entry(words[0]).or_insert_with(|| json!({ "takes": {}, "gives": {} }));
                for pair in words[1..].chunks(2) {
                    let value: f64 = pair[1].parse().expect("a number");
                    let side = if value > 0.0 { "takes" } else { "gives" };
                    unit[side][pair[0]] = json!(value.abs());
                }
            }
            "RHS" => {
                for pair in words[1..].chunks(2) {
                    let value: f64 = pair[1].parse().expect("a number");
                    assert!(value >= 0.0, "a right side below nothing takes a demand");
                    // An equality is served in full: its right side pushes.
                    let when = if kinds[pair[0]] == "E" { "always" } else { "wanted" };
                    supplies
                        .insert(format!("of {}", pair[0]), json!({ "header": pair[0], "rate": value, "when": when }));
                }
            }
            _ => {}
        }
    }
    json!({ "units": units, "supplies": supplies, "outlets": outlets, "aim": { "most": { "COST": 1 } } })
}

#[test]
fn a15_afiro() {
    let row = row("A15");
    assert_eq!(row.given_value("file"), "afiro.mps");
    let plan = plan_of_mps(include_str!("afiro.mps"));
    assert_eq!(plan["units"].as_object().map(Map::len), Some(32));
    let solved = solve(&plan);
    let trapped: f64 = solved.balance.headers.iter().map(|flow| flow.trapped).sum();
    approx::assert_abs_diff_eq!(trapped, 0.0, epsilon = 1e-9);
    // The file minimises cost; a plan makes the most of a gain.
    row.holds(&[("objective", -solved.value())]);
}
