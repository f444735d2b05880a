//! Random small halls of machines to be sized that draw while they stand: some short of power, with a grid or a generator that gives
//! less than all would like, demands of several ranks or another aim; and some with power to spare, where several sorts could do
//! one job. Small enough for all numbers of machines to be tried.

#![allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a few machines")]

use super::plant::Random;
use serde_json::{Map, Value, json};

/// A hall and the machines of each unit that could ever be of use: the plan's most, or what its feed can run.
pub struct Hall {
    /// The plan document.
    pub document: Value,
    /// By unit: its name, the least and the greatest number of machines worth trying.
    pub machines: Vec<(String, u32, u32)>,
}

fn count(random: &mut Random, most: u32) -> (Option<Value>, u32, u32) {
    match random.whole(0, 9) {
        0 | 1 => {
            let fixed = random.whole(0, 3) as u32;
            (Some(json!(fixed)), fixed, fixed)
        }
        2 => {
            let least = random.whole(1, 2) as u32;
            (Some(json!({ "at_least": least })), least, most.max(least))
        }
        3..=5 => {
            let bound = random.whole(1, 3) as u32;
            (Some(json!({ "at_most": bound })), 0, bound.min(most))
        }
        6 => (Some(json!({ "at_least": 1, "at_most": 3 })), 1, most.clamp(1, 3)),
        _ => (None, 0, most),
    }
}

/// A hall. With `turndown` some machines cannot be turned down as far as one likes.
pub fn hall(seed: u64, turndown: bool) -> Hall {
    let mut random = Random::new(seed);
    let (mut units, mut supplies, mut demands, mut outlets) = (Map::new(), Map::new(), Map::new(), Map::new());
    let mut machines = Vec::new();
    let sorts = random.whole(if turndown { 1 } else { 2 }, if turndown { 2 } else { 3 });
    let cakes = random.whole(1, sorts);
    for sort in 0..sorts {
        let (takes, feed) = (random.tenths(5, 20), random.tenths(5, 60));
        let name = format!("press {sort}");
        let ore = format!("ore {sort}");
        let (bounds, least, most) = count(&mut random, (feed / takes).ceil() as u32);
        let cake = format!("cake {}", random.whole(0, cakes - 1));
        let mut unit = json!({ "takes": { &ore: takes }, "gives": { &cake: random.tenths(2, 30) },
            "draws": random.tenths(0, 20) * 100.0,
            "idle_draw": if random.chance(0.85) { random.tenths(2, 25) * 100.0 } else { 0.0 } });
        if let Some(bounds) = bounds {
            unit["count"] = bounds;
        }
        if random.chance(0.3) {
            unit["gives"]["dust"] = json!(random.tenths(1, 5));
        }
        if turndown && random.chance(0.7) {
            unit["turndown"] = json!(random.whole(1, 4) as f64 / 4.0);
        }
        machines.push((name.clone(), least, most));
        units.insert(name, unit);
        let when = if random.chance(0.1) { "always" } else { "wanted" };
        supplies.insert(ore.clone(), json!({ "header": ore, "rate": feed, "when": when }));
    }
    let burns = random.chance(0.5);
    if burns {
        let (takes, fuel) = (random.tenths(2, 10), random.tenths(2, 20));
        let (bounds, least, most) = count(&mut random, (fuel / takes).ceil() as u32);
        let mut unit = json!({ "takes": { "fuel": takes }, "gives": { "smoke": takes },
            "generates": random.tenths(10, 60) * 100.0 });
        if random.chance(0.5) {
            unit["idle_draw"] = json!(random.tenths(1, 10) * 100.0);
        }
        if let Some(bounds) = bounds {
            unit["count"] = bounds;
        }
        if turndown && random.chance(0.3) {
            unit["turndown"] = json!(0.5);
        }
        machines.push(("burner".to_owned(), least, most));
        units.insert("burner".to_owned(), unit);
        supplies.insert("fuel".to_owned(), json!({ "header": "fuel", "rate": fuel, "rank": 2 }));
        outlets.insert("smoke".to_owned(), json!({}));
    }
    if !burns || random.chance(0.5) {
        supplies.insert("grid".to_owned(), json!({ "header": "power", "rate": random.tenths(5, 50) * 100.0 }));
    }
    if random.chance(0.7) {
        outlets.insert("dust".to_owned(), json!({}));
    }
    for cake in 0..cakes {
        let header = format!("cake {cake}");
        if random.chance(0.2) {
            outlets.insert(header.clone(), json!({}));
        }
        for which in 0..random.whole(1, 2) {
            // In a hall with turndowns no two demands are of one rank, so that trying all numbers needs no sharing.
            let rank = if turndown { 1 + 2 * cake + which } else { random.whole(1, 3) };
            let demand = json!({ "header": header, "rate": random.tenths(1, 60), "rank": rank });
            demands.insert(format!("demand {which} of {header}"), demand);
        }
    }
    if random.chance(0.2) {
        demands
            .insert("lamps".to_owned(), json!({ "header": "power", "rate": random.tenths(1, 20) * 100.0, "rank": 9 }));
    }
    let mut document = json!({ "units": units, "supplies": supplies, "outlets": outlets });
    let of = |random: &mut Random| format!("cake {}", random.whole(0, cakes - 1));
    match random.whole(0, 5) {
        0 => document["aim"] = json!({ "make": { of(&mut random): random.tenths(5, 80) } }),
        1 => {
            let press = format!("press {}", random.whole(0, sorts - 1));
            document["aim"] = json!({ "run": { press: random.tenths(3, 35) } });
        }
        2 => {
            document["aim"] = json!({ "most": { of(&mut random): random.tenths(1, 30) } });
            document["demands"] = Value::Object(demands.clone());
        }
        _ => document["demands"] = Value::Object(demands.clone()),
    }
    Hall { document, machines }
}

/// A hall with all the power it wants, of one or two supplies or a burner, and a choice of sorts for each cake: what one draws while
/// it runs has nothing to do with what it draws while it stands.
pub fn spare(seed: u64) -> Hall {
    let mut random = Random::new(seed);
    let (mut units, mut supplies, mut demands, mut outlets) = (Map::new(), Map::new(), Map::new(), Map::new());
    let mut machines = Vec::new();
    let cakes = random.whole(1, 2);
    let makes = random.chance(0.2);
    let mut made = Map::new();
    for cake in 0..cakes {
        let (header, asked) = (format!("cake {cake}"), random.tenths(3, 25));
        for sort in 0..if cakes == 1 { random.whole(2, 3) } else { random.whole(1, 2) } {
            let gives = random.tenths(8, 15);
            let ore = if random.chance(0.5) { format!("ore {cake}") } else { format!("ore {cake} {sort}") };
            let mut unit = json!({ "takes": { &ore: gives * random.tenths(10, 14) }, "gives": { &header: gives },
                "draws": random.tenths(2, 40) * 100.0,
                "idle_draw": if random.chance(0.85) { random.tenths(1, 25) * 100.0 } else { 0.0 } });
            let most = (asked / gives).ceil() as u32;
            let (bounds, least, most) = if random.chance(0.3) { count(&mut random, most) } else { (None, 0, most) };
            // One sort of each cake has no bound, so that nothing need be short.
            let (bounds, least, most) =
                if sort == 0 { (None, 0, (asked / gives).ceil() as u32) } else { (bounds, least, most) };
            if let Some(bounds) = bounds {
                unit["count"] = bounds;
            }
            if random.chance(0.2) {
                unit["gives"]["dust"] = json!(random.tenths(1, 5));
                outlets.insert("dust".to_owned(), json!({}));
            }
            let name = format!("press {cake} {sort}");
            machines.push((name.clone(), least, most));
            units.insert(name, unit);
            supplies.insert(ore.clone(), json!({ "header": ore, "rank": random.whole(1, 2) }));
        }
        if makes {
            made.insert(header, json!(asked));
        } else {
            demands.insert(header.clone(), json!({ "header": header, "rate": asked, "rank": random.whole(1, 2) }));
        }
    }
    let kind = random.whole(0, 3);
    if kind == 0 {
        let takes = random.tenths(2, 10);
        let mut unit = json!({ "takes": { "fuel": takes }, "gives": { "smoke": takes }, "generates": 20e3 });
        if random.chance(0.5) {
            unit["idle_draw"] = json!(random.tenths(1, 10) * 100.0);
        }
        machines.push(("burner".to_owned(), 0, 2));
        units.insert("burner".to_owned(), unit);
        supplies.insert("fuel".to_owned(), json!({ "header": "fuel", "rank": 2 }));
        outlets.insert("smoke".to_owned(), json!({}));
    } else {
        supplies.insert("grid".to_owned(), json!({ "header": "power", "rank": random.whole(1, 2) }));
    }
    if kind >= 2 {
        let wind = json!({ "header": "power", "rate": random.tenths(5, 50) * 100.0,
            "when": if kind == 3 { "always" } else { "wanted" } });
        supplies.insert("wind".to_owned(), wind);
    }
    let mut document = json!({ "units": units, "supplies": supplies, "outlets": outlets });
    if makes {
        document["aim"] = json!({ "make": made });
    } else {
        document["demands"] = Value::Object(demands);
    }
    Hall { document, machines }
}
