//! Least capacities and least levels of stores, tried out: what is found is enough, and what is just under it is not; and what each of several stores gets.
//!
//! The search itself reads most sizes off a single rehearsal of another store, so a rehearsal of the store as it would be is a check from
//! outside. The cases are the same in every run.

use crate::support::{counts, plan, rehearse};
use hotwell::budget::Budget;
use hotwell::plan::StoreId;
use hotwell::rehearsal::Fleet;
use hotwell::rehearsal::sizing::{Sizer, Sizing};
use proptest::prelude::*;
use proptest::test_runner::{Config, RngSeed, TestRunner};
use serde_json::{Value, json};
use std::cell::Cell;

const HORIZON_S: f64 = 400.0;
/// Horizons that stand for good.
const LONG: f64 = 100.0;

/// What stands around the reservoir.
#[derive(Clone, Debug)]
struct Site {
    /// What the river brings, step by step of ten seconds, over and over, kg/s.
    inflow: Vec<u8>,
    /// What is always drawn, and what is drawn besides in the first half of every 20 s, kg/s.
    drafts: (u8, u8),
    /// A pump from an intermittent lake: it starts and stops at these shares of the reservoir, in percent.
    pump: Option<(u8, u8)>,
    /// What is lost by standing.
    loses: Option<&'static str>,
}

fn site() -> impl Strategy<Value = Site> {
    let pump =
        prop_oneof![1 => Just(None), 2 => (10_u8..60, 5_u8..35).prop_map(|(start, band)| Some((start, start + band)))];
    let loses = prop_oneof![2 => Just(None), 1 => Just(Some("0.5 kg/s")), 1 => Just(Some("0.01 %/s"))];
    (prop::collection::vec(0_u8..20, 2..5), (2_u8..9, 0_u8..6), pump, loses)
        .prop_map(|(inflow, drafts, pump, loses)| Site { inflow, drafts, pump, loses })
}

fn document(site: &Site) -> Value {
    let steps: Vec<Value> = site.inflow.iter().map(|&share| json!({ "for": 10, "share": share })).collect();
    let mut document = json!({
        "supplies": { "river": { "header": "water", "rate": 1, "when": "always", "pattern": { "steps": steps } } },
        "demands": {
            "draft": { "header": "water", "rate": site.drafts.0 },
            "second draft": { "header": "water", "rate": site.drafts.1, "pattern": { "on": 10, "every": 20 } },
        },
        "outlets": { "water": {} },
        "stores": { "reservoir": { "header": "water", "capacity": 1000, "level": "100 %" } },
        "horizon": HORIZON_S,
    });
    if let Some((start, stop)) = site.pump {
        document["units"] = json!({ "pump": { "count": 1, "takes": { "lake": 10 }, "gives": { "water": 10 } } });
        document["supplies"]["lake"] = json!({ "header": "lake", "rate": 10, "pattern": { "on": 30, "every": 40 } });
        document["switches"] = json!({ "pump": {
            "watch": "reservoir", "start_at": format!("{start} %"), "stop_at": format!("{stop} %"), "runs": "pump",
        } });
    }
    if let Some(loses) = site.loses {
        document["stores"]["reservoir"]["loses"] = json!(loses);
    }
    document
}

fn with(document: &Value, field: &str, value: f64) -> Value {
    let mut document = document.clone();
    document["stores"]["reservoir"][field] = json!(value);
    document
}

/// Whether anything is short with the document as it is, until so many horizons.
fn is_short(document: &Value, horizons: f64) -> bool {
    let mut document = document.clone();
    document["horizon"] = json!(horizons * HORIZON_S);
    let plan = plan(&document);
    let found = hotwell::rehearsal::rehearse(&plan, Fleet::of(&counts(&plan)), &Budget::unhurried());
    found.expect("within the budget").demands.iter().any(|demand| demand.first_short_s.is_some())
}

fn run(found: impl Fn(&Sizer) -> Option<Sizing>, holds: impl Fn(&Value, Sizing) -> Result<bool, TestCaseError>) {
    let config = Config { cases: 120, rng_seed: RngSeed::Fixed(8), failure_persistence: None, ..Config::default() };
    let (told, all) = (Cell::new(0), Cell::new(0));
    let result = TestRunner::new(config).run(&site(), |site| {
        let document = document(&site);
        let plan = plan(&document);
        let sizing = found(&Sizer::new(&plan, Fleet::of(&counts(&plan)))).expect("demands hang on it");
        all.set(all.get() + 1);
        told.set(told.get() + i32::from(holds(&document, sizing)?));
        Ok(())
    });
    result.unwrap_or_else(|error| panic!("{error}"));
    assert!(told.get() > all.get() * 3 / 5, "{} of {} were found", told.get(), all.get());
}

#[test]
fn the_least_capacity_is_enough_and_no_less_is() {
    let find = |sizer: &Sizer| sizer.least_capacity(StoreId(0), &Budget::unhurried()).expect("within the budget");
    run(find, |document, sizing| {
        let full = |capacity: f64| {
            let mut document = with(document, "capacity", capacity);
            document["stores"]["reservoir"]["level"] = json!("100 %");
            document
        };
        match sizing {
            Sizing::Least(capacity) if capacity > 0.0 => {
                // For good: the same many times over.
                prop_assert!(!is_short(&full(capacity), LONG), "{capacity} is not enough");
                prop_assert!(is_short(&full(capacity * (1.0 - 1e-5)), LONG), "less than {capacity} is enough");
            }
            Sizing::Least(_) => prop_assert!(!is_short(&full(1e-6), LONG), "none is not enough"),
            Sizing::UntilHorizon(capacity) => {
                prop_assert!(!is_short(&full(capacity), 1.0), "{capacity} is not enough");
                prop_assert!(is_short(&full(capacity), LONG), "{capacity} is enough for good");
                prop_assert!(is_short(&full(capacity * (1.0 - 1e-5)), 1.0), "less than {capacity} is enough");
            }
            Sizing::NoneIsEnough => {
                prop_assert!(is_short(&full(1e6), 1.0), "a great one is enough");
            }
            Sizing::NotFound => return Ok(false),
        }
        Ok(true)
    });
}

#[test]
fn the_least_level_is_enough_and_no_less_is() {
    let find = |sizer: &Sizer| sizer.least_level(StoreId(0), &Budget::unhurried()).expect("within the budget");
    run(find, |document, sizing| {
        match sizing {
            Sizing::Least(level) => {
                prop_assert!(!is_short(&with(document, "level", level), 1.0), "{level} is not enough");
                let less = level * (1.0 - 1e-5);
                prop_assert!(
                    level == 0.0 || is_short(&with(document, "level", less), 1.0),
                    "less than {level} is enough"
                );
            }
            Sizing::NoneIsEnough => prop_assert!(is_short(&with(document, "level", 1000.0), 1.0), "full is enough"),
            Sizing::UntilHorizon(_) => return Err(TestCaseError::fail("a level is always until the horizon")),
            Sizing::NotFound => return Ok(false),
        }
        Ok(true)
    });
}

/// Two stores on one header, filled for 50 s and drawn on from then on, 4 kg/s each way.
fn two(first: &Value, second: &Value) -> Value {
    json!({
        "supplies": { "river": { "header": "water", "rate": 4, "when": "always", "pattern": { "on": 50, "every": 1000 } } },
        "demands": { "draft": { "header": "water", "rate": 4, "pattern": { "on": 900, "every": 1000, "offset": 50 } } },
        "outlets": { "water": {} },
        "stores": { "first": first, "second": second },
    })
}

/// What is in both after so many seconds.
fn levels(document: &Value, at_s: f64) -> [f64; 2] {
    let mut document = document.clone();
    document["horizon"] = json!(at_s);
    let found = rehearse(&document);
    ["first", "second"].map(|name| {
        let at = found.plan.stores.iter().position(|store| store.name == name).expect("a store of that name");
        found.rehearsal.stores[at].end
    })
}

fn assert_near(found: [f64; 2], expected: [f64; 2]) {
    let near = |at: usize| (found[at] - expected[at]).abs() < 1e-9 * 400.0;
    assert!(near(0) && near(1), "{found:?}, expected {expected:?}");
}

#[test]
fn stores_of_one_rank_share_by_their_size() {
    let store = |capacity: f64, level: f64| json!({ "header": "water", "capacity": capacity, "level": level });
    let document = two(&store(100.0, 0.0), &store(300.0, 60.0));
    assert_near(levels(&document, 20.0), [20.0, 120.0]);
    assert_near(levels(&document, 50.0), [50.0, 210.0]);
    assert_near(levels(&document, 70.0), [30.0, 150.0]);
    // The first is empty after 50 s more; then the other gives all.
    assert_near(levels(&document, 110.0), [0.0, 20.0]);
}

#[test]
fn the_first_rank_is_filled_and_drawn_on_first() {
    let store = |capacity: f64, rank: u32| json!({ "header": "water", "capacity": capacity, "level": 0, "rank": rank });
    let document = two(&store(100.0, 1), &store(300.0, 2));
    assert_near(levels(&document, 20.0), [80.0, 0.0]);
    assert_near(levels(&document, 50.0), [100.0, 100.0]);
    assert_near(levels(&document, 60.0), [60.0, 100.0]);
    assert_near(levels(&document, 95.0), [0.0, 20.0]);
}

#[test]
fn what_full_stores_lose_is_made_up_before_others_fill() {
    let store = |level: f64, loses: f64| json!({ "header": "water", "capacity": 300, "level": level, "loses": loses });
    let document = two(&store(300.0, 1.0), &store(0.0, 0.0));
    assert_near(levels(&document, 40.0), [300.0, 120.0]);
    // Both full, and what comes is shared by what they lose.
    let document = two(&store(300.0, 1.0), &store(300.0, 2.0));
    assert_near(levels(&document, 40.0), [300.0, 300.0]);
    let document = two(&store(300.0, 2.0), &store(300.0, 6.0));
    assert_near(levels(&document, 40.0), [260.0, 180.0]);
}
