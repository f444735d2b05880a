//! Who gives to a header and who takes from it.

use crate::balance::Balance;
use crate::plan::{Carried, DemandId, Flow, HeaderId, OutletId, Plan, SupplyId, UnitId, pointer};

/// The neighbours of every header, each list in the plan's order.
#[derive(Debug)]
pub(super) struct Network {
    headers: Vec<Neighbours>,
    /// The header of electric power.
    pub power: Option<HeaderId>,
}

/// What touches one header.
#[derive(Clone, Debug, Default)]
pub(super) struct Neighbours {
    /// Units that give to it (on power: generate).
    pub givers: Vec<UnitId>,
    /// Units that take from it (on power: draw, idle draw included).
    pub takers: Vec<UnitId>,
    pub supplies: Vec<SupplyId>,
    pub demands: Vec<DemandId>,
    pub outlet: Option<OutletId>,
}

impl Network {
    pub fn of(plan: &Plan) -> Self {
        let mut headers = vec![Neighbours::default(); plan.headers.len()];
        let power = plan.power();
        for (at, unit) in plan.units.iter().enumerate() {
            let id = UnitId(at);
            for flow in unit.takes.iter().filter(|flow| flow.rate > 0.0) {
                headers[flow.header.0].takers.push(id);
            }
            for flow in unit.gives.iter().filter(|flow| flow.rate > 0.0) {
                headers[flow.header.0].givers.push(id);
            }
            if let Some(power) = power {
                let entry = &mut headers[power.0];
                if unit.generates.si() > 0.0 && entry.givers.last() != Some(&id) {
                    entry.givers.push(id);
                }
                let draws = unit.draws.si() > 0.0 || unit.idle_draw.si() > 0.0;
                if draws && entry.takers.last() != Some(&id) {
                    entry.takers.push(id);
                }
            }
        }
        for (at, supply) in plan.supplies.iter().enumerate() {
            headers[supply.header.0].supplies.push(SupplyId(at));
        }
        for (at, demand) in plan.demands.iter().enumerate() {
            headers[demand.header.0].demands.push(DemandId(at));
        }
        for (at, outlet) in plan.outlets.iter().enumerate() {
            headers[outlet.header.0].outlet = Some(OutletId(at));
        }
        Self { headers, power }
    }

    /// The first place in the plan that gives to a header: of those that run, where any does.
    pub fn first_source(&self, plan: &Plan, balance: &Balance, header: HeaderId) -> String {
        let near = self.at(header);
        let name = &plan.header(header).name;
        let running = near.givers.iter().find(|unit| balance.units[unit.0].needed > 0.0);
        if let Some(unit) = running.or(near.givers.first()) {
            return pointer(&["units", &plan.units[unit.0].name, "gives", name]);
        }
        match near.supplies.first() {
            Some(supply) => pointer(&["supplies", &plan.supplies[supply.0].name, "header"]),
            None => pointer(&["headers", name]),
        }
    }

    pub fn at(&self, header: HeaderId) -> &Neighbours {
        &self.headers[header.0]
    }
}

/// The rate of one machine on `header` among `flows`.
pub(super) fn rate_on(flows: &[Flow], header: HeaderId) -> f64 {
    flows.iter().filter(|flow| flow.header == header).map(|flow| flow.rate).sum()
}

/// What one machine gives to `header` at full duty, generation included.
pub(super) fn given_by_one(plan: &Plan, unit: UnitId, header: HeaderId) -> f64 {
    let entry = &plan.units[unit.0];
    let generated = if plan.header(header).carries == Carried::Power { entry.generates.si() } else { 0.0 };
    rate_on(&entry.gives, header) + generated
}

/// What one machine takes from `header` at full duty, draw included, idle draw not.
pub(super) fn taken_by_one(plan: &Plan, unit: UnitId, header: HeaderId) -> f64 {
    let entry = &plan.units[unit.0];
    let drawn = if plan.header(header).carries == Carried::Power { entry.draws.si() } else { 0.0 };
    rate_on(&entry.takes, header) + drawn
}
