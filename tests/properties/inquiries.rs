//! What holds for every plan that is compared, swept, searched and asked in batches.

use hotwell::budget::Budget;
use hotwell::forms::Shown;
use hotwell::plan::inquiry::{Batch, Compare, Seek, Sweep};
use hotwell::plan::{Limits, Plan};
use hotwell::questions::answer::Verdict;
use hotwell::questions::flow_balance::FlowBalance;
use hotwell::questions::seek::SeekAnswer;
use hotwell::questions::sweep::SweepAnswer;
use hotwell::questions::{batch, compare, seek, sweep};
use proptest::prelude::*;
use proptest::test_runner::RngSeed;
use serde_json::{Value, json};

use crate::support::plant::{Shape, plant};
use crate::support::threads::Threads;
use crate::support::works::{Shape as WorksShape, works};

const LIMITS: Limits = Limits::DEFAULT;

fn swept(document: &Value, budget: &Budget<'_>) -> SweepAnswer {
    let sweep = Sweep::from_json(document.to_string().as_bytes(), &LIMITS).expect("a sweep");
    sweep::ask(&sweep, &LIMITS, budget).expect("an answer")
}

fn sought(document: &Value) -> SeekAnswer {
    let seek = Seek::from_json(document.to_string().as_bytes(), &LIMITS).expect("a search");
    seek::ask(&seek, &LIMITS, &Budget::unhurried()).expect("an answer")
}

/// Holds that an answer has a line and a picture.
fn drawn(answer: &impl Shown) {
    let (line, svg) = (answer.line(), answer.svg());
    assert!(!line.is_empty() && line.len() <= 400 && !line.chars().any(char::is_control), "{line:?}");
    assert!(!svg.contains("NaN") && !svg.contains("inf"), "{svg}");
    let document = roxmltree::Document::parse(&svg).expect("XML");
    for text in document.descendants().filter(|node| node.has_tag_name("text")) {
        let at = |name: &str| text.attribute(name).expect(name).parse::<f64>().expect(name);
        assert!(
            (0.0..=800.0).contains(&at("x")) && (0.0..=600.0).contains(&at("y")),
            "{:?} is not on the sheet",
            text.text()
        );
    }
}

/// The same document with the entries of every object in the opposite order.
fn reversed(document: &Value) -> Value {
    match document {
        Value::Object(entries) => entries
            .iter()
            .rev()
            .map(|(name, value)| (name.clone(), reversed(value)))
            .collect::<serde_json::Map<_, _>>()
            .into(),
        Value::Array(items) => items.iter().map(reversed).collect(),
        other => other.clone(),
    }
}

/// The first supply and the first demand of a plant.
fn ends(plan: &Value) -> (String, String) {
    let first = |section: &str| plan[section].as_object().expect(section).keys().next().expect(section).clone();
    (first("supplies"), first("demands"))
}

/// The property above would mean little if searches mostly ended at an end of the range.
#[test]
fn most_searches_for_the_largest_demand_turn_within_the_range() {
    let turned = (0..12).filter(|&seed| {
        let plan = plant(seed, Shape { units: 12, scarce: false });
        let (_, demand) = ends(&plan);
        let rate = plan["demands"][&demand]["rate"].as_f64().expect("a rate");
        let found = sought(&json!({
            "plan": plan, "question": "flow-balance", "at": format!("/demands/{demand}/rate"), "from": rate * 0.01, "to": rate * 50.0,
            "want": { "absent": "demand-short" }, "find": "largest"
        }));
        found.figures.found.is_some() && found.figures.fails_at.is_some()
    });
    let turned = turned.count();
    assert!(turned >= 8, "{turned} of 12");
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, rng_seed: RngSeed::Fixed(11), failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn a_plan_beside_itself_is_all_equal(seed in any::<u64>(), units in 4_usize..40, chains in 1_usize..4) {
        let running = works(seed, WorksShape { chains, together: true, powered: false });
        for (question, plan) in [("flow-balance", plant(seed, Shape { units, scarce: true })), ("fill-level", running)] {
            let document = json!({ "plan": plan, "question": question, "variants": { "same": {}, "again": {} } });
            let compared = Compare::from_json(document.to_string().as_bytes(), &LIMITS).expect("a comparison");
            let answer = compare::ask(&compared, &LIMITS, &Budget::unhurried()).expect("an answer");
            prop_assert_eq!(&*answer.figures.best, "as it is");
            prop_assert!(answer.figures.why.is_none() && answer.findings.is_empty());
            prop_assert!(answer.figures.order.iter().all(|placed| placed.place == 1 && placed.why.is_none()));
            prop_assert!(answer.figures.compared.values().all(|figure| figure.best.is_empty()));
            for (name, variant) in &answer.figures.variants {
                prop_assert_eq!(variant.same, Some(true), "{}", name);
                prop_assert!(variant.changes.is_empty() && variant.brings.is_empty() && variant.mends.is_empty());
            }
        }
    }

    #[test]
    fn the_order_of_the_document_decides_nothing(seed in any::<u64>(), units in 4_usize..40) {
        let plan = plant(seed, Shape { units, scarce: true });
        let (supply, demand) = ends(&plan);
        let rate = plan["supplies"][&supply]["rate"].as_f64().expect("a rate");
        let document = json!({
            "plan": plan, "question": "flow-balance",
            "variants": {
                "less": { "supplies": { &supply: { "rate": rate / 2.0 } } },
                "more": { "supplies": { &supply: { "rate": rate * 3.0 } } },
                "without": { "demands": { &demand: null } },
            }
        });
        let compared = |document: &Value| {
            let compared = Compare::from_json(document.to_string().as_bytes(), &LIMITS).expect("a comparison");
            compare::ask(&compared, &LIMITS, &Budget::unhurried()).expect("an answer")
        };
        let (one, other) = (compared(&document), compared(&reversed(&document)));
        let places = |answer: &compare::CompareAnswer| {
            let mut places: Vec<(String, usize)> =
                answer.figures.order.iter().map(|placed| (placed.name.to_string(), placed.place)).collect();
            places.sort();
            places
        };
        prop_assert_eq!(places(&one), places(&other));
        prop_assert_eq!(one.figures.compared.keys().collect::<Vec<_>>(), other.figures.compared.keys().collect::<Vec<_>>());
        for (at, figure) in &one.figures.compared {
            for (name, value) in &figure.values {
                prop_assert_eq!(other.figures.compared[at].values.get(name), Some(value), "{} of {}", at, name);
            }
        }
        let document = json!({ "plan": plan, "question": "flow-balance", "at": format!("/supplies/{supply}/rate"), "values": [rate] });
        let (one, other) = (swept(&document, &Budget::unhurried()), swept(&reversed(&document), &Budget::unhurried()));
        prop_assert_eq!(&one.figures.rows, &other.figures.rows);
    }

    #[test]
    fn a_search_agrees_with_a_fine_sweep(seed in any::<u64>(), units in 4_usize..24, demand: bool, smallest: bool) {
        let mut plan = plant(seed, Shape { units, scarce: false });
        let (supply, asked) = ends(&plan);
        let place = if demand { ["demands", &asked] } else { ["supplies", &supply] };
        let rate = plan[place[0]][place[1]]["rate"].as_f64().expect("a rate");
        // What is asked for can just be served with a rate somewhere in the range.
        plan["supplies"][&supply]["rate"] = json!(plan["supplies"][&supply]["rate"].as_f64().expect("a rate") / 10.0);
        let (from, to) = (rate * 0.01, rate * 5.0);
        let (at, find) = (format!("/{}/{}/rate", place[0], place[1]), if smallest { "smallest" } else { "largest" });
        let document = json!({
            "plan": plan, "question": "flow-balance", "at": at, "from": from, "to": to, "find": find,
            "want": { "absent": "demand-short" }, "tolerance": (to - from) * 1e-5
        });
        let found = sought(&document);
        drawn(&found);
        let steps = 400;
        let fine = swept(&json!({
            "plan": plan, "question": "flow-balance", "at": at, "from": from, "to": to, "steps": steps,
            "read": [format!("/demands/{asked}/cut_share")]
        }), &Budget::unhurried());
        // What the sweep reads stands in for the finding: some demand is cut.
        let holds = |number: f64| {
            let mut changed = plan.clone();
            changed[place[0]][place[1]]["rate"] = json!(number);
            let plan = Plan::from_json(changed.to_string().as_bytes(), &LIMITS).expect("a plan");
            let answer = FlowBalance::ask(&plan, &Budget::unhurried()).expect("an answer");
            answer.findings.iter().all(|finding| finding.code != "demand-short")
        };
        let numbers: Vec<f64> = fine.figures.rows.iter().map(|row| row.number.expect("a number")).collect();
        let all: Vec<bool> = numbers.iter().map(|number| holds(*number)).collect();
        let outermost = if smallest { all.iter().position(|holds| *holds) } else { all.iter().rposition(|holds| *holds) };
        match (outermost, &found.figures.found) {
            (None, None) => {}
            (Some(index), Some(found)) => {
                let step = (to - from) / f64::from(steps - 1);
                prop_assert!(holds(found.number));
                prop_assert!((found.number - numbers[index]).abs() <= step * 1.001, "{} and {}", found.number, numbers[index]);
            }
            // A part of the range between two samples is not seen by whoever steps over it.
            (Some(_), None) | (None, Some(_)) => {
                let parts = all.iter().filter(|holds| **holds).count();
                prop_assert!(parts <= 400 / 33 + 1, "{} values hold and none was found", parts);
            }
        }
        if let (Some(value), Some(fails)) = (&found.figures.found, found.figures.fails_at) {
            prop_assert!(!holds(fails) && (value.number - fails).abs() <= (to - from) * 1e-5 * 1.001);
        }
    }

    #[test]
    fn whoever_works_the_answer_is_the_same(seed in any::<u64>(), units in 4_usize..24) {
        let plan = plant(seed, Shape { units, scarce: true });
        let (_, demand) = ends(&plan);
        let document = json!({
            "plan": plan, "question": "flow-balance", "at": format!("/demands/{demand}/rate"), "from": 0.5, "to": 30, "steps": 40
        });
        let alone = swept(&document, &Budget::unhurried());
        let together = swept(&document, &Budget::unhurried().with_workers(&Threads(3)));
        prop_assert_eq!(alone.json(), together.json());
        prop_assert_eq!(alone.svg(), together.svg());
        drawn(&alone);
    }

    #[test]
    fn a_row_of_a_sweep_is_what_the_plan_answers(seed in any::<u64>(), units in 4_usize..24) {
        let plan = plant(seed, Shape { units, scarce: true });
        let (_, demand) = ends(&plan);
        let values = [0.25, 1.0, 7.5, 40.0];
        let answer = swept(&json!({
            "plan": plan, "question": "flow-balance", "at": format!("/demands/{demand}/rate"), "values": values,
            "read": [format!("/demands/{demand}/cut_share"), "/power/net_w"]
        }), &Budget::unhurried());
        for (row, value) in answer.figures.rows.iter().zip(values) {
            let mut changed = plan.clone();
            changed["demands"][&demand]["rate"] = json!(value);
            let single = Plan::from_json(changed.to_string().as_bytes(), &LIMITS).expect("a plan");
            let single = FlowBalance::ask(&single, &Budget::unhurried()).expect("an answer");
            let figures = serde_json::to_value(&single).expect("a tree");
            prop_assert_eq!(row.verdict, Some(single.verdict));
            for (at, figure) in &row.figures {
                prop_assert_eq!(Some(figure), figures.pointer(at));
            }
        }
    }

    #[test]
    fn a_batch_is_its_singles(seed in any::<u64>(), units in 2_usize..24) {
        let plans: Vec<Value> = (0..5).map(|more| plant(seed ^ more, Shape { units, scarce: more % 2 == 0 })).collect();
        let mut items: Vec<Value> =
            plans.iter().map(|plan| json!({ "plan": plan, "question": "flow-balance" })).collect();
        items.insert(2, json!({ "plan": { "unitz": 1 }, "question": "flow-balance" }));
        let document = json!({ "items": items }).to_string();
        let read = Batch::from_json(document.as_bytes(), &LIMITS).expect("a batch");
        let mut outcomes = batch::ask(&read, &LIMITS, &Budget::unhurried().with_workers(&Threads(3))).expect("answers");
        prop_assert!(outcomes.remove(2).is_err());
        for (plan, outcome) in plans.iter().zip(outcomes) {
            let single = Plan::from_json(plan.to_string().as_bytes(), &LIMITS).expect("a plan");
            let single = FlowBalance::ask(&single, &Budget::unhurried()).expect("an answer");
            let written = outcome.expect("an answer");
            prop_assert_eq!(written.json.get().as_bytes(), single.json());
            prop_assert_eq!(written.verdict, single.verdict);
        }
    }

    #[test]
    fn any_inquiry_is_answered_or_refused(seed in any::<u64>(), at in "(/[a-z0-9]{0,9}){1,4}", text in "\\PC{0,12}", number: f64) {
        let plan = plant(seed, Shape { units: 4, scarce: true });
        let values = json!([number, text, null, true, {}, [text], { &text: number }]);
        for at in [at, "/demands/c0 out/rate".to_owned(), "/units/c0 u0/takes".to_owned()] {
            let document = json!({ "plan": plan, "question": "flow-balance", "at": at, "values": values }).to_string();
            if let Ok(sweep) = Sweep::from_json(document.as_bytes(), &LIMITS)
                && let Ok(answer) = sweep::ask(&sweep, &LIMITS, &Budget::unhurried())
            {
                drawn(&answer);
                prop_assert!(answer.verdict != Verdict::Holds || answer.figures.rows.iter().all(|row| row.verdict.is_some()));
            }
            let document = json!({ "plan": plan, "question": "flow-balance", "variants": { &text: { &text: values }, "b": values } }).to_string();
            let _ = Compare::from_json(document.as_bytes(), &LIMITS).map(|compared| {
                let answer = compare::ask(&compared, &LIMITS, &Budget::unhurried()).expect("the plan as it is has an answer");
                drawn(&answer);
            });
        }
    }
}
