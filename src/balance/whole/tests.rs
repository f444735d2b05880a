//! All numbers of machines tried, in small halls that are short of power, and in some that are not.

use super::super::attained::Attained;
use super::super::model::{Setting, must_stand};
use super::super::pass::Pass;
use super::super::standing::is_sound;
use super::super::{Found, HeatPower, settle, solve_whole, try_numbers};
use super::halls::{Hall, hall, spare};
use super::plant::Random;
use super::{Node, Split, at_least, below, bound, least};
use crate::balance::Outcome;
use crate::budget::{Budget, Halt};
use crate::plan::{Count, Limits, Plan};
use proptest::prelude::*;
use proptest::test_runner::RngSeed;
use serde_json::{Map, json};
use std::sync::atomic::{AtomicU64, Ordering};

/// The best of all numbers of machines that stand and of machines that run.
fn best_of_all(plan: &Plan, hall: &Hall) -> Option<(Attained, Vec<u32>)> {
    let bounds: Vec<(u32, u32)> = plan
        .units
        .iter()
        .map(|unit| {
            let of = hall.machines.iter().find(|(name, ..)| *name == unit.name).expect("a unit of the hall");
            (of.1, of.2)
        })
        .collect();
    let mut standing: Vec<u32> = bounds.iter().map(|bounds| bounds.0).collect();
    let mut best: Option<(Attained, Vec<u32>)> = None;
    loop {
        let mut running: Vec<u32> = vec![0; standing.len()];
        loop {
            let mut setting = Setting::of(plan, HeatPower::NONE);
            setting.firm = vec![0; standing.len()];
            for (at, unit) in plan.units.iter().enumerate() {
                setting.standing[at] = Some(standing[at]);
                setting.firm[at] = standing[at] - must_stand(unit);
                setting.run_upper[at] = f64::from(standing[at]);
                if unit.turndown.si() > 0.0 {
                    setting.run_upper[at] = f64::from(running[at]);
                    setting.run_lower[at] = f64::from(running[at]) * unit.turndown.si();
                }
            }
            let (pass, _) = settle(plan, &setting, &Budget::unhurried()).expect("within the budget");
            // An aim may hold a run below the least of so many machines.
            let keeps = |at: usize| pass.x[pass.model.columns.run[at]] >= setting.run_lower[at] * (1.0 - 1e-9);
            if pass.feasible && (0..standing.len()).all(keeps) {
                let attained = Attained::of(plan, &setting, &pass);
                if best.as_ref().is_none_or(|(best, _)| attained.is_better_than(best)) {
                    best = Some((attained, standing.clone()));
                }
            }
            let most = |at: usize| if plan.units[at].turndown.si() > 0.0 { standing[at] } else { 0 };
            if !next(&mut running, |_| 0, most) {
                break;
            }
        }
        if !next(&mut standing, |at| bounds[at].0, |at| bounds[at].1) {
            return best;
        }
    }
}

/// The next of all numbers within bounds; false after the last.
fn next(numbers: &mut [u32], least: impl Fn(usize) -> u32, most: impl Fn(usize) -> u32) -> bool {
    for (at, number) in numbers.iter_mut().enumerate() {
        if *number < most(at) {
            *number += 1;
            return true;
        }
        *number = least(at);
    }
    false
}

fn hold(hall: &Hall) {
    let (plan, text) = (read(hall), &hall.document);
    let (setting, found) = solve_whole(&plan, HeatPower::NONE, &Budget::unhurried()).expect("within the budget");
    let attained = Attained::of(&plan, &setting, &found.pass);
    let (best, standing) = best_of_all(&plan, hall).expect("what must stand can");
    let counts: Vec<u32> =
        found.pass.counts.iter().zip(&setting.standing).map(|(&c, s)| c.max(s.unwrap_or(0))).collect();
    assert!(found.proven, "{text}");
    let says = format!("{counts:?} by the search, {standing:?} by trying all:\n{attained:?}\n{best:?}\n{text}");
    assert!(!best.is_better_than(&attained) && !attained.is_better_than(&best), "{says}");
}

/// The numbers that trial alone would find.
fn tried(plan: &Plan) -> (Setting, Found) {
    let budget = Budget::unhurried();
    let first = bound(plan, HeatPower::NONE, &budget).expect("within the budget");
    try_numbers(plan, HeatPower::NONE, &first.pass, &budget).expect("within the budget")
}

fn read(hall: &Hall) -> Plan {
    let text = hall.document.to_string();
    Plan::from_json(text.as_bytes(), &Limits::default()).unwrap_or_else(|error| panic!("{error:?}"))
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 600, rng_seed: RngSeed::Fixed(5), failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn no_other_numbers_do_better(seed in any::<u64>()) {
        hold(&hall(seed, false));
    }

    #[test]
    fn nor_do_they_draw_less_or_are_fewer_where_power_is_to_spare(seed in any::<u64>()) {
        hold(&spare(seed));
    }

    #[test]
    fn nor_do_they_where_machines_cannot_be_turned_down(seed in any::<u64>()) {
        hold(&hall(seed, true));
    }
}

/// The halls would show nothing if trial were enough for them.
#[test]
fn trial_alone_would_miss_many() {
    let budget = Budget::unhurried();
    let (mut searched, mut better) = (0, 0);
    for seed in 0..500 {
        let plan = read(&hall(seed, seed % 2 == 0));
        let (setting, tried) = tried(&plan);
        let (numbers, found) = solve_whole(&plan, HeatPower::NONE, &budget).expect("within the budget");
        searched += u32::from(found.pass.steps != tried.pass.steps);
        let (tried_attains, attains) =
            (Attained::of(&plan, &setting, &tried.pass), Attained::of(&plan, &numbers, &found.pass));
        if is_sound(&plan, &setting, &tried.pass) {
            assert!(!tried_attains.is_better_than(&attains), "seed {seed}");
            better += u32::from(attains.is_better_than(&tried_attains));
        }
    }
    assert!(searched >= 150, "{searched} of 500 halls were searched");
    assert!(better >= 12, "in {better} of 500 halls the search found more than trial");
}

/// So many presses on six tenths of the power that they would take at full duty.
fn presses(units: u64) -> Hall {
    let mut random = Random::new(units);
    let (mut presses, mut supplies, mut demands) = (Map::new(), Map::new(), Map::new());
    let mut power = 0.0;
    for at in 0..units {
        let (ore, cake) = (format!("ore {at}"), format!("cake {at}"));
        let (gives, draws) = (random.tenths(2, 30), random.tenths(1, 40) * 100.0);
        let idle_draw = random.tenths(1, 20) * 100.0;
        let rate = random.tenths(1, 60);
        power += rate / gives * draws;
        presses.insert(
            format!("press {at}"),
            json!({ "takes": { &ore: gives }, "gives": { &cake: gives }, "draws": draws, "idle_draw": idle_draw }),
        );
        supplies.insert(ore.clone(), json!({ "header": ore }));
        demands.insert(format!("demand {at}"), json!({ "header": cake, "rate": rate, "rank": 1 + at % 3 }));
    }
    supplies.insert("grid".to_owned(), json!({ "header": "power", "rate": power * 0.6 }));
    let document = json!({ "units": presses, "supplies": supplies, "demands": demands });
    Hall { document, machines: Vec::new() }
}

#[test]
fn what_is_not_proven_says_so_and_is_no_worse_than_trial() {
    let (plan, budget) = (read(&presses(60)), Budget::unhurried());
    let (setting, tried) = tried(&plan);
    let (numbers, found) = solve_whole(&plan, HeatPower::NONE, &budget).expect("within the budget");
    assert!(tried.proven && !found.proven);
    let attained = Attained::of(&plan, &numbers, &found.pass);
    assert!(!Attained::of(&plan, &setting, &tried.pass).is_better_than(&attained));
    assert!(found.pass.steps < 30_000, "{} steps", found.pass.steps);
    // The answer says that they serve, and no more.
    assert!(!crate::balance::balance(&plan, &budget).expect("within the budget").proven);
}

#[test]
fn the_search_is_stopped_like_any_other_work() {
    let plan = read(&presses(10));
    let (_, tried) = tried(&plan);
    let (_, found) = solve_whole(&plan, HeatPower::NONE, &Budget::unhurried()).expect("within the budget");
    assert!(tried.pass.steps + 20 < found.pass.steps, "{} steps, of them {}", found.pass.steps, tried.pass.steps);
    let limit = found.pass.steps - 10;
    let spent = solve_whole(&plan, HeatPower::NONE, &Budget::new(limit, &|| false)).expect_err("the steps are spent");
    assert_eq!(spent, Halt::StepsSpent { limit });
    // Told to stop only once the search has begun: trial asks less often than this.
    let asked = AtomicU64::new(0);
    let stop = || asked.fetch_add(1, Ordering::Relaxed) >= 20;
    let stopped = solve_whole(&plan, HeatPower::NONE, &Budget::new(u64::MAX, &stop)).expect_err("it is told to stop");
    assert_eq!(stopped, Halt::Stopped);
}

fn by_hand(text: &str) -> (Plan, crate::balance::Balance) {
    let plan = Plan::from_json(text.as_bytes(), &Limits::default()).unwrap_or_else(|error| panic!("{error:?}"));
    let balance = crate::balance::balance(&plan, &Budget::unhurried()).expect("within the budget");
    (plan, balance)
}

fn near(got: f64, want: f64) {
    assert!((got - want).abs() <= 1e-9 * want.abs().max(1.0), "got {got}, want {want}");
}

/// A second press would stand for a tenth of its duty and draw as much as four presses meanwhile: the tenth is had of the kneader, and
/// no machine runs for nothing only so as not to idle.
#[test]
fn a_machine_that_need_not_be_there_does_not_stand_at_the_cost_of_what_is_asked() {
    let (plan, balance) = by_hand(
        r#"{"units": {"press": {"takes": {"a": 1}, "gives": {"cake": 1}, "draws": "5 kW", "idle_draw": "20 kW"},
                      "kneader": {"takes": {"a": 1}, "gives": {"cake": 1}, "draws": "9 kW"}},
            "supplies": {"a": {"header": "a"}, "mains": {"header": "power", "rate": "12 kW"}},
            "demands": {"baker": {"header": "cake", "rate": 1.1}}}"#,
    );
    assert_eq!(balance.outcome, Outcome::Met);
    let run = |name: &str| balance.units[plan.unit_named(name).unwrap().0];
    near(run("press").needed, 1.0);
    near(run("kneader").needed, 0.1);
    assert_eq!((run("press").count, run("kneader").count), (1, 1));
    let power = balance.headers[plan.power().unwrap().0];
    near(power.taken, 5.9e3);
    near(power.unserved, 0.0);
}

/// 16 kW: two presses that make 1.5 would take 15 kW and 3 kW more for the half that stands. Two take all the mains for one, and one takes 10.
#[test]
fn where_power_is_short_fewer_may_do_as_much() {
    let hall = |mains: &str| {
        by_hand(&format!(
            r#"{{"units": {{"press": {{"takes": {{"a": 1}}, "gives": {{"cake": 1}}, "draws": "10 kW", "idle_draw": "6 kW"}}}},
                "supplies": {{"a": {{"header": "a"}}, "mains": {{"header": "power", "rate": "{mains}"}}}},
                "demands": {{"baker": {{"header": "cake", "rate": 1.5}}}}}}"#
        ))
    };
    let (_, balance) = hall("16 kW");
    assert_eq!((balance.outcome, balance.units[0].count), (Outcome::Short, 1));
    near(balance.served[0], 1.0);
    // With 17 kW: 10 r + 6 (2 − r) = 17 at r = 1.25, which needs the second.
    let (_, balance) = hall("17 kW");
    assert_eq!(balance.units[0].count, 2);
    near(balance.served[0], 1.25);
    let (_, balance) = hall("18 kW");
    assert_eq!((balance.outcome, balance.units[0].count), (Outcome::Met, 2));
}

/// Of at least two, two stand although 8 kW are not enough for the 10 that they draw; they lack a fifth, and the third, which they
/// could do with, is not there.
#[test]
fn what_must_stand_comes_first_and_may_lack_its_draw() {
    let (plan, balance) = by_hand(
        r#"{"units": {"press": {"takes": {"a": 1}, "gives": {"cake": 1}, "draws": "7 kW", "idle_draw": "5 kW",
                                "count": {"at_least": 2}}},
            "supplies": {"a": {"header": "a"}, "mains": {"header": "power", "rate": "8 kW"}},
            "demands": {"baker": {"header": "cake", "rate": 3}}}"#,
    );
    assert_eq!((balance.outcome, balance.units[0].count), (Outcome::Short, 2));
    let power = balance.headers[plan.power().unwrap().0];
    near(power.unserved, 2e3);
    near(balance.served[0], 0.0);
}

/// A press that runs at half its duty at least, or not at all, and idles: with 16 kW two make 1.2 (12 and 3.2 kW); with 14 kW two make no
/// more than one, which takes 10.
#[test]
fn a_unit_may_have_both_a_turndown_and_an_idle_draw() {
    for (mains, count, served) in [("16 kW", 2, 1.2), ("14 kW", 1, 1.0)] {
        let (_, balance) = by_hand(&format!(
            r#"{{"units": {{"press": {{"takes": {{"a": 1}}, "gives": {{"cake": 1}}, "draws": "10 kW", "idle_draw": "4 kW",
                                      "turndown": 0.5}}}},
                "supplies": {{"a": {{"header": "a"}}, "mains": {{"header": "power", "rate": "{mains}"}}}},
                "demands": {{"baker": {{"header": "cake", "rate": 1.2}}}}}}"#
        ));
        assert_eq!(balance.units[0].count, count, "{mains}");
        near(balance.served[0], served);
    }
}

/// Two sorts that idle and two that cannot be turned down, with so many of each running.
fn mixed(runs: [f64; 4]) -> (Plan, Setting, Pass) {
    let unit = |idle: u32, turndown: f64| json!({ "gives": { "cake": 1 }, "idle_draw": idle, "turndown": turndown });
    let document = json!({
        "units": { "a": unit(100, 0.0), "b": unit(300, 0.0), "c": unit(0, 0.5), "d": unit(0, 0.9) },
        "supplies": { "mains": { "header": "power" } }, "demands": { "baker": { "header": "cake", "rate": 3 } },
    });
    let plan = Plan::from_json(document.to_string().as_bytes(), &Limits::default())
        .unwrap_or_else(|error| panic!("{error:?}"));
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
        super::split(&plan, &setting, &pass).map(|split| match split {
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
        let (plan, budget) = (read(&Hall { document, machines: Vec::new() }), Budget::unhurried());
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
    let plan = read(&Hall { document, machines: Vec::new() });
    let (setting, found) = solve_whole(&plan, HeatPower::NONE, &Budget::unhurried()).expect("within the budget");
    assert!(found.proven);
    near(found.pass.x[found.pass.model.columns.run[2]], 1.25);
    assert_eq!((&setting.standing[..], &setting.firm[..]), (&[Some(3), None, Some(2)][..], &[0, 0, 1][..]));
    assert_eq!(setting.run_upper, [3.0, f64::INFINITY, 2.0]);
}

/// Two sorts for each job, on all the power they want: what runs on less draws more while it stands.
fn pairs(jobs: u64) -> Hall {
    let mut random = Random::new(jobs);
    let (mut units, mut supplies, mut demands) = (Map::new(), Map::new(), Map::new());
    for at in 0..jobs {
        let (ore, cake) = (format!("ore {at}"), format!("cake {at}"));
        for (sort, draws, idle_draw) in [("press", 20, 15), ("kneader", 21, 2)] {
            let more = random.whole(0, 9);
            let unit = json!({ "takes": { &ore: 1 }, "gives": { &cake: 1 }, "draws": 100 * draws + more, "idle_draw": 100 * idle_draw });
            units.insert(format!("{sort} {at}"), unit);
        }
        supplies.insert(ore.clone(), json!({ "header": ore }));
        demands.insert(cake.clone(), json!({ "header": cake, "rate": random.tenths(1, 30) }));
    }
    supplies.insert("grid".to_owned(), json!({ "header": "power" }));
    Hall { document: json!({ "units": units, "supplies": supplies, "demands": demands }), machines: Vec::new() }
}

#[test]
fn where_a_choice_is_not_searched_to_its_end_it_says_so_and_takes_little() {
    let budget = Budget::unhurried();
    for (jobs, is_proven) in [(1, true), (2, true), (40, false)] {
        let plan = read(&pairs(jobs));
        let (setting, tried) = tried(&plan);
        let (numbers, found) = solve_whole(&plan, HeatPower::NONE, &budget).expect("within the budget");
        assert_eq!(found.proven, is_proven, "{jobs} jobs");
        let attained = Attained::of(&plan, &numbers, &found.pass);
        assert!(!Attained::of(&plan, &setting, &tried.pass).is_better_than(&attained));
        assert!(found.pass.steps < tried.pass.steps + 1_500, "{} steps", found.pass.steps);
        // More machines may run where a limit gives way.
        assert!(numbers.run_upper.iter().all(|upper| upper.is_infinite()) && !numbers.is_searched());
    }
    // Neither does it take the last of a budget.
    let plan = read(&pairs(40));
    let (_, tried) = tried(&plan);
    let limit = 2 * tried.pass.steps + 100;
    let (_, found) = solve_whole(&plan, HeatPower::NONE, &Budget::new(limit, &|| false)).expect("trial is enough");
    assert!(!found.proven && found.pass.steps <= limit, "{} of {limit} steps", found.pass.steps);
}

/// The press runs on less and draws more while half of it stands: 4.5 kW for half a job, where the kneader takes 3.25. Of one and a
/// half the press does the whole one and the kneader the half.
#[test]
fn of_two_sorts_those_are_taken_that_draw_least_standing_and_running() {
    for (cake, counts, kilowatts) in [(0.5, (0, 1), 3.25), (1.0, (1, 0), 5.0), (1.5, (1, 1), 8.25), (2.0, (2, 0), 10.0)]
    {
        let (plan, balance) = by_hand(&format!(
            r#"{{"units": {{"press": {{"takes": {{"a": 1}}, "gives": {{"cake": 1}}, "draws": "5 kW", "idle_draw": "4 kW"}},
                          "kneader": {{"takes": {{"a": 1}}, "gives": {{"cake": 1}}, "draws": "6 kW", "idle_draw": "0.5 kW"}}}},
                "supplies": {{"a": {{"header": "a"}}, "mains": {{"header": "power"}}}},
                "demands": {{"baker": {{"header": "cake", "rate": {cake}}}}}}}"#
        ));
        let count = |name: &str| balance.units[plan.unit_named(name).unwrap().0].count;
        assert_eq!((balance.outcome, count("press"), count("kneader")), (Outcome::Met, counts.0, counts.1), "{cake}");
        near(balance.headers[plan.power().unwrap().0].taken, 1e3 * kilowatts);
        assert!(balance.proven);
    }
}

/// With power for nothing idling is no matter, and the fewest machines are: one large one, though it idles more than two small ones.
#[test]
fn where_power_is_for_nothing_the_fewest_machines_are_taken() {
    let (plan, balance) = by_hand(
        r#"{"units": {"large": {"takes": {"a": 2}, "gives": {"cake": 2}, "draws": "5 kW", "idle_draw": "4 kW"},
                      "small": {"takes": {"a": 0.6}, "gives": {"cake": 0.6}, "draws": "1 kW", "idle_draw": "0.5 kW"}},
            "supplies": {"a": {"header": "a"}, "mains": {"header": "power", "rate": "50 kW", "when": "always"}},
            "demands": {"baker": {"header": "cake", "rate": 1.2}}}"#,
    );
    let count = |name: &str| balance.units[plan.unit_named(name).unwrap().0].count;
    assert_eq!((count("large"), count("small"), balance.proven), (1, 0, true));
}

#[test]
fn machines_stand_from_the_first_where_their_run_is_decided_and_there_is_power_for_them() {
    let press = |ore: f64| json!({ "takes": { "ore": ore }, "gives": { "cake": 1 }, "draws": 3000, "idle_draw": 1000 });
    let firm = |units: &serde_json::Value, mains: serde_json::Value| {
        let document = json!({
            "units": units, "supplies": { "ore": { "header": "ore" }, "mains": mains },
            "demands": { "baker": { "header": "cake", "rate": 1.5 } },
        });
        let plan = read(&Hall { document, machines: Vec::new() });
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
