//! The question on plans whose answers a hand can check.

use approx::assert_relative_eq;
use serde_json::{Value, json};

use super::{HeatBudget, Rest, ask};
use crate::budget::Budget;
use crate::plan::{Limits, Plan, ReadError};
use crate::questions::answer::Verdict;

fn read(document: &Value) -> Plan {
    Plan::from_json(document.to_string().as_bytes(), &Limits::DEFAULT).unwrap_or_else(|fault| panic!("{fault}"))
}

fn answer(document: &Value) -> HeatBudget {
    ask(&read(document), &Budget::unhurried()).unwrap_or_else(|halt| panic!("{halt}"))
}

fn has(answer: &HeatBudget, code: &str) -> bool {
    answer.findings.iter().any(|finding| finding.code == code)
}

/// A hall of 10 kJ/K with 1 kW and a wall of 20 W/K to 10 °C.
fn hall() -> Value {
    json!({
        "substances": { "air": { "specific_heat": 1000 } }, "ambient": 10,
        "zones": { "hall": { "contents": { "air": 10 }, "at": 20, "walls": [ { "to": "ambient", "conductance": 20 } ] } },
        "hot_sources": { "lamp": { "zone": "hall", "heat": "1 kW" } }, "horizon": "10 h" })
}

#[test]
fn a_hall_settles_where_its_wall_takes_what_comes_in() {
    let answer = answer(&hall());
    let hall = answer.figures.zones.get("hall").expect("the hall");
    assert_eq!(answer.figures.rest, Rest::One);
    assert_relative_eq!(hall.settles_at_c.expect("it rests"), 60.0, max_relative = 1e-12);
    assert_relative_eq!(hall.gain_w.expect("it rests"), 1000.0);
    assert_relative_eq!(hall.removed_w.expect("it rests"), 1000.0, max_relative = 1e-12);
    // 60 − 40·e^(−36,000·20/10,000) is 60 to all digits.
    assert_relative_eq!(hall.greatest_c, 60.0, max_relative = 1e-12);
    assert_relative_eq!(hall.least_c, 20.0);
    assert_eq!(answer.verdict, Verdict::Holds);
}

#[test]
fn a_cooler_holds_its_set_point_by_running_a_share_of_the_time() {
    let mut plan = hall();
    plan["coolers"] = json!({ "loop": { "cools": "hall", "duty": "400 W", "cop": 4, "set_point": 30 } });
    let answer = answer(&plan);
    let cooler = answer.figures.coolers.get("loop").expect("the cooler");
    // 1000 W − 20·(30 − 10) W = 600 W, 1.5 coolers: 2, each three quarters of the time.
    assert_relative_eq!(cooler.needed.expect("needed"), 1.5, max_relative = 1e-9);
    assert_eq!(cooler.count, 2);
    assert_relative_eq!(cooler.running_share.expect("it rests"), 0.75, max_relative = 1e-9);
    assert_relative_eq!(cooler.draws_w.expect("it rests"), 150.0, max_relative = 1e-9);
    let hall = answer.figures.zones.get("hall").expect("the hall");
    assert_eq!(hall.settles_at_c, Some(30.0));
    // It gets there and stays, without a degree of overshoot.
    assert_relative_eq!(hall.greatest_c, 30.0, max_relative = 1e-15);
}

/// With τ = 10 kJ/K ÷ 20 W/K = 500 s it warms from 30 to 40 °C toward 60 °C in τ·ln(30/20), and cools back toward
/// 15 °C, where 1000 − 900 W are lost, in τ·ln(25/15).
#[test]
fn a_thermostat_keeps_a_hall_in_a_cycle() {
    let mut plan = hall();
    plan["zones"]["hall"]["limit"] = json!(41);
    plan["coolers"] =
        json!({ "loop": { "cools": "hall", "duty": 900, "draws": 300, "rejects_draw": false, "count": 1 } });
    plan["thermostats"] = json!({ "eye": { "watch": "hall", "start_at": 40, "stop_at": 30, "runs": "loop" } });
    let answer = answer(&plan);
    let (off, on) = (500.0 * 1.5_f64.ln(), 500.0 * (25.0_f64 / 15.0).ln());
    let share = on / (on + off);
    assert_eq!(answer.figures.rest, Rest::Cycles);
    let thermostat = answer.figures.thermostats.get("eye").expect("the thermostat");
    assert_relative_eq!(thermostat.on_share.expect("it settles"), share, max_relative = 1e-9);
    assert_relative_eq!(thermostat.starts_per_h.expect("it settles"), 3600.0 / (on + off), max_relative = 1e-9);
    let hall = answer.figures.zones.get("hall").expect("the hall");
    let cycle = hall.cycle.expect("a cycle");
    assert_relative_eq!(cycle.period_s, on + off, max_relative = 1e-9);
    assert_relative_eq!(cycle.trough_c, 30.0, max_relative = 1e-12);
    assert_relative_eq!(cycle.peak_c, 40.0, max_relative = 1e-12);
    assert_relative_eq!(hall.settles_at_c.expect("a mean"), 60.0 - 45.0 * share, max_relative = 1e-9);
    assert_relative_eq!(hall.gain_w.expect("a mean"), hall.removed_w.expect("a mean"), max_relative = 1e-9);
    let cooler = answer.figures.coolers.get("loop").expect("the cooler");
    assert_relative_eq!(cooler.moves_w.expect("a mean"), 900.0 * share, max_relative = 1e-9);
    assert_relative_eq!(answer.figures.power.expect("power").drawn_w, 300.0 * share, max_relative = 1e-9);
    assert!(answer.say.contains("hall goes from 30 °C to 40 °C"), "{}", answer.say);
    assert!(has(&answer, "thermostat-cycles") && !has(&answer, "zone-over-limit"));
}

/// The peak of the cycle is what a limit is held to, also where the horizon ends before it.
#[test]
fn a_cycle_that_passes_a_limit_fails() {
    let mut plan = hall();
    plan["zones"]["hall"]["limit"] = json!(39);
    plan["horizon"] = json!(60);
    plan["coolers"] = json!({ "loop": { "cools": "hall", "duty": 900, "count": 1 } });
    plan["thermostats"] = json!({ "eye": { "watch": "hall", "start_at": 40, "stop_at": 30, "runs": "loop" } });
    assert!(has(&answer(&plan), "zone-over-limit"));
}

/// What turns at 70 °C never turns in a hall that rests at 60 °C, where the middle of its deadband would have it run.
#[test]
fn a_thermostat_that_never_acts_is_not_counted() {
    let mut plan = hall();
    plan["coolers"] = json!({ "loop": { "cools": "hall", "duty": 900, "count": 1 } });
    plan["thermostats"] = json!({ "eye": { "watch": "hall", "start_at": 70, "stop_at": 30, "runs": "loop" } });
    let answer = answer(&plan);
    assert_eq!(answer.figures.rest, Rest::One);
    let thermostat = answer.figures.thermostats.get("eye").expect("the thermostat");
    assert_eq!((thermostat.on_share, thermostat.starts_per_h, thermostat.period_s), (Some(0.0), Some(0.0), None));
    assert_relative_eq!(
        answer.figures.zones.get("hall").and_then(|zone| zone.settles_at_c).expect("rest"),
        60.0,
        max_relative = 1e-9
    );
    assert_eq!(answer.figures.coolers.get("loop").and_then(|cooler| cooler.moves_w), Some(0.0));
}

/// 1 kW less 500 W leaves 25 K above 10 °C; a coolant that a wall of 20 W/K lets get colder has no set point to hold it.
#[test]
fn a_coolant_is_as_warm_as_what_it_cools() {
    let mut plan = hall();
    plan["substances"]["brine"] = json!({ "specific_heat": 4000, "freezes_at": 30, "boils_at": 70 });
    plan["coolers"] = json!({ "loop": { "cools": "hall", "coolant": "brine", "flow": 0.025, "drop": 5, "count": 1 } });
    let freezes = answer(&plan);
    let cooler = freezes.figures.coolers.get("loop").expect("the cooler");
    assert_eq!((cooler.coldest_c, cooler.set_point_advised_c), (Some(15.0), Some(38.0)));
    assert_relative_eq!(cooler.warmest_c.expect("it runs"), 35.0, max_relative = 1e-9);
    assert!(has(&freezes, "coolant-freezes") && !has(&freezes, "coolant-boils"), "{freezes:?}");
    // Set to 38 °C it never runs below that.
    plan["coolers"]["loop"]["set_point"] = json!(38);
    assert!(!has(&answer(&plan), "coolant-freezes"));
    // 2.5 kW are too much for it: 10 + 2000 ÷ 20 = 110 °C.
    plan["hot_sources"]["lamp"]["heat"] = json!(2500);
    let boils = answer(&plan);
    assert_relative_eq!(
        boils.figures.coolers.get("loop").and_then(|cooler| cooler.warmest_c).expect("it runs"),
        110.0,
        max_relative = 1e-9
    );
    assert!(has(&boils, "coolant-boils"), "{boils:?}");
}

/// A product that is as warm as its zone freezes where the zone begins below freezing, though it rests above.
#[test]
fn a_product_may_freeze_before_its_zone_is_warm() {
    let mut plan = hall();
    plan["zones"]["hall"]["at"] = json!(-5);
    plan["substances"]["water"] = json!({ "properties": "water" });
    plan["units"] = json!({ "still": {
        "count": 1, "takes": { "water": 0.001 }, "gives": { "clean": 0.001 }, "zone": "hall", "product_at": "zone"
    } });
    plan["supplies"] = json!({ "seep": { "header": "water", "rate": 0.001, "at": 15 } });
    plan["outlets"] = json!({ "clean": {} });
    plan["substances"]["clean"] = json!({ "properties": "water" });
    let answer = answer(&plan);
    // 1000 + 4.186·15 + 20·10 = (20 + 4.186)·T.
    let rests = (1200.0 + 4.186 * 15.0) / 24.186;
    let product = answer.figures.products.get("still").expect("its product");
    assert_relative_eq!(product.at_c, rests, max_relative = 1e-9);
    assert!((product.least_c + 5.0).abs() < 1e-9, "{product:?}");
    assert_relative_eq!(answer.figures.streams.get("clean").expect("warm").at_c, rests, max_relative = 1e-9);
    assert_eq!(answer.figures.streams.get("water").map(|stream| stream.at_c), Some(15.0));
    assert!(has(&answer, "product-freezes") && !has(&answer, "stream-heat-unknown"), "{answer:?}");
}

#[test]
fn too_few_coolers_are_said_with_how_many_would_do() {
    let mut plan = hall();
    plan["zones"]["hall"]["limit"] = json!(35);
    plan["coolers"] = json!({ "loop": { "cools": "hall", "duty": "400 W", "set_point": 30, "count": 1 } });
    let found = answer(&plan);
    assert_eq!(found.verdict, Verdict::Fails);
    assert!(has(&found, "coolers-short") && has(&found, "zone-over-limit"), "{found:?}");
    let patch = found.findings.iter().find_map(|finding| finding.remedy.as_ref()?.patch.clone()).expect("a patch");
    assert_eq!(patch, json!({ "coolers": { "loop": { "count": 2 } } }));
    plan["coolers"]["loop"]["count"] = json!(2);
    assert_eq!(answer(&plan).verdict, Verdict::Holds);
}

#[test]
fn what_fails_first_when_cooling_stops_is_named_with_its_time() {
    let mut plan = hall();
    plan["coolers"] = json!({ "loop": { "cools": "hall", "duty": "600 W", "set_point": 30, "count": 1 } });
    plan["units"] = json!({ "press": { "count": 1, "zone": "hall", "limit": 40 },
                            "lathe": { "count": 1, "zone": "hall", "limit": 50 } });
    let answer = answer(&plan);
    let first = answer.figures.cooling_stops.flatten().expect("something fails");
    assert_eq!((&*first.name, first.at.as_str()), ("press", "/units/press/limit"));
    // From 30 toward 60 with a time constant of 500 s: 40 after 500·ln(30/20).
    assert_relative_eq!(first.after_s, 500.0 * 1.5_f64.ln(), max_relative = 1e-9);
}

#[test]
fn heat_without_a_way_out_is_said() {
    let mut plan = hall();
    plan["zones"]["hall"]["walls"] = json!([{ "to": "hut", "conductance": 5 }]);
    plan["zones"]["hut"] = json!({ "contents": { "air": 10 }, "at": 20 });
    let answer = answer(&plan);
    assert_eq!((answer.figures.rest, answer.verdict), (Rest::Heats, Verdict::Fails));
    assert!(has(&answer, "heats-without-end"));
    // 1 kW for 10 h over 20 kJ/K is 1800 K.
    let mean = answer.figures.zones.iter().map(|(_, zone)| zone.greatest_c).sum::<f64>() / 2.0;
    assert_relative_eq!(mean, 1820.0, max_relative = 1e-9);
}

/// A lamp that a hot hall turns on: without it the hall rests at 0 °C, with it at 50 °C.
#[test]
fn several_states_of_rest_are_said() {
    let plan = json!({
        "substances": { "air": { "specific_heat": 1000 } }, "ambient": 0,
        "zones": { "hall": { "contents": { "air": 10 }, "at": 20, "walls": [ { "to": "ambient", "conductance": 10 } ] } },
        "hot_sources": { "lamp": { "zone": "hall", "heat": 500 } },
        "thermostats": { "eye": { "watch": "hall", "start_at": 30, "stop_at": 20, "runs": "lamp" } } });
    let answer = answer(&plan);
    assert_eq!((answer.figures.rest, answer.verdict), (Rest::Several, Verdict::HoldsWithCautions));
    assert!(has(&answer, "several-rests"));
    assert_relative_eq!(
        answer.figures.zones.get("hall").and_then(|zone| zone.settles_at_c).expect("rest"),
        0.0,
        epsilon = 1e-9
    );
}

#[test]
fn cooling_without_a_set_point_may_have_no_end() {
    let mut plan = hall();
    plan["zones"]["hall"]["walls"] = json!([{ "to": "ambient", "conductance": 0.1 }]);
    plan["coolers"] = json!({ "loop": { "cools": "hall", "duty": "2 kW", "count": 1 } });
    let answer = answer(&plan);
    assert_eq!(answer.figures.rest, Rest::Cools);
    assert!(has(&answer, "cools-without-end"));
}

#[test]
fn a_coolant_that_would_freeze_is_said_with_the_set_point_to_take() {
    let mut plan = hall();
    plan["substances"]["water"] = json!({ "properties": "water" });
    plan["coolers"] = json!({ "loop": { "cools": "hall", "coolant": "water", "flow": "100 g/s", "drop": "14 K",
                                        "set_point": "10 °C", "count": 1 } });
    let found = answer(&plan);
    assert!(has(&found, "coolant-freezes"), "{found:?}");
    let remedy = found.findings.iter().find(|finding| finding.code == "coolant-freezes").and_then(|f| f.remedy.clone());
    assert_eq!(remedy.and_then(|remedy| remedy.patch), Some(json!({ "coolers": { "loop": { "set_point": 17.0 } } })));
    plan["coolers"]["loop"]["set_point"] = json!(17);
    assert!(!has(&answer(&plan), "coolant-freezes"));
}

#[test]
fn a_cold_feed_freezes_its_product() {
    let plan = json!({
        "substances": { "water": { "properties": "water" } },
        "units": { "still": { "count": 1, "takes": { "brine": 1 }, "gives": { "water": 1 } } },
        "supplies": { "seep": { "header": "brine", "rate": 1, "at": "-5 °C" } }, "outlets": { "water": {} } });
    let found = answer(&plan);
    assert!(has(&found, "product-freezes"), "{found:?}");
    let mut warm = plan.clone();
    warm["units"]["still"]["product_at"] = json!("15 °C");
    assert!(!has(&answer(&warm), "product-freezes"));
}

/// Melting takes 334 kJ/kg at 0 °C: 1 kW into 1 kg of ice at −10 °C.
#[test]
fn ice_stays_at_its_melting_point_until_it_is_molten() {
    let plan = json!({
        "substances": { "water": { "properties": "water" } },
        "zones": { "tank": { "contents": { "water": 1 }, "at": -10, "limit": 1 } },
        "hot_sources": { "lamp": { "zone": "tank", "heat": "1 kW" } }, "horizon": "1 h" });
    let passed =
        answer(&plan).figures.zones.get("tank").and_then(|zone| zone.first_over_limit_s).flatten().expect("it warms");
    assert_relative_eq!(passed, (10.0 * 2090.0 + 334e3 + 4186.0) / 1000.0, max_relative = 1e-9);
}

/// A stream from one zone's temperature into another, which no symmetric matrix holds.
#[test]
fn a_feed_that_its_zone_warms_takes_heat() {
    let plan = json!({
        "substances": { "air": { "specific_heat": 1000 }, "water": { "specific_heat": 4000 } }, "ambient": 0,
        "zones": { "hall": { "contents": { "air": 10 }, "at": 20, "walls": [ { "to": "ambient", "conductance": 10 } ] } },
        "units": { "heater": { "count": 1, "takes": { "water": "10 g/s" }, "gives": { "warm": "10 g/s" }, "sheds": "1 kW",
                               "zone": "hall", "product_at": "zone" } },
        "supplies": { "seep": { "header": "water", "rate": 1, "at": 5 } }, "outlets": { "warm": {} } });
    // 1000 = 10·T + 40·(T − 5).
    let answer = answer(&plan);
    assert_relative_eq!(
        answer.figures.zones.get("hall").and_then(|zone| zone.settles_at_c).expect("rest"),
        24.0,
        max_relative = 1e-9
    );
}

#[test]
fn the_example_holds_with_its_ledger_closed() {
    let text = include_str!("../../../examples/plans/cooled-hall.json");
    let plan = Plan::from_json(text.as_bytes(), &Limits::DEFAULT).unwrap_or_else(|fault| panic!("{fault}"));
    let answer = ask(&plan, &Budget::unhurried()).expect("it ends");
    for (name, zone) in &answer.figures.zones {
        let (gain, removed) = (zone.gain_w.expect("rest"), zone.removed_w.expect("rest"));
        assert_relative_eq!(gain, removed, max_relative = 1e-9);
        assert!(gain > 1000.0, "{name}");
    }
    assert_eq!(answer.figures.zones.get("hall").and_then(|zone| zone.settles_at_c), Some(28.0));
    let ballast = answer.figures.ballast.get("vapour hall").expect("it is fed by pulses");
    assert!(ballast.least_kg.expect("a least mass") < 2400.0 && ballast.greatest_kg == Some(3600.0), "{ballast:?}");
    insta::assert_snapshot!(answer.say);
}

fn faults(document: &Value) -> Vec<String> {
    match Plan::from_json(document.to_string().as_bytes(), &Limits::DEFAULT) {
        Err(ReadError::Faults(faults)) => faults.listed.iter().map(crate::plan::Fault::say).collect(),
        other => panic!("{other:?}"),
    }
}

#[test]
fn what_cannot_be_is_told_all_at_once() {
    let faults = faults(&json!({
        "substances": {
            "nothing": { "specific_heat": 0 },
            "mist": { "specific_heat": 1000, "freezes_at": 50, "boils_at": 40 },
            "steam": { "properties": "iapws-if97", "pressure": "300 bar" },
            "brine": { "properties": "water", "pressure": "3 bar" },
            "water": { "properties": "water" }, "dust": {} },
        "zones": {
            "hall": { "contents": {}, "at": -300 },
            "shed": { "contents": { "water": -1 }, "at": 20, "walls": [ { "to": "shed", "conductance": 1 } ] },
            "hut": { "contents": { "dust": 1, "watr": 1 }, "at": 20, "walls": [ { "to": "ambient", "conductance": 1 } ] } },
        "coolers": { "loop": { "cools": "hutt", "coolant": "water", "flow": 1, "drop": 100 } },
        "turbines": { "mill": { "zone": "hut", "fluid": "water", "flow": 1, "inlet_min": 100, "inlet_rated": 90,
                                "outlet": 120, "generates": 1 } },
        "thermostats": { "warm": { "watch": "hut", "start_at": 20, "stop_at": 20, "runs": "lamp" } } }));
    let all = faults.join("\n");
    for part in [
        "/substances/nothing/specific_heat",
        "/substances/mist/boils_at",
        "/substances/steam/pressure",
        "/substances/brine/pressure",
        "/zones/hall/contents",
        "/zones/hall/at",
        "/zones/shed/contents/water",
        "/turbines/mill/outlet",
        "/turbines/mill/inlet_rated",
        "/thermostats/warm/stop_at",
    ] {
        assert!(all.contains(part), "{part} is not in\n{all}");
    }
    insta::assert_snapshot!(all);
}
