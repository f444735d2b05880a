//! What the heat budget finds.

use serde_json::{Map, Value, json};

use super::{Away, Pair};

/// A hall of 10 kJ/K with 1 kW and a wall of 20 W/K to 10 °C: it settles at 60 °C.
fn hall(with: Value, coolers: Value) -> Value {
    let mut document = json!({
        "substances": { "air": { "specific_heat": 1000 }, "water": { "properties": "water" } }, "ambient": 10,
        "zones": { "hall": { "contents": { "air": 10 }, "at": 20, "walls": [ { "to": "ambient", "conductance": 20 } ] } },
        "hot_sources": { "lamp": { "zone": "hall", "heat": 1000 } }, "horizon": "10 h",
    });
    for (name, value) in with.as_object().expect("an object") {
        document["zones"]["hall"][name] = value.clone();
    }
    if coolers.is_object() {
        document["coolers"] = json!({ "loop": coolers });
    }
    document
}

/// A loop of water with a drop of 14 K.
fn loop_at(set_point: f64) -> Value {
    json!({ "cools": "hall", "coolant": "water", "flow": 0.1, "drop": 14, "set_point": set_point, "count": 1 })
}

/// 5 kW for 60 of every 300 s into steam, which a wall of 20 W/K lets out: 60 °C on average.
fn pulsed(mass: f64, limit: f64, cell_limit: f64) -> Value {
    let mut document = hall(
        json!({ "contents": { "air": mass }, "at": 60, "limit": limit, "cells": 10, "cell_limit": cell_limit }),
        json!(null),
    );
    document["hot_sources"]["lamp"] = json!({ "zone": "hall", "heat": 5000, "pattern": { "on": 60, "every": 300 } });
    document
}

/// 5 kW into a chamber with a wall of 20 W/K and a turbine that takes 20 W/K above 20 °C.
fn turbine(least: f64, rated: f64, generates: f64) -> Value {
    let mut document = hall(json!({ "at": 100 }), json!(null));
    document["hot_sources"]["lamp"]["heat"] = json!(5000);
    document["turbines"] = json!({ "mill": {
        "zone": "hall", "fluid": "air", "flow": 0.02, "inlet_min": least, "inlet_rated": rated, "outlet": 20,
        "generates": generates, "count": 1
    } });
    document
}

/// A hall and an annex, with a wall of so much conductance between them.
fn annexed(conductance: f64) -> Value {
    let wall = json!({ "to": "annex", "conductance": conductance });
    let mut document = hall(json!({ "walls": [wall, { "to": "ambient", "conductance": 20 }] }), json!(null));
    document["zones"]["annex"] = json!({ "contents": { "air": 10 }, "at": 0 });
    document
}

/// A hall where so many machines bear less than they get.
pub fn hot_presses(count: usize) -> Value {
    let units: Map<String, Value> =
        (0..count).map(|at| (format!("press {at}"), json!({ "count": 1, "zone": "hall", "limit": 40 }))).collect();
    let mut document = hall(json!({}), json!(null));
    document["units"] = Value::Object(units);
    document
}

/// 20 kW shed in a hall that a cooler of 30 kW holds at 20 °C, for 3 kW of a supply.
pub fn cooled_hall(supply: f64) -> Value {
    json!({
        "substances": { "air": { "specific_heat": 1000 } }, "ambient": 20, "horizon": "1 h",
        "zones": { "hall": { "contents": { "air": 1000 }, "at": 20, "walls": [ { "to": "ambient", "conductance": 10 } ] } },
        "units": { "mill": { "count": 1, "draws": 1e3, "sheds": 20e3, "zone": "hall" } },
        "coolers": { "loop": { "cools": "hall", "duty": 30e3, "draws": 3e3, "set_point": 20, "rejects_draw": false, "count": 1 } },
        "supplies": { "mains": { "header": "power", "rate": supply } },
        "stores": { "bank": { "header": "power", "capacity": 1e6, "level": 0 } },
    })
}

/// Generators that stand in the hall whose coolers they drive: each kW cooled takes `share` kW, which sheds as much again and more.
fn own_heat(draws: f64) -> Value {
    json!({
        "substances": { "air": { "specific_heat": 1000 } }, "ambient": 20,
        "zones": { "hall": { "contents": { "air": 1000 }, "at": 20, "walls": [ { "to": "ambient", "conductance": 10 } ] } },
        "units": { "burner": { "takes": { "fuel": 0.1 }, "generates": 1e3, "sheds": 2e3, "zone": "hall" } },
        "supplies": { "seep": { "header": "fuel" } },
        "demands": { "lamps": { "header": "power", "rate": 1e3 } },
        "coolers": { "loop": { "cools": "hall", "duty": 1e3, "draws": draws, "set_point": 20 } },
    })
}

/// All pairs.
pub fn pairs() -> Vec<Pair> {
    let no_wall = |duty: f64| {
        let mut document = hall(json!({}), json!({ "cools": "hall", "duty": duty, "count": 1 }));
        document["zones"]["hall"].as_object_mut().expect("a zone").remove("walls");
        document
    };
    let leaky = hall(
        json!({ "walls": [ { "to": "ambient", "conductance": 0.1 } ] }),
        json!({ "cools": "hall", "duty": 2000, "count": 1 }),
    );
    let cold_feed = json!({
        "substances": { "water": { "properties": "water" } },
        "units": { "still": { "count": 1, "takes": { "brine": 1 }, "gives": { "water": 1 } } },
        "supplies": { "seep": { "header": "brine", "rate": 1, "at": -5 } }, "outlets": { "water": {} },
    });
    let mut eyed = hall(json!({ "walls": [ { "to": "ambient", "conductance": 10 } ] }), json!(null));
    eyed["ambient"] = json!(0);
    eyed["hot_sources"]["lamp"]["heat"] = json!(500);
    eyed["thermostats"] = json!({ "eye": { "watch": "hall", "start_at": 30, "stop_at": 20, "runs": "lamp" } });
    let ducted = |set_point: f64| json!({ "cools": "hall", "duty": 1000, "set_point": set_point, "count": 1 });
    let open = json!({ "cools": "hall", "coolant": "water", "flow": 0.1, "drop": 14, "count": 1 });
    let switched = |start_at: f64| {
        let mut document = hall(json!({}), json!({ "cools": "hall", "duty": 900, "count": 1 }));
        document["thermostats"] =
            json!({ "eye": { "watch": "hall", "start_at": start_at, "stop_at": 30, "runs": "loop" } });
        document
    };
    // Two halls that hardly touch, each with a beat of its own.
    let mut two = annexed(1e-3);
    two["zones"]["annex"]["walls"] = json!([{ "to": "ambient", "conductance": 30 }]);
    two["hot_sources"]["stove"] = json!({ "zone": "annex", "heat": 1700 });
    two["coolers"] = json!({
        "loop": { "cools": "hall", "duty": 900, "count": 1 }, "other": { "cools": "annex", "duty": 1400, "count": 1 }
    });
    two["thermostats"] = json!({
        "eye": { "watch": "hall", "start_at": 40, "stop_at": 30, "runs": "loop" },
        "ear": { "watch": "annex", "start_at": 41, "stop_at": 33, "runs": "other" },
    });
    let mut unknown = hall(json!({}), json!(null));
    unknown["units"] = json!({ "warmer": {
        "count": 1, "takes": { "brine": 1e-3 }, "gives": { "warm brine": 1e-3 }, "zone": "hall", "product_at": "zone"
    } });
    unknown["supplies"] = json!({ "seep": { "header": "brine", "rate": 1e-3, "at": -5 } });
    unknown["outlets"] = json!({ "warm brine": {} });
    vec![
        ("heats-without-end", no_wall(900.0), Away::Number("/coolers/loop/duty", json!(1100))),
        ("cools-without-end", leaky, Away::Number("/coolers/loop/duty", json!(900))),
        ("zone-over-limit", hall(json!({ "limit": 50 }), json!(null)), Away::Number("/zones/hall/limit", json!(70))),
        ("zone-under-least", hall(json!({ "least": 30 }), json!(null)), Away::Number("/zones/hall/least", json!(15))),
        ("machine-over-limit", hot_presses(1), Away::Number("/units/press 0/limit", json!(70))),
        (
            "coolers-short",
            hall(json!({}), json!({ "cools": "hall", "duty": 400, "set_point": 30, "count": 1 })),
            Away::Number("/coolers/loop/count", json!(2)),
        ),
        ("cooling-runs-away", own_heat(600.0), Away::Number("/coolers/loop/draws", json!(100))),
        ("coolant-freezes", hall(json!({}), loop_at(10.0)), Away::Number("/coolers/loop/set_point", json!(17))),
        ("coolant-near-freezing", hall(json!({}), loop_at(14.5)), Away::Number("/coolers/loop/set_point", json!(17))),
        ("coolant-boils", hall(json!({}), loop_at(101.0)), Away::Number("/coolers/loop/set_point", json!(40))),
        (
            "set-point-too-high",
            hall(json!({ "limit": 50 }), ducted(55.0)),
            Away::Number("/coolers/loop/set_point", json!(40)),
        ),
        ("no-set-point", hall(json!({ "limit": 12 }), open), Away::Number("/zones/hall/limit", json!(40))),
        ("product-freezes", cold_feed, Away::Number("/supplies/seep/at", json!(5))),
        ("ballast-light", pulsed(1.0, 70.0, 200.0), Away::Number("/zones/hall/contents/air", json!(100))),
        ("ballast-heavy", pulsed(100.0, 70.0, 5.0), Away::Number("/zones/hall/cell_limit", json!(200))),
        ("no-ballast", pulsed(100.0, 55.0, 200.0), Away::Number("/zones/hall/limit", json!(70))),
        ("several-rests", eyed, Away::Number("/hot_sources/lamp/heat", json!(100))),
        ("turbine-wastes", turbine(40.0, 50.0, 100.0), Away::Number("/turbines/mill/inlet_rated", json!(150))),
        ("turbine-stands-still", turbine(300.0, 350.0, 100.0), Away::Number("/turbines/mill/inlet_min", json!(40))),
        ("more-than-taken", turbine(40.0, 150.0, 3000.0), Away::Number("/turbines/mill/generates", json!(500))),
        ("cooling-stops", hall(json!({ "limit": 50 }), ducted(30.0)), Away::Number("/zones/hall/limit", json!(70))),
        ("thermostat-cycles", switched(40.0), Away::Number("/thermostats/eye/start_at", json!(70))),
        ("thermostat-unsettled", two, Away::Without("/thermostats/ear")),
        ("stream-heat-unknown", unknown, Away::Without("/supplies/seep/at")),
        ("heat-averaged", pulsed(100.0, 70.0, 200.0), Away::Without("/hot_sources/lamp/pattern")),
        ("heat-open", annexed(1e12), Away::Number("/zones/hall/walls/0/conductance", json!(10))),
    ]
}
