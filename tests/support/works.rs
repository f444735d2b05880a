//! Random plants with stores, switches and patterns: what the time engine is asked about. The same seed gives the same plant.

use super::plant::Random;
use serde_json::{Map, Value, json};

/// How such a plant is drawn.
#[derive(Clone, Copy, Debug)]
pub struct Shape {
    /// Chains of store and pump.
    pub chains: usize,
    /// Whether patterns repeat together: periods are then multiples of one.
    pub together: bool,
    /// Whether the pumps share one header of power, with a battery.
    pub powered: bool,
}

/// A plant as a plan document. Each chain is an intermittent spring, a low store, a pump under a switch, a high store, a
/// demand that comes and goes, and a main that tops the high store up under a switch of its own. Rates are no round numbers, so no
/// two things happen at once but what one pattern does.
pub fn works(seed: u64, shape: Shape) -> Value {
    let mut random = Random::new(seed);
    let (mut units, mut supplies, mut demands) = (Map::new(), Map::new(), Map::new());
    let (mut outlets, mut stores, mut switches) = (Map::new(), Map::new(), Map::new());
    for chain in 0..shape.chains {
        let (low, high) = (format!("low {chain}"), format!("high {chain}"));
        let period = |random: &mut Random| {
            if shape.together { 60.0 * random.whole(1, 6) as f64 } else { 60.0 * (1.0 + 5.0 * random.share()) }
        };
        let rate = 1.0 + 2.0 * random.share();
        let every = period(&mut random);
        let spring = json!({
            "header": low, "rate": rate, "when": "always",
            "pattern": { "on": every * (0.2 + 0.6 * random.share()), "every": every, "elapsed": 0 },
        });
        supplies.insert(format!("spring {chain}"), spring);
        let main = json!({ "header": high, "rate": 0.5 + random.share(), "rank": random.whole(1, 2) });
        supplies.insert(format!("main {chain}"), main);
        let every = period(&mut random);
        let asked = json!({
            "header": high, "rate": 0.4 + random.share(), "rank": random.whole(1, 2),
            "pattern": { "elapsed": 0, "steps": [
                { "for": every * 0.4, "share": 0.3 + random.share() }, { "for": every * 0.6, "share": random.share() },
            ] },
        });
        demands.insert(format!("use {chain}"), asked);
        let flow = 1.0 + 3.0 * random.share();
        let mut pump =
            json!({ "count": random.whole(1, 2), "takes": { (low.clone()): flow }, "gives": { (high.clone()): flow } });
        if shape.powered {
            pump["draws"] = json!(100.0 + 50.0 * random.share());
            pump["idle_draw"] = json!(5);
        }
        units.insert(format!("pump {chain}"), pump);
        if random.chance(0.7) {
            outlets.insert(low.clone(), json!({}));
        }
        if random.chance(0.5) {
            outlets.insert(high.clone(), json!({}));
        }
        for (name, filling) in [(&low, false), (&high, true)] {
            let capacity = 100.0 + 200.0 * random.share();
            let mut store = json!({ "header": name, "capacity": capacity, "level": capacity * random.share() });
            match random.whole(0, 4) {
                0 => store["loses"] = json!(0.01),
                1 => store["loses"] = json!("20 %/h"),
                _ => {}
            }
            stores.insert(name.clone(), store);
            let (near, far) = (capacity * (0.1 + 0.3 * random.share()), capacity * (0.6 + 0.3 * random.share()));
            let (start, stop) = if filling { (near, far) } else { (far, near) };
            let runs = if filling { format!("main {chain}") } else { format!("pump {chain}") };
            if random.chance(0.8) {
                let switch = json!({ "watch": name, "start_at": start, "stop_at": stop, "runs": runs });
                switches.insert(name.clone(), switch);
            }
        }
    }
    if shape.powered {
        let most = 80.0 * shape.chains as f64;
        supplies.insert("grid".to_owned(), json!({ "header": "power", "rate": most }));
        let bank = json!({ "header": "power", "capacity": 3e3 * shape.chains as f64, "level": "50 %" });
        stores.insert("bank".to_owned(), bank);
    }
    json!({
        "units": units, "supplies": supplies, "demands": demands, "outlets": outlets, "stores": stores,
        "switches": switches, "horizon": 3600,
    })
}
