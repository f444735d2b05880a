//! Heat over time: the random systems of `tests/outside/thermal.json`, one by one, and a large hall.
//!
//! `cargo bench --bench heat --no-default-features`, then `python3 benches/solve_ivp.py` for SciPy's time on the same systems.

#[path = "../tests/outside/thermal.rs"]
#[allow(dead_code, unused_imports, reason = "the test uses more of it")]
mod thermal;

use std::hint::black_box;
use std::time::{Duration, Instant};

use hotwell::budget::Budget;
use hotwell::heat::streams::Rates;
use hotwell::heat::{Running, assemble, rehearse};
use hotwell::plan::{Limits, Plan};
use hotwell::questions::heat_budget::ask;
use serde_json::{Map, Value, json};

/// 30 unit types, 6 zones, 4 coolers, 4 turbines, one intermittent source, 100 days.
fn hall() -> Value {
    let mut units = Map::new();
    for at in 0..30 {
        let unit = json!({ "count": 1 + at % 4, "draws": 1000 + 100 * at, "sheds": 1000 + 100 * at, "zone": format!("zone {}", at % 4),
                           "limit": 60 + at });
        units.insert(format!("unit {at}"), unit);
    }
    let mut zones = Map::new();
    let (mut coolers, mut turbines) = (Map::new(), Map::new());
    for at in 0..4 {
        let zone = json!({ "contents": { "air": 500 + 100 * at }, "at": 25, "limit": 60,
            "walls": [ { "to": "ambient", "conductance": 80 + 10 * at }, { "to": format!("zone {}", at + 1), "conductance": 20 } ] });
        zones.insert(format!("zone {at}"), zone);
        let cooler = json!({ "cools": format!("zone {at}"), "rejects_to": format!("zone {}", 4 + at % 2), "coolant": "brine",
                             "flow": 1, "drop": 10, "set_point": 26 + at, "draws": "10 kW", "rejects_draw": true });
        coolers.insert(format!("cooler {at}"), cooler);
        let turbine = json!({ "zone": format!("zone {}", 4 + at % 2), "fluid": "steam", "flow": 0.3, "inlet_min": 110 + at,
            "inlet_rated": 165, "outlet": 70, "generates": "25 kW", "casing_share": 0.1, "casing_zone": format!("zone {at}") });
        turbines.insert(format!("turbine {at}"), turbine);
    }
    for at in 4..6 {
        let zone = json!({ "contents": { "steam": 2000 }, "at": 130, "limit": 250, "cells": 40, "cell_limit": 100,
                           "walls": [ { "to": "ambient", "conductance": 30 } ] });
        zones.insert(format!("zone {at}"), zone);
    }
    let vent = json!({ "zone": "zone 4", "flow": 1.5, "substance": "steam", "at": 320, "pattern": { "on": "3 min", "every": "20 min" } });
    json!({ "substances": { "air": { "specific_heat": 1015 }, "steam": { "specific_heat": 2020 },
                            "brine": { "specific_heat": 3500, "freezes_at": -12, "boils_at": 106 } },
            "ambient": 5, "units": units, "zones": zones, "coolers": coolers, "turbines": turbines,
            "supplies": { "grid": { "header": "power" } }, "hot_sources": { "vent": vent }, "horizon": "100 day" })
}

fn read(plan: &Value) -> Plan {
    Plan::from_json(plan.to_string().as_bytes(), &Limits::DEFAULT).expect("a plan")
}

fn median(mut times: Vec<Duration>) -> Duration {
    times.sort();
    times[times.len() / 2]
}

fn main() {
    let systems = thermal::systems();
    let plans: Vec<Plan> = systems.iter().map(|system| read(&thermal::plan_of(system))).collect();
    let start = Instant::now();
    let mut events = 0;
    for plan in &plans {
        let runs = vec![1.0; plan.units.len()];
        let running = Running { rates: Rates { runs: &runs, drawn: &[] }, coolers: &[], turbines: &[] };
        let assembly = assemble(plan, running);
        let found = rehearse(&assembly.network, &assembly.pulsed(plan), plan.horizon.si(), &Budget::unhurried());
        events += black_box(found.expect("it ends")).simulated;
    }
    let spent = start.elapsed();
    println!(
        "{} systems, {events} events: {:.3} ms in all, {:.3} µs an event",
        plans.len(),
        spent.as_secs_f64() * 1e3,
        spent.as_secs_f64() * 1e6 / events as f64
    );
    let hall = read(&hall());
    let times: Vec<Duration> = (0..51)
        .map(|_| {
            let start = Instant::now();
            black_box(ask(&hall, &Budget::unhurried()).expect("it ends"));
            start.elapsed()
        })
        .collect();
    println!(
        "a hall of 30 unit types, 6 zones, 4 coolers, 4 turbines, one source, 100 days: median {:?}",
        median(times)
    );
    let example = include_str!("../examples/plans/cooled-hall.json");
    let plan = Plan::from_json(example.as_bytes(), &Limits::DEFAULT).expect("a plan");
    let times: Vec<Duration> = (0..501)
        .map(|_| {
            let start = Instant::now();
            black_box(ask(&plan, &Budget::unhurried()).expect("it ends"));
            start.elapsed()
        })
        .collect();
    println!("the example cooled-hall, pulses and ballast counted: median {:?}", median(times));
}
