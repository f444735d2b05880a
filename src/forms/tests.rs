//! Forms of small answers.

use proptest::prelude::*;
use serde_json::{Value, json};

use super::Shown;
use crate::budget::{Budget, Halt};
use crate::plan::{Limits, Plan};
use crate::questions::answer::{LINE_BYTES, is_invisible};
use crate::questions::fill_level::{self, FillLevel};
use crate::questions::flow_balance::{FlowBalance, ask};
use crate::sums;

fn example(name: &str) -> FlowBalance {
    let path = format!("{}/examples/plans/{name}.json", env!("CARGO_MANIFEST_DIR"));
    let bytes = std::fs::read(path).expect("an example");
    let plan = Plan::from_json(&bytes, &Limits::DEFAULT).expect("a plan");
    ask(&plan, &Budget::unhurried()).expect("an answer")
}

const EXAMPLES: [&str; 10] = [
    "battery-bands",
    "best-use",
    "burner-hall",
    "minimal",
    "net-power",
    "short-supply",
    "sump-and-seep",
    "three-lines",
    "trapped-surplus",
    "two-absorbers",
];

#[test]
fn the_lines_of_the_examples() {
    let lines: Vec<String> = EXAMPLES.iter().map(|name| format!("{name}\n  {}", example(name).line())).collect();
    insta::assert_snapshot!(lines.join("\n"));
}

#[test]
fn pictures_of_the_examples() {
    for name in ["burner-hall", "short-supply", "trapped-surplus"] {
        // One element on each line, so that a change shows where it is.
        insta::assert_snapshot!(name, example(name).svg().replace("><", ">\n<"));
    }
}

fn rehearsed(name: &str) -> FillLevel {
    let path = format!("{}/examples/plans/{name}.json", env!("CARGO_MANIFEST_DIR"));
    let plan = Plan::from_json(&std::fs::read(path).expect("an example"), &Limits::DEFAULT).expect("a plan");
    fill_level::ask(&plan, &Budget::unhurried()).expect("an answer")
}

#[test]
fn fill_levels_of_the_examples() {
    let mut lines = Vec::new();
    for name in EXAMPLES {
        let answer = rehearsed(name);
        lines.push(format!("{name}\n  {}", answer.line()));
        let svg = answer.svg();
        assert!(roxmltree::Document::parse(&svg).is_ok() && !svg.contains("NaN") && !svg.contains("inf"), "{name}");
        assert_eq!(svg, rehearsed(name).svg());
    }
    insta::assert_snapshot!(lines.join("\n"));
    insta::assert_snapshot!("sump-and-seep", rehearsed("sump-and-seep").svg().replace("><", ">\n<"));
}

#[test]
fn a_picture_says_in_words_what_is_short_and_what_is_trapped() {
    assert!(example("trapped-surplus").svg().contains(">trapped</text>"));
    assert!(example("short-supply").svg().contains("short 28.4 kW"));
    let typo = json!({
        "units": { "burner": { "takes": { "methanol": "10 g/s" } } }, "aim": { "run": { "burner": 3 } }
    });
    assert!(answer(&typo).svg().contains(">0 of 3: short</text>"));
    let lamps = json!({
        "supplies": { "field": { "header": "oil", "rate": "16.41 g/s" } },
        "demands": { "lamps": { "header": "oil", "rate": "28.75 g/s" } }
    });
    let svg = answer(&lamps).svg();
    assert!(svg.contains(">16.41 g/s</text>") && svg.contains(">short 12.34 g/s</text>"), "{svg}");
}

#[test]
fn the_same_plan_gives_the_same_bytes() {
    for name in EXAMPLES {
        let (a, b) = (example(name), example(name));
        assert_eq!((a.json(), a.line(), a.svg()), (b.json(), b.line(), b.svg()), "{name}");
    }
}

#[test]
fn every_sum_in_every_form() {
    for sum in sums::registry() {
        let pairs: Vec<(String, String)> = sum
            .example
            .split('&')
            .filter_map(|pair| pair.split_once('='))
            .map(|(name, value)| (name.to_owned(), value.to_owned()))
            .collect();
        let pairs: Vec<_> = pairs.iter().map(|(name, value)| (name.as_str().into(), value.as_str().into())).collect();
        let answer = sums::answer(sum, &pairs).unwrap_or_else(|faults| panic!("{}: {faults}", sum.name));
        assert!(answer.line().len() <= LINE_BYTES);
        let json: Value = serde_json::from_slice(&answer.json()).expect("JSON");
        assert_no_null(&json);
        let svg = answer.svg();
        let parsed = roxmltree::Document::parse(&svg).expect("XML");
        assert_eq!(parsed.root_element().tag_name().name(), "svg");
        // Titles and figures are bold.
        let bold = parsed.descendants().filter(|node| node.attribute("font-weight") == Some("bold"));
        let cut: Vec<_> = bold.filter_map(|node| node.text()).filter(|text| text.contains('…')).collect();
        assert!(cut.is_empty(), "{}: {cut:?}", sum.name);
        if sum.name == "cleaner-chain" {
            insta::assert_snapshot!("sum", svg.replace("><", ">\n<"));
        }
    }
}

fn answer(plan: &Value) -> FlowBalance {
    let plan = Plan::from_json(plan.to_string().as_bytes(), &Limits::DEFAULT).expect("a plan");
    ask(&plan, &Budget::unhurried()).expect("an answer")
}

/// A number that is not finite is written as `null`; nothing else of these answers is.
fn assert_no_null(value: &Value) {
    match value {
        Value::Null => panic!("null"),
        Value::Array(list) => list.iter().for_each(assert_no_null),
        Value::Object(entries) => {
            for (name, value) in entries {
                // A merge patch may take a field away.
                if name != "patch" {
                    assert_no_null(value);
                }
            }
        }
        _ => {}
    }
}

/// A plan with these four names, short and trapped and with a loop, so that all of them are said somewhere.
fn named([unit, other, header, back]: [&str; 4]) -> Value {
    json!({
        "title": unit,
        "units": {
            unit: { "takes": { header: 1, "feed": 1 }, "gives": { back: 1, "rest": 1 }, "draws": "2 kW", "build": { other: 3 } },
            format!("{other}2"): { "takes": { back: 1 }, "gives": { header: 1 }, "generates": "1 kW", "count": 4 }
        },
        "supplies": { other: { "header": "feed", "rate": 2 } },
        "demands": { unit: { "header": back, "rate": 5 }, other: { "header": "power", "rate": 7 } },
        "aim": { "run": { unit: 9 } }
    })
}

fn any_name() -> impl Strategy<Value = String> {
    let fallback = |name: String| if name.trim().is_empty() || name == "power" { "n".to_owned() } else { name };
    prop_oneof![
        prop::collection::vec(any::<char>(), 1..40).prop_map(|chars| chars.into_iter().collect::<String>()),
        "[\\p{Cc}\\p{Cf}\\p{Zl}\\p{Zp}<>&'\"]{1,30}",
        "[a-z ]{1,180}",
        "\\PC{1,40}",
    ]
    .prop_map(move |name| {
        // A name holds 200 bytes at most.
        let mut end = name.len().min(180);
        while !name.is_char_boundary(end) {
            end -= 1;
        }
        fallback(name[..end].to_owned())
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(128))]

    #[test]
    fn any_names(a in any_name(), b in any_name(), c in any_name(), d in any_name()) {
        let (c, d) = (format!("{c}h"), format!("{d}b"));
        let plan = named([&a, &b, &c, &d]);
        let Ok(plan) = Plan::from_json(plan.to_string().as_bytes(), &Limits::DEFAULT) else { return Ok(()) };
        let answer = ask(&plan, &Budget::unhurried()).expect("an answer");
        let line = answer.line();
        prop_assert!(!line.is_empty() && line.len() <= LINE_BYTES, "{} bytes", line.len());
        prop_assert!(!line.chars().any(is_invisible), "{line:?}");
        let svg = answer.svg();
        let parsed = roxmltree::Document::parse(&svg);
        prop_assert!(parsed.is_ok(), "{:?}", parsed.err());
        let json: Value = serde_json::from_slice(&answer.json()).expect("JSON");
        assert_no_null(&json);
    }

    #[test]
    fn any_numbers(exponents in prop::array::uniform8(-15_i32..15), rate in 0.0_f64..9.0) {
        let at = |index: usize| rate.max(1e-3) * 10_f64.powi(exponents[index].clamp(-12, 14));
        let plan = json!({
            "units": {
                "a": { "takes": { "x": at(0) }, "gives": { "y": at(1) }, "generates": at(2), "idle_draw": at(3) },
                "b": { "takes": { "y": at(4) }, "gives": { "x": at(5) }, "draws": at(6), "build": { "steel": at(7) } }
            },
            "supplies": { "s": { "header": "x", "rate": at(3), "when": "always" }, "p": { "header": "power" } },
            "headers": { "x": { "line": at(6) }, "y": { "line": at(5), "lines": 3 } },
            "demands": { "d": { "header": "y", "rate": at(7) }, "e": { "header": "power", "rate": at(1) } },
            "outlets": { "x": { "limit": at(2) } },
            "worth": true
        });
        let plan = Plan::from_json(plan.to_string().as_bytes(), &Limits::DEFAULT).expect("a plan");
        match ask(&plan, &Budget::unhurried()) {
            Ok(answer) => {
                let json: Value = serde_json::from_slice(&answer.json()).expect("JSON");
                assert_no_null(&json);
                prop_assert!(roxmltree::Document::parse(&answer.svg()).is_ok());
                prop_assert!(answer.line().len() <= LINE_BYTES);
                prop_assert!(!answer.svg().contains("NaN") && !answer.svg().contains("inf"));
            }
            Err(halt) => prop_assert!(matches!(halt, Halt::BeyondRange { .. }), "{halt}"),
        }
    }

    #[test]
    fn any_stores(exponents in prop::array::uniform9(-15_i32..15), shares in prop::array::uniform5(0.0_f64..=1.0), bits: u16) {
        let at = |index: usize| 3.0 * 10_f64.powi(exponents[index].clamp(-13, 13));
        let flag = |bit: u16| bits >> bit & 1 == 1;
        let when = |bit: u16| if flag(bit) { "always" } else { "wanted" };
        let mut plan = json!({
            "horizon": at(0),
            "units": {
                "pump": { "takes": { "x": at(1) }, "gives": { "y": at(1) }, "draws": at(2), "turndown": 0.5 },
                "burner": { "count": 3, "takes": { "y": at(3) }, "generates": at(4), "idle_draw": at(2) }
            },
            "supplies": {
                "s": { "header": "x", "rate": at(5), "when": when(0), "pattern": { "on": at(6), "every": at(6) * 3.7 } },
                "t": { "header": "x", "rank": 2, "when": when(1) },
                "u": { "header": "y", "rate": at(7), "when": when(2), "rank": 3 }
            },
            "demands": {
                "d": { "header": "y", "rate": at(7), "pattern": { "steps": [ { "for": at(8), "share": 2 }, { "for": at(0), "share": 0.1 } ] } },
                "e": { "header": "power", "rate": at(4) }
            },
            "stores": {
                "a": { "header": "x", "capacity": at(8), "level": shares[0] * at(8), "low": "10 %", "loses": "1 %/day" },
                "b": { "header": "y", "capacity": at(1), "loses": at(3), "high_high": "90 %" },
                "c": { "header": "power", "capacity": at(2), "level": "50 %" }
            },
            "switches": {
                "one": { "watch": "a", "start_at": shares[1] * at(8), "stop_at": shares[2] * at(8), "runs": "pump" },
                "two": { "watch": "c", "start_at": shares[3] * at(2), "stop_at": shares[4] * at(2), "runs": "burner", "on": flag(3) }
            },
            "loops": { "l": { "coolant": "x", "holds": at(1), "charge": at(2), "least": at(3), "expands": shares[0] } }
        });
        if flag(4) {
            plan["supplies"].as_object_mut().expect("an object").remove("t");
        }
        // Numbers that the plan itself refuses are no matter here.
        let Ok(plan) = Plan::from_json(plan.to_string().as_bytes(), &Limits::DEFAULT) else { return Ok(()) };
        match fill_level::ask(&plan, &Budget::new(20_000, &|| false)) {
            Ok(answer) => {
                let mut json: Value = serde_json::from_slice(&answer.json()).expect("JSON");
                drop_never(&mut json);
                assert_no_null(&json);
                let svg = answer.svg();
                prop_assert!(roxmltree::Document::parse(&svg).is_ok());
                prop_assert!(!svg.contains("NaN") && !svg.contains("inf"), "{svg}");
                prop_assert!(answer.line().len() <= LINE_BYTES && !answer.line().contains("unknown"), "{}", answer.line());
            }
            Err(halt) => prop_assert!(matches!(halt, Halt::BeyondRange { .. } | Halt::StepsSpent { .. }), "{halt}"),
        }
    }

    #[test]
    fn any_names_of_stores(a in any_name(), b in any_name(), c in any_name()) {
        let plan = json!({
            "title": a, "horizon": "10 min",
            "units": { format!("{b}u"): { "count": 1, "takes": { format!("{c}h"): 3 } } },
            "supplies": { format!("{a}s"): { "header": format!("{c}h"), "rate": 1, "when": "always" } },
            "demands": { format!("{c}d"): { "header": format!("{c}h"), "rate": 2 } },
            "stores": { &a: { "header": format!("{c}h"), "capacity": 100, "level": 50, "low": 10 } },
            "switches": { &b: { "watch": a, "start_at": 80, "stop_at": 20, "runs": format!("{b}u") } },
            "loops": { &c: { "coolant": a, "holds": 10, "charge": 20 } }
        });
        let Ok(plan) = Plan::from_json(plan.to_string().as_bytes(), &Limits::DEFAULT) else { return Ok(()) };
        let answer = fill_level::ask(&plan, &Budget::unhurried()).expect("an answer");
        let line = answer.line();
        prop_assert!(!line.is_empty() && line.len() <= LINE_BYTES && !line.chars().any(is_invisible), "{line:?}");
        let svg = answer.svg();
        prop_assert!(roxmltree::Document::parse(&svg).is_ok());
    }
}

/// Takes out the fields that may say "never".
fn drop_never(value: &mut Value) {
    match value {
        Value::Array(list) => list.iter_mut().for_each(drop_never),
        Value::Object(entries) => {
            let never = |name: &str| {
                (name.starts_with("first_") || name.starts_with("next_")) && name.ends_with("_s")
                    || name.starts_with("least_capacity_")
                    || name.starts_with("least_start_")
            };
            entries.retain(|name, value| !(never(name) && value.is_null()));
            entries.values_mut().for_each(drop_never);
        }
        _ => {}
    }
}

#[test]
fn a_heat_budget_in_every_form() {
    let path = format!("{}/examples/plans/cooled-hall.json", env!("CARGO_MANIFEST_DIR"));
    let bytes = std::fs::read(path).expect("an example");
    let plan = Plan::from_json(&bytes, &Limits::DEFAULT).expect("a plan");
    let answer = crate::questions::heat_budget::ask(&plan, &Budget::unhurried()).expect("an answer");
    let json: Value = serde_json::from_slice(&answer.json()).expect("JSON");
    assert_eq!(json["question"], json!("heat-budget"));
    // Nothing passes its limit within the horizon, which is said by `null`.
    assert_eq!(json["zones"]["hall"]["first_over_limit_s"], Value::Null);
    assert!(answer.line().len() <= LINE_BYTES);
    let svg = answer.svg();
    roxmltree::Document::parse(&svg).expect("XML");
    assert!(svg.contains(">vapour hall</text>") && svg.contains(">brine loop</text>"));
    assert!(!svg.contains("NaN") && !svg.contains("inf"));
    insta::assert_snapshot!("cooled-hall", svg.replace("><", ">\n<"));
    // A hall without anything that brings or takes heat draws too.
    let idle = json!({ "substances": { "air": { "specific_heat": 1000 } },
                       "zones": { "hall": { "contents": { "air": 1 }, "at": 20 } } });
    let idle = Plan::from_json(idle.to_string().as_bytes(), &Limits::DEFAULT).expect("a plan");
    let idle = crate::questions::heat_budget::ask(&idle, &Budget::unhurried()).expect("an answer");
    roxmltree::Document::parse(&idle.svg()).expect("XML");
    let none = crate::questions::heat_budget::ask(
        &Plan::from_json(b"{}", &Limits::DEFAULT).expect("a plan"),
        &Budget::unhurried(),
    );
    roxmltree::Document::parse(&none.expect("an answer").svg()).expect("XML");
}

#[test]
fn temperatures_are_drawn_to_the_horizon_with_their_extremes() {
    let path = format!("{}/examples/plans/kestrel-deep.json", env!("CARGO_MANIFEST_DIR"));
    let plan = Plan::from_json(&std::fs::read(path).expect("an example"), &Limits::DEFAULT).expect("a plan");
    let answer = crate::questions::heat_budget::ask(&plan, &Budget::unhurried()).expect("an answer");
    assert_eq!(answer.figures.course.zones.len(), answer.figures.zones.len());
    for ((name, zone), curve) in answer.figures.zones.iter().zip(&answer.figures.course.zones) {
        assert_eq!(curve.last().map(|&(at, _)| at), Some(plan.horizon.si()), "{name}");
        let (least, greatest) =
            curve.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), &(_, t)| (low.min(t), high.max(t)));
        // Within a stretch the curve is told by points, so a peak may lie between two of them, but not beyond.
        assert!(least >= zone.least_c - 1e-9 && greatest <= zone.greatest_c + 1e-9, "{name}: {least} to {greatest}");
        let swing = zone.greatest_c - zone.least_c;
        assert!(greatest - least >= 0.98 * swing - 1e-9, "{name}: {least} to {greatest} of {swing}");
        assert!(curve.len() <= 700, "{name}: {} points", curve.len());
    }
    assert!(answer.svg().contains(">50 day<"));
}

/// Of many zones those in trouble are drawn, and of each who brings its heat is told by name, however narrow the panel.
#[test]
fn many_zones_are_drawn_by_trouble_and_told_by_name() {
    let mut plan = json!({
        "ambient": "10 °C", "horizon": "1 h",
        "substances": { "air": { "specific_heat": 1000 } },
        "units": { "grinder": { "count": 1, "sheds": "2 kW", "zone": "workshop" } },
        "aim": { "run": { "grinder": 1 } },
        "zones": { "workshop": { "contents": { "air": "50 kg" }, "at": "20 °C", "limit": "40 °C",
                                 "walls": [{ "to": "ambient", "conductance": "10 W/K" }] } },
    });
    for zone in ["attic", "cellar", "pantry", "porch", "vault"] {
        plan["zones"][zone] = json!({ "contents": { "air": "50 kg" }, "at": "20 °C",
                                      "walls": [{ "to": "ambient", "conductance": "1 W/K" }] });
    }
    plan["zones"]["vault"]["at"] = json!("60 °C");
    plan["zones"]["vault"]["limit"] = json!("30 °C");
    let plan = Plan::from_json(plan.to_string().as_bytes(), &Limits::DEFAULT).expect("a plan");
    let svg = crate::questions::heat_budget::ask(&plan, &Budget::unhurried()).expect("an answer").svg();
    for word in ["workshop", "vault", "grinder", "+2 kW", "2 more zones"] {
        assert!(svg.contains(&format!(">{word}</text>")), "{word}: {svg}");
    }
}
