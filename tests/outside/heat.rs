//! Heat: textbook problems that a plan can pose, and common practice.

use crate::rows::row;
use crate::support::plan as read;
use hotwell::budget::Budget;
use hotwell::plan::Plan;
use hotwell::questions::heat_budget::{HeatBudget, ask};
use serde_json::{Value, json};

fn budget_of(plan: &Value) -> HeatBudget {
    let plan: Plan = read(plan);
    ask(&plan, &Budget::unhurried()).expect("an answer")
}

/// What a zone is at the end of a horizon where it only warms or only cools: its greatest or least temperature.
fn greatest(plan: &Value, zone: &str) -> f64 {
    budget_of(plan).figures.zones.get(zone).expect("the zone").greatest_c
}

/// Pan and water warm together for 60 s with 1 kW, with the two masses in one zone; the heat per kelvin gives both shares.
#[test]
fn b01_sensible_heat_of_pan_and_water() {
    let row = row("B01");
    let [pan, water] = [row.given("m_al_kg"), row.given("m_water_kg")];
    let [c_pan, c_water] = [row.given("c_al_j_kg_k"), row.given("c_water_j_kg_k")];
    let rise = |contents: Value, heat: f64| {
        let document = json!({
            "substances": { "aluminium": { "specific_heat": c_pan }, "water": { "specific_heat": c_water } },
            "zones": { "pan": { "contents": contents, "at": 20 } },
            "hot_sources": { "stove": { "zone": "pan", "heat": heat } }, "horizon": 1 });
        greatest(&document, "pan") - 20.0
    };
    let need = row.given("dt_k");
    let heat = |contents: Value| need / rise(contents, 1.0);
    let (q_water, q_pan) = (heat(json!({ "water": water })), heat(json!({ "aluminium": pan })));
    let total = heat(json!({ "water": water, "aluminium": pan }));
    row.holds(&[("q_water_j", q_water), ("q_pan_j", q_pan), ("q_total_j", total), ("share_pan", q_pan / total)]);
}

/// Pan and water as two zones with a wall between them and none to the outside: where they settle.
#[test]
fn b02_adiabatic_mixing() {
    let row = row("B02");
    let plan = json!({
        "substances": { "aluminium": { "specific_heat": row.given("c_al_j_kg_k") },
                        "water": { "specific_heat": row.given("c_water_j_kg_k") } },
        "zones": {
            "pan": { "contents": { "aluminium": row.given("m_al_kg") }, "at": row.given("t_al_c"),
                     "walls": [ { "to": "water", "conductance": 50 } ] },
            "water": { "contents": { "water": row.given("m_water_kg") }, "at": row.given("t_water_c") } },
        "horizon": "10 h" });
    row.holds(&[("t_final_c", greatest(&plan, "water"))]);
}

/// Ice that melts in a zone of its own, beside the drink: the plateau at 0 °C takes the heat of fusion.
#[test]
fn b03_ice_in_a_drink() {
    let row = row("B03");
    let plan = json!({
        "substances": { "water": { "specific_heat": row.given("c_j_kg_k"), "freezes_at": 0,
                                   "fusion_heat": row.given("l_fusion_j_kg") } },
        "zones": {
            // Just below freezing it is ice: a millionth of a kelvin takes a hundredth of a joule.
            "ice": { "contents": { "water": row.given("m_ice_kg") }, "at": -1e-9, "walls": [ { "to": "drink", "conductance": 5 } ] },
            "drink": { "contents": { "water": row.given("m_kg") }, "at": row.given("t0_c") } },
        "horizon": "10 h" });
    let answer = budget_of(&plan);
    row.holds(&[("t_final_c", answer.figures.zones.get("ice").expect("the ice").greatest_c)]);
}

/// Newton's law of cooling: the time to two readings, by the wall that the first reading tells.
#[test]
fn b07_cooling_to_two_readings() {
    let row = row("B07");
    let celsius = |f: f64| (f - 32.0) / 1.8;
    let [start, around, after] = [row.given("t0_f"), row.given("ta_f"), row.given("t_2min_f")].map(celsius);
    // UA/C from the reading after 2 min.
    let rate = ((start - around) / (after - around)).ln() / 120.0;
    let time = |f: f64| {
        let plan = json!({
            "substances": { "stuff": { "specific_heat": 1000 } }, "ambient": around,
            "zones": { "cup": { "contents": { "stuff": 1 }, "at": start, "least": celsius(f),
                                "walls": [ { "to": "ambient", "conductance": 1000.0 * rate } ] } },
            "horizon": "1 h" });
        let answer = budget_of(&plan);
        let found = answer.findings.iter().find(|finding| finding.code == "zone-under-least");
        assert!(found.is_some(), "{answer:?}");
        first_passed_s(&plan) / 60.0
    };
    row.holds(&[("t_175_min", time(175.0)), ("t_155_min", time(155.0))]);
}

fn first_passed_s(plan: &Value) -> f64 {
    use hotwell::heat::streams::Rates;
    use hotwell::heat::{Running, assemble, rehearse};
    let plan = read(plan);
    let assembly = assemble(&plan, Running { rates: Rates { runs: &[], drawn: &[] }, coolers: &[], turbines: &[] });
    let outcome = rehearse(&assembly.network, &[], plan.horizon.si(), &Budget::unhurried()).expect("it ends");
    outcome.accounts.passed[0][0].expect("it passes")
}

/// A kilogram of water in a drum under 1 kW, by the industrial formulation at the pressure of the drum: a watt brings a joule a
/// second, so what each stage takes is how long it lasts.
#[test]
fn s01_s02_raising_steam_under_pressure() {
    use hotwell::heat::streams::Rates;
    use hotwell::heat::{Happening, HeatEvent, Running, assemble, rehearse};
    const HEAT_W: f64 = 1e3;
    for row in ["S01", "S02"].map(row) {
        let document = json!({
            "substances": { "water": { "properties": "iapws-if97", "pressure": row.given("p_pa") } },
            "zones": { "drum": { "contents": { "water": 1 }, "at": row.given("t0_c") } },
            "hot_sources": { "burner": { "zone": "drum", "heat": HEAT_W } }, "horizon": "2 h" });
        let plan = read(&document);
        let boils_at_c = plan.substances[0].boils_at_c.expect("water boils");
        let superheated_c = boils_at_c + row.given("superheat_k");
        let assembly = assemble(&plan, Running { rates: Rates { runs: &[], drawn: &[] }, coolers: &[], turbines: &[] });
        let outcome = rehearse(&assembly.network, &[], plan.horizon.si(), &Budget::unhurried()).expect("it ends");
        let when = |is: fn(&HeatEvent) -> bool| {
            let mut found = outcome.events.iter().filter_map(|(at, happening)| match happening {
                Happening::Heat(event) if is(event) => Some(*at),
                _ => None,
            });
            found.next_back().expect("it happens")
        };
        let boils_s = when(|event| matches!(event, HeatEvent::Change { upward: true, .. }));
        let dry_s = when(|event| matches!(event, HeatEvent::Changed { upward: true, .. }));
        // From dry steam on it warms evenly.
        let warming = (outcome.end_c[0] - boils_at_c) / (plan.horizon.si() - dry_s);
        row.holds(&[
            ("boils_at_c", boils_at_c),
            ("to_boiling_j", boils_s * HEAT_W),
            ("latent_j", (dry_s - boils_s) * HEAT_W),
            ("superheat_j", (superheated_c - boils_at_c) / warming * HEAT_W),
        ]);
    }
}

/// Glazing as walls of layers, with both surface resistances.
#[test]
fn b10_single_and_double_glazing() {
    let row = row("B10");
    let [area, inside, outside] = [row.given("a_m2"), row.given("t_in_c"), row.given("t_out_c")];
    let surfaces = 1.0 / row.given("h_in_w_m2_k") + 1.0 / row.given("h_out_w_m2_k");
    let glass = |mm: f64| json!({ "thickness": format!("{mm} mm"), "conductivity": row.given("k_glass_w_m_k") });
    let air = json!({ "thickness": "10 mm", "conductivity": row.given("k_air_w_m_k") });
    let loss = |layers: Value| {
        // A heater holds the room; what it gives is the loss.
        let plan = json!({
            "substances": { "air": { "specific_heat": 1005 } }, "ambient": outside,
            "zones": { "room": { "contents": { "air": 50 }, "at": inside,
                "walls": [ { "to": "ambient", "area": area, "layers": layers, "surfaces": surfaces } ] } },
            "units": { "heater": { "count": 1, "sheds": "5 kW", "zone": "room" } },
            "thermostats": { "room": { "watch": "room", "start_at": inside - 1e-3, "stop_at": inside + 1e-3, "runs": "heater" } },
            "horizon": "1 h" });
        budget_of(&plan).figures.zones.get("room").expect("the room").removed_w.expect("it rests")
    };
    let single = loss(json!([glass(8.0)]));
    let double = loss(json!([glass(4.0), air, glass(4.0)]));
    let pane = |q: f64| inside - q / (row.given("h_in_w_m2_k") * area);
    row.holds(&[
        ("q_single_w", single),
        ("t_single_c", pane(single)),
        ("q_double_w", double),
        ("t_double_c", pane(double)),
    ]);
}

/// A cooler by duty and coefficient of performance.
#[test]
fn b18_a_chiller_from_four_state_points() {
    let row = row("B18");
    let h = row.given_list("h_kj_kg");
    let flow = row.given("m_kg_s");
    let [cooling, power] = [flow * (h[0] - h[2]) * 1e3, flow * (h[1] - h[0]) * 1e3];
    let plan = json!({
        "substances": { "air": { "specific_heat": 1005 } }, "ambient": 20,
        "zones": { "store": { "contents": { "air": 100 }, "at": 5 },
                   "yard": { "contents": { "air": 100 }, "at": 20, "walls": [ { "to": "ambient", "conductance": 500 } ] } },
        "hot_sources": { "load": { "zone": "store", "heat": cooling } },
        "coolers": { "chiller": { "cools": "store", "rejects_to": "yard", "duty": cooling, "cop": cooling / power,
                                  "set_point": 5 } } });
    let answer = budget_of(&plan);
    let chiller = answer.figures.coolers.get("chiller").expect("the chiller");
    let kw = |w: Option<f64>| w.expect("it rests") / 1e3;
    let rejected = kw(answer.figures.zones.get("yard").expect("the yard").gain_w);
    row.holds(&[
        ("cooling_kw", kw(chiller.moves_w)),
        ("power_kw", kw(chiller.draws_w)),
        ("rejected_kw", rejected),
        ("cop", kw(chiller.moves_w) / kw(chiller.draws_w)),
    ]);
}

/// Thermal ballast: the settled cycle of a first-order system under pulses, and the mass that keeps a swing of 5 K.
#[test]
fn b23_ballast_under_pulses() {
    let row = row("B23");
    let [power, duty, period] = [row.given("p_w"), row.given("duty"), row.given("period_s")];
    let [capacity, ua, sink] = [row.given("c_j_k"), row.given("ua_w_k"), row.given("t_sink_c")];
    let plan = |limit: Option<f64>| {
        json!({
            "substances": { "stuff": { "specific_heat": 1000 } }, "ambient": sink,
            "zones": { "chamber": { "contents": { "stuff": capacity / 1000.0 }, "at": 50, "limit": limit.unwrap_or(1000.0),
                                    "walls": [ { "to": "ambient", "conductance": ua } ] } },
            "hot_sources": { "spring": { "zone": "chamber", "heat": power,
                                         "pattern": { "on": duty * period, "every": period } } },
            "horizon": "2 h" })
    };
    let answer = budget_of(&plan(None));
    let ballast = answer.figures.ballast.get("chamber").expect("the chamber");
    let (peak, trough) = (ballast.peak_c.expect("a cycle"), ballast.trough_c.expect("a cycle"));
    let rest = answer.figures.zones.get("chamber").and_then(|zone| zone.settles_at_c).expect("it rests");
    // The mass for a swing of 5 K peaks where the closed form says; the window must give that mass back.
    let for_5k = row.given("peak_for_5k_c");
    let least = budget_of(&plan(Some(for_5k))).figures.ballast.get("chamber").and_then(|ballast| ballast.least_kg);
    row.holds(&[
        ("t_max_c", peak),
        ("t_min_c", trough),
        ("mean_rise_k", rest - sink),
        ("c_for_5k_j_k", least.expect("a least mass") * 1000.0),
    ]);
}

/// Common practice, no source: water must not be cooled below freezing, so a drop of 14 K wants a set point of 14 °C; a coolant that
/// freezes lower allows a lower one.
#[test]
fn the_lowest_set_point_is_freezing_plus_the_drop() {
    let least = |freezes: f64| {
        let plan = json!({
            "substances": { "coolant": { "specific_heat": 4180, "freezes_at": freezes, "boils_at": 120 } }, "ambient": 20,
            "zones": { "hall": { "contents": { "coolant": 10 }, "at": 20, "walls": [ { "to": "ambient", "conductance": 1 } ] } },
            "coolers": { "loop": { "cools": "hall", "coolant": "coolant", "flow": 10, "drop": 14, "set_point": 25 } } });
        budget_of(&plan)
            .figures
            .coolers
            .get("loop")
            .and_then(|cooler| cooler.set_point_least_c)
            .expect("a least set point")
    };
    approx::assert_relative_eq!(least(0.0), 14.0);
    approx::assert_relative_eq!(least(-20.0), -6.0);
}

/// Common practice, no source: a hot chamber on about 100 kg of fluid a cell rides out pulses that 1.6 kg a cell does not, and
/// turbine heat above the rating is wasted.
#[test]
fn much_fluid_rides_out_pulses_and_heat_above_the_rating_is_wasted() {
    let chamber = |kg_a_cell: f64| {
        let plan = json!({
            "substances": { "steam": { "specific_heat": 4180 } }, "ambient": 20,
            "zones": { "chamber": { "contents": { "steam": kg_a_cell * 36.0 }, "at": 150, "cells": 36, "limit": "250 °C" } },
            "hot_sources": { "vent": { "zone": "chamber", "flow": "5 kg/s", "substance": "steam", "at": "500 °C",
                                       "pattern": { "on": "60 s", "every": "600 s" } } },
            "turbines": { "expander": { "zone": "chamber", "fluid": "steam", "flow": "2 kg/s", "inlet_min": "125 °C",
                "inlet_rated": "200 °C", "outlet": "95 °C", "generates": "850 kW", "count": 2 } } });
        budget_of(&plan)
    };
    let (heavy, light) = (chamber(100.0), chamber(1.6));
    let peak = |answer: &HeatBudget| {
        answer.figures.ballast.get("chamber").and_then(|ballast| ballast.peak_c).expect("a cycle")
    };
    assert!(peak(&heavy) < 250.0 && peak(&light) > 250.0, "{} {}", peak(&heavy), peak(&light));
    assert!(light.findings.iter().any(|finding| finding.code == "ballast-light"));
    assert!(!heavy.findings.iter().any(|finding| finding.code == "ballast-light"));
    let hot = json!({
        "substances": { "steam": { "specific_heat": 4180 } },
        "zones": { "chamber": { "contents": { "steam": 3600 }, "at": 150 } },
        "hot_sources": { "vent": { "zone": "chamber", "heat": "1.5 MW" } },
        "turbines": { "expander": { "zone": "chamber", "fluid": "steam", "flow": "2 kg/s", "inlet_min": "125 °C",
            "inlet_rated": "200 °C", "outlet": "95 °C", "generates": "850 kW", "count": 1 } } });
    let answer = budget_of(&hot);
    let expander = answer.figures.turbines.get("expander").expect("the expander");
    // 1.5 MW through 8,360 W/K is 179.4 K above the outlet: 274.4 °C, 74.4 K above the rating.
    approx::assert_relative_eq!(expander.inlet_c.expect("rest"), 95.0 + 1.5e6 / 8360.0, max_relative = 1e-12);
    approx::assert_relative_eq!(expander.wastes_w.expect("rest"), 1.5e6 - 8360.0 * 105.0, max_relative = 1e-9);
    approx::assert_relative_eq!(expander.generates_w.expect("rest"), 850e3);
}
