//! What the time engine costs: `cargo bench --no-default-features --bench rehearsal`.
//!
//! 1. Twenty stores, ten intermittent springs whose periods have nothing in common, twenty switches: 1,000 local days of one
//!    hour. With one header of power for all pumps nothing of it settles, so every event is simulated.
//! 2. The horizon: a plant that settles, over 100 and over 10,000 days. The ratio should be near one.
//! 3. The number of stores that have nothing to do with each other: the log-log slope of the cost.
//! 4. The 1,000 tank systems of `tests/outside/tanks.json`: our time for each goes to `target/rehearsal/tanks.json`, for
//!    `benches/scipy_rehearsal.py` to solve some of them by SciPy (`solve_ivp` with events) and to set beside them:
//!
//! ```text
//! cargo bench --no-default-features --bench rehearsal
//! python3 benches/scipy_rehearsal.py target/rehearsal
//! ```

use std::fs;
use std::path::Path;
use std::time::{Duration, Instant};

use hotwell::balance::balance;
use hotwell::budget::Budget;
use hotwell::plan::{Limits, Plan};
use hotwell::rehearsal::{Fleet, Rehearsal, rehearse};
use serde_json::{Map, Value, json};

#[path = "../tests/support/plant.rs"]
#[allow(dead_code, reason = "only its random numbers are used")]
mod plant;
#[path = "../tests/support/works.rs"]
mod works;

use works::{Shape, works};

fn read(document: &Value) -> (Plan, Vec<u32>) {
    let plan = Plan::from_json(document.to_string().as_bytes(), &Limits::default()).expect("a plan");
    let counts = balance(&plan, &Budget::unhurried()).expect("a balance").units.iter().map(|unit| unit.count).collect();
    (plan, counts)
}

/// The median of some runs, and what the last gave.
fn median(times: usize, document: &Value) -> (Duration, Rehearsal) {
    let (plan, counts) = read(document);
    let once = || {
        let start = Instant::now();
        let rehearsal = rehearse(&plan, Fleet::of(&counts), &Budget::unhurried()).expect("a rehearsal");
        (start.elapsed(), rehearsal)
    };
    let mut runs: Vec<(Duration, Rehearsal)> = (0..times).map(|_| once()).collect();
    runs.sort_by_key(|run| run.0);
    runs.swap_remove(times / 2)
}

fn until(mut document: Value, horizon_s: f64) -> Value {
    document["horizon"] = json!(horizon_s);
    document
}

/// Ten chains of spring, low store, pump, high store and use; each pump and each main that tops a high store up is under a
/// switch. Powered, the pumps share a grid that bears five of the ten at once.
fn ten_chains(powered: bool) -> Value {
    let (mut units, mut supplies, mut demands) = (Map::new(), Map::new(), Map::new());
    let (mut outlets, mut stores, mut switches) = (Map::new(), Map::new(), Map::new());
    for chain in 0..10 {
        let size = f64::from(chain);
        let every = 600.0 + 672.7 * (size + 2.0).sqrt();
        let (low, high) = (format!("low {chain}"), format!("high {chain}"));
        let pattern = json!({ "on": every * 0.4, "every": every });
        let spring = json!({ "header": low, "rate": 2.0 + 0.1 * size, "when": "always", "pattern": pattern });
        supplies.insert(format!("spring {chain}"), spring);
        supplies.insert(format!("main {chain}"), json!({ "header": high, "rate": 1.5 }));
        demands.insert(format!("use {chain}"), json!({ "header": high, "rate": 0.9 + 0.03 * size }));
        let mut pump = json!({ "count": 1, "takes": { (low.clone()): 3 }, "gives": { (high.clone()): 3 } });
        if powered {
            pump["draws"] = json!(1000);
        }
        units.insert(format!("pump {chain}"), pump);
        let capacity = 800.0 + 50.0 * size;
        for (name, start, stop, runs) in
            [(&low, 0.8, 0.2, format!("pump {chain}")), (&high, 0.25, 0.5, format!("main {chain}"))]
        {
            outlets.insert(name.clone(), json!({}));
            stores.insert(name.clone(), json!({ "header": name, "capacity": capacity, "level": 400 }));
            let switch =
                json!({ "watch": name, "start_at": start * capacity, "stop_at": stop * capacity, "runs": runs });
            switches.insert(name.clone(), switch);
        }
    }
    if powered {
        supplies.insert("grid".to_owned(), json!({ "header": "power", "rate": 5000 }));
    }
    json!({ "day": "1 h", "units": units, "supplies": supplies, "demands": demands, "outlets": outlets,
            "stores": stores, "switches": switches })
}

fn print_events(what: &str, time: Duration, rehearsal: &Rehearsal) {
    println!(
        "{what}: {:.1} ms, {} stores, {} switches, {} events of which {} simulated, {:.2e} a second, {} balances",
        time.as_secs_f64() * 1e3,
        rehearsal.stores.len(),
        rehearsal.switches.len(),
        rehearsal.event_count,
        rehearsal.simulated,
        rehearsal.simulated as f64 / time.as_secs_f64(),
        rehearsal.modes,
    );
}

fn incommensurate() {
    for (what, powered) in [("1,000 days of 1 h, each chain alone", false), ("the same, one grid for all", true)] {
        let (time, rehearsal) = median(11, &until(ten_chains(powered), 3.6e6));
        print_events(what, time, &rehearsal);
    }
    // The hardest for it: a battery that runs dry, so that all pumps contend for power and every event is a new mode.
    let scarce = works(1, Shape { chains: 10, together: false, powered: true });
    let (time, rehearsal) = median(3, &until(scarce, 36_000.0));
    print_events("10 days of 1 h, random works short of power", time, &rehearsal);
}

fn horizon() {
    let document = works(4, Shape { chains: 3, together: true, powered: false });
    let run = |days: f64| median(51, &until(document.clone(), days * 86_400.0));
    let ((short, _), (long, rehearsal)) = (run(100.0), run(10_000.0));
    println!(
        "horizon: 100 days {:.3} ms, 10,000 days {:.3} ms, ratio {:.2}; {} events of which {} simulated",
        short.as_secs_f64() * 1e3,
        long.as_secs_f64() * 1e3,
        long.as_secs_f64() / short.as_secs_f64(),
        rehearsal.event_count,
        rehearsal.simulated,
    );
}

fn stores() {
    let mut points = Vec::new();
    for chains in [5_u16, 15, 50, 150, 500] {
        let (time, rehearsal) = median(5, &works(5, Shape { chains: chains.into(), together: false, powered: false }));
        println!("{} independent stores: {:.2} ms", rehearsal.stores.len(), time.as_secs_f64() * 1e3);
        points.push((f64::from(chains).ln(), time.as_secs_f64().ln()));
    }
    let n = points.len() as f64;
    let (x, y) = points.iter().fold((0.0, 0.0), |sum, point| (sum.0 + point.0 / n, sum.1 + point.1 / n));
    let (above, below) = points
        .iter()
        .fold((0.0, 0.0), |sum, point| (sum.0 + (point.0 - x) * (point.1 - y), sum.1 + (point.0 - x) * (point.0 - x)));
    println!("cost against independent stores: n^{:.2}", above / below);
}

/// A tank system as a plan, as in `tests/outside/tanks.rs`.
fn tank_plan(system: &Value) -> Value {
    let list = |value: &Value| value.as_array().cloned().unwrap_or_default();
    let name = |at: &Value| format!("tank {at}");
    let (mut stores, mut outlets, mut supplies) = (Map::new(), Map::new(), Map::new());
    for (at, tank) in list(&system["tanks"]).iter().enumerate() {
        let name = format!("tank {at}");
        stores.insert(name.clone(), json!({ "header": name, "capacity": tank[0], "level": tank[1] }));
        outlets.insert(name, json!({}));
    }
    for (at, source) in list(&system["sources"]).iter().enumerate() {
        let pattern = json!({ "every": source[2], "on": source[3], "offset": source[4] });
        let supply = json!({ "header": name(&source[0]), "rate": source[1], "when": "always", "pattern": pattern });
        supplies.insert(format!("source {at}"), supply);
    }
    let (mut units, mut switches) = (Map::new(), Map::new());
    for (at, pump) in list(&system["pumps"]).iter().enumerate() {
        let gives = if pump[1].is_null() { json!({}) } else { json!({ name(&pump[1]): pump[2] }) };
        let unit = json!({ "count": 1, "takes": { name(&pump[0]): pump[2] }, "gives": gives });
        units.insert(format!("pump {at}"), unit);
        let switch =
            json!({ "watch": name(&pump[3]), "start_at": pump[4], "stop_at": pump[5], "runs": format!("pump {at}") });
        switches.insert(format!("pump {at}"), switch);
    }
    json!({ "units": units, "supplies": supplies, "outlets": outlets, "stores": stores, "switches": switches,
            "horizon": system["horizon"] })
}

fn tanks() -> std::io::Result<()> {
    let systems: Vec<Value> =
        serde_json::from_str(include_str!("../tests/outside/tanks.json")).expect("a list of systems");
    let mut out = Vec::new();
    let mut total = Duration::ZERO;
    for system in &systems {
        let (time, rehearsal) = median(5, &tank_plan(system));
        total += time;
        let mut entry = system.clone();
        entry["our_s"] = json!(time.as_secs_f64());
        entry["our_final"] = json!(rehearsal.stores.iter().map(|store| store.end).collect::<Vec<_>>());
        out.push(entry);
    }
    println!(
        "1,000 tank systems: {:.2} ms in all, {:.1} us each",
        total.as_secs_f64() * 1e3,
        total.as_secs_f64() * 1e3
    );
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("target/rehearsal");
    fs::create_dir_all(&folder)?;
    fs::write(folder.join("tanks.json"), serde_json::to_vec(&out)?)
}

fn main() -> std::io::Result<()> {
    incommensurate();
    horizon();
    stores();
    tanks()
}
