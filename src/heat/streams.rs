//! How warm what flows through headers is: each header mixes what comes in by mass, and each unit its feed by heat capacity.
//!
//! Temperatures of zones are not known yet, so a header's temperature is constant + Σ weight·(temperature of a zone).

use crate::plan::{Carried, HeaderId, Plan, ProductAt, Unit};

/// constant + Σ weight·T over zones, °C; `None` where nothing says how warm it is.
pub type Warmth = Option<(f64, Vec<f64>)>;

/// Sweeps over all headers. Loops without loss converge slowly; what is left after these is below any tolerance of interest.
const SWEEPS: usize = 400;
const STILL_K: f64 = 1e-12;

/// Rates that pass, to weigh by.
#[derive(Clone, Copy, Debug)]
pub struct Rates<'a> {
    /// Full-duty machines by unit.
    pub runs: &'a [f64],
    /// kg/s by supply.
    pub drawn: &'a [f64],
}

/// Whether anything in the plan says how warm a stream is.
#[must_use]
pub fn are_known(plan: &Plan) -> bool {
    plan.supplies.iter().any(|supply| supply.at_c.is_some())
        || plan.units.iter().any(|unit| unit.product_at != ProductAt::Feed)
}

/// How warm each header is.
#[must_use]
pub fn headers(plan: &Plan, rates: Rates<'_>) -> Vec<Warmth> {
    let mut warm: Vec<Warmth> = vec![None; plan.headers.len()];
    if !are_known(plan) {
        return warm;
    }
    let zones = plan.zones.len();
    for _ in 0..SWEEPS {
        let mut moved = 0.0_f64;
        let mut mixes: Vec<(f64, f64, Vec<f64>)> = vec![(0.0, 0.0, vec![0.0; zones]); plan.headers.len()];
        let mut mix = |header: HeaderId, rate: f64, warmth: &Warmth| {
            if let Some((constant, weights)) = warmth.as_ref().filter(|_| rate > 0.0) {
                let mix = &mut mixes[header.0];
                mix.0 += rate;
                mix.1 += rate * constant;
                mix.2.iter_mut().zip(weights).for_each(|(sum, weight)| *sum += rate * weight);
            }
        };
        for (supply, drawn) in plan.supplies.iter().zip(rates.drawn) {
            // What is not drawn still says how warm its header would be.
            mix(supply.header, drawn.max(1e-12), &supply.at_c.map(|at| (at, vec![0.0; zones])));
        }
        for (unit, run) in plan.units.iter().zip(rates.runs) {
            let warmth = product(plan, unit, &warm);
            for flow in &unit.gives {
                mix(flow.header, flow.rate * run.max(1e-12), &warmth);
            }
        }
        for (at, (rate, constant, weights)) in mixes.into_iter().enumerate() {
            if rate == 0.0 {
                continue;
            }
            let next = (constant / rate, weights.into_iter().map(|weight| weight / rate).collect::<Vec<_>>());
            let change = warm[at].as_ref().map_or(f64::INFINITY, |(before, old)| {
                let weights = next.1.iter().zip(old).map(|(a, b)| (a - b).abs() * 100.0).fold(0.0, f64::max);
                (next.0 - before).abs().max(weights)
            });
            moved = moved.max(change);
            warm[at] = Some(next);
        }
        if moved <= STILL_K {
            break;
        }
    }
    warm
}

/// Heat capacity of what a unit takes, W/K per machine, and how warm it is on the whole.
#[must_use]
pub fn feed(plan: &Plan, unit: &Unit, headers: &[Warmth]) -> Option<(f64, f64, Vec<f64>)> {
    let mut sum = (0.0, 0.0, vec![0.0; plan.zones.len()]);
    for flow in unit.takes.iter().filter(|flow| plan.header(flow.header).carries == Carried::Matter) {
        let Some((constant, weights)) = headers[flow.header.0].as_ref() else { continue };
        let rate = flow.rate * specific_heat(plan, flow.header);
        sum.0 += rate;
        sum.1 += rate * constant;
        sum.2.iter_mut().zip(weights).for_each(|(sum, weight)| *sum += rate * weight);
    }
    let (rate, constant, weights) = sum;
    (rate > 0.0).then(|| (rate, constant / rate, weights.into_iter().map(|weight| weight / rate).collect()))
}

/// Specific heat of what a header carries, by the substance of its name; 1 J/(kg·K), which only weighs, where it is not given.
fn specific_heat(plan: &Plan, header: HeaderId) -> f64 {
    let name = &plan.header(header).name;
    plan.substances.iter().find(|substance| substance.name == *name).and_then(|s| s.specific_heat).unwrap_or(1.0)
}

/// How warm a unit's products are.
#[must_use]
pub fn product(plan: &Plan, unit: &Unit, headers: &[Warmth]) -> Warmth {
    let zones = plan.zones.len();
    match (unit.product_at, unit.zone) {
        (ProductAt::Fixed(at), _) => Some((at, vec![0.0; zones])),
        (ProductAt::Zone, Some(zone)) => {
            let mut weights = vec![0.0; zones];
            weights[zone.0] = 1.0;
            Some((0.0, weights))
        }
        _ => feed(plan, unit, headers).map(|(_, constant, weights)| (constant, weights)),
    }
}
