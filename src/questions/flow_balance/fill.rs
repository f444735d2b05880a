//! From the balance to the figures.

use std::collections::BTreeMap;

use super::figures::{
    AimFigures, BindingFigures, DemandFigures, HeaderFigures, MakeReached, MostReached, OutletFigures, PowerFigures,
    RunReached, SupplyFigures, UnitFigures,
};
use super::network::{Network, rate_on};
use crate::balance::{Balance, Limit};
use crate::plan::{Aim, Carried, Count, HeaderId, Plan, UnitId, When, in_order, pointer};
use crate::quantity::number;
use crate::questions::answer::{Name, Named, quoted};

/// A rate split over the fields for matter and for power.
fn split(carries: Carried, rate: f64) -> (Option<f64>, Option<f64>) {
    match carries {
        Carried::Matter => (Some(rate), None),
        Carried::Power => (None, Some(rate)),
    }
}

fn split_maybe(carries: Carried, rate: Option<f64>) -> (Option<f64>, Option<f64>) {
    rate.map_or((None, None), |rate| split(carries, rate))
}

/// a/b where that means something.
pub(super) fn ratio(a: f64, b: f64) -> Option<f64> {
    (b > 0.0).then(|| a / b)
}

/// What of a supply that pushes finds no place, SI unit of its header; 0 for a tap.
pub(super) fn lost(plan: &Plan, balance: &Balance, at: usize) -> f64 {
    let supply = &plan.supplies[at];
    match supply.average_rate().filter(|_| supply.when == When::Always) {
        Some(average) if average - balance.drawn[at] > 1e-9 * average => average - balance.drawn[at],
        _ => 0.0,
    }
}

/// Electric power of all machines of a unit, W: made less drawn, idle draw included.
pub(super) fn unit_power(plan: &Plan, balance: &Balance, at: usize, power: Option<HeaderId>) -> Option<f64> {
    let unit = &plan.units[at];
    let power = power?;
    let (takes, gives) = (rate_on(&unit.takes, power), rate_on(&unit.gives, power));
    let touches = [takes, gives, unit.generates.si(), unit.draws.si(), unit.idle_draw.si()];
    if touches.iter().all(|&watts| watts == 0.0) {
        return None;
    }
    let run = balance.units[at];
    let standing = (f64::from(run.count) - run.needed).max(0.0);
    let net = gives + unit.generates.si() - takes - unit.draws.si();
    Some(net * run.needed - unit.idle_draw.si() * standing)
}

/// Everything figures are built from.
pub(super) struct Source<'a> {
    pub plan: &'a Plan,
    pub balance: &'a Balance,
    pub network: &'a Network,
    /// The names of all headers.
    pub names: Vec<Name>,
}

impl<'a> Source<'a> {
    pub fn new(plan: &'a Plan, balance: &'a Balance, network: &'a Network) -> Self {
        Self { plan, balance, network, names: plan.headers.iter().map(|header| header.name.as_str().into()).collect() }
    }

    pub fn units(&self) -> Named<UnitFigures> {
        let of = |(at, unit): (usize, &crate::plan::Unit)| {
            let run = self.balance.units[at];
            let flows = |flows: &[crate::plan::Flow]| -> Named<f64> {
                let matter = flows.iter().filter(|flow| Some(flow.header) != self.network.power);
                matter.map(|flow| (self.names[flow.header.0].clone(), flow.rate * run.needed)).collect()
            };
            let figures = UnitFigures {
                needed: run.needed,
                count: run.count,
                utilisation_share: ratio(run.needed, f64::from(run.count)),
                power_w: unit_power(self.plan, self.balance, at, self.network.power),
                takes_kg_s: flows(&unit.takes),
                gives_kg_s: flows(&unit.gives),
            };
            (unit.name.as_str().into(), figures)
        };
        in_order(&self.plan.listed.units, &self.plan.units).map(of).collect()
    }

    pub fn headers(&self) -> Named<HeaderFigures> {
        let of = |(at, header): (usize, &crate::plan::Header)| {
            let flow = &self.balance.headers[at];
            let figures = HeaderFigures {
                made_kg_s: flow.made,
                taken_kg_s: flow.taken,
                supplied_kg_s: flow.supplied,
                demanded_kg_s: flow.demanded,
                delivered_kg_s: self.is_valued(HeaderId(at)).then_some(flow.delivered),
                let_out_kg_s: flow.let_out,
                unserved_kg_s: flow.unserved,
                trapped_kg_s: flow.trapped,
                lines: flow.lines,
                line_utilisation_share: flow.line_utilisation,
            };
            (header.carries == Carried::Matter).then(|| (self.names[at].clone(), figures))
        };
        in_order(&self.plan.listed.headers, &self.plan.headers).filter_map(of).collect()
    }

    pub fn power(&self) -> Option<PowerFigures> {
        let power = self.network.power?;
        let flow = &self.balance.headers[power.0];
        Some(PowerFigures {
            generated_w: flow.made,
            drawn_w: flow.taken,
            turbines_w: (!self.plan.turbines.is_empty()).then_some(self.balance.turbines),
            coolers_w: (!self.plan.coolers.is_empty()).then_some(self.balance.cooling.got),
            net_w: flow.made - flow.taken,
            supplied_w: flow.supplied,
            demanded_w: flow.demanded,
            delivered_w: self.is_valued(power).then_some(flow.delivered),
            unserved_w: flow.unserved,
            spilled_w: flow.let_out,
            trapped_w: (flow.trapped > 0.0).then_some(flow.trapped),
            lines: flow.lines,
            line_utilisation_share: flow.line_utilisation,
        })
    }

    pub fn supplies(&self) -> Named<SupplyFigures> {
        let of = |(at, supply): (usize, &crate::plan::Supply)| {
            let carries = self.plan.header(supply.header).carries;
            let drawn = self.balance.drawn[at];
            let average = supply.average_rate();
            let (drawn_kg_s, drawn_w) = split(carries, drawn);
            let (available_kg_s, available_w) = split_maybe(carries, average);
            let pushes = supply.when == When::Always && average.is_some();
            let (lost_kg_s, lost_w) = split_maybe(carries, pushes.then(|| lost(self.plan, self.balance, at)));
            let figures = SupplyFigures {
                header: self.names[supply.header.0].clone(),
                drawn_kg_s,
                drawn_w,
                available_kg_s,
                available_w,
                utilisation_share: average.and_then(|average| ratio(drawn, average)),
                average_share: supply.pattern.as_ref().map(crate::plan::Pattern::average_share),
                lost_kg_s,
                lost_w,
            };
            (supply.name.as_str().into(), figures)
        };
        in_order(&self.plan.listed.supplies, &self.plan.supplies).map(of).collect()
    }

    pub fn demands(&self) -> Named<DemandFigures> {
        let of = |(at, demand): (usize, &crate::plan::Demand)| {
            let carries = self.plan.header(demand.header).carries;
            let served = self.balance.served[at];
            let (demanded_kg_s, demanded_w) = split(carries, demand.average_rate());
            let (served_kg_s, served_w) = split(carries, served);
            let figures = DemandFigures {
                header: self.names[demand.header.0].clone(),
                demanded_kg_s,
                demanded_w,
                served_kg_s,
                served_w,
                cut_share: ratio(demand.average_rate() - served, demand.average_rate()).unwrap_or(0.0).max(0.0),
            };
            (demand.name.as_str().into(), figures)
        };
        in_order(&self.plan.listed.demands, &self.plan.demands).map(of).collect()
    }

    pub fn outlets(&self) -> Named<OutletFigures> {
        let of = |(at, outlet): (usize, &crate::plan::Outlet)| {
            let let_out = self.balance.let_out[at];
            let (let_out_kg_s, let_out_w) = split(self.plan.header(outlet.header).carries, let_out);
            let utilisation_share = outlet.limit.and_then(|limit| ratio(let_out, limit));
            (self.names[outlet.header.0].clone(), OutletFigures { let_out_kg_s, let_out_w, utilisation_share })
        };
        in_order(&self.plan.listed.outlets, &self.plan.outlets).map(of).collect()
    }

    pub fn aim(&self) -> Option<AimFigures> {
        let reached = &self.balance.aims;
        let mut figures = AimFigures {
            run: Named::default(),
            make: Named::default(),
            most: Named::default(),
            value_per_s: self.balance.value,
        };
        match &self.plan.aim {
            Aim::Unsaid | Aim::Run(_) => {
                let entry = |(unit, reached): (UnitId, &crate::balance::Reached)| {
                    let name = self.plan.units[unit.0].name.as_str().into();
                    (name, RunReached { wanted: reached.wanted, got: reached.got })
                };
                figures.run = run_targets(self.plan).into_iter().zip(reached).map(entry).collect();
            }
            Aim::Make(targets) => {
                let entry = |(target, reached): (&crate::plan::Target, &crate::balance::Reached)| {
                    let carries = self.plan.header(target.header).carries;
                    let (wanted_kg_s, wanted_w) = split(carries, reached.wanted);
                    let (got_kg_s, got_w) = split(carries, reached.got);
                    let made = MakeReached { wanted_kg_s, wanted_w, got_kg_s, got_w };
                    (self.names[target.header.0].clone(), made)
                };
                figures.make = targets.iter().zip(reached).map(entry).collect();
            }
            Aim::Most(values) => {
                let entry = |value: &crate::plan::Value| {
                    let delivered = self.balance.headers[value.header.0].delivered;
                    let (delivered_kg_s, delivered_w) = split(self.plan.header(value.header).carries, delivered);
                    let most = MostReached { delivered_kg_s, delivered_w, value_per_s: value.each * delivered };
                    (self.names[value.header.0].clone(), most)
                };
                figures.most = values.iter().map(entry).collect();
            }
        }
        let asked = !(figures.run.is_empty() && figures.make.is_empty() && figures.most.is_empty());
        asked.then_some(figures)
    }

    /// Material by material, by name.
    pub fn bill(&self) -> Named<f64> {
        let mut bill: BTreeMap<&str, f64> = BTreeMap::new();
        for (unit, run) in self.plan.units.iter().zip(&self.balance.units) {
            for (material, mass) in &unit.build {
                *bill.entry(material).or_default() += mass.si() * f64::from(run.count);
            }
        }
        bill.into_iter().map(|(material, mass)| (material.into(), mass)).collect()
    }

    pub fn binding(&self) -> Vec<BindingFigures> {
        self.balance.binding.iter().map(|binding| self.bound(*binding)).collect()
    }

    fn bound(&self, binding: crate::balance::Binding) -> BindingFigures {
        let plan = self.plan;
        let (at, what, per) = match binding.limit {
            Limit::Supply(id) => {
                let supply = &plan.supplies[id.0];
                let carries = plan.header(supply.header).carries;
                let rate = supply.average_rate().unwrap_or(0.0);
                let what = format!("supply {} gives all of its {}", quoted(&supply.name), carries.print(rate));
                (pointer(&["supplies", &supply.name, "rate"]), what, carries.si_unit())
            }
            Limit::Count(id) => {
                let unit = &plan.units[id.0];
                let (place, count) = match unit.count {
                    Count::Fixed(count) => (pointer(&["units", &unit.name, "count"]), count),
                    Count::Sized { at_most, .. } => {
                        (pointer(&["units", &unit.name, "count", "at_most"]), at_most.unwrap_or(0))
                    }
                };
                (place, format!("all {count} × {} run at full duty", quoted(&unit.name)), "1")
            }
            Limit::Lines(id) => {
                let header = plan.header(id);
                let lines = header.lines.unwrap_or(0);
                let what = format!("the lines of {} are full ({lines})", quoted(&header.name));
                (pointer(&["headers", &header.name, "lines"]), what, header.carries.si_unit())
            }
            Limit::Outlet(id) => {
                let outlet = &plan.outlets[id.0];
                let header = plan.header(outlet.header);
                let limit = header.carries.print(outlet.limit.unwrap_or(0.0));
                let what = format!("the outlet of {} lets out all of its {limit}", quoted(&header.name));
                (pointer(&["outlets", &header.name, "limit"]), what, header.carries.si_unit())
            }
            Limit::Demand(id) => {
                let demand = &plan.demands[id.0];
                let carries = plan.header(demand.header).carries;
                let what = format!(
                    "demand {} takes no more than {}",
                    quoted(&demand.name),
                    carries.print(demand.average_rate())
                );
                (pointer(&["demands", &demand.name, "rate"]), what, carries.si_unit())
            }
        };
        let say = match binding.worth {
            Some(worth) if per == "1" => format!("{what}; one more would add {}", number(worth)),
            Some(worth) => format!("{what}; one {per} more would add {}", number(worth)),
            None => what,
        };
        BindingFigures { at, say, worth: binding.worth, worth_per: binding.worth.map(|_| per) }
    }

    fn is_valued(&self, header: HeaderId) -> bool {
        matches!(&self.plan.aim, Aim::Most(values) if values.iter().any(|value| value.header == header))
    }
}

/// The units of `Balance::aims`: those of a `run` aim, or every unit of fixed count where nothing at all is asked.
pub(super) fn run_targets(plan: &Plan) -> Vec<UnitId> {
    match &plan.aim {
        Aim::Run(runs) => runs.iter().map(|&(unit, _)| unit).collect(),
        Aim::Unsaid if plan.demands.is_empty() => {
            let fixed = |unit: &crate::plan::Unit| matches!(unit.count, Count::Fixed(_));
            plan.units.iter().enumerate().filter(|(_, unit)| fixed(unit)).map(|(at, _)| UnitId(at)).collect()
        }
        _ => Vec::new(),
    }
}
