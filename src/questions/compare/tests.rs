//! Comparisons whose outcome a hand can check.

use serde_json::{Value, json};

use super::{CompareAnswer, ask};
use crate::budget::Budget;
use crate::plan::Limits;
use crate::plan::inquiry::Compare;
use crate::questions::answer::Verdict;

fn asked(document: &Value) -> CompareAnswer {
    let compare = Compare::from_json(document.to_string().as_bytes(), &Limits::DEFAULT).expect("a comparison");
    ask(&compare, &Limits::DEFAULT, &Budget::unhurried()).expect("an answer")
}

/// A face of ice that gives less than the station asks for.
fn short() -> Value {
    json!({
        "units": { "melter": { "takes": { "ice": "40 g/s" }, "gives": { "water": "40 g/s" }, "draws": "1 kW" } },
        "supplies": { "face": { "header": "ice", "rate": "100 g/s" }, "bus": { "header": "power" } },
        "demands": { "station": { "header": "water", "rate": "150 g/s" } }
    })
}

fn with(variants: &Value, figures: Option<Value>) -> Value {
    let mut document = json!({ "plan": short(), "question": "flow-balance", "variants": variants });
    if let Some(figures) = figures {
        document["figures"] = figures;
    }
    document
}

#[test]
fn the_verdict_comes_first_and_figures_last() {
    let answer = asked(&with(
        &json!({
            "second face": { "supplies": { "second": { "header": "ice", "rate": "100 g/s" } } },
            "modest": { "demands": { "station": { "rate": "90 g/s" } } },
            "thrifty": { "supplies": { "second": { "header": "ice" } }, "units": { "melter": { "draws": "500 W" } } }
        }),
        Some(json!([{ "at": "/power/net_w", "better": "more" }])),
    ));
    // 90 ÷ 40 and 150 ÷ 40 melters of 1 kW draw 2.25 kW and 3.75 kW, of 500 W 1.875 kW.
    let order: Vec<(&str, usize)> = answer.figures.order.iter().map(|placed| (&*placed.name, placed.place)).collect();
    assert_eq!(order, [("thrifty", 1), ("modest", 2), ("second face", 3), ("as it is", 4)]);
    assert_eq!((&*answer.figures.best, answer.verdict), ("thrifty", Verdict::Holds));
    assert_eq!(answer.figures.why.as_deref(), Some("holds, where \"as it is\" fails"));
    assert_eq!(answer.figures.order[0].why.as_deref(), Some("power net -1.875 kW, and -2.25 kW of \"modest\""));
    let figure = &answer.figures.compared["/power/net_w"];
    assert_eq!(figure.best.iter().map(|name| &**name).collect::<Vec<_>>(), ["thrifty"]);
    let changed = answer.figures.variants.get("modest").expect("a variant");
    assert!((changed.changes["/power/net_w"].by - 250.0).abs() < 1e-6, "-2.25 kW less -2.5 kW: {changed:?}");
    let gone: Vec<_> = changed.mends.iter().map(|gone| (gone.code, gone.at.as_str())).collect();
    assert_eq!(gone, [("demand-short", "/demands/station/rate"), ("supply-short", "/supplies/face/rate")]);
    assert!(changed.brings.is_empty() && changed.same == Some(false));
}

#[test]
fn a_variant_that_is_no_plan_spoils_no_other_and_leads_to_its_patch() {
    let answer = asked(&with(
        &json!({
            "mistyped": { "supplies": { "face": { "rat": 1 } } },
            "without": { "supplies": null, "units": { "melter": { "zone": "hall" } } },
            "fine": { "demands": { "station": null } }
        }),
        None,
    ));
    let faults = |name: &str| -> Vec<(String, &str)> {
        let unanswered = answer.figures.variants.get(name).expect(name).unanswered.as_ref().expect("no answer");
        unanswered.faults.iter().map(|fault| (fault.pointer.clone(), fault.code)).collect()
    };
    assert_eq!(faults("mistyped"), [("/variants/mistyped/supplies/face/rat".to_owned(), "unknown-field")]);
    assert_eq!(faults("without"), [("/variants/without/units/melter/zone".to_owned(), "unknown-name")]);
    let told: Vec<_> = answer.findings.iter().map(|finding| (finding.code, finding.at.as_str())).collect();
    assert_eq!(told, [("variant-unanswered", "/variants/mistyped"), ("variant-unanswered", "/variants/without")]);
    assert_eq!(answer.figures.variants.get("fine").expect("a variant").verdict, Some(Verdict::HoldsWithCautions));
    assert!(answer.say.contains("2 without an answer"), "{}", answer.say);
}

#[test]
fn what_a_patch_takes_away_is_told_where_the_plan_misses_it() {
    let mut document = with(&json!({ "cold": { "zones": null } }), None);
    document["plan"]["zones"] = json!({ "hall": { "contents": { "steel": "1 t" }, "at": "20 °C" } });
    document["plan"]["substances"] = json!({ "steel": { "specific_heat": "500 J/(kg·K)" } });
    document["plan"]["units"]["melter"]["zone"] = json!("hall");
    let answer = asked(&document);
    let cold = answer.figures.variants.get("cold").expect("a variant").unanswered.as_ref().expect("no answer");
    assert_eq!(cold.faults[0].pointer, "/plan/units/melter/zone");
}

#[test]
fn a_variant_that_takes_too_long_has_no_answer_and_the_others_have() {
    let document = json!({
        "plan": {}, "question": "flow-balance",
        "variants": {
            "heavy": {
                "units": {
                    "a": { "takes": { "x": 1 }, "gives": { "y": 1 } },
                    "b": { "takes": { "x": 2 }, "gives": { "y": 1 } }
                },
                "supplies": { "x": { "header": "x", "rate": 1 } },
                "aim": { "most": { "y": 1 } }
            },
            "light": { "title": "light" }
        }
    });
    let compare = Compare::from_json(document.to_string().as_bytes(), &Limits::DEFAULT).expect("a comparison");
    let answer = ask(&compare, &Limits::DEFAULT, &Budget::new(0, &|| false)).expect("an answer");
    let heavy = answer.figures.variants.get("heavy").expect("a variant").unanswered.as_ref().expect("no answer");
    assert_eq!((heavy.code, heavy.faults.len()), ("step-limit", 0));
    assert!(answer.figures.variants.get("light").expect("a variant").verdict.is_some());
    assert_eq!(answer.figures.order.len(), 2);
}

#[test]
fn equals_share_a_place() {
    let answer = asked(&with(&json!({ "same": {}, "title": { "title": "another" } }), None));
    assert!(answer.figures.order.iter().all(|placed| placed.place == 1 && placed.why.is_none()));
    assert_eq!((&*answer.figures.best, answer.figures.why), ("as it is", None));
    assert_eq!(answer.figures.variants.get("same").expect("a variant").same, Some(true));
    assert_eq!(answer.figures.variants.get("title").expect("a variant").same, Some(false));
    assert!(answer.say.starts_with("All 3 are alike"), "{}", answer.say);
    assert!(answer.figures.compared.values().all(|figure| figure.best.is_empty()));
}
