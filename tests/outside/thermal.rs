//! One thousand random systems of zones and thermostats: `thermal.json`, made by `thermal.py` beside it.

use hotwell::budget::Budget;
use hotwell::heat::streams::Rates;
use hotwell::heat::{self, Accounts, Happening, HeatEvent, Running, assemble};
use hotwell::plan::{Limits, Plan};
use hotwell::rehearsal::{self, Fleet, What};
use serde_json::{Map, Value, json};

pub fn systems() -> Vec<Value> {
    serde_json::from_str(include_str!("thermal.json")).expect("thermal.json is JSON")
}

fn number(value: &Value) -> f64 {
    value.as_f64().expect("a number")
}

fn list(value: &Value) -> &Vec<Value> {
    value.as_array().expect("a list")
}

/// A system as a plan: a heater is a machine that sheds its power and is gated by a thermostat.
pub fn plan_of(system: &Value) -> Value {
    let (mut zones, mut units, mut sources, mut thermostats) = (Map::new(), Map::new(), Map::new(), Map::new());
    for (at, zone) in list(&system["zones"]).iter().enumerate() {
        // Capacity, conductance to the outside, start, heater, starts at, stops at, gain.
        let [capacity, outside, start, heater, on, off, gain] = [0, 1, 2, 3, 4, 5, 6].map(|part| number(&zone[part]));
        let mut walls = vec![json!({ "to": "ambient", "conductance": outside })];
        for link in list(&system["links"]).iter().filter(|link| link[0] == json!(at)) {
            walls.push(json!({ "to": format!("zone {}", link[1]), "conductance": link[2] }));
        }
        let name = format!("zone {at}");
        zones.insert(name.clone(), json!({ "contents": { "stuff": capacity / 1000.0 }, "at": start, "walls": walls }));
        if heater > 0.0 {
            let unit = format!("heater {at}");
            units.insert(unit.clone(), json!({ "count": 1, "sheds": heater, "zone": name }));
            let thermostat = json!({ "watch": name, "start_at": on, "stop_at": off, "runs": unit });
            thermostats.insert(format!("{at}"), thermostat);
        }
        if gain > 0.0 {
            sources.insert(format!("gain {at}"), json!({ "zone": name, "heat": gain }));
        }
    }
    if let Some(square) = system["square"].as_object() {
        let zone = format!("zone {}", square["zone"]);
        let pattern = json!({ "on": square["on"], "every": square["period"] });
        sources.insert("square".to_owned(), json!({ "zone": zone, "heat": square["W"], "pattern": pattern }));
    }
    json!({ "substances": { "stuff": { "specific_heat": 1000 } }, "ambient": system["outside_c"], "zones": zones,
            "units": units, "hot_sources": sources, "thermostats": thermostats, "horizon": system["horizon_s"] })
}

fn read(plan: &Value) -> Plan {
    Plan::from_json(plan.to_string().as_bytes(), &Limits::DEFAULT).expect("a plan")
}

/// What a system did: when each thermostat started (true) or stopped, temperatures at the end, what flowed.
struct Done {
    switched: Vec<(f64, usize, bool)>,
    end_c: Vec<f64>,
    accounts: Accounts,
}

/// Zones by themselves.
fn alone(plan: &Plan) -> Done {
    let runs = vec![1.0; plan.units.len()];
    let rates = Rates { runs: &runs, drawn: &[] };
    let assembly = assemble(plan, Running { rates, coolers: &[], turbines: &[] });
    let found = heat::rehearse(&assembly.network, &assembly.pulsed(plan), plan.horizon.si(), &Budget::unhurried());
    let found = found.expect("it ends");
    let switched = found.events.iter().filter_map(|(at, what)| match *what {
        Happening::Heat(HeatEvent::Thermostat { index, starts }) => Some((*at, index, starts)),
        _ => None,
    });
    Done { switched: switched.collect(), end_c: found.end_c, accounts: found.accounts }
}

/// Zones on the clock of the whole plant.
fn joined(plan: &Plan) -> Done {
    let (runs, counts) = (vec![1.0; plan.units.len()], vec![1; plan.units.len()]);
    let rates = Rates { runs: &runs, drawn: &[] };
    let fleet = Fleet { units: &counts, warm: Some(Running { rates, coolers: &[], turbines: &[] }), curves: true };
    let found = rehearsal::rehearse(plan, fleet, &Budget::unhurried()).expect("it ends");
    let switched = found.events.iter().filter_map(|event| match event.what {
        What::CutIn(at) => Some((event.at_s, at.0, true)),
        What::CutOut(at) => Some((event.at_s, at.0, false)),
        _ => None,
    });
    let warm = found.warm.expect("zones");
    Done { switched: switched.collect(), end_c: warm.end_c, accounts: warm.accounts }
}

#[test]
fn a_thousand_systems_agree() {
    agree(alone);
}

#[test]
fn a_thousand_systems_agree_on_the_clock_of_the_plant() {
    agree(joined);
}

/// Temperatures to 1e-7 K, event times to 1e-7 of themselves, heater energy to 1e-9, heat closing to 1e-9 of what passes.
fn agree(run: fn(&Plan) -> Done) {
    let systems = systems();
    assert_eq!(systems.len(), 1000);
    let (mut events, mut worst) = (0, [0.0_f64; 4]);
    for system in &systems {
        let seed = &system["seed"];
        let plan = read(&plan_of(system));
        let found = run(&plan);
        let heaters: Vec<usize> =
            plan.thermostats.iter().map(|thermostat| thermostat.name.parse().expect("a zone")).collect();
        let switched: Vec<(f64, i64)> = found
            .switched
            .iter()
            .map(|&(at, index, starts)| {
                let zone = i64::try_from(heaters[index] + 1).expect("few zones");
                (at, if starts { zone } else { -zone })
            })
            .collect();
        let expected = list(&system["events"]);
        assert_eq!(switched.len(), expected.len(), "seed {seed}");
        events += expected.len();
        for ((at, who), event) in switched.iter().zip(expected) {
            assert_eq!(json!(who), event[1], "seed {seed} at {at}");
            let apart = (at - number(&event[0])).abs() / at.max(1.0);
            worst[0] = worst[0].max(apart);
            assert!(apart <= 1e-7, "seed {seed}: {at}, expected {event}");
        }
        for zone in 0..plan.zones.len() {
            let pairs = [
                (found.end_c[zone], &system["end_c"]),
                (found.accounts.least[zone].at_c, &system["least_c"]),
                (found.accounts.greatest[zone].at_c, &system["greatest_c"]),
            ];
            for (t, expected) in pairs {
                let apart = (t - number(&expected[zone])).abs();
                worst[1] = worst[1].max(apart);
                assert!(apart <= 1e-7, "seed {seed} zone {zone}: {t}, expected {expected}");
            }
        }
        for (unit, zone) in heaters.iter().enumerate() {
            let expected = number(&system["heater_j"][*zone]);
            // Units come first in the network, one flow each.
            let apart = (found.accounts.flows[unit].heat_j[0] - expected).abs() / expected.max(1.0);
            worst[2] = worst[2].max(apart);
            assert!(apart <= 1e-9, "seed {seed} heater {zone}: {apart}");
        }
        worst[3] = worst[3].max(found.accounts.worst_gap_share);
        assert!(found.accounts.worst_gap_share <= 1e-9, "seed {seed}: {}", found.accounts.worst_gap_share);
    }
    assert!(events > 50_000, "only {events} events");
    println!("{events} events; times, temperatures, heater energy, heat balance apart by at most {worst:?}");
}
