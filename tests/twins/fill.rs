//! What the fill level finds.

use serde_json::{Value, json};

use super::flow::well;
use super::heat::cooled_hall;
use super::{Away, Pair};

/// 100 kg, of which 1 kg/s is drawn, for 200 s.
fn tank(rest: Value) -> Value {
    let mut document = json!({
        "horizon": 200,
        "demands": { "yard": { "header": "water", "rate": 1 } },
        "stores": { "tank": { "header": "water", "capacity": 100, "level": "100 %" } },
    });
    for (name, value) in rest.as_object().expect("an object") {
        document[name] = value.clone();
    }
    document
}

/// A sump of 120 kg that a pump of 3 kg/s drains from 100 kg to 20 kg, with 1 kg/s coming in.
fn sump() -> Value {
    json!({
        "horizon": 3600,
        "units": { "pump": { "count": 1, "takes": { "drain": 3 }, "gives": { "sea": 3 } } },
        "supplies": { "seep": { "header": "drain", "rate": 1, "when": "always" } },
        "outlets": { "sea": {} },
        "stores": { "sump": { "header": "drain", "capacity": 120, "level": 20 } },
        "switches": { "float": { "watch": "sump", "start_at": 100, "stop_at": 20, "runs": "pump" } },
    })
}

/// A bank with two stages of 2 kW, and a load.
fn bank(load: f64, second: (&str, &str)) -> Value {
    json!({
        "horizon": "1 day",
        "units": {
            "first": { "count": 1, "takes": { "fuel": 0.001 }, "generates": "2 kW" },
            "second": { "count": 1, "takes": { "fuel": 0.001 }, "generates": "2 kW", "rank": 2 },
        },
        "supplies": { "fuel store": { "header": "fuel" } },
        "demands": { "load": { "header": "power", "rate": load } },
        "stores": { "bank": { "header": "power", "capacity": "10 MJ", "level": "90 %" } },
        "switches": {
            "stage one": { "watch": "bank", "start_at": "75 %", "stop_at": "95 %", "runs": "first" },
            "stage two": { "watch": "bank", "start_at": second.0, "stop_at": second.1, "runs": "second" },
        },
    })
}

/// A loop that holds 420 kg, of which 20 kg stay free and which grows by 3 %.
fn closed_loop(charge: f64, round_trip: &str) -> Value {
    json!({ "loops": { "west": {
        "coolant": "brine", "holds": 420, "charge": charge, "keep_free": 20, "expands": 0.03, "flow": 1.5,
        "round_trip": round_trip
    } } })
}

/// Two patterns, the second of this length.
fn patterns(horizon: &str, every: f64) -> Value {
    json!({
        "title": "few events",
        "horizon": horizon,
        "supplies": { "a": { "header": "x", "rate": 1, "when": "always", "pattern": { "on": 1, "every": 3.1416259 } } },
        "demands": { "b": { "header": "x", "rate": 0.3, "pattern": { "on": 1, "every": every } } },
        "stores": { "tank": { "header": "x", "capacity": 1000 } },
    })
}

/// All pairs.
pub fn pairs() -> Vec<Pair> {
    let full = json!({
        "horizon": 150,
        "supplies": { "seep": { "header": "drain", "rate": 1, "when": "always" } },
        "stores": { "sump": { "header": "drain", "capacity": 100 } },
    });
    let lost = json!({
        "horizon": 100,
        "supplies": { "seep": { "header": "drain", "rate": 1, "when": "always" } },
        "demands": { "yard": { "header": "drain", "rate": 0.6 } },
    });
    let low = tank(
        json!({ "horizon": 60, "stores": { "tank": { "header": "water", "capacity": 100, "level": 100, "low": 50 } } }),
    );
    let mut high = sump();
    high["stores"]["sump"]["high"] = json!(90);
    let mut flood = sump();
    flood["supplies"]["seep"]["rate"] = json!(0.1);
    flood["supplies"]["flood"] = json!({ "header": "drain", "rate": 2, "when": "always", "pattern": { "on": 1, "every": "3 h", "offset": "2 h" } });
    let mut brief = sump();
    brief["horizon"] = json!(79);
    let mut unfed = sump();
    unfed["supplies"]["seep"]["rate"] = json!(0);
    let mut fight = sump();
    fight["switches"]["float"]["start_at"] = json!(80);
    fight["supplies"]["melt"] = json!({ "header": "drain", "rate": 2 });
    fight["switches"]["filler"] = json!({ "watch": "sump", "start_at": 22, "stop_at": 90, "runs": "melt" });
    fight["switches"]["float"]["stop_at"] = json!(25);
    let reserve = tank(json!({ "supplies": { "reserve": { "header": "water", "rate": 2, "rank": 2 } } }));
    let held = json!({
        "horizon": 200,
        "units": { "mill": { "count": 1, "takes": { "water": 1 } } },
        "stores": { "tank": { "header": "water", "capacity": 100, "level": 100 } },
    });
    let turned = json!({
        "horizon": 100,
        "units": { "mill": { "count": 1, "when": "wanted", "takes": { "water": 1 }, "gives": { "flour": 1 }, "turndown": 0.5 } },
        "supplies": { "well": { "header": "water" } },
        "demands": { "bakery": { "header": "flour", "rate": 0.2 } },
        "stores": { "bin": { "header": "bran", "capacity": 1 } },
    });
    let good = ("45 %", "65 %");
    vec![
        ("runs-dry", tank(json!({})), Away::Number("/horizon", json!(99))),
        ("demand-cut", tank(json!({})), Away::Number("/horizon", json!(99))),
        ("overflows", full, Away::Number("/horizon", json!(99))),
        ("supply-lost", lost, Away::Number("/demands/yard/rate", json!(1))),
        ("below-low-limit", low, Away::Number("/stores/tank/low", json!(40))),
        ("above-high-limit", high, Away::Number("/stores/sump/high", json!(101))),
        ("loop-over-full", closed_loop(395.0, "4 min"), Away::Number("/loops/west/charge", json!(380))),
        ("loop-short", closed_loop(340.0, "4 min"), Away::Number("/loops/west/charge", json!(380))),
        ("loop-window-empty", closed_loop(380.0, "5 min"), Away::Number("/loops/west/round_trip", json!("4 min"))),
        ("switch-chatters", sump(), Away::Number("/supplies/seep/rate", json!(0.1))),
        ("deadband-narrow", flood, Away::Number("/supplies/flood/rate", json!(0.01))),
        ("switch-never-acts", brief, Away::Number("/horizon", json!(3600))),
        ("switch-store-nothing-fills", unfed, Away::Number("/supplies/seep/rate", json!(1))),
        ("switches-fight", fight, Away::Number("/switches/filler/stop_at", json!(70))),
        ("stage-order", bank(1500.0, ("80 %", "90 %")), Away::Number("/switches/stage two/start_at", json!("45 %"))),
        ("stages-overlap", bank(1500.0, ("45 %", "80 %")), Away::Number("/switches/stage two/stop_at", json!("65 %"))),
        ("stage-cannot-hold", bank(3000.0, good), Away::Number("/demands/load/rate", json!(1500))),
        ("cooler-unpowered", cooled_hall(2e3), Away::Number("/supplies/mains/rate", json!(4e3))),
        ("coolers-hunt", cooled_hall(2.5e3), Away::Number("/supplies/mains/rate", json!(4e3))),
        ("budget-spent", patterns("1000 day", 2.7128818), Away::Number("/horizon", json!("100 s"))),
        ("nothing-to-rehearse", well(1.0, 1.0), Away::With("loops", closed_loop(380.0, "4 min")["loops"].clone())),
        ("reserve-drawn", reserve, Away::Number("/horizon", json!(99))),
        ("unit-held", held, Away::Number("/horizon", json!(100))),
        ("below-turndown", turned, Away::Number("/demands/bakery/rate", json!(0.6))),
        (
            "patterns-never-repeat",
            patterns("1000 s", 2.7128818),
            Away::Number("/demands/b/pattern/every", json!(6.2832518)),
        ),
    ]
}
