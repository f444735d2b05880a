//! Cycles that are counted are as if they had been simulated: everything that adds up grows by the same amount with each, every extreme is
//! that of one, and whatever is listed is listed again.

use crate::support::rehearse_warm;
use hotwell::rehearsal::{Rehearsal, What};
use serde_json::{Value, json};

/// Where in a cycle a rehearsal ends.
const PHASE: f64 = 0.37;

/// All that adds up over time, each with a name to tell it by.
fn sums(found: &Rehearsal) -> Vec<(String, f64)> {
    let mut sums = vec![("events".to_owned(), found.event_count as f64)];
    let mut add = |of: &str, at: usize, values: &[(&str, f64)]| {
        sums.extend(values.iter().map(|(name, value)| (format!("{of} {at} {name}"), *value)));
    };
    for (at, store) in found.stores.iter().enumerate() {
        let values = [("filled", store.filled), ("drained", store.drained), ("stood lost", store.stood_lost)];
        add("store", at, &values);
        add("store", at, &[("empty", store.empty_s), ("full", store.full_s)]);
    }
    for (at, supply) in found.supplies.iter().enumerate() {
        let values = [("offered", supply.offered), ("drawn", supply.drawn), ("lost", supply.lost), ("on", supply.on_s)];
        add("supply", at, &values);
    }
    for (at, demand) in found.demands.iter().enumerate() {
        let (wanted, served, cuts) = (demand.wanted, demand.served, demand.cuts as f64);
        add("demand", at, &[("wanted", wanted), ("served", served), ("short", demand.short_s), ("cuts", cuts)]);
    }
    for (at, unit) in found.units.iter().enumerate() {
        let values = [("duty", unit.duty_s), ("running", unit.running_s), ("held", unit.held_s)];
        add("unit", at, &values);
        add("unit", at, &[("starts", unit.starts as f64)]);
    }
    for (at, switch) in found.switches.iter().enumerate() {
        let values = [("starts", switch.starts as f64), ("stops", switch.stops as f64), ("on", switch.on_s)];
        add("switch", at, &values);
    }
    for (at, header) in found.headers.iter().enumerate() {
        add("header", at, &[("made", header.made), ("taken", header.taken), ("let out", header.let_out)]);
        let (filled, drained) = (header.filled, header.drained);
        let values =
            [("supplied", header.supplied), ("served", header.served), ("filled", filled), ("drained", drained)];
        add("header", at, &values);
    }
    found.let_out.iter().enumerate().for_each(|(at, &amount)| add("outlet", at, &[("let out", amount)]));
    let Some(warm) = &found.warm else { return sums };
    for (at, flow) in warm.accounts.flows.iter().enumerate() {
        let (ran, above) = (flow.ran_s, flow.above_rating_j);
        add("heat", at, &[("ran", ran), ("generated", flow.generated_j), ("above", above)]);
        add("heat", at, &[("heat", flow.heat_j.iter().sum())]);
    }
    warm.accounts.walls.iter().enumerate().for_each(|(at, &heat)| add("wall", at, &[("passed", heat)]));
    for (at, eye) in warm.accounts.thermostats.iter().enumerate() {
        let values = [("starts", eye.starts as f64), ("stops", eye.stops as f64), ("on", eye.on_s)];
        add("thermostat", at, &values);
    }
    for (at, cooler) in warm.coolers.iter().enumerate() {
        add("cooler", at, &[("drawn", cooler.drawn_j), ("cut", cooler.cut_s)]);
    }
    warm.generated_j.iter().enumerate().for_each(|(at, &given)| add("turbine", at, &[("generated", given)]));
    sums
}

/// Extremes and firsts: those of a cycle or of the way to it.
fn extremes(found: &Rehearsal) -> Vec<f64> {
    let mut extremes = Vec::new();
    for store in &found.stores {
        extremes.extend([store.least, store.greatest, store.end]);
        extremes.extend([store.first_empty_s, store.first_full_s].into_iter().flatten());
    }
    extremes.extend(found.switches.iter().filter_map(|switch| switch.first_start_s));
    extremes.extend(found.switches.iter().filter_map(|switch| switch.least_cycle_s));
    extremes.extend(found.demands.iter().filter_map(|demand| demand.first_short_s));
    if let Some(warm) = &found.warm {
        extremes.extend(&warm.end_c);
        extremes.extend(warm.accounts.least.iter().chain(&warm.accounts.greatest).map(|extreme| extreme.at_c));
    }
    extremes
}

fn near(found: f64, expected: f64, of: &dyn std::fmt::Debug) {
    assert!((found - expected).abs() <= 1e-7 * expected.abs().max(1e-3), "{found}, expected {expected}: {of:?}");
}

/// What lies straight between the points of a curve.
fn value(course: &[(f64, f64)], at_s: f64) -> f64 {
    let after = course.partition_point(|point| point.0 < at_s).clamp(1, course.len() - 1);
    let ((from, first), (to, last)) = (course[after - 1], course[after]);
    if to > from { first + (last - first) * (at_s - from) / (to - from) } else { last }
}

/// Holds a plant that comes into a cycle, and gives back its length.
fn hold(document: &Value) -> f64 {
    let until = |horizon_s: f64| {
        let mut document = document.clone();
        document["horizon"] = json!(horizon_s);
        rehearse_warm(&document).rehearsal
    };
    let settled = until(1e6).islands[0].settled.clone().expect("it comes into a cycle");
    let (from, period) = (settled.from_s, settled.period_s);
    // Neither of these has anything to count, the other only to simulate.
    let (before, once) = (until(from + PHASE * period), until(from + (1.0 + PHASE) * period));
    assert!(once.islands[0].settled.as_ref().is_none_or(|settled| settled.counted == 0), "{:?}", once.islands);
    let (sums_before, sums_once) = (sums(&before), sums(&once));
    for more in [1_u32, 2, 3, 40] {
        let found = until(from + (1.0 + PHASE + f64::from(more)) * period);
        let settled = found.islands[0].settled.as_ref().expect("it is in its cycle");
        assert_eq!(settled.counted, u64::from(more), "{settled:?}");
        assert!(found.simulated <= 2 * once.simulated + 10, "{} and {}", found.simulated, once.simulated);
        for (((name, found), (_, once)), (_, before)) in sums(&found).iter().zip(&sums_once).zip(&sums_before) {
            near(*found, once + f64::from(more) * (once - before), name);
        }
        for (found, once) in extremes(&found).into_iter().zip(extremes(&once)) {
            near(found, once, &"an extreme");
        }
        listed(&found, &once, from, period);
    }
    period
}

/// Holds that the lists of a long rehearsal are those of a short one, over and over.
fn listed(found: &Rehearsal, once: &Rehearsal, from: f64, period: f64) {
    // From the first cycle on, the same as one cycle before.
    let end = |at_s: f64| once.events.partition_point(|event| event.at_s <= at_s + 1e-9 * period);
    let (way, cycle) = (&once.events[..end(from)], &once.events[end(from)..end(from + period)]);
    let mut expected: Vec<(f64, What)> = way.iter().map(|event| (event.at_s, event.what)).collect();
    for time in 0..=50 {
        expected.extend(cycle.iter().map(|event| (event.at_s + f64::from(time) * period, event.what)));
    }
    expected.retain(|&(at_s, _)| at_s < found.horizon_s);
    assert_eq!(found.events.len(), expected.len(), "{:?}", found.events);
    for (found, expected) in found.events.iter().zip(&expected) {
        near(found.at_s, expected.0, found);
        assert_eq!(found.what, expected.1, "at {}", found.at_s);
    }
    let within = |at_s: f64| if at_s > from + period { from + (at_s - from).rem_euclid(period) } else { at_s };
    let times: Vec<f64> = (1..200).map(|at| found.horizon_s * (f64::from(at) + 0.123) / 200.0).collect();
    for (long, short) in found.stores.iter().zip(&once.stores) {
        assert!(long.course.windows(2).all(|points| points[0].0 <= points[1].0), "{:?}", long.course);
        for &at_s in &times {
            let (found, expected) = (value(&long.course, at_s), value(&short.course, within(at_s)));
            assert!((found - expected).abs() <= 1e-6 * short.greatest.max(1.0), "{found}, not {expected}, at {at_s}");
        }
    }
}

/// A sump fills and a pump empties it, on two levels; a tank runs over when the river is high and dry when it is low.
#[test]
fn of_stores_and_switches() {
    let period = hold(&json!({
        "supplies": {
            "river": { "header": "water", "rate": 6, "when": "always", "pattern": { "steps": [{ "for": 30, "share": 1 }, { "for": 30, "share": 0.25 }] } },
            "drain": { "header": "seepage", "rate": 1, "when": "always" },
        },
        "units": {
            "pump": { "count": 1, "takes": { "seepage": 4 }, "gives": { "water": 4 }, "draws": 100 },
            "mill": { "count": 2, "takes": { "water": 1 }, "gives": { "pulp": 1 }, "idle_draw": 10 },
        },
        "demands": {
            "town": { "header": "water", "rate": 3 },
            "garden": { "header": "water", "rate": 1, "rank": 2, "pattern": { "on": 10, "every": 30 } },
        },
        "stores": {
            "sump": { "header": "seepage", "capacity": 30, "level": 3 },
            "tank": { "header": "water", "capacity": 40, "level": 7, "loses": 0.01 },
            "bank": { "header": "power", "capacity": 1e5, "level": 5e4 },
        },
        "switches": {
            "float": { "watch": "sump", "start_at": 20, "stop_at": 5, "runs": "pump" },
            "guard": { "watch": "tank", "start_at": 10, "stop_at": 5, "runs": "mill" },
        },
        "outlets": { "water": {}, "pulp": {} },
    }));
    // The pump's 20 s and the river's 60 s.
    near(period, 60.0, &"period");
}

/// A bank is filled by day; a cooler draws on it; a heater that a thermostat turns feeds on a bin; a hot source comes in pulses.
#[test]
fn of_zones_and_banks() {
    let period = hold(&json!({
        "substances": { "stuff": { "specific_heat": 1000 } }, "ambient": 10,
        "zones": {
            "hall": { "contents": { "stuff": 1000 }, "at": 20, "limit": 26, "walls": [ { "to": "ambient", "conductance": 2000 } ] },
            "shed": { "contents": { "stuff": 500 }, "at": 15, "walls": [ { "to": "hall", "conductance": 500 } ] },
        },
        "supplies": { "field": { "header": "power", "rate": 2.2e4, "when": "always", "pattern": { "on": 300, "every": 600 } } },
        "stores": {
            "bank": { "header": "power", "capacity": 3e6, "level": "50 %" },
            "bin": { "header": "feed", "capacity": 100, "level": 50 },
        },
        "units": { "heater": { "count": 1, "takes": { "feed": 1 }, "sheds": 1e5, "zone": "shed" } },
        "demands": { "lamp": { "header": "power", "rate": 2e3 } },
        "hot_sources": { "flue": { "zone": "hall", "heat": 2e5, "pattern": { "on": 100, "every": 200 } } },
        "coolers": { "loop": { "cools": "hall", "duty": 1e5, "draws": 1e4, "count": 1 } },
        "thermostats": { "eye": { "watch": "shed", "start_at": 14, "stop_at": 18, "runs": "heater" } },
    }));
    near(period, 600.0, &"period");
}
