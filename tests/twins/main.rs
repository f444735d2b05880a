//! Every code of every question has a plan that raises it and a twin that does not: one number, or one field, away.
//!
//! The list is held against the codes themselves, so that a new code without a pair fails here.

#![allow(clippy::needless_pass_by_value, reason = "documents are made where they are passed")]

mod fill;
mod floor;
mod flow;
mod heat;

use std::collections::BTreeSet;

use hotwell::budget::Budget;
use hotwell::plan::{Limits, Plan};
use hotwell::questions::answer::{Code, Weight};
use hotwell::questions::fill_level::{self, FillLevel};
use hotwell::questions::flow_balance::{self, FlowBalance};
use hotwell::questions::heat_budget::{HeatBudget, HeatCode};
use hotwell::questions::whole_plan::{RowCode, WholePlan};
use hotwell::questions::{Detail, Document, Json};
use serde_json::{Map, Value, json};

/// Who finds it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Of {
    Flow,
    Heat,
    Fill,
    Floor,
}

/// How far the twin is away.
enum Away {
    /// A number, or a text that is a number and a unit of measure, stands in another's place.
    Number(&'static str, Value),
    /// A field that the twin does not have.
    Without(&'static str),
    /// A field that only the twin has.
    With(&'static str, Value),
}

/// Events allowed where that is the point.
const FEW_EVENTS: u64 = 2_000;

fn plan(document: &Value) -> Plan {
    let read = Plan::from_json(document.to_string().as_bytes(), &Limits::default());
    read.unwrap_or_else(|fault| panic!("{fault} in {document}"))
}

/// The codes of what a question finds.
fn found(of: Of, document: &Value) -> Vec<&'static str> {
    let plan = plan(document);
    let few = Budget::new(FEW_EVENTS, &|| false);
    let budget = if document["title"] == "few events" { few } else { Budget::unhurried() };
    let findings = match of {
        Of::Flow => FlowBalance::ask(&plan, &budget).expect("an answer").findings,
        Of::Heat => HeatBudget::ask(&plan, &budget).expect("an answer").findings,
        Of::Fill => FillLevel::ask(&plan, &budget).expect("an answer").findings,
        Of::Floor => {
            let answer = WholePlan::ask(&plan, &budget).expect("an answer");
            return answer
                .findings
                .iter()
                .filter(|found| found.question == "floor")
                .map(|found| found.told.code)
                .collect();
        }
    };
    findings.into_iter().map(|finding| finding.code).collect()
}

fn twin(document: &Value, away: &Away) -> Value {
    let mut other = document.clone();
    match away {
        Away::Number(at, value) => {
            let place = other.pointer_mut(at).unwrap_or_else(|| panic!("{at} in {document}"));
            let is_number = |value: &Value| {
                value.is_number()
                    || value.as_str().is_some_and(|text| text.starts_with(|c: char| c.is_ascii_digit() || c == '-'))
            };
            assert!(is_number(place) && is_number(value) && place != value, "{at}");
            *place = value.clone();
        }
        Away::Without(at) => {
            let (above, name) = at.rsplit_once('/').expect("a pointer");
            let object = other.pointer_mut(above).and_then(Value::as_object_mut).expect("an object");
            assert!(object.remove(name).is_some(), "{at}");
        }
        Away::With(name, value) => {
            assert!(other.get(name).is_none(), "{name}");
            other[name] = value.clone();
        }
    }
    other
}

/// A code, a plan that raises it, and how far away the twin is that does not.
type Pair = (&'static str, Value, Away);

fn pairs() -> Vec<(Of, &'static str, Value, Away)> {
    let of = |of: Of, rows: Vec<Pair>| rows.into_iter().map(move |(code, document, away)| (of, code, document, away));
    of(Of::Flow, flow::pairs())
        .chain(of(Of::Heat, heat::pairs()))
        .chain(of(Of::Fill, fill::pairs()))
        .chain(of(Of::Floor, floor::pairs()))
        .collect()
}

#[test]
fn every_code_has_a_plan_that_raises_it_and_a_twin_that_does_not() {
    let mut wrong = Vec::new();
    for (of, code, document, away) in pairs() {
        if !found(of, &document).contains(&code) {
            wrong.push(format!("{of:?} {code} is not raised: {:?}", found(of, &document)));
        }
        let other = twin(&document, &away);
        if found(of, &other).contains(&code) {
            wrong.push(format!("{of:?} {code} is raised by the twin"));
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}

#[test]
fn what_cannot_be_listed_is_counted_from_the_two_hundred_and_first_on() {
    let demands = |count: usize| {
        let all: Map<String, Value> =
            (0..count).map(|at| (format!("yard {at}"), json!({ "header": "water", "rate": 1 }))).collect();
        json!({ "demands": all, "stores": { "tank": { "header": "water", "capacity": 1 } } })
    };
    let rows = |count: usize| {
        let all: Vec<Value> = (0..count)
            .map(|at| json!({ "name": format!("row {at}"), "width": 1, "place": { "kiln": 1 }, "height": 1, "symmetric": true }))
            .collect();
        let units: Map<String, Value> = (0..count)
            .map(|at| (format!("kiln {at}"), json!({ "count": 1, "width": 3 })))
            .chain([("kiln".to_owned(), json!({ "count": 0, "width": 3 }))])
            .collect();
        let mut rows = all;
        for (at, row) in rows.iter_mut().enumerate() {
            row["place"] = json!({ (format!("kiln {at}")): 1 });
        }
        json!({ "units": units, "floor": { "rows": rows } })
    };
    for (of, make) in [
        (Of::Flow, &flow::mills as &dyn Fn(usize) -> Value),
        (Of::Heat, &heat::hot_presses),
        (Of::Fill, &demands),
        (Of::Floor, &rows),
    ] {
        assert!(found(of, &make(201)).contains(&"more-findings"), "{of:?}");
        assert!(!found(of, &make(150)).contains(&"more-findings"), "{of:?}");
    }
}

#[test]
fn no_code_is_left_out() {
    let all = |of: Of, codes: Vec<&'static str>| codes.into_iter().map(move |code| (of, code));
    let known: BTreeSet<(Of, &str)> =
        all(Of::Flow, flow_balance::FindingCode::ALL.iter().map(|code| code.as_str()).collect())
            .chain(all(Of::Heat, HeatCode::ALL.iter().map(|code| code.as_str()).collect()))
            .chain(all(Of::Fill, fill_level::FindingCode::ALL.iter().map(|code| code.as_str()).collect()))
            .chain(all(Of::Floor, RowCode::ALL.iter().map(|code| code.as_str()).collect()))
            .filter(|(_, code)| *code != "more-findings")
            .collect();
    let paired: BTreeSet<(Of, &str)> = pairs().iter().map(|(of, code, ..)| (*of, *code)).collect();
    assert_eq!(known, paired);
    assert_eq!(pairs().len(), known.len(), "a pair twice");
}

/// What a single question finds the whole plan finds too, under the same code or as a part of what has the same cause.
#[test]
fn the_whole_plan_finds_what_its_questions_find() {
    for (of, code, document, _) in pairs() {
        if of == Of::Floor || code == "nothing-to-rehearse" || code == "budget-spent" {
            continue;
        }
        let (text, plan) = (document.to_string(), plan(&document));
        let limits = Limits::default();
        let asked =
            Document { plan: &plan, json: Json::Bytes(text.as_bytes()), limits: &limits, detail: Detail::Figures };
        let answer = WholePlan::ask_of(&asked, &Budget::unhurried()).expect("an answer");
        let is_there = answer
            .findings
            .iter()
            .any(|finding| finding.told.code == code || finding.also.iter().any(|also| also.code == code));
        // Heat is asked where there are zones; a product may freeze without any.
        assert!(is_there || plan.zones.is_empty() && of == Of::Heat, "{of:?} {code}: {}", answer.say);
    }
}

/// Failures and cautions whose remedy is in words, because only the author of the plan knows what it would have to have.
const IN_WORDS: &[&str] = &[
    "balance-open",
    "cooling-runs-away",
    "heat-open",
    "mass-not-closed",
    "no-limit",
    "nothing-asked",
    "runs-dry",
    "several-rests",
    "stream-heat-unknown",
    "switch-store-nothing-fills",
];

/// Each failure and each caution of the whole plan comes with a remedy that was tried out, or says why it was not.
#[test]
fn every_remedy_is_tried_or_says_why_not() {
    let mut wrong = Vec::new();
    for (of, code, document, _) in pairs() {
        if document["title"] == "few events" {
            continue;
        }
        let (text, plan, limits) = (document.to_string(), plan(&document), Limits::default());
        let asked =
            Document { plan: &plan, json: Json::Bytes(text.as_bytes()), limits: &limits, detail: Detail::Figures };
        let answer = WholePlan::ask_of(&asked, &Budget::unhurried()).expect("an answer");
        for found in answer.findings.iter().map(|found| &found.told).filter(|found| found.weight > Weight::Note) {
            let (is_in_words, tried) = match &found.remedy {
                Some(remedy) => (remedy.told.patch.is_none(), (remedy.trial.verified, remedy.trial.untried)),
                None => (false, (None, None)),
            };
            let is_right = match tried {
                (Some(true), None) => true,
                (Some(false), None) => found.remedy.as_ref().is_some_and(|remedy| remedy.trial.remains.is_some()),
                (None, Some(_)) => !is_in_words || IN_WORDS.contains(&found.code),
                _ => false,
            };
            if !is_right {
                wrong.push(format!("{of:?} {code}: {} {:?}", found.code, found.remedy));
            }
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}
