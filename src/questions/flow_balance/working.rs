//! The arithmetic in order, as one would show it on a board: from what is asked outward, header by header.

use super::fill::run_targets;
use super::network::{Network, given_by_one, taken_by_one};
use super::order::{Side, Step};
use crate::balance::Balance;
use crate::plan::{Aim, Carried, Count, HeaderId, Plan, UnitId};
use crate::quantity::{Mass, number, print};
use crate::questions::answer::short;

/// The most lines of `working`; the last says how many are left out.
pub const MOST_LINES: usize = 200;
/// The most terms of one sum that are written out.
const MOST_TERMS: usize = 8;

/// A power with its sign.
fn signed(watts: f64) -> String {
    let sign = if watts < 0.0 { "−" } else { "" };
    format!("{sign}{}", Carried::Power.print(watts.abs()))
}

/// One summand.
struct Term {
    text: String,
    rate: f64,
}

/// A sum as it is written: its terms, of which only the first few are spelt out.
struct Sum {
    terms: Vec<Term>,
    more: usize,
    more_rate: f64,
    total: f64,
}

impl Sum {
    fn new() -> Self {
        Self { terms: Vec::new(), more: 0, more_rate: 0.0, total: 0.0 }
    }

    fn add(&mut self, rate: f64, text: impl FnOnce() -> String) {
        if rate == 0.0 {
            return;
        }
        self.total += rate;
        if self.terms.len() < MOST_TERMS {
            self.terms.push(Term { text: text(), rate });
        } else {
            self.more += 1;
            self.more_rate += rate;
        }
    }

    fn write(mut self, into: &mut String, carries: Carried) {
        if self.more > 0 {
            let text = format!("{} more {}", self.more, carries.print(self.more_rate.abs()));
            self.terms.push(Term { text, rate: self.more_rate });
        }
        for (at, term) in self.terms.iter().enumerate() {
            into.push_str(match (at, term.rate < 0.0) {
                (0, false) => "",
                (0, true) => "−",
                (_, false) => " + ",
                (_, true) => " − ",
            });
            into.push_str(&term.text);
        }
        if self.terms.is_empty() {
            into.push('0');
        }
    }
}

struct Telling<'a> {
    plan: &'a Plan,
    balance: &'a Balance,
    network: &'a Network,
    lines: Vec<String>,
    left_out: usize,
    /// The header each unit was sized by.
    sized_by: Vec<Option<HeaderId>>,
}

/// The lines.
pub(super) fn working(plan: &Plan, balance: &Balance, network: &Network, order: &[Step]) -> Vec<String> {
    let sized_by = vec![None; plan.units.len()];
    let mut telling = Telling { plan, balance, network, lines: Vec::new(), left_out: 0, sized_by };
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

impl Telling<'_> {
    fn unit(&mut self, unit: UnitId, via: Option<HeaderId>) {
        let plan = self.plan;
        let entry = &plan.units[unit.0];
        let run = self.balance.units[unit.0];
        self.sized_by[unit.0] = via;
        let needed = number(run.needed);
        let count = run.count.to_string();
        let sized = if count == needed {
            String::new()
        } else {
            match entry.count {
                Count::Fixed(_) => format!(", of {count}"),
                Count::Sized { .. } => format!(" → {count}"),
            }
        };
        let name = short(&entry.name);
        let line = if let Some(header) = via {
            let made = given_by_one(plan, unit, header);
            let one = if made > 0.0 { made } else { taken_by_one(plan, unit, header) };
            let (on, carries) = (short(&plan.header(header).name), plan.header(header).carries);
            format!("{name}: {} of {on} ÷ {} = {needed}{sized}", carries.print(one * run.needed), carries.print(one))
        } else {
            let targets = run_targets(plan);
            let reached = targets.iter().position(|&target| target == unit);
            match reached.and_then(|at| self.balance.aims.get(at)) {
                Some(reached) if reached.got < reached.wanted => {
                    format!("{name}: {} of {} wanted can run", number(reached.got), number(reached.wanted))
                }
                Some(reached) => format!("{name}: {} wanted{sized}", number(reached.wanted)),
                None => format!("{name}: {needed} run{sized}"),
            }
        };
        self.lines.push(line);
    }

    fn header(&mut self, header: HeaderId, side: Side, closing: bool) {
        let plan = self.plan;
        let near = self.network.at(header);
        let units = if side == Side::In { &near.givers } else { &near.takers };
        let carries = plan.header(header).carries;
        if carries == Carried::Power && side == Side::In {
            return; // told at the end, with what is drawn
        }
        let mut sum = Sum::new();
        let mut of_units = 0;
        for &unit in units {
            let one = match side {
                Side::In => given_by_one(plan, unit, header),
                Side::Out => taken_by_one(plan, unit, header),
            };
            let run = self.balance.units[unit.0].needed;
            if one * run > 0.0 && carries == Carried::Matter {
                let is_told = self.sized_by[unit.0] == Some(header);
                of_units += usize::from(is_told);
                sum.add(one * run, || {
                    format!("{} {} × {}", number(run), short(&plan.units[unit.0].name), carries.print(one))
                });
            }
        }
        match side {
            Side::In => {
                for &supply in &near.supplies {
                    let drawn = self.balance.drawn[supply.0];
                    let entry = &plan.supplies[supply.0];
                    if drawn > 0.0 {
                        self.average(supply.0);
                    }
                    sum.add(drawn, || format!("{} from {}", carries.print(drawn), short(&entry.name)));
                }
            }
            Side::Out => self.ways_out(header, &mut sum),
        }
        // One unit that was just sized by this header says it all.
        if sum.terms.is_empty() || (closing && of_units == 1 && sum.terms.len() == 1) {
            return;
        }
        let mut line = short(&plan.header(header).name);
        line.push_str(if side == Side::In { " in: " } else { " out: " });
        let total = (sum.terms.len() > 1 || sum.terms[0].text.contains('×')).then_some(sum.total);
        sum.write(&mut line, carries);
        if let Some(total) = total {
            line.push_str(" = ");
            line.push_str(&carries.print(total));
        }
        self.lines.push(line);
    }

    fn ways_out(&self, header: HeaderId, sum: &mut Sum) {
        let plan = self.plan;
        let carries = plan.header(header).carries;
        let flow = &self.balance.headers[header.0];
        for &demand in &self.network.at(header).demands {
            let served = self.balance.served[demand.0];
            let entry = &plan.demands[demand.0];
            sum.add(served, || {
                let cut = if served < entry.rate * (1.0 - 1e-9) && flow.delivered == 0.0 {
                    format!(" of {}", carries.print(entry.rate))
                } else {
                    String::new()
                };
                format!("{}{cut} for {}", carries.print(served), short(&entry.name))
            });
        }
        if let Aim::Make(targets) = &plan.aim {
            for (target, reached) in
                targets.iter().zip(&self.balance.aims).filter(|(target, _)| target.header == header)
            {
                sum.add(reached.got, || {
                    let cut = if reached.got < reached.wanted {
                        format!(" of {}", carries.print(target.rate))
                    } else {
                        String::new()
                    };
                    format!("{}{cut} wanted", carries.print(reached.got))
                });
            }
        }
        if self.network.at(header).demands.is_empty() {
            sum.add(flow.delivered, || format!("{} delivered", carries.print(flow.delivered)));
        }
        if carries == Carried::Matter {
            sum.add(flow.let_out, || format!("{} let out", carries.print(flow.let_out)));
        }
        sum.add(flow.trapped, || format!("{} trapped", carries.print(flow.trapped)));
    }

    /// How the average of an intermittent supply comes about.
    fn average(&mut self, at: usize) {
        let supply = &self.plan.supplies[at];
        let (Some(pattern), Some(rate), Some(average)) = (&supply.pattern, supply.rate, supply.average_rate()) else {
            return;
        };
        let carries = self.plan.header(supply.header).carries;
        let season = pattern.seasons.map_or_else(String::new, |(active, dormant)| {
            format!(" × {} ÷ ({} + {})", print(active), print(active), print(dormant))
        });
        self.lines.push(format!(
            "{} on average: {} × {} ÷ {}{season} = {}",
            short(&supply.name),
            carries.print(rate),
            print(pattern.on),
            print(pattern.every),
            carries.print(average),
        ));
    }

    fn header_lines(&mut self, header: HeaderId) {
        let entry = self.plan.header(header);
        let flow = &self.balance.headers[header.0];
        let (Some(line), Some(lines)) = (entry.line, flow.lines) else { return };
        let through = flow.made + flow.supplied;
        let (needed, lines) = (number(through / line), lines.to_string());
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
        let mut sum = Sum::new();
        let term = |unit: UnitId, one: f64| {
            let run = self.balance.units[unit.0].needed;
            (one * run, format!("{} {} × {}", number(run), short(&plan.units[unit.0].name), carries.print(one)))
        };
        for &unit in &near.givers {
            let (rate, text) = term(unit, given_by_one(plan, unit, power));
            sum.add(rate, || text);
        }
        let mut drawn = 0.0;
        for &unit in &near.takers {
            let (rate, text) = term(unit, taken_by_one(plan, unit, power));
            drawn += rate;
            sum.add(-rate, || text);
        }
        let idle = flow.taken - drawn;
        if idle > 1e-9 * flow.taken {
            sum.add(-idle, || format!("{} idle", carries.print(idle)));
        }
        let of_units = !sum.terms.is_empty();
        if of_units {
            let mut line = String::from("power: ");
            sum.write(&mut line, carries);
            line.push_str(" = ");
            line.push_str(&signed(flow.made - flow.taken));
            self.lines.push(line);
        }
        let mut whole = Sum::new();
        let net = flow.made - flow.taken;
        whole.add(net, || format!("{} net", carries.print(net.abs())));
        for &supply in &near.supplies {
            if self.balance.drawn[supply.0] > 0.0 {
                self.average(supply.0);
            }
            whole.add(self.balance.drawn[supply.0], || {
                format!("{} from {}", carries.print(self.balance.drawn[supply.0]), short(&plan.supplies[supply.0].name))
            });
        }
        let mut out = Sum::new();
        self.ways_out(power, &mut out);
        for term in out.terms {
            whole.add(-term.rate, || term.text);
        }
        whole.add(-out.more_rate, || format!("{} more {}", out.more, carries.print(out.more_rate)));
        if whole.terms.len() > 1 || !of_units && !whole.terms.is_empty() {
            let mut line = String::from("power: ");
            whole.write(&mut line, carries);
            line.push_str(" = ");
            line.push_str(&carries.print(flow.let_out));
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
            let mut sum = Sum::new();
            for (unit, mass) in parts {
                let count = self.balance.units[unit.0].count;
                sum.add(mass.si() * f64::from(count), || {
                    format!("{count} {} × {}", short(&plan.units[unit.0].name), print(mass))
                });
            }
            let total = Mass::from_si(sum.total).unwrap_or(Mass::ZERO);
            if sum.more > 0 {
                let rest = Mass::from_si(sum.more_rate).unwrap_or(Mass::ZERO);
                sum.terms.push(Term { text: format!("{} more {}", sum.more, print(rest)), rate: sum.more_rate });
                sum.more = 0;
            }
            let mut line = format!("{}: ", short(material));
            sum.write(&mut line, Carried::Matter);
            line.push_str(" = ");
            line.push_str(&print(total));
            self.lines.push(line);
        }
    }
}
