//! Small plants whose course can be had by hand.

mod endless;

use super::{Fleet, Rehearsal, Turn, What, rehearse};
use crate::balance::balance;
use crate::budget::Budget;
use crate::plan::{DemandId, Limits, Plan, StoreId, SupplyId, SwitchId};
use serde_json::{Value, json};

fn rehearsed(document: &Value) -> (Plan, Rehearsal) {
    let plan =
        Plan::from_json(document.to_string().as_bytes(), &Limits::default()).unwrap_or_else(|error| panic!("{error}"));
    let counts: Vec<u32> =
        balance(&plan, &Budget::unhurried()).expect("within the budget").units.iter().map(|unit| unit.count).collect();
    let found = rehearse(&plan, Fleet::of(&counts), &Budget::unhurried()).expect("within the budget");
    (plan, found)
}

fn near(got: f64, want: f64) {
    assert!((got - want).abs() <= 1e-9 * want.abs().max(1.0), "got {got}, want {want}");
}

/// A pump for 1 kg/s that draws 100 W from a grid without a rate; `more` is set besides. Machine-seconds of it in 100 s.
fn pumped(more: &Value) -> f64 {
    let mut document = json!({
        "units": { "pump": { "count": 1, "takes": { "well": 1 }, "gives": { "head": 1 }, "draws": 100 } },
        "supplies": { "well": { "header": "well", "rate": 1 }, "grid": { "header": "power" } },
        "outlets": { "head": {} },
        "horizon": 100,
    });
    json_patch(&mut document, more);
    rehearsed(&document).1.units[0].duty_s
}

/// Merges what `more` has into `document`.
pub(super) fn json_patch(document: &mut Value, more: &Value) {
    match (document, more) {
        (Value::Object(document), Value::Object(more)) => {
            more.iter().for_each(|(key, value)| json_patch(document.entry(key.clone()).or_insert(Value::Null), value));
        }
        (document, more) => *document = more.clone(),
    }
}

#[test]
fn a_grid_without_a_rate_is_there_only_when_it_is_open() {
    near(pumped(&json!({})), 100.0);
    near(pumped(&json!({ "supplies": { "grid": { "pattern": { "on": 10, "every": 40, "elapsed": 0 } } } })), 30.0);
    // A sump that falls by 1 kg/s from 50 kg: after 20 s a switch on it takes the grid off, at 30 kg.
    near(
        pumped(&json!({
            "stores": { "sump": { "header": "brine", "capacity": 100, "level": 50 } },
            "demands": { "brine": { "header": "brine", "rate": 1 } },
            "switches": { "guard": { "watch": "sump", "start_at": 60, "stop_at": 30, "runs": "grid", "on": true } },
        })),
        20.0,
    );
}

#[test]
fn a_grid_without_a_rate_feeds_no_more_than_its_lines_carry() {
    near(pumped(&json!({ "headers": { "power": { "line": 25, "lines": 2 } } })), 50.0);
}

#[test]
fn a_battery_on_a_grid_without_a_rate_is_filled_and_left_full() {
    let battery = json!({ "stores": { "bank": { "header": "power", "capacity": 5000, "level": 1000 } } });
    near(pumped(&battery), 100.0);
}

/// A tank that is filled by 1 kg/s for 10 s and drawn on by 1 kg/s for 10 s, from 20 kg on.
fn tides(horizon_s: f64) -> Value {
    json!({
        "supplies": { "spring": { "header": "water", "rate": 1, "when": "always", "pattern": { "on": 10, "every": 20, "elapsed": 0 } } },
        "demands": { "use": { "header": "water", "rate": 1, "pattern": { "elapsed": 0, "steps": [{ "for": 10, "share": 0 }, { "for": 10, "share": 1 }] } } },
        "stores": { "tank": { "header": "water", "capacity": 100, "level": 20 } },
        "horizon": horizon_s,
    })
}

#[test]
fn counted_cycles_are_listed_as_they_would_have_gone() {
    let (_, found) = rehearsed(&tides(1005.0));
    let settled = found.islands[0].settled.as_ref().expect("it repeats");
    assert!(settled.counted >= 40, "{settled:?}");
    near(settled.period_s, 20.0);
    let course = &found.stores[0].course;
    // A turn every ten seconds, and the end.
    assert_eq!(course.len(), 102, "{course:?}");
    for (at, &(time, level)) in course.iter().take(101).enumerate() {
        near(time, 10.0 * at as f64);
        near(level, if at % 2 == 0 { 20.0 } else { 30.0 });
    }
    assert_eq!(course.last(), Some(&(1005.0, 25.0)));
    // Both turn at each ten seconds but at the beginning, each at its own moment in the order of the plan.
    assert_eq!(found.event_count, 200);
    for (at, event) in found.events.iter().enumerate() {
        near(event.at_s, 10.0 * (at / 2 + 1) as f64);
        let begins = (at / 2) % 2 == 1;
        let turn = |on: bool| if on { Turn::On } else { Turn::Off };
        let of_supply = What::Supply(SupplyId(0), turn(begins));
        let of_demand = What::Demand(DemandId(0), turn(!begins));
        assert_eq!(event.what, if at % 2 == 0 { of_supply } else { of_demand }, "{at}");
    }
    assert_eq!(found.events.len(), 200);
}

#[test]
fn what_is_counted_adds_up() {
    // 10,000 cycles and a half: the tank lets nothing go, so what came in and what was drawn are known to the last one.
    let (_, found) = rehearsed(&tides(200_010.0));
    near(found.stores[0].filled, 100_010.0);
    near(found.stores[0].drained, 100_000.0);
    near(found.demands[0].served, 100_000.0);
    near(found.supplies[0].drawn, 100_010.0);
    near(found.supplies[0].on_s, 100_010.0);
    near(found.stores[0].end, 30.0);
    assert!(found.simulated < 50, "{} simulated", found.simulated);
}

/// Parts that do not act on each other, in which something happens at the same moment.
#[test]
fn events_of_one_moment_stand_in_the_order_of_their_kind_and_of_the_plan() {
    // By 50 s each of both cisterns is full, at 1 and 2 kg/s; the demand on the third begins then, and empties it at once or nearly.
    let document = json!({
        "supplies": {
            "b main": { "header": "b", "rate": 1, "when": "always" },
            "a main": { "header": "a", "rate": 2, "when": "always" },
            "c main": { "header": "c", "rate": 1, "when": "always", "pattern": { "on": 50, "every": 1000, "elapsed": 0 } },
        },
        "outlets": { "a": {}, "b": {}, "c": {} },
        "demands": { "user": { "header": "d", "rate": 1, "pattern": { "on": 50, "every": 1000, "elapsed": 0 } } },
        "stores": {
            "b cistern": { "header": "b", "capacity": 50, "level": 0 },
            "a cistern": { "header": "a", "capacity": 100, "level": 0 },
            "d cistern": { "header": "d", "capacity": 50, "level": 50 },
        },
        "switches": {
            "b switch": { "watch": "b cistern", "start_at": 10, "stop_at": "100 %", "runs": "b main", "on": true },
            "a switch": { "watch": "a cistern", "start_at": 10, "stop_at": "100 %", "runs": "a main", "on": true },
        },
        "horizon": 200,
    });
    let (plan, found) = rehearsed(&document);
    let at_50: Vec<What> =
        found.events.iter().filter(|event| (event.at_s - 50.0).abs() < 1e-6).map(|event| event.what).collect();
    let supply = |name: &str| SupplyId(plan.supplies.iter().position(|at| at.name == name).expect("it is there"));
    let store = |name: &str| StoreId(plan.stores.iter().position(|at| at.name == name).expect("it is there"));
    let switch = |name: &str| SwitchId(plan.switches.iter().position(|at| at.name == name).expect("it is there"));
    let expected = [
        What::Supply(supply("c main"), Turn::Off),
        What::Demand(DemandId(0), Turn::Off),
        What::Full(store("a cistern")),
        What::Full(store("b cistern")),
        What::Empty(store("d cistern")),
        What::Stop(switch("a switch")),
        What::Stop(switch("b switch")),
    ];
    assert_eq!(at_50, expected);
}

#[test]
fn what_comes_to_rest_is_told_from_when_on() {
    let document = json!({
        "supplies": { "main": { "header": "water", "rate": 2, "when": "always" } },
        "stores": { "cistern": { "header": "water", "capacity": 100, "level": 0 } },
        "outlets": { "water": {} },
        "horizon": 1000,
    });
    let (_, found) = rehearsed(&document);
    let settled = found.islands[0].settled.as_ref().expect("nothing changes any more");
    near(settled.from_s, 50.0);
    near(settled.period_s, 0.0);
    near(found.stores[0].full_s, 950.0);
    near(found.stores[0].empty_s, 0.0);
}

/// Machines that stand idle draw for all of them: four at 2 kW empty a bank of 80 kJ in ten seconds.
#[test]
fn all_machines_that_stand_idle_draw() {
    let document = json!({
        "units": { "pump": { "count": 4, "takes": { "well": 1 }, "gives": { "head": 1 }, "idle_draw": 2000 } },
        "supplies": { "well": { "header": "well", "rate": 4,
                                "pattern": { "elapsed": 0, "steps": [{ "for": 100, "share": 0 }, { "for": 100, "share": 1 }] } } },
        "stores": { "bank": { "header": "power", "capacity": 1e6, "level": 8e4 } },
        "outlets": { "head": {} },
        "horizon": 50,
    });
    near(rehearsed(&document).1.stores[0].first_empty_s.expect("it runs dry"), 10.0);
}

/// A wash takes 3 kg/s and gives 1 of them back: what comes in at 4 kg/s runs two of them.
#[test]
fn what_a_unit_gives_back_to_a_header_it_takes_from_is_netted() {
    let document = json!({
        "units": { "wash": { "count": 5, "takes": { "water": 3 }, "gives": { "water": 1, "slurry": 2 } } },
        "supplies": { "main": { "header": "water", "rate": 4 } },
        "stores": { "pit": { "header": "slurry", "capacity": 1000, "level": 0 } },
        "horizon": 10,
    });
    let (_, found) = rehearsed(&document);
    near(found.units[0].duty_s, 20.0);
    near(found.stores[0].end, 40.0);
}

/// Two parts: a tank that turns every ten seconds for ever, since no two of its patterns repeat together, and one that comes to rest.
#[test]
fn steps_are_shared_by_parts_and_what_one_leaves_goes_to_the_next() {
    let busy = |name: &str| json!({ "header": name, "rate": 1, "when": "always", "pattern": { "on": 5, "every": 20, "elapsed": 0 } });
    let odd = |name: &str| json!({ "header": name, "rate": 0.1, "pattern": { "on": 5, "every": 20.0 * 2.0_f64.sqrt(), "elapsed": 0 } });
    let document = |quiet: &str, others: &[&str]| {
        let mut document = json!({
            "supplies": { quiet: { "header": quiet, "rate": 1, "when": "always" } }, "demands": {}, "outlets": { quiet: {} },
            "stores": { quiet: { "header": quiet, "capacity": 10, "level": 0 } },
            "horizon": 1e6,
        });
        for name in others {
            document["supplies"][name] = busy(name);
            document["demands"][name] = odd(name);
            document["outlets"][name] = json!({});
            document["stores"][name] = json!({ "header": name, "capacity": 1000, "level": 500 });
        }
        document
    };
    let simulated = |document: &Value, steps: u64| {
        let plan = Plan::from_json(document.to_string().as_bytes(), &Limits::default())
            .unwrap_or_else(|error| panic!("{error}"));
        let found = rehearse(&plan, Fleet::of(&[]), &Budget::new(steps, &|| false)).expect("within the budget");
        assert!(found.reached_s < 1e6, "it ended early");
        found.simulated
    };
    // The one that comes to rest is first by name, then last: either way nearly all steps are spent, and no more.
    for document in [document("a", &["b"]), document("a", &["b", "c", "d"])] {
        let spent = simulated(&document, 3_000);
        assert!((2_900..=3_010).contains(&spent), "{spent} of 3000");
    }
    let spent = simulated(&document("z", &["b"]), 3_000);
    assert!((1_450..=1_510).contains(&spent), "{spent}: the first gets but half");
}
