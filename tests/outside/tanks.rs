//! One thousand random tank systems against exact fractions: `tanks.json`, made by `tanks.py` beside it.
//!
//! A source is a supply that pushes, under its pattern; a pump is a unit under a switch; a tank is a store on a header of its
//! own whose outlet takes what it spills. Cubic metres stand as kg and minutes as s, digit by digit.

use crate::support::{Rehearsed, rehearse};
use hotwell::rehearsal::What;
use serde_json::{Map, Value, json};

/// What a time, an amount or a total may be off by, as a share.
const TOLERANCE: f64 = 1e-9;

fn systems() -> Vec<Value> {
    serde_json::from_str(include_str!("tanks.json")).expect("tanks.json is JSON")
}

fn list(value: &Value) -> &Vec<Value> {
    value.as_array().expect("a list")
}

fn numbers(value: &Value) -> Vec<f64> {
    list(value).iter().map(|number| number.as_f64().expect("a number")).collect()
}

fn tank_name(at: &Value) -> String {
    format!("tank {at}")
}

fn plan_of(system: &Value) -> Value {
    let (mut stores, mut outlets, mut supplies) = (Map::new(), Map::new(), Map::new());
    for (at, tank) in list(&system["tanks"]).iter().enumerate() {
        let name = format!("tank {at}");
        stores.insert(name.clone(), json!({ "header": name, "capacity": tank[0], "level": tank[1] }));
        outlets.insert(name, json!({}));
    }
    for (at, source) in list(&system["sources"]).iter().enumerate() {
        let supply = json!({
            "header": tank_name(&source[0]), "rate": source[1], "when": "always",
            "pattern": { "every": source[2], "on": source[3], "offset": source[4] },
        });
        supplies.insert(format!("source {at}"), supply);
    }
    let (mut units, mut switches) = (Map::new(), Map::new());
    for (at, pump) in list(&system["pumps"]).iter().enumerate() {
        let name = format!("pump {at}");
        let mut unit = json!({ "count": 1, "takes": { tank_name(&pump[0]): pump[2] } });
        if !pump[1].is_null() {
            unit["gives"] = json!({ tank_name(&pump[1]): pump[2] });
        }
        units.insert(name.clone(), unit);
        let switch = json!({
            "watch": tank_name(&pump[3]), "start_at": pump[4], "stop_at": pump[5], "runs": name,
        });
        switches.insert(name, switch);
    }
    json!({
        "units": units, "supplies": supplies, "outlets": outlets, "stores": stores, "switches": switches,
        "horizon": system["horizon"],
    })
}

/// The first thing that does not agree.
fn difference(system: &Value, found: &Rehearsed) -> Option<String> {
    let result = &found.rehearsal;
    let events: Vec<(f64, u64)> = result
        .events
        .iter()
        .filter_map(|event| match event.what {
            What::Start(switch) => Some((event.at_s, 2 * switch.0 as u64)),
            What::Stop(switch) => Some((event.at_s, 2 * switch.0 as u64 + 1)),
            _ => None,
        })
        .collect();
    let (times, kinds) = (numbers(&system["at"]), list(&system["what"]));
    if events.len() < times.len().min(100) {
        return Some(format!("{} events of {}", events.len(), times.len()));
    }
    for ((&(at_s, kind), &time), expected) in events.iter().zip(&times).zip(kinds) {
        if (at_s - time).abs() > TOLERANCE * time.max(1.0) || expected.as_u64() != Some(kind) {
            return Some(format!("event {kind} at {at_s}, expected {expected} at {time}"));
        }
    }
    let horizon = system["horizon"].as_f64().expect("a horizon");
    let compare = |what: &str, expected: &Value, size: f64, found: &dyn Fn(usize) -> f64| {
        numbers(expected).iter().enumerate().find_map(|(at, &expected)| {
            let off = (found(at) - expected).abs() > TOLERANCE * expected.abs().max(size);
            off.then(|| format!("{what} {at}: {}, expected {expected}", found(at)))
        })
    };
    let store = |at: usize| &result.stores[at];
    compare("final level", &system["final"], 1.0, &|at| store(at).end)
        .or_else(|| compare("least level", &system["least"], 1.0, &|at| store(at).least))
        .or_else(|| compare("greatest level", &system["greatest"], 1.0, &|at| store(at).greatest))
        .or_else(|| compare("spilled", &system["spilled"], 1.0, &|at| result.let_out[at]))
        .or_else(|| compare("time empty", &system["empty"], horizon, &|at| store(at).empty_s))
        .or_else(|| compare("run time", &system["run"], horizon, &|at| result.switches[at].on_s))
        .or_else(|| {
            compare("pumped", &system["pumped"], 1.0, &|at| {
                let unit = &found.plan.units[at];
                unit.takes[0].rate * result.units[at].duty_s
            })
        })
        .or_else(|| {
            let starts =
                |pump: usize| kinds.iter().filter(|kind| kind.as_u64() == Some(2 * pump as u64)).count() as u64;
            let wrong = (0..result.switches.len()).find(|&at| result.switches[at].starts != starts(at))?;
            Some(format!("{} starts of pump {wrong}, expected {}", result.switches[wrong].starts, starts(wrong)))
        })
}

#[test]
fn events_and_totals_agree_and_headers_close() {
    let systems = systems();
    assert_eq!(systems.len(), 1000);
    let mut wrong = Vec::new();
    for system in &systems {
        let found = rehearse(&plan_of(system));
        if let Some(difference) = difference(system, &found) {
            wrong.push(format!("seed {} ({} ties): {difference}", system["seed"], system["ties"]));
        }
    }
    assert!(wrong.is_empty(), "{} wrong:\n{}", wrong.len(), wrong.join("\n"));
}
