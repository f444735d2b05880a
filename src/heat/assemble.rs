//! From a plan to the network that heat sees.

use smallvec::{SmallVec, smallvec};

use super::network::{Change, HeatFlow, Limit, Network, Part, Rating, Relay, Side, Thermostat, Wall, Zone as HeatZone};
use super::rehearse::Pulsed;
use super::streams::{self, Rates};
use crate::plan::{Brings, Cooler, Count, Gated, Plan, ProductAt, Turbine, UnitId, Zone, ZoneId};

/// Whose limit one of [`HeatZone::limits`] is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum LimitOf {
    /// The greatest temperature of the zone.
    Zone,
    /// Its least.
    ZoneLeast,
    /// What a machine bears.
    Unit(UnitId),
}

/// A network, and which part of it is what of the plan.
#[derive(Clone, Debug)]
pub struct Assembly {
    /// The network.
    pub network: Network,
    /// The flow of what each unit sheds, and of its feed that its zone warms.
    pub units: Vec<[Option<usize>; 2]>,
    /// The flow of each cooler.
    pub coolers: Vec<usize>,
    /// The flow of each turbine.
    pub turbines: Vec<usize>,
    /// The flow of each hot source.
    pub hot_sources: Vec<usize>,
    /// By zone: whose each limit is.
    pub limits: Vec<Vec<LimitOf>>,
}

/// How many machines run.
#[derive(Clone, Copy, Debug)]
pub struct Running<'a> {
    /// Rates of the steady balance.
    pub rates: Rates<'a>,
    /// Coolers there are.
    pub coolers: &'a [f64],
    /// Turbines there are.
    pub turbines: &'a [f64],
}

/// The network of a plan. A unit that a switch on a zone gates runs at full duty while the switch is on; other units run as the
/// steady balance says.
#[must_use]
pub fn assemble(plan: &Plan, running: Running<'_>) -> Assembly {
    let mut network = Network::default();
    let mut limits = Vec::with_capacity(plan.zones.len());
    for zone in &plan.zones {
        network.zones.push(body(plan, zone));
        limits.push(Vec::new());
    }
    for (at, zone) in plan.zones.iter().enumerate() {
        for wall in &zone.walls {
            let to = match wall.to {
                Some(ZoneId(other)) => Side::Zone(other),
                None => Side::Fixed(plan.ambient_c.unwrap_or(zone.at_c)),
            };
            network.walls.push(Wall { zone: at, to, conductance: wall.conductance });
        }
        let mut limit = |at_c: Option<f64>, above: bool, of: LimitOf| {
            if let Some(at_c) = at_c {
                network.zones[at].limits.push(Limit { at_c, above });
                limits[at].push(of);
            }
        };
        limit(zone.limit_c, true, LimitOf::Zone);
        limit(zone.least_c, false, LimitOf::ZoneLeast);
        for (id, unit) in plan.units.iter().enumerate() {
            if unit.zone == Some(ZoneId(at)) {
                limit(unit.limit_c, true, LimitOf::Unit(UnitId(id)));
            }
        }
    }
    let mut assembly = Assembly {
        network,
        units: vec![[None; 2]; plan.units.len()],
        coolers: Vec::with_capacity(plan.coolers.len()),
        turbines: Vec::with_capacity(plan.turbines.len()),
        hot_sources: Vec::with_capacity(plan.hot_sources.len()),
        limits,
    };
    assembly.units(plan, running.rates);
    let flows = &mut assembly.network.flows;
    for (cooler, count) in plan.coolers.iter().zip(running.coolers) {
        assembly.coolers.push(flows.len());
        flows.push(cooling(cooler, *count));
    }
    for (turbine, count) in plan.turbines.iter().zip(running.turbines) {
        assembly.turbines.push(flows.len());
        flows.push(expansion(turbine, *count));
    }
    for source in &plan.hot_sources {
        assembly.hot_sources.push(flows.len());
        let into = source.zone.0;
        let part = match source.brings {
            Brings::Heat(power) => Part { into, constant: power.si(), per_kelvin: None },
            Brings::Matter { flow, specific_heat, at_c } => {
                let rate = flow.si() * specific_heat;
                Part { into, constant: rate * at_c, per_kelvin: Some((into, -rate)) }
            }
        };
        flows.push(HeatFlow { parts: smallvec![part], running: 1.0, ..HeatFlow::default() });
    }
    assembly.thermostats(plan);
    assembly
}

impl Assembly {
    /// Flows that come and go by the patterns of the plan.
    #[must_use]
    pub fn pulsed<'p>(&self, plan: &'p Plan) -> Vec<Pulsed<'p>> {
        let sources = plan.hot_sources.iter().zip(&self.hot_sources);
        sources
            .filter_map(|(source, flow)| Some(Pulsed { flow: *flow, running: 1.0, pattern: source.pattern.as_ref()? }))
            .collect()
    }

    fn units(&mut self, plan: &Plan, rates: Rates<'_>) {
        let warm = streams::headers(plan, rates);
        for (at, unit) in plan.units.iter().enumerate() {
            let Some(ZoneId(zone)) = unit.zone else { continue };
            let gated = plan.thermostats.iter().any(|thermostat| thermostat.runs.contains(&Gated::Unit(UnitId(at))));
            let running = match unit.count {
                Count::Fixed(count) if gated => f64::from(count),
                _ => rates.runs[at],
            };
            let flows = &mut self.network.flows;
            if unit.sheds.si() != 0.0 {
                self.units[at][0] = Some(flows.len());
                let part = Part { into: zone, constant: unit.sheds.si(), per_kelvin: None };
                flows.push(HeatFlow { parts: smallvec![part], running, ..HeatFlow::default() });
            }
            if unit.product_at == ProductAt::Zone
                && let Some((rate, constant, weights)) = streams::feed(plan, unit, &warm)
            {
                self.units[at][1] = Some(flows.len());
                let mut parts =
                    smallvec![Part { into: zone, constant: rate * constant, per_kelvin: Some((zone, -rate)) }];
                for (from, weight) in weights.iter().enumerate().filter(|(_, weight)| **weight != 0.0) {
                    parts.push(Part { into: zone, constant: 0.0, per_kelvin: Some((from, rate * weight)) });
                }
                flows.push(HeatFlow { parts, running, ..HeatFlow::default() });
            }
        }
    }

    fn thermostats(&mut self, plan: &Plan) {
        for switch in &plan.thermostats {
            let mut runs = Vec::new();
            for gated in &switch.runs {
                match gated {
                    Gated::Unit(id) => runs.extend(self.units[id.0].iter().flatten()),
                    Gated::Cooler(id) => runs.push(self.coolers[id.0]),
                    Gated::Turbine(id) => runs.push(self.turbines[id.0]),
                    Gated::HotSource(id) => runs.push(self.hot_sources[id.0]),
                    // Flows of matter and power are no heat by themselves.
                    Gated::Supply(_) | Gated::Demand(_) => {}
                }
            }
            self.network.thermostats.push(Thermostat {
                zone: switch.watch.0,
                start_at_c: switch.start_at_c,
                stop_at_c: switch.stop_at_c,
                runs,
                on: switch.on,
            });
        }
    }
}

/// Capacities and changes of phase of all that is in a zone.
fn body(plan: &Plan, zone: &Zone) -> HeatZone {
    let mut changes: Vec<(Change, f64)> = Vec::new();
    let mut coldest = 0.0;
    for (id, mass) in &zone.contents {
        let substance = &plan.substances[id.0];
        let mass = mass.si();
        let Some(liquid) = substance.specific_heat else { continue };
        let (mut lower, gas) = (liquid, substance.gas_heat.unwrap_or(liquid));
        let mut change = |at_c: f64, heat: f64, upper: bool, capacity: f64| {
            // A change that takes no heat and changes nothing is none.
            if heat > 0.0 || capacity != 0.0 {
                changes.push((Change { at_c, heat_j: heat * mass, upper }, capacity * mass));
            }
        };
        if let Some(freezes) = substance.freezes_at_c {
            let solid = substance.solid_heat.unwrap_or(liquid);
            change(freezes, substance.fusion_j_kg, true, liquid - solid);
            lower = solid;
        }
        if let Some(boils) = substance.boils_at_c {
            change(boils, substance.vaporisation_j_kg, false, gas - liquid);
        }
        coldest += lower * mass;
    }
    changes.sort_by(|(a, _), (b, _)| a.at_c.total_cmp(&b.at_c));
    let mut capacities = smallvec![coldest];
    for (_, more) in &changes {
        capacities.push(capacities.last().copied().unwrap_or(0.0) + more);
    }
    HeatZone {
        capacities,
        changes: changes.into_iter().map(|(change, _)| change).collect(),
        start_c: zone.at_c,
        limits: SmallVec::new(),
    }
}

fn cooling(cooler: &Cooler, count: f64) -> HeatFlow {
    let mut parts = smallvec![Part { into: cooler.cools.0, constant: -cooler.moves_w(), per_kelvin: None }];
    if let Some(ZoneId(into)) = cooler.rejects_to {
        parts.push(Part { into, constant: cooler.rejects_w(), per_kelvin: None });
    }
    let relay = cooler.set_point_c.map(|at_c| Relay { zone: cooler.cools.0, at_c, above: true });
    HeatFlow { parts, relay, running: count, rating: None }
}

fn expansion(turbine: &Turbine, count: f64) -> HeatFlow {
    let (zone, rate) = (turbine.zone.0, turbine.per_kelvin());
    let mut parts = smallvec![Part { into: zone, constant: rate * turbine.outlet_c, per_kelvin: Some((zone, -rate)) }];
    if let Some(ZoneId(into)) = turbine.casing_zone {
        let share = turbine.casing_share.si() * rate;
        parts.push(Part { into, constant: -share * turbine.outlet_c, per_kelvin: Some((zone, share)) });
    }
    HeatFlow {
        parts,
        relay: Some(Relay { zone, at_c: turbine.inlet_min_c, above: true }),
        running: count,
        rating: Some(Rating {
            zone,
            outlet_c: turbine.outlet_c,
            rated_c: turbine.inlet_rated_c,
            power_w: turbine.generates.si(),
        }),
    }
}
