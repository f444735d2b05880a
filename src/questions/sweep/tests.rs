//! What a sweep tells of plans whose answers a hand can check.

use serde_json::{Value, json};

use super::{SweepAnswer, SweepRow, ask};
use crate::budget::{Budget, Halt};
use crate::plan::inquiry::Sweep;
use crate::plan::{At, Limits, ReadError};
use crate::questions::Refused;
use crate::questions::answer::Verdict;

fn asked(document: &Value) -> Result<SweepAnswer, Refused> {
    let sweep = Sweep::from_json(document.to_string().as_bytes(), &Limits::DEFAULT)?;
    ask(&sweep, &Limits::DEFAULT, &Budget::unhurried())
}

/// Melters of 40 g/s for a station that asks for 150 g/s.
fn melters() -> Value {
    json!({
        "units": { "melter": { "takes": { "ice": "40 g/s" }, "gives": { "water": "40 g/s" } } },
        "supplies": { "face": { "header": "ice", "rate": "160 g/s" } },
        "demands": { "station": { "header": "water", "rate": "150 g/s" } }
    })
}

fn number(row: &SweepRow, at: &str) -> f64 {
    row.figures.get(at).and_then(Value::as_f64).unwrap_or_else(|| panic!("no {at} in {row:?}"))
}

#[test]
fn each_value_has_its_row_in_order() {
    let read = ["/units/melter/count", "/demands/station/cut_share"];
    let answer = asked(&json!({
        "plan": melters(), "question": "flow-balance", "at": "/demands/station/rate",
        "from": "100 g/s", "to": "200 g/s", "steps": 6, "read": read
    }))
    .expect("an answer");
    let values: Vec<&Value> = answer.figures.rows.iter().map(|row| &row.value).collect();
    assert_eq!(values, ["100 g/s", "120 g/s", "140 g/s", "160 g/s", "180 g/s", "200 g/s"]);
    // 100 ÷ 40 = 2.5 → 3 … 160 ÷ 40 = 4; beyond, the face gives no more.
    let counts: Vec<f64> = answer.figures.rows.iter().map(|row| number(row, read[0])).collect();
    assert_eq!(counts, [3.0, 3.0, 4.0, 4.0, 4.0, 4.0]);
    let cut: Vec<f64> = answer.figures.rows.iter().map(|row| number(row, read[1])).collect();
    for (cut, expected) in cut.iter().zip([0.0, 0.0, 0.0, 0.0, 20.0 / 180.0, 40.0 / 200.0]) {
        assert!((cut - expected).abs() < 1e-9, "{cut} is not {expected}");
    }
    assert_eq!(answer.figures.rows[5].verdict, Some(Verdict::Fails));
    assert_eq!(answer.verdict, Verdict::HoldsWithCautions);
    assert_eq!(answer.figures.unit.as_deref(), Some("g/s"));
    assert!(answer.say.contains("fails from 180 g/s to 200 g/s"), "{}", answer.say);
}

#[test]
fn where_only_whole_numbers_can_stand_values_are_whole() {
    let document = json!({
        "plan": melters(), "question": "flow-balance", "at": "/units/melter/count", "from": 1, "to": 5, "steps": 9,
        "read": ["/units/melter/count"]
    });
    let answer = asked(&document).expect("an answer");
    let values: Vec<&Value> = answer.figures.rows.iter().map(|row| &row.value).collect();
    assert_eq!(values, [&json!(1), &json!(2), &json!(3), &json!(4), &json!(5)]);
    assert!(answer.figures.rows.iter().all(|row| row.unanswered.is_none()), "{answer:?}");
}

#[test]
fn a_member_that_is_not_there_is_made() {
    let document = json!({
        "plan": melters(), "question": "flow-balance", "at": "/outlets/water/limit", "values": ["1 g/s", 0]
    });
    assert!(asked(&document).is_ok());
    let inside = json!({
        "plan": melters(), "question": "flow-balance", "at": "/supplies/face/rate/x", "values": [1]
    });
    let Err(Refused::Read(ReadError::Faults(faults))) = asked(&inside) else { panic!("faults") };
    assert_eq!(faults.listed[0].at, At::Pointer("/at".to_owned()));
    let mistyped = json!({
        "plan": melters(), "question": "flow-balance", "at": "/suplies/face/rate", "values": [1, 2]
    });
    let Err(Refused::Read(ReadError::Faults(faults))) = asked(&mistyped) else { panic!("faults") };
    assert_eq!((faults.total, &faults.listed[0].at), (1, &At::Pointer("/at".to_owned())));
    assert_eq!(faults.listed[0].near.as_deref(), Some("supplies"));
}

#[test]
fn a_value_that_makes_no_plan_spoils_no_other() {
    let document = json!({
        "plan": melters(), "question": "flow-balance", "at": "/demands/station/rate", "values": ["100 g/s", "3 m", -1, "80 g/s"]
    });
    let answer = asked(&document).expect("an answer");
    let verdicts: Vec<_> = answer.figures.rows.iter().map(|row| row.verdict).collect();
    assert_eq!(verdicts, [Some(Verdict::Holds), None, None, Some(Verdict::Holds)]);
    let unanswered = answer.figures.rows[1].unanswered.as_ref().expect("a reason");
    assert_eq!((unanswered.code, unanswered.faults[0].pointer.as_str()), ("unreadable", "/values/1"));
    let found: Vec<_> = answer.findings.iter().map(|finding| (finding.code, finding.at.as_str())).collect();
    assert_eq!(found, [("value-unanswered", "/values/1"), ("value-unanswered", "/values/2")]);
    assert!(answer.figures.axis.numbers.is_empty(), "what is no number has no place on an axis");
}

#[test]
fn a_figure_that_no_answer_has_is_told() {
    let document = json!({
        "plan": melters(), "question": "flow-balance", "at": "/demands/station/rate", "values": [0.1],
        "read": ["/units/melter/count", "/units/smelter/count", "/units"]
    });
    let answer = asked(&document).expect("an answer");
    let found: Vec<_> = answer.findings.iter().map(|finding| (finding.code, finding.at.as_str())).collect();
    assert_eq!(found, [("no-such-figure", "/read/1"), ("no-such-figure", "/read/2")]);
}

#[test]
fn never_is_null() {
    let document = json!({
        "plan": {
            "horizon": "10 min",
            "demands": { "yard": { "header": "water", "rate": 1 } },
            "stores": { "tank": { "header": "water", "capacity": 1000, "level": 1000 } }
        },
        "question": "fill-level", "at": "/stores/tank/level", "values": [300, 900], "read": ["/stores/tank/first_empty_s"]
    });
    let answer = asked(&document).expect("an answer");
    let read: Vec<_> =
        answer.figures.rows.iter().map(|row| row.figures["/stores/tank/first_empty_s"].clone()).collect();
    assert_eq!(read, [json!(300.0), Value::Null]);
}

#[test]
fn a_stop_ends_it() {
    let document =
        json!({ "plan": melters(), "question": "flow-balance", "at": "/demands/station/rate", "values": [1] });
    let sweep = Sweep::from_json(document.to_string().as_bytes(), &Limits::DEFAULT).expect("a sweep");
    let stopped = ask(&sweep, &Limits::DEFAULT, &Budget::new(1_000, &|| true));
    assert_eq!(stopped, Err(Refused::Halt(Halt::Stopped)));
}
