//! Column values back into the plan's terms.

use super::HeatPower;
use super::model::{AimTarget, Delivery, Item, Wanted, targets};
use super::pass::{Pass, REACHED};
use super::result::{Balance, Binding, Grower, HeaderFlow, Outcome, Reached, UnitRun};
use crate::plan::{Aim, HeaderId, Plan, SupplyId, UnitId};
use crate::quantity::whole_up;

/// Rates smaller than this share of what passes through a header are rounding.
const NOISE: f64 = 1e-10;

/// Tells what a pass found.
#[must_use]
pub fn explain(plan: &Plan, pass: &Pass, binding: Vec<Binding>) -> Balance {
    let x = |column: usize| pass.x[column];
    let columns = &pass.model.columns;
    let mut headers = vec![HeaderFlow::default(); plan.headers.len()];
    let power = plan.power();
    for (at, unit) in plan.units.iter().enumerate() {
        let run = x(columns.run[at]);
        for flow in &unit.takes {
            headers[flow.header.0].taken += flow.rate * run;
        }
        for flow in &unit.gives {
            headers[flow.header.0].made += flow.rate * run;
        }
        if let Some(power) = power {
            headers[power.0].made += unit.generates.si() * run;
            headers[power.0].taken += unit.draws.si() * run;
            headers[power.0].taken += unit.idle_draw.si() * columns.idle[at].map_or(0.0, x);
        }
    }
    let drawn: Vec<f64> = columns.draw.iter().map(|&column| x(column)).collect();
    for (supply, drawn) in plan.supplies.iter().zip(&drawn) {
        headers[supply.header.0].supplied += drawn;
    }
    let let_out: Vec<f64> = columns.let_out.iter().map(|&column| x(column)).collect();
    for (outlet, &out) in plan.outlets.iter().zip(&let_out) {
        headers[outlet.header.0].let_out += out;
    }
    let given = columns.turbines.map_or(0.0, x);
    if let Some(power) = power {
        headers[power.0].made += given;
    }
    for (header, flow) in headers.iter_mut().enumerate() {
        flow.let_out += columns.spill[header].map_or(0.0, x);
        flow.trapped = columns.trapped[header].map_or(0.0, x);
    }
    let mut told = Told {
        served: vec![0.0; plan.demands.len()],
        aims: targets(plan)
            .iter()
            .map(|target| match *target {
                AimTarget::Run(_, wanted) | AimTarget::Make(_, wanted) => Reached { wanted, got: 0.0 },
            })
            .collect(),
        headers,
        cooling: Reached { wanted: 0.0, got: 0.0 },
    };
    for item in &pass.model.items {
        told.item(plan, item, x(item.column));
    }
    for delivery in &pass.model.deliveries {
        told.delivery(plan, delivery, x(delivery.column));
    }
    let Told { served, mut aims, mut headers, cooling } = told;
    for (target, reached) in targets(plan).iter().zip(&mut aims) {
        if let AimTarget::Run(unit, _) = *target {
            reached.got = snap(x(columns.run[unit.0]), reached.wanted);
        }
    }
    for (header, flow) in plan.headers.iter().zip(&mut headers) {
        tidy(flow);
        let through = flow.made + flow.supplied;
        if let Some(line) = header.line {
            let lines = header.lines.unwrap_or_else(|| u32::try_from(whole_up(through / line)).unwrap_or(u32::MAX));
            flow.lines = Some(lines);
            flow.line_utilisation = (lines > 0).then(|| through / (line * f64::from(lines)));
        }
    }
    let imbalance = headers.iter().map(imbalance).fold(0.0, f64::max);
    let units = pass.counts.iter().zip(&columns.run);
    let units = units.map(|(&count, &column)| UnitRun { needed: x(column), count }).collect();
    let outcome = match pass.endless {
        Some(column) => Outcome::Unbounded { through: grower(plan, pass, column) },
        None if pass.short_rank.is_some() => Outcome::Short,
        None => Outcome::Met,
    };
    let value = matches!(plan.aim, Aim::Most(_)).then(|| value(plan, pass));
    Balance {
        outcome,
        units,
        headers,
        drawn,
        served,
        let_out,
        aims,
        value,
        binding,
        steps: pass.steps,
        proven: true,
        imbalance,
        heat: HeatPower::NONE,
        cooling,
        turbines: given,
    }
}

struct Told {
    served: Vec<f64>,
    aims: Vec<Reached>,
    headers: Vec<HeaderFlow>,
    cooling: Reached,
}

impl Told {
    fn item(&mut self, plan: &Plan, item: &Item, got: f64) {
        let share = snap(got, item.wanted) / item.wanted;
        match &item.what {
            Wanted::Run => {}
            Wanted::Cooling => {
                self.cooling = Reached { wanted: item.wanted, got: item.wanted * share };
                if let Some(power) = plan.power() {
                    let flow = &mut self.headers[power.0];
                    flow.taken += item.wanted * share;
                    flow.demanded += item.wanted * (1.0 - share);
                    flow.unserved += item.wanted * (1.0 - share);
                }
            }
            Wanted::Idle(unit) => {
                if let Some(power) = plan.power() {
                    let unmet = plan.units[unit.0].idle_draw.si() * item.wanted * (1.0 - share);
                    let flow = &mut self.headers[power.0];
                    flow.demanded += unmet;
                    flow.unserved += unmet;
                }
            }
            Wanted::Served { demands, targets } => {
                let mut header = None;
                for &demand in demands {
                    let wanted = plan.demands[demand.0].average_rate();
                    self.served[demand.0] = wanted * share;
                    header = Some(plan.demands[demand.0].header);
                }
                for &target in targets {
                    let reached = &mut self.aims[target];
                    reached.got = reached.wanted * share;
                    if let Aim::Make(makes) = &plan.aim {
                        header = Some(makes[target].header);
                    }
                }
                if let Some(HeaderId(header)) = header {
                    self.headers[header].demanded += item.wanted;
                    self.headers[header].served += item.wanted * share;
                    self.headers[header].unserved += item.wanted * (1.0 - share);
                }
            }
        }
    }

    fn delivery(&mut self, plan: &Plan, delivery: &Delivery, got: f64) {
        self.headers[delivery.header.0].delivered += got;
        let offered: f64 = delivery.demands.iter().map(|demand| plan.demands[demand.0].average_rate()).sum();
        for &demand in &delivery.demands {
            let share = if offered > 0.0 { got / offered } else { 0.0 };
            self.served[demand.0] = plan.demands[demand.0].average_rate() * share;
        }
    }
}

/// `got`, or `wanted` or nothing where it differs from that by rounding only.
fn snap(got: f64, wanted: f64) -> f64 {
    if (got - wanted).abs() <= REACHED * wanted {
        wanted
    } else if got <= NOISE * wanted {
        0.0
    } else {
        got
    }
}

/// Clears what is rounding beside the flow through the header.
fn tidy(flow: &mut HeaderFlow) {
    let through = flow.made + flow.supplied + flow.taken + flow.demanded;
    for rate in [&mut flow.trapped, &mut flow.let_out, &mut flow.unserved, &mut flow.taken, &mut flow.made] {
        if rate.abs() <= NOISE * through || *rate < 0.0 {
            *rate = 0.0;
        }
    }
}

/// How far a header is from closing, as a share of what passes through it.
fn imbalance(flow: &HeaderFlow) -> f64 {
    let came = flow.made + flow.supplied;
    let went = flow.taken + flow.served + flow.delivered + flow.let_out + flow.trapped;
    let through = came.max(went);
    if through > 0.0 { (came - went).abs() / through } else { 0.0 }
}

/// Σ value · delivered − Σ running cost · run, per second.
pub fn value(plan: &Plan, pass: &Pass) -> f64 {
    let Aim::Most(values) = &plan.aim else { return 0.0 };
    let income: f64 = pass
        .model
        .deliveries
        .iter()
        .map(|delivery| {
            let each = values.iter().find(|value| value.header == delivery.header).map_or(0.0, |value| value.each);
            each * pass.x[delivery.column]
        })
        .sum();
    let cost: f64 =
        plan.units.iter().enumerate().map(|(at, unit)| unit.running_cost * pass.x[pass.model.columns.run[at]]).sum();
    income - cost
}

fn grower(plan: &Plan, pass: &Pass, column: usize) -> Grower {
    let columns = &pass.model.columns;
    if let Some(unit) = columns.run.iter().position(|&run| run == column) {
        return Grower::Unit(UnitId(unit));
    }
    if let Some(supply) = columns.draw.iter().position(|&draw| draw == column) {
        return Grower::Supply(SupplyId(supply));
    }
    let delivery = pass.model.deliveries.iter().find(|delivery| delivery.column == column);
    let fallback = HeaderId(plan.headers.len().saturating_sub(1));
    Grower::Header(delivery.map_or(fallback, |delivery| delivery.header))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_differs_from_all_or_none_by_rounding_is_all_or_none() {
        for wanted in [1e-6, 1.0, 3e9] {
            for (share, told) in [
                (1.0 + 9e-10, 1.0),
                (1.0 - 9e-10, 1.0),
                (1.0 - 1.1e-9, 1.0 - 1.1e-9),
                (1.5, 1.5),
                (1.1e-10, 1.1e-10),
                (9e-11, 0.0),
                (0.0, 0.0),
                (-1e-3, 0.0),
            ] {
                let found = snap(share * wanted, wanted);
                assert_eq!(found.to_bits(), (told * wanted).to_bits(), "{found} for {share} of {wanted}");
            }
        }
    }

    #[test]
    fn what_is_rounding_beside_all_that_passes_through_is_cleared() {
        for rate in [1e-6, 1.0, 3e9] {
            let flow = |trapped: f64| {
                let mut flow = HeaderFlow {
                    made: rate,
                    supplied: rate,
                    taken: rate,
                    demanded: rate,
                    trapped,
                    ..Default::default()
                };
                tidy(&mut flow);
                (flow.trapped, flow.made)
            };
            assert_eq!(flow(3.9e-10 * rate), (0.0, rate));
            assert_eq!(flow(4.1e-10 * rate), (4.1e-10 * rate, rate));
            // Less than nothing is never told.
            assert_eq!(flow(-rate), (0.0, rate));
        }
        let mut still = HeaderFlow::default();
        tidy(&mut still);
        assert_eq!(still, HeaderFlow::default());
    }

    #[test]
    fn the_imbalance_is_a_share_of_what_passes_through() {
        let closed = HeaderFlow {
            made: 5.0,
            supplied: 10.0,
            taken: 1.0,
            served: 2.0,
            delivered: 3.0,
            let_out: 4.0,
            trapped: 5.0,
            ..Default::default()
        };
        let is = |flow: &HeaderFlow, share: f64| (imbalance(flow) - share).abs() <= f64::EPSILON;
        assert!(is(&closed, 0.0));
        assert!(is(&HeaderFlow { made: 15.0, ..closed }, 0.4));
        assert!(is(&HeaderFlow { trapped: 15.0, ..closed }, 0.4));
        assert!(is(&HeaderFlow::default(), 0.0));
    }
}
