//! What each row and each column of the balance means.
//!
//! One row per header: Σ given − Σ taken + drawn − served − let out − trapped = 0, in the SI unit of what it carries. A
//! header with fixed lines has a second row: Σ given + drawn − throughput = 0, with the throughput held to what the lines
//! carry. A unit whose machines draw idle power has a row too: running + idle − ready = 0, with the ready ones wanted before
//! everything else. All rows are homogeneous and every column may be zero unless a search for whole numbers holds it above that, so
//! the plant that stands still is a feasible start, and "cannot be met" is never more than a shortfall.
//!
//! Rows and columns are in the plan's order, which is that of names and not of the document, so that the order of keys decides
//! nothing.

use super::model::{AimTarget, Columns, Delivery, IDLE_RANK, Item, Model, Setting, Wanted, targets};
use super::simplex::Program;
use crate::plan::{Aim, Carried, Count, DemandId, HeaderId, OutletId, Plan, SupplyId, UnitId, When};

/// The balance row of a header.
fn row(header: HeaderId) -> u32 {
    header.0 as u32
}

struct Assembler<'p> {
    plan: &'p Plan,
    setting: &'p Setting,
    /// Header → its row of lines.
    line_row: Vec<Option<u32>>,
    /// Unit → its row of machines that run or idle.
    ready_row: Vec<Option<u32>>,
    model: Model,
}

/// Writes the balance of `plan` under `setting`.
#[must_use]
pub fn assemble(plan: &Plan, setting: &Setting) -> Model {
    let headers = plan.headers.len();
    let mut next = headers as u32;
    let mut line_row = vec![None; headers];
    for (header, entry) in plan.headers.iter().enumerate() {
        if entry.line.is_some() && entry.lines.is_some() {
            line_row[header] = Some(next);
            next += 1;
        }
    }
    let mut ready_row = vec![None; plan.units.len()];
    for (at, row) in ready_row.iter_mut().enumerate() {
        let stands = setting.is_searched() || setting.standing[at].is_some_and(|standing| standing > 0);
        if plan.units[at].idle_draw.si() > 0.0 && stands {
            *row = Some(next);
            next += 1;
        }
    }
    let columns = Columns {
        run: vec![usize::MAX; plan.units.len()],
        draw: vec![usize::MAX; plan.supplies.len()],
        let_out: vec![usize::MAX; plan.outlets.len()],
        trapped: vec![None; headers],
        spill: vec![None; headers],
        through: vec![None; headers],
        idle: vec![None; plan.units.len()],
        firm: vec![None; plan.units.len()],
        turbines: None,
    };
    let mut program = Program::new(next as usize);
    let flows: usize = plan.units.iter().map(|unit| unit.takes.len() + unit.gives.len() + 1).sum();
    let single = plan.supplies.len() + plan.demands.len() + plan.outlets.len() + next as usize;
    program.reserve(plan.units.len() + single, flows + single);
    let model = Model { program, columns, items: Vec::new(), deliveries: Vec::new() };
    let mut assembler = Assembler { plan, setting, line_row, ready_row, model };
    assembler.runs();
    assembler.draws();
    assembler.heat();
    assembler.wants();
    assembler.ways_out();
    assembler.model
}

impl Assembler<'_> {
    fn runs(&mut self) {
        let plan = self.plan;
        let targets = targets(plan);
        let mut target_of = vec![None; plan.units.len()];
        for target in &targets {
            if let AimTarget::Run(unit, machines) = *target {
                target_of[unit.0] = Some(machines);
            }
        }
        let power = plan.headers.iter().position(|header| header.carries == Carried::Power);
        let mut entries: Vec<(u32, f64)> = Vec::new();
        for (at, unit) in plan.units.iter().enumerate() {
            entries.clear();
            for flow in &unit.takes {
                entries.push((row(flow.header), -flow.rate));
            }
            for flow in &unit.gives {
                self.enter(&mut entries, flow.header, flow.rate);
            }
            if let Some(power) = power {
                entries.push((row(HeaderId(power)), -unit.draws.si()));
                self.enter(&mut entries, HeaderId(power), unit.generates.si());
            }
            if let Some(ready) = self.ready_row[at] {
                entries.push((ready, 1.0));
            }
            merge(&mut entries);
            let lower = self.setting.run_lower[at];
            let mut upper = self.setting.run_upper[at] + self.setting.raise(super::Limit::Count(UnitId(at)));
            if let Some(machines) = target_of[at] {
                upper = upper.min(machines);
            }
            let column = self.model.program.add(&entries, lower.min(upper), upper);
            self.model.columns.run[at] = column;
            if let Some(machines) = target_of[at].filter(|&machines| machines > 0.0) {
                let rank = unit.rank;
                self.model.items.push(Item { rank, wanted: machines, column, what: Wanted::Run });
            }
            if let (Some(ready), Some(power)) = (self.ready_row[at], power) {
                self.idle(at, ready, row(HeaderId(power)));
            }
        }
    }

    /// Machines that stand ready, running or idling. Those that must stand are wanted, the firm ones are there only if they do;
    /// of a unit to be sized more may run than that.
    fn idle(&mut self, at: usize, ready: u32, power: u32) {
        let unit = &self.plan.units[at];
        let standing = self.setting.standing[at].unwrap_or(0);
        let firm = self.setting.firm(at);
        let wanted = f64::from(standing.saturating_sub(firm));
        let mut entries = vec![(power, -unit.idle_draw.si()), (ready, 1.0)];
        merge(&mut entries);
        self.model.columns.idle[at] = Some(self.model.program.add(&entries, 0.0, f64::from(standing)));
        let column = match unit.count {
            Count::Fixed(_) => self.model.program.add_sink(ready, wanted),
            Count::Sized { .. } => {
                self.model.program.add_sink(ready, f64::INFINITY);
                if self.setting.is_searched() {
                    let column = self.model.program.add(&[(ready, -1.0)], f64::from(firm), f64::from(firm));
                    self.model.columns.firm[at] = Some(column);
                }
                self.model.program.add(&[(ready, -1.0)], 0.0, wanted)
            }
        };
        if wanted > 0.0 {
            let what = Wanted::Idle(UnitId(at));
            self.model.items.push(Item { rank: IDLE_RANK, wanted, column, what });
        }
    }

    /// What comes into a header counts for its lines too.
    fn enter(&self, entries: &mut Vec<(u32, f64)>, header: HeaderId, rate: f64) {
        entries.push((row(header), rate));
        if let Some(line_row) = self.line_row[header.0] {
            entries.push((line_row, rate));
        }
    }

    fn draws(&mut self) {
        let plan = self.plan;
        for (at, supply) in plan.supplies.iter().enumerate() {
            let mut entries = Vec::with_capacity(2);
            self.enter(&mut entries, supply.header, 1.0);
            merge(&mut entries);
            let raised = self.setting.raise(super::Limit::Supply(SupplyId(at)));
            let upper = supply.average_rate().map_or(f64::INFINITY, |rate| rate + raised);
            self.model.columns.draw[at] = self.model.program.add(&entries, 0.0, upper);
        }
    }

    /// What coolers draw is wanted like a demand of the first rank; what turbines give comes whether it is wanted or not.
    fn heat(&mut self) {
        let Some(power) = self.plan.power() else { return };
        let (draws, generates) = (self.setting.heat.draws.si(), self.setting.heat.generates.si());
        if draws > 0.0 {
            let column = self.model.program.add(&[(row(power), -1.0)], 0.0, draws);
            self.model.items.push(Item { rank: 1, wanted: draws, column, what: Wanted::Cooling });
        }
        if generates > 0.0 {
            let mut entries = Vec::with_capacity(2);
            self.enter(&mut entries, power, 1.0);
            merge(&mut entries);
            self.model.columns.turbines = Some(self.model.program.add(&entries, 0.0, generates));
        }
    }

    fn wants(&mut self) {
        let plan = self.plan;
        let mut valued = vec![false; plan.headers.len()];
        if let Aim::Most(values) = &plan.aim {
            for value in values {
                valued[value.header.0] = true;
            }
        }
        let mut groups: Vec<(HeaderId, u32, Item)> = Vec::new();
        let mut group_of = std::collections::HashMap::new();
        let mut want = |header: HeaderId, rank: u32, rate: f64, demand: Option<DemandId>, target: Option<usize>| {
            let at = *group_of.entry((header, rank)).or_insert_with(|| {
                let what = Wanted::Served { demands: Vec::new(), targets: Vec::new() };
                groups.push((header, rank, Item { rank, wanted: 0.0, column: usize::MAX, what }));
                groups.len() - 1
            });
            let item = &mut groups[at].2;
            item.wanted += rate;
            if let Wanted::Served { demands, targets } = &mut item.what {
                demands.extend(demand);
                targets.extend(target);
            }
        };
        let mut offered: Vec<(f64, Vec<DemandId>)> = vec![(0.0, Vec::new()); plan.headers.len()];
        for (at, demand) in plan.demands.iter().enumerate() {
            if valued[demand.header.0] {
                offered[demand.header.0].0 +=
                    demand.average_rate() + self.setting.raise(super::Limit::Demand(DemandId(at)));
                offered[demand.header.0].1.push(DemandId(at));
            } else if demand.average_rate() > 0.0 {
                want(demand.header, demand.rank, demand.average_rate(), Some(DemandId(at)), None);
            }
        }
        for (at, target) in targets(plan).iter().enumerate() {
            if let AimTarget::Make(header, rate) = *target
                && rate > 0.0
            {
                want(header, 1, rate, None, Some(at));
            }
        }
        groups.sort_by_key(|&(header, rank, _)| (header, rank));
        for (header, _, mut item) in groups {
            item.column = self.model.program.add(&[(row(header), -1.0)], 0.0, item.wanted);
            self.model.items.push(item);
        }
        self.model.items.sort_by_key(|item| item.rank);
        for (item, &cap) in self.model.items.iter().zip(&self.setting.caps) {
            let upper = &mut self.model.program.upper[item.column];
            *upper = upper.min(cap);
        }
        let valued: Vec<usize> = (0..valued.len()).filter(|&header| valued[header]).collect();
        for header in valued {
            let (most, demands) = std::mem::take(&mut offered[header]);
            let upper = if demands.is_empty() { f64::INFINITY } else { most };
            let column = self.model.program.add(&[(row(HeaderId(header)), -1.0)], 0.0, upper);
            self.model.deliveries.push(Delivery { header: HeaderId(header), column, demands });
        }
    }

    fn ways_out(&mut self) {
        let plan = self.plan;
        let mut outlet_of = vec![None; plan.headers.len()];
        for (at, outlet) in plan.outlets.iter().enumerate() {
            outlet_of[outlet.header.0] = Some(at);
        }
        for (header, outlet) in outlet_of.into_iter().enumerate() {
            let row = header as u32;
            if let Some(at) = outlet {
                let raised = self.setting.raise(super::Limit::Outlet(OutletId(at)));
                match plan.outlets[at].limit {
                    None => self.model.columns.let_out[at] = self.model.program.add_sink(row, f64::INFINITY),
                    Some(limit) => {
                        self.model.columns.let_out[at] = self.model.program.add(&[(row, -1.0)], 0.0, limit + raised);
                        self.model.columns.trapped[header] = Some(self.model.program.add_sink(row, f64::INFINITY));
                    }
                }
            } else if plan.headers[header].carries == Carried::Power {
                self.model.columns.spill[header] = Some(self.model.program.add_sink(row, f64::INFINITY));
            } else {
                self.model.columns.trapped[header] = Some(self.model.program.add_sink(row, f64::INFINITY));
            }
        }
        for header in 0..plan.headers.len() {
            if let (Some(row), Some(line), Some(lines)) =
                (self.line_row[header], plan.headers[header].line, plan.headers[header].lines)
            {
                let most = line * f64::from(lines) + self.setting.raise(super::Limit::Lines(HeaderId(header)));
                self.model.columns.through[header] = Some(self.model.program.add_sink(row, most));
            }
        }
    }
}

/// Sorts entries by row and adds those of one row together.
fn merge(entries: &mut Vec<(u32, f64)>) {
    entries.sort_by_key(|&(row, _)| row);
    entries.dedup_by(|next, kept| {
        let same = next.0 == kept.0;
        if same {
            kept.1 += next.1;
        }
        same
    });
    entries.retain(|&(_, value)| value != 0.0);
}

/// True where a supply pushes what it has.
#[must_use]
pub fn pushes(plan: &Plan, supply: SupplyId) -> bool {
    plan.supplies[supply.0].when == When::Always
}
