//! The example plans: what they say is chemistry and close by mass, and their answers are those that a hand can check.

mod support;

use std::collections::BTreeSet;
use std::fs;
use std::path::Path;

use approx::assert_relative_eq;
use hotwell::balance::{Balance, Limit, Outcome};
use hotwell::plan::{Carried, Flow, Plan};
use serde_json::Value;
use support::{Solved, solve};

const NAMES: [&str; 8] = [
    "best-use",
    "burner-hall",
    "minimal",
    "net-power",
    "short-supply",
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
                let fuel = takes("methanol");
                assert_relative_eq!(takes("oxygen") / fuel, 1.5 * oxygen / methanol, max_relative = 3e-4);
                assert_relative_eq!(gives("exhaust") / fuel, dioxide / methanol, max_relative = 3e-4);
                assert_relative_eq!(gives("condensate") / fuel, 2.0 * water / methanol, max_relative = 3e-4);
            } else if unit.name.starts_with("absorber") {
                absorbers += 1;
                assert_relative_eq!(takes("lime") / takes("exhaust"), lime / dioxide, max_relative = 3e-4);
            } else if unit.name == "garden bed" {
                beds += 1;
                assert_relative_eq!(gives("oxygen") / takes("kiln gas"), oxygen / dioxide, max_relative = 3e-4);
                assert_relative_eq!(takes("condensate") / takes("kiln gas"), water / dioxide, max_relative = 3e-4);
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
