//! Sizes that have a closed form, what the search takes for granted, and where it ends.

#![expect(
    clippy::redundant_closure_for_method_calls,
    reason = "a method of a workbench is of one lifetime, and what is asked has to be of any"
)]

use super::*;
use crate::balance::balance;
use crate::plan::Limits;
use serde_json::{Value, json};

const STORE: StoreId = StoreId(0);

fn read(document: &Value) -> Plan {
    Plan::from_json(document.to_string().as_bytes(), &Limits::default()).unwrap_or_else(|error| panic!("{error}"))
}

fn sizer(document: &Value) -> Sizer {
    let plan = read(document);
    let counts: Vec<u32> =
        balance(&plan, &Budget::unhurried()).expect("within the budget").units.iter().map(|unit| unit.count).collect();
    Sizer::new(&plan, Fleet::of(&counts))
}

fn capacity(document: &Value) -> Sizing {
    sizer(document).least_capacity(STORE, &Budget::unhurried()).expect("within the budget").expect("a demand is on it")
}

fn level(document: &Value) -> Sizing {
    sizer(document).least_level(STORE, &Budget::unhurried()).expect("within the budget").expect("a demand is on it")
}

/// Asks the workbench of the first store something, with so many steps to spend.
fn ask<T>(document: &Value, steps: u64, what: impl FnOnce(&Bench<'_>) -> T) -> T {
    let sizer = sizer(document);
    let never = || false;
    let budget = Budget::new(steps, &never);
    what(&sizer.bench(STORE, &budget).expect("a demand is on it"))
}

fn assert_near(found: f64, expected: f64) {
    // Halving ends within a billionth, and what is short for no longer than a billionth of the clock is not short.
    assert!((found - expected).abs() <= 5e-9 * expected.abs(), "{found}, expected {expected}");
}

fn assert_least(found: Sizing, expected: f64) {
    let Sizing::Least(found) = found else { panic!("{found:?}, expected {expected} for good") };
    assert_near(found, expected);
}

fn assert_until_horizon(found: Sizing, expected: f64) {
    let Sizing::UntilHorizon(found) = found else { panic!("{found:?}, expected {expected} until the horizon") };
    assert_near(found, expected);
}

/// What holds from `bound` on.
fn from(bound: f64) -> impl Fn(f64) -> Result<Option<bool>, Halt> {
    move |value| Ok(Some(value >= bound))
}

fn halved(low: f64, high: f64, holds: impl Fn(f64) -> Result<Option<bool>, Halt>) -> Sizing {
    halve(low, high, holds).expect("nothing halts it")
}

#[test]
fn halving_finds_the_least_that_holds_on_every_scale() {
    for scale in [1e-9, 1.0, 1e9] {
        for (low, bound) in [(0.0, 0.3), (0.1, 0.3), (0.25, 0.999)] {
            assert_least(halved(low * scale, scale, from(bound * scale)), bound * scale);
        }
    }
}

#[test]
fn halving_ends_when_the_range_is_narrow() {
    for scale in [1e-9, 1.0, 1e9] {
        let tries = Cell::new(0);
        let count = |value: f64| {
            tries.set(tries.get() + 1);
            from(0.3 * scale)(value)
        };
        halved(0.1 * scale, scale, count);
        // Both ends, and 2³² parts of the range.
        assert!((30..=34).contains(&tries.get()), "{} at {scale}", tries.get());
    }
}

#[test]
fn nothing_is_found_between_ends_that_both_hold() {
    assert_eq!(halved(0.4, 1.0, from(0.3)), Sizing::NotFound);
    assert_eq!(halved(0.0, 1.0, |_| Ok(Some(true))), Sizing::NotFound);
    // More is not always better: it holds at the lower end, then not, then again.
    assert_eq!(halved(0.4, 1.0, |value| Ok(Some(value <= 0.5 || value >= 0.7))), Sizing::NotFound);
    // Just under what is found it holds as well.
    let notch = 0.7 * (1.0 - 1.000_1e-6)..0.7 * (1.0 - 0.999_9e-6);
    assert_eq!(halved(0.4, 1.0, |value| Ok(Some(value >= 0.7 || notch.contains(&value)))), Sizing::NotFound);
}

#[test]
fn halving_ends_where_a_trial_says_nothing() {
    assert_eq!(halved(0.1, 1.0, |value| Ok((value < 0.5).then_some(false))), Sizing::NotFound);
    // Nothing at all is no size to try.
    let never_of_nothing = |value: f64| Ok((value > 0.0).then_some(value >= 0.3));
    assert_least(halved(0.0, 1.0, never_of_nothing), 0.3);
}

#[test]
fn what_was_reckoned_stands_where_it_holds_and_less_does_not() {
    let check = |value, most, bound: f64| verified(value, most, from(bound)).expect("nothing halts it");
    assert_eq!(check(3.0, 10.0, 3.0), Some(Sizing::Least(3.0)));
    assert_eq!(check(3.0, 10.0, 3.0 - 1e-6), Some(Sizing::Least(3.0)));
    // What rounding took from it is given back.
    let Some(Sizing::Least(found)) = check(3.0, 10.0, 3.0 + 1e-12) else { panic!("it is near enough") };
    assert!((3.0 + 1e-12..=3.0 + 4e-12).contains(&found), "{found}");
    assert_eq!(check(3.0, 10.0, 3.1), None);
    assert_eq!(check(3.0, 10.0, 2.9), None);
    assert_eq!(verified(3.0, 10.0, |_| Ok(None)), Ok(None));
    // What rounding leaves of none is not tried.
    assert_eq!(verified(5e-11, 1e3, |_| Ok(None)), Ok(Some(Sizing::Least(0.0))));
    assert_eq!(check(5e-11, 1.0, 5e-11), Some(Sizing::Least(5e-11)));
}

/// A river that brings 10 kg/s for 80 s of every 200 s, from the 20th on, and a draft of 1 kg/s.
fn river(more: &Value) -> Value {
    let mut document = json!({
        "supplies": { "river": { "header": "water", "rate": 10, "when": "always",
            "pattern": { "steps": [{ "for": 20, "share": 0 }, { "for": 80, "share": 1 }, { "for": 100, "share": 0 }] } } },
        "demands": { "draft": { "header": "water", "rate": 1 } },
        "outlets": { "water": {} },
        "stores": { "reservoir": { "header": "water", "capacity": 1000, "level": "100 %" } },
        "horizon": 10,
    });
    super::super::tests::json_patch(&mut document, more);
    document
}

/// What falls by `net` kg/s and loses `share` of itself each second is empty after `time` s if so much was in it.
fn drained(net: f64, share: f64, time: f64) -> f64 {
    net / share * (share * time).exp_m1()
}

#[test]
fn a_shortage_that_begins_in_one_period_and_ends_in_the_next_is_found_whatever_the_horizon() {
    for horizon in [1.0, 10.0, 50.0, 1e4] {
        assert_least(capacity(&river(&json!({ "horizon": horizon }))), 120.0);
    }
}

#[test]
fn what_goes_is_more_than_what_comes() {
    let river = |horizon| river(&json!({ "demands": { "draft": { "rate": 5 } }, "horizon": horizon }));
    assert_until_horizon(capacity(&river(10.0)), 50.0);
    assert_until_horizon(capacity(&river(20.0)), 100.0);
    // From the first fill on it loses 1000 kg in every 200 s and gets 800 back.
    assert_until_horizon(capacity(&river(1000.0)), 500.0 + 4.0 * 200.0);
}

#[test]
fn sizes_go_by_the_scale_of_the_plant() {
    let scaled = |scale: f64, draft: f64, found: fn(&Value) -> Sizing| {
        found(&river(&json!({
            "supplies": { "river": { "rate": 10.0 * scale } },
            "demands": { "draft": { "rate": draft * scale } },
            "stores": { "reservoir": { "capacity": 1000.0 * scale } },
            "horizon": 400,
        })))
    };
    for scale in [2.0_f64.powi(-24), 1.0, 2.0_f64.powi(24)] {
        assert_least(scaled(scale, 1.0, capacity), 120.0 * scale);
        assert_until_horizon(scaled(scale, 4.5, capacity), 550.0 * scale);
        assert_least(scaled(scale, 1.0, level), 20.0 * scale);
        assert_least(scaled(scale, 4.5, level), 200.0 * scale);
    }
}

/// The same with shortages of 120 s in every 200, none of them before the horizon.
fn later(mut document: Value) -> Value {
    document["supplies"]["river"]["pattern"] =
        json!({ "steps": [{ "for": 80, "share": 1 }, { "for": 120, "share": 0 }] });
    document
}

#[test]
fn what_a_store_loses_a_share_of_is_made_up_for() {
    for share in [1e-4, 1e-3, 5e-3] {
        let loses = format!("{} %/s", 100.0 * share);
        for capacity_kg in [1.0, 1e3] {
            // Until the horizon it falls for 10 s; then a longer shortage comes.
            let falls = river(&json!({ "stores": { "reservoir": { "capacity": capacity_kg, "loses": loses } } }));
            assert_least(capacity(&falls), drained(1.0, share, 120.0));
            assert_least(capacity(&later(falls.clone())), drained(1.0, share, 120.0));
            // Nothing comes at all.
            let mut dry = falls;
            dry["supplies"]["river"]["rate"] = json!(0);
            assert_until_horizon(capacity(&dry), drained(1.0, share, 10.0));
        }
        let falls = json!({ "stores": { "reservoir": { "loses": loses } }, "horizon": 90 });
        assert_least(level(&river(&falls)), drained(1.0, share, 20.0));
    }
}

/// A store that is watched, though nothing hangs on what its switch runs.
#[test]
fn what_lasts_for_good_is_searched_for_whatever_the_size_now() {
    for capacity_kg in [0.01, 1.0, 1e3, 1e6] {
        let watched = river(&json!({
            "stores": { "reservoir": { "capacity": capacity_kg } },
            "units": { "bell": { "count": 1, "gives": { "noise": 1 } } },
            "outlets": { "noise": {} },
            "switches": { "rope": { "watch": "reservoir", "start_at": "40 %", "stop_at": "60 %", "runs": "bell" } },
        }));
        assert_least(capacity(&watched), 120.0);
        // Doubled twenty times, a thousandth of the smallest does not come to as much.
        let found = capacity(&later(watched));
        if capacity_kg < 1.0 { assert_eq!(found, Sizing::UntilHorizon(0.0)) } else { assert_least(found, 120.0) }
    }
    // Nothing is ever short: none is enough.
    let enough = later(river(&json!({
        "supplies": { "spring": { "header": "water", "rate": 1 } },
        "stores": { "reservoir": { "loses": "0.1 %/s" } },
    })));
    assert_eq!(capacity(&enough), Sizing::Least(0.0));
}

/// Pulses of two patterns that fall together only late in a long common period, which is gone through no more than once.
#[test]
fn what_takes_too_many_events_to_last_is_not_searched_for() {
    let found = |every: f64| {
        let document = json!({
            "supplies": { "river": { "header": "water", "rate": 3, "when": "always", "pattern": { "on": 0.5, "every": 1 } } },
            "demands": { "draft": { "header": "water", "rate": 2.5, "pattern": { "on": 0.5, "every": every, "offset": 0.001 } } },
            "outlets": { "water": {} },
            "stores": { "reservoir": { "header": "water", "capacity": 1, "level": "100 %", "loses": "1 %/s" } },
            "horizon": 20,
        });
        ask(&document, 1_000_000, |bench| (bench.least_capacity().expect("nothing halts it"), bench.spent.get()))
    };
    // They are against each other after half of 51 s.
    let (answer, spent) = found(1.02);
    let Sizing::Least(_) = answer else { panic!("{answer:?}") };
    assert!(spent < 20_000, "{spent}");
    // After half of 5001 s.
    let (answer, spent) = found(1.000_2);
    let Sizing::UntilHorizon(_) = answer else { panic!("{answer:?}") };
    assert!((7_500..20_000).contains(&spent), "{spent}");
}

#[test]
fn a_share_that_is_lost_for_good_is_more_than_a_size_makes_up_for() {
    // What comes in 80 s is just what is drawn in 200: nothing is left for what is lost.
    let document = river(&json!({
        "supplies": { "river": { "rate": 2.5 } },
        "stores": { "reservoir": { "loses": "0.1 %/s" } },
        "horizon": 20,
    }));
    assert_until_horizon(capacity(&document), drained(1.0, 1e-3, 20.0));
}

#[test]
fn an_endless_store_holds_all_that_can_go_in_and_out() {
    let document = river(&json!({
        "demands": {
            "second": { "header": "water", "rate": 4, "pattern": { "steps": [{ "for": 5, "share": 0.5 }, { "for": 5, "share": 0.25 }] } },
            "elsewhere": { "header": "brine", "rate": 100 },
        },
        "units": { "pump": { "count": 3, "takes": { "water": 2 }, "gives": { "brine": 2 } } },
        "stores": { "reservoir": { "loses": 0.5 } },
    }));
    // The river, the draft, half of the second, three pumps, what is lost, and what it holds now.
    let most = |horizon: f64| (10.0 + 1.0 + 2.0 + 6.0 + 0.5) * horizon + 1000.0;
    for horizon in [1.0, 200.0] {
        ask(&document, 1000, |bench| assert_near(bench.endless(horizon), most(horizon)));
    }
}

#[test]
fn patterns_are_looked_at_so_far_as_a_thousand_horizons() {
    let pulses = |every: f64, offset: f64, horizon: f64| {
        let mut document = river(&json!({ "horizon": horizon }));
        document["supplies"]["river"]["pattern"] = json!({ "on": 1, "every": every, "offset": offset });
        ask(&document, 1000, |bench| bench.period())
    };
    assert_eq!(pulses(100.0, 0.0, 10.0), Some((0.0, 100.0)));
    assert_eq!(pulses(100.0, 7.0, 10.0), Some((7.0, 100.0)));
    // Three periods are within a thousand horizons, or not.
    assert_eq!(pulses(3333.0, 0.0, 10.0), Some((0.0, 3333.0)));
    assert_eq!(pulses(3334.0, 0.0, 10.0), None);
    assert_eq!(pulses(2000.0, 4000.0, 10.0), Some((4000.0, 2000.0)));
    assert_eq!(pulses(2000.0, 4001.0, 10.0), None);
    assert_eq!(pulses(20.0, 0.0, 0.05), None);
    // Without patterns all is the same after each horizon.
    let mut steady = river(&json!({}));
    steady["supplies"]["river"].as_object_mut().expect("fields").remove("pattern");
    assert_eq!(ask(&steady, 1000, |bench| bench.period()), Some((0.0, 10.0)));
}

#[test]
fn a_search_ends_when_its_steps_are_spent() {
    let document = river(&json!({ "horizon": 1000 }));
    let found =
        |steps| ask(&document, steps, |bench| (bench.least_capacity().expect("nothing halts it"), bench.spent.get()));
    let (answer, spent) = found(10_000);
    assert_least(answer, 120.0);
    assert!((20..60).contains(&spent), "{spent}");
    // Within the first trial, and between trials.
    for steps in [2, 5, spent / 2, spent - 3] {
        let (answer, spent) = found(steps);
        assert_eq!(answer, Sizing::NotFound, "{steps}");
        assert!(spent <= steps + 2, "{spent} of {steps}");
    }
}

#[test]
fn what_was_not_looked_at_far_enough_is_not_told_as_until_the_horizon() {
    // The horizon is before the first event; two periods are beyond the steps.
    let document = river(&json!({ "demands": { "draft": { "rate": 4.5 } } }));
    assert_until_horizon(ask(&document, 1000, |bench| bench.least_capacity()).expect("nothing halts it"), 45.0);
    assert_eq!(ask(&document, 2, |bench| bench.least_capacity()), Ok(Sizing::NotFound));
}

/// A part with two stores, each watched by a switch.
fn watched() -> Part {
    let document = json!({
        "supplies": { "river": { "header": "water", "rate": 2, "when": "always" }, "lake": { "header": "water", "rate": 1 } },
        "demands": { "draft": { "header": "water", "rate": 1 } },
        "stores": {
            "a": { "header": "water", "capacity": 100, "level": 40, "low": 10, "high": 90 },
            "b": { "header": "water", "capacity": 10, "level": 4, "high": 9 },
        },
        "switches": {
            "a": { "watch": "a", "start_at": 20, "stop_at": 80, "runs": "lake" },
            "b": { "watch": "b", "start_at": 2, "stop_at": 8, "runs": "river" },
        },
    });
    split(&System::new(&read(&document), Fleet::of(&[]))).remove(0)
}

fn marks(part: &Part) -> Vec<(f64, f64, f64, f64, bool)> {
    let of = |at: usize| {
        let (tank, contact) = (&part.system.tanks[at], &part.system.contacts[at]);
        (tank.capacity, tank.level, contact.start_at, contact.stop_at, tank.limits.iter().any(Option::is_some))
    };
    vec![of(0), of(1)]
}

#[test]
fn a_store_of_another_size_is_full_and_its_switches_keep_their_shares() {
    let mut part = watched();
    refill(&mut part, 0, 50.0);
    assert_eq!(marks(&part), [(50.0, 50.0, 10.0, 40.0, false), (10.0, 4.0, 2.0, 8.0, true)]);
}

#[test]
fn a_store_without_a_bottom_keeps_its_switches_where_they_are() {
    let mut part = watched();
    sink(&mut part, 0, 1000.0, 30.0);
    assert_eq!(marks(&part), [(1100.0, 1030.0, 1020.0, 1080.0, false), (10.0, 4.0, 2.0, 8.0, true)]);
}
