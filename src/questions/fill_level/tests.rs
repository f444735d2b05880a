//! The question on small plans whose answers a hand can check, and each finding on both sides of its edge.

use serde_json::{Value, json};

use super::{FillLevel, FindingCode, Moment, Size, ask};
use crate::budget::Budget;
use crate::plan::{Limits, Plan};
use crate::questions::answer::{Code, Finding, LINE_BYTES, Verdict, Weight, merge};

mod answer;
mod switches;

fn plan(document: &Value) -> Plan {
    Plan::from_json(document.to_string().as_bytes(), &Limits::DEFAULT).unwrap_or_else(|fault| panic!("{fault}"))
}

fn answer(document: &Value) -> FillLevel {
    ask(&plan(document), &Budget::unhurried()).expect("an answer")
}

fn found(answer: &FillLevel, code: FindingCode) -> Option<&Finding> {
    answer.findings.iter().find(|finding| finding.code == code.as_str())
}

/// The base with `change` merged into it.
fn changed(base: &Value, change: Value) -> Value {
    fn put(into: &mut Value, change: Value) {
        match (into, change) {
            (Value::Object(into), Value::Object(change)) => {
                for (name, value) in change {
                    if value.is_null() {
                        into.remove(&name);
                    } else {
                        put(into.entry(name).or_insert(Value::Null), value);
                    }
                }
            }
            (into, change) => *into = change,
        }
    }
    let mut document = base.clone();
    put(&mut document, change);
    document
}

/// Asks on both sides of an edge: the finding is there with the first document and not with the second.
fn both_sides(code: FindingCode, with: &Value, without: &Value) -> FillLevel {
    let (with, without) = (answer(with), answer(without));
    assert!(found(&with, code).is_some(), "{} is missing: {:?}", code.as_str(), with.findings);
    assert!(found(&without, code).is_none(), "{} is there: {:?}", code.as_str(), without.findings);
    with
}

/// The plan after the remedy of a finding.
fn mended(document: &Value, answer: &FillLevel, code: FindingCode) -> FillLevel {
    let remedy = found(answer, code).and_then(|finding| finding.remedy.clone()).expect("a remedy");
    let mut document = document.clone();
    merge(&mut document, remedy.patch.expect("a patch"));
    self::answer(&document)
}

#[track_caller]
fn close(a: f64, b: f64) {
    approx::assert_relative_eq!(a, b, max_relative = 1e-9);
}

/// 100 kg, of which 1 kg/s is drawn, for 200 s.
fn tank() -> Value {
    json!({
        "horizon": 200,
        "demands": { "yard": { "header": "water", "rate": 1 } },
        "stores": { "tank": { "header": "water", "capacity": 100, "level": "100 %" } }
    })
}

/// A sump of 120 kg that a pump of 3 kg/s drains from 100 kg to 20 kg, with 1 kg/s coming in: it fills in 80 s and drains in
/// 40 s.
fn sump() -> Value {
    json!({
        "horizon": "1 h",
        "units": { "pump": { "count": 1, "takes": { "drain": 3 }, "gives": { "sea": 3 } } },
        "supplies": { "seep": { "header": "drain", "rate": 1, "when": "always" } },
        "outlets": { "sea": {} },
        "stores": { "sump": { "header": "drain", "capacity": 120, "level": 20 } },
        "switches": { "float": { "watch": "sump", "start_at": 100, "stop_at": 20, "runs": "pump" } }
    })
}

/// A bank of 1 MJ with two stages of 2 kW, and a load of 1.5 kW.
fn bank() -> Value {
    json!({
        "horizon": "1 day",
        "units": {
            "first": { "count": 1, "takes": { "fuel": 0.001 }, "generates": "2 kW" },
            "second": { "count": 1, "takes": { "fuel": 0.001 }, "generates": "2 kW", "rank": 2 }
        },
        "supplies": { "fuel store": { "header": "fuel" } },
        "demands": { "load": { "header": "power", "rate": "1.5 kW" } },
        "stores": { "bank": { "header": "power", "capacity": "10 MJ", "level": "90 %" } },
        "switches": {
            "stage one": { "watch": "bank", "start_at": "75 %", "stop_at": "95 %", "runs": "first" },
            "stage two": { "watch": "bank", "start_at": "45 %", "stop_at": "65 %", "runs": "second" }
        }
    })
}

/// A loop that holds 420 kg, of which 20 kg stay free and which grows by 3 %: 388.35 kg at most, and 360 kg at least.
fn closed_loop(charge: f64) -> Value {
    json!({ "loops": { "west": {
        "coolant": "brine", "holds": 420, "charge": charge, "keep_free": 20, "expands": 0.03, "flow": 1.5, "round_trip": "4 min"
    } } })
}

#[test]
fn a_tank_runs_dry_when_it_is_empty() {
    let document = tank();
    let answer = both_sides(FindingCode::RunsDry, &document, &changed(&document, json!({ "horizon": 99 })));
    assert_eq!(answer.verdict, Verdict::Fails);
    let tank = answer.figures.stores.get("tank").unwrap();
    assert_eq!((tank.first_empty_s, tank.first_full_s), (Moment(Some(100.0)), Moment(None)));
    close(tank.unserved_kg.unwrap(), 100.0);
    close(tank.empty_s, 100.0);
    close(tank.drained_kg.unwrap(), 100.0);
    assert_eq!((tank.least_kg, tank.end_kg), (Some(0.0), Some(0.0)));
    close(tank.least_capacity_kg.unwrap().0.unwrap(), 200.0);
    let yard = answer.figures.demands.get("yard").unwrap();
    assert_eq!((yard.first_short_s, yard.cuts), (Moment(Some(100.0)), 1));
    close(yard.unserved_kg.unwrap(), 100.0);
    close(yard.short_s, 100.0);
    assert_eq!(
        answer.say,
        "Fails: store \"tank\" runs dry after 1 min 40 s, and demand \"yard\" goes short by 100 kg in all; make \"tank\" 200 kg \
         and begin with it full, for this horizon, or add 500 g/s to \"water\". And 1 more failure."
    );
    let mended = mended(&document, &answer, FindingCode::RunsDry);
    assert!(mended.verdict == Verdict::Holds, "{:?}", mended.findings);
}

#[test]
fn a_demand_that_is_cut_is_named() {
    let document = tank();
    let answer = both_sides(FindingCode::DemandCut, &document, &changed(&document, json!({ "horizon": 99 })));
    let cut = found(&answer, FindingCode::DemandCut).unwrap();
    assert_eq!((cut.at.as_str(), cut.weight), ("/demands/yard", Weight::Failure));
    close(cut.margin.unwrap(), -100.0);
}

#[test]
fn where_more_is_asked_than_comes_in_so_much_must_come_in_besides() {
    // 0.4 kg/s comes in for half the time, 1 kg/s goes out.
    let document = changed(
        &tank(),
        json!({
            "horizon": "1 h",
            "supplies": { "well": { "header": "water", "rate": 0.4, "pattern": { "on": 30, "every": 60 } } }
        }),
    );
    let answer = answer(&document);
    let tank = answer.figures.stores.get("tank").unwrap();
    // Half of 0.4 kg/s is less than 1 kg/s, however long it lasts.
    assert_eq!(tank.least_capacity_lasts, Some(false));
    close(tank.least_capacity_kg.unwrap().0.unwrap(), 3600.0 * 0.8);
    assert_eq!(tank.least_start_kg, Some(Size(None)));
    let remedy = found(&answer, FindingCode::RunsDry).unwrap().remedy.clone().unwrap();
    assert!(remedy.say.ends_with("for this horizon, or add 1 kg/s to \"water\""), "{}", remedy.say);
    let mended = mended(&document, &answer, FindingCode::RunsDry);
    assert!(found(&mended, FindingCode::DemandCut).is_none(), "{:?}", mended.findings);
}

#[test]
fn a_fuller_beginning_is_enough_where_it_is() {
    let document = changed(&tank(), json!({ "horizon": 80, "stores": { "tank": { "level": 50 } } }));
    let answer = answer(&document);
    let tank = answer.figures.stores.get("tank").unwrap();
    close(tank.least_start_kg.unwrap().0.unwrap(), 80.0);
    let remedy = found(&answer, FindingCode::RunsDry).unwrap().remedy.clone().unwrap();
    assert_eq!(remedy.say, "begin with 80 kg in \"tank\"");
    assert_eq!(mended(&document, &answer, FindingCode::RunsDry).verdict, Verdict::Holds);
}

#[test]
fn a_sump_overflows_when_it_is_full() {
    let document = json!({
        "horizon": 150,
        "supplies": { "seep": { "header": "drain", "rate": 1, "when": "always" } },
        "stores": { "sump": { "header": "drain", "capacity": 100 } }
    });
    let answer = both_sides(FindingCode::Overflows, &document, &changed(&document, json!({ "horizon": 99 })));
    let sump = answer.figures.stores.get("sump").unwrap();
    assert_eq!(sump.first_full_s, Moment(Some(100.0)));
    close(sump.lost_kg.unwrap(), 50.0);
    let seep = answer.figures.supplies.get("seep").unwrap();
    close(seep.lost_kg.unwrap(), 50.0);
    close(seep.drawn_kg.unwrap(), 100.0);
    assert_eq!((seep.first_lost_s, seep.spared_share), (Some(Moment(Some(100.0))), None));
    assert!(answer.say.contains("overflows after 1 min 40 s"), "{}", answer.say);
    assert_eq!(mended(&document, &answer, FindingCode::Overflows).verdict, Verdict::Holds);
}

#[test]
fn a_spring_without_a_store_loses_what_nobody_takes() {
    let document = json!({
        "horizon": 100,
        "supplies": { "seep": { "header": "drain", "rate": 1, "when": "always" } },
        "demands": { "yard": { "header": "drain", "rate": 0.6 } }
    });
    let served = changed(&document, json!({ "demands": { "yard": { "rate": 1 } } }));
    let answer = both_sides(FindingCode::SupplyLost, &document, &served);
    close(answer.figures.supplies.get("seep").unwrap().lost_kg.unwrap(), 40.0);
    assert!(found(&mended(&document, &answer, FindingCode::SupplyLost), FindingCode::SupplyLost).is_none());
}

#[test]
fn limits_are_told_when_they_are_passed() {
    let limits = json!({ "horizon": 60, "stores": { "tank": { "low_low": 30, "low": 50, "high": 90 } } });
    let document = changed(&tank(), limits);
    let answer = both_sides(
        FindingCode::BelowLowLimit,
        &document,
        &changed(&document, json!({ "stores": { "tank": { "low_low": null, "low": 40 } } })),
    );
    let low = found(&answer, FindingCode::BelowLowLimit).unwrap();
    assert_eq!((low.at.as_str(), low.weight), ("/stores/tank/low", Weight::Caution));
    close(low.margin.unwrap(), -10.0);
    let tank = answer.figures.stores.get("tank").unwrap();
    close(tank.first_below_low_s.unwrap().0.unwrap(), 50.0);
    assert_eq!(tank.first_below_low_low_s, Some(Moment(None)));
    assert_eq!(tank.first_above_high_high_s, None);
    let deeper = self::answer(&changed(&document, json!({ "horizon": 90 })));
    assert_eq!(deeper.verdict, Verdict::Fails, "LL is a failure: {:?}", deeper.findings);

    let sump = changed(&sump(), json!({ "stores": { "sump": { "high": 90 } } }));
    let higher = changed(&sump, json!({ "stores": { "sump": { "high": 101 } } }));
    both_sides(FindingCode::AboveHighLimit, &sump, &higher);
}

#[test]
fn the_charge_of_a_loop_has_a_window() {
    let fits = closed_loop(380.0);
    let answer = both_sides(FindingCode::LoopOverFull, &closed_loop(395.0), &fits);
    let west = answer.figures.loops.get("west").unwrap();
    close(west.most_kg, 400.0 / 1.03);
    close(west.least_kg, 360.0);
    close(west.over_kg, 395.0 - 400.0 / 1.03);
    assert!(answer.say.contains("over-full by 6.65 kg"), "{}", answer.say);
    let short = both_sides(FindingCode::LoopShort, &closed_loop(340.0), &fits);
    close(short.figures.loops.get("west").unwrap().short_kg, 20.0);
    for (charge, code) in [(395.0, FindingCode::LoopOverFull), (340.0, FindingCode::LoopShort)] {
        let document = closed_loop(charge);
        assert_eq!(mended(&document, &self::answer(&document), code).verdict, Verdict::Holds);
    }
    let none = changed(&fits, json!({ "loops": { "west": { "round_trip": "5 min" } } }));
    let answer = both_sides(FindingCode::LoopWindowEmpty, &none, &fits);
    assert_eq!(mended(&none, &answer, FindingCode::LoopWindowEmpty).verdict, Verdict::Holds);
}

#[test]
fn a_spent_budget_is_an_honest_part_of_an_answer() {
    // Periods without a common one, so that nothing settles.
    let document = json!({
        "horizon": "1000 day",
        "supplies": { "a": { "header": "x", "rate": 1, "when": "always", "pattern": { "on": 1, "every": 3.1416259 } } },
        "demands": { "b": { "header": "x", "rate": 0.3, "pattern": { "on": 1, "every": 2.7128818 } } },
        "stores": { "tank": { "header": "x", "capacity": 10 } }
    });
    let budget = Budget::new(2_000, &|| false);
    let spent = ask(&plan(&document), &budget).expect("a part of an answer");
    assert!(
        spent.figures.reached_s > 0.0 && spent.figures.reached_s < spent.figures.horizon_s,
        "{}",
        spent.figures.reached_s
    );
    assert_ne!(spent.verdict, Verdict::Holds);
    let remedy = found(&spent, FindingCode::BudgetSpent).unwrap().remedy.clone().unwrap();
    let mut shorter = document.clone();
    merge(&mut shorter, remedy.patch.unwrap());
    let whole = ask(&plan(&shorter), &budget).expect("an answer");
    assert!(found(&whole, FindingCode::BudgetSpent).is_none(), "{:?}", whole.findings);
}

#[test]
fn patterns_that_never_repeat_are_noted() {
    let document = json!({
        "horizon": 1000,
        "supplies": { "a": { "header": "x", "rate": 1, "when": "always", "pattern": { "on": 1, "every": 3.1416259 } } },
        "demands": { "b": { "header": "x", "rate": 0.3, "pattern": { "on": 1, "every": 2.7128818 } } },
        "stores": { "tank": { "header": "x", "capacity": 1000 } }
    });
    let same = changed(&document, json!({ "demands": { "b": { "pattern": { "every": 6.2832518 } } } }));
    both_sides(FindingCode::PatternsNeverRepeat, &document, &same);
}

#[test]
fn a_reserve_that_is_drawn_on_is_noted_with_what_is_spared() {
    let document = changed(&tank(), json!({ "supplies": { "reserve": { "header": "water", "rate": 2, "rank": 2 } } }));
    let answer = both_sides(FindingCode::ReserveDrawn, &document, &changed(&document, json!({ "horizon": 99 })));
    let reserve = answer.figures.supplies.get("reserve").unwrap();
    close(reserve.drawn_kg.unwrap(), 100.0);
    close(reserve.offered_kg.unwrap(), 400.0);
    close(reserve.spared_share.unwrap(), 0.75);
}

#[test]
fn machines_that_are_held_back_are_noted() {
    // The pump could run always, and there is water for 100 s.
    let document = json!({
        "horizon": 200,
        "units": { "mill": { "count": 1, "takes": { "water": 1 } } },
        "stores": { "tank": { "header": "water", "capacity": 100, "level": 100 } }
    });
    let answer = both_sides(FindingCode::UnitHeld, &document, &changed(&document, json!({ "horizon": 100 })));
    let mill = answer.figures.units.get("mill").unwrap();
    close(mill.duty_s, 100.0);
    close(mill.held_s, 100.0);
    let dry = found(&answer, FindingCode::RunsDry).unwrap();
    assert_eq!(dry.weight, Weight::Caution);
}

#[test]
fn machines_below_their_turndown_are_noted() {
    let document = json!({
        "horizon": 100,
        "units": { "mill": { "count": 1, "when": "wanted", "takes": { "water": 1 }, "gives": { "flour": 1 }, "turndown": 0.5 } },
        "supplies": { "well": { "header": "water" } },
        "demands": { "bakery": { "header": "flour", "rate": 0.2 } },
        "stores": { "bin": { "header": "bran", "capacity": 1 } }
    });
    let more = changed(&document, json!({ "demands": { "bakery": { "rate": 0.6 } } }));
    both_sides(FindingCode::BelowTurndown, &document, &more);
}

#[test]
fn a_plan_without_stores_has_nothing_to_fill() {
    let answer = both_sides(FindingCode::NothingToRehearse, &json!({}), &closed_loop(380.0));
    assert_eq!(answer.verdict, Verdict::HoldsWithCautions);
}

#[test]
fn a_long_list_of_findings_is_cut() {
    let demands: serde_json::Map<String, Value> =
        (0..300).map(|at| (format!("d{at}"), json!({ "header": "x", "rate": 1 }))).collect();
    let mut document = json!({ "stores": { "tank": { "header": "x", "capacity": 1 } } });
    let few = answer(&changed(&document, json!({ "demands": { "d": { "header": "x", "rate": 1 } } })));
    assert!(found(&few, FindingCode::MoreFindings).is_none());
    document["demands"] = Value::Object(demands);
    let many = answer(&document);
    assert_eq!(many.findings.len(), crate::questions::answer::MOST_FINDINGS);
    assert!(found(&many, FindingCode::MoreFindings).is_some());
}

/// 20 kW shed in a hall that a cooler of 30 kW holds at 20 °C, for 3 kW of a supply.
fn cooled_hall(supply: f64) -> Value {
    json!({
        "substances": { "air": { "specific_heat": 1000 } }, "ambient": 20, "horizon": "1 h",
        "zones": { "hall": { "contents": { "air": 1000 }, "at": 20, "walls": [ { "to": "ambient", "conductance": 10 } ] } },
        "units": { "mill": { "count": 1, "draws": 1e3, "sheds": 20e3, "zone": "hall" } },
        "coolers": { "loop": { "cools": "hall", "duty": 30e3, "draws": 3e3, "set_point": 20, "rejects_draw": false, "count": 1 } },
        "supplies": { "mains": { "header": "power", "rate": supply } },
        "stores": { "bank": { "header": "power", "capacity": 1e6, "level": 0 } }
    })
}

#[test]
fn coolers_without_power_are_told() {
    // The mill draws 1 kW and the cooler two thirds of 3 kW: 3 kW are enough, and of 2 kW the mill alone leaves too little.
    let answer = both_sides(FindingCode::CoolerUnpowered, &cooled_hall(2e3), &cooled_hall(4e3));
    assert_eq!(found(&answer, FindingCode::CoolerUnpowered).unwrap().at, "/coolers/loop/draws");
}

#[test]
fn coolers_that_hunt_are_told() {
    // On 2.5 kW both get 5/8. The mill then sheds 12.5 kW, for which the cooler needs 5/12 of its power; which leaves the mill all
    // of its own, so that it sheds 20 kW, for which the cooler needs 2/3, more than 5/8.
    both_sides(FindingCode::CoolersHunt, &cooled_hall(2.5e3), &cooled_hall(4e3));
}

#[test]
fn every_code_has_a_test_here() {
    let source = concat!(include_str!("tests.rs"), include_str!("tests/switches.rs"));
    for code in FindingCode::ALL {
        let name = format!("FindingCode::{code:?}");
        assert!(source.contains(&name), "{name}");
    }
}

#[test]
fn the_whole_of_an_answer() {
    insta::assert_json_snapshot!("a_sump_with_a_pump", answer(&changed(&sump(), json!({ "horizon": "5 min" }))));
}
