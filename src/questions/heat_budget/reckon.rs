//! All that the answer is made of, reckoned from the plan.

use crate::balance::Balance;
use crate::budget::{Budget, Halt};
use crate::heat::streams::{self, Rates, Warmth};
use crate::heat::{
    Assembly, AtRest, HeatRehearsal, LimitOf, Running, Steady, assemble, periodic, rehearse, rehearse_to_limit, steady,
};
use crate::plan::{Plan, UnitId, ZoneId};
use crate::quantity::whole_up;

/// So many coolers and turbines are as good as any number.
const ANY: f64 = 1e6;
/// Rounds in which the least ballast is closed in on.
const BALLAST_ROUNDS: usize = 60;
/// Masses are tried up to so many times the present one, and down to as small a part of it.
const BALLAST_REACH: f64 = 1e4;

/// How many of something are needed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Needed {
    pub exact: Option<f64>,
    pub count: u32,
}

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

/// The reckoning.
pub(super) struct Reckoned {
    pub assembly: Assembly,
    pub steady: Steady,
    pub coolers: Vec<Needed>,
    pub turbines: Vec<Needed>,
    pub rehearsal: HeatRehearsal,
    pub without_cooling: Option<Stopped>,
    pub ballast: Vec<Ballast>,
    /// How warm each header is.
    pub headers: Vec<Warmth>,
}

impl Reckoned {
    /// The state of rest that figures are of.
    pub fn at_rest(&self) -> Option<&AtRest> {
        match &self.steady {
            Steady::One(state) | Steady::Several { coldest: state, .. } => Some(state),
            Steady::Heats | Steady::Cools => None,
        }
    }

    /// Heat into a zone from one part of a flow at rest, W.
    pub fn part_w(&self, flow: usize, part: usize) -> Option<f64> {
        let rest = self.at_rest()?;
        let part = self.assembly.network.flows[flow].parts[part];
        let slope = part.per_kelvin.map_or(0.0, |(zone, slope)| slope * rest.temperatures_c[zone]);
        Some(rest.running[flow] * (part.constant + slope))
    }
}

/// The temperature that a zone's coolers have to hold: the tightest limit of the zone and of the machines in it.
pub(super) fn tightest_limit(plan: &Plan, zone: ZoneId) -> Option<f64> {
    let machines = plan.units.iter().filter(|unit| unit.zone == Some(zone)).filter_map(|unit| unit.limit_c);
    machines.chain(plan.zones[zone.0].limit_c).min_by(f64::total_cmp)
}

/// Reckons everything.
pub(super) fn reckon(plan: &Plan, balance: &Balance, budget: &Budget<'_>) -> Result<Reckoned, Halt> {
    let runs: Vec<f64> = balance.units.iter().map(|unit| unit.needed).collect();
    let rates = Rates { runs: &runs, drawn: &balance.drawn };
    let (coolers, turbines) = size(plan, rates, budget)?;
    let count = |needed: &[Needed]| needed.iter().map(|needed| f64::from(needed.count)).collect::<Vec<_>>();
    let (cooler_counts, turbine_counts) = (count(&coolers), count(&turbines));
    let running = Running { rates, coolers: &cooler_counts, turbines: &turbine_counts };
    let assembly = assemble(plan, running);
    let pulsed = assembly.pulsed(plan);
    let steady = steady(&assembly.network, &pulsed, budget)?;
    let horizon = plan.horizon.si();
    let rehearsal = rehearse(&assembly.network, &pulsed, horizon, budget)?;
    let headers = streams::headers(plan, rates);
    let mut reckoned = Reckoned {
        assembly,
        steady,
        coolers,
        turbines,
        rehearsal,
        without_cooling: None,
        ballast: Vec::new(),
        headers,
    };
    reckoned.without_cooling = without_cooling(plan, &reckoned, budget)?;
    reckoned.ballast = ballast(plan, &reckoned, budget)?;
    Ok(reckoned)
}

/// How many coolers and turbines are needed, and how many there are.
fn size(plan: &Plan, rates: Rates<'_>, budget: &Budget<'_>) -> Result<(Vec<Needed>, Vec<Needed>), Halt> {
    if plan.coolers.is_empty() && plan.turbines.is_empty() {
        return Ok((Vec::new(), Vec::new()));
    }
    // Any number of each, in proportion to the counts where those are given, held at what they are to hold.
    let any = |count: Option<u32>| ANY * count.map_or(1.0, |count| f64::from(count.max(1)));
    let coolers: Vec<f64> = plan.coolers.iter().map(|cooler| any(cooler.count)).collect();
    let turbines: Vec<f64> = plan.turbines.iter().map(|turbine| any(turbine.count)).collect();
    let mut assembly = assemble(plan, Running { rates, coolers: &coolers, turbines: &turbines });
    let mut found = vec![true; plan.coolers.len()];
    for (at, cooler) in plan.coolers.iter().enumerate() {
        let flow = &mut assembly.network.flows[assembly.coolers[at]];
        let Some(held) = cooler.set_point_c.or_else(|| tightest_limit(plan, cooler.cools)) else {
            // Nothing says what it has to hold: it counts as it stands.
            flow.running = f64::from(cooler.count.unwrap_or(1));
            found[at] = false;
            continue;
        };
        flow.relay = Some(crate::heat::network::Relay { zone: cooler.cools.0, at_c: held, above: true });
    }
    for (at, turbine) in plan.turbines.iter().enumerate() {
        let limit = plan.zones[turbine.zone.0].limit_c.unwrap_or(f64::INFINITY);
        let at_c = turbine.inlet_rated_c.min(limit).max(turbine.inlet_min_c);
        let relay = crate::heat::network::Relay { zone: turbine.zone.0, at_c, above: true };
        assembly.network.flows[assembly.turbines[at]].relay = Some(relay);
    }
    // Switches would stand in the way of finding out how many are needed.
    assembly.network.thermostats.iter_mut().for_each(|thermostat| {
        thermostat.runs.retain(|flow| !assembly.coolers.contains(flow) && !assembly.turbines.contains(flow));
    });
    let held = match steady(&assembly.network, &assembly.pulsed(plan), budget)? {
        Steady::One(rest) | Steady::Several { hottest: rest, .. } => Some(rest),
        Steady::Heats | Steady::Cools => None,
    };
    let needed = |flow: usize, count: Option<u32>, found: bool| {
        let exact = held.as_ref().filter(|_| found).map(|rest| rest.running[flow]);
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "saturates")]
        let sized = exact.map_or(1, |exact| whole_up(exact) as u32);
        Needed { exact, count: count.unwrap_or(sized) }
    };
    let coolers =
        plan.coolers.iter().enumerate().map(|(at, cooler)| needed(assembly.coolers[at], cooler.count, found[at]));
    let turbines =
        plan.turbines.iter().enumerate().map(|(at, turbine)| needed(assembly.turbines[at], turbine.count, true));
    Ok((coolers.collect(), turbines.collect()))
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
        let least = match zone.limit_c {
            Some(limit) if cycle.is_some() => least_times(limit, &mut span)?,
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

/// The least multiple of the present mass whose peak keeps the limit: the peak falls as the mass grows.
fn least_times(
    limit: f64,
    span: &mut impl FnMut(f64) -> Result<Option<(f64, f64)>, Halt>,
) -> Result<Option<f64>, Halt> {
    let over = |peak: Option<(f64, f64)>| peak.map(|(peak, _)| peak - limit);
    // Two masses with the limit between their peaks.
    let (mut small, mut large) = (1.0 / BALLAST_REACH, BALLAST_REACH);
    let (Some(mut at_small), Some(mut at_large)) = (over(span(small)?), over(span(large)?)) else { return Ok(None) };
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
        let Some(now) = over(span(middle)?) else { return Ok(None) };
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
