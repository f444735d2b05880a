//! Stores, pumps and batteries of textbooks, posed as plans and rehearsed.
//!
//! Practice: two stages whose bands lie one under the other run the first alone for as long as it holds. Common practice, no
//! source.

use super::rows::row;
use crate::support::{counts, plan, rehearse};
use hotwell::budget::Budget;
use hotwell::plan::StoreId;
use hotwell::rehearsal::sizing::{Sizer, Sizing};
use hotwell::rehearsal::{Fleet, Turn, What};
use serde_json::{Value, json};

const DAY_S: f64 = 86_400.0;

/// A reservoir: inflows step by step, over and over, that cannot be held back, and a constant draft.
fn reservoir(inflow: &[f64], draft: f64, step_s: f64, horizon_s: f64) -> Value {
    let rounds: Vec<Value> = inflow.iter().map(|&share| json!({ "for": step_s, "share": share })).collect();
    json!({
        "supplies": { "river": { "header": "water", "rate": 1, "when": "always", "pattern": { "steps": rounds } } },
        "demands": { "draft": { "header": "water", "rate": draft } },
        "outlets": { "water": {} },
        "stores": { "reservoir": { "header": "water", "capacity": 1e6, "level": "100 %" } },
        "horizon": horizon_s,
    })
}

fn capacity(document: &Value) -> Sizing {
    let plan = plan(document);
    let found = Sizer::new(&plan, Fleet::of(&counts(&plan))).least_capacity(StoreId(0), &Budget::unhurried());
    found.expect("within the budget").expect("a demand hangs on it")
}

#[test]
fn the_least_storage_for_a_draft() {
    let row = row("C03 as a plan");
    let (inflow, draft) = (row.given_list("inflow_m3_s"), row.given("draft_m3_s"));
    let document = reservoir(&inflow, draft, 7.0 * DAY_S, 91.0 * DAY_S);
    // The river brings less than the draft on the average, so what serves the quarter does not serve for good.
    let Sizing::UntilHorizon(storage) = capacity(&document) else { panic!("{:?}", capacity(&document)) };
    row.holds(&[("storage_m3_day_s", storage / DAY_S)]);
}

#[test]
fn the_sequent_peak() {
    let row = row("C05 as a plan");
    let document = reservoir(&row.given_list("inflow"), row.given("demand"), 1.0, 5.0);
    let Sizing::Least(storage) = capacity(&document) else { panic!("{:?}", capacity(&document)) };
    row.holds(&[("storage", storage)]);
}

#[test]
fn a_shortage_that_goes_on_into_the_next_round_is_found() {
    // Short in the last two steps and in the first: one pass from the start sees 4 + 3, the round sees 4 + 3 + 3.
    let document = reservoir(&[7.0, 18.0, 12.0, 6.0, 7.0], 10.0, 1.0, 5.0);
    let Sizing::Least(storage) = capacity(&document) else { panic!("{:?}", capacity(&document)) };
    assert!((storage - 10.0).abs() < 1e-9, "{storage}");
}

#[test]
fn time_to_empty() {
    let row = row("C10 as a plan");
    let mass_kg = row.given("volume_l") * row.given("density_kg_l");
    // The carrier is what is not of it.
    let gas_kmol_min = row.given("carrier_kmol_min") / (1.0 - row.given("share"));
    let rate_kg_min = row.given("share") * gas_kmol_min * row.given("molar_mass_kg_kmol");
    let found = rehearse(&json!({
        "demands": { "gas": { "header": "liquid", "rate": rate_kg_min / 60.0 } },
        "stores": { "tank": { "header": "liquid", "capacity": mass_kg, "level": "100 %" } },
        "horizon": "10 day",
    }));
    let first_empty_s = found.rehearsal.stores[0].first_empty_s.expect("it runs dry");
    row.holds(&[("time_min", first_empty_s / 60.0)]);
}

#[test]
fn the_cycle_of_a_stock() {
    let row = row("C13 as a plan");
    let found = rehearse(&json!({
        "units": { "mill": { "count": 1, "gives": { "stock": row.given("fill_per_day") / DAY_S } } },
        "demands": { "sales": { "header": "stock", "rate": row.given("demand_per_day") / DAY_S } },
        "stores": { "stock": { "header": "stock", "capacity": 1e6 } },
        "switches": { "mill": { "watch": "stock", "start_at": 0, "stop_at": row.given("peak"), "runs": "mill" } },
        "horizon": "1000 day",
    }));
    let settled = found.rehearsal.islands[0].settled.as_ref().expect("it settles");
    let on_s = found.rehearsal.switches[0].on_s;
    let stops: Vec<f64> = times(&found.rehearsal.events, |what| matches!(what, What::Stop(_)));
    let starts: Vec<f64> = times(&found.rehearsal.events, |what| matches!(what, What::Start(_)));
    row.holds(&[
        ("cycle_day", settled.period_s / DAY_S),
        ("on_time_day", (stops[1] - starts[1]) / DAY_S),
        ("duty", on_duty(settled.period_s, stops[1] - starts[1])),
        ("peak", found.rehearsal.stores[0].greatest),
    ]);
    assert!((on_s / (1000.0 * DAY_S) - 0.4).abs() < 0.01, "{on_s}");
}

fn on_duty(period_s: f64, on_s: f64) -> f64 {
    on_s / period_s
}

fn times(events: &[hotwell::rehearsal::Event], of: impl Fn(What) -> bool) -> Vec<f64> {
    events.iter().filter(|event| of(event.what)).map(|event| event.at_s).collect()
}

/// A sump with so much between start and stop of its pump, and what comes in.
fn wet_well(volume_l: f64, pump_l_s: f64, inflow_l_s: f64) -> Value {
    json!({
        "units": { "pump": { "count": 1, "takes": { "sewage": pump_l_s } } },
        "supplies": { "sewer": { "header": "sewage", "rate": inflow_l_s, "when": "always" } },
        "stores": { "well": { "header": "sewage", "capacity": 3.0 * volume_l, "level": volume_l } },
        "switches": {
            "pump": { "watch": "well", "start_at": 2.0 * volume_l, "stop_at": volume_l, "runs": "pump" },
        },
        "horizon": "10 day",
    })
}

#[test]
fn the_volume_of_a_wet_well() {
    let row = row("C01 as a plan");
    let (volume, pump) = (row.given("volume_l"), row.given("pump_l_s"));
    let cycle_s = |inflow: f64| {
        let found = rehearse(&wet_well(volume, pump, inflow));
        found.rehearsal.switches[0].least_cycle_s.expect("it starts more than once")
    };
    let inflows: Vec<f64> = (1..60).map(|half| 0.5 * f64::from(half)).collect();
    let worst = inflows.into_iter().min_by(|&one, &other| cycle_s(one).total_cmp(&cycle_s(other))).expect("inflows");
    let cycle = cycle_s(worst);
    row.holds(&[("cycle_at_worst_s", cycle), ("starts_per_h_at_worst", 3600.0 / cycle), ("worst_inflow_l_s", worst)]);
}

#[test]
fn a_pump_between_two_levels() {
    let row = row("C16 as a plan");
    let found = rehearse(&json!({
        "units": { "pump": { "count": 1, "takes": { "water": row.given("pump_m3_min") } } },
        "supplies": { "source": { "header": "water", "rate": row.given("source_m3_min"), "when": "always",
                                  "pattern": { "on": 20, "every": 60 } } },
        "stores": { "tank": { "header": "water", "capacity": row.given("capacity_m3"), "level": row.given("level_m3") } },
        "switches": { "pump": { "watch": "tank", "start_at": 8, "stop_at": 2, "runs": "pump" } },
        "horizon": 600,
    }));
    let result = &found.rehearsal;
    let starts = times(&result.events, |what| matches!(what, What::Start(_)));
    let stops = times(&result.events, |what| matches!(what, What::Stop(_)));
    row.holds(&[
        ("first_start_min", starts[0]),
        ("first_stop_min", stops[0]),
        ("last_start_min", starts[starts.len() - 1]),
        ("last_stop_min", stops[stops.len() - 1]),
        ("starts", result.switches[0].starts as f64),
        ("run_time_min", result.switches[0].on_s),
        ("final_m3", result.stores[0].end),
        ("greatest_m3", result.stores[0].greatest),
    ]);
}

/// A battery, its load, and two stages.
fn battery(bands: [(&str, &str); 2], load_kw: (f64, f64), horizon: &str) -> Value {
    let stage =
        |(on, off): (&str, &str), runs: &str| json!({ "watch": "bank", "start_at": on, "stop_at": off, "runs": runs });
    json!({
        "units": {
            "stage 0": { "count": 1, "generates": "12 kW", "takes": { "fuel": "1 g/s" } },
            "stage 1": { "count": 1, "generates": "15 kW", "takes": { "fuel": "2 g/s" } },
        },
        "supplies": { "fuel": { "header": "fuel" } },
        "demands": {
            "base": { "header": "power", "rate": format!("{} kW", load_kw.0) },
            "evening": { "header": "power", "rate": format!("{} kW", load_kw.1),
                         "pattern": { "on": "10 h", "every": "24 h", "offset": "14 h" } },
        },
        "stores": { "bank": { "header": "power", "capacity": "100 kWh", "level": "80 kWh" } },
        "switches": { "stage 0": stage(bands[0], "stage 0"), "stage 1": stage(bands[1], "stage 1") },
        "horizon": horizon,
    })
}

#[test]
fn a_battery_with_two_stages() {
    const KWH_J: f64 = 3.6e6;
    let row = row("C18 as a plan");
    let found = rehearse(&battery([("60 %", "90 %"), ("35 %", "70 %")], (7.0, 15.0), "72 h"));
    let result = &found.rehearsal;
    let events: Vec<(f64, String)> = result
        .events
        .iter()
        .filter_map(|event| match event.what {
            What::Start(switch) => Some((event.at_s / 3600.0, format!("{} on", switch.0))),
            What::Stop(switch) => Some((event.at_s / 3600.0, format!("{} off", switch.0))),
            _ => None,
        })
        .collect();
    let (times, kinds) = (row.given_list("events_h"), row.given_value("kinds"));
    assert_eq!(events.len(), times.len());
    for (at, ((time, kind), expected)) in events.iter().zip(times).enumerate() {
        assert!((time - expected).abs() <= 1e-8, "event {at} at {time} h, expected {expected}");
        assert_eq!(*kind, kinds[at]);
    }
    row.holds(&[
        ("final_kwh", result.stores[0].end / KWH_J),
        ("energy0_kwh", result.units[0].duty_s * 12e3 / KWH_J),
        ("energy1_kwh", result.units[1].duty_s * 15e3 / KWH_J),
        ("run0_h", result.switches[0].on_s / 3600.0),
        ("run1_h", result.switches[1].on_s / 3600.0),
        ("unserved_kwh", result.demands.iter().map(|demand| demand.wanted - demand.served).sum::<f64>() / KWH_J),
        ("curtailed_kwh", result.headers[found.plan.power().expect("power").0].let_out / KWH_J),
    ]);
    let edges = result.events.iter().filter(|event| matches!(event.what, What::Demand(_, Turn::On))).count();
    assert_eq!(edges, 3);
}

#[test]
fn stages_one_under_the_other_run_the_first_alone_until_it_cannot_hold() {
    let bands = [("75 %", "95 %"), ("45 %", "65 %")];
    // 10 kW is less than the first stage makes: the second never starts.
    let holds = rehearse(&battery(bands, (10.0, 0.0), "20 day"));
    assert!(holds.rehearsal.switches[0].starts > 0);
    assert_eq!(holds.rehearsal.switches[1].starts, 0);
    // 14 kW is more: it does, and together they hold.
    let joined = rehearse(&battery(bands, (14.0, 0.0), "20 day"));
    assert!(joined.rehearsal.switches[1].starts > 0);
    assert_eq!(joined.rehearsal.demands[0].first_short_s, None);
}

#[test]
fn the_least_level_at_time_zero() {
    // Out for the first 3 s at 10 kg/s, then a river that brings enough for good.
    let document = json!({
        "supplies": { "river": { "header": "water", "rate": 25, "when": "always",
                                 "pattern": { "on": 5, "every": 10, "offset": 3 } } },
        "demands": { "draft": { "header": "water", "rate": 10 } },
        "outlets": { "water": {} },
        "stores": { "reservoir": { "header": "water", "capacity": 1000 } },
        "horizon": 200,
    });
    let plan = plan(&document);
    let level = Sizer::new(&plan, Fleet::of(&counts(&plan))).least_level(StoreId(0), &Budget::unhurried());
    let Ok(Some(Sizing::Least(level))) = level else { panic!("{level:?}") };
    assert!((level - 30.0).abs() < 1e-9, "{level}");
}
