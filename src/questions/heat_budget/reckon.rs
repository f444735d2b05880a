//! All that the answer is made of, reckoned from the plan.

use super::ballast::{self, Ballast};
use crate::budget::{Budget, Halt};
use crate::heat::streams::{self, Warmth};
use crate::heat::{
    Accounts, Assembly, AtRest, Curve, Cycling, LimitOf, Steady, rehearse, rehearse_to_limit, rehearse_untraced,
};
use crate::plan::{Plan, UnitId};
use crate::questions::Detail;
use crate::questions::coupled::{Coupled, Needed, Warm, at_rest};
use crate::rehearsal::WarmRecord;

/// What passes its limit first when cooling stops.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct First {
    pub zone: usize,
    pub of: LimitOf,
    pub limit_c: f64,
    pub after_s: f64,
}

/// What happens within the horizon when cooling stops.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Stopped {
    pub first: Option<First>,
}

/// What happens to zones over the horizon.
pub(super) struct Rehearsed {
    pub end_c: Vec<f64>,
    pub accounts: Accounts,
    /// Temperatures where a settled cycle begins, where zones by themselves were seen to settle in one.
    pub cycle_c: Option<Vec<f64>>,
    /// Temperatures of each zone over time, where they are wanted.
    pub curves: Vec<Curve>,
}

/// The reckoning.
pub(super) struct Reckoned<'w> {
    pub assembly: &'w Assembly,
    pub steady: &'w Steady,
    pub cycling: &'w Cycling,
    pub coolers: &'w [Needed],
    pub turbines: &'w [Needed],
    pub rehearsal: Rehearsed,
    /// False where cooling asks for more and more power.
    pub is_settled: bool,
    pub without_cooling: Option<Stopped>,
    pub ballast: Vec<Ballast>,
    /// How warm each header is.
    pub headers: Vec<Warmth>,
}

impl Reckoned<'_> {
    /// The state of rest that figures are of.
    pub fn at_rest(&self) -> Option<&AtRest> {
        at_rest(self.steady)
    }

    /// Heat into a zone from one part of a flow at rest, or on the mean of a cycle, W.
    pub fn part_w(&self, flow: usize, part: usize) -> Option<f64> {
        let rest = self.at_rest()?;
        if let Some(mean) = self.cycling.flow(flow) {
            return mean.parts_w.get(part).copied();
        }
        let part = self.assembly.network.flows[flow].parts[part];
        let slope = part.per_kelvin.map_or(0.0, |(zone, slope)| slope * rest.temperatures_c[zone]);
        Some(rest.running[flow] * (part.constant + slope))
    }
}

/// Reckons everything. `warm` is the heat side of `coupled`; `rehearsed` is what happens to zones in a rehearsal of the whole
/// plant, where there was one.
pub(super) fn reckon<'w>(
    plan: &Plan,
    coupled: &Coupled,
    warm: &'w Warm,
    detail: Detail,
    rehearsed: Option<WarmRecord>,
    budget: &Budget<'_>,
) -> Result<Reckoned<'w>, Halt> {
    let assembly = &warm.assembly;
    let rehearsal = if let Some(WarmRecord { end_c, accounts, curves, .. }) = rehearsed {
        Rehearsed { end_c, accounts, cycle_c: None, curves }
    } else {
        let rehearse = if detail == Detail::Pictures { rehearse } else { rehearse_untraced };
        let alone = rehearse(&assembly.network, &assembly.pulsed(plan), plan.horizon.si(), budget)?;
        let cycle_c = alone.settled.map(|cycle| cycle.begins_c);
        Rehearsed { end_c: alone.end_c, accounts: alone.accounts, cycle_c, curves: alone.curves }
    };
    let mut reckoned = Reckoned {
        assembly,
        steady: &warm.steady,
        cycling: &warm.cycling,
        coolers: &warm.coolers,
        turbines: &warm.turbines,
        rehearsal,
        is_settled: coupled.is_settled,
        without_cooling: None,
        ballast: Vec::new(),
        headers: streams::headers(plan, coupled.rates()),
    };
    reckoned.without_cooling = without_cooling(plan, &reckoned, budget)?;
    if let Some(rest) = reckoned.at_rest() {
        let near_c = reckoned.rehearsal.cycle_c.as_ref().unwrap_or(&rest.temperatures_c);
        reckoned.ballast = ballast::windows(plan, reckoned.assembly, near_c, budget)?;
    }
    Ok(reckoned)
}

/// What passes its limit first once no cooler runs, from where the zones rest or else begin.
fn without_cooling(plan: &Plan, reckoned: &Reckoned, budget: &Budget<'_>) -> Result<Option<Stopped>, Halt> {
    let assembly = reckoned.assembly;
    let limited = assembly.network.zones.iter().any(|zone| zone.limits.iter().any(|limit| limit.above));
    if plan.coolers.is_empty() || !limited {
        return Ok(None);
    }
    let mut network = assembly.network.clone();
    for flow in &assembly.coolers {
        network.flows[*flow].running = 0.0;
    }
    if let Some(rest) = reckoned.at_rest() {
        network.zones.iter_mut().zip(&rest.temperatures_c).for_each(|(zone, t)| zone.start_c = *t);
    }
    let outcome = rehearse_to_limit(&network, &assembly.pulsed(plan), plan.horizon.si(), budget)?;
    let mut first: Option<First> = None;
    for (zone, passed) in outcome.accounts.passed.iter().enumerate() {
        for ((limit, of), passed) in network.zones[zone].limits.iter().zip(&assembly.limits[zone]).zip(passed) {
            let Some(after_s) = passed.filter(|_| limit.above) else { continue };
            if first.is_none_or(|first| after_s < first.after_s) {
                first = Some(First { zone, of: *of, limit_c: limit.at_c, after_s });
            }
        }
    }
    Ok(Some(Stopped { first }))
}

/// How warm a mixture is at rest, or at the end of the horizon where there is no rest, °C.
pub(super) fn mixed_c(reckoned: &Reckoned, (constant, weights): &(f64, Vec<f64>)) -> f64 {
    let temperatures = match reckoned.at_rest() {
        Some(rest) => &rest.temperatures_c,
        None => &reckoned.rehearsal.end_c,
    };
    weights.iter().zip(temperatures).fold(*constant, |sum, (weight, t)| sum + weight * t)
}

/// How warm a unit's products are at rest, and the coldest they get over the horizon and in the long run, °C. Where they are warmed by
/// several zones, whose coldest moments need not be the same, that is at rest too.
pub(super) fn product_c(plan: &Plan, reckoned: &Reckoned, unit: UnitId) -> Option<(f64, f64)> {
    let unit = &plan.units[unit.0];
    let warmth = streams::product(plan, unit, &reckoned.headers)?;
    let at_c = mixed_c(reckoned, &warmth);
    let mut by = warmth.1.iter().enumerate().filter(|(_, weight)| **weight != 0.0);
    let least_c = match (by.next(), by.next()) {
        (Some((zone, weight)), None) if *weight > 0.0 => {
            at_c.min(warmth.0 + weight * super::fill::extremes(reckoned, zone).0)
        }
        _ => at_c,
    };
    Some((at_c, least_c))
}
