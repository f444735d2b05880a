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
