//! The example plans: what they say is chemistry and close by mass, and their answers are those that a hand can check.

mod support;

use std::collections::BTreeSet;
use std::fs;
use std::path::Path;

use approx::assert_relative_eq;
use hotwell::balance::{Balance, Limit, Outcome};
use hotwell::budget::Budget;
use hotwell::plan::{Carried, Flow, Limits, Plan};
use hotwell::questions::answer::Verdict;
use hotwell::questions::fill_level::{self, FillLevel};
use hotwell::questions::heat_budget::HeatBudget;
use hotwell::questions::whole_plan::WholePlan;
use hotwell::questions::{Detail, Document, Json};
use serde_json::Value;
use support::{Solved, solve};

const NAMES: [&str; 12] = [
    "battery-bands",
    "best-use",
    "burner-hall",
    "cooled-hall",
    "kestrel-deep",
    "minimal",
    "net-power",
    "short-supply",
    "sump-and-seep",
    "three-lines",
    "trapped-surplus",
    "two-absorbers",
];

fn document(name: &str) -> String {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/plans").join(name).with_extension("json");
    fs::read_to_string(&path).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
}

fn example(name: &str) -> Solved {
    let value: Value = serde_json::from_str(&document(name)).expect("an example is JSON");
    solve(&value)
}

#[test]
fn every_example_is_tested_here() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/plans");
    let found: BTreeSet<String> = fs::read_dir(folder)
        .expect("the folder of examples")
        .map(|entry| entry.expect("an entry").path().file_stem().expect("a name").to_string_lossy().into_owned())
        .collect();
    assert_eq!(found, NAMES.iter().map(|&name| name.to_owned()).collect());
}

#[test]
fn every_example_says_that_its_world_is_invented() {
    for name in NAMES {
        let solved = example(name);
        let title = solved.plan.title.as_deref().unwrap_or("");
        assert!(title.contains("Kestrel Deep") && title.contains("an invented world"), "{name}: {title}");
    }
}

fn rate(plan: &Plan, flows: &[Flow], header: &str) -> f64 {
    flows.iter().find(|flow| plan.header(flow.header).name == header).map_or(0.0, |flow| flow.rate)
}

/// What burns, binds and grows does so as chemistry has it, from the conventional atomic weights (H 1.008, C 12.011,
/// O 15.999, Ca 40.078): `CH3OH + 3/2 O2 → CO2 + 2 H2O`; `CaO + CO2 → CaCO3`; `CO2 + H2O → CH2O + O2`.
#[test]
fn units_respect_chemistry() {
    let (h, c, o, ca) = (1.008, 12.011, 15.999, 40.078);
    let (methanol, oxygen, dioxide, water, lime) = (c + 4.0 * h + o, 2.0 * o, c + 2.0 * o, 2.0 * h + o, ca + o);
    let (mut burners, mut absorbers, mut beds) = (0, 0, 0);
    for name in NAMES {
        let plan = example(name).plan;
        for unit in &plan.units {
            let mass = |flows: &[Flow]| -> f64 {
                let matter = flows.iter().filter(|flow| plan.header(flow.header).carries == Carried::Matter);
                matter.map(|flow| flow.rate).sum()
            };
            if !unit.gives.is_empty() {
                assert_relative_eq!(mass(&unit.takes), mass(&unit.gives), max_relative = 1e-9);
            }
            let (takes, gives) = (|header| rate(&plan, &unit.takes, header), |header| rate(&plan, &unit.gives, header));
            if unit.name == "burner" {
                burners += 1;
                // Where a pump stands between, it is called what the pump gives.
                let fuel = takes("methanol") + takes("fuel feed");
                assert_relative_eq!(takes("oxygen") / fuel, 1.5 * oxygen / methanol, max_relative = 3e-4);
                assert_relative_eq!(gives("exhaust") / fuel, dioxide / methanol, max_relative = 3e-4);
                assert_relative_eq!(gives("condensate") / fuel, 2.0 * water / methanol, max_relative = 3e-4);
            } else if unit.name.starts_with("absorber") {
                absorbers += 1;
                assert_relative_eq!(takes("lime") / takes("exhaust"), lime / dioxide, max_relative = 3e-4);
            } else if unit.name == "garden bed" {
                beds += 1;
                let gas = takes("kiln gas") + takes("garden gas");
                assert_relative_eq!(gives("oxygen") / gas, oxygen / dioxide, max_relative = 3e-4);
                assert_relative_eq!(takes("condensate") / gas, water / dioxide, max_relative = 3e-4);
            }
        }
    }
    assert!(burners >= 6 && absorbers >= 4 && beds >= 2, "{burners} burners, {absorbers} absorbers, {beds} beds");
}

fn nothing_trapped(balance: &Balance) {
    assert!(balance.headers.iter().all(|flow| flow.trapped == 0.0), "{:?}", balance.headers);
}

#[test]
fn burner_hall_holds() {
    let hall = example("burner-hall");
    assert_eq!(hall.balance.outcome, Outcome::Met);
    nothing_trapped(&hall.balance);
    let exhaust = 5.0 * 0.016482;
    assert_relative_eq!(hall.run("absorber"), exhaust / 0.011, max_relative = 1e-9);
    assert_eq!(hall.unit("absorber").count, 8);
    // Every kg of exhaust that is bound comes off again, 20 g/s in each kiln.
    assert_relative_eq!(hall.run("kiln"), exhaust / 0.020, max_relative = 1e-9);
    assert_eq!(hall.unit("kiln").count, 5);
    // Dust is all that is made up.
    assert_relative_eq!(hall.drawn("lime store"), exhaust / 0.020 * 0.51e-3, max_relative = 1e-9);
    // The gardens come before the store.
    assert_eq!(hall.unit("garden bed").count, 9);
    assert_relative_eq!(hall.run("garden bed"), 9.0, max_relative = 1e-9);
    assert_relative_eq!(hall.drawn("oxygen store"), 5.0 * 0.017976 - 9.0 * 1.5996e-3, max_relative = 1e-9);
    assert_eq!(hall.header("methanol").lines, Some(2));
    assert_eq!(hall.header("exhaust").lines, Some(2));
    // 405 kW less absorbers, kilns (and what of the fifth stands idle), gardens, station.
    let kilns = exhaust / 0.020;
    let drawn = exhaust / 0.011 * 2.6e3 + kilns * 9.4e3 + (5.0 - kilns) * 1.1e3 + 9.0 * 13.5e3;
    assert_relative_eq!(hall.header("power").let_out, 405e3 - drawn - 170e3, max_relative = 1e-9);
}

#[test]
fn short_supply_cuts_the_last_rank_in_proportion() {
    let short = example("short-supply");
    assert_eq!(short.balance.outcome, Outcome::Short);
    // 88 g/s for 9 of 16 minutes is 49.5 g/s; a burner turns 12 g/s into 81 kW.
    assert_relative_eq!(short.drawn("seep"), 0.0495, max_relative = 1e-9);
    let made = 0.0495 / 0.012 * 81e3;
    let idle = (5.0 - 0.0495 / 0.012) * 600.0;
    assert_relative_eq!(short.header("power").made, made, max_relative = 1e-9);
    assert_relative_eq!(short.served("life support"), 210e3, max_relative = 1e-9);
    let share = (made - idle - 210e3) / (95e3 + 57e3);
    assert_relative_eq!(short.served("workshop"), share * 95e3, max_relative = 1e-9);
    assert_relative_eq!(short.served("drills"), share * 57e3, max_relative = 1e-9);
}

#[test]
fn trapped_surplus_is_named() {
    let trapped = example("trapped-surplus");
    assert_eq!(trapped.balance.outcome, Outcome::Met);
    assert_relative_eq!(trapped.header("exhaust").trapped, 5.0 * 0.016482 - 6.0 * 0.011, max_relative = 1e-9);
    assert_relative_eq!(trapped.run("absorber"), 6.0, max_relative = 1e-9);
}

#[test]
fn two_absorbers_are_chosen_between_in_whole_numbers() {
    let chosen = example("two-absorbers");
    assert_eq!(chosen.balance.outcome, Outcome::Met);
    nothing_trapped(&chosen.balance);
    // Eight towers would bind more than there is, and a tower runs fully or not at all: seven, and beds for the rest.
    assert_relative_eq!(chosen.run("absorber tower"), 7.0, max_relative = 1e-9);
    assert_eq!(chosen.unit("absorber tower").count, 7);
    assert_relative_eq!(chosen.run("absorber bed"), (5.0 * 0.016482 - 7.0 * 0.011) / 0.004, max_relative = 1e-7);
    assert_eq!(chosen.unit("absorber bed").count, 2);
}

#[test]
fn three_lines_carry_the_methanol() {
    let lines = example("three-lines");
    assert_eq!(lines.balance.outcome, Outcome::Met);
    assert_eq!(lines.header("methanol").lines, Some(3));
    assert_relative_eq!(
        lines.header("methanol").line_utilisation.expect("it has lines"),
        60.0 / 69.0,
        max_relative = 1e-9
    );
    assert_eq!(lines.header("oxygen").lines, Some(2));
}

#[test]
fn net_power_pays_for_its_own_cleaning() {
    let net = example("net-power");
    assert_eq!(net.balance.outcome, Outcome::Met);
    nothing_trapped(&net.balance);
    let power = net.header("power");
    assert_relative_eq!(power.made - power.taken - power.let_out, 250e3, max_relative = 1e-9);
    // What one burner's exhaust costs to clean, before idle draws, leaves 81 − 3.90 − 7.75 kW of each: at least 3.6 run.
    assert!(net.run("burner") > 250.0 / (81.0 - 16.482 / 11.0 * 2.6 - 16.482 / 20.0 * 9.4));
    assert_eq!(net.unit("burner").count, 4);
}

#[test]
fn best_use_is_held_back_by_the_seep() {
    let best = example("best-use");
    assert_eq!(best.balance.outcome, Outcome::Met);
    assert_relative_eq!(best.drawn("seep"), 0.041, max_relative = 1e-9);
    assert!(
        best.balance
            .binding
            .iter()
            .any(|binding| matches!(binding.limit, Limit::Supply(_)) && binding.worth.is_some_and(|worth| worth > 0.0))
    );
}

#[test]
fn minimal_is_three_lines_long() {
    assert_eq!(document("minimal").trim_end().lines().count(), 3);
    let minimal = example("minimal");
    assert_eq!(minimal.unit("melter").count, 4);
    assert_relative_eq!(minimal.run("melter"), 3.75, max_relative = 1e-9);
}

#[test]
fn what_only_pictures_show_changes_no_figure() {
    for name in NAMES {
        let (text, limits) = (document(name), Limits::DEFAULT);
        let plan = Plan::from_json(text.as_bytes(), &limits).expect("a plan");
        let [figures, pictures] = [Detail::Figures, Detail::Pictures].map(|detail| {
            let asked = Document { plan: &plan, json: Json::Bytes(text.as_bytes()), limits: &limits, detail };
            let heat = HeatBudget::ask_of(&asked, &Budget::unhurried()).expect("an answer");
            let whole = WholePlan::ask_of(&asked, &Budget::unhurried()).expect("an answer");
            let points: usize = heat.figures.course.zones.iter().map(Vec::len).sum();
            let of_whole = whole.figures.heat.iter().flat_map(|heat| &heat.course.zones).map(Vec::len).sum::<usize>();
            let json = [serde_json::to_string(&heat), serde_json::to_string(&whole)].map(|json| json.expect("JSON"));
            (json, points, of_whole)
        });
        assert_eq!(figures.0, pictures.0, "{name}");
        assert_eq!((figures.1, figures.2), (0, 0), "{name}");
        assert_eq!((pictures.1 > 0, pictures.2 > 0), (!plan.zones.is_empty(), !plan.zones.is_empty()), "{name}");
    }
}

fn rehearsed(name: &str) -> FillLevel {
    let plan = Plan::from_json(document(name).as_bytes(), &Limits::DEFAULT).expect("a plan");
    fill_level::ask(&plan, &Budget::unhurried()).expect("an answer")
}

#[test]
fn the_sump_is_lifted_as_fast_as_it_fills() {
    let answer = rehearsed("sump-and-seep");
    assert_eq!(answer.verdict, Verdict::Holds, "{}", answer.say);
    // 90 g/s for 7 of 18 minutes is 35 g/s, of the 150 g/s that the pump lifts.
    let float = answer.figures.switches.get("sump float").expect("a switch");
    assert_relative_eq!(float.duty_share, 35.0 / 150.0, max_relative = 2e-3);
    let sump = answer.figures.stores.get("sump").expect("a store");
    assert_relative_eq!(sump.least_kg.expect("kg"), 24.0, max_relative = 1e-9);
    assert_relative_eq!(sump.greatest_kg.expect("kg"), 96.0, max_relative = 1e-9);
    // Three hours are the least that 18 min and 1 h have in common.
    let settles = sump.settles.as_ref().expect("it settles");
    assert_relative_eq!(settles.period_s, 3.0 * 3600.0, max_relative = 1e-9);
    // What comes in over a cycle is lifted in it: each start lifts the 72 kg of the deadband and what comes in meanwhile.
    let in_a_cycle = 0.035 * settles.period_s;
    assert!(float.starts_per_h * 3.0 <= in_a_cycle / 72.0);
    let pump = answer.figures.units.get("lift pump").expect("a unit");
    let (seep, change) = (
        answer.figures.supplies.get("hall drain").expect("a supply"),
        sump.end_kg.expect("kg") - sump.start_kg.expect("kg"),
    );
    assert_relative_eq!(pump.duty_s * 0.150, seep.drawn_kg.expect("kg") - change, max_relative = 1e-9);
    // (420 kg − 20 kg) ÷ 1.03.
    assert_relative_eq!(
        answer.figures.loops.get("hall loop").expect("a loop").most_kg,
        400.0 / 1.03,
        max_relative = 1e-9
    );
}

#[test]
fn the_spare_burner_comes_in_when_the_first_cannot_hold() {
    let answer = rehearsed("battery-bands");
    assert_eq!(answer.verdict, Verdict::Holds, "{}", answer.say);
    let bank = answer.figures.stores.get("bank").expect("a store");
    assert_eq!(bank.unserved_j, Some(0.0));
    // All that is made goes to the load of 46 kW and 92 kW for a third of the time, to standing losses, and into the bank.
    let made: f64 = answer.figures.units.iter().filter_map(|(_, unit)| unit.generates_j).sum();
    let load: f64 = answer.figures.demands.iter().filter_map(|(_, demand)| demand.served_j).sum();
    let kept = bank.end_j.expect("J") - bank.start_j.expect("J") + bank.stood_lost_j.expect("J");
    assert_relative_eq!(made, load + kept, max_relative = 1e-9);
    assert_relative_eq!(load / answer.figures.reached_s, 46e3 + 92e3 / 3.0, max_relative = 1e-3);
    let starts = |name| answer.figures.switches.get(name).expect("a switch").starts;
    assert!(starts("first stage") > starts("second stage") && starts("second stage") > 0);
    // The bands of common practice (no source) leave the second stage idle while the first holds.
    assert_relative_eq!(bank.least_j.expect("J"), 0.45 * 140e6, max_relative = 1e-9);
}
