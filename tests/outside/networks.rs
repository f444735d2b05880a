//! One thousand random networks against SciPy (HiGHS): `networks.json`, made by `networks.py` beside it.
//!
//! Objectives are compared, not flows, for optima need not be unique.

use crate::support::solve;
use hotwell::balance::{Limit, Outcome};
use serde_json::{Map, Value, json};

fn networks() -> Vec<Value> {
    serde_json::from_str(include_str!("networks.json")).expect("networks.json is JSON")
}

fn entries(value: &Value) -> &Map<String, Value> {
    value.as_object().expect("an object")
}

/// A network as a plan: every material can leave, units are there in full, deliveries have their value.
fn plan_of(network: &Value, worth: bool) -> Value {
    let turndown = u8::from(network["integer"] == true);
    let units: Map<String, Value> = network["units"]
        .as_array()
        .expect("a list of units")
        .iter()
        .map(|unit| {
            let plan = json!({ "count": unit["most"], "takes": unit["takes"], "gives": unit["gives"],
                               "running_cost": unit["cost"], "turndown": turndown });
            (unit["id"].as_str().expect("a name").to_owned(), plan)
        })
        .collect();
    let supplies: Map<String, Value> = entries(&network["supply"])
        .iter()
        .map(|(material, rate)| (material.clone(), json!({ "header": material, "rate": rate })))
        .collect();
    let demands: Map<String, Value> = entries(&network["demand"])
        .iter()
        .map(|(material, asked)| (material.clone(), json!({ "header": material, "rate": asked["max"] })))
        .collect();
    let values: Map<String, Value> = entries(&network["demand"])
        .iter()
        .map(|(material, asked)| (material.clone(), asked["value"].clone()))
        .collect();
    let outlets: Map<String, Value> = network["materials"]
        .as_array()
        .expect("a list of materials")
        .iter()
        .map(|material| (material.as_str().expect("a name").to_owned(), json!({})))
        .collect();
    json!({ "units": units, "supplies": supplies, "demands": demands, "outlets": outlets,
            "aim": { "most": values }, "worth": worth })
}

#[test]
fn objectives_agree_and_balances_close() {
    let networks = networks();
    assert_eq!(networks.len(), 1000);
    let mut wrong = Vec::new();
    for network in &networks {
        let solved = solve(&plan_of(network, false));
        let expected = network["objective"].as_f64().expect("an objective");
        let found = solved.value();
        if (found - expected).abs() > 1e-7 * expected.abs().max(1e-3) || solved.balance.outcome != Outcome::Met {
            wrong.push(format!("seed {}: {found}, expected {expected}", network["seed"]));
        }
        if network["integer"] == true {
            for run in &solved.balance.units {
                assert!((run.needed - run.needed.round()).abs() < 1e-7, "seed {}: {run:?}", network["seed"]);
            }
        }
    }
    assert!(wrong.is_empty(), "{} of {}: {wrong:#?}", wrong.len(), networks.len());
}

/// What one more of a supply is worth is found one-sided, so it is no more than any dual price, and equal to it wherever
/// the price is the only one.
#[test]
fn worth_is_a_dual_price() {
    let (mut equal, mut below) = (0, 0);
    for network in networks().iter().filter(|network| network["integer"] == false).take(300) {
        let solved = solve(&plan_of(network, true));
        for binding in &solved.balance.binding {
            let Limit::Supply(supply) = binding.limit else { continue };
            let name = &solved.plan.supplies[supply.0].name;
            let price = network["lp_price"][name].as_f64().expect("a price");
            let worth = binding.worth.expect("the plan wants worth");
            let room = 1e-6 * price.abs().max(1.0);
            assert!(worth <= price + room, "seed {}: {name} is worth {worth}, its price is {price}", network["seed"]);
            if worth < price - room { below += 1 } else { equal += 1 }
        }
    }
    assert!(equal > 20 * below, "{equal} equal, {below} below");
    assert!(equal > 300, "only {equal} compared");
}
