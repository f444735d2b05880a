//! Parts that cannot take anything from each other, told from how headers hang together alone.

use super::plan;
use crate::balance::HeatPower;
use crate::balance::assemble::assemble;
use crate::balance::islands::islands;
use crate::balance::model::{Setting, Wanted};
use serde_json::{Value, json};

/// Three users, each a machine on its own spring that takes from `shared` too, with the demand on what it makes; and more.
fn users(more: &[(&str, Value)]) -> Value {
    let mut document = json!({ "units": {}, "supplies": {}, "demands": {}, "outlets": {}, "headers": {} });
    for name in ["a", "b", "c"] {
        let (spring, made) = (format!("{name} spring"), format!("{name} made"));
        document["units"][name] = json!({ "takes": { "shared": 1, &spring: 1 }, "gives": { &made: 1, "fume": 1 }, "count": { "at_most": 4 } });
        document["supplies"][&spring] = json!({ "header": spring, "rate": 3 });
        document["demands"][name] = json!({ "header": made, "rate": 2 });
    }
    for (at, value) in more {
        let (section, name) = at.split_once('/').expect("a section and a name");
        document[section][name] = value.clone();
    }
    document
}

/// The demands of each part, by name.
fn parts(document: &Value) -> Vec<Vec<String>> {
    let plan = plan(&document.to_string());
    let model = assemble(&plan, &Setting::of(&plan, HeatPower::NONE));
    let islands = islands(&model);
    let mut rows: Vec<usize> = islands.iter().flat_map(|island| island.rows.clone()).collect();
    rows.sort_unstable();
    assert!(rows.windows(2).all(|pair| pair[0] < pair[1]), "a row in two parts: {rows:?}");
    let names = |items: &[usize]| {
        let demands = items.iter().flat_map(|&at| match &model.items[at].what {
            Wanted::Served { demands, .. } => demands.clone(),
            _ => Vec::new(),
        });
        demands.map(|demand| plan.demands[demand.0].name.clone()).collect()
    };
    islands.iter().map(|island| names(&island.items)).collect()
}

fn apart() -> Vec<Vec<String>> {
    ["a", "b", "c"].map(|name| vec![name.to_owned()]).to_vec()
}

fn together() -> Vec<Vec<String>> {
    vec![["a", "b", "c"].map(str::to_owned).to_vec()]
}

#[test]
fn who_shares_what_is_limited_can_be_in_the_way() {
    let tap = json!({ "header": "shared" });
    assert_eq!(parts(&users(&[("supplies/tap", tap.clone())])), apart());
    assert_eq!(parts(&users(&[("supplies/tap", json!({ "header": "shared", "rate": 100 }))])), together());
    // Lines are a limit of their own.
    let lines = json!({ "line": 100, "lines": 1 });
    assert_eq!(parts(&users(&[("supplies/tap", tap), ("headers/shared", lines.clone())])), together());
    // What all of them let go is in nobody's way, with an outlet or without, unless lines carry it.
    let tap = ("supplies/tap", json!({ "header": "shared" }));
    assert_eq!(parts(&users(&[tap.clone(), ("outlets/fume", json!({}))])), apart());
    assert_eq!(parts(&users(&[tap.clone(), ("outlets/fume", json!({ "limit": 1 }))])), apart());
    assert_eq!(parts(&users(&[tap.clone(), ("headers/fume", lines)])), together());
    // Unless somebody wants it, or takes it in.
    assert_eq!(parts(&users(&[tap.clone(), ("demands/z", json!({ "header": "fume", "rate": 1 }))])).len(), 1);
    let scrubber = json!({ "takes": { "fume": 1 }, "gives": { "cake": 1 } });
    assert_eq!(parts(&users(&[tap, ("units/scrubber", scrubber)])), together());
}

#[test]
fn what_is_made_without_limit_from_what_is_there_without_limit_is_there() {
    let tap = |header: &str| json!({ "header": header });
    let maker = |more: Value| {
        let mut unit = json!({ "takes": { "ore": 1, "salt": 1 }, "gives": { "shared": 1, "slag": 1 } });
        unit.as_object_mut().expect("fields").extend(more.as_object().expect("fields").clone());
        ("units/maker", unit)
    };
    let (ore, salt) = (("supplies/ore", tap("ore")), ("supplies/salt", tap("salt")));
    assert_eq!(parts(&users(&[ore.clone(), salt.clone(), maker(json!({}))])), apart());
    // It has a limit, or one of what it takes has, or what else it gives.
    let limited = json!({ "header": "salt", "rate": 9 });
    assert_eq!(parts(&users(&[ore.clone(), salt.clone(), maker(json!({ "count": 9 }))])), together());
    assert_eq!(parts(&users(&[ore.clone(), ("supplies/salt", limited), maker(json!({}))])), together());
    assert_eq!(parts(&users(&[ore.clone(), maker(json!({}))])), together());
    let lines = ("headers/slag", json!({ "line": 5, "lines": 1 }));
    assert_eq!(parts(&users(&[ore.clone(), salt.clone(), maker(json!({})), lines])), together());
    // In two steps, and in a circle that nothing begins.
    let crusher = ("units/crusher", json!({ "takes": { "rock": 1 }, "gives": { "ore": 1 } }));
    assert_eq!(
        parts(&users(&[("supplies/rock", tap("rock")), crusher.clone(), salt.clone(), maker(json!({}))])),
        apart()
    );
    let circle = ("units/crusher", json!({ "takes": { "shared": 1 }, "gives": { "ore": 1 } }));
    assert_eq!(parts(&users(&[circle, salt.clone(), maker(json!({}))])), together());
    // Twice over is no more than once.
    let second = ("units/second", json!({ "takes": { "ore": 2 }, "gives": { "salt": 1 } }));
    assert_eq!(parts(&users(&[ore, second, maker(json!({}))])), apart());
}
