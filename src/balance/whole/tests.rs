//! All numbers of machines tried, in small halls that are short of power, and in some that are not.

mod by_hand;
mod parts;

use super::super::attained::Attained;
use super::super::model::{Setting, must_stand};
use super::super::standing::is_sound;
use super::super::{Found, HeatPower, settle, solve_whole, try_numbers};
use super::bound;
use super::halls::{Hall, hall, spare};
use super::plant::Random;
use crate::budget::{Budget, Halt};
use crate::plan::{Limits, Plan};
use proptest::prelude::*;
use proptest::test_runner::RngSeed;
use serde_json::{Map, Value, json};
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
    let (plan, text) = (read(&hall.document), &hall.document);
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

fn read(document: &Value) -> Plan {
    Plan::from_json(document.to_string().as_bytes(), &Limits::default()).unwrap_or_else(|error| panic!("{error:?}"))
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
        let plan = read(&hall(seed, seed % 2 == 0).document);
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
fn presses(units: u64) -> Value {
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
    json!({ "units": presses, "supplies": supplies, "demands": demands })
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

/// Two sorts for each job, on all the power they want: what runs on less draws more while it stands.
fn pairs(jobs: u64) -> Value {
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
    json!({ "units": units, "supplies": supplies, "demands": demands })
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

fn near(got: f64, want: f64) {
    assert!((got - want).abs() <= 1e-9 * want.abs().max(1.0), "got {got}, want {want}");
}
