//! What switches with a deadband make of zones in the long run, where no pattern drives them: they come to rest within the deadband,
//! or go through a cycle that repeats for good.
//!
//! Zones that act on each other are one part of a network, and each part has its own cycle. From one start of a switch to the same start
//! again temperatures x go to temperatures F(x); F(x) = x is the cycle, found by Newton's method from what the zones come to of
//! themselves, so that a zone that warms slowly is not waited for.

mod long_run;

#[cfg(test)]
mod tests;

use long_run::{LongRun, Round, long_run};

use super::network::{HeatFlow, Network, Part, Side, Thermostat};
use super::rehearse::Pulsed;
use super::steady::AtRest;
use crate::budget::{Budget, Halt};

/// What zones do in the long run where switches act on them.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Cycling {
    /// By zone: the cycle it is in.
    pub zones: Vec<Option<ZoneCycle>>,
    /// By thermostat; `None` where its part of the network was not seen to settle, or a pattern drives it.
    pub thermostats: Vec<Option<ThermostatCycle>>,
    /// Thermostats whose part of the network was not seen to settle.
    pub unsettled: Vec<usize>,
    /// By flow of a part that is in a cycle: its means.
    pub flows: Vec<Option<MeanFlow>>,
}

/// How far the temperature of a zone goes in a cycle.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ZoneCycle {
    /// °C.
    pub least_c: f64,
    /// °C.
    pub greatest_c: f64,
    /// How long the cycle takes, s.
    pub period_s: f64,
}

/// What a switch does in the long run.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ThermostatCycle {
    /// The share of the time that it is on.
    pub on_share: f64,
    /// How often it starts in one cycle.
    pub starts: u64,
    /// How long the cycle takes, s; `None` where the zones rest.
    pub period_s: Option<f64>,
}

/// The mean of a flow over a cycle.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct MeanFlow {
    /// W into the zone of each of its parts.
    pub parts_w: Vec<f64>,
    /// W generated.
    pub generated_w: f64,
    /// By how much its temperature is above the one it is rated at, times how much of it runs, K.
    pub above_rating_k: f64,
}

impl Cycling {
    /// Whether any zone is in a cycle.
    #[must_use]
    pub fn is_any(&self) -> bool {
        self.zones.iter().any(Option::is_some)
    }

    /// The mean of a flow that takes part in a cycle.
    #[must_use]
    pub fn flow(&self, flow: usize) -> Option<&MeanFlow> {
        self.flows.get(flow)?.as_ref()
    }

    /// The cycle of a zone.
    #[must_use]
    pub fn zone(&self, zone: usize) -> Option<ZoneCycle> {
        self.zones.get(zone).copied().flatten()
    }
}

/// Finds what zones do in the long run where switches act on them and no pattern does. `rest` is where they would rest if each switch
/// held its zone at the middle of its deadband; temperatures and what runs become what is true: the means of cycles, and rests.
///
/// # Errors
/// [`Halt`] when the budget is spent or the hook says stop.
pub fn cycling(
    network: &Network,
    pulsed: &[Pulsed<'_>],
    rest: &mut AtRest,
    budget: &Budget<'_>,
) -> Result<Cycling, Halt> {
    let mut found = Cycling {
        zones: vec![None; network.zones.len()],
        thermostats: vec![None; network.thermostats.len()],
        flows: vec![None; network.flows.len()],
        unsettled: Vec::new(),
    };
    for part in parts(network) {
        if part.thermostats.is_empty() || pulsed.iter().any(|pulsed| part.flows.contains(&pulsed.flow)) {
            continue;
        }
        let own = part.network(network);
        match long_run(&own, budget)? {
            LongRun::Rests { at_c, running, on } => {
                part.zones.iter().zip(at_c).for_each(|(zone, t)| rest.temperatures_c[*zone] = t);
                part.flows.iter().zip(running).for_each(|(flow, runs)| rest.running[*flow] = runs);
                for (at, on) in part.thermostats.iter().zip(on) {
                    let on_share = f64::from(u8::from(on));
                    found.thermostats[*at] = Some(ThermostatCycle { on_share, starts: 0, period_s: None });
                }
            }
            LongRun::Cycles(round) => part.keep(&round, rest, &mut found),
            LongRun::Unsettled => found.unsettled.extend(part.thermostats),
        }
    }
    Ok(found)
}

/// Zones that act on each other, with all that acts on them; indices into the network.
struct Parted {
    zones: Vec<usize>,
    walls: Vec<usize>,
    flows: Vec<usize>,
    thermostats: Vec<usize>,
}

/// The zones that a flow touches.
fn touched(flow: &HeatFlow) -> impl Iterator<Item = usize> {
    let parts = flow.parts.iter().flat_map(|part| [Some(part.into), part.per_kelvin.map(|(zone, _)| zone)]);
    parts.chain([flow.relay.map(|relay| relay.zone), flow.rating.map(|rating| rating.zone)]).flatten()
}

fn parts(network: &Network) -> Vec<Parted> {
    let mut of: Vec<usize> = (0..network.zones.len()).collect();
    let mut join = |one: usize, other: usize| {
        let (keep, drop) = (of[one].min(of[other]), of[one].max(of[other]));
        of.iter_mut().filter(|part| **part == drop).for_each(|part| *part = keep);
    };
    for wall in &network.walls {
        if let Side::Zone(other) = wall.to {
            join(wall.zone, other);
        }
    }
    let first = |flow: usize| touched(&network.flows[flow]).next();
    for (at, flow) in network.flows.iter().enumerate() {
        let Some(one) = first(at) else { continue };
        touched(flow).for_each(|other| join(one, other));
    }
    for thermostat in &network.thermostats {
        thermostat.runs.iter().filter_map(|flow| first(*flow)).for_each(|zone| join(thermostat.zone, zone));
    }
    let mut parts: Vec<Parted> = Vec::new();
    for root in (0..of.len()).filter(|zone| of[*zone] == *zone) {
        let is_in = |zone: usize| of[zone] == root;
        let thermostats = network.thermostats.iter().enumerate();
        parts.push(Parted {
            zones: (0..of.len()).filter(|zone| is_in(*zone)).collect(),
            walls: (0..network.walls.len()).filter(|wall| is_in(network.walls[*wall].zone)).collect(),
            flows: (0..network.flows.len()).filter(|flow| first(*flow).is_some_and(is_in)).collect(),
            // One that runs no heat keeps nothing in a cycle.
            thermostats: thermostats
                .filter(|(_, of)| is_in(of.zone) && !of.runs.is_empty())
                .map(|(at, _)| at)
                .collect(),
        });
    }
    parts
}

impl Parted {
    /// The part by itself, and after its flows one for each zone that brings and takes the zone's temperature in W: it changes
    /// nothing, and what it has brought is the integral of the temperature.
    fn network(&self, whole: &Network) -> Network {
        let new = |zone: usize| self.zones.iter().position(|of| *of == zone).unwrap_or(0);
        let mut own = Network::default();
        for zone in &self.zones {
            let mut zone = whole.zones[*zone].clone();
            zone.limits.clear();
            own.zones.push(zone);
        }
        for wall in &self.walls {
            let mut wall = whole.walls[*wall];
            wall.zone = new(wall.zone);
            if let Side::Zone(other) = wall.to {
                wall.to = Side::Zone(new(other));
            }
            own.walls.push(wall);
        }
        for flow in &self.flows {
            let mut flow = whole.flows[*flow].clone();
            for part in &mut flow.parts {
                part.into = new(part.into);
                part.per_kelvin = part.per_kelvin.map(|(zone, slope)| (new(zone), slope));
            }
            flow.relay.iter_mut().for_each(|relay| relay.zone = new(relay.zone));
            flow.rating.iter_mut().for_each(|rating| rating.zone = new(rating.zone));
            own.flows.push(flow);
        }
        for zone in 0..self.zones.len() {
            let part = |slope| Part { into: zone, constant: 0.0, per_kelvin: Some((zone, slope)) };
            let parts = [part(1.0), part(-1.0)].into_iter().collect();
            own.flows.push(HeatFlow { parts, running: 1.0, ..HeatFlow::default() });
        }
        for thermostat in &self.thermostats {
            let of = &whole.thermostats[*thermostat];
            let runs = of.runs.iter().filter_map(|run| self.flows.iter().position(|flow| flow == run));
            own.thermostats.push(Thermostat { zone: new(of.zone), runs: runs.collect(), ..of.clone() });
        }
        own
    }

    /// Keeps the means of a cycle.
    fn keep(&self, round: &Round, rest: &mut AtRest, found: &mut Cycling) {
        let Round { accounts, period_s } = round;
        let period_s = *period_s;
        for (at, zone) in self.zones.iter().enumerate() {
            rest.temperatures_c[*zone] = accounts.flows[self.flows.len() + at].heat_j[0] / period_s;
            let (least_c, greatest_c) = (accounts.least[at].at_c, accounts.greatest[at].at_c);
            found.zones[*zone] = Some(ZoneCycle { least_c, greatest_c, period_s });
        }
        for (flow, account) in self.flows.iter().zip(&accounts.flows) {
            rest.running[*flow] = account.ran_s / period_s;
            let parts_w = account.heat_j.iter().map(|heat| heat / period_s).collect();
            found.flows[*flow] = Some(MeanFlow {
                parts_w,
                generated_w: account.generated_j / period_s,
                above_rating_k: account.above_rating_j / period_s,
            });
        }
        for (thermostat, account) in self.thermostats.iter().zip(&accounts.thermostats) {
            let (on_share, starts) = (account.on_s / period_s, account.starts);
            found.thermostats[*thermostat] = Some(ThermostatCycle { on_share, starts, period_s: Some(period_s) });
        }
    }
}
