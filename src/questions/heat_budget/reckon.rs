//! All that the answer is made of, reckoned from the plan.

use crate::budget::{Budget, Halt};
use crate::heat::streams::{self, Warmth};
use crate::heat::{Accounts, Assembly, AtRest, Curve, LimitOf, Steady, periodic, rehearse, rehearse_to_limit};
use crate::plan::{Plan, UnitId, ZoneId};
use crate::questions::coupled::{Coupled, Needed, Warm, at_rest};
use crate::rehearsal::WarmRecord;

/// Rounds in which the least ballast is closed in on.
const BALLAST_ROUNDS: usize = 60;
/// Masses are tried up to so many times the present one, and down to as small a part of it, in these steps: most plants lie near,
/// and what is a thousand times as light swings so fast that it takes as much longer to reckon.
const BALLAST_REACH: [f64; 3] = [4.0, 64.0, 1e4];

/// A zone whose contents ride out an intermittent source.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Ballast {
    pub zone: usize,
    pub present_kg: f64,
    pub least_kg: Option<f64>,
    pub greatest_kg: Option<f64>,
    /// Peak, trough, period.
    pub cycle: Option<(f64, f64, f64)>,
}

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
    /// Temperatures of each zone over time.
    pub curves: Vec<Curve>,
}

/// The reckoning.
pub(super) struct Reckoned {
    pub assembly: Assembly,
    pub steady: Steady,
    pub coolers: Vec<Needed>,
    pub turbines: Vec<Needed>,
    pub rehearsal: Rehearsed,
    /// False where cooling asks for more and more power.
    pub is_settled: bool,
    pub without_cooling: Option<Stopped>,
    pub ballast: Vec<Ballast>,
    /// How warm each header is.
    pub headers: Vec<Warmth>,
}

impl Reckoned {
    /// The state of rest that figures are of.
    pub fn at_rest(&self) -> Option<&AtRest> {
        at_rest(&self.steady)
    }

    /// Heat into a zone from one part of a flow at rest, W.
    pub fn part_w(&self, flow: usize, part: usize) -> Option<f64> {
        let rest = self.at_rest()?;
        let part = self.assembly.network.flows[flow].parts[part];
        let slope = part.per_kelvin.map_or(0.0, |(zone, slope)| slope * rest.temperatures_c[zone]);
        Some(rest.running[flow] * (part.constant + slope))
    }
}

/// Reckons everything. `warm` is the heat side of `coupled`; `rehearsed` is what happens to zones in a rehearsal of the whole
/// plant, where there was one.
pub(super) fn reckon(
    plan: &Plan,
    coupled: &Coupled,
    warm: &Warm,
    rehearsed: Option<WarmRecord>,
    budget: &Budget<'_>,
) -> Result<Reckoned, Halt> {
    let assembly = warm.assembly.clone();
    let rehearsal = if let Some(WarmRecord { end_c, accounts, curves, .. }) = rehearsed {
        Rehearsed { end_c, accounts, curves }
    } else {
        let alone = rehearse(&assembly.network, &assembly.pulsed(plan), plan.horizon.si(), budget)?;
        Rehearsed { end_c: alone.end_c, accounts: alone.accounts, curves: alone.curves }
    };
    let mut reckoned = Reckoned {
        assembly,
        steady: warm.steady.clone(),
        coolers: warm.coolers.clone(),
        turbines: warm.turbines.clone(),
        rehearsal,
        is_settled: coupled.is_settled,
        without_cooling: None,
        ballast: Vec::new(),
        headers: streams::headers(plan, coupled.rates()),
    };
    reckoned.without_cooling = without_cooling(plan, &reckoned, budget)?;
    reckoned.ballast = ballast(plan, &reckoned, budget)?;
    Ok(reckoned)
}

/// What passes its limit first once no cooler runs, from where the zones rest or else begin.
fn without_cooling(plan: &Plan, reckoned: &Reckoned, budget: &Budget<'_>) -> Result<Option<Stopped>, Halt> {
    let assembly = &reckoned.assembly;
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

/// The window of mass of each zone with an intermittent source.
fn ballast(plan: &Plan, reckoned: &Reckoned, budget: &Budget<'_>) -> Result<Vec<Ballast>, Halt> {
    let mut found = Vec::new();
    let assembly = &reckoned.assembly;
    let pulsed = assembly.pulsed(plan);
    // One period for all of them, or there is no cycle to speak of.
    let Some(period_s) = period(&pulsed) else { return Ok(found) };
    let guess = match reckoned.at_rest() {
        Some(rest) => rest.temperatures_c.clone(),
        None => return Ok(found),
    };
    for (at, zone) in plan.zones.iter().enumerate() {
        let fed = plan.hot_sources.iter().any(|source| source.zone == ZoneId(at) && source.pattern.is_some());
        if !fed {
            continue;
        }
        let present_kg: f64 = zone.contents.iter().map(|(_, mass)| mass.si()).sum();
        let greatest_kg = zone.cells.zip(zone.cell_limit).map(|(cells, limit)| f64::from(cells) * limit.si());
        let mut network = assembly.network.clone();
        let whole = network.zones[at].clone();
        let mut guess = guess.clone();
        let mut span = |times: f64| -> Result<Option<(f64, f64)>, Halt> {
            network.zones[at] = whole.clone();
            network.zones[at].capacities.iter_mut().for_each(|capacity| *capacity *= times);
            network.zones[at].changes.iter_mut().for_each(|change| change.heat_j *= times);
            let cycle = periodic(&network, &pulsed, period_s, &guess, budget)?;
            Ok(cycle.map(|cycle| {
                guess.clone_from(&cycle.end_c);
                (cycle.accounts.greatest[at].at_c, cycle.accounts.least[at].at_c)
            }))
        };
        let cycle = span(1.0)?;
        let least = match (zone.limit_c, cycle) {
            (Some(limit), Some((peak, _))) => least_times(limit, peak - limit, &mut span)?,
            _ => None,
        };
        found.push(Ballast {
            zone: at,
            present_kg,
            least_kg: least.map(|times| times * present_kg),
            greatest_kg,
            cycle: cycle.map(|(peak, trough)| (peak, trough, period_s)),
        });
    }
    Ok(found)
}

/// The least multiple of the present mass whose peak keeps the limit: the peak falls as the mass grows. `at_present` is how far the
/// peak of the present mass is over it.
fn least_times(
    limit: f64,
    at_present: f64,
    span: &mut impl FnMut(f64) -> Result<Option<(f64, f64)>, Halt>,
) -> Result<Option<f64>, Halt> {
    let mut over = |times: f64| Ok(span(times)?.map(|(peak, _)| peak - limit));
    // Two masses with the limit between their peaks.
    let (mut small, mut at_small, mut large, mut at_large) = (1.0, at_present, 1.0, at_present);
    for reach in BALLAST_REACH {
        if at_small > 0.0 && at_large <= 0.0 {
            break;
        }
        if at_present > 0.0 {
            (small, at_small) = (large, at_large);
            let Some(now) = over(reach)? else { return Ok(None) };
            (large, at_large) = (reach, now);
        } else {
            (large, at_large) = (small, at_small);
            let Some(now) = over(1.0 / reach)? else { return Ok(None) };
            (small, at_small) = (1.0 / reach, now);
        }
    }
    if at_small <= 0.0 {
        return Ok(Some(0.0));
    }
    if at_large > 0.0 {
        return Ok(None);
    }
    let mut side = 0;
    for _ in 0..BALLAST_ROUNDS {
        if large / small - 1.0 < 1e-9 {
            break;
        }
        // Secant in the logarithm with the Illinois weighting; halving where the ends lie decades apart.
        let (low, high) = (f64::ln(small), f64::ln(large));
        let middle = if high - low > 1.0 {
            f64::midpoint(low, high)
        } else {
            low + (high - low) * at_small / (at_small - at_large)
        };
        let middle = middle.exp().clamp(small * (1.0 + 1e-12), large);
        let Some(now) = over(middle)? else { return Ok(None) };
        if now.abs() < 1e-10 {
            return Ok(Some(middle));
        }
        if now > 0.0 {
            (small, at_small) = (middle, now);
            if side == 1 {
                at_large /= 2.0;
            }
            side = 1;
        } else {
            (large, at_large) = (middle, now);
            if side == -1 {
                at_small /= 2.0;
            }
            side = -1;
        }
    }
    Ok(Some(large))
}

/// The period that all patterns share, seasons counted.
fn period(pulsed: &[crate::heat::Pulsed<'_>]) -> Option<f64> {
    let mut cycles: Vec<f64> = Vec::new();
    for pulsed in pulsed {
        cycles.push(pulsed.pattern.cycle().si());
        cycles.extend(pulsed.pattern.seasons.map(|seasons| seasons.active.si() + seasons.dormant.si()));
    }
    let longest = cycles.iter().copied().fold(0.0, f64::max);
    let together = cycles.iter().all(|cycle| {
        let times = longest / cycle;
        (times - times.round()).abs() <= 1e-9 * times
    });
    (longest > 0.0 && together).then_some(longest)
}

/// How warm a unit's products are at rest, °C.
pub(super) fn product_c(plan: &Plan, reckoned: &Reckoned, unit: UnitId) -> Option<f64> {
    let unit = &plan.units[unit.0];
    let (constant, weights) = streams::product(plan, unit, &reckoned.headers)?;
    let temperatures = match reckoned.at_rest() {
        Some(rest) => &rest.temperatures_c,
        None => &reckoned.rehearsal.end_c,
    };
    Some(weights.iter().zip(temperatures).fold(constant, |sum, (weight, t)| sum + weight * t))
}
