//! What the flow balance finds.

use serde_json::{Map, Value, json};

use super::heat::cooled_hall;
use super::{Away, Pair};

/// Presses that take seed and give cake.
fn press(press: Value, rest: Value) -> Value {
    let mut document = json!({
        "units": { "press": { "takes": { "seed": 1 }, "gives": { "cake": 1 } } },
        "supplies": { "field": { "header": "seed" } },
        "outlets": { "cake": {} },
    });
    for (name, value) in press.as_object().expect("an object") {
        document["units"]["press"][name] = value.clone();
    }
    for (name, value) in rest.as_object().expect("an object") {
        document[name] = value.clone();
    }
    document
}

/// Makers that run whole or not at all, of rates that add up to what is asked for in no way that is soon found.
fn indivisible(asked: f64) -> Value {
    let units: Map<String, Value> = (0..20)
        .map(|at: u32| {
            // Residues of a product with a prime: spread, and always the same.
            let rate = 0.1 + f64::from(at * at * 7_919 % 900) / 1000.0;
            let unit =
                json!({ "takes": { "feed": rate }, "gives": { "product": rate }, "turndown": "100 %", "count": 1 });
            (format!("maker {at}"), unit)
        })
        .collect();
    json!({
        "units": units,
        "supplies": { "well": { "header": "feed" } },
        "demands": { "use": { "header": "product", "rate": asked } },
    })
}

/// A press that takes so much seed with a trace of salt that nothing feeds.
fn faint(seed: f64) -> Value {
    json!({
        "units": { "press": { "takes": { "salt": 7e-7, "seed": seed }, "gives": { "cake": 1e-5 }, "count": 4 } },
        "supplies": { "field": { "header": "seed", "rate": 1e-6 } },
        "demands": { "yard": { "header": "cake", "rate": 2e-6 } },
    })
}

/// Water from a well for beds.
pub fn well(rate: f64, beds: f64) -> Value {
    json!({
        "supplies": { "well": { "header": "water", "rate": rate } },
        "demands": { "beds": { "header": "water", "rate": beds } },
    })
}

/// So many mills that lose half of what they take.
pub fn mills(count: usize) -> Value {
    let mill = json!({ "takes": { "grain": 2 }, "gives": { "flour": 1 }, "count": 1 });
    let units: Map<String, Value> = (0..count).map(|at| (format!("mill {at}"), mill.clone())).collect();
    json!({ "units": units, "supplies": { "silo": { "header": "grain" } }, "outlets": { "flour": {} } })
}

/// All pairs.
pub fn pairs() -> Vec<Pair> {
    let tight = |lines: u32| {
        let mut document = well(20.0, 19.5);
        document["headers"] = json!({ "water": { "line": 10, "lines": lines } });
        document
    };
    let run = |of: u32| json!({ "aim": { "run": { "press": of } } });
    let short_field =
        json!({ "supplies": { "field": { "header": "seed", "rate": 2 } }, "aim": { "run": { "press": 3 } } });
    let let_out = |limit: u32| json!({ "outlets": { "cake": { "limit": limit } }, "aim": { "run": { "press": 3 } } });
    let spring = json!({
        "supplies": { "spring": { "header": "water", "rate": 0.05, "when": "always" } },
        "demands": { "beds": { "header": "water", "rate": 0.02 } },
    });
    let mut averaged = well(2.0, 0.5);
    averaged["supplies"]["well"]["pattern"] = json!({ "on": 30, "every": 60 });
    let full = json!({ "headers": { "seed": { "line": 1, "lines": 2 } }, "aim": { "run": { "press": 3 } } });
    let idle = json!({
        "units": { "pump": { "takes": { "water": 1 }, "gives": { "head": 1 }, "idle_draw": "2 kW", "count": 4 } },
        "supplies": { "well": { "header": "water", "rate": 1 } },
        "demands": { "house": { "header": "head", "rate": 1 } },
    });
    let cake = json!({ "demands": { "kitchen": { "header": "cake", "rate": 3 } } });
    vec![
        ("balance-open", faint(7e5), Away::Number("/units/press/takes/seed", json!(70))),
        ("counts-unproven", indivisible(5.6155), Away::Number("/demands/use/rate", json!(0.05))),
        ("aim-short", press(json!({}), short_field.clone()), Away::Number("/supplies/field/rate", json!(4))),
        ("supply-short", press(json!({}), short_field), Away::Number("/supplies/field/rate", json!(4))),
        ("demand-short", well(1.0, 2.0), Away::Number("/supplies/well/rate", json!(3))),
        ("idle-short", idle, Away::Number("/units/pump/idle_draw", json!("0 W"))),
        ("cooling-short", cooled_hall(1.5e3), Away::Number("/supplies/mains/rate", json!(4e3))),
        ("count-bound", press(json!({ "count": 2 }), cake.clone()), Away::Number("/units/press/count", json!(4))),
        ("lines-full", press(json!({}), full), Away::Number("/headers/seed/lines", json!(4))),
        (
            "nothing-feeds",
            press(json!({ "takes": { "seed": 1, "oil": 0.1 } }), run(1)),
            Away::Number("/units/press/takes/oil", json!(0)),
        ),
        ("surplus-trapped", press(json!({}), let_out(2)), Away::Number("/outlets/cake/limit", json!(4))),
        (
            "outlet-missing",
            press(
                json!({ "gives": { "cake": 0.6, "oil": 0.4 } }),
                json!({ "supplies": { "field": { "header": "seed", "rate": 1 } }, "outlets": {}, "aim": { "most": { "oil": 2 } } }),
            ),
            Away::Number("/units/press/gives/cake", json!(0)),
        ),
        ("outlet-full", press(json!({}), let_out(3)), Away::Number("/outlets/cake/limit", json!(4))),
        (
            "no-limit",
            press(json!({ "gives": { "cake": 0.6, "oil": 0.4 } }), json!({ "aim": { "most": { "oil": 2 } } })),
            Away::Number("/aim/most/oil", json!(0)),
        ),
        ("nothing-asked", press(json!({ "count": 0 }), json!({})), Away::Number("/units/press/count", json!(1))),
        ("all-run", press(json!({ "count": 1 }), json!({})), Away::Number("/units/press/count", json!(0))),
        ("supply-lost", spring, Away::Number("/demands/beds/rate", json!(0.05))),
        ("supply-tight", well(20.0, 19.5), Away::Number("/supplies/well/rate", json!(30))),
        ("lines-tight", tight(2), Away::Number("/headers/water/lines", json!(3))),
        (
            "mass-not-closed",
            press(json!({ "gives": { "cake": 0.9 } }), run(1)),
            Away::Number("/units/press/gives/cake", json!(1)),
        ),
        ("pattern-averaged", averaged, Away::Without("/supplies/well/pattern")),
        ("idle-machines", press(json!({ "count": 5 }), cake), Away::Number("/units/press/count", json!(3))),
    ]
}
