//! What is drawn says in words and shapes what it means, and stays on the sheet.

use serde_json::{Map, Value, json};

use super::super::canvas::WARN;
use crate::budget::Budget;
use crate::plan::{Limits, Plan};
use crate::questions::fill_level::{FillLevel, ask};

fn answer(plan: &Value) -> FillLevel {
    let plan = Plan::from_json(plan.to_string().as_bytes(), &Limits::DEFAULT).expect("a plan");
    ask(&plan, &Budget::unhurried()).expect("an answer")
}

fn draw(answer: &FillLevel) -> String {
    super::draw(answer).finish()
}

/// Texts with their places.
fn texts(svg: &str) -> Vec<(f64, f64, String)> {
    let document = roxmltree::Document::parse(svg).expect("XML");
    let number =
        |node: &roxmltree::Node<'_, '_>, name: &str| node.attribute(name).expect(name).parse::<f64>().expect(name);
    let texts = document.descendants().filter(|node| node.has_tag_name("text"));
    texts.map(|node| (number(&node, "x"), number(&node, "y"), node.text().unwrap_or("").to_owned())).collect()
}

fn stays_on_the_sheet(svg: &str) {
    assert!(!svg.contains("NaN") && !svg.contains("inf"));
    for (x, y, text) in texts(svg) {
        assert!((0.0..=800.0).contains(&x) && (0.0..=600.0).contains(&y), "{text:?} at {x}, {y}");
    }
    let document = roxmltree::Document::parse(svg).expect("XML");
    for rect in document.descendants().filter(|node| node.has_tag_name("rect") && node.attribute("x").is_some()) {
        let of = |name: &str| rect.attribute(name).expect(name).parse::<f64>().expect(name);
        assert!(of("x") >= 0.0 && of("x") + of("width") <= 800.5, "{rect:?}");
        assert!(of("y") >= 0.0 && of("y") + of("height") <= 600.5, "{rect:?}");
    }
}

/// Three minutes and twenty seconds of water.
fn drying() -> Value {
    json!({
        "horizon": "10 min",
        "demands": { "yard": { "header": "water", "rate": 1 } },
        "stores": { "tank": { "header": "water", "capacity": 400, "level": "50 %", "low": "25 %", "high_high": "90 %" } }
    })
}

#[test]
fn trouble_is_told_in_words_and_marked() {
    let svg = draw(&answer(&drying()));
    let said: Vec<String> = texts(&svg).into_iter().map(|(_, _, text)| text).collect();
    assert!(said.windows(2).any(|pair| pair == ["runs dry in", "3 min 20 s"]), "{said:?}");
    assert!(said.iter().any(|text| text == "dry") && svg.contains(WARN), "{said:?}");
    assert!(said.iter().any(|text| text == "L") && said.iter().any(|text| text == "HH"), "{said:?}");
    stays_on_the_sheet(&svg);
}

#[test]
fn what_holds_warns_of_nothing() {
    let mut plan = drying();
    plan["horizon"] = json!("3 min");
    let svg = draw(&answer(&plan));
    assert!(!texts(&svg).iter().any(|(_, _, text)| text.contains("dry")));
}

#[test]
fn many_stores_leave_the_worst_to_see() {
    for count in [1, 2, 4, 5, 30] {
        let stores: Map<String, Value> = (0..count)
            .map(|at| (format!("tank {at}"), json!({ "header": format!("h{at}"), "capacity": 100, "level": 100 })))
            .collect();
        let mut plan = json!({
            "horizon": 200, "stores": stores,
            "demands": { "yard": { "header": format!("h{}", count - 1), "rate": 1 } },
            "loops": {
                "a": { "coolant": "x", "holds": 100, "charge": 120 }, "b": { "coolant": "x", "holds": 100, "charge": 20, "least": 40 },
                "c": { "coolant": "x", "holds": 100, "charge": 0, "least": 140 }, "d": { "coolant": "x", "holds": 100, "charge": 20 }
            }
        });
        let svg = draw(&answer(&plan));
        stays_on_the_sheet(&svg);
        let said = texts(&svg);
        assert!(
            said.iter().any(|(_, _, text)| *text == format!("tank {}", count - 1)),
            "the one that runs dry is drawn"
        );
        assert_eq!(said.iter().any(|(_, _, text)| text.ends_with("more stores")), count > 4);
        for words in ["over-full by 20 kg", "short of 20 kg", "no charge fits: 140 kg to 100 kg"] {
            assert!(said.iter().any(|(_, _, text)| text == words), "{words}: {said:?}");
        }
        plan["stores"] = json!({});
        stays_on_the_sheet(&draw(&answer(&plan)));
    }
    stays_on_the_sheet(&draw(&answer(&json!({}))));
}

#[test]
fn any_sizes_and_times_stay_on_the_sheet() {
    for exponent in [-6, 0, 6] {
        let size = 10_f64.powi(exponent);
        for horizon in [1e-3, 1.0, 1e6] {
            let plan = json!({
                "horizon": horizon,
                "units": { "pump": { "count": 2, "takes": { "x": 3.0 * size / horizon }, "gives": { "y": 3.0 * size / horizon } } },
                "supplies": { "seep": { "header": "x", "rate": 4.0 * size / horizon, "when": "always",
                    "pattern": { "on": horizon / 7.0, "every": horizon / 3.0 } } },
                "outlets": { "y": {} },
                "stores": { "sump": { "header": "x", "capacity": size, "loses": "1 %/day" } },
                "switches": { "a switch with a long name that wants to be cut somewhere": {
                    "watch": "sump", "start_at": "80 %", "stop_at": "20 %", "runs": "pump" } }
            });
            stays_on_the_sheet(&draw(&answer(&plan)));
        }
    }
}
