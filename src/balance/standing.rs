//! Machines that draw power while they stand.
//!
//! Of a unit with an idle draw n machines stand and r of them run, 0 ≤ r ≤ n. It takes from `power`, in W,
//!
//! `draws` · r + `idle_draw` · (n − r − u), with 0 ≤ u ≤ m and u ≤ n − r,
//!
//! where m of the n stand because the plan says so (a fixed count, or `at_least`) and u of those lack their idle draw. What must
//! stand comes before everything else: the shares u / m are made as small as they can be, the greatest first. The other n − m
//! need not be there. They stand only where there is power for all of them, and never at the cost of what is asked, since any
//! objective before the fewest machines may do without them.
//!
//! n is whole: ⌈r⌉, or m where that is more. So what is left of the last machine of a run costs its idle draw, which makes it no
//! linear programme. Most plants have power to spare, and for those the numbers are found by trial: flows without any idle draw
//! give ⌈r⌉, these draw, and so on until both agree. If that reaches as much as without idle draw, traps and loses no more
//! and earns no less, no other numbers could do better there, and they stand ([`cost`]), though others might draw less for
//! it or be fewer. Otherwise [`super::whole`] searches, by all objectives.

use super::Found;
use super::attained::Attained;
use super::counts::machines;
use super::model::{Setting, Wanted, must_stand};
use super::pass::{Pass, REACHED};
use super::turndown;
use crate::plan::{Aim, Count, Plan, When};

/// Counts the machines whose idle draw the next round has to meet: more where more run than stood ready, and fewer where
/// some of those that stood ready do not run at all. Those are done without from then on: when power is short, a machine
/// that only stands there takes it from those that run. False where the counts stand.
pub fn recount(plan: &Plan, settled: &Pass, setting: &mut Setting) -> bool {
    let mut changed = false;
    for (at, unit) in plan.units.iter().enumerate() {
        if unit.idle_draw.si() <= 0.0 || matches!(unit.count, Count::Fixed(_)) {
            continue;
        }
        let count = settled.counts[at];
        let next = match setting.standing[at] {
            Some(before) if count < before => {
                let idle = before - count;
                // A few too many are tried one by one; of many, half go at once.
                let next = before - if idle <= 4 { 1 } else { idle / 2 };
                setting.run_upper[at] = setting.run_upper[at].min(f64::from(next));
                next
            }
            _ => count,
        };
        changed |= setting.standing[at] != Some(next);
        setting.standing[at] = Some(next);
    }
    changed
}

/// Whether idle draw of machines to be sized costs the plan anything that counts more than what is drawn: `tried` was solved
/// with it, under `setting`, and `free` without.
#[must_use]
pub fn cost(plan: &Plan, free: &Found, setting: &Setting, tried: &Pass) -> bool {
    if has_all(plan, tried) {
        return false;
    }
    // Where turndowns hold runs, what there is without idle draw is not known for certain.
    free.held
        || !is_sound(plan, setting, tried)
        || Attained::of(plan, setting, tried).stays_behind(&Attained::of(plan, setting, &free.pass))
}

/// The common case, told at a glance: nothing is short, trapped or lost, and there is no value to be had.
fn has_all(plan: &Plan, pass: &Pass) -> bool {
    let columns = &pass.model.columns;
    let is_full = |column: usize| pass.x[column] >= pass.model.program.upper[column] * (1.0 - REACHED);
    pass.short_rank.is_none()
        && !matches!(plan.aim, Aim::Most(_))
        && columns.trapped.iter().flatten().all(|&column| pass.x[column] <= 0.0)
        && columns.turbines.is_none_or(is_full)
        && plan
            .supplies
            .iter()
            .zip(&columns.draw)
            .all(|(supply, &column)| supply.when == When::Wanted || is_full(column))
}

/// Whether what stands under `setting` may stand: as many as run, with all of the idle draw of those that need not be there,
/// and each that runs at or above its turndown.
#[must_use]
pub fn is_sound(plan: &Plan, setting: &Setting, pass: &Pass) -> bool {
    let lacks = |at: usize| {
        let of = pass.model.items.iter().find(|item| matches!(item.what, Wanted::Idle(unit) if unit.0 == at));
        of.map_or(0.0, |item| item.wanted - pass.x[item.column])
    };
    let is_sound = |(at, unit): (usize, &crate::plan::Unit)| {
        let Some(standing) = setting.standing[at].filter(|_| unit.idle_draw.si() > 0.0) else { return true };
        let run = pass.x[pass.model.columns.run[at]];
        machines(run) <= standing && lacks(at) <= f64::from(must_stand(unit)) + REACHED * f64::from(standing)
    };
    turndown::is_kept(plan, pass) && plan.units.iter().enumerate().all(is_sound)
}

#[cfg(test)]
mod tests {
    use super::super::{HeatPower, run, settle};
    use super::*;
    use crate::budget::Budget;
    use crate::plan::Limits;
    use crate::quantity::Power;
    use serde_json::{Value, json};

    fn read(document: &Value) -> Plan {
        Plan::from_json(document.to_string().as_bytes(), &Limits::default()).unwrap_or_else(|error| panic!("{error:?}"))
    }

    fn settled(plan: &Plan, setting: &Setting) -> Pass {
        settle(plan, setting, &Budget::unhurried()).expect("within the budget").0
    }

    /// Presses that draw while they stand, for so much cake.
    fn presses(cake: f64, kilowatts: f64, more: &Value) -> Value {
        let mut press = json!({ "takes": { "dough": 1 }, "gives": { "cake": 1 }, "draws": 3000, "idle_draw": 1000 });
        press.as_object_mut().expect("fields").extend(more.as_object().expect("fields").clone());
        json!({
            "units": { "press": press },
            "supplies": { "dough": { "header": "dough" }, "mains": { "header": "power", "rate": 1000.0 * kilowatts } },
            "demands": { "baker": { "header": "cake", "rate": cake } },
        })
    }

    #[test]
    fn as_many_stand_as_run_and_of_those_that_do_not_run_a_few_go_at_a_time() {
        let unit = |idle: u32, count: Value| json!({ "gives": { "cake": 1 }, "idle_draw": idle, "count": count });
        let plan = read(&json!({
            "units": { "a": unit(9, json!({ "at_least": 0 })), "b": unit(9, json!(3)), "c": unit(0, json!({ "at_least": 0 })) },
            "demands": { "user": { "header": "cake", "rate": 1 } },
        }));
        let first = Setting::of(&plan, HeatPower::NONE);
        let mut pass = settled(&plan, &first);
        for (before, count, next) in [
            (None, 5, 5),
            (Some(2), 5, 5),
            (Some(5), 5, 5),
            (Some(6), 5, 5),
            (Some(6), 2, 5),
            (Some(7), 2, 5),
            (Some(8), 2, 5),
            (Some(9), 2, 6),
            (Some(40), 0, 20),
        ] {
            let mut setting = first.clone();
            setting.standing[0] = before;
            setting.run_upper[0] = 50.0;
            pass.counts = vec![count, 1, 7];
            assert_eq!(recount(&plan, &pass, &mut setting), before != Some(next), "{before:?} {count}");
            assert_eq!(setting.standing, [Some(next), Some(3), None], "{before:?} {count}");
            // Those that are done without stay away.
            let upper = if before.is_some_and(|before| count < before) { f64::from(next) } else { 50.0 };
            assert!((setting.run_upper[0] - upper).abs() < 1e-12, "{before:?} {count}: {}", setting.run_upper[0]);
        }
    }

    #[test]
    fn a_plant_has_all_where_nothing_is_short_trapped_or_lost_and_no_value_is_to_be_had() {
        let with = |more: &[(&str, Value)], heat: HeatPower| {
            let mut document = json!({
                "units": { "mill": { "takes": { "ore": 1 }, "gives": { "meal": 0.75, "slag": 0.25 } } },
                "supplies": { "ore": { "header": "ore", "rate": 4 } },
                "outlets": { "slag": {} }, "demands": { "user": { "header": "meal", "rate": 1.5 } },
            });
            for (at, value) in more {
                *document.pointer_mut(at).expect("a place") = value.clone();
            }
            let plan = read(&document);
            has_all(&plan, &settled(&plan, &Setting::of(&plan, heat)))
        };
        let none = HeatPower::NONE;
        assert!(with(&[], none));
        assert!(!with(&[("/demands/user/rate", json!(6))], none));
        assert!(!with(&[("/outlets", json!({ "slag": { "limit": 0.25 } }))], none));
        assert!(with(&[("/outlets", json!({ "slag": { "limit": 0.5 } }))], none));
        // A spring of which half finds no place.
        let spring = |rate: f64| json!({ "ore": { "header": "ore", "rate": rate, "when": "always" } });
        let outlet = ("/outlets", json!({ "slag": {}, "ore": { "limit": 1 } }));
        assert!(with(&[("/supplies", spring(3.0)), outlet.clone()], none));
        assert!(!with(&[("/supplies", spring(6.0)), outlet], none));
        // Turbines give 5 kW, and there is room for all of it or for three.
        let heat = HeatPower { draws: Power::ZERO, generates: Power::from_si(5000.0).expect("finite") };
        let lamp = (
            "/demands",
            json!({ "user": { "header": "meal", "rate": 1.5 }, "lamp": { "header": "power", "rate": 2000 } }),
        );
        let limit = ("/outlets", json!({ "slag": {}, "power": { "limit": 1000 } }));
        assert!(with(std::slice::from_ref(&lamp), heat));
        assert!(!with(&[lamp, limit], heat));
        let mut valued = json!({
            "units": { "mill": { "takes": { "ore": 1 }, "gives": { "meal": 1 } } },
            "supplies": { "ore": { "header": "ore", "rate": 4 } },
        });
        valued["aim"] = json!({ "most": { "meal": 1 } });
        let plan = read(&valued);
        assert!(!has_all(&plan, &settled(&plan, &Setting::of(&plan, none))));
    }

    #[test]
    fn what_stands_is_sound_with_as_many_as_run_and_all_of_their_draw() {
        let sound = |document: &Value, standing: Option<u32>| {
            let plan = read(document);
            let mut setting = Setting::of(&plan, HeatPower::NONE);
            setting.standing[0] = standing;
            is_sound(&plan, &setting, &settled(&plan, &setting))
        };
        let plenty = |more: Value| presses(1.5, 100.0, &more);
        assert!(!sound(&plenty(json!({})), Some(1)));
        assert!(sound(&plenty(json!({})), Some(2)));
        assert!(sound(&plenty(json!({})), None));
        assert!(!sound(&plenty(json!({ "turndown": 0.8 })), Some(2)));
        // Two stand on 1.5 kW and want 2: half of one lacks its draw, which only one that must stand may.
        assert!(!sound(&presses(0.1, 1.5, &json!({})), Some(2)));
        assert!(sound(&presses(0.1, 2.5, &json!({})), Some(2)));
        assert!(sound(&presses(0.1, 1.5, &json!({ "count": { "at_least": 1 } })), Some(2)));
        assert!(!sound(&presses(0.1, 0.5, &json!({ "count": { "at_least": 1 } })), Some(2)));
    }

    #[test]
    fn idle_draw_costs_something_where_less_is_reached_and_not_where_more_is_drawn() {
        let costs = |document: &Value, standing: u32| {
            let plan = read(document);
            let mut setting = Setting::of(&plan, HeatPower::NONE);
            let free = run(&plan, &setting, &Budget::unhurried()).expect("within the budget");
            setting.standing[0] = Some(standing);
            cost(&plan, &free, &setting, &settled(&plan, &setting))
        };
        // 4.5 kW for 1.5 presses, and 0.5 for the half that stands.
        assert!(!costs(&presses(1.5, 5.1, &json!({})), 2));
        assert!(costs(&presses(1.5, 4.9, &json!({})), 2));
        // Somebody else is short either way, of something else.
        let mut short = presses(1.5, 5.1, &json!({}));
        short["demands"]["miller"] = json!({ "header": "meal", "rate": 1 });
        assert!(!costs(&short, 2));
        // More run than stand.
        assert!(costs(&short, 1));
        // Where turndowns hold, it is not known.
        let mut held = presses(1.5, 5.1, &json!({}));
        held["units"]["kiln"] = json!({ "gives": { "tile": 1 }, "turndown": 0.9 });
        held["demands"]["miller"] = json!({ "header": "meal", "rate": 1 });
        assert!(!costs(&held, 2));
        held["demands"]["tiler"] = json!({ "header": "tile", "rate": 0.5 });
        assert!(costs(&held, 2));
    }
}
