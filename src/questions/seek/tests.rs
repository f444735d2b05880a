//! Searches whose answers a hand can check.

use serde_json::{Value, json};

use super::{HoldsWhere, SeekAnswer, ask};
use crate::budget::Budget;
use crate::plan::inquiry::Seek;
use crate::plan::{At, Limits, ReadError};
use crate::questions::Refused;
use crate::questions::answer::Verdict;

fn asked(document: &Value) -> Result<SeekAnswer, Refused> {
    let seek = Seek::from_json(document.to_string().as_bytes(), &Limits::DEFAULT)?;
    ask(&seek, &Limits::DEFAULT, &Budget::unhurried())
}

fn found(document: &Value) -> SeekAnswer {
    asked(document).unwrap_or_else(|refused| panic!("{refused}"))
}

/// Water of a face of ice for a station, through at most four melters of 40 g/s.
fn melters() -> Value {
    json!({
        "units": { "melter": { "count": 4, "takes": { "ice": "40 g/s" }, "gives": { "water": "40 g/s" } } },
        "supplies": { "face": { "header": "ice", "rate": "137 g/s" } },
        "demands": { "station": { "header": "water", "rate": "97.3 g/s" } }
    })
}

fn with(more: &Value) -> Value {
    let mut document = json!({
        "plan": melters(), "question": "flow-balance", "at": "/demands/station/rate", "from": "10 g/s", "to": "200 g/s",
        "want": { "absent": "demand-short" }, "find": "largest", "tolerance": "0.01 g/s"
    });
    document.as_object_mut().expect("an object").extend(more.as_object().expect("an object").clone());
    document
}

#[test]
fn the_largest_demand_is_what_the_face_gives() {
    let answer = found(&with(&json!({})));
    let value = answer.figures.found.as_ref().expect("a value");
    assert_eq!(value.value, "137 g/s", "{answer:?}");
    assert_eq!((answer.figures.fails_at, answer.figures.holds), (Some(137.01), HoldsWhere::Below));
    assert_eq!(answer.verdict, Verdict::Holds);
    assert!(answer.say.starts_with("137 g/s: the largest"), "{}", answer.say);
    let smallest = found(&with(&json!({"find": "smallest"})));
    assert_eq!(smallest.figures.found.expect("a value").value, "10 g/s");
    assert_eq!(smallest.figures.fails_at, None);
}

#[test]
fn counts_are_whole() {
    // 97.3 ÷ 40 = 2.43, so three are needed.
    let answer = found(&with(
        &json!({"at": "/units/melter/count", "from": 0, "to": 1000, "find": "smallest", "tolerance": 0.5}),
    ));
    assert_eq!(answer.figures.found.as_ref().map(|found| found.value.clone()), Some(json!(3)), "{answer:?}");
    assert_eq!((answer.figures.fails_at, answer.figures.tolerance), (Some(2.0), 1.0));
}

#[test]
fn a_figure_can_be_bounded() {
    let want = json!({"figure": "/units/melter/needed", "at_most": 2.5});
    let answer = found(&with(&json!({"want": want})));
    let value = answer.figures.found.expect("a value");
    assert_eq!(value.value, "100 g/s", "2.5 × 40 g/s");
    assert!((value.figure.expect("a figure") - 2.5).abs() < 1e-9);
    let want = json!({"figure": "/supplies/face/drawn_kg_s", "at_least": "50 g/s"});
    let value = found(&with(&json!({"want": want, "find": "smallest"}))).figures.found.expect("a value");
    assert_eq!(value.value, "50 g/s");
}

#[test]
fn everywhere_and_nowhere_are_told() {
    let everywhere = found(&with(&json!({"to": "130 g/s"})));
    assert_eq!((everywhere.figures.holds, everywhere.verdict), (HoldsWhere::Everywhere, Verdict::Holds));
    assert_eq!(everywhere.figures.found.expect("a value").value, "130 g/s");
    assert_eq!(everywhere.findings[0].code, "holds-everywhere");
    let nowhere = found(&with(&json!({"from": "138 g/s"})));
    assert_eq!((nowhere.figures.holds, nowhere.verdict), (HoldsWhere::Nowhere, Verdict::Fails));
    assert_eq!((nowhere.figures.found, nowhere.findings[0].code), (None, "not-found"));
}

#[test]
fn what_is_not_monotone_is_told_with_its_parts() {
    // A pump that starts below a level and stops above another: between them is a window for each of two wishes.
    let want = json!({"figure": "/units/melter/utilisation_share", "at_least": 0.5, "at_most": 0.75});
    let plan = json!({
        "units": { "melter": { "takes": { "ice": "40 g/s" }, "gives": { "water": "40 g/s" } } },
        "supplies": { "face": { "header": "ice" } },
        "demands": { "station": { "header": "water", "rate": "1 g/s" } }
    });
    // One melter is half to three quarters used from 20 to 30 g/s, two are more than that or less until 60 g/s: 1.02 ÷ 2 = 0.51.
    let answer = found(&with(
        &json!({"plan": plan, "from": "1 g/s", "to": "80 g/s", "samples": 80, "want": want, "find": "smallest"}),
    ));
    assert_eq!((answer.figures.holds, answer.verdict), (HoldsWhere::Several, Verdict::HoldsWithCautions));
    assert_eq!(answer.findings[0].code, "not-monotone");
    let ranges: Vec<(f64, f64)> = answer.figures.ranges.iter().map(|part| (part.from, part.to)).collect();
    assert_eq!(ranges, [(20.0, 30.0), (41.0, 60.0)]);
    assert_eq!(answer.figures.found.expect("a value").value, "20 g/s");
}

#[test]
fn never_is_later_than_any_time() {
    let document = json!({
        "plan": {
            "horizon": "10 min",
            "demands": { "yard": { "header": "water", "rate": 1 } },
            "stores": { "tank": { "header": "water", "capacity": 1000, "level": 1000 } }
        },
        "question": "fill-level", "at": "/stores/tank/level", "from": 0, "to": 1000,
        "want": { "figure": "/stores/tank/first_empty_s", "at_least": "5 min" }, "find": "smallest", "tolerance": 1
    });
    assert_eq!(found(&document).figures.found.expect("a value").value, json!(300));
}

#[test]
fn a_code_that_is_never_found_is_refused_with_the_near_one() {
    let refused = asked(&with(&json!({"want": {"absent": "demand-shrot"}})));
    let Err(Refused::Read(ReadError::Faults(faults))) = refused else { panic!("{refused:?}") };
    assert_eq!(faults.listed[0].at, At::Pointer("/want/absent".to_owned()));
    assert_eq!(faults.listed[0].near.as_deref(), Some("demand-short"));
}

#[test]
fn a_figure_that_is_nowhere_is_told() {
    let want = json!({"figure": "/units/smelter/needed", "at_most": 2.5});
    let answer = found(&with(&json!({"want": want})));
    assert!(answer.findings.iter().any(|finding| finding.code == "no-such-figure"), "{:?}", answer.findings);
}

#[test]
fn values_that_make_no_plan_hold_nothing() {
    let answer = found(&with(&json!({"from": "-20 g/s", "to": "130 g/s", "find": "smallest", "samples": 16})));
    assert_eq!(answer.figures.found.expect("a value").value, "0 g/s", "a demand is not negative");
    assert!(answer.findings.iter().any(|finding| finding.code == "value-unanswered"));
    let refused = asked(&with(&json!({"from": "-20 g/s", "to": "-1 g/s"})));
    let Err(Refused::Read(ReadError::Faults(faults))) = refused else { panic!("{refused:?}") };
    assert_eq!(faults.listed[0].at, At::Pointer("/from".to_owned()));
}
