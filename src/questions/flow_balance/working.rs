//! The arithmetic in order, as one would show it on a board: from what is asked outward, header by header.

use std::fmt::Write as _;

use super::fill::run_targets;
use super::network::{Network, given_by_one, taken_by_one};
use super::order::{Side, Step};
use super::sum::Sum;
use crate::balance::Balance;
use crate::plan::{Aim, Carried, Count, HeaderId, Plan, UnitId};
use crate::quantity::{Mass, dimension, number, print, push_number, push_si};
use crate::questions::answer::{factors, short};

/// The most lines of `working`; the last says how many are left out.
pub const MOST_LINES: usize = 200;
struct Telling<'a> {
    plan: &'a Plan,
    balance: &'a Balance,
    network: &'a Network,
    lines: Vec<String>,
    left_out: usize,
    /// The header each unit was sized by.
    sized_by: Vec<Option<HeaderId>>,
    /// The units of the aim.
    targets: Vec<UnitId>,
}

/// The lines.
pub(super) fn working(plan: &Plan, balance: &Balance, network: &Network, order: &[Step]) -> Vec<String> {
    let sized_by = vec![None; plan.units.len()];
    let mut telling = Telling {
        plan,
        balance,
        network,
        lines: Vec::with_capacity(order.len().min(MOST_LINES) + 2),
        left_out: 0,
        sized_by,
        targets: run_targets(plan),
    };
    for &step in order {
        if telling.lines.len() >= MOST_LINES {
            telling.left_out += 1;
            continue;
        }
        match step {
            Step::Unit { unit, via } => telling.unit(unit, via),
            Step::Header { header, side, closing } => telling.header(header, side, closing),
            Step::Lines { header } => telling.header_lines(header),
        }
    }
    telling.power();
    telling.bill();
    let Telling { mut lines, left_out, .. } = telling;
    // Sums of power and material are worth more than the last steps of a long walk.
    if left_out > 0 || lines.len() > MOST_LINES {
        let over = (lines.len() + 1).saturating_sub(MOST_LINES);
        let keep = MOST_LINES.saturating_sub(1).saturating_sub(lines.len().saturating_sub(MOST_LINES));
        lines.drain(keep.min(lines.len())..(keep + over).min(lines.len()));
        lines.push(format!("and {} more steps, left out", left_out + over));
    }
    lines
}

/// A line that begins with a name.
fn begin(name: &str, then: &str) -> String {
    let mut line = String::with_capacity(96);
    line.push_str(&short(name));
    line.push_str(then);
    line
}

impl Telling<'_> {
    fn unit(&mut self, unit: UnitId, via: Option<HeaderId>) {
        let plan = self.plan;
        let entry = &plan.units[unit.0];
        let run = self.balance.units[unit.0];
        self.sized_by[unit.0] = via;
        let needed = number(run.needed).to_string();
        let mut line = begin(&entry.name, ": ");
        if let Some(header) = via {
            let made = given_by_one(plan, unit, header);
            let one = if made > 0.0 { made } else { taken_by_one(plan, unit, header) };
            let carries = plan.header(header).carries;
            carries.push(&mut line, one * run.needed);
            line.push_str(" of ");
            line.push_str(&short(&plan.header(header).name));
            line.push_str(" ÷ ");
            carries.push(&mut line, one);
            line.push_str(" = ");
            line.push_str(&needed);
        } else {
            let reached = self.targets.iter().position(|&target| target == unit);
            match reached.and_then(|at| self.balance.aims.get(at)) {
                Some(reached) if reached.got < reached.wanted => {
                    let _ = write!(line, "{} of {} wanted can run", number(reached.got), number(reached.wanted));
                    self.lines.push(line);
                    return;
                }
                Some(reached) => {
                    push_number(&mut line, reached.wanted);
                    line.push_str(" wanted");
                }
                None => {
                    line.push_str(&needed);
                    line.push_str(" run");
                }
            }
        }
        let count = run.count.to_string();
        if count != needed {
            line.push_str(match entry.count {
                Count::Fixed(_) => ", of ",
                Count::Sized { .. } => " → ",
            });
            line.push_str(&count);
        }
        self.lines.push(line);
    }

    fn header(&mut self, header: HeaderId, side: Side, closing: bool) {
        let plan = self.plan;
        let near = self.network.at(header);
        let carries = plan.header(header).carries;
        if carries == Carried::Power && side == Side::In {
            return; // told at the end, with what is drawn
        }
        let (units, word) = match side {
            Side::In => (&near.givers, " in: "),
            Side::Out => (&near.takers, " out: "),
        };
        let mut sum = Sum::after(begin(&plan.header(header).name, word), carries);
        let (mut of_units, mut told) = (0, 0);
        if carries == Carried::Matter {
            for &unit in units {
                let one = match side {
                    Side::In => given_by_one(plan, unit, header),
                    Side::Out => taken_by_one(plan, unit, header),
                };
                let run = self.balance.units[unit.0].needed;
                if run > 0.0 {
                    of_units += 1;
                    told += usize::from(self.sized_by[unit.0] == Some(header));
                    sum.add_units(run, &plan.units[unit.0].name, one);
                }
            }
        }
        match side {
            Side::In => {
                for &supply in &near.supplies {
                    let drawn = self.balance.drawn[supply.0];
                    if drawn > 0.0 {
                        self.average(supply.0);
                    }
                    sum.add_rate(drawn, &[" from ", &short(&plan.supplies[supply.0].name)]);
                }
            }
            Side::Out => {
                for &demand in &near.demands {
                    self.average_demand(demand.0);
                }
                self.ways_out(header, &mut sum, 1.0);
            }
        }
        // One unit that was just sized by this header says it all.
        if sum.spelt == 0 || (closing && told == 1 && sum.spelt == 1) {
            return;
        }
        let has_total = sum.spelt > 1 || of_units > 0;
        let (mut line, total) = sum.finish_rate();
        if has_total {
            line.push_str(" = ");
            carries.push(&mut line, total);
        }
        self.lines.push(line);
    }

    /// What leaves a header other than to units, with a sign.
    fn ways_out(&self, header: HeaderId, sum: &mut Sum, sign: f64) {
        let plan = self.plan;
        let carries = plan.header(header).carries;
        let flow = &self.balance.headers[header.0];
        // "77.2 kW of 95 kW" where it is cut.
        let cut = |got: f64, wanted: f64, is_cut: bool| {
            let mut text = String::new();
            if is_cut {
                text.push_str(" of ");
                carries.push(&mut text, wanted);
            }
            (sign * got, text)
        };
        for &demand in &self.network.at(header).demands {
            let served = self.balance.served[demand.0];
            let entry = &plan.demands[demand.0];
            let wanted = entry.average_rate();
            let is_cut = served < wanted * (1.0 - 1e-9) && flow.delivered == 0.0;
            let (rate, of) = cut(served, wanted, is_cut);
            sum.add_rate(rate, &[&of, " for ", &short(&entry.name)]);
        }
        if let Aim::Make(targets) = &plan.aim {
            let reached = targets.iter().zip(&self.balance.aims).filter(|(target, _)| target.header == header);
            for (target, reached) in reached {
                let (rate, of) = cut(reached.got, target.rate, reached.got < reached.wanted);
                sum.add_rate(rate, &[&of, " wanted"]);
            }
        }
        if self.network.at(header).demands.is_empty() {
            sum.add_rate(sign * flow.delivered, &[" delivered"]);
        }
        if carries == Carried::Matter {
            sum.add_rate(sign * flow.let_out, &[" let out"]);
        }
        sum.add_rate(sign * flow.trapped, &[" trapped"]);
    }

    /// How the average of an intermittent supply comes about.
    fn average(&mut self, at: usize) {
        let supply = &self.plan.supplies[at];
        let (Some(pattern), Some(rate), Some(average)) = (&supply.pattern, supply.rate, supply.average_rate()) else {
            return;
        };
        let carries = self.plan.header(supply.header).carries;
        self.lines.push(format!(
            "{} on average: {} × {} = {}",
            short(&supply.name),
            carries.print(rate),
            factors(pattern),
            carries.print(average),
        ));
    }

    /// The same of a demand.
    fn average_demand(&mut self, at: usize) {
        let demand = &self.plan.demands[at];
        let Some(pattern) = &demand.pattern else { return };
        let carries = self.plan.header(demand.header).carries;
        self.lines.push(format!(
            "{} on average: {} × {} = {}",
            short(&demand.name),
            carries.print(demand.rate),
            factors(pattern),
            carries.print(demand.average_rate()),
        ));
    }

    fn header_lines(&mut self, header: HeaderId) {
        let entry = self.plan.header(header);
        let flow = &self.balance.headers[header.0];
        let (Some(line), Some(lines)) = (entry.line, flow.lines) else { return };
        let through = flow.made + flow.supplied;
        let (needed, lines) = (number(through / line).to_string(), lines.to_string());
        let sized = match entry.lines {
            Some(_) => format!(", of {lines}"),
            None if lines == needed => String::new(),
            None => format!(" → {lines}"),
        };
        self.lines.push(format!(
            "{} lines: {} ÷ {} = {needed}{sized}",
            short(&entry.name),
            entry.carries.print(through),
            entry.carries.print(line),
        ));
    }

    fn power(&mut self) {
        let Some(power) = self.network.power else { return };
        let plan = self.plan;
        let (near, flow) = (self.network.at(power), &self.balance.headers[power.0]);
        let carries = Carried::Power;
        let mut sum = Sum::after(String::from("power: "), carries);
        for &unit in &near.givers {
            let run = self.balance.units[unit.0].needed;
            sum.add_units(run, &plan.units[unit.0].name, given_by_one(plan, unit, power));
        }
        let mut drawn = 0.0;
        for &unit in &near.takers {
            let (run, one) = (self.balance.units[unit.0].needed, taken_by_one(plan, unit, power));
            drawn += run * one;
            sum.add_units(run, &plan.units[unit.0].name, -one);
        }
        if self.balance.turbines > 0.0 {
            sum.add_rate(self.balance.turbines, &[" of turbines"]);
        }
        let cooling = self.balance.cooling.got;
        if cooling > 0.0 {
            sum.add_rate(-cooling, &[" of coolers"]);
        }
        let idle = flow.taken - drawn - cooling;
        if idle > 1e-9 * flow.taken {
            sum.add_rate(-idle, &[" idle"]);
        }
        let net = flow.made - flow.taken;
        let of_units = sum.spelt > 0;
        if of_units {
            let (mut line, _) = sum.finish_rate();
            line.push_str(if net < 0.0 { " = −" } else { " = " });
            carries.push(&mut line, net.abs());
            self.lines.push(line);
        }
        for &demand in &near.demands {
            self.average_demand(demand.0);
        }
        let mut whole = Sum::after(String::from("power: "), carries);
        whole.add_rate(net, &[" net"]);
        for &supply in &near.supplies {
            let drawn = self.balance.drawn[supply.0];
            if drawn > 0.0 {
                self.average(supply.0);
            }
            whole.add_rate(drawn, &[" from ", &short(&plan.supplies[supply.0].name)]);
        }
        self.ways_out(power, &mut whole, -1.0);
        if whole.spelt > 1 || !of_units && whole.spelt > 0 {
            let (mut line, _) = whole.finish_rate();
            line.push_str(" = ");
            carries.push(&mut line, flow.let_out);
            line.push_str(" to spare");
            self.lines.push(line);
        }
    }

    fn bill(&mut self) {
        let plan = self.plan;
        let mut materials: indexmap::IndexMap<&str, Vec<(UnitId, Mass)>> = indexmap::IndexMap::new();
        for (at, unit) in plan.units.iter().enumerate() {
            for (material, mass) in &unit.build {
                materials.entry(material).or_default().push((UnitId(at), *mass));
            }
        }
        for (material, parts) in materials.into_iter().take(MOST_LINES / 4) {
            let mut sum = Sum::after(begin(material, ": "), Carried::Matter);
            for (unit, mass) in parts {
                let count = self.balance.units[unit.0].count;
                sum.add(mass.si() * f64::from(count), |text| {
                    let _ = write!(text, "{count} {} × {}", short(&plan.units[unit.0].name), print(mass));
                });
            }
            if sum.spelt == 0 {
                sum.text.push('0');
            }
            let (mut line, total) = sum.finish(push_si::<dimension::Mass>);
            line.push_str(" = ");
            push_si::<dimension::Mass>(&mut line, total);
            self.lines.push(line);
        }
    }
}
