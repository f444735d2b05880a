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
//! linear programme. The numbers are first found by trial: flows with the numbers real give ⌈r⌉, these draw, and so on until both
//! agree. With the numbers real a plant attains at least what it can in whole ones, and most plants leave nothing to choose: then it attains
//! what trial does ([`super::decided`]), and so no other numbers do better, by any objective. Otherwise [`super::whole`] searches.

use super::HeatPower;
use super::counts::machines;
use super::model::{Setting, Wanted, must_stand};
use super::pass::{Pass, REACHED};
use super::turndown;
use crate::plan::{Count, Plan, Unit};

/// Counts the machines whose idle draw the next round has to meet: more where more run than stood ready, and fewer where
/// some of those that stood ready do not run at all. Those are done without from then on: when power is short, a machine
/// that only stands there takes it from those that run. False where the counts stand.
pub fn recount(plan: &Plan, settled: &Pass, setting: &mut Setting) -> bool {
    let mut changed = false;
    for (at, unit) in plan.units.iter().enumerate() {
        if !is_sized(unit) {
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

/// Whether any machines are to be sized that draw while they stand.
#[must_use]
pub fn is_open(plan: &Plan) -> bool {
    plan.units.iter().any(is_sized)
}

/// Whether so many machines of `unit` stand as the balance says, and draw meanwhile.
fn is_sized(unit: &Unit) -> bool {
    unit.idle_draw.si() > 0.0 && matches!(unit.count, Count::Sized { .. })
}

/// The setting in which so many stand of what is to be sized.
#[must_use]
pub fn with(plan: &Plan, heat: HeatPower, counts: &[u32]) -> Setting {
    let mut setting = Setting::of(plan, heat);
    for (at, unit) in plan.units.iter().enumerate() {
        if is_sized(unit) {
            setting.standing[at] = Some(counts[at]);
        }
    }
    setting
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
    use super::super::settle;
    use super::*;
    use crate::budget::Budget;
    use crate::plan::Limits;
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
}
