//! What the search is made of: where it begins, what it splits and how, and what it leaves fixed.

use super::super::super::attained::Attained;
use super::super::super::model::Setting;
use super::super::super::pass::Pass;
use super::super::super::{HeatPower, settle, solve_whole};
use super::super::{Node, Split, at_least, below, bound, least, split};
use super::{near, read};
use crate::budget::Budget;
use crate::plan::{Count, Plan};
use serde_json::{Value, json};

/// Two sorts that idle and two that cannot be turned down, with so many of each running.
fn mixed(runs: [f64; 4]) -> (Plan, Setting, Pass) {
    let unit = |idle: u32, turndown: f64| json!({ "gives": { "cake": 1 }, "idle_draw": idle, "turndown": turndown });
    let document = json!({
        "units": { "a": unit(100, 0.0), "b": unit(300, 0.0), "c": unit(0, 0.5), "d": unit(0, 0.9) },
        "supplies": { "mains": { "header": "power" } }, "demands": { "baker": { "header": "cake", "rate": 3 } },
    });
    let plan = read(&document);
    let setting = Setting::of(&plan, HeatPower::NONE);
    let mut pass = settle(&plan, &setting, &Budget::unhurried()).expect("within the budget").0;
    for (&column, run) in pass.model.columns.run.iter().zip(runs) {
        pass.x[column] = run;
    }
    (plan, setting, pass)
}

#[test]
fn what_is_furthest_from_whole_is_split_machines_that_stand_first() {
    let split = |runs: [f64; 4], standing: [Option<u32>; 4]| {
        let (plan, mut setting, pass) = mixed(runs);
        setting.standing = standing.to_vec();
        split(&plan, &setting, &pass).map(|split| match split {
            Split::Stand { unit, machines } => (true, unit, machines),
            Split::Run { unit, machines } => (false, unit, machines),
        })
    };
    let none = [None; 4];
    // By what idles: half of 100 W, or a quarter of 300 W.
    assert_eq!(split([1.5, 0.75, 0.3, 1.2], none), Some((true, 1, 1)));
    assert_eq!(split([1.5, 0.95, 0.3, 1.2], none), Some((true, 0, 2)));
    // Of equals, the first.
    assert_eq!(split([1.25, 0.75, 0.3, 1.2], none), Some((true, 0, 2)));
    // Those that stand already are whole.
    assert_eq!(split([1.5, 0.75, 0.3, 1.2], [None, Some(1), None, None]), Some((true, 0, 2)));
    assert_eq!(split([1.5, 0.75, 0.3, 1.2], [Some(1), Some(1), None, None]), Some((true, 0, 2)));
    // By what is lacking to the turndown: 0.5 − 0.3, or 1.8 − 1.2.
    assert_eq!(split([1.5, 0.75, 0.3, 1.2], [Some(2), Some(1), None, None]), Some((false, 3, 2)));
    assert_eq!(split([2.0, 1.0, 0.1, 1.6], none), Some((false, 2, 1)));
    assert_eq!(split([2.0, 1.0, 0.3, 2.6], none), Some((false, 2, 1)));
    assert_eq!(split([2.0, 1.0 - 1e-10, 0.5, 1.8], none), None);
    assert_eq!(split([0.0; 4], none), None);
}

#[test]
fn halves_are_at_least_so_much_and_below_it() {
    let (plan, mut setting, pass) = mixed([1.5, 0.75, 2.2, 2.2]);
    setting.firm = vec![0; 4];
    let attained = Attained::of(&plan, &setting, &pass);
    let node =
        |split: Split, run: (f64, f64)| Node { setting: setting.clone(), attained: attained.clone(), run, split };
    let stands = node(Split::Stand { unit: 1, machines: 3 }, (0.0, f64::INFINITY));
    let half = at_least(&plan, &stands).expect("it can be");
    assert_eq!((half.standing[1], half.firm.get(1), half.run_lower[1]), (Some(3), Some(&3), 2.0));
    near(below(&stands).expect("it can be").run_upper[1], 2.0);
    // Those that must stand do so without their idle draw.
    let mut must = plan.clone();
    must.units[1].count = Count::Sized { at_least: 1, at_most: None };
    assert_eq!(at_least(&must, &stands).expect("it can be").firm[1], 2);
    for (unit, lower) in [(2, 2.0), (3, 2.7)] {
        let runs = |run| node(Split::Run { unit, machines: 3 }, run);
        near(at_least(&plan, &runs((0.0, 9.0))).expect("it can be").run_lower[unit], lower);
        near(below(&runs((0.0, 9.0))).expect("it can be").run_upper[unit], 2.0);
        // Where its bounds reach just that, and where they do not.
        let least = plan.units[unit].turndown.si() * 3.0;
        assert!(
            at_least(&plan, &runs((0.0, least))).is_some() && at_least(&plan, &runs((0.0, least - 0.01))).is_none()
        );
        assert!(below(&runs((2.0, 9.0))).is_some() && below(&runs((2.01, 9.0))).is_none());
    }
}

/// Where trial came to nothing that stands, the search begins with only what must, and with nothing that would run below its turndown.
#[test]
fn the_least_plant_is_what_must_stand() {
    let most = |turndown: f64| {
        let document = json!({
            "units": {
                "kiln": { "gives": { "brick": 1 }, "turndown": turndown },
                "mill": { "takes": { "ore": 2 }, "gives": { "a": 2 } },
                "press": { "takes": { "a": 1 }, "gives": { "cake": 1 }, "idle_draw": 6000, "count": { "at_least": 1 } },
            },
            "supplies": { "ore": { "header": "ore" }, "mains": { "header": "power", "rate": 20_000 } },
            "demands": { "baker": { "header": "cake", "rate": 3 }, "mason": { "header": "brick", "rate": 0.5 } },
        });
        let (plan, budget) = (read(&document), Budget::unhurried());
        let root = bound(&plan, HeatPower::NONE, &budget).expect("within the budget").setting;
        least(&plan, &root, &budget).expect("within the budget").0.run_upper
    };
    assert_eq!(most(0.4), [f64::INFINITY, f64::INFINITY, 1.0]);
    assert_eq!(most(0.6), [0.0, f64::INFINITY, 1.0]);
}

/// Two presses of which one must stand make 1.25 of 1.5 on the 17 kW that the lamp leaves. Which of them stand is fixed then, and nothing else is.
#[test]
fn numbers_that_were_searched_are_fixed() {
    let document = json!({
        "units": {
            "lamp": { "draws": 1000, "idle_draw": 1000, "count": 3 },
            "mill": { "takes": { "ore": 2 }, "gives": { "a": 2 } },
            "press": { "takes": { "a": 1 }, "gives": { "cake": 1 }, "draws": 10_000, "idle_draw": 6000, "count": { "at_least": 1 } },
        },
        "supplies": { "ore": { "header": "ore" }, "mains": { "header": "power", "rate": 20_000 } },
        "demands": { "baker": { "header": "cake", "rate": 1.5 } },
    });
    let plan = read(&document);
    let (setting, found) = solve_whole(&plan, HeatPower::NONE, &Budget::unhurried()).expect("within the budget");
    assert!(found.proven);
    near(found.pass.x[found.pass.model.columns.run[2]], 1.25);
    assert_eq!((&setting.standing[..], &setting.firm[..]), (&[Some(3), None, Some(2)][..], &[0, 0, 1][..]));
    assert_eq!(setting.run_upper, [3.0, f64::INFINITY, 2.0]);
}

#[test]
fn machines_stand_from_the_first_where_their_run_is_decided_and_there_is_power_for_them() {
    let press = |ore: f64| json!({ "takes": { "ore": ore }, "gives": { "cake": 1 }, "draws": 3000, "idle_draw": 1000 });
    let firm = |units: &Value, mains: Value| {
        let document = json!({
            "units": units, "supplies": { "ore": { "header": "ore" }, "mains": mains },
            "demands": { "baker": { "header": "cake", "rate": 1.5 } },
        });
        let plan = read(&document);
        bound(&plan, HeatPower::NONE, &Budget::unhurried()).expect("within the budget").pass.firm
    };
    let mains = |kilowatts: f64| json!({ "header": "power", "rate": 1000.0 * kilowatts });
    let one = json!({ "press": press(1.0) });
    assert_eq!(firm(&one, json!({ "header": "power" })), [2]);
    let mut must = one.clone();
    must["press"]["count"] = json!({ "at_least": 1 });
    assert_eq!(firm(&must, json!({ "header": "power" })), [1]);
    must["press"]["count"] = json!({ "at_least": 2 });
    assert_eq!(firm(&must, json!({ "header": "power" })), [0]);
    // Whatever the measure of it: a hundred megawatts.
    let mut much = one.clone();
    much["press"]["idle_draw"] = json!(1e8);
    assert_eq!(firm(&much, json!({ "header": "power" })), [2]);
    // They take 4.5 kW running and half a kilowatt standing.
    assert_eq!(firm(&one, mains(5.1)), [2]);
    assert_eq!(firm(&one, mains(4.9)), [0]);
    assert_eq!(firm(&one, mains(4.4)), [0]);
    // Which of two sorts runs is decided by power, and is decided no more once standing takes of it.
    let mut two = json!({ "a": press(1.0), "b": press(1.1) });
    two["b"]["draws"] = json!(3100);
    assert_eq!(firm(&two, json!({ "header": "power", "rank": 2 })), [0, 0]);
    // By ore, where power comes anyway.
    assert_eq!(firm(&two, json!({ "header": "power", "rate": 9000, "when": "always" })), [2, 0]);
}
